/* What check, inspect and table share: their options, reading the package, the board. */
#ifndef CLI_RUN_H
#define CLI_RUN_H

#include "cli.h"
#include "isthmus/report.h"
#include "isthmus/rule.h"
#include "isthmus/version.h"

#define RUN_LIST_MAX 256
struct run {
    const char *command;
    /* options */
    const char *const *paths;
    size_t path_count;
    const char *currents_path, *ini_path, *json_path, *svg_path;
    bool judge_all_nets, is_strict, use_mil, shows_conductors;
    struct package_limits limits;
    struct board_options board_options;
    struct role_option roles[RUN_LIST_MAX];
    struct drill_format_option drill_formats[RUN_LIST_MAX];
    struct board_facts facts;
    struct fact_override {
        enum {
            OVERRIDE_RISE,
            OVERRIDE_OUTER,
            OVERRIDE_INNER,
            OVERRIDE_AMBIENT,
            OVERRIDE_CHORD,
            OVERRIDE_GAP
        } which;
        double value;
    } overrides[16];
    size_t override_count;
    const char *given[RUN_LIST_MAX]; /* every option as given, for the record */
    size_t given_count;
    bool wants_help;
    /* what was read */
    struct arena *arena;
    struct file_table files;
    struct diag_list diags;
    struct current_table table;
    bool has_table, has_board;
    struct board board;
};

/* Which of the options a command takes. */
enum run_takes {
    TAKES_CURRENTS = 1,
    TAKES_JSON = 2,
    TAKES_SVG = 4,
    TAKES_JUDGING = 8,
    TAKES_CONDUCTORS = 16
};

/* Reads the command line; CLI_COULD_NOT after printing what is wrong. */
int run_options(struct run *run, const char *command, int argc, char **argv, unsigned takes);
/* Reads table, board facts and package. On CLI_COULD_NOT diagnostics have been printed. */
int run_read(struct run *run);
/* Progress on stderr, on a terminal only (NULL elsewhere), and the end of it. */
typedef void (*progress_fn)(const char *what, size_t done, size_t total, void *context);
progress_fn run_progress(void);
void run_progress_end(void);
/* Prints diagnostics of at least this level on stderr. */
void run_print_diags(const struct run *run, enum diag_level least);
/* Writes the picture when asked; false after printing why not. */
bool run_write_svg(const struct run *run, const struct report_input *in);
/* Where the text report goes: stdout, unless --json=- or --svg=- takes it. */
FILE *run_text_stream(const struct run *run);
struct report_options run_report_options(const struct run *run);
void run_free(struct run *run);
/* The lines of --help about the options that this command takes. */
void run_print_option_help(unsigned takes);

#endif
