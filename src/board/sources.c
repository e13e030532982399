/*
 * Every file of the package: what it holds, its role, the copper layers in order.
 *
 * Roles are decided twice. A drill file may leave its digits open, and only the copper can settle
 * that; the copper is known from the first decision, made without the drills' own attributes.
 */
#include "sources.h"

#include <stdlib.h>
#include <string.h>

#define DEFAULT_MAX_OBJECTS ((size_t)5 * 1000 * 1000)

static size_t package_file_count(const struct file_table *files)
{
    size_t count = 0;
    for (size_t i = 0; i < files->count; i++)
        count += files->files[i].is_package;
    return count;
}

static enum content content_of(const struct source_file *file)
{
    if (job_looks_like(file->bytes, file->size))
        return CONTENT_JOB;
    if (ipc356_looks_like(file->bytes, file->size))
        return CONTENT_NETLIST;
    if (gerber_looks_like(file->bytes, file->size))
        return CONTENT_DRAWING;
    return drill_looks_like(file->bytes, file->size) ? CONTENT_DRILL : CONTENT_OTHER;
}

/* A byte order mark of two bytes, either way round. */
static bool is_wide_text(const struct source_file *file)
{
    return file->size >= 2 && ((file->bytes[0] == 0xff && file->bytes[1] == 0xfe) ||
                               (file->bytes[0] == 0xfe && file->bytes[1] == 0xff));
}

static const struct source_file *file_of(const struct build *build, uint32_t file_id)
{
    return &build->files->files[file_id - 1];
}

/* ---- drawings ---- */

static void hint_from_attrs(struct file_hint *hint, const struct file_attr *attrs, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (strcmp(attrs[i].name, ".FileFunction") == 0 && attrs[i].field_count > 0) {
            hint->file_function = attrs[i].fields;
            hint->file_function_count = attrs[i].field_count;
        }
        if (strcmp(attrs[i].name, ".FilePolarity") == 0 && attrs[i].field_count > 0)
            hint->file_polarity = attrs[i].fields[0];
    }
}

static void hint_counts(struct file_hint *hint, const struct drawing *drawing)
{
    for (size_t i = 0; i < drawing->object_count; i++) {
        enum object_kind kind = drawing->objects[i].kind;
        hint->flash_count += kind == OBJECT_FLASH;
        hint->region_count += kind == OBJECT_REGION;
        hint->stroke_count += kind == OBJECT_STROKE || kind == OBJECT_ARC_STROKE;
    }
}

/* ---- tracks that end on pads ---- */

#define SAME_POINT_NM 10000

static struct grid *grid_of_flashes(const struct drawing *drawing, size_t count)
{
    struct grid *grid = grid_new((struct box){drawing->min, drawing->max}, count);
    bool is_done = grid != NULL;
    for (size_t i = 0; is_done && i < drawing->object_count; i++)
        if (drawing->objects[i].kind == OBJECT_FLASH)
            is_done = grid_add(grid, drawing->objects[i].from, (uint32_t)i);
    if (is_done)
        return grid;
    grid_free(grid);
    return NULL;
}

static bool ends_on_flash(const struct grid *flashes, const struct object *stroke)
{
    uint64_t from = 0, to = 0;
    return grid_next(flashes, stroke->from, SAME_POINT_NM, &from) != ISTHMUS_NONE ||
           grid_next(flashes, stroke->to, SAME_POINT_NM, &to) != ISTHMUS_NONE;
}

/* ---- thermal reliefs ---- */

static bool has_middle(const struct drawing *drawing, const struct contour *contour,
                       struct pos_nm middle)
{
    struct box box = BOX_EMPTY;
    box_add(&box, contour->start);
    for (uint32_t s = 0; s < contour->seg_count; s++)
        box_add(&box, drawing->segs[contour->first_seg + s].to);
    return box.min.x_nm <= middle.x_nm && middle.x_nm <= box.max.x_nm &&
           box.min.y_nm <= middle.y_nm && middle.y_nm <= box.max.y_nm;
}

