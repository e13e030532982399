/* Where the current of a net enters and leaves, and the sheet solve between. */
#include "isthmus/drop.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "isthmus/copper.h"
#include "net_copper.h"

struct work {
    const struct rule_context *context;
    const struct drop_question *question;
    const struct net_question *net;
    const struct net_case *net_case;
    struct drop_answer *out;
    double *current_a; /* per end */
};

static const struct board *board_of(const struct work *work)
{
    return work->context->board;
}

static bool refuse(struct work *work, const char *problem, const char *advice)
{
    work->out->problem = problem;
    work->out->advice = advice;
    return false;
}

/* ---- who feeds, who draws ---- */

static bool is_same_case(const char *a, const char *b)
{
    return a == b || (a && b && strcmp(a, b) == 0);
}

static const struct net_question *find_question(const struct assignment *assignment, uint32_t net)
{
    for (size_t i = 0; i < assignment->question_count; i++)
        if (assignment->questions[i].net == net)
            return &assignment->questions[i];
    return NULL;
}

static const struct net_case *find_case(const struct net_question *net, const char *name)
{
    for (size_t i = 0; i < net->case_count; i++)
        if (is_same_case(net->cases[i].name, name))
            return &net->cases[i];
    return net->case_count ? &net->cases[0] : NULL;
}

/* What an end carries one way only; 0: it may do both, or nothing. */
static double one_way_a(const struct work *work, size_t end, bool feeds)
{
    const struct net_case *net_case = work->net_case;
    double there = feeds ? net_case->feed_a[end] : net_case->draw_a[end];
    double back = feeds ? net_case->draw_a[end] : net_case->feed_a[end];
    return net_case->has_row[end] && back <= 0 ? there : 0;
}

static double table_current_a(const struct work *work, size_t end)
{
    return fmax(work->net_case->feed_a[end], work->net_case->draw_a[end]);
}

/* The end that this pin, or group of pins as the table writes it, belongs to. */
static size_t find_end(const struct work *work, const char *name)
{
    const struct net_question *net = work->net;
    for (size_t e = 0; e < net->end_count; e++) {
        if (net->ends[e].name && strcmp(net->ends[e].name, name) == 0)
            return e;
        for (size_t i = 0; i < net->ends[e].terminal_count; i++) {
            const char *terminal = board_of(work)->terminals[net->ends[e].terminals[i]].name;
            if (terminal && strcmp(terminal, name) == 0)
                return e;
        }
    }
    return net->end_count;
}

static bool unknown_pin(struct work *work, const char *name)
{
    struct arena *arena = work->context->arena;
    const struct net_question *net = work->net;
    const char **names = arena_alloc(arena, net->end_count + 1, sizeof *names);
    size_t count = 0;
    for (size_t e = 0; names && e < net->end_count; e++)
        if (net->ends[e].name)
            names[count++] = net->ends[e].name;
    const char *near = names ? nearest_name(name, names, count) : NULL;
    return refuse(work, arena_printf(arena, "the net has no terminal \"%s\"", name),
                  near ? arena_printf(arena, "did you mean %s?", near)
                       : "isthmus inspect lists the terminals of each net");
}

/* Gives the named ends their part of the current: as the table has it, or in equal parts. */
static bool share_named(struct work *work, const char *const *names, size_t count, double current_a)
{
    double sum_a = 0;
    bool has_all = true;
    for (size_t i = 0; i < count; i++) {
        size_t end = find_end(work, names[i]);
        if (end == work->net->end_count)
            return unknown_pin(work, names[i]);
        if (work->current_a[end] != 0)
            return refuse(work, "a terminal is named twice, or as source and load", NULL);
        double own_a = one_way_a(work, end, current_a > 0);
        has_all &= own_a > 0;
        sum_a += own_a;
        work->current_a[end] = own_a > 0 ? own_a : 1;
    }
    for (size_t i = 0; i < count; i++) {
        double *own_a = &work->current_a[find_end(work, names[i])];
        *own_a = has_all ? current_a * *own_a / sum_a : current_a / (double)count;
    }
    return true;
}

/* The table's one-way ends of one kind share the current; false: there are none. */
static bool share_table(struct work *work, bool feeds)
{
    double sum_a = 0, sign = feeds ? 1 : -1;
    for (size_t e = 0; e < work->net->end_count; e++)
        sum_a += one_way_a(work, e, feeds);
    for (size_t e = 0; sum_a > 0 && e < work->net->end_count; e++)
        if (one_way_a(work, e, feeds) > 0)
            work->current_a[e] =
                sign * work->question->current_a * one_way_a(work, e, feeds) / sum_a;
    return sum_a > 0;
}

