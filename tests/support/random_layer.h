/* Layers of random objects of every kind, the same for the same seed. */
#ifndef TEST_RANDOM_LAYER_H
#define TEST_RANDOM_LAYER_H

#include "shapes.h"

struct random_layer {
    uint64_t seed;
    size_t object_count;
    int64_t size_nm;   /* objects lie within +- size */
    int64_t step_nm;   /* coordinates are multiples of this */
    int64_t width_nm;  /* mean size of an object */
    unsigned clear_in; /* one run in so many is clear; 0: none */
};
void random_layer_draw(const struct random_layer *layer, struct shapes *out);

#endif
