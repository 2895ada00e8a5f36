/* What the device says of itself. Numbers of interfaces and endpoints are here and in slotjig/usb.h. */
#ifndef SLOTJIG_RP2040_USB_DESCRIPTORS_H
#define SLOTJIG_RP2040_USB_DESCRIPTORS_H

#include "slotjig/usb.h"
#include "slotjig/wire.h"

#include <stddef.h>
#include <stdint.h>

enum {
    USB_CDC_INTERFACE = 1,
    USB_CDC_DATA_INTERFACE = 2,
    USB_INTERFACES = 3,
    USB_CDC_NOTIFY = 0x82,
    USB_CDC_OUT = 0x03,
    USB_CDC_IN = 0x83,
    USB_CONFIGURATION = 1,
    USB_EP0_PACKET = 64,
    USB_NOTIFY_PACKET = 16,
    /* bMS_VendorCode: the vendor request by which Windows asks for the set below, with wIndex 7. */
    USB_MS_REQUEST = 0x20,
    USB_MS_INDEX = 7
};

/* What differs from board to board; the start-up's file has it. */
struct usb_identity {
    const char *product;
    uint8_t power; /* bMaxPower: units of 2 mA */
};
extern const struct usb_identity usb_identity;

/* Standard descriptors by type and index; NULL: there is none. The strings are made when asked for, so the
 * answer is good until the next call. */
const uint8_t *usb_descriptor(uint8_t type, uint8_t index, const uint8_t serial[WIRE_SERIAL], size_t *count);
/* The Microsoft OS 2.0 descriptor set. */
const uint8_t *usb_ms_descriptors(size_t *count);

#endif
