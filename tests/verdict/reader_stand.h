/* A virtual reader with a cartridge in it, measured over its wire as the command does. */
#ifndef TESTS_VERDICT_READER_STAND_H
#define TESTS_VERDICT_READER_STAND_H

#include "commands/reader_measure.h"
#include "virtual/cart_model.h"

/* Bytes at random, with each bank's number where it can be told, from the seed. */
void stand_image(int scheme, uint64_t seed, uint8_t *image);
/* Everything but the map. */
void stand_order(int scheme, bool ram, const uint8_t *image, struct reader_order *order);
/* on: what is on the cartridge. False where the reader reports trouble; *seen has what came before. */
bool stand_measure(const uint8_t *on, const struct cart_faults *faults, uint64_t seed,
                   const struct reader_order *order, struct reader_seen *seen);
/* A number from the seed, which moves on. */
uint64_t stand_random(uint64_t *seed);
/* A result on standard error; what: of which case. */
void stand_print(const char *what, const struct reader_result *result);

#endif
