/*
 * Plan `every`: the whole program and the whole loop on one core and on two, the judge alone on fields in
 * memory, and what a field costs, from the time of 2^10 to 2^21 patterns. Asked: at most 10 s on one core and
 * 1.8 times that speed on two; the judge at least 6,000 fields a second.
 *
 * Real time, least of some rounds. Seconds on one core are also given as processor time, which other work on
 * the machine does not change.
 */
#include "plan/every.h"
#include "commands/loop.h"

#include <math.h>
#include <sched.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

extern char **environ;

enum { ROUNDS = 3, LEAST_BITS = 10, MOST_BITS = 21, STORED = 64, TURNS = 60 };

static cpu_set_t all;

static double seconds_of(clockid_t clock) {
    struct timespec time;
    clock_gettime(clock, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

/* cores: 1 or 2 of those that there are. Children inherit it. */
static void use_cores(int cores) {
    cpu_set_t some;
    CPU_ZERO(&some);
    for (int cpu = 0; cpu < CPU_SETSIZE && CPU_COUNT(&some) < cores; cpu++) {
        if (CPU_ISSET(cpu, &all)) {
            CPU_SET(cpu, &some);
        }
    }
    sched_setaffinity(0, sizeof some, &some);
}

struct times {
    double real, processor;
};

static void keep_least(struct times *least, struct times now) {
    least->real = fmin(least->real, now.real);
    least->processor = fmin(least->processor, now.processor);
}

static void tell(const char *name, struct times one, struct times two) {
    printf("%s_one_core %.2f s\n%s_one_core_processor %.2f s\n", name, one.real, name, one.processor);
    if (CPU_COUNT(&all) > 1) {
        printf("%s_two_cores %.2f s\n%s_ratio %.2f times\n", name, two.real, name, one.real / two.real);
    }
}

/* ---- the whole program ---- */

static bool run_program(int cores, struct times *times) {
    char program[] = BUILD_DIR "/slotjig";
    char *arguments[] = {program, "run",         "--bench", "virtual", "--plan",
                         "every", "--no-record", "--quiet", NULL};
    struct rusage usage;
    pid_t child;
    int status = -1;
    use_cores(cores);
    const double start = seconds_of(CLOCK_MONOTONIC);
    const bool good = posix_spawn(&child, program, NULL, NULL, arguments, environ) == 0 &&
                      wait4(child, &status, 0, &usage) == child && WIFEXITED(status) &&
                      WEXITSTATUS(status) == 0;
    times->real = seconds_of(CLOCK_MONOTONIC) - start;
    times->processor = good ? (double)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
                                  (double)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec) / 1e6
                            : 0;
    return good;
}

/* ---- console, grabber and judge in this process; a plain cartridge ---- */

static bool threads;

static void run_ahead(struct loop *loop, uint64_t seed) {
    (void)seed;
    if (!virtual_run_ahead(&loop->source, threads, &loop->problem)) {
        fprintf(stderr, "%s\n", loop->problem.text);
        exit(1);
    }
}

static bool run_loop(const char *plan, int cores, struct times *times, uint64_t *fields) {
    struct virtual_options options;
    struct loop loop;
    virtual_defaults(STANDARD_NTSC, &options);
    use_cores(cores);
    threads = cores > 1;
    loop_hold = 1;
    const double start = seconds_of(CLOCK_MONOTONIC), before = seconds_of(CLOCK_PROCESS_CPUTIME_ID);
    const bool good =
        loop_run(&loop, plan, &options, NULL, run_ahead) && loop.session.result->verdict == VERDICT_PASS;
    times->real = seconds_of(CLOCK_MONOTONIC) - start;
    times->processor = seconds_of(CLOCK_PROCESS_CPUTIME_ID) - before;
    *fields = loop.session.result != NULL ? loop.session.result->fields_seen : 0;
    loop_end(&loop);
    return good;
}

static bool whole(void) {
    struct times program[2] = {{INFINITY, INFINITY}, {INFINITY, INFINITY}};
    struct times loop[2] = {{INFINITY, INFINITY}, {INFINITY, INFINITY}};
    for (int i = 0; i < 2 * ROUNDS; i++) {
        struct times now;
        uint64_t fields;
        const int cores = i % 2 + 1;
        if (!run_program(cores, &now)) {
            return false;
        }
        keep_least(&program[cores - 1], now);
        if (!run_loop("every", cores, &now, &fields)) {
            return false;
        }
        keep_least(&loop[cores - 1], now);
    }
    use_cores(CPU_SETSIZE);
    tell("every_run", program[0], program[1]);
    tell("every_loop", loop[0], loop[1]);
    return true;
}

/* ---- time against patterns ---- */

/* Least squares of the errors in proportion, so that short plans count too: seconds = start + field * fields.
 */
static void fit(const double *fields, const double *seconds, int count, double *start, double *field) {
    double s = 0, sx = 0, sy = 0, sxx = 0, sxy = 0;
    for (int i = 0; i < count; i++) {
        const double weight = 1 / (seconds[i] * seconds[i]);
        s += weight;
        sx += weight * fields[i];
        sy += weight * seconds[i];
        sxx += weight * fields[i] * fields[i];
        sxy += weight * fields[i] * seconds[i];
    }
    *field = (s * sxy - sx * sy) / (s * sxx - sx * sx);
    *start = (sy - *field * sx) / s;
}

static bool table(void) {
    enum { COUNT = MOST_BITS - LEAST_BITS + 1 };
    double fields[COUNT], seconds[COUNT], start, field, worst = 0;
    for (int i = 0; i < COUNT; i++) {
        char plan[32];
        uint64_t seen = 0;
        struct times least = {INFINITY, INFINITY};
        snprintf(plan, sizeof plan, "every:%d", 1 << (LEAST_BITS + i));
        for (int round = 0; round < ROUNDS + 8 - 8 * i / COUNT; round++) {
            struct times now;
            if (!run_loop(plan, 1, &now, &seen)) {
                return false;
            }
            keep_least(&least, now);
        }
        fields[i] = (double)seen;
        seconds[i] = least.processor;
        printf("every_2^%d %.4f s\nevery_2^%d_fields %.0f fields\n", LEAST_BITS + i, seconds[i],
               LEAST_BITS + i, fields[i]);
    }
    fit(fields, seconds, COUNT, &start, &field);
    for (int i = 0; i < COUNT; i++) {
        worst = fmax(worst, fabs(seconds[i] / (start + field * fields[i]) - 1));
    }
    printf("every_a_field %.1f us\nevery_start %.2f ms\nevery_worst_off_the_line %.1f %%\n", field * 1e6,
           start * 1e3, worst * 100);
    return true;
}

/* ---- the judge alone ---- */

static uint8_t *store[STORED];

static bool store_frames(const struct video_source *source, struct frame frames[STORED],
                         struct problem *problem) {
    for (int i = 0; i < STORED; i++) {
        if (source->next(source->state, &frames[i], problem) != NEXT_FRAME) {
            return false;
        }
        const size_t size = (size_t)frames[i].y.stride * (size_t)frames[i].height;
        store[i] = malloc(size);
        if (store[i] == NULL) {
            return false;
        }
        memcpy(store[i], frames[i].y.data, size);
        frames[i].y.data = store[i];
        frames[i].cb.data = store[i] + 1;
        frames[i].cr.data = store[i] + 3;
    }
    return true;
}

/* Fields a second. */
static double judge_stored(const struct plan *plan, uint16_t hash, const struct frame frames[STORED]) {
    const struct picture_options options = {.standard = STANDARD_NTSC, .unclear_below = PICTURE_UNCLEAR};
    struct judge *judge = judge_new(plan, hash);
    struct frames *reader = frames_new(&options);
    uint64_t judged = 0;
    const double start = seconds_of(CLOCK_PROCESS_CPUTIME_ID);
    for (int i = 0; i < TURNS * STORED; i++) {
        struct field fields[2];
        struct reading readings[2];
        const int count = frames_read(reader, &frames[i % STORED], fields, readings);
        for (int f = 0; f < count; f++) {
            judged += judge_reading(judge, &readings[f], fields[f].frame_lines) == JUDGED_PASS;
        }
    }
    const double seconds = seconds_of(CLOCK_PROCESS_CPUTIME_ID) - start;
    frames_free(reader);
    judge_free(judge);
    return (double)judged / seconds;
}

/* 128 fields of different bases, 44 MB, round and round. */
static bool judge_alone(void) {
    const struct rom_options rom = {.hold = 1};
    struct virtual_options options;
    struct video_source source;
    struct frame frames[STORED];
    struct problem problem = {0};
    struct plan *plan = NULL;
    struct image *image = NULL;
    virtual_defaults(STANDARD_NTSC, &options);
    use_cores(1);
    if (!every_plan(2 * EVERY_VALUES, 1, STANDARD_NTSC, &plan, &problem) ||
        !rom_build(plan, &rom, &image, &problem) ||
        !virtual_open(&options, image->bytes, image->size, &source, &problem) ||
        !store_frames(&source, frames, &problem)) {
        fprintf(stderr, "every: %s\n", problem.text);
        return false;
    }
    printf("every_judge_in_memory %.0f fields/s\n", judge_stored(plan, image->hash, frames));
    source.close(source.state);
    rom_free(image);
    plan_free(plan);
    for (int i = 0; i < STORED; i++) {
        free(store[i]);
    }
    return true;
}

int main(void) {
    sched_getaffinity(0, sizeof all, &all);
    const bool good = whole() && judge_alone() && table();
    return good ? 0 : 1;
}
