/*
 * Opens and joins made at random in real packages and the demo: a stroke is broken, or a thin one
 * drawn from some copper to somewhere near. Whether that opens or joins anything is decided by GEOS
 * (overlay in floating point, shares nothing with the meshes): islands of each layer, tied together
 * by the plated holes that touch them, and the nets of the terminals that lie on them. Exactly what
 * GEOS says must be found, at its place:
 *
 *   open   the gap is as long as GEOS's distance between the two parts, and ends on both
 *   join   the least cut lies on the thin stroke and is as wide as that
 *
 * ISTHMUS_SEEDS=N tries N seeds instead of the short sample; ISTHMUS_SEED_FIRST=K starts at K.
 * ISTHMUS_BRIDGE_UM=W draws bridges W um wide instead of thin ones: then the cut may be on either
 * side of the stroke's edges, and only counted is how many cuts are proven to be the least.
 * ISTHMUS_SEED_BOARD=NAME takes one package only, each seed of it; ISTHMUS_BOARDS_LARGE=1 adds the
 * board of 14 layers (a minute a seed and more).
 */
#include "assertions.h"
#include "edit.h"
#include "isthmus/rule.h"
#include "polygons.h"
#include "random.h"

#include <math.h>

#define GAP_NM 100e3       /* what is seen of a break between round ends */
#define THIN_NM 50e3       /* thinner than anything on these boards */
#define BRIDGE_MOST_NM 3e6 /* longest bridge tried */
#define RIM_NM 3e3         /* a hole's disc is grown by this: its rim is flattened within 0.5 um */
#define MOST_LAYERS 16

static const struct {
    const char *name;
    uint64_t step, offset; /* which seeds of the sample are its own: (seed / 2) % step == offset */
    bool is_large;
} folders[] = {{"robot-power", 5, 1, false},
               {"dc-load", 5, 2, false},
               {"atx-breakout", 5, 3, false},
               {"porcupine-6layer", 10, 7, false},
               {"module-14layer", 20, 17, true}};
enum { FOLDER_COUNT = sizeof folders / sizeof *folders, SAMPLE_SEEDS = 20 };

static double bridge_nm = THIN_NM;

/* ---- packages ---- */

struct layer_shapes { /* one layer's copper as GEOS has it */
    GEOSGeometry *copper;
    const GEOSPreparedGeometry **prepared; /* per polygon */
    GEOSSTRtree *tree;                     /* of the polygons' boxes; items are in prepared */
    int count;
};
struct package {
    GEOSContextHandle_t geos;
    struct arena *arena;
    struct file_table files;
    struct diag_list diags;
    struct board board;
    struct layer_shapes shapes[MOST_LAYERS];
};

static void read_board(struct file_table *files, struct arena *arena, struct diag_list *diags,
                       struct board *out)
{
    struct board_facts facts;
    board_facts_default(&facts);
    facts.gap_close_um.value = 0; /* GEOS closes none */
    board_of_files(files, &facts, NULL, arena, diags, out);
}

static GEOSGeometry *ring_of(GEOSContextHandle_t geos, const struct paint_edge *edges, size_t count)
{
    GEOSCoordSequence *points = GEOSCoordSeq_create_r(geos, (unsigned)count + 1, 2);
    for (size_t i = 0; i <= count; i++)
        GEOSCoordSeq_setXY_r(geos, points, (unsigned)i, edges[i % count].a.x, edges[i % count].a.y);
    GEOSGeometry *ring = GEOSGeom_createLinearRing_r(geos, points);
    return GEOSGeom_createPolygon_r(geos, ring, NULL, 0);
}

/* Rings that were turned round run backwards, edge by edge. */
static bool is_next(const struct paint_edge *edge, const struct paint_edge *next)
{
    return (next->a.x == edge->b.x && next->a.y == edge->b.y) ||
           (next->b.x == edge->a.x && next->b.y == edge->a.y);
}

/* What lies beyond the profile or in its cut-outs: inside an odd number of rings, a frame round all
 * of it among them. */
