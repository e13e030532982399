/* Words for enums, and the list of facts a report states. */
#include "words.h"

#include <math.h>
#include <stdio.h>

const char *verdict_word(enum verdict verdict)
{
    static const char *const words[] = {[VERDICT_PASS] = "pass",
                                        [VERDICT_PASS_BY_SUM] = "pass by sum",
                                        [VERDICT_NARROW] = "narrow",
                                        [VERDICT_UNASSIGNED] = "unassigned",
                                        [VERDICT_NOT_JUDGED] = "could not judge"};
    return words[verdict];
}

const char *verdict_slug(enum verdict verdict)
{
    static const char *const words[] = {[VERDICT_PASS] = "pass",
                                        [VERDICT_PASS_BY_SUM] = "pass-by-sum",
                                        [VERDICT_NARROW] = "narrow",
                                        [VERDICT_UNASSIGNED] = "unassigned",
                                        [VERDICT_NOT_JUDGED] = "not-judged"};
    return words[verdict];
}

const char *finding_word(enum finding_kind kind)
{
    static const char *const words[] = {[FINDING_NARROW] = "narrow",
                                        [FINDING_UNASSIGNED] = "unassigned",
                                        [FINDING_SPLIT] = "split",
                                        [FINDING_JOINED] = "joined"};
    return words[kind];
}

const char *piece_word(enum piece_kind kind)
{
    static const char *const words[] = {[PIECE_CHORD] = "copper",
                                        [PIECE_CONTACT_OUTLINE] = "contact outline",
                                        [PIECE_RIM] = "hole rim",
                                        [PIECE_WALL] = "hole wall",
                                        [PIECE_GAP] = "gap"};
    return words[kind];
}

const char *branch_word(enum branch_end end)
{
    static const char *const words[] = {
        [BRANCH_LONG] = "bare laminate", [BRANCH_HOLE] = "hole", [BRANCH_PAD] = "pad"};
    return words[end];
}

const char *taken_slug(enum taken_by by)
{
    static const char *const words[] = {
        [TAKEN_BY_EDGE] = "edge", [TAKEN_BY_HOLE] = "hole", [TAKEN_BEYOND] = "beyond-edge"};
    return words[by];
}

const char *rule_word(enum finding_kind kind)
{
    static const char *const words[] = {[FINDING_NARROW] = "copper-width",
                                        [FINDING_UNASSIGNED] = "copper-width",
                                        [FINDING_SPLIT] = "net-split",
                                        [FINDING_JOINED] = "net-joined"};
    return words[kind];
}

const char *role_word(enum role role)
{
    static const char *const words[] = {[ROLE_UNKNOWN] = "unknown",
                                        [ROLE_IGNORE] = "ignored",
                                        [ROLE_COPPER] = "copper",
                                        [ROLE_MASK_TOP] = "solder mask, top",
                                        [ROLE_MASK_BOTTOM] = "solder mask, bottom",
                                        [ROLE_PROFILE] = "profile",
                                        [ROLE_DRILL_PLATED] = "holes, plated",
                                        [ROLE_DRILL_NONPLATED] = "holes, not plated",
                                        [ROLE_DRILL_MIXED] = "holes",
                                        [ROLE_NETLIST] = "netlist",
                                        [ROLE_JOB] = "job file",
                                        [ROLE_OTHER] = "set aside"};
    return words[role];
}

const char *fact_source_word(enum fact_source source)
{
    static const char *const words[] = {[FACT_ASSUMED] = "assumed",
                                        [FACT_JOB_FILE] = "job file",
                                        [FACT_BOARD_INI] = "board facts file",
                                        [FACT_OPTION] = "option"};
    return words[source];
}

const char *contact_source_word(enum contact_source source)
{
    static const char *const words[] = {
        [CONTACT_ATTRIBUTE] = "attribute", [CONTACT_NETLIST] = "netlist",
        [CONTACT_MASK] = "mask opening",   [CONTACT_FLASH] = "pad",
        [CONTACT_HOLE] = "hole",           [CONTACT_POSITION] = "table position"};
    return words[source];
}

