/*
 * Each copper layer's paint, in order: what is drawn, then what drills and the profile take away,
 * then the outlines of contacts. Then the layers' meshes, side by side in threads.
 */
#include "build.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum board_status build_mesh_status(struct build *build, enum mesh_status status, uint32_t file_id)
{
    struct source_pos at = {file_id, 0, 0};
    switch (status) {
    case MESH_OK:
        return BOARD_OK;
    case MESH_NO_MEMORY:
        return BOARD_NO_MEMORY;
    case MESH_TOO_LARGE:
        diag_add(build->diags, DIAG_ERROR, "drawing-too-large", at,
                 "look for a stray object far outside the board",
                 "an object lies more than 0.53 m from the package's centre");
        return BOARD_REFUSED;
    case MESH_BUG:
        break;
    }
    diag_add(build->diags, DIAG_ERROR, "mesh-failed", at,
             "this is a defect of the program: please report it with the file",
             "the layer could not be meshed: an invariant failed");
    return BOARD_REFUSED;
}

/* ---- copper ---- */

#define OUTLINE_OFF_NM 20000.0

/* A point of the stroke's centre line, part 0 to 1 of the way. */
static struct pos_nm point_of_stroke(const struct object *object, double part)
{
    double x0 = (double)object->from.x_nm, y0 = (double)object->from.y_nm;
    double x1 = (double)object->to.x_nm, y1 = (double)object->to.y_nm;
    if (object->kind != OBJECT_ARC_STROKE || !object->turn)
        return (struct pos_nm){llround(x0 + (x1 - x0) * part), llround(y0 + (y1 - y0) * part)};
    double cx = object->centre_x_nm, cy = object->centre_y_nm, start = atan2(y0 - cy, x0 - cx);
    double sweep = (atan2(y1 - cy, x1 - cx) - start) * object->turn;
    if (sweep <= 0)
        sweep += 2 * M_PI;
    double angle = start + object->turn * sweep * part, radius = hypot(x0 - cx, y0 - cy);
    return (struct pos_nm){llround(cx + radius * cos(angle)), llround(cy + radius * sin(angle))};
}

static enum mesh_status paint_plane(const struct build *build, struct paint *paint)
{
    const struct profile *profile = &build->profile;
    return paint_add_contours(paint, profile->contours, profile->contour_count, profile->segs,
                              false, PAINT_DARK, 0, PAINT_KIND_PLANE);
}

/* Many exporters draw the board's edge on every layer. Half of such a line lies within the profile
 * and would tie together whatever comes near the edge; a fabricator takes it off. Named copper
 * (a guard ring) is meant. */
static bool is_outline(const struct build *build, const struct drawing *drawing,
                       const struct object *object)
{
    const struct object_attrs *attrs = &drawing->attrs[object->attrs];
    bool is_stroke = object->kind == OBJECT_STROKE || object->kind == OBJECT_ARC_STROKE;
    if (!is_stroke || !build->profile.is_chosen || attrs->net_count || attrs->is_no_net ||
        drawing->apertures[object->aperture].width_nm > OUTLINE_WIDTH_NM)
        return false;
    for (int i = 0; i <= 4; i++) {
        struct pos_nm at = point_of_stroke(object, i / 4.0);
        if (!(profile_edge_distance_nm(&build->profile, at, OUTLINE_OFF_NM) <= OUTLINE_OFF_NM))
            return false;
    }
    return true;
}

/* A negative layer is a plane with what is drawn taken out. IPNEG turns the drawing itself round:
 * both together cancel. */
static enum mesh_status paint_drawn(const struct build *build, struct copper_layer *layer)
{
    const struct drawing *drawing = layer->drawing;
    enum mesh_status status = MESH_OK;
    if (layer->is_negative != drawing->is_image_negative)
        status = paint_plane(build, &layer->paint);
    for (uint32_t i = 0; i < drawing->object_count && status == MESH_OK; i++) {
        bool is_dark = drawing->objects[i].is_dark != layer->is_negative;
        if (is_dark && is_outline(build, drawing, &drawing->objects[i]))
            build->outline_count[layer->position - 1]++;
        else if (drawing->objects[i].fill_count)
            status = paint_add_drawn(&layer->paint, drawing, i, is_dark ? PAINT_DARK : PAINT_CLEAR,
                                     i, PAINT_KIND_DRAWN);
    }
    return status;
}

