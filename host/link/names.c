/* Bank schemes by size and by name. */
#include "link/link.h"

#include <strings.h>

static const struct {
    size_t size;
    const char *name;
} schemes[WIRE_SCHEMES] = {
    [WIRE_2K] = {2048, "2K"},  [WIRE_4K] = {4096, "4K"},  [WIRE_F8] = {8192, "F8"},
    [WIRE_F6] = {16384, "F6"}, [WIRE_F4] = {32768, "F4"},
};

bool link_scheme(size_t size, enum wire_scheme *scheme) {
    for (int i = 0; i < WIRE_SCHEMES; i++) {
        if (schemes[i].size == size) {
            *scheme = (enum wire_scheme)i;
            return true;
        }
    }
    return false;
}

const char *link_scheme_name(enum wire_scheme scheme) {
    return (unsigned)scheme < WIRE_SCHEMES ? schemes[scheme].name : "unknown";
}

bool link_scheme_from_name(const char *name, enum wire_scheme *scheme) {
    for (int i = 0; i < WIRE_SCHEMES; i++) {
        if (strcasecmp(schemes[i].name, name) == 0) {
            *scheme = (enum wire_scheme)i;
            return true;
        }
    }
    return false;
}
