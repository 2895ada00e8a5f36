/* Faults of a cartridge under test, read from their texts. Inside virtual/ only. */
#ifndef SLOTJIG_VIRTUAL_FAULTS_CART_H
#define SLOTJIG_VIRTUAL_FAULTS_CART_H

#include "virtual/bench.h"

/* Each takes what follows `=` (NULL: nothing did) and says what is wrong with it, or NULL. */
const char *take_cart_open(struct virtual_faults *faults, char *value);
const char *take_cart_short(struct virtual_faults *faults, char *value);
const char *take_cart_slow(struct virtual_faults *faults, char *value);
const char *take_cart_byte(struct virtual_faults *faults, char *value);
const char *take_cart_hotspot(struct virtual_faults *faults, char *value);
const char *take_cart_also(struct virtual_faults *faults, char *value);
const char *take_cart_no_ram(struct virtual_faults *faults, char *value);
const char *take_cart_ram(struct virtual_faults *faults, char *value);
const char *take_cart_hold(struct virtual_faults *faults, char *value);
const char *take_cart_release(struct virtual_faults *faults, char *value);
const char *take_cart_late(struct virtual_faults *faults, char *value);
const char *take_cart_loose(struct virtual_faults *faults, char *value);
const char *take_cart_first(struct virtual_faults *faults, char *value);
const char *take_cart_pulled(struct virtual_faults *faults, char *value);

/* What is said of a line that is stuck (cart-data, cart-address) and open, loose or shorted as well, or NULL.
 */
const char *cart_lines_clash(const struct virtual_faults *faults);

/* False, and PROBLEM_INPUT: the cartridge of that scheme has no such bank, page or RAM. */
bool cart_faults_fit(const struct cart_faults *faults, int scheme, bool ram, struct problem *problem);

#endif
