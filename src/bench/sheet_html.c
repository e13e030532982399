/* A sheet as one HTML page: nothing is loaded from elsewhere, it prints on A4 or letter. */
#include "bench/sheet_format.h"

#include "base/xml.h"

#include <string.h>

/* The one place that writes a text into HTML. */
static void put_escaped(FILE *out, const char *text)
{
    static const char *const signs[] = {NULL,      "&deg;C",   "&micro;",
                                        "&Omega;", "&plusmn;", "&times;"};
    for (; *text; text++) {
        unsigned char byte = (unsigned char)*text;
        if (byte >= 1 && byte <= 5)
            fputs(signs[byte], out);
        else
            xml_put_byte(out, byte);
    }
}

static void put_element(FILE *out, const char *tag, const char *text)
{
    fprintf(out, "<%s>", tag);
    put_escaped(out, text);
    /* the end tag has no attributes */
    fprintf(out, "</%.*s>\n", (int)strcspn(tag, " "), tag);
}

static const char style[] =
    "@page{margin:14mm}"
    "body{font:11pt/1.45 system-ui,sans-serif;color:#111;background:#fff;max-width:48rem;"
    "margin:1.5rem auto;padding:0 1rem}"
    "h1{font-size:1.5rem;line-height:1.2;margin:0 0 .75rem}"
    "h2{font-size:1.1rem;margin:1.6rem 0 .4rem;padding-bottom:.15rem;"
    "border-bottom:2px solid #0072b2;break-after:avoid}"
    "p{margin:.35rem 0}"
    ".caution{border:2px solid #d55e00;border-left-width:10px;padding:.5rem .9rem;"
    "break-inside:avoid}"
    ".caution strong{font-size:1.05rem}"
    ".step{display:flex;gap:.6rem;margin:.3rem 0;break-inside:avoid}"
    ".step::before{content:'';flex:none;width:.8em;height:.8em;margin-top:.3em;"
    "border:1.5px solid #111}"
    ".scroll{overflow-x:auto;padding-right:1px}"
    "table{border-collapse:collapse;width:100%;margin:.7rem 0;font-size:.92rem;"
    "font-variant-numeric:tabular-nums;break-inside:avoid}"
    "caption{text-align:left;font-weight:600;padding:.2rem 0}"
    "th,td{border:1px solid #767676;padding:.3rem .45rem;text-align:left;vertical-align:top}"
    "thead th{background:#e8f1f7}"
    "td.blank{min-width:4.2rem;height:1.5rem}"
    "td.wide{width:58%}"
    ".many td,.many th{white-space:nowrap;font-size:.88rem}"
    "ul{margin:.35rem 0;padding-left:1.2rem}"
    "@media print{body{margin:0;max-width:none;padding:0}.scroll{overflow:visible}}";

static void html_begin(FILE *out, const char *title)
{
    fputs("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
          "<meta name=\"generator\" content=\"isthmus\">\n"
          "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n",
          out);
    put_element(out, "title", title);
    fprintf(out, "<style>%s</style>\n</head>\n<body>\n<main>\n", style);
    put_element(out, "h1", title);
}

static void html_end(FILE *out)
{
    fputs("</main>\n</body>\n</html>\n", out);
}

static void html_heading(FILE *out, const char *text)
{
    put_element(out, "h2", text);
}

static void html_list(FILE *out, const char *const *lines, size_t count)
{
    fputs("<ul>\n", out);
    for (size_t i = 0; i < count; i++)
        put_element(out, "li", lines[i]);
    fputs("</ul>\n", out);
}

static void html_caution(FILE *out, const char *const *lines, size_t count)
{
    fputs("<div class=\"caution\" role=\"note\" aria-label=\"Caution\">\n"
          "<strong>Caution</strong>\n",
          out);
    html_list(out, lines, count);
    fputs("</div>\n", out);
}

static void html_paragraph(FILE *out, const char *text)
{
    put_element(out, "p", text);
}

static void html_step(FILE *out, const char *text)
{
    fputs("<div class=\"step\">", out);
    put_element(out, "div", text);
    fputs("</div>\n", out);
}

static void html_table_begin(FILE *out, const char *caption, const struct sheet_column *columns,
                             size_t count)
{
    fprintf(out, "<div class=\"scroll\">\n<table%s>\n", count > 4 ? " class=\"many\"" : "");
    put_element(out, "caption", caption);
    fputs("<thead><tr>\n", out);
    for (size_t i = 0; i < count; i++)
        put_element(out, "th scope=\"col\"", columns[i].title);
    fputs("</tr></thead>\n<tbody>\n", out);
}

static void html_row(FILE *out, const struct sheet_column *columns, const char *const *cells,
                     size_t count)
{
    (void)columns;
    fputs("<tr>\n", out);
    for (size_t i = 0; i < count; i++)
        if (!cells[i])
            fputs(count == 2 ? "<td class=\"blank wide\"></td>\n" : "<td class=\"blank\"></td>\n",
                  out);
        else
            put_element(out, i == 0 ? "th scope=\"row\"" : "td", cells[i]);
    fputs("</tr>\n", out);
}

static void html_table_end(FILE *out)
{
    fputs("</tbody>\n</table>\n</div>\n", out);
}

const struct sheet_format sheet_format_html = {
    .begin = html_begin,
    .end = html_end,
    .heading = html_heading,
    .caution = html_caution,
    .paragraph = html_paragraph,
    .list = html_list,
    .step = html_step,
    .table_begin = html_table_begin,
    .row = html_row,
    .table_end = html_table_end,
};
