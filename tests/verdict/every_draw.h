/*
 * Fields of plan `every` without video, drawn by the plan's own description and the handbook's table, apart
 * from expect/ and from the judge under test.
 */
#ifndef TESTS_VERDICT_EVERY_DRAW_H
#define TESTS_VERDICT_EVERY_DRAW_H

#include "plan/every.h"
#include "verdict/verdict.h"

enum { EVERY_HASH = 0x5A17, SERIAL_BITS = 20, FAULT_PARTS = 3 };

enum part_kind { PART_NONE, PART_LOW, PART_HIGH, PART_COUPLE, PART_AND, PART_OR, PART_KINDS };
struct part {
    enum part_kind kind;
    int at, from; /* places in the serial output */
};
struct every_fault {
    struct part part[FAULT_PARTS];
    bool mirror_ignored, copy_ignored;
};

/* The 20 bits in the order of their output [H TIA 1A, serial output table: PF0 4..7, PF1 7..0, PF2 0..7], of
 * a value whose bits 0-7 are PF2, 8-15 PF1, 16-19 PF0 D4-D7 (plan/every.h). */
uint32_t every_serial(uint32_t v);
/* What the fault makes of them [A]. */
uint32_t every_broken(const struct every_fault *fault, uint32_t bits);
/* Cells of the bits: the right half again, or backwards [H 5.0]. */
uint64_t every_cells(uint32_t bits, bool mirror);
/* A good reading without cells. */
void every_blank(const struct plan *plan, uint32_t base, unsigned counter, struct reading *reading);
/* A field of the plan as a console with that fault draws it; NULL: a good one. */
void every_draw(const struct plan *plan, const struct every_fault *fault, uint32_t base, unsigned counter,
                struct reading *reading);
/* How many of the plan's pictures the fault makes wrong, counted one by one [A]. */
uint64_t every_wrong(const struct plan *plan, const struct every_fault *fault);
/* One to three parts on different bits. */
void every_random_fault(uint64_t *random, struct every_fault *fault);
uint64_t every_random(uint64_t *state);
/* "PF1.3 low, PF1.2 and PF0.4", of the last call. */
const char *every_fault_name(const struct every_fault *fault);

#endif
