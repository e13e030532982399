/*
 * Which drawn objects cover a point: contour edges sorted into bands of y, windings counted along a
 * ray to the right. Arcs are flattened to 1 um here: this classifies pads, it measures nothing.
 */
#include "build.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define CHORD_ERROR_NM 1000.0

struct cover_edge {
    double x0, y0, x1, y1;
    uint32_t fill;
};
struct hit {
    uint32_t fill;
    int winding;
};
struct cover {
    const struct drawing *drawing;
    struct cover_edge *edges;
    size_t edge_count, edge_capacity;
    uint32_t *object_of_fill;
    double y0, band_nm;
    uint32_t band_count;
    uint32_t *band_start, *band_edges;
    struct hit *hits;
    size_t hit_capacity;
    bool is_out_of_memory;
};

static void add_edge(struct cover *cover, double x0, double y0, double x1, double y1, uint32_t fill)
{
    if (y0 == y1)
        return;
    if (!array_grow(&cover->edges, sizeof *cover->edges, &cover->edge_capacity,
                    cover->edge_count + 1)) {
        cover->is_out_of_memory = true;
        return;
    }
    cover->edges[cover->edge_count++] =
        (struct cover_edge){.x0 = x0, .y0 = y0, .x1 = x1, .y1 = y1, .fill = fill};
}

static void add_arc(struct cover *cover, struct pos_nm from, const struct seg *seg, uint32_t fill)
{
    double cx = seg->centre_x_nm, cy = seg->centre_y_nm;
    double r0 = hypot((double)from.x_nm - cx, (double)from.y_nm - cy);
    double r1 = hypot((double)seg->to.x_nm - cx, (double)seg->to.y_nm - cy);
    double start = atan2((double)from.y_nm - cy, (double)from.x_nm - cx);
    double end = atan2((double)seg->to.y_nm - cy, (double)seg->to.x_nm - cx);
    double sweep = seg->turn > 0 ? end - start : start - end;
    if (sweep <= 0)
        sweep += 2 * M_PI;
    if (from.x_nm == seg->to.x_nm && from.y_nm == seg->to.y_nm)
        sweep = 2 * M_PI;
    double larger = fmax(fmax(r0, r1), 2 * CHORD_ERROR_NM);
    double step = 2 * acos(1 - CHORD_ERROR_NM / larger);
    int count = (int)ceil(sweep / step);
    double x = (double)from.x_nm, y = (double)from.y_nm;
    for (int i = 1; i <= count; i++) {
        double part = (double)i / count, angle = start + seg->turn * sweep * part;
        double radius = r0 + (r1 - r0) * part;
        double nx = i == count ? (double)seg->to.x_nm : cx + radius * cos(angle);
        double ny = i == count ? (double)seg->to.y_nm : cy + radius * sin(angle);
        add_edge(cover, x, y, nx, ny, fill);
        x = nx;
        y = ny;
    }
}

static void add_fill(struct cover *cover, uint32_t index)
{
    const struct drawing *drawing = cover->drawing;
    const struct fill *fill = &drawing->fills[index];
    for (uint32_t c = 0; c < fill->contour_count; c++) {
        const struct contour *contour = &drawing->contours[fill->first_contour + c];
        struct pos_nm from = contour->start;
        for (uint32_t i = 0; i < contour->seg_count; i++) {
            const struct seg *seg = &drawing->segs[contour->first_seg + i];
            if (seg->turn)
                add_arc(cover, from, seg, index);
            else
                add_edge(cover, (double)from.x_nm, (double)from.y_nm, (double)seg->to.x_nm,
                         (double)seg->to.y_nm, index);
            from = seg->to;
        }
    }
}

static uint32_t band_of(const struct cover *cover, double y)
{
    double band = (y - cover->y0) / cover->band_nm;
    if (!(band > 0))
        return 0;
    return band >= cover->band_count ? cover->band_count - 1 : (uint32_t)band;
}

/* Counting sort of the edges into the bands they span. */
static bool sort_into_bands(struct cover *cover)
{
    uint32_t *start = calloc((size_t)cover->band_count + 2, sizeof *start);
    if (!start)
        return false;
    cover->band_start = start;
    size_t total = 0;
    for (size_t i = 0; i < cover->edge_count; i++) {
        uint32_t low = band_of(cover, fmin(cover->edges[i].y0, cover->edges[i].y1));
        uint32_t high = band_of(cover, fmax(cover->edges[i].y0, cover->edges[i].y1));
        for (uint32_t b = low; b <= high; b++)
            start[b + 2]++;
        total += high - low + 1;
    }
    if (total > UINT32_MAX)
        return false;
    for (uint32_t b = 2; b < cover->band_count + 2; b++)
        start[b] += start[b - 1];
    cover->band_edges = malloc((total + 1) * sizeof *cover->band_edges);
    if (!cover->band_edges)
        return false;
    for (size_t i = 0; i < cover->edge_count; i++) {
        uint32_t low = band_of(cover, fmin(cover->edges[i].y0, cover->edges[i].y1));
        uint32_t high = band_of(cover, fmax(cover->edges[i].y0, cover->edges[i].y1));
        for (uint32_t b = low; b <= high; b++)
            cover->band_edges[start[b + 1]++] = (uint32_t)i;
    }
    return true;
}

