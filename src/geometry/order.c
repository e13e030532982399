/* Memory, boxes, and the order in which points are best inserted. */
#include "geometry/internal.h"

#include <stdlib.h>
#include <string.h>

void *mesh_alloc(size_t count, size_t size)
{
    void *memory = NULL;
    size_t capacity = 0;
    return array_grow(&memory, size, &capacity, count ? count : 1) ? memory : NULL;
}

void *mesh_calloc(size_t count, size_t size)
{
    void *memory = mesh_alloc(count, size);
    return memory ? memset(memory, 0, count * size) : NULL;
}

static bool is_frame_pt(struct pt at)
{
    return abs(at.x) >= PAINT_FRAME || abs(at.y) >= PAINT_FRAME;
}

static void box_add(struct box *box, struct pt at)
{
    if (at.x < box->min_x)
        box->min_x = at.x;
    if (at.x > box->max_x)
        box->max_x = at.x;
    if (at.y < box->min_y)
        box->min_y = at.y;
    if (at.y > box->max_y)
        box->max_y = at.y;
}

struct box box_of_points(const struct pt *points, size_t count)
{
    struct box box = {INT32_MAX, INT32_MAX, INT32_MIN, INT32_MIN};
    for (size_t i = 0; i < count; i++)
        if (!is_frame_pt(points[i]))
            box_add(&box, points[i]);
    if (box.min_x > box.max_x)
        box = (struct box){-PAINT_FRAME, -PAINT_FRAME, PAINT_FRAME, PAINT_FRAME};
    return box;
}

#define DIGIT_BITS 11
#define DIGITS (1 << DIGIT_BITS)
#define DIGIT_COUNT 3 /* of the upper half */

static uint32_t digit_of(uint64_t item, unsigned digit)
{
    return (uint32_t)(item >> (32 + digit * DIGIT_BITS)) & (DIGITS - 1);
}

static void sort_by_digit(const uint64_t *from, uint64_t *to, size_t count, unsigned digit,
                          size_t *start)
{
    for (size_t i = 0; i < count; i++)
        to[start[digit_of(from[i], digit)]++] = from[i];
}

/* Sorts by the upper half; the result is in scratch. */
static void sort_by_upper_half(uint64_t *items, uint64_t *scratch, size_t count)
{
    size_t start[DIGIT_COUNT][DIGITS + 1] = {{0}}; /* all counted in one pass */
    for (size_t i = 0; i < count; i++)
        for (unsigned digit = 0; digit < DIGIT_COUNT; digit++)
            start[digit][digit_of(items[i], digit) + 1]++;
    for (unsigned digit = 0; digit < DIGIT_COUNT; digit++)
        for (unsigned d = 0; d < DIGITS; d++)
            start[digit][d + 1] += start[digit][d];
    sort_by_digit(items, scratch, count, 0, start[0]);
    sort_by_digit(scratch, items, count, 1, start[1]);
    sort_by_digit(items, scratch, count, 2, start[2]);
}

/* The four turns of the curve: for each, the quadrant's place along it and the turn within. */
static const uint8_t hilbert_step[4][4] = {
    /* place << 2 | next turn, by (x bit << 1 | y bit) */
    {0 << 2 | 1, 1 << 2 | 0, 3 << 2 | 3, 2 << 2 | 0},
    {0 << 2 | 0, 3 << 2 | 2, 1 << 2 | 1, 2 << 2 | 1},
    {2 << 2 | 2, 3 << 2 | 1, 1 << 2 | 2, 0 << 2 | 3},
    {2 << 2 | 3, 1 << 2 | 3, 3 << 2 | 0, 0 << 2 | 2},
};

/* Two of those steps in one. */
static void fill_steps(struct hilbert_frame *frame)
{
    for (unsigned turn = 0; turn < 4; turn++)
        for (unsigned x = 0; x < 4; x++)
            for (unsigned y = 0; y < 4; y++) {
                unsigned high = hilbert_step[turn][(x >> 1) << 1 | y >> 1];
                unsigned low = hilbert_step[high & 3][(x & 1) << 1 | (y & 1)];
                frame->steps[turn][x << 2 | y] = (uint8_t)((high >> 2) << 4 | low);
            }
}

struct hilbert_frame hilbert_frame_of(struct box box)
{
    struct hilbert_frame frame = {.x = box.min_x, .y = box.min_y};
    int64_t width = (int64_t)box.max_x - box.min_x, height = (int64_t)box.max_y - box.min_y;
    int64_t extent = width > height ? width : height;
    while ((extent >> frame.shift) >= (1 << 16))
        frame.shift++;
    fill_steps(&frame);
    return frame;
}

static uint32_t cell_of(int32_t at, int32_t from, unsigned shift)
{
    int64_t cell = ((int64_t)at - from) >> shift;
    return cell < 0 ? 0 : cell > UINT16_MAX ? UINT16_MAX : (uint32_t)cell;
}

uint32_t hilbert_key(const struct hilbert_frame *frame, struct pt at)
{
    uint32_t x = cell_of(at.x, frame->x, frame->shift), y = cell_of(at.y, frame->y, frame->shift);
    uint32_t key = 0;
    unsigned turn = 0;
    for (int bit = 14; bit >= 0; bit -= 2) {
        unsigned step = frame->steps[turn][((x >> bit & 3) << 2) | (y >> bit & 3)];
        key = key << 4 | step >> 2;
        turn = step & 3;
    }
    return key;
}

struct run_context {
    const struct pt *points;
};

static int compare_items(const void *a, const void *b, void *context)
{
    const struct pt *points = ((const struct run_context *)context)->points;
    return compare_pt(points[*(const uint64_t *)a & UINT32_MAX],
                      points[*(const uint64_t *)b & UINT32_MAX]);
}

/* Within a cell of the curve: by place, so that equal points meet. */
static void sort_run(uint64_t *items, size_t count, const struct pt *points)
{
    if (count > 24) {
        struct run_context context = {points};
        qsort_r(items, count, sizeof *items, compare_items, &context);
        return;
    }
    for (size_t i = 1; i < count; i++) {
        uint64_t item = items[i];
        size_t j = i;
        for (;
             j > 0 && compare_pt(points[items[j - 1] & UINT32_MAX], points[item & UINT32_MAX]) > 0;
             j--)
            items[j] = items[j - 1];
        items[j] = item;
    }
}

uint64_t *hilbert_order(const struct pt *points, size_t count)
{
    return hilbert_order_in(box_of_points(points, count), points, count);
}

uint64_t *hilbert_order_in(struct box box, const struct pt *points, size_t count)
{
    uint64_t *items = mesh_alloc(count, sizeof *items);
    uint64_t *scratch = mesh_alloc(count, sizeof *scratch);
    if (!items || !scratch) {
        free(items);
        free(scratch);
        return NULL;
    }
    struct hilbert_frame frame = hilbert_frame_of(box);
    for (size_t i = 0; i < count; i++)
        items[i] = (uint64_t)hilbert_key(&frame, points[i]) << 32 | i;
    sort_by_upper_half(items, scratch, count);
    free(items);
    items = scratch;
    for (size_t first = 0, end; first < count; first = end) {
        for (end = first + 1; end < count && items[end] >> 32 == items[first] >> 32; end++)
            ;
        sort_run(items + first, end - first, points);
    }
    return items;
}
