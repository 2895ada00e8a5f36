/*
 * A real kernel: the grabber is a UVC device on the USB stage's vhci-hcd, and everything above (enumeration,
 * uvcvideo, the V4L2 core, buffers, nodes) is the kernel's own. Descriptors and requests: USB Device Class
 * Definition for Video Devices 1.1, sections 3.7 to 3.9, 4.3 and 2.4.3.3 (payload headers), in the structures
 * of linux/usb/video.h. Bulk streaming: vhci-hcd carries no isochronous packets well.
 */
#include "video/stage.h"

#include "usb/stage.h"
#include "video/node.h"

#include <endian.h>
#include <linux/usb/ch9.h>
#include <linux/usb/video.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum {
    PORT = 2, /* the stage's boards are plugged in before it */
    VENDOR = 0x1209,
    PRODUCT = 0x0001, /* pid.codes' pair for tests */
    ENDPOINT = 1,
    HIGH_SPEED_BULK = 512,
    PAYLOAD = 16384, /* most that uvcvideo asks for at once */
    HEADER = 2,
    CAMERA = 1,
    STREAM = 2, /* terminals */
    NODE_WAIT_MS = 20000,
    WIRE_WAIT_MS = 300
};

/* ---- descriptors ---- */

DECLARE_UVC_HEADER_DESCRIPTOR(1);
DECLARE_UVC_INPUT_HEADER_DESCRIPTOR(1, 1);
DECLARE_UVC_FRAME_UNCOMPRESSED(1);

/* uvc_camera_terminal_descriptor has three bytes of controls. */
enum { CAMERA_SIZE = UVC_DT_CAMERA_TERMINAL_SIZE(3) };

struct endpoint { /* usb_endpoint_descriptor is longer than it is on the wire */
    uint8_t length, type, address, attributes;
    uint16_t packet;
    uint8_t interval;
} __attribute__((packed));

struct configuration {
    struct usb_config_descriptor config;
    struct usb_interface_assoc_descriptor association;
    struct usb_interface_descriptor control;
    struct uvc_header_descriptor_1 header;
    struct uvc_camera_terminal_descriptor camera;
    struct uvc_output_terminal_descriptor out;
    struct usb_interface_descriptor streaming;
    struct UVC_INPUT_HEADER_DESCRIPTOR(1, 1) input;
} __attribute__((packed));

struct tail {
    struct uvc_frame_uncompressed_1 frame; /* MJPEG's has the same fields */
    struct uvc_color_matching_descriptor color;
    struct endpoint endpoint;
} __attribute__((packed));

struct uvc {
    struct grabber_device *device;
    struct stage_port *port;
    int width, height;
    bool streaming;
    bool odd;       /* the frame's bit in its payloads' headers */
    uint8_t *frame; /* being sent */
    size_t size, sent;
    bool sending, marked;
};

static struct usb_interface_descriptor interface(uint8_t number, uint8_t endpoints, uint8_t subclass) {
    return (struct usb_interface_descriptor){.bLength = USB_DT_INTERFACE_SIZE,
                                             .bDescriptorType = USB_DT_INTERFACE,
                                             .bInterfaceNumber = number,
                                             .bNumEndpoints = endpoints,
                                             .bInterfaceClass = USB_CLASS_VIDEO,
                                             .bInterfaceSubClass = subclass};
}

static size_t add_format(const struct uvc *uvc, uint8_t *bytes) {
    if (uvc->device->mjpeg) {
        const struct uvc_format_mjpeg format = {.bLength = UVC_DT_FORMAT_MJPEG_SIZE,
                                                .bDescriptorType = USB_DT_CS_INTERFACE,
                                                .bDescriptorSubType = UVC_VS_FORMAT_MJPEG,
                                                .bFormatIndex = 1,
                                                .bNumFrameDescriptors = 1,
                                                .bDefaultFrameIndex = 1};
        memcpy(bytes, &format, sizeof format);
        return sizeof format;
    }
    const struct uvc_format_uncompressed format = {
        .bLength = UVC_DT_FORMAT_UNCOMPRESSED_SIZE,
        .bDescriptorType = USB_DT_CS_INTERFACE,
        .bDescriptorSubType = UVC_VS_FORMAT_UNCOMPRESSED,
        .bFormatIndex = 1,
        .bNumFrameDescriptors = 1,
        /* YUY2, Uncompressed Payload 1.1, table 2-1 */
        .guidFormat = {'Y', 'U', 'Y', '2', 0, 0, 0x10, 0, 0x80, 0, 0, 0xAA, 0, 0x38, 0x9B, 0x71},
        .bBitsPerPixel = 16,
        .bDefaultFrameIndex = 1};
    memcpy(bytes, &format, sizeof format);
    return sizeof format;
}

