#include "usb/model.h"

#include "slotjig/usb.h"

#include <errno.h>
#include <string.h>

/* USB 2.0, tables 9-2, 9-4 and 9-5; CDC 1.2 for the classes of the other interfaces. */
enum {
    TO_HOST = 0x80,
    GET_STATUS = 0,
    CLEAR_FEATURE = 1,
    SET_FEATURE = 3,
    SET_ADDRESS = 5,
    GET_DESCRIPTOR = 6,
    GET_CONFIGURATION = 8,
    SET_CONFIGURATION = 9,
    GET_INTERFACE = 10,
    SET_INTERFACE = 11,
    DESCRIPTOR_DEVICE = 1,
    DESCRIPTOR_CONFIG = 2,
    DESCRIPTOR_STRING = 3,
    DESCRIPTOR_INTERFACE = 4,
    DESCRIPTOR_ENDPOINT = 5,
    DESCRIPTOR_ASSOCIATION = 11,
    DESCRIPTOR_CLASS = 0x24,
    BULK = 2,
    INTERRUPT = 3,
    CLASS_REQUEST = 0x20, /* in the request's type */
    CDC = 2,
    CDC_ACM = 2,
    CDC_DATA = 10
};

void model_start(struct model *model, const struct model_identity *identity,
                 const struct model_board *board) {
    memset(model, 0, sizeof *model);
    model->identity = *identity;
    model->board = *board;
    model->room = SIZE_MAX;
}

size_t model_device_descriptor(const struct model *model, uint8_t *bytes) {
    const struct model_identity *id = &model->identity;
    const uint8_t descriptor[MODEL_DEVICE_SIZE] = {
        [0] = MODEL_DEVICE_SIZE,
        [1] = DESCRIPTOR_DEVICE,
        [3] = 0x02, /* USB 2.0 */
        [4] = 0xEF,
        0x02,
        0x01, /* several interfaces, each with its own class */
        [7] = MODEL_PACKET,
        [8] = (uint8_t)id->vendor,
        (uint8_t)(id->vendor >> 8),
        [10] = (uint8_t)id->product,
        (uint8_t)(id->product >> 8),
        [12] = 0x01,
        0x00, /* device release */
        [14] = 1,
        2,
        3,        /* texts */
        [17] = 1, /* configurations */
    };
    memcpy(bytes, descriptor, sizeof descriptor);
    return sizeof descriptor;
}

static size_t add_interface(uint8_t *bytes, uint8_t number, uint8_t class, uint8_t subclass, uint8_t protocol,
                            const uint8_t endpoints[2]) {
    const uint8_t interface[] = {9, DESCRIPTOR_INTERFACE, number, 0, 2, class, subclass, protocol, 0};
    memcpy(bytes, interface, sizeof interface);
    size_t length = sizeof interface;
    for (int i = 0; i < 2; i++) {
        const uint8_t endpoint[] = {7, DESCRIPTOR_ENDPOINT, endpoints[i], BULK, MODEL_PACKET, 0, 0};
        memcpy(bytes + length, endpoint, sizeof endpoint);
        length += sizeof endpoint;
    }
    return length;
}

/* CDC 1.2, 5.2.3, and PSTN 1.2, 5.3: header, no call management, line coding and state, union. */
static size_t add_port(uint8_t *bytes, uint8_t number) {
    const uint8_t data = number + 1;
    const uint8_t control[] = {8,
                               DESCRIPTOR_ASSOCIATION,
                               number,
                               2,
                               CDC,
                               CDC_ACM,
                               0,
                               0,
                               9,
                               DESCRIPTOR_INTERFACE,
                               number,
                               0,
                               1,
                               CDC,
                               CDC_ACM,
                               0,
                               0,
                               5,
                               DESCRIPTOR_CLASS,
                               0,
                               0x20,
                               0x01,
                               5,
                               DESCRIPTOR_CLASS,
                               1,
                               0,
                               data,
                               4,
                               DESCRIPTOR_CLASS,
                               2,
                               2,
                               5,
                               DESCRIPTOR_CLASS,
                               6,
                               number,
                               data,
                               7,
                               DESCRIPTOR_ENDPOINT,
                               TO_HOST | MODEL_NOTIFY,
                               INTERRUPT,
                               16,
                               0,
                               32};
    const uint8_t endpoints[2] = {TO_HOST | MODEL_DATA, MODEL_DATA};
    memcpy(bytes, control, sizeof control);
    return sizeof control + add_interface(bytes + sizeof control, data, CDC_DATA, 0, 0, endpoints);
}

