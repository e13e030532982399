/*
 * Which taut pieces lie on no curve that a cut of at most a given cost could contain?
 *
 * Every curve of a cut is of one of two kinds. Either it runs from free boundary to free boundary,
 * past holes and contacts: then the piece and the shortest ways on from both its ends to free
 * boundary cost less than the limit. Or it closes without touching free boundary: then everything
 * within it could as well be on its other side, at the cost of the walls of the plated holes it
 * holds, unless it holds a terminal's contact; so it must cost less than those walls. A point p
 * within a closed curve of length P through a and b has |pa| + |pb| + |ab| <= P, which bounds the
 * holes that count.
 *
 * Passing a hole or a contact is taken as free here: that keeps too many pieces, never too few.
 */
#include "neck/taut.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct spot { /* a plated hole, or a terminal's contact: a disc that holds it */
    double x, y, radius;
    double worth_nm; /* a hole's wall as a length on this layer; a contact: INFINITY */
};
/* A place where curves may bend: holes first, then contacts. */
struct stop_link {
    uint32_t to;
    double cost_nm;
};
struct needs {
    const struct domain *domain;
    double limit_nm;
    double
        stretch; /* geometric length of a curve per cost, at most: holes are crossed for a wall */
    struct spot *spots;
    size_t spot_count; /* sorted by x */
    double most_radius;
    uint32_t stop_count;
    uint32_t *contact_of; /* per vertex: the contact it belongs to */
    uint32_t *joined;     /* per stop: a stop it touches, at last itself */
    bool *is_at_boundary; /* per stop: touches free boundary */
    double *least_nm;     /* per stop: cheapest way to free boundary */
    struct stop_link *links;
    size_t *first_link;
};

#define FREE_BOUNDARY ISTHMUS_NONE

static uint32_t joined_stop(const struct needs *needs, uint32_t stop)
{
    while (needs->joined[stop] != stop)
        stop = needs->joined[stop] = needs->joined[needs->joined[stop]];
    return stop;
}

/* The hole whose rim alone passes a boundary vertex, or FREE_BOUNDARY. */
static uint32_t hole_of_vertex(const struct domain *domain, uint32_t vertex)
{
    const struct domain_vertex *v = &domain->vertices[vertex];
    uint32_t hole = domain_rim_hole(domain, v->out_tri, v->out_side);
    bool is_alone = !v->is_pinch && domain_rim_hole(domain, v->in_tri, v->in_side) == hole;
    return is_alone ? hole : FREE_BOUNDARY;
}

static uint32_t stop_of_vertex(const struct needs *needs, uint32_t vertex)
{
    const struct domain *domain = needs->domain;
    uint32_t stop = FREE_BOUNDARY;
    if (domain->vertices[vertex].is_boundary)
        stop = hole_of_vertex(domain, vertex);
    else if (needs->contact_of[vertex] != ISTHMUS_NONE)
        stop = (uint32_t)domain->net->hole_count + needs->contact_of[vertex];
    return stop == FREE_BOUNDARY ? stop : joined_stop(needs, stop);
}

static uint32_t stop_of_b(const struct needs *needs, const struct chord *chord)
{
    if (chord->vertex_b != ISTHMUS_NONE)
        return stop_of_vertex(needs, chord->vertex_b);
    uint32_t hole = domain_rim_hole(needs->domain, chord->foot_tri, chord->foot_side);
    return hole == ISTHMUS_NONE ? FREE_BOUNDARY : joined_stop(needs, hole);
}

static double cost_of(const struct chord *chord)
{
    return fmax(0, chord->length_nm - chord->loss_a_nm - chord->loss_b_nm);
}

static void join_stops(struct needs *needs, uint32_t a, uint32_t b)
{
    needs->joined[joined_stop(needs, a)] = joined_stop(needs, b);
}

/* A contact's corner: what else is there a curve that hugs the contact can go on along. */
static void note_corner(struct needs *needs, uint32_t contact, uint32_t vertex)
{
    const struct domain *domain = needs->domain;
    uint32_t holes = (uint32_t)domain->net->hole_count, stop = holes + contact;
    uint32_t *of = &needs->contact_of[vertex];
    if (*of != ISTHMUS_NONE && *of != contact)
        join_stops(needs, stop, holes + *of);
    *of = contact;
    if (!domain->vertices[vertex].is_boundary)
        return;
    uint32_t hole = hole_of_vertex(domain, vertex);
    if (hole == FREE_BOUNDARY)
        needs->is_at_boundary[stop] = true;
    else
        join_stops(needs, stop, hole);
}

/* What touches is one stop; what touches free boundary has no way to go there. */
static void note_touching(struct needs *needs)
{
    const struct domain *domain = needs->domain;
    memset(needs->contact_of, 0xff, domain->point_count * sizeof *needs->contact_of);
    for (uint32_t s = 0; s < needs->stop_count; s++)
        needs->joined[s] = s;
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            uint32_t hole = domain->neighbour[t][i] == ISTHMUS_NONE ? domain_rim_hole(domain, t, i)
                                                                    : ISTHMUS_NONE;
            if (domain->contact[t] != ISTHMUS_NONE)
                note_corner(needs, domain->contact[t], domain->corner[t][i]);
            if (hole != ISTHMUS_NONE &&
                (hole_of_vertex(domain, domain->corner[t][next_corner(i)]) == FREE_BOUNDARY ||
                 hole_of_vertex(domain, domain->corner[t][previous_corner(i)]) == FREE_BOUNDARY))
                needs->is_at_boundary[hole] = true;
        }
}

