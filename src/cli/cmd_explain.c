/* isthmus explain RULE. */
#include "cli.h"
#include "commands.h"
#include "isthmus/rule.h"

#include <string.h>

static void list_rules(FILE *out)
{
    fputs("Rules\n", out);
    for (size_t i = 0; rule_table[i]; i++)
        fprintf(out, "  %-14s %s\n", rule_table[i]->name, rule_table[i]->summary);
}

int cmd_explain(int argc, char **argv)
{
    if (argc == 2 && strcmp(argv[1], "--help") == 0) {
        fputs(
            "Usage: isthmus explain RULE\n\nThe rule, its formula, its source and its limits.\n\n",
            stdout);
        list_rules(stdout);
        return CLI_CLEAN;
    }
    if (argc != 2) {
        list_rules(stderr);
        return cli_error("explain", "for example: isthmus explain copper-width",
                         argc < 2 ? "no rule given" : "one rule at a time");
    }
    const struct rule *rule = rule_find(argv[1]);
    if (!rule) {
        list_rules(stderr);
        return cli_error("explain", NULL, "there is no rule \"%s\"", argv[1]);
    }
    printf("%s: %s\n\n%s", rule->name, rule->summary, rule->explanation);
    return CLI_CLEAN;
}
