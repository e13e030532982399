/* Aperture templates: definitions, shapes, choosing one, flashes. */
#include "gerber_private.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- definitions ---- */
static void take_function(struct gerber *g, struct tool *tool)
{
    const struct attr_value *value = attr_find(&g->aperture_attrs, ".AperFunction");
    if (!value)
        return;
    tool->function = value->field_count > 0 ? value->fields[0] : NULL;
    tool->function_detail = value->field_count > 1 ? value->fields[1] : NULL;
    tool->info.function = tool->function;
}

static uint32_t find_code(const struct gerber *g, uint64_t code)
{
    return symbols_find(g->tool_of_code, &code, sizeof code);
}

uint32_t gerber_new_tool(struct gerber *g, int32_t code, size_t offset, struct source_pos at)
{
    uint64_t key = (uint64_t)code;
    if (find_code(g, key) != ISTHMUS_NONE)
        gerber_odd(g, offset, ODD_REDEFINED_APERTURE,
                   "D%d is defined again: the new one holds from here on", code);
    if (g->tool_count >= ISTHMUS_NONE - 1 ||
        !array_grow(&g->tools, sizeof *g->tools, &g->tool_capacity, g->tool_count + 1) ||
        !symbols_put(&g->tool_of_code, &key, sizeof key, (uint32_t)g->tool_count)) {
        g->is_out_of_memory = true;
        return ISTHMUS_NONE;
    }
    struct tool *tool = &g->tools[g->tool_count];
    *tool = (struct tool){.offset = offset, .macro = ISTHMUS_NONE};
    tool->info.code = code;
    tool->info.at = at;
    take_function(g, tool);
    return (uint32_t)g->tool_count++;
}

static bool tell_bad_definition(struct gerber *g, size_t offset, const char *expected)
{
    gerber_error(g, offset, "gerber-aperture", "export again", "%s: expected %s",
                 gerber_quote_word(g, g->word_offset), expected);
    return false;
}

/* Numbers between X, up to the end of the word. */
static bool read_params(struct gerber *g, struct cursor *c, struct tool *tool)
{
    size_t capacity = 1;
    for (size_t i = c->at; i < c->end; i++)
        capacity += c->bytes[i] == 'X' || c->bytes[i] == 'x';
    tool->params = arena_alloc(g->arena, capacity, sizeof *tool->params);
    if (!tool->params) {
        g->is_out_of_memory = true;
        return false;
    }
    do {
        cursor_skip_space(c);
        if (c->at >= c->end && tool->param_count == 0)
            return true; /* "ADD10NAME,*": no parameters after all */
        if (!cursor_number(c, &tool->params[tool->param_count++]))
            return tell_bad_definition(g, c->at, "a decimal number between each X");
    } while (cursor_take(c, 'X') || cursor_take(c, 'x'));
    cursor_skip_space(c);
    return c->at >= c->end || tell_bad_definition(g, c->at, "X between the numbers, then *");
}

static bool find_macro(struct gerber *g, struct tool *tool, const char *name, size_t length)
{
    if (length == 1 && strchr("CROP", name[0])) {
        tool->letter = name[0];
        return true;
    }
    uint32_t index = symbols_find(g->macro_of_name, name, length);
    if (index == ISTHMUS_NONE)
        return false;
    tool->letter = 'M';
    tool->macro = index;
    tool->info.kind = APERTURE_MACRO;
    tool->info.macro_name = g->macros[index].name;
    return true;
}

