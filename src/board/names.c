/* Net names by number, and the claims that drawn objects, pins, netlists and table rows make. */
#include "names.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#define LEAST_APART 3
#define CUT_NAME_LENGTH 14 /* IPC-D-356: columns 4 to 17 */

/* ---- the table ---- */

uint32_t name_lookup(const struct name_table *table, const char *name)
{
    return symbols_find(table->number_of, name, strlen(name));
}

uint32_t name_number(struct name_table *table, const char *name)
{
    uint32_t known = name_lookup(table, name);
    if (known != ISTHMUS_NONE)
        return known;
    if (table->count >= ISTHMUS_NONE - 1 ||
        !array_grow(&table->names, sizeof *table->names, &table->capacity, table->count + 1) ||
        !symbols_put(&table->number_of, name, strlen(name), (uint32_t)table->count))
        return ISTHMUS_NONE;
    table->names[table->count] = name;
    return (uint32_t)table->count++;
}

void name_table_free(struct name_table *table)
{
    free(table->names);
    symbols_free(&table->number_of);
    *table = (struct name_table){0};
}

/* "N/C" is every single pad's name and so nobody's (Gerber specification, attribute .N). */
bool is_net_name(const char *name)
{
    return name && *name && strcmp(name, "N/C") != 0;
}

/* ---- claims ---- */

bool claims_add(struct claims *claims, struct claim claim)
{
    if (claim.name == ISTHMUS_NONE)
        return false;
    if (claim.conductor == ISTHMUS_NONE)
        return true;
    if (!array_grow(&claims->items, sizeof *claims->items, &claims->capacity, claims->count + 1))
        return false;
    claim.count = 1;
    claims->items[claims->count++] = claim;
    return true;
}

static int compare_places(const struct source_pos *a, const struct source_pos *b)
{
    if (a->file_id != b->file_id)
        return a->file_id < b->file_id ? -1 : 1;
    if (a->line != b->line)
        return a->line < b->line ? -1 : 1;
    return (a->column > b->column) - (a->column < b->column);
}

static int compare_claims(const void *a, const void *b)
{
    const struct claim *one = a, *other = b;
    if (one->conductor != other->conductor)
        return one->conductor < other->conductor ? -1 : 1;
    if (one->name != other->name)
        return one->name < other->name ? -1 : 1;
    if (one->source != other->source)
        return one->source < other->source ? -1 : 1;
    if (one->is_terminal != other->is_terminal)
        return one->is_terminal ? -1 : 1;
    return compare_places(&one->at, &other->at);
}

void claims_sum(struct claims *claims)
{
    size_t kept = 0;
    if (claims->count)
        qsort(claims->items, claims->count, sizeof *claims->items, compare_claims);
    for (size_t i = 0; i < claims->count; i++) {
        const struct claim *claim = &claims->items[i];
        struct claim *last = kept ? &claims->items[kept - 1] : NULL;
        if (last && last->conductor == claim->conductor && last->name == claim->name &&
            last->source == claim->source) {
            last->count++;
            last->is_refuted &= claim->is_refuted;
            last->is_of_many_files |= claim->at.file_id != last->at.file_id;
            last->clash_line = claim->clash_line ? last->clash_line : 0;
        } else {
            claims->items[kept++] = *claim;
        }
    }
    claims->count = kept;
}

/* ---- attributes ---- */

/* What shows of one drawn object in one island. An object with several names was cut up by clear
 * ones; which part has which name it does not say. */
static bool claim_show(const struct copper_layer *layer, const struct sheet_show *show,
                       struct name_table *names, struct claims *claims)
{
    const struct paint_object *painted = &layer->paint.objects[show->object];
    if (painted->kind != PAINT_KIND_DRAWN)
        return true;
    const struct object *object = &layer->drawing->objects[painted->owner];
    const struct object_attrs *attrs = &layer->drawing->attrs[object->attrs];
    if (attrs->net_count != 1 || !is_net_name(attrs->nets[0]))
        return true;
    return claims_add(claims,
                      (struct claim){.conductor = layer->conductor_of_component[show->component],
                                     .name = name_number(names, attrs->nets[0]),
                                     .source = CLAIM_ATTRIBUTE,
                                     .at = object->at,
                                     .place = object->from,
                                     .layer = layer->position});
}

