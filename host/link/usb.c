/*
 * The USB transport: two bulk endpoints of the board's own interface.
 *
 * The stream has no messages of its own (frames end with 0x00), so packet borders mean nothing. Reads are
 * always queued, each of one packet: a packet, short or full or empty, ends its read, and the board need not
 * send an empty packet after a full one. A wait that runs out cancels nothing, so it loses nothing. Writes
 * are as long as the caller's bytes; no empty packet follows a full one.
 */
#include "link/usb_device.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/time.h>
#include <time.h>

enum {
    READS = 8, /* so that the controller has the next one while this one is being looked at */
    PACKET_MAX = 512,
    SETTLE_MS = 1000, /* for cancelled reads to come back */
    LOOK_MS = 50      /* between looks for a board that is to come back */
};

struct usb_read {
    struct libusb_transfer *transfer;
    int done; /* not under way: libusb ends its wait when this is set */
    size_t taken;
    unsigned char bytes[PACKET_MAX];
};

struct usb {
    libusb_context *context;
    struct usb_pipes pipes;
    struct usb_read reads[READS]; /* a ring, in the order of their submission */
    size_t first;                 /* the oldest */
    bool lost;
    char serial[64], where[64];
};

static uint64_t usb_now_us(void *state) {
    (void)state;
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000 + (uint64_t)now.tv_nsec / 1000;
}

static uint64_t deadline_in(int timeout_ms) {
    return usb_now_us(NULL) + (timeout_ms > 0 ? (uint64_t)timeout_ms * 1000 : 0);
}

static uint64_t left_us(uint64_t deadline) {
    uint64_t now = usb_now_us(NULL);
    return deadline > now ? deadline - now : 0;
}

/* Lets the library work until *done or the deadline. */
static void usb_wait(struct usb *usb, int *done, uint64_t deadline) {
    uint64_t left = left_us(deadline);
    struct timeval wait = {.tv_sec = (time_t)(left / 1000000), .tv_usec = (suseconds_t)(left % 1000000)};
    libusb_handle_events_timeout_completed(usb->context, &wait, done);
}

static void LIBUSB_CALL read_done(struct libusb_transfer *transfer) {
    struct usb_read *read = transfer->user_data;
    read->done = 1;
}

static void read_submit(struct usb_read *read) {
    read->taken = 0;
    read->transfer->actual_length = 0;
    read->done = 0;
    if (libusb_submit_transfer(read->transfer) != LIBUSB_SUCCESS) {
        read->done = 1;
        read->transfer->status = LIBUSB_TRANSFER_NO_DEVICE;
    }
}

/* Cancels what is under way and waits for it. False: some reads did not come back in time. */
static bool reads_end(struct usb *usb) {
    for (size_t i = 0; i < READS; i++) {
        if (!usb->reads[i].done) {
            libusb_cancel_transfer(usb->reads[i].transfer);
        }
    }
    uint64_t deadline = deadline_in(SETTLE_MS);
    for (size_t i = 0; i < READS; i++) {
        while (!usb->reads[i].done) {
            if (left_us(deadline) == 0) {
                return false;
            }
            usb_wait(usb, &usb->reads[i].done, deadline);
        }
    }
    return true;
}

/* A halted endpoint answers nothing until it is cleared, which must not happen with reads under way. What
 * they brought stays in the ring and is taken first. */
static void stall_clear(struct usb *usb) {
    if (!reads_end(usb) || libusb_clear_halt(usb->pipes.handle, usb->pipes.in) != LIBUSB_SUCCESS) {
        usb->lost = true;
        return;
    }
    for (size_t i = 0; i < READS; i++) {
        usb->reads[i].transfer->status = LIBUSB_TRANSFER_COMPLETED;
    }
}

/* The oldest read is empty: send it out again, or see why it failed. */
static void read_next(struct usb *usb) {
    struct usb_read *read = &usb->reads[usb->first];
    switch (read->transfer->status) {
    case LIBUSB_TRANSFER_COMPLETED:
        read_submit(read);
        usb->first = (usb->first + 1) % READS;
        break;
    case LIBUSB_TRANSFER_STALL:
        stall_clear(usb);
        break;
    default:
        /* The controller has tried three times already: the board is gone, or about to be noticed as gone. */
        usb->lost = true;
        break;
    }
}

