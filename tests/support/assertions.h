/* cmocka, with the includes it wants, once. */
#ifndef TEST_ASSERTIONS_H
#define TEST_ASSERTIONS_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <cmocka.h>

/* |found - expected| <= tolerance, all finite. */
void assert_near_at(double found, double expected, double tolerance, const char *file, int line);
#define assert_near(found, expected, tolerance)                                                    \
    assert_near_at((found), (expected), (tolerance), __FILE__, __LINE__)

/* The folder of real packages (environment variable ISTHMUS_BOARDS), or NULL: then the caller
 * prints why and calls skip(). */
const char *boards_folder(void);

/* Reads a whole file into malloc'ed memory (NUL added behind); fails the test when it cannot. */
uint8_t *read_whole_file(const char *path, size_t *size);

#endif
