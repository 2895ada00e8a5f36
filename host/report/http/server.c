/* The server: one thread of libmicrohttpd's, on 127.0.0.1 only. */
#include "report/http/assets.h"
#include "report/http/guard.h"
#include "report/http/shelf.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

/* Figures: common practice, no source. A browser opens up to six connections to a host. */
enum { CONNECTIONS_MAX = 24, IDLE_SECONDS = 5, CONNECTION_BYTES = 16 * 1024 };

struct page {
    struct MHD_Daemon *daemon;
    int port;
    struct shelf shelf;
};

/* ---- answers ---- */

static void add_headers(struct MHD_Response *response, const char *type) {
    static const char *const headers[][2] = {
        {"Content-Security-Policy",
         "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; "
         "connect-src 'self'; base-uri 'none'; form-action 'none'; "
         "frame-ancestors 'none'"},
        {"Cache-Control", "no-store"},
        {"X-Content-Type-Options", "nosniff"},
        {"X-Frame-Options", "DENY"},
        {"Referrer-Policy", "no-referrer"},
        {"Cross-Origin-Resource-Policy", "same-origin"},
        {"Cross-Origin-Opener-Policy", "same-origin"},
    };
    for (size_t i = 0; i < sizeof headers / sizeof headers[0]; i++) {
        MHD_add_response_header(response, headers[i][0], headers[i][1]);
    }
    MHD_add_response_header(response, "Content-Type", type);
}

/* Takes the response; NULL is a lack of memory, and ends the connection. */
static enum MHD_Result send_off(struct MHD_Connection *connection, unsigned status,
                                struct MHD_Response *response, const char *type) {
    if (response == NULL) {
        return MHD_NO;
    }
    add_headers(response, type);
    const enum MHD_Result queued = MHD_queue_response(connection, status, response);
    MHD_destroy_response(response);
    return queued;
}

/* The text must be static; libmicrohttpd does not write to it. */
static enum MHD_Result send_static(struct MHD_Connection *connection, unsigned status, const char *text,
                                   size_t length, const char *type) {
    return send_off(connection, status,
                    MHD_create_response_from_buffer(length, (void *)text, MHD_RESPMEM_PERSISTENT), type);
}

static enum MHD_Result send_line(struct MHD_Connection *connection, unsigned status, const char *line) {
    return send_static(connection, status, line, strlen(line), "text/plain; charset=utf-8");
}

static enum MHD_Result send_state(struct page *page, struct MHD_Connection *connection) {
    size_t length = 0;
    char *text = shelf_state(&page->shelf, &length);
    if (text == NULL) {
        return MHD_NO;
    }
    return send_off(connection, MHD_HTTP_OK,
                    MHD_create_response_from_buffer(length, text, MHD_RESPMEM_MUST_FREE), "application/json");
}

static uint64_t number_asked(struct MHD_Connection *connection) {
    const char *text = MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, "after");
    return text != NULL ? strtoull(text, NULL, 10) : 0;
}

static enum pace pace_asked(struct MHD_Connection *connection) {
    const char *text = MHD_lookup_connection_value(connection, MHD_GET_ARGUMENT_KIND, "pace");
    return text != NULL && strcmp(text, "fast") == 0 ? PACE_FAST : PACE_STILL;
}

/* As for a URL, since a header holds ASCII only. */
static void encode_text(const char *text, char *encoded, size_t size) {
    size_t used = 0;
    for (; *text != '\0' && used + 4 < size; text++) {
        const unsigned char c = (unsigned char)*text;
        const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
        used += (size_t)snprintf(encoded + used, size - used, plain ? "%c" : "%%%02X", c);
    }
    encoded[used] = '\0';
}

static enum MHD_Result send_picture(struct page *page, struct MHD_Connection *connection) {
    struct picture_slot about;
    char text[24], alt[3 * ALT_MAX + 4];
    uint8_t *png = shelf_picture(&page->shelf, pace_asked(connection), number_asked(connection), &about);
    if (png == NULL) {
        return send_static(connection, MHD_HTTP_NO_CONTENT, "", 0, "image/png");
    }
    struct MHD_Response *response = MHD_create_response_from_buffer(about.size, png, MHD_RESPMEM_MUST_FREE);
    if (response == NULL) {
        free(png);
        return MHD_NO;
    }
    snprintf(text, sizeof text, "%llu", (unsigned long long)about.number);
    MHD_add_response_header(response, "Slotjig-Picture", text);
    snprintf(text, sizeof text, "%lld", about.taken_ms);
    MHD_add_response_header(response, "Slotjig-Taken-Ms", text);
    encode_text(about.alt, alt, sizeof alt);
    MHD_add_response_header(response, "Slotjig-Alt", alt);
    return send_off(connection, MHD_HTTP_OK, response, "image/png");
}

