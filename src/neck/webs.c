/* The narrowest webs between openings of the copper, and spokes about contacts. */
#include "neck/webs.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/*
 * The openings of a thermal relief lie within this of the pad that they surround; larger ones are
 * openings of the pour that happen to touch it. (common practice, no source: gaps are 0.2 to 0.5 mm
 * wide)
 */
#define GAP_REACH_NM 1e6

struct box {
    double x0, y0, x1, y1;
};
/* The nearest two different edges of the copper, from a plated hole. */
struct nearest {
    uint32_t edge[2];
    double distance_nm[2];
};
struct web_search {
    const struct domain *domain;
    uint32_t *parent;  /* per vertex: closed edges as sets, named by their root */
    uint32_t *gap_of;  /* per root: the contact whose thermal relief it may be, or ISTHMUS_NONE */
    struct box *boxes; /* per root, then per contact */
    struct nearest *holes;
    struct webs *out;
};

static uint32_t find_root(uint32_t *parent, uint32_t x)
{
    while (parent[x] != x) {
        parent[x] = parent[parent[x]];
        x = parent[x];
    }
    return x;
}

/* Vertices of one closed edge of the copper get one root. */
static void join_edges(const struct domain *domain, uint32_t *parent)
{
    for (uint32_t v = 0; v < domain->point_count; v++)
        parent[v] = v;
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            if (domain->neighbour[t][i] != ISTHMUS_NONE)
                continue;
            uint32_t a = find_root(parent, domain->corner[t][next_corner(i)]);
            uint32_t b = find_root(parent, domain->corner[t][previous_corner(i)]);
            parent[a] = b;
        }
}

/* ---- which openings are gaps about a contact ---- */

static void grow(struct box *box, struct pt at)
{
    box->x0 = fmin(box->x0, at.x);
    box->x1 = fmax(box->x1, at.x);
    box->y0 = fmin(box->y0, at.y);
    box->y1 = fmax(box->y1, at.y);
}

static void measure_boxes(struct web_search *work)
{
    const struct domain *domain = work->domain;
    struct box *of_contact = work->boxes + domain->point_count;
    size_t count = domain->point_count + domain->net->contact_count;
    for (size_t i = 0; i < count; i++)
        work->boxes[i] = (struct box){INFINITY, INFINITY, -INFINITY, -INFINITY};
    for (uint32_t v = 0; v < domain->point_count; v++)
        if (domain->vertices[v].is_boundary)
            grow(&work->boxes[find_root(work->parent, v)], domain->points[v]);
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3 && domain->contact[t] != ISTHMUS_NONE; i++)
            grow(&of_contact[domain->contact[t]], domain->points[domain->corner[t][i]]);
}

static bool is_about(const struct box *gap, const struct box *contact)
{
    return gap->x0 >= contact->x0 - GAP_REACH_NM && gap->x1 <= contact->x1 + GAP_REACH_NM &&
           gap->y0 >= contact->y0 - GAP_REACH_NM && gap->y1 <= contact->y1 + GAP_REACH_NM;
}

/* An opening that the copper of several contacts reaches is a gap of none. */
static void note_gaps(struct web_search *work)
{
    const struct domain *domain = work->domain;
    for (uint32_t v = 0; v < domain->point_count; v++)
        work->gap_of[v] = ISTHMUS_NONE;
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3 && domain->contact[t] != ISTHMUS_NONE; i++) {
            if (domain->neighbour[t][i] != ISTHMUS_NONE)
                continue;
            uint32_t root = find_root(work->parent, domain->corner[t][next_corner(i)]);
            uint32_t *of = &work->gap_of[root];
            bool is_free = *of == ISTHMUS_NONE || *of == domain->contact[t];
            *of = is_free ? domain->contact[t] : (uint32_t)domain->net->contact_count;
        }
    for (uint32_t v = 0; v < domain->point_count; v++) {
        uint32_t contact = work->gap_of[v];
        if (contact < domain->net->contact_count &&
            !is_about(&work->boxes[v], &work->boxes[domain->point_count + contact]))
            work->gap_of[v] = ISTHMUS_NONE;
    }
}

static bool count_gaps(struct web_search *work)
{
    const struct domain *domain = work->domain;
    size_t contacts = domain->net->contact_count, room = contacts ? contacts : 1;
    uint32_t *spoke_of = calloc(room, sizeof *spoke_of);
    work->out->spokes = calloc(room, sizeof *work->out->spokes);
    if (!spoke_of || !work->out->spokes) {
        free(spoke_of);
        return false;
    }
    memset(spoke_of, 0xff, room * sizeof *spoke_of);
    for (uint32_t v = 0; v < domain->point_count; v++) {
        uint32_t contact = work->gap_of[v];
        if (contact >= contacts)
            continue;
        if (spoke_of[contact] == ISTHMUS_NONE) {
            spoke_of[contact] = (uint32_t)work->out->spoke_count++;
            work->out->spokes[spoke_of[contact]] = (struct spokes){contact, 0, INFINITY};
        }
        work->out->spokes[spoke_of[contact]].gap_count++;
        work->gap_of[v] = spoke_of[contact]; /* from here on: index into spokes */
    }
    free(spoke_of);
    return true;
}

/* ---- ways between them ---- */

static void note_web(struct web_search *work, uint32_t a, uint32_t b, double length_nm)
{
    if (a == b)
        return;
    uint32_t spokes = work->gap_of[a];
    double *shortest = &work->out->shortest_nm;
    if (spokes < work->out->spoke_count && work->gap_of[b] == spokes)
        shortest = &work->out->spokes[spokes].shortest_nm;
    *shortest = fmin(*shortest, length_nm);
}

