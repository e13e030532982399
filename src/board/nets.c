/*
 * Nets: which conductor has which name, where sources disagree, which pieces hang together that
 * should not. Terminals come from terminals.c, which runs in the middle of this.
 */
#include "names.h"
#include "nets.h"

#include <stdlib.h>
#include <string.h>

/* ---- [joins] ---- */

static uint32_t join_root(const uint32_t *parent, uint32_t name)
{
    while (parent[name] != name)
        name = parent[name];
    return name;
}

static void say_unknown_join(struct build *build, const struct name_table *names,
                             const struct join *join, const char *name)
{
    const char *nearest = nearest_name(name, names->names, names->count);
    const char *advice = nearest ? arena_printf(build->scratch, "did you mean %s?", nearest) : NULL;
    diag_add(build->diags, DIAG_WARNING, "join-unknown", join->at, advice,
             "[joins] names net %s, which the board does not have", name);
}

/* `AGND = GND`: both are GND for currents. */
static bool read_joins(struct net_work *work)
{
    const struct board_facts *facts = &work->build->board->facts;
    const struct name_table *names = &work->names;
    work->join = arena_alloc(work->build->scratch, names->count + 1, sizeof *work->join);
    if (!work->join)
        return false;
    for (uint32_t n = 0; n < names->count; n++)
        work->join[n] = n;
    for (size_t j = 0; j < facts->join_count; j++) {
        const struct join *join = &facts->joins[j];
        uint32_t a = name_lookup(names, join->a), b = name_lookup(names, join->b);
        if (a == ISTHMUS_NONE)
            say_unknown_join(work->build, names, join, join->a);
        if (b == ISTHMUS_NONE)
            say_unknown_join(work->build, names, join, join->b);
        if (a != ISTHMUS_NONE && b != ISTHMUS_NONE)
            work->join[join_root(work->join, a)] = join_root(work->join, b);
    }
    return true;
}

/* ---- the list of nets ---- */

static int compare_by_name(const void *a, const void *b, void *context)
{
    const struct name_table *names = context;
    return strcmp(names->names[*(const uint32_t *)a], names->names[*(const uint32_t *)b]);
}

static const char *const named_by[] = {"attribute", "netlist", "table position"};

/* Who named it first: attributes before netlists before the table. */
static void describe_origin(struct net_work *work)
{
    for (size_t i = 0; i < work->claims.count; i++) {
        const struct claim *claim = &work->claims.items[i];
        struct net *net = &work->build->board->nets[work->net_of_name[claim->name]];
        net->may_be_several |= claim->may_be_cut;
        if (net->named_by && strcmp(net->named_by, named_by[claim->source]) <= 0)
            continue;
        net->named_by = named_by[claim->source];
        net->named_at = claim->at;
    }
}

static bool list_nets(struct net_work *work)
{
    struct board *board = work->build->board;
    size_t count = work->names.count;
    uint32_t *order = arena_alloc(work->build->scratch, count + 1, sizeof *order);
    work->net_of_name = arena_alloc(work->build->scratch, count + 1, sizeof *work->net_of_name);
    board->nets = arena_alloc(work->build->arena, count + 1, sizeof *board->nets);
    if (!order || !work->net_of_name || !board->nets)
        return false;
    for (uint32_t n = 0; n < count; n++)
        order[n] = n;
    if (count)
        qsort_r(order, count, sizeof *order, compare_by_name, &work->names);
    for (uint32_t i = 0; i < count; i++)
        work->net_of_name[order[i]] = i;
    for (uint32_t i = 0; i < count; i++) {
        board->nets[i].name = work->names.names[order[i]];
        board->nets[i].joined_into = work->net_of_name[join_root(work->join, order[i])];
    }
    board->net_count = count;
    describe_origin(work);
    return true;
}

/* ---- conductors ---- */

static uint32_t root_net(const struct net_work *work, const struct claim *claim)
{
    return work->build->board->nets[work->net_of_name[claim->name]].joined_into;
}

