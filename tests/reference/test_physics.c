/*
 * The formulas against values worked out elsewhere, each with its source. "2221" is IPC-2221
 * section 6.2, figure 6-4, whose formula we have as quoted in public texts; the numbers below were
 * recomputed from it independently.
 */
#include "assertions.h"
#include "isthmus/physics.h"
#include "isthmus/thermal.h"

#include <math.h>

/* five printed digits: half a unit of the fifth */
static void assert_five_digits(double found, double printed)
{
    double unit = pow(10, floor(log10(fabs(printed))) - 4);
    assert_near(found, printed, 0.5000001 * unit);
}

static void assert_in_range_double(double found, double least, double most)
{
    assert_near(found, (least + most) / 2, (most - least) / 2);
}

static void currents_of_2221(void **state)
{
    (void)state;
    static const struct {
        double width_mm, thickness_mm, rise_k, external_a, internal_a;
    } rows[] = {
        {1, 0.035, 10, 2.3916, 1.1958},
        {1, 0.035, 20, 3.2444, 1.6222},
        {0.25, 0.0175, 10, 0.52959, 0.26480},
        {5, 0.070, 30, 20.588, 10.294},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double area = rows[i].width_mm * rows[i].thickness_mm;
        assert_five_digits(ipc2221_current_a(IPC2221_K_EXTERNAL, rows[i].rise_k, area),
                           rows[i].external_a);
        assert_five_digits(ipc2221_current_a(IPC2221_K_INTERNAL, rows[i].rise_k, area),
                           rows[i].internal_a);
    }
    assert_five_digits(ipc2221_current_a(IPC2221_K_EXTERNAL, 1, 1), 9.8681);
    assert_five_digits(ipc2221_current_a(IPC2221_K_INTERNAL, 1, 1), 4.9340);
}

static void widths_of_2221(void **state)
{
    (void)state;
    static const struct {
        double current_a, thickness_mm, rise_k, external_mm, internal_mm;
    } rows[] = {
        {1, 0.035, 10, 0.30039, 0.78144},
        {5, 0.035, 20, 1.8159, 4.7239},
        {10, 0.070, 20, 2.3619, 6.1444},
        {3, 0.0249, 10, 1.9215, 4.9987},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double external = ipc2221_area_mm2(IPC2221_K_EXTERNAL, rows[i].current_a, rows[i].rise_k);
        double internal = ipc2221_area_mm2(IPC2221_K_INTERNAL, rows[i].current_a, rows[i].rise_k);
        assert_five_digits(external / rows[i].thickness_mm, rows[i].external_mm);
        assert_five_digits(internal / rows[i].thickness_mm, rows[i].internal_mm);
    }
}

static void two_amperes_need_about_thirty_mil(void **state)
{
    (void)state;
    /* common practice, no source: 2 A, 10 K, 1 oz, external: about 30 mil */
    double width_mm = ipc2221_area_mm2(IPC2221_K_EXTERNAL, 2, 10) / 0.035;
    assert_near(width_mm / MM_PER_MIL, 30, 1.5);
}

static void an_internal_area_counts_038(void **state)
{
    (void)state;
    /* 0.5^(1/0.725), by hand: exp(-0.693147/0.725) = 0.3844 */
    assert_near(ipc2221_internal_weight(), 0.3844, 5e-5);
}

/* The published table: I 6.5870 and 3.2935 A on 70 um copper, Int. J. Photoenergy 2015, art.
 * 341032, table 6. Its widths come from another reading of the same charts: ours lie 0 to 2.5 %
 * below. */
static void a_published_width_table_is_met(void **state)
{
    (void)state;
    static const double rises[9] = {3, 4, 5, 15, 25, 35, 45, 55, 65};
    static const double printed[2][9] = {
        {4.26, 3.58, 3.12, 1.60, 1.18, 0.96, 0.82, 0.73, 0.66},
        {1.64, 1.37, 1.20, 0.62, 0.45, 0.37, 0.32, 0.28, 0.25},
    };
    static const double currents[2] = {6.5870, 3.2935};
    for (size_t c = 0; c < 2; c++)
        for (size_t r = 0; r < 9; r++) {
            double width = ipc2221_area_mm2(IPC2221_K_EXTERNAL, currents[c], rises[r]) / 0.070;
            double rounding = 0.005 / printed[c][r];
            assert_in_range_double(width / printed[c][r], 1 - 0.025 - rounding, 1 + rounding);
        }
}