static uint32_t frame_size(const struct uvc *uvc) {
    return (uint32_t)(uvc->width * uvc->height * 2);
}

/* In 100 ns. */
static uint32_t interval(const struct uvc *uvc) {
    const struct standard_facts *facts = &standard_table[uvc->device->feed.standard];
    return (uint32_t)(10000000LL * facts->frame_rate_den / facts->frame_rate_num);
}

static struct tail tail(const struct uvc *uvc) {
    const uint32_t rate = frame_size(uvc) * 8U * 30U;
    return (struct tail){
        .frame = {.bLength = UVC_DT_FRAME_UNCOMPRESSED_SIZE(1),
                  .bDescriptorType = USB_DT_CS_INTERFACE,
                  .bDescriptorSubType = uvc->device->mjpeg ? UVC_VS_FRAME_MJPEG : UVC_VS_FRAME_UNCOMPRESSED,
                  .bFrameIndex = 1,
                  .wWidth = htole16((uint16_t)uvc->width),
                  .wHeight = htole16((uint16_t)uvc->height),
                  .dwMinBitRate = htole32(rate),
                  .dwMaxBitRate = htole32(rate),
                  .dwMaxVideoFrameBufferSize = htole32(frame_size(uvc)),
                  .dwDefaultFrameInterval = htole32(interval(uvc)),
                  .bFrameIntervalType = 1,
                  .dwFrameInterval = {htole32(interval(uvc))}},
        .color = {.bLength = UVC_DT_COLOR_MATCHING_SIZE,
                  .bDescriptorType = USB_DT_CS_INTERFACE,
                  .bDescriptorSubType = 0x0D, /* VS_COLORFORMAT */
                  .bColorPrimaries = UVC_COLOR_PRIMARIES_SMPTE_170M,
                  .bTransferCharacteristics = UVC_TRANSFER_CHARACTERISTICS_BT_709,
                  .bMatrixCoefficients = UVC_MATRIX_COEFFICIENTS_SMPTE_170M},
        .endpoint = {.length = USB_DT_ENDPOINT_SIZE,
                     .type = USB_DT_ENDPOINT,
                     .address = USB_DIR_IN | ENDPOINT,
                     .attributes = USB_ENDPOINT_XFER_BULK,
                     .packet = htole16(HIGH_SPEED_BULK)}};
}

