/*
 * The search for taut pieces against brute force: every pair of vertices and every vertex and
 * boundary edge of random shapes, with visibility decided by testing all edges. No miss allowed.
 */
#include "assertions.h"
#include "neck_world.h"

#include <math.h>
#include "neck/taut.h"

static uint64_t random_state;

static uint32_t random_below(uint32_t limit)
{
    random_state = random_state * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)((random_state >> 33) % limit);
}

/* Coarse coordinates make collinear points and touching lines common. */
static double random_mm(bool is_coarse, double most)
{
    if (is_coarse)
        return random_below((uint32_t)(most * 4) + 1) / 4.0;
    return random_below((uint32_t)(most * 10000)) / 10000.0;
}

static void add_star(struct world *world, enum loop_effect effect, enum bound_kind kind,
                     uint32_t owner, bool is_coarse)
{
    double xy[12][2], cx = random_mm(is_coarse, 10), cy = random_mm(is_coarse, 10);
    size_t count = 3 + random_below(9);
    for (size_t i = 0; i < count; i++) {
        double a = 2 * acos(-1) * (double)i / (double)count;
        double r = 0.2 + random_below(200) / 100.0;
        xy[i][0] = cx + r * cos(a);
        xy[i][1] = cy + r * sin(a);
        if (is_coarse) {
            xy[i][0] = round(xy[i][0] * 4) / 4;
            xy[i][1] = round(xy[i][1] * 4) / 4;
        }
    }
    world_polygon(world, 0, effect, kind, owner, xy, count);
}

static void add_box_contact(struct world *world, uint32_t terminal, bool is_coarse)
{
    double x = random_mm(is_coarse, 9), y = random_mm(is_coarse, 9);
    double w = 0.25 + random_mm(is_coarse, 1), h = 0.25 + random_mm(is_coarse, 1);
    world_contact_box(world, 0, terminal, x, y, x + w, y + h);
}

static struct world *random_world(uint64_t seed)
{
    random_state = seed;
    struct world *world = world_new();
    bool is_coarse = random_below(2) == 0;
    world->chord_error_nm = 20000;
    world_sheet(world, 1, 1);
    world_box(world, 0, LOOP_ADDS, 0, 0, 10, 10);
    for (uint32_t i = random_below(6); i > 0; i--)
        add_star(world, LOOP_CUTS, BOUND_ETCHED, ISTHMUS_NONE, is_coarse);
    for (uint32_t i = random_below(3); i > 0; i--)
        add_star(world, LOOP_ADDS, BOUND_ETCHED, ISTHMUS_NONE, is_coarse);
    for (uint32_t i = random_below(4); i > 0; i--)
        world_disc(world, 0, LOOP_CUTS, BOUND_ETCHED, ISTHMUS_NONE, random_mm(is_coarse, 10),
                   random_mm(is_coarse, 10), 0.25 + random_mm(is_coarse, 1));
    for (uint32_t i = random_below(4); i > 0; i--)
        world_hole(world, random_mm(is_coarse, 10), random_mm(is_coarse, 10), 0.25, 0.1,
                   ISTHMUS_NONE);
    uint32_t contacts = random_below(5);
    for (uint32_t i = 0; i < contacts; i++)
        add_box_contact(world, i, is_coarse);
    world_build(world);
    return world;
}

/* ---- brute force; no use of the cones of the search ---- */

/* The neighbours of a vertex along boundaries and outlines. */
struct corner_facts {
    struct pt at;
    struct pt out[2], in[2]; /* boundary: where it goes to and comes from */
    size_t wedge_count;
    bool is_rim;
    struct pt marks[8][2]; /* outline of one contact: the two vertices beside this one */
    size_t mark_count;
};
struct shape {
    const struct domain *domain;
    struct corner_facts *corners;
};

static struct pt side_from(const struct domain *domain, uint32_t t, unsigned i)
{
    return domain->points[domain->corner[t][(i + 1) % 3]];
}

static struct pt side_to(const struct domain *domain, uint32_t t, unsigned i)
{
    return domain->points[domain->corner[t][(i + 2) % 3]];
}

