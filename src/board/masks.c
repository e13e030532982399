/*
 * Solder-mask openings: each mask drawing is painted and meshed like a copper layer, so that an
 * opening is one piece however many strokes, flashes or regions drew it.
 */
#include "build.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define MASK_CHORD_ERROR_NM 500.0

/* ---- the smallest rectangle round a set of points ---- */

static int compare_points(const void *a, const void *b)
{
    const struct pt *one = a, *other = b;
    if (one->x != other->x)
        return one->x < other->x ? -1 : 1;
    return (one->y > other->y) - (one->y < other->y);
}

/* Convex hull by Andrew's monotone chain; hull has room for 2 x count. */
static size_t convex_hull(struct pt *points, size_t count, struct pt *hull)
{
    qsort(points, count, sizeof *points, compare_points);
    size_t size = 0;
    for (size_t i = 0; i < count; i++) {
        while (size >= 2 && orient(hull[size - 2], hull[size - 1], points[i]) <= 0)
            size--;
        hull[size++] = points[i];
    }
    size_t lower = size + 1;
    for (size_t i = count - 1; i-- > 0;) {
        while (size >= lower && orient(hull[size - 2], hull[size - 1], points[i]) <= 0)
            size--;
        hull[size++] = points[i];
    }
    return size > 1 ? size - 1 : size;
}

/* Extent of the hull across and along one direction. */
static void extent_along(const struct pt *hull, size_t count, double ux, double uy, double *length,
                         double *width)
{
    double low_u = INFINITY, high_u = -INFINITY, low_v = INFINITY, high_v = -INFINITY;
    for (size_t i = 0; i < count; i++) {
        double u = hull[i].x * ux + hull[i].y * uy, v = hull[i].y * ux - hull[i].x * uy;
        low_u = fmin(low_u, u);
        high_u = fmax(high_u, u);
        low_v = fmin(low_v, v);
        high_v = fmax(high_v, v);
    }
    *length = fmax(high_u - low_u, high_v - low_v);
    *width = fmin(high_u - low_u, high_v - low_v);
}

/* One side of the smallest rectangle lies on a side of the hull. Many-sided hulls (circles) are
 * tried on some of their sides: they are as wide every way. */
static void smallest_rectangle(const struct pt *hull, size_t count, struct opening *opening)
{
    double best = INFINITY;
    size_t step = count / 256 + 1;
    for (size_t i = 0; i < count; i += step) {
        struct pt a = hull[i], b = hull[(i + 1) % count];
        double dx = (double)b.x - a.x, dy = (double)b.y - a.y, side = hypot(dx, dy);
        if (!(side > 0))
            continue;
        double length, width;
        extent_along(hull, count, dx / side, dy / side, &length, &width);
        if (length * width < best) {
            best = length * width;
            opening->length_mm = length / 1e6;
            opening->width_mm = width / 1e6;
        }
    }
}

/* ---- outlines of the mesh's components ---- */

struct outline_edge {
    uint32_t component, from, to;
};
struct outlines {
    struct outline_edge *edges;
    size_t count, capacity;
};

static bool collect_outlines(const struct sheet_mesh *mesh, struct outlines *outlines)
{
    const struct cdt *cdt = &mesh->cdt;
    for (uint32_t t = 0; t < cdt->tri_count; t++) {
        if (mesh->component[t] == ISTHMUS_NONE)
            continue;
        for (int i = 0; i < 3; i++) {
            uint32_t other = cdt->neighbour[t][i];
            if (other != ISTHMUS_NONE && mesh->component[other] == mesh->component[t])
                continue;
            if (!array_grow(&outlines->edges, sizeof *outlines->edges, &outlines->capacity,
                            outlines->count + 1))
                return false;
            outlines->edges[outlines->count++] =
                (struct outline_edge){.component = mesh->component[t],
                                      .from = cdt->corner[t][(i + 1) % 3],
                                      .to = cdt->corner[t][(i + 2) % 3]};
        }
    }
    return true;
}

static int compare_outline_edges(const void *a, const void *b)
{
    const struct outline_edge *one = a, *other = b;
    if (one->component != other->component)
        return one->component < other->component ? -1 : 1;
    if (one->from != other->from)
        return one->from < other->from ? -1 : 1;
    return (one->to > other->to) - (one->to < other->to);
}