static size_t config(void *state, uint8_t *bytes) {
    const struct uvc *uvc = state;
    struct configuration head = {
        .config = {.bLength = USB_DT_CONFIG_SIZE,
                   .bDescriptorType = USB_DT_CONFIG,
                   .bNumInterfaces = 2,
                   .bConfigurationValue = 1,
                   .bmAttributes = USB_CONFIG_ATT_ONE,
                   .bMaxPower = 250},
        .association = {.bLength = USB_DT_INTERFACE_ASSOCIATION_SIZE,
                        .bDescriptorType = USB_DT_INTERFACE_ASSOCIATION,
                        .bInterfaceCount = 2,
                        .bFunctionClass = USB_CLASS_VIDEO,
                        .bFunctionSubClass = UVC_SC_VIDEO_INTERFACE_COLLECTION},
        .control = interface(0, 0, UVC_SC_VIDEOCONTROL),
        .header = {.bLength = UVC_DT_HEADER_SIZE(1),
                   .bDescriptorType = USB_DT_CS_INTERFACE,
                   .bDescriptorSubType = UVC_VC_HEADER,
                   .bcdUVC = htole16(0x0110),
                   .wTotalLength = htole16(UVC_DT_HEADER_SIZE(1) + CAMERA_SIZE + UVC_DT_OUTPUT_TERMINAL_SIZE),
                   .dwClockFrequency = htole32(27000000),
                   .bInCollection = 1,
                   .baInterfaceNr = {1}},
        .camera = {.bLength = CAMERA_SIZE,
                   .bDescriptorType = USB_DT_CS_INTERFACE,
                   .bDescriptorSubType = UVC_VC_INPUT_TERMINAL,
                   .bTerminalID = CAMERA,
                   .wTerminalType = htole16(UVC_ITT_CAMERA),
                   .bControlSize = 3},
        .out = {.bLength = UVC_DT_OUTPUT_TERMINAL_SIZE,
                .bDescriptorType = USB_DT_CS_INTERFACE,
                .bDescriptorSubType = UVC_VC_OUTPUT_TERMINAL,
                .bTerminalID = STREAM,
                .wTerminalType = htole16(UVC_TT_STREAMING),
                .bSourceID = CAMERA},
        .streaming = interface(1, 1, UVC_SC_VIDEOSTREAMING),
        .input = {.bLength = UVC_DT_INPUT_HEADER_SIZE(1, 1),
                  .bDescriptorType = USB_DT_CS_INTERFACE,
                  .bDescriptorSubType = UVC_VS_INPUT_HEADER,
                  .bNumFormats = 1,
                  .bEndpointAddress = USB_DIR_IN | ENDPOINT,
                  .bTerminalLink = STREAM,
                  .bControlSize = 1}};
    const struct tail end = tail(uvc);
    const size_t format = add_format(uvc, bytes + sizeof head);
    const size_t length = sizeof head + format + sizeof end;
    head.input.wTotalLength =
        htole16((uint16_t)(sizeof head.input + format + sizeof end.frame + sizeof end.color));
    head.config.wTotalLength = htole16((uint16_t)length);
    memcpy(bytes, &head, sizeof head);
    memcpy(bytes + sizeof head + format, &end, sizeof end);
    return length;
}

/* ---- requests ---- */

/* There is one thing to agree on, so that every question has the same answer. */
static bool negotiate(struct uvc *uvc, struct model_request *request) {
    const struct uvc_streaming_control agreed = {.bmHint = htole16(1),
                                                 .bFormatIndex = 1,
                                                 .bFrameIndex = 1,
                                                 .dwFrameInterval = htole32(interval(uvc)),
                                                 .dwMaxVideoFrameSize = htole32(frame_size(uvc)),
                                                 .dwMaxPayloadTransferSize = htole32(PAYLOAD),
                                                 .dwClockFrequency = htole32(27000000)};
    const uint8_t selector = request->setup[3];
    const uint16_t length = htole16(sizeof agreed);
    const uint8_t info = UVC_CONTROL_CAP_GET | UVC_CONTROL_CAP_SET;
    const void *answer = &agreed;
    size_t size = sizeof agreed;
    if (selector != UVC_VS_PROBE_CONTROL && selector != UVC_VS_COMMIT_CONTROL) {
        return false;
    }
    switch (request->setup[1]) {
    case UVC_SET_CUR:
        uvc->streaming = uvc->streaming || selector == UVC_VS_COMMIT_CONTROL;
        request->moved = request->length;
        return true;
    case UVC_GET_LEN:
        answer = &length;
        size = sizeof length;
        break;
    case UVC_GET_INFO:
        answer = &info;
        size = sizeof info;
        break;
    default:
        break;
    }
    request->moved = size < request->length ? size : request->length;
    memcpy(request->bytes, answer, request->moved);
    return true;
}

static bool control(void *state, struct model_request *request) {
    /* the streaming interface's; the terminals have no controls */
    return request->setup[4] == 1 && negotiate(state, request);
}

/* How uvcvideo says that a bulk stream has ended. */
static void cleared(void *state) {
    struct uvc *uvc = state;
    uvc->streaming = false;
    uvc->sending = false;
}

/* One payload a request: header, then what fits. The last of a frame says so. */
static bool send_payload(void *state, struct model_request *request) {
    struct uvc *uvc = state;
    if (!uvc->sending || request->length <= HEADER) {
        return false;
    }
    const size_t room = (request->length < PAYLOAD ? request->length : PAYLOAD) - HEADER;
    const size_t left = uvc->size - uvc->sent;
    const size_t part = left < room ? left : room;
    const bool last = part == left;
    request->bytes[0] = HEADER;
    request->bytes[1] = (uint8_t)(UVC_STREAM_EOH | (uvc->odd ? UVC_STREAM_FID : 0) |
                                  (last ? UVC_STREAM_EOF : 0) | (uvc->marked ? UVC_STREAM_ERR : 0));
    memcpy(request->bytes + HEADER, uvc->frame + uvc->sent, part);
    request->moved = HEADER + part;
    uvc->sent += part;
    uvc->sending = !last;
    uvc->odd ^= last;
    return true;
}

