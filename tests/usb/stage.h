/*
 * Where the test's boards are plugged in: the kernel's USB devices as libusb sees them. Two carriers behind
 * one set of functions: an emulated usbfs (usbfs.c; sysfs, nodes, ioctls and events are modelled, so the
 * kernel's behaviour is an assumption there), and a real kernel's vhci-hcd (vhci.c). The same tests run on
 * both.
 */
#ifndef TESTS_USB_STAGE_H
#define TESTS_USB_STAGE_H

#include "usb/model.h"

#include <stdbool.h>
#include <stdint.h>
#include <sys/types.h>

enum { STAGE_PORTS = 3 };

struct stage_port {
    struct model model;
    bool plugged;
    char where[24]; /* port path */
    char node[32];  /* as the program under test opens it */
    char tty[32];   /* its serial port's, or empty */
    /* Lets the board's time pass; called every millisecond or so. May be NULL. */
    void (*advance)(void *state, uint64_t us);
    void *carried; /* the carrier's */
};

struct stage_carrier {
    const char *name;
    bool counts_cancelled; /* says how much of a cancelled request was moved; USB/IP has no field for it */
    bool opens_ports;      /* transport_serial() can open a port's tty */
    /* NULL, or why it cannot be used here. */
    const char *(*start)(void);
    void (*stop)(void);
    bool (*plug)(struct stage_port *port, int number);
    void (*unplug)(struct stage_port *port);
    /* Requests were finished. Called with the lock held. */
    void (*finished)(struct stage_port *port);
};
extern const struct stage_carrier stage_usbfs, stage_vhci;

/* NULL, or why the tests cannot run here. SLOTJIG_TEST_VHCI=1 asks for the real kernel. */
const char *stage_start(void);
void stage_stop(void);
const char *stage_name(void);
bool stage_is_real(void);
bool stage_counts_cancelled(void);
bool stage_opens_ports(void);

/* Closes the port's node to this user, and where that is the superuser, goes on as another;
 * stage_become(*user) goes back. False where that other one cannot reach the folder of the emulated tree
 * (TMPDIR): nothing has changed then. */
bool stage_deny(const struct stage_port *port, uid_t *user);
void stage_become(uid_t user);

/* Returns once the device is there. NULL: it did not come. */
struct stage_port *stage_plug(int number, const struct model_identity *identity,
                              const struct model_board *board, void (*advance)(void *state, uint64_t us));
/* Another device than a board, on a real kernel only. */
struct stage_port *stage_plug_kind(int number, const struct model_identity *identity,
                                   const struct model_kind *kind, void *state);
void stage_unplug(struct stage_port *port);
/* All of them. */
void stage_clear(void);

/* Everything of a port's model is looked at and changed with the lock held. Boards' calls come with it held.
 */
void stage_lock(void);
void stage_unlock(void);
/* With the lock held: does what can be done, and tells the carrier. */
void stage_run(struct stage_port *port);

#endif
