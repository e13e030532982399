/*
 * Of pieces that can be slid into each other, the shortest is enough.
 *
 * Where two stretches of boundary face each other the triangulation between them is a strip: each
 * of its triangles has one side on the boundary and the corner opposite to it on the other stretch,
 * and joins the next one by a side that no outline runs along. Two pieces that cross the same strip
 * from one stretch to the other enclose nothing but plain copper (or copper of one contact, which
 * both sever), and boundary that costs nothing to follow: so a cut with the longer one may take the
 * shorter one instead. Arcs with a common centre, and spokes' gaps about a drilled pad, would
 * otherwise give a piece at each of their vertices, all of one length, each crossing all that
 * passes there.
 *
 * A piece that stands on the rim of a plated hole, at a right angle or more to it on either side,
 * belongs to cuts that run on through the hole: a curve pulled tight never arrives so and then hugs
 * the rim. For such a piece the rim, too, costs nothing to follow.
 */
#include "neck/taut.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define UNKNOWN_HOLE (ISTHMUS_NONE - 1)
/* What lies between two narrow places is wider than both by a fifth at least; with less they are
 * one narrow stretch, as along a jagged edge. */
#define RIDGE 1.2
#define ROUNDING_NM 2.0

struct strip_triangle {
    uint32_t strip;      /* or ISTHMUS_NONE */
    uint8_t border;      /* the side on the boundary */
    bool is_border_left; /* seen along the strip */
    uint32_t order;      /* counts along each strip, and on in the next one */
};
struct strips {
    const struct domain *domain;
    struct strip_triangle *of;
    double *width_nm; /* by order: from the corner to the boundary across */
    uint32_t count, rung_count;
};
/* A piece across a strip; left, right: the plated hole whose rim it ends on, or ISTHMUS_NONE. */
struct crosser {
    uint32_t strip, left, right, chord;
    uint32_t left_at, right_at; /* order of the triangles that it ends in */
    double cost_nm;
    int64_t x2_nm, y2_nm; /* twice its middle */
};

bool taut_ends_in_hole(const struct domain *domain, uint32_t vertex, struct pt other,
                       uint32_t *hole)
{
    const struct domain_vertex *v = &domain->vertices[vertex];
    *hole = ISTHMUS_NONE;
    if (!v->is_boundary || v->is_pinch)
        return false;
    uint32_t before = domain_rim_hole(domain, v->in_tri, v->in_side);
    uint32_t after = domain_rim_hole(domain, v->out_tri, v->out_side);
    if (before != after || before == ISTHMUS_NONE)
        return false;
    struct pt at = domain->points[vertex];
    struct pt next = domain->points[domain->corner[v->out_tri][previous_corner(v->out_side)]];
    struct pt last = domain->points[domain->corner[v->in_tri][next_corner(v->in_side)]];
    *hole = before;
    return dot(at, next, other) <= 0 && dot(at, last, other) <= 0;
}

/* ---- strips ---- */

static bool is_border(const struct domain *domain, uint32_t tri, unsigned side)
{
    return domain->neighbour[tri][side] == ISTHMUS_NONE || domain->pocket_nm[tri][side] > 0;
}

static bool is_rung(const struct domain *domain, uint32_t tri, uint8_t *border)
{
    unsigned count = 0;
    for (unsigned i = 0; i < 3; i++) {
        if (!is_border(domain, tri, i))
            continue;
        *border = (uint8_t)i;
        count++;
    }
    return count == 1 && domain->vertices[domain->corner[tri][*border]].is_boundary;
}

/* The triangle of a strip across one of its sides, or ISTHMUS_NONE. */
static uint32_t next_rung(const struct strips *strips, uint32_t tri, unsigned side)
{
    const struct domain *domain = strips->domain;
    uint32_t across = domain->neighbour[tri][side];
    uint8_t border = 0;
    bool is_joined = across != ISTHMUS_NONE && domain->bound[tri][side] == ISTHMUS_NONE &&
                     is_rung(domain, across, &border) &&
                     border != side_towards(domain, across, tri);
    return is_joined ? across : ISTHMUS_NONE;
}

/* The side of a rung that is neither its border nor `in`. */
static unsigned way_on(unsigned border, unsigned in)
{
    return 3 - border - in;
}