static GEOSGeometry *outside_of(GEOSContextHandle_t geos, const struct paint *paint,
                                const struct paint_object *object)
{
    const struct paint_fill *fill = &paint->fills[object->first_fill];
    const struct paint_edge *edges = paint->edges + fill->first_edge;
    GEOSGeometry *out = GEOSGeom_createEmptyPolygon_r(geos);
    for (size_t first = 0, end; first < fill->edge_count; first = end) {
        for (end = first + 1; end < fill->edge_count && is_next(&edges[end - 1], &edges[end]);)
            end++;
        GEOSGeometry *ring = ring_of(geos, edges + first, end - first);
        GEOSGeometry *more = GEOSSymDifference_r(geos, out, ring);
        assert_non_null(more);
        GEOSGeom_destroy_r(geos, out);
        GEOSGeom_destroy_r(geos, ring);
        out = more;
    }
    return out;
}

static GEOSGeometry *copper_of(GEOSContextHandle_t geos, const struct paint *paint)
{
    GEOSGeometry **parts = polygons_of_objects(geos, paint);
    for (uint32_t i = 0; i < paint->object_count; i++)
        if (paint->objects[i].kind == PAINT_KIND_OUTSIDE) {
            assert_int_equal(paint->objects[i].fill_count, 1);
            GEOSGeom_destroy_r(geos, parts[i]);
            parts[i] = outside_of(geos, paint, &paint->objects[i]);
        }
    return polygons_unite(geos, paint, parts);
}

static struct layer_shapes make_shapes(GEOSContextHandle_t geos, const struct copper_layer *layer)
{
    struct layer_shapes out = {0};
    out.copper = copper_of(geos, &layer->paint);
    out.count = GEOSGetNumGeometries_r(geos, out.copper);
    out.prepared = calloc((size_t)out.count + 1, sizeof *out.prepared);
    assert_non_null(out.prepared);
    out.tree = GEOSSTRtree_create_r(geos, 8);
    assert_non_null(out.tree);
    for (int i = 0; i < out.count; i++) {
        const GEOSGeometry *polygon = GEOSGetGeometryN_r(geos, out.copper, i);
        out.prepared[i] = GEOSPrepare_r(geos, polygon);
        GEOSSTRtree_insert_r(geos, out.tree, polygon, &out.prepared[i]);
    }
    return out;
}

static void free_shapes(GEOSContextHandle_t geos, struct layer_shapes *shapes)
{
    for (int i = 0; i < shapes->count; i++)
        GEOSPreparedGeom_destroy_r(geos, shapes->prepared[i]);
    GEOSSTRtree_destroy_r(geos, shapes->tree);
    free(shapes->prepared);
    GEOSGeom_destroy_r(geos, shapes->copper);
}

static struct package *open_package(const char *path)
{
    const char *paths[1] = {path};
    struct package *package = calloc(1, sizeof *package);
    assert_non_null(package);
    package->geos = GEOS_init_r();
    package->arena = arena_new("package");
    package->diags.arena = package->arena;
    assert_int_equal(package_read(paths, 1, &package_default_limits, package->arena,
                                  &package->files, &package->diags),
                     PACKAGE_OK);
    read_board(&package->files, package->arena, &package->diags, &package->board);
    assert_true(package->board.layer_count <= MOST_LAYERS);
    for (size_t l = 0; l < package->board.layer_count; l++)
        package->shapes[l] = make_shapes(package->geos, &package->board.layers[l]);
    return package;
}

static void close_package(struct package *package)
{
    for (size_t l = 0; l < package->board.layer_count; l++)
        free_shapes(package->geos, &package->shapes[l]);
    GEOS_finish_r(package->geos);
    board_free(&package->board);
    file_table_free(&package->files);
    arena_free(package->arena);
    free(package);
}

/* ---- the change ---- */

struct change {
    const struct copper_layer *layer;
    bool is_bridge;
    struct pos_nm a, b; /* of the gap's middle line, or of the bridge's */
    const char *text;   /* the changed file */
};

