/* The page's server over real sockets: who is answered, with what, and what a hostile or slow client can do.
 */
#include "report/page.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <arpa/inet.h>
#include <cmocka.h>
#include <errno.h>
#include <ifaddrs.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum { ANSWER_MAX = 1 << 20, WAIT_MS = 20000 };

struct site {
    const struct page_module *module;
    struct page *page;
    int port;
    char answer[ANSWER_MAX + 1];
};

static void open_site(struct site *site, bool may_flash) {
    struct problem problem;
    const struct page_options options = {.port = 0, .may_flash = may_flash};
    site->module = page_load(&problem);
    assert_non_null(site->module);
    assert_true(site->module->open(&options, &site->page, &problem));
    site->port = site->module->port(site->page);
    assert_in_range(site->port, 1, 65535);
}

static int setup(void **state) {
    struct site *site = calloc(1, sizeof *site);
    open_site(site, false);
    *state = site;
    return 0;
}

static int teardown(void **state) {
    struct site *site = *state;
    site->module->close(site->page);
    free(site);
    return 0;
}

static int connect_to(const struct sockaddr *address, socklen_t length) {
    const int socket_file = socket(address->sa_family, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (socket_file >= 0 && connect(socket_file, address, length) != 0) {
        const int error = errno;
        close(socket_file);
        errno = error;
        return -1;
    }
    return socket_file;
}

static int dial(const struct site *site) {
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_port = htons((uint16_t)site->port)};
    address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    const int file = connect_to((const struct sockaddr *)&address, sizeof address);
    assert_true(file >= 0);
    return file;
}

/* All of it, or until the other end has had enough. */
static void say(int file, const char *text, size_t length) {
    while (length > 0) {
        const ssize_t sent = send(file, text, length, MSG_NOSIGNAL);
        if (sent <= 0) {
            return;
        }
        text += sent;
        length -= (size_t)sent;
    }
}

/* Until the other end closes; the answer ends with a 0. */
static size_t hear(struct site *site, int file) {
    size_t length = 0;
    struct pollfd ready = {.fd = file, .events = POLLIN};
    while (length < ANSWER_MAX && poll(&ready, 1, WAIT_MS) > 0) {
        const ssize_t got = recv(file, site->answer + length, ANSWER_MAX - length, 0);
        if (got <= 0) {
            break;
        }
        length += (size_t)got;
    }
    site->answer[length] = '\0';
    return length;
}

/* The status, or 0 when the connection was closed without an answer. */
static int ask(struct site *site, const char *request) {
    const int file = dial(site);
    say(file, request, strlen(request));
    hear(site, file);
    close(file);
    int status = 0;
    sscanf(site->answer, "HTTP/1.%*d %d", &status);
    return status;
}

static int get(struct site *site, const char *method, const char *path, const char *more) {
    char request[1024];
    snprintf(request, sizeof request, "%s %s HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nConnection: close\r\n%s\r\n",
             method, path, site->port, more);
    return ask(site, request);
}

static long long header(const struct site *site, const char *name) {
    const char *at = strcasestr(site->answer, name);
    return at != NULL ? atoll(at + strlen(name)) : -1;
}

static void pause_ms(int ms) {
    const struct timespec wait = {.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000L};
    nanosleep(&wait, NULL);
}

static void put_text(struct site *site, const char *json) {
    site->module->put_state(site->page, json, strlen(json));
}

/* ---- who is answered ---- */

