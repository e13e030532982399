/* The empty table that `bench --csv` leaves for `compare`. */
#include "isthmus/bench.h"

#include <string.h>

/* RFC 4180: quoted when it holds a comma, a quote or a line end; control bytes become '?'. */
static void put_field(FILE *out, const char *text)
{
    bool is_quoted = strpbrk(text, ",\"\r\n#") != NULL;
    if (is_quoted)
        fputc('"', out);
    for (; *text; text++) {
        if (*text == '"')
            fputc('"', out);
        fputc((unsigned char)*text < 0x20 ? '?' : *text, out);
    }
    if (is_quoted)
        fputc('"', out);
}

void bench_blank_csv(const struct bench_question *question, FILE *out)
{
    fputs(
        "# For isthmus compare. Fill in a row per steady reading; delete rows that are not used. "
        "Empty accuracies are\n"
        "# assumed and said so. Thermometer: hot_c. Copper as thermometer instead: drop_v,\n"
        "# cold_drop_v, cold_current_a, cold_c. +- columns are limits (half-widths), repeat_k is\n"
        "# the standard deviation of repeated readings.\n"
        "place,current_a,current_pm_a,ambient_c,ambient_pm_k,hot_c,hot_pm_k,method,emissivity,"
        "emissivity_pm,reflected_c,repeat_k,drop_v,cold_drop_v,cold_current_a,cold_c,note\n",
        out);
    size_t rows = question->place_count ? question->place_count : 1;
    for (size_t i = 0; i < rows; i++) {
        put_field(out, question->place_count ? question->places[i].name : "conductor");
        fprintf(out, ",%g,,,,,,camera,0.95,0.02,,,,,,,\n", question->current_a);
    }
}
