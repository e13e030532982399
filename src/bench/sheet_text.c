/* A sheet as plain text, 88 columns. */
#include "bench/sheet_format.h"

#include <string.h>

#define COLUMNS 88

static const char *sign_word(char sign)
{
    switch (sign) {
    case '\001':
        return "C";
    case '\002':
        return "u";
    case '\003':
        return "ohm";
    case '\004':
        return "+-";
    case '\005':
        return "x";
    default:
        return NULL;
    }
}

/* Bytes that a terminal could take for a command are written as '?'. */
static void put_signs(FILE *out, const char *text, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        const char *word = sign_word(text[i]);
        unsigned char byte = (unsigned char)text[i];
        if (word)
            fputs(word, out);
        else
            fputc(byte < 0x20 || byte == 0x7f ? '?' : byte, out);
    }
}

static void put_wrapped(FILE *out, const char *first, const char *text)
{
    size_t indent = strlen(first), column = indent;
    fputs(first, out);
    while (*text) {
        size_t word = strcspn(text, " ");
        if (column + word > COLUMNS && column > indent) {
            fprintf(out, "\n%*s", (int)indent, "");
            column = indent;
        }
        put_signs(out, text, word);
        column += word;
        text += word;
        if (*text == ' ' && column < COLUMNS && text[1] &&
            column + 1 + strcspn(text + 1, " ") <= COLUMNS) {
            fputc(' ', out);
            column++;
        } else if (*text == ' ')
            column = COLUMNS + 1;
        text += *text == ' ';
    }
    fputc('\n', out);
}

static void text_begin(FILE *out, const char *title)
{
    put_wrapped(out, "", title);
}

static void text_end(FILE *out)
{
    (void)out;
}

static void text_heading(FILE *out, const char *text)
{
    fputc('\n', out);
    put_wrapped(out, "", text);
    for (size_t i = 0; i < strlen(text); i++)
        fputc('-', out);
    fputc('\n', out);
}

static void text_caution(FILE *out, const char *const *lines, size_t count)
{
    fputs("\nCAUTION\n", out);
    for (size_t i = 0; i < count; i++)
        put_wrapped(out, "  ! ", lines[i]);
}

static void text_paragraph(FILE *out, const char *text)
{
    put_wrapped(out, "  ", text);
}

static void text_list(FILE *out, const char *const *lines, size_t count)
{
    for (size_t i = 0; i < count; i++)
        put_wrapped(out, "  - ", lines[i]);
}

static void text_step(FILE *out, const char *text)
{
    put_wrapped(out, "  [ ] ", text);
}

/* Printed width: every sign counts as its word, UTF-8 continuation bytes count nothing. */
static int shown_width(const char *text)
{
    int width = 0;
    for (; *text; text++) {
        const char *word = sign_word(*text);
        if (word)
            width += (int)strlen(word);
        else
            width += ((unsigned char)*text & 0xc0) != 0x80;
    }
    return width;
}

static void text_row(FILE *out, const struct sheet_column *columns, const char *const *cells,
                     size_t count)
{
    fputs("  ", out);
    for (size_t i = 0; i < count; i++) {
        const char *cell = cells[i] ? cells[i] : "________";
        put_signs(out, cell, strlen(cell));
        int pad = columns[i].width - shown_width(cell);
        if (i + 1 < count)
            fprintf(out, "%*s", pad > 0 ? pad + 1 : 1, "");
    }
    fputc('\n', out);
}

static void text_table_begin(FILE *out, const char *caption, const struct sheet_column *columns,
                             size_t count)
{
    const char *titles[SHEET_COLUMNS];
    for (size_t i = 0; i < count; i++)
        titles[i] = columns[i].title;
    fputc('\n', out);
    put_wrapped(out, "  ", caption);
    text_row(out, columns, titles, count);
}

static void text_table_end(FILE *out)
{
    fputc('\n', out);
}

const struct sheet_format sheet_format_text = {
    .begin = text_begin,
    .end = text_end,
    .heading = text_heading,
    .caution = text_caution,
    .paragraph = text_paragraph,
    .list = text_list,
    .step = text_step,
    .table_begin = text_table_begin,
    .row = text_row,
    .table_end = text_table_end,
};
