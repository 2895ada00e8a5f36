#include "rp2040/usb_control.h"

#include "core/bytes.h"

/* bmRequestType (table 9-2): direction, type and recipient. */
enum {
    OUT_DEVICE = 0x00,
    OUT_INTERFACE = 0x01,
    OUT_ENDPOINT = 0x02,
    IN_DEVICE = 0x80,
    IN_INTERFACE = 0x81,
    IN_ENDPOINT = 0x82,
    OUT_CLASS_INTERFACE = 0x21,
    IN_CLASS_INTERFACE = 0xA1,
    IN_VENDOR_DEVICE = 0xC0
};
/* bRequest (table 9-4; PSTN 1.2 table 13) */
enum {
    GET_STATUS = 0,
    CLEAR_FEATURE = 1,
    SET_FEATURE = 3,
    SET_ADDRESS = 5,
    GET_DESCRIPTOR = 6,
    GET_CONFIGURATION = 8,
    SET_CONFIGURATION = 9,
    GET_INTERFACE = 10,
    SET_INTERFACE = 11,
    SET_LINE_CODING = 0x20,
    GET_LINE_CODING = 0x21,
    SET_CONTROL_LINE_STATE = 0x22
};
enum { ENDPOINT_HALT = 0, ENDPOINT_IN = 0x80, DTR = 1 };

static const struct usb_reply stall = {.answer = USB_STALL};
static const struct usb_reply done = {.answer = USB_DONE};

static struct usb_reply send(const uint8_t *data, size_t count) {
    return data ? (struct usb_reply){.answer = USB_SEND, .data = data, .count = count} : stall;
}

static struct usb_reply with_effect(enum usb_effect effect, uint8_t value) {
    return (struct usb_reply){.answer = USB_DONE, .effect = effect, .value = value};
}

/* 115,200 baud, 1 stop bit, no parity, 8 bits */
static const uint8_t coding[7] = {0x00, 0xC2, 0x01, 0x00, 0, 0, 8};

void usb_control_reset(struct usb_device *device) {
    device->configuration = 0;
    device->halted_in = device->halted_out = 0;
    device->line_up = false;
    bytes_copy(device->line_coding, coding, sizeof coding);
}

static bool known_endpoint(const struct usb_device *device, uint16_t index) {
    if (index == 0 || index == ENDPOINT_IN) {
        return true;
    }
    return device->configuration && (index == USB_WIRE_OUT || index == USB_WIRE_IN ||
                                     index == USB_CDC_NOTIFY || index == USB_CDC_OUT || index == USB_CDC_IN);
}

static struct usb_reply send_status(struct usb_device *device, uint8_t low) {
    device->answer[0] = low;
    device->answer[1] = 0;
    return send(device->answer, 2);
}

static struct usb_reply get_status(struct usb_device *device, const struct usb_setup *setup) {
    if (setup->value != 0 || setup->length != 2) {
        return stall;
    }
    switch (setup->type) {
    case IN_DEVICE:
        return setup->index == 0 ? send_status(device, 0) : stall;
    case IN_INTERFACE:
        return device->configuration && setup->index < USB_INTERFACES ? send_status(device, 0) : stall;
    default:
        if (!known_endpoint(device, setup->index)) {
            return stall;
        }
        uint16_t halted = setup->index & ENDPOINT_IN ? device->halted_in : device->halted_out;
        return send_status(device, halted >> (setup->index & 15) & 1);
    }
}

/* Of all features only an endpoint's halt is there: no remote wake-up, no test modes (high speed's). Endpoint
 * 0 cannot be halted for good, and clearing it is no mistake (9.4.1). */
static struct usb_reply set_halt(struct usb_device *device, const struct usb_setup *setup, bool halt) {
    uint8_t endpoint = setup->index & 15;
    if (setup->value != ENDPOINT_HALT || !known_endpoint(device, setup->index) || setup->length != 0) {
        return stall;
    }
    if (endpoint == 0) {
        return halt ? stall : done;
    }
    uint16_t *mask = setup->index & ENDPOINT_IN ? &device->halted_in : &device->halted_out;
    *mask = (uint16_t)(halt ? *mask | 1 << endpoint : *mask & ~(1 << endpoint));
    return with_effect(halt ? USB_HALTED : USB_UNHALTED, (uint8_t)setup->index);
}