static enum mesh_status paint_holes(const struct build *build, struct copper_layer *layer)
{
    enum mesh_status status = MESH_OK;
    for (uint32_t h = 0; h < build->board->hole_count && status == MESH_OK; h++) {
        const struct board_hole *hole = &build->board->holes[h];
        if (hole->layer_from <= layer->position && layer->position <= hole->layer_to &&
            hole->cut_nm > 0)
            status = paint_add_slot(&layer->paint, hole->hole.from, hole->hole.to, hole->cut_nm,
                                    PAINT_CLEAR, h, PAINT_KIND_HOLE);
    }
    return status;
}

static enum mesh_status paint_outside(const struct build *build, struct copper_layer *layer)
{
    const struct profile *profile = &build->profile;
    if (!profile->is_chosen)
        return MESH_OK;
    return paint_add_contours(&layer->paint, profile->contours, profile->contour_count,
                              profile->segs, true, PAINT_CLEAR, 0, PAINT_KIND_OUTSIDE);
}

/* ---- marks ---- */

static enum mesh_status paint_rectangle(struct paint *paint, const struct mark *mark,
                                        uint32_t owner)
{
    static const double corners[4][2] = {{-0.5, -0.5}, {0.5, -0.5}, {0.5, 0.5}, {-0.5, 0.5}};
    double c = cos(mark->rotation_rad), s = sin(mark->rotation_rad);
    struct seg segs[4];
    struct pos_nm start = {0, 0};
    for (int i = 0; i < 4; i++) {
        double x = corners[i][0] * (double)mark->width_nm,
               y = corners[i][1] * (double)mark->height_nm;
        struct pos_nm at = {mark->at.x_nm + llround(x * c - y * s),
                            mark->at.y_nm + llround(x * s + y * c)};
        if (i == 0)
            start = at;
        segs[(i + 3) % 4] = (struct seg){.to = at};
    }
    struct contour contour = {.start = start, .first_seg = 0, .seg_count = 4};
    return paint_add_contours(paint, &contour, 1, segs, false, PAINT_MARK, owner,
                              PAINT_KIND_CONTACT);
}

static enum mesh_status paint_mark(const struct build *build, struct copper_layer *layer,
                                   const struct mark *mark, uint32_t owner)
{
    const struct opening *opening;
    switch (mark->kind) {
    case MARK_PAD:
        return paint_add_drawn(&layer->paint, layer->drawing, build->pads[mark->index].object,
                               PAINT_MARK, owner, PAINT_KIND_CONTACT);
    case MARK_OPENING:
        opening = &build->openings[mark->index];
        return paint_add_contours(&layer->paint, opening->contours, opening->contour_count,
                                  opening->segs, false, PAINT_MARK, owner, PAINT_KIND_CONTACT);
    case MARK_DISC:
        return paint_add_slot(&layer->paint, mark->at, mark->at, mark->width_nm, PAINT_MARK, owner,
                              PAINT_KIND_CONTACT);
    case MARK_RECTANGLE:
        break;
    }
    return paint_rectangle(&layer->paint, mark, owner);
}

/* The last mark on a place names it: what may be dropped later comes first, a place that the table
 * itself gives comes last. */
static int mark_rank(const struct draft *draft)
{
    if (draft->is_doubtful)
        return 0;
    return draft->contact.source == CONTACT_POSITION ? 2 : 1;
}

static enum mesh_status paint_marks(const struct build *build, struct copper_layer *layer)
{
    enum mesh_status status = MESH_OK;
    for (int rank = 0; rank < 3; rank++)
        for (uint32_t d = 0; d < build->draft_count; d++) {
            const struct draft *draft = &build->drafts[d];
            if (mark_rank(draft) != rank)
                continue;
            for (size_t m = 0; m < draft->mark_count && status == MESH_OK; m++)
                if (draft->marks[m].layer == layer->position)
                    status = paint_mark(build, layer, &draft->marks[m], d);
        }
    return status;
}

