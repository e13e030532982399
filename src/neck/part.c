/* The copper of a net near a cut, as a net of its own. */
#include "neck/near.h"

#include <string.h>

/*
 * Triangles of all sheets of the whole net, numbered through, and its plated holes after them; of
 * what is left out, what hangs together.
 */
struct clipping {
    const struct neck_net *whole;
    struct neck_part *out;
    struct arena *arena, *scratch;
    struct near near;
    uint32_t *first_tri; /* per sheet; [sheet_count]: the first hole */
    uint32_t *parent;
    uint32_t *beyond_of; /* per root of what is left out: its piece, ISTHMUS_NONE: none yet */
    bool *is_kept;
    bool *is_on_kept, *is_on_left_out; /* per hole: such copper stands on its rim */
};

static uint32_t root_of(struct clipping *clipping, uint32_t of)
{
    uint32_t *parent = clipping->parent;
    while (parent[of] != of) {
        parent[of] = parent[parent[of]];
        of = parent[of];
    }
    return of;
}

static uint32_t hole_number(const struct clipping *clipping, uint32_t hole)
{
    return clipping->first_tri[clipping->whole->sheet_count] + hole;
}

static bool is_of_net(const struct neck_sheet *sheet, uint32_t tri)
{
    uint32_t component = tri == ISTHMUS_NONE ? ISTHMUS_NONE : sheet->mesh->component[tri];
    return component != ISTHMUS_NONE && sheet->has_component[component];
}

/* The net's plated hole whose rim a side is, or ISTHMUS_NONE. */
static uint32_t hole_on(const struct neck_net *net, const struct neck_sheet *sheet, uint32_t tri,
                        unsigned side)
{
    uint32_t bound = sheet->mesh->cdt.chain[tri][side];
    uint32_t object = bound == ISTHMUS_NONE ? ISTHMUS_NONE : sheet->mesh->bounds[bound].object;
    if (object == ISTHMUS_NONE || sheet->kind_of_object[object] != BOUND_RIM)
        return ISTHMUS_NONE;
    return neck_index_of_owner(net->hole_of_owner, sheet->owner_of_object[object], net->hole_count);
}

/* The terminal whose contact a triangle is of, or ISTHMUS_NONE. */
static uint32_t terminal_on(const struct neck_net *net, const struct neck_sheet *sheet,
                            uint32_t tri)
{
    uint32_t object = sheet->mesh->mark[tri];
    if (object == ISTHMUS_NONE || sheet->kind_of_object[object] != BOUND_CONTACT)
        return ISTHMUS_NONE;
    uint32_t contact = neck_index_of_owner(net->contact_of_owner, sheet->owner_of_object[object],
                                           net->contact_count);
    return contact == ISTHMUS_NONE ? ISTHMUS_NONE : net->contacts[contact].terminal;
}

static bool allocate(struct clipping *clipping)
{
    const struct neck_net *net = clipping->whole;
    struct arena *scratch = clipping->scratch;
    uint64_t count = 0;
    clipping->first_tri = arena_alloc(scratch, net->sheet_count + 1, sizeof *clipping->first_tri);
    for (size_t s = 0; clipping->first_tri && s < net->sheet_count; s++) {
        clipping->first_tri[s] = (uint32_t)count;
        count += net->sheets[s].mesh->cdt.tri_count;
    }
    if (!clipping->first_tri || count + net->hole_count >= ISTHMUS_NONE)
        return false;
    clipping->first_tri[net->sheet_count] = (uint32_t)count;
    count += net->hole_count;
    clipping->parent = arena_alloc(scratch, count + 1, sizeof *clipping->parent);
    clipping->beyond_of = arena_alloc(scratch, count + 1, sizeof *clipping->beyond_of);
    clipping->is_kept = arena_alloc(scratch, count + 1, sizeof *clipping->is_kept);
    clipping->is_on_kept = arena_alloc(scratch, net->hole_count + 1, sizeof(bool));
    clipping->is_on_left_out = arena_alloc(scratch, net->hole_count + 1, sizeof(bool));
    if (!clipping->parent || !clipping->beyond_of || !clipping->is_kept || !clipping->is_on_kept ||
        !clipping->is_on_left_out)
        return false;
    for (uint32_t n = 0; n < count; n++) {
        clipping->parent[n] = n;
        clipping->beyond_of[n] = ISTHMUS_NONE;
    }
    return true;
}

static void choose_sheet(struct clipping *clipping, size_t s)
{
    const struct neck_sheet *sheet = &clipping->whole->sheets[s];
    bool *is_kept = clipping->is_kept + clipping->first_tri[s];
    for (uint32_t t = 0; t < sheet->mesh->cdt.tri_count; t++)
        is_kept[t] = is_of_net(sheet, t) && near_meets(&clipping->near, &sheet->mesh->cdt, t);
}