/* Two pieces and more, none of them over the middle: nobody draws a pad so, but gaps of a plane. */
static bool is_thermal(const struct drawing *drawing, const struct object *object)
{
    uint32_t piece_count = 0;
    for (uint32_t f = 0; f < object->fill_count; f++) {
        const struct fill *fill = &drawing->fills[object->first_fill + f];
        for (uint32_t c = 0; c < fill->contour_count; c++, piece_count++)
            if (has_middle(drawing, &drawing->contours[fill->first_contour + c], object->from))
                return false;
    }
    return object->kind == OBJECT_FLASH && object->is_dark && piece_count >= 2;
}

static bool has_thermals(const struct drawing *drawing)
{
    for (size_t i = 0; i < drawing->object_count; i++) {
        const struct object *object = &drawing->objects[i];
        bool is_macro = object->kind == OBJECT_FLASH &&
                        object->aperture < drawing->aperture_count &&
                        drawing->apertures[object->aperture].kind == APERTURE_MACRO;
        if (is_macro && is_thermal(drawing, object))
            return true;
    }
    return false;
}

/* Only asked of drawings that might be a plane's gaps: flashes with hardly anything else. */
static bool look_at_flashes(struct file_hint *hint, const struct drawing *drawing)
{
    if (hint->region_count || hint->flash_count <= hint->stroke_count)
        return true;
    struct grid *flashes = grid_of_flashes(drawing, hint->flash_count);
    bool is_any_joined = false;
    for (size_t i = 0; flashes && i < drawing->object_count && !is_any_joined; i++) {
        const struct object *object = &drawing->objects[i];
        if (object->kind == OBJECT_STROKE || object->kind == OBJECT_ARC_STROKE)
            is_any_joined = ends_on_flash(flashes, object);
    }
    hint->are_flashes_lonely = flashes && !is_any_joined;
    grid_free(flashes);
    return flashes != NULL;
}

static enum board_status read_drawing(struct build *build, struct sources *sources, size_t i)
{
    struct file_hint *hint = &sources->hints[i];
    const struct source_file *file = file_of(build, hint->file_id);
    size_t limit = build->options->max_objects ? build->options->max_objects : DEFAULT_MAX_OBJECTS;
    struct drawing *drawing = &build->board->drawings[i];
    enum drawing_status status = gerber_read(hint->file_id, file->bytes, file->size, limit,
                                             build->arena, &build->file_diags[i], drawing);
    if (status == DRAWING_NO_MEMORY)
        return BOARD_NO_MEMORY;
    if (status == DRAWING_NOT_ONE)
        hint->content = CONTENT_OTHER;
    hint->is_refused = status == DRAWING_REFUSED;
    hint_from_attrs(hint, drawing->file_attrs, drawing->file_attr_count);
    hint_counts(hint, drawing);
    hint->image_name = drawing->image_name;
    hint->has_thermals = has_thermals(drawing);
    return look_at_flashes(hint, drawing) ? BOARD_OK : BOARD_NO_MEMORY;
}

static enum board_status read_job(struct build *build, struct sources *sources, size_t i)
{
    const struct source_file *file = file_of(build, sources->hints[i].file_id);
    struct job_facts *job = &build->board->job;
    if (job->file_id) {
        diag_add(build->diags, DIAG_WARNING, "job-second",
                 (struct source_pos){sources->hints[i].file_id, 0, 0},
                 "leave the wrong one out of the package",
                 "a second job file; the first one counts");
        return BOARD_OK;
    }
    enum package_status status = job_read(sources->hints[i].file_id, file->bytes, file->size,
                                          build->arena, &build->file_diags[i], job);
    if (status == PACKAGE_NO_MEMORY)
        return BOARD_NO_MEMORY;
    if (status != PACKAGE_OK)
        *job = (struct job_facts){0};
    return BOARD_OK;
}

