/*
 * isthmus compare: bench readings against the prediction, for one conductor given by options or
 * for the judged places of a net of a package.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "bench_drop.h"
#include "board_places.h"
#include "commands.h"
#include "isthmus/compare.h"
#include "own_options.h"

static const char *const help_text =
    "Usage: isthmus compare MEASURED.csv --width 2mm --copper 35um [options]\n"
    "       isthmus compare MEASURED.csv PACKAGE --currents TABLE.csv --net NAME [options]\n"
    "\n"
    "Does what was measured agree with what was predicted? Each reading gets its uncertainty, "
    "line\n"
    "by line, a verdict, and what would explain a difference; all readings together give this\n"
    "board's own thermal constant, and with it the rise at other currents and the highest current\n"
    "within the limit. `isthmus bench --csv FILE` writes an empty table to fill in.\n"
    "\n"
    "The table: current_a, ambient_c and hot_c in each row; or, with the copper as its own\n"
    "thermometer, drop_v, cold_drop_v, cold_current_a and cold_c in place of hot_c. Accuracies:\n"
    "current_pm_a, ambient_pm_k, hot_pm_k, emissivity, emissivity_pm, reflected_c, cold_pm_k,\n"
    "ohm_pm_pct (limits) and repeat_k (standard deviation); method is camera, contact or "
    "resistance.\n"
    "\n"
    "The conductor\n"
    "      --width L, --copper T, --layer external|internal\n"
    "      --finished           the copper was measured finished: no plating comes on top\n"
    "      --width-scatter L    ordinary scatter of the width (default 25um)\n"
    "      --copper-scatter PCT ordinary scatter of the copper (default 10)\n"
    "      --net NAME           of a package: place 1, 2 ... as `isthmus bench` lists them\n"
    "      --case NAME          as for bench: the rows of this case of the current table\n"
    "      --place N            all readings are of this place\n"
    "      --from PIN, --to PIN where the voltage taps are, to hold cold_drop_v against the "
    "drawing\n"
    "                           (default: what feeds and what draws in the current table)\n"
    "\n"
    "What it must stay below\n"
    "      --rise K             allowed rise (default 10K, or the table's)\n"
    "      --limit C            absolute limit (default 105C)\n"
    "      --at LIST            give the rise at these currents too: 2A,4A,8A\n"
    "\n"
    "What was connected, to catch impossible readings\n"
    "      --supply V:A         what the supply can give: 30V:10A\n"
    "      --load R:W           the load and its rating: 1.5ohm:50W\n"
    "\n"
    "      --svg FILE           a plot of rise against current\n"
    "      --help               this text; isthmus check --help has the options of a package\n"
    "\n"
    "Exit status: 0 all readings agree with the prediction or are cooler; 1 one is hotter, or "
    "above\n"
    "the limit even with its uncertainty taken off; 2 it cannot be told, or the input is bad.\n";

struct compare_job {
    struct compare_conductor conductor;
    struct bench_points points;
    const char *net, *case_name, *place, *layer;
    double copper_um, rise_k; /* 0, NAN: not given */
    double copper_scatter_pct;
    bool is_finished;
    struct cli_list at;
    struct measured measured;
};

/* ---- options that are not one quantity ---- */

/* Splits at the one colon into a copy; NULL, after saying so, when there is none or two. */
static char *split_pair(const char *option, const char *example, const char *text, char *copy,
                        size_t size)
{
    const char *colon = strchr(text, ':');
    if (!colon || strchr(colon + 1, ':') || strlen(text) >= size) {
        char advice[64];
        snprintf(advice, sizeof advice, "for example %s %s", option, example);
        cli_error("compare", advice, "%s \"%s\" does not have two parts", option, text);
        return NULL;
    }
    snprintf(copy, size, "%s", text);
    copy[colon - text] = 0;
    return copy + (colon - text) + 1;
}

static bool take_supply(void *job, const char *text)
{
    struct compare_conductor *conductor = &((struct compare_job *)job)->conductor;
    char copy[96];
    double volts;
    char *second = split_pair("--supply", "30V:10A", text, copy, sizeof copy);
    return second && cli_quantity("compare", "--supply", &quantity_kind_voltage, copy, &volts) &&
           cli_quantity("compare", "--supply", &quantity_kind_current, second,
                        &conductor->supply_most_a);
}

