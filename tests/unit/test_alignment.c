/* Files that are each without a fault, and do not lie on each other. */
#include "assertions.h"
#include "board_world.h"

/* A row of ten holes 2 mm apart from (1, 1) to (19, 1), their pads, and an edge round them. */
#define PADS "%ADD10C,1.6*%\nD10*\n"
#define FIVE_LEFT "X1000Y1000D03*\nX3000D03*\nX5000D03*\nX7000D03*\nX9000D03*\n"
#define FIVE_RIGHT "X11000Y1000D03*\nX13000D03*\nX15000D03*\nX17000D03*\nX19000D03*\n"
#define ROW PADS FIVE_LEFT FIVE_RIGHT END
#define HOLES(first)                                                                               \
    DRILL "; #@! TF.FileFunction,Plated,1,2,PTH\nT1C0.8\n%\nT1\n" first                            \
          "X3.0Y1.0\nX5.0\nX7.0\nX9.0\nX11.0\nX13.0\nX15.0\nX17.0\nX19.0\nM30\n"
#define EDGE(left, right)                                                                          \
    PROFILE "G01*\nX" left "Y-1000D02*\nX" right "D01*\nY3000D01*\nX" left "D01*\nY-1000D01*"      \
            "\n" END

static struct board_world *board(const char *bottom, const char *holes, const char *edge)
{
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP ROW);
    bw_file(world, "bottom.gbr", bottom);
    bw_file(world, "holes.drl", holes);
    bw_file(world, "edge.gbr", edge);
    bw_must_read(world);
    return world;
}

static void what_lies_on_each_other_is_not_spoken_of(void **state)
{
    (void)state;
    struct board_world *world = board(BOTTOM ROW, HOLES("X1.0Y1.0\n"), EDGE("-1000", "21000"));
    assert_null(bw_diag(world, "holes-beside-pads"));
    assert_null(bw_diag(world, "pads-beyond-edge"));
    bw_free(world);
}

/* The bottom turned over about x = 9.5: no pad is where a hole is. */
static void a_mirrored_bottom_is_an_error(void **state)
{
    (void)state;
    struct board_world *world =
        board(BOTTOM PADS "X18000Y1000D03*\nX16000D03*\nX14000D03*\nX12000D03*\nX10000D03*\n"
                          "X8000D03*\nX6000D03*\nX4000D03*\nX2000D03*\nX0D03*\n" END,
              HOLES("X1.0Y1.0\n"), EDGE("-1000", "21000"));
    const struct diag *diag = bw_diag(world, "holes-beside-pads");
    assert_int_equal(diag->level, DIAG_ERROR);
    assert_non_null(strstr(diag->text, "layer bottom only by 5 %"));
    assert_int_equal(world->diags.error_count, 1);
    bw_free(world);
}

/* 0.3 mm beside the centres, but on the pads: 0.65 of a fit. */
static void holes_beside_the_centres_are_a_warning(void **state)
{
    (void)state;
    struct board_world *world =
        board(BOTTOM PADS "X1300Y1000D03*\nX3300D03*\nX5300D03*\nX7300D03*\nX9300D03*\n"
                          "X11300D03*\nX13300D03*\nX15300D03*\nX17300D03*\nX19300D03*\n" END,
              HOLES("X1.0Y1.0\n"), EDGE("-1000", "21000"));
    const struct diag *diag = bw_diag(world, "holes-beside-pads");
    assert_int_equal(diag->level, DIAG_WARNING);
    assert_non_null(strstr(diag->text, "65 %"));
    bw_free(world);
}

/* The edge takes the right half off: ten of twenty pads. */
static void an_edge_through_the_pads_is_an_error(void **state)
{
    (void)state;
    struct board_world *world = board(BOTTOM ROW, HOLES("X1.0Y1.0\n"), EDGE("-1000", "10000"));
    const struct diag *diag = bw_diag(world, "pads-beyond-edge");
    assert_int_equal(diag->level, DIAG_ERROR);
    assert_non_null(strstr(diag->text, "10 of 20 pads"));
    bw_free(world);
}

/* Half a pad at the edge is a castellation, and is not beyond it. */
static void pads_on_the_edge_are_not_beyond_it(void **state)
{
    (void)state;
    struct board_world *world = board(BOTTOM ROW, HOLES("X1.0Y1.0\n"), EDGE("1000", "19000"));
    assert_null(bw_diag(world, "pads-beyond-edge"));
    bw_free(world);
}

/* Who says which board is meant knows that there are others. */
static void pads_of_other_boards_are_not_spoken_of(void **state)
{
    (void)state;
    struct board_world *world = bw_new();
    bw_file(world, "top.gbr", TOP ROW);
    bw_file(world, "bottom.gbr", BOTTOM ROW);
    bw_file(world, "holes.drl", HOLES("X1.0Y1.0\n"));
    bw_file(world, "edge.gbr", EDGE("-1000", "10000"));
    world->options.has_board_at = true;
    world->options.board_at = (struct pos_nm){2000000, 1000000};
    bw_must_read(world);
    assert_null(bw_diag(world, "pads-beyond-edge"));
    assert_null(bw_diag(world, "holes-beside-pads"));
    bw_free(world);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_lies_on_each_other_is_not_spoken_of),
        cmocka_unit_test(a_mirrored_bottom_is_an_error),
        cmocka_unit_test(holes_beside_the_centres_are_a_warning),
        cmocka_unit_test(an_edge_through_the_pads_is_an_error),
        cmocka_unit_test(pads_on_the_edge_are_not_beyond_it),
        cmocka_unit_test(pads_of_other_boards_are_not_spoken_of),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
