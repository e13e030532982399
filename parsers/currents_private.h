/* Shared by the two files that read the net-current table. */
#ifndef CURRENTS_PRIVATE_H
#define CURRENTS_PRIVATE_H

#include "isthmus/currents.h"

/* Reports rows that say the same thing twice, or two things about the same pin in one case. False
 * without memory. */
bool currents_check_repeats(const struct current_table *table, struct arena *arena,
                            struct diag_list *diags);

#endif
