/* What stands on a test sheet, in the order in which it is needed. */
#include "isthmus/bench.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

#include "bench/sheet_format.h"
#include "isthmus/copper.h"
#include "isthmus/quantity.h"
#include "isthmus/uncertainty.h"

#define LINE 640
#define READING_ROWS 6

struct sheet {
    const struct sheet_format *format;
    FILE *out;
    const struct bench_question *question;
    const struct bench_plan *plan;
};

static char *number(double value, char text[QUANTITY_TEXT_SIZE])
{
    return quantity_short(value, 3, text);
}

static void paragraph(const struct sheet *sheet, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
static void step(const struct sheet *sheet, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

static void paragraph(const struct sheet *sheet, const char *format, ...)
{
    char line[LINE];
    va_list args;
    va_start(args, format);
    vsnprintf(line, sizeof line, format, args);
    va_end(args);
    sheet->format->paragraph(sheet->out, line);
}

static void step(const struct sheet *sheet, const char *format, ...)
{
    char line[LINE];
    va_list args;
    va_start(args, format);
    vsnprintf(line, sizeof line, format, args);
    va_end(args);
    sheet->format->step(sheet->out, line);
}

static void put_cautions(const struct sheet *sheet)
{
    static const char *const lines[] = {
        "Hot copper, hot resistors and hot solder burn skin and start fires. Work on a surface "
        "that does not burn, with nothing that burns nearby, and never leave the test alone.",
        "A short circuit on a battery or a large supply melts copper and throws sparks. Put a fuse "
        "or a current limit first in the line, and test from a limited supply, not from a battery.",
        "Nothing on this sheet is for mains voltage: that is for people licensed to do it, under "
        "your local codes.",
        "Switch off and wait until it is cool before touching or changing anything. Have the "
        "switch within reach before you begin.",
        "The numbers are predictions from published fits. They are no proof of safety.",
    };
    sheet->format->caution(sheet->out, lines, sizeof lines / sizeof lines[0]);
}

/* ---- load and supply ---- */

static void put_rating(const struct sheet *sheet)
{
    const struct bench_question *question = sheet->question;
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE], d[QUANTITY_TEXT_SIZE];
    if (question->load.rated_w > 0)
        step(sheet,
             "The load's rating of %s W at %s " SIGN_CELSIUS " leaves %s W at %s " SIGN_CELSIUS
             " where it stands: enough.",
             number(question->load.rated_w, a), number(question->load.rated_c, b),
             number(derating_allowed_w(&question->load, question->load_c), c),
             number(question->load_c, d));
    else
        paragraph(sheet,
                  "That rating is twice what the load takes (common practice, no source) after "
                  "derating from %s " SIGN_CELSIUS " to nothing at %s " SIGN_CELSIUS
                  " in a straight line, with %s " SIGN_CELSIUS
                  " where it stands. The data sheet's own curve goes before this.",
                  number(question->load.rated_c, a), number(question->load.zero_c, b),
                  number(question->load_c, c));
}

static void put_one_load(const struct sheet *sheet, const struct bench_load *load)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE], rating[64] = "";
    if (!(sheet->question->load.rated_w > 0))
        snprintf(rating, sizeof rating, " Take one rated for %s W or more.",
                 number(load->rating_w, a));
    step(sheet, "Load%s%.60s: %s " SIGN_OHM ", which takes %s W at %s A.%s",
         load->name ? " at " : "", load->name ? load->name : "", number(load->ohm, a),
         number(load->power_w, b), number(load->current_a, c), rating);
}

static size_t count_feeds(const struct bench_drawn *drawn)
{
    size_t count = 0;
    for (size_t i = 0; i < drawn->end_count; i++)
        count += drawn->ends[i].current_a > 0;
    return count;
}

static void put_loads(const struct sheet *sheet)
{
    const struct bench_plan *plan = sheet->plan;
    for (size_t i = 0; i < plan->load_count; i++)
        put_one_load(sheet, &plan->loads[i]);
    put_rating(sheet);
    if (plan->load_count > 1 || count_feeds(&sheet->question->drawn) > 1)
        paragraph(sheet, "The current enters or leaves the net in several places, here in the "
                         "shares of the table. With one lead or one load only, name its terminal: "
                         "--from, --to.");
}

