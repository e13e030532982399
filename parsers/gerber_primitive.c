/* The primitives of aperture macros, as contours. Every contour runs counterclockwise. */
#include "gerber_private.h"

#include <math.h>

#define MAX_RINGS 1000

struct build {
    struct gerber *g;
    struct tool *tool;
    const struct macro_statement *statement;
    const double *values;
    size_t count;
    struct transform turn; /* rotation about the macro's origin */
};

static void fail(struct build *b, const char *expected)
{
    b->tool->is_broken = true;
    gerber_error(b->g, b->statement->offset, "gerber-macro", "export again", "%s: expected %s",
                 gerber_quote_word(b->g, b->statement->offset), expected);
}

static double length_of(const struct build *b, size_t index)
{
    return gerber_nm(b->g, b->values[index]);
}

static struct point turned(const struct build *b, double x, double y)
{
    return transform_point(&b->turn, (struct point){x, y});
}

static struct point read_point(const struct build *b, size_t index)
{
    return (struct point){length_of(b, index), length_of(b, index + 1)};
}

/* Parameters are there, and the rotation behind them is taken; old files leave it out. */
static bool take_rotation(struct build *b, size_t index)
{
    if (b->count < index || b->count > index + 1) {
        fail(b, "as many parameters as this primitive has");
        return false;
    }
    b->turn = (struct transform){.scale = 1};
    if (b->count > index)
        b->turn.rotation_deg = b->values[index];
    else if (b->statement->code != 1)
        gerber_odd(b->g, b->statement->offset, ODD_MISSING_ROTATION,
                   "%s has no rotation: read as 0", gerber_quote_word(b->g, b->statement->offset));
    return true;
}

static bool begin_fill(struct build *b, bool adds)
{
    /* What erases before anything was drawn erases nothing. */
    if (!adds && b->tool->shape.fill_count == 0)
        return false;
    shape_fill(b->g, &b->tool->shape, adds);
    return true;
}

static bool is_on(struct build *b)
{
    return b->values[0] != 0;
}

static void add_polygon(struct build *b, const struct point *corner, size_t count)
{
    struct point p = turned(b, corner[0].x, corner[0].y);
    shape_begin(b->g, &b->tool->shape, p.x, p.y);
    for (size_t i = 1; i <= count; i++) {
        p = turned(b, corner[i % count].x, corner[i % count].y);
        shape_line(b->g, &b->tool->shape, p.x, p.y);
    }
}

static void add_box(struct build *b, struct point low, double width, double height)
{
    if (width <= 0 || height <= 0)
        return;
    struct point corner[4] = {{low.x, low.y},
                              {low.x + width, low.y},
                              {low.x + width, low.y + height},
                              {low.x, low.y + height}};
    add_polygon(b, corner, 4);
}

/* 1, exposure, diameter, x, y[, rotation] */
static void circle(struct build *b)
{
    if (!take_rotation(b, 4))
        return;
    double diameter = length_of(b, 1);
    if (diameter < 0) {
        fail(b, "a diameter of 0 or more");
        return;
    }
    if (diameter == 0 || !begin_fill(b, is_on(b)))
        return;
    struct point centre = read_point(b, 2);
    shape_circle(b->g, &b->tool->shape, turned(b, centre.x, centre.y), diameter / 2, 1);
}

/* 20, exposure, width, start x, y, end x, y, rotation: square ends */
static void vector_line(struct build *b)
{
    if (!take_rotation(b, 6))
        return;
    double width = length_of(b, 1);
    struct point from = read_point(b, 2), to = read_point(b, 4);
    double dx = to.x - from.x, dy = to.y - from.y, length = hypot(dx, dy);
    if (width < 0) {
        fail(b, "a width of 0 or more");
        return;
    }
    if (width == 0 || length == 0 || !begin_fill(b, is_on(b)))
        return;
    double x = -dy / length * width / 2, y = dx / length * width / 2;
    struct point corner[4] = {{from.x - x, from.y - y},
                              {to.x - x, to.y - y},
                              {to.x + x, to.y + y},
                              {from.x + x, from.y + y}};
    add_polygon(b, corner, 4);
}

