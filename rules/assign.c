/* Lays the rows of the net-current table on the board's terminals, a net and a case at a time. */
#include "assign.h"

#include <fnmatch.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

struct work {
    const struct board *board;
    const struct current_table *table;
    struct arena *arena;
    struct diag_list *diags;
    bool is_out_of_memory;
    struct row_nets *nets_of_row; /* per row of the table */
};

/* The nets that a row names: found once, as boards have thousands. */
struct row_nets {
    bool *roots;   /* per net: a root that the row's pattern matches; NULL: it is no pattern */
    uint32_t root; /* of the net that it names; NONE */
};

/* The rows that speak about one net. */
struct row_set {
    const struct current_row **rows;
    size_t count;
};

uint32_t net_root(const struct board *board, uint32_t net)
{
    for (size_t steps = 0; steps < board->net_count && net < board->net_count; steps++) {
        uint32_t into = board->nets[net].joined_into;
        if (into == net || into >= board->net_count)
            break;
        net = into;
    }
    return net;
}

static void *take(struct work *work, size_t count, size_t size)
{
    void *memory = arena_alloc(work->arena, count, size);
    if (!memory)
        work->is_out_of_memory = true;
    return memory;
}

/* ---- which rows belong to a net ---- */

static bool is_wild(const char *net)
{
    size_t length = strlen(net);
    return length > 0 && net[length - 1] == '*';
}

static bool has_name(const struct work *work, uint32_t net, const struct current_row *row)
{
    const char *name = work->board->nets[net].name;
    if (!name)
        return false;
    return is_wild(row->net) ? strncmp(name, row->net, strlen(row->net) - 1) == 0
                             : strcmp(name, row->net) == 0;
}

static void find_nets_of_row(struct work *work, const struct current_row *row, struct row_nets *out)
{
    const struct board *board = work->board;
    out->root = ISTHMUS_NONE;
    out->roots = is_wild(row->net) ? take(work, board->net_count + 1, sizeof *out->roots) : NULL;
    if (work->is_out_of_memory)
        return;
    for (uint32_t net = 0; net < board->net_count; net++) {
        if (!has_name(work, net, row))
            continue;
        out->root = net_root(board, net);
        if (out->roots)
            out->roots[out->root] = true;
    }
}

static void find_nets_of_rows(struct work *work)
{
    const struct current_table *table = work->table;
    work->nets_of_row = take(work, table->row_count + 1, sizeof *work->nets_of_row);
    for (size_t i = 0; i < table->row_count && !work->is_out_of_memory; i++)
        find_nets_of_row(work, &table->rows[i], &work->nets_of_row[i]);
}

static bool is_row_of(const struct work *work, size_t row, uint32_t root, bool is_by_pattern)
{
    const struct row_nets *nets = &work->nets_of_row[row];
    if (is_by_pattern)
        return nets->roots && nets->roots[root];
    return !nets->roots && nets->root == root;
}

static struct row_set rows_by(struct work *work, uint32_t root, bool is_by_pattern)
{
    const struct current_table *table = work->table;
    struct row_set set = {0};
    for (size_t i = 0; i < table->row_count; i++)
        set.count += is_row_of(work, i, root, is_by_pattern);
    set.rows = set.count ? take(work, set.count, sizeof(struct current_row *)) : NULL;
    if (!set.rows)
        return (struct row_set){0};
    for (size_t i = 0, kept = 0; i < table->row_count; i++)
        if (is_row_of(work, i, root, is_by_pattern))
            set.rows[kept++] = &table->rows[i];
    return set;
}

/* Its own rows; when it has none, those whose wildcard matches it. */
static struct row_set rows_of_net(struct work *work, uint32_t root)
{
    struct row_set own = rows_by(work, root, false);
    return own.count > 0 ? own : rows_by(work, root, true);
}

/* ---- rows whose net is not there ---- */

static const char *nearest_net(struct work *work, const char *name)
{
    const char **names = take(work, work->board->net_count + 1, sizeof *names);
    size_t count = 0;
    for (size_t i = 0; names && i < work->board->net_count; i++)
        if (work->board->nets[i].name)
            names[count++] = work->board->nets[i].name;
    return names ? nearest_name(name, names, count) : NULL;
}

