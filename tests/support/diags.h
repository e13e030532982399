/* What tests of readers share: diagnostics, and bytes with nothing behind them. */
#ifndef TEST_DIAGS_H
#define TEST_DIAGS_H

#include "isthmus/base.h"

/* The first one of this code, or NULL. */
const struct diag *diag_find(const struct diag_list *diags, const char *code);
/* There is one of this code, of this level, at this place; an error gives advice. */
void assert_diag_at(const struct diag_list *diags, enum diag_level level, const char *code,
                    struct source_pos at);
/* Those of at least this level, for a test that is about to fail. */
void diags_print(const struct diag_list *diags, enum diag_level least);
/* malloc'ed: the text ends where its allocation ends, so that the sanitizer sees a step beyond. */
uint8_t *exact_copy(const char *text, size_t size);

#endif