/* ---- what is left out ---- */

static void join_triangle(struct clipping *clipping, size_t s, uint32_t tri)
{
    const struct neck_net *net = clipping->whole;
    const struct neck_sheet *sheet = &net->sheets[s];
    uint32_t base = clipping->first_tri[s];
    for (unsigned i = 0; i < 3; i++) {
        uint32_t across = sheet->mesh->cdt.neighbour[tri][i];
        uint32_t hole = hole_on(net, sheet, tri, i), other = ISTHMUS_NONE;
        if (hole != ISTHMUS_NONE) {
            clipping->is_on_left_out[hole] = true;
            other = hole_number(clipping, hole);
        } else if (is_of_net(sheet, across) && !clipping->is_kept[base + across]) {
            other = base + across;
        }
        if (other != ISTHMUS_NONE)
            clipping->parent[root_of(clipping, other)] = root_of(clipping, base + tri);
    }
}

static void join_left_out(struct clipping *clipping)
{
    const struct neck_net *net = clipping->whole;
    for (size_t s = 0; s < net->sheet_count; s++)
        for (uint32_t t = 0; t < net->sheets[s].mesh->cdt.tri_count; t++) {
            if (!is_of_net(&net->sheets[s], t))
                continue;
            if (!clipping->is_kept[clipping->first_tri[s] + t]) {
                join_triangle(clipping, s, t);
                continue;
            }
            for (unsigned i = 0; i < 3; i++) {
                uint32_t hole = hole_on(net, &net->sheets[s], t, i);
                if (hole != ISTHMUS_NONE)
                    clipping->is_on_kept[hole] = true;
            }
        }
}

/* Pieces get their numbers when they are first met. */
static uint32_t beyond_of(struct clipping *clipping, uint32_t left_out)
{
    uint32_t *number = &clipping->beyond_of[root_of(clipping, left_out)];
    if (*number == ISTHMUS_NONE)
        *number = clipping->out->beyond_count++;
    return *number;
}

/* A side of a triangle that is kept where the copper goes on, left out; else ISTHMUS_NONE. */
static uint32_t left_out_across(const struct clipping *clipping, size_t s, uint32_t tri,
                                unsigned side)
{
    const struct neck_sheet *sheet = &clipping->whole->sheets[s];
    uint32_t across = sheet->mesh->cdt.neighbour[tri][side], base = clipping->first_tri[s];
    bool is_left_out = is_of_net(sheet, across) && !clipping->is_kept[base + across];
    return is_left_out ? base + across : ISTHMUS_NONE;
}

static bool number_beyond(struct clipping *clipping)
{
    const struct neck_net *net = clipping->whole;
    struct neck_part *out = clipping->out;
    for (size_t s = 0; s < net->sheet_count; s++)
        for (uint32_t t = 0; t < net->sheets[s].mesh->cdt.tri_count; t++)
            for (unsigned i = 0; i < 3 && clipping->is_kept[clipping->first_tri[s] + t]; i++) {
                uint32_t across = left_out_across(clipping, s, t, i);
                if (across != ISTHMUS_NONE)
                    (void)beyond_of(clipping, across);
            }
    out->beyond_of_hole =
        arena_alloc(clipping->arena, net->hole_count + 1, sizeof *out->beyond_of_hole);
    for (uint32_t h = 0; out->beyond_of_hole && h < net->hole_count; h++)
        out->beyond_of_hole[h] = clipping->is_on_kept[h] && clipping->is_on_left_out[h]
                                     ? beyond_of(clipping, hole_number(clipping, h))
                                     : ISTHMUS_NONE;
    return out->beyond_of_hole != NULL;
}

/* Terminals that hang on copper beyond. */
static void note_holder(struct clipping *clipping, uint32_t left_out, uint32_t terminal)
{
    uint32_t beyond = clipping->beyond_of[root_of(clipping, left_out)];
    struct neck_part *out = clipping->out;
    if (terminal >= clipping->whole->terminal_count || beyond == ISTHMUS_NONE)
        return;
    if (out->holder_count && out->holders[out->holder_count - 1].beyond == beyond &&
        out->holders[out->holder_count - 1].terminal == terminal)
        return;
    out->holders[out->holder_count++] = (struct neck_holder){beyond, terminal};
}

