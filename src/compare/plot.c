/* Rise against current, as one SVG picture without anything loaded from elsewhere. */
#include <math.h>
#include <string.h>

#include "base/xml.h"
#include "isthmus/compare.h"
#include "isthmus/physics.h"
#include "isthmus/quantity.h"

#define WIDTH 760
#define HEIGHT 480
#define LEFT 70
#define RIGHT 20
#define TOP 64
#define BOTTOM 60
#define STEPS 80
#define TICKS 5

/* Okabe and Ito 2008: told apart by everybody; each has its own shape as well. */
#define COLOUR_PREDICTED "#0072b2"
#define COLOUR_MEASURED "#d55e00"
#define COLOUR_FITTED "#009e73"
#define COLOUR_LIMIT "#555555"

struct plot {
    const struct compare_report *report;
    double most_a, most_k;
    FILE *out;
};

static double x_of(const struct plot *plot, double current_a)
{
    return LEFT + (WIDTH - LEFT - RIGHT) * current_a / plot->most_a;
}

static double y_of(const struct plot *plot, double rise_k)
{
    double inside = fmin(fmax(rise_k, 0), plot->most_k);
    return HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * inside / plot->most_k;
}

/* A round number at or above a fifth of the span: 1, 2 or 5 times a power of ten. */
static double tick_step(double most)
{
    double raw = most / TICKS, power = pow(10, floor(log10(raw)));
    double factor = raw / power;
    return power * (factor <= 1 ? 1 : factor <= 2 ? 2 : factor <= 5 ? 5 : 10);
}

static void put_text(const struct plot *plot, double x, double y, const char *anchor,
                     const char *text)
{
    fprintf(plot->out, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"%s\">", x, y, anchor);
    xml_put(plot->out, text);
    fputs("</text>\n", plot->out);
}

static void find_extent(struct plot *plot)
{
    const struct compare_report *report = plot->report;
    double most_a = 0, most_k = report->conductor->allowed_rise_k;
    for (size_t i = 0; i < report->point_count; i++) {
        const struct compare_point *point = &report->points[i];
        most_a = fmax(most_a, point->current_a + point->reading->current_pm_a);
        most_k = fmax(most_k, point->rise_k + point->expanded_k);
        most_k = fmax(most_k, point->predicted_k);
    }
    if (report->fit && report->fit->most_a.is_known && report->fit->most_a.value < 2 * most_a)
        most_a = fmax(most_a, report->fit->most_a.high);
    double step_a = tick_step(most_a), step_k = tick_step(most_k);
    plot->most_a = step_a * ceil(most_a * 1.05 / step_a);
    plot->most_k = step_k * ceil(most_k * 1.05 / step_k);
}

static int tick_count(double most)
{
    return (int)lround(most / tick_step(most));
}

static void put_grid(const struct plot *plot)
{
    double step_a = tick_step(plot->most_a), step_k = tick_step(plot->most_k);
    fputs("<g stroke=\"#d0d0d0\" stroke-width=\"1\">\n", plot->out);
    for (int i = 0; i <= tick_count(plot->most_a); i++)
        fprintf(plot->out, "<path d=\"M%.1f %d V%d\"/>\n", x_of(plot, i * step_a), TOP,
                HEIGHT - BOTTOM);
    for (int i = 0; i <= tick_count(plot->most_k); i++)
        fprintf(plot->out, "<path d=\"M%d %.1f H%d\"/>\n", LEFT, y_of(plot, i * step_k),
                WIDTH - RIGHT);
    fputs("</g>\n", plot->out);
}

