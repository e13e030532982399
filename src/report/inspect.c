/* What was understood of a package: files, holes, layers, nets, terminals, doubts. */
#include "words.h"

#include <stdlib.h>
#include <string.h>

#define NAMES_SHOWN 12
#define DEAD_ENDS_SHOWN 30

struct view {
    const struct report_input *in;
    const struct board *board;
    FILE *out;
};

static void put_place(const struct view *view, struct pos_nm at)
{
    if (view->in->options->use_mil)
        fprintf(view->out, "(%.1f, %.1f) mil", (double)at.x_nm / 25400, (double)at.y_nm / 25400);
    else
        fprintf(view->out, "(%.3f, %.3f) mm", nm_to_mm(at.x_nm), nm_to_mm(at.y_nm));
}

static const struct drawing *drawing_of(const struct board *board, uint32_t file_id)
{
    for (size_t i = 0; i < board->role_count; i++)
        if (board->drawings && board->roles[i].file_id == file_id &&
            board->drawings[i].file_id == file_id)
            return &board->drawings[i];
    return NULL;
}

static void put_drawing(const struct view *view, const struct drawing *drawing)
{
    size_t counts[4] = {0};
    for (size_t i = 0; i < drawing->object_count; i++)
        counts[drawing->objects[i].kind]++;
    fprintf(
        view->out,
        "      %s, format %u.%u; %zu strokes, %zu arcs, %zu flashes, %zu regions, %zu apertures\n",
        drawing->is_inch ? "inch" : "mm", drawing->integer_digits, drawing->decimal_digits,
        counts[OBJECT_STROKE], counts[OBJECT_ARC_STROKE], counts[OBJECT_FLASH],
        counts[OBJECT_REGION], drawing->aperture_count);
    if (drawing->min.x_nm > drawing->max.x_nm)
        return;
    fputs("      extent ", view->out);
    put_place(view, drawing->min);
    fputs(" to ", view->out);
    put_place(view, drawing->max);
    fputc('\n', view->out);
}

static void put_hole_list(const struct view *view, const struct hole_list *list)
{
    fprintf(view->out, "      %s; %zu holes\n", list->reading ? list->reading : "as drawn",
            list->hole_count);
    for (size_t i = 0; i < list->tool_count; i++) {
        const struct tool *tool = &list->tools[i];
        fprintf(view->out, "      tool %u: %.3f mm, %u holes%s%s\n", tool->number,
                nm_to_mm(tool->diameter_nm), tool->hole_count, tool->function ? ", " : "",
                tool->function ? tool->function : "");
    }
}

static void put_file(const struct view *view, const struct file_role *role)
{
    const struct board *board = view->board;
    const struct source_file *file = &board->files->files[role->file_id - 1];
    char word[16];
    fprintf(view->out, "  %s\n      %s", file->name, role_word(role->role));
    if (role->role == ROLE_COPPER)
        fprintf(view->out, ", %s (layer %u of %zu)%s", layer_word(board, role->position, word),
                role->position, board->layer_count, role->is_negative ? ", negative" : "");
    fprintf(view->out, "; by %s\n      %zu bytes, SHA-256 %s\n", role->why ? role->why : "nothing",
            file->size, file->sha256);
    const struct drawing *drawing = drawing_of(board, role->file_id);
    if (drawing)
        put_drawing(view, drawing);
    for (size_t i = 0; i < board->hole_list_count; i++)
        if (board->hole_lists[i].file_id == role->file_id)
            put_hole_list(view, &board->hole_lists[i]);
}

static void put_holes(const struct view *view)
{
    const struct board *board = view->board;
    size_t plated = 0, vias = 0, contacts = 0, castellated = 0;
    for (size_t i = 0; i < board->hole_count; i++) {
        plated += board->holes[i].is_plated;
        vias += board->holes[i].is_via;
        contacts += board->holes[i].contact != ISTHMUS_NONE;
        castellated += board->holes[i].is_on_profile;
    }
    fprintf(view->out,
            "\nHoles: %zu; %zu plated (%zu vias, %zu with a contact, %zu on the profile), %zu not "
            "plated\n",
            board->hole_count, plated, vias, contacts, castellated, board->hole_count - plated);
}

static void put_layers(const struct view *view)
{
    const struct board *board = view->board;
    char word[16];
    fputs("\nCopper layers\n", view->out);
    for (size_t i = 0; i < board->layer_count; i++) {
        const struct sheet_mesh *mesh = &board->layers[i].mesh;
        double area_mm2 = 0;
        for (uint32_t c = 0; c < mesh->component_count; c++)
            area_mm2 += mesh->component_area_mm2[c];
        fprintf(view->out,
                "  %-9s %8.1f mm2 in %u islands; outline edges %u; rounding moved edges by at most "
                "%.2f nm\n",
                layer_word(board, board->layers[i].position, word), area_mm2, mesh->component_count,
                mesh->bound_count, mesh->drift_nm);
    }
}

static void put_terminal(const struct view *view, const struct terminal *terminal)
{
    fprintf(view->out, "      %-24s %zu contact%s:", terminal->name, terminal->contact_count,
            terminal->contact_count == 1 ? "" : "s");
    for (size_t i = 0; i < terminal->contact_count && i < 4; i++) {
        const struct contact *contact = &view->board->contacts[terminal->contacts[i]];
        char word[16];
        fputs(" ", view->out);
        put_place(view, contact->place);
        fprintf(view->out, " %s by %s%s",
                contact->layer_from == contact->layer_to
                    ? layer_word(view->board, contact->layer_from, word)
                    : "through",
                contact_source_word(contact->source), contact->is_disc ? " (disc assumed)" : "");
    }
    fputs(terminal->contact_count > 4 ? " ...\n" : "\n", view->out);
}

