/* From copper to a graph: domains, taut pieces, faces, links. */
#include "neck/network.h"

#include "neck/loops.h"
#include "neck/rings.h"
#include "neck/webs.h"

#include <math.h>
#include <stdlib.h>

#define PLAIN_FACTOR 1.01
#define PLAIN_EXTRA_NM 5000.0

uint32_t class_of(struct classes *classes, uint32_t node)
{
    uint32_t root = node;
    while (classes->parent[root] != root)
        root = classes->parent[root];
    while (classes->parent[node] != root) {
        uint32_t next = classes->parent[node];
        classes->parent[node] = root;
        node = next;
    }
    return root;
}

void class_unite(struct classes *classes, uint32_t a, uint32_t b)
{
    classes->parent[class_of(classes, b)] = class_of(classes, a);
}

struct pt link_start(const struct network *network, const struct link *link)
{
    const struct cdt *cdt = &network->partitions[link->sheet].cdt;
    return cdt->points[cdt->corner[link->tri][next_corner(link->side)]];
}

struct pt link_end(const struct network *network, const struct link *link)
{
    const struct cdt *cdt = &network->partitions[link->sheet].cdt;
    return cdt->points[cdt->corner[link->tri][previous_corner(link->side)]];
}

/*
 * A side that is no piece is a valid cut too, but between flattened outlines, a little shorter than
 * the true piece beside it. It must not stand in for that: it counts as a little longer.
 */
static double counted_nm(const struct partition *partition, uint32_t tri, unsigned side)
{
    double length_nm = partition_measure(partition, tri, side).length_nm;
    return partition->cdt.chain[tri][side] == ISTHMUS_NONE
               ? length_nm * PLAIN_FACTOR + PLAIN_EXTRA_NM
               : length_nm;
}

/* mm2 of external copper for a length on a sheet. */
static double area_mm2(const struct neck_sheet *sheet, double length_nm)
{
    return length_nm * 1e-6 * sheet->thickness_mm * sheet->weight;
}

static bool add_link(struct network *network, struct link link)
{
    if (!array_grow(&network->links, sizeof *network->links, &network->link_capacity,
                    network->link_count + 1))
        return false;
    network->links[network->link_count++] = link;
    return true;
}

/* The node across side i of a copper triangle, or ISTHMUS_NONE when nothing passes there. */
static uint32_t node_across(const struct network *network, uint32_t s, uint32_t tri, unsigned side)
{
    const struct partition *partition = &network->partitions[s];
    const struct seam *boundary = partition_boundary(partition, tri, side);
    uint32_t across = partition->cdt.neighbour[tri][side];
    if (boundary) {
        uint32_t hole = partition_rim_hole(partition, boundary);
        return hole < network->net->hole_count ? network->hole_base + hole : ISTHMUS_NONE;
    }
    bool is_copper = across != ISTHMUS_NONE && partition->label[across] != LABEL_BARE;
    return is_copper && across > tri ? network->face_base[s] + across : ISTHMUS_NONE;
}

static bool link_sheet(struct network *network, uint32_t s)
{
    const struct partition *partition = &network->partitions[s];
    for (uint32_t t = 0; t < partition->cdt.tri_count; t++) {
        if (partition->label[t] == LABEL_BARE)
            continue;
        for (unsigned i = 0; i < 3; i++) {
            uint32_t to = node_across(network, s, t, i);
            if (to == ISTHMUS_NONE)
                continue;
            struct link link = {.a = network->face_base[s] + t,
                                .b = to,
                                .area_mm2 =
                                    area_mm2(partition->domain->sheet, counted_nm(partition, t, i)),
                                .sheet = s,
                                .tri = t,
                                .side = (uint8_t)i};
            if (!add_link(network, link))
                return false;
        }
    }
    return true;
}

static bool note_edge_points(struct network *network, uint32_t s, struct arena *scratch)
{
    const struct partition *partition = &network->partitions[s];
    const struct cdt *cdt = &partition->cdt;
    uint32_t *seam_at = arena_alloc(scratch, cdt->point_count, sizeof *seam_at);
    network->edge_seam[s] = seam_at;
    if (!seam_at)
        return false;
    for (uint32_t p = 0; p < cdt->point_count; p++)
        seam_at[p] = ISTHMUS_NONE;
    for (uint32_t t = 0; t < cdt->tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            if (!partition_boundary(partition, t, i))
                continue;
            seam_at[cdt->corner[t][next_corner(i)]] = cdt->chain[t][i];
            seam_at[cdt->corner[t][previous_corner(i)]] = cdt->chain[t][i];
        }
    return true;
}

