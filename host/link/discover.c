#include "link/discover.h"

#include "link/probe.h"
#include "link/usb_device.h"

#include <libserialport.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

static const struct {
    const char *name, *next;
} states[] = {
    [BOARD_READY] = {"ready", ""},
    [BOARD_NO_PERMISSION] = {"no_permission",
                             "install the udev rule 60-slotjig.rules (make install does) and plug the board "
                             "in again"},
    [BOARD_BUSY] = {"busy", "end the other program that has it"},
    [BOARD_OLD_FIRMWARE] = {"old_firmware", "flash the firmware that belongs to this version of slotjig"},
    [BOARD_WRONG_PRODUCT] = {"wrong_product",
                             "leave it, it is another maker's; if it is meant to be a board, flash "
                             "slotjig-pico.uf2"},
    [BOARD_SILENT] = {"silent", "unplug it and plug it in again; if that does not help, flash its firmware"},
    [BOARD_LOADER] =
        {"loader", "copy slotjig-pico.uf2 to the drive it shows (slotjig-reader.uf2 where it is a reader)"},
};

const char *board_state_name(enum board_state state) {
    return states[state].name;
}

static void settle(struct board_found *board, enum board_state state) {
    board->state = state;
    snprintf(board->next, sizeof board->next, "%s", states[state].next);
}

/* What is found is written to the caller's array while there is room, and only counted beyond that. */
struct finder {
    struct board_found *boards;
    size_t max, count;
};

static void keep(struct finder *finder, const struct board_found *board) {
    if (finder->count < finder->max) {
        finder->boards[finder->count] = *board;
    }
    finder->count++;
}

static void hello(struct board_found *board, const struct transport *transport) {
    struct probe_facts facts;
    enum probe found = probe_hello(transport, &facts);
    transport->close(transport->state);
    if (facts.firmware_major >= 0) {
        snprintf(board->firmware, sizeof board->firmware, "%d.%d", facts.firmware_major,
                 facts.firmware_minor);
    }
    if (facts.serial[0] != '\0') {
        snprintf(board->serial, sizeof board->serial, "%s", facts.serial);
    }
    settle(board, found == PROBE_GOOD            ? BOARD_READY
                  : found == PROBE_OTHER_VERSION ? BOARD_OLD_FIRMWARE
                                                 : BOARD_SILENT);
    if (found == PROBE_OTHER_VERSION && facts.version > WIRE_VERSION) {
        snprintf(board->next, sizeof board->next,
                 "its firmware is newer than this program: install a newer slotjig");
    }
}

/* ---- USB ---- */

/* False: it went away meanwhile. */
static bool ask_usb(struct board_found *board) {
    struct transport transport;
    switch (usb_transport(board->where, &transport, NULL)) {
    case USB_OPENED:
        hello(board, &transport);
        return true;
    case USB_NO_PERMISSION:
        settle(board, BOARD_NO_PERMISSION);
        return true;
    case USB_BUSY:
        settle(board, BOARD_BUSY);
        return true;
    case USB_NO_INTERFACE:
        settle(board, BOARD_OLD_FIRMWARE);
        return true;
    case USB_NOT_FOUND:
        return false;
    default:
        settle(board, BOARD_SILENT);
        return true;
    }
}

static void find_usb(const struct usb_seen *seen, struct finder *finder) {
    struct board_found board = {.transport = "usb", .reader = seen->reader};
    snprintf(board.where, sizeof board.where, "%s", seen->where);
    snprintf(board.product, sizeof board.product, "%s", seen->product);
    if (seen->kind != USB_OTHER) {
        snprintf(board.serial, sizeof board.serial, "%.*s", 2 * WIRE_SERIAL, seen->serial);
    }
    if (seen->kind == USB_LOADER) {
        settle(&board, BOARD_LOADER);
    } else if (seen->kind == USB_OTHER) {
        settle(&board, BOARD_WRONG_PRODUCT);
    } else if (!ask_usb(&board)) {
        return;
    }
    keep(finder, &board);
}

static bool find_all_usb(struct finder *finder, struct problem *problem) {
    libusb_context *context;
    struct usb_list list;
    if (!usb_start(&context, problem)) {
        return false;
    }
    bool good = usb_list_read(context, &list, problem);
    for (size_t i = 0; good && i < list.count; i++) {
        find_usb(&list.seen[i], finder);
    }
    if (good) {
        usb_list_free(&list);
    }
    libusb_exit(context);
    return good;
}

/* ---- the boards' own serial ports ---- */

static bool is_text(const char *text, const char *wanted) {
    return text != NULL && strcmp(text, wanted) == 0;
}

static bool is_reader_port(const struct sp_port *port) {
    return is_text(sp_get_port_usb_product(port), USB_READER_TEXT);
}

static bool is_our_port(const struct sp_port *port) {
    int vendor, product;
    return sp_get_port_transport(port) == SP_TRANSPORT_USB &&
           sp_get_port_usb_vid_pid(port, &vendor, &product) == SP_OK && vendor == USB_VENDOR &&
           product == USB_PRODUCT && is_text(sp_get_port_usb_manufacturer(port), USB_MANUFACTURER) &&
           (is_text(sp_get_port_usb_product(port), USB_PRODUCT_TEXT) || is_reader_port(port));
}

/* The same board's entry on USB, or NULL. */
static struct board_found *same_board(const struct finder *finder, const char *serial) {
    size_t there = finder->count < finder->max ? finder->count : finder->max;
    for (size_t i = 0; i < there; i++) {
        if (strcmp(finder->boards[i].transport, "usb") == 0 &&
            strcasecmp(finder->boards[i].serial, serial) == 0) {
            return &finder->boards[i];
        }
    }
    return NULL;
}

static void ask_serial(struct board_found *board) {
    struct transport transport;
    if (access(board->where, R_OK | W_OK) != 0) {
        settle(board, BOARD_NO_PERMISSION);
    } else if (!transport_serial(board->where, 115200, &transport, NULL)) {
        settle(board, BOARD_BUSY);
    } else {
        hello(board, &transport);
    }
}

/* A board has its serial port beside its USB interface: it is listed once, by the better way. */
static void find_port(const struct sp_port *port, struct finder *finder) {
    struct board_found board = {.transport = "serial", .reader = is_reader_port(port)};
    const char *serial = sp_get_port_usb_serial(port);
    snprintf(board.product, sizeof board.product, "%s", board.reader ? USB_READER_TEXT : USB_PRODUCT_TEXT);
    snprintf(board.serial, sizeof board.serial, "%s", serial != NULL ? serial : "");
    snprintf(board.where, sizeof board.where, "%s", sp_get_port_name(port));
    struct board_found *same = same_board(finder, board.serial);
    if (same == NULL) {
        ask_serial(&board);
        keep(finder, &board);
    } else if (same->state == BOARD_NO_PERMISSION && access(board.where, R_OK | W_OK) == 0) {
        snprintf(same->next, sizeof same->next, "%s; or use its serial port %s", states[same->state].next,
                 board.where);
    }
}

static void find_all_ports(struct finder *finder) {
    struct sp_port **ports;
    if (sp_list_ports(&ports) != SP_OK) {
        return; /* a system without serial ports */
    }
    for (size_t i = 0; ports[i] != NULL; i++) {
        if (is_our_port(ports[i])) {
            find_port(ports[i], finder);
        }
    }
    sp_free_port_list(ports);
}

bool boards_find(struct board_found *boards, size_t max, size_t *count, struct problem *problem) {
    struct finder finder = {boards, max, 0};
    bool good = find_all_usb(&finder, problem);
    find_all_ports(&finder);
    *count = finder.count;
    return good;
}
