/* What alone would explain a measured rise. */
#include <math.h>

#include "isthmus/compare.h"
#include "isthmus/physics.h"

static double constant_of(const struct compare_conductor *conductor)
{
    return conductor->is_internal ? IPC2221_K_INTERNAL : IPC2221_K_EXTERNAL;
}

/* Each cause as a function of the rise it must explain. */
struct cause {
    const struct compare_conductor *conductor;
    const struct compare_point *point;
};

static double area_for(const struct cause *cause, double rise_k)
{
    return ipc2221_area_mm2(constant_of(cause->conductor), cause->point->current_a, rise_k);
}

static double thickness_for(const struct cause *cause, double rise_k)
{
    return area_for(cause, rise_k) / cause->conductor->width_mm;
}

static double width_for(const struct cause *cause, double rise_k)
{
    return area_for(cause, rise_k) / cause->conductor->thickness_mm;
}

static double current_for(const struct cause *cause, double rise_k)
{
    return ipc2221_current_a(constant_of(cause->conductor), rise_k,
                             cause->conductor->width_mm * cause->conductor->thickness_mm);
}

/* The same current heats a little less in cooler copper: h dT = I^2 rho(T). */
static double cooling_for(const struct cause *cause, double rise_k)
{
    double ambient_c = cause->point->reading->ambient_c, predicted_k = cause->point->predicted_k;
    return predicted_k / rise_k * copper_resistivity(ambient_c + rise_k) /
           copper_resistivity(ambient_c + predicted_k);
}

/* The surface's emissivity if it had the predicted temperature and the camera showed this rise:
 * set (S^4 - Tr^4) = e (T^4 - Tr^4) in kelvin. */
static double emissivity_for(const struct cause *cause, double rise_k)
{
    const struct reading *reading = cause->point->reading;
    if (reading->method != MEASURED_CAMERA)
        return NAN;
    double reflected = pow(reading->reflected_c + 273.15, 4);
    double shown = pow(reading->ambient_c + rise_k + 273.15, 4) - reflected;
    double real = pow(reading->ambient_c + cause->point->predicted_k + 273.15, 4) - reflected;
    return reading->emissivity * shown / real;
}

static struct compare_range range_of(const struct cause *cause,
                                     double (*value_for)(const struct cause *, double))
{
    const struct compare_point *point = cause->point;
    struct compare_range range = {NAN, NAN, NAN, false};
    if (!(point->rise_k > 0))
        return range;
    /* at no rise at all each cause has its limit: no current, endless copper */
    double a = value_for(cause, fmax(point->rise_k - point->expanded_k, 0));
    double b = value_for(cause, point->rise_k + point->expanded_k);
    range.value = value_for(cause, point->rise_k);
    range.low = fmin(a, b);
    range.high = fmax(a, b);
    return range;
}

/* No surface emits more than all or less than nothing. */
static struct compare_range emissivity_range(const struct cause *cause)
{
    struct compare_range range = range_of(cause, emissivity_for);
    if (!(range.value > 0 && range.value <= 1))
        return (struct compare_range){NAN, NAN, NAN, false};
    range.low = fmax(range.low, 0);
    range.high = fmin(range.high, 1);
    return range;
}

static void meet(struct compare_range *range, double least, double most)
{
    range->is_ordinary = range->low <= most && range->high >= least;
}

struct compare_causes compare_causes_of(const struct compare_conductor *conductor,
                                        const struct compare_point *point)
{
    const struct cause cause = {conductor, point};
    const double thickness = conductor->thickness_mm, scatter = conductor->thickness_pm;
    struct compare_causes causes = {
        .thickness_mm = range_of(&cause, thickness_for),
        .width_mm = range_of(&cause, width_for),
        .current_a = range_of(&cause, current_for),
        .cooling = range_of(&cause, cooling_for),
        .emissivity = emissivity_range(&cause),
    };
    const struct reading *reading = point->reading;
    meet(&causes.thickness_mm, thickness * (1 - scatter), thickness * (1 + scatter));
    meet(&causes.width_mm, conductor->width_mm - conductor->width_pm_mm,
         conductor->width_mm + conductor->width_pm_mm);
    meet(&causes.current_a, reading->current_a - reading->current_pm_a,
         reading->current_a + reading->current_pm_a);
    meet(&causes.emissivity, reading->emissivity - reading->emissivity_pm,
         reading->emissivity + reading->emissivity_pm);
    causes.is_plating_enough = !conductor->is_internal && conductor->plating_mm > 0 &&
                               causes.thickness_mm.low <= thickness + conductor->plating_mm &&
                               causes.thickness_mm.high >= thickness * (1 + scatter);
    return causes;
}
