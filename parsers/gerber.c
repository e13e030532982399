/* The way through a drawing file, from its first byte to the finished drawing. */
#include "isthmus/drawing.h"
#include "gerber_private.h"
#include "parsers_text.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- is it one? ---- */
static bool contains(const uint8_t *bytes, size_t size, const char *text)
{
    return memmem(bytes, size, text, strlen(text)) != NULL;
}

bool gerber_looks_like(const uint8_t *bytes, size_t size)
{
    if (!bytes)
        return false;
    size_t start = text_start(bytes, size);
    bytes += start;
    size = text_end(bytes, size - start);
    size_t head = size < 512 ? size : 512;
    if (memchr(bytes, 0, head))
        return false;
    if (contains(bytes, size, "%FS") || contains(bytes, size, "FSLA"))
        return true;
    if (contains(bytes, head, "M48"))
        return false; /* a drill file */
    return contains(bytes, size, "%ADD") || contains(bytes, size, "%MOMM*%") ||
           contains(bytes, size, "%MOIN*%");
}

const struct file_attr *drawing_file_attr(const struct drawing *drawing, const char *name)
{
    for (size_t i = 0; i < drawing->file_attr_count; i++)
        if (strcmp(drawing->file_attrs[i].name, name) == 0)
            return &drawing->file_attrs[i];
    return NULL;
}

/* ---- start and end of a reader ---- */
static bool start(struct gerber *g)
{
    g->line = 1;
    g->work_left = (size_t)64 << 20;
    g->crossing_work_left = ((size_t)64 << 20) + g->size * 64;
    g->tool = ISTHMUS_NONE;
    g->transform.scale = 1;
    g->image.scale_x = g->image.scale_y = 1;
    g->is_point_known[0] = g->is_point_known[1] = true; /* (0,0), as old files expect */
    g->sheet = &g->drawing;
    /* A region's outline is bounded by the file, everything else by the objects. */
    g->max_segs = g->max_objects > SIZE_MAX / 64 ? SIZE_MAX / 64 : g->max_objects;
    g->max_segs = g->max_segs * 16 + g->size * 2 + 1024;
    if (g->max_segs > ISTHMUS_NONE - 1)
        g->max_segs = ISTHMUS_NONE - 1;
    if (!array_grow(&g->attrs, sizeof *g->attrs, &g->attrs_capacity, 1))
        return false;
    g->attrs[g->attrs_count++] = (struct object_attrs){0};
    return true;
}

static void free_tools(struct gerber *g)
{
    for (size_t i = 0; i < g->tool_count; i++) {
        shape_free(&g->tools[i].shape);
        area_free(&g->tools[i].area);
        if (g->tools[i].block) {
            sheet_free(g->tools[i].block);
            free(g->tools[i].block);
        }
    }
    free(g->tools);
}

static void stop(struct gerber *g)
{
    for (size_t i = 0; i < g->block_depth; i++) {
        sheet_free(g->blocks[i].sheet);
        free(g->blocks[i].sheet);
    }
    for (size_t i = 0; i < g->macro_count; i++)
        macro_free(&g->macros[i]);
    free(g->macros);
    free_tools(g);
    sheet_free(&g->drawing);
    symbols_free(&g->tool_of_code);
    symbols_free(&g->macro_of_name);
    symbols_free(&g->attrs_of_hash);
    free(g->aperture_attrs.values);
    free(g->object_attrs.values);
    free(g->attrs);
    free(g->file_attrs);
    free(g->outline);
}

static void read_words(struct gerber *g)
{
    g->at = text_start(g->bytes, g->size);
    while (!gerber_should_stop(g)) {
        gerber_skip_space(g);
        if (g->at >= g->size)
            return;
        if (g->bytes[g->at] == '%')
            gerber_extended_block(g);
        else
            gerber_plain_word(g);
    }
}

/* ---- the whole image: OF, IR, AS, IP ---- */
static struct pos_nm image_pos(const struct image_state *image, struct pos_nm p, struct pos_nm by)
{
    p = (struct pos_nm){p.x_nm + by.x_nm, p.y_nm + by.y_nm};
    for (int i = 0; i < image->quarter_turns; i++)
        p = (struct pos_nm){-p.y_nm, p.x_nm};
    return image->is_swapped ? (struct pos_nm){p.y_nm, p.x_nm} : p;
}