static const char *say_claim(struct net_work *work, const struct claim *claim)
{
    struct build *build = work->build;
    char word[16];
    const char *layer = claim->layer ? layer_word(build->board, claim->layer, word) : "hole";
    const char *file = claim->at.file_id ? build->files->files[claim->at.file_id - 1].name : "?";
    return arena_printf(build->arena, "%s (%s, %.4f, %.4f mm, %s, %s:%u)",
                        work->names.names[claim->name], named_by[claim->source],
                        (double)claim->place.x_nm / 1e6, (double)claim->place.y_nm / 1e6, layer,
                        file, claim->at.line);
}

static void set_state(struct net_work *work, uint32_t net, enum net_state state, const char *detail)
{
    struct net *target = &work->build->board->nets[net];
    if (target->state != NET_OK && target->state >= state)
        return;
    target->state = state;
    target->state_detail = detail;
}

static struct clash_name name_of_claim(const struct net_work *work, const struct claim *claim)
{
    return (struct clash_name){.net = root_net(work, claim),
                               .name = work->names.names[claim->name],
                               .named_by = named_by[claim->source],
                               .place = claim->place,
                               .layer = claim->layer,
                               .at = claim->at};
}

/* How many points of its name a netlist puts on other copper. */
static uint32_t count_elsewhere(const struct net_work *work, const struct claim *claim)
{
    uint32_t count = 0;
    for (size_t i = 0; i < work->claims.count; i++) {
        const struct claim *other = &work->claims.items[i];
        if (other->source == CLAIM_NETLIST && other->conductor != claim->conductor &&
            root_net(work, other) == root_net(work, claim))
            count += other->count;
    }
    return count;
}

#define FEWEST_AGAINST_ONE 2

/* A netlist's only point of a name on this copper, which has others of its name elsewhere, against
 * several points of the other name: the record may be what is wrong. *out stays NULL otherwise. */
static bool doubt_lone_point(struct net_work *work, const struct claim *lone,
                             const struct claim *many, const char **out)
{
    if (lone->source != CLAIM_NETLIST || lone->count != 1 || many->count < FEWEST_AGAINST_ONE)
        return true;
    uint32_t elsewhere = count_elsewhere(work, lone);
    if (elsewhere < FEWEST_AGAINST_ONE)
        return true;
    *out =
        arena_printf(work->build->arena,
                     "only line %u of the netlist (at %.4f, %.4f mm) says %s here; the %u other "
                     "points of %s lie on other copper: that record may be wrong",
                     lone->at.line, (double)lone->place.x_nm / 1e6, (double)lone->place.y_nm / 1e6,
                     work->names.names[lone->name], elsewhere, work->names.names[lone->name]);
    return *out != NULL;
}

static bool add_clash(struct net_work *work, const struct claim *a, const struct claim *b,
                      bool is_join)
{
    const char *doubt = NULL;
    const struct claim *lone = b;
    if (is_join && !doubt_lone_point(work, b, a, &doubt))
        return false;
    if (is_join && !doubt) {
        lone = a;
        if (!doubt_lone_point(work, a, b, &doubt))
            return false;
    }
    if (!array_grow(&work->clashes, sizeof *work->clashes, &work->clash_capacity,
                    work->clash_count + 1))
        return false;
    work->clashes[work->clash_count++] =
        (struct net_clash){.conductor = a->conductor,
                           .is_join = is_join,
                           .doubt = doubt,
                           .lone_net = doubt ? root_net(work, lone) : ISTHMUS_NONE,
                           .names = {name_of_claim(work, a), name_of_claim(work, b)}};
    return true;
}

static void say_disagreement(struct build *build, const struct claim *a, const struct claim *b,
                             const char *detail)
{
    bool is_row = a->source == CLAIM_POSITION || b->source == CLAIM_POSITION;
    diag_add(build->diags, is_row ? DIAG_ERROR : DIAG_WARNING,
             is_row ? "position-contradicts" : "names-disagree", b->at,
             is_row ? "correct the row's net or place"
                    : "make sure that netlist and drawings are of the same state of the board; the "
                      "nets are not judged",
             "%s", detail);
}

/* All that a netlist says of this name here it says of places to which it gives other names too. */
static bool is_self_contradiction(const struct claim *a, const struct claim *b)
{
    return a->source == CLAIM_NETLIST && b->source == CLAIM_NETLIST &&
           (a->clash_line || b->clash_line);
}

