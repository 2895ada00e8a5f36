/*
 * The emulated usbfs: sysfs entries, device nodes, ioctls and hotplug events by libumockdev. The kernel's
 * part is modelled after Documentation/driver-api/usb/usb.rst and linux/usbdevice_fs.h.
 *
 * A node is a link to a pty's slave, because poll() must tell the truth: output stopped is "nothing to reap",
 * output running is "reap now", and both ends closed is "unplugged".
 */
#include "usb/usbfs.h"
#include "usb/stage.h"

#if __has_include(<umockdev.h>)

#include <errno.h>
#include <fcntl.h>
#include <linux/usbdevice_fs.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <termios.h>
#include <umockdev.h>
#include <unistd.h>

enum { CLAIMS = 8, CONTROL_SETUP = 8 };

struct urb {
    struct model_request request;
    UMockdevIoctlData *data;
    struct urb *earlier, *later; /* of all that are held */
};

struct socket { /* what a board is plugged into */
    struct stage_port *port;
    UMockdevIoctlBase *handler;
    char *syspath;
    int master, slave;
    bool running; /* output: there is something to reap */
    int tty_master, tty_slave;
    char *tty_syspath;
    const void *claims[CLAIMS];
};

static UMockdevTestbed *testbed;
static int addresses; /* given out on the bus */

UMockdevTestbed *usbfs_testbed(void) {
    return testbed;
}

static const char *const where[STAGE_PORTS] = {"1-1", "1-2", "1-4.3"};
static const char *const parent[STAGE_PORTS] = {"usb1", "usb1", "usb1/1-4"};

/* Those of a program that never came back for them are left when its board is plugged in anew. */
static struct urb *held;

static void urb_hold(struct urb *urb) {
    urb->later = held;
    if (held != NULL) {
        held->earlier = urb;
    }
    held = urb;
}

static void urb_drop(struct model_request *request) {
    struct urb *urb = (struct urb *)request;
    *(urb->earlier != NULL ? &urb->earlier->later : &held) = urb->later;
    if (urb->later != NULL) {
        urb->later->earlier = urb->earlier;
    }
    g_object_unref(urb->data);
    free(urb);
}

static void steer(struct socket *socket) {
    bool wanted = socket->port->model.finished != NULL;
    if (socket->slave >= 0 && wanted != socket->running) {
        tcflow(socket->slave, wanted ? TCOON : TCOOFF);
        socket->running = wanted;
    }
}

static int urb_submit(struct socket *socket, UMockdevIoctlClient *client, UMockdevIoctlData *data) {
    struct usbdevfs_urb *urb = (struct usbdevfs_urb *)(void *)data->data;
    bool control = urb->type == USBDEVFS_URB_TYPE_CONTROL;
    if (!control && urb->type != USBDEVFS_URB_TYPE_BULK) {
        return EINVAL;
    }
    size_t length = (size_t)urb->buffer_length;
    UMockdevIoctlData *buffer = NULL;
    if (length > 0) {
        buffer = umockdev_ioctl_data_resolve(data, offsetof(struct usbdevfs_urb, buffer), length, NULL);
    }
    struct urb *queued = calloc(1, sizeof *queued);
    if (queued == NULL || (length > 0 && buffer == NULL) || (control && length < CONTROL_SETUP)) {
        free(queued);
        return EFAULT;
    }
    queued->data = g_object_ref(data);
    urb_hold(queued);
    queued->request = (struct model_request){.in = (urb->endpoint & 0x80) != 0,
                                             .endpoint = urb->endpoint & 0x0F,
                                             .bytes = buffer != NULL ? buffer->data : NULL,
                                             .length = length,
                                             .owner = client};
    if (control) {
        memcpy(queued->request.setup, buffer->data, CONTROL_SETUP);
        queued->request.bytes += CONTROL_SETUP;
        queued->request.length -= CONTROL_SETUP;
        queued->request.in = (queued->request.setup[0] & 0x80) != 0;
    }
    if (buffer != NULL) {
        g_object_unref(buffer);
    }
    model_submit(&socket->port->model, &queued->request);
    stage_run(socket->port);
    return 0;
}

static int urb_discard(struct socket *socket, const void *client, gulong address) {
    for (struct model_request *request = socket->port->model.waiting; request != NULL;
         request = request->next) {
        if (request->owner == client && ((struct urb *)request)->data->client_addr == address) {
            model_cancel(&socket->port->model, request, -ENOENT);
            return 0;
        }
    }
    return EINVAL;
}

