/*
 * Necks of one net: where its copper is too narrow between its terminals.
 *
 * Geometry in (the boundary meshes of the layers, restricted to this net's islands), places out.
 * Lengths here are nm in centred coordinates; areas mm2, external-equivalent (weighted).
 */
#ifndef ISTHMUS_NECK_H
#define ISTHMUS_NECK_H

#include "isthmus/cut.h"
#include "isthmus/mesh.h"

struct neck_sheet {
    const struct sheet_mesh *mesh;
    const struct sheet_islands *islands; /* of the mesh; NULL: all of it is walked through */
    const struct curve *curves; /* what mesh->bounds[].curve indexes: the layer's paint.curves;
                                   NULL: lengths between flattened outlines */
    uint16_t position;          /* copper layer, 1 = top */
    double thickness_mm;
    double weight;             /* 1 external; 0.3844 internal (DESIGN 4) */
    const bool *has_component; /* per mesh component: belongs to this net */
    /* per mesh bound object (paint object): what kind of edge it makes, and whose */
    const enum bound_kind *kind_of_object;
    const uint32_t *owner_of_object; /* RIM: a hole; marks: a contact; else NONE: see neck_net */
    uint32_t object_count;
};
struct neck_hole {
    struct pt centre;
    double wall_area_mm2; /* weighted, pi (D - t) t w */
    uint32_t contact;     /* contact it belongs to (a component hole), or NONE */
    uint32_t id;          /* the board's */
    uint16_t layer_from, layer_to;
    bool is_via; /* known to join copper only: nothing is soldered to it, so no branch ends in it */
};
struct neck_contact {
    uint32_t terminal; /* index into terminals or NONE (a pad of no terminal) */
    uint32_t id;       /* the board's */
};
struct neck_net {
    const struct neck_sheet *sheets;
    size_t sheet_count;
    const struct neck_hole *holes;
    size_t hole_count;
    const struct neck_contact *contacts;
    size_t contact_count;
    size_t terminal_count;
    double etch_loss_mm; /* per etched edge */
    /* per owner number of the sheets: index into holes, contacts, or NONE. Sheets of many nets can
       so share what they say of their objects. NULL: owner numbers are these indices. */
    const uint32_t *hole_of_owner, *contact_of_owner;
    bool is_part; /* of a net: copper beyond may hang on any of its pieces (neck_part_new) */
};
static inline uint32_t neck_index_of_owner(const uint32_t *index_of, uint32_t owner, size_t count)
{
    uint32_t index = index_of && owner != ISTHMUS_NONE ? index_of[owner] : owner;
    return index < count ? index : ISTHMUS_NONE;
}

struct neck_case {                 /* one way of running the net */
    const double *feed_a, *draw_a; /* per terminal */
    const bool *has_row;
    double i_net_a;
    struct demand demand;
};

enum piece_kind {
    PIECE_CHORD,
    PIECE_CONTACT_OUTLINE,
    PIECE_RIM,
    PIECE_WALL,
    PIECE_GAP /* no copper at all: between two parts of a net; never in a cut */
};
struct neck_piece {
    enum piece_kind kind;
    uint16_t position;         /* layer; WALL: 0 */
    struct pt a, b;            /* ends; WALL: both the hole's centre */
    double length_mm;          /* true length, etch loss off */
    double area_mm2;           /* weighted */
    uint32_t bound_a, bound_b; /* paint objects that bound it (NONE at a contact or inner point) */
    uint32_t hole;             /* WALL, RIM: index into net.holes */
};
struct neck_place { /* one cut */
    struct neck_piece *pieces;
    size_t piece_count;
    double area_mm2, required_mm2, current_a, margin;
    double narrow_length_mm; /* along the current, of what is below the requirement, about this
                                place */
};
struct neck {      /* all too narrow cuts with the same S | S': worst place first */
    uint8_t *side; /* per terminal, as in struct cut */
    struct neck_place *places;
    size_t place_count;
    double narrow_length_mm;       /* of all places */
    bool is_unassigned, is_shared; /* shared: more than one piece */
};
struct neck_branch { /* pruned copper that leads to no terminal, longer than 3 widths or with an end
                      */
    uint16_t position;
    struct pt end;
    double length_mm, width_mm;
    enum branch_end { BRANCH_LONG, BRANCH_HOLE, BRANCH_PAD } reason;
};
struct neck_result {
    struct neck *necks;
    size_t neck_count; /* worst first */
    struct neck_place least;
    bool has_least;         /* least margin of a net that passes, up to searched_margin */
    double searched_margin; /* margin_limit; less where looking on would take too long: then a net
                               without a least margin has more than this */
    struct neck_branch *branches;
    size_t branch_count;
    bool is_single_everywhere, is_proved;
    size_t chord_count, chord_kept_count; /* statistics */
};
enum neck_status { NECK_OK = 0, NECK_NO_MEMORY, NECK_APART, NECK_BUG };
/*
 * cases: one result each, out[case_count]. The taut pieces are searched once, for the largest need.
 * source: minimum cuts over taut pieces, DEVELOPERS.md "Necks"
 */
