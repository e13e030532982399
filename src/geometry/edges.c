/* Distinct edges of a pile of edges: painted areas repeat the same ones thousands of times. */
#include "geometry/snap.h"

#include <stdlib.h>

static struct line line_of(const struct edge_view *view, size_t index)
{
    const struct pt *ends = edge_ends(view, index);
    if (compare_pt(ends[0], ends[1]) <= 0)
        return (struct line){ends[0], ends[1]};
    return (struct line){ends[1], ends[0]};
}

struct run_context {
    const struct edge_view *view;
};

static int compare_sources(const struct edge_view *view, uint32_t i, uint32_t j)
{
    struct line left = line_of(view, i), right = line_of(view, j);
    int order = compare_pt(left.a, right.a);
    if (order == 0)
        order = compare_pt(left.b, right.b);
    return order ? order : (i > j) - (i < j);
}

static int compare_lines(const void *a, const void *b, void *context)
{
    return compare_sources(((const struct run_context *)context)->view, *(const uint32_t *)a,
                           *(const uint32_t *)b);
}

/* Sources that start at one point: few as a rule. */
static void sort_run(uint32_t *sources, size_t count, const struct edge_view *view)
{
    if (count > 24) {
        struct run_context context = {view};
        qsort_r(sources, count, sizeof *sources, compare_lines, &context);
        return;
    }
    for (size_t i = 1; i < count; i++) {
        uint32_t source = sources[i];
        size_t j = i;
        for (; j > 0 && compare_sources(view, sources[j - 1], source) > 0; j--)
            sources[j] = sources[j - 1];
        sources[j] = source;
    }
}

/* The non-zero edges, by lesser end along the Hilbert curve. */
static uint32_t *sources_in_order(const struct edge_view *view, size_t *count)
{
    struct pt *starts = mesh_alloc(view->count, sizeof *starts);
    for (size_t i = 0; starts && i < view->count; i++)
        starts[i] = line_of(view, i).a;
    uint64_t *order = starts ? hilbert_order(starts, view->count) : NULL;
    free(starts);
    uint32_t *sources = order ? mesh_alloc(view->count, sizeof *sources) : NULL;
    *count = 0;
    for (size_t i = 0; sources && i < view->count; i++) {
        const struct pt *ends = edge_ends(view, (uint32_t)order[i]);
        if (!same_pt(ends[0], ends[1]))
            sources[(*count)++] = (uint32_t)order[i];
    }
    free(order);
    return sources;
}

static void sort_by_line(uint32_t *sources, size_t count, const struct edge_view *view)
{
    for (size_t first = 0, end; first < count; first = end) {
        struct pt start = line_of(view, sources[first]).a;
        for (end = first + 1; end < count && same_pt(start, line_of(view, sources[end]).a); end++)
            ;
        sort_run(sources + first, end - first, view);
    }
}

static bool same_line(struct line left, struct line right)
{
    return same_pt(left.a, right.a) && same_pt(left.b, right.b);
}

static void group(const struct edge_view *view, size_t source_count, struct edge_set *out)
{
    for (size_t i = 0; i < source_count; i++) {
        struct line line = line_of(view, out->sources[i]);
        if (out->count == 0 || !same_line(line, out->lines[out->count - 1])) {
            out->first_source[out->count] = (uint32_t)i;
            out->lines[out->count++] = line;
        }
    }
    out->first_source[out->count] = (uint32_t)source_count;
}

enum mesh_status edge_set_build(const struct edge_view *view, struct edge_set *out)
{
    *out = (struct edge_set){0};
    if (view->count >= ISTHMUS_NONE / 2)
        return MESH_TOO_LARGE;
    size_t source_count;
    out->sources = sources_in_order(view, &source_count);
    if (!out->sources)
        return MESH_NO_MEMORY;
    sort_by_line(out->sources, source_count, view);
    out->lines = mesh_alloc(source_count, sizeof *out->lines);
    out->first_source = mesh_alloc(source_count + 1, sizeof *out->first_source);
    if (!out->lines || !out->first_source)
        return MESH_NO_MEMORY;
    group(view, source_count, out);
    return MESH_OK;
}

void edge_set_free(struct edge_set *set)
{
    free(set->lines);
    free(set->sources);
    free(set->first_source);
    *set = (struct edge_set){0};
}