const char *net_name(const struct board *board, uint32_t net)
{
    return net < board->net_count && board->nets[net].name ? board->nets[net].name : "(no name)";
}

double nm_to_mm(int64_t nm)
{
    return (double)nm * 1e-6;
}

static void from_fact(struct fact_line *out, const char *name, const char *unit,
                      const struct fact *fact)
{
    *out = (struct fact_line){
        .name = name, .unit = unit, .value = fact->value, .source = fact->source, .at = fact->at};
}

static bool copper_fact(const struct board *board, size_t layer, struct fact_line *out,
                        char buffer[48])
{
    const struct board_facts *facts = &board->facts;
    uint16_t position = (uint16_t)(layer + 1);
    const struct fact *fact = position <= BOARD_MAX_COPPER ? &facts->copper_um[position] : NULL;
    if (!fact || !(fact->value > 0))
        fact = board->layers[layer].side == SIDE_INNER ? &facts->inner_copper_um
                                                       : &facts->outer_copper_um;
    char word[16];
    snprintf(buffer, 48, "finished copper, %s", layer_word(board, position, word));
    from_fact(out, buffer, "um", fact);
    return true;
}

/* Board thickness; and what only some packages state: finish, layers, what lies between them. */
static bool stated_fact(const struct board *board, size_t index, struct fact_line *out,
                        char buffer[48])
{
    const struct job_facts *job = &board->job;
    const struct fact by_job = {.source = FACT_JOB_FILE, .at = {job->file_id, 0, 0}};
    size_t at = 0;
    if (at++ == index) {
        from_fact(out, "board thickness", "mm", &board->facts.board_thickness_mm);
        return true;
    }
    from_fact(out, "finish", "", &by_job);
    out->text = job->finish;
    if (job->finish && at++ == index)
        return true;
    from_fact(out, "copper layers", "", &by_job);
    out->value = job->layer_count;
    if (job->layer_count && at++ == index)
        return true;
    for (size_t i = 0; job->dielectric_mm && i + 1 < job->copper_count; i++) {
        if (!(job->dielectric_mm[i] > 0) || at++ != index)
            continue;
        snprintf(buffer, 48, "dielectric below copper layer %u", (unsigned)(uint16_t)(i + 1));
        from_fact(out, buffer, "mm", &by_job);
        out->value = job->dielectric_mm[i];
        return true;
    }
    return false;
}

#define FIXED_FACTS 9 /* those of the switch */
bool fact_at(const struct board *board, size_t index, struct fact_line *out, char buffer[48])
{
    const struct board_facts *facts = &board->facts;
    if (index < board->layer_count)
        return copper_fact(board, index, out, buffer);
    switch (index - board->layer_count) {
    case 0:
        from_fact(out, "hole wall copper, average", "um", &facts->wall_um);
        return true;
    case 1:
        from_fact(out, "allowed rise where no row says otherwise", "K", &facts->rise_k);
        return true;
    case 2:
        from_fact(out, "ambient", "C", &facts->ambient_c);
        return true;
    case 3:
        from_fact(out, "etch loss per etched edge", "um", &facts->etch_loss_um);
        return true;
    case 4:
        from_fact(out, "gaps closed below", "um", &facts->gap_close_um);
        return true;
    case 5:
        from_fact(out, "arcs flattened within", "um", &facts->chord_error_um);
        return true;
    case 6:
        from_fact(out, "plated tool sizes are", "", &facts->tool_drilled);
        out->text = facts->is_tool_drilled ? "drilled sizes" : "finished sizes";
        return true;
    case 7:
        from_fact(out, "vias", "", &facts->vias_filled);
        out->text = facts->are_vias_filled ? "filled" : "open";
        return true;
    case 8:
        from_fact(out, "constants", "", &facts->fit_fact);
        out->text = facts->fit == FIT_IPC2221_INTERNAL_EVERYWHERE
                        ? "IPC-2221 internal, for every layer"
                        : "IPC-2221 external outside, internal inside";
        return true;
    default:
        return stated_fact(board, index - board->layer_count - FIXED_FACTS, out, buffer);
    }
}
