/*
 * isthmus size: one of width, current, rise and copper from the others. Options become a struct
 * size_job here; size_print.c says what came of it.
 */
#include "cli/cmd_size.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/commands.h"
#include "isthmus/currents.h"

static const char *const help_text =
    "Usage: isthmus size [options]\n"
    "\n"
    "Finds one of width, current, rise and copper thickness from the others, for outer and inner\n"
    "layers. Give three and the fourth is found; give all four and the conductor is judged.\n"
    "What is left out is assumed and said so: rise 10 K, finished copper 35 um outside, 11.4 um\n"
    "inside.\n"
    "\n"
    "  isthmus size --current 2A                              how wide?\n"
    "  isthmus size --width 0.5mm --copper 1oz --rise 20K     how much current?\n"
    "  isthmus size --width 20mil --copper 1oz --current 2A   how warm?\n"
    "  isthmus size --width 2mm --current 8A --rise 20K       how thick?\n"
    "  isthmus size --current 5A --copper 0.5oz,1oz,2oz --rise 10K,20K,30K    a table\n"
    "  isthmus size --current 5A --hole 0.3mm,0.5mm           how many plated holes?\n"
    "\n"
    "The conductor (each takes a list, a,b,c, and then a table is printed):\n"
    "  -i, --current A       steady or r.m.s. current: 2.5A, 800mA\n"
    "  -w, --width L         0.5mm, 20mil, 300um; a bare number is mm\n"
    "  -r, --rise K          temperature rise above the surroundings: 10K\n"
    "  -c, --copper T        finished thickness: 35um, 1oz (an ounce is taken as 35 um)\n"
    "      --layer WHICH     external, internal or both (the default)\n"
    "      --pulses LIST     in place of --current: currents that follow one another and\n"
    "                        repeat, as CURRENT:TIME, for example 8A:1s,0.5A:9s\n"
    "\n"
    "More about it:\n"
    "  -l, --length L        resistance, voltage drop and power of this length\n"
    "      --supply V        the drop as a part of this voltage too\n"
    "  -a, --ambient C       surroundings, 25C\n"
    "      --glass C         the laminate's glass transition, 130C\n"
    "      --reserve K       how far to stay below it, 25K\n"
    "      --overload I:T    a short overload, without cooling: 20A:0.5s; a time alone asks for\n"
    "                        the current\n"
    "\n"
    "Plated holes:\n"
    "      --hole LIST       drilled diameters: 0.3mm,0.5mm\n"
    "      --finished        the diameters are those after plating\n"
    "      --wall T          wall thickness, 20um\n"
    "      --board L         length of the hole, 1.6mm\n"
    "\n"
    "      --units mm|mil    which comes first in the output\n"
    "  -h, --help            this text\n"
    "\n"
    "Exit status: 0 answered; 1 a conductor given in full is too narrow, or a temperature limit "
    "is\n"
    "exceeded on every layer asked for; 2 the question could not be answered.\n";

enum long_only {
    OPTION_LAYER = 256,
    OPTION_PULSES,
    OPTION_SUPPLY,
    OPTION_GLASS,
    OPTION_RESERVE,
    OPTION_OVERLOAD,
    OPTION_HOLE,
    OPTION_FINISHED,
    OPTION_WALL,
    OPTION_BOARD,
    OPTION_UNITS
};

static const struct option options[] = {
    {"current", required_argument, NULL, 'i'},
    {"width", required_argument, NULL, 'w'},
    {"rise", required_argument, NULL, 'r'},
    {"copper", required_argument, NULL, 'c'},
    {"layer", required_argument, NULL, OPTION_LAYER},
    {"pulses", required_argument, NULL, OPTION_PULSES},
    {"length", required_argument, NULL, 'l'},
    {"supply", required_argument, NULL, OPTION_SUPPLY},
    {"ambient", required_argument, NULL, 'a'},
    {"glass", required_argument, NULL, OPTION_GLASS},
    {"reserve", required_argument, NULL, OPTION_RESERVE},
    {"overload", required_argument, NULL, OPTION_OVERLOAD},
    {"hole", required_argument, NULL, OPTION_HOLE},
    {"finished", no_argument, NULL, OPTION_FINISHED},
    {"wall", required_argument, NULL, OPTION_WALL},
    {"board", required_argument, NULL, OPTION_BOARD},
    {"units", required_argument, NULL, OPTION_UNITS},
    {"help", no_argument, NULL, 'h'},
    {NULL, 0, NULL, 0},
};

