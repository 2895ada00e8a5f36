/* Holds the slot's interface until the service is there: nothing is driven. */
#include "rp2040/slot.h"

static uint8_t lanes[2][CART_TABLE] __attribute__((section(".lanes"), aligned(CART_TABLE)));
static int serving;

void slot_start(void) {
}

static uint8_t *spare(void *state) {
    (void)state;
    return lanes[1 - serving];
}

static uint8_t *served(void *state) {
    (void)state;
    return lanes[serving];
}

static void serve(void *state, uint8_t scheme, bool ram, uint8_t bank) {
    (void)state, (void)scheme, (void)ram, (void)bank;
    serving = 1 - serving;
}

static bool supply(void *state) {
    (void)state;
    return false;
}

const struct slot_ops *slot_operations(void) {
    static const struct slot_ops operations = {
        .spare = spare, .served = served, .serve = serve, .supply = supply};
    return &operations;
}

size_t slot_events(uint16_t *addresses, size_t max, uint32_t *missed) {
    (void)addresses, (void)max;
    *missed = 0;
    return 0;
}
