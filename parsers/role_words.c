/*
 * What a file's name says about its role: trade conventions of endings and words, in any case.
 * Common practice, no source; where boards use one ending in two ways the claim stays open and the
 * complete set of files decides (role_order.c).
 */
#include "roles_private.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

#define W_KIND (W_COPPER | W_MASK | W_PASTE | W_LEGEND | W_DOC)

static const struct {
    const char *word;
    uint32_t flags;
} vocabulary[] = {
    {"top", W_TOP},
    {"front", W_TOP},
    {"bottom", W_BOTTOM},
    {"bot", W_BOTTOM},
    {"btm", W_BOTTOM},
    {"back", W_BOTTOM},
    {"f", W_LETTER | W_TOP},
    {"b", W_LETTER | W_BOTTOM},
    {"inner", W_INNER},
    {"inr", W_INNER},
    {"internal", W_INNER},
    {"int", W_INNER},
    {"mid", W_INNER},
    {"in", W_IN},
    {"copper", W_COPPER},
    {"cu", W_COPPER},
    {"etch", W_COPPER},
    {"conductor", W_COPPER},
    {"signal", W_COPPER},
    {"sig", W_COPPER},
    {"tracks", W_COPPER},
    {"traces", W_COPPER},
    {"plane", W_PLANE | W_COUNTED},
    {"planes", W_PLANE},
    {"powerplane", W_PLANE},
    {"gnd", W_PLANE},
    {"ground", W_PLANE},
    {"pwr", W_PLANE},
    {"power", W_PLANE},
    {"vcc", W_PLANE},
    {"vdd", W_PLANE},
    {"vss", W_PLANE},
    {"tcu", W_TOP | W_COPPER},
    {"bcu", W_BOTTOM | W_COPPER},
    {"gtl", W_TOP | W_COPPER},
    {"gbl", W_BOTTOM | W_COPPER},
    {"gts", W_MASK | W_TOP},
    {"gbs", W_MASK | W_BOTTOM},
    {"gto", W_LEGEND},
    {"gbo", W_LEGEND},
    {"gtp", W_PASTE},
    {"gbp", W_PASTE},
    {"gko", W_PROFILE},
    {"layer", W_LAYER},
    {"layers", W_LAYER},
    {"lay", W_LAYER},
    {"lyr", W_LAYER},
    {"ly", W_LAYER},
    {"l", W_LAYER},
    {"art", W_LAYER},
    {"mask", W_MASK},
    {"smask", W_MASK},
    {"resist", W_MASK},
    {"stop", W_MASK},
    {"sm", W_ABBREVIATED | W_MASK},
    {"smt", W_MASK | W_TOP},
    {"smb", W_MASK | W_BOTTOM},
    {"smtop", W_MASK | W_TOP},
    {"smbot", W_MASK | W_BOTTOM},
    {"smbottom", W_MASK | W_BOTTOM},
    {"tmask", W_MASK | W_TOP},
    {"bmask", W_MASK | W_BOTTOM},
    {"tstop", W_MASK | W_TOP},
    {"bstop", W_MASK | W_BOTTOM},
    {"tsm", W_MASK | W_TOP},
    {"bsm", W_MASK | W_BOTTOM},
    {"paste", W_PASTE},
    {"past", W_PASTE},
    {"spaste", W_PASTE},
    {"cream", W_PASTE},
    {"stencil", W_PASTE},
    {"spt", W_PASTE},
    {"spb", W_PASTE},
    {"sp", W_ABBREVIATED | W_PASTE},
    {"tcream", W_PASTE},
    {"bcream", W_PASTE},
    {"tpaste", W_PASTE},
    {"bpaste", W_PASTE},
    {"pasttop", W_PASTE},
    {"pastbot", W_PASTE},
    {"silkscreen", W_LEGEND},
    {"silk", W_LEGEND},
    {"silks", W_LEGEND},
    {"screen", W_LEGEND},
    {"legend", W_LEGEND},
    {"overlay", W_LEGEND},
    {"nomenclature", W_LEGEND},
    {"ident", W_LEGEND},
    {"sst", W_LEGEND},
    {"ssb", W_LEGEND},
    {"ss", W_ABBREVIATED | W_LEGEND},
    {"sstop", W_LEGEND},
    {"ssbot", W_LEGEND},
    {"tsilk", W_LEGEND},
    {"bsilk", W_LEGEND},
    {"tplace", W_LEGEND},
    {"bplace", W_LEGEND},
    {"assembly", W_DOC},
    {"assem", W_DOC},
    {"assy", W_DOC},
    {"asm", W_DOC},
    {"ast", W_DOC},
    {"asb", W_DOC},
    {"fab", W_DOC},
    {"fabrication", W_DOC},
    {"drawing", W_DOC},
    {"drawings", W_DOC},
    {"dwg", W_DOC},
    {"dwgs", W_DOC},
    {"map", W_DOC},
    {"guide", W_DOC},
    {"doc", W_DOC},
    {"docs", W_DOC},
    {"document", W_DOC},
    {"documentation", W_DOC},
    {"user", W_DOC},
    {"comment", W_DOC},
    {"comments", W_DOC},
    {"cmts", W_DOC},
    {"eco", W_DOC},
    {"margin", W_DOC},
    {"courtyard", W_DOC},
    {"crtyd", W_DOC},
    {"adhesive", W_DOC},
    {"adhes", W_DOC},
    {"glue", W_DOC},
    {"note", W_DOC},
    {"notes", W_DOC},
    {"placement", W_DOC},
    {"report", W_DOC},
    {"readme", W_DOC},
    {"param", W_DOC},
    {"stackup", W_DOC},
    {"stiffener", W_DOC},
    {"carbon", W_DOC},
    {"peelable", W_DOC},
    {"vcut", W_DOC},
    {"vscore", W_DOC},
    {"outline", W_PROFILE},
    {"outlines", W_PROFILE},
    {"profile", W_PROFILE},
    {"contour", W_PROFILE},
    {"edge", W_PROFILE},
    {"edges", W_PROFILE},
    {"cuts", W_NEUTRAL},
    {"border", W_PROFILE},
    {"perimeter", W_PROFILE},
    {"boundary", W_PROFILE},
    {"shape", W_NEUTRAL},
    {"oln", W_PROFILE},
    {"dimension", W_WEAK_PROFILE},
    {"dimensions", W_WEAK_PROFILE},
    {"mechanical", W_WEAK_PROFILE},
    {"mech", W_WEAK_PROFILE},
    {"keepout", W_WEAK_PROFILE},
    {"keep", W_WEAK_PROFILE},
    {"out", W_NEUTRAL},
    {"route", W_CUT | W_WEAK_PROFILE},
    {"rout", W_CUT | W_WEAK_PROFILE},
    {"milling", W_CUT | W_WEAK_PROFILE},
    {"mill", W_CUT | W_WEAK_PROFILE},
    {"cutout", W_CUT | W_WEAK_PROFILE},
    {"cutouts", W_CUT | W_WEAK_PROFILE},
    {"slot", W_CUT | W_DRILL},
    {"slots", W_CUT | W_DRILL},
    {"drill", W_DRILL},
    {"drills", W_DRILL},
    {"drl", W_DRILL},
    {"hole", W_DRILL},
    {"holes", W_DRILL},
    {"nc", W_DRILL},
    {"pth", W_PLATED},
    {"plated", W_PLATED},
    {"via", W_PLATED},
    {"vias", W_PLATED},
    {"npth", W_NONPLATED},
    {"nonplated", W_NONPLATED},
    {"unplated", W_NONPLATED},
    {"nplated", W_NONPLATED},
    {"non", W_NON},
    {"un", W_NON},
    {"blind", W_PART_SPAN},
    {"buried", W_PART_SPAN},
    {"microvia", W_PART_SPAN | W_PLATED},
    {"microvias", W_PART_SPAN | W_PLATED},
    {"uvia", W_PART_SPAN | W_PLATED},
    {"uvias", W_PART_SPAN | W_PLATED},
    {"component", W_COMPONENT},
    {"comp", W_COMPONENT},
    {"primary", W_COMPONENT},
    {"solder", W_SOLDER},
    {"secondary", W_SOLDER},
    {"side", W_SIDE},
    {"board", W_NEUTRAL},
    {"pcb", W_NEUTRAL},
    {"gerber", W_NEUTRAL},
    {"film", W_NEUTRAL},
    {"through", W_NEUTRAL},
    {"data", W_NEUTRAL},
};
#define VOCABULARY_COUNT (sizeof vocabulary / sizeof *vocabulary)