static void inverses_come_back(void **state)
{
    (void)state;
    for (double current = 0.05; current < 40; current *= 1.7)
        for (double rise = 1; rise < 120; rise *= 1.9) {
            double area = ipc2221_area_mm2(IPC2221_K_INTERNAL, current, rise);
            assert_near(ipc2221_current_a(IPC2221_K_INTERNAL, rise, area) / current, 1, 1e-12);
            assert_near(ipc2221_rise_k(IPC2221_K_INTERNAL, current, area) / rise, 1, 1e-12);
            for (size_t i = 0; i < rise_fit_count; i++) {
                const struct rise_fit *fit = &rise_fits[i];
                double width = rise_fit_width_mm(fit, current, rise, 0.035);
                assert_near(rise_fit_current_a(fit, rise, width, 0.035) / current, 1, 1e-12);
                assert_near(rise_fit_rise_k(fit, current, width, 0.035) / rise, 1, 1e-12);
                assert_near(rise_fit_thickness_mm(fit, current, rise, width) / 0.035, 1, 1e-12);
            }
        }
}

static const struct rise_fit *fit_named(const char *name)
{
    for (size_t i = 0; i < rise_fit_count; i++)
        if (strcmp(rise_fits[i].name, name) == 0)
            return &rise_fits[i];
    fail_msg("no fit \"%s\"", name);
    return NULL;
}

static void the_fit_table_holds_the_same_2221(void **state)
{
    (void)state;
    double external = rise_fit_current_a(fit_named("IPC-2221 external"), 20, 1.3, 0.05);
    double internal = rise_fit_current_a(fit_named("IPC-2221 internal"), 20, 1.3, 0.05);
    assert_near(external, ipc2221_current_a(IPC2221_K_EXTERNAL, 20, 1.3 * 0.05), 1e-12);
    assert_near(internal, ipc2221_current_a(IPC2221_K_INTERNAL, 20, 1.3 * 0.05), 1e-12);
}

/* Brooks 1998; coefficients as quoted elsewhere, the numbers recomputed from them independently. */
static void the_refit_of_d275(void **state)
{
    (void)state;
    const struct rise_fit *external = fit_named("IPC-D-275 refit, external");
    const struct rise_fit *internal = fit_named("IPC-D-275 refit, internal");
    assert_five_digits(rise_fit_current_a(external, 10, 1, 0.035), 2.5504);
    assert_five_digits(rise_fit_current_a(internal, 10, 1, 0.035), 0.99084);
    assert_five_digits(rise_fit_current_a(external, 20, 1, 0.035), 3.4314);
    assert_five_digits(rise_fit_current_a(internal, 20, 1, 0.035), 1.4460);
    assert_five_digits(rise_fit_current_a(external, 30, 5, 0.070), 19.234);
    assert_five_digits(rise_fit_current_a(internal, 30, 5, 0.070), 9.7966);
}

/* Brooks and Adam 2015, table 3-1, as quoted elsewhere. */
static void the_fit_to_newer_charts(void **state)
{
    (void)state;
    const struct rise_fit *fit = fit_named("Brooks and Adam 2015, external");
    const double mil = MM_PER_MIL;
    assert_five_digits(rise_fit_current_a(fit, 10, 20 * mil, 1.378 * mil), 1.4164);
    assert_five_digits(rise_fit_rise_k(fit, 5, 27 * mil, 2.9 * mil), 41.929);
    assert_five_digits(rise_fit_rise_k(fit, 6.65, 27 * mil, 2.9 * mil), 74.169);
    /* and the warning: IPC-2221 external gives 29.197 K where that simulation gave 39.7 K (PCD&F,
     * 1 September 2016) */
    double old = ipc2221_rise_k(IPC2221_K_EXTERNAL, 5, 27 * mil * 2.9 * mil);
    assert_five_digits(old, 29.197);
    assert_true(ipc2221_rise_k(IPC2221_K_INTERNAL, 5, 27 * mil * 2.9 * mil) > 39.7);
}

/* Design News 1968, from memory: at 1 mil2 and 1 K the current is the factor itself. */
static void the_fit_of_1968(void **state)
{
    (void)state;
    const struct rise_fit *fit = fit_named("Design News 1968");
    assert_near(rise_fit_current_a(fit, 1, MM_PER_MIL, MM_PER_MIL), 0.040, 1e-15);
    assert_true(fit->is_for_information);
}

