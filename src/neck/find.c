/* Necks of one net: pieces, faces, cuts, places, case by case. */
#include "isthmus/neck.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "neck/branches.h"
#include "neck/place.h"
#include "neck/reduce.h"

#define CHORD_LIMIT 4000000 /* taut pieces of one layer, about 300 MB */
/* One maximum flow on a large graph takes a few hundred looks at each link; cut_find() gives its
 * first search a sixteenth of the whole. */
#define EFFORT_BASE UINT64_C(400000000)
#define EFFORT_A_LINK UINT64_C(10000)
#define SHALLOW_LINKS 6000 /* graphs up to this size are judged without deep contraction */
#define CAP_ROOM 1.001
#define SMALL_LINKS 30000  /* up to this size the whole margin is searched at once */
#define MARGIN_LINKS 60000 /* larger ones are not searched for the margin of what passes */

/* One case's problem on the reduced graph. */
struct judge {
    const struct network *network;
    const struct neck_case *of;
    struct reduced reduced;
    uint32_t *index_of; /* per class root: node of the problem, or ISTHMUS_NONE */
    struct cut_problem problem;
    struct cut_node *nodes;
    struct cut_edge *edges;
    struct cut_terminal *terminals;
    struct arena *scratch, *arena;
    bool is_wide_known; /* an earlier round has proved that nothing is too narrow */
    bool has_no_near;   /* what is shared is not told from this graph, or in no question */
};

static uint32_t problem_node(struct judge *judge, uint32_t root)
{
    if (judge->index_of[root] != ISTHMUS_NONE)
        return judge->index_of[root];
    uint32_t hole_base = judge->network->hole_base;
    struct cut_node node = {.area_mm2 = INFINITY, .piece = ISTHMUS_NONE};
    if (root >= hole_base) {
        node.piece = root - hole_base;
        node.area_mm2 = judge->network->net->holes[node.piece].wall_area_mm2;
    }
    judge->nodes[judge->problem.node_count] = node;
    judge->index_of[root] = (uint32_t)judge->problem.node_count++;
    return judge->index_of[root];
}

static bool make_edges(struct judge *judge)
{
    size_t count = judge->reduced.bundle_count;
    judge->nodes =
        arena_alloc(judge->scratch, (size_t)judge->network->node_count + 1, sizeof *judge->nodes);
    judge->edges = arena_alloc(judge->scratch, count + 1, sizeof *judge->edges);
    judge->index_of =
        arena_alloc(judge->scratch, judge->network->node_count, sizeof *judge->index_of);
    if (!judge->nodes || !judge->edges || !judge->index_of)
        return false;
    memset(judge->index_of, 0xff, judge->network->node_count * sizeof *judge->index_of);
    for (size_t i = 0; i < count; i++) {
        const struct bundle *bundle = &judge->reduced.bundles[i];
        judge->edges[i] = (struct cut_edge){.a = problem_node(judge, bundle->a),
                                            .b = problem_node(judge, bundle->b),
                                            .area_mm2 = bundle->area_mm2,
                                            .piece = (uint32_t)i};
    }
    judge->problem.edges = judge->edges;
    judge->problem.edge_count = count;
    return true;
}

/* A class of faces, or a hole, and the terminal it belongs to. */
struct belonging {
    uint32_t terminal, node;
};

static int compare_belongings(const void *a, const void *b)
{
    const struct belonging *one = a, *two = b;
    if (one->terminal != two->terminal)
        return one->terminal < two->terminal ? -1 : 1;
    return (one->node > two->node) - (one->node < two->node);
}

static size_t list_belongings(struct judge *judge, struct belonging *out)
{
    const struct network *network = judge->network;
    size_t count = 0, kept = 0;
    for (uint32_t n = 0; n < network->node_count; n++)
        if (network->terminal_of[n] != ISTHMUS_NONE)
            out[count++] = (struct belonging){
                network->terminal_of[n], problem_node(judge, class_of(&judge->reduced.classes, n))};
    if (count)
        qsort(out, count, sizeof *out, compare_belongings);
    for (size_t i = 0; i < count; i++)
        if (kept == 0 || compare_belongings(&out[kept - 1], &out[i]) != 0)
            out[kept++] = out[i];
    return kept;
}

static size_t count_contact_nodes(const struct network *network)
{
    size_t count = 0;
    for (uint32_t n = 0; n < network->node_count; n++)
        count += network->terminal_of[n] != ISTHMUS_NONE;
    return count;
}

