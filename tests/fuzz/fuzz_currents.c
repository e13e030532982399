/* The net-current table: any bytes up to 64 KiB. What is read must hold together. */
#include "isthmus/currents.h"

#include <math.h>
#include <stdlib.h>

#define LIMIT ((size_t)1 << 16)

static void check_row(const struct current_row *row)
{
    bool has_pins = row->kind == ROW_TERMINAL || row->kind == ROW_REST;
    if (!row->net || !*row->net || row->at.line == 0 || (row->pin_count > 0) != has_pins)
        abort();
    if (!(row->current_a >= 0 && row->current_a <= 1e4) || row->rise_k <= 0)
        abort();
    for (uint32_t i = 0; i < row->pin_count; i++)
        if (!row->pins[i] || !*row->pins[i])
            abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (size > LIMIT)
        return 0;
    struct arena *arena = arena_new("fuzz");
    struct diag_list diags = {.arena = arena};
    struct current_table table;
    enum currents_status status = currents_read(1, bytes, size, arena, &diags, &table);
    if ((status == CURRENTS_OK) == diag_has_errors(&diags))
        abort();
    for (size_t i = 0; i < table.row_count; i++)
        check_row(&table.rows[i]);
    for (size_t i = 0; i < diags.count; i++)
        if (diags.items[i].at.line == 0)
            abort();
    arena_free(arena);
    return 0;
}
