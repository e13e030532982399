#include "bench_drop.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static bool bad_names(const char *command, const char *option, const char *text, const char *what)
{
    cli_error(command, "for example J1.1, or J2.1,J3.1", "%s \"%.80s\": %s", option, text, what);
    return false;
}

/* The comma that ends a name: those of a place, "(3.17, 30.91) top", are part of it. */
static char *name_end(char *text)
{
    unsigned depth = 0;
    for (; *text; text++) {
        depth += *text == '(';
        depth -= *text == ')' && depth > 0;
        if (*text == ',' && depth == 0)
            return text;
    }
    return NULL;
}

/* Takes "J1.1,J1.2" apart. */
static bool take_names(struct bench_points *points, const char *option, const char *text,
                       const char **names, size_t *count)
{
    char *copy = points->names + points->names_length;
    size_t length = strlen(text) + 1;
    if (length > sizeof points->names - points->names_length)
        return bad_names(points->command, option, text, "too long");
    memcpy(copy, text, length);
    points->names_length += length;
    for (char *part = copy, *next; part; part = next) {
        next = name_end(part);
        if (next)
            *next++ = 0;
        while (*part == ' ')
            part++;
        if (!*part || *count == BENCH_NAMES)
            return bad_names(points->command, option, text,
                             *part ? "too many names" : "a name is missing");
        names[(*count)++] = part;
    }
    return true;
}

bool bench_points_from(struct bench_points *points, const char *text)
{
    return take_names(points, "--from", text, points->from, &points->from_count);
}

bool bench_points_to(struct bench_points *points, const char *text)
{
    return take_names(points, "--to", text, points->to, &points->to_count);
}

bool bench_points_at(struct bench_points *points, const char *text)
{
    if (points->at_count < BENCH_NAMES) {
        points->at[points->at_count++] = text;
        return true;
    }
    cli_error("bench", NULL, "at most %d places by --at", BENCH_NAMES);
    return false;
}

/* ---- places ---- */

static bool bad_place(const char *text, const char *what)
{
    cli_error("bench", "for example --at 12.7,3.5,top, or --at 500mil,138mil,inner:1",
              "--at \"%s\": %s", text, what);
    return false;
}

static bool read_layer(const struct board *board, const char *word, uint16_t *position)
{
    char buffer[16];
    for (*position = 1; *position <= board->layer_count; ++*position)
        if (strcmp(layer_word(board, *position, buffer), word) == 0)
            return true;
    return false;
}

/* Coordinates may be negative; a bare number is mm. */
static bool read_coordinate(const char *text, int64_t *nm)
{
    double value;
    bool is_negative = *text == '-';
    if (!quantity_length(text + is_negative, 1e6, &value) || !(value < 1e12))
        return false;
    *nm = llrint(is_negative ? -value : value);
    return true;
}

static bool read_place(const struct board *board, const char *text, struct drop_place *out)
{
    char copy[96], *y, *layer;
    if (strlen(text) >= sizeof copy)
        return bad_place(text, "too long");
    snprintf(copy, sizeof copy, "%s", text);
    y = strchr(copy, ',');
    layer = y ? strchr(y + 1, ',') : NULL;
    if (!layer)
        return bad_place(text, "not X,Y,LAYER");
    *y++ = *layer++ = 0;
    if (!read_coordinate(copy, &out->at.x_nm) || !read_coordinate(y, &out->at.y_nm))
        return bad_place(text, "X and Y are lengths in the coordinates of the files");
    if (!read_layer(board, layer, &out->position))
        return bad_place(text, "no such copper layer: top, bottom, inner:1 ...");
    return true;
}

/* ---- the sheet's list ---- */

static double mm(int64_t nm)
{
    return (double)nm * 1e-6;
}

static void add_end(struct bench_drawn *drawn, struct bench_end end)
{
    if (drawn->end_count < BENCH_MOST)
        drawn->ends[drawn->end_count++] = end;
    else
        drawn->left_out_count++;
}

