/*
 * One bank's program laid out over all banks: what it leaves free is filled, each page is sealed. Inside rom/
 * only.
 */
#ifndef SLOTJIG_ROM_CHECK_FILL_H
#define SLOTJIG_ROM_CHECK_FILL_H

#include "rom/check.h"

/* image: scheme_bytes(). */
void check_fill(const struct encoder *encoder, const struct cart_check *check, uint8_t *image);
/* The fill's byte at an address of a bank. */
uint8_t check_fill_byte(int bank, uint16_t address);

#endif
