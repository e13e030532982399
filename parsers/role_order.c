/*
 * The order of the copper layers. The same ending (".g2") is inner layer 1 on one board and inner
 * layer 2 on another; only the complete set tells, and where it does not, nothing is guessed.
 */
#include "roles_private.h"

#include <string.h>

/* One way to count: inner numbers from 1 (offset 1) or all layers from the top (offset 0). */
struct attempt {
    const struct copper_set *set;
    uint16_t *positions; /* per file */
    int offset;
};

static const struct source_pos nowhere = {0};

static bool is_sided(const struct role_claim *claim, enum copper_side side)
{
    return claim->is_side_known && claim->side == side;
}

static size_t count_sided(const struct copper_set *set, enum copper_side side)
{
    size_t count = 0;
    for (size_t i = 0; i < set->count; i++)
        count += is_sided(&set->files[i].claim, side);
    return count;
}

static bool is_unnumbered_inner(const struct role_claim *claim)
{
    return claim->scheme == SCHEME_NONE && is_sided(claim, SIDE_INNER);
}

/* 0: this claim alone gives none. */
static uint16_t claimed_position(const struct attempt *attempt, const struct role_claim *claim)
{
    if (is_sided(claim, SIDE_TOP))
        return 1;
    switch (claim->scheme) {
    case SCHEME_POSITION:
        return claim->number;
    case SCHEME_INNER:
        return (uint16_t)(claim->number + 1);
    case SCHEME_OPEN_INNER:
    case SCHEME_OPEN_ANY:
        return (uint16_t)(claim->number + attempt->offset);
    case SCHEME_NONE:
        break;
    }
    return is_sided(claim, SIDE_BOTTOM) ? (uint16_t)attempt->set->count : (uint16_t)0;
}

/* An inner layer that is the only one needs no number. */
static void place_single_inner(const struct attempt *attempt)
{
    const struct copper_set *set = attempt->set;
    size_t inner_count = set->count - count_sided(set, SIDE_TOP) - count_sided(set, SIDE_BOTTOM);
    for (size_t i = 0; i < set->count && set->count == 3 && inner_count == 1; i++)
        if (is_unnumbered_inner(&set->files[i].claim) && !set->files[i].claim.is_weak)
            attempt->positions[i] = 2;
}

/* A file may be an outer layer by its number alone only if nothing else is left to be it:
 * "TOP, L2, L3, L4" may have lost its bottom, unless somebody states the number of layers. */
static bool may_be_outer(const struct copper_set *set, const struct role_claim *claim,
                         uint16_t position)
{
    if (claim->scheme == SCHEME_POSITION)
        return true;
    if (claim->scheme != SCHEME_OPEN_ANY)
        return false;
    return position == 1 || count_sided(set, SIDE_TOP) == 0 || set->total == set->count;
}

static bool is_place_right(const struct attempt *attempt, size_t index)
{
    const struct role_claim *claim = &attempt->set->files[index].claim;
    size_t count = attempt->set->count;
    uint16_t position = attempt->positions[index];
    if (position == 0 || position > count)
        return false;
    if (count == 1)
        return !is_sided(claim, SIDE_INNER);
    if (is_sided(claim, SIDE_TOP) || is_sided(claim, SIDE_BOTTOM))
        return position == (is_sided(claim, SIDE_TOP) ? 1 : count);
    return (position > 1 && position < count) || may_be_outer(attempt->set, claim, position);
}

static bool are_positions_right(const struct attempt *attempt)
{
    uint64_t taken[2] = {0};
    for (size_t i = 0; i < attempt->set->count; i++) {
        uint16_t position = attempt->positions[i];
        if (!is_place_right(attempt, i) || position > 127)
            return false;
        uint64_t bit = (uint64_t)1 << (position & 63);
        if (taken[position >> 6] & bit)
            return false;
        taken[position >> 6] |= bit;
    }
    return true;
}

static bool try_offset(struct attempt *attempt, int offset)
{
    attempt->offset = offset;
    for (size_t i = 0; i < attempt->set->count; i++)
        attempt->positions[i] = claimed_position(attempt, &attempt->set->files[i].claim);
    place_single_inner(attempt);
    return are_positions_right(attempt);
}

/* ---- what is wrong ---- */

static enum package_status no_memory_or_refused(const struct diag_list *diags)
{
    return diags->is_out_of_memory ? PACKAGE_NO_MEMORY : PACKAGE_REFUSED;
}

