/*
 * Drill files that do not say how their digits are meant: the reading that lands the holes on pads
 * is the right one. Flashes of the copper and of the solder masks are the pads looked for (a
 * mounting hole often has a mask opening and no copper); a hole on none of them but inside what is
 * drawn counts a little, so that a file of a few unpadded holes can still be told.
 */
#include "sources.h"

#include <stdlib.h>

#define PAD_TOLERANCE_NM 50000
#define INSIDE_WORTH 0.3
#define OUTSIDE_SLACK_NM (5 * NM_PER_MM)

struct score {
    struct grid *pads;
    size_t pad_count;
    struct box extent; /* copper, profile and masks */
};

static bool is_scored_role(enum role role)
{
    return role == ROLE_COPPER || role == ROLE_MASK_TOP || role == ROLE_MASK_BOTTOM;
}

static bool add_pads(struct score *score, const struct drawing *drawing)
{
    for (size_t i = 0; i < drawing->object_count; i++) {
        const struct object *object = &drawing->objects[i];
        if (object->kind != OBJECT_FLASH || !object->is_dark || !object->fill_count)
            continue;
        if (!grid_add(score->pads, object->from, (uint32_t)i))
            return false;
        score->pad_count++;
    }
    return true;
}

static void measure(struct score *score, const struct build *build, size_t *object_count)
{
    const struct board *board = build->board;
    for (size_t i = 0; i < board->role_count; i++) {
        enum role role = board->roles[i].role;
        if (!is_scored_role(role) && role != ROLE_PROFILE)
            continue;
        struct box box = {board->drawings[i].min, board->drawings[i].max};
        box_join(&score->extent, box);
        *object_count += board->drawings[i].object_count;
    }
}

struct score *score_new(struct build *build)
{
    const struct board *board = build->board;
    struct score *score = calloc(1, sizeof *score);
    if (!score)
        return NULL;
    size_t object_count = 0;
    score->extent = BOX_EMPTY;
    measure(score, build, &object_count);
    score->pads = grid_new(score->extent, object_count);
    bool is_done = score->pads != NULL;
    for (size_t i = 0; is_done && i < board->role_count; i++)
        if (is_scored_role(board->roles[i].role))
            is_done = add_pads(score, &board->drawings[i]);
    if (is_done)
        return score;
    score_free(score);
    return NULL;
}

void score_free(struct score *score)
{
    if (!score)
        return;
    grid_free(score->pads);
    free(score);
}

static double score_holes(const struct hole *holes, size_t count, void *context)
{
    const struct score *score = context;
    struct box around = score->extent;
    around.min.x_nm -= OUTSIDE_SLACK_NM;
    around.min.y_nm -= OUTSIDE_SLACK_NM;
    around.max.x_nm += OUTSIDE_SLACK_NM;
    around.max.y_nm += OUTSIDE_SLACK_NM;
    double sum = 0;
    size_t inside = 0;
    for (size_t i = 0; i < count; i++) {
        struct pos_nm at = hole_middle(&holes[i]);
        if (!box_holds(around, at))
            continue;
        inside++;
        uint64_t cursor = 0;
        bool is_on_pad = grid_next(score->pads, at, PAD_TOLERANCE_NM, &cursor) != ISTHMUS_NONE;
        sum += is_on_pad ? 1 : INSIDE_WORTH;
    }
    /* One hole in twenty may lie off the board (tooling); more, and the reading is wrong. */
    if (count == 0 || (count - inside) * 20 > count)
        return 0;
    return sum / (double)count;
}

enum holes_status score_read(struct build *build, struct score *score, size_t index,
                             const struct file_hint *hint, struct hole_list *out)
{
    const struct source_file *file = &build->files->files[hint->file_id - 1];
    struct drill_options options = {.score = score_holes, .score_context = score};
    if (box_is_empty(score->extent))
        options.score = NULL;
    return drill_read(hint->file_id, file->bytes, file->size, &options, build->arena,
                      &build->file_diags[index], out);
}
