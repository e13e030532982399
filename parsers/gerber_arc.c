/* Circular interpolation: which arc a G02 or G03 means, under G75 and the deprecated G74. */
#include "gerber_private.h"

#include <math.h>

static double sweep_of(struct point centre, struct point from, struct point to, int turn)
{
    double first = atan2(from.y - centre.y, from.x - centre.x);
    double last = atan2(to.y - centre.y, to.x - centre.x);
    double sweep = turn > 0 ? last - first : first - last;
    return sweep <= 0 ? sweep + 2 * M_PI : sweep;
}

static struct arc arc_about(struct point centre, struct point from, struct point to, int turn)
{
    return (struct arc){.centre = centre,
                        .turn = turn,
                        .radius_from = hypot(from.x - centre.x, from.y - centre.y),
                        .radius_to = hypot(to.x - centre.x, to.y - centre.y),
                        .sweep_rad = sweep_of(centre, from, to, turn)};
}

static double mismatch(const struct arc *arc)
{
    return fabs(arc->radius_from - arc->radius_to);
}

/* One step of the format's last digit, the larger of both axes. */
static double step_nm(const struct gerber *g)
{
    unsigned x = g->format[0].decimal_digits, y = g->format[1].decimal_digits;
    unsigned fewer = x < y ? x : y;
    return (g->unit == UNIT_INCH ? 25400000.0 : 1000000.0) / pow(10, fewer);
}

/* Both ends and the centre are rounded to the format's step, so the radii differ by a few steps. */
static bool is_consistent(const struct gerber *g, const struct arc *arc)
{
    return mismatch(arc) <= fmax(5 * step_nm(g), 0.005 * arc->radius_from);
}

/* No rounding explains this: the arc is another one than was meant. */
static bool is_absurd(const struct gerber *g, const struct arc *arc)
{
    return mismatch(arc) > fmax(20 * step_nm(g), 0.05 * fmax(arc->radius_from, arc->radius_to));
}

/* G74: I and J without sign; of the four centres the one that gives at most 90 degrees and the
 * least difference of radii. */
static bool single_quadrant(const struct gerber *g, struct point from, struct point to,
                            struct point ij, int turn, struct arc *out)
{
    bool is_found = false;
    /* Rounded ends may exceed the right angle by as much as they are off. */
    double i = fabs(ij.x), j = fabs(ij.y);
    double slack = 1e-6 + fmin(0.2, 4 * step_nm(g) / fmax(hypot(i, j), 1));
    for (int k = 0; k < 4; k++) {
        struct point centre = {from.x + (k & 1 ? -i : i), from.y + (k & 2 ? -j : j)};
        struct arc arc = arc_about(centre, from, to, turn);
        if (arc.sweep_rad <= M_PI / 2 + slack && (!is_found || mismatch(&arc) < mismatch(out))) {
            *out = arc;
            is_found = true;
        }
    }
    return is_found;
}

/* No G74 or G75 yet: the reading that gives a consistent arc. */
static bool guess_mode(struct gerber *g, struct point from, struct point to, struct point ij,
                       int turn, struct arc *out)
{
    struct arc multi = arc_about((struct point){from.x + ij.x, from.y + ij.y}, from, to, turn);
    struct arc single = {.sweep_rad = 0};
    bool has_single = ij.x >= 0 && ij.y >= 0 && single_quadrant(g, from, to, ij, turn, &single) &&
                      is_consistent(g, &single);
    bool has_multi = is_consistent(g, &multi);
    if (!has_single && !has_multi) {
        gerber_error(g, g->word_offset, "gerber-arc-mode", "export again with G75 before the arcs",
                     "%s is an arc before any G74 or G75, and fits neither",
                     gerber_quote_word(g, g->word_offset));
        return false;
    }
    gerber_odd(g, g->word_offset, ODD_ARC_BEFORE_MODE,
               "%s is an arc before any G74 or G75: each one is read the way that fits it",
               gerber_quote_word(g, g->word_offset));
    *out = has_multi ? multi : single;
    return true;
}

static bool resolve(struct gerber *g, struct point from, struct point to, struct point ij, int turn,
                    struct arc *out)
{
    if (g->quadrant_mode == 0)
        return guess_mode(g, from, to, ij, turn, out);
    if (g->quadrant_mode == 75) {
        *out = arc_about((struct point){from.x + ij.x, from.y + ij.y}, from, to, turn);
        return true;
    }
    gerber_odd(g, g->word_offset, ODD_SINGLE_QUADRANT, "arcs under G74 (deprecated)");
    if (single_quadrant(g, from, to, ij, turn, out))
        return true;
    gerber_error(g, g->word_offset, "gerber-arc", "export again with G75",
                 "%s has no centre that gives an arc of at most 90 degrees, as G74 asks",
                 gerber_quote_word(g, g->word_offset));
    return false;
}

static int turn_of(const struct gerber *g)
{
    int turn = g->interpolation == 3 ? 1 : -1;
    /* MI mirrors the coordinates; the arc between them is mirrored with them. */
    return g->image.is_mirrored_x != g->image.is_mirrored_y ? -turn : turn;
}

bool gerber_resolve_arc(struct gerber *g, struct pos_nm from, struct pos_nm to, struct point ij,
                        struct arc *out)
{
    struct point a = {(double)from.x_nm, (double)from.y_nm};
    struct point b = {(double)to.x_nm, (double)to.y_nm};
    bool is_closed = from.x_nm == to.x_nm && from.y_nm == to.y_nm;
    if (is_closed && (g->quadrant_mode == 74 || (ij.x == 0 && ij.y == 0))) {
        *out = (struct arc){.centre = a, .turn = turn_of(g), .is_point = true};
        return true;
    }
    if (g->image.scale_x != g->image.scale_y) {
        gerber_error(g, g->word_offset, "gerber-arc-scaled", "export again without SF",
                     "%s is an arc while SF scales the axes differently: that is no circle",
                     gerber_quote_word(g, g->word_offset));
        return false;
    }
    if (!resolve(g, a, b, ij, turn_of(g), out))
        return false;
    out->is_full = is_closed;
    if (out->radius_from < 0.5 || out->radius_to < 0.5) {
        gerber_error(g, g->word_offset, "gerber-arc", "export again",
                     "%s has its centre on an end of the arc: expected I and J of a circle",
                     gerber_quote_word(g, g->word_offset));
        return false;
    }
    if (is_absurd(g, out)) {
        gerber_error(g, g->word_offset, "gerber-arc", "export again",
                     "%s: radius %.6f mm at the start but %.6f mm at the end: expected I and J of "
                     "a circle through both",
                     gerber_quote_word(g, g->word_offset), out->radius_from / 1e6,
                     out->radius_to / 1e6);
        return false;
    }
    if (!is_consistent(g, out))
        gerber_odd(g, g->word_offset, ODD_RADII_DIFFER,
                   "%s: radius %.6f mm at the start, %.6f mm at the end",
                   gerber_quote_word(g, g->word_offset), out->radius_from / 1e6,
                   out->radius_to / 1e6);
    return true;
}
