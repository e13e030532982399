/*
 * What enters a text report from files may hold control characters, and a terminal obeys these. The
 * one place where they leave: all text goes through here; line ends stay, and colours where they
 * are wanted.
 */
#include "words.h"

#include <stdlib.h>
#include <string.h>

/* Bytes of a colour as the reports write it, ESC [ digits ; m; 0: something else. */
static size_t colour_length(const char *at)
{
    if (at[0] != '\033' || at[1] != '[')
        return 0;
    size_t length = 2 + strspn(at + 2, "0123456789;");
    return at[length] == 'm' ? length + 1 : 0;
}

/* C0 but the line end, DEL, and C1 as UTF-8. */
static size_t control_length(const char *text)
{
    const unsigned char *at = (const unsigned char *)text;
    if (at[0] == 0xC2 && at[1] >= 0x80 && at[1] <= 0x9F)
        return 2;
    return (at[0] < 0x20 && at[0] != '\n') || at[0] == 0x7F;
}

static void put_plain(const char *text, size_t size, bool use_colour, FILE *out)
{
    for (size_t i = 0; i < size;) {
        size_t colour = use_colour ? colour_length(text + i) : 0,
               control = control_length(text + i);
        if (colour)
            fwrite(text + i, 1, colour, out);
        else if (control)
            fputc('?', out);
        else
            fputc(text[i], out);
        i += colour ? colour : control ? control : 1;
    }
}

enum report_status report_plain(report_writer write, const void *what, bool use_colour, FILE *out)
{
    char *text = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&text, &size);
    if (!memory)
        return REPORT_NO_MEMORY;
    enum report_status status = write(what, memory);
    if (fclose(memory) != 0)
        status = REPORT_NO_MEMORY;
    if (status == REPORT_OK)
        put_plain(text, size, use_colour, out);
    free(text);
    return status == REPORT_OK && ferror(out) ? REPORT_WRITE_FAILED : status;
}
