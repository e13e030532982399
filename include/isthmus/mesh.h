/*
 * From painted contours to what is copper: exact, on integer nanometres.
 *
 * Coordinates here are int32 nanometres about the package's centre; every |x|, |y| < 2^29, so that
 * differences stay below 2^30: orientation fits int64_t, in-circle fits __int128 (DEVELOPERS.md).
 */
#ifndef ISTHMUS_MESH_H
#define ISTHMUS_MESH_H

#include "isthmus/drawing.h"

struct pt {
    int32_t x, y;
};
#define MESH_COORD_LIMIT (INT32_C(1) << 29)

enum mesh_status {
    MESH_OK = 0,
    MESH_NO_MEMORY,
    MESH_TOO_LARGE /* coordinate beyond the limit */,
    MESH_BUG /* an invariant failed: a crossing met during insertion ... */
};

/* ---- exact predicates (src/geometry/predicates.c; nobody else writes a cross product) ---- */
int orient(struct pt a, struct pt b, struct pt c);                 /* > 0: counterclockwise */
int in_circle(struct pt a, struct pt b, struct pt c, struct pt d); /* > 0: d inside ccw abc */
int64_t dot(struct pt a, struct pt b, struct pt c);                /* (b-a).(c-a) */
int64_t distance2(struct pt a, struct pt b);                       /* squared, nm^2 */

/* ---- constrained Delaunay triangulation ---- */
struct cdt_edge {
    struct pt a, b;
    uint32_t tag; /* the caller's; kept per mesh edge (one of them where edges coincide) */
};
/*
 * Triangulates the convex hull of all edges' ends (plus a far enclosing frame when asked).
 * Edges must not cross except at common end points: the output of snap_round() is so. (An edge that
 * passes exactly through another's end point becomes two, both with its index.) Ends that all lie
 * on one line, without a frame: points, but no triangles. With a frame its corners, at +-2^29, are
 * the last four points.
 *
 * corner[t]     three point indices, counterclockwise
 * neighbour[t]  across the edge OPPOSITE corner i (corner i+1 -> i+2); ISTHMUS_NONE outside the
 * hull chain[t]      index of the constraint (into the input edges) on that edge, or ISTHMUS_NONE.
 *               Of coinciding constraints, the one with the smallest index.
 */
struct cdt {
    struct pt *points;
    uint32_t point_count;
    uint32_t (*corner)[3], (*neighbour)[3], (*chain)[3];
    uint32_t tri_count;
};
enum mesh_status cdt_build(const struct cdt_edge *edges, size_t edge_count, bool with_frame,
                           struct cdt *out); /* malloc'ed; cdt_free */
void cdt_free(struct cdt *mesh);
bool cdt_check(const struct cdt *mesh, const char **why); /* walks every invariant; for tests */

/*
 * Snap rounding (two passes, hot pixels of all ends and crossings; Hobby 1999): source edges in,
 * non-crossing pieces out. piece.tag = index of the source edge; pieces run in the source's
 * direction; zero-length ones are dropped. No piece strays more than 0.7072 nm from its source.
 */
struct snap_result {
    struct cdt_edge *pieces;
    size_t piece_count; /* malloc'ed; free(pieces) */
    size_t crossing_count;
};
enum mesh_status snap_round(const struct cdt_edge *edges, size_t edge_count,
                            struct snap_result *out);

/* ---- painting ---- */
/* The true curve behind a flattened edge. */
struct curve {
    int8_t turn;                       /* 0 line */
    double centre_x, centre_y, radius; /* nm, centred coordinates */
};
enum paint_effect {
    PAINT_DARK,  /* becomes copper */
    PAINT_CLEAR, /* becomes bare */
    PAINT_MARK   /* changes nothing; names a part of the copper (a contact) */
};
struct paint_edge {
    struct pt a, b;
    uint32_t curve;
}; /* curve: index into curves */
struct paint_fill {
    uint32_t first_edge, edge_count;
    bool adds;
};
struct paint_object {
    enum paint_effect effect;
    uint32_t owner; /* the caller's: drawn object index, hole index, contact index ... */
    uint32_t kind;  /* the caller's: what owner indexes */
    uint32_t first_fill, fill_count;
    uint32_t alike; /* objects with the same number bear the same names: each may show for another
                       that it touches; ISTHMUS_NONE: none may */
};
/* What kind of edge a painted object makes where it bounds copper, or parts it. */
enum bound_kind {
    BOUND_ETCHED, /* copper ends here because it was not drawn: loses the etch loss */
    BOUND_CUT,    /* cut by a non-plated hole, a rout or the board's profile */
    BOUND_RIM,    /* the rim of a plated hole */
    BOUND_CONTACT /* outline of a contact inside copper */
};
/* One copper layer's paint, in drawing order: everything that decides what is copper there. */
struct paint {
    struct paint_object *objects;
    size_t object_count, object_capacity;
    struct paint_fill *fills;
    size_t fill_count, fill_capacity;
    struct paint_edge *edges;
    size_t edge_count, edge_capacity;
    struct curve *curves;
    size_t curve_count, curve_capacity;
    struct pos_nm origin;  /* file coordinates of (0,0) */
    double chord_error_nm; /* > 0; default 500 */
};
void paint_init(struct paint *paint, struct pos_nm origin, double chord_error_nm);
void paint_free(struct paint *paint);
/* Once the mesh is built its bounds only name objects and curves: the rest, by far the most of it,
 * may go. */
