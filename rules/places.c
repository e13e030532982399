/*
 * Beside a narrowest cut lie others, longer by little, through the same copper: the other side of a
 * spoke, the far end of a track. One place is enough for each stretch.
 */
#include "places.h"

#include <math.h>

/* Lengths of one stretch, found from either end, agree within this share. */
#define SAME_LENGTH 0.2

static double distance_mm(struct pos_nm a, struct pos_nm b)
{
    return hypot((double)(a.x_nm - b.x_nm), (double)(a.y_nm - b.y_nm)) * 1e-6;
}

static bool has_near_piece(const struct finding_place *place, const struct finding_piece *piece,
                           double reach_mm)
{
    for (size_t i = 0; i < place->piece_count; i++)
        if (place->pieces[i].layer == piece->layer &&
            distance_mm(place->pieces[i].middle, piece->middle) <= reach_mm)
            return true;
    return false;
}

static bool is_all_near(const struct finding_place *place, const struct finding_place *worse,
                        double reach_mm)
{
    for (size_t i = 0; i < place->piece_count; i++)
        if (!has_near_piece(worse, &place->pieces[i], reach_mm))
            return false;
    return true;
}

/*
 * Within the needed width of the worse place's pieces it is the same neck. Further off it is the
 * same stretch when it lies within the narrow length and has that length itself.
 */
static bool says_again(const struct finding_place *place, const struct finding_place *worse)
{
    if (is_all_near(place, worse, worse->needed_mm))
        return true;
    double length_mm = worse->narrow_length_mm;
    return fabs(place->narrow_length_mm - length_mm) <= SAME_LENGTH * length_mm &&
           is_all_near(place, worse, worse->needed_mm + length_mm);
}

size_t places_keep_distinct(struct finding_place *places, size_t count)
{
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        bool is_known = false;
        for (size_t k = 0; k < kept && !is_known; k++)
            is_known = says_again(&places[i], &places[k]);
        if (!is_known)
            places[kept++] = places[i];
    }
    return kept;
}
