/*
 * A plan is an ordered list of steps. A step describes one picture by scanlines: bands of lines, and for each
 * band the registers that are written, with what, and in which cycle where that matters. rom/ schedules the
 * description into 6507 code, expect/ turns it into cells.
 *
 * At the top of a step's picture PF0..PF2 and CTRLPF hold 0 (the slate leaves them so) and COLUPF, COLUP0,
 * COLUP1 and COLUBK hold what plan_default_colour() says; a register keeps its value until it is written
 * again.
 */
#ifndef SLOTJIG_PLAN_PLAN_H
#define SLOTJIG_PLAN_PLAN_H

#include "base/problem.h"
#include "base/standard.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum reg { REG_CTRLPF, REG_PF0, REG_PF1, REG_PF2, REG_COLUPF, REG_COLUBK, REG_COLUP0, REG_COLUP1, REG_COUNT };

enum { CTRLPF_REFLECT = 0x01, CTRLPF_SCORE = 0x02, CTRLPF_PRIORITY = 0x04 };

enum {
    WRITE_BEFORE = -1, /* cycle: in the horizontal blank of the band's first line, once */
    BAND_WRITES_MAX = 16,
    PLAN_STEPS_MAX = 1024, /* more is "a step too many"; slates could count 2^20 */
    STEP_NAME_MAX = 64
};

struct write {
    enum reg reg;
    uint8_t value;
    int16_t cycle; /* WRITE_BEFORE, or 0..75: the CPU cycle of the line in which the store ends, on every line
                      of the band */
};

struct band {
    uint16_t lines; /* at least 1; the bands of a step add up to standard_plan_lines() */
    uint8_t count;
    struct write writes[BAND_WRITES_MAX];
};

struct step {
    char name[STEP_NAME_MAX];
    size_t band_count;
    const struct band *bands; /* owned by the plan */
    /* Its writes in mid-line lie where a console's own record vouches for them: each shows, whole, from the
     * next beginning of its register's cells in a half line, whatever the handbook leaves open round it. */
    bool vouched;
};

enum plan_kind {
    PLAN_STEPS,   /* each step is a picture; the slate's value is its number */
    PLAN_COLOURS, /* likewise, and its colours are measured rather than its cells judged (plan/colours.h) */
    PLAN_EVERY, /* no steps: the console counts through register values, a new one each few lines (every.h) */
    PLAN_MOMENTS,  /* no steps: the console counts through the moments of writes (moments.h) */
    PLAN_CARTRIDGE /* no steps: the console checks the cartridge and shows what it found (check.h) */
};

/* PLAN_EVERY; see plan/every.h. */
struct every {
    uint32_t count; /* patterns a mode, 1..2^20 */
    int lines;      /* of the picture that show patterns */
    int repeat;     /* lines each pattern is shown for, 1..EVERY_REPEAT_MAX */
    int patterns;   /* in a field: even */
    uint32_t bases; /* fields a mode takes */
};

/* PLAN_CARTRIDGE; see plan/check.h. */
struct cart_check {
    uint8_t scheme; /* enum wire_scheme */
    bool ram;       /* 128 bytes of cartridge RAM */
};

struct plan {
    char name[64];
    enum standard standard;
    enum plan_kind kind;
    struct every every;
    struct cart_check check;
    size_t step_count;
    struct step *steps;
    struct band *bands; /* storage of all steps' bands */
};

/* The built-in plan of that name, or else the plan file at that path. On failure *plan is untouched. */
bool plan_open(const char *name_or_path, enum standard standard, struct plan **plan, struct problem *problem);
void plan_free(struct plan *plan);

/* True where the plan has no steps, for the console counts by itself. */
bool plan_counts(const struct plan *plan);
/* Pictures (fields) of different contents in one round: steps, bases, or moments. */
uint32_t plan_pictures(const struct plan *plan);

/* Names of the built-in plans with one line about each, ended by a NULL name. */
struct plan_builtin {
    const char *name, *about;
    bool (*build)(enum standard standard, struct plan **plan, struct problem *problem);
};
extern const struct plan_builtin plan_builtins[];

/* A builder used by built-in plans and plan files alike. Names that are too long are cut. */
struct plan *plan_new(const char *name, enum standard standard);
/* Appends a step of one band over the whole picture that holds these registers. False when the plan is full
 * or memory is short. */
bool plan_add_hold(struct plan *plan, const char *name, uint8_t ctrlpf, uint8_t pf0, uint8_t pf1, uint8_t pf2,
                   struct problem *problem);
/* Appends a step of bands (copied). Checks lines, registers and cycles. */
bool plan_add_step(struct plan *plan, const char *name, const struct band *bands, size_t band_count,
                   struct problem *problem);

/* The values that the registers hold on the first line of a step's picture once its WRITE_BEFORE writes are
 * done. */
void step_registers(const struct step *step, uint8_t registers[REG_COUNT]);
/* True when the step is one band of WRITE_BEFORE writes: its picture is the same on every line. */
bool step_is_hold(const struct step *step);
/* The band that a line of the picture is in; line: less than those of all bands together. */
const struct band *step_band_at(const struct step *step, int line);
/* "copy" or "mirror". */
const char *step_mode(const struct step *step);

/* Steps of luminance, D3-D1 of a colour register: what the cells of a plan file may have, so that lit and
 * dark ones can be told apart half way between black (0) and white (7). */
enum { PLAN_LIT_LEAST = 5, PLAN_DARK_MOST = 2 };
uint8_t plan_default_colour(enum reg reg);           /* COLUPF, COLUP0, COLUP1: $0E; COLUBK: $00; others 0 */
const char *reg_name(enum reg reg);                  /* "PF0" */
uint8_t reg_address(enum reg reg);                   /* TIA write address [H TIA 1A] */
bool reg_from_name(const char *name, enum reg *reg); /* any case */

/* `$F0`, `%11110000`, `0xF0` or decimal, 0..255. */
bool parse_byte(const char *text, uint8_t *value);

#endif
