/* Contraction of the graph of faces and holes. */
#include "neck/reduce.h"

#include <stdlib.h>

/* A link between two different classes, turned so that a < b. */
struct strut {
    uint32_t a, b, link;
};
#define ROUND_WORTH 1000 /* another round must unite at least this part of the links */

struct reduction {
    const struct network *network;
    struct reduced *out;
    double need_mm2;
    struct strut *struts;
    size_t strut_count;
    double *total_mm2; /* per class */
    bool *is_touched;  /* per class: united in this round */
};

static int compare_struts(const void *a, const void *b)
{
    const struct strut *one = a, *two = b;
    if (one->a != two->a)
        return one->a < two->a ? -1 : 1;
    if (one->b != two->b)
        return one->b < two->b ? -1 : 1;
    return (one->link > two->link) - (one->link < two->link);
}

static bool is_hole(const struct network *network, uint32_t node)
{
    return node >= network->hole_base;
}

/* Brings every strut up to date with the classes; drops those within one. */
static void gather_struts(struct reduction *work)
{
    struct classes *classes = &work->out->classes;
    size_t kept = 0;
    for (size_t i = 0; i < work->strut_count; i++) {
        const struct link *link = &work->network->links[work->struts[i].link];
        uint32_t a = class_of(classes, link->a), b = class_of(classes, link->b);
        if (a == b)
            continue;
        work->struts[kept++] = a < b ? (struct strut){a, b, work->struts[i].link}
                                     : (struct strut){b, a, work->struts[i].link};
    }
    work->strut_count = kept;
    if (kept)
        qsort(work->struts, kept, sizeof *work->struts, compare_struts);
}

static double strut_area(const struct reduction *work, size_t i)
{
    return work->network->links[work->struts[i].link].area_mm2;
}

/* End of the run of struts that join the same two classes; their area in sum. */
static size_t run_end(const struct reduction *work, size_t i, double *sum_mm2)
{
    const struct strut *first = &work->struts[i];
    *sum_mm2 = 0;
    for (; i < work->strut_count && work->struts[i].a == first->a && work->struts[i].b == first->b;
         i++)
        *sum_mm2 += strut_area(work, i);
    return i;
}

static void sum_totals(struct reduction *work)
{
    for (uint32_t n = 0; n < work->network->node_count; n++) {
        work->total_mm2[n] = 0;
        work->is_touched[n] = false;
    }
    for (size_t i = 0; i < work->strut_count; i++) {
        work->total_mm2[work->struts[i].a] += strut_area(work, i);
        work->total_mm2[work->struts[i].b] += strut_area(work, i);
    }
}

/* May `node`'s class be swallowed by a neighbour that it shares `sum_mm2` with? */
static bool leans_on(const struct reduction *work, const bool *is_kept, uint32_t node,
                     double sum_mm2)
{
    return !is_kept[node] && sum_mm2 * 2 >= work->total_mm2[node] * (1 + 1e-12);
}

/* `from`, the root of its class, joins the class of `into`. */
static void swallow(struct reduction *work, bool *is_kept, uint32_t into, uint32_t from)
{
    uint32_t root = class_of(&work->out->classes, into);
    uint32_t joined = class_of(&work->out->classes, from);
    if (root == joined)
        return;
    work->out->classes.parent[joined] = root;
    is_kept[root] = is_kept[root] || is_kept[joined];
    work->is_touched[into] = work->is_touched[from] = true;
}

/*
 * One class may swallow many in a round; one that has swallowed or been swallowed leans on nobody
 * until its total is summed anew.
 */
static size_t unite_round(struct reduction *work, bool *is_kept)
{
    size_t united = 0;
    double sum_mm2;
    gather_struts(work);
    sum_totals(work);
    for (size_t i = 0; i < work->strut_count;) {
        uint32_t a = work->struts[i].a, b = work->struts[i].b;
        i = run_end(work, i, &sum_mm2);
        if (is_hole(work->network, a) || is_hole(work->network, b))
            continue;
        if (sum_mm2 >= work->need_mm2 ||
            (!work->is_touched[a] && leans_on(work, is_kept, a, sum_mm2)))
            swallow(work, is_kept, b, a);
        else if (!work->is_touched[b] && leans_on(work, is_kept, b, sum_mm2))
            swallow(work, is_kept, a, b);
        else
            continue;
        united++;
    }
    return united;
}

static enum neck_status unite_deeply(struct reduction *work)
{
    size_t nodes = work->network->node_count;
    work->total_mm2 = malloc((nodes + 1) * sizeof *work->total_mm2);
    work->is_touched = malloc((nodes + 1) * sizeof *work->is_touched);
    bool *is_kept = calloc(nodes + 1, sizeof *is_kept);
    bool ok = work->total_mm2 && work->is_touched && is_kept;
    for (uint32_t n = 0; ok && n < nodes; n++)
        if (work->network->terminal_of[n] != ISTHMUS_NONE)
            is_kept[class_of(&work->out->classes, n)] = true;
    while (ok && unite_round(work, is_kept) > work->strut_count / ROUND_WORTH)
        ;
    free(work->total_mm2);
    free(work->is_touched);
    free(is_kept);
    return ok ? NECK_OK : NECK_NO_MEMORY;
}

/*
 * Sides of triangles that are no piece of a cut of least cross-section. In small graphs they stay:
 * they are valid cuts all the same.
 */