/* What an end of a piece touches: a plated hole, an edge of the copper, or neither. */
struct touch {
    uint32_t hole, edge;
};

static struct touch touch_side(const struct web_search *work, uint32_t tri, unsigned side)
{
    const struct domain *domain = work->domain;
    struct touch touch = {domain_rim_hole(domain, tri, side), ISTHMUS_NONE};
    if (touch.hole == ISTHMUS_NONE)
        touch.edge = find_root(work->parent, domain->corner[tri][next_corner(side)]);
    return touch;
}

static struct touch touch_vertex(const struct web_search *work, uint32_t vertex)
{
    const struct domain_vertex *v = &work->domain->vertices[vertex];
    if (!v->is_boundary)
        return (struct touch){ISTHMUS_NONE, ISTHMUS_NONE};
    return touch_side(work, v->out_tri, v->out_side);
}

/* Lowers a hole's distance to an edge; keeps the nearest two edges. */
static bool lower_nearest(struct nearest *hole, uint32_t edge, double distance_nm)
{
    if (edge == ISTHMUS_NONE)
        return false;
    unsigned slot = hole->edge[0] == edge ? 0 : 1;
    if (distance_nm >= hole->distance_nm[slot])
        return false;
    hole->edge[slot] = edge;
    hole->distance_nm[slot] = distance_nm;
    if (hole->distance_nm[1] < hole->distance_nm[0])
        *hole = (struct nearest){{hole->edge[1], hole->edge[0]},
                                 {hole->distance_nm[1], hole->distance_nm[0]}};
    return true;
}

/* Over a piece from one hole to the next. */
static bool pass_on(const struct nearest *from, struct nearest *to, double length_nm)
{
    bool is_lower = lower_nearest(to, from->edge[0], from->distance_nm[0] + length_nm);
    return lower_nearest(to, from->edge[1], from->distance_nm[1] + length_nm) || is_lower;
}

/* One look at all pieces: true while distances of holes still fall. */
static bool look_at_all(struct web_search *work, const struct chord_list *list, bool is_last)
{
    bool is_lower = false;
    for (size_t i = 0; i < list->count; i++) {
        const struct chord *chord = &list->items[i];
        double length_nm = fmax(0, chord->length_nm - chord->loss_a_nm - chord->loss_b_nm);
        struct touch a = touch_vertex(work, chord->vertex_a);
        struct touch b = chord->vertex_b == ISTHMUS_NONE
                             ? touch_side(work, chord->foot_tri, chord->foot_side)
                             : touch_vertex(work, chord->vertex_b);
        if (is_last && a.edge != ISTHMUS_NONE && b.edge != ISTHMUS_NONE)
            note_web(work, a.edge, b.edge, length_nm);
        if (a.hole != ISTHMUS_NONE)
            is_lower |= lower_nearest(&work->holes[a.hole], b.edge, length_nm);
        if (b.hole != ISTHMUS_NONE)
            is_lower |= lower_nearest(&work->holes[b.hole], a.edge, length_nm);
        if (a.hole != ISTHMUS_NONE && b.hole != ISTHMUS_NONE && a.hole != b.hole) {
            is_lower |= pass_on(&work->holes[a.hole], &work->holes[b.hole], length_nm);
            is_lower |= pass_on(&work->holes[b.hole], &work->holes[a.hole], length_nm);
        }
    }
    return is_lower;
}

/* From gap to gap of a pad by way of its own hole: that severs the pad, not its spokes. */
static bool is_within_pad(const struct web_search *work, size_t h)
{
    const struct nearest *hole = &work->holes[h];
    uint32_t a = work->gap_of[hole->edge[0]], b = work->gap_of[hole->edge[1]];
    return a == b && a < work->out->spoke_count &&
           work->out->spokes[a].contact == work->domain->net->holes[h].contact;
}

static void measure(struct web_search *work, const struct chord_list *list)
{
    size_t hole_count = work->domain->net->hole_count;
    for (size_t h = 0; h < hole_count; h++)
        work->holes[h] = (struct nearest){{ISTHMUS_NONE, ISTHMUS_NONE}, {INFINITY, INFINITY}};
    while (look_at_all(work, list, false))
        ;
    look_at_all(work, list, true);
    for (size_t h = 0; h < hole_count; h++) {
        const struct nearest *hole = &work->holes[h];
        if (hole->edge[1] != ISTHMUS_NONE && !is_within_pad(work, h))
            note_web(work, hole->edge[0], hole->edge[1],
                     hole->distance_nm[0] + hole->distance_nm[1]);
    }
}

enum neck_status webs_find(const struct domain *domain, const struct chord_list *list,
                           struct webs *out)
{
    size_t points = (size_t)domain->point_count + 1;
    *out = (struct webs){.shortest_nm = INFINITY};
    struct web_search work = {.domain = domain,
                              .parent = calloc(points, sizeof *work.parent),
                              .gap_of = calloc(points, sizeof *work.gap_of),
                              .boxes =
                                  calloc(points + domain->net->contact_count, sizeof *work.boxes),
                              .holes = calloc(domain->net->hole_count + 1, sizeof *work.holes),
                              .out = out};
    bool ok = work.parent && work.gap_of && work.boxes && work.holes;
    if (ok) {
        join_edges(domain, work.parent);
        measure_boxes(&work);
        note_gaps(&work);
        ok = count_gaps(&work);
    }
    if (ok)
        measure(&work, list);
    free(work.parent);
    free(work.gap_of);
    free(work.boxes);
    free(work.holes);
    return ok ? NECK_OK : NECK_NO_MEMORY;
}

void webs_free(struct webs *webs)
{
    free(webs->spokes);
    *webs = (struct webs){0};
}
