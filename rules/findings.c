/* From pieces in the mesh's coordinates to findings in the user's. */
#include "findings.h"

#include "isthmus/physics.h"
#include "isthmus/thermal.h"
#include "places.h"

#include <math.h>
#include <string.h>

static const struct copper_layer *layer_at(const struct board *board, uint16_t position)
{
    return position >= 1 && position <= board->layer_count ? &board->layers[position - 1] : NULL;
}

/* The file alone: an edge of the board is drawn by no single object. */
static struct source_pos profile_file(const struct board *board)
{
    for (size_t i = 0; i < board->role_count; i++)
        if (board->roles[i].role == ROLE_PROFILE)
            return (struct source_pos){board->roles[i].file_id, 0, 0};
    return (struct source_pos){0};
}

/* Where the object that bounds a piece was drawn. */
struct source_pos drawn_at(const struct board *board, uint16_t position, uint32_t object)
{
    const struct copper_layer *layer = layer_at(board, position);
    struct source_pos nowhere = {0};
    if (!layer || object >= layer->paint.object_count)
        return nowhere;
    const struct paint_object *painted = &layer->paint.objects[object];
    switch ((enum paint_kind)painted->kind) {
    case PAINT_KIND_DRAWN:
        return layer->drawing->objects[painted->owner].at;
    case PAINT_KIND_HOLE:
        return board->holes[painted->owner].hole.at;
    case PAINT_KIND_CONTACT:
        return board->contacts[painted->owner].at;
    case PAINT_KIND_PLANE:
    case PAINT_KIND_OUTSIDE:
        break;
    }
    return profile_file(board); /* a plane ends at the board's edge */
}

static struct pos_nm middle_of(struct pos_nm a, struct pos_nm b)
{
    return (struct pos_nm){a.x_nm + (b.x_nm - a.x_nm) / 2, a.y_nm + (b.y_nm - a.y_nm) / 2};
}

static void make_piece(const struct finding_maker *maker, const struct neck_piece *from,
                       struct finding_piece *out)
{
    const struct board *board = maker->board;
    *out = (struct finding_piece){.kind = from->kind,
                                  .layer = from->position,
                                  .from = board_to_file(board, from->a),
                                  .to = board_to_file(board, from->b),
                                  .width_mm = from->kind == PIECE_WALL ? 0 : from->length_mm,
                                  .area_mm2 = from->area_mm2,
                                  .bound_a = drawn_at(board, from->position, from->bound_a),
                                  .bound_b = drawn_at(board, from->position, from->bound_b)};
    out->middle = middle_of(out->from, out->to);
    if (from->hole < maker->copper->net.hole_count) {
        const struct board_hole *hole = &board->holes[maker->copper->hole_of[from->hole]];
        out->hole_mm = (double)hole->finished_nm * 1e-6;
        if (from->kind == PIECE_WALL)
            out->bound_a = hole->hole.at;
    }
}

/* The piece with the most area gives the place its layer; a hole wall only when there is no copper.
 */
static const struct finding_piece *largest_piece(const struct finding_place *place)
{
    const struct finding_piece *best = &place->pieces[0];
    for (size_t i = 1; i < place->piece_count; i++) {
        const struct finding_piece *piece = &place->pieces[i];
        bool is_better = piece->area_mm2 > best->area_mm2;
        if ((best->kind == PIECE_WALL) != (piece->kind == PIECE_WALL))
            is_better = best->kind == PIECE_WALL;
        if (is_better)
            best = piece;
    }
    return best;
}

/* Walls alone are given as the copper of the layer that the net begins on. */
static uint16_t layer_of_width(const struct finding_maker *maker, uint16_t layer)
{
    if (layer)
        return layer;
    return maker->copper->net.sheet_count ? maker->copper->net.sheets[0].position : 1;
}

/* Copper as it is, where no piece counts less than an outer layer. */
static double unweighted_area_mm2(const struct board *board, const struct finding_place *place)
{
    double area_mm2 = 0;
    for (size_t i = 0; i < place->piece_count; i++) {
        const struct finding_piece *piece = &place->pieces[i];
        area_mm2 += piece->area_mm2 / (piece->layer ? layer_weight(board, piece->layer)
                                                    : inner_weight(&board->facts));
    }
    return area_mm2;
}

