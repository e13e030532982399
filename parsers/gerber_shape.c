/* Shapes in the making, rounding, and areas made of rounded contours. */
#include "gerber_private.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Every coordinate of a drawing is rounded here, once: to the nearest nanometre, half away from 0.
 */
int64_t gerber_round_nm(struct gerber *g, double value_nm)
{
    if (!(fabs(value_nm) <= (double)GERBER_COORD_LIMIT_NM)) {
        g->is_out_of_range = true;
        return 0;
    }
    return llround(value_nm);
}

struct pos_nm gerber_round_point(struct gerber *g, struct point p)
{
    return (struct pos_nm){gerber_round_nm(g, p.x), gerber_round_nm(g, p.y)};
}

static bool grow(struct gerber *g, void *items, size_t size, size_t *capacity, size_t needed)
{
    if (needed <= *capacity)
        return true;
    if (needed >= ISTHMUS_NONE || !array_grow(items, size, capacity, needed))
        g->is_out_of_memory = true;
    return needed <= *capacity;
}

static bool is_within_seg_limit(struct gerber *g, size_t count)
{
    if (count > g->max_segs)
        g->is_too_large = true;
    return count <= g->max_segs;
}

/* ---- shapes ---- */
/* A segment and its share of the rest take about 150 bytes: all shapes together below 1.3 GB. */
#define WORK_OF_A_SEG 8

void shape_fill(struct gerber *g, struct shape *s, bool adds)
{
    if (grow(g, &s->fills, sizeof *s->fills, &s->fill_capacity, s->fill_count + 1))
        s->fills[s->fill_count++] =
            (struct fill){.first_contour = (uint32_t)s->contour_count, .adds = adds};
}

void shape_begin(struct gerber *g, struct shape *s, double x, double y)
{
    if (s->fill_count == 0 ||
        !grow(g, &s->contours, sizeof *s->contours, &s->contour_capacity, s->contour_count + 1))
        return;
    s->contours[s->contour_count++] =
        (struct shape_contour){.start = {x, y}, .first_seg = (uint32_t)s->seg_count};
    s->fills[s->fill_count - 1].contour_count++;
}

void shape_arc(struct gerber *g, struct shape *s, struct point to, struct point centre, int turn)
{
    if (s->contour_count == 0 || !gerber_spend_work(g, WORK_OF_A_SEG) ||
        !grow(g, &s->segs, sizeof *s->segs, &s->seg_capacity, s->seg_count + 1))
        return;
    s->segs[s->seg_count++] = (struct shape_seg){.to = to, .centre = centre, .turn = (int8_t)turn};
    s->contours[s->contour_count - 1].seg_count++;
}

void shape_line(struct gerber *g, struct shape *s, double x, double y)
{
    shape_arc(g, s, (struct point){x, y}, (struct point){0, 0}, 0);
}

void shape_circle(struct gerber *g, struct shape *s, struct point centre, double radius, int turn)
{
    shape_begin(g, s, centre.x + radius, centre.y);
    shape_arc(g, s, (struct point){centre.x + radius, centre.y}, centre, turn);
}

void shape_rectangle(struct gerber *g, struct shape *s, struct point centre, double width,
                     double height, int turn)
{
    double x = width / 2, y = turn * height / 2;
    shape_begin(g, s, centre.x - x, centre.y - y);
    shape_line(g, s, centre.x + x, centre.y - y);
    shape_line(g, s, centre.x + x, centre.y + y);
    shape_line(g, s, centre.x - x, centre.y + y);
    shape_line(g, s, centre.x - x, centre.y - y);
}

void shape_free(struct shape *s)
{
    free(s->fills);
    free(s->contours);
    free(s->segs);
    *s = (struct shape){0};
}

/* ---- areas ---- */
void area_fill(struct gerber *g, struct area *a, bool adds)
{
    if (grow(g, &a->fills, sizeof *a->fills, &a->fill_capacity, a->fill_count + 1))
        a->fills[a->fill_count++] =
            (struct fill){.first_contour = (uint32_t)a->contour_count, .adds = adds};
}

void area_begin(struct gerber *g, struct area *a, struct pos_nm start)
{
    if (a->fill_count == 0 ||
        !grow(g, &a->contours, sizeof *a->contours, &a->contour_capacity, a->contour_count + 1))
        return;
    a->contours[a->contour_count++] =
        (struct contour){.start = start, .first_seg = (uint32_t)a->seg_count};
    a->fills[a->fill_count - 1].contour_count++;
}

struct seg *area_segs(struct gerber *g, struct area *a, size_t count)
{
    if (a->contour_count == 0 || !is_within_seg_limit(g, a->seg_count + count) ||
        !grow(g, &a->segs, sizeof *a->segs, &a->seg_capacity, a->seg_count + count))
        return NULL;
    struct seg *segs = &a->segs[a->seg_count];
    a->seg_count += count;
    a->contours[a->contour_count - 1].seg_count += (uint32_t)count;
    return segs;
}

