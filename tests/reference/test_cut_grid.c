/*
 * Whole random packages against maximum flow on a picture of their copper (cell_flow.h): pours with
 * clearance holes, slots, notches and spokes, tracks, vias, terminals of one or two pads on one or
 * all of up to three layers, and tables with signed, unsigned and missing rows. Compared are the
 * least margin and verdict that the rule gives, and least cuts between groups of terminals.
 *
 * The least margin of the picture is the least of all ways to put each terminal on one side, on the
 * other, or on both (then its pads are copper like all other copper): least cut / need. A least cut
 * that falls into several may need more than its parts do, each for itself; it then only is a lower
 * bound, and what its parts make in pairs that hang together is the upper one.
 *
 * What a picture can tell: lines of every direction within CELL_METRIC_ERROR, and about a cell at
 * the ends of every piece of a cut (tolerance_mm2). Where that does not settle it, finer ones are
 * drawn.
 *
 * ISTHMUS_SEEDS=N tries N packages instead of the short sample, ISTHMUS_SEED_FIRST=K starts at K;
 * ISTHMUS_SEED_SHOW=1 prints the package and the table.
 */
#include "assertions.h"
#include "board_world.h"
#include "cell_flow.h"
#include "isthmus/rule.h"

#include <math.h>
#include "../../rules/net_copper.h"

enum {
    SAMPLE_SEEDS = 10,
    MOST_TERMINALS = 5,
    MOST_PADS = 2 * MOST_TERMINALS,
    MOST_PRIMS = 80,
    MOST_HOLES = 24,
    MOST_POINTS = 8,
    MOST_LABELS = 243,
    MOST_PARTS = 8
};
#define BOARD_X_UM 7000
#define BOARD_Y_UM 5000
#define CELL_MM 0.06
#define FINER 0.6
#define FINER_TIMES 2
#define LEAST_CELL_MM 0.007 /* a million cells a layer */
#define ENDS_CELLS 1.5      /* a picture of a strip is off by no more, see the first test */
#define SHOWN_MM 0.5        /* round edges less than a cell apart look joined along this */
#define WALL_UM 20          /* DESIGN section 4: what is taken where nobody says */
#define OUTER_MM 0.035
#define INNER_MM 0.0114
#define RISE_K 10

/* ---- random packages ---- */

static uint64_t random_state; /* splitmix64, Steele, Lea and Flood 2014 */

