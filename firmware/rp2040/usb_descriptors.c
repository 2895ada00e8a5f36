/*
 * Tables: USB 2.0 chapter 9 (9-8 device, 9-10 configuration, 9-12 interface, 9-13 endpoint, 9-15 and 9-16
 * strings); IAD: USB 3.2 table 9-16 and the ECN of 2003; BOS: USB 3.2 9.6.2; CDC 1.2 section 5.2.3; PSTN 1.2
 * section 5.3; "Microsoft OS 2.0 Descriptors Specification", tables 4, 10 to 14.
 */
#include "rp2040/usb_descriptors.h"

#include "core/board.h"

enum { DEVICE = 1, CONFIGURATION = 2, STRING = 3, BOS = 15 };
enum { NO_STRING, MANUFACTURER, PRODUCT, SERIAL };

#define LOW_HIGH(value) (uint8_t)((value)&0xFF), (uint8_t)((value) >> 8)
#define LOW_HIGH_32(value) LOW_HIGH((value)&0xFFFF), LOW_HIGH((value) >> 16)

static const uint8_t device[] = {
    18,
    DEVICE,
    LOW_HIGH(0x0210), /* the first to have a BOS */
    0xEF,
    2,
    1, /* made of functions, which have association descriptors */
    USB_EP0_PACKET,
    LOW_HIGH(USB_VENDOR),
    LOW_HIGH(USB_PRODUCT),
    LOW_HIGH(BOARD_FIRMWARE),
    MANUFACTURER,
    PRODUCT,
    SERIAL,
    1, /* configuration */
};

#define INTERFACE(number, endpoints, class, subclass, protocol)                                              \
    9, 4, (number), 0, (endpoints), (class), (subclass), (protocol), NO_STRING
#define ENDPOINT(address, type, packet, interval) 7, 5, (address), (type), LOW_HIGH(packet), (interval)
enum { BULK = 2, INTERRUPT = 3, CDC = 2, CDC_ACM = 2, CDC_DATA = 10, CS_INTERFACE = 0x24 };
enum { CONFIGURATION_BYTES = 9 + (9 + 2 * 7) + 8 + (9 + 5 + 5 + 4 + 5 + 7) + (9 + 2 * 7) };

enum { POWER_AT = 8 };
static uint8_t configuration[] = {
    9,
    CONFIGURATION,
    LOW_HIGH(CONFIGURATION_BYTES),
    USB_INTERFACES,
    USB_CONFIGURATION,
    NO_STRING,
    0x80, /* powered by the bus, does not wake the host */
    0,    /* POWER_AT */

    INTERFACE(USB_WIRE_INTERFACE, 2, USB_WIRE_CLASS, USB_WIRE_SUBCLASS, USB_WIRE_PROTOCOL),
    ENDPOINT(USB_WIRE_OUT, BULK, 64, 0),
    ENDPOINT(USB_WIRE_IN, BULK, 64, 0),

    8,
    11,
    USB_CDC_INTERFACE,
    2,
    CDC,
    CDC_ACM,
    0,
    NO_STRING,
    INTERFACE(USB_CDC_INTERFACE, 1, CDC, CDC_ACM, 0),
    5,
    CS_INTERFACE,
    0,
    LOW_HIGH(0x0120), /* header: CDC 1.2 */
    5,
    CS_INTERFACE,
    1,
    0,
    USB_CDC_DATA_INTERFACE, /* no call management */
    4,
    CS_INTERFACE,
    2,
    2, /* ACM: line coding and line state */
    5,
    CS_INTERFACE,
    6,
    USB_CDC_INTERFACE,
    USB_CDC_DATA_INTERFACE, /* union */
    ENDPOINT(USB_CDC_NOTIFY, INTERRUPT, USB_NOTIFY_PACKET, 32),
    INTERFACE(USB_CDC_DATA_INTERFACE, 2, CDC_DATA, 0, 0),
    ENDPOINT(USB_CDC_OUT, BULK, 64, 0),
    ENDPOINT(USB_CDC_IN, BULK, 64, 0),
};
_Static_assert(sizeof configuration == CONFIGURATION_BYTES, "wTotalLength");

enum { MS_HEAD = 10 + 8 + 8 + 20 + 8, MS_PROPERTY = 8 + 42 + 2 + 80, MS_BYTES = MS_HEAD - 8 + MS_PROPERTY };
#define WINDOWS_8_1 0x06030000u

static const uint8_t bos[] = {
    5,
    BOS,
    LOW_HIGH(5 + 28),
    1,
    /* Platform capability {D8DD60DF-4589-4CC7-9CD2-659D9E648A9F}: Microsoft OS 2.0 */
    28,
    16,
    5,
    0,
    0xDF,
    0x60,
    0xDD,
    0xD8,
    0x89,
    0x45,
    0xC7,
    0x4C,
    0x9C,
    0xD2,
    0x65,
    0x9D,
    0x9E,
    0x64,
    0x8A,
    0x9F,
    LOW_HIGH_32(WINDOWS_8_1),
    LOW_HIGH(MS_BYTES),
    USB_MS_REQUEST,
    0,
};
_Static_assert(sizeof bos == 5 + 28, "wTotalLength");

