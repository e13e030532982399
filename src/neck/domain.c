/* Cuts one net's copper out of a layer's boundary mesh. */
#include "neck/domain.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/*
 * New numbers by old ones. What costs is to be the net's copper, not the layer: where there are few
 * they stand in a table of open addresses, and else in an array of all old ones, which is kinder to
 * the cache.
 */
struct numbers {
    uint32_t *new_plus_1; /* 0: none yet */
    uint32_t *old_plus_1; /* whose the slot is; NULL: slot n is n's */
    uint32_t shift;       /* 32 less the binary logarithm of the number of slots */
};
#define FEW_SHARE 16 /* few: less than this part of all */

static bool numbers_new(struct numbers *numbers, size_t most, size_t all, struct arena *arena)
{
    size_t slot_count = 16;
    bool are_few = most < all / FEW_SHARE;
    numbers->shift = 28;
    for (; are_few && slot_count < most + most / 2; slot_count *= 2)
        numbers->shift--;
    if (are_few)
        numbers->old_plus_1 = arena_alloc(arena, slot_count, sizeof *numbers->old_plus_1);
    numbers->new_plus_1 =
        arena_alloc(arena, are_few ? slot_count : all, sizeof *numbers->new_plus_1);
    return numbers->new_plus_1 && (!are_few || numbers->old_plus_1);
}

/* Where an old number's new one stands. Factor: Knuth, "Sorting and Searching", 6.4, 2^32 over the
 * golden ratio (from memory). */
static uint32_t *new_of(const struct numbers *numbers, uint32_t old)
{
    if (!numbers->old_plus_1)
        return &numbers->new_plus_1[old];
    uint32_t mask = (UINT32_C(1) << (32 - numbers->shift)) - 1;
    uint32_t at = (old * UINT32_C(2654435769)) >> numbers->shift;
    while (numbers->old_plus_1[at] && numbers->old_plus_1[at] != old + 1)
        at = (at + 1) & mask;
    numbers->old_plus_1[at] = old + 1;
    return &numbers->new_plus_1[at];
}

/* The net's triangles on the layer, in the mesh's order: tris[new number] = old one. */
struct cutting {
    struct domain *domain;
    uint32_t *tris;
    struct numbers tri_numbers, point_numbers;
    struct arena *arena;
};

static bool is_of_net(const struct neck_sheet *sheet, uint32_t tri)
{
    uint32_t component = sheet->mesh->component[tri];
    return component != ISTHMUS_NONE && sheet->has_component[component];
}

static int compare_numbers(const void *left, const void *right)
{
    const uint32_t *a = left, *b = right;
    return (*a > *b) - (*a < *b);
}

static bool list_of_islands(struct cutting *cutting)
{
    const struct neck_sheet *sheet = cutting->domain->sheet;
    const uint32_t *first = sheet->islands->first;
    size_t count = 0, island_count = 0;
    for (uint32_t c = 0; c < sheet->mesh->component_count; c++)
        count += sheet->has_component[c] ? first[c + 1] - first[c] : 0;
    cutting->tris = arena_alloc(cutting->arena, count, sizeof *cutting->tris);
    for (uint32_t c = 0; cutting->tris && c < sheet->mesh->component_count; c++) {
        if (!sheet->has_component[c])
            continue;
        memcpy(cutting->tris + cutting->domain->tri_count, sheet->islands->tris + first[c],
               (first[c + 1] - first[c]) * sizeof *cutting->tris);
        cutting->domain->tri_count += first[c + 1] - first[c];
        island_count++;
    }
    if (cutting->tris && island_count > 1)
        qsort(cutting->tris, count, sizeof *cutting->tris, compare_numbers);
    return cutting->tris != NULL;
}

static bool list_of_mesh(struct cutting *cutting)
{
    const struct neck_sheet *sheet = cutting->domain->sheet;
    size_t count = 0;
    for (uint32_t t = 0; t < sheet->mesh->cdt.tri_count; t++)
        count += is_of_net(sheet, t);
    cutting->tris = arena_alloc(cutting->arena, count, sizeof *cutting->tris);
    for (uint32_t t = 0; cutting->tris && t < sheet->mesh->cdt.tri_count; t++)
        if (is_of_net(sheet, t))
            cutting->tris[cutting->domain->tri_count++] = t;
    return cutting->tris != NULL;
}

/* Points get their numbers in the order in which the triangles first name them. */
static uint32_t number_point(struct cutting *cutting, uint32_t old)
{
    uint32_t *number = new_of(&cutting->point_numbers, old);
    if (!*number)
        *number = ++cutting->domain->point_count;
    return *number - 1;
}