/* DNS rebinding: another's name that leads to 127.0.0.1 comes with that name. */
static void test_host(void **state) {
    struct site *site = *state;
    static const struct {
        const char *host; /* %d: the port */
        int status;
    } rows[] = {{"Host: 127.0.0.1:%d\r\n", 200},
                {"Host: localhost:%d\r\n", 200},
                {"Host: LocalHost:%d\r\n", 200},
                {"Host: 127.0.0.1\r\n", 403},
                {"Host: 127.0.0.1:1%d\r\n", 403},
                {"Host: evil.example:%d\r\n", 403},
                {"Host: 127.0.0.1.evil.example:%d\r\n", 403},
                {"Host: localhost:%d.evil.example\r\n", 403},
                {"Host: [::1]:%d\r\n", 403},
                {"Host: 0.0.0.0:%d\r\n", 403},
                {"Host: \r\n", 403},
                {"", 400},
                {"Host: 127.0.0.1:%1$d\r\nHost: evil.example\r\n", 403},
                {"Host: 127.0.0.1:%1$d\r\nHost: 127.0.0.1:%1$d\r\n", 403}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char host[128], request[256];
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wformat-nonliteral"
        snprintf(host, sizeof host, rows[i].host, site->port);
#pragma GCC diagnostic pop
        snprintf(request, sizeof request, "GET /state.json HTTP/1.1\r\n%sConnection: close\r\n\r\n", host);
        const int status = ask(site, request);
        if (status != rows[i].status) {
            fail_msg("%s: %d, not %d", rows[i].host, status, rows[i].status);
        }
    }
    assert_int_equal(ask(site, "GET / HTTP/1.0\r\n\r\n"), 403);
}

static void test_other_sites(void **state) {
    struct site *site = *state;
    char ours[64], both[128];
    snprintf(ours, sizeof ours, "Origin: http://127.0.0.1:%d\r\n", site->port);
    assert_int_equal(get(site, "GET", "/state.json", ours), 200);
    /* A good one behind a bad one makes nothing good. */
    snprintf(both, sizeof both, "Origin: http://evil.example\r\n%s", ours);
    assert_int_equal(get(site, "GET", "/state.json", both), 403);
    assert_int_equal(get(site, "GET", "/", "Sec-Fetch-Site: cross-site\r\nSec-Fetch-Site: same-origin\r\n"),
                     403);
    assert_int_equal(get(site, "GET", "/state.json", "Origin: http://evil.example\r\n"), 403);
    assert_int_equal(get(site, "GET", "/state.json", "Origin: null\r\n"), 403);
    assert_int_equal(get(site, "GET", "/state.json", "Origin: http://127.0.0.1:1\r\n"), 403);
    assert_int_equal(get(site, "GET", "/picture.png", "Sec-Fetch-Site: cross-site\r\n"), 403);
    assert_int_equal(get(site, "GET", "/picture.png", "Sec-Fetch-Site: same-site\r\n"), 403);
    assert_int_equal(get(site, "GET", "/", "Sec-Fetch-Site: none\r\n"), 200);
    assert_int_equal(get(site, "GET", "/state.json", "Sec-Fetch-Site: same-origin\r\n"), 200);
}

/* Every address of this machine that is not 127.0.0.1. */
static void test_other_addresses(void **state) {
    struct site *site = *state;
    struct ifaddrs *all = NULL;
    int tried = 0;
    assert_int_equal(getifaddrs(&all), 0);
    for (struct ifaddrs *one = all; one != NULL; one = one->ifa_next) {
        struct sockaddr_storage address;
        const int family = one->ifa_addr != NULL ? one->ifa_addr->sa_family : AF_UNSPEC;
        if (family != AF_INET && family != AF_INET6) {
            continue;
        }
        const socklen_t length = family == AF_INET ? sizeof(struct sockaddr_in) : sizeof(struct sockaddr_in6);
        memcpy(&address, one->ifa_addr, length);
        if (family == AF_INET) {
            struct sockaddr_in *inet = (struct sockaddr_in *)&address;
            inet->sin_port = htons((uint16_t)site->port);
            if (inet->sin_addr.s_addr == htonl(INADDR_LOOPBACK)) {
                continue;
            }
        } else {
            ((struct sockaddr_in6 *)&address)->sin6_port = htons((uint16_t)site->port);
        }
        assert_true(connect_to((struct sockaddr *)&address, length) < 0);
        assert_int_equal(errno, ECONNREFUSED);
        tried++;
    }
    freeifaddrs(all);
    if (tried == 0) {
        skip();
    }
}

