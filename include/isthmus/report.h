/* Reports: the same result as text, JSON, pictures. Same board, same bytes. */
#ifndef ISTHMUS_REPORT_H
#define ISTHMUS_REPORT_H

#include <stdio.h>
#include "isthmus/rule.h"

struct report_options {
    bool use_colour;
    bool use_mil; /* --units mil */
    const char *version;
    const char *const *options;
    size_t option_count; /* as given, for the record */
    const char *package; /* as given */
};
struct report_input {
    const struct board *board;
    const struct current_table *table;
    const struct check_result *result; /* NULL for inspect */
    const struct diag_list *diags;
    const struct report_options *options;
    const struct terminal_capacity *good_for; /* per board terminal; NULL = not asked */
    const struct dead_end *dead_ends;         /* for inspect; NULL = not asked */
    size_t dead_end_count;
    bool shows_conductors; /* numbers in the picture, as report_conductors_text lists them */
    int exit_code;
};
enum report_status { REPORT_OK = 0, REPORT_NO_MEMORY, REPORT_WRITE_FAILED };
enum report_status report_check_text(const struct report_input *in, FILE *out);
enum report_status report_check_json(const struct report_input *in, FILE *out);
enum report_status report_inspect_text(const struct report_input *in, FILE *out);
enum report_status report_conductors_text(const struct report_input *in, FILE *out);
enum report_status report_table_csv(const struct report_input *in, FILE *out); /* starter table */
enum report_status report_svg(const struct report_input *in, FILE *out);
void report_diags(const struct file_table *files, const struct diag_list *diags, bool use_colour,
                  FILE *out);

#endif
