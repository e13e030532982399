/*
 * The image: distinct lines of the paint, snapped, pieces that coincide united with their changes
 * of winding summed (so cut-ins and abutting outlines of one fill vanish), and the faces they make.
 */
#include "geometry/image.h"

#include <stdlib.h>

struct maker {
    struct image *image;
    struct edge_set set;
    struct change_span *line_spans; /* per line */
    uint32_t *fill_of_edge;
    struct snapped snapped;
};

static bool map_fills(struct maker *maker)
{
    struct image *image = maker->image;
    const struct paint *paint = image->paint;
    image->object_of_fill = mesh_alloc(paint->fill_count, sizeof *image->object_of_fill);
    maker->fill_of_edge = mesh_alloc(paint->edge_count, sizeof *maker->fill_of_edge);
    if (!image->object_of_fill || !maker->fill_of_edge)
        return false;
    for (uint32_t o = 0; o < paint->object_count; o++)
        for (uint32_t f = 0; f < paint->objects[o].fill_count; f++)
            image->object_of_fill[paint->objects[o].first_fill + f] = o;
    for (uint32_t f = 0; f < paint->fill_count; f++)
        for (uint32_t e = 0; e < paint->fills[f].edge_count; e++)
            maker->fill_of_edge[paint->fills[f].first_edge + e] = f;
    return true;
}

static bool add_change(struct image *image, struct change change)
{
    if (image->change_count == image->change_capacity &&
        !array_grow(&image->changes, sizeof *image->changes, &image->change_capacity,
                    image->change_count + 1))
        return false;
    image->changes[image->change_count++] = change;
    return true;
}

static int compare_changes(const void *a, const void *b)
{
    const struct change *left = a, *right = b;
    if (left->fill != right->fill)
        return left->fill < right->fill ? -1 : 1;
    return (left->source > right->source) - (left->source < right->source);
}

/* Sums the changes from `first` to the end of the list by fill; what cancels is dropped. */
static struct change_span close_span(struct image *image, size_t first)
{
    struct change *changes = image->changes;
    size_t kept = first, count = image->change_count;
    if (count - first > 1)
        qsort(changes + first, count - first, sizeof *changes, compare_changes);
    for (size_t i = first, end; i < count; i = end) {
        struct change sum = changes[i];
        for (end = i + 1; end < count && changes[end].fill == sum.fill; end++)
            sum.delta += changes[end].delta;
        if (sum.delta != 0)
            changes[kept++] = sum;
    }
    image->change_count = kept;
    return (struct change_span){(uint32_t)first, (uint32_t)(kept - first)};
}

static bool add_line_changes(struct maker *maker, uint32_t line)
{
    struct image *image = maker->image;
    const struct edge_set *set = &maker->set;
    for (uint32_t s = set->first_source[line]; s < set->first_source[line + 1]; s++) {
        uint32_t source = set->sources[s];
        bool is_along = same_pt(image->paint->edges[source].a, set->lines[line].a);
        struct change change = {maker->fill_of_edge[source], is_along ? 1 : -1, source};
        if (!add_change(image, change))
            return false;
    }
    return true;
}

/* What changes across each line; lines across which nothing does are dropped. */
static enum mesh_status find_changes(struct maker *maker)
{
    struct edge_set *set = &maker->set;
    const struct edge_view view = {maker->image->paint->edges, sizeof(struct paint_edge),
                                   maker->image->paint->edge_count};
    enum mesh_status status = edge_set_build(&view, set);
    if (status != MESH_OK)
        return status;
    maker->line_spans = mesh_alloc(set->count, sizeof *maker->line_spans);
    if (!maker->line_spans || !map_fills(maker))
        return MESH_NO_MEMORY;
    uint32_t kept = 0;
    for (uint32_t line = 0; line < set->count; line++) {
        size_t first = maker->image->change_count;
        if (!add_line_changes(maker, line))
            return MESH_NO_MEMORY;
        struct change_span span = close_span(maker->image, first);
        set->lines[kept] = set->lines[line];
        maker->line_spans[kept] = span;
        kept += span.count > 0;
    }
    set->count = kept;
    free(maker->fill_of_edge);
    maker->fill_of_edge = NULL;
    return MESH_OK;
}

/* ---- pieces that coincide ---- */

static uint32_t lesser(const struct piece *piece)
{
    return piece->a < piece->b ? piece->a : piece->b;
}

static uint32_t greater(const struct piece *piece)
{
    return piece->a < piece->b ? piece->b : piece->a;
}

/* Pieces by their lesser point. */
static struct piece *sort_pieces(const struct snapped *snapped)
{
    uint32_t *start = mesh_calloc((size_t)snapped->point_count + 1, sizeof *start);
    struct piece *sorted = mesh_alloc(snapped->piece_count, sizeof *sorted);
    for (size_t i = 0; start && sorted && i < snapped->piece_count; i++)
        start[lesser(&snapped->pieces[i]) + 1]++;
    for (uint32_t i = 0; start && sorted && i < snapped->point_count; i++)
        start[i + 1] += start[i];
    for (size_t i = 0; start && sorted && i < snapped->piece_count; i++)
        sorted[start[lesser(&snapped->pieces[i])]++] = snapped->pieces[i];
    if (!start) {
        free(sorted);
        sorted = NULL;
    }
    free(start);
    return sorted;
}