static enum board_status read_contents(struct build *build, struct sources *sources)
{
    for (size_t i = 0; i < sources->count; i++) {
        struct file_hint *hint = &sources->hints[i];
        hint->content = content_of(file_of(build, hint->file_id));
        hint->is_wide_text = is_wide_text(file_of(build, hint->file_id));
        enum board_status status = BOARD_OK;
        if (hint->content == CONTENT_DRAWING)
            status = read_drawing(build, sources, i);
        else if (hint->content == CONTENT_JOB)
            status = read_job(build, sources, i);
        if (status != BOARD_OK)
            return status;
    }
    return BOARD_OK;
}

/* Each file learns of the first one of the very same bytes. */
static void find_copies(const struct build *build, struct sources *sources)
{
    for (size_t i = 0; i < sources->count; i++) {
        struct file_hint *hint = &sources->hints[i];
        const struct source_file *file = file_of(build, hint->file_id);
        for (size_t j = 0; j < i && hint->content != CONTENT_OTHER && !hint->same_as; j++)
            if (strcmp(file->sha256, file_of(build, sources->hints[j].file_id)->sha256) == 0)
                hint->same_as = sources->hints[j].file_id;
    }
}

/* ---- roles ---- */

static enum board_status decide_roles(struct build *build, const struct sources *sources,
                                      struct diag_list *diags)
{
    const struct job_facts *job = build->board->job.file_id ? &build->board->job : NULL;
    enum package_status status =
        roles_decide(build->files, sources->hints, sources->count, job, build->options->roles,
                     build->options->role_count, build->arena, diags, build->board->roles);
    if (status == PACKAGE_NO_MEMORY)
        return BOARD_NO_MEMORY;
    return status == PACKAGE_OK ? BOARD_OK : BOARD_REFUSED;
}

static bool is_drill_role(enum role role)
{
    return role == ROLE_DRILL_PLATED || role == ROLE_DRILL_NONPLATED || role == ROLE_DRILL_MIXED;
}

bool role_matters(const struct file_role *role)
{
    return role->role == ROLE_COPPER || role->role == ROLE_MASK_TOP ||
           role->role == ROLE_MASK_BOTTOM || role->role == ROLE_PROFILE ||
           role->role == ROLE_NETLIST || role->role == ROLE_JOB || is_drill_role(role->role);
}

static enum board_status holes_status(enum holes_status status)
{
    return status == HOLES_NO_MEMORY ? BOARD_NO_MEMORY : BOARD_OK;
}

static enum board_status read_drills(struct build *build, struct sources *sources)
{
    struct board *board = build->board;
    struct score *score = score_new(build, sources);
    if (!score)
        return BOARD_NO_MEMORY;
    enum board_status status = BOARD_OK;
    for (size_t i = 0; i < sources->count && status == BOARD_OK; i++) {
        if (sources->hints[i].content != CONTENT_DRILL)
            continue;
        status = holes_status(score_read(build, score, sources, i));
    }
    if (status == BOARD_OK)
        status = holes_status(score_read_undecided(build, score, sources));
    for (size_t i = 0; i < sources->count && status == BOARD_OK; i++)
        if (sources->hints[i].content == CONTENT_DRILL)
            hint_from_attrs(&sources->hints[i], sources->lists[i].file_attrs,
                            sources->lists[i].file_attr_count);
    board->hole_list_count = 0;
    return status;
}

/* Drawings of holes become hole lists too; lists of files that are set aside are dropped. */
static enum board_status keep_hole_lists(struct build *build, struct sources *sources)
{
    struct board *board = build->board;
    for (size_t i = 0; i < sources->count; i++) {
        if (!is_drill_role(board->roles[i].role))
            continue;
        struct hole_list *list = &board->hole_lists[board->hole_list_count];
        *list = sources->lists[i];
        if (sources->hints[i].content == CONTENT_DRAWING) {
            enum holes_status status =
                holes_from_drawing(&board->drawings[i], build->arena, &build->file_diags[i], list);
            if (status == HOLES_NO_MEMORY)
                return BOARD_NO_MEMORY;
        }
        list->file_id = board->roles[i].file_id;
        board->hole_list_count++;
    }
    return BOARD_OK;
}

/* ---- no drill file ---- */

