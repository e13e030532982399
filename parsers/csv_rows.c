#include "csv_rows.h"

#include <csv.h>
#include <stdlib.h>

struct splitter {
    const uint8_t *bytes;
    size_t size, offset, cell_start;
    struct arena *arena;
    const struct csv_rows_visitor *visitor;
    struct csv_parser csv;
    struct csv_cell *cells;
    size_t cell_count, cell_capacity;
    bool is_at_row_start, is_stopped, is_out_of_memory, has_text;
};

static size_t skip_blanks(const struct splitter *splitter, size_t offset)
{
    while (offset < splitter->offset &&
           (splitter->bytes[offset] == ' ' || splitter->bytes[offset] == '\t'))
        offset++;
    return offset;
}

static void on_cell(void *text, size_t length, void *context)
{
    struct splitter *splitter = context;
    char *copy = arena_strndup(splitter->arena, text, length);
    if (!copy || !array_grow(&splitter->cells, sizeof *splitter->cells, &splitter->cell_capacity,
                             splitter->cell_count + 1)) {
        splitter->is_out_of_memory = true;
        return;
    }
    splitter->cells[splitter->cell_count++] =
        (struct csv_cell){copy, skip_blanks(splitter, splitter->cell_start)};
    splitter->has_text = splitter->has_text || length > 0;
    splitter->cell_start = splitter->offset + 1;
}

static void on_row(int ending, void *context)
{
    (void)ending;
    struct splitter *splitter = context;
    bool is_wanted = splitter->has_text && !splitter->is_stopped && !splitter->is_out_of_memory;
    if (is_wanted &&
        !splitter->visitor->row(splitter->cells, splitter->cell_count, splitter->visitor->context))
        splitter->is_stopped = true;
    splitter->cell_count = 0;
    splitter->has_text = false;
    splitter->is_at_row_start = true;
}

static void skip_line(struct splitter *splitter)
{
    while (splitter->offset < splitter->size && splitter->bytes[splitter->offset] != '\n' &&
           splitter->bytes[splitter->offset] != '\r')
        splitter->offset++;
}

/* False when libcsv found a quote in the wrong place. */
static bool feed_byte(struct splitter *splitter)
{
    uint8_t byte = splitter->bytes[splitter->offset];
    bool is_line_end = byte == '\n' || byte == '\r';
    if (splitter->is_at_row_start && is_line_end) {
        splitter->cell_start = splitter->offset + 1;
        return true;
    }
    splitter->is_at_row_start = false;
    return csv_parse(&splitter->csv, &byte, 1, on_cell, on_row, splitter) == 1;
}

static bool feed(struct splitter *splitter)
{
    for (; splitter->offset < splitter->size && !splitter->is_stopped; splitter->offset++) {
        if (splitter->is_at_row_start && splitter->bytes[splitter->offset] == '#') {
            skip_line(splitter);
            splitter->cell_start = splitter->offset + 1;
            continue;
        }
        if (!feed_byte(splitter))
            return false;
        if (splitter->is_at_row_start) /* the row just ended here */
            splitter->cell_start = splitter->offset + 1;
    }
    return splitter->is_stopped || csv_fini(&splitter->csv, on_cell, on_row, splitter) == 0;
}

/* A byte order mark is no part of the first cell. */
static size_t skip_mark(const uint8_t *bytes, size_t size)
{
    return size >= 3 && bytes[0] == 0xef && bytes[1] == 0xbb && bytes[2] == 0xbf ? 3 : 0;
}

enum csv_rows_status csv_rows_read(const uint8_t *bytes, size_t size, struct arena *arena,
                                   const struct csv_rows_visitor *visitor, size_t *error_offset)
{
    size_t start = skip_mark(bytes, size);
    struct splitter splitter = {.bytes = bytes,
                                .size = size,
                                .offset = start,
                                .cell_start = start,
                                .arena = arena,
                                .visitor = visitor,
                                .is_at_row_start = true};
    if (csv_init(&splitter.csv, CSV_STRICT | CSV_STRICT_FINI) != 0)
        return CSV_ROWS_NO_MEMORY;
    bool is_read = feed(&splitter);
    bool is_quote = !is_read && csv_error(&splitter.csv) == CSV_EPARSE;
    *error_offset = splitter.offset < size ? splitter.offset : size;
    csv_free(&splitter.csv);
    free(splitter.cells);
    if (splitter.is_out_of_memory || (!is_read && !is_quote))
        return CSV_ROWS_NO_MEMORY;
    return is_quote ? CSV_ROWS_QUOTE : CSV_ROWS_OK;
}
