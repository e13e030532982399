/* Text into XML, HTML and SVG: the one place where it is escaped. */
#ifndef BASE_XML_H
#define BASE_XML_H

#include <stdbool.h>
#include <stdio.h>

/* Markup as entities; control characters, which XML has none of, as '?'. */
void xml_put_byte(FILE *out, unsigned char byte);
/* Likewise; what is not UTF-8 is read as Latin-1. */
void xml_put(FILE *out, const char *text);

bool text_is_utf8(const char *text);

#endif
