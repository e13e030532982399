/*
 * isthmus bench: a plan for loading one net and measuring it. The question comes from a package
 * and its current table, or, before there is a board, from options alone.
 */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "bench_drop.h"
#include "board_places.h"
#include "commands.h"
#include "isthmus/physics.h"
#include "own_options.h"

static const char *const help_text =
    "Usage: isthmus bench PACKAGE --currents TABLE.csv --net NAME [options]\n"
    "       isthmus bench --current 8A --width 2mm --copper 35um --length 120mm [options]\n"
    "\n"
    "A plan for loading one net of the board and measuring it: load, supply, what to expect and\n"
    "where, how to prepare the surface, how long to wait, when to stop, what to write down.\n"
    "\n"
    "What is tested\n"
    "      --net NAME           the net of the package\n"
    "      --case NAME          the rows of this case of the table (default: the worst case)\n"
    "      --current A          the test current (default with a package: the net's)\n"
    "      --width L, --copper T, --length L, --layer external|internal\n"
    "                           a conductor, when there is no package\n"
    "      --from PIN[,PIN]     where the current enters the net, and where it leaves it; "
    "default:\n"
    "      --to PIN[,PIN]       what feeds (+) and what draws (-) in the table\n"
    "      --at X,Y,LAYER       a place of the net whose voltage drop is wanted, beside its pins\n"
    "                           (repeatable): 12.7,3.5,top\n"
    "      --segment NAME:LENGTH:WIDTH[:COPPER]\n"
    "                           copper in series that no drawing holds, for the voltage drops at\n"
    "                           its ends (repeatable): J1-F1:40mm:3mm\n"
    "\n"
    "What is connected\n"
    "      --voltage V          wanted where the current enters the board (default 5V)\n"
    "      --load R             a load at hand, in place of --voltage: 1.5ohm\n"
    "      --load-rating W[:C:C]  its rating, to which temperature it holds, and where nothing is\n"
    "                           left: 50W:25C:200C\n"
    "      --load-at C          how warm it is where the load stands (default 85C)\n"
    "      --leads R            leads, out and back together: 30mohm\n"
    "      --contacts R         plugs and clamps together\n"
    "      --supply V:A         what the supply can give: 30V:10A\n"
    "\n"
    "      --ambient C          surroundings (default 25C)\n"
    "      --rise K             allowed rise (default 10K, or the table's)\n"
    "      --stop C             stop at this temperature (default 105C)\n"
    "      --thickness L        of the board, for the time to steady (default 1.6mm)\n"
    "      --html FILE          the sheet for printing, with blanks to fill\n"
    "      --csv FILE           an empty table for `isthmus compare`\n"
    "      --help               this text\n"
    "\n"
    "Exit status: 0 a plan was made; 2 it could not be (bad input, or the equipment named cannot\n"
    "do it).\n";

struct bench_job {
    struct bench_question question;
    struct bench_points points;
    const char *net, *case_name, *html_path, *csv_path, *layer;
    double current_a, width_mm, copper_um, length_mm; /* 0: not given */
    double ambient_c, rise_k;                         /* NAN: not given */
    bool wants_help;
};

static struct bench_question *question_of(void *job)
{
    return &((struct bench_job *)job)->question;
}

/* ---- options that are not one quantity ---- */

#define PARTS_MOST 4
/* Splits "a:b:c" in place into at most PARTS_MOST parts; 0 when there are more. */
static size_t split_colons(char *text, char *parts[PARTS_MOST])
{
    size_t count = 0;
    for (char *at = text; at; count++) {
        if (count == PARTS_MOST)
            return 0;
        parts[count] = at;
        /* cppcheck-suppress nullPointer ; the loop ends with it */
        at = strchr(at, ':');
        if (at)
            *at++ = 0;
    }
    return count;
}

static bool is_too_long(const char *option, const char *text, size_t size)
{
    if (strlen(text) < size)
        return false;
    cli_error("bench", NULL, "%s: the value is too long", option);
    return true;
}