static bool allocate(struct needs *needs, size_t chord_count)
{
    const struct domain *domain = needs->domain;
    needs->stop_count = (uint32_t)(domain->net->hole_count + domain->net->contact_count);
    size_t stops = needs->stop_count;
    needs->spots = malloc((stops + 1) * sizeof *needs->spots);
    needs->contact_of = malloc(((size_t)domain->point_count + 1) * sizeof *needs->contact_of);
    needs->joined = malloc((stops + 1) * sizeof *needs->joined);
    needs->is_at_boundary = calloc(stops + 1, sizeof *needs->is_at_boundary);
    needs->least_nm = malloc((stops + 1) * sizeof *needs->least_nm);
    needs->links = malloc((2 * chord_count + 1) * sizeof *needs->links);
    needs->first_link = calloc(stops + 2, sizeof *needs->first_link);
    return needs->spots && needs->contact_of && needs->joined && needs->is_at_boundary &&
           needs->least_nm && needs->links && needs->first_link;
}

static void release(struct needs *needs)
{
    free(needs->spots);
    free(needs->contact_of);
    free(needs->joined);
    free(needs->is_at_boundary);
    free(needs->least_nm);
    free(needs->links);
    free(needs->first_link);
}

/* ---- the cheapest way from each stop to free boundary ---- */

/* Pieces between two stops, both ways; those to free boundary set where ways begin. */
static void link_stops(struct needs *needs, const struct chord_list *list)
{
    for (uint32_t s = 0; s < needs->stop_count; s++)
        needs->least_nm[s] = INFINITY;
    for (uint32_t s = 0; s < needs->stop_count; s++)
        if (needs->is_at_boundary[s])
            needs->least_nm[joined_stop(needs, s)] = 0;
    for (int pass = 0; pass < 2; pass++) {
        for (size_t i = 0; i < list->count; i++) {
            const struct chord *chord = &list->items[i];
            uint32_t a = stop_of_vertex(needs, chord->vertex_a), b = stop_of_b(needs, chord);
            double cost = cost_of(chord);
            if (a != FREE_BOUNDARY && b != FREE_BOUNDARY) {
                if (pass) {
                    needs->links[--needs->first_link[a]] = (struct stop_link){b, cost};
                    needs->links[--needs->first_link[b]] = (struct stop_link){a, cost};
                } else {
                    needs->first_link[a]++;
                    needs->first_link[b]++;
                }
            } else if (a != FREE_BOUNDARY) {
                needs->least_nm[a] = fmin(needs->least_nm[a], cost);
            } else if (b != FREE_BOUNDARY) {
                needs->least_nm[b] = fmin(needs->least_nm[b], cost);
            }
        }
        for (uint32_t s = 0; !pass && s <= needs->stop_count; s++)
            needs->first_link[s + 1] += needs->first_link[s];
    }
}

/* Stops whose way may shorten others', first in first out: few rounds, as pieces are short. */
static bool spread(struct needs *needs)
{
    uint32_t count = needs->stop_count, head = 0, waiting = 0;
    uint32_t *queue = malloc(((size_t)count + 1) * sizeof *queue);
    bool *is_waiting = calloc((size_t)count + 1, sizeof *is_waiting);
    bool ok = queue && is_waiting;
    for (uint32_t s = 0; ok && s < count; s++)
        if (needs->least_nm[s] < INFINITY) {
            queue[waiting++] = s;
            is_waiting[s] = true;
        }
    while (ok && waiting) {
        uint32_t s = queue[head];
        head = head + 1 == count ? 0 : head + 1;
        waiting--;
        is_waiting[s] = false;
        for (size_t l = needs->first_link[s]; l < needs->first_link[s + 1]; l++) {
            double way = needs->least_nm[s] + needs->links[l].cost_nm;
            uint32_t to = needs->links[l].to;
            if (way >= needs->least_nm[to])
                continue;
            needs->least_nm[to] = way;
            if (!is_waiting[to]) {
                is_waiting[to] = true;
                queue[(head + waiting++) % count] = to;
            }
        }
    }
    free(queue);
    free(is_waiting);
    return ok;
}

static double way_out(const struct needs *needs, uint32_t stop)
{
    return stop == FREE_BOUNDARY ? 0 : needs->least_nm[stop];
}

/* ---- closed curves ---- */

/* The disc about all corners that belong to a spot: centre of their box, farthest corner. */
struct box {
    double x0, y0, x1, y1;
};

static void grow(struct box *box, struct pt at)
{
    box->x0 = fmin(box->x0, at.x);
    box->y0 = fmin(box->y0, at.y);
    box->x1 = fmax(box->x1, at.x);
    box->y1 = fmax(box->y1, at.y);
}