/* Options that are one quantity each. */
static const struct single {
    int option;
    const char *name;
    const struct quantity_kind *kind;
    size_t offset; /* of a double in struct size_job */
} singles[] = {
    {'l', "--length", &quantity_kind_width, offsetof(struct size_job, length_mm)},
    {'a', "--ambient", &quantity_kind_temperature, offsetof(struct size_job, ambient_c)},
    {OPTION_SUPPLY, "--supply", &quantity_kind_voltage, offsetof(struct size_job, supply_v)},
    {OPTION_GLASS, "--glass", &quantity_kind_temperature, offsetof(struct size_job, glass_c)},
    {OPTION_RESERVE, "--reserve", &quantity_kind_rise, offsetof(struct size_job, reserve_k)},
    {OPTION_WALL, "--wall", &quantity_kind_copper, offsetof(struct size_job, wall_um)},
    {OPTION_BOARD, "--board", &quantity_kind_width, offsetof(struct size_job, board_mm)},
};

static const struct single *find_single(int option)
{
    for (size_t i = 0; i < sizeof singles / sizeof singles[0]; i++)
        if (singles[i].option == option)
            return &singles[i];
    return NULL;
}

const struct size_part size_parts[SIZING_PART_COUNT] = {
    [SIZING_WIDTH] = {"width", "--width", 'w', &quantity_kind_width, 1},
    [SIZING_CURRENT] = {"current", "--current", 'i', &quantity_kind_current, 1},
    [SIZING_RISE] = {"rise", "--rise", 'r', &quantity_kind_rise, 1},
    [SIZING_COPPER] = {"copper", "--copper", 'c', &quantity_kind_copper, 1e-3},
};

static bool read_part(struct size_job *job, enum sizing_part part, const char *text)
{
    const struct size_part *about = &size_parts[part];
    if (!cli_quantity_list("size", about->option, about->kind, text, &job->given[part]))
        return false;
    for (size_t i = 0; i < job->given[part].count; i++)
        job->given[part].values[i] *= about->factor;
    if (part == SIZING_COPPER)
        job->is_copper_in_ounces = strstr(text, "oz") != NULL;
    return true;
}

/* "8A:1s" at text, length bytes; a current of 0 is a pause and fine here. */
static bool read_pulse(const char *option, const char *text, size_t length, struct pulse *out)
{
    char item[64];
    snprintf(item, sizeof item, "%.*s", (int)(length < 60 ? length : 60), text);
    char *colon = strchr(item, ':');
    if (!colon) {
        cli_error("size", "write CURRENT:TIME, for example 8A:1s", "%s \"%s\" has no time", option,
                  item);
        return false;
    }
    *colon = 0;
    out->current_a = 0;
    bool is_pause = strcmp(item, "0") == 0 || strcmp(item, "0A") == 0;
    return (is_pause ||
            cli_quantity("size", option, &quantity_kind_current, item, &out->current_a)) &&
           cli_quantity("size", option, &quantity_kind_time, colon + 1, &out->duration_s);
}

static bool read_pulses(struct size_job *job, const char *text)
{
    for (const char *at = text;; at++) {
        size_t length = strcspn(at, ",");
        if (job->pulse_count == SIZE_PULSE_MAX) {
            cli_error("size", NULL, "--pulses has more than %d", SIZE_PULSE_MAX);
            return false;
        }
        if (!read_pulse("--pulses", at, length, &job->pulses[job->pulse_count]))
            return false;
        job->pulse_count++;
        at += length;
        if (!*at)
            return true;
    }
}