/* ---- splitting ---- */

static uint32_t word_flags(const char *text, size_t length)
{
    for (size_t i = 0; i < VOCABULARY_COUNT; i++)
        if (strlen(vocabulary[i].word) == length && memcmp(vocabulary[i].word, text, length) == 0)
            return vocabulary[i].flags;
    return language_word_flags(text, length);
}

static void add_word(struct name_words *out, const char *text, size_t length)
{
    if (out->count == NAME_WORDS_MAX || length == 0)
        return;
    struct name_word *word = &out->words[out->count++];
    size_t kept = length < NAME_WORD_BYTES ? length : NAME_WORD_BYTES - 1;
    memcpy(word->text, text, kept);
    word->is_number = isdigit((unsigned char)text[0]);
    if (word->is_number)
        word->number = length <= 6 ? (uint32_t)strtoul(word->text, NULL, 10) : UINT32_MAX;
    else
        word->flags = word_flags(text, length);
}

/* Short words hide in any text ("in", "bot"), so only longer ones, and "cu" at the end, may make up
 * a compound. */
static bool may_be_part(const char *text, size_t part, size_t length)
{
    return (part >= 3 && word_flags(text, part)) ||
           (part == 2 && part == length && memcmp(text, "cu", 2) == 0);
}

#define COMPOUND_PARTS_MAX 6

