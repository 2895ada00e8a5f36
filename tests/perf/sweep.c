/*
 * What a sweep costs beyond the video it looks at. Asked: under 2 % of the video's time.
 *
 * Counted: the sweep's whole time, from its options to its end, less the time that its runs spend in the
 * session's loop, where video is waited for and judged. So the rest is the sweep's own: reading the sweep
 * file, plans and images and their proof, processes, the board's push and hand-over on the virtual bench, the
 * store opened, written and read, the report and the other files of --out. The video's time is the fields
 * seen over the console's field rate; a real bench takes that long. The virtual bench is much faster, so the
 * share of its time is larger: it is printed too, as the plain figure.
 *
 * Real time, and processor time, which other work on the machine changes less; of some rounds the least.
 */
#include "commands/commands.h"
#include "commands/session.h"
#include "flash/flash.h"
#include "record/folder.h"
#include "record/records.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/resource.h>
#include <time.h>

enum { ROUNDS = 3 };

/* In the loop, summed over the runs, which are processes of their own, one at a time. */
struct looped {
    double wall, processor;
};
static struct looped *looped;

static double seconds_of(clockid_t clock) {
    struct timespec time;
    clock_gettime(clock, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

static double now(void) {
    return seconds_of(CLOCK_MONOTONIC);
}

/* Of this process and those that have ended. */
static double processor(void) {
    double seconds = 0;
    for (int who = 0; who < 2; who++) {
        struct rusage usage;
        getrusage(who == 0 ? RUSAGE_SELF : RUSAGE_CHILDREN, &usage);
        seconds += (double)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
                   (double)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec) / 1e6;
    }
    return seconds;
}

/* The linker puts these two round every call (perf.mk). */
bool __real_session_run(struct session *session, const struct video_source *source, struct problem *problem);
bool __wrap_session_run(struct session *session, const struct video_source *source, struct problem *problem);
bool __wrap_session_run(struct session *session, const struct video_source *source, struct problem *problem) {
    const double start = now(), used = seconds_of(CLOCK_PROCESS_CPUTIME_ID);
    const bool good = __real_session_run(session, source, problem);
    looped->wall += now() - start;
    looped->processor += seconds_of(CLOCK_PROCESS_CPUTIME_ID) - used;
    return good;
}

struct sum {
    uint64_t fields, runs;
};

static bool add(void *user, const struct record_run *run) {
    struct sum *sum = user;
    sum->fields += run->fields_seen;
    sum->runs++;
    return true;
}

static bool read_sum(const char *store, struct sum *sum) {
    const struct records_choice choice = {.with_trouble = true};
    struct records *records = NULL;
    struct problem problem;
    const bool good = records_open(store, RECORDS_READ, &records, &problem) &&
                      records_each(records, &choice, 0, add, sum, &problem);
    if (!good) {
        fprintf(stderr, "%s\n", problem.text);
    }
    records_close(records);
    return good;
}

/* Of one round. */
struct places {
    struct folder folder, out;
    char store[FOLDER_PATH_MAX];
};

static void places_make(struct places *places) {
    folder_make(&places->folder, "slotjig-perf-sweep");
    folder_make(&places->out, "slotjig-perf-report");
    folder_path(&places->folder, "records.sqlite", places->store);
}

static void places_remove(const struct places *places) {
    folder_remove(&places->folder);
    folder_remove(&places->out);
}

struct cost {
    double wall, loop, video, own, own_processor;
    uint64_t runs;
};

static bool measure_round(const char *name, const char *repeats, const struct places *places,
                          struct cost *cost) {
    const char *const all[] = {"sweep",          "--plan",  "bits",    "--repeats",   repeats,
                               "--bench",        "virtual", "--store", places->store, "--out",
                               places->out.path, "--quiet", "--json",  "/dev/null"};
    enum { WORDS = sizeof all / sizeof all[0] };
    char words[WORDS][FOLDER_PATH_MAX], *argv[WORDS + 1] = {NULL};
    struct sum sum = {0};
    for (int i = 0; i < WORDS; i++) {
        snprintf(words[i], sizeof words[i], "%s", all[i]);
        argv[i] = words[i];
    }
    *looped = (struct looped){0};
    const double start = now(), used = processor();
    const int status = command_sweep(WORDS, argv);
    const double wall = now() - start;
    if (status != EXIT_PASS || !read_sum(places->store, &sum)) {
        fprintf(stderr, "%s: the sweep ended with status %d\n", name, status);
        return false;
    }
    *cost = (struct cost){.wall = wall,
                          .loop = looped->wall,
                          .video = (double)sum.fields / flash_rate(STANDARD_NTSC),
                          .own = wall - looped->wall,
                          .own_processor = processor() - used - looped->processor,
                          .runs = sum.runs};
    return true;
}

static bool measure(const char *name, const char *repeats, struct cost *least) {
    bool good = true;
    least->wall = 0;
    for (int round = 0; good && round < ROUNDS; round++) {
        struct places places;
        struct cost cost;
        places_make(&places);
        good = measure_round(name, repeats, &places, &cost);
        places_remove(&places);
        if (good && (least->wall == 0 || cost.own < least->own)) {
            *least = cost;
        }
    }
    return good;
}

static bool report(const char *name, const char *repeats) {
    struct cost cost;
    if (!measure(name, repeats, &cost)) {
        return false;
    }
    const double runs = (double)cost.runs;
    printf("%s_runs %.0f\n%s_video %.1f s\n%s_wall %.3f s\n%s_in_loops %.3f s\n", name, runs, name,
           cost.video, name, cost.wall, name, cost.loop);
    printf("%s_own %.1f ms a run\n", name, cost.own * 1e3 / runs);
    printf("%s_own_of_video %.2f %% (asked: under 2)\n", name, 100 * cost.own / cost.video);
    printf("%s_own_processor %.1f ms a run, %.2f %% of the video\n", name, cost.own_processor * 1e3 / runs,
           100 * cost.own_processor / cost.video);
    printf("%s_own_of_virtual_time %.1f %% (plain: the virtual bench is %.0f times faster than video)\n",
           name, 100 * cost.own / cost.wall, cost.video / cost.loop);
    return true;
}

int main(void) {
    looped = mmap(NULL, sizeof *looped, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    printf("sweep: own time = all of it less the session's loops; share of the video's time (fields seen "
           "over the "
           "field rate)\n");
    return looped != MAP_FAILED && report("sweep_one", "1") && report("sweep_forty", "40") ? 0 : 1;
}
