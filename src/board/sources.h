/* Between reading the files (sources.c) and settling how drill digits are meant (score.c). */
#ifndef ISTHMUS_BOARD_SOURCES_H
#define ISTHMUS_BOARD_SOURCES_H

#include "build.h"

struct sources {
    struct file_hint *hints;
    struct hole_list *lists; /* per hint: a drill file's holes */
    size_t count;
};

/*
 * Reads drill files: as --drill-format says, as stated, or as their holes land on the pads and mask
 * openings of the package. Needs the copper's roles.
 *
 * score_new             lives in build->scratch; NULL: no memory. A wrong option is told
 * score_read            the drill file of role entry `index`
 * score_read_undecided  afterwards: files that nothing decided, as the others, if those agree
 */
struct score;
struct score *score_new(struct build *build, const struct sources *sources);
enum holes_status score_read(struct build *build, struct score *score, struct sources *sources,
                             size_t index);
enum holes_status score_read_undecided(struct build *build, struct score *score,
                                       struct sources *sources);

/* False for a file that is set aside: its errors stop nothing. */
bool role_matters(const struct file_role *role);

#endif