static bool note_holders(struct clipping *clipping)
{
    const struct neck_net *net = clipping->whole;
    size_t most = net->hole_count;
    for (size_t s = 0; s < net->sheet_count; s++)
        for (uint32_t t = 0; t < net->sheets[s].mesh->cdt.tri_count; t++)
            most += net->sheets[s].mesh->mark[t] != ISTHMUS_NONE;
    clipping->out->holders = arena_alloc(clipping->arena, most + 1, sizeof *clipping->out->holders);
    if (!clipping->out->holders)
        return false;
    for (size_t s = 0; s < net->sheet_count; s++)
        for (uint32_t t = 0; t < net->sheets[s].mesh->cdt.tri_count; t++) {
            uint32_t number = clipping->first_tri[s] + t;
            if (is_of_net(&net->sheets[s], t) && !clipping->is_kept[number])
                note_holder(clipping, number, terminal_on(net, &net->sheets[s], t));
        }
    for (uint32_t h = 0; h < net->hole_count; h++)
        if (clipping->is_on_left_out[h] && net->holes[h].contact < net->contact_count)
            note_holder(clipping, hole_number(clipping, h),
                        net->contacts[net->holes[h].contact].terminal);
    return true;
}

/* ---- what is kept ---- */

/* New numbers of one sheet's triangles and points; ISTHMUS_NONE: left out. */
struct numbers {
    uint32_t *tri_of, *point_of;
};

static bool number_kept(const struct clipping *clipping, size_t s, struct arena *scratch,
                        struct numbers *numbers, struct sheet_mesh *to)
{
    const struct cdt *from = &clipping->whole->sheets[s].mesh->cdt;
    const bool *is_kept = clipping->is_kept + clipping->first_tri[s];
    numbers->tri_of = arena_alloc(scratch, from->tri_count + (size_t)1, sizeof(uint32_t));
    numbers->point_of = arena_alloc(scratch, from->point_count + (size_t)1, sizeof(uint32_t));
    if (!numbers->tri_of || !numbers->point_of)
        return false;
    memset(numbers->tri_of, 0xff, from->tri_count * sizeof(uint32_t));
    memset(numbers->point_of, 0xff, from->point_count * sizeof(uint32_t));
    for (uint32_t t = 0; t < from->tri_count; t++) {
        if (!is_kept[t])
            continue;
        numbers->tri_of[t] = to->cdt.tri_count++;
        for (unsigned i = 0; i < 3; i++)
            if (numbers->point_of[from->corner[t][i]] == ISTHMUS_NONE)
                numbers->point_of[from->corner[t][i]] = to->cdt.point_count++;
    }
    return true;
}

static bool allocate_mesh(struct sheet_mesh *mesh, struct arena *arena)
{
    size_t tris = mesh->cdt.tri_count + (size_t)1, points = mesh->cdt.point_count + (size_t)1;
    mesh->cdt.points = arena_alloc(arena, points, sizeof *mesh->cdt.points);
    mesh->cdt.corner = arena_alloc(arena, tris, sizeof *mesh->cdt.corner);
    mesh->cdt.neighbour = arena_alloc(arena, tris, sizeof *mesh->cdt.neighbour);
    mesh->cdt.chain = arena_alloc(arena, tris, sizeof *mesh->cdt.chain);
    mesh->component = arena_alloc(arena, tris, sizeof *mesh->component);
    mesh->mark = arena_alloc(arena, tris, sizeof *mesh->mark);
    return mesh->cdt.points && mesh->cdt.corner && mesh->cdt.neighbour && mesh->cdt.chain &&
           mesh->component && mesh->mark;
}

/*
 * Where the copper goes on, left out, sides bear bounds of their own: one a piece beyond. No object
 * drew them; nothing was etched off there.
 */
static bool add_bounds(const struct clipping *clipping, struct neck_sheet *sheet,
                       struct sheet_mesh *to)
{
    const struct sheet_mesh *from = sheet->mesh;
    size_t old_count = from->bound_count, beyond_count = clipping->out->beyond_count;
    uint32_t object = sheet->object_count;
    enum bound_kind *kinds = arena_alloc(clipping->arena, object + (size_t)1, sizeof *kinds);
    uint32_t *owners = arena_alloc(clipping->arena, object + (size_t)1, sizeof *owners);
    to->bounds = arena_alloc(clipping->arena, old_count + beyond_count + 1, sizeof *to->bounds);
    if (!kinds || !owners || !to->bounds)
        return false;
    memcpy(kinds, sheet->kind_of_object, object * sizeof *kinds);
    memcpy(owners, sheet->owner_of_object, object * sizeof *owners);
    memcpy(to->bounds, from->bounds, old_count * sizeof *to->bounds);
    kinds[object] = BOUND_CUT;
    owners[object] = ISTHMUS_NONE;
    for (size_t k = 0; k < beyond_count; k++)
        to->bounds[old_count + k] = (struct sheet_bound){object, ISTHMUS_NONE};
    to->bound_count = (uint32_t)(old_count + beyond_count);
    sheet->kind_of_object = kinds;
    sheet->owner_of_object = owners;
    return true;
}