static void put_supply(const struct sheet *sheet)
{
    const struct bench_plan *plan = sheet->plan;
    double series_ohm = sheet->question->leads_ohm + sheet->question->contacts_ohm;
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE], d[QUANTITY_TEXT_SIZE];
    quantity_text(plan->supply_v, 4, a);
    number(plan->supply_limit_a, b);
    if (series_ohm > 0)
        step(sheet,
             "Supply: set %s V and a current limit of %s A. That leaves %s V where the current "
             "enters the board; leads and contacts (%s m" SIGN_OHM " in all) take the rest.",
             a, b, quantity_text(plan->board_v, 4, c), number(1e3 * series_ohm, d));
    else
        step(sheet,
             "Supply: %s V where the current enters the board, and a current limit of %s A. Leads "
             "and contacts were not stated: measure the voltage at the board and raise the supply "
             "until it is right, or use four wires.",
             a, b);
    paragraph(sheet,
              "Copper is heated by the current alone: the lowest voltage that drives it through "
              "the load is the safest. A supply that can hold the current constant needs no exact "
              "load. Parts in the line that need a voltage (switches, regulators) must get it, or "
              "be bridged.");
}

/* "J1.1, J1.2" of the ends that feed (+) or draw (-). */
static void end_names(const struct bench_drawn *drawn, bool feeds, char *text, size_t size)
{
    size_t length = 0;
    *text = 0;
    for (size_t i = 0; i < drawn->end_count; i++)
        if ((feeds ? drawn->ends[i].current_a : -drawn->ends[i].current_a) > 0 &&
            length + 50 < size)
            length += (size_t)snprintf(text + length, size - length, "%s%.40s", length ? ", " : "",
                                       drawn->ends[i].name);
}

static void put_clamps(const struct sheet *sheet)
{
    char from[200], to[200], places[LINE] = "";
    if (sheet->question->drawn.is_known) {
        end_names(&sheet->question->drawn, true, from, sizeof from);
        end_names(&sheet->question->drawn, false, to, sizeof to);
        snprintf(places, sizeof places, "The current enters this net at %s and leaves it at %s. ",
                 from, to);
    }
    step(sheet,
         "%sClamp so that the current enters and leaves where it does in use; a lead at one corner "
         "of a pad makes another path.",
         places);
}

static void put_connections(const struct sheet *sheet)
{
    sheet->format->heading(sheet->out, "Connect");
    put_loads(sheet);
    put_supply(sheet);
    put_clamps(sheet);
}

/* ---- what to expect ---- */

static void side_text(const struct bench_place *place, char *text, size_t size)
{
    static const char *const words[] = {
        [BENCH_SIDE_UNKNOWN] = "where it is", [BENCH_TOP] = "top", [BENCH_BOTTOM] = "bottom"};
    const char *side = place->side != BENCH_INSIDE ? words[place->side]
                       : place->is_nearer_bottom   ? "bottom"
                                                   : "top";
    bool is_said = !place->layer || strcmp(place->layer, side) == 0;
    snprintf(text, size, "%s%s%.20s%s", side, is_said ? "" : " (", is_said ? "" : place->layer,
             is_said ? "" : ")");
}

static void position_text(const struct bench_place *place, char *text, size_t size)
{
    if (!place->has_position)
        snprintf(text, size, "-");
    else
        snprintf(text, size, "%.3f, %.3f", place->x_mm, place->y_mm);
}

static void short_text(const struct bench_expectation *expected, char *text, size_t size)
{
    char a[QUANTITY_TEXT_SIZE];
    if (isnan(expected->short_k))
        snprintf(text, size, "-");
    else
        snprintf(text, size, "%s K", number(expected->short_k, a));
}

/* What a camera would show: one temperature, or from that of a short neck to a long conductor's. */
static void shown_text(const struct sheet *sheet, const struct bench_expectation *expected,
                       char *text, size_t size)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    number(sheet->question->ambient_c + expected->least_k, a);
    number(sheet->question->ambient_c + expected->rise_k, b);
    if (expected->least_k < expected->rise_k)
        snprintf(text, size, "%s to %s " SIGN_CELSIUS, a, b);
    else
        snprintf(text, size, "%s " SIGN_CELSIUS, b);
}

static void width_text(const struct bench_place *place, bool is_short, char *text, size_t size)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    if (place->layer && strcmp(place->layer, "hole") == 0)
        snprintf(text, size, "%s mm2", number(place->width_mm * place->thickness_mm, a));
    else if (is_short)
        snprintf(text, size, "%s x %s mm", number(place->width_mm, a),
                 quantity_short(place->neck_length_mm, 2, b));
    else
        snprintf(text, size, "%s mm", number(place->width_mm, a));
}

