/* Puts the taut pieces into the copper's mesh and measures the sides of its faces. */
#include "neck/partition.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A snap-rounded piece, turned so that p comes before q. */
struct strand {
    struct pt p, q;
    uint32_t source;
};

static int compare_points(struct pt a, struct pt b)
{
    if (a.x != b.x)
        return a.x < b.x ? -1 : 1;
    return (a.y > b.y) - (a.y < b.y);
}

static int compare_strands(const void *a, const void *b)
{
    const struct strand *one = a, *two = b;
    int order = compare_points(one->p, two->p);
    if (order == 0)
        order = compare_points(one->q, two->q);
    if (order == 0)
        order = (one->source > two->source) - (one->source < two->source);
    return order;
}

static uint32_t domain_label(const struct domain *domain, uint32_t tri)
{
    if (tri == ISTHMUS_NONE)
        return LABEL_BARE;
    if (domain->contact[tri] != ISTHMUS_NONE)
        return 2 + 2 * domain->contact[tri];
    return domain->pad[tri] != ISTHMUS_NONE ? 3 + 2 * domain->pad[tri] : LABEL_COPPER;
}

static bool is_domain_edge(const struct domain *domain, uint32_t tri, unsigned side)
{
    uint32_t across = domain->neighbour[tri][side];
    return across == ISTHMUS_NONE ||
           (tri < across && domain_label(domain, tri) != domain_label(domain, across));
}

static struct pt edge_start(const struct domain *domain, struct domain_edge edge)
{
    /* every edge's side is set when it is listed */
    /* NOLINTNEXTLINE(clang-analyzer-core.uninitialized.ArraySubscript) */
    return domain->points[domain->corner[edge.tri][next_corner(edge.side)]];
}

static struct pt edge_end(const struct domain *domain, struct domain_edge edge)
{
    return domain->points[domain->corner[edge.tri][previous_corner(edge.side)]];
}

static bool list_domain_edges(struct partition *partition)
{
    const struct domain *domain = partition->domain;
    uint32_t count = 0;
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++)
            count += is_domain_edge(domain, t, i);
    partition->edges = malloc(((size_t)count + 1) * sizeof *partition->edges);
    if (!partition->edges)
        return false;
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++)
            if (is_domain_edge(domain, t, i))
                partition->edges[partition->edge_count++] = (struct domain_edge){t, (uint8_t)i};
    return true;
}

static struct cdt_edge *gather_sources(const struct partition *partition, size_t *count)
{
    *count = partition->edge_count + partition->chord_count;
    struct cdt_edge *sources = malloc((*count + 1) * sizeof *sources);
    if (!sources)
        return NULL;
    for (uint32_t e = 0; e < partition->edge_count; e++)
        sources[e] = (struct cdt_edge){edge_start(partition->domain, partition->edges[e]),
                                       edge_end(partition->domain, partition->edges[e]), e};
    for (size_t c = 0; c < partition->chord_count; c++)
        sources[partition->edge_count + c] =
            (struct cdt_edge){partition->chords[c].a, partition->chords[c].b, 0};
    return sources;
}

static struct strand *sort_strands(const struct snap_result *snapped)
{
    struct strand *strands = malloc((snapped->piece_count + 1) * sizeof *strands);
    if (!strands)
        return NULL;
    for (size_t i = 0; i < snapped->piece_count; i++) {
        const struct cdt_edge *piece = &snapped->pieces[i];
        bool is_turned = compare_points(piece->a, piece->b) > 0;
        strands[i] = is_turned ? (struct strand){piece->b, piece->a, piece->tag}
                               : (struct strand){piece->a, piece->b, piece->tag};
    }
    if (snapped->piece_count)
        qsort(strands, snapped->piece_count, sizeof *strands, compare_strands);
    return strands;
}

static void note_source(struct partition *partition, struct seam *seam, uint32_t source)
{
    partition->sources[seam->first_source + seam->source_count++] = source;
    if (source >= partition->edge_count)
        return;
    const struct domain_edge *edge = &partition->edges[source];
    if (partition->domain->neighbour[edge->tri][edge->side] == ISTHMUS_NONE)
        seam->is_boundary = true;
    else
        seam->is_outline = true;
}

