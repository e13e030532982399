/* A net-current table to start from: every named net with its terminals, most copper first. */
#include "words.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct sheet {
    const struct report_input *in;
    const struct board *board;
    FILE *out;
};

/* The one place where text enters the table (RFC 4180). */
static void put_field(const struct sheet *sheet, const char *text)
{
    bool is_quoted = strpbrk(text, ",\"\r\n") != NULL || *text == '#';
    if (is_quoted)
        fputc('"', sheet->out);
    for (const char *at = text; *at; at++) {
        if (*at == '"')
            fputc('"', sheet->out);
        fputc(*at, sheet->out);
    }
    if (is_quoted)
        fputc('"', sheet->out);
}

/* ---- what a table that exists already says ---- */

static const struct current_row *row_of_pin(const struct sheet *sheet, const char *net,
                                            const char *pin)
{
    const struct current_table *table = sheet->in->table;
    for (size_t i = 0; table && i < table->row_count; i++) {
        const struct current_row *row = &table->rows[i];
        if (row->kind == ROW_TERMINAL && row->pin_count == 1 && row->has_current &&
            strcmp(row->net, net) == 0 && strcmp(row->pins[0], pin) == 0)
            return row;
    }
    return NULL;
}

static const struct current_row *row_of_net(const struct sheet *sheet, const char *net)
{
    const struct current_table *table = sheet->in->table;
    for (size_t i = 0; table && i < table->row_count; i++)
        if (table->rows[i].kind == ROW_NET && table->rows[i].has_current &&
            strcmp(table->rows[i].net, net) == 0)
            return &table->rows[i];
    return NULL;
}

static bool is_same_ref(const struct terminal *a, const struct terminal *b)
{
    return a->ref && b->ref && strcmp(a->ref, b->ref) == 0;
}

/* The other end of a part with exactly two pins, or NULL. */
static const struct terminal *other_side(const struct board *board, const struct terminal *terminal)
{
    const struct terminal *other = NULL;
    for (size_t i = 0; i < board->terminal_count; i++) {
        const struct terminal *item = &board->terminals[i];
        if (item == terminal || !is_same_ref(item, terminal))
            continue;
        if (other)
            return NULL;
        other = item;
    }
    return other;
}

static void put_current(const struct sheet *sheet, double current_a, enum current_sign sign)
{
    fprintf(sheet->out, "%s%g",
            sign == SIGN_FEEDS   ? "+"
            : sign == SIGN_DRAWS ? "-"
                                 : "",
            current_a);
}

/* The current of a pin: as its row says, or as the other side of its part says. */
static bool put_known_current(const struct sheet *sheet, const struct terminal *terminal)
{
    const struct board *board = sheet->board;
    const struct current_row *row =
        row_of_pin(sheet, net_name(board, terminal->net), terminal->name);
    if (row) {
        put_current(sheet, row->current_a, row->sign);
        return true;
    }
    const struct terminal *other = other_side(board, terminal);
    row = other ? row_of_pin(sheet, net_name(board, other->net), other->name) : NULL;
    if (!row)
        return false;
    enum current_sign sign = row->sign == SIGN_FEEDS   ? SIGN_DRAWS
                             : row->sign == SIGN_DRAWS ? SIGN_FEEDS
                                                       : SIGN_NONE;
    put_current(sheet, row->current_a, sign);
    return true;
}

/* ---- rows ---- */

static void put_capacity(const struct sheet *sheet, const struct terminal *terminal)
{
    if (!sheet->in->good_for)
        return;
    struct terminal_capacity good_for = sheet->in->good_for[terminal - sheet->board->terminals];
    if (!isnan(good_for.current_a))
        fprintf(sheet->out, "copper good for %s%.2g A at %g K",
                good_for.is_more_than ? "more than " : "", good_for.current_a,
                sheet->board->facts.rise_k.value);
}

static bool is_of_class(const struct terminal *terminal, char letter)
{
    return terminal->ref && terminal->ref[0] == letter && isdigit((unsigned char)terminal->ref[1]);
}

static bool is_rest(const struct terminal *terminal)
{
    return is_of_class(terminal, 'C') || is_of_class(terminal, 'U');
}

/* A pin cell is divided at blanks and may end in *: who is named with these is asked by place. */
static bool is_writable(const struct terminal *terminal)
{
    static const char divided[] = " \t*";
    return terminal->ref && !strpbrk(terminal->ref, divided) &&
           !(terminal->pin && strpbrk(terminal->pin, divided));
}