/* ADDnnNAME,AXBXC: c stands behind "AD". */
void gerber_define_aperture(struct gerber *g, struct cursor *c)
{
    uint32_t code;
    if (!cursor_take(c, 'D') || !cursor_uint(c, INT32_MAX, &code) || code < 10) {
        tell_bad_definition(g, c->at, "ADDnn with nn from 10");
        return;
    }
    cursor_skip_space(c);
    size_t name = c->at;
    while (c->at < c->end && c->bytes[c->at] != ',')
        c->at++;
    size_t name_end = c->at;
    while (name_end > name && c->bytes[name_end - 1] <= ' ')
        name_end--;
    struct tool parsed = {0};
    if (name_end == name ||
        !find_macro(g, &parsed, (const char *)c->bytes + name, name_end - name)) {
        tell_bad_definition(g, name, "C, R, O, P or the name of a macro defined before");
        return;
    }
    if (cursor_take(c, ',') && !read_params(g, c, &parsed))
        return;
    uint32_t index = gerber_new_tool(g, (int32_t)code, g->word_offset, g->word_at);
    if (index == ISTHMUS_NONE)
        return;
    struct tool *tool = &g->tools[index];
    tool->letter = parsed.letter;
    tool->macro = parsed.macro;
    tool->params = parsed.params;
    tool->param_count = parsed.param_count;
    tool->info.kind = parsed.info.kind;
    tool->info.macro_name = parsed.info.macro_name;
}

/* ---- templates ---- */
static void break_tool(struct gerber *g, struct tool *tool, const char *expected)
{
    tool->is_broken = true;
    gerber_error(g, tool->offset, "gerber-aperture", "export again", "%s: expected %s",
                 gerber_quote_word(g, tool->offset), expected);
}

/* The hole's size in parameters from..from+1: round with one, rectangular with two. */
struct hole {
    double width, height; /* height 0: round */
};
static bool read_hole(struct gerber *g, struct tool *tool, size_t from, struct hole *hole)
{
    *hole = (struct hole){0, 0};
    if (tool->param_count > from)
        hole->width = gerber_nm(g, tool->params[from]);
    if (tool->param_count > from + 1)
        hole->height = gerber_nm(g, tool->params[from + 1]);
    if (hole->width == 0)
        hole->height = 0;
    if (hole->width >= 0 && hole->height >= 0)
        return true;
    break_tool(g, tool, "a hole larger than 0, or none");
    return false;
}

static void add_hole(struct gerber *g, struct tool *tool, const struct hole *hole)
{
    struct point origin = {0, 0};
    if (hole->width == 0)
        return;
    tool->info.hole_nm = llround(hole->width);
    if (hole->height > 0)
        shape_rectangle(g, &tool->shape, origin, hole->width, hole->height, -1);
    else
        shape_circle(g, &tool->shape, origin, hole->width / 2, -1);
}

/* Largest distance of a hole's outline from the origin, along an axis and along the diagonal. */
static bool hole_is_within(const struct hole *hole, double width, double height, bool is_round)
{
    double w = hole->width, h = hole->height > 0 ? hole->height : hole->width;
    if (is_round)
        return (hole->height > 0 ? hypot(w, h) : w) < fmin(width, height);
    return w < width && h < height;
}

static void build_circle(struct gerber *g, struct tool *tool)
{
    struct hole hole;
    double d = tool->param_count ? gerber_nm(g, tool->params[0]) : -1;
    if (tool->param_count < 1 || tool->param_count > 3 || d < 0) {
        break_tool(g, tool, "C,diameter[Xhole]");
        return;
    }
    if (!read_hole(g, tool, 1, &hole))
        return;
    tool->info.kind = APERTURE_CIRCLE;
    tool->info.width_nm = tool->info.height_nm = gerber_round_nm(g, d);
    if (d == 0)
        return; /* allowed: it marks a place and touches nothing */
    if (hole.width == d && hole.height == 0) {
        gerber_odd(g, tool->offset, ODD_HOLE_FILLS,
                   "%s is a circle whose hole leaves nothing: a flash of it draws nothing",
                   gerber_quote_word(g, tool->offset));
        tool->info.hole_nm = tool->info.width_nm;
        return;
    }
    if (hole.width > 0 && !hole_is_within(&hole, d, d, true)) {
        break_tool(g, tool, "a hole that lies within the circle");
        return;
    }
    shape_fill(g, &tool->shape, true);
    shape_circle(g, &tool->shape, (struct point){0, 0}, d / 2, 1);
    add_hole(g, tool, &hole);
}