/* From a rung's corner to the boundary across from it, with what lies in a pocket there. */
static double rung_width_nm(const struct domain *domain, uint32_t tri, unsigned border)
{
    return domain_corner_nm(domain, tri, border) + domain->pocket_nm[tri][border];
}

/*
 * Follows a strip from `start`, entered by side `in`, as far as it goes (or once round). Where
 * either stretch of boundary changes from free to a rim or back another strip begins: nothing
 * slides past there.
 */
static void follow(struct strips *strips, uint32_t start, unsigned in)
{
    const struct domain *domain = strips->domain;
    uint32_t hole[2] = {UNKNOWN_HOLE, UNKNOWN_HOLE}, tri = start;
    do {
        uint8_t border = 0;
        is_rung(domain, tri, &border);
        bool is_left = border == previous_corner(in);
        uint32_t along = domain_rim_hole(domain, tri, border);
        if (hole[is_left] != UNKNOWN_HOLE && hole[is_left] != along)
            strips->count++;
        hole[is_left] = along;
        strips->of[tri] =
            (struct strip_triangle){strips->count, border, is_left, strips->rung_count};
        strips->width_nm[strips->rung_count++] = rung_width_nm(domain, tri, border);
        uint32_t next = next_rung(strips, tri, way_on(border, in));
        if (next != ISTHMUS_NONE)
            in = side_towards(domain, next, tri);
        tri = next;
    } while (tri != ISTHMUS_NONE && tri != start);
    strips->count++;
}

/* Where the strip that `tri` lies in begins (any rung of it, when it is a ring). */
static uint32_t first_rung(const struct strips *strips, uint32_t tri, unsigned *in)
{
    const struct domain *domain = strips->domain;
    uint8_t border = 0;
    is_rung(domain, tri, &border);
    uint32_t start = tri;
    unsigned back = next_corner(border);
    for (;;) {
        uint32_t before = next_rung(strips, tri, back);
        *in = back;
        if (before == ISTHMUS_NONE || before == start)
            return tri;
        is_rung(domain, before, &border);
        back = way_on(border, side_towards(domain, before, tri));
        tri = before;
    }
}

static bool find_strips(const struct domain *domain, struct strips *out)
{
    *out = (struct strips){.domain = domain};
    out->of = malloc(((size_t)domain->tri_count + 1) * sizeof *out->of);
    out->width_nm = malloc(((size_t)domain->tri_count + 1) * sizeof *out->width_nm);
    if (!out->of || !out->width_nm)
        return false;
    memset(out->of, 0xff, ((size_t)domain->tri_count + 1) * sizeof *out->of);
    for (uint32_t t = 0; t < domain->tri_count; t++) {
        uint8_t border = 0;
        unsigned in = 0;
        if (out->of[t].strip != ISTHMUS_NONE || !is_rung(domain, t, &border))
            continue;
        uint32_t start = first_rung(out, t, &in);
        follow(out, start, in);
    }
    return true;
}

/* ---- pieces across them ---- */

/* On which side of the strip does a corner of one of its triangles lie? */
static bool is_corner_left(const struct strips *strips, uint32_t tri, unsigned corner)
{
    const struct strip_triangle *rung = &strips->of[tri];
    return (corner != rung->border) == rung->is_border_left;
}

/* A triangle of a strip with both ends of a piece that runs along a side of the mesh. */
static bool find_side(const struct strips *strips, const struct chord *chord, uint32_t *tri)
{
    const struct domain *domain = strips->domain;
    uint32_t at = domain->vertices[chord->vertex_a].out_tri;
    while (at != ISTHMUS_NONE) {
        const uint32_t *corner = domain->corner[at];
        bool has_b = corner[0] == chord->vertex_b || corner[1] == chord->vertex_b ||
                     corner[2] == chord->vertex_b;
        *tri = at;
        if (has_b && strips->of[at].strip != ISTHMUS_NONE)
            return true;
        at = domain->neighbour[at][next_corner(corner_of(domain, at, chord->vertex_a))];
    }
    return false;
}