/* Two netlists of which each knows one of the names: the one is not of this board's state. */
static bool is_netlist_against_netlist(const struct claim *a, const struct claim *b)
{
    return a->source == CLAIM_NETLIST && b->source == CLAIM_NETLIST && !a->is_of_many_files &&
           !b->is_of_many_files && a->at.file_id != b->at.file_id;
}

/* Two names on one conductor: from one kind of source the copper joins two nets, from two kinds
 * they disagree about it. */
static bool contradict(struct net_work *work, const struct claim *a, const struct claim *b)
{
    struct build *build = work->build;
    const struct claim *twice = b->clash_line ? b : a;
    bool is_netlists_fault = is_self_contradiction(a, b);
    bool is_join = a->source == b->source && a->source != CLAIM_POSITION && !b->is_refuted &&
                   !is_netlists_fault && !is_netlist_against_netlist(a, b);
    const char *one = say_claim(work, a), *other = say_claim(work, b);
    const char *detail =
        !one || !other ? NULL
        : is_netlists_fault
            ? arena_printf(build->arena,
                           "the netlist contradicts itself at %.4f, %.4f mm: lines %u and %u give "
                           "the place two names, and it calls the copper %s and %s; correct it",
                           (double)twice->place.x_nm / 1e6, (double)twice->place.y_nm / 1e6,
                           twice->clash_line < twice->at.line ? twice->clash_line : twice->at.line,
                           twice->clash_line < twice->at.line ? twice->at.line : twice->clash_line,
                           one, other)
        : is_join
            ? arena_printf(build->arena,
                           "one piece of copper carries %s and %s; if the tie is meant, add `%s = "
                           "%s` to [joins] in board.ini",
                           one, other, work->names.names[b->name], work->names.names[a->name])
            : arena_printf(build->arena,
                           "the same copper is named %s and %s; make the sources agree", one,
                           other);
    if (!detail || !add_clash(work, a, b, is_join))
        return false;
    enum net_state state = is_join ? NET_JOINED : NET_DISPUTED;
    set_state(work, root_net(work, a), state, detail);
    set_state(work, root_net(work, b), state, detail);
    if (!is_join && !is_netlists_fault)
        say_disagreement(build, a, b, detail);
    return true;
}

/* Pins before copper, attributes before netlists before rows, often before seldom. */
static bool is_stronger(const struct claim *a, const struct claim *b)
{
    if (a->source != b->source)
        return a->source < b->source;
    if (a->is_terminal != b->is_terminal)
        return a->is_terminal;
    return a->count > b->count;
}

/* The claim of the conductor's name by this source; the best one where it says nothing of it: then
 * two sources disagree. */
static const struct claim *same_source(struct net_work *work, const struct claim *claims,
                                       size_t count, const struct claim *best,
                                       enum claim_source source)
{
    for (size_t i = 0; i < count; i++)
        if (claims[i].source == source && root_net(work, &claims[i]) == root_net(work, best))
            return &claims[i];
    return best;
}

static bool has_clash(const struct net_work *work, uint32_t conductor, uint32_t net)
{
    for (size_t i = work->clash_count; i-- > 0 && work->clashes[i].conductor == conductor;)
        if (work->clashes[i].names[1].net == net)
            return true;
    return false;
}

/* Each foreign net of a conductor clashes with its name once, best as a join within one source. */
static bool contradict_all(struct net_work *work, const struct claim *claims, size_t count,
                           const struct claim *best)
{
    for (int is_join = 1; is_join >= 0; is_join--)
        for (size_t i = 0; i < count; i++) {
            const struct claim *other = &claims[i];
            const struct claim *own = same_source(work, claims, count, best, other->source);
            /* Where attributes give the very pads another name, the netlist is not believed that
             * its two names meet there. */
            if (other->is_refuted)
                own = best;
            bool is_one_source = own->source == other->source && !other->is_refuted &&
                                 !is_self_contradiction(own, other) &&
                                 !is_netlist_against_netlist(own, other);
            if (root_net(work, other) == root_net(work, best) || is_one_source != is_join ||
                has_clash(work, best->conductor, root_net(work, other)))
                continue;
            if (!contradict(work, own, other))
                return false;
        }
    return true;
}