static bool is_same(struct pt a, struct pt b)
{
    return a.x == b.x && a.y == b.y;
}

/* Does the open segment a-b meet the closed edge p-q? */
static bool meets(struct pt a, struct pt b, struct pt p, struct pt q)
{
    int o1 = orient(a, b, p), o2 = orient(a, b, q), o3 = orient(p, q, a), o4 = orient(p, q, b);
    if (o1 == 0 && dot(a, b, p) > 0 && dot(b, a, p) > 0)
        return true;
    if (o2 == 0 && dot(a, b, q) > 0 && dot(b, a, q) > 0)
        return true;
    return o1 * o2 < 0 && o3 * o4 < 0;
}

static bool is_inside_triangle(const struct domain *domain, uint32_t t, double x, double y)
{
    for (unsigned i = 0; i < 3; i++) {
        struct pt a = side_from(domain, t, i), b = side_to(domain, t, i);
        if ((b.x - (double)a.x) * (y - a.y) - (b.y - (double)a.y) * (x - a.x) < -1)
            return false;
    }
    return true;
}

static bool is_copper(const struct domain *domain, double x, double y)
{
    for (uint32_t t = 0; t < domain->tri_count; t++)
        if (is_inside_triangle(domain, t, x, y))
            return true;
    return false;
}

/* Strictly: nothing of the boundary touches the open segment. */
static bool sees(const struct domain *domain, struct pt a, struct pt b, uint32_t but_tri,
                 unsigned but_side)
{
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++)
            if (domain->neighbour[t][i] == ISTHMUS_NONE && !(t == but_tri && i == but_side) &&
                meets(a, b, side_from(domain, t, i), side_to(domain, t, i)))
                return false;
    return is_copper(domain, (a.x + (double)b.x) / 2, (a.y + (double)b.y) / 2);
}

static void gather_corners(struct shape *shape)
{
    const struct domain *domain = shape->domain;
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            if (domain->neighbour[t][i] != ISTHMUS_NONE)
                continue;
            struct corner_facts *from = &shape->corners[domain->corner[t][(i + 1) % 3]];
            struct corner_facts *to = &shape->corners[domain->corner[t][(i + 2) % 3]];
            from->out[0] = side_to(domain, t, i);
            to->in[0] = side_from(domain, t, i);
            from->wedge_count++;
            bool is_rim = domain_bound_kind(domain, t, i) == BOUND_RIM;
            from->is_rim |= is_rim;
            to->is_rim |= is_rim;
        }
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            uint32_t across = domain->neighbour[t][i];
            if (across == ISTHMUS_NONE || domain->contact[t] == ISTHMUS_NONE ||
                domain->contact[across] == domain->contact[t])
                continue;
            /* contact on the left of from -> to: the next edge of the same contact starts at to */
            for (uint32_t u = 0; u < domain->tri_count; u++)
                for (unsigned k = 0; k < 3; k++) {
                    uint32_t beyond = domain->neighbour[u][k];
                    if (domain->contact[u] != domain->contact[t] || beyond == ISTHMUS_NONE ||
                        domain->contact[beyond] == domain->contact[t] ||
                        !is_same(side_from(domain, u, k), side_to(domain, t, i)))
                        continue;
                    struct corner_facts *at = &shape->corners[domain->corner[t][(i + 2) % 3]];
                    if (at->mark_count >= 8 ||
                        orient(side_from(domain, t, i), at->at, side_to(domain, u, k)) < 0)
                        continue;
                    at->marks[at->mark_count][0] = side_from(domain, t, i);
                    at->marks[at->mark_count++][1] = side_to(domain, u, k);
                }
        }
}

static bool is_tangent(struct pt at, struct pt other, struct pt one, struct pt two)
{
    return orient(at, other, one) * orient(at, other, two) > 0;
}

