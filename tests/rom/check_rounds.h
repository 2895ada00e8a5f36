/* Rounds of plan `cartridge`, item by item, as the slate shows them on the console model. */
#ifndef TESTS_ROM_CHECK_ROUNDS_H
#define TESTS_ROM_CHECK_ROUNDS_H

#include "rom/check_console.h"

#include "slotjig/slate.h"

enum { ROUND_SEEN_MAX = 4096, ROUND_SETTLE = 2 };

struct round_seen {
    size_t count;
    struct check_item item[ROUND_SEEN_MAX];
    int fields; /* from the round's first item to the next one's */
};

static struct check_item round_first; /* the START item that was met last */

static int round_odd; /* fields with another number of lines */

static inline bool round_field(const struct plan *plan, struct check_item *item) {
    struct slate slate = {0};
    if (!console_run_field(&check_console, TIA_LINES_MAX)) {
        return false;
    }
    round_odd += check_console.tia.field.lines != standard_lines(plan->standard);
    if (!field_slate(&check_console.tia.field, plan->standard, &slate)) {
        return false;
    }
    *item = check_unpack(slate.value);
    return true;
}

/* The item that a round begins with has been met; goes on to the next of its kind. Items next to each other
 * that are alike are one. False: no field, or no slate, or no end. */
static inline bool round_watch(const struct plan *plan, struct round_seen *seen, int most) {
    struct check_item item = round_first;
    *seen = (struct round_seen){.count = 1, .item = {item}};
    for (bool first = true; first || item.kind != CHECK_START; first = first && item.kind == CHECK_START) {
        const struct check_item before = item;
        if (++seen->fields > most || !round_field(plan, &item)) {
            return false;
        }
        if (check_pack(item) != check_pack(before) && item.kind != CHECK_START) {
            if (seen->count == ROUND_SEEN_MAX) {
                return false;
            }
            seen->item[seen->count++] = item;
        }
    }
    round_first = item;
    return true;
}

/* The console with a cartridge that has these faults. slot: NULL for the model's own. */
static inline void round_power_on(const struct plan *plan, const struct image *image,
                                  const struct cart_faults *faults, const struct cartridge *slot,
                                  uint64_t seed) {
    static const struct cartridge plain = {
        .state = &check_cart, .read = check_slot_read, .write = check_slot_write, .pass = check_slot_pass};
    struct tia_chip chip;
    tia_chip_default(&chip);
    cart_model_init(&check_cart, plan->check.scheme, plan->check.ram, image->bytes, faults, seed);
    cart_model_power(&check_cart, 0, true);
    console_power_on(&check_console, &chip, slot != NULL ? slot : &plain, seed);
}

/* The first item of a kind and place in a round; NULL: there is none. */
static inline const struct check_item *round_item(const struct round_seen *seen, enum check_kind kind,
                                                  int place) {
    for (size_t i = 0; i < seen->count; i++) {
        if (seen->item[i].kind == kind && (place < 0 || seen->item[i].place == place)) {
            return &seen->item[i];
        }
    }
    return NULL;
}

/* After power-on: up to the first START item. */
static inline bool round_begin(const struct plan *plan) {
    struct check_item item = {.kind = CHECK_KINDS};
    for (int field = 0; field < ROUND_SETTLE; field++) {
        console_run_field(&check_console, TIA_LINES_MAX);
    }
    for (int field = 0; field < 4 * CHECK_ITEMS_MAX; field++) {
        if (!round_field(plan, &item)) {
            return false;
        }
        if (item.kind == CHECK_START) {
            round_first = item;
            return true;
        }
    }
    return false;
}

#endif