static int compare_pieces(const void *a, const void *b)
{
    const struct piece *left = a, *right = b;
    if (greater(left) != greater(right))
        return greater(left) < greater(right) ? -1 : 1;
    return (left->line > right->line) - (left->line < right->line);
}

static void sort_run(struct piece *pieces, size_t count)
{
    if (count > 16) {
        qsort(pieces, count, sizeof *pieces, compare_pieces);
        return;
    }
    for (size_t i = 1; i < count; i++) {
        struct piece piece = pieces[i];
        size_t j = i;
        for (; j > 0 && compare_pieces(&pieces[j - 1], &piece) > 0; j--)
            pieces[j] = pieces[j - 1];
        pieces[j] = piece;
    }
}

/* All changes across pieces that lie on one another, in the sense of the first. */
static bool unite_changes(struct maker *maker, const struct piece *pieces, size_t count,
                          struct change_span *span)
{
    struct image *image = maker->image;
    size_t first = image->change_count;
    for (size_t i = 0; i < count; i++) {
        const struct change_span *from = &maker->line_spans[pieces[i].line];
        int32_t sense = pieces[i].a == pieces[0].a ? 1 : -1;
        for (uint32_t c = 0; c < from->count; c++) {
            struct change change = image->changes[from->first + c];
            change.delta *= sense;
            if (!add_change(image, change))
                return false;
        }
    }
    *span = close_span(image, first);
    return true;
}

static bool add_edge(struct maker *maker, const struct piece *pieces, size_t count)
{
    struct image *image = maker->image;
    struct change_span span = maker->line_spans[pieces[0].line];
    if (count > 1 && !unite_changes(maker, pieces, count, &span))
        return false;
    if (span.count == 0)
        return true;
    image->edges[image->edge_count] = (struct id_edge){pieces[0].a, pieces[0].b};
    image->spans[image->edge_count++] = span;
    return true;
}

static bool unite_pieces(struct maker *maker, struct piece *pieces)
{
    size_t count = maker->snapped.piece_count;
    for (size_t first = 0, end; first < count; first = end) {
        for (end = first + 1; end < count && lesser(&pieces[end]) == lesser(&pieces[first]); end++)
            ;
        sort_run(pieces + first, end - first);
        for (size_t i = first, j; i < end; i = j) {
            for (j = i + 1; j < end && greater(&pieces[j]) == greater(&pieces[i]); j++)
                ;
            if (!add_edge(maker, pieces + i, j - i))
                return false;
        }
    }
    return true;
}

static enum mesh_status make_edges(struct maker *maker)
{
    struct image *image = maker->image;
    struct piece *pieces = sort_pieces(&maker->snapped);
    free(maker->snapped.pieces);
    maker->snapped.pieces = NULL;
    image->edges = mesh_alloc(maker->snapped.piece_count, sizeof *image->edges);
    image->spans = mesh_alloc(maker->snapped.piece_count, sizeof *image->spans);
    bool ok = pieces && image->edges && image->spans && unite_pieces(maker, pieces);
    free(pieces);
    return ok ? MESH_OK : MESH_NO_MEMORY;
}

static enum mesh_status find_faces(struct maker *maker)
{
    struct image *image = maker->image;
    struct snapped *snapped = &maker->snapped;
    image->crossing_count = snapped->crossing_count;
    image->drift_nm = snapped->drift_nm;
    image->points = snapped->points;
    image->point_count = snapped->point_count;
    snapped->points = NULL;
    return planar_build(image->points, image->point_count, image->edges, image->edge_count,
                        &image->map);
}

static enum mesh_status make_image(struct maker *maker)
{
    enum mesh_status status = find_changes(maker);
    if (status == MESH_OK)
        status = snap_lines(&maker->set, &maker->snapped);
    edge_set_free(&maker->set);
    if (status == MESH_OK)
        status = make_edges(maker);
    if (status == MESH_OK)
        status = find_faces(maker);
    return status;
}

void image_free(struct image *image)
{
    free(image->object_of_fill);
    free(image->changes);
    free(image->edges);
    free(image->spans);
    planar_free(&image->map);
    free(image->points);
    free(image->top);
    free(image->mark);
    free(image->component);
    free(image->shows);
    *image = (struct image){0};
}

enum mesh_status image_build(const struct paint *paint, struct image *out)
{
    *out = (struct image){.paint = paint};
    struct maker maker = {.image = out};
    enum mesh_status status = make_image(&maker);
    edge_set_free(&maker.set);
    snapped_free(&maker.snapped);
    free(maker.line_spans);
    free(maker.fill_of_edge);
    if (status == MESH_OK)
        status = image_flood(out);
    if (status == MESH_OK)
        status = image_connect(out);
    return status;
}
