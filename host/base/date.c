#include "base/date.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

enum { SECOND_MS = 1000, MINUTE_MS = 60 * SECOND_MS, HOUR_MS = 60 * MINUTE_MS, DAY_MS = 24 * HOUR_MS };
enum { FIRST_YEAR = 1970, LAST_YEAR = 9999 };

int64_t date_now_ms(void) {
    struct timespec now = {0};
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * SECOND_MS + now.tv_nsec / 1000000;
}

static bool is_leap(int year) {
    return year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
}

static int days_in(int year, int month) {
    static const int days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    return days[month - 1] + (month == 2 && is_leap(year));
}

/* From 1970-01-01 to the first day of that year. */
static int64_t days_before(int year) {
    const int64_t whole = year - 1;
    const int64_t leap_days = whole / 4 - whole / 100 + whole / 400;
    return (whole - 1969) * 365 + leap_days - 477; /* 477: of the years 1 to 1969 */
}

/* So many digits, moving *at behind them. */
static bool digits(const char **at, int count, int *value) {
    *value = 0;
    for (; count > 0; count--, ++*at) {
        if (**at < '0' || **at > '9') {
            return false;
        }
        *value = 10 * *value + (**at - '0');
    }
    return true;
}

static bool mark(const char **at, char c) {
    if (**at != c) {
        return false;
    }
    ++*at;
    return true;
}

static bool parse_day(const char **at, int64_t *ms) {
    int year = 0, month = 0, day = 0;
    if (!digits(at, 4, &year) || !mark(at, '-') || !digits(at, 2, &month) || !mark(at, '-') ||
        !digits(at, 2, &day) || year < FIRST_YEAR || month < 1 || month > 12 || day < 1 ||
        day > days_in(year, month)) {
        return false;
    }
    int64_t days = days_before(year) + day - 1;
    for (int before = 1; before < month; before++) {
        days += days_in(year, before);
    }
    *ms = days * DAY_MS;
    return true;
}

bool date_parse(const char *text, int64_t *ms) {
    const char *at = text;
    int hour = 0, minute = 0, second = 0;
    if (!parse_day(&at, ms)) {
        return false;
    }
    if (mark(&at, 'T')) {
        if (!digits(&at, 2, &hour) || !mark(&at, ':') || !digits(&at, 2, &minute) ||
            (mark(&at, ':') && !digits(&at, 2, &second)) || hour > 23 || minute > 59 || second > 59) {
            return false;
        }
        mark(&at, 'Z');
    }
    *ms += (int64_t)hour * HOUR_MS + minute * MINUTE_MS + second * SECOND_MS;
    return *at == '\0';
}

const char *date_text(int64_t ms, enum date_form form, char text[DATE_TEXT_MAX]) {
    const int64_t end = days_before(LAST_YEAR + 1) * DAY_MS;
    const int64_t moment = ms < 0 ? 0 : ms >= end ? end - 1 : ms;
    int days = (int)(moment / DAY_MS), year = FIRST_YEAR + days / 366, month = 1;
    while (days >= days_before(year + 1)) {
        year++;
    }
    days -= (int)days_before(year);
    for (; days >= days_in(year, month); month++) {
        days -= days_in(year, month);
    }
    const int rest = (int)(moment % DAY_MS);
    const int at = snprintf(text, DATE_TEXT_MAX, "%04d-%02d-%02d%c%02d:%02d", year, month, days + 1,
                            form == DATE_MINUTE ? ' ' : 'T', rest / HOUR_MS, rest % HOUR_MS / MINUTE_MS);
    if (form != DATE_MINUTE) {
        snprintf(text + at, (size_t)(DATE_TEXT_MAX - at), ":%02d", rest % MINUTE_MS / SECOND_MS);
    }
    if (form == DATE_WHOLE) {
        snprintf(text + at + 3, (size_t)(DATE_TEXT_MAX - at - 3), ".%03dZ", rest % SECOND_MS);
    }
    return text;
}
