#include "diags.h"
#include "assertions.h"

const struct diag *diag_find(const struct diag_list *diags, const char *code)
{
    for (size_t i = 0; i < diags->count; i++)
        if (strcmp(diags->items[i].code, code) == 0)
            return &diags->items[i];
    return NULL;
}

void assert_diag_at(const struct diag_list *diags, enum diag_level level, const char *code,
                    struct source_pos at)
{
    const struct diag *diag = diag_find(diags, code);
    if (!diag) {
        diags_print(diags, DIAG_NOTE);
        fail_msg("no diagnostic %s", code);
    }
    assert_int_equal(diag->level, level);
    assert_int_equal(diag->at.file_id, at.file_id);
    assert_int_equal(diag->at.line, at.line);
    assert_int_equal(diag->at.column, at.column);
    if (level == DIAG_ERROR)
        assert_non_null(diag->advice);
}

void diags_print(const struct diag_list *diags, enum diag_level least)
{
    for (size_t i = 0; i < diags->count; i++)
        if (diags->items[i].level >= least)
            print_error("  %u:%u %s: %s (%s)\n", diags->items[i].at.line, diags->items[i].at.column,
                        diags->items[i].code, diags->items[i].text,
                        diags->items[i].advice ? diags->items[i].advice : "no advice");
}

uint8_t *exact_copy(const char *text, size_t size)
{
    uint8_t *bytes = malloc(size ? size : 1);
    assert_non_null(bytes);
    memcpy(bytes, text, size);
    return bytes;
}