static const struct object *random_stroke(const struct package *package, uint64_t *random,
                                          const struct copper_layer **layer)
{
    for (int i = 0; i < 100000; i++) {
        *layer = &package->board.layers[next_random(random) % package->board.layer_count];
        const struct drawing *drawing = (*layer)->drawing;
        if (drawing->object_count == 0 || (*layer)->is_negative)
            continue;
        const struct object *object =
            &drawing->objects[next_random(random) % drawing->object_count];
        if (object->kind == OBJECT_STROKE && object->is_dark && object->fill_count > 0 &&
            drawing->apertures[object->aperture].kind == APERTURE_CIRCLE)
            return object;
    }
    fail_msg("no stroke");
    return NULL;
}

static bool break_stroke(const struct package *package, uint64_t *random, struct arena *arena,
                         struct change *out)
{
    const struct object *object = random_stroke(package, random, &out->layer);
    const struct drawing *drawing = out->layer->drawing;
    const struct source_file *file = &package->files.files[out->layer->file_id - 1];
    double width = (double)drawing->apertures[object->aperture].width_nm;
    double length = stroke_length_nm(object), gap = width + GAP_NM;
    struct statement at;
    if (length < gap + 2000 || !statement_find(file, object->at, &at) ||
        !statement_is_plain_draw(file, at))
        return false;
    double start = random_part(random) * (length - gap) / length, end = start + gap / length;
    double x = (double)object->from.x_nm, y = (double)object->from.y_nm;
    double dx = (double)object->to.x_nm - x, dy = (double)object->to.y_nm - y;
    out->a = on_file_grid(drawing, x + start * dx, y + start * dy);
    out->b = on_file_grid(drawing, x + end * dx, y + end * dy);
    out->text = arena_printf(
        arena, "%.*s%s\n%s\n%s\n%s", (int)at.from, (const char *)file->bytes,
        point_text(drawing, out->a, "D01", arena), point_text(drawing, out->b, "D02", arena),
        point_text(drawing, object->to, "D01", arena), statement_rest(file, at, arena));
    return true;
}

static size_t end_of_drawing(const struct source_file *file)
{
    for (size_t i = file->size; i-- > 3;)
        if (memcmp(file->bytes + i - 3, "M02", 3) == 0)
            return i - 3;
    return file->size;
}

/* Mostly the end of another stroke on this layer, near enough; else anywhere near. */
static struct pos_nm far_end(const struct drawing *drawing, struct pos_nm from, uint64_t *random)
{
    for (int i = 0; i < 400 && next_random(random) % 256 > 0; i++) {
        const struct object *other = &drawing->objects[next_random(random) % drawing->object_count];
        struct pos_nm end = next_random(random) % 2 ? other->to : other->from;
        double nm = hypot((double)(end.x_nm - from.x_nm), (double)(end.y_nm - from.y_nm));
        if (other->kind == OBJECT_STROKE && nm > 0.2e6 && nm < BRIDGE_MOST_NM)
            return on_file_grid(drawing, (double)end.x_nm, (double)end.y_nm);
    }
    double angle = 2 * acos(-1) * random_part(random);
    double reach = 0.2e6 + (BRIDGE_MOST_NM - 0.2e6) * random_part(random);
    return on_file_grid(drawing, (double)from.x_nm + reach * cos(angle),
                        (double)from.y_nm + reach * sin(angle));
}

/* From a stroke's end somewhere near; it says no name of its own. */
static bool draw_bridge(const struct package *package, uint64_t *random, struct arena *arena,
                        struct change *out)
{
    const struct object *object = random_stroke(package, random, &out->layer);
    const struct drawing *drawing = out->layer->drawing;
    const struct source_file *file = &package->files.files[out->layer->file_id - 1];
    int32_t code = free_code(drawing);
    out->is_bridge = true;
    out->a = object->from;
    out->b = far_end(drawing, out->a, random);
    out->text = arena_printf(
        arena, "%.*s%%TD*%%\nG04 #@! TD*\n%%LPD*%%\nG01*\n%%ADD%dC,%.9f*%%\nD%d*\n%s\n%s\nM02*\n",
        (int)end_of_drawing(file), (const char *)file->bytes, code,
        in_file_units(drawing, bridge_nm), code, point_text(drawing, out->a, "D02", arena),
        point_text(drawing, out->b, "D01", arena));
    return true;
}

