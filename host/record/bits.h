/* Numbers as few bits: a stream of bits, and columns of numbers that lie near each other. */
#ifndef SLOTJIG_RECORD_BITS_H
#define SLOTJIG_RECORD_BITS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct bits_out {
    uint8_t *bytes; /* grows; free() it */
    size_t size, room;
    uint64_t held;
    int held_bits;
    bool failed; /* memory was short */
};
void bits_put(struct bits_out *out, uint64_t value, int count); /* the low 0..56 bits, first bit first */
void bits_put_number(struct bits_out *out, uint64_t value); /* small ones take least: seven bits a group */
/* count numbers: one number where all are the same; else Rice codes of their distances from their mean, or of
 * their places in a list of the values, whichever takes less. */
void bits_put_column(struct bits_out *out, const int64_t *values, size_t count);
/* count numbers of few different values. */
void bits_put_choice(struct bits_out *out, const uint64_t *values, size_t count);
/* To whole bytes. False when memory was short. */
bool bits_finish(struct bits_out *out);

struct bits_in {
    const uint8_t *bytes;
    size_t size, at; /* at: bits */
    bool failed;     /* read beyond the end, or what no writer writes; then all is 0 */
};
uint64_t bits_get(struct bits_in *in, int count);
uint64_t bits_get_number(struct bits_in *in);
void bits_get_column(struct bits_in *in, int64_t *values, size_t count);
void bits_get_choice(struct bits_in *in, uint64_t *values, size_t count);
/* All was read, and nothing but the last byte's filling is left. */
bool bits_done(const struct bits_in *in);

#endif
