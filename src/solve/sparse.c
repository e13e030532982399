#include "solve/sparse.h"

#include <stdlib.h>
#include <string.h>

#define NCOMPLEX
#include <suitesparse/cs.h>

/* The upper triangle, as triplets that are summed when they are compressed. */
struct sparse {
    cs_di *triplets;
    uint32_t size;
};

bool sparse_is_built(void)
{
    return true;
}

struct sparse *sparse_new(uint32_t size)
{
    struct sparse *sparse = malloc(sizeof *sparse);
    if (!sparse)
        return NULL;
    *sparse =
        (struct sparse){cs_di_spalloc((int)size, (int)size, (int)(4 * size + 16), 1, 1), size};
    if (sparse->triplets)
        return sparse;
    free(sparse);
    return NULL;
}

void sparse_free(struct sparse *sparse)
{
    if (!sparse)
        return;
    cs_di_spfree(sparse->triplets);
    free(sparse);
}

bool sparse_add(struct sparse *sparse, uint32_t row, uint32_t column, double value)
{
    uint32_t low = row < column ? row : column, high = row < column ? column : row;
    return cs_di_entry(sparse->triplets, (int)low, (int)high, value) != 0;
}

static cs_di *compressed(const struct sparse *sparse)
{
    cs_di *matrix = cs_di_compress(sparse->triplets);
    if (matrix && cs_di_dupl(matrix))
        return matrix;
    cs_di_spfree(matrix);
    return NULL;
}

static enum sparse_status solve_factored(const cs_dis *symbols, const cs_din *factor, double *right,
                                         double *work, int size)
{
    cs_di_ipvec(symbols->pinv, right, work, size);
    cs_di_lsolve(factor->L, work);
    cs_di_ltsolve(factor->L, work);
    cs_di_pvec(symbols->pinv, work, right, size);
    return SPARSE_OK;
}

enum sparse_status sparse_solve(const struct sparse *sparse, double *right)
{
    enum sparse_status status = SPARSE_NO_MEMORY;
    double *work = malloc(((size_t)sparse->size + 1) * sizeof *work);
    cs_di *matrix = compressed(sparse);
    cs_dis *symbols = matrix ? cs_di_schol(1, matrix) : NULL;
    cs_din *factor = symbols ? cs_di_chol(matrix, symbols) : NULL;
    if (factor && work)
        status = solve_factored(symbols, factor, right, work, (int)sparse->size);
    else if (symbols && work)
        status = SPARSE_NOT_DEFINITE; /* or no memory for the factor: the library does not say */
    cs_di_nfree(factor);
    cs_di_sfree(symbols);
    cs_di_spfree(matrix);
    free(work);
    return status;
}

bool sparse_walk(const struct sparse *sparse,
                 void (*entry)(uint32_t row, uint32_t column, double value, void *context),
                 void *context)
{
    cs_di *matrix = compressed(sparse);
    if (!matrix)
        return false;
    for (int column = 0; column < matrix->n; column++)
        for (int k = matrix->p[column]; k < matrix->p[column + 1]; k++)
            entry((uint32_t)matrix->i[k], (uint32_t)column, matrix->x[k], context);
    cs_di_spfree(matrix);
    return true;
}
