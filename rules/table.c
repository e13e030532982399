/* The table of rules, with what `isthmus explain` says of each. */
#include "isthmus/rule.h"

#include <string.h>

static const char copper_width_explanation[] =
    "copper-width asks, for every net of the net-current table: wherever this net's copper could "
    "be\n"
    "cut so that terminals which exchange current are parted, is the copper that the cut severs "
    "enough\n"
    "for the current that can cross it?\n"
    "\n"
    "What is measured. The copper drawings, drill files and the board's outline are put together\n"
    "exactly, in whole nanometres: dark and clear objects in drawing order, holes cut out, "
    "everything\n"
    "beyond the outline gone. In that copper every taut chord from edge to edge that is short "
    "enough to\n"
    "matter is found, each plated hole's wall is a cross-section between layers, and every cut "
    "made of\n"
    "these that parts the terminals is compared with its requirement. A cut may close round a pad, "
    "run\n"
    "over several layers, or consist of several pieces (thermal-relief spokes, webs between "
    "holes).\n"
    "\n"
    "What is required. The curve fit of IPC-2221, section 6.2, figure 6-4:\n"
    "\n"
    "    I = k dT^0.44 A^0.725        I in A, dT in K, A in square mils\n"
    "    k = 0.048 on outer layers, 0.024 on inner layers and in hole walls\n"
    "\n"
    "(formula and constants as quoted in public texts; figure from memory). Layers are summed in "
    "outer-layer equivalent\n"
    "area: inner copper and hole walls count (0.024/0.048)^(1/0.725) = 0.3844. The fit was drawn "
    "for up to\n"
    "35 A (17.5 A inner), 10 to 100 K, widths to 10 mm and 17 to 105 um of copper; outside of that "
    "the\n"
    "report says \"extrapolated\". Summed area against summed current is the cautious reading of "
    "the\n"
    "figure for conductors side by side.\n"
    "\n"
    "Which current. The most that can cross: the smaller of what can be fed on one side and drawn "
    "on\n"
    "the other, never more than the net's own row. A terminal that the table is silent about may "
    "carry\n"
    "all of the net's current; where its copper is too narrow for that, the finding is called\n"
    "unassigned and proposes the row to add.\n"
    "\n"
    "Each pin of a group row alone is also held to an equal share of the group's current.\n"
    "\n"
    "Copper that leads to no terminal carries nothing and is no neck, however thin. Where it ends "
    "in a\n"
    "hole or pad that is no terminal the net could not be judged until a row says what that place\n"
    "carries (0 if nothing); where it ends in bare laminate it is only listed. Gaps below "
    "--gap-close\n"
    "between strokes of one net are closed and counted; what passes by them alone could not be "
    "judged.\n"
    "\n"
    "Verdicts. pass: every piece beside others would do alone (the spokes round one pad: each its\n"
    "equal share; common practice, no source). pass by sum: the sums suffice, but\n"
    "current divides by resistance and not by width, and the share of each piece was not solved. "
    "narrow: some cut is "
    "too\n"
    "small. unassigned: see above. could not judge: never to be read as a pass.\n"
    "\n"
    "Limits. A cut through a plated hole counts its whole wall, pi (D - t) t, or, where the hole\n"
    "joins nothing on other layers, two walls as high as the board is thick if that is less. For\n"
    "current that only passes a hole this is too much: on one layer half of the wall carries at\n"
    "most, and past a hole that joins strips on two layers no more than those two walls. A narrow\n"
    "place can be missed so. Where plated holes take up much of a conductor's width, see that the\n"
    "copper beside them suffices alone.\n"
    "\n"
    "The outer-layer fit is not cautious for a lone conductor on a board without planes "
    "(an\n"
    "example: 27 x 2.9 mil at 5 A; the fit says 29 K, a published simulation of the tested board "
    "40 K),\n"
    "so each finding also gives the width by the inner-layer constants; `constants = internal` in\n"
    "board.ini judges by them. Hot conductors side by side add up. Jumper wires, bus bars, solder "
    "on\n"
    "tracks and edge plating are not seen and get no credit. The rise is a steady one, in still "
    "air at\n"
    "sea level. Where mains, batteries or fire are involved follow your local codes and have "
    "licensed\n"
    "people check the work: this program is no proof of safety.\n";

static const struct rule copper_width = {
    .name = "copper-width",
    .severity = SEVERITY_ERROR,
    .summary = "Every conductor's narrowest copper must carry its current "
               "within the allowed temperature rise.",
    .explanation = copper_width_explanation,
    .run = copper_width_run};

