/*
 * Rows of a small CSV table (RFC 4180, lines that begin with '#' are comments), each cell with its
 * place in the file. libcsv splits the cells; it is fed byte by byte, because that is how a cell's
 * offset is known.
 */
#ifndef PARSERS_CSV_ROWS_H
#define PARSERS_CSV_ROWS_H

#include "isthmus/base.h"

struct csv_cell {
    const char *text; /* in the arena; blanks at its ends are gone */
    size_t offset;    /* of its first byte */
};
enum csv_rows_status { CSV_ROWS_OK = 0, CSV_ROWS_QUOTE, CSV_ROWS_NO_MEMORY };

/*
 * Calls `row` for every row that is not blank; it returns false to stop (the status is then OK).
 *
 * errors  CSV_ROWS_QUOTE: a double quote in the wrong place; *error_offset says where
 */
struct csv_rows_visitor {
    bool (*row)(const struct csv_cell *cells, size_t count, void *context);
    void *context;
};
enum csv_rows_status csv_rows_read(const uint8_t *bytes, size_t size, struct arena *arena,
                                   const struct csv_rows_visitor *visitor, size_t *error_offset);

#endif
