/*
 * Faults of other kinds than a thinned stroke (test_seeded.c), planted in real packages at random
 * places on the way between two pads: gaps drawn across copper, holes drilled through it (bare or
 * plated), layer changes that lose holes, spokes cut off, cut-outs in the board's profile, tracks
 * that run through a narrow pad; on outer and inner layers, drawn and negative. What the changed
 * copper's least cut is between the pads that carry current is found by maximum flow over a picture
 * of it (board_picture.h), in which the change is painted and not read from the changed files:
 *
 *   neck     the least cut is below what the current needs: there must be a finding of that
 *            cross-section
 *   no neck  it is above: there must be none
 *   apart    there is no copper between them: whatever is said, the net does not pass
 *   else     the picture is too coarse to tell: only that nothing breaks is checked
 *
 * And of every finding: without its pieces the copper does not hang together between two of the
 * pads. All pads chosen may carry the same current, all others none; so every cut needs the same.
 *
 * ISTHMUS_SEEDS=N tries N seeds instead of the short sample; ISTHMUS_SEED_FIRST=K starts at K;
 * ISTHMUS_SEED_BOARD, ISTHMUS_SEED_KIND: only that one; ISTHMUS_SEED_KEEP=FOLDER writes the changed
 * files and the table there.
 */
#include "assertions.h"
#include "board_picture.h"
#include "diags.h"
#include "edit.h"
#include "isthmus/rule.h"
#include "random.h"

#include <math.h>
#include <time.h>

static const char *const folders[] = {
    "foc-shield",  "boost-charger", "dc-load",      "inverter-logic", "hydro-charger",
    "robot-power", "injector-12ch", "atx-breakout", "hotplate",       "ac-timer"};
enum kind {
    KIND_GAP,
    KIND_HOLES,
    KIND_PLATED,
    KIND_VIAS,
    KIND_SPOKE,
    KIND_CUTOUT,
    KIND_PAD,
    KIND_COUNT
};
static const char *const kind_names[] = {"gap",   "holes",  "plated", "vias",
                                         "spoke", "cutout", "pad"};
enum {
    FOLDER_COUNT = sizeof folders / sizeof *folders,
    SAMPLE_SEEDS = 1,
    SAMPLE_FOLDERS = 2,
    MOST_TERMINALS = 4,
    MOST_CHANGES = 6,
    TRIES = 60,
    PLANS = 25,
    MOST_NODES = 350000,
    SAMPLE_NODES = 50000 /* more is left open in the short sample */
};
#define COARSE_NM 60e3
#define CELLS_A_NEED 12
#define LEAST_CELL_NM 12e3
#define MOST_CELL_NM 50e3
#define MOST_CELLS 4e6
#define SAMPLE_CELLS 1e6
#define ENDS_CELLS 1.5 /* what a picture errs at the ends of a piece, as in test_cut_grid.c */
#define MARGIN_NM 150e3

static bool is_sample(void)
{
    return !getenv("ISTHMUS_SEEDS");
}

/* ---- packages ---- */

struct package {
    const char *folder;
    struct arena *arena;
    struct file_table files;
    struct diag_list diags;
    struct board board;
    uint32_t *conductors; /* that can be judged */
    size_t conductor_count;
};

static void read_board(struct file_table *files, const struct current_table *table,
                       struct arena *arena, struct diag_list *diags, struct board *out)
{
    struct board_facts facts;
    board_facts_default(&facts);
    board_of_files(files, &facts, table, arena, diags, out);
}

static bool is_usable(const struct board *board, const struct terminal *terminal)
{
    return terminal->contact_count == 1 && (board->net_count == 0 || terminal->pin);
}

static bool is_judgeable(const struct board *board, uint32_t conductor)
{
    uint32_t net = board->conductors[conductor].net;
    if (board->net_count && (net == ISTHMUS_NONE || board->nets[net].state != NET_OK ||
                             board->nets[net].conductor_count != 1))
        return false;
    size_t count = 0;
    for (size_t t = 0; t < board->terminal_count; t++)
        count +=
            board->terminals[t].conductor == conductor && is_usable(board, &board->terminals[t]);
    return count >= 2 && board->conductors[conductor].area_mm2 > 4;
}

static struct package *open_package(const char *folder)
{
    char path[1000];
    snprintf(path, sizeof path, "%s/%s", boards_folder(), folder);
    const char *paths[1] = {path};
    struct package *package = calloc(1, sizeof *package);
    assert_non_null(package);
    package->folder = folder;
    package->arena = arena_new("package");
    package->diags.arena = package->arena;
    assert_int_equal(package_read(paths, 1, &package_default_limits, package->arena,
                                  &package->files, &package->diags),
                     PACKAGE_OK);
    read_board(&package->files, NULL, package->arena, &package->diags, &package->board);
    package->conductors = calloc(package->board.conductor_count + 1, sizeof *package->conductors);
    assert_non_null(package->conductors);
    for (uint32_t c = 0; c < package->board.conductor_count; c++)
        if (is_judgeable(&package->board, c))
            package->conductors[package->conductor_count++] = c;
    assert_true(package->conductor_count > 0);
    return package;
}

static void close_package(struct package *package)
{
    board_free(&package->board);
    file_table_free(&package->files);
    arena_free(package->arena);
    free(package->conductors);
    free(package);
}

/* ---- what is planted ---- */

struct plant {
    const struct package *package;
    struct arena *arena;
    enum kind kind;
    uint64_t random;
    uint32_t conductor;
    uint32_t terminals[MOST_TERMINALS];
    uint8_t terminal_count;
    struct picture_changes changes;
    struct picture_hole *holes; /* the board's, and planted ones behind */
    size_t hole_count;
    uint16_t layer;
    double neck_nm;  /* about what is left */
    double need_mm2; /* of outer copper */
};

static double between(uint64_t *random, double least, double most)
{
    return least + random_part(random) * (most - least);
}

static const struct contact *contact_of(const struct plant *plant, size_t i)
{
    const struct board *board = &plant->package->board;
    return &board->contacts[board->terminals[plant->terminals[i]].contacts[0]];
}

static bool choose_terminals(struct plant *plant)
{
    const struct board *board = &plant->package->board;
    uint32_t *list = calloc(board->terminal_count, sizeof *list);
    assert_non_null(list);
    size_t count = 0;
    for (uint32_t t = 0; t < board->terminal_count; t++)
        if (board->terminals[t].conductor == plant->conductor &&
            is_usable(board, &board->terminals[t]))
            list[count++] = t;
    size_t wanted = 2 + next_random(&plant->random) % (MOST_TERMINALS - 1);
    plant->terminal_count = 0;
    while (plant->terminal_count < wanted && count) {
        size_t i = next_random(&plant->random) % count;
        plant->terminals[plant->terminal_count++] = list[i];
        list[i] = list[--count];
    }
    free(list);
    return plant->terminal_count >= 2;
}

static void extent_of(const struct plant *plant, struct pos_nm *min, struct pos_nm *max)
{
    const struct conductor *conductor = &plant->package->board.conductors[plant->conductor];
    *min = (struct pos_nm){conductor->min.x_nm - 500000, conductor->min.y_nm - 500000};
    *max = (struct pos_nm){conductor->max.x_nm + 500000, conductor->max.y_nm + 500000};
}

