#include "board_picture.h"

#include "assertions.h"
#include "raster.h"

#include <math.h>

#define WALL_NM 20e3 /* DESIGN section 4: what is taken where nobody says */
#define OUTER_MM 0.035
#define INNER_MM 0.0114
/* Internal against external constants of the fit, REFERENCES.md 1.1: (0.024/0.048)^(1/0.725) */
#define INNER_WORTH 0.3844

double picture_wall_mm2(double finished_nm)
{
    return INNER_WORTH * M_PI * (finished_nm - WALL_NM) * WALL_NM * 1e-12;
}

struct picture_hole *picture_holes(const struct board *board, size_t more, size_t *out_count)
{
    struct picture_hole *holes = calloc(board->hole_count + more + 1, sizeof *holes);
    assert_non_null(holes);
    for (size_t h = 0; h < board->hole_count; h++) {
        const struct board_hole *hole = &board->holes[h];
        double length_nm = hypot((double)(hole->hole.to.x_nm - hole->hole.from.x_nm),
                                 (double)(hole->hole.to.y_nm - hole->hole.from.y_nm));
        holes[h] = (struct picture_hole){
            hole->hole.from,
            hole->hole.to,
            (double)hole->hole.diameter_nm + (hole->is_plated ? 2 * WALL_NM : 0),
            hole->is_plated ? picture_wall_mm2((double)hole->hole.diameter_nm) +
                                  INNER_WORTH * 2 * length_nm * WALL_NM * 1e-12
                            : 0,
            hole->layer_from,
            hole->layer_to,
            (uint32_t)h};
    }
    *out_count = board->hole_count;
    return holes;
}

static void paint_square(struct raster *raster, const struct picture_change *change)
{
    double x0 = (double)change->from.x_nm, y0 = (double)change->from.y_nm;
    double x1 = (double)change->to.x_nm, y1 = (double)change->to.y_nm;
    double length = hypot(x1 - x0, y1 - y0), half = change->width_nm / 2 / length;
    double nx = -(y1 - y0) * half, ny = (x1 - x0) * half;
    const double lines[4][4] = {{x0 + nx, y0 + ny, x0 - nx, y0 - ny},
                                {x0 - nx, y0 - ny, x1 - nx, y1 - ny},
                                {x1 - nx, y1 - ny, x1 + nx, y1 + ny},
                                {x1 + nx, y1 + ny, x0 + nx, y0 + ny}};
    raster_lines(raster, lines, 4, false, change->is_copper);
}

static void paint_changes(struct raster *raster, uint16_t layer,
                          const struct picture_changes *changes)
{
    for (size_t i = 0; i < changes->count; i++) {
        const struct picture_change *change = &changes->items[i];
        if (change->layer && change->layer != layer)
            continue;
        if (change->is_square)
            paint_square(raster, change);
        else
            raster_capsule(raster, change->from, change->to, change->width_nm, change->is_copper);
    }
}

static bool draw_inside(const struct board *board, struct raster *raster)
{
    bool has_any = false;
    for (size_t r = 0; r < board->role_count; r++)
        if (board->roles[r].role == ROLE_PROFILE && board->drawings[r].object_count) {
            raster_enclosed(raster, &board->drawings[r], 1);
            has_any = true;
        }
    return has_any;
}

static struct raster empty_raster(const struct picture *picture)
{
    struct raster raster = {picture->x_nm,  picture->y_nm,   picture->cell_nm,
                            picture->width, picture->height, NULL};
    raster.cells = calloc((size_t)picture->width * (size_t)picture->height, 1);
    assert_non_null(raster.cells);
    return raster;
}

