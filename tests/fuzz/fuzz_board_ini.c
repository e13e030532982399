/* board.ini: any bytes up to 64 KiB. Facts that are read must be possible ones. */
#include "isthmus/currents.h"

#include <stdlib.h>

#define LIMIT ((size_t)1 << 16)

static void check_fact(const struct fact *fact, double least, double most)
{
    if (!(fact->value >= least && fact->value <= most) ||
        (fact->source == FACT_BOARD_INI) != (fact->at.line > 0))
        abort();
}

static void check(const struct board_facts *facts)
{
    for (size_t i = 0; i <= BOARD_MAX_COPPER; i++)
        check_fact(&facts->copper_um[i], 0, 1100);
    check_fact(&facts->outer_copper_um, 3, 1100);
    check_fact(&facts->inner_copper_um, 3, 1100);
    check_fact(&facts->wall_um, 1, 200);
    check_fact(&facts->rise_k, 0.1, 500);
    check_fact(&facts->ambient_c, -60, 200);
    check_fact(&facts->chord_error_um, 0.01, 50);
    for (size_t i = 0; i < facts->join_count; i++)
        if (!*facts->joins[i].a || !*facts->joins[i].b || facts->joins[i].at.line == 0)
            abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (size > LIMIT)
        return 0;
    struct arena *arena = arena_new("fuzz");
    struct diag_list diags = {.arena = arena};
    struct board_facts facts;
    board_facts_default(&facts);
    enum currents_status status = board_ini_read(1, bytes, size, arena, &diags, &facts);
    if ((status == CURRENTS_OK) == diag_has_errors(&diags))
        abort();
    check(&facts);
    board_facts_settle(&facts, size % 70, &diags);
    arena_free(arena);
    return 0;
}