static bool mark_terminals(const struct plant *plant, struct picture *picture)
{
    const struct board *board = &plant->package->board;
    for (uint8_t i = 0; i < plant->terminal_count; i++)
        if (picture_mark(picture, board, (uint32_t)(contact_of(plant, i) - board->contacts), i) < 4)
            return false;
    return true;
}

/* ---- a way between two terminals ---- */

struct way {
    uint64_t *items; /* cell * PICTURE_LAYERS + layer */
    size_t count;
};

static struct way find_way(const struct picture *picture, uint8_t from, uint8_t to)
{
    size_t cells = (size_t)picture->width * (size_t)picture->height, head = 0, tail = 0;
    size_t all = cells * PICTURE_LAYERS;
    uint64_t *before = malloc(all * sizeof *before), *queue = malloc(all * sizeof *queue);
    assert_non_null(before);
    assert_non_null(queue);
    memset(before, 0xFF, all * sizeof *before);
    for (size_t l = 0; l < picture->layer_count; l++)
        for (size_t i = 0; i < cells; i++)
            if (picture->mark[l][i] == from + 1) {
                before[i * PICTURE_LAYERS + l] = i * PICTURE_LAYERS + l;
                queue[tail++] = i * PICTURE_LAYERS + l;
            }
    struct way way = {0};
    while (head < tail && !way.items) {
        uint64_t item = queue[head++];
        size_t l = item % PICTURE_LAYERS, at = item / PICTURE_LAYERS;
        size_t x = at % (size_t)picture->width;
        if (picture->mark[l][at] == to + 1) {
            for (uint64_t i = item;; i = before[i]) {
                way.count++;
                if (before[i] == i)
                    break;
            }
            way.items = malloc(way.count * sizeof *way.items);
            assert_non_null(way.items);
            for (size_t i = way.count; i-- > 0; item = before[item])
                way.items[i] = item;
            break;
        }
        uint64_t next[4 + PICTURE_LAYERS];
        size_t count = 0;
        if (x > 0)
            next[count++] = item - PICTURE_LAYERS;
        if (x + 1 < (size_t)picture->width)
            next[count++] = item + PICTURE_LAYERS;
        if (at >= (size_t)picture->width)
            next[count++] = item - (uint64_t)picture->width * PICTURE_LAYERS;
        if (at + (size_t)picture->width < cells)
            next[count++] = item + (uint64_t)picture->width * PICTURE_LAYERS;
        for (size_t o = 0; picture->what[l][at] >= PICTURE_HOLE && o < picture->layer_count; o++)
            next[count++] = at * PICTURE_LAYERS + o;
        for (size_t i = 0; i < count; i++) {
            size_t nl = next[i] % PICTURE_LAYERS, cell = next[i] / PICTURE_LAYERS;
            if (before[next[i]] == UINT64_MAX && picture->what[nl][cell] != PICTURE_BARE) {
                before[next[i]] = item;
                queue[tail++] = next[i];
            }
        }
    }
    free(before);
    free(queue);
    return way;
}

static struct pos_nm place_of(const struct picture *picture, uint64_t item)
{
    size_t at = item / PICTURE_LAYERS;
    return (struct pos_nm){
        llround(picture->x_nm + ((double)(at % (size_t)picture->width) + 0.5) * picture->cell_nm),
        llround(picture->y_nm + ((double)(at / (size_t)picture->width) + 0.5) * picture->cell_nm)};
}

static struct pos_nm away(struct pos_nm from, double angle, double distance)
{
    return (struct pos_nm){from.x_nm + llround(distance * cos(angle)),
                           from.y_nm + llround(distance * sin(angle))};
}

/* How far copper goes on from a place. */
static double reach_of(const struct picture *picture, size_t l, struct pos_nm at, double angle)
{
    double step = picture->cell_nm / 2;
    for (double d = 0; d < 40e6; d += step) {
        long cell = picture_cell(picture, away(at, angle, d));
        if (cell < 0 || picture->what[l][cell] == PICTURE_BARE)
            return d;
    }
    return 40e6;
}

static double from_way(struct pos_nm at, struct pos_nm from, struct pos_nm to)
{
    double dx = (double)(to.x_nm - from.x_nm), dy = (double)(to.y_nm - from.y_nm);
    double px = (double)(at.x_nm - from.x_nm), py = (double)(at.y_nm - from.y_nm);
    double length2 = dx * dx + dy * dy;
    double part = length2 > 0 ? fmin(1, fmax(0, (px * dx + py * dy) / length2)) : 0;
    return hypot(px - part * dx, py - part * dy);
}

/* Pads and holes are left whole: where nothing else says it, the copper round a hole tells whether
 * it is plated. */
static bool is_clear(const struct plant *plant, const struct picture *picture,
                     const struct picture_change *change)
{
    const struct board *board = &plant->package->board;
    double reach = change->width_nm / 2 + MARGIN_NM;
    for (size_t c = 0; c < board->contact_count; c++)
        if (board->contacts[c].conductor == plant->conductor &&
            from_way(board->contacts[c].place, change->from, change->to) < reach + 400e3)
            return false;
    for (size_t l = 0; l < picture->layer_count; l++)
        for (long i = 0; i < (long)picture->width * picture->height; i++)
            if (picture->mark[l][i] && from_way(place_of(picture, (uint64_t)i * PICTURE_LAYERS),
                                                change->from, change->to) < reach)
                return false;
    for (size_t h = 0; h < plant->hole_count; h++)
        if (from_way(plant->holes[h].from, change->from, change->to) <
                reach + plant->holes[h].cut_nm / 2 ||
            from_way(plant->holes[h].to, change->from, change->to) <
                reach + plant->holes[h].cut_nm / 2)
            return false;
    return true;
}

static bool add_change(struct plant *plant, const struct picture *picture,
                       struct picture_change change)
{
    assert_true(plant->changes.count < MOST_CHANGES);
    if (!is_clear(plant, picture, &change))
        return false;
    plant->changes.items[plant->changes.count++] = change;
    return true;
}

static struct pos_nm on_grid(const struct plant *plant, struct pos_nm at)
{
    if (plant->kind == KIND_GAP || plant->kind == KIND_SPOKE)
        return on_file_grid(plant->package->board.layers[plant->layer - 1].drawing, (double)at.x_nm,
                            (double)at.y_nm);
    return (struct pos_nm){llround((double)at.x_nm * 1e-3) * 1000,
                           llround((double)at.y_nm * 1e-3) * 1000};
}

