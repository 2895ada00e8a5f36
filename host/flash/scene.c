#include "flash/scene.h"

#include "expect/expect.h"
#include "plan/check.h"
#include "plan/check_screen.h"
#include "plan/every.h"
#include "plan/moments.h"
#include "slate/slate.h"

#include <string.h>

enum { CYCLE_CLOCKS = 3, WHITE = SLATE_WHITE >> 1, BLACK = SLATE_BLACK >> 1 };

static bool is_colour(enum reg reg) {
    return reg == REG_COLUPF || reg == REG_COLUBK || reg == REG_COLUP0 || reg == REG_COLUP1;
}

static bool is_two_level(const struct plan *plan) {
    for (size_t i = 0; i < plan->step_count; i++) {
        for (size_t j = 0; j < plan->steps[i].band_count; j++) {
            const struct band *band = &plan->steps[i].bands[j];
            for (int k = 0; k < band->count; k++) {
                const int code = band->writes[k].value >> 1;
                if (is_colour(band->writes[k].reg) && code != WHITE && code != BLACK) {
                    return false;
                }
            }
        }
    }
    return true;
}

void scenes_init(struct scenes *scenes, const struct plan *plan) {
    scenes->plan = plan;
    scenes->lines = standard_table[plan->standard].picture_lines;
    scenes->two_level = plan_counts(plan) || is_two_level(plan);
    for (int mode = 0; mode < 2; mode++) {
        const uint8_t ctrlpf = mode == 0 ? 0 : CTRLPF_REFLECT;
        for (int value = 0; value < 256; value++) {
            const uint8_t byte = (uint8_t)value;
            scenes->playfield[mode][0][value] = expect_cells(byte, 0, 0, ctrlpf);
            scenes->playfield[mode][1][value] = expect_cells(0, byte, 0, ctrlpf);
            scenes->playfield[mode][2][value] = expect_cells(0, 0, byte, ctrlpf);
        }
    }
}

static uint64_t lit_cells(const struct scenes *scenes, const uint8_t registers[REG_COUNT]) {
    const int mode = (registers[REG_CTRLPF] & CTRLPF_REFLECT) != 0;
    return scenes->playfield[mode][0][registers[REG_PF0]] | scenes->playfield[mode][1][registers[REG_PF1]] |
           scenes->playfield[mode][2][registers[REG_PF2]];
}

/* ---- lines by their registers ---- */

/* Cells from `first` on, as the registers draw them. */
static void draw(const struct scenes *scenes, const uint8_t registers[REG_COUNT], int first,
                 uint8_t codes[CELLS]) {
    const uint64_t lit = lit_cells(scenes, registers);
    const bool score = (registers[REG_CTRLPF] & CTRLPF_SCORE) != 0;
    for (int cell = first; cell < CELLS; cell++) {
        const enum reg colour = (lit >> cell & 1) == 0 ? REG_COLUBK
                                : !score               ? REG_COLUPF
                                : cell < CELLS / 2     ? REG_COLUP0
                                                       : REG_COLUP1;
        codes[cell] = registers[colour] >> 1;
    }
}

static int first_cell_at(int clock) {
    const int cell = (clock - BLANK_CLOCKS + CELL_CLOCKS - 1) / CELL_CLOCKS;
    return clock <= BLANK_CLOCKS ? 0 : cell > CELLS ? CELLS : cell;
}

static uint64_t white_of(const uint8_t codes[CELLS]) {
    uint64_t white = 0;
    for (int cell = 0; cell < CELLS; cell++) {
        white |= (uint64_t)(codes[cell] == WHITE) << cell;
    }
    return white;
}

/* One line of a band; the registers go on as it leaves them. */
static void draw_line(const struct scenes *scenes, const struct band *band, uint8_t registers[REG_COUNT],
                      uint8_t codes[CELLS]) {
    draw(scenes, registers, 0, codes);
    for (int i = 0; i < band->count; i++) {
        const struct write *write = &band->writes[i];
        if (write->cycle != WRITE_BEFORE) {
            registers[write->reg] = write->value;
            draw(scenes, registers, first_cell_at(write->cycle * CYCLE_CLOCKS), codes);
        }
    }
}

static void step_picture(const struct scenes *scenes, const struct step *step, struct scene *scene) {
    uint8_t registers[REG_COUNT];
    int line = SLATE_LINES;
    for (int reg = 0; reg < REG_COUNT; reg++) {
        registers[reg] = plan_default_colour((enum reg)reg);
    }
    for (size_t i = 0; i < step->band_count; i++) {
        const struct band *band = &step->bands[i];
        bool settled = false; /* every further line of the band is like the one before */
        for (int k = 0; k < band->count; k++) {
            if (band->writes[k].cycle == WRITE_BEFORE) {
                registers[band->writes[k].reg] = band->writes[k].value;
            }
        }
        for (int in_band = 0; in_band < band->lines && line < scenes->lines; in_band++, line++) {
            if (settled) {
                scene->white[line] = scene->white[line - 1];
                memcpy(scene->code[line], scene->code[line - 1], CELLS);
                continue;
            }
            draw_line(scenes, band, registers, scene->code[line]);
            scene->white[line] = white_of(scene->code[line]);
            settled = in_band > 0 || band->count == 0 || band->writes[band->count - 1].cycle == WRITE_BEFORE;
        }
    }
}

/* ---- pictures that the console counts through ---- */

static uint32_t every_base_of(const struct plan *plan, uint32_t picture) {
    const uint32_t bases = plan->every.bases;
    return every_base(&plan->every, picture >= bases, picture % bases);
}