static bool number_all(struct cutting *cutting, struct arena *scratch)
{
    struct domain *domain = cutting->domain;
    const struct cdt *mesh = &domain->sheet->mesh->cdt;
    size_t tris = domain->tri_count;
    domain->corner = arena_alloc(scratch, tris, sizeof *domain->corner);
    if (!domain->corner ||
        !numbers_new(&cutting->tri_numbers, tris, mesh->tri_count, cutting->arena) ||
        !numbers_new(&cutting->point_numbers, 3 * tris, mesh->point_count, cutting->arena))
        return false;
    for (uint32_t t = 0; t < tris; t++) {
        *new_of(&cutting->tri_numbers, cutting->tris[t]) = t + 1;
        for (unsigned i = 0; i < 3; i++)
            domain->corner[t][i] = number_point(cutting, mesh->corner[cutting->tris[t]][i]);
    }
    return true;
}

static bool allocate(struct domain *domain, struct arena *scratch)
{
    size_t tris = domain->tri_count, points = domain->point_count;
    domain->points = arena_alloc(scratch, points, sizeof *domain->points);
    domain->neighbour = arena_alloc(scratch, tris, sizeof *domain->neighbour);
    domain->bound = arena_alloc(scratch, tris, sizeof *domain->bound);
    domain->contact = arena_alloc(scratch, tris, sizeof *domain->contact);
    domain->pad = arena_alloc(scratch, tris, sizeof *domain->pad);
    return domain->points && domain->neighbour && domain->bound && domain->contact && domain->pad;
}

static void read_mark(struct domain *domain, uint32_t old, uint32_t tri)
{
    const struct neck_sheet *sheet = domain->sheet;
    uint32_t object = sheet->mesh->mark[old];
    domain->contact[tri] = domain->pad[tri] = ISTHMUS_NONE;
    if (object == ISTHMUS_NONE || sheet->kind_of_object[object] != BOUND_CONTACT)
        return;
    const struct neck_net *net = domain->net;
    uint32_t contact = neck_index_of_owner(net->contact_of_owner, sheet->owner_of_object[object],
                                           net->contact_count);
    if (contact == ISTHMUS_NONE)
        return;
    if (net->contacts[contact].terminal < net->terminal_count)
        domain->contact[tri] = contact;
    else
        domain->pad[tri] = contact;
}

static void copy_triangles(struct cutting *cutting)
{
    struct domain *domain = cutting->domain;
    const struct cdt *mesh = &domain->sheet->mesh->cdt;
    for (uint32_t tri = 0; tri < domain->tri_count; tri++) {
        uint32_t old = cutting->tris[tri];
        for (unsigned i = 0; i < 3; i++) {
            uint32_t across = mesh->neighbour[old][i];
            domain->points[domain->corner[tri][i]] = mesh->points[mesh->corner[old][i]];
            domain->neighbour[tri][i] = across == ISTHMUS_NONE || !is_of_net(domain->sheet, across)
                                            ? ISTHMUS_NONE
                                            : *new_of(&cutting->tri_numbers, across) - 1;
            domain->bound[tri][i] = mesh->chain[old][i];
        }
        read_mark(domain, old, tri);
    }
}

enum bound_kind domain_bound_kind(const struct domain *domain, uint32_t tri, unsigned side)
{
    uint32_t bound = domain->bound[tri][side];
    if (bound == ISTHMUS_NONE)
        return BOUND_ETCHED;
    uint32_t object = domain->sheet->mesh->bounds[bound].object;
    enum bound_kind kind = domain->sheet->kind_of_object[object];
    /* Where copper ends a mark is no reason: the cautious reading is an etched edge. */
    if (kind == BOUND_CONTACT && domain->neighbour[tri][side] == ISTHMUS_NONE)
        return BOUND_ETCHED;
    return kind;
}

uint32_t domain_rim_hole(const struct domain *domain, uint32_t tri, unsigned side)
{
    if (domain_bound_kind(domain, tri, side) != BOUND_RIM)
        return ISTHMUS_NONE;
    uint32_t object = domain->sheet->mesh->bounds[domain->bound[tri][side]].object;
    return neck_index_of_owner(domain->net->hole_of_owner, domain->sheet->owner_of_object[object],
                               domain->net->hole_count);
}

static void note_boundary(struct domain *domain, uint32_t tri, unsigned side)
{
    struct domain_vertex *from = &domain->vertices[domain->corner[tri][next_corner(side)]];
    struct domain_vertex *to = &domain->vertices[domain->corner[tri][previous_corner(side)]];
    bool is_etched = domain_bound_kind(domain, tri, side) == BOUND_ETCHED;
    from->is_pinch |= from->out_tri != ISTHMUS_NONE;
    from->out_tri = tri;
    from->out_side = (uint8_t)side;
    to->in_tri = tri;
    to->in_side = (uint8_t)side;
    from->is_boundary = to->is_boundary = true;
    from->is_etched |= is_etched;
    to->is_etched |= is_etched;
}

