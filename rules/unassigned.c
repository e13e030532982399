/* Groups of silent ends: which belong together, and which group is the main one. */
#include "unassigned.h"

#include <math.h>
#include <string.h>

/* Which class each end is of: those on the same side of every unassigned neck so far are one.
 * A class's number is at most end_count. */
struct grouping {
    uint32_t *class_of; /* per end */
    uint32_t *split_to; /* per class and side: the class that it becomes */
    uint32_t class_count;
};

static bool grouping_alloc(struct grouping *grouping, size_t end_count, struct arena *arena)
{
    *grouping = (struct grouping){.class_count = 1};
    grouping->class_of = arena_alloc(arena, end_count + 1, sizeof *grouping->class_of);
    grouping->split_to = arena_alloc(arena, 4 * (end_count + 1), sizeof *grouping->split_to);
    return grouping->class_of && grouping->split_to;
}

/* Ends of one class that are on different sides of the neck are of different classes from now on.
 */
static void split_classes(struct grouping *grouping, const struct neck *neck, size_t end_count)
{
    uint32_t count = 0;
    memset(grouping->split_to, 0xff, 4 * (end_count + 1) * sizeof *grouping->split_to);
    for (size_t e = 0; e < end_count; e++) {
        uint32_t *to = &grouping->split_to[4 * grouping->class_of[e] + (neck->side[e] & 3)];
        if (*to == ISTHMUS_NONE)
            *to = count++;
        grouping->class_of[e] = *to;
    }
    grouping->class_count = count;
}

/* The first end of the largest class. */
static size_t first_of_largest(struct grouping *grouping, size_t end_count)
{
    uint32_t *size = grouping->split_to;
    size_t best = 0;
    memset(size, 0, (end_count + 1) * sizeof *size);
    for (size_t e = 0; e < end_count; e++)
        size[grouping->class_of[e]]++;
    for (size_t e = 1; e < end_count; e++)
        if (size[grouping->class_of[e]] > size[grouping->class_of[best]])
            best = e;
    return best;
}

/* An end of the largest group that no unassigned neck parts; the first of them. */
static bool main_end(const struct neck *necks, size_t neck_count, size_t end_count,
                     struct arena *arena, size_t *out)
{
    struct grouping grouping;
    if (!grouping_alloc(&grouping, end_count, arena))
        return false;
    for (size_t i = 0; i < neck_count; i++)
        if (necks[i].is_unassigned)
            split_classes(&grouping, &necks[i], end_count);
    *out = first_of_largest(&grouping, end_count);
    return true;
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
    size_t main, kept_count = 0, silent_count = 0;
    struct neck *kept = arena_alloc(arena, *neck_count + 1, sizeof *kept);
    struct neck *silent = arena_alloc(arena, *neck_count + 1, sizeof *silent);
    size_t *size = arena_alloc(arena, *neck_count + 1, sizeof *size);
    if (!kept || !silent || !size || !main_end(necks, *neck_count, end_count, arena, &main))
        return false;
    for (size_t i = 0; i < *neck_count; i++) {
        if (!necks[i].is_unassigned) {
            kept[kept_count++] = necks[i];
            continue;
        }
        struct neck item = necks[i];
        if (!turn(&item, end_count, silent_side(&item, end_count, has_row, main), arena))
            return false;
        size_t at = silent_count++, item_size = size_of_group(&item, end_count);
        for (; at > 0 && size[at - 1] < item_size; at--) { /* largest group first */
            silent[at] = silent[at - 1];
            size[at] = size[at - 1];
        }
        silent[at] = item;
        size[at] = item_size;
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

static void lower_areas(const struct neck *neck, size_t end_count, uint8_t silent, double *area_mm2)
{
    double least_mm2 = INFINITY;
    for (size_t p = 0; p < neck->place_count; p++)
        least_mm2 = fmin(least_mm2, neck->places[p].area_mm2);
    for (size_t e = 0; e < end_count; e++)
        if (neck->side[e] & silent)
            area_mm2[e] = fmin(area_mm2[e], least_mm2);
}

double *unassigned_areas_mm2(const struct neck *necks, size_t neck_count, size_t end_count,
                             const bool *has_row, struct arena *arena)
{
    size_t main;
    double *area_mm2 = arena_alloc(arena, end_count + 1, sizeof *area_mm2);
    if (!area_mm2 || !main_end(necks, neck_count, end_count, arena, &main))
        return NULL;
    for (size_t e = 0; e < end_count; e++)
        area_mm2[e] = INFINITY;
    for (size_t i = 0; i < neck_count; i++)
        if (necks[i].is_unassigned)
            lower_areas(&necks[i], end_count, silent_side(&necks[i], end_count, has_row, main),
                        area_mm2);
    return area_mm2;
}