static void test_methods(void **state) {
    struct site *site = *state;
    static const char *const methods[] = {"POST",  "PUT",   "DELETE",  "OPTIONS",
                                          "TRACE", "PATCH", "CONNECT", "get"};
    for (size_t i = 0; i < sizeof methods / sizeof methods[0]; i++) {
        const int status = get(site, methods[i], "/", "Content-Length: 0\r\n");
        assert_in_range(status, 400, 499);
    }
    assert_int_equal(get(site, "POST", "/", "Content-Length: 1000000000\r\n"), 405);
    assert_int_equal(get(site, "POST", "/", "Transfer-Encoding: chunked\r\n"), 405);
    assert_int_equal(get(site, "GET", "/", "Content-Length: 5\r\n"), 413);
    assert_int_equal(get(site, "HEAD", "/", ""), 200);
    assert_non_null(strstr(site->answer, "\r\n\r\n"));
    assert_string_equal(strstr(site->answer, "\r\n\r\n"), "\r\n\r\n");
    assert_int_equal(get(site, "GET", "/nothing", ""), 404);
    assert_int_equal(get(site, "GET", "/../../etc/passwd", ""), 404);
    assert_int_equal(get(site, "GET", "/%2e%2e/page.css", ""), 404);
}

static void test_headers(void **state) {
    struct site *site = *state;
    static const char *const paths[] = {"/",           "/page.css",    "/page.js", "/page.svg",
                                        "/state.json", "/picture.png", "/nothing"};
    for (size_t i = 0; i < sizeof paths / sizeof paths[0]; i++) {
        get(site, "GET", paths[i], "");
        assert_non_null(strcasestr(site->answer, "\r\nContent-Security-Policy: default-src 'none';"));
        assert_null(strcasestr(site->answer, "unsafe"));
        assert_non_null(strcasestr(site->answer, "\r\nCache-Control: no-store\r\n"));
        assert_non_null(strcasestr(site->answer, "\r\nX-Content-Type-Options: nosniff\r\n"));
        assert_null(strcasestr(site->answer, "Access-Control"));
    }
    get(site, "POST", "/", "");
    assert_non_null(strcasestr(site->answer, "\r\nContent-Security-Policy: default-src 'none';"));
}

/* The page names no other place: what it loads comes from here. */
static void test_page_is_whole(void **state) {
    struct site *site = *state;
    static const char *const paths[] = {"/", "/page.css", "/page.js"};
    for (size_t i = 0; i < sizeof paths / sizeof paths[0]; i++) {
        assert_int_equal(get(site, "GET", paths[i], ""), 200);
        const char *body = strstr(site->answer, "\r\n\r\n");
        assert_true(strlen(body) > 1000);
        assert_null(strstr(body, "https:"));
        assert_null(strstr(body, "@import"));
        assert_null(strstr(body, "innerHTML"));
    }
}

/* ---- bounds ---- */

static void test_long_requests(void **state) {
    struct site *site = *state;
    enum { LONG = 200000 };
    char *request = malloc(LONG + 200);
    memset(request, 'a', LONG + 200);
    memcpy(request, "GET /", 5);
    strcpy(request + LONG, " HTTP/1.1\r\nHost: x\r\n\r\n");
    int status = ask(site, request);
    assert_true(status == 0 || (status >= 400 && status < 600));
    const int used = snprintf(request, 200, "GET / HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nX: ", site->port);
    request[used] = 'a';
    strcpy(request + LONG, "\r\n\r\n");
    status = ask(site, request);
    assert_true(status == 0 || (status >= 400 && status < 600));
    static const char *const nonsense[] = {"\r\n\r\n\r\n", "GET\r\n\r\n", "\x16\x03\x01\x02",
                                           "GET / HTTP/9.9\r\n\r\n", "GET / HTTP/1.1\r\nHost\r\n\r\n"};
    for (size_t i = 0; i < sizeof nonsense / sizeof nonsense[0]; i++) {
        const int file = dial(site);
        say(file, nonsense[i], strlen(nonsense[i]));
        shutdown(file, SHUT_WR);
        hear(site, file);
        close(file);
        assert_null(strstr(site->answer, " 200 "));
    }
    free(request);
    assert_int_equal(get(site, "GET", "/state.json", ""), 200);
}

