/* A symbol table: byte strings to numbers. Over uthash, so that nobody here writes another one. */
#ifndef BASE_SYMBOLS_H
#define BASE_SYMBOLS_H

#include "isthmus/base.h"

/* An empty table is NULL. */
struct symbol;

/* ISTHMUS_NONE when the key is not there. */
uint32_t symbols_find(const struct symbol *table, const void *key, size_t length);
/* Copies the key; a key that is there gets the new value. false: no memory, table unchanged. */
bool symbols_put(struct symbol **table, const void *key, size_t length, uint32_t value);
void symbols_free(struct symbol **table);

#endif
