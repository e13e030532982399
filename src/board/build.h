/*
 * What the steps of board_read() hand to each other. Private to src/board.
 *
 * Scratch lives in build.scratch and dies with board_read(); what the board keeps lives in
 * build.arena. The steps run in the order of the functions below.
 */
#ifndef ISTHMUS_BOARD_BUILD_H
#define ISTHMUS_BOARD_BUILD_H

#include "isthmus/board.h"

#define NM_PER_MM INT64_C(1000000)

struct box {
    struct pos_nm min, max; /* min > max: nothing in it */
};
#define BOX_EMPTY                                                                                  \
    ((struct box){{INT64_MAX / 4, INT64_MAX / 4}, {-(INT64_MAX / 4), -(INT64_MAX / 4)}})
void box_add(struct box *box, struct pos_nm at);
void box_join(struct box *box, struct box other);
bool box_is_empty(struct box box);
bool boxes_meet(struct box a, struct box b);
bool box_holds(struct box box, struct pos_nm at);
struct pos_nm box_centre(struct box box);
struct pos_nm box_size(struct box box);
double distance_nm(struct pos_nm a, struct pos_nm b);
/* Of a point from the straight slot a-b (a round hole: a == b). */
double slot_distance_nm(struct pos_nm a, struct pos_nm b, struct pos_nm at);
/* Extent of one drawn object, from its contours. */
struct box object_box(const struct drawing *drawing, uint32_t object);

/* ---- which points are near (grid.c): indices of items by place ---- */
struct grid;
struct grid *grid_new(struct box extent, size_t expected_count);
void grid_free(struct grid *grid);
bool grid_add(struct grid *grid, struct pos_nm at, uint32_t item);
/* Next item within the square of half-width reach about at, in the order they were added to each
 * cell; start with *cursor = 0; ISTHMUS_NONE when there is no more. */
uint32_t grid_next(const struct grid *grid, struct pos_nm at, int64_t reach_nm, uint64_t *cursor);

/* ---- what covers a point of a drawing (cover.c) ---- */
struct cover;
struct cover *cover_new(const struct drawing *drawing);
void cover_free(struct cover *cover);
/*
 * Objects that cover the point, in drawing order (at most capacity, the last ones kept); the count.
 */
size_t cover_find(struct cover *cover, struct pos_nm at, uint32_t *objects, size_t capacity);
/* True when the last object that covers the point is dark. */
bool cover_is_dark(struct cover *cover, struct pos_nm at);

/* ---- closed outlines of the profile (profile.c) ---- */
struct loop {
    struct contour contour; /* into profile.segs; counterclockwise seen from above */
    struct box box;
    double area_nm2;
    uint32_t depth, parent; /* nesting; even = edge of a board, odd = cut-out */
    size_t point_count;     /* flat[first_point ..] : its polygon, for point tests */
    struct pos_nm *points;
};
struct profile {
    struct loop *loops;
    size_t loop_count;
    struct seg *segs;
    size_t seg_count;
    struct contour *contours; /* the chosen board: its edge and its cut-outs, turned */
    size_t contour_count;
    bool is_chosen;
    struct grid *edge; /* points along the chosen board's edge, EDGE_STEP_NM apart */
};
#define EDGE_STEP_NM 250000
#define OUTLINE_WIDTH_NM 500000 /* lines no wider than this may be a board's outline */

/* ---- solder-mask openings (masks.c) ---- */
struct opening {
    uint16_t layer; /* copper layer it bares: 1 or layer_count */
    struct box box;
    double area_mm2, length_mm, width_mm; /* the smallest rectangle round it */
    struct contour *contours;
    size_t contour_count;
    struct seg *segs;
    struct pos_nm place;            /* a point inside */
    uint32_t pad_count, hole_count; /* holes that run into each other count once */
    uint32_t hole_group;
    bool is_of_surface_pad; /* fits a pad that is no hole's own */
    bool is_used;           /* fits a pad or a hole, or is a contact itself */
};
struct mask_side {
    bool is_known;
    struct sheet_mesh mesh;
    struct locator *locator;
    uint32_t first_opening; /* opening of component c: first_opening + c */
    uint32_t file_id;
};

/* ---- pads and contacts (pads.c, contacts.c) ---- */
enum answer { ANSWER_OPEN, ANSWER_YES, ANSWER_NO };
struct pad {
    uint16_t layer;
    uint32_t object;
    struct pos_nm centre;
    struct box box;
    enum answer answer;
    enum contact_source source;
    const char *ref, *pin, *function, *net;
    struct source_pos net_at;
    uint32_t hole;    /* it is this hole's own pad, else NONE */
    uint32_t opening; /* its mask opening; NONE: covered, or no mask is known */
    uint32_t draft;   /* its contact, else NONE */
    bool is_flash;
    bool is_mask_defined; /* the opening is smaller: the contact is the opening */
};
enum mark_kind { MARK_PAD, MARK_OPENING, MARK_DISC, MARK_RECTANGLE };
struct mark {
    enum mark_kind kind;
    uint16_t layer;
    uint32_t index;              /* pad or opening */
    struct pos_nm at;            /* disc, rectangle */
    int64_t width_nm, height_nm; /* disc: width = diameter */
    double rotation_rad;
};
struct draft { /* a contact before the meshes say what copper it has */
    struct contact contact;
    const char *net;
    struct source_pos net_at;
    enum contact_source net_source;
    struct mark *marks;
    size_t mark_count, mark_capacity;
    bool is_doubtful; /* a hole that may turn out to be a via */
    bool is_dropped;
    double area_mm2; /* of the layer's copper under its marks */
};
struct hole_note {        /* beside board.holes while building */
    uint32_t *pads;       /* own pad per layer of its span (index layer-1), NONE */
    size_t netlist_point; /* index into build.points, SIZE_MAX = none */
    enum answer answer;
    enum contact_source source;
    uint32_t group; /* holes whose walls meet share a group */
    /* Of that group, as of one slot: */
    struct pos_nm middle;
    int64_t length_nm; /* between the farthest ends of its centre lines */
};
struct named_point { /* a netlist point, shifted onto the drawing */
    const struct netlist_point *point;
    struct pos_nm at;
    uint16_t layer; /* of a surface point: the outer one it lies on; 0: it may be either */
    uint32_t hole;  /* nearest plated hole under it or NONE */
    uint32_t draft;
};