/*
 * A soldered lead fills its hole: where a layer has no pad round it, the rim is the contact, and
 * the wall is no cross-section for the lead's own current. Where pads surround the hole it parts
 * them from nothing else and needs no place of its own.
 */
static void note_bare_rims(struct network *network)
{
    const struct neck_net *net = network->net;
    for (size_t i = 0; i < network->link_count; i++) {
        const struct link *link = &network->links[i];
        if (link->b < network->hole_base)
            continue;
        uint32_t contact = net->holes[link->b - network->hole_base].contact;
        uint32_t terminal =
            contact < net->contact_count ? net->contacts[contact].terminal : ISTHMUS_NONE;
        if (network->terminal_of[link->a] != terminal)
            network->terminal_of[link->b] = terminal;
    }
}

static void note_terminals(struct network *network)
{
    for (uint32_t n = 0; n < network->node_count; n++)
        network->terminal_of[n] = ISTHMUS_NONE;
    for (uint32_t s = 0; s < network->sheet_count; s++) {
        const struct partition *partition = &network->partitions[s];
        for (uint32_t t = 0; t < partition->cdt.tri_count; t++)
            if (label_is_contact(partition->label[t]))
                network->terminal_of[network->face_base[s] + t] =
                    network->net->contacts[label_owner(partition->label[t])].terminal;
    }
    note_bare_rims(network);
}

/*
 * A layer with more pieces than this is searched less far: what then is found is real, and a pass
 * no proof. A caller whose own limit is lower is told instead.
 */
#define PIECES_AT_ONCE 300000
#define SHORTER_REACH 0.6
/* Rather than look for all and throw them away, a part is counted first where there are many
 * directions to look in; it must exceed the limit clearly. */
#define SAMPLE_STEP 64
#define SAMPLE_CONES 20000
#define SAMPLE_ROOM 1.25

static enum neck_status shorten_reach(struct network *network, uint32_t s, size_t most,
                                      double *reach_nm)
{
    const struct domain *domain = &network->domains[s];
    size_t clearly_more = (size_t)((double)most * SAMPLE_ROOM), count = SIZE_MAX;
    if (domain->cone_count < SAMPLE_CONES)
        return NECK_OK;
    for (;;) {
        enum neck_status status = taut_sample(domain, *reach_nm, SAMPLE_STEP, clearly_more, &count);
        if (status != NECK_OK || count <= clearly_more)
            return status;
        *reach_nm *= SHORTER_REACH;
        network->is_partial = true;
    }
}

static enum neck_status find_within(struct network *network, uint32_t s, double reach_nm,
                                    size_t limit)
{
    struct chord_list *chords = &network->chords[s];
    bool may_shorten = limit > PIECES_AT_ONCE;
    size_t most = may_shorten ? PIECES_AT_ONCE : limit;
    enum neck_status status = may_shorten ? shorten_reach(network, s, most, &reach_nm) : NECK_OK;
    if (status == NECK_OK)
        status = taut_find(&network->domains[s], reach_nm, most, chords);
    while (status == NECK_OK && chords->is_over_limit && may_shorten) {
        free(chords->items);
        *chords = (struct chord_list){0};
        reach_nm *= SHORTER_REACH;
        network->is_partial = true;
        status = taut_find(&network->domains[s], reach_nm, most, chords);
    }
    return status;
}

static bool add_spokes(struct network *network, const struct neck_sheet *sheet,
                       const struct spokes *of)
{
    const struct neck_net *net = network->net;
    if (!array_grow(&network->spokes, sizeof *network->spokes, &network->spoke_capacity,
                    network->spoke_count + 1))
        return false;
    network->spokes[network->spoke_count++] =
        (struct spoke_set){.terminal = net->contacts[of->contact].terminal,
                           .count = of->gap_count,
                           .area_mm2 = area_mm2(sheet, of->shortest_nm)};
    return true;
}