static void draw_layer(struct picture *picture, const struct board *board, size_t l,
                       const uint8_t *inside, const struct picture_changes *changes)
{
    const struct copper_layer *layer = &board->layers[l];
    struct raster raster = empty_raster(picture);
    size_t count = (size_t)raster.width * (size_t)raster.height;
    for (size_t o = 0; o < layer->drawing->object_count; o++)
        if (changes->gone_layer != l + 1 || changes->gone_object != o)
            raster_object(&raster, layer->drawing, &layer->drawing->objects[o]);
    for (size_t i = 0; i < count; i++)
        raster.cells[i] = (layer->is_negative ? !raster.cells[i] : raster.cells[i]) && inside[i];
    paint_changes(&raster, (uint16_t)(l + 1), changes);
    picture->what[l] = calloc(count, sizeof *picture->what[l]);
    picture->mark[l] = calloc(count, 1);
    assert_non_null(picture->what[l]);
    assert_non_null(picture->mark[l]);
    for (size_t i = 0; i < count; i++)
        picture->what[l][i] = raster.cells[i];
    raster_free(&raster);
}

static bool reaches(const struct picture_hole *hole, size_t l)
{
    return hole->layer_from <= l + 1 && hole->layer_to >= l + 1;
}

struct cell_range {
    int x0, y0, x1, y1;
};

static struct cell_range range_of(const struct picture *picture, struct pos_nm from,
                                  struct pos_nm to, double width_nm)
{
    double r = width_nm / 2 + picture->cell_nm, c = picture->cell_nm;
    double x0 = (fmin((double)from.x_nm, (double)to.x_nm) - r - picture->x_nm) / c;
    double y0 = (fmin((double)from.y_nm, (double)to.y_nm) - r - picture->y_nm) / c;
    double x1 = (fmax((double)from.x_nm, (double)to.x_nm) + r - picture->x_nm) / c;
    double y1 = (fmax((double)from.y_nm, (double)to.y_nm) + r - picture->y_nm) / c;
    return (struct cell_range){(int)fmax(0, x0), (int)fmax(0, y0),
                               (int)fmin(picture->width - 1, x1),
                               (int)fmin(picture->height - 1, y1)};
}

static double from_way(const struct picture *picture, int x, int y, struct pos_nm from,
                       struct pos_nm to)
{
    double px = picture->x_nm + (x + 0.5) * picture->cell_nm - (double)from.x_nm;
    double py = picture->y_nm + (y + 0.5) * picture->cell_nm - (double)from.y_nm;
    double dx = (double)(to.x_nm - from.x_nm), dy = (double)(to.y_nm - from.y_nm);
    double length2 = dx * dx + dy * dy;
    double part = length2 > 0 ? fmin(1, fmax(0, (px * dx + py * dy) / length2)) : 0;
    return hypot(px - part * dx, py - part * dy);
}

static void set_way(struct picture *picture, size_t l, struct pos_nm from, struct pos_nm to,
                    double width_nm, uint32_t value)
{
    struct cell_range range = range_of(picture, from, to, width_nm);
    for (int y = range.y0; y <= range.y1; y++)
        for (int x = range.x0; x <= range.x1; x++)
            if (from_way(picture, x, y, from, to) <= width_nm / 2)
                picture->what[l][(long)y * picture->width + x] = value;
}

static void cut_holes(struct picture *picture)
{
    for (size_t h = 0; h < picture->hole_count; h++)
        for (size_t l = 0; l < picture->layer_count; l++) {
            const struct picture_hole *hole = &picture->holes[h];
            bool is_plated = hole->wall_mm2 > 0;
            if (reaches(hole, l) || !is_plated)
                set_way(picture, l, hole->from, hole->to, hole->cut_nm,
                        is_plated ? PICTURE_HOLE + (uint32_t)h : PICTURE_BARE);
        }
}

