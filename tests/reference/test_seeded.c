/*
 * Seeded faults in real packages: a stroke is cut in two, with a piece between that has a quarter
 * of the width its net needs. Whether that makes a neck is decided by flood fills over a picture of
 * the copper (raster.h), which shares nothing with the meshes:
 *
 *   neck     without the thin piece, even copper that is grown by a cell leaves terminals of the
 *            net on both sides: the finding must be there, with the width of the piece and with
 *            just these terminals on either side
 *   no neck  one side holds no terminal (a dead end), or a disc as wide as the net needs can be
 *            pushed through the copper from one side of the piece to the other: every cut through
 *            the piece crosses the way of the disc and is longer than its diameter
 *   else     the floods do not settle it (a narrow way round): only that nothing breaks is checked
 *
 * Findings elsewhere must be those of the unchanged package. Every terminal of the net carries the
 * same current, so every cut needs the same width.
 *
 * ISTHMUS_SEEDS=N tries N seeds instead of the short sample; ISTHMUS_SEED_FIRST=K starts at K.
 */
#include "assertions.h"
#include "edit.h"
#include "isthmus/rule.h"
#include "random.h"
#include "raster.h"

#include <math.h>

#define COARSE_NM 30e3       /* cells of the flood that decides what hangs together */
#define FINE_REACH_CELLS 700 /* the disc is pushed within so many cells of the piece */
#define WIDTH_TOLERANCE_MM 5e-6

static const char *const folders[] = {"robot-power",   "atx-breakout", "dc-load",
                                      "boost-charger", "hotplate",     "foc-shield",
                                      "hydro-charger"};
enum { FOLDER_COUNT = sizeof folders / sizeof *folders, SAMPLE_SEEDS = 14 };

/* ---- packages ---- */

struct candidate { /* a stroke that can be cut */
    uint16_t layer;
    uint32_t object, conductor;
};
struct judged;
struct baseline { /* what the unchanged package gives for this conductor's net */
    bool is_known;
    double needed_mm, current_a;
    char *table;
    const struct check_result *result;
    struct judged *judged;
};
struct package {
    struct arena *arena;
    struct file_table files;
    struct diag_list diags;
    struct board board;
    struct candidate *candidates;
    size_t candidate_count, candidate_capacity;
    struct baseline *baselines; /* per conductor */
};

static double stroke_width_nm(const struct drawing *drawing, const struct object *object)
{
    return (double)drawing->apertures[object->aperture].width_nm;
}

static double gap_nm(double width_nm)
{
    return fmax(200e3, width_nm / 2); /* what is seen of the thin piece between the round ends */
}

static bool is_cuttable(const struct package *package, const struct copper_layer *layer,
                        uint32_t index)
{
    const struct drawing *drawing = layer->drawing;
    const struct object *object = &drawing->objects[index];
    if (object->kind != OBJECT_STROKE || !object->is_dark || object->fill_count == 0 ||
        drawing->is_image_negative)
        return false;
    const struct aperture *aperture = &drawing->apertures[object->aperture];
    if (aperture->kind != APERTURE_CIRCLE || aperture->hole_nm || aperture->width_nm < 100000)
        return false;
    double width = stroke_width_nm(drawing, object);
    struct statement statement;
    const struct source_file *file = &package->files.files[layer->file_id - 1];
    return stroke_length_nm(object) > width + gap_nm(width) + 2000 &&
           statement_find(file, object->at, &statement) && statement_is_plain_draw(file, statement);
}

static uint32_t conductor_at(const struct package *package, const struct copper_layer *layer,
                             const struct locator *locator, struct pos_nm at)
{
    const struct pt centred = {(int32_t)(at.x_nm - package->board.origin.x_nm),
                               (int32_t)(at.y_nm - package->board.origin.y_nm)};
    uint32_t triangle = locator_find(locator, centred);
    uint32_t component = triangle == ISTHMUS_NONE ? ISTHMUS_NONE : layer->mesh.component[triangle];
    return component == ISTHMUS_NONE ? ISTHMUS_NONE : layer->conductor_of_component[component];
}

