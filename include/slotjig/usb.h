/* What a board says of itself on USB; the host looks for it, the firmware's descriptors say it. */
#ifndef SLOTJIG_USB_H
#define SLOTJIG_USB_H

enum {
    USB_VENDOR = 0x1209, /* pid.codes: for tests only; who sells boards needs an identity of their own */
    USB_PRODUCT = 0x0001,
    /* The interface that speaks the wire with no driver of the system's in between. The serial port beside it
     * speaks the same. */
    USB_WIRE_CLASS = 0xFF,
    USB_WIRE_SUBCLASS = 0x53,
    USB_WIRE_PROTOCOL = 0x01,
    USB_WIRE_INTERFACE = 0,
    USB_WIRE_OUT = 0x01, /* endpoints, both bulk */
    USB_WIRE_IN = 0x81
};
#define USB_MANUFACTURER "slotjig"
#define USB_PRODUCT_TEXT "slotjig board"
#define USB_READER_TEXT "slotjig reader" /* a board with WIRE_CAN_READ */

#endif
