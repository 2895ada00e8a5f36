/*
 * A serial device: the board's own USB serial port, or a UART behind an adapter. libserialport sets the line;
 * bytes go through the descriptor, since only poll() tells a line that hung up from one that is quiet.
 */
#include "link/transport.h"

#include <errno.h>
#include <fcntl.h>
#include <libserialport.h>
#include <limits.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

enum {
    REOPEN_MS = 50, /* between two tries */
    LINE_BITS = 10  /* start, eight of data, stop */
};

struct serial {
    char device[PATH_MAX];
    int baud;
    int file;             /* -1: not open */
    struct sp_port *port; /* whose descriptor `file` is; NULL where libserialport does not know the device */
};

static uint64_t now_us(void *state) {
    struct timespec now;
    (void)state;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000 + (uint64_t)now.tv_nsec / 1000;
}

/* ---- opening ---- */

static bool cannot_open(const struct serial *serial, int error, struct problem *problem) {
    const char *device = serial->device;
    switch (error) {
    case ENOENT:
    case ENXIO:
    case ENODEV:
        return problem_set(problem, PROBLEM_BENCH,
                           "%.300s: there is no such device; plug the board in, or look for its name under "
                           "/dev/serial/by-id",
                           device);
    case EACCES:
    case EPERM:
        return problem_set(
            problem, PROBLEM_BENCH,
            "%.300s: no permission; add yourself to the group that owns it (often dialout: see "
            "`ls -l`), then log in again",
            device);
    case EBUSY:
    case EWOULDBLOCK:
        return problem_set(problem, PROBLEM_BENCH,
                           "%.300s is in use by another program; end that one (a terminal program, a modem "
                           "manager, another slotjig) and try again",
                           device);
    case ENOTTY:
    case EISDIR:
        return problem_set(problem, PROBLEM_INPUT,
                           "%.300s is no serial device; name one such as /dev/ttyACM0", device);
    default:
        return problem_set(problem, PROBLEM_BENCH,
                           "%.300s cannot be opened: %s; unplug it and plug it in again", device,
                           strerror(error));
    }
}

/* libserialport 0.1 looks a port up under /sys/class/tty by the name below /dev, and asks no more than that
 * there is a symbolic link. Links to devices (by-id) and pseudo-terminals are not there: those it gets as a
 * link to our own descriptor. */
static bool find_port(const struct serial *serial, int file, struct sp_port **port) {
    char real[PATH_MAX];
    char link[96];
    snprintf(link, sizeof link, "/dev/../../../../../proc/self/fd/%d", file);
    return (realpath(serial->device, real) != NULL && sp_get_port_by_name(real, port) == SP_OK) ||
           sp_get_port_by_name(link, port) == SP_OK;
}

/* False where libserialport cannot work with the device: pseudo-terminals have no modem lines, and it insists
 * on those. */
static bool open_port(struct serial *serial, int file) {
    if (!find_port(serial, file, &serial->port)) {
        serial->port = NULL;
        return false;
    }
    if (sp_open(serial->port, SP_MODE_READ_WRITE) == SP_OK) {
        return true;
    }
    sp_free_port(serial->port);
    serial->port = NULL;
    return false;
}

static bool set_port(struct serial *serial, struct problem *problem) {
    if (sp_set_baudrate(serial->port, serial->baud) != SP_OK) {
        return problem_set(problem, PROBLEM_BENCH, "%.300s does not take %d baud; choose another baud rate",
                           serial->device, serial->baud);
    }
    if (sp_set_bits(serial->port, 8) != SP_OK || sp_set_parity(serial->port, SP_PARITY_NONE) != SP_OK ||
        sp_set_stopbits(serial->port, 1) != SP_OK ||
        sp_set_flowcontrol(serial->port, SP_FLOWCONTROL_NONE) != SP_OK) {
        return problem_set(
            problem, PROBLEM_BENCH,
            "%.300s does not take 8 bits, no parity, 1 stop bit without flow control; use another "
            "adapter",
            serial->device);
    }
    return sp_get_port_handle(serial->port, &serial->file) == SP_OK || cannot_open(serial, EIO, problem);
}

/* Only a line without modem lines: a pseudo-terminal, which has no rate that could be wrong either. */
static bool set_raw(struct serial *serial, struct problem *problem) {
    struct termios line;
    int modem_lines;
    if (ioctl(serial->file, TIOCMGET, &modem_lines) == 0) {
        return problem_set(problem, PROBLEM_BENCH,
                           "%.300s cannot be set up as a serial line; unplug it, plug it in and try again",
                           serial->device);
    }
    if (tcgetattr(serial->file, &line) != 0) {
        return cannot_open(serial, errno, problem);
    }
    cfmakeraw(&line);
    line.c_cc[VMIN] = 0;
    line.c_cc[VTIME] = 0;
    return tcsetattr(serial->file, TCSANOW, &line) == 0 || cannot_open(serial, errno, problem);
}

static void shut(struct serial *serial) {
    if (serial->file >= 0) {
        /* What was not sent must not hold up the close. */
        tcflush(serial->file, TCIOFLUSH);
        ioctl(serial->file, TIOCNXCL);
    }
    if (serial->port != NULL) {
        sp_close(serial->port);
        sp_free_port(serial->port);
    } else if (serial->file >= 0) {
        close(serial->file);
    }
    serial->port = NULL;
    serial->file = -1;
}

