/*
 * The abstract 6507 of the proof (prove.h), shared by the files that make it up: what lines and frames ask
 * (proof_lines.c), values and operands (proof_values.c), paths (proof_paths.c), what the encoder claims
 * (proof_claims.c). Each function that returns bool has refused the image where it returns false.
 */
#ifndef SLOTJIG_ROM_PROOF_H
#define SLOTJIG_ROM_PROOF_H

#include "base/standard.h"
#include "rom/kernel.h"
#include "rom/prove.h"

enum {
    UNKNOWN = -1,
    STALE = -2,   /* RAM: as UNKNOWN, and not written since the frame began */
    DRAWS = -3,   /* RAM, X: the address of one of the registers that draw; which, is not known */
    NOT_YET = -1, /* the line, before the first vertical sync */
    STATES_MAX = 1 << 18,
    STEPS_MAX = 20000000,
    PATHS_MAX = 4096,
    RAM_FIRST = 0x80,
    RAM_LAST = 0xFF,
    TIMER_64 = 0x296, /* TIM64T, INTIM [H 6532] */
    TIMER_LEFT = 0x284,
    SLOT = 0x1FFF, /* the address lines that a cartridge has */
    HOTSPOT_FIRST = 0x1FF4,
    HOTSPOT_LAST = 0x1FFB,
    BYTES_MAX = 3 /* of an instruction */
};

/* A machine at an instruction. Values: 0..255 known, UNKNOWN else; flags 0, 1 or UNKNOWN. */
struct machine {
    uint16_t at; /* address */
    bool left;   /* went on into whatever image is there now */
    int16_t a, x, y, s;
    int8_t z, n, c, v;
    int16_t cycle; /* of the line, worst case */
    int16_t slack; /* it may also be up to so many fewer */
    int16_t line;  /* of the frame */
    int8_t vsync;
    int16_t timer; /* cycle of the frame from which on INTIM reads 0; UNKNOWN */
    int16_t ram[128];
};

struct proof {
    const struct encoder *encoder;
    const struct prove_limits *limits;
    struct rom_account *account;
    struct problem *problem;
    struct opcode opcodes[256];
    bool counting;  /* prove_count(): no lines, no frames, one path */
    uint64_t *seen; /* hashes of the states that were met at line ends and branches; 0 is a free place */
    struct machine *waiting;
    int waiting_count;
    size_t steps;
    bool used[128], stacked[128]; /* by the program's own addresses; by the stack */
    int stale;                    /* a slate's row that was read before it was written; 0: none */
};

static inline bool in_ram(int address) {
    return address >= RAM_FIRST && address <= RAM_LAST;
}

static inline bool in_image(const struct proof *proof, int address) {
    return address >= proof->encoder->origin && address < proof->encoder->origin + (int)proof->encoder->size;
}

/* Always false. */
bool proof_refuse(const struct proof *proof, const struct machine *m, const char *what, int figure);
const char *proof_where(const struct proof *proof, const struct machine *m);

bool proof_store(struct proof *proof, struct machine *m, int address, int value);
bool proof_draws(int address); /* a register of colours or playfield: when it is written moves no line */
/* A line that is counted, not ended by WSYNC, is over after so many cycles. */
bool proof_count_lines(struct proof *proof, struct machine *m);

/* A byte of the program; UNKNOWN where there is none. */
int proof_fetch(const struct proof *proof, const struct machine *m, int address);
int proof_ram_read(struct proof *proof, struct machine *m, int address);
void proof_load(struct machine *m, int16_t *reg, int value);
/* The operand's address; UNKNOWN where the index is, DRAWS. *crosses: the index may pass a page. */
int proof_address(const struct machine *m, const uint8_t *bytes, enum mode mode, bool *crosses);
bool proof_operand(struct proof *proof, struct machine *m, const struct opcode *op, const uint8_t *bytes,
                   int address);
/* Instructions without an operand. False, and no refusal: not one of them. */
bool proof_implied(struct machine *m, const char *name);
bool proof_one_of(const char *name, const char *list);

/* True when the state is new. */
bool proof_remember(struct proof *proof, const struct machine *m);
bool proof_add_path(struct proof *proof, const struct machine *m);
bool proof_stack(struct proof *proof, struct machine *m, const char *name, bool *done);
bool proof_branch(struct proof *proof, struct machine *m, const char *name, const uint8_t *bytes);
bool proof_return(struct proof *proof, struct machine *m);
bool proof_jump(struct proof *proof, struct machine *m, const struct opcode *op, const uint8_t *bytes);

/* True within what encode_counted() encloses. */
bool proof_counted(const struct proof *proof, int address);
/* What the encoder claims of the instruction at m->at, whose cycles are counted already; and what it claims
 * of the one at `at`, after it was run. */
bool proof_mark(const struct proof *proof, const struct machine *m, const uint8_t *bytes, enum mode mode);
bool proof_claim(struct proof *proof, struct machine *m, int at, const struct opcode *op,
                 const uint8_t *bytes);

/* A store to one of the 6532's registers: TIM64T in a window's first line. */
bool proof_set_timer(struct proof *proof, struct machine *m, int value);
/* What encode_window(), encode_timer() and encode_never() say of the instruction at m->at, which is run
 * otherwise than others. *done: it was one of them. */
bool proof_window(struct proof *proof, struct machine *m, const uint8_t *bytes, bool *done);

#endif
