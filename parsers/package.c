/*
 * Packages: zips, folders and plain files become a list of files in memory.
 *
 * Nothing is ever written to disk, so a member's path can do no harm; paths are cleaned because
 * they are shown. No size that an archive declares is trusted: the bytes are counted as they come.
 */
#include "isthmus/package.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zip.h>

#include "parsers_text.h"

#define MIB ((uint64_t)1 << 20)
#define RATIO_FREE_BYTES MIB /* the ratio says nothing about small files */
#define FOLDER_DEPTH_MAX 64  /* of folders within folders on disk */

const struct package_limits package_default_limits = {
    .entry_count = 2000,
    .nesting = 3,
    .file_bytes = 256 * MIB,
    .total_bytes = 1024 * MIB,
    .ratio = 200,
};

struct member {
    const char *name;
    const uint8_t *bytes;
    size_t size;
};
struct reader {
    const struct package_limits *limits;
    struct arena *arena;
    struct diag_list *diags;
    struct member *members;
    size_t member_count, member_capacity;
    size_t entry_count;
    uint64_t total_bytes;
    size_t junk_count;
    const char *first_junk;
};
/* An archive being read; depth 0 is one that the user named or that lies in a folder. */
struct archive {
    const char *name;
    const uint8_t *bytes;
    size_t size;
    unsigned depth;
    uint64_t unpacked_bytes;
    zip_t *zip;
};

static const struct source_pos nowhere = {0};

#define REFUSE(reader, code, advice, ...)                                                          \
    (diag_add((reader)->diags, DIAG_ERROR, code, nowhere, advice, __VA_ARGS__),                    \
     (enum package_status)PACKAGE_REFUSED)

static enum package_status read_archive(struct reader *reader, struct archive *archive);

/* ---- names ---- */

static bool is_junk_part(const char *part, size_t length)
{
    static const char *const whole[] = {
        "__MACOSX",       ".DS_Store", "Thumbs.db",  "desktop.ini",
        ".git",           ".svn",      ".hg",        ".gitignore",
        ".gitkeep",       ".Trashes",  ".fseventsd", ".gitattributes",
        ".Spotlight-V100"};
    if (length >= 2 && part[0] == '.' && part[1] == '_')
        return true;
    for (size_t i = 0; i < sizeof whole / sizeof *whole; i++)
        if (strlen(whole[i]) == length && strncasecmp(whole[i], part, length) == 0)
            return true;
    return false;
}

/* Resource forks, thumbnails, version control: any part of the path decides. */
static bool is_junk(const char *path)
{
    while (*path) {
        size_t length = strcspn(path, "/");
        if (is_junk_part(path, length))
            return true;
        path += length + (path[length] == '/');
    }
    return false;
}

/* Appends one path part to out unless it says nothing ("", ".", ".." and a drive letter). */
static size_t append_part(char *out, size_t used, const char *part, size_t length)
{
    bool is_dots = (length == 1 && part[0] == '.') || (length == 2 && !strncmp(part, "..", 2));
    bool is_drive = used == 0 && length == 2 && part[1] == ':';
    if (length == 0 || is_dots || is_drive)
        return used;
    if (used)
        out[used++] = '/';
    memcpy(out + used, part, length);
    return used + length;
}

/*
 * The path as it is shown: parts joined by '/', DOS separators turned, "..", "." and drive letters
 * dropped, text made valid UTF-8 without control characters. Empty when nothing is left.
 */
static char *clean_path(struct arena *arena, const char *path)
{
    char *turned = text_printable(arena, path, strlen(path));
    char *out = turned ? arena_alloc(arena, strlen(turned) + 1, 1) : NULL;
    if (!out)
        return NULL;
    for (char *c = turned; *c; c++)
        if (*c == '\\')
            *c = '/';
    size_t used = 0;
    for (const char *part = turned; *part;) {
        size_t length = strcspn(part, "/");
        used = append_part(out, used, part, length);
        part += length + (part[length] == '/');
    }
    return out;
}

static bool has_zip_ending(const char *name)
{
    size_t length = strlen(name);
    return length >= 4 && strcasecmp(name + length - 4, ".zip") == 0;
}

