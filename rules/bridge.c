/*
 * Where is the copper between two groups of terminals narrowest, if it may be any width?
 *
 * First some cut: along pieces up to a third of a millimetre (in mm2 of outer copper) and contacts'
 * outlines. It bounds the least one, which is then looked for with all pieces that a cut below the
 * bound can be made of: all over the copper in steps of length, as these can be used for the next
 * question, too. Where they are too many, only near the cut: what lies farther away is left out,
 * which makes no cut wider; if the least one that is left is no less than the bound, the bound is
 * the least of all. If it is less, the rest is tied to the groups that its own terminals belong to;
 * then a cut that is found is one of the whole, and a closer bound.
 */
#include "bridge.h"

#include "isthmus/base.h"

#include <math.h>
#include <string.h>

#define WIDE_REACH_MM2 0.01
#define BOUND_SLACK 1.001
#define FIRST_LIMIT_MM2 0.16
#define LIMIT_STEP 4.0
#define LIMIT_NEARNESS 1.25 /* a limit that was affordable and one that was not, in proportion */
#define CHORD_LIMIT 100000
#define NEAR_FIRST_NM 2e6
#define NEAR_LAST_NM 40e6
#define NEAR_STEP 1.5
#define NEAR_LEAST_STEP 1.2
#define NEAR_TRIES 20
#define NEAR_CHORD_LIMIT 300000
/* Two cuts are the same when their areas differ by less than this part: where pieces cross, their
 * ends are rounded to whole nanometres. */
#define SAME_PART 1e-5

/* What is known of the least cut: below from_mm2 there is none; a cut of place->area_mm2 there is.
 */
struct bracket {
    double from_mm2;
    const uint8_t *side;
    struct neck_place *place;
    double near_nm;            /* how far round the cut all its pieces could be looked for */
    bool is_least, is_lowered; /* lowered: by as many pieces as may be, all over the copper */
};

bool bridge_begin(const struct neck_net *net, struct arena *arena, struct arena *scratch,
                  struct bridge_search *out)
{
    *out = (struct bridge_search){.net = net,
                                  .arena = arena,
                                  .refused_mm2 = (double)INFINITY,
                                  .chord_limit = CHORD_LIMIT,
                                  .near_chord_limit = NEAR_CHORD_LIMIT};
    out->reached = arena_alloc(scratch, net->terminal_count + 1, sizeof *out->reached);
    return out->reached != NULL;
}

void bridge_end(struct bridge_search *search)
{
    neck_meter_free(search->wide);
    neck_meter_free(search->least);
    search->wide = search->least = NULL;
}

static double most_mm2(const struct bracket *bracket)
{
    return bracket->place->area_mm2 * BOUND_SLACK;
}

static bool is_less(double area_mm2, const struct bracket *bracket)
{
    return area_mm2 < bracket->place->area_mm2 * (1 - SAME_PART);
}

static void note_reached(struct bridge_search *search, const struct neck_meter *meter)
{
    for (uint32_t t = 0; t < search->net->terminal_count; t++)
        search->reached[t] = neck_meter_reaches(meter, t);
}

/* ---- all over the copper ---- */

static enum neck_status cut_wide(struct bridge_search *search, const uint8_t *side,
                                 double reach_mm2, struct neck_place *place, bool *is_found)
{
    enum neck_status status = NECK_OK;
    if (!search->wide || search->wide_mm2 < reach_mm2) {
        neck_meter_free(search->wide);
        search->wide_mm2 = reach_mm2;
        status = neck_meter_new_wide(search->net, reach_mm2, &search->wide);
    }
    return status == NECK_OK ? neck_meter_cut(search->wide, side, search->arena, place, is_found)
                             : status;
}

/* A meter for cuts below the limit: the one at hand, if it goes as far; else a new one. */
static enum neck_status make_least(struct bridge_search *search, double limit_mm2)
{
    bool is_over_limit = false;
    if (search->least && search->least_mm2 >= limit_mm2)
        return NECK_OK;
    neck_meter_free(search->least);
    search->least_mm2 = limit_mm2;
    enum neck_status status =
        neck_meter_new(search->net, limit_mm2, search->chord_limit, &search->least, &is_over_limit);
    if (is_over_limit)
        search->refused_mm2 = limit_mm2;
    return status;
}