/* Walks a piece through the triangles of one strip to its end; false when it leaves the strip. */
static bool walk_strip(const struct strips *strips, const struct chord *chord, uint32_t *tri,
                       unsigned side, bool *is_end_left)
{
    const struct domain *domain = strips->domain;
    struct pt d = taut_direction(domain, chord);
    uint32_t strip = strips->of[*tri].strip;
    for (;;) {
        if (*tri == chord->foot_tri && side == chord->foot_side) {
            *is_end_left = strips->of[*tri].is_border_left;
            return side == strips->of[*tri].border;
        }
        uint32_t next = domain->neighbour[*tri][side];
        if (next == ISTHMUS_NONE || strips->of[next].strip != strip ||
            domain->bound[*tri][side] != ISTHMUS_NONE)
            return false;
        unsigned apex = side_towards(domain, next, *tri);
        *tri = next;
        if (domain->corner[next][apex] == chord->vertex_b) {
            *is_end_left = is_corner_left(strips, next, apex);
            return true;
        }
        int where = turn(d, direction(chord->a, domain->points[domain->corner[next][apex]]));
        if (where == 0)
            return false;
        side = where > 0 ? next_corner(apex) : previous_corner(apex);
    }
}

/* Does the piece end where it may be slid along: on free boundary, or standing on a rim? */
static bool is_end_loose(const struct domain *domain, uint32_t vertex, struct pt other,
                         uint32_t *hole)
{
    const struct domain_vertex *v = &domain->vertices[vertex];
    if (!v->is_boundary || v->is_pinch)
        return false;
    if (taut_ends_in_hole(domain, vertex, other, hole))
        return true;
    return *hole == ISTHMUS_NONE &&
           domain_rim_hole(domain, v->in_tri, v->in_side) == ISTHMUS_NONE &&
           domain_rim_hole(domain, v->out_tri, v->out_side) == ISTHMUS_NONE;
}

static bool is_b_loose(const struct domain *domain, const struct chord *chord, uint32_t *hole)
{
    if (chord->vertex_b != ISTHMUS_NONE)
        return is_end_loose(domain, chord->vertex_b, chord->a, hole);
    *hole = domain_rim_hole(domain, chord->foot_tri, chord->foot_side);
    return true;
}

static bool find_ends(const struct strips *strips, const struct chord *chord, struct crosser *out,
                      bool *is_a_left, bool *is_b_left)
{
    uint32_t *from = &out->left_at, *to = &out->right_at; /* of a and b, until sides are known */
    const struct domain *domain = strips->domain;
    uint32_t tri;
    unsigned corner;
    bool is_inside = taut_first_triangle(domain, chord, &tri, &corner);
    if (!is_inside && !(chord->vertex_b != ISTHMUS_NONE && find_side(strips, chord, &tri)))
        return false;
    out->strip = strips->of[tri].strip;
    if (out->strip == ISTHMUS_NONE)
        return false;
    *is_a_left = is_corner_left(strips, tri, corner_of(domain, tri, chord->vertex_a));
    *from = *to = strips->of[tri].order;
    if (is_inside) {
        bool is_through = walk_strip(strips, chord, &tri, corner, is_b_left);
        *to = strips->of[tri].order;
        return is_through;
    }
    *is_b_left = is_corner_left(strips, tri, corner_of(domain, tri, chord->vertex_b));
    return true;
}

static bool is_crosser(const struct strips *strips, const struct chord *chord, struct crosser *out)
{
    uint32_t hole_a, hole_b;
    bool is_a_left = false, is_b_left = false;
    if (!is_end_loose(strips->domain, chord->vertex_a, chord->b, &hole_a) ||
        !is_b_loose(strips->domain, chord, &hole_b) ||
        !find_ends(strips, chord, out, &is_a_left, &is_b_left) || is_a_left == is_b_left)
        return false;
    if (!is_a_left) {
        uint32_t kept = out->left_at;
        out->left_at = out->right_at;
        out->right_at = kept;
    }
    out->left = is_a_left ? hole_a : hole_b;
    out->right = is_a_left ? hole_b : hole_a;
    out->x2_nm = (int64_t)chord->a.x + chord->b.x;
    out->y2_nm = (int64_t)chord->a.y + chord->b.y;
    out->cost_nm = chord->length_nm - chord->loss_a_nm - chord->loss_b_nm;
    return true;
}

static int compare_groups(const struct crosser *a, const struct crosser *b)
{
    if (a->strip != b->strip)
        return a->strip < b->strip ? -1 : 1;
    if (a->left != b->left)
        return a->left < b->left ? -1 : 1;
    return (a->right > b->right) - (a->right < b->right);
}

