#include "neck_world.h"

#include <math.h>
#include "assertions.h"

struct world *world_new(void)
{
    struct world *world = calloc(1, sizeof *world);
    assert_non_null(world);
    world->chord_error_nm = 500;
    world->arena = arena_new("world");
    assert_non_null(world->arena);
    return world;
}

static void free_sheet(struct world_sheet *sheet)
{
    for (size_t i = 0; i < sheet->loop_count; i++)
        free(sheet->loops[i].points);
    free(sheet->loops);
    cdt_free(&sheet->mesh.cdt);
    free(sheet->mesh.bounds);
    free(sheet->mesh.component);
    free(sheet->mesh.mark);
    free(sheet->curves);
    free(sheet->kinds);
    free(sheet->owners);
}

void world_free(struct world *world)
{
    for (size_t i = 0; i < WORLD_SHEETS; i++)
        free_sheet(&world->sheets[i]);
    arena_free(world->arena);
    free(world);
}

uint32_t world_sheet(struct world *world, double thickness_mm, double weight)
{
    assert_true(world->sheet_count < WORLD_SHEETS);
    world->sheets[world->sheet_count].thickness_mm = thickness_mm;
    world->sheets[world->sheet_count].weight = weight;
    return world->sheet_count++;
}

static void place_nm(const struct world *world, double x_mm, double y_mm, double *x, double *y)
{
    double c = cos(world->angle_rad), s = sin(world->angle_rad);
    *x = (c * x_mm - s * y_mm + world->shift_x_mm) * 1e6;
    *y = (s * x_mm + c * y_mm + world->shift_y_mm) * 1e6;
}

struct pt world_point(const struct world *world, double x_mm, double y_mm)
{
    double x, y;
    place_nm(world, x_mm, y_mm, &x, &y);
    return (struct pt){(int32_t)lrint(x), (int32_t)lrint(y)};
}

static struct loop *add_loop(struct world *world, uint32_t sheet, struct loop loop, size_t count)
{
    struct world_sheet *to = &world->sheets[sheet];
    assert_true(array_grow(&to->loops, sizeof *to->loops, &to->loop_capacity, to->loop_count + 1));
    loop.points = malloc(count * sizeof *loop.points);
    assert_non_null(loop.points);
    to->loops[to->loop_count] = loop;
    return &to->loops[to->loop_count++];
}

void world_polygon(struct world *world, uint32_t sheet, enum loop_effect effect,
                   enum bound_kind kind, uint32_t owner, const double (*xy_mm)[2], size_t count)
{
    struct loop *loop = add_loop(
        world, sheet, (struct loop){.effect = effect, .kind = kind, .owner = owner}, count);
    for (size_t i = 0; i < count; i++)
        loop->points[loop->count++] = world_point(world, xy_mm[i][0], xy_mm[i][1]);
}

void world_box(struct world *world, uint32_t sheet, enum loop_effect effect, double x0, double y0,
               double x1, double y1)
{
    double xy[4][2] = {{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}};
    world_polygon(world, sheet, effect, BOUND_ETCHED, ISTHMUS_NONE, xy, 4);
}

void world_disc(struct world *world, uint32_t sheet, enum loop_effect effect, enum bound_kind kind,
                uint32_t owner, double x, double y, double radius)
{
    double cx, cy, r = radius * 1e6;
    place_nm(world, x, y, &cx, &cy);
    size_t count = (size_t)ceil(acos(-1) / acos(1 - world->chord_error_nm / r));
    count = count < 8 ? 8 : (count + 3) / 4 * 4;
    struct loop *loop = add_loop(
        world, sheet, (struct loop){.effect = effect, .kind = kind, .owner = owner}, count);
    loop->curve = (struct curve){.turn = 1, .centre_x = cx, .centre_y = cy, .radius = r};
    /* Cautious: a hole's outline lies round the circle, a disc's within it. */
    double out = effect == LOOP_CUTS ? r / cos(acos(-1) / (double)count) : r;
    for (size_t i = 0; i < count; i++) {
        double a = 2 * acos(-1) * ((double)i + 0.25) / (double)count;
        loop->points[loop->count++] =
            (struct pt){(int32_t)lrint(cx + out * cos(a)), (int32_t)lrint(cy + out * sin(a))};
    }
}