enum neck_status neck_find(const struct neck_net *net, const struct neck_case *cases,
                           size_t case_count, double margin_limit, struct arena *arena,
                           struct neck_result *out);

/*
 * Copper that leads to no terminal, whatever the currents: where a single side of the triangles of
 * the meshes is all it hangs by. Conductors without a terminal are passed over; the terminals may
 * hang on several. Branches live in arena; their ends are points of the meshes or hole centres.
 */
enum neck_status neck_dead_ends(const struct neck_net *net, struct arena *arena,
                                struct neck_branch **out, size_t *out_count);

/*
 * Least cuts between groups of terminals, whatever their currents. The graph of everything that a
 * cut below limit_mm2 can be made of is built once; each question is then one maximum flow.
 *
 * chord_limit    most taut pieces of a layer
 * is_over_limit  more than that: *out is NULL, ask with a smaller limit_mm2
 * errors         NECK_NO_MEMORY, NECK_BUG; *out is NULL. net must outlive *out
 */
struct neck_meter;
enum neck_status neck_meter_new(const struct neck_net *net, double limit_mm2, size_t chord_limit,
                                struct neck_meter **out, bool *is_over_limit);
/*
 * For cuts of any width: only pieces up to reach_mm2 are looked for; what is wider runs along sides
 * of the mesh. A cut found is a real one, and the least if none is wider than reach_mm2.
 */
enum neck_status neck_meter_new_wide(const struct neck_net *net, double reach_mm2,
                                     struct neck_meter **out);
void neck_meter_free(struct neck_meter *meter);
/*
 * side      per terminal: 1 or 2, the groups to part; 0: of neither group
 * out       pieces and area of a least cut, the rest of it 0; pieces live in arena. Without a piece
 *           when no copper joins the groups
 * is_found  false: every cut is of limit_mm2 or more (or a pad belongs to both groups)
 */
enum neck_status neck_meter_cut(struct neck_meter *meter, const uint8_t *side, struct arena *arena,
                                struct neck_place *out, bool *is_found);
/* Is a cut of this area that was found the least one? Every piece of a lesser one was looked for.
 */
bool neck_meter_proves(const struct neck_meter *meter, double area_mm2);
/* After a cut was found: does the first group's side hold a pad of this terminal? */
bool neck_meter_reaches(const struct neck_meter *meter, uint32_t terminal);

/*
 * The net's copper within reach_nm of a cut's pieces (seen from above, on every layer), as a net of
 * its own, and what of the rest hangs on it: `beyond_count` pieces, each with a terminal's number
 * after those of the whole.
 *
 * With sides 0 for these the rest is left out. Whatever parts two groups in the whole parts them in
 * what is left of it: a least cut of the part is no wider than one of the whole. With each of them
 * on the side that its own terminals are on, a cut of the part is one of the whole.
 *
 * out     lives in arena; net must outlive it
 * errors  false: no memory
 */
struct neck_part {
    struct neck_net net;
    const struct neck_net *whole;
    uint32_t beyond_count;
    uint32_t *first_bound;    /* per sheet: bounds from here on are sides to the pieces beyond */
    uint32_t *beyond_of_hole; /* the piece that hangs on the kept copper through it, too, or NONE */
    struct neck_holder {
        uint32_t beyond, terminal; /* the piece has a contact of this terminal */
    } * holders;
    size_t holder_count;
};
bool neck_part_new(const struct neck_net *net, const struct neck_place *about, double reach_nm,
                   struct arena *arena, struct neck_part *out);
/* Sides for a question about the part from those of one about the whole; out has room for all of
 * its terminals. false: some piece beyond has terminals of both groups and can not be tied. */
bool neck_part_sides(const struct neck_part *part, const uint8_t *side, bool is_tied, uint8_t *out);
enum neck_status neck_meter_new_part(const struct neck_part *part, double limit_mm2,
                                     size_t chord_limit, struct neck_meter **out,
                                     bool *is_over_limit);

#endif
