/*
 * Symmetric positive definite systems. CXSparse of SuiteSparse does the work: a simplicial Cholesky
 * factor after an approximate minimum degree ordering. It is LGPL; the same library family's
 * supernodal code, which is under the GPL, is not used and not linked.
 */
#ifndef SOLVE_SPARSE_H
#define SOLVE_SPARSE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct sparse;
enum sparse_status { SPARSE_OK = 0, SPARSE_NO_MEMORY, SPARSE_NOT_DEFINITE };

bool sparse_is_built(void);               /* false: SOLVE=0, and nothing else here works */
struct sparse *sparse_new(uint32_t size); /* NULL: no memory */
void sparse_free(struct sparse *sparse);
/* Adds to (row, column) and to (column, row); on the diagonal once. false: no memory. */
bool sparse_add(struct sparse *sparse, uint32_t row, uint32_t column, double value);
/* right becomes the solution. */
enum sparse_status sparse_solve(const struct sparse *sparse, double *right);
/* Calls back for every entry above the diagonal and on it, once each; for tests. false: no memory.
 */
bool sparse_walk(const struct sparse *sparse,
                 void (*entry)(uint32_t row, uint32_t column, double value, void *context),
                 void *context);

#endif