static bool take_load(void *job, const char *text)
{
    struct compare_conductor *conductor = &((struct compare_job *)job)->conductor;
    char copy[96];
    char *second = split_pair("--load", "1.5ohm:50W", text, copy, sizeof copy);
    return second &&
           cli_quantity("compare", "--load", &quantity_kind_resistance, copy,
                        &conductor->load_ohm) &&
           cli_quantity("compare", "--load", &quantity_kind_power, second, &conductor->load_most_w);
}

static bool take_at(void *job, const char *text)
{
    return cli_quantity_list("compare", "--at", &quantity_kind_current, text,
                             &((struct compare_job *)job)->at);
}

static bool take_from(void *job, const char *text)
{
    return bench_points_from(&((struct compare_job *)job)->points, text);
}

static bool take_to(void *job, const char *text)
{
    return bench_points_to(&((struct compare_job *)job)->points, text);
}

static const struct quantity_unit percent_units[] = {{"", 1, 0}, {"%", 1, 0}};
static const struct quantity_kind kind_percent = {.name = "per cent",
                                                  .example = "10",
                                                  .units = percent_units,
                                                  .unit_count = 2,
                                                  .most = 99,
                                                  .is_least_allowed = true};

#define JOB(member) offsetof(struct compare_job, member)
static const struct own_option own_options[] = {
    {.name = "net", .is_text = true, .offset = JOB(net)},
    {.name = "case", .is_text = true, .offset = JOB(case_name)},
    {.name = "place", .is_text = true, .offset = JOB(place)},
    {.name = "layer", .is_text = true, .offset = JOB(layer)},
    {.name = "width", .kind = &quantity_kind_width, .offset = JOB(conductor.width_mm)},
    {.name = "copper", .kind = &quantity_kind_copper, .offset = JOB(copper_um)},
    {.name = "finished", .is_flag = true, .offset = JOB(is_finished)},
    {.name = "width-scatter", .kind = &quantity_kind_width, .offset = JOB(conductor.width_pm_mm)},
    {.name = "copper-scatter", .kind = &kind_percent, .offset = JOB(copper_scatter_pct)},
    {.name = "rise", .kind = &quantity_kind_rise, .offset = JOB(rise_k), .is_passed_on = true},
    {.name = "limit", .kind = &quantity_kind_temperature, .offset = JOB(conductor.limit_c)},
    {.name = "at", .take = take_at},
    {.name = "from", .take = take_from},
    {.name = "to", .take = take_to},
    {.name = "supply", .take = take_supply},
    {.name = "load", .take = take_load},
    {0},
};

/* ---- the readings ---- */

static int read_measured(struct run *run, const char *path, struct measured *out)
{
    size_t size;
    unsigned char *bytes = cli_read_file("compare", path, (size_t)1 << 20, &size);
    if (!bytes)
        return CLI_COULD_NOT;
    uint32_t id = file_table_add(&run->files, path, bytes, size, false);
    enum measured_status status =
        id ? measured_read(id, bytes, size, run->arena, &run->diags, out) : MEASURED_NO_MEMORY;
    run_print_diags(run, DIAG_WARNING);
    free(bytes);
    if (id)
        run->files.files[id - 1].bytes = NULL; /* positions are already lines and columns */
    if (status == MEASURED_NO_MEMORY)
        return cli_error("compare", NULL, "out of memory");
    return status == MEASURED_OK ? CLI_CLEAN : CLI_COULD_NOT;
}

/* ---- one conductor and its readings ---- */

struct outcome {
    bool is_hotter, is_open;
};

static void take_outcome(const struct compare_point *point, struct outcome *outcome)
{
    if (point->problem != COMPARE_OK || point->verdict == COMPARE_CANNOT_TELL)
        outcome->is_open = true;
    else if (point->verdict == COMPARE_HOTTER || point->adequacy == TOO_HOT)
        outcome->is_hotter = true;
}

/* Half, all and one and a half times the largest current, unless the user asked for others. */
static struct cli_list currents_of(const struct compare_job *job,
                                   const struct compare_point *points, size_t count)
{
    if (job->at.count > 0)
        return job->at;
    double most_a = 0;
    for (size_t i = 0; i < count; i++)
        most_a = fmax(most_a, points[i].current_a);
    return (struct cli_list){.values = {0.5 * most_a, most_a, 1.5 * most_a}, .count = 3};
}

