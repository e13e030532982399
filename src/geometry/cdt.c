/* Constrained Delaunay triangulations: building, freeing, checking. */
#include "geometry/internal.h"

#include <stdlib.h>

#define POINT_COUNT_LIMIT (UINT32_C(1) << 28) /* half edges and twin tags stay below 2^31 */

void cdt_free(struct cdt *mesh)
{
    if (!mesh)
        return;
    free(mesh->points);
    free(mesh->corner);
    free(mesh->neighbour);
    free(mesh->chain);
    *mesh = (struct cdt){0};
}

static void free_builder(struct builder *build)
{
    free(build->corner);
    free(build->next);
    free(build->chain);
    free(build->tri_of);
    free(build->stack);
    free(build->dead);
    free(build->rim);
    free(build->sides[0]);
    free(build->sides[1]);
    free(build->spans);
}

static bool alloc_triangles(struct builder *build)
{
    /* a triangulated sphere of n points and the ghost has 2 n - 2 triangles */
    size_t count = build->point_count < 3 ? 4 : 2 * (size_t)build->point_count;
    build->corner = mesh_alloc(count, sizeof *build->corner);
    build->next = mesh_alloc(count, sizeof *build->next);
    return build->corner && build->next;
}

/* What the constraints need besides: marks on edges, a triangle of each point. */
static bool alloc_constraints(struct builder *build)
{
    build->chain = mesh_alloc(build->tri_count, sizeof *build->chain);
    build->tri_of = mesh_alloc(build->point_count, sizeof *build->tri_of);
    if (!build->chain || !build->tri_of)
        return false;
    for (uint32_t tri = 0; tri < build->tri_count; tri++)
        for (unsigned i = 0; i < 3; i++) {
            build->chain[tri][i] = ISTHMUS_NONE;
            if (build->corner[tri][i] != GHOST)
                build->tri_of[build->corner[tri][i]] = tri;
        }
    return true;
}

#define FRAME_SLOTS 8 /* triangles and ghosts of the frame's four corners alone: 2 and 4 */

static bool has_ghost(const uint32_t corner[3])
{
    return corner[0] == GHOST || corner[1] == GHOST || corner[2] == GHOST;
}

/* Moves a triangle into a free slot. */
static void move_triangle(struct builder *build, uint32_t from, uint32_t to)
{
    for (unsigned i = 0; i < 3; i++) {
        uint32_t across = build->next[from][i];
        build->corner[to][i] = build->corner[from][i];
        build->next[to][i] = across;
        build->chain[to][i] = build->chain[from][i];
        if (across != GHOST)
            build->next[across >> 2][across & 3] = to << 2 | i;
    }
}

/*
 * Ghosts are found where they may be: within a frame nothing touches those that were made with it,
 * so they stand first.
 */
static void drop_ghosts(struct builder *build, bool with_frame)
{
    uint32_t end = with_frame && build->tri_count > FRAME_SLOTS ? FRAME_SLOTS : build->tri_count;
    for (uint32_t tri = 0; tri < end; tri++)
        for (unsigned i = 0; i < 3; i++)
            if (build->corner[tri][i] == GHOST) {
                uint32_t across = build->next[tri][i];
                build->next[across >> 2][across & 3] = GHOST;
            }
    for (uint32_t tri = 0; tri < end && tri < build->tri_count;) {
        if (!has_ghost(build->corner[tri])) {
            tri++;
            continue;
        }
        uint32_t last = --build->tri_count;
        if (last != tri && has_ghost(build->corner[last]))
            continue;
        if (last != tri)
            move_triangle(build, last, tri);
    }
    for (uint32_t tri = 0; tri < build->tri_count; tri++)
        for (unsigned i = 0; i < 3; i++)
            if (build->next[tri][i] != GHOST)
                build->next[tri][i] >>= 2;
}
_Static_assert(GHOST == ISTHMUS_NONE, "no triangle beyond the hull");

