/*
 * board.ini, the user's facts about a board. inih splits sections, keys and values; lines are
 * handed to it one at a time, which is how each one's place is known, and so that its silent habits
 * (continued lines, ':' for '=', cutting long lines) cannot change a fact.
 */
#include "isthmus/currents.h"

#include <ini.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "isthmus/copper.h"
#include "parsers_text.h"

#define LINE_MAX_BYTES 180    /* inih's buffer holds 199 */
#define COLON_STAND_IN '\x01' /* inih would split a key at a ':' */
#define INNER_MAX (BOARD_MAX_COPPER - 2)
#define OZ_MAX 30

enum value_kind { VALUE_UM, VALUE_COPPER_UM, VALUE_MM, VALUE_KELVIN, VALUE_CELSIUS, VALUE_WORD };

/* A key, and where its fact goes. words: the values of VALUE_WORD; the fact is the index. */
struct key {
    const char *section, *name;
    enum value_kind kind;
    size_t fact_offset;
    double least, most;
    const char *words[2];
};
#define FACT(field) offsetof(struct board_facts, field)
static const struct key keys[] = {
    {"copper", "outer", VALUE_COPPER_UM, FACT(outer_copper_um), 3, 1100, {0}},
    {"copper", "inner", VALUE_COPPER_UM, FACT(inner_copper_um), 3, 1100, {0}},
    {"copper", "top", VALUE_COPPER_UM, FACT(copper_um[1]), 3, 1100, {0}},
    {"copper", "bottom", VALUE_COPPER_UM, FACT(bottom_copper_um), 3, 1100, {0}},
    {"copper", "wall", VALUE_UM, FACT(wall_um), 1, 200, {0}},
    {"limits", "rise", VALUE_KELVIN, FACT(rise_k), 0.1, 500, {0}},
    {"limits", "ambient", VALUE_CELSIUS, FACT(ambient_c), -60, 200, {0}},
    {"limits", "constants", VALUE_WORD, FACT(fit_fact), 0, 0, {"external-internal", "internal"}},
    {"fabrication", "board_thickness", VALUE_MM, FACT(board_thickness_mm), 0.05, 20, {0}},
    {"fabrication", "etch_loss", VALUE_UM, FACT(etch_loss_um), 0, 500, {0}},
    {"fabrication", "gap_close", VALUE_UM, FACT(gap_close_um), 0, 50, {0}},
    {"fabrication", "chord_error", VALUE_UM, FACT(chord_error_um), 0.01, 50, {0}},
    {"fabrication", "tool_sizes", VALUE_WORD, FACT(tool_drilled), 0, 0, {"finished", "drilled"}},
    {"fabrication", "vias", VALUE_WORD, FACT(vias_filled), 0, 0, {"open", "filled"}},
};
#define KEY_COUNT (sizeof keys / sizeof *keys)
static const char *const section_names[] = {"copper", "limits", "fabrication", "joins"};
#define SECTION_COUNT (sizeof section_names / sizeof *section_names)

struct ini_facts {
    const uint8_t *bytes;
    size_t size;
    struct arena *arena;
    struct diag_list *diags;
    struct board_facts *facts;
    struct line_cursor cursor;
    size_t offset;                     /* of the next line */
    size_t key_offset, value_offset;   /* of the line in hand */
    const char *section;               /* NULL before the first; "" when unknown */
    struct source_pos seen[KEY_COUNT]; /* where each key stood; line 0 = not yet */
    struct source_pos seen_inner[INNER_MAX + 1];
    size_t join_capacity;
    bool is_out_of_memory;
};

static struct source_pos place(struct ini_facts *ini, size_t offset)
{
    return line_cursor_at(&ini->cursor, offset);
}

#define FAIL(ini, offset, code, advice, ...)                                                       \
    diag_add((ini)->diags, DIAG_ERROR, code, place(ini, offset), advice, __VA_ARGS__)

/* ---- lines ---- */

