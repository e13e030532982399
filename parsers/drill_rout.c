/* From coordinates to holes: hits, slots, and routed lines and arcs. */
#include "drill_machine.h"

#include <math.h>

#include "length.h"

#define CHORD_ERROR_NM 500.0
#define MOST_ARC_PIECES 20000 /* a full circle of 10 m needs 14 000 */
#define RADIUS_SLACK_NM 10000.0
#define RADIUS_SLACK_SHARE 0.01

bool drill_coordinate(struct drill_machine *machine, const struct drill_number *number,
                      int64_t *out_nm)
{
    const struct drill_reading *reading = &machine->reading;
    int decimals = number->decimals;
    if (!number->has_point && reading->zeros == ZEROS_TRAILING_KEPT)
        decimals = reading->decimal_digits;
    if (!number->has_point && reading->zeros == ZEROS_LEADING_KEPT)
        decimals = number->digit_count - reading->integer_digits;
    return length_nm(number->mantissa, decimals, reading->is_inch ? LENGTH_INCH : LENGTH_MM,
                     out_nm);
}

static bool has_room(struct drill_machine *machine, size_t offset)
{
    if (machine->hole_count >= machine->max_holes) {
        machine->is_stopped = true;
        if (machine->pass != PASS_TRIAL) /* flattened arcs count in FINAL only */
            diag_add(machine->diags, DIAG_ERROR, "drill-too-many", drill_at(machine, offset),
                     "check its repeats and steps", "more than %zu holes", machine->max_holes);
        return false;
    }
    if (array_grow(&machine->holes, sizeof *machine->holes, &machine->hole_capacity,
                   machine->hole_count + 1))
        return true;
    machine->is_stopped = machine->is_out_of_memory = true;
    return false;
}

static struct pos_nm moved(const struct drill_machine *machine, struct pos_nm at)
{
    return (struct pos_nm){at.x_nm + machine->zero.x_nm, at.y_nm + machine->zero.y_nm};
}

void drill_add_hole(struct drill_machine *machine, struct pos_nm from, struct pos_nm to,
                    uint32_t path, size_t offset)
{
    bool is_sure = !machine->is_x_open && !machine->is_y_open;
    if (machine->pass == PASS_TRIAL && machine->skips_sure_holes && is_sure)
        return;
    if (machine->is_stopped || !drill_tool_ready(machine, offset) || !has_room(machine, offset))
        return;
    struct tool *tool = &machine->tools[machine->tool].is;
    bool is_first_piece = path == ISTHMUS_NONE || !machine->has_cut;
    tool->hole_count += is_first_piece;
    machine->holes[machine->hole_count++] = (struct hole){.from = moved(machine, from),
                                                          .to = moved(machine, to),
                                                          .diameter_nm = tool->diameter_nm,
                                                          .tool = tool->number,
                                                          .path = path,
                                                          .plating = tool->plating,
                                                          .function = tool->function,
                                                          .net = machine->net,
                                                          .ref = machine->ref,
                                                          .pin = machine->pin,
                                                          .at = drill_at(machine, offset)};
    machine->has_cut = true;
}

/* ---- arcs ---------------------------------------------------------------------------------- */

double drill_arc_sweep(double from_x, double from_y, double to_x, double to_y, int turn)
{
    double sweep = atan2(from_x * to_y - from_y * to_x, from_x * to_x + from_y * to_y);
    double full = 2 * acos(-1.0);
    if (from_x == to_x && from_y == to_y)
        return turn * full;
    if (turn > 0)
        return sweep <= 0 ? sweep + full : sweep;
    return sweep >= 0 ? sweep - full : sweep;
}

struct arc {
    double centre_x, centre_y, radius_from, radius_to, angle, sweep;
};

static bool arc_fault(struct drill_machine *machine, size_t offset, const char *what)
{
    DRILL_SAY(machine, PASS_FINAL, DIAG_ERROR, "drill-arc", drill_at(machine, offset),
              "an arc needs A with at least half the chord, or I and J with equal distances to "
              "both ends",
              "%s", what);
    return false;
}

static bool radii_agree(double a, double b)
{
    double slack = fmax(RADIUS_SLACK_NM, RADIUS_SLACK_SHARE * fmax(a, b));
    return fabs(a - b) <= slack;
}

