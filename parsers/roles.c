/* The role of each file: what the user says, then attribute, job file, name, content. */
#include "isthmus/package.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

#include "isthmus/currents.h"
#include "roles_private.h"

#define LAYERS_MAX 64

struct deciding {
    const struct file_table *files;
    const struct file_hint *hints;
    size_t count;
    const struct job_facts *job; /* NULL: none, or set aside by the user */
    struct arena *arena;
    struct diag_list *diags;
    struct file_role *out;
    struct role_claim *claims;
    struct name_words *names;
    size_t shared; /* leading words of every drawing's name */
    bool is_out_of_memory;
};

static const struct source_pos nowhere = {0};

static struct source_pos in_file(const struct file_hint *hint)
{
    return (struct source_pos){.file_id = hint->file_id};
}

static const char *shown_name(const struct deciding *deciding, size_t index)
{
    return deciding->files->files[deciding->hints[index].file_id - 1].name;
}

static const char *last_part(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* In single quotes, each quote of its own as '\\''. */
static const char *shell_quoted(struct arena *arena, const char *name)
{
    char *out = arena_alloc(arena, 4 * strlen(name) + 3, 1), *at = out;
    if (!out)
        return NULL;
    *at++ = '\'';
    for (const char *c = name; *c; c++) {
        if (*c == '\'') {
            memcpy(at, "'\\''", 4);
            at += 4;
        } else {
            *at++ = *c;
        }
    }
    *at++ = '\'';
    *at = '\0';
    return out;
}

/* The shortest form that names the file in --role, quoted for a shell where it must be. */
static const char *option_name(struct deciding *deciding, size_t index)
{
    const char *name = last_part(shown_name(deciding, index));
    for (size_t i = 0; i < deciding->count; i++)
        if (i != index && strcmp(last_part(shown_name(deciding, i)), name) == 0)
            name = shown_name(deciding, index);
    bool is_plain = true;
    for (const char *c = name; *c; c++)
        is_plain &= isalnum((unsigned char)*c) || strchr("._-/+,:@%", *c) != NULL;
    const char *text = is_plain ? name : shell_quoted(deciding->arena, name);
    deciding->is_out_of_memory |= !text;
    return text ? text : name;
}

/* An advice with the very options to type: each @ becomes the file's name. */
static const char *advise(struct deciding *deciding, size_t index, const char *template)
{
    const char *name = option_name(deciding, index), *text = "";
    for (const char *at = template; *at && text; at += *at == '@') {
        int plain = (int)strcspn(at, "@");
        text = arena_printf(deciding->arena, "%s%.*s%s", text, plain, at,
                            at[plain] == '@' ? name : "");
        at += plain;
    }
    deciding->is_out_of_memory |= !text;
    return text ? text : "give --role";
}

/* ---- .FileFunction, in a file or in the job file ---- */

struct function_fields {
    const char *const *items;
    uint32_t count;
};

/* Fields are compared without case and surrounding blanks: real files have both. */
static bool field_is(struct function_fields fields, uint32_t index, const char *word)
{
    if (index >= fields.count || !fields.items[index])
        return false;
    const char *text = fields.items[index];
    while (isspace((unsigned char)*text))
        text++;
    size_t length = strlen(text);
    while (length && isspace((unsigned char)text[length - 1]))
        length--;
    return length == strlen(word) && strncasecmp(text, word, length) == 0;
}

/* A layer number, with or without L; 0 if the field is none. */
static uint16_t field_layer(struct function_fields fields, uint32_t index)
{
    if (index >= fields.count || !fields.items[index])
        return 0;
    const char *text = fields.items[index];
    while (isspace((unsigned char)*text) || *text == 'L' || *text == 'l')
        text++;
    char *end;
    unsigned long number = isdigit((unsigned char)*text) ? strtoul(text, &end, 10) : 0;
    return number >= 1 && number <= LAYERS_MAX ? (uint16_t)number : 0;
}

static bool has_field(struct function_fields fields, const char *word)
{
    for (uint32_t i = 1; i < fields.count; i++)
        if (field_is(fields, i, word))
            return true;
    return false;
}

static struct role_claim copper_function(struct function_fields fields)
{
    struct role_claim claim = {.role = ROLE_COPPER, .side = SIDE_INNER, .is_side_known = true};
    if (has_field(fields, "Top"))
        claim.side = SIDE_TOP;
    else if (has_field(fields, "Bot"))
        claim.side = SIDE_BOTTOM;
    claim.number = field_layer(fields, 1);
    if (claim.number)
        claim.scheme = SCHEME_POSITION;
    return claim;
}

static struct role_claim drill_function(struct function_fields fields, enum role role)
{
    return (struct role_claim){
        .role = role, .span_from = field_layer(fields, 1), .span_to = field_layer(fields, 2)};
}

/* Gerber Layer Format Specification, section on .FileFunction: all values but these few name
 * layers that are set aside. */
static struct role_claim function_claim(struct function_fields fields)
{
    if (fields.count == 0)
        return (struct role_claim){0};
    if (field_is(fields, 0, "Copper"))
        return copper_function(fields);
    if (field_is(fields, 0, "Plated"))
        return drill_function(fields, ROLE_DRILL_PLATED);
    if (field_is(fields, 0, "NonPlated"))
        return drill_function(fields, ROLE_DRILL_NONPLATED);
    if (field_is(fields, 0, "MixedPlating"))
        return drill_function(fields, ROLE_DRILL_MIXED);
    if (field_is(fields, 0, "Profile"))
        return (struct role_claim){.role = ROLE_PROFILE};
    if (field_is(fields, 0, "Soldermask") && has_field(fields, "Top"))
        return (struct role_claim){.role = ROLE_MASK_TOP};
    if (field_is(fields, 0, "Soldermask") && has_field(fields, "Bot"))
        return (struct role_claim){.role = ROLE_MASK_BOTTOM};
    if (field_is(fields, 0, "Soldermask"))
        return (struct role_claim){0};
    return (struct role_claim){.role = ROLE_OTHER};
}

static void add_polarity(struct role_claim *claim, const char *polarity)
{
    struct function_fields fields = {&polarity, polarity ? 1 : 0};
    if (field_is(fields, 0, "Negative") || field_is(fields, 0, "Positive")) {
        claim->has_polarity = true;
        claim->is_negative = field_is(fields, 0, "Negative");
    }
}

static struct role_claim attribute_claim(const struct file_hint *hint)
{
    struct function_fields fields = {hint->file_function, hint->file_function_count};
    struct role_claim claim = function_claim(fields);
    claim.why = "attribute .FileFunction";
    return claim;
}

static const struct job_file_entry *job_entry(const struct deciding *deciding, size_t index)
{
    const char *name = last_part(shown_name(deciding, index));
    for (size_t i = 0; deciding->job && i < deciding->job->entry_count; i++) {
        const struct job_file_entry *entry = &deciding->job->entries[i];
        if (entry->path && strcasecmp(last_part(entry->path), name) == 0)
            return entry;
    }
    return NULL;
}

static struct role_claim job_claim(const struct job_file_entry *entry)
{
    if (!entry)
        return (struct role_claim){0};
    struct function_fields fields = {entry->file_function, entry->file_function_count};
    struct role_claim claim = function_claim(fields);
    claim.why = "job file";
    return claim;
}

/* ---- names ---- */

static const char *ending_why(struct deciding *deciding, const struct name_words *name)
{
    const char *why = arena_printf(deciding->arena, "name ending .%s", name->ending);
    deciding->is_out_of_memory |= !why;
    return why ? why : "name ending";
}

static bool are_sides_opposed(const struct role_claim *a, const struct role_claim *b)
{
    if (a->role == ROLE_COPPER && b->role == ROLE_COPPER)
        return a->is_side_known && b->is_side_known && a->side != b->side &&
               a->side != SIDE_INNER && b->side != SIDE_INNER;
    return (a->role == ROLE_MASK_TOP && b->role == ROLE_MASK_BOTTOM) ||
           (a->role == ROLE_MASK_BOTTOM && b->role == ROLE_MASK_TOP);
}

static struct role_claim drawing_name_claim(struct deciding *deciding, size_t index)
{
    const struct name_words *name = &deciding->names[index];
    struct role_claim by_ending = claim_by_ending(name->ending);
    struct role_claim by_words = claim_by_words(name, deciding->shared);
    /* .gm1 and the like say little; words such as "Edge_Cuts" say more. */
    bool is_ending_vague = by_ending.is_weak && by_words.role != ROLE_UNKNOWN;
    if (by_ending.role != ROLE_UNKNOWN && !is_ending_vague) {
        by_ending.is_contradiction = are_sides_opposed(&by_ending, &by_words);
        by_ending.why = ending_why(deciding, name);
        return by_ending;
    }
    by_words.why = "words of the name";
    return by_words;
}

/* The image name is a drawing's own title: content, when the file's name says nothing. */
static struct role_claim image_name_claim(const struct file_hint *hint)
{
    if (!hint->image_name)
        return (struct role_claim){0};
    struct name_words words;
    text_words_split(hint->image_name, &words);
    struct role_claim claim = claim_by_words(&words, 0);
    claim.why = "image name";
    return claim;
}

static struct role_claim drill_name_claim(const struct deciding *deciding, size_t index)
{
    const struct name_words *name = &deciding->names[index];
    struct role_claim claim = drill_claim_by_words(name, 0);
    claim.why =
        claim.role == ROLE_DRILL_MIXED ? "content: a drill file" : "content and words of the name";
    return claim;
}

/* What a name promises, and whether a board can do without it; NULL: nothing. Words count where the
 * ending is one of drawings ("In1_Cu.gbr"), not in "top copper.pdf". */
static const char *promised_kind(const struct name_words *name, size_t shared, bool *is_vital)
{
    struct role_claim claim = claim_by_ending(name->ending);
    if (is_drawing_ending(name->ending))
        claim = claim_by_words(name, shared);
    *is_vital = claim.role == ROLE_COPPER || is_drill_ending(name->ending);
    if (claim.role == ROLE_COPPER)
        return "a copper layer";
    if (is_drill_ending(name->ending))
        return "a drill file";
    if (is_netlist_ending(name->ending))
        return "a netlist";
    if (strcmp(name->ending, "gbrjob") == 0)
        return "a job file";
    bool is_layer =
        claim.role == ROLE_MASK_TOP || claim.role == ROLE_MASK_BOTTOM || claim.role == ROLE_PROFILE;
    return is_layer ? "a layer" : NULL;
}

/* A file that is no drawing and no drill file, but is named like one, must not slip by. */
static void report_misnamed(struct deciding *deciding, size_t index)
{
    bool is_vital;
    const char *content = deciding->hints[index].is_wide_text
                              ? "it is text of two bytes a character (UTF-16), which no board "
                                "exporter writes"
                              : "its content is none";
    const char *kind = promised_kind(&deciding->names[index], deciding->shared, &is_vital);
    if (kind)
        diag_add(
            deciding->diags, is_vital ? DIAG_ERROR : DIAG_WARNING, "roles-content",
            in_file(&deciding->hints[index]),
            advise(deciding, index,
                   "export the file again; if it does not belong to the board: --role @=ignore"),
            "%s is named like %s, but %s", shown_name(deciding, index), kind, content);
}

static struct role_claim other_claim(struct deciding *deciding, size_t index)
{
    switch (deciding->hints[index].content) {
    case CONTENT_NETLIST:
        return (struct role_claim){.role = ROLE_NETLIST, .why = "content: a netlist"};
    case CONTENT_JOB:
        return (struct role_claim){.role = ROLE_JOB, .why = "content: a job file"};
    default:
        report_misnamed(deciding, index);
        return (struct role_claim){.role = ROLE_OTHER, .why = "content: no layer, no drill file"};
    }
}

/* ---- one file ---- */

static void warn_disagreement(struct deciding *deciding, size_t index,
                              const struct role_claim *taken, const struct role_claim *other)
{
    bool are_both_copper = taken->role == ROLE_COPPER && other->role == ROLE_COPPER;
    bool is_other_position = are_both_copper && taken->scheme == SCHEME_POSITION &&
                             other->scheme == SCHEME_POSITION && taken->number != other->number;
    bool is_other_role = other->role != ROLE_UNKNOWN && taken->role != other->role &&
                         (taken->role == ROLE_COPPER || other->role == ROLE_COPPER);
    if (is_other_role || is_other_position || are_sides_opposed(taken, other))
        diag_add(deciding->diags, DIAG_WARNING, "roles-disagree", in_file(&deciding->hints[index]),
                 "if that is wrong, give --role FILE=...",
                 "%s: the %s and the %s give it different roles; the %s was taken",
                 shown_name(deciding, index), taken->why, other->why, taken->why);
}

static struct role_claim claim_of_content(struct deciding *deciding, size_t index)
{
    const struct file_hint *hint = &deciding->hints[index];
    if (hint->content == CONTENT_DRILL)
        return drill_name_claim(deciding, index);
    if (hint->content != CONTENT_DRAWING)
        return other_claim(deciding, index);
    struct role_claim claim = drawing_name_claim(deciding, index);
    return claim.role == ROLE_UNKNOWN ? image_name_claim(hint) : claim;
}

/* Attribute, job file, name, content: the first that says something; polarity likewise. */
static struct role_claim decide_one(struct deciding *deciding, size_t index)
{
    const struct file_hint *hint = &deciding->hints[index];
    const struct job_file_entry *entry = job_entry(deciding, index);
    struct role_claim by_attribute = attribute_claim(hint), by_job = job_claim(entry);
    bool is_layer = hint->content == CONTENT_DRAWING || hint->content == CONTENT_DRILL;
    struct role_claim claim = is_layer ? by_attribute : (struct role_claim){0};
    if (is_layer && claim.role != ROLE_UNKNOWN)
        warn_disagreement(deciding, index, &claim, &by_job);
    else if (is_layer)
        claim = by_job;
    if (claim.role == ROLE_UNKNOWN) {
        claim = claim_of_content(deciding, index);
    } else if (hint->content == CONTENT_DRAWING) {
        struct role_claim by_name = drawing_name_claim(deciding, index);
        warn_disagreement(deciding, index, &claim, &by_name);
    }
    add_polarity(&claim, hint->file_polarity);
    if (entry && !claim.has_polarity)
        add_polarity(&claim, entry->polarity);
    return claim;
}

/* ---- --role ---- */

static bool ends_in(const char *text, const char *tail)
{
    size_t length = strlen(text), tail_length = strlen(tail);
    return tail_length > 0 && length >= tail_length &&
           strcmp(text + length - tail_length, tail) == 0;
}

enum match { MATCH_WHOLE, MATCH_LAST_PART, MATCH_TAIL, MATCH_KINDS };

static bool matches(const char *name, const char *wanted, enum match match)
{
    switch (match) {
    case MATCH_WHOLE:
        return strcmp(name, wanted) == 0;
    case MATCH_LAST_PART:
        return strcmp(last_part(name), wanted) == 0;
    default:
        return ends_in(name, wanted);
    }
}

/* Index of the file an option names, or SIZE_MAX (said why). */
static size_t find_file(struct deciding *deciding, const char *wanted)
{
    for (int match = MATCH_WHOLE; match < MATCH_KINDS; match++) {
        size_t found = SIZE_MAX, found_count = 0;
        for (size_t i = 0; i < deciding->count; i++) {
            if (!matches(shown_name(deciding, i), wanted, (enum match)match))
                continue;
            found = found_count++ ? found : i;
        }
        if (found_count == 1)
            return found;
        if (found_count > 1) {
            diag_add(deciding->diags, DIAG_ERROR, "roles-option-ambiguous", nowhere,
                     "give more of the name, as `isthmus inspect` shows it",
                     "--role %s: %zu files have that name, %s is one", wanted, found_count,
                     shown_name(deciding, found));
            return SIZE_MAX;
        }
    }
    const char **names = arena_alloc(deciding->arena, deciding->count + 1, sizeof *names);
    for (size_t i = 0; names && i < deciding->count; i++)
        names[i] = last_part(shown_name(deciding, i));
    const char *near = names ? nearest_name(wanted, names, deciding->count) : NULL;
    diag_add(deciding->diags, DIAG_ERROR, "roles-option-file", nowhere,
             "`isthmus inspect PACKAGE` lists the files",
             "--role %s: no such file in the package%s%s%s", wanted, near ? "; did you mean " : "",
             near ? near : "", near ? "?" : "");
    return SIZE_MAX;
}

static bool read_number(const char **at, uint16_t *out)
{
    char *end;
    if (!isdigit((unsigned char)**at))
        return false;
    unsigned long number = strtoul(*at, &end, 10);
    if (number < 1 || number > LAYERS_MAX)
        return false;
    *out = (uint16_t)number;
    *at = end;
    return true;
}

/* What may follow a copper word: ",negative" or ",positive". */
static bool read_polarity(const char *rest, struct role_claim *claim)
{
    claim->has_polarity = *rest != '\0';
    claim->is_negative = strcmp(rest, ",negative") == 0;
    return !*rest || claim->is_negative || strcmp(rest, ",positive") == 0;
}

/* What may follow a drill word: ":1-4". */
static bool read_span(const char *rest, struct role_claim *claim)
{
    if (!*rest)
        return true;
    if (*rest++ != ':' || !read_number(&rest, &claim->span_from) || *rest++ != '-')
        return false;
    return read_number(&rest, &claim->span_to) && !*rest && claim->span_from < claim->span_to;
}

static const char *after(const char *text, const char *word)
{
    size_t length = strlen(word);
    return strncmp(text, word, length) == 0 ? text + length : NULL;
}

static bool read_copper_word(const char *text, struct role_claim *claim)
{
    const char *rest;
    *claim = (struct role_claim){.role = ROLE_COPPER, .is_side_known = true};
    if ((rest = after(text, "top"))) {
        claim->side = SIDE_TOP;
    } else if ((rest = after(text, "bottom"))) {
        claim->side = SIDE_BOTTOM;
    } else if ((rest = after(text, "inner:"))) {
        claim->side = SIDE_INNER;
        claim->scheme = SCHEME_INNER;
        if (!read_number(&rest, &claim->number))
            return false;
    }
    return rest && read_polarity(rest, claim);
}

static bool read_role_word(const char *text, struct role_claim *claim)
{
    static const struct {
        const char *word;
        enum role role;
    } plain[] = {
        {"profile", ROLE_PROFILE},
        {"mask-top", ROLE_MASK_TOP},
        {"mask-bottom", ROLE_MASK_BOTTOM},
        {"ignore", ROLE_IGNORE},
    };
    for (size_t i = 0; i < sizeof plain / sizeof *plain; i++) {
        *claim = (struct role_claim){.role = plain[i].role};
        if (strcmp(text, plain[i].word) == 0)
            return true;
    }
    const char *rest;
    *claim = (struct role_claim){.role = ROLE_DRILL_NONPLATED};
    if ((rest = after(text, "nonplated")))
        return read_span(rest, claim);
    claim->role = ROLE_DRILL_PLATED;
    if ((rest = after(text, "plated")))
        return read_span(rest, claim);
    return read_copper_word(text, claim);
}

static bool is_content_fit(const struct file_hint *hint, enum role role)
{
    bool is_drawing = hint->content == CONTENT_DRAWING;
    if (role == ROLE_IGNORE)
        return true;
    if (role == ROLE_DRILL_PLATED || role == ROLE_DRILL_NONPLATED)
        return is_drawing || hint->content == CONTENT_DRILL;
    return is_drawing;
}

static void apply_option(struct deciding *deciding, const struct role_option *option)
{
    struct role_claim claim;
    if (!read_role_word(option->role, &claim)) {
        diag_add(deciding->diags, DIAG_ERROR, "roles-option-role", nowhere,
                 "use top, bottom, inner:N, plated, nonplated, profile, mask-top, mask-bottom or "
                 "ignore; copper may add ,negative or ,positive; holes may add :1-4 (their layers)",
                 "--role %s=%s: no such role", option->file, option->role);
        return;
    }
    claim.why = "--role";
    size_t index = find_file(deciding, option->file);
    if (index == SIZE_MAX)
        return;
    const struct file_hint *hint = &deciding->hints[index];
    if (deciding->claims[index].why)
        diag_add(deciding->diags, DIAG_ERROR, "roles-option-twice", in_file(hint),
                 "give each file one role", "--role names %s twice", shown_name(deciding, index));
    if (!is_content_fit(hint, claim.role))
        diag_add(deciding->diags, DIAG_ERROR, "roles-option-content", in_file(hint),
                 "check the file, or export it again", "--role %s=%s: the file holds no %s",
                 option->file, option->role,
                 claim.role == ROLE_DRILL_PLATED || claim.role == ROLE_DRILL_NONPLATED ? "holes"
                                                                                       : "drawing");
    if (claim.role == ROLE_COPPER && !claim.has_polarity)
        add_polarity(&claim, hint->file_polarity);
    deciding->claims[index] = claim;
}

/* ---- copies ---- */

static bool is_same_claim(const struct role_claim *a, const struct role_claim *b)
{
    return a->role == b->role && a->side == b->side && a->is_side_known == b->is_side_known &&
           a->scheme == b->scheme && a->number == b->number && a->is_negative == b->is_negative &&
           a->span_from == b->span_from && a->span_to == b->span_to;
}

/* Inner layers without a number that stand under two names: two planes of one net may well be
 * alike to the byte. */
static bool may_be_two_layers(const struct deciding *deciding, size_t index, size_t other)
{
    const struct role_claim *claim = &deciding->claims[index];
    bool is_outer = claim->is_side_known && claim->side != SIDE_INNER;
    return claim->role == ROLE_COPPER && !is_outer && claim->scheme == SCHEME_NONE &&
           strcmp(last_part(shown_name(deciding, index)), last_part(shown_name(deciding, other))) !=
               0;
}

static bool is_by_option(const struct role_claim *claim)
{
    return claim->why && strcmp(claim->why, "--role") == 0;
}

static void set_copy_aside(struct deciding *deciding, size_t index, size_t other)
{
    struct role_claim *claim = &deciding->claims[index];
    const char *why =
        arena_printf(deciding->arena, "the same bytes as %s", shown_name(deciding, other));
    deciding->is_out_of_memory |= !why;
    diag_add(deciding->diags, DIAG_NOTE, "roles-copy", in_file(&deciding->hints[index]), NULL,
             "%s and %s hold the same bytes for the same layer: read once",
             shown_name(deciding, other), shown_name(deciding, index));
    *claim = (struct role_claim){.role = ROLE_OTHER, .why = why ? why : "a copy"};
}

/* "b - Copy.gtl", or a folder that holds the zip of itself. Two layers may well be alike: only
 * files that mean the same layer are copies. */
static void set_copies_aside(struct deciding *deciding)
{
    for (size_t i = 0; i < deciding->count; i++) {
        enum role role = deciding->claims[i].role;
        bool matters = role != ROLE_UNKNOWN && role != ROLE_OTHER && role != ROLE_IGNORE;
        for (size_t j = 0; j < i && matters && deciding->hints[i].same_as; j++) {
            if (deciding->hints[j].file_id != deciding->hints[i].same_as ||
                !is_same_claim(&deciding->claims[i], &deciding->claims[j]) ||
                may_be_two_layers(deciding, i, j))
                continue;
            if (!is_by_option(&deciding->claims[i]))
                set_copy_aside(deciding, i, j);
            else if (!is_by_option(&deciding->claims[j]))
                set_copy_aside(deciding, j, i);
            break;
        }
    }
}

/* ---- choosing between files ---- */

/* Attribute or job file beat names; strong names beat weak ones; .gko beats .gm1. */
static int profile_rank(const struct role_claim *claim)
{
    if (strcmp(claim->why, "--role") == 0)
        return 0;
    if (strcmp(claim->why, "attribute .FileFunction") == 0 || strcmp(claim->why, "job file") == 0)
        return 1;
    return claim->is_weak ? 2 + claim->number : 2;
}

static bool is_empty_drawing(const struct file_hint *hint)
{
    return !hint->is_refused && hint->flash_count + hint->stroke_count + hint->region_count == 0;
}

static int best_profile_rank(const struct deciding *deciding)
{
    int best = INT32_MAX;
    for (size_t i = 0; i < deciding->count; i++)
        if (deciding->claims[i].role == ROLE_PROFILE && !is_empty_drawing(&deciding->hints[i]) &&
            profile_rank(&deciding->claims[i]) < best)
            best = profile_rank(&deciding->claims[i]);
    return best;
}

static void set_profile_aside(struct deciding *deciding, size_t index)
{
    struct role_claim *claim = &deciding->claims[index];
    bool is_empty = is_empty_drawing(&deciding->hints[index]);
    claim->role = ROLE_OTHER;
    if (!is_empty && !claim->is_cut) /* else it is asked about */
        diag_add(deciding->diags, DIAG_WARNING, "roles-profile-second",
                 in_file(&deciding->hints[index]),
                 advise(deciding, index, "if it is the outline: --role @=profile"),
                 "%s could be the outline too (%s); another file was taken",
                 shown_name(deciding, index), claim->why);
    claim->why = is_empty ? "empty drawing" : "another file is the outline";
}

static const char *advise_either(struct deciding *deciding, size_t one, size_t other)
{
    const char *text = arena_printf(
        deciding->arena, "say which is: --role %s=profile --role %s=ignore, or the other way round",
        option_name(deciding, one), option_name(deciding, other));
    deciding->is_out_of_memory |= !text;
    return text ? text : "give --role";
}

static void choose_profile(struct deciding *deciding)
{
    int best = best_profile_rank(deciding);
    size_t kept = SIZE_MAX;
    for (size_t i = 0; i < deciding->count; i++) {
        if (deciding->claims[i].role != ROLE_PROFILE)
            continue;
        int rank = profile_rank(&deciding->claims[i]);
        if (rank > best || (rank > 1 && is_empty_drawing(&deciding->hints[i]))) {
            set_profile_aside(deciding, i);
        } else if (kept != SIZE_MAX && rank > 0) {
            diag_add(deciding->diags, DIAG_ERROR, "roles-profile-twice",
                     in_file(&deciding->hints[i]), advise_either(deciding, kept, i),
                     "two files could be the outline: %s and %s", shown_name(deciding, kept),
                     shown_name(deciding, i));
        } else {
            kept = i;
        }
    }
}

static void warn_unknown(struct deciding *deciding)
{
    for (size_t i = 0; i < deciding->count; i++) {
        struct role_claim *claim = &deciding->claims[i];
        if (claim->role != ROLE_UNKNOWN)
            continue;
        claim->why = "nothing says what it is";
        if (is_empty_drawing(&deciding->hints[i]))
            continue;
        /* A copper layer that is left out cannot be judged, nor what it carries of the others. */
        if (names_copper(&deciding->names[i], deciding->shared))
            diag_add(deciding->diags, DIAG_ERROR, "roles-copper-doubtful",
                     in_file(&deciding->hints[i]),
                     advise(deciding, i,
                            "say which it is: --role @=inner:N (or top, bottom); if it is none: "
                            "--role @=ignore"),
                     "%s is named like copper, but nothing says which layer it is",
                     shown_name(deciding, i));
        else
            diag_add(deciding->diags, DIAG_WARNING, "roles-unknown", in_file(&deciding->hints[i]),
                     advise(deciding, i,
                            "say what it is: --role @=ignore (or top, bottom, inner:N, plated, "
                            "nonplated, profile, mask-top, mask-bottom)"),
                     "not part of the check: %s; give --role", shown_name(deciding, i));
    }
}

static bool has_drill_role(const struct deciding *deciding)
{
    for (size_t i = 0; i < deciding->count; i++) {
        enum role role = deciding->claims[i].role;
        if (role == ROLE_DRILL_PLATED || role == ROLE_DRILL_NONPLATED || role == ROLE_DRILL_MIXED)
            return true;
    }
    return false;
}

/* "DRILL.art" is a plan of holes where drill files are; where there are none it may be all there
 * is, and copper that holes take away must not be counted. */
static void refuse_hole_drawings(struct deciding *deciding)
{
    for (size_t i = 0; i < deciding->count && !has_drill_role(deciding); i++)
        if (deciding->claims[i].may_be_holes && !is_empty_drawing(&deciding->hints[i]))
            diag_add(deciding->diags, DIAG_ERROR, "roles-hole-drawing",
                     in_file(&deciding->hints[i]),
                     advise(deciding, i,
                            "if it draws the holes themselves: --role @=plated (or =nonplated); if "
                            "it is only a plan of them: --role @=ignore"),
                     "there is no drill file, and %s may hold the holes", shown_name(deciding, i));
}

/* Slots and cut-outs that stand neither among the holes nor in the outline: the copper that they
 * take away would be counted. */
static void refuse_cut_drawings(struct deciding *deciding)
{
    for (size_t i = 0; i < deciding->count; i++) {
        const struct role_claim *claim = &deciding->claims[i];
        bool is_asked = claim->may_be_holes && !has_drill_role(deciding);
        if (claim->role == ROLE_OTHER && claim->is_cut && !is_asked &&
            !is_empty_drawing(&deciding->hints[i]))
            diag_add(deciding->diags, DIAG_ERROR, "roles-cut-drawing", in_file(&deciding->hints[i]),
                     advise(deciding, i,
                            "if it draws slots as wide as they are: --role @=nonplated (or "
                            "=plated); if it draws the edges of cut-outs: --role @=profile and the "
                            "same for the outline; if drill files and outline hold all of it: "
                            "--role @=ignore"),
                     "%s is named like slots or cut-outs, but nothing says how it is to be read",
                     shown_name(deciding, i));
    }
}

/*
 * Planes are plotted as their negative on some boards and as they are on others. Where nothing says
 * which, a .gp1 is always asked about; any other inner layer when its content looks like gaps:
 * thermal reliefs drawn dark, or hardly anything but flashes, and it is called a plane or no line
 * ends on any of them. A file with
 * attributes that leaves out the polarity is positive.
 */
static bool is_polarity_open(const struct deciding *deciding, size_t index)
{
    const struct role_claim *claim = &deciding->claims[index];
    const struct file_hint *hint = &deciding->hints[index];
    const struct name_words *name = &deciding->names[index];
    if (claim->role != ROLE_COPPER || claim->has_polarity || hint->file_function_count > 0 ||
        (claim->is_side_known && claim->side != SIDE_INNER))
        return false;
    bool looks_like_gaps = hint->region_count == 0 && hint->flash_count > hint->stroke_count;
    return claim_by_ending(name->ending).is_polarity_asked || hint->has_thermals ||
           (looks_like_gaps && (names_plane(name, deciding->shared) || hint->are_flashes_lonely));
}

static void check_polarity(struct deciding *deciding)
{
    for (size_t i = 0; i < deciding->count; i++)
        if (is_polarity_open(deciding, i))
            diag_add(deciding->diags, DIAG_ERROR, "roles-polarity", in_file(&deciding->hints[i]),
                     advise(deciding, i,
                            "look at it: if it shows the gaps, --role @=inner:N,negative; if it "
                            "shows the copper, --role @=inner:N,positive"),
                     "%s may be a plane plotted as its negative, but nothing in the package says "
                     "whether it is",
                     shown_name(deciding, i));
}

static void check_contradictions(struct deciding *deciding)
{
    size_t copper_count = 0;
    for (size_t i = 0; i < deciding->count; i++)
        copper_count += deciding->claims[i].role == ROLE_COPPER;
    for (size_t i = 0; i < deciding->count; i++) {
        const struct role_claim *claim = &deciding->claims[i];
        bool is_drill = deciding->hints[i].content == CONTENT_DRILL;
        if (is_drill && copper_count <= 2)
            continue; /* nothing is buried there: "window-blind.drl" is the project */
        if (claim->is_contradiction && is_drill)
            diag_add(deciding->diags, DIAG_ERROR, "roles-span", in_file(&deciding->hints[i]),
                     advise(deciding, i, "say it: --role @=plated:1-2"),
                     "%s: blind or buried holes, but nothing says between which layers",
                     shown_name(deciding, i));
        else if (claim->is_contradiction)
            diag_add(deciding->diags, DIAG_ERROR, "roles-contradiction",
                     in_file(&deciding->hints[i]),
                     advise(deciding, i, "say which it is: --role @=top or --role @=bottom"),
                     "%s: the ending and the words of the name say different sides",
                     shown_name(deciding, i));
    }
}

/* ---- the number of copper layers that somebody states ---- */

static void note_total(struct copper_set *set, uint16_t total, const char *why)
{
    if (total > set->total) {
        set->total = total;
        set->total_why = why;
    }
}

static void find_total(const struct deciding *deciding, struct copper_set *set)
{
    for (size_t i = 0; i < deciding->count; i++) {
        const struct role_claim *claim = &deciding->claims[i];
        bool is_bottom = claim->role == ROLE_COPPER && claim->side == SIDE_BOTTOM &&
                         claim->scheme == SCHEME_POSITION;
        bool is_hole = deciding->hints[i].file_function_count > 0 && !claim->is_weak &&
                       (claim->role == ROLE_DRILL_PLATED || claim->role == ROLE_DRILL_NONPLATED);
        if (is_bottom)
            note_total(set, claim->number, shown_name(deciding, i));
        if (is_hole && claim->span_to != UINT16_MAX)
            note_total(set, claim->span_to, shown_name(deciding, i));
    }
    if (deciding->job)
        note_total(set, deciding->job->layer_count, "the job file");
}

/* ---- handing over ---- */

/* The first drawing from `from` on that may be copper for all that is known. */
static size_t unknown_drawing(const struct deciding *deciding, size_t from)
{
    while (from < deciding->count && (deciding->claims[from].role != ROLE_UNKNOWN ||
                                      deciding->hints[from].content != CONTENT_DRAWING ||
                                      is_empty_drawing(&deciding->hints[from])))
        from++;
    return from;
}

/* The first two drawings that nothing gives a role, as the options that would make them copper. */
static const char *advise_copper(struct deciding *deciding)
{
    size_t first = unknown_drawing(deciding, 0);
    if (first >= deciding->count)
        return "name the package that holds the copper layers, or say which file is one: "
               "--role FILE=top";
    size_t second = unknown_drawing(deciding, first + 1);
    const char *text = arena_printf(
        deciding->arena,
        "say which files are the copper layers, for example (only you know which are): --role "
        "%s=top%s%s%s",
        option_name(deciding, first), second < deciding->count ? " --role " : "",
        second < deciding->count ? option_name(deciding, second) : "",
        second < deciding->count ? "=bottom" : "");
    deciding->is_out_of_memory |= !text;
    return text ? text : "give --role";
}

/* One copper layer, and a drawing of nobody knows what: that may be the other one. */
static void refuse_half_a_board(struct deciding *deciding, const struct copper_set *set)
{
    size_t unknown = unknown_drawing(deciding, 0);
    if (set->count != 1 || unknown >= deciding->count)
        return;
    bool is_top = set->files[0].claim.side == SIDE_TOP;
    diag_add(deciding->diags, DIAG_ERROR, "roles-half", in_file(&deciding->hints[unknown]),
             advise(deciding, unknown,
                    is_top ? "say what it is: --role @=bottom, or --role @=ignore"
                           : "say what it is: --role @=top, or --role @=ignore"),
             "only %s is known to be a copper layer, and nothing says what %s is",
             set->files[0].shown, shown_name(deciding, unknown));
}

static enum package_status order_layers(struct deciding *deciding)
{
    struct copper_set set = {0};
    set.files = arena_alloc(deciding->arena, deciding->count + 1, sizeof *set.files);
    if (!set.files)
        return PACKAGE_NO_MEMORY;
    for (size_t i = 0; i < deciding->count; i++)
        if (deciding->claims[i].role == ROLE_COPPER)
            set.files[set.count++] = (struct copper_file){&deciding->out[i], deciding->claims[i],
                                                          option_name(deciding, i)};
    if (set.count == 0) {
        diag_add(deciding->diags, DIAG_ERROR, "roles-no-copper", nowhere, advise_copper(deciding),
                 "no copper layer found among %zu files", deciding->count);
        return PACKAGE_REFUSED;
    }
    size_t unknown = unknown_drawing(deciding, 0);
    set.unknown = unknown < deciding->count ? option_name(deciding, unknown) : NULL;
    find_total(deciding, &set);
    refuse_half_a_board(deciding, &set);
    return order_copper(&set, deciding->arena, deciding->diags);
}

static size_t copper_count(const struct deciding *deciding)
{
    size_t count = 0;
    for (size_t i = 0; i < deciding->count; i++)
        count += deciding->out[i].role == ROLE_COPPER;
    return count;
}

/* "-1-12" at the end of a name is a span only where it spans the board: else it may be a version.
 */
static bool is_span_certain(const struct role_claim *claim, size_t layer_count)
{
    return !claim->is_weak || (claim->span_from == 1 && claim->span_to == layer_count);
}

static void settle_span(struct deciding *deciding, size_t index, size_t layer_count)
{
    struct role_claim claim = deciding->claims[index];
    struct file_role *out = &deciding->out[index];
    if (claim.span_to == UINT16_MAX)
        claim.span_to = (uint16_t)layer_count;
    if (claim.span_from == UINT16_MAX)
        claim.span_from = (uint16_t)layer_count;
    if (claim.span_from > claim.span_to) {
        uint16_t swap = claim.span_from;
        claim.span_from = claim.span_to;
        claim.span_to = swap;
    }
    if (claim.span_to == 0 || !is_span_certain(&claim, layer_count))
        return;
    if (claim.span_from == 0 || claim.span_to > layer_count ||
        (claim.span_from == claim.span_to && layer_count > 1)) {
        diag_add(deciding->diags, DIAG_ERROR, "roles-span", in_file(&deciding->hints[index]),
                 advise(deciding, index,
                        "check that no copper file is missing, or say: --role @=plated:FROM-TO"),
                 "%s: its holes reach from layer %u to %u, but the board has %zu copper layers",
                 shown_name(deciding, index), claim.span_from, claim.span_to, layer_count);
        return;
    }
    out->span_from = claim.span_from;
    out->span_to = claim.span_to;
}

/* Several drill files that each end in a bare pair, one of them through: the others are blind. */
static void settle_weak_spans(struct deciding *deciding, size_t layer_count)
{
    bool has_through = false;
    for (size_t i = 0; i < deciding->count; i++)
        has_through |= deciding->claims[i].is_weak && deciding->claims[i].span_from == 1 &&
                       deciding->claims[i].span_to == layer_count;
    for (size_t i = 0; i < deciding->count; i++) {
        struct role_claim *claim = &deciding->claims[i];
        if (!claim->is_weak || claim->span_to == 0)
            continue;
        bool is_through = claim->span_from == 1 && claim->span_to == layer_count;
        bool could_be = claim->span_from < claim->span_to && claim->span_to <= layer_count;
        if (has_through && could_be)
            claim->is_weak = false;
        else if (could_be && !is_through)
            diag_add(deciding->diags, DIAG_ERROR, "roles-span", in_file(&deciding->hints[i]),
                     advise(deciding, i,
                            "say which layers its holes join: --role @=plated:1-2, or --role "
                            "@=plated:1-N for through holes"),
                     "%s: its name may say that its holes reach only from layer %u to %u",
                     shown_name(deciding, i), claim->span_from, claim->span_to);
    }
}

static void settle_spans(struct deciding *deciding)
{
    size_t layer_count = copper_count(deciding);
    settle_weak_spans(deciding, layer_count);
    for (size_t i = 0; i < deciding->count; i++) {
        enum role role = deciding->out[i].role;
        if (role == ROLE_DRILL_PLATED || role == ROLE_DRILL_NONPLATED || role == ROLE_DRILL_MIXED)
            settle_span(deciding, i, layer_count);
    }
}

static void fill_out(struct deciding *deciding)
{
    for (size_t i = 0; i < deciding->count; i++) {
        const struct role_claim *claim = &deciding->claims[i];
        deciding->out[i] = (struct file_role){
            .file_id = deciding->hints[i].file_id,
            .content = deciding->hints[i].content,
            .role = claim->role,
            .is_negative = claim->role == ROLE_COPPER && claim->is_negative,
            .why = claim->why,
        };
    }
}

/* ---- the whole ---- */

static bool split_names(struct deciding *deciding)
{
    deciding->claims = arena_alloc(deciding->arena, deciding->count + 1, sizeof *deciding->claims);
    deciding->names = arena_alloc(deciding->arena, deciding->count + 1, sizeof *deciding->names);
    struct name_words *drawings =
        arena_alloc(deciding->arena, deciding->count + 1, sizeof *drawings);
    if (!deciding->claims || !deciding->names || !drawings)
        return false;
    size_t drawing_count = 0;
    for (size_t i = 0; i < deciding->count; i++) {
        name_words_split(shown_name(deciding, i), &deciding->names[i]);
        if (deciding->hints[i].content == CONTENT_DRAWING)
            drawings[drawing_count++] = deciding->names[i];
    }
    deciding->shared = drawing_count ? shared_words(drawings, drawing_count) : 0;
    return true;
}

static void decide_claims(struct deciding *deciding, const struct role_option *options,
                          size_t option_count)
{
    for (size_t i = 0; i < option_count; i++)
        apply_option(deciding, &options[i]);
    for (size_t i = 0; i < deciding->count; i++)
        if (deciding->job && deciding->claims[i].role == ROLE_IGNORE &&
            deciding->hints[i].file_id == deciding->job->file_id)
            deciding->job = NULL;
    for (size_t i = 0; i < deciding->count; i++)
        if (!deciding->claims[i].why)
            deciding->claims[i] = decide_one(deciding, i);
    set_copies_aside(deciding);
    choose_profile(deciding);
    warn_unknown(deciding);
    refuse_hole_drawings(deciding);
    refuse_cut_drawings(deciding);
    check_contradictions(deciding);
    check_polarity(deciding);
    fill_out(deciding);
}

enum package_status roles_decide(const struct file_table *files, const struct file_hint *hints,
                                 size_t hint_count, const struct job_facts *job,
                                 const struct role_option *options, size_t option_count,
                                 struct arena *arena, struct diag_list *diags,
                                 struct file_role *out)
{
    struct deciding deciding = {.files = files,
                                .hints = hints,
                                .count = hint_count,
                                .job = job && job->file_id ? job : NULL,
                                .arena = arena,
                                .diags = diags,
                                .out = out};
    size_t errors_before = diags->error_count;
    if (hint_count)
        memset(out, 0, hint_count * sizeof *out);
    if (!split_names(&deciding))
        return PACKAGE_NO_MEMORY;
    decide_claims(&deciding, options, option_count);
    enum package_status status = order_layers(&deciding);
    if (status == PACKAGE_OK)
        settle_spans(&deciding);
    if (status == PACKAGE_NO_MEMORY || deciding.is_out_of_memory || diags->is_out_of_memory)
        return PACKAGE_NO_MEMORY;
    return diags->error_count > errors_before ? PACKAGE_REFUSED : status;
}
