/* The table of bench readings. */
#include "isthmus/measured.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#include "csv_rows.h"
#include "isthmus/currents.h"
#include "isthmus/quantity.h"
#include "isthmus/uncertainty.h"
#include "parsers_text.h"

#define COLUMN_LIST                                                                                \
    "place, current_a, current_pm_a, ambient_c, ambient_pm_k, hot_c, hot_pm_k, method, "           \
    "emissivity, emissivity_pm, reflected_c, repeat_k, drop_v, cold_drop_v, cold_current_a, "      \
    "cold_c, cold_pm_k, ohm_pm_pct, note"

/* Kinds that only this table knows; accuracies may be 0. */
static const struct quantity_unit kelvin_units[] = {{"", 1, 0}, {"K", 1, 0}, {"C", 1, 0}};
static const struct quantity_unit bare_unit[] = {{"", 1, 0}};
static const struct quantity_unit percent_units[] = {{"", 1, 0}, {"%", 1, 0}};
static const struct quantity_kind kind_accuracy_k = {.name = "an accuracy in K",
                                                     .example = "2K",
                                                     .units = kelvin_units,
                                                     .unit_count = 3,
                                                     .most = 500,
                                                     .is_least_allowed = true};
static const struct quantity_kind kind_accuracy_a = {.name = "an accuracy in A",
                                                     .example = "20mA",
                                                     .most = 1e4,
                                                     .is_least_allowed = true,
                                                     .read = quantity_current};
static const struct quantity_kind kind_fraction = {.name = "a number above 0 and up to 1",
                                                   .example = "0.95",
                                                   .units = bare_unit,
                                                   .unit_count = 1,
                                                   .most = 1};
static const struct quantity_kind kind_fraction_pm = {.name = "a number from 0 to 1",
                                                      .example = "0.02",
                                                      .units = bare_unit,
                                                      .unit_count = 1,
                                                      .most = 1,
                                                      .is_least_allowed = true};
static const struct quantity_kind kind_percent = {.name = "per cent",
                                                  .example = "0.5",
                                                  .units = percent_units,
                                                  .unit_count = 2,
                                                  .most = 100,
                                                  .is_least_allowed = true};

#define NUMBER(column, about)                                                                      \
    {                                                                                              \
        .name = #column, .kind = &(about), .offset = offsetof(struct reading, column)              \
    }
static const struct column {
    const char *name;
    const struct quantity_kind *kind; /* NULL: text */
    size_t offset;
} columns[] = {
    {.name = "place", .offset = offsetof(struct reading, place)},
    {.name = "note", .offset = offsetof(struct reading, note)},
    {.name = "method"},
    NUMBER(current_a, quantity_kind_current),
    NUMBER(current_pm_a, kind_accuracy_a),
    NUMBER(ambient_c, quantity_kind_temperature),
    NUMBER(ambient_pm_k, kind_accuracy_k),
    NUMBER(hot_c, quantity_kind_temperature),
    NUMBER(hot_pm_k, kind_accuracy_k),
    NUMBER(emissivity, kind_fraction),
    NUMBER(emissivity_pm, kind_fraction_pm),
    NUMBER(reflected_c, quantity_kind_temperature),
    NUMBER(repeat_k, kind_accuracy_k),
    NUMBER(drop_v, quantity_kind_voltage),
    NUMBER(cold_drop_v, quantity_kind_voltage),
    NUMBER(cold_current_a, quantity_kind_current),
    NUMBER(cold_c, quantity_kind_temperature),
    NUMBER(cold_pm_k, kind_accuracy_k),
    NUMBER(ohm_pm_pct, kind_percent),
};
#define COLUMN_COUNT (sizeof columns / sizeof columns[0])
#define CELLS_MOST 64

struct reader {
    struct line_cursor cursor;
    struct arena *arena;
    struct diag_list *diags;
    struct measured *out;
    const struct column *column_of[CELLS_MOST];
    size_t column_count; /* 0: no header yet */
    bool is_refused;
};

static void fail(struct reader *reader, size_t offset, const char *code, const char *advice,
                 const char *format, const char *word) __attribute__((format(printf, 5, 0)));
static void fail(struct reader *reader, size_t offset, const char *code, const char *advice,
                 const char *format, const char *word)
{
    char *shown = text_printable(reader->arena, word, strlen(word));
    struct source_pos at = line_cursor_at(&reader->cursor, offset);
    char *text = shown ? arena_printf(reader->arena, format, shown) : NULL;
    diag_add(reader->diags, DIAG_ERROR, code, at, advice, "%s", text ? text : "out of memory");
    reader->is_refused = true;
}

