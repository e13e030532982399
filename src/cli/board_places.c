#include "board_places.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "isthmus/physics.h"

#define MARGIN_LIMIT 3.0 /* as `check` */

static double copper_mm(const struct board *board, uint16_t position)
{
    double um = position <= BOARD_MAX_COPPER ? board->facts.copper_um[position].value : 0;
    bool is_inner = board->layers[position - 1].side == SIDE_INNER;
    if (!(um > 0))
        um = is_inner ? board->facts.inner_copper_um.value : board->facts.outer_copper_um.value;
    return um * 1e-3;
}

static enum bench_side side_of(const struct board *board, uint16_t position)
{
    if (board->layers[position - 1].side == SIDE_INNER)
        return BENCH_INSIDE;
    return position == 1 ? BENCH_TOP : BENCH_BOTTOM;
}

/* A cut through hole walls alone has no layer: it is watched from the top, as copper inside. */
static void place_walls(const struct board *board, const struct finding_place *from,
                        struct bench_place *out)
{
    double weight =
        board->facts.fit == FIT_IPC2221_INTERNAL_EVERYWHERE ? 1 : ipc2221_internal_weight();
    out->layer = "hole";
    out->side = BENCH_TOP;
    out->is_internal = true;
    out->thickness_mm = board->facts.wall_um.value * 1e-3;
    out->width_mm = from->area_mm2 / weight / out->thickness_mm;
    out->beside_mm = from->required_mm2 / weight / out->thickness_mm;
    out->neck_length_mm = board->facts.board_thickness_mm.value; /* the walls' own */
}

static void place_layer(const struct board *board, const struct finding_place *from,
                        struct arena *arena, struct bench_place *out)
{
    char word[16];
    uint16_t position = from->layer;
    out->layer = arena_strdup(arena, layer_word(board, position, word));
    out->side = side_of(board, position);
    out->is_internal =
        out->side == BENCH_INSIDE || board->facts.fit == FIT_IPC2221_INTERNAL_EVERYWHERE;
    out->is_nearer_bottom = 2 * (size_t)position > board->layer_count + 1;
    out->thickness_mm = copper_mm(board, position);
    out->width_mm = from->width_mm;
    out->beside_mm = from->needed_mm;
}

static void add_place(const struct run *run, const struct finding_place *from,
                      struct net_places *out)
{
    if (out->place_count == BENCH_MOST || !(from->current_a > 0))
        return;
    struct bench_place *place = &out->places[out->place_count];
    *place = (struct bench_place){.has_position = true,
                                  .x_mm = (double)from->middle.x_nm * 1e-6,
                                  .y_mm = (double)from->middle.y_nm * 1e-6,
                                  .neck_length_mm = from->narrow_length_mm,
                                  .current_a = from->current_a};
    if (from->layer >= 1 && from->layer <= run->board.layer_count)
        place_layer(&run->board, from, run->arena, place);
    else
        place_walls(&run->board, from, place);
    if (place->width_mm > 0 && place->thickness_mm > 0)
        out->place_count++;
}

static double place_rise_k(const struct bench_place *place)
{
    return ipc2221_rise_k(place->is_internal ? IPC2221_K_INTERNAL : IPC2221_K_EXTERNAL,
                          place->current_a, place->width_mm * place->thickness_mm);
}

static int hottest_first(const void *a, const void *b)
{
    double left = place_rise_k(a), right = place_rise_k(b);
    return (left < right) - (left > right);
}

/* Nearer than this on one layer, a camera sees one warm spot. */
#define SPOT_MM 3.0
static bool is_same_spot(const struct bench_place *a, const struct bench_place *b)
{
    return strcmp(a->layer, b->layer) == 0 && hypot(a->x_mm - b->x_mm, a->y_mm - b->y_mm) < SPOT_MM;
}

static bool is_seen(const struct net_places *places, size_t kept, const struct bench_place *place)
{
    for (size_t i = 0; i < kept; i++)
        if (is_same_spot(&places->places[i], place))
            return true;
    return false;
}

static void sort_and_name(struct run *run, struct net_places *out)
{
    qsort(out->places, out->place_count, sizeof *out->places, hottest_first);
    size_t kept = 0;
    for (size_t i = 0; i < out->place_count; i++)
        if (!is_seen(out, kept, &out->places[i]))
            out->places[kept++] = out->places[i];
    out->place_count = kept;
    for (size_t i = 0; i < kept; i++)
        out->places[i].name = arena_printf(run->arena, "%zu", i + 1);
}

static bool is_wanted_case(const struct net_places *out, const char *case_name)
{
    return !out->wanted_case || (case_name && strcmp(case_name, out->wanted_case) == 0);
}

