/*
 * Zips: any bytes up to 64 KiB; and roles for names that any bytes give. Nothing may be unpacked
 * beyond the limits, files come sorted, and a decided set of copper layers is complete.
 */
#include "isthmus/package.h"

#include <stdlib.h>
#include <string.h>

#define LIMIT ((size_t)1 << 16)
#define FILE_BYTES_MAX ((uint64_t)1 << 20)
#define TOTAL_BYTES_MAX ((uint64_t)1 << 22)

static void check_files(const struct file_table *files)
{
    uint64_t total_bytes = 0;
    for (size_t i = 0; i < files->count; i++) {
        const struct source_file *file = &files->files[i];
        total_bytes += file->size;
        if (file->size > FILE_BYTES_MAX || !*file->name ||
            (i > 0 && strcmp(files->files[i - 1].name, file->name) >= 0))
            abort();
    }
    if (total_bytes > TOTAL_BYTES_MAX)
        abort();
}

static void check_roles(const struct file_role *roles, size_t count)
{
    uint8_t taken[1 << 8] = {0};
    size_t copper_count = 0;
    for (size_t i = 0; i < count; i++) {
        if (roles[i].role != ROLE_COPPER)
            continue;
        copper_count++;
        if (roles[i].position == 0 || roles[i].position > 255 || taken[roles[i].position]++)
            abort();
    }
    for (size_t position = 1; position <= copper_count; position++)
        if (!taken[position])
            abort();
    if (copper_count == 0)
        abort();
}

static void decide(const struct file_table *files, struct arena *arena)
{
    struct diag_list diags = {.arena = arena};
    struct file_hint *hints = arena_alloc(arena, files->count + 1, sizeof *hints);
    struct file_role *roles = arena_alloc(arena, files->count + 1, sizeof *roles);
    for (size_t i = 0; i < files->count; i++) {
        const struct source_file *file = &files->files[i];
        hints[i].file_id = (uint32_t)i + 1;
        hints[i].content = file->size % 4 == 3 ? CONTENT_DRILL : CONTENT_DRAWING;
        hints[i].stroke_count = 1;
    }
    struct role_option option = {"a", "top"};
    enum package_status status = roles_decide(files, hints, files->count, NULL, &option,
                                              files->count % 2, arena, &diags, roles);
    if ((status == PACKAGE_OK) == diag_has_errors(&diags))
        abort();
    if (status == PACKAGE_OK)
        check_roles(roles, files->count);
}

/* Every line of the input is a file's name. */
static void decide_lines(const uint8_t *bytes, size_t size, struct arena *arena)
{
    struct file_table files = {0};
    for (size_t at = 0; at < size && files.count < 100;) {
        const uint8_t *end = memchr(bytes + at, '\n', size - at);
        size_t length = end ? (size_t)(end - bytes) - at : size - at;
        const char *name = arena_strndup(arena, (const char *)bytes + at, length);
        file_table_add(&files, name, bytes, length, true);
        at += length + 1;
    }
    decide(&files, arena);
    file_table_free(&files);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (size > LIMIT)
        return 0;
    const struct package_limits limits = {.entry_count = 100,
                                          .nesting = 2,
                                          .file_bytes = FILE_BYTES_MAX,
                                          .total_bytes = TOTAL_BYTES_MAX,
                                          .ratio = 50};
    struct arena *arena = arena_new("fuzz");
    struct diag_list diags = {.arena = arena};
    struct file_table files = {0};
    enum package_status status =
        package_read_bytes("p.zip", bytes, size, &limits, arena, &files, &diags);
    if ((status == PACKAGE_OK) == diag_has_errors(&diags))
        abort();
    if (status == PACKAGE_OK)
        check_files(&files);
    if (status == PACKAGE_OK)
        decide(&files, arena);
    file_table_free(&files);
    decide_lines(bytes, size, arena);
    arena_free(arena);
    return 0;
}
