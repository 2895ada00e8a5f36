/* The idle picture's image: 2 KiB, its slate's hash SLATE_HASH_IDLE. Made by the host's rom/ stage (`make
 * idle`); a test holds the two together. */
#ifndef SLOTJIG_CORE_IDLE_H
#define SLOTJIG_CORE_IDLE_H

#include <stdint.h>

enum { IDLE_SIZE = 2048 };
extern const uint8_t idle_image[IDLE_SIZE];

#endif
