#include "hints.h"

#include <string.h>

static const char *find(const struct source_file *file, const char *text)
{
    return memmem(file->bytes, file->size, text, strlen(text));
}

static size_t count_of(const struct source_file *file, const char *text)
{
    const uint8_t *at = file->bytes, *end = file->bytes + file->size;
    size_t count = 0;
    while (at < end && (at = memmem(at, (size_t)(end - at), text, strlen(text)))) {
        count++;
        at += strlen(text);
    }
    return count;
}

static bool starts(const struct source_file *file, const char *text)
{
    return file->size >= strlen(text) && memcmp(file->bytes, text, strlen(text)) == 0;
}

static enum content content_of(const struct source_file *file)
{
    if (find(file, "%FS") || find(file, "%ADD") || find(file, "%MO"))
        return CONTENT_DRAWING;
    if (starts(file, "{"))
        return CONTENT_JOB;
    if ((find(file, "\n317") || find(file, "\n327")) && find(file, "\n999"))
        return CONTENT_NETLIST;
    bool has_tool =
        find(file, "T1") || find(file, "T01") || find(file, "M48") || find(file, ";   Holesize");
    if (has_tool && find(file, "M30") && !find(file, " Report"))
        return CONTENT_DRILL;
    return CONTENT_OTHER;
}

/* The fields behind "TF.name,", up to the end of the command or line. */
static size_t fields_after(const struct source_file *file, const char *name, const char **fields,
                           size_t most, struct arena *arena)
{
    const char *at = find(file, name), *end = (const char *)file->bytes + file->size;
    size_t count = 0;
    if (!at)
        return 0;
    at += strlen(name);
    while (at < end && *at == ',' && count < most) {
        const char *from = ++at;
        while (at < end && !strchr(",*%\r\n", *at))
            at++;
        fields[count++] = arena_strndup(arena, from, (size_t)(at - from));
    }
    return count;
}

struct file_hint hint_of_file(uint32_t file_id, const struct source_file *file, struct arena *arena)
{
    struct file_hint hint = {.file_id = file_id, .content = content_of(file)};
    const char **fields = arena_alloc(arena, 8, sizeof *fields);
    const char *polarity[1] = {0};
    hint.file_function = fields;
    hint.file_function_count = (uint32_t)fields_after(file, "TF.FileFunction", fields, 8, arena);
    if (fields_after(file, "TF.FilePolarity", polarity, 1, arena))
        hint.file_polarity = polarity[0];
    hint.flash_count = count_of(file, "D03*") + count_of(file, "D3*");
    hint.stroke_count = count_of(file, "D01*") + count_of(file, "D1*");
    hint.region_count = count_of(file, "G36*");
    return hint;
}