/* First unused edge that leaves the point, in edges sorted by it. */
static size_t leaving(const struct outline_edge *edges, size_t count, const bool *is_used,
                      uint32_t point)
{
    size_t low = 0, high = count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (edges[middle].from < point)
            low = middle + 1;
        else
            high = middle;
    }
    for (; low < count && edges[low].from == point; low++)
        if (!is_used[low])
            return low;
    return SIZE_MAX;
}

static struct pos_nm to_file(const struct build *build, struct pt at)
{
    return (struct pos_nm){at.x + build->board->origin.x_nm, at.y + build->board->origin.y_nm};
}

/* Strings the component's edges into closed contours; where contours touch in a point any way
 * through encloses the same area. */
static bool link_contours(const struct build *build, const struct mask_side *side,
                          const struct outline_edge *edges, size_t count, struct opening *opening)
{
    bool *is_used = calloc(count + 1, sizeof *is_used);
    opening->segs = arena_alloc(build->scratch, count, sizeof *opening->segs);
    opening->contours = arena_alloc(build->scratch, count / 3 + 1, sizeof *opening->contours);
    bool is_done = is_used && opening->segs && opening->contours;
    uint32_t seg_count = 0;
    for (size_t i = 0; is_done && i < count; i++) {
        if (is_used[i])
            continue;
        struct contour *contour = &opening->contours[opening->contour_count++];
        contour->start = to_file(build, side->mesh.cdt.points[edges[i].from]);
        contour->first_seg = seg_count;
        for (size_t at = i; at != SIZE_MAX;
             at = edges[at].to == edges[i].from ? SIZE_MAX
                                                : leaving(edges, count, is_used, edges[at].to)) {
            is_used[at] = true;
            opening->segs[seg_count++] =
                (struct seg){.to = to_file(build, side->mesh.cdt.points[edges[at].to])};
        }
        contour->seg_count = seg_count - contour->first_seg;
    }
    free(is_used);
    return is_done;
}

static bool measure_opening(const struct build *build, const struct mask_side *side,
                            const struct outline_edge *edges, size_t count, struct opening *opening)
{
    struct pt *points = malloc((3 * count + 1) * sizeof *points);
    if (!points)
        return false;
    opening->box = BOX_EMPTY;
    for (size_t i = 0; i < count; i++) {
        points[i] = side->mesh.cdt.points[edges[i].from];
        box_add(&opening->box, to_file(build, points[i]));
    }
    size_t hull_count = convex_hull(points, count, points + count);
    smallest_rectangle(points + count, hull_count, opening);
    free(points);
    return link_contours(build, side, edges, count, opening);
}

/* ---- one side ---- */

static enum board_status mesh_mask(struct build *build, const struct drawing *drawing,
                                   struct sheet_mesh *mesh)
{
    struct paint paint;
    paint_init(&paint, build->board->origin, MASK_CHORD_ERROR_NM);
    enum mesh_status status = MESH_OK;
    for (uint32_t i = 0; i < drawing->object_count && status == MESH_OK; i++) {
        struct box box = object_box(drawing, i);
        if (!box_is_empty(box) && boxes_meet(box, build->extent))
            status = paint_add_drawn(&paint, drawing, i,
                                     drawing->objects[i].is_dark ? PAINT_DARK : PAINT_CLEAR, i, 0);
    }
    if (status == MESH_OK)
        status = sheet_mesh_build(&paint, 0, NULL, NULL, mesh);
    paint_free(&paint);
    return build_mesh_status(build, status, drawing->file_id);
}

