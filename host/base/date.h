/* Moments of the Gregorian calendar in UTC, without leap seconds, as milliseconds since 1970. */
#ifndef SLOTJIG_BASE_DATE_H
#define SLOTJIG_BASE_DATE_H

#include <stdbool.h>
#include <stdint.h>

int64_t date_now_ms(void);

/* "2026-11-26" (its first moment), "2026-11-26T14:05" or "2026-11-26T14:05:33", with or without a Z, of the
 * years 1970 to 9999 [S ISO 8601 and RFC 3339, of which these are a part]. False: no such moment. */
bool date_parse(const char *text, int64_t *ms);

enum { DATE_TEXT_MAX = 32 };
enum date_form {
    DATE_MINUTE, /* "2026-11-26 14:05" */
    DATE_PLAIN,  /* "2026-11-26 14:05:33" */
    DATE_SECOND, /* "2026-11-26T14:05:33" */
    DATE_WHOLE   /* "2026-11-26T14:05:33.123Z" */
};
/* A moment outside those years is shown as the nearest one inside. Returns text. */
const char *date_text(int64_t ms, enum date_form form, char text[DATE_TEXT_MAX]);

#endif
