/*
 * The net-current table. The cells come from libcsv in its strict mode (RFC 4180); it is fed byte
 * by byte, because that is how each cell's place in the file is known.
 */
#include "isthmus/currents.h"

#include <csv.h>
#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "currents_private.h"
#include "parsers_text.h"

#define CELLS_MAX 64
#define CURRENT_MAX_A 1e4
#define RISE_MAX_K 500
#define PLACE_MAX_NM 1e11 /* 100 m; far beyond what a board reader accepts */
#define INNER_MAX 62
#define HEADER_TEXT "net,pin,current_a,rise_k,x_mm,y_mm,layer,case,note"

enum column {
    COLUMN_NET,
    COLUMN_PIN,
    COLUMN_CURRENT,
    COLUMN_RISE,
    COLUMN_X_MM,
    COLUMN_Y_MM,
    COLUMN_X_MIL,
    COLUMN_Y_MIL,
    COLUMN_LAYER,
    COLUMN_CASE,
    COLUMN_NOTE,
    COLUMN_LATER, /* known, not yet used: from here on */
    COLUMN_COUNT = COLUMN_LATER + 5
};
static const char *const column_names[COLUMN_COUNT] = {
    "net",   "pin",  "current_a", "rise_k", "x_mm",     "y_mm",     "x_mil",  "y_mil",
    "layer", "case", "note",      "drop_v", "drop_pct", "supply_v", "peak_a", "peak_s",
};

struct cell {
    const char *text;
    size_t offset; /* of its first byte in the file */
};
struct table_reader {
    uint32_t file_id;
    const uint8_t *bytes;
    size_t size;
    struct arena *arena;
    struct diag_list *diags;
    struct current_table *out;
    struct line_cursor cursor;
    struct csv_parser csv;

    size_t offset;     /* of the byte being fed */
    size_t cell_start; /* of the cell being read */
    bool is_at_row_start;
    struct cell cells[CELLS_MAX];
    size_t cell_count; /* may exceed CELLS_MAX */

    enum column columns[CELLS_MAX];
    size_t column_count; /* 0: no header yet */
    bool is_stopped, is_out_of_memory;
    bool has_warned_later[COLUMN_COUNT];
    size_t unfilled_count;  /* rows without a current */
    size_t commented_count; /* comments with as many commas as a row has */
    struct source_pos first_unfilled;
    size_t row_capacity, case_capacity;
};

/* A row under way: its cells by column, and where they stand. */
struct row_cells {
    const char *text[COLUMN_COUNT]; /* never NULL; "" when empty or no such column */
    size_t offset[COLUMN_COUNT];
    bool is_bad;
};

static struct source_pos place(struct table_reader *reader, size_t offset)
{
    return line_cursor_at(&reader->cursor, offset);
}

#define FAIL(reader, offset, code, advice, ...)                                                    \
    diag_add((reader)->diags, DIAG_ERROR, code, place(reader, offset), advice, __VA_ARGS__)

#define FAIL_CELL(reader, row, column, code, advice, ...)                                          \
    do {                                                                                           \
        (row)->is_bad = true;                                                                      \
        FAIL(reader, (row)->offset[column], code, advice, __VA_ARGS__);                            \
    } while (0)

static void *take(struct table_reader *reader, size_t count, size_t size)
{
    void *memory = arena_alloc(reader->arena, count, size);
    if (!memory)
        reader->is_out_of_memory = true;
    return memory;
}

/* Arrays of the result live in the arena: a full one is copied into one twice as long. */
static void *grow(struct table_reader *reader, void *items, size_t count, size_t *capacity,
                  size_t size)
{
    if (count < *capacity)
        return items;
    size_t wanted = *capacity ? *capacity * 2 : 16;
    void *grown = take(reader, wanted, size);
    if (!grown)
        return NULL;
    if (count)
        memcpy(grown, items, count * size);
    *capacity = wanted;
    return grown;
}

/* ---- header ---- */

static enum column find_column(const char *name)
{
    for (int i = 0; i < COLUMN_COUNT; i++)
        if (strcasecmp(column_names[i], name) == 0)
            return (enum column)i;
    return COLUMN_COUNT;
}

