/* Drill and rout files: survey, choose the reading, then read for good. */
#include "isthmus/holes.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drill_machine.h"
#include "parsers_text.h"

#define DEFAULT_MAX_HOLES ((size_t)2000000)
#define SURE_SCORE 0.5
#define CLEAR_LEAD 0.2
#define NEARLY_ALL 0.95 /* fit: then a few holes that only the best reading explains decide */
#define FEW_EXPLAINED 4
#define FEW_HOLES 8 /* fewer may land on pads by chance under a wrong reading */
#define FORMAT_ADVICE "say how to read it: --drill-format FILE=mm|inch,3.3,leading|trailing|decimal"

struct choice {
    struct drill_reading reading;
    double score; /* -1: not known */
    enum { CHOSEN_STATED, CHOSEN_DEFAULT, CHOSEN_SCORED, CHOSEN_FORCED, CHOSEN_LENT } how;
};

/* ---- scores -------------------------------------------------------------------------------- */

/* Tools of 0.02 mm or 80 mm: the unit is the other one. */
static bool has_likely_tools(const struct drill_machine *machine)
{
    int64_t largest_nm = 0;
    for (size_t i = 0; i < machine->hole_count; i++)
        if (machine->holes[i].diameter_nm > largest_nm)
            largest_nm = machine->holes[i].diameter_nm;
    return largest_nm == 0 || (largest_nm >= 100000 && largest_nm <= 50000000);
}

static double score_reading(struct drill_machine *machine, const struct drill_options *options,
                            const struct drill_reading *reading)
{
    machine->reading = *reading;
    drill_run(machine, PASS_TRIAL);
    if (machine->is_out_of_range || machine->is_out_of_memory || !has_likely_tools(machine))
        return 0;
    double score = options->score(machine->holes, machine->hole_count, options->score_context);
    return score > 0 ? score > 1 ? 1 : score : 0; /* NaN too is 0 */
}

struct ranking {
    struct drill_reading readings[DRILL_CANDIDATES];
    double scores[DRILL_CANDIDATES];
    size_t count, best, second; /* second == best: there is only one */
};

static void rank(struct drill_machine *machine, const struct drill_options *options,
                 struct ranking *ranking)
{
    ranking->best = ranking->second = 0;
    for (size_t i = 0; i < ranking->count; i++)
        ranking->scores[i] = score_reading(machine, options, &ranking->readings[i]);
    for (size_t i = 1; i < ranking->count; i++)
        if (ranking->scores[i] > ranking->scores[ranking->best])
            ranking->best = i;
    ranking->second = ranking->best == 0 && ranking->count > 1 ? 1 : 0;
    for (size_t i = 0; i < ranking->count; i++)
        if (i != ranking->best && ranking->scores[i] > ranking->scores[ranking->second])
            ranking->second = i;
    if (ranking->count == 1)
        ranking->second = ranking->best;
}

static bool is_clear(const struct ranking *ranking, size_t hole_count)
{
    double best = ranking->scores[ranking->best];
    double next = ranking->second == ranking->best ? 0 : ranking->scores[ranking->second];
    bool explains_more = best >= NEARLY_ALL && (best - next) * (double)hole_count >= FEW_EXPLAINED;
    return best >= SURE_SCORE && (next < SURE_SCORE || best - next >= CLEAR_LEAD || explains_more);
}

static char *list_readings(struct arena *arena, const struct ranking *ranking, bool has_scores)
{
    char *list = arena_strdup(arena, "");
    for (size_t i = 0; i < ranking->count && list; i++) {
        char text[64], score[24] = "";
        drill_reading_text(&ranking->readings[i], text);
        if (has_scores)
            snprintf(score, sizeof score, " %.0f %%", 100 * ranking->scores[i]);
        if (has_scores && ranking->scores[i] <= 0)
            continue;
        list = arena_printf(arena, "%s%s%s%s", list, *list ? "; " : "", text, score);
    }
    return list;
}

/* ---- the choice ---------------------------------------------------------------------------- */