static bool fill_owners(struct cover *cover)
{
    const struct drawing *drawing = cover->drawing;
    cover->object_of_fill = malloc((drawing->fill_count + 1) * sizeof *cover->object_of_fill);
    if (!cover->object_of_fill)
        return false;
    for (uint32_t o = 0; o < drawing->object_count; o++)
        for (uint32_t f = 0; f < drawing->objects[o].fill_count; f++) {
            uint32_t fill = drawing->objects[o].first_fill + f;
            cover->object_of_fill[fill] = o;
            add_fill(cover, fill);
        }
    return !cover->is_out_of_memory;
}

struct cover *cover_new(const struct drawing *drawing)
{
    struct cover *cover = calloc(1, sizeof *cover);
    if (!cover)
        return NULL;
    cover->drawing = drawing;
    cover->y0 = (double)drawing->min.y_nm;
    cover->band_count = 2048;
    double height = (double)drawing->max.y_nm - (double)drawing->min.y_nm;
    cover->band_nm = height > 0 ? height / cover->band_count : 1;
    if (!fill_owners(cover) || !sort_into_bands(cover)) {
        cover_free(cover);
        return NULL;
    }
    return cover;
}

void cover_free(struct cover *cover)
{
    if (!cover)
        return;
    free(cover->edges);
    free(cover->object_of_fill);
    free(cover->band_start);
    free(cover->band_edges);
    free(cover->hits);
    free(cover);
}

static int compare_hits(const void *a, const void *b)
{
    const struct hit *one = a, *other = b;
    return (one->fill > other->fill) - (one->fill < other->fill);
}

/* Crossings of the ray, each with the fill it belongs to and its direction. */
static size_t collect_hits(struct cover *cover, struct pos_nm at)
{
    double x = (double)at.x_nm, y = (double)at.y_nm;
    if (y < cover->y0 || y > cover->y0 + cover->band_nm * cover->band_count)
        return 0;
    uint32_t band = band_of(cover, y);
    size_t count = 0;
    for (uint32_t i = cover->band_start[band]; i < cover->band_start[band + 1]; i++) {
        const struct cover_edge *edge = &cover->edges[cover->band_edges[i]];
        bool is_up = edge->y0 <= y && y < edge->y1, is_down = edge->y1 <= y && y < edge->y0;
        if (!is_up && !is_down)
            continue;
        double crossing =
            edge->x0 + (edge->x1 - edge->x0) * ((y - edge->y0) / (edge->y1 - edge->y0));
        if (crossing <= x)
            continue;
        if (!array_grow(&cover->hits, sizeof *cover->hits, &cover->hit_capacity, count + 1))
            return count;
        cover->hits[count++] = (struct hit){.fill = edge->fill, .winding = is_up ? 1 : -1};
    }
    qsort(cover->hits, count, sizeof *cover->hits, compare_hits);
    return count;
}

/* Within an object the last fill that holds the point decides whether the object covers it. */
size_t cover_find(struct cover *cover, struct pos_nm at, uint32_t *objects, size_t capacity)
{
    size_t hit_count = collect_hits(cover, at), found = 0;
    for (size_t i = 0; i < hit_count;) {
        uint32_t object = cover->object_of_fill[cover->hits[i].fill];
        bool covers = false;
        while (i < hit_count && cover->object_of_fill[cover->hits[i].fill] == object) {
            uint32_t fill = cover->hits[i].fill;
            int winding = 0;
            for (; i < hit_count && cover->hits[i].fill == fill; i++)
                winding += cover->hits[i].winding;
            if (winding)
                covers = cover->drawing->fills[fill].adds;
        }
        if (!covers)
            continue;
        if (found == capacity) {
            memmove(objects, objects + 1, (capacity - 1) * sizeof *objects);
            found--;
        }
        objects[found++] = object;
    }
    return found;
}

bool cover_is_dark(struct cover *cover, struct pos_nm at)
{
    uint32_t last;
    return cover_find(cover, at, &last, 1) == 1 && cover->drawing->objects[last].is_dark;
}
