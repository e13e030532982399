/* Holes given as a drawing: flashed circles are holes, strokes are slots. */
#include "isthmus/holes.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "drill_machine.h"

struct builder {
    const struct drawing *drawing;
    struct arena *arena;
    struct diag_list *diags;
    struct hole_list *out;
    struct hole *holes;
    size_t capacity;
    uint32_t path_count;
    bool is_out_of_memory;
};

static void refuse(struct builder *builder, const struct object *object, const char *what)
{
    diag_add(builder->diags, DIAG_ERROR, "drill-drawing", object->at,
             "holes are flashes of a circle and slots strokes with one; if this file holds no "
             "holes: --role FILE=ignore",
             "%s is no hole", what);
}

/* The radius as drawn (a scaled aperture draws larger than it is): that of a round end. */
static double drawn_radius(const struct drawing *drawing, const struct object *object)
{
    double largest = 0;
    for (uint32_t f = 0; f < object->fill_count; f++) {
        const struct fill *fill = &drawing->fills[object->first_fill + f];
        for (uint32_t c = 0; c < fill->contour_count; c++) {
            const struct contour *contour = &drawing->contours[fill->first_contour + c];
            for (uint32_t s = 0; s < contour->seg_count; s++) {
                const struct seg *seg = &drawing->segs[contour->first_seg + s];
                bool is_end = hypot(seg->centre_x_nm - (double)object->from.x_nm,
                                    seg->centre_y_nm - (double)object->from.y_nm) <= 2 ||
                              hypot(seg->centre_x_nm - (double)object->to.x_nm,
                                    seg->centre_y_nm - (double)object->to.y_nm) <= 2;
                if (seg->turn != 0 && is_end)
                    largest = fmax(largest, hypot((double)seg->to.x_nm - seg->centre_x_nm,
                                                  (double)seg->to.y_nm - seg->centre_y_nm));
            }
        }
    }
    return largest;
}

static int64_t drawn_diameter(const struct drawing *drawing, const struct object *object,
                              const struct aperture *aperture)
{
    double diameter = 2 * drawn_radius(drawing, object);
    if (fabs(diameter - (double)aperture->width_nm) <= 4) /* rounded ends, not a scale */
        return aperture->width_nm;
    return (int64_t)llround(diameter);
}

static struct hole hole_of(const struct drawing *drawing, const struct object *object,
                           const struct aperture *aperture)
{
    const struct object_attrs *attrs = &drawing->attrs[object->attrs];
    struct hole hole = {.from = object->from,
                        .to = object->kind == OBJECT_FLASH ? object->from : object->to,
                        .diameter_nm = drawn_diameter(drawing, object, aperture),
                        .tool = (uint32_t)aperture->code,
                        .path = ISTHMUS_NONE,
                        .function =
                            aperture->function ? aperture->function : attrs->aperture_function,
                        .net = attrs->net_count ? attrs->nets[0] : NULL,
                        .ref = attrs->ref ? attrs->ref : attrs->component,
                        .pin = attrs->pin,
                        .at = object->at};
    return hole;
}

static void add_hole(struct builder *builder, const struct hole *hole)
{
    struct hole_list *out = builder->out;
    if (!array_grow(&builder->holes, sizeof *hole, &builder->capacity, out->hole_count + 1)) {
        builder->is_out_of_memory = true;
        return;
    }
    builder->holes[out->hole_count++] = *hole;
}

static void add_arc(struct builder *builder, const struct object *object, struct hole hole)
{
    double from_x = (double)object->from.x_nm - object->centre_x_nm;
    double from_y = (double)object->from.y_nm - object->centre_y_nm;
    double to_x = (double)object->to.x_nm - object->centre_x_nm;
    double to_y = (double)object->to.y_nm - object->centre_y_nm;
    double radius_from = hypot(from_x, from_y), radius_to = hypot(to_x, to_y);
    double sweep = drill_arc_sweep(from_x, from_y, to_x, to_y, object->turn);
    double angle = atan2(from_y, from_x);
    size_t count = drill_arc_pieces(fmax(radius_from, radius_to), sweep);
    hole.path = builder->path_count++;
    hole.to = object->from;
    for (size_t i = 1; i <= count && !builder->is_out_of_memory; i++) {
        double share = (double)i / (double)count;
        double radius = radius_from + share * (radius_to - radius_from);
        hole.from = hole.to;
        hole.to.x_nm = (int64_t)llround(object->centre_x_nm + radius * cos(angle + share * sweep));
        hole.to.y_nm = (int64_t)llround(object->centre_y_nm + radius * sin(angle + share * sweep));
        if (i == count)
            hole.to = object->to;
        add_hole(builder, &hole);
    }
}

static void add_object(struct builder *builder, const struct object *object)
{
    const struct drawing *drawing = builder->drawing;
    const struct aperture *aperture =
        object->aperture < drawing->aperture_count ? &drawing->apertures[object->aperture] : NULL;
    if (!aperture || object->kind == OBJECT_REGION) {
        refuse(builder, object, "a region");
        return;
    }
    if (!object->is_dark || aperture->kind != APERTURE_CIRCLE) {
        refuse(builder, object, object->is_dark ? "an object that is not round" : "a clear object");
        return;
    }
    struct hole hole = hole_of(drawing, object, aperture);
    if (hole.diameter_nm <= 0)
        refuse(builder, object, "an object of size 0");
    else if (object->kind == OBJECT_ARC_STROKE)
        add_arc(builder, object, hole);
    else
        add_hole(builder, &hole);
}

/* ---- tools and attributes ------------------------------------------------------------------ */

