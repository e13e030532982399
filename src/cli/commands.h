/*
 * The commands: `isthmus WORD ...` calls cmd_WORD with argv[0] = WORD.
 *
 * Each prints its own --help and returns the program's exit code: 0 clean, 1 findings, 2 bad input
 * or could not judge.
 */
#ifndef CLI_COMMANDS_H
#define CLI_COMMANDS_H

int cmd_check(int argc, char **argv);
int cmd_inspect(int argc, char **argv);
int cmd_table(int argc, char **argv);
int cmd_explain(int argc, char **argv);
int cmd_size(int argc, char **argv);
int cmd_bench(int argc, char **argv);
int cmd_compare(int argc, char **argv);

#endif
