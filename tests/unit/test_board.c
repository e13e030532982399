/*
 * A board put together from small packages. Areas and sizes are hand calculations written beside
 * the check; what counts as a contact, a via, a terminal follows the definitions in DEVELOPERS.md.
 */
#include "assertions.h"
#include "board_world.h"

#include <math.h>

/* A track of 1 mm from (0,0) to (10,0) on top with a pad of 2 x 2 mm at its start, one from (10,0)
 * to (20,0) below with such a pad at its end, and pads for a hole where they meet. */
#define PADS "%ADD10C,1.0*%\n%ADD11R,2.0X2.0*%\n%ADD12C,1.2*%\nG01*\n"
#define TOP_TRACK TOP PADS "D10*\nX0Y0D02*\nX10000Y0D01*\nD11*\nX0Y0D03*\nD12*\nX10000Y0D03*\n" END
#define BOTTOM_TRACK                                                                               \
    BOTTOM PADS "D10*\nX10000Y0D02*\nX20000Y0D01*\nD11*\nX20000Y0D03*\nD12*\nX10000Y0D03*\n" END
#define EDGE PROFILE "G01*\nX-5000Y-5000D02*\nX25000D01*\nY5000D01*\nX-5000D01*\nY-5000D01*\n" END
#define VIA DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C0.4\n%\nT1\nX10.0Y0.0\nM30\n"
/* Openings over the two surface pads only. */
#define MASKS_TOP MASK_TOP "%ADD10R,2.1X2.1*%\nD10*\nX0Y0D03*\n" END
#define MASKS_BOTTOM MASK_BOTTOM "%ADD10R,2.1X2.1*%\nD10*\nX20000Y0D03*\n" END

static struct board_world *two_tracks(void)
{
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP_TRACK);
    bw_file(world, "bottom.gbr", BOTTOM_TRACK);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "via.drl", VIA);
    return world;
}

static void a_covered_hole_joins_two_layers(void **state)
{
    (void)state;
    struct board_world *world = two_tracks();
    bw_file(world, "mt.gbr", MASKS_TOP);
    bw_file(world, "mb.gbr", MASKS_BOTTOM);
    bw_must_read(world);
    const struct board *board = &world->board;
    assert_int_equal(board->layer_count, 2);
    assert_true(board->has_profile);
    assert_int_equal(board->conductor_count, 1);
    const struct board_hole *hole = bw_hole(world, 10000, 0);
    assert_true(hole->is_plated);
    assert_true(hole->is_via);
    assert_int_equal(hole->contact, ISTHMUS_NONE);
    assert_int_equal(hole->conductor, 0);
    /* Finished 0.4 mm, walls 20 um: cut 0.44 mm, wall pi (0.4 - 0.02) 0.02 = 0.0238761 mm2. */
    assert_int_equal(hole->cut_nm, 440000);
    assert_near(hole->wall_mm2, 0.0238761, 1e-7);
    assert_int_equal(board->contact_count, 2);
    assert_int_equal(board->terminal_count, 2);
    assert_int_equal(board->contacts[0].source, CONTACT_MASK);
    bw_terminal(world, "(0.00, 0.00) top");
    bw_terminal(world, "(20.00, 0.00) bottom");
    bw_free(world);
}

static void copper_area_is_that_of_tracks_pads_and_hole(void **state)
{
    (void)state;
    struct board_world *world = two_tracks();
    bw_must_read(world);
    /* Each layer: pad 4, track beyond the pad and up to its round end 9 x 1 + pi/8, of which the
     * hole's pad of radius 0.6 adds what lies beyond the track; less the hole pi 0.22^2.
     * Pad beyond track and end cap: the half of the disc towards the track sticks out by two
     * segments, the other half by half the ring. */
    double r = 0.6, h = 0.5, segment = r * r * acos(h / r) - h * sqrt(r * r - h * h);
    double ring_half = M_PI / 2 * (r * r - h * h);
    double layer = 4 + 9 + M_PI / 8 + segment + ring_half - M_PI * 0.22 * 0.22;
    assert_near(world->board.conductors[0].area_mm2, 2 * layer, 5e-3);
    bw_free(world);
}

static void an_untented_small_hole_that_joins_is_a_via(void **state)
{
    (void)state;
    struct board_world *world = two_tracks(); /* no masks at all: every flash is free */
    bw_must_read(world);
    assert_true(bw_hole(world, 10000, 0)->is_via);
    assert_int_equal(world->board.contact_count, 2);
    bw_free(world);
}

#define BIG_HOLE DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C0.8\n%\nT1\nX10.0Y0.0\nM30\n"

static void a_hole_that_takes_a_lead_is_a_terminal(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP_TRACK);
    bw_file(world, "bottom.gbr", BOTTOM_TRACK);
    bw_file(world, "hole.drl", BIG_HOLE);
    bw_must_read(world);
    const struct board_hole *hole = bw_hole(world, 10000, 0);
    assert_false(hole->is_via);
    assert_int_not_equal(hole->contact, ISTHMUS_NONE);
    const struct contact *contact = &world->board.contacts[hole->contact];
    assert_int_equal(contact->layer_from, 1);
    assert_int_equal(contact->layer_to, 2);
    assert_int_equal(world->board.terminal_count, 3);
    bw_terminal(world, "(10.00, 0.00) hole");
    assert_non_null(bw_diag(world, "profile-missing"));
    assert_false(world->board.has_profile);
    bw_free(world);
}

static void pads_with_holes_and_no_drill_file_are_told(void **state)
{
    (void)state;
    const char *pads = "%ADD10C,1.6*%\nD10*\nX0Y0D03*\nX2540Y0D03*\nX5080Y0D03*\n" END;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", bw_text(world, TOP, pads, NULL));
    bw_file(world, "bottom.gbr", bw_text(world, BOTTOM, pads, NULL));
    bw_must_read(world);
    assert_non_null(strstr(bw_diag(world, "drill-missing")->text, "3 pads"));
    assert_int_equal(bw_diag(world, "drill-missing")->level, DIAG_ERROR);
    assert_true(world->board.are_holes_missing);
    bw_free(world);
    world = bw_new();
    bw_file(world, "top.gbr", bw_text(world, TOP, pads, NULL));
    bw_file(world, "bottom.gbr", bw_text(world, BOTTOM, pads, NULL));
    bw_file(world, "empty.drl", DRILL "%\nM30\n");
    bw_must_read(world);
    assert_non_null(strstr(bw_diag(world, "drill-missing")->text, "no drill file has a hole"));
    struct role_option option = {"empty.drl", "plated"}; /* said so: there are none */
    world->options.roles = &option;
    world->options.role_count = 1;
    world->diags = (struct diag_list){.arena = world->arena};
    bw_must_read(world);
    assert_null(bw_diag(world, "drill-missing"));
    bw_free(world);
    /* Mounting holes alone; a hole under one of the pads. */
    static const struct {
        const char *holes;
        bool is_missing;
    } drills[] = {{"X9.0Y4.0\n", true}, {"X0.0Y0.0\n", false}};
    for (size_t i = 0; i < 2; i++) {
        world = bw_new();
        bw_file(world, "top.gbr", bw_text(world, TOP, pads, NULL));
        bw_file(world, "bottom.gbr", bw_text(world, BOTTOM, pads, NULL));
        bw_file(world, "edge.gbr", EDGE);
        bw_file(world, "h.drl",
                bw_text(world, DRILL "T1C0.8\n%\nT1\n", drills[i].holes, "M30\n", NULL));
        bw_read(world);
        assert_int_equal(bw_diag(world, "drill-missing") != NULL, drills[i].is_missing);
        bw_free(world);
    }
}

/* Nine pads on both sides, three of them drilled: a file may be missing. */
static void few_holes_under_pads_are_told(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    const char *pads = "%ADD10C,1.6*%\nD10*\nX0Y0D03*\nX2000D03*\nX4000D03*\nX6000D03*\nX8000D03*\n"
                       "X10000D03*\nX12000D03*\nX14000D03*\nX16000D03*\n" END;
    bw_file(world, "top.gbr", bw_text(world, TOP, pads, NULL));
    bw_file(world, "bottom.gbr", bw_text(world, BOTTOM, pads, NULL));
    bw_file(world, "h.drl", DRILL "T1C0.8\n%\nT1\nX0.0Y0.0\nX2.0\nX4.0\nM30\n");
    bw_must_read(world);
    assert_int_equal(bw_diag(world, "drill-few")->level, DIAG_WARNING);
    assert_non_null(strstr(bw_diag(world, "drill-few")->text, "6 of the 9 pads"));
    bw_free(world);
}

