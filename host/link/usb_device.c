#include "link/usb_device.h"

#include "link/discover.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

static enum usb_outcome usb_outcome(int error) {
    switch (error) {
    case LIBUSB_SUCCESS:
        return USB_OPENED;
    case LIBUSB_ERROR_ACCESS:
        return USB_NO_PERMISSION;
    case LIBUSB_ERROR_BUSY:
        return USB_BUSY;
    case LIBUSB_ERROR_NO_DEVICE:
    case LIBUSB_ERROR_NOT_FOUND:
        return USB_NOT_FOUND;
    default:
        return USB_FAILED;
    }
}

bool usb_start(libusb_context **context, struct problem *problem) {
    int error = libusb_init(context);
    if (error != LIBUSB_SUCCESS) {
        *context = NULL;
        return problem_set(problem, PROBLEM_BENCH,
                           "USB cannot be used here (%s); check that the system has it and that "
                           "/dev/bus/usb can be read",
                           libusb_strerror(error));
    }
    return true;
}

/* A device's text goes to terminals and into messages. */
static void text_clean(char *text) {
    for (char *c = text; *c != '\0'; c++) {
        if (*c < ' ' || *c > '~') {
            *c = '?';
        }
    }
}

static void port_path(libusb_device *device, char *where, size_t size) {
    uint8_t ports[8];
    int count = libusb_get_port_numbers(device, ports, sizeof ports);
    int length = snprintf(where, size, "%d", libusb_get_bus_number(device));
    for (int i = 0; i < count && length >= 0 && (size_t)length < size; i++) {
        length += snprintf(where + length, size - (size_t)length, "%c%d", i == 0 ? '-' : '.', ports[i]);
    }
}

/* What the kernel noted of the texts when the device was plugged in: may be read by who may not open it. */
static void text_from_kernel(const char *where, const char *attribute, char *text, size_t size) {
    char path[160];
    snprintf(path, sizeof path, "/sys/bus/usb/devices/%s/%s", where, attribute);
    text[0] = '\0';
    FILE *file = fopen(path, "re");
    if (file == NULL) {
        return;
    }
    if (fgets(text, (int)size, file) == NULL) {
        text[0] = '\0';
    }
    text[strcspn(text, "\n")] = '\0';
    fclose(file);
    text_clean(text);
}

static void text_from_device(libusb_device_handle *handle, uint8_t index, char *text, size_t size) {
    text[0] = '\0';
    if (index == 0) {
        return;
    }
    int length = libusb_get_string_descriptor_ascii(handle, index, (unsigned char *)text, (int)size - 1);
    text[length > 0 ? length : 0] = '\0';
    text_clean(text);
}

static void seen_texts(struct usb_seen *seen, const struct libusb_device_descriptor *descriptor) {
    libusb_device_handle *handle;
    seen->opens = usb_outcome(libusb_open(seen->device, &handle));
    if (seen->opens == USB_OPENED) {
        text_from_device(handle, descriptor->iManufacturer, seen->manufacturer, sizeof seen->manufacturer);
        text_from_device(handle, descriptor->iProduct, seen->product, sizeof seen->product);
        text_from_device(handle, descriptor->iSerialNumber, seen->serial, sizeof seen->serial);
        libusb_close(handle);
    } else {
        text_from_kernel(seen->where, "manufacturer", seen->manufacturer, sizeof seen->manufacturer);
        text_from_kernel(seen->where, "product", seen->product, sizeof seen->product);
        text_from_kernel(seen->where, "serial", seen->serial, sizeof seen->serial);
    }
}

static bool is_reader(const struct usb_seen *seen) {
    return strcmp(seen->product, USB_READER_TEXT) == 0;
}

/* A device that may not be opened and whose texts nobody knows may be ours: a lack of permission is the
 * better thing to tell its owner. */
static bool is_ours(const struct usb_seen *seen) {
    if (seen->opens != USB_OPENED && seen->product[0] == '\0' && seen->manufacturer[0] == '\0') {
        return true;
    }
    return (strcmp(seen->product, USB_PRODUCT_TEXT) == 0 || is_reader(seen)) &&
           strcmp(seen->manufacturer, USB_MANUFACTURER) == 0;
}

static bool look(libusb_device *device, struct usb_seen *seen) {
    struct libusb_device_descriptor descriptor;
    if (libusb_get_device_descriptor(device, &descriptor) != LIBUSB_SUCCESS) {
        return false;
    }
    bool test = descriptor.idVendor == USB_VENDOR && descriptor.idProduct == USB_PRODUCT;
    bool loader = descriptor.idVendor == USB_LOADER_VENDOR && descriptor.idProduct == USB_LOADER_PRODUCT;
    if (!test && !loader) {
        return false;
    }
    memset(seen, 0, sizeof *seen);
    seen->device = device;
    port_path(device, seen->where, sizeof seen->where);
    if (loader) {
        seen->kind = USB_LOADER;
        return true;
    }
    seen_texts(seen, &descriptor);
    seen->kind = is_ours(seen) ? USB_OURS : USB_OTHER;
    seen->reader = seen->kind == USB_OURS && is_reader(seen);
    return true;
}

