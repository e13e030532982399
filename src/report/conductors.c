/* Conductors by copper area: the list and the numbers by which a person finds them in a picture. */
#include "words.h"

#include <stdlib.h>

#define TERMINALS_SHOWN 8

struct sorting {
    const struct board *board;
};

static int more_copper_first(const void *left, const void *right, void *context)
{
    const struct board *board = ((const struct sorting *)context)->board;
    uint32_t a = *(const uint32_t *)left, b = *(const uint32_t *)right;
    double one = board->conductors[a].area_mm2, two = board->conductors[b].area_mm2;
    if (one > two || one < two)
        return one > two ? -1 : 1;
    return (a > b) - (a < b);
}

uint32_t *conductor_order(const struct board *board)
{
    struct sorting sorting = {board};
    uint32_t *order = calloc(board->conductor_count + 1, sizeof *order);
    for (uint32_t c = 0; order && c < board->conductor_count; c++)
        order[c] = c;
    if (order && board->conductor_count)
        qsort_r(order, board->conductor_count, sizeof *order, more_copper_first, &sorting);
    return order;
}

uint32_t *conductor_numbers(const struct board *board)
{
    uint32_t *order = conductor_order(board);
    uint32_t *numbers = malloc((board->conductor_count + 1) * sizeof *numbers);
    for (uint32_t i = 0; order && numbers && i < board->conductor_count; i++)
        numbers[order[i]] = i + 1;
    free(order);
    return numbers;
}

/* ---- the list ---- */

struct list {
    const struct report_input *in;
    const struct board *board;
    FILE *out;
    uint32_t *first, *next; /* terminals of a conductor, chained; ISTHMUS_NONE ends */
    bool *is_on;            /* conductor x layer */
};

static bool chain_terminals(struct list *list)
{
    const struct board *board = list->board;
    list->first = malloc((board->conductor_count + 1) * sizeof *list->first);
    list->next = malloc((board->terminal_count + 1) * sizeof *list->next);
    if (!list->first || !list->next)
        return false;
    for (size_t c = 0; c < board->conductor_count; c++)
        list->first[c] = ISTHMUS_NONE;
    for (uint32_t t = (uint32_t)board->terminal_count; t-- > 0;) {
        uint32_t conductor = board->terminals[t].conductor;
        if (conductor >= board->conductor_count)
            continue;
        list->next[t] = list->first[conductor];
        list->first[conductor] = t;
    }
    return true;
}

static bool note_layers(struct list *list)
{
    const struct board *board = list->board;
    list->is_on = calloc(board->conductor_count * board->layer_count + 1, sizeof *list->is_on);
    for (size_t l = 0; list->is_on && l < board->layer_count; l++)
        for (uint32_t c = 0; c < board->layers[l].mesh.component_count; c++) {
            uint32_t conductor = board->layers[l].conductor_of_component[c];
            if (conductor < board->conductor_count)
                list->is_on[conductor * board->layer_count + l] = true;
        }
    return list->is_on != NULL;
}

static void put_place(const struct list *list, struct pos_nm at)
{
    if (list->in->options->use_mil)
        fprintf(list->out, "(%.1f, %.1f) mil", (double)at.x_nm / 25400, (double)at.y_nm / 25400);
    else
        fprintf(list->out, "(%.3f, %.3f) mm", nm_to_mm(at.x_nm), nm_to_mm(at.y_nm));
}

static void put_terminals(const struct list *list, uint32_t conductor)
{
    size_t count = 0;
    for (uint32_t t = list->first[conductor]; t != ISTHMUS_NONE; t = list->next[t])
        count++;
    fprintf(list->out, "        %zu terminal%s%s", count, count == 1 ? "" : "s",
            count ? ": " : "\n");
    size_t shown = 0;
    for (uint32_t t = list->first[conductor]; t != ISTHMUS_NONE && shown < TERMINALS_SHOWN;
         t = list->next[t])
        fprintf(list->out, "%s%s", shown++ ? ", " : "", list->board->terminals[t].name);
    if (count)
        fputs(count > TERMINALS_SHOWN ? " ...\n" : "\n", list->out);
}

static void put_conductor(const struct list *list, uint32_t number, uint32_t index)
{
    const struct board *board = list->board;
    const struct conductor *conductor = &board->conductors[index];
    char word[16];
    fprintf(list->out, "  %5u %10.2f mm2  ", number, conductor->area_mm2);
    put_place(list, conductor->min);
    fputs(" to ", list->out);
    put_place(list, conductor->max);
    for (size_t l = 0; l < board->layer_count; l++)
        if (list->is_on[index * board->layer_count + l])
            fprintf(list->out, " %s", layer_word(board, board->layers[l].position, word));
    fprintf(list->out, "  %s\n",
            conductor->net == ISTHMUS_NONE ? "(no name)" : net_name(board, conductor->net));
    put_terminals(list, index);
}

static enum report_status write_report(const void *what, FILE *out)
{
    const struct report_input *in = what;
    struct list list = {.in = in, .board = in->board, .out = out};
    uint32_t *order = conductor_order(in->board);
    bool is_done = order && chain_terminals(&list) && note_layers(&list);
    if (is_done) {
        fprintf(out,
                "isthmus %s: conductors of %s, most copper first\n"
                "Number, copper seen from above, extent, layers, net, terminals; --svg FILE draws "
                "them with these numbers,\n"
                "`isthmus table` writes rows by position for those without a name.\n\n",
                in->options->version, in->options->package);
        for (uint32_t i = 0; i < in->board->conductor_count; i++)
            put_conductor(&list, i + 1, order[i]);
    }
    free(order);
    free(list.first);
    free(list.next);
    free(list.is_on);
    if (!is_done)
        return REPORT_NO_MEMORY;
    return ferror(out) ? REPORT_WRITE_FAILED : REPORT_OK;
}

enum report_status report_conductors_text(const struct report_input *in, FILE *out)
{
    return report_plain(write_report, in, in->options->use_colour, out);
}
