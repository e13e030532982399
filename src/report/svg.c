/*
 * The copper layers as a picture, one below the other, to scale, with a millimetre grid in the
 * coordinates of the files, so that a finding can be judged by eye.
 *
 * Colours: Okabe and Ito (2008), by role and never by layer; every role has a shape of its own too:
 * full areas pass, striped ones do so by sum, and so on (see the legend).
 */
#include "words.h"

#include "base/xml.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define COPPER "#d9d9d9"     /* copper nobody asked about */
#define PASS "#009e73"       /* bluish green */
#define NARROW "#d55e00"     /* vermillion */
#define UNASSIGNED "#e69f00" /* orange */
#define NOT_JUDGED "#cc79a7" /* reddish purple */
#define CONTACT "#0072b2"    /* blue */
#define LEAST "#56b4e9"      /* sky blue */
#define MARGIN_MM 12.0
#define TITLE_MM 8.0

struct canvas {
    const struct report_input *in;
    const struct board *board;
    FILE *out;
    double min_x, min_y, max_x, max_y; /* mm, file coordinates */
    double unit;                       /* mm of one text line: grows with the board */
    double offset_y;                   /* top of the layer being drawn, in picture mm */
};

static void put_text(const struct canvas *canvas, const char *text)
{
    xml_put(canvas->out, text);
}

static double to_x(const struct canvas *canvas, double x_mm)
{
    return x_mm - canvas->min_x + MARGIN_MM;
}

static double to_y(const struct canvas *canvas, double y_mm)
{
    return canvas->offset_y + TITLE_MM + (canvas->max_y - y_mm);
}

static double layer_height(const struct canvas *canvas)
{
    return canvas->max_y - canvas->min_y + TITLE_MM + MARGIN_MM;
}

/* ---- grid ---- */

static double grid_step(double span_mm)
{
    static const double steps[] = {1, 2, 5, 10, 20, 50, 100};
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
        if (span_mm / steps[i] <= 16)
            return steps[i];
    return 200;
}

static void put_grid(const struct canvas *canvas)
{
    double step = grid_step(fmax(canvas->max_x - canvas->min_x, canvas->max_y - canvas->min_y));
    fprintf(canvas->out, "<g stroke=\"#bbbbbb\" stroke-width=\"%.3f\" font-size=\"%.2f\">\n",
            canvas->unit * 0.03, canvas->unit * 0.8);
    for (int i = (int)ceil(canvas->min_x / step); i * step <= canvas->max_x; i++)
        fprintf(canvas->out,
                "<path d=\"M%.3f %.3fV%.3f\"/><text stroke=\"none\" x=\"%.3f\" y=\"%.3f\" "
                "text-anchor=\"middle\">%g</text>\n",
                to_x(canvas, i * step), to_y(canvas, canvas->max_y), to_y(canvas, canvas->min_y),
                to_x(canvas, i * step), to_y(canvas, canvas->min_y) + canvas->unit, i * step + 0.0);
    for (int i = (int)ceil(canvas->min_y / step); i * step <= canvas->max_y; i++)
        fprintf(canvas->out,
                "<path d=\"M%.3f %.3fH%.3f\"/><text stroke=\"none\" x=\"%.3f\" y=\"%.3f\" "
                "text-anchor=\"end\">%g</text>\n",
                to_x(canvas, canvas->min_x), to_y(canvas, i * step), to_x(canvas, canvas->max_x),
                to_x(canvas, canvas->min_x) - canvas->unit * 0.3,
                to_y(canvas, i * step) + canvas->unit * 0.3, i * step + 0.0);
    fputs("</g>\n", canvas->out);
}

/* ---- copper ---- */

