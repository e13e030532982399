/*
 * What somebody measured on the bench: one row a steady reading.
 *
 * Plain CSV with a header (RFC 4180, '#' comments). Required columns: current_a, ambient_c, and
 * hot_c or, with the copper as its own thermometer, drop_v, cold_drop_v, cold_current_a, cold_c.
 * Every cell may carry a unit ("85C", "2K", "800mA"); an empty cell of an accuracy is assumed, and
 * has_assumed says which. Accuracies ("..._pm_...") are limits, half-widths; repeat_k is a standard
 * deviation.
 */
#ifndef ISTHMUS_MEASURED_H
#define ISTHMUS_MEASURED_H

#include "isthmus/base.h"

enum measured_method { MEASURED_CAMERA, MEASURED_CONTACT, MEASURED_RESISTANCE };

struct reading {
    const char *place, *note; /* "" when empty */
    enum measured_method method;
    double current_a, current_pm_a;
    double ambient_c, ambient_pm_k;
    double hot_c, hot_pm_k; /* camera or contact */
    double emissivity, emissivity_pm, reflected_c;
    double repeat_k;
    double drop_v, cold_drop_v, cold_current_a, cold_c, cold_pm_k; /* resistance */
    double ohm_pm_pct; /* limits of each of the two resistances, per cent */
    struct source_pos at;
    unsigned assumed; /* bit per enum measured_assumed */
};
enum measured_assumed {
    ASSUMED_CURRENT_PM = 1, /* 1 % */
    ASSUMED_AMBIENT_PM = 2, /* 0.5 K */
    ASSUMED_HOT_PM = 4,     /* camera: 2 K or 2 %; contact: 1.5 K */
    ASSUMED_EMISSIVITY = 8, /* 0.95 within 0.02 */
    ASSUMED_REFLECTED = 16, /* the ambient */
    ASSUMED_REPEAT = 32,    /* 0.3 K */
    ASSUMED_COLD_PM = 64,   /* 0.5 K */
    ASSUMED_OHM_PM = 128,   /* 0.5 % */
    ASSUMED_METHOD = 256    /* camera */
};

#define READINGS_MOST 48 /* one Monte Carlo run takes them all */
struct measured {
    struct reading readings[READINGS_MOST];
    size_t count;
};
enum measured_status { MEASURED_OK = 0, MEASURED_REFUSED, MEASURED_NO_MEMORY };
/* errors  MEASURED_REFUSED: diagnostics say where and why; out is then incomplete */
enum measured_status measured_read(uint32_t file_id, const uint8_t *bytes, size_t size,
                                   struct arena *arena, struct diag_list *diags,
                                   struct measured *out);

#endif