/* Lengths of the known words that together cover the whole text; 0 if there are none such. */
static size_t find_parts(const char *text, size_t length, size_t *parts, size_t most)
{
    if (most == 0)
        return 0;
    for (size_t part = length; part >= 2; part--) {
        if (!may_be_part(text, part, length))
            continue;
        size_t rest =
            part == length ? 0 : find_parts(text + part, length - part, parts + 1, most - 1);
        if (rest == 0 && part < length)
            continue;
        parts[0] = part;
        return rest + 1;
    }
    return 0;
}

/* "topsoldermask" is three words; a text that known words do not cover stays one unknown word. */
static void add_compound(struct name_words *out, const char *text, size_t length)
{
    size_t parts[COMPOUND_PARTS_MAX];
    size_t part_count = word_flags(text, length) || length >= NAME_WORD_BYTES
                            ? 0
                            : find_parts(text, length, parts, COMPOUND_PARTS_MAX);
    if (part_count == 0)
        add_word(out, text, length);
    for (size_t i = 0; i < part_count; i++) {
        add_word(out, text, parts[i]);
        text += parts[i];
    }
}

enum letter_kind { LETTER_OTHER, LETTER_LOWER, LETTER_UPPER, LETTER_DIGIT };
static enum letter_kind letter_kind(char c)
{
    unsigned char byte = (unsigned char)c;
    if (byte >= 0x80 || islower(byte))
        return LETTER_LOWER;
    return isupper(byte) ? LETTER_UPPER : isdigit(byte) ? LETTER_DIGIT : LETTER_OTHER;
}

/* Whether a word starts at text[at], where text[at - 1] belongs to one too: "TopLayer", "In1",
 * "PCBTop". */
static bool is_word_start(const char *text, size_t at, size_t length)
{
    enum letter_kind before = letter_kind(text[at - 1]), here = letter_kind(text[at]);
    if ((before == LETTER_DIGIT) != (here == LETTER_DIGIT))
        return true;
    if (before == LETTER_LOWER && here == LETTER_UPPER)
        return true;
    return before == LETTER_UPPER && here == LETTER_UPPER && at + 1 < length &&
           letter_kind(text[at + 1]) == LETTER_LOWER;
}

static void split(const char *written, size_t written_length, struct name_words *out)
{
    char text[256], lower[256];
    size_t start = 0, length = language_fold(written, written_length, text, sizeof text);
    for (size_t i = 0; i < length; i++)
        lower[i] = (char)tolower((unsigned char)text[i]);
    for (size_t at = 0; at <= length; at++) {
        bool is_end = at == length || letter_kind(text[at]) == LETTER_OTHER;
        bool is_start = !is_end && at > start && is_word_start(text, at, length);
        if (!is_end && !is_start)
            continue;
        if (at > start)
            add_compound(out, lower + start, at - start);
        start = is_start ? at : at + 1;
    }
}