static void add_obround(struct gerber *g, struct shape *s, double width, double height)
{
    double r = fmin(width, height) / 2, x = width / 2 - r, y = height / 2 - r;
    struct point low = {-x, -y}, high = {x, y};
    if (x == 0 && y == 0) {
        shape_circle(g, s, low, r, 1);
        return;
    }
    if (width > height) {
        shape_begin(g, s, -x, -r);
        shape_line(g, s, x, -r);
        shape_arc(g, s, (struct point){x, r}, high, 1);
        shape_line(g, s, -x, r);
        shape_arc(g, s, (struct point){-x, -r}, low, 1);
        return;
    }
    shape_begin(g, s, r, -y);
    shape_line(g, s, r, y);
    shape_arc(g, s, (struct point){-r, y}, high, 1);
    shape_line(g, s, -r, -y);
    shape_arc(g, s, (struct point){r, -y}, low, 1);
}

static void build_rectangle(struct gerber *g, struct tool *tool, bool is_obround)
{
    struct hole hole;
    double w = tool->param_count > 0 ? gerber_nm(g, tool->params[0]) : -1;
    double h = tool->param_count > 1 ? gerber_nm(g, tool->params[1]) : w;
    if (tool->param_count < 1 || tool->param_count > 4 || w < 0 || h < 0) {
        break_tool(g, tool, is_obround ? "O,widthXheight[Xhole]" : "R,widthXheight[Xhole]");
        return;
    }
    if (!read_hole(g, tool, 2, &hole))
        return;
    tool->info.kind = is_obround ? APERTURE_OBROUND : APERTURE_RECTANGLE;
    tool->info.width_nm = gerber_round_nm(g, w);
    tool->info.height_nm = gerber_round_nm(g, h);
    if (w == 0 || h == 0) {
        gerber_odd(g, tool->offset, ODD_ZERO_SIZE, "%s has no area: it draws nothing",
                   gerber_quote_word(g, tool->offset));
        return;
    }
    if (hole.width > 0 && !hole_is_within(&hole, w, h, is_obround)) {
        break_tool(g, tool, "a hole that lies within the aperture");
        return;
    }
    shape_fill(g, &tool->shape, true);
    if (is_obround)
        add_obround(g, &tool->shape, w, h);
    else
        shape_rectangle(g, &tool->shape, (struct point){0, 0}, w, h, 1);
    add_hole(g, tool, &hole);
}

static void build_polygon(struct gerber *g, struct tool *tool)
{
    struct hole hole;
    double d = tool->param_count > 0 ? gerber_nm(g, tool->params[0]) : -1;
    double n = tool->param_count > 1 ? tool->params[1] : 0;
    double turned = tool->param_count > 2 ? tool->params[2] : 0;
    if (tool->param_count < 2 || tool->param_count > 5 || d <= 0 || n < 3 || n > 12 ||
        n != floor(n)) {
        break_tool(g, tool, "P,diameterXvertices[XrotationXhole] with 3 to 12 vertices");
        return;
    }
    if (!read_hole(g, tool, 3, &hole))
        return;
    tool->info.kind = APERTURE_POLYGON;
    tool->info.width_nm = tool->info.height_nm = gerber_round_nm(g, d);
    double inner = d * cos(M_PI / n);
    if (hole.width > 0 && !hole_is_within(&hole, inner, inner, true)) {
        break_tool(g, tool, "a hole that lies within the polygon");
        return;
    }
    struct transform t = {.scale = 1};
    shape_fill(g, &tool->shape, true);
    for (int i = 0; i <= (int)n; i++) {
        t.rotation_deg = turned + 360.0 * (i % (int)n) / n;
        struct point p = transform_point(&t, (struct point){d / 2, 0});
        if (i == 0)
            shape_begin(g, &tool->shape, p.x, p.y);
        else
            shape_line(g, &tool->shape, p.x, p.y);
    }
    add_hole(g, tool, &hole);
}

