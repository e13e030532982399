/*
 * What falls out: where plated holes run into each other all the way round a piece of the board (a
 * plated cut-out routed along its edge, a ring of hits), that piece is lost with its copper, and so
 * is the inner side of the cut. The holes of such a group are painted; what is bare and enclosed is
 * the core.
 */
#include "build.h"

#include <math.h>
#include <stdlib.h>

#define LEAST_MEMBERS 3     /* two straight slots enclose nothing */
#define CHORD_ERROR_NM 2000 /* of painted holes: the core comes out too large by as much, into */
#define OVERLAP_NM 2000     /* what the holes take away anyway */
#define MOST_OF_BOARD 0.5   /* no profile: a way round this much of it is the board's edge */

struct core_set {
    struct sheet_mesh mesh; /* of the group's holes */
    struct locator *locator;
    bool *is_core; /* per triangle */
    uint32_t group;
    uint32_t first_hole;
    uint16_t layer_from, layer_to;
    struct contour *contours; /* a triangle each */
    struct seg *segs;
    size_t contour_count;
    struct box box;
    struct core_set *next;
};

static void set_free(struct core_set *set)
{
    locator_free(set->locator);
    sheet_mesh_free(&set->mesh);
    free(set->is_core);
}

void cores_free(struct build *build)
{
    for (struct core_set *set = build->cores; set; set = set->next)
        set_free(set);
    build->cores = NULL;
}

/* ---- the enclosed part of a group ---- */

static enum mesh_status mesh_group(const struct build *build, const uint32_t *members, size_t count,
                                   struct sheet_mesh *out)
{
    struct paint paint;
    paint_init(&paint, build->board->origin, CHORD_ERROR_NM);
    enum mesh_status status = MESH_OK;
    for (size_t i = 0; i < count && status == MESH_OK; i++) {
        const struct board_hole *hole = &build->board->holes[members[i]];
        if (hole->cut_nm > OVERLAP_NM)
            status =
                paint_add_slot(&paint, hole->hole.from, hole->hole.to, hole->cut_nm - OVERLAP_NM,
                               PAINT_DARK, (uint32_t)i, PAINT_KIND_HOLE);
    }
    if (status == MESH_OK)
        status = sheet_mesh_build(&paint, 0, NULL, NULL, out);
    paint_free(&paint);
    return status;
}

/* Bare triangles that hang together with the hull's outside are no core. */
static bool find_enclosed(struct core_set *set)
{
    const struct cdt *cdt = &set->mesh.cdt;
    uint32_t *queue = malloc(((size_t)cdt->tri_count + 1) * sizeof *queue);
    size_t queued = 0;
    set->is_core = calloc((size_t)cdt->tri_count + 1, sizeof *set->is_core);
    if (!queue || !set->is_core) {
        free(queue);
        return false;
    }
    for (uint32_t t = 0; t < cdt->tri_count; t++) {
        bool is_outer = false;
        for (int i = 0; i < 3; i++)
            is_outer |= cdt->neighbour[t][i] == ISTHMUS_NONE;
        set->is_core[t] = set->mesh.component[t] == ISTHMUS_NONE && !is_outer;
        if (set->mesh.component[t] == ISTHMUS_NONE && is_outer)
            queue[queued++] = t;
    }
    while (queued > 0) {
        uint32_t t = queue[--queued];
        for (int i = 0; i < 3; i++) {
            uint32_t other = cdt->neighbour[t][i];
            if (other == ISTHMUS_NONE || !set->is_core[other])
                continue;
            set->is_core[other] = false;
            queue[queued++] = other;
        }
    }
    free(queue);
    return true;
}

/* Each triangle is a contour; their common sides cancel when painted. */
static bool keep_contours(const struct build *build, struct core_set *set)
{
    const struct cdt *cdt = &set->mesh.cdt;
    size_t count = 0;
    for (uint32_t t = 0; t < cdt->tri_count; t++)
        count += set->is_core[t];
    set->contours = arena_alloc(build->scratch, count + 1, sizeof *set->contours);
    set->segs = arena_alloc(build->scratch, 3 * count + 1, sizeof *set->segs);
    if (!set->contours || !set->segs)
        return false;
    set->box = BOX_EMPTY;
    for (uint32_t t = 0; t < cdt->tri_count; t++) {
        if (!set->is_core[t])
            continue;
        struct contour *contour = &set->contours[set->contour_count];
        *contour =
            (struct contour){.first_seg = (uint32_t)(3 * set->contour_count), .seg_count = 3};
        for (int i = 0; i < 3; i++) {
            struct pt at = cdt->points[cdt->corner[t][i]];
            struct pos_nm place = board_to_file(build->board, at);
            set->segs[contour->first_seg + (size_t)(i + 2) % 3] = (struct seg){.to = place};
            if (i == 0)
                contour->start = place;
            box_add(&set->box, place);
        }
        set->contour_count++;
    }
    return true;
}