/* ---- what GEOS says ---- */

struct islands { /* all layers' polygons, in groups that plated holes tie together */
    const struct layer_shapes *shapes[MOST_LAYERS];
    size_t first[MOST_LAYERS + 1];
    size_t *parent, count;
};

static size_t group_of(const struct islands *islands, size_t island)
{
    while (islands->parent[island] != island)
        island = islands->parent[island];
    return island;
}

/* The islands that meet a shape on a layer, tied together; island: one of them or SIZE_MAX. */
struct tying {
    struct islands *islands;
    GEOSContextHandle_t geos;
    size_t layer, island;
    const GEOSGeometry *shape;
};

static void tie_one(void *item, void *context)
{
    struct tying *tying = context;
    struct islands *islands = tying->islands;
    const GEOSPreparedGeometry **prepared = item;
    if (GEOSPreparedIntersects_r(tying->geos, *prepared, tying->shape) != 1)
        return;
    size_t index = (size_t)(prepared - islands->shapes[tying->layer]->prepared);
    size_t group = group_of(islands, islands->first[tying->layer] + index);
    if (tying->island != SIZE_MAX)
        islands->parent[group] = group_of(islands, tying->island);
    else
        tying->island = group;
}

static size_t tie_islands(struct islands *islands, GEOSContextHandle_t geos, size_t layer,
                          const GEOSGeometry *shape, size_t with)
{
    struct tying tying = {islands, geos, layer, with, shape};
    GEOSSTRtree_query_r(geos, islands->shapes[layer]->tree, shape, tie_one, &tying);
    return tying.island;
}

static GEOSGeometry *line_of(const struct package *package, struct pos_nm a, struct pos_nm b)
{
    GEOSContextHandle_t geos = package->geos;
    const struct pos_nm *o = &package->board.origin;
    GEOSCoordSequence *points = GEOSCoordSeq_create_r(geos, 2, 2);
    GEOSCoordSeq_setXY_r(geos, points, 0, (double)(a.x_nm - o->x_nm), (double)(a.y_nm - o->y_nm));
    GEOSCoordSeq_setXY_r(geos, points, 1, (double)(b.x_nm - o->x_nm), (double)(b.y_nm - o->y_nm));
    return GEOSGeom_createLineString_r(geos, points);
}

static GEOSGeometry *grown_line(const struct package *package, struct pos_nm a, struct pos_nm b,
                                double radius_nm)
{
    if (a.x_nm == b.x_nm && a.y_nm == b.y_nm)
        b.x_nm++; /* GEOS grows no line of length 0 */
    GEOSGeometry *line = line_of(package, a, b);
    GEOSGeometry *grown = GEOSBuffer_r(package->geos, line, radius_nm, 16);
    GEOSGeom_destroy_r(package->geos, line);
    assert_non_null(grown);
    return grown;
}

static size_t tie_hole(const struct package *package, struct islands *islands, uint32_t index)
{
    const struct board_hole *hole = &package->board.holes[index];
    GEOSGeometry *disc =
        grown_line(package, hole->hole.from, hole->hole.to, (double)hole->cut_nm / 2 + RIM_NM);
    size_t with = SIZE_MAX;
    for (uint16_t l = hole->layer_from; l <= hole->layer_to; l++)
        with = tie_islands(islands, package->geos, (size_t)l - 1, disc, with);
    GEOSGeom_destroy_r(package->geos, disc);
    return with;
}

