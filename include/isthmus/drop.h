/*
 * The voltage drop in the copper of one net, from the drawing: which terminals the current enters
 * and leaves by, and what then stands between any of its points.
 */
#ifndef ISTHMUS_DROP_H
#define ISTHMUS_DROP_H

#include "isthmus/rule.h"
#include "isthmus/solve.h"

/*
 * net        index into board.nets; what it is joined with belongs to it
 * case_name  of the table's rows that choose the terminals; NULL: those that hold in all
 * from, to   names of terminals; none of either: by the table, what feeds (+) and what draws (-),
 * or the only two terminals there are. Shares follow the table's currents, else are equal current_a
 * in all places     more points to know the potential of
 */
struct drop_place {
    struct pos_nm at; /* file coordinates */
    uint16_t position;
};
struct drop_question {
    uint32_t net;
    const char *case_name;
    const char *const *from, *const *to;
    size_t from_count, to_count;
    double current_a, temperature_c;
    const struct drop_place *places;
    size_t place_count;
};
struct drop_end {
    const char *name;
    double current_a; /* + enters the copper here, - leaves; 0: neither */
    double drop_v;    /* from the first end, where current enters; NAN: other copper */
    struct pos_nm at; /* of its first pad */
};
struct drop_answer {
    struct drop_end
        *ends; /* feeds, draws, the others; each with the largest current or drop first */
    size_t end_count;
    double *place_drop_v;
    double *terminal_a; /* per terminal of the board: what enters (+) or leaves (-) by its pads */
    double ohm;         /* power / current^2: between two terminals the resistance */
    double error_ohm;   /* estimated, of the meshes alone */
    size_t node_count;
    const char *problem, *advice; /* not NULL: no answer, and what to do (advice may be NULL) */
};
enum rule_status net_drop_run(const struct rule_context *context,
                              const struct drop_question *question, struct drop_answer *out);

#endif