static enum mesh_status triangulate(struct builder *build, const struct id_edges *edges,
                                    bool with_frame)
{
    bool is_flat;
    if (!alloc_triangles(build))
        return MESH_NO_MEMORY;
    enum mesh_status status = delaunay_insert_all(build, with_frame, &is_flat);
    if (status != MESH_OK || is_flat)
        return status;
    if (!alloc_constraints(build))
        return MESH_NO_MEMORY;
    status = constrain_all(build, edges);
    if (status == MESH_OK)
        drop_ghosts(build, with_frame);
    return status;
}

enum mesh_status cdt_build_ids(struct pt *points, uint32_t point_count,
                               const struct id_edges *edges, bool with_frame, struct cdt *out)
{
    *out = (struct cdt){.points = points, .point_count = point_count};
    if (point_count > POINT_COUNT_LIMIT || edges->count >= ISTHMUS_NONE)
        return MESH_TOO_LARGE;
    if (with_frame) {
        const int32_t far = MESH_COORD_LIMIT;
        const struct pt frame[4] = {{-far, -far}, {far, -far}, {far, far}, {-far, far}};
        for (unsigned i = 0; i < 4; i++)
            points[out->point_count++] = frame[i];
    }
    struct builder build = {.points = points, .point_count = out->point_count};
    enum mesh_status status = triangulate(&build, edges, with_frame);
    if (status == MESH_OK) {
        out->corner = build.corner;
        out->neighbour = build.next;
        out->chain = build.chain;
        out->tri_count = build.tri_count;
        build.corner = build.next = build.chain = NULL;
    }
    free_builder(&build);
    return status;
}

static struct pt end_of(const struct cdt_edge *edges, size_t index)
{
    return index & 1 ? edges[index >> 1].b : edges[index >> 1].a;
}

static struct pt *copy_ends(const struct cdt_edge *edges, size_t edge_count)
{
    struct pt *ends = mesh_alloc(2 * edge_count, sizeof *ends);
    for (size_t i = 0; ends && i < 2 * edge_count; i++)
        ends[i] = end_of(edges, i);
    return ends;
}

/* The distinct ends along the Hilbert curve (malloc'ed), and each edge by their indices. */
static struct pt *number_ends(const struct cdt_edge *edges, size_t edge_count,
                              struct id_edge *by_id, uint32_t *point_count)
{
    struct pt *ends = copy_ends(edges, edge_count);
    uint64_t *order = ends ? hilbert_order(ends, 2 * edge_count) : NULL;
    struct pt *points = order ? mesh_alloc(2 * edge_count + 4, sizeof *points) : NULL;
    uint32_t count = 0;
    for (size_t i = 0; points && i < 2 * edge_count; i++) {
        uint32_t end = (uint32_t)order[i];
        if (count == 0 || !same_pt(points[count - 1], ends[end]))
            points[count++] = ends[end];
        *(end & 1 ? &by_id[end >> 1].b : &by_id[end >> 1].a) = count - 1;
    }
    free(ends);
    free(order);
    *point_count = count;
    return points;
}

enum mesh_status cdt_build(const struct cdt_edge *edges, size_t edge_count, bool with_frame,
                           struct cdt *out)
{
    *out = (struct cdt){0};
    if (edge_count > POINT_COUNT_LIMIT)
        return MESH_TOO_LARGE;
    for (size_t i = 0; i < edge_count; i++)
        if (!is_mesh_pt(edges[i].a) || !is_mesh_pt(edges[i].b))
            return MESH_TOO_LARGE;
    struct id_edge *by_id = mesh_alloc(edge_count, sizeof *by_id);
    uint32_t point_count;
    struct pt *points = by_id ? number_ends(edges, edge_count, by_id, &point_count) : NULL;
    enum mesh_status status = MESH_NO_MEMORY;
    const struct id_edges ids = {by_id, sizeof *by_id, edge_count};
    if (points)
        status = cdt_build_ids(points, point_count, &ids, with_frame, out);
    free(by_id);
    if (status != MESH_OK)
        cdt_free(out);
    return status;
}

