/* Which readings of the digits a drill file leaves open. */
#include "drill_machine.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

static enum drill_unit stated_unit(const struct drill_facts *facts)
{
    if (facts->command.unit != UNIT_OPEN)
        return facts->command.unit;
    return facts->comment.unit != UNIT_OPEN ? facts->comment.unit : facts->size_unit;
}

static const struct drill_statement *stated_digits(const struct drill_facts *facts)
{
    if (facts->command.has_digits)
        return &facts->command;
    return facts->comment.has_digits ? &facts->comment : NULL;
}

static int effective_decimals(const struct drill_facts *facts, const struct drill_reading *reading)
{
    if (reading->zeros == ZEROS_DECIMAL_POINT)
        return 0;
    return reading->zeros == ZEROS_TRAILING_KEPT ? reading->decimal_digits
                                                 : facts->width_max - reading->integer_digits;
}

bool drill_readings_equal(const struct drill_facts *facts, const struct drill_reading *a,
                          const struct drill_reading *b)
{
    if (a->is_inch != b->is_inch)
        return false;
    if (facts->integer_count == 0)
        return true;
    bool is_fixed_width = facts->width_min == facts->width_max;
    return (is_fixed_width || a->zeros == b->zeros) &&
           effective_decimals(facts, a) == effective_decimals(facts, b);
}

struct reading_list {
    const struct drill_facts *facts;
    struct drill_reading *items;
    size_t count;
};

static void add(struct reading_list *list, struct drill_reading reading)
{
    for (size_t i = 0; i < list->count; i++)
        if (drill_readings_equal(list->facts, &list->items[i], &reading))
            return;
    if (list->count < DRILL_CANDIDATES)
        list->items[list->count++] = reading;
}

/* Digits in use, the format's default first (the others: common practice, no source). */
static void add_digits(struct reading_list *list, bool is_inch, enum zero_rule zeros)
{
    static const uint8_t inch[][2] = {{2, 4}, {2, 3}, {2, 5}, {2, 6}, {3, 4}, {1, 4}, {4, 4}};
    static const uint8_t metric[][2] = {{3, 3}, {4, 2}, {3, 2}, {4, 4}, {3, 4},
                                        {2, 4}, {3, 5}, {2, 5}, {3, 6}, {2, 3}};
    const struct drill_statement *stated = stated_digits(list->facts);
    if (stated) {
        add(list,
            (struct drill_reading){is_inch, zeros, stated->integer_digits, stated->decimal_digits});
        return;
    }
    const uint8_t(*digits)[2] = is_inch ? inch : metric;
    size_t count = is_inch ? sizeof inch / sizeof *inch : sizeof metric / sizeof *metric;
    for (size_t i = 0; i < count; i++)
        add(list, (struct drill_reading){is_inch, zeros, digits[i][0], digits[i][1]});
}

/* Which of the three rules the file leaves open. */
struct open_rules {
    bool is_decimal, is_leading, is_trailing;
};

/* Where one kind of zero is always dropped, that kind is never seen. */
static void use_evidence(const struct drill_facts *facts, struct open_rules *rules)
{
    if (facts->width_min == facts->width_max || facts->has_leading_zero == facts->has_trailing_zero)
        return;
    rules->is_leading = facts->has_leading_zero;
    rules->is_trailing = facts->has_trailing_zero;
}

static struct open_rules open_rules(const struct drill_facts *facts)
{
    bool says_decimal = facts->comment.has_zeros && facts->comment.zeros == ZEROS_DECIMAL_POINT;
    if (facts->integer_count == 0 || (says_decimal && facts->point_count > 0))
        return (struct open_rules){.is_decimal = true};
    struct open_rules rules = {.is_decimal = says_decimal || facts->point_count > 0,
                               .is_leading = true,
                               .is_trailing = true};
    const struct drill_statement *stated = facts->command.has_zeros   ? &facts->command
                                           : facts->comment.has_zeros ? &facts->comment
                                                                      : NULL;
    if (!stated) {
        use_evidence(facts, &rules);
        return rules;
    }
    struct open_rules seen = rules;
    use_evidence(facts, &seen);
    rules.is_leading = stated->zeros == ZEROS_LEADING_KEPT;
    rules.is_trailing = stated->zeros == ZEROS_TRAILING_KEPT;
    if (seen.is_leading != seen.is_trailing && seen.is_leading != rules.is_leading)
        rules.is_leading = rules.is_trailing = true; /* what is seen belies what is stated */
    return rules;
}

