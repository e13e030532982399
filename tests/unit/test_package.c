/* Packages built in memory or in a temporary folder; expected results by construction. */
#include "assertions.h"
#include "isthmus/package.h"

#include <sys/stat.h>
#include <unistd.h>
#include <zip.h>

struct world {
    struct arena *arena;
    struct diag_list diags;
    struct file_table files;
    char folder[32];
};

static int world_up(void **state)
{
    struct world *world = calloc(1, sizeof *world);
    world->arena = arena_new("test");
    world->diags.arena = world->arena;
    strcpy(world->folder, "/tmp/isthmus-XXXXXX");
    assert_non_null(mkdtemp(world->folder));
    *state = world;
    return 0;
}

static int world_down(void **state)
{
    struct world *world = *state;
    char command[64];
    snprintf(command, sizeof command, "rm -rf '%s'", world->folder);
    assert_int_equal(system(command), 0);
    file_table_free(&world->files);
    arena_free(world->arena);
    free(world);
    return 0;
}

/* ---- building zips ---- */

struct entry {
    const char *name;
    const void *bytes;
    size_t size;
};
struct blob {
    uint8_t *bytes;
    size_t size;
};

static zip_t *zip_new(zip_source_t **source)
{
    zip_error_t error;
    *source = zip_source_buffer_create(NULL, 0, 0, &error);
    zip_t *zip = zip_open_from_source(*source, ZIP_TRUNCATE, &error);
    assert_non_null(zip);
    zip_source_keep(*source);
    return zip;
}

static struct blob zip_finish(zip_t *zip, zip_source_t *source)
{
    struct blob blob;
    zip_stat_t stat;
    assert_int_equal(zip_close(zip), 0);
    assert_int_equal(zip_source_stat(source, &stat), 0);
    blob.size = (size_t)stat.size;
    blob.bytes = malloc(blob.size);
    assert_int_equal(zip_source_open(source), 0);
    assert_int_equal(zip_source_read(source, blob.bytes, blob.size), blob.size);
    zip_source_close(source);
    zip_source_free(source);
    return blob;
}

static zip_int64_t zip_put(zip_t *zip, const char *name, const void *bytes, size_t size)
{
    zip_source_t *data = zip_source_buffer(zip, bytes, size, 0);
    zip_int64_t index = zip_file_add(zip, name, data, 0);
    assert_true(index >= 0);
    return index;
}

static struct blob make_zip(const struct entry *entries, size_t count)
{
    zip_source_t *source;
    zip_t *zip = zip_new(&source);
    for (size_t i = 0; i < count; i++)
        zip_put(zip, entries[i].name, entries[i].bytes, entries[i].size);
    return zip_finish(zip, source);
}

#define TEXT_ENTRY(name, text)                                                                     \
    {                                                                                              \
        name, text, sizeof(text) - 1                                                               \
    }

static enum package_status read_blob(struct world *world, struct blob blob,
                                     const struct package_limits *limits)
{
    enum package_status status = package_read_bytes("b.zip", blob.bytes, blob.size, limits,
                                                    world->arena, &world->files, &world->diags);
    free(blob.bytes);
    return status;
}

static void assert_refused(struct world *world, enum package_status status, const char *code,
                           const char *word)
{
    assert_int_equal(status, PACKAGE_REFUSED);
    assert_int_equal(world->files.count, 0);
    for (size_t i = 0; i < world->diags.count; i++) {
        const struct diag *diag = &world->diags.items[i];
        if (strcmp(diag->code, code) != 0)
            continue;
        assert_int_equal(diag->level, DIAG_ERROR);
        assert_non_null(diag->advice);
        if (!strstr(diag->text, word) && !strstr(diag->advice, word))
            fail_msg("no \"%s\" in: %s (%s)", word, diag->text, diag->advice);
        return;
    }
    fail_msg("no diagnostic %s", code);
}

