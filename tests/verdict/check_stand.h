/* A console that checks a cartridge, as slates only: rounds of items, some of them changed by a test. */
#ifndef TESTS_VERDICT_CHECK_STAND_H
#define TESTS_VERDICT_CHECK_STAND_H

#include "verdict/check.h"

enum { STAND_HASH = 0xC4A7, STAND_CHANGES = 512 };

struct check_stand {
    struct plan *plan;
    struct judge *judge;
    int started_in;
    /* What a round gives instead of the good answers. */
    size_t changes;
    struct check_item change[STAND_CHANGES];
    /* After a changed item of that kind and place. */
    size_t extras;
    struct check_stand_extra {
        struct check_item after, item;
    } extra[STAND_CHANGES];
    double drop; /* share of fields that the grabber loses */
    uint64_t random;
    int hold, lines;
    /* now */
    uint32_t counter, rounds, errors;
    bool hide_errors; /* the console's own count says 0 whatever there was */
};

void check_stand_open(struct check_stand *stand, int scheme, bool ram);
void check_stand_close(struct check_stand *stand);
void check_stand_change(struct check_stand *stand, enum check_kind kind, int place, int what);
/* A page of which CRC and sum end so: changed, with its three details. */
void check_stand_page(struct check_stand *stand, int page, uint16_t crc, uint8_t sum);
/* What CRC and sum of a page end with when the bytes there are these; right: page `page`'s own. */
void check_stand_bytes(struct check_stand *stand, int page, const uint8_t bytes[SCHEME_PAGE]);
/* A page's right bytes: of a generator, sealed. */
void check_stand_right(int page, uint8_t bytes[SCHEME_PAGE]);
/* One field with that item on its slate. */
enum judged check_stand_field(struct check_stand *stand, struct check_item item);
/* The console shows it: for `hold` fields, some of them lost. */
void check_stand_show(struct check_stand *stand, struct check_item item);
void check_stand_round(struct check_stand *stand);
void check_stand_rounds(struct check_stand *stand, int count);
const struct finding *check_stand_finding(const struct result *result, enum finding_kind kind);
/* On standard error. */
void check_stand_print(const struct result *result);
/* Fails the test unless there are findings of these kinds, and no others. */
void check_stand_expect(struct check_stand *stand, enum verdict verdict, int count,
                        const enum finding_kind *kinds);
#define EXPECT(stand, verdict, ...)                                                                          \
    check_stand_expect(stand, verdict,                                                                       \
                       (int)(sizeof(enum finding_kind[]){__VA_ARGS__} / sizeof(enum finding_kind)),          \
                       (enum finding_kind[]){__VA_ARGS__})

#endif
