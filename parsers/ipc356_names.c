/* Names of a netlist: aliases, duplicates, contradictions. */
#include "ipc356_parts.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#define NET_COLUMNS 14
#define PREFIX "NNAME"
#define PREFIX_LENGTH (sizeof PREFIX - 1)

static bool is_digits(const char *text)
{
    while (isdigit((unsigned char)*text))
        text++;
    return *text == '\0';
}

static size_t word_end(const struct ipc356_reader *reader, size_t column)
{
    while (column <= reader->length && reader->text[column - 1] != ' ' &&
           reader->text[column - 1] != '\t')
        column++;
    return column - 1;
}

void ipc356_alias(struct ipc356_reader *reader, size_t column)
{
    size_t key_end = word_end(reader, column);
    struct net_alias alias = {.at = ipc356_at(reader, column)};
    alias.key = ipc356_text(reader, column + PREFIX_LENGTH, key_end);
    alias.name = ipc356_text(reader, key_end + 1, reader->length);
    if (reader->is_out_of_memory)
        return;
    if (!alias.key || !alias.name) {
        diag_add(reader->diags, DIAG_ERROR, "netlist-alias", alias.at,
                 "expected P  NNAME1 followed by the long name",
                 "a net-name alias without a key or a name");
        return;
    }
    alias.is_number = is_digits(alias.key);
    if (!array_grow(&reader->aliases, sizeof alias, &reader->alias_capacity,
                    reader->alias_count + 1)) {
        reader->is_out_of_memory = true;
        return;
    }
    reader->aliases[reader->alias_count++] = alias;
}

static int compare_aliases(const void *a, const void *b)
{
    const struct net_alias *first = a, *second = b;
    int order = strcmp(first->key, second->key);
    if (order != 0)
        return order;
    return (first->at.line > second->at.line) - (first->at.line < second->at.line);
}

static void check_aliases(struct ipc356_reader *reader)
{
    for (size_t i = 1; i < reader->alias_count; i++) {
        const struct net_alias *first = &reader->aliases[i - 1], *second = &reader->aliases[i];
        if (strcmp(first->key, second->key) == 0 && strcmp(first->name, second->name) != 0)
            diag_add(reader->diags, DIAG_ERROR, "netlist-alias", second->at,
                     "give every long name a key of its own",
                     "alias %s means \"%s\" here and \"%s\" in line %u", second->key, second->name,
                     first->name, first->at.line);
    }
}

static const struct net_alias *find_alias(const struct ipc356_reader *reader, const char *written)
{
    bool has_prefix = strncmp(written, PREFIX, PREFIX_LENGTH) == 0;
    const char *key = has_prefix ? written + PREFIX_LENGTH : written;
    size_t low = 0, high = reader->alias_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (strcmp(reader->aliases[middle].key, key) < 0)
            low = middle + 1;
        else
            high = middle;
    }
    if (low == reader->alias_count || strcmp(reader->aliases[low].key, key) != 0)
        return NULL;
    return reader->aliases[low].is_number && !has_prefix ? NULL : &reader->aliases[low];
}

/* "N/C" is how the format writes it; the others are seen (common practice, no source). */
static bool is_no_net(const char *written)
{
    static const char *const words[] = {"N/C", "N_C", "N.C.", "NO_NET", "NO-NET", "NONET"};
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (strcasecmp(written, words[i]) == 0)
            return true;
    return false;
}

static const char *resolve(const struct ipc356_reader *reader, const char *written)
{
    if (!written || is_no_net(written))
        return NULL;
    const struct net_alias *alias = find_alias(reader, written);
    return alias ? alias->name : written;
}

/* A record that names an alias nobody defined. */
static void check_written(struct ipc356_reader *reader, const struct netlist_point *point)
{
    const char *written = point->net_as_written;
    if (!written || strncmp(written, PREFIX, PREFIX_LENGTH) != 0 || !written[PREFIX_LENGTH] ||
        !is_digits(written + PREFIX_LENGTH) || find_alias(reader, written))
        return;
    diag_add(reader->diags, DIAG_WARNING, "netlist-alias-missing", point->at,
             "the netlist is incomplete: export it again",
             "%s stands for a long name that no P  NNAME record gives", written);
}

void ipc356_resolve_names(struct ipc356_reader *reader)
{
    if (reader->alias_count)
        qsort(reader->aliases, reader->alias_count, sizeof *reader->aliases, compare_aliases);
    check_aliases(reader);
    for (size_t i = 0; i < reader->point_count; i++)
        check_written(reader, &reader->points[i]);
    for (size_t i = 0; i < reader->point_count; i++)
        reader->points[i].net = resolve(reader, reader->points[i].net_as_written);
    reader->out->are_names_cut = reader->has_full_name && reader->alias_count == 0;
    for (size_t i = 0; reader->out->are_names_cut && i < reader->point_count; i++)
        reader->points[i].may_be_cut =
            reader->points[i].net && strlen(reader->points[i].net) >= NET_COLUMNS;
}

