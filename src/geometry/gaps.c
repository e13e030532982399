/*
 * Bare gaps narrower than a limit, as painters leave them between strokes that should abut. Two
 * edges face each other across bare where a vertex of one lies within the limit of the other; what
 * lies between the parts of them that are that near is painted, and the boundary made anew.
 */
#include "geometry/bounds.h"

#include <math.h>
#include <stdlib.h>

#define FACING_COSINE                                                                              \
    (-0.5)              /* directions this far from each other, with bare on the left of both */
#define REACH_NM 2.0    /* a patch overlaps the copper on either side: more than rounding moves */
#define SEARCH_LIMIT 64 /* triangles looked at about one corner */

struct facing {
    uint32_t e, f; /* bounds, e < f */
};
struct finder {
    const struct gap_rule *rule;
    const struct boundary *boundary;
    const struct sheet_mesh *mesh;
    uint32_t *first, *bounds_at;    /* bounds between copper and bare, by point */
    struct facing *pairs, *corners; /* apart; sharing an end */
    size_t pair_count, pair_capacity, corner_count, corner_capacity;
    bool *is_paired; /* per bound */
};

static bool parts_copper_and_bare(const struct bound *bound)
{
    return (bound->left.component == ISTHMUS_NONE) != (bound->right.component == ISTHMUS_NONE);
}

/* Its ends, with bare on the left. */
static void ends_of(const struct finder *finder, uint32_t index, struct pt *a, struct pt *b)
{
    const struct bound *bound = &finder->boundary->bounds[index];
    bool is_bare_left = bound->left.component == ISTHMUS_NONE;
    *a = finder->mesh->cdt.points[is_bare_left ? bound->a : bound->b];
    *b = finder->mesh->cdt.points[is_bare_left ? bound->b : bound->a];
}

static bool index_bounds(struct finder *finder)
{
    const struct boundary *boundary = finder->boundary;
    uint32_t point_count = finder->mesh->cdt.point_count;
    finder->first = mesh_calloc((size_t)point_count + 1, sizeof *finder->first);
    finder->bounds_at = mesh_alloc(2 * boundary->bound_count, sizeof *finder->bounds_at);
    finder->is_paired = mesh_calloc(boundary->bound_count, sizeof *finder->is_paired);
    if (!finder->first || !finder->bounds_at || !finder->is_paired)
        return false;
    for (size_t i = 0; i < boundary->bound_count; i++)
        if (parts_copper_and_bare(&boundary->bounds[i])) {
            finder->first[boundary->bounds[i].a]++;
            finder->first[boundary->bounds[i].b]++;
        }
    for (uint32_t i = 0; i < point_count; i++)
        finder->first[i + 1] += finder->first[i];
    for (size_t i = boundary->bound_count; i-- > 0;)
        if (parts_copper_and_bare(&boundary->bounds[i])) {
            finder->bounds_at[--finder->first[boundary->bounds[i].a]] = (uint32_t)i;
            finder->bounds_at[--finder->first[boundary->bounds[i].b]] = (uint32_t)i;
        }
    return true;
}

/* ---- distances: measurements, in double ---- */

struct vec {
    double x, y;
};

static struct vec from_to(struct pt a, struct pt b)
{
    return (struct vec){(double)b.x - a.x, (double)b.y - a.y};
}

static struct vec along(struct vec a, struct vec run, double share)
{
    return (struct vec){a.x + run.x * share, a.y + run.y * share};
}

static double clamp_share(double share)
{
    return share < 0 ? 0 : share > 1 ? 1 : share;
}

/* Share of a segment from `a` that is nearest to a point. */
static double nearest_share(struct vec a, struct vec run, struct vec at)
{
    double length2 = run.x * run.x + run.y * run.y;
    return clamp_share(((at.x - a.x) * run.x + (at.y - a.y) * run.y) / length2);
}

static double distance_to(struct vec a, struct vec run, struct vec at)
{
    struct vec foot = along(a, run, nearest_share(a, run, at));
    return hypot(at.x - foot.x, at.y - foot.y);
}

/* ---- which edges face each other ---- */