/* Tautness at a vertex, strictly inside every bound. */
static bool is_taut(const struct corner_facts *corner, struct pt other)
{
    if (corner->wedge_count > 1)
        return false; /* the boundary passes twice: not judged here */
    if (corner->wedge_count == 1) {
        bool is_end =
            dot(corner->at, corner->out[0], other) < 0 && dot(corner->at, corner->in[0], other) < 0;
        bool is_convex_hole = orient(corner->in[0], corner->at, corner->out[0]) < 0;
        return is_end || (corner->is_rim && is_convex_hole &&
                          is_tangent(corner->at, other, corner->in[0], corner->out[0]));
    }
    for (size_t m = 0; m < corner->mark_count; m++)
        if (is_tangent(corner->at, other, corner->marks[m][0], corner->marks[m][1]))
            return true;
    return false;
}

static bool has_chord(const struct chord_list *list, uint32_t a, uint32_t b, uint32_t tri,
                      unsigned side)
{
    for (size_t i = 0; i < list->count; i++) {
        const struct chord *chord = &list->items[i];
        if (tri != ISTHMUS_NONE
                ? chord->vertex_a == a && chord->foot_tri == tri && chord->foot_side == side
                : (chord->vertex_a == a && chord->vertex_b == b) ||
                      (chord->vertex_a == b && chord->vertex_b == a))
            return true;
    }
    return false;
}

static size_t check_pairs(const struct shape *shape, const struct chord_list *list, double reach_nm,
                          uint64_t seed)
{
    const struct domain *domain = shape->domain;
    size_t checked = 0;
    for (uint32_t a = 0; a < domain->point_count; a++)
        for (uint32_t b = a + 1; b < domain->point_count; b++) {
            struct pt pa = domain->points[a], pb = domain->points[b];
            if (sqrt((double)distance2(pa, pb)) > reach_nm || !is_taut(&shape->corners[a], pb) ||
                !is_taut(&shape->corners[b], pa) || !sees(domain, pa, pb, ISTHMUS_NONE, 0))
                continue;
            checked++;
            if (!has_chord(list, a, b, ISTHMUS_NONE, 0))
                fail_msg("seed %llu: %d,%d to %d,%d missed", (unsigned long long)seed, pa.x, pa.y,
                         pb.x, pb.y);
        }
    return checked;
}

static bool foot_of(struct pt at, struct pt p, struct pt q, struct pt *foot)
{
    double length2 = (double)distance2(p, q), t = (double)dot(p, q, at) / length2;
    *foot = (struct pt){(int32_t)lrint(p.x + t * ((double)q.x - p.x)),
                        (int32_t)lrint(p.y + t * ((double)q.y - p.y))};
    return t > 1e-6 && t < 1 - 1e-6 && orient(p, q, at) > 0;
}

/* Does a boundary vertex lie on the way to the foot, exactly? Then it is reached in two pieces. */
static bool touches(const struct domain *domain, struct pt at, struct pt square, struct pt foot)
{
    for (uint32_t v = 0; v < domain->point_count; v++)
        if (domain->vertices[v].is_boundary && orient(at, square, domain->points[v]) == 0 &&
            dot(at, square, domain->points[v]) > 0 &&
            distance2(at, domain->points[v]) < distance2(at, foot))
            return true;
    return false;
}

static size_t check_feet(const struct shape *shape, const struct chord_list *list, double reach_nm,
                         uint64_t seed)
{
    const struct domain *domain = shape->domain;
    size_t checked = 0;
    for (uint32_t a = 0; a < domain->point_count; a++)
        for (uint32_t t = 0; t < domain->tri_count; t++)
            for (unsigned i = 0; i < 3; i++) {
                struct pt foot, at = domain->points[a];
                struct pt from = side_from(domain, t, i), to = side_to(domain, t, i);
                /* The direction to the foot, exactly: square to the edge. */
                struct pt square = {at.x + (to.y - from.y), at.y - (to.x - from.x)};
                if (domain->neighbour[t][i] != ISTHMUS_NONE || !foot_of(at, from, to, &foot) ||
                    sqrt((double)distance2(at, foot)) > reach_nm - 2 ||
                    !is_taut(&shape->corners[a], square) || touches(domain, at, square, foot) ||
                    !sees(domain, at, foot, t, i))
                    continue;
                checked++;
                if (!has_chord(list, a, 0, t, i))
                    fail_msg("seed %llu: %d,%d to foot %d,%d missed", (unsigned long long)seed,
                             at.x, at.y, foot.x, foot.y);
            }
    return checked;
}

