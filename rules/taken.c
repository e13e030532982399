#include "taken.h"

#include "findings.h"

#include <math.h>
#include <stdlib.h>

struct taking {
    const struct board *board;
    const struct copper_layer *layer;
    const struct neck_sheet *sheet;
    bool *is_hole_noted;        /* on this layer */
    struct taken_copper *of[2]; /* by the edge, by holes; NULL: nothing yet on this layer */
    struct taken_copper *items;
    size_t count;
};

static struct taken_copper *entry_of(struct taking *taking, enum taken_by by)
{
    if (!taking->of[by]) {
        taking->of[by] = &taking->items[taking->count++];
        *taking->of[by] = (struct taken_copper){.by = by, .layer = taking->layer->position};
    }
    return taking->of[by];
}

static bool is_before(struct pos_nm a, struct pos_nm b)
{
    return a.x_nm != b.x_nm ? a.x_nm < b.x_nm : a.y_nm < b.y_nm;
}

/* The leftmost of its edges gives the entry its place, however the mesh is made. */
static void note_edge(struct taking *taking, uint32_t object, struct pt a, struct pt b)
{
    const struct paint_object *painted = &taking->layer->paint.objects[object];
    enum taken_by by = painted->kind == PAINT_KIND_HOLE ? TAKEN_BY_HOLE : TAKEN_BY_EDGE;
    if (by == TAKEN_BY_EDGE && taking->layer->is_negative)
        return; /* a plane that nobody drew ends there */
    struct taken_copper *entry = entry_of(taking, by);
    struct pos_nm at =
        board_to_file(taking->board, (struct pt){(int32_t)(((int64_t)a.x + b.x) / 2),
                                                 (int32_t)(((int64_t)a.y + b.y) / 2)});
    bool is_first = entry->edge_mm == 0;
    entry->edge_mm += hypot((double)a.x - b.x, (double)a.y - b.y) * 1e-6;
    if (by == TAKEN_BY_HOLE && !taking->is_hole_noted[painted->owner]) {
        taking->is_hole_noted[painted->owner] = true;
        entry->object_count++;
    }
    if (!is_first && !is_before(at, entry->at))
        return;
    entry->at = at;
    entry->source = drawn_at(taking->board, taking->layer->position, object);
}

static void note_triangle(struct taking *taking, uint32_t t)
{
    const struct sheet_mesh *mesh = &taking->layer->mesh;
    const struct cdt *cdt = &mesh->cdt;
    for (unsigned i = 0; i < 3; i++) {
        uint32_t across = cdt->neighbour[t][i], bound = cdt->chain[t][i];
        if ((across != ISTHMUS_NONE && mesh->component[across] != ISTHMUS_NONE) ||
            bound >= mesh->bound_count)
            continue;
        uint32_t object = mesh->bounds[bound].object;
        if (taking->sheet->kind_of_object[object] == BOUND_CUT)
            note_edge(taking, object, cdt->points[cdt->corner[t][(i + 1) % 3]],
                      cdt->points[cdt->corner[t][(i + 2) % 3]]);
    }
}

static void note_sheet(struct taking *taking)
{
    const struct sheet_mesh *mesh = &taking->layer->mesh;
    taking->of[TAKEN_BY_EDGE] = taking->of[TAKEN_BY_HOLE] = NULL;
    for (size_t h = 0; h < taking->board->hole_count; h++)
        taking->is_hole_noted[h] = false;
    for (uint32_t t = 0; t < mesh->cdt.tri_count; t++)
        if (mesh->component[t] != ISTHMUS_NONE && taking->sheet->has_component[mesh->component[t]])
            note_triangle(taking, t);
}

/* Objects that carry the net's name and lie beyond the edge altogether: an entry a layer. */
static void note_beyond(struct taking *taking, uint32_t net)
{
    const struct board *board = taking->board;
    struct taken_copper *last = NULL;
    for (size_t i = 0; i < board->beyond_count; i++) {
        const struct beyond *item = &board->beyond[i];
        if (item->net >= board->net_count || net_root(board, item->net) != net)
            continue;
        if (!last || last->layer != item->layer) {
            last = &taking->items[taking->count++];
            *last = (struct taken_copper){
                .by = TAKEN_BEYOND, .layer = item->layer, .at = item->at, .source = item->source};
        }
        last->object_count++;
    }
}

bool taken_list(const struct board *board, const struct net_question *question,
                const struct net_copper *copper, struct arena *arena, struct net_verdict *out)
{
    struct taking taking = {.board = board};
    taking.is_hole_noted = malloc(board->hole_count + 1);
    taking.items = arena_alloc(arena, 3 * board->layer_count + 1, sizeof *taking.items);
    bool is_done = taking.is_hole_noted && taking.items;
    for (size_t s = 0; is_done && s < copper->net.sheet_count; s++) {
        taking.sheet = &copper->net.sheets[s];
        taking.layer = &board->layers[taking.sheet->position - 1];
        note_sheet(&taking);
    }
    if (is_done)
        note_beyond(&taking, question->net);
    out->taken = taking.items;
    out->taken_count = taking.count;
    free(taking.is_hole_noted);
    return is_done;
}