/* IPC-2221's range, as quoted and from memory. */
static void outside_its_range_a_fit_says_so(void **state)
{
    (void)state;
    const double ext = IPC2221_K_EXTERNAL, in = IPC2221_K_INTERNAL;
    assert_false(ipc2221_is_extrapolated(ext, 35, 10, 10, 0.105));
    assert_false(ipc2221_is_extrapolated(in, 17.5, 100, 0.1, 0.017));
    assert_true(ipc2221_is_extrapolated(ext, 35.1, 10, 10, 0.105));
    assert_true(ipc2221_is_extrapolated(in, 17.6, 10, 10, 0.105));
    assert_true(ipc2221_is_extrapolated(ext, 1, 9.9, 1, 0.035));
    assert_true(ipc2221_is_extrapolated(ext, 1, 101, 1, 0.035));
    assert_true(ipc2221_is_extrapolated(ext, 1, 10, 10.1, 0.035));
    assert_true(ipc2221_is_extrapolated(ext, 1, 10, 1, 0.0114));
    assert_true(ipc2221_is_extrapolated(ext, 1, 10, 1, 0.140));
    assert_true(ipc2221_is_extrapolated(ext, (double)NAN, 10, 1, 0.035));
    const struct rise_fit *fit = fit_named("IPC-2221 external");
    assert_string_equal(rise_fit_outside(fit, 1, 5, 1, 0.035), "the rise is below 10 K");
    assert_null(rise_fit_outside(fit_named("Brooks and Adam 2015, external"), 1, 5, 1, 0.035));
}

/* IEC 60028 (1925), ASTM B193: read in Industrial Power Engineering Handbook p. 970. */
static void copper_follows_iec_60028(void **state)
{
    (void)state;
    static const double temperatures[] = {25, 65, 85, 105, 125};
    static const double printed[] = {0.017580, 0.020291, 0.021646, 0.023001, 0.024356};
    assert_near(copper_resistivity(20), 0.017241, 5e-7);
    assert_near(COPPER_RHO20 * 8.89, 0.15328, 5e-6); /* ohm g/m2, same place */
    for (size_t i = 0; i < 5; i++)
        assert_near(copper_resistivity(temperatures[i]), printed[i], 5.1e-7);
    assert_near(20 - 1 / COPPER_ALPHA20, -234.45, 0.005);
    assert_five_digits(copper_alpha(0), 0.0042652);
    assert_five_digits(copper_alpha(25), 0.0038543);
    /* the same straight line from another reference temperature */
    assert_near(copper_alpha(25) * copper_resistivity(25), COPPER_ALPHA20 * COPPER_RHO20, 1e-18);
    assert_near(copper_resistivity_of(0.018, 20), 0.018, 0);
}

/* 1 oz/ft2 from the definitions of ounce and foot; IPC-4562's 34.3 um from memory. */
static void an_ounce_of_foil_is_34_um(void **state)
{
    (void)state;
    assert_near(copper_foil_um(1, 1), 305.15, 0.005);
    assert_near(copper_foil_um(1, 8.89), 34.325, 5.1e-4);
    assert_near(copper_foil_um(1, 8.93), 34.172, 5.1e-4);
    assert_near(copper_foil_um(1, 8.96), 34.057, 5.1e-4);
    assert_near(copper_foil_um(1, 8.93), copper_finish_of(1)->nominal_um, 0.2);
    /* 0.00135 in an ounce: quoted from IPC-MF-150F in the IPC TechNet archive, 1999 */
    assert_near(copper_foil_um(1, 8.93) / 25400, 0.00135, 5e-6);
}

static void sheets_and_bars_of_copper(void **state)
{
    (void)state;
    static const double um[] = {17.5, 24.9, 30.9, 34.3, 35, 47.9, 70};
    static const double mohm[] = {0.98522, 0.69242, 0.55797, 0.50266, 0.49261, 0.35995, 0.24631};
    for (size_t i = 0; i < 7; i++)
        assert_five_digits(1e3 * copper_sheet_ohm(um[i] * 1e-3, 20), mohm[i]);
    assert_five_digits(1e3 * copper_resistance_ohm(50, 1, 0.035, 20), 24.631);
    assert_five_digits(1e3 * copper_resistance_ohm(50, 1, 0.035, 65), 28.986);
    assert_five_digits(1e3 * copper_resistance_ohm(100, 0.2, 0.0175, 20), 492.61);
}

