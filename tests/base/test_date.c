/* Dates against a calendar that is counted day by day, by RFC 3339's rule of leap years, and moments whose
 * seconds since 1970 are well known. */
#include "base/date.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void is_day(int64_t day, int year, int month, int of_month) {
    char wanted[64], text[DATE_TEXT_MAX];
    int64_t ms = 0;
    snprintf(wanted, sizeof wanted, "%04d-%02d-%02d", year, month, of_month);
    assert_true(date_parse(wanted, &ms));
    assert_int_equal(ms, day * 86400000);
    snprintf(wanted, sizeof wanted, "%04d-%02d-%02d 23:59", year, month, of_month);
    assert_string_equal(date_text(ms + 86399999, DATE_MINUTE, text), wanted);
}

/* Months' lengths and leap years: RFC 3339, 5.7 and appendix C. */
static void counted_day_by_day(void **state) {
    int64_t day = 0;
    (void)state;
    for (int year = 1970; year <= 9999; year++) {
        const bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
        const int days[] = {31, leap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
        for (int month = 1; month <= 12; month++) {
            is_day(day, year, month, 1);
            day += days[month - 1];
            is_day(day - 1, year, month, days[month - 1]);
        }
    }
}

/* A billion seconds, the last second of 32 bits, the one before year 2000; RFC 3339's first example (5.8)
 * without its fraction [A: 5580 days and 84050 s]. */
static void well_known_moments(void **state) {
    static const struct {
        int64_t seconds;
        const char *text;
    } rows[] = {{0, "1970-01-01T00:00:00"},
                {482196050, "1985-04-12T23:20:50"},
                {946684799, "1999-12-31T23:59:59"},
                {1000000000, "2001-09-09T01:46:40"},
                {2147483647, "2038-01-19T03:14:07"}};
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char text[DATE_TEXT_MAX], wanted[64];
        int64_t ms = 0;
        assert_true(date_parse(rows[i].text, &ms));
        assert_int_equal(ms, rows[i].seconds * 1000);
        assert_string_equal(date_text(ms + 7, DATE_SECOND, text), rows[i].text);
        snprintf(wanted, sizeof wanted, "%s.007Z", rows[i].text);
        assert_string_equal(date_text(ms + 7, DATE_WHOLE, text), wanted);
        snprintf(wanted, sizeof wanted, "%.10s %s", rows[i].text, rows[i].text + 11);
        assert_string_equal(date_text(ms + 7, DATE_PLAIN, text), wanted);
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
    const struct CMUnitTest tests[] = {cmocka_unit_test(counted_day_by_day),
                                       cmocka_unit_test(well_known_moments), cmocka_unit_test(what_is_none),
                                       cmocka_unit_test(the_ends)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
