/* Attributes: dictionaries that TF, TA, TO and TD keep, and the sets attached to objects. */
#include "gerber_private.h"

#include <string.h>

const struct attr_value *attr_find(const struct attr_dictionary *dictionary, const char *name)
{
    for (size_t i = 0; i < dictionary->count; i++)
        if (strcmp(dictionary->values[i].name, name) == 0)
            return &dictionary->values[i];
    return NULL;
}

/* ---- fields ---- */
static size_t put_utf8(char *out, uint32_t code)
{
    if (code < 0x80) {
        out[0] = (char)code;
        return 1;
    }
    if (code < 0x800) {
        out[0] = (char)(0xC0 | code >> 6);
        out[1] = (char)(0x80 | (code & 0x3F));
        return 2;
    }
    out[0] = (char)(0xE0 | code >> 12);
    out[1] = (char)(0x80 | (code >> 6 & 0x3F));
    out[2] = (char)(0x80 | (code & 0x3F));
    return 3;
}

static int hex_digit(uint8_t byte)
{
    if (byte >= '0' && byte <= '9')
        return byte - '0';
    if (byte >= 'a' && byte <= 'f')
        return byte - 'a' + 10;
    if (byte >= 'A' && byte <= 'F')
        return byte - 'A' + 10;
    return -1;
}

/* \uXXXX, as long as it is complete; anything else stands for itself. */
static bool take_escape(const uint8_t *bytes, size_t length, uint32_t *code)
{
    if (length < 6 || bytes[0] != '\\' || bytes[1] != 'u')
        return false;
    *code = 0;
    for (int i = 2; i < 6; i++) {
        int digit = hex_digit(bytes[i]);
        if (digit < 0)
            return false;
        *code = *code << 4 | (uint32_t)digit;
    }
    return *code != 0;
}

/* One field: line breaks dropped, escapes resolved, blanks at both ends dropped. */
static const char *read_field(struct gerber *g, const uint8_t *bytes, size_t length)
{
    while (length && bytes[0] <= ' ') {
        bytes++;
        length--;
    }
    while (length && bytes[length - 1] <= ' ')
        length--;
    char *text = arena_alloc(g->arena, length + 1, 1);
    if (!text) {
        g->is_out_of_memory = true;
        return NULL;
    }
    size_t used = 0;
    for (size_t i = 0; i < length; i++) {
        uint32_t code;
        if (take_escape(bytes + i, length - i, &code)) {
            used += put_utf8(text + used, code); /* at most 3 bytes for 6 */
            i += 5;
        } else if (bytes[i] != '\r' && bytes[i] != '\n' && bytes[i] != 0) {
            text[used++] = (char)bytes[i];
        }
    }
    return text;
}

static bool read_value(struct gerber *g, const struct cursor *c, struct attr_value *out)
{
    size_t count = 0;
    for (size_t i = c->at; i < c->end; i++)
        count += c->bytes[i] == ',';
    const char **fields = arena_alloc(g->arena, count + 1, sizeof *fields);
    if (!fields) {
        g->is_out_of_memory = true;
        return false;
    }
    *out = (struct attr_value){.fields = fields, .field_count = (uint32_t)count};
    size_t from = c->at;
    for (size_t i = 0; i <= count; i++) {
        const uint8_t *comma = memchr(c->bytes + from, ',', c->end - from);
        size_t to = comma ? (size_t)(comma - c->bytes) : c->end;
        const char *field = read_field(g, c->bytes + from, to - from);
        if (!field)
            return false;
        if (i == 0)
            out->name = field;
        else
            fields[i - 1] = field;
        from = to + 1;
    }
    return true;
}

/* ---- dictionaries ---- */
static void set_value(struct gerber *g, struct attr_dictionary *d, const struct attr_value *value)
{
    for (size_t i = 0; i < d->count; i++) {
        if (strcmp(d->values[i].name, value->name) == 0) {
            d->values[i] = *value;
            return;
        }
    }
    if (d->count >= GERBER_MAX_ATTRIBUTES) {
        gerber_error(g, g->word_offset, "gerber-attributes", "export again",
                     "more than %d attributes at one time", GERBER_MAX_ATTRIBUTES);
        return;
    }
    if (!array_grow(&d->values, sizeof *d->values, &d->capacity, d->count + 1)) {
        g->is_out_of_memory = true;
        return;
    }
    d->values[d->count++] = *value;
}

static void delete_value(struct attr_dictionary *d, const char *name)
{
    if (!*name) {
        d->count = 0;
        return;
    }
    for (size_t i = 0; i < d->count; i++) {
        if (strcmp(d->values[i].name, name) == 0) {
            memmove(&d->values[i], &d->values[i + 1], (d->count - i - 1) * sizeof *d->values);
            d->count--;
            return;
        }
    }
}

static void set_file_attr(struct gerber *g, const struct attr_value *value)
{
    if (!array_grow(&g->file_attrs, sizeof *g->file_attrs, &g->file_attr_capacity,
                    g->file_attr_count + 1)) {
        g->is_out_of_memory = true;
        return;
    }
    g->file_attrs[g->file_attr_count++] = (struct file_attr){.name = value->name,
                                                             .fields = value->fields,
                                                             .field_count = value->field_count,
                                                             .at = g->word_at};
}

