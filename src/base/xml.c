#include "base/xml.h"

#include <stddef.h>

void xml_put_byte(FILE *out, unsigned char byte)
{
    if (byte == '<')
        fputs("&lt;", out);
    else if (byte == '>')
        fputs("&gt;", out);
    else if (byte == '&')
        fputs("&amp;", out);
    else if (byte == '"')
        fputs("&quot;", out);
    else
        fputc(byte < 0x20 || byte == 0x7f ? '?' : byte, out);
}

void xml_put(FILE *out, const char *text)
{
    bool is_utf8 = text_is_utf8(text);
    for (const unsigned char *at = (const unsigned char *)text; *at; at++)
        if (*at >= 0x80 && !is_utf8)
            fprintf(out, "&#%u;", *at);
        else
            xml_put_byte(out, *at);
}

/* Bytes of the character that begins here, by RFC 3629; 0: it is none. */
static size_t utf8_length(const unsigned char *at)
{
    static const struct {
        unsigned char first, last, low, high; /* of the first byte, of the second */
        size_t length;
    } rows[] = {
        {0x01, 0x7F, 0, 0, 1},       {0xC2, 0xDF, 0x80, 0xBF, 2}, {0xE0, 0xE0, 0xA0, 0xBF, 3},
        {0xE1, 0xEC, 0x80, 0xBF, 3}, {0xED, 0xED, 0x80, 0x9F, 3}, {0xEE, 0xEF, 0x80, 0xBF, 3},
        {0xF0, 0xF0, 0x90, 0xBF, 4}, {0xF1, 0xF3, 0x80, 0xBF, 4}, {0xF4, 0xF4, 0x80, 0x8F, 4}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        if (at[0] < rows[i].first || at[0] > rows[i].last)
            continue;
        for (size_t k = 1; k < rows[i].length; k++) {
            unsigned char low = k == 1 ? rows[i].low : 0x80, high = k == 1 ? rows[i].high : 0xBF;
            if (at[k] < low || at[k] > high) /* a NUL ends it here */
                return 0;
        }
        return rows[i].length;
    }
    return 0;
}

bool text_is_utf8(const char *text)
{
    const unsigned char *at = (const unsigned char *)text;
    while (*at) {
        size_t length = utf8_length(at);
        if (length == 0)
            return false;
        at += length;
    }
    return true;
}