static void a_copper_layer_without_copper_is_told(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP_TRACK);
    bw_file(world, "bottom.gbr", BOTTOM END);
    bw_file(world, "edge.gbr", EDGE);
    bw_must_read(world);
    assert_int_equal(bw_diag(world, "copper-empty")->level, DIAG_NOTE); /* copper on one side */
    assert_int_equal(bw_diag(world, "copper-empty")->at.file_id, 2);
    bw_free(world);
    world = bw_new();
    bw_file(world, "top.gbr", TOP_TRACK);
    bw_file(world, "in1.gbr", GERBER "%TF.FileFunction,Copper,L2,Inr*%\n" END);
    bw_file(world, "in2.gbr",
            GERBER "%TF.FileFunction,Copper,L3,Inr*%\n%ADD10C,1*%\nD10*\nX0Y0D03*\n" END);
    bw_file(world, "bottom.gbr",
            GERBER "%TF.FileFunction,Copper,L4,Bot*%\n%ADD10C,1*%\nD10*\nX0Y0D03*\n" END);
    bw_file(world, "edge.gbr", EDGE);
    bw_must_read(world);
    assert_int_equal(bw_diag(world, "copper-empty")->level, DIAG_WARNING);
    assert_int_equal(bw_diag(world, "copper-empty")->at.file_id, 2);
    bw_free(world);
}

static void a_hole_that_joins_nothing_is_a_terminal(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP_TRACK);
    bw_file(world, "bottom.gbr", BOTTOM PADS "D12*\nX10000Y0D03*\n" END);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "hole.drl", VIA); /* small, but the bottom has only its own pad */
    bw_must_read(world);
    assert_false(bw_hole(world, 10000, 0)->is_via);
    assert_int_equal(world->board.terminal_count, 2);
    bw_free(world);
}

/* ---- names ---- */

static const char *net_text(struct board_world *world, const char *net)
{
    return arena_printf(world->arena, "%%TD*%%\n%%TO.N,%s*%%\n", net);
}

static const char *pin_text(struct board_world *world, const char *net, const char *ref,
                            const char *pin)
{
    return arena_printf(world->arena, "%s%%TO.P,%s,%s*%%\n", net_text(world, net), ref, pin);
}

#define CONDUCTOR "%TA.AperFunction,Conductor*%\n"
#define SMD_PAD "%TA.AperFunction,SMDPad,CuDef*%\n"
#define VIA_PAD "%TA.AperFunction,ViaPad*%\n"
#define COMPONENT_PAD "%TA.AperFunction,ComponentPad*%\n"

/* The same tracks with names: J1.1 at the start, U1.2 at the end, the hole's pads by attribute. */
static void name_tracks(struct board_world *world, const char *hole_function)
{
    bw_file(world, "top.gbr",
            bw_text(world, TOP, CONDUCTOR "%ADD10C,1.0*%\n", SMD_PAD "%ADD11R,2.0X2.0*%\n",
                    hole_function, "%ADD12C,1.2*%\n%TD*%\nG01*\n", net_text(world, "V24"),
                    "D10*\nX0Y0D02*\nX10000Y0D01*\n", pin_text(world, "V24", "J1", "1"),
                    "D11*\nX0Y0D03*\n", net_text(world, "V24"), "D12*\nX10000Y0D03*\n", END, NULL));
    bw_file(world, "bottom.gbr",
            bw_text(world, BOTTOM, CONDUCTOR "%ADD10C,1.0*%\n", SMD_PAD "%ADD11R,2.0X2.0*%\n",
                    VIA_PAD "%ADD12C,1.2*%\n%TD*%\nG01*\n", net_text(world, "V24"),
                    "D10*\nX10000Y0D02*\nX20000Y0D01*\n", pin_text(world, "V24", "U1", "2"),
                    "D11*\nX20000Y0D03*\n", net_text(world, "V24"), "D12*\nX10000Y0D03*\n", END,
                    NULL));
    bw_file(world, "edge.gbr", EDGE);
}

static void names_and_pins_come_from_attributes(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    name_tracks(world, VIA_PAD);
    bw_file(world, "hole.drl", BIG_HOLE); /* large, but an attribute says via */
    bw_must_read(world);
    assert_true(bw_hole(world, 10000, 0)->is_via);
    const struct net *net = bw_net(world, "V24");
    assert_int_equal(net->state, NET_OK);
    assert_string_equal(net->named_by, "attribute");
    assert_int_equal(net->terminal_count, 2);
    assert_int_equal(net->conductor_count, 1);
    const struct terminal *terminal = bw_terminal(world, "J1.1");
    assert_string_equal(terminal->ref, "J1");
    assert_string_equal(terminal->pin, "1");
    assert_int_equal(world->board.contacts[terminal->contacts[0]].source, CONTACT_ATTRIBUTE);
    bw_terminal(world, "U1.2");
    bw_free(world);
}

static void an_attribute_makes_a_small_hole_a_contact(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    name_tracks(world, COMPONENT_PAD);
    bw_file(world, "hole.drl", VIA);
    bw_must_read(world);
    assert_false(bw_hole(world, 10000, 0)->is_via);
    assert_int_equal(bw_net(world, "V24")->terminal_count, 3);
    bw_free(world);
}

/* ---- negative planes ---- */

#define PLANE                                                                                      \
    GERBER "%TF.FileFunction,Copper,L2,Inr*%\n%TF.FilePolarity,Negative*%\n%ADD10C,2.0*%\nD10*\n"  \
           "X0Y0D03*\n" END
#define LAST GERBER "%TF.FileFunction,Copper,L4,Bot*%\n"
#define SIGNAL GERBER "%TF.FileFunction,Copper,L3,Inr*%\n"
#define TWO_HOLES                                                                                  \
    DRILL "; #@! TF.FileFunction,Plated,1,4,PTH\nT1C0.4\n%\nT1\nX0.0Y0.0\nX10.0Y0.0\nM30\n"
#define TWO_PADS "%ADD10C,1.0*%\nD10*\nX0Y0D03*\nX10000Y0D03*\n" END

static struct board_world *four_layers(void)
{
    struct board_world *world = bw_new();
    bw_file(world, "l1.gbr", TOP TWO_PADS);
    bw_file(world, "l2.gbr", PLANE);
    bw_file(world, "l3.gbr", SIGNAL TWO_PADS);
    bw_file(world, "l4.gbr", LAST TWO_PADS);
    bw_file(world, "holes.drl", TWO_HOLES);
    return world;
}

static void a_negative_plane_is_turned_round_inside_the_profile(void **state)
{
    (void)state;
    struct board_world *world = four_layers();
    bw_file(world, "edge.gbr", EDGE);
    bw_must_read(world);
    const struct board *board = &world->board;
    assert_int_equal(board->layer_count, 4);
    /* 30 x 10 mm less the clearance pi 1.0^2 at (0,0), in which hole 1 lies, and hole 2 cut at
     * 0.44 mm. */
    assert_near(board->layers[1].mesh.component_area_mm2[0], 300 - M_PI - M_PI * 0.22 * 0.22, 3e-3);
    /* Hole 1 stands clear of the plane; hole 2 is joined to it. */
    uint32_t plane = board->layers[1].conductor_of_component[0];
    assert_int_equal(bw_hole(world, 10000, 0)->conductor, plane);
    assert_int_not_equal(bw_hole(world, 0, 0)->conductor, plane);
    assert_int_equal(board->conductor_count, 2);
    bw_free(world);
}

/* ---- islands that no current passes through ---- */

#define BAR_AND_PAD                                                                                \
    "%ADD10C,1.0*%\n%ADD11R,2.0X2.0*%\nD10*\nX0Y0D02*\nG01*\nX10000Y0D01*\nD11*\nX0Y0D03*\n"       \
    "D10*\nX20000Y0D03*\n" END

/* A track from a surface pad to a via, on four layers: the inner pads of the via, and those of a
 * pin on all layers but the one where a track joins it, carry nothing for anybody else. */
static void pads_that_a_hole_only_passes_are_pendant(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "l1.gbr", TOP BAR_AND_PAD);
    bw_file(world, "l2.gbr",
            GERBER "%TF.FileFunction,Copper,L2,Inr*%\n%ADD10C,1.0*%\nD10*\n"
                   "X10000Y0D03*\nX20000Y0D03*\n" END);
    bw_file(world, "l3.gbr", SIGNAL "%ADD10C,1.0*%\nD10*\nX10000Y0D02*\nG01*\nX20000Y0D01*\n" END);
    bw_file(world, "l4.gbr", LAST "%ADD10C,1.0*%\nD10*\nX10000Y0D03*\nX20000Y0D03*\n" END);
    bw_file(world, "mt.gbr", MASK_TOP "%ADD10R,2.1X2.1*%\nD10*\nX0Y0D03*\nX20000Y0D03*\n" END);
    bw_file(world, "mb.gbr", MASK_BOTTOM "%ADD10C,1.1*%\nD10*\nX20000Y0D03*\n" END);
    bw_file(world, "holes.drl",
            DRILL "; #@! TF.FileFunction,Plated,1,4,PTH\nT1C0.4\nT2C0.8\n%\nT1\nX10.0Y0.0\nT2\n"
                  "X20.0Y0.0\nM30\n");
    bw_must_read(world);
    const struct board *board = &world->board;
    assert_int_equal(board->terminal_count, 2);
    assert_true(bw_hole(world, 10000, 0)->is_via);
    static const uint32_t pendant_count[] = {1, 2, 0, 2};
    for (size_t l = 0; l < 4; l++) {
        uint32_t count = 0;
        for (uint32_t c = 0; c < board->layers[l].mesh.component_count; c++)
            count += board->layers[l].is_pendant[c];
        assert_int_equal(count, pendant_count[l]);
    }
    bw_free(world);
}

