/* Puts the parts of a cut together to pieces that a person can look at. */
#include "neck/place.h"

#include <math.h>
#include <stdlib.h>

struct part {
    struct neck_piece piece;
    uint32_t sheet;
    uint32_t key; /* chord, or hole; ISTHMUS_NONE: stands alone */
    double from, to;
};
struct part_list {
    struct part *items;
    size_t count;
};

/* The paint object whose edge passes a mesh point, or ISTHMUS_NONE inside the copper. */
static uint32_t object_at(const struct network *network, uint32_t sheet, uint32_t point)
{
    const struct partition *partition = &network->partitions[sheet];
    uint32_t s = network->edge_seam[sheet][point];
    if (s == ISTHMUS_NONE)
        return ISTHMUS_NONE;
    struct domain_edge edge =
        partition->edges[partition->sources[partition->seams[s].first_source]];
    uint32_t bound = partition->domain->bound[edge.tri][edge.side];
    return bound == ISTHMUS_NONE ? bound : partition->domain->sheet->mesh->bounds[bound].object;
}

static void swap_ends(struct neck_piece *piece)
{
    struct pt a = piece->a;
    uint32_t bound_a = piece->bound_a;
    piece->a = piece->b;
    piece->b = a;
    piece->bound_a = piece->bound_b;
    piece->bound_b = bound_a;
}

static struct part part_of_link(const struct network *network, const struct link *link)
{
    const struct partition *partition = &network->partitions[link->sheet];
    const uint32_t *corner = partition->cdt.corner[link->tri];
    struct side_measure measure = partition_measure(partition, link->tri, link->side);
    struct part part = {
        .piece = {.kind = PIECE_CHORD,
                  .position = partition->domain->sheet->position,
                  .a = link_start(network, link),
                  .b = link_end(network, link),
                  .length_mm = measure.length_nm * 1e-6,
                  .area_mm2 = link->area_mm2,
                  .bound_a = object_at(network, link->sheet, corner[next_corner(link->side)]),
                  .bound_b = object_at(network, link->sheet, corner[previous_corner(link->side)]),
                  .hole = ISTHMUS_NONE},
        .sheet = link->sheet,
        .key = measure.chord,
        .from = measure.from,
        .to = measure.to};
    if (link->b >= network->hole_base) {
        part.piece.kind = PIECE_RIM;
        part.piece.hole = part.key = link->b - network->hole_base;
    } else if (measure.is_outline) {
        part.piece.kind = PIECE_CONTACT_OUTLINE;
        part.key = ISTHMUS_NONE;
    } else if (part.key != ISTHMUS_NONE) {
        const struct chord *chord = &partition->chords[part.key];
        if (dot(part.piece.a, part.piece.b,
                (struct pt){part.piece.a.x + (chord->b.x - chord->a.x) / 2,
                            part.piece.a.y + (chord->b.y - chord->a.y) / 2}) < 0)
            swap_ends(&part.piece);
    }
    return part;
}

static struct part part_of_wall(const struct network *network, uint32_t hole)
{
    const struct neck_hole *of = &network->net->holes[hole];
    return (struct part){.piece = {.kind = PIECE_WALL,
                                   .a = of->centre,
                                   .b = of->centre,
                                   .area_mm2 = of->wall_area_mm2,
                                   .bound_a = ISTHMUS_NONE,
                                   .bound_b = ISTHMUS_NONE,
                                   .hole = hole},
                         .sheet = ISTHMUS_NONE,
                         .key = ISTHMUS_NONE};
}

static int compare_parts(const void *a, const void *b)
{
    const struct part *one = a, *two = b;
    if (one->sheet != two->sheet)
        return one->sheet < two->sheet ? -1 : 1;
    if (one->piece.kind != two->piece.kind)
        return one->piece.kind < two->piece.kind ? -1 : 1;
    if (one->key != two->key)
        return one->key < two->key ? -1 : 1;
    if (one->from != two->from)
        return one->from < two->from ? -1 : 1;
    if (one->piece.a.x != two->piece.a.x)
        return one->piece.a.x < two->piece.a.x ? -1 : 1;
    return (one->piece.a.y > two->piece.a.y) - (one->piece.a.y < two->piece.a.y);
}

static bool is_same_point(struct pt a, struct pt b)
{
    return a.x == b.x && a.y == b.y;
}

/* Does the next part carry on where this one ends? All of a rim counts as one. */
static bool carries_on(const struct part *last, const struct part *next)
{
    if (last->key == ISTHMUS_NONE || last->sheet != next->sheet ||
        last->piece.kind != next->piece.kind || last->key != next->key)
        return false;
    return last->piece.kind == PIECE_RIM || is_same_point(last->piece.b, next->piece.a);
}

