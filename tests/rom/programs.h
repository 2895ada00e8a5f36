/* Small programs for the tests of the proof: short names for the encoder's calls. */
#ifndef TESTS_ROM_PROGRAMS_H
#define TESTS_ROM_PROGRAMS_H

#include "rom/encoder.h"

#include <stdlib.h>

static inline struct encoder *new_program(size_t limit) {
    struct encoder *encoder = malloc(sizeof *encoder);
    if (encoder == NULL) {
        abort();
    }
    encoder_start(encoder, limit);
    return encoder;
}

static inline void imm(struct encoder *e, const char *mnemonic, int value) {
    encode(e, mnemonic, MODE_IMMEDIATE, (uint16_t)value, NULL);
}

static inline void zp(struct encoder *e, const char *mnemonic, int address) {
    encode(e, mnemonic, MODE_ZERO, (uint16_t)address, NULL);
}

static inline void one(struct encoder *e, const char *mnemonic) {
    encode(e, mnemonic, MODE_IMPLIED, 0, NULL);
}

static inline void branch(struct encoder *e, const char *mnemonic, const char *label) {
    encode_to(e, mnemonic, MODE_RELATIVE, label, 0, NULL);
}

static inline void jump(struct encoder *e, const char *label) {
    encode_to(e, "JMP", MODE_ABSOLUTE, label, 0, NULL);
}

static inline void call(struct encoder *e, const char *label) {
    encode_to(e, "JSR", MODE_ABSOLUTE, label, 0, NULL);
}

/* Fills up to the vectors, all of which point to `reset`. */
static inline void vectors(struct encoder *e, const char *reset) {
    encode_fill(e, e->limit - 6);
    for (int i = 0; i < 3; i++) {
        encode_address(e, reset);
    }
}

#endif