/* 21, exposure, width, height, centre x, y, rotation; 22: lower left corner instead */
static void box_line(struct build *b, bool is_centred)
{
    if (!take_rotation(b, 5))
        return;
    double width = length_of(b, 1), height = length_of(b, 2);
    struct point low = read_point(b, 3);
    if (width < 0 || height < 0) {
        fail(b, "a width and a height of 0 or more");
        return;
    }
    if (width == 0 || height == 0 || !begin_fill(b, is_on(b)))
        return;
    if (is_centred) {
        low.x -= width / 2;
        low.y -= height / 2;
    }
    add_box(b, low, width, height);
}

static double twice_area(const struct build *b, size_t first, size_t count)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        size_t a = first + 2 * i, n = first + 2 * ((i + 1) % count);
        sum += b->values[a] * b->values[n + 1] - b->values[n] * b->values[a + 1];
    }
    return sum;
}

/* 4, exposure, n, x0, y0, ... xn, yn, rotation: the last point is the first */
static void outline(struct build *b)
{
    double n = b->count > 1 ? b->values[1] : 0;
    if (!(n >= 1) || n != floor(n) || n > (double)b->count) {
        fail(b, "a whole number of points");
        return;
    }
    size_t count = (size_t)n, last = 2 + 2 * count;
    if (!take_rotation(b, last + 2))
        return;
    struct point first = read_point(b, 2), end = read_point(b, last);
    if (first.x != end.x || first.y != end.y) {
        gerber_odd(b->g, b->statement->offset, ODD_OPEN_CONTOUR,
                   "%s does not end where it begins: a straight line closes it",
                   gerber_quote_word(b->g, b->statement->offset));
        count++;
    }
    if (count < 3 || !begin_fill(b, is_on(b)))
        return;
    bool is_backward = twice_area(b, 2, count) < 0;
    for (size_t i = 0; i <= count; i++) {
        size_t k = is_backward ? (count - i) % count : i % count;
        struct point p = read_point(b, 2 + 2 * k);
        p = turned(b, p.x, p.y);
        if (i == 0)
            shape_begin(b->g, &b->tool->shape, p.x, p.y);
        else
            shape_line(b->g, &b->tool->shape, p.x, p.y);
    }
}

/* 5, exposure, vertices, centre x, y, diameter, rotation */
static void polygon(struct build *b)
{
    if (!take_rotation(b, 5))
        return;
    double n = b->values[1], diameter = length_of(b, 4);
    struct point centre = read_point(b, 2), corner[12];
    if (!(n >= 3 && n <= 12) || n != floor(n) || diameter < 0) {
        fail(b, "3 to 12 vertices and a diameter of 0 or more");
        return;
    }
    if (diameter == 0 || !begin_fill(b, is_on(b)))
        return;
    for (int i = 0; i < (int)n; i++) {
        struct transform t = {.rotation_deg = 360.0 * i / n, .scale = 1};
        corner[i] = transform_point(&t, (struct point){diameter / 2, 0});
        corner[i].x += centre.x;
        corner[i].y += centre.y;
    }
    add_polygon(b, corner, (size_t)n);
}

static void add_ring(struct build *b, struct point centre, double outer, double inner)
{
    struct point at = turned(b, centre.x, centre.y);
    begin_fill(b, true);
    shape_circle(b->g, &b->tool->shape, at, outer, 1);
    if (inner > 0)
        shape_circle(b->g, &b->tool->shape, at, inner, -1);
}

