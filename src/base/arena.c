/* Arenas (chained blocks), growing arrays, and the switch that makes the n-th allocation fail. */
#include "isthmus/base.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define BLOCK_BYTES ((size_t)64 * 1024)

struct block {
    struct block *next;
    size_t size, used;
    _Alignas(max_align_t) unsigned char bytes[];
};
/* Memory that came from malloc and is freed with the arena. */
struct adopted {
    struct adopted *next;
    void *memory;
};
struct arena {
    const char *name;
    struct block *head;
    struct adopted *adopted;
    size_t used, peak;
};

static _Atomic uint64_t fail_countdown;

void arena_fail_at(uint64_t nth)
{
    fail_countdown = nth;
}

static bool must_fail(void)
{
    if (fail_countdown == 0)
        return false;
    return --fail_countdown == 0;
}

struct arena *arena_new(const char *name)
{
    struct arena *arena = must_fail() ? NULL : calloc(1, sizeof *arena);
    if (arena)
        arena->name = name;
    return arena;
}

static void free_blocks(struct block *block)
{
    while (block) {
        struct block *next = block->next;
        free(block);
        block = next;
    }
}

/* The entries themselves lie in the arena's blocks, which are freed afterwards. */
static void free_adopted(struct adopted *adopted)
{
    for (; adopted; adopted = adopted->next)
        free(adopted->memory);
}

void arena_free(struct arena *arena)
{
    if (!arena)
        return;
    free_adopted(arena->adopted);
    free_blocks(arena->head);
    free(arena);
}

void arena_reset(struct arena *arena)
{
    free_adopted(arena->adopted);
    arena->adopted = NULL;
    free_blocks(arena->head);
    arena->head = NULL;
    arena->used = 0;
}

static struct block *block_new(struct arena *arena, size_t bytes)
{
    size_t size = bytes > BLOCK_BYTES / 4 ? bytes : BLOCK_BYTES;
    if (size > SIZE_MAX - sizeof(struct block))
        return NULL;
    struct block *block = malloc(sizeof *block + size);
    if (!block)
        return NULL;
    block->size = size;
    block->used = 0;
    /* A big block goes behind the head, so that the head's free room is not lost. */
    if (arena->head && size == bytes) {
        block->next = arena->head->next;
        arena->head->next = block;
    } else {
        block->next = arena->head;
        arena->head = block;
    }
    return block;
}

void *arena_alloc(struct arena *arena, size_t count, size_t size)
{
    size_t bytes;
    if (must_fail() || __builtin_mul_overflow(count, size, &bytes) || bytes > SIZE_MAX / 2)
        return NULL;
    size_t align = _Alignof(max_align_t);
    bytes = (bytes + align - 1) / align * align;
    if (bytes == 0)
        bytes = align;
    struct block *block = arena->head;
    if (!block || block->size - block->used < bytes)
        block = block_new(arena, bytes);
    if (!block)
        return NULL;
    void *memory = block->bytes + block->used;
    block->used += bytes;
    arena->used += bytes;
    if (arena->used > arena->peak)
        arena->peak = arena->used;
    return memset(memory, 0, bytes);
}

bool arena_adopt(struct arena *arena, void *memory, size_t bytes)
{
    struct adopted *adopted = arena_alloc(arena, 1, sizeof *adopted);
    if (!adopted)
        return false;
    *adopted = (struct adopted){.next = arena->adopted, .memory = memory};
    arena->adopted = adopted;
    arena->used += bytes;
    if (arena->used > arena->peak)
        arena->peak = arena->used;
    return true;
}

char *arena_strndup(struct arena *arena, const char *text, size_t length)
{
    char *copy = arena_alloc(arena, length + 1, 1);
    if (copy && length)
        memcpy(copy, text, length);
    return copy;
}

char *arena_strdup(struct arena *arena, const char *text)
{
    return arena_strndup(arena, text, strlen(text));
}

char *arena_printf(struct arena *arena, const char *format, ...)
{
    va_list args, again;
    va_start(args, format);
    va_copy(again, args);
    int length = vsnprintf(NULL, 0, format, args);
    char *text = length < 0 ? NULL : arena_alloc(arena, (size_t)length + 1, 1);
    if (text)
        vsnprintf(text, (size_t)length + 1, format, again);
    va_end(again);
    va_end(args);
    return text;
}

size_t arena_used(const struct arena *arena)
{
    return arena->used;
}

size_t arena_peak(const struct arena *arena)
{
    return arena->peak;
}

bool array_grow(void *items_pointer, size_t item_size, size_t *capacity, size_t needed)
{
    if (needed <= *capacity)
        return true;
    size_t wanted = *capacity < 8 ? 16 : *capacity + *capacity / 2;
    if (wanted < needed)
        wanted = needed;
    size_t bytes;
    if (must_fail() || __builtin_mul_overflow(wanted, item_size, &bytes))
        return false;
    void *items;
    memcpy(&items, items_pointer, sizeof items);
    void *grown = realloc(items, bytes);
    if (!grown)
        return false;
    memcpy(items_pointer, &grown, sizeof grown);
    *capacity = wanted;
    /* cppcheck-suppress memleak ; it is the caller's now */
    return true;
}