static void note_boundaries(struct domain *domain)
{
    for (uint32_t v = 0; v < domain->point_count; v++)
        domain->vertices[v].in_tri = domain->vertices[v].out_tri = ISTHMUS_NONE;
    for (uint32_t t = 0; t < domain->tri_count; t++)
        for (unsigned i = 0; i < 3; i++)
            if (domain->neighbour[t][i] == ISTHMUS_NONE)
                note_boundary(domain, t, i);
}

static bool is_closed(const struct domain *domain, uint32_t tri, unsigned side)
{
    if (domain->neighbour[tri][side] != ISTHMUS_NONE)
        return domain->pocket_nm[tri][side] > 0;
    return domain_bound_kind(domain, tri, side) != BOUND_RIM;
}

/* The only side by which a triangle hangs on other copper than pockets; 3: there is none such. */
static unsigned mouth_of(const struct domain *domain, uint32_t tri)
{
    unsigned mouth = 3;
    if (domain->contact[tri] != ISTHMUS_NONE)
        return 3;
    for (unsigned i = 0; i < 3; i++) {
        if (is_closed(domain, tri, i))
            continue;
        if (mouth < 3)
            return 3;
        mouth = i;
    }
    bool is_open = mouth < 3 && domain->neighbour[tri][mouth] != ISTHMUS_NONE &&
                   domain->bound[tri][mouth] == ISTHMUS_NONE;
    return is_open ? mouth : 3;
}

double domain_corner_nm(const struct domain *domain, uint32_t tri, unsigned corner)
{
    struct pt at = domain->points[domain->corner[tri][corner]];
    struct pt p = domain->points[domain->corner[tri][next_corner(corner)]];
    struct pt q = domain->points[domain->corner[tri][previous_corner(corner)]];
    double t = fmin(1, fmax(0, (double)dot(p, q, at) / (double)distance2(p, q)));
    return hypot(p.x + t * ((double)q.x - p.x) - at.x, p.y + t * ((double)q.y - p.y) - at.y);
}

static double depth_of(const struct domain *domain, uint32_t tri, unsigned mouth)
{
    double one = domain->pocket_nm[tri][next_corner(mouth)];
    double other = domain->pocket_nm[tri][previous_corner(mouth)];
    return domain_corner_nm(domain, tri, mouth) + fmax(one, other);
}

/* Peels off triangles that hang by one side, as long as there are any. */
static void find_pockets(struct domain *domain)
{
    for (uint32_t t = 0; t < domain->tri_count; t++) {
        uint32_t tri = t;
        for (unsigned mouth = mouth_of(domain, tri); mouth < 3; mouth = mouth_of(domain, tri)) {
            uint32_t across = domain->neighbour[tri][mouth];
            unsigned side = side_towards(domain, across, tri);
            if (domain->pocket_nm[across][side] > 0)
                break;
            domain->pocket_nm[across][side] = (float)depth_of(domain, tri, mouth);
            tri = across;
        }
    }
}

enum neck_status domain_cut_out(const struct neck_net *net, const struct neck_sheet *sheet,
                                struct arena *scratch, struct domain *out)
{
    struct cutting cutting = {.domain = out, .arena = arena_new("cutting out")};
    *out = (struct domain){.net = net, .sheet = sheet};
    bool is_done = cutting.arena &&
                   (sheet->islands ? list_of_islands(&cutting) : list_of_mesh(&cutting)) &&
                   number_all(&cutting, scratch) && allocate(out, scratch);
    if (is_done)
        copy_triangles(&cutting);
    arena_free(cutting.arena);
    return is_done ? NECK_OK : NECK_NO_MEMORY;
}

enum neck_status domain_build(const struct neck_net *net, const struct neck_sheet *sheet,
                              struct arena *scratch, struct domain *out)
{
    enum neck_status status = domain_cut_out(net, sheet, scratch, out);
    if (status != NECK_OK)
        return status;
    out->vertices = arena_alloc(scratch, out->point_count, sizeof *out->vertices);
    out->pocket_nm = arena_alloc(scratch, out->tri_count, sizeof *out->pocket_nm);
    if (!out->vertices || !out->pocket_nm)
        return NECK_NO_MEMORY;
    note_boundaries(out);
    find_pockets(out);
    return NECK_OK;
}

void domain_free(struct domain *domain)
{
    free(domain->cones);
    domain->cones = NULL;
}
