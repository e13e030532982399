/* Memory, growing arrays and diagnostics: what every folder shares. */
#ifndef ISTHMUS_BASE_H
#define ISTHMUS_BASE_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define ISTHMUS_NONE UINT32_MAX /* "no such index" wherever an index is a uint32_t */

/*
 * An arena: blocks that live together and are freed together.
 *
 * arena_alloc     zeroed, aligned for any type; count x size is checked; NULL when memory
 *                 (or the arena's limit) is out
 * arena_strndup   copies length bytes and ends them with NUL
 * arena_adopt     takes over a block from malloc (array_grow), to be freed with the arena: a large
 *                 array need not be copied; false without memory, the block is still the caller's
 * arena_used      bytes handed out; arena_peak the most there ever were
 * arena_fail_at   tests only: the n-th allocation from now fails (0 = never), process-wide
 */
struct arena;
struct arena *arena_new(const char *name);
void arena_free(struct arena *arena); /* NULL is fine */
void arena_reset(struct arena *arena);
void *arena_alloc(struct arena *arena, size_t count, size_t size);
bool arena_adopt(struct arena *arena, void *memory, size_t bytes);
char *arena_strndup(struct arena *arena, const char *text, size_t length);
char *arena_strdup(struct arena *arena, const char *text);
char *arena_printf(struct arena *arena, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
size_t arena_used(const struct arena *arena);
size_t arena_peak(const struct arena *arena);
void arena_fail_at(uint64_t nth);

/*
 * Grows a malloc'ed array so that it holds at least `needed` items; false (array unchanged)
 * when memory is out. The caller frees *items.
 *
 *     if (!array_grow(&list->items, sizeof *list->items, &list->capacity, list->count + 1)) ...
 */
bool array_grow(void *items_pointer, size_t item_size, size_t *capacity, size_t needed);

/*
 * Work on many items side by side.
 *
 * hands_for    how many threads: as many as wanted (0: as there are processors), but no more than
 *              items, nor than MOST_HANDS
 * hands_work   calls work() once for each item, lower ones first; hand < hand_count tells whose
 *              scratch to use. Hand 0 is the calling thread. Threads that cannot be started are
 *              only fewer hands, so what work() writes must not depend on who does which item
 */
#define MOST_HANDS 64
unsigned hands_for(unsigned wanted, size_t item_count);
void hands_work(unsigned hand_count, size_t item_count,
                void (*work)(size_t item, unsigned hand, void *context), void *context);

/* Where something stands in a file that was read. Counted from 1; 0 = unknown. Columns in bytes. */
struct source_pos {
    uint32_t file_id; /* index into struct file_table, plus 1 */
    uint32_t line;
    uint32_t column;
};

/* Line and column of a byte offset, computed on demand. */
struct source_pos source_locate(uint32_t file_id, const uint8_t *bytes, size_t size, size_t offset);

/* A file that was read: a member of the package, the net-current table, board.ini ... */
struct source_file {
    const char *name; /* as the user can find it: "gerbers.zip/top.gtl" */
    const uint8_t *bytes;
    size_t size;
    char sha256[65]; /* lower-case hex, NUL-terminated */
    bool is_package; /* part of what is ordered */
};
struct file_table {
    struct source_file *files;
    size_t count, capacity;
};
/* Adds a file, computes its SHA-256; returns its file_id (>= 1) or 0 without memory. Copies nothing
 * but the struct: name and bytes must outlive the table. */
uint32_t file_table_add(struct file_table *table, const char *name, const uint8_t *bytes,
                        size_t size, bool is_package);
void file_table_free(struct file_table *table);

/*
 * Diagnostics. code is a static slug ("gerber-aperture-undefined"); text says what is wrong with
 * the offending text quoted; advice (may be NULL) says what to do. After 20 of the same code in the
 * same file further ones are only counted (suppressed_count). Printed file:line:column:
 * error[code]: text.
 */
enum diag_level { DIAG_NOTE, DIAG_WARNING, DIAG_ERROR };
struct diag {
    enum diag_level level;
    const char *code;
    struct source_pos at;
    const char *text;
    const char *advice;
    uint32_t suppressed_count; /* further ones of this code and file that were not kept */
};
struct diag_list {
    struct arena *arena; /* owns texts and items */
    struct diag *items;
    size_t count, capacity;
    size_t error_count, warning_count; /* suppressed ones included */
    bool is_out_of_memory;             /* a diagnostic was lost; counts as an error */
};
void diag_add(struct diag_list *list, enum diag_level level, const char *code, struct source_pos at,
              const char *advice, const char *format, ...) __attribute__((format(printf, 6, 7)));
bool diag_has_errors(const struct diag_list *list);

#endif