static bool take_rating(void *job, const char *text)
{
    char copy[96], *parts[PARTS_MOST];
    struct derating *load = &question_of(job)->load;
    if (is_too_long("--load-rating", text, sizeof copy))
        return false;
    snprintf(copy, sizeof copy, "%s", text);
    size_t count = split_colons(copy, parts);
    if (count != 1 && count != 3) {
        cli_error("bench", "for example 50W, or 50W:25C:200C",
                  "--load-rating \"%s\" is not W or W:C:C", text);
        return false;
    }
    if (!cli_quantity("bench", "--load-rating", &quantity_kind_power, parts[0], &load->rated_w))
        return false;
    if (count == 3 && (!cli_quantity("bench", "--load-rating", &quantity_kind_temperature, parts[1],
                                     &load->rated_c) ||
                       !cli_quantity("bench", "--load-rating", &quantity_kind_temperature, parts[2],
                                     &load->zero_c)))
        return false;
    if (load->zero_c > load->rated_c)
        return true;
    cli_error("bench", "for example 50W:25C:200C",
              "--load-rating \"%s\": the rating must end above where it begins to fall", text);
    return false;
}

static bool take_supply(void *job, const char *text)
{
    char copy[96], *parts[PARTS_MOST];
    if (is_too_long("--supply", text, sizeof copy))
        return false;
    snprintf(copy, sizeof copy, "%s", text);
    if (split_colons(copy, parts) != 2) {
        cli_error("bench", "for example --supply 30V:10A", "--supply \"%s\" is not VOLTS:AMPERES",
                  text);
        return false;
    }
    struct bench_question *question = question_of(job);
    return cli_quantity("bench", "--supply", &quantity_kind_voltage, parts[0],
                        &question->supply_most_v) &&
           cli_quantity("bench", "--supply", &quantity_kind_current, parts[1],
                        &question->supply_most_a);
}

static bool take_segment(void *job, const char *text)
{
    struct bench_question *question = question_of(job);
    /* names are kept as they stand in argv, up to the first colon */
    static char copies[BENCH_MOST][160];
    char *parts[PARTS_MOST];
    if (question->segment_count == BENCH_MOST || is_too_long("--segment", text, sizeof copies[0])) {
        cli_error("bench", NULL, "at most %d segments", BENCH_MOST);
        return false;
    }
    char *copy = copies[question->segment_count];
    snprintf(copy, sizeof copies[0], "%s", text);
    size_t count = split_colons(copy, parts);
    if (count < 3) {
        cli_error("bench", "for example J1-F1:40mm:3mm or J1-F1:40mm:3mm:1oz",
                  "--segment \"%s\" is not NAME:LENGTH:WIDTH[:COPPER]", text);
        return false;
    }
    struct bench_segment *segment = &question->segments[question->segment_count++];
    double copper_um = 0;
    segment->name = parts[0];
    bool is_read =
        cli_quantity("bench", "--segment", &quantity_kind_width, parts[1], &segment->length_mm) &&
        cli_quantity("bench", "--segment", &quantity_kind_width, parts[2], &segment->width_mm) &&
        (count < 4 ||
         cli_quantity("bench", "--segment", &quantity_kind_copper, parts[3], &copper_um));
    segment->thickness_mm = copper_um * 1e-3; /* 0: the job's copper */
    return is_read;
}

static bool take_load(void *job, const char *text)
{
    double *load_ohm = &question_of(job)->load_ohm;
    if (!cli_quantity("bench", "--load", &quantity_kind_resistance, text, load_ohm))
        return false;
    if (*load_ohm > 0)
        return true;
    cli_error("bench", "for example --load 1.5ohm", "--load \"%s\" is a short circuit", text);
    return false;
}

static bool take_from(void *job, const char *text)
{
    return bench_points_from(&((struct bench_job *)job)->points, text);
}

static bool take_to(void *job, const char *text)
{
    return bench_points_to(&((struct bench_job *)job)->points, text);
}

static bool take_at(void *job, const char *text)
{
    return bench_points_at(&((struct bench_job *)job)->points, text);
}

