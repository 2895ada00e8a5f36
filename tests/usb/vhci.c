/*
 * A real kernel: the boards are USB/IP devices of its vhci-hcd module. Everything above (enumeration, usbfs,
 * sysfs) is the kernel's own. Wire: Documentation/usb/usbip_protocol.rst; attaching as usbip(8) does it, by
 * handing the module one end of a socket pair.
 */
#include "usb/stage.h"

#include <arpa/inet.h>
#include <errno.h>
#include <glob.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#define VHCI "/sys/devices/platform/vhci_hcd.0/"

enum {
    CMD_SUBMIT = 1,
    CMD_UNLINK = 2,
    RET_SUBMIT = 3,
    RET_UNLINK = 4,
    DIRECTION_IN = 1,
    FULL_SPEED = 2, /* enum usb_device_speed of linux/usb/ch9.h */
    WAIT_MS = 5000
};

struct header { /* all of it big endian but the setup */
    uint32_t command, sequence, device, direction, endpoint;
    union {
        struct {
            uint32_t flags, length, start, packets, interval;
            uint8_t setup[8];
        } submit;
        struct {
            uint32_t status, moved, start, packets, errors, padding[2];
        } done;
        struct {
            uint32_t sequence, padding[6];
        } unlink;
    };
};
_Static_assert(sizeof(struct header) == 48, "a header of USB/IP");

struct urb {
    struct model_request request;
    uint32_t sequence;
    uint8_t bytes[]; /* of the request */
};

struct cable {
    struct stage_port *port;
    int number, socket;
    pthread_t server;
};

static bool write_text(const char *path, const char *text) {
    FILE *file = fopen(path, "we");
    if (file == NULL) {
        return false;
    }
    bool good = fputs(text, file) >= 0;
    return fclose(file) == 0 && good;
}

static bool read_all(int socket, void *bytes, size_t count) {
    return count == 0 || recv(socket, bytes, count, MSG_WAITALL) == (ssize_t)count;
}

static void write_all(int socket, const void *bytes, size_t count) {
    const uint8_t *next = bytes;
    while (count > 0) {
        ssize_t part = send(socket, next, count, MSG_NOSIGNAL);
        if (part <= 0) {
            return; /* unplugged; the server sees it too */
        }
        next += part;
        count -= (size_t)part;
    }
}

static void urb_drop(struct model_request *request) {
    free((struct urb *)request);
}

static bool take_submit(struct cable *cable, const struct header *header) {
    size_t length = ntohl(header->submit.length);
    struct urb *urb = calloc(1, sizeof *urb + length);
    if (urb == NULL) {
        return false;
    }
    bool in = ntohl(header->direction) == DIRECTION_IN;
    urb->sequence = ntohl(header->sequence);
    urb->request = (struct model_request){.in = in,
                                          .endpoint = (uint8_t)ntohl(header->endpoint),
                                          .bytes = urb->bytes,
                                          .length = length,
                                          .owner = cable};
    memcpy(urb->request.setup, header->submit.setup, sizeof urb->request.setup);
    if (!in && !read_all(cable->socket, urb->bytes, length)) {
        free(urb);
        return false;
    }
    stage_lock();
    model_submit(&cable->port->model, &urb->request);
    stage_run(cable->port);
    stage_unlock();
    return true;
}

static void take_unlink(struct cable *cable, const struct header *header) {
    struct header reply = {.command = htonl(RET_UNLINK), .sequence = header->sequence};
    stage_lock();
    struct model_request *request = cable->port->model.waiting;
    while (request != NULL && ((struct urb *)request)->sequence != ntohl(header->unlink.sequence)) {
        request = request->next;
    }
    if (request != NULL) {
        reply.done.status = htonl((uint32_t)-ECONNRESET);
        /* Answered by this reply alone. Finished ones are sent at once, so no other is in that list. */
        model_cancel(&cable->port->model, request, -ECONNRESET);
        urb_drop(model_finished(&cable->port->model, NULL));
    }
    write_all(cable->socket, &reply, sizeof reply);
    stage_unlock();
}

static void *serve(void *argument) {
    struct cable *cable = argument;
    struct header header;
    bool good = true;
    while (good && read_all(cable->socket, &header, sizeof header)) {
        if (ntohl(header.command) == CMD_SUBMIT) {
            good = take_submit(cable, &header);
        } else {
            take_unlink(cable, &header);
        }
    }
    return NULL;
}

