/* Board facts: what is assumed when nobody says, and where the bottom layer is. */
#include "isthmus/currents.h"

static struct fact assumed(double value)
{
    return (struct fact){.value = value, .source = FACT_ASSUMED};
}

void board_facts_default(struct board_facts *facts)
{
    *facts = (struct board_facts){
        .outer_copper_um = assumed(35),
        /* half-ounce foil less processing: IPC-6012, internal layers, from memory */
        .inner_copper_um = assumed(11.4),
        .wall_um = assumed(20),
        .board_thickness_mm = assumed(1.6),
        .rise_k = assumed(10),
        .ambient_c = assumed(25),
        .etch_loss_um = assumed(0),
        .gap_close_um = assumed(1),
        .chord_error_um = assumed(0.5),
        .tool_drilled = assumed(0),
        .vias_filled = assumed(0),
        .fit = FIT_IPC2221_EXTERNAL_INTERNAL,
        .fit_fact = assumed(FIT_IPC2221_EXTERNAL_INTERNAL),
    };
}

static bool refuse_position(const struct fact *fact, size_t position, size_t layer_count,
                            struct diag_list *diags)
{
    diag_add(diags, DIAG_ERROR, "facts-layer", fact->at,
             "leave the line out, or give --role for a copper file that was not taken for one",
             "a thickness is given for inner:%zu, but the board has %zu copper layers",
             position - 1, layer_count);
    return false;
}

bool board_facts_settle(struct board_facts *facts, size_t layer_count, struct diag_list *diags)
{
    bool is_right = true;
    /* inner:N stands at position N + 1, and the last position is the bottom's. */
    for (size_t position = 2; position <= BOARD_MAX_COPPER; position++)
        if (position >= layer_count && facts->copper_um[position].source == FACT_BOARD_INI)
            is_right = refuse_position(&facts->copper_um[position], position, layer_count, diags);
    if (!is_right || !(facts->bottom_copper_um.value > 0) || layer_count == 0 ||
        layer_count > BOARD_MAX_COPPER)
        return is_right;
    if (layer_count > 1 || !(facts->copper_um[1].value > 0))
        facts->copper_um[layer_count] = facts->bottom_copper_um;
    facts->bottom_copper_um = (struct fact){0};
    return true;
}
