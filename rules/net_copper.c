/* Gathers one net's islands, plated holes and contacts out of the board. */
#include "net_copper.h"

#include "isthmus/physics.h"

#include <math.h>

double inner_weight(const struct board_facts *facts)
{
    return facts->fit == FIT_IPC2221_INTERNAL_EVERYWHERE ? 1.0 : ipc2221_internal_weight();
}

double fit_constant(const struct board_facts *facts)
{
    return facts->fit == FIT_IPC2221_INTERNAL_EVERYWHERE ? IPC2221_K_INTERNAL : IPC2221_K_EXTERNAL;
}

double layer_weight(const struct board *board, uint16_t position)
{
    bool is_outer = board->layers[position - 1].side != SIDE_INNER;
    return is_outer ? 1.0 : inner_weight(&board->facts);
}

double layer_thickness_mm(const struct board *board, uint16_t position)
{
    const struct board_facts *facts = &board->facts;
    double um = position <= BOARD_MAX_COPPER ? facts->copper_um[position].value : 0;
    if (!(um > 0))
        um = board->layers[position - 1].side != SIDE_INNER ? facts->outer_copper_um.value
                                                            : facts->inner_copper_um.value;
    return um / 1000;
}

bool ends_of_net(const struct board *board, uint32_t net, struct arena *arena,
                 struct net_question *question)
{
    question->ends = arena_alloc(arena, board->terminal_count + 1, sizeof *question->ends);
    uint32_t *numbers = arena_alloc(arena, board->terminal_count + 1, sizeof *numbers);
    if (!question->ends || !numbers)
        return false;
    question->end_count = 0;
    for (uint32_t t = 0; t < board->terminal_count; t++) {
        if (board->terminals[t].net >= board->net_count ||
            net_root(board, board->terminals[t].net) != net)
            continue;
        numbers[t] = t;
        question->ends[question->end_count++] =
            (struct end){board->terminals[t].name, &numbers[t], 1, false};
    }
    return true;
}

/* Indices of the board's things within the net's lists; ISTHMUS_NONE: not the net's. */
struct index_maps {
    bool *has_conductor;
    bool is_without_pendants;
    uint32_t *hole_index, *contact_index;
};

static void fill_none(uint32_t *items, size_t count)
{
    for (size_t i = 0; i < count; i++)
        items[i] = ISTHMUS_NONE;
}

static bool maps_new(const struct board *board, struct arena *arena, struct index_maps *maps)
{
    maps->is_without_pendants = false;
    maps->has_conductor =
        arena_alloc(arena, board->conductor_count + 1, sizeof *maps->has_conductor);
    maps->hole_index = arena_alloc(arena, board->hole_count + 1, sizeof *maps->hole_index);
    maps->contact_index = arena_alloc(arena, board->contact_count + 1, sizeof *maps->contact_index);
    if (!maps->has_conductor || !maps->hole_index || !maps->contact_index)
        return false;
    fill_none(maps->hole_index, board->hole_count);
    fill_none(maps->contact_index, board->contact_count);
    return true;
}

/* The conductors that hold an end of the net: islands without one carry nothing. */
static void mark_conductors(const struct board *board, const struct net_question *question,
                            struct index_maps *maps)
{
    for (size_t e = 0; e < question->end_count; e++)
        for (size_t i = 0; i < question->ends[e].terminal_count; i++) {
            const struct terminal *terminal = &board->terminals[question->ends[e].terminals[i]];
            for (size_t c = 0; c < terminal->contact_count; c++) {
                uint32_t conductor = board->contacts[terminal->contacts[c]].conductor;
                if (conductor < board->conductor_count)
                    maps->has_conductor[conductor] = true;
            }
        }
}

/*
 * Between layers all of the wall carries; between both sides of the hole on one layer only what
 * stands upright beside it, two walls as high as the board is thick.
 */
static double wall_mm2(const struct board *board, const struct board_hole *hole)
{
    double upright_mm2 =
        2 * board->facts.wall_um.value / 1000 * board->facts.board_thickness_mm.value;
    return hole->is_within_layer ? fmin(hole->wall_mm2, upright_mm2) : hole->wall_mm2;
}

static bool collect_holes(const struct board *board, struct arena *arena, struct index_maps *maps,
                          struct net_copper *out)
{
    double weight = inner_weight(&board->facts);
    struct neck_hole *holes = arena_alloc(arena, board->hole_count + 1, sizeof *holes);
    out->hole_of = arena_alloc(arena, board->hole_count + 1, sizeof *out->hole_of);
    if (!holes || !out->hole_of)
        return false;
    size_t count = 0;
    for (uint32_t h = 0; h < board->hole_count; h++) {
        const struct board_hole *hole = &board->holes[h];
        if (!hole->is_plated || hole->conductor >= board->conductor_count ||
            !maps->has_conductor[hole->conductor])
            continue;
        int64_t x = (hole->hole.from.x_nm + hole->hole.to.x_nm) / 2 - board->origin.x_nm;
        int64_t y = (hole->hole.from.y_nm + hole->hole.to.y_nm) / 2 - board->origin.y_nm;
        out->hole_of[count] = h;
        maps->hole_index[h] = (uint32_t)count;
        holes[count++] = (struct neck_hole){.centre = {(int32_t)x, (int32_t)y},
                                            .wall_area_mm2 = wall_mm2(board, hole) * weight,
                                            .contact = ISTHMUS_NONE,
                                            .id = h,
                                            .layer_from = hole->layer_from,
                                            .layer_to = hole->layer_to,
                                            .is_via = hole->is_via && !hole->may_take_lead};
    }
    out->net.holes = out->holes = holes;
    out->net.hole_count = count;
    return true;
}