void area_arc(struct gerber *g, struct area *a, struct pos_nm to, struct point centre, int turn)
{
    struct seg *seg = area_segs(g, a, 1);
    if (seg)
        *seg = (struct seg){
            .to = to, .turn = (int8_t)turn, .centre_x_nm = centre.x, .centre_y_nm = centre.y};
}

static bool is_off_centre(struct pos_nm p, struct point centre)
{
    return hypot((double)p.x_nm - centre.x, (double)p.y_nm - centre.y) > 0.25;
}

void area_open_arc(struct gerber *g, struct area *a, struct pos_nm from, struct pos_nm to,
                   struct point centre, int turn, bool is_long)
{
    bool is_point = from.x_nm == to.x_nm && from.y_nm == to.y_nm;
    if (!is_off_centre(from, centre) || !is_off_centre(to, centre))
        area_line(g, a, to); /* an arc without a radius */
    else if (!is_point || is_long)
        area_arc(g, a, to, centre, turn);
}

void area_line(struct gerber *g, struct area *a, struct pos_nm to)
{
    area_arc(g, a, to, (struct point){0, 0}, 0);
}

void area_circle(struct gerber *g, struct area *a, struct point centre, double radius)
{
    struct pos_nm start = gerber_round_point(g, (struct point){centre.x + radius, centre.y});
    area_begin(g, a, start);
    area_arc(g, a, start, centre, 1);
}

void area_clear(struct area *a)
{
    a->fill_count = a->contour_count = a->seg_count = 0;
}

void area_free(struct area *a)
{
    free(a->fills);
    free(a->contours);
    free(a->segs);
    *a = (struct area){0};
}

void sheet_free(struct sheet *s)
{
    area_free(&s->area);
    free(s->objects);
    s->objects = NULL;
    s->object_count = s->object_capacity = 0;
}

struct object *sheet_object(struct gerber *g, enum object_kind kind)
{
    struct sheet *s = g->sheet;
    if (s->object_count >= g->max_objects) {
        g->is_too_large = true;
        return NULL;
    }
    if (!grow(g, &s->objects, sizeof *s->objects, &s->object_capacity, s->object_count + 1))
        return NULL;
    struct object *object = &s->objects[s->object_count++];
    uint32_t tool = kind == OBJECT_REGION ? ISTHMUS_NONE : g->tool;
    *object = (struct object){.kind = kind,
                              .is_dark = !g->is_clear,
                              .first_fill = (uint32_t)s->area.fill_count,
                              .aperture = tool,
                              .attrs = gerber_current_attrs(g, tool),
                              .at = g->word_at};
    return object;
}

/* ---- transforms ---- */
bool transform_is_identity(const struct transform *t)
{
    return !t->is_mirrored_x && !t->is_mirrored_y && t->rotation_deg == 0 && t->scale == 1;
}

bool transform_flips(const struct transform *t)
{
    return t->is_mirrored_x != t->is_mirrored_y;
}

/* Quarter turns are exact; cos and sin are not. */
static struct point unit_vector(double degrees)
{
    double turned = fmod(degrees, 360);
    if (turned < 0)
        turned += 360;
    if (turned == 0)
        return (struct point){1, 0};
    if (turned == 90)
        return (struct point){0, 1};
    if (turned == 180)
        return (struct point){-1, 0};
    if (turned == 270)
        return (struct point){0, -1};
    return (struct point){cos(turned * M_PI / 180), sin(turned * M_PI / 180)};
}

struct point transform_point(const struct transform *t, struct point p)
{
    if (t->is_mirrored_x)
        p.x = -p.x;
    if (t->is_mirrored_y)
        p.y = -p.y;
    struct point u = unit_vector(t->rotation_deg);
    return (struct point){t->scale * (u.x * p.x - u.y * p.y), t->scale * (u.y * p.x + u.x * p.y)};
}

/* Arcs of shapes are full circles or no longer than half of one. */
static void round_contour(struct gerber *g, const struct shape *s,
                          const struct shape_contour *contour, const struct transform *t,
                          struct area *out)
{
    int flip = transform_flips(t) ? -1 : 1;
    struct point from = contour->start;
    struct pos_nm at = gerber_round_point(g, transform_point(t, from));
    area_begin(g, out, at);
    for (uint32_t i = 0; i < contour->seg_count; i++) {
        const struct shape_seg *seg = &s->segs[contour->first_seg + i];
        struct pos_nm to = gerber_round_point(g, transform_point(t, seg->to));
        bool is_full = from.x == seg->to.x && from.y == seg->to.y;
        if (seg->turn)
            area_open_arc(g, out, at, to, transform_point(t, seg->centre), flip * seg->turn,
                          is_full);
        else
            area_line(g, out, to);
        from = seg->to;
        at = to;
    }
}