void gerber_attribute(struct gerber *g, char kind, struct cursor c)
{
    struct attr_value value;
    if (!read_value(g, &c, &value))
        return;
    g->is_attrs_current = false;
    if (kind == 'D') {
        delete_value(&g->aperture_attrs, value.name);
        delete_value(&g->object_attrs, value.name);
        return;
    }
    if (!*value.name) {
        gerber_odd(g, g->word_offset, ODD_BAD_ATTRIBUTE, "%s has no name: skipped",
                   gerber_quote_word(g, g->word_offset));
        return;
    }
    if (kind == 'F')
        set_file_attr(g, &value);
    else
        set_value(g, kind == 'A' ? &g->aperture_attrs : &g->object_attrs, &value);
}

/* ---- the set attached to an object ---- */
static const char *field_or_null(const struct attr_value *value, uint32_t index)
{
    return value && index < value->field_count && *value->fields[index] ? value->fields[index]
                                                                        : NULL;
}

static void take_nets(struct object_attrs *a, const struct attr_value *value)
{
    if (!value)
        return;
    a->is_no_net = value->field_count == 0 || (value->field_count == 1 && !*value->fields[0]);
    if (a->is_no_net)
        return;
    a->nets = value->fields;
    a->net_count = value->field_count;
}

static struct object_attrs collect(const struct gerber *g, uint32_t tool)
{
    struct object_attrs a = {0};
    const struct attr_value *pin = attr_find(&g->object_attrs, ".P");
    take_nets(&a, attr_find(&g->object_attrs, ".N"));
    a.ref = field_or_null(pin, 0);
    a.pin = field_or_null(pin, 1);
    a.pin_function = field_or_null(pin, 2);
    a.component = field_or_null(attr_find(&g->object_attrs, ".C"), 0);
    if (tool != ISTHMUS_NONE) {
        a.aperture_function = g->tools[tool].function;
        a.aperture_function_detail = g->tools[tool].function_detail;
        return a;
    }
    const struct attr_value *function = attr_find(&g->aperture_attrs, ".AperFunction");
    a.aperture_function = field_or_null(function, 0);
    a.aperture_function_detail = field_or_null(function, 1);
    return a;
}

static bool is_same_text(const char *a, const char *b)
{
    return a == b || (a && b && strcmp(a, b) == 0);
}

static bool is_same(const struct object_attrs *a, const struct object_attrs *b)
{
    if (a->net_count != b->net_count || a->is_no_net != b->is_no_net ||
        !is_same_text(a->ref, b->ref) || !is_same_text(a->pin, b->pin) ||
        !is_same_text(a->pin_function, b->pin_function) ||
        !is_same_text(a->component, b->component) ||
        !is_same_text(a->aperture_function, b->aperture_function) ||
        !is_same_text(a->aperture_function_detail, b->aperture_function_detail))
        return false;
    for (uint32_t i = 0; i < a->net_count; i++)
        if (strcmp(a->nets[i], b->nets[i]) != 0)
            return false;
    return true;
}

static uint64_t mix(uint64_t hash, const char *text)
{
    uint64_t part = text ? gerber_hash(text, strlen(text)) : 1;
    return (hash ^ part) * UINT64_C(0x100000001b3) + 1;
}

static uint64_t hash_of(const struct object_attrs *a)
{
    uint64_t hash = mix(a->is_no_net, a->ref);
    hash = mix(mix(hash, a->pin), a->pin_function);
    hash = mix(mix(hash, a->component), a->aperture_function);
    hash = mix(hash, a->aperture_function_detail);
    for (uint32_t i = 0; i < a->net_count; i++)
        hash = mix(hash, a->nets[i]);
    return hash;
}

static uint32_t intern(struct gerber *g, const struct object_attrs *a)
{
    uint64_t hash = hash_of(a);
    uint32_t index;
    while ((index = symbols_find(g->attrs_of_hash, &hash, sizeof hash)) != ISTHMUS_NONE) {
        if (is_same(a, &g->attrs[index]))
            return index;
        hash++; /* another set with this hash */
    }
    if (!array_grow(&g->attrs, sizeof *g->attrs, &g->attrs_capacity, g->attrs_count + 1) ||
        !symbols_put(&g->attrs_of_hash, &hash, sizeof hash, (uint32_t)g->attrs_count)) {
        g->is_out_of_memory = true;
        return 0;
    }
    g->attrs[g->attrs_count] = *a;
    return (uint32_t)g->attrs_count++;
}

uint32_t gerber_current_attrs(struct gerber *g, uint32_t tool)
{
    if (g->is_attrs_current && g->current_attrs_tool == tool)
        return g->current_attrs;
    struct object_attrs a = collect(g, tool);
    static const struct object_attrs none;
    g->current_attrs = is_same(&a, &none) ? 0 : intern(g, &a);
    g->current_attrs_tool = tool;
    g->is_attrs_current = true;
    return g->current_attrs;
}