/* ---- header ---- */

static const struct column *find_column(const char *name)
{
    for (size_t i = 0; i < COLUMN_COUNT; i++)
        if (strcmp(columns[i].name, name) == 0)
            return &columns[i];
    return NULL;
}

static bool has_column(const struct reader *reader, const char *name)
{
    for (size_t i = 0; i < reader->column_count; i++)
        if (reader->column_of[i] == find_column(name))
            return true;
    return false;
}

static void take_header_cell(struct reader *reader, const struct csv_cell *cell)
{
    const struct column *column = find_column(cell->text);
    if (!column)
        fail(reader, cell->offset, "measured-column", "the columns are " COLUMN_LIST,
             "unknown column \"%s\"", cell->text);
    else if (has_column(reader, column->name))
        fail(reader, cell->offset, "measured-column", "leave one of them out",
             "column %s is there twice", column->name);
    reader->column_of[reader->column_count++] = column;
}

static bool take_header(struct reader *reader, const struct csv_cell *cells, size_t count)
{
    static const char *const required[] = {"current_a", "ambient_c"};
    for (size_t i = 0; i < count && i < CELLS_MOST; i++)
        take_header_cell(reader, &cells[i]);
    for (size_t i = 0; i < 2 && !reader->is_refused; i++)
        if (!has_column(reader, required[i]))
            fail(reader, cells[0].offset, "measured-header",
                 "the first row names the columns; isthmus bench --csv FILE writes an empty table",
                 "column %s is missing", required[i]);
    return !reader->is_refused;
}

/* ---- a row ---- */

static bool take_method(struct reader *reader, const struct csv_cell *cell, struct reading *out)
{
    static const char *const words[] = {"camera", "contact", "resistance"};
    for (int i = 0; i < 3; i++)
        if (strcmp(cell->text, words[i]) == 0) {
            out->method = (enum measured_method)i;
            out->assumed &= ~(unsigned)ASSUMED_METHOD;
            return true;
        }
    fail(reader, cell->offset, "measured-method", "write camera, contact or resistance",
         "\"%s\" is no method", cell->text);
    return false;
}

static void take_number(struct reader *reader, const struct column *column,
                        const struct csv_cell *cell, struct reading *out)
{
    double *place = (double *)(void *)((char *)out + column->offset);
    enum quantity_status status = quantity_read(column->kind, cell->text, place);
    if (status == QUANTITY_OK)
        return;
    char *advice = arena_printf(reader->arena, "%s takes %s, for example %s", column->name,
                                column->kind->name, column->kind->example);
    char *format =
        arena_printf(reader->arena, "%s \"%%s\" %s", column->name, quantity_problem(status));
    if (advice && format)
        fail(reader, cell->offset, "measured-value", advice, format, cell->text);
}

static void take_cell(struct reader *reader, const struct column *column,
                      const struct csv_cell *cell, struct reading *out)
{
    if (!*cell->text)
        return;
    if (column->kind)
        take_number(reader, column, cell, out);
    else if (strcmp(column->name, "method") == 0)
        take_method(reader, cell, out);
    else {
        const char **place = (const char **)(void *)((char *)out + column->offset);
        char *shown = text_printable(reader->arena, cell->text, strlen(cell->text));
        *place = shown ? shown : "";
    }
}

static struct reading empty_reading(void)
{
    struct reading reading = {.place = "", .note = "", .assumed = ASSUMED_METHOD};
    for (size_t i = 0; i < COLUMN_COUNT; i++)
        if (columns[i].kind)
            *(double *)(void *)((char *)&reading + columns[i].offset) = NAN;
    return reading;
}

static void assume(struct reading *reading, double *value, double assumed, unsigned bit)
{
    if (!isnan(*value))
        return;
    *value = assumed;
    reading->assumed |= bit;
}

