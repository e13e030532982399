/* Small packages held in memory, for tests of what is put together from them. */
#ifndef TEST_BOARD_WORLD_H
#define TEST_BOARD_WORLD_H

#include "isthmus/board.h"

/* One micrometre a unit: X10000 is 10 mm. */
#define GERBER "%FSLAX43Y43*%\n%MOMM*%\nG75*\n"
#define TOP GERBER "%TF.FileFunction,Copper,L1,Top*%\n"
#define BOTTOM GERBER "%TF.FileFunction,Copper,L2,Bot*%\n"
#define PROFILE GERBER "%TF.FileFunction,Profile,NP*%\n%ADD10C,0.1*%\nD10*\n"
#define MASK_TOP GERBER "%TF.FileFunction,Soldermask,Top*%\n%TF.FilePolarity,Negative*%\n"
#define MASK_BOTTOM GERBER "%TF.FileFunction,Soldermask,Bot*%\n%TF.FilePolarity,Negative*%\n"
#define END "M02*\n"
#define DRILL "M48\nMETRIC\n"

struct board_world {
    struct arena *arena;
    struct file_table files;
    struct diag_list diags;
    struct board_facts facts;
    struct board_options options;
    struct current_table table;
    bool has_table;
    struct board board;
    enum board_status status;
};

struct board_world *bw_new(void);
void bw_free(struct board_world *world);
/* name and text must outlive the world */
void bw_file(struct board_world *world, const char *name, const char *text);
/* Texts strung together, NULL at the end; they live as long as the world. */
const char *bw_text(struct board_world *world, const char *first, ...);
void bw_table(struct board_world *world, const char *csv);
enum board_status bw_read(struct board_world *world);
/* Reads; fails the test with the diagnostics when the board is refused. */
void bw_must_read(struct board_world *world);
void bw_print(const struct board_world *world);
const struct diag *bw_diag(const struct board_world *world, const char *code);
const struct net *bw_net(const struct board_world *world, const char *name);
const struct terminal *bw_terminal(const struct board_world *world, const char *name);
const struct board_hole *bw_hole(const struct board_world *world, int64_t x_um, int64_t y_um);

#endif