void picture_draw(struct picture *picture, const struct board *board, struct pos_nm min,
                  struct pos_nm max, double cell_nm, const struct picture_changes *changes,
                  struct picture_hole *holes, size_t hole_count)
{
    *picture = (struct picture){.width = (int)((double)(max.x_nm - min.x_nm) / cell_nm) + 1,
                                .height = (int)((double)(max.y_nm - min.y_nm) / cell_nm) + 1,
                                .layer_count = board->layer_count,
                                .x_nm = (double)min.x_nm,
                                .y_nm = (double)min.y_nm,
                                .cell_nm = cell_nm,
                                .holes = holes,
                                .hole_count = hole_count};
    assert_true(board->layer_count <= PICTURE_LAYERS);
    struct raster inside = empty_raster(picture);
    if (!draw_inside(board, &inside))
        memset(inside.cells, 1, (size_t)inside.width * (size_t)inside.height);
    for (size_t l = 0; l < picture->layer_count; l++) {
        bool is_outer = l == 0 || l + 1 == picture->layer_count;
        picture->mm2_per_mm[l] = is_outer ? OUTER_MM : INNER_MM * INNER_WORTH;
        draw_layer(picture, board, l, inside.cells, changes);
    }
    raster_free(&inside);
    picture->hole_mark = calloc(hole_count + 1, 1);
    assert_non_null(picture->hole_mark);
    cut_holes(picture);
}

void picture_free(struct picture *picture)
{
    for (size_t l = 0; l < picture->layer_count; l++) {
        free(picture->what[l]);
        free(picture->mark[l]);
    }
    free(picture->hole_mark);
}

long picture_cell(const struct picture *picture, struct pos_nm at)
{
    double x = floor(((double)at.x_nm - picture->x_nm) / picture->cell_nm);
    double y = floor(((double)at.y_nm - picture->y_nm) / picture->cell_nm);
    if (x < 0 || y < 0 || x >= picture->width || y >= picture->height)
        return -1;
    return (long)y * picture->width + (long)x;
}

void picture_sever(struct picture *picture, uint16_t layer, struct pos_nm from, struct pos_nm to,
                   double width_nm)
{
    for (size_t l = 0; l < picture->layer_count; l++)
        if (layer == 0 || layer == l + 1)
            set_way(picture, l, from, to, width_nm, PICTURE_BARE);
}

/* ---- terminals ---- */

/* The outline of a contact on a layer; its edges, in file coordinates. */
static size_t mark_layer(struct picture *picture, const struct board *board, size_t l,
                         uint32_t contact, uint8_t terminal)
{
    const struct paint *paint = &board->layers[l].paint;
    struct raster raster = empty_raster(picture);
    double(*lines)[4] = NULL;
    size_t count = 0, capacity = 0, marked = 0;
    for (size_t o = 0; o < paint->object_count; o++) {
        const struct paint_object *object = &paint->objects[o];
        if (object->kind != PAINT_KIND_CONTACT || object->owner != contact)
            continue;
        for (uint32_t f = 0; f < object->fill_count; f++) {
            const struct paint_fill *fill = &paint->fills[object->first_fill + f];
            count = 0;
            for (uint32_t e = 0; e < fill->edge_count; e++) {
                const struct paint_edge *edge = &paint->edges[fill->first_edge + e];
                assert_true(array_grow(&lines, sizeof *lines, &capacity, count + 1));
                struct pos_nm a = board_to_file(board, edge->a), b = board_to_file(board, edge->b);
                lines[count][0] = (double)a.x_nm;
                lines[count][1] = (double)a.y_nm;
                lines[count][2] = (double)b.x_nm;
                lines[count++][3] = (double)b.y_nm;
            }
            raster_lines(&raster, lines, count, false, fill->adds);
        }
    }
    for (long i = 0; i < (long)raster.width * raster.height; i++)
        if (raster.cells[i] && picture->what[l][i] == PICTURE_COPPER) {
            picture->mark[l][i] = (uint8_t)(terminal + 1);
            marked++;
        }
    free(lines);
    raster_free(&raster);
    return marked;
}

