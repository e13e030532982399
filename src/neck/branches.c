/*
 * Copper that lies on no path between two terminals.
 *
 * Such copper hangs by a single link (a bridge of the graph) from the rest. Triangles have three
 * sides, so a ring that hangs by one triangle hangs by its third side; a plated hole meets each
 * layer through a node of its own, so that what lies beyond the hole on a layer hangs by one link
 * too. A depth-first walk from the terminals finds the bridges; all that hangs by one is a stretch
 * of the walk's order, and sums over it are differences.
 */
#include "neck/branches.h"

#include <math.h>
#include <stdlib.h>

#define LONG_IN_WIDTHS 3.0
#define TIP_SHARE 0.7 /* a branch fills this much of width x reach; tips of corners fill half */
#define LEAST_REACH_MM 0.2
#define PAD_SHARE 0.5 /* of a pad's area must hang by the link for the branch to end in it */

struct limb {          /* one way along a link */
    uint32_t to, link; /* link: index; from link_count on: between a hole and its layer node */
};
struct walk {
    const struct network *network;
    struct limb *limbs;
    size_t *first_limb;
    uint32_t node_count, layer_node_base, sheet_count;
    uint32_t *order, *place, *end, *low, *up_link; /* order[place[n]] = n; place starts at 1 */
    size_t *next_limb;
    uint32_t *stack;
    /* sums over order[0 .. i) */
    double *area_mm2;
    uint32_t *holes, *pads, *terminals;
    uint32_t walked;
};

static uint32_t layer_node(const struct walk *walk, uint32_t hole_node, uint32_t sheet)
{
    uint32_t hole = hole_node - walk->network->hole_base;
    return walk->layer_node_base + hole * walk->sheet_count + sheet;
}

static uint32_t far_end(const struct walk *walk, const struct link *link)
{
    return link->b < walk->network->hole_base ? link->b : layer_node(walk, link->b, link->sheet);
}

static size_t hole_link_count(const struct walk *walk)
{
    return walk->network->net->hole_count * walk->sheet_count;
}

/* Ends of link l; those past the network's join a hole and its node on one layer. */
static void link_ends(const struct walk *walk, size_t l, uint32_t *a, uint32_t *b)
{
    const struct network *network = walk->network;
    if (l < network->link_count) {
        *a = network->links[l].a;
        *b = far_end(walk, &network->links[l]);
    } else {
        uint32_t k = (uint32_t)(l - network->link_count);
        *a = network->hole_base + k / walk->sheet_count;
        *b = walk->layer_node_base + k;
    }
}

static void list_limbs(struct walk *walk)
{
    size_t count = walk->network->link_count + hole_link_count(walk);
    for (int pass = 0; pass < 2; pass++) {
        for (size_t l = 0; l < count; l++) {
            uint32_t a, b;
            link_ends(walk, l, &a, &b);
            if (pass) {
                walk->limbs[--walk->first_limb[a]] = (struct limb){b, (uint32_t)l};
                walk->limbs[--walk->first_limb[b]] = (struct limb){a, (uint32_t)l};
            } else {
                walk->first_limb[a]++;
                walk->first_limb[b]++;
            }
        }
        for (uint32_t n = 0; !pass && n < walk->node_count; n++)
            walk->first_limb[n + 1] += walk->first_limb[n];
    }
}