static void every_picture(const struct scenes *scenes, uint32_t picture, struct scene *scene) {
    const struct every *every = &scenes->plan->every;
    const uint32_t base = every_base_of(scenes->plan, picture);
    const uint64_t(*const of)[256] = scenes->playfield[every_mirror(base)];
    int line = SLATE_LINES;
    for (int place = 0; place < every->patterns; place++) {
        uint8_t pf[3];
        every_registers(every_value(base, place), pf);
        const uint64_t lit = of[0][pf[0]] | of[1][pf[1]] | of[2][pf[2]];
        for (int i = 0; i < every->repeat; i++) {
            scene->white[line++] = lit;
        }
    }
    while (line < scenes->lines) {
        scene->white[line++] = 0;
    }
}

static void moment_picture(const struct scenes *scenes, uint32_t picture, struct scene *scene) {
    const struct moment moment = moment_of(picture);
    const struct moment_setting setting = moment_setting(moment.reg, moment.mirror);
    const int first = first_cell_at(moment.cycle * CYCLE_CLOCKS);
    uint8_t before[CELLS], after[CELLS], rising[CELLS], falling[CELLS], held[REG_COUNT];
    memcpy(held, setting.held, sizeof held);
    draw(scenes, held, 0, before);
    memcpy(rising, before, sizeof rising);
    held[setting.reg] = setting.after;
    draw(scenes, held, first, rising);
    draw(scenes, held, 0, after);
    memcpy(falling, after, sizeof falling);
    held[setting.reg] = setting.before;
    draw(scenes, held, first, falling);
    const uint64_t group[MOMENT_GROUP] = {[MOMENT_RISING] = white_of(rising),
                                          [MOMENT_AFTER] = white_of(after),
                                          [MOMENT_FALLING] = white_of(falling),
                                          [MOMENT_BEFORE] = white_of(before)};
    const int past = MOMENT_FIRST + moment_groups(scenes->plan->standard) * MOMENT_GROUP;
    for (int line = 0; line < scenes->lines - SLATE_LINES; line++) {
        const bool counts = line >= MOMENT_FIRST && line < past;
        scene->white[SLATE_LINES + line] =
            group[counts ? (line - MOMENT_FIRST) % MOMENT_GROUP : MOMENT_BEFORE];
    }
}

/* A good cartridge's round, over and over; the numbers of rounds and errors hardly ever change. */
static uint32_t cartridge_item(const struct plan *plan, uint32_t picture) {
    struct check_item items[CHECK_ITEMS_MAX];
    check_items(&plan->check, items);
    return check_pack(items[picture]);
}

static void cartridge_picture(const struct scenes *scenes, uint32_t picture, struct scene *scene) {
    const uint64_t(*const of)[256] = scenes->playfield[0];
    const struct check_screen screen = {.item = cartridge_item(scenes->plan, picture)};
    for (int line = 0; line < scenes->lines - SLATE_LINES; line++) {
        uint8_t pf[3];
        check_screen_line(&screen, line, pf);
        scene->white[SLATE_LINES + line] = of[0][pf[0]] | of[1][pf[1]] | of[2][pf[2]];
    }
}

void scene_picture(const struct scenes *scenes, uint32_t picture, struct scene *scene) {
    switch (scenes->plan->kind) {
    case PLAN_EVERY:
        every_picture(scenes, picture, scene);
        break;
    case PLAN_MOMENTS:
        moment_picture(scenes, picture, scene);
        break;
    case PLAN_CARTRIDGE:
        cartridge_picture(scenes, picture, scene);
        break;
    default:
        step_picture(scenes, &scenes->plan->steps[picture], scene);
    }
}

/* ---- the slate ---- */

/* To the nearest cell. */
static int slate_cell(int bit) {
    const int clock = SLATE_FIRST_CLOCK + bit * SLATE_BIT_CLOCKS - (bit == SLATE_ROW_BITS ? 3 : 0);
    return (clock + CELL_CLOCKS / 2) / CELL_CLOCKS;
}

static uint32_t value_of(const struct plan *plan, uint32_t picture) {
    return plan->kind == PLAN_EVERY       ? every_base_of(plan, picture)
           : plan->kind == PLAN_CARTRIDGE ? cartridge_item(plan, picture)
                                          : picture;
}

void scene_slate(const struct scenes *scenes, uint32_t picture, uint8_t counter, struct scene *scene) {
    /* The hash never changes within an image, so any will do. */
    const struct slate slate = {.hash = 0x5A5A, .value = value_of(scenes->plan, picture), .counter = counter};
    uint8_t rows[SLATE_ROWS];
    slate_encode(&slate, rows);
    for (int line = 0; line < SLATE_BAND_LINES; line++) {
        scene->white[line] = CELLS_ALL;
    }
    for (int row = 0; row < SLATE_ROWS; row++) {
        uint64_t white = 0;
        for (int bit = 0; bit < SLATE_ROW_BITS; bit++) {
            const uint64_t from = UINT64_C(1) << slate_cell(bit), to = UINT64_C(1) << slate_cell(bit + 1);
            white |= (rows[row] >> (SLATE_ROW_BITS - 1 - bit) & 1) != 0 ? to - from : 0;
        }
        for (int line = 0; line < SLATE_ROW_LINES; line++) {
            scene->white[SLATE_BAND_LINES + row * SLATE_ROW_LINES + line] = white;
        }
    }
}