size_t picture_mark(struct picture *picture, const struct board *board, uint32_t contact,
                    uint8_t terminal)
{
    const struct contact *at = &board->contacts[contact];
    size_t marked = 0;
    for (size_t l = at->layer_from - 1u; l < at->layer_to; l++)
        marked += mark_layer(picture, board, l, contact, terminal);
    for (size_t h = 0; h < picture->hole_count && at->hole != ISTHMUS_NONE; h++)
        if (picture->holes[h].board_hole == at->hole && picture->holes[h].wall_mm2 > 0) {
            picture->hole_mark[h] = (uint8_t)(terminal + 1);
            marked++;
        }
    return marked;
}

/* ---- what hangs together ---- */

struct walk {
    const struct picture *picture;
    uint8_t **seen, *seen_holes;
    uint64_t *stack; /* cell * PICTURE_LAYERS + layer */
    size_t count, capacity;
};

static void walk_push(struct walk *walk, size_t l, long cell)
{
    if (walk->seen[l][cell] || walk->picture->what[l][cell] == PICTURE_BARE)
        return;
    walk->seen[l][cell] = 1;
    assert_true(array_grow(&walk->stack, sizeof *walk->stack, &walk->capacity, walk->count + 1));
    walk->stack[walk->count++] = (uint64_t)cell * PICTURE_LAYERS + l;
}

/* A hole's cells hang together over all its layers. */
static void walk_hole(struct walk *walk, size_t h)
{
    const struct picture *picture = walk->picture;
    const struct picture_hole *hole = &picture->holes[h];
    if (walk->seen_holes[h])
        return;
    walk->seen_holes[h] = 1;
    struct cell_range range = range_of(picture, hole->from, hole->to, hole->cut_nm);
    for (size_t l = 0; l < picture->layer_count; l++)
        for (int y = range.y0; y <= range.y1; y++)
            for (int x = range.x0; x <= range.x1; x++) {
                long cell = (long)y * picture->width + x;
                if (picture->what[l][cell] == PICTURE_HOLE + h)
                    walk_push(walk, l, cell);
            }
}

void picture_flood(const struct picture *picture, uint8_t terminal, uint8_t *out[PICTURE_LAYERS],
                   uint8_t *out_holes)
{
    struct walk walk = {.picture = picture, .seen = out, .seen_holes = out_holes};
    long count = (long)picture->width * picture->height;
    for (size_t l = 0; l < picture->layer_count; l++)
        for (long i = 0; i < count; i++)
            if (picture->mark[l][i] == terminal + 1)
                walk_push(&walk, l, i);
    for (size_t h = 0; h < picture->hole_count; h++)
        if (picture->hole_mark[h] == terminal + 1)
            walk_hole(&walk, h);
    while (walk.count) {
        uint64_t item = walk.stack[--walk.count];
        size_t l = (size_t)(item % PICTURE_LAYERS);
        long at = (long)(item / PICTURE_LAYERS), x = at % picture->width, y = at / picture->width;
        if (picture->what[l][at] >= PICTURE_HOLE)
            walk_hole(&walk, picture->what[l][at] - PICTURE_HOLE);
        if (x > 0)
            walk_push(&walk, l, at - 1);
        if (x + 1 < picture->width)
            walk_push(&walk, l, at + 1);
        if (y > 0)
            walk_push(&walk, l, at - picture->width);
        if (y + 1 < picture->height)
            walk_push(&walk, l, at + picture->width);
    }
    free(walk.stack);
}

/* ---- the graph ---- */

#define NO_NODE UINT32_MAX
/* As in cell_flow.c: half of the neighbours, and what each is worth for a line of one cell. */
#define STRAIGHT 0.161162
#define FLAT_3_1 0.037376
#define FLAT_2_1 0.029945
#define FLAT_3_2 0.022103
#define DIAGONAL 0.066316
static const struct step {
    int x, y;
    double worth;
} steps[] = {
    {1, 0, STRAIGHT},  {3, 1, FLAT_3_1},  {2, 1, FLAT_2_1},  {3, 2, FLAT_3_2},
    {1, 1, DIAGONAL},  {2, 3, FLAT_3_2},  {1, 2, FLAT_2_1},  {1, 3, FLAT_3_1},
    {0, 1, STRAIGHT},  {-1, 3, FLAT_3_1}, {-1, 2, FLAT_2_1}, {-2, 3, FLAT_3_2},
    {-1, 1, DIAGONAL}, {-3, 2, FLAT_3_2}, {-2, 1, FLAT_2_1}, {-3, 1, FLAT_3_1},
};
enum { STEP_COUNT = sizeof steps / sizeof *steps, LOOKS = 12 };