static struct usb_reply set_configuration(struct usb_device *device, const struct usb_setup *setup) {
    if (setup->value > USB_CONFIGURATION || setup->index != 0 || setup->length != 0) {
        return stall;
    }
    device->configuration = (uint8_t)setup->value;
    device->halted_in = device->halted_out = 0;
    device->line_up = false;
    return with_effect(USB_CONFIGURED, 0);
}

static struct usb_reply to_device(struct usb_device *device, const struct usb_setup *setup) {
    switch (setup->request) {
    case SET_ADDRESS:
        if (setup->value > 127 || setup->index != 0 || setup->length != 0) {
            return stall;
        }
        return with_effect(USB_NEW_ADDRESS, (uint8_t)setup->value);
    case SET_CONFIGURATION:
        return set_configuration(device, setup);
    default:
        return stall;
    }
}

static struct usb_reply from_device(struct usb_device *device, const struct usb_setup *setup) {
    size_t count = 0;
    switch (setup->request) {
    case GET_STATUS:
        return get_status(device, setup);
    case GET_DESCRIPTOR: {
        const uint8_t *data =
            usb_descriptor((uint8_t)(setup->value >> 8), (uint8_t)setup->value, device->serial, &count);
        return send(data, count);
    }
    case GET_CONFIGURATION:
        return send(&device->configuration, 1);
    default:
        return stall;
    }
}

/* Each interface has one setting, number 0. */
static struct usb_reply interface_setting(struct usb_device *device, const struct usb_setup *setup) {
    if (!device->configuration || setup->index >= USB_INTERFACES || setup->value != 0) {
        return stall;
    }
    if (setup->type == OUT_INTERFACE) {
        return setup->request == SET_INTERFACE && setup->length == 0 ? done : stall;
    }
    if (setup->request == GET_INTERFACE) {
        device->answer[0] = 0;
        return send(device->answer, 1);
    }
    return setup->request == GET_STATUS ? get_status(device, setup) : stall;
}

static struct usb_reply endpoint_request(struct usb_device *device, const struct usb_setup *setup) {
    if (setup->type == IN_ENDPOINT) {
        return setup->request == GET_STATUS ? get_status(device, setup) : stall;
    }
    if (setup->request == CLEAR_FEATURE || setup->request == SET_FEATURE) {
        return set_halt(device, setup, setup->request == SET_FEATURE);
    }
    return stall;
}

static struct usb_reply serial_port(struct usb_device *device, const struct usb_setup *setup) {
    if (!device->configuration || setup->index != USB_CDC_INTERFACE) {
        return stall;
    }
    if (setup->type == IN_CLASS_INTERFACE) {
        return setup->request == GET_LINE_CODING ? send(device->line_coding, sizeof device->line_coding)
                                                 : stall;
    }
    if (setup->request == SET_LINE_CODING && setup->length == sizeof device->line_coding) {
        return (struct usb_reply){.answer = USB_RECEIVE, .count = setup->length};
    }
    if (setup->request == SET_CONTROL_LINE_STATE && setup->length == 0) {
        bool was_up = device->line_up;
        device->line_up = setup->value & DTR;
        return was_up && !device->line_up ? with_effect(USB_LINE_DOWN, 0) : done;
    }
    return stall;
}

static struct usb_reply vendor_request(const struct usb_setup *setup) {
    size_t count;
    if (setup->request != USB_MS_REQUEST || setup->index != USB_MS_INDEX) {
        return stall;
    }
    const uint8_t *data = usb_ms_descriptors(&count);
    return send(data, count);
}

struct usb_reply usb_control(struct usb_device *device, const struct usb_setup *setup) {
    switch (setup->type) {
    case OUT_DEVICE:
        return to_device(device, setup);
    case IN_DEVICE:
        return from_device(device, setup);
    case OUT_INTERFACE:
    case IN_INTERFACE:
        return interface_setting(device, setup);
    case OUT_ENDPOINT:
    case IN_ENDPOINT:
        return endpoint_request(device, setup);
    case OUT_CLASS_INTERFACE:
    case IN_CLASS_INTERFACE:
        return serial_port(device, setup);
    case IN_VENDOR_DEVICE:
        return vendor_request(setup);
    default:
        return stall;
    }
}

bool usb_control_received(struct usb_device *device, const uint8_t *data, size_t count) {
    if (count != sizeof device->line_coding) {
        return false;
    }
    bytes_copy(device->line_coding, data, count);
    return true;
}