static bool faces(const struct finder *finder, uint32_t e, uint32_t f)
{
    struct pt ea, eb, fa, fb;
    ends_of(finder, e, &ea, &eb);
    ends_of(finder, f, &fa, &fb);
    struct vec u = from_to(ea, eb), v = from_to(fa, fb);
    if (u.x * v.x + u.y * v.y > FACING_COSINE * hypot(u.x, u.y) * hypot(v.x, v.y))
        return false;
    return !finder->rule->may_join ||
           finder->rule->may_join(finder->boundary->bounds[e].object,
                                  finder->boundary->bounds[f].object, finder->rule->context);
}

static bool share_end(const struct bound *e, const struct bound *f)
{
    return e->a == f->a || e->a == f->b || e->b == f->a || e->b == f->b;
}

static bool add_pair(struct finder *finder, uint32_t e, uint32_t f)
{
    const struct bound *bounds = finder->boundary->bounds;
    if (e == f || !faces(finder, e, f))
        return true;
    struct facing pair = e < f ? (struct facing){e, f} : (struct facing){f, e};
    if (share_end(&bounds[e], &bounds[f])) {
        if (!array_grow(&finder->corners, sizeof pair, &finder->corner_capacity,
                        finder->corner_count + 1))
            return false;
        finder->corners[finder->corner_count++] = pair;
        return true;
    }
    if (!array_grow(&finder->pairs, sizeof pair, &finder->pair_capacity, finder->pair_count + 1))
        return false;
    finder->pairs[finder->pair_count++] = pair;
    finder->is_paired[e] = finder->is_paired[f] = true;
    return true;
}

static bool add_pairs_at(struct finder *finder, uint32_t point, uint32_t bound)
{
    for (uint32_t i = finder->first[point]; i < finder->first[point + 1]; i++)
        if (!add_pair(finder, finder->bounds_at[i], bound))
            return false;
    return true;
}

/* A search about one point through bare triangles, across edges within the limit. */
struct search {
    struct finder *finder;
    uint32_t point;
    uint32_t seen[SEARCH_LIMIT];
    unsigned seen_count, next;
};

static bool is_near(const struct search *search, uint32_t tri, unsigned i)
{
    const struct cdt *cdt = &search->finder->mesh->cdt;
    const uint32_t *corner = cdt->corner[tri];
    struct pt at = cdt->points[search->point];
    struct pt a = cdt->points[corner[next3(i)]], b = cdt->points[corner[prev3(i)]];
    struct vec run = from_to(a, b);
    double limit = search->finder->rule->limit_nm;
    double area = (double)cross(a, b, at); /* twice: height times length */
    if (area * area >= limit * limit * (run.x * run.x + run.y * run.y))
        return false;
    return distance_to((struct vec){0, 0}, run, from_to(a, at)) < limit;
}

static void go_on(struct search *search, uint32_t tri)
{
    for (unsigned i = 0; i < search->seen_count; i++)
        if (search->seen[i] == tri)
            return;
    if (search->seen_count < SEARCH_LIMIT)
        search->seen[search->seen_count++] = tri;
}

static bool look_across(struct search *search, uint32_t tri, unsigned i)
{
    const struct cdt *cdt = &search->finder->mesh->cdt;
    const uint32_t *corner = cdt->corner[tri];
    if (corner[next3(i)] == search->point || corner[prev3(i)] == search->point ||
        cdt->neighbour[tri][i] == ISTHMUS_NONE || !is_near(search, tri, i))
        return true;
    if (cdt->chain[tri][i] != ISTHMUS_NONE)
        return add_pairs_at(search->finder, search->point, cdt->chain[tri][i]);
    go_on(search, cdt->neighbour[tri][i]);
    return true;
}

static bool search_from(struct finder *finder, uint32_t tri, unsigned corner)
{
    struct search search = {.finder = finder, .point = finder->mesh->cdt.corner[tri][corner]};
    if (finder->first[search.point] == finder->first[search.point + 1])
        return true;
    search.seen[search.seen_count++] = tri;
    for (; search.next < search.seen_count; search.next++)
        for (unsigned i = 0; i < 3; i++)
            if (!look_across(&search, search.seen[search.next], i))
                return false;
    return true;
}

static int compare_pairs(const void *a, const void *b)
{
    const struct facing *p = a, *q = b;
    if (p->e != q->e)
        return p->e < q->e ? -1 : 1;
    return (p->f > q->f) - (p->f < q->f);
}