static uint32_t add_contact(struct world *world, uint32_t terminal)
{
    assert_true(world->contact_count < WORLD_ITEMS);
    uint32_t contact = (uint32_t)world->contact_count++;
    world->contacts[contact] = (struct neck_contact){.terminal = terminal, .id = contact};
    if (terminal != ISTHMUS_NONE && terminal >= world->terminal_count)
        world->terminal_count = terminal + 1;
    return contact;
}

uint32_t world_contact_box(struct world *world, uint32_t sheet, uint32_t terminal, double x0,
                           double y0, double x1, double y1)
{
    uint32_t contact = add_contact(world, terminal);
    double xy[4][2] = {{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}};
    world_polygon(world, sheet, LOOP_MARKS, BOUND_CONTACT, contact, xy, 4);
    return contact;
}

uint32_t world_contact_disc(struct world *world, uint32_t sheet, uint32_t terminal, double x,
                            double y, double radius)
{
    uint32_t contact = add_contact(world, terminal);
    world_disc(world, sheet, LOOP_MARKS, BOUND_CONTACT, contact, x, y, radius);
    return contact;
}

uint32_t world_hole(struct world *world, double x, double y, double radius, double wall_area_mm2,
                    uint32_t contact)
{
    assert_true(world->hole_count < WORLD_ITEMS);
    uint32_t hole = (uint32_t)world->hole_count++;
    world->holes[hole] = (struct neck_hole){.centre = world_point(world, x, y),
                                            .wall_area_mm2 = wall_area_mm2,
                                            .contact = contact,
                                            .id = hole,
                                            .layer_from = 1,
                                            .layer_to = (uint16_t)world->sheet_count};
    for (uint32_t s = 0; s < world->sheet_count; s++)
        world_disc(world, s, LOOP_CUTS, BOUND_RIM, hole, x, y, radius);
    return hole;
}

/* ---- building ---- */

static bool is_inside(const struct loop *loop, double x, double y)
{
    bool inside = false;
    for (uint32_t i = 0, j = loop->count - 1; i < loop->count; j = i++) {
        double xi = loop->points[i].x, yi = loop->points[i].y;
        double xj = loop->points[j].x, yj = loop->points[j].y;
        if ((yi > y) != (yj > y) && x < (xj - xi) * (y - yi) / (yj - yi) + xi)
            inside = !inside;
    }
    return inside;
}

/* Between an outline that was rounded inwards and the hull: no copper, whatever the loops say. */
static bool is_sliver(const struct cdt *cdt, uint32_t t)
{
    for (unsigned i = 0; i < 3; i++) {
        struct pt at = cdt->points[cdt->corner[t][i]];
        struct pt p = cdt->points[cdt->corner[t][(i + 1) % 3]];
        struct pt q = cdt->points[cdt->corner[t][(i + 2) % 3]];
        double dx = (double)q.x - p.x, dy = (double)q.y - p.y;
        double twice_area = dx * ((double)at.y - p.y) - dy * ((double)at.x - p.x);
        if (cdt->neighbour[t][i] == ISTHMUS_NONE && fabs(twice_area) < 2 * hypot(dx, dy))
            return true;
    }
    return false;
}

/* 0 bare, 1 copper, 2 + loop: marked copper. */
static uint32_t look(const struct world_sheet *sheet, const struct cdt *cdt, uint32_t t)
{
    double x = 0, y = 0;
    for (unsigned i = 0; i < 3; i++) {
        x += cdt->points[cdt->corner[t][i]].x / 3.0;
        y += cdt->points[cdt->corner[t][i]].y / 3.0;
    }
    uint32_t found = 0;
    if (is_sliver(cdt, t))
        return 0;
    for (size_t l = 0; l < sheet->loop_count; l++)
        if (sheet->loops[l].effect == LOOP_ADDS && is_inside(&sheet->loops[l], x, y))
            found = 1;
    for (uint32_t l = 0; l < sheet->loop_count && found; l++) {
        if (sheet->loops[l].effect == LOOP_CUTS && is_inside(&sheet->loops[l], x, y))
            return 0;
        if (sheet->loops[l].effect == LOOP_MARKS && is_inside(&sheet->loops[l], x, y))
            found = 2 + l;
    }
    return found;
}

