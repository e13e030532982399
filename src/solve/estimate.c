/*
 * Where the error sits: the jump of the current density's normal part across each side, times the
 * side's length (residual estimate for P1 elements; Babuska and Rheinboldt 1978, from memory). It
 * only decides where to refine; the error that is reported comes from two solutions.
 */
#include <math.h>
#include <stdlib.h>

#include "solve/system.h"

#define SHARE_MARKED 0.5 /* of the squared error (Doerfler 1996, from memory) */

/* Current density in a triangle times its thickness: ampere per nm. */
struct flow {
    double x, y;
};

static struct flow flow_of(const struct system *system, const struct solve_sheet *sheet,
                           uint32_t tri)
{
    const struct fine_tri *t = &sheet->fine.tris[tri];
    struct pt a = sheet->fine.points[t->corner[0]], b = sheet->fine.points[t->corner[1]],
              c = sheet->fine.points[t->corner[2]];
    double bx = (double)b.x - a.x, by = (double)b.y - a.y;
    double cx = (double)c.x - a.x, cy = (double)c.y - a.y, twice_area = bx * cy - by * cx;
    double ua = volts_of(system, sheet->first_node + t->corner[0]);
    double ub = volts_of(system, sheet->first_node + t->corner[1]) - ua;
    double uc = volts_of(system, sheet->first_node + t->corner[2]) - ua;
    return (struct flow){-sheet->siemens * (ub * cy - uc * by) / twice_area,
                         -sheet->siemens * (uc * bx - ub * cx) / twice_area};
}

/* Squared error that one side of a triangle tells of: the full jump at an insulated edge. */
static double side_error(const struct system *system, const struct solve_sheet *sheet, uint32_t tri,
                         unsigned side)
{
    const struct fine_tri *t = &sheet->fine.tris[tri];
    uint32_t ia = t->corner[next_corner(side)], ib = t->corner[previous_corner(side)];
    if (system->unknown[sheet->first_node + ia] == system->unknown[sheet->first_node + ib])
        return 0; /* metal of one potential: any current may cross */
    struct pt a = sheet->fine.points[ia], b = sheet->fine.points[ib];
    double dx = (double)b.x - a.x, dy = (double)b.y - a.y;
    struct flow here = flow_of(system, sheet, tri), there = {0, 0};
    if (t->neighbour[side] != ISTHMUS_NONE)
        there = flow_of(system, sheet, t->neighbour[side]);
    double jump = (here.x - there.x) * dy - (here.y - there.y) * dx; /* times the length */
    double share = t->neighbour[side] != ISTHMUS_NONE ? 0.5 : 1;
    return share * jump * jump / sheet->siemens;
}

struct marked {
    double error;
    uint32_t sheet, tri;
};

static int largest_first(const void *a, const void *b)
{
    const struct marked *left = a, *right = b;
    return (left->error < right->error) - (left->error > right->error);
}

static size_t collect(const struct system *system, struct marked *all, double *sum)
{
    size_t count = 0;
    for (uint32_t s = 0; s < system->sheet_count; s++) {
        const struct solve_sheet *sheet = &system->sheets[s];
        for (uint32_t t = 0; t < sheet->fine.tri_count; t++) {
            if (system->unknown[sheet->first_node + sheet->fine.tris[t].corner[0]] == ISTHMUS_NONE)
                continue;
            double error = 0;
            for (unsigned i = 0; i < 3; i++)
                error += side_error(system, sheet, t, i);
            *sum += error;
            all[count++] = (struct marked){error, s, t};
        }
    }
    return count;
}

bool mark_worst(struct system *system)
{
    size_t count = 0;
    double sum = 0, marked_sum = 0;
    for (size_t s = 0; s < system->sheet_count; s++)
        count += system->sheets[s].fine.tri_count;
    struct marked *all = malloc((count + 1) * sizeof *all);
    if (!all)
        return false;
    count = collect(system, all, &sum);
    qsort(all, count, sizeof *all, largest_first);
    for (size_t i = 0; i < count && marked_sum < SHARE_MARKED * sum; i++) {
        marked_sum += all[i].error;
        system->sheets[all[i].sheet].fine.tris[all[i].tri].is_wanted = true;
    }
    free(all);
    return true;
}
