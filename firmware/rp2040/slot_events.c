/* The ring of steady addresses, handed out in order. */
#include "rp2040/slot.h"
#include "rp2040/slot_parts.h"

enum { SLACK = 64 /* of the ring, for what comes while it is read */ };

static uint32_t taken; /* ever */
static uint16_t last;

/* Addresses ever written to the ring. The count is ahead of the ring by what is under way in the DMA; the
 * ring's place says by how much. */
static uint32_t put(void) {
    uint32_t count = slot_dma_events();
    uint32_t ahead = (count - slot_dma_place()) % SLOT_EVENTS;
    return count - (ahead < SLOT_EVENTS / 2 ? ahead : 0);
}

size_t slot_events(uint16_t *addresses, size_t max, uint32_t *missed) {
    uint32_t end = put();
    *missed = 0;
    if (end - taken > SLOT_EVENTS - SLACK) {
        *missed = end - taken - SLOT_EVENTS / 2;
        taken += *missed;
    }
    size_t count = 0;
    while (taken != end && count < max) {
        /* A line that twitched and came back makes an address steady twice. */
        uint16_t address = slot_memory.events[taken++ % SLOT_EVENTS] >> 1 & 0x1FFF;
        if (address != last) {
            addresses[count++] = address;
        }
        last = address;
    }
    return count;
}