static int urb_reap(struct socket *socket, const void *client, UMockdevIoctlData *pointer) {
    struct urb *urb = (struct urb *)model_finished(&socket->port->model, client);
    if (urb == NULL) {
        return socket->port->plugged ? EAGAIN : ENODEV;
    }
    struct usbdevfs_urb *answer = (struct usbdevfs_urb *)(void *)urb->data->data;
    answer->status = urb->request.status;
    answer->actual_length = (int)urb->request.moved;
    umockdev_ioctl_data_set_ptr(pointer, 0, urb->data);
    urb_drop(&urb->request);
    return 0;
}

static int claim(struct socket *socket, const void *client, unsigned interface, bool want) {
    if (interface >= CLAIMS) {
        return EINVAL;
    }
    const void **holder = &socket->claims[interface];
    if (!want) {
        bool mine = *holder == client;
        *holder = mine ? NULL : *holder;
        return mine ? 0 : EINVAL;
    }
    if (*holder != NULL && *holder != client) {
        return EBUSY;
    }
    *holder = client;
    return 0;
}

/* An errno, or 0. */
static int answer(struct socket *socket, UMockdevIoctlClient *client, gulong request,
                  UMockdevIoctlData *data) {
    unsigned number = 0;
    if (data != NULL && (size_t)data->data_len >= sizeof number) {
        memcpy(&number, data->data, sizeof number);
    }
    bool reap = request == USBDEVFS_REAPURB || request == USBDEVFS_REAPURBNDELAY;
    if (!socket->port->plugged && !reap) {
        return ENODEV;
    }
    switch (request) {
    case USBDEVFS_GET_CAPABILITIES:
        number = USBDEVFS_CAP_ZERO_PACKET | USBDEVFS_CAP_BULK_CONTINUATION | USBDEVFS_CAP_NO_PACKET_SIZE_LIM |
                 USBDEVFS_CAP_REAP_AFTER_DISCONNECT;
        memcpy(data->data, &number, sizeof number);
        return 0;
    case USBDEVFS_CLAIMINTERFACE:
    case USBDEVFS_DISCONNECT_CLAIM: /* its structure starts with the number too */
        return claim(socket, client, number, true);
    case USBDEVFS_RELEASEINTERFACE:
        return claim(socket, client, number, false);
    case USBDEVFS_CLEAR_HALT:
        model_clear_halt(&socket->port->model, (uint8_t)number);
        return 0;
    case USBDEVFS_SUBMITURB:
        return urb_submit(socket, client, data);
    case USBDEVFS_REAPURB:
    case USBDEVFS_REAPURBNDELAY:
        return urb_reap(socket, client, data);
    case USBDEVFS_GETDRIVER:
    case USBDEVFS_IOCTL:
        return ENODATA; /* no driver of the kernel's has it */
    default:
        return ENOTTY;
    }
}

static gboolean on_ioctl(UMockdevIoctlBase *base, UMockdevIoctlClient *client, gpointer user) {
    (void)base;
    struct socket *socket = user;
    gulong request = umockdev_ioctl_client_get_request(client);
    UMockdevIoctlData *arg = umockdev_ioctl_client_get_arg(client);
    size_t size = _IOC_SIZE(request);
    UMockdevIoctlData *data = size > 0 ? umockdev_ioctl_data_resolve(arg, 0, size, NULL) : NULL;
    int error = EFAULT;
    stage_lock();
    if (request == (gulong)USBDEVFS_DISCARDURB) {
        error = socket->port->plugged ? urb_discard(socket, client, *(gulong *)(void *)arg->data) : ENODEV;
    } else if (data != NULL || size == 0) {
        error = answer(socket, client, request, data);
    }
    steer(socket);
    stage_unlock();
    umockdev_ioctl_client_complete(client, error == 0 ? 0 : -1, error);
    if (data != NULL) {
        g_object_unref(data);
    }
    return TRUE;
}

/* The program closed its node. */
static void on_vanished(UMockdevIoctlBase *base, UMockdevIoctlClient *client, gpointer user) {
    (void)base;
    struct socket *socket = user;
    stage_lock();
    model_forget(&socket->port->model, client, urb_drop);
    for (size_t i = 0; i < CLAIMS; i++) {
        if (socket->claims[i] == client) {
            socket->claims[i] = NULL;
        }
    }
    steer(socket);
    stage_unlock();
}