static bool is_header(const struct table_reader *reader)
{
    for (size_t i = 0; i < reader->cell_count && i < CELLS_MAX; i++)
        if (find_column(reader->cells[i].text) != COLUMN_COUNT)
            return true;
    return false;
}

static void fail_no_header(struct table_reader *reader)
{
    const struct cell *first = &reader->cells[0];
    const char *separator = reader->cell_count != 1             ? NULL
                            : strchr(first->text, ';') != NULL  ? "semicolons"
                            : strchr(first->text, '\t') != NULL ? "tabs"
                                                                : NULL;
    if (separator)
        FAIL(reader, first->offset, "currents-separator",
             "save the table as CSV with commas, and numbers with a decimal point",
             "the cells are separated by %s, not by commas", separator);
    else
        FAIL(reader, first->offset, "currents-header",
             "put a header in the first row, for example: " HEADER_TEXT,
             "the table has no header row; its first row begins with \"%s\"", first->text);
}

static void take_header_cell(struct table_reader *reader, size_t index)
{
    const struct cell *cell = &reader->cells[index];
    enum column column = find_column(cell->text);
    reader->columns[index] = column;
    if (column == COLUMN_COUNT) {
        const char *near = nearest_name(cell->text, column_names, COLUMN_COUNT);
        FAIL(reader, cell->offset, "currents-column",
             "the columns are net, pin, current_a, rise_k, x_mm, y_mm (or x_mil, y_mil), layer, "
             "case, note",
             "unknown column \"%s\"%s%s%s", cell->text, near ? "; did you mean " : "",
             near ? near : "", near ? "?" : "");
        return;
    }
    for (size_t i = 0; i < index; i++)
        if (reader->columns[i] == column)
            FAIL(reader, cell->offset, "currents-column-twice", "leave one of them out",
                 "column %s is there twice", column_names[column]);
}

static bool has_column(const struct table_reader *reader, enum column column)
{
    for (size_t i = 0; i < reader->column_count; i++)
        if (reader->columns[i] == column)
            return true;
    return false;
}

static void check_pair(struct table_reader *reader, enum column a, enum column b)
{
    if (has_column(reader, a) != has_column(reader, b))
        FAIL(reader, reader->cells[0].offset, "currents-column-missing",
             "a position needs both columns", "column %s is there, %s is not",
             column_names[has_column(reader, a) ? a : b],
             column_names[has_column(reader, a) ? b : a]);
}

/* Spreadsheets fill the rows up with empty cells: behind `kept` they are none. */
static void drop_empty_cells(struct table_reader *reader, size_t kept)
{
    while (reader->cell_count > kept && reader->cell_count <= CELLS_MAX &&
           !*reader->cells[reader->cell_count - 1].text)
        reader->cell_count--;
}

static void take_header(struct table_reader *reader)
{
    size_t errors_before = reader->diags->error_count;
    drop_empty_cells(reader, 1);
    if (!is_header(reader)) {
        fail_no_header(reader);
        reader->is_stopped = true;
        return;
    }
    if (reader->cell_count > CELLS_MAX)
        FAIL(reader, reader->cells[0].offset, "currents-column", "leave out what is no column",
             "the header has %zu cells", reader->cell_count);
    reader->column_count = reader->cell_count < CELLS_MAX ? reader->cell_count : CELLS_MAX;
    for (size_t i = 0; i < reader->column_count; i++)
        take_header_cell(reader, i);
    if (!has_column(reader, COLUMN_NET) || !has_column(reader, COLUMN_CURRENT))
        FAIL(reader, reader->cells[0].offset, "currents-column-missing",
             "a table needs at least: net,current_a", "column %s is missing",
             has_column(reader, COLUMN_NET) ? "current_a" : "net");
    check_pair(reader, COLUMN_X_MM, COLUMN_Y_MM);
    check_pair(reader, COLUMN_X_MIL, COLUMN_Y_MIL);
    reader->is_stopped = reader->diags->error_count > errors_before;
}

/* ---- one row's cells ---- */

