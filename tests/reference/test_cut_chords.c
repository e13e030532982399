/*
 * Least cuts between groups of terminals against ALL straight pieces of small shapes: every vertex
 * that sees another one and every foot on an edge, on one or two layers joined by plated holes. No
 * cones, nothing left out for being dominated or needless, nothing united. Two references:
 *
 * - an exhaustive search for the set of whole pieces and hole walls of least sum that parts the
 *   groups: each way from one group to the other must be blocked by one of the pieces that it
 *   crosses, so all of these are tried in turn
 * - where there are too many pieces for that, maximum flow (igraph) over the faces that all pieces
 *   divide the copper into, each side at its length
 *
 * Terminals of neither group are copper like all other copper. The faces come from the partition
 * that the program uses itself; which pieces there are, what they cost and what parts the groups
 * does not.
 *
 * ISTHMUS_SEEDS=N tries N shapes of each kind, ISTHMUS_SEED_FIRST=K starts at K.
 */
#include "assertions.h"
#include "neck_world.h"

#include <igraph/igraph.h>
#include <math.h>
#include "neck/partition.h"

enum { SAMPLE_SEEDS = 12, MOST_TERMINALS = 5, MOST_SHEETS = 2 };
#define TOLERANCE_MM2 2e-6 /* two nanometres of copper that counts in full */
/* The flow runs over parts of pieces, whose ends are rounded to whole nanometres where they cross.
 */
#define FLOW_TOLERANCE_MM2 4e-5
#define SLIVER_NM 3
#define SEARCH_LIMIT 4000 /* ways that the exhaustive search follows for one question */

static uint64_t random_state; /* splitmix64, Steele, Lea and Flood 2014 */

