/* One line of a drill file into words, and the words into fields. */
#include "drill_machine.h"

#include <ctype.h>
#include <string.h>

#define MOST_DIGITS 18 /* 10^18 fits an int64_t */

struct source_pos drill_at(const struct drill_machine *machine, size_t offset)
{
    return (struct source_pos){.file_id = machine->file_id,
                               .line = machine->line,
                               .column = (uint32_t)(offset - machine->line_start) + 1};
}

const char *drill_quote(struct drill_machine *machine, size_t from, size_t to)
{
    size_t length = to - from;
    bool is_cut = length > 40;
    if (is_cut)
        length = 40;
    for (size_t i = 0; i < length; i++) {
        uint8_t byte = machine->bytes[from + i];
        machine->quoted[i] = (char)(byte >= 0x20 && byte < 0x7f ? byte : '?');
    }
    memcpy(machine->quoted + length, is_cut ? "..." : "", is_cut ? 4 : 1);
    return machine->quoted;
}

bool drill_word_is(const struct drill_machine *machine, size_t from, size_t to, const char *word)
{
    size_t length = strlen(word);
    if (to - from != length)
        return false;
    for (size_t i = 0; i < length; i++)
        if (toupper(machine->bytes[from + i]) != toupper((unsigned char)word[i]))
            return false;
    return true;
}

size_t drill_find(const struct drill_machine *machine, size_t from, size_t to, const char *word)
{
    size_t length = strlen(word);
    for (size_t i = from; i + length <= to; i++)
        if (drill_word_is(machine, i, i + length, word))
            return i;
    return SIZE_MAX;
}

bool drill_number(struct drill_machine *machine, size_t *at, size_t to, struct drill_number *out)
{
    const uint8_t *bytes = machine->bytes;
    size_t i = *at;
    *out = (struct drill_number){.offset = i};
    bool is_negative = i < to && bytes[i] == '-';
    if (i < to && (bytes[i] == '-' || bytes[i] == '+'))
        i++;
    size_t first = i;
    for (; i < to; i++) {
        if (bytes[i] == '.' && !out->has_point) {
            out->has_point = true;
            continue;
        }
        if (!isdigit(bytes[i]))
            break;
        if (++out->digit_count > MOST_DIGITS)
            return false;
        if (out->digit_count == 1)
            out->starts_with_zero = bytes[i] == '0';
        out->ends_with_zero = bytes[i] == '0';
        out->mantissa = out->mantissa * 10 + (bytes[i] - '0');
        out->decimals = (uint8_t)(out->decimals + out->has_point);
    }
    if (out->digit_count == 0 || i == first)
        return false;
    if (is_negative)
        out->mantissa = -out->mantissa;
    out->is_set = true;
    *at = i;
    return true;
}

/* How wide coordinates without a point are written tells leading from trailing zeros. */
static void survey_coordinate(struct drill_machine *machine, const struct drill_number *number)
{
    struct drill_facts *facts = &machine->facts;
    if (machine->pass != PASS_SURVEY || number->mantissa == 0)
        return;
    if (facts->first_coordinate.line == 0)
        facts->first_coordinate = drill_at(machine, number->offset);
    if (number->has_point) {
        facts->point_count++;
        return;
    }
    uint8_t width = number->digit_count;
    if (facts->integer_count++ == 0)
        facts->width_min = facts->width_max = width;
    if (width < facts->width_min)
        facts->width_min = width;
    if (width > facts->width_max)
        facts->width_max = width;
    facts->has_leading_zero |= number->starts_with_zero && width > 1;
    facts->has_trailing_zero |= number->ends_with_zero;
}

static struct drill_number *field_of(struct drill_block *block, char letter)
{
    switch (letter) {
    case 'X':
        return block->is_slot ? &block->x2 : &block->x;
    case 'Y':
        return block->is_slot ? &block->y2 : &block->y;
    case 'I':
        return &block->i;
    case 'J':
        return &block->j;
    case 'A':
        return &block->a;
    case 'C':
        return &block->c;
    case 'T':
        return &block->tool;
    case 'R':
        return &block->repeat;
    default:
        return NULL;
    }
}

/* Feed, speed, hit count, retract rate, depth and sequence numbers: read, no matter here. */
static bool is_idle_letter(char letter)
{
    return strchr("FSHBZN", letter) != NULL;
}

static bool add_code(int16_t *codes, uint8_t *count, const struct drill_number *number)
{
    if (number->has_point || number->mantissa < 0 || number->mantissa > 999 ||
        *count == BLOCK_CODES)
        return false;
    codes[(*count)++] = (int16_t)number->mantissa;
    return true;
}

static bool put_word(struct drill_machine *machine, struct drill_block *block, char letter,
                     const struct drill_number *number)
{
    if (letter == 'G' && number->mantissa == 85 && !block->is_slot) {
        block->is_slot = true;
        return true;
    }
    if (letter == 'G')
        return add_code(block->g, &block->g_count, number);
    if (letter == 'M')
        return add_code(block->m, &block->m_count, number);
    block->has_depth |= letter == 'Z';
    struct drill_number *field = field_of(block, letter);
    if (!field)
        return is_idle_letter(letter);
    if (field->is_set ||
        ((letter == 'T' || letter == 'R') && (number->has_point || number->mantissa < 0)))
        return false;
    *field = *number;
    bool is_dwell = block->g_count && block->g[0] == 4; /* G04 X: a time, not a place */
    if ((letter == 'X' || letter == 'Y') && !is_dwell)
        survey_coordinate(machine, number);
    return true;
}

static bool is_blank(uint8_t byte)
{
    return byte == ' ' || byte == '\t';
}

size_t drill_comment_end(const struct drill_machine *machine, size_t from, size_t to)
{
    while (from < to && machine->bytes[from] != ')')
        from++;
    return from;
}

bool drill_words(struct drill_machine *machine, size_t from, size_t to, struct drill_block *out)
{
    *out = (struct drill_block){.offset = from, .length = to - from};
    for (size_t at = from; at < to;) {
        size_t start = at;
        char letter = (char)toupper(machine->bytes[at]);
        if (is_blank(machine->bytes[at]) || letter == ',') {
            at++;
            continue;
        }
        if (letter == '(' && drill_comment_end(machine, at, to) < to) { /* told by run_line() */
            at = drill_comment_end(machine, at, to) + 1;
            continue;
        }
        at++;
        while (at < to && is_blank(machine->bytes[at]))
            at++;
        struct drill_number number;
        if (!isupper((unsigned char)letter) || !drill_number(machine, &at, to, &number) ||
            !put_word(machine, out, letter, &number)) {
            DRILL_SAY(
                machine, PASS_SURVEY, DIAG_ERROR, "drill-word", drill_at(machine, start),
                "a drill file holds words of a letter and a number, each at most once a line; "
                "export the file again, or give it another role with --role",
                "not understood: \"%s\"", drill_quote(machine, start, to));
            return false;
        }
    }
    return true;
}