/* NECK_APART: a terminal has no copper at all. */
static enum neck_status make_terminals(struct judge *judge)
{
    size_t terminal_count = judge->network->net->terminal_count;
    size_t node_count = count_contact_nodes(judge->network);
    struct belonging *all = arena_alloc(judge->scratch, node_count + 1, sizeof *all);
    uint32_t *nodes = arena_alloc(judge->scratch, node_count + 1, sizeof *nodes);
    judge->terminals = arena_alloc(judge->scratch, terminal_count + 1, sizeof *judge->terminals);
    if (!all || !nodes || !judge->terminals)
        return NECK_NO_MEMORY;
    size_t count = list_belongings(judge, all), i = 0;
    for (uint32_t t = 0; t < terminal_count; t++) {
        struct cut_terminal *terminal = &judge->terminals[t];
        *terminal = (struct cut_terminal){.nodes = &nodes[i],
                                          .feed_a = judge->of->feed_a[t],
                                          .draw_a = judge->of->draw_a[t],
                                          .has_row = judge->of->has_row[t]};
        for (; i < count && all[i].terminal == t; i++) {
            nodes[i] = all[i].node;
            terminal->node_count++;
        }
        if (terminal->node_count == 0)
            return NECK_APART;
    }
    judge->problem.terminals = judge->terminals;
    judge->problem.terminal_count = terminal_count;
    return NECK_OK;
}

static enum neck_status make_problem(struct judge *judge)
{
    if (!make_edges(judge))
        return NECK_NO_MEMORY;
    enum neck_status status = make_terminals(judge);
    judge->problem.nodes = judge->nodes;
    judge->problem.i_net_a = judge->of->i_net_a;
    judge->problem.demand = judge->of->demand;
    if (judge->problem.edge_count > SHALLOW_LINKS)
        judge->problem.effort = EFFORT_BASE + EFFORT_A_LINK * judge->problem.edge_count;
    return status;
}

/* The links and walls behind the edges and nodes of a cut. */
static bool list_crossing(const struct judge *judge, const struct cut *cut, struct crossing *out)
{
    size_t count = 0;
    for (size_t i = 0; i < cut->edge_count; i++)
        count += judge->reduced.bundles[judge->edges[cut->edges[i]].piece].count;
    uint32_t *links = arena_alloc(judge->scratch, count + 1, sizeof *links);
    uint32_t *holes = arena_alloc(judge->scratch, cut->node_count + 1, sizeof *holes);
    if (!links || !holes)
        return false;
    *out = (struct crossing){.links = links, .holes = holes};
    for (size_t i = 0; i < cut->edge_count; i++) {
        const struct bundle *bundle = &judge->reduced.bundles[judge->edges[cut->edges[i]].piece];
        for (uint32_t k = 0; k < bundle->count; k++)
            links[out->link_count++] = judge->reduced.order[bundle->first + k];
    }
    for (size_t i = 0; i < cut->node_count; i++)
        holes[out->hole_count++] = judge->nodes[cut->nodes[i]].piece;
    return true;
}

static enum neck_status make_place(const struct judge *judge, const struct cut *cut,
                                   struct neck_place *out, size_t *curve_count)
{
    struct crossing crossing;
    if (!list_crossing(judge, cut, &crossing))
        return NECK_NO_MEMORY;
    enum neck_status status =
        place_from_crossing(judge->network, &crossing, judge->arena, out, curve_count);
    out->area_mm2 = cut->area_mm2;
    out->required_mm2 = cut->required_mm2;
    out->current_a = cut->current_a;
    out->margin = cut->margin;
    return status;
}

/* The stretches of the places so far, each with the cut it was measured for. */
struct cut_stretch {
    struct stretch stretch;
    const struct cut *cut;
    size_t piece_count; /* of the place */
};
struct stretches {
    struct cut_stretch *items;
    size_t count, capacity;
    struct stretch_places places;
};

static void free_stretches(struct stretches *list)
{
    for (size_t i = 0; i < list->count; i++)
        free(list->items[i].stretch.points);
    free(list->items);
    *list = (struct stretches){0};
}

