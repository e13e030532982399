/* Whether bytes look like a drill file, without reading it. */
#include "isthmus/holes.h"

#include <ctype.h>
#include <string.h>
#include <strings.h>

#include "parsers_text.h"

#define LOOK_BYTES ((size_t)65536)

struct look {
    size_t place_count, tool_count, command_count, other_count;
    bool has_m48;
};

/* Words in capitals or not, with blanks between them. */
static bool is_word_line(const uint8_t *line, size_t length)
{
    for (size_t i = 0; i < length; i++)
        if (!isdigit(line[i]) && !strchr("XYGMTRCFSHBZAIJN+-. \t", toupper(line[i])))
            return false;
    return memchr(line, 0, length) == NULL;
}

static bool starts(const uint8_t *line, size_t length, const char *word)
{
    size_t word_length = strlen(word);
    return length >= word_length && strncasecmp((const char *)line, word, word_length) == 0;
}

static bool is_command(const uint8_t *line, size_t length)
{
    return starts(line, length, "INCH") || starts(line, length, "METRIC") ||
           starts(line, length, "FMAT,") || starts(line, length, "ICI") ||
           starts(line, length, "M71,") || starts(line, length, "M72,") ||
           (length == 1 && line[0] == '%');
}

static bool is_size_comment(const uint8_t *line, size_t length)
{
    return line[0] == ';' && memmem(line, length, "Holesize", 8) != NULL;
}

/* The number of the block, comments in parentheses before and behind, and blanks. */
static void strip(const uint8_t **line, size_t *length)
{
    const uint8_t *text = *line;
    size_t at = 0, end = *length;
    while (at < end) {
        const uint8_t *close = text[at] == '(' ? memchr(text + at, ')', end - at) : NULL;
        if (close)
            at = (size_t)(close - text) + 1;
        else if (text[at] == ' ' || text[at] == '\t')
            at++;
        else
            break;
    }
    if (at + 2 < end && toupper(text[at]) == 'N' && isdigit(text[at + 1]))
        for (at++; at < end && (isdigit(text[at]) || text[at] == ' ');)
            at++;
    const uint8_t *open =
        at < end && text[end - 1] == ')' ? memchr(text + at, '(', end - at) : NULL;
    if (open)
        end = (size_t)(open - text);
    while (end > at && (text[end - 1] == ' ' || text[end - 1] == '\t'))
        end--;
    *line = text + at;
    *length = end - at;
}

static void look_at(struct look *look, const uint8_t *line, size_t length)
{
    if (starts(line, length, ";") && !is_size_comment(line, length))
        return;
    strip(&line, &length);
    if (length == 0)
        return;
    if (length == 3 && starts(line, length, "M48"))
        look->has_m48 = true;
    else if (is_command(line, length) || is_size_comment(line, length))
        look->command_count++;
    else if (is_word_line(line, length) && strchr("XY", toupper(line[0])))
        look->place_count++;
    else if (is_word_line(line, length) && toupper(line[0]) == 'T' && length > 1 &&
             isdigit(line[1]))
        look->tool_count++;
    else if (!is_word_line(line, length) || !strchr("GMR", toupper(line[0])))
        look->other_count++;
}

bool drill_looks_like(const uint8_t *bytes, size_t size)
{
    struct look look = {0};
    size = text_end(bytes, size);
    size_t end = size < LOOK_BYTES ? size : LOOK_BYTES;
    size_t at = text_start(bytes, size);
    while (at < end) {
        size_t start = at;
        while (at < end && bytes[at] != '\n' && bytes[at] != '\r')
            at++;
        size_t length = at - start;
        while (length && (bytes[start + length - 1] == ' ' || bytes[start + length - 1] == '\t'))
            length--;
        if (length && (at < end || end == size)) /* a line cut by the limit does not count */
            look_at(&look, bytes + start, length);
        at++;
    }
    size_t known = look.place_count + look.tool_count + look.command_count;
    if (look.has_m48)
        return look.other_count <= known + 8;
    return look.place_count > 0 && look.tool_count + look.command_count > 0 &&
           look.other_count * 4 <= known;
}
