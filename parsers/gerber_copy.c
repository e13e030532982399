/* Step and repeat, block apertures: objects that are copied, not code that is read again. */
#include "gerber_private.h"

#include <math.h>
#include <stdlib.h>

/* ---- step and repeat ---- */
void gerber_step_open(struct gerber *g, uint32_t count_x, uint32_t count_y, double step_x,
                      double step_y)
{
    gerber_step_close(g);
    if (count_x == 1 && count_y == 1)
        return;
    g->step = (struct step_state){.is_open = true,
                                  .offset = g->word_offset,
                                  .count_x = count_x,
                                  .count_y = count_y,
                                  .step_x = step_x,
                                  .step_y = step_y,
                                  .first_object = g->drawing.object_count};
}

static void copy_object(struct gerber *g, size_t index, struct pos_nm by)
{
    struct sheet *sheet = &g->drawing; /* steps never stand in a block */
    if (sheet->object_count >= g->max_objects) {
        g->is_too_large = true;
        return;
    }
    if (!array_grow(&sheet->objects, sizeof *sheet->objects, &sheet->object_capacity,
                    sheet->object_count + 1)) {
        g->is_out_of_memory = true;
        return;
    }
    struct object copy = sheet->objects[index];
    uint32_t first = (uint32_t)sheet->area.fill_count;
    area_append(g, &sheet->area, &sheet->area, copy.first_fill, copy.fill_count, by);
    copy.first_fill = first;
    copy.from = (struct pos_nm){copy.from.x_nm + by.x_nm, copy.from.y_nm + by.y_nm};
    copy.to = (struct pos_nm){copy.to.x_nm + by.x_nm, copy.to.y_nm + by.y_nm};
    if (copy.turn) {
        copy.centre_x_nm += (double)by.x_nm;
        copy.centre_y_nm += (double)by.y_nm;
    }
    sheet->objects[sheet->object_count++] = copy;
}

/* Copies in the order Y first, then X; the objects drawn are the copy (0, 0). */
void gerber_step_close(struct gerber *g)
{
    struct step_state step = g->step;
    if (!step.is_open)
        return;
    g->step.is_open = false;
    g->is_point_known[0] = g->is_point_known[1] = false;
    size_t end = g->drawing.object_count;
    if (end <= step.first_object)
        return;
    for (uint32_t ix = 0; ix < step.count_x; ix++) {
        for (uint32_t iy = 0; iy < step.count_y; iy++) {
            if (ix == 0 && iy == 0)
                continue;
            struct pos_nm by =
                gerber_round_point(g, (struct point){ix * step.step_x, iy * step.step_y});
            if (g->is_out_of_range) {
                g->is_out_of_range = false;
                gerber_error(g, step.offset, "gerber-out-of-range",
                             "see that the unit of the export is right",
                             "%s repeats beyond 1 km: expected places on a board",
                             gerber_quote_word(g, step.offset));
            }
            for (size_t i = step.first_object; i < end && !gerber_should_stop(g); i++)
                copy_object(g, i, by);
            if (gerber_should_stop(g))
                return;
        }
    }
}

/* ---- block apertures ---- */
void gerber_block_open(struct gerber *g, int32_t code)
{
    if (g->block_depth == GERBER_MAX_NESTING) {
        gerber_error(g, g->word_offset, "gerber-block-nesting", "export without nested blocks",
                     "%s: expected at most %d block apertures within each other",
                     gerber_quote_word(g, g->word_offset), GERBER_MAX_NESTING);
        return;
    }
    struct sheet *sheet = NULL;
    size_t capacity = 0;
    if (!array_grow(&sheet, sizeof *sheet, &capacity, 1)) {
        g->is_out_of_memory = true;
        return;
    }
    *sheet = (struct sheet){.objects = NULL};
    g->blocks[g->block_depth++] = (struct open_block){
        .code = code, .offset = g->word_offset, .at = g->word_at, .sheet = sheet};
    g->sheet = sheet;
}

static struct sheet *outer_sheet(struct gerber *g)
{
    return g->block_depth ? g->blocks[g->block_depth - 1].sheet : &g->drawing;
}

static void measure_block(struct tool *tool)
{
    struct box box;
    box_init(&box);
    box_add_area(&box, &tool->block->area);
    if (tool->block->area.contour_count == 0)
        return;
    tool->info.width_nm = box.max.x_nm - box.min.x_nm;
    tool->info.height_nm = box.max.y_nm - box.min.y_nm;
}