static uint32_t random_below(uint32_t limit)
{
    uint64_t z = (random_state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return (uint32_t)((z ^ (z >> 31)) % limit);
}

static double random_mm(double least, double most)
{
    return least + (most - least) * random_below(1u << 20) / (1u << 20);
}

/* ---- random shapes ---- */

static void add_star(struct world *world, uint32_t sheet, enum loop_effect effect, double x,
                     double y, double size, uint32_t most_corners)
{
    double xy[8][2];
    uint32_t count = 3 + random_below(most_corners - 2);
    double turn = random_mm(0, 6.28);
    for (uint32_t i = 0; i < count; i++) {
        double a = turn + 2 * M_PI * i / count, r = size * random_mm(0.4, 1);
        xy[i][0] = x + r * cos(a);
        xy[i][1] = y + r * sin(a);
    }
    world_polygon(world, sheet, effect, BOUND_ETCHED, ISTHMUS_NONE, xy, count);
}

/* Pads and holes keep off each other. */
struct spot {
    double x, y;
};
static struct spot spots[64];
static size_t spot_count;

static bool find_spot(double *x, double *y)
{
    for (int tries = 0; tries < 60; tries++) {
        bool is_clear = true;
        *x = random_mm(0.5, 6.5);
        *y = random_mm(0.5, 4.5);
        for (size_t i = 0; i < spot_count; i++)
            is_clear &= hypot(*x - spots[i].x, *y - spots[i].y) > 1.3;
        if (!is_clear)
            continue;
        spots[spot_count++] = (struct spot){*x, *y};
        return true;
    }
    return false;
}

static uint32_t add_pad(struct world *world, uint32_t sheet, uint32_t terminal, double x, double y)
{
    double w = random_mm(0.15, 0.45), h = random_mm(0.15, 0.45);
    return world_contact_box(world, sheet, terminal, x - w, y - h, x + w, y + h);
}

/* Through all layers, with a pad on some of them: elsewhere the rim is the contact. */
static void add_through_pad(struct world *world, uint32_t terminal, double x, double y)
{
    double radius = random_mm(0.15, 0.4);
    uint32_t lead = world_contact_disc(world, 0, terminal, x, y, radius - 0.01);
    for (uint32_t s = 0; s < world->sheet_count; s++)
        if (random_below(2))
            add_pad(world, s, terminal, x, y);
    world_hole(world, x, y, radius, random_mm(0.05, 1), lead);
}

static void add_terminal(struct world *world, uint32_t terminal)
{
    for (uint32_t i = random_below(4) == 0 ? 2 : 1; i > 0; i--) {
        double x, y;
        if (!find_spot(&x, &y))
            return;
        if (random_below(3) == 0)
            add_through_pad(world, terminal, x, y);
        else
            add_pad(world, random_below(world->sheet_count), terminal, x, y);
    }
}

static struct world *random_world(uint64_t seed, bool is_small)
{
    random_state = seed * 0x2545F4914F6CDD1Du;
    struct world *world = world_new();
    world->chord_error_nm = 60000;
    world->angle_rad = random_mm(0, 6.28);
    uint32_t sheets = 1 + random_below(MOST_SHEETS);
    for (uint32_t s = 0; s < sheets; s++)
        world_sheet(world, s ? random_mm(0.4, 1) : 1, s ? random_mm(0.4, 1) : 1);
    for (uint32_t s = 0; s < sheets; s++) {
        if (random_below(3))
            world_box(world, s, LOOP_ADDS, 0, 0, 7, random_mm(2, 5));
        else
            add_star(world, s, LOOP_ADDS, 3.5, 2.5, 4, 6);
        for (uint32_t i = random_below(is_small ? 3 : 6); i > 0; i--)
            add_star(world, s, LOOP_CUTS, random_mm(0, 7), random_mm(0, 5), random_mm(0.4, 1.8),
                     is_small ? 4 : 6);
        if (random_below(is_small ? 6 : 3) == 0)
            add_star(world, s, LOOP_ADDS, random_mm(0, 7), random_mm(0, 5), 1.5, 5);
    }
    double x, y;
    spot_count = 0;
    for (uint32_t i = sheets > 1 ? 1 + random_below(is_small ? 2 : 4) : random_below(2); i > 0; i--)
        if (find_spot(&x, &y))
            world_hole(world, x, y, random_mm(0.15, 0.3), random_mm(0.05, 1.5), ISTHMUS_NONE);
    uint32_t terminals = 2 + random_below(is_small ? 2 : MOST_TERMINALS - 1);
    for (uint32_t t = 0; t < terminals; t++)
        add_terminal(world, t);
    world_build(world);
    for (uint32_t s = 0; s < sheets; s++)
        world->neck_sheets[s].curves = NULL; /* the reference knows the flattened outline only */
    return world;
}

/* ---- all pieces of a layer ---- */

static struct pt from_of(const struct domain *domain, uint32_t t, unsigned i)
{
    return domain->points[domain->corner[t][(i + 1) % 3]];
}

static struct pt to_of(const struct domain *domain, uint32_t t, unsigned i)
{
    return domain->points[domain->corner[t][(i + 2) % 3]];
}

static bool crosses(struct pt a, struct pt b, struct pt p, struct pt q)
{
    return orient(a, b, p) * orient(a, b, q) < 0 && orient(p, q, a) * orient(p, q, b) < 0;
}

static bool is_copper_at(const struct domain *domain, double x, double y)
{
    for (uint32_t t = 0; t < domain->tri_count; t++) {
        double least = 1e300;
        for (unsigned i = 0; i < 3; i++) {
            struct pt a = from_of(domain, t, i), b = to_of(domain, t, i);
            double dx = (double)b.x - a.x, dy = (double)b.y - a.y;
            least = fmin(least, (dx * (y - a.y) - dy * (x - a.x)) / hypot(dx, dy));
        }
        if (least > -3)
            return true;
    }
    return false;
}

/* Within copper from a to b, in one step: no vertex between. */
static bool is_open(const struct domain *domain, struct pt a, struct pt b)
{
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++)
            if (domain->neighbour[t][i] == ISTHMUS_NONE &&
                crosses(a, b, from_of(domain, t, i), to_of(domain, t, i)))
                return false;
    for (uint32_t v = 0; v < domain->point_count; v++)
        if (orient(a, b, domain->points[v]) == 0 && dot(a, b, domain->points[v]) > 0 &&
            dot(b, a, domain->points[v]) > 0)
            return false;
    for (int i = 1; i < 32; i++)
        if (!is_copper_at(domain, a.x + ((double)b.x - a.x) * i / 32.0,
                          a.y + ((double)b.y - a.y) * i / 32.0))
            return false;
    return true;
}

