/*
 * A board as a host controller sees it: descriptors, control requests, two bulk endpoints, and what can go
 * wrong with them. Behind the endpoints is whatever takes and gives bytes. Knows nothing of how requests
 * reach it: tests/usb/usbfs.c brings them from the emulated kernel, tests/usb/vhci.c from a real one.
 */
#ifndef TESTS_USB_MODEL_H
#define TESTS_USB_MODEL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    MODEL_PACKET = 64, /* full speed */
    MODEL_CONFIG_MAX = 256,
    MODEL_DEVICE_SIZE = 18
};

struct model_identity {
    uint16_t vendor, product;
    const char *texts[3]; /* manufacturer, product, serial */
    /* Of the board's own interface; others stand before it. */
    uint8_t interface, in, out;
    bool no_interface; /* no interface of ours at all */
    bool port;         /* a serial port (CDC-ACM) beside it, to the same board */
};

/* Numbers of the serial port's endpoints: notifications, then data both ways. */
enum { MODEL_NOTIFY = 8, MODEL_DATA = 9 };

struct model_board {
    void *state;
    void (*receive)(void *state, const uint8_t *bytes, size_t count);
    size_t (*take)(void *state, uint8_t *bytes, size_t size);
};

struct model_request;

/* Another device than a board, with a configuration and a bulk endpoint of its own. state is the board's. */
struct model_kind {
    int speed;                                     /* enum usb_device_speed of linux/usb/ch9.h */
    size_t (*config)(void *state, uint8_t *bytes); /* its descriptors; at most MODEL_CONFIG_MAX */
    /* A request to its class; false: stalled. An answer goes to bytes, cut to length by moved. */
    bool (*control)(void *state, struct model_request *request);
    bool (*in)(void *state, struct model_request *request); /* true: finished */
    void (*cleared)(void *state);                           /* the endpoint's halt, asked for by the host */
};

/* One request of the host's. */
struct model_request {
    bool in;
    uint8_t endpoint; /* its number; 0: control */
    uint8_t setup[8];
    uint8_t *bytes; /* not the setup */
    size_t length, moved;
    int status; /* 0 or a negative errno, as the kernel puts it into an URB */
    void *owner;
    struct model_request *next;
};

struct model {
    struct model_identity identity;
    const struct model_kind *kind; /* NULL: a board */
    struct model_board board;
    /* What is wrong with it. */
    bool halted_in, halted_out; /* until cleared */
    bool halt_sticks;           /* clearing a halt does not help */
    bool mute;                  /* gives nothing, takes nothing: every packet is refused for now */
    size_t room;                /* bytes it takes until it refuses more; SIZE_MAX: no end */
    /* What was seen. */
    unsigned cleared_in, cleared_out, cancelled;
    uint8_t configuration;
    struct model_request *waiting, *finished;
};

void model_start(struct model *model, const struct model_identity *identity, const struct model_board *board);
size_t model_device_descriptor(const struct model *model, uint8_t *bytes);
size_t model_config_descriptor(const struct model *model, uint8_t *bytes);

/* As CLEAR_FEATURE(ENDPOINT_HALT) does. */
void model_clear_halt(struct model *model, uint8_t address);
void model_submit(struct model *model, struct model_request *request);
/* False: it is not waiting (any more). Else it is finished with that status, and with the bytes moved. */
bool model_cancel(struct model *model, struct model_request *request, int status);
/* All that wait: the device was pulled out. */
void model_pull(struct model *model);
/* Does what can be done now. */
void model_run(struct model *model);
/* The next finished request (of that owner, if not NULL), or NULL. */
struct model_request *model_finished(struct model *model, const void *owner);
/* Forgets an owner's requests wherever they are, handing each to drop. */
void model_forget(struct model *model, const void *owner, void (*drop)(struct model_request *request));

#endif