/* A macro that is nothing but one circle about its origin draws arcs as a circle does. */
static void look_for_circle(struct tool *tool)
{
    const struct shape *s = &tool->shape;
    if (s->fill_count != 1 || s->contour_count != 1 || s->seg_count != 1 || !s->segs[0].turn ||
        s->segs[0].centre.x != 0 || s->segs[0].centre.y != 0)
        return;
    tool->letter = 'C';
    tool->info.width_nm = tool->info.height_nm = llround(2 * fabs(s->contours[0].start.x));
}

static void measure_extent(struct gerber *g, struct tool *tool)
{
    struct area area = {0};
    struct box box;
    area_from_shape(g, &tool->shape, &(struct transform){.scale = 1}, &area);
    box_init(&box);
    box_add_area(&box, &area);
    if (area.contour_count) {
        tool->info.width_nm = box.max.x_nm - box.min.x_nm;
        tool->info.height_nm = box.max.y_nm - box.min.y_nm;
    }
    area_free(&area);
}

static void build_macro_tool(struct gerber *g, struct tool *tool)
{
    gerber_build_macro(g, tool);
    if (tool->is_broken || g->is_out_of_memory || g->is_too_large)
        return;
    measure_extent(g, tool);
    look_for_circle(tool);
}

/* Shapes are built when they are first needed: the unit may be told behind the definition. */
void gerber_build_tool(struct gerber *g, struct tool *tool)
{
    if (tool->is_built || tool->letter == 'B')
        return;
    tool->is_built = true;
    if (tool->letter == 'C')
        build_circle(g, tool);
    else if (tool->letter == 'P')
        build_polygon(g, tool);
    else if (tool->letter == 'M')
        build_macro_tool(g, tool);
    else
        build_rectangle(g, tool, tool->letter == 'O');
    if (g->is_out_of_range) {
        g->is_out_of_range = false;
        break_tool(g, tool, "a size that fits a board");
    }
}

bool gerber_tool_is_circle(const struct tool *tool)
{
    if (tool->letter != 'C')
        return false;
    /* A circle with a rectangular hole is swept as any other shape. */
    return tool->shape.contour_count < 2 || tool->shape.segs[1].turn != 0;
}

static bool transform_equal(const struct transform *a, const struct transform *b)
{
    return a->is_mirrored_x == b->is_mirrored_x && a->is_mirrored_y == b->is_mirrored_y &&
           a->rotation_deg == b->rotation_deg && a->scale == b->scale;
}

const struct area *gerber_tool_area(struct gerber *g, struct tool *tool)
{
    if (tool->has_area && transform_equal(&tool->area_transform, &g->transform))
        return &tool->area;
    area_from_shape(g, &tool->shape, &g->transform, &tool->area);
    tool->has_area = !g->is_out_of_memory && !g->is_too_large && !g->is_out_of_range;
    tool->area_transform = g->transform;
    return tool->has_area ? &tool->area : NULL;
}

void gerber_select(struct gerber *g, uint32_t code, size_t offset)
{
    uint32_t index = find_code(g, code);
    if (index == ISTHMUS_NONE) {
        gerber_error(g, offset, "gerber-aperture-undefined",
                     "the aperture definitions are missing or come later: export as RS-274X",
                     "%s chooses an aperture that is not defined: expected %%ADD%u...*%% before",
                     gerber_quote_word(g, offset), code);
        return;
    }
    g->tool = index;
    g->is_tool_newer = true;
    if (g->region.is_open)
        gerber_error(g, offset, "gerber-code-in-region", "export again",
                     "%s chooses an aperture within a region: expected G37 first",
                     gerber_quote_word(g, offset));
}

void gerber_flash(struct gerber *g)
{
    struct tool *tool = &g->tools[g->tool];
    if (tool->letter == 'B') {
        gerber_block_flash(g, tool);
        return;
    }
    gerber_build_tool(g, tool);
    const struct area *area = tool->is_broken ? NULL : gerber_tool_area(g, tool);
    if (!area)
        return;
    struct object *object = sheet_object(g, OBJECT_FLASH);
    if (!object)
        return;
    object->from = object->to = g->point;
    object->fill_count = (uint32_t)area->fill_count;
    area_append(g, &g->sheet->area, area, 0, area->fill_count, g->point);
}