static void add_piece(struct chord_list *list, struct chord chord)
{
    assert_true(array_grow(&list->items, sizeof *list->items, &list->capacity, list->count + 1));
    list->items[list->count++] = chord;
}

static void add_pairs(const struct domain *domain, struct chord_list *list)
{
    for (uint32_t a = 0; a < domain->point_count; a++)
        for (uint32_t b = a + 1; b < domain->point_count; b++) {
            struct pt pa = domain->points[a], pb = domain->points[b];
            if (is_open(domain, pa, pb))
                add_piece(list, (struct chord){.a = pa,
                                               .b = pb,
                                               .vertex_a = a,
                                               .vertex_b = b,
                                               .length_nm = sqrt((double)distance2(pa, pb))});
        }
}

static void add_feet(const struct domain *domain, struct chord_list *list)
{
    for (uint32_t a = 0; a < domain->point_count; a++)
        for (uint32_t t = 0; t < domain->tri_count; t++)
            for (unsigned i = 0; i < 3; i++) {
                struct pt at = domain->points[a];
                struct pt p = from_of(domain, t, i), q = to_of(domain, t, i);
                double part = (double)dot(p, q, at) / (double)distance2(p, q);
                if (domain->neighbour[t][i] != ISTHMUS_NONE || part <= 0 || part >= 1 ||
                    orient(p, q, at) <= 0)
                    continue;
                double x = p.x + part * ((double)q.x - p.x), y = p.y + part * ((double)q.y - p.y);
                double length = hypot(x - at.x, y - at.y), k = fmax(0, 1 - 2 / length);
                /* looked at a little short of the edge, so that rounding does not cross it */
                struct pt before = {(int32_t)lrint(at.x + k * (x - at.x)),
                                    (int32_t)lrint(at.y + k * (y - at.y))};
                if (is_open(domain, at, before))
                    add_piece(list, (struct chord){.a = at,
                                                   .b = {(int32_t)lrint(x), (int32_t)lrint(y)},
                                                   .vertex_a = a,
                                                   .vertex_b = ISTHMUS_NONE,
                                                   .foot_tri = t,
                                                   .foot_side = (uint8_t)i,
                                                   .length_nm = length});
            }
}

/* ---- faces and what lies between them ---- */

struct layer {
    struct domain domain;
    struct chord_list pieces;
    struct partition partition;
    uint32_t face_base; /* of its triangles */
    uint32_t item_base; /* of its pieces */
    double mm2_per_nm;
};
/* A side of a face: sources are the pieces along it. Across a rim, b is the hole's node. */
struct side {
    uint32_t a, b, layer, first_source, source_count;
    double area_mm2; /* INFINITY: no piece runs there */
};
struct next_side {
    uint32_t side, to;
};
struct faces {
    const struct world *world;
    struct layer layers[MOST_SHEETS];
    uint32_t tri_count, node_count; /* triangles, then holes */
    uint32_t item_count;            /* pieces, then walls */
    double *cost_mm2;               /* per item */
    uint32_t *face;                 /* per triangle: its face */
    uint32_t *terminal;             /* per node: or NONE */
    struct side *sides;
    size_t side_count, side_capacity;
    struct next_side *next; /* per node: next[first_next[node] ..] */
    uint32_t *first_next;
    struct arena *scratch;
};

static uint32_t hole_node(const struct faces *faces, uint32_t hole)
{
    return faces->tri_count + hole;
}

static uint32_t wall_item(const struct faces *faces, uint32_t hole)
{
    return faces->item_count - (uint32_t)faces->world->hole_count + hole;
}

static uint32_t face_of(const struct faces *faces, uint32_t node)
{
    while (faces->face[node] != node)
        node = faces->face[node] = faces->face[faces->face[node]];
    return node;
}

