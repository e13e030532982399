/* How well holes land on the pads of a board: a grid of pad centres. */
#include "isthmus/holes.h"

#include <stdlib.h>

#define CELL_NM INT64_C(1000000)
#define MOST_CELLS_SIDE 1024
#define REACH_NM INT64_C(1000000) /* holes sit near the middle of their pads */
#define STROKE_REACH_NM INT64_C(20000)
#define MARGIN_NM INT64_C(10000000) /* mounting holes beyond the copper */
#define BEYOND_ONE_IN 20            /* a tooling hole or two may lie beyond */
#define CENTRED_NM INT64_C(20000)   /* twice the rounding of a thousandth of an inch is 25 um */
/* What a hole is worth on a pad, besides at its very centre (a wrong reading hits large pads, but
 * not their centres), besides near the board at all. They sum to 1. */
#define PAD_SHARE 0.60
#define CENTRED_SHARE 0.35
#define NEAR_SHARE 0.05

struct pad {
    struct pos_nm at;
    int64_t reach_nm; /* half its larger side, at most REACH_NM */
};

/* Pads of cell i: pads[first[i]] .. pads[first[i + 1] - 1]. */
struct hole_fit {
    struct pos_nm min, max; /* of all copper; min > max without any */
    struct pos_nm corner;   /* of the grid */
    int64_t cell_nm;
    size_t columns, rows;
    size_t *first;
    struct pad *pads;
    size_t pad_count;
};

static int64_t flash_reach(const struct drawing *drawing, const struct object *object)
{
    if (object->aperture >= drawing->aperture_count)
        return REACH_NM;
    const struct aperture *aperture = &drawing->apertures[object->aperture];
    int64_t side =
        aperture->width_nm > aperture->height_nm ? aperture->width_nm : aperture->height_nm;
    return side / 2 < REACH_NM ? side / 2 : REACH_NM;
}

/*
 * Where an object may have its hole: a flash at its point; a stroke, which may be a long pad or a
 * track that ends in one, at its ends and its middle, and only there.
 */
#define MOST_SPOTS 3
static size_t spots_of(const struct drawing *drawing, const struct object *object,
                       struct pad out[MOST_SPOTS])
{
    bool is_flash = object->kind == OBJECT_FLASH;
    if (!object->is_dark || object->fill_count == 0 || (!is_flash && object->kind != OBJECT_STROKE))
        return 0;
    out[0] = (struct pad){object->from, is_flash ? flash_reach(drawing, object) : STROKE_REACH_NM};
    if (is_flash)
        return 1;
    out[1] = (struct pad){object->to, STROKE_REACH_NM};
    out[2] = (struct pad){
        {(object->from.x_nm + object->to.x_nm) / 2, (object->from.y_nm + object->to.y_nm) / 2},
        STROKE_REACH_NM};
    return 3;
}

static void widen(struct hole_fit *fit, const struct drawing *drawing)
{
    if (drawing->min.x_nm > drawing->max.x_nm || drawing->object_count == 0)
        return;
    if (fit->min.x_nm > fit->max.x_nm) {
        fit->min = drawing->min;
        fit->max = drawing->max;
        return;
    }
    if (drawing->min.x_nm < fit->min.x_nm)
        fit->min.x_nm = drawing->min.x_nm;
    if (drawing->min.y_nm < fit->min.y_nm)
        fit->min.y_nm = drawing->min.y_nm;
    if (drawing->max.x_nm > fit->max.x_nm)
        fit->max.x_nm = drawing->max.x_nm;
    if (drawing->max.y_nm > fit->max.y_nm)
        fit->max.y_nm = drawing->max.y_nm;
}

static size_t cell_of(const struct hole_fit *fit, struct pos_nm at)
{
    size_t column = (size_t)((at.x_nm - fit->corner.x_nm) / fit->cell_nm);
    size_t row = (size_t)((at.y_nm - fit->corner.y_nm) / fit->cell_nm);
    return row * fit->columns + column;
}

static void lay_grid(struct hole_fit *fit)
{
    int64_t width = fit->max.x_nm - fit->min.x_nm, height = fit->max.y_nm - fit->min.y_nm;
    int64_t longer = width > height ? width : height;
    fit->cell_nm = CELL_NM;
    while (longer / fit->cell_nm >= MOST_CELLS_SIDE)
        fit->cell_nm *= 2;
    fit->corner = fit->min;
    fit->columns = (size_t)(width / fit->cell_nm) + 1;
    fit->rows = (size_t)(height / fit->cell_nm) + 1;
}

/* A flash's point may lie outside its own drawing's extent (a macro beside its origin). */
static bool is_on_grid(const struct hole_fit *fit, struct pos_nm at)
{
    return at.x_nm >= fit->min.x_nm && at.x_nm <= fit->max.x_nm && at.y_nm >= fit->min.y_nm &&
           at.y_nm <= fit->max.y_nm;
}

static void put_spot(struct hole_fit *fit, const struct pad *spot, bool is_placing)
{
    size_t cell = cell_of(fit, spot->at);
    if (is_placing)
        fit->pads[fit->first[cell]++] = *spot;
    else
        fit->first[cell + 1]++;
}

/* Counting sort by cell: once to count, once to place. */
static void each_pad(struct hole_fit *fit, const struct drawing *drawing, bool is_placing)
{
    struct pad spots[MOST_SPOTS];
    for (size_t i = 0; i < drawing->object_count; i++) {
        size_t count = spots_of(drawing, &drawing->objects[i], spots);
        for (size_t k = 0; k < count; k++)
            if (is_on_grid(fit, spots[k].at))
                put_spot(fit, &spots[k], is_placing);
    }
}