static bool is_known_lost(const struct assignment *out, const char *net)
{
    for (size_t i = 0; i < out->lost_count; i++)
        if (strcmp(out->lost[i].net, net) == 0)
            return true;
    return false;
}

static void lose_row(struct work *work, const struct current_row *row, struct assignment *out)
{
    if (is_known_lost(out, row->net))
        return;
    const char *near = nearest_net(work, row->net);
    const char *problem =
        near ? arena_printf(work->arena, "net %s not found; did you mean %s?", row->net, near)
             : arena_printf(work->arena,
                            "net %s not found; `isthmus inspect` lists the nets of the package",
                            row->net);
    if (!problem) {
        work->is_out_of_memory = true;
        return;
    }
    diag_add(work->diags, DIAG_ERROR, "currents-net-unknown", row->at,
             "correct the name, or name the conductor with a position row", "%s", problem);
    out->lost[out->lost_count++] = (struct lost_row){row->net, problem, row->at};
}

/* ---- ends ---- */

/* Of a pad whose pin the files do not name only the reference can be asked for, as REF.* */
static bool is_nameless_of(const struct terminal *terminal, const char *pattern)
{
    size_t length = terminal->ref ? strlen(terminal->ref) : 0;
    return length > 0 && strncmp(pattern, terminal->ref, length) == 0 &&
           strcmp(pattern + length, ".*") == 0;
}

static bool is_pin_of(const struct terminal *terminal, const char *pattern)
{
    if (!terminal->name)
        return false;
    if (terminal->ref && !terminal->pin)
        return is_nameless_of(terminal, pattern);
    return strchr(pattern, '*') ? fnmatch(pattern, terminal->name, 0) == 0
                                : strcmp(pattern, terminal->name) == 0;
}

static size_t find_end(const struct net_question *question, uint32_t terminal)
{
    for (size_t e = 0; e < question->end_count; e++)
        for (size_t i = 0; i < question->ends[e].terminal_count; i++)
            if (question->ends[e].terminals[i] == terminal)
                return e;
    return SIZE_MAX;
}

static void end_from_terminal(struct work *work, struct net_question *question, uint32_t terminal)
{
    struct end *end = &question->ends[question->end_count];
    end->terminals = take(work, 1, sizeof *end->terminals);
    if (!end->terminals)
        return;
    end->terminals[0] = terminal;
    end->terminal_count = 1;
    end->name = work->board->terminals[terminal].name;
    question->end_count++;
}

static void collect_ends(struct work *work, struct net_question *question)
{
    const struct board *board = work->board;
    question->ends = take(work, board->terminal_count + 1, sizeof *question->ends);
    for (uint32_t t = 0; question->ends && t < board->terminal_count; t++) {
        uint32_t net = board->terminals[t].net;
        if (net < board->net_count && net_root(board, net) == question->net)
            end_from_terminal(work, question, t);
    }
}

static void set_problem(struct work *work, struct net_question *question, const char *problem)
{
    if (!problem)
        work->is_out_of_memory = true;
    else if (!question->problem)
        question->problem = problem;
}

static void refuse_row(struct work *work, struct net_question *question,
                       const struct current_row *row, const char *problem)
{
    if (problem)
        diag_add(work->diags, DIAG_ERROR, "currents-row-contradicts", row->at,
                 "correct the row; `isthmus table` lists the terminals of every net", "%s",
                 problem);
    set_problem(work, question, problem);
}

/* Does the net have a pad of the pattern's part whose pin the files do not name? */
static bool has_nameless_pin(const struct work *work, const struct net_question *question,
                             const char *pattern)
{
    const char *dot = strchr(pattern, '.');
    size_t length = dot ? (size_t)(dot - pattern) : 0;
    for (size_t e = 0; e < question->end_count; e++) {
        const struct terminal *terminal = &work->board->terminals[question->ends[e].terminals[0]];
        if (length > 0 && terminal->ref && !terminal->pin && strlen(terminal->ref) == length &&
            strncmp(terminal->ref, pattern, length) == 0)
            return true;
    }
    return false;
}