static void hex(const uint8_t *bytes, size_t count, char *text) {
    for (size_t i = 0; i < count; i++) {
        sprintf(text + 2 * i, "%02X", bytes[i]);
    }
}

static bool add_device(const char *path, const char *descriptors, int address, const char *speed,
                       const struct model_identity *id) {
    char description[2000];
    int length = snprintf(description, sizeof description,
                          "P: /devices/pci0000:00/0000:00:14.0/%s\nN: bus/usb/001/%03d=00\n"
                          "E: SUBSYSTEM=usb\nE: DEVNAME=/dev/bus/usb/001/%03d\nE: DEVTYPE=usb_device\n"
                          "E: BUSNUM=001\nE: DEVNUM=%03d\n"
                          "A: busnum=1\\n\nA: devnum=%d\\n\nA: speed=%s\\n\nA: bConfigurationValue=1\\n\n"
                          "H: descriptors=%s\n",
                          path, address, address, address, address, speed, descriptors);
    if (id != NULL) {
        const char *const *texts = id->texts;
        snprintf(description + length, sizeof description - (size_t)length,
                 "A: idVendor=%04x\\n\nA: idProduct=%04x\\n\n"
                 "A: manufacturer=%s\\n\nA: product=%s\\n\nA: serial=%s\\n\n",
                 id->vendor, id->product, texts[0], texts[1], texts[2]);
    }
    GError *error = NULL;
    if (!umockdev_testbed_add_from_string(testbed, description, &error)) {
        fprintf(stderr, "%s: %s\n", path, error->message);
        g_error_free(error);
        return false;
    }
    return true;
}

static bool add_hub(const char *path, int address) {
    const struct model hub = {.identity = {.vendor = 0x1D6B, .product = 0x0002}};
    uint8_t bytes[MODEL_DEVICE_SIZE + MODEL_CONFIG_MAX];
    char text[2 * sizeof bytes + 1];
    size_t count = model_device_descriptor(&hub, bytes);
    bytes[4] = 9; /* class: hub */
    count += model_config_descriptor(&hub, bytes + count);
    hex(bytes, count, text);
    return add_device(path, text, address, "480", NULL);
}

static const char *usbfs_start(void) {
    testbed = umockdev_testbed_new();
    char *root = umockdev_testbed_get_root_dir(testbed);
    chmod(root, 0777); /* another user looks at it too, and listens for events, in the test of permissions */
    g_free(root);
    addresses = 2;
    return add_hub("usb1", 1) && add_hub("usb1/1-4", 2) ? NULL : "the emulated bus could not be set up";
}

static void usbfs_stop(void) {
    g_object_unref(testbed);
    while (held != NULL) {
        urb_drop(&held->request);
    }
}

/* The slave of a new pty in place of the node. */
static bool node_link(const char *node, int *master, int *slave) {
    char *root = umockdev_testbed_get_root_dir(testbed);
    char path[300];
    snprintf(path, sizeof path, "%s%s", root, node);
    g_free(root);
    *master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (*master < 0 || grantpt(*master) != 0 || unlockpt(*master) != 0) {
        return false;
    }
    char name[64];
    if (ptsname_r(*master, name, sizeof name) != 0) {
        return false;
    }
    *slave = open(name, O_RDWR | O_NOCTTY | O_CLOEXEC);
    struct termios raw;
    if (*slave < 0 || tcgetattr(*slave, &raw) != 0) {
        return false;
    }
    cfmakeraw(&raw);
    tcsetattr(*slave, TCSANOW, &raw);
    return unlink(path) == 0 && symlink(name, path) == 0;
}

/* The serial port: another pty, which nobody serves. It is there to be found. */
static bool add_tty(struct socket *socket, const char *path) {
    struct stage_port *port = socket->port;
    char description[1000];
    int number = socket->port->model.identity.interface + 1;
    snprintf(port->tty, sizeof port->tty, "/dev/ttyACM%d", addresses);
    snprintf(description, sizeof description,
             "P: /devices/pci0000:00/0000:00:14.0/%s/%s:1.%d/tty/%s\nN: %s=00\nE: SUBSYSTEM=tty\n"
             "E: DEVNAME=%s\nL: device=../../../%s:1.%d\n",
             path, port->where, number, port->tty + 5, port->tty + 5, port->tty, port->where, number);
    socket->tty_syspath = g_strdup_printf("/sys/devices/pci0000:00/0000:00:14.0/%s/%s:1.%d/tty/%s", path,
                                          port->where, number, port->tty + 5);
    return umockdev_testbed_add_from_string(testbed, description, NULL) &&
           node_link(port->tty, &socket->tty_master, &socket->tty_slave);
}

