/* What the three files that decide roles share: claims, and the words of a file's name. */
#ifndef ROLES_PRIVATE_H
#define ROLES_PRIVATE_H

#include "isthmus/package.h"

/* How a copper layer's number counts. */
enum layer_scheme {
    SCHEME_NONE,     /* no number */
    SCHEME_POSITION, /* 1 = top; certain */
    SCHEME_INNER,    /* 1 = first inner layer; certain */
    SCHEME_OPEN_INNER /* a number of an inner layer: which count it is, the complete set tells */,
    SCHEME_OPEN_ANY /* the same, but it may be an outer layer too ("L1") */
};

/* What one source (option, attribute, job file, name ...) says of one file. */
struct role_claim {
    enum role role; /* ROLE_UNKNOWN: nothing */
    enum copper_side side;
    bool is_side_known; /* ROLE_COPPER: false for a number that may be any layer */
    enum layer_scheme scheme;
    uint16_t number;
    /* profile: only if nothing better claims it; plane: perhaps; outer copper: "XYTop" alone */
    bool is_weak;
    bool may_be_holes;      /* a drawing that shows holes, or perhaps only a plan of them */
    bool is_cut;            /* a drawing of slots, mills or cut-outs: copper is not where it lies */
    bool is_polarity_asked; /* a name that by convention may mean a plane plotted negative */
    bool has_polarity, is_negative;
    bool is_contradiction; /* ending and words of the name say different sides */
    uint16_t span_from, span_to;
    const char *why;
};

/* ---- role_words.c: names ---- */

enum word_flag {
    W_TOP = 1 << 0,
    W_BOTTOM = 1 << 1,
    W_INNER = 1 << 2,
    W_COPPER = 1 << 3,
    W_PLANE = 1 << 4,
    W_LAYER = 1 << 5,
    W_MASK = 1 << 6,
    W_PASTE = 1 << 7,
    W_LEGEND = 1 << 8,
    W_DOC = 1 << 9,
    W_PROFILE = 1 << 10,
    W_WEAK_PROFILE = 1 << 11,
    W_DRILL = 1 << 12,
    W_PLATED = 1 << 13,
    W_NONPLATED = 1 << 14,
    W_NON = 1 << 15,
    W_COMPONENT = 1 << 16,
    W_SOLDER = 1 << 17,
    W_SIDE = 1 << 18,
    W_PART_SPAN = 1 << 19, /* blind, buried */
    W_NEUTRAL = 1 << 20,
    W_IN = 1 << 21,          /* "in": inner only before a number */
    W_LETTER = 1 << 22,      /* "f", "b": a side only before a kind of layer */
    W_COUNTED = 1 << 23,     /* a number behind it counts inner layers */
    W_ABBREVIATED = 1 << 24, /* "sm": a mask only before a side */
    W_CUT = 1 << 26,         /* what is cut out of the board */
    W_FOREIGN = 1 << 25,     /* of another language: means a layer only where all words are known */
};

#define NAME_WORDS_MAX 48
#define NAME_WORD_BYTES 32
struct name_words {
    struct name_word {
        char text[NAME_WORD_BYTES]; /* lower case; digits and letters are words of their own */
        uint32_t flags;             /* what a known word speaks of; 0 = unknown */
        bool is_number;
        uint32_t number;
    } words[NAME_WORDS_MAX];
    size_t count;
    char ending[16]; /* lower case, without the dot; "" if none or not one of a known kind */
};

/* ---- role_language.c: the trade's words in other languages ---- */

/* 0: not one of them. text is lower case, without accents. */
uint32_t language_word_flags(const char *text, size_t length);
/* Letters with accents become plain ones; the length of what is in out. */
size_t language_fold(const char *text, size_t length, char *out, size_t capacity);

void name_words_split(const char *name, struct name_words *out);
/* The same for a free text such as an image name: no ending. */
void text_words_split(const char *text, struct name_words *out);
/* Of an ending alone ("gtl"). */
struct role_claim claim_by_ending(const char *ending);
/* Of the words from `first` on. */
struct role_claim claim_by_words(const struct name_words *name, size_t first);
/* Whether the name speaks of a plane ("GND", ".gp1"). */
bool names_plane(const struct name_words *name, size_t first);
/* Whether the name speaks of copper, and of nothing that is no copper layer. */
bool names_copper(const struct name_words *name, size_t first);
/* Of a drill file's name: plating and span. */
struct role_claim drill_claim_by_words(const struct name_words *name, size_t first);
/* How many leading words all names share (the project's name): 0 unless leaving them out takes no
 * name its claim. */
size_t shared_words(const struct name_words *names, size_t count);
/* True for endings that only a drill file carries. */
bool is_drill_ending(const char *ending);
bool is_netlist_ending(const char *ending);
/* True for endings that every layer of a board may carry (".gbr"). */
bool is_drawing_ending(const char *ending);

/* ---- role_order.c: copper layers ---- */

struct copper_file {
    struct file_role *out;
    struct role_claim claim;
    const char *shown; /* as --role takes it, shell-quoted where needed */
};
struct copper_set {
    struct copper_file *files;
    size_t count;
    uint16_t total;        /* number of copper layers that some file states, 0 = none does */
    const char *total_why; /* who states it */
    const char *unknown;   /* a drawing that nothing gives a role, as --role takes it, or NULL */
};
/* Gives each copper file side and position; PACKAGE_REFUSED with diagnostics if it cannot. */
enum package_status order_copper(struct copper_set *set, struct arena *arena,
                                 struct diag_list *diags);

#endif
