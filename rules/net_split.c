/*
 * The rule net-split: do all terminals of a net hang on one piece of copper?
 */
#include "isthmus/rule.h"

#include "findings.h"

#include <math.h>
#include <stdlib.h>

struct split {
    const struct rule_context *context;
    struct arena *scratch; /* reset between nets */
    uint32_t *part_of;     /* per conductor: its number within the net, or ISTHMUS_NONE */
    uint32_t part_count;
    struct part_edge *edges; /* malloc'ed, used again for each net */
    uint32_t *objects;       /* per edge: the paint object that ends the copper there */
    size_t edge_count, edge_capacity, object_capacity;
};

/* ---- the parts ---- */

static uint32_t part_of_terminal(const struct split *split, const struct terminal *terminal)
{
    const struct board *board = split->context->board;
    for (size_t c = 0; c < terminal->contact_count; c++) {
        uint32_t conductor = board->contacts[terminal->contacts[c]].conductor;
        if (conductor < board->conductor_count)
            return split->part_of[conductor];
    }
    return ISTHMUS_NONE;
}

static void number_parts(struct split *split, uint32_t net)
{
    const struct board *board = split->context->board;
    split->part_count = 0;
    for (size_t c = 0; c < board->conductor_count; c++)
        split->part_of[c] = ISTHMUS_NONE;
    for (size_t t = 0; t < board->nets[net].terminal_count; t++) {
        const struct terminal *terminal = &board->terminals[board->nets[net].terminals[t]];
        for (size_t c = 0; c < terminal->contact_count; c++) {
            uint32_t conductor = board->contacts[terminal->contacts[c]].conductor;
            if (conductor < board->conductor_count && split->part_of[conductor] == ISTHMUS_NONE)
                split->part_of[conductor] = split->part_count++;
        }
    }
}

/* ---- their outlines ---- */

static bool add_edge(struct split *split, struct part_edge edge, uint32_t object)
{
    if (!array_grow(&split->edges, sizeof *split->edges, &split->edge_capacity,
                    split->edge_count + 1) ||
        !array_grow(&split->objects, sizeof *split->objects, &split->object_capacity,
                    split->edge_count + 1))
        return false;
    split->objects[split->edge_count] = object;
    split->edges[split->edge_count++] = edge;
    return true;
}

static bool add_triangle(struct split *split, const struct copper_layer *layer, uint32_t t,
                         uint32_t part)
{
    const struct sheet_mesh *mesh = &layer->mesh;
    const struct cdt *cdt = &mesh->cdt;
    for (unsigned i = 0; i < 3; i++) {
        uint32_t across = cdt->neighbour[t][i], bound = cdt->chain[t][i];
        if (across != ISTHMUS_NONE && mesh->component[across] != ISTHMUS_NONE)
            continue;
        const struct part_edge edge = {.a = cdt->points[cdt->corner[t][(i + 1) % 3]],
                                       .b = cdt->points[cdt->corner[t][(i + 2) % 3]],
                                       .part = part,
                                       .layer = layer->position};
        if (!add_edge(split, edge,
                      bound < mesh->bound_count ? mesh->bounds[bound].object : ISTHMUS_NONE))
            return false;
    }
    return true;
}

static bool collect_island(struct split *split, const struct copper_layer *layer, uint32_t island,
                           uint32_t part)
{
    const struct sheet_islands *islands = &layer->islands;
    for (uint32_t i = islands->first[island]; i < islands->first[island + 1]; i++)
        if (!add_triangle(split, layer, islands->tris[i], part))
            return false;
    return true;
}

static bool collect_outlines(struct split *split)
{
    const struct board *board = split->context->board;
    split->edge_count = 0;
    for (size_t l = 0; l < board->layer_count; l++) {
        const struct copper_layer *layer = &board->layers[l];
        for (uint32_t island = 0; island < layer->mesh.component_count; island++) {
            uint32_t conductor = layer->conductor_of_component[island];
            if (conductor < board->conductor_count && split->part_of[conductor] != ISTHMUS_NONE &&
                !collect_island(split, layer, island, split->part_of[conductor]))
                return false;
        }
    }
    return true;
}

/* ---- the finding ---- */

