/* A set of indices with "the largest below": 64 children a node, so four levels hold 16 million. */
#ifndef GEOMETRY_BITTREE_H
#define GEOMETRY_BITTREE_H

#include "geometry/internal.h"

#define BITTREE_LEVELS 6
struct bittree {
    uint64_t *bits[BITTREE_LEVELS]; /* [0] has a bit an index, [k] a bit a word of [k - 1] */
    unsigned level_count;
    uint64_t *memory;
};
bool bittree_init(struct bittree *tree, uint32_t count);
void bittree_free(struct bittree *tree);
void bittree_set(struct bittree *tree, uint32_t index);
void bittree_clear(struct bittree *tree, uint32_t index);
/* The largest index below the bound, which is the count at most; ISTHMUS_NONE if there is none. */
uint32_t bittree_below(const struct bittree *tree, uint32_t bound);

#endif