void text_words_split(const char *text, struct name_words *out)
{
    *out = (struct name_words){0};
    split(text, strlen(text), out);
}

/* ---- endings ---- */

static const struct {
    const char *endings; /* blank-separated */
    struct role_claim claim;
} ending_table[] = {
    {"gtl cmp top", {.role = ROLE_COPPER, .side = SIDE_TOP, .is_side_known = true}},
    {"gbl sol bot", {.role = ROLE_COPPER, .side = SIDE_BOTTOM, .is_side_known = true}},
    {"gts stc smt tsm", {.role = ROLE_MASK_TOP}},
    {"gbs sts smb bsm", {.role = ROLE_MASK_BOTTOM}},
    {"oln gml gmb", {.role = ROLE_PROFILE}},
    {"gko", {.role = ROLE_PROFILE, .is_weak = true, .number = 1}},
    {"gm1", {.role = ROLE_PROFILE, .is_weak = true, .number = 2}},
    {"gm bor dim", {.role = ROLE_PROFILE, .is_weak = true, .number = 3}},
    {"mil", {.role = ROLE_PROFILE, .is_weak = true, .is_cut = true, .number = 3}},
    {"gto gbo gtp gbp gta gba gpt gpb gdl gdd gdg plc pls crc crs sst ssb spt spb ast asb fab "
     "tsp bsp gvc",
     {.role = ROLE_OTHER}},
};
/* Endings that say "a drawing" or "a drill file" and nothing more. */
static const char drawing_endings[] = "gbr ger gerber art pho gb gbx gdo grb";
static const char neutral_endings[] = "drl xln exc txt tap nc drd ncd rou ipc d356 356 net gbrjob "
                                      "zip pdf rpt ps";

static bool is_listed(const char *list, const char *word)
{
    size_t length = strlen(word);
    for (const char *at = list; *at;) {
        size_t item = strcspn(at, " ");
        if (item == length && memcmp(at, word, length) == 0)
            return length > 0;
        at += item + (at[item] == ' ');
    }
    return false;
}

bool is_drill_ending(const char *ending)
{
    return is_listed("drl xln exc drd ncd", ending);
}

bool is_drawing_ending(const char *ending)
{
    return is_listed(drawing_endings, ending);
}

bool is_netlist_ending(const char *ending)
{
    return is_listed("ipc d356 356", ending);
}

/* prefix N suffix, N in 1..64; 0 if the ending has another form. */
static uint16_t numbered(const char *ending, const char *prefix, const char *suffix)
{
    size_t skip = strlen(prefix);
    if (strncmp(ending, prefix, skip) != 0 || !isdigit((unsigned char)ending[skip]))
        return 0;
    char *end;
    unsigned long number = strtoul(ending + skip, &end, 10);
    return strcmp(end, suffix) == 0 && number >= 1 && number <= 64 ? (uint16_t)number : 0;
}

static struct role_claim claim_by_numbered_ending(const char *ending)
{
    static const struct {
        const char *prefix, *suffix;
        enum layer_scheme scheme;
        bool is_polarity_asked;
    } forms[] = {
        {"g", "", SCHEME_OPEN_INNER, false},   {"gp", "", SCHEME_OPEN_INNER, true},
        {"gi", "", SCHEME_OPEN_INNER, false},  {"in", "", SCHEME_OPEN_INNER, false},
        {"inn", "", SCHEME_OPEN_INNER, false}, {"g", "l", SCHEME_OPEN_ANY, false},
        {"gl", "", SCHEME_OPEN_ANY, false},    {"l", "", SCHEME_OPEN_ANY, false},
        {"ly", "", SCHEME_OPEN_ANY, false},    {"lay", "", SCHEME_OPEN_ANY, false},
    };
    for (size_t i = 0; i < sizeof forms / sizeof *forms; i++) {
        uint16_t number = numbered(ending, forms[i].prefix, forms[i].suffix);
        if (number)
            return (struct role_claim){.role = ROLE_COPPER,
                                       .side = SIDE_INNER,
                                       .is_side_known = forms[i].scheme == SCHEME_OPEN_INNER,
                                       .scheme = forms[i].scheme,
                                       .number = number,
                                       .is_polarity_asked = forms[i].is_polarity_asked};
    }
    if (numbered(ending, "gm", "") || numbered(ending, "gd", "") || numbered(ending, "gg", ""))
        return (struct role_claim){.role = ROLE_OTHER};
    return (struct role_claim){0};
}

