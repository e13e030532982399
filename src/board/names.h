/* Net names as small numbers, and what each source says of each conductor. Private to src/board. */
#ifndef ISTHMUS_BOARD_NAMES_H
#define ISTHMUS_BOARD_NAMES_H

#include "base/symbols.h"
#include "build.h"

struct name_table {
    const char **names; /* owned by whoever wrote them; they live as long as the board */
    size_t count, capacity;
    struct symbol *number_of;
    size_t drawn_count; /* the first ones: said by attributes, not only by a netlist */
};
/* Number of a name, made when new; ISTHMUS_NONE without memory. */
uint32_t name_number(struct name_table *table, const char *name);
uint32_t name_lookup(const struct name_table *table, const char *name); /* or NONE */
/* The drawing's name for a netlist's: the same; `likely` (or NONE) if it can be cut from that; the
 * only one that it can be cut from; else a name of its own. */
uint32_t name_as_drawn(struct name_table *table, const char *written, uint32_t likely);
bool is_net_name(const char *name);
void name_table_free(struct name_table *table);

enum claim_source { CLAIM_ATTRIBUTE, CLAIM_NETLIST, CLAIM_POSITION };
/* One source says that one conductor has one name. */
struct claim {
    uint32_t conductor, name;
    enum claim_source source;
    bool is_terminal;      /* said of a pin, not only of drawn copper */
    bool may_be_cut;       /* a name that no attribute gives in full */
    bool is_refuted;       /* said of pads only to which attributes give other names */
    bool is_of_many_files; /* at is one of them */
    /* said only of places to which the same netlist gives other names: one of those, in that line
     */
    uint32_t clash_line;
    struct source_pos at;
    struct pos_nm place;
    uint16_t layer; /* 0: a hole */
    uint32_t count; /* how often it was said */
};
struct claims {
    struct claim *items;
    size_t count, capacity;
    /* pins of a netlist that lie on no copper or in no plated hole, in the netlist's order */
    struct lost_pin {
        uint32_t name;
        const char *ref, *pin;
        struct source_pos at;
        struct pos_nm place;
        bool is_hole;
    } * lost;
    size_t lost_count, lost_capacity;
};
bool claims_add(struct claims *claims, struct claim claim);
/* Sorts by conductor, name, source; equal ones become one, with the place of a pin if there is one.
 */
void claims_sum(struct claims *claims);

/* Everything attributes, netlists and the table say. */
bool claims_collect(struct build *build, struct name_table *names, struct claims *claims);

#endif