static void open_section(struct ini_facts *ini, char *line)
{
    char *close = strchr(line, ']');
    size_t at = ini->key_offset;
    ini->section = "";
    if (!close) {
        FAIL(ini, at, "ini-section", "write [copper]", "a section without its ]");
        return;
    }
    const char *behind = close + 1 + strspn(close + 1, " \t");
    if (*behind && *behind != ';' && *behind != '#')
        FAIL(ini, at + (size_t)(behind - line), "ini-line", "begin a new line",
             "text after the section: \"%s\"", behind);
    *close = '\0';
    for (size_t i = 0; i < SECTION_COUNT; i++)
        if (strcmp(section_names[i], line + 1) == 0)
            ini->section = section_names[i];
    if (!*ini->section) {
        const char *near = nearest_name(line + 1, section_names, SECTION_COUNT);
        FAIL(ini, at + 1, "ini-section",
             "the sections are [copper], [limits], [fabrication] and [joins]",
             "unknown section [%s]%s%s%s", line + 1, near ? "; did you mean [" : "",
             near ? near : "", near ? "]?" : "");
    }
    *close = ']';
    close[1] = '\0';
}

/* Offset of a comment that begins within the line: after a blank, as inih takes ';'. */
static size_t comment_start(const char *line)
{
    for (size_t i = 1; line[i]; i++)
        if ((line[i] == '#' || line[i] == ';') && (line[i - 1] == ' ' || line[i - 1] == '\t'))
            return i;
    return strlen(line);
}

/* False if the line is no "key = value"; said why. */
static bool prepare_assignment(struct ini_facts *ini, char *line)
{
    line[comment_start(line)] = '\0';
    char *equals = strchr(line, '=');
    if (!equals || equals == line) {
        FAIL(ini, ini->key_offset, "ini-line", "write KEY = VALUE, for example: outer = 35um",
             equals ? "nothing stands before the =" : "this line has no =");
        return false;
    }
    for (char *c = line; c < equals; c++)
        if (*c == ':')
            *c = COLON_STAND_IN;
    size_t blanks = strspn(equals + 1, " \t");
    ini->value_offset = ini->key_offset + (size_t)(equals + 1 - line) + blanks;
    if (!equals[1 + blanks]) {
        FAIL(ini, ini->value_offset, "ini-value", "write the value, or delete the line",
             "the key has no value");
        return false;
    }
    return true;
}

static size_t line_length(const struct ini_facts *ini)
{
    size_t length = 0;
    while (ini->offset + length < ini->size && ini->bytes[ini->offset + length] != '\n' &&
           ini->bytes[ini->offset + length] != '\r')
        length++;
    return length;
}

/* Copies the next line, without its leading blanks (inih would take it for a continued one). */
static bool copy_line(struct ini_facts *ini, char line[LINE_MAX_BYTES + 1])
{
    size_t length = line_length(ini), start = ini->offset, blanks = 0;
    while (blanks < length && strchr(" \t", ini->bytes[start + blanks]))
        blanks++;
    ini->key_offset = start + blanks;
    ini->offset = start + length + (start + length < ini->size);
    size_t kept = length - blanks;
    if (kept > LINE_MAX_BYTES) {
        FAIL(ini, ini->key_offset, "ini-line", "make it shorter",
             "this line has more than %d bytes", LINE_MAX_BYTES);
        kept = 0;
    }
    memcpy(line, ini->bytes + ini->key_offset, kept);
    line[kept] = '\0';
    return kept > 0;
}

/* inih's reader: one line a call, as fgets. What is wrong is said here and handed on as an empty
 * line. */
static char *next_line(char *out, int room, void *stream)
{
    struct ini_facts *ini = stream;
    char line[LINE_MAX_BYTES + 1];
    if (ini->offset >= ini->size || ini->is_out_of_memory || room < LINE_MAX_BYTES + 2)
        return NULL;
    bool is_kept = copy_line(ini, line) && line[0] != '#' && line[0] != ';';
    if (is_kept && line[0] == '[')
        open_section(ini, line);
    else if (is_kept)
        is_kept = prepare_assignment(ini, line);
    snprintf(out, (size_t)room, "%s\n", is_kept ? line : "");
    return out;
}

