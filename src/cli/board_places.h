/* The judged places of one net of a package, as `bench` and `compare` want them. */
#ifndef CLI_BOARD_PLACES_H
#define CLI_BOARD_PLACES_H

#include "isthmus/bench.h"
#include "isthmus/finding.h"
#include "run.h"

/*
 * Judges the package of run (already read, with its table) and gives the places of `net`, the
 * hottest first, at most BENCH_MOST, named "1", "2" ...
 *
 * verdict  the net's worst one, or that of the wanted case
 * errors   CLI_COULD_NOT after printing what is wrong and what to do
 */
struct net_places {
    const struct net_verdict *verdict;
    const char *net;
    struct bench_place places[BENCH_MOST];
    size_t place_count;
    double rise_k;           /* allowed */
    bool may_be_empty;       /* set before: a net without a narrow place is fine */
    const char *wanted_case; /* set before: rows of this case; NULL: the net's worst one */
    const struct check_result *result;
};
int board_places(struct run *run, const char *net, struct net_places *out);
/*
 * What crosses a place when these currents enter (+) and leave (-) by the board's terminals: a
 * finding's place parts its terminals in two. NAN: the place is of no finding, any part may cross.
 */
double board_place_current_a(const struct net_places *places, const struct bench_place *place,
                             const double *terminal_a);

#endif