static bool join_strands(struct partition *partition, const struct strand *strands, size_t count)
{
    partition->seams = calloc(count + 1, sizeof *partition->seams);
    partition->sources = malloc((count + 1) * sizeof *partition->sources);
    if (!partition->seams || !partition->sources)
        return false;
    for (size_t i = 0; i < count; i++) {
        bool is_new = i == 0 || compare_points(strands[i].p, strands[i - 1].p) != 0 ||
                      compare_points(strands[i].q, strands[i - 1].q) != 0;
        if (is_new)
            partition->seams[partition->seam_count++] =
                (struct seam){.p = strands[i].p, .q = strands[i].q, .first_source = (uint32_t)i};
        note_source(partition, &partition->seams[partition->seam_count - 1], strands[i].source);
    }
    return true;
}

static enum neck_status from_mesh_status(enum mesh_status status)
{
    if (status == MESH_OK)
        return NECK_OK;
    return status == MESH_NO_MEMORY ? NECK_NO_MEMORY : NECK_BUG;
}

static enum neck_status triangulate(struct partition *partition)
{
    struct cdt_edge *edges = malloc(((size_t)partition->seam_count + 1) * sizeof *edges);
    if (!edges)
        return NECK_NO_MEMORY;
    for (uint32_t s = 0; s < partition->seam_count; s++)
        edges[s] = (struct cdt_edge){partition->seams[s].p, partition->seams[s].q, s};
    enum mesh_status status = cdt_build(edges, partition->seam_count, false, &partition->cdt);
    free(edges);
    return from_mesh_status(status);
}

static double crossing_limit(const struct partition *partition)
{
    const struct neck_net *net = partition->domain->net;
    return net->is_part ? PARTITION_CROSSINGS_OF_PART
                        : (double)PARTITION_CROSSINGS / (double)net->sheet_count;
}

static enum neck_status snap_and_triangulate(struct partition *partition)
{
    size_t count;
    struct snap_result snapped = {0};
    struct cdt_edge *sources = gather_sources(partition, &count);
    if (!sources)
        return NECK_NO_MEMORY;
    enum neck_status status = from_mesh_status(snap_round(sources, count, &snapped));
    free(sources);
    partition->crossing_excess = (double)snapped.crossing_count / crossing_limit(partition);
    if (status == NECK_OK && partition->crossing_excess > 1) {
        free(snapped.pieces);
        partition->is_too_dense = true;
        return NECK_OK;
    }
    if (status != NECK_OK)
        return status;
    struct strand *strands = snapped.piece_count < ISTHMUS_NONE ? sort_strands(&snapped) : NULL;
    bool ok = strands && join_strands(partition, strands, snapped.piece_count);
    free(strands);
    free(snapped.pieces);
    return ok ? triangulate(partition) : NECK_NO_MEMORY;
}

/* ---- labels: flood between boundaries and outlines, then each region by vote ---- */

struct vote {
    uint32_t region, label;
    double length_nm;
};

static bool is_barrier(const struct partition *partition, uint32_t tri, unsigned side)
{
    uint32_t seam = partition->cdt.chain[tri][side];
    return seam != ISTHMUS_NONE &&
           (partition->seams[seam].is_boundary || partition->seams[seam].is_outline);
}

static uint32_t flood(const struct partition *partition, uint32_t *region, uint32_t *stack)
{
    const struct cdt *cdt = &partition->cdt;
    uint32_t count = 0;
    memset(region, 0xff, cdt->tri_count * sizeof *region);
    for (uint32_t start = 0; start < cdt->tri_count; start++) {
        if (region[start] != ISTHMUS_NONE)
            continue;
        size_t depth = 0;
        stack[depth++] = start;
        region[start] = count;
        while (depth) {
            uint32_t t = stack[--depth];
            for (unsigned i = 0; i < 3; i++) {
                uint32_t across = cdt->neighbour[t][i];
                if (across == ISTHMUS_NONE || region[across] != ISTHMUS_NONE ||
                    is_barrier(partition, t, i))
                    continue;
                region[across] = count;
                stack[depth++] = across;
            }
        }
        count++;
    }
    return count;
}

