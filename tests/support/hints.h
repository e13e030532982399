/* What a test needs to know of a real file before roles are decided: a small text scan of its own,
 * independent of the parsers. */
#ifndef TEST_HINTS_H
#define TEST_HINTS_H

#include "isthmus/package.h"

struct file_hint hint_of_file(uint32_t file_id, const struct source_file *file,
                              struct arena *arena);

#endif
