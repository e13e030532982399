/*
 * Every real package becomes a board. What is expected comes from outside: layer counts are those
 * of the table in the packages' README; holes, net names and pins are counted in the files' text by
 * scans of this test's own, which share nothing with the parsers.
 *
 * The three largest packages take minutes under the address sanitizer: they are read when
 * ISTHMUS_BOARDS_LARGE is set as well.
 */
#include "assertions.h"
#include "diags.h"
#include "isthmus/board.h"

#include <ctype.h>
#include <time.h>

struct package_row {
    const char *folder;
    size_t layer_count;
    bool has_profile, is_large;
};
static const struct package_row rows[] = {
    {"ac-timer", 2, true, false},         {"atx-breakout", 2, true, false},
    {"bga-adapter", 2, true, false},      {"boost-charger", 2, true, false},
    {"dc-load", 2, true, false},          {"energy-monitor", 2, true, false},
    {"ev-charger", 2, true, false},       {"foc-shield", 2, true, false},
    {"gps-logger", 2, true, false},       {"hotplate", 2, true, false},
    {"hydro-charger", 2, true, false},    {"injector-12ch", 2, true, false},
    {"inverter-logic", 4, true, false},   {"module-14layer", 14, true, true},
    {"porcupine-6layer", 6, true, false}, {"printer-controller", 4, true, true},
    {"robot-power", 2, true, false},      {"sbc-12layer", 12, true, true},
};
enum { ROW_COUNT = sizeof rows / sizeof *rows };

/* ---- scans ---- */

struct words {
    char **items;
    size_t count, capacity;
};

static int compare_words(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static void add_word(struct words *words, const char *text, size_t length)
{
    assert_true(
        array_grow(&words->items, sizeof *words->items, &words->capacity, words->count + 1));
    words->items[words->count++] = strndup(text, length);
}

static void keep_distinct(struct words *words)
{
    if (words->count)
        qsort(words->items, words->count, sizeof *words->items, compare_words);
    size_t kept = 0;
    for (size_t i = 0; i < words->count; i++)
        if (kept == 0 || strcmp(words->items[kept - 1], words->items[i]) != 0)
            words->items[kept++] = words->items[i];
        else
            free(words->items[i]);
    words->count = kept;
}

static void free_words(struct words *words)
{
    for (size_t i = 0; i < words->count; i++)
        free(words->items[i]);
    free(words->items);
}

/* What stands between `before` and the first of `ends` behind it, everywhere in the text. */
static void scan_between(const struct source_file *file, const char *before, const char *ends,
                         struct words *words)
{
    size_t length = strlen(before);
    for (size_t i = 0; i + length < file->size; i++) {
        if (memcmp(file->bytes + i, before, length) != 0)
            continue;
        size_t end = i + length;
        while (end < file->size && !strchr(ends, file->bytes[end]))
            end++;
        add_word(words, (const char *)file->bytes + i + length, end - i - length);
    }
}

struct line_reader {
    const struct source_file *file;
    size_t at;
};

static bool next_line(struct line_reader *reader, char *line, size_t size)
{
    if (reader->at >= reader->file->size)
        return false;
    size_t length = 0;
    for (; reader->at < reader->file->size; reader->at++) {
        char c = (char)reader->file->bytes[reader->at];
        if (c == '\n' || c == '\r')
            break;
        if (length + 1 < size)
            line[length++] = c;
    }
    reader->at++;
    line[length] = '\0';
    return true;
}

/* Holes and slots a drill file orders: a line of coordinates is one, R repeats it, G01 is a slot.
 */
static size_t scan_holes(const struct source_file *file)
{
    size_t count = 0;
    char line[200];
    bool is_body = false;
    struct line_reader reader = {.file = file};
    while (next_line(&reader, line, sizeof line)) {
        is_body |= line[0] == '%' || strcmp(line, "M95") == 0;
        if (line[0] == 'X' || line[0] == 'Y' || strncmp(line, "G01X", 4) == 0)
            count++;
        if (line[0] == 'R' && isdigit((unsigned char)line[1]))
            count += (size_t)atoi(line + 1);
    }
    return is_body ? count : 0;
}

/* Columns of an IPC-D-356 record, counted from 1, spaces taken off behind. */
static size_t column_text(const char *line, size_t from, size_t to, char *out)
{
    size_t length = strlen(line), count = 0;
    for (size_t c = from; c <= to && c <= length; c++)
        out[count++] = line[c - 1];
    while (count && out[count - 1] == ' ')
        count--;
    out[count] = '\0';
    return count;
}

static void scan_netlist(const struct source_file *file, struct words *nets, struct words *pins)
{
    char line[200], net[40], ref[40], pin[40], both[96];
    struct line_reader reader = {.file = file};
    while (next_line(&reader, line, sizeof line)) {
        if (strncmp(line, "317", 3) != 0 && strncmp(line, "327", 3) != 0)
            continue;
        if (column_text(line, 4, 17, net) && strcmp(net, "N/C") != 0)
            add_word(nets, net, strlen(net));
        if (!column_text(line, 21, 26, ref) || strcmp(ref, "VIA") == 0)
            continue;
        column_text(line, 28, 31, pin);
        snprintf(both, sizeof both, "%s.%s", ref, pin);
        add_word(pins, both, strlen(both));
    }
}

/* ---- boards ---- */

struct read_board {
    struct arena *arena;
    struct file_table files;
    struct diag_list diags;
    struct board board;
};

static double seconds_since(struct timespec start)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)(now.tv_sec - start.tv_sec) + (double)(now.tv_nsec - start.tv_nsec) / 1e9;
}