/* A sense tap tells no cuts apart, here as in the order they come in. */
static bool has_equal_sides(const struct cut_problem *problem, const struct cut *a,
                            const struct cut *b)
{
    for (size_t t = 0; t < problem->terminal_count; t++) {
        bool is_tap = problem->terminals[t].feed_a <= 0 && problem->terminals[t].draw_a <= 0;
        if (a->side[t] != b->side[t] && !is_tap)
            return false;
    }
    return true;
}

/* Equal but for terminals that one of the two cuts crosses; sides 1 and 2 may change places. */
static bool has_alike_sides(const struct cut_problem *problem, const struct cut *a,
                            const struct cut *b)
{
    bool is_straight = true, is_mirrored = true;
    for (size_t t = 0; t < problem->terminal_count; t++) {
        bool is_tap = problem->terminals[t].feed_a <= 0 && problem->terminals[t].draw_a <= 0;
        if (is_tap || a->side[t] == 3 || b->side[t] == 3)
            continue;
        is_straight &= a->side[t] == b->side[t];
        is_mirrored &= a->side[t] != b->side[t];
    }
    return is_straight || is_mirrored;
}

/*
 * Is a place told already by the stretch of another one? A narrow way that reaches into a pad is
 * cut before the pad and across it, with the pad's terminal on one side or on both: these are one
 * place, if mending the first mends the second.
 */
static bool tells_of(const struct cut_problem *problem, const struct cut_stretch *told,
                     const struct cut *cut)
{
    return told->piece_count == 1 && told->cut->required_mm2 >= cut->required_mm2 &&
           told->cut->is_unassigned == cut->is_unassigned &&
           has_alike_sides(problem, told->cut, cut);
}

static bool is_covered(const struct cut_problem *problem, const struct stretches *list,
                       const struct cut *cut, const struct neck_place *place, bool is_one_curve)
{
    size_t hit_count = 0;
    for (size_t p = 0; p < place->piece_count; p++) {
        bool is_hit = false;
        for (size_t s = 0; s < list->count && !is_hit; s++) {
            const struct cut_stretch *told = &list->items[s];
            if (!stretch_covers(&told->stretch, &place->pieces[p])) /* hundreds of terminals last */
                continue;
            if (is_one_curve && tells_of(problem, told, cut))
                return true;
            is_hit = has_equal_sides(problem, told->cut, cut);
        }
        hit_count += is_hit;
    }
    return place->piece_count > 0 && hit_count == place->piece_count;
}

/* A closed curve round a contact widens by 2 pi for each step away from it. */
static double round_stretch_mm(const struct neck_place *place, double ratio)
{
    double length_mm = 0;
    for (size_t p = 0; p < place->piece_count; p++) {
        const struct neck_piece *piece = &place->pieces[p];
        if (piece->kind == PIECE_WALL || piece->kind == PIECE_RIM ||
            piece->bound_a != ISTHMUS_NONE || piece->bound_b != ISTHMUS_NONE)
            return 0;
        length_mm += piece->length_mm;
    }
    return length_mm * (ratio - 1) / (2 * acos(-1));
}

/* Every piece is followed until it has its share of what the place needs. */
static enum neck_status measure_place(const struct network *network, const struct cut *cut,
                                      struct neck_place *place, struct stretches *list)
{
    double ratio = place->area_mm2 > 0 ? place->required_mm2 / place->area_mm2 : 1;
    place->narrow_length_mm = round_stretch_mm(place, ratio);
    for (size_t p = 0; p < place->piece_count; p++) {
        if (!array_grow(&list->items, sizeof *list->items, &list->capacity, list->count + 1))
            return NECK_NO_MEMORY;
        list->items[list->count] =
            (struct cut_stretch){.cut = cut, .piece_count = place->piece_count};
        struct stretch *stretch = &list->items[list->count].stretch;
        const struct neck_piece *piece = &place->pieces[p];
        enum neck_status status =
            stretch_measure(network, &list->places, piece, piece->length_mm * ratio, stretch);
        if (status != NECK_OK)
            return status;
        list->count++;
        place->narrow_length_mm = fmax(place->narrow_length_mm, stretch->length_mm);
    }
    return NECK_OK;
}

