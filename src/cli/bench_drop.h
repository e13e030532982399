/* The part of `bench` and `compare` that asks the drawing for voltage drops. */
#ifndef CLI_BENCH_DROP_H
#define CLI_BENCH_DROP_H

#include "board_places.h"
#include "isthmus/drop.h"

#define BENCH_NAMES 32
struct bench_points {
    const char *command;                                               /* whose options they are */
    const char *from[BENCH_NAMES], *to[BENCH_NAMES], *at[BENCH_NAMES]; /* as written */
    size_t from_count, to_count, at_count;
    char names[2048]; /* from and to point in here */
    size_t names_length;
};
/* --from, --to: one or several names, parted by commas; --at: X,Y,LAYER. false after printing. */
bool bench_points_from(struct bench_points *points, const char *text);
bool bench_points_to(struct bench_points *points, const char *text);
bool bench_points_at(struct bench_points *points, const char *text);

/*
 * Solves the net between its terminals, fills question->drawn and gives each place what crosses it
 * in this test (after its own places, before others are added). Where the table does not say
 * enough, the sheet says why; CLI_COULD_NOT, after printing, only for what was asked for by name.
 */
int bench_drop(struct run *run, const struct bench_points *points, const struct net_places *places,
               struct bench_question *question);

struct measured;
/*
 * Readings of cold copper (cold_drop_v, cold_current_a) against the drawing's resistance between
 * the terminal where the current enters and the one where it leaves: prints how much copper there
 * is in place of what was stated. Nothing without such readings.
 */
int compare_cold(struct run *run, const struct bench_points *points,
                 const struct net_places *places, const struct measured *measured);

#endif
