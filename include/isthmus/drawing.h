/*
 * What a drawing file holds: objects in drawing order, each as filled contours.
 *
 * Positions are absolute file coordinates in integer nanometres. Contours are closed chains of
 * lines and arcs. A fill is the area where the summed winding of its contours is not zero (an
 * aperture's hole runs the other way round). Within an object later fills lie on earlier ones:
 * a fill that does not add (macro exposure off) erases only what the same object drew before it.
 * An object covers a point when the last of its fills that holds the point adds; the last object
 * that covers a point decides it: dark = copper (on a copper layer), clear = none.
 */
#ifndef ISTHMUS_DRAWING_H
#define ISTHMUS_DRAWING_H

#include "isthmus/base.h"

struct pos_nm {
    int64_t x_nm, y_nm;
};

/* One piece of a contour, from the end of the piece before it (the first: from contour.start). */
struct seg {
    struct pos_nm to;
    int8_t turn;                     /* 0 line, +1 arc counterclockwise, -1 arc clockwise */
    double centre_x_nm, centre_y_nm; /* arcs only; need not be whole nanometres. An arc whose end is
                                        its start is a full circle. Where the radii at the two ends
                                        differ, the radius runs linearly with the angle. */
};
struct contour {
    struct pos_nm start;
    uint32_t first_seg, seg_count; /* the last seg ends at start */
};
struct fill {
    uint32_t first_contour, contour_count;
    bool adds;
};

enum object_kind { OBJECT_STROKE, OBJECT_ARC_STROKE, OBJECT_FLASH, OBJECT_REGION };
struct object {
    enum object_kind kind;
    bool is_dark;
    uint32_t first_fill, fill_count; /* 0 fills: drawn with a zero-size aperture, touches nothing */
    struct pos_nm from, to;          /* stroke: ends; flash: both its point; region: first point */
    int8_t turn;                     /* arc stroke: as in struct seg; else 0 */
    double centre_x_nm, centre_y_nm; /* arc stroke: centre of the path from..to (a full circle when
                                        they are equal) */
    uint32_t aperture;               /* index into drawing.apertures; ISTHMUS_NONE for a region */
    uint32_t attrs;                  /* index into drawing.attrs; 0 = none */
    struct source_pos at; /* the operation that drew it (a block's or step's: in the copy's
                             definition) */
};

/* The attributes attached to an object; equal sets are shared. Item 0 of drawing.attrs is empty. */
struct object_attrs {
    const char *const *nets; /* .N; NULL when absent (unknown) */
    uint32_t net_count;      /* .N with one empty field: is_no_net, net_count 0 */
    bool is_no_net;
    const char *ref, *pin, *pin_function; /* .P; NULL when absent */
    const char *component;                /* .C: a part of which this is copper */
    const char *aperture_function; /* .AperFunction, first field, of the aperture or region */
    const char
        *aperture_function_detail; /* its second field (CuDef, SMDef, PressFit ...) or NULL */
};

enum aperture_kind {
    APERTURE_CIRCLE,
    APERTURE_RECTANGLE,
    APERTURE_OBROUND,
    APERTURE_POLYGON,
    APERTURE_MACRO,
    APERTURE_BLOCK
};
struct aperture {
    int32_t code; /* Dnn */
    enum aperture_kind kind;
    const char *macro_name;      /* APERTURE_MACRO */
    int64_t width_nm, height_nm; /* circle, polygon: both the diameter; macro, block: extent */
    int64_t hole_nm;             /* 0 = none */
    const char *function;        /* .AperFunction's first field or NULL */
    uint32_t flash_count, stroke_count;
    struct source_pos at;
};

/* One field list of a file attribute, e.g. ".FileFunction" {"Copper","L1","Top"}. */
struct file_attr {
    const char *name;
    const char *const *fields;
    uint32_t field_count;
    struct source_pos at;
};

struct drawing {
    struct object *objects;
    size_t object_count;
    struct fill *fills;
    size_t fill_count;
    struct contour *contours;
    size_t contour_count;
    struct seg *segs;
    size_t seg_count;
    struct object_attrs *attrs;
    size_t attrs_count;
    struct aperture *apertures;
    size_t aperture_count;
    struct file_attr *file_attrs;
    size_t file_attr_count;
    uint32_t file_id;
    bool is_inch;
    uint8_t integer_digits, decimal_digits;
    bool is_image_negative; /* deprecated IPNEG: is_dark of every object is already turned round, as
                               the image shows it; the plane under the first object is dark */
    struct pos_nm min, max; /* extent of all contours; min > max when there are none */
    const char *image_name; /* IN or NULL */
};

const struct file_attr *drawing_file_attr(const struct drawing *drawing, const char *name);

/*
 * Reads an RS-274X / Gerber layer file.
 *
 * bytes, size   the file; nothing outside it is touched
 * max_objects   more than this many objects after step-and-repeat and blocks is an error
 * out           lives in arena; filled on every path (empty after an error)
 * errors        DRAWING_REFUSED: at least one DIAG_ERROR says why; DRAWING_NOT_ONE: the bytes are
 *               no drawing at all (no diagnostics); DRAWING_NO_MEMORY
 * source        Gerber Layer Format Specification, revision 2024.05 and before (deprecated parts)
 */
enum drawing_status { DRAWING_OK = 0, DRAWING_REFUSED, DRAWING_NOT_ONE, DRAWING_NO_MEMORY };
enum drawing_status gerber_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                                size_t max_objects, struct arena *arena, struct diag_list *diags,
                                struct drawing *out);
/* True when the bytes look like such a file (format statement, aperture definitions, operations).
 */
bool gerber_looks_like(const uint8_t *bytes, size_t size);

#endif
