#include "gerber_reading.h"
#include "assertions.h"
#include "diags.h"

#define MAX_OBJECTS 100000

void reading_of_bytes(struct reading *r, const void *bytes, size_t size)
{
    r->arena = arena_new("reading");
    r->diags = (struct diag_list){.arena = r->arena};
    r->status = gerber_read(1, bytes, size, MAX_OBJECTS, r->arena, &r->diags, &r->drawing);
}

void reading_of(struct reading *r, const char *text)
{
    reading_of_bytes(r, text, strlen(text));
}

void reading_good(struct reading *r, const char *text)
{
    reading_of(r, text);
    if (r->status != DRAWING_OK)
        diags_print(&r->diags, DIAG_NOTE);
    assert_int_equal(r->status, DRAWING_OK);
}

void reading_clean(struct reading *r, const char *body)
{
    size_t size = strlen(GERBER_HEAD) + strlen(body) + 8;
    char *text = malloc(size);
    assert_non_null(text);
    snprintf(text, size, "%s%s\nM02*\n", GERBER_HEAD, body);
    reading_good(r, text);
    free(text);
    if (r->diags.count)
        diags_print(&r->diags, DIAG_NOTE);
    assert_int_equal(r->diags.count, 0);
}

void reading_done(struct reading *r)
{
    arena_free(r->arena);
}

const struct diag *reading_diag(const struct reading *r, const char *code)
{
    return diag_find(&r->diags, code);
}

double reading_area_mm2(const struct reading *r, size_t index)
{
    assert_true(index < r->drawing.object_count);
    return object_area_mm2(&r->drawing, &r->drawing.objects[index]);
}

bool reading_is_dark(const struct reading *r, double x_mm, double y_mm)
{
    for (size_t i = r->drawing.object_count; i-- > 0;)
        if (object_covers(&r->drawing, &r->drawing.objects[i], x_mm, y_mm))
            return r->drawing.objects[i].is_dark;
    return r->drawing.is_image_negative;
}