static size_t make_distinct(struct facing *pairs, size_t count)
{
    size_t kept = 0;
    if (count)
        qsort(pairs, count, sizeof *pairs, compare_pairs);
    for (size_t i = 0; i < count; i++)
        if (kept == 0 || compare_pairs(&pairs[kept - 1], &pairs[i]) != 0)
            pairs[kept++] = pairs[i];
    return kept;
}

/*
 * Every sharp corner is narrow at its tip. It is closed only where it ends a gap, so that no bare
 * splinter stays inside.
 */
static bool add_corners(struct finder *finder)
{
    size_t pair_count = finder->pair_count;
    for (size_t i = 0; i < finder->corner_count && pair_count > 0; i++) {
        struct facing corner = finder->corners[i];
        if (!finder->is_paired[corner.e] && !finder->is_paired[corner.f])
            continue;
        if (!array_grow(&finder->pairs, sizeof corner, &finder->pair_capacity,
                        finder->pair_count + 1))
            return false;
        finder->pairs[finder->pair_count++] = corner;
    }
    return true;
}

static bool find_pairs(struct finder *finder)
{
    const struct sheet_mesh *mesh = finder->mesh;
    if (!index_bounds(finder))
        return false;
    for (uint32_t tri = 0; tri < mesh->cdt.tri_count; tri++)
        for (unsigned i = 0; i < 3 && mesh->component[tri] == ISTHMUS_NONE; i++)
            if (!search_from(finder, tri, i))
                return false;
    if (!add_corners(finder))
        return false;
    finder->pair_count = make_distinct(finder->pairs, finder->pair_count);
    return true;
}

/* ---- the patch between two edges ---- */

/* Where the distance from segment f grows to the limit between two shares of e. */
static double share_at_limit(struct vec ea, struct vec e, struct vec fa, struct vec f, double limit,
                             double inside, double outside)
{
    if (distance_to(fa, f, along(ea, e, outside)) < limit)
        return outside;
    for (int i = 0; i < 50; i++) {
        double middle = (inside + outside) / 2;
        if (distance_to(fa, f, along(ea, e, middle)) < limit)
            inside = middle;
        else
            outside = middle;
    }
    return inside;
}

/* The part of e within the limit of f (distance to a segment is convex); false if there is none. */
static bool near_part(struct vec ea, struct vec e, struct vec fa, struct vec f, double limit,
                      double part[2])
{
    const double tries[4] = {0, 1, nearest_share(ea, e, fa), nearest_share(ea, e, along(fa, f, 1))};
    double best = 0, least = INFINITY;
    for (unsigned i = 0; i < 4; i++) {
        double distance = distance_to(fa, f, along(ea, e, tries[i]));
        if (distance < least) {
            least = distance;
            best = tries[i];
        }
    }
    if (!(least < limit))
        return false;
    part[0] = share_at_limit(ea, e, fa, f, limit, best, 0);
    part[1] = share_at_limit(ea, e, fa, f, limit, best, 1);
    return true;
}

/* A point of an edge, moved to the right of it (into the copper), as a whole point about o. */
static struct pt behind(struct pt o, struct vec a, struct vec run, double share)
{
    double length = hypot(run.x, run.y);
    struct vec at = along(a, run, share);
    return (struct pt){o.x + (int32_t)lround(at.x + REACH_NM * run.y / length),
                       o.y + (int32_t)lround(at.y - REACH_NM * run.x / length)};
}

/* The four corners, counterclockwise, of what lies between the near parts; false if nothing. */
static bool make_patch(const struct finder *finder, const struct facing *pair, struct pt corner[4])
{
    struct pt e0, e1, f0, f1;
    ends_of(finder, pair->e, &e0, &e1);
    ends_of(finder, pair->f, &f0, &f1);
    struct vec zero = {0, 0}, e = from_to(e0, e1), fa = from_to(e0, f0), f = from_to(f0, f1);
    double limit = finder->rule->limit_nm, on_e[2], on_f[2];
    if (!near_part(zero, e, fa, f, limit, on_e) || !near_part(fa, f, zero, e, limit, on_f))
        return false;
    corner[0] = behind(e0, zero, e, on_e[0]);
    corner[1] = behind(e0, zero, e, on_e[1]);
    corner[2] = behind(e0, fa, f, on_f[0]);
    corner[3] = behind(e0, fa, f, on_f[1]);
    return true;
}

/* ---- making the boundary anew: the old one and the patches as paint ---- */

