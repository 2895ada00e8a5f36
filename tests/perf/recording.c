/*
 * What keeping a record adds to a run of plan `bits` on the virtual bench: the program with --no-record and
 * with a store, by turns: the median of the processor's time, and the first decile of
 * the clock's, for other programs and the disk's other users only add to it. The console's own time for it is
 * that of 98 steps of 4 fields [A].
 */
#include "record/folder.h"

#include <fcntl.h>
#include <spawn.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

extern char **environ;
enum { RUNS = 31, STEPS = 98, HOLD = 4 };
#define FIELDS_A_SECOND (3579545.0 / (228 * 262))

static double now_ms(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec * 1e3 + (double)time.tv_nsec / 1e6;
}

struct cost {
    double clock, processor; /* ms */
};

static struct cost once(char *const arguments[]) {
    struct rusage used;
    posix_spawn_file_actions_t actions;
    pid_t child;
    int status = 1;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
    const double start = now_ms();
    const int error = posix_spawn(&child, arguments[0], &actions, NULL, arguments, environ);
    posix_spawn_file_actions_destroy(&actions);
    if (error != 0 || wait4(child, &status, 0, &used) != child || status != 0) {
        fprintf(stderr, "%s did not pass\n", arguments[0]);
        exit(1);
    }
    return (struct cost){now_ms() - start, (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) * 1e3 +
                                               (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec) / 1e3};
}

static int ascending(const void *a, const void *b) {
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static struct cost sum_up(const struct cost *costs) {
    double clock[RUNS], processor[RUNS];
    for (int i = 0; i < RUNS; i++) {
        clock[i] = costs[i].clock;
        processor[i] = costs[i].processor;
    }
    qsort(clock, RUNS, sizeof *clock, ascending);
    qsort(processor, RUNS, sizeof *processor, ascending);
    return (struct cost){clock[RUNS / 10], processor[RUNS / 2]};
}

int main(void) {
    struct folder folder;
    char program[] = BUILD_DIR "/slotjig", store[FOLDER_PATH_MAX];
    folder_make(&folder, "slotjig-recording");
    folder_path(&folder, "records.sqlite", store);
    char *without[] = {program, "run",     "--bench",     "virtual", "--plan",
                       "bits",  "--quiet", "--no-record", NULL};
    char *with[] = {program, "run",     "--bench", "virtual", "--plan",
                    "bits",  "--quiet", "--store", store,     NULL};
    struct cost plain[RUNS], recorded[RUNS];
    once(with); /* makes the store */
    for (int i = 0; i < RUNS; i++) {
        plain[i] = once(without);
        recorded[i] = once(with);
    }
    const struct cost less = sum_up(plain), more = sum_up(recorded);
    const double console = STEPS * HOLD / FIELDS_A_SECOND * 1e3;
    printf("run_without_record %.1f ms\nrun_with_record %.1f ms\n", less.clock, more.clock);
    printf("run_record_alone %.1f ms\n", more.clock - less.clock);
    printf("run_record_alone_processor %.1f ms\n", more.processor - less.processor);
    printf("run_record_of_console_time %.2f %%\n", (more.clock - less.clock) / console * 100);
    folder_remove(&folder);
    return 0;
}