/* What the equivalent width would have to be for the internal constants to be content. */
static double needed_internal_mm(const struct finding_maker *maker,
                                 const struct finding_place *place, double weighted_mm)
{
    double needed_mm2 =
        ipc2221_area_mm2(IPC2221_K_INTERNAL, place->current_a, maker->net_case->rise_k);
    double found_mm2 = unweighted_area_mm2(maker->board, place);
    return found_mm2 > 0 ? place->width_mm * needed_mm2 / found_mm2 : needed_mm2 / weighted_mm;
}

/* Equivalent widths on the layer of the largest piece. */
static void fill_widths(const struct finding_maker *maker, struct finding_place *place)
{
    const struct board *board = maker->board;
    place->width_layer = layer_of_width(maker, place->layer);
    double thickness_mm = layer_thickness_mm(board, place->width_layer);
    double weighted_mm = thickness_mm * layer_weight(board, place->width_layer);
    place->width_mm = place->area_mm2 / weighted_mm;
    if (!maker->net_case)
        return;
    double k = fit_constant(&board->facts), rise_k = maker->net_case->rise_k;
    place->needed_mm = place->required_mm2 / weighted_mm;
    place->needed_internal_mm = needed_internal_mm(maker, place, weighted_mm);
    place->rise_at_width_k =
        place->area_mm2 > 0 ? ipc2221_rise_k(k, place->current_a, place->area_mm2) : INFINITY;
    bool is_inside = place->layer == 0 || layer_weight(board, place->layer) < 1;
    place->is_extrapolated =
        ipc2221_is_extrapolated(is_inside ? IPC2221_K_INTERNAL : k, place->current_a, rise_k,
                                place->needed_mm, thickness_mm);
    const struct copper_strip strip = {.width_mm = place->width_mm,
                                       .thickness_mm = thickness_mm,
                                       .length_mm = place->narrow_length_mm,
                                       .current_a = place->current_a,
                                       .end_c = board->facts.ambient_c.value,
                                       .both_faces_w_m2k = BOTH_FACES_W_M2K};
    place->short_neck_rise_k = place->narrow_length_mm > 0 ? strip_rise_k(&strip) : (double)NAN;
}

bool make_place(const struct finding_maker *maker, const struct neck_place *from,
                struct finding_place *out)
{
    *out = (struct finding_place){.area_mm2 = from->area_mm2,
                                  .required_mm2 = from->required_mm2,
                                  .margin = from->margin,
                                  .current_a = from->current_a,
                                  .narrow_length_mm = from->narrow_length_mm,
                                  .piece_count = from->piece_count};
    out->pieces = arena_alloc(maker->arena, from->piece_count + 1, sizeof *out->pieces);
    if (!out->pieces)
        return false;
    for (size_t i = 0; i < from->piece_count; i++)
        make_piece(maker, &from->pieces[i], &out->pieces[i]);
    if (from->piece_count > 0) {
        const struct finding_piece *largest = largest_piece(out);
        out->layer = largest->layer;
        out->middle = largest->middle;
    }
    fill_widths(maker, out);
    return true;
}

static bool make_side(const struct finding_maker *maker, const uint8_t *side, uint8_t which,
                      uint32_t **out, size_t *out_count)
{
    size_t count = 0;
    for (size_t e = 0; e < maker->question->end_count; e++)
        if (side[e] & which)
            count += maker->question->ends[e].terminal_count;
    *out = arena_alloc(maker->arena, count + 1, sizeof **out);
    if (!*out)
        return false;
    for (size_t e = 0; e < maker->question->end_count; e++)
        for (size_t i = 0; side[e] & which && i < maker->question->ends[e].terminal_count; i++)
            (*out)[(*out_count)++] = maker->question->ends[e].terminals[i];
    return true;
}

