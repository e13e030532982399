/* Shared by the ipc356*.c files only: what is gathered while a netlist is read. */
#ifndef PARSERS_IPC356_PARTS_H
#define PARSERS_IPC356_PARTS_H

#include "isthmus/netlist.h"

/* P  NNAMEkey name: records write the key (or NNAMEkey) in place of a long name. */
struct net_alias {
    const char *key, *name; /* key without NNAME */
    bool is_number;         /* a key of digits alone stands in records only with NNAME before it */
    struct source_pos at;
};

struct ipc356_reader {
    uint32_t file_id;
    const uint8_t *bytes;
    size_t size;
    struct arena *arena;
    struct diag_list *diags;
    struct netlist *out;
    bool is_out_of_memory;

    /* The line at hand, without its end. */
    uint32_t line;
    const uint8_t *text;
    size_t length;
    size_t extra;  /* bytes of the net's name beyond its 14 columns, where those count characters */
    bool is_quiet; /* a record of a code whose columns are less sure: no fault, passed over */
    bool has_point; /* a continuation can follow */

    bool is_line_open; /* the last line has no end */
    bool has_units, has_ended, has_content_after_end, has_radians;
    uint32_t wide_turn_line; /* the first rotation beyond a full turn */
    bool is_metric, is_radians;
    bool has_full_name; /* a name fills all 14 columns */
    struct netlist_point *points;
    size_t point_count, point_capacity;
    struct net_alias *aliases;
    size_t alias_count, alias_capacity;
    uint32_t unused_counts[1000]; /* records by operation code that name no point */
    uint32_t unused_lines[1000];  /* the first line of each */
    uint32_t parameter_count;     /* P records of no concern */
};

/* Position of a column (from 1) of the line at hand. */
struct source_pos ipc356_at(const struct ipc356_reader *reader, size_t column);
/* A copy of columns first..last, blanks around it taken off; NULL when blank. */
const char *ipc356_text(struct ipc356_reader *reader, size_t first, size_t last);

/* ipc356_point.c: a 317, 327 or 367 record, column by column. */
void ipc356_point(struct ipc356_reader *reader, enum point_kind kind);
/* A 307 record: a via within the board. False: its columns are others. */
bool ipc356_via_within(struct ipc356_reader *reader);
/* A 0nn record: false: it gives no place beside that of the record before. */
bool ipc356_continuation(struct ipc356_reader *reader, unsigned code);

/* ipc356_names.c: aliases, then what stands twice or contradicts itself. */
void ipc356_alias(struct ipc356_reader *reader, size_t column);
void ipc356_resolve_names(struct ipc356_reader *reader);
void ipc356_compare_points(struct ipc356_reader *reader);

#endif