struct joint {
    uint32_t a, b;
    int32_t ab, ba;
};
struct picture_graph {
    const struct picture *picture;
    double unit_mm2, limit_mm2;
    uint32_t *node[PICTURE_LAYERS];
    uint32_t *hole_node; /* in; out is the next */
    uint32_t node_count;
    uint8_t *mark; /* per node: 1 + terminal */
    struct joint *joints;
    size_t joint_count, joint_capacity;
    /* arcs of a node: first[n] .. first[n + 1] */
    uint32_t *first, *to, *back, *now;
    int32_t *capacity, *rest, *level;
    uint32_t *queue, *path;
};

/* Squared distance in cells to the nearest cell that is not copper (Felzenszwalb and Huttenlocher
 * 2012: lower envelope of parabolas, here column by column, then along each row within reach). */
static void wide_cells(const struct picture *picture, size_t l, double radius_cells, uint8_t *out)
{
    int width = picture->width, height = picture->height, reach = (int)ceil(radius_cells) + 1;
    uint16_t *up = malloc((size_t)width * (size_t)height * sizeof *up);
    assert_non_null(up);
    for (int x = 0; x < width; x++) {
        int away = 0; /* beyond the picture is bare */
        for (int y = 0; y < height; y++) {
            long at = (long)y * width + x;
            away = picture->what[l][at] == PICTURE_COPPER ? away + 1 : 0;
            up[at] = (uint16_t)(away > 60000 ? 60000 : away);
        }
        away = 0;
        for (int y = height - 1; y >= 0; y--) {
            long at = (long)y * width + x;
            away = picture->what[l][at] == PICTURE_COPPER ? away + 1 : 0;
            if (away < up[at])
                up[at] = (uint16_t)away;
        }
    }
    for (int y = 0; y < height; y++)
        for (int x = 0; x < width; x++) {
            const uint16_t *row = up + (long)y * width;
            bool is_wide = row[x] > radius_cells;
            for (int i = -reach; is_wide && i <= reach; i++) {
                double d = x + i < 0 || x + i >= width ? 0 : row[x + i];
                is_wide = hypot(d, i) > radius_cells;
            }
            out[(long)y * width + x] = is_wide;
        }
    free(up);
}

static void label_core(struct picture_graph *graph, size_t l, const uint8_t *wide, long start,
                       uint32_t label, long **stack, size_t *capacity)
{
    const struct picture *picture = graph->picture;
    size_t count = 0;
    assert_true(array_grow(stack, sizeof **stack, capacity, 1));
    (*stack)[count++] = start;
    graph->node[l][start] = label;
    while (count) {
        long at = (*stack)[--count], x = at % picture->width, y = at / picture->width;
        const long next[4] = {x > 0 ? at - 1 : -1, x + 1 < picture->width ? at + 1 : -1,
                              y > 0 ? at - picture->width : -1,
                              y + 1 < picture->height ? at + picture->width : -1};
        for (int i = 0; i < 4; i++) {
            if (next[i] < 0 || !wide[next[i]] || graph->node[l][next[i]] != NO_NODE ||
                picture->mark[l][next[i]])
                continue;
            graph->node[l][next[i]] = label;
            assert_true(array_grow(stack, sizeof **stack, capacity, count + 1));
            (*stack)[count++] = next[i];
        }
    }
}

