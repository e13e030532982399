/* The symbol table that parsers and the board share. */
#include "symbols.h"

#include <stdlib.h>
#include <string.h>

#define HASH_NONFATAL_OOM 1
#include <uthash.h>

struct symbol {
    uint32_t value;
    UT_hash_handle hh;
    unsigned char key[];
};

static struct symbol *find(const struct symbol *table, const void *key, size_t length)
{
    struct symbol *found = NULL;
    HASH_FIND(hh, table, key, length, found);
    return found;
}

uint32_t symbols_find(const struct symbol *table, const void *key, size_t length)
{
    const struct symbol *found = find(table, key, length);
    return found ? found->value : ISTHMUS_NONE;
}

bool symbols_put(struct symbol **table, const void *key, size_t length, uint32_t value)
{
    struct symbol *known = find(*table, key, length);
    if (known) {
        known->value = value;
        return true;
    }
    struct symbol *added = calloc(1, sizeof *added + length);
    if (!added)
        return false;
    memcpy(added->key, key, length);
    added->value = value;
    added->hh.tbl = NULL;
    HASH_ADD(hh, *table, key[0], length, added);
    if (added->hh.tbl)
        return true;
    free(added); /* uthash had no memory and left it out */
    return false;
}

void symbols_free(struct symbol **table)
{
    struct symbol *item = *table;
    HASH_CLEAR(hh, *table); /* frees uthash's own memory; the items still know their next */
    while (item) {
        struct symbol *next = item->hh.next;
        free(item);
        item = next;
    }
}