static void a_negative_plane_needs_a_profile(void **state)
{
    (void)state;
    struct board_world *world = four_layers();
    assert_int_equal(bw_read(world), BOARD_REFUSED);
    const struct diag *diag = bw_diag(world, "profile-missing");
    assert_non_null(diag);
    assert_int_equal(diag->level, DIAG_ERROR);
    bw_free(world);
}

/* ---- the edge of the board ---- */

#define POUR "G36*\nX-10000Y-10000D02*\nX30000D01*\nY10000D01*\nX-10000D01*\nY-10000D01*\nG37*\n"

static void copper_beyond_the_profile_is_none(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP "G01*\n" POUR END);
    bw_file(world, "bottom.gbr", BOTTOM TWO_PADS);
    /* With a round cut-out of radius 2 about (10,0), drawn as a full circle. */
    bw_file(world, "edge.gbr",
            PROFILE "G01*\nX-5000Y-5000D02*\nX25000D01*\nY5000D01*\nX-5000D01*\nY-5000D01*\n"
                    "X12000Y0D02*\nG03*\nX12000Y0I-2000J0D01*\n" END);
    bw_must_read(world);
    assert_int_equal(world->board.profile_piece_count, 1);
    assert_near(world->board.layers[0].mesh.component_area_mm2[0], 300 - 4 * M_PI, 0.02);
    assert_int_equal(world->board.min.x_nm, -5000000);
    assert_int_equal(world->board.max.y_nm, 5000000);
    bw_free(world);
}

static void a_castellation_keeps_its_arc_inside(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP "%ADD10C,2.0*%\nD10*\nX-5000Y0D03*\n" END);
    bw_file(world, "bottom.gbr", BOTTOM "%ADD10C,2.0*%\nD10*\nX-5000Y0D03*\n" END);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "holes.drl",
            DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C1.0\n%\nT1\nX-5.0Y0.0\nM30\n");
    bw_must_read(world);
    const struct board_hole *hole = bw_hole(world, -5000, 0);
    assert_true(hole->is_on_profile);
    assert_int_not_equal(hole->contact, ISTHMUS_NONE);
    /* Half of pi (1 - 0.02) 0.02, and half the ring between 0.52 and 1 mm. */
    assert_near(hole->wall_mm2, M_PI * 0.98 * 0.02 / 2, 2e-4);
    assert_near(world->board.layers[0].mesh.component_area_mm2[0], M_PI / 2 * (1 - 0.52 * 0.52),
                2e-3);
    assert_int_equal(world->board.conductor_count, 1);
    bw_free(world);
}

/* Two hits of 1 mm half a diameter apart, drilled at 1.04 mm: each loses the arc of 2 acos(0.25 /
 * 0.52) of its rim that lies in the other one. A third hole stands apart. */
static void holes_that_run_into_each_other_share_a_wall(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP "%ADD10R,8.0X4.0*%\nD10*\nX0Y0D03*\n" END);
    bw_file(world, "bottom.gbr", BOTTOM "%ADD10R,8.0X4.0*%\nD10*\nX0Y0D03*\n" END);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "holes.drl",
            DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C1.0\n%\nT1\nX0.0Y0.0\nX0.5Y0.0\n"
                  "X3.0Y0.0\nM30\n");
    bw_must_read(world);
    double whole = M_PI * 0.98 * 0.02, left = whole * (1 - acos(0.25 / 0.52) / M_PI);
    assert_near(bw_hole(world, 0, 0)->wall_mm2, left, whole * 0.01);
    assert_near(bw_hole(world, 500, 0)->wall_mm2, left, whole * 0.01);
    assert_near(bw_hole(world, 3000, 0)->wall_mm2, whole, 1e-9);
    bw_free(world);
}

/* A slot of 1 x 3 mm as a row of nine hits 0.25 mm apart. Its rim is pi + 2 x 2 mm; that of the row
 * is scalloped, a little longer: 2 pi for the ends but for what the next hit takes, 7 times four
 * arcs of asin(0.125 / 0.5) between. Never the nine whole walls. */
static void a_row_of_hits_has_the_wall_of_its_slot(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP "%ADD10R,8.0X4.0*%\nD10*\nX0Y0D03*\n" END);
    bw_file(world, "bottom.gbr", BOTTOM "%ADD10R,8.0X4.0*%\nD10*\nX0Y0D03*\n" END);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "holes.drl",
            DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C1.0\n%\nT1\nX-1.0Y0.0\nX-0.75\n"
                  "X-0.5\nX-0.25\nX0.0\nX0.25\nX0.5\nX0.75\nX1.0\nM30\n");
    bw_must_read(world);
    double sum = 0, half_step = asin(0.25);
    for (size_t i = 0; i < world->board.hole_count; i++)
        sum += world->board.holes[i].wall_mm2;
    double ends = 2 * (M_PI + 2 * half_step), between = 7 * 4 * half_step;
    assert_int_equal(world->board.hole_count, 9);
    assert_near(sum, (ends + between) / (2 * M_PI) * M_PI * 0.98 * 0.02, 3e-3);
    bw_free(world);
}

static struct board_world *panel(void)
{
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP "%ADD10R,2X2*%\nD10*\nX0Y0D03*\nX20000Y0D03*\n" END);
    bw_file(world, "bottom.gbr", BOTTOM TWO_PADS);
    bw_file(world, "edge.gbr",
            PROFILE "G01*\nX-5000Y-5000D02*\nX5000D01*\nY5000D01*\nX-5000D01*\nY-5000D01*\n"
                    "X15000Y-5000D02*\nX25000D01*\nY5000D01*\nX15000D01*\nY-5000D01*\n" END);
    return world;
}

#define RELIEFS                                                                                    \
    GERBER "%AMTH*7,0,0,1.4,1,0.3,45*%\n%ADD11TH*%\nG01*\nG36*\nX-4000Y-4000D02*\nX4000D01*\n"     \
           "Y4000D01*\nX-4000D01*\nY-4000D01*\nG37*\n"

/* Dark thermal reliefs on an inner layer are a plane's gaps; cleared from an area they are copper.
 */
static void thermal_reliefs_ask_for_the_polarity(void **state)
{
    (void)state;
    static const char *const inner[] = {RELIEFS "%LPD*%\nD11*\nX5000Y0D03*\n" END,
                                        RELIEFS "%LPC*%\nD11*\nX2000Y0D03*\n" END};
    for (int i = 0; i < 2; i++) {
        struct board_world *world = bw_new();
        bw_file(world, "x.gtl", GERBER "%ADD10R,2X2*%\nD10*\nX0Y0D03*\n" END);
        bw_file(world, "x.g1", inner[i]);
        bw_file(world, "x.gbl", GERBER "%ADD10R,2X2*%\nD10*\nX0Y2000D03*\n" END);
        bw_read(world);
        assert_int_equal(bw_diag(world, "roles-polarity") != NULL, i == 0);
        bw_free(world);
    }
}

static void a_panel_is_judged_only_when_one_board_is_named(void **state)
{
    (void)state;
    struct board_world *world = panel();
    assert_int_equal(bw_read(world), BOARD_REFUSED);
    assert_non_null(bw_diag(world, "panel"));
    assert_non_null(strstr(bw_diag(world, "panel")->advice, "--board-at 0.00,0.00 or 20.00,0.00"));
    world->options.has_board_at = true;
    world->options.board_at = (struct pos_nm){20000000, 0};
    bw_must_read(world);
    assert_int_equal(world->board.profile_piece_count, 2);
    assert_int_equal(world->board.layers[0].mesh.component_count, 1);
    assert_int_equal(world->board.min.x_nm, 15000000);
    bw_terminal(world, "(20.00, 0.00) top");
    assert_int_equal(world->board.terminal_count, 1);
    bw_free(world);
}

static void a_place_on_no_board_is_refused(void **state)
{
    (void)state;
    struct board_world *world = panel();
    world->options.has_board_at = true;
    world->options.board_at = (struct pos_nm){10000000, 0};
    assert_int_equal(bw_read(world), BOARD_REFUSED);
    assert_non_null(bw_diag(world, "board-at"));
    bw_free(world);
}

static void an_edge_in_pieces_is_chained(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP "G01*\n" POUR END);
    bw_file(world, "bottom.gbr", BOTTOM TWO_PADS);
    /* Four sides in any order and direction; a gap of 0.02 mm; a side drawn twice; a loose end. */
    bw_file(world, "edge.gbr",
            PROFILE "G01*\nX25000Y5000D02*\nX25000Y-5000D01*\nX-5000Y-5000D02*\nX25000Y-5000D01*\n"
                    "X-5000Y5000D02*\nX24980Y5000D01*\nX-5000Y-5000D02*\nY5000D01*\n"
                    "X-5000Y5000D02*\nX-5000Y-5000D01*\nX0Y-5000D02*\nX0Y-8000D01*\n" END);
    bw_must_read(world);
    assert_int_equal(bw_diag(world, "profile-gap")->level, DIAG_WARNING);
    assert_non_null(bw_diag(world, "profile-loose-line"));
    assert_near(world->board.layers[0].mesh.component_area_mm2[0], 300, 1e-3);
    bw_free(world);
}