/* ---- values ---- */

static const char *unit_advice(enum value_kind kind)
{
    switch (kind) {
    case VALUE_COPPER_UM:
        return "write a number with a unit: 35um, 1.4mil or 1oz";
    case VALUE_UM:
    case VALUE_MM:
        return "write a number with a unit: 20um, 1.6mm or 0.8mil";
    case VALUE_KELVIN:
        return "write kelvin: 10K";
    default:
        return "write degrees Celsius: 25C";
    }
}

static bool read_oz(struct ini_facts *ini, const char *value, double *out_um)
{
    const char *at = value;
    double oz;
    if (!quantity_number(&at, &oz) || strcmp(at, "oz") != 0 || !(oz > 0) || oz > OZ_MAX)
        return false;
    *out_um = oz * COPPER_OZ_UM;
    diag_add(ini->diags, DIAG_NOTE, "ini-ounce", place(ini, ini->value_offset),
             "an ounce may mean the foil before plating and processing; state um if you know the "
             "finished thickness",
             "%s taken as %g um of finished copper", value, *out_um);
    return true;
}

static bool read_unit(const char *value, const char *const *units, double *out)
{
    const char *at = value;
    if (!quantity_number(&at, out))
        return false;
    for (; *units; units++)
        if (strcmp(*units, at) == 0)
            return true;
    return false;
}

static bool read_quantity(struct ini_facts *ini, enum value_kind kind, const char *value,
                          double *out)
{
    static const char *const kelvin[] = {"K", NULL};
    static const char *const celsius[] = {"C",
                                          "\xc2\xb0"
                                          "C",
                                          NULL};
    double nm;
    if (kind == VALUE_KELVIN || kind == VALUE_CELSIUS)
        return read_unit(value, kind == VALUE_KELVIN ? kelvin : celsius, out);
    if (kind == VALUE_COPPER_UM && read_oz(ini, value, out))
        return true;
    if (!quantity_length(value, 0, &nm))
        return false;
    *out = kind == VALUE_MM ? nm / 1e6 : nm / 1e3;
    return true;
}

static const char *base_unit(enum value_kind kind)
{
    return kind == VALUE_KELVIN    ? "K"
           : kind == VALUE_CELSIUS ? "C"
           : kind == VALUE_MM      ? "mm"
                                   : "um";
}

static bool read_value(struct ini_facts *ini, const struct key *key, const char *value, double *out)
{
    if (!read_quantity(ini, key->kind, value, out)) {
        FAIL(ini, ini->value_offset, "ini-value", unit_advice(key->kind),
             "%s = %s is not a quantity with a unit", key->name, value);
        return false;
    }
    if (*out >= key->least && *out <= key->most)
        return true;
    const char *unit = base_unit(key->kind);
    FAIL(ini, ini->value_offset, "ini-range", "check the number and its unit",
         "%s = %s is not within %g %s to %g %s", key->name, value, key->least, unit, key->most,
         unit);
    return false;
}

static bool read_word(struct ini_facts *ini, const struct key *key, const char *value, double *out)
{
    for (int i = 0; i < 2; i++) {
        *out = i;
        if (strcmp(key->words[i], value) == 0)
            return true;
    }
    char advice[96];
    snprintf(advice, sizeof advice, "write %s or %s", key->words[0], key->words[1]);
    FAIL(ini, ini->value_offset, "ini-value", advice, "%s = %s is not known", key->name, value);
    return false;
}

/* ---- keys ---- */

static void set_fact(struct ini_facts *ini, struct fact *fact, double value)
{
    *fact = (struct fact){value, FACT_BOARD_INI, place(ini, ini->key_offset)};
}

