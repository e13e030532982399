/* Between reading the options of `size` and printing its answer. */
#ifndef CLI_CMD_SIZE_H
#define CLI_CMD_SIZE_H

#include "cli/cli.h"
#include "isthmus/sizing.h"

#define SIZE_PULSE_MAX 32
#define SIZE_RISE_K 10          /* assumed, as `check` does */
#define SIZE_EXTERNAL_MM 0.035  /* finished copper assumed outside ... */
#define SIZE_INTERNAL_MM 0.0114 /* ... and inside: half-ounce foil less processing */

enum size_layer { SIZE_BOTH, SIZE_EXTERNAL, SIZE_INTERNAL };

struct size_part {
    const char *word, *option;
    int letter;
    const struct quantity_kind *kind;
    double factor; /* from the kind's base unit to that of struct sizing */
};
extern const struct size_part size_parts[SIZING_PART_COUNT];

struct size_job {
    struct cli_list given[SIZING_PART_COUNT]; /* mm, A, K, mm; copper 0: the layer's default */
    bool is_assumed[SIZING_PART_COUNT];
    bool is_copper_in_ounces;
    enum sizing_part unknown; /* SIZING_PART_COUNT: all given */
    enum size_layer layer;
    bool is_table, is_hole_only, is_finished, use_mil;
    double length_mm, supply_v; /* 0: not asked */
    double ambient_c, glass_c, reserve_k;
    struct pulse pulses[SIZE_PULSE_MAX];
    size_t pulse_count;
    struct pulse overload; /* duration 0: not asked; current 0: asked for */
    struct cli_list drills;
    double wall_um, board_mm;
};

/* Prints the answer; returns the exit code. */
int size_print(const struct size_job *job, FILE *out);

#endif
