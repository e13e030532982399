/* How long is the narrow stretch about a chord? Its ends walk along the copper's edge. */
#include "neck/place.h"

#include <math.h>
#include <stdlib.h>

#define STEPS_PER_WIDTH 32 /* how fine the ends walk */
#define STEP_LIMIT 200000  /* then the stretch is long enough to be told as it is */
#define POINT_EVERY 16     /* one middle point kept in so many steps */
#define MIN_STEP_NM 500.0
#define FACING 0.5      /* sine of the angle by which a chord may leave the copper at an end */
#define END_SHARE 0.1   /* of the needed width: so far a stretch reaches beyond where it was left */
#define EVEN_SHARE 0.05 /* of a step: where it makes no more difference, both ends go alike */

/* A place on the boundary of a domain: along a boundary edge, copper on the left. */
struct walker {
    const struct domain *domain;
    uint32_t tri;
    uint8_t side;
    double at_nm; /* from the edge's start */
    int way;      /* +1 forward, -1 backward */
    double x, y;
};

static struct pt walker_start(const struct walker *w)
{
    return w->domain->points[w->domain->corner[w->tri][next_corner(w->side)]];
}

static struct pt walker_end(const struct walker *w)
{
    return w->domain->points[w->domain->corner[w->tri][previous_corner(w->side)]];
}

static double edge_nm(const struct walker *w)
{
    struct pt a = walker_start(w), b = walker_end(w);
    return hypot((double)b.x - a.x, (double)b.y - a.y);
}

static void take_place(struct walker *w)
{
    struct pt a = walker_start(w), b = walker_end(w);
    double length = edge_nm(w), t = length > 0 ? w->at_nm / length : 0;
    w->x = a.x + t * ((double)b.x - a.x);
    w->y = a.y + t * ((double)b.y - a.y);
}

static void next_edge(struct walker *w)
{
    const uint32_t *corner = w->domain->corner[w->tri];
    uint32_t vertex = corner[w->way > 0 ? previous_corner(w->side) : next_corner(w->side)];
    const struct domain_vertex *v = &w->domain->vertices[vertex];
    w->tri = w->way > 0 ? v->out_tri : v->in_tri;
    w->side = w->way > 0 ? v->out_side : v->in_side;
    w->at_nm = w->way > 0 ? 0 : edge_nm(w);
}

/* The walker a step further; corners are walked round, never cut. */
static struct walker stepped(struct walker w, double step_nm)
{
    for (int corners = 0; corners < 1000; corners++) {
        double left = w.way > 0 ? edge_nm(&w) - w.at_nm : w.at_nm;
        if (left > step_nm) {
            w.at_nm += w.way * step_nm;
            break;
        }
        step_nm -= left;
        next_edge(&w);
    }
    take_place(&w);
    return w;
}

static double gap_nm(const struct walker *a, const struct walker *b)
{
    return hypot(a->x - b->x, a->y - b->y);
}

/*
 * Does the chord leave the edge at a into the copper? Past the end of a spoke, or a quarter round a
 * hole, it would run through what is none. (A little of that is let pass: where an edge has a bump
 * the chord is not upright everywhere.)
 */
static bool faces(const struct walker *a, const struct walker *b)
{
    struct pt p = walker_start(a), q = walker_end(a);
    double ex = (double)q.x - p.x, ey = (double)q.y - p.y;
    double cross = ex * (b->y - a->y) - ey * (b->x - a->x);
    return cross >= -FACING * edge_nm(a) * gap_nm(a, b);
}

/* The boundary edge that passes within 2 nm of a point, the nearest one. */
static bool find_place(const struct domain *domain, const struct edge_index *edges, struct pt at,
                       struct walker *out)
{
    double best = 2;
    bool is_found = false;
    size_t count;
    const struct domain_edge *near = edge_index_near(edges, at, &count);
    for (size_t k = 0; k < count; k++) {
        struct walker w = {.domain = domain, .tri = near[k].tri, .side = near[k].side};
        struct pt a = walker_start(&w), b = walker_end(&w);
        double length = edge_nm(&w);
        w.at_nm = fmin(length, fmax(0, (double)dot(a, b, at) / length));
        take_place(&w);
        double off = hypot(w.x - at.x, w.y - at.y);
        if (off < best) {
            best = off;
            *out = w;
            is_found = true;
        }
    }
    return is_found;
}

static bool add_point(struct stretch *out, const struct walker *a, const struct walker *b)
{
    if (!array_grow(&out->points, sizeof *out->points, &out->capacity, out->count + 1))
        return false;
    out->points[out->count++] =
        (struct pt){(int32_t)lrint((a->x + b->x) / 2), (int32_t)lrint((a->y + b->y) / 2)};
    return true;
}