struct closer {
    struct finder finder;
    struct paint paint;      /* patches first, then the old copper, then the old marks */
    uint32_t *bound_of_edge; /* per edge of the paint: the old bound, or (patches) one beside it */
    size_t bound_capacity;
    uint32_t patch_count;
    uint32_t *marks; /* the old mark of each new one, by object - patch_count - 1 */
    size_t mark_count, mark_capacity;
    struct sheet_mesh *mesh;
};

static bool add_edge(struct closer *closer, struct pt a, struct pt b, uint32_t curve,
                     uint32_t bound)
{
    struct paint *paint = &closer->paint;
    if (!array_grow(&paint->edges, sizeof *paint->edges, &paint->edge_capacity,
                    paint->edge_count + 1) ||
        !array_grow(&closer->bound_of_edge, sizeof *closer->bound_of_edge, &closer->bound_capacity,
                    paint->edge_count + 1))
        return false;
    closer->bound_of_edge[paint->edge_count] = bound;
    paint->edges[paint->edge_count++] = (struct paint_edge){a, b, curve};
    return true;
}

/* An object of one fill: the edges added from now on. */
static bool open_fill(struct closer *closer, enum paint_effect effect)
{
    struct paint *paint = &closer->paint;
    if (!array_grow(&paint->objects, sizeof *paint->objects, &paint->object_capacity,
                    paint->object_count + 1) ||
        !array_grow(&paint->fills, sizeof *paint->fills, &paint->fill_capacity,
                    paint->fill_count + 1))
        return false;
    paint->objects[paint->object_count++] =
        (struct paint_object){effect, 0, 0, (uint32_t)paint->fill_count, 1, ISTHMUS_NONE};
    paint->fills[paint->fill_count++] = (struct paint_fill){(uint32_t)paint->edge_count, 0, true};
    return true;
}

static void close_fill(struct closer *closer)
{
    struct paint_fill *fill = &closer->paint.fills[closer->paint.fill_count - 1];
    fill->edge_count = (uint32_t)closer->paint.edge_count - fill->first_edge;
}

static bool add_patches(struct closer *closer)
{
    const struct finder *finder = &closer->finder;
    struct pt corner[4];
    for (size_t i = 0; i < finder->pair_count; i++) {
        const struct facing *pair = &finder->pairs[i];
        if (!make_patch(finder, pair, corner))
            continue;
        if (!open_fill(closer, PAINT_DARK))
            return false;
        for (unsigned c = 0; c < 4; c++)
            if (!add_edge(closer, corner[c], corner[(c + 1) % 4], 0, pair->e))
                return false;
        close_fill(closer);
        closer->patch_count++;
    }
    return true;
}

static bool add_bound(struct closer *closer, uint32_t index, bool is_left_inside)
{
    const struct bound *bound = &closer->finder.boundary->bounds[index];
    const struct pt *points = closer->mesh->cdt.points;
    struct pt a = points[bound->a], b = points[bound->b];
    return is_left_inside ? add_edge(closer, a, b, bound->curve, index)
                          : add_edge(closer, b, a, bound->curve, index);
}

static bool add_copper(struct closer *closer)
{
    const struct boundary *boundary = closer->finder.boundary;
    if (!open_fill(closer, PAINT_DARK))
        return false;
    for (size_t i = 0; i < boundary->bound_count; i++) {
        const struct bound *bound = &boundary->bounds[i];
        if (parts_copper_and_bare(bound) &&
            !add_bound(closer, (uint32_t)i, bound->left.component != ISTHMUS_NONE))
            return false;
    }
    close_fill(closer);
    return true;
}

struct mark_side {
    uint32_t mark, bound;
};

static int compare_sides(const void *a, const void *b)
{
    const struct mark_side *p = a, *q = b;
    if (p->mark != q->mark)
        return p->mark < q->mark ? -1 : 1;
    return (p->bound > q->bound) - (p->bound < q->bound);
}