static void number_layer(struct picture_graph *graph, size_t l, const uint8_t *seen)
{
    const struct picture *picture = graph->picture;
    long count = (long)picture->width * picture->height;
    uint8_t *wide = malloc((size_t)count);
    long *stack = NULL;
    size_t capacity = 0;
    assert_non_null(wide);
    double radius = graph->limit_mm2 / picture->mm2_per_mm[l] / 2 * 1e6 / picture->cell_nm;
    wide_cells(picture, l, radius + 1.5, wide);
    graph->node[l] = malloc((size_t)count * sizeof *graph->node[l]);
    assert_non_null(graph->node[l]);
    for (long i = 0; i < count; i++)
        graph->node[l][i] = NO_NODE;
    for (long i = 0; i < count; i++) {
        if (!seen[i] || picture->what[l][i] != PICTURE_COPPER || graph->node[l][i] != NO_NODE)
            continue;
        uint32_t label = graph->node_count++;
        graph->node[l][i] = label;
        if (wide[i] && !picture->mark[l][i])
            label_core(graph, l, wide, i, label, &stack, &capacity);
    }
    free(stack);
    free(wide);
}

static void add_joint(struct picture_graph *graph, uint32_t a, uint32_t b, double ab, double ba)
{
    if (a == b)
        return;
    assert_true(array_grow(&graph->joints, sizeof *graph->joints, &graph->joint_capacity,
                           graph->joint_count + 1));
    graph->joints[graph->joint_count++] =
        (struct joint){a, b, (int32_t)(ab / graph->unit_mm2), (int32_t)(ba / graph->unit_mm2)};
}

/* One step from a cell; as join_along() in cell_flow.c. */
static void join_along(struct picture_graph *graph, size_t l, int x, int y, const struct step *step,
                       int way)
{
    const struct picture *picture = graph->picture;
    uint32_t from = graph->node[l][(long)y * picture->width + x], last = from;
    double area = step->worth * picture->cell_nm * 1e-6 * picture->mm2_per_mm[l];
    for (int i = 0; i <= LOOKS; i++) {
        double part = i < LOOKS ? (i + 0.5) / LOOKS : 1;
        int at_x = x + way * (int)lround(part * step->x);
        int at_y = y + way * (int)lround(part * step->y);
        bool is_in = at_x >= 0 && at_y >= 0 && at_x < picture->width && at_y < picture->height;
        long cell = (long)at_y * picture->width + at_x;
        uint32_t what = is_in ? picture->what[l][cell] : PICTURE_BARE;
        if (what >= PICTURE_HOLE) {
            uint32_t in = graph->hole_node[what - PICTURE_HOLE];
            if (in != NO_NODE) {
                add_joint(graph, from, in, area, 0);
                add_joint(graph, in + 1, from, area, 0);
            }
            return;
        }
        if (what != PICTURE_COPPER || graph->node[l][cell] == NO_NODE) {
            add_joint(graph, from, last, area, area);
            return;
        }
        last = graph->node[l][cell];
    }
    if (way > 0)
        add_joint(graph, from, last, area, area);
}

/* Every neighbour that a step can reach is of the same node. */
static bool is_buried(const struct picture_graph *graph, size_t l, int x, int y)
{
    const struct picture *picture = graph->picture;
    uint32_t own = graph->node[l][(long)y * picture->width + x];
    for (int j = -3; j <= 3; j++)
        for (int i = -3; i <= 3; i++)
            if (x + i < 0 || y + j < 0 || x + i >= picture->width || y + j >= picture->height ||
                graph->node[l][(long)(y + j) * picture->width + x + i] != own)
                return false;
    return true;
}

static void join_layer(struct picture_graph *graph, size_t l)
{
    const struct picture *picture = graph->picture;
    for (int y = 0; y < picture->height; y++)
        for (int x = 0; x < picture->width; x++) {
            if (graph->node[l][(long)y * picture->width + x] == NO_NODE ||
                is_buried(graph, l, x, y))
                continue;
            for (size_t s = 0; s < STEP_COUNT; s++) {
                join_along(graph, l, x, y, &steps[s], 1);
                join_along(graph, l, x, y, &steps[s], -1);
            }
        }
}