/* Both ends walk one way until the chord between them has the width that is needed. */
static bool walk(struct walker a, struct walker b, double needed_nm, struct stretch *out)
{
    double step = fmax(gap_nm(&a, &b) / STEPS_PER_WIDTH, MIN_STEP_NM);
    bool ok = add_point(out, &a, &b);
    long steps_a = 0;
    for (long i = 1; ok && i < STEP_LIMIT; i++) {
        struct walker next_a = stepped(a, step), next_b = stepped(b, step);
        double with_a = gap_nm(&next_a, &b), with_b = gap_nm(&a, &next_b);
        bool moves_a = with_a < with_b;
        if (fabs(with_a - with_b) < step * EVEN_SHARE)
            moves_a = 2 * steps_a < i;
        steps_a += moves_a;
        double gap = moves_a ? with_a : with_b;
        struct walker *moved = moves_a ? &a : &b;
        const struct walker *next = moves_a ? &next_a : &next_b;
        if (gap >= needed_nm || gap < step || !faces(next, moves_a ? &b : &a))
            break;
        *moved = *next;
        if (i % POINT_EVERY == 0)
            ok = add_point(out, &a, &b);
    }
    return ok && add_point(out, &a, &b);
}

static void reverse(struct stretch *stretch)
{
    for (size_t i = 0, j = stretch->count; i + 1 < j; i++) {
        struct pt kept = stretch->points[i];
        stretch->points[i] = stretch->points[--j];
        stretch->points[j] = kept;
    }
}

static void push_out(struct pt *end, struct pt inner, double by_nm)
{
    double x = (double)end->x - inner.x, y = (double)end->y - inner.y, length = hypot(x, y);
    if (length > 0)
        *end = (struct pt){(int32_t)lrint(end->x + x / length * by_nm),
                           (int32_t)lrint(end->y + y / length * by_nm)};
}

/* Chords at the very ends belong to the stretch. */
static void lengthen(struct stretch *stretch, double by_nm)
{
    size_t last = stretch->count - 1;
    if (stretch->count < 2)
        return;
    push_out(&stretch->points[0], stretch->points[1], by_nm);
    push_out(&stretch->points[last], stretch->points[last - 1], by_nm);
}

static int32_t lesser(int32_t a, int32_t b)
{
    return a < b ? a : b;
}

static int32_t greater(int32_t a, int32_t b)
{
    return a > b ? a : b;
}

static void bound(struct stretch *stretch)
{
    stretch->low = (struct pt){INT32_MAX, INT32_MAX};
    stretch->high = (struct pt){INT32_MIN, INT32_MIN};
    for (size_t i = 0; i < stretch->count; i++) {
        struct pt p = stretch->points[i];
        stretch->low = (struct pt){lesser(stretch->low.x, p.x), lesser(stretch->low.y, p.y)};
        stretch->high = (struct pt){greater(stretch->high.x, p.x), greater(stretch->high.y, p.y)};
    }
}

static bool is_clear_of(const struct stretch *stretch, struct pt a, struct pt b)
{
    return greater(a.x, b.x) < stretch->low.x || lesser(a.x, b.x) > stretch->high.x ||
           greater(a.y, b.y) < stretch->low.y || lesser(a.y, b.y) > stretch->high.y;
}

static size_t sheet_at(const struct network *network, uint16_t position)
{
    size_t s = 0;
    while (s < network->sheet_count && network->net->sheets[s].position != position)
        s++;
    return s;
}

bool stretch_index(const struct network *network, struct arena *arena, struct stretch_places *out)
{
    out->of_sheet = arena_alloc(arena, network->sheet_count + 1, sizeof *out->of_sheet);
    for (size_t s = 0; out->of_sheet && s < network->sheet_count; s++) {
        out->of_sheet[s] = edge_index_new(&network->domains[s], arena);
        if (!out->of_sheet[s])
            return false;
    }
    return out->of_sheet != NULL;
}

enum neck_status stretch_measure(const struct network *network, const struct stretch_places *places,
                                 const struct neck_piece *piece, double needed_mm,
                                 struct stretch *out)
{
    struct walker a, b;
    size_t s = sheet_at(network, piece->position);
    *out = (struct stretch){.position = piece->position};
    if (piece->kind != PIECE_CHORD || s == network->sheet_count || needed_mm <= piece->length_mm ||
        !find_place(&network->domains[s], places->of_sheet[s], piece->a, &a) ||
        !find_place(&network->domains[s], places->of_sheet[s], piece->b, &b))
        return NECK_OK;
    /* Copper lies to the left of its edge: a goes forward and b backward to the chord's right. */
    a.way = 1;
    b.way = -1;
    bool ok = walk(a, b, needed_mm * 1e6, out);
    reverse(out);
    a.way = -1;
    b.way = 1;
    ok = ok && walk(a, b, needed_mm * 1e6, out);
    for (size_t i = 1; ok && i < out->count; i++)
        out->length_mm += sqrt((double)distance2(out->points[i - 1], out->points[i])) * 1e-6;
    if (ok) {
        lengthen(out, needed_mm * 1e6 * END_SHARE);
        bound(out);
        return NECK_OK;
    }
    free(out->points);
    *out = (struct stretch){0};
    return NECK_NO_MEMORY;
}

bool stretch_covers(const struct stretch *stretch, const struct neck_piece *piece)
{
    if (piece->kind != PIECE_CHORD || piece->position != stretch->position ||
        is_clear_of(stretch, piece->a, piece->b))
        return false;
    for (size_t i = 1; i < stretch->count; i++) {
        struct pt p = stretch->points[i - 1], q = stretch->points[i];
        if (orient(piece->a, piece->b, p) * orient(piece->a, piece->b, q) <= 0 &&
            orient(p, q, piece->a) * orient(p, q, piece->b) <= 0)
            return true;
    }
    return false;
}
