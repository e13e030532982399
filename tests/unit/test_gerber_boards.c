/*
 * Every drawing of the real packages is read without an error; what is told about it is known and
 * justified; objects on the copper layers are as many as the packages' own list says, which another
 * reader counted.
 */
#include "assertions.h"
#include "isthmus/drawing.h"

#include <dirent.h>
#include <fnmatch.h>
#include <sys/stat.h>
#include <zip.h>

#define MAX_FILE_BYTES ((size_t)64 << 20)

/* Objects on all copper layers of a package: the README beside the packages. */
static struct board {
    const char *folder, *copper; /* copper: pattern of the names of its copper layers */
    size_t objects, found;
} boards[] = {
    {"robot-power", "*_Cu.g[tb]l", 1108, 0},
    {"atx-breakout", "*-[BF].Cu.gbr", 4325, 0},
    {"dc-load", "*_Cu.gbr", 558, 0},
    {"boost-charger", "*_[TB]*[pm]Layer.G[TB]L", 293, 0},
    {"ac-timer", "*.[tb]*[pm]layer.ger", 403, 0},
    {"ev-charger", "copper_*.gbr", 682, 0},
    {"gps-logger", "copper_*.gbr", 1768, 0},
    {"foc-shield", "*.G[TB]L", 891, 0},
    {"bga-adapter", "*.G[TB]L", 107, 0},
    {"inverter-logic", "*@([mp] Copper|Powerplane?).gbr", 6258, 0},
    {"printer-controller", "*.G[TB23]L", 94256, 0},
    {"energy-monitor", "*.G[TB]L", 5924, 0},
    {"sbc-12layer", "@(TOP|BOTTOM|LAY*).art", 34273, 0},
    {"hydro-charger", "*.g[tb]l", 1413, 0},
    {"hotplate", "*.G[TB]L", 572, 0},
    {"module-14layer", "*-L[01][0-9].art", 156262, 0},
    {"porcupine-6layer", "*_Cu.gbr", 20842, 0},
    {"injector-12ch", "*-[BF]_Cu.g[tb]l", 5600, 0},
};
#define BOARD_COUNT (sizeof boards / sizeof *boards)

/* What real files give cause to tell, and why that is right. */
static struct told {
    const char *code, *why;
    size_t files;
} told[] = {
    {"gerber-no-interpolation", "they draw before any G01; the image depends on reading it so", 0},
    {"gerber-omitted-operation", "bare coordinates; deprecated", 0},
    {"gerber-open-contour", "a closing line is left to the reader, the specification asks for it",
     0},
    {"gerber-too-many-digits", "more integer digits than the format statement allows", 0},
    {"gerber-upper-case-x", "the specification writes x", 0},
    {"gerber-hole-fills", "a circle whose hole is as large as itself", 0},
    {"gerber-image-moved", "MIA1B0 on the drawing of the underside", 0},
};
#define TOLD_COUNT (sizeof told / sizeof *told)

static size_t file_count, error_count, unknown_count, clean_count;
static struct board *current;

static void look_at_diags(const char *name, const struct diag_list *diags)
{
    clean_count += diags->count == 0;
    for (size_t i = 0; i < diags->count; i++) {
        const struct diag *d = &diags->items[i];
        size_t k = 0;
        while (k < TOLD_COUNT && strcmp(told[k].code, d->code) != 0)
            k++;
        if (k < TOLD_COUNT) {
            told[k].files++;
            continue;
        }
        unknown_count++;
        print_error("%s:%u:%u: [%s] %s\n", name, d->at.line, d->at.column, d->code, d->text);
    }
}

static const char *base_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static void read_drawing(const char *name, const uint8_t *bytes, size_t size)
{
    if (!gerber_looks_like(bytes, size))
        return;
    struct arena *arena = arena_new("board");
    struct diag_list diags = {.arena = arena};
    struct drawing drawing;
    file_count++;
    if (gerber_read(1, bytes, size, 2000000, arena, &diags, &drawing) != DRAWING_OK ||
        diag_has_errors(&diags))
        error_count++;
    look_at_diags(name, &diags);
    if (current && fnmatch(current->copper, base_name(name), FNM_EXTMATCH) == 0)
        current->found += drawing.object_count;
    arena_free(arena);
}

static void read_zip(const char *path)
{
    zip_t *zip = zip_open(path, ZIP_RDONLY, NULL);
    assert_non_null(zip);
    for (zip_int64_t i = 0; i < zip_get_num_entries(zip, 0); i++) {
        zip_stat_t stat;
        if (zip_stat_index(zip, (zip_uint64_t)i, 0, &stat) != 0 || stat.size == 0 ||
            stat.size > MAX_FILE_BYTES)
            continue;
        zip_file_t *file = zip_fopen_index(zip, (zip_uint64_t)i, 0);
        uint8_t *bytes = malloc(stat.size);
        assert_true(file && bytes);
        assert_int_equal(zip_fread(file, bytes, stat.size), (zip_int64_t)stat.size);
        read_drawing(stat.name, bytes, stat.size);
        free(bytes);
        zip_fclose(file);
    }
    zip_discard(zip);
}

static void read_path(const char *path);

static void read_folder(const char *path)
{
    struct dirent **entries = NULL;
    int count = scandir(path, &entries, NULL, alphasort);
    for (int i = 0; i < count; i++) {
        char inner[4096];
        if (entries[i]->d_name[0] != '.') {
            snprintf(inner, sizeof inner, "%s/%s", path, entries[i]->d_name);
            read_path(inner);
        }
        free(entries[i]);
    }
    free(entries);
}

static void read_path(const char *path)
{
    struct stat st;
    const char *ending = strrchr(path, '.');
    if (stat(path, &st) != 0)
        return;
    if (S_ISDIR(st.st_mode)) {
        read_folder(path);
    } else if (ending && strcmp(ending, ".zip") == 0) {
        read_zip(path);
    } else {
        size_t size;
        uint8_t *bytes = read_whole_file(path, &size);
        read_drawing(path, bytes, size);
        free(bytes);
    }
}

static void every_drawing_is_read(void **state)
{
    (void)state;
    const char *folder = boards_folder();
    if (!folder)
        skip();
    size_t present = 0;
    for (size_t i = 0; i < BOARD_COUNT; i++) {
        char path[4096];
        struct stat st;
        snprintf(path, sizeof path, "%s/%s", folder, boards[i].folder);
        if (stat(path, &st) != 0)
            continue;
        present++;
        current = &boards[i];
        read_folder(path);
        if (current->found != current->objects)
            fail_msg("%s: %zu objects on copper, expected %zu", current->folder, current->found,
                     current->objects);
    }
    for (size_t k = 0; k < TOLD_COUNT; k++)
        print_message("%4zu files: %s (%s)\n", told[k].files, told[k].code, told[k].why);
    print_message("%4zu files of %zu without any diagnostic\n", clean_count, file_count);
    assert_int_equal(error_count, 0);
    assert_int_equal(unknown_count, 0);
    assert_true(present > 0 && file_count > present);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_drawing_is_read)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