static bool collect_contacts(const struct board *board, const struct net_question *question,
                             struct arena *arena, struct index_maps *maps, struct net_copper *out)
{
    uint32_t *end_of_terminal = arena_alloc(arena, board->terminal_count + 1, sizeof(uint32_t));
    struct neck_contact *contacts = arena_alloc(arena, board->contact_count + 1, sizeof *contacts);
    if (!end_of_terminal || !contacts)
        return false;
    fill_none(end_of_terminal, board->terminal_count);
    for (size_t e = 0; e < question->end_count; e++)
        for (size_t i = 0; i < question->ends[e].terminal_count; i++)
            end_of_terminal[question->ends[e].terminals[i]] = (uint32_t)e;
    size_t count = 0;
    for (uint32_t c = 0; c < board->contact_count; c++) {
        const struct contact *contact = &board->contacts[c];
        if (contact->conductor >= board->conductor_count ||
            !maps->has_conductor[contact->conductor])
            continue;
        uint32_t end = contact->terminal < board->terminal_count
                           ? end_of_terminal[contact->terminal]
                           : ISTHMUS_NONE;
        maps->contact_index[c] = (uint32_t)count;
        contacts[count++] = (struct neck_contact){.terminal = end, .id = c};
    }
    for (size_t h = 0; h < out->net.hole_count; h++) {
        uint32_t contact = board->holes[out->hole_of[h]].contact;
        if (contact < board->contact_count)
            out->holes[h].contact = maps->contact_index[contact];
    }
    out->net.contacts = contacts;
    out->net.contact_count = count;
    return true;
}

static bool is_of_net(const struct board *board, const struct copper_layer *layer,
                      uint32_t component, const struct index_maps *maps)
{
    uint32_t conductor = layer->conductor_of_component[component];
    if (maps->is_without_pendants && layer->is_pendant[component])
        return false;
    return conductor < board->conductor_count && maps->has_conductor[conductor];
}

static bool has_copper(const struct board *board, const struct copper_layer *layer,
                       const struct index_maps *maps)
{
    for (uint32_t c = 0; c < layer->mesh.component_count; c++)
        if (is_of_net(board, layer, c, maps))
            return true;
    return false;
}

/* false: no memory. sheet->mesh stays NULL when the net has nothing on this layer. */
static bool collect_sheet(const struct board *board, const struct copper_layer *layer,
                          struct arena *arena, const struct index_maps *maps,
                          struct neck_sheet *sheet)
{
    const struct sheet_mesh *mesh = &layer->mesh;
    *sheet = (struct neck_sheet){0};
    if (!has_copper(board, layer, maps))
        return true;
    bool *has_component = arena_alloc(arena, mesh->component_count + 1, sizeof *has_component);
    if (!has_component)
        return false;
    for (uint32_t c = 0; c < mesh->component_count; c++)
        has_component[c] = is_of_net(board, layer, c, maps);
    *sheet = (struct neck_sheet){.mesh = mesh,
                                 .islands = &layer->islands,
                                 .curves = layer->paint.curves,
                                 .position = layer->position,
                                 .thickness_mm = layer_thickness_mm(board, layer->position),
                                 .weight = layer_weight(board, layer->position),
                                 .has_component = has_component,
                                 .kind_of_object = layer->bound_kind,
                                 .owner_of_object = layer->bound_owner,
                                 .object_count = (uint32_t)layer->paint.object_count};
    return true;
}

static bool collect_sheets(const struct board *board, struct arena *arena,
                           const struct index_maps *maps, struct net_copper *out)
{
    struct neck_sheet *sheets = arena_alloc(arena, board->layer_count + 1, sizeof *sheets);
    if (!sheets)
        return false;
    for (size_t i = 0; i < board->layer_count; i++) {
        struct neck_sheet *sheet = &sheets[out->net.sheet_count];
        if (!collect_sheet(board, &board->layers[i], arena, maps, sheet))
            return false;
        out->net.sheet_count += sheet->mesh != NULL;
    }
    out->net.sheets = sheets;
    return true;
}

static bool collect(const struct board *board, const struct net_question *question,
                    struct index_maps *maps, struct arena *arena, struct net_copper *out)
{
    *out = (struct net_copper){.net.terminal_count = question->end_count,
                               .net.etch_loss_mm = board->facts.etch_loss_um.value / 1000,
                               .net.hole_of_owner = maps->hole_index,
                               .net.contact_of_owner = maps->contact_index};
    if (!collect_holes(board, arena, maps, out) ||
        !collect_contacts(board, question, arena, maps, out) ||
        !collect_sheets(board, arena, maps, out))
        return false;
    for (size_t c = 0; c < board->conductor_count; c++)
        if (maps->has_conductor[c])
            out->closed_gap_count += board->conductors[c].closed_gap_count;
    return true;
}

bool net_copper_collect(const struct board *board, const struct net_question *question,
                        struct arena *arena, struct net_copper *out)
{
    struct index_maps maps;
    if (!maps_new(board, arena, &maps))
        return false;
    mark_conductors(board, question, &maps);
    return collect(board, question, &maps, arena, out);
}

bool passable_copper_collect(const struct board *board, const struct net_question *question,
                             struct arena *arena, struct net_copper *out)
{
    struct index_maps maps;
    if (!maps_new(board, arena, &maps))
        return false;
    maps.is_without_pendants = true;
    mark_conductors(board, question, &maps);
    return collect(board, question, &maps, arena, out);
}

bool conductor_copper_collect(const struct board *board, const struct net_question *question,
                              uint32_t conductor, struct arena *arena, struct net_copper *out)
{
    struct index_maps maps;
    if (!maps_new(board, arena, &maps))
        return false;
    maps.has_conductor[conductor] = true;
    return collect(board, question, &maps, arena, out);
}
