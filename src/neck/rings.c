/*
 * Pads that are no more than a ring about a via.
 *
 * Where a via passes a layer without joining anything there, its pad is an island with one hole and
 * no contact. Cutting it off parts no two terminals, so no cut of least cross-section has a piece
 * in it: a net with thousands of vias has ten times as many of them as it has copper.
 */
#include "neck/rings.h"

#include <math.h>

#define RINGS_FROM 64 /* holes: below, looking for rings is not worth while */
/* Beyond its hole's rim: what reaches farther may be copper that leads nowhere, and is listed. */
#define RING_REACH_NM 200000.0

struct island {
    uint32_t hole; /* or ISTHMUS_NONE: none met yet */
    bool is_kept;
    double rim_nm; /* radius */
};
struct look {
    const struct neck_net *net;
    const struct neck_sheet *sheet;
    struct island *islands; /* per component */
};

static bool is_contact(const struct neck_sheet *sheet, uint32_t tri)
{
    uint32_t object = sheet->mesh->mark[tri];
    return object != ISTHMUS_NONE && sheet->kind_of_object[object] == BOUND_CONTACT;
}

static double from_centre_nm(const struct look *look, uint32_t hole, uint32_t point)
{
    struct pt centre = look->net->holes[hole].centre, at = look->sheet->mesh->cdt.points[point];
    return sqrt((double)distance2(centre, at));
}

/* The net's via whose rim a side is, or ISTHMUS_NONE. */
static uint32_t hole_on(const struct look *look, uint32_t tri, unsigned side)
{
    const struct sheet_mesh *mesh = look->sheet->mesh;
    uint32_t bound = mesh->cdt.chain[tri][side];
    uint32_t object = bound == ISTHMUS_NONE ? ISTHMUS_NONE : mesh->bounds[bound].object;
    if (object == ISTHMUS_NONE || look->sheet->kind_of_object[object] != BOUND_RIM)
        return ISTHMUS_NONE;
    return neck_index_of_owner(look->net->hole_of_owner, look->sheet->owner_of_object[object],
                               look->net->hole_count);
}

static void note_hole(const struct look *look, struct island *island, uint32_t hole, uint32_t point)
{
    bool is_other = island->hole != ISTHMUS_NONE && island->hole != hole;
    island->is_kept |= is_other || look->net->holes[hole].contact != ISTHMUS_NONE;
    island->hole = hole;
    island->rim_nm = fmax(island->rim_nm, from_centre_nm(look, hole, point));
}

/* What a triangle says of its island: contacts and holes. */
static void note_triangle(const struct look *look, uint32_t tri)
{
    const struct cdt *mesh = &look->sheet->mesh->cdt;
    struct island *island = &look->islands[look->sheet->mesh->component[tri]];
    island->is_kept |= is_contact(look->sheet, tri);
    for (unsigned i = 0; i < 3 && !island->is_kept; i++) {
        uint32_t hole = hole_on(look, tri, i);
        if (hole != ISTHMUS_NONE)
            note_hole(look, island, hole, mesh->corner[tri][i == 2 ? 0 : i + 1]);
    }
}

/* ... and how far it reaches. */
static void note_reach(const struct look *look, uint32_t tri)
{
    const uint32_t *corner = look->sheet->mesh->cdt.corner[tri];
    struct island *island = &look->islands[look->sheet->mesh->component[tri]];
    for (unsigned i = 0; i < 3 && !island->is_kept && island->hole != ISTHMUS_NONE; i++)
        island->is_kept =
            from_centre_nm(look, island->hole, corner[i]) > island->rim_nm + RING_REACH_NM;
}

static void for_each_triangle(const struct look *look,
                              void (*note)(const struct look *look, uint32_t tri))
{
    const struct neck_sheet *sheet = look->sheet;
    for (uint32_t t = 0; !sheet->islands && t < sheet->mesh->cdt.tri_count; t++) {
        uint32_t component = sheet->mesh->component[t];
        if (component != ISTHMUS_NONE && sheet->has_component[component])
            note(look, t);
    }
    for (uint32_t c = 0; sheet->islands && c < sheet->mesh->component_count; c++)
        for (uint32_t k = sheet->islands->first[c];
             sheet->has_component[c] && k < sheet->islands->first[c + 1]; k++)
            note(look, sheet->islands->tris[k]);
}

bool rings_leave_out(const struct neck_net *net, const struct neck_sheet *sheet,
                     struct arena *arena, struct neck_sheet *out)
{
    size_t count = sheet->mesh->component_count;
    *out = *sheet;
    if (net->hole_count < RINGS_FROM || net->is_part)
        return true;
    bool *has_component = arena_alloc(arena, count + 1, sizeof *has_component);
    struct look look = {net, sheet, .islands = arena_alloc(arena, count + 1, sizeof *look.islands)};
    if (!has_component || !look.islands)
        return false;
    for (size_t c = 0; c < count; c++)
        look.islands[c] = (struct island){.hole = ISTHMUS_NONE};
    for_each_triangle(&look, note_triangle);
    for_each_triangle(&look, note_reach);
    for (size_t c = 0; c < count; c++)
        has_component[c] = sheet->has_component[c] &&
                           (look.islands[c].is_kept || look.islands[c].hole == ISTHMUS_NONE);
    out->has_component = has_component;
    return true;
}
