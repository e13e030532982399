/*
 * Drill files that do not say how their digits are meant: the reading that lands the holes on pads
 * is the right one. Pads are those of the copper and the openings of the solder masks (a mounting
 * hole often has an opening and no copper). --drill-format states a reading; a file that nothing
 * decides follows the others of its package.
 */
#include "sources.h"

#include <string.h>

struct score {
    struct hole_fit *fit;
    bool has_drawings;
    const struct drill_reading **forced; /* per role entry, NULL: not stated by an option */
};

static bool has_pads(enum role role)
{
    return role == ROLE_COPPER || role == ROLE_MASK_TOP || role == ROLE_MASK_BOTTOM;
}

static bool fit_drawings(struct score *score, const struct build *build)
{
    const struct board *board = build->board;
    size_t room = board->role_count + 1, pad_count = 0, other_count = 0;
    const struct drawing **pads = arena_alloc(build->scratch, room, sizeof *pads);
    const struct drawing **others = arena_alloc(build->scratch, room, sizeof *others);
    if (!pads || !others)
        return false;
    for (size_t i = 0; i < board->role_count; i++) {
        if (board->drawings[i].object_count == 0)
            continue;
        if (has_pads(board->roles[i].role))
            pads[pad_count++] = &board->drawings[i];
        else if (board->roles[i].role == ROLE_PROFILE)
            others[other_count++] = &board->drawings[i];
    }
    score->has_drawings = pad_count + other_count > 0;
    score->fit = hole_fit_new(pads, pad_count, others, other_count, build->scratch);
    return score->fit != NULL;
}

/* ---- --drill-format FILE=READING ----------------------------------------------------------- */

static bool ends_in(const char *text, const char *tail)
{
    size_t length = strlen(text), tail_length = strlen(tail);
    return tail_length > 0 && length >= tail_length &&
           strcmp(text + length - tail_length, tail) == 0;
}

static bool is_whole_tail(const char *name, const char *wanted)
{
    size_t length = strlen(name), tail_length = strlen(wanted);
    return ends_in(name, wanted) &&
           (length == tail_length || name[length - tail_length - 1] == '/');
}

/* The drill files whose names end in what is wanted; whole path parts are better than others. */
static size_t find_drills(const struct build *build, const struct sources *sources,
                          const char *wanted, bool is_whole, size_t *first)
{
    size_t count = 0;
    for (size_t i = sources->count; i-- > 0;) {
        const char *name = build->files->files[sources->hints[i].file_id - 1].name;
        bool is_match = is_whole ? is_whole_tail(name, wanted) : ends_in(name, wanted);
        if (sources->hints[i].content != CONTENT_DRILL || !is_match)
            continue;
        count++;
        *first = i;
    }
    return count;
}

static void take_option(struct score *score, struct build *build, const struct sources *sources,
                        const struct drill_format_option *option)
{
    size_t index = 0;
    size_t count = find_drills(build, sources, option->file, true, &index);
    if (count == 0)
        count = find_drills(build, sources, option->file, false, &index);
    if (count == 1 && !score->forced[index]) {
        score->forced[index] = &option->reading;
        return;
    }
    diag_add(build->diags, DIAG_ERROR, "drill-format-file", (struct source_pos){0, 0, 0},
             "give the name of one drill file once, as `isthmus inspect` shows it",
             "--drill-format %s: %s", option->file,
             count == 0   ? "no such drill file in the package"
             : count == 1 ? "that file has a reading already"
                          : "several drill files have that name");
}

struct score *score_new(struct build *build, const struct sources *sources)
{
    struct score *score = arena_alloc(build->scratch, 1, sizeof *score);
    if (!score || !fit_drawings(score, build))
        return NULL;
    score->forced = arena_alloc(build->scratch, sources->count + 1, sizeof *score->forced);
    if (!score->forced)
        return NULL;
    for (size_t i = 0; i < build->options->drill_format_count; i++)
        take_option(score, build, sources, &build->options->drill_formats[i]);
    return score;
}

/* ---- reading ------------------------------------------------------------------------------- */

static enum holes_status read_file(struct build *build, struct score *score,
                                   struct sources *sources, size_t index,
                                   const struct drill_reading *lent)
{
    uint32_t file_id = sources->hints[index].file_id;
    const struct source_file *file = &build->files->files[file_id - 1];
    struct drill_options options = {.forced = score->forced[index],
                                    .lent = lent,
                                    .score = score->has_drawings ? hole_fit_score : NULL,
                                    .score_context = score->fit};
    return drill_read(file_id, file->bytes, file->size, &options, build->arena,
                      &build->file_diags[index], &sources->lists[index]);
}

enum holes_status score_read(struct build *build, struct score *score, struct sources *sources,
                             size_t index)
{
    return read_file(build, score, sources, index, NULL);
}

static bool is_same_reading(const struct drill_reading *a, const struct drill_reading *b)
{
    return a->is_inch == b->is_inch && a->zeros == b->zeros &&
           a->integer_digits == b->integer_digits && a->decimal_digits == b->decimal_digits;
}

/* The one reading of all drill files that have holes and were read, or NULL. */
static const struct drill_reading *common_reading(const struct sources *sources)
{
    const struct drill_reading *common = NULL;
    for (size_t i = 0; i < sources->count; i++) {
        const struct hole_list *list = &sources->lists[i];
        if (sources->hints[i].content != CONTENT_DRILL || list->hole_count == 0)
            continue;
        if (common && !is_same_reading(common, &list->used))
            return NULL;
        common = &list->used;
    }
    return common;
}

static void tell_shared(struct build *build, struct hole_list *list)
{
    if (!list->reading)
        return;
    size_t length = strcspn(list->reading, "(");
    char *text =
        arena_printf(build->arena, "%.*s(as the other drill files)", (int)length, list->reading);
    if (text)
        list->reading = text;
    list->is_reading_stated = false;
}

enum holes_status score_read_undecided(struct build *build, struct score *score,
                                       struct sources *sources)
{
    const struct drill_reading *found = common_reading(sources);
    if (!found)
        return HOLES_OK;
    struct drill_reading common = *found;
    for (size_t i = 0; i < sources->count; i++) {
        if (!sources->lists[i].is_reading_open)
            continue;
        uint32_t file_id = sources->hints[i].file_id;
        build->file_diags[i] = (struct diag_list){.arena = build->scratch};
        if (read_file(build, score, sources, i, &common) == HOLES_NO_MEMORY)
            return HOLES_NO_MEMORY;
        if (sources->lists[i].hole_count == 0)
            continue;
        diag_add(&build->file_diags[i], DIAG_NOTE, "drill-reading-shared",
                 (struct source_pos){file_id, 0, 0}, NULL,
                 "the file does not say how its digits are to be read, and its holes do not decide "
                 "it: read as the other drill files of the package");
        tell_shared(build, &sources->lists[i]);
    }
    return HOLES_OK;
}
