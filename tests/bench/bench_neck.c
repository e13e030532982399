/*
 * How long a plane takes: clearance holes, stitching vias and contacts in a copper square, drawn by
 * the painting code. Prints name, what is in it, taut pieces found and kept, milliseconds of
 * processor time.
 *
 *     bench_neck            the standard set
 *     bench_neck SIDE_MM CLEARANCES VIAS CONTACTS NEED_MM LAYERS
 */
#include "isthmus/neck.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#define MM 1000000

struct plane {
    double side_mm;
    uint32_t clearance_count, via_count, contact_count, layer_count;
    double need_mm; /* on the outer layers */
};
struct place {
    int64_t x, y;
};

static uint64_t random_state;

static double random_unit(void)
{
    random_state = random_state * 6364136223846793005u + 1442695040888963407u;
    return (double)(random_state >> 33) / (double)(UINT64_C(1) << 31);
}

static void *must(void *memory)
{
    if (!memory) {
        fprintf(stderr, "out of memory\n");
        exit(2);
    }
    return memory;
}

static void must_be_fine(enum mesh_status status)
{
    if (status != MESH_OK) {
        fprintf(stderr, "mesh status %d\n", (int)status);
        exit(2);
    }
}

/* Places at least 1.3 mm apart, by throwing darts. */
static struct place *scatter(const struct plane *plane, uint32_t count)
{
    struct place *places = must(calloc(count + 1, sizeof *places));
    for (uint32_t i = 0; i < count;) {
        places[i].x = (int64_t)((random_unit() - 0.5) * (plane->side_mm - 3) * MM);
        places[i].y = (int64_t)((random_unit() - 0.5) * (plane->side_mm - 3) * MM);
        bool is_clear = true;
        for (uint32_t k = 0; k < i && is_clear; k++)
            is_clear = hypot((double)(places[k].x - places[i].x),
                             (double)(places[k].y - places[i].y)) > 1.3 * MM;
        i += is_clear;
    }
    return places;
}

static void add_slot(struct paint *paint, struct place at, int64_t diameter_nm,
                     enum paint_effect effect)
{
    struct pos_nm place = {at.x, at.y};
    must_be_fine(paint_add_slot(paint, place, place, diameter_nm, effect, 0, 0));
}

/* Objects: the square, clearances, vias, contacts. */
static void paint_plane(const struct plane *plane, const struct place *places, struct paint *paint)
{
    int64_t half = (int64_t)(plane->side_mm / 2 * MM);
    struct seg segs[4] = {
        {.to = {half, -half}}, {.to = {half, half}}, {.to = {-half, half}}, {.to = {-half, -half}}};
    struct contour contour = {.start = {-half, -half}, .first_seg = 0, .seg_count = 4};
    paint_init(paint, (struct pos_nm){0, 0}, 500);
    must_be_fine(paint_add_contours(paint, &contour, 1, segs, false, PAINT_DARK, 0, 0));
    for (uint32_t i = 0; i < plane->clearance_count; i++)
        add_slot(paint, *places++, 1 * MM, PAINT_CLEAR);
    for (uint32_t i = 0; i < plane->via_count; i++)
        add_slot(paint, *places++, 3 * MM / 10, PAINT_CLEAR);
    for (uint32_t i = 0; i < plane->contact_count; i++)
        add_slot(paint, *places++, 1 * MM, PAINT_MARK);
}

static struct neck_sheet make_sheet(const struct plane *plane, const struct paint *paint,
                                    struct sheet_mesh *mesh, uint16_t position)
{
    uint32_t objects = 1 + plane->clearance_count + plane->via_count + plane->contact_count;
    enum bound_kind *kinds = must(calloc(objects, sizeof *kinds));
    uint32_t *owners = must(calloc(objects, sizeof *owners));
    bool *has = must(calloc(mesh->component_count + 1, sizeof *has));
    uint32_t first_via = 1 + plane->clearance_count, first_contact = first_via + plane->via_count;
    for (uint32_t i = 0; i < objects; i++) {
        kinds[i] = i >= first_contact ? BOUND_CONTACT : i >= first_via ? BOUND_RIM : BOUND_ETCHED;
        owners[i] = i >= first_contact ? i - first_contact : i - first_via;
    }
    for (uint32_t c = 0; c < mesh->component_count; c++)
        has[c] = true;
    return (struct neck_sheet){.mesh = mesh,
                               .curves = paint->curves,
                               .position = position,
                               .thickness_mm = 0.035,
                               .weight = 1,
                               .has_component = has,
                               .kind_of_object = kinds,
                               .owner_of_object = owners};
}

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec * 1e-6;
}