static void put_axes(const struct plot *plot)
{
    char a[QUANTITY_TEXT_SIZE];
    double step_a = tick_step(plot->most_a), step_k = tick_step(plot->most_k);
    for (int i = 0; i <= tick_count(plot->most_a); i++)
        put_text(plot, x_of(plot, i * step_a), HEIGHT - BOTTOM + 18, "middle",
                 quantity_short(i * step_a, 3, a));
    for (int i = 0; i <= tick_count(plot->most_k); i++)
        put_text(plot, LEFT - 8, y_of(plot, i * step_k) + 4, "end",
                 quantity_short(i * step_k, 3, a));
    put_text(plot, (LEFT + WIDTH - RIGHT) / 2.0, HEIGHT - 18, "middle", "current (A)");
    fprintf(plot->out,
            "<text transform=\"translate(20 %d) rotate(-90)\" text-anchor=\"middle\">rise above "
            "ambient (K)</text>\n",
            (TOP + HEIGHT - BOTTOM) / 2);
}

/* Width and copper off by their ordinary limits, both towards warmer (+1) or cooler (-1). */
static double predicted_k(const struct plot *plot, double current_a, int towards)
{
    struct compare_conductor conductor = *plot->report->conductor;
    /* a scatter as wide as the conductor must not leave it without copper */
    conductor.width_mm -= towards * fmin(conductor.width_pm_mm, 0.9 * conductor.width_mm);
    conductor.thickness_mm *= 1 - towards * conductor.thickness_pm;
    return compare_predicted_k(&conductor, current_a);
}

/* Clipped to the frame by a clip path: a steep curve must not run along the top edge. */
static double y_free(const struct plot *plot, double rise_k)
{
    double y = HEIGHT - BOTTOM - (HEIGHT - TOP - BOTTOM) * rise_k / plot->most_k;
    return fmax(y, -HEIGHT);
}

static void put_band(const struct plot *plot)
{
    fprintf(plot->out, "<path fill=\"" COLOUR_PREDICTED "\" fill-opacity=\"0.15\" d=\"");
    for (int i = 0; i <= STEPS; i++) {
        double a = plot->most_a * i / STEPS;
        fprintf(plot->out, "%c%.1f %.1f ", i ? 'L' : 'M', x_of(plot, a),
                y_free(plot, predicted_k(plot, a, 1)));
    }
    for (int i = STEPS; i >= 0; i--) {
        double a = plot->most_a * i / STEPS;
        fprintf(plot->out, "L%.1f %.1f ", x_of(plot, a), y_free(plot, predicted_k(plot, a, -1)));
    }
    fputs("Z\"/>\n", plot->out);
}

static void put_curve(const struct plot *plot, double factor, const char *attributes)
{
    fprintf(plot->out, "<path fill=\"none\" %s d=\"", attributes);
    for (int i = 0; i <= STEPS; i++) {
        double a = plot->most_a * i / STEPS;
        fprintf(plot->out, "%c%.1f %.1f ", i ? 'L' : 'M', x_of(plot, a),
                y_free(plot, factor * predicted_k(plot, a, 0)));
    }
    fputs("\"/>\n", plot->out);
}

/* The fitted curve has the prediction's shape: rise = predicted x (k predicted / k fitted)^2.27. */
static double fitted_factor(const struct plot *plot)
{
    const struct compare_report *report = plot->report;
    const struct compare_estimate *k = &report->fit->k;
    double drawn_k = report->conductor->is_internal ? IPC2221_K_INTERNAL : IPC2221_K_EXTERNAL;
    return pow(drawn_k / k->value, 1 / 0.44);
}

static void put_point(const struct plot *plot, const struct compare_point *point)
{
    double x = x_of(plot, point->current_a), y = y_of(plot, point->rise_k);
    double high = y_of(plot, point->rise_k + point->expanded_k);
    double low = y_of(plot, point->rise_k - point->expanded_k);
    double left = x_of(plot, point->current_a - point->reading->current_pm_a);
    double right = x_of(plot, point->current_a + point->reading->current_pm_a);
    fprintf(plot->out,
            "<path d=\"M%.1f %.1f V%.1f M%.1f %.1f h10 M%.1f %.1f h10 M%.1f %.1f H%.1f\" "
            "stroke=\"" COLOUR_MEASURED "\" stroke-width=\"2\" fill=\"none\"/>\n",
            x, high, low, x - 5, high, x - 5, low, left, y, right);
    fprintf(plot->out, "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"5\" fill=\"" COLOUR_MEASURED "\"/>\n",
            x, y);
}