/* The edge does not close, and round mounting holes with their pads are left of it: no panel. */
static void rings_within_an_open_edge_are_no_boards(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr",
            TOP "%ADD10C,1.0*%\nD10*\nX0Y0D03*\nX20000D03*\nX5000D03*\nX8000D03*\nX11000D03*\n"
                "X14000D03*\n" END);
    bw_file(world, "edge.gbr",
            PROFILE "G01*\nX-5000Y-5000D02*\nX25000D01*\nY5000D01*\nX-5000D01*\nY-4000D01*\n"
                    "X1000Y0D02*\nG03*\nI-1000J0D01*\nX21000Y0D02*\nI-1000J0D01*\n" END);
    bw_must_read(world);
    assert_null(bw_diag(world, "panel"));
    assert_int_equal(bw_diag(world, "profile-missing")->level, DIAG_ERROR);
    assert_int_equal(world->board.profile_piece_count, 0);
    bw_free(world);
}

/* Set aside by its name, but it looks like the edge. */
static void a_drawing_that_may_be_the_edge_is_named(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "x.gtl", TOP_TRACK);
    bw_file(world, "x.gbl", BOTTOM_TRACK);
    bw_file(world, "x.gm13",
            GERBER "%ADD10C,0.1*%\nD10*\nG01*\nX-5000Y-5000D02*\nX25000D01*\nY5000D01*\n"
                   "X-5000D01*\nY-5000D01*\n" END);
    bw_file(world, "x.gto", GERBER "%ADD10C,0.1*%\nD10*\nG01*\nX0Y0D02*\nX1000D01*\n" END);
    bw_must_read(world);
    assert_non_null(strstr(bw_diag(world, "profile-missing")->text, "(x.gm13 may be it)"));
    bw_free(world);
}

static void an_open_edge_is_no_profile(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP_TRACK);
    bw_file(world, "bottom.gbr", BOTTOM_TRACK);
    bw_file(world, "edge.gbr",
            PROFILE "G01*\nX-5000Y-5000D02*\nX25000D01*\nY5000D01*\nX-5000D01*\nY-4000D01*\n" END);
    bw_must_read(world);
    assert_false(world->board.has_profile);
    assert_int_equal(bw_diag(world, "profile-missing")->level, DIAG_ERROR);
    assert_non_null(bw_diag(world, "profile-loose-line"));
    bw_free(world);
}

/* ---- holes ---- */

static void unknown_plating_is_told_by_the_copper_round_it(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP "%ADD10C,2.0*%\nD10*\nX0Y0D03*\nX5000Y0D03*\n" END);
    bw_file(world, "bottom.gbr", BOTTOM "%ADD10C,2.0*%\nD10*\nX0Y0D03*\n" END);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "holes.drl", DRILL "T1C1.0\n%\nT1\nX0.0Y0.0\nX5.0Y0.0\nX10.0Y0.0\nM30\n");
    bw_must_read(world);
    assert_true(bw_hole(world, 0, 0)->is_plated);
    assert_false(bw_hole(world, 5000, 0)->is_plated);
    assert_non_null(strstr(bw_hole(world, 5000, 0)->why_plated, "one side"));
    assert_false(bw_hole(world, 10000, 0)->is_plated);
    assert_int_equal(bw_hole(world, 10000, 0)->cut_nm, 1000000);
    bw_free(world);
}

static void holes_drilled_twice_are_one(void **state)
{
    (void)state;
    struct board_world *world = two_tracks();
    bw_file(world, "again.drl", VIA "\n"); /* the same bytes would be one file */
    bw_must_read(world);
    assert_int_equal(world->board.hole_count, 1);
    assert_non_null(bw_diag(world, "hole-twice"));
    bw_free(world);
    world = two_tracks(); /* the very same bytes: one file */
    bw_file(world, "again.drl", VIA);
    bw_must_read(world);
    assert_int_equal(world->board.hole_count, 1);
    assert_null(bw_diag(world, "hole-twice"));
    assert_non_null(bw_diag(world, "roles-copy"));
    bw_free(world);
}

static void drilled_sizes_are_finished_smaller(void **state)
{
    (void)state;
    struct board_world *world = two_tracks();
    world->facts.is_tool_drilled = true;
    bw_must_read(world);
    const struct board_hole *hole = bw_hole(world, 10000, 0);
    assert_int_equal(hole->cut_nm, 400000);
    assert_int_equal(hole->finished_nm, 360000);
    bw_free(world);
}

static void plated_holes_that_meet_join_their_copper(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    /* Two pads 1.2 mm apart that do not touch, with overlapping holes of 1 mm between them. */
    bw_file(world, "top.gbr", TOP "%ADD10R,0.5X3*%\nD10*\nX-600Y0D03*\nX1400Y0D03*\n" END);
    bw_file(world, "bottom.gbr", BOTTOM TWO_PADS);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "holes.drl",
            DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C1.0\n%\nT1\nX0.0Y0.0\nX0.8Y0.0\nM30\n");
    bw_must_read(world);
    assert_int_equal(world->board.layers[0].mesh.component_count, 2);
    assert_int_equal(world->board.layers[0].conductor_of_component[0],
                     world->board.layers[0].conductor_of_component[1]);
    bw_free(world);
}

/* ---- mask openings ---- */

#define AREA_TOP TOP "G01*\n" POUR END
static void openings_in_a_pour_are_contacts_or_bared(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", AREA_TOP);
    bw_file(world, "bottom.gbr", BOTTOM TWO_PADS);
    bw_file(world, "edge.gbr", EDGE);
    /* 2 x 4 mm: no longer than 4 times its width; 1 x 8 mm, made of two strokes: longer. */
    bw_file(world, "mask.gbr",
            MASK_TOP "%ADD10R,2X4*%\n%ADD11C,1*%\nD10*\nX0Y0D03*\nD11*\nG01*\nX10000Y0D02*\n"
                     "X13500Y0D01*\nX17000Y0D01*\n" END);
    bw_must_read(world);
    assert_int_equal(world->board.contact_count, 1 + 2); /* the bottom's mask is not known */
    const struct terminal *terminal = bw_terminal(world, "(0.00, 0.00) top");
    (void)terminal;
    assert_int_equal(world->board.bared_count, 1);
    assert_near(world->board.bared[0].area_mm2, 7 + M_PI / 4, 0.01);
    assert_int_equal(world->board.bared[0].layer, 1);
    bw_free(world);
}

/* A long opening counts for the copper under it alone: it runs out over the board's edge, and a
 * clear stroke of 0.5 mm parts the pour under it. */
static void bared_copper_is_what_lies_under_an_opening(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr",
            TOP "%ADD10C,0.5*%\nG01*\n" POUR
                "%LPC*%\nD10*\nX18000Y-9000D02*\nX18000Y9000D01*\n%LPD*%\n" END);
    bw_file(world, "bottom.gbr", BOTTOM TWO_PADS);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "mask.gbr",
            MASK_TOP "%ADD11C,1*%\nD11*\nG01*\nX16000Y0D02*\nX29000Y0D01*\n" END);
    bw_must_read(world);
    const struct board *board = &world->board;
    assert_int_equal(board->bared_count, 1);
    /* half a disc, 16.0 to 17.75 and 18.25 to 25.0 mm; the mask's arcs are flat to 5 um */
    assert_near(board->bared[0].area_mm2, M_PI / 8 + 1.75 + 6.75, 0.005);
    uint32_t under = board->bared[0].conductor; /* most of it is right of the clear stroke */
    assert_true(under < board->conductor_count);
    assert_near(board->conductors[under].area_mm2, 6.75 * 10, 1e-3);
    bw_free(world);
}

static void an_opening_fits_its_pad_up_to_three_tenths(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    /* Pads 1 x 1 mm: openings 0.29 mm larger all round, 0.31 mm larger, and none. */
    bw_file(world, "top.gbr", TOP "%ADD10R,1X1*%\nD10*\nX0Y0D03*\nX5000Y0D03*\nX10000Y0D03*\n" END);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "bottom.gbr", BOTTOM TWO_PADS);
    bw_file(world, "mask.gbr",
            MASK_TOP
            "%ADD10R,1.58X1.58*%\n%ADD11R,1.62X1.62*%\nD10*\nX0Y0D03*\nD11*\nX5000Y0D03*\n" END);
    bw_must_read(world);
    size_t top_count = 0;
    for (size_t c = 0; c < world->board.contact_count; c++) {
        const struct contact *contact = &world->board.contacts[c];
        if (contact->layer_from != 1)
            continue;
        top_count++;
        assert_int_equal(contact->source, contact->place.x_nm == 0 ? CONTACT_MASK : CONTACT_FLASH);
    }
    assert_int_equal(top_count, 2);
    bw_free(world);
}

/* A piece of a pour drawn as a region under a pad, and a flash under a pad's own area, as on a real
 * board that told two terminals at one place: one contact each, of the larger. Two pads beside each
 * other in one opening stay two. */