static void put_file(struct world *world, const char *name, const void *bytes, size_t size)
{
    char path[256];
    snprintf(path, sizeof path, "%s/%s", world->folder, name);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, size, file), size);
    fclose(file);
}

static void put_folder(struct world *world, const char *name)
{
    char path[256];
    snprintf(path, sizeof path, "%s/%s", world->folder, name);
    assert_int_equal(mkdir(path, 0700), 0);
}

static enum package_status read_paths(struct world *world, const char *const *names, size_t count)
{
    char paths[8][256];
    const char *list[8];
    for (size_t i = 0; i < count; i++) {
        snprintf(paths[i], sizeof paths[i], "%s/%s", world->folder, names[i]);
        list[i] = paths[i];
    }
    return package_read(list, count, NULL, world->arena, &world->files, &world->diags);
}

/* ---- what is read ---- */

static void members_come_in_byte_order_whatever_the_zip_has(void **state)
{
    struct world *world = *state;
    const struct entry entries[] = {TEXT_ENTRY("top.gtl", "two"), TEXT_ENTRY("Z.GBL", "one"),
                                    TEXT_ENTRY("a/in.g1", "zero")};
    assert_int_equal(read_blob(world, make_zip(entries, 3), NULL), PACKAGE_OK);
    assert_int_equal(world->files.count, 3);
    assert_string_equal(world->files.files[0].name, "b.zip/Z.GBL");
    assert_string_equal(world->files.files[1].name, "b.zip/a/in.g1");
    assert_string_equal(world->files.files[2].name, "b.zip/top.gtl");
    assert_int_equal(world->files.files[2].size, 3);
    assert_memory_equal(world->files.files[2].bytes, "two", 3);
    assert_true(world->files.files[2].is_package);
    assert_int_equal(world->diags.count, 0);
}

static void a_zip_within_a_zip_is_opened(void **state)
{
    struct world *world = *state;
    const struct entry inner[] = {TEXT_ENTRY("top.gtl", "x")};
    struct blob packed = make_zip(inner, 1);
    const struct entry outer[] = {{"fab/IN.ZIP", packed.bytes, packed.size}};
    struct blob blob = make_zip(outer, 1);
    free(packed.bytes);
    assert_int_equal(read_blob(world, blob, NULL), PACKAGE_OK);
    assert_int_equal(world->files.count, 1);
    assert_string_equal(world->files.files[0].name, "b.zip/fab/IN.ZIP/top.gtl");
}

static void names_of_all_kinds_are_shown_clean(void **state)
{
    struct world *world = *state;
    const struct entry entries[] = {TEXT_ENTRY("DOS\\GERBER\\TOP.GTL", "1"),
                                    TEXT_ENTRY("../../etc/x.gbl", "2"),
                                    TEXT_ENTRY("/abs//y.gts", "3"),
                                    TEXT_ENTRY("C:\\z.gbs", "4"),
                                    TEXT_ENTRY("W\xc3\xa4rme/\xe5\xba\x95.gko", "5"),
                                    TEXT_ENTRY("a\x1b[31m.txt", "6")};
    assert_int_equal(read_blob(world, make_zip(entries, 6), NULL), PACKAGE_OK);
    assert_int_equal(world->files.count, 6);
    assert_string_equal(world->files.files[0].name, "b.zip/DOS/GERBER/TOP.GTL");
    assert_string_equal(world->files.files[1].name, "b.zip/W\xc3\xa4rme/\xe5\xba\x95.gko");
    assert_string_equal(world->files.files[2].name, "b.zip/abs/y.gts");
    assert_null(strchr(world->files.files[3].name, 0x1b));
    assert_string_equal(world->files.files[4].name, "b.zip/etc/x.gbl");
    assert_string_equal(world->files.files[5].name, "b.zip/z.gbs");
}

