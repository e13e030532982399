/* Copper islands of the image, and the objects that show in each. */
#include "geometry/image.h"

#include <stdlib.h>

static bool add_show(struct image *image, uint32_t component, uint32_t object)
{
    if (image->show_count == image->show_capacity &&
        !array_grow(&image->shows, sizeof *image->shows, &image->show_capacity,
                    image->show_count + 1))
        return false;
    image->shows[image->show_count++] = (struct sheet_show){component, object};
    return true;
}

struct walker {
    struct image *image;
    uint32_t *stack;
    size_t depth, capacity;
    uint32_t *last_component; /* per object: the island in which it was last seen */
};

static bool enter(struct walker *walker, uint32_t face, uint32_t component)
{
    struct image *image = walker->image;
    uint32_t top = image->top[face];
    image->component[face] = component;
    if (walker->last_component[top] != component && !add_show(image, component, top))
        return false;
    walker->last_component[top] = component;
    if (walker->depth == walker->capacity &&
        !array_grow(&walker->stack, sizeof *walker->stack, &walker->capacity, walker->depth + 1))
        return false;
    walker->stack[walker->depth++] = face;
    return true;
}

static bool spread(struct walker *walker, uint32_t first, uint32_t component)
{
    struct image *image = walker->image;
    if (!enter(walker, first, component))
        return false;
    while (walker->depth > 0) {
        uint32_t face = walker->stack[--walker->depth];
        struct face_walk walk = {0};
        while (planar_walk(&image->map, face, &walk)) {
            uint32_t other = image->map.face_of[walk.half_edge ^ 1];
            if (image->component[other] == ISTHMUS_NONE && image_is_copper(image, other) &&
                !enter(walker, other, component))
                return false;
        }
    }
    return true;
}

static int compare_shows(const void *a, const void *b)
{
    const struct sheet_show *left = a, *right = b;
    if (left->component != right->component)
        return left->component < right->component ? -1 : 1;
    return (left->object > right->object) - (left->object < right->object);
}

static bool connect(struct walker *walker)
{
    struct image *image = walker->image;
    for (uint32_t face = 0; face < image->map.face_count; face++)
        image->component[face] = ISTHMUS_NONE;
    for (size_t i = 0; i < image->paint->object_count; i++)
        walker->last_component[i] = ISTHMUS_NONE;
    for (uint32_t face = 0; face < image->map.face_count; face++)
        if (image->component[face] == ISTHMUS_NONE && image_is_copper(image, face) &&
            !spread(walker, face, image->component_count++))
            return false;
    /* islands are entered one after the other, so only objects are out of order */
    if (image->show_count)
        qsort(image->shows, image->show_count, sizeof *image->shows, compare_shows);
    return true;
}

enum mesh_status image_connect(struct image *image)
{
    struct walker walker = {.image = image};
    image->component = mesh_alloc(image->map.face_count, sizeof *image->component);
    walker.last_component = mesh_alloc(image->paint->object_count, sizeof *walker.last_component);
    bool ok = image->component && walker.last_component && connect(&walker);
    free(walker.stack);
    free(walker.last_component);
    return ok ? MESH_OK : MESH_NO_MEMORY;
}
