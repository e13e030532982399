/* Drawing files: any bytes up to 64 KiB. What is read must hold together. */
#include "isthmus/drawing.h"

#include <math.h>
#include <stdlib.h>

#define LIMIT ((size_t)1 << 16)

/* An arc has a centre that is a number and lies on neither end. */
static void check_arcs(const struct drawing *d, const struct contour *contour)
{
    struct pos_nm from = contour->start;
    for (uint32_t i = 0; i < contour->seg_count; i++) {
        const struct seg *seg = &d->segs[contour->first_seg + i];
        double radius_from =
            hypot((double)from.x_nm - seg->centre_x_nm, (double)from.y_nm - seg->centre_y_nm);
        double radius_to =
            hypot((double)seg->to.x_nm - seg->centre_x_nm, (double)seg->to.y_nm - seg->centre_y_nm);
        if (seg->turn && !(radius_from > 0 && radius_to > 0 && isfinite(radius_from + radius_to)))
            abort();
        from = seg->to;
    }
}

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
        check_arcs(d, contour);
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
