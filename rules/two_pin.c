/* Compares the rows on the two sides of two-pin parts. */
#include "two_pin.h"

#include <math.h>
#include <string.h>

#define SAME_WITHIN 0.01 /* of the larger current */

/* A part whose pins nobody names has one pad on the row's net, or the row speaks of several. */
static bool is_pad_of_row(const struct board *board, const struct terminal *terminal,
                          const struct current_row *row)
{
    size_t length = terminal->ref ? strlen(terminal->ref) : 0;
    return length > 0 && !terminal->pin && terminal->net < board->net_count &&
           strcmp(board->nets[terminal->net].name, row->net) == 0 &&
           strncmp(row->pins[0], terminal->ref, length) == 0 &&
           strcmp(row->pins[0] + length, ".*") == 0;
}

static const struct terminal *terminal_of_row(const struct board *board,
                                              const struct current_row *row)
{
    for (size_t i = 0; i < board->terminal_count; i++)
        if (strcmp(board->terminals[i].name, row->pins[0]) == 0 ||
            is_pad_of_row(board, &board->terminals[i], row))
            return &board->terminals[i];
    return NULL;
}

/* The other terminal of a part that has exactly two, on another net; else NULL. */
static const struct terminal *other_side(const struct board *board, const struct terminal *terminal)
{
    const struct terminal *other = NULL;
    for (size_t i = 0; terminal->ref && i < board->terminal_count; i++) {
        const struct terminal *item = &board->terminals[i];
        if (item == terminal || !item->ref || strcmp(item->ref, terminal->ref) != 0)
            continue;
        if (other)
            return NULL;
        other = item;
    }
    return other && other->net != terminal->net ? other : NULL;
}

static bool is_pin_row(const struct current_row *row)
{
    return row->kind == ROW_TERMINAL && row->pin_count == 1 && row->has_current;
}

static bool is_same_case(const struct current_row *a, const struct current_row *b)
{
    if (!a->case_name || !b->case_name)
        return a->case_name == b->case_name;
    return strcmp(a->case_name, b->case_name) == 0;
}

static void compare(const struct current_row *row, const struct current_row *other,
                    struct diag_list *diags)
{
    double larger_a = fmax(row->current_a, other->current_a);
    bool is_same_way = row->sign != SIGN_NONE && row->sign == other->sign && larger_a > 0;
    if (fabs(row->current_a - other->current_a) <= SAME_WITHIN * larger_a && !is_same_way)
        return;
    diag_add(diags, DIAG_WARNING, "currents-two-pin-part", other->at,
             "a part with two pins carries one current in and out: correct one of the rows",
             "%s %s %g A here, but %s %s %g A in line %u", other->pins[0],
             other->sign == SIGN_FEEDS ? "feeds" : "carries", other->current_a, row->pins[0],
             row->sign == SIGN_FEEDS ? "feeds" : "carries", row->current_a, row->at.line);
}

void two_pin_check(const struct board *board, const struct current_table *table,
                   struct diag_list *diags)
{
    for (size_t i = 0; i < table->row_count; i++) {
        const struct current_row *row = &table->rows[i];
        const struct terminal *terminal = is_pin_row(row) ? terminal_of_row(board, row) : NULL;
        const struct terminal *other = terminal ? other_side(board, terminal) : NULL;
        for (size_t j = i + 1; other && j < table->row_count; j++)
            if (is_pin_row(&table->rows[j]) && is_same_case(row, &table->rows[j]) &&
                terminal_of_row(board, &table->rows[j]) == other)
                compare(row, &table->rows[j], diags);
    }
}