static bool collect_cells(struct table_reader *reader, struct row_cells *row)
{
    bool is_blank = true;
    drop_empty_cells(reader, reader->column_count);
    *row = (struct row_cells){0};
    for (int i = 0; i < COLUMN_COUNT; i++) {
        row->text[i] = "";
        row->offset[i] = reader->cells[0].offset;
    }
    for (size_t i = 0; i < reader->cell_count && i < reader->column_count; i++) {
        enum column column = reader->columns[i];
        row->text[column] = reader->cells[i].text;
        row->offset[column] = reader->cells[i].offset;
        is_blank &= !*reader->cells[i].text;
    }
    if (is_blank && reader->cell_count <= reader->column_count)
        return false;
    if (reader->cell_count != reader->column_count) {
        size_t last = reader->cell_count < reader->column_count ? 0 : reader->column_count;
        row->is_bad = true;
        FAIL(reader, reader->cells[last < CELLS_MAX ? last : 0].offset, "currents-cells",
             "every row has as many commas as the header; numbers take a decimal point, and text "
             "with a comma in it stands in double quotes",
             "this row has %zu cells, the header has %zu", reader->cell_count,
             reader->column_count);
    }
    return true;
}

static bool has_control(const char *text)
{
    for (; *text; text++)
        if ((unsigned char)*text < 0x20 || *text == 0x7f)
            return true;
    return false;
}

static void check_texts(struct table_reader *reader, struct row_cells *row)
{
    static const enum column columns[] = {COLUMN_NET, COLUMN_PIN, COLUMN_CASE};
    for (size_t i = 0; i < sizeof columns / sizeof *columns; i++)
        if (has_control(row->text[columns[i]]))
            FAIL_CELL(reader, row, columns[i], "currents-text", "names stand on one line",
                      "column %s holds a line break or another control character",
                      column_names[columns[i]]);
    if (!*row->text[COLUMN_NET])
        FAIL_CELL(reader, row, COLUMN_NET, "currents-net-missing",
                  "each row names its net; for a conductor without a name, choose one and give "
                  "its position",
                  "this row names no net");
}

static void warn_later_columns(struct table_reader *reader, const struct row_cells *row)
{
    for (int i = COLUMN_LATER; i < COLUMN_COUNT; i++) {
        if (!*row->text[i] || reader->has_warned_later[i])
            continue;
        reader->has_warned_later[i] = true;
        diag_add(reader->diags, DIAG_WARNING, "currents-column-unused",
                 place(reader, row->offset[i]), NULL,
                 "column %s is known, but this version does not judge it yet", column_names[i]);
    }
}

/* ---- numbers ---- */

static void read_current(struct table_reader *reader, struct row_cells *row,
                         struct current_row *out)
{
    const char *text = row->text[COLUMN_CURRENT];
    double value;
    text += strspn(text, " \t"); /* quoted blanks, before a sign */
    if (!*text)
        return;
    if (!quantity_current(text, &value)) {
        FAIL_CELL(reader, row, COLUMN_CURRENT, "currents-current",
                  "write a number with a decimal point, such as 2.5, 2.5A or 800mA",
                  "\"%s\" is not a current", text);
        return;
    }
    if (fabs(value) > CURRENT_MAX_A) {
        FAIL_CELL(reader, row, COLUMN_CURRENT, "currents-current",
                  "currents are in ampere unless a unit says otherwise", "%s is more than %g A",
                  text, CURRENT_MAX_A);
        return;
    }
    bool is_minus = *text == '-' || (unsigned char)*text == 0xe2;
    out->sign = *text == '+' ? SIGN_FEEDS : is_minus ? SIGN_DRAWS : SIGN_NONE;
    out->current_a = fabs(value);
    out->has_current = true;
}

static void read_rise(struct table_reader *reader, struct row_cells *row, struct current_row *out)
{
    const char *text = row->text[COLUMN_RISE], *at = text;
    double value;
    out->rise_k = NAN;
    if (!*text)
        return;
    if (!quantity_number(&at, &value) || (*at && strcmp(at, "K") != 0))
        FAIL_CELL(reader, row, COLUMN_RISE, "currents-rise",
                  "write the allowed rise in kelvin, such as 10", "\"%s\" is not a rise", text);
    else if (!(value > 0) || value > RISE_MAX_K)
        FAIL_CELL(reader, row, COLUMN_RISE, "currents-rise",
                  "the allowed rise is above ambient, such as 10; leave the cell empty for the "
                  "board's default",
                  "a rise of %s K is not above 0 and up to %d", text, RISE_MAX_K);
    else
        out->rise_k = value;
}

