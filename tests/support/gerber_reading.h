/* Reading a drawing from a text, for tests. */
#ifndef TEST_GERBER_READING_H
#define TEST_GERBER_READING_H

#include "drawing_area.h"
#include "isthmus/drawing.h"

struct reading {
    struct arena *arena;
    struct diag_list diags;
    struct drawing drawing;
    enum drawing_status status;
};

/* Modern beginning: millimetres, six decimals. */
#define GERBER_HEAD "%FSLAX46Y46*%\n%MOMM*%\nG75*\nG01*\n"

void reading_of_bytes(struct reading *r, const void *bytes, size_t size);
/* Whatever comes of it. */
void reading_of(struct reading *r, const char *text);
/* Fails the test unless it is read without an error. */
void reading_good(struct reading *r, const char *text);
/* GERBER_HEAD, the body, M02; fails the test unless it is read without any diagnostic. */
void reading_clean(struct reading *r, const char *body);
void reading_done(struct reading *r);
/* The diagnostic of this code, or NULL. */
const struct diag *reading_diag(const struct reading *r, const char *code);
/* Area of object number index. */
double reading_area_mm2(const struct reading *r, size_t index);
/* What an image shows at a point: the last object that covers it decides. */
bool reading_is_dark(const struct reading *r, double x_mm, double y_mm);

#endif
