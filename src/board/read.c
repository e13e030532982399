/* board_read(): the steps in their order, and the small questions asked of a board. */
#include "build.h"

#include <stdlib.h>
#include <string.h>

struct cover *build_cover(struct build *build, uint16_t layer)
{
    struct cover **cover = &build->covers[layer - 1];
    if (!*cover)
        *cover = cover_new(build->board->layers[layer - 1].drawing);
    return *cover;
}

void build_free(struct build *build)
{
    const struct board *board = build->board;
    for (size_t l = 0; l < board->layer_count; l++) {
        if (build->covers)
            cover_free(build->covers[l]);
        if (build->locators)
            locator_free(build->locators[l]);
    }
    for (int s = 0; s < 2; s++) {
        locator_free(build->masks[s].locator);
        sheet_mesh_free(&build->masks[s].mesh);
    }
    grid_free(build->profile.edge);
    grid_free(build->pad_grid);
    grid_free(build->hole_grid);
    cores_free(build);
    free(build->pads);
    free(build->drafts);
    arena_free(build->scratch);
}

static enum board_status prepare_covers(struct build *build)
{
    build->covers =
        arena_alloc(build->scratch, build->board->layer_count + 1, sizeof(struct cover *));
    return build->covers ? BOARD_OK : BOARD_NO_MEMORY;
}

static enum board_status run_steps(struct build *build)
{
    static enum board_status (*const steps[])(struct build *) = {
        build_sources,   prepare_covers, build_facts,      build_holes,
        build_origin,    build_profile,  build_job_check,  build_finish_holes,
        build_alignment, build_masks,    build_pads,       build_points,
        build_contacts,  build_meshes,   build_conductors, build_settle_contacts,
        build_bounds,    build_nets,     build_bared,      build_beyond,
    };
    enum board_status status = BOARD_OK;
    for (size_t i = 0; status == BOARD_OK && i < sizeof steps / sizeof *steps; i++)
        status = steps[i](build);
    return status;
}

enum board_status board_read(struct file_table *files, const struct board_facts *facts,
                             const struct current_table *table, const struct board_options *options,
                             struct arena *arena, struct diag_list *diags, struct board *out)
{
    static const struct board_options no_options;
    *out = (struct board){.arena = arena, .files = files, .facts = *facts};
    struct build build = {.files = files,
                          .table = table,
                          .options = options ? options : &no_options,
                          .arena = arena,
                          .diags = diags,
                          .board = out,
                          .scratch = arena_new("board scratch")};
    enum board_status status = build.scratch ? run_steps(&build) : BOARD_NO_MEMORY;
    build_free(&build);
    if (status != BOARD_OK)
        board_free(out);
    return status;
}

void board_free(struct board *board)
{
    if (!board)
        return;
    for (size_t l = 0; l < board->layer_count; l++) {
        paint_free(&board->layers[l].paint);
        sheet_mesh_free(&board->layers[l].mesh);
        sheet_islands_free(&board->layers[l].islands);
    }
    board->layer_count = 0;
}

const char *layer_word(const struct board *board, uint16_t position, char buffer[16])
{
    if (position <= 1)
        return "top";
    if (position == board->layer_count)
        return "bottom";
    size_t at = sizeof "inner:" - 1;
    memcpy(buffer, "inner:", at);
    unsigned number = position - 1u, digits = 0;
    char reversed[8];
    do
        reversed[digits++] = (char)('0' + number % 10);
    while (number /= 10);
    while (digits)
        buffer[at++] = reversed[--digits];
    buffer[at] = '\0';
    return buffer;
}

struct pos_nm board_to_file(const struct board *board, struct pt at)
{
    return (struct pos_nm){at.x + board->origin.x_nm, at.y + board->origin.y_nm};
}

const struct net *board_find_net(const struct board *board, const char *name)
{
    for (size_t n = 0; n < board->net_count; n++)
        if (strcmp(board->nets[n].name, name) == 0)
            return &board->nets[n];
    return NULL;
}
