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
    "Verdicts. pass: every cut suffices. pass by sum: the sums suffice, but current divides by\n"
    "resistance and not by width, and the share of each piece was not solved. narrow: some cut is "
    "too\n"
    "small. unassigned: see above. could not judge: never to be read as a pass.\n"
    "\n"
    "Limits. The outer-layer fit is not cautious for a lone conductor on a board without planes "
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

const struct rule *const rule_table[] = {&copper_width, NULL};

const struct rule *rule_find(const char *name)
{
    for (size_t i = 0; rule_table[i]; i++)
        if (strcmp(rule_table[i]->name, name) == 0)
            return rule_table[i];
    return NULL;
}
