/* What remains of an image: its boundary, without the vertices that overlaps left behind. */
#include "geometry/bounds.h"

#include <stdlib.h>

static struct label label_of(const struct image *image, uint32_t face)
{
    return (struct label){image->component[face], image->mark[face]};
}

static bool same_label(struct label a, struct label b)
{
    return a.component == b.component && a.mark == b.mark;
}

static uint32_t later(uint32_t a, uint32_t b)
{
    if (a == ISTHMUS_NONE || b == ISTHMUS_NONE)
        return a == ISTHMUS_NONE ? b : a;
    return a > b ? a : b;
}

/*
 * The object whose outline parts two faces: of the topmost ones on either side the later, for it
 * does not cover the other side.
 */
static uint32_t parting_object(const struct image *image, uint32_t face, uint32_t other)
{
    if (image_is_copper(image, face) != image_is_copper(image, other))
        return later(image->top[face], image->top[other]);
    return later(image->mark[face], image->mark[other]);
}

static bool add_bound(const struct image *image, struct boundary *out, uint32_t edge)
{
    const uint32_t *sides = image->map.face_of + 2 * (size_t)edge;
    uint32_t left = sides[0], right = sides[1];
    const struct change_span *span = &image->spans[edge];
    struct bound bound = {.a = image->edges[edge].a,
                          .b = image->edges[edge].b,
                          .left = label_of(image, left),
                          .right = label_of(image, right),
                          .object = parting_object(image, left, right),
                          .source = image->changes[span->first].source};
    for (uint32_t c = span->first; c < span->first + span->count; c++)
        if (image->object_of_fill[image->changes[c].fill] == bound.object)
            bound.source = image->changes[c].source;
    bound.curve = image->paint->edges[bound.source].curve;
    if (!array_grow(&out->bounds, sizeof *out->bounds, &out->bound_capacity, out->bound_count + 1))
        return false;
    out->bounds[out->bound_count++] = bound;
    return true;
}

static bool extract(const struct image *image, struct boundary *out)
{
    for (uint32_t edge = 0; edge < image->edge_count; edge++) {
        const uint32_t *sides = image->map.face_of + 2 * (size_t)edge;
        uint32_t left = sides[0], right = sides[1];
        if (!same_label(label_of(image, left), label_of(image, right)) &&
            !add_bound(image, out, edge))
            return false;
    }
    return true;
}

/* ---- vertices in the middle of a straight edge ---- */

struct incidence {
    uint32_t count;
    uint32_t bounds[2];
};

static void count_bound(struct incidence *at, uint32_t bound)
{
    if (at->count < 2)
        at->bounds[at->count] = bound;
    at->count++;
}

/* The bound, turned so that it starts (or ends) at a vertex. */
static struct bound turned(struct bound bound, uint32_t vertex, bool starts)
{
    if ((starts ? bound.a : bound.b) == vertex)
        return bound;
    struct bound other = bound;
    other.a = bound.b;
    other.b = bound.a;
    other.left = bound.right;
    other.right = bound.left;
    return other;
}

/* Joins the two bounds at a vertex that lies exactly between two others on one source edge. */
static void straighten(struct boundary *boundary, struct incidence *incidence, uint32_t vertex)
{
    struct incidence *here = &incidence[vertex];
    if (here->count != 2)
        return;
    struct bound *into = &boundary->bounds[here->bounds[0]];
    struct bound *gone = &boundary->bounds[here->bounds[1]];
    struct bound first = turned(*into, vertex, false), second = turned(*gone, vertex, true);
    const struct pt *points = boundary->points;
    if (first.object != second.object || first.source != second.source ||
        !same_label(first.left, second.left) || !same_label(first.right, second.right) ||
        first.a == second.b || cross(points[first.a], points[vertex], points[second.b]) != 0)
        return;
    struct incidence *far = &incidence[second.b];
    for (unsigned i = 0; i < 2; i++)
        if (far->count >= i + 1 && far->bounds[i] == here->bounds[1])
            far->bounds[i] = here->bounds[0];
    first.b = second.b;
    *into = first;
    gone->a = gone->b; /* dropped below */
    here->count = 0;
}

