/* What is ordered: a zip, a folder or several files, and the role each file plays. */
#ifndef ISTHMUS_PACKAGE_H
#define ISTHMUS_PACKAGE_H

#include "isthmus/base.h"

struct package_limits {
    size_t entry_count;   /* default 2000 */
    unsigned nesting;     /* zips within zips, default 3 */
    uint64_t file_bytes;  /* one unpacked file, default 256 MiB */
    uint64_t total_bytes; /* all unpacked, default 1 GiB */
    unsigned ratio;       /* unpacked : packed, default 200, above 1 MiB unpacked */
};
extern const struct package_limits package_default_limits;

/*
 * Reads every file of the package into memory (nothing is unpacked to disk), in byte order of their
 * names, junk (resource forks, thumbnails, version control) left out with a note.
 *
 * paths    zip files, folders or plain files as the user gave them
 * files    gets the members, is_package set; bytes live in arena
 */
enum package_status { PACKAGE_OK = 0, PACKAGE_REFUSED, PACKAGE_NO_MEMORY };
enum package_status package_read(const char *const *paths, size_t path_count,
                                 const struct package_limits *limits, struct arena *arena,
                                 struct file_table *files, struct diag_list *diags);
/* The same for one zip that is in memory already; bytes must outlive the call only. */
enum package_status package_read_bytes(const char *name, const uint8_t *bytes, size_t size,
                                       const struct package_limits *limits, struct arena *arena,
                                       struct file_table *files, struct diag_list *diags);

enum role {
    ROLE_UNKNOWN,
    ROLE_IGNORE,
    ROLE_COPPER,
    ROLE_MASK_TOP,
    ROLE_MASK_BOTTOM,
    ROLE_PROFILE,
    ROLE_DRILL_PLATED,
    ROLE_DRILL_NONPLATED,
    ROLE_DRILL_MIXED, /* mixed: plated or not per hole */
    ROLE_NETLIST,
    ROLE_JOB,
    ROLE_OTHER /* legend, paste, drawings, documents: read and set aside */
};
enum copper_side { SIDE_TOP, SIDE_INNER, SIDE_BOTTOM };
enum content { CONTENT_OTHER, CONTENT_DRAWING, CONTENT_DRILL, CONTENT_NETLIST, CONTENT_JOB };

struct file_role {
    uint32_t file_id;
    enum content content;
    enum role role;
    enum copper_side side;       /* ROLE_COPPER */
    uint16_t position;           /* ROLE_COPPER: 1 = top ... copper_count = bottom */
    bool is_negative;            /* ROLE_COPPER: plotted as its negative (FilePolarity,Negative) */
    uint16_t span_from, span_to; /* drills: copper layers; 0,0 = all */
    const char *why; /* "attribute .FileFunction", "job file", "name ending .gtl", "--role" ... */
};

/* What a file says of itself, gathered by the parsers before roles are decided. */
struct file_hint {
    uint32_t file_id;
    enum content content;
    const char *const *file_function; /* fields of .FileFunction, NULL = none */
    uint32_t file_function_count;
    const char *file_polarity; /* "Positive", "Negative" or NULL */
    /* drawings: what it holds, to decide by content */
    size_t flash_count, stroke_count, region_count;
    bool are_flashes_lonely; /* no stroke ends on any: not as pads with tracks are */
    bool has_thermals;       /* dark flashes in pieces round a bare middle: a plane's gaps */
    bool is_wide_text;       /* text of two bytes a character */
    bool is_refused;         /* the drawing could not be read: the counts say nothing */
    uint32_t same_as;        /* an earlier file of the very same bytes, 0: there is none */
    const char *image_name;  /* the drawing's own title (IN) or NULL */
};

/*
 * --role FILE=ROLE. FILE: the name as shown, its last part, or a tail that only one file has.
 * ROLE: top, bottom, inner:N (these may add ",negative" or ",positive"), plated, nonplated (these
 * may add ":1-4", the layers their holes join), profile, mask-top, mask-bottom, ignore.
 */
struct role_option {
    const char *file, *role;
};

/* Board facts a job file states; NAN or 0 where it is silent. */
struct job_facts {
    uint32_t file_id; /* 0: there is no job file */
    double board_thickness_mm, size_x_mm, size_y_mm;
    uint16_t layer_count;
    const char *finish;
    double *copper_um;
    size_t copper_count;   /* per copper layer from the top, NAN = not stated */
    double *dielectric_mm; /* per copper layer: what lies below it in sum, NAN = not stated */
    struct job_file_entry {
        const char *path;
        const char *const *file_function;
        uint32_t file_function_count;
        const char *polarity;
    } * entries;
    size_t entry_count;
};
enum package_status job_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                             struct arena *arena, struct diag_list *diags, struct job_facts *out);
bool job_looks_like(const uint8_t *bytes, size_t size);

/*
 * Decides every file's role: option, attribute, job file, name, content, in that order.
 *
 * out     one entry a hint, in the same order, in arena
 * errors  PACKAGE_REFUSED: inner layers that cannot be ordered, two files for one layer, a --role
 * that names no file, no copper at all: diagnostics name the files and the option to give
 */
enum package_status roles_decide(const struct file_table *files, const struct file_hint *hints,
                                 size_t hint_count, const struct job_facts *job,
                                 const struct role_option *options, size_t option_count,
                                 struct arena *arena, struct diag_list *diags,
                                 struct file_role *out);

#endif