void paint_drop_outlines(struct paint *paint);
/*
 * Adds one object. Arcs are flattened so that copper is never over-measured: vertices on the curve
 * where the painted area lies inside it and the effect is DARK; tangent chords (vertices outside)
 * where it lies outside (an aperture's hole, a concave arc); the other way round for CLEAR. MARK:
 * as DARK. with invert: the object's effect is swapped by the caller AND the cautious side stays
 * with copper.
 */
enum mesh_status paint_add_drawn(struct paint *paint, const struct drawing *drawing,
                                 uint32_t object, enum paint_effect effect, uint32_t owner,
                                 uint32_t kind);
/* A round hole or straight slot of the given diameter. */
enum mesh_status paint_add_slot(struct paint *paint, struct pos_nm from, struct pos_nm to,
                                int64_t diameter_nm, enum paint_effect effect, uint32_t owner,
                                uint32_t kind);
/* Plain closed contours (drawing.contours[first .. first+count)) as one fill, nonzero winding;
 * outside = true paints the complement instead (within the coordinate range). */
enum mesh_status paint_add_contours(struct paint *paint, const struct contour *contours,
                                    size_t contour_count, const struct seg *segs, bool outside,
                                    enum paint_effect effect, uint32_t owner, uint32_t kind);

/* ---- the boundary mesh of a layer ---- */
/*
 * What is copper, as a triangulation whose constraint edges are: copper against bare, and the
 * outlines of marks within copper. Nothing else of the paint is left in it.
 */
struct sheet_mesh {
    struct cdt cdt; /* chain[][]: index into bounds */
    struct sheet_bound {
        uint32_t object; /* paint object whose outline this is */
        uint32_t curve;  /* its true curve */
    } * bounds;
    uint32_t bound_count;
    uint32_t *component; /* per triangle: copper island of this layer, NONE = bare */
    uint32_t *mark;      /* per triangle: paint object of the last mark on it, or NONE */
    uint32_t component_count;
    double *component_area_mm2;
    /* Which dark objects show in which island (topmost there): sorted by component, then object. */
    struct sheet_show {
        uint32_t component, object;
    } * shows;
    size_t show_count;
    /* closed gaps (below): per component */
    uint32_t *closed_gap_count;
    /* statistics; image: all outlines but for those that trimming left out */
    size_t source_edge_count, image_vertex_count, crossing_count;
    double drift_nm; /* largest distance of a piece from its source edge, as asserted */
};
/*
 * gap_close_nm: bare gaps narrower than this between copper edges whose objects may_join (NULL:
 * any) are filled; 0 = none. may_join gets the two paint objects on either side.
 */
enum mesh_status sheet_mesh_build(const struct paint *paint, double gap_close_nm,
                                  bool (*may_join)(uint32_t object_a, uint32_t object_b,
                                                   void *context),
                                  void *context, struct sheet_mesh *out);
void sheet_mesh_free(struct sheet_mesh *mesh);
bool sheet_mesh_check(const struct sheet_mesh *mesh, const char **why);

/*
 * The copper triangles of a mesh by island: tris[first[c] .. first[c + 1]), ascending. Reading one
 * island then costs what it holds, not what its layer does.
 */
struct sheet_islands {
    uint32_t *first, *tris; /* malloc'ed; sheet_islands_free */
};
enum mesh_status sheet_islands_list(const struct sheet_mesh *mesh, struct sheet_islands *out);
void sheet_islands_free(struct sheet_islands *islands);

/* Triangle that holds a point (any of them on an edge), ISTHMUS_NONE outside. */
struct locator;
struct locator *locator_new(const struct cdt *mesh);
uint32_t locator_find(const struct locator *locator, struct pt at);
void locator_free(struct locator *locator);

/*
 * Where the triangles of one mesh lie over those of another: note() gets each pair with the area
 * that they share (0 for it is not told).
 *
 * is_laid  the triangles of over that are asked about
 * locator  of under, which has the frame
 * errors   MESH_NO_MEMORY, also when note() returned false
 */
typedef bool (*sheet_overlap_fn)(uint32_t over, uint32_t under, double area_nm2, void *context);
enum mesh_status sheet_overlaps(const struct cdt *over,
                                bool (*is_laid)(uint32_t tri, void *context),
                                const struct cdt *under, const struct locator *locator,
                                sheet_overlap_fn note, void *context);
/* Of two triangles, both counterclockwise. */
double tri_overlap_nm2(const struct pt a[3], const struct pt b[3]);

/* ---- where parts of copper come nearest to each other ---- */
struct part_edge {
    struct pt a, b;
    uint32_t part;
    uint16_t layer;
};
struct part_gap {
    struct pt from, to; /* on the outlines of part_from and part_to */
    uint32_t part_from, part_to;
    size_t edge_from, edge_to;     /* whose outlines they are */
    uint16_t layer_from, layer_to; /* differ only where two groups of parts share no layer */
    double length_nm;              /* seen from above */
};
/*
 * The shortest gaps that together would join all parts: a minimum spanning tree of them, shortest
 * first. Parts number 0 .. part_count - 1; one without an edge is left out.
 *
 * out     room for part_count - 1
 * errors  MESH_NO_MEMORY
 * source  Boruvka 1926, from memory
 */
enum mesh_status part_gaps(const struct part_edge *edges, size_t edge_count, uint32_t part_count,
                           struct part_gap *out, size_t *out_count);

#endif