#define PAIRS_BY_CHANCE 2

struct pad_pairs {
    size_t count, bare_count; /* bare: without a hole */
};

/* Every hole's middle, whatever file it stands in; NULL without memory. */
static struct grid *grid_of_holes(const struct board *board)
{
    struct box extent = BOX_EMPTY;
    size_t count = 0;
    for (size_t l = 0; l < board->hole_list_count; l++)
        for (size_t h = 0; h < board->hole_lists[l].hole_count; h++, count++)
            box_add(&extent, hole_middle(&board->hole_lists[l].holes[h]));
    struct grid *grid = grid_new(extent, count);
    for (size_t l = 0; l < board->hole_list_count; l++)
        for (size_t h = 0; grid && h < board->hole_lists[l].hole_count; h++)
            if (!grid_add(grid, hole_middle(&board->hole_lists[l].holes[h]), (uint32_t)h)) {
                grid_free(grid);
                return NULL;
            }
    return grid;
}

static bool is_near(const struct grid *grid, struct pos_nm at, int64_t reach_nm)
{
    uint64_t cursor = 0;
    return grid_next(grid, at, reach_nm, &cursor) != ISTHMUS_NONE;
}

/* Flashes of the bottom layer that have one of the top layer above them: pads with holes. */
static bool count_pad_pairs(const struct board *board, struct pad_pairs *pairs)
{
    const struct drawing *top = board->layers[0].drawing;
    const struct drawing *bottom = board->layers[board->layer_count - 1].drawing;
    struct grid *flashes = grid_of_flashes(top, top->object_count);
    struct grid *holes = grid_of_holes(board);
    *pairs = (struct pad_pairs){0, 0};
    for (size_t i = 0; flashes && holes && i < bottom->object_count; i++) {
        const struct object *object = &bottom->objects[i];
        if (object->kind != OBJECT_FLASH || !object->is_dark ||
            !is_near(flashes, object->from, SAME_POINT_NM))
            continue;
        pairs->count++;
        pairs->bare_count += !is_near(holes, object->from, PAD_CENTRE_NM);
    }
    bool is_done = flashes && holes;
    grid_free(flashes);
    grid_free(holes);
    return is_done;
}

/* Somebody says of a drill file that it is one, whatever is in it. */
static bool has_drill_option(const struct board *board)
{
    for (size_t i = 0; i < board->role_count; i++)
        if (is_drill_role(board->roles[i].role) && strcmp(board->roles[i].why, "--role") == 0)
            return true;
    return false;
}

/* Without its holes copper is wider than it will be, and nothing joins the layers: what a width or
 * a net would be is not known. */
static void say_missing_holes(struct build *build, const struct pad_pairs *pairs)
{
    diag_add(build->diags, DIAG_ERROR, "drill-missing", (struct source_pos){0, 0, 0},
             "add the drill files to the package, or name them with --role FILE=plated or "
             "=nonplated; if the board has no such holes, say so with --role FILE=plated for an "
             "empty drill file (the lines M48, METRIC, %, M30)",
             "%s, but %zu pads on both sides look as if they had holes: none is cut out of the "
             "copper, and none joins its layers",
             build->board->hole_list_count ? "no drill file has a hole under a pad"
                                           : "there is no drill file",
             pairs->count);
}

static enum board_status look_for_missing_drills(struct build *build)
{
    struct board *board = build->board;
    struct pad_pairs pairs;
    if (board->layer_count < 2 || has_drill_option(board))
        return BOARD_OK;
    if (!count_pad_pairs(board, &pairs))
        return BOARD_NO_MEMORY;
    board->are_holes_missing = pairs.count > PAIRS_BY_CHANCE && pairs.bare_count == pairs.count;
    if (board->are_holes_missing)
        say_missing_holes(build, &pairs);
    else if (pairs.bare_count > PAIRS_BY_CHANCE && 2 * pairs.bare_count > pairs.count)
        diag_add(build->diags, DIAG_WARNING, "drill-few", (struct source_pos){0, 0, 0},
                 "look whether a drill file is missing from the package",
                 "%zu of the %zu pads that lie on both sides have no hole", pairs.bare_count,
                 pairs.count);
    return BOARD_OK;
}

