/* What each terminal's copper is good for: its narrowest cut from the rest of its net. */
#include "isthmus/rule.h"

#include "isthmus/physics.h"
#include "net_copper.h"

#include <math.h>

#define FIRST_CURRENT_A 0.3
#define LAST_CURRENT_A 80.0
#define CURRENT_STEP 4.0
/* Each step of the current asks for 4^1.379 = 6.8 times the area: the searches overlap. */
#define SEARCH_LIMIT 8.0

struct capacity {
    const struct rule_context *context;
    struct arena *scratch; /* reset between searches */
    double rise_k;
};

static bool is_judgeable(const struct board *board, uint32_t net, size_t terminal_limit)
{
    const struct net *item = &board->nets[net];
    return net_root(board, net) == net && item->state == NET_OK && item->terminal_count >= 2 &&
           item->terminal_count <= terminal_limit;
}

/* The narrowest cut's area: of what was too narrow, or else of the least margin. 0: none found. */
static double narrowest_mm2(const struct neck_result *found)
{
    double area_mm2 = found->has_least ? found->least.area_mm2 : INFINITY;
    for (size_t i = 0; i < found->neck_count; i++)
        for (size_t p = 0; p < found->necks[i].place_count; p++)
            area_mm2 = fmin(area_mm2, found->necks[i].places[p].area_mm2);
    return area_mm2;
}

/* One against all others, with a current that grows until some cut is in sight. */
static bool search_pin(const struct capacity *capacity, struct net_copper *copper,
                       const struct neck_contact *contacts, double *out_a)
{
    static const bool has_row[2] = {true, true};
    double k = fit_constant(&capacity->context->board->facts);
    copper->net.contacts = contacts;
    copper->net.terminal_count = 2;
    *out_a = INFINITY;
    for (double current_a = FIRST_CURRENT_A; current_a < LAST_CURRENT_A;
         current_a *= CURRENT_STEP) {
        const double both[2] = {current_a, current_a};
        const struct neck_case one = {
            both,
            both,
            has_row,
            current_a,
            {ipc2221_scale_a(k, capacity->rise_k), IPC2221_AREA_EXPONENT}};
        struct neck_result found;
        enum neck_status status =
            neck_find(&copper->net, &one, 1, SEARCH_LIMIT, capacity->scratch, &found);
        if (status != NECK_OK)
            *out_a = (double)NAN;
        if (status != NECK_OK)
            return status != NECK_NO_MEMORY;
        double area_mm2 = narrowest_mm2(&found);
        if (isfinite(area_mm2)) {
            *out_a = ipc2221_current_a(k, capacity->rise_k, area_mm2);
            return true;
        }
    }
    return true;
}

static bool search_net(const struct capacity *capacity, uint32_t net, double *out)
{
    const struct board *board = capacity->context->board;
    struct net_question question = {.net = net};
    struct end *ends = arena_alloc(capacity->scratch, board->terminal_count + 1, sizeof *ends);
    for (uint32_t t = 0; ends && t < board->terminal_count; t++) {
        if (board->terminals[t].net >= board->net_count ||
            net_root(board, board->terminals[t].net) != net)
            continue;
        uint32_t *index = arena_alloc(capacity->scratch, 1, sizeof *index);
        if (!index)
            return false;
        *index = t;
        ends[question.end_count++] = (struct end){board->terminals[t].name, index, 1, false};
    }
    question.ends = ends;
    struct net_copper copper;
    if (!ends || !net_copper_collect(board, &question, capacity->scratch, &copper))
        return false;
    size_t count = copper.net.contact_count;
    struct neck_contact *contacts = arena_alloc(capacity->scratch, count + 1, sizeof *contacts);
    for (size_t e = 0; contacts && e < question.end_count; e++) {
        for (size_t c = 0; c < count; c++) {
            contacts[c] = copper.net.contacts[c];
            if (contacts[c].terminal != ISTHMUS_NONE)
                contacts[c].terminal = contacts[c].terminal != e;
        }
        const struct neck_contact *own = copper.net.contacts;
        if (!search_pin(capacity, &copper, contacts, &out[*ends[e].terminals]))
            return false;
        copper.net.contacts = own;
    }
    return contacts != NULL;
}

enum rule_status terminal_capacity_run(const struct rule_context *context, size_t terminal_limit,
                                       double *out)
{
    const struct board *board = context->board;
    struct capacity capacity = {
        .context = context, .scratch = arena_new("capacity"), .rise_k = board->facts.rise_k.value};
    bool is_done = capacity.scratch != NULL;
    for (size_t t = 0; t < board->terminal_count; t++)
        out[t] = (double)NAN;
    for (uint32_t net = 0; is_done && net < board->net_count; net++) {
        if (context->progress)
            context->progress("measuring nets", net, board->net_count, context->progress_context);
        if (is_judgeable(board, net, terminal_limit))
            is_done = search_net(&capacity, net, out);
        if (is_done)
            arena_reset(capacity.scratch);
    }
    arena_free(capacity.scratch);
    return is_done ? RULE_OK : RULE_NO_MEMORY;
}