static bool claim_shows(struct build *build, struct name_table *names, struct claims *claims)
{
    for (size_t l = 0; l < build->board->layer_count; l++) {
        const struct copper_layer *layer = &build->board->layers[l];
        for (size_t i = 0; i < layer->mesh.show_count; i++)
            if (!claim_show(layer, &layer->mesh.shows[i], names, claims))
                return false;
    }
    return true;
}

static bool claim_contacts(struct build *build, struct name_table *names, struct claims *claims)
{
    for (size_t c = 0; c < build->draft_count; c++) {
        const struct draft *draft = &build->drafts[c];
        if (!is_net_name(draft->net) || draft->net_source == CONTACT_NETLIST)
            continue;
        uint16_t layer = draft->contact.hole == ISTHMUS_NONE ? draft->contact.layer_from : 0;
        if (!claims_add(claims, (struct claim){.conductor = draft->contact.conductor,
                                               .name = name_number(names, draft->net),
                                               .source = CLAIM_ATTRIBUTE,
                                               .is_terminal = true,
                                               .at = draft->net_at,
                                               .place = draft->contact.place,
                                               .layer = layer}))
            return false;
    }
    return true;
}

static bool claim_holes(struct build *build, struct name_table *names, struct claims *claims)
{
    for (size_t h = 0; h < build->board->hole_count; h++) {
        const struct board_hole *hole = &build->board->holes[h];
        if (is_net_name(hole->hole.net) && hole->is_plated &&
            !claims_add(claims, (struct claim){.conductor = hole->conductor,
                                               .name = name_number(names, hole->hole.net),
                                               .source = CLAIM_ATTRIBUTE,
                                               .at = hole->hole.at,
                                               .place = hole_middle(&hole->hole)}))
            return false;
    }
    return true;
}

/* ---- netlists ---- */

static bool is_same_text(const char *a, const char *b, size_t length)
{
    for (size_t i = 0; i < length; i++)
        if (toupper((unsigned char)a[i]) != toupper((unsigned char)b[i]))
            return false;
    return true;
}

static size_t character_count(const char *text)
{
    size_t count = 0;
    for (; *text; text++)
        count += ((unsigned char)*text & 0xC0) != 0x80;
    return count;
}

/* Is the first or last part of `name`, raised, what the netlist wrote? */
static bool is_cut_of(const char *name, const char *written)
{
    size_t length = strlen(name), kept = strlen(written);
    if (length <= CUT_NAME_LENGTH || kept == length)
        return kept == length && is_same_text(name, written, length);
    bool is_full = kept == CUT_NAME_LENGTH || character_count(written) == CUT_NAME_LENGTH;
    return is_full && kept < length &&
           (is_same_text(name, written, kept) || is_same_text(name + length - kept, written, kept));
}

uint32_t name_as_drawn(struct name_table *names, const char *written, uint32_t likely)
{
    uint32_t found = name_lookup(names, written);
    if (found != ISTHMUS_NONE && found < names->drawn_count)
        return found;
    if (likely != ISTHMUS_NONE && is_cut_of(names->names[likely], written))
        return likely;
    found = ISTHMUS_NONE;
    for (uint32_t n = 0; n < names->drawn_count; n++)
        if (is_cut_of(names->names[n], written)) {
            if (found != ISTHMUS_NONE)
                return name_number(names, written);
            found = n;
        }
    return found != ISTHMUS_NONE ? found : name_number(names, written);
}

/* Per conductor: a name that attributes give it, or NONE. */
static uint32_t *drawn_names(struct build *build, const struct claims *claims)
{
    size_t count = build->board->conductor_count;
    uint32_t *drawn = arena_alloc(build->scratch, count + 1, sizeof *drawn);
    for (size_t c = 0; drawn && c < count; c++)
        drawn[c] = ISTHMUS_NONE;
    for (size_t i = claims->count; drawn && i-- > 0;)
        drawn[claims->items[i].conductor] = claims->items[i].name;
    return drawn;
}