/* The preloaded library asks for the ioctls' socket even when the node could not be opened. */
static void socket_for_all(const char *node) {
    char *root = umockdev_testbed_get_root_dir(testbed);
    char path[300];
    snprintf(path, sizeof path, "%s/ioctl/%s", root, node);
    g_free(root);
    chmod(path, 0777);
}

static bool usbfs_plug(struct stage_port *port, int number) {
    struct socket *socket = calloc(1, sizeof *socket);
    if (socket == NULL) {
        return false;
    }
    uint8_t bytes[MODEL_DEVICE_SIZE + MODEL_CONFIG_MAX];
    char text[2 * sizeof bytes + 1];
    size_t count = model_device_descriptor(&port->model, bytes);
    count += model_config_descriptor(&port->model, bytes + count);
    hex(bytes, count, text);
    char path[64];
    int address = ++addresses;
    socket->port = port;
    socket->master = socket->slave = socket->tty_master = socket->tty_slave = -1;
    snprintf(path, sizeof path, "%s/%s", parent[number], where[number]);
    snprintf(port->where, sizeof port->where, "%s", where[number]);
    snprintf(port->node, sizeof port->node, "/dev/bus/usb/001/%03d", address);
    port->carried = socket;
    if (!add_device(path, text, address, "12", &port->model.identity) ||
        !node_link(port->node, &socket->master, &socket->slave) ||
        (port->model.identity.port && !add_tty(socket, path))) {
        return false;
    }
    tcflow(socket->slave, TCOOFF);
    socket->syspath = g_strdup_printf("/sys/devices/pci0000:00/0000:00:14.0/%s", path);
    socket->handler = umockdev_ioctl_base_new();
    g_signal_connect(socket->handler, "handle-ioctl", G_CALLBACK(on_ioctl), socket);
    g_signal_connect(socket->handler, "client-vanished", G_CALLBACK(on_vanished), socket);
    GError *error = NULL;
    if (!umockdev_testbed_attach_ioctl(testbed, port->node, socket->handler, &error)) {
        fprintf(stderr, "%s: %s\n", port->node, error->message);
        g_error_free(error);
        return false;
    }
    socket_for_all(port->node);
    stage_lock();
    port->plugged = true;
    stage_unlock();
    umockdev_testbed_uevent(testbed, socket->syspath, "add");
    return true;
}

static void usbfs_unplug(struct stage_port *port) {
    struct socket *socket = port->carried;
    stage_lock();
    port->plugged = false;
    model_pull(&port->model);
    close(socket->slave);
    close(socket->master);
    socket->slave = socket->master = -1;
    if (socket->tty_master >= 0) {
        close(socket->tty_slave);
        close(socket->tty_master);
        socket->tty_slave = socket->tty_master = -1;
    }
    stage_unlock();
    if (socket->tty_syspath != NULL) {
        umockdev_testbed_remove_device(testbed, socket->tty_syspath);
    }
    umockdev_testbed_uevent(testbed, socket->syspath, "remove");
    umockdev_testbed_remove_device(testbed, socket->syspath);
    /* The handler goes on answering those who still have the node open; it and the socket are small and
     * stay until the process ends. */
}

static void usbfs_finished(struct stage_port *port) {
    steer(port->carried);
}

#else

static const char *usbfs_start(void) {
    return "built without libumockdev-dev";
}
static void usbfs_stop(void) {
}
static bool usbfs_plug(struct stage_port *port, int number) {
    (void)port;
    (void)number;
    return false;
}
static void usbfs_unplug(struct stage_port *port) {
    (void)port;
}
static void usbfs_finished(struct stage_port *port) {
    (void)port;
}

#endif

const struct stage_carrier stage_usbfs = {.name = "emulated usbfs",
                                          .counts_cancelled = true,
                                          .start = usbfs_start,
                                          .stop = usbfs_stop,
                                          .plug = usbfs_plug,
                                          .unplug = usbfs_unplug,
                                          .finished = usbfs_finished};
