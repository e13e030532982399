/* Diagnostics as values, and where in a file a byte stands. */
#include "isthmus/base.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define KEPT_PER_CODE_AND_FILE 20

struct source_pos source_locate(uint32_t file_id, const uint8_t *bytes, size_t size, size_t offset)
{
    struct source_pos at = {.file_id = file_id, .line = 1, .column = 1};
    if (offset > size)
        offset = size;
    size_t line_start = 0;
    for (size_t i = 0; i < offset; i++) {
        bool is_lone_cr = bytes[i] == '\r' && (i + 1 >= size || bytes[i + 1] != '\n');
        if (bytes[i] == '\n' || is_lone_cr) {
            at.line++;
            line_start = i + 1;
        }
    }
    at.column = (uint32_t)(offset - line_start) + 1;
    return at;
}

static struct diag *find_full(struct diag_list *list, const char *code, uint32_t file_id)
{
    size_t same_count = 0;
    for (size_t i = list->count; i-- > 0;) {
        struct diag *diag = &list->items[i];
        if (diag->at.file_id == file_id && strcmp(diag->code, code) == 0 &&
            ++same_count == KEPT_PER_CODE_AND_FILE)
            return diag;
    }
    return NULL;
}

static char *format_text(struct arena *arena, const char *format, va_list args)
{
    va_list again;
    va_copy(again, args);
    int length = vsnprintf(NULL, 0, format, args);
    char *text = length < 0 ? NULL : arena_alloc(arena, (size_t)length + 1, 1);
    if (text)
        vsnprintf(text, (size_t)length + 1, format, again);
    va_end(again);
    return text;
}

static struct diag *add_item(struct diag_list *list)
{
    if (list->count == list->capacity) {
        size_t capacity = list->capacity ? list->capacity * 2 : 16;
        struct diag *items = arena_alloc(list->arena, capacity, sizeof *items);
        if (!items)
            return NULL;
        if (list->count)
            memcpy(items, list->items, list->count * sizeof *items);
        list->items = items;
        list->capacity = capacity;
    }
    return &list->items[list->count++];
}

void diag_add(struct diag_list *list, enum diag_level level, const char *code, struct source_pos at,
              const char *advice, const char *format, ...)
{
    list->error_count += level == DIAG_ERROR;
    list->warning_count += level == DIAG_WARNING;
    struct diag *full = find_full(list, code, at.file_id);
    if (full) {
        full->suppressed_count++;
        return;
    }
    va_list args;
    va_start(args, format);
    char *text = format_text(list->arena, format, args);
    va_end(args);
    char *advice_copy = advice ? arena_strdup(list->arena, advice) : NULL;
    struct diag *diag = text && (advice_copy || !advice) ? add_item(list) : NULL;
    if (!diag) {
        list->is_out_of_memory = true;
        return;
    }
    *diag =
        (struct diag){.level = level, .code = code, .at = at, .text = text, .advice = advice_copy};
}

bool diag_has_errors(const struct diag_list *list)
{
    return list->error_count > 0 || list->is_out_of_memory;
}