/* CP437 byte 0x84 is a with diaeresis (the code page's own table, from memory). */
static void old_dos_names_become_utf8(void **state)
{
    struct world *world = *state;
    const struct entry entries[] = {TEXT_ENTRY("wXrme.gtl", "1")};
    struct blob blob = make_zip(entries, 1);
    for (size_t i = 0; i + 9 <= blob.size; i++)
        if (memcmp(blob.bytes + i, "wXrme.gtl", 9) == 0)
            blob.bytes[i + 1] = 0x84;
    assert_int_equal(read_blob(world, blob, NULL), PACKAGE_OK);
    assert_string_equal(world->files.files[0].name, "b.zip/w\xc3\xa4rme.gtl");
}

static void junk_is_left_out_with_a_note(void **state)
{
    struct world *world = *state;
    const struct entry entries[] = {
        TEXT_ENTRY("top.gtl", "1"),     TEXT_ENTRY("__MACOSX/._top.gtl", "2"),
        TEXT_ENTRY(".DS_Store", "3"),   TEXT_ENTRY("fab/Thumbs.db", "4"),
        TEXT_ENTRY("fab/._x.gbl", "5"), TEXT_ENTRY(".git/config", "6")};
    assert_int_equal(read_blob(world, make_zip(entries, 6), NULL), PACKAGE_OK);
    assert_int_equal(world->files.count, 1);
    assert_int_equal(world->diags.count, 1);
    assert_int_equal(world->diags.items[0].level, DIAG_NOTE);
    assert_non_null(strstr(world->diags.items[0].text, "5 files"));
}

/*
 * A zip written to a pipe: general purpose bit 3 set, CRC and sizes zero in the local header and
 * given behind the data (APPNOTE.TXT 4.4.4). Made by hand: stored "abc", CRC-32 0x352441c2 (zlib's
 * crc32 of "abc", from memory).
 */
static void streamed_sizes_are_read(void **state)
{
    struct world *world = *state;
    static const uint8_t streamed[] = {
        'P',  'K',  3,    4,    20,   0,    8,    0,    0, 0, 0, 0, 0, 0, 0,   0,
        0,    0,    0,    0,    0,    0,    0,    0,    0, 0, 5, 0, 0, 0, 't', '.',
        'g',  't',  'l',  'a',  'b',  'c',                                        /* 38 */
        'P',  'K',  7,    8,    0xc2, 0x41, 0x24, 0x35, 3, 0, 0, 0, 3, 0, 0,   0, /* 54 */
        'P',  'K',  1,    2,    20,   0,    20,   0,    8, 0, 0, 0, 0, 0, 0,   0,
        0xc2, 0x41, 0x24, 0x35, 3,    0,    0,    0,    3, 0, 0, 0, 5, 0, 0,   0,
        0,    0,    0,    0,    0,    0,    0,    0,    0, 0, 0, 0, 0, 0, 't', '.',
        'g',  't',  'l',  'P',  'K',  5,    6,    0,    0, 0, 0, 1, 0, 1, 0,   51,
        0,    0,    0,    54,   0,    0,    0,    0,    0};
    struct blob blob = {malloc(sizeof streamed), sizeof streamed};
    memcpy(blob.bytes, streamed, sizeof streamed);
    enum package_status status = read_blob(world, blob, NULL);
    for (size_t i = 0; i < world->diags.count; i++)
        print_error("%s\n", world->diags.items[i].text);
    assert_int_equal(status, PACKAGE_OK);
    assert_string_equal(world->files.files[0].name, "b.zip/t.gtl");
    assert_memory_equal(world->files.files[0].bytes, "abc", 3);
}