/* Another vendor interface stands before each of ours, with endpoints that answer nothing: who takes the
 * first that comes is found out. */
size_t model_config_descriptor(const struct model *model, uint8_t *bytes) {
    if (model->kind != NULL) {
        return model->kind->config(model->board.state, bytes);
    }
    const struct model_identity *id = &model->identity;
    size_t length = 9;
    for (uint8_t i = 0; i < id->interface; i++) {
        const uint8_t others[2] = {(uint8_t)(0x8A + i), (uint8_t)(0x0A + i)};
        length += add_interface(bytes + length, i, USB_WIRE_CLASS, USB_WIRE_SUBCLASS, USB_WIRE_PROTOCOL + 1,
                                others);
    }
    const uint8_t ours[2] = {(uint8_t)(TO_HOST | id->in), id->out};
    length += add_interface(bytes + length, id->interface, USB_WIRE_CLASS,
                            id->no_interface ? 0 : USB_WIRE_SUBCLASS, USB_WIRE_PROTOCOL, ours);
    if (id->port) {
        length += add_port(bytes + length, id->interface + 1);
    }
    const uint8_t config[] = {
        9,  DESCRIPTOR_CONFIG, (uint8_t)length, 0, (uint8_t)(id->interface + 1 + 2 * id->port), 1, 0, 0x80,
        125};
    memcpy(bytes, config, sizeof config);
    return length;
}

static size_t string_descriptor(const struct model *model, uint8_t index, uint8_t *bytes) {
    size_t length = 2;
    if (index == 0) {
        bytes[length++] = 0x09; /* English (United States) */
        bytes[length++] = 0x04;
    } else if (index <= 3) {
        for (const char *c = model->identity.texts[index - 1]; *c != '\0'; c++) {
            bytes[length++] = (uint8_t)*c;
            bytes[length++] = 0;
        }
    } else {
        return 0;
    }
    bytes[0] = (uint8_t)length;
    bytes[1] = DESCRIPTOR_STRING;
    return length;
}

static size_t descriptor(const struct model *model, const uint8_t *setup, uint8_t *bytes) {
    switch (setup[3]) {
    case DESCRIPTOR_DEVICE:
        return model_device_descriptor(model, bytes);
    case DESCRIPTOR_CONFIG:
        return model_config_descriptor(model, bytes);
    case DESCRIPTOR_STRING:
        return string_descriptor(model, setup[2], bytes);
    default:
        return 0;
    }
}

static bool endpoint_feature(struct model *model, uint8_t address, bool set) {
    bool in = (address & TO_HOST) != 0;
    if (model->kind != NULL) {
        model->kind->cleared(model->board.state);
        return true;
    }
    if ((address & 0x0F) != (in ? model->identity.in : model->identity.out)) {
        return false;
    }
    if (set || !model->halt_sticks) {
        *(in ? &model->halted_in : &model->halted_out) = set;
    }
    *(in ? &model->cleared_in : &model->cleared_out) += set ? 0 : 1;
    return true;
}

void model_clear_halt(struct model *model, uint8_t address) {
    endpoint_feature(model, address, false);
}

/* False: the board stalls the request, as it must when it does not know it. */
static bool control(struct model *model, struct model_request *request) {
    uint8_t answer[MODEL_CONFIG_MAX * 2] = {0};
    size_t length = 0;
    const uint8_t *setup = request->setup;
    if (model->kind != NULL && (setup[0] & 0x60) == CLASS_REQUEST) {
        return model->kind->control(model->board.state, request);
    }
    if ((setup[0] & 0x60) == CLASS_REQUEST) {
        request->moved = request->length;
        return model->identity.port; /* the port's line: all the same to it */
    }
    switch (setup[1]) {
    case GET_DESCRIPTOR:
        length = descriptor(model, setup, answer);
        if (length == 0) {
            return false;
        }
        break;
    case GET_CONFIGURATION:
        answer[0] = model->configuration;
        length = 1;
        break;
    case SET_CONFIGURATION:
        model->configuration = setup[2];
        break;
    case GET_STATUS:
        length = 2;
        break;
    case GET_INTERFACE:
        length = 1;
        break;
    case CLEAR_FEATURE:
    case SET_FEATURE:
        if ((setup[0] & 0x1F) == 2 && !endpoint_feature(model, setup[4], setup[1] == SET_FEATURE)) {
            return false;
        }
        break;
    case SET_ADDRESS:
    case SET_INTERFACE:
        break;
    default:
        return false;
    }
    request->moved = length < request->length ? length : request->length;
    if ((setup[0] & TO_HOST) != 0) {
        memcpy(request->bytes, answer, request->moved);
    }
    return true;
}