/* Across the copper at a place: from one side, or in the middle, so that about neck_nm stay. */
static bool plan_across(struct plant *plant, const struct picture *picture, struct pos_nm at,
                        double along)
{
    double across = along + M_PI / 2 + between(&plant->random, -0.4, 0.4);
    double left = reach_of(picture, plant->layer - 1u, at, across);
    double right = reach_of(picture, plant->layer - 1u, at, across + M_PI);
    double wide = left + right, gap = between(&plant->random, 150e3, 600e3);
    if (wide < 250e3 || wide > 30e6)
        return false;
    plant->neck_nm = fmin(between(&plant->random, 100e3, 2e6), wide * 0.6);
    bool is_square = plant->kind == KIND_CUTOUT;
    struct pos_nm from = away(at, across, left), to = away(at, across + M_PI, right);
    double over = plant->kind == KIND_CUTOUT ? 100e3 : 200e3 + gap / 2;
    double near = is_square ? 0 : gap / 2;
    if (next_random(&plant->random) % 3 && wide - plant->neck_nm - near > 20e3) {
        struct picture_change change = {plant->layer,
                                        away(from, across, over),
                                        away(to, across, plant->neck_nm + near),
                                        gap,
                                        is_square,
                                        false};
        if (next_random(&plant->random) % 2)
            change = (struct picture_change){plant->layer,
                                             away(to, across + M_PI, over),
                                             away(from, across + M_PI, plant->neck_nm + near),
                                             gap,
                                             is_square,
                                             false};
        change.from = on_grid(plant, change.from);
        change.to = on_grid(plant, change.to);
        return add_change(plant, picture, change);
    }
    double part = between(&plant->random, 0.2, 0.8), open = wide - plant->neck_nm;
    if (!is_square)
        gap = fmin(gap, open);
    double inset = is_square ? 0 : gap / 2;
    if (open - 2 * inset < 1e3)
        return false;
    struct picture_change change = {
        plant->layer,
        on_grid(plant, away(from, across + M_PI, plant->neck_nm * part + inset)),
        on_grid(plant, away(to, across, plant->neck_nm * (1 - part) + inset)),
        gap,
        is_square,
        false};
    return add_change(plant, picture, change);
}

static void plant_hole(struct plant *plant, const struct picture_change *change)
{
    bool is_plated = plant->kind == KIND_PLATED;
    plant->holes[plant->hole_count++] =
        (struct picture_hole){change->from,
                              change->to,
                              change->width_nm + (is_plated ? 40e3 : 0),
                              is_plated ? picture_wall_mm2(change->width_nm) : 0,
                              1,
                              (uint16_t)plant->package->board.layer_count,
                              ISTHMUS_NONE};
}

/* A row of holes across; about neck_nm of copper stay between them. */
static bool plan_holes(struct plant *plant, const struct picture *picture, struct pos_nm at,
                       double along)
{
    double across = along + M_PI / 2 + between(&plant->random, -0.3, 0.3);
    double left = reach_of(picture, plant->layer - 1u, at, across);
    double right = reach_of(picture, plant->layer - 1u, at, across + M_PI), wide = left + right;
    size_t count = 1 + next_random(&plant->random) % 3;
    plant->neck_nm = fmin(between(&plant->random, 100e3, 2e6), wide * 0.6);
    double diameter = round((wide - plant->neck_nm) / (double)count / 50e3) * 50e3;
    if (diameter < 300e3 || diameter > 6e6)
        return false;
    plant->neck_nm = wide - diameter * (double)count;
    double web = plant->neck_nm / ((double)count + 1), off = web / 2;
    if (plant->neck_nm < 50e3)
        return false;
    struct pos_nm start = away(at, across, left);
    double shift = between(&plant->random, -off, off);
    for (size_t i = 0; i < count; i++) {
        double d = web * (double)(i + 1) + diameter * ((double)i + 0.5) + shift;
        struct pos_nm centre = on_grid(plant, away(start, across + M_PI, d));
        struct picture_change change = {0, centre, centre, diameter, false, false};
        if (!add_change(plant, picture, change))
            return false;
    }
    for (size_t i = 0; i < count; i++)
        plant_hole(plant, &plant->changes.items[i]);
    return true;
}

/* Next to a pad: a spoke, or whatever else leaves it there, is cut off or made thinner. */
static bool plan_spoke(struct plant *plant, const struct picture *picture)
{
    size_t i = next_random(&plant->random) % plant->terminal_count;
    const struct contact *contact = contact_of(plant, i);
    double angle = (double)(next_random(&plant->random) % 8) * M_PI / 4;
    size_t l = plant->layer - 1u;
    if (contact->layer_from > plant->layer || contact->layer_to < plant->layer)
        return false;
    double d = 0;
    for (long cell = picture_cell(picture, contact->place);
         cell >= 0 && d < 5e6 &&
         (picture->mark[l][cell] == i + 1 || picture->what[l][cell] >= PICTURE_HOLE || d < 1e3);
         cell = picture_cell(picture, away(contact->place, angle, d)))
        d += picture->cell_nm / 2;
    double gap = between(&plant->random, 100e3, 150e3);
    struct pos_nm at = away(contact->place, angle, d + gap);
    double left = reach_of(picture, l, at, angle + M_PI / 2);
    double right = reach_of(picture, l, at, angle - M_PI / 2), wide = left + right;
    if (left <= 0 || right <= 0 || wide > 1.5e6)
        return false;
    bool is_gone = next_random(&plant->random) % 6 == 0;
    plant->neck_nm = is_gone ? wide : wide * between(&plant->random, 0.3, 0.8);
    double end = is_gone ? right + 50e3 : right - plant->neck_nm - gap / 2;
    struct picture_change change = {plant->layer,
                                    on_grid(plant, away(at, angle + M_PI / 2, left + gap)),
                                    on_grid(plant, away(at, angle - M_PI / 2, end)),
                                    gap,
                                    false,
                                    false};
    if (left + gap + end < 20e3)
        return false;
    plant->changes.items[plant->changes.count++] = change;
    return true;
}

static bool is_via_of(const struct plant *plant, size_t h)
{
    const struct board_hole *hole = &plant->package->board.holes[plant->holes[h].board_hole];
    return hole->conductor == plant->conductor && hole->is_via && hole->contact == ISTHMUS_NONE;
}

/* A share of the net's vias is gone, but for those on the way. */
static bool plan_vias(struct plant *plant, const struct picture *picture, const struct way *way)
{
    double wall_mm2 = 0, share = random_part(&plant->random);
    size_t gone_count = 0;
    bool *is_on_way = calloc(plant->hole_count + 1, sizeof *is_on_way);
    assert_non_null(is_on_way);
    for (size_t i = 0; i < way->count; i++) {
        uint32_t what =
            picture->what[way->items[i] % PICTURE_LAYERS][way->items[i] / PICTURE_LAYERS];
        if (what >= PICTURE_HOLE)
            is_on_way[what - PICTURE_HOLE] = true;
    }
    for (size_t h = 0; h < plant->hole_count; h++) {
        struct picture_hole *hole = &plant->holes[h];
        if (!is_via_of(plant, h))
            continue;
        if (is_on_way[h]) {
            wall_mm2 = fmax(wall_mm2, hole->wall_mm2);
        } else if (random_part(&plant->random) < share) {
            hole->wall_mm2 = hole->cut_nm = 0;
            gone_count++;
        }
    }
    free(is_on_way);
    plant->neck_nm = wall_mm2 / 0.035e-6 * (double)(1 + next_random(&plant->random) % 3);
    plant->layer = 1;
    return gone_count > 0 && wall_mm2 > 0;
}

