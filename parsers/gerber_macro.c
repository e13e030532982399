/* Aperture macros: their statements, and their arithmetic as a stack program. */
#include "gerber_private.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

uint64_t gerber_hash(const char *text, size_t length)
{
    uint64_t hash = UINT64_C(0xcbf29ce484222325); /* FNV-1a */
    for (size_t i = 0; i < length; i++)
        hash = (hash ^ (uint8_t)text[i]) * UINT64_C(0x100000001b3);
    return hash;
}

void macro_free(struct macro *macro)
{
    free(macro->statements);
    free(macro->exprs);
    free(macro->tokens);
}

/* ---- reading ---- */
static bool fail(struct gerber *g, size_t offset, const char *expected)
{
    gerber_error(g, offset, "gerber-macro", "export again", "%s in a macro: expected %s",
                 gerber_quote_word(g, offset), expected);
    return false;
}

static bool add_token(struct gerber *g, struct macro *m, struct macro_token token)
{
    if (!array_grow(&m->tokens, sizeof *m->tokens, &m->token_capacity, m->token_count + 1)) {
        g->is_out_of_memory = true;
        return false;
    }
    m->tokens[m->token_count++] = token;
    return true;
}

static bool read_sum(struct gerber *g, struct macro *m, struct cursor *c, int depth);

static bool read_operand(struct gerber *g, struct macro *m, struct cursor *c)
{
    struct macro_token token = {.op = MACRO_NUMBER};
    size_t offset = c->at;
    if (cursor_take(c, '$')) {
        token.op = MACRO_VARIABLE;
        if (!cursor_uint(c, GERBER_MAX_VARIABLE, &token.variable) || token.variable == 0)
            return fail(g, offset, "$1 to $1000");
    } else if (!cursor_number(c, &token.number)) {
        return fail(g, offset, "a number, $n or a parenthesis");
    }
    return add_token(g, m, token);
}

/* Signs stand before a factor: -$1, +2, -(..). */
static bool read_factor(struct gerber *g, struct macro *m, struct cursor *c, int depth)
{
    bool is_negative = false;
    for (;;) {
        if (cursor_take(c, '-'))
            is_negative = !is_negative;
        else if (!cursor_take(c, '+'))
            break;
    }
    if (cursor_take(c, '(')) {
        if (depth >= GERBER_MAX_PAREN)
            return fail(g, c->at, "at most 64 parentheses within each other");
        if (!read_sum(g, m, c, depth + 1))
            return false;
        if (!cursor_take(c, ')'))
            return fail(g, c->at, "a closing parenthesis");
    } else if (!read_operand(g, m, c)) {
        return false;
    }
    return !is_negative || add_token(g, m, (struct macro_token){.op = MACRO_NEG});
}

static bool take_times(struct gerber *g, struct cursor *c)
{
    if (cursor_take(c, 'x'))
        return true;
    if (!cursor_take(c, 'X'))
        return false;
    gerber_odd(g, c->at - 1, ODD_UPPER_CASE_X, "X in a macro is read as x, multiplication");
    return true;
}

static bool read_product(struct gerber *g, struct macro *m, struct cursor *c, int depth)
{
    if (!read_factor(g, m, c, depth))
        return false;
    for (;;) {
        struct macro_token token = {.op = MACRO_MUL};
        if (cursor_take(c, '/'))
            token.op = MACRO_DIV;
        else if (!take_times(g, c))
            return true;
        if (!read_factor(g, m, c, depth) || !add_token(g, m, token))
            return false;
    }
}

static bool read_sum(struct gerber *g, struct macro *m, struct cursor *c, int depth)
{
    if (!read_product(g, m, c, depth))
        return false;
    for (;;) {
        struct macro_token token = {.op = MACRO_ADD};
        if (cursor_take(c, '-'))
            token.op = MACRO_SUB;
        else if (!cursor_take(c, '+'))
            return true;
        if (!read_product(g, m, c, depth) || !add_token(g, m, token))
            return false;
    }
}

