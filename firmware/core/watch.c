#include "core/watch.h"

#include "core/bytes.h"
#include "slotjig/mailbox.h"

enum {
    SECOND_US = 1000000,
    SECOND_LONGEST_US =
        SECOND_US + SECOND_US / 10, /* a second that was ended late (flash was busy) is none */
    NO_ADDRESS = 0xFFFF,
    NO_AGE = 0xFFFF,
    LINES = 0x1FFF,
    VSYNC = 0,
    ECHO_END = MAILBOX_ECHO + 0x100,
    VALUE_LAST = MAILBOX_VALUE + 2,
    ECHO_LOW = 1,
    ECHO_HIGH = 2,
    ECHO_STEP = 4
};

static void start_second(struct watch *watch, uint64_t now_us) {
    watch->now = (struct watch_counts){0};
    watch->second_started = now_us;
}

static void forget_order(struct watch *watch) {
    watch->last = NO_ADDRESS;
    watch->before = NO_ADDRESS;
    watch->earlier = NO_ADDRESS;
    watch->countdown = 0;
    watch->tracing = false;
    watch->value_next = MAILBOX_VALUE;
}

void watch_start(struct watch *watch, uint64_t now_us) {
    *watch = (struct watch){0};
    forget_order(watch);
    start_second(watch, now_us);
}

static void announce(struct watch *watch, uint8_t what) {
    watch->announced = what;
    watch->countdown = MAILBOX_ECHO_AFTER;
}

static void take_echo(struct watch *watch, uint16_t address) {
    if (address < MAILBOX_ECHO || address >= ECHO_END) {
        return;
    }
    uint8_t value = (uint8_t)address;
    if (watch->announced == ECHO_STEP) {
        watch->step = value;
    } else {
        watch->vector[watch->announced == ECHO_HIGH] = value;
    }
    watch->echoed |= watch->announced;
}

/* No reset: a processor that runs through the top of the window, be it with an operand's access in between.
 */
static void see_vector_high(struct watch *watch) {
    if (watch->last != RESET_VECTOR || watch->before == RESET_VECTOR - 1 ||
        watch->earlier == RESET_VECTOR - 1) {
        return;
    }
    watch->now.resets++;
    watch->resets_ever++;
    watch->traced = 0;
    watch->tracing = true;
}

static void see_value(struct watch *watch, uint16_t address) {
    if (address == MAILBOX_VALUE) {
        watch->value_next = MAILBOX_VALUE + 1;
    } else if (address != watch->value_next) {
        watch->value_next = MAILBOX_VALUE;
    } else if (address != VALUE_LAST) {
        watch->value_next++;
    } else {
        watch->values++;
        watch->value_next = MAILBOX_VALUE;
    }
}

/* Addresses that mean something. */
static void see_special(struct watch *watch, uint16_t address) {
    switch (address) {
    case MAILBOX_MODE:
        watch->now.mailbox++;
        break;
    case MAILBOX_VALUE:
    case MAILBOX_VALUE + 1:
    case VALUE_LAST:
        see_value(watch, address);
        break;
    case MAILBOX_IN_RAM:
        watch->in_ram++;
        break;
    case MAILBOX_VECTOR_LOW:
        announce(watch, ECHO_LOW);
        break;
    case MAILBOX_VECTOR_HIGH:
        announce(watch, ECHO_HIGH);
        break;
    case MAILBOX_STEP_SHOWN:
        announce(watch, ECHO_STEP);
        break;
    case RESET_VECTOR + 1:
        see_vector_high(watch);
        break;
    default:
        break;
    }
}

static void trace(struct watch *watch, uint16_t address) {
    watch->trace[watch->traced++] = address;
    watch->tracing = watch->traced < WIRE_TRACE;
}

/* An address that may matter, or any at all while something is awaited. last and before are up to date. */
static void see(struct watch *watch, uint16_t address) {
    if (watch->tracing) {
        trace(watch, address);
    }
    if (watch->countdown > 0 && --watch->countdown == 0) {
        take_echo(watch, address);
    }
    if (address >= MAILBOX_MODE) {
        see_special(watch, address);
    } else if (address == VSYNC) {
        watch->now.vsyncs++;
    }
}

