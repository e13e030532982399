#include "parsers_text.h"

#include <string.h>

/* RFC 3629 section 4: the ranges of the second byte shut out overlong forms and surrogates. */
static size_t sequence_length(uint8_t lead, uint8_t second)
{
    if (lead < 0x80)
        return 1;
    if (lead >= 0xc2 && lead <= 0xdf)
        return 2;
    if (lead >= 0xe0 && lead <= 0xef) {
        bool is_bad = (lead == 0xe0 && second < 0xa0) || (lead == 0xed && second > 0x9f);
        return is_bad ? 0 : 3;
    }
    if (lead >= 0xf0 && lead <= 0xf4) {
        bool is_bad = (lead == 0xf0 && second < 0x90) || (lead == 0xf4 && second > 0x8f);
        return is_bad ? 0 : 4;
    }
    return 0;
}

size_t text_utf8_length(const char *text, size_t length)
{
    const uint8_t *bytes = (const uint8_t *)text;
    if (length == 0)
        return 0;
    size_t needed = sequence_length(bytes[0], length > 1 ? bytes[1] : 0);
    if (needed > length)
        return 0;
    for (size_t i = 1; i < needed; i++)
        if ((bytes[i] & 0xc0) != 0x80)
            return 0;
    return needed;
}

size_t text_utf8_valid_until(const char *text, size_t length)
{
    size_t at = 0;
    while (at < length) {
        size_t step = text_utf8_length(text + at, length - at);
        if (step == 0)
            return at;
        at += step;
    }
    return length;
}

static bool is_control(const char *text, size_t step)
{
    uint8_t first = (uint8_t)text[0];
    if (step == 1)
        return first < 0x20 || first == 0x7f;
    return step == 2 && first == 0xc2 && (uint8_t)text[1] < 0xa0; /* C1 */
}

char *text_printable(struct arena *arena, const char *text, size_t length)
{
    length = strnlen(text, length);
    if (length > SIZE_MAX / 4)
        return NULL;
    char *out = arena_alloc(arena, 3 * length + 1, 1);
    if (!out)
        return NULL;
    size_t used = 0;
    for (size_t at = 0; at < length;) {
        size_t step = text_utf8_length(text + at, length - at);
        if (step == 0 || is_control(text + at, step)) {
            for (size_t i = 0; i < 3; i++)
                out[used++] = "\xef\xbf\xbd"[i];
            at += step ? step : 1;
        } else {
            memcpy(out + used, text + at, step);
            used += step;
            at += step;
        }
    }
    return out;
}

struct source_pos line_cursor_at(struct line_cursor *cursor, size_t offset)
{
    if (offset > cursor->size)
        offset = cursor->size;
    if (offset < cursor->offset) /* behind us: begin again */
        cursor->offset = cursor->line_start = cursor->line = 0;
    for (; cursor->offset < offset; cursor->offset++) {
        uint8_t here = cursor->bytes[cursor->offset];
        bool is_pair = here == '\r' && cursor->offset + 1 < cursor->size &&
                       cursor->bytes[cursor->offset + 1] == '\n';
        if (here == '\n' || (here == '\r' && !is_pair)) {
            cursor->line++;
            cursor->line_start = cursor->offset + 1;
        }
    }
    return (struct source_pos){.file_id = cursor->file_id,
                               .line = cursor->line + 1,
                               .column = (uint32_t)(offset - cursor->line_start) + 1};
}

size_t text_start(const uint8_t *bytes, size_t size)
{
    size_t at = 0;
    while (at < size && bytes[at] == 0)
        at++;
    return size - at >= 3 && memcmp(bytes + at, "\xef\xbb\xbf", 3) == 0 ? at + 3 : at;
}

size_t text_end(const uint8_t *bytes, size_t size)
{
    for (size_t at = size; at > 0; at--) {
        bool is_padding = bytes[at - 1] == 0 || bytes[at - 1] == 0x1a;
        if (is_padding)
            size = at - 1;
        else if (!strchr("\r\n\t ", bytes[at - 1]))
            break;
    }
    return size;
}