static void build_layers(struct faces *faces)
{
    const struct world *world = faces->world;
    uint32_t items = 0;
    for (uint32_t s = 0; s < world->sheet_count; s++) {
        struct layer *layer = &faces->layers[s];
        const struct neck_sheet *sheet = &world->neck_sheets[s];
        assert_int_equal(domain_build(&world->net, sheet, faces->scratch, &layer->domain), NECK_OK);
        add_pairs(&layer->domain, &layer->pieces);
        add_feet(&layer->domain, &layer->pieces);
        assert_int_equal(partition_build(&layer->domain, &layer->pieces, &layer->partition),
                         NECK_OK);
        assert_false(layer->partition.is_too_dense);
        layer->mm2_per_nm = sheet->thickness_mm * sheet->weight * 1e-6;
        layer->face_base = faces->tri_count;
        layer->item_base = items;
        faces->tri_count += layer->partition.cdt.tri_count;
        items += (uint32_t)layer->pieces.count;
    }
    faces->node_count = faces->tri_count + (uint32_t)world->hole_count;
    faces->item_count = items + (uint32_t)world->hole_count;
}

static void price_items(struct faces *faces)
{
    faces->cost_mm2 = malloc((faces->item_count + 1) * sizeof *faces->cost_mm2);
    assert_non_null(faces->cost_mm2);
    for (uint32_t s = 0; s < faces->world->sheet_count; s++) {
        const struct layer *layer = &faces->layers[s];
        for (size_t c = 0; c < layer->pieces.count; c++)
            faces->cost_mm2[layer->item_base + c] =
                layer->pieces.items[c].length_nm * layer->mm2_per_nm;
    }
    for (uint32_t h = 0; h < faces->world->hole_count; h++)
        faces->cost_mm2[wall_item(faces, h)] = faces->world->holes[h].wall_area_mm2;
}

/* How much of a piece a seam is: its own ends are rounded. */
static double length_along(const struct chord *piece, const struct seam *seam)
{
    double x = (double)piece->b.x - piece->a.x, y = (double)piece->b.y - piece->a.y;
    double along = x * ((double)seam->q.x - seam->p.x) + y * ((double)seam->q.y - seam->p.y);
    return fabs(along) / hypot(x, y);
}

static void add_side(struct faces *faces, uint32_t s, uint32_t t, unsigned i, uint32_t to)
{
    const struct layer *layer = &faces->layers[s];
    const struct partition *partition = &layer->partition;
    uint32_t seam = partition->cdt.chain[t][i];
    struct side side = {.a = layer->face_base + t, .b = to, .layer = s, .area_mm2 = INFINITY};
    if (seam != ISTHMUS_NONE) {
        const struct seam *along = &partition->seams[seam];
        uint32_t first = along->first_source, count = along->source_count;
        for (; count && partition->sources[first] < partition->edge_count; first++)
            count--;
        side.first_source = first;
        side.source_count = count;
        for (uint32_t k = 0; k < count; k++)
            side.area_mm2 = fmin(
                side.area_mm2,
                length_along(
                    &layer->pieces.items[partition->sources[first + k] - partition->edge_count],
                    along) *
                    layer->mm2_per_nm);
    }
    if (side.source_count == 0) { /* nothing parts the two */
        faces->face[face_of(faces, side.b)] = face_of(faces, side.a);
        return;
    }
    assert_true(array_grow(&faces->sides, sizeof *faces->sides, &faces->side_capacity,
                           faces->side_count + 1));
    faces->sides[faces->side_count++] = side;
}

static void list_sides(struct faces *faces, uint32_t s)
{
    const struct layer *layer = &faces->layers[s];
    const struct partition *partition = &layer->partition;
    for (uint32_t t = 0; t < partition->cdt.tri_count; t++)
        for (unsigned i = 0; i < 3 && partition->label[t] != LABEL_BARE; i++) {
            const struct seam *edge = partition_boundary(partition, t, i);
            uint32_t across = partition->cdt.neighbour[t][i];
            if (edge) {
                uint32_t hole = partition_rim_hole(partition, edge);
                if (hole < faces->world->hole_count)
                    add_side(faces, s, t, i, hole_node(faces, hole));
            } else if (across != ISTHMUS_NONE && across > t &&
                       partition->label[across] != LABEL_BARE) {
                add_side(faces, s, t, i, layer->face_base + across);
            }
        }
}

