/*
 * Ohm's law in the copper of one net: what potential every terminal and every named point has when
 * given currents enter and leave.
 *
 * Each layer is a sheet of conductivity thickness / resistivity, P1 finite elements on a refined
 * copy of its boundary mesh; layers are joined by the walls of plated holes. The mesh is refined
 * where the current turns or crowds until the answer stops changing.
 *
 * What is simplified, always towards less resistance by a little: copper is as thick everywhere as
 * stated; the rim of a plated hole is at one potential on each layer; a pad where current enters
 * or leaves is at one potential, and so are all pads of one terminal, on every layer that its hole
 * reaches (the soldered lead fills it). Etch loss is not taken off.
 */
#ifndef ISTHMUS_SOLVE_H
#define ISTHMUS_SOLVE_H

#include "isthmus/neck.h"

struct solve_probe {
    struct pt at;
    uint16_t position; /* copper layer, 1 = top */
};

/*
 * wall_mm2    per hole of net: its wall's true cross-section; 0: a hole that joins nothing
 * depth_mm    per layer position (0 is not used): depth of the layer below the top one
 * current_a   per terminal of net: into the copper; they sum to zero. 0: the pad is copper like any
 * tolerance   of the largest drop; refining ends when the estimated error is below it
 * node_limit  most mesh points; 0: SOLVE_NODE_LIMIT
 */
#define SOLVE_NODE_LIMIT 400000
struct solve_question {
    const struct neck_net *net;
    const double *wall_mm2, *depth_mm, *current_a;
    const struct solve_probe *probes;
    size_t probe_count;
    double resistivity_ohm_mm2_m;
    double tolerance;
    size_t node_limit;
};

/*
 * terminal_v  per terminal, against the first one that is fed; NAN where no copper leads there. A
 *             terminal without current: the mean over its pads
 * contact_a   per contact of net: what enters the copper through this pad (shares within a terminal
 *             of several pads); 0 for pads of terminals without current
 * error_v     estimated error of terminal_v and probe_v, from the change between the last two
 *             meshes: the error of P1 elements falls like 1 / nodes
 */
struct solve_answer {
    double *terminal_v, *probe_v, *contact_a;
    double power_w, error_v;
    size_t node_count, round_count;
};
enum solve_status {
    SOLVE_OK = 0,
    SOLVE_NO_MEMORY,
    SOLVE_TOO_LARGE,  /* not within the tolerance (up to ten times it) with node_limit points */
    SOLVE_APART,      /* a current must cross where no copper is, or does not come back out */
    SOLVE_NOT_COPPER, /* a probe is not on the net's copper of its layer */
    SOLVE_LEFT_OUT,   /* built with SOLVE=0 */
    SOLVE_BUG         /* an invariant failed: the matrix is not positive definite ... */
};
/* Arrays of out live in arena; out is defined on SOLVE_OK only. probe_bad: on SOLVE_NOT_COPPER
 * the first such probe (may be NULL). */
enum solve_status solve_net(const struct solve_question *question, struct arena *arena,
                            struct solve_answer *out, size_t *probe_bad);
/* What is wrong and what to do, in one sentence. */
const char *solve_problem(enum solve_status status);

#endif
