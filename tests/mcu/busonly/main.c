/* The reader's bus alone: the test asks for accesses in `order`. Runs from RAM; there is no boot. */
#include "rp2040/reader_bus.h"

#include "rp2040/clock.h"

enum order_kind {
    ORDER_NONE,
    ORDER_SUPPLY,
    ORDER_STATE,
    ORDER_SAMPLE,
    ORDER_FIND,
    ORDER_READ,
    ORDER_WRITE,
    ORDER_RELEASED
};
enum { ADDRESSES = 4096 };

struct order {
    volatile uint32_t kind;
    uint32_t from, to, after, count; /* on, high and values in `to` */
    uint32_t answer, own;
    uint16_t addresses[ADDRESSES];
    uint8_t bytes[ADDRESSES];
};
struct order order;

extern uint32_t stack_top[];
void begin(void);

/* Nothing here waits by the clock. */
uint64_t time_us(void) {
    return 0;
}

/* The fewest cycles from which on the byte is the one that stands there, by asking each number. */
static uint32_t find(const struct reader_bus *bus, uint16_t from, uint16_t to) {
    const uint8_t right = bus->sample(bus->state, from, to, READER_AFTER_MOST);
    uint32_t after = READER_AFTER_MOST;
    while (after > 0 && bus->sample(bus->state, from, to, after - 1) == right) {
        after--;
    }
    return after;
}

static void obey(const struct reader_bus *bus) {
    const uint16_t from = (uint16_t)order.from, to = (uint16_t)order.to;
    bool on;
    switch (order.kind) {
    case ORDER_SUPPLY:
        bus->supply(bus->state, to != 0);
        break;
    case ORDER_STATE:
        order.answer = bus->supply_state(bus->state, &on);
        order.count = on;
        break;
    case ORDER_SAMPLE:
        order.answer = bus->sample(bus->state, from, to, order.after);
        break;
    case ORDER_FIND:
        for (uint32_t i = 0; i < order.count; i++) {
            const uint16_t address = order.addresses[i];
            order.bytes[i] = (uint8_t)find(bus, address ^ from, address);
        }
        break;
    case ORDER_READ:
        bus->read(bus->state, order.addresses, order.bytes, order.count);
        break;
    case ORDER_WRITE:
        bus->write(bus->state, from, (uint8_t)to);
        break;
    default:
        order.answer = bus->released(bus->state, from, to != 0, order.after);
        break;
    }
    order.own = bus->own;
    __asm volatile("" ::: "memory");
    order.kind = ORDER_NONE;
}

void begin(void) {
    const struct reader_bus bus = reader_bus();
    reader_bus_start();
    for (;;) {
        /* The test changes the rest of it, too. */
        __asm volatile("" ::: "memory");
        if (order.kind != ORDER_NONE) {
            obey(&bus);
        }
    }
}