struct build {
    struct file_table *files;
    const struct current_table *table;
    const struct board_options *options;
    struct arena *arena, *scratch;
    struct diag_list *diags;
    struct board *board;
    struct diag_list *file_diags; /* per role entry */
    struct box extent;            /* of copper, profile and holes */
    struct profile profile;
    struct cover **covers;     /* per copper layer; made when first asked for */
    struct mask_side masks[2]; /* top, bottom */
    struct opening *openings;
    size_t opening_count;
    struct pad *pads;
    size_t pad_count, pad_capacity;
    struct grid *pad_grid;               /* by centre */
    struct grid *hole_grid;              /* by middle, plated and not */
    int64_t pad_reach_nm, hole_reach_nm; /* half the largest pad, hole: how far to look */
    struct hole_note *notes;
    struct core_set *cores; /* cores.c */
    struct draft *drafts;
    size_t draft_count, draft_capacity;
    struct named_point *points;
    size_t point_count;
    uint32_t *draft_of_row;
    uint32_t *outline_count;   /* per layer: strokes along the board's edge, taken as no copper */
    uint32_t *first_component; /* per layer: index of its component 0 among all */
    uint32_t *parent;          /* union-find over all components */
    uint32_t *first_of_group;  /* per hole group: a component it touches, or NONE */
    struct locator **locators; /* per layer */
};

enum board_status build_sources(struct build *build); /* contents, drawings, roles, layers */
enum board_status build_facts(struct build *build);   /* job facts into facts */
enum board_status build_holes(struct build *build);   /* drill files into board.holes */
enum board_status build_origin(struct build *build);
enum board_status build_profile(struct build *build);
enum board_status build_job_check(struct build *build); /* once the profile is known */
enum board_status build_alignment(struct build *build); /* edge, copper and holes fit */
enum board_status
build_finish_holes(struct build *build); /* plating, spans, walls, castellations */
enum board_status build_masks(struct build *build);
/* What falls out where the plated holes of a group run all round it (cores.c). */
enum board_status build_cores(struct build *build); /* a part of build_finish_holes() */
bool core_holds(const struct build *build, uint32_t group, struct pos_nm at);
enum mesh_status cores_paint(const struct build *build, struct copper_layer *layer);
void cores_free(struct build *build);
enum board_status build_pads(struct build *build);
enum board_status build_points(struct build *build); /* netlist points onto the drawing */
enum board_status build_contacts(struct build *build);
enum board_status build_meshes(struct build *build);
enum board_status build_conductors(struct build *build);
enum board_status build_settle_contacts(struct build *build);
/* Reads what the steps before settled: the edges that painted objects make. */
enum board_status build_bounds(struct build *build);
enum board_status build_nets(struct build *build);
enum board_status build_terminals(struct build *build);
enum board_status build_bared(struct build *build);
enum board_status build_beyond(struct build *build);
void build_free(struct build *build);

/* Helpers shared by the steps. */
/* What a failed mesh means for the board; says it, with the file. */
enum board_status build_mesh_status(struct build *build, enum mesh_status status, uint32_t file_id);
struct cover *build_cover(struct build *build, uint16_t layer);
bool profile_holds(const struct profile *profile, struct pos_nm at);
/* Does nothing of the box lie on the board? When in doubt, no. */
bool profile_misses(const struct profile *profile, struct box box);
/* Distance from the board's edge where it is at most limit_nm, else more than that. */
double profile_edge_distance_nm(const struct profile *profile, struct pos_nm at, double limit_nm);
/* The wall's cross-section pi (D - t) t, with the length of a slot's straight sides; of a filled
 * hole all of it. */
double hole_wall_mm2(const struct board_facts *facts, const struct hole *hole, bool is_filled);
struct pos_nm hole_middle(const struct hole *hole);
uint32_t build_mask_opening(const struct build *build, uint16_t layer, struct pos_nm at);
uint32_t build_component_at(struct build *build, uint16_t layer, struct pos_nm at);
uint32_t build_conductor_at(struct build *build, uint16_t layer, struct pos_nm at);
struct pt build_centred(const struct build *build, struct pos_nm at);
double tri_area_nm2(const struct cdt *cdt, uint32_t tri);
/* In file coordinates. */
struct pos_nm tri_middle(const struct build *build, const struct cdt *cdt, uint32_t tri);
/* How a pad stands to a hole, 0: about the same centre, 1: nearly, 2: off centre, but the hole lies
 * wholly within a flash of an outer layer; 3: not its pad. */
int pad_rank(const struct build *build, const struct pad *pad, uint32_t hole);
#define PAD_CENTRE_NM 60000 /* the most off centre for rank 1 */
struct draft *build_new_draft(struct build *build, uint32_t *index);
bool draft_add_mark(struct build *build, struct draft *draft, struct mark mark);
/* layer 0: any */
uint32_t build_plated_hole_at(const struct build *build, struct pos_nm at, uint16_t layer);
uint16_t row_layer(const struct build *build, const struct current_row *row); /* 0: not given */

#endif