/* A field of a CSV row (RFC 4180). NULL: no memory. */
static const char *field_text(struct arena *arena, const char *text)
{
    if (!strpbrk(text, ",\"\r\n") && *text != '#')
        return text;
    char *quoted = arena_alloc(arena, 2 * strlen(text) + 3, 1), *at = quoted;
    if (!quoted)
        return NULL;
    *at++ = '"';
    for (; *text; *at++ = *text++)
        if (*text == '"')
            *at++ = '"';
    *at = '"';
    return quoted;
}

/* net,pin,current_a, or where no pin has a name net,,current_a,,x_mm,y_mm,layer. */
static const char *row_text(const struct finding_maker *maker, const struct end *end,
                            double current_a)
{
    const struct board *board = maker->board;
    const struct terminal *terminal = &board->terminals[end->terminals[0]];
    const char *net = field_text(maker->arena, board->nets[maker->question->shown_net].name);
    const char *pin = field_text(maker->arena, end->name);
    if (!net || !pin)
        return NULL;
    if (terminal->ref || terminal->contact_count == 0)
        return arena_printf(maker->arena, "%s,%s,%.2f", net, pin, current_a);
    const struct contact *contact = &board->contacts[terminal->contacts[0]];
    char word[16];
    return arena_printf(maker->arena, "%s,,%.2f,,%.4f,%.4f,%s", net, current_a,
                        (double)contact->place.x_nm * 1e-6, (double)contact->place.y_nm * 1e-6,
                        layer_word(board, contact->layer_from, word));
}

/* A row for each silent end of the group: the current that its copper is good for. */
static bool fill_rows(const struct finding_maker *maker, const struct neck *from,
                      struct finding *finding)
{
    const struct net_question *question = maker->question;
    const char **rows = arena_alloc(maker->arena, question->end_count + 1, sizeof *rows);
    double k = fit_constant(&maker->board->facts);
    for (size_t e = 0; rows && e < question->end_count; e++) {
        if (!(from->side[e] & 1) || maker->net_case->has_row[e])
            continue;
        double good_for_a = ipc2221_current_a(k, maker->net_case->rise_k, maker->unassigned_mm2[e]);
        const char *row = row_text(maker, &question->ends[e], floor(good_for_a * 100) / 100);
        if (!row)
            return false;
        rows[finding->row_to_add_count++] = row;
    }
    finding->rows_to_add = rows;
    return rows != NULL;
}

/* More holes like the smallest of those that are there. */
static void fill_more_holes(struct finding *finding)
{
    const struct finding_place *worst = &finding->places[0];
    const struct finding_piece *smallest = &worst->pieces[0];
    for (size_t i = 1; i < worst->piece_count; i++)
        if (worst->pieces[i].area_mm2 < smallest->area_mm2)
            smallest = &worst->pieces[i];
    finding->add_width_mm = (double)NAN;
    finding->add_hole_mm = smallest->hole_mm;
    if (smallest->area_mm2 > 0)
        finding->add_hole_count =
            (size_t)ceil((worst->required_mm2 - worst->area_mm2) / smallest->area_mm2);
}

static void fill_remedy(const struct finding_maker *maker, struct finding *finding)
{
    const struct finding_place *worst = &finding->places[0];
    double k = fit_constant(&maker->board->facts), rise_k = maker->net_case->rise_k;
    finding->allowed_a = ipc2221_current_a(k, rise_k, worst->area_mm2);
    finding->add_width_mm = worst->needed_mm - worst->width_mm;
    if (worst->layer == 0 && worst->piece_count > 0)
        fill_more_holes(finding);
    finding->pass_rise_k = worst->rise_at_width_k;
    bool is_one_layer = worst->layer != 0 && worst->area_mm2 > 0;
    for (size_t i = 0; i < worst->piece_count; i++)
        is_one_layer &= worst->pieces[i].layer == worst->layer;
    finding->pass_thickness_um = is_one_layer ? layer_thickness_mm(maker->board, worst->layer) *
                                                    1000 * worst->required_mm2 / worst->area_mm2
                                              : (double)NAN;
}