static bool read_expr(struct gerber *g, struct macro *m, struct cursor *c)
{
    if (!array_grow(&m->exprs, sizeof *m->exprs, &m->expr_capacity, m->expr_count + 1) ||
        m->token_count >= ISTHMUS_NONE / 2) {
        g->is_out_of_memory = true;
        return false;
    }
    uint32_t first = (uint32_t)m->token_count;
    if (!read_sum(g, m, c, 0))
        return false;
    m->exprs[m->expr_count++] = (struct macro_expr){
        .first_token = first, .token_count = (uint32_t)(m->token_count - first)};
    return true;
}

static bool read_head(struct gerber *g, struct cursor *c, struct macro_statement *s)
{
    uint32_t code;
    if (cursor_take(c, '$')) {
        if (!cursor_uint(c, GERBER_MAX_VARIABLE, &s->variable) || s->variable == 0 ||
            !cursor_take(c, '='))
            return fail(g, s->offset, "$n= with n from 1 to 1000");
        s->code = -1;
        return true;
    }
    if (!cursor_uint(c, 99, &code) || !cursor_take(c, ','))
        return fail(g, s->offset, "a primitive's number and a comma, $n=, or 0 and a comment");
    s->code = (int32_t)code;
    return true;
}

static bool is_comment(const struct cursor *c)
{
    if (c->at >= c->end || c->bytes[c->at] != '0')
        return false;
    return c->at + 1 >= c->end || c->bytes[c->at + 1] < '0' || c->bytes[c->at + 1] > '9';
}

static bool read_statement(struct gerber *g, struct macro *m, struct cursor *c)
{
    cursor_skip_space(c);
    if (c->at >= c->end || is_comment(c))
        return true;
    struct macro_statement s = {.first_expr = (uint32_t)m->expr_count, .offset = c->at};
    if (!read_head(g, c, &s))
        return false;
    do {
        if (!read_expr(g, m, c))
            return false;
    } while (s.code >= 0 && cursor_take(c, ','));
    cursor_skip_space(c);
    if (c->at < c->end)
        return fail(g, c->at, "a comma, an operator or *");
    s.expr_count = (uint32_t)m->expr_count - s.first_expr;
    if (!array_grow(&m->statements, sizeof *m->statements, &m->statement_capacity,
                    m->statement_count + 1)) {
        g->is_out_of_memory = true;
        return false;
    }
    m->statements[m->statement_count++] = s;
    return true;
}

static void keep_macro(struct gerber *g, const struct macro *m)
{
    size_t length = strlen(m->name);
    if (symbols_find(g->macro_of_name, m->name, length) != ISTHMUS_NONE)
        gerber_odd(g, g->word_offset, ODD_REDEFINED_MACRO,
                   "%s is defined again: the new one holds from here on",
                   gerber_quote_word(g, g->word_offset));
    if (!array_grow(&g->macros, sizeof *g->macros, &g->macro_capacity, g->macro_count + 1) ||
        !symbols_put(&g->macro_of_name, m->name, length, (uint32_t)g->macro_count)) {
        g->is_out_of_memory = true;
        return;
    }
    g->macros[g->macro_count++] = *m;
}

static size_t word_end(const struct cursor *c)
{
    const uint8_t *star = memchr(c->bytes + c->at, '*', c->end - c->at);
    return star ? (size_t)(star - c->bytes) : c->end;
}

/* c stands behind "AM" and spans the rest of the block: NAME*statement*statement*... */
void gerber_define_macro(struct gerber *g, struct cursor *c)
{
    struct macro m = {0};
    cursor_skip_space(c);
    size_t end = word_end(c), name_end = end;
    while (name_end > c->at && c->bytes[name_end - 1] <= ' ')
        name_end--;
    bool is_good = name_end > c->at || fail(g, c->at, "the macro's name");
    m.name = arena_strndup(g->arena, (const char *)c->bytes + c->at, name_end - c->at);
    if (!m.name)
        g->is_out_of_memory = true;
    c->at = end;
    while (is_good && !g->is_out_of_memory && cursor_take(c, '*')) {
        struct cursor statement = {.bytes = c->bytes, .at = c->at, .end = word_end(c)};
        is_good = read_statement(g, &m, &statement);
        c->at = word_end(c);
    }
    if (is_good && !g->is_out_of_memory) {
        size_t before = g->macro_count;
        keep_macro(g, &m);
        if (g->macro_count > before)
            return;
    }
    macro_free(&m);
}