/* What the single edge of the domain along this side says about the triangle. */
static bool read_vote(const struct partition *partition, uint32_t tri, unsigned side,
                      struct vote *vote)
{
    uint32_t s = partition->cdt.chain[tri][side];
    if (!is_barrier(partition, tri, side))
        return false;
    const struct seam *seam = &partition->seams[s];
    const uint32_t *sources = &partition->sources[seam->first_source];
    if (seam->source_count > 1 && sources[1] < partition->edge_count)
        return false; /* edges that fell together: neither side is sure */
    const struct domain *domain = partition->domain;
    struct domain_edge edge = partition->edges[sources[0]];
    const uint32_t *corner = partition->cdt.corner[tri];
    struct pt from = partition->cdt.points[corner[next_corner(side)]];
    struct pt to = partition->cdt.points[corner[previous_corner(side)]];
    struct pt way = direction(edge_start(domain, edge), edge_end(domain, edge));
    bool is_along = along(direction(from, to), way) > 0;
    uint32_t of = is_along ? edge.tri : domain->neighbour[edge.tri][edge.side];
    vote->label = domain_label(domain, of);
    vote->length_nm = hypot((double)to.x - from.x, (double)to.y - from.y);
    return true;
}

static int compare_votes(const void *a, const void *b)
{
    const struct vote *one = a, *two = b;
    if (one->region != two->region)
        return one->region < two->region ? -1 : 1;
    return (one->label > two->label) - (one->label < two->label);
}

static void count_votes(const struct vote *votes, size_t count, uint32_t *label_of_region)
{
    for (size_t i = 0; i < count;) {
        uint32_t region = votes[i].region;
        double most = 0;
        while (i < count && votes[i].region == region) {
            uint32_t label = votes[i].label;
            double sum = 0;
            for (; i < count && votes[i].region == region && votes[i].label == label; i++)
                sum += votes[i].length_nm;
            if (sum > most) {
                most = sum;
                label_of_region[region] = label;
            }
        }
    }
}

static size_t collect_votes(const struct partition *partition, const uint32_t *region,
                            struct vote *votes)
{
    size_t count = 0;
    for (uint32_t t = 0; t < partition->cdt.tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            struct vote vote = {.region = region[t]};
            if (!read_vote(partition, t, i, &vote))
                continue;
            if (votes)
                votes[count] = vote;
            count++;
        }
    return count;
}

static enum neck_status label_faces(struct partition *partition)
{
    size_t tris = partition->cdt.tri_count;
    uint32_t *region = malloc((tris + 1) * sizeof *region);
    uint32_t *stack = malloc((tris + 1) * sizeof *stack);
    partition->label = calloc(tris + 1, sizeof *partition->label);
    uint32_t *label_of_region = NULL;
    struct vote *votes = NULL;
    bool ok = region && stack && partition->label;
    if (ok) {
        uint32_t regions = flood(partition, region, stack);
        size_t count = collect_votes(partition, region, NULL);
        votes = malloc((count + 1) * sizeof *votes);
        label_of_region = calloc((size_t)regions + 1, sizeof *label_of_region);
        ok = votes && label_of_region;
        if (ok && collect_votes(partition, region, votes) > 0) {
            qsort(votes, count, sizeof *votes, compare_votes);
            count_votes(votes, count, label_of_region);
        }
        for (size_t t = 0; ok && t < tris; t++)
            partition->label[t] = label_of_region[region[t]];
    }
    free(region);
    free(stack);
    free(votes);
    free(label_of_region);
    return ok ? NECK_OK : NECK_NO_MEMORY;
}

enum neck_status partition_build(const struct domain *domain, const struct chord_list *chords,
                                 struct partition *out)
{
    *out =
        (struct partition){.domain = domain, .chords = chords->items, .chord_count = chords->count};
    enum neck_status status = list_domain_edges(out) ? NECK_OK : NECK_NO_MEMORY;
    if (status == NECK_OK)
        status = snap_and_triangulate(out);
    if (status == NECK_OK && !out->is_too_dense)
        status = label_faces(out);
    bool is_too_dense = out->is_too_dense;
    double excess = out->crossing_excess;
    if (status != NECK_OK || is_too_dense)
        partition_free(out);
    out->is_too_dense = is_too_dense;
    out->crossing_excess = excess;
    return status;
}

void partition_free(struct partition *partition)
{
    free(partition->edges);
    free(partition->seams);
    free(partition->sources);
    if (!partition->is_laid_over) {
        free(partition->label);
        cdt_free(&partition->cdt);
    }
    *partition = (struct partition){0};
}