static void put_place_row(const struct sheet *sheet, size_t index,
                          const struct sheet_column *columns)
{
    const struct bench_place *place = &sheet->question->places[index];
    const struct bench_expectation *expected = &sheet->plan->expected[index];
    char at[48], side[48], width[64], rise[80], band[80], short_neck[48], shown[80];
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    position_text(place, at, sizeof at);
    side_text(place, side, sizeof side);
    width_text(place, !isnan(expected->short_k), width, sizeof width);
    snprintf(rise, sizeof rise, "%s " SIGN_PLUS_MINUS " %s K", number(expected->rise_k, a),
             quantity_short(expected->expanded_k, 2, b));
    snprintf(band, sizeof band, "%s K", number(expected->high_k, a));
    short_text(expected, short_neck, sizeof short_neck);
    shown_text(sheet, expected, shown, sizeof shown);
    const char *cells[] = {place->name, at, side, width, rise, band, short_neck, shown};
    sheet->format->row(sheet->out, columns, cells, 8);
}

static bool is_any_short(const struct sheet *sheet)
{
    for (size_t i = 0; i < sheet->question->place_count; i++)
        if (!isnan(sheet->plan->expected[i].short_k))
            return true;
    return false;
}

static void explain_places(const struct sheet *sheet)
{
    const struct bench_question *question = sheet->question;
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    paragraph(
        sheet,
        "Rise if long: what a long conductor of this width reaches, by the IPC-2221 fit of its "
        "layer at the current that crosses it, with U (k = 2) for a width within " SIGN_PLUS_MINUS
        "%s mm, copper within " SIGN_PLUS_MINUS
        "%s %% and the current within its meter's error. Worst fit: the most that a "
        "published fit foresees for it. Shows: what a camera would show.",
        number(question->width_tolerance_mm, a), number(100 * question->thickness_tolerance, b));
    if (is_any_short(sheet))
        paragraph(sheet,
                  "Rise as a neck: width x length is narrow, the copper at both ends is wide "
                  "enough for its current and leads the heat away. It is what copper just "
                  "wide enough would reach, and what a neck of this length adds to that. The "
                  "truth is near this, or below, where the copper at the ends stays wide for "
                  "centimetres, and nearer to that of a long conductor where it does not.");
}

static void put_places(const struct sheet *sheet)
{
    static const struct sheet_column columns[] = {
        {"place", 5},         {"x, y (mm)", 14}, {"look at", 10},  {"width", 12},
        {"rise if long", 12}, {"worst fit", 9},  {"as a neck", 9}, {"shows", 14},
    };
    const struct bench_question *question = sheet->question;
    char a[QUANTITY_TEXT_SIZE];
    if (question->place_count == 0) {
        paragraph(sheet,
                  "No place of this net is narrow at this current: none should rise above the "
                  "allowed %s K. Look all along it.",
                  number(question->allowed_rise_k, a));
        return;
    }
    sheet->format->table_begin(sheet->out, "Where to look, the hottest first", columns, 8);
    for (size_t i = 0; i < question->place_count; i++)
        put_place_row(sheet, i, columns);
    sheet->format->table_end(sheet->out);
    explain_places(sheet);
}

static bool is_above(const struct sheet *sheet, size_t index)
{
    return sheet->plan->expected[index].is_above_allowed;
}

static bool is_above_stop(const struct sheet *sheet, size_t index)
{
    return sheet->question->ambient_c + sheet->plan->expected[index].rise_k >
           sheet->question->stop_c;
}

static bool is_inside(const struct sheet *sheet, size_t index)
{
    return sheet->question->places[index].side == BENCH_INSIDE;
}

static bool is_wall(const struct sheet *sheet, size_t index)
{
    const char *layer = sheet->question->places[index].layer;
    return layer && strcmp(layer, "hole") == 0;
}

static bool is_extrapolated(const struct sheet *sheet, size_t index)
{
    return sheet->plan->expected[index].outside != NULL;
}

/* One sentence for all places it is true of: "TEXT: 1, 2, 3." */
static void put_note(const struct sheet *sheet, const char *text,
                     bool (*is_true)(const struct sheet *, size_t))
{
    char names[LINE / 2] = "";
    size_t length = 0;
    for (size_t i = 0; i < sheet->question->place_count; i++)
        if (is_true(sheet, i) && length + 40 < sizeof names)
            length += (size_t)snprintf(names + length, sizeof names - length, "%s%.30s",
                                       length ? ", " : "", sheet->question->places[i].name);
    if (length > 0)
        paragraph(sheet, "%s: %s.", text, names);
}