bool usb_list_read(libusb_context *context, struct usb_list *list, struct problem *problem) {
    list->count = 0;
    libusb_device **devices;
    ssize_t count = libusb_get_device_list(context, &devices);
    if (count < 0) {
        return problem_set(problem, PROBLEM_BENCH, "the USB devices cannot be listed (%s)",
                           libusb_strerror((int)count));
    }
    for (ssize_t i = 0; i < count && list->count < USB_SEEN_MAX; i++) {
        struct usb_seen *seen = &list->seen[list->count];
        /* One that went away while it was asked is not there. */
        if (look(devices[i], seen) && seen->opens != USB_NOT_FOUND) {
            libusb_ref_device(devices[i]);
            list->count++;
        }
    }
    libusb_free_device_list(devices, 1);
    return true;
}

void usb_list_free(struct usb_list *list) {
    for (size_t i = 0; i < list->count; i++) {
        libusb_unref_device(list->seen[i].device);
    }
    list->count = 0;
}

/* Appends to a list in words; what does not fit is left out. */
static void append(char *text, size_t size, const struct usb_seen *seen) {
    size_t length = strlen(text);
    snprintf(text + length, size - length, "%s%s (%sserial %s)", length > 0 ? ", " : "", seen->where,
             seen->reader ? "reader, " : "", seen->serial[0] != '\0' ? seen->serial : "not known");
}

/* Without a name it is the kind that counts. */
static bool is_kind(const char *choice) {
    return choice == NULL || strcmp(choice, TRANSPORT_ANY_READER) == 0;
}

static bool is_meant(const struct usb_seen *seen, const char *choice) {
    if (is_kind(choice)) {
        return seen->reader == (choice != NULL);
    }
    return strcmp(seen->where, choice) == 0 ||
           (seen->kind == USB_OURS && strcasecmp(seen->serial, choice) == 0);
}

static enum usb_outcome none_found(const struct usb_list *list, const char *choice, const char *boards,
                                   struct problem *problem) {
    const struct usb_seen *near = NULL;
    for (size_t i = 0; i < list->count && near == NULL; i++) {
        if (list->seen[i].kind != USB_OURS && (is_kind(choice) || is_meant(&list->seen[i], choice))) {
            near = &list->seen[i];
        }
    }
    if (near != NULL && near->kind == USB_LOADER) {
        problem_set(problem, PROBLEM_BENCH,
                    "the board at USB port %s waits in its own boot loader; copy slotjig-pico.uf2 to the "
                    "drive it shows",
                    near->where);
    } else if (near != NULL) {
        problem_set(problem, PROBLEM_BENCH,
                    "the USB device at port %s is \"%s\" by \"%s\", not a slotjig board, although it uses "
                    "the same test identity %04X:%04X; plug in a board, or flash this one",
                    near->where, near->product, near->manufacturer, USB_VENDOR, USB_PRODUCT);
    } else if (is_kind(choice) && boards[0] != '\0') {
        problem_set(problem, PROBLEM_BENCH, "no %s on USB; what is attached is a %s: %s",
                    choice != NULL ? "reader" : "cartridge board",
                    choice != NULL ? "cartridge board" : "reader", boards);
    } else if (is_kind(choice)) {
        problem_set(problem, PROBLEM_BENCH,
                    "no %s on USB; plug one in, try another cable (some only charge), and see `slotjig "
                    "boards`",
                    choice != NULL ? "reader" : "board");
    } else if (boards[0] != '\0') {
        problem_set(problem, PROBLEM_BENCH,
                    "no board with the serial or at the USB port \"%s\"; attached: %s", choice, boards);
    } else {
        problem_set(problem, PROBLEM_BENCH,
                    "no board with the serial or at the USB port \"%s\", and none other; plug it in, and see "
                    "`slotjig boards`",
                    choice);
    }
    return USB_NOT_FOUND;
}

enum usb_outcome usb_choose(const struct usb_list *list, const char *choice, size_t *index,
                            struct problem *problem) {
    char boards[400] = "";
    size_t meant = 0;
    for (size_t i = 0; i < list->count; i++) {
        const struct usb_seen *seen = &list->seen[i];
        if (seen->kind != USB_OURS) {
            continue;
        }
        append(boards, sizeof boards, seen);
        if (is_meant(seen, choice)) {
            *index = i;
            meant++;
        }
    }
    if (meant == 0) {
        return none_found(list, choice, boards, problem);
    }
    if (meant > 1) {
        problem_set(problem, PROBLEM_INPUT, "%zu %s%s%s: %s; choose one by its serial or its port path",
                    meant, choice != NULL && is_kind(choice) ? "readers" : "boards",
                    is_kind(choice) ? "" : " are meant by ", is_kind(choice) ? "" : choice, boards);
        return USB_NOT_CHOSEN;
    }
    return USB_OPENED;
}

