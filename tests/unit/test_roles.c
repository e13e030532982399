/*
 * Roles of files. Names and endings: common practice, no source. The real packages' expected roles
 * were set down by hand from each package's file list, its attributes and its contents.
 */
#include "assertions.h"
#include "diags.h"
#include "hints.h"
#include "isthmus/currents.h"
#include "isthmus/package.h"

#define FILES_MAX 64

struct world {
    struct arena *arena;
    struct diag_list diags;
    struct file_table files;
    struct file_hint hints[FILES_MAX];
    struct file_role roles[FILES_MAX];
    struct role_option options[8];
    size_t option_count;
    struct job_facts job;
};

static int world_up(void **state)
{
    struct world *world = calloc(1, sizeof *world);
    world->arena = arena_new("test");
    world->diags.arena = world->arena;
    *state = world;
    return 0;
}

static int world_down(void **state)
{
    struct world *world = *state;
    file_table_free(&world->files);
    arena_free(world->arena);
    free(world);
    return 0;
}

static struct file_hint *add(struct world *world, const char *name, enum content content)
{
    assert_true(world->files.count < FILES_MAX);
    uint32_t id = file_table_add(&world->files, name, (const uint8_t *)"x", 1, true);
    struct file_hint *hint = &world->hints[id - 1];
    *hint = (struct file_hint){.file_id = id, .content = content, .stroke_count = 1};
    return hint;
}

/* Names apart by blanks; a name with "drl", "xln", "txt" or "exc" at its end is a drill file. */
static void add_all(struct world *world, const char *names)
{
    while (*(names += strspn(names, " "))) {
        size_t length = strcspn(names, " ");
        char *name = arena_strndup(world->arena, names, length);
        bool is_drill = length > 3 && strstr("drl xln txt exc DRL TXT", name + length - 3);
        add(world, name, is_drill ? CONTENT_DRILL : CONTENT_DRAWING);
        names += length;
    }
}

static void set_function(struct world *world, struct file_hint *hint, const char *text)
{
    const char **fields = arena_alloc(world->arena, 8, sizeof *fields);
    for (size_t length; *text; text += length + (text[length] == ',')) {
        length = strcspn(text, ",");
        fields[hint->file_function_count++] = arena_strndup(world->arena, text, length);
    }
    hint->file_function = fields;
}

static void add_option(struct world *world, const char *file, const char *role)
{
    world->options[world->option_count++] = (struct role_option){file, role};
}

static enum package_status decide(struct world *world)
{
    return roles_decide(&world->files, world->hints, world->files.count, &world->job,
                        world->options, world->option_count, world->arena, &world->diags,
                        world->roles);
}

static const char *role_word(const struct file_role *role, char buffer[48])
{
    static const char *const words[] = {"unknown",     "ignore",  "copper", "mask-top",
                                        "mask-bottom", "profile", "plated", "nonplated",
                                        "drill",       "netlist", "job",    "other"};
    int used = snprintf(buffer, 48, "%s", words[role->role]);
    if (role->role == ROLE_COPPER)
        used += snprintf(buffer + used, 48 - (size_t)used, ":%u%s%s", role->position,
                         role->side == SIDE_TOP      ? "t"
                         : role->side == SIDE_BOTTOM ? "b"
                                                     : "",
                         role->is_negative ? ":negative" : "");
    if (role->span_from)
        snprintf(buffer + used, 48 - (size_t)used, ":%u-%u", role->span_from, role->span_to);
    return buffer;
}

/* Words apart by blanks, one a file in the order in which they were added. */
static void assert_roles(struct world *world, const char *expected)
{
    if (decide(world) != PACKAGE_OK) {
        diags_print(&world->diags, DIAG_NOTE);
        fail_msg("roles were refused");
    }
    for (size_t i = 0; i < world->files.count; i++) {
        char buffer[48];
        const char *found = role_word(&world->roles[i], buffer);
        size_t length = strcspn(expected, " ");
        if (strlen(found) != length || strncmp(found, expected, length) != 0)
            fail_msg("%s is %s, expected %.*s", world->files.files[i].name, found, (int)length,
                     expected);
        assert_non_null(world->roles[i].why);
        expected += length + (expected[length] == ' ');
    }
}

static void assert_refused(struct world *world, const char *code, const char *word)
{
    assert_int_equal(decide(world), PACKAGE_REFUSED);
    const struct diag *diag = diag_find(&world->diags, code);
    if (!diag) {
        diags_print(&world->diags, DIAG_NOTE);
        fail_msg("no diagnostic %s", code);
    }
    assert_int_equal(diag->level, DIAG_ERROR);
    assert_non_null(diag->advice);
    if (!strstr(diag->text, word) && !strstr(diag->advice, word))
        fail_msg("no \"%s\" in: %s (%s)", word, diag->text, diag->advice);
}

/* ---- conventions ---- */