static bool starts_with(const uint8_t *bytes, size_t size, const char *magic, size_t length)
{
    return size >= length && memcmp(bytes, magic, length) == 0;
}

static bool is_zip_content(const uint8_t *bytes, size_t size)
{
    return starts_with(bytes, size, "PK\3\4", 4) || starts_with(bytes, size, "PK\5\6", 4);
}

/* The name of an archive format that is not read, or NULL. */
static const char *foreign_archive(const uint8_t *bytes, size_t size)
{
    static const struct {
        const char *magic;
        size_t length;
        const char *name;
    } forms[] = {
        {"Rar!\x1a\x07", 6, "rar"},
        {"7z\xbc\xaf\x27\x1c", 6, "7z"},
        {"\x1f\x8b", 2, "gzip"},
        {"\xfd"
         "7zXZ",
         5, "xz"},
        {"BZh", 3, "bzip2"},
    };
    for (size_t i = 0; i < sizeof forms / sizeof *forms; i++)
        if (starts_with(bytes, size, forms[i].magic, forms[i].length))
            return forms[i].name;
    return size > 262 && memcmp(bytes + 257, "ustar", 5) == 0 ? "tar" : NULL;
}

/* ---- limits ---- */

static enum package_status count_entries(struct reader *reader, const char *name, uint64_t more)
{
    if (more > reader->limits->entry_count ||
        reader->entry_count > reader->limits->entry_count - more)
        return REFUSE(reader, "package-too-many-entries",
                      "name the folder that holds only the fabrication files, or raise "
                      "--max-entries",
                      "%s: more than %zu files in the package", name, reader->limits->entry_count);
    reader->entry_count += (size_t)more;
    return PACKAGE_OK;
}

static enum package_status check_size(struct reader *reader, const char *name, uint64_t size)
{
    const struct package_limits *limits = reader->limits;
    if (size > limits->file_bytes)
        return REFUSE(reader, "package-file-too-big",
                      "leave the file out of the package, or raise --max-file-bytes",
                      "%s holds more than %" PRIu64 " bytes", name, limits->file_bytes);
    if (reader->total_bytes > limits->total_bytes ||
        size > limits->total_bytes - reader->total_bytes)
        return REFUSE(
            reader, "package-too-big", "leave files out of the package, or raise --max-total-bytes",
            "%s: the package unpacks to more than %" PRIu64 " bytes", name, limits->total_bytes);
    return PACKAGE_OK;
}

static bool is_ratio_above(const struct reader *reader, uint64_t unpacked, uint64_t packed)
{
    return unpacked > RATIO_FREE_BYTES && unpacked / reader->limits->ratio >= packed &&
           unpacked > packed * reader->limits->ratio;
}

/* Each member by itself, and the archive as a whole: members may share their packed bytes. */
static enum package_status check_ratio(struct reader *reader, const struct archive *archive,
                                       const char *name, uint64_t unpacked, uint64_t packed)
{
    if (is_ratio_above(reader, unpacked, packed) ||
        is_ratio_above(reader, archive->unpacked_bytes + unpacked, archive->size))
        return REFUSE(reader, "package-ratio",
                      "this is how a zip bomb looks; if the file is meant, raise --max-ratio",
                      "%s unpacks to more than %u times its packed size", name,
                      reader->limits->ratio);
    return PACKAGE_OK;
}

/* ---- members ---- */

static enum package_status add_member(struct reader *reader, const char *name, const uint8_t *bytes,
                                      size_t size)
{
    if (!array_grow(&reader->members, sizeof *reader->members, &reader->member_capacity,
                    reader->member_count + 1))
        return PACKAGE_NO_MEMORY;
    reader->members[reader->member_count++] = (struct member){name, bytes, size};
    return PACKAGE_OK;
}

static void note_junk(struct reader *reader, const char *name)
{
    if (!reader->first_junk)
        reader->first_junk = name;
    reader->junk_count++;
}