/* All places of the cuts [from, to) that part the same terminals, but those in `told`. */
static enum neck_status fill_neck(struct judge *judge, const struct cut *cuts, size_t count,
                                  struct stretches *told, struct neck *neck)
{
    enum neck_status status = NECK_OK;
    *neck = (struct neck){.side = cuts[0].side, .is_unassigned = cuts[0].is_unassigned};
    neck->places = arena_alloc(judge->arena, count, sizeof *neck->places);
    if (!neck->places)
        return NECK_NO_MEMORY;
    for (size_t i = 0; i < count && status == NECK_OK; i++) {
        size_t curves = 0;
        struct neck_place *place = &neck->places[neck->place_count];
        status = make_place(judge, &cuts[i], place, &curves);
        if (status != NECK_OK || is_covered(&judge->problem, told, &cuts[i], place, curves == 1))
            continue;
        status = measure_place(judge->network, &cuts[i], place, told);
        neck->narrow_length_mm += place->narrow_length_mm;
        neck->is_shared |= curves > 1;
        neck->place_count++;
    }
    return status;
}

static enum neck_status make_necks(struct judge *judge, const struct cut_result *cuts,
                                   struct neck_result *out)
{
    struct stretches told = {0};
    enum neck_status status = NECK_OK;
    out->necks = arena_alloc(judge->arena, cuts->narrow_count + 1, sizeof *out->necks);
    if (!out->necks ||
        (cuts->narrow_count > 0 && !stretch_index(judge->network, judge->scratch, &told.places)))
        return NECK_NO_MEMORY;
    for (size_t i = 0; i < cuts->narrow_count && status == NECK_OK;) {
        size_t end = i + 1;
        while (end < cuts->narrow_count &&
               has_equal_sides(&judge->problem, &cuts->narrow[i], &cuts->narrow[end]))
            end++;
        struct neck *neck = &out->necks[out->neck_count];
        status = fill_neck(judge, &cuts->narrow[i], end - i, &told, neck);
        out->neck_count += neck->place_count > 0;
        i = end;
    }
    free_stretches(&told);
    return status;
}

static enum neck_status from_cut_status(enum cut_status status)
{
    if (status == CUT_OK)
        return NECK_OK;
    return status == CUT_APART ? NECK_APART : NECK_NO_MEMORY;
}

/* Several curves, not each of which would do alone? Current divides by resistance: where one is
 * wide enough for all, a short thin one beside it may still be made to carry too much. */
static enum neck_status look_for_sharing(const struct judge *judge, const struct cut *cut,
                                         bool *is_shared)
{
    struct crossing crossing;
    struct neck_place place;
    size_t curve_count;
    double least_mm2 = INFINITY;
    if (!list_crossing(judge, cut, &crossing))
        return NECK_NO_MEMORY;
    enum neck_status status =
        place_from_crossing(judge->network, &crossing, judge->scratch, &place, &curve_count);
    for (size_t i = 0; status == NECK_OK && i < place.piece_count; i++)
        least_mm2 = fmin(least_mm2, place.pieces[i].area_mm2);
    *is_shared |= status == NECK_OK && curve_count > 1 && least_mm2 < cut->required_mm2;
    return status;
}

/* cut_find counts edges; here it is known which of them are one curve. */
static enum neck_status note_sharing(const struct judge *judge, const struct cut_result *cuts,
                                     struct neck_result *out)
{
    bool is_shared = !cuts->is_single_everywhere && !cuts->is_near_complete;
    enum neck_status status = NECK_OK;
    for (size_t i = 0; i < cuts->near_count && !is_shared && status == NECK_OK; i++)
        status = look_for_sharing(judge, &cuts->near[i], &is_shared);
    out->is_single_everywhere = !judge->has_no_near && !is_shared;
    return status;
}

static enum neck_status judge_case(struct judge *judge, double margin_limit,
                                   struct neck_result *out)
{
    struct cut_result cuts = {0};
    enum neck_status status = make_problem(judge);
    judge->problem.is_wide_known = judge->is_wide_known;
    judge->problem.has_no_near = judge->has_no_near;
    if (status == NECK_OK)
        status = from_cut_status(cut_find(&judge->problem, margin_limit, judge->arena, &cuts));
    if (status == NECK_OK)
        status = make_necks(judge, &cuts, out);
    if (status == NECK_OK)
        status = note_sharing(judge, &cuts, out);
    if (status != NECK_OK)
        return status;
    out->is_proved = cuts.is_proved && !cuts.has_more && !judge->network->is_partial;
    out->has_least = cuts.has_least;
    size_t curves;
    return cuts.has_least ? make_place(judge, &cuts.least, &out->least, &curves) : NECK_OK;
}

