#include "own_options.h"

#include <string.h>

/* The table's row for this argument, and where its value stands if it is in the same word. */
static const struct own_option *find(const struct own_option *table, const char *argument,
                                     const char **value)
{
    if (strncmp(argument, "--", 2) != 0)
        return NULL;
    size_t length = strcspn(argument + 2, "=");
    for (; table->name; table++)
        if (strlen(table->name) == length && strncmp(table->name, argument + 2, length) == 0) {
            *value = argument[2 + length] ? argument + 3 + length : NULL;
            return table;
        }
    return NULL;
}

static bool take_one(const char *command, const struct own_option *option, void *job,
                     const char *text)
{
    char *place = (char *)job + option->offset;
    char name[64];
    snprintf(name, sizeof name, "--%s", option->name);
    if (option->is_flag)
        return *(bool *)(void *)place = true;
    if (option->kind)
        return cli_quantity(command, name, option->kind, text, (double *)(void *)place);
    if (option->is_text) {
        *(const char **)(void *)place = text;
        return true;
    }
    return option->take(job, text);
}

bool own_options_take(const char *command, const struct own_option *table, int argc, char **argv,
                      void *job, char **rest, int *rest_count)
{
    int count = 0;
    rest[count++] = argv[0];
    for (int i = 1; i < argc; i++) {
        const char *value = NULL;
        int first = i;
        const struct own_option *option = find(table, argv[i], &value);
        bool takes_value = option && !option->is_flag;
        if (takes_value && !value && ++i < argc)
            value = argv[i];
        if (takes_value && !value) {
            cli_error(command, NULL, "--%s needs a value", option->name);
            return false;
        }
        if (option && !take_one(command, option, job, value))
            return false;
        for (int k = first; (!option || option->is_passed_on) && k <= i; k++)
            rest[count++] = argv[k];
    }
    rest[count] = NULL;
    *rest_count = count;
    return true;
}