static struct islands tie_all(const struct package *package, const struct layer_shapes *changed,
                              const struct change *change)
{
    struct islands islands = {0};
    for (size_t l = 0; l < package->board.layer_count; l++) {
        bool is_changed = &package->board.layers[l] == change->layer;
        islands.shapes[l] = is_changed ? changed : &package->shapes[l];
        islands.first[l] = islands.count;
        islands.count += (size_t)islands.shapes[l]->count;
    }
    islands.first[package->board.layer_count] = islands.count;
    islands.parent = calloc(islands.count + 1, sizeof *islands.parent);
    assert_non_null(islands.parent);
    for (size_t i = 0; i < islands.count; i++)
        islands.parent[i] = i;
    for (uint32_t h = 0; h < package->board.hole_count; h++)
        if (package->board.holes[h].is_plated)
            tie_hole(package, &islands, h);
    return islands;
}

/* The island at a place; SIZE_MAX: bare. */
static size_t island_at(const struct package *package, struct islands *islands, uint16_t layer,
                        struct pos_nm at)
{
    GEOSGeometry *spot = grown_line(package, at, (struct pos_nm){at.x_nm + 1, at.y_nm}, 10);
    size_t island = tie_islands(islands, package->geos, (size_t)layer - 1, spot, SIZE_MAX);
    GEOSGeom_destroy_r(package->geos, spot);
    return island;
}

static size_t group_of_contact(const struct package *package, struct islands *islands,
                               const struct contact *contact)
{
    size_t island = contact->hole != ISTHMUS_NONE
                        ? tie_hole(package, islands, contact->hole)
                        : island_at(package, islands, contact->layer_from, contact->place);
    if (island == SIZE_MAX)
        fail_msg("%s.%s at (%.4f, %.4f) mm has no copper, layer %u, hole %u", contact->ref,
                 contact->pin, (double)contact->place.x_nm / 1e6, (double)contact->place.y_nm / 1e6,
                 contact->layer_from, contact->hole);
    return group_of(islands, island);
}

/* Per net and group: does the net have a terminal, or named copper, there? */
struct answer {
    size_t net_count, group_count;
    uint8_t *has; /* 1 copper, 3 a terminal */
};

static struct answer ask_geos(const struct package *package, struct islands *islands)
{
    const struct board *board = &package->board;
    struct answer answer = {.net_count = board->net_count, .group_count = islands->count};
    answer.has = calloc(answer.net_count * answer.group_count + 1, 1);
    assert_non_null(answer.has);
    for (size_t t = 0; t < board->terminal_count; t++)
        for (size_t c = 0; c < board->terminals[t].contact_count; c++) {
            uint32_t net = board->terminals[t].net;
            if (net == ISTHMUS_NONE)
                continue;
            size_t group = group_of_contact(package, islands,
                                            &board->contacts[board->terminals[t].contacts[c]]);
            answer.has[net * answer.group_count + group] |= 3;
        }
    for (size_t c = 0; c < board->conductor_count; c++) {
        const struct conductor *conductor = &board->conductors[c];
        if (conductor->net == ISTHMUS_NONE)
            continue;
        size_t island = island_at(package, islands, conductor->place_layer, conductor->place);
        if (island != SIZE_MAX) /* SIZE_MAX: the break took just that copper away */
            answer.has[conductor->net * answer.group_count + group_of(islands, island)] |= 1;
    }
    return answer;
}

static size_t part_count(const struct answer *answer, size_t net)
{
    size_t count = 0;
    for (size_t g = 0; g < answer->group_count; g++)
        count += answer->has[net * answer->group_count + g] == 3;
    return count;
}

/* How many nets beside the first one lie in groups of several. */
static size_t join_count(const struct answer *answer)
{
    size_t joins = 0;
    for (size_t g = 0; g < answer->group_count; g++) {
        size_t nets = 0;
        for (size_t n = 0; n < answer->net_count; n++)
            nets += answer->has[n * answer->group_count + g] != 0;
        joins += nets > 1 ? nets - 1 : 0;
    }
    return joins;
}

static bool are_joined(const struct answer *answer, size_t a, size_t b)
{
    for (size_t g = 0; g < answer->group_count; g++)
        if (answer->has[a * answer->group_count + g] && answer->has[b * answer->group_count + g])
            return true;
    return false;
}

/* ---- what is found ---- */

