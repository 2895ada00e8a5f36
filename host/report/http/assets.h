/* The files that the page is made of, as they lie in this folder. */
#ifndef SLOTJIG_REPORT_HTTP_ASSETS_H
#define SLOTJIG_REPORT_HTTP_ASSETS_H

#include <stddef.h>

struct asset {
    const char *path; /* of the URL */
    const char *type;
    const char *begin, *end;
};

extern const struct asset assets[];
extern const size_t asset_count;

#endif