static void collect(struct run *run, const struct check_result *result, uint32_t net,
                    struct net_places *out)
{
    for (size_t i = 0; i < result->verdict_count; i++)
        if (result->verdicts[i].net == net && !out->verdict &&
            is_wanted_case(out, result->verdicts[i].case_name))
            out->verdict = &result->verdicts[i];
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        for (size_t p = 0; finding->net == net && is_wanted_case(out, finding->case_name) &&
                           p < finding->place_count;
             p++)
            add_place(run, &finding->places[p], out);
    }
    if (out->verdict && out->verdict->has_least)
        add_place(run, &out->verdict->least, out);
    sort_and_name(run, out);
}

static int unknown_net(const struct run *run, const char *net)
{
    const char **names = arena_alloc(run->arena, run->board.net_count + 1, sizeof *names);
    char advice[200] = "isthmus inspect lists the nets";
    for (size_t i = 0; names && i < run->board.net_count; i++)
        names[i] = run->board.nets[i].name;
    const char *near = names ? nearest_name(net, names, run->board.net_count) : NULL;
    if (near)
        snprintf(advice, sizeof advice, "did you mean --net %.100s?", near);
    return cli_error(run->command, advice, "the board has no net \"%s\"", net);
}

static int judge(struct run *run, uint32_t net, struct check_result *result)
{
    bool *asks_net = arena_alloc(run->arena, run->board.net_count, sizeof *asks_net);
    if (!asks_net)
        return cli_error(run->command, NULL, "out of memory");
    asks_net[net] = true;
    const struct rule_context context = {.board = &run->board,
                                         .table = &run->table,
                                         .margin_limit = MARGIN_LIMIT,
                                         .asks_net = asks_net,
                                         .arena = run->arena,
                                         .diags = &run->diags,
                                         .progress = run_progress()};
    enum rule_status status = copper_width_run(&context, result);
    run_progress_end();
    run_print_diags(run, DIAG_ERROR);
    return status == RULE_OK ? CLI_CLEAN : cli_error(run->command, NULL, "out of memory");
}

/* A net that the check could not judge has no places to predict. */
static int check_verdict(const struct run *run, const struct net_places *out)
{
    if (!out->verdict && out->wanted_case)
        return cli_error(run->command, "the column case of the net-current table has the names",
                         "the table has no case \"%s\" for net %s", out->wanted_case, out->net);
    if (!out->verdict)
        return cli_error(run->command, "add a row for it to the net-current table",
                         "net %s has no current", out->net);
    if (out->verdict->verdict == VERDICT_NOT_JUDGED)
        return cli_error(run->command, "isthmus check says more", "net %s could not be judged: %s",
                         out->net, out->verdict->reason ? out->verdict->reason : "no reason");
    if (out->place_count == 0 && !out->may_be_empty)
        return cli_error(run->command, "give its narrowest width: --width 2mm",
                         "net %s has no place narrow enough to watch: its margin is above %g",
                         out->net, MARGIN_LIMIT);
    return CLI_CLEAN;
}

int board_places(struct run *run, const char *net, struct net_places *out)
{
    *out = (struct net_places){
        .net = net, .may_be_empty = out->may_be_empty, .wanted_case = out->wanted_case};
    if (!net)
        return cli_error(run->command, "for example --net +24V", "which net? --net is missing");
    if (!run->has_table)
        return cli_error(run->command, "--currents TABLE.csv", "a package needs its current table");
    const struct net *found = board_find_net(&run->board, net);
    if (!found)
        return unknown_net(run, net);
    struct check_result *result = arena_alloc(run->arena, 1, sizeof *result);
    if (!result)
        return cli_error(run->command, NULL, "out of memory");
    if (judge(run, found->joined_into, result) != CLI_CLEAN)
        return CLI_COULD_NOT;
    out->result = result;
    collect(run, result, found->joined_into, out);
    out->rise_k = out->verdict ? out->verdict->rise_k : run->board.facts.rise_k.value;
    return check_verdict(run, out);
}

static bool is_place_of(const struct bench_place *place, const struct finding *finding)
{
    for (size_t p = 0; p < finding->place_count; p++)
        if ((double)finding->places[p].middle.x_nm * 1e-6 == place->x_mm &&
            (double)finding->places[p].middle.y_nm * 1e-6 == place->y_mm)
            return true;
    return false;
}

double board_place_current_a(const struct net_places *places, const struct bench_place *place,
                             const double *terminal_a)
{
    const struct check_result *result = places->result;
    for (size_t i = 0; i < result->finding_count; i++) {
        const struct finding *finding = &result->findings[i];
        if (finding->net != places->verdict->net || !is_place_of(place, finding))
            continue;
        double sum_a = 0;
        for (size_t t = 0; t < finding->side_a_count; t++)
            sum_a += terminal_a[finding->side_a[t]];
        return fabs(sum_a);
    }
    return (double)NAN;
}