#define JOB(member) offsetof(struct bench_job, member)
static const struct own_option own_options[] = {
    {.name = "net", .is_text = true, .offset = JOB(net)},
    {.name = "case", .is_text = true, .offset = JOB(case_name)},
    {.name = "current", .kind = &quantity_kind_current, .offset = JOB(current_a)},
    {.name = "width", .kind = &quantity_kind_width, .offset = JOB(width_mm)},
    {.name = "copper", .kind = &quantity_kind_copper, .offset = JOB(copper_um)},
    {.name = "length", .kind = &quantity_kind_width, .offset = JOB(length_mm)},
    {.name = "layer", .is_text = true, .offset = JOB(layer)},
    {.name = "segment", .take = take_segment},
    {.name = "from", .take = take_from},
    {.name = "to", .take = take_to},
    {.name = "at", .take = take_at},
    {.name = "voltage", .kind = &quantity_kind_voltage, .offset = JOB(question.voltage_v)},
    {.name = "load", .take = take_load},
    {.name = "load-rating", .take = take_rating},
    {.name = "load-at", .kind = &quantity_kind_temperature, .offset = JOB(question.load_c)},
    {.name = "leads", .kind = &quantity_kind_resistance, .offset = JOB(question.leads_ohm)},
    {.name = "contacts", .kind = &quantity_kind_resistance, .offset = JOB(question.contacts_ohm)},
    {.name = "supply", .take = take_supply},
    {.name = "ambient",
     .kind = &quantity_kind_temperature,
     .offset = JOB(ambient_c),
     .is_passed_on = true},
    {.name = "rise", .kind = &quantity_kind_rise, .offset = JOB(rise_k), .is_passed_on = true},
    {.name = "stop", .kind = &quantity_kind_temperature, .offset = JOB(question.stop_c)},
    {.name = "thickness", .kind = &quantity_kind_width, .offset = JOB(question.board_mm)},
    {.name = "html", .is_text = true, .offset = JOB(html_path)},
    {.name = "csv", .is_text = true, .offset = JOB(csv_path)},
    {0},
};

/* ---- without a package ---- */

static void add_own_place(struct bench_job *job, bool is_internal)
{
    struct bench_question *question = &job->question;
    if (!(job->width_mm > 0) || question->place_count == BENCH_MOST)
        return;
    question->places[question->place_count++] =
        (struct bench_place){.name = "conductor",
                             .is_internal = is_internal,
                             .side = is_internal ? BENCH_INSIDE : BENCH_SIDE_UNKNOWN,
                             .width_mm = job->width_mm,
                             .thickness_mm = job->copper_um * 1e-3,
                             .current_a = question->current_a};
}

/* False after saying that --layer is neither word. */
static bool read_layer(const struct bench_job *job, bool *is_internal)
{
    *is_internal = job->layer && strcmp(job->layer, "internal") == 0;
    if (!job->layer || *is_internal || strcmp(job->layer, "external") == 0)
        return true;
    cli_error("bench", NULL, "--layer \"%s\": write external or internal", job->layer);
    return false;
}

static int conductor_from_options(struct bench_job *job)
{
    struct bench_question *question = &job->question;
    bool is_internal;
    if (!read_layer(job, &is_internal))
        return CLI_COULD_NOT;
    if (job->points.from_count || job->points.to_count || job->points.at_count)
        return cli_error("bench", "isthmus bench PACKAGE --currents TABLE.csv --net NAME",
                         "--from, --to and --at need a package; no package given");
    if (job->net || job->case_name)
        return cli_error("bench", "isthmus bench PACKAGE --currents TABLE.csv --net NAME",
                         "--net needs a package: a zip, a folder, or its files; no package given");
    if (!(job->current_a > 0))
        return cli_error("bench",
                         "for example: isthmus bench --current 8A --width 2mm --copper 35um",
                         "no package and no --current");
    if (!(job->copper_um > 0))
        return cli_error("bench", "for example --copper 35um or --copper 1oz",
                         "--copper is missing");
    if (!(job->width_mm > 0) && question->segment_count == 0)
        return cli_error("bench", "for example --width 2mm", "--width is missing");
    question->current_a = job->current_a;
    question->source = "options; no package was read";
    add_own_place(job, is_internal);
    return CLI_CLEAN;
}

/* ---- with one ---- */

/* The net's own current, or a smaller one: a place never carries more than the test does. */
static void limit_currents(struct bench_question *question)
{
    for (size_t i = 0; i < question->place_count; i++)
        question->places[i].current_a = fmin(question->places[i].current_a, question->current_a);
}

static const char *source_text(const struct run *run, const char *case_name)
{
    const char *text =
        case_name ? arena_printf(run->arena, "%s, case %s", run->paths[0], case_name) : NULL;
    return text ? text : run->paths[0];
}

