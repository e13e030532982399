/* Gerber job files (.gbrjob): JSON read by jansson, facts of the board taken, the rest left. */
#include "isthmus/package.h"

#include <ctype.h>
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "parsers_text.h"

#define LAYERS_MAX 64
#define THICKNESS_MAX_MM 20
#define COPPER_MAX_MM 1.1
#define SIZE_MAX_MM 10000

struct job_reader {
    uint32_t file_id;
    struct arena *arena;
    struct diag_list *diags;
    struct job_facts *out;
    bool is_out_of_memory;
};

/* jansson keeps no positions of values, so a value is named by its path. */
static void fail_value(struct job_reader *reader, const char *path, const char *expected)
{
    diag_add(
        reader->diags, DIAG_ERROR, "job-value", (struct source_pos){.file_id = reader->file_id},
        "correct the job file, or give --role FILE=ignore for it", "%s is not %s", path, expected);
}

static void *take(struct job_reader *reader, size_t count, size_t size)
{
    void *memory = arena_alloc(reader->arena, count + 1, size);
    if (!memory)
        reader->is_out_of_memory = true;
    return memory;
}

static const char *copy_text(struct job_reader *reader, const char *text, size_t length)
{
    const char *copy = text_printable(reader->arena, text, length);
    if (!copy)
        reader->is_out_of_memory = true;
    return copy;
}

/* A length in mm, above 0; NAN when it is not stated (absent or null). */
static double read_mm(struct job_reader *reader, const json_t *owner, const char *name,
                      const char *path, double most_mm)
{
    const json_t *value = json_object_get(owner, name);
    if (!value || json_is_null(value))
        return NAN;
    double mm = json_number_value(value);
    if (json_is_number(value) && mm > 0 && mm <= most_mm)
        return mm;
    const char *expected =
        arena_printf(reader->arena, "a length in mm above 0 and up to %g", most_mm);
    reader->is_out_of_memory |= !expected;
    fail_value(reader, path, expected ? expected : "a length in mm");
    return NAN;
}

/* "Overall" is what an early draft of the format called GeneralSpecs. */
static void read_general(struct job_reader *reader, const json_t *root)
{
    struct job_facts *out = reader->out;
    const json_t *specs = json_object_get(root, "GeneralSpecs");
    if (!specs)
        specs = json_object_get(root, "Overall");
    const json_t *size = json_object_get(specs, "Size");
    const json_t *layers = json_object_get(specs, "LayerNumber");
    const char *finish = json_string_value(json_object_get(specs, "Finish"));
    out->board_thickness_mm =
        read_mm(reader, specs, "BoardThickness", "BoardThickness", THICKNESS_MAX_MM);
    out->size_x_mm = read_mm(reader, size, "X", "Size.X", SIZE_MAX_MM);
    out->size_y_mm = read_mm(reader, size, "Y", "Size.Y", SIZE_MAX_MM);
    json_int_t layer_count = json_integer_value(layers);
    if (layers && (!json_is_integer(layers) || layer_count < 1 || layer_count > LAYERS_MAX))
        fail_value(reader, "LayerNumber", "a number of copper layers");
    else
        out->layer_count = (uint16_t)layer_count;
    if (finish)
        out->finish = copy_text(reader, finish, strlen(finish));
}

static bool is_of_type(const json_t *layer, const char *name)
{
    const char *type = json_string_value(json_object_get(layer, "Type"));
    return type && strcasecmp(type, name) == 0;
}

static void read_stackup(struct job_reader *reader, const json_t *root)
{
    const json_t *stackup = json_object_get(root, "MaterialStackup");
    if (!stackup)
        return;
    if (!json_is_array(stackup)) {
        fail_value(reader, "MaterialStackup", "a list of layers");
        return;
    }
    double *copper_um = take(reader, json_array_size(stackup), sizeof *copper_um);
    double *dielectric_mm = take(reader, json_array_size(stackup), sizeof *dielectric_mm);
    for (size_t i = 0; copper_um && dielectric_mm && i < json_array_size(stackup); i++) {
        const json_t *layer = json_array_get(stackup, i);
        if (is_of_type(layer, "Dielectric") && reader->out->copper_count)
            dielectric_mm[reader->out->copper_count - 1] +=
                read_mm(reader, layer, "Thickness", "MaterialStackup: Thickness of dielectric",
                        THICKNESS_MAX_MM);
        if (is_of_type(layer, "Copper"))
            copper_um[reader->out->copper_count++] =
                1000 * read_mm(reader, layer, "Thickness", "MaterialStackup: Thickness of copper",
                               COPPER_MAX_MM);
    }
    reader->out->copper_um = copper_um;
    reader->out->dielectric_mm = dielectric_mm;
}

/* "Copper,L1,Top" in its fields. */
static bool split_function(struct job_reader *reader, const char *text,
                           struct job_file_entry *entry)
{
    size_t count = 1;
    for (const char *c = text; *c; c++)
        count += *c == ',';
    const char **fields = take(reader, count, sizeof *fields);
    if (!fields)
        return false;
    for (size_t i = 0; i < count; i++) {
        size_t length = strcspn(text, ",");
        fields[i] = copy_text(reader, text, length);
        if (!fields[i])
            return false;
        text += length + (text[length] == ',');
    }
    entry->file_function = fields;
    entry->file_function_count = (uint32_t)count;
    return true;
}