static const struct {
    const char *names, *roles;
} conventions[] = {
    {"x.gtl x.gbl x.gts x.gbs x.gko x.gto x.gbo x.gtp x.gbp x.txt",
     "copper:1t copper:2b mask-top mask-bottom profile other other other other drill"},
    {"x.cmp x.sol x.stc x.sts x.plc x.pls x.crc x.dim x.drl",
     "copper:1t copper:2b mask-top mask-bottom other other other profile drill"},
    {"P.TOP P.BOT P.SMT P.SMB P.SST P.AST P.SPT P.FAB P.OLN",
     "copper:1t copper:2b mask-top mask-bottom other other other other profile"},
    {"b-F_Cu.gbr b-In1_Cu.gbr b-In2_Cu.gbr b-B_Cu.gbr b-F_Mask.gbr b-B_Mask.gbr b-Edge_Cuts.gbr "
     "b-F_Fab.gbr b-F_Courtyard.gbr b-User_1.gbr b-PTH.drl b-NPTH.drl",
     "copper:1t copper:2 copper:3 copper:4b mask-top mask-bottom profile other other other plated "
     "nonplated"},
    {"b-F.Cu.gbr b-In2.Cu.gbr b-In1.Cu.gbr b-B.Cu.gbr b-Edge.Cuts.gbr",
     "copper:1t copper:3 copper:2 copper:4b profile"},
    {"copper_top.pho copper_bottom.pho soldermask_top.pho silkscreen_top.pho boardoutline.pho",
     "copper:1t copper:2b mask-top other profile"},
    {"x.toplayer.ger x.bottomlayer.ger x.topsoldermask.ger x.bottomsilkscreen.ger x.profile.ger",
     "copper:1t copper:2b mask-top other profile"},
    {"TOP.art LAY2_GND.art LAY3.art BOTTOM.art MASK_TOP.art PAST_BOT.art DRILL.art b.drl",
     "copper:1t copper:2 copper:3 copper:4b mask-top other other drill"},
    {"art01.pho art02.pho art03.pho art04.pho smtop.pho sst01.pho",
     "copper:1t copper:2 copper:3 copper:4b mask-top other"},
    {"x_L01.gbr x_L02.gbr x_SMTop.gbr x_SMBottom.gbr x_SPTop.gbr",
     "copper:1t copper:2b mask-top mask-bottom other"},
    {"x.tcream.ger x.bcream.ger x.toplayer.ger x.bottomlayer.ger x.mil",
     "other other copper:1t copper:2b profile"},
    /* Names of projects that speak of sides and kinds of layers themselves. */
    {"Bottom_Board-F_Cu.gbr Bottom_Board-In1_Cu.gbr Bottom_Board-In2_Cu.gbr "
     "Bottom_Board-B_Cu.gbr Bottom_Board-F_Mask.gbr Bottom_Board-Edge_Cuts.gbr",
     "copper:1t copper:2 copper:3 copper:4b mask-top profile"},
    {"Power_Drill-F_Cu.gbr Power_Drill-B_Cu.gbr Power_Drill-B_Mask.gbr Power_Drill-F_Fab.gbr",
     "copper:1t copper:2b mask-bottom other"},
    {"b_GTL.gbr b_GBL.gbr b_GTS.gbr b_GKO.gbr", "copper:1t copper:2b mask-top profile"},
    {"x.gtl x.g1 x.g2 x.gbl x_v1-2.drl", "copper:1t copper:2 copper:3 copper:4b drill"},
    {"L01.art L02.art L03.art L04.art", "copper:1t copper:2 copper:3 copper:4b"},
    {"Layer_1.gbr Layer_2.gbr", "copper:1t copper:2b"},
    {"component_side.gbr solder_side.gbr", "copper:1t copper:2b"},
    {"Primary_Side.gbr Secondary_Side.gbr", "copper:1t copper:2b"},
    {"Front.gbr Back.gbr Outline.gbr", "copper:1t copper:2b profile"},
    {"x_tcu.gbr x_bcu.gbr x_tmask.gbr", "copper:1t copper:2b mask-top"},
    {"top_cu.gbr inner_1_cu.gbr inner_2_cu.gbr bot_cu.gbr top_sm.gbr bot_sm.gbr top_ss.gbr",
     "copper:1t copper:2 copper:3 copper:4b mask-top mask-bottom other"},
    {"x_copper_top.gbr x_copper_i1.gbr x_copper_i2.gbr x_copper_bottom.gbr",
     "copper:1t copper:2 copper:3 copper:4b"},
    {"i2c-hub_top.gbr i2c-hub_bottom.gbr", "copper:1t copper:2b"},
    {"b.TopLayer.gbr b.BottomLayer.gbr b.KeepOutLayer.gbr", "copper:1t copper:2b profile"},
    {"TopLayer.gbr InnerLayer1.gbr InnerLayer2.gbr BottomLayer.gbr TopPasteMask.gbr",
     "copper:1t copper:2 copper:3 copper:4b other"},
    {"top.gbr internal_plane_2.gbr internal_plane_1.gbr bottom.gbr",
     "copper:1t copper:3 copper:2 copper:4b"},
    {"x.GTL.gbr x.GBL.gbr x.GTS.gbr x.GKO.gbr", "copper:1t copper:2b mask-top profile"},
    {"01_Top.gbr 02_Gnd.gbr 03_Pwr.gbr 04_Bottom.gbr", "copper:1t copper:2 copper:3 copper:4b"},
    {"x.gtl x.gbl x.drl x-nonplated.drl x-via.drl", "copper:1t copper:2b drill nonplated plated"},
    {"x.gtl x.gbl Drill_PTH_Through.DRL Drill_NPTH_Through.DRL Non-Plated.TXT",
     "copper:1t copper:2b plated nonplated nonplated"},
};

static void trade_conventions_are_known(void **state)
{
    for (size_t i = 0; i < sizeof conventions / sizeof *conventions; i++) {
        void *inner = NULL;
        world_up(&inner);
        add_all(inner, conventions[i].names);
        assert_roles(inner, conventions[i].roles);
        world_down(&inner);
    }
    (void)state;
}

/* The same ending is inner 1 on one board and inner 2 on another: the set tells. */
static void an_ending_counts_as_the_complete_set_does(void **state)
{
    struct world *world = *state;
    add_all(world, "a.gtl a.g1 a.g2 a.gbl");
    assert_roles(world, "copper:1t copper:2 copper:3 copper:4b");
}

static void an_ending_may_count_all_layers(void **state)
{
    struct world *world = *state;
    add_all(world, "a.gtl a.g2l a.g3l a.gbl");
    assert_roles(world, "copper:1t copper:2 copper:3 copper:4b");
}

static void a_number_may_count_from_two(void **state)
{
    struct world *world = *state;
    add_all(world, "a.gtl a.g3 a.g2 a.gbl a.l4");
    assert_roles(world, "copper:1t copper:3 copper:2 copper:5b copper:4");
    assert_non_null(diag_find(&world->diags, "roles-odd-count"));
}

static void a_gap_in_the_inner_layers_stops_the_run(void **state)
{
    struct world *world = *state;
    add_all(world, "a.gtl a.g1 a.g3 a.gbl");
    assert_refused(world, "roles-order", "--role a.g1=inner:1 --role a.g3=inner:2");
}

/* The example that can be typed counts as the names do, not as the letters stand. */
static void the_example_of_an_order_counts_as_the_names_do(void **state)
{
    struct world *world = *state;
    add_all(world, "a.cmp a.sol a.ly15 a.ly2");
    assert_refused(world, "roles-order", "--role a.ly2=inner:1 --role a.ly15=inner:2");
}

static void planes_without_numbers_stop_the_run(void **state)
{
    struct world *world = *state;
    add_all(world, "top.gbr bottom.gbr gnd_plane.gbr vcc_plane.gbr");
    assert_refused(world, "roles-order", "--role gnd_plane.gbr=inner:1");
}

static void names_with_blanks_are_quoted_in_the_advice(void **state)
{
    struct world *world = *state;
    add(world, "top.gbr", CONTENT_DRAWING);
    add(world, "bottom.gbr", CONTENT_DRAWING);
    add(world, "p/GND Plane.gbr", CONTENT_DRAWING);
    add(world, "p/5V Plane.gbr", CONTENT_DRAWING);
    assert_refused(world, "roles-order", "--role 'GND Plane.gbr'=inner:1");
}

