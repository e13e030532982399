/* Job files: any bytes up to 64 KiB. */
#include "isthmus/package.h"

#include <stdlib.h>

#define LIMIT ((size_t)1 << 16)

static void check(const struct job_facts *job)
{
    if (job->layer_count > 64 || job->board_thickness_mm <= 0 || job->size_x_mm <= 0)
        abort();
    for (size_t i = 0; i < job->copper_count; i++)
        if (job->copper_um[i] <= 0)
            abort();
    for (size_t i = 0; i < job->entry_count; i++) {
        const struct job_file_entry *entry = &job->entries[i];
        if (!entry->path)
            abort();
        for (uint32_t f = 0; f < entry->file_function_count; f++)
            if (!entry->file_function[f])
                abort();
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (size > LIMIT)
        return 0;
    struct arena *arena = arena_new("fuzz");
    struct diag_list diags = {.arena = arena};
    struct job_facts job;
    enum package_status status = job_read(1, bytes, size, arena, &diags, &job);
    if ((status == PACKAGE_OK) == diag_has_errors(&diags))
        abort();
    check(&job);
    job_looks_like(bytes, size);
    arena_free(arena);
    return 0;
}