void area_from_shape(struct gerber *g, const struct shape *s, const struct transform *t,
                     struct area *out)
{
    area_clear(out);
    for (size_t f = 0; f < s->fill_count; f++) {
        area_fill(g, out, s->fills[f].adds);
        for (uint32_t c = 0; c < s->fills[f].contour_count; c++)
            round_contour(g, s, &s->contours[s->fills[f].first_contour + c], t, out);
    }
}

static void append_segs(struct gerber *g, struct area *to, const struct seg *from, size_t count,
                        struct pos_nm by)
{
    struct seg *segs = area_segs(g, to, count);
    for (size_t i = 0; segs && i < count; i++)
        segs[i] = (struct seg){.to = {from[i].to.x_nm + by.x_nm, from[i].to.y_nm + by.y_nm},
                               .turn = from[i].turn,
                               .centre_x_nm = from[i].centre_x_nm + (double)by.x_nm,
                               .centre_y_nm = from[i].centre_y_nm + (double)by.y_nm};
}

/* `to` and `from` may be one and the same: indices are read before anything grows. */
void area_append(struct gerber *g, struct area *to, const struct area *from, size_t first_fill,
                 size_t fill_count, struct pos_nm by)
{
    for (size_t f = first_fill; f < first_fill + fill_count; f++) {
        struct fill fill = from->fills[f];
        area_fill(g, to, fill.adds);
        for (size_t c = 0; c < fill.contour_count && !gerber_should_stop(g); c++) {
            struct contour contour = from->contours[fill.first_contour + c];
            area_begin(g, to,
                       (struct pos_nm){contour.start.x_nm + by.x_nm, contour.start.y_nm + by.y_nm});
            size_t needed = to->seg_count + contour.seg_count;
            if (contour.seg_count && is_within_seg_limit(g, needed) &&
                grow(g, &to->segs, sizeof *to->segs, &to->seg_capacity, needed))
                append_segs(g, to, from->segs + contour.first_seg, contour.seg_count, by);
        }
    }
}

/* ---- extents ---- */
void box_init(struct box *box)
{
    box->min = (struct pos_nm){INT64_MAX, INT64_MAX};
    box->max = (struct pos_nm){INT64_MIN, INT64_MIN};
}

static void box_add(struct box *box, int64_t x_nm, int64_t y_nm)
{
    if (x_nm < box->min.x_nm)
        box->min.x_nm = x_nm;
    if (x_nm > box->max.x_nm)
        box->max.x_nm = x_nm;
    if (y_nm < box->min.y_nm)
        box->min.y_nm = y_nm;
    if (y_nm > box->max.y_nm)
        box->max.y_nm = y_nm;
}

/* Does the arc from angle `from`, turning counterclockwise by `sweep`, pass the angle? */
static bool passes(double from, double sweep, double angle)
{
    double way = fmod(angle - from, 2 * M_PI);
    if (way < 0)
        way += 2 * M_PI;
    return way <= sweep;
}

static void box_add_arc(struct box *box, struct pos_nm from, const struct seg *seg)
{
    double cx = seg->centre_x_nm, cy = seg->centre_y_nm;
    double fx = (double)from.x_nm - cx, fy = (double)from.y_nm - cy;
    double tx = (double)seg->to.x_nm - cx, ty = (double)seg->to.y_nm - cy;
    double r = fmax(hypot(fx, fy), hypot(tx, ty));
    if (cx - r >= (double)box->min.x_nm && cx + r <= (double)box->max.x_nm &&
        cy - r >= (double)box->min.y_nm && cy + r <= (double)box->max.y_nm)
        return;
    double first = seg->turn > 0 ? atan2(fy, fx) : atan2(ty, tx);
    double last = seg->turn > 0 ? atan2(ty, tx) : atan2(fy, fx);
    bool is_full = from.x_nm == seg->to.x_nm && from.y_nm == seg->to.y_nm;
    double sweep = last - first;
    if (sweep <= 0 || is_full)
        sweep = is_full ? 2 * M_PI : sweep + 2 * M_PI;
    static const int8_t axis[4][2] = {{1, 0}, {0, 1}, {-1, 0}, {0, -1}};
    for (int i = 0; i < 4; i++)
        if (passes(first, sweep, i * M_PI / 2))
            box_add(box, llround(cx + axis[i][0] * r), llround(cy + axis[i][1] * r));
}

void box_add_seg(struct box *box, struct pos_nm from, const struct seg *seg)
{
    box_add(box, seg->to.x_nm, seg->to.y_nm);
    if (seg->turn)
        box_add_arc(box, from, seg);
}

void box_add_area(struct box *box, const struct area *a)
{
    for (size_t c = 0; c < a->contour_count; c++) {
        struct pos_nm from = a->contours[c].start;
        box_add(box, from.x_nm, from.y_nm);
        for (uint32_t i = 0; i < a->contours[c].seg_count; i++) {
            const struct seg *seg = &a->segs[a->contours[c].first_seg + i];
            box_add_seg(box, from, seg);
            from = seg->to;
        }
    }
}