static struct cdt triangulate_loops(const struct world_sheet *sheet, struct cdt_edge **pieces,
                                    uint32_t **loop_of)
{
    size_t count = 0, n = 0;
    for (size_t l = 0; l < sheet->loop_count; l++)
        count += sheet->loops[l].count;
    struct cdt_edge *edges = malloc((count + 1) * sizeof *edges);
    uint32_t *loops = malloc((count + 1) * sizeof *loops);
    assert_true(edges && loops);
    for (uint32_t l = 0; l < sheet->loop_count; l++)
        for (uint32_t i = 0; i < sheet->loops[l].count; i++) {
            const struct loop *loop = &sheet->loops[l];
            loops[n] = l;
            edges[n++] = (struct cdt_edge){loop->points[i], loop->points[(i + 1) % loop->count], l};
        }
    struct snap_result snapped;
    assert_int_equal(snap_round(edges, n, &snapped), MESH_OK);
    for (size_t i = 0; i < snapped.piece_count; i++)
        snapped.pieces[i].tag = loops[snapped.pieces[i].tag];
    struct cdt cdt;
    assert_int_equal(cdt_build(snapped.pieces, snapped.piece_count, false, &cdt), MESH_OK);
    free(edges);
    *pieces = snapped.pieces;
    *loop_of = loops;
    return cdt;
}

/* Which loop made this edge: a mark only where copper lies on both sides. */
static uint32_t edge_loop(const struct world_sheet *sheet, const struct cdt *cdt, uint32_t t,
                          unsigned i, bool is_mark)
{
    struct pt a = cdt->points[cdt->corner[t][(i + 1) % 3]];
    struct pt b = cdt->points[cdt->corner[t][(i + 2) % 3]];
    double x = (a.x + (double)b.x) / 2, y = (a.y + (double)b.y) / 2;
    double best = 1e300;
    uint32_t found = 0;
    for (uint32_t l = 0; l < sheet->loop_count; l++) {
        const struct loop *loop = &sheet->loops[l];
        if ((loop->effect == LOOP_MARKS) != is_mark)
            continue;
        for (uint32_t k = 0; k < loop->count; k++) {
            struct pt p = loop->points[k], q = loop->points[(k + 1) % loop->count];
            double dx = (double)q.x - p.x, dy = (double)q.y - p.y;
            double s = ((x - p.x) * dx + (y - p.y) * dy) / (dx * dx + dy * dy);
            s = s < 0 ? 0 : s > 1 ? 1 : s;
            double d = hypot(p.x + s * dx - x, p.y + s * dy - y);
            if (d < best) {
                best = d;
                found = l;
            }
        }
    }
    return found;
}