/* A pin that the net does not have: is it on another net, or misspelt? */
static void lose_pin(struct work *work, struct net_question *question,
                     const struct current_row *row, const char *pin)
{
    const struct board *board = work->board;
    const char **names = take(work, question->end_count + 1, sizeof *names);
    size_t count = 0;
    if (!names)
        return;
    for (uint32_t t = 0; t < board->terminal_count; t++) {
        const struct terminal *terminal = &board->terminals[t];
        if (is_pin_of(terminal, pin) && terminal->net < board->net_count) {
            refuse_row(work, question, row,
                       arena_printf(work->arena, "%s is on net %s, not on %s", pin,
                                    board->nets[terminal->net].name, row->net));
            return;
        }
    }
    if (has_nameless_pin(work, question, pin)) {
        refuse_row(work, question, row,
                   arena_printf(work->arena,
                                "the files name no pins of the part of %s; for its pads on net %s "
                                "write %.*s.*, for one of them its place",
                                pin, row->net, (int)strcspn(pin, "."), pin));
        return;
    }
    for (size_t e = 0; e < question->end_count; e++)
        if (question->ends[e].name)
            names[count++] = question->ends[e].name;
    const char *near = nearest_name(pin, names, count);
    refuse_row(work, question, row,
               near ? arena_printf(work->arena, "net %s has no terminal %s; did you mean %s?",
                                   row->net, pin, near)
                    : arena_printf(work->arena, "net %s has no terminal %s", row->net, pin));
}

static void merge_into(struct work *work, struct net_question *question, size_t into, size_t from)
{
    struct end *a = &question->ends[into], *b = &question->ends[from];
    size_t count = a->terminal_count + b->terminal_count;
    uint32_t *both = take(work, count, sizeof *both);
    if (!both)
        return;
    memcpy(both, a->terminals, a->terminal_count * sizeof *both);
    memcpy(both + a->terminal_count, b->terminals, b->terminal_count * sizeof *both);
    a->terminals = both;
    a->terminal_count = count;
    memmove(b, b + 1, (question->end_count - from - 1) * sizeof *b);
    question->end_count--;
}

/* The ends a pin pattern names, in question->ends, appended to found[] without repeats. */
static size_t match_pins(struct work *work, const struct net_question *question,
                         const char *pattern, size_t *found, size_t found_count)
{
    for (size_t e = 0; e < question->end_count; e++) {
        bool is_match = false, is_there = false;
        for (size_t i = 0; i < question->ends[e].terminal_count && !is_match; i++)
            is_match = is_pin_of(&work->board->terminals[question->ends[e].terminals[i]], pattern);
        for (size_t i = 0; i < found_count; i++)
            is_there |= found[i] == e;
        if (is_match && !is_there)
            found[found_count++] = e;
    }
    return found_count;
}

static char *join_words(struct work *work, const char *const *words, uint32_t count)
{
    size_t length = 1;
    for (uint32_t i = 0; i < count; i++)
        length += strlen(words[i]) + 1;
    char *text = take(work, length, 1), *at = text;
    for (uint32_t i = 0; text && i < count; i++)
        at += snprintf(at, length - (size_t)(at - text), "%s%s", i ? " " : "", words[i]);
    return text;
}

static bool is_group_row(const struct current_row *row)
{
    return row->kind == ROW_TERMINAL &&
           (row->pin_count > 1 || (row->pin_count == 1 && strchr(row->pins[0], '*')));
}

static void make_group(struct work *work, struct net_question *question,
                       const struct current_row *row)
{
    size_t *found = take(work, question->end_count + 1, sizeof *found);
    size_t count = 0;
    for (uint32_t i = 0; found && i < row->pin_count; i++) {
        size_t before = count;
        count = match_pins(work, question, row->pins[i], found, count);
        if (count == before && match_pins(work, question, row->pins[i], found, 0) == 0)
            lose_pin(work, question, row, row->pins[i]);
    }
    if (!found || count == 0)
        return;
    for (size_t i = 0; i < count; i++) /* ascending, so that merging keeps indices right */
        for (size_t j = i + 1; j < count; j++)
            if (found[j] < found[i]) {
                size_t swap = found[i];
                found[i] = found[j];
                found[j] = swap;
            }
    for (size_t i = 0; i < count; i++)
        if (question->ends[found[i]].is_group && count > 1)
            refuse_row(work, question, row,
                       arena_printf(work->arena, "%s is in two groups of net %s",
                                    question->ends[found[i]].name, row->net));
    for (size_t i = count; i-- > 1;)
        merge_into(work, question, found[0], found[i]);
    question->ends[found[0]].is_group = true;
    question->ends[found[0]].name = join_words(work, row->pins, row->pin_count);
}

