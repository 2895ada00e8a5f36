#include "report/http/guard.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

/* A name that another's server may have been given in the DNS leads here too, with that name in Host. */
static bool is_ours(const char *host, int port) {
    static const char *const names[] = {"127.0.0.1", "localhost"};
    char wanted[32];
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        snprintf(wanted, sizeof wanted, "%s:%d", names[i], port);
        if (strcasecmp(host, wanted) == 0 || (port == 80 && strcasecmp(host, names[i]) == 0)) {
            return true;
        }
    }
    return false;
}

struct seen {
    int port;
    int hosts, bodies;
    bool host_good, origin_good, site_good;
};

static bool same_origin(const char *origin, int port) {
    static const char scheme[] = "http://";
    return strncmp(origin, scheme, strlen(scheme)) == 0 && is_ours(origin + strlen(scheme), port);
}

static enum MHD_Result look(void *user, enum MHD_ValueKind kind, const char *key, const char *value) {
    struct seen *seen = user;
    const char *text = value != NULL ? value : "";
    (void)kind;
    if (strcasecmp(key, "Host") == 0) {
        seen->hosts++;
        seen->host_good = is_ours(text, seen->port);
    } else if (strcasecmp(key, "Origin") == 0) {
        seen->origin_good &= same_origin(text, seen->port);
    } else if (strcasecmp(key, "Sec-Fetch-Site") == 0) {
        /* none: typed in, or a bookmark */
        seen->site_good &= strcasecmp(text, "same-origin") == 0 || strcasecmp(text, "none") == 0;
    } else if (strcasecmp(key, "Transfer-Encoding") == 0 ||
               (strcasecmp(key, "Content-Length") == 0 && strcmp(text, "0") != 0)) {
        seen->bodies++;
    }
    return MHD_YES;
}

unsigned guard_check(struct MHD_Connection *connection, const char *method, int port, const char **why) {
    struct seen seen = {.port = port, .origin_good = true, .site_good = true};
    MHD_get_connection_values(connection, MHD_HEADER_KIND, look, &seen);
    if (seen.hosts != 1 || !seen.host_good) {
        *why = "This page is for this computer alone: ask for it as 127.0.0.1 or localhost, with the port.\n";
        return MHD_HTTP_FORBIDDEN;
    }
    if (!seen.origin_good || !seen.site_good) {
        *why = "Another site's page asks for this one; that is not answered.\n";
        return MHD_HTTP_FORBIDDEN;
    }
    if (strcmp(method, "GET") != 0 && strcmp(method, "HEAD") != 0) {
        *why = "This page can only be read.\n";
        return MHD_HTTP_METHOD_NOT_ALLOWED;
    }
    if (seen.bodies > 0) {
        *why = "A request has no body here.\n";
        return MHD_HTTP_CONTENT_TOO_LARGE;
    }
    return MHD_HTTP_OK;
}