static enum mesh_status paint_layer(const struct build *build, struct copper_layer *layer)
{
    double chord_error_nm = build->board->facts.chord_error_um.value * 1000;
    paint_init(&layer->paint, build->board->origin, chord_error_nm > 0 ? chord_error_nm : 500);
    enum mesh_status status = paint_drawn(build, layer);
    if (status == MESH_OK)
        status = paint_holes(build, layer);
    if (status == MESH_OK)
        status = cores_paint(build, layer);
    if (status == MESH_OK)
        status = paint_outside(build, layer);
    return status == MESH_OK ? paint_marks(build, layer) : status;
}

/* ---- small gaps ---- */

static const struct object_attrs *attrs_of(const struct copper_layer *layer, uint32_t object)
{
    const struct paint_object *painted = &layer->paint.objects[object];
    if (painted->kind != PAINT_KIND_DRAWN || painted->effect != PAINT_DARK)
        return NULL;
    return &layer->drawing->attrs[layer->drawing->objects[painted->owner].attrs];
}

static bool shares_net(const struct object_attrs *a, const struct object_attrs *b)
{
    if (!a->nets || !b->nets)
        return false;
    for (uint32_t i = 0; i < a->net_count; i++)
        for (uint32_t k = 0; k < b->net_count; k++)
            if (strcmp(a->nets[i], b->nets[k]) == 0)
                return true;
    return false;
}

/* Only dark objects abut by rounding; what a clear object or a drill left open is meant. */
static bool may_join(uint32_t object_a, uint32_t object_b, void *context)
{
    const struct copper_layer *layer = context;
    const struct object_attrs *a = attrs_of(layer, object_a), *b = attrs_of(layer, object_b);
    if (!a || !b)
        return false;
    bool is_named = (a->nets || a->is_no_net) && (b->nets || b->is_no_net);
    return !is_named || shares_net(a, b);
}

/* ---- all layers ---- */

struct mesh_work {
    const struct build *build;
    enum mesh_status *status; /* per layer */
};

static void mesh_layer(size_t index, unsigned hand, void *context)
{
    struct mesh_work *work = context;
    struct board *board = work->build->board;
    struct copper_layer *layer = &board->layers[index];
    double gap_close_nm = board->facts.gap_close_um.value * 1000;
    enum mesh_status status = paint_layer(work->build, layer);
    (void)hand;
    if (status == MESH_OK)
        status = sheet_mesh_build(&layer->paint, gap_close_nm, may_join, layer, &layer->mesh);
    if (status == MESH_OK)
        status = sheet_islands_list(&layer->mesh, &layer->islands);
    if (!work->build->options->keeps_outlines)
        paint_drop_outlines(&layer->paint);
    work->status[index] = status;
}

static void say_outlines(struct build *build)
{
    for (size_t l = 0; l < build->board->layer_count; l++)
        if (build->outline_count[l])
            diag_add(build->diags, DIAG_NOTE, "outline-on-copper",
                     (struct source_pos){build->board->layers[l].file_id, 0, 0},
                     "leave the outline out of the copper layers when exporting",
                     "%u lines of the copper layer run along the board's edge: taken as its "
                     "outline, not as copper",
                     build->outline_count[l]);
}

enum board_status build_meshes(struct build *build)
{
    struct board *board = build->board;
    struct mesh_work work = {.build = build};
    work.status = arena_alloc(build->scratch, board->layer_count, sizeof *work.status);
    build->locators = arena_alloc(build->scratch, board->layer_count, sizeof(struct locator *));
    build->outline_count = arena_alloc(build->scratch, board->layer_count, sizeof(uint32_t));
    if (!work.status || !build->locators || !build->outline_count)
        return BOARD_NO_MEMORY;
    hands_work(hands_for(build->options->thread_count, board->layer_count), board->layer_count,
               mesh_layer, &work);
    say_outlines(build);
    for (size_t l = 0; l < board->layer_count; l++) {
        enum board_status status =
            build_mesh_status(build, work.status[l], board->layers[l].file_id);
        if (status != BOARD_OK)
            return status;
        build->locators[l] = locator_new(&board->layers[l].mesh.cdt);
        if (!build->locators[l])
            return BOARD_NO_MEMORY;
    }
    return BOARD_OK;
}
