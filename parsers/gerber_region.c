/* Regions: contours between G36 and G37, each filled by itself. */
#include "gerber_private.h"

#include <math.h>
#include <stdlib.h>

void gerber_region_open(struct gerber *g, size_t offset)
{
    if (g->region.is_open) {
        gerber_error(g, offset, "gerber-region-open", "export again",
                     "G36 within a region: expected G37 first");
        return;
    }
    g->region = (struct region_state){
        .is_open = true, .offset = offset, .at = g->word_at, .object = ISTHMUS_NONE};
}

static struct contour *last_contour(struct gerber *g)
{
    struct area *area = &g->sheet->area;
    return area->contour_count ? &area->contours[area->contour_count - 1] : NULL;
}

static struct pos_nm contour_end(struct gerber *g, const struct contour *contour)
{
    if (contour->seg_count == 0)
        return contour->start;
    return g->sheet->area.segs[contour->first_seg + contour->seg_count - 1].to;
}

static void drop_contour(struct gerber *g)
{
    struct area *area = &g->sheet->area;
    struct object *object = &g->sheet->objects[g->region.object];
    area->seg_count -= area->contours[area->contour_count - 1].seg_count;
    area->contour_count--;
    area->fill_count--;
    object->fill_count--;
}

static void look_at_crossings(struct gerber *g, const struct contour *contour)
{
    struct pos_nm where;
    if (!gerber_crosses_itself(g, contour, g->sheet->area.segs, &where))
        return;
    gerber_odd(g, g->region.contour_offset, ODD_SELF_CROSSING,
               "the outline that begins with %s crosses itself near x %.6f mm, y %.6f mm",
               gerber_quote_word(g, g->region.contour_offset), (double)where.x_nm / 1e6,
               (double)where.y_nm / 1e6);
}

static void end_contour(struct gerber *g)
{
    struct contour *contour = last_contour(g);
    if (!g->region.has_contour || !contour || g->is_out_of_memory)
        return;
    g->region.has_contour = false;
    if (contour->seg_count == 0) {
        drop_contour(g);
        return;
    }
    struct pos_nm end = contour_end(g, contour);
    if (end.x_nm != contour->start.x_nm || end.y_nm != contour->start.y_nm) {
        gerber_odd(g, g->region.contour_offset, ODD_OPEN_CONTOUR,
                   "the outline that begins with %s is not closed: a straight line of %.6f mm "
                   "closes it",
                   gerber_quote_word(g, g->region.contour_offset),
                   hypot((double)(end.x_nm - contour->start.x_nm),
                         (double)(end.y_nm - contour->start.y_nm)) /
                       1e6);
        area_line(g, &g->sheet->area, contour->start);
        contour = last_contour(g);
    }
    look_at_crossings(g, contour);
}

static void begin_contour(struct gerber *g, struct pos_nm start)
{
    if (g->region.object == ISTHMUS_NONE) {
        struct object *object = sheet_object(g, OBJECT_REGION);
        if (!object)
            return;
        object->from = object->to = start;
        g->region.object = (uint32_t)(g->sheet->object_count - 1);
    }
    size_t before = g->sheet->area.fill_count;
    area_fill(g, &g->sheet->area, true);
    if (g->sheet->area.fill_count == before)
        return;
    g->sheet->objects[g->region.object].fill_count++;
    area_begin(g, &g->sheet->area, start);
    g->region.has_contour = !g->is_out_of_memory;
    g->region.contour_offset = g->word_offset;
}

void gerber_region_move(struct gerber *g, struct pos_nm to)
{
    end_contour(g);
    begin_contour(g, to);
}

static bool has_contour(struct gerber *g)
{
    if (!g->region.has_contour)
        begin_contour(g, g->point);
    return g->region.has_contour;
}

void gerber_region_line(struct gerber *g, struct pos_nm to)
{
    bool is_point = to.x_nm == g->point.x_nm && to.y_nm == g->point.y_nm;
    if (has_contour(g) && !is_point)
        area_line(g, &g->sheet->area, to);
}

void gerber_region_arc(struct gerber *g, struct pos_nm to, const struct arc *arc)
{
    if (has_contour(g) && !arc->is_point)
        area_arc(g, &g->sheet->area, to, arc->centre, arc->turn);
}

void gerber_region_close(struct gerber *g, size_t offset)
{
    if (!g->region.is_open) {
        gerber_error(g, offset, "gerber-region-closed", "export again",
                     "G37 without a region: expected G36 first");
        return;
    }
    end_contour(g);
    g->region.is_open = false;
    struct sheet *sheet = g->sheet;
    if (g->region.object != ISTHMUS_NONE && !g->is_out_of_memory &&
        sheet->objects[g->region.object].fill_count == 0)
        sheet->object_count--; /* moves only: nothing was drawn */
}