static bool read_length(struct table_reader *reader, struct row_cells *row, enum column column,
                        int64_t *out_nm)
{
    double unit_nm = column == COLUMN_X_MM || column == COLUMN_Y_MM ? 1e6 : 25400;
    double value;
    if (!quantity_length(row->text[column], unit_nm, &value) || fabs(value) > PLACE_MAX_NM) {
        FAIL_CELL(reader, row, column, "currents-position",
                  "write the coordinate as it stands in the files, such as 12.70",
                  "\"%s\" is not a coordinate", row->text[column]);
        return false;
    }
    *out_nm = llround(value);
    return true;
}

/* True when the row has a position (right or wrong). */
static bool read_position(struct table_reader *reader, struct row_cells *row,
                          struct current_row *out)
{
    bool has_mm = *row->text[COLUMN_X_MM] || *row->text[COLUMN_Y_MM];
    bool has_mil = *row->text[COLUMN_X_MIL] || *row->text[COLUMN_Y_MIL];
    enum column x = has_mm ? COLUMN_X_MM : COLUMN_X_MIL, y = has_mm ? COLUMN_Y_MM : COLUMN_Y_MIL;
    if (!has_mm && !has_mil)
        return false;
    if (has_mm && has_mil)
        FAIL_CELL(reader, row, COLUMN_X_MIL, "currents-position", "leave one pair empty",
                  "this row gives its position in mm and in mil");
    else if (!*row->text[x] || !*row->text[y])
        FAIL_CELL(reader, row, *row->text[x] ? x : y, "currents-position",
                  "a position needs x and y", "half of a position");
    else if (read_length(reader, row, x, &out->place.x_nm))
        read_length(reader, row, y, &out->place.y_nm);
    return true;
}

/* The words of --role: top, bottom, inner:N. */
static bool read_layer_word(const char *text, uint16_t *out)
{
    if (strcasecmp(text, "top") == 0) {
        *out = 0;
        return true;
    }
    if (strcasecmp(text, "bottom") == 0) {
        *out = UINT16_MAX;
        return true;
    }
    if (strncasecmp(text, "inner:", 6) != 0 || text[6] < '1' || text[6] > '9')
        return false;
    char *end;
    unsigned long number = strtoul(text + 6, &end, 10);
    *out = (uint16_t)number;
    return !*end && number <= INNER_MAX;
}

static void read_layer(struct table_reader *reader, struct row_cells *row, bool has_position,
                       struct current_row *out)
{
    const char *text = row->text[COLUMN_LAYER];
    if (!*text)
        return;
    out->has_layer = read_layer_word(text, &out->layer_code);
    if (!out->has_layer)
        FAIL_CELL(reader, row, COLUMN_LAYER, "currents-layer", "write top, bottom or inner:1",
                  "\"%s\" is no layer", text);
    else if (!has_position)
        FAIL_CELL(reader, row, COLUMN_LAYER, "currents-layer",
                  "a layer belongs to a position: fill in x and y, or leave it out",
                  "this row has a layer but no position");
}

/* ---- pins ---- */

static size_t count_words(const char *text)
{
    size_t count = 0;
    while (*(text += strspn(text, " "))) {
        count++;
        text += strcspn(text, " ");
    }
    return count;
}

/* "J1.2" or "U3.*": a reference and a pin, neither empty, a star only as the whole pin. */
static bool is_pin(const char *word)
{
    const char *dot = strrchr(word, '.');
    const char *star = strchr(word, '*');
    return dot && dot > word && dot[1] && (!star || (star == dot + 1 && !star[1]));
}

/* "C*", "*": no pin, a star at the end. */
static bool is_rest(const char *word)
{
    const char *star = strchr(word, '*');
    return star && !star[1] && !strchr(word, '.');
}