/* The one end that is not spoken for and may carry current; false: none, or several. */
static bool find_last(const struct work *work, size_t *found)
{
    size_t count = 0;
    for (size_t e = 0; e < work->net->end_count; e++)
        if (work->current_a[e] == 0 && table_current_a(work, e) > 0) {
            *found = e;
            count++;
        }
    return count == 1;
}

static bool ask_for_ends(struct work *work)
{
    return refuse(work,
                  "the table does not say where the current enters and where it leaves: + and - "
                  "tell feeds from draws",
                  "name them: --from J1.1 --to F1.1");
}

static bool choose_by_table(struct work *work)
{
    bool has_feeds = share_table(work, true), has_draws = share_table(work, false);
    size_t last;
    if (has_feeds && has_draws)
        return true;
    if (!has_feeds && !has_draws) {
        if (work->net->end_count != 2)
            return ask_for_ends(work);
        work->current_a[0] = work->question->current_a;
        work->current_a[1] = -work->question->current_a;
        return true;
    }
    if (!find_last(work, &last))
        return ask_for_ends(work);
    work->current_a[last] = has_feeds ? -work->question->current_a : work->question->current_a;
    return true;
}

static bool choose_ends(struct work *work)
{
    const struct drop_question *question = work->question;
    if (question->from_count == 0 && question->to_count == 0)
        return choose_by_table(work);
    if ((question->from_count &&
         !share_named(work, question->from, question->from_count, question->current_a)) ||
        (question->to_count &&
         !share_named(work, question->to, question->to_count, -question->current_a)))
        return false;
    if (question->from_count && question->to_count)
        return true;
    /* only one side was named: the table may know the other */
    for (size_t e = 0; e < work->net->end_count; e++)
        if (work->current_a[e] != 0 && one_way_a(work, e, !question->from_count) > 0)
            return ask_for_ends(work);
    return share_table(work, !question->from_count) || ask_for_ends(work);
}

/* ---- solving ---- */

static double *wall_areas(const struct work *work, const struct net_copper *copper)
{
    double *wall_mm2 =
        arena_alloc(work->context->arena, copper->net.hole_count + 1, sizeof *wall_mm2);
    for (size_t h = 0; wall_mm2 && h < copper->net.hole_count; h++)
        wall_mm2[h] = board_of(work)->holes[copper->hole_of[h]].wall_mm2;
    return wall_mm2;
}

/* Layers are taken to lie at equal distances. */
static double *layer_depths(const struct work *work)
{
    const struct board *board = board_of(work);
    double *depth_mm = arena_alloc(work->context->arena, board->layer_count + 2, sizeof *depth_mm);
    double steps = board->layer_count > 1 ? (double)(board->layer_count - 1) : 1;
    for (size_t position = 1; depth_mm && position <= board->layer_count; position++)
        depth_mm[position] = board->facts.board_thickness_mm.value * (double)(position - 1) / steps;
    return depth_mm;
}

static struct solve_probe *probes(const struct work *work)
{
    const struct drop_question *question = work->question;
    const struct board *board = board_of(work);
    struct solve_probe *out =
        arena_alloc(work->context->arena, question->place_count + 1, sizeof *out);
    for (size_t i = 0; out && i < question->place_count; i++) {
        int64_t x = question->places[i].at.x_nm - board->origin.x_nm;
        int64_t y = question->places[i].at.y_nm - board->origin.y_nm;
        bool is_far = llabs(x) >= MESH_COORD_LIMIT || llabs(y) >= MESH_COORD_LIMIT;
        /* layer 0 holds no copper, so that a place off the board is told as such */
        out[i] = is_far
                     ? (struct solve_probe){{0, 0}, 0}
                     : (struct solve_probe){{(int32_t)x, (int32_t)y}, question->places[i].position};
    }
    return out;
}

static bool refuse_solve(struct work *work, enum solve_status status, size_t bad)
{
    struct arena *arena = work->context->arena;
    if (status == SOLVE_NOT_COPPER) {
        const struct drop_place *place = &work->question->places[bad];
        char word[16];
        return refuse(work,
                      arena_printf(arena,
                                   "(%.3f, %.3f) mm on %s is not on copper that this current "
                                   "can reach",
                                   (double)place->at.x_nm * 1e-6, (double)place->at.y_nm * 1e-6,
                                   layer_word(board_of(work), place->position, word)),
                      "places are in the coordinates of the files; --svg of isthmus check shows "
                      "them");
    }
    return refuse(work, solve_problem(status),
                  status == SOLVE_APART       ? "isthmus check tells where the net is split"
                  : status == SOLVE_TOO_LARGE ? "state its length and width by hand: --segment"
                                              : NULL);
}

