/*
 * One net's copper on one layer, divided into faces by its taut pieces: the mesh over which a
 * minimum cut is exact for every curve made of taut pieces. Where pieces cross they get a common
 * vertex: half of one with half of another is again a valid curve of known length.
 */
#ifndef NECK_PARTITION_H
#define NECK_PARTITION_H

#include "neck/taut.h"

/*
 * A constraint edge of the mesh, p before q, with everything that runs along it.
 *
 * sources  sources[first_source .. + source_count): below partition.edge_count an edge of the
 *          domain (boundary or outline), from there on a chord; in that order
 */
struct seam {
    struct pt p, q;
    uint32_t first_source, source_count;
    bool is_boundary, is_outline;
};
struct domain_edge { /* copper of the domain's triangle on its left */
    uint32_t tri;
    uint8_t side;
};
/* Of all layers of a net together: some hundred MB of mesh and graph. */
#define PARTITION_CROSSINGS 600000
/* Of a layer, where only part of a net is looked at: rarely are many of its layers so dense. */
#define PARTITION_CROSSINGS_OF_PART 300000
struct partition {
    const struct domain *domain;
    const struct chord *chords; /* borrowed */
    size_t chord_count;
    struct domain_edge *edges;
    uint32_t edge_count;
    struct seam *seams;
    uint32_t seam_count;
    uint32_t *sources;
    struct cdt cdt;    /* chain: index into seams */
    uint32_t *label;   /* per triangle, see below */
    bool is_too_dense; /* more crossings than this layer's share of PARTITION_CROSSINGS: nothing
                          was built */
    double crossing_excess; /* crossings over that share */
    bool is_laid_over;      /* the domain's own triangles: cdt and label are borrowed */
};
/* Labels: bare, plain copper, or the copper of a contact (of a terminal) or pad (of none). */
#define LABEL_BARE 0u
#define LABEL_COPPER 1u
static inline bool label_is_contact(uint32_t label)
{
    return label >= 2 && label % 2 == 0;
}
static inline bool label_is_pad(uint32_t label)
{
    return label >= 2 && label % 2 == 1;
}
static inline uint32_t label_owner(uint32_t label)
{
    return label / 2 - 1;
}

/* All malloc'ed; partition_free. chords must outlive it. */
enum neck_status partition_build(const struct domain *domain, const struct chord_list *chords,
                                 struct partition *out);
void partition_free(struct partition *partition);
/* The domain's own triangles for faces: nothing divided, no seams. Lives in scratch and the domain.
 * false: no memory. */
bool partition_lay_over(const struct domain *domain, struct arena *scratch, struct partition *out);

/* One side of a triangle, measured as a cut. */
struct side_measure {
    double length_nm; /* true length, etch loss off, never below 0 */
    uint32_t chord;   /* the chord it is part of, or ISTHMUS_NONE */
    double from, to;  /* where along the chord, 0 = its end a, 1 = its end b */
    bool is_outline;
};
struct side_measure partition_measure(const struct partition *partition, uint32_t tri,
                                      unsigned side);
/* The seam on a side that ends the copper there, or NULL. */
const struct seam *partition_boundary(const struct partition *partition, uint32_t tri,
                                      unsigned side);
/* The hole (net's index) whose rim a boundary seam is, or ISTHMUS_NONE. */
uint32_t partition_rim_hole(const struct partition *partition, const struct seam *seam);

#endif