/* Strokes along an axis that can be interrupted. */
static bool is_interruptible(const struct plant *plant, const struct copper_layer *layer,
                             const struct object *object)
{
    const struct drawing *drawing = layer->drawing;
    if (object->kind != OBJECT_STROKE || !object->is_dark || object->fill_count == 0 ||
        drawing->is_image_negative || layer->is_negative)
        return false;
    const struct aperture *aperture = &drawing->apertures[object->aperture];
    const struct source_file *file = &plant->package->files.files[layer->file_id - 1];
    struct statement statement;
    bool is_along_axis =
        object->from.x_nm == object->to.x_nm || object->from.y_nm == object->to.y_nm;
    return is_along_axis && aperture->kind == APERTURE_CIRCLE && !aperture->hole_nm &&
           aperture->width_nm >= 100000 && aperture->width_nm < 5000000 &&
           stroke_length_nm(object) > 3 * (double)aperture->width_nm + 600e3 &&
           statement_find(file, object->at, &statement) && statement_is_plain_draw(file, statement);
}

/* The track that a way runs on is interrupted; a pad narrower than it bridges the gap. */
static bool plan_pad(struct plant *plant, const struct picture *picture, struct pos_nm at)
{
    const struct copper_layer *layer = &plant->package->board.layers[plant->layer - 1];
    if (plant->layer != 1 && plant->layer != plant->package->board.layer_count)
        return false;
    for (uint32_t o = 0; o < layer->drawing->object_count; o++) {
        const struct object *object = &layer->drawing->objects[o];
        if (from_way(at, object->from, object->to) > 60e3 ||
            !is_interruptible(plant, layer, object))
            continue;
        double width = (double)layer->drawing->apertures[object->aperture].width_nm;
        double length = stroke_length_nm(object),
               gap = width + between(&plant->random, 0.2, 1) * 400e3;
        double start = between(&plant->random, width, length - width - gap);
        double dx = (double)(object->to.x_nm - object->from.x_nm) / length;
        double dy = (double)(object->to.y_nm - object->from.y_nm) / length;
        struct pos_nm a = on_file_grid(layer->drawing, (double)object->from.x_nm + dx * start,
                                       (double)object->from.y_nm + dy * start);
        struct pos_nm b =
            on_file_grid(layer->drawing, (double)a.x_nm + dx * gap, (double)a.y_nm + dy * gap);
        plant->neck_nm = round(width * between(&plant->random, 0.25, 0.8) / 1e3) * 1e3;
        plant->changes =
            (struct picture_changes){.items = {{plant->layer, object->from, a, width, false, true},
                                               {plant->layer, b, object->to, width, false, true},
                                               {plant->layer, a, b, plant->neck_nm, true, true}},
                                     .count = 3,
                                     .gone_layer = plant->layer,
                                     .gone_object = o};
        return is_clear(plant, picture, &(struct picture_change){plant->layer, a, b, width, 0, 0});
    }
    return false;
}

static bool plan_once(struct plant *plant, const struct picture *picture, const struct way *way)
{
    size_t i = next_random(&plant->random) % way->count;
    size_t a = i > 6 ? i - 6 : 0, b = i + 6 < way->count ? i + 6 : way->count - 1;
    struct pos_nm at = place_of(picture, way->items[i]), from = place_of(picture, way->items[a]);
    struct pos_nm to = place_of(picture, way->items[b]);
    double along = atan2((double)(to.y_nm - from.y_nm), (double)(to.x_nm - from.x_nm));
    plant->layer = (uint16_t)(way->items[i] % PICTURE_LAYERS + 1);
    plant->changes = (struct picture_changes){0};
    if (plant->kind == KIND_VIAS)
        return plan_vias(plant, picture, way);
    if (plant->kind == KIND_SPOKE)
        return plan_spoke(plant, picture);
    if (plant->kind == KIND_PAD)
        return plan_pad(plant, picture, at);
    if (plant->kind == KIND_HOLES || plant->kind == KIND_PLATED)
        return plan_holes(plant, picture, at, along);
    return plan_across(plant, picture, at, along);
}

/* Plated holes that go through other copper too would join it. */
static bool joins_others(const struct plant *plant, const struct picture *picture)
{
    uint8_t *seen[PICTURE_LAYERS] = {0};
    uint8_t *holes = calloc(picture->hole_count + 1, 1);
    assert_non_null(holes);
    for (size_t l = 0; l < picture->layer_count; l++) {
        seen[l] = calloc((size_t)picture->width * (size_t)picture->height, 1);
        assert_non_null(seen[l]);
    }
    picture_flood(picture, 0, seen, holes);
    bool joins = false;
    for (size_t l = 0; l < picture->layer_count; l++)
        for (long i = 0; i < (long)picture->width * picture->height; i++)
            for (size_t c = 0; c < plant->changes.count && !seen[l][i]; c++)
                joins |= picture->what[l][i] != PICTURE_BARE &&
                         from_way(place_of(picture, (uint64_t)i * PICTURE_LAYERS),
                                  plant->changes.items[c].from, plant->changes.items[c].to) <
                             plant->changes.items[c].width_nm / 2 + 100e3;
    for (size_t l = 0; l < picture->layer_count; l++)
        free(seen[l]);
    free(holes);
    return joins;
}

/* A cut-out has to lie inside the board. */
static bool is_within(const struct plant *plant)
{
    const struct board *board = &plant->package->board;
    const struct picture_change *change = &plant->changes.items[0];
    for (size_t r = 0; r < board->role_count; r++)
        for (size_t o = 0;
             board->roles[r].role == ROLE_PROFILE && o < board->drawings[r].object_count; o++) {
            const struct object *object = &board->drawings[r].objects[o];
            for (int i = 0; i <= 100; i++) {
                struct pos_nm at = {
                    object->from.x_nm + (object->to.x_nm - object->from.x_nm) * i / 100,
                    object->from.y_nm + (object->to.y_nm - object->from.y_nm) * i / 100};
                if (from_way(at, change->from, change->to) < change->width_nm + 600e3)
                    return false;
            }
        }
    for (size_t r = 0; r < board->role_count; r++)
        if (board->roles[r].role == ROLE_PROFILE && board->drawings[r].object_count)
            return true;
    return false;
}

/* Chooses terminals and a fault between two of them. */
static bool plan(struct plant *plant)
{
    const struct package *package = plant->package;
    plant->conductor = package->conductors[next_random(&plant->random) % package->conductor_count];
    if (!choose_terminals(plant))
        return false;
    struct pos_nm min, max;
    extent_of(plant, &min, &max);
    plant->holes = picture_holes(&package->board, MOST_CHANGES, &plant->hole_count);
    size_t own_holes = plant->hole_count;
    struct picture picture;
    const struct picture_changes none = {0};
    picture_draw(&picture, &package->board, min, max, COARSE_NM, &none, plant->holes,
                 plant->hole_count);
    struct way way = {0};
    bool is_planned = false;
    if (mark_terminals(plant, &picture))
        way = find_way(&picture, 0, 1);
    for (int i = 0; way.count > 4 && i < TRIES && !is_planned; i++) {
        plant->hole_count = own_holes;
        is_planned = plan_once(plant, &picture, &way);
        if (is_planned && plant->kind == KIND_PLATED)
            is_planned = !joins_others(plant, &picture);
        if (is_planned && plant->kind == KIND_CUTOUT) {
            plant->changes.items[0].layer = 0;
            is_planned = is_within(plant);
        }
    }
    picture_free(&picture);
    free(way.items);
    if (!is_planned)
        free(plant->holes);
    return is_planned;
}

