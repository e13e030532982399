/* Rows of the net-current table that repeat or contradict each other without a look at the board.
 */
#include "currents_private.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* What one row speaks about; a group row makes one subject a pin. */
struct subject {
    const char *net;
    const char *ref; /* "" for the whole net; a rest row's pattern; a position */
    const char *pin; /* "*" for all pins; "" where ref says it all */
    const struct current_row *row;
};

static const char *case_text(const struct subject *subject)
{
    return subject->row->case_name ? subject->row->case_name : "";
}

/* "*" before all other pins, so that it leads the pins of its reference. */
static int compare_pins(const char *a, const char *b)
{
    bool is_a_star = strcmp(a, "*") == 0, is_b_star = strcmp(b, "*") == 0;
    return is_a_star != is_b_star ? is_b_star - is_a_star : strcmp(a, b);
}

static int compare(const void *left, const void *right)
{
    const struct subject *a = left, *b = right;
    int order = strcmp(a->net, b->net);
    if (order == 0)
        order = strcmp(a->ref, b->ref);
    if (order == 0)
        order = compare_pins(a->pin, b->pin);
    if (order == 0)
        order = strcmp(case_text(a), case_text(b));
    return order ? order : (a->row > b->row) - (a->row < b->row);
}

static bool is_same_pin(const struct subject *a, const struct subject *b)
{
    return strcmp(a->net, b->net) == 0 && strcmp(a->ref, b->ref) == 0 &&
           strcmp(a->pin, b->pin) == 0;
}

/* A row without a case holds in every case. */
static bool do_cases_meet(const struct subject *a, const struct subject *b)
{
    return !a->row->case_name || !b->row->case_name ||
           strcmp(a->row->case_name, b->row->case_name) == 0;
}

static bool are_pins_same(const struct current_row *a, const struct current_row *b)
{
    bool are_same = a->pin_count == b->pin_count;
    for (uint32_t i = 0; are_same && i < a->pin_count; i++)
        are_same = strcmp(a->pins[i], b->pins[i]) == 0;
    return are_same;
}

static bool do_rows_agree(const struct current_row *a, const struct current_row *b)
{
    bool is_same_rise = a->rise_k == b->rise_k || (isnan(a->rise_k) && isnan(b->rise_k));
    return a->kind == b->kind && are_pins_same(a, b) && a->sign == b->sign &&
           a->has_current == b->has_current && a->current_a == b->current_a && is_same_rise;
}

static const char *subject_word(const struct subject *subject)
{
    switch (subject->row->kind) {
    case ROW_NET:
        return "net";
    case ROW_REST:
        return "rest";
    case ROW_POSITION:
        return "position";
    default:
        return "pin";
    }
}

static void report_contradiction(struct diag_list *diags, const struct subject *later,
                                 uint32_t earlier_line)
{
    static const char advice[] = "keep one of the rows, or give them different cases (a row "
                                 "without a case holds in every case)";
    struct source_pos at = later->row->at;
    if (later->row->kind == ROW_NET)
        diag_add(diags, DIAG_ERROR, "currents-contradict", at, advice,
                 "line %" PRIu32 " says something else about net %s", earlier_line, later->net);
    else if (later->row->kind == ROW_TERMINAL)
        diag_add(diags, DIAG_ERROR, "currents-contradict", at, advice,
                 "line %" PRIu32 " says something else about pin %s.%s of net %s", earlier_line,
                 later->ref, later->pin, later->net);
    else
        diag_add(diags, DIAG_ERROR, "currents-contradict", at, advice,
                 "line %" PRIu32 " is a %s row of net %s too, and says something else",
                 earlier_line, subject_word(later), later->net);
}

static void report(struct diag_list *diags, const struct subject *a, const struct subject *b)
{
    const struct subject *later = a->row > b->row ? a : b, *earlier = later == a ? b : a;
    if (do_rows_agree(a->row, b->row))
        diag_add(diags, DIAG_ERROR, "currents-repeated", later->row->at, "delete one of the rows",
                 "this %s row says the same as line %" PRIu32, subject_word(later),
                 earlier->row->at.line);
    else
        report_contradiction(diags, later, earlier->row->at.line);
}