static bool split_pins(struct table_reader *reader, const char *text, struct current_row *out)
{
    size_t count = count_words(text);
    const char **pins = take(reader, count + 1, sizeof *pins);
    if (!pins || count > UINT32_MAX)
        return false;
    for (size_t i = 0; i < count; i++) {
        text += strspn(text, " ");
        size_t length = strcspn(text, " ");
        pins[i] = arena_strndup(reader->arena, text, length);
        if (!pins[i]) {
            reader->is_out_of_memory = true;
            return false;
        }
        text += length;
    }
    out->pins = pins;
    out->pin_count = (uint32_t)count;
    return true;
}

static void read_pins(struct table_reader *reader, struct row_cells *row, struct current_row *out)
{
    if (!split_pins(reader, row->text[COLUMN_PIN], out))
        return;
    if (out->pin_count == 1 && is_rest(out->pins[0])) {
        out->kind = ROW_REST;
        return;
    }
    out->kind = ROW_TERMINAL;
    for (uint32_t i = 0; i < out->pin_count; i++) {
        if (is_pin(out->pins[i]))
            continue;
        FAIL_CELL(reader, row, COLUMN_PIN, "currents-pin",
                  "write J1.2 for a pin, \"J1.1 J1.2\" or U3.* for one terminal of several pins, "
                  "C* or * for each pin not named otherwise",
                  "\"%s\" is neither a pin nor a pattern", out->pins[i]);
        return;
    }
}

/* ---- a row ---- */

static void check_row(struct table_reader *reader, struct row_cells *row,
                      const struct current_row *out)
{
    if (out->kind == ROW_NET && out->sign != SIGN_NONE)
        FAIL_CELL(reader, row, COLUMN_CURRENT, "currents-sign",
                  "leave the sign out, or name the pin that feeds or draws it",
                  "the current of a whole net has no sign");
    bool is_unfilled = !out->has_current && out->kind != ROW_POSITION && !row->is_bad;
    if (is_unfilled && reader->unfilled_count++ == 0)
        reader->first_unfilled = place(reader, row->offset[COLUMN_CURRENT]);
}

/* Each case is judged alone, so a name typed in two ways would take currents apart. */
static const char *case_of(struct table_reader *reader, const struct row_cells *row)
{
    struct current_table *out = reader->out;
    const char *name = row->text[COLUMN_CASE];
    for (size_t i = 0; i < out->case_count; i++)
        if (strcmp(out->cases[i], name) == 0)
            return out->cases[i];
    for (size_t i = 0; i < out->case_count; i++)
        if (strcasecmp(out->cases[i], name) == 0)
            FAIL(reader, row->offset[COLUMN_CASE], "currents-case",
                 "write a case always in the same way", "case \"%s\" is also written \"%s\"", name,
                 out->cases[i]);
    const char **cases =
        grow(reader, out->cases, out->case_count, &reader->case_capacity, sizeof *cases);
    if (!cases)
        return NULL;
    out->cases = cases;
    return out->cases[out->case_count++] = name;
}

static void add_row(struct table_reader *reader, const struct current_row *row)
{
    struct current_table *out = reader->out;
    struct current_row *rows =
        grow(reader, out->rows, out->row_count, &reader->row_capacity, sizeof *rows);
    if (!rows)
        return;
    out->rows = rows;
    out->rows[out->row_count++] = *row;
}

static void take_row(struct table_reader *reader)
{
    struct row_cells cells;
    if (!collect_cells(reader, &cells))
        return;
    struct current_row row = {.net = cells.text[COLUMN_NET],
                              .at = place(reader, reader->cells[0].offset)};
    if (cells.is_bad) /* shifted cells would only give wrong reasons */
        return;
    check_texts(reader, &cells);
    bool has_position = read_position(reader, &cells, &row);
    bool has_pin = *cells.text[COLUMN_PIN] != '\0';
    if (has_position && has_pin)
        FAIL_CELL(reader, &cells, COLUMN_PIN, "currents-pin",
                  "leave the pin or the position out (a name may go into the note)",
                  "this row gives a pin and a position");
    row.kind = has_position ? ROW_POSITION : ROW_NET;
    if (has_pin && !has_position)
        read_pins(reader, &cells, &row);
    read_layer(reader, &cells, has_position, &row);
    read_current(reader, &cells, &row);
    read_rise(reader, &cells, &row);
    check_row(reader, &cells, &row);
    warn_later_columns(reader, &cells);
    row.note = *cells.text[COLUMN_NOTE] ? cells.text[COLUMN_NOTE] : NULL;
    row.case_name = *cells.text[COLUMN_CASE] ? case_of(reader, &cells) : NULL;
    if (!cells.is_bad)
        add_row(reader, &row);
}

