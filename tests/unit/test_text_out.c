/* Text of any origin on its way into reports: what is UTF-8 (RFC 3629, section 4), markup, control
 * characters. */
#include "assertions.h"
#include "base/xml.h"
#include "report/words.h"

static void utf8_is_what_the_rfc_says(void **state)
{
    (void)state;
    static const char *const good[] = {"",
                                       "MAT",
                                       "\xC2\x80",
                                       "\xDF\xBF",
                                       "\xE0\xA0\x80",
                                       "\xED\x9F\xBF",
                                       "\xEE\x80\x80",
                                       "\xEF\xBF\xBF",
                                       "\xF0\x90\x80\x80",
                                       "\xF4\x8F\xBF\xBF",
                                       "24 \xCE\xA9 5"};
    /* a lone continuation, overlong forms, a surrogate, beyond U+10FFFF, cut off, wrong second */
    static const char *const bad[] = {"\x80",
                                      "\xC0\xAF",
                                      "\xE0\x9F\xBF",
                                      "\xF0\x8F\xBF\xBF",
                                      "\xED\xA0\x80",
                                      "\xF4\x90\x80\x80",
                                      "\xE2\x82",
                                      "\xC2"
                                      "a",
                                      "\xFF",
                                      "\xB5m",
                                      "\xF5\x80\x80\x80"};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++)
        if (!text_is_utf8(good[i]))
            fail_msg("good text %zu was refused", i);
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (text_is_utf8(bad[i]))
            fail_msg("bad text %zu was taken", i);
}

static void assert_xml(const char *text, const char *expected)
{
    char *found = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&found, &size);
    assert_non_null(memory);
    xml_put(memory, text);
    fclose(memory);
    assert_string_equal(found, expected);
    free(found);
}

static void markup_becomes_entities(void **state)
{
    (void)state;
    assert_xml("<a href=\"x\">&amp;", "&lt;a href=&quot;x&quot;&gt;&amp;amp;");
    assert_xml("\x1b[31m\x7f", "?[31m?");
    assert_xml("5 \xC2\xB5m", "5 \xC2\xB5m");
    assert_xml("5 \xB5m <", "5 &#181;m &lt;"); /* Latin-1 */
}

static enum report_status write_text(const void *what, FILE *out)
{
    fputs(what, out);
    return REPORT_OK;
}

static void assert_plain(const char *text, bool use_colour, const char *expected)
{
    char *found = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&found, &size);
    assert_non_null(memory);
    assert_int_equal(report_plain(write_text, text, use_colour, memory), REPORT_OK);
    fclose(memory);
    assert_string_equal(found, expected);
    free(found);
}

/* ECMA-48: ESC [ begins a control sequence, and so does the single character U+009B. */
static void no_control_character_reaches_a_terminal(void **state)
{
    (void)state;
    assert_plain("net A\nnet \xCE\xA9\n", false, "net A\nnet \xCE\xA9\n");
    assert_plain("a\x1b[2Jb\rc\td\x07", true, "a?[2Jb?c?d?");
    assert_plain("\xC2\x9B"
                 "2J",
                 true, "?2J");
    assert_plain("\033[1;31mnarrow\033[0m", true, "\033[1;31mnarrow\033[0m");
    assert_plain("\033[1;31mnarrow\033[0m", false, "?[1;31mnarrow?[0m");
    assert_plain("\033[", true, "?[");
}

static enum report_status write_nothing(const void *what, FILE *out)
{
    (void)what;
    fputs("half of it", out);
    return REPORT_NO_MEMORY;
}

static void what_fails_half_way_prints_nothing(void **state)
{
    (void)state;
    char *found = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&found, &size);
    assert_non_null(memory);
    assert_int_equal(report_plain(write_nothing, NULL, false, memory), REPORT_NO_MEMORY);
    fclose(memory);
    assert_int_equal(size, 0);
    free(found);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(utf8_is_what_the_rfc_says),
        cmocka_unit_test(markup_becomes_entities),
        cmocka_unit_test(no_control_character_reaches_a_terminal),
        cmocka_unit_test(what_fails_half_way_prints_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