/* ---- the changed files ---- */

static const char *text_of(const struct source_file *file, struct arena *arena)
{
    return arena_strndup(arena, (const char *)file->bytes, file->size);
}

/* The last word of a drawing. */
static const char *end_of_drawing(const char *text)
{
    const char *end = NULL;
    for (const char *at = strstr(text, "M02"); at; at = strstr(at + 1, "M02"))
        end = at;
    if (!end)
        end = strstr(text, "M00");
    assert_non_null(end);
    return end;
}

static char *drawn_text(const struct plant *plant, const struct source_file *file,
                        const struct drawing *drawing, bool is_clear)
{
    struct arena *arena = plant->arena;
    const char *text = text_of(file, arena), *end = end_of_drawing(text);
    int32_t code = free_code(drawing);
    char *out =
        arena_printf(arena, "%.*s%%LP%c*%%\n", (int)(end - text), text, is_clear ? 'C' : 'D');
    for (size_t i = 0; i < plant->changes.count; i++)
        out = arena_printf(
            arena, "%s%%ADD%dC,%.9f*%%\nD%d*\nG01*\n%s\n%s\n", out, code + (int32_t)i,
            in_file_units(drawing, plant->changes.items[i].width_nm), code + (int32_t)i,
            point_text(drawing, plant->changes.items[i].from, "D02", arena),
            point_text(drawing, plant->changes.items[i].to, "D01", arena));
    return arena_printf(arena, "%s%s", out, end);
}

/* The pad as a flash: its names, where the file has any, and those of a terminal. */
static char *pad_text(const struct plant *plant, const struct source_file *file,
                      const struct drawing *drawing)
{
    struct arena *arena = plant->arena;
    const struct picture_changes *changes = &plant->changes;
    const struct object *object = &drawing->objects[changes->gone_object];
    struct pos_nm a = changes->items[0].to, b = changes->items[1].from;
    struct pos_nm centre =
        on_file_grid(drawing, (double)(a.x_nm + b.x_nm) / 2, (double)(a.y_nm + b.y_nm) / 2);
    double along = hypot((double)(b.x_nm - a.x_nm), (double)(b.y_nm - a.y_nm)) + 4e3;
    bool is_level = a.y_nm == b.y_nm;
    bool has_names = plant->package->board.net_count > 0;
    struct statement statement;
    assert_true(statement_find(file, object->at, &statement));
    int32_t code = free_code(drawing);
    return arena_printf(
        arena, "%.*s%s\n%s%%ADD%dR,%.6fX%.6f*%%\n%sD%d*\n%s\n%sD%d*\n%s\n%s%s", (int)statement.from,
        (const char *)file->bytes, point_text(drawing, a, "D01", arena),
        has_names ? "%TA.AperFunction,SMDPad,CuDef*%\n" : "", code,
        in_file_units(drawing, is_level ? along : plant->neck_nm),
        in_file_units(drawing, is_level ? plant->neck_nm : along),
        has_names ? "%TD.AperFunction*%\n%TO.P,PLANT1,1*%\n" : "", code,
        point_text(drawing, centre, "D03", arena), has_names ? "%TD.P*%\n" : "",
        drawing->apertures[object->aperture].code, point_text(drawing, b, "D02", arena),
        point_text(drawing, object->to, "D01", arena), statement_rest(file, statement, arena));
}

static char *profile_text(const struct plant *plant, const struct source_file *file,
                          const struct drawing *drawing)
{
    struct arena *arena = plant->arena;
    const char *text = text_of(file, arena), *end = end_of_drawing(text);
    const struct picture_change *change = &plant->changes.items[0];
    double dx = (double)(change->to.x_nm - change->from.x_nm);
    double dy = (double)(change->to.y_nm - change->from.y_nm);
    double half = change->width_nm / 2 / hypot(dx, dy);
    const double corner[4][2] = {
        {(double)change->from.x_nm - dy * half, (double)change->from.y_nm + dx * half},
        {(double)change->from.x_nm + dy * half, (double)change->from.y_nm - dx * half},
        {(double)change->to.x_nm + dy * half, (double)change->to.y_nm - dx * half},
        {(double)change->to.x_nm - dy * half, (double)change->to.y_nm + dx * half}};
    int32_t code = free_code(drawing);
    char *out = arena_printf(arena, "%.*s%%LPD*%%\n%%ADD%dC,%.6f*%%\nD%d*\nG01*\n",
                             (int)(end - text), text, code, in_file_units(drawing, 100e3), code);
    for (size_t i = 0; i <= 4; i++)
        out = arena_printf(arena, "%s%s\n", out,
                           point_text(drawing,
                                      on_file_grid(drawing, corner[i % 4][0], corner[i % 4][1]),
                                      i ? "D01" : "D02", arena));
    return arena_printf(arena, "%s%s", out, end);
}

static const char *drill_text(const struct plant *plant, bool is_plated, size_t first)
{
    struct arena *arena = plant->arena;
    const struct board *board = &plant->package->board;
    char *head = arena_printf(arena, "M48\nMETRIC\n"),
         *body = arena_printf(arena, "%%\nG05\nG90\n");
    size_t count = 0;
    for (size_t h = first; h < plant->hole_count; h++) {
        const struct picture_hole *hole = &plant->holes[h];
        const struct board_hole *own =
            hole->board_hole == ISTHMUS_NONE ? NULL : &board->holes[hole->board_hole];
        if ((own ? own->is_plated : hole->wall_mm2 > 0) != is_plated || hole->cut_nm <= 0)
            continue;
        double diameter =
            own ? (double)own->hole.diameter_nm : hole->cut_nm - (is_plated ? 40e3 : 0);
        count++;
        head = arena_printf(arena, "%sT%zuC%.4f\n", head, count, diameter * 1e-6);
        body = arena_printf(arena, "%sT%zu\nX%.6fY%.6f", body, count,
                            (double)hole->from.x_nm * 1e-6, (double)hole->from.y_nm * 1e-6);
        if (hole->from.x_nm != hole->to.x_nm || hole->from.y_nm != hole->to.y_nm)
            body = arena_printf(arena, "%sG85X%.6fY%.6f", body, (double)hole->to.x_nm * 1e-6,
                                (double)hole->to.y_nm * 1e-6);
        body = arena_printf(arena, "%s\n", body);
    }
    return count ? arena_printf(arena, "%s%sM30\n", head, body) : NULL;
}

static void add_file(struct file_table *files, const char *name, const char *text)
{
    const char *keep = getenv("ISTHMUS_SEED_KEEP");
    if (!text)
        return;
    assert_true(file_table_add(files, name, (const uint8_t *)text, strlen(text), true) > 0);
    if (!keep)
        return;
    char path[1000];
    const char *last = strrchr(name, '/');
    snprintf(path, sizeof path, "%s/%s", keep, last ? last + 1 : name);
    FILE *file = fopen(path, "wb");
    assert_non_null(file);
    fwrite(text, 1, strlen(text), file);
    fclose(file);
}