static void *take(size_t count, size_t size)
{
    void *room = calloc(count + 1, size);
    assert_non_null(room);
    return room;
}

static void make_arcs(struct picture_graph *graph)
{
    size_t n = graph->node_count, m = 2 * graph->joint_count;
    graph->first = take(n + 1, sizeof *graph->first);
    graph->to = take(m, sizeof *graph->to);
    graph->back = take(m, sizeof *graph->back);
    graph->capacity = take(m, sizeof *graph->capacity);
    graph->rest = take(m, sizeof *graph->rest);
    graph->now = take(n, sizeof *graph->now);
    graph->level = take(n, sizeof *graph->level);
    graph->queue = take(n, sizeof *graph->queue);
    graph->path = take(n, sizeof *graph->path);
    for (size_t j = 0; j < graph->joint_count; j++) {
        graph->first[graph->joints[j].a + 1]++;
        graph->first[graph->joints[j].b + 1]++;
    }
    for (size_t i = 0; i < n; i++)
        graph->first[i + 1] += graph->first[i];
    memcpy(graph->now, graph->first, n * sizeof *graph->now);
    for (size_t j = 0; j < graph->joint_count; j++) {
        const struct joint *joint = &graph->joints[j];
        uint32_t there = graph->now[joint->a]++, back = graph->now[joint->b]++;
        graph->to[there] = joint->b;
        graph->to[back] = joint->a;
        graph->capacity[there] = joint->ab;
        graph->capacity[back] = joint->ba;
        graph->back[there] = back;
        graph->back[back] = there;
    }
    free(graph->joints);
    graph->joints = NULL;
}

static void mark_nodes(struct picture_graph *graph)
{
    const struct picture *picture = graph->picture;
    graph->mark = take(graph->node_count, 1);
    for (size_t l = 0; l < picture->layer_count; l++)
        for (long i = 0; i < (long)picture->width * picture->height; i++)
            if (graph->node[l][i] != NO_NODE && picture->mark[l][i])
                graph->mark[graph->node[l][i]] = picture->mark[l][i];
    for (size_t h = 0; h < picture->hole_count; h++)
        if (graph->hole_node[h] != NO_NODE && picture->hole_mark[h])
            graph->mark[graph->hole_node[h]] = graph->mark[graph->hole_node[h] + 1] =
                picture->hole_mark[h];
}

static void number_nodes(struct picture_graph *graph, uint8_t terminal)
{
    const struct picture *picture = graph->picture;
    uint8_t *seen[PICTURE_LAYERS] = {0}, *holes = take(picture->hole_count, 1);
    for (size_t l = 0; l < picture->layer_count; l++)
        seen[l] = take((size_t)picture->width * (size_t)picture->height, 1);
    picture_flood(picture, terminal, seen, holes);
    for (size_t l = 0; l < picture->layer_count; l++) {
        number_layer(graph, l, seen[l]);
        free(seen[l]);
    }
    graph->hole_node = malloc((picture->hole_count + 1) * sizeof *graph->hole_node);
    assert_non_null(graph->hole_node);
    for (size_t h = 0; h < picture->hole_count; h++) {
        graph->hole_node[h] = holes[h] ? graph->node_count : NO_NODE;
        graph->node_count += holes[h] ? 2 : 0;
    }
    free(holes);
}

struct picture_graph *picture_graph_new(const struct picture *picture, uint8_t terminal,
                                        double limit_mm2, size_t max_nodes)
{
    struct picture_graph *graph = take(1, sizeof *graph);
    graph->picture = picture;
    graph->limit_mm2 = limit_mm2;
    graph->unit_mm2 = limit_mm2 / 1e6;
    number_nodes(graph, terminal);
    if (graph->node_count > max_nodes) {
        picture_graph_free(graph);
        return NULL;
    }
    for (size_t l = 0; l < picture->layer_count; l++)
        join_layer(graph, l);
    for (size_t h = 0; h < picture->hole_count; h++)
        if (graph->hole_node[h] != NO_NODE)
            add_joint(graph, graph->hole_node[h], graph->hole_node[h] + 1,
                      fmin(picture->holes[h].wall_mm2, 2 * limit_mm2), 0);
    mark_nodes(graph);
    make_arcs(graph);
    return graph;
}