static bool allocate(struct walk *walk, struct arena *scratch)
{
    size_t nodes = (size_t)walk->node_count + 2;
    size_t links = walk->network->link_count + hole_link_count(walk);
    walk->limbs = arena_alloc(scratch, 2 * links + 1, sizeof *walk->limbs);
    walk->first_limb = arena_alloc(scratch, nodes, sizeof *walk->first_limb);
    walk->next_limb = arena_alloc(scratch, nodes, sizeof *walk->next_limb);
    walk->order = arena_alloc(scratch, nodes, sizeof *walk->order);
    walk->place = arena_alloc(scratch, nodes, sizeof *walk->place);
    walk->end = arena_alloc(scratch, nodes, sizeof *walk->end);
    walk->low = arena_alloc(scratch, nodes, sizeof *walk->low);
    walk->up_link = arena_alloc(scratch, nodes, sizeof *walk->up_link);
    walk->stack = arena_alloc(scratch, nodes, sizeof *walk->stack);
    walk->area_mm2 = arena_alloc(scratch, nodes, sizeof *walk->area_mm2);
    walk->holes = arena_alloc(scratch, nodes, sizeof *walk->holes);
    walk->pads = arena_alloc(scratch, nodes, sizeof *walk->pads);
    walk->terminals = arena_alloc(scratch, nodes, sizeof *walk->terminals);
    return walk->limbs && walk->first_limb && walk->next_limb && walk->order && walk->place &&
           walk->end && walk->low && walk->up_link && walk->stack && walk->area_mm2 &&
           walk->holes && walk->pads && walk->terminals;
}

static void enter(struct walk *walk, uint32_t node, uint32_t up_link)
{
    walk->order[walk->walked++] = node;
    walk->place[node] = walk->walked;
    walk->low[node] = walk->walked;
    walk->up_link[node] = up_link;
    walk->next_limb[node] = walk->first_limb[node];
}

static void lower(uint32_t *value, uint32_t candidate)
{
    if (candidate < *value)
        *value = candidate;
}

/* Tarjan 1974, "A note on finding the bridges of a graph", without recursion. */
static void walk_from(struct walk *walk, uint32_t root)
{
    size_t depth = 0;
    enter(walk, root, ISTHMUS_NONE);
    walk->stack[depth++] = root;
    while (depth) {
        uint32_t node = walk->stack[depth - 1];
        if (walk->next_limb[node] < walk->first_limb[node + 1]) {
            struct limb limb = walk->limbs[walk->next_limb[node]++];
            if (limb.link == walk->up_link[node])
                continue;
            if (walk->place[limb.to]) {
                lower(&walk->low[node], walk->place[limb.to]);
            } else {
                enter(walk, limb.to, limb.link);
                walk->stack[depth++] = limb.to;
            }
            continue;
        }
        walk->end[node] = walk->walked;
        if (--depth)
            lower(&walk->low[walk->stack[depth - 1]], walk->low[node]);
    }
}

static uint32_t sheet_of(const struct network *network, uint32_t face)
{
    uint32_t s = 0;
    while (s + 1 < network->sheet_count && face >= network->face_base[s + 1])
        s++;
    return s;
}

static struct pt face_corner(const struct network *network, uint32_t face, unsigned i)
{
    uint32_t s = sheet_of(network, face);
    const struct cdt *cdt = &network->partitions[s].cdt;
    return cdt->points[cdt->corner[face - network->face_base[s]][i]];
}

static uint32_t face_label(const struct network *network, uint32_t face)
{
    uint32_t s = sheet_of(network, face);
    return network->partitions[s].label[face - network->face_base[s]];
}

static double face_area_mm2(const struct network *network, uint32_t face)
{
    struct pt a = face_corner(network, face, 0), b = face_corner(network, face, 1),
              c = face_corner(network, face, 2);
    double x1 = (double)b.x - a.x, y1 = (double)b.y - a.y;
    double x2 = (double)c.x - a.x, y2 = (double)c.y - a.y;
    return (x1 * y2 - y1 * x2) / 2 * 1e-12;
}

/* A hole that something may be soldered to. A via's copper goes on, and ends where that ends. */
static bool is_end_hole(const struct walk *walk, uint32_t node)
{
    uint32_t base = walk->network->hole_base;
    return node >= base && node < walk->layer_node_base &&
           !walk->network->net->holes[node - base].is_via;
}

static void sum_up(struct walk *walk)
{
    const struct network *network = walk->network;
    for (uint32_t i = 0; i < walk->walked; i++) {
        uint32_t node = walk->order[i];
        bool is_face = node < network->hole_base;
        walk->area_mm2[i + 1] = walk->area_mm2[i] + (is_face ? face_area_mm2(network, node) : 0);
        walk->holes[i + 1] = walk->holes[i] + is_end_hole(walk, node);
        walk->pads[i + 1] = walk->pads[i] + (is_face && label_is_pad(face_label(network, node)));
        walk->terminals[i + 1] =
            walk->terminals[i] + (is_face && network->terminal_of[node] != ISTHMUS_NONE);
    }
}