static void refuse_open(struct drill_machine *machine, const struct ranking *ranking,
                        bool has_scores)
{
    char *list = list_readings(machine->arena, ranking, has_scores);
    if (!list) {
        machine->is_out_of_memory = true;
        return;
    }
    struct source_pos at = machine->facts.first_coordinate;
    machine->is_reading_open = true;
    if (!has_scores)
        diag_add(machine->diags, DIAG_ERROR, "drill-reading-open", at, FORMAT_ADVICE,
                 "the file does not say how its digits are to be read, and there is no copper to "
                 "compare with; possible: %s",
                 list);
    else if (*list)
        diag_add(machine->diags, DIAG_ERROR, "drill-reading-open", at, FORMAT_ADVICE,
                 "the file does not say how its digits are to be read, and no reading is clearly "
                 "the one that lands the holes on copper: %s",
                 list);
    else
        diag_add(machine->diags, DIAG_ERROR, "drill-off-copper", at, FORMAT_ADVICE,
                 "under no reading of its digits that the file allows do the holes lie on the "
                 "copper");
}

/* Digits that are always all written say how many there are before the point. */
static void fit_digits(const struct drill_facts *facts, struct drill_reading *reading)
{
    if (reading->zeros == ZEROS_TRAILING_KEPT && facts->width_min == facts->width_max &&
        facts->width_max > reading->decimal_digits)
        reading->integer_digits = (uint8_t)(facts->width_max - reading->decimal_digits);
}

static bool has_unit(const struct drill_facts *facts)
{
    return facts->command.unit != UNIT_OPEN || facts->comment.unit != UNIT_OPEN ||
           facts->size_unit != UNIT_OPEN;
}

/* Every reading there is, whatever the file states. */
static void rank_all(struct drill_machine *machine, const struct drill_options *options,
                     struct ranking *ranking)
{
    struct drill_facts silent = machine->facts;
    bool is_stated;
    silent.command = silent.comment = (struct drill_statement){0};
    silent.size_unit = UNIT_OPEN;
    ranking->count = drill_candidates(&silent, &is_stated, ranking->readings);
    rank(machine, options, ranking);
}

static void say_off_copper(struct drill_machine *machine, const struct choice *choice,
                           const struct drill_reading *better)
{
    static const char *const who[] = {"stated", "assumed", "as far as the file states it",
                                      "--drill-format says", "as the other drill files"};
    char text[64], option[32] = "", share[48] = "none of the holes lies on the copper";
    drill_reading_text(&choice->reading, text);
    if (choice->score > 0)
        snprintf(share, sizeof share, "the holes fit the pads only by %.0f %%",
                 100 * choice->score);
    if (better)
        drill_reading_option(better, option);
    diag_add(machine->diags, choice->how == CHOSEN_FORCED ? DIAG_WARNING : DIAG_ERROR,
             "drill-off-copper", machine->facts.first_coordinate, FORMAT_ADVICE,
             "read as %s (%s), %s%s%s", text, who[choice->how], share,
             better ? "; they would fit as " : "", option);
}

/* The best reading of all, if it is clearly better than the chosen one. */
static bool find_better(struct drill_machine *machine, const struct drill_options *options,
                        const struct choice *choice, struct drill_reading *out)
{
    struct ranking *all = arena_alloc(machine->arena, 1, sizeof *all);
    if (!all) {
        machine->is_out_of_memory = true;
        return false;
    }
    rank_all(machine, options, all);
    double best = all->count ? all->scores[all->best] : 0;
    if (best < SURE_SCORE || best - choice->score < CLEAR_LEAD)
        return false;
    *out = all->readings[all->best];
    return true;
}

/* A file that states the wrong unit or zeros is told so; else its readings are listed. */
static void refuse_unclear(struct drill_machine *machine, const struct drill_options *options,
                           struct ranking *ranking)
{
    struct choice best = {.reading = ranking->readings[ranking->best],
                          .score = ranking->scores[ranking->best],
                          .how = CHOSEN_SCORED};
    struct drill_reading better;
    if (machine->hole_count >= FEW_HOLES && find_better(machine, options, &best, &better))
        say_off_copper(machine, &best, &better);
    else
        refuse_open(machine, ranking, true);
}

/* What the file states, or leaves over, must still land on the copper, and better than what it
 * excludes. */