/* `file` becomes ours or is closed. The lock keeps out another of us, whoever runs it; TIOCEXCL keeps out the
 * others, but not the superuser. */
static bool set_up(struct serial *serial, int file, struct problem *problem) {
    bool set;
    if (open_port(serial, file)) {
        close(file);
        set = set_port(serial, problem);
    } else {
        serial->file = file;
        set = set_raw(serial, problem);
    }
    if (set && flock(serial->file, LOCK_EX | LOCK_NB) != 0) {
        set = cannot_open(serial, errno, problem);
    }
    if (!set) {
        shut(serial);
        return false;
    }
    ioctl(serial->file, TIOCEXCL);
    tcflush(serial->file, TCIOFLUSH);
    return true;
}

static bool open_device(struct serial *serial, struct problem *problem) {
    const int file = open(serial->device, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (file < 0) {
        return cannot_open(serial, errno, problem);
    }
    /* Before anything is changed on a line that another of us uses. */
    if (flock(file, LOCK_EX | LOCK_NB) != 0) {
        const int error = errno;
        close(file);
        return cannot_open(serial, error, problem);
    }
    flock(file, LOCK_UN);
    return set_up(serial, file, problem);
}

/* ---- bytes ---- */

static int left_ms(uint64_t until) {
    const uint64_t now = now_us(NULL);
    return until > now ? (int)((until - now + 999) / 1000) : 0;
}

/* Until the line takes or has bytes. */
static enum io wait_for(const struct serial *serial, short events, uint64_t until) {
    for (;;) {
        struct pollfd poll_file = {.fd = serial->file, .events = events};
        const int ready = poll(&poll_file, 1, left_ms(until));
        if (ready < 0 && errno != EINTR) {
            return IO_LOST;
        }
        if (ready > 0) {
            /* What came before a hang-up is read first. */
            return (poll_file.revents & events) != 0 ? IO_OK : IO_LOST;
        }
        if (left_ms(until) == 0) {
            return IO_TIMEOUT;
        }
    }
}

static bool try_later(int error) {
    return error == EAGAIN || error == EINTR;
}

static enum io send_bytes(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done) {
    struct serial *serial = state;
    const uint64_t until = now_us(NULL) + (uint64_t)timeout_ms * 1000;
    *done = 0;
    while (*done < count) {
        const enum io ready = serial->file < 0 ? IO_LOST : wait_for(serial, POLLOUT, until);
        if (ready != IO_OK) {
            return ready == IO_TIMEOUT && *done > 0 ? IO_OK : ready;
        }
        const ssize_t wrote = write(serial->file, bytes + *done, count - *done);
        if (wrote < 0 && !try_later(errno)) {
            return IO_LOST;
        }
        *done += wrote > 0 ? (size_t)wrote : 0;
    }
    return IO_OK;
}

static enum io receive_bytes(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    struct serial *serial = state;
    const uint64_t until = now_us(NULL) + (uint64_t)timeout_ms * 1000;
    *done = 0;
    for (;;) {
        const enum io ready = serial->file < 0 ? IO_LOST : wait_for(serial, POLLIN, until);
        if (ready != IO_OK) {
            return ready;
        }
        const ssize_t got = read(serial->file, bytes, size);
        if (got > 0) {
            *done = (size_t)got;
            return IO_OK;
        }
        /* Ready and nothing there: it hung up. */
        if (got == 0 || !try_later(errno)) {
            return IO_LOST;
        }
    }
}

static bool reopen(void *state, int timeout_ms, struct problem *problem) {
    struct serial *serial = state;
    const uint64_t until = now_us(NULL) + (uint64_t)timeout_ms * 1000;
    shut(serial);
    while (!open_device(serial, problem)) {
        const int left = left_ms(until);
        if (left == 0) {
            return false;
        }
        poll(NULL, 0, left < REOPEN_MS ? left : REOPEN_MS);
    }
    return true;
}

static void close_serial(void *state) {
    shut(state);
    free(state);
}

bool transport_serial(const char *device, int baud, struct transport *transport, struct problem *problem) {
    struct serial *serial = calloc(1, sizeof *serial);
    if (serial == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the serial line; free some");
    }
    serial->file = -1;
    serial->baud = baud;
    if (baud < 1 || strlen(device) >= sizeof serial->device) {
        free(serial);
        return problem_set(problem, PROBLEM_INPUT,
                           "%.300s at %d baud: no such name or rate; give a device and a "
                           "rate such as 115200",
                           device, baud);
    }
    snprintf(serial->device, sizeof serial->device, "%s", device);
    if (!open_device(serial, problem)) {
        free(serial);
        return false;
    }
    *transport = (struct transport){
        .state = serial,
        .name = "serial",
        .send = send_bytes,
        .receive = receive_bytes,
        .reopen = reopen,
        .now_us = now_us,
        .close = close_serial,
        .bytes_per_second = (unsigned)baud / LINE_BITS,
    };
    return true;
}