static uint32_t conductor_of_point(struct build *build, const struct named_point *named,
                                   uint16_t *layer)
{
    const struct board *board = build->board;
    *layer = 0;
    if (named->hole != ISTHMUS_NONE && board->holes[named->hole].is_plated)
        return board->holes[named->hole].conductor;
    if (named->point->is_within || named->layer == 0)
        return ISTHMUS_NONE;
    uint16_t last = (uint16_t)board->layer_count;
    *layer = named->layer;
    if (named->draft != ISTHMUS_NONE)
        return build->drafts[named->draft].contact.conductor;
    uint32_t conductor = build_conductor_at(build, *layer, named->at);
    if (conductor == ISTHMUS_NONE && named->point->access == 0 && *layer == 1) {
        *layer = last;
        conductor = build_conductor_at(build, last, named->at);
    }
    return conductor;
}

/* The net that attributes give to the very pad or hole of a point, or NULL. */
static const char *own_net(const struct build *build, const struct named_point *named)
{
    uint32_t hole = named->hole;
    uint32_t contact = hole == ISTHMUS_NONE ? named->draft : build->board->holes[hole].contact;
    if (contact != ISTHMUS_NONE) {
        const struct draft *draft = &build->drafts[contact];
        return draft->net_source == CONTACT_NETLIST ? NULL : draft->net;
    }
    for (size_t l = 0; hole != ISTHMUS_NONE && l < build->board->layer_count; l++) {
        uint32_t pad = build->notes[hole].pads[l];
        if (pad != ISTHMUS_NONE && build->pads[pad].net)
            return build->pads[pad].net;
    }
    return hole == ISTHMUS_NONE ? NULL : build->board->holes[hole].hole.net;
}

static void say_point(struct build *build, const struct named_point *named, const char *code,
                      const char *what)
{
    const struct netlist_point *point = named->point;
    diag_add(build->diags, DIAG_WARNING, code, point->at,
             "check that netlist and drawings are of the same state of the board",
             "net %s%s%s%s%s: %s at %.4f, %.4f mm", point->net ? point->net : "(none)",
             point->ref ? ", " : "", point->ref ? point->ref : "", point->pin ? "." : "",
             point->pin ? point->pin : "", what, (double)named->at.x_nm / 1e6,
             (double)named->at.y_nm / 1e6);
}

/* A plated hole that the drill files do not have: whatever copper lies there is not the pin's. */
static bool is_undrilled(const struct build *build, const struct named_point *named)
{
    const struct netlist_point *point = named->point;
    if (point->kind != POINT_THROUGH_HOLE || point->plating != PLATING_PLATED ||
        point->hole_nm == 0 || named->hole != ISTHMUS_NONE)
        return false;
    for (size_t h = 0; h < build->board->hole_count; h++)
        if (build->board->holes[h].is_plated)
            return true;
    return false;
}

/* A pin's point that is on copper, but on no pad, opening or hole. */
static bool is_beside_pads(const struct build *build, const struct named_point *named)
{
    if (named->hole != ISTHMUS_NONE || named->draft == ISTHMUS_NONE || named->point->is_via ||
        named->point->kind != POINT_SURFACE)
        return false;
    const struct draft *draft = &build->drafts[named->draft];
    return draft->contact.source == CONTACT_NETLIST && draft->mark_count == 1 &&
           (draft->marks[0].kind == MARK_RECTANGLE || draft->marks[0].kind == MARK_DISC);
}

/* Words that some netlists write for N/C (common practice, no source); they may be a net's name. */
static bool is_unconnected_word(const char *name)
{
    static const char *const words[] = {"NC",         "N C",       "NONE",       "NO CONNECT",
                                        "NO_CONNECT", "NOCONNECT", "UNCONNECTED"};
    for (size_t i = 0; name && i < sizeof words / sizeof *words; i++)
        if (strcasecmp(name, words[i]) == 0)
            return true;
    return false;
}