/* ---- making subjects ---- */

static bool split_pin(struct subject *subject, const char *text, struct arena *arena)
{
    const char *dot = strrchr(text, '.');
    size_t length = dot ? (size_t)(dot - text) : strlen(text);
    subject->ref = arena_strndup(arena, text, length);
    subject->pin = dot ? dot + 1 : "";
    return subject->ref != NULL;
}

static size_t subject_count(const struct current_table *table)
{
    size_t count = 0;
    for (size_t i = 0; i < table->row_count; i++)
        count += table->rows[i].kind == ROW_TERMINAL ? table->rows[i].pin_count : 1;
    return count;
}

static bool describe(struct subject *subject, const struct current_row *row, struct arena *arena)
{
    *subject = (struct subject){.net = row->net, .ref = "", .pin = "", .row = row};
    if (row->kind == ROW_REST)
        subject->ref = arena_printf(arena, "rest %s", row->pins[0]);
    if (row->kind == ROW_POSITION)
        subject->ref = arena_printf(arena, "at %" PRId64 " %" PRId64 " %d", row->place.x_nm,
                                    row->place.y_nm, row->has_layer ? row->layer_code : -1);
    return subject->ref != NULL;
}

static bool fill(struct subject *subjects, const struct current_table *table, struct arena *arena)
{
    size_t used = 0;
    for (size_t i = 0; i < table->row_count; i++) {
        const struct current_row *row = &table->rows[i];
        if (row->kind != ROW_TERMINAL && !describe(&subjects[used++], row, arena))
            return false;
        for (uint32_t p = 0; row->kind == ROW_TERMINAL && p < row->pin_count; p++) {
            subjects[used] = (struct subject){.net = row->net, .row = row};
            if (!split_pin(&subjects[used++], row->pins[p], arena))
                return false;
        }
    }
    return true;
}

/* ---- looking ---- */

static void report_pin_twice(struct diag_list *diags, const struct subject *subject)
{
    diag_add(diags, DIAG_ERROR, "currents-repeated", subject->row->at, "name each pin once",
             "this row names %s.%s twice", subject->ref, subject->pin);
}

/* Subjects about one and the same pin: sorted by case, those without one first. */
static void check_run(const struct subject *run, size_t count, struct diag_list *diags)
{
    for (size_t i = 1; i < count; i++) {
        const struct subject *before = run[0].row->case_name ? &run[i - 1] : &run[0];
        if (before->row == run[i].row)
            report_pin_twice(diags, &run[i]);
        else if (do_cases_meet(before, &run[i]))
            report(diags, before, &run[i]);
    }
}

/* All pins of a reference, and one of them by itself: the pin would be in two terminals. */
static void check_stars(const struct subject *subjects, size_t count, size_t star,
                        struct diag_list *diags)
{
    if (strcmp(subjects[star].pin, "*") != 0)
        return;
    for (size_t i = star + 1; i < count && strcmp(subjects[i].net, subjects[star].net) == 0 &&
                              strcmp(subjects[i].ref, subjects[star].ref) == 0;
         i++) {
        if (strcmp(subjects[i].pin, "*") == 0 || !do_cases_meet(&subjects[star], &subjects[i]))
            continue;
        if (subjects[i].row == subjects[star].row)
            report_pin_twice(diags, &subjects[i]);
        else
            report(diags, &subjects[star], &subjects[i]);
    }
}

bool currents_check_repeats(const struct current_table *table, struct arena *arena,
                            struct diag_list *diags)
{
    size_t count = subject_count(table);
    struct subject *subjects = arena_alloc(arena, count + 1, sizeof *subjects);
    if (!subjects || !fill(subjects, table, arena))
        return false;
    qsort(subjects, count, sizeof *subjects, compare);
    for (size_t i = 0, end; i < count; i = end) {
        for (end = i + 1; end < count && is_same_pin(&subjects[i], &subjects[end]);)
            end++;
        check_run(&subjects[i], end - i, diags);
    }
    for (size_t i = 0; i < count; i++)
        check_stars(subjects, count, i, diags);
    return true;
}
