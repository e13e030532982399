#include "solve/system.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

bool is_fed(const struct solve_question *question, uint32_t contact)
{
    if (contact == ISTHMUS_NONE || contact >= question->net->contact_count)
        return false;
    uint32_t terminal = question->net->contacts[contact].terminal;
    return terminal < question->net->terminal_count && question->current_a[terminal] != 0;
}

double volts_of(const struct system *system, size_t node)
{
    uint32_t unknown = system->unknown[node];
    return unknown == ISTHMUS_NONE ? (double)NAN : system->volts[unknown];
}

/* ---- what is one piece of metal ---- */

static uint32_t root(uint32_t *joined, uint32_t node)
{
    while (joined[node] != node) {
        joined[node] = joined[joined[node]];
        node = joined[node];
    }
    return node;
}

static void unite(uint32_t *joined, size_t a, size_t b)
{
    joined[root(joined, (uint32_t)a)] = root(joined, (uint32_t)b);
}

static size_t hole_node(const struct system *system, size_t hole, size_t sheet)
{
    return system->first_hole_node + hole * system->sheet_count + sheet;
}

static size_t terminal_node(const struct system *system, uint32_t contact)
{
    return system->first_terminal_node + system->question->net->contacts[contact].terminal;
}

uint32_t rim_hole(const struct solve_sheet *sheet, uint32_t tri, unsigned side)
{
    const struct fine_tri *t = &sheet->fine.tris[tri];
    if (t->bound[side] == ISTHMUS_NONE || t->neighbour[side] != ISTHMUS_NONE)
        return ISTHMUS_NONE;
    const struct neck_sheet *from = sheet->domain.sheet;
    const struct neck_net *net = sheet->domain.net;
    uint32_t object = from->mesh->bounds[t->bound[side]].object;
    if (from->kind_of_object[object] != BOUND_RIM)
        return ISTHMUS_NONE;
    return neck_index_of_owner(net->hole_of_owner, from->owner_of_object[object], net->hole_count);
}

static void unite_to(struct system *system, size_t node, size_t metal)
{
    unite(system->joined, node, metal);
    system->is_on_copper[metal] = true;
}

static void unite_sheet(struct system *system, size_t s)
{
    const struct solve_sheet *sheet = &system->sheets[s];
    for (uint32_t t = 0; t < sheet->fine.tri_count; t++) {
        const struct fine_tri *tri = &sheet->fine.tris[t];
        for (unsigned i = 0; i < 3; i++) {
            uint32_t hole = rim_hole(sheet, t, i);
            if (is_fed(system->question, tri->contact))
                unite_to(system, sheet->first_node + tri->corner[i],
                         terminal_node(system, tri->contact));
            if (hole >= system->question->net->hole_count)
                continue;
            unite_to(system, sheet->first_node + tri->corner[next_corner(i)],
                     hole_node(system, hole, s));
            unite_to(system, sheet->first_node + tri->corner[previous_corner(i)],
                     hole_node(system, hole, s));
        }
    }
}

/* The lead that is soldered into a fed hole joins it to its terminal on every layer. */
static void unite_fed_holes(struct system *system)
{
    const struct neck_net *net = system->question->net;
    for (size_t h = 0; h < net->hole_count; h++)
        for (size_t s = 0; s < system->sheet_count; s++)
            if (is_fed(system->question, net->holes[h].contact) &&
                system->is_on_copper[hole_node(system, h, s)])
                unite_to(system, hole_node(system, h, s),
                         terminal_node(system, net->holes[h].contact));
}

/* ---- walls ---- */

/* The wall of a hole between two neighbouring sheets of it. */
struct wall {
    size_t from, to; /* nodes */
    double siemens;
};

static bool next_sheet_of_hole(const struct system *system, size_t hole, size_t *sheet)
{
    const struct neck_hole *of = &system->question->net->holes[hole];
    for (; *sheet < system->sheet_count; ++*sheet) {
        uint16_t position = system->sheets[*sheet].domain.sheet->position;
        if (position >= of->layer_from && position <= of->layer_to &&
            system->is_on_copper[hole_node(system, hole, *sheet)])
            return true;
    }
    return false;
}