struct role_claim claim_by_ending(const char *ending)
{
    for (size_t i = 0; i < sizeof ending_table / sizeof *ending_table; i++)
        if (is_listed(ending_table[i].endings, ending))
            return ending_table[i].claim;
    return claim_by_numbered_ending(ending);
}

static bool is_known_ending(const char *ending)
{
    return is_listed(drawing_endings, ending) || is_listed(neutral_endings, ending) ||
           claim_by_ending(ending).role != ROLE_UNKNOWN;
}

void name_words_split(const char *name, struct name_words *out)
{
    *out = (struct name_words){0};
    const char *last = strrchr(name, '/');
    if (last)
        name = last + 1;
    const char *dot = strrchr(name, '.');
    size_t stem = strlen(name);
    if (dot && dot[1] && strlen(dot + 1) < sizeof out->ending) {
        for (size_t i = 0; dot[1 + i]; i++)
            out->ending[i] = (char)tolower((unsigned char)dot[1 + i]);
        if (is_known_ending(out->ending))
            stem = (size_t)(dot - name);
        else
            memset(out->ending, 0, sizeof out->ending);
    }
    split(name, stem, out);
}

/* ---- claims of words ---- */

/* A kind of layer that leaves the side open: in "b_GTL" the letter is the project's name. */
static bool is_sideless_kind(uint32_t flags)
{
    return (flags & W_KIND) && !(flags & (W_TOP | W_BOTTOM | W_ABBREVIATED));
}

/* "solder side", but "cote soudure". */
static uint32_t side_word(const struct name_words *name, size_t first, size_t index)
{
    if (name->words[index].flags & W_FOREIGN)
        return index > first ? name->words[index - 1].flags : 0;
    return index + 1 < name->count ? name->words[index + 1].flags : 0;
}

/* "SM top", or "top_sm" where the name ends. */
static bool is_abbreviation(const struct name_words *name, size_t first, size_t index)
{
    const struct name_word *next = index + 1 < name->count ? &name->words[index + 1] : NULL;
    if (next)
        return (next->flags & (W_TOP | W_BOTTOM)) && !(next->flags & W_LETTER);
    uint32_t before = index > first ? name->words[index - 1].flags : 0;
    return (before & (W_TOP | W_BOTTOM)) && !(before & (W_LETTER | W_KIND));
}

/* All flags spoken of; single letters count only before a kind ("F_Cu"), "solder side" and
 * "component side" are sides. */
static uint32_t gather(const struct name_words *name, size_t first)
{
    uint32_t all = 0;
    for (size_t i = first; i < name->count; i++) {
        uint32_t flags = name->words[i].flags;
        uint32_t next = i + 1 < name->count ? name->words[i + 1].flags : 0;
        if (flags & W_LETTER)
            flags = is_sideless_kind(next) ? flags & (W_TOP | W_BOTTOM) : 0;
        if ((flags & W_ABBREVIATED) && !is_abbreviation(name, first, i))
            flags = 0;
        if ((flags & (W_COMPONENT | W_SOLDER)) && (side_word(name, first, i) & W_SIDE))
            flags = flags & W_COMPONENT ? W_TOP | W_COPPER : W_BOTTOM | W_COPPER;
        all |= flags;
    }
    return all;
}

/* "F_Cu", "B.Mask": the letter stands right before its kind, which no word of a project's name
 * outweighs. 0 if there is none. */
static uint32_t letter_side(const struct name_words *name, size_t first)
{
    for (size_t i = first; i + 1 < name->count; i++)
        if ((name->words[i].flags & W_LETTER) && is_sideless_kind(name->words[i + 1].flags))
            return name->words[i].flags & (W_TOP | W_BOTTOM);
    return 0;
}

static bool is_layer_number(const struct name_word *word)
{
    return word->is_number && word->number >= 1 && word->number <= 64;
}

