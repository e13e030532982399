/* The command-line program: the only place that prints, exits, or sees every folder. */
#include "base/keep_memory.h"
#include "cli.h"
#include "commands.h"
#include "isthmus/currents.h"
#include "run.h"

#ifdef __GLIBC__
#endif
#include <string.h>

static const struct command {
    const char *word;
    int (*run)(int argc, char **argv);
    const char *summary;
} commands[] = {
    {"check", cmd_check, "is every conductor's narrowest copper wide enough for its current?"},
    {"inspect", cmd_inspect, "what was understood of a package"},
    {"table", cmd_table, "a net-current table to start from"},
    {"size", cmd_size, "width, current, rise or copper thickness from the others"},
    {"bench", cmd_bench, "a plan for loading and measuring the board"},
    {"compare", cmd_compare, "does what was measured agree with what was predicted?"},
    {"explain", cmd_explain, "a rule: its formula, its source, its limits"},
};
#define COMMAND_COUNT (sizeof commands / sizeof *commands)

static void print_help(FILE *out)
{
    fputs("Usage: isthmus COMMAND ...\n"
          "\n"
          "Reads a circuit board's exported fabrication files and finds every place where copper "
          "is too narrow\n"
          "for the current it must carry.\n"
          "\n"
          "Commands (each has --help)\n",
          out);
    for (size_t i = 0; i < COMMAND_COUNT; i++)
        fprintf(out, "  %-9s %s\n", commands[i].word, commands[i].summary);
    fputs("\n"
          "A first check: isthmus table gerbers.zip > currents.csv, fill in the currents, then\n"
          "isthmus check gerbers.zip --currents=currents.csv\n"
          "\n"
          "Hot copper burns and starts fires; mains and batteries kill. Follow your local codes; "
          "this program\n"
          "is no proof of safety.\n",
          out);
}

static int unknown_command(const char *word)
{
    const char *words[COMMAND_COUNT];
    for (size_t i = 0; i < COMMAND_COUNT; i++)
        words[i] = commands[i].word;
    const char *near = nearest_name(word, words, COMMAND_COUNT);
    char advice[96];
    snprintf(advice, sizeof advice, near ? "did you mean isthmus %s?" : "isthmus --help lists them",
             near);
    return cli_error(NULL, advice, "there is no command \"%s\"", word);
}

int main(int argc, char **argv)
{
    keep_memory();
    if (argc < 2) {
        print_help(stderr);
        return CLI_COULD_NOT;
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "help") == 0) {
        print_help(stdout);
        return CLI_CLEAN;
    }
    if (strcmp(argv[1], "--version") == 0) {
        puts("isthmus " ISTHMUS_VERSION);
        return CLI_CLEAN;
    }
    for (size_t i = 0; i < COMMAND_COUNT; i++)
        if (strcmp(argv[1], commands[i].word) == 0)
            return commands[i].run(argc - 1, argv + 1);
    return unknown_command(argv[1]);
}