/* What has come already. */
static size_t reads_take(struct usb *usb, uint8_t *bytes, size_t size) {
    size_t count = 0;
    while (!usb->lost && count < size && usb->reads[usb->first].done) {
        struct usb_read *read = &usb->reads[usb->first];
        size_t there = (size_t)read->transfer->actual_length - read->taken;
        size_t part = there < size - count ? there : size - count;
        memcpy(bytes + count, read->bytes + read->taken, part);
        read->taken += part;
        count += part;
        if (part == there) {
            /* A loss behind these bytes is for the next call to tell. */
            if (count > 0 && read->transfer->status != LIBUSB_TRANSFER_COMPLETED) {
                break;
            }
            read_next(usb);
        }
    }
    return count;
}

static enum io usb_receive(void *state, uint8_t *bytes, size_t size, int timeout_ms, size_t *done) {
    struct usb *usb = state;
    uint64_t deadline = deadline_in(timeout_ms);
    *done = 0;
    bool waited = false;
    while (!usb->lost) {
        *done = reads_take(usb, bytes, size);
        if (*done > 0) {
            return IO_OK;
        }
        if (usb->lost || (waited && left_us(deadline) == 0)) {
            break;
        }
        usb_wait(usb, &usb->reads[usb->first].done, deadline);
        waited = true;
    }
    return usb->lost ? IO_LOST : IO_TIMEOUT;
}

static enum io usb_send(void *state, const uint8_t *bytes, size_t count, int timeout_ms, size_t *done) {
    struct usb *usb = state;
    uint64_t deadline = deadline_in(timeout_ms);
    *done = 0;
    bool cleared = false;
    while (!usb->lost) {
        /* 0 would wait without end. */
        unsigned left = (unsigned)(left_us(deadline) / 1000) + 1;
        int moved = 0;
        int part = count - *done > INT32_MAX ? INT32_MAX : (int)(count - *done);
        /* The library's type has no const; it does not write to what it sends. */
        int error = libusb_bulk_transfer(usb->pipes.handle, usb->pipes.out, (unsigned char *)bytes + *done,
                                         part, &moved, left);
        *done += (size_t)moved;
        if (error == LIBUSB_ERROR_PIPE && !cleared) {
            cleared = true;
            usb->lost = libusb_clear_halt(usb->pipes.handle, usb->pipes.out) != LIBUSB_SUCCESS;
        } else if (error == LIBUSB_ERROR_TIMEOUT || error == LIBUSB_ERROR_PIPE ||
                   (error == LIBUSB_ERROR_INTERRUPTED && left_us(deadline) == 0)) {
            return *done > 0 ? IO_OK : IO_TIMEOUT;
        } else if (error != LIBUSB_SUCCESS && error != LIBUSB_ERROR_INTERRUPTED) {
            usb->lost = true;
        } else if (*done == count) {
            return IO_OK;
        }
    }
    return IO_LOST;
}

/* Back to nothing but the memory. False: libusb still holds reads, so none of it may be freed. */
static bool usb_shut(struct usb *usb) {
    if (usb->context == NULL) {
        return true;
    }
    if (usb->pipes.handle != NULL) {
        if (!reads_end(usb)) {
            return false;
        }
        libusb_release_interface(usb->pipes.handle, usb->pipes.interface);
        libusb_close(usb->pipes.handle);
        usb->pipes.handle = NULL;
    }
    for (size_t i = 0; i < READS; i++) {
        libusb_free_transfer(usb->reads[i].transfer);
        usb->reads[i].transfer = NULL;
    }
    libusb_exit(usb->context);
    usb->context = NULL;
    return true;
}

static void usb_close(void *state) {
    struct usb *usb = state;
    /* A kernel that never gives a cancelled read back has not been seen; leaking is better than a write into
     * freed memory. */
    if (usb_shut(usb)) {
        free(usb);
    }
}

