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

static inline bool round_field(const struct plan *plan, struct check_item *item) {
    struct slate slate = {0};
    if (!console_run_field(&check_console, TIA_LINES_MAX)) {
        return false;
    }
    if (check_console.tia.field.lines != standard_lines(plan->standard)) {
        fail_msg("%s: a field of %d lines", scheme_name(plan->check.scheme), check_console.tia.field.lines);
    }
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