struct tool_array {
    struct tool *items;
    size_t count, capacity;
};

static struct tool *tool_of(struct tool_array *tools, const struct hole *hole)
{
    for (size_t i = 0; i < tools->count; i++)
        if (tools->items[i].number == hole->tool &&
            tools->items[i].diameter_nm == hole->diameter_nm)
            return &tools->items[i];
    if (!array_grow(&tools->items, sizeof *tools->items, &tools->capacity, tools->count + 1))
        return NULL;
    struct tool *tool = &tools->items[tools->count++];
    *tool = (struct tool){.number = hole->tool,
                          .diameter_nm = hole->diameter_nm,
                          .function = hole->function,
                          .at = hole->at};
    return tool;
}

static bool count_holes(const struct builder *builder, struct tool_array *tools)
{
    for (size_t i = 0; builder->holes && i < builder->out->hole_count; i++) {
        const struct hole *hole = &builder->holes[i];
        struct tool *tool = tool_of(tools, hole);
        if (!tool)
            return false;
        bool is_later_piece =
            hole->path != ISTHMUS_NONE && i > 0 && builder->holes[i - 1].path == hole->path;
        tool->hole_count += !is_later_piece;
    }
    return true;
}

/* A copy in the arena; NULL when there is nothing to copy, or no memory. */
static void *keep(struct builder *builder, const void *items, size_t count, size_t size)
{
    void *copy = count && items ? arena_alloc(builder->arena, count, size) : NULL;
    if (copy)
        memcpy(copy, items, count * size);
    return copy;
}

static bool list_tools(struct builder *builder)
{
    struct tool_array tools = {0};
    struct hole_list *out = builder->out;
    bool is_complete = count_holes(builder, &tools);
    out->tools = keep(builder, tools.items, tools.count, sizeof *tools.items);
    out->tool_count = out->tools ? tools.count : 0;
    free(tools.items);
    return is_complete && out->tool_count == tools.count;
}

static uint16_t layer_number(const char *text)
{
    char *end;
    long layer = strtol(text, &end, 10);
    return *text && !*end && layer > 0 && layer < 1000 ? (uint16_t)layer : 0;
}

/* .FileFunction Plated,1,4,PTH */
static void read_function(struct builder *builder)
{
    struct hole_list *out = builder->out;
    const struct file_attr *function = NULL;
    for (size_t i = 0; i < builder->drawing->file_attr_count; i++)
        if (strcmp(builder->drawing->file_attrs[i].name, ".FileFunction") == 0)
            function = &builder->drawing->file_attrs[i];
    if (!function || function->field_count == 0)
        return;
    if (strcmp(function->fields[0], "Plated") == 0)
        out->plating = PLATING_PLATED;
    if (strcmp(function->fields[0], "NonPlated") == 0)
        out->plating = PLATING_NONE;
    if (out->plating == PLATING_UNKNOWN || function->field_count < 3)
        return;
    out->layer_from = layer_number(function->fields[1]);
    out->layer_to = layer_number(function->fields[2]);
    if (out->layer_from && out->layer_from < out->layer_to)
        return;
    diag_add(builder->diags, DIAG_ERROR, "drill-span", function->at,
             "expected the first and the last copper layer, as in Plated,1,4,PTH",
             "the span of layers \"%s,%s\" is none", function->fields[1], function->fields[2]);
}

static bool deliver(struct builder *builder)
{
    struct hole_list *out = builder->out;
    const struct drawing *drawing = builder->drawing;
    out->reading = arena_printf(builder->arena, "drawing, %s, %u.%u (stated)",
                                drawing->is_inch ? "INCH" : "METRIC", drawing->integer_digits,
                                drawing->decimal_digits);
    out->used = (struct drill_reading){drawing->is_inch, ZEROS_TRAILING_KEPT,
                                       drawing->integer_digits, drawing->decimal_digits};
    out->is_reading_stated = true;
    out->file_attrs = drawing->file_attrs;
    out->file_attr_count = drawing->file_attr_count;
    for (size_t i = 0; builder->holes && i < out->hole_count; i++) {
        builder->holes[i].plating = out->plating;
        builder->holes[i].layer_from = out->layer_from;
        builder->holes[i].layer_to = out->layer_to;
    }
    if (!out->reading || !list_tools(builder))
        return false;
    if (out->hole_count == 0) {
        diag_add(builder->diags, DIAG_NOTE, "drill-empty", (struct source_pos){out->file_id, 0, 0},
                 NULL, "the file holds no hole");
        return true;
    }
    out->holes = keep(builder, builder->holes, out->hole_count, sizeof *out->holes);
    return out->holes != NULL;
}

enum holes_status holes_from_drawing(const struct drawing *drawing, struct arena *arena,
                                     struct diag_list *diags, struct hole_list *out)
{
    *out = (struct hole_list){.file_id = drawing->file_id, .score = -1};
    struct builder builder = {.drawing = drawing, .arena = arena, .diags = diags, .out = out};
    size_t errors_before = diags->error_count;
    read_function(&builder);
    for (size_t i = 0; i < drawing->object_count && !builder.is_out_of_memory; i++)
        add_object(&builder, &drawing->objects[i]);
    bool is_complete = !builder.is_out_of_memory && deliver(&builder) && !diags->is_out_of_memory;
    free(builder.holes);
    if (is_complete && diags->error_count == errors_before)
        return HOLES_OK;
    *out = (struct hole_list){.file_id = drawing->file_id, .score = -1};
    return is_complete ? HOLES_REFUSED : HOLES_NO_MEMORY;
}