static void put_together(struct part_list *list)
{
    size_t kept = 0;
    if (list->count)
        qsort(list->items, list->count, sizeof *list->items, compare_parts);
    for (size_t i = 0; i < list->count; i++) {
        struct part *last = kept ? &list->items[kept - 1] : NULL;
        const struct part *next = &list->items[i];
        if (last && carries_on(last, next)) {
            last->piece.b = next->piece.b;
            last->piece.bound_b = next->piece.bound_b;
            last->piece.length_mm += next->piece.length_mm;
            last->piece.area_mm2 += next->piece.area_mm2;
            last->to = next->to;
        } else {
            list->items[kept++] = *next;
        }
    }
    list->count = kept;
}

/* A part not yet placed that touches `end` on this layer, turned to start there. */
static struct part *find_next(struct part_list *list, size_t from, const struct neck_piece *last)
{
    if (last->kind == PIECE_WALL || last->kind == PIECE_RIM || last->bound_b != ISTHMUS_NONE)
        return NULL;
    for (size_t i = from; i < list->count; i++) {
        struct neck_piece *piece = &list->items[i].piece;
        if (piece->position != last->position || piece->kind == PIECE_RIM)
            continue;
        if (is_same_point(piece->b, last->b) && !is_same_point(piece->a, last->b))
            swap_ends(piece);
        if (is_same_point(piece->a, last->b))
            return &list->items[i];
    }
    return NULL;
}

/* A curve starts best at a boundary. */
static size_t find_start(struct part_list *list, size_t from)
{
    for (size_t i = from; i < list->count; i++) {
        struct neck_piece *piece = &list->items[i].piece;
        if (piece->bound_a == ISTHMUS_NONE && piece->bound_b != ISTHMUS_NONE)
            swap_ends(piece);
        if (piece->bound_a != ISTHMUS_NONE)
            return i;
    }
    return from;
}

static void swap_parts(struct part *a, struct part *b)
{
    struct part kept = *a;
    *a = *b;
    *b = kept;
}

/* Orders parts along their curves; returns how many curves there are. */
static size_t order_parts(struct part_list *list)
{
    size_t curves = 0;
    for (size_t i = 0; i < list->count; i++) {
        struct part *next = i ? find_next(list, i, &list->items[i - 1].piece) : NULL;
        if (!next) {
            next = &list->items[find_start(list, i)];
            curves++;
        }
        swap_parts(&list->items[i], next);
    }
    return curves;
}

/* Do two pieces of a curve run on in one straight line, but for the rounding of their joint? */
static bool is_straight_on(const struct neck_piece *one, const struct neck_piece *two)
{
    double x = (double)two->b.x - one->a.x, y = (double)two->b.y - one->a.y;
    double off = x * ((double)one->b.y - one->a.y) - y * ((double)one->b.x - one->a.x);
    return one->kind == two->kind && one->position == two->position &&
           (one->kind == PIECE_CHORD || one->kind == PIECE_CONTACT_OUTLINE) &&
           one->bound_b == ISTHMUS_NONE && is_same_point(one->b, two->a) &&
           dot(one->b, one->a, two->b) < 0 && fabs(off) <= 1.5 * hypot(x, y);
}

static void straighten(struct part_list *list)
{
    size_t kept = 0;
    for (size_t i = 0; i < list->count; i++) {
        struct neck_piece *last = kept ? &list->items[kept - 1].piece : NULL;
        const struct neck_piece *next = &list->items[i].piece;
        if (last && is_straight_on(last, next)) {
            last->b = next->b;
            last->bound_b = next->bound_b;
            last->length_mm += next->length_mm;
            last->area_mm2 += next->area_mm2;
        } else {
            list->items[kept++] = list->items[i];
        }
    }
    list->count = kept;
}

enum neck_status place_from_crossing(const struct network *network, const struct crossing *crossing,
                                     struct arena *arena, struct neck_place *out,
                                     size_t *curve_count)
{
    *out = (struct neck_place){0};
    size_t most = crossing->link_count + crossing->hole_count;
    struct part_list list = {.items = malloc((most + 1) * sizeof *list.items)};
    if (!list.items)
        return NECK_NO_MEMORY;
    for (size_t i = 0; i < crossing->link_count; i++)
        list.items[list.count++] = part_of_link(network, &network->links[crossing->links[i]]);
    for (size_t i = 0; i < crossing->hole_count; i++)
        list.items[list.count++] = part_of_wall(network, crossing->holes[i]);
    put_together(&list);
    *curve_count = order_parts(&list);
    straighten(&list);
    out->pieces = arena_alloc(arena, list.count + 1, sizeof *out->pieces);
    for (size_t i = 0; out->pieces && i < list.count; i++)
        out->pieces[out->piece_count++] = list.items[i].piece;
    free(list.items);
    return out->pieces ? NECK_OK : NECK_NO_MEMORY;
}