static bool is_judgeable(const struct board *board, uint32_t conductor)
{
    if (conductor == ISTHMUS_NONE)
        return false;
    uint32_t net = board->conductors[conductor].net;
    if (board->net_count && (net == ISTHMUS_NONE || board->nets[net].state != NET_OK ||
                             board->nets[net].conductor_count != 1))
        return false;
    size_t count = 0;
    for (size_t t = 0; t < board->terminal_count; t++)
        count += board->terminals[t].conductor == conductor;
    return count >= 2;
}

static void find_candidates(struct package *package)
{
    for (size_t l = 0; l < package->board.layer_count; l++) {
        const struct copper_layer *layer = &package->board.layers[l];
        struct locator *locator = locator_new(&layer->mesh.cdt);
        assert_non_null(locator);
        for (uint32_t o = 0; o < layer->drawing->object_count; o++) {
            if (!is_cuttable(package, layer, o))
                continue;
            uint32_t conductor =
                conductor_at(package, layer, locator, layer->drawing->objects[o].from);
            if (!is_judgeable(&package->board, conductor))
                continue;
            assert_true(array_grow(&package->candidates, sizeof *package->candidates,
                                   &package->candidate_capacity, package->candidate_count + 1));
            package->candidates[package->candidate_count++] =
                (struct candidate){layer->position, o, conductor};
        }
        locator_free(locator);
    }
    assert_true(package->candidate_count > 0);
}

static void read_board(struct file_table *files, const struct current_table *table,
                       struct arena *arena, struct diag_list *diags, struct board *out)
{
    struct board_facts facts;
    board_facts_default(&facts);
    board_of_files(files, &facts, table, arena, diags, out);
}

static struct package *open_package(const char *folder)
{
    char path[1000];
    snprintf(path, sizeof path, "%s/%s", boards_folder(), folder);
    const char *paths[1] = {path};
    struct package *package = calloc(1, sizeof *package);
    assert_non_null(package);
    package->arena = arena_new("package");
    package->diags.arena = package->arena;
    assert_int_equal(package_read(paths, 1, &package_default_limits, package->arena,
                                  &package->files, &package->diags),
                     PACKAGE_OK);
    read_board(&package->files, NULL, package->arena, &package->diags, &package->board);
    package->baselines = calloc(package->board.conductor_count, sizeof *package->baselines);
    assert_non_null(package->baselines);
    find_candidates(package);
    return package;
}

/* ---- the table ---- */

/* IPC-2221 section 6.2: I = 0.048 dT^0.44 A^0.725, A in square mils, on 35 um and 10 K. */
static double current_for_width_a(double width_mm)
{
    return 0.048 * pow(10, 0.44) * pow(width_mm * 0.035 / (0.0254 * 0.0254), 0.725);
}

static double needed_mm_of(const struct package *package, uint32_t conductor)
{
    double narrowest = INFINITY;
    for (size_t i = 0; i < package->candidate_count; i++) {
        const struct candidate *candidate = &package->candidates[i];
        const struct drawing *drawing = package->board.layers[candidate->layer - 1].drawing;
        if (candidate->conductor == conductor)
            narrowest =
                fmin(narrowest, stroke_width_nm(drawing, &drawing->objects[candidate->object]));
    }
    return 0.8e-6 * narrowest;
}

static const char *word_of_layer(const struct board *board, const struct contact *contact)
{
    return contact->layer_from == 1                    ? "top"
           : contact->layer_from == board->layer_count ? "bottom"
                                                       : "";
}

