/* Bank schemes by size and by name. */
#include "base/scheme.h"
#include "link/link.h"

bool link_scheme(size_t size, enum wire_scheme *scheme) {
    for (int i = 0; i < WIRE_SCHEMES; i++) {
        if (scheme_bytes(i) == size) {
            *scheme = (enum wire_scheme)i;
            return true;
        }
    }
    return false;
}

const char *link_scheme_name(enum wire_scheme scheme) {
    return (unsigned)scheme < WIRE_SCHEMES ? scheme_name((int)scheme) : "unknown";
}

bool link_scheme_from_name(const char *name, enum wire_scheme *scheme) {
    int number;
    const bool known = scheme_from_name(name, &number);
    *scheme = known ? (enum wire_scheme)number : *scheme;
    return known;
}
