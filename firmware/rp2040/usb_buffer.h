/* Handing buffers to the USB controller. */
#ifndef SLOTJIG_RP2040_USB_BUFFER_H
#define SLOTJIG_RP2040_USB_BUFFER_H

#include "rp2040/usb_regs.h"

#include <stdbool.h>
#include <stddef.h>

/* The controller runs at 48 MHz: it must see the rest of the word before it sees these bits (4.1.2.5.1). */
static inline void buffer_write(int endpoint, bool in, int which, uint16_t rest, uint16_t last) {
    USB_BUFFER(endpoint, in, which) = rest;
    for (int i = 0; i < 3; i++) { /* over 12 clocks of 125 MHz: four and more of the controller's */
        __asm volatile("nop\n nop\n nop\n nop");
    }
    USB_BUFFER(endpoint, in, which) = rest | last;
}

static inline void buffer_arm(int endpoint, bool in, int which, size_t count, bool data1, uint16_t more) {
    uint16_t rest = (uint16_t)(more | count | (in ? BUFFER_FULL : 0) | (data1 ? BUFFER_DATA1 : 0));
    buffer_write(endpoint, in, which, rest, BUFFER_AVAILABLE);
}

static inline void buffer_stall(int endpoint, bool in, int which) {
    buffer_write(endpoint, in, which, 0, BUFFER_STALL);
}

static inline void buffer_withdraw(int endpoint, bool in, int which) {
    USB_BUFFER(endpoint, in, which) = 0;
}

#endif
