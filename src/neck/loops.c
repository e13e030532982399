/* Do the plated holes of a net join its layers in a ring? */
#include "neck/loops.h"

#include <math.h>
#include <stdlib.h>

/* Copper that hangs together on its own layer gets one class. */
static void join_faces(const struct network *network, struct classes *islands)
{
    for (uint32_t n = 0; n < network->node_count; n++)
        islands->parent[n] = n;
    for (size_t l = 0; l < network->link_count; l++)
        if (network->links[l].b < network->hole_base)
            class_unite(islands, network->links[l].a, network->links[l].b);
}

/* A link from a hole to an island. */
struct joint {
    uint32_t hole, island;
};

static int compare_joints(const void *a, const void *b)
{
    const struct joint *one = a, *two = b;
    if (one->hole != two->hole)
        return one->hole < two->hole ? -1 : 1;
    return (one->island > two->island) - (one->island < two->island);
}

/* Each hole with each island that it reaches, once. */
static size_t list_joints(const struct network *network, struct classes *islands,
                          struct joint *joints)
{
    size_t count = 0, kept = 0;
    for (size_t l = 0; l < network->link_count; l++)
        if (network->links[l].b >= network->hole_base)
            joints[count++] =
                (struct joint){network->links[l].b, class_of(islands, network->links[l].a)};
    if (count)
        qsort(joints, count, sizeof *joints, compare_joints);
    for (size_t i = 0; i < count; i++)
        if (kept == 0 || compare_joints(&joints[kept - 1], &joints[i]) != 0)
            joints[kept++] = joints[i];
    return kept;
}

static double least_piece_mm2(const struct network *network)
{
    double least_mm2 = INFINITY;
    for (size_t s = 0; s < network->sheet_count; s++) {
        const struct neck_sheet *sheet = network->domains[s].sheet;
        for (size_t i = 0; i < network->chords[s].count; i++) {
            const struct chord *chord = &network->chords[s].items[i];
            double length_nm = chord->length_nm - chord->loss_a_nm - chord->loss_b_nm;
            least_mm2 = fmin(least_mm2, length_nm * 1e-6 * sheet->thickness_mm * sheet->weight);
        }
    }
    return least_mm2;
}

/* Holes and islands are a graph; the first joint whose ends hang together already closes a ring. */
static void look_for_rings(struct network *network, struct classes *islands,
                           const struct joint *joints, size_t count)
{
    double wall_mm2 = INFINITY;
    bool is_ring = false;
    for (size_t i = 0; i < count; i++) {
        bool has_more = (i > 0 && joints[i - 1].hole == joints[i].hole) ||
                        (i + 1 < count && joints[i + 1].hole == joints[i].hole);
        if (has_more)
            wall_mm2 = fmin(wall_mm2,
                            network->net->holes[joints[i].hole - network->hole_base].wall_area_mm2);
        is_ring |= class_of(islands, joints[i].hole) == class_of(islands, joints[i].island);
        class_unite(islands, joints[i].island, joints[i].hole);
    }
    network->loop_mm2 = is_ring ? fmin(wall_mm2, least_piece_mm2(network)) : INFINITY;
}

enum neck_status loops_find(struct network *network)
{
    size_t joint_count = 1;
    for (size_t l = 0; l < network->link_count; l++)
        joint_count += network->links[l].b >= network->hole_base;
    struct classes islands = {.count = network->node_count};
    islands.parent = malloc(((size_t)network->node_count + 1) * sizeof *islands.parent);
    struct joint *joints = malloc(joint_count * sizeof *joints);
    bool ok = islands.parent && joints;
    if (ok) {
        join_faces(network, &islands);
        look_for_rings(network, &islands, joints, list_joints(network, &islands, joints));
    }
    free(islands.parent);
    free(joints);
    return ok ? NECK_OK : NECK_NO_MEMORY;
}