static void options_order_what_names_do_not(void **state)
{
    struct world *world = *state;
    add_all(world, "top.gbr bottom.gbr gnd_plane.gbr vcc_plane.gbr");
    add_option(world, "vcc_plane.gbr", "inner:1");
    add_option(world, "gnd_plane.gbr", "inner:2,negative");
    assert_roles(world, "copper:1t copper:4b copper:3:negative copper:2");
    assert_string_equal(world->roles[2].why, "--role");
}

static void a_single_inner_layer_needs_no_number(void **state)
{
    struct world *world = *state;
    add_all(world, "top.gbr bottom.gbr gnd_plane.gbr");
    assert_roles(world, "copper:1t copper:3b copper:2");
    assert_non_null(diag_find(&world->diags, "roles-odd-count"));
}

static void two_rows_of_inner_layers_stop_the_run(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.g1 x.gp1 x.gbl");
    world->hints[2].file_polarity = "Negative";
    assert_refused(world, "roles-order", "--role x.g1=inner:1 --role x.gp1=inner:2");
}

static void a_doubtful_plane_is_asked_about(void **state)
{
    struct world *world = *state;
    add_all(world, "top.gbr bottom.gbr power_supply.gbr");
    assert_refused(world, "roles-order", "power_supply.gbr");
}

/* Copper that holes take away would be counted. */
static void holes_that_may_be_drawn_stop_the_run(void **state)
{
    struct world *world = *state;
    add_all(world, "top.gbr bottom.gbr Drill_PTH.gbr Drill_Map.gbr");
    assert_refused(world, "roles-hole-drawing", "Drill_PTH.gbr");
    assert_int_equal(world->diags.error_count, 1);
}

static void holes_that_are_named_or_ignored_stop_nothing(void **state)
{
    struct world *world = *state;
    add_all(world, "top.gbr bottom.gbr Drill_PTH.gbr");
    add_option(world, "Drill_PTH.gbr", "plated");
    assert_roles(world, "copper:1t copper:2b plated");
    world->options[0].role = "ignore";
    assert_roles(world, "copper:1t copper:2b ignore");
    assert_int_equal(world->diags.count, 0);
}

/* "XYTop" beside L1 and L2: a third layer, or a mask? */
static void a_side_beside_a_first_layer_is_asked_about(void **state)
{
    struct world *world = *state;
    add_all(world, "x_L1.gbr x_L2.gbr x_GlazeTop.gbr x_GlazeBottom.gbr");
    assert_refused(world, "roles-outer-doubtful", "x_GlazeBottom.gbr");
}

/* A copper layer whose download failed must not make the board one with fewer layers. */
static void a_layer_without_content_is_no_other_file(void **state)
{
    struct world *world = *state;
    add_all(world, "x-F_Cu.gbr x-B_Cu.gbr x-F_Mask.gbr");
    add(world, "x-In1_Cu.gbr", CONTENT_OTHER);
    add(world, "top copper.pdf", CONTENT_OTHER);
    assert_refused(world, "roles-content", "x-In1_Cu.gbr");
    assert_int_equal(world->diags.error_count, 1);
}

static void text_of_two_bytes_a_character_is_named(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl");
    add(world, "x.gbl", CONTENT_OTHER)->is_wide_text = true;
    assert_refused(world, "roles-content", "UTF-16");
}

/* Flashes that no line ends on, on an inner layer of any name: pads, or gaps in a plane? */
static void lonely_flashes_of_an_inner_layer_are_asked_about(void **state)
{
    struct world *world = *state;
    add_all(world, "x-F_Cu.gbr x-In1_Cu.gbr x-In2_Cu.gbr x-B_Cu.gbr");
    for (size_t i = 0; i < 4; i++)
        world->hints[i].flash_count = 100;
    world->hints[1].are_flashes_lonely = true;
    assert_refused(world, "roles-polarity", "x-In1_Cu.gbr");
    assert_int_equal(world->diags.error_count, 1);
}

static void a_missing_bottom_is_not_guessed(void **state)
{
    struct world *world = *state;
    add_all(world, "TOP.art L2.art L3.art L4.art");
    assert_refused(world, "roles-outer-missing", "--role L4.art=bottom");
}

static void a_stated_number_of_layers_shows_the_bottom(void **state)
{
    struct world *world = *state;
    add_all(world, "TOP.art L2.art L3.art L4.art");
    world->job = (struct job_facts){.file_id = 99, .layer_count = 4};
    assert_roles(world, "copper:1t copper:2 copper:3 copper:4b");
}

static void a_missing_inner_layer_is_found_by_the_stated_number(void **state)
{
    struct world *world = *state;
    add_all(world, "a.gtl a.gbl");
    set_function(world, add(world, "a.drl", CONTENT_DRILL), "Plated,1,4,PTH");
    assert_refused(world, "roles-layer-count", "4 copper layers, but 2");
}

static void two_files_for_one_layer_stop_the_run(void **state)
{
    struct world *world = *state;
    add_all(world, "one.gtl one.gbl two.gtl");
    assert_refused(world, "roles-layer-twice", "two.gtl");
}

static void a_board_may_have_one_layer(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gbl x.gbs x.drl");
    assert_roles(world, "copper:1b mask-bottom drill");
}

/* ---- other languages ------------------------------------------------------------------------ */

/* Plain words of each language for top, bottom, mask, edge, holes (from memory). */
static void plain_words_of_other_languages_are_understood(void **state)
{
    struct world *world = *state;
    static const char *const boards[] = {
        "oben.gbr unten.gbr l\u00f6tstopp-oben.gbr loetstopp_unten.gbr umriss.gbr bohrungen.drl",
        "Kupfer_Oberseite.gbr Kupfer_Unterseite.gbr L\u00d6TSTOPPMASKE_OBEN.gbr "
        "Lo\u0308tstopp-Unterseite.gbr Au\u00dfenkontur.gbr Bohren.drl",
        "Best\u00fcckungsseite.gbr L\u00f6tseite.gbr MaskeOben.gbr MaskeUnten.gbr "
        "Platinenumriss.gbr "
        "x.drl",
        "dessus.gbr dessous.gbr masque-dessus.gbr vernis_\u00e9pargne_dessous.gbr contour.gbr "
        "per\u00e7age.drl",
        "cuivre-c\u00f4t\u00e9-composants.gbr cuivre-c\u00f4t\u00e9-soudure.gbr masque-haut.gbr "
        "masque-bas.gbr "
        "d\u00e9tourage.gbr trous.drl",
        "superior.gbr inferior.gbr m\u00e1scara_superior.gbr m\u00e1scara_inferior.gbr "
        "contorno.gbr "
        "taladros.drl",
        "Cobre-Cara-Componentes.gbr Cobre-Cara-Soldadura.gbr mascara-arriba.gbr mascara-abajo.gbr "
        "borde.gbr agujeros.drl",
        "sopra.gbr sotto.gbr maschera-sopra.gbr maschera_saldatura_lato_inferiore.gbr bordo.gbr "
        "fori.drl",
        "rame-superiore.gbr rame-inferiore.gbr maschera_superiore.gbr maschera_inferiore.gbr "
        "contorno.gbr foratura.drl",
        "g\u00f3ra.gbr d\u00f3\u0142.gbr maska-g\u00f3ra.gbr maska_dolna.gbr obrys.gbr otwory.drl",
        "mied\u017a-strona-element\u00f3w.gbr mied\u017a-strona-lutowania.gbr maska_gorna.gbr "
        "maska_lutownicza_dolna.gbr kraw\u0119d\u017a.gbr wiercenie.drl",
    };
    for (size_t i = 0; i < sizeof boards / sizeof *boards; i++) {
        world_down(state);
        world_up(state);
        world = *state;
        add_all(world, boards[i]);
        assert_roles(world, "copper:1t copper:2b mask-top mask-bottom profile drill");
    }
}

