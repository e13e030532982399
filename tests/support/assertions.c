#include "assertions.h"

#include <math.h>

void assert_near_at(double found, double expected, double tolerance, const char *file, int line)
{
    if (isfinite(found) && isfinite(expected) && fabs(found - expected) <= tolerance)
        return;
    print_error("found %.17g, expected %.17g within %g\n", found, expected, tolerance);
    _fail(file, line);
}

const char *boards_folder(void)
{
    const char *folder = getenv("ISTHMUS_BOARDS");
    if (!folder || !*folder) {
        print_message("skipped: set ISTHMUS_BOARDS to a folder of real packages\n");
        return NULL;
    }
    return folder;
}

uint8_t *read_whole_file(const char *path, size_t *size)
{
    FILE *file = fopen(path, "rb");
    if (!file)
        fail_msg("cannot open %s", path);
    if (fseek(file, 0, SEEK_END) != 0)
        fail_msg("cannot seek in %s", path);
    long length = ftell(file);
    rewind(file);
    uint8_t *bytes = malloc((size_t)length + 1);
    if (!bytes || fread(bytes, 1, (size_t)length, file) != (size_t)length)
        fail_msg("cannot read %s", path);
    bytes[length] = 0;
    fclose(file);
    *size = (size_t)length;
    return bytes;
}
