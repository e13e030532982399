/* Diagnostics as lines: file:line:column: level[code]: text. */
#include "words.h"

static const char *level_word(enum diag_level level)
{
    static const char *const words[] = {
        [DIAG_NOTE] = "note", [DIAG_WARNING] = "warning", [DIAG_ERROR] = "error"};
    return words[level];
}

static const char *level_colour(enum diag_level level)
{
    static const char *const colours[] = {
        [DIAG_NOTE] = "\033[34m", [DIAG_WARNING] = "\033[33m", [DIAG_ERROR] = "\033[1;31m"};
    return colours[level];
}

static void print_place(const struct file_table *files, struct source_pos at, FILE *out)
{
    if (at.file_id == 0 || at.file_id > files->count)
        return;
    fputs(files->files[at.file_id - 1].name, out);
    if (at.line)
        fprintf(out, ":%u", at.line);
    if (at.line && at.column)
        fprintf(out, ":%u", at.column);
    fputs(": ", out);
}

struct diag_report {
    const struct file_table *files;
    const struct diag_list *diags;
    bool use_colour;
};

static enum report_status write_diags(const void *what, FILE *out)
{
    const struct diag_report *report = what;
    bool use_colour = report->use_colour;
    for (size_t i = 0; i < report->diags->count; i++) {
        const struct diag *diag = &report->diags->items[i];
        print_place(report->files, diag->at, out);
        fprintf(out, "%s%s[%s]%s: %s", use_colour ? level_colour(diag->level) : "",
                level_word(diag->level), diag->code, use_colour ? "\033[0m" : "", diag->text);
        if (diag->suppressed_count)
            fprintf(out, " (and %u more of this kind)", diag->suppressed_count);
        fputc('\n', out);
        if (diag->advice)
            fprintf(out, "    %s\n", diag->advice);
    }
    return REPORT_OK;
}

void report_diags(const struct file_table *files, const struct diag_list *diags, bool use_colour,
                  FILE *out)
{
    const struct diag_report report = {files, diags, use_colour};
    if (report_plain(write_diags, &report, use_colour, out) != REPORT_OK || diags->is_out_of_memory)
        fputs("error[out-of-memory]: memory ran out while reporting problems\n", out);
}
