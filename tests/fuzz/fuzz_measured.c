/* The table of bench readings: any bytes up to 64 KiB. What is read must compare and print. */
#include "isthmus/compare.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LIMIT ((size_t)1 << 16)

static void print_all(const struct measured *measured)
{
    struct compare_conductor conductor;
    compare_conductor_default(&conductor);
    conductor.width_mm = 1;
    conductor.thickness_mm = 0.035;
    struct compare_point points[READINGS_MOST];
    for (size_t i = 0; i < measured->count; i++) {
        points[i] = compare_point_make(&conductor, &measured->readings[i]);
        if (!(points[i].standard_k >= 0) || points[i].line_count > COMPARE_LINES)
            abort();
    }
    const struct compare_report report = {&conductor, points, measured->count, NULL};
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    if (!out)
        return;
    compare_text(&report, out);
    compare_svg(&report, out);
    fclose(out);
    free(text);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (size > LIMIT)
        return 0;
    struct arena *arena = arena_new("fuzz");
    struct diag_list diags = {.arena = arena};
    struct measured measured;
    enum measured_status status = measured_read(1, bytes, size, arena, &diags, &measured);
    if ((status == MEASURED_OK) == diag_has_errors(&diags))
        abort();
    for (size_t i = 0; i < diags.count; i++)
        if (diags.items[i].at.line == 0)
            abort();
    if (status == MEASURED_OK)
        print_all(&measured);
    arena_free(arena);
    return 0;
}
