/* The table of rules. */
#ifndef ISTHMUS_RULE_H
#define ISTHMUS_RULE_H

#include "isthmus/finding.h"

enum severity { SEVERITY_NOTE, SEVERITY_WARNING, SEVERITY_ERROR };
struct rule_context {
    const struct board *board;
    const struct current_table *table; /* NULL: none given */
    bool judge_all_nets, is_strict;
    const bool
        *asks_net; /* copper-width: per net (index after [joins]), is it to be judged? NULL: all */
    double margin_limit;
    unsigned thread_count; /* as in struct board_options; what asks about many nets uses it */
    struct arena *arena;
    struct diag_list *diags;
    void (*progress)(const char *what, size_t done, size_t total, void *context);
    void *progress_context;
};
enum rule_status { RULE_OK = 0, RULE_NO_MEMORY };
struct rule {
    const char *name; /* "copper-width" */
    enum severity severity;
    const char *summary;     /* one sentence */
    const char *explanation; /* a few paragraphs: formula, source, limits (isthmus explain) */
    enum rule_status (*run)(const struct rule_context *context, struct check_result *out);
};
extern const struct rule *const rule_table[]; /* ends with NULL */
const struct rule *rule_find(const char *name);

/*
 * What each terminal's copper is good for: the current that the narrowest cut between it and all
 * other terminals of its net (of its conductor, where that has no name) carries at the default
 * rise. out: one per board terminal.
 */
struct terminal_capacity {
    double current_a;  /* NAN for nets that cannot be judged */
    bool is_more_than; /* no cut that current_a would need was found: it carries more than that */
};
enum rule_status terminal_capacity_run(const struct rule_context *context,
                                       struct terminal_capacity *out);

/* Copper that leads to no terminal, on every conductor with two terminals or more; by layer and
 * place, in the context's arena. */
struct dead_end {
    struct neck_branch branch;
    uint32_t conductor; /* or ISTHMUS_NONE */
};
enum rule_status dead_ends_run(const struct rule_context *context, struct dead_end **out,
                               size_t *out_count);

/* Verdicts worst first; findings by verdict, then layer and place. */
void check_result_sort(const struct board *board, struct check_result *result);

/* Was any net judged that has gaps closed in it? Then it must be judged without closing as well. */
bool has_judged_with_closed_gaps(const struct check_result *result);
/* Which nets of the board without closing these are, per net; it lives in the context's arena.
 * NULL: without memory. */
const bool *nets_with_closed_gaps(const struct rule_context *context,
                                  const struct check_result *closed,
                                  const struct board *open_board);
/*
 * Takes back what passes only because gaps were closed: `open` is the result of the same check with
 * no gap closed. Such a net could not be judged; one that is too narrow elsewhere keeps its
 * findings and says why they may not be all.
 */
enum rule_status take_back_gap_passes(const struct rule_context *context,
                                      struct check_result *closed, const struct board *open_board,
                                      const struct check_result *open);

/* Judges widths: verdicts and findings of a fresh result. */
enum rule_status copper_width_run(const struct rule_context *context, struct check_result *out);
/* Add their findings to a result; with a table or without. */
enum rule_status net_split_run(const struct rule_context *context, struct check_result *out);
enum rule_status net_joined_run(const struct rule_context *context, struct check_result *out);
/* Every rule of the table, in its order; sorted. */
enum rule_status rules_run(const struct rule_context *context, struct check_result *out);

#endif