static void link_sides(struct faces *faces)
{
    uint32_t *first = calloc((size_t)faces->node_count + 2, sizeof *first);
    faces->next = malloc((2 * faces->side_count + 1) * sizeof *faces->next);
    faces->first_next = first;
    assert_true(first && faces->next);
    for (size_t i = 0; i < faces->side_count; i++) {
        struct side *side = &faces->sides[i];
        side->a = face_of(faces, side->a);
        side->b = face_of(faces, side->b);
        first[side->a + 2]++;
        first[side->b + 2]++;
    }
    for (uint32_t n = 2; n < faces->node_count + 2; n++)
        first[n] += first[n - 1];
    for (uint32_t i = 0; i < faces->side_count; i++) {
        const struct side *side = &faces->sides[i];
        faces->next[first[side->a + 1]++] = (struct next_side){i, side->b};
        faces->next[first[side->b + 1]++] = (struct next_side){i, side->a};
    }
}

static void note_terminals(struct faces *faces)
{
    const struct world *world = faces->world;
    faces->terminal = malloc((faces->node_count + 1) * sizeof *faces->terminal);
    assert_non_null(faces->terminal);
    memset(faces->terminal, 0xff, faces->node_count * sizeof *faces->terminal);
    for (uint32_t s = 0; s < world->sheet_count; s++) {
        const struct layer *layer = &faces->layers[s];
        for (uint32_t t = 0; t < layer->partition.cdt.tri_count; t++)
            if (label_is_contact(layer->partition.label[t]))
                faces->terminal[face_of(faces, layer->face_base + t)] =
                    world->contacts[label_owner(layer->partition.label[t])].terminal;
    }
    for (uint32_t h = 0; h < world->hole_count; h++) /* a soldered lead fills its hole */
        if (world->holes[h].contact != ISTHMUS_NONE)
            faces->terminal[hole_node(faces, h)] =
                world->contacts[world->holes[h].contact].terminal;
}

static struct faces *faces_new(const struct world *world)
{
    struct faces *faces = calloc(1, sizeof *faces);
    assert_non_null(faces);
    faces->world = world;
    faces->scratch = arena_new("faces");
    build_layers(faces);
    price_items(faces);
    faces->face = malloc((faces->node_count + 1) * sizeof *faces->face);
    assert_non_null(faces->face);
    for (uint32_t n = 0; n < faces->node_count; n++)
        faces->face[n] = n;
    for (uint32_t s = 0; s < world->sheet_count; s++)
        list_sides(faces, s);
    link_sides(faces);
    note_terminals(faces);
    return faces;
}

static void faces_free(struct faces *faces)
{
    for (uint32_t s = 0; s < faces->world->sheet_count; s++) {
        free(faces->layers[s].pieces.items);
        partition_free(&faces->layers[s].partition);
    }
    free(faces->cost_mm2);
    free(faces->face);
    free(faces->terminal);
    free(faces->sides);
    free(faces->next);
    free(faces->first_next);
    arena_free(faces->scratch);
    free(faces);
}

/*
 * Where an outline meets an edge that is not square to it the corner is rounded, and may come to
 * lie a part of a nanometre within: what is copper or pad in the sliver between nobody can tell.
 */
static bool has_slivers(const struct faces *faces)
{
    for (uint32_t s = 0; s < faces->world->sheet_count; s++) {
        const struct layer *layer = &faces->layers[s];
        for (size_t c = 0; c < layer->pieces.count; c++) {
            const struct chord *piece = &layer->pieces.items[c];
            if (piece->length_nm < SLIVER_NM &&
                !layer->domain.vertices[piece->vertex_a].is_boundary)
                return true;
        }
    }
    return false;
}

/* Which terminals have copper of their own. */
static void note_present(const struct faces *faces, bool *has)
{
    for (uint32_t n = 0; n < faces->node_count; n++)
        if (faces->terminal[n] != ISTHMUS_NONE)
            has[faces->terminal[n]] = true;
}

static uint8_t side_of(const struct faces *faces, uint32_t node, const uint8_t *side)
{
    return faces->terminal[node] == ISTHMUS_NONE ? 0 : side[faces->terminal[node]];
}

/* ---- maximum flow over the faces ---- */

struct arcs {
    igraph_vector_int_t ends;
    igraph_vector_t areas;
};

