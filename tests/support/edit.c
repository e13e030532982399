#include "edit.h"
#include "assertions.h"
#include "diags.h"

#include <ctype.h>
#include <math.h>

bool statement_find(const struct source_file *file, struct source_pos at, struct statement *out)
{
    size_t offset = 0;
    for (uint32_t line = 1; line < at.line && offset < file->size; offset++)
        line += file->bytes[offset] == '\n';
    offset += at.column ? at.column - 1 : 0;
    if (offset >= file->size)
        return false;
    out->from = out->to = offset;
    while (out->to < file->size && file->bytes[out->to] != '*')
        out->to++;
    while (out->from > 0 && !strchr("*%\n", file->bytes[out->from - 1]))
        out->from--;
    return out->to < file->size;
}

bool statement_is_plain_draw(const struct source_file *file, struct statement statement)
{
    const char *text = (const char *)file->bytes + statement.from;
    const char *end = (const char *)file->bytes + statement.to;
    if (end - text > 3 && strncmp(text, "G01", 3) == 0)
        text += 3;
    const char *digits = text;
    for (; text < end && *text != 'D'; text++)
        if (!isdigit((unsigned char)*text) && !strchr("XY+-", *text))
            return false;
    bool is_draw = text == end || (end - text == 3 && strncmp(text, "D01", 3) == 0) ||
                   (end - text == 2 && strncmp(text, "D1", 2) == 0);
    return is_draw && text > digits;
}

const char *statement_rest(const struct source_file *file, struct statement statement,
                           struct arena *arena)
{
    return arena_strndup(arena, (const char *)file->bytes + statement.to + 1,
                         file->size - statement.to - 1);
}

double stroke_length_nm(const struct object *object)
{
    return hypot((double)(object->to.x_nm - object->from.x_nm),
                 (double)(object->to.y_nm - object->from.y_nm));
}

static double unit_nm(const struct drawing *drawing)
{
    return (drawing->is_inch ? 25.4e6 : 1e6) / pow(10, drawing->decimal_digits);
}

struct pos_nm on_file_grid(const struct drawing *drawing, double x_nm, double y_nm)
{
    double unit = unit_nm(drawing);
    return (struct pos_nm){llround(round(x_nm / unit) * unit), llround(round(y_nm / unit) * unit)};
}

const char *point_text(const struct drawing *drawing, struct pos_nm at, const char *code,
                       struct arena *arena)
{
    double unit = unit_nm(drawing);
    return arena_printf(arena, "X%lldY%lld%s*", llround((double)at.x_nm / unit),
                        llround((double)at.y_nm / unit), code);
}

double in_file_units(const struct drawing *drawing, double length_nm)
{
    return length_nm / (drawing->is_inch ? 25.4e6 : 1e6);
}

int32_t free_code(const struct drawing *drawing)
{
    int32_t code = 10;
    for (size_t i = 0; i < drawing->aperture_count; i++)
        if (drawing->apertures[i].code >= code)
            code = drawing->apertures[i].code + 1;
    return code;
}

void files_with(const struct file_table *files, uint32_t file_id, const char *text,
                struct file_table *out)
{
    for (size_t f = 0; f < files->count; f++) {
        const struct source_file *file = &files->files[f];
        bool is_new = f + 1 == file_id;
        assert_true(file_table_add(out, file->name, is_new ? (const uint8_t *)text : file->bytes,
                                   is_new ? strlen(text) : file->size, true) > 0);
    }
}

void board_of_files(struct file_table *files, const struct board_facts *facts,
                    const struct current_table *table, struct arena *arena, struct diag_list *diags,
                    struct board *out)
{
    struct board_options options = {.thread_count = 1, .keeps_outlines = true};
    enum board_status status = board_read(files, facts, table, &options, arena, diags, out);
    if (status != BOARD_OK)
        diags_print(diags, DIAG_NOTE);
    assert_int_equal(status, BOARD_OK);
}
