/* What a solution says of terminals, pads, places and power. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solve/system.h"

static double area_nm2(const struct fine *fine, uint32_t tri)
{
    const struct fine_tri *t = &fine->tris[tri];
    struct pt a = fine->points[t->corner[0]], b = fine->points[t->corner[1]],
              c = fine->points[t->corner[2]];
    return ((double)b.x - a.x) * ((double)c.y - a.y) - ((double)b.y - a.y) * ((double)c.x - a.x);
}

static uint32_t terminal_of(const struct system *system, uint32_t contact)
{
    const struct neck_net *net = system->question->net;
    uint32_t terminal =
        contact < net->contact_count ? net->contacts[contact].terminal : ISTHMUS_NONE;
    return terminal < net->terminal_count ? terminal : ISTHMUS_NONE;
}

/* Sums of area and area times potential over the pads of a terminal. */
struct mean {
    double area, sum;
};

static struct mean pad_mean(const struct system *system, uint32_t terminal)
{
    struct mean mean = {0, 0};
    for (size_t s = 0; s < system->sheet_count; s++) {
        const struct solve_sheet *sheet = &system->sheets[s];
        for (uint32_t t = 0; t < sheet->fine.tri_count; t++) {
            const struct fine_tri *tri = &sheet->fine.tris[t];
            if (terminal_of(system, tri->contact) != terminal ||
                system->unknown[sheet->first_node + tri->corner[0]] == ISTHMUS_NONE)
                continue; /* a pad on copper apart says nothing */
            double area = area_nm2(&sheet->fine, t);
            for (unsigned i = 0; i < 3; i++)
                mean.sum += area / 3 * volts_of(system, sheet->first_node + tri->corner[i]);
            mean.area += area;
        }
    }
    return mean;
}

/* For a hole without a pad of its own. */
static struct mean rim_mean(const struct system *system, uint32_t terminal)
{
    struct mean mean = {0, 0};
    const struct neck_net *net = system->question->net;
    for (size_t h = 0; h < net->hole_count; h++)
        for (size_t s = 0; s < system->sheet_count; s++) {
            size_t node = system->first_hole_node + h * system->sheet_count + s;
            if (terminal_of(system, net->holes[h].contact) != terminal ||
                !system->is_on_copper[node] || system->unknown[node] == ISTHMUS_NONE)
                continue;
            mean.sum += volts_of(system, node);
            mean.area++;
        }
    return mean;
}

void read_terminals(const struct system *system, double *terminal_v)
{
    const struct solve_question *question = system->question;
    for (uint32_t t = 0; t < question->net->terminal_count; t++) {
        if (question->current_a[t] != 0) {
            terminal_v[t] = volts_of(system, system->first_terminal_node + t);
            continue;
        }
        struct mean mean = pad_mean(system, t);
        if (!(mean.area > 0))
            mean = rim_mean(system, t);
        terminal_v[t] = mean.area > 0 ? mean.sum / mean.area : (double)NAN;
    }
}

/* Which fed contact a mesh point or rim belongs to: found by its unknown alone would not tell pads
 * of one terminal apart. */
static void add_pad_current(const struct system *system, const struct solve_sheet *sheet,
                            const uint32_t *contact_of_point, double *contact_a)
{
    double weight[3];
    for (uint32_t t = 0; t < sheet->fine.tri_count; t++) {
        const struct fine_tri *tri = &sheet->fine.tris[t];
        side_weights(&sheet->fine, t, weight);
        for (unsigned i = 0; i < 3; i++) {
            uint32_t a = tri->corner[next_corner(i)], b = tri->corner[previous_corner(i)];
            double volts =
                volts_of(system, sheet->first_node + a) - volts_of(system, sheet->first_node + b);
            if (isnan(volts))
                continue;
            double flow_a = weight[i] * sheet->siemens * volts;
            if (contact_of_point[a] != ISTHMUS_NONE)
                contact_a[contact_of_point[a]] += flow_a;
            if (contact_of_point[b] != ISTHMUS_NONE)
                contact_a[contact_of_point[b]] -= flow_a;
        }
    }
}