static void add_arc(struct arcs *arcs, uint32_t a, uint32_t b, double area_mm2)
{
    assert_int_equal(igraph_vector_int_push_back(&arcs->ends, a), IGRAPH_SUCCESS);
    assert_int_equal(igraph_vector_int_push_back(&arcs->ends, b), IGRAPH_SUCCESS);
    assert_int_equal(igraph_vector_push_back(&arcs->areas, area_mm2), IGRAPH_SUCCESS);
}

#define WIDE_MM2 1e6

/* A hole goes in at its node and out at one behind all others. */
static void fill_arcs(const struct faces *faces, const uint8_t *side, struct arcs *arcs)
{
    uint32_t holes = (uint32_t)faces->world->hole_count, source = faces->node_count + holes;
    for (size_t i = 0; i < faces->side_count; i++) {
        const struct side *s = &faces->sides[i];
        add_arc(arcs, s->a, s->b, s->area_mm2);
        add_arc(arcs, s->b >= faces->tri_count ? s->b + holes : s->b, s->a, s->area_mm2);
    }
    for (uint32_t h = 0; h < holes; h++)
        add_arc(arcs, hole_node(faces, h), hole_node(faces, h) + holes,
                faces->world->holes[h].wall_area_mm2);
    for (uint32_t n = 0; n < faces->node_count; n++) {
        uint32_t in = n, out = n >= faces->tri_count ? n + holes : n;
        if (side_of(faces, n, side) == 1) {
            add_arc(arcs, source, in, WIDE_MM2);
            add_arc(arcs, source, out, WIDE_MM2);
        } else if (side_of(faces, n, side) == 2) {
            add_arc(arcs, in, source + 1, WIDE_MM2);
            add_arc(arcs, out, source + 1, WIDE_MM2);
        }
    }
}

static double least_by_flow(const struct faces *faces, const uint8_t *side)
{
    igraph_integer_t source = faces->node_count + (igraph_integer_t)faces->world->hole_count;
    struct arcs arcs;
    igraph_t graph;
    igraph_real_t area_mm2 = 0;
    assert_int_equal(igraph_vector_int_init(&arcs.ends, 0), IGRAPH_SUCCESS);
    assert_int_equal(igraph_vector_init(&arcs.areas, 0), IGRAPH_SUCCESS);
    fill_arcs(faces, side, &arcs);
    assert_int_equal(igraph_create(&graph, &arcs.ends, source + 2, IGRAPH_DIRECTED),
                     IGRAPH_SUCCESS);
    assert_int_equal(igraph_maxflow_value(&graph, &area_mm2, source, source + 1, &arcs.areas, NULL),
                     IGRAPH_SUCCESS);
    igraph_destroy(&graph);
    igraph_vector_destroy(&arcs.areas);
    igraph_vector_int_destroy(&arcs.ends);
    return area_mm2;
}

/* ---- exhaustive search ---- */

struct search {
    const struct faces *faces;
    const uint8_t *side;
    uint8_t *item_state; /* per item: FREE, CHOSEN, or EXCLUDED */
    uint32_t *queue, *from_node, *from_side;
    double least_mm2;
    size_t step_count;
};
enum { ITEM_FREE, ITEM_CHOSEN, ITEM_EXCLUDED };

static uint32_t source_item(const struct faces *faces, const struct side *side, uint32_t k)
{
    const struct layer *layer = &faces->layers[side->layer];
    return layer->item_base + layer->partition.sources[side->first_source + k] -
           layer->partition.edge_count;
}

static bool is_blocked(const struct search *search, const struct side *side)
{
    for (uint32_t k = 0; k < side->source_count; k++)
        if (search->item_state[source_item(search->faces, side, k)] == ITEM_CHOSEN)
            return true;
    return false;
}

/* A hole whose wall is cut joins nothing, unless a lead of either group fills it. */
static bool is_cut_through(const struct search *search, uint32_t node)
{
    const struct faces *faces = search->faces;
    return node >= faces->tri_count && side_of(faces, node, search->side) == 0 &&
           search->item_state[wall_item(faces, node - faces->tri_count)] == ITEM_CHOSEN;
}