static enum usb_outcome usb_begin(struct usb *usb, const struct usb_seen *seen, struct problem *problem) {
    enum usb_outcome outcome = usb_pipes_open(seen, &usb->pipes, problem);
    if (outcome != USB_OPENED) {
        return outcome;
    }
    snprintf(usb->serial, sizeof usb->serial, "%s", seen->serial);
    snprintf(usb->where, sizeof usb->where, "%s", seen->where);
    usb->lost = false;
    usb->first = 0;
    size_t packet = usb->pipes.packet < PACKET_MAX ? usb->pipes.packet : PACKET_MAX;
    /* A transfer holds on to the device of its last submission, so each opening has its own. */
    for (size_t i = 0; i < READS; i++) {
        struct usb_read *read = &usb->reads[i];
        read->done = 1;
        read->transfer = libusb_alloc_transfer(0);
        if (read->transfer == NULL) {
            problem_set(problem, PROBLEM_BENCH, "out of memory for the USB transport");
            return USB_FAILED;
        }
    }
    for (size_t i = 0; i < READS; i++) {
        struct usb_read *read = &usb->reads[i];
        libusb_fill_bulk_transfer(read->transfer, usb->pipes.handle, usb->pipes.in, read->bytes, (int)packet,
                                  read_done, read, 0);
        read_submit(read);
    }
    return USB_OPENED;
}

/* A fresh context each time: where no udev daemon tells the library about new devices (containers), only that
 * sees them. */
static enum usb_outcome usb_look(struct usb *usb, const char *choice, struct problem *problem) {
    struct usb_list list;
    if (!usb_start(&usb->context, problem)) {
        return USB_FAILED;
    }
    enum usb_outcome outcome = USB_FAILED;
    size_t index;
    if (usb_list_read(usb->context, &list, problem)) {
        outcome = usb_choose(&list, choice, &index, problem);
        if (outcome == USB_OPENED) {
            outcome = usb_begin(usb, &list.seen[index], problem);
        }
        usb_list_free(&list);
    }
    if (outcome != USB_OPENED) {
        usb_shut(usb); /* nothing is under way yet */
    }
    return outcome;
}

static bool usb_reopen(void *state, int timeout_ms, struct problem *problem) {
    struct usb *usb = state;
    uint64_t deadline = deadline_in(timeout_ms);
    char choice[sizeof usb->serial];
    snprintf(choice, sizeof choice, "%s", usb->serial[0] != '\0' ? usb->serial : usb->where);
    usb->lost = true;
    if (!usb_shut(usb)) {
        return problem_set(problem, PROBLEM_BENCH,
                           "the system does not let go of the board %s; unplug it and start again", choice);
    }
    struct problem last = {0};
    /* The board may come back on another port, and its permissions are set only after it came. */
    while (usb_look(usb, choice, &last) != USB_OPENED) {
        uint64_t left = left_us(deadline);
        if (left == 0) {
            return problem_set(problem, PROBLEM_BENCH, "the board did not come back within %d ms: %s",
                               timeout_ms, last.text);
        }
        uint64_t pause = left < LOOK_MS * 1000 ? left : LOOK_MS * 1000;
        nanosleep(&(struct timespec){.tv_nsec = (long)pause * 1000}, NULL);
    }
    return true;
}

enum usb_outcome usb_transport(const char *choice, struct transport *transport, struct problem *problem) {
    struct usb *usb = calloc(1, sizeof *usb);
    if (usb == NULL) {
        problem_set(problem, PROBLEM_BENCH, "out of memory for the USB transport");
        return USB_FAILED;
    }
    enum usb_outcome outcome = usb_look(usb, choice, problem);
    if (outcome != USB_OPENED) {
        usb_close(usb);
        return outcome;
    }
    *transport = (struct transport){.state = usb,
                                    .name = "usb",
                                    .send = usb_send,
                                    .receive = usb_receive,
                                    .reopen = usb_reopen,
                                    .now_us = usb_now_us,
                                    .close = usb_close};
    return USB_OPENED;
}

bool transport_usb(const char *choice, struct transport *transport, struct problem *problem) {
    return usb_transport(choice, transport, problem) == USB_OPENED;
}