/* A file whose bytes are there: an archive is opened, anything else becomes a member. */
static enum package_status take_file(struct reader *reader, const char *name, const uint8_t *bytes,
                                     size_t size, unsigned depth)
{
    if (has_zip_ending(name)) {
        struct archive archive = {.name = name, .bytes = bytes, .size = size, .depth = depth};
        return read_archive(reader, &archive);
    }
    const char *foreign = foreign_archive(bytes, size);
    if (foreign)
        diag_add(reader->diags, DIAG_WARNING, "package-archive-not-opened", nowhere,
                 "if it holds fabrication files, unpack it or pack them as a zip",
                 "%s is a %s archive; it was not opened", name, foreign);
    return add_member(reader, name, bytes, size);
}

/* ---- zip ---- */

static enum package_status damaged(struct reader *reader, const char *name, const char *why)
{
    return REFUSE(reader, "package-damaged",
                  "export or fetch the package again; it cannot be read whole",
                  "%s cannot be unpacked: %s", name, why);
}

static enum package_status open_archive(struct reader *reader, struct archive *archive)
{
    zip_error_t error;
    zip_error_init(&error);
    enum package_status status = PACKAGE_OK;
    zip_source_t *source = zip_source_buffer_create(archive->bytes, archive->size, 0, &error);
    archive->zip = source ? zip_open_from_source(source, ZIP_RDONLY, &error) : NULL;
    if (!archive->zip) {
        bool is_memory = zip_error_code_zip(&error) == ZIP_ER_MEMORY;
        status = is_memory ? PACKAGE_NO_MEMORY
                           : damaged(reader, archive->name, zip_error_strerror(&error));
        zip_source_free(source);
    }
    zip_error_fini(&error);
    return status;
}

/* Reads exactly `size` bytes and then the end, where the check sum is compared. */
static enum package_status read_member(struct reader *reader, const char *name, zip_file_t *file,
                                       uint8_t *bytes, size_t size)
{
    size_t done = 0;
    while (done < size) {
        zip_int64_t got = zip_fread(file, bytes + done, size - done);
        if (got < 0)
            return damaged(reader, name, zip_error_strerror(zip_file_get_error(file)));
        if (got == 0)
            return damaged(reader, name, "it ends before its stated size");
        done += (size_t)got;
    }
    uint8_t beyond;
    zip_int64_t got = zip_fread(file, &beyond, 1);
    if (got < 0)
        return damaged(reader, name, zip_error_strerror(zip_file_get_error(file)));
    return got == 0 ? PACKAGE_OK : damaged(reader, name, "it goes on beyond its stated size");
}

static enum package_status unpack_member(struct reader *reader, struct archive *archive,
                                         const char *name, const zip_stat_t *stat)
{
    size_t size = (size_t)stat->size;
    uint8_t *bytes = arena_alloc(reader->arena, size + 1, 1);
    zip_file_t *file = bytes ? zip_fopen_index(archive->zip, stat->index, 0) : NULL;
    if (!bytes)
        return PACKAGE_NO_MEMORY;
    if (!file)
        return damaged(reader, name, zip_error_strerror(zip_get_error(archive->zip)));
    enum package_status status = read_member(reader, name, file, bytes, size);
    zip_fclose(file);
    if (status != PACKAGE_OK)
        return status;
    archive->unpacked_bytes += size;
    reader->total_bytes += size;
    return take_file(reader, name, bytes, size, archive->depth + 1);
}

static bool is_link(const struct archive *archive, zip_uint64_t index)
{
    zip_uint8_t system = 0;
    zip_uint32_t attributes = 0;
    return zip_file_get_external_attributes(archive->zip, index, 0, &system, &attributes) == 0 &&
           system == ZIP_OPSYS_UNIX && S_ISLNK(attributes >> 16);
}

static void warn_link(struct reader *reader, const char *name)
{
    diag_add(reader->diags, DIAG_WARNING, "package-link-not-followed", nowhere,
             "put the file itself into the package", "%s is a symbolic link; it was not followed",
             name);
}

