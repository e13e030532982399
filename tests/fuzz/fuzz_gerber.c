/* Drawing files: any bytes up to 64 KiB. What is read must hold together. */
#include "isthmus/drawing.h"

#include <stdlib.h>

#define LIMIT ((size_t)1 << 16)

/* Every index points where it should, every contour is closed, all areas lie in the extent. */
static void check(const struct drawing *d)
{
    for (size_t i = 0; i < d->object_count; i++) {
        const struct object *object = &d->objects[i];
        if ((size_t)object->first_fill + object->fill_count > d->fill_count ||
            object->attrs >= d->attrs_count ||
            (object->aperture != ISTHMUS_NONE && object->aperture >= d->aperture_count) ||
            object->at.line == 0)
            abort();
    }
    for (size_t i = 0; i < d->fill_count; i++)
        if ((size_t)d->fills[i].first_contour + d->fills[i].contour_count > d->contour_count)
            abort();
    for (size_t i = 0; i < d->contour_count; i++) {
        const struct contour *contour = &d->contours[i];
        if (contour->seg_count == 0 ||
            (size_t)contour->first_seg + contour->seg_count > d->seg_count)
            abort();
        struct pos_nm end = d->segs[contour->first_seg + contour->seg_count - 1].to;
        if (end.x_nm != contour->start.x_nm || end.y_nm != contour->start.y_nm ||
            end.x_nm < d->min.x_nm || end.x_nm > d->max.x_nm || end.y_nm < d->min.y_nm ||
            end.y_nm > d->max.y_nm)
            abort();
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (size > LIMIT)
        return 0;
    struct arena *arena = arena_new("fuzz");
    struct diag_list diags = {.arena = arena};
    struct drawing drawing;
    enum drawing_status status = gerber_read(1, bytes, size, 20000, arena, &diags, &drawing);
    if (status == DRAWING_OK && diag_has_errors(&diags))
        abort();
    if (status == DRAWING_REFUSED && !diag_has_errors(&diags))
        abort();
    check(&drawing);
    arena_free(arena);
    return 0;
}