static void put_net(const struct view *view, const struct net *net)
{
    fprintf(view->out, "  %-16s %8.2f mm2, %zu conductor%s, %zu terminal%s (named by %s)\n",
            net->name ? net->name : "(no name)", net->area_mm2, net->conductor_count,
            net->conductor_count == 1 ? "" : "s", net->terminal_count,
            net->terminal_count == 1 ? "" : "s", net->named_by ? net->named_by : "nothing");
    if (net->state_detail)
        fprintf(view->out, "      ! %s\n", net->state_detail);
    for (size_t i = 0; i < net->terminal_count; i++)
        put_terminal(view, &view->board->terminals[net->terminals[i]]);
}

static void put_conductors(const struct view *view)
{
    const struct board *board = view->board;
    size_t unnamed = 0, islands = 0;
    for (size_t i = 0; i < board->conductor_count; i++) {
        unnamed += board->conductors[i].net == ISTHMUS_NONE;
        islands += board->conductors[i].is_island;
    }
    fprintf(view->out, "\nConductors: %zu; %zu without a net name, %zu without a terminal\n",
            board->conductor_count, unnamed, islands);
    size_t shown = 0;
    uint32_t *order = conductor_order(board); /* most copper first */
    for (size_t i = 0; order && i < board->conductor_count && shown < NAMES_SHOWN; i++) {
        const struct conductor *conductor = &board->conductors[order[i]];
        if (!conductor->is_island)
            continue;
        char word[16];
        fprintf(view->out, "  island of %.2f mm2, %s, at ", conductor->area_mm2,
                layer_word(board, conductor->place_layer, word));
        put_place(view, conductor->place);
        fprintf(view->out, "%s%s\n", conductor->net != ISTHMUS_NONE ? ", net " : "",
                conductor->net != ISTHMUS_NONE ? net_name(board, conductor->net) : "");
        shown++;
    }
    free(order);
    if (islands > shown)
        fprintf(view->out, "  and %zu more without a terminal\n", islands - shown);
}

static void put_bared(const struct view *view)
{
    const struct board *board = view->board;
    if (board->bared_count)
        fputs("\nBared copper (mask openings that are no contact; solder on them gets no credit)\n",
              view->out);
    for (size_t i = 0; i < board->bared_count; i++) {
        char word[16];
        fprintf(view->out, "  %s, %.1f mm2, ", layer_word(board, board->bared[i].layer, word),
                board->bared[i].area_mm2);
        put_place(view, board->bared[i].min);
        fputs(" to ", view->out);
        put_place(view, board->bared[i].max);
        fputc('\n', view->out);
    }
}

/* Those in a hole or pad all, of those in bare laminate the first. */
static void put_dead_ends(const struct view *view)
{
    const struct board *board = view->board;
    size_t shown = 0, left = 0;
    if (view->in->dead_end_count)
        fputs("\nCopper that leads to no terminal\n", view->out);
    for (size_t i = 0; i < view->in->dead_end_count; i++) {
        const struct dead_end *item = &view->in->dead_ends[i];
        uint32_t net = item->conductor < board->conductor_count
                           ? board->conductors[item->conductor].net
                           : ISTHMUS_NONE;
        if (item->branch.reason == BRANCH_LONG && shown++ >= DEAD_ENDS_SHOWN)
            left++;
        else
            report_dead_end(view->in, net, &item->branch, view->out);
    }
    if (left)
        fprintf(view->out, "  and %zu more that end in bare laminate\n", left);
}

static enum report_status write_report(const void *what, FILE *out)
{
    const struct report_input *in = what;
    const struct view view = {in, in->board, out};
    fprintf(out, "isthmus %s: what was understood of %s\n\nFiles\n", in->options->version,
            in->options->package);
    for (size_t i = 0; i < in->board->role_count; i++)
        put_file(&view, &in->board->roles[i]);
    put_layers(&view);
    put_holes(&view);
    put_conductors(&view);
    fprintf(out, "\nNets: %zu\n", in->board->net_count);
    for (size_t i = 0; i < in->board->net_count; i++)
        put_net(&view, &in->board->nets[i]);
    put_dead_ends(&view);
    put_bared(&view);
    fputs("\nProfile: ", out);
    if (!in->board->has_profile)
        fputs("none in the package\n", out);
    else {
        put_place(&view, in->board->min);
        fputs(" to ", out);
        put_place(&view, in->board->max);
        fputc('\n', out);
    }
    fputs("\nDoubtful or worth knowing\n", out);
    report_diags(in->board->files, in->diags, in->options->use_colour, out);
    if (in->diags->count == 0)
        fputs("  nothing\n", out);
    fputs("\nOptions:", out);
    for (size_t i = 0; i < in->options->option_count; i++)
        fprintf(out, " %s", in->options->options[i]);
    fputs(in->options->option_count ? "\n" : " none\n", out);
    return ferror(out) ? REPORT_WRITE_FAILED : REPORT_OK;
}

enum report_status report_inspect_text(const struct report_input *in, FILE *out)
{
    return report_plain(write_report, in, in->options->use_colour, out);
}
