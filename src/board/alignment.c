/*
 * Do the files lie on each other? An outline of something else, drills exported with another origin
 * and a mirrored bottom are read without a fault each; only together they are wrong. Of 17 real
 * packages none has a pad beyond its edge, and on outer layers the holes fit the pads by 90 % or
 * more.
 */
#include "build.h"

#include <stdlib.h>
#include <string.h>

/* ---- pads beyond the edge ---- */

#define BEYOND_ONE_IN 20 /* marks and coupons beside the board */
#define BEYOND_FEW 2

static bool is_beyond_edge(const struct build *build, const struct drawing *drawing,
                           const struct object *object)
{
    const struct aperture *aperture = &drawing->apertures[object->aperture];
    int64_t side =
        aperture->width_nm > aperture->height_nm ? aperture->width_nm : aperture->height_nm;
    double reach = (double)side / 2;
    return !profile_holds(&build->profile, object->from) &&
           profile_edge_distance_nm(&build->profile, object->from, reach) >= reach;
}

static void check_edge(struct build *build)
{
    const struct board *board = build->board;
    size_t pad_count = 0, beyond_count = 0;
    if (!build->profile.is_chosen || build->options->has_board_at)
        return;
    for (size_t l = 0; l < board->layer_count; l++) {
        const struct drawing *drawing = board->layers[l].drawing;
        for (size_t i = 0; i < drawing->object_count && !board->layers[l].is_negative; i++) {
            const struct object *object = &drawing->objects[i];
            if (object->kind != OBJECT_FLASH || !object->is_dark)
                continue;
            pad_count++;
            beyond_count += is_beyond_edge(build, drawing, object);
        }
    }
    if (beyond_count > BEYOND_FEW)
        diag_add(
            build->diags, beyond_count * BEYOND_ONE_IN > pad_count ? DIAG_ERROR : DIAG_WARNING,
            "pads-beyond-edge", (struct source_pos){0, 0, 0},
            "see that the profile drawing shows this board's edge, from the same origin as the "
            "copper; name another with --role FILE=profile, or say which board is meant with "
            "--board-at X,Y",
            "%zu of %zu pads lie beyond the board's edge: what is there was not judged",
            beyond_count, pad_count);
}

/* ---- holes beside their pads ---- */

#define FEWEST_HOLES 8
#define SURELY_OFF 0.5
#define PERHAPS_OFF 0.8

/* Holes of this board that may be plated and reach the layer. */
static size_t holes_through(const struct build *build, const struct copper_layer *layer,
                            struct hole *out)
{
    const struct board *board = build->board;
    size_t count = 0;
    for (size_t h = 0; h < board->hole_count; h++) {
        const struct board_hole *hole = &board->holes[h];
        bool is_through = hole->layer_from <= layer->position && hole->layer_to >= layer->position;
        bool is_on_board =
            !build->profile.is_chosen || profile_holds(&build->profile, hole_middle(&hole->hole));
        if (is_through && is_on_board && hole->hole.plating != PLATING_NONE)
            out[count++] = hole->hole;
    }
    return count;
}

/* Pads that are painted or filled in have no place to compare with. */
static bool has_flashed_pads(const struct drawing *drawing, size_t hole_count)
{
    size_t count = 0;
    for (size_t i = 0; i < drawing->object_count; i++)
        count += drawing->objects[i].kind == OBJECT_FLASH && drawing->objects[i].is_dark;
    return 2 * count >= hole_count;
}

static void tell_off(struct build *build, const struct copper_layer *layer, double score)
{
    bool is_sure = score < SURELY_OFF;
    char word[16];
    diag_add(
        build->diags, is_sure ? DIAG_ERROR : DIAG_WARNING, "holes-beside-pads",
        (struct source_pos){layer->file_id, 0, 0},
        "export drawings and drills again from one origin, none of them mirrored; look at them "
        "with `isthmus inspect --svg FILE`",
        "the holes fit the pads of copper layer %s only by %.0f %%%s",
        layer_word(build->board, layer->position, word), 100 * score,
        is_sure ? ": they are shifted, mirrored or of another board" : "");
}

static enum board_status check_layer(struct build *build, const struct copper_layer *layer,
                                     struct hole *holes)
{
    const struct drawing *drawings[1] = {layer->drawing};
    size_t count = holes_through(build, layer, holes);
    if (count < FEWEST_HOLES || layer->is_negative || !has_flashed_pads(layer->drawing, count))
        return BOARD_OK;
    struct hole_fit *fit = hole_fit_new(drawings, 1, NULL, 0, build->scratch);
    if (!fit)
        return BOARD_NO_MEMORY;
    double score = hole_fit_score(holes, count, fit);
    if (score < PERHAPS_OFF)
        tell_off(build, layer, score);
    return BOARD_OK;
}

enum board_status build_alignment(struct build *build)
{
    const struct board *board = build->board;
    struct hole *holes = arena_alloc(build->scratch, board->hole_count + 1, sizeof *holes);
    if (!holes)
        return BOARD_NO_MEMORY;
    check_edge(build);
    enum board_status status = check_layer(build, &board->layers[0], holes);
    if (status == BOARD_OK && board->layer_count > 1)
        status = check_layer(build, &board->layers[board->layer_count - 1], holes);
    return status;
}