static void image_centre(const struct image_state *image, struct pos_nm by, double *centre_x,
                         double *centre_y, int8_t *turn)
{
    double x = *centre_x + (double)by.x_nm, y = *centre_y + (double)by.y_nm;
    for (int i = 0; i < image->quarter_turns; i++) {
        double turned = -y;
        y = x;
        x = turned;
    }
    *centre_x = image->is_swapped ? y : x;
    *centre_y = image->is_swapped ? x : y;
    if (image->is_swapped)
        *turn = (int8_t) - *turn;
}

static void move_image(struct gerber *g)
{
    const struct image_state *image = &g->image;
    struct sheet *s = &g->drawing;
    struct pos_nm by = {gerber_round_nm(g, gerber_nm(g, image->offset_x)),
                        gerber_round_nm(g, gerber_nm(g, image->offset_y))};
    if (!by.x_nm && !by.y_nm && !image->quarter_turns && !image->is_swapped)
        return;
    for (size_t i = 0; i < s->object_count; i++) {
        struct object *object = &s->objects[i];
        object->from = image_pos(image, object->from, by);
        object->to = image_pos(image, object->to, by);
        if (object->turn)
            image_centre(image, by, &object->centre_x_nm, &object->centre_y_nm, &object->turn);
    }
    for (size_t i = 0; i < s->area.contour_count; i++)
        s->area.contours[i].start = image_pos(image, s->area.contours[i].start, by);
    for (size_t i = 0; i < s->area.seg_count; i++) {
        struct seg *seg = &s->area.segs[i];
        seg->to = image_pos(image, seg->to, by);
        if (seg->turn)
            image_centre(image, by, &seg->centre_x_nm, &seg->centre_y_nm, &seg->turn);
    }
}

static void invert_image(struct gerber *g)
{
    for (size_t i = 0; g->image.is_negative && i < g->drawing.object_count; i++)
        g->drawing.objects[i].is_dark = !g->drawing.objects[i].is_dark;
}

/* ---- handing over ---- */
/* The finished array goes over to the arena; what was grown in advance is given back. */
static void *keep(struct gerber *g, void *items_pointer, size_t count, size_t size)
{
    void *items, *none = NULL;
    memcpy(&items, items_pointer, sizeof items);
    if (count == 0 || g->is_out_of_memory)
        return NULL;
    void *fitted = realloc(items, count * size);
    if (fitted)
        items = fitted;
    memcpy(items_pointer, &items, sizeof items);
    if (!arena_adopt(g->arena, items, count * size)) {
        g->is_out_of_memory = true;
        return NULL;
    }
    memcpy(items_pointer, &none, sizeof none);
    return items;
}

static void keep_apertures(struct gerber *g, struct drawing *out)
{
    if (g->tool_count == 0)
        return;
    out->apertures = arena_alloc(g->arena, g->tool_count, sizeof *out->apertures);
    if (!out->apertures) {
        g->is_out_of_memory = true;
        return;
    }
    out->aperture_count = g->tool_count;
    for (size_t i = 0; i < g->tool_count; i++)
        out->apertures[i] = g->tools[i].info;
    for (size_t i = 0; i < g->drawing.object_count; i++) {
        const struct object *object = &g->drawing.objects[i];
        if (object->kind == OBJECT_FLASH)
            out->apertures[object->aperture].flash_count++;
        else if (object->kind != OBJECT_REGION)
            out->apertures[object->aperture].stroke_count++;
    }
}