/* Without the property Windows gives its driver to the interface, and programs (libusb) no name to open it
 * by. */
#define INTERFACE_GUID u"{E8BEC292-34F9-46E5-81F3-CB8ABFA2C37C}\0" /* and a zero more: the list's end */
#define GUIDS_NAME u"DeviceInterfaceGUIDs"

static const struct {
    uint8_t head[MS_HEAD];
    uint16_t name[sizeof(GUIDS_NAME) / 2]; /* UTF-16, little endian as the chip is */
    uint8_t value_length[2];
    uint16_t value[sizeof(INTERFACE_GUID) / 2];
} ms_set = {
    .head =
        {
            LOW_HIGH(10),
            LOW_HIGH(0),
            LOW_HIGH_32(WINDOWS_8_1),
            LOW_HIGH(MS_BYTES),
            LOW_HIGH(8),
            LOW_HIGH(1),
            0,
            0,
            LOW_HIGH(MS_BYTES - 10), /* the first configuration */
            LOW_HIGH(8),
            LOW_HIGH(2),
            USB_WIRE_INTERFACE,
            0,
            LOW_HIGH(MS_BYTES - 18), /* its vendor function */
            LOW_HIGH(20),
            LOW_HIGH(3),
            'W',
            'I',
            'N',
            'U',
            'S',
            'B',
            0,
            0,
            0,
            0,
            0,
            0,
            0,
            0,
            0,
            0,
            LOW_HIGH(MS_PROPERTY),
            LOW_HIGH(4), /* a property in the registry */
            LOW_HIGH(7), /* a list of strings */
            LOW_HIGH(sizeof(GUIDS_NAME)),
        },
    .name = GUIDS_NAME,
    .value_length = {LOW_HIGH(sizeof(INTERFACE_GUID))},
    .value = INTERFACE_GUID,
};
_Static_assert(sizeof ms_set == MS_BYTES && sizeof(GUIDS_NAME) == 42 && sizeof(INTERFACE_GUID) == 80,
               "wTotalLength");

/* An answer shorter than was asked for must end with a packet that is not full (USB 2.0, 5.5.3), and no empty
 * one is ever sent after a full one. */
_Static_assert(sizeof configuration % USB_EP0_PACKET && sizeof bos % USB_EP0_PACKET &&
                   sizeof ms_set % USB_EP0_PACKET,
               "a descriptor that ends with a full packet");

static const uint8_t languages[] = {4, STRING, LOW_HIGH(0x0409)};

/* UTF-16, little endian; the longest is the serial. */
static uint8_t string[2 + 2 * 2 * WIRE_SERIAL];

static size_t string_of(const char *text) {
    size_t count = 2;
    for (; *text && count < sizeof string; text++) {
        string[count++] = (uint8_t)*text;
        string[count++] = 0;
    }
    string[0] = (uint8_t)count;
    string[1] = STRING;
    return count;
}

static size_t string_of_serial(const uint8_t serial[WIRE_SERIAL]) {
    char text[2 * WIRE_SERIAL + 1];
    for (int i = 0; i < 2 * WIRE_SERIAL; i++) {
        text[i] = "0123456789ABCDEF"[serial[i / 2] >> (i % 2 ? 0 : 4) & 15];
    }
    text[2 * WIRE_SERIAL] = 0;
    return string_of(text);
}

static const uint8_t *string_descriptor(uint8_t index, const uint8_t serial[WIRE_SERIAL], size_t *count) {
    switch (index) {
    case 0:
        *count = sizeof languages;
        return languages;
    case MANUFACTURER:
        *count = string_of(USB_MANUFACTURER);
        return string;
    case PRODUCT:
        *count = string_of(usb_identity.product);
        return string;
    case SERIAL:
        *count = string_of_serial(serial);
        return string;
    default:
        return NULL;
    }
}

const uint8_t *usb_descriptor(uint8_t type, uint8_t index, const uint8_t serial[WIRE_SERIAL], size_t *count) {
    if (type == STRING) {
        return string_descriptor(index, serial, count);
    }
    if (index != 0) {
        return NULL;
    }
    switch (type) {
    case DEVICE:
        *count = sizeof device;
        return device;
    case CONFIGURATION:
        *count = sizeof configuration;
        configuration[POWER_AT] = usb_identity.power;
        return configuration;
    case BOS:
        *count = sizeof bos;
        return bos;
    default:
        return NULL;
    }
}

const uint8_t *usb_ms_descriptors(size_t *count) {
    *count = sizeof ms_set;
    return (const uint8_t *)&ms_set;
}