static const char net_split_explanation[] =
    "net-split asks, for every net that the package names: do all its terminals hang on one piece\n"
    "of copper, across layers through plated holes?\n"
    "\n"
    "Where they do not, the finding gives the shortest gaps that together would join all pieces\n"
    "(a minimum spanning tree): end points on the outlines of the copper, layer, length, and the\n"
    "drawn objects on either side. Gaps are looked for on one layer first; only pieces that share\n"
    "no layer are given the nearest points seen from above, with both layers.\n"
    "\n"
    "Where names come from. Attributes of the drawings, a bare-board test netlist (IPC-D-356),\n"
    "rows by position of the net-current table. The name N/C (a pad that is meant to hang alone)\n"
    "is no net. Copper of the net's name without a terminal is an island: `inspect` lists it, it\n"
    "splits nothing. A name that fills a netlist's 14 columns may stand for several nets where "
    "the\n"
    "netlist has no aliases and the drawings no names: pieces that bear it could not be judged.\n"
    "\n"
    "What it means. A broken track, a missing via, a pour that was not filled before the export,\n"
    "drawings and netlist of two states of the board. Pads that only a part, a plug or a wire\n"
    "joins outside the board are reported as well: give them nets of their own.\n"
    "\n"
    "Limits. Places are those of the flattened outlines (--chord-error, 0.5 um by default). Gaps\n"
    "below --gap-close between strokes of one net count as closed. A net of the net-current table\n"
    "that is split could not be judged for width.\n";

static const struct rule net_split = {.name = "net-split",
                                      .severity = SEVERITY_ERROR,
                                      .summary = "All terminals of a net must hang on one piece of "
                                                 "copper.",
                                      .explanation = net_split_explanation,
                                      .run = net_split_run};

static const char net_joined_explanation[] =
    "net-joined asks, for every piece of copper, across layers through plated holes: do all names\n"
    "that one source gives it mean one net?\n"
    "\n"
    "Where they do not, the finding gives the narrowest place where the two nets meet: the least\n"
    "cut (by cross-section, over all layers and hole walls) that parts all terminals of the one\n"
    "from all terminals of the other. That is where the bridge is, when the bridge is the\n"
    "narrowest copper between them. Of several nets on one piece, each is parted from one other\n"
    "(a Gomory-Hu tree, built as Gusfield 1990 describes). A net without a terminal there is\n"
    "shown at the place where its name was drawn, and so are nets whose pads lie over each\n"
    "other. Where the cuts about a bridge are too many to compare (from some 5 mm on in a ground\n"
    "area with many openings, from 1 mm on many layers), a real cut there is given, \"or less\".\n"
    "\n"
    "Ties that are meant (a sense line on its rail, two grounds that meet at one point) are\n"
    "stated in board.ini:\n"
    "\n"
    "    [joins]\n"
    "    AGND = GND\n"
    "\n"
    "Both names are then one net for currents, and the tie's copper is judged like any other.\n"
    "\n"
    "Where two kinds of source disagree about one piece of copper (an attribute says A, the\n"
    "netlist says B, and neither says both), nobody knows which is right: that is no join but a\n"
    "disagreement. It is said with both names, both files and lines, and neither net is judged.\n"
    "\n"
    "Limits. Names come from the package alone; a short between two nets that nobody names is\n"
    "not seen. A net of the net-current table that is joined could not be judged for width.\n";

static const struct rule net_joined = {.name = "net-joined",
                                       .severity = SEVERITY_ERROR,
                                       .summary = "No piece of copper may carry two nets unless "
                                                  "the tie is stated.",
                                       .explanation = net_joined_explanation,
                                       .run = net_joined_run};

const struct rule *const rule_table[] = {&copper_width, &net_split, &net_joined, NULL};

enum rule_status rules_run(const struct rule_context *context, struct check_result *out)
{
    for (size_t i = 0; rule_table[i]; i++) {
        enum rule_status status = rule_table[i]->run(context, out);
        if (status != RULE_OK)
            return status;
    }
    check_result_sort(context->board, out);
    return RULE_OK;
}

const struct rule *rule_find(const char *name)
{
    for (size_t i = 0; rule_table[i]; i++)
        if (strcmp(rule_table[i]->name, name) == 0)
            return rule_table[i];
    return NULL;
}