static int conductor_from_board(struct bench_job *job, struct run *run)
{
    struct bench_question *question = &job->question;
    bool is_internal;
    if (!read_layer(job, &is_internal))
        return CLI_COULD_NOT;
    struct net_places *places = arena_alloc(run->arena, 1, sizeof *places);
    if (!places)
        return cli_error("bench", NULL, "out of memory");
    places->may_be_empty = true;
    places->wanted_case = job->case_name;
    if (board_places(run, job->net, places) != CLI_CLEAN)
        return CLI_COULD_NOT;
    memcpy(question->places, places->places, sizeof question->places);
    question->place_count = places->place_count;
    question->net = job->net;
    question->current_a = job->current_a > 0 ? job->current_a : places->verdict->i_net_a;
    question->allowed_rise_k = places->rise_k;
    question->ambient_c = run->board.facts.ambient_c.value;
    if (run->board.facts.board_thickness_mm.value > 0)
        question->board_mm = run->board.facts.board_thickness_mm.value;
    if (!(job->copper_um > 0))
        job->copper_um = run->board.facts.outer_copper_um.value;
    question->source = source_text(run, places->verdict->case_name);
    limit_currents(question);
    if (!isnan(job->ambient_c))
        question->ambient_c = job->ambient_c;
    if (bench_drop(run, &job->points, places, question) != CLI_CLEAN)
        return CLI_COULD_NOT;
    add_own_place(job, is_internal);
    if (question->place_count == 0 && question->segment_count == 0 && !question->drawn.is_known)
        return cli_error("bench", "give its narrowest width, --width 2mm, or --from and --to",
                         "net %s has no place narrow enough to watch, and no voltage drop: %s",
                         job->net,
                         question->drawn.why_not ? question->drawn.why_not : "not solved");
    return CLI_CLEAN;
}

/* ---- both ---- */

static void settle_segments(struct bench_job *job)
{
    struct bench_question *question = &job->question;
    if (question->segment_count == 0 && !question->drawn.is_known && job->width_mm > 0 &&
        job->length_mm > 0)
        question->segments[question->segment_count++] =
            (struct bench_segment){"the conductor", job->length_mm, job->width_mm, 0};
    for (size_t i = 0; i < question->segment_count; i++)
        if (!(question->segments[i].thickness_mm > 0))
            question->segments[i].thickness_mm = job->copper_um * 1e-3;
}

static void settle_defaults(struct bench_job *job)
{
    struct bench_question *question = &job->question;
    settle_segments(job);
    if (!isnan(job->ambient_c))
        question->ambient_c = job->ambient_c;
    if (!isnan(job->rise_k))
        question->allowed_rise_k = job->rise_k;
    if (!(question->voltage_v > 0) && !(question->load_ohm > 0))
        question->voltage_v = 5;
}

static bool write_file(const struct bench_job *job, const struct bench_plan *plan,
                       const char *option, const char *path)
{
    if (!path)
        return true;
    /* a table of readings that somebody filled in must not be lost */
    if (path == job->csv_path && strcmp(path, "-") != 0 && access(path, F_OK) == 0) {
        cli_error("bench", "give another name", "%s: %s exists already", option, path);
        return false;
    }
    FILE *file = cli_open_output("bench", option, path);
    if (!file)
        return false;
    if (path == job->html_path)
        bench_sheet_html(&job->question, plan, file);
    else
        bench_blank_csv(&job->question, file);
    return cli_close_output("bench", path, file);
}

static size_t hottest_place(const struct bench_question *question, const struct bench_plan *plan)
{
    size_t hottest = 0;
    for (size_t i = 1; i < question->place_count; i++)
        if (plan->expected[i].least_k > plan->expected[hottest].least_k)
            hottest = i;
    return hottest;
}

