#include "base/stop.h"

#include <signal.h>
#include <stddef.h>
#include <time.h>
#include <unistd.h>

static const int signals[] = {SIGINT, SIGTERM, SIGHUP, SIGALRM};
enum { SIGNALS = sizeof signals / sizeof signals[0], SECOND_AFTER = 2 /* seconds, or nearly */ };

static volatile sig_atomic_t asked;
static int depth;
static struct timespec first;
static struct sigaction before[SIGNALS];

/* timeout(1) and closing terminals send two at once: only a later one is a second wish. */
static void note(int number) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    if (asked == 0) {
        first = now;
        asked = 1;
    } else if (number != SIGALRM && now.tv_sec - first.tv_sec >= SECOND_AFTER) {
        signal(number, SIG_DFL);
        raise(number);
    }
}

void stop_catch(void) {
    if (depth++ > 0) {
        return;
    }
    /* Not SA_RESTART: whoever waits is to look. */
    struct sigaction action = {.sa_handler = note, .sa_flags = 0};
    sigemptyset(&action.sa_mask);
    for (size_t i = 0; i < SIGNALS; i++) {
        sigaddset(&action.sa_mask, signals[i]); /* one at a time: they share `first` */
    }
    for (size_t i = 0; i < SIGNALS; i++) {
        sigaction(signals[i], NULL, &before[i]);
        if (before[i].sa_handler != SIG_IGN) { /* nohup, and shells' background jobs */
            sigaction(signals[i], &action, NULL);
        }
    }
}

void stop_after(unsigned seconds) {
    alarm(seconds);
}

bool stop_asked(void) {
    return asked != 0;
}

void stop_release(void) {
    if (--depth > 0) {
        return;
    }
    alarm(0);
    for (size_t i = 0; i < SIGNALS; i++) {
        sigaction(signals[i], &before[i], NULL);
    }
}
