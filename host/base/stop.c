#include "base/stop.h"

#include <signal.h>
#include <stddef.h>

static const int signals[] = {SIGINT, SIGTERM, SIGHUP};
enum { SIGNALS = sizeof signals / sizeof signals[0] };

static volatile sig_atomic_t asked;
static struct sigaction before[SIGNALS];

static void note(int number) {
    (void)number;
    asked = 1;
}

void stop_catch(void) {
    /* Not SA_RESTART: whoever waits is to look. */
    struct sigaction action = {.sa_handler = note, .sa_flags = (int)SA_RESETHAND};
    sigemptyset(&action.sa_mask);
    for (size_t i = 0; i < SIGNALS; i++) {
        sigaction(signals[i], NULL, &before[i]);
        if (before[i].sa_handler != SIG_IGN) { /* nohup, and shells' background jobs */
            sigaction(signals[i], &action, NULL);
        }
    }
}

bool stop_asked(void) {
    return asked != 0;
}

void stop_release(void) {
    for (size_t i = 0; i < SIGNALS; i++) {
        sigaction(signals[i], &before[i], NULL);
    }
}