static void inner_layers_and_plating_are_named_in_other_languages_too(void **state)
{
    struct world *world = *state;
    add_all(world, "oben.gbr Innenlage1.gbr Innenlage2.gbr unten.gbr siebdruck-oben.gbr "
                   "bohrungen-durchkontaktiert.drl bohrungen-nicht-durchkontaktiert.drl");
    assert_roles(world, "copper:1t copper:2 copper:3 copper:4b other plated nonplated");
    world_down(state);
    world_up(state);
    world = *state;
    add_all(world, "dessus.gbr couche2.gbr couche3.gbr dessous.gbr s\u00e9rigraphie.gbr "
                   "trous-m\u00e9tallis\u00e9s.drl trous-non-m\u00e9tallis\u00e9s.drl");
    assert_roles(world, "copper:1t copper:2 copper:3 copper:4b other plated nonplated");
}

/* They may as well be somebody's name: beside unknown words they say nothing. */
static void other_languages_do_not_outweigh_what_is_known(void **state)
{
    struct world *world = *state;
    add_all(world, "bas-regler.gtl bas-regler.gbl");
    assert_roles(world, "copper:1t copper:2b");
    world_down(state);
    world_up(state);
    world = *state;
    add(world, "Superior Amp-F_Cu.gbr", CONTENT_DRAWING);
    add(world, "Superior Amp-B_Cu.gbr", CONTENT_DRAWING);
    add(world, "Inferior Amp-F_Mask.gbr", CONTENT_DRAWING);
    assert_roles(world, "copper:1t copper:2b mask-top");
}

/* What is not understood is asked about with the very option to type. */
static void the_option_to_type_is_told(void **state)
{
    struct world *world = *state;
    add(world, "ylos.gbr", CONTENT_DRAWING);
    add(world, "ala puoli's.gbr", CONTENT_DRAWING);
    assert_refused(world, "roles-no-copper",
                   "--role ylos.gbr=top --role 'ala puoli'\\''s.gbr'=bottom");
    world_down(state);
    world_up(state);
    world = *state;
    add_all(world, "top.gbr alapuoli.gbr");
    assert_refused(world, "roles-half",
                   "--role alapuoli.gbr=bottom, or --role alapuoli.gbr=ignore");
    world_down(state);
    world_up(state);
    world = *state;
    add_all(world, "top.gbr L2.gbr L3.gbr alapuoli.gbr");
    assert_refused(world, "roles-outer-missing", "--role alapuoli.gbr=bottom");
}

static void no_copper_stops_the_run(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gto x.gts");
    assert_refused(world, "roles-no-copper", "--role FILE=top");
}

/* ---- project names ---- */

static void a_project_may_be_named_like_a_layer(void **state)
{
    struct world *world = *state;
    add_all(world, "paste-dispenser-F_Cu.gbr paste-dispenser-B_Cu.gbr paste-dispenser-F_Mask.gbr "
                   "paste-dispenser-Edge_Cuts.gbr paste-dispenser.drl");
    assert_roles(world, "copper:1t copper:2b mask-top profile drill");
}

static void a_project_named_top_keeps_its_endings(void **state)
{
    struct world *world = *state;
    add_all(world, "top-hat.gtl top-hat.gbl top-hat.gbs top-hat.gko");
    assert_roles(world, "copper:1t copper:2b mask-bottom profile");
}

static void words_shared_by_all_are_kept_when_they_matter(void **state)
{
    struct world *world = *state;
    add_all(world, "Top_copper.gbr Top_mask.gbr");
    assert_roles(world, "copper:1t mask-top");
}

static void ending_and_words_that_contradict_stop_the_run(void **state)
{
    struct world *world = *state;
    add_all(world, "bottom.gtl other.gbl");
    assert_refused(world, "roles-contradiction", "bottom.gtl");
}

/* ---- what is not known ---- */

static void an_unknown_drawing_is_not_silently_ignored(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gbl special.gbr");
    assert_roles(world, "copper:1t copper:2b unknown");
    assert_non_null(strstr(diag_find(&world->diags, "roles-unknown")->text, "special.gbr"));
    assert_int_equal(world->diags.warning_count, 1);
}

static void an_image_name_helps_where_the_file_name_does_not(void **state)
{
    struct world *world = *state;
    add_all(world, "one.gbr two.gbr");
    world->hints[0].image_name = "Top Copper";
    world->hints[1].image_name = "Bottom Copper";
    assert_roles(world, "copper:1t copper:2b");
    assert_string_equal(world->roles[0].why, "image name");
}

static void a_copper_name_without_a_drawing_is_an_error(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gbl");
    add(world, "x.g1", CONTENT_OTHER);
    assert_refused(world, "roles-content", "x.g1");
}

static void a_plane_ending_asks_for_its_polarity(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gp1 x.gp2 x.gbl");
    assert_refused(world, "roles-polarity", "inner:N,negative");
}

static void a_plane_ending_with_polarity_is_read(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gp1 x.gp2 x.gbl");
    world->hints[1].file_polarity = "Negative";
    world->hints[2].file_polarity = "Positive";
    assert_roles(world, "copper:1t copper:2:negative copper:3 copper:4b");
}

static void a_plane_of_flashes_asks_for_its_polarity(void **state)
{
    struct world *world = *state;
    add_all(world, "top.gbr L2_GND.gbr L3_VCC.gbr bottom.gbr");
    world->hints[1].flash_count = 100;
    assert_refused(world, "roles-polarity", "L2_GND.gbr");
}