/* What hangs by the link that leads up from a node: order[from .. to). */
struct limb_end {
    uint32_t node, from, to;
    struct pt gate;
    double width_mm, reach_mm, area_mm2;
    struct pt farthest;
    uint16_t position, gate_position; /* of the farthest point, of the link */
};

static bool is_face(const struct walk *walk, uint32_t node)
{
    return node < walk->network->hole_base;
}

static bool is_before(struct pt a, struct pt b)
{
    return a.x != b.x ? a.x < b.x : a.y < b.y;
}

static struct limb_end measure_limb(const struct walk *walk, uint32_t node)
{
    const struct network *network = walk->network;
    struct limb_end end = {.node = node, .from = walk->place[node] - 1, .to = walk->end[node]};
    const struct link *link = &network->links[walk->up_link[node]];
    struct pt a = link_start(network, link), b = link_end(network, link);
    end.gate =
        (struct pt){(int32_t)(((int64_t)a.x + b.x) / 2), (int32_t)(((int64_t)a.y + b.y) / 2)};
    end.width_mm = sqrt((double)distance2(a, b)) * 1e-6;
    end.area_mm2 = walk->area_mm2[end.to] - walk->area_mm2[end.from];
    end.position = end.gate_position = network->net->sheets[link->sheet].position;
    end.farthest = end.gate;
    for (uint32_t i = end.from; i < end.to; i++)
        for (unsigned k = 0; k < 3 && is_face(walk, walk->order[i]); k++) {
            struct pt at = face_corner(network, walk->order[i], k);
            double reach_mm = sqrt((double)distance2(end.gate, at)) * 1e-6;
            /* of equally far tips the first in order: none follows from the mesh's numbers */
            if (reach_mm < end.reach_mm ||
                (reach_mm == end.reach_mm && !is_before(at, end.farthest)))
                continue;
            end.reach_mm = reach_mm;
            end.farthest = at;
            end.position = network->net->sheets[sheet_of(network, walk->order[i])].position;
        }
    return end;
}

static bool is_long(const struct limb_end *end)
{
    return end->area_mm2 > LONG_IN_WIDTHS * end->width_mm * end->width_mm &&
           end->area_mm2 >= TIP_SHARE * end->width_mm * end->reach_mm &&
           end->reach_mm >= LEAST_REACH_MM;
}

static double pad_area_mm2(const struct walk *walk, uint32_t label, uint32_t from, uint32_t to)
{
    double area = 0;
    for (uint32_t i = from; i < to; i++)
        if (is_face(walk, walk->order[i]) && face_label(walk->network, walk->order[i]) == label)
            area += face_area_mm2(walk->network, walk->order[i]);
    return area;
}

/* A pad of no terminal most of which hangs here, or ISTHMUS_NONE; gives a point on it. */
static bool find_pad(const struct walk *walk, const struct limb_end *end, struct pt *at)
{
    uint32_t seen = LABEL_BARE;
    for (uint32_t i = end->from; i < end->to; i++) {
        uint32_t label =
            is_face(walk, walk->order[i]) ? face_label(walk->network, walk->order[i]) : LABEL_BARE;
        if (!label_is_pad(label) || label == seen)
            continue;
        seen = label;
        if (pad_area_mm2(walk, label, end->from, end->to) >=
            PAD_SHARE * pad_area_mm2(walk, label, 0, walk->walked)) {
            *at = face_corner(walk->network, walk->order[i], 0);
            return true;
        }
    }
    return false;
}

static uint32_t find_hole(const struct walk *walk, const struct limb_end *end)
{
    for (uint32_t i = end->from; i < end->to; i++)
        if (is_end_hole(walk, walk->order[i]))
            return walk->order[i] - walk->network->hole_base;
    return ISTHMUS_NONE;
}