/* "In1_Cu", "L02", "inner layer 3", "copper3": the last such pair counts. */
static struct role_claim numbered_layer(const struct name_words *name, size_t first)
{
    struct role_claim claim = {0};
    for (size_t i = first; i + 1 < name->count; i++) {
        uint32_t flags = name->words[i].flags;
        uint32_t before = i > first ? name->words[i - 1].flags : 0;
        if ((before & W_COPPER) && strcmp(name->words[i].text, "i") == 0)
            flags = W_INNER; /* "copper_i1", but not "i2c" */
        if (!is_layer_number(&name->words[i + 1]) ||
            !(flags & (W_IN | W_INNER | W_LAYER | W_COPPER | W_COUNTED)))
            continue;
        bool is_inner = (flags | before) & (W_IN | W_INNER | W_COUNTED);
        bool is_certain =
            (flags & W_IN) && i + 2 < name->count && (name->words[i + 2].flags & W_COPPER);
        claim.role = ROLE_COPPER;
        claim.side = SIDE_INNER;
        claim.is_side_known = is_inner;
        claim.scheme = is_certain ? SCHEME_INNER : is_inner ? SCHEME_OPEN_INNER : SCHEME_OPEN_ANY;
        claim.number = (uint16_t)name->words[i + 1].number;
    }
    return claim;
}

static bool has_unknown_word(const struct name_words *name, size_t first)
{
    for (size_t i = first; i < name->count; i++)
        if (name->words[i].flags == 0 && !name->words[i].is_number)
            return true;
    return false;
}

/* A plane without "L2": a number that leads or ends the name ("02_GND") may order it. With words
 * besides that say nothing ("power supply notes") the claim is weak: the user is asked. */
static struct role_claim unnumbered_layer(const struct name_words *name, size_t first)
{
    struct role_claim claim = {.role = ROLE_COPPER,
                               .side = SIDE_INNER,
                               .is_side_known = true,
                               .is_weak = has_unknown_word(name, first)};
    const struct name_word *lead = &name->words[first], *tail = &name->words[name->count - 1];
    const struct name_word *number = is_layer_number(lead)   ? lead
                                     : is_layer_number(tail) ? tail
                                                             : NULL;
    if (number) {
        claim.scheme = SCHEME_OPEN_INNER;
        claim.number = (uint16_t)number->number;
    }
    return claim;
}

static struct role_claim copper_claim(const struct name_words *name, size_t first, uint32_t all)
{
    uint32_t side = letter_side(name, first);
    if (!side)
        side = all & (W_TOP | W_BOTTOM);
    struct role_claim numbered_claim = numbered_layer(name, first);
    bool is_inner_word = (all & W_INNER) || numbered_claim.scheme == SCHEME_OPEN_INNER ||
                         numbered_claim.scheme == SCHEME_INNER;
    if (side == (W_TOP | W_BOTTOM) || (side && is_inner_word))
        return (struct role_claim){0};
    if (side)
        return (struct role_claim){.role = ROLE_COPPER,
                                   .side = side == W_TOP ? SIDE_TOP : SIDE_BOTTOM,
                                   .is_side_known = true,
                                   .is_weak = !(all & (W_COPPER | W_LAYER)) &&
                                              has_unknown_word(name, first)};
    if (numbered_claim.role != ROLE_UNKNOWN)
        return numbered_claim;
    if (all & (W_INNER | W_PLANE))
        return unnumbered_layer(name, first);
    return (struct role_claim){0};
}

static struct role_claim mask_claim(const struct name_words *name, size_t first, uint32_t all)
{
    uint32_t side = letter_side(name, first);
    if (!side)
        side = all & (W_TOP | W_BOTTOM);
    if (side == W_TOP)
        return (struct role_claim){.role = ROLE_MASK_TOP};
    return (struct role_claim){.role = side == W_BOTTOM ? ROLE_MASK_BOTTOM : ROLE_UNKNOWN};
}

/*
 * "F_Cu", "In1_Cu", "Edge_Cuts" at the end of a name say all there is to say, whatever the project
 * is called ("Drill Power Top-F_Cu"): where those words begin, else `first`.
 */
static size_t decisive_words(const struct name_words *name, size_t first)
{
    if (name->count < first + 2)
        return first;
    const struct name_word *last = &name->words[name->count - 1], *before = last - 1;
    if ((before->flags & W_LETTER) && is_sideless_kind(last->flags))
        return name->count - 2;
    if ((before->flags & W_PROFILE) && strcmp(last->text, "cuts") == 0)
        return name->count - 2;
    bool is_inner = name->count >= first + 3 && is_layer_number(before) &&
                    (before[-1].flags & W_IN) && (last->flags & W_COPPER);
    return is_inner ? name->count - 3 : first;
}

