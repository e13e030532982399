/* The worst minimal cut of one part: branch and bound over the sides of terminals. */
#ifndef NECK_CUT_SEARCH_H
#define NECK_CUT_SEARCH_H

#include "cut_flow.h"
#include "cut_part.h"

/* Relative room for rounding: a margin this little below 1 passes. */
#define CUT_ROUNDING 1e-9

/* Which side a vertex is on; CUT_THROUGH: the cut runs through this hole. */
enum cut_label { CUT_UNDECIDED = 0, CUT_SIDE_A = 1, CUT_SIDE_B = 2, CUT_THROUGH = 3 };

/* Terminals that always go together: those that hang at one solid vertex; or one terminal with
 * several vertices, or at a hole (is_split: a cut may leave it on both sides). */
struct cut_group {
    double feed_a, draw_a;
    uint32_t *gates;
    uint32_t gate_count;
    bool is_split;
};
struct cut_groups {
    struct cut_group *items;
    uint32_t count;
    double most_a; /* no cut of this part is crossed by more */
};
bool cut_groups_build(const struct cut_problem *problem, const struct cut_entries *entries,
                      const struct part *part, struct arena *arena, struct cut_groups *out);

struct part_cut {
    uint8_t *label; /* per vertex, in the arena given to part_search */
    double area_mm2, margin;
    bool is_found;
};
/*
 * Other cuts that a search came by: for each piece the one of least margin whose widest piece it
 * is, as those that share their widest piece are one place to whoever lists them.
 *
 * items   at most SEEN_MOST, those of least margin; by margin after part_search
 * widest  an edge of the part, or (is_edge false) a vertex that is a hole
 */
#define SEEN_MOST 256
struct seen_cut {
    uint8_t *label; /* per vertex */
    double area_mm2, margin;
    uint32_t widest, found_index; /* found_index: the how many-th that was seen */
    bool is_edge;
};
struct seen_cuts {
    struct seen_cut items[SEEN_MOST];
    uint32_t count, found_count;
    struct arena *arena; /* of the labels */
    bool has_no_memory;
};
/* The widest piece that a labelling cuts. Returns whether it is an edge. */
bool part_widest_piece(const struct part *part, const uint8_t *label, uint32_t *which);

/*
 * Finds the minimal cut of least margin below margin_below.
 *
 * seen        gets what else was found below margin_below; NULL: only the least counts
 * work        counts arcs looked at; past work_limit the search stops
 * is_settled  false: stopped early, cuts may have been missed
 * method      every terminal goes to A or B (or is crossed); a branch ends when a minimum cut, or
 *             the convex hull of (current, area) over all cuts, lies above the requirement, or when
 *             its ends no longer hang together. DEVELOPERS.md "Cuts"
 * returns     false without memory
 */
struct part_search_limits {
    double margin_below;
    uint64_t *work;
    uint64_t work_limit;
    struct seen_cuts *seen;
};
bool part_search(const struct cut_problem *problem, const struct part *part,
                 const struct cut_groups *groups, struct part_search_limits limits,
                 struct arena *arena, struct part_cut *out, bool *is_settled);

#endif