static enum neck_status note_webs(struct network *network, uint32_t s)
{
    const struct neck_sheet *sheet = network->domains[s].sheet;
    struct webs webs;
    enum neck_status status = webs_find(&network->domains[s], &network->chords[s], &webs);
    network->web_mm2 = fmin(network->web_mm2, area_mm2(sheet, webs.shortest_nm));
    for (size_t i = 0; i < webs.spoke_count && status == NECK_OK; i++)
        if (!add_spokes(network, sheet, &webs.spokes[i]))
            status = NECK_NO_MEMORY;
    webs_free(&webs);
    return status;
}

/* The pieces of one layer that cuts below need_mm2 may consist of. */
static enum neck_status find_pieces(struct network *network, uint32_t s, double need_mm2,
                                    size_t limit, bool *is_over_limit)
{
    const struct domain *domain = &network->domains[s];
    const struct neck_sheet *sheet = domain->sheet;
    struct chord_list *chords = &network->chords[s];
    double suffices_nm = need_mm2 / (sheet->thickness_mm * sheet->weight) * 1e6;
    double reach_nm = suffices_nm + 2 * network->net->etch_loss_mm * 1e6;
    enum neck_status status = find_within(network, s, reach_nm, limit);
    if (status == NECK_OK && chords->is_over_limit)
        *is_over_limit = true;
    if (status != NECK_OK || *is_over_limit)
        return status;
    network->found_count += chords->count;
    status = taut_thin_strips(domain, chords);
    if (status == NECK_OK)
        status = note_webs(network, s);
    if (status == NECK_OK)
        status = taut_drop_needless(domain, suffices_nm, chords);
    if (status == NECK_OK)
        status = taut_drop_dominated(domain, chords);
    return status == NECK_OK ? taut_drop_hugs(domain, chords) : status;
}

static int compare_lengths(const void *left, const void *right)
{
    const struct chord *a = left, *b = right;
    if (a->length_nm < b->length_nm || a->length_nm > b->length_nm)
        return a->length_nm < b->length_nm ? -1 : 1;
    if (a->vertex_a != b->vertex_a)
        return a->vertex_a < b->vertex_a ? -1 : 1;
    return (a->vertex_b > b->vertex_b) - (a->vertex_b < b->vertex_b);
}

/*
 * Pieces that all cross each other would fill the memory (a ground area full of holes, at a current
 * that every gap is too narrow for). Then the shortest ones are kept: whatever cut they make is a
 * real one, and it is noted that finding none proves nothing.
 */
static enum neck_status divide(struct network *network, uint32_t s)
{
    struct chord_list *chords = &network->chords[s];
    for (;;) {
        enum neck_status status =
            partition_build(&network->domains[s], chords, &network->partitions[s]);
        if (status != NECK_OK || !network->partitions[s].is_too_dense)
            return status;
        if (chords->count > 0)
            qsort(chords->items, chords->count, sizeof *chords->items, compare_lengths);
        /* crossings grow at least with the square of how many pieces there are */
        double share = fmin(0.67, 0.9 / sqrt(network->partitions[s].crossing_excess));
        chords->count = (size_t)((double)chords->count * share);
        network->is_partial = true;
    }
}

static enum neck_status build_sheet(struct network *network, uint32_t s, double need_mm2,
                                    size_t limit, struct arena *scratch, bool *is_over_limit)
{
    struct domain *domain = &network->domains[s];
    struct neck_sheet *sheet = arena_alloc(scratch, 1, sizeof *sheet);
    if (!sheet || !rings_leave_out(network->net, &network->net->sheets[s], scratch, sheet))
        return NECK_NO_MEMORY;
    enum neck_status status = domain_build(network->net, sheet, scratch, domain);
    if (status == NECK_OK)
        status = domain_find_cones(domain, scratch);
    if (status == NECK_OK)
        status = find_pieces(network, s, need_mm2, limit, is_over_limit);
    if (status == NECK_OK && !*is_over_limit)
        status = divide(network, s);
    return status;
}

/* Without memory the network has no sheets. */
static bool allocate(struct network *network, struct arena *scratch, size_t count)
{
    network->domains = arena_alloc(scratch, count, sizeof *network->domains);
    network->chords = arena_alloc(scratch, count, sizeof *network->chords);
    network->partitions = arena_alloc(scratch, count, sizeof *network->partitions);
    network->face_base = arena_alloc(scratch, count + 1, sizeof *network->face_base);
    network->edge_seam = arena_alloc(scratch, count, sizeof *network->edge_seam);
    bool is_done = network->domains && network->chords && network->partitions &&
                   network->face_base && network->edge_seam;
    network->sheet_count = is_done ? count : 0;
    return is_done;
}

