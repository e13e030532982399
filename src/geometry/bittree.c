/* A set of indices, searched from above. */
#include "geometry/bittree.h"

#include <stdlib.h>

bool bittree_init(struct bittree *tree, uint32_t count)
{
    size_t words[BITTREE_LEVELS], total = 0;
    *tree = (struct bittree){0};
    size_t left = (size_t)count + 1; /* a bound may be the count itself: a place of its own */
    do {
        left = (left + 63) / 64;
        words[tree->level_count++] = left;
        total += left;
    } while (left > 1);
    tree->memory = mesh_calloc(total, sizeof *tree->memory);
    if (!tree->memory)
        return false;
    uint64_t *next = tree->memory;
    for (unsigned level = 0; level < tree->level_count; level++) {
        tree->bits[level] = next;
        next += words[level];
    }
    return true;
}

void bittree_free(struct bittree *tree)
{
    free(tree->memory);
    *tree = (struct bittree){0};
}

void bittree_set(struct bittree *tree, uint32_t index)
{
    for (unsigned level = 0; level < tree->level_count; level++, index >>= 6)
        tree->bits[level][index >> 6] |= UINT64_C(1) << (index & 63);
}

void bittree_clear(struct bittree *tree, uint32_t index)
{
    for (unsigned level = 0; level < tree->level_count; level++, index >>= 6) {
        uint64_t *word = &tree->bits[level][index >> 6];
        *word &= ~(UINT64_C(1) << (index & 63));
        if (*word)
            return;
    }
}

static uint32_t highest(uint64_t word)
{
    return 63U - (uint32_t)__builtin_clzll(word);
}

uint32_t bittree_below(const struct bittree *tree, uint32_t bound)
{
    for (unsigned level = 0; level < tree->level_count; level++, bound >>= 6) {
        uint64_t below =
            (bound & 63) ? tree->bits[level][bound >> 6] & ((UINT64_C(1) << (bound & 63)) - 1) : 0;
        if (!below)
            continue;
        uint32_t index = (bound & ~UINT32_C(63)) | highest(below);
        while (level-- > 0)
            index = index << 6 | highest(tree->bits[level][index]);
        return index;
    }
    return ISTHMUS_NONE;
}