/* ---- drawings that may be copper ---- */

#define HOLES_BY_CHANCE 4

static size_t count_holes(const struct board *board)
{
    size_t count = 0;
    for (size_t l = 0; l < board->hole_list_count; l++)
        count += board->hole_lists[l].hole_count;
    return count;
}

static size_t count_holes_under_flashes(const struct board *board, const struct grid *flashes)
{
    size_t count = 0;
    for (size_t l = 0; l < board->hole_list_count; l++)
        for (size_t h = 0; h < board->hole_lists[l].hole_count; h++)
            count += is_near(flashes, hole_middle(&board->hole_lists[l].holes[h]), PAD_CENTRE_NM);
    return count;
}

static bool has_role(const struct board *board, enum role role)
{
    for (size_t i = 0; i < board->role_count; i++)
        if (board->roles[i].role == role)
            return true;
    return false;
}

/* Pads over nearly all holes, joined by tracks or areas: copper, or a mask where none is known. A
 * plan of the holes has signs there, but no line ends on them. */
static bool looks_like_copper(const struct board *board, const struct file_hint *hint,
                              const struct drawing *drawing, const struct grid *flashes)
{
    bool are_masks_known = has_role(board, ROLE_MASK_TOP) && has_role(board, ROLE_MASK_BOTTOM);
    bool is_any_joined = hint->region_count > 0;
    for (size_t i = 0; i < drawing->object_count && !is_any_joined; i++)
        is_any_joined = drawing->objects[i].kind == OBJECT_STROKE &&
                        ends_on_flash(flashes, &drawing->objects[i]);
    bool is_bare = hint->stroke_count == 0; /* a plane's gaps */
    size_t hole_count = count_holes(board);
    return (is_any_joined || (is_bare && are_masks_known)) && hole_count > HOLES_BY_CHANCE &&
           5 * count_holes_under_flashes(board, flashes) >= 4 * hole_count;
}

/* An inner layer that is left out would be missed by every verdict: its copper, and what it joins.
 */
static enum board_status ask_about_copper(struct build *build, const struct sources *sources)
{
    const struct board *board = build->board;
    for (size_t i = 0; i < board->role_count; i++) {
        const struct drawing *drawing = &board->drawings[i];
        const struct file_hint *hint = &sources->hints[i];
        if (board->roles[i].role != ROLE_UNKNOWN || hint->flash_count <= HOLES_BY_CHANCE)
            continue;
        struct grid *flashes = grid_of_flashes(drawing, drawing->object_count);
        if (!flashes)
            return BOARD_NO_MEMORY;
        if (looks_like_copper(board, hint, drawing, flashes))
            diag_add(
                build->diags, DIAG_ERROR, "roles-copper-like",
                (struct source_pos){hint->file_id, 0, 0},
                "say what it is: --role FILE=inner:N (or top, bottom, mask-top, mask-bottom); "
                "if it is no layer of copper or mask: --role FILE=ignore",
                "nothing says what this drawing is, but it has pads over the board's holes: it "
                "may be a copper layer, and was not judged");
        grid_free(flashes);
    }
    return BOARD_OK;
}

/* ---- layers without copper ---- */

/* An outer one is a board of one side; nobody pays for an empty inner one. */
static void say_empty_layers(struct build *build)
{
    const struct board *board = build->board;
    for (size_t l = 0; l < board->layer_count; l++) {
        const struct copper_layer *layer = &board->layers[l];
        bool is_inner = l > 0 && l + 1 < board->layer_count;
        if (layer->drawing->object_count == 0 && !layer->is_negative)
            diag_add(build->diags, is_inner ? DIAG_WARNING : DIAG_NOTE, "copper-empty",
                     (struct source_pos){layer->file_id, 0, 0},
                     "export it again, unless this side of the board is meant to be bare",
                     "nothing is drawn on this copper layer");
    }
}