static bool read_overload(struct size_job *job, const char *text)
{
    if (strchr(text, ':'))
        return read_pulse("--overload", text, strlen(text), &job->overload);
    double current_a;
    if (strchr(text, 'A') && quantity_current(text, &current_a)) {
        cli_error("size", "write CURRENT:TIME, for example 20A:0.5s, or a time alone",
                  "--overload \"%s\" has no time", text);
        return false;
    }
    job->overload.current_a = 0;
    return cli_quantity("size", "--overload", &quantity_kind_time, text, &job->overload.duration_s);
}

static bool read_word(const char *option, const char *text, const char *const *words, int *out)
{
    for (int i = 0; words[i]; i++)
        if (strcmp(text, words[i]) == 0) {
            *out = i;
            return true;
        }
    cli_error("size", "isthmus size --help lists the options", "%s \"%s\": write %s%s%s%s%s",
              option, text, words[0], words[2] ? ", " : " or ", words[1], words[2] ? " or " : "",
              words[2] ? words[2] : "");
    return false;
}

static bool read_special(struct size_job *job, int option, const char *text)
{
    static const char *const layers[] = {"both", "external", "internal", NULL};
    static const char *const units[] = {"mm", "mil", NULL};
    int word = 0;
    switch (option) {
    case OPTION_LAYER:
        if (!read_word("--layer", text, layers, &word))
            return false;
        job->layer = (enum size_layer)word;
        return true;
    case OPTION_UNITS:
        if (!read_word("--units", text, units, &word))
            return false;
        job->use_mil = word == 1;
        return true;
    case OPTION_PULSES:
        return read_pulses(job, text);
    case OPTION_OVERLOAD:
        return read_overload(job, text);
    case OPTION_HOLE:
        return cli_quantity_list("size", "--hole", &quantity_kind_width, text, &job->drills);
    default: /* OPTION_FINISHED */
        job->is_finished = true;
        return true;
    }
}

static bool read_option(struct size_job *job, int option, const char *text)
{
    for (int part = 0; part < SIZING_PART_COUNT; part++)
        if (option == size_parts[part].letter)
            return read_part(job, (enum sizing_part)part, text);
    const struct single *single = find_single(option);
    if (!single)
        return read_special(job, option, text);
    double *place = (double *)(void *)((char *)job + single->offset);
    return cli_quantity("size", single->name, single->kind, text, place);
}

/* -1: go on; else the exit code. */
static int read_options(struct size_job *job, int argc, char **argv)
{
    optind = 0; /* getopt starts afresh */
    opterr = 0;
    int option;
    while ((option = getopt_long(argc, argv, ":i:w:r:c:l:a:h", options, NULL)) != -1) {
        if (option == 'h') {
            fputs(help_text, stdout);
            return CLI_CLEAN;
        }
        if (option == '?' || option == ':')
            return cli_bad_option("size", option, argv, options);
        if (!read_option(job, option, optarg))
            return CLI_COULD_NOT;
    }
    if (optind < argc)
        return cli_error("size", "every value belongs to an option: isthmus size --current 2A",
                         "do not know what to do with \"%s\"", argv[optind]);
    return -1;
}

static void assume(struct size_job *job, enum sizing_part part, double value)
{
    job->given[part].values[0] = value;
    job->given[part].count = 1;
    job->is_assumed[part] = true;
}

static size_t missing_count(const struct size_job *job)
{
    size_t count = 0;
    for (int part = 0; part < SIZING_PART_COUNT; part++)
        count += job->given[part].count == 0;
    return count;
}

