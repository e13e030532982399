/* Reproducible randomness: splitmix64, Steele, Lea and Flood 2014. */
#ifndef TEST_RANDOM_H
#define TEST_RANDOM_H

#include <stdint.h>

static inline uint64_t next_random(uint64_t *state)
{
    uint64_t z = (*state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

/* 0 to below 1. */
static inline double random_part(uint64_t *state)
{
    return (double)(next_random(state) >> 11) / 9007199254740992.0;
}

#endif