static bool is_plain(const struct network *network, const struct link *link)
{
    const struct cdt *cdt = &network->partitions[link->sheet].cdt;
    return cdt->chain[link->tri][link->side] == ISTHMUS_NONE;
}

static void unite_sufficient(struct reduction *work, bool deep)
{
    const struct network *network = work->network;
    for (size_t l = 0; l < network->link_count; l++) {
        const struct link *link = &network->links[l];
        if (!is_hole(network, link->b) &&
            (link->area_mm2 >= work->need_mm2 || (deep && is_plain(network, link))))
            class_unite(&work->out->classes, link->a, link->b);
        else
            work->struts[work->strut_count++].link = (uint32_t)l;
    }
}

/* ---- bundles ---- */

/* An inner end of a link: where two links of a run share one they are the same curve. */
struct joint {
    uint64_t point;
    uint32_t index; /* within the run */
};

static int compare_joints(const void *a, const void *b)
{
    const struct joint *one = a, *two = b;
    if (one->point != two->point)
        return one->point < two->point ? -1 : 1;
    return (one->index > two->index) - (one->index < two->index);
}

static size_t list_joints(const struct reduction *work, size_t from, size_t to,
                          struct joint *joints)
{
    size_t count = 0;
    for (size_t i = from; i < to; i++) {
        const struct link *link = &work->network->links[work->struts[i].link];
        const uint32_t *corner = work->network->partitions[link->sheet].cdt.corner[link->tri];
        for (unsigned k = 1; k <= 2; k++) {
            uint32_t point = corner[(link->side + k) % 3];
            if (work->network->edge_seam[link->sheet][point] == ISTHMUS_NONE)
                joints[count++] =
                    (struct joint){(uint64_t)link->sheet << 32 | point, (uint32_t)(i - from)};
        }
    }
    return count;
}

static void append_bundles(struct reduction *work, size_t from, size_t to, struct classes *curves)
{
    struct reduced *out = work->out;
    for (size_t i = from; i < to; i++) {
        if (class_of(curves, (uint32_t)(i - from)) != i - from)
            continue;
        struct bundle *bundle = &out->bundles[out->bundle_count++];
        *bundle = (struct bundle){.a = work->struts[i].a, .b = work->struts[i].b};
        bundle->first = bundle == out->bundles ? 0 : bundle[-1].first + bundle[-1].count;
        for (size_t j = from; j < to; j++) {
            if (class_of(curves, (uint32_t)(j - from)) != i - from)
                continue;
            out->order[bundle->first + bundle->count++] = work->struts[j].link;
            bundle->area_mm2 += strut_area(work, j);
        }
    }
}

/* Splits a run of struts between the same two classes into curves. */
static void bundle_run(struct reduction *work, size_t from, size_t to, struct joint *joints,
                       struct classes *curves)
{
    bool is_rim = is_hole(work->network, work->struts[from].b);
    curves->count = (uint32_t)(to - from);
    for (uint32_t k = 0; k < curves->count; k++)
        curves->parent[k] = is_rim ? 0 : k;
    size_t count = is_rim ? 0 : list_joints(work, from, to, joints);
    if (count)
        qsort(joints, count, sizeof *joints, compare_joints);
    for (size_t k = 1; k < count; k++)
        if (joints[k].point == joints[k - 1].point)
            class_unite(curves, joints[k - 1].index, joints[k].index);
    append_bundles(work, from, to, curves);
}

static enum neck_status make_bundles(struct reduction *work)
{
    gather_struts(work);
    size_t count = work->strut_count + 1;
    struct joint *joints = malloc(2 * count * sizeof *joints);
    struct classes curves = {.parent = malloc(count * sizeof *curves.parent)};
    work->out->order = malloc(count * sizeof *work->out->order);
    work->out->bundles = malloc(count * sizeof *work->out->bundles);
    bool ok = joints && curves.parent && work->out->order && work->out->bundles;
    for (size_t i = 0; ok && i < work->strut_count;) {
        double sum_mm2;
        size_t end = run_end(work, i, &sum_mm2);
        bundle_run(work, i, end, joints, &curves);
        i = end;
    }
    free(joints);
    free(curves.parent);
    return ok ? NECK_OK : NECK_NO_MEMORY;
}

enum neck_status reduce(const struct network *network, double need_mm2, bool deep,
                        struct reduced *out)
{
    *out = (struct reduced){0};
    out->classes.count = network->node_count;
    out->classes.parent = malloc(((size_t)network->node_count + 1) * sizeof(uint32_t));
    struct reduction work = {.network = network, .out = out, .need_mm2 = need_mm2};
    work.struts = malloc((network->link_count + 1) * sizeof *work.struts);
    enum neck_status status = out->classes.parent && work.struts ? NECK_OK : NECK_NO_MEMORY;
    for (uint32_t n = 0; status == NECK_OK && n < network->node_count; n++)
        out->classes.parent[n] = n;
    if (status == NECK_OK)
        unite_sufficient(&work, deep);
    if (status == NECK_OK && deep)
        status = unite_deeply(&work);
    if (status == NECK_OK)
        status = make_bundles(&work);
    free(work.struts);
    if (status != NECK_OK)
        reduced_free(out);
    return status;
}

void reduced_free(struct reduced *reduced)
{
    free(reduced->classes.parent);
    free(reduced->order);
    free(reduced->bundles);
    *reduced = (struct reduced){0};
}