static bool solve(struct work *work, struct solve_answer *answer, double *terminal_a)
{
    struct net_copper copper;
    if (!net_copper_collect(board_of(work), work->net, work->context->arena, &copper))
        return refuse(work, "out of memory", NULL);
    const struct solve_question question = {
        .net = &copper.net,
        .wall_mm2 = wall_areas(work, &copper),
        .depth_mm = layer_depths(work),
        .current_a = work->current_a,
        .probes = probes(work),
        .probe_count = work->question->place_count,
        .resistivity_ohm_mm2_m = copper_resistivity(work->question->temperature_c),
    };
    size_t bad = 0;
    if (!question.wall_mm2 || !question.depth_mm || !question.probes)
        return refuse(work, "out of memory", NULL);
    enum solve_status status = solve_net(&question, work->context->arena, answer, &bad);
    if (status != SOLVE_OK)
        return refuse_solve(work, status, bad);
    for (size_t c = 0; c < copper.net.contact_count; c++) {
        uint32_t terminal = board_of(work)->contacts[copper.net.contacts[c].id].terminal;
        if (terminal < board_of(work)->terminal_count)
            terminal_a[terminal] += answer->contact_a[c];
    }
    return true;
}

/* ---- the answer ---- */

static struct pos_nm place_of(const struct work *work, size_t end)
{
    const struct board *board = board_of(work);
    const struct terminal *terminal = &board->terminals[work->net->ends[end].terminals[0]];
    return terminal->contact_count ? board->contacts[terminal->contacts[0]].place
                                   : (struct pos_nm){0, 0};
}

static int rank(const struct drop_end *end)
{
    return end->current_a > 0 ? 0 : end->current_a < 0 ? 1 : isnan(end->drop_v) ? 3 : 2;
}

static int in_order(const void *left, const void *right)
{
    const struct drop_end *a = left, *b = right;
    if (rank(a) != rank(b))
        return rank(a) - rank(b);
    double from = a->current_a != 0 ? fabs(a->current_a) : fabs(a->drop_v);
    double to = b->current_a != 0 ? fabs(b->current_a) : fabs(b->drop_v);
    if (from < to || from > to)
        return from < to ? 1 : -1;
    return strcmp(a->name ? a->name : "", b->name ? b->name : "");
}

static bool give(struct work *work, const struct solve_answer *answer)
{
    struct drop_answer *out = work->out;
    size_t count = work->net->end_count;
    double current_a = work->question->current_a;
    out->ends = arena_alloc(work->context->arena, count + 1, sizeof *out->ends);
    if (!out->ends)
        return refuse(work, "out of memory", NULL);
    out->end_count = count;
    for (size_t e = 0; e < count; e++)
        out->ends[e] = (struct drop_end){work->net->ends[e].name, work->current_a[e],
                                         answer->terminal_v[e], place_of(work, e)};
    qsort(out->ends, count, sizeof *out->ends, in_order);
    double first_v = out->ends[0].drop_v;
    for (size_t e = 0; e < count; e++)
        out->ends[e].drop_v = first_v - out->ends[e].drop_v;
    out->place_drop_v = answer->probe_v;
    for (size_t i = 0; i < work->question->place_count; i++)
        out->place_drop_v[i] = first_v - out->place_drop_v[i];
    out->ohm = answer->power_w / (current_a * current_a);
    out->error_ohm = answer->error_v / current_a;
    out->node_count = answer->node_count;
    return true;
}

static void find_drop(struct work *work, const struct assignment *assignment)
{
    struct solve_answer answer;
    work->net = find_question(assignment, work->question->net);
    work->net_case = work->net ? find_case(work->net, work->question->case_name) : NULL;
    if (!work->net_case || work->net->end_count < 2) {
        refuse(work, "the net has no current, or fewer than two terminals", NULL);
        return;
    }
    work->current_a =
        arena_alloc(work->context->arena, work->net->end_count + 1, sizeof *work->current_a);
    work->out->terminal_a = arena_alloc(work->context->arena, board_of(work)->terminal_count + 1,
                                        sizeof *work->out->terminal_a);
    if (!work->current_a || !work->out->terminal_a) {
        refuse(work, "out of memory", NULL);
        return;
    }
    if (choose_ends(work) && solve(work, &answer, work->out->terminal_a))
        give(work, &answer);
}

enum rule_status net_drop_run(const struct rule_context *context,
                              const struct drop_question *question, struct drop_answer *out)
{
    *out = (struct drop_answer){0};
    struct work work = {.context = context, .question = question, .out = out};
    struct assignment assignment = {0};
    struct diag_list unheard = {.arena = context->arena}; /* the check has told them */
    if (!context->table || assign_currents(context->board, context->table, context->arena, &unheard,
                                           &assignment) != ASSIGN_OK)
        return RULE_NO_MEMORY;
    find_drop(&work, &assignment);
    return RULE_OK;
}