/* One look a role: a colour, and lines across it of another direction or shape. */
enum look { LOOK_NONE, LOOK_PASS, LOOK_BY_SUM, LOOK_NARROW, LOOK_UNASSIGNED, LOOK_NOT_JUDGED };
static const struct {
    const char *fill;    /* an SVG paint */
    const char *colour;  /* of the pattern, when it is one */
    const char *strokes; /* on a tile of 4 x 4 */
    const char *word;
} looks[] = {
    [LOOK_NONE] = {COPPER, NULL, NULL, "no current given"},
    [LOOK_PASS] = {PASS, NULL, NULL, "passes"},
    [LOOK_BY_SUM] = {"url(#by-sum)", PASS, "M-1 1L1 -1M0 4L4 0M3 5L5 3", "passes by sum"},
    [LOOK_NARROW] = {NARROW, NULL, NULL, "narrow"},
    [LOOK_UNASSIGNED] = {"url(#unassigned)", UNASSIGNED, "M0 2H4", "unassigned"},
    [LOOK_NOT_JUDGED] = {"url(#not-judged)", NOT_JUDGED, "M2 0V4M0 2H4",
                         "could not judge, split, joined"},
};

static void put_patterns(const struct canvas *canvas)
{
    fputs("<defs>\n", canvas->out);
    for (size_t i = 0; i < sizeof looks / sizeof *looks; i++) {
        if (!looks[i].strokes)
            continue;
        const char *id = looks[i].fill + strlen("url(#");
        fprintf(canvas->out,
                "<pattern id=\"%.*s\" width=\"4\" height=\"4\" patternUnits=\"userSpaceOnUse\" "
                "patternTransform=\"scale(%.3f)\"><rect width=\"4\" height=\"4\" fill=\"%s\"/>"
                "<path stroke=\"#ffffff\" stroke-opacity=\"0.45\" stroke-width=\"0.8\" "
                "d=\"%s\"/></pattern>\n",
                (int)strlen(id) - 1, id, canvas->unit * 0.15, looks[i].colour, looks[i].strokes);
    }
    fputs("</defs>\n", canvas->out);
}

static enum look look_of_net(const struct canvas *canvas, uint32_t net)
{
    const struct check_result *result = canvas->in->result;
    if (!result || net == ISTHMUS_NONE)
        return LOOK_NONE;
    for (size_t i = 0; i < result->finding_count; i++)
        if (result->findings[i].net == net && (result->findings[i].kind == FINDING_SPLIT ||
                                               result->findings[i].kind == FINDING_JOINED))
            return LOOK_NOT_JUDGED;
    static const enum look of_verdict[] = {[VERDICT_PASS] = LOOK_PASS,
                                           [VERDICT_PASS_BY_SUM] = LOOK_BY_SUM,
                                           [VERDICT_NARROW] = LOOK_NARROW,
                                           [VERDICT_UNASSIGNED] = LOOK_UNASSIGNED,
                                           [VERDICT_NOT_JUDGED] = LOOK_NOT_JUDGED};
    for (size_t i = 0; i < result->verdict_count; i++) /* worst first */
        if (result->verdicts[i].net == net)
            return of_verdict[result->verdicts[i].verdict];
    return LOOK_NONE;
}

static uint32_t conductor_of(const struct copper_layer *layer, uint32_t triangle)
{
    uint32_t component = layer->mesh.component[triangle];
    return component == ISTHMUS_NONE ? ISTHMUS_NONE : layer->conductor_of_component[component];
}

/* Is corner+1 -> corner+2 of this triangle an outline of the copper (bare on the other side)? */
static bool is_outline(const struct sheet_mesh *mesh, uint32_t triangle, int corner)
{
    uint32_t other = mesh->cdt.neighbour[triangle][corner];
    return other == ISTHMUS_NONE || mesh->component[other] == ISTHMUS_NONE;
}

static void put_point(const struct canvas *canvas, char command, struct pt at)
{
    struct pos_nm file = board_to_file(canvas->board, at);
    fprintf(canvas->out, "%c%.4f %.4f", command, to_x(canvas, nm_to_mm(file.x_nm)),
            to_y(canvas, nm_to_mm(file.y_nm)));
}