static struct read_board *open_board(const struct package_row *row)
{
    char path[1000];
    snprintf(path, sizeof path, "%s/%s", boards_folder(), row->folder);
    const char *paths[1] = {path};
    struct read_board *read = calloc(1, sizeof *read);
    assert_non_null(read);
    read->arena = arena_new("test");
    read->diags.arena = read->arena;
    assert_int_equal(
        package_read(paths, 1, &package_default_limits, read->arena, &read->files, &read->diags),
        PACKAGE_OK);
    struct board_facts facts;
    board_facts_default(&facts);
    struct timespec start;
    clock_gettime(CLOCK_MONOTONIC, &start);
    enum board_status status =
        board_read(&read->files, &facts, NULL, NULL, read->arena, &read->diags, &read->board);
    print_message("%s: %.2f s\n", row->folder, seconds_since(start));
    if (status != BOARD_OK || diag_has_errors(&read->diags))
        diags_print(&read->diags, DIAG_WARNING);
    assert_int_equal(status, BOARD_OK);
    return read;
}

static void close_board(struct read_board *read)
{
    board_free(&read->board);
    file_table_free(&read->files);
    arena_free(read->arena);
    free(read);
}

/* Holes as read, before the same place drilled twice becomes one. */
static void check_holes(const struct read_board *read)
{
    size_t expected = 0, found = 0;
    for (size_t l = 0; l < read->board.hole_list_count; l++) {
        const struct hole_list *list = &read->board.hole_lists[l];
        expected += scan_holes(&read->files.files[list->file_id - 1]);
        found += list->hole_count;
    }
    assert_int_equal(found, expected);
    assert_true(read->board.hole_count <= found);
}

/* Invariants of any board: every index leads somewhere, lists agree with each other. */
static void check_whole(const struct board *board)
{
    const char *why = NULL;
    for (size_t l = 0; l < board->layer_count; l++) {
        const struct copper_layer *layer = &board->layers[l];
        assert_int_equal(layer->position, l + 1);
        if (!sheet_mesh_check(&layer->mesh, &why))
            fail_msg("layer %zu: %s", l + 1, why);
        for (uint32_t c = 0; c < layer->mesh.component_count; c++)
            assert_true(layer->conductor_of_component[c] < board->conductor_count);
        for (size_t i = 0; i < layer->paint.object_count; i++)
            if (layer->paint.objects[i].kind == PAINT_KIND_CONTACT)
                assert_true(layer->paint.objects[i].owner == ISTHMUS_NONE ||
                            layer->paint.objects[i].owner < board->contact_count);
    }
    for (size_t c = 0; c < board->contact_count; c++) {
        assert_true(board->contacts[c].terminal < board->terminal_count);
        assert_true(board->contacts[c].conductor < board->conductor_count);
        assert_false(board->conductors[board->contacts[c].conductor].is_island);
    }
    for (size_t h = 0; h < board->hole_count; h++) {
        const struct board_hole *hole = &board->holes[h];
        assert_true(hole->contact == ISTHMUS_NONE || !hole->is_via);
        assert_true(hole->layer_from >= 1 && hole->layer_to <= board->layer_count);
        if (hole->contact != ISTHMUS_NONE && hole->conductor != ISTHMUS_NONE)
            assert_int_equal(board->contacts[hole->contact].conductor, hole->conductor);
    }
    double net_mm2 = 0, all_mm2 = 0, named_mm2 = 0;
    for (size_t n = 0; n < board->net_count; n++)
        net_mm2 += board->nets[n].area_mm2;
    for (size_t c = 0; c < board->conductor_count; c++) {
        all_mm2 += board->conductors[c].area_mm2;
        named_mm2 += board->conductors[c].net == ISTHMUS_NONE ? 0 : board->conductors[c].area_mm2;
    }
    assert_near(net_mm2, named_mm2, 1e-6 * all_mm2);
    assert_true(all_mm2 > 0);
}