static bool straighten_all(struct boundary *boundary)
{
    struct incidence *incidence = mesh_calloc(boundary->point_count, sizeof *incidence);
    if (!incidence)
        return false;
    for (size_t i = 0; i < boundary->bound_count; i++) {
        count_bound(&incidence[boundary->bounds[i].a], (uint32_t)i);
        count_bound(&incidence[boundary->bounds[i].b], (uint32_t)i);
    }
    for (uint32_t vertex = 0; vertex < boundary->point_count; vertex++)
        straighten(boundary, incidence, vertex);
    free(incidence);
    size_t kept = 0;
    for (size_t i = 0; i < boundary->bound_count; i++)
        if (boundary->bounds[i].a != boundary->bounds[i].b)
            boundary->bounds[kept++] = boundary->bounds[i];
    boundary->bound_count = kept;
    return true;
}

/* Drops the points that no bound uses. */
static bool renumber(struct boundary *boundary)
{
    uint32_t *number = mesh_calloc(boundary->point_count, sizeof *number);
    if (!number)
        return false;
    for (size_t i = 0; i < boundary->bound_count; i++)
        number[boundary->bounds[i].a] = number[boundary->bounds[i].b] = 1;
    uint32_t count = 0;
    for (uint32_t i = 0; i < boundary->point_count; i++)
        if (number[i]) {
            boundary->points[count] = boundary->points[i];
            number[i] = count++;
        }
    for (size_t i = 0; i < boundary->bound_count; i++) {
        boundary->bounds[i].a = number[boundary->bounds[i].a];
        boundary->bounds[i].b = number[boundary->bounds[i].b];
    }
    boundary->point_count = count;
    free(number);
    return true;
}

enum mesh_status boundary_extract(struct image *image, struct boundary *out)
{
    *out = (struct boundary){0};
    if (!extract(image, out))
        return MESH_NO_MEMORY;
    out->points = image->points;
    out->point_count = image->point_count;
    image->points = NULL;
    return straighten_all(out) && renumber(out) ? MESH_OK : MESH_NO_MEMORY;
}

void boundary_free(struct boundary *boundary)
{
    free(boundary->points);
    free(boundary->bounds);
    *boundary = (struct boundary){0};
}

/* ---- the boundary mesh ---- */

#define UNLABELLED (ISTHMUS_NONE - 1)

static enum mesh_status triangulate(struct boundary *boundary, struct sheet_mesh *out)
{
    const struct id_edges edges = {boundary->bounds, sizeof *boundary->bounds,
                                   boundary->bound_count};
    struct pt *points = boundary->points;
    boundary->points = NULL;
    return cdt_build_ids(points, boundary->point_count, &edges, true, &out->cdt);
}

static struct label side_label(const struct boundary *boundary, const struct cdt *cdt, uint32_t tri,
                               unsigned i)
{
    const struct bound *bound = &boundary->bounds[cdt->chain[tri][i]];
    return cdt->corner[tri][next3(i)] == bound->a ? bound->left : bound->right;
}

struct labeller {
    const struct boundary *boundary;
    struct sheet_mesh *mesh;
    uint32_t *stack; /* triangles that are labelled, but not what lies beside them */
    size_t depth, capacity;
};

/* Pushes a triangle with its label. */
static bool put_label(struct labeller *labeller, uint32_t tri, struct label label)
{
    struct sheet_mesh *mesh = labeller->mesh;
    mesh->component[tri] = label.component;
    mesh->mark[tri] = label.mark;
    if (labeller->depth == labeller->capacity &&
        !array_grow(&labeller->stack, sizeof *labeller->stack, &labeller->capacity,
                    labeller->depth + 1))
        return false;
    labeller->stack[labeller->depth++] = tri;
    return true;
}