/* Turns about the end point of an outline edge, through copper, to the next outline edge. */
static void next_outline(const struct sheet_mesh *mesh, uint32_t *triangle, int *corner)
{
    uint32_t t = *triangle;
    int c = (*corner + 1) % 3; /* the edge that starts where this one ends */
    while (!is_outline(mesh, t, c)) {
        uint32_t other = mesh->cdt.neighbour[t][c];
        int back = 0;
        while (mesh->cdt.neighbour[other][back] != t)
            back++;
        t = other;
        c = (back + 1) % 3;
    }
    *triangle = t;
    *corner = c;
}

static void put_loop(const struct canvas *canvas, const struct sheet_mesh *mesh, uint32_t triangle,
                     int corner, bool *done)
{
    char command = 'M';
    while (!done[3 * (size_t)triangle + (size_t)corner]) {
        done[3 * (size_t)triangle + (size_t)corner] = true;
        put_point(canvas, command, mesh->cdt.points[mesh->cdt.corner[triangle][(corner + 1) % 3]]);
        command = 'L';
        next_outline(mesh, &triangle, &corner);
    }
    fputs("Z", canvas->out);
}

/* All outlines of the triangles of one component, as one even-odd path. */
static void put_component(const struct canvas *canvas, const struct copper_layer *layer,
                          const uint32_t *triangles, size_t count, bool *done)
{
    const struct sheet_mesh *mesh = &layer->mesh;
    uint32_t conductor = conductor_of(layer, triangles[0]);
    uint32_t net = conductor < canvas->board->conductor_count
                       ? canvas->board->conductors[conductor].net
                       : ISTHMUS_NONE;
    fprintf(canvas->out, "<path fill=\"%s\" d=\"", looks[look_of_net(canvas, net)].fill);
    for (size_t i = 0; i < count; i++)
        for (int corner = 0; corner < 3; corner++)
            if (is_outline(mesh, triangles[i], corner) &&
                !done[3 * (size_t)triangles[i] + (size_t)corner])
                put_loop(canvas, mesh, triangles[i], corner, done);
    fputs("\"><title>", canvas->out);
    put_text(canvas, net == ISTHMUS_NONE ? "no net name" : net_name(canvas->board, net));
    fputs("</title></path>\n", canvas->out);
}

/* Triangles sorted by component: order[first[c] .. first[c + 1]). */
static bool sort_triangles(const struct sheet_mesh *mesh, uint32_t **order, size_t **first)
{
    *order = calloc(mesh->cdt.tri_count + 1, sizeof **order);
    *first = calloc((size_t)mesh->component_count + 2, sizeof **first);
    if (!*order || !*first)
        return false;
    for (uint32_t t = 0; t < mesh->cdt.tri_count; t++)
        if (mesh->component[t] != ISTHMUS_NONE)
            (*first)[mesh->component[t] + 2]++;
    for (size_t c = 2; c < (size_t)mesh->component_count + 2; c++)
        (*first)[c] += (*first)[c - 1];
    for (uint32_t t = 0; t < mesh->cdt.tri_count; t++)
        if (mesh->component[t] != ISTHMUS_NONE)
            (*order)[(*first)[mesh->component[t] + 1]++] = t;
    return true;
}

static bool put_copper(const struct canvas *canvas, const struct copper_layer *layer)
{
    uint32_t *order = NULL;
    size_t *first = NULL;
    bool *done = calloc(3 * (size_t)layer->mesh.cdt.tri_count + 1, sizeof *done);
    bool is_sorted = done && sort_triangles(&layer->mesh, &order, &first);
    fputs("<g fill-rule=\"evenodd\">\n", canvas->out);
    for (uint32_t c = 0; is_sorted && c < layer->mesh.component_count; c++)
        if (first[c + 1] > first[c])
            put_component(canvas, layer, order + first[c], first[c + 1] - first[c], done);
    fputs("</g>\n", canvas->out);
    free(order);
    free(first);
    free(done);
    return is_sorted;
}