static void what_lies_within_a_pad_is_no_second_contact(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr",
            TOP "%ADD10R,1.4X0.9*%\n%ADD11C,0.5*%\n%ADD12R,0.5X0.5*%\nG01*\nD10*\nX0Y0D03*\n"
                "G36*\nX-500Y-300D02*\nX500D01*\nY300D01*\nX-500D01*\nY-300D01*\nG37*\n"
                "D11*\nX5100Y0D03*\nG36*\nX4500Y-400D02*\nX5500D01*\nY400D01*\nX4500D01*\n"
                "Y-400D01*\nG37*\nD12*\nX9700Y0D03*\nX10300Y0D03*\n" END);
    bw_file(world, "bottom.gbr", BOTTOM TWO_PADS);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "mt.gbr",
            MASK_TOP "%ADD10R,1.4X0.9*%\n%ADD11R,1X0.8*%\nD10*\nX0Y0D03*\nX10000Y0D03*\nD11*\n"
                     "X5000Y0D03*\n" END);
    bw_must_read(world);
    const struct pos_nm expected[] = {{0, 0}, {5000000, 0}, {9700000, 0}, {10300000, 0}};
    size_t top_count = 0;
    for (size_t c = 0; c < world->board.contact_count; c++) {
        const struct contact *contact = &world->board.contacts[c];
        if (contact->layer_from != 1)
            continue;
        top_count++;
        bool is_expected = false;
        for (size_t i = 0; i < sizeof expected / sizeof *expected; i++)
            is_expected |= contact->place.x_nm == expected[i].x_nm;
        assert_true(is_expected);
    }
    assert_int_equal(top_count, 4);
    bw_free(world);
}

/* One opening over a pad and a smaller one that its box holds: in the notch of a bent pad (a sense
 * pad beside a shunt), and in a ring that a clear disc leaves. Each stays a contact of its own. */
static void a_pad_in_the_notch_of_another_stays_a_contact(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr",
            TOP "%ADD10R,2X3*%\n%ADD11C,4*%\n%ADD12C,2*%\n%ADD13C,1*%\nG01*\n"
                "G36*\nX-4000Y-4000D02*\nX4000D01*\nY4000D01*\nX2000D01*\nY-2000D01*\n"
                "X-2000D01*\nY4000D01*\nX-4000D01*\nY-4000D01*\nG37*\nD10*\nX0Y2000D03*\n"
                "D11*\nX12000Y0D03*\n%LPC*%\nD12*\nX12000Y0D03*\n%LPD*%\nD13*\n"
                "X12000Y0D03*\n" END);
    bw_file(world, "bottom.gbr", BOTTOM TWO_PADS);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "mt.gbr",
            MASK_TOP "%ADD10R,8.1X8.1*%\n%ADD11C,4.1*%\nD10*\nX0Y0D03*\nD11*\n"
                     "X12000Y0D03*\n" END);
    bw_must_read(world);
    const struct pos_nm sense = {0, 2000000}, inner = {12000000, 0};
    size_t top_count = 0, sense_count = 0, inner_count = 0;
    for (size_t c = 0; c < world->board.contact_count; c++) {
        const struct contact *contact = &world->board.contacts[c];
        if (contact->layer_from != 1)
            continue;
        top_count++;
        sense_count += contact->place.x_nm == sense.x_nm && contact->place.y_nm == sense.y_nm;
        inner_count += contact->place.x_nm == inner.x_nm && contact->place.y_nm == inner.y_nm;
    }
    assert_int_equal(top_count, 4);
    assert_int_equal(sense_count, 1);
    assert_int_equal(inner_count, 1);
    bw_free(world);
}

/* A part's pad of 1 x 1.5 mm with a via in its middle, free of the mask; below the via is covered.
 */
static void a_via_in_a_pad_leaves_the_pad_a_contact(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr",
            TOP "%ADD10R,1X1.5*%\n%ADD11C,0.6*%\nD10*\nX0Y0D03*\nD11*\nX0Y0D03*\n" END);
    bw_file(world, "bottom.gbr",
            BOTTOM
            "%ADD10C,1*%\n%ADD11C,0.6*%\nG01*\nD10*\nX0Y0D02*\nX10000D01*\nD11*\nX0Y0D03*\n" END);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "mt.gbr", MASK_TOP "%ADD10R,1.1X1.6*%\nD10*\nX0Y0D03*\n" END);
    bw_file(world, "mb.gbr", MASK_BOTTOM "%ADD10R,1.1X1.6*%\nD10*\nX10000Y0D03*\n" END);
    bw_file(world, "holes.drl",
            DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C0.3\n%\nT1\nX0.0Y0.0\nM30\n");
    bw_table(world, "net,current_a,x_mm,y_mm,layer\nHEAT,2,0,0,top\n");
    bw_must_read(world);
    assert_int_equal(bw_hole(world, 0, 0)->contact, ISTHMUS_NONE);
    assert_int_equal(world->board.terminal_count, 2);
    const struct terminal *terminal = &world->board.terminals[world->board.terminal_of_row[0]];
    assert_int_equal(world->board.contacts[terminal->contacts[0]].hole, ISTHMUS_NONE);
    /* The whole pad is marked, not the via's pad alone: 1.5 less the hole pi 0.17^2. */
    const struct sheet_mesh *mesh = &world->board.layers[0].mesh;
    double marked_mm2 = 0;
    for (uint32_t t = 0; t < mesh->cdt.tri_count; t++) {
        const struct pt *p = mesh->cdt.points;
        const uint32_t *c = mesh->cdt.corner[t];
        if (mesh->component[t] != ISTHMUS_NONE && mesh->mark[t] != ISTHMUS_NONE)
            marked_mm2 += (((double)p[c[1]].x - p[c[0]].x) * ((double)p[c[2]].y - p[c[0]].y) -
                           ((double)p[c[1]].y - p[c[0]].y) * ((double)p[c[2]].x - p[c[0]].x)) /
                          2e12;
    }
    assert_near(marked_mm2, 1.5 - M_PI * 0.17 * 0.17, 1e-3);
    bw_free(world);
}

/* No profile file, but both layers draw the same closed thin line round everything. */
static void an_edge_that_all_copper_draws_is_taken(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    const char *edge = "%ADD10C,0.2*%\n%ADD11R,2X2*%\nG01*\nD10*\nX-5000Y-5000D02*\nX25000D01*\n"
                       "Y5000D01*\nX-5000D01*\nY-5000D01*\nD11*\nX0Y0D03*\n" END;
    bw_file(world, "top.gbr", bw_text(world, TOP, edge, NULL));
    bw_file(world, "bottom.gbr", bw_text(world, BOTTOM, edge, NULL));
    bw_must_read(world);
    assert_true(world->board.has_profile);
    assert_int_equal(bw_diag(world, "profile-from-copper")->level, DIAG_WARNING);
    assert_int_equal(world->board.max.x_nm, 25000000);
    assert_int_equal(world->board.layers[0].mesh.component_count, 1);
    bw_free(world);
}

static void the_outline_drawn_on_copper_is_no_copper(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    /* The edge of EDGE as strokes of 0.25 mm, and a track that runs out to it. */
    bw_file(world, "top.gbr",
            TOP "%ADD10C,0.25*%\n%ADD11R,2X2*%\nG01*\nD10*\nX-5000Y-5000D02*\nX25000D01*\n"
                "Y5000D01*\nX-5000D01*\nY-5000D01*\nX0Y0D02*\nX0Y5000D01*\nD11*\nX0Y0D03*\n" END);
    bw_file(world, "bottom.gbr", BOTTOM TWO_PADS);
    bw_file(world, "edge.gbr", EDGE);
    bw_must_read(world);
    assert_non_null(bw_diag(world, "outline-on-copper"));
    assert_int_equal(world->board.layers[0].mesh.component_count, 1);
    assert_near(world->board.layers[0].mesh.component_area_mm2[0], 4 + 4 * 0.25, 1e-3);
    bw_free(world);
}

/* ---- nets ---- */

#define STRIP_HEAD TOP "%ADD10C,0.5*%\n%ADD11R,1X1*%\nG01*\n"

/* A strip from (0, y) to (10, y) with a pad at either end. */
static const char *strip(struct board_world *world, const char *net, const char *refs, int y_um)
{
    char a[3] = {refs[0], refs[1], 0}, b[3] = {refs[2], refs[3], 0};
    const char *track = arena_printf(world->arena, "D10*\nX0Y%dD02*\nX10000D01*\n", y_um);
    const char *start = arena_printf(world->arena, "D11*\nX0Y%dD03*\n", y_um);
    const char *end = arena_printf(world->arena, "D11*\nX10000Y%dD03*\n", y_um);
    return bw_text(world, net_text(world, net), track, pin_text(world, net, a, "1"), start,
                   pin_text(world, net, b, "1"), end, NULL);
}

static void strip_files(struct board_world *world, const char *strips)
{
    bw_file(world, "top.gbr", bw_text(world, STRIP_HEAD, strips, END, NULL));
    bw_file(world, "bottom.gbr", BOTTOM TWO_PADS);
    bw_file(world, "edge.gbr", EDGE);
}

static struct board_world *tied_strips(void)
{
    struct board_world *world = bw_new();
    strip_files(world, bw_text(world, strip(world, "A", "J1J2", 0), strip(world, "B", "J3J4", 3000),
                               net_text(world, "A"), "D10*\nX5000Y0D02*\nY3000D01*\n", NULL));
    return world;
}

