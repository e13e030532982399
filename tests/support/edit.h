/*
 * Real packages with one drawing changed: where a stroke stands in the text, what may be written in
 * its place, and the board that comes of it.
 */
#ifndef TEST_EDIT_H
#define TEST_EDIT_H

#include "isthmus/board.h"

/* The statement that drew an object: between the '*' before and its own. */
struct statement {
    size_t from, to; /* bytes; to: the '*' */
};
bool statement_find(const struct source_file *file, struct source_pos at, struct statement *out);
/* Nothing but coordinates and a draw: [G01] [X..] [Y..] [D01] */
bool statement_is_plain_draw(const struct source_file *file, struct statement statement);
/* The text behind the statement. */
const char *statement_rest(const struct source_file *file, struct statement statement,
                           struct arena *arena);

double stroke_length_nm(const struct object *object);
/* The place that the file can write nearest to this one. */
struct pos_nm on_file_grid(const struct drawing *drawing, double x_nm, double y_nm);
/* "X..Y..CODE*", without a line end. */
const char *point_text(const struct drawing *drawing, struct pos_nm at, const char *code,
                       struct arena *arena);
/* mm or inches of a length, as the file counts. */
double in_file_units(const struct drawing *drawing, double length_nm);
int32_t free_code(const struct drawing *drawing); /* of no aperture yet */

/* All files of a package, one of them with another text (file_id 0: none). */
void files_with(const struct file_table *files, uint32_t file_id, const char *text,
                struct file_table *out);
/* Fails the test, with the diagnostics, when it is refused. */
void board_of_files(struct file_table *files, const struct board_facts *facts,
                    const struct current_table *table, struct arena *arena, struct diag_list *diags,
                    struct board *out);

#endif