static int compare_spots(const void *a, const void *b)
{
    const struct spot *one = a, *two = b;
    return (one->x > two->x) - (one->x < two->x);
}

static void measure_boxes(const struct domain *domain, struct box *boxes)
{
    uint32_t holes = (uint32_t)domain->net->hole_count;
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            struct pt from = domain->points[domain->corner[t][next_corner(i)]];
            uint32_t hole = domain->neighbour[t][i] == ISTHMUS_NONE ? domain_rim_hole(domain, t, i)
                                                                    : ISTHMUS_NONE;
            if (hole != ISTHMUS_NONE)
                grow(&boxes[hole], from);
            if (domain->contact[t] != ISTHMUS_NONE)
                grow(&boxes[holes + domain->contact[t]], from);
        }
}

static bool find_spots(struct needs *needs)
{
    const struct domain *domain = needs->domain;
    const struct neck_sheet *sheet = domain->sheet;
    struct box *boxes = calloc((size_t)needs->stop_count + 1, sizeof *boxes);
    if (!boxes)
        return false;
    for (uint32_t s = 0; s < needs->stop_count; s++)
        boxes[s] = (struct box){INFINITY, INFINITY, -INFINITY, -INFINITY};
    measure_boxes(domain, boxes);
    needs->stretch = 1;
    for (uint32_t s = 0; s < needs->stop_count; s++) {
        const struct box *box = &boxes[s];
        if (box->x0 > box->x1)
            continue;
        struct spot spot = {.x = (box->x0 + box->x1) / 2,
                            .y = (box->y0 + box->y1) / 2,
                            .radius = hypot(box->x1 - box->x0, box->y1 - box->y0) / 2,
                            .worth_nm = INFINITY};
        if (s < domain->net->hole_count) {
            spot.worth_nm =
                domain->net->holes[s].wall_area_mm2 / (sheet->thickness_mm * sheet->weight) * 1e6;
            needs->stretch = fmax(needs->stretch, 2 * spot.radius / spot.worth_nm);
        }
        needs->most_radius = fmax(needs->most_radius, spot.radius);
        needs->spots[needs->spot_count++] = spot;
    }
    free(boxes);
    if (needs->spot_count)
        qsort(needs->spots, needs->spot_count, sizeof *needs->spots, compare_spots);
    return true;
}

static size_t first_spot_from(const struct needs *needs, double x)
{
    size_t low = 0, high = needs->spot_count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (needs->spots[middle].x < x)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* What the spots are worth that a closed curve of this length through the piece may hold. */
static double worth_within(const struct needs *needs, const struct chord *chord, double round_nm)
{
    double length = hypot((double)chord->b.x - chord->a.x, (double)chord->b.y - chord->a.y);
    double reach = (round_nm - length) / 2 + needs->most_radius, worth = 0;
    double left = fmin(chord->a.x, chord->b.x) - reach,
           right = fmax(chord->a.x, chord->b.x) + reach;
    for (size_t i = first_spot_from(needs, left);
         i < needs->spot_count && needs->spots[i].x <= right; i++) {
        const struct spot *spot = &needs->spots[i];
        double round = hypot(spot->x - chord->a.x, spot->y - chord->a.y) +
                       hypot(spot->x - chord->b.x, spot->y - chord->b.y) + length;
        if (round - 2 * spot->radius <= round_nm)
            worth += spot->worth_nm;
        if (isinf(worth))
            break;
    }
    return worth;
}

static bool may_close(const struct needs *needs, const struct chord *chord)
{
    double cost = cost_of(chord), most = needs->limit_nm;
    double length = hypot((double)chord->b.x - chord->a.x, (double)chord->b.y - chord->a.y);
    for (;;) {
        /* there and back at least, but what lies in the ways through holes costs only their walls
         */
        if (most < cost || most * needs->stretch < 2 * length)
            return false;
        double worth = worth_within(needs, chord, most * needs->stretch);
        if (worth >= most * 0.99)
            return true;
        most = worth;
    }
}

static bool is_needed(const struct needs *needs, const struct chord *chord)
{
    uint32_t a = stop_of_vertex(needs, chord->vertex_a), b = stop_of_b(needs, chord);
    if (cost_of(chord) + way_out(needs, a) + way_out(needs, b) < needs->limit_nm)
        return true;
    return (a != FREE_BOUNDARY || b != FREE_BOUNDARY) && may_close(needs, chord);
}

enum neck_status taut_drop_needless(const struct domain *domain, double limit_nm,
                                    struct chord_list *list)
{
    struct needs needs = {.domain = domain, .limit_nm = limit_nm};
    bool ok = allocate(&needs, list->count);
    if (ok) {
        note_touching(&needs);
        link_stops(&needs, list);
        ok = find_spots(&needs) && spread(&needs);
    }
    size_t kept = 0;
    for (size_t i = 0; ok && i < list->count; i++)
        if (is_needed(&needs, &list->items[i]))
            list->items[kept++] = list->items[i];
    if (ok)
        list->count = kept;
    release(&needs);
    return ok ? NECK_OK : NECK_NO_MEMORY;
}
