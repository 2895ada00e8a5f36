/* Dates against the C library's calendar (timegm, strftime), and what RFC 3339 says of months and leap years.
 */
#include "base/date.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

enum { SEED = 11, ROUNDS = 20000 };

static void library_text(int64_t ms, const char *format, char text[64]) {
    const time_t seconds = (time_t)(ms / 1000);
    struct tm tm;
    assert_non_null(gmtime_r(&seconds, &tm));
    assert_int_not_equal(strftime(text, 64, format, &tm), 0);
}

/* Seconds from 1970 to the end of 9999: 253402300800 [A by the C library]. */
static void as_the_library(void **state) {
    (void)state;
    uint64_t random = SEED;
    for (int i = 0; i < ROUNDS; i++) {
        random = random * 6364136223846793005u + 1442695040888963407u;
        const int64_t ms = (int64_t)((random >> 11) % 253402300800000u);
        char text[DATE_TEXT_MAX], wanted[64], whole[80];
        int64_t back = 0;
        library_text(ms, "%Y-%m-%dT%H:%M:%S", wanted);
        assert_string_equal(date_text(ms, DATE_SECOND, text), wanted);
        assert_true(date_parse(text, &back));
        assert_int_equal(back, ms / 1000 * 1000);
        snprintf(whole, sizeof whole, "%s.%03dZ", wanted, (int)(ms % 1000));
        assert_string_equal(date_text(ms, DATE_WHOLE, text), whole);
        library_text(ms, "%Y-%m-%d %H:%M", wanted);
        assert_string_equal(date_text(ms, DATE_MINUTE, text), wanted);
        library_text(ms, "%Y-%m-%d", wanted);
        assert_true(date_parse(wanted, &back));
        assert_int_equal(back, ms / 86400000 * 86400000);
    }
}

static void what_is_none(void **state) {
    (void)state;
    /* RFC 3339, 5.7 and appendix C: days of months; 2000 and 2024 are leap years, 1900, 2100 and 2026 none */
    static const char *const none[] = {"",
                                       "2026",
                                       "2026-11",
                                       "2026-1-1",
                                       "26-11-26",
                                       "2026-13-01",
                                       "2026-00-10",
                                       "2026-11-31",
                                       "2026-02-29",
                                       "2100-02-29",
                                       "2026-11-00",
                                       "1969-12-31",
                                       "2026-11-26T",
                                       "2026-11-26T24:00",
                                       "2026-11-26T14:60",
                                       "2026-11-26T14",
                                       "2026-11-26T14:05:60",
                                       "2026-11-26T14:05:",
                                       "2026-11-26 14:05",
                                       "2026-11-26Z",
                                       "2026-11-26T14:05+01:00",
                                       "2026-11-26x",
                                       "-026-11-26",
                                       "yesterday",
                                       "2026-11-26T14:05Zz"};
    int64_t ms = 0;
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++) {
        if (date_parse(none[i], &ms)) {
            fail_msg("\"%s\" was taken for a date", none[i]);
        }
    }
    assert_true(date_parse("2000-02-29", &ms));
    assert_true(date_parse("2024-02-29T14:05Z", &ms));
}

/* Moments beyond the calendar are shown as its ends. */
static void the_ends(void **state) {
    (void)state;
    char text[DATE_TEXT_MAX];
    assert_string_equal(date_text(INT64_MIN, DATE_WHOLE, text), "1970-01-01T00:00:00.000Z");
    assert_string_equal(date_text(INT64_MAX, DATE_WHOLE, text), "9999-12-31T23:59:59.999Z");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(as_the_library), cmocka_unit_test(what_is_none),
                                       cmocka_unit_test(the_ends)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