static double case_need_mm2(const struct neck_case *of)
{
    return demand_area_mm2(&of->demand, of->i_net_a);
}

/* One search: all cases at one margin. */
struct round {
    const struct neck_net *net;
    const struct neck_case *cases;
    size_t case_count;
    double margin;
    bool is_last; /* at the margin that was asked for: what is shared is told from these cuts */
    size_t most_links;
    struct arena *arena;
    struct neck_result *out;
    size_t links;      /* the largest graph */
    double cap_mm2;    /* no cut above this is looked for */
    bool is_too_large; /* more pieces or links than this round may have: nothing was judged */
};

/*
 * Deep contraction hides cuts behind smaller ones and joins what suffices only together, so what
 * is shared cannot be told from a graph made small by it.
 */
static enum neck_status reduce_case(struct round *round, const struct network *network,
                                    const struct neck_case *of, struct reduced *out, bool *is_deep)
{
    double need_mm2 = fmin(round->cap_mm2, case_need_mm2(of) * round->margin);
    enum neck_status status = reduce(network, need_mm2, false, out);
    if (status != NECK_OK)
        return status;
    *is_deep = out->bundle_count > SHALLOW_LINKS;
    if (*is_deep) {
        reduced_free(out);
        status = reduce(network, need_mm2, true, out);
    }
    if (status == NECK_OK && out->bundle_count > round->links)
        round->links = out->bundle_count;
    round->is_too_large |= out->bundle_count > round->most_links;
    return status;
}

/* Is every spoke about a contact wide enough for its share of what the terminal can carry? */
static bool are_spokes_enough(const struct network *network, const struct neck_case *of)
{
    for (size_t i = 0; i < network->spoke_count; i++) {
        const struct spoke_set *spokes = &network->spokes[i];
        double most_a = fmax(of->feed_a[spokes->terminal], of->draw_a[spokes->terminal]);
        double share_a = fmin(of->i_net_a, most_a) / spokes->count;
        if (spokes->area_mm2 < demand_area_mm2(&of->demand, share_a))
            return false;
    }
    return true;
}

/* Holes whose wall suffices join the copper to which their rim is joined well enough. */
static void join_through_holes(const struct network *network, double need_mm2, struct reduced *wide)
{
    for (size_t i = 0; i < wide->bundle_count; i++) {
        const struct bundle *bundle = &wide->bundles[i];
        if (bundle->b >= network->hole_base && bundle->area_mm2 >= need_mm2 &&
            network->net->holes[bundle->b - network->hole_base].wall_area_mm2 >= need_mm2)
            class_unite(&wide->classes, bundle->a, bundle->b);
    }
}

#define SINGLE_PAD (ISTHMUS_NONE - 1)

static void note_single_pads(const struct neck_net *net, uint32_t *class_of_terminal)
{
    for (size_t t = 0; t < net->terminal_count; t++) {
        size_t count = 0;
        for (size_t c = 0; c < net->contact_count; c++)
            count += net->contacts[c].terminal == t;
        class_of_terminal[t] = count > 1 ? ISTHMUS_NONE : SINGLE_PAD;
    }
}

/* Terminals of several pads in different classes join these outside the board: ways beside each
 * other again. */
static bool are_pads_joined(const struct network *network, const struct neck_case *of,
                            struct classes *wide, uint32_t *class_of_terminal)
{
    note_single_pads(network->net, class_of_terminal);
    for (uint32_t n = 0; n < network->hole_base; n++) {
        uint32_t t = network->terminal_of[n];
        if (t == ISTHMUS_NONE || class_of_terminal[t] == SINGLE_PAD ||
            fmax(of->feed_a[t], of->draw_a[t]) <= 0)
            continue;
        uint32_t class = class_of(wide, n);
        if (class_of_terminal[t] != ISTHMUS_NONE && class_of_terminal[t] != class)
            return false;
        class_of_terminal[t] = class;
    }
    return true;
}

/* Do links that suffice alone, each for the whole net, join all pads of each terminal? */
static enum neck_status look_for_wide_pads(const struct network *network,
                                           const struct neck_case *of, bool *is_joined)
{
    struct reduced wide;
    uint32_t *class_of_terminal =
        malloc((network->net->terminal_count + 1) * sizeof *class_of_terminal);
    enum neck_status status =
        class_of_terminal ? reduce(network, case_need_mm2(of), false, &wide) : NECK_NO_MEMORY;
    if (status == NECK_OK) {
        join_through_holes(network, case_need_mm2(of), &wide);
        *is_joined = are_pads_joined(network, of, &wide.classes, class_of_terminal);
        reduced_free(&wide);
    }
    free(class_of_terminal);
    return status;
}