static bool check_reading(struct drill_machine *machine, const struct drill_options *options,
                          struct choice *choice)
{
    if (!options->score)
        return true;
    choice->score = score_reading(machine, options, &choice->reading);
    size_t hole_count = machine->hole_count;
    if (choice->score + CLEAR_LEAD > 1 || machine->is_out_of_memory)
        return true;
    struct drill_reading better;
    bool is_better = find_better(machine, options, choice, &better);
    if (choice->score > 0 && !(is_better && hole_count >= FEW_HOLES))
        return true;
    say_off_copper(machine, choice, is_better ? &better : NULL);
    return choice->how == CHOSEN_FORCED;
}

static bool choose_open(struct drill_machine *machine, const struct drill_options *options,
                        struct ranking *ranking, struct choice *out)
{
    if (!options->score) {
        if (!drill_default_reading(&machine->facts, &out->reading)) {
            refuse_open(machine, ranking, false);
            return false;
        }
        char text[64];
        drill_reading_text(&out->reading, text);
        diag_add(machine->diags, DIAG_WARNING, "drill-digits-assumed",
                 machine->facts.first_coordinate, FORMAT_ADVICE,
                 "the file states no digits, and there is no copper to compare with: read as %s",
                 text);
        out->how = CHOSEN_DEFAULT;
        return true;
    }
    /* Where most numbers have a point, the few without decide. */
    machine->skips_sure_holes = machine->facts.point_count > 0 && has_unit(&machine->facts);
    rank(machine, options, ranking);
    machine->skips_sure_holes = false;
    if (!is_clear(ranking, machine->hole_count)) {
        refuse_unclear(machine, options, ranking);
        return false;
    }
    out->reading = ranking->readings[ranking->best];
    fit_digits(&machine->facts, &out->reading);
    out->how = CHOSEN_SCORED;
    return check_reading(machine, options, out);
}

/* Whether the file's own statements leave the sister files' reading open. Numbers without any point
 * are whole millimetres (X10Y5 beside X10.5Y5.0) only where no zero rule is stated. */
static bool allows(const struct drill_machine *machine, const struct ranking *ranking,
                   const struct drill_reading *lent)
{
    bool is_allowed = false;
    if (lent && lent->zeros == ZEROS_DECIMAL_POINT && machine->facts.point_count == 0)
        return !machine->facts.command.has_zeros && !machine->facts.comment.has_zeros;
    for (size_t i = 0; lent && i < ranking->count; i++)
        is_allowed |= drill_readings_equal(&machine->facts, &ranking->readings[i], lent);
    return is_allowed;
}

static bool choose(struct drill_machine *machine, const struct drill_options *options,
                   struct choice *out)
{
    bool is_stated;
    struct ranking *ranking = arena_alloc(machine->arena, 1, sizeof *ranking);
    if (!ranking) {
        machine->is_out_of_memory = true;
        return false;
    }
    ranking->count = drill_candidates(&machine->facts, &is_stated, ranking->readings);
    *out = (struct choice){.reading = ranking->readings[0], .score = -1, .how = CHOSEN_STATED};
    if (options->forced) {
        out->reading = *options->forced;
        out->how = CHOSEN_FORCED;
    } else if (!is_stated && allows(machine, ranking, options->lent)) {
        out->reading = *options->lent;
        out->how = CHOSEN_LENT;
    }
    if (machine->hole_count == 0)
        return true;
    if (out->how == CHOSEN_STATED && !is_stated)
        return choose_open(machine, options, ranking, out);
    return check_reading(machine, options, out);
}

/* ---- what comes out ------------------------------------------------------------------------ */

static void *copy(struct drill_machine *machine, const void *items, size_t count, size_t size)
{
    if (count == 0)
        return NULL;
    void *made = arena_alloc(machine->arena, count, size);
    if (made)
        memcpy(made, items, count * size);
    else
        machine->is_out_of_memory = true;
    return made;
}

static enum plating plating_of_file(const struct drill_machine *machine)
{
    if (machine->file_plating != PLATING_UNKNOWN)
        return machine->file_plating;
    if (machine->has_plated_section != machine->has_bare_section)
        return machine->has_plated_section ? PLATING_PLATED : PLATING_NONE;
    return PLATING_UNKNOWN;
}