static void folders_and_files_are_read_together(void **state)
{
    struct world *world = *state;
    const struct entry entries[] = {TEXT_ENTRY("top.gtl", "x")};
    struct blob zip = make_zip(entries, 1);
    put_folder(world, "fab");
    put_folder(world, "fab/drills");
    put_file(world, "fab/drills/a.drl", "D", 1);
    put_file(world, "fab/top.gtl", "T", 1);
    put_file(world, "fab/more.zip", zip.bytes, zip.size);
    put_file(world, "net.ipc", "N", 1);
    free(zip.bytes);
    const char *const names[] = {"net.ipc", "fab/"};
    assert_int_equal(read_paths(world, names, 2), PACKAGE_OK);
    assert_int_equal(world->files.count, 4);
    assert_string_equal(world->files.files[0].name, "fab/drills/a.drl");
    assert_string_equal(world->files.files[1].name, "fab/more.zip/top.gtl");
    assert_string_equal(world->files.files[2].name, "fab/top.gtl");
    assert_string_equal(world->files.files[3].name, "net.ipc");
}

static void two_paths_with_one_last_part_are_told_apart(void **state)
{
    struct world *world = *state;
    put_folder(world, "a");
    put_folder(world, "b");
    put_file(world, "a/x.gtl", "1", 1);
    put_file(world, "b/x.gtl", "2", 1);
    const char *const names[] = {"a/x.gtl", "b/x.gtl"};
    assert_int_equal(read_paths(world, names, 2), PACKAGE_OK);
    assert_int_equal(world->files.count, 2);
    assert_non_null(strstr(world->files.files[0].name, "a/x.gtl"));
    assert_non_null(strstr(world->files.files[1].name, "b/x.gtl"));
}

static void a_link_in_a_folder_is_not_followed(void **state)
{
    struct world *world = *state;
    char from[256];
    put_folder(world, "fab");
    put_file(world, "secret", "S", 1);
    put_file(world, "fab/top.gtl", "T", 1);
    snprintf(from, sizeof from, "%s/fab/link.gbl", world->folder);
    assert_int_equal(symlink("../secret", from), 0);
    snprintf(from, sizeof from, "%s/fab/up", world->folder);
    assert_int_equal(symlink("..", from), 0);
    const char *const names[] = {"fab"};
    assert_int_equal(read_paths(world, names, 1), PACKAGE_OK);
    assert_int_equal(world->files.count, 1);
    assert_int_equal(world->diags.warning_count, 2);
    assert_string_equal(world->diags.items[0].code, "package-link-not-followed");
}

static void a_link_in_a_zip_is_left_out(void **state)
{
    struct world *world = *state;
    zip_source_t *source;
    zip_t *zip = zip_new(&source);
    zip_put(zip, "top.gtl", "x", 1);
    zip_int64_t link = zip_put(zip, "etc.gbl", "/etc/passwd", 11);
    zip_file_set_external_attributes(zip, (zip_uint64_t)link, 0, ZIP_OPSYS_UNIX,
                                     (zip_uint32_t)(S_IFLNK | 0777) << 16);
    assert_int_equal(read_blob(world, zip_finish(zip, source), NULL), PACKAGE_OK);
    assert_int_equal(world->files.count, 1);
    assert_int_equal(world->diags.warning_count, 1);
}

static void an_archive_of_another_form_is_reported(void **state)
{
    struct world *world = *state;
    const struct entry entries[] = {TEXT_ENTRY("top.gtl", "x"),
                                    TEXT_ENTRY("more.rar", "Rar!\x1a\x07\x01")};
    assert_int_equal(read_blob(world, make_zip(entries, 2), NULL), PACKAGE_OK);
    assert_int_equal(world->diags.warning_count, 1);
    assert_non_null(strstr(world->diags.items[0].text, "rar"));
}

/* ---- limits ---- */

static void each_limit_names_the_option_that_raises_it(void **state)
{
    struct world *world = *state;
    const struct entry entries[] = {TEXT_ENTRY("a", "12345678"), TEXT_ENTRY("b", "12345678"),
                                    TEXT_ENTRY("c", "12345678")};
    struct package_limits limits = package_default_limits;
    limits.entry_count = 2;
    assert_refused(world, read_blob(world, make_zip(entries, 3), &limits),
                   "package-too-many-entries", "--max-entries");
    limits = package_default_limits;
    limits.file_bytes = 7;
    assert_refused(world, read_blob(world, make_zip(entries, 3), &limits), "package-file-too-big",
                   "--max-file-bytes");
    limits = package_default_limits;
    limits.total_bytes = 23;
    assert_refused(world, read_blob(world, make_zip(entries, 3), &limits), "package-too-big",
                   "--max-total-bytes");
}

