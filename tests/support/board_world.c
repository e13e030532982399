#include "board_world.h"

#include "assertions.h"

struct board_world *bw_new(void)
{
    struct board_world *world = calloc(1, sizeof *world);
    assert_non_null(world);
    world->arena = arena_new("test");
    world->diags.arena = world->arena;
    board_facts_default(&world->facts);
    return world;
}

void bw_free(struct board_world *world)
{
    board_free(&world->board);
    file_table_free(&world->files);
    arena_free(world->arena);
    free(world);
}

void bw_file(struct board_world *world, const char *name, const char *text)
{
    assert_true(file_table_add(&world->files, name, (const uint8_t *)text, strlen(text), true) > 0);
}

const char *bw_text(struct board_world *world, const char *first, ...)
{
    va_list args;
    va_start(args, first);
    const char *text = first;
    for (const char *more; (more = va_arg(args, const char *));)
        text = arena_printf(world->arena, "%s%s", text, more);
    va_end(args);
    assert_non_null(text);
    return text;
}

void bw_table(struct board_world *world, const char *csv)
{
    uint32_t file =
        file_table_add(&world->files, "table.csv", (const uint8_t *)csv, strlen(csv), false);
    enum currents_status status = currents_read(file, (const uint8_t *)csv, strlen(csv),
                                                world->arena, &world->diags, &world->table);
    if (status != CURRENTS_OK)
        bw_print(world);
    assert_int_equal(status, CURRENTS_OK);
    world->has_table = true;
}

enum board_status bw_read(struct board_world *world)
{
    board_free(&world->board);
    world->status =
        board_read(&world->files, &world->facts, world->has_table ? &world->table : NULL,
                   &world->options, world->arena, &world->diags, &world->board);
    return world->status;
}

void bw_must_read(struct board_world *world)
{
    if (bw_read(world) != BOARD_OK) {
        bw_print(world);
        fail_msg("the board was refused");
    }
}

void bw_print(const struct board_world *world)
{
    for (size_t i = 0; i < world->diags.count; i++) {
        const struct diag *diag = &world->diags.items[i];
        const char *file = diag->at.file_id ? world->files.files[diag->at.file_id - 1].name : "-";
        print_error("%d %s:%u:%u [%s] %s\n", (int)diag->level, file, diag->at.line, diag->at.column,
                    diag->code, diag->text);
    }
}

const struct diag *bw_diag(const struct board_world *world, const char *code)
{
    for (size_t i = 0; i < world->diags.count; i++)
        if (strcmp(world->diags.items[i].code, code) == 0)
            return &world->diags.items[i];
    return NULL;
}

const struct net *bw_net(const struct board_world *world, const char *name)
{
    const struct net *net = board_find_net(&world->board, name);
    if (!net)
        fail_msg("no net %s", name);
    return net;
}

const struct terminal *bw_terminal(const struct board_world *world, const char *name)
{
    for (size_t t = 0; t < world->board.terminal_count; t++)
        if (strcmp(world->board.terminals[t].name, name) == 0)
            return &world->board.terminals[t];
    for (size_t t = 0; t < world->board.terminal_count; t++)
        print_error("there is terminal %s\n", world->board.terminals[t].name);
    fail_msg("no terminal %s", name);
    return NULL;
}

const struct board_hole *bw_hole(const struct board_world *world, int64_t x_um, int64_t y_um)
{
    for (size_t h = 0; h < world->board.hole_count; h++) {
        const struct hole *hole = &world->board.holes[h].hole;
        if (hole->from.x_nm == x_um * 1000 && hole->from.y_nm == y_um * 1000)
            return &world->board.holes[h];
    }
    fail_msg("no hole at %d, %d um", (int)x_um, (int)y_um);
    return NULL;
}
