/* Cuts one net's copper out of a layer's boundary mesh. */
#include "neck/domain.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct renumbering {
    uint32_t *tri, *point;
};

static bool is_of_net(const struct neck_sheet *sheet, uint32_t tri)
{
    uint32_t component = sheet->mesh->component[tri];
    return component != ISTHMUS_NONE && sheet->has_component[component];
}

static void number_triangles(struct domain *domain, struct renumbering *new_of)
{
    const struct cdt *mesh = &domain->sheet->mesh->cdt;
    memset(new_of->point, 0xff, mesh->point_count * sizeof *new_of->point);
    for (uint32_t t = 0; t < mesh->tri_count; t++) {
        new_of->tri[t] = ISTHMUS_NONE;
        if (!is_of_net(domain->sheet, t))
            continue;
        new_of->tri[t] = domain->tri_count++;
        for (unsigned i = 0; i < 3; i++)
            if (new_of->point[mesh->corner[t][i]] == ISTHMUS_NONE)
                new_of->point[mesh->corner[t][i]] = domain->point_count++;
    }
}

static bool allocate(struct domain *domain, struct arena *scratch)
{
    size_t tris = domain->tri_count, points = domain->point_count;
    domain->points = arena_alloc(scratch, points, sizeof *domain->points);
    domain->corner = arena_alloc(scratch, tris, sizeof *domain->corner);
    domain->neighbour = arena_alloc(scratch, tris, sizeof *domain->neighbour);
    domain->bound = arena_alloc(scratch, tris, sizeof *domain->bound);
    domain->contact = arena_alloc(scratch, tris, sizeof *domain->contact);
    domain->pad = arena_alloc(scratch, tris, sizeof *domain->pad);
    domain->pocket_nm = arena_alloc(scratch, tris, sizeof *domain->pocket_nm);
    domain->vertices = arena_alloc(scratch, points, sizeof *domain->vertices);
    return domain->points && domain->corner && domain->neighbour && domain->bound &&
           domain->contact && domain->pad && domain->pocket_nm && domain->vertices;
}

static void read_mark(struct domain *domain, uint32_t old, uint32_t tri)
{
    const struct neck_sheet *sheet = domain->sheet;
    uint32_t object = sheet->mesh->mark[old];
    domain->contact[tri] = domain->pad[tri] = ISTHMUS_NONE;
    if (object == ISTHMUS_NONE || sheet->kind_of_object[object] != BOUND_CONTACT)
        return;
    uint32_t contact = sheet->owner_of_object[object];
    if (contact >= domain->net->contact_count)
        return;
    if (domain->net->contacts[contact].terminal < domain->net->terminal_count)
        domain->contact[tri] = contact;
    else
        domain->pad[tri] = contact;
}

static void copy_triangles(struct domain *domain, const struct renumbering *new_of)
{
    const struct cdt *mesh = &domain->sheet->mesh->cdt;
    for (uint32_t old = 0; old < mesh->tri_count; old++) {
        uint32_t tri = new_of->tri[old];
        if (tri == ISTHMUS_NONE)
            continue;
        for (unsigned i = 0; i < 3; i++) {
            uint32_t across = mesh->neighbour[old][i];
            uint32_t point = mesh->corner[old][i];
            domain->corner[tri][i] = new_of->point[point];
            domain->points[new_of->point[point]] = mesh->points[point];
            domain->neighbour[tri][i] = across == ISTHMUS_NONE ? across : new_of->tri[across];
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
    uint32_t hole = domain->sheet->owner_of_object[object];
    return hole < domain->net->hole_count ? hole : ISTHMUS_NONE;
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

enum neck_status domain_build(const struct neck_net *net, const struct neck_sheet *sheet,
                              struct arena *scratch, struct domain *out)
{
    const struct cdt *mesh = &sheet->mesh->cdt;
    *out = (struct domain){.net = net, .sheet = sheet};
    struct renumbering new_of = {
        .tri = arena_alloc(scratch, mesh->tri_count, sizeof *new_of.tri),
        .point = arena_alloc(scratch, mesh->point_count, sizeof *new_of.point),
    };
    if (!new_of.tri || !new_of.point)
        return NECK_NO_MEMORY;
    number_triangles(out, &new_of);
    if (!allocate(out, scratch))
        return NECK_NO_MEMORY;
    copy_triangles(out, &new_of);
    note_boundaries(out);
    find_pockets(out);
    return NECK_OK;
}

void domain_free(struct domain *domain)
{
    free(domain->cones);
    domain->cones = NULL;
}
