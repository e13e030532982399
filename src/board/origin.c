/* The package's centre, about which all integer geometry is done. */
#include "build.h"

static void join_drawings(struct build *build)
{
    const struct board *board = build->board;
    for (size_t i = 0; i < board->role_count; i++) {
        enum role role = board->roles[i].role;
        if (role == ROLE_COPPER || role == ROLE_PROFILE)
            box_join(&build->extent, (struct box){board->drawings[i].min, board->drawings[i].max});
    }
}

/* A profile drawn with an aperture of size zero has no contours, but its lines have ends. */
static void join_profile_lines(struct build *build)
{
    const struct board *board = build->board;
    for (size_t i = 0; i < board->role_count; i++) {
        const struct drawing *drawing = &board->drawings[i];
        for (size_t o = 0; board->roles[i].role == ROLE_PROFILE && o < drawing->object_count; o++) {
            box_add(&build->extent, drawing->objects[o].from);
            box_add(&build->extent, drawing->objects[o].to);
        }
    }
}

static void join_holes(struct build *build)
{
    for (size_t h = 0; h < build->board->hole_count; h++) {
        const struct hole *hole = &build->board->holes[h].hole;
        for (int sign = -1; sign <= 1; sign += 2) {
            int64_t reach = sign * hole->diameter_nm;
            box_add(&build->extent,
                    (struct pos_nm){hole->from.x_nm + reach, hole->from.y_nm + reach});
            box_add(&build->extent, (struct pos_nm){hole->to.x_nm + reach, hole->to.y_nm + reach});
        }
    }
}

enum board_status build_origin(struct build *build)
{
    build->extent = BOX_EMPTY;
    join_drawings(build);
    join_profile_lines(build);
    join_holes(build);
    struct source_pos at = {build->board->layers[0].file_id, 0, 0};
    if (box_is_empty(build->extent)) {
        diag_add(build->diags, DIAG_ERROR, "package-empty", at,
                 "see which files were taken for copper with `isthmus inspect`, or name them with "
                 "--role",
                 "no copper layer draws anything");
        return BOARD_REFUSED;
    }
    struct pos_nm size = box_size(build->extent);
    int64_t most = 2 * ((int64_t)MESH_COORD_LIMIT - NM_PER_MM);
    build->board->origin = box_centre(build->extent);
    if (size.x_nm <= most && size.y_nm <= most)
        return BOARD_OK;
    diag_add(
        build->diags, DIAG_ERROR, "package-too-large", at,
        "look for a stray object or hole far outside the board, and leave it out of the package",
        "copper, profile and holes span %.1f x %.1f mm; the most is %.0f mm",
        (double)size.x_nm / 1e6, (double)size.y_nm / 1e6, (double)most / 1e6);
    return BOARD_REFUSED;
}
