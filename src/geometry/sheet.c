/* A layer's boundary mesh: from its paint, by way of its image. */
#include "geometry/fold.h"
#include "geometry/trim.h"

#include <stdlib.h>

void sheet_mesh_free(struct sheet_mesh *mesh)
{
    if (!mesh)
        return;
    cdt_free(&mesh->cdt);
    free(mesh->bounds);
    free(mesh->component);
    free(mesh->mark);
    free(mesh->component_area_mm2);
    free(mesh->shows);
    free(mesh->closed_gap_count);
    *mesh = (struct sheet_mesh){0};
}

/* All of the range has twice its area below 2^62, so the sums are exact: an island's area does not
 * tell how it was divided. */
static bool sum_areas(struct sheet_mesh *out)
{
    const struct cdt *cdt = &out->cdt;
    int64_t *twice = mesh_calloc(out->component_count, sizeof *twice);
    if (!twice)
        return false;
    for (uint32_t tri = 0; tri < cdt->tri_count; tri++) {
        const uint32_t *corner = cdt->corner[tri];
        if (out->component[tri] != ISTHMUS_NONE)
            twice[out->component[tri]] +=
                cross(cdt->points[corner[0]], cdt->points[corner[1]], cdt->points[corner[2]]);
    }
    for (uint32_t i = 0; i < out->component_count; i++)
        out->component_area_mm2[i] = (double)twice[i] * 0.5e-12;
    free(twice);
    return true;
}

static enum mesh_status measure_islands(struct sheet_mesh *out)
{
    out->component_area_mm2 = mesh_calloc(out->component_count, sizeof(double));
    if (!out->closed_gap_count)
        out->closed_gap_count = mesh_calloc(out->component_count, sizeof(uint32_t));
    bool is_done = out->component_area_mm2 && out->closed_gap_count && sum_areas(out);
    return is_done ? MESH_OK : MESH_NO_MEMORY;
}

static enum mesh_status make_boundary(const struct paint *paint, struct sheet_mesh *out,
                                      struct boundary *boundary)
{
    struct image image = {0};
    struct paint trimmed;
    struct folds folds = {0};
    struct box box = {0, 0, 0, 0};
    enum mesh_status status = trim_paint(paint, &trimmed);
    if (status == MESH_OK)
        status = fold_paint(&trimmed, &folds);
    if (status == MESH_OK)
        status = image_build(&trimmed, &image);
    if (status == MESH_OK) {
        box = box_of_points(image.points, image.point_count);
        status = boundary_extract(&image, boundary);
    }
    out->source_edge_count = paint->edge_count;
    out->image_vertex_count = image.point_count + folds.hidden_count;
    out->crossing_count = image.crossing_count;
    out->drift_nm = image.drift_nm;
    out->component_count = image.component_count;
    out->shows = image.shows;
    out->show_count = image.show_count;
    image.shows = NULL;
    image_free(&image);
    trim_free(&trimmed);
    if (status == MESH_OK)
        status = unfold_boundary(&folds, box, boundary);
    folds_free(&folds);
    return status;
}

enum mesh_status sheet_mesh_build(const struct paint *paint, double gap_close_nm,
                                  bool (*may_join)(uint32_t object_a, uint32_t object_b,
                                                   void *context),
                                  void *context, struct sheet_mesh *out)
{
    const struct gap_rule rule = {gap_close_nm, may_join, context};
    *out = (struct sheet_mesh){0};
    struct boundary boundary = {0};
    enum mesh_status status = make_boundary(paint, out, &boundary);
    if (status == MESH_OK)
        status = boundary_to_sheet(&boundary, gap_close_nm > 0, out);
    if (status == MESH_OK && gap_close_nm > 0)
        status = gaps_close(&rule, &boundary, out);
    if (status == MESH_OK)
        status = measure_islands(out);
    boundary_free(&boundary);
    if (status != MESH_OK)
        sheet_mesh_free(out);
    return status;
}

/* ---- checking ---- */

static const char *check_side(const struct sheet_mesh *mesh, uint32_t tri, unsigned i)
{
    uint32_t other = mesh->cdt.neighbour[tri][i];
    if (other == ISTHMUS_NONE)
        return mesh->component[tri] == ISTHMUS_NONE ? NULL : "copper at the far frame";
    bool differs =
        mesh->component[tri] != mesh->component[other] || mesh->mark[tri] != mesh->mark[other];
    if (mesh->cdt.chain[tri][i] == ISTHMUS_NONE)
        return differs ? "two labels without a bound between" : NULL;
    if (mesh->cdt.chain[tri][i] >= mesh->bound_count)
        return "a constraint is no bound";
    if (!differs)
        return "a bound between two equal labels";
    bool are_copper =
        mesh->component[tri] != ISTHMUS_NONE && mesh->component[other] != ISTHMUS_NONE;
    if (are_copper && mesh->component[tri] != mesh->component[other])
        return "two islands share an edge";
    return NULL;
}

static const char *check_triangle(const struct sheet_mesh *mesh, uint32_t tri)
{
    if (mesh->component[tri] != ISTHMUS_NONE && mesh->component[tri] >= mesh->component_count)
        return "a triangle is in no island";
    if (mesh->component[tri] == ISTHMUS_NONE && mesh->mark[tri] != ISTHMUS_NONE)
        return "a mark on bare";
    for (unsigned i = 0; i < 3; i++) {
        const char *why = check_side(mesh, tri, i);
        if (why)
            return why;
    }
    return NULL;
}

static const char *check_islands(const struct sheet_mesh *mesh)
{
    for (uint32_t i = 0; i < mesh->component_count; i++)
        if (!(mesh->component_area_mm2[i] > 0))
            return "an island without area";
    for (size_t i = 0; i < mesh->show_count; i++) {
        const struct sheet_show *show = &mesh->shows[i];
        if (show->component >= mesh->component_count)
            return "an object shows in no island";
        if (i > 0 && (show[-1].component > show->component ||
                      (show[-1].component == show->component && show[-1].object >= show->object)))
            return "the shown objects are out of order";
    }
    return NULL;
}

bool sheet_mesh_check(const struct sheet_mesh *mesh, const char **why)
{
    const char *found = NULL;
    if (!cdt_check(&mesh->cdt, &found))
        goto done;
    found = check_islands(mesh);
    for (uint32_t tri = 0; tri < mesh->cdt.tri_count && !found; tri++)
        found = check_triangle(mesh, tri);
done:
    if (why)
        *why = found;
    return !found;
}
