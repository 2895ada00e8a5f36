/* Whole virtual loop (console, grabber, judge), and the judge alone on fields in memory, on one core. */
#include "commands/loop.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static double now(void) {
    struct timespec time;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

static double real_rate(void) {
    return standard_table[STANDARD_NTSC].clock_hz / (LINE_CLOCKS * standard_lines(STANDARD_NTSC));
}

static void report(const char *name, uint64_t fields, double seconds) {
    double rate = (double)fields / seconds;
    printf("%s %.0f fields/s\n%s_real_time %.1f times\n", name, rate, name, rate / real_rate());
}

static bool whole_loop(const char *name, double noise_db) {
    struct virtual_options options;
    uint64_t fields = 0;
    double seconds = 0;
    virtual_defaults(STANDARD_NTSC, &options);
    options.grabber.noise_db = noise_db;
    for (int i = 0; i < 6; i++) {
        struct loop loop;
        double start = now();
        bool good = loop_run(&loop, "bits", &options, NULL, NULL);
        seconds += now() - start;
        if (!good || loop.session.result->verdict != VERDICT_PASS) {
            fprintf(stderr, "%s: %s\n", name, loop.problem.text);
            return false;
        }
        fields += loop.session.result->fields_seen;
        loop_end(&loop);
    }
    report(name, fields, seconds);
    return true;
}

enum { STORED = 64, TURNS = 60 };

/* 64 frames are enough to go round in: 44 MB, more than the caches hold. */
static bool judge_alone(void) {
    struct loop loop;
    struct virtual_options options;
    static uint8_t *store[STORED];
    struct frame frames[STORED];
    virtual_defaults(STANDARD_NTSC, &options);
    options.grabber.noise_db = 40;
    if (!loop_run(&loop, "bits", &options, NULL, NULL)) {
        return false;
    }
    for (int i = 0; i < STORED; i++) {
        if (loop.source.next(loop.source.state, &frames[i], &loop.problem) != NEXT_FRAME) {
            return false;
        }
        size_t size = (size_t)frames[i].y.stride * (size_t)frames[i].height;
        store[i] = malloc(size);
        if (store[i] == NULL) {
            return false;
        }
        memcpy(store[i], frames[i].y.data, size);
        frames[i].y.data = store[i];
    }
    struct judge *judge = judge_new(loop.plan, loop.image->hash);
    struct picture_options picture_options = {.standard = STANDARD_NTSC, .unclear_below = PICTURE_UNCLEAR};
    struct frames *reader = frames_new(&picture_options);
    uint64_t fields = 0;
    double start = now();
    for (int turn = 0; turn < TURNS; turn++) {
        for (int i = 0; i < STORED; i++) {
            struct field views[2];
            struct reading readings[2];
            int count = frames_read(reader, &frames[i], views, readings);
            for (int f = 0; f < count; f++) {
                judge_reading(judge, &readings[f], views[f].frame_lines);
                fields++;
            }
        }
    }
    report("judge_in_memory", fields, now() - start);
    frames_free(reader);
    judge_free(judge);
    for (int i = 0; i < STORED; i++) {
        free(store[i]);
    }
    loop_end(&loop);
    return true;
}

int main(void) {
    bool good = whole_loop("loop_clean", HUGE_VAL);
    good = good && whole_loop("loop_30db", 30);
    good = good && judge_alone();
    return good ? 0 : 1;
}