static struct mark_side *sort_mark_sides(const struct boundary *boundary, size_t *count)
{
    struct mark_side *sides = mesh_alloc(2 * boundary->bound_count, sizeof *sides);
    *count = 0;
    for (uint32_t i = 0; sides && i < boundary->bound_count; i++) {
        const struct bound *bound = &boundary->bounds[i];
        if (bound->left.mark == bound->right.mark)
            continue;
        if (bound->left.mark != ISTHMUS_NONE)
            sides[(*count)++] = (struct mark_side){bound->left.mark, i};
        if (bound->right.mark != ISTHMUS_NONE)
            sides[(*count)++] = (struct mark_side){bound->right.mark, i};
    }
    if (sides && *count)
        qsort(sides, *count, sizeof *sides, compare_sides);
    return sides;
}

static bool add_mark(struct closer *closer, const struct mark_side *sides, size_t count)
{
    if (!array_grow(&closer->marks, sizeof *closer->marks, &closer->mark_capacity,
                    closer->mark_count + 1) ||
        !open_fill(closer, PAINT_MARK))
        return false;
    closer->marks[closer->mark_count++] = sides[0].mark;
    for (size_t i = 0; i < count; i++) {
        const struct bound *bound = &closer->finder.boundary->bounds[sides[i].bound];
        if (!add_bound(closer, sides[i].bound, bound->left.mark == sides[i].mark))
            return false;
    }
    close_fill(closer);
    return true;
}

static bool add_marks(struct closer *closer)
{
    size_t count;
    struct mark_side *sides = sort_mark_sides(closer->finder.boundary, &count);
    bool ok = sides != NULL;
    for (size_t first = 0, end; ok && first < count; first = end) {
        for (end = first + 1; end < count && sides[end].mark == sides[first].mark; end++)
            ;
        ok = add_mark(closer, sides + first, end - first);
    }
    free(sides);
    return ok;
}

/* ---- back into the terms of the layer's own paint ---- */

/* The new island of every old one: they lie left of the old copper's outline. */
static bool map_islands(const struct closer *closer, const struct image *image, uint32_t *map)
{
    const struct boundary *old = closer->finder.boundary;
    for (uint32_t edge = 0; edge < image->edge_count; edge++)
        for (uint32_t c = 0; c < image->spans[edge].count; c++) {
            const struct change *change = &image->changes[image->spans[edge].first + c];
            if (change->fill != closer->patch_count)
                continue;
            const struct bound *bound = &old->bounds[closer->bound_of_edge[change->source]];
            uint32_t island = bound->left.component != ISTHMUS_NONE ? bound->left.component
                                                                    : bound->right.component;
            uint32_t face = image->map.face_of[2 * edge + (change->delta < 0)];
            map[island] = image->component[face];
        }
    for (uint32_t i = 0; i < closer->mesh->component_count; i++)
        if (map[i] == ISTHMUS_NONE)
            return false;
    return true;
}

static int compare_shows(const void *a, const void *b)
{
    const struct sheet_show *p = a, *q = b;
    if (p->component != q->component)
        return p->component < q->component ? -1 : 1;
    return (p->object > q->object) - (p->object < q->object);
}

static void map_shows(struct sheet_mesh *mesh, const uint32_t *map)
{
    size_t kept = 0;
    for (size_t i = 0; i < mesh->show_count; i++)
        mesh->shows[i].component = map[mesh->shows[i].component];
    if (mesh->show_count)
        qsort(mesh->shows, mesh->show_count, sizeof *mesh->shows, compare_shows);
    for (size_t i = 0; i < mesh->show_count; i++)
        if (kept == 0 || compare_shows(&mesh->shows[kept - 1], &mesh->shows[i]) != 0)
            mesh->shows[kept++] = mesh->shows[i];
    mesh->show_count = kept;
}

static void map_label(const struct closer *closer, struct label *label)
{
    if (label->mark != ISTHMUS_NONE)
        label->mark = closer->marks[label->mark - closer->patch_count - 1];
}

static void map_bounds(const struct closer *closer, struct boundary *fresh)
{
    const struct boundary *old = closer->finder.boundary;
    for (size_t i = 0; i < fresh->bound_count; i++) {
        struct bound *bound = &fresh->bounds[i];
        bool is_mark = bound->object > closer->patch_count;
        bound->object = is_mark ? closer->marks[bound->object - closer->patch_count - 1]
                                : old->bounds[closer->bound_of_edge[bound->source]].object;
        map_label(closer, &bound->left);
        map_label(closer, &bound->right);
    }
}

static bool is_patched(const struct closer *closer, const struct image *image, uint32_t face)
{
    return image->top[face] < closer->patch_count;
}

