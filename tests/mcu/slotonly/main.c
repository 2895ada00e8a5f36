/* The slot's service alone: the test lays an image into the spare lanes and asks for what it
 * wants in `order`. Runs from RAM; there is no boot. */
#include "rp2040/slot.h"

#include "rp2040/clock.h"

enum order_kind { ORDER_NONE, ORDER_SERVE, ORDER_EVENTS };
enum { EVENTS = 512 };

struct order {
    volatile uint32_t kind;
    uint32_t scheme, ram, bank; /* ORDER_SERVE */
    uint32_t count, missed;     /* ORDER_EVENTS: what came */
    uint16_t events[EVENTS];
};
struct order order = {.kind = ORDER_EVENTS};
/* Where the spare lanes are, and whether the supply is there; kept up to date. */
volatile uint32_t spare_lanes, supply;

extern uint32_t stack_top[];
void begin(void);

static void obey(const struct slot_ops *slot) {
    if (order.kind == ORDER_SERVE) {
        slot->serve(slot->state, (uint8_t)order.scheme, order.ram != 0, (uint8_t)order.bank);
    } else if (order.kind == ORDER_EVENTS) {
        order.count = slot_events(order.events, EVENTS, &order.missed);
    }
    spare_lanes = (uint32_t)(uintptr_t)slot->spare(slot->state);
    supply = slot->supply(slot->state);
    order.kind = ORDER_NONE;
}

void begin(void) {
    const struct slot_ops *slot = slot_operations();
    slot_start();
    for (;;) {
        if (order.kind != ORDER_NONE) {
            obey(slot);
        }
    }
}