struct trial {
    const struct package *package;
    const struct change *change;
    struct islands *islands;
    const struct answer *answer;
    struct board board; /* of the changed package */
    struct check_result result;
};

/* The same net in the unchanged package. */
static size_t net_before(const struct trial *trial, uint32_t net)
{
    const struct net *found = board_find_net(&trial->package->board, trial->board.nets[net].name);
    assert_non_null(found);
    return (size_t)(found - trial->package->board.nets);
}

static GEOSGeometry *copper_of_group(const struct trial *trial, size_t layer, size_t group)
{
    GEOSContextHandle_t geos = trial->package->geos;
    const struct layer_shapes *shapes = trial->islands->shapes[layer];
    GEOSGeometry **own = calloc((size_t)shapes->count + 1, sizeof *own);
    unsigned count = 0;
    assert_non_null(own);
    for (int i = 0; i < shapes->count; i++)
        if (group_of(trial->islands, trial->islands->first[layer] + (size_t)i) == group)
            own[count++] = GEOSGeom_clone_r(geos, GEOSGetGeometryN_r(geos, shapes->copper, i));
    GEOSGeometry *all = GEOSGeom_createCollection_r(geos, GEOS_GEOMETRYCOLLECTION, own, count);
    free(own);
    return all;
}

static double distance_to(const struct trial *trial, const GEOSGeometry *copper, struct pos_nm at)
{
    double nm = INFINITY;
    GEOSGeometry *spot = line_of(trial->package, at, at);
    GEOSDistance_r(trial->package->geos, copper, spot, &nm);
    GEOSGeom_destroy_r(trial->package->geos, spot);
    return nm;
}

/* The gap against the distance of the two parts on each layer that both are on. */
static const char *compare_gap(const struct trial *trial, size_t net,
                               const struct finding_piece *gap)
{
    size_t groups[2], count = 0;
    double least_nm = INFINITY, ends_nm = INFINITY;
    for (size_t g = 0; g < trial->answer->group_count && count < 2; g++)
        if (trial->answer->has[net * trial->answer->group_count + g] == 3)
            groups[count++] = g;
    for (size_t l = 0; l < trial->board.layer_count; l++) {
        GEOSGeometry *a = copper_of_group(trial, l, groups[0]);
        GEOSGeometry *b = copper_of_group(trial, l, groups[1]);
        double nm = INFINITY;
        bool is_both = GEOSisEmpty_r(trial->package->geos, a) == 0 &&
                       GEOSisEmpty_r(trial->package->geos, b) == 0;
        if (is_both && GEOSDistanceIndexed_r(trial->package->geos, a, b, &nm) == 1)
            least_nm = fmin(least_nm, nm);
        if (is_both && l + 1 == gap->layer)
            ends_nm = fmin(fmax(distance_to(trial, a, gap->from), distance_to(trial, b, gap->to)),
                           fmax(distance_to(trial, b, gap->from), distance_to(trial, a, gap->to)));
        GEOSGeom_destroy_r(trial->package->geos, a);
        GEOSGeom_destroy_r(trial->package->geos, b);
    }
    if (isinf(least_nm))
        return gap->layer_to ? NULL : "a gap on a layer that the parts do not share";
    if (fabs(gap->width_mm * 1e6 - least_nm) > 5)
        return "the gap has another length";
    return ends_nm <= 5 ? NULL : "the gap does not end on both parts";
}

static const char *compare_split(const struct trial *trial, const struct finding *finding)
{
    size_t net = net_before(trial, finding->net), parts = part_count(trial->answer, net);
    if (parts < 2)
        return "a split that is none";
    if (finding->part_count != parts || finding->place_count != parts - 1)
        return "another number of pieces";
    return parts == 2 ? compare_gap(trial, net, finding->places[0].pieces) : NULL;
}