static void put_limit(const struct plot *plot)
{
    double rise_k = plot->report->conductor->allowed_rise_k, y = y_of(plot, rise_k);
    char text[64], a[QUANTITY_TEXT_SIZE];
    fprintf(plot->out,
            "<path d=\"M%d %.1f H%d\" stroke=\"" COLOUR_LIMIT
            "\" stroke-width=\"1.5\" stroke-dasharray=\"2 4\"/>\n",
            LEFT, y, WIDTH - RIGHT);
    snprintf(text, sizeof text, "allowed: %s K", quantity_short(rise_k, 3, a));
    put_text(plot, LEFT + 6, y - 6, "start", text);
}

static void put_legend(const struct plot *plot)
{
    const int y = 44;
    fprintf(plot->out,
            "<path d=\"M%d %d h34\" stroke=\"" COLOUR_PREDICTED "\" stroke-width=\"2.5\"/>\n", LEFT,
            y - 4);
    put_text(plot, LEFT + 42, y, "start", "predicted, with ordinary scatter");
    fprintf(plot->out, "<circle cx=\"%d\" cy=\"%d\" r=\"5\" fill=\"" COLOUR_MEASURED "\"/>\n",
            LEFT + 300, y - 4);
    put_text(plot, LEFT + 314, y, "start", "measured, with U");
    if (!plot->report->fit)
        return;
    fprintf(plot->out,
            "<path d=\"M%d %d h34\" stroke=\"" COLOUR_FITTED
            "\" stroke-width=\"2.5\" stroke-dasharray=\"8 5\"/>\n",
            LEFT + 450, y - 4);
    put_text(plot, LEFT + 492, y, "start", "fitted to this board");
}

static void put_head(const struct plot *plot)
{
    const struct compare_conductor *conductor = plot->report->conductor;
    fprintf(plot->out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 %d %d\" width=\"%d\" "
            "height=\"%d\" role=\"img\" aria-labelledby=\"title\" font-family=\"system-ui,"
            "sans-serif\" font-size=\"13\" fill=\"#111\">\n<title id=\"title\">isthmus compare: "
            "rise against current, ",
            WIDTH, HEIGHT, WIDTH, HEIGHT);
    xml_put(plot->out, conductor->name);
    fputs("</title>\n<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n", plot->out);
    fprintf(plot->out,
            "<clipPath id=\"frame\"><rect x=\"%d\" y=\"%d\" width=\"%d\" height=\"%d\"/>"
            "</clipPath>\n",
            LEFT, TOP, WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM);
    fprintf(plot->out, "<text x=\"%d\" y=\"22\" font-size=\"16\" font-weight=\"600\">", LEFT);
    xml_put(plot->out, conductor->name);
    fputs(": rise against current</text>\n", plot->out);
}

void compare_svg(const struct compare_report *report, FILE *out)
{
    struct plot plot = {.report = report, .out = out};
    find_extent(&plot);
    put_head(&plot);
    put_grid(&plot);
    put_axes(&plot);
    fputs("<g clip-path=\"url(#frame)\">\n", out);
    put_band(&plot);
    put_curve(&plot, 1, "stroke=\"" COLOUR_PREDICTED "\" stroke-width=\"2.5\"");
    if (report->fit)
        put_curve(&plot, fitted_factor(&plot),
                  "stroke=\"" COLOUR_FITTED "\" stroke-width=\"2.5\" stroke-dasharray=\"8 5\"");
    fputs("</g>\n", out);
    put_limit(&plot);
    for (size_t i = 0; i < report->point_count; i++)
        if (report->points[i].problem == COMPARE_OK)
            put_point(&plot, &report->points[i]);
    put_legend(&plot);
    fputs("</svg>\n", out);
}