static bool name_conductor(struct net_work *work, const struct claim *claims, size_t count)
{
    const struct claim *best = &claims[0];
    for (size_t i = 1; i < count; i++)
        if (is_stronger(&claims[i], best))
            best = &claims[i];
    work->build->board->conductors[best->conductor].net = root_net(work, best);
    return contradict_all(work, claims, count, best);
}

static bool name_conductors(struct net_work *work)
{
    const struct claims *claims = &work->claims;
    for (size_t i = 0, next; i < claims->count; i = next) {
        for (next = i;
             next < claims->count && claims->items[next].conductor == claims->items[i].conductor;)
            next++;
        if (!name_conductor(work, claims->items + i, next - i))
            return false;
    }
    return true;
}

static bool collect_conductors(struct build *build)
{
    struct board *board = build->board;
    for (size_t n = 0; n < board->net_count; n++) {
        board->nets[n].conductor_count = 0;
        board->nets[n].area_mm2 = 0;
    }
    for (uint32_t c = 0; c < board->conductor_count; c++)
        if (board->conductors[c].net != ISTHMUS_NONE)
            board->nets[board->conductors[c].net].conductor_count++;
    for (size_t n = 0; n < board->net_count; n++) {
        struct net *net = &board->nets[n];
        net->conductors =
            arena_alloc(build->arena, net->conductor_count + 1, sizeof *net->conductors);
        if (!net->conductors)
            return false;
        net->conductor_count = 0;
    }
    for (uint32_t c = 0; c < board->conductor_count; c++) {
        if (board->conductors[c].net == ISTHMUS_NONE)
            continue;
        struct net *net = &board->nets[board->conductors[c].net];
        net->conductors[net->conductor_count++] = c;
        net->area_mm2 += board->conductors[c].area_mm2;
    }
    return true;
}

/* A pin of the netlist without copper: the net is not what the netlist says, whatever else holds.
 */
static bool doubt_lost_pins(struct net_work *work)
{
    struct build *build = work->build;
    for (size_t i = 0; i < work->claims.lost_count; i++) {
        const struct lost_pin *lost = &work->claims.lost[i];
        const struct net *net = &build->board->nets[work->net_of_name[lost->name]];
        const char *file = build->files->files[lost->at.file_id - 1].name;
        const char *detail = arena_printf(
            build->arena,
            "its pin %s%s%s lies %s at %.4f, %.4f mm (netlist, %s:%u); make the sources "
            "agree",
            lost->ref, lost->pin ? "." : "", lost->pin ? lost->pin : "",
            lost->is_hole ? "in no plated hole" : "on no copper", (double)lost->place.x_nm / 1e6,
            (double)lost->place.y_nm / 1e6, file, lost->at.line);
        if (!detail)
            return false;
        set_state(work, net->joined_into, NET_DISPUTED, detail);
    }
    return true;
}

/* ---- split nets ---- */

static const struct contact *contact_elsewhere(const struct board *board, const struct net *net,
                                               uint32_t conductor, uint32_t *terminal)
{
    for (size_t t = 0; t < net->terminal_count; t++) {
        const struct terminal *candidate = &board->terminals[net->terminals[t]];
        for (size_t c = 0; c < candidate->contact_count; c++) {
            const struct contact *contact = &board->contacts[candidate->contacts[c]];
            if (contact->conductor != conductor && contact->conductor != ISTHMUS_NONE) {
                *terminal = net->terminals[t];
                return contact;
            }
        }
    }
    return NULL;
}

/* Pieces that holes may join are not known to be split. */
static bool doubt_split(struct net_work *work, uint32_t index, const struct contact *first,
                        const struct contact *other)
{
    const char *detail =
        arena_printf(work->build->arena,
                     "its terminals hang on separate pieces of copper (at %.4f, %.4f mm and at "
                     "%.4f, %.4f mm), and the holes that may join them are missing; add the drill "
                     "files",
                     (double)first->place.x_nm / 1e6, (double)first->place.y_nm / 1e6,
                     (double)other->place.x_nm / 1e6, (double)other->place.y_nm / 1e6);
    if (detail)
        set_state(work, index, NET_DISPUTED, detail);
    return detail != NULL;
}