/*
 * Current divides by resistance: where one way is wide enough for all, a short thin one beside it
 * may still be made to carry too much. So a plain pass wants every way that runs beside another to
 * suffice alone: webs between openings, rings over several layers, and ways to the several pads of
 * a terminal. (These last may also be told from the cuts up to the margin; spokes round one contact
 * count by their share.)
 */
static enum neck_status look_for_ways_beside(const struct network *network,
                                             const struct neck_case *of, struct neck_result *out)
{
    double need_mm2 = case_need_mm2(of);
    bool is_told = out->is_single_everywhere;
    out->is_single_everywhere = network->web_mm2 >= need_mm2 && network->loop_mm2 >= need_mm2 &&
                                are_spokes_enough(network, of);
    if (!out->is_single_everywhere || is_told)
        return NECK_OK;
    return look_for_wide_pads(network, of, &out->is_single_everywhere);
}

static enum neck_status run_case(struct round *round, const struct network *network, size_t c,
                                 struct neck_result *out)
{
    const struct neck_case *of = &round->cases[c];
    bool is_deep = false;
    struct judge judge = {.network = network, .of = of, .arena = round->arena};
    judge.scratch = arena_new("neck case");
    enum neck_status status =
        judge.scratch ? reduce_case(round, network, of, &judge.reduced, &is_deep) : NECK_NO_MEMORY;
    judge.is_wide_known = round->out[c].is_proved; /* of cases with necks none is run again */
    judge.has_no_near = is_deep || !round->is_last;
    if (status == NECK_OK && !round->is_too_large) {
        status = judge_case(&judge, round->margin, out);
        out->searched_margin = round->margin;
        if (status == NECK_OK)
            status = look_for_ways_beside(network, of, out);
    }
    reduced_free(&judge.reduced);
    arena_free(judge.scratch);
    return status;
}

static void count_chords(const struct network *network, struct neck_result *out)
{
    out->chord_count = network->found_count;
    out->chord_kept_count = 0;
    for (size_t s = 0; s < network->sheet_count; s++)
        out->chord_kept_count += network->chords[s].count;
}

static enum neck_status run_cases(struct round *round, const struct network *network)
{
    enum neck_status status = NECK_OK;
    for (size_t c = 0; c < round->case_count && status == NECK_OK && !round->is_too_large; c++) {
        if (round->out[c].neck_count)
            continue;
        struct neck_result result = {0};
        count_chords(network, &result);
        status = branches_find(network, round->arena, &result);
        if (status == NECK_OK)
            status = run_case(round, network, c, &result);
        if (status == NECK_OK && !round->is_too_large)
            round->out[c] = result;
    }
    return status;
}

/* What it takes at most to cut a terminal off: its outlines, and the walls of holes within them. */
static enum neck_status outline_area(const struct network *network, uint32_t terminal,
                                     struct arena *scratch, double *area_mm2)
{
    const struct neck_net *net = network->net;
    bool *is_counted = arena_alloc(scratch, net->hole_count + 1, sizeof *is_counted);
    if (!is_counted)
        return NECK_NO_MEMORY;
    *area_mm2 = 0;
    for (size_t l = 0; l < network->link_count; l++) {
        const struct link *link = &network->links[l];
        bool has_a = network->terminal_of[link->a] == terminal;
        if (link->b < network->hole_base) {
            if (has_a != (network->terminal_of[link->b] == terminal))
                *area_mm2 += link->area_mm2;
        } else if (has_a && !is_counted[link->b - network->hole_base]) {
            is_counted[link->b - network->hole_base] = true;
            *area_mm2 += net->holes[link->b - network->hole_base].wall_area_mm2;
        }
    }
    return NECK_OK;
}

/*
 * Between two terminals no least cut is wider than the outlines of either. That spares large graphs
 * the many pieces that are longer.
 */
