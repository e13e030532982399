/* The copper of one net, as the neck search wants it. */
#ifndef RULES_NET_COPPER_H
#define RULES_NET_COPPER_H

#include "assign.h"
#include "isthmus/neck.h"

struct net_copper {
    struct neck_net net;
    struct neck_hole *holes; /* what net.holes points at */
    uint32_t *hole_of;       /* per net.holes: index into board.holes */
    uint32_t closed_gap_count;
};
/* All conductors that hold an end of the question. false: no memory. */
bool net_copper_collect(const struct board *board, const struct net_question *question,
                        struct arena *arena, struct net_copper *out);
/* Without islands that no current passes through: enough to look for least cuts in. */
bool passable_copper_collect(const struct board *board, const struct net_question *question,
                             struct arena *arena, struct net_copper *out);
/* This conductor alone. */
bool conductor_copper_collect(const struct board *board, const struct net_question *question,
                              uint32_t conductor, struct arena *arena, struct net_copper *out);

/* Makes each terminal of the net an end of the question; no cases. false: no memory. */
bool ends_of_net(const struct board *board, uint32_t net, struct arena *arena,
                 struct net_question *question);

/* What a conductor's inner layer or hole wall counts against an outer layer (DEVELOPERS.md). */
double inner_weight(const struct board_facts *facts);
double layer_weight(const struct board *board, uint16_t position);
double layer_thickness_mm(const struct board *board, uint16_t position);
double fit_constant(const struct board_facts *facts);

#endif
