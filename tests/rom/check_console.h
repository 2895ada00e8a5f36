/* Images of plan `cartridge`, as the console model runs them from the model of a cartridge. */
#ifndef TESTS_ROM_CHECK_CONSOLE_H
#define TESTS_ROM_CHECK_CONSOLE_H

#include "plan/check.h"
#include "rom/field_slate.h"
#include "rom/rom.h"
#include "virtual/cart_model.h"
#include "virtual/console.h"

#include <stdlib.h>

static struct cart_model check_cart;
static struct console check_console;

static inline uint8_t check_slot_read(void *state, uint16_t address, uint8_t bus) {
    return cart_model_cycle(state, address, bus, false);
}

static inline void check_slot_write(void *state, uint16_t address, uint8_t value) {
    cart_model_cycle(state, address, value, true);
}

static inline void check_slot_pass(void *state, uint16_t address, uint8_t bus) {
    cart_model_cycle(state, address, bus, false);
}

static inline struct plan *check_plan_of(int scheme, bool ram, enum standard standard) {
    struct plan *plan = NULL;
    struct problem problem = {0};
    if (!check_plan(scheme, ram, standard, &plan, &problem)) {
        fail_msg("%s", problem.text);
    }
    return plan;
}

static inline struct image *check_image_of(const struct plan *plan, int hold, int dark) {
    struct problem problem = {0};
    struct image *image = NULL;
    const struct rom_options options = {.hold = hold, .dark = dark};
    if (!rom_build(plan, &options, &image, &problem)) {
        fail_msg("%s %s%s, hold %d: %s", scheme_name(plan->check.scheme), standard_table[plan->standard].name,
                 plan->check.ram ? " with RAM" : "", hold, problem.text);
    }
    return image;
}

/* first: the bank that comes up. */
static inline void check_power_on(const struct plan *plan, const struct image *image, int first,
                                  uint64_t seed) {
    const struct cartridge slot = {
        .state = &check_cart, .read = check_slot_read, .write = check_slot_write, .pass = check_slot_pass};
    struct cart_faults faults;
    struct tia_chip chip;
    tia_chip_default(&chip);
    cart_faults_none(plan->check.scheme, &faults);
    faults.first_bank = (uint8_t)first;
    cart_model_init(&check_cart, plan->check.scheme, plan->check.ram, image->bytes, &faults, seed);
    cart_model_power(&check_cart, 0, true);
    console_power_on(&check_console, &chip, &slot, seed);
}

#endif