static void put_notes_on_places(const struct sheet *sheet)
{
    char above[160], a[QUANTITY_TEXT_SIZE];
    snprintf(above, sizeof above, "If long, above the allowed rise of %s K",
             number(sheet->question->allowed_rise_k, a));
    put_note(sheet, above, is_above);
    snprintf(above, sizeof above,
             "If long, above %s " SIGN_CELSIUS ", where to stop: raise the current in small steps "
             "and watch",
             number(sheet->question->stop_c, a));
    put_note(sheet, above, is_above_stop);
    put_note(sheet,
             "Walls of plated holes, all that share the current there; their cross-section stands "
             "in place of a width. A published simulation and test found that a hole takes the "
             "temperature of its conductors",
             is_wall);
    put_note(sheet, "Extrapolated, outside the range of the fit", is_extrapolated);
    put_note(sheet,
             "Inside the board (the surface above is cooler than the copper, the warm spot blurred "
             "over some millimetres; the resistance method sees the copper itself)",
             is_inside);
}

static void put_end_row(const struct sheet *sheet, const struct bench_end *end,
                        const struct sheet_column *columns)
{
    const struct bench_plan *plan = sheet->plan;
    char at[48] = "-", current[40] = "-", cold[40], warm[40], a[QUANTITY_TEXT_SIZE];
    if (end->has_position)
        snprintf(at, sizeof at, "%.3f, %.3f", end->x_mm, end->y_mm);
    if (end->current_a != 0)
        snprintf(current, sizeof current, "%s A %s", number(fabs(end->current_a), a),
                 end->current_a > 0 ? "in" : "out");
    snprintf(cold, sizeof cold, "%s mV", number(1e3 * end->drop_v, a));
    snprintf(warm, sizeof warm, "%s mV", number(1e3 * end->drop_v * plan->warm_factor, a));
    const char *cells[] = {end->name, at, current, cold, warm, NULL};
    sheet->format->row(sheet->out, columns, cells, 6);
}

static void explain_drawn(const struct sheet *sheet)
{
    const struct bench_question *question = sheet->question;
    const struct bench_plan *plan = sheet->plan;
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE], d[QUANTITY_TEXT_SIZE];
    paragraph(sheet,
              "Cold: with the copper at %s " SIGN_CELSIUS
              ". Warm: as if all of it were at %s " SIGN_CELSIUS
              ", like %s; most of it will be cooler.",
              number(question->ambient_c, a), number(plan->warm_c, b),
              question->place_count ? "its hottest place" : "copper at the allowed rise");
    paragraph(sheet,
              "Loop resistance of this net's copper: %s m" SIGN_OHM " cold, %s m" SIGN_OHM
              " warm, solved from the drawing (the mesh errs by about %s m" SIGN_OHM
              "); it takes %s W.",
              number(1e3 * question->drawn.ohm, a), number(1e3 * plan->drawn_hot_ohm, b),
              quantity_short(1e3 * question->drawn.error_ohm, 1, c),
              number(bench_power_w(question->current_a, plan->drawn_hot_ohm), d));
    if (question->drawn.etch_loss_um > 0)
        paragraph(sheet,
                  "The etch loss of %s " SIGN_MICRO "m an edge is not taken off here: "
                  "narrow copper drops more than this says.",
                  number(question->drawn.etch_loss_um, a));
    if (question->drawn.left_out_count > 0)
        paragraph(sheet,
                  "%zu more terminals of this net are not listed; --at X,Y,LAYER names any "
                  "place.",
                  question->drawn.left_out_count);
}

/* Drops by the drawing: cold, and with all copper as warm as the warmest, which is too much. */
static void put_drawn(const struct sheet *sheet)
{
    static const struct sheet_column columns[] = {{"at", 18},      {"x, y (mm)", 18},
                                                  {"current", 11}, {"cold", 10},
                                                  {"warm", 10},    {"measured", 10}};
    const struct bench_drawn *drawn = &sheet->question->drawn;
    char caption[160];
    if (!drawn->is_known)
        return;
    snprintf(caption, sizeof caption, "Expected voltage drop from %.60s, by the drawing",
             drawn->ends[0].name);
    sheet->format->table_begin(sheet->out, caption, columns, 6);
    for (size_t i = 1; i < drawn->end_count; i++)
        put_end_row(sheet, &drawn->ends[i], columns);
    sheet->format->table_end(sheet->out);
    explain_drawn(sheet);
}

