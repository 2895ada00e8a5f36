/*
 * The work's proof (rom/check.h): an instruction, run on the abstract machine of the frame's proof (proof.h),
 * and which bank is there after it. The number of the bank that came up is not known, but what selects it is
 * followed as such. Inside rom/ only.
 */
#ifndef SLOTJIG_ROM_PROVE_WORK_STEP_H
#define SLOTJIG_ROM_PROVE_WORK_STEP_H

#include "rom/check.h"
#include "rom/proof.h"

enum {
    /* Values beside proof.h's. */
    HOME = -10,      /* what RAM_HOME holds */
    HOME_SPOT = -11, /* the low byte of the address that selects it */
    /* Banks. */
    BANK_HOME = 0,
    BANK_OTHER,
    BANK_STARTED, /* another one, whose start was jumped to */
    WORK_REFUSED = -3
};

struct work_code {
    struct proof proof;
    const struct encoder *encoder;
    int first, banks; /* hotspots: low byte of the first, how many; 0: none */
};

struct way {
    struct machine m;
    bool turned; /* came by a branch back: a loop of a job, which has no label to be known by */
    uint8_t bank;
};

struct fetched {
    const struct opcode *op;
    uint8_t bytes[BYTES_MAX];
    int16_t raw[BYTES_MAX]; /* as they are known */
    int size;
};

/* WORK_REFUSED, and the problem filled. */
int work_refuse(const struct work_code *work, const struct way *way, const char *what, int figure);

/* Each false, and the problem filled, where the proof cannot follow. */
bool work_decode(const struct work_code *work, const struct way *way, struct fetched *step);
/* Any instruction but a branch: the machine after it. cycles: more of them, of crossed pages, are added. */
bool work_run(struct work_code *work, struct way *way, const struct fetched *step, int *cycles);

/* The register that a load or a store with this mnemonic is of. */
int16_t *work_register(struct machine *m, const char *mnemonic);

#endif
