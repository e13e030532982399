/*
 * Small worlds of copper for tests of necks: polygons and circles in mm, turned by any angle, one
 * sheet a layer, plated holes, contacts. Everything is put together without the painting code: what
 * is copper is decided here, point by point.
 */
#ifndef TEST_NECK_WORLD_H
#define TEST_NECK_WORLD_H

#include "isthmus/neck.h"

#define WORLD_SHEETS 4
#define WORLD_ITEMS 4096

enum loop_effect { LOOP_ADDS, LOOP_CUTS, LOOP_MARKS };
struct loop {
    enum loop_effect effect;
    enum bound_kind kind;
    uint32_t owner;
    struct pt *points; /* counterclockwise */
    uint32_t count;
    struct curve curve;
};
struct world_sheet {
    struct loop *loops;
    size_t loop_count, loop_capacity;
    double thickness_mm, weight;
    struct sheet_mesh mesh;
    struct curve *curves;
    bool has_component[1];
    enum bound_kind *kinds;
    uint32_t *owners;
};
struct world {
    double angle_rad; /* everything is turned by this when added */
    double shift_x_mm, shift_y_mm;
    double chord_error_nm;
    struct world_sheet sheets[WORLD_SHEETS];
    uint32_t sheet_count;
    struct neck_hole holes[WORLD_ITEMS];
    size_t hole_count;
    struct neck_contact contacts[WORLD_ITEMS];
    size_t contact_count, terminal_count;
    double etch_loss_mm;
    struct neck_sheet neck_sheets[WORLD_SHEETS];
    struct neck_net net;
    struct arena *arena;
    double feed_a[WORLD_ITEMS], draw_a[WORLD_ITEMS];
    bool has_row[WORLD_ITEMS];
};

struct world *world_new(void);
void world_free(struct world *world);
uint32_t world_sheet(struct world *world, double thickness_mm, double weight);
struct pt world_point(const struct world *world, double x_mm, double y_mm);

void world_polygon(struct world *world, uint32_t sheet, enum loop_effect effect,
                   enum bound_kind kind, uint32_t owner, const double (*xy_mm)[2], size_t count);
void world_box(struct world *world, uint32_t sheet, enum loop_effect effect, double x0, double y0,
               double x1, double y1);
void world_disc(struct world *world, uint32_t sheet, enum loop_effect effect, enum bound_kind kind,
                uint32_t owner, double x, double y, double radius);
/* A terminal of one contact of this shape. Returns the contact. */
uint32_t world_contact_box(struct world *world, uint32_t sheet, uint32_t terminal, double x0,
                           double y0, double x1, double y1);
uint32_t world_contact_disc(struct world *world, uint32_t sheet, uint32_t terminal, double x,
                            double y, double radius);
/* A plated hole through all sheets so far. */
uint32_t world_hole(struct world *world, double x, double y, double radius, double wall_area_mm2,
                    uint32_t contact);

/* Builds the meshes; then world->net is ready. */
void world_build(struct world *world);
/* One case without rows: every split of terminals needs i_net. 1 mm2 carries 1 A, f(I) = I: the
 * requirement in mm2 is i_net. */
enum neck_status world_find(struct world *world, double need_mm2, double margin_limit,
                            struct neck_result *out);

#endif
