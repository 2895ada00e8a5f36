/*
 * A cartridge with a fault, in a console and on a reader, each in one process: is the fault found, and is it
 * named? For tests and proofs.
 */
#ifndef SLOTJIG_TESTS_COMMANDS_COVER_H
#define SLOTJIG_TESTS_COMMANDS_COVER_H

#include "verdict/verdict.h"

#include <stdbool.h>
#include <stdint.h>

struct cover_case {
    int scheme;
    bool ram;
    const char *fault; /* a --fault TEXT, or NULL: a good cartridge */
    uint64_t seed;
    double noise_db; /* of the grabber; 0: none */
};

struct cover_seen {
    enum verdict verdict;
    bool lost;      /* no verdict: bench trouble */
    bool named;     /* among the findings is the fault, with its place */
    bool alone;     /* and no finding is another */
    bool among;     /* and the others are alternatives to it: they give the same readings */
    bool kind_only; /* a finding of its kind, at another place or without one */
    uint64_t chip_us;
    char findings[600];
};

/* Two rounds of plan `cartridge`, by video. */
void cover_console(const struct cover_case *of, struct cover_seen *seen);
/* All that a reader measures, compared with the image. */
void cover_reader(const struct cover_case *of, struct cover_seen *seen);

/* The image of that scheme, made once: scheme_bytes() of them. */
const uint8_t *cover_image(int scheme, bool ram);

/* What stands before the sign of equality, and of cart-ram its kind: "cart-open A", "cart-ram stuck". */
enum { COVER_CLASS = 32 };
void cover_class(const char *fault, char text[COVER_CLASS]);

#endif
