#include "usb/start.h"

#include "usb/stage.h"

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static bool preloaded(void) {
    const char *preload = getenv("LD_PRELOAD");
    return preload != NULL && strstr(preload, "umockdev") != NULL;
}

/* Comes back only when there is no umockdev-wrapper. */
static void start_again(char **arguments) {
    char *wrapped[] = {"umockdev-wrapper", arguments[0], NULL};
    /* The preloaded library comes before the sanitizer's. */
    const char *options = getenv("ASAN_OPTIONS");
    char text[400];
    snprintf(text, sizeof text, "%s%sverify_asan_link_order=0", options != NULL ? options : "",
             options != NULL ? ":" : "");
    setenv("ASAN_OPTIONS", text, 1);
    fflush(stdout);
    execvp(wrapped[0], wrapped);
}

static bool real_kernel(void) {
    return getenv("SLOTJIG_TEST_VHCI") != NULL;
}

const char *usb_stage_missing(void) {
    if (!real_kernel() && !preloaded()) {
        return "not started under umockdev-wrapper (Debian package umockdev)";
    }
    /* A node is a terminal, whose end could be the end of a program that leads its session. */
    signal(SIGHUP, SIG_IGN);
    return stage_start();
}

int usb_tests_run(char **arguments, const char *name, const struct CMUnitTest *tests, size_t count) {
    if (!real_kernel() && !preloaded()) {
        start_again(arguments);
    }
    const char *why = usb_stage_missing();
    if (why != NULL) {
        /* As tests/run counts it. */
        printf("[  SKIPPED ] %zu test(s)\n[  SKIPPED ] %s: %s\n", count, name, why);
        return 0;
    }
    printf("USB by %s\n", stage_name());
    int failed = _cmocka_run_group_tests(name, tests, count, NULL, NULL);
    stage_stop();
    return failed;
}