/* Clients that open and say nothing, or half of something: others are answered once those are given up. */
static void test_many_and_slow(void **state) {
    struct site *site = *state;
    enum { MANY = 45 }; /* fewer than are served and queued together, so that connecting does not wait */
    int files[MANY];
    for (int i = 0; i < MANY; i++) {
        files[i] = dial(site);
        if (i % 2 == 0) {
            say(files[i], "GET / HT", 8);
        }
    }
    put_text(site, "{\"still\":\"here\"}"); /* the other thread is never held up */
    for (int i = 0; i < MANY; i++) {
        close(files[i]);
    }
    assert_int_equal(get(site, "GET", "/state.json", ""), 200);
    assert_non_null(strstr(site->answer, "\"still\":\"here\""));
}

static void test_idle_are_given_up(void **state) {
    struct site *site = *state;
    enum { ALL = 24 };
    int files[ALL];
    for (int i = 0; i < ALL; i++) {
        files[i] = dial(site);
        say(files[i], "GET / HT", 8);
    }
    assert_int_equal(get(site, "GET", "/state.json", ""), 200); /* waits until they have been idle too long */
    for (int i = 0; i < ALL; i++) {
        close(files[i]);
    }
}

/* A client that asks for a large picture and does not read it. */
static void test_slow_reader(void **state) {
    struct site *site = *state;
    enum { LARGE = 4 * 1024 * 1024 };
    uint8_t *picture = calloc(1, LARGE);
    char request[200];
    assert_int_equal(get(site, "GET", "/picture.png", ""), 204);
    assert_true(site->module->wants_picture(site->page));
    site->module->put_picture(site->page, picture, LARGE, "large");
    const int slow = dial(site);
    snprintf(request, sizeof request, "GET /picture.png HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n\r\n", site->port);
    say(slow, request, strlen(request));
    pause_ms(50);
    put_text(site, "{}");
    for (int i = 0; i < 20; i++) {
        assert_int_equal(get(site, "GET", "/state.json", ""), 200);
    }
    close(slow);
    free(picture);
}

/* ---- state and pictures ---- */

static void test_state(void **state) {
    struct site *site = *state;
    char *large = calloc(1, PAGE_STATE_MAX + 1);
    assert_int_equal(get(site, "GET", "/state.json", ""), 200);
    assert_non_null(strstr(site->answer, "\"may_flash\":false,\"state\":null}"));
    put_text(site, "{\"one\":1}");
    pause_ms(300);
    get(site, "GET", "/state.json", "");
    assert_non_null(strstr(site->answer, "\"state\":{\"one\":1}}"));
    assert_true(header(site, "\"age_ms\":") >= 300);
    memset(large, ' ', PAGE_STATE_MAX + 1);
    site->module->put_state(site->page, large, PAGE_STATE_MAX + 1);
    get(site, "GET", "/state.json", "");
    assert_non_null(strstr(site->answer, "\"state\":{\"one\":1}}"));
    memcpy(large, "{\"two\":2}", 9);
    site->module->put_state(site->page, large, PAGE_STATE_MAX);
    get(site, "GET", "/state.json", "");
    assert_non_null(strstr(site->answer, "\"state\":{\"two\":2}"));
    assert_int_equal(site->answer[strlen(site->answer) - 1], '}');
    free(large);
}

static const uint8_t some[] = "some bytes of a picture";

/* Pictures are put as often as they are wanted, for so long; returns how many the client got, and checks that
 * none came sooner than allowed. By the server's own clock, so that a slow machine changes nothing. */
static int watch_pictures(struct site *site, const char *pace, int ms, int apart) {
    long long last = -1, number = 0;
    int got = 0;
    for (int waited = 0; waited < ms; waited += 10) {
        char path[64];
        if (site->module->wants_picture(site->page)) {
            site->module->put_picture(site->page, some, sizeof some, "alt");
        }
        snprintf(path, sizeof path, "/picture.png?after=%lld&pace=%s", number, pace);
        if (get(site, "GET", path, "") == 200) {
            const long long taken = header(site, "Slotjig-Taken-Ms: ");
            assert_true(header(site, "Slotjig-Picture: ") > number);
            assert_true(last < 0 || taken - last >= apart);
            number = header(site, "Slotjig-Picture: ");
            last = taken;
            got++;
        }
        pause_ms(10);
    }
    return got;
}

