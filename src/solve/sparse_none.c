/* In place of sparse.c under SOLVE=0: a build without SuiteSparse. */
#include "solve/sparse.h"

bool sparse_is_built(void)
{
    return false;
}

struct sparse *sparse_new(uint32_t size)
{
    (void)size;
    return NULL;
}

void sparse_free(struct sparse *sparse)
{
    (void)sparse;
}

bool sparse_add(struct sparse *sparse, uint32_t row, uint32_t column, double value)
{
    (void)sparse, (void)row, (void)column, (void)value;
    return false;
}

enum sparse_status sparse_solve(const struct sparse *sparse, double *right)
{
    (void)sparse, (void)right;
    return SPARSE_NO_MEMORY;
}

bool sparse_walk(const struct sparse *sparse,
                 void (*entry)(uint32_t row, uint32_t column, double value, void *context),
                 void *context)
{
    (void)sparse, (void)entry, (void)context;
    return false;
}
