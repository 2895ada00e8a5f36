#include "commands/image_file.h"

#include "slotjig/mailbox.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { OP_JMP = 0x4C, OP_LDA_ABSOLUTE = 0xAD, MAILBOX_BYTES = 5, SMALLEST = 2048, WINDOW = 4096 };

static size_t scheme_size(enum wire_scheme scheme) {
    return (size_t)SMALLEST << scheme;
}

static bool reads_mailbox(const uint8_t *bytes, size_t size) {
    for (size_t i = 0; i + 2 < size; i++) {
        if (bytes[i] == OP_LDA_ABSOLUTE && bytes[i + 1] == (MAILBOX_MODE & 0xFF) &&
            (bytes[i + 2] & 0x1F) == MAILBOX_MODE >> 8) {
            return true;
        }
    }
    return false;
}

bool image_has_mailbox(const uint8_t *bytes, size_t size) {
    static const uint8_t zeros[MAILBOX_BYTES];
    if (size != SMALLEST && size != WINDOW) {
        return false;
    }
    const uint8_t *entry = bytes + MAILBOX_ENTRY % size;
    const uint8_t *vector = bytes + RESET_VECTOR % size;
    return vector[0] == (MAILBOX_ENTRY & 0xFF) && (vector[1] & 0x1F) == MAILBOX_ENTRY >> 8 &&
           entry[0] == OP_JMP && entry[1] == 0 &&
           memcmp(bytes + MAILBOX_MODE % size, zeros, sizeof zeros) == 0 && reads_mailbox(bytes, size);
}

static bool load(const char *path, uint8_t *bytes, size_t *size, struct problem *problem) {
    FILE *file = fopen(path, "rbe");
    if (file == NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: cannot be read: %s; check the path and who may read it", path,
                           strerror(errno));
    }
    *size = fread(bytes, 1, WIRE_IMAGE_MAX + 1, file);
    const int error = ferror(file) ? errno : 0;
    fclose(file);
    return error == 0 || problem_set(problem, PROBLEM_INPUT, "%s: cannot be read: %s; give an image file",
                                     path, strerror(error));
}

static bool choose_scheme(const char *path, const char *name, size_t size, enum wire_scheme *scheme,
                          struct problem *problem) {
    if (name != NULL && !link_scheme_from_name(name, scheme)) {
        return problem_set(problem, PROBLEM_INPUT, "--scheme %s: say 2K, 4K, F8, F6 or F4", name);
    }
    if (name != NULL && scheme_size(*scheme) != size) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: %s%zu bytes, and an image of scheme %s has %zu; leave "
                           "--scheme out to go by the size",
                           path, size > WIRE_IMAGE_MAX ? "over " : "",
                           size > WIRE_IMAGE_MAX ? size - 1 : size, link_scheme_name(*scheme),
                           scheme_size(*scheme));
    }
    return name != NULL || link_scheme(size, scheme) ||
           problem_set(
               problem, PROBLEM_INPUT,
               "%s: %s%zu bytes; an image has 2048 (2K), 4096 (4K), 8192 (F8), 16384 (F6) or 32768 (F4)",
               path, size > WIRE_IMAGE_MAX ? "over " : "", size > WIRE_IMAGE_MAX ? size - 1 : size);
}

bool image_file_read(const char *path, const char *scheme, bool ram, struct link_image *image,
                     struct problem *problem) {
    uint8_t *bytes = malloc(WIRE_IMAGE_MAX + 1);
    size_t size = 0;
    enum wire_scheme chosen = WIRE_2K;
    if (bytes == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory; close other programs", path);
    }
    if (!load(path, bytes, &size, problem) || !choose_scheme(path, scheme, size, &chosen, problem)) {
        free(bytes);
        return false;
    }
    *image = (struct link_image){.bytes = bytes, .size = size, .scheme = chosen};
    image->flags = (ram ? WIRE_IMAGE_RAM : 0U) | (image_has_mailbox(bytes, size) ? WIRE_IMAGE_MAILBOX : 0U);
    return true;
}