/* ---- carrying out ---- */
struct machine {
    double variables[GERBER_MAX_VARIABLE + 1];
    bool is_set[GERBER_MAX_VARIABLE + 1];
    double *stack, *values;
    size_t stack_capacity, value_capacity;
};

static bool divide(struct gerber *g, size_t offset, double a, double b, double *out)
{
    *out = a / b;
    return b != 0 || fail(g, offset, "a divisor that is not 0");
}

static bool evaluate(struct gerber *g, struct machine *v, const struct macro *m,
                     const struct macro_expr *e, size_t offset, double *out)
{
    if (!array_grow(&v->stack, sizeof *v->stack, &v->stack_capacity, e->token_count + (size_t)1)) {
        g->is_out_of_memory = true;
        return false;
    }
    double *top = v->stack; /* one above the topmost */
    for (uint32_t i = 0; i < e->token_count; i++) {
        const struct macro_token *t = &m->tokens[e->first_token + i];
        if (t->op == MACRO_NUMBER || t->op == MACRO_VARIABLE) {
            *top++ = t->op == MACRO_NUMBER ? t->number : v->variables[t->variable];
            continue;
        }
        if (t->op == MACRO_NEG) {
            top[-1] = -top[-1];
            continue;
        }
        top--;
        if (t->op == MACRO_ADD)
            top[-1] += top[0];
        else if (t->op == MACRO_SUB)
            top[-1] -= top[0];
        else if (t->op == MACRO_MUL)
            top[-1] *= top[0];
        else if (!divide(g, offset, top[-1], top[0], &top[-1]))
            return false;
    }
    *out = top[-1];
    return isfinite(*out) || fail(g, offset, "arithmetic with a finite result");
}

bool gerber_spend_work(struct gerber *g, size_t work)
{
    if (work > g->work_left) {
        g->is_too_large = true;
        return false;
    }
    g->work_left -= work;
    return true;
}

static void assign(struct gerber *g, struct machine *v, const struct macro_statement *s)
{
    if (v->is_set[s->variable])
        gerber_odd(g, s->offset, ODD_REDEFINED_VARIABLE, "%s changes a variable that has a value",
                   gerber_quote_word(g, s->offset));
    v->variables[s->variable] = v->values[0];
    v->is_set[s->variable] = true;
}

static bool run_statement(struct gerber *g, struct machine *v, const struct macro *m,
                          struct tool *tool, const struct macro_statement *s)
{
    if (!array_grow(&v->values, sizeof *v->values, &v->value_capacity, s->expr_count + (size_t)1)) {
        g->is_out_of_memory = true;
        return false;
    }
    for (uint32_t i = 0; i < s->expr_count; i++) {
        const struct macro_expr *e = &m->exprs[s->first_expr + i];
        if (!gerber_spend_work(g, e->token_count) ||
            !evaluate(g, v, m, e, s->offset, &v->values[i]))
            return false;
    }
    if (s->code < 0)
        assign(g, v, s);
    else
        gerber_primitive(g, tool, s, v->values, s->expr_count);
    return !tool->is_broken && !g->is_out_of_memory && !g->is_too_large;
}

static void start_variables(struct machine *v, const struct tool *tool)
{
    size_t count =
        tool->param_count < GERBER_MAX_VARIABLE ? tool->param_count : GERBER_MAX_VARIABLE;
    for (size_t i = 0; i < count; i++) {
        v->variables[i + 1] = tool->params[i];
        v->is_set[i + 1] = true;
    }
}

void gerber_build_macro(struct gerber *g, struct tool *tool)
{
    const struct macro *m = &g->macros[tool->macro];
    struct machine *v = NULL;
    size_t capacity = 0;
    if (!array_grow(&v, sizeof *v, &capacity, 1)) {
        g->is_out_of_memory = true;
        return;
    }
    *v = (struct machine){.stack = NULL};
    start_variables(v, tool);
    for (size_t i = 0; i < m->statement_count; i++) {
        if (!gerber_spend_work(g, 1) || !run_statement(g, v, m, tool, &m->statements[i])) {
            tool->is_broken = true;
            break;
        }
    }
    free(v->stack);
    free(v->values);
    free(v);
}