size_t drill_candidates(const struct drill_facts *facts, bool *is_stated, struct drill_reading *out)
{
    struct reading_list list = {.facts = facts, .items = out};
    enum drill_unit unit = stated_unit(facts);
    struct open_rules rules = open_rules(facts);
    for (int inch = 0; inch < 2; inch++) {
        if (unit == (inch ? UNIT_MM : UNIT_INCH))
            continue;
        if (rules.is_decimal)
            add(&list, (struct drill_reading){inch, ZEROS_DECIMAL_POINT, 0, 0});
        if (rules.is_trailing)
            add_digits(&list, inch, ZEROS_TRAILING_KEPT);
        if (rules.is_leading)
            add_digits(&list, inch, ZEROS_LEADING_KEPT);
    }
    *is_stated = list.count == 1;
    return list.count;
}

bool drill_default_reading(const struct drill_facts *facts, struct drill_reading *out)
{
    enum drill_unit unit = stated_unit(facts);
    struct open_rules rules = open_rules(facts);
    if (unit == UNIT_OPEN || !facts->command.has_zeros || rules.is_decimal || stated_digits(facts))
        return false;
    bool is_inch = unit == UNIT_INCH;
    *out = (struct drill_reading){is_inch, facts->command.zeros, is_inch ? 2 : 3, is_inch ? 4 : 3};
    return true;
}

void drill_reading_text(const struct drill_reading *reading, char out[64])
{
    const char *unit = reading->is_inch ? "INCH" : "METRIC";
    if (reading->zeros == ZEROS_DECIMAL_POINT)
        snprintf(out, 64, "%s, decimal point", unit);
    else
        snprintf(out, 64, "%s, %u.%u, %s zeros kept", unit, reading->integer_digits,
                 reading->decimal_digits,
                 reading->zeros == ZEROS_LEADING_KEPT ? "leading" : "trailing");
}

void drill_reading_option(const struct drill_reading *reading, char out[32])
{
    const char *unit = reading->is_inch ? "inch" : "mm";
    if (reading->zeros == ZEROS_DECIMAL_POINT)
        snprintf(out, 32, "%s,decimal", unit);
    else
        snprintf(out, 32, "%s,%u.%u,%s", unit, reading->integer_digits, reading->decimal_digits,
                 reading->zeros == ZEROS_LEADING_KEPT ? "leading" : "trailing");
}

/* ---- --drill-format ------------------------------------------------------------------------ */

static bool take(const char **text, const char *word)
{
    size_t length = strlen(word);
    if (strncmp(*text, word, length) != 0)
        return false;
    *text += length;
    return true;
}

static bool parse_digits(const char **text, struct drill_reading *out)
{
    const char *t = *text;
    if (!isdigit((unsigned char)t[0]) || t[1] != '.' || !isdigit((unsigned char)t[2]) ||
        t[3] != ',')
        return false;
    out->integer_digits = (uint8_t)(t[0] - '0');
    out->decimal_digits = (uint8_t)(t[2] - '0');
    *text = t + 4;
    return out->integer_digits + out->decimal_digits > 0;
}

bool drill_reading_parse(const char *text, struct drill_reading *out)
{
    struct drill_reading reading = {.is_inch = take(&text, "inch,")};
    if (!reading.is_inch && !take(&text, "mm,"))
        return false;
    bool has_digits = parse_digits(&text, &reading);
    if (strcmp(text, "decimal") == 0)
        reading.zeros = ZEROS_DECIMAL_POINT;
    else if (has_digits && strcmp(text, "leading") == 0)
        reading.zeros = ZEROS_LEADING_KEPT;
    else if (has_digits && strcmp(text, "trailing") == 0)
        reading.zeros = ZEROS_TRAILING_KEPT;
    else
        return false;
    *out = reading;
    return true;
}
