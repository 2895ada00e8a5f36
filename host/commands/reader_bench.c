#include "commands/reader_bench.h"

#include <stdlib.h>
#include <string.h>

/* The others are the console's and the video's, and would do nothing here. */
static bool only_cartridge_faults(const struct bench_settings *settings, struct problem *problem) {
    const struct texts *const faults = &settings->faults;
    for (const char *text = texts_next(faults, NULL); text != NULL; text = texts_next(faults, text)) {
        if (strncmp(text, "cart-", 5) != 0) {
            return problem_set(problem, PROBLEM_INPUT,
                               "--fault %s: a reader has no console and no video; only faults of a cartridge "
                               "(cart-...) do something here",
                               text);
        }
    }
    return true;
}

static bool insert_cartridge(struct reader_bench *reader, int scheme, bool ram, const uint8_t *image,
                             struct problem *problem) {
    struct cart_faults faults;
    const struct virtual_options *options = &reader->settings->options;
    if (image == NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "bench %s: a virtual reader needs to know what is on its cartridge; give --image "
                           "FILE, or --plan cartridge with --scheme",
                           reader->settings->name);
    }
    if (!only_cartridge_faults(reader->settings, problem) ||
        !virtual_cartridge_faults(options, scheme, ram, &faults, problem)) {
        return false;
    }
    reader->cartridge = malloc(sizeof *reader->cartridge);
    if (reader->cartridge == NULL) {
        return problem_set(problem, PROBLEM_BENCH,
                           "no memory for the virtual cartridge; close other programs");
    }
    cart_model_init(reader->cartridge, scheme, ram, image, &faults, options->seed);
    reader->virtual = virtual_reader_new(reader->cartridge, options->seed, problem);
    if (reader->virtual != NULL && options->faults.pulled_after_s > 0) {
        virtual_reader_pull_after(reader->virtual, (uint64_t)(options->faults.pulled_after_s * 1e6));
    }
    return reader->virtual != NULL;
}

static bool open_transport(struct reader_bench *reader, int scheme, bool ram, const uint8_t *image,
                           struct transport *transport, struct problem *problem) {
    const struct board_choice *choice = &reader->settings->board;
    switch (choice->way) {
    case BOARD_VIRTUAL:
        if (!insert_cartridge(reader, scheme, ram, image, problem)) {
            return false;
        }
        virtual_reader_transport(reader->virtual, transport);
        return true;
    case BOARD_BY_SERIAL:
        return transport_serial(choice->text, choice->baud, transport, problem);
    case BOARD_BY_USB:
        return transport_usb(choice->text[0] != '\0' ? choice->text : TRANSPORT_ANY_READER, transport,
                             problem);
    default:
        return problem_set(problem, PROBLEM_INPUT,
                           "bench %s names no reader; give its serial, port path or device",
                           reader->settings->name);
    }
}

bool reader_bench_open(struct reader_bench *reader, const struct bench_settings *settings, int scheme,
                       bool ram, const uint8_t *image, struct problem *problem) {
    struct transport transport = {0};
    *reader = (struct reader_bench){.settings = settings};
    if (!open_transport(reader, scheme, ram, image, &transport, problem)) {
        return false;
    }
    reader->transport = transport.name;
    return link_open(&transport, NULL, &reader->link, problem);
}

void reader_bench_close(struct reader_bench *reader) {
    if (reader->link != NULL) {
        link_close(reader->link);
    }
    virtual_reader_free(reader->virtual);
    free(reader->cartridge);
    *reader = (struct reader_bench){.settings = reader->settings};
}
