/* Parts with two pins carry one current in and out: where the table says otherwise, a warning. */
#ifndef RULES_TWO_PIN_H
#define RULES_TWO_PIN_H

#include "isthmus/board.h"

/* Warns once a part and case; `diags` gets "currents-two-pin-part". */
void two_pin_check(const struct board *board, const struct current_table *table,
                   struct diag_list *diags);

#endif