static const char *changed_text(const struct plant *plant, size_t role)
{
    const struct board *board = &plant->package->board;
    const struct file_role *at = &board->roles[role];
    const struct source_file *file = &plant->package->files.files[at->file_id - 1];
    bool is_drawn = plant->kind == KIND_GAP || plant->kind == KIND_SPOKE;
    bool is_drill = at->role == ROLE_DRILL_PLATED || at->role == ROLE_DRILL_NONPLATED ||
                    at->role == ROLE_DRILL_MIXED;
    if (is_drawn && at->role == ROLE_COPPER && at->position == plant->layer)
        return drawn_text(plant, file, &board->drawings[role], !at->is_negative);
    if (plant->kind == KIND_PAD && at->role == ROLE_COPPER && at->position == plant->layer)
        return pad_text(plant, file, &board->drawings[role]);
    if (plant->kind == KIND_CUTOUT && at->role == ROLE_PROFILE &&
        board->drawings[role].object_count)
        return profile_text(plant, file, &board->drawings[role]);
    if (plant->kind == KIND_VIAS && is_drill)
        return NULL;
    return text_of(file, plant->arena);
}

static void change_files(const struct plant *plant, struct file_table *out)
{
    const struct board *board = &plant->package->board;
    for (size_t f = 0; f < plant->package->files.count; f++) {
        const struct source_file *file = &plant->package->files.files[f];
        const char *text = NULL;
        bool has_role = false;
        for (size_t r = 0; r < board->role_count; r++)
            if (board->roles[r].file_id == f + 1) {
                text = changed_text(plant, r);
                has_role = true;
            }
        if (has_role && text)
            add_file(out, file->name, text);
    }
    size_t first = plant->kind == KIND_VIAS ? 0 : board->hole_count;
    if (plant->kind != KIND_VIAS && plant->kind != KIND_HOLES && plant->kind != KIND_PLATED)
        return;
    add_file(out, "planted-PTH.drl", drill_text(plant, true, first));
    add_file(out, "planted-NPTH.drl", drill_text(plant, false, first));
}

static double current_for_mm2(double area_mm2)
{
    return 0.048 * pow(10, 0.44) * pow(area_mm2 / (0.0254 * 0.0254), 0.725);
}

static const char *word_of_layer(const struct board *board, const struct contact *contact)
{
    return contact->hole != ISTHMUS_NONE               ? ""
           : contact->layer_from == 1                  ? "top"
           : contact->layer_from == board->layer_count ? "bottom"
                                                       : "";
}

static bool is_chosen(const struct plant *plant, uint32_t terminal)
{
    for (size_t i = 0; i < plant->terminal_count; i++)
        if (plant->terminals[i] == terminal)
            return true;
    return false;
}

static const char *table_of(const struct plant *plant)
{
    const struct board *board = &plant->package->board;
    struct arena *arena = plant->arena;
    double current_a = current_for_mm2(plant->need_mm2);
    double pad_a = plant->conductor % 2 ? current_a : 0; /* it may carry it, or nothing */
    char *text = arena_printf(arena, "net,pin,current_a,x_mm,y_mm,layer\n");
    if (board->net_count) {
        const char *name = board->nets[board->conductors[plant->conductor].net].name;
        text =
            arena_printf(arena, "%s\"%s\",,%.9f,,,\n\"%s\",*,0,,,\n", text, name, current_a, name);
        for (size_t i = 0; i < plant->terminal_count; i++)
            text = arena_printf(arena, "%s\"%s\",%s,%.9f,,,\n", text, name,
                                board->terminals[plant->terminals[i]].name, current_a);
        if (plant->kind == KIND_PAD)
            text = arena_printf(arena, "%s\"%s\",PLANT1.1,%.9f,,,\n", text, name, pad_a);
        return text;
    }
    text = arena_printf(arena, "%sJUDGED,,%.9f,,,\n", text, current_a);
    struct pos_nm a = plant->changes.items[0].to, b = plant->changes.items[1].from;
    if (plant->kind == KIND_PAD)
        text =
            arena_printf(arena, "%sJUDGED,,%.9f,%.6f,%.6f,%s\n", text, pad_a,
                         (double)(a.x_nm + b.x_nm) / 2 * 1e-6, (double)(a.y_nm + b.y_nm) / 2 * 1e-6,
                         plant->layer == 1 ? "top" : "bottom");
    for (size_t c = 0; c < board->contact_count; c++) {
        const struct contact *contact = &board->contacts[c];
        if (contact->conductor == plant->conductor)
            text = arena_printf(arena, "%sJUDGED,,%.9f,%.6f,%.6f,%s\n", text,
                                is_chosen(plant, contact->terminal) ? current_a : 0,
                                (double)contact->place.x_nm * 1e-6,
                                (double)contact->place.y_nm * 1e-6, word_of_layer(board, contact));
    }
    return text;
}

struct judged {
    struct arena *arena;
    struct file_table files;
    struct diag_list diags;
    struct current_table table;
    struct board board;
    struct check_result result;
};

static void judge(const struct plant *plant, struct judged *out)
{
    *out = (struct judged){.arena = arena_new("judged")};
    out->diags.arena = out->arena;
    change_files(plant, &out->files);
    const char *text = table_of(plant);
    const uint8_t *bytes = (const uint8_t *)text;
    uint32_t id = file_table_add(&out->files, "table.csv", bytes, strlen(text), false);
    if (getenv("ISTHMUS_SEED_KEEP")) {
        struct file_table unused = {0};
        add_file(&unused, "table.csv", text);
        file_table_free(&unused);
    }
    assert_int_equal(currents_read(id, bytes, strlen(text), out->arena, &out->diags, &out->table),
                     CURRENTS_OK);
    read_board(&out->files, &out->table, out->arena, &out->diags, &out->board);
    const struct rule_context context = {.board = &out->board,
                                         .table = &out->table,
                                         .margin_limit = 1,
                                         .arena = out->arena,
                                         .diags = &out->diags};
    assert_int_equal(copper_width_run(&context, &out->result), RULE_OK);
}

static void judged_free(struct judged *judged)
{
    board_free(&judged->board);
    file_table_free(&judged->files);
    arena_free(judged->arena);
}

/* ---- the picture's answer ---- */

static bool draw_changed(const struct plant *plant, double cell_nm, struct picture *out)
{
    struct pos_nm min, max;
    extent_of(plant, &min, &max);
    bool is_hole = plant->kind == KIND_HOLES || plant->kind == KIND_PLATED;
    const struct picture_changes none = {0};
    picture_draw(out, &plant->package->board, min, max, cell_nm, is_hole ? &none : &plant->changes,
                 plant->holes, plant->hole_count);
    if (mark_terminals(plant, out))
        return true;
    picture_free(out);
    return false;
}

