/*
 * How a sheet looks: one table of functions a format. The content (sheet.c) speaks only these.
 *
 * Texts may hold the signs below; each format writes them as its medium allows.
 */
#ifndef BENCH_SHEET_FORMAT_H
#define BENCH_SHEET_FORMAT_H

#include <stddef.h>
#include <stdio.h>

#define SIGN_CELSIUS "\001"
#define SIGN_MICRO "\002"
#define SIGN_OHM "\003"
#define SIGN_PLUS_MINUS "\004"
#define SIGN_TIMES "\005"

#define SHEET_COLUMNS 8
struct sheet_column {
    const char *title;
    int width; /* of plain text */
};
struct sheet_format {
    void (*begin)(FILE *out, const char *title);
    void (*end)(FILE *out);
    void (*heading)(FILE *out, const char *text);
    void (*caution)(FILE *out, const char *const *lines, size_t count);
    void (*paragraph)(FILE *out, const char *text);
    void (*list)(FILE *out, const char *const *lines, size_t count);
    void (*step)(FILE *out, const char *text); /* something to do and tick off */
    void (*table_begin)(FILE *out, const char *caption, const struct sheet_column *columns,
                        size_t count);
    /* a cell of NULL is a blank to fill in */
    void (*row)(FILE *out, const struct sheet_column *columns, const char *const *cells,
                size_t count);
    void (*table_end)(FILE *out);
};
extern const struct sheet_format sheet_format_text, sheet_format_html;

#endif