/* Outlines of the contacts within the copper. */
static void put_contacts(const struct canvas *canvas, const struct copper_layer *layer)
{
    const struct sheet_mesh *mesh = &layer->mesh;
    fprintf(canvas->out, "<path fill=\"none\" stroke=\"%s\" stroke-width=\"%.3f\" d=\"", CONTACT,
            canvas->unit * 0.06);
    for (uint32_t t = 0; t < mesh->cdt.tri_count; t++)
        for (int corner = 0; corner < 3; corner++) {
            uint32_t other = mesh->cdt.neighbour[t][corner];
            if (mesh->component[t] == ISTHMUS_NONE || mesh->mark[t] == ISTHMUS_NONE ||
                (other != ISTHMUS_NONE && mesh->mark[other] == mesh->mark[t]))
                continue;
            put_point(canvas, 'M', mesh->cdt.points[mesh->cdt.corner[t][(corner + 1) % 3]]);
            put_point(canvas, 'L', mesh->cdt.points[mesh->cdt.corner[t][(corner + 2) % 3]]);
        }
    fputs("\"/>\n", canvas->out);
}

/* ---- necks ---- */

static void put_line(const struct canvas *canvas, const struct finding_piece *piece,
                     const char *stroke)
{
    fprintf(
        canvas->out,
        "<path stroke=\"%s\" stroke-width=\"%.3f\" stroke-linecap=\"round\" d=\"M%.4f %.4fL%.4f "
        "%.4f\"/>\n",
        stroke, canvas->unit * 0.15, to_x(canvas, nm_to_mm(piece->from.x_nm)),
        to_y(canvas, nm_to_mm(piece->from.y_nm)), to_x(canvas, nm_to_mm(piece->to.x_nm)),
        to_y(canvas, nm_to_mm(piece->to.y_nm)));
}

static bool is_on_layer(const struct finding_piece *piece, uint16_t position)
{
    return piece->layer == position || piece->layer_to == position || piece->kind == PIECE_WALL;
}

static void put_number(const struct canvas *canvas, const struct finding_piece *piece,
                       size_t number)
{
    double x = to_x(canvas, nm_to_mm(piece->middle.x_nm));
    double y = to_y(canvas, nm_to_mm(piece->middle.y_nm));
    fprintf(canvas->out,
            "<circle cx=\"%.4f\" cy=\"%.4f\" r=\"%.3f\" fill=\"none\" stroke=\"#000000\" "
            "stroke-width=\"%.3f\"/><text x=\"%.4f\" y=\"%.4f\" font-size=\"%.2f\" "
            "font-weight=\"bold\">%zu</text>\n",
            x, y, canvas->unit * 0.9, canvas->unit * 0.1, x + canvas->unit, y - canvas->unit * 0.6,
            canvas->unit * 1.2, number);
}

static void put_findings(const struct canvas *canvas, uint16_t position)
{
    const struct check_result *result = canvas->in->result;
    for (size_t f = 0; result && f < result->finding_count; f++)
        for (size_t p = 0; p < result->findings[f].place_count; p++) {
            const struct finding_place *place = &result->findings[f].places[p];
            bool is_numbered = p > 0;
            for (size_t i = 0; i < place->piece_count; i++) {
                if (!is_on_layer(&place->pieces[i], position))
                    continue;
                put_line(canvas, &place->pieces[i], "#000000");
                if (!is_numbered)
                    put_number(canvas, &place->pieces[i], f + 1);
                is_numbered = true;
            }
        }
    for (size_t v = 0; result && v < result->verdict_count; v++)
        for (size_t i = 0; result->verdicts[v].has_least &&
                           (result->verdicts[v].verdict == VERDICT_PASS ||
                            result->verdicts[v].verdict == VERDICT_PASS_BY_SUM) &&
                           i < result->verdicts[v].least.piece_count;
             i++)
            if (is_on_layer(&result->verdicts[v].least.pieces[i], position))
                put_line(canvas, &result->verdicts[v].least.pieces[i], LEAST);
}