bool partition_lay_over(const struct domain *domain, struct arena *scratch, struct partition *out)
{
    *out = (struct partition){.domain = domain,
                              .cdt = {.points = domain->points,
                                      .point_count = domain->point_count,
                                      .corner = domain->corner,
                                      .neighbour = domain->neighbour,
                                      .tri_count = domain->tri_count},
                              .is_laid_over = true};
    out->label = arena_alloc(scratch, domain->tri_count, sizeof *out->label);
    for (uint32_t t = 0; out->label && t < domain->tri_count; t++)
        out->label[t] = domain_label(domain, t);
    return out->label != NULL;
}

/* ---- measuring ---- */

static double chord_place(const struct chord *chord, struct pt at)
{
    double length2 = (double)distance2(chord->a, chord->b);
    double t = length2 > 0 ? (double)dot(chord->a, chord->b, at) / length2 : 0;
    return fmin(1, fmax(0, t));
}

/* Length of chord from its end a to t, etch losses off. */
static double chord_length_to(const struct chord *chord, double t)
{
    double whole = chord->length_nm - chord->loss_a_nm - chord->loss_b_nm;
    return fmax(0, fmin(whole, t * chord->length_nm - chord->loss_a_nm));
}

/* The shortest of the outlines and rims along a seam, between two of its points. */
static double outline_length_nm(const struct partition *partition, const struct seam *seam,
                                struct pt from, struct pt to)
{
    double least_nm = INFINITY;
    for (uint32_t i = 0; i < seam->source_count; i++) {
        uint32_t source = partition->sources[seam->first_source + i];
        if (source >= partition->edge_count)
            break;
        struct domain_edge edge = partition->edges[source];
        least_nm =
            fmin(least_nm, taut_edge_length_nm(partition->domain, edge.tri, edge.side, from, to));
    }
    return least_nm;
}

struct side_measure partition_measure(const struct partition *partition, uint32_t tri,
                                      unsigned side)
{
    const uint32_t *corner = partition->cdt.corner[tri];
    struct pt from = partition->cdt.points[corner[next_corner(side)]];
    struct pt to = partition->cdt.points[corner[previous_corner(side)]];
    struct side_measure plain = {.length_nm = hypot((double)to.x - from.x, (double)to.y - from.y),
                                 .chord = ISTHMUS_NONE};
    uint32_t s = partition->cdt.chain[tri][side];
    if (s == ISTHMUS_NONE)
        return plain;
    const struct seam *seam = &partition->seams[s];
    plain.is_outline = seam->is_outline;
    if (seam->is_boundary || seam->is_outline)
        plain.length_nm = outline_length_nm(partition, seam, from, to);
    struct side_measure best = plain;
    for (uint32_t i = 0; i < seam->source_count; i++) {
        uint32_t source = partition->sources[seam->first_source + i];
        if (source < partition->edge_count)
            continue;
        uint32_t c = source - partition->edge_count;
        const struct chord *chord = &partition->chords[c];
        double one = chord_place(chord, from), two = chord_place(chord, to);
        double length = fabs(chord_length_to(chord, two) - chord_length_to(chord, one));
        if (best.chord == ISTHMUS_NONE || length < best.length_nm)
            best =
                (struct side_measure){length, c, fmin(one, two), fmax(one, two), seam->is_outline};
    }
    return best;
}

const struct seam *partition_boundary(const struct partition *partition, uint32_t tri,
                                      unsigned side)
{
    uint32_t s = partition->cdt.chain[tri][side];
    return s != ISTHMUS_NONE && partition->seams[s].is_boundary ? &partition->seams[s] : NULL;
}

uint32_t partition_rim_hole(const struct partition *partition, const struct seam *seam)
{
    const struct domain *domain = partition->domain;
    for (uint32_t i = 0; i < seam->source_count; i++) {
        uint32_t source = partition->sources[seam->first_source + i];
        if (source >= partition->edge_count)
            break;
        struct domain_edge edge = partition->edges[source];
        if (domain_bound_kind(domain, edge.tri, edge.side) == BOUND_RIM)
            return domain_rim_hole(domain, edge.tri, edge.side);
    }
    return ISTHMUS_NONE;
}
