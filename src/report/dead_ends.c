/* Copper that leads to no terminal, as both text reports show it. */
#include "words.h"

#include "isthmus/neck.h"

void report_dead_end(const struct report_input *in, uint32_t net, const struct neck_branch *branch,
                     FILE *out)
{
    struct pos_nm at = board_to_file(in->board, branch->end);
    bool is_mil = in->options->use_mil;
    double unit_nm = is_mil ? 25400 : 1e6;
    const char *unit = is_mil ? "mil" : "mm";
    char word[16];
    fprintf(out, is_mil ? "  %-16s to (%.1f, %.1f) %s, %s" : "  %-16s to (%.3f, %.3f) %s, %s",
            net_name(in->board, net), (double)at.x_nm / unit_nm, (double)at.y_nm / unit_nm, unit,
            layer_word(in->board, branch->position, word));
    if (branch->reason == BRANCH_LONG)
        fprintf(out, ": bare laminate, after about %.3g %s\n", branch->length_mm * 1e6 / unit_nm,
                unit);
    else
        fprintf(out, ": a %s that is no terminal\n", branch_word(branch->reason));
}

void report_dead_ends(const struct report_input *in, uint32_t net,
                      const struct neck_branch *branches, size_t count, size_t most, FILE *out)
{
    size_t shown = 0, left = 0;
    for (size_t i = 0; i < count; i++)
        if (branches[i].reason != BRANCH_LONG)
            report_dead_end(in, net, &branches[i], out);
    for (size_t i = 0; i < count; i++) {
        if (branches[i].reason != BRANCH_LONG)
            continue;
        if (shown++ < most)
            report_dead_end(in, net, &branches[i], out);
        else
            left++;
    }
    if (left)
        fprintf(out, "  %-16s and %zu more in bare laminate\n", net_name(in->board, net), left);
}