static bool place_pads(struct hole_fit *fit, const struct drawing *const *pads, size_t count,
                       struct arena *arena)
{
    size_t cells = fit->columns * fit->rows;
    fit->first = arena_alloc(arena, cells + 1, sizeof *fit->first);
    if (!fit->first)
        return false;
    for (size_t i = 0; i < count; i++)
        each_pad(fit, pads[i], false);
    for (size_t i = 0; i < cells; i++)
        fit->first[i + 1] += fit->first[i];
    fit->pad_count = fit->first[cells];
    fit->pads = arena_alloc(arena, fit->pad_count, sizeof *fit->pads);
    if (!fit->pads)
        return false;
    for (size_t i = 0; i < count; i++)
        each_pad(fit, pads[i], true);
    for (size_t i = cells; i > 0; i--) /* placing moved each start to the next one's */
        fit->first[i] = fit->first[i - 1];
    fit->first[0] = 0;
    return true;
}

struct hole_fit *hole_fit_new(const struct drawing *const *pads, size_t pad_drawing_count,
                              const struct drawing *const *others, size_t other_count,
                              struct arena *arena)
{
    struct hole_fit *fit = arena_alloc(arena, 1, sizeof *fit);
    if (!fit)
        return NULL;
    fit->min = (struct pos_nm){1, 1};
    for (size_t i = 0; i < pad_drawing_count; i++)
        widen(fit, pads[i]);
    for (size_t i = 0; i < other_count; i++)
        widen(fit, others[i]);
    if (fit->min.x_nm > fit->max.x_nm)
        return fit;
    lay_grid(fit);
    return place_pads(fit, pads, pad_drawing_count, arena) ? fit : NULL;
}

/* How well one place is hit. */
struct hit {
    bool is_on_pad, is_centred;
};

static void hit_cell(const struct hole_fit *fit, size_t cell, struct pos_nm at, struct hit *hit)
{
    for (size_t i = fit->first[cell]; i < fit->first[cell + 1]; i++) {
        const struct pad *pad = &fit->pads[i];
        int64_t off_x = llabs(pad->at.x_nm - at.x_nm), off_y = llabs(pad->at.y_nm - at.y_nm);
        hit->is_on_pad |= off_x <= pad->reach_nm && off_y <= pad->reach_nm;
        hit->is_centred |= off_x <= CENTRED_NM && off_y <= CENTRED_NM;
    }
}

static struct hit hit_at(const struct hole_fit *fit, struct pos_nm at)
{
    struct hit hit = {false, false};
    int64_t column = (at.x_nm - fit->corner.x_nm) / fit->cell_nm;
    int64_t row = (at.y_nm - fit->corner.y_nm) / fit->cell_nm;
    for (int64_t r = row - 1; r <= row + 1; r++)
        for (int64_t c = column - 1; c <= column + 1; c++)
            if (r >= 0 && c >= 0 && (size_t)r < fit->rows && (size_t)c < fit->columns)
                hit_cell(fit, (size_t)r * fit->columns + (size_t)c, at, &hit);
    return hit;
}

static bool is_within(const struct hole_fit *fit, struct pos_nm at, int64_t margin_nm)
{
    return at.x_nm >= fit->min.x_nm - margin_nm && at.x_nm <= fit->max.x_nm + margin_nm &&
           at.y_nm >= fit->min.y_nm - margin_nm && at.y_nm <= fit->max.y_nm + margin_nm;
}

/* All holes on one spot: a reading that divides by far too much. */
static bool are_heaped(const struct hole *holes, size_t count)
{
    struct pos_nm min = holes[0].from, max = holes[0].from;
    int64_t largest_nm = 0;
    for (size_t i = 0; i < count; i++) {
        min.x_nm = holes[i].from.x_nm < min.x_nm ? holes[i].from.x_nm : min.x_nm;
        min.y_nm = holes[i].from.y_nm < min.y_nm ? holes[i].from.y_nm : min.y_nm;
        max.x_nm = holes[i].from.x_nm > max.x_nm ? holes[i].from.x_nm : max.x_nm;
        max.y_nm = holes[i].from.y_nm > max.y_nm ? holes[i].from.y_nm : max.y_nm;
        largest_nm = holes[i].diameter_nm > largest_nm ? holes[i].diameter_nm : largest_nm;
    }
    bool is_one_place = min.x_nm == max.x_nm && min.y_nm == max.y_nm;
    return count >= 3 && !is_one_place && 2 * (max.x_nm - min.x_nm) < largest_nm &&
           2 * (max.y_nm - min.y_nm) < largest_nm;
}

double hole_fit_score(const struct hole *holes, size_t count, void *context)
{
    const struct hole_fit *fit = context;
    if (count == 0 || fit->min.x_nm > fit->max.x_nm || are_heaped(holes, count))
        return 0;
    int64_t margin_nm = fit->pad_count ? MARGIN_NM : 0;
    size_t within_count = 0, pad_count = 0, centred_count = 0;
    for (size_t i = 0; i < count; i++) {
        struct pos_nm middle = {(holes[i].from.x_nm + holes[i].to.x_nm) / 2,
                                (holes[i].from.y_nm + holes[i].to.y_nm) / 2};
        if (!is_within(fit, middle, margin_nm))
            continue;
        within_count++;
        struct hit hit = fit->pad_count ? hit_at(fit, middle) : (struct hit){false, false};
        pad_count += hit.is_on_pad;
        centred_count += hit.is_centred;
    }
    if ((count - within_count) * BEYOND_ONE_IN > count)
        return 0;
    if (fit->pad_count == 0)
        return (double)within_count / (double)count;
    return (PAD_SHARE * (double)pad_count + CENTRED_SHARE * (double)centred_count +
            NEAR_SHARE * (double)within_count) /
           (double)count;
}