/* ---- numbers ---- */

static double area_of(const struct cdt *cdt, uint32_t t)
{
    const struct pt *a = &cdt->points[cdt->corner[t][0]], *b = &cdt->points[cdt->corner[t][1]],
                    *c = &cdt->points[cdt->corner[t][2]];
    return ((double)b->x - a->x) * ((double)c->y - a->y) -
           ((double)b->y - a->y) * ((double)c->x - a->x);
}

/* In the middle of the largest triangle of each island of this layer. */
static void put_conductor_number(const struct canvas *canvas, const struct cdt *cdt, uint32_t t,
                                 uint32_t number)
{
    double x = 0, y = 0;
    for (unsigned i = 0; i < 3; i++) {
        struct pos_nm at = board_to_file(canvas->board, cdt->points[cdt->corner[t][i]]);
        x += to_x(canvas, nm_to_mm(at.x_nm)) / 3;
        y += to_y(canvas, nm_to_mm(at.y_nm)) / 3;
    }
    fprintf(canvas->out, "<text x=\"%.4f\" y=\"%.4f\">%u</text>\n", x, y, number);
}

static bool put_conductor_numbers(const struct canvas *canvas, const struct copper_layer *layer)
{
    const struct sheet_mesh *mesh = &layer->mesh;
    uint32_t *numbers = conductor_numbers(canvas->board);
    uint32_t *largest = malloc(((size_t)mesh->component_count + 1) * sizeof *largest);
    bool is_done = numbers && largest;
    for (uint32_t c = 0; is_done && c < mesh->component_count; c++)
        largest[c] = ISTHMUS_NONE;
    for (uint32_t t = 0; is_done && t < mesh->cdt.tri_count; t++) {
        uint32_t c = mesh->component[t];
        if (c != ISTHMUS_NONE && (largest[c] == ISTHMUS_NONE ||
                                  area_of(&mesh->cdt, t) > area_of(&mesh->cdt, largest[c])))
            largest[c] = t;
    }
    fprintf(canvas->out,
            "<g font-size=\"%.2f\" text-anchor=\"middle\" stroke=\"#ffffff\" "
            "stroke-width=\"%.3f\" paint-order=\"stroke\">\n",
            canvas->unit * 0.7, canvas->unit * 0.12);
    for (uint32_t c = 0; is_done && c < mesh->component_count; c++)
        if (largest[c] != ISTHMUS_NONE)
            put_conductor_number(canvas, &mesh->cdt, largest[c],
                                 numbers[layer->conductor_of_component[c]]);
    fputs("</g>\n", canvas->out);
    free(numbers);
    free(largest);
    return is_done;
}

static double picture_width(const struct canvas *canvas)
{
    return canvas->max_x - canvas->min_x + 2 * MARGIN_MM;
}

/* A line of text that must not run over the edge: at the usual size, or smaller. */
static double text_size(const struct canvas *canvas, double wanted, size_t letters)
{
    const double letter_widths = 0.56; /* of the size: about what common sans-serif fonts take */
    double room = picture_width(canvas) - MARGIN_MM * 1.2;
    return fmin(wanted, room / (letter_widths * (double)letters));
}

static void put_title(const struct canvas *canvas, const struct copper_layer *layer)
{
    char word[16];
    const char *name = canvas->board->files->files[layer->file_id - 1].name;
    const char *last = strrchr(name, '/'); /* the folder and the zip would run over the edge */
    const char *layer_name = layer_word(canvas->board, layer->position, word);
    static const char between[] = ", seen from the top: ";
    name = last ? last + 1 : name;
    fprintf(canvas->out, "<text x=\"%.2f\" y=\"%.2f\" font-size=\"%.2f\" font-weight=\"bold\">",
            MARGIN_MM, canvas->offset_y + TITLE_MM * 0.6,
            text_size(canvas, canvas->unit * 1.4,
                      (strlen(layer_name) + strlen(between) + strlen(name)) * 5 / 4));
    put_text(canvas, layer_name);
    fputs(between, canvas->out);
    put_text(canvas, name);
    fputs("</text>\n", canvas->out);
}