/* A point of each opening: its middle if that is open, else the middle of its largest triangle. */
static bool place_openings(struct build *build, struct mask_side *side)
{
    const struct sheet_mesh *mesh = &side->mesh;
    double *largest = calloc((size_t)mesh->component_count + 1, sizeof *largest);
    for (uint32_t t = 0; largest && t < mesh->cdt.tri_count; t++) {
        uint32_t component = mesh->component[t];
        double area = component == ISTHMUS_NONE ? 0 : tri_area_nm2(&mesh->cdt, t);
        if (component == ISTHMUS_NONE || area <= largest[component])
            continue;
        largest[component] = area;
        build->openings[side->first_opening + component].place = tri_middle(build, &mesh->cdt, t);
    }
    for (uint32_t c = 0; largest && c < mesh->component_count; c++) {
        struct opening *opening = &build->openings[side->first_opening + c];
        struct pos_nm middle = box_centre(opening->box);
        uint32_t tri = locator_find(side->locator, build_centred(build, middle));
        if (tri != ISTHMUS_NONE && mesh->component[tri] == c)
            opening->place = middle;
    }
    bool is_done = largest != NULL;
    free(largest);
    return is_done;
}

static bool grow_openings(struct build *build, const struct mask_side *side)
{
    size_t total = build->opening_count + side->mesh.component_count;
    struct opening *openings = arena_alloc(build->scratch, total + 1, sizeof *openings);
    if (!openings)
        return false;
    if (build->opening_count)
        memcpy(openings, build->openings, build->opening_count * sizeof *openings);
    build->openings = openings;
    build->opening_count = total;
    return true;
}

static bool measure_openings(struct build *build, struct mask_side *side, uint16_t layer)
{
    struct outlines outlines = {0};
    bool is_done = collect_outlines(&side->mesh, &outlines);
    if (is_done && outlines.count)
        qsort(outlines.edges, outlines.count, sizeof *outlines.edges, compare_outline_edges);
    for (size_t i = 0, next; is_done && i < outlines.count; i = next) {
        uint32_t component = outlines.edges[i].component;
        for (next = i; next < outlines.count && outlines.edges[next].component == component;)
            next++;
        struct opening *opening = &build->openings[side->first_opening + component];
        opening->layer = layer;
        opening->area_mm2 = side->mesh.component_area_mm2[component];
        is_done = measure_opening(build, side, outlines.edges + i, next - i, opening);
    }
    free(outlines.edges);
    return is_done && place_openings(build, side);
}

static enum board_status read_side(struct build *build, struct mask_side *side, uint16_t layer,
                                   const struct drawing *drawing)
{
    enum board_status status = mesh_mask(build, drawing, &side->mesh);
    if (status != BOARD_OK)
        return status;
    side->is_known = true;
    side->file_id = drawing->file_id;
    side->first_opening = (uint32_t)build->opening_count;
    side->locator = locator_new(&side->mesh.cdt);
    if (!side->locator || !grow_openings(build, side) || !measure_openings(build, side, layer))
        return BOARD_NO_MEMORY;
    return BOARD_OK;
}

enum board_status build_masks(struct build *build)
{
    struct board *board = build->board;
    for (size_t i = 0; i < board->role_count; i++) {
        enum role role = board->roles[i].role;
        if (role != ROLE_MASK_TOP && role != ROLE_MASK_BOTTOM)
            continue;
        struct mask_side *side = &build->masks[role == ROLE_MASK_BOTTOM];
        /* A mask that opens nothing says nothing: an empty plot is more likely than a board that is
         * covered all over. */
        if (side->is_known || board->drawings[i].object_count == 0)
            continue;
        uint16_t layer = role == ROLE_MASK_TOP ? 1 : (uint16_t)board->layer_count;
        enum board_status status = read_side(build, side, layer, &board->drawings[i]);
        if (status != BOARD_OK)
            return status;
    }
    return BOARD_OK;
}

/* The side of a copper layer's mask: an only layer may be seen from either. */
uint32_t build_mask_opening(const struct build *build, uint16_t layer, struct pos_nm at)
{
    for (int s = 0; s < 2; s++) {
        const struct mask_side *side = &build->masks[s];
        if (!side->is_known || layer != (s == 0 ? 1 : build->board->layer_count))
            continue;
        uint32_t tri = locator_find(side->locator, build_centred(build, at));
        uint32_t component = tri == ISTHMUS_NONE ? ISTHMUS_NONE : side->mesh.component[tri];
        if (component != ISTHMUS_NONE)
            return side->first_opening + component;
    }
    return ISTHMUS_NONE;
}