static enum board_status read_netlists(struct build *build, const struct sources *sources)
{
    struct board *board = build->board;
    for (size_t i = 0; i < sources->count; i++) {
        if (board->roles[i].role != ROLE_NETLIST)
            continue;
        const struct source_file *file = file_of(build, sources->hints[i].file_id);
        struct netlist *netlist = &board->netlists[board->netlist_count];
        enum netlist_status status = ipc356_read(sources->hints[i].file_id, file->bytes, file->size,
                                                 build->arena, &build->file_diags[i], netlist);
        if (status == NETLIST_NO_MEMORY)
            return BOARD_NO_MEMORY;
        board->netlist_count += status == NETLIST_OK;
    }
    return BOARD_OK;
}

/* What a file set aside could not be read for is worth a warning, no more. */
static void pass_on(struct diag_list *to, const struct diag *diag, bool matters)
{
    enum diag_level level = diag->level;
    if (!matters) {
        if (level == DIAG_WARNING)
            return;
        level = level == DIAG_ERROR ? DIAG_WARNING : level;
    }
    size_t before = to->count;
    diag_add(to, level, diag->code, diag->at, diag->advice, "%s", diag->text);
    if (to->count > before && diag->suppressed_count) {
        to->items[before].suppressed_count += diag->suppressed_count;
        to->error_count += level == DIAG_ERROR ? diag->suppressed_count : 0;
        to->warning_count += level == DIAG_WARNING ? diag->suppressed_count : 0;
    }
}

/* Copper or mask that could not be read: holes that are compared with what is left are not at
 * fault. */
static bool are_pads_unread(const struct board *board, const struct sources *sources)
{
    bool is_unread = false;
    for (size_t i = 0; i < sources->count; i++) {
        enum role role = board->roles[i].role;
        is_unread |= sources->hints[i].is_refused &&
                     (role == ROLE_COPPER || role == ROLE_MASK_TOP || role == ROLE_MASK_BOTTOM);
    }
    return is_unread;
}

static bool compares_with_pads(const struct diag *diag)
{
    return strcmp(diag->code, "drill-reading-open") == 0 ||
           strcmp(diag->code, "drill-off-copper") == 0 ||
           strcmp(diag->code, "drill-digits-assumed") == 0;
}

static bool pass_on_all(struct build *build, const struct sources *sources)
{
    bool has_errors = false, is_moot = are_pads_unread(build->board, sources);
    for (size_t i = 0; i < sources->count; i++) {
        bool matters = role_matters(&build->board->roles[i]);
        const struct diag_list *list = &build->file_diags[i];
        for (size_t d = 0; d < list->count; d++) {
            if (is_moot && compares_with_pads(&list->items[d]))
                continue;
            pass_on(build->diags, &list->items[d], matters);
            has_errors |= matters && list->items[d].level == DIAG_ERROR;
        }
        has_errors |= list->is_out_of_memory;
        build->diags->is_out_of_memory |= list->is_out_of_memory;
    }
    return has_errors;
}

/* ---- copper layers ---- */

static enum board_status collect_layers(struct build *build)
{
    struct board *board = build->board;
    size_t layer_count = 0;
    for (size_t i = 0; i < board->role_count; i++)
        layer_count += board->roles[i].role == ROLE_COPPER;
    board->layers = arena_alloc(build->arena, layer_count + 1, sizeof *board->layers);
    if (!board->layers)
        return BOARD_NO_MEMORY;
    board->layer_count = layer_count;
    for (size_t i = 0; i < board->role_count; i++) {
        const struct file_role *role = &board->roles[i];
        if (role->role != ROLE_COPPER)
            continue;
        if (role->position < 1 || role->position > board->layer_count ||
            board->layers[role->position - 1].drawing) {
            diag_add(build->diags, DIAG_ERROR, "layer-order",
                     (struct source_pos){role->file_id, 0, 0}, "give the layers with --role",
                     "copper layer %u of %zu: the layers cannot be ordered", role->position,
                     board->layer_count);
            return BOARD_REFUSED;
        }
        board->layers[role->position - 1] = (struct copper_layer){.file_id = role->file_id,
                                                                  .side = role->side,
                                                                  .position = role->position,
                                                                  .is_negative = role->is_negative,
                                                                  .drawing = &board->drawings[i]};
    }
    return board->layer_count ? BOARD_OK : BOARD_REFUSED;
}