/* They mean no net where three or more points bear one and no two of them share copper: a net of
 * that name (a relay's contact) would tie some. */
static bool are_all_apart(struct build *build, bool *out)
{
    uint32_t count = 0;
    uint16_t layer;
    bool *is_seen = arena_alloc(build->scratch, build->board->conductor_count + 1, sizeof *is_seen);
    struct source_pos first = {0};
    *out = false;
    for (size_t i = 0; is_seen && i < build->point_count; i++) {
        uint32_t conductor = is_unconnected_word(build->points[i].point->net)
                                 ? conductor_of_point(build, &build->points[i], &layer)
                                 : ISTHMUS_NONE;
        if (conductor == ISTHMUS_NONE)
            continue;
        if (is_seen[conductor])
            return true;
        is_seen[conductor] = true;
        first = count++ ? first : build->points[i].point->at;
    }
    *out = count >= LEAST_APART;
    for (size_t d = 0; *out && d < build->draft_count; d++)
        if (build->drafts[d].net_source == CONTACT_NETLIST &&
            is_unconnected_word(build->drafts[d].net))
            build->drafts[d].net = NULL;
    if (*out)
        diag_add(build->diags, DIAG_NOTE, "netlist-no-net", first, NULL,
                 "%u points that hang alone bear a name such as NC: taken for no net", count);
    return is_seen != NULL;
}

struct point_claims {
    struct name_table *names;
    struct claims *claims;
    uint32_t *drawn; /* per conductor: a name that attributes give it, or NONE */
    size_t renamed_count, copper_count;
    bool is_nc_no_net;
};

static bool lose_pin(struct claims *claims, const struct named_point *named, uint32_t name)
{
    const struct netlist_point *point = named->point;
    if (point->is_via || !point->ref || point->plating == PLATING_NONE || named->layer == 0)
        return true;
    if (!array_grow(&claims->lost, sizeof *claims->lost, &claims->lost_capacity,
                    claims->lost_count + 1))
        return false;
    claims->lost[claims->lost_count++] = (struct lost_pin){
        name, point->ref, point->pin, point->at, named->at, point->kind == POINT_THROUGH_HOLE};
    return true;
}

/* The conductor that a point names, or NONE. What is wrong about its place is told. */
static uint32_t conductor_named_by(struct build *build, const struct named_point *named,
                                   uint16_t *layer)
{
    const struct netlist_point *point = named->point;
    uint32_t conductor = conductor_of_point(build, named, layer);
    if (conductor == ISTHMUS_NONE) {
        if (point->plating != PLATING_NONE && named->layer)
            say_point(build, named, "netlist-point-bare", "no copper");
        return ISTHMUS_NONE;
    }
    if (is_undrilled(build, named)) {
        say_point(build, named, "netlist-point-undrilled", "copper, but no plated hole");
        return point->ref && !point->is_via ? ISTHMUS_NONE : conductor;
    }
    if (is_beside_pads(build, named))
        say_point(build, named, "netlist-point-beside", "copper, but no pad");
    return conductor;
}

static bool claim_point(struct build *build, struct point_claims *work,
                        const struct named_point *named)
{
    const struct netlist_point *point = named->point;
    uint16_t layer;
    uint32_t conductor = conductor_named_by(build, named, &layer);
    work->copper_count += conductor != ISTHMUS_NONE;
    if (!is_net_name(point->net) || (work->is_nc_no_net && is_unconnected_word(point->net)))
        return true;
    uint32_t likely = conductor == ISTHMUS_NONE ? ISTHMUS_NONE : work->drawn[conductor];
    uint32_t name = name_as_drawn(work->names, point->net, likely);
    if (name == ISTHMUS_NONE)
        return false;
    if (conductor == ISTHMUS_NONE && !lose_pin(work->claims, named, name))
        return false;
    const char *own = own_net(build, named);
    work->renamed_count += strcmp(work->names->names[name], point->net) != 0;
    return claims_add(
        work->claims,
        (struct claim){.conductor = conductor,
                       .name = name,
                       .source = CLAIM_NETLIST,
                       .is_terminal = point->ref && !point->is_via,
                       .may_be_cut = point->may_be_cut && name >= work->names->drawn_count,
                       .is_refuted = is_net_name(own) && strcmp(own, work->names->names[name]) != 0,
                       .clash_line = point->clash_line,
                       .at = point->at,
                       .place = named->at,
                       .layer = layer});
}