/* The one end a terminal or position row speaks about, or SIZE_MAX (refused). */
static size_t end_of_row(struct work *work, struct net_question *question,
                         const struct current_row *row)
{
    if (row->kind == ROW_POSITION) {
        size_t index = (size_t)(row - work->table->rows);
        uint32_t terminal =
            work->board->terminal_of_row ? work->board->terminal_of_row[index] : ISTHMUS_NONE;
        size_t end = terminal == ISTHMUS_NONE ? SIZE_MAX : find_end(question, terminal);
        if (end == SIZE_MAX)
            refuse_row(work, question, row,
                       arena_printf(work->arena,
                                    "the position of this row is on no copper of net %s",
                                    row->net));
        return end;
    }
    size_t *found = take(work, question->end_count + 1, sizeof *found);
    if (!found)
        return SIZE_MAX;
    for (uint32_t i = 0; i < row->pin_count; i++)
        if (match_pins(work, question, row->pins[i], found, 0) > 0)
            return found[0];
    if (!is_group_row(row))
        lose_pin(work, question, row, row->pins[0]);
    return SIZE_MAX;
}

/* ---- currents of one case ---- */

static bool in_case(const struct current_row *row, const char *name)
{
    return !row->case_name || (name && strcmp(row->case_name, name) == 0);
}

static void set_end(struct net_case *net_case, size_t end, const struct current_row *row)
{
    net_case->feed_a[end] = row->sign == SIGN_DRAWS ? 0 : row->current_a;
    net_case->draw_a[end] = row->sign == SIGN_FEEDS ? 0 : row->current_a;
    net_case->has_row[end] = true;
}

static void apply_terminal_rows(struct work *work, struct net_question *question,
                                struct net_case *net_case, const struct row_set *rows,
                                const struct current_row **row_of_end)
{
    for (size_t i = 0; i < rows->count; i++) {
        const struct current_row *row = rows->rows[i];
        if ((row->kind != ROW_TERMINAL && row->kind != ROW_POSITION) || !row->has_current ||
            !in_case(row, net_case->name))
            continue;
        size_t end = end_of_row(work, question, row);
        if (end == SIZE_MAX)
            continue;
        const struct current_row *before = row_of_end[end];
        if (before && (before->current_a != row->current_a || before->sign != row->sign))
            refuse_row(work, question, row,
                       arena_printf(work->arena,
                                    "%s of net %s has two currents (the other one is in line %u)",
                                    question->ends[end].name, row->net, before->at.line));
        row_of_end[end] = row;
        set_end(net_case, end, row);
    }
}

static bool rest_matches(const struct work *work, const struct end *end, const char *pattern)
{
    if (strcmp(pattern, "*") == 0)
        return true;
    for (size_t i = 0; i < end->terminal_count; i++) {
        const struct terminal *terminal = &work->board->terminals[end->terminals[i]];
        const char *word = strchr(pattern, '.') ? terminal->name : terminal->ref;
        if (!word || fnmatch(pattern, word, 0) != 0)
            return false;
    }
    return true;
}

/* The rest row with the longest pattern that matches. */
static const struct current_row *rest_row(const struct work *work, const struct end *end,
                                          const struct net_case *net_case,
                                          const struct row_set *rows)
{
    const struct current_row *best = NULL;
    for (size_t i = 0; i < rows->count; i++) {
        const struct current_row *row = rows->rows[i];
        if (row->kind != ROW_REST || !row->has_current || !in_case(row, net_case->name) ||
            !rest_matches(work, end, row->pins[0]))
            continue;
        if (!best || strlen(row->pins[0]) > strlen(best->pins[0]))
            best = row;
    }
    return best;
}