static struct board_world *one_strip(const char *refs, const char *more)
{
    struct board_world *world = bw_new();
    strip_files(world, bw_text(world, strip(world, "A", refs, 0), more, NULL));
    return world;
}

static void copper_between_two_nets_joins_them(void **state)
{
    (void)state;
    struct board_world *world = tied_strips();
    bw_must_read(world);
    assert_int_equal(bw_net(world, "A")->state, NET_JOINED);
    assert_int_equal(bw_net(world, "B")->state, NET_JOINED);
    assert_non_null(strstr(bw_net(world, "A")->state_detail, "[joins]"));
    bw_free(world);
}

static void a_stated_join_is_one_net(void **state)
{
    (void)state;
    struct board_world *world = tied_strips();
    struct join join = {.a = "A", .b = "B"};
    world->facts.joins = &join;
    world->facts.join_count = 1;
    bw_must_read(world);
    const struct net *a = bw_net(world, "A"), *b = bw_net(world, "B");
    assert_int_equal(a->state, NET_OK);
    assert_int_equal(b->state, NET_OK);
    assert_int_equal(a->joined_into, b - world->board.nets);
    assert_int_equal(b->terminal_count, 4);
    assert_int_equal(b->conductor_count, 1);
    bw_free(world);
}

static void a_cut_strip_splits_its_net(void **state)
{
    (void)state;
    struct board_world *world = one_strip("J1J2", "%LPC*%\nD10*\nX5000Y-1000D02*\nY1000D01*\n");
    bw_must_read(world);
    const struct net *net = bw_net(world, "A");
    assert_int_equal(net->state, NET_SPLIT);
    assert_int_equal(net->conductor_count, 2);
    assert_non_null(strstr(net->state_detail, "J1.1"));
    assert_non_null(strstr(net->state_detail, "J2.1"));
    bw_free(world);
}

static void an_island_of_the_net_splits_nothing(void **state)
{
    (void)state;
    struct board_world *world =
        one_strip("J1J2", "%TD*%\n%TO.N,A*%\nD10*\nX0Y3000D02*\nX3000D01*\n");
    bw_must_read(world);
    const struct net *net = bw_net(world, "A");
    assert_int_equal(net->state, NET_OK);
    assert_int_equal(net->conductor_count, 2);
    size_t islands = 0;
    for (size_t i = 0; i < net->conductor_count; i++)
        islands += world->board.conductors[net->conductors[i]].is_island;
    assert_int_equal(islands, 1);
    bw_free(world);
}

static void pads_of_one_pin_are_one_terminal(void **state)
{
    (void)state;
    struct board_world *world = one_strip("J1J1", "");
    bw_must_read(world);
    const struct terminal *terminal = bw_terminal(world, "J1.1");
    assert_int_equal(terminal->contact_count, 2);
    assert_int_equal(bw_net(world, "A")->terminal_count, 1);
    bw_free(world);
}

#define PART_ONLY(ref) "%TD.P*%\n%TO.C," ref "*%\n"

/* Attribute .C: of which part a pad is, not which pin; a part's two pads are not one terminal. */
static void a_pad_that_only_names_its_part_has_that_reference(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    strip_files(world, PART_ONLY("R5") "%TO.N,A*%\nD11*\nX0Y0D03*\nX2000Y0D03*\n"
                                       "D10*\nX0Y0D02*\nX2000D01*\n%TO.N,B*%\n"
                                       "D11*\nX5000Y0D03*\n%TO.P,J1,3*%\nX8000Y0D03*\n");
    bw_must_read(world);
    assert_int_equal(world->board.terminal_count, 4 + 2); /* two on the bottom */
    const char *const names[3] = {"R5 (0.00, 0.00) top", "R5 (2.00, 0.00) top",
                                  "R5 (5.00, 0.00) top"};
    for (size_t i = 0; i < 3; i++) {
        assert_string_equal(bw_terminal(world, names[i])->ref, "R5");
        assert_null(bw_terminal(world, names[i])->pin);
        assert_int_equal(bw_terminal(world, names[i])->contact_count, 1);
    }
    assert_int_equal(bw_net(world, "A")->terminal_count, 2);
    assert_string_equal(bw_terminal(world, "J1.3")->ref, "J1"); /* .P comes before .C */
    bw_free(world);
}

/* The same pads with a netlist beside them, which raises and cuts references (six columns). */
static void a_netlist_adds_the_pin_of_a_part(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    strip_files(world, PART_ONLY("Relay77") "%TO.N,A*%\nD11*\nX0Y0D03*\nX2000Y0D03*\n"
                                            "D10*\nX0Y0D02*\nX2000D01*\nD11*\nX5000Y0D03*\n");
    bw_file(world, "net.ipc",
            "P  UNITS CUST 1\n"
            "327A                RELAY7-1          A01X+000000Y+000000X1000Y1000R000 S0\n"
            "327A                RELAY7-2          A01X+002000Y+000000X1000Y1000R000 S0\n"
            "999\n");
    bw_must_read(world);
    bw_terminal(world, "Relay77.1");
    bw_terminal(world, "Relay77.2");
    bw_terminal(world, "Relay77 (5.00, 0.00) top");
    assert_int_equal(world->board.terminal_count, 3 + 2);
    bw_free(world);
}

static void single_pads_called_nc_share_no_net(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    strip_files(world, bw_text(world, pin_text(world, "N/C", "U1", "1"), "D11*\nX0Y0D03*\n",
                               pin_text(world, "N/C", "U1", "2"), "X5000Y0D03*\n", NULL));
    bw_must_read(world);
    assert_null(board_find_net(&world->board, "N/C"));
    bw_free(world);
}

/* ---- the table's places ---- */

static struct board_world *unnamed(const char *csv)
{
    struct board_world *world = two_tracks();
    bw_table(world, csv);
    return world;
}

static void a_position_row_names_copper_and_pad(void **state)
{
    (void)state;
    struct board_world *world = unnamed("net,current_a,x_mm,y_mm,layer\n"
                                        "HEAT,+2,0,0.5,top\n"
                                        "HEAT,-2,20,0,bottom\n");
    bw_must_read(world);
    const struct net *net = bw_net(world, "HEAT");
    assert_string_equal(net->named_by, "table position");
    assert_int_equal(net->state, NET_OK);
    assert_int_equal(net->terminal_count, 2);
    assert_int_not_equal(world->board.terminal_of_row[0], world->board.terminal_of_row[1]);
    assert_string_equal(world->board.terminals[world->board.terminal_of_row[0]].name,
                        "(0.00, 0.00) top");
    bw_free(world);
}

/* Two slanted pads side by side: the box of the longer one holds both centres. Its own centre is
 * nearer to the place than that of the small pad under it. Fails before "board: a row means the pad
 * that covers its place". */
static void a_row_means_the_pad_that_covers_its_place(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr",
            TOP "%ADD10C,0.1*%\nG36*\nX0Y0D02*\nG01*\nX100Y-100D01*\nX4100Y3900D01*\nX4000Y4000D01*"
                "\nX0Y0D01*\nG37*\n"
                "G36*\nX2300Y1300D02*\nX3700Y1300D01*\nX3700Y1700D01*\nX2300Y1700D01*\n"
                "X2300Y1300D01*\nG37*\n" END);
    bw_file(world, "bottom.gbr", BOTTOM "%ADD10C,1*%\nD10*\nX90000Y0D03*\n" END);
    bw_table(world, "net,current_a,x_mm,y_mm,layer\n"
                    "SMALL,2,2.4,1.6,top\n");
    bw_must_read(world);
    const struct net *net = bw_net(world, "SMALL");
    assert_int_equal(net->conductor_count, 1);
    assert_near(net->area_mm2, 1.4 * 0.4, 1e-6);
    bw_free(world);
}

static void a_place_without_a_pad_is_a_disc(void **state)
{
    (void)state;
    struct board_world *world = unnamed("net,current_a,x_mm,y_mm,layer\n"
                                        "HEAT,2,5,0,top\n");
    bw_must_read(world);
    const struct contact *contact =
        &world->board.contacts[world->board.terminals[world->board.terminal_of_row[0]].contacts[0]];
    assert_true(contact->is_disc);
    assert_int_equal(contact->source, CONTACT_POSITION);
    assert_non_null(bw_diag(world, "position-disc"));
    assert_int_equal(bw_net(world, "HEAT")->terminal_count, 3);
    bw_free(world);
}

static void a_place_in_a_hole_is_that_hole(void **state)
{
    (void)state;
    struct board_world *world = unnamed("net,current_a,x_mm,y_mm,layer\n"
                                        "HEAT,2,10.1,0,top\n");
    bw_must_read(world);
    const struct board_hole *hole = bw_hole(world, 10000, 0);
    assert_int_not_equal(hole->contact, ISTHMUS_NONE); /* a via otherwise */
    assert_int_equal(world->board.contacts[hole->contact].terminal,
                     world->board.terminal_of_row[0]);
    bw_free(world);
}

static void a_place_on_no_copper_is_an_error(void **state)
{
    (void)state;
    struct board_world *world = unnamed("net,current_a,x_mm,y_mm,layer\n"
                                        "HEAT,2,0,4,top\n");
    bw_read(world);
    assert_int_equal(bw_diag(world, "position-bare")->level, DIAG_ERROR);
    bw_free(world);
}