static void limits_that_are_just_met_are_met(void **state)
{
    struct world *world = *state;
    const struct entry entries[] = {TEXT_ENTRY("a", "12345678"), TEXT_ENTRY("b", "12345678")};
    struct package_limits limits = package_default_limits;
    limits.entry_count = 2;
    limits.file_bytes = 1000;
    struct blob blob = make_zip(entries, 2);
    limits.total_bytes = blob.size > 16 ? blob.size : 16;
    assert_int_equal(read_blob(world, blob, &limits), PACKAGE_OK);
}

static void nesting_has_its_limit(void **state)
{
    struct world *world = *state;
    const struct entry first[] = {TEXT_ENTRY("t", "x")};
    struct blob blob = make_zip(first, 1);
    for (int depth = 0; depth < 4; depth++) {
        const struct entry around[] = {{"in.zip", blob.bytes, blob.size}};
        struct blob outer = make_zip(around, 1);
        free(blob.bytes);
        blob = outer;
    }
    assert_refused(world, read_blob(world, blob, NULL), "package-nested-too-deep", "--max-nesting");
}

static void a_bomb_is_refused_by_its_ratio(void **state)
{
    struct world *world = *state;
    size_t size = 4u << 20;
    uint8_t *zeros = calloc(size, 1);
    const struct entry entries[] = {{"a", zeros, size}};
    struct blob blob = make_zip(entries, 1);
    free(zeros);
    assert_refused(world, read_blob(world, blob, NULL), "package-ratio", "--max-ratio");
}

/* Each member is small enough to pass alone; together they are a bomb. */
static void a_bomb_in_many_small_members_is_refused(void **state)
{
    struct world *world = *state;
    size_t size = 1u << 20;
    uint8_t *zeros = calloc(size, 1);
    const struct entry entries[] = {
        {"a", zeros, size}, {"b", zeros, size}, {"c", zeros, size}, {"d", zeros, size}};
    struct blob blob = make_zip(entries, 4);
    free(zeros);
    assert_refused(world, read_blob(world, blob, NULL), "package-ratio", "--max-ratio");
}

static void put_u32(uint8_t *at, uint32_t value)
{
    for (int i = 0; i < 4; i++)
        at[i] = (uint8_t)(value >> (8 * i));
}

/* The size in the central directory (APPNOTE.TXT 4.3.12, offset 24) is a lie, either way. */
static void a_stated_size_that_is_wrong_is_damage(void **state)
{
    static const uint32_t lies[] = {0, 1, 7, 9, 1000};
    for (size_t i = 0; i < sizeof lies / sizeof *lies; i++) {
        void *inner = NULL;
        world_up(&inner);
        const struct entry entries[] = {TEXT_ENTRY("t", "12345678")};
        struct blob blob = make_zip(entries, 1);
        for (size_t at = 0; at + 28 < blob.size; at++)
            if (memcmp(blob.bytes + at, "PK\1\2", 4) == 0)
                put_u32(blob.bytes + at + 24, lies[i]);
        assert_refused(inner, read_blob(inner, blob, NULL), "package-damaged", "again");
        world_down(&inner);
    }
    (void)state;
}