static bool number_nodes(struct network *network, struct arena *scratch)
{
    uint64_t count = 0;
    for (size_t s = 0; s < network->sheet_count; s++) {
        network->face_base[s] = (uint32_t)count;
        count += network->partitions[s].cdt.tri_count;
    }
    network->hole_base = (uint32_t)count;
    count += network->net->hole_count;
    if (count >= ISTHMUS_NONE)
        return false;
    network->node_count = (uint32_t)count;
    network->terminal_of = arena_alloc(scratch, count, sizeof *network->terminal_of);
    return network->terminal_of != NULL;
}

enum neck_status network_build(const struct neck_net *net, double need_mm2, size_t chord_limit,
                               struct arena *scratch, struct network *out, bool *is_over_limit)
{
    *out = (struct network){.net = net, .web_mm2 = INFINITY, .loop_mm2 = INFINITY};
    *is_over_limit = false;
    if (!allocate(out, scratch, net->sheet_count))
        return NECK_NO_MEMORY;
    for (uint32_t s = 0; s < net->sheet_count; s++) {
        enum neck_status status =
            build_sheet(out, s, need_mm2, chord_limit, scratch, is_over_limit);
        if (status != NECK_OK || *is_over_limit)
            return status;
    }
    if (!number_nodes(out, scratch))
        return NECK_NO_MEMORY;
    for (uint32_t s = 0; s < net->sheet_count; s++)
        if (!link_sheet(out, s) || !note_edge_points(out, s, scratch))
            return NECK_NO_MEMORY;
    note_terminals(out);
    return loops_find(out);
}

/* Where current may pass from side i of a mesh's triangle, or ISTHMUS_NONE; each way once. */
static uint32_t mesh_node_across(const struct network *network, uint32_t s, uint32_t tri,
                                 unsigned side)
{
    const struct domain *domain = &network->domains[s];
    uint32_t across = domain->neighbour[tri][side];
    if (across != ISTHMUS_NONE)
        return across > tri ? network->face_base[s] + across : ISTHMUS_NONE;
    uint32_t hole = domain_rim_hole(domain, tri, side);
    return hole != ISTHMUS_NONE ? network->hole_base + hole : ISTHMUS_NONE;
}

static bool link_mesh(struct network *network, uint32_t s)
{
    for (uint32_t t = 0; t < network->domains[s].tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            uint32_t to = mesh_node_across(network, s, t, i);
            struct link link = {network->face_base[s] + t, to, INFINITY, s, t, (uint8_t)i};
            if (to != ISTHMUS_NONE && !add_link(network, link))
                return false;
        }
    return true;
}

enum neck_status network_of_meshes(const struct neck_net *net, struct arena *scratch,
                                   struct network *out)
{
    *out = (struct network){.net = net, .web_mm2 = INFINITY, .loop_mm2 = INFINITY};
    if (!allocate(out, scratch, net->sheet_count))
        return NECK_NO_MEMORY;
    for (uint32_t s = 0; s < net->sheet_count; s++)
        if (domain_cut_out(net, &net->sheets[s], scratch, &out->domains[s]) != NECK_OK ||
            !partition_lay_over(&out->domains[s], scratch, &out->partitions[s]))
            return NECK_NO_MEMORY;
    bool is_done = number_nodes(out, scratch) &&
                   array_grow(&out->links, sizeof *out->links, &out->link_capacity,
                              (size_t)out->hole_base / 2 * 3); /* sides, two a link; rims beside */
    for (uint32_t s = 0; s < net->sheet_count && is_done; s++)
        is_done = link_mesh(out, s);
    if (is_done)
        note_terminals(out);
    return is_done ? NECK_OK : NECK_NO_MEMORY;
}

void network_free(struct network *network)
{
    for (size_t s = 0; s < network->sheet_count; s++) {
        domain_free(&network->domains[s]);
        free(network->chords[s].items);
        partition_free(&network->partitions[s]);
    }
    free(network->links);
    free(network->spokes);
    network->links = NULL;
    network->spokes = NULL;
    network->sheet_count = 0;
}