static void judge(const struct plane *plane, const struct neck_net *net)
{
    size_t terminals = net->terminal_count;
    double *amps = must(calloc(terminals + 1, sizeof *amps));
    bool *has_row = must(calloc(terminals + 1, sizeof *has_row));
    double need_mm2 = plane->need_mm * 0.035;
    for (size_t t = 0; t < terminals; t++)
        amps[t] = need_mm2;
    struct neck_case one = {amps, amps, has_row, need_mm2, {.scale_a = 1, .exponent = 1}};
    struct neck_result result;
    struct arena *arena = must(arena_new("bench"));
    double start = now_ms();
    enum neck_status status = neck_find(net, &one, 1, 3, arena, &result);
    printf("%6.0f mm %5u clear %5u vias %4u contacts %2u layers need %5.1f mm: status %d, %7zu "
           "pieces, %6zu kept, %zu necks, margin %.3f, %8.1f ms\n",
           plane->side_mm, plane->clearance_count, plane->via_count, plane->contact_count,
           plane->layer_count, plane->need_mm, (int)status, result.chord_count,
           result.chord_kept_count, result.neck_count, result.has_least ? result.least.margin : NAN,
           now_ms() - start);
    fflush(stdout);
    arena_free(arena);
    free(amps);
    free(has_row);
}

static void run(const struct plane *plane)
{
    struct paint paint[16];
    struct sheet_mesh meshes[16];
    struct neck_sheet sheets[16];
    random_state = 1;
    struct place *places =
        scatter(plane, plane->clearance_count + plane->via_count + plane->contact_count);
    struct neck_hole *holes = must(calloc(plane->via_count + 1, sizeof *holes));
    struct neck_contact *contacts = must(calloc(plane->contact_count + 1, sizeof *contacts));
    for (uint32_t i = 0; i < plane->via_count; i++)
        holes[i] = (struct neck_hole){.wall_area_mm2 = 0.0188 * 0.3844,
                                      .contact = ISTHMUS_NONE,
                                      .id = i,
                                      .layer_from = 1,
                                      .layer_to = (uint16_t)plane->layer_count};
    for (uint32_t i = 0; i < plane->contact_count; i++)
        contacts[i] = (struct neck_contact){.terminal = i, .id = i};
    for (uint32_t l = 0; l < plane->layer_count; l++) {
        paint_plane(plane, places, &paint[l]);
        must_be_fine(sheet_mesh_build(&paint[l], 0, NULL, NULL, &meshes[l]));
        sheets[l] = make_sheet(plane, &paint[l], &meshes[l], (uint16_t)(l + 1));
    }
    struct neck_net net = {.sheets = sheets,
                           .sheet_count = plane->layer_count,
                           .holes = holes,
                           .hole_count = plane->via_count,
                           .contacts = contacts,
                           .contact_count = plane->contact_count,
                           .terminal_count = plane->contact_count};
    judge(plane, &net);
    for (uint32_t l = 0; l < plane->layer_count; l++) {
        sheet_mesh_free(&meshes[l]);
        paint_free(&paint[l]);
        free((void *)(uintptr_t)sheets[l].kind_of_object);
        free((void *)(uintptr_t)sheets[l].owner_of_object);
        free((void *)(uintptr_t)sheets[l].has_component);
    }
    free(places);
    free(holes);
    free(contacts);
}

int main(int count, char **words)
{
    static const struct plane standard[] = {
        {.side_mm = 50, 100, 20, 4, 2, 2},
        {.side_mm = 100, 2000, 0, 2, 1, 24},
        {.side_mm = 100, 1000, 300, 20, 2, 5},
    };
    if (count == 7) {
        struct plane plane = {.side_mm = atof(words[1]),
                              .clearance_count = (uint32_t)atoi(words[2]),
                              .via_count = (uint32_t)atoi(words[3]),
                              .contact_count = (uint32_t)atoi(words[4]),
                              .layer_count = (uint32_t)atoi(words[6]),
                              .need_mm = atof(words[5])};
        run(&plane);
        return 0;
    }
    for (size_t i = 0; i < sizeof standard / sizeof *standard; i++)
        run(&standard[i]);
    return 0;
}
