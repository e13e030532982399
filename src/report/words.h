/* The words and number formats that all reports share. */
#ifndef REPORT_WORDS_H
#define REPORT_WORDS_H

#include "isthmus/report.h"

const char *verdict_word(enum verdict verdict); /* "narrow", "could not judge" ... */
const char *verdict_slug(enum verdict verdict); /* "narrow", "not-judged" ... */
const char *finding_word(enum finding_kind kind);
const char *branch_word(enum branch_end end);  /* "bare laminate", "hole", "pad" */
const char *taken_slug(enum taken_by by);      /* "edge", "hole", "beyond-edge" */
const char *rule_word(enum finding_kind kind); /* the rule that finds it */
const char *piece_word(enum piece_kind kind);  /* "copper", "hole wall" ... */
const char *role_word(enum role role);
const char *fact_source_word(enum fact_source source);
const char *contact_source_word(enum contact_source source);
const char *net_name(const struct board *board, uint32_t net);

/* Every fact that the check used, one after the other; false at the end. */
struct fact_line {
    const char *name, *unit;
    double value;
    const char *text; /* instead of a number */
    enum fact_source source;
    struct source_pos at;
};
bool fact_at(const struct board *board, size_t index, struct fact_line *out, char buffer[48]);

/* Conductors with most copper first, and their numbers in that order from 1. malloc'ed; NULL: no
 * memory. */
uint32_t *conductor_order(const struct board *board);
uint32_t *conductor_numbers(const struct board *board);

/* Writes through a filter that keeps control characters of the files' off a terminal. */
typedef enum report_status (*report_writer)(const void *what, FILE *out);
enum report_status report_plain(report_writer write, const void *what, bool use_colour, FILE *out);

/* A line a dead end: where it ends and in what; holes and pads first, at most `most` in bare
 * laminate. */
void report_dead_end(const struct report_input *in, uint32_t net, const struct neck_branch *branch,
                     FILE *out);
void report_dead_ends(const struct report_input *in, uint32_t net,
                      const struct neck_branch *branches, size_t count, size_t most, FILE *out);

double nm_to_mm(int64_t nm);

#endif