static void read_entry(struct job_reader *reader, const json_t *item)
{
    struct job_file_entry entry = {0};
    const char *path = json_string_value(json_object_get(item, "Path"));
    const char *function = json_string_value(json_object_get(item, "FileFunction"));
    const char *polarity = json_string_value(json_object_get(item, "FilePolarity"));
    if (!path) {
        fail_value(reader, "FilesAttributes: Path", "a file name");
        return;
    }
    entry.path = copy_text(reader, path, strlen(path));
    if (polarity)
        entry.polarity = copy_text(reader, polarity, strlen(polarity));
    if (entry.path && (!function || split_function(reader, function, &entry)))
        reader->out->entries[reader->out->entry_count++] = entry;
}

static void read_files(struct job_reader *reader, const json_t *root)
{
    const json_t *files = json_object_get(root, "FilesAttributes");
    if (!files)
        return;
    if (!json_is_array(files)) {
        fail_value(reader, "FilesAttributes", "a list of files");
        return;
    }
    reader->out->entries = take(reader, json_array_size(files), sizeof *reader->out->entries);
    for (size_t i = 0; i < json_array_size(files) && !reader->is_out_of_memory; i++)
        read_entry(reader, json_array_get(files, i));
}

static void check_layers(struct job_reader *reader)
{
    const struct job_facts *out = reader->out;
    if (out->layer_count && out->copper_count && out->layer_count != out->copper_count)
        diag_add(reader->diags, DIAG_ERROR, "job-layers",
                 (struct source_pos){.file_id = reader->file_id},
                 "correct the job file, or give --role FILE=ignore for it",
                 "LayerNumber says %u copper layers, MaterialStackup lists %zu", out->layer_count,
                 out->copper_count);
}

/* jansson stands behind the token it complains of: "... near 'TOKEN'". */
static size_t offset_of_error(const json_error_t *error)
{
    size_t offset = error->position > 0 ? (size_t)error->position : 0;
    const char *token = strstr(error->text, " near '"), *end = strrchr(error->text, '\'');
    size_t length = token && end > token + 7 ? (size_t)(end - token) - 7 : 0;
    return offset > length ? offset - length : 0;
}

static enum package_status fail_json(struct job_reader *reader, const uint8_t *bytes, size_t size,
                                     const json_error_t *error)
{
    if (json_error_code(error) == json_error_out_of_memory)
        return PACKAGE_NO_MEMORY;
    const char *text = copy_text(reader, error->text, sizeof error->text);
    diag_add(reader->diags, DIAG_ERROR, "job-json",
             source_locate(reader->file_id, bytes, size, offset_of_error(error)),
             "export the job file again, or give --role FILE=ignore for it",
             "this is no valid JSON: %s", text ? text : "");
    return PACKAGE_REFUSED;
}

static bool has_bom(const uint8_t *bytes, size_t size)
{
    return size >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0;
}

static enum package_status read_root(struct job_reader *reader, const json_t *root)
{
    size_t errors_before = reader->diags->error_count;
    if (!json_is_object(root)) {
        fail_value(reader, "the whole", "a JSON object");
        return PACKAGE_REFUSED;
    }
    read_general(reader, root);
    read_stackup(reader, root);
    read_files(reader, root);
    check_layers(reader);
    return reader->diags->error_count > errors_before ? PACKAGE_REFUSED : PACKAGE_OK;
}

enum package_status job_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                             struct arena *arena, struct diag_list *diags, struct job_facts *out)
{
    struct job_reader reader = {file_id, arena, diags, out, false};
    *out = (struct job_facts){
        .file_id = file_id, .board_thickness_mm = NAN, .size_x_mm = NAN, .size_y_mm = NAN};
    size_t skipped = has_bom(bytes, size) ? 3 : 0;
    json_error_t error;
    json_t *root =
        json_loadb((const char *)bytes + skipped, size - skipped, JSON_REJECT_DUPLICATES, &error);
    enum package_status status;
    if (root) {
        status = read_root(&reader, root);
    } else {
        error.position += (int)skipped;
        status = fail_json(&reader, bytes, size, &error);
    }
    json_decref(root);
    return reader.is_out_of_memory || diags->is_out_of_memory ? PACKAGE_NO_MEMORY : status;
}

static bool contains(const uint8_t *bytes, size_t size, const char *text)
{
    return memmem(bytes, size, text, strlen(text)) != NULL;
}

bool job_looks_like(const uint8_t *bytes, size_t size)
{
    size_t at = has_bom(bytes, size) ? 3 : 0;
    while (at < size && isspace(bytes[at]))
        at++;
    return at < size && bytes[at] == '{' &&
           (contains(bytes, size, "\"GeneralSpecs\"") || contains(bytes, size, "\"Overall\"") ||
            contains(bytes, size, "\"FilesAttributes\""));
}
