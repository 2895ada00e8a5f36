/*
 * Limits files: which tests a cartridge must pass to be shipped, and within what. INI text (settings_file.h):
 *
 *     [ship]
 *     scheme = F8              ; 2K, 4K, F8, F6, F4: must be there
 *     ram = no                 ; 128 bytes of cartridge RAM
 *     ways = console, reader   ; both, in this order, or one of them
 *     product = NAME           ; what the page for the box calls it
 *     standard = ntsc          ; of the console: ntsc, pal, secam
 *     image = FILE             ; what is on it when the reader looks, beside the limits file; without it: the
 *                              ; image of plan cartridge
 *     rounds = 2               ; least rounds of the console's check
 *     soak = 0                 ; minutes that the console goes on checking
 *     [limits]
 *     access_ns = 410          ; most from address to right data
 *     margin_ns = 0            ; least that is left of the console's 410 ns
 *     release_ns = 290         ; most from A12 falling until it lets go of the bus
 *     wake_ms = 20             ; most from its supply to its first right answer
 *     differing = 0            ; most readings that differ
 *     soak_errors = 0          ; most errors within the soak
 *
 * A key of a way that is not asked for, two that contradict each other, or one out of its range: refused with
 * its line.
 */
#ifndef SLOTJIG_PLAN_SHIP_PLAN_H
#define SLOTJIG_PLAN_SHIP_PLAN_H

#include "base/problem.h"
#include "base/scheme.h"
#include "base/standard.h"

#include <limits.h>

enum {
    SHIP_FILE_MAX = 1 << 16 /* bytes of a limits file */,
    SHIP_PRODUCT_MAX = 65,
    SHIP_ACCESS_NS = 410 /* [M] */
};

enum ship_limit {
    SHIP_ACCESS,
    SHIP_MARGIN,
    SHIP_RELEASE,
    SHIP_WAKE,
    SHIP_DIFFERING,
    SHIP_SOAK_ERRORS,
    SHIP_LIMITS
};
/* key in the file, name and unit of the figure; about: what it is, as in "most ..." and "least ...". */
struct ship_limit_about {
    const char *key, *name, *unit, *about;
    bool at_least; /* else the most that passes */
    bool of_console;
    double least, most, usual;
};
extern const struct ship_limit_about ship_limit_table[SHIP_LIMITS];

struct ship_plan {
    char *text; /* as it stands in the file */
    int scheme; /* enum wire_scheme */
    bool ram, console, reader, reader_first;
    enum standard standard;
    int rounds, soak_min;
    double limit[SHIP_LIMITS];
    char product[SHIP_PRODUCT_MAX]; /* "" where it has no name */
    char image[PATH_MAX];           /* "" where it is that of plan cartridge */
    uint8_t *bytes; /* of the image: scheme_bytes() of them; NULL where there is none, or not read */
};

/* Reads the file, and the image that it names. Free it in any case. */
bool ship_plan_read(const char *path, struct ship_plan *plan, struct problem *problem);
/* The same of a text, without the image's bytes; what: its name in problems. */
bool ship_plan_read_text(const char *what, const char *text, struct ship_plan *plan, struct problem *problem);
void ship_plan_free(struct ship_plan *plan);

#endif