#define SAME_CURRENT_A 1e-9

/* Which of the sums that I(S) is made of the current at the worst place is: what rows say of one
 * side where they say all of it, else the net's. */
static enum current_bound bound_of_current(const struct net_case *of, const struct neck *neck,
                                           size_t end_count)
{
    double sums[CURRENT_DRAWS_B + 1] = {0};
    for (size_t e = 0; e < end_count; e++) {
        if (neck->side[e] != 1 && neck->side[e] != 2)
            continue;
        int feeds = neck->side[e] == 1 ? CURRENT_FEEDS_A : CURRENT_FEEDS_B;
        int draws = neck->side[e] == 1 ? CURRENT_DRAWS_A : CURRENT_DRAWS_B;
        sums[feeds] += of->has_row[e] ? of->feed_a[e] : (double)INFINITY;
        sums[draws] += of->has_row[e] ? of->draw_a[e] : (double)INFINITY;
    }
    for (int i = CURRENT_FEEDS_A; i <= CURRENT_DRAWS_B; i++)
        if (fabs(sums[i] - neck->places[0].current_a) < SAME_CURRENT_A)
            return (enum current_bound)i;
    return CURRENT_OF_NET;
}

/* Who feeds or draws something on the side that decides the current. */
static bool fill_current(const struct finding_maker *maker, const struct neck *from,
                         struct finding *out)
{
    const struct net_case *of = maker->net_case;
    const struct net_question *question = maker->question;
    out->current_bound = bound_of_current(of, from, question->end_count);
    out->current_of = arena_alloc(maker->arena, maker->board->terminal_count + 1, sizeof(uint32_t));
    if (!out->current_of)
        return false;
    bool is_feed = out->current_bound == CURRENT_FEEDS_A || out->current_bound == CURRENT_FEEDS_B;
    uint8_t side =
        out->current_bound == CURRENT_FEEDS_A || out->current_bound == CURRENT_DRAWS_A ? 1 : 2;
    for (size_t e = 0; e < question->end_count && out->current_bound != CURRENT_OF_NET; e++) {
        if (from->side[e] != side || !((is_feed ? of->feed_a[e] : of->draw_a[e]) > 0))
            continue;
        for (size_t i = 0; i < question->ends[e].terminal_count; i++)
            out->current_of[out->current_of_count++] = question->ends[e].terminals[i];
    }
    return true;
}

bool make_finding(const struct finding_maker *maker, const struct neck *from, struct finding *out)
{
    *out = (struct finding){.kind = from->is_unassigned ? FINDING_UNASSIGNED : FINDING_NARROW,
                            .net = maker->question->shown_net,
                            .case_name = maker->net_case->name,
                            .place_count = from->place_count,
                            .net_current_how = maker->net_case->i_net_how,
                            .is_share = maker->is_share,
                            .narrow_length_mm = from->narrow_length_mm};
    out->places = arena_alloc(maker->arena, from->place_count + 1, sizeof *out->places);
    if (!out->places)
        return false;
    for (size_t i = 0; i < from->place_count; i++)
        if (!make_place(maker, &from->places[i], &out->places[i]))
            return false;
    out->place_count = places_keep_distinct(out->places, out->place_count);
    if (!make_side(maker, from->side, 1, &out->side_a, &out->side_a_count) ||
        !make_side(maker, from->side, 2, &out->side_b, &out->side_b_count))
        return false;
    if (!fill_current(maker, from, out))
        return false;
    fill_remedy(maker, out);
    return out->kind != FINDING_UNASSIGNED || fill_rows(maker, from, out);
}

bool findings_append(struct check_result *out, const struct finding *more, size_t count,
                     struct arena *arena)
{
    struct finding *all = arena_alloc(arena, out->finding_count + count + 1, sizeof *all);
    if (!all)
        return false;
    if (out->finding_count)
        memcpy(all, out->findings, out->finding_count * sizeof *all);
    if (count)
        memcpy(all + out->finding_count, more, count * sizeof *all);
    out->findings = all;
    out->finding_count += count;
    return true;
}
