/* Groups of silent ends: which belong together, and which group is the main one. */
#include "unassigned.h"

#include <math.h>
#include <string.h>

/* Are two ends on the same side of every unassigned neck? */
static bool is_same_class(const struct neck *necks, size_t neck_count, size_t a, size_t b)
{
    for (size_t i = 0; i < neck_count; i++)
        if (necks[i].is_unassigned && necks[i].side[a] != necks[i].side[b])
            return false;
    return true;
}

/* An end of the largest class; the first of them. */
static size_t main_end(const struct neck *necks, size_t neck_count, size_t end_count)
{
    size_t best = 0, best_size = 0;
    for (size_t a = 0; a < end_count; a++) {
        size_t size = 0;
        for (size_t b = 0; b < end_count; b++)
            size += is_same_class(necks, neck_count, a, b);
        if (size > best_size) {
            best_size = size;
            best = a;
        }
    }
    return best;
}

static bool has_row_on(const struct neck *neck, size_t end_count, const bool *has_row,
                       uint8_t which)
{
    for (size_t e = 0; e < end_count; e++)
        if (neck->side[e] & which && has_row[e])
            return true;
    return false;
}

/* The side (1 or 2) that the table is silent about; of two silent ones, the one without the main
 * end. */
static uint8_t silent_side(const struct neck *neck, size_t end_count, const bool *has_row,
                           size_t main)
{
    bool row_1 = has_row_on(neck, end_count, has_row, 1);
    bool row_2 = has_row_on(neck, end_count, has_row, 2);
    if (row_1 != row_2)
        return row_1 ? 2 : 1;
    return neck->side[main] & 1 ? 2 : 1;
}

static bool is_within(const struct neck *inner, const struct neck *outer, size_t end_count)
{
    for (size_t e = 0; e < end_count; e++)
        if (inner->side[e] & 1 && !(outer->side[e] & 1))
            return false;
    return true;
}

static size_t size_of_group(const struct neck *neck, size_t end_count)
{
    size_t size = 0;
    for (size_t e = 0; e < end_count; e++)
        size += neck->side[e] & 1;
    return size;
}

/* The places of both, by margin. */
static bool join_places(struct neck *into, const struct neck *from, struct arena *arena)
{
    size_t count = into->place_count + from->place_count;
    struct neck_place *places = arena_alloc(arena, count + 1, sizeof *places);
    if (!places)
        return false;
    size_t a = 0, b = 0;
    for (size_t i = 0; i < count; i++) {
        bool is_b = a == into->place_count ||
                    (b < from->place_count && from->places[b].margin < into->places[a].margin);
        places[i] = is_b ? from->places[b++] : into->places[a++];
    }
    into->places = places;
    into->place_count = count;
    into->narrow_length_mm += from->narrow_length_mm;
    into->is_shared |= from->is_shared;
    return true;
}

/* Turns side[] so that 1 is the silent group. */
static bool turn(struct neck *neck, size_t end_count, uint8_t silent, struct arena *arena)
{
    uint8_t *side = arena_alloc(arena, end_count + 1, 1);
    if (!side)
        return false;
    for (size_t e = 0; e < end_count; e++)
        side[e] = silent == 1 || neck->side[e] == 3 ? neck->side[e] : (uint8_t)(3 - neck->side[e]);
    neck->side = side;
    return true;
}

bool unassigned_merge(struct neck *necks, size_t *neck_count, size_t end_count, const bool *has_row,
                      struct arena *arena)
{
    size_t main = main_end(necks, *neck_count, end_count), kept_count = 0, silent_count = 0;
    struct neck *kept = arena_alloc(arena, *neck_count + 1, sizeof *kept);
    struct neck *silent = arena_alloc(arena, *neck_count + 1, sizeof *silent);
    if (!kept || !silent)
        return false;
    for (size_t i = 0; i < *neck_count; i++) {
        if (!necks[i].is_unassigned) {
            kept[kept_count++] = necks[i];
            continue;
        }
        struct neck item = necks[i];
        if (!turn(&item, end_count, silent_side(&item, end_count, has_row, main), arena))
            return false;
        size_t at = silent_count++; /* largest group first */
        for (;
             at > 0 && size_of_group(&silent[at - 1], end_count) < size_of_group(&item, end_count);
             at--)
            silent[at] = silent[at - 1];
        silent[at] = item;
    }
    size_t first = kept_count;
    for (size_t i = 0; i < silent_count; i++) {
        size_t outer = first;
        while (outer < kept_count && !is_within(&silent[i], &kept[outer], end_count))
            outer++;
        if (outer == kept_count)
            kept[kept_count++] = silent[i];
        else if (!join_places(&kept[outer], &silent[i], arena))
            return false;
    }
    memcpy(necks, kept, kept_count * sizeof *necks);
    *neck_count = kept_count;
    return true;
}

double unassigned_area_mm2(const struct neck *necks, size_t neck_count, size_t end_count,
                           const bool *has_row, size_t end)
{
    size_t main = main_end(necks, neck_count, end_count);
    double area_mm2 = INFINITY;
    for (size_t i = 0; i < neck_count; i++) {
        if (!necks[i].is_unassigned ||
            !(necks[i].side[end] & silent_side(&necks[i], end_count, has_row, main)))
            continue;
        for (size_t p = 0; p < necks[i].place_count; p++)
            area_mm2 = fmin(area_mm2, necks[i].places[p].area_mm2);
    }
    return area_mm2;
}
