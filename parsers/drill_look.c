/* Whether bytes look like a drill file, without reading it. */
#include "isthmus/holes.h"

#include <ctype.h>
#include <string.h>

#include "parsers_text.h"

#define LOOK_BYTES ((size_t)65536)

struct look {
    size_t place_count, tool_count, command_count, other_count;
    bool has_m48;
};

static bool is_word_line(const uint8_t *line, size_t length)
{
    for (size_t i = 0; i < length; i++)
        if (!isdigit(line[i]) && !strchr("XYGMTRCFSHBZAIJ+-.", line[i]))
            return false;
    return memchr(line, 0, length) == NULL;
}

static bool starts(const uint8_t *line, size_t length, const char *word)
{
    size_t word_length = strlen(word);
    return length >= word_length && memcmp(line, word, word_length) == 0;
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

static void look_at(struct look *look, const uint8_t *line, size_t length)
{
    if (starts(line, length, ";") && !is_size_comment(line, length))
        return;
    if (length == 3 && memcmp(line, "M48", 3) == 0)
        look->has_m48 = true;
    else if (is_command(line, length) || is_size_comment(line, length))
        look->command_count++;
    else if (is_word_line(line, length) && (line[0] == 'X' || line[0] == 'Y'))
        look->place_count++;
    else if (is_word_line(line, length) && line[0] == 'T' && length > 1 && isdigit(line[1]))
        look->tool_count++;
    else if (!is_word_line(line, length) || !strchr("GMR", line[0]))
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
