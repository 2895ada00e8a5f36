/* Which requests are answered at all: those of a page of ours, for this computer, that only read. */
#ifndef SLOTJIG_REPORT_HTTP_GUARD_H
#define SLOTJIG_REPORT_HTTP_GUARD_H

#include <microhttpd.h>

/* MHD_HTTP_OK, or the status to refuse with and, in *why, one line. */
unsigned guard_check(struct MHD_Connection *connection, const char *method, int port, const char **why);

#endif
