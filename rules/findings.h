/* Turns the neck search's places into findings: file coordinates, widths, remedies. */
#ifndef RULES_FINDINGS_H
#define RULES_FINDINGS_H

#include "isthmus/finding.h"
#include "net_copper.h"

struct finding_maker {
    const struct board *board;
    const struct net_question *question;
    const struct net_case *net_case;
    const struct net_copper *copper;
    struct arena *arena;
    const struct neck *all_necks; /* before unassigned ones were merged */
    size_t all_neck_count;
};
/* All false on no memory. */
bool make_place(const struct finding_maker *maker, const struct neck_place *from,
                struct finding_place *out);
bool make_finding(const struct finding_maker *maker, const struct neck *from, struct finding *out);

#endif
