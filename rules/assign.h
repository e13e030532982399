/*
 * Who carries what: the rows of the net-current table laid on the terminals of the board.
 *
 * DEVELOPERS.md "How much current a neck must stand".
 */
#ifndef RULES_ASSIGN_H
#define RULES_ASSIGN_H

#include "isthmus/board.h"

/* One end of currents: a terminal of the board, or the several of a group row. */
struct end {
    const char *name;
    uint32_t *terminals;
    size_t terminal_count;
    bool is_group;
};

/* One way of running one net. Arrays have one item an end. */
struct net_case {
    const char *name; /* NULL: the rows that hold in all cases */
    double *feed_a, *draw_a;
    bool *has_row; /* a row of its own or a rest row; without one it may carry i_net_a */
    double i_net_a;
    const char *i_net_how; /* "net row", "all feeds", "all draws" */
    double rise_k;
};

struct net_question {
    uint32_t net;        /* the net that stands for all it is joined with */
    uint32_t shown_net;  /* the one of them that the table names first */
    const char *problem; /* not NULL: cannot be judged, and what to do */
    struct end *ends;
    size_t end_count;
    struct net_case *cases;
    size_t case_count;
};

struct assignment {
    struct net_question *questions; /* one a judged net, in the order of board.nets */
    size_t question_count;
    /* rows whose net is not on the board: could not be judged */
    struct lost_row {
        const char *net;
        const char *problem;
        struct source_pos at;
    } * lost;
    size_t lost_count;
};

enum assign_status { ASSIGN_OK = 0, ASSIGN_NO_MEMORY };
/* Contradictions go to diags as errors and to the question's problem. */
enum assign_status assign_currents(const struct board *board, const struct current_table *table,
                                   struct arena *arena, struct diag_list *diags,
                                   struct assignment *out);

/* The net that stands for this one after [joins]. */
uint32_t net_root(const struct board *board, uint32_t net);

#endif