static bool write_svg(const struct run *run, const struct compare_report *report)
{
    if (!run->svg_path)
        return true;
    FILE *file = cli_open_output("compare", "--svg", run->svg_path);
    if (!file)
        return false;
    compare_svg(report, file);
    return cli_close_output("compare", run->svg_path, file);
}

/* Compares the readings that `is_of` keeps; false when a file could not be written. */
static bool compare_one(const struct compare_job *job, const struct run *run, const char *place,
                        struct outcome *outcome)
{
    struct compare_point points[READINGS_MOST];
    struct compare_fit fit;
    size_t count = 0;
    for (size_t i = 0; i < job->measured.count; i++) {
        const struct reading *reading = &job->measured.readings[i];
        if (place && strcmp(reading->place, place) != 0)
            continue;
        points[count] = compare_point_make(&job->conductor, reading);
        take_outcome(&points[count++], outcome);
    }
    struct cli_list at = currents_of(job, points, count);
    bool has_fit =
        compare_fit_make(&job->conductor, points, count, at.values,
                         at.count < COMPARE_CURRENTS ? at.count : COMPARE_CURRENTS, &fit);
    const struct compare_report report = {&job->conductor, points, count, has_fit ? &fit : NULL};
    compare_text(&report, stdout);
    return write_svg(run, &report);
}

/* ---- without a package ---- */

static int compare_options(struct compare_job *job, const struct run *run, struct outcome *outcome)
{
    struct compare_conductor *conductor = &job->conductor;
    conductor->is_internal = job->layer && strcmp(job->layer, "internal") == 0;
    if (job->layer && !conductor->is_internal && strcmp(job->layer, "external") != 0)
        return cli_error("compare", NULL, "--layer \"%s\": write external or internal", job->layer);
    if (job->net || job->points.from_count || job->points.to_count)
        return cli_error("compare",
                         "isthmus compare MEASURED.csv PACKAGE --currents TABLE.csv --net NAME",
                         "--net, --from and --to need a package; no package given");
    if (!(conductor->width_mm > 0) || !(job->copper_um > 0))
        return cli_error("compare", "for example --width 2mm --copper 35um, or give a package",
                         "which conductor? --%s is missing",
                         conductor->width_mm > 0 ? "copper" : "width");
    conductor->thickness_mm = job->copper_um * 1e-3;
    return compare_one(job, run, NULL, outcome) ? CLI_CLEAN : CLI_COULD_NOT;
}

/* ---- with one ---- */

static void take_place(struct compare_job *job, const struct net_places *places,
                       const struct bench_place *place, const char *name)
{
    struct compare_conductor *conductor = &job->conductor;
    conductor->name = name;
    conductor->width_mm = place->width_mm;
    conductor->thickness_mm = place->thickness_mm;
    conductor->is_internal = place->is_internal;
    conductor->neck_length_mm = place->neck_length_mm;
    conductor->beside_mm = place->beside_mm;
    if (isnan(job->rise_k))
        conductor->allowed_rise_k = places->rise_k;
}

static const struct bench_place *find_place(const struct net_places *places, const char *name)
{
    for (size_t i = 0; i < places->place_count; i++)
        if (strcmp(places->places[i].name, name) == 0)
            return &places->places[i];
    return NULL;
}

static size_t reading_count(const struct compare_job *job, const char *place)
{
    size_t count = 0;
    for (size_t i = 0; i < job->measured.count; i++)
        count += strcmp(job->measured.readings[i].place, place) == 0;
    return count;
}

static int check_place_names(const struct compare_job *job, const struct net_places *places)
{
    for (size_t i = 0; i < job->measured.count && !job->place; i++)
        if (!find_place(places, job->measured.readings[i].place))
            return cli_error("compare",
                             "the column place takes the numbers of isthmus bench; or --place 1",
                             "line %u: the net has no place \"%s\"",
                             job->measured.readings[i].at.line, job->measured.readings[i].place);
    if (job->place && !find_place(places, job->place))
        return cli_error("compare", "isthmus bench lists the places", "the net has no place \"%s\"",
                         job->place);
    return CLI_CLEAN;
}