static void copy_tools(struct drill_machine *machine, struct hole_list *out)
{
    out->tools = machine->tool_count
                     ? arena_alloc(machine->arena, machine->tool_count, sizeof *out->tools)
                     : NULL;
    machine->is_out_of_memory |= machine->tool_count && !out->tools;
    for (size_t i = 0; out->tools && i < machine->tool_count; i++)
        out->tools[i] = machine->tools[i].is;
    out->tool_count = out->tools ? machine->tool_count : 0;
}

static void complete_holes(struct hole_list *list)
{
    for (size_t i = 0; i < list->hole_count; i++) {
        struct hole *hole = &list->holes[i];
        if (hole->plating == PLATING_UNKNOWN)
            hole->plating = list->plating;
        hole->layer_from = list->layer_from;
        hole->layer_to = list->layer_to;
    }
}

static void describe(struct drill_machine *machine, const struct choice *choice,
                     struct hole_list *out)
{
    static const char *const how[] = {"stated", "digits by the format's default", "chosen",
                                      "as --drill-format says", "as the other drill files"};
    char text[64];
    drill_reading_text(&choice->reading, text);
    out->reading = choice->how == CHOSEN_SCORED
                       ? arena_printf(machine->arena, "%s (chosen: it fits the pads by %.0f %%)",
                                      text, 100 * choice->score)
                       : arena_printf(machine->arena, "%s (%s)", text, how[choice->how]);
    machine->is_out_of_memory |= !out->reading;
    out->used = choice->reading;
    out->is_reading_stated = choice->how == CHOSEN_STATED || choice->how == CHOSEN_FORCED;
    out->score = choice->score;
}

static void deliver(struct drill_machine *machine, const struct choice *choice,
                    struct hole_list *out)
{
    describe(machine, choice, out);
    out->holes = copy(machine, machine->holes, machine->hole_count, sizeof *out->holes);
    out->hole_count = out->holes ? machine->hole_count : 0;
    copy_tools(machine, out);
    out->file_attrs =
        copy(machine, machine->file_attrs, machine->file_attr_count, sizeof *out->file_attrs);
    out->file_attr_count = out->file_attrs ? machine->file_attr_count : 0;
    out->plating = plating_of_file(machine);
    out->layer_from = machine->layer_from;
    out->layer_to = machine->layer_to;
    complete_holes(out);
    if (out->hole_count == 0)
        diag_add(machine->diags, DIAG_NOTE, "drill-empty",
                 (struct source_pos){machine->file_id, 0, 0}, NULL, "the file drills no hole");
}

static void read_all(struct drill_machine *machine, const struct drill_options *options,
                     struct hole_list *out)
{
    size_t errors_before = machine->diags->error_count;
    struct choice choice;
    drill_run(machine, PASS_SURVEY);
    if (machine->diags->error_count > errors_before || machine->is_out_of_memory ||
        !choose(machine, options, &choice))
        return;
    machine->reading = choice.reading;
    drill_run(machine, PASS_FINAL);
    if (machine->diags->error_count == errors_before && !machine->is_out_of_memory)
        deliver(machine, &choice, out);
}

enum holes_status drill_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                             const struct drill_options *options, struct arena *arena,
                             struct diag_list *diags, struct hole_list *out)
{
    static const struct drill_options no_options = {0};
    *out = (struct hole_list){.file_id = file_id, .score = -1};
    if (size > 0 && !drill_looks_like(bytes, size))
        return HOLES_NOT_ONE;
    if (!options)
        options = &no_options;
    struct drill_machine machine = {.arena = arena,
                                    .diags = diags,
                                    .max_holes =
                                        options->max_holes ? options->max_holes : DEFAULT_MAX_HOLES,
                                    .file_id = file_id,
                                    .bytes = bytes,
                                    .size = text_end(bytes, size)};
    size_t errors_before = diags->error_count;
    read_all(&machine, options, out);
    bool is_out_of_memory = machine.is_out_of_memory || diags->is_out_of_memory;
    drill_machine_free(&machine);
    if (!is_out_of_memory && diags->error_count == errors_before)
        return HOLES_OK;
    *out = (struct hole_list){.file_id = file_id,
                              .score = -1,
                              .is_reading_open = machine.is_reading_open && !is_out_of_memory};
    return is_out_of_memory ? HOLES_NO_MEMORY : HOLES_REFUSED;
}
