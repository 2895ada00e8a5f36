/* Boards among the USB devices: what is attached, which of it is ours, and opening it. Inside link/ only. */
#ifndef SLOTJIG_LINK_USB_DEVICE_H
#define SLOTJIG_LINK_USB_DEVICE_H

#include "base/problem.h"
#include "link/transport.h"
#include "slotjig/usb.h"

#include <libusb.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    USB_SEEN_MAX = 32,
    /* The chip's own boot loader. */
    USB_LOADER_VENDOR = 0x2E8A,
    USB_LOADER_PRODUCT = 0x0003
};

enum usb_kind {
    USB_OURS,
    USB_OTHER, /* has the test identity, but another maker's or another product's text */
    USB_LOADER
};

enum usb_outcome {
    USB_OPENED,
    USB_NOT_FOUND, /* or gone since */
    USB_NO_PERMISSION,
    USB_BUSY,
    USB_NO_INTERFACE, /* ours by its text, without the interface of slotjig/usb.h */
    USB_NOT_CHOSEN,   /* several, and the choice does not say which */
    USB_FAILED
};

/* A device that has the board's identity, or the loader's. */
struct usb_seen {
    libusb_device *device;
    enum usb_kind kind;
    bool reader;            /* of ours, by its text: no cartridge board */
    enum usb_outcome opens; /* USB_OPENED, USB_NO_PERMISSION or another reason why it does not */
    char where[64];         /* port path "1-2.3" */
    char serial[64], manufacturer[64], product[64]; /* as the device says, cleaned; empty when not known */
};

struct usb_list {
    struct usb_seen seen[USB_SEEN_MAX];
    size_t count;
};

bool usb_start(libusb_context **context, struct problem *problem);
/* Looks once. More than USB_SEEN_MAX are not looked at. */
bool usb_list_read(libusb_context *context, struct usb_list *list, struct problem *problem);
void usb_list_free(struct usb_list *list);

/* The one meant by a serial, a port path, NULL (the only cartridge board of ours) or TRANSPORT_ANY_READER
 * (the only reader). */
enum usb_outcome usb_choose(const struct usb_list *list, const char *choice, size_t *index,
                            struct problem *problem);

/* The board's interface, claimed, and its endpoints, as found in the descriptor. */
struct usb_pipes {
    libusb_device_handle *handle;
    uint8_t interface, in, out;
    size_t packet; /* of the endpoint in */
};
enum usb_outcome usb_pipes_open(const struct usb_seen *seen, struct usb_pipes *pipes,
                                struct problem *problem);

/* transport_usb(), which also says why not. */
enum usb_outcome usb_transport(const char *choice, struct transport *transport, struct problem *problem);

#endif
