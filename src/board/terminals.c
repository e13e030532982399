/*
 * Terminals: the contacts of one reference and pin together, unnamed contacts each alone. So are
 * contacts of which only the reference is known (.C): a part's pads are not one pin.
 */
#include "nets.h"

#include <stdlib.h>
#include <string.h>

static uint32_t name_of_net(const struct net_work *work, uint32_t net)
{
    return net == ISTHMUS_NONE ? ISTHMUS_NONE
                               : name_lookup(&work->names, work->build->board->nets[net].name);
}

/* A contact's own name decides, else that of the copper it lies on. */
static uint32_t net_of_contact(struct net_work *work, uint32_t contact)
{
    const struct board *board = work->build->board;
    const struct draft *draft = &work->build->drafts[contact];
    uint32_t name = ISTHMUS_NONE, net = ISTHMUS_NONE;
    if (draft->contact.conductor != ISTHMUS_NONE)
        net = board->conductors[draft->contact.conductor].net;
    if (is_net_name(draft->net) && draft->net_source != CONTACT_NETLIST)
        name = name_lookup(&work->names, draft->net);
    else if (is_net_name(draft->net))
        name = name_as_drawn(&work->names, draft->net, name_of_net(work, net));
    return name == ISTHMUS_NONE ? net : board->nets[work->net_of_name[name]].joined_into;
}

struct pin_key {
    const char *ref, *pin;
    uint32_t net, contact;
};

static int compare_text(const char *a, const char *b)
{
    return strcmp(a ? a : "", b ? b : "");
}

static int compare_pins(const void *a, const void *b)
{
    const struct pin_key *one = a, *other = b;
    int order = compare_text(one->ref, other->ref);
    if (order == 0)
        order = compare_text(one->pin, other->pin);
    if (order == 0 && one->net != other->net)
        order = one->net < other->net ? -1 : 1;
    if (order == 0)
        order = (one->contact > other->contact) - (one->contact < other->contact);
    return order;
}

static bool is_same_pin(const struct pin_key *a, const struct pin_key *b)
{
    return a->ref && b->ref && a->pin && b->pin && compare_text(a->ref, b->ref) == 0 &&
           compare_text(a->pin, b->pin) == 0 && a->net == b->net;
}

static const char *place_name(const struct build *build, const struct contact *contact)
{
    char word[16];
    bool is_hole = contact->hole != ISTHMUS_NONE;
    const char *layer = is_hole ? "hole" : layer_word(build->board, contact->layer_from, word);
    return arena_printf(build->arena, "(%.2f, %.2f) %s", (double)contact->place.x_nm / 1e6,
                        (double)contact->place.y_nm / 1e6, layer);
}

/* "J1.2", "R5 (12.70, 3.50) top" where the pin is not known, or the place alone. */
static const char *terminal_name(const struct build *build, const struct contact *first)
{
    const char *place = first->ref && first->pin ? NULL : place_name(build, first);
    if (!first->ref || (!first->pin && !place))
        return place;
    return first->pin ? arena_printf(build->arena, "%s.%s", first->ref, first->pin)
                      : arena_printf(build->arena, "%s %s", first->ref, place);
}

static bool fill_terminal(struct net_work *work, const struct pin_key *keys, size_t count,
                          struct terminal *terminal)
{
    struct build *build = work->build;
    const struct contact *first = &build->board->contacts[keys[0].contact];
    terminal->ref = keys[0].ref;
    terminal->pin = keys[0].pin;
    terminal->net = keys[0].net;
    terminal->conductor = first->conductor;
    terminal->name = terminal_name(build, first);
    terminal->contacts = arena_alloc(build->arena, count, sizeof *terminal->contacts);
    if (!terminal->name || !terminal->contacts)
        return false;
    for (size_t i = 0; i < count; i++)
        terminal->contacts[terminal->contact_count++] = keys[i].contact;
    return true;
}

static struct pin_key *collect_keys(struct net_work *work)
{
    const struct board *board = work->build->board;
    struct pin_key *keys =
        arena_alloc(work->build->scratch, board->contact_count + 1, sizeof *keys);
    for (uint32_t c = 0; keys && c < board->contact_count; c++) {
        const struct contact *contact = &board->contacts[c];
        keys[c] = (struct pin_key){
            .ref = contact->ref, .pin = contact->pin, .net = net_of_contact(work, c), .contact = c};
    }
    if (keys && board->contact_count)
        qsort(keys, board->contact_count, sizeof *keys, compare_pins);
    return keys;
}

static void number_contacts(struct board *board)
{
    for (uint32_t t = 0; t < board->terminal_count; t++)
        for (size_t c = 0; c < board->terminals[t].contact_count; c++)
            board->contacts[board->terminals[t].contacts[c]].terminal = t;
}

static bool collect_net_terminals(struct build *build)
{
    struct board *board = build->board;
    for (uint32_t t = 0; t < board->terminal_count; t++)
        if (board->terminals[t].net != ISTHMUS_NONE)
            board->nets[board->terminals[t].net].terminal_count++;
    for (size_t n = 0; n < board->net_count; n++) {
        struct net *net = &board->nets[n];
        net->terminals = arena_alloc(build->arena, net->terminal_count + 1, sizeof *net->terminals);
        if (!net->terminals)
            return false;
        net->terminal_count = 0;
    }
    for (uint32_t t = 0; t < board->terminal_count; t++) {
        struct net *net =
            board->terminals[t].net == ISTHMUS_NONE ? NULL : &board->nets[board->terminals[t].net];
        if (net)
            net->terminals[net->terminal_count++] = t;
    }
    return true;
}

static bool collect_rows(struct build *build)
{
    struct board *board = build->board;
    size_t count = build->table ? build->table->row_count : 0;
    board->terminal_of_row = arena_alloc(build->arena, count + 1, sizeof(uint32_t));
    for (size_t r = 0; board->terminal_of_row && r < count; r++) {
        uint32_t contact = build->draft_of_row[r];
        board->terminal_of_row[r] =
            contact == ISTHMUS_NONE ? ISTHMUS_NONE : board->contacts[contact].terminal;
    }
    return board->terminal_of_row != NULL;
}

bool make_terminals(struct net_work *work)
{
    struct build *build = work->build;
    struct board *board = build->board;
    struct pin_key *keys = collect_keys(work);
    board->terminals =
        arena_alloc(build->arena, board->contact_count + 1, sizeof *board->terminals);
    if (!keys || !board->terminals)
        return false;
    for (size_t i = 0, next; i < board->contact_count; i = next) {
        for (next = i + 1; next < board->contact_count && is_same_pin(&keys[i], &keys[next]);)
            next++;
        if (!fill_terminal(work, keys + i, next - i, &board->terminals[board->terminal_count++]))
            return false;
    }
    number_contacts(board);
    return collect_net_terminals(build) && collect_rows(build);
}