static void put_segments(const struct sheet *sheet)
{
    static const struct sheet_column columns[] = {
        {"to the end of", 24}, {"drop at the test current", 26}, {"measured", 10}};
    const struct bench_question *question = sheet->question;
    char a[QUANTITY_TEXT_SIZE], text[48];
    if (question->segment_count == 0)
        return;
    sheet->format->table_begin(sheet->out,
                               question->drawn.is_known
                                   ? "Expected voltage drop in what was stated besides"
                                   : "Expected voltage drop from where the current enters",
                               columns, 3);
    for (size_t i = 0; i < question->segment_count; i++) {
        snprintf(text, sizeof text, "%s mV", number(1e3 * sheet->plan->drop_hot_v[i], a));
        const char *cells[] = {question->segments[i].name, text, NULL};
        sheet->format->row(sheet->out, columns, cells, 3);
    }
    sheet->format->table_end(sheet->out);
}

static void put_drops(const struct sheet *sheet)
{
    const struct bench_question *question = sheet->question;
    put_drawn(sheet);
    put_segments(sheet);
    if (question->drawn.why_not)
        paragraph(sheet, "No voltage drop from the drawing: %.300s%s%.200s.",
                  question->drawn.why_not, question->drawn.advice ? "; " : "",
                  question->drawn.advice ? question->drawn.advice : "");
    if (question->segment_count > 0 || question->drawn.is_known)
        paragraph(
            sheet,
            "One way, without plugs, solder joints and the way back; copper from a foil maker "
            "is a few per cent worse than the standard's. Touch the probes to the copper, not "
            "to the clamps that carry the current.");
}

static void put_expectations(const struct sheet *sheet)
{
    sheet->format->heading(sheet->out, "Expect");
    put_places(sheet);
    put_notes_on_places(sheet);
    put_drops(sheet);
}

/* ---- how to measure ---- */

static void put_surface(const struct sheet *sheet)
{
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE];
    sheet->format->heading(sheet->out, "Prepare the surface for a thermal camera");
    step(sheet, "Solder mask emits about 0.9: leave it. Bare copper, tin and solder emit 0.05 to "
                "0.1 and show the room, not themselves: cover each spot with matt paint or a "
                "small piece of tape, pressed flat, and set the camera to its emissivity.");
    step(sheet, "Look within 55 degrees of straight down; keep warm things (you, lamps, the load) "
                "out of the mirror; write down the emissivity set and the temperature of what is "
                "reflected.");
    paragraph(sheet,
              "How much it matters: bare copper (0.07) at 85 " SIGN_CELSIUS " read at 0.95 shows "
              "%s " SIGN_CELSIUS "; at 85 " SIGN_CELSIUS " an error of 0.02 in 0.95 is %s K.",
              number(emissivity_shown_c(0.07, 0.95, 85, 25), a),
              number(emissivity_error_k(0.95, 0.02, 85, 25), b));
    step(sheet, "With a thermocouple: the thinnest wire, its first centimetre lying along the "
                "copper's surface; moving it along one conductor changes the reading by 1 to 1.5 K "
                "(Brooks 2016).");
}

static void put_running(const struct sheet *sheet)
{
    const struct bench_plan *plan = sheet->plan;
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE];
    sheet->format->heading(sheet->out, "Run");
    step(sheet, "No draught: a box over the board, or a quiet corner. Put the thermometer for the "
                "surroundings level with the board, a hand's breadth away, shaded from it.");
    step(sheet, "Begin at a quarter of the current for a minute and look: is anything hot that "
                "should not be? Then half, then all of it.");
    step(sheet,
         "Wait at least %s minutes: five time constants of about %s s, as a board %s mm thick in "
         "still air has.",
         number(ceil(plan->wait_s / 60), a), quantity_short(plan->tau_s, 2, b),
         number(sheet->question->board_mm, c));
    step(sheet, "Steady is when three readings, taken at intervals of a tenth of the time that has "
                "passed and at least 15 minutes apart (one test text is content with 5), show no "
                "further rise above the surroundings.");
}

static void put_stops(const struct sheet *sheet)
{
    char hottest[64], a[QUANTITY_TEXT_SIZE];
    snprintf(hottest, sizeof hottest, "any place reaches %s " SIGN_CELSIUS ";",
             number(sheet->question->stop_c, a));
    const char *const lines[] = {
        hottest,
        "a rise is well above the expected one, or a place gets hot that is not on the list: note "
        "where, "
        "that is a finding;",
        "the voltage drop keeps growing at constant current: the copper runs away;",
        "anything smells, smokes, discolours, softens or crackles; a plug or a lead gets hot "
        "(measure it, do not touch it).",
    };
    sheet->format->heading(sheet->out, "Stop at once when");
    sheet->format->list(sheet->out, lines, sizeof lines / sizeof lines[0]);
}