static double cell_for(const struct plant *plant, double limit_mm2)
{
    struct pos_nm min, max;
    extent_of(plant, &min, &max);
    double area = (double)(max.x_nm - min.x_nm) * (double)(max.y_nm - min.y_nm);
    double cell = limit_mm2 / 0.035 * 1e6 / CELLS_A_NEED;
    cell = fmin(fmax(cell, LEAST_CELL_NM), MOST_CELL_NM);
    return fmax(cell, sqrt(area / (is_sample() ? SAMPLE_CELLS : MOST_CELLS)));
}

/* Least of the cuts between the first terminal and each other; NAN: too many nodes. */
static double least_of(const struct plant *plant, const struct picture *picture, double limit_mm2)
{
    struct picture_graph *graph =
        picture_graph_new(picture, 0, limit_mm2, is_sample() ? SAMPLE_NODES : MOST_NODES);
    double least = INFINITY;
    if (!graph)
        return NAN;
    for (uint8_t i = 1; i < plant->terminal_count; i++)
        least = fmin(least, picture_least_cut(graph, 0, i, least));
    picture_graph_free(graph);
    return least;
}

/* A finer picture, for what a first one does not settle. */
static bool draw_finer(const struct plant *plant, struct picture *picture, double *least_mm2)
{
    struct picture finer;
    double cell_nm = cell_for(plant, fmin(*least_mm2, plant->need_mm2) * 0.6);
    if (!(*least_mm2 > 0) || cell_nm > 0.8 * picture->cell_nm ||
        !draw_changed(plant, cell_nm, &finer))
        return false;
    double finest = least_of(plant, &finer, 1.3 * fmin(*least_mm2, plant->need_mm2));
    if (isnan(finest)) {
        picture_free(&finer);
        return false;
    }
    picture_free(picture);
    *picture = finer;
    *least_mm2 = finest;
    return true;
}

static void sever_piece(const struct plant *plant, struct picture *picture,
                        const struct finding_piece *piece)
{
    double wide = 2.4 * picture->cell_nm;
    if (piece->kind == PIECE_CHORD || piece->kind == PIECE_CONTACT_OUTLINE) {
        picture_sever(picture, piece->layer, piece->from, piece->to, wide);
        return;
    }
    for (size_t h = 0; h < plant->hole_count; h++)
        if (from_way(piece->middle, plant->holes[h].from, plant->holes[h].to) <
                plant->holes[h].cut_nm / 2 + wide &&
            plant->holes[h].wall_mm2 > 0)
            picture_sever(picture, piece->kind == PIECE_RIM ? piece->layer : 0,
                          plant->holes[h].from, plant->holes[h].to, plant->holes[h].cut_nm + wide);
}

/* Do the pieces of a cut part two of the terminals? */
static bool does_part(const struct plant *plant, const struct finding_place *place, double cell_nm)
{
    struct picture picture;
    bool does = false;
    if (!draw_changed(plant, cell_nm, &picture))
        return true;
    for (size_t p = 0; p < place->piece_count; p++)
        sever_piece(plant, &picture, &place->pieces[p]);
    for (uint8_t i = 0; i < plant->terminal_count && !does; i++) {
        uint8_t *seen[PICTURE_LAYERS] = {0}, *holes = calloc(picture.hole_count + 1, 1);
        bool reached[MOST_TERMINALS] = {false};
        size_t cells = (size_t)picture.width * (size_t)picture.height;
        assert_non_null(holes);
        for (size_t l = 0; l < picture.layer_count; l++) {
            seen[l] = calloc(cells, 1);
            assert_non_null(seen[l]);
        }
        picture_flood(&picture, i, seen, holes);
        for (size_t l = 0; l < picture.layer_count; l++) {
            for (size_t c = 0; c < cells; c++)
                if (seen[l][c] && picture.mark[l][c])
                    reached[picture.mark[l][c] - 1] = true;
            free(seen[l]);
        }
        free(holes);
        for (uint8_t j = 0; j < plant->terminal_count; j++)
            does |= !reached[j];
    }
    picture_free(&picture);
    return does;
}

/* ---- findings against answers ---- */

struct tally {
    size_t seed_count, neck_count, none_count, open_count, apart_count, unjudged_count, wrong_count;
};

static double ends_mm(const struct picture *picture, const struct finding_place *place)
{
    double ends = 0;
    for (size_t p = 0; p < place->piece_count; p++)
        ends += place->pieces[p].kind == PIECE_WALL
                    ? 0
                    : picture->mm2_per_mm[place->pieces[p].layer - 1];
    return ends;
}

/* Of the cuts that are nearly as small as the worst, any may be the picture's least. */
static double tolerance_mm2(const struct plant *plant, const struct picture *picture,
                            const struct check_result *result, const struct finding_place *worst,
                            double area_mm2)
{
    double ends = worst ? picture->mm2_per_mm[0] : 2 * picture->mm2_per_mm[plant->layer - 1];
    for (size_t f = 0; f < result->finding_count; f++)
        for (size_t p = 0; p < result->findings[f].place_count; p++)
            if (result->findings[f].places[p].area_mm2 < 1.4 * worst->area_mm2)
                ends = fmax(ends, ends_mm(picture, &result->findings[f].places[p]));
    return ENDS_CELLS * ends * picture->cell_nm * 1e-6 + 0.01 * area_mm2;
}

static const char *compare(const struct plant *plant, const struct picture *picture,
                           const struct judged *judged, double least_mm2, struct tally *tally)
{
    const struct check_result *result = &judged->result;
    const struct net_verdict *verdict = &result->verdicts[0];
    const struct finding_place *worst = NULL;
    if (result->verdict_count != 1)
        return "not one verdict";
    for (size_t f = 0; f < result->finding_count; f++) {
        if (result->findings[f].kind != FINDING_NARROW)
            return "a finding of another kind";
        for (size_t p = 0; p < result->findings[f].place_count; p++) {
            const struct finding_place *place = &result->findings[f].places[p];
            if (!worst || place->area_mm2 < worst->area_mm2)
                worst = place;
            if (fabs(place->required_mm2 - plant->need_mm2) > 1e-4 * plant->need_mm2)
                return "another cross-section is required";
        }
    }
    double error = tolerance_mm2(plant, picture, result, worst,
                                 isfinite(least_mm2) ? least_mm2 : plant->need_mm2);
    if (least_mm2 == 0) { /* no copper between them at all */
        tally->apart_count++;
        return verdict->verdict == VERDICT_PASS || verdict->verdict == VERDICT_PASS_BY_SUM
                   ? "what does not hang together passes"
                   : NULL;
    }
    if (verdict->verdict == VERDICT_NOT_JUDGED) {
        tally->unjudged_count++;
        return NULL;
    }
    if (least_mm2 < plant->need_mm2 - error) {
        tally->neck_count++;
        if (!worst)
            return "the neck is missed";
    } else if (least_mm2 > plant->need_mm2 + error) {
        tally->none_count++;
        if (worst)
            return "a neck is found that is none";
    } else
        tally->open_count++;
    if (worst && worst->area_mm2 > least_mm2 + error)
        return "more width is found than there is";
    if (worst && worst->area_mm2 < least_mm2 - error)
        return "less width is found than there is";
    for (size_t f = 0; f < result->finding_count; f++)
        for (size_t p = 0; p < result->findings[f].place_count; p++)
            if (!does_part(plant, &result->findings[f].places[p], picture->cell_nm))
                return "a finding's pieces part nothing";
    return NULL;
}