/* Words of another language may be anything beside words that nobody knows ("bas-controller"). */
static void drop_foreign(struct name_words *name, size_t first)
{
    for (size_t i = first; i < name->count; i++)
        if (name->words[i].flags & W_FOREIGN)
            name->words[i].flags = 0;
}

struct role_claim claim_by_words(const struct name_words *written, size_t first)
{
    struct name_words own = *written;
    const struct name_words *name = &own;
    first = decisive_words(name, first);
    if (has_unknown_word(name, first))
        drop_foreign(&own, first);
    uint32_t all = gather(name, first);
    bool is_sided = all & (W_TOP | W_BOTTOM | W_COPPER);
    if (first >= name->count || !all)
        return (struct role_claim){0};
    if (all & (W_PASTE | W_LEGEND | W_DRILL))
        return (struct role_claim){.role = ROLE_OTHER,
                                   .is_cut = (all & W_CUT) && !(all & (W_DOC | W_PASTE | W_LEGEND)),
                                   .may_be_holes = (all & W_DRILL) && !(all & W_DOC)};
    if (all & W_MASK)
        return mask_claim(name, first, all);
    if (all & W_DOC)
        return (struct role_claim){.role = ROLE_OTHER};
    if ((all & (W_PROFILE | W_WEAK_PROFILE)) && !is_sided)
        return (struct role_claim){.role = ROLE_PROFILE,
                                   .is_weak = !(all & W_PROFILE),
                                   .is_cut = all & W_CUT,
                                   .number = 3};
    if (all & (W_PROFILE | W_WEAK_PROFILE))
        return (struct role_claim){0};
    return copper_claim(name, first, all);
}

bool names_plane(const struct name_words *name, size_t first)
{
    return (gather(name, first) & W_PLANE) || claim_by_ending(name->ending).is_polarity_asked;
}

bool names_copper(const struct name_words *name, size_t first)
{
    uint32_t all = gather(name, first);
    uint32_t others = W_MASK | W_PASTE | W_LEGEND | W_DOC | W_DRILL | W_PROFILE | W_WEAK_PROFILE;
    return (all & W_COPPER) && !(all & others);
}

/* ---- drill files ---- */

static bool is_copper_word(const struct name_words *name, size_t at)
{
    return at < name->count && (name->words[at].flags & W_COPPER);
}

/* One end of a span: "L2", "In1_Cu", "top", "F_Cu" (a letter alone is the project's). 0 = none.
 * bottom is UINT16_MAX until the count is known. */
static uint16_t span_end(const struct name_words *name, size_t at, size_t *used)
{
    const struct name_word *word = &name->words[at];
    const struct name_word *next = at + 1 < name->count ? &name->words[at + 1] : NULL;
    *used = is_copper_word(name, at + 1) ? 2 : 1;
    if ((word->flags & W_LETTER) && *used == 1)
        return 0;
    if (word->flags & W_TOP)
        return 1;
    if (word->flags & W_BOTTOM)
        return UINT16_MAX;
    if (!next || !is_layer_number(next) || !(word->flags & (W_LAYER | W_IN | W_INNER)))
        return 0;
    *used = is_copper_word(name, at + 2) ? 3 : 2;
    return (uint16_t)(next->number + (word->flags & W_LAYER ? 0 : 1));
}

/* "board_v1-2", "rev 2.4". */
static bool is_version_word(const struct name_word *word)
{
    static const char *const words[] = {"v", "ver", "version", "r", "rev", "revision"};
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (strcmp(word->text, words[i]) == 0)
            return true;
    return false;
}

/* The 12 of "L12": from layer 1 to 2, or layer 12. */
static bool read_joined_pair(const struct name_word *word, struct role_claim *claim)
{
    if (!word->is_number || word->number < 12 || word->number > 89)
        return false;
    uint16_t from = (uint16_t)(word->number / 10), to = (uint16_t)(word->number % 10);
    if (from >= to)
        return false;
    claim->span_from = from;
    claim->span_to = to;
    claim->is_weak = true;
    return true;
}