static void own_points(const struct system *system, const struct solve_sheet *sheet,
                       uint32_t *contact_of_point)
{
    memset(contact_of_point, 0xff, sheet->fine.point_count * sizeof *contact_of_point);
    for (uint32_t t = 0; t < sheet->fine.tri_count; t++) {
        const struct fine_tri *tri = &sheet->fine.tris[t];
        for (unsigned i = 0; i < 3; i++) {
            uint32_t hole = rim_hole(sheet, t, i);
            uint32_t contact = hole < system->question->net->hole_count
                                   ? system->question->net->holes[hole].contact
                                   : ISTHMUS_NONE;
            if (is_fed(system->question, contact)) {
                contact_of_point[tri->corner[next_corner(i)]] = contact;
                contact_of_point[tri->corner[previous_corner(i)]] = contact;
            }
            if (is_fed(system->question, tri->contact))
                contact_of_point[tri->corner[i]] = tri->contact;
        }
    }
}

bool read_contacts(const struct system *system, double *contact_a)
{
    for (size_t s = 0; s < system->sheet_count; s++) {
        const struct solve_sheet *sheet = &system->sheets[s];
        uint32_t *contact_of_point =
            malloc((sheet->fine.point_count + 1) * sizeof *contact_of_point);
        if (!contact_of_point)
            return false;
        own_points(system, sheet, contact_of_point);
        add_pad_current(system, sheet, contact_of_point, contact_a);
        free(contact_of_point);
    }
    return true;
}

/* ---- places ---- */

static bool is_in(const struct fine *fine, uint32_t tri, struct pt p)
{
    const struct fine_tri *t = &fine->tris[tri];
    for (unsigned i = 0; i < 3; i++)
        if (orient(fine->points[t->corner[i]], fine->points[t->corner[next_corner(i)]], p) < 0)
            return false;
    return true;
}

static double volts_in(const struct system *system, const struct solve_sheet *sheet, uint32_t tri,
                       struct pt p)
{
    const struct fine_tri *t = &sheet->fine.tris[tri];
    double sum = 0, whole = area_nm2(&sheet->fine, tri);
    for (unsigned i = 0; i < 3; i++) {
        struct pt a = sheet->fine.points[t->corner[next_corner(i)]],
                  b = sheet->fine.points[t->corner[previous_corner(i)]];
        double part =
            ((double)a.x - p.x) * ((double)b.y - p.y) - ((double)a.y - p.y) * ((double)b.x - p.x);
        sum += part / whole * volts_of(system, sheet->first_node + t->corner[i]);
    }
    return sum;
}

static double probe_volts(const struct system *system, const struct solve_probe *probe)
{
    for (size_t s = 0; s < system->sheet_count; s++) {
        const struct solve_sheet *sheet = &system->sheets[s];
        if (sheet->domain.sheet->position != probe->position)
            continue;
        for (uint32_t t = 0; t < sheet->fine.tri_count; t++)
            if (is_in(&sheet->fine, t, probe->at))
                return volts_in(system, sheet, t, probe->at);
    }
    return (double)NAN;
}

size_t read_probes(const struct system *system, double *probe_v)
{
    size_t count = system->question->probe_count, bad = count;
    for (size_t i = count; i-- > 0;) {
        probe_v[i] = probe_volts(system, &system->question->probes[i]);
        if (isnan(probe_v[i]))
            bad = i;
    }
    return bad;
}

double read_power(const struct system *system)
{
    const struct solve_question *question = system->question;
    double power_w = 0;
    for (size_t t = 0; t < question->net->terminal_count; t++)
        if (question->current_a[t] != 0)
            power_w += question->current_a[t] * volts_of(system, system->first_terminal_node + t);
    return power_w;
}