static void print_plant(const struct plant *plant, const struct judged *judged, uint64_t seed,
                        const char *what, double least_mm2, double cell_nm)
{
    static const char *const verdicts[] = {"pass", "pass by sum", "narrow", "unassigned",
                                           "not judged"};
    const struct check_result *result = &judged->result;
    print_error("seed %llu, %s, %s: %s\n  layer %u, about %.3f mm are left, %.5f mm2 needed (%.4f "
                "mm), the picture has %.5f mm2 (%.4f mm), cell %.4f\n",
                (unsigned long long)seed, plant->package->folder, kind_names[plant->kind], what,
                plant->layer, plant->neck_nm * 1e-6, plant->need_mm2, plant->need_mm2 / 0.035,
                least_mm2, least_mm2 / 0.035, cell_nm * 1e-6);
    for (size_t i = 0; i < plant->changes.count; i++)
        print_error("  change (%.4f, %.4f) to (%.4f, %.4f), %.4f wide\n",
                    (double)plant->changes.items[i].from.x_nm * 1e-6,
                    (double)plant->changes.items[i].from.y_nm * 1e-6,
                    (double)plant->changes.items[i].to.x_nm * 1e-6,
                    (double)plant->changes.items[i].to.y_nm * 1e-6,
                    plant->changes.items[i].width_nm * 1e-6);
    for (size_t i = 0; i < plant->terminal_count; i++)
        print_error("  terminal %s\n", plant->package->board.terminals[plant->terminals[i]].name);
    for (size_t v = 0; v < result->verdict_count; v++)
        print_error("  %s %s\n", verdicts[result->verdicts[v].verdict],
                    result->verdicts[v].reason ? result->verdicts[v].reason : "");
    for (size_t f = 0; f < result->finding_count; f++)
        for (size_t p = 0; p < result->findings[f].place_count; p++) {
            const struct finding_place *place = &result->findings[f].places[p];
            print_error("  finding %zu, %zu pieces, %.5f mm2, layer %u, (%.4f, %.4f)\n", f,
                        place->piece_count, place->area_mm2, place->layer,
                        (double)place->middle.x_nm * 1e-6, (double)place->middle.y_nm * 1e-6);
            for (size_t i = 0; i < place->piece_count && i < 8; i++)
                print_error("    kind %d layer %u (%.4f, %.4f) to (%.4f, %.4f)\n",
                            (int)place->pieces[i].kind, place->pieces[i].layer,
                            (double)place->pieces[i].from.x_nm * 1e-6,
                            (double)place->pieces[i].from.y_nm * 1e-6,
                            (double)place->pieces[i].to.x_nm * 1e-6,
                            (double)place->pieces[i].to.y_nm * 1e-6);
        }
}

static void try_seed(const struct package *package, uint64_t seed, enum kind kind,
                     struct tally *tally)
{
    struct plant plant = {.package = package,
                          .arena = arena_new("plant"),
                          .kind = kind,
                          .random = seed * 0x2545F4914F6CDD1Du};
    bool is_planned = false;
    for (int i = 0; i < PLANS && !is_planned; i++)
        is_planned = plan(&plant);
    if (!is_planned) {
        arena_free(plant.arena);
        return;
    }
    bool is_inner = plant.layer > 1 && plant.layer < package->board.layer_count;
    double worth = is_inner ? 0.0114 * 0.3844 : 0.035;
    double ratio = next_random(&plant.random) % 10 < 7 ? between(&plant.random, 0.3, 0.85)
                                                       : between(&plant.random, 1.15, 1.8);
    plant.need_mm2 = fmin(fmax(plant.neck_nm * 1e-6 / ratio * worth, 0.11 * 0.035), 6 * 0.035);
    struct picture picture;
    if (draw_changed(&plant, cell_for(&plant, plant.need_mm2), &picture)) {
        double least = least_of(&plant, &picture, 1.3 * plant.need_mm2);
        struct judged judged;
        judge(&plant, &judged);
        tally->seed_count++;
        const char *wrong = NULL;
        struct tally before = *tally;
        size_t unjudged = tally->unjudged_count;
        if (isnan(least))
            tally->open_count++;
        else
            wrong = compare(&plant, &picture, &judged, least, tally);
        if ((wrong || tally->open_count > before.open_count) &&
            draw_finer(&plant, &picture, &least)) {
            *tally = before;
            wrong = compare(&plant, &picture, &judged, least, tally);
        }
        tally->wrong_count += wrong != NULL;
        if (wrong || unjudged != tally->unjudged_count || getenv("ISTHMUS_SEED_SHOW"))
            print_plant(&plant, &judged, seed, wrong ? wrong : "shown", least, picture.cell_nm);
        judged_free(&judged);
        picture_free(&picture);
    }
    free(plant.holes);
    arena_free(plant.arena);
}

static double seconds(void)
{
    return (double)clock() / CLOCKS_PER_SEC;
}

static uint64_t number_from(const char *variable, uint64_t otherwise)
{
    const char *text = getenv(variable);
    return text ? strtoull(text, NULL, 10) : otherwise;
}

static void planted_faults_are_found_where_they_are_necks(void **state)
{
    (void)state;
    if (!boards_folder())
        skip();
    uint64_t first = number_from("ISTHMUS_SEED_FIRST", 3);
    uint64_t count = number_from("ISTHMUS_SEEDS", SAMPLE_SEEDS);
    const char *only = getenv("ISTHMUS_SEED_BOARD"), *only_kind = getenv("ISTHMUS_SEED_KIND");
    struct tally kinds[KIND_COUNT] = {{0}}, all = {0};
    for (size_t p = 0; p < (is_sample() ? SAMPLE_FOLDERS : FOLDER_COUNT); p++) {
        if (only && strcmp(only, folders[p]) != 0)
            continue;
        struct package *package = open_package(folders[p]);
        for (uint64_t seed = first; seed < first + count; seed++)
            for (size_t k = 0; k < KIND_COUNT; k++)
                if ((only || is_sample() || (seed + k) % FOLDER_COUNT == p) &&
                    (!is_sample() || k != KIND_PLATED) && /* finds no place soon */
                    (!only_kind || strcmp(only_kind, kind_names[k]) == 0))
                    try_seed(package, seed, (enum kind)k, &kinds[k]);
        close_package(package);
        print_message("%s: %.1f s of processor time in all\n", folders[p], seconds());
    }
    for (size_t k = 0; k < KIND_COUNT; k++) {
        const struct tally *tally = &kinds[k];
        print_message("%s: %zu seeds, %zu necks, %zu no necks, %zu open, %zu apart, %zu not "
                      "judged, %zu wrong\n",
                      kind_names[k], tally->seed_count, tally->neck_count, tally->none_count,
                      tally->open_count, tally->apart_count, tally->unjudged_count,
                      tally->wrong_count);
        all.neck_count += tally->neck_count;
        all.wrong_count += tally->wrong_count;
    }
    assert_int_equal(all.wrong_count, 0);
    assert_true(only_kind || all.neck_count > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(planted_faults_are_found_where_they_are_necks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