/* A: the smaller arc of that radius. The centre lies left of the way for a counterclockwise arc. */
static bool centre_by_radius(struct drill_machine *machine, double radius, struct pos_nm to,
                             struct arc *out, size_t offset)
{
    double dx = (double)(to.x_nm - machine->here.x_nm), dy = (double)(to.y_nm - machine->here.y_nm);
    double half = hypot(dx, dy) / 2;
    if (half <= 0 || radius <= 0)
        return arc_fault(machine, offset, "an arc by radius that goes nowhere");
    if (radius < half && !radii_agree(radius, half))
        return arc_fault(machine, offset, "the radius of an arc is less than half its chord");
    double height = radius > half ? sqrt(radius * radius - half * half) : 0;
    double side = machine->motion == MOTION_CCW ? height : -height;
    out->centre_x = (double)machine->here.x_nm + dx / 2 - side * dy / (2 * half);
    out->centre_y = (double)machine->here.y_nm + dy / 2 + side * dx / (2 * half);
    return true;
}

static bool arc_centre(struct drill_machine *machine, const struct drill_block *block,
                       struct pos_nm to, struct arc *out, size_t offset)
{
    int64_t radius = 0, i = 0, j = 0;
    if (block->a.is_set)
        return drill_coordinate(machine, &block->a, &radius) &&
               centre_by_radius(machine, (double)radius, to, out, offset);
    if (!block->i.is_set && !block->j.is_set)
        return arc_fault(machine, offset, "an arc without A, I or J");
    if ((block->i.is_set && !drill_coordinate(machine, &block->i, &i)) ||
        (block->j.is_set && !drill_coordinate(machine, &block->j, &j)))
        return arc_fault(machine, offset, "the centre of an arc is out of range");
    out->centre_x = (double)(machine->here.x_nm + i);
    out->centre_y = (double)(machine->here.y_nm + j);
    return true;
}

static bool arc_shape(struct drill_machine *machine, const struct drill_block *block,
                      struct pos_nm to, struct arc *out, size_t offset)
{
    if (!arc_centre(machine, block, to, out, offset))
        return false;
    struct pos_nm from = machine->here;
    double from_x = (double)from.x_nm - out->centre_x, from_y = (double)from.y_nm - out->centre_y;
    double to_x = (double)to.x_nm - out->centre_x, to_y = (double)to.y_nm - out->centre_y;
    out->radius_from = hypot(from_x, from_y);
    out->radius_to = hypot(to_x, to_y);
    if (out->radius_from <= 0 || !radii_agree(out->radius_from, out->radius_to))
        return arc_fault(machine, offset, "the ends of an arc lie at different radii");
    out->angle = atan2(from_y, from_x);
    bool is_full = from.x_nm == to.x_nm && from.y_nm == to.y_nm;
    out->sweep = drill_arc_sweep(from_x, from_y, is_full ? from_x : to_x, is_full ? from_y : to_y,
                                 machine->motion == MOTION_CCW ? 1 : -1);
    return true;
}

size_t drill_arc_pieces(double radius_nm, double sweep)
{
    if (radius_nm <= CHORD_ERROR_NM)
        return 4;
    double step = 2 * acos(1 - CHORD_ERROR_NM / radius_nm);
    double pieces = ceil(fabs(sweep) / step);
    return pieces < 1 ? 1 : pieces > MOST_ARC_PIECES ? MOST_ARC_PIECES : (size_t)pieces;
}

static void cut_arc(struct drill_machine *machine, const struct drill_block *block,
                    struct pos_nm to, size_t offset)
{
    struct arc arc = {0};
    if (!arc_shape(machine, block, to, &arc, offset))
        return;
    size_t count = machine->pass == PASS_FINAL
                       ? drill_arc_pieces(fmax(arc.radius_from, arc.radius_to), arc.sweep)
                       : 1;
    struct pos_nm from = machine->here;
    for (size_t i = 1; i <= count && !machine->is_stopped; i++) {
        double share = (double)i / (double)count;
        double angle = arc.angle + share * arc.sweep;
        double radius = arc.radius_from + share * (arc.radius_to - arc.radius_from);
        struct pos_nm next = {(int64_t)llround(arc.centre_x + radius * cos(angle)),
                              (int64_t)llround(arc.centre_y + radius * sin(angle))};
        if (i == count)
            next = to;
        drill_add_hole(machine, from, next, machine->path, offset);
        from = next;
    }
}

void drill_cut(struct drill_machine *machine, const struct drill_block *block, struct pos_nm to,
               size_t offset)
{
    if (!machine->is_tool_down) {
        DRILL_SAY(machine, PASS_SURVEY, DIAG_ERROR, "drill-rout-up", drill_at(machine, offset),
                  "M15 must lower the tool before G01, G02 or G03; G05 goes back to drilling",
                  "a routing move with the tool up: \"%s\"",
                  drill_quote(machine, block->offset, block->offset + block->length));
        return;
    }
    if (machine->motion == MOTION_LINE)
        drill_add_hole(machine, machine->here, to, machine->path, offset);
    else
        cut_arc(machine, block, to, offset);
}