/* IPC-6012, from memory: the plated outside is the processed inside plus 20 or 25 um, to 3 um. */
static void finished_copper_is_in_order(void **state)
{
    (void)state;
    assert_int_equal(copper_finish_count, 5);
    for (size_t i = 0; i < copper_finish_count; i++) {
        const struct copper_finish *row = &copper_finishes[i];
        assert_near(row->least_foil_um / row->nominal_um, 0.9, 0.002);
        assert_near(row->external_class3_um - row->external_um, 5, 1e-9);
        assert_in_range_double(row->external_um - row->internal_um, 20, 23.5);
        assert_true(row->internal_um < row->least_foil_um);
    }
    assert_near(copper_finish_of(0.5)->internal_um, 11.4, 0);
    assert_near(copper_finish_of(1)->external_um, 47.9, 0);
    assert_null(copper_finish_of(1.5));
}

/* The same table row by row, from memory: as bought, less 10 %, least inside, outside class 1 and
 * 2, outside class 3. */
static void finished_copper_is_the_printed_table(void **state)
{
    (void)state;
    static const double printed[5][6] = {{0.5, 17.1, 15.4, 11.4, 33.4, 38.4},
                                         {1, 34.3, 30.9, 24.9, 47.9, 52.9},
                                         {2, 68.6, 61.7, 55.7, 78.7, 83.7},
                                         {3, 102.9, 92.6, 86.6, 108.6, 113.6},
                                         {4, 137.2, 123.5, 117.5, 139.5, 144.5}};
    for (size_t i = 0; i < 5; i++) {
        const struct copper_finish *row = copper_finish_of(printed[i][0]);
        assert_non_null(row);
        assert_near(row->nominal_um, printed[i][1], 1e-9);
        assert_near(row->least_foil_um, printed[i][2], 1e-9);
        assert_near(row->internal_um, printed[i][3], 1e-9);
        assert_near(row->external_um, printed[i][4], 1e-9);
        assert_near(row->external_class3_um, printed[i][5], 1e-9);
    }
}

/* Onderdonk as Adam and Brooks 2015 discuss it; the constant 33 as quoted elsewhere. */
static void short_overloads_after_onderdonk(void **state)
{
    (void)state;
    const double melts = COPPER_MELTS_C;
    assert_five_digits(onderdonk_constant(), 226.40);
    assert_near(onderdonk_constant(), 226, 0.5); /* IEC 60949, from memory */
    assert_five_digits(onderdonk_current_a(1 * 0.035, 1, 25, melts), 10.105);
    assert_five_digits(onderdonk_current_a(1 * 0.035, 0.1, 25, melts), 31.955);
    assert_five_digits(onderdonk_current_a(0.25 * 0.0175, 0.01, 25, melts), 12.631);
    assert_five_digits(onderdonk_current_a(5 * 0.070, 1, 25, melts), 101.05);
    assert_five_digits(onderdonk_current_a(1 * 0.035, 1, 25, 130), 4.6227);
    assert_five_digits(onderdonk_duration_s(1 * 0.035, 10, 25, 130), 0.21369);
    assert_true(isnan(onderdonk_current_a(1, 1, 130, 25)));
    assert_true(isnan(onderdonk_current_a(1, 1, -300, 25)));
}

static void onderdonk_comes_back(void **state)
{
    (void)state;
    for (double current = 0.5; current < 200; current *= 2.3)
        for (double seconds = 1e-3; seconds < 5; seconds *= 3.1) {
            double area = onderdonk_area_mm2(current, seconds, 40, 130);
            assert_near(onderdonk_current_a(area, seconds, 40, 130) / current, 1, 1e-12);
            assert_near(onderdonk_duration_s(area, current, 40, 130) / seconds, 1, 1e-12);
            assert_near(onderdonk_end_c(area, current, seconds, 40) / 130, 1, 1e-12);
        }
}

/* Preece, Proc. R. Soc. 1884-88: 10244 A/in^1.5. */
static void preece_wires(void **state)
{
    (void)state;
    assert_five_digits(preece_current_a(0.1), 2.5306);
    assert_five_digits(preece_current_a(0.2), 7.1575);
    assert_five_digits(preece_current_a(0.5), 28.293);
    assert_five_digits(preece_current_a(1.0), 80.024);
}