/* The same members in another order in the zip: the same files in the same order. */
static void the_order_in_the_zip_changes_nothing(void **state)
{
    struct world *world = *state;
    const struct entry entries[] = {TEXT_ENTRY("c", "3"), TEXT_ENTRY("B", "2"),
                                    TEXT_ENTRY("a", "1")};
    const struct entry turned[] = {TEXT_ENTRY("a", "1"), TEXT_ENTRY("c", "3"),
                                   TEXT_ENTRY("B", "2")};
    struct file_table first = {0};
    assert_int_equal(read_blob(world, make_zip(entries, 3), NULL), PACKAGE_OK);
    first = world->files;
    world->files = (struct file_table){0};
    assert_int_equal(read_blob(world, make_zip(turned, 3), NULL), PACKAGE_OK);
    for (size_t i = 0; i < 3; i++) {
        assert_string_equal(first.files[i].name, world->files.files[i].name);
        assert_string_equal(first.files[i].sha256, world->files.files[i].sha256);
    }
    file_table_free(&first);
}

static void a_folder_that_cannot_be_read_is_refused(void **state)
{
    struct world *world = *state;
    char path[256];
    put_folder(world, "fab");
    put_file(world, "fab/x.gtl", "T", 1);
    snprintf(path, sizeof path, "%s/fab/x.gtl", world->folder);
    if (geteuid() == 0) {
        print_message("skipped: root reads every file\n");
        skip();
    }
    chmod(path, 0);
    const char *const names[] = {"fab"};
    assert_refused(world, read_paths(world, names, 1), "package-unreadable", "x.gtl");
}

static void a_large_file_of_small_ratio_is_no_bomb(void **state)
{
    struct world *world = *state;
    size_t size = 2u << 20;
    uint8_t *bytes = malloc(size);
    uint32_t seed = 1;
    for (size_t i = 0; i < size; i++) {
        seed = seed * 1664525 + 1013904223;
        bytes[i] = (uint8_t)(seed >> 28);
    }
    const struct entry entries[] = {{"a", bytes, size}};
    struct blob blob = make_zip(entries, 1);
    assert_int_equal(read_blob(world, blob, NULL), PACKAGE_OK);
    assert_memory_equal(world->files.files[0].bytes, bytes, size);
    free(bytes);
}

/* ---- what is refused ---- */

static void an_encrypted_member_is_refused(void **state)
{
    struct world *world = *state;
    zip_source_t *source;
    zip_t *zip = zip_new(&source);
    zip_int64_t index = zip_put(zip, "top.gtl", "x", 1);
    if (zip_file_set_encryption(zip, (zip_uint64_t)index, ZIP_EM_AES_128, "pw") != 0)
        fail_msg("this libzip cannot encrypt");
    assert_refused(world, read_blob(world, zip_finish(zip, source), NULL), "package-encrypted",
                   "password");
}

/* Every byte changed and every truncation: never a crash, and never other bytes than were packed.
 */
static void damage_anywhere_is_an_error_or_harmless(void **state)
{
    struct world *world = *state;
    static const char text[] = "abcabcabcabcabcabcabcabc";
    const struct entry entries[] = {{"t", text, sizeof text}};
    struct blob blob = make_zip(entries, 1);
    for (size_t i = 0; i < 2 * blob.size; i++) {
        size_t size = i < blob.size ? blob.size : i - blob.size;
        uint8_t *copy = malloc(size ? size : 1);
        struct arena *arena = arena_new("try");
        struct diag_list diags = {.arena = arena};
        struct file_table files = {0};
        memcpy(copy, blob.bytes, size);
        if (i < blob.size)
            copy[i] ^= 0x55;
        enum package_status status =
            package_read_bytes("b", copy, size, NULL, arena, &files, &diags);
        assert_true((status == PACKAGE_OK) == !diag_has_errors(&diags));
        for (size_t f = 0; f < files.count; f++)
            assert_memory_equal(files.files[f].bytes, text, files.files[f].size);
        file_table_free(&files);
        arena_free(arena);
        free(copy);
    }
    free(blob.bytes);
    (void)world;
}

static void a_name_twice_is_refused(void **state)
{
    struct world *world = *state;
    const struct entry entries[] = {TEXT_ENTRY("aa.gtl", "1"), TEXT_ENTRY("./aa.gtl", "2")};
    assert_refused(world, read_blob(world, make_zip(entries, 2), NULL), "package-name-twice",
                   "aa.gtl");
}