static void fill_gaps(struct reading *reading)
{
    double hot_pm_k =
        reading->method == MEASURED_CAMERA ? camera_half_width_k(reading->hot_c) : 1.5;
    assume(reading, &reading->current_pm_a, 0.01 * reading->current_a, ASSUMED_CURRENT_PM);
    assume(reading, &reading->ambient_pm_k, 0.5, ASSUMED_AMBIENT_PM);
    assume(reading, &reading->repeat_k, 0.3, ASSUMED_REPEAT);
    if (reading->method == MEASURED_RESISTANCE) {
        assume(reading, &reading->ohm_pm_pct, 0.5, ASSUMED_OHM_PM);
        assume(reading, &reading->cold_pm_k, 0.5, ASSUMED_COLD_PM);
        return;
    }
    assume(reading, &reading->hot_pm_k, hot_pm_k, ASSUMED_HOT_PM);
    if (reading->method != MEASURED_CAMERA)
        return;
    assume(reading, &reading->emissivity, 0.95, ASSUMED_EMISSIVITY);
    assume(reading, &reading->emissivity_pm, 0.02, ASSUMED_EMISSIVITY);
    assume(reading, &reading->reflected_c, reading->ambient_c, ASSUMED_REFLECTED);
}

/* What the method needs and the row lacks, or NULL. */
static const char *find_gap(const struct reading *reading)
{
    const struct {
        const char *name;
        double value;
        bool is_wanted;
    } wants[] = {
        {"current_a", reading->current_a, true},
        {"ambient_c", reading->ambient_c, true},
        {"hot_c", reading->hot_c, reading->method != MEASURED_RESISTANCE},
        {"drop_v", reading->drop_v, reading->method == MEASURED_RESISTANCE},
        {"cold_drop_v", reading->cold_drop_v, reading->method == MEASURED_RESISTANCE},
        {"cold_current_a", reading->cold_current_a, reading->method == MEASURED_RESISTANCE},
        {"cold_c", reading->cold_c, reading->method == MEASURED_RESISTANCE},
    };
    for (size_t i = 0; i < sizeof wants / sizeof wants[0]; i++)
        if (wants[i].is_wanted && isnan(wants[i].value))
            return wants[i].name;
    return NULL;
}

static void add_reading(struct reader *reader, struct reading *reading, size_t offset)
{
    bool has_ratio = !isnan(reading->drop_v) && !isnan(reading->cold_drop_v);
    if ((reading->assumed & ASSUMED_METHOD) && isnan(reading->hot_c) && has_ratio) {
        reading->method = MEASURED_RESISTANCE;
        reading->assumed &= ~(unsigned)ASSUMED_METHOD;
    }
    const char *gap = find_gap(reading);
    if (gap) {
        fail(reader, offset, "measured-empty", "fill it in, or delete the row",
             "this reading has no %s", gap);
        return;
    }
    if (reader->out->count == READINGS_MOST) {
        fail(reader, offset, "measured-many", "compare fewer at once",
             "there are more readings than fit%s", "");
        return;
    }
    fill_gaps(reading);
    reader->out->readings[reader->out->count++] = *reading;
}

static bool take_row(const struct csv_cell *cells, size_t count, void *context)
{
    struct reader *reader = context;
    if (reader->column_count == 0)
        return take_header(reader, cells, count);
    if (count != reader->column_count) {
        fail(reader, cells[0].offset, "measured-cells",
             "every row has as many commas as the header; numbers take a decimal point",
             "this row has more or fewer cells than the header%s", "");
        return true;
    }
    struct reading reading = empty_reading();
    bool was_refused = reader->is_refused;
    reader->is_refused = false;
    reading.at = line_cursor_at(&reader->cursor, cells[0].offset);
    for (size_t i = 0; i < count; i++)
        take_cell(reader, reader->column_of[i], &cells[i], &reading);
    if (!reader->is_refused)
        add_reading(reader, &reading, cells[0].offset);
    reader->is_refused = reader->is_refused || was_refused;
    return true;
}

enum measured_status measured_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                                   struct arena *arena, struct diag_list *diags,
                                   struct measured *out)
{
    struct reader reader = {.cursor = {.file_id = file_id, .bytes = bytes, .size = size},
                            .arena = arena,
                            .diags = diags,
                            .out = out};
    out->count = 0;
    size_t offset = 0;
    enum csv_rows_status status =
        csv_rows_read(bytes, size, arena, &(struct csv_rows_visitor){take_row, &reader}, &offset);
    if (status == CSV_ROWS_NO_MEMORY || diags->is_out_of_memory)
        return MEASURED_NO_MEMORY;
    if (status == CSV_ROWS_QUOTE)
        fail(&reader, offset, "measured-quote", "a quote within a quoted cell is doubled",
             "a double quote in the wrong place%s", "");
    else if (!reader.is_refused && out->count == 0)
        fail(&reader, 0, "measured-none",
             "isthmus bench --csv FILE writes an empty table to fill in",
             "the table holds no reading%s", "");
    return reader.is_refused ? MEASURED_REFUSED : MEASURED_OK;
}
