/* The table of everything that was read, each file with its SHA-256. */
#include "isthmus/base.h"

#include <nettle/sha2.h>
#include <stdlib.h>
#include <string.h>

static void hex_digest(const uint8_t *bytes, size_t size, char out[65])
{
    struct sha256_ctx context;
    uint8_t digest[SHA256_DIGEST_SIZE];
    sha256_init(&context);
    sha256_update(&context, size, bytes);
    sha256_digest(&context, sizeof digest, digest);
    for (size_t i = 0; i < sizeof digest; i++) {
        out[2 * i] = "0123456789abcdef"[digest[i] >> 4];
        out[2 * i + 1] = "0123456789abcdef"[digest[i] & 15];
    }
    out[64] = '\0';
}

uint32_t file_table_add(struct file_table *table, const char *name, const uint8_t *bytes,
                        size_t size, bool is_package)
{
    if (table->count >= ISTHMUS_NONE - 1 ||
        !array_grow(&table->files, sizeof *table->files, &table->capacity, table->count + 1))
        return 0;
    struct source_file *file = &table->files[table->count++];
    *file =
        (struct source_file){.name = name, .bytes = bytes, .size = size, .is_package = is_package};
    hex_digest(bytes, size, file->sha256);
    return (uint32_t)table->count;
}

void file_table_free(struct file_table *table)
{
    free(table->files);
    *table = (struct file_table){0};
}
