/*
 * A program outside the project, on the installed headers and library alone (test_install.sh): the
 * check of a package by its table, one line a verdict and a finding.
 *
 *     external PACKAGE TABLE.csv
 */
#include <isthmus/report.h>
#include <isthmus/version.h>

#include <stdio.h>
#include <stdlib.h>

struct work {
    struct arena *arena;
    struct file_table files;
    struct diag_list diags;
    struct current_table table;
    struct board board;
};

static int fail(const struct work *work, const char *what)
{
    fprintf(stderr, "%s\n", what);
    report_diags(&work->files, &work->diags, false, stderr);
    return 2;
}

static int read_table(struct work *work, const char *path)
{
    static unsigned char bytes[1 << 16];
    FILE *file = fopen(path, "rb");
    size_t size = file ? fread(bytes, 1, sizeof bytes, file) : 0;
    if (file)
        fclose(file);
    uint32_t id = size ? file_table_add(&work->files, path, bytes, size, false) : 0;
    return id &&
           currents_read(id, bytes, size, work->arena, &work->diags, &work->table) == CURRENTS_OK;
}

static int check(struct work *work, const char *package, const char *table)
{
    struct board_facts facts;
    struct board_options options = {.max_objects = 1000000};
    struct package_limits limits = package_default_limits;
    board_facts_default(&facts);
    if (!read_table(work, table))
        return fail(work, "no table");
    if (package_read(&package, 1, &limits, work->arena, &work->files, &work->diags) != PACKAGE_OK)
        return fail(work, "no package");
    if (board_read(&work->files, &facts, &work->table, &options, work->arena, &work->diags,
                   &work->board) != BOARD_OK)
        return fail(work, "no board");
    const struct rule_context context = {.board = &work->board,
                                         .table = &work->table,
                                         .margin_limit = 3,
                                         .arena = work->arena,
                                         .diags = &work->diags};
    struct check_result result;
    if (rules_run(&context, &result) != RULE_OK)
        return fail(work, "no memory");
    for (size_t i = 0; i < result.verdict_count; i++)
        printf("%s verdict %d margin %.3f\n", work->board.nets[result.verdicts[i].net].name,
               (int)result.verdicts[i].verdict, result.verdicts[i].margin);
    for (size_t i = 0; i < result.finding_count; i++)
        printf("finding %.3f mm\n", result.findings[i].places[0].width_mm);
    board_free(&work->board);
    return 0;
}

int main(int argc, char **argv)
{
    struct work work = {.arena = arena_new("external")};
    work.diags.arena = work.arena;
    if (argc != 3 || !work.arena)
        return 2;
    printf("isthmus %s\n", ISTHMUS_VERSION);
    int code = check(&work, argv[1], argv[2]);
    file_table_free(&work.files);
    arena_free(work.arena);
    return code;
}