static const struct current_row *net_row(const struct net_case *net_case,
                                         const struct row_set *rows)
{
    const struct current_row *found = NULL;
    for (size_t i = 0; i < rows->count; i++)
        if (rows->rows[i]->kind == ROW_NET && rows->rows[i]->has_current &&
            in_case(rows->rows[i], net_case->name) && (!found || rows->rows[i]->case_name))
            found = rows->rows[i];
    return found;
}

/* What the rows of a case come to. */
struct sums {
    double feeds_a, draws_a;
    bool is_complete; /* every end has a row */
};

static struct sums sums_of(const struct net_question *question, const struct net_case *net_case)
{
    struct sums sums = {.is_complete = true};
    for (size_t e = 0; e < question->end_count; e++) {
        sums.feeds_a += net_case->feed_a[e];
        sums.draws_a += net_case->draw_a[e];
        sums.is_complete &= net_case->has_row[e];
    }
    return sums;
}

/*
 * The smaller of all feeds and all draws. Where a terminal has no row the larger: it may draw what
 * the others' rows leave over (8 A fed, 3 A drawn, a forgotten load: 8 A).
 */
static void i_net_from_ends(const struct net_question *question, struct net_case *net_case)
{
    struct sums sums = sums_of(question, net_case);
    bool by_feeds = sums.is_complete ? sums.feeds_a <= sums.draws_a : sums.feeds_a >= sums.draws_a;
    net_case->i_net_a = by_feeds ? sums.feeds_a : sums.draws_a;
    net_case->i_net_how = by_feeds ? "all feeds" : "all draws";
}

static void check_net_row(struct work *work, struct net_question *question,
                          const struct net_case *net_case, const struct current_row *row,
                          const struct current_row **row_of_end)
{
    struct sums sums = sums_of(question, net_case);
    for (size_t e = 0; e < question->end_count; e++)
        if (row_of_end[e] && row_of_end[e]->current_a > row->current_a * (1 + 1e-9))
            refuse_row(work, question, row,
                       arena_printf(work->arena,
                                    "net row of %s (%g A) is below the %g A of its terminal %s",
                                    row->net, row->current_a, row_of_end[e]->current_a,
                                    question->ends[e].name));
    if (sums.is_complete && row->current_a > sums.feeds_a * (1 + 1e-9))
        refuse_row(work, question, row,
                   arena_printf(work->arena, "net row of %s (%g A) is above all its feeds (%g A)",
                                row->net, row->current_a, sums.feeds_a));
}

static double least_rise(const struct work *work, const struct net_case *net_case,
                         const struct row_set *rows)
{
    double rise_k = INFINITY;
    for (size_t i = 0; i < rows->count; i++)
        if (in_case(rows->rows[i], net_case->name) && rows->rows[i]->rise_k < rise_k)
            rise_k = rows->rows[i]->rise_k;
    return isfinite(rise_k) ? rise_k : work->board->facts.rise_k.value;
}

static void fill_rest(const struct work *work, const struct net_question *question,
                      struct net_case *net_case, const struct row_set *rows)
{
    for (size_t e = 0; e < question->end_count; e++) {
        if (net_case->has_row[e])
            continue;
        const struct current_row *row = rest_row(work, &question->ends[e], net_case, rows);
        if (row)
            set_end(net_case, e, row);
    }
}

/* What has no row may carry everything; between just two ends that is what they do carry. */
static void fill_silent(const struct net_question *question, struct net_case *net_case)
{
    for (size_t e = 0; e < question->end_count; e++) {
        if (!net_case->has_row[e])
            net_case->feed_a[e] = net_case->draw_a[e] = net_case->i_net_a;
        if (question->end_count == 2)
            net_case->has_row[e] = true;
    }
}