static uint32_t random_below(uint32_t limit)
{
    uint64_t z = (random_state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return (uint32_t)((z ^ (z >> 31)) % limit);
}

static int random_from(int least, int most)
{
    return least + (int)random_below((uint32_t)(most - least + 1));
}

enum prim_kind { PRIM_POLYGON, PRIM_STROKE, PRIM_DISC, PRIM_BOX };
struct spot {
    int x, y; /* um */
};
/* stroke: from at[0] to at[1]; disc, box: about at[0] */
struct prim {
    enum prim_kind kind;
    bool is_dark;
    struct spot at[MOST_POINTS];
    int count, width, height;
    int pad;        /* index, or -1 */
    bool is_of_via; /* the pad of one */
};
struct drawn_layer {
    struct prim prims[MOST_PRIMS];
    int count;
};
struct drawn_hole {
    struct spot at;
    int diameter;
    int pad; /* a component's hole; -1: a via, or not plated */
    bool is_plated;
};
struct pad {
    struct spot at;
    int terminal, reach; /* um: everything of it lies nearer */
    int layer;           /* -1: a hole through all */
};
struct terminal_row {
    bool has_row;
    char sign; /* '+', '-' or 0 */
    double current_a;
};
struct sketch {
    int layer_count, terminal_count, pad_count, hole_count;
    struct drawn_layer layers[CELL_LAYERS];
    struct drawn_hole holes[MOST_HOLES];
    struct pad pads[MOST_PADS];
    struct terminal_row rows[MOST_TERMINALS];
    double net_row_a; /* 0: none */
};

static struct prim *add_prim(struct sketch *sketch, int layer, enum prim_kind kind, bool is_dark)
{
    struct drawn_layer *to = &sketch->layers[layer];
    assert_true(to->count < MOST_PRIMS);
    struct prim *prim = &to->prims[to->count++];
    *prim = (struct prim){.kind = kind, .is_dark = is_dark, .pad = -1};
    return prim;
}

static struct spot random_spot(int border)
{
    return (struct spot){random_from(border, BOARD_X_UM - border),
                         random_from(border, BOARD_Y_UM - border)};
}

static void add_disc(struct sketch *sketch, int layer, bool is_dark, struct spot at, int diameter)
{
    struct prim *prim = add_prim(sketch, layer, PRIM_DISC, is_dark);
    prim->at[0] = at;
    prim->width = diameter;
}

static void add_stroke(struct sketch *sketch, int layer, bool is_dark, struct spot from,
                       struct spot to, int width)
{
    struct prim *prim = add_prim(sketch, layer, PRIM_STROKE, is_dark);
    prim->at[0] = from;
    prim->at[1] = to;
    prim->width = width;
}

static struct spot away(struct spot from, double angle, double distance)
{
    return (struct spot){from.x + (int)lround(distance * cos(angle)),
                         from.y + (int)lround(distance * sin(angle))};
}

static double random_angle(void)
{
    return 2 * M_PI * random_below(3600) / 3600;
}

static void add_star(struct sketch *sketch, int layer, bool is_dark, struct spot at, int size)
{
    struct prim *prim = add_prim(sketch, layer, PRIM_POLYGON, is_dark);
    double turn = random_angle();
    prim->count = random_from(3, MOST_POINTS - 1);
    for (int i = 0; i < prim->count; i++)
        prim->at[i] =
            away(at, turn + 2 * M_PI * i / prim->count, size * random_from(30, 100) / 100.0);
}

static void add_pour(struct sketch *sketch, int layer)
{
    struct prim *prim = add_prim(sketch, layer, PRIM_POLYGON, true);
    int x0 = random_from(150, 1500), y0 = random_from(150, 1200);
    int x1 = BOARD_X_UM - random_from(150, 1500), y1 = BOARD_Y_UM - random_from(150, 1200);
    struct spot corners[4] = {{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}};
    prim->count = 4;
    for (int i = 0; i < 4; i++)
        prim->at[i] =
            (struct spot){corners[i].x + random_from(0, 120), corners[i].y + random_from(0, 120)};
}

/* A clearance with an island in it that hangs on spokes, or none. */
static void add_clearance(struct sketch *sketch, int layer)
{
    struct spot at = random_spot(300);
    int diameter = random_from(300, 1700), spokes = (int)random_below(5);
    add_disc(sketch, layer, false, at, diameter);
    if (diameter < 900 || spokes < 2)
        return;
    add_disc(sketch, layer, true, at, diameter - 400);
    for (int i = 0; i < spokes; i++)
        add_stroke(sketch, layer, true, at,
                   away(at, 2 * M_PI * i / spokes + random_angle() / 12, diameter / 2.0 + 100),
                   random_from(150, 400));
}

static void add_tracks(struct sketch *sketch, int layer)
{
    struct spot at = random_spot(500);
    int width = random_from(200, 900);
    for (int i = random_from(2, 6); i > 0; i--) {
        struct spot to = random_spot(500);
        if (sketch->pad_count && random_below(2) == 0)
            to = sketch->pads[random_below((uint32_t)sketch->pad_count)].at;
        add_stroke(sketch, layer, true, at, to, width);
        at = to;
    }
}

static void draw_copper(struct sketch *sketch, int layer)
{
    bool is_pour = random_below(3) != 0;
    if (is_pour)
        add_pour(sketch, layer);
    else
        add_tracks(sketch, layer);
    for (int i = is_pour ? random_from(0, 7) : 0; i > 0; i--)
        add_clearance(sketch, layer);
    for (int i = is_pour ? random_from(0, 3) : random_from(0, 1); i > 0; i--) {
        struct spot at = random_spot(200);
        add_stroke(sketch, layer, false, at,
                   away(at, random_angle(), random_from(300, is_pour ? 3500 : 700)),
                   random_from(150, 350));
    }
    for (int i = random_from(0, 3); i > 0; i--)
        add_star(sketch, layer, false, random_spot(0), random_from(300, 1000));
    if (random_below(3) == 0)
        add_star(sketch, layer, true, random_spot(500), random_from(300, 1200));
}

/* Contacts and holes keep off each other. */
static bool is_clear(const struct sketch *sketch, struct spot at, int reach)
{
    for (int p = 0; p < sketch->pad_count; p++)
        if (hypot(at.x - sketch->pads[p].at.x, at.y - sketch->pads[p].at.y) <
            reach + sketch->pads[p].reach + 200)
            return false;
    for (int h = 0; h < sketch->hole_count; h++)
        if (hypot(at.x - sketch->holes[h].at.x, at.y - sketch->holes[h].at.y) <
            reach + sketch->holes[h].diameter / 2 + 200)
            return false;
    return true;
}

static bool find_clear_spot(const struct sketch *sketch, int reach, struct spot *at)
{
    for (int i = 0; i < 50; i++) {
        *at = random_spot(700);
        if (is_clear(sketch, *at, reach))
            return true;
    }
    return false;
}

static bool place_pad(struct sketch *sketch, int terminal)
{
    struct pad *pad = &sketch->pads[sketch->pad_count];
    *pad = (struct pad){.terminal = terminal, .reach = 600};
    if (!find_clear_spot(sketch, pad->reach, &pad->at))
        return false;
    bool is_through = random_below(3) == 0;
    pad->layer = is_through ? -1 : random_below(3) != 0 ? 0 : sketch->layer_count - 1;
    if (is_through)
        sketch->holes[sketch->hole_count++] =
            (struct drawn_hole){pad->at, random_from(500, 800), sketch->pad_count, true};
    sketch->pad_count++;
    return true;
}

static void place_vias(struct sketch *sketch)
{
    for (int i = random_from(0, sketch->layer_count > 1 ? 6 : 2); i > 0; i--) {
        struct drawn_hole hole = {.diameter = random_from(250, 450), .pad = -1};
        hole.is_plated = sketch->layer_count > 1 && random_below(8) != 0;
        if (find_clear_spot(sketch, 350, &hole.at))
            sketch->holes[sketch->hole_count++] = hole;
    }
}

/* Pads are drawn last: they are whole. Some layers have none round a component's hole. */
static void draw_pads(struct sketch *sketch, int layer)
{
    for (int p = 0; p < sketch->pad_count; p++) {
        const struct pad *pad = &sketch->pads[p];
        bool is_spared = pad->layer < 0 && layer > 0 && random_below(4) == 0;
        if ((pad->layer >= 0 && pad->layer != layer) || is_spared)
            continue;
        enum prim_kind kind = pad->layer < 0 || random_below(2) ? PRIM_DISC : PRIM_BOX;
        struct prim *prim = add_prim(sketch, layer, kind, true);
        prim->pad = p;
        prim->at[0] = pad->at;
        prim->width = kind == PRIM_BOX ? random_from(300, 800)
                                       : random_from(pad->layer < 0 ? 1000 : 400, 1200);
        prim->height = random_from(300, 800);
    }
    for (int h = 0; h < sketch->hole_count; h++)
        if (sketch->holes[h].pad < 0 && sketch->holes[h].is_plated && random_below(4) != 0) {
            add_disc(sketch, layer, true, sketch->holes[h].at, sketch->holes[h].diameter + 250);
            sketch->layers[layer].prims[sketch->layers[layer].count - 1].is_of_via = true;
        }
}

static double random_current_a(void)
{
    return 0.1 * random_from(2, 90);
}

/* Signs so that something feeds and something draws; a net row that fits all rows. */
static void draw_rows(struct sketch *sketch)
{
    double feeds = 0, draws = 0, most = 0;
    bool is_complete = true;
    for (int t = 0; t < sketch->terminal_count; t++) {
        struct terminal_row *row = &sketch->rows[t];
        uint32_t kind = random_below(10);
        *row = (struct terminal_row){.has_row = kind > 1, .current_a = random_current_a()};
        if (kind == 2)
            row->current_a = 0;
        row->sign = kind < 5 ? 0 : t == 0 || (t > 1 && random_below(2)) ? '+' : '-';
        is_complete &= row->has_row;
        if (!row->has_row)
            continue;
        feeds += row->sign == '-' ? 0 : row->current_a;
        draws += row->sign == '+' ? 0 : row->current_a;
        most = fmax(most, row->current_a);
    }
    bool needs_net_row = feeds <= 0 && draws <= 0;
    if (needs_net_row && is_complete)
        sketch->rows[0] = (struct terminal_row){.has_row = false};
    if (!is_complete && (needs_net_row || random_below(2)))
        sketch->net_row_a = fmax(most, random_current_a());
    else if (needs_net_row)
        sketch->net_row_a = random_current_a();
    else if (most < feeds && random_below(2)) /* a net row is no more than all feeds */
        sketch->net_row_a = fmax(most, feeds * random_from(30, 100) / 100);
}

static bool draw_sketch(struct sketch *sketch, uint64_t seed)
{
    static const int terminal_counts[] = {2, 2, 2, 3, 3, 3, 3, 4, 4, 5};
    static const int layer_counts[] = {1, 1, 2, 2, 2, 3};
    *sketch = (struct sketch){0};
    random_state = seed * 0x2545F4914F6CDD1Du;
    sketch->terminal_count = terminal_counts[random_below(10)];
    sketch->layer_count = layer_counts[random_below(6)];
    for (int t = 0; t < sketch->terminal_count; t++)
        for (int i = random_below(4) == 0 ? 2 : 1; i > 0; i--)
            if (!place_pad(sketch, t))
                return false;
    place_vias(sketch);
    for (int l = 0; l < sketch->layer_count; l++) {
        draw_copper(sketch, l);
        draw_pads(sketch, l);
    }
    draw_rows(sketch);
    return true;
}

/* ---- as a package ---- */

static const char *prim_text(struct arena *arena, const struct sketch *sketch,
                             const struct prim *prim, int code)
{
    const char *text = arena_printf(arena, prim->is_dark ? "%%LPD*%%\n" : "%%LPC*%%\n");
    if (prim->kind == PRIM_POLYGON) {
        text =
            arena_printf(arena, "%sG36*\nX%dY%dD02*\nG01*\n", text, prim->at[0].x, prim->at[0].y);
        for (int i = 1; i <= prim->count; i++)
            text = arena_printf(arena, "%sX%dY%dD01*\n", text, prim->at[i % prim->count].x,
                                prim->at[i % prim->count].y);
        return arena_printf(arena, "%sG37*\n", text);
    }
    const char *function = "Conductor";
    if (prim->pad >= 0)
        function = sketch->pads[prim->pad].layer < 0 ? "ComponentPad" : "SMDPad,CuDef";
    else if (prim->is_of_via)
        function = "ViaPad";
    text = arena_printf(arena, "%s%%TA.AperFunction,%s*%%\n", text, function);
    text = prim->kind == PRIM_BOX
               ? arena_printf(arena, "%s%%ADD%dR,%.3fX%.3f*%%\n", text, code, prim->width / 1e3,
                              prim->height / 1e3)
               : arena_printf(arena, "%s%%ADD%dC,%.3f*%%\n", text, code, prim->width / 1e3);
    text = arena_printf(arena, "%s%%TD.AperFunction*%%\nD%d*\n", text, code);
    if (prim->pad >= 0)
        text =
            arena_printf(arena, "%s%%TO.P,J%d,1*%%\n", text, sketch->pads[prim->pad].terminal + 1);
    if (prim->kind == PRIM_STROKE)
        return arena_printf(arena, "%sG01*\nX%dY%dD02*\nX%dY%dD01*\n", text, prim->at[0].x,
                            prim->at[0].y, prim->at[1].x, prim->at[1].y);
    return arena_printf(arena, "%sX%dY%dD03*\n%s", text, prim->at[0].x, prim->at[0].y,
                        prim->pad >= 0 ? "%TD.P*%\n" : "");
}

static const char *layer_text(struct arena *arena, const struct sketch *sketch, int layer)
{
    const char *side = layer == 0 ? "Top" : layer == sketch->layer_count - 1 ? "Bot" : "Inr";
    const char *text = arena_printf(arena, "%s%%TF.FileFunction,Copper,L%d,%s*%%\n%%TO.N,PWR*%%\n",
                                    GERBER, layer + 1, side);
    for (int i = 0; i < sketch->layers[layer].count; i++)
        text = arena_printf(arena, "%s%s", text,
                            prim_text(arena, sketch, &sketch->layers[layer].prims[i], 10 + i));
    return arena_printf(arena, "%sM02*\n", text);
}

static const char *drill_text(struct arena *arena, const struct sketch *sketch, bool is_plated)
{
    const char *text = arena_printf(arena, DRILL);
    if (sketch->layer_count > 1) /* there is no span of one layer */
        text = arena_printf(arena, "%s; #@! TF.FileFunction,%s,1,%d,%s\n", text,
                            is_plated ? "Plated" : "NonPlated", sketch->layer_count,
                            is_plated ? "PTH" : "NPTH");
    for (int h = 0; h < sketch->hole_count; h++)
        if (sketch->holes[h].is_plated == is_plated)
            text = arena_printf(arena, "%s; #@! TA.AperFunction,%s\nT%dC%.3f\n", text,
                                !is_plated                  ? "MechanicalDrill"
                                : sketch->holes[h].pad >= 0 ? "ComponentDrill"
                                                            : "ViaDrill",
                                h + 1, sketch->holes[h].diameter / 1e3);
    text = arena_printf(arena, "%s%%\n", text);
    for (int h = 0; h < sketch->hole_count; h++)
        if (sketch->holes[h].is_plated == is_plated)
            text = arena_printf(arena, "%sT%d\nX%.3fY%.3f\n", text, h + 1,
                                sketch->holes[h].at.x / 1e3, sketch->holes[h].at.y / 1e3);
    return arena_printf(arena, "%sM30\n", text);
}

static const char *table_text(struct arena *arena, const struct sketch *sketch)
{
    const char *text = arena_printf(arena, "net,pin,current_a\n");
    if (sketch->net_row_a > 0)
        text = arena_printf(arena, "%sPWR,,%.6f\n", text, sketch->net_row_a);
    for (int t = 0; t < sketch->terminal_count; t++) {
        const struct terminal_row *row = &sketch->rows[t];
        const char sign[2] = {row->sign, 0};
        if (row->has_row)
            text = arena_printf(arena, "%sPWR,J%d.1,%s%.6f\n", text, t + 1, sign, row->current_a);
    }
    return text;
}

static struct board_world *package_of(const struct sketch *sketch)
{
    static const char *const names[CELL_LAYERS] = {"l1.gbr", "l2.gbr", "l3.gbr"};
    struct board_world *world = bw_new();
    bool has_bare = false, has_plated = false;
    for (int l = 0; l < sketch->layer_count; l++)
        bw_file(world, names[l], layer_text(world->arena, sketch, l));
    for (int h = 0; h < sketch->hole_count; h++) {
        has_plated |= sketch->holes[h].is_plated;
        has_bare |= !sketch->holes[h].is_plated;
    }
    if (has_plated)
        bw_file(world, "holes-PTH.drl", drill_text(world->arena, sketch, true));
    if (has_bare)
        bw_file(world, "holes-NPTH.drl", drill_text(world->arena, sketch, false));
    bw_file(world, "edge.gbr",
            bw_text(world, PROFILE, "G01*\nX-2000Y-2000D02*\nX9000D01*\nY7000D01*\nX-2000D01*\n",
                    "Y-2000D01*\n", END, NULL));
    bw_table(world, table_text(world->arena, sketch));
    return world;
}

static void show(const struct sketch *sketch)
{
    struct arena *arena = arena_new("show");
    for (int l = 0; l < sketch->layer_count; l++)
        fputs(layer_text(arena, sketch, l), stderr);
    print_message("%s%s%s", drill_text(arena, sketch, true), drill_text(arena, sketch, false),
                  table_text(arena, sketch));
    arena_free(arena);
}

/* ---- as a picture ---- */

static double from_line(double x, double y, struct spot a, struct spot b)
{
    double dx = b.x - a.x, dy = b.y - a.y, length2 = dx * dx + dy * dy;
    double part = length2 > 0 ? ((x - a.x) * dx + (y - a.y) * dy) / length2 : 0;
    part = fmax(0, fmin(1, part));
    return hypot(x - a.x - part * dx, y - a.y - part * dy);
}

static bool is_in_polygon(const struct prim *prim, double x, double y)
{
    bool is_in = false;
    for (int i = 0, j = prim->count - 1; i < prim->count; j = i++) {
        struct spot a = prim->at[i], b = prim->at[j];
        if ((a.y > y) != (b.y > y) && x < (b.x - a.x) * (y - a.y) / (b.y - a.y) + a.x)
            is_in = !is_in;
    }
    return is_in;
}

static bool covers(const struct prim *prim, double x, double y)
{
    switch (prim->kind) {
    case PRIM_POLYGON:
        return is_in_polygon(prim, x, y);
    case PRIM_STROKE:
        return from_line(x, y, prim->at[0], prim->at[1]) <= prim->width / 2.0;
    case PRIM_DISC:
        return hypot(x - prim->at[0].x, y - prim->at[0].y) <= prim->width / 2.0;
    case PRIM_BOX:
        break;
    }
    return fabs(x - prim->at[0].x) <= prim->width / 2.0 &&
           fabs(y - prim->at[0].y) <= prim->height / 2.0;
}

struct picture {
    const struct sketch *sketch;
    struct cells cells;
    int8_t *pad_of; /* per node: a contact's, or -1 */
    uint8_t *side, *found;
};

static uint32_t look(const struct picture *picture, int layer, double x, double y, int8_t *pad)
{
    const struct sketch *sketch = picture->sketch;
    uint32_t what = CELL_BARE;
    *pad = -1;
    for (int i = 0; i < sketch->layers[layer].count; i++) {
        const struct prim *prim = &sketch->layers[layer].prims[i];
        if (!covers(prim, x, y))
            continue;
        what = prim->is_dark ? CELL_COPPER : CELL_BARE;
        if (prim->pad >= 0)
            *pad = (int8_t)prim->pad;
    }
    uint32_t plated = 0;
    for (int h = 0; h < sketch->hole_count; h++) {
        const struct drawn_hole *hole = &sketch->holes[h];
        double radius = hole->diameter / 2.0 + (hole->is_plated ? WALL_UM : 0);
        if (hypot(x - hole->at.x, y - hole->at.y) <= radius) {
            *pad = -1;
            return hole->is_plated ? CELL_HOLE + plated : CELL_BARE;
        }
        plated += hole->is_plated;
    }
    return what;
}

/* IPC-2221 section 6.2: I = k dT^0.44 A^0.725, A in square mils, k 0.048 outside and 0.024 inside.
 */
static double inner_worth(void)
{
    return pow(0.024 / 0.048, 1 / 0.725);
}

static double needed_mm2(double current_a)
{
    return pow(current_a / (0.048 * pow(RISE_K, 0.44)), 1 / 0.725) * 0.0254 * 0.0254;
}

static void note_holes(struct picture *picture)
{
    const struct sketch *sketch = picture->sketch;
    size_t count = 0;
    for (int h = 0; h < sketch->hole_count; h++) {
        const struct drawn_hole *hole = &sketch->holes[h];
        if (!hole->is_plated)
            continue;
        double wall_mm = WALL_UM * 1e-3;
        picture->cells.wall_mm2[count] =
            M_PI * (hole->diameter * 1e-3 - wall_mm) * wall_mm * inner_worth();
        uint32_t node = cells_hole_node(&picture->cells, count);
        picture->pad_of[node] = picture->pad_of[node + 1] = (int8_t)hole->pad;
        count++;
    }
}

static void paint(struct picture *picture, const struct sketch *sketch, double cell_mm)
{
    int margin = 4, width = (int)(BOARD_X_UM * 1e-3 / cell_mm) + 2 * margin + 12;
    int height = (int)(BOARD_Y_UM * 1e-3 / cell_mm) + 2 * margin + 12;
    size_t holes = 0;
    for (int h = 0; h < sketch->hole_count; h++)
        holes += sketch->holes[h].is_plated;
    *picture = (struct picture){.sketch = sketch};
    struct cells *cells = &picture->cells;
    cells_init(cells, width, height, (size_t)sketch->layer_count, holes);
    cells->cell_mm = cell_mm;
    uint32_t count = cells_node_count(cells), node = 0;
    picture->pad_of = malloc(count);
    picture->side = malloc(count);
    picture->found = malloc(count);
    assert_true(picture->pad_of && picture->side && picture->found);
    for (int l = 0; l < sketch->layer_count; l++) {
        bool is_outer = l == 0 || l == sketch->layer_count - 1;
        cells->mm2_per_mm[l] = is_outer ? OUTER_MM : INNER_MM * inner_worth();
        for (int y = 0; y < height; y++)
            for (int x = 0; x < width; x++, node++)
                cells->what[l][y * width + x] =
                    look(picture, l, (x - margin + 0.31) * cell_mm * 1e3 - 250,
                         (y - margin + 0.83) * cell_mm * 1e3 - 250, &picture->pad_of[node]);
    }
    note_holes(picture);
}

static void picture_free(struct picture *picture)
{
    cells_free(&picture->cells);
    free(picture->pad_of);
    free(picture->side);
    free(picture->found);
}

static int terminal_of(const struct picture *picture, uint32_t node)
{
    int pad = picture->pad_of[node];
    return pad < 0 ? -1 : picture->sketch->pads[pad].terminal;
}

static bool is_copper_node(const struct picture *picture, uint32_t node)
{
    const struct cells *cells = &picture->cells;
    uint32_t layer = (uint32_t)(cells->width * cells->height);
    return node >= cells_hole_node(cells, 0) ||
           cells->what[node / layer][node % layer] == CELL_COPPER;
}

/* side of each terminal: 1, 2, or 0 for both */
static double least_cut(struct picture *picture, const uint8_t *label)
{
    for (uint32_t n = 0; n < cells_node_count(&picture->cells); n++) {
        int terminal = terminal_of(picture, n);
        picture->side[n] = terminal >= 0 && is_copper_node(picture, n) ? label[terminal] : 0;
    }
    return cells_least_cut(&picture->cells, picture->side, picture->found);
}

/* ---- what crosses ---- */

struct currents {
    int count;
    double feed_a[MOST_TERMINALS], draw_a[MOST_TERMINALS], i_net_a;
};

/* DESIGN section 3, read once more. */
static struct currents currents_of(const struct sketch *sketch)
{
    struct currents out = {.count = sketch->terminal_count, .i_net_a = sketch->net_row_a};
    double feeds = 0, draws = 0;
    bool is_complete = true;
    for (int t = 0; t < out.count; t++) {
        const struct terminal_row *row = &sketch->rows[t];
        if (row->has_row && row->sign != '-')
            feeds += out.feed_a[t] = row->current_a;
        if (row->has_row && row->sign != '+')
            draws += out.draw_a[t] = row->current_a;
        is_complete &= row->has_row;
    }
    if (!(out.i_net_a > 0))
        out.i_net_a = is_complete ? fmin(feeds, draws) : fmax(feeds, draws);
    for (int t = 0; t < out.count; t++)
        if (!sketch->rows[t].has_row)
            out.feed_a[t] = out.draw_a[t] = out.i_net_a;
    return out;
}

/* I(S) of DESIGN section 3; who is on both sides adds to neither. */
static double crossing_a(const struct currents *currents, const uint8_t *side)
{
    double feed[4] = {0}, draw[4] = {0};
    for (int t = 0; t < currents->count; t++) {
        feed[side[t]] += currents->feed_a[t];
        draw[side[t]] += currents->draw_a[t];
    }
    return fmin(currents->i_net_a, fmax(fmin(feed[1], draw[2]), fmin(feed[2], draw[1])));
}

static double margin_of(const struct currents *currents, const uint8_t *side, double area_mm2)
{
    double current_a = crossing_a(currents, side);
    return current_a > 0 ? area_mm2 / needed_mm2(current_a) : INFINITY;
}

/* ---- a least cut that falls into several ---- */

/* The parts that a cut leaves, each with a terminal, and what lies between them. */
struct parts {
    const struct currents *currents;
    uint32_t *parent; /* per node, and two places a hole: one for either side of a cut through it */
    int count;
    uint32_t root[MOST_PARTS];
    double between[MOST_PARTS][MOST_PARTS];
    double rim[MOST_HOLES][MOST_PARTS];
    uint32_t has[MOST_TERMINALS]; /* parts with pads of a terminal, as bits */
    bool is_too_many;
};

static uint32_t root_of(const struct parts *parts, uint32_t node)
{
    while (parts->parent[node] != node)
        node = parts->parent[node] = parts->parent[parts->parent[node]];
    return node;
}

static void unite(const struct parts *parts, uint32_t a, uint32_t b)
{
    parts->parent[root_of(parts, a)] = root_of(parts, b);
}

/* The place of a cell's side at a hole. */
static uint32_t hole_place(const struct picture *picture, uint32_t hole_node, uint32_t cell)
{
    return hole_node + (picture->found[cell] == 1 ? 0 : 1);
}

static void unite_parts(const struct picture *picture, struct parts *parts)
{
    const struct cells *cells = &picture->cells;
    uint32_t holes = cells_hole_node(cells, 0);
    for (size_t i = 0; i < cells->joint_count; i++) {
        const struct cell_joint *joint = &cells->joints[i];
        if (joint->b >= holes)
            unite(parts, joint->a, hole_place(picture, joint->b, joint->a));
        else if (picture->found[joint->a] == picture->found[joint->b])
            unite(parts, joint->a, joint->b);
    }
}

static int part_of(const struct parts *parts, uint32_t node)
{
    uint32_t root = root_of(parts, node);
    for (int i = 0; i < parts->count; i++)
        if (parts->root[i] == root)
            return i;
    return -1;
}

static void list_parts(const struct picture *picture, struct parts *parts)
{
    uint32_t holes = cells_hole_node(&picture->cells, 0);
    for (uint32_t n = 0; n < cells_node_count(&picture->cells); n++) {
        int terminal = terminal_of(picture, n);
        if (terminal < 0 || !is_copper_node(picture, n) || n >= holes)
            continue;
        int part = part_of(parts, n);
        if (part < 0 && parts->count == MOST_PARTS) {
            parts->is_too_many = true;
            return;
        }
        if (part < 0) {
            part = parts->count++;
            parts->root[part] = root_of(parts, n);
        }
        parts->has[terminal] |= 1u << part;
    }
}

static void measure_between(const struct picture *picture, struct parts *parts)
{
    const struct cells *cells = &picture->cells;
    uint32_t holes = cells_hole_node(cells, 0);
    for (size_t i = 0; i < cells->joint_count; i++) {
        const struct cell_joint *joint = &cells->joints[i];
        int a = part_of(parts, joint->a);
        if (a < 0)
            continue;
        if (joint->b >= holes) {
            parts->rim[(joint->b - holes) / 2][a] += joint->area_mm2;
            continue;
        }
        int b = part_of(parts, joint->b);
        if (b >= 0 && b != a) {
            parts->between[a][b] += joint->area_mm2;
            parts->between[b][a] += joint->area_mm2;
        }
    }
}

static bool are_beside(const struct picture *picture, const struct parts *parts, int a, int b)
{
    if (parts->between[a][b] > 0)
        return true;
    for (size_t h = 0; h < picture->cells.hole_count; h++)
        if (parts->rim[h][a] > 0 && parts->rim[h][b] > 0)
            return true;
    return false;
}

/* Does a set of parts hang together, pads of one terminal that all lie in it included? */
static bool is_whole(const struct picture *picture, const struct parts *parts, uint32_t set)
{
    uint32_t grown = set & (~set + 1), before;
    do {
        before = grown;
        for (int a = 0; a < parts->count; a++)
            for (int b = 0; b < parts->count; b++)
                if ((grown >> a & 1) && (set >> b & 1) && are_beside(picture, parts, a, b))
                    grown |= 1u << b;
        for (int t = 0; t < parts->currents->count; t++) {
            bool has_current = parts->currents->feed_a[t] > 0 || parts->currents->draw_a[t] > 0;
            if (has_current && (parts->has[t] & grown) && (parts->has[t] & set) == parts->has[t])
                grown |= parts->has[t];
        }
    } while (grown != before);
    return set && grown == set;
}

/* What it takes to part a hole's copper: a lead that lies on one side fills the hole. */
static double hole_mm2(const struct picture *picture, const struct parts *parts, uint32_t set,
                       const uint8_t *side, size_t hole)
{
    double rim[2] = {0}; /* of the parts outside the set, and within */
    for (int a = 0; a < parts->count; a++)
        rim[set >> a & 1] += parts->rim[hole][a];
    int terminal = terminal_of(picture, cells_hole_node(&picture->cells, hole));
    uint8_t lead = terminal < 0 ? 0 : side[terminal];
    return lead == 1   ? rim[0]
           : lead == 2 ? rim[1]
                       : fmin(picture->cells.wall_mm2[hole], fmin(rim[0], rim[1]));
}

static double margin_of_set(const struct picture *picture, const struct parts *parts, uint32_t set)
{
    double area_mm2 = 0;
    uint8_t side[MOST_TERMINALS] = {0};
    for (int t = 0; t < parts->currents->count; t++)
        side[t] = (uint8_t)(((parts->has[t] & set) ? 1 : 0) | ((parts->has[t] & ~set) ? 2 : 0));
    for (int a = 0; a < parts->count; a++)
        for (int b = 0; b < a; b++)
            if ((set >> a & 1) != (set >> b & 1))
                area_mm2 += parts->between[a][b];
    for (size_t h = 0; h < picture->cells.hole_count; h++)
        area_mm2 += hole_mm2(picture, parts, set, side, h);
    return margin_of(parts->currents, side, area_mm2);
}

/* The least margin of cuts that hang together, among those that the parts of this one make. */
static double whole_margin(const struct picture *picture, const struct currents *currents)
{
    uint32_t count = cells_node_count(&picture->cells);
    struct parts parts = {.currents = currents};
    double least = INFINITY;
    parts.parent = malloc((count + 1) * sizeof *parts.parent);
    assert_non_null(parts.parent);
    for (uint32_t n = 0; n < count; n++)
        parts.parent[n] = n;
    unite_parts(picture, &parts);
    list_parts(picture, &parts);
    if (!parts.is_too_many) {
        measure_between(picture, &parts);
        uint32_t all = (1u << parts.count) - 1;
        for (uint32_t set = 1; set < all; set += 2)
            if (is_whole(picture, &parts, set) && is_whole(picture, &parts, all & ~set))
                least = fmin(least, margin_of_set(picture, &parts, set));
    }
    free(parts.parent);
    return least;
}

/* ---- the least margin of a picture ---- */

struct labels {
    int count;                    /* 3 to the number of terminals */
    double flow_mm2[MOST_LABELS]; /* a lower bound, or the least cut */
    bool is_measured[MOST_LABELS];
};
struct bounds {
    double least, most; /* margin */
    uint8_t label[MOST_TERMINALS];
};

static void read_label(int number, int terminals, uint8_t *label)
{
    for (int t = 0; t < terminals; t++, number /= 3)
        label[t] = (uint8_t)(number % 3);
}

static int free_count(int number, int terminals)
{
    int count = 0;
    for (int t = 0; t < terminals; t++, number /= 3)
        count += number % 3 == 0;
    return count;
}

/* A cut that parts more terminals is no smaller. */
static double bound_of(const struct labels *labels, int number, int terminals)
{
    double bound = 0;
    for (int t = 0, digit = 1; t < terminals; t++, digit *= 3)
        bound = fmax(bound, labels->flow_mm2[number - number / digit % 3 * digit]);
    return bound;
}

static void try_label(struct picture *picture, const struct currents *currents,
                      struct labels *labels, int number, struct bounds *out)
{
    uint8_t label[MOST_TERMINALS] = {0};
    read_label(number, currents->count, label);
    double bound_mm2 = bound_of(labels, number, currents->count);
    labels->flow_mm2[number] = bound_mm2;
    /* Worth a flow when the margin may be below what was found so far. A mirrored one is not. */
    if (!isfinite(margin_of(currents, label, 1)) ||
        margin_of(currents, label, bound_mm2) > out->most)
        return;
    double area_mm2 = least_cut(picture, label), margin = margin_of(currents, label, area_mm2);
    labels->flow_mm2[number] = area_mm2;
    labels->is_measured[number] = true;
    if (margin < out->most)
        out->most = fmin(out->most, whole_margin(picture, currents));
    if (margin < out->least) {
        out->least = margin;
        memcpy(out->label, label, sizeof label);
    }
}

static bool is_mirrored(int number, int terminals)
{
    for (int t = 0; t < terminals; t++, number /= 3)
        if (number % 3)
            return number % 3 == 2;
    return true;
}

static struct bounds least_margin(struct picture *picture, const struct currents *currents)
{
    struct labels labels = {.count = 1};
    struct bounds out = {.least = INFINITY, .most = INFINITY};
    for (int t = 0; t < currents->count; t++)
        labels.count *= 3;
    for (int zeros = currents->count - 2; zeros >= 0; zeros--)
        for (int number = 0; number < labels.count; number++)
            if (free_count(number, currents->count) == zeros &&
                !is_mirrored(number, currents->count))
                try_label(picture, currents, &labels, number, &out);
    out.least = fmin(out.least, out.most);
    return out;
}

/* ---- comparison ---- */

struct tally {
    size_t boards, apart, refused, margins, narrow, more, unsettled, gaps, cuts, finer, failed;
};

struct subject {
    uint64_t seed;
    struct sketch sketch;
    struct currents currents;
    struct board_world *world;
    struct check_result result;
    const struct net_verdict *verdict;
    struct tally *tally;
};

static void judge(struct subject *subject)
{
    struct board_world *world = subject->world;
    const struct rule_context context = {.board = &world->board,
                                         .table = &world->table,
                                         .margin_limit = 3,
                                         .arena = world->arena,
                                         .diags = &world->diags};
    assert_int_equal(copper_width_run(&context, &subject->result), RULE_OK);
    assert_int_equal(subject->result.verdict_count, 1);
    subject->verdict = &subject->result.verdicts[0];
}

/* The place with the least margin, or NULL. */
static const struct finding_place *worst_place(const struct subject *subject)
{
    const struct check_result *result = &subject->result;
    const struct finding_place *worst =
        subject->verdict->has_least ? &subject->verdict->least : NULL;
    for (size_t f = 0; f < result->finding_count; f++)
        if (!worst || result->findings[f].places[0].margin < worst->margin)
            worst = &result->findings[f].places[0];
    return worst;
}

/* Kinds of pieces of a cut, each at least so often. */
struct shape_of_cut {
    size_t straight;
    bool has_outline, has_rim;
};

static void note_piece(struct shape_of_cut *shape, enum piece_kind kind)
{
    shape->straight += kind == PIECE_CHORD;
    shape->has_outline |= kind == PIECE_CONTACT_OUTLINE;
    shape->has_rim |= kind == PIECE_RIM;
}

/*
 * How far a picture may be from the truth: ENDS_CELLS for the ends of a straight piece; a curve
 * that closes round a box may be a cell smaller or larger at each side, and so may a part of a rim.
 */
static double tolerance_mm2(struct shape_of_cut shape, double area_mm2, double cell_mm)
{
    double cells = ENDS_CELLS * (double)(shape.straight > 0 ? shape.straight : 1);
    cells += (shape.has_outline ? 4 : 0) + (shape.has_rim ? 4 : 0);
    return CELL_METRIC_ERROR * area_mm2 + cells * cell_mm * OUTER_MM;
}

/* Does the copper of some pad hang together with the first one's by less than a picture shows? */
static bool is_apart(struct picture *picture)
{
    struct cells *cells = &picture->cells;
    for (int p = 1; p < picture->sketch->pad_count; p++) {
        for (uint32_t n = 0; n < cells_node_count(cells); n++) {
            int pad = is_copper_node(picture, n) ? picture->pad_of[n] : -1;
            picture->side[n] = pad == 0 ? 1 : pad == p ? 2 : 0;
        }
        if (cells_least_cut(cells, picture->side, NULL) < SHOWN_MM * OUTER_MM)
            return true;
    }
    return false;
}

/* ---- cuts between groups ---- */

/* The copper of the one net that was asked about; its ends in the order of the terminals. */
static void collect_copper(const struct subject *subject, struct net_copper *copper, size_t *end_of)
{
    struct board_world *world = subject->world;
    struct assignment assignment;
    assert_int_equal(
        assign_currents(&world->board, &world->table, world->arena, &world->diags, &assignment),
        ASSIGN_OK);
    assert_int_equal(assignment.question_count, 1);
    const struct net_question *question = &assignment.questions[0];
    assert_int_equal(question->end_count, subject->sketch.terminal_count);
    for (size_t e = 0; e < question->end_count; e++) {
        const char *name = world->board.terminals[question->ends[e].terminals[0]].name;
        end_of[atoi(name + 1) - 1] = e; /* J1.1 */
    }
    assert_true(net_copper_collect(&world->board, question, world->arena, copper));
}

/* The program's least cut; INFINITY: none below the limit. */
static double metered_mm2(const struct subject *subject, const uint8_t *label, double limit_mm2,
                          struct shape_of_cut *shape)
{
    struct net_copper copper;
    struct neck_meter *meter;
    struct neck_place place = {0};
    size_t end_of[MOST_TERMINALS];
    uint8_t side[MOST_TERMINALS];
    bool is_over_limit, is_found;
    collect_copper(subject, &copper, end_of);
    for (int t = 0; t < subject->sketch.terminal_count; t++)
        side[end_of[t]] = label[t];
    assert_int_equal(neck_meter_new(&copper.net, limit_mm2, 1000000, &meter, &is_over_limit),
                     NECK_OK);
    assert_false(is_over_limit);
    assert_int_equal(neck_meter_cut(meter, side, subject->world->arena, &place, &is_found),
                     NECK_OK);
    neck_meter_free(meter);
    for (size_t i = 0; is_found && i < place.piece_count; i++)
        note_piece(shape, place.pieces[i].kind);
    return is_found ? place.area_mm2 : INFINITY;
}

static int compare_cut(const struct subject *subject, const uint8_t *label, double cell_mm)
{
    struct picture picture;
    struct shape_of_cut shape = {0};
    paint(&picture, &subject->sketch, cell_mm);
    double shown_mm2 = least_cut(&picture, label);
    double limit_mm2 = shown_mm2 * 1.1 + 20 * cell_mm * OUTER_MM;
    double found_mm2 = metered_mm2(subject, label, limit_mm2, &shape);
    double slack_mm2 = tolerance_mm2(shape, shown_mm2, cell_mm);
    picture_free(&picture);
    return found_mm2 > shown_mm2 + slack_mm2 ? 1 : found_mm2 < shown_mm2 - slack_mm2 ? -1 : 0;
}

/* How far the bounds of a picture may be off, as a margin. */
static double slack_of(const struct subject *subject, const struct bounds *bounds, double cell_mm)
{
    const struct finding_place *place = worst_place(subject);
    struct shape_of_cut shape = {0};
    double need_mm2 = needed_mm2(crossing_a(&subject->currents, bounds->label));
    for (size_t i = 0; place && i < place->piece_count; i++)
        note_piece(&shape, place->pieces[i].kind);
    return isfinite(bounds->least)
               ? tolerance_mm2(shape, bounds->least * need_mm2, cell_mm) / need_mm2
               : 0;
}

/* 0: agrees; < 0: the program found less than there is (false alarm); > 0: it missed something. */
static int compare_margin(const struct subject *subject, double cell_mm)
{
    struct picture picture;
    const struct net_verdict *verdict = subject->verdict;
    paint(&picture, &subject->sketch, cell_mm);
    struct bounds bounds = least_margin(&picture, &subject->currents);
    picture_free(&picture);
    double slack = slack_of(subject, &bounds, cell_mm);
    subject->tally->gaps += bounds.most > bounds.least * 1.0001;
    if (getenv("ISTHMUS_SEED_SHOW"))
        print_message("found %g, picture %g to %g, slack %g, cell %g\n", verdict->margin,
                      bounds.least, bounds.most, slack, cell_mm);
    bool is_narrow = verdict->verdict == VERDICT_NARROW || verdict->verdict == VERDICT_UNASSIGNED;
    if (verdict->margin < bounds.least - slack || (is_narrow && bounds.least - slack > 1))
        return -1;
    if (!is_narrow && bounds.most + slack < 1)
        return 1;
    if (is_narrow && verdict->has_more)
        return 0; /* it says itself that there may be worse */
    return fmin(verdict->margin, verdict->searched_margin) > bounds.most + slack ? 1 : 0;
}

/* A dead end takes the verdict back; what was found of margins stands. */
static bool is_judged(const struct net_verdict *verdict)
{
    return verdict->verdict != VERDICT_NOT_JUDGED || verdict->has_least ||
           (verdict->reason && strncmp(verdict->reason, "copper leads to", 15) == 0);
}

static void print_board(const struct subject *subject, const char *what)
{
    static const char *const verdicts[] = {"pass", "pass by sum", "narrow", "unassigned",
                                           "not judged"};
    const struct net_verdict *verdict = subject->verdict;
    print_error("seed %llu: %s\n  %s, margin %g, %s, %d terminals, %d layers\n",
                (unsigned long long)subject->seed, what, verdicts[verdict->verdict],
                verdict->margin, verdict->reason ? verdict->reason : "",
                subject->sketch.terminal_count, subject->sketch.layer_count);
}

static void fail_board(const struct subject *subject, const char *what)
{
    print_board(subject, what);
    subject->tally->failed++;
}

/* Pictures of ever smaller cells until one agrees. */
static void check_margin(const struct subject *subject)
{
    double cell_mm = CELL_MM;
    int differs = compare_margin(subject, cell_mm);
    for (int i = 0; i < FINER_TIMES && differs; i++) {
        cell_mm *= FINER;
        subject->tally->finer++;
        differs = compare_margin(subject, cell_mm);
    }
    if (differs)
        fail_board(subject, differs > 0 ? "a smaller margin is missed"
                                        : "less margin is found than there is");
}

/* Any two groups, some terminals in neither. */
static bool draw_label(int terminals, uint8_t *label)
{
    bool has[3] = {0};
    for (int t = 0; t < terminals; t++) {
        label[t] = (uint8_t)(random_below(4) == 0 ? 0 : 1 + random_below(2));
        has[label[t]] = true;
    }
    return has[1] && has[2];
}

static void check_cut(const struct subject *subject, const uint8_t *label)
{
    double cell_mm = CELL_MM;
    int differs = compare_cut(subject, label, cell_mm);
    subject->tally->cuts++;
    for (int i = 0; i < FINER_TIMES && differs; i++) {
        cell_mm *= FINER;
        subject->tally->finer++;
        differs = compare_cut(subject, label, cell_mm);
    }
    if (differs)
        fail_board(subject, differs > 0 ? "a smaller cut between groups is missed"
                                        : "a smaller cut between groups is found than there is");
}

/* Straight edges may run side by side a few um apart: then only a finer picture shows the gap. */
static void check_apart(const struct subject *subject)
{
    bool is_found = false;
    for (double cell_mm = CELL_MM * FINER; cell_mm > LEAST_CELL_MM && !is_found; cell_mm *= FINER) {
        struct picture picture;
        paint(&picture, &subject->sketch, cell_mm);
        is_found = is_apart(&picture);
        picture_free(&picture);
    }
    if (!is_found)
        fail_board(subject, "what hangs together could not be judged");
}

static void check_board(uint64_t seed, struct tally *tally)
{
    struct subject subject = {.seed = seed, .tally = tally};
    if (!draw_sketch(&subject.sketch, seed))
        return;
    if (getenv("ISTHMUS_SEED_SHOW"))
        show(&subject.sketch);
    subject.currents = currents_of(&subject.sketch);
    subject.world = package_of(&subject.sketch);
    bw_must_read(subject.world);
    judge(&subject);
    tally->boards++;
    const struct net_verdict *verdict = subject.verdict;
    if (!is_judged(verdict) && strstr(verdict->reason, "no current"))
        tally->refused++;
    else if (!is_judged(verdict)) {
        tally->apart++;
        check_apart(&subject);
    } else {
        tally->margins++;
        tally->narrow += verdict->margin < 1;
        tally->more += isinf(verdict->margin) ? 1 : 0;
        tally->unsettled += verdict->has_more;
        check_margin(&subject);
        for (int i = 0; i < 2; i++) {
            uint8_t label[MOST_TERMINALS] = {0};
            if (draw_label(subject.sketch.terminal_count, label))
                check_cut(&subject, label);
        }
    }
    bw_free(subject.world);
}

/* ---- what a picture is good for ---- */

/* A strip turned by any angle, from one end to the other; lengths in mm. */
static double strip_mm(double width_mm, double angle, double cell_mm)
{
    struct cells cells;
    int half = (int)(2 / cell_mm);
    cells_init(&cells, 2 * half, 2 * half, 1, 0);
    cells.cell_mm = cell_mm;
    cells.mm2_per_mm[0] = 1;
    uint8_t *side = calloc(cells_node_count(&cells), 1);
    assert_non_null(side);
    for (int i = 0; i < 4 * half * half; i++) {
        double x = (i % (2 * half) - half + 0.37) * cell_mm,
               y = (i / (2 * half) - half + 0.71) * cell_mm;
        double along = x * cos(angle) + y * sin(angle), across = y * cos(angle) - x * sin(angle);
        bool is_copper = fabs(along) < 1.8 && fabs(across) < width_mm / 2;
        cells.what[0][i] = is_copper ? CELL_COPPER : CELL_BARE;
        side[i] = (uint8_t)(!is_copper ? 0 : along < -1.3 ? 1 : along > 1.3 ? 2 : 0);
    }
    double found_mm = cells_least_cut(&cells, side, NULL);
    cells_free(&cells);
    free(side);
    return found_mm;
}

static void a_picture_measures_a_strip_at_any_angle(void **state)
{
    (void)state;
    const double cell_mm = 0.04;
    double least = 0, most = 0;
    for (int i = 0; i < 40; i++) {
        double width_mm = 0.5 + 0.013 * i,
               off_mm = strip_mm(width_mm, 0.08 * i, cell_mm) - width_mm;
        least = fmin(least, off_mm + CELL_METRIC_ERROR * width_mm);
        most = fmax(most, off_mm - CELL_METRIC_ERROR * width_mm);
    }
    print_message("ends of a piece: %.2f to %.2f cells\n", least / cell_mm, most / cell_mm);
    assert_true(least > -ENDS_CELLS * cell_mm && most < ENDS_CELLS * cell_mm);
}

static uint64_t number_from(const char *variable, uint64_t otherwise)
{
    const char *text = getenv(variable);
    return text ? strtoull(text, NULL, 10) : otherwise;
}

static void least_margins_are_those_of_a_flow(void **state)
{
    (void)state;
    struct tally tally = {0};
    uint64_t first = number_from("ISTHMUS_SEED_FIRST", 1);
    uint64_t count = number_from("ISTHMUS_SEEDS", SAMPLE_SEEDS);
    for (uint64_t seed = first; seed < first + count; seed++)
        check_board(seed, &tally);
    print_message("%zu packages: %zu least margins (%zu narrow, %zu above the limit, %zu with more "
                  "said to be there; %zu between bounds), %zu cuts between groups, %zu pictures "
                  "drawn finer; %zu apart, %zu without currents\n",
                  tally.boards, tally.margins, tally.narrow, tally.more, tally.unsettled,
                  tally.gaps, tally.cuts, tally.finer, tally.apart, tally.refused);
    assert_int_equal(tally.failed, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_picture_measures_a_strip_at_any_angle),
        cmocka_unit_test(least_margins_are_those_of_a_flow),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