/* The wall that begins on this sheet or the next one the hole touches; false: none. */
static bool next_wall(const struct system *system, size_t hole, size_t *sheet, struct wall *out)
{
    const struct solve_question *question = system->question;
    if (!(question->wall_mm2[hole] > 0) || !next_sheet_of_hole(system, hole, sheet))
        return false;
    size_t from = *sheet;
    ++*sheet;
    if (!next_sheet_of_hole(system, hole, sheet))
        return false;
    double length_mm = question->depth_mm[system->sheets[*sheet].domain.sheet->position] -
                       question->depth_mm[system->sheets[from].domain.sheet->position];
    *out = (struct wall){hole_node(system, hole, from), hole_node(system, hole, *sheet),
                         question->wall_mm2[hole] /
                             (question->resistivity_ohm_mm2_m * 1e-3 * fmax(length_mm, 1e-6))};
    return true;
}

/* ---- numbers ---- */

static bool allocate(struct system *system)
{
    const struct neck_net *net = system->question->net;
    system->node_count = 0;
    for (size_t s = 0; s < system->sheet_count; s++) {
        system->sheets[s].first_node = system->node_count;
        system->node_count += system->sheets[s].fine.point_count;
    }
    system->first_hole_node = system->node_count;
    system->first_terminal_node = system->node_count + net->hole_count * system->sheet_count;
    system->node_count = system->first_terminal_node + net->terminal_count;
    system->joined = malloc((system->node_count + 1) * sizeof *system->joined);
    system->unknown = malloc((system->node_count + 1) * sizeof *system->unknown);
    system->is_on_copper = calloc(system->node_count + 1, sizeof *system->is_on_copper);
    return system->joined && system->unknown && system->is_on_copper;
}

/* Which nodes hang together through copper or walls at all: the same forest, once more. */
static uint32_t *reach(const struct system *system)
{
    uint32_t *reached = malloc((system->node_count + 1) * sizeof *reached);
    if (!reached)
        return NULL;
    memcpy(reached, system->joined, system->node_count * sizeof *reached);
    for (size_t s = 0; s < system->sheet_count; s++) {
        const struct solve_sheet *sheet = &system->sheets[s];
        for (uint32_t t = 0; t < sheet->fine.tri_count; t++)
            for (unsigned i = 0; i < 2; i++)
                unite(reached, sheet->first_node + sheet->fine.tris[t].corner[i],
                      sheet->first_node + sheet->fine.tris[t].corner[i + 1]);
    }
    struct wall wall;
    for (size_t h = 0; h < system->question->net->hole_count; h++)
        for (size_t s = 0; next_wall(system, h, &s, &wall);)
            unite(reached, wall.from, wall.to);
    return reached;
}

/* The first terminal that is fed; terminal_count: none. */
static size_t reference_terminal(const struct solve_question *question)
{
    size_t t = 0;
    while (t < question->net->terminal_count && !(question->current_a[t] > 0))
        t++;
    return t;
}

static void number_reached(struct system *system, uint32_t *reached, uint32_t reference)
{
    uint32_t start = root(reached, reference), own = root(system->joined, reference);
    for (size_t n = 0; n < system->node_count; n++)
        system->unknown[n] = ISTHMUS_NONE;
    for (uint32_t n = 0; n < system->node_count; n++)
        if (root(system->joined, n) == n && n != own && root(reached, n) == start)
            system->unknown[n] = system->unknown_count++;
    system->unknown[own] = system->unknown_count++;
    for (uint32_t n = 0; n < system->node_count; n++)
        system->unknown[n] = system->unknown[root(system->joined, n)];
}

static bool are_currents_possible(const struct system *system)
{
    const struct solve_question *question = system->question;
    double sum_a = 0, most_a = 0;
    for (size_t t = 0; t < question->net->terminal_count; t++) {
        if (question->current_a[t] != 0 &&
            system->unknown[system->first_terminal_node + t] == ISTHMUS_NONE)
            return false;
        sum_a += question->current_a[t];
        most_a = fmax(most_a, fabs(question->current_a[t]));
    }
    return fabs(sum_a) <= 1e-9 * most_a;
}

enum solve_status system_number(struct system *system)
{
    system->unknown_count = 0;
    if (!allocate(system))
        return SOLVE_NO_MEMORY;
    for (uint32_t n = 0; n < system->node_count; n++) {
        system->joined[n] = n;
        system->is_on_copper[n] = n < system->first_hole_node;
    }
    for (size_t s = 0; s < system->sheet_count; s++)
        unite_sheet(system, s);
    unite_fed_holes(system);
    size_t reference = reference_terminal(system->question);
    if (reference == system->question->net->terminal_count ||
        !system->is_on_copper[system->first_terminal_node + reference])
        return SOLVE_APART;
    uint32_t *reached = reach(system);
    if (!reached)
        return SOLVE_NO_MEMORY;
    number_reached(system, reached, (uint32_t)(system->first_terminal_node + reference));
    free(reached);
    return are_currents_possible(system) ? SOLVE_OK : SOLVE_APART;
}