#define LEGEND_LETTERS 124 /* of its longest line */

static void put_legend(const struct canvas *canvas, double y)
{
    static const enum look order[] = {LOOK_PASS,       LOOK_BY_SUM,     LOOK_NARROW,
                                      LOOK_UNASSIGNED, LOOK_NOT_JUDGED, LOOK_NONE};
    double size = text_size(canvas, canvas->unit, LEGEND_LETTERS), x = MARGIN_MM;
    for (size_t i = 0; i < sizeof order / sizeof *order; i++) {
        const char *word = looks[order[i]].word;
        fprintf(canvas->out,
                "<rect x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" height=\"%.2f\" fill=\"%s\"/><text "
                "x=\"%.2f\" y=\"%.2f\" font-size=\"%.2f\">",
                x, y - size * 0.8, size, size, looks[order[i]].fill, x + size * 1.3, y, size);
        put_text(canvas, word);
        fputs("</text>\n", canvas->out);
        x += size * (2.6 + 0.56 * (double)strlen(word));
    }
    fprintf(canvas->out,
            "<text x=\"%.2f\" y=\"%.2f\" font-size=\"%.2f\">blue outline: contact; black line with "
            "number: finding; light blue line: least margin of a net that passes; grid in "
            "mm</text>\n",
            MARGIN_MM, y + size * 1.6, size);
}

static struct canvas canvas_of(const struct report_input *in, FILE *out)
{
    const struct board *board = in->board;
    struct canvas canvas = {.in = in,
                            .board = board,
                            .out = out,
                            .min_x = nm_to_mm(board->min.x_nm) - 1,
                            .min_y = nm_to_mm(board->min.y_nm) - 1,
                            .max_x = nm_to_mm(board->max.x_nm) + 1,
                            .max_y = nm_to_mm(board->max.y_nm) + 1};
    double span = fmax(canvas.max_x - canvas.min_x, canvas.max_y - canvas.min_y);
    canvas.unit = fmin(fmax(span / 60, 0.5), 4);
    return canvas;
}

enum report_status report_svg(const struct report_input *in, FILE *out)
{
    struct canvas canvas = canvas_of(in, out);
    double width = picture_width(&canvas);
    double height = layer_height(&canvas) * (double)in->board->layer_count + 4 * canvas.unit;
    bool is_done = true;
    fprintf(out,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%.2fmm\" height=\"%.2fmm\" "
            "viewBox=\"0 0 %.2f %.2f\" font-family=\"sans-serif\">\n<!-- written by isthmus "
            "-->\n<rect width=\"100%%\" "
            "height=\"100%%\" fill=\"#ffffff\"/>\n",
            width, height, width, height);
    put_patterns(&canvas);
    for (size_t i = 0; i < in->board->layer_count; i++) {
        canvas.offset_y = layer_height(&canvas) * (double)i;
        put_title(&canvas, &in->board->layers[i]);
        is_done &= put_copper(&canvas, &in->board->layers[i]);
        put_grid(&canvas);
        put_contacts(&canvas, &in->board->layers[i]);
        put_findings(&canvas, in->board->layers[i].position);
        if (in->shows_conductors)
            is_done &= put_conductor_numbers(&canvas, &in->board->layers[i]);
    }
    put_legend(&canvas, height - 2.5 * canvas.unit);
    fputs("</svg>\n", out);
    if (!is_done)
        return REPORT_NO_MEMORY;
    return ferror(out) ? REPORT_WRITE_FAILED : REPORT_OK;
}