/* The addresses from..to - 1 have gone by. */
static void pass_by(struct watch *watch, const uint16_t *addresses, size_t from, size_t to) {
    enum { KEPT = 3 };
    for (size_t i = to - from > KEPT ? to - KEPT : from; i < to; i++) {
        watch->earlier = watch->before;
        watch->before = watch->last;
        watch->last = addresses[i] & LINES;
    }
}

/* A million addresses a second come through here, few of which mean anything. */
static void see_all(struct watch *watch, const uint16_t *addresses, size_t count) {
    unsigned high = 0, low = 0;
    size_t passed = 0;
    bool awaits = watch->tracing || watch->countdown > 0;
    for (size_t i = 0; i < count; i++) {
        uint16_t address = addresses[i] & LINES;
        high |= address;
        low |= ~(unsigned)address;
        if (awaits || address >= MAILBOX_MODE || address == VSYNC) {
            pass_by(watch, addresses, passed, i);
            passed = i;
            see(watch, address);
            awaits = watch->tracing || watch->countdown > 0;
        }
    }
    pass_by(watch, addresses, passed, count);
    watch->now.high |= (uint16_t)high;
    watch->now.low |= (uint16_t)(low & LINES);
}

void watch_feed(struct watch *watch, const uint16_t *addresses, size_t count, uint32_t missed) {
    if (missed > 0) {
        watch->now.missed += missed;
        forget_order(watch);
    }
    see_all(watch, addresses, count);
    watch->now.cycles += (uint32_t)count;
}

static void change_supply(struct watch *watch, bool supply, uint64_t now_us) {
    if (supply) {
        watch->echoed = 0;
        watch->vector[0] = watch->vector[1] = watch->step = 0;
        watch->traced = 0;
        forget_order(watch);
    }
    watch->supply = supply;
    watch->any_whole = false;
    start_second(watch, now_us);
}

void watch_tick(struct watch *watch, bool supply, uint64_t now_us) {
    if (supply != watch->supply) {
        change_supply(watch, supply, now_us);
    }
    uint64_t passed = now_us - watch->second_started;
    if (passed < SECOND_US) {
        return;
    }
    if (passed <= SECOND_LONGEST_US) {
        watch->whole = watch->now;
        watch->any_whole = true;
        watch->second_ended = now_us;
    }
    start_second(watch, now_us);
}

static uint16_t age_ms(const struct watch *watch, uint64_t now_us) {
    if (!watch->any_whole) {
        return NO_AGE;
    }
    uint64_t age = (now_us - watch->second_ended) / 1000;
    return age < NO_AGE ? (uint16_t)age : NO_AGE - 1;
}

static uint8_t *add16(uint8_t *at, uint16_t value) {
    put16(at, value);
    return at + 2;
}

static uint8_t *add32(uint8_t *at, uint32_t value) {
    put32(at, value);
    return at + 4;
}

size_t watch_report(const struct watch *watch, uint64_t now_us, uint8_t *payload) {
    static const struct watch_counts none;
    const struct watch_counts *counts = watch->any_whole ? &watch->whole : &none;
    uint8_t *at = payload;
    *at++ = watch->supply;
    at = add16(at, age_ms(watch, now_us));
    at = add32(at, counts->cycles);
    at = add32(at, counts->resets);
    at = add32(at, counts->vsyncs);
    at = add32(at, counts->mailbox);
    at = add32(at, counts->missed);
    at = add16(at, counts->high);
    at = add16(at, counts->low);
    *at++ = watch->echoed;
    *at++ = watch->vector[0];
    *at++ = watch->vector[1];
    *at++ = watch->step;
    *at++ = watch->traced;
    for (int i = 0; i < WIRE_TRACE; i++) {
        at = add16(at, i < watch->traced ? watch->trace[i] : 0);
    }
    return (size_t)(at - payload);
}
