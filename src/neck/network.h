/* The faces of all layers and the plated holes that join them, as one graph. */
#ifndef NECK_NETWORK_H
#define NECK_NETWORK_H

#include "neck/partition.h"

/*
 * Where current may pass: between two faces (across side `side` of triangle `tri` of sheet `sheet`)
 * or between a face and a hole (across a stretch of the hole's rim).
 */
struct link {
    uint32_t a, b; /* nodes; a hole is always b */
    double area_mm2;
    uint32_t sheet, tri;
    uint8_t side;
};
/* Spokes of one contact on one layer; each is held to an equal share of its terminal's current
 * (common practice, no source). */
struct spoke_set {
    uint32_t terminal, count;
    double area_mm2; /* of the narrowest */
};
/*
 * Nodes: the triangles of sheet s are face_base[s] + tri (bare ones stand alone), then the holes
 * from hole_base on.
 */
struct network {
    const struct neck_net *net;
    struct domain *domains;
    struct chord_list *chords;
    struct partition *partitions;
    size_t sheet_count;
    uint32_t *face_base;
    uint32_t hole_base, node_count;
    struct link *links; /* malloc'ed */
    size_t link_count, link_capacity;
    uint32_t *terminal_of; /* per node: the terminal whose contact the face is, or ISTHMUS_NONE */
    uint32_t **edge_seam;  /* per sheet and mesh point: a seam of the copper's boundary there */
    double web_mm2; /* the least way between two openings of a layer: it shares the current */
    struct spoke_set *spokes; /* malloc'ed: pads that stand among openings of their own */
    size_t spoke_count, spoke_capacity;
    double loop_mm2; /* the least piece of ways that run side by side on several layers */
    bool is_partial; /* the longest pieces were left out: what is found is real, a pass is no proof
                      */
    size_t found_count; /* taut pieces before leaving out dominated ones */
};

/*
 * Everything a cut of at most need_mm2 can be made of.
 *
 * chord_limit  most pieces a layer may have before leaving out dominated ones
 * out          network_free whatever the status
 * errors       is_over_limit set: more pieces than the limit, out holds no links
 */
enum neck_status network_build(const struct neck_net *net, double need_mm2, size_t chord_limit,
                               struct arena *scratch, struct network *out, bool *is_over_limit);
/*
 * The meshes' own triangles, undivided, for questions of what hangs together: links without areas,
 * no chords, no seams. Lives in scratch but for the links; network_free whatever the status.
 */
enum neck_status network_of_meshes(const struct neck_net *net, struct arena *scratch,
                                   struct network *out);
void network_free(struct network *network);

/* Sets of nodes that no longer need telling apart. */
struct classes {
    uint32_t *parent;
    uint32_t count;
};
uint32_t class_of(struct classes *classes, uint32_t node);
void class_unite(struct classes *classes, uint32_t a, uint32_t b); /* b joins a */

struct pt link_start(const struct network *network, const struct link *link);
struct pt link_end(const struct network *network, const struct link *link);

#endif