static bool is_in_one_row(const struct terminal *a, const struct terminal *b)
{
    return is_same_ref(a, b) && is_writable(a) && is_writable(b);
}

/* Is an earlier terminal of this net on the same part? Then that one's group row names it. */
static bool is_in_group_before(const struct sheet *sheet, const struct net *net, size_t index)
{
    for (size_t i = 0; i < index; i++)
        if (is_in_one_row(&sheet->board->terminals[net->terminals[i]],
                          &sheet->board->terminals[net->terminals[index]]))
            return true;
    return false;
}

static void put_position_row(const struct sheet *sheet, const struct net *net,
                             const struct terminal *terminal)
{
    const struct contact *contact = &sheet->board->contacts[terminal->contacts[0]];
    char word[16];
    put_field(sheet, net->name);
    fprintf(sheet->out, ",,,,%.4f,%.4f,%s,,", nm_to_mm(contact->place.x_nm),
            nm_to_mm(contact->place.y_nm), layer_word(sheet->board, contact->layer_from, word));
    put_capacity(sheet, terminal);
    fputc('\n', sheet->out);
}

static void put_pin_row(const struct sheet *sheet, const struct net *net, size_t index)
{
    const struct board *board = sheet->board;
    const struct terminal *terminal = &board->terminals[net->terminals[index]];
    char *pins = NULL;
    size_t size = 0;
    FILE *text = open_memstream(&pins, &size);
    if (!text)
        return;
    bool is_group = false, is_nameless = !terminal->pin;
    for (size_t i = index + 1; i < net->terminal_count; i++)
        if (is_in_one_row(&board->terminals[net->terminals[i]], terminal)) {
            is_nameless |= !board->terminals[net->terminals[i]].pin;
            is_group = true;
        }
    if (is_nameless)
        fprintf(text, "%s.*", terminal->ref);
    else
        fputs(terminal->name, text);
    for (size_t i = index + 1; !is_nameless && i < net->terminal_count; i++)
        if (is_in_one_row(&board->terminals[net->terminals[i]], terminal))
            fprintf(text, " %s", board->terminals[net->terminals[i]].name);
    fclose(text);
    put_field(sheet, net->name);
    fputc(',', sheet->out);
    put_field(sheet, pins);
    fputc(',', sheet->out);
    if (!is_group)
        put_known_current(sheet, terminal);
    fputs(",,,,,,", sheet->out);
    if (is_group)
        fputs(is_nameless ? "one terminal of several pads, pins not named; first pad: "
                          : "one terminal of several pins; first pin: ",
              sheet->out);
    put_capacity(sheet, terminal);
    fputc('\n', sheet->out);
    free(pins);
}

static void put_rest_row(const struct sheet *sheet, const struct net *net, char letter)
{
    size_t count = 0;
    double least_a = INFINITY;
    for (size_t i = 0; i < net->terminal_count; i++) {
        const struct terminal *terminal = &sheet->board->terminals[net->terminals[i]];
        if (!is_of_class(terminal, letter))
            continue;
        count++;
        if (sheet->in->good_for)
            least_a = fmin(least_a, sheet->in->good_for[net->terminals[i]].current_a);
    }
    if (count == 0)
        return;
    put_field(sheet, net->name);
    fprintf(sheet->out, ",%c*,,,,,,,each of %zu pins", letter, count);
    if (isfinite(least_a))
        fprintf(sheet->out, "; the narrowest is good for %.2g A", least_a);
    fputc('\n', sheet->out);
}

static void put_net(const struct sheet *sheet, const struct net *net)
{
    fprintf(sheet->out, "# %zu terminals, %.1f mm2 of copper\n", net->terminal_count,
            net->area_mm2);
    put_field(sheet, net->name);
    fputs(",,", sheet->out);
    const struct current_row *row = row_of_net(sheet, net->name);
    if (row)
        fprintf(sheet->out, "%g", row->current_a);
    fputs(",,,,,,the most that is under way in this net at one time\n", sheet->out);
    for (size_t i = 0; i < net->terminal_count; i++) {
        const struct terminal *terminal = &sheet->board->terminals[net->terminals[i]];
        if (is_rest(terminal))
            continue;
        if (!is_writable(terminal))
            put_position_row(sheet, net, terminal);
        else if (!is_in_group_before(sheet, net, i))
            put_pin_row(sheet, net, i);
    }
    put_rest_row(sheet, net, 'C');
    put_rest_row(sheet, net, 'U');
}