/* Along the strip. */
static int compare_crossers(const void *left, const void *right)
{
    const struct crosser *a = left, *b = right;
    int order = compare_groups(a, b);
    if (order)
        return order;
    uint64_t at_a = (uint64_t)a->left_at + a->right_at, at_b = (uint64_t)b->left_at + b->right_at;
    if (at_a != at_b)
        return at_a < at_b ? -1 : 1;
    return (a->chord > b->chord) - (a->chord < b->chord);
}

static double widest_from_to(const struct strips *strips, uint32_t a, uint32_t b)
{
    double widest = 0;
    uint32_t end = a < b ? b : a;
    for (uint32_t k = a < b ? a : b; a != b && k <= end; k++)
        widest = fmax(widest, strips->width_nm[k]);
    return widest;
}

/* The widest place of a strip between the ends of two pieces, on either side. */
static double widest_between(const struct strips *strips, const struct crosser *a,
                             const struct crosser *b)
{
    return fmax(widest_from_to(strips, a->left_at, b->left_at),
                widest_from_to(strips, a->right_at, b->right_at));
}

/* Of two as short, to the rounding of coordinates, the one further left (or below), so that what
 * stands for a stretch of one width does not hang on how the drawing was written. */
static bool is_preferred(const struct crosser *a, const struct crosser *b, double least_nm)
{
    bool is_a_short = a->cost_nm <= least_nm + ROUNDING_NM;
    bool is_b_short = b->cost_nm <= least_nm + ROUNDING_NM;
    if (!is_a_short || !is_b_short)
        return is_a_short;
    if (llabs(a->x2_nm - b->x2_nm) > 2 * (int64_t)ROUNDING_NM)
        return a->x2_nm < b->x2_nm;
    return a->y2_nm < b->y2_nm;
}

/*
 * Keeps the shortest of each narrow place: where the strip is wider than both between two pieces,
 * they are two places in a row, and both have to be told.
 */
static void mark_longer(const struct strips *strips, struct crosser *crossers, size_t count,
                        bool *is_spare)
{
    size_t best = 0;
    double ridge_nm = 0, least_nm = INFINITY;
    if (count)
        qsort(crossers, count, sizeof *crossers, compare_crossers);
    for (size_t i = 1; i < count; i++) {
        bool is_same_strip = compare_groups(&crossers[i - 1], &crossers[i]) == 0;
        if (is_same_strip)
            ridge_nm = fmax(ridge_nm, widest_between(strips, &crossers[i - 1], &crossers[i]));
        double longer_nm = fmax(crossers[best].cost_nm, crossers[i].cost_nm);
        bool is_next = !is_same_strip || ridge_nm > longer_nm * RIDGE;
        least_nm =
            fmin(is_next ? INFINITY : fmin(least_nm, crossers[best].cost_nm), crossers[i].cost_nm);
        if (is_next) {
            best = i;
            ridge_nm = 0;
        } else if (is_preferred(&crossers[i], &crossers[best], least_nm)) {
            is_spare[crossers[best].chord] = true;
            best = i;
            ridge_nm = 0;
        } else {
            is_spare[crossers[i].chord] = true;
        }
    }
}

enum neck_status taut_thin_strips(const struct domain *domain, struct chord_list *list)
{
    struct strips strips;
    struct crosser *crossers = malloc((list->count + 1) * sizeof *crossers);
    bool *is_spare = calloc(list->count + 1, sizeof *is_spare);
    bool ok = find_strips(domain, &strips) && crossers && is_spare;
    size_t count = 0, kept = 0;
    for (size_t i = 0; ok && i < list->count; i++)
        if (is_crosser(&strips, &list->items[i], &crossers[count]))
            crossers[count++].chord = (uint32_t)i;
    if (ok)
        mark_longer(&strips, crossers, count, is_spare);
    for (size_t i = 0; ok && i < list->count; i++)
        if (!is_spare[i])
            list->items[kept++] = list->items[i];
    if (ok)
        list->count = kept;
    free(strips.of);
    free(strips.width_nm);
    free(crossers);
    free(is_spare);
    return ok ? NECK_OK : NECK_NO_MEMORY;
}
