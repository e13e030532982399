/*
 * Which points of the meshes share a potential, and the equations between those that do not.
 *
 * Things that have a potential ("nodes"): every mesh point, every plated hole on every sheet,
 * every terminal. Nodes that are one piece of metal are united; what is left are the unknowns.
 */
#ifndef SOLVE_SYSTEM_H
#define SOLVE_SYSTEM_H

#include "isthmus/solve.h"
#include "solve/fine.h"
#include "solve/sparse.h"

struct solve_sheet {
    struct domain domain;
    struct fine fine;
    size_t first_node;
    double siemens; /* conductance of a square */
};
struct system {
    const struct solve_question *question;
    struct solve_sheet *sheets;
    size_t sheet_count;
    size_t first_hole_node, first_terminal_node, node_count;
    uint32_t *joined;   /* per node: another one of the same metal, or itself */
    uint32_t *unknown;  /* per node: number, or ISTHMUS_NONE: no current can come here */
    bool *is_on_copper; /* per node: a mesh point, or a hole or terminal that touches one */
    double *volts;      /* per unknown; the last one is the reference, 0 */
    uint32_t unknown_count;
};

bool is_fed(const struct solve_question *question, uint32_t contact);
double volts_of(const struct system *system, size_t node); /* NAN: not reached */

/* Numbers the unknowns of the meshes as they are now. What lives in the system is malloc'ed. */
enum solve_status system_number(struct system *system);
/* The matrix without the reference's row; *out is NULL on errors. */
enum solve_status system_matrix(const struct system *system, struct sparse **out);
enum solve_status system_solve(struct system *system);
void system_clear(struct system *system); /* numbers and volts; not the meshes */

/* The plated hole whose rim a side is, or ISTHMUS_NONE. */
uint32_t rim_hole(const struct solve_sheet *sheet, uint32_t tri, unsigned side);

/* Stiffness of a triangle's side: half the cotangent of the angle opposite to it. */
void side_weights(const struct fine *fine, uint32_t tri, double weight[3]);

/* Marks the triangles that hold half of the estimated error for refining. */
bool mark_worst(struct system *system);

/* What the solution says, written to out's arrays. */
void read_terminals(const struct system *system, double *terminal_v);
bool read_contacts(const struct system *system, double *contact_a); /* false: no memory */
/* Index of the first probe that is not on copper, or the number of probes. */
size_t read_probes(const struct system *system, double *probe_v);
double read_power(const struct system *system);

#endif
