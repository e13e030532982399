/* Drill files: any bytes up to 64 KiB, with and without a score. What is read must hold together.
 */
#include "isthmus/holes.h"

#include <math.h>
#include <stdlib.h>

#define LIMIT ((size_t)1 << 16)
#define MOST_HOLES 20000 /* repeats multiply */

static double score(const struct hole *holes, size_t count, void *context)
{
    size_t near_count = 0;
    (void)context;
    for (size_t i = 0; i < count; i++)
        near_count += holes[i].from.x_nm > -1000000 && holes[i].from.x_nm < 100000000;
    return count ? (double)near_count / (double)count : 0;
}

static void check(const struct hole_list *list)
{
    size_t tool_holes = 0;
    for (size_t i = 0; i < list->hole_count; i++) {
        const struct hole *hole = &list->holes[i];
        if (hole->diameter_nm <= 0 || hole->at.line == 0 ||
            llabs(hole->from.x_nm) > INT64_C(40000000000000) ||
            llabs(hole->to.y_nm) > INT64_C(40000000000000))
            abort();
    }
    for (size_t i = 0; i < list->tool_count; i++)
        tool_holes += list->tools[i].hole_count;
    if (tool_holes > list->hole_count || !list->reading)
        abort();
}

static void read_one(const uint8_t *bytes, size_t size, const struct drill_options *options)
{
    struct arena *arena = arena_new("fuzz");
    struct diag_list diags = {.arena = arena};
    struct hole_list list;
    enum holes_status status = drill_read(1, bytes, size, options, arena, &diags, &list);
    if (status == HOLES_OK)
        check(&list);
    else if (list.hole_count != 0)
        abort();
    if ((status == HOLES_REFUSED) != (diags.error_count > 0))
        abort();
    arena_free(arena);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size);
int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t size)
{
    if (size > LIMIT)
        return 0;
    struct drill_options options = {.max_holes = MOST_HOLES};
    read_one(bytes, size, &options);
    options.score = score;
    read_one(bytes, size, &options);
    return 0;
}