void gerber_block_close(struct gerber *g)
{
    if (g->block_depth == 0) {
        gerber_error(g, g->word_offset, "gerber-block-closed", "export again",
                     "%%AB*%% closes no block aperture: expected %%ABDnn*%% before");
        return;
    }
    struct open_block block = g->blocks[--g->block_depth];
    g->sheet = outer_sheet(g);
    g->is_point_known[0] = g->is_point_known[1] = false;
    uint32_t index = gerber_new_tool(g, block.code, block.offset, block.at);
    if (index == ISTHMUS_NONE) {
        sheet_free(block.sheet);
        free(block.sheet);
        return;
    }
    struct tool *tool = &g->tools[index];
    tool->letter = 'B';
    tool->info.kind = APERTURE_BLOCK;
    tool->block = block.sheet;
    tool->is_built = true;
    measure_block(tool);
}

static struct pos_nm placed(struct gerber *g, struct pos_nm p, struct pos_nm by)
{
    struct point at = {(double)p.x_nm, (double)p.y_nm};
    struct pos_nm rounded = gerber_round_point(g, transform_point(&g->transform, at));
    return (struct pos_nm){rounded.x_nm + by.x_nm, rounded.y_nm + by.y_nm};
}

/* Is the arc from..seg longer than half a circle? */
static bool is_long_arc(struct pos_nm from, const struct seg *seg)
{
    double ax = (double)from.x_nm - seg->centre_x_nm, ay = (double)from.y_nm - seg->centre_y_nm;
    double bx = (double)seg->to.x_nm - seg->centre_x_nm;
    double by = (double)seg->to.y_nm - seg->centre_y_nm;
    bool is_full = from.x_nm == seg->to.x_nm && from.y_nm == seg->to.y_nm;
    return is_full || (ax * by - ay * bx) * seg->turn < 0;
}

static void place_contour(struct gerber *g, struct area *out, const struct area *from,
                          const struct contour *contour, struct pos_nm by)
{
    int flip = transform_flips(&g->transform) ? -1 : 1;
    struct pos_nm source = contour->start, at = placed(g, source, by);
    area_begin(g, out, at);
    for (uint32_t i = 0; i < contour->seg_count && !gerber_should_stop(g); i++) {
        const struct seg *seg = &from->segs[contour->first_seg + i];
        struct pos_nm to = placed(g, seg->to, by);
        struct point centre =
            transform_point(&g->transform, (struct point){seg->centre_x_nm, seg->centre_y_nm});
        centre.x += (double)by.x_nm;
        centre.y += (double)by.y_nm;
        if (seg->turn)
            area_open_arc(g, out, at, to, centre, flip * seg->turn, is_long_arc(source, seg));
        else
            area_line(g, out, to);
        source = seg->to;
        at = to;
    }
}

static void place_path(struct gerber *g, const struct object *source, struct object *object)
{
    object->from = placed(g, source->from, g->point);
    object->to = placed(g, source->to, g->point);
    if (!source->turn)
        return;
    struct point centre =
        transform_point(&g->transform, (struct point){source->centre_x_nm, source->centre_y_nm});
    object->turn = (int8_t)(transform_flips(&g->transform) ? -source->turn : source->turn);
    object->centre_x_nm = centre.x + (double)g->point.x_nm;
    object->centre_y_nm = centre.y + (double)g->point.y_nm;
}

/* An object without attributes of its own takes those of the flash. Under LPC dark and clear
 * change places, through every level. */
static void place_object(struct gerber *g, const struct sheet *from, const struct object *source)
{
    struct object *object = sheet_object(g, source->kind);
    if (!object)
        return;
    object->is_dark = g->is_clear ? !source->is_dark : source->is_dark;
    object->aperture = source->aperture;
    if (source->attrs)
        object->attrs = source->attrs;
    object->at = source->at;
    place_path(g, source, object);
    object->fill_count = source->fill_count;
    struct area *out = &g->sheet->area;
    for (uint32_t f = 0; f < source->fill_count; f++) {
        const struct fill *fill = &from->area.fills[source->first_fill + f];
        area_fill(g, out, fill->adds);
        for (uint32_t c = 0; c < fill->contour_count && !g->is_out_of_memory; c++)
            place_contour(g, out, &from->area, &from->area.contours[fill->first_contour + c],
                          g->point);
    }
}

void gerber_block_flash(struct gerber *g, struct tool *tool)
{
    const struct sheet *block = tool->block;
    tool->info.flash_count++;
    for (size_t i = 0; i < block->object_count && !gerber_should_stop(g); i++)
        place_object(g, block, &block->objects[i]);
}
