/* Current against steady rise: IPC-2221 and the other published fits. */
#include "isthmus/physics.h"

#include <math.h>

#define RISE_EXPONENT 0.44
#define AREA_EXPONENT 0.725
#define ON_THE_LIMIT 1e-9 /* relative */

double ipc2221_scale_a(double k, double rise_k)
{
    return ipc2221_current_a(k, rise_k, 1.0);
}

double ipc2221_current_a(double k, double rise_k, double area_mm2)
{
    return k * pow(rise_k, RISE_EXPONENT) * pow(area_mm2 / MM2_PER_MIL2, AREA_EXPONENT);
}

double ipc2221_area_mm2(double k, double current_a, double rise_k)
{
    double area_mil2 = pow(current_a / (k * pow(rise_k, RISE_EXPONENT)), 1.0 / AREA_EXPONENT);
    return area_mil2 * MM2_PER_MIL2;
}

double ipc2221_rise_k(double k, double current_a, double area_mm2)
{
    return pow(current_a / (k * pow(area_mm2 / MM2_PER_MIL2, AREA_EXPONENT)), 1.0 / RISE_EXPONENT);
}

double ipc2221_internal_weight(void)
{
    return pow(IPC2221_K_INTERNAL / IPC2221_K_EXTERNAL, IPC2221_AREA_EXPONENT);
}

bool ipc2221_is_extrapolated(double k, double current_a, double rise_k, double width_mm,
                             double thickness_mm)
{
    const struct rise_fit *fit = &rise_fits[k < 0.75 * IPC2221_K_EXTERNAL ? 1 : 0];
    return rise_fit_outside(fit, current_a, rise_k, width_mm, thickness_mm) != NULL;
}

#define IPC2221_RANGE                                                                              \
    .min_rise_k = 10, .max_rise_k = 100, .max_width_mm = 10, .min_thickness_mm = 0.017,            \
    .max_thickness_mm = 0.105
const struct rise_fit rise_fits[] = {
    {
        .name = "IPC-2221 external",
        .source = "IPC-2221 section 6.2, figure 6-4 (formula as quoted in public texts)",
        .standing = "The usual choice, but not cautious for a conductor alone on a board without "
                    "planes.",
        .coefficient = IPC2221_K_EXTERNAL,
        .rise_exponent = RISE_EXPONENT,
        .width_exponent = AREA_EXPONENT,
        .thickness_exponent = AREA_EXPONENT,
        .max_current_a = 35,
        IPC2221_RANGE,
    },
    {
        .name = "IPC-2221 internal",
        .source = "IPC-2221 section 6.2, figure 6-4 (formula as quoted in public texts)",
        .standing = "Never measured: the external current halved in 1956. Cautious on any layer.",
        .is_internal = true,
        .coefficient = IPC2221_K_INTERNAL,
        .rise_exponent = RISE_EXPONENT,
        .width_exponent = AREA_EXPONENT,
        .thickness_exponent = AREA_EXPONENT,
        .max_current_a = 17.5,
        IPC2221_RANGE,
    },
    {
        .name = "IPC-D-275 refit, external",
        .source = "Brooks, Temperature rise in PCB traces, PCB Design Conference West 1998 "
                  "(coefficients as quoted elsewhere)",
        .standing = "A second fit to the same old charts; its range was not stated in what we saw.",
        .coefficient = 0.0647,
        .rise_exponent = 0.4281,
        .width_exponent = 0.6732,
        .thickness_exponent = 0.6732,
    },
    {
        .name = "IPC-D-275 refit, internal",
        .source = "Brooks, Temperature rise in PCB traces, PCB Design Conference West 1998 "
                  "(coefficients as quoted elsewhere)",
        .standing = "A second fit to the same old charts; its range was not stated in what we saw.",
        .is_internal = true,
        .coefficient = 0.0150,
        .rise_exponent = 0.5453,
        .width_exponent = 0.7349,
        .thickness_exponent = 0.7349,
    },
    {
        /* dT = 215.3 I^2 W^-1.15 Th^-1.0, solved for I */
        .name = "Brooks and Adam 2015, external",
        .source = "Brooks and Adam, Trace currents and temperatures revisited, 2015, table 3-1, "
                  "fit to the IPC-2152 charts (as quoted elsewhere)",
        .standing = "From newer measurements: a lone 6 inch conductor, no planes, still air.",
        .coefficient = 0.06815190268285991, /* 215.3^-0.5 */
        .rise_exponent = 0.5,
        .width_exponent = 0.575,
        .thickness_exponent = 0.5,
    },
    {
        .name = "Design News 1968",
        .source = "Friar and McClurg, Design News 1968 (from memory)",
        .standing = "Brooks later called its data unreliable; shown for information only.",
        .is_for_information = true,
        .coefficient = 0.040,
        .rise_exponent = 0.45,
        .width_exponent = 0.69,
        .thickness_exponent = 0.69,
    },
};
const size_t rise_fit_count = sizeof rise_fits / sizeof rise_fits[0];

static double size_factor(const struct rise_fit *fit, double width_mm, double thickness_mm)
{
    return fit->coefficient * pow(width_mm / MM_PER_MIL, fit->width_exponent) *
           pow(thickness_mm / MM_PER_MIL, fit->thickness_exponent);
}

double rise_fit_current_a(const struct rise_fit *fit, double rise_k, double width_mm,
                          double thickness_mm)
{
    return size_factor(fit, width_mm, thickness_mm) * pow(rise_k, fit->rise_exponent);
}

double rise_fit_rise_k(const struct rise_fit *fit, double current_a, double width_mm,
                       double thickness_mm)
{
    return pow(current_a / size_factor(fit, width_mm, thickness_mm), 1.0 / fit->rise_exponent);
}

double rise_fit_width_mm(const struct rise_fit *fit, double current_a, double rise_k,
                         double thickness_mm)
{
    double other = fit->coefficient * pow(rise_k, fit->rise_exponent) *
                   pow(thickness_mm / MM_PER_MIL, fit->thickness_exponent);
    return MM_PER_MIL * pow(current_a / other, 1.0 / fit->width_exponent);
}

double rise_fit_thickness_mm(const struct rise_fit *fit, double current_a, double rise_k,
                             double width_mm)
{
    double other = fit->coefficient * pow(rise_k, fit->rise_exponent) *
                   pow(width_mm / MM_PER_MIL, fit->width_exponent);
    return MM_PER_MIL * pow(current_a / other, 1.0 / fit->thickness_exponent);
}

/* Written so that NaN counts as above. */
static bool is_above(double value, double limit)
{
    return limit > 0 && !(value <= limit * (1 + ON_THE_LIMIT));
}

static bool is_below(double value, double limit)
{
    return limit > 0 && !(value >= limit * (1 - ON_THE_LIMIT));
}

const char *rise_fit_outside(const struct rise_fit *fit, double current_a, double rise_k,
                             double width_mm, double thickness_mm)
{
    if (is_above(current_a, fit->max_current_a))
        return fit->is_internal ? "the current is above 17.5 A" : "the current is above 35 A";
    if (is_below(rise_k, fit->min_rise_k))
        return "the rise is below 10 K";
    if (is_above(rise_k, fit->max_rise_k))
        return "the rise is above 100 K";
    if (is_above(width_mm, fit->max_width_mm))
        return "the width is above 10 mm";
    if (is_below(thickness_mm, fit->min_thickness_mm))
        return "the copper is thinner than half an ounce (17 um)";
    if (is_above(thickness_mm, fit->max_thickness_mm))
        return "the copper is thicker than three ounces (105 um)";
    return NULL;
}