/* ---- the same place twice ------------------------------------------------------------------ */

static int compare_texts(const char *a, const char *b)
{
    if (!a || !b)
        return (a != NULL) - (b != NULL);
    return strcmp(a, b);
}

static int compare_numbers(int64_t a, int64_t b)
{
    return (a > b) - (a < b);
}

static int compare_places(const struct netlist_point *a, const struct netlist_point *b)
{
    int order = compare_numbers(a->at_nm.x_nm, b->at_nm.x_nm);
    return order ? order : compare_numbers(a->at_nm.y_nm, b->at_nm.y_nm);
}

/* By place, then access (0, both sides, first), then line. */
static int compare_points(const void *a, const void *b)
{
    const struct netlist_point *first = *(const struct netlist_point *const *)a;
    const struct netlist_point *second = *(const struct netlist_point *const *)b;
    int order = compare_places(first, second);
    if (order == 0)
        order = compare_numbers(first->access, second->access);
    return order ? order : compare_numbers(first->at.line, second->at.line);
}

static bool is_same_point(const struct netlist_point *a, const struct netlist_point *b)
{
    return a->kind == b->kind && a->access == b->access && a->hole_nm == b->hole_nm &&
           a->plating == b->plating && a->is_via == b->is_via &&
           compare_texts(a->net, b->net) == 0 && compare_texts(a->ref, b->ref) == 0 &&
           compare_texts(a->pin, b->pin) == 0;
}

static void note_clash(struct netlist_point *point, const struct netlist_point *other)
{
    if (point->clash_line)
        return;
    point->clash_line = other->at.line;
    point->clash_net = other->net;
}

/* One hole, told with two sizes, platings or pins of one part. Pins of different parts may share a
 * hole (alternative footprints). */
static void compare_holes(struct ipc356_reader *reader, const struct netlist_point *first,
                          const struct netlist_point *second)
{
    const char *advice = "correct the record that is wrong, or export the netlist again";
    struct source_pos at = second->at;
    if (first->kind != POINT_THROUGH_HOLE || second->kind != POINT_THROUGH_HOLE)
        return;
    bool is_known = first->hole_nm && second->hole_nm;
    bool is_same_part = first->ref && second->ref && strcmp(first->ref, second->ref) == 0;
    at.column = 33;
    if (is_known && first->hole_nm != second->hole_nm)
        diag_add(reader->diags, DIAG_WARNING, "netlist-hole-twice", at, advice,
                 "a hole of %.3f mm here, of %.3f mm at the same place in line %u",
                 (double)second->hole_nm / 1e6, (double)first->hole_nm / 1e6, first->at.line);
    at.column = 38;
    if (first->plating != second->plating)
        diag_add(reader->diags, DIAG_WARNING, "netlist-hole-twice", at, advice,
                 "the same hole is plated in one record and not in another (line %u)",
                 first->at.line);
    at.column = 28;
    if (is_same_part && first->pin && second->pin && strcmp(first->pin, second->pin) != 0)
        diag_add(reader->diags, DIAG_WARNING, "netlist-hole-twice", at, advice,
                 "the hole of %s.%s is that of %s.%s in line %u", second->ref, second->pin,
                 first->ref, first->pin, first->at.line);
}

/* Two names are told when the board is put together: [joins] may tie them. */
static void compare_two(struct ipc356_reader *reader, struct netlist_point *first,
                        struct netlist_point *second)
{
    if (first->net && second->net && strcmp(first->net, second->net) != 0) {
        note_clash(first, second);
        note_clash(second, first);
    } else if (!second->is_continuation && is_same_point(first, second)) {
        diag_add(reader->diags, DIAG_NOTE, "netlist-duplicate", second->at, NULL,
                 "the same point stands in line %u", first->at.line);
    } else if (!second->is_continuation) {
        compare_holes(reader, first, second);
    }
}

/* Each against the first of its place that is reached from both sides, and of its own side. */
static void compare_sorted(struct ipc356_reader *reader, struct netlist_point **points)
{
    struct netlist_point *both = NULL, *side = NULL;
    for (size_t i = 0; i < reader->point_count; i++) {
        struct netlist_point *point = points[i];
        if (i == 0 || compare_places(points[i - 1], point) != 0)
            both = side = NULL;
        if (both)
            compare_two(reader, both, point);
        else if (side && side->access == point->access)
            compare_two(reader, side, point);
        if (!both && point->access == 0)
            both = point;
        if (!side || side->access != point->access)
            side = point;
    }
}

void ipc356_compare_points(struct ipc356_reader *reader)
{
    if (reader->point_count == 0)
        return;
    struct netlist_point **points = arena_alloc(reader->arena, reader->point_count, sizeof *points);
    if (!points) {
        reader->is_out_of_memory = true;
        return;
    }
    for (size_t i = 0; i < reader->point_count; i++)
        points[i] = &reader->points[i];
    qsort(points, reader->point_count, sizeof *points, compare_points);
    compare_sorted(reader, points);
}
