/*
 * A plan compiled to the bytes a cartridge serves, with the proof of its timing.
 * Every path of the kernel is followed: no line may pass 76 cycles, a frame has exactly its standard's lines,
 * RAM and stack fit 128 bytes.
 */
#ifndef SLOTJIG_ROM_ROM_H
#define SLOTJIG_ROM_ROM_H

#include "base/problem.h"
#include "plan/plan.h"

#include <stddef.h>
#include <stdint.h>

enum {
    HOLD_MIN = 3, /* fields a step is shown: one to settle, two to judge */
    HOLD_MAX = 65535,
    HANDOVER_RAM = 56 /* bytes the hand-over may take of the console's RAM; it may overwrite the slate's rows
                         and nothing else */
};

struct rom_options {
    int hold;    /* fields a step is held, HOLD_MIN (where the console counts, 1) to HOLD_MAX */
    size_t size; /* 2048, 4096, or 0: the smaller that fits */
    int dark;    /* fields of a dark picture after the start, 0..DARK_MAX; left out of the hash, as hold is */
};
enum { DARK_MAX = 255 };

/* What the proof found. Cycles and bytes are worst cases over all paths. */
struct rom_account {
    int line_cycles;        /* of the fullest line, the WSYNC store included; at most 76 */
    const char *line_where; /* label at or before the fullest line; static or owned by the image */
    int frame_lines;        /* the same on every path */
    int ram_bytes;          /* zero page bytes used, the slate's rows included */
    int stack_bytes;
    int code_bytes, table_bytes;
    int window, work; /* plan `cartridge`: cycles of a field that its work may take, and takes at most */
    size_t states;    /* distinct machine states the proof visited */
};

struct image {
    uint8_t *bytes;
    size_t size;
    uint16_t hash; /* the slate's; SLATE_HASH_IDLE for the idle picture alone. CRC-32 (low 16 bits) of the
                      image with the hash's own bytes and the hold taken as 0: one plan and standard has one
                      hash, whatever the hold, so a recording can be judged without knowing it */
    struct rom_account account;
    char *listing; /* plain MOS assembly that assembles to exactly these bytes (64tass and xa both take it);
                      ends with a line break */
};

/* Fields that the judge needs of a picture: HOLD_MIN, or 1 where each line of a field is judged on its own.
 */
int rom_hold_least(const struct plan *plan);
bool rom_build(const struct plan *plan, const struct rom_options *options, struct image **image,
               struct problem *problem);
/* What a board serves that has nothing stored: one still picture, NTSC, 2048 bytes. It is the source of
 * firmware/core/idle.c (`make idle`). */
bool rom_build_idle(struct image **image, struct problem *problem);
void rom_free(struct image *image);

#endif