static void an_option_that_says_no_polarity_is_asked_too(void **state)
{
    struct world *world = *state;
    add_all(world, "top.gbr L2_GND.gbr L3_VCC.gbr bottom.gbr");
    world->hints[1].flash_count = 100;
    add_option(world, "L2_GND.gbr", "inner:1");
    assert_refused(world, "roles-polarity", "L2_GND.gbr");
    world->options[0].role = "inner:1,positive";
    world->diags = (struct diag_list){.arena = world->arena};
    assert_roles(world, "copper:1t copper:2 copper:3 copper:4b");
}

static void a_mask_is_never_negative_copper(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gbl x.gts");
    world->hints[2].file_polarity = "Negative";
    assert_roles(world, "copper:1t copper:2b mask-top");
}

/* ---- profile ---- */

static void one_of_several_outlines_is_taken_and_said(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gbl x.gko x.gm1");
    assert_roles(world, "copper:1t copper:2b profile other");
    assert_non_null(strstr(diag_find(&world->diags, "roles-profile-second")->text, "x.gm1"));
}

static void an_empty_keepout_is_no_outline(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gbl x.gko x.gm1");
    world->hints[2].stroke_count = 0;
    assert_roles(world, "copper:1t copper:2b other profile");
    assert_int_equal(world->diags.count, 0);
}

static void a_damaged_outline_is_not_taken_for_an_empty_one(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gbl x.gko");
    world->hints[2].stroke_count = 0;
    world->hints[2].is_refused = true;
    assert_roles(world, "copper:1t copper:2b profile");
}

static void a_damaged_job_file_is_reported(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gbl");
    add(world, "x.gbrjob", CONTENT_OTHER);
    assert_roles(world, "copper:1t copper:2b other");
    assert_int_equal(world->diags.warning_count, 1);
}

static void two_equal_outlines_stop_the_run(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gbl outline.gbr profile.gbr");
    assert_refused(world, "roles-profile-twice", "profile.gbr");
}

/* ---- attributes, job file ---- */

static void an_attribute_outweighs_the_name(void **state)
{
    struct world *world = *state;
    set_function(world, add(world, "x.gtl", CONTENT_DRAWING), "Copper,L2,Bot");
    set_function(world, add(world, "x.gbl", CONTENT_DRAWING), "Copper,L1,Top ");
    set_function(world, add(world, "holes.gbr", CONTENT_DRAWING), "Plated,1,2,PTH");
    set_function(world, add(world, "map.gbr", CONTENT_DRAWING), "Drillmap");
    set_function(world, add(world, "rout.drl", CONTENT_DRILL), "NonPlated,1,2,NPTH,Rout");
    assert_roles(world, "copper:2b copper:1t plated:1-2 other nonplated:1-2");
    assert_non_null(diag_find(&world->diags, "roles-disagree"));
}

static void a_job_file_speaks_for_files_without_attributes(void **state)
{
    struct world *world = *state;
    static const char *const copper1[] = {"Copper", "L1", "Top"};
    static const char *const copper2[] = {"Copper", "L2", "Bot"};
    static const char *const mask[] = {"SolderMask", "Top"};
    struct job_file_entry entries[] = {{"sub/one.x", copper1, 3, "Positive"},
                                       {"two.x", copper2, 3, "Negative"},
                                       {"three.x", mask, 2, "Negative"}};
    add_all(world, "p/one.x p/TWO.X p/three.x");
    world->job =
        (struct job_facts){.file_id = 9, .layer_count = 2, .entries = entries, .entry_count = 3};
    assert_roles(world, "copper:1t copper:2b:negative mask-top");
    assert_string_equal(world->roles[0].why, "job file");
}

static void an_ignored_job_file_is_not_asked(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gbl");
    add(world, "x.gbrjob", CONTENT_JOB);
    world->job = (struct job_facts){.file_id = 3, .layer_count = 4};
    add_option(world, "x.gbrjob", "ignore");
    assert_roles(world, "copper:1t copper:2b ignore");
}

/* ---- drills ---- */

static void blind_spans_come_from_names(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.g1 x.g2 x.gbl x-1-4.drl x-1-2.drl x-L2-L3.drl x-front-in1.drl "
                   "x-in2-back.drl");
    assert_roles(world, "copper:1t copper:2 copper:3 copper:4b drill:1-4 drill:1-2 drill:2-3 "
                        "drill:1-2 drill:3-4");
}

static void a_lone_pair_of_numbers_may_be_a_version(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.g1 x.g2 x.gbl x-1-2.drl");
    assert_refused(world, "roles-span", "=plated:1-2");
}

/* "L12" read as through holes would join layers that nothing joins. */
static void layers_written_as_one_number_are_a_span(void **state)
{
    add_all(*state, "x.gtl x.g1 x.g2 x.gbl L14.drl L12.drl x-L34.drl");
    assert_roles(*state, "copper:1t copper:2 copper:3 copper:4b drill:1-4 drill:1-2 drill:3-4");
    world_down(state);
    world_up(state);
    add_all(*state, "x.gtl x.g1 x.g2 x.gbl x.drl L12.drl");
    assert_refused(*state, "roles-span", "L12.drl=plated:1-2");
    world_down(state);
    world_up(state);
    add_all(*state, "x.gtl x.gbl L12.drl L34.drl"); /* all layers; no such layers */
    assert_roles(*state, "copper:1t copper:2b drill:1-2 drill");
}

static void blind_holes_without_a_span_stop_the_run(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.g1 x.g2 x.gbl x.drl x-blind.drl");
    assert_refused(world, "roles-span", "x-blind.drl");
    world_down(state);
    world_up(state);
    add_all(*state, "x.gtl x.gbl window-blind.drl");
    assert_roles(*state, "copper:1t copper:2b drill");
}

/* Copper that slots and mills take away must not be counted. */
static void slots_and_cut_outs_beside_an_outline_are_asked_about(void **state)
{
    static const char *const names[] = {"x-npth-slots.gbr", "x-milling.gbr", "x_Cutouts.gbr",
                                        "x.mil", "x-Fr\u00e4sen.gbr"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        void *inner = NULL;
        world_up(&inner);
        struct world *world = inner;
        add_all(world, "x.gtl x.gbl x.gko x.drl");
        add_all(world, names[i]);
        assert_refused(world, "roles-cut-drawing", "=nonplated");
        add_option(world, names[i], "ignore");
        world->diags.count = world->diags.error_count = 0;
        assert_roles(world, "copper:1t copper:2b profile drill ignore");
        world_down(&inner);
    }
    struct world *world = *state;
    add_all(world, "x.gtl x.gbl x-milling.gbr x-slot-map.gbr x.drl"); /* no other outline */
    assert_roles(world, "copper:1t copper:2b profile other drill");
}