/* The node of the second group that is reached first, or ISTHMUS_NONE. */
static uint32_t find_way(struct search *search)
{
    const struct faces *faces = search->faces;
    uint32_t head = 0, tail = 0;
    memset(search->from_side, 0xff, faces->node_count * sizeof *search->from_side);
    memset(search->from_node, 0xff, faces->node_count * sizeof *search->from_node);
    for (uint32_t n = 0; n < faces->node_count; n++)
        if (side_of(faces, n, search->side) == 1) {
            search->from_node[n] = n;
            search->queue[tail++] = n;
        }
    while (head < tail) {
        uint32_t at = search->queue[head++];
        if (side_of(faces, at, search->side) == 2)
            return at;
        for (uint32_t k = faces->first_next[at]; k < faces->first_next[at + 1]; k++) {
            const struct next_side *next = &faces->next[k];
            if (search->from_node[next->to] != ISTHMUS_NONE ||
                is_blocked(search, &faces->sides[next->side]) || is_cut_through(search, next->to))
                continue;
            search->from_node[next->to] = at;
            search->from_side[next->to] = next->side;
            search->queue[tail++] = next->to;
        }
    }
    return ISTHMUS_NONE;
}

static void note_item(const struct search *search, uint32_t item, uint32_t *items, size_t *count)
{
    if (search->item_state[item] != ITEM_FREE)
        return;
    for (size_t i = 0; i < *count; i++)
        if (items[i] == item)
            return;
    items[(*count)++] = item;
}

/* Everything that would block the way just found, and is not excluded. */
static uint32_t *items_on_way(const struct search *search, uint32_t end, size_t *count)
{
    const struct faces *faces = search->faces;
    uint32_t *items = malloc((faces->item_count + 1) * sizeof *items);
    assert_non_null(items);
    *count = 0;
    for (uint32_t at = end; search->from_side[at] != ISTHMUS_NONE; at = search->from_node[at]) {
        const struct side *side = &faces->sides[search->from_side[at]];
        for (uint32_t k = 0; k < side->source_count; k++)
            note_item(search, source_item(faces, side, k), items, count);
        if (at >= faces->tri_count && side_of(faces, at, search->side) == 0)
            note_item(search, wall_item(faces, at - faces->tri_count), items, count);
    }
    return items;
}

/* false: too many ways. */
static bool try_all(struct search *search, double sum_mm2)
{
    if (++search->step_count > SEARCH_LIMIT)
        return false;
    uint32_t end = find_way(search);
    if (end == ISTHMUS_NONE) {
        search->least_mm2 = fmin(search->least_mm2, sum_mm2);
        return true;
    }
    size_t count;
    uint32_t *items = items_on_way(search, end, &count);
    bool is_done = true;
    for (size_t i = 0; i < count && is_done; i++) {
        double with_mm2 = sum_mm2 + search->faces->cost_mm2[items[i]];
        if (with_mm2 < search->least_mm2) {
            search->item_state[items[i]] = ITEM_CHOSEN;
            is_done = try_all(search, with_mm2);
        }
        search->item_state[items[i]] = ITEM_EXCLUDED;
    }
    for (size_t i = 0; i < count; i++)
        search->item_state[items[i]] = ITEM_FREE;
    free(items);
    return is_done;
}

/* NAN: too many ways. Sums from `limit_mm2` on are not looked for: INFINITY. */
static double least_by_search(const struct faces *faces, const uint8_t *side, double limit_mm2)
{
    struct search search = {.faces = faces, .side = side, .least_mm2 = limit_mm2};
    search.item_state = calloc(faces->item_count + 1, 1);
    search.queue = malloc((faces->node_count + 1) * sizeof *search.queue);
    search.from_node = malloc((faces->node_count + 1) * sizeof *search.from_node);
    search.from_side = malloc((faces->node_count + 1) * sizeof *search.from_side);
    assert_true(search.item_state && search.queue && search.from_node && search.from_side);
    bool is_done = try_all(&search, 0);
    free(search.item_state);
    free(search.queue);
    free(search.from_node);
    free(search.from_side);
    if (!is_done)
        return NAN;
    return search.least_mm2 < limit_mm2 ? search.least_mm2 : INFINITY;
}

/* ---- comparison ---- */

struct tally {
    size_t shapes, flows, searches, given_up, apart, wrong;
};