static void spread_patched(const struct closer *closer, const struct image *image, uint32_t first,
                           bool *is_seen, uint32_t *stack)
{
    size_t depth = 0;
    stack[depth++] = first;
    is_seen[first] = true;
    while (depth > 0) {
        uint32_t face = stack[--depth];
        struct face_walk walk = {0};
        while (planar_walk(&image->map, face, &walk)) {
            uint32_t other = image->map.face_of[walk.half_edge ^ 1];
            if (!is_seen[other] && is_patched(closer, image, other)) {
                is_seen[other] = true;
                stack[depth++] = other;
            }
        }
    }
}

/* Counts the connected pieces of what the patches made copper, by island. */
static bool count_gaps(const struct closer *closer, const struct image *image, uint32_t *counts)
{
    uint32_t face_count = image->map.face_count;
    bool *is_seen = mesh_calloc(face_count, sizeof *is_seen);
    uint32_t *stack = mesh_alloc(face_count, sizeof *stack);
    for (uint32_t face = 0; is_seen && stack && face < face_count; face++)
        if (!is_seen[face] && is_patched(closer, image, face)) {
            spread_patched(closer, image, face, is_seen, stack);
            counts[image->component[face]]++;
        }
    bool ok = is_seen && stack;
    free(is_seen);
    free(stack);
    return ok;
}

/* What goes from the old mesh into the new, once the new image stands. */
static enum mesh_status carry_over(const struct closer *closer, const struct image *image,
                                   struct sheet_mesh *mesh)
{
    uint32_t *map = mesh_alloc(mesh->component_count, sizeof *map);
    uint32_t *counts = mesh_calloc(image->component_count, sizeof *counts);
    enum mesh_status status = MESH_NO_MEMORY;
    if (map && counts) {
        for (uint32_t i = 0; i < mesh->component_count; i++)
            map[i] = ISTHMUS_NONE;
        status = map_islands(closer, image, map) ? MESH_OK : MESH_BUG;
    }
    if (status == MESH_OK && !count_gaps(closer, image, counts))
        status = MESH_NO_MEMORY;
    if (status == MESH_OK) {
        map_shows(mesh, map);
        mesh->component_count = image->component_count;
        mesh->closed_gap_count = counts;
        counts = NULL;
        if (image->drift_nm > mesh->drift_nm)
            mesh->drift_nm = image->drift_nm;
    }
    free(map);
    free(counts);
    return status;
}

static enum mesh_status remake(struct closer *closer, struct boundary *boundary)
{
    struct sheet_mesh *mesh = closer->mesh;
    struct image image;
    struct boundary fresh = {0};
    enum mesh_status status = image_build(&closer->paint, &image);
    if (status == MESH_OK)
        status = boundary_extract(&image, &fresh);
    if (status == MESH_OK)
        status = carry_over(closer, &image, mesh);
    image_free(&image);
    if (status == MESH_OK) {
        map_bounds(closer, &fresh);
        cdt_free(&mesh->cdt);
        free(mesh->bounds);
        free(mesh->component);
        free(mesh->mark);
        mesh->bounds = NULL;
        mesh->component = mesh->mark = NULL;
        status = boundary_to_sheet(&fresh, true, mesh);
        struct boundary old = *boundary;
        *boundary = fresh;
        fresh = old;
    }
    boundary_free(&fresh);
    return status;
}

static void free_closer(struct closer *closer)
{
    free(closer->finder.first);
    free(closer->finder.bounds_at);
    free(closer->finder.pairs);
    free(closer->finder.corners);
    free(closer->finder.is_paired);
    free(closer->bound_of_edge);
    free(closer->marks);
    paint_free(&closer->paint);
}

enum mesh_status gaps_close(const struct gap_rule *rule, struct boundary *boundary,
                            struct sheet_mesh *mesh)
{
    struct closer closer = {.finder = {.rule = rule, .boundary = boundary, .mesh = mesh},
                            .mesh = mesh};
    enum mesh_status status = MESH_NO_MEMORY;
    if (find_pairs(&closer.finder) && add_patches(&closer)) {
        status = MESH_OK;
        if (closer.patch_count > 0)
            status = add_copper(&closer) && add_marks(&closer) ? remake(&closer, boundary)
                                                               : MESH_NO_MEMORY;
    }
    free_closer(&closer);
    return status;
}
