/*
 * The board: everything a package says, put together. Layers, holes, contacts, terminals,
 * conductors, nets. Rules read this; they see no file format.
 */
#ifndef ISTHMUS_BOARD_H
#define ISTHMUS_BOARD_H

#include "isthmus/currents.h"
#include "isthmus/holes.h"
#include "isthmus/mesh.h"
#include "isthmus/netlist.h"
#include "isthmus/package.h"

/* paint_object.kind on a copper layer */
enum paint_kind {
    PAINT_KIND_DRAWN /* owner: index into layer.drawing->objects */,
    PAINT_KIND_PLANE /* negative layers: the profile's inside */,
    PAINT_KIND_HOLE /* owner: index into board.holes */,
    PAINT_KIND_OUTSIDE /* beyond the profile or in its cut-outs */,
    PAINT_KIND_CONTACT /* a mark; owner: index into board.contacts, or ISTHMUS_NONE: what was
                          marked turned out to be a via or to have no copper */
};

struct copper_layer {
    uint32_t file_id;
    enum copper_side side;
    uint16_t position; /* 1 = top */
    bool is_negative;
    const struct drawing *drawing;
    struct paint paint;
    struct sheet_mesh mesh;
    struct sheet_islands islands;     /* of the mesh */
    uint32_t *conductor_of_component; /* per mesh component: index into board.conductors */
    /* per paint object: the edge it makes, and the board's hole (RIM) or contact, or NONE */
    enum bound_kind *bound_kind;
    uint32_t *bound_owner;
    /* per mesh component: no current passes through it from elsewhere to elsewhere, as it hangs on
       one plated hole at most and holds no contact but that hole's (pads of layers that a hole only
       passes) */
    bool *is_pendant;
};

struct board_hole {
    struct hole hole; /* as read */
    bool is_plated;
    const char *why_plated;        /* "attribute", "file name", "pads around it" ... */
    int64_t finished_nm;           /* diameter after plating */
    int64_t cut_nm;                /* diameter removed from the copper: drilled size */
    double wall_mm2;               /* pi (D - t) t, unweighted; 0 when not plated */
    uint16_t layer_from, layer_to; /* resolved: 1..n */
    uint32_t contact;              /* component hole: its contact; else NONE */
    bool is_via;                   /* joins copper beyond its own pads on at least two layers */
    bool is_within_layer;          /* plated, and joins copper beyond its own pads on one at most */
    bool may_take_lead;            /* large, not covered, and nobody says that it is a via */
    uint32_t conductor;            /* plated and touching copper, else NONE */
    bool is_on_profile;            /* a castellation */
};

enum contact_source {
    CONTACT_ATTRIBUTE,
    CONTACT_NETLIST,
    CONTACT_MASK,
    CONTACT_FLASH,
    CONTACT_HOLE,
    CONTACT_POSITION /* a row of the table */
};
struct contact {
    enum contact_source source;
    const char *ref, *pin;         /* NULL when nobody says */
    const char *function;          /* pin function or NULL */
    struct pos_nm place;           /* file coordinates, on its copper */
    uint32_t hole;                 /* index into holes, or NONE (surface) */
    uint16_t layer_from, layer_to; /* copper layers it is on */
    bool is_disc;                  /* assumed disc of 1 mm about a position row */
    uint32_t terminal;  /* index into terminals, or NONE (no copper under it: see diags) */
    uint32_t conductor; /* or NONE */
    struct source_pos at;
};

struct terminal {
    const char *name;      /* "J1.2", "R5 (12.70, 3.50) top", or "(12.70, 3.50) top" */
    const char *ref, *pin; /* pin NULL: a pad of that part, nobody says which; ref NULL: of none */
    uint32_t *contacts;
    size_t contact_count;
    uint32_t net;       /* index into nets or NONE */
    uint32_t conductor; /* of its first contact on copper */
};

struct conductor {
    double area_mm2;        /* copper seen from above, all layers */
    uint32_t net;           /* or NONE: unnamed */
    bool is_island;         /* holds no contact */
    struct pos_nm min, max; /* extent */
    struct pos_nm place;    /* a point of its largest copper */
    uint16_t place_layer;
    uint32_t closed_gap_count;
};