/* Fills in what may be assumed and finds what is asked for. */
static int settle_question(struct size_job *job)
{
    const bool has_width = job->given[SIZING_WIDTH].count > 0;
    const bool has_current = job->given[SIZING_CURRENT].count > 0;
    if (!has_width && !has_current && job->drills.count == 0)
        return cli_error("size",
                         "for example: isthmus size --current 2A, or isthmus size --width 0.5mm",
                         "nothing to start from: give a current or a width");
    if (missing_count(job) > 1 && job->given[SIZING_COPPER].count == 0)
        assume(job, SIZING_COPPER, 0); /* 0: each layer its own */
    if (missing_count(job) > 1 && job->given[SIZING_RISE].count == 0)
        assume(job, SIZING_RISE, SIZE_RISE_K);
    job->is_hole_only = !has_width && !has_current;
    job->unknown = SIZING_PART_COUNT; /* all known: judge */
    for (int part = 0; part < SIZING_PART_COUNT && !job->is_hole_only; part++)
        if (job->given[part].count == 0)
            job->unknown = (enum sizing_part)part;
    return -1;
}

static int take_pulses(struct size_job *job)
{
    if (job->pulse_count == 0)
        return -1;
    if (job->given[SIZING_CURRENT].count > 0)
        return cli_error("size", "leave one of them out", "--pulses and --current both given");
    double rms_a = pulses_rms_a(job->pulses, job->pulse_count);
    if (!(rms_a > 0))
        return cli_error("size", "for example --pulses 8A:1s,0A:9s", "--pulses carries no current");
    job->given[SIZING_CURRENT].values[0] = rms_a;
    job->given[SIZING_CURRENT].count = 1;
    return -1;
}

static size_t list_count(const struct size_job *job)
{
    size_t count = 0;
    for (int part = 0; part < SIZING_PART_COUNT; part++)
        count += job->given[part].count > 1;
    return count;
}

static int check_holes(const struct size_job *job)
{
    for (size_t i = 0; i < job->drills.count; i++)
        if (!job->is_finished && job->drills.values[i] <= 2 * job->wall_um * 1e-3)
            return cli_error("size", "give the drilled diameter, or --finished for the one left",
                             "--hole %g mm is filled up by a wall of %g um", job->drills.values[i],
                             job->wall_um);
    return -1;
}

static int check_question(struct size_job *job)
{
    job->is_table = list_count(job) > 0;
    if (list_count(job) > 2)
        return cli_error("size", "a table has rows and columns: give at most two lists",
                         "more than two lists");
    if (job->is_table && (job->length_mm > 0 || job->drills.count || job->overload.duration_s > 0))
        return cli_error("size", "ask for the table first, then for one of its cells",
                         "--length, --hole and --overload need single values");
    if (job->unknown == SIZING_PART_COUNT && !job->is_hole_only && job->layer == SIZE_BOTH)
        return cli_error("size", "add --layer external or --layer internal",
                         "width, current, rise and copper are all given: to judge, the layer must "
                         "be known");
    if (job->unknown == SIZING_PART_COUNT && job->is_table)
        return cli_error("size", "leave out the part that the table shall show",
                         "width, current, rise and copper are all given: nothing to tabulate");
    if (job->glass_c - job->reserve_k <= job->ambient_c)
        return cli_error("size", "see --glass, --reserve and --ambient",
                         "surroundings of %g C leave no room below %g C less %g K", job->ambient_c,
                         job->glass_c, job->reserve_k);
    return check_holes(job);
}

int cmd_size(int argc, char **argv)
{
    struct size_job job = {
        .ambient_c = 25, .glass_c = 130, .reserve_k = 25, .wall_um = 20, .board_mm = 1.6};
    int code = read_options(&job, argc, argv);
    if (code < 0)
        code = take_pulses(&job);
    if (code < 0)
        code = settle_question(&job);
    if (code < 0)
        code = check_question(&job);
    if (code >= 0)
        return code;
    code = size_print(&job, stdout);
    return cli_close_output("size", "the answer", stdout) ? code : CLI_COULD_NOT;
}