static bool is_repeated(struct ini_facts *ini, struct source_pos *seen, const char *name)
{
    if (seen->line == 0) {
        *seen = place(ini, ini->key_offset);
        return false;
    }
    FAIL(ini, ini->key_offset, "ini-repeated", "keep one of the lines",
         "%s stands in line %u already", name, seen->line);
    return true;
}

static void take_key(struct ini_facts *ini, size_t index, const char *value)
{
    const struct key *key = &keys[index];
    double number;
    if (is_repeated(ini, &ini->seen[index], key->name))
        return;
    bool is_read = key->kind == VALUE_WORD ? read_word(ini, key, value, &number)
                                           : read_value(ini, key, value, &number);
    if (is_read)
        set_fact(ini, (struct fact *)(void *)((char *)ini->facts + key->fact_offset), number);
}

/* "inner:3". False if the name has another form. */
static bool take_inner(struct ini_facts *ini, const char *name, const char *value)
{
    if (strncmp(name, "inner:", 6) != 0)
        return false;
    char *end;
    unsigned long number = name[6] >= '1' && name[6] <= '9' ? strtoul(name + 6, &end, 10) : 0;
    if (number == 0 || number > INNER_MAX || *end) {
        FAIL(ini, ini->key_offset, "ini-key", "inner layers are counted from the top: inner:1 ...",
             "%s is no inner layer", name);
        return true;
    }
    struct key key = keys[1];
    double number_um;
    key.name = name;
    if (!is_repeated(ini, &ini->seen_inner[number], name) &&
        read_value(ini, &key, value, &number_um))
        set_fact(ini, &ini->facts->copper_um[number + 1], number_um);
    return true;
}

static void fail_key(struct ini_facts *ini, const char *name)
{
    const char *names[KEY_COUNT + 1];
    size_t count = 0;
    for (size_t i = 0; i < KEY_COUNT; i++) {
        if (strcmp(keys[i].name, name) == 0) {
            FAIL(ini, ini->key_offset, "ini-key", "move the line there",
                 "%s belongs to section [%s], not to [%s]", name, keys[i].section, ini->section);
            return;
        }
        if (strcmp(keys[i].section, ini->section) == 0)
            names[count++] = keys[i].name;
    }
    const char *near = nearest_name(name, names, count);
    FAIL(ini, ini->key_offset, "ini-key",
         strcmp(ini->section, "copper") == 0
             ? "the keys of [copper] are outer, inner, top, bottom, inner:N and wall"
         : strcmp(ini->section, "limits") == 0
             ? "the keys of [limits] are rise, ambient and constants"
             : "the keys of [fabrication] are board_thickness, etch_loss, gap_close, chord_error, "
               "tool_sizes and vias",
         "unknown key %s in section [%s]%s%s%s", name, ini->section, near ? "; did you mean " : "",
         near ? near : "", near ? "?" : "");
}

static void take_fact(struct ini_facts *ini, const char *name, const char *value)
{
    for (size_t i = 0; i < KEY_COUNT; i++) {
        if (strcmp(keys[i].section, ini->section) == 0 && strcmp(keys[i].name, name) == 0) {
            take_key(ini, i, value);
            return;
        }
    }
    if (strcmp(ini->section, "copper") != 0 || !take_inner(ini, name, value))
        fail_key(ini, name);
}

/* ---- joins ---- */

static bool is_same_join(const struct join *join, const char *a, const char *b)
{
    return (strcmp(join->a, a) == 0 && strcmp(join->b, b) == 0) ||
           (strcmp(join->a, b) == 0 && strcmp(join->b, a) == 0);
}

static bool grow_joins(struct ini_facts *ini)
{
    struct board_facts *facts = ini->facts;
    if (facts->join_count < ini->join_capacity)
        return true;
    size_t wanted = facts->join_count ? facts->join_count * 2 : 8;
    struct join *grown = arena_alloc(ini->arena, wanted, sizeof *grown);
    if (!grown)
        return false;
    if (facts->join_count)
        memcpy(grown, facts->joins, facts->join_count * sizeof *grown);
    facts->joins = grown;
    ini->join_capacity = wanted;
    return true;
}