static bool find_split(struct net_work *work, uint32_t index)
{
    struct board *board = work->build->board;
    const struct net *net = &board->nets[index];
    uint32_t first_terminal = ISTHMUS_NONE, other_terminal = ISTHMUS_NONE;
    const struct contact *first = contact_elsewhere(board, net, ISTHMUS_NONE, &first_terminal);
    if (!first)
        return true;
    const struct contact *other = contact_elsewhere(board, net, first->conductor, &other_terminal);
    if (!other)
        return true;
    if (board->are_holes_missing)
        return doubt_split(work, index, first, other);
    const char *problem =
        net->may_be_several ? "its name fills the netlist's columns, and copper in several pieces "
                              "bears it: two nets whose names were cut alike, or one that is split"
                            : "its terminals hang on separate pieces of copper";
    const char *advice = net->may_be_several
                             ? "export the netlist with its aliases for long names (P  NNAME)"
                             : "join them, or give the pieces names of their own";
    const char *detail = arena_printf(
        work->build->arena, "%s: %s at %.4f, %.4f mm and %s at %.4f, %.4f mm; %s", problem,
        board->terminals[first_terminal].name, (double)first->place.x_nm / 1e6,
        (double)first->place.y_nm / 1e6, board->terminals[other_terminal].name,
        (double)other->place.x_nm / 1e6, (double)other->place.y_nm / 1e6, advice);
    if (!detail)
        return false;
    set_state(work, index, NET_SPLIT, detail);
    if (net->may_be_several)
        diag_add(work->build->diags, DIAG_ERROR, "netlist-names-cut-alike", net->named_at, NULL,
                 "net %s: %s", net->name, detail);
    return true;
}

/* A net that is judged as part of another has that one's state. */
static void copy_states(struct board *board)
{
    for (size_t n = 0; n < board->net_count; n++) {
        const struct net *root = &board->nets[board->nets[n].joined_into];
        board->nets[n].state = root->state;
        board->nets[n].state_detail = root->state_detail;
    }
}

static bool are_tied(struct net_work *work, const char *one, const char *other)
{
    size_t known = work->build->board->net_count; /* names that came since then tie nothing */
    uint32_t a = name_as_drawn(&work->names, one, ISTHMUS_NONE);
    uint32_t b = name_as_drawn(&work->names, other, ISTHMUS_NONE);
    return a < known && b < known && join_root(work->join, a) == join_root(work->join, b);
}

/* Two names for one place: whatever else holds, the netlist is wrong there, unless [joins] ties the
 * two. */
static void say_contradictions(struct net_work *work)
{
    const struct build *build = work->build;
    for (size_t i = 0; i < build->point_count; i++) {
        const struct netlist_point *point = build->points[i].point;
        if (!point->clash_line || point->clash_line > point->at.line)
            continue;
        if (!are_tied(work, point->net, point->clash_net))
            diag_add(build->diags, DIAG_ERROR, "netlist-contradiction", point->at,
                     "correct the record that is wrong; or, if the nets are tied there, say so "
                     "under [joins] in board.ini",
                     "the netlist contradicts itself: %s at %.4f, %.4f mm, which line %u calls %s",
                     point->net, (double)build->points[i].at.x_nm / 1e6,
                     (double)build->points[i].at.y_nm / 1e6, point->clash_line, point->clash_net);
    }
}

static bool work_out(struct net_work *work)
{
    struct board *board = work->build->board;
    if (!claims_collect(work->build, &work->names, &work->claims) || !read_joins(work) ||
        !list_nets(work) || !name_conductors(work) || !doubt_lost_pins(work) ||
        !collect_conductors(work->build) || !make_terminals(work))
        return false;
    say_contradictions(work);
    for (uint32_t n = 0; n < board->net_count; n++)
        if (board->nets[n].joined_into == n && !find_split(work, n))
            return false;
    copy_states(board);
    board->clash_count = work->clash_count;
    board->clashes = arena_alloc(work->build->arena, work->clash_count + 1, sizeof *board->clashes);
    if (board->clashes && work->clash_count)
        memcpy(board->clashes, work->clashes, work->clash_count * sizeof *board->clashes);
    return board->clashes != NULL;
}

enum board_status build_nets(struct build *build)
{
    struct net_work work = {.build = build};
    bool is_done = work_out(&work);
    name_table_free(&work.names);
    free(work.claims.items);
    free(work.claims.lost);
    free(work.clashes);
    return is_done ? BOARD_OK : BOARD_NO_MEMORY;
}