static bool is_same_layer(const struct role_claim *a, const struct role_claim *b)
{
    bool is_same_outer =
        a->is_side_known && b->is_side_known && a->side == b->side && a->side != SIDE_INNER;
    /* Inner layers may be counted in two rows ("mid 1", "plane 1"): no doubles, but no order. */
    bool is_same_number = a->scheme == b->scheme && a->scheme != SCHEME_NONE &&
                          a->scheme != SCHEME_OPEN_INNER && a->number == b->number;
    return is_same_outer || is_same_number;
}

static bool refuse_doubles(const struct copper_set *set, struct arena *arena,
                           struct diag_list *diags)
{
    bool has_double = false;
    for (size_t i = 0; i < set->count; i++) {
        for (size_t j = i + 1; j < set->count; j++) {
            if (!is_same_layer(&set->files[i].claim, &set->files[j].claim))
                continue;
            has_double = true;
            const char *advice = arena_printf(
                arena,
                "name the package of one board only, or set aside what does not belong to "
                "it: --role %s=ignore or --role %s=ignore",
                set->files[i].shown, set->files[j].shown);
            diag_add(diags, DIAG_ERROR, "roles-layer-twice",
                     (struct source_pos){.file_id = set->files[j].out->file_id}, advice,
                     "two files for one copper layer: %s (%s) and %s (%s)", set->files[i].shown,
                     set->files[i].claim.why, set->files[j].shown, set->files[j].claim.why);
        }
    }
    return has_double;
}

static bool refuse_count(const struct copper_set *set, struct diag_list *diags)
{
    if (set->total == 0 || set->total == set->count)
        return false;
    diag_add(diags, DIAG_ERROR, "roles-layer-count", nowhere,
             set->count < set->total
                 ? "add the missing files to the package, or name them by --role FILE=inner:N; if "
                   "the statement is out of date give --role FILE=ignore for the file that makes it"
                 : "give --role FILE=ignore for what is no copper layer of this board",
             "%s says %u copper layers, but %zu copper files were found", set->total_why,
             set->total, set->count);
    return true;
}

/* The file that may be the missing outer layer: one without a role, or the last of the numbers. */
static const char *likely_outer(const struct copper_set *set, bool is_bottom)
{
    const struct copper_file *last = NULL;
    for (size_t i = 0; i < set->count && is_bottom; i++) {
        const struct role_claim *claim = &set->files[i].claim;
        bool may_be = claim->scheme == SCHEME_OPEN_ANY || claim->scheme == SCHEME_POSITION;
        if (may_be && !is_sided(claim, SIDE_TOP) && (!last || claim->number > last->claim.number))
            last = &set->files[i];
    }
    return set->unknown ? set->unknown : last ? last->shown : "FILE";
}

static bool refuse_missing_outer(const struct copper_set *set, struct arena *arena,
                                 struct diag_list *diags)
{
    bool has_top = false, has_bottom = false;
    for (size_t i = 0; i < set->count; i++) {
        const struct role_claim *claim = &set->files[i].claim;
        has_top |= is_sided(claim, SIDE_TOP) || claim->scheme == SCHEME_OPEN_ANY ||
                   (claim->scheme == SCHEME_POSITION && claim->number == 1);
        has_bottom |= is_sided(claim, SIDE_BOTTOM);
    }
    if (has_top && has_bottom)
        return false;
    const char *advice =
        arena_printf(arena, "say which file it is, for example (only you know which): --role %s=%s",
                     likely_outer(set, has_top), has_top ? "bottom" : "top");
    diag_add(diags, DIAG_ERROR, "roles-outer-missing", nowhere, advice,
             "no file is known to be the %s copper layer, though there are inner layers",
             has_top ? "bottom" : "top");
    return true;
}

#define LISTED_MAX 16 /* longer lists help nobody */

/* The file that follows *last when they are listed by their numbers, then as they stand. */
static const struct copper_file *next_inner(const struct copper_set *set,
                                            const struct copper_file *last)
{
    const struct copper_file *best = NULL;
    for (size_t i = 0; i < set->count; i++) {
        const struct copper_file *file = &set->files[i];
        bool is_inner = !is_sided(&file->claim, SIDE_TOP) && !is_sided(&file->claim, SIDE_BOTTOM);
        bool is_behind = !last || file->claim.number > last->claim.number ||
                         (file->claim.number == last->claim.number && file > last);
        if (is_inner && is_behind && (!best || file->claim.number < best->claim.number))
            best = file;
    }
    return best;
}

/*
 * The files that need a place, as names or as the options to type, by the numbers in their names;
 * only the user knows the true order.
 */
