/* The USB controller (RP2040 data sheet 4.1) as a device: its memory, shared with the processor, and its
 * registers. */
#ifndef SLOTJIG_RP2040_USB_REGS_H
#define SLOTJIG_RP2040_USB_REGS_H

#include "rp2040/regs.h"

/* 4.1.2.5: the shared memory, 4 KiB */
#define USB_MEMORY 0x50100000u
/* Endpoint control, for endpoints 1 to 15; in: 0 or 1. */
#define USB_EP_CONTROL(endpoint, in) (USB_MEMORY + 8u * (uint32_t)(endpoint) + ((in) ? 0u : 4u))
/* Buffer control, for endpoints 0 to 15: a half word for each of two buffers. */
#define USB_BUFFER(endpoint, in, which)                                                                      \
    (*(volatile uint16_t *)(uintptr_t)(USB_MEMORY + 0x80u + 8u * (uint32_t)(endpoint) + ((in) ? 0u : 4u) +   \
                                       2u * (uint32_t)(which)))
#define USB_BYTES(offset) ((volatile uint8_t *)(uintptr_t)(USB_MEMORY + (offset)))
enum {
    USB_SETUP_AT = 0,
    USB_EP0_AT = 0x100,
    USB_FREE_AT = 0x180,
    USB_PACKET = 64,

    EP_ENABLE_SHIFT = 31,
    EP_DOUBLE = 1 << 30,
    EP_EACH_BUFFER = 1 << 29,
    EP_TYPE_SHIFT = 26,
    EP_BULK = 2,
    EP_INTERRUPT = 3,

    BUFFER_FULL = 1 << 15,
    BUFFER_DATA1 = 1 << 13,
    BUFFER_SELECT_RESET = 1 << 12,
    BUFFER_STALL = 1 << 11,
    BUFFER_AVAILABLE = 1 << 10,
    BUFFER_LENGTH = 0x3FF
};
#define EP_ENABLE (1u << EP_ENABLE_SHIFT)

/* 4.1.4: registers */
#define USB_ADDRESS 0x50110000u
#define USB_MAIN_CTRL 0x50110040u
#define USB_SIE_CTRL 0x5011004Cu
#define USB_SIE_STATUS 0x50110050u
#define USB_BUFF_STATUS 0x50110058u
#define USB_EP_STALL_ARM 0x50110068u
#define USB_MUXING 0x50110074u
#define USB_PWR 0x50110078u
#define USB_INTE 0x50110090u
#define USB_INTS 0x50110098u
enum {
    MAIN_DEVICE_ON = 1 << 0,
    SIE_EP0_EACH_BUFFER = 1 << 29,
    SIE_PULL_UP = 1 << 16,
    STATUS_BUS_RESET = 1 << 19,
    STATUS_SETUP = 1 << 17,
    STATUS_RESUME = 1 << 11,
    STATUS_SUSPENDED = 1 << 4,
    MUX_PHY = 1 << 0,
    MUX_SOFTCON = 1 << 3,
    POWER_DETECTED = 1 << 2,
    POWER_OVERRIDE = 1 << 3,
    INT_SETUP = 1 << 16,
    INT_RESUME = 1 << 15,
    INT_SUSPEND = 1 << 14,
    INT_BUS_RESET = 1 << 12,
    INT_BUFFER = 1 << 4
};

#endif