static bool make_gap_place(const struct split *split, const struct part_gap *gap,
                           struct finding_place *out)
{
    const struct board *board = split->context->board;
    struct finding_piece *piece = arena_alloc(split->context->arena, 1, sizeof *piece);
    if (!piece)
        return false;
    *piece = (struct finding_piece){
        .kind = PIECE_GAP,
        .layer = gap->layer_from,
        .layer_to = gap->layer_to == gap->layer_from ? 0 : gap->layer_to,
        .from = board_to_file(board, gap->from),
        .to = board_to_file(board, gap->to),
        .width_mm = gap->length_nm * 1e-6,
        .bound_a = drawn_at(board, gap->layer_from, split->objects[gap->edge_from]),
        .bound_b = drawn_at(board, gap->layer_to, split->objects[gap->edge_to])};
    piece->middle = (struct pos_nm){(piece->from.x_nm + piece->to.x_nm) / 2,
                                    (piece->from.y_nm + piece->to.y_nm) / 2};
    *out = (struct finding_place){.pieces = piece,
                                  .piece_count = 1,
                                  .middle = piece->middle,
                                  .layer = piece->layer,
                                  .width_mm = piece->width_mm};
    return true;
}

/* The part with most terminals is side a, all others b. */
static bool make_sides(const struct split *split, const struct net *net, struct finding *out)
{
    const struct board *board = split->context->board;
    size_t *count = arena_alloc(split->scratch, (size_t)split->part_count + 1, sizeof *count);
    out->side_a = arena_alloc(split->context->arena, net->terminal_count + 1, sizeof *out->side_a);
    out->side_b = arena_alloc(split->context->arena, net->terminal_count + 1, sizeof *out->side_b);
    if (!count || !out->side_a || !out->side_b)
        return false;
    uint32_t most = 0;
    for (size_t t = 0; t < net->terminal_count; t++) {
        uint32_t part = part_of_terminal(split, &board->terminals[net->terminals[t]]);
        if (part != ISTHMUS_NONE)
            count[part]++;
    }
    for (uint32_t p = 1; p < split->part_count; p++)
        if (count[p] > count[most])
            most = p;
    for (size_t t = 0; t < net->terminal_count; t++) {
        uint32_t part = part_of_terminal(split, &board->terminals[net->terminals[t]]);
        if (part == most)
            out->side_a[out->side_a_count++] = net->terminals[t];
        else if (part != ISTHMUS_NONE)
            out->side_b[out->side_b_count++] = net->terminals[t];
    }
    return true;
}

/* A point of the net that stands alone on another net's copper makes a split too. */
static const char *doubt_of(const struct board *board, uint32_t net)
{
    for (size_t i = 0; i < board->clash_count; i++)
        if (board->clashes[i].doubt && board->clashes[i].lone_net == net)
            return board->clashes[i].doubt;
    return NULL;
}

static bool make_split(struct split *split, uint32_t net, struct finding *out)
{
    struct part_gap *gaps =
        arena_alloc(split->scratch, (size_t)split->part_count + 1, sizeof *gaps);
    size_t count = 0;
    *out = (struct finding){.kind = FINDING_SPLIT,
                            .net = net,
                            .doubt = doubt_of(split->context->board, net),
                            .part_count = split->part_count,
                            .other_net = ISTHMUS_NONE,
                            .pass_thickness_um = (double)NAN};
    if (!gaps || !collect_outlines(split) ||
        part_gaps(split->edges, split->edge_count, split->part_count, gaps, &count) != MESH_OK)
        return false;
    out->places = arena_alloc(split->context->arena, count + 1, sizeof *out->places);
    for (size_t i = 0; out->places && i < count; i++)
        if (!make_gap_place(split, &gaps[i], &out->places[out->place_count++]))
            return false;
    return out->places && make_sides(split, &split->context->board->nets[net], out);
}

static bool find_all(struct split *split, struct finding *found, size_t *count)
{
    const struct board *board = split->context->board;
    for (uint32_t net = 0; net < board->net_count; net++) {
        if (net_root(board, net) != net || board->nets[net].terminal_count == 0 ||
            board->nets[net].may_be_several || board->are_holes_missing)
            continue;
        number_parts(split, net);
        if (split->part_count > 1 && !make_split(split, net, &found[(*count)++]))
            return false;
        arena_reset(split->scratch);
    }
    return true;
}

enum rule_status net_split_run(const struct rule_context *context, struct check_result *out)
{
    const struct board *board = context->board;
    struct split split = {.context = context, .scratch = arena_new("net-split")};
    split.part_of = malloc((board->conductor_count + 1) * sizeof *split.part_of);
    struct finding *found = arena_alloc(context->arena, board->net_count + 1, sizeof *found);
    size_t count = 0;
    bool is_done = split.scratch && split.part_of && found && find_all(&split, found, &count) &&
                   findings_append(out, found, count, context->arena);
    free(split.part_of);
    free(split.edges);
    free(split.objects);
    arena_free(split.scratch);
    return is_done ? RULE_OK : RULE_NO_MEMORY;
}