static int more_copper_first(const void *left, const void *right, void *context)
{
    const struct board *board = ((const struct sheet *)context)->board;
    const struct net *a = &board->nets[*(const uint32_t *)left];
    const struct net *b = &board->nets[*(const uint32_t *)right];
    if (a->area_mm2 > b->area_mm2 || a->area_mm2 < b->area_mm2)
        return a->area_mm2 > b->area_mm2 ? -1 : 1;
    return strcmp(a->name, b->name);
}

/* A terminal without a net, by its conductor's number. */
struct unnamed {
    uint32_t number, terminal;
};

static int compare_unnamed(const void *a, const void *b)
{
    const struct unnamed *one = a, *two = b;
    if (one->number != two->number)
        return one->number < two->number ? -1 : 1;
    return (one->terminal > two->terminal) - (one->terminal < two->terminal);
}

static size_t list_unnamed(const struct board *board, const uint32_t *numbers, struct unnamed *out)
{
    size_t count = 0;
    for (uint32_t t = 0; t < board->terminal_count; t++) {
        const struct terminal *terminal = &board->terminals[t];
        if (terminal->net == ISTHMUS_NONE && terminal->contact_count &&
            terminal->conductor != ISTHMUS_NONE)
            out[count++] = (struct unnamed){numbers[terminal->conductor], t};
    }
    if (count)
        qsort(out, count, sizeof *out, compare_unnamed);
    return count;
}

static void put_unnamed_row(const struct sheet *sheet, const struct unnamed *item)
{
    const struct board *board = sheet->board;
    const struct terminal *terminal = &board->terminals[item->terminal];
    const struct contact *contact = &board->contacts[terminal->contacts[0]];
    char word[16];
    fprintf(sheet->out, "#NET%u,,,,%.4f,%.4f,%s,,conductor %u of %.1f mm2", item->number,
            nm_to_mm(contact->place.x_nm), nm_to_mm(contact->place.y_nm),
            layer_word(board, contact->layer_from, word), item->number,
            board->conductors[terminal->conductor].area_mm2);
    if (sheet->in->good_for && !isnan(sheet->in->good_for[item->terminal].current_a))
        fputs("; ", sheet->out);
    put_capacity(sheet, terminal);
    putc('\n', sheet->out);
}

/* Conductors without a name: rows by position, ready to be named. */
static bool put_unnamed(const struct sheet *sheet)
{
    uint32_t *numbers = conductor_numbers(sheet->board);
    struct unnamed *items = malloc((sheet->board->terminal_count + 1) * sizeof *items);
    size_t count = numbers && items ? list_unnamed(sheet->board, numbers, items) : 0;
    if (count)
        fputs("#\n# Copper without a net name: take the # off rows that matter, and name them "
              "(numbers as in\n# `isthmus inspect --conductors --svg FILE`).\n",
              sheet->out);
    for (size_t i = 0; i < count; i++)
        put_unnamed_row(sheet, &items[i]);
    bool is_done = numbers && items;
    free(numbers);
    free(items);
    return is_done;
}

static enum report_status write_report(const void *what, FILE *out)
{
    const struct report_input *in = what;
    struct sheet sheet = {in, in->board, out};
    uint32_t *order = calloc(in->board->net_count + 1, sizeof *order);
    size_t count = 0;
    if (!order)
        return REPORT_NO_MEMORY;
    for (uint32_t net = 0; net < in->board->net_count; net++)
        if (in->board->nets[net].name)
            order[count++] = net;
    qsort_r(order, count, sizeof *order, more_copper_first, &sheet);
    fputs("# Net-current table. Fill in current_a: a net row is the most under way in the net at "
          "one time; a\n"
          "# terminal row what a pin feeds (+) or draws (-), without a sign either way; 0 for a "
          "sense tap. C* and\n"
          "# U* rows stand for each pin that is not named otherwise. Delete what carries no "
          "current worth\n"
          "# checking: nets without a row are not judged.\n"
          "net,pin,current_a,rise_k,x_mm,y_mm,layer,case,note\n",
          out);
    for (size_t i = 0; i < count; i++)
        put_net(&sheet, &in->board->nets[order[i]]);
    bool is_done = put_unnamed(&sheet);
    free(order);
    if (!is_done)
        return REPORT_NO_MEMORY;
    return ferror(out) ? REPORT_WRITE_FAILED : REPORT_OK;
}

enum report_status report_table_csv(const struct report_input *in, FILE *out)
{
    return report_plain(write_report, in, in->options->use_colour, out);
}