static void what_is_no_zip_is_refused(void **state)
{
    struct world *world = *state;
    put_file(world, "g.zip", "no zip at all", 13);
    const char *const names[] = {"g.zip"};
    assert_refused(world, read_paths(world, names, 1), "package-damaged", "g.zip");
}

static void a_missing_path_is_refused(void **state)
{
    struct world *world = *state;
    const char *const names[] = {"nothing-here"};
    assert_refused(world, read_paths(world, names, 1), "package-unreadable", "nothing-here");
}

static void an_empty_package_is_refused(void **state)
{
    struct world *world = *state;
    put_folder(world, "fab");
    put_file(world, "fab/.DS_Store", "x", 1);
    const char *const names[] = {"fab"};
    assert_refused(world, read_paths(world, names, 1), "package-empty", "export");
}

static void a_device_is_refused(void **state)
{
    struct world *world = *state;
    const char *const paths[] = {"/dev/null"};
    assert_refused(world, package_read(paths, 1, NULL, world->arena, &world->files, &world->diags),
                   "package-not-a-file", "folder");
}

static void every_failed_allocation_is_reported(void **state)
{
    struct world *world = *state;
    const struct entry inner[] = {TEXT_ENTRY("x", "1")};
    struct blob packed = make_zip(inner, 1);
    const struct entry entries[] = {
        TEXT_ENTRY("a", "1"), {"b.zip", packed.bytes, packed.size}, TEXT_ENTRY("__MACOSX/c", "2")};
    struct blob blob = make_zip(entries, 3);
    enum package_status status = PACKAGE_NO_MEMORY;
    uint64_t nth = 0;
    for (nth = 1; status == PACKAGE_NO_MEMORY && nth < 1000; nth++) {
        struct arena *arena = arena_new("try");
        struct diag_list diags = {.arena = arena};
        struct file_table files = {0};
        arena_fail_at(nth);
        status = package_read_bytes("p", blob.bytes, blob.size, NULL, arena, &files, &diags);
        arena_fail_at(0);
        file_table_free(&files);
        arena_free(arena);
    }
    assert_int_equal(status, PACKAGE_OK);
    assert_true(nth > 10);
    free(packed.bytes);
    free(blob.bytes);
    (void)world;
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, world_up, world_down)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(members_come_in_byte_order_whatever_the_zip_has),
        CASE(a_zip_within_a_zip_is_opened),
        CASE(names_of_all_kinds_are_shown_clean),
        CASE(old_dos_names_become_utf8),
        CASE(junk_is_left_out_with_a_note),
        CASE(streamed_sizes_are_read),
        CASE(folders_and_files_are_read_together),
        CASE(two_paths_with_one_last_part_are_told_apart),
        CASE(a_link_in_a_folder_is_not_followed),
        CASE(a_link_in_a_zip_is_left_out),
        CASE(an_archive_of_another_form_is_reported),
        CASE(each_limit_names_the_option_that_raises_it),
        CASE(limits_that_are_just_met_are_met),
        CASE(nesting_has_its_limit),
        CASE(a_bomb_is_refused_by_its_ratio),
        CASE(a_bomb_in_many_small_members_is_refused),
        CASE(a_stated_size_that_is_wrong_is_damage),
        CASE(the_order_in_the_zip_changes_nothing),
        CASE(a_folder_that_cannot_be_read_is_refused),
        CASE(a_large_file_of_small_ratio_is_no_bomb),
        CASE(an_encrypted_member_is_refused),
        CASE(damage_anywhere_is_an_error_or_harmless),
        CASE(a_name_twice_is_refused),
        CASE(what_is_no_zip_is_refused),
        CASE(a_missing_path_is_refused),
        CASE(an_empty_package_is_refused),
        CASE(a_device_is_refused),
        CASE(every_failed_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
