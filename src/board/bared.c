/* Mask openings over copper that are no contact: listed, and given no credit. */
#include "build.h"

/* Copper under the opening, by the middles of the mask mesh's triangles: for the list only. */
static void measure_bared(struct build *build, const struct mask_side *side, uint16_t layer,
                          double *area_nm2, uint32_t *conductor)
{
    const struct sheet_mesh *mesh = &side->mesh;
    double *largest = area_nm2 + mesh->component_count;
    for (uint32_t t = 0; t < mesh->cdt.tri_count; t++) {
        uint32_t component = mesh->component[t];
        if (component == ISTHMUS_NONE || build->openings[side->first_opening + component].is_used)
            continue;
        uint32_t under = build_conductor_at(build, layer, tri_middle(build, &mesh->cdt, t));
        if (under == ISTHMUS_NONE)
            continue;
        double area = tri_area_nm2(&mesh->cdt, t);
        area_nm2[component] += area;
        if (area > largest[component]) {
            largest[component] = area;
            conductor[component] = under;
        }
    }
}

static bool list_side(struct build *build, const struct mask_side *side, uint16_t layer)
{
    size_t count = side->mesh.component_count;
    double *area_nm2 = arena_alloc(build->scratch, 2 * count + 1, sizeof *area_nm2);
    uint32_t *conductor = arena_alloc(build->scratch, count + 1, sizeof *conductor);
    if (!area_nm2 || !conductor)
        return false;
    measure_bared(build, side, layer, area_nm2, conductor);
    for (size_t c = 0; c < count; c++) {
        const struct opening *opening = &build->openings[side->first_opening + c];
        if (area_nm2[c] > 0)
            build->board->bared[build->board->bared_count++] =
                (struct bared){.layer = layer,
                               .min = opening->box.min,
                               .max = opening->box.max,
                               .area_mm2 = area_nm2[c] / 1e12,
                               .conductor = conductor[c]};
    }
    return true;
}

enum board_status build_bared(struct build *build)
{
    struct board *board = build->board;
    board->bared = arena_alloc(build->arena, build->opening_count + 1, sizeof *board->bared);
    if (!board->bared)
        return BOARD_NO_MEMORY;
    for (int s = 0; s < 2; s++) {
        uint16_t layer = s ? (uint16_t)board->layer_count : 1;
        if (build->masks[s].is_known && !list_side(build, &build->masks[s], layer))
            return BOARD_NO_MEMORY;
    }
    return BOARD_OK;
}