static enum package_status check_member(struct reader *reader, const struct archive *archive,
                                        const char *name, const zip_stat_t *stat)
{
    const zip_uint64_t needed = ZIP_STAT_SIZE | ZIP_STAT_COMP_SIZE | ZIP_STAT_ENCRYPTION_METHOD;
    if ((stat->valid & needed) != needed || stat->comp_size > archive->size)
        return damaged(reader, name, "its sizes are not stated or not possible");
    if (stat->encryption_method != ZIP_EM_NONE)
        return REFUSE(reader, "package-encrypted", "pack the files again without a password",
                      "%s is encrypted", name);
    enum package_status status = check_size(reader, name, stat->size);
    return status == PACKAGE_OK ? check_ratio(reader, archive, name, stat->size, stat->comp_size)
                                : status;
}

static enum package_status read_entry(struct reader *reader, struct archive *archive,
                                      zip_uint64_t index)
{
    zip_stat_t stat;
    const char *raw = zip_get_name(archive->zip, index, ZIP_FL_ENC_GUESS);
    if (!raw || zip_stat_index(archive->zip, index, 0, &stat) != 0)
        return damaged(reader, archive->name, zip_error_strerror(zip_get_error(archive->zip)));
    size_t length = strlen(raw);
    if (length && (raw[length - 1] == '/' || raw[length - 1] == '\\') && stat.size == 0)
        return PACKAGE_OK; /* a folder's own entry */
    const char *path = clean_path(reader->arena, raw);
    const char *name = path ? arena_printf(reader->arena, "%s/%s", archive->name, path) : NULL;
    if (!name)
        return PACKAGE_NO_MEMORY;
    if (!*path)
        return damaged(reader, archive->name, "an entry has no name");
    if (is_junk(path)) {
        note_junk(reader, name);
        return PACKAGE_OK;
    }
    if (is_link(archive, index)) {
        warn_link(reader, name);
        return PACKAGE_OK;
    }
    enum package_status status = check_member(reader, archive, name, &stat);
    return status == PACKAGE_OK ? unpack_member(reader, archive, name, &stat) : status;
}

static enum package_status read_entries(struct reader *reader, struct archive *archive)
{
    zip_int64_t count = zip_get_num_entries(archive->zip, 0);
    if (count < 0)
        return damaged(reader, archive->name, "it has no list of entries");
    enum package_status status = count_entries(reader, archive->name, (uint64_t)count);
    for (zip_int64_t i = 0; i < count && status == PACKAGE_OK; i++)
        status = read_entry(reader, archive, (zip_uint64_t)i);
    return status;
}

static enum package_status read_archive(struct reader *reader, struct archive *archive)
{
    if (archive->depth > reader->limits->nesting)
        return REFUSE(reader, "package-nested-too-deep",
                      "name the inner zip itself, or raise --max-nesting",
                      "%s lies more than %u zips deep", archive->name, reader->limits->nesting);
    enum package_status status = open_archive(reader, archive);
    if (status != PACKAGE_OK)
        return status;
    status = read_entries(reader, archive);
    zip_discard(archive->zip);
    return status;
}

/* ---- files and folders ---- */

static enum package_status cannot_read(struct reader *reader, const char *name)
{
    return REFUSE(reader, "package-unreadable", "check that the path exists and may be read",
                  "%s cannot be read: %s", name, strerror(errno));
}

static enum package_status read_all(struct reader *reader, const char *name, int descriptor,
                                    uint8_t *bytes, size_t size)
{
    size_t done = 0;
    while (done < size) {
        ssize_t got = read(descriptor, bytes + done, size - done);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0)
            return cannot_read(reader, name);
        if (got == 0)
            return REFUSE(reader, "package-changed", "try again when nothing writes to it",
                          "%s became shorter while it was read", name);
        done += (size_t)got;
    }
    return PACKAGE_OK;
}

static enum package_status read_plain(struct reader *reader, const char *name, int descriptor,
                                      const struct stat *stat, bool is_named_by_user)
{
    uint64_t size = (uint64_t)stat->st_size;
    enum package_status status = check_size(reader, name, size);
    if (status == PACKAGE_OK)
        status = count_entries(reader, name, 1);
    if (status != PACKAGE_OK)
        return status;
    uint8_t *bytes = arena_alloc(reader->arena, (size_t)size + 1, 1);
    if (!bytes)
        return PACKAGE_NO_MEMORY;
    status = read_all(reader, name, descriptor, bytes, (size_t)size);
    if (status != PACKAGE_OK)
        return status;
    reader->total_bytes += size;
    if (is_named_by_user && is_zip_content(bytes, (size_t)size)) {
        struct archive archive = {.name = name, .bytes = bytes, .size = (size_t)size};
        return read_archive(reader, &archive);
    }
    return take_file(reader, name, bytes, (size_t)size, 0);
}