void picture_graph_free(struct picture_graph *graph)
{
    if (!graph)
        return;
    for (size_t l = 0; l < PICTURE_LAYERS; l++)
        free(graph->node[l]);
    free(graph->hole_node);
    free(graph->mark);
    free(graph->joints);
    free(graph->first);
    free(graph->to);
    free(graph->back);
    free(graph->now);
    free(graph->capacity);
    free(graph->rest);
    free(graph->level);
    free(graph->queue);
    free(graph->path);
    free(graph);
}

/* Levels from all nodes of a; is any of b reached? */
static bool find_levels(struct picture_graph *graph, uint8_t a, uint8_t b)
{
    size_t head = 0, tail = 0;
    int32_t reached = INT32_MAX; /* what lies farther is of no use */
    for (uint32_t n = 0; n < graph->node_count; n++) {
        graph->level[n] = graph->mark[n] == a + 1 ? 0 : -1;
        graph->now[n] = graph->first[n];
        if (graph->level[n] == 0)
            graph->queue[tail++] = n;
    }
    while (head < tail) {
        uint32_t n = graph->queue[head++];
        if (graph->level[n] >= reached)
            break;
        if (graph->mark[n] == b + 1) {
            reached = graph->level[n];
            continue;
        }
        for (uint32_t e = graph->first[n]; e < graph->first[n + 1]; e++)
            if (graph->rest[e] > 0 && graph->level[graph->to[e]] < 0) {
                graph->level[graph->to[e]] = graph->level[n] + 1;
                graph->queue[tail++] = graph->to[e];
            }
    }
    return reached < INT32_MAX;
}

/* One way from a node to b along rising levels; what it carries, 0: none is left. */
static int64_t push_once(struct picture_graph *graph, uint32_t source, uint8_t b)
{
    size_t depth = 0;
    uint32_t n = source;
    while (graph->mark[n] != b + 1) {
        uint32_t e = graph->now[n];
        while (e < graph->first[n + 1] &&
               !(graph->rest[e] > 0 && graph->level[graph->to[e]] == graph->level[n] + 1))
            e++;
        graph->now[n] = e;
        if (e < graph->first[n + 1]) {
            graph->path[depth++] = e;
            n = graph->to[e];
            continue;
        }
        if (depth == 0)
            return 0;
        e = graph->path[--depth]; /* a dead end: back, and past this arc */
        n = graph->to[graph->back[e]];
        graph->now[n]++;
    }
    int32_t least = INT32_MAX;
    for (size_t i = 0; i < depth; i++)
        least = graph->rest[graph->path[i]] < least ? graph->rest[graph->path[i]] : least;
    for (size_t i = 0; i < depth; i++) {
        graph->rest[graph->path[i]] -= least;
        graph->rest[graph->back[graph->path[i]]] += least;
    }
    return least;
}

double picture_least_cut(struct picture_graph *graph, uint8_t a, uint8_t b, double limit_mm2)
{
    int64_t flow = 0, limit = (int64_t)(fmin(limit_mm2, graph->limit_mm2) / graph->unit_mm2);
    memcpy(graph->rest, graph->capacity, graph->first[graph->node_count] * sizeof *graph->rest);
    while (find_levels(graph, a, b))
        for (uint32_t n = 0; n < graph->node_count; n++) {
            if (graph->mark[n] != a + 1)
                continue;
            for (int64_t more = 1; more > 0; flow += more) {
                if (flow > limit)
                    return INFINITY;
                more = push_once(graph, n, b);
            }
        }
    return (double)flow * graph->unit_mm2;
}
