/* A virtual board on the stage's first USB port, as a rig of tests/link/transports.h. */
#ifndef TESTS_USB_RIG_H
#define TESTS_USB_RIG_H

#include "link/transports.h"
#include "usb/stage.h"

const char *usb_rig_missing(void);
bool usb_rig_start(struct rig *rig, struct transport *transport, struct problem *problem);
void usb_rig_stop(struct rig *rig);
/* Pulled out, and plugged in again. */
void usb_rig_unplug(struct rig *rig);

/* For tests that want more than a rig does. */
struct model_identity usb_rig_identity(const struct rig *rig, char serial[2 * 8 + 1]);
/* The rig's board, which exists already, is plugged into that port. */
struct stage_port *usb_rig_plug(struct rig *rig, int number, const struct model_identity *identity);

#endif