static void two_names_for_one_conductor_are_disputed(void **state)
{
    (void)state;
    struct board_world *world = unnamed("net,current_a,x_mm,y_mm,layer\n"
                                        "HEAT,2,0,0,top\n"
                                        "FAN,2,20,0,bottom\n");
    bw_read(world);
    assert_int_equal(bw_net(world, "HEAT")->state, NET_DISPUTED);
    assert_int_equal(bw_net(world, "FAN")->state, NET_DISPUTED);
    assert_int_equal(bw_diag(world, "position-contradicts")->level, DIAG_ERROR);
    bw_free(world);
}

static void a_row_against_the_drawing_is_disputed(void **state)
{
    (void)state;
    struct board_world *world = one_strip("J1J2", "");
    bw_table(world, "net,current_a,x_mm,y_mm,layer\nB,2,0,0,top\n");
    bw_read(world);
    assert_int_equal(bw_net(world, "A")->state, NET_DISPUTED);
    assert_non_null(strstr(bw_net(world, "A")->state_detail, "attribute"));
    assert_non_null(strstr(bw_net(world, "A")->state_detail, "table position"));
    bw_free(world);
}

/* ---- netlists ---- */

/* 0.001 mm units, counted from an origin 5 mm to the left and 2 mm below the drawing's. */
static const char netlist_text[] =
    "P  UNITS CUST 1\n"
    "327V24              J1    -1          A01X+005000Y+002000X2000Y2000R000 S0\n"
    "317V24              VIA         D0400PA00X+015000Y+002000X1200Y0000     S0\n"
    "327V24              U1    -2          A02X+025000Y+002000X2000Y2000R000 S0\n"
    "999\n";

static void a_netlist_names_pads_from_another_origin(void **state)
{
    (void)state;
    struct board_world *world = two_tracks();
    bw_file(world, "net.ipc", netlist_text);
    bw_must_read(world);
    const struct diag *note = bw_diag(world, "netlist-offset");
    assert_non_null(note);
    assert_non_null(strstr(note->text, "-5.0000, -2.0000"));
    const struct net *net = bw_net(world, "V24");
    assert_string_equal(net->named_by, "netlist");
    assert_int_equal(net->state, NET_OK);
    assert_int_equal(net->terminal_count, 2);
    bw_terminal(world, "J1.1");
    bw_terminal(world, "U1.2");
    assert_true(bw_hole(world, 10000, 0)->is_via);
    bw_free(world);
}

static char *changed(struct board_world *world, const char *text, const char *from, const char *to)
{
    const char *at = strstr(text, from);
    assert_non_null(at);
    return arena_printf(world->arena, "%.*s%s%s", (int)(at - text), text, to, at + strlen(from));
}

/* The same netlist without its UNITS record, and with a wrong one. */
static void a_unit_that_is_not_stated_is_that_in_which_the_points_fit(void **state)
{
    (void)state;
    for (int is_stated = 0; is_stated < 2; is_stated++) {
        struct board_world *world = two_tracks();
        bw_file(world, "net.ipc",
                changed(world, netlist_text, "P  UNITS CUST 1\n",
                        is_stated ? "P  UNITS CUST 0\n" : ""));
        bw_must_read(world);
        const struct diag *error = bw_diag(world, "netlist-registration");
        if (is_stated) {
            assert_int_equal(error->level, DIAG_ERROR);
            assert_non_null(strstr(error->text, "as 0.001 mm they would lie on it"));
            assert_int_equal(world->board.net_count, 0);
        } else {
            assert_null(error);
            assert_int_equal(bw_net(world, "V24")->terminal_count, 2);
            bw_terminal(world, "U1.2");
        }
        bw_free(world);
    }
}

/* A point that states no side lies on the one whose pad is like it; on pads alike on both it is
 * passed over, and said. */
static void a_point_without_a_side_lies_where_its_pad_is(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr",
            TOP "%ADD11R,1X1*%\n%ADD12R,2X2*%\nD11*\nX0Y0D03*\nX5000Y0D03*\n"
                "D12*\nX9000Y0D03*\n" END);
    bw_file(world, "bottom.gbr",
            BOTTOM "%ADD11R,1X1*%\nD11*\nX5000Y0D03*\nX9000Y0D03*\n"
                   "X9000Y3000D03*\n" END);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "net.ipc",
            "P  UNITS CUST 1\n"
            "327A                R1    -1             X+000000Y+000000X1000Y1000R000 S0\n"
            "327B                R2    -1             X+005000Y+000000X1000Y1000R000 S0\n"
            "327C                R3    -1             X+009000Y+000000X1000Y1000R000 S0\n"
            "327D                R4    -1          A00X+009000Y+003000X1000Y1000R000 S0\n"
            "999\n");
    bw_must_read(world);
    static const struct {
        const char *terminal;
        uint16_t layer;
    } expected[] = {{"R1.1", 1}, {"R3.1", 2}, {"R4.1", 2}};
    for (size_t i = 0; i < sizeof expected / sizeof *expected; i++) {
        const struct terminal *terminal = bw_terminal(world, expected[i].terminal);
        assert_int_equal(world->board.contacts[terminal->contacts[0]].layer_from,
                         expected[i].layer);
    }
    assert_int_equal(bw_diag(world, "netlist-side")->at.line, 3);
    assert_null(bw_diag(world, "netlist-point-bare"));
    bw_free(world);
}

/* "NC" on three pads that hang alone is no net; on two that share copper it is one. */
static void words_for_not_connected_are_no_net(void **state)
{
    (void)state;
    for (int is_tied = 0; is_tied < 2; is_tied++) {
        struct board_world *world = bw_new();
        strip_files(world, bw_text(world, "D11*\nX0Y0D03*\nX0Y3000D03*\nX5000Y3000D03*\n",
                                   is_tied ? "D10*\nX0Y3000D02*\nX5000D01*\n" : "", NULL));
        bw_file(world, "net.ipc",
                "P  UNITS CUST 1\n"
                "327NC               U1    -1          A01X+000000Y+000000X1000Y1000R000 S0\n"
                "327NC               U1    -2          A01X+000000Y+003000X1000Y1000R000 S0\n"
                "327NC               U1    -3          A01X+005000Y+003000X1000Y1000R000 S0\n"
                "999\n");
        bw_must_read(world);
        bw_terminal(world, "U1.2");
        assert_int_equal(world->board.net_count, is_tied);
        assert_int_equal(bw_diag(world, "netlist-no-net") == NULL, is_tied);
        if (is_tied)
            assert_int_equal(bw_net(world, "NC")->state, NET_SPLIT);
        bw_free(world);
    }
}

/* Two tracks that a netlist without aliases calls by the same 14 letters: split, or two nets. */
static void names_cut_alike_are_not_judged(void **state)
{
    (void)state;
    for (int is_full = 0; is_full < 2; is_full++) {
        struct board_world *world = bw_new();
        strip_files(world, "D10*\nX0Y0D02*\nX10000D01*\nX0Y3000D02*\nX10000D01*\n"
                           "D11*\nX0Y0D03*\nX0Y3000D03*\n");
        const char *name = is_full ? "HEATER_SUPPLY_" : "HEATER_SUPPLY ";
        bw_file(world, "net.ipc",
                arena_printf(world->arena,
                             "P  UNITS CUST 1\n"
                             "327%s   J1    -1          A01X+000000Y+000000X1000Y1000R000 S0\n"
                             "327%s   J2    -1          A01X+000000Y+003000X1000Y1000R000 S0\n"
                             "999\n",
                             name, name));
        bw_must_read(world);
        const struct net *net = bw_net(world, is_full ? name : "HEATER_SUPPLY");
        assert_int_equal(net->state, NET_SPLIT);
        assert_int_equal(net->may_be_several, is_full);
        assert_int_equal(bw_diag(world, "netlist-names-cut-alike") != NULL, is_full);
        bw_free(world);
    }
}

/* A via between inner layers names the copper its hole touches, and none on the outside. */
static void a_via_within_the_board_names_its_copper(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    const char *const names[4] = {"top.gbr", "in1.gbr", "in2.gbr", "bottom.gbr"};
    for (int l = 0; l < 4; l++) {
        const char *side = l == 0 ? "Top" : l == 3 ? "Bot" : "Inr";
        bw_file(
            world, names[l],
            bw_text(world, GERBER,
                    arena_printf(world->arena, "%%TF.FileFunction,Copper,L%d,%s*%%\n", l + 1, side),
                    "%ADD10C,0.5*%\nD10*\nG01*\nX0Y0D02*\nX10000D01*\n", END, NULL));
    }
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "within.drl",
            DRILL
            "; #@! TF.FileFunction,Plated,2,3,Buried\nT1C0.2\n%\nT1\nX5.0Y0.0\nX2.0Y0.0\nM30\n");
    bw_file(world, "net.ipc",
            "P  UNITS CUST 1\n"
            "307HEAT             VIA         D0200PA00X+005000Y+000000X0400Y0000\n"
            "307HEAT             VIA         D0200PA00X+002000Y+000000X0400Y0000\n"
            "307FAN              VIA         D0200PA00X+008000Y+000000X0400Y0000\n999\n");
    bw_must_read(world);
    const struct net *heat = bw_net(world, "HEAT");
    assert_int_equal(heat->conductor_count, 1);
    assert_int_equal(bw_hole(world, 5000, 0)->conductor, heat->conductors[0]);
    assert_int_equal(bw_net(world, "FAN")->conductor_count, 0);
    assert_int_equal(bw_diag(world, "netlist-point-bare")->at.line, 4);
    bw_free(world);
}