/* What the program says, looking for cuts below limit_mm2. */
static bool measure(struct world *world, const uint8_t *side, double limit_mm2, double *area_mm2)
{
    struct neck_meter *meter;
    struct neck_place place;
    bool is_over_limit, is_found;
    assert_int_equal(neck_meter_new(&world->net, limit_mm2, 100000, &meter, &is_over_limit),
                     NECK_OK);
    assert_false(is_over_limit);
    assert_int_equal(neck_meter_cut(meter, side, world->arena, &place, &is_found), NECK_OK);
    *area_mm2 = is_found ? place.area_mm2 : INFINITY;
    neck_meter_free(meter);
    return is_found;
}

static void note_wrong(const char *what, uint64_t seed, const uint8_t *side, double found,
                       double expected, struct tally *tally)
{
    print_error("seed %llu, %s, sides %d %d %d %d %d: found %.7f, expected %.7f\n",
                (unsigned long long)seed, what, side[0], side[1], side[2], side[3], side[4], found,
                expected);
    tally->wrong++;
}

static void compare_search(const struct faces *faces, const uint8_t *side, double found,
                           uint64_t seed, struct tally *tally)
{
    double searched = least_by_search(faces, side, found + 0.001);
    if (isnan(searched)) {
        tally->given_up++;
        return;
    }
    tally->searches++;
    if (!(fabs(searched - found) <= TOLERANCE_MM2))
        note_wrong("exhaustive", seed, side, found, searched, tally);
}

static void ask(struct world *world, const struct faces *faces, const uint8_t *side, uint64_t seed,
                bool is_small, struct tally *tally)
{
    double expected = least_by_flow(faces, side), found;
    if (expected <= 0) {
        tally->apart++;
        return;
    }
    if (!measure(world, side, expected * 1.02 + 1e-4, &found) ||
        fabs(found - expected) > FLOW_TOLERANCE_MM2)
        note_wrong("flow", seed, side, found, expected, tally);
    tally->flows++;
    if (is_small && isfinite(found))
        compare_search(faces, side, found, seed, tally);
}

static bool draw_sides(const struct faces *faces, uint8_t *side)
{
    bool has[3] = {0}, is_present[MOST_TERMINALS] = {0};
    note_present(faces, is_present);
    for (size_t t = 0; t < MOST_TERMINALS; t++) {
        uint8_t drawn = (uint8_t)(random_below(5) == 0 ? 0 : 1 + random_below(2));
        side[t] = is_present[t] ? drawn : 0;
        has[side[t]] = true;
    }
    return has[1] && has[2];
}

static void check_world(uint64_t seed, bool is_small, struct tally *tally)
{
    struct world *world = random_world(seed, is_small);
    struct faces *faces = faces_new(world);
    bool is_fit = !has_slivers(faces);
    tally->shapes += is_fit;
    for (int i = 0; i < 4 && is_fit; i++) {
        uint8_t side[MOST_TERMINALS] = {0};
        if (draw_sides(faces, side))
            ask(world, faces, side, seed, is_small, tally);
    }
    faces_free(faces);
    world_free(world);
}

static uint64_t number_from(const char *variable, uint64_t otherwise)
{
    const char *text = getenv(variable);
    return text ? strtoull(text, NULL, 10) : otherwise;
}

static void check_worlds(bool is_small)
{
    struct tally tally = {0};
    uint64_t first = number_from("ISTHMUS_SEED_FIRST", 1);
    uint64_t count = number_from("ISTHMUS_SEEDS", SAMPLE_SEEDS);
    for (uint64_t seed = first; seed < first + count; seed++)
        check_world(seed, is_small, &tally);
    print_message("%zu shapes: %zu least cuts by flow, %zu by exhaustive search (%zu too large), "
                  "%zu apart\n",
                  tally.shapes, tally.flows, tally.searches, tally.given_up, tally.apart);
    assert_int_equal(tally.wrong, 0);
}

static void no_set_of_pieces_is_smaller_than_the_least_cut(void **state)
{
    (void)state;
    check_worlds(true);
}

static void the_least_cut_is_the_flow_over_all_pieces(void **state)
{
    (void)state;
    check_worlds(false);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_set_of_pieces_is_smaller_than_the_least_cut),
        cmocka_unit_test(the_least_cut_is_the_flow_over_all_pieces),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