static void put_resistance_method(const struct sheet *sheet)
{
    const struct bench_plan *plan = sheet->plan;
    char a[QUANTITY_TEXT_SIZE], b[QUANTITY_TEXT_SIZE], c[QUANTITY_TEXT_SIZE];
    sheet->format->heading(sheet->out, "Second way: the copper as its own thermometer");
    paragraph(sheet, "T2 = (234.5 + T1) R2/R1 - 234.5. It gives the mean temperature of the copper "
                     "between the two voltage taps, inside layers too; the hottest spot is hotter "
                     "than the mean.");
    step(sheet, "Solder two thin voltage leads to the copper, inside the current clamps. With the "
                "board at the temperature of the room, T1, pass about a tenth of the current for a "
                "few seconds only and read V1 and I1: R1 = V1/I1.");
    step(sheet, "When steady, read V2 and I2 at the same taps: R2 = V2/I2. With 0.1 %% in each "
                "resistance and 0.3 K in T1 the rise is good to 0.4 K (one standard uncertainty, "
                "at R2/R1 = 1.1).");
    if (plan->copper_cold_ohm > 0)
        paragraph(sheet,
                  "Expected over all the copper listed above: R1 = %s m" SIGN_OHM
                  ", R2 = %s m" SIGN_OHM "%s, R2/R1 = %s.",
                  number(1e3 * plan->copper_cold_ohm, a), number(1e3 * plan->copper_hot_ohm, b),
                  sheet->question->drawn.is_known ? " or less" : "",
                  quantity_text(plan->hot_ratio, 4, c));
}

/* ---- blanks ---- */

static void put_log(const struct sheet *sheet)
{
    static const struct sheet_column columns[] = {
        {"time", 8},    {"current A", 9}, {"volts at board", 14}, {"ambient", 8},
        {"place 1", 8}, {"place 2", 8},   {"place 3", 8},         {"drop mV", 8}};
    const char *blank[SHEET_COLUMNS] = {NULL};
    sheet->format->table_begin(sheet->out, "Readings", columns, 8);
    for (int i = 0; i < READING_ROWS; i++)
        sheet->format->row(sheet->out, columns, blank, 8);
    sheet->format->table_end(sheet->out);
}

static void put_record(const struct sheet *sheet)
{
    static const struct sheet_column columns[] = {{"what", 46}, {"value", 10}};
    static const char *const rows[] = {
        "date, person",
        "board: number, copper measured or stated",
        "instruments: camera, meters, their last check",
        "accuracy of temperature, ambient, current",
        "emissivity set, reflected temperature",
        "how mounted: lying, standing, in its box",
        "cold: T1, V1, I1",
        "anything seen, heard, smelled",
    };
    sheet->format->heading(sheet->out, "Write down");
    sheet->format->table_begin(sheet->out, "Once", columns, 2);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        sheet->format->row(sheet->out, columns, (const char *const[]){rows[i], NULL}, 2);
    sheet->format->table_end(sheet->out);
    put_log(sheet);
    paragraph(sheet, "isthmus bench --csv FILE writes an empty table for these readings; isthmus "
                     "compare FILE says what they mean.");
}

static void put_sheet(const struct sheet *sheet)
{
    const struct bench_question *question = sheet->question;
    char title[200], a[QUANTITY_TEXT_SIZE];
    snprintf(title, sizeof title, "Bench test%s%.100s at %s A", question->net ? " of net " : "",
             question->net ? question->net : "", number(question->current_a, a));
    sheet->format->begin(sheet->out, title);
    put_cautions(sheet);
    paragraph(sheet, "From: %.400s.", question->source);
    put_connections(sheet);
    put_expectations(sheet);
    put_surface(sheet);
    put_running(sheet);
    put_stops(sheet);
    put_resistance_method(sheet);
    put_record(sheet);
    sheet->format->end(sheet->out);
}

void bench_sheet_text(const struct bench_question *question, const struct bench_plan *plan,
                      FILE *out)
{
    put_sheet(&(struct sheet){&sheet_format_text, out, question, plan});
}

void bench_sheet_html(const struct bench_question *question, const struct bench_plan *plan,
                      FILE *out)
{
    put_sheet(&(struct sheet){&sheet_format_html, out, question, plan});
}