/* Does a vertex lie within the piece? Such a piece is kept when it is compared with ways beside it.
 */
static bool has_vertex_on_it(const struct domain *domain, const struct chord *chord)
{
    struct pt way = taut_direction(domain, chord);
    struct pt on = {chord->a.x + way.x, chord->a.y + way.y};
    for (uint32_t v = 0; v < domain->point_count; v++)
        if (orient(chord->a, on, domain->points[v]) == 0 &&
            dot(chord->a, chord->b, domain->points[v]) > 0 &&
            dot(chord->b, chord->a, domain->points[v]) > 0)
            return true;
    return false;
}

/* What the quicker search leaves out has a shorter way beside it; it finds nothing else. */
static size_t check_left_out(const struct domain *domain, const struct chord_list *all,
                             double reach_nm, uint64_t seed)
{
    struct chord_list found, left_out = {.items = malloc((all->count + 1) * sizeof *all->items)};
    assert_non_null(left_out.items);
    assert_int_equal(taut_find(domain, reach_nm, 1000000, &found), NECK_OK);
    for (size_t i = 0, k = 0; i < all->count; i++) {
        bool is_found = k < found.count && found.items[k].vertex_a == all->items[i].vertex_a &&
                        found.items[k].vertex_b == all->items[i].vertex_b &&
                        found.items[k].foot_tri == all->items[i].foot_tri &&
                        found.items[k].foot_side == all->items[i].foot_side;
        if (is_found)
            k++;
        else if (!has_vertex_on_it(domain, &all->items[i]))
            left_out.items[left_out.count++] = all->items[i];
    }
    size_t count = left_out.count;
    assert_true(found.count + count <= all->count);
    assert_int_equal(taut_drop_dominated(domain, &left_out), NECK_OK);
    if (left_out.count)
        fail_msg("seed %llu: %d,%d to %d,%d left out for nothing", (unsigned long long)seed,
                 left_out.items[0].a.x, left_out.items[0].a.y, left_out.items[0].b.x,
                 left_out.items[0].b.y);
    free(found.items);
    free(left_out.items);
    return count;
}

struct count {
    size_t checked, left_out;
};

static struct count check_world(uint64_t seed, double reach_nm)
{
    struct world *world = random_world(seed);
    struct arena *scratch = arena_new("test");
    struct domain domain;
    struct chord_list list;
    assert_int_equal(domain_build(&world->net, &world->neck_sheets[0], scratch, &domain), NECK_OK);
    assert_int_equal(domain_find_cones(&domain, scratch), NECK_OK);
    assert_int_equal(taut_find_all(&domain, reach_nm, 1000000, &list), NECK_OK);
    struct shape shape = {.domain = &domain};
    shape.corners = calloc((size_t)domain.point_count + 1, sizeof *shape.corners);
    assert_non_null(shape.corners);
    for (uint32_t v = 0; v < domain.point_count; v++)
        shape.corners[v].at = domain.points[v];
    gather_corners(&shape);
    struct count count = {.checked = check_pairs(&shape, &list, reach_nm, seed) +
                                     check_feet(&shape, &list, reach_nm, seed),
                          .left_out = check_left_out(&domain, &list, reach_nm, seed)};
    free(shape.corners);
    free(list.items);
    domain_free(&domain);
    arena_free(scratch);
    world_free(world);
    return count;
}

static void no_taut_piece_is_missed(void **state)
{
    (void)state;
    const char *more = getenv("ISTHMUS_TEST_SEEDS");
    uint64_t seeds = more ? strtoull(more, NULL, 10) : 500;
    size_t checked = 0, left_out = 0;
    for (uint64_t seed = 1; seed <= seeds; seed++) {
        struct count count = check_world(seed, seed % 3 == 0 ? 2e6 : 2e7);
        checked += count.checked;
        left_out += count.left_out;
    }
    print_message("%zu taut pieces of %llu random shapes, none missed; %zu rightly not looked at\n",
                  checked, (unsigned long long)seeds, left_out);
    assert_true(checked > seeds * 20);
    assert_true(left_out > seeds * 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_taut_piece_is_missed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