/* A letter is a side only before copper; what is called blind is no version. */
static void spans_are_read_as_exporters_write_them(void **state)
{
    struct world *world = *state;
    add_all(world, "b.gtl b.g1 b.g2 b.gbl b-L1-L2.drl b-F_Cu-In1_Cu.drl b-In2_Cu-B_Cu.drl "
                   "TopToInner1.drl Blind-1-2.drl b-uvia-3-4.drl Buried_2_3.drl");
    assert_roles(world, "copper:1t copper:2 copper:3 copper:4b drill:1-2 drill:1-2 drill:3-4 "
                        "drill:1-2 drill:1-2 plated:3-4 drill:2-3");
}

static void a_span_beyond_the_board_stops_the_run(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gbl x.drl");
    add_option(world, "x.drl", "plated:1-4");
    assert_refused(world, "roles-span", "2 copper layers");
}

/* ---- --role ---- */

static const struct {
    const char *file, *role, *code, *word;
} bad_options[] = {
    {"nothing.gtl", "top", "roles-option-file", "inspect"},
    {"y.gtl", "top", "roles-option-file", "did you mean x.gtl"},
    {"x.gtl", "upper", "roles-option-role", "mask-bottom"},
    {"x.gtl", "inner:0", "roles-option-role", "inner:N"},
    {"x.gtl", "inner:1x", "roles-option-role", "inner:N"},
    {"x.gtl", "topmost", "roles-option-role", "top"},
    {"x.drl", "plated:4-1", "roles-option-role", ":1-4"},
    {"x.drl", "top", "roles-option-content", "x.drl"},
    {"readme.md", "plated", "roles-option-content", "holes"},
    {"l", "top", "roles-option-ambiguous", "l"},
};

static void options_that_cannot_be_meant_are_refused(void **state)
{
    for (size_t i = 0; i < sizeof bad_options / sizeof *bad_options; i++) {
        void *inner = NULL;
        world_up(&inner);
        add_all(inner, "x.gtl x.gbl x.drl");
        add(inner, "readme.md", CONTENT_OTHER);
        add_option(inner, bad_options[i].file, bad_options[i].role);
        assert_refused(inner, bad_options[i].code, bad_options[i].word);
        world_down(&inner);
    }
    (void)state;
}

static void a_file_may_be_named_by_whole_last_part_or_tail(void **state)
{
    struct world *world = *state;
    add_all(world, "b.zip/a/one.gbr b.zip/b/one.gbr b.zip/long_name_three.gbr b.zip/four.gbr");
    add_option(world, "b.zip/a/one.gbr", "top");
    add_option(world, "b/one.gbr", "bottom");
    add_option(world, "three.gbr", "mask-top");
    add_option(world, "four.gbr", "ignore");
    assert_roles(world, "copper:1t copper:2b mask-top ignore");
}

static void one_file_cannot_have_two_roles(void **state)
{
    struct world *world = *state;
    add_all(world, "x.gtl x.gbl");
    add_option(world, "x.gtl", "top");
    add_option(world, "x.gtl", "ignore");
    assert_refused(world, "roles-option-twice", "x.gtl");
}

static void every_failed_allocation_is_reported(void **state)
{
    enum package_status status = PACKAGE_NO_MEMORY;
    uint64_t nth;
    for (nth = 1; status == PACKAGE_NO_MEMORY && nth < 1000; nth++) {
        void *inner = NULL;
        world_up(&inner);
        add_all(inner, "x.gtl x.g1 x.g2 x.gbl what.gbr x.gko x.gm1 x-1-4.drl");
        add_option(inner, "x.gko", "profile");
        arena_fail_at(nth);
        status = decide(inner);
        arena_fail_at(0);
        world_down(&inner);
    }
    assert_int_equal(status, PACKAGE_OK);
    assert_true(nth > 10);
    (void)state;
}

/* ---- real packages ---- */

/* Tails of names and their roles; files not listed must be "other". */
struct expected_board {
    const char *folder;
    const char *const *pairs;
};
#define BOARD(folder, ...)                                                                         \
    {                                                                                              \
        folder, (const char *const[])                                                              \
        {                                                                                          \
            __VA_ARGS__, NULL                                                                      \
        }                                                                                          \
    }