/* Is what hangs here worth telling? Fills the branch. */
static bool judge_limb(const struct walk *walk, uint32_t node, struct neck_branch *branch)
{
    uint32_t from = walk->place[node] - 1, to = walk->end[node];
    bool has_hole = walk->holes[to] > walk->holes[from];
    bool has_pad = walk->pads[to] > walk->pads[from];
    struct limb_end end = measure_limb(walk, node);
    *branch = (struct neck_branch){.position = end.position,
                                   .end = end.farthest,
                                   .length_mm = end.area_mm2 / fmax(end.width_mm, 1e-6),
                                   .width_mm = end.width_mm,
                                   .reason = BRANCH_LONG};
    if (has_hole) {
        branch->reason = BRANCH_HOLE;
        branch->end = walk->network->net->holes[find_hole(walk, &end)].centre;
        branch->position = end.gate_position; /* its far pads lie on any layer */
        return true;
    }
    if (has_pad && find_pad(walk, &end, &branch->end)) {
        branch->reason = BRANCH_PAD;
        return true;
    }
    return is_long(&end);
}

static bool is_bridge(const struct walk *walk, uint32_t node)
{
    return walk->up_link[node] != ISTHMUS_NONE && walk->low[node] == walk->place[node];
}

/*
 * Branches from the trunk outwards; nothing within one that is told is told again. Where a branch
 * begins in a hole's node its link has no width of its own: the copper beyond is looked at where it
 * next hangs by a side of a face.
 */
static enum neck_status list_branches(struct walk *walk, struct arena *arena,
                                      struct neck_result *out)
{
    struct neck_branch *items = NULL;
    size_t count = 0, capacity = 0;
    for (uint32_t i = 0; i < walk->walked;) {
        uint32_t node = walk->order[i];
        struct neck_branch branch;
        uint32_t to = walk->end[node];
        bool hangs = is_bridge(walk, node) && walk->terminals[to] == walk->terminals[i] &&
                     walk->up_link[node] < walk->network->link_count && is_face(walk, node);
        if (!hangs || !judge_limb(walk, node, &branch)) {
            i++;
            continue;
        }
        if (!array_grow(&items, sizeof *items, &capacity, count + 1)) {
            free(items);
            return NECK_NO_MEMORY;
        }
        items[count++] = branch;
        i = to;
    }
    out->branches = arena_alloc(arena, count + 1, sizeof *out->branches);
    for (size_t b = 0; out->branches && b < count; b++)
        out->branches[out->branch_count++] = items[b];
    free(items);
    return out->branches ? NECK_OK : NECK_NO_MEMORY;
}

enum neck_status neck_dead_ends(const struct neck_net *net, struct arena *arena,
                                struct neck_branch **out, size_t *out_count)
{
    struct arena *scratch = arena_new("dead ends");
    struct network network;
    struct neck_result found = {0};
    if (!scratch)
        return NECK_NO_MEMORY;
    enum neck_status status = network_of_meshes(net, scratch, &network);
    if (status == NECK_OK)
        status = branches_find(&network, arena, &found);
    *out = found.branches;
    *out_count = found.branch_count;
    network_free(&network);
    arena_free(scratch);
    return status;
}

enum neck_status branches_find(const struct network *network, struct arena *arena,
                               struct neck_result *out)
{
    struct arena *scratch = arena_new("neck branches");
    struct walk walk = {.network = network,
                        .sheet_count = (uint32_t)network->sheet_count,
                        .layer_node_base = network->node_count};
    uint64_t nodes = (uint64_t)network->node_count + hole_link_count(&walk);
    enum neck_status status = NECK_NO_MEMORY;
    walk.node_count = (uint32_t)nodes;
    if (scratch && nodes < ISTHMUS_NONE - 2 && allocate(&walk, scratch)) {
        list_limbs(&walk);
        for (uint32_t n = 0; n < network->hole_base; n++)
            if (network->terminal_of[n] != ISTHMUS_NONE && !walk.place[n])
                walk_from(&walk, n);
        sum_up(&walk);
        status = list_branches(&walk, arena, out);
    }
    arena_free(scratch);
    return status;
}