static const char *list_inner(const struct copper_set *set, bool as_options, struct arena *arena)
{
    const char *text = "";
    unsigned number = 0;
    for (const struct copper_file *file = next_inner(set, NULL); file && text;
         file = next_inner(set, file)) {
        if (++number > LISTED_MAX)
            return arena_printf(arena, "%s ...", text);
        text = as_options
                   ? arena_printf(arena, "%s --role %s=inner:%u", text, file->shown, number)
                   : arena_printf(arena, "%s%s %s", text, number > 1 ? "," : "", file->shown);
    }
    return text;
}

static enum package_status refuse_order(const struct copper_set *set, struct arena *arena,
                                        struct diag_list *diags)
{
    const char *names = list_inner(set, false, arena), *options = list_inner(set, true, arena);
    const char *advice =
        names && options
            ? arena_printf(arena,
                           "say the order, counted from the top, for example (only you know the "
                           "true order):%s",
                           options)
            : NULL;
    if (!advice)
        return PACKAGE_NO_MEMORY;
    diag_add(diags, DIAG_ERROR, "roles-order", nowhere, advice,
             "the inner copper layers cannot be put in order by their names, or one is missing:%s",
             names);
    return no_memory_or_refused(diags);
}

/* "XYTop, L1, L2, XYBottom": two layers within two others, or two copper layers and two of another
 * kind. NULL if there is no such doubt. */
static const struct copper_file *doubtful_outer(const struct copper_set *set)
{
    const struct copper_file *weak = NULL;
    bool has_first = false;
    for (size_t i = 0; i < set->count; i++) {
        const struct role_claim *claim = &set->files[i].claim;
        has_first |= claim->scheme == SCHEME_OPEN_ANY && claim->number == 1;
        if (claim->is_weak && (is_sided(claim, SIDE_TOP) || is_sided(claim, SIDE_BOTTOM)))
            weak = &set->files[i];
    }
    return has_first ? weak : NULL;
}

static bool refuse_doubtful_outer(const struct copper_set *set, struct arena *arena,
                                  struct diag_list *diags)
{
    const struct copper_file *weak = doubtful_outer(set);
    if (!weak)
        return false;
    const char *word = weak->claim.side == SIDE_TOP ? "top" : "bottom";
    const char *advice = arena_printf(
        arena, "say what each such file is: --role %s=%s (or mask-top, mask-bottom, ignore)",
        weak->shown, word);
    diag_add(diags, DIAG_ERROR, "roles-outer-doubtful",
             (struct source_pos){.file_id = weak->out->file_id}, advice,
             "%s may be the %s copper layer by its name, but there is also a layer 1", weak->shown,
             word);
    return true;
}

static enum package_status refuse(const struct copper_set *set, struct arena *arena,
                                  struct diag_list *diags)
{
    if (refuse_doubtful_outer(set, arena, diags))
        return no_memory_or_refused(diags);
    if (refuse_doubles(set, arena, diags) || refuse_count(set, diags) ||
        refuse_missing_outer(set, arena, diags))
        return no_memory_or_refused(diags);
    return refuse_order(set, arena, diags);
}

/* ---- the whole ---- */

static void hand_over(const struct attempt *attempt)
{
    size_t count = attempt->set->count;
    for (size_t i = 0; i < count; i++) {
        struct file_role *out = attempt->set->files[i].out;
        const struct role_claim *claim = &attempt->set->files[i].claim;
        out->position = attempt->positions[i];
        out->side = out->position == 1       ? SIDE_TOP
                    : out->position == count ? SIDE_BOTTOM
                                             : SIDE_INNER;
        if (count == 1)
            out->side = is_sided(claim, SIDE_BOTTOM) ? SIDE_BOTTOM : SIDE_TOP;
    }
}

static void warn_odd(const struct copper_set *set, struct diag_list *diags)
{
    if (set->count > 1 && set->count % 2 == 1)
        diag_add(diags, DIAG_WARNING, "roles-odd-count", nowhere,
                 "check that no copper layer is missing from the package",
                 "the board has an odd number of copper layers (%zu)", set->count);
}

enum package_status order_copper(struct copper_set *set, struct arena *arena,
                                 struct diag_list *diags)
{
    struct attempt attempt = {.set = set};
    attempt.positions = arena_alloc(arena, set->count + 1, sizeof *attempt.positions);
    if (!attempt.positions)
        return PACKAGE_NO_MEMORY;
    bool is_total_right = set->total == 0 || set->total == set->count;
    if (!is_total_right || doubtful_outer(set) || set->count == 0 ||
        !(try_offset(&attempt, 0) || try_offset(&attempt, 1)))
        return refuse(set, arena, diags);
    hand_over(&attempt);
    warn_odd(set, diags);
    return diags->is_out_of_memory ? PACKAGE_NO_MEMORY : PACKAGE_OK;
}