static double distance_to_bridge_nm(const struct change *change, struct pos_nm at)
{
    double dx = (double)(change->b.x_nm - change->a.x_nm);
    double dy = (double)(change->b.y_nm - change->a.y_nm);
    double x = (double)(at.x_nm - change->a.x_nm), y = (double)(at.y_nm - change->a.y_nm);
    double t = fmin(1, fmax(0, (x * dx + y * dy) / (dx * dx + dy * dy)));
    return hypot(x - t * dx, y - t * dy);
}

static const char *compare_join(const struct trial *trial, const struct finding *finding)
{
    const struct finding_place *place = &finding->places[0];
    if (!trial->change->is_bridge || !are_joined(trial->answer, net_before(trial, finding->net),
                                                 net_before(trial, finding->other_net)))
        return "a join that is none";
    if (!finding->side_a_count || !finding->side_b_count)
        return place->piece_count == 0 ? NULL : "a cut without terminals";
    if (bridge_nm > THIN_NM)
        return place->piece_count ? NULL : "a cut of nothing";
    /* a bridge may run across one net from side to side of the other: cut on both */
    for (size_t i = 0; i < place->piece_count; i++)
        if (place->pieces[i].layer != trial->change->layer->position ||
            distance_to_bridge_nm(trial->change, place->pieces[i].middle) > bridge_nm)
            return "the join is not on the bridge";
    bool is_narrow = place->width_mm * 1e6 <= (bridge_nm + 2) * (double)place->piece_count;
    return is_narrow ? NULL : "wider than the bridge";
}

/* A name that may be two nets' (cut by the netlist) is not called split, but not judged either. */
static size_t count_cut_alike(const struct trial *trial)
{
    size_t count = 0;
    for (uint32_t n = 0; n < trial->board.net_count; n++)
        count += trial->board.nets[n].may_be_several && trial->board.nets[n].state == NET_SPLIT;
    return count;
}

static const char *compare(const struct trial *trial, size_t *opens, size_t *joins)
{
    size_t splits = 0, found_joins = 0;
    for (size_t n = 0; n < trial->answer->net_count; n++)
        *opens += part_count(trial->answer, n) > 1;
    *joins = join_count(trial->answer);
    for (size_t i = 0; i < trial->result.finding_count; i++) {
        const struct finding *finding = &trial->result.findings[i];
        const char *problem = finding->kind == FINDING_SPLIT ? compare_split(trial, finding)
                                                             : compare_join(trial, finding);
        if (problem)
            return problem;
        splits += finding->kind == FINDING_SPLIT;
        found_joins += finding->kind == FINDING_JOINED;
    }
    splits += count_cut_alike(trial);
    if (splits != *opens)
        return "a split is missed";
    return found_joins == *joins ? NULL : "a join is missed";
}

/* ---- trials ---- */

static void check_changed(struct trial *trial, struct arena *arena, struct file_table *files)
{
    struct diag_list diags = {.arena = arena};
    const struct package *package = trial->package;
    files_with(&package->files, trial->change->layer->file_id, trial->change->text, files);
    read_board(files, arena, &diags, &trial->board);
    const struct rule_context context = {
        .board = &trial->board, .margin_limit = 1, .arena = arena, .diags = &diags};
    assert_int_equal(rules_run(&context, &trial->result), RULE_OK);
}

struct tally {
    size_t tried, opens, joins, harmless, bridges, proven;
};

static void count_proven(const struct check_result *result, struct tally *tally)
{
    for (size_t i = 0; i < result->finding_count; i++) {
        bool is_cut = result->findings[i].kind == FINDING_JOINED &&
                      result->findings[i].places[0].piece_count > 0;
        tally->bridges += is_cut;
        tally->proven += is_cut && !result->findings[i].places[0].is_at_most;
    }
}