/* Looks for cuts below the limit: finds the least one, or raises from_mm2, or is refused. */
static enum neck_status try_limit(struct bridge_search *search, double limit_mm2,
                                  struct bracket *bracket)
{
    struct neck_place least = {0};
    bool is_found = false;
    enum neck_status status = make_least(search, limit_mm2);
    if (status == NECK_OK && search->least)
        status = neck_meter_cut(search->least, bracket->side, search->arena, &least, &is_found);
    if (status != NECK_OK || !search->least)
        return status;
    bracket->from_mm2 = fmax(bracket->from_mm2, limit_mm2);
    bracket->is_least = is_found;
    if (is_found) {
        *bracket->place = least;
        note_reached(search, search->least);
    }
    return NECK_OK;
}

/* With as many of the pieces below the bound as may be: is there a smaller cut? */
static enum neck_status lower_bound(struct bridge_search *search, struct bracket *bracket)
{
    struct neck_place other = {0};
    bool is_found = false;
    enum neck_status status = cut_wide(search, bracket->side, most_mm2(bracket), &other, &is_found);
    if (status == NECK_OK && is_found && other.area_mm2 < bracket->place->area_mm2) {
        *bracket->place = other;
        bracket->is_lowered = true;
        note_reached(search, search->wide);
    }
    bracket->is_least =
        status == NECK_OK && is_found && neck_meter_proves(search->wide, bracket->place->area_mm2);
    return status;
}

/* Longer pieces cost more each, so they are looked for in steps, as long as none is refused. */
static enum neck_status climb(struct bridge_search *search, struct bracket *bracket)
{
    enum neck_status status = NECK_OK;
    double limit_mm2 = fmin(FIRST_LIMIT_MM2, most_mm2(bracket));
    while (status == NECK_OK && !bracket->is_least && limit_mm2 < search->refused_mm2 &&
           bracket->from_mm2 < most_mm2(bracket)) {
        status = try_limit(search, limit_mm2, bracket);
        limit_mm2 = fmin(limit_mm2 * LIMIT_STEP, most_mm2(bracket));
    }
    bracket->is_least |= bracket->from_mm2 >= most_mm2(bracket);
    return status;
}

/* By halves up to the most that is not refused. */
static enum neck_status halve(struct bridge_search *search, struct bracket *bracket)
{
    enum neck_status status = NECK_OK;
    while (status == NECK_OK && !bracket->is_least && bracket->from_mm2 < most_mm2(bracket) &&
           search->refused_mm2 >= bracket->from_mm2 * LIMIT_NEARNESS) {
        double limit_mm2 = sqrt(fmax(bracket->from_mm2, WIDE_REACH_MM2) * search->refused_mm2);
        status = try_limit(search, fmin(limit_mm2, most_mm2(bracket)), bracket);
    }
    return status;
}

/* ---- near the cut ---- */

/* One window about the cut, with the pieces of cuts below limit_mm2. */
struct window {
    double reach_nm, limit_mm2;
    struct arena *scratch;
    struct neck_part part;
    struct neck_meter *meter;
    uint8_t *side;
    bool is_all;      /* nothing was left out */
    bool is_narrowed; /* a lesser cut of the whole was found */
};

static enum neck_status open_window(const struct bridge_search *search,
                                    const struct bracket *bracket, struct window *window)
{
    bool is_over_limit = false;
    window->scratch = arena_new("near a cut");
    if (!window->scratch || !neck_part_new(search->net, bracket->place, window->reach_nm,
                                           window->scratch, &window->part))
        return NECK_NO_MEMORY;
    window->is_all = window->part.beyond_count == 0;
    window->side =
        arena_alloc(window->scratch, window->part.net.terminal_count + 1, sizeof *window->side);
    return window->side
               ? neck_meter_new_part(&window->part, window->limit_mm2, search->near_chord_limit,
                                     &window->meter, &is_over_limit)
               : NECK_NO_MEMORY;
}

static void close_window(struct window *window)
{
    neck_meter_free(window->meter);
    arena_free(window->scratch);
    window->meter = NULL;
    window->scratch = NULL;
}

/* A terminal is on the first group's side by a pad in the window, or by a piece beyond. */
static void note_reached_through(struct bridge_search *search, const struct window *window)
{
    const struct neck_part *part = &window->part;
    note_reached(search, window->meter);
    for (size_t i = 0; i < part->holder_count; i++)
        if (window->side[search->net->terminal_count + part->holders[i].beyond] == 1)
            search->reached[part->holders[i].terminal] = true;
}