/* ---- which groups ---- */

/* A way along the board's edge, or round all of it, leaves the board inside. */
static bool is_board_edge(const struct build *build, const uint32_t *members, size_t count,
                          struct box core)
{
    if (!build->profile.is_chosen) {
        struct pos_nm all = box_size(build->extent), size = box_size(core);
        return (double)size.x_nm * (double)size.y_nm >
               MOST_OF_BOARD * (double)all.x_nm * (double)all.y_nm;
    }
    for (size_t i = 0; i < count; i++) {
        const struct board_hole *hole = &build->board->holes[members[i]];
        if (hole->is_on_profile || !profile_holds(&build->profile, hole_middle(&hole->hole)))
            return true;
    }
    return false;
}

static void say_core(struct build *build, const struct core_set *set)
{
    struct pos_nm size = box_size(set->box), middle = box_centre(set->box);
    diag_add(build->diags, DIAG_NOTE, "hole-core", build->board->holes[set->first_hole].hole.at,
             NULL,
             "plated holes run all round a piece of %.3f x %.3f mm about %.4f, %.4f mm: it falls "
             "out, and what is drawn on it with it",
             (double)size.x_nm / 1e6, (double)size.y_nm / 1e6, (double)middle.x_nm / 1e6,
             (double)middle.y_nm / 1e6);
}

static enum board_status try_group(struct build *build, const uint32_t *members, size_t count)
{
    const struct board_hole *first = &build->board->holes[members[0]];
    struct core_set *set = arena_alloc(build->scratch, 1, sizeof *set);
    if (!set)
        return BOARD_NO_MEMORY;
    *set = (struct core_set){.group = build->notes[members[0]].group,
                             .first_hole = members[0],
                             .layer_from = first->layer_from,
                             .layer_to = first->layer_to};
    for (size_t i = 1; i < count; i++) /* holes of another span close nothing */
        if (build->board->holes[members[i]].layer_from != first->layer_from ||
            build->board->holes[members[i]].layer_to != first->layer_to)
            return BOARD_OK;
    enum mesh_status status = mesh_group(build, members, count, &set->mesh);
    if (status != MESH_OK)
        return build_mesh_status(build, status, first->hole.at.file_id);
    bool has_memory = find_enclosed(set) && keep_contours(build, set);
    bool is_core =
        has_memory && set->contour_count > 0 && !is_board_edge(build, members, count, set->box);
    set->locator = is_core ? locator_new(&set->mesh.cdt) : NULL;
    if (!is_core || !set->locator) {
        set_free(set);
        return has_memory && !is_core ? BOARD_OK : BOARD_NO_MEMORY;
    }
    set->next = build->cores;
    build->cores = set;
    say_core(build, set);
    return BOARD_OK;
}

static int compare_groups(const void *a, const void *b, void *context)
{
    const struct hole_note *notes = context;
    uint32_t one = *(const uint32_t *)a, other = *(const uint32_t *)b;
    if (notes[one].group != notes[other].group)
        return notes[one].group < notes[other].group ? -1 : 1;
    return (one > other) - (one < other);
}

enum board_status build_cores(struct build *build)
{
    const struct board *board = build->board;
    uint32_t *plated = arena_alloc(build->scratch, board->hole_count + 1, sizeof *plated);
    size_t count = 0;
    if (!plated)
        return BOARD_NO_MEMORY;
    for (uint32_t h = 0; h < board->hole_count; h++)
        if (board->holes[h].is_plated)
            plated[count++] = h;
    if (count)
        qsort_r(plated, count, sizeof *plated, compare_groups, build->notes);
    enum board_status status = BOARD_OK;
    for (size_t i = 0, next; i < count && status == BOARD_OK; i = next) {
        for (next = i;
             next < count && build->notes[plated[next]].group == build->notes[plated[i]].group;)
            next++;
        if (next - i >= LEAST_MEMBERS)
            status = try_group(build, plated + i, next - i);
    }
    return status;
}

/* ---- what others ask ---- */

bool core_holds(const struct build *build, uint32_t group, struct pos_nm at)
{
    for (const struct core_set *set = build->cores; set; set = set->next) {
        if (set->group != group || !box_holds(set->box, at))
            continue;
        uint32_t tri = locator_find(set->locator, build_centred(build, at));
        return tri != ISTHMUS_NONE && set->is_core[tri];
    }
    return false;
}

enum mesh_status cores_paint(const struct build *build, struct copper_layer *layer)
{
    enum mesh_status status = MESH_OK;
    for (const struct core_set *set = build->cores; set && status == MESH_OK; set = set->next)
        if (set->layer_from <= layer->position && layer->position <= set->layer_to)
            status = paint_add_contours(&layer->paint, set->contours, set->contour_count, set->segs,
                                        false, PAINT_CLEAR, set->first_hole, PAINT_KIND_HOLE);
    return status;
}