static void vhci_finished(struct stage_port *port) {
    struct cable *cable = port->carried;
    struct model_request *request;
    while ((request = model_finished(&port->model, NULL)) != NULL) {
        struct urb *urb = (struct urb *)request;
        struct header reply = {.command = htonl(RET_SUBMIT), .sequence = htonl(urb->sequence)};
        reply.done.status = htonl((uint32_t)request->status);
        reply.done.moved = htonl((uint32_t)request->moved);
        if (port->plugged) {
            write_all(cable->socket, &reply, sizeof reply);
            write_all(cable->socket, request->bytes, request->in ? request->moved : 0);
        }
        urb_drop(request);
    }
}

static const char *vhci_start(void) {
    return access(VHCI "attach", W_OK) == 0 ? NULL : "no vhci-hcd here (" VHCI ")";
}

static void vhci_stop(void) {
}

static int read_number(const char *where, const char *attribute) {
    char path[128];
    snprintf(path, sizeof path, "/sys/bus/usb/devices/%s/%s", where, attribute);
    FILE *file = fopen(path, "re");
    int number = -1;
    if (file != NULL) {
        if (fscanf(file, "%d", &number) != 1) {
            number = -1;
        }
        fclose(file);
    }
    return number;
}

/* The module's first bus is its USB 2.0 one. */
static int bus_number(void) {
    for (int bus = 1; bus < 16; bus++) {
        char path[128];
        snprintf(path, sizeof path, VHCI "usb%d", bus);
        if (access(path, F_OK) == 0) {
            return bus;
        }
    }
    return -1;
}

static bool wait_for(const char *where, bool there) {
    for (int ms = 0; ms < WAIT_MS; ms += 10) {
        if ((read_number(where, "bConfigurationValue") == 1) == there) {
            return true;
        }
        nanosleep(&(struct timespec){.tv_nsec = 10000000}, NULL);
    }
    fprintf(stderr, "USB device %s did not %s within %d ms\n", where, there ? "come" : "go", WAIT_MS);
    return false;
}

/* The kernel's driver for serial ports binds by itself. */
static bool find_tty(struct stage_port *port) {
    char pattern[128];
    snprintf(pattern, sizeof pattern, "/sys/bus/usb/devices/%s:1.*/tty/tty*", port->where);
    for (int ms = 0; ms < WAIT_MS; ms += 10) {
        glob_t found;
        if (glob(pattern, 0, NULL, &found) == 0) {
            snprintf(port->tty, sizeof port->tty, "/dev/%s", strrchr(found.gl_pathv[0], '/') + 1);
            globfree(&found);
            return true;
        }
        nanosleep(&(struct timespec){.tv_nsec = 10000000}, NULL);
    }
    return false;
}

static bool vhci_plug(struct stage_port *port, int number) {
    int ends[2];
    struct cable *cable = calloc(1, sizeof *cable);
    if (cable == NULL || socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) != 0) {
        free(cable);
        return false;
    }
    char text[64];
    *cable = (struct cable){.port = port, .number = number, .socket = ends[0]};
    snprintf(port->where, sizeof port->where, "%d-%d", bus_number(), number + 1);
    port->carried = cable;
    stage_lock();
    port->plugged = true;
    stage_unlock();
    if (pthread_create(&cable->server, NULL, serve, cable) != 0) {
        return false;
    }
    const struct model_kind *kind = port->model.kind;
    snprintf(text, sizeof text, "%d %d %d %d", number, ends[1], number + 1,
             kind != NULL ? kind->speed : FULL_SPEED);
    bool good = write_text(VHCI "attach", text);
    close(ends[1]);
    if (!good || !wait_for(port->where, true)) {
        return false;
    }
    snprintf(port->node, sizeof port->node, "/dev/bus/usb/%03d/%03d", bus_number(),
             read_number(port->where, "devnum"));
    return !port->model.identity.port || find_tty(port);
}

static void vhci_unplug(struct stage_port *port) {
    struct cable *cable = port->carried;
    char text[16];
    stage_lock();
    port->plugged = false;
    model_pull(&port->model);
    vhci_finished(port);
    stage_unlock();
    snprintf(text, sizeof text, "%d", cable->number);
    write_text(VHCI "detach", text);
    shutdown(cable->socket, SHUT_RDWR);
    pthread_join(cable->server, NULL);
    close(cable->socket);
    wait_for(port->where, false);
    stage_lock();
    model_forget(&port->model, NULL, urb_drop);
    stage_unlock();
    free(cable);
}

const struct stage_carrier stage_vhci = {.name = "vhci-hcd of this kernel",
                                         .opens_ports = true,
                                         .start = vhci_start,
                                         .stop = vhci_stop,
                                         .plug = vhci_plug,
                                         .unplug = vhci_unplug,
                                         .finished = vhci_finished};