static void fill_case(struct work *work, struct net_question *question, struct net_case *net_case,
                      const struct row_set *rows)
{
    size_t count = question->end_count + 1;
    net_case->feed_a = take(work, count, sizeof *net_case->feed_a);
    net_case->draw_a = take(work, count, sizeof *net_case->draw_a);
    net_case->has_row = take(work, count, sizeof *net_case->has_row);
    const struct current_row **row_of_end = take(work, count, sizeof *row_of_end);
    if (work->is_out_of_memory)
        return;
    apply_terminal_rows(work, question, net_case, rows, row_of_end);
    fill_rest(work, question, net_case, rows);
    const struct current_row *row = net_row(net_case, rows);
    if (row) {
        check_net_row(work, question, net_case, row, row_of_end);
        net_case->i_net_a = row->current_a;
        net_case->i_net_how = "net row";
    } else {
        i_net_from_ends(question, net_case);
    }
    net_case->rise_k = least_rise(work, net_case, rows);
    fill_silent(question, net_case);
}

static bool has_current_in(const struct row_set *rows, const char *name)
{
    for (size_t i = 0; i < rows->count; i++)
        if (rows->rows[i]->has_current &&
            (name ? rows->rows[i]->case_name && strcmp(rows->rows[i]->case_name, name) == 0
                  : !rows->rows[i]->case_name))
            return true;
    return false;
}

/* The cases that speak about this net; those that do not are one with the rows that hold in all. */
static void collect_cases(struct work *work, struct net_question *question,
                          const struct row_set *rows)
{
    const struct current_table *table = work->table;
    question->cases = take(work, table->case_count + 1, sizeof *question->cases);
    if (!question->cases)
        return;
    for (size_t i = 0; i < table->case_count; i++)
        if (has_current_in(rows, table->cases[i]))
            question->cases[question->case_count++].name = table->cases[i];
    if (has_current_in(rows, NULL) && question->case_count < table->case_count + 1 &&
        (question->case_count < table->case_count || table->case_count == 0))
        question->cases[question->case_count++].name = NULL;
    for (size_t i = 0; i < question->case_count; i++)
        fill_case(work, question, &question->cases[i], rows);
}

/* The net as the user calls it: of joined nets, the one in the first row. */
static uint32_t shown_net(const struct board *board, uint32_t root, const struct row_set *rows)
{
    for (uint32_t net = 0; net < board->net_count; net++)
        if (net_root(board, net) == root && board->nets[net].name &&
            strcmp(board->nets[net].name, rows->rows[0]->net) == 0)
            return net;
    return root;
}

static void ask(struct work *work, uint32_t root, const struct row_set *rows,
                struct net_question *question)
{
    *question = (struct net_question){.net = root, .shown_net = shown_net(work->board, root, rows)};
    collect_ends(work, question);
    for (size_t i = 0; i < rows->count && !work->is_out_of_memory; i++)
        if (is_group_row(rows->rows[i]))
            make_group(work, question, rows->rows[i]);
    if (!work->is_out_of_memory)
        collect_cases(work, question, rows);
}

enum assign_status assign_currents(const struct board *board, const struct current_table *table,
                                   struct arena *arena, struct diag_list *diags,
                                   struct assignment *out)
{
    struct work work = {.board = board, .table = table, .arena = arena, .diags = diags};
    *out = (struct assignment){0};
    out->questions = take(&work, board->net_count + 1, sizeof *out->questions);
    out->lost = take(&work, table->row_count + 1, sizeof *out->lost);
    find_nets_of_rows(&work);
    if (work.is_out_of_memory)
        return ASSIGN_NO_MEMORY;
    for (size_t i = 0; i < table->row_count; i++)
        if (work.nets_of_row[i].root == ISTHMUS_NONE)
            lose_row(&work, &table->rows[i], out);
    for (uint32_t net = 0; net < board->net_count && !work.is_out_of_memory; net++) {
        if (net_root(board, net) != net)
            continue;
        struct row_set rows = rows_of_net(&work, net);
        bool is_asked = false;
        for (size_t i = 0; i < rows.count; i++)
            is_asked |= rows.rows[i]->has_current;
        if (is_asked)
            ask(&work, net, &rows, &out->questions[out->question_count++]);
    }
    return work.is_out_of_memory ? ASSIGN_NO_MEMORY : ASSIGN_OK;
}
