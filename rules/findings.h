/* Turns the neck search's places into findings: file coordinates, widths, remedies. */
#ifndef RULES_FINDINGS_H
#define RULES_FINDINGS_H

#include "isthmus/finding.h"
#include "net_copper.h"

struct finding_maker {
    const struct board *board;
    const struct net_question *question;
    const struct net_case *net_case; /* NULL: no current is asked about, only the width found */
    const struct net_copper *copper;
    struct arena *arena;
    bool is_share;                /* each pad of a group is asked about alone */
    const double *unassigned_mm2; /* per end, see unassigned_areas_mm2 */
};
/* Where a paint object of a layer was drawn or drilled; file_id 0: nowhere. */
struct source_pos drawn_at(const struct board *board, uint16_t position, uint32_t object);
bool findings_append(struct check_result *out, const struct finding *more, size_t count,
                     struct arena *arena);
/* All false on no memory. */
bool make_place(const struct finding_maker *maker, const struct neck_place *from,
                struct finding_place *out);
bool make_finding(const struct finding_maker *maker, const struct neck *from, struct finding *out);

#endif
