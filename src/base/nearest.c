/* The valid name nearest to a wrong one: what "did you mean" proposes. */
#include "isthmus/currents.h"

#include <ctype.h>
#include <string.h>

#define COMPARED_BYTES 128 /* of a name; a typing error shows within that */

static int folded(char c)
{
    return tolower((unsigned char)c);
}

static size_t smaller(size_t a, size_t b)
{
    return a < b ? a : b;
}

/* Levenshtein distance without regard to case, one row at a time. */
static size_t edit_distance(const char *a, size_t a_length, const char *b, size_t b_length)
{
    size_t row[COMPARED_BYTES + 1];
    for (size_t j = 0; j <= b_length; j++)
        row[j] = j;
    for (size_t i = 1; i <= a_length; i++) {
        size_t diagonal = row[0];
        row[0] = i;
        for (size_t j = 1; j <= b_length; j++) {
            size_t changed = diagonal + (folded(a[i - 1]) != folded(b[j - 1]));
            diagonal = row[j];
            row[j] = smaller(changed, smaller(row[j], row[j - 1]) + 1);
        }
    }
    return row[b_length];
}

/* "24V" and "V24": the same signs in another order are one slip, not several. */
static bool has_same_signs(const char *a, size_t a_length, const char *b, size_t b_length)
{
    int counts[256] = {0};
    if (a_length != b_length)
        return false;
    for (size_t i = 0; i < a_length; i++) {
        counts[(unsigned char)folded(a[i])]++;
        counts[(unsigned char)folded(b[i])]--;
    }
    for (size_t i = 0; i < 256; i++)
        if (counts[i])
            return false;
    return true;
}

static size_t name_distance(const char *a, const char *b, size_t *longer)
{
    size_t a_length = strnlen(a, COMPARED_BYTES), b_length = strnlen(b, COMPARED_BYTES);
    *longer = a_length > b_length ? a_length : b_length;
    if (has_same_signs(a, a_length, b, b_length))
        return strncasecmp(a, b, a_length) == 0 ? 0 : 1;
    return edit_distance(a, a_length, b, b_length);
}

const char *nearest_name(const char *wrong, const char *const *names, size_t count)
{
    const char *nearest = NULL;
    size_t best = SIZE_MAX;
    for (size_t i = 0; i < count; i++) {
        size_t longer;
        size_t distance = names[i] ? name_distance(wrong, names[i], &longer) : SIZE_MAX;
        bool is_near = names[i] && 2 * distance <= longer && distance < longer;
        if (is_near && distance < best) {
            best = distance;
            nearest = names[i];
        }
    }
    return nearest;
}