static void every_package_becomes_a_board(void **state)
{
    (void)state;
    if (!boards_folder())
        skip();
    for (size_t i = 0; i < ROW_COUNT; i++) {
        if (rows[i].is_large && !getenv("ISTHMUS_BOARDS_LARGE")) {
            print_message("%s: left out, set ISTHMUS_BOARDS_LARGE\n", rows[i].folder);
            continue;
        }
        struct read_board *read = open_board(&rows[i]);
        assert_int_equal(read->board.layer_count, rows[i].layer_count);
        assert_int_equal(read->board.has_profile, rows[i].has_profile);
        assert_int_equal(read->board.profile_piece_count, rows[i].has_profile ? 1 : 0);
        check_holes(read);
        check_whole(&read->board);
        close_board(read);
    }
}

static const struct package_row *row_of(const char *folder)
{
    for (size_t i = 0; i < ROW_COUNT; i++)
        if (strcmp(rows[i].folder, folder) == 0)
            return &rows[i];
    fail_msg("no row %s", folder);
    return NULL;
}

static bool has_terminal(const struct board *board, const char *name)
{
    for (size_t t = 0; t < board->terminal_count; t++)
        if (strcmp(board->terminals[t].name, name) == 0)
            return true;
    return false;
}

static void check_pins(const struct board *board, struct words *pins)
{
    keep_distinct(pins);
    size_t named_count = 0;
    for (size_t t = 0; t < board->terminal_count; t++)
        named_count += board->terminals[t].ref != NULL;
    assert_int_equal(named_count, pins->count);
    for (size_t i = 0; i < pins->count; i++)
        if (!has_terminal(board, pins->items[i]))
            fail_msg("pin %s is no terminal", pins->items[i]);
}

static void check_nets_sound(const struct board *board)
{
    for (size_t n = 0; n < board->net_count; n++)
        if (board->nets[n].state != NET_OK)
            fail_msg("%s: %s", board->nets[n].name, board->nets[n].state_detail);
}

/* Every name and pin that the copper's attributes give, and no other: no net is split or joined
 * on a board that was made. */
static void check_attributes(const char *folder)
{
    struct read_board *read = open_board(row_of(folder));
    struct words nets = {0}, raw = {0}, pins = {0};
    for (size_t l = 0; l < read->board.layer_count; l++) {
        const struct source_file *file = &read->files.files[read->board.layers[l].file_id - 1];
        scan_between(file, "TO.N,", "*", &nets);
        scan_between(file, "TO.P,", "*", &raw);
    }
    for (size_t i = 0; i < raw.count; i++) { /* "J1,2,name" */
        char *comma = strchr(raw.items[i], ',');
        assert_non_null(comma);
        *comma = '.';
        size_t length = strcspn(raw.items[i], ",");
        add_word(&pins, raw.items[i], length);
    }
    keep_distinct(&nets);
    size_t expected = nets.count;
    for (size_t i = 0; i < nets.count; i++) {
        bool is_nobody = strcmp(nets.items[i], "N/C") == 0;
        expected -= is_nobody;
        if (!is_nobody && !board_find_net(&read->board, nets.items[i]))
            fail_msg("no net %s", nets.items[i]);
    }
    assert_int_equal(read->board.net_count, expected);
    check_pins(&read->board, &pins);
    check_nets_sound(&read->board);
    free_words(&nets);
    free_words(&raw);
    free_words(&pins);
    close_board(read);
}

static void names_and_pins_are_those_of_the_attributes(void **state)
{
    (void)state;
    if (!boards_folder())
        skip();
    check_attributes("dc-load");
    check_attributes("atx-breakout");
    /* Here the netlist of the package must agree about every conductor too. */
    check_attributes("robot-power");
}

/* Each record's point lies on copper; every name and pin of the netlist is there; nothing is split
 * or joined. */
static void check_netlist(const char *folder)
{
    struct read_board *read = open_board(row_of(folder));
    struct words nets = {0}, pins = {0};
    assert_int_equal(read->board.netlist_count, 1);
    scan_netlist(&read->files.files[read->board.netlists[0].file_id - 1], &nets, &pins);
    keep_distinct(&nets);
    assert_int_equal(read->board.net_count, nets.count);
    check_pins(&read->board, &pins);
    check_nets_sound(&read->board);
    if (diag_find(&read->diags, "netlist-point-bare"))
        fail_msg("%s", diag_find(&read->diags, "netlist-point-bare")->text);
    free_words(&nets);
    free_words(&pins);
    close_board(read);
}

static void names_and_pins_are_those_of_the_netlist(void **state)
{
    (void)state;
    if (!boards_folder())
        skip();
    check_netlist("porcupine-6layer");
    if (getenv("ISTHMUS_BOARDS_LARGE"))
        check_netlist("module-14layer");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_package_becomes_a_board),
        cmocka_unit_test(names_and_pins_are_those_of_the_attributes),
        cmocka_unit_test(names_and_pins_are_those_of_the_netlist),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