static const struct model_kind uvc_kind = {
    .speed = USB_SPEED_HIGH, .config = config, .control = control, .in = send_payload, .cleared = cleared};

/* ---- frames ---- */

static bool wants(void *state, struct feed_wish *wish) {
    const struct grabber_device *device = state;
    const struct uvc *uvc = device->carried;
    stage_lock();
    const bool wanted = uvc->streaming && uvc->port != NULL && uvc->port->plugged;
    stage_unlock();
    *wish = (struct feed_wish){.mjpeg = device->mjpeg, .dark = device->no_signal};
    return wanted;
}

/* Until the frame before it has left: an emulated processor cannot keep up with a console, so the console
 * waits for the wire. One that does not leave (nobody reads) is lost, as in a grabber with one buffer. */
static void wait_for_wire(const struct uvc *uvc) {
    bool free = false;
    for (int ms = 0; ms < WIRE_WAIT_MS && !free; ms++) {
        stage_lock();
        free = !uvc->sending || !uvc->streaming;
        stage_unlock();
        if (!free) {
            nanosleep(&(struct timespec){.tv_nsec = 1000000}, NULL);
        }
    }
}

static void give(void *state, const struct feed_frame *frame) {
    struct grabber_device *device = state;
    struct uvc *uvc = device->carried;
    wait_for_wire(uvc);
    stage_lock();
    if (!uvc->sending) {
        memcpy(uvc->frame, frame->bytes, frame->size);
        uvc->size = frame->size;
        uvc->sent = 0;
        uvc->marked = frame->marked;
        uvc->sending = true;
        stage_run(uvc->port);
    }
    stage_unlock();
}

/* ---- plugging ---- */

/* Waits for it: uvcvideo has some questions first. */
static bool find_node(char *node, size_t size) {
    for (int ms = 0; ms < NODE_WAIT_MS; ms += 20) {
        if (video_node("grabber", node, size) && access(node, R_OK) == 0) {
            return true;
        }
        nanosleep(&(struct timespec){.tv_nsec = 20000000}, NULL);
    }
    fprintf(stderr, "no video node came within %d ms\n", NODE_WAIT_MS);
    return false;
}

static bool plug_in(struct uvc *uvc) {
    static const struct model_identity identity = {
        .vendor = VENDOR, .product = PRODUCT, .texts = {"model", "grabber", "1"}};
    uvc->streaming = uvc->sending = false;
    uvc->port = stage_plug_kind(PORT, &identity, &uvc_kind, uvc);
    return uvc->port != NULL && find_node(uvc->device->node, sizeof uvc->device->node);
}

static bool plug(struct grabber_device *device) {
    struct video_about about;
    struct uvc *uvc = calloc(1, sizeof *uvc);
    video_tell(&device->source, &about, NULL);
    device->carried = uvc;
    if (uvc == NULL) {
        return false;
    }
    *uvc = (struct uvc){.device = device, .width = about.width, .height = about.height};
    uvc->frame = malloc(frame_size(uvc) * 2);
    return uvc->frame != NULL && plug_in(uvc);
}

static void unplug(struct grabber_device *device) {
    struct uvc *uvc = device->carried;
    if (uvc->port != NULL) {
        stage_unplug(uvc->port);
        uvc->port = NULL;
    }
}

static void feed_unplug(void *state) {
    unplug(state);
}

static void feed_plug(void *state) {
    struct grabber_device *device = state;
    plug_in(device->carried);
}

static struct feed_taker taker(struct grabber_device *device) {
    return (struct feed_taker){
        .state = device, .wants = wants, .give = give, .unplug = feed_unplug, .plug = feed_plug};
}

static void forget(struct grabber_device *device) {
    struct uvc *uvc = device->carried;
    free(uvc->frame);
    free(uvc);
}

const struct grabber_carrier grabber_uvc = {
    .name = "uvcvideo of this kernel", .plug = plug, .unplug = unplug, .taker = taker, .forget = forget};