static void take_join(struct ini_facts *ini, const char *a, const char *b)
{
    struct board_facts *facts = ini->facts;
    if (strcmp(a, b) == 0) {
        FAIL(ini, ini->value_offset, "ini-join", "name two different nets",
             "net %s is joined to itself", a);
        return;
    }
    for (size_t i = 0; i < facts->join_count; i++) {
        if (is_same_join(&facts->joins[i], a, b)) {
            FAIL(ini, ini->key_offset, "ini-repeated", "keep one of the lines",
                 "%s and %s are joined in line %u already", a, b, facts->joins[i].at.line);
            return;
        }
    }
    struct join join = {arena_strdup(ini->arena, a), arena_strdup(ini->arena, b),
                        place(ini, ini->key_offset)};
    if (!join.a || !join.b || !grow_joins(ini))
        ini->is_out_of_memory = true;
    else
        facts->joins[facts->join_count++] = join;
}

/* ---- the whole ---- */

static int on_pair(void *user, const char *section, const char *name, const char *value)
{
    struct ini_facts *ini = user;
    char key[LINE_MAX_BYTES + 1];
    (void)section; /* cut to 50 bytes; ours is whole */
    snprintf(key, sizeof key, "%s", name);
    for (char *c = key; *c; c++)
        if (*c == COLON_STAND_IN)
            *c = ':';
    if (!ini->section)
        FAIL(ini, ini->key_offset, "ini-section", "begin with a section, such as [copper]",
             "%s stands before any section", key);
    else if (strcmp(ini->section, "joins") == 0)
        take_join(ini, key, value);
    else if (*ini->section)
        take_fact(ini, key, value);
    return 1;
}

static bool refuse_bytes(struct ini_facts *ini)
{
    const char *text = (const char *)ini->bytes;
    size_t valid = text_utf8_valid_until(text, ini->size);
    for (size_t i = 0; i < valid; i++) {
        if (ini->bytes[i] >= 0x20 || strchr("\t\r\n", ini->bytes[i]))
            if (ini->bytes[i] != 0)
                continue;
        FAIL(ini, i, "ini-encoding", "save the file as plain text", "control character 0x%02x",
             ini->bytes[i]);
        return true;
    }
    if (valid < ini->size)
        FAIL(ini, valid, "ini-encoding", "save the file as plain text in UTF-8",
             "byte 0x%02x is not UTF-8", ini->bytes[valid]);
    return valid < ini->size;
}

static void settle_words(struct board_facts *facts)
{
    facts->is_tool_drilled = facts->tool_drilled.value > 0;
    facts->are_vias_filled = facts->vias_filled.value > 0;
    facts->fit =
        facts->fit_fact.value > 0 ? FIT_IPC2221_INTERNAL_EVERYWHERE : FIT_IPC2221_EXTERNAL_INTERNAL;
}

enum currents_status board_ini_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                                    struct arena *arena, struct diag_list *diags,
                                    struct board_facts *facts)
{
    struct ini_facts ini = {.bytes = bytes,
                            .size = size,
                            .arena = arena,
                            .diags = diags,
                            .facts = facts,
                            .cursor = {.file_id = file_id, .bytes = bytes, .size = size},
                            .join_capacity = facts->join_count};
    size_t errors_before = diags->error_count;
    if (refuse_bytes(&ini))
        return CURRENTS_REFUSED;
    if (size >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0)
        ini.offset = 3;
    int failed = ini_parse_stream(next_line, &ini, on_pair, &ini);
    if (failed < 0 || ini.is_out_of_memory || diags->is_out_of_memory)
        return CURRENTS_NO_MEMORY;
    if (failed > 0 && diags->error_count == errors_before)
        FAIL(&ini, 0, "ini-line", "write KEY = VALUE lines in sections",
             "line %d is not understood", failed);
    settle_words(facts);
    return diags->error_count > errors_before ? CURRENTS_REFUSED : CURRENTS_OK;
}
