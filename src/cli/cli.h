/* What the commands share: how errors read, when there is colour, how options become numbers. */
#ifndef CLI_CLI_H
#define CLI_CLI_H

#include <getopt.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "isthmus/quantity.h"

enum cli_exit { CLI_CLEAN = 0, CLI_FINDINGS = 1, CLI_COULD_NOT = 2 };

/*
 * On stderr: "isthmus COMMAND: error: TEXT" and, when there is advice, "  ADVICE" on a line of its
 * own: what to type instead. command may be NULL. Returns CLI_COULD_NOT, so that a command can say
 * `return cli_error(...)`. cli_warning prints "warning" and returns nothing.
 */
int cli_error(const char *command, const char *advice, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void cli_warning(const char *command, const char *advice, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Colour only on a terminal, and never when NO_COLOR is set to anything or TERM is "dumb". */
bool cli_use_colour(FILE *stream);

/*
 * getopt_long returned '?' or ':': says which option it was, the nearest one that exists, and how
 * to get help. Call with opterr = 0 and an option string that begins with ':'.
 */
int cli_bad_option(const char *command, int result, char **argv, const struct option *options);

/* Reads an option's value; on failure prints what is wrong, with an example, and returns false. */
bool cli_quantity(const char *command, const char *option, const struct quantity_kind *kind,
                  const char *text, double *out);
/* A comma-separated list of at most CLI_LIST_MAX values, none empty. */
#define CLI_LIST_MAX 16
struct cli_list {
    double values[CLI_LIST_MAX];
    size_t count;
};
bool cli_quantity_list(const char *command, const char *option, const struct quantity_kind *kind,
                       const char *text, struct cli_list *out);

/* Opens a file for writing, or prints why not and returns NULL. "-" is stdout. A file that this
 * program did not write is not overwritten. */
FILE *cli_open_output(const char *command, const char *option, const char *path);
/* Would opening it do? Says why not. Before long work, so that it is not in vain. */
bool cli_check_output(const char *command, const char *option, const char *path);
/* Do both names lead to the same file or folder? */
bool cli_is_same_file(const char *a, const char *b);
/* Flushes and closes (stdout is only flushed); false, with a message, when anything failed. */
bool cli_close_output(const char *command, const char *path, FILE *file);

/* Reads a whole file (at most limit bytes) into malloc'ed memory with a NUL behind, or prints why
 * not and returns NULL. */
unsigned char *cli_read_file(const char *command, const char *path, size_t limit, size_t *size);

#endif
