/*
 * What a reader saw of a cartridge, and what is wrong with the cartridge. Plain data from the wire
 * (include/slotjig/wire.h says what each array holds); knows no board and no model.
 */
#ifndef SLOTJIG_VERDICT_READER_H
#define SLOTJIG_VERDICT_READER_H

#include "base/scheme.h"
#include "verdict/verdict.h"

enum {
    READER_ADDRESSES = 4096,
    READER_TIMES = 3, /* A12 rising, one bit changing (the slowest of them), all changing */
    READER_NEVER = 255
};

struct reader_seen {
    int scheme;
    bool ram;
    uint32_t cycle_ps;
    int own; /* cycles, in every time */
    /* READ */
    bool has_bytes;
    uint8_t bytes[32768], unsteady[32768];
    uint32_t passes, differing; /* readings of all; bytes of those after the first that differed from it */
    /* Of 2 KiB the lower half of the window, $1000-$17FF, where the same bytes show again. */
    bool has_lower;
    uint8_t lower[2048], lower_unsteady[2048];
    uint8_t floats; /* data lines that nobody drives; 0xFF: no cartridge, or a dead one */
    /* MAP, by the byte's place in the image; READER_NEVER: not within 254 cycles, or ram: not readable */
    bool has_map;
    uint8_t map[32768][READER_TIMES];
    /* HOTSPOTS: the bytes as they came (see WIRE_TASK_HOTSPOTS), and where banks differ */
    bool has_hotspots;
    uint16_t tells; /* address whose byte tells banks apart, 0: none does */
    uint8_t hotspot[2][8][8], neighbour[15][8][8];
    /* RELEASE: worst cycles to high and to low over the addresses tried */
    bool has_release;
    uint8_t release_high, release_low;
    /* RAM */
    bool has_ram;
    uint32_t ram_wrong;
    size_t ram_logged;
    struct reader_ram_error {
        uint8_t background, element, cell, read, right;
    } ram_error[WIRE_RAM_LOG];
    /* WAKE */
    bool has_wake;
    uint32_t wake_us; /* UINT32_MAX: not within 2 s */
    int first_bank;   /* -1: cannot be told */
    /* QUIET */
    bool has_quiet;
    uint8_t held_low, held_high;
    uint32_t held_count;
    bool overload;
};

/* What is allowed. Each is shown with the figure it was held against. */
struct reader_limits {
    /* Most, from address to right data, the board's own cycles taken off; default 410 [M]. */
    double access_ns;
    double margin_ns; /* least that must be left of it; default 0 */
    /* Most; default 290 [A]: 40 of a good one, and on hardware the reader's pull into 130 pF
     * (boards/reader/timing.md). */
    double release_ns;
    double wake_ms;     /* most; default 20 [P] */
    uint32_t differing; /* readings that may differ; default 0 */
};
void reader_limits_default(struct reader_limits *limits);

struct reader_address_time {
    size_t offset; /* in the image */
    double ns;
    int manner; /* 0 rising, 1 one bit, 2 all */
    bool never; /* not within 254 cycles, or not steady: ns is then more than all that can be measured */
};
/* So many addresses next to each other, for the chart: cycles, the board's own still in. */
enum { READER_SPAN = 16, READER_SPANS = 32768 / READER_SPAN };
struct reader_span {
    bool known;
    uint8_t least, most[READER_TIMES];
};
struct reader_result {
    enum verdict verdict; /* inconclusive: nothing was done, or without an image a doubt is left */
    int scheme;
    bool ram;
    uint32_t cycle_ps;
    int own;
    uint32_t passes, differing;
    size_t finding_count;
    struct finding findings[FINDINGS_MAX];
    /* Against the image, where there is one. */
    bool compared;
    uint32_t wrong_bytes, lower_wrong; /* of the image; of its mirror in the lower half (2 KiB) */
    size_t wrong_shown;
    uint32_t wrong[32]; /* offsets of the first */
    /* Times, the board's own cycles taken off. */
    size_t worst_count;
    struct reader_address_time worst[10];
    double slowest_ns, typical_ns /* median */, margin_ns /* limits' access_ns less slowest */;
    uint32_t mapped, never;                 /* addresses with times; of which not within 254 cycles */
    struct reader_span spans[READER_SPANS]; /* by place in the image */
    bool release_known, release_never, wake_known, wake_never;
    double release_ns, wake_ms;
};

/* image: what should be on it (scheme_bytes()), or NULL. */
void reader_judge(const struct reader_seen *seen, const uint8_t *image, const struct reader_limits *limits,
                  struct reader_result *result);
double reader_ns(const struct reader_seen *seen, uint8_t cycles);

#endif