/* WCAG 2.3.1: not more than three flashes a second. One picture a second cannot. */
static void test_stills_only(void **state) {
    struct site *site = *state;
    assert_false(site->module->wants_picture(site->page)); /* nobody looks */
    site->module->put_picture(site->page, some, sizeof some, "alt");
    assert_int_equal(get(site, "GET", "/picture.png", ""), 204);
    assert_true(watch_pictures(site, "fast", 2300, PAGE_STILL_MS) >= 2);
}

static void test_agreed(void **state) {
    struct site *site = *state;
    site->module->close(site->page);
    open_site(site, true);
    get(site, "GET", "/state.json", "");
    assert_non_null(strstr(site->answer, "\"may_flash\":true"));
    assert_true(watch_pictures(site, "fast", 1500, PAGE_FAST_MS) >= 3);
    assert_true(watch_pictures(site, "still", 1500, PAGE_STILL_MS) >= 1);
    assert_true(watch_pictures(site, "", 1500, PAGE_STILL_MS) >= 1);
}

static void test_pictures(void **state) {
    struct site *site = *state;
    get(site, "GET", "/picture.png", "");
    site->module->put_picture(site->page, some, sizeof some, "step 1,\r\nSet-Cookie: a=b \xC3\xA9");
    assert_int_equal(get(site, "GET", "/picture.png", ""), 200);
    assert_null(strcasestr(site->answer, "\r\nSet-Cookie"));
    assert_non_null(
        strstr(site->answer, "Slotjig-Alt: step%201%2C%0D%0ASet%2DCookie%3A%20a%3Db%20%C3%A9\r\n"));
    const char *body = strstr(site->answer, "\r\n\r\n") + 4;
    assert_memory_equal(body, some, sizeof some);
    assert_int_equal(get(site, "GET", "/picture.png?after=1", ""), 204);
    assert_int_equal(get(site, "GET", "/picture.png?after=-1", ""), 204);
    assert_int_equal(get(site, "GET", "/picture.png?after=x&pace", ""), 200);
    uint8_t *large = calloc(1, PAGE_PICTURE_MAX + 1);
    pause_ms(PAGE_STILL_MS + 50);
    site->module->put_picture(site->page, large, PAGE_PICTURE_MAX + 1, "too large");
    assert_int_equal(get(site, "GET", "/picture.png?after=1", ""), 204);
    free(large);
}

/* ---- opening ---- */

static void test_port_taken(void **state) {
    struct site *site = *state;
    struct page *second = NULL;
    struct problem problem = {0};
    const struct page_options options = {.port = site->port};
    char port[16];
    assert_false(site->module->open(&options, &second, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    snprintf(port, sizeof port, "port %d:", site->port);
    assert_non_null(strstr(problem.text, port));
    assert_non_null(strstr(problem.text, "--port"));
    assert_null(strchr(problem.text, '\n'));
}

static void test_module_missing(void **state) {
    (void)state;
    struct problem problem = {0};
    setenv("SLOTJIG_PAGE_MODULE", "/nowhere/slotjig-page.so", 1);
    assert_null(page_load(&problem));
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    assert_non_null(strstr(problem.text, "page module"));
    setenv("SLOTJIG_PAGE_MODULE", "libz.so.1", 1);
    assert_null(page_load(&problem));
    assert_non_null(strstr(problem.text, "not the page module"));
    unsetenv("SLOTJIG_PAGE_MODULE");
}

int main(void) {
#define ON_A_SITE(test) cmocka_unit_test_setup_teardown(test, setup, teardown)
    const struct CMUnitTest tests[] = {
        ON_A_SITE(test_host),
        ON_A_SITE(test_other_sites),
        ON_A_SITE(test_other_addresses),
        ON_A_SITE(test_methods),
        ON_A_SITE(test_headers),
        ON_A_SITE(test_page_is_whole),
        ON_A_SITE(test_long_requests),
        ON_A_SITE(test_many_and_slow),
        ON_A_SITE(test_idle_are_given_up),
        ON_A_SITE(test_slow_reader),
        ON_A_SITE(test_state),
        ON_A_SITE(test_stills_only),
        ON_A_SITE(test_agreed),
        ON_A_SITE(test_pictures),
        ON_A_SITE(test_port_taken),
        cmocka_unit_test(test_module_missing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
