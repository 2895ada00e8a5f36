#include "commands/watch_pace.h"

#include "base/stop.h"

#include <time.h>

enum { LATE_US = 500000, WAIT_MAX_US = 2000000 /* a gap in a recording is no reason to stand still */ };

uint64_t pace_now_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000 + (uint64_t)now.tv_nsec / 1000;
}

void pace_start(struct pace *pace, double rate, enum standard standard) {
    const struct standard_facts *facts = &standard_table[standard];
    const double usual = (double)facts->frame_rate_num / facts->frame_rate_den;
    *pace = (struct pace){.period_us = 1e6 / (rate > 1 && rate < 1000 ? rate : usual)};
}

static uint64_t due_us(const struct pace *pace, const struct frame *frame) {
    const bool timed = frame->time_us > pace->first_us && pace->first_us > 0;
    return pace->start_us +
           (timed ? frame->time_us - pace->first_us : (uint64_t)(pace->period_us * (double)pace->frames));
}

void pace_wait(struct pace *pace, const struct frame *frame) {
    const uint64_t now = pace_now_us();
    const uint64_t due = pace->frames > 0 ? due_us(pace, frame) : now;
    if (pace->frames == 0 || now > due + LATE_US || due > now + WAIT_MAX_US) {
        pace->frames = 0;
        pace->first_us = frame->time_us;
        pace->start_us = now;
    } else if (due > now && !stop_asked()) {
        const struct timespec wait = {.tv_sec = (time_t)((due - now) / 1000000),
                                      .tv_nsec = (long)((due - now) % 1000000) * 1000};
        nanosleep(&wait, NULL);
    }
    pace->frames++;
}