static bool sources_new(struct build *build, struct sources *sources)
{
    struct board *board = build->board;
    size_t count = package_file_count(build->files);
    sources->count = count;
    sources->hints = arena_alloc(build->arena, count + 1, sizeof *sources->hints);
    sources->lists = arena_alloc(build->arena, count + 1, sizeof *sources->lists);
    board->role_count = count;
    board->roles = arena_alloc(build->arena, count + 1, sizeof *board->roles);
    board->drawings = arena_alloc(build->arena, count + 1, sizeof *board->drawings);
    board->hole_lists = arena_alloc(build->arena, count + 1, sizeof *board->hole_lists);
    board->netlists = arena_alloc(build->arena, count + 1, sizeof *board->netlists);
    build->file_diags = arena_alloc(build->scratch, count + 1, sizeof *build->file_diags);
    if (!sources->hints || !sources->lists || !board->roles || !board->drawings ||
        !board->hole_lists || !board->netlists || !build->file_diags)
        return false;
    size_t at = 0;
    for (size_t i = 0; i < build->files->count; i++)
        if (build->files->files[i].is_package) {
            build->file_diags[at].arena = build->scratch;
            sources->hints[at++].file_id = (uint32_t)i + 1;
        }
    return true;
}

/* A job file that the user sets aside states no facts either. */
static void drop_ignored_job(struct build *build)
{
    struct board *board = build->board;
    for (size_t i = 0; i < board->role_count; i++)
        if (board->roles[i].role == ROLE_IGNORE && board->roles[i].file_id == board->job.file_id)
            board->job = (struct job_facts){0};
}

/* The attributes of drill files are not read yet: what their names would have to be asked about may
 * be said by these. */
static void suppose_drills(struct sources *sources, bool are_supposed)
{
    static const char *const any_holes[] = {"MixedPlating"};
    for (size_t i = 0; i < sources->count; i++)
        if (sources->hints[i].content == CONTENT_DRILL) {
            sources->hints[i].file_function = are_supposed ? any_holes : NULL;
            sources->hints[i].file_function_count = are_supposed;
        }
}

static enum board_status roles_and_drills(struct build *build, struct sources *sources)
{
    struct diag_list first = {.arena = build->scratch};
    suppose_drills(sources, true);
    enum board_status status = decide_roles(build, sources, &first);
    suppose_drills(sources, false);
    if (status == BOARD_OK)
        status = read_drills(build, sources);
    if (status == BOARD_NO_MEMORY)
        return status;
    status = decide_roles(build, sources, build->diags);
    drop_ignored_job(build);
    return status;
}

enum board_status build_sources(struct build *build)
{
    struct sources sources = {0};
    size_t errors_before = build->diags->error_count; /* a wrong --drill-format stops too */
    if (!sources_new(build, &sources))
        return BOARD_NO_MEMORY;
    enum board_status status = read_contents(build, &sources);
    find_copies(build, &sources);
    if (status == BOARD_OK)
        status = roles_and_drills(build, &sources);
    if (status == BOARD_OK)
        status = keep_hole_lists(build, &sources);
    if (status == BOARD_OK)
        status = read_netlists(build, &sources);
    if (status == BOARD_NO_MEMORY)
        return status;
    bool has_errors = pass_on_all(build, &sources) || build->diags->error_count > errors_before;
    if (status == BOARD_OK)
        status = collect_layers(build);
    if (status == BOARD_OK) {
        say_empty_layers(build);
        status = look_for_missing_drills(build);
    }
    if (status == BOARD_OK)
        status = ask_about_copper(build, &sources);
    return has_errors && status == BOARD_OK ? BOARD_REFUSED : status;
}