static void add_ends(struct bench_drawn *drawn, const struct drop_answer *answer, bool has_current)
{
    for (size_t i = 0; i < answer->end_count; i++) {
        const struct drop_end *end = &answer->ends[i];
        if ((end->current_a != 0) == has_current && !isnan(end->drop_v))
            add_end(drawn, (struct bench_end){end->name, true, mm(end->at.x_nm), mm(end->at.y_nm),
                                              end->current_a, end->drop_v});
    }
}

static void list_points(struct run *run, const struct drop_question *asked,
                        const struct drop_answer *answer, struct bench_drawn *drawn)
{
    char word[16];
    add_ends(drawn, answer, true);
    for (size_t i = 0; i < asked->place_count; i++)
        add_end(drawn, (struct bench_end){
                           arena_printf(run->arena, "place %zu, %s", i + 1,
                                        layer_word(&run->board, asked->places[i].position, word)),
                           true, mm(asked->places[i].at.x_nm), mm(asked->places[i].at.y_nm), 0,
                           answer->place_drop_v[i]});
    add_ends(drawn, answer, false);
}

static size_t count_flowing(const struct drop_answer *answer)
{
    size_t count = 0;
    for (size_t i = 0; i < answer->end_count; i++)
        count += answer->ends[i].current_a != 0;
    return count;
}

static int take_answer(struct run *run, const struct bench_points *points,
                       const struct drop_question *asked, const struct drop_answer *answer,
                       struct bench_drawn *drawn)
{
    bool was_asked = points->from_count || points->to_count || points->at_count;
    const char *problem = answer->problem, *advice = answer->advice;
    if (!problem && count_flowing(answer) > BENCH_MOST) {
        problem = "the current enters and leaves at more terminals than one test can hold";
        advice = "choose some: --from J1.1 --to F1.1";
    }
    if (problem && was_asked)
        return cli_error("bench", advice, "%s", problem);
    if (problem) {
        drawn->why_not = problem;
        drawn->advice = advice;
        return CLI_CLEAN;
    }
    drawn->is_known = true;
    drawn->ohm = answer->ohm;
    drawn->error_ohm = answer->error_ohm;
    drawn->etch_loss_um = run->board.facts.etch_loss_um.value;
    list_points(run, asked, answer, drawn);
    return CLI_CLEAN;
}

#define LEAST_SHARE 1e-3 /* a place that carries less of the test current is not watched */

/* Each place gets what crosses it in this test; names stay, as `compare` knows them. */
static void settle_currents(const struct net_places *places, const double *terminal_a,
                            struct bench_question *question)
{
    size_t kept = 0;
    for (size_t i = 0; i < question->place_count; i++) {
        struct bench_place *place = &question->places[i];
        double crossing_a = board_place_current_a(places, place, terminal_a);
        if (!isnan(crossing_a))
            place->current_a = crossing_a;
        if (place->current_a > LEAST_SHARE * question->current_a)
            question->places[kept++] = *place;
    }
    question->place_count = kept;
}

int bench_drop(struct run *run, const struct bench_points *points, const struct net_places *places,
               struct bench_question *question)
{
    struct drop_place at[BENCH_NAMES];
    for (size_t i = 0; i < points->at_count; i++)
        if (!read_place(&run->board, points->at[i], &at[i]))
            return CLI_COULD_NOT;
    const struct rule_context context = {
        .board = &run->board, .table = &run->table, .arena = run->arena, .diags = &run->diags};
    const struct drop_question asked = {.net = places->verdict->net,
                                        .case_name = places->verdict->case_name,
                                        .from = points->from,
                                        .to = points->to,
                                        .from_count = points->from_count,
                                        .to_count = points->to_count,
                                        .current_a = question->current_a,
                                        .temperature_c = question->ambient_c,
                                        .places = at,
                                        .place_count = points->at_count};
    struct drop_answer answer;
    if (net_drop_run(&context, &asked, &answer) != RULE_OK)
        return cli_error("bench", NULL, "out of memory");
    int code = take_answer(run, points, &asked, &answer, &question->drawn);
    if (question->drawn.is_known)
        settle_currents(places, answer.terminal_a, question);
    return code;
}
