/* The rows. */
#include "link/transports.h"

#include "link/pty.h"
#include "usb/rig.h"

#include <stdlib.h>

/* ---- the virtual board itself ---- */

static bool start_virtual(struct rig *rig, struct transport *transport, struct problem *problem) {
    rig->board = virtual_board_new(&rig->options, problem);
    return rig->board != NULL && transport_virtual(rig->board, transport, problem);
}

static void stop_virtual(struct rig *rig) {
    virtual_board_free(rig->board);
    rig->board = NULL;
}

/* ---- faults, none of which ever happens ---- */

static bool start_faultless(struct rig *rig, struct transport *transport, struct problem *problem) {
    static const struct transport_faults none = {.seed = 1};
    struct transport inner;
    return start_virtual(rig, &inner, problem) && transport_faulty(&inner, &none, transport, problem);
}

/* ---- a serial line: a pty, with the board served at its other end ---- */

static bool start_pty(struct rig *rig, struct transport *transport, struct problem *problem,
                      bool modem_lines) {
    pty_modem_lines(modem_lines);
    rig->board = virtual_board_new(&rig->options, problem);
    if (rig->board == NULL) {
        return false;
    }
    struct pty *pty = pty_start(rig->board, &rig->lock);
    rig->more = pty;
    return pty != NULL && transport_serial(pty_name(pty), 115200, transport, problem);
}

static bool start_serial(struct rig *rig, struct transport *transport, struct problem *problem) {
    return start_pty(rig, transport, problem, false);
}

static bool start_serialport(struct rig *rig, struct transport *transport, struct problem *problem) {
    return start_pty(rig, transport, problem, true);
}

static void stop_serial(struct rig *rig) {
    pty_stop(rig->more);
    pty_modem_lines(false);
    stop_virtual(rig);
}

static void unplug_serial(struct rig *rig) {
    pty_unplug(rig->more);
}

const struct transport_row transport_rows[] = {
    {"virtual", false, NULL, start_virtual, stop_virtual, NULL},
    {"faulty, without faults", false, NULL, start_faultless, stop_virtual, NULL},
    {"serial", true, NULL, start_serial, stop_serial, unplug_serial},
    {"serial, set by libserialport", true, NULL, start_serialport, stop_serial, unplug_serial},
    {"usb", true, usb_rig_missing, usb_rig_start, usb_rig_stop, usb_rig_unplug},
};
const size_t transport_row_count = sizeof transport_rows / sizeof transport_rows[0];