void system_clear(struct system *system)
{
    free(system->joined);
    free(system->unknown);
    free(system->is_on_copper);
    free(system->volts);
    system->joined = system->unknown = NULL;
    system->is_on_copper = NULL;
    system->volts = NULL;
}

/* ---- equations ---- */

void side_weights(const struct fine *fine, uint32_t tri, double weight[3])
{
    const struct fine_tri *t = &fine->tris[tri];
    for (unsigned i = 0; i < 3; i++) {
        struct pt o = fine->points[t->corner[i]], a = fine->points[t->corner[next_corner(i)]],
                  b = fine->points[t->corner[previous_corner(i)]];
        double ax = (double)a.x - o.x, ay = (double)a.y - o.y;
        double bx = (double)b.x - o.x, by = (double)b.y - o.y;
        weight[i] = 0.5 * (ax * bx + ay * by) / (ax * by - ay * bx);
    }
}

/* A resistor between two unknowns; the reference has no row. */
static bool add_resistor(const struct system *system, struct sparse *matrix, size_t node_a,
                         size_t node_b, double siemens)
{
    uint32_t a = system->unknown[node_a], b = system->unknown[node_b];
    uint32_t reference = system->unknown_count - 1;
    if (a == b || a == ISTHMUS_NONE)
        return true;
    if (a != reference && b != reference && !sparse_add(matrix, a, b, -siemens))
        return false;
    return (a == reference || sparse_add(matrix, a, a, siemens)) &&
           (b == reference || sparse_add(matrix, b, b, siemens));
}

static bool add_sheet(const struct system *system, const struct solve_sheet *sheet,
                      struct sparse *matrix)
{
    double weight[3];
    for (uint32_t t = 0; t < sheet->fine.tri_count; t++) {
        const struct fine_tri *tri = &sheet->fine.tris[t];
        side_weights(&sheet->fine, t, weight);
        for (unsigned i = 0; i < 3; i++)
            if (!add_resistor(system, matrix, sheet->first_node + tri->corner[next_corner(i)],
                              sheet->first_node + tri->corner[previous_corner(i)],
                              weight[i] * sheet->siemens))
                return false;
    }
    return true;
}

static bool add_walls(const struct system *system, struct sparse *matrix)
{
    struct wall wall;
    for (size_t h = 0; h < system->question->net->hole_count; h++)
        for (size_t s = 0; next_wall(system, h, &s, &wall);)
            if (!add_resistor(system, matrix, wall.from, wall.to, wall.siemens))
                return false;
    return true;
}

enum solve_status system_matrix(const struct system *system, struct sparse **out)
{
    struct sparse *matrix = sparse_new(system->unknown_count - 1);
    bool is_ok = matrix != NULL;
    for (size_t s = 0; is_ok && s < system->sheet_count; s++)
        is_ok = add_sheet(system, &system->sheets[s], matrix);
    is_ok = is_ok && add_walls(system, matrix);
    *out = is_ok ? matrix : NULL;
    if (!is_ok)
        sparse_free(matrix);
    return is_ok ? SOLVE_OK : SOLVE_NO_MEMORY;
}

static void fill_currents(const struct system *system, double *right)
{
    const struct solve_question *question = system->question;
    for (size_t t = 0; t < question->net->terminal_count; t++)
        if (question->current_a[t] != 0)
            right[system->unknown[system->first_terminal_node + t]] += question->current_a[t];
}

enum solve_status system_solve(struct system *system)
{
    struct sparse *matrix;
    system->volts = calloc((size_t)system->unknown_count + 1, sizeof *system->volts);
    if (!system->volts)
        return SOLVE_NO_MEMORY;
    fill_currents(system, system->volts);
    enum solve_status status = SOLVE_OK;
    if (system->unknown_count > 1) {
        status = system_matrix(system, &matrix);
        if (status != SOLVE_OK)
            return status;
        enum sparse_status solved = sparse_solve(matrix, system->volts);
        sparse_free(matrix);
        status = solved == SPARSE_OK          ? SOLVE_OK
                 : solved == SPARSE_NO_MEMORY ? SOLVE_NO_MEMORY
                                              : SOLVE_BUG;
    }
    system->volts[system->unknown_count - 1] = 0;
    return status;
}