/* Section 5: area by hand pi (D - t) t; currents by IPC-2221, 10 K. */
static void hole_walls(void **state)
{
    (void)state;
    static const struct {
        double drill_mm, wall_mm, area_mm2, area_mil2, mohm, internal_a, external_a;
    } rows[] = {
        {0.30, 0.018, 0.015947, 24.717, 1.7299, 0.6763, 1.353},
        {0.30, 0.020, 0.017593, 27.269, 1.5680, 0.7262, 1.452},
        {0.30, 0.025, 0.021598, 33.478, 1.2772, 0.8427, 1.685},
        {0.20, 0.020, 0.011310, 17.530, 2.4392, 0.5272, 1.054},
        {0.50, 0.025, 0.037306, 57.825, 0.73945, 1.252, 2.505},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double area = hole_wall_area_mm2(rows[i].drill_mm, rows[i].wall_mm);
        assert_five_digits(area, rows[i].area_mm2);
        assert_five_digits(area / MM2_PER_MIL2, rows[i].area_mil2);
        assert_five_digits(1e3 * copper_prism_ohm(1.6, area, 20), rows[i].mohm);
        assert_near(ipc2221_current_a(IPC2221_K_INTERNAL, 10, area), rows[i].internal_a, 5.1e-4);
        assert_near(ipc2221_current_a(IPC2221_K_EXTERNAL, 10, area), rows[i].external_a, 5.1e-4);
        assert_near(hole_drill_mm(area, rows[i].wall_mm), rows[i].drill_mm, 1e-12);
    }
    assert_near(hole_wall_area_from_finished_mm2(0.25, 0.025), hole_wall_area_mm2(0.3, 0.025),
                1e-15);
    assert_near(hole_wall_area_mm2(0.3, 0), 0, 0);
    assert_near(hole_wall_area_mm2(0.3, 1), 3.14159265358979 * 0.0225, 1e-12); /* filled */
    /* four spokes 0.3 wide 0.25 long, 35 um, side by side */
    assert_five_digits(1e3 * copper_resistance_ohm(0.25, 0.3, 0.035, 20) / 4, 0.10263);
}

/* 100 x 100 mm, ambient 25 C; air of Incropera table A.4 and Churchill and Chu 1975 from memory,
 * horizontal plates from course notes after McAdams 1954 and Lloyd and Moran. */
static void cooling_by_air_and_radiation(void **state)
{
    (void)state;
    static const struct {
        double rise_k, ra, laminar, full, up, down, mask, bare, both_vertical, both_flat;
    } rows[] = {
        {10, 8.691e5, 4.344, 4.231, 6.187, 3.093, 5.689, 0.316, 20.07, 20.66},
        {20, 1.607e6, 5.105, 5.054, 7.315, 3.657, 5.979, 0.332, 22.17, 22.93},
        {40, 2.763e6, 5.979, 6.018, 8.607, 4.303, 6.600, 0.367, 25.16, 26.11},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        double hot = 25 + rows[i].rise_k;
        double up = convection_up(hot, 25, 25), down = convection_down(hot, 25, 25);
        double vertical = convection_vertical(hot, 25, 100), mask = radiation(hot, 25, 0.9);
        assert_near(rayleigh(hot, 25, 100) / rows[i].ra, 1, 5e-4);
        assert_near(vertical, rows[i].laminar, 5.1e-4);
        assert_near(convection_vertical_full(hot, 25, 100), rows[i].full, 5.1e-4);
        assert_near(up, rows[i].up, 5.1e-4);
        assert_near(down, rows[i].down, 5.1e-4);
        assert_near(mask, rows[i].mask, 5.1e-4);
        assert_near(radiation(hot, 25, 0.05), rows[i].bare, 5.1e-4);
        assert_near(2 * (vertical + mask), rows[i].both_vertical, 5.1e-3);
        assert_near(up + down + 2 * mask, rows[i].both_flat, 5.1e-3);
    }
}

/* lambda = sqrt(kt/H): bare FR-4, then one and two full planes. */
static void heat_spreads_over_millimetres(void **state)
{
    (void)state;
    double bare = FR4_PLANE_W_MK * 1.6e-3, plane = COPPER_W_MK * 35e-6;
    assert_five_digits(spreading_length_mm(bare, 20), 8.0498);
    assert_five_digits(spreading_length_mm(bare + plane, 20), 27.337);
    assert_five_digits(spreading_length_mm(bare + 2 * plane, 20), 37.813);
}