static void keep_drawing(struct gerber *g)
{
    struct drawing *out = g->out;
    struct sheet *s = &g->drawing;
    struct box box;
    keep_apertures(g, out);
    box_init(&box);
    box_add_area(&box, &s->area);
    out->min = box.min;
    out->max = box.max;
    out->objects = keep(g, &s->objects, s->object_count, sizeof *s->objects);
    out->object_count = s->object_count;
    out->fills = keep(g, &s->area.fills, s->area.fill_count, sizeof *s->area.fills);
    out->fill_count = s->area.fill_count;
    out->contours = keep(g, &s->area.contours, s->area.contour_count, sizeof *s->area.contours);
    out->contour_count = s->area.contour_count;
    out->segs = keep(g, &s->area.segs, s->area.seg_count, sizeof *s->area.segs);
    out->seg_count = s->area.seg_count;
    out->attrs = keep(g, &g->attrs, g->attrs_count, sizeof *g->attrs);
    out->attrs_count = g->attrs_count;
    out->file_attrs = keep(g, &g->file_attrs, g->file_attr_count, sizeof *g->file_attrs);
    out->file_attr_count = g->file_attr_count;
    out->is_inch = g->unit == UNIT_INCH;
    out->integer_digits = g->format[0].integer_digits;
    out->decimal_digits = g->format[0].decimal_digits;
    out->is_image_negative = g->image.is_negative;
}

static bool is_beyond(int64_t nm)
{
    return nm > GERBER_COORD_LIMIT_NM || nm < -GERBER_COORD_LIMIT_NM;
}

static void look_at_extent(struct gerber *g)
{
    const struct drawing *out = g->out;
    if (out->contour_count == 0 || g->is_out_of_memory)
        return;
    if (is_beyond(out->min.x_nm) || is_beyond(out->min.y_nm) || is_beyond(out->max.x_nm) ||
        is_beyond(out->max.y_nm) || g->is_out_of_range)
        gerber_error(g, 0, "gerber-out-of-range", "see that the unit of the export is right",
                     "the drawing reaches beyond 1 km: expected places on a board");
}

static void look_at_end(struct gerber *g)
{
    if (g->is_too_large)
        gerber_error(g, g->word_offset, "gerber-too-large",
                     "if this file is meant to be so large, raise --max-objects",
                     "more than %zu objects, or outlines and macros beyond all measure, with %s",
                     g->max_objects, gerber_quote_word(g, g->word_offset));
    else if (!g->is_ended && !g->is_out_of_memory && g->error_count == 0)
        gerber_error(g, g->size, "gerber-truncated",
                     "the file is probably cut off: export or download it again; if it is whole, "
                     "add a line M02* at its end",
                     "the file has no end: expected M02*");
}

/* Apertures that nobody used are looked at too: a broken one is told. */
static void build_all(struct gerber *g)
{
    for (size_t i = 0;
         g->unit != UNIT_UNKNOWN && i < g->tool_count && g->is_ended &&
         g->error_count < GERBER_MAX_ERRORS && !g->is_out_of_memory && !g->is_too_large;
         i++)
        gerber_build_tool(g, &g->tools[i]);
}

static void finish(struct gerber *g)
{
    build_all(g);
    look_at_end(g);
    if (g->error_count || g->is_out_of_memory)
        return;
    move_image(g);
    invert_image(g);
    keep_drawing(g);
    look_at_extent(g);
}

static void empty(struct drawing *out, uint32_t file_id)
{
    *out = (struct drawing){.file_id = file_id};
    out->min = (struct pos_nm){INT64_MAX, INT64_MAX};
    out->max = (struct pos_nm){INT64_MIN, INT64_MIN};
}

enum drawing_status gerber_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                                size_t max_objects, struct arena *arena, struct diag_list *diags,
                                struct drawing *out)
{
    empty(out, file_id);
    if (!gerber_looks_like(bytes, size))
        return DRAWING_NOT_ONE;
    struct gerber *g = NULL;
    size_t capacity = 0;
    if (!array_grow(&g, sizeof *g, &capacity, 1))
        return DRAWING_NO_MEMORY;
    memset(g, 0, sizeof *g);
    g->file_id = file_id;
    g->bytes = bytes;
    g->size = text_end(bytes, size);
    g->max_objects = max_objects < ISTHMUS_NONE - 1 ? max_objects : ISTHMUS_NONE - 1;
    g->arena = arena;
    g->diags = diags;
    g->out = out;
    if (start(g)) {
        read_words(g);
        finish(g);
    } else {
        g->is_out_of_memory = true;
    }
    enum drawing_status status = g->is_out_of_memory || diags->is_out_of_memory ? DRAWING_NO_MEMORY
                                 : g->error_count                               ? DRAWING_REFUSED
                                                                                : DRAWING_OK;
    stop(g);
    free(g);
    if (status != DRAWING_OK)
        empty(out, file_id);
    return status;
}