static void copy_kept(struct clipping *clipping, size_t s, const struct numbers *numbers,
                      struct sheet_mesh *mesh)
{
    const struct sheet_mesh *old = clipping->whole->sheets[s].mesh;
    const struct cdt *from = &old->cdt;
    for (uint32_t t = 0; t < from->tri_count; t++) {
        uint32_t tri = numbers->tri_of[t];
        if (tri == ISTHMUS_NONE)
            continue;
        for (unsigned i = 0; i < 3; i++) {
            uint32_t corner = numbers->point_of[from->corner[t][i]];
            uint32_t across = from->neighbour[t][i], beyond = left_out_across(clipping, s, t, i);
            mesh->cdt.points[corner] = from->points[from->corner[t][i]];
            mesh->cdt.corner[tri][i] = corner;
            mesh->cdt.neighbour[tri][i] =
                across == ISTHMUS_NONE ? ISTHMUS_NONE : numbers->tri_of[across];
            mesh->cdt.chain[tri][i] = beyond == ISTHMUS_NONE
                                          ? from->chain[t][i]
                                          : old->bound_count + beyond_of(clipping, beyond);
        }
        mesh->mark[tri] = old->mark[t];
    }
}

static bool clip_sheet(struct clipping *clipping, size_t s, struct neck_sheet *to)
{
    struct arena *arena = clipping->arena, *scratch = arena_new("new numbers");
    struct sheet_mesh *mesh = arena_alloc(arena, 1, sizeof *mesh);
    struct numbers numbers;
    bool *has_component = arena_alloc(arena, 1, sizeof *has_component);
    *to = clipping->whole->sheets[s];
    bool is_done = scratch && mesh && has_component &&
                   number_kept(clipping, s, scratch, &numbers, mesh) &&
                   allocate_mesh(mesh, arena) && add_bounds(clipping, to, mesh);
    if (is_done) {
        mesh->component_count = 1;
        *has_component = true;
        copy_kept(clipping, s, &numbers, mesh);
    }
    to->mesh = mesh;
    to->islands = NULL;
    to->has_component = has_component;
    to->object_count++;
    arena_free(scratch);
    return is_done;
}

/* A sheet without copper nearby is left out. */
static bool clip_sheets(struct clipping *clipping)
{
    const struct neck_net *net = clipping->whole;
    struct neck_part *out = clipping->out;
    struct neck_sheet *sheets = arena_alloc(clipping->arena, net->sheet_count + 1, sizeof *sheets);
    out->first_bound = arena_alloc(clipping->arena, net->sheet_count + 1, sizeof *out->first_bound);
    if (!sheets || !out->first_bound)
        return false;
    out->net.sheets = sheets;
    out->net.sheet_count = 0;
    for (size_t s = 0; s < net->sheet_count; s++) {
        if (!clip_sheet(clipping, s, &sheets[out->net.sheet_count]))
            return false;
        if (sheets[out->net.sheet_count].mesh->cdt.tri_count > 0)
            out->first_bound[out->net.sheet_count++] = net->sheets[s].mesh->bound_count;
    }
    return true;
}

bool neck_part_new(const struct neck_net *net, const struct neck_place *about, double reach_nm,
                   struct arena *arena, struct neck_part *out)
{
    struct clipping clipping = {
        .whole = net, .out = out, .arena = arena, .scratch = arena_new("clipping")};
    *out = (struct neck_part){.net = *net, .whole = net};
    out->net.is_part = true;
    bool is_done = clipping.scratch &&
                   near_new(about, reach_nm, clipping.scratch, &clipping.near) &&
                   allocate(&clipping);
    for (size_t s = 0; is_done && s < net->sheet_count; s++)
        choose_sheet(&clipping, s);
    if (is_done)
        join_left_out(&clipping);
    is_done =
        is_done && number_beyond(&clipping) && note_holders(&clipping) && clip_sheets(&clipping);
    out->net.terminal_count = net->terminal_count + out->beyond_count;
    arena_free(clipping.scratch);
    return is_done;
}

bool neck_part_sides(const struct neck_part *part, const uint8_t *side, bool is_tied, uint8_t *out)
{
    size_t first = part->whole->terminal_count;
    for (size_t t = 0; t < part->net.terminal_count; t++)
        out[t] = t < first ? side[t] : 0;
    for (size_t i = 0; is_tied && i < part->holder_count; i++) {
        uint8_t *beyond = &out[first + part->holders[i].beyond];
        uint8_t of = side[part->holders[i].terminal];
        if (of && *beyond && *beyond != of)
            return false;
        *beyond = of ? of : *beyond;
    }
    for (size_t t = first; is_tied && t < part->net.terminal_count; t++)
        out[t] = out[t] ? out[t] : 2;
    return true;
}