/* ---- libcsv ---- */

static size_t skip_blanks(const struct table_reader *reader, size_t offset)
{
    while (offset < reader->offset &&
           (reader->bytes[offset] == ' ' || reader->bytes[offset] == '\t'))
        offset++;
    return offset;
}

static void on_cell(void *text, size_t length, void *context)
{
    struct table_reader *reader = context;
    if (reader->cell_count < CELLS_MAX) {
        struct cell *cell = &reader->cells[reader->cell_count];
        cell->text = arena_strndup(reader->arena, text, length);
        cell->offset = skip_blanks(reader, reader->cell_start);
        if (!cell->text) {
            cell->text = "";
            reader->is_out_of_memory = true;
        }
    }
    reader->cell_count++;
    reader->cell_start = reader->offset + 1;
}

static void on_row(int ending, void *context)
{
    (void)ending;
    struct table_reader *reader = context;
    if (!reader->is_stopped && !reader->is_out_of_memory) {
        if (reader->column_count == 0)
            take_header(reader);
        else
            take_row(reader);
    }
    reader->cell_count = 0;
    reader->is_at_row_start = true;
}

static void fail_csv(struct table_reader *reader)
{
    if (csv_error(&reader->csv) != CSV_EPARSE) {
        reader->is_out_of_memory = true;
        return;
    }
    reader->is_stopped = true;
    FAIL(reader, reader->offset, "currents-quote",
         "a cell with quotes stands in double quotes as a whole, and a quote within is doubled: "
         "\"5\"\" pipe\"",
         "a double quote in the wrong place");
}

/* A line whose first sign is '#' is a comment, and never reaches the CSV reader. */
static void skip_comment(struct table_reader *reader)
{
    size_t comma_count = 0;
    for (; reader->offset < reader->size && reader->bytes[reader->offset] != '\n' &&
           reader->bytes[reader->offset] != '\r';
         reader->offset++)
        comma_count += reader->bytes[reader->offset] == ',';
    reader->commented_count += reader->column_count > 1 && comma_count + 1 >= reader->column_count;
}

static void feed(struct table_reader *reader)
{
    for (; reader->offset < reader->size && !reader->is_stopped; reader->offset++) {
        if (reader->is_at_row_start && reader->bytes[reader->offset] == '#')
            skip_comment(reader);
        if (reader->offset == reader->size)
            break;
        uint8_t byte = reader->bytes[reader->offset];
        bool is_line_end = byte == '\n' || byte == '\r';
        if (reader->is_at_row_start && is_line_end)
            reader->cell_start = reader->offset + 1;
        if (!is_line_end && byte != ' ' && byte != '\t')
            reader->is_at_row_start = false;
        if (csv_parse(&reader->csv, &byte, 1, on_cell, on_row, reader) != 1) {
            fail_csv(reader);
            return;
        }
        if (reader->is_out_of_memory)
            return;
    }
}

static void finish_feeding(struct table_reader *reader)
{
    if (reader->is_stopped || reader->is_out_of_memory)
        return;
    if (csv_fini(&reader->csv, on_cell, on_row, reader) == 0)
        return;
    if (csv_error(&reader->csv) == CSV_EPARSE) {
        reader->is_stopped = true;
        FAIL(reader, skip_blanks(reader, reader->cell_start), "currents-quote",
             "close it with a second double quote", "this quoted cell never ends");
    } else {
        reader->is_out_of_memory = true;
    }
}

/* ---- the whole ---- */

