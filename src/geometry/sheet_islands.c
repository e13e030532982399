/* A layer's copper triangles by island: what one island costs to read is then its own size. */
#include "geometry/internal.h"

#include <stdlib.h>

static void count_triangles(const struct sheet_mesh *mesh, uint32_t *first)
{
    for (uint32_t t = 0; t < mesh->cdt.tri_count; t++)
        if (mesh->component[t] != ISTHMUS_NONE)
            first[mesh->component[t] + 1]++;
    for (uint32_t c = 0; c < mesh->component_count; c++)
        first[c + 1] += first[c];
}

/* first[c] runs ahead to where island c ends, and is put back. */
static void list_triangles(const struct sheet_mesh *mesh, uint32_t *first, uint32_t *tris)
{
    for (uint32_t t = 0; t < mesh->cdt.tri_count; t++)
        if (mesh->component[t] != ISTHMUS_NONE)
            tris[first[mesh->component[t]]++] = t;
    for (uint32_t c = mesh->component_count; c > 0; c--)
        first[c] = first[c - 1];
    first[0] = 0;
}

enum mesh_status sheet_islands_list(const struct sheet_mesh *mesh, struct sheet_islands *out)
{
    *out = (struct sheet_islands){0};
    out->first = mesh_calloc((size_t)mesh->component_count + 2, sizeof *out->first);
    if (out->first)
        count_triangles(mesh, out->first);
    out->tris = out->first
                    ? mesh_alloc((size_t)out->first[mesh->component_count] + 1, sizeof *out->tris)
                    : NULL;
    if (!out->tris) {
        sheet_islands_free(out);
        return MESH_NO_MEMORY;
    }
    list_triangles(mesh, out->first, out->tris);
    return MESH_OK;
}

void sheet_islands_free(struct sheet_islands *islands)
{
    free(islands->first);
    free(islands->tris);
    *islands = (struct sheet_islands){0};
}