enum net_state {
    NET_OK = 0,
    NET_SPLIT /* terminals on several conductors */,
    NET_JOINED /* a conductor holds terminals of another net too, not stated in [joins] */,
    NET_DISPUTED /* two sources name it differently, or a pin of it lies on no copper */
};
struct net {
    const char *name;
    enum net_state state;
    const char *state_detail; /* why, in one sentence with places; NULL when NET_OK */
    struct source_pos named_at;
    const char *named_by; /* "attribute", "netlist", "table position" */
    bool may_be_several;  /* a netlist's name that fills its columns: others may be cut alike */
    uint32_t *terminals;
    size_t terminal_count;
    uint32_t *conductors;
    size_t conductor_count;
    double area_mm2;
    uint32_t joined_into; /* a [joins] line: the net that stands for both, else its own index */
};

/* Two names on one conductor that no [joins] line ties together. */
struct net_clash {
    uint32_t conductor;
    bool is_join; /* one kind of source gives both: the copper joins two nets; else two kinds of
                     source disagree about it, or a netlist contradicts itself */
    const char *doubt; /* why the join may be none; NULL: nothing speaks against it */
    uint32_t lone_net; /* doubt: whose single point here that is */
    struct clash_name {
        uint32_t net; /* what its [joins] stand for; names[0]: the one the conductor is named by */
        const char *name;
        const char *named_by; /* as net.named_by */
        struct pos_nm place;
        uint16_t layer; /* 0: a hole */
        struct source_pos at;
    } names[2];
};

struct board {
    struct arena *arena;
    struct file_table *files;
    struct file_role *roles;
    size_t role_count;
    struct job_facts job;
    struct board_facts facts;
    struct drawing *drawings; /* one a role entry that is a drawing; else empty */
    struct hole_list *hole_lists;
    size_t hole_list_count;
    struct netlist *netlists;
    size_t netlist_count;
    struct pos_nm origin;   /* file coordinates of centred (0,0) */
    struct pos_nm min, max; /* extent of profile, or of copper when there is none */
    bool are_holes_missing; /* pads that look as if they had holes, and no hole under any */
    bool has_profile;
    size_t profile_piece_count; /* separate boards in the profile */

    struct copper_layer *layers;
    size_t layer_count; /* [0] = top */
    struct board_hole *holes;
    size_t hole_count;
    struct contact *contacts;
    size_t contact_count;
    struct terminal *terminals;
    size_t terminal_count;
    struct conductor *conductors;
    size_t conductor_count;
    struct net *nets;
    size_t net_count;
    struct net_clash *clashes; /* by conductor, then name */
    size_t clash_count;
    /* per row of the net-current table: the terminal of a position row, else ISTHMUS_NONE */
    uint32_t *terminal_of_row;
    /* long mask openings over copper that are no contact */
    struct bared {
        uint16_t layer;
        struct pos_nm min, max;
        double area_mm2;
        uint32_t conductor;
    } * bared;
    size_t bared_count;
    /* named objects that lie beyond the profile altogether, by layer, in drawing order */
    struct beyond {
        uint16_t layer;
        uint32_t net;
        struct pos_nm at;
        struct source_pos source;
    } * beyond;
    size_t beyond_count;
};

struct drill_format_option { /* --drill-format FILE=READING */
    const char *file;
    struct drill_reading reading;
};
struct board_options {
    const struct role_option *roles;
    size_t role_count;
    const struct drill_format_option *drill_formats;
    size_t drill_format_count;
    bool has_board_at;
    struct pos_nm board_at; /* --board-at: which board of a panel */
    size_t max_objects;
    unsigned thread_count; /* 0: as many as there are processors */
    bool keeps_outlines;   /* of the layers' paint, which nothing needs once they are meshed */
};

/*
 * Reads every file of the package (files[..] with is_package) and puts the board together.
 *
 * table    may be NULL; its position rows name conductors and place contacts
 * facts    defaults, board.ini and options already merged; job file facts fill what is still
 * assumed errors   BOARD_REFUSED: diagnostics say what could not be understood
 */
enum board_status { BOARD_OK = 0, BOARD_REFUSED, BOARD_NO_MEMORY };
enum board_status board_read(struct file_table *files, const struct board_facts *facts,
                             const struct current_table *table, const struct board_options *options,
                             struct arena *arena, struct diag_list *diags, struct board *out);
void board_free(struct board *board); /* meshes and paints; the rest goes with the arena */

const char *layer_word(const struct board *board, uint16_t position,
                       char buffer[16]); /* "top", "inner:2" */
struct pos_nm board_to_file(const struct board *board, struct pt at);
const struct net *board_find_net(const struct board *board, const char *name);

#endif