static enum neck_status cap_by_outlines(struct round *round, const struct network *network,
                                        struct arena *scratch)
{
    if (round->net->terminal_count != 2 || network->link_count <= SHALLOW_LINKS)
        return NECK_OK;
    for (uint32_t t = 0; t < 2; t++) {
        double area_mm2;
        enum neck_status status = outline_area(network, t, scratch, &area_mm2);
        if (status != NECK_OK)
            return status;
        round->cap_mm2 = fmin(round->cap_mm2, area_mm2 * CAP_ROOM);
    }
    return NECK_OK;
}

static enum neck_status build_network(struct round *round, double need_mm2, struct arena *scratch,
                                      struct network *network)
{
    double limit_mm2 = fmin(need_mm2, round->cap_mm2);
    enum neck_status status =
        network_build(round->net, limit_mm2, CHORD_LIMIT, scratch, network, &round->is_too_large);
    if (status == NECK_OK && !round->is_too_large)
        status = cap_by_outlines(round, network, scratch);
    if (status == NECK_OK && !round->is_too_large && round->cap_mm2 < limit_mm2) {
        network_free(network);
        status = network_build(round->net, round->cap_mm2, CHORD_LIMIT, scratch, network,
                               &round->is_too_large);
    }
    /* Beyond what must be proved, a part of the pieces says nothing about the margin. */
    if (round->margin > 1 && network->is_partial)
        round->is_too_large = true;
    return status;
}

/* The cases at one margin; those that already have a narrow place are left as they are. */
static enum neck_status run_round(struct round *round)
{
    double need_mm2 = 0;
    for (size_t c = 0; c < round->case_count; c++)
        if (round->out[c].neck_count == 0)
            need_mm2 = fmax(need_mm2, case_need_mm2(&round->cases[c]) * round->margin);
    struct arena *scratch = arena_new("neck");
    if (!scratch)
        return NECK_NO_MEMORY;
    struct network network;
    enum neck_status status = build_network(round, need_mm2, scratch, &network);
    if (status == NECK_OK && !round->is_too_large)
        status = run_cases(round, &network);
    network_free(&network);
    arena_free(scratch);
    return status;
}

static bool needs_more(const struct round *round)
{
    for (size_t c = 0; c < round->case_count; c++)
        if (round->out[c].neck_count == 0 && !round->out[c].has_least)
            return true;
    return false;
}

static bool has_pass(const struct round *round)
{
    for (size_t c = 0; c < round->case_count; c++)
        if (round->out[c].neck_count == 0)
            return true;
    return false;
}

/*
 * The least margin of nets that pass. Where the graph is small all is seen at once; in large ones
 * step by step, as pieces and their crossings grow fast with the margin, until one is found or the
 * graph grows too large: then it is known up to searched_margin only.
 */
static enum neck_status search_margin(struct round *round, double limit)
{
    static const double steps[] = {1.2, 1.5, 2, 2.5, INFINITY};
    bool is_small = round->links <= SMALL_LINKS;
    enum neck_status status = NECK_OK;
    if (is_small) {
        round->margin = limit;
        round->is_last = true;
        round->most_links = MARGIN_LINKS;
        status = run_round(round);
        if (status != NECK_OK || !round->is_too_large)
            return status;
    }
    round->most_links = MARGIN_LINKS;
    for (size_t i = 0; status == NECK_OK && needs_more(round); i++) {
        round->is_last = steps[i] >= limit;
        round->margin = round->is_last ? limit : steps[i];
        round->is_too_large = false;
        status = run_round(round);
        if (round->is_last || round->is_too_large)
            break;
    }
    return status;
}

/*
 * First what is too narrow: pieces up to the requirement are few. Only nets that pass are searched
 * on for their least margin.
 */
enum neck_status neck_find(const struct neck_net *net, const struct neck_case *cases,
                           size_t case_count, double margin_limit, struct arena *arena,
                           struct neck_result *out)
{
    struct round round = {.net = net,
                          .cases = cases,
                          .case_count = case_count,
                          .margin = 1,
                          .is_last = margin_limit <= 1,
                          .most_links = SIZE_MAX,
                          .cap_mm2 = INFINITY,
                          .arena = arena,
                          .out = out};
    for (size_t c = 0; c < case_count; c++)
        out[c] = (struct neck_result){0};
    enum neck_status status = run_round(&round);
    if (status == NECK_OK && round.is_too_large)
        return NECK_NO_MEMORY;
    if (status != NECK_OK || margin_limit <= 1 || !has_pass(&round))
        return status;
    return search_margin(&round, margin_limit);
}