/* ---- checking ---- */

static bool is_mutual(const struct cdt *mesh, uint32_t tri, unsigned edge)
{
    uint32_t other = mesh->neighbour[tri][edge];
    uint32_t a = mesh->corner[tri][next3(edge)], b = mesh->corner[tri][prev3(edge)];
    if (other >= mesh->tri_count)
        return false;
    for (unsigned i = 0; i < 3; i++)
        if (mesh->corner[other][next3(i)] == b && mesh->corner[other][prev3(i)] == a)
            return mesh->neighbour[other][i] == tri &&
                   mesh->chain[other][i] == mesh->chain[tri][edge];
    return false;
}

static bool is_delaunay(const struct cdt *mesh, uint32_t tri, unsigned edge)
{
    uint32_t other = mesh->neighbour[tri][edge];
    const uint32_t *corner = mesh->corner[tri];
    if (mesh->chain[tri][edge] != ISTHMUS_NONE)
        return true;
    for (unsigned i = 0; i < 3; i++) {
        uint32_t apex = mesh->corner[other][i];
        if (apex != corner[next3(edge)] && apex != corner[prev3(edge)] &&
            is_in_circle(mesh->points[corner[0]], mesh->points[corner[1]], mesh->points[corner[2]],
                         mesh->points[apex]))
            return false;
    }
    return true;
}

static const char *check_triangle(const struct cdt *mesh, uint32_t tri)
{
    const uint32_t *corner = mesh->corner[tri];
    for (unsigned i = 0; i < 3; i++)
        if (corner[i] >= mesh->point_count)
            return "a corner is no point";
    if (orient(mesh->points[corner[0]], mesh->points[corner[1]], mesh->points[corner[2]]) <= 0)
        return "a triangle is not counterclockwise";
    for (unsigned i = 0; i < 3; i++) {
        if (mesh->neighbour[tri][i] == ISTHMUS_NONE)
            continue;
        if (!is_mutual(mesh, tri, i))
            return "two neighbours disagree";
        if (!is_delaunay(mesh, tri, i))
            return "an edge is neither constraint nor Delaunay";
    }
    return NULL;
}

/* Twice the area of the hull's polygon against that of all triangles: no holes, no overlaps. */
static bool areas_agree(const struct cdt *mesh)
{
    __int128 tris = 0, hull = 0;
    const struct pt zero = {0, 0};
    for (uint32_t tri = 0; tri < mesh->tri_count; tri++) {
        const uint32_t *corner = mesh->corner[tri];
        const struct pt *points = mesh->points;
        tris += cross(points[corner[0]], points[corner[1]], points[corner[2]]);
        for (unsigned i = 0; i < 3; i++)
            if (mesh->neighbour[tri][i] == ISTHMUS_NONE)
                hull += cross(zero, points[corner[next3(i)]], points[corner[prev3(i)]]);
    }
    return tris == hull;
}

/* Every point is a corner, and the counts obey Euler: t = 2 n - 2 - h. */
static bool counts_agree(const struct cdt *mesh)
{
    uint64_t hull = 0;
    for (uint32_t tri = 0; tri < mesh->tri_count; tri++)
        for (unsigned i = 0; i < 3; i++)
            hull += mesh->neighbour[tri][i] == ISTHMUS_NONE;
    return mesh->tri_count == 0 || mesh->tri_count + hull + 2 == 2 * (uint64_t)mesh->point_count;
}

bool cdt_check(const struct cdt *mesh, const char **why)
{
    const char *found = NULL;
    for (uint32_t tri = 0; tri < mesh->tri_count && !found; tri++)
        found = check_triangle(mesh, tri);
    if (!found && !areas_agree(mesh))
        found = "triangles do not fill the hull";
    if (!found && !counts_agree(mesh))
        found = "a point is in no triangle, or there are too many triangles";
    if (why)
        *why = found;
    return !found;
}