/* With the rest left out: is there no lesser cut? Then there is none in the whole. */
static enum neck_status cut_apart(struct window *window, struct bracket *bracket)
{
    struct neck_place found = {0};
    bool is_found = false;
    (void)neck_part_sides(&window->part, bracket->side, false, window->side);
    enum neck_status status =
        neck_meter_cut(window->meter, window->side, window->scratch, &found, &is_found);
    if (status != NECK_OK)
        return status;
    bracket->from_mm2 = fmax(bracket->from_mm2, is_found ? found.area_mm2 : window->limit_mm2);
    bracket->is_least = !is_less(bracket->from_mm2, bracket);
    return NECK_OK;
}

/* With the rest tied to the groups: is there a lesser cut of the whole? */
static enum neck_status cut_tied(struct bridge_search *search, struct window *window,
                                 struct bracket *bracket)
{
    struct neck_place found = {0};
    bool is_found = false;
    if (!neck_part_sides(&window->part, bracket->side, true, window->side))
        return NECK_OK;
    enum neck_status status =
        neck_meter_cut(window->meter, window->side, search->arena, &found, &is_found);
    if (status == NECK_OK && is_found && is_less(found.area_mm2, bracket)) {
        window->is_narrowed = true;
        *bracket->place = found;
        note_reached_through(search, window);
        bracket->is_least = !is_less(bracket->from_mm2, bracket);
    }
    return status;
}

static enum neck_status look_through(struct bridge_search *search, struct window *window,
                                     struct bracket *bracket)
{
    enum neck_status status = open_window(search, bracket, window);
    window->is_narrowed = false;
    if (status == NECK_OK && window->meter)
        status = cut_apart(window, bracket);
    if (status == NECK_OK && window->meter && !bracket->is_least)
        status = cut_tied(search, window, bracket);
    return status;
}

/*
 * Windows of growing reach; a lesser cut is looked round anew. Where pieces are too many a reach in
 * between is tried, then shorter pieces: they may show a lesser cut, which needs no longer ones.
 */
static enum neck_status look_near(struct bridge_search *search, struct bracket *bracket)
{
    enum neck_status status = NECK_OK;
    double step = NEAR_STEP;
    struct window window = {.reach_nm = bracket->near_nm, .limit_mm2 = most_mm2(bracket)};
    for (int tries = 0; tries < NEAR_TRIES && status == NECK_OK && !bracket->is_least; tries++) {
        bool is_short = window.limit_mm2 < most_mm2(bracket);
        status = look_through(search, &window, bracket);
        bool is_refused = status == NECK_OK && !window.meter, is_all = window.is_all;
        close_window(&window);
        if (!is_refused && !is_short)
            bracket->near_nm = window.reach_nm;
        if (window.is_narrowed) {
            window.limit_mm2 = most_mm2(bracket);
        } else if (!is_refused) {
            if (is_all || is_short || window.reach_nm * step > NEAR_LAST_NM)
                break;
            window.reach_nm *= step;
        } else if (step > NEAR_LEAST_STEP && window.reach_nm > bracket->near_nm) {
            step = sqrt(step);
            window.reach_nm = bracket->near_nm * step;
        } else {
            window.limit_mm2 *= 0.5;
            if (window.limit_mm2 <= bracket->from_mm2)
                break;
        }
    }
    return status;
}

/* ---- the whole search ---- */

static enum neck_status narrow(struct bridge_search *search, struct bracket *bracket)
{
    enum neck_status status = climb(search, bracket);
    if (status == NECK_OK && !bracket->is_least)
        status = look_near(search, bracket);
    if (status == NECK_OK && !bracket->is_least)
        status = lower_bound(search, bracket);
    if (status == NECK_OK && !bracket->is_least && bracket->is_lowered)
        status = look_near(search, bracket);
    if (status == NECK_OK && !bracket->is_least)
        status = halve(search, bracket);
    return status;
}

enum neck_status bridge_find(struct bridge_search *search, const uint8_t *side,
                             struct neck_place *place, bool *is_found, bool *is_least)
{
    *is_least = false;
    enum neck_status status = cut_wide(search, side, WIDE_REACH_MM2, place, is_found);
    if (status != NECK_OK || !*is_found || place->piece_count == 0)
        return status;
    note_reached(search, search->wide);
    struct bracket bracket = {.side = side, .place = place, .near_nm = NEAR_FIRST_NM};
    bracket.is_least = neck_meter_proves(search->wide, place->area_mm2);
    if (!bracket.is_least)
        status = narrow(search, &bracket);
    *is_least = bracket.is_least;
    return status;
}