/* Labels all that can be reached from what is on the stack; what is met must not differ. */
static enum mesh_status spread_labels(struct labeller *labeller)
{
    const struct sheet_mesh *mesh = labeller->mesh;
    const struct cdt *cdt = &mesh->cdt;
    while (labeller->depth > 0) {
        uint32_t tri = labeller->stack[--labeller->depth];
        struct label label = {mesh->component[tri], mesh->mark[tri]};
        for (unsigned i = 0; i < 3; i++) {
            uint32_t other = cdt->neighbour[tri][i];
            if (cdt->chain[tri][i] != ISTHMUS_NONE) {
                if (!same_label(side_label(labeller->boundary, cdt, tri, i), label))
                    return MESH_BUG;
            } else if (other == ISTHMUS_NONE) {
                continue;
            } else if (mesh->component[other] == UNLABELLED) {
                if (!put_label(labeller, other, label))
                    return MESH_NO_MEMORY;
            } else if (mesh->component[other] != label.component ||
                       mesh->mark[other] != label.mark) {
                return MESH_BUG;
            }
        }
    }
    return MESH_OK;
}

/* From each bound to all that no other bound parts from it. */
static enum mesh_status label_all(struct labeller *labeller)
{
    const struct sheet_mesh *mesh = labeller->mesh;
    const struct cdt *cdt = &mesh->cdt;
    enum mesh_status status = MESH_OK;
    for (uint32_t tri = 0; tri < cdt->tri_count && status == MESH_OK; tri++)
        for (unsigned i = 0; i < 3 && mesh->component[tri] == UNLABELLED; i++)
            if (cdt->chain[tri][i] != ISTHMUS_NONE) {
                if (!put_label(labeller, tri, side_label(labeller->boundary, cdt, tri, i)))
                    return MESH_NO_MEMORY;
                status = spread_labels(labeller);
            }
    return status;
}

static enum mesh_status label_triangles(const struct boundary *boundary, struct sheet_mesh *out)
{
    uint32_t count = out->cdt.tri_count;
    struct labeller labeller = {.boundary = boundary, .mesh = out};
    out->component = mesh_alloc(count, sizeof *out->component);
    out->mark = mesh_alloc(count, sizeof *out->mark);
    if (!out->component || !out->mark)
        return MESH_NO_MEMORY;
    const uint32_t start = boundary->bound_count ? UNLABELLED : ISTHMUS_NONE;
    for (uint32_t tri = 0; tri < count; tri++) {
        out->component[tri] = start;
        out->mark[tri] = ISTHMUS_NONE;
    }
    enum mesh_status status = label_all(&labeller);
    free(labeller.stack);
    return status;
}

static enum mesh_status copy_bounds(const struct boundary *boundary, struct sheet_mesh *out)
{
    out->bounds = mesh_alloc(boundary->bound_count, sizeof *out->bounds);
    if (!out->bounds)
        return MESH_NO_MEMORY;
    for (size_t i = 0; i < boundary->bound_count; i++)
        out->bounds[i] =
            (struct sheet_bound){boundary->bounds[i].object, boundary->bounds[i].curve};
    out->bound_count = (uint32_t)boundary->bound_count;
    return MESH_OK;
}

/* As copying does, in the memory where the boundary's own were. */
static void take_bounds(struct boundary *boundary, struct sheet_mesh *out)
{
    size_t count = boundary->bound_count;
    struct sheet_bound *taken = (void *)boundary->bounds;
    for (size_t i = 0; i < count; i++) { /* the source is never behind */
        struct bound bound = boundary->bounds[i];
        taken[i] = (struct sheet_bound){bound.object, bound.curve};
    }
    struct sheet_bound *fewer = realloc(taken, count * sizeof *taken);
    out->bounds = fewer ? fewer : taken;
    out->bound_count = (uint32_t)count;
    boundary->bounds = NULL;
    boundary->bound_count = boundary->bound_capacity = 0;
}

enum mesh_status boundary_to_sheet(struct boundary *boundary, bool is_kept, struct sheet_mesh *out)
{
    enum mesh_status status = triangulate(boundary, out);
    if (status == MESH_OK)
        status = label_triangles(boundary, out);
    if (status != MESH_OK)
        return status;
    if (is_kept || boundary->bound_count == 0)
        return copy_bounds(boundary, out);
    take_bounds(boundary, out);
    return MESH_OK;
}