/* 6, x, y, outer diameter, ring width, gap, rings at most, cross width, cross length, rotation */
static void moire(struct build *b)
{
    if (!take_rotation(b, 8))
        return;
    struct point centre = read_point(b, 0);
    double diameter = length_of(b, 2), width = length_of(b, 3), gap = length_of(b, 4);
    double rings = b->values[5], cross_width = length_of(b, 6), cross = length_of(b, 7);
    if (diameter < 0 || width < 0 || gap < 0 || !(rings >= 0 && rings <= MAX_RINGS) ||
        rings != floor(rings) || cross_width < 0 || cross < 0) {
        fail(b, "sizes of 0 or more and at most 1000 rings");
        return;
    }
    for (int i = 0; i < (int)rings && diameter > 0 && width > 0; i++) {
        add_ring(b, centre, diameter / 2, diameter / 2 - width);
        diameter -= 2 * (width + gap);
    }
    if (cross_width == 0 || cross == 0)
        return;
    begin_fill(b, true);
    add_box(b, (struct point){centre.x - cross / 2, centre.y - cross_width / 2}, cross,
            cross_width);
    add_box(b, (struct point){centre.x - cross_width / 2, centre.y - cross / 2}, cross_width,
            cross);
}

/* One quarter of a thermal: between the circles, beyond the gap's half from either axis. */
static void add_quarter(struct build *b, struct point centre, int quarter, double outer,
                        double inner, double gap)
{
    struct transform q = {.rotation_deg = 90.0 * quarter, .scale = 1};
    double far = sqrt(outer * outer - gap * gap), near = 0;
    bool has_inner_arc = inner > gap * M_SQRT2;
    if (has_inner_arc)
        near = sqrt(inner * inner - gap * gap);
    struct point way[4] = {{far, gap}, {gap, far}, {gap, near}, {near, gap}};
    if (!has_inner_arc)
        way[2] = way[3] = (struct point){gap, gap};
    for (int i = 0; i < 4; i++) {
        struct point p = transform_point(&q, way[i]);
        way[i] = turned(b, centre.x + p.x, centre.y + p.y);
    }
    struct shape *s = &b->tool->shape;
    struct point at = turned(b, centre.x, centre.y);
    shape_begin(b->g, s, way[0].x, way[0].y);
    shape_arc(b->g, s, way[1], at, 1);
    shape_line(b->g, s, way[2].x, way[2].y);
    if (has_inner_arc)
        shape_arc(b->g, s, way[3], at, -1);
    shape_line(b->g, s, way[0].x, way[0].y);
}

/* 7, x, y, outer diameter, inner diameter, gap, rotation: always on */
static void thermal(struct build *b)
{
    if (!take_rotation(b, 5))
        return;
    struct point centre = read_point(b, 0);
    double outer = length_of(b, 2) / 2, inner = length_of(b, 3) / 2, gap = length_of(b, 4) / 2;
    if (outer <= inner || inner < 0 || gap < 0) {
        fail(b, "an outer diameter above the inner one and a gap of 0 or more");
        return;
    }
    if (gap == 0) {
        add_ring(b, centre, outer, inner);
        return;
    }
    if (gap * M_SQRT2 >= outer)
        return; /* the cross covers all of the ring */
    begin_fill(b, true);
    for (int quarter = 0; quarter < 4; quarter++)
        add_quarter(b, centre, quarter, outer, inner, gap);
}

static bool has_exposure(struct build *b)
{
    if (b->statement->code == 6 || b->statement->code == 7)
        return true;
    if (b->count > 0 && (b->values[0] == 0 || b->values[0] == 1))
        return true;
    fail(b, "an exposure of 0 or 1");
    return false;
}

void gerber_primitive(struct gerber *g, struct tool *tool, const struct macro_statement *statement,
                      const double *values, size_t count)
{
    struct build b = {
        .g = g, .tool = tool, .statement = statement, .values = values, .count = count};
    if (!has_exposure(&b))
        return;
    switch (statement->code) {
    case 1:
        circle(&b);
        break;
    case 2:
    case 20:
        vector_line(&b);
        break;
    case 21:
    case 22:
        box_line(&b, statement->code == 21);
        break;
    case 4:
        outline(&b);
        break;
    case 5:
        polygon(&b);
        break;
    case 6:
        moire(&b);
        break;
    case 7:
        thermal(&b);
        break;
    default:
        fail(&b, "one of the primitives 1 2 4 5 6 7 20 21 22");
    }
}