static int compare_places(struct compare_job *job, struct run *run, const struct net_places *places,
                          struct outcome *outcome)
{
    size_t done = 0;
    for (size_t i = 0; i < places->place_count; i++) {
        const struct bench_place *place = &places->places[i];
        bool is_wanted =
            job->place ? strcmp(place->name, job->place) == 0 : reading_count(job, place->name) > 0;
        if (!is_wanted)
            continue;
        if (done++ > 0 && run->svg_path)
            return cli_error("compare", "choose one: --place 1",
                             "--svg: one picture shows one place, the table has several");
        char *name = arena_printf(run->arena, "net %s, place %s at %.3f, %.3f mm", places->net,
                                  place->name, place->x_mm, place->y_mm);
        if (!name)
            return cli_error("compare", NULL, "out of memory");
        take_place(job, places, place, name);
        if (done > 1)
            fputc('\n', stdout);
        if (!compare_one(job, run, job->place ? NULL : place->name, outcome))
            return CLI_COULD_NOT;
    }
    return CLI_CLEAN;
}

static int compare_package(struct compare_job *job, struct run *run, struct outcome *outcome)
{
    run->paths++;
    run->path_count--;
    struct net_places *places = arena_alloc(run->arena, 1, sizeof *places);
    if (!places)
        return cli_error("compare", NULL, "out of memory");
    places->wanted_case = job->case_name;
    if (run_read(run) != CLI_CLEAN || board_places(run, job->net, places) != CLI_CLEAN ||
        check_place_names(job, places) != CLI_CLEAN)
        return CLI_COULD_NOT;
    int code = compare_cold(run, &job->points, places, &job->measured);
    return code == CLI_CLEAN ? compare_places(job, run, places, outcome) : code;
}

/* ---- both ---- */

static int compare(struct compare_job *job, struct run *run)
{
    struct outcome outcome = {false, false};
    job->conductor.thickness_pm = job->copper_scatter_pct / 100;
    if (job->is_finished)
        job->conductor.plating_mm = 0;
    if (!isnan(job->rise_k))
        job->conductor.allowed_rise_k = job->rise_k;
    if (read_measured(run, run->paths[0], &job->measured) != CLI_CLEAN)
        return CLI_COULD_NOT;
    int code = run->path_count > 1 ? compare_package(job, run, &outcome)
                                   : compare_options(job, run, &outcome);
    if (!cli_close_output("compare", "the comparison", stdout))
        return CLI_COULD_NOT;
    if (code != CLI_CLEAN || outcome.is_open)
        return CLI_COULD_NOT;
    return outcome.is_hotter ? CLI_FINDINGS : CLI_CLEAN;
}

static int compare_with_run(struct compare_job *job, int argc, char **argv)
{
    struct run *run = calloc(1, sizeof *run);
    if (!run)
        return cli_error("compare", NULL, "out of memory");
    int code = run_options(run, "compare", argc, argv, TAKES_CURRENTS | TAKES_SVG);
    if (code == CLI_CLEAN)
        code = compare(job, run);
    run_free(run);
    free(run);
    return code;
}

int cmd_compare(int argc, char **argv)
{
    for (int i = 1; i < argc; i++)
        if (strcmp(argv[i], "--help") == 0) {
            fputs(help_text, stdout);
            return CLI_CLEAN;
        }
    if (argc < 2)
        return cli_error("compare", "isthmus compare MEASURED.csv --width 2mm --copper 35um",
                         "nothing to compare: no table of readings given");
    struct compare_job *job = calloc(1, sizeof *job);
    char **rest = calloc((size_t)argc + 1, sizeof *rest);
    int rest_count, code = CLI_COULD_NOT;
    if (!job || !rest)
        code = cli_error("compare", NULL, "out of memory");
    else {
        compare_conductor_default(&job->conductor);
        job->points.command = "compare";
        job->rise_k = NAN;
        job->copper_scatter_pct = 100 * job->conductor.thickness_pm;
        if (own_options_take("compare", own_options, argc, argv, job, rest, &rest_count))
            code = compare_with_run(job, rest_count, rest);
    }
    free(rest);
    free(job);
    return code;
}
