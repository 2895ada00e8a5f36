/* Texts from outside: only UTF-8 without control characters is kept. */
#include "base/clean.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define BAD "\xEF\xBF\xBD" /* U+FFFD */

/* Well and ill formed sequences [S RFC 3629, section 4, and The Unicode Standard, table 3-7]. */
static const struct {
    const char *text, *one_line, *lines;
} cases[] = {
    {"", "", ""},
    {"plain <b> 'q' \"d\" $1,2", "plain <b> 'q' \"d\" $1,2", "plain <b> 'q' \"d\" $1,2"},
    {"a\nb\tc\rd", "a b c d", "a\nb\tc d"},
    {"bell\x07 del\x7F esc\x1B[31m", "bell  del  esc [31m", "bell  del  esc [31m"},
    {"\xC2\x85 is C1, \xC2\xA0 is not", "  is C1, \xC2\xA0 is not", "  is C1, \xC2\xA0 is not"},
    {"\xC3\xA9\xE2\x82\xAC\xF0\x9F\x98\x80", "\xC3\xA9\xE2\x82\xAC\xF0\x9F\x98\x80",
     "\xC3\xA9\xE2\x82\xAC\xF0\x9F\x98\x80"},
    {"\xC0\x80", BAD BAD, BAD BAD},                         /* longer than needed */
    {"\xE0\x9F\xBF", BAD BAD BAD, BAD BAD BAD},             /* likewise */
    {"\xED\xA0\x80", BAD BAD BAD, BAD BAD BAD},             /* a surrogate */
    {"\xF4\x90\x80\x80", BAD BAD BAD BAD, BAD BAD BAD BAD}, /* beyond U+10FFFF */
    {"\xF4\x8F\xBF\xBF", "\xF4\x8F\xBF\xBF", "\xF4\x8F\xBF\xBF"},
    {"\xFFx\xFE", BAD "x" BAD, BAD "x" BAD},
    {"cut \xE2\x82", "cut " BAD BAD, "cut " BAD BAD},
    {"\x80lone", BAD "lone", BAD "lone"},
};

static void texts_are_cleaned(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char *clean = malloc(text_clean_size(strlen(cases[i].text)));
        text_clean(cases[i].text, false, clean);
        assert_string_equal(clean, cases[i].one_line);
        text_clean(cases[i].text, true, clean);
        assert_string_equal(clean, cases[i].lines);
        free(clean);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(texts_are_cleaned)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
