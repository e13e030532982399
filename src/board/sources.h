/* Between reading the files (sources.c) and settling how drill digits are meant (score.c). */
#ifndef ISTHMUS_BOARD_SOURCES_H
#define ISTHMUS_BOARD_SOURCES_H

#include "build.h"

struct sources {
    struct file_hint *hints;
    struct hole_list *lists; /* per hint: a drill file's holes */
    size_t count;
};

/* How well holes land on the pads and mask openings of the package. */
struct score;
struct score *score_new(struct build *build); /* needs the copper's roles; NULL: no memory */
void score_free(struct score *score);
/* Reads the drill file of role entry `index`. */
enum holes_status score_read(struct build *build, struct score *score, size_t index,
                             const struct file_hint *hint, struct hole_list *out);

/* False for a file that is set aside: its errors stop nothing. */
bool role_matters(const struct file_role *role);

#endif