static const struct expected_board expected_boards[] = {
    BOARD("robot-power", "-F_Cu.gtl", "copper:1t", "-B_Cu.gbl", "copper:2b", "-F_Mask.gts",
          "mask-top", "-B_Mask.gbs", "mask-bottom", "-Edge_Cuts.gm1", "profile", "h-PTH.drl",
          "plated:1-2", "-NPTH.drl", "nonplated:1-2", "netlist.ipc", "netlist"),
    BOARD("atx-breakout", "-F.Cu.gbr", "copper:1t", "-B.Cu.gbr", "copper:2b", "-F.Mask.gbr",
          "mask-top", "-B.Mask.gbr", "mask-bottom", "-Edge.Cuts.gbr", "profile", "breakout.drl",
          "drill"),
    BOARD("dc-load", "-F_Cu.gbr", "copper:1t", "-B_Cu.gbr", "copper:2b", "-F_Mask.gbr", "mask-top",
          "-B_Mask.gbr", "mask-bottom", "-Edge_Cuts.gbr", "profile", "d-PTH.drl", "plated:1-2",
          "-NPTH.drl", "nonplated:1-2", "-job.gbrjob", "job"),
    BOARD("boost-charger", "TopLayer.GTL", "copper:1t", "BottomLayer.GBL", "copper:2b",
          "TopSolderMaskLayer.GTS", "mask-top", "BottomSolderMaskLayer.GBS", "mask-bottom",
          "BoardOutlineLayer.GKO", "profile", "PTH_Through.DRL", "plated", "PTH_Through_Via.DRL",
          "plated"),
    BOARD("ac-timer", ".toplayer.ger", "copper:1t", ".bottomlayer.ger", "copper:2b",
          ".topsoldermask.ger", "mask-top", ".bottomsoldermask.ger", "mask-bottom",
          ".boardoutline.ger", "profile", ".nonplated.drills.xln", "nonplated",
          ".plated.drills.xln", "plated"),
    BOARD("ev-charger", "copper_top.gbr", "copper:1t", "copper_bottom.gbr", "copper:2b",
          "soldermask_top.gbr", "mask-top", "soldermask_bottom.gbr", "mask-bottom", "profile.gbr",
          "profile", "gerber_job.gbrjob", "job"),
    BOARD("gps-logger", "copper_top.gbr", "copper:1t", "copper_bottom.gbr", "copper:2b",
          "soldermask_top.gbr", "mask-top", "soldermask_bottom.gbr", "mask-bottom", "profile.gbr",
          "profile", "gerber_job.gbrjob", "job", "drills.xln", "drill"),
    BOARD("foc-shield", "TopLayer.GTL", "copper:1t", "BottomLayer.GBL", "copper:2b",
          "TopSolderMaskLayer.GTS", "mask-top", "BottomSolderMaskLayer.GBS", "mask-bottom",
          "BoardOutlineLayer.GKO", "profile", "PTH_Through.DRL", "plated", "PTH_Through_Via.DRL",
          "plated"),
    BOARD("bga-adapter", ".GTL", "copper:1t", ".GBL", "copper:2b", ".GTS", "mask-top", ".GBS",
          "mask-bottom", ".GM1", "profile", ".TXT", "drill"),
    BOARD("inverter-logic", "- Top Copper.gbr", "copper:1t", "GND Plane (Powerplane).gbr",
          "copper:2:negative", "VCC_5V Plane (Powerplane).gbr", "copper:3:negative",
          "- Bottom Copper.gbr", "copper:4b", "Top Solder Mask.gbr", "mask-top",
          "Bottom Solder Mask.gbr", "mask-bottom", "[Through Hole] (Unplated).drl", "nonplated",
          "[Through Hole].drl", "drill"),
    BOARD("printer-controller", ".GTL", "copper:1t", ".G2L", "copper:2", ".G3L", "copper:3", ".GBL",
          "copper:4b", ".GTS", "mask-top", ".GBS", "mask-bottom", ".OLN", "profile", ".TXT",
          "drill"),
    BOARD("energy-monitor", ".GTL", "copper:1t", ".GBL", "copper:2b", ".GTS", "mask-top", ".GBS",
          "mask-bottom", ".TXT", "drill"),
    BOARD("sbc-12layer", "/TOP.art", "copper:1t", "LAY2_GND.art", "copper:2", "LAY3.art",
          "copper:3", "LAY4_GND.art", "copper:4", "LAY5.art", "copper:5", "LAY6_PWR.art",
          "copper:6", "LAY7_PWR.art", "copper:7", "LAY8.art", "copper:8", "LAY9_GND.art",
          "copper:9", "LAY10.art", "copper:10", "LAY11_GND.art", "copper:11", "/BOTTOM.art",
          "copper:12b", "MASK_TOP.art", "mask-top", "MASK_BOT.art", "mask-bottom", "-1-12.drl",
          "drill:1-12"),
    BOARD("hydro-charger", ".gtl", "copper:1t", ".gbl", "copper:2b", ".gts", "mask-top", ".gbs",
          "mask-bottom", ".gm1", "profile", "Charger.txt", "drill"),
    BOARD("hotplate", "TopLayer.GTL", "copper:1t", "BottomLayer.GBL", "copper:2b",
          "TopSolderMaskLayer.GTS", "mask-top", "BottomSolderMaskLayer.GBS", "mask-bottom",
          "BoardOutlineLayer.GKO", "profile", "_PTH_Through.DRL", "plated", "NPTH_Through.DRL",
          "nonplated"),
    BOARD("module-14layer", "-L01.art", "copper:1t", "-L02.art", "copper:2", "-L03.art", "copper:3",
          "-L04.art", "copper:4", "-L05.art", "copper:5", "-L06.art", "copper:6", "-L07.art",
          "copper:7", "-L08.art", "copper:8", "-L09.art", "copper:9", "-L10.art", "copper:10",
          "-L11.art", "copper:11", "-L12.art", "copper:12", "-L13.art", "copper:13", "-L14.art",
          "copper:14b", "-SMT.art", "mask-top", "-SMB.art", "mask-bottom", "-OUTLINE.art",
          "profile", "Rev1.ipc", "netlist", "-1-14.drl", "drill:1-14"),
    BOARD("porcupine-6layer", "-F_Cu.gbr", "copper:1t", "-In1_Cu.gbr", "copper:2", "-In2_Cu.gbr",
          "copper:3", "-In3_Cu.gbr", "copper:4", "-In4_Cu.gbr", "copper:5", "-B_Cu.gbr",
          "copper:6b", "-F_Mask.gbr", "mask-top", "-B_Mask.gbr", "mask-bottom", "-Edge_Cuts.gbr",
          "profile", ".d356", "netlist", "porcupine.drl", "drill"),
    BOARD("injector-12ch", "-F_Cu.gtl", "copper:1t", "-B_Cu.gbl", "copper:2b", "-F_Mask.gts",
          "mask-top", "-B_Mask.gbs", "mask-bottom", "-Edge_Cuts.gbr", "profile", "12ch.drl",
          "drill"),
};

static bool ends_in(const char *text, const char *tail)
{
    size_t length = strlen(text), tail_length = strlen(tail);
    return length >= tail_length && strcmp(text + length - tail_length, tail) == 0;
}

static const char *expected_role(const struct expected_board *board, const char *name,
                                 size_t *used_count)
{
    for (size_t i = 0; board->pairs[i]; i += 2) {
        if (ends_in(name, board->pairs[i])) {
            ++*used_count;
            return board->pairs[i + 1];
        }
    }
    return "other";
}

/* Without attributes: names and contents alone. */
static void forget_attributes(struct world *world)
{
    for (size_t i = 0; i < world->files.count; i++) {
        world->hints[i].file_function_count = 0;
        world->hints[i].file_polarity = NULL;
    }
}

static void read_board(struct world *world, const char *folder, const char *name)
{
    char path[512];
    const char *paths[] = {path};
    snprintf(path, sizeof path, "%s/%s", folder, name);
    assert_int_equal(package_read(paths, 1, NULL, world->arena, &world->files, &world->diags),
                     PACKAGE_OK);
    assert_true(world->files.count < FILES_MAX);
    for (size_t i = 0; i < world->files.count; i++)
        world->hints[i] = hint_of_file((uint32_t)i + 1, &world->files.files[i], world->arena);
}

static void check_board(struct world *world, const char *folder, const struct expected_board *board)
{
    size_t used_count = 0, pair_count = 0;
    read_board(world, folder, board->folder);
    enum package_status status = decide(world);
    diags_print(&world->diags, DIAG_NOTE);
    assert_int_equal(status, PACKAGE_OK);
    for (size_t i = 0; i < world->files.count; i++) {
        char buffer[48];
        const char *name = world->files.files[i].name;
        const char *expected = expected_role(board, name, &used_count);
        if (strcmp(role_word(&world->roles[i], buffer), expected) != 0)
            fail_msg("%s is %s, expected %s", name, buffer, expected);
    }
    while (board->pairs[pair_count])
        pair_count++;
    assert_int_equal(used_count, pair_count / 2); /* each expected file is there, once */
}

