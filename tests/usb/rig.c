#include "usb/rig.h"

#include "link/discover.h"
#include "usb/start.h"

#include <stdio.h>
#include <stdlib.h>

/* The stage's calls come with its lock held; the rig's is for the console's side. */
static void board_receive(void *state, const uint8_t *bytes, size_t count) {
    struct rig *rig = state;
    pthread_mutex_lock(&rig->lock);
    virtual_board_receive(rig->board, bytes, count);
    pthread_mutex_unlock(&rig->lock);
}

static size_t board_take(void *state, uint8_t *bytes, size_t size) {
    struct rig *rig = state;
    pthread_mutex_lock(&rig->lock);
    size_t count = virtual_board_take(rig->board, bytes, size);
    pthread_mutex_unlock(&rig->lock);
    return count;
}

static void board_advance(void *state, uint64_t us) {
    struct rig *rig = state;
    pthread_mutex_lock(&rig->lock);
    virtual_board_advance(rig->board, us);
    pthread_mutex_unlock(&rig->lock);
}

struct model_identity usb_rig_identity(const struct rig *rig, char serial[2 * 8 + 1]) {
    for (int i = 0; i < 8; i++) {
        snprintf(serial + 2 * i, 3, "%02X", rig->options.serial[i]);
    }
    return (struct model_identity){.vendor = USB_VENDOR,
                                   .product = USB_PRODUCT,
                                   .texts = {USB_MANUFACTURER, USB_PRODUCT_TEXT, serial},
                                   .interface = 2,
                                   .in = 3,
                                   .out = 4};
}

struct stage_port *usb_rig_plug(struct rig *rig, int number, const struct model_identity *identity) {
    const struct model_board board = {rig, board_receive, board_take};
    return stage_plug(number, identity, &board, board_advance);
}

const char *usb_rig_missing(void) {
    static bool started;
    const char *why = started ? NULL : usb_stage_missing();
    if (why == NULL && !started) {
        started = true;
        atexit(stage_stop); /* the table's program knows nothing of the stage */
    }
    return why;
}

/* Texts live as long as the device is plugged in. */
struct usb_rig {
    struct stage_port *port;
    char serial[2 * 8 + 1];
};

static bool rig_attach(struct rig *rig) {
    struct usb_rig *usb = rig->more;
    const struct model_identity identity = usb_rig_identity(rig, usb->serial);
    usb->port = usb_rig_plug(rig, 0, &identity);
    return usb->port != NULL;
}

bool usb_rig_start(struct rig *rig, struct transport *transport, struct problem *problem) {
    rig->board = virtual_board_new(&rig->options, problem);
    rig->more = calloc(1, sizeof(struct usb_rig));
    if (rig->board == NULL || rig->more == NULL) {
        return false;
    }
    return rig_attach(rig) ? transport_usb(NULL, transport, problem)
                           : problem_set(problem, PROBLEM_BENCH, "the model could not be plugged in");
}

void usb_rig_stop(struct rig *rig) {
    struct usb_rig *usb = rig->more;
    stage_unplug(usb->port);
    free(usb);
    virtual_board_free(rig->board);
    rig->board = NULL;
}

void usb_rig_unplug(struct rig *rig) {
    struct usb_rig *usb = rig->more;
    stage_unplug(usb->port);
    pthread_mutex_lock(&rig->lock);
    virtual_board_unplug(rig->board);
    pthread_mutex_unlock(&rig->lock);
    rig_attach(rig);
}