/* "L1-L2", "front-in1"; "L12"; or the bare pair that ends a name ("-1-12"). */
static void find_span(const struct name_words *name, size_t first, struct role_claim *claim)
{
    for (size_t i = first; i < name->count; i++) {
        size_t used, used_to;
        uint16_t from = span_end(name, i, &used);
        size_t second = i + used;
        if (from && second < name->count && strcmp(name->words[second].text, "to") == 0)
            second++;
        uint16_t to = from && second < name->count ? span_end(name, second, &used_to) : (uint16_t)0;
        if (to) {
            claim->span_from = from;
            claim->span_to = to;
            return;
        }
    }
    for (size_t i = first; i + 1 < name->count; i++)
        if ((name->words[i].flags & W_LAYER) && read_joined_pair(&name->words[i + 1], claim))
            return;
    if (name->count < first + 2)
        return;
    const struct name_word *pair = &name->words[name->count - 2];
    bool is_version = name->count > first + 2 && is_version_word(&pair[-1]);
    if (!is_layer_number(&pair[0]) || !is_layer_number(&pair[1]) || is_version)
        return;
    claim->span_from = (uint16_t)pair[0].number;
    claim->span_to = (uint16_t)pair[1].number;
    claim->is_weak = true; /* may be a version */
}

struct role_claim drill_claim_by_words(const struct name_words *name, size_t first)
{
    struct role_claim claim = {.role = ROLE_DRILL_MIXED};
    bool is_plated = false, is_nonplated = false;
    for (size_t i = first; i < name->count; i++) {
        bool is_denied = i > first && (name->words[i - 1].flags & W_NON);
        is_plated |= (name->words[i].flags & W_PLATED) && !is_denied;
        is_nonplated |= (name->words[i].flags & W_NONPLATED) ||
                        ((name->words[i].flags & W_PLATED) && is_denied);
        claim.is_contradiction |= (name->words[i].flags & W_PART_SPAN) != 0;
    }
    if (is_plated != is_nonplated)
        claim.role = is_plated ? ROLE_DRILL_PLATED : ROLE_DRILL_NONPLATED;
    find_span(name, first, &claim);
    claim.is_weak &= !claim.is_contradiction;       /* "blind 1-2" is no version */
    claim.is_contradiction &= claim.span_from == 0; /* blind or buried, but between which? */
    return claim;
}

/* ---- the project's name ---- */

static bool has_claim(const struct name_words *name, size_t first)
{
    return claim_by_ending(name->ending).role != ROLE_UNKNOWN ||
           claim_by_words(name, first).role != ROLE_UNKNOWN;
}

static size_t common_words(const struct name_words *names, size_t count)
{
    size_t common = names[0].count;
    for (size_t i = 1; i < count; i++) {
        size_t same = 0;
        while (same < common && same < names[i].count &&
               strcmp(names[0].words[same].text, names[i].words[same].text) == 0)
            same++;
        common = same;
    }
    return common;
}

static bool loses_a_claim(const struct name_words *names, size_t count, size_t first)
{
    for (size_t i = 0; i < count; i++)
        if (has_claim(&names[i], 0) && !has_claim(&names[i], first))
            return true;
    return false;
}

/* The first words may be the project's though each is known ("Bottom Board-Edge_Cuts"): then some
 * name says something only without them. */
static bool gains_a_claim(const struct name_words *names, size_t count, size_t first)
{
    for (size_t i = 0; i < count; i++)
        if (!has_claim(&names[i], 0) && has_claim(&names[i], first))
            return true;
    return false;
}

size_t shared_words(const struct name_words *names, size_t count)
{
    if (count < 2)
        return 0;
    size_t common = common_words(names, count);
    bool is_everything = true;
    for (size_t i = 0; i < count; i++)
        is_everything &= names[i].count == common;
    if (is_everything && !loses_a_claim(names, count, common))
        return common;
    for (; common > 0; common--) {
        bool has_unknown = false;
        for (size_t i = 0; i < common; i++)
            has_unknown |= names[0].words[i].flags == 0 && !names[0].words[i].is_number;
        if (!has_unknown && !gains_a_claim(names, count, common))
            return 0;
        if (!loses_a_claim(names, count, common))
            return common;
    }
    return 0;
}