static void every_file_of_the_real_packages_gets_its_role(void **state)
{
    const char *folder = boards_folder();
    if (!folder)
        skip();
    for (size_t i = 0; i < sizeof expected_boards / sizeof *expected_boards; i++) {
        void *inner = NULL;
        world_up(&inner);
        check_board(inner, folder, &expected_boards[i]);
        world_down(&inner);
    }
    (void)state;
}

/* With all attributes taken away names must give the same copper layers, or the run must stop:
 * it does for the one board whose planes have no numbers and whose polarity only attributes say. */
static void names_alone_order_the_real_packages_or_stop(void **state)
{
    const char *folder = boards_folder();
    if (!folder)
        skip();
    for (size_t i = 0; i < sizeof expected_boards / sizeof *expected_boards; i++) {
        void *inner = NULL;
        world_up(&inner);
        struct world *world = inner;
        read_board(world, folder, expected_boards[i].folder);
        forget_attributes(world);
        bool is_unordered = strcmp(expected_boards[i].folder, "inverter-logic") == 0;
        assert_int_equal(decide(world), is_unordered ? PACKAGE_REFUSED : PACKAGE_OK);
        if (is_unordered)
            assert_true(diag_find(&world->diags, "roles-order") &&
                        diag_find(&world->diags, "roles-polarity"));
        for (size_t f = 0; f < world->files.count && !is_unordered; f++) {
            char buffer[48];
            size_t used_count = 0;
            const char *name = world->files.files[f].name;
            const char *expected = expected_role(&expected_boards[i], name, &used_count);
            const char *found = role_word(&world->roles[f], buffer);
            if (strncmp(expected, "copper", 6) == 0 || strncmp(found, "copper", 6) == 0)
                assert_string_equal(found, expected);
        }
        world_down(&inner);
    }
    (void)state;
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, world_up, world_down)

/* Two planes of one net are alike to the byte, and their names count no layers: neither is the
 * other's copy. The same file found twice (in the folder and in its zip) is. */
static void planes_that_are_alike_stay_two_layers(void **state)
{
    struct world *world = *state;
    add_all(world, "top.gbr gnd_a.gbr gnd_b.gbr bottom.gbr zip/bottom.gbr zip/gnd_a.gbr holes.drl");
    world->hints[2].same_as = world->hints[1].file_id;
    world->hints[4].same_as = world->hints[3].file_id;
    world->hints[5].same_as = world->hints[1].file_id;
    (void)decide(world);
    const enum role expected[] = {ROLE_COPPER, ROLE_COPPER, ROLE_COPPER,
                                  ROLE_COPPER, ROLE_OTHER,  ROLE_OTHER};
    for (size_t i = 0; i < 6; i++)
        assert_int_equal(world->roles[i].role, expected[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(trade_conventions_are_known),
        CASE(an_ending_counts_as_the_complete_set_does),
        CASE(an_ending_may_count_all_layers),
        CASE(a_number_may_count_from_two),
        CASE(slots_and_cut_outs_beside_an_outline_are_asked_about),
        CASE(spans_are_read_as_exporters_write_them),
        CASE(a_gap_in_the_inner_layers_stops_the_run),
        CASE(the_example_of_an_order_counts_as_the_names_do),
        CASE(planes_without_numbers_stop_the_run),
        CASE(names_with_blanks_are_quoted_in_the_advice),
        CASE(options_order_what_names_do_not),
        CASE(a_single_inner_layer_needs_no_number),
        CASE(two_rows_of_inner_layers_stop_the_run),
        CASE(a_doubtful_plane_is_asked_about),
        CASE(holes_that_may_be_drawn_stop_the_run),
        CASE(holes_that_are_named_or_ignored_stop_nothing),
        CASE(a_side_beside_a_first_layer_is_asked_about),
        CASE(a_layer_without_content_is_no_other_file),
        CASE(text_of_two_bytes_a_character_is_named),
        CASE(lonely_flashes_of_an_inner_layer_are_asked_about),
        CASE(a_missing_bottom_is_not_guessed),
        CASE(a_stated_number_of_layers_shows_the_bottom),
        CASE(a_missing_inner_layer_is_found_by_the_stated_number),
        CASE(two_files_for_one_layer_stop_the_run),
        CASE(a_board_may_have_one_layer),
        CASE(no_copper_stops_the_run),
        CASE(plain_words_of_other_languages_are_understood),
        CASE(inner_layers_and_plating_are_named_in_other_languages_too),
        CASE(other_languages_do_not_outweigh_what_is_known),
        CASE(the_option_to_type_is_told),
        CASE(a_project_may_be_named_like_a_layer),
        CASE(a_project_named_top_keeps_its_endings),
        CASE(words_shared_by_all_are_kept_when_they_matter),
        CASE(ending_and_words_that_contradict_stop_the_run),
        CASE(an_unknown_drawing_is_not_silently_ignored),
        CASE(an_image_name_helps_where_the_file_name_does_not),
        CASE(a_copper_name_without_a_drawing_is_an_error),
        CASE(a_plane_ending_asks_for_its_polarity),
        CASE(a_plane_ending_with_polarity_is_read),
        CASE(a_plane_of_flashes_asks_for_its_polarity),
        CASE(an_option_that_says_no_polarity_is_asked_too),
        CASE(a_mask_is_never_negative_copper),
        CASE(one_of_several_outlines_is_taken_and_said),
        CASE(an_empty_keepout_is_no_outline),
        CASE(a_damaged_outline_is_not_taken_for_an_empty_one),
        CASE(a_damaged_job_file_is_reported),
        CASE(two_equal_outlines_stop_the_run),
        CASE(planes_that_are_alike_stay_two_layers),
        CASE(an_attribute_outweighs_the_name),
        CASE(a_job_file_speaks_for_files_without_attributes),
        CASE(an_ignored_job_file_is_not_asked),
        CASE(blind_spans_come_from_names),
        CASE(a_lone_pair_of_numbers_may_be_a_version),
        CASE(layers_written_as_one_number_are_a_span),
        CASE(blind_holes_without_a_span_stop_the_run),
        CASE(a_span_beyond_the_board_stops_the_run),
        CASE(options_that_cannot_be_meant_are_refused),
        CASE(a_file_may_be_named_by_whole_last_part_or_tail),
        CASE(one_file_cannot_have_two_roles),
        CASE(every_failed_allocation_is_reported),
        CASE(every_file_of_the_real_packages_gets_its_role),
        CASE(names_alone_order_the_real_packages_or_stop),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