static void build_sheet(struct world_sheet *sheet)
{
    struct cdt_edge *pieces;
    uint32_t *loops;
    struct cdt first = triangulate_loops(sheet, &pieces, &loops);
    free(pieces);
    free(loops);
    /* Only edges where something changes stay. */
    struct cdt_edge *edges = malloc((3 * (size_t)first.tri_count + 1) * sizeof *edges);
    struct sheet_bound *bounds = malloc((3 * (size_t)first.tri_count + 1) * sizeof *bounds);
    uint32_t *seen = malloc(((size_t)first.tri_count + 1) * sizeof *seen);
    assert_true(edges && bounds && seen);
    for (uint32_t t = 0; t < first.tri_count; t++)
        seen[t] = look(sheet, &first, t);
    uint32_t n = 0;
    for (uint32_t t = 0; t < first.tri_count; t++)
        for (unsigned i = 0; i < 3; i++) {
            uint32_t across = first.neighbour[t][i];
            uint32_t there = across == ISTHMUS_NONE ? 0 : seen[across];
            if (there == seen[t] || (across != ISTHMUS_NONE && across < t))
                continue;
            uint32_t loop = edge_loop(sheet, &first, t, i, there != 0 && seen[t] != 0);
            edges[n] = (struct cdt_edge){first.points[first.corner[t][(i + 1) % 3]],
                                         first.points[first.corner[t][(i + 2) % 3]], n};
            bounds[n++] = (struct sheet_bound){.object = loop, .curve = loop};
        }
    assert_int_equal(cdt_build(edges, n, false, &sheet->mesh.cdt), MESH_OK);
    struct cdt *cdt = &sheet->mesh.cdt;
    sheet->mesh.bounds = bounds;
    sheet->mesh.bound_count = n;
    sheet->mesh.component_count = 1;
    sheet->mesh.component = malloc(((size_t)cdt->tri_count + 1) * sizeof(uint32_t));
    sheet->mesh.mark = malloc(((size_t)cdt->tri_count + 1) * sizeof(uint32_t));
    assert_true(sheet->mesh.component && sheet->mesh.mark);
    for (uint32_t t = 0; t < cdt->tri_count; t++) {
        uint32_t what = look(sheet, cdt, t);
        sheet->mesh.component[t] = what ? 0 : ISTHMUS_NONE;
        sheet->mesh.mark[t] = what >= 2 ? what - 2 : ISTHMUS_NONE;
    }
    free(edges);
    free(seen);
    cdt_free(&first);
}

static void fill_sheet(struct world *world, uint32_t s)
{
    struct world_sheet *sheet = &world->sheets[s];
    sheet->curves = calloc(sheet->loop_count + 1, sizeof *sheet->curves);
    sheet->kinds = calloc(sheet->loop_count + 1, sizeof *sheet->kinds);
    sheet->owners = calloc(sheet->loop_count + 1, sizeof *sheet->owners);
    assert_true(sheet->curves && sheet->kinds && sheet->owners);
    for (size_t l = 0; l < sheet->loop_count; l++) {
        sheet->curves[l] = sheet->loops[l].curve;
        sheet->kinds[l] = sheet->loops[l].kind;
        sheet->owners[l] = sheet->loops[l].owner;
    }
    sheet->has_component[0] = true;
    world->neck_sheets[s] = (struct neck_sheet){.mesh = &sheet->mesh,
                                                .curves = sheet->curves,
                                                .position = (uint16_t)(s + 1),
                                                .thickness_mm = sheet->thickness_mm,
                                                .weight = sheet->weight,
                                                .has_component = sheet->has_component,
                                                .kind_of_object = sheet->kinds,
                                                .owner_of_object = sheet->owners,
                                                .object_count = (uint32_t)sheet->loop_count};
}

void world_build(struct world *world)
{
    for (uint32_t s = 0; s < world->sheet_count; s++) {
        build_sheet(&world->sheets[s]);
        fill_sheet(world, s);
    }
    world->net = (struct neck_net){.sheets = world->neck_sheets,
                                   .sheet_count = world->sheet_count,
                                   .holes = world->holes,
                                   .hole_count = world->hole_count,
                                   .contacts = world->contacts,
                                   .contact_count = world->contact_count,
                                   .terminal_count = world->terminal_count,
                                   .etch_loss_mm = world->etch_loss_mm};
}

enum neck_status world_find(struct world *world, double need_mm2, double margin_limit,
                            struct neck_result *out)
{
    for (size_t t = 0; t < world->terminal_count; t++)
        world->feed_a[t] = world->draw_a[t] = need_mm2;
    struct neck_case one = {.feed_a = world->feed_a,
                            .draw_a = world->draw_a,
                            .has_row = world->has_row,
                            .i_net_a = need_mm2,
                            .demand = {.scale_a = 1, .exponent = 1}};
    return neck_find(&world->net, &one, 1, margin_limit, world->arena, out);
}