/* Nine tenths of the current that is safe if all places are long, cut to two digits. */
static int refuse_hot(const struct bench_question *question, const struct bench_plan *plan)
{
    size_t hottest = hottest_place(question, plan);
    const struct bench_place *place = &question->places[hottest];
    char advice[160], a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE];
    double safe_a = 0.9 * bench_safe_current_a(question);
    double digit = pow(10, floor(log10(safe_a)) - 1);
    if (safe_a > 0)
        snprintf(advice, sizeof advice, "begin with --current %sA",
                 quantity_short(floor(safe_a / digit) * digit, 2, a));
    else
        snprintf(advice, sizeof advice,
                 "the surroundings are as warm as that: see --ambient, --stop");
    return cli_error("bench", advice, "%s (place %s, %s mm wide: a rise of %s K)",
                     bench_problem(BENCH_MELTS), place->name, quantity_short(place->width_mm, 3, b),
                     quantity_short(plan->expected[hottest].least_k, 3, c));
}

static int refuse(const struct bench_job *job, const struct bench_plan *plan,
                  enum bench_status status)
{
    const struct bench_question *question = &job->question;
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE], advice[200];
    double allowed_w = derating_allowed_w(&question->load, question->load_c);
    if (status == BENCH_MELTS)
        return refuse_hot(question, plan);
    if (status == BENCH_ONE_LOAD)
        return cli_error("bench", "name the terminal it hangs on: --to F1.1", "%s",
                         bench_problem(status));
    snprintf(advice, sizeof advice, "wanted: %s A from %s V",
             quantity_short(question->current_a, 3, a), quantity_short(plan->supply_v, 4, b));
    if (status == BENCH_LOAD_TOO_SMALL)
        snprintf(advice, sizeof advice, "it takes %s W; its rating leaves %s W at %s C",
                 quantity_short(plan->loads[0].power_w, 3, a), quantity_short(allowed_w, 3, b),
                 quantity_short(question->load_c, 3, c));
    return cli_error("bench", plan->supply_v > 0 ? advice : NULL, "%s", bench_problem(status));
}

static int make_sheet(struct bench_job *job)
{
    struct bench_plan plan;
    settle_defaults(job);
    enum bench_status status = bench_plan_make(&job->question, &plan);
    if (status != BENCH_OK)
        return refuse(job, &plan, status);
    bench_sheet_text(&job->question, &plan, stdout);
    bool is_written = write_file(job, &plan, "--html", job->html_path) &&
                      write_file(job, &plan, "--csv", job->csv_path) &&
                      cli_close_output("bench", "the sheet", stdout);
    return is_written ? CLI_CLEAN : CLI_COULD_NOT;
}

static int bench_package(struct bench_job *job, int argc, char **argv)
{
    struct run *run = calloc(1, sizeof *run);
    if (!run)
        return cli_error("bench", NULL, "out of memory");
    int code = run_options(run, "bench", argc, argv, TAKES_CURRENTS);
    if (code == CLI_CLEAN && run->wants_help)
        fputs(help_text, stdout);
    else if (code == CLI_CLEAN) {
        code = run_read(run);
        if (code == CLI_CLEAN)
            code = conductor_from_board(job, run);
        if (code == CLI_CLEAN)
            code = make_sheet(job);
    }
    run_free(run);
    free(run);
    return code;
}

/* Options of its own alone; those passed on to a package are known to be harmless here. */
static bool has_package(int rest_count, char **rest)
{
    for (int i = 1; i < rest_count; i++) {
        bool is_own = strncmp(rest[i], "--ambient", 9) == 0 || strncmp(rest[i], "--rise", 6) == 0;
        if (!is_own)
            return true;
        if (!strchr(rest[i], '='))
            i++;
    }
    return false;
}

int cmd_bench(int argc, char **argv)
{
    struct bench_job job = {.points.command = "bench", .ambient_c = NAN, .rise_k = NAN};
    bench_question_default(&job.question);
    for (int i = 1; i < argc; i++)
        if (strcmp(argv[i], "--help") == 0) {
            fputs(help_text, stdout);
            return CLI_CLEAN;
        }
    char **rest = calloc((size_t)argc + 1, sizeof *rest);
    if (!rest)
        return cli_error("bench", NULL, "out of memory");
    int rest_count, code = CLI_COULD_NOT;
    if (own_options_take("bench", own_options, argc, argv, &job, rest, &rest_count)) {
        if (has_package(rest_count, rest))
            code = bench_package(&job, rest_count, rest);
        else {
            code = conductor_from_options(&job);
            if (code == CLI_CLEAN)
                code = make_sheet(&job);
        }
    }
    free(rest);
    return code;
}