static void try_seed(struct package *package, uint64_t seed, struct tally *tally)
{
    uint64_t random = seed * 0x9E3779B97F4A7C15u;
    struct arena *arena = arena_new("trial");
    struct change change = {0};
    bool is_bridge = seed % 2;
    while (!(is_bridge ? draw_bridge(package, &random, arena, &change)
                       : break_stroke(package, &random, arena, &change)))
        change = (struct change){0};
    struct trial trial = {.package = package, .change = &change};
    struct file_table files = {0};
    check_changed(&trial, arena, &files);
    assert_memory_equal(&trial.board.origin, &package->board.origin, sizeof(struct pos_nm));
    struct layer_shapes changed =
        make_shapes(package->geos, &trial.board.layers[change.layer->position - 1]);
    struct islands islands = tie_all(package, &changed, &change);
    struct answer answer = ask_geos(package, &islands);
    trial.islands = &islands;
    trial.answer = &answer;
    size_t opens = 0, joins = 0;
    const char *problem = compare(&trial, &opens, &joins);
    if (problem)
        fail_msg("seed %llu, %s layer %u (%.4f, %.4f) to (%.4f, %.4f): %s (GEOS: %zu open, %zu "
                 "joined; found %zu)",
                 (unsigned long long)seed, is_bridge ? "bridge" : "break", change.layer->position,
                 (double)change.a.x_nm / 1e6, (double)change.a.y_nm / 1e6,
                 (double)change.b.x_nm / 1e6, (double)change.b.y_nm / 1e6, problem, opens, joins,
                 trial.result.finding_count);
    count_proven(&trial.result, tally);
    tally->tried++;
    tally->opens += opens > 0;
    tally->joins += joins > 0;
    tally->harmless += opens == 0 && joins == 0;
    free(answer.has);
    free(islands.parent);
    free_shapes(package->geos, &changed);
    board_free(&trial.board);
    file_table_free(&files);
    arena_free(arena);
}

static uint64_t number_of(const char *variable, uint64_t otherwise)
{
    const char *text = getenv(variable);
    return text ? strtoull(text, NULL, 10) : otherwise;
}

static void run_package(const char *path, uint64_t step, uint64_t offset)
{
    uint64_t count = number_of("ISTHMUS_SEEDS", SAMPLE_SEEDS);
    uint64_t from = number_of("ISTHMUS_SEED_FIRST", 1);
    struct package *package = open_package(path);
    struct tally tally = {0};
    for (uint64_t seed = from; seed < from + count; seed++)
        if ((seed / 2) % step == offset) /* a break and a bridge each */
            try_seed(package, seed, &tally);
    const char *name = strrchr(path, '/');
    print_message("%s: %zu changes: %zu open a net, %zu join nets, %zu do neither; all as GEOS "
                  "says; %zu of %zu cuts proven least\n",
                  name ? name + 1 : path, tally.tried, tally.opens, tally.joins, tally.harmless,
                  tally.proven, tally.bridges);
    if (bridge_nm <= THIN_NM)
        assert_int_equal(tally.proven, tally.bridges);
    close_package(package);
}

static void the_demo_board(void **state)
{
    (void)state;
    run_package("fixtures/coldframe/coldframe.zip", 5, 0);
}

static void the_demo_board_named_by_a_netlist(void **state)
{
    (void)state;
    run_package("fixtures/coldframe/coldframe-netlist.zip", 5, 4);
}

static void real_packages(void **state)
{
    (void)state;
    if (!getenv("ISTHMUS_BOARDS")) {
        print_message("set ISTHMUS_BOARDS to the folder of real packages to run this\n");
        skip();
    }
    const char *only = getenv("ISTHMUS_SEED_BOARD");
    for (uint64_t i = 0; i < FOLDER_COUNT; i++) {
        char path[1000];
        bool is_wanted = only ? strcmp(only, folders[i].name) == 0
                              : !folders[i].is_large || getenv("ISTHMUS_BOARDS_LARGE");
        snprintf(path, sizeof path, "%s/%s", boards_folder(), folders[i].name);
        if (is_wanted)
            run_package(path, only ? 1 : folders[i].step, only ? 0 : folders[i].offset);
    }
}

int main(void)
{
    bridge_nm = 1e3 * (double)number_of("ISTHMUS_BRIDGE_UM", (uint64_t)(THIN_NM / 1e3));
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_demo_board),
        cmocka_unit_test(the_demo_board_named_by_a_netlist),
        cmocka_unit_test(real_packages),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