/* True: finished. */
static bool run_out(struct model *model, struct model_request *request) {
    if (model->halted_out) {
        request->status = -EPIPE;
        return true;
    }
    while (!model->mute && request->moved < request->length) {
        size_t part = request->length - request->moved;
        part = part < MODEL_PACKET ? part : MODEL_PACKET;
        if (model->room < part) {
            return false;
        }
        model->room -= model->room == SIZE_MAX ? 0 : part;
        model->board.receive(model->board.state, request->bytes + request->moved, part);
        request->moved += part;
    }
    return request->moved == request->length;
}

static bool run_in(struct model *model, struct model_request *request) {
    if (model->halted_in) {
        request->status = -EPIPE;
        return true;
    }
    while (!model->mute && request->moved < request->length) {
        uint8_t packet[MODEL_PACKET];
        size_t count = model->board.take(model->board.state, packet, sizeof packet);
        if (count == 0) {
            return false;
        }
        if (count > request->length - request->moved) {
            request->status = -EOVERFLOW; /* a packet does not fit into what is left of the request */
            return true;
        }
        memcpy(request->bytes + request->moved, packet, count);
        request->moved += count;
        if (count < MODEL_PACKET) {
            return true;
        }
    }
    return request->moved == request->length;
}

static bool run_one(struct model *model, struct model_request *request) {
    if (request->endpoint == 0) {
        request->status = control(model, request) ? 0 : -EPIPE;
        return true;
    }
    if (model->kind != NULL) {
        return request->in && model->kind->in(model->board.state, request);
    }
    bool port = model->identity.port && request->endpoint == MODEL_DATA;
    if (!port && request->endpoint != (request->in ? model->identity.in : model->identity.out)) {
        return false; /* an endpoint of the other interfaces: never an answer */
    }
    return request->in ? run_in(model, request) : run_out(model, request);
}

static void push_back(struct model_request **list, struct model_request *request) {
    while (*list != NULL) {
        list = &(*list)->next;
    }
    request->next = NULL;
    *list = request;
}

static bool unlink_from(struct model_request **list, const struct model_request *request) {
    for (; *list != NULL; list = &(*list)->next) {
        if (*list == request) {
            *list = request->next;
            return true;
        }
    }
    return false;
}

void model_submit(struct model *model, struct model_request *request) {
    request->moved = 0;
    request->status = 0;
    push_back(&model->waiting, request);
}

bool model_cancel(struct model *model, struct model_request *request, int status) {
    if (!unlink_from(&model->waiting, request)) {
        return false;
    }
    model->cancelled++;
    request->status = status;
    push_back(&model->finished, request);
    return true;
}

void model_pull(struct model *model) {
    while (model->waiting != NULL) {
        model_cancel(model, model->waiting, -ESHUTDOWN);
    }
}

void model_run(struct model *model) {
    /* One request of an endpoint at a time, oldest first. */
    bool held[2][16] = {{false}};
    struct model_request *next;
    for (struct model_request *request = model->waiting; request != NULL; request = next) {
        next = request->next;
        bool *hold = &held[request->in][request->endpoint & 15];
        if (!*hold && run_one(model, request)) {
            unlink_from(&model->waiting, request);
            push_back(&model->finished, request);
        } else {
            *hold = true;
        }
    }
}

static struct model_request *find_owned(struct model_request *list, const void *owner) {
    while (list != NULL && owner != NULL && list->owner != owner) {
        list = list->next;
    }
    return list;
}

struct model_request *model_finished(struct model *model, const void *owner) {
    struct model_request *request = find_owned(model->finished, owner);
    if (request != NULL) {
        unlink_from(&model->finished, request);
    }
    return request;
}

void model_forget(struct model *model, const void *owner, void (*drop)(struct model_request *request)) {
    struct model_request *request;
    while ((request = find_owned(model->waiting, owner)) != NULL) {
        unlink_from(&model->waiting, request);
        drop(request);
    }
    while ((request = model_finished(model, owner)) != NULL) {
        drop(request);
    }
}
