#include "random_layer.h"

#include <math.h>

struct dice {
    uint64_t state;
    int64_t size, step, width;
};

static int64_t below(struct dice *dice, int64_t limit)
{
    dice->state = dice->state * 6364136223846793005U + 1442695040888963407U;
    return (int64_t)((dice->state >> 33) % (uint64_t)(limit > 0 ? limit : 1));
}

static int64_t somewhere(struct dice *dice)
{
    return below(dice, 2 * dice->size / dice->step + 1) * dice->step - dice->size;
}

static int64_t some_width(struct dice *dice)
{
    return dice->width / 4 + below(dice, dice->width * 3 / 2 / dice->step + 1) * dice->step;
}

static void draw_region(struct dice *dice, struct shapes *out, bool is_dark, int64_t x, int64_t y)
{
    int64_t xy[2 * 9];
    size_t count = 3 + (size_t)below(dice, 7);
    for (size_t i = 0; i < count; i++) { /* star-shaped, so that it does not cross itself */
        double angle = 6.283185307179586 * ((double)i + 0.4) / (double)count;
        double reach = (double)some_width(dice) * 2;
        xy[2 * i] = x + llround(reach * cos(angle) / (double)dice->step) * dice->step;
        xy[2 * i + 1] = y + llround(reach * sin(angle) / (double)dice->step) * dice->step;
    }
    shapes_polygon(out, is_dark, xy, count);
}

static void draw_one(struct dice *dice, struct shapes *out, bool is_dark)
{
    int64_t x = somewhere(dice), y = somewhere(dice), width = some_width(dice);
    int64_t reach = 12 * dice->width;
    int64_t dx = below(dice, 2 * reach / dice->step) * dice->step - reach;
    int64_t dy = below(dice, 2 * reach / dice->step) * dice->step - reach;
    double angle = (double)below(dice, 6283) / 1000, turn = 0.2 + (double)below(dice, 4000) / 1000;
    switch (below(dice, 12)) {
    case 0:
        shapes_disc(out, is_dark, x, y, 2 * width);
        break;
    case 1:
        shapes_ring(out, is_dark, x, y, 2 * width, width);
        break;
    case 2:
        shapes_box(out, is_dark, x, y, 2 * width, some_width(dice));
        break;
    case 3:
        shapes_arc_stroke(out, is_dark, x, y, 3 * width, angle, angle + turn, width);
        break;
    case 4:
        draw_region(dice, out, is_dark, x, y);
        break;
    case 5:
        shapes_macro(out, is_dark, x, y, 2 * width);
        break;
    case 6: /* along an axis, as most are */
    case 7:
        shapes_stroke(out, is_dark, x, y, x + dx, y, width);
        break;
    case 8:
    case 9:
        shapes_stroke(out, is_dark, x, y, x, y + dy, width);
        break;
    default:
        shapes_stroke(out, is_dark, x, y, x + dx, y + dy, width);
    }
}

void random_layer_draw(const struct random_layer *layer, struct shapes *out)
{
    struct dice dice = {layer->seed, layer->size_nm, layer->step_nm, layer->width_nm};
    bool is_dark = true;
    for (size_t i = 0; i < layer->object_count; i++) {
        if (layer->clear_in && i % (layer->object_count / 10 + 1) == 0)
            is_dark = i == 0 || below(&dice, layer->clear_in) != 0;
        draw_one(&dice, out, is_dark);
    }
}