static enum package_status read_folder(struct reader *reader, const char *name, int descriptor,
                                       unsigned depth);

/* Opens one entry of a folder without following a link out of it. */
static enum package_status read_folder_entry(struct reader *reader, const char *name, int folder,
                                             const char *entry, unsigned depth)
{
    int descriptor = openat(folder, entry, O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
    if (descriptor < 0 && errno == ELOOP) {
        warn_link(reader, name);
        return PACKAGE_OK;
    }
    if (descriptor < 0)
        return cannot_read(reader, name);
    struct stat stat;
    enum package_status status = PACKAGE_OK;
    if (fstat(descriptor, &stat) != 0)
        status = cannot_read(reader, name);
    else if (S_ISDIR(stat.st_mode))
        return read_folder(reader, name, descriptor, depth + 1);
    else if (S_ISREG(stat.st_mode))
        status = read_plain(reader, name, descriptor, &stat, false);
    else
        diag_add(reader->diags, DIAG_WARNING, "package-not-a-file", nowhere, NULL,
                 "%s is neither a file nor a folder; left out", name);
    close(descriptor);
    return status;
}

static enum package_status visit(struct reader *reader, const char *folder_name, DIR *folder,
                                 const char *entry, unsigned depth)
{
    if (strcmp(entry, ".") == 0 || strcmp(entry, "..") == 0)
        return PACKAGE_OK;
    const char *shown = text_printable(reader->arena, entry, strlen(entry));
    const char *name = !shown         ? NULL
                       : *folder_name ? arena_printf(reader->arena, "%s/%s", folder_name, shown)
                                      : shown;
    if (!name)
        return PACKAGE_NO_MEMORY;
    if (is_junk(shown)) {
        note_junk(reader, name);
        return PACKAGE_OK;
    }
    return read_folder_entry(reader, name, dirfd(folder), entry, depth);
}

/* Takes the descriptor over. */
static enum package_status read_folder(struct reader *reader, const char *name, int descriptor,
                                       unsigned depth)
{
    DIR *folder = depth > FOLDER_DEPTH_MAX ? NULL : fdopendir(descriptor);
    if (!folder) {
        close(descriptor);
        return depth > FOLDER_DEPTH_MAX
                   ? REFUSE(reader, "package-folder-too-deep", "name an inner folder",
                            "%s lies more than %d folders deep", name, FOLDER_DEPTH_MAX)
                   : cannot_read(reader, name);
    }
    enum package_status status = PACKAGE_OK;
    while (status == PACKAGE_OK) {
        errno = 0;
        struct dirent *entry = readdir(folder);
        if (!entry && errno)
            status = cannot_read(reader, name);
        if (!entry)
            break;
        status = visit(reader, name, folder, entry->d_name, depth);
    }
    closedir(folder);
    return status;
}

static const char *last_part(const char *path, size_t *length)
{
    size_t end = strlen(path);
    while (end > 1 && path[end - 1] == '/')
        end--;
    size_t start = end;
    while (start > 0 && path[start - 1] != '/')
        start--;
    *length = end - start;
    return path + start;
}

/*
 * The name a path is shown by: its last part, so that a report does not depend on where the
 * package lies; the whole path when another argument ends in the same part.
 */
static char *shown_path(struct arena *arena, const char *const *paths, size_t path_count,
                        size_t index)
{
    size_t length;
    const char *part = last_part(paths[index], &length);
    for (size_t i = 0; i < path_count; i++) {
        size_t other_length;
        const char *other = last_part(paths[i], &other_length);
        if (i != index && other_length == length && memcmp(other, part, length) == 0)
            return text_printable(arena, paths[index], strlen(paths[index]));
    }
    if ((length == 1 && *part == '.') || (length == 2 && memcmp(part, "..", 2) == 0))
        length = 0;
    return text_printable(arena, part, length);
}

static enum package_status read_path(struct reader *reader, const char *path, const char *name)
{
    int descriptor = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
    if (descriptor < 0)
        return cannot_read(reader, path);
    struct stat stat;
    enum package_status status;
    if (fstat(descriptor, &stat) != 0)
        status = cannot_read(reader, path);
    else if (S_ISDIR(stat.st_mode))
        return read_folder(reader, name, descriptor, 0);
    else if (S_ISREG(stat.st_mode))
        status = read_plain(reader, name, descriptor, &stat, true);
    else
        status =
            REFUSE(reader, "package-not-a-file", "name a zip, a folder, or the files themselves",
                   "%s is neither a file nor a folder", path);
    close(descriptor);
    return status;
}

/* ---- the whole ---- */

static int by_name(const void *a, const void *b)
{
    const struct member *left = a, *right = b;
    return strcmp(left->name, right->name);
}

static enum package_status check_names(struct reader *reader)
{
    enum package_status status = PACKAGE_OK;
    for (size_t i = 1; i < reader->member_count; i++)
        if (strcmp(reader->members[i - 1].name, reader->members[i].name) == 0)
            status = REFUSE(reader, "package-name-twice",
                            "pack the files again so that each name stands for one file",
                            "%s is in the package twice", reader->members[i].name);
    return status;
}

static enum package_status hand_over(struct reader *reader, struct file_table *files)
{
    if (reader->junk_count)
        diag_add(reader->diags, DIAG_NOTE, "package-junk", nowhere, NULL,
                 "%zu files left out that belong to no board, such as %s", reader->junk_count,
                 reader->first_junk);
    if (reader->member_count == 0)
        return REFUSE(reader, "package-empty",
                      "export the fabrication files (copper layers, drills, outline) again and "
                      "name the zip or folder that holds them",
                      "the package holds no files");
    qsort(reader->members, reader->member_count, sizeof *reader->members, by_name);
    enum package_status status = check_names(reader);
    for (size_t i = 0; i < reader->member_count && status == PACKAGE_OK; i++) {
        struct member *member = &reader->members[i];
        if (!file_table_add(files, member->name, member->bytes, member->size, true))
            status = PACKAGE_NO_MEMORY;
    }
    return status;
}

static enum package_status finish(struct reader *reader, enum package_status status,
                                  struct file_table *files)
{
    if (status == PACKAGE_OK)
        status = hand_over(reader, files);
    free(reader->members);
    return reader->diags->is_out_of_memory ? PACKAGE_NO_MEMORY : status;
}

static struct package_limits sane_limits(const struct package_limits *limits)
{
    struct package_limits sane = limits ? *limits : package_default_limits;
    if (sane.ratio == 0)
        sane.ratio = 1;
    if (sane.file_bytes > SIZE_MAX / 4)
        sane.file_bytes = SIZE_MAX / 4;
    return sane;
}

enum package_status package_read(const char *const *paths, size_t path_count,
                                 const struct package_limits *limits, struct arena *arena,
                                 struct file_table *files, struct diag_list *diags)
{
    struct package_limits sane = sane_limits(limits);
    struct reader reader = {.limits = &sane, .arena = arena, .diags = diags};
    enum package_status status = PACKAGE_OK;
    for (size_t i = 0; i < path_count && status == PACKAGE_OK; i++) {
        char *name = shown_path(arena, paths, path_count, i);
        status = name ? read_path(&reader, paths[i], name) : PACKAGE_NO_MEMORY;
    }
    return finish(&reader, status, files);
}

enum package_status package_read_bytes(const char *name, const uint8_t *bytes, size_t size,
                                       const struct package_limits *limits, struct arena *arena,
                                       struct file_table *files, struct diag_list *diags)
{
    struct package_limits sane = sane_limits(limits);
    struct reader reader = {.limits = &sane, .arena = arena, .diags = diags};
    struct archive archive = {.name = name, .bytes = bytes, .size = size};
    enum package_status status = check_size(&reader, name, size);
    if (status == PACKAGE_OK)
        status = read_archive(&reader, &archive);
    return finish(&reader, status, files);
}