static enum MHD_Result send_found(struct page *page, struct MHD_Connection *connection, const char *path) {
    if (strcmp(path, "/state.json") == 0) {
        return send_state(page, connection);
    }
    if (strcmp(path, "/picture.png") == 0) {
        return send_picture(page, connection);
    }
    for (size_t i = 0; i < asset_count; i++) {
        if (strcmp(path, assets[i].path) == 0) {
            return send_static(connection, MHD_HTTP_OK, assets[i].begin,
                               (size_t)(assets[i].end - assets[i].begin), assets[i].type);
        }
    }
    return send_line(connection, MHD_HTTP_NOT_FOUND, "There is no such page.\n");
}

/* Called once with the headers and once more when the request is over; whoever is refused is told at once. */
static enum MHD_Result answer(void *user, struct MHD_Connection *connection, const char *path,
                              const char *method, const char *version, const char *upload,
                              size_t *upload_size, void **memory) {
    static int seen;
    struct page *page = user;
    const char *why = NULL;
    (void)version, (void)upload;
    if (*memory == NULL) {
        *memory = &seen;
        const unsigned status = guard_check(connection, method, page->port, &why);
        return status == MHD_HTTP_OK ? MHD_YES : send_line(connection, status, why);
    }
    if (*upload_size != 0) {
        *upload_size = 0;
        return MHD_YES;
    }
    return send_found(page, connection, path);
}

/* ---- opening and closing ---- */

/* Signals are the program's: its thread is the one that waits and must look. */
static struct MHD_Daemon *start(struct page *page, int listener) {
    sigset_t all, before;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    struct MHD_Daemon *daemon = MHD_start_daemon(
        MHD_USE_POLL_INTERNAL_THREAD | MHD_USE_ITC, 0, NULL, NULL, answer, page, MHD_OPTION_LISTEN_SOCKET,
        listener, MHD_OPTION_CONNECTION_LIMIT, (unsigned)CONNECTIONS_MAX, MHD_OPTION_CONNECTION_TIMEOUT,
        (unsigned)IDLE_SECONDS, MHD_OPTION_CONNECTION_MEMORY_LIMIT, (size_t)CONNECTION_BYTES,
        MHD_OPTION_STRICT_FOR_CLIENT, 1, MHD_OPTION_END);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return daemon;
}

static bool refuse_port(int port, struct problem *problem) {
    const bool told = errno == EADDRINUSE || errno == EACCES;
    return problem_set(problem, told ? PROBLEM_INPUT : PROBLEM_BENCH,
                       "port %d: %s; give another with --port N, or leave --port out for one that is free",
                       port, errno == EADDRINUSE ? "another program uses it" : strerror(errno));
}

/* A socket of our own, so that the port is known before the first request. */
static int listen_on(int *port, struct problem *problem) {
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons((uint16_t)*port)};
    socklen_t length = sizeof address;
    const int on = 1, listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    if (listener < 0 || setsockopt(listener, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) != 0 ||
        bind(listener, (const struct sockaddr *)&address, sizeof address) != 0 ||
        listen(listener, CONNECTIONS_MAX) != 0 ||
        getsockname(listener, (struct sockaddr *)&address, &length) != 0) {
        refuse_port(*port, problem);
        if (listener >= 0) {
            close(listener);
        }
        return -1;
    }
    *port = ntohs(address.sin_port);
    return listener;
}

static void page_close(struct page *page) {
    if (page->daemon != NULL) {
        MHD_stop_daemon(page->daemon);
    }
    shelf_free(&page->shelf);
    free(page);
}

static bool page_open(const struct page_options *options, struct page **page, struct problem *problem) {
    struct page *made = calloc(1, sizeof *made);
    if (made == NULL || !shelf_init(&made->shelf, options->may_flash)) {
        free(made);
        return problem_set(problem, PROBLEM_BENCH, "out of memory for the page; close other programs");
    }
    made->port = options->port;
    const int listener = listen_on(&made->port, problem);
    if (listener >= 0) {
        made->daemon = start(made, listener);
    }
    if (made->daemon == NULL) {
        if (listener >= 0) {
            close(listener);
            problem_set(problem, PROBLEM_BENCH, "the page's server cannot be started; close other programs");
        }
        page_close(made);
        return false;
    }
    *page = made;
    return true;
}

static int page_port(const struct page *page) {
    return page->port;
}

static void put_state(struct page *page, const char *json, size_t length) {
    shelf_put_state(&page->shelf, json, length);
}

static bool wants_picture(struct page *page) {
    return shelf_wants_picture(&page->shelf);
}

static void put_picture(struct page *page, const uint8_t *png, size_t size, const char *alt) {
    shelf_put_picture(&page->shelf, png, size, alt);
}

__attribute__((visibility("default"))) const struct page_module slotjig_page_module = {
    .abi = PAGE_ABI,
    .open = page_open,
    .close = page_close,
    .port = page_port,
    .put_state = put_state,
    .wants_picture = wants_picture,
    .put_picture = put_picture,
};
