/* Text that comes from outside, made fit to be shown or compared. Private to parsers/. */
#ifndef PARSERS_TEXT_H
#define PARSERS_TEXT_H

#include "isthmus/base.h"

/*
 * A copy that any report can print: valid UTF-8, control characters and invalid bytes replaced by
 * U+FFFD; ends at a NUL. NULL without memory.
 */
char *text_printable(struct arena *arena, const char *text, size_t length);

/* Bytes of the UTF-8 sequence at text (RFC 3629: shortest form, no surrogates), 0 if invalid. */
size_t text_utf8_length(const char *text, size_t length);

/* Offset of the first byte that is not UTF-8, or length. */
size_t text_utf8_valid_until(const char *text, size_t length);

/*
 * What old systems and tape punches put round a text: zero bytes before it; zero bytes and end
 * marks (0x1A) behind it. text_start: offset of the first byte that is none, a UTF-8 byte order
 * mark passed over; text_end: offset behind the last one.
 */
size_t text_start(const uint8_t *bytes, size_t size);
size_t text_end(const uint8_t *bytes, size_t size);

/*
 * Line and column of one offset after the other, in rising order, without counting from the start
 * each time. Agrees with source_locate.
 */
struct line_cursor {
    uint32_t file_id;
    const uint8_t *bytes;
    size_t size, offset, line_start;
    uint32_t line; /* from 0 */
};
struct source_pos line_cursor_at(struct line_cursor *cursor, size_t offset);

#endif