static bool refuse_bytes(struct table_reader *reader)
{
    const char *text = (const char *)reader->bytes;
    const uint8_t *nul = reader->size ? memchr(reader->bytes, 0, reader->size) : NULL;
    bool is_utf16 =
        reader->size >= 2 && (memcmp(text, "\xff\xfe", 2) == 0 || memcmp(text, "\xfe\xff", 2) == 0);
    size_t valid = text_utf8_valid_until(text, reader->size);
    if (is_utf16)
        FAIL(reader, 0, "currents-encoding", "save the table as CSV in UTF-8",
             "the table is in UTF-16");
    else if (nul)
        FAIL(reader, (size_t)(nul - reader->bytes), "currents-encoding",
             "save the table as CSV text", "a NUL byte; this is no text");
    else if (valid < reader->size)
        FAIL(reader, valid, "currents-encoding", "save the table as CSV in UTF-8",
             "byte 0x%02x is not UTF-8", reader->bytes[valid]);
    return is_utf16 || nul || valid < reader->size;
}

static bool says_something(const struct current_table *table)
{
    for (size_t i = 0; i < table->row_count; i++)
        if (table->rows[i].has_current || table->rows[i].kind == ROW_POSITION)
            return true;
    return false;
}

static void check_empty(struct table_reader *reader)
{
    if (reader->column_count == 0)
        FAIL(reader, 0, "currents-empty", "`isthmus table PACKAGE` writes one to fill in",
             "the table is empty; it needs a header row and rows");
    else if (reader->out->row_count == 0 && reader->commented_count)
        FAIL(reader, reader->size, "currents-empty",
             "take the # off the rows that matter, name their nets and fill in current_a",
             "the table has a header, but its rows are comments");
    else if (reader->out->row_count == 0)
        FAIL(reader, reader->size, "currents-empty",
             "`isthmus table PACKAGE` writes rows to fill in",
             "the table has a header but no rows");
    else if (!says_something(reader->out))
        FAIL(reader, reader->size, "currents-empty", "fill in the column current_a",
             "no row of the table gives a current");
}

/* One warning, not one a row: a starter table is filled in for some nets only. */
static void warn_unfilled(struct table_reader *reader)
{
    if (reader->unfilled_count)
        diag_add(reader->diags, DIAG_WARNING, "currents-not-filled", reader->first_unfilled,
                 "fill them in, or delete them; 0 means that a pin carries nothing",
                 "rows without a current are not used: %zu from here on", reader->unfilled_count);
}

static void read_table(struct table_reader *reader)
{
    if (refuse_bytes(reader))
        return;
    if (reader->size >= 3 && memcmp(reader->bytes, "\xef\xbb\xbf", 3) == 0)
        reader->offset = reader->cell_start = 3;
    size_t errors_before = reader->diags->error_count;
    feed(reader);
    finish_feeding(reader);
    if (reader->is_out_of_memory || reader->diags->error_count > errors_before)
        return;
    check_empty(reader);
    warn_unfilled(reader);
    if (!currents_check_repeats(reader->out, reader->arena, reader->diags))
        reader->is_out_of_memory = true;
}

enum currents_status currents_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                                   struct arena *arena, struct diag_list *diags,
                                   struct current_table *out)
{
    struct table_reader reader = {.file_id = file_id,
                                  .bytes = bytes,
                                  .size = size,
                                  .arena = arena,
                                  .diags = diags,
                                  .out = out,
                                  .cursor = {.file_id = file_id, .bytes = bytes, .size = size},
                                  .is_at_row_start = true};
    size_t errors_before = diags->error_count;
    *out = (struct current_table){.file_id = file_id};
    if (csv_init(&reader.csv, CSV_STRICT | CSV_STRICT_FINI | CSV_APPEND_NULL) != 0)
        return CURRENTS_NO_MEMORY;
    read_table(&reader);
    csv_free(&reader.csv);
    if (reader.is_out_of_memory || diags->is_out_of_memory)
        return CURRENTS_NO_MEMORY;
    return diags->error_count > errors_before ? CURRENTS_REFUSED : CURRENTS_OK;
}