static bool is_board_interface(const struct libusb_interface_descriptor *interface) {
    return interface->bInterfaceClass == USB_WIRE_CLASS &&
           interface->bInterfaceSubClass == USB_WIRE_SUBCLASS &&
           interface->bInterfaceProtocol == USB_WIRE_PROTOCOL;
}

/* The first bulk endpoint each way. */
static bool endpoints_find(const struct libusb_interface_descriptor *interface, struct usb_pipes *pipes) {
    pipes->in = pipes->out = 0;
    for (uint8_t i = 0; i < interface->bNumEndpoints; i++) {
        const struct libusb_endpoint_descriptor *endpoint = &interface->endpoint[i];
        if ((endpoint->bmAttributes & LIBUSB_TRANSFER_TYPE_MASK) != LIBUSB_TRANSFER_TYPE_BULK) {
            continue;
        }
        bool in = (endpoint->bEndpointAddress & LIBUSB_ENDPOINT_IN) != 0;
        uint8_t *address = in ? &pipes->in : &pipes->out;
        if (*address == 0) {
            *address = endpoint->bEndpointAddress;
            pipes->packet = in ? endpoint->wMaxPacketSize & 0x7FF : pipes->packet;
        }
    }
    return pipes->in != 0 && pipes->out != 0 && pipes->packet > 0;
}

/* No assumption on numbers: a board has other interfaces too, and a later firmware may order them
 * differently. */
static bool pipes_find(libusb_device *device, struct usb_pipes *pipes) {
    struct libusb_config_descriptor *config;
    if (libusb_get_active_config_descriptor(device, &config) != LIBUSB_SUCCESS) {
        return false;
    }
    bool found = false;
    for (uint8_t i = 0; i < config->bNumInterfaces && !found; i++) {
        /* Alternate settings would have to be selected; the board has none. */
        if (config->interface[i].num_altsetting < 1) {
            continue;
        }
        const struct libusb_interface_descriptor *interface = &config->interface[i].altsetting[0];
        found = is_board_interface(interface) && endpoints_find(interface, pipes);
        pipes->interface = interface->bInterfaceNumber;
    }
    libusb_free_config_descriptor(config);
    return found;
}

static enum usb_outcome open_failed(const struct usb_seen *seen, enum usb_outcome outcome,
                                    struct problem *problem) {
    switch (outcome) {
    case USB_NO_PERMISSION:
        problem_set(
            problem, PROBLEM_BENCH,
            "no permission to open the board at USB port %s; install the udev rule (60-slotjig.rules) "
            "and plug the board in again",
            seen->where);
        break;
    case USB_BUSY:
        problem_set(problem, PROBLEM_BENCH,
                    "another program has the board at USB port %s; end that program and try again",
                    seen->where);
        break;
    case USB_NOT_FOUND:
        problem_set(problem, PROBLEM_BENCH, "the board at USB port %s went away; plug it in again",
                    seen->where);
        break;
    case USB_NO_INTERFACE:
        problem_set(problem, PROBLEM_BENCH,
                    "the board at USB port %s has no interface that this program speaks to; flash the "
                    "firmware that belongs to this version",
                    seen->where);
        break;
    default:
        problem_set(problem, PROBLEM_BENCH,
                    "the board at USB port %s cannot be opened; unplug it and plug it in again", seen->where);
        break;
    }
    return outcome;
}

enum usb_outcome usb_pipes_open(const struct usb_seen *seen, struct usb_pipes *pipes,
                                struct problem *problem) {
    memset(pipes, 0, sizeof *pipes);
    enum usb_outcome outcome = usb_outcome(libusb_open(seen->device, &pipes->handle));
    if (outcome != USB_OPENED) {
        pipes->handle = NULL;
        return open_failed(seen, outcome, problem);
    }
    if (!pipes_find(seen->device, pipes)) {
        outcome = USB_NO_INTERFACE;
    } else {
        /* A system may have bound a driver of its own; where it cannot be detached, claiming says so. */
        libusb_set_auto_detach_kernel_driver(pipes->handle, 1);
        outcome = usb_outcome(libusb_claim_interface(pipes->handle, pipes->interface));
    }
    if (outcome != USB_OPENED) {
        libusb_close(pipes->handle);
        pipes->handle = NULL;
        return open_failed(seen, outcome, problem);
    }
    return USB_OPENED;
}