static void netlist_and_attributes_that_disagree_are_disputed(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    name_tracks(world, VIA_PAD);
    bw_file(world, "hole.drl", VIA);
    static char other[sizeof netlist_text];
    memcpy(other, netlist_text, sizeof other);
    for (char *at = other; (at = strstr(at, "V24")); at += 3)
        memcpy(at, "V12", 3);
    bw_file(world, "net.ipc", other);
    bw_must_read(world);
    const struct net *net = bw_net(world, "V24");
    assert_int_equal(net->state, NET_DISPUTED);
    assert_non_null(strstr(net->state_detail, "V12 (netlist"));
    assert_non_null(strstr(net->state_detail, "net.ipc:2"));
    bw_free(world);
}

static uint32_t world_contact_hole(const struct board_world *world, const char *terminal)
{
    return world->board.contacts[bw_terminal(world, terminal)->contacts[0]].hole;
}

/* A part's pad 50 um beside a pin's hole and its pad: found on a board of 14 layers, where the hole
 * took the pad for its own and the part's pin was lost. */
static void a_pad_just_beside_a_hole_keeps_its_pin(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP "%ADD10C,0.45*%\nD10*\nX0Y0D03*\n" END);
    bw_file(world, "bottom.gbr",
            BOTTOM "%ADD10C,0.45*%\n%ADD11R,0.46X0.5*%\nD10*\nX0Y0D03*\nD11*\nX-50Y0D03*\n" END);
    bw_file(world, "edge.gbr", EDGE);
    bw_file(world, "mt.gbr", MASK_TOP "%ADD10C,0.5*%\nD10*\nX0Y0D03*\n" END);
    bw_file(world, "mb.gbr", MASK_BOTTOM "%ADD10R,0.5X0.54*%\nD10*\nX-50Y0D03*\n" END);
    bw_file(world, "holes.drl",
            DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C0.2\n%\nT1\nX0.0Y0.0\nM30\n");
    bw_file(world, "net.ipc",
            "P  UNITS CUST 1\n"
            "317VDD              U1    -1    D0200PA00X+000000Y+000000X0450Y0000     S0\n"
            "327VDD              C1    -2          A02X-000050Y+000000X0460Y0500R000 S2\n"
            "999\n");
    bw_must_read(world);
    assert_int_equal(world_contact_hole(world, "U1.1"), 0);
    assert_int_equal(world_contact_hole(world, "C1.2"), ISTHMUS_NONE);
    assert_int_equal(world->board.terminal_count, 2);
    bw_free(world);
}

/* ---- facts, and running out of memory ---- */

static void words_of_layers_count_from_the_top(void **state)
{
    (void)state;
    struct board board = {.layer_count = 12};
    char buffer[16];
    assert_string_equal(layer_word(&board, 1, buffer), "top");
    assert_string_equal(layer_word(&board, 2, buffer), "inner:1");
    assert_string_equal(layer_word(&board, 11, buffer), "inner:10");
    assert_string_equal(layer_word(&board, 12, buffer), "bottom");
}

static void a_package_without_copper_is_refused(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "edge.gbr", EDGE);
    assert_int_equal(bw_read(world), BOARD_REFUSED);
    assert_true(diag_has_errors(&world->diags));
    bw_free(world);
}

/* The n-th allocation fails, for every n until all succeed: never a crash, never a half board. */
static void running_out_of_memory_is_a_status(void **state)
{
    (void)state;
    struct board_world *world = two_tracks();
    bw_file(world, "mt.gbr", MASKS_TOP);
    bw_file(world, "net.ipc", netlist_text);
    world->options.thread_count = 1;
    bool was_refused = false;
    for (uint64_t n = 1; n < 100000; n += 1 + n / 200) {
        arena_fail_at(n);
        enum board_status status = bw_read(world);
        arena_fail_at(0);
        was_refused |= status == BOARD_NO_MEMORY;
        world->diags.is_out_of_memory = false;
        if (status == BOARD_OK && world->board.terminal_count == 2 && n > 2000)
            break;
        assert_true(status == BOARD_OK || world->board.layer_count == 0);
    }
    assert_true(was_refused);
    bw_free(world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_covered_hole_joins_two_layers),
        cmocka_unit_test(copper_area_is_that_of_tracks_pads_and_hole),
        cmocka_unit_test(an_untented_small_hole_that_joins_is_a_via),
        cmocka_unit_test(a_hole_that_takes_a_lead_is_a_terminal),
        cmocka_unit_test(a_hole_that_joins_nothing_is_a_terminal),
        cmocka_unit_test(pads_with_holes_and_no_drill_file_are_told),
        cmocka_unit_test(few_holes_under_pads_are_told),
        cmocka_unit_test(a_copper_layer_without_copper_is_told),
        cmocka_unit_test(names_and_pins_come_from_attributes),
        cmocka_unit_test(an_attribute_makes_a_small_hole_a_contact),
        cmocka_unit_test(a_negative_plane_is_turned_round_inside_the_profile),
        cmocka_unit_test(pads_that_a_hole_only_passes_are_pendant),
        cmocka_unit_test(a_negative_plane_needs_a_profile),
        cmocka_unit_test(copper_beyond_the_profile_is_none),
        cmocka_unit_test(a_castellation_keeps_its_arc_inside),
        cmocka_unit_test(holes_that_run_into_each_other_share_a_wall),
        cmocka_unit_test(a_row_of_hits_has_the_wall_of_its_slot),
        cmocka_unit_test(thermal_reliefs_ask_for_the_polarity),
        cmocka_unit_test(a_panel_is_judged_only_when_one_board_is_named),
        cmocka_unit_test(a_place_on_no_board_is_refused),
        cmocka_unit_test(an_edge_in_pieces_is_chained),
        cmocka_unit_test(a_drawing_that_may_be_the_edge_is_named),
        cmocka_unit_test(rings_within_an_open_edge_are_no_boards),
        cmocka_unit_test(an_open_edge_is_no_profile),
        cmocka_unit_test(unknown_plating_is_told_by_the_copper_round_it),
        cmocka_unit_test(holes_drilled_twice_are_one),
        cmocka_unit_test(drilled_sizes_are_finished_smaller),
        cmocka_unit_test(plated_holes_that_meet_join_their_copper),
        cmocka_unit_test(openings_in_a_pour_are_contacts_or_bared),
        cmocka_unit_test(bared_copper_is_what_lies_under_an_opening),
        cmocka_unit_test(an_opening_fits_its_pad_up_to_three_tenths),
        cmocka_unit_test(what_lies_within_a_pad_is_no_second_contact),
        cmocka_unit_test(a_pad_in_the_notch_of_another_stays_a_contact),
        cmocka_unit_test(a_via_in_a_pad_leaves_the_pad_a_contact),
        cmocka_unit_test(an_edge_that_all_copper_draws_is_taken),
        cmocka_unit_test(the_outline_drawn_on_copper_is_no_copper),
        cmocka_unit_test(copper_between_two_nets_joins_them),
        cmocka_unit_test(a_stated_join_is_one_net),
        cmocka_unit_test(a_cut_strip_splits_its_net),
        cmocka_unit_test(an_island_of_the_net_splits_nothing),
        cmocka_unit_test(pads_of_one_pin_are_one_terminal),
        cmocka_unit_test(a_pad_that_only_names_its_part_has_that_reference),
        cmocka_unit_test(a_netlist_adds_the_pin_of_a_part),
        cmocka_unit_test(single_pads_called_nc_share_no_net),
        cmocka_unit_test(a_position_row_names_copper_and_pad),
        cmocka_unit_test(a_row_means_the_pad_that_covers_its_place),
        cmocka_unit_test(a_place_without_a_pad_is_a_disc),
        cmocka_unit_test(a_place_in_a_hole_is_that_hole),
        cmocka_unit_test(a_place_on_no_copper_is_an_error),
        cmocka_unit_test(two_names_for_one_conductor_are_disputed),
        cmocka_unit_test(a_row_against_the_drawing_is_disputed),
        cmocka_unit_test(a_netlist_names_pads_from_another_origin),
        cmocka_unit_test(a_unit_that_is_not_stated_is_that_in_which_the_points_fit),
        cmocka_unit_test(a_via_within_the_board_names_its_copper),
        cmocka_unit_test(names_cut_alike_are_not_judged),
        cmocka_unit_test(a_point_without_a_side_lies_where_its_pad_is),
        cmocka_unit_test(words_for_not_connected_are_no_net),
        cmocka_unit_test(netlist_and_attributes_that_disagree_are_disputed),
        cmocka_unit_test(a_pad_just_beside_a_hole_keeps_its_pin),
        cmocka_unit_test(words_of_layers_count_from_the_top),
        cmocka_unit_test(a_package_without_copper_is_refused),
        cmocka_unit_test(running_out_of_memory_is_a_status),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