static bool claim_points(struct build *build, struct name_table *names, struct claims *claims)
{
    struct point_claims work = {
        .names = names, .claims = claims, .drawn = drawn_names(build, claims)};
    names->drawn_count = names->count;
    if (!work.drawn || !are_all_apart(build, &work.is_nc_no_net))
        return false;
    for (size_t i = 0; i < build->point_count; i++)
        if (!claim_point(build, &work, &build->points[i]))
            return false;
    if (build->point_count)
        diag_add(build->diags, DIAG_NOTE, "netlist-points", build->points[0].point->at, NULL,
                 "%zu of %zu points of the netlist lie on copper of the layer or hole they state",
                 work.copper_count, build->point_count);
    if (work.renamed_count)
        diag_add(build->diags, DIAG_NOTE, "netlist-names-cut", build->points[0].point->at, NULL,
                 "%zu points of the netlist give a net's name cut or in other case; taken for the "
                 "drawing's names that they can only be cut from",
                 work.renamed_count);
    return true;
}

/* ---- rows of the table ---- */

/* Where a row gives no layer, the outer layer that has copper there; top first. */
static uint32_t conductor_of_row(struct build *build, const struct current_row *row, size_t index,
                                 uint16_t *layer)
{
    uint32_t draft = build->draft_of_row[index];
    uint16_t last = (uint16_t)build->board->layer_count;
    *layer = row_layer(build, row);
    if (draft != ISTHMUS_NONE)
        return build->drafts[draft].contact.conductor;
    if (*layer > last)
        return ISTHMUS_NONE;
    uint32_t hole = build_plated_hole_at(build, row->place, *layer);
    if (hole != ISTHMUS_NONE)
        return build->board->holes[hole].conductor;
    if (*layer)
        return build_conductor_at(build, *layer, row->place);
    *layer = 1;
    uint32_t conductor = build_conductor_at(build, 1, row->place);
    if (conductor != ISTHMUS_NONE || last == 1)
        return conductor;
    *layer = last;
    return build_conductor_at(build, last, row->place);
}

static bool claim_rows(struct build *build, struct name_table *names, struct claims *claims)
{
    size_t count = build->table ? build->table->row_count : 0;
    for (size_t r = 0; r < count; r++) {
        const struct current_row *row = &build->table->rows[r];
        size_t length = row->net ? strlen(row->net) : 0;
        if (row->kind != ROW_POSITION || length == 0 || row->net[length - 1] == '*')
            continue;
        uint16_t layer;
        uint32_t conductor = conductor_of_row(build, row, r, &layer);
        if (conductor == ISTHMUS_NONE && !row->has_current)
            diag_add(build->diags, DIAG_ERROR, "position-bare", row->at,
                     "give a place on copper of that layer, as `isthmus inspect` lists them",
                     "no copper at %.4f, %.4f mm", (double)row->place.x_nm / 1e6,
                     (double)row->place.y_nm / 1e6);
        if (!claims_add(claims, (struct claim){.conductor = conductor,
                                               .name = name_number(names, row->net),
                                               .source = CLAIM_POSITION,
                                               .is_terminal = true,
                                               .at = row->at,
                                               .place = row->place,
                                               .layer = layer}))
            return false;
    }
    return true;
}

bool claims_collect(struct build *build, struct name_table *names, struct claims *claims)
{
    if (!claim_shows(build, names, claims) || !claim_contacts(build, names, claims) ||
        !claim_holes(build, names, claims) || !claim_points(build, names, claims) ||
        !claim_rows(build, names, claims))
        return false;
    claims_sum(claims);
    return true;
}