/* Boards with names: every pin of the net. Others: every contact gets a position row. */
static char *table_of(const struct package *package, uint32_t conductor, double current_a)
{
    const struct board *board = &package->board;
    struct arena *arena = package->arena;
    char *text = arena_printf(arena, "net,pin,current_a,x_mm,y_mm,layer\n");
    if (board->net_count) {
        const char *name = board->nets[board->conductors[conductor].net].name;
        return arena_printf(arena, "%s\"%s\",,%.9f,,,\n\"%s\",*,%.9f,,,\n", text, name, current_a,
                            name, current_a);
    }
    text = arena_printf(arena, "%sJUDGED,,%.9f,,,\n", text, current_a);
    for (size_t c = 0; c < board->contact_count; c++) {
        const struct contact *contact = &board->contacts[c];
        if (contact->conductor == conductor)
            text = arena_printf(arena, "%sJUDGED,,%.9f,%.6f,%.6f,%s\n", text, current_a,
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

/* Judges a package, of which one file may be replaced (file_id 0: none). */
static void judge(const struct package *package, uint32_t file_id, const char *text,
                  const char *table, struct judged *out)
{
    *out = (struct judged){.arena = arena_new("judged")};
    out->diags.arena = out->arena;
    files_with(&package->files, file_id, text, &out->files);
    const uint8_t *bytes = (const uint8_t *)table;
    uint32_t id = file_table_add(&out->files, "table.csv", bytes, strlen(table), false);
    assert_int_equal(currents_read(id, bytes, strlen(table), out->arena, &out->diags, &out->table),
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

static void close_package(struct package *package)
{
    for (size_t c = 0; c < package->board.conductor_count; c++)
        if (package->baselines[c].judged) {
            judged_free(package->baselines[c].judged);
            free(package->baselines[c].judged);
        }
    board_free(&package->board);
    file_table_free(&package->files);
    arena_free(package->arena);
    free(package->candidates);
    free(package->baselines);
    free(package);
}

/* ---- the cut ---- */

struct wound {
    const struct candidate *candidate;
    const struct copper_layer *layer;
    const struct object *object;
    struct pos_nm a, b; /* the thin piece runs between */
    double stroke_nm, thin_nm, needed_mm;
};

static struct pos_nm on_stroke(const struct wound *wound, double part)
{
    const struct object *object = wound->object;
    double x = (double)object->from.x_nm + part * (double)(object->to.x_nm - object->from.x_nm);
    double y = (double)object->from.y_nm + part * (double)(object->to.y_nm - object->from.y_nm);
    return on_file_grid(wound->layer->drawing, x, y);
}

static struct wound choose_wound(const struct package *package, double needed_mm,
                                 const struct candidate *candidate, uint64_t *random)
{
    const struct copper_layer *layer = &package->board.layers[candidate->layer - 1];
    struct wound wound = {.candidate = candidate,
                          .layer = layer,
                          .object = &layer->drawing->objects[candidate->object],
                          .needed_mm = needed_mm,
                          .thin_nm = round(needed_mm * 1e6 / 4)};
    wound.stroke_nm = stroke_width_nm(layer->drawing, wound.object);
    double length = stroke_length_nm(wound.object);
    double thin = wound.stroke_nm + gap_nm(wound.stroke_nm);
    double start = random_part(random) * (length - thin);
    wound.a = on_stroke(&wound, start / length);
    wound.b = on_stroke(&wound, (start + thin) / length);
    return wound;
}

/* The drawing's text with the stroke in three parts. */
static char *wounded_text(const struct package *package, const struct wound *wound,
                          struct arena *arena)
{
    const struct source_file *file = &package->files.files[wound->layer->file_id - 1];
    const struct drawing *drawing = wound->layer->drawing;
    struct statement statement;
    assert_true(statement_find(file, wound->object->at, &statement));
    int32_t code = free_code(drawing);
    return arena_printf(
        arena, "%.*s%s\n%%ADD%dC,%.9f*%%\nD%d*\n%s\nD%d*\n%s%s", (int)statement.from,
        (const char *)file->bytes, point_text(drawing, wound->a, "D01", arena), code,
        in_file_units(drawing, wound->thin_nm), code, point_text(drawing, wound->b, "D01", arena),
        drawing->apertures[wound->object->aperture].code,
        point_text(drawing, wound->object->to, "D01", arena),
        statement_rest(file, statement, arena));
}

/* ---- the judgement of the floods ---- */

/* The layer's copper without the thin piece, holes taken out. */
static void paint_layer(const struct package *package, const struct wound *wound, uint16_t position,
                        struct raster *raster)
{
    const struct drawing *drawing = package->board.layers[position - 1].drawing;
    for (size_t o = 0; o < drawing->object_count; o++) {
        const struct object *object = &drawing->objects[o];
        if (object != wound->object) {
            raster_object(raster, drawing, object);
            continue;
        }
        raster_capsule(raster, object->from, wound->a, wound->stroke_nm, 1);
        raster_capsule(raster, wound->b, object->to, wound->stroke_nm, 1);
    }
    for (size_t h = 0; h < package->board.hole_count; h++) {
        const struct hole *hole = &package->board.holes[h].hole;
        raster_capsule(raster, hole->from, hole->to, (double)hole->diameter_nm, 0);
    }
}

struct flood {
    struct raster *layers; /* copper: 1; a plated hole: 2 */
    size_t layer_count;
    long *stack;
    size_t stack_count, stack_capacity;
};

static void flood_push(struct flood *flood, size_t layer, long cell, uint8_t mark)
{
    uint8_t *at = &flood->layers[layer].cells[cell];
    if (!(*at & 3) || *at & mark)
        return;
    *at = (uint8_t)(*at | mark);
    assert_true(array_grow(&flood->stack, sizeof *flood->stack, &flood->stack_capacity,
                           flood->stack_count + 1));
    flood->stack[flood->stack_count++] = cell * (long)flood->layer_count + (long)layer;
}

/* Marks (with a bit above 2) all copper that hangs together with a cell. */
static void flood_from(struct flood *flood, size_t layer, long cell, uint8_t mark)
{
    flood_push(flood, layer, cell, mark);
    while (flood->stack_count) {
        long item = flood->stack[--flood->stack_count];
        size_t l = (size_t)(item % (long)flood->layer_count);
        long at = item / (long)flood->layer_count;
        const struct raster *raster = &flood->layers[l];
        long x = at % raster->width, y = at / raster->width;
        if (x > 0)
            flood_push(flood, l, at - 1, mark);
        if (x + 1 < raster->width)
            flood_push(flood, l, at + 1, mark);
        if (y > 0)
            flood_push(flood, l, at - raster->width, mark);
        if (y + 1 < raster->height)
            flood_push(flood, l, at + raster->width, mark);
        for (size_t other = 0; raster->cells[at] & 2 && other < flood->layer_count; other++)
            flood_push(flood, other, at, mark);
    }
}

/* Can a disc as wide as the net needs be pushed from one side of the thin piece to the other? */
static bool has_wide_way(const struct package *package, const struct wound *wound)
{
    double cell = wound->needed_mm * 1e6 / 16, reach = FINE_REACH_CELLS * cell;
    struct pos_nm min = {llround(fmin((double)wound->a.x_nm, (double)wound->b.x_nm) - reach),
                         llround(fmin((double)wound->a.y_nm, (double)wound->b.y_nm) - reach)};
    struct pos_nm max = {llround(fmax((double)wound->a.x_nm, (double)wound->b.x_nm) + reach),
                         llround(fmax((double)wound->a.y_nm, (double)wound->b.y_nm) + reach)};
    struct raster raster = raster_new(min, max, cell);
    paint_layer(package, wound, wound->candidate->layer, &raster);
    raster_shrink(&raster, wound->needed_mm * 1e6 / 2 + 1.5 * cell);
    struct flood flood = {.layers = &raster, .layer_count = 1};
    flood_from(&flood, 0, raster_cell(&raster, wound->a), 4);
    bool is_wide = raster.cells[raster_cell(&raster, wound->b)] & 4;
    free(flood.stack);
    raster_free(&raster);
    return is_wide;
}

enum answer { ANSWER_NECK, ANSWER_NONE, ANSWER_OPEN };
enum { SIDE_A = 4, SIDE_B = 8 };

static struct flood coarse_layers(const struct package *package, const struct wound *wound)
{
    const struct board *board = &package->board;
    const struct conductor *conductor = &board->conductors[wound->candidate->conductor];
    struct pos_nm min = {conductor->min.x_nm - 500000, conductor->min.y_nm - 500000};
    struct pos_nm max = {conductor->max.x_nm + 500000, conductor->max.y_nm + 500000};
    struct flood flood = {.layer_count = board->layer_count};
    flood.layers = calloc(board->layer_count, sizeof *flood.layers);
    assert_non_null(flood.layers);
    for (size_t l = 0; l < board->layer_count; l++) {
        flood.layers[l] = raster_new(min, max, COARSE_NM);
        paint_layer(package, wound, (uint16_t)(l + 1), &flood.layers[l]);
        raster_grow(&flood.layers[l]);
        for (size_t h = 0; h < board->hole_count; h++) {
            const struct board_hole *hole = &board->holes[h];
            if (hole->is_plated && hole->layer_from <= l + 1 && hole->layer_to >= l + 1)
                raster_capsule(&flood.layers[l], hole->hole.from, hole->hole.to,
                               (double)hole->hole.diameter_nm + 2 * COARSE_NM, 2);
        }
    }
    return flood;
}

/* Which sides' copper a terminal's contacts lie on. */
static uint8_t side_of(const struct package *package, const struct flood *flood,
                       const struct terminal *terminal)
{
    uint8_t side = 0;
    for (size_t i = 0; i < terminal->contact_count; i++) {
        const struct contact *contact = &package->board.contacts[terminal->contacts[i]];
        for (size_t l = contact->layer_from; l <= contact->layer_to; l++) {
            long cell = raster_cell(&flood->layers[l - 1], contact->place);
            if (cell >= 0)
                side |= flood->layers[l - 1].cells[cell] & (SIDE_A | SIDE_B);
        }
    }
    return side;
}

/* Fills side[] per terminal of the board. */
static enum answer ask_floods(const struct package *package, const struct wound *wound,
                              uint8_t *side)
{
    struct flood flood = coarse_layers(package, wound);
    size_t layer = wound->candidate->layer - 1u, a_count = 0, b_count = 0, doubt_count = 0;
    flood_from(&flood, layer, raster_cell(&flood.layers[layer], wound->a), SIDE_A);
    flood_from(&flood, layer, raster_cell(&flood.layers[layer], wound->b), SIDE_B);
    for (size_t t = 0; t < package->board.terminal_count; t++) {
        const struct terminal *terminal = &package->board.terminals[t];
        side[t] = 0;
        if (terminal->conductor != wound->candidate->conductor)
            continue;
        side[t] = side_of(package, &flood, terminal);
        a_count += side[t] == SIDE_A;
        b_count += side[t] == SIDE_B;
        doubt_count += side[t] == 0 || side[t] == (SIDE_A | SIDE_B);
    }
    for (size_t l = 0; l < flood.layer_count; l++)
        raster_free(&flood.layers[l]);
    free(flood.layers);
    free(flood.stack);
    if (doubt_count == 0)
        return a_count && b_count ? ANSWER_NECK : ANSWER_NONE;
    return has_wide_way(package, wound) ? ANSWER_NONE : ANSWER_OPEN;
}

/* ---- findings against answers ---- */

static bool is_at_wound(const struct wound *wound, const struct finding_place *place)
{
    double dx = (double)(wound->b.x_nm - wound->a.x_nm),
           dy = (double)(wound->b.y_nm - wound->a.y_nm);
    double px = (double)(place->middle.x_nm - wound->a.x_nm);
    double py = (double)(place->middle.y_nm - wound->a.y_nm);
    double part = (px * dx + py * dy) / (dx * dx + dy * dy);
    return place->layer == wound->candidate->layer && part >= 0 && part <= 1 &&
           hypot(px - part * dx, py - part * dy) <= wound->stroke_nm / 2;
}

#define SAME_PLACE_NM 300e3 /* along an even strip the narrowest place may lie anywhere */

static bool is_same_place(const struct finding_place *a, const struct finding_place *b)
{
    double away_nm =
        hypot((double)(a->middle.x_nm - b->middle.x_nm), (double)(a->middle.y_nm - b->middle.y_nm));
    return a->layer == b->layer && fabs(a->area_mm2 - b->area_mm2) <= 1e-6 &&
           away_nm <= SAME_PLACE_NM;
}

static bool has_place(const struct check_result *result, const struct finding_place *place)
{
    for (size_t f = 0; f < result->finding_count; f++)
        for (size_t p = 0; p < result->findings[f].place_count; p++)
            if (is_same_place(&result->findings[f].places[p], place))
                return true;
    return false;
}

static uint8_t side_of_name(const struct package *package, const uint8_t *side, const char *name)
{
    for (size_t t = 0; t < package->board.terminal_count; t++)
        if (side[t] && strcmp(package->board.terminals[t].name, name) == 0)
            return side[t];
    return 0;
}

/* All terminals listed on a finding's side lie on one side of the flood: that one, else 0. */
static uint8_t flood_side(const struct package *package, const struct judged *judged,
                          const uint32_t *terminals, size_t count, const uint8_t *side)
{
    uint8_t all = 0;
    for (size_t i = 0; i < count; i++)
        all |= side_of_name(package, side, judged->board.terminals[terminals[i]].name);
    return all;
}

struct tally {
    size_t seed_count, neck_count, none_count, open_count, wrong_count, double_count;
};

struct comparison {
    const struct package *package;
    const struct wound *wound;
    const struct baseline *baseline;
    const struct judged *judged;
    const uint8_t *side;
};

static bool has_sides(const struct comparison *c, const struct finding *finding)
{
    if (c->package->board.net_count == 0)
        return true; /* rows give these terminals names of their own */
    uint8_t a = flood_side(c->package, c->judged, finding->side_a, finding->side_a_count, c->side);
    uint8_t b = flood_side(c->package, c->judged, finding->side_b, finding->side_b_count, c->side);
    return a != b && (a == SIDE_A || a == SIDE_B) && (b == SIDE_A || b == SIDE_B);
}

/* The finding whose place is just the thin piece; NULL: there is none. */
static const struct finding *finding_of_wound(const struct comparison *c)
{
    const struct check_result *result = &c->judged->result;
    for (size_t f = 0; f < result->finding_count; f++)
        for (size_t p = 0; p < result->findings[f].place_count; p++) {
            const struct finding_place *place = &result->findings[f].places[p];
            if (is_at_wound(c->wound, place) &&
                fabs(place->width_mm - c->wound->thin_nm * 1e-6) <= WIDTH_TOLERANCE_MM &&
                fabs(place->needed_mm - c->wound->needed_mm) <= 1e-6)
                return &result->findings[f];
        }
    return NULL;
}

static const char *compare_neck(const struct comparison *c)
{
    const struct finding *finding = finding_of_wound(c);
    if (!finding)
        return "the neck is missed";
    if (finding->kind != FINDING_NARROW)
        return "the neck is of another kind";
    return has_sides(c, finding) ? NULL : "its terminals are not on the sides they should be";
}

/* Places on the thin piece aside, the findings are those of the unchanged package. */
static const char *compare_rest(const struct comparison *c, enum answer answer)
{
    const struct check_result *result = &c->judged->result, *before = c->baseline->result;
    for (size_t f = 0; f < result->finding_count; f++)
        for (size_t p = 0; p < result->findings[f].place_count; p++) {
            const struct finding_place *place = &result->findings[f].places[p];
            if (has_place(before, place))
                continue;
            if (!is_at_wound(c->wound, place))
                return "a finding elsewhere is new";
            if (answer == ANSWER_NONE)
                return "a neck is found that is none";
            if (place->width_mm < c->wound->thin_nm * 1e-6 - WIDTH_TOLERANCE_MM)
                return "less width is found than there is";
        }
    for (size_t f = 0; f < before->finding_count; f++)
        for (size_t p = 0; p < before->findings[f].place_count; p++)
            if (!has_place(result, &before->findings[f].places[p]))
                return "a finding elsewhere is gone";
    return NULL;
}

/* NULL: all as it should be. */
static const char *compare(const struct comparison *c, enum answer answer)
{
    const char *wrong = answer == ANSWER_NECK ? compare_neck(c) : NULL;
    return wrong ? wrong : compare_rest(c, answer);
}

/* Findings beside the first that have places on the thin piece. */
static size_t count_doubles(const struct comparison *c)
{
    const struct check_result *result = &c->judged->result;
    size_t count = 0;
    for (size_t f = 0; f < result->finding_count; f++) {
        bool is_at = false;
        for (size_t p = 0; p < result->findings[f].place_count; p++)
            is_at |= is_at_wound(c->wound, &result->findings[f].places[p]);
        count += is_at;
    }
    return count > 1 ? count - 1 : 0;
}

static const struct baseline *baseline_of(struct package *package, uint32_t conductor)
{
    struct baseline *baseline = &package->baselines[conductor];
    if (baseline->is_known)
        return baseline;
    baseline->is_known = true;
    baseline->needed_mm = needed_mm_of(package, conductor);
    baseline->table = table_of(package, conductor, current_for_width_a(baseline->needed_mm));
    baseline->judged = calloc(1, sizeof *baseline->judged);
    assert_non_null(baseline->judged);
    judge(package, 0, NULL, baseline->table, baseline->judged);
    baseline->result = &baseline->judged->result;
    return baseline;
}

static void print_side(const struct judged *judged, const uint32_t *terminals, size_t count)
{
    print_error("    side:");
    for (size_t i = 0; i < count && i < 12; i++)
        print_error(" %s", judged->board.terminals[terminals[i]].name);
    print_error("%s\n", count > 12 ? " ..." : "");
}

static void print_finding(const struct comparison *c, const struct finding *finding)
{
    for (size_t p = 0; p < finding->place_count; p++) {
        const struct finding_place *place = &finding->places[p];
        print_error("  place on layer %u, (%.4f, %.4f), width %.6f, %zu pieces of kind %d ...%s\n",
                    place->layer, (double)place->middle.x_nm * 1e-6,
                    (double)place->middle.y_nm * 1e-6, place->width_mm, place->piece_count,
                    place->piece_count ? (int)place->pieces[0].kind : -1,
                    has_place(c->baseline->result, place) ? "" : " (new)");
    }
    print_side(c->judged, finding->side_a, finding->side_a_count);
    print_side(c->judged, finding->side_b, finding->side_b_count);
}

static void print_wrong(const struct comparison *c, uint64_t seed, const char *folder,
                        const char *wrong)
{
    static const char *const verdicts[] = {"pass", "pass by sum", "narrow", "unassigned",
                                           "not judged"};
    const struct check_result *result = &c->judged->result;
    print_error(
        "seed %llu, %s: %s\n  thin piece of %.4f mm (%.4f needed), layer %u, (%.4f, %.4f) to "
        "(%.4f, %.4f)\n",
        (unsigned long long)seed, folder, wrong, c->wound->thin_nm * 1e-6, c->wound->needed_mm,
        c->wound->candidate->layer, (double)c->wound->a.x_nm * 1e-6,
        (double)c->wound->a.y_nm * 1e-6, (double)c->wound->b.x_nm * 1e-6,
        (double)c->wound->b.y_nm * 1e-6);
    for (size_t v = 0; v < result->verdict_count; v++)
        print_error("  %s %s\n", verdicts[result->verdicts[v].verdict],
                    result->verdicts[v].reason ? result->verdicts[v].reason : "");
    for (size_t f = 0; f < result->finding_count; f++)
        print_finding(c, &result->findings[f]);
    if (getenv("ISTHMUS_SEED_TABLE"))
        print_error("%s", c->baseline->table);
}

static bool is_settled(const struct check_result *result)
{
    for (size_t v = 0; v < result->verdict_count; v++)
        if (result->verdicts[v].verdict == VERDICT_NOT_JUDGED || result->verdicts[v].reason)
            return false;
    return result->verdict_count > 0;
}

static void try_seed(struct package *package, const char *folder, uint64_t seed,
                     struct tally *tally)
{
    uint64_t random = seed * 0x2545F4914F6CDD1Du;
    const struct candidate *candidate =
        &package->candidates[next_random(&random) % package->candidate_count];
    const struct baseline *baseline = baseline_of(package, candidate->conductor);
    struct wound wound = choose_wound(package, baseline->needed_mm, candidate, &random);
    uint8_t *side = calloc(package->board.terminal_count + 1, 1);
    assert_non_null(side);
    enum answer answer = ask_floods(package, &wound, side);
    struct arena *arena = arena_new("text");
    struct judged judged;
    judge(package, wound.layer->file_id, wounded_text(package, &wound, arena), baseline->table,
          &judged);
    const struct comparison comparison = {package, &wound, baseline, &judged, side};
    const char *wrong = answer == ANSWER_OPEN ? NULL : compare(&comparison, answer);
    if (!wrong && is_settled(baseline->result) && !is_settled(&judged.result))
        wrong = "the net could be judged before and now cannot";
    size_t double_count = answer == ANSWER_NECK ? count_doubles(&comparison) : 0;
    if (wrong || (double_count && getenv("ISTHMUS_SEED_TABLE")))
        print_wrong(&comparison, seed, folder, wrong ? wrong : "more than one finding");
    tally->double_count += double_count;
    tally->seed_count++;
    tally->neck_count += answer == ANSWER_NECK;
    tally->none_count += answer == ANSWER_NONE;
    tally->open_count += answer == ANSWER_OPEN;
    tally->wrong_count += wrong != NULL;
    judged_free(&judged);
    arena_free(arena);
    free(side);
}

static uint64_t number_from(const char *variable, uint64_t otherwise)
{
    const char *text = getenv(variable);
    return text ? strtoull(text, NULL, 10) : otherwise;
}

static void a_thinned_stroke_is_found_where_it_is_a_neck(void **state)
{
    (void)state;
    if (!boards_folder())
        skip();
    uint64_t first = number_from("ISTHMUS_SEED_FIRST", 1);
    uint64_t count = number_from("ISTHMUS_SEEDS", SAMPLE_SEEDS);
    const char *only = getenv("ISTHMUS_SEED_BOARD");
    struct tally all = {0};
    for (size_t p = 0; p < FOLDER_COUNT; p++) {
        if (only && strcmp(only, folders[p]) != 0)
            continue;
        struct package *package = open_package(folders[p]);
        struct tally tally = {0};
        for (uint64_t seed = first; seed < first + count; seed++)
            if (only || seed % FOLDER_COUNT == p)
                try_seed(package, folders[p], seed, &tally);
        print_message("%s: %zu seeds, %zu necks, %zu no necks, %zu open, %zu doubles, %zu wrong\n",
                      folders[p], tally.seed_count, tally.neck_count, tally.none_count,
                      tally.open_count, tally.double_count, tally.wrong_count);
        close_package(package);
        all.seed_count += tally.seed_count;
        all.neck_count += tally.neck_count;
        all.none_count += tally.none_count;
        all.wrong_count += tally.wrong_count;
    }
    print_message("%zu seeds: %zu necks, %zu no necks\n", all.seed_count, all.neck_count,
                  all.none_count);
    assert_int_equal(all.wrong_count, 0);
    assert_true(all.neck_count > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_thinned_stroke_is_found_where_it_is_a_neck),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
