/*
 * Options of a command that also takes a package: its own ones are read here, by a table; what is
 * left (the package and the options of run.h) goes on to run_options.
 */
#ifndef CLI_OWN_OPTIONS_H
#define CLI_OWN_OPTIONS_H

#include "cli.h"

struct own_option {
    const char *name;                 /* without the dashes */
    const struct quantity_kind *kind; /* a quantity, stored as a double at offset */
    size_t offset;
    bool is_text;                              /* a const char *, stored at offset */
    bool is_flag;                              /* no value; a bool, set at offset */
    bool (*take)(void *job, const char *text); /* else: anything; prints its own errors */
    bool is_passed_on;                         /* run_options shall see it too */
};

/*
 * Takes "--name value" and "--name=value" of the table out of argv (argv[0] is kept).
 *
 * rest    room for argc + 1 pointers; what was not taken, NULL behind
 * errors  false after printing what is wrong
 */
bool own_options_take(const char *command, const struct own_option *table, int argc, char **argv,
                      void *job, char **rest, int *rest_count);

#endif