/* T5, derived; confirmed by one-dimensional finite volumes (96.739 K at 3 A). */
static void a_short_neck_between_wide_copper(void **state)
{
    (void)state;
    struct copper_strip strip = {1, 0.035, 50, 2, 20, 20};
    assert_five_digits(strip_rise_k(&strip), 36.524);
    strip.current_a = 3;
    assert_five_digits(strip_rise_k(&strip), 96.739);
    strip.current_a = 3.5;
    assert_five_digits(strip_rise_k(&strip), 148.67);
    strip.current_a = 20; /* no steady state */
    assert_true(isnan(strip_rise_k(&strip)));
    /* T7, Kohlrausch and Holm (Holm, Electric Contacts 1967, from memory): without side loss V^2 =
     * 8 k rho (theta + alpha theta^2 / 2); for small rises V is I R at the ends' temperature */
    struct copper_strip still = {1, 0.035, 2, 3, 20, 0};
    double rise = strip_rise_k(&still);
    double volts = 3 * copper_resistance_ohm(2, 1, 0.035, 20) *
                   (1 + COPPER_ALPHA20 * rise * 2 / 3); /* mean of a parabola */
    double holm =
        sqrt(8 * COPPER_W_MK * COPPER_RHO20 * 1e-6 * (rise + COPPER_ALPHA20 * rise * rise / 2));
    assert_near(volts / holm, 1, 1e-4);
    /* the cosh and the cos form meet where alpha P = H */
    double at_meeting = 1 * sqrt(20 * 35e-6 / (COPPER_RHO20 * 1e-6 * COPPER_ALPHA20)) * 1e-3;
    struct copper_strip below = {1, 0.035, 10, at_meeting * 0.99999, 20, 20}, above = below;
    above.current_a = at_meeting * 1.00001;
    assert_near(strip_rise_k(&above) / strip_rise_k(&below), 1, 1e-4);
    /* long strip: P/(H - alpha P), T6 of the same sheet: 3 mm x 35 um, 3 A, 27.270 K */
    struct copper_strip film = {3, 0.035, 2000, 3, 20, 20};
    assert_five_digits(strip_rise_k(&film), 27.270);
    film.current_a = 5;
    assert_five_digits(strip_rise_k(&film), 93.580);
    film.current_a = 9.65; /* runs away from 9.6425 A on */
    film.length_mm = 1e5;
    assert_true(isnan(strip_rise_k(&film)));
    film.length_mm = 0;
    assert_true(isnan(strip_rise_k(&film)));
}

/* T8. */
static void how_long_until_steady(void **state)
{
    (void)state;
    double tau = board_time_constant_s(1.6, 0.035, 20);
    assert_five_digits(tau, 150.04);
    assert_near(settling_time_s(tau, 0.95), 449, 0.51);
    assert_near(settling_time_s(tau, 0.98), 587, 0.51);
    assert_near(settling_time_s(tau, 0.99), 691, 0.51);
    assert_near(adiabatic_rate_k_s(10, 0.035, 20), 407.96, 0.0051);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(currents_of_2221),
        cmocka_unit_test(widths_of_2221),
        cmocka_unit_test(two_amperes_need_about_thirty_mil),
        cmocka_unit_test(an_internal_area_counts_038),
        cmocka_unit_test(a_published_width_table_is_met),
        cmocka_unit_test(inverses_come_back),
        cmocka_unit_test(the_fit_table_holds_the_same_2221),
        cmocka_unit_test(the_refit_of_d275),
        cmocka_unit_test(the_fit_to_newer_charts),
        cmocka_unit_test(the_fit_of_1968),
        cmocka_unit_test(outside_its_range_a_fit_says_so),
        cmocka_unit_test(copper_follows_iec_60028),
        cmocka_unit_test(an_ounce_of_foil_is_34_um),
        cmocka_unit_test(sheets_and_bars_of_copper),
        cmocka_unit_test(finished_copper_is_in_order),
        cmocka_unit_test(finished_copper_is_the_printed_table),
        cmocka_unit_test(short_overloads_after_onderdonk),
        cmocka_unit_test(onderdonk_comes_back),
        cmocka_unit_test(preece_wires),
        cmocka_unit_test(hole_walls),
        cmocka_unit_test(cooling_by_air_and_radiation),
        cmocka_unit_test(heat_spreads_over_millimetres),
        cmocka_unit_test(a_short_neck_between_wide_copper),
        cmocka_unit_test(how_long_until_steady),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
