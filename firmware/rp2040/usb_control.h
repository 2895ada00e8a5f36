/* Requests on endpoint 0 (USB 2.0 chapter 9, PSTN 1.2 section 6.3): what to answer. Knows no register. */
#ifndef SLOTJIG_RP2040_USB_CONTROL_H
#define SLOTJIG_RP2040_USB_CONTROL_H

#include "rp2040/usb_descriptors.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct usb_setup { /* table 9-2 */
    uint8_t type, request;
    uint16_t value, index, length;
};

struct usb_device {
    uint8_t serial[WIRE_SERIAL];
    uint8_t configuration;
    uint16_t halted_in, halted_out; /* masks of endpoint numbers */
    uint8_t line_coding[7];         /* PSTN 1.2 table 17; kept for who asks, it changes nothing */
    bool line_up;                   /* DTR */
    uint8_t answer[2];
};

enum usb_answer {
    USB_STALL,
    USB_DONE,   /* no data; acknowledge */
    USB_SEND,   /* *data, *count: at most what was asked for will be sent */
    USB_RECEIVE /* *count bytes come; then usb_control_received() */
};

/* What the controller must do before it acknowledges. */
enum usb_effect {
    USB_NO_EFFECT,
    USB_NEW_ADDRESS, /* once acknowledged: value */
    USB_CONFIGURED,  /* or no longer; device->configuration says it. Toggles and halts start over */
    USB_HALTED,      /* endpoint address: value */
    USB_UNHALTED,
    USB_LINE_DOWN /* the serial port's other end has hung up */
};

struct usb_reply {
    enum usb_answer answer;
    const uint8_t *data;
    size_t count;
    enum usb_effect effect;
    uint8_t value;
};

void usb_control_reset(struct usb_device *device);
struct usb_reply usb_control(struct usb_device *device, const struct usb_setup *setup);
/* The data of a request that was answered by USB_RECEIVE. False: wrong; stall. */
bool usb_control_received(struct usb_device *device, const uint8_t *data, size_t count);

#endif
