#include "base/date.h"

#include <stdio.h>
#include <time.h>

enum { SECOND_MS = 1000, FIRST_YEAR = 1970 };
#define LAST_MS INT64_C(253402300799999) /* of the year 9999 */
_Static_assert(sizeof(time_t) >= sizeof(int64_t), "a time_t that ends in 2038 cannot tell them");

int64_t date_now_ms(void) {
    struct timespec now = {0};
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * SECOND_MS + now.tv_nsec / 1000000;
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

/* As it is written; *time is normalised where there is no such moment. */
static bool read_time(const char *text, struct tm *time) {
    const char *at = text;
    if (!digits(&at, 4, &time->tm_year) || !mark(&at, '-') || !digits(&at, 2, &time->tm_mon) ||
        !mark(&at, '-') || !digits(&at, 2, &time->tm_mday) || time->tm_year < FIRST_YEAR) {
        return false;
    }
    time->tm_year -= 1900;
    time->tm_mon -= 1;
    if (mark(&at, 'T')) {
        if (!digits(&at, 2, &time->tm_hour) || !mark(&at, ':') || !digits(&at, 2, &time->tm_min) ||
            (mark(&at, ':') && !digits(&at, 2, &time->tm_sec))) {
            return false;
        }
        mark(&at, 'Z');
    }
    return *at == '\0';
}

bool date_parse(const char *text, int64_t *ms) {
    struct tm wanted = {0};
    if (!read_time(text, &wanted)) {
        return false;
    }
    struct tm there = wanted;
    *ms = (int64_t)timegm(&there) * SECOND_MS;
    return there.tm_mon == wanted.tm_mon && there.tm_mday == wanted.tm_mday &&
           there.tm_hour == wanted.tm_hour && there.tm_min == wanted.tm_min && there.tm_sec == wanted.tm_sec;
}

const char *date_text(int64_t ms, enum date_form form, char text[DATE_TEXT_MAX]) {
    static const char *const formats[] = {[DATE_MINUTE] = "%Y-%m-%d %H:%M",
                                          [DATE_PLAIN] = "%Y-%m-%d %H:%M:%S",
                                          [DATE_SECOND] = "%Y-%m-%dT%H:%M:%S",
                                          [DATE_WHOLE] = "%Y-%m-%dT%H:%M:%S"};
    const int64_t moment = ms < 0 ? 0 : ms > LAST_MS ? LAST_MS : ms;
    const time_t seconds = (time_t)(moment / SECOND_MS);
    struct tm time = {0};
    gmtime_r(&seconds, &time);
    const size_t at = strftime(text, DATE_TEXT_MAX, formats[form], &time);
    if (form == DATE_WHOLE) {
        snprintf(text + at, DATE_TEXT_MAX - at, ".%03dZ", (int)(moment % SECOND_MS));
    }
    return text;
}
