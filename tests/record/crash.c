#include "record/crash.h"

#include "record/cut.h"
#include "record/filling.h"
#include "record/folder.h"
#include "record/look.h"
#include "record/records.h"
#include "record/shipped.h"

#include <assert.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

const char *const crash_scene_names[CRASH_SCENES] = {"create", "open",       "migrate", "put",
                                                     "batch",  "checkpoint", "rest",    "two"};
const char *const crash_manner_names[CRASH_MANNERS] = {"clock", "call", "power"};

enum { WAIT_S = 60 };

struct crash {
    struct folder folder;
    struct filling *filling;
    char older[4][FOLDER_PATH_MAX];
    int older_count;
    struct record_list migrated[4]; /* what each of them holds */
    struct {
        long calls, database_calls;
        double seconds;
    } spans[CRASH_SCENES][4]; /* how long each takes when nobody dies; of MIGRATE for each older file */
};

/* What a child says. */
struct said {
    enum { SAID_READY, SAID_RUN, SAID_SWEEP, SAID_BASELINE, SAID_SHIP, SAID_CALLS, SAID_DONE } what;
    long number; /* of a run in the shelf; of calls */
};
struct heard {
    bool runs[FILLING_RUNS], sweep, baseline, done;
    long calls;
    size_t ships;
};

static void say(int to, int what, long number) {
    const struct said said = {what, number};
    if (write(to, &said, sizeof said) != (ssize_t)sizeof said) {
        _exit(5);
    }
}

static void must(bool good, const char *what, const struct problem *problem) {
    if (!good) {
        fprintf(stderr, "a writer could not %s: %s\n", what, problem->text);
        _exit(4);
    }
}

static void put_runs(const struct crash *crash, struct records *records, size_t from, size_t end, int to) {
    struct problem problem;
    for (size_t i = from; i < end; i++) {
        must(records_put(records, filling_run(crash->filling, i), &problem), "put a run", &problem);
        say(to, SAID_RUN, (long)i);
    }
}

static void put_batches(const struct crash *crash, struct records *records, int to) {
    struct problem problem;
    for (size_t batch = 0; batch < FILLING_BATCHES; batch++) {
        const size_t from = FILLING_BASE + batch * FILLING_BATCH;
        must(records_begin(records, &problem), "begin", &problem);
        for (size_t i = from; i < from + FILLING_BATCH; i++) {
            must(records_put(records, filling_run(crash->filling, i), &problem), "put a run", &problem);
        }
        must(records_end(records, &problem), "end", &problem);
        for (size_t i = from; i < from + FILLING_BATCH; i++) {
            say(to, SAID_RUN, (long)i);
        }
    }
}

static void put_rest(const struct crash *crash, struct records *records, int to) {
    struct problem problem;
    int64_t ids[3];
    struct record_sweep *sweep = &crash->filling->invented->sweep;
    must(records_sweep_put(records, sweep, &problem), "put a sweep", &problem);
    say(to, SAID_SWEEP, 0);
    for (size_t i = 0; i < 3; i++) {
        struct record_run *run = filling_run(crash->filling, FILLING_BASE + i);
        run->item = sweep->items[FILLING_BASE + i].id;
        must(records_put(records, run, &problem), "put a run of a sweep", &problem);
        ids[i] = run->id;
        say(to, SAID_RUN, (long)(FILLING_BASE + i));
    }
    must(records_baseline_set(records, filling_run(crash->filling, FILLING_BASE)->console.name, NULL, ids, 3,
                              &problem),
         "set a baseline", &problem);
    say(to, SAID_BASELINE, 0);
    for (int i = 0; i < 2; i++) {
        struct finding findings[2];
        struct ship ship = shipped_kept(i, findings);
        must(records_put_ship(records, &ship, &problem), "put a test of a cartridge", &problem);
        say(to, SAID_SHIP, i);
    }
}

static struct records *open_store(const char *path) {
    struct records *records;
    struct problem problem;
    must(records_open(path, RECORDS_WRITE, &records, &problem), "open", &problem);
    return records;
}

static void checkpoints(const struct crash *crash, const char *path, int to) {
    for (size_t i = FILLING_BASE; i < FILLING_PUT; i += 3) {
        struct records *records = open_store(path);
        put_runs(crash, records, i, i + 3 < FILLING_PUT ? i + 3 : FILLING_PUT, to);
        records_close(records);
    }
}

static void play(const struct crash *crash, enum crash_scene scene, const char *path, int to) {
    if (scene == CRASH_CHECKPOINT) {
        checkpoints(crash, path, to);
        return;
    }
    struct records *records = open_store(path);
    switch (scene) {
    case CRASH_CREATE:
        put_runs(crash, records, 0, 2, to);
        break;
    case CRASH_OPEN:
        put_runs(crash, records, FILLING_BASE, FILLING_BASE + 1, to);
        break;
    case CRASH_MIGRATE:
        put_runs(crash, records, FILLING_BASE, FILLING_BASE + 2, to);
        break;
    case CRASH_BATCH:
        put_batches(crash, records, to);
        break;
    case CRASH_REST:
        put_rest(crash, records, to);
        break;
    default:
        put_runs(crash, records, FILLING_BASE, FILLING_PUT, to);
    }
    records_close(records);
}

/* A process that plays a scene, and where it says how far it got. */
struct writer {
    pid_t process;
    int from;
};

static struct writer start(const struct crash *crash, enum crash_scene scene, const char *path,
                           const struct cut *cut, bool other) {
    int ends[2];
    struct writer writer = {0};
    const int made = pipe(ends);
    assert(made == 0);
    (void)made;
    fflush(NULL);
    writer.process = fork();
    assert(writer.process >= 0);
    if (writer.process == 0) {
        close(ends[0]);
        alarm(WAIT_S);
        cut_install(cut);
        say(ends[1], SAID_READY, 0);
        if (other) {
            struct records *records = open_store(path);
            put_runs(crash, records, FILLING_OTHER, FILLING_OTHER_END, ends[1]);
            records_close(records);
        } else {
            play(crash, scene, path, ends[1]);
        }
        say(ends[1], SAID_CALLS, cut_calls());
        say(ends[1], SAID_DONE, 0);
        _exit(0);
    }
    close(ends[1]);
    writer.from = ends[0];
    return writer;
}

static bool hear(const struct writer *writer, struct heard *heard) {
    struct said said;
    if (read(writer->from, &said, sizeof said) != (ssize_t)sizeof said) {
        return false;
    }
    switch (said.what) {
    case SAID_RUN:
        heard->runs[said.number] = true;
        break;
    case SAID_SWEEP:
        heard->sweep = true;
        break;
    case SAID_BASELINE:
        heard->baseline = true;
        break;
    case SAID_SHIP:
        heard->ships++;
        break;
    case SAID_CALLS:
        heard->calls = said.number;
        break;
    case SAID_DONE:
        heard->done = true;
        break;
    default:
        break;
    }
    return true;
}

/* To its end. False where it ended otherwise than well or by SIGKILL. */
static bool finish(const struct writer *writer, struct heard *heard) {
    int status = 0;
    while (hear(writer, heard)) {
    }
    close(writer->from);
    const pid_t ended = waitpid(writer->process, &status, 0);
    return ended == writer->process &&
           (WIFEXITED(status) ? WEXITSTATUS(status) == 0 : WTERMSIG(status) == SIGKILL);
}

static double now(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

/* Copies what a scene starts from to path. */
static void set_stage(const struct crash *crash, enum crash_scene scene, int older, const char *path) {
    char from[FOLDER_PATH_MAX];
    folder_remove_store(path);
    if (scene == CRASH_MIGRATE) {
        folder_copy_store(crash->older[older], path);
    } else if (scene != CRASH_CREATE) {
        folder_path(&crash->folder, scene == CRASH_OPEN ? "left" : "base", from);
        folder_copy_store(from, path);
    }
}

/* Stores to start from: one closed, and one whose writer ended without closing it. */
static bool make_bases(const struct crash *crash) {
    for (int left = 0; left < 2; left++) {
        char path[FOLDER_PATH_MAX];
        folder_path(&crash->folder, left ? "left" : "base", path);
        fflush(NULL);
        const pid_t child = fork();
        if (child == 0) {
            const int nowhere = open("/dev/null", O_WRONLY);
            struct records *records = open_store(path);
            put_runs(crash, records, 0, FILLING_BASE, nowhere);
            if (!left) {
                records_close(records);
            }
            _exit(0);
        }
        int status = 1;
        if (waitpid(child, &status, 0) != child || status != 0) {
            return false;
        }
    }
    return true;
}

static bool read_older(struct crash *crash) {
    for (int i = 0; i < crash->older_count; i++) {
        char path[FOLDER_PATH_MAX];
        struct records *records;
        struct problem problem;
        const struct records_choice all = {.with_trouble = true};
        folder_path(&crash->folder, "stage", path);
        set_stage(crash, CRASH_MIGRATE, i, path);
        if (!records_open(path, RECORDS_WRITE, &records, &problem) ||
            !records_select(records, &all, RECORDS_ALL, &crash->migrated[i], &problem)) {
            fprintf(stderr, "%s: %s\n", crash->older[i], problem.text);
            return false;
        }
        records_close(records);
    }
    return true;
}

static bool measure(struct crash *crash, enum crash_scene scene, int older) {
    char path[FOLDER_PATH_MAX];
    folder_path(&crash->folder, "stage", path);
    for (int database = 0; database < 2; database++) {
        struct heard heard = {0};
        const struct cut cut = {.only_database = database};
        set_stage(crash, scene, older, path);
        const double begin = now();
        const struct writer writer = start(crash, scene, path, &cut, false);
        if (!finish(&writer, &heard) || !heard.done) {
            return false;
        }
        if (database) {
            crash->spans[scene][older].database_calls = heard.calls;
        } else {
            crash->spans[scene][older].calls = heard.calls;
            crash->spans[scene][older].seconds = now() - begin;
        }
    }
    return true;
}

static bool measure_all(struct crash *crash) {
    for (int scene = 0; scene < CRASH_SCENES; scene++) {
        for (int older = 0; older < (scene == CRASH_MIGRATE ? crash->older_count : 1); older++) {
            if (!measure(crash, (enum crash_scene)scene, older)) {
                fprintf(stderr, "scene %s does not come to its end\n", crash_scene_names[scene]);
                return false;
            }
        }
    }
    return true;
}

struct crash *crash_new(uint64_t seed, const char *older_files_folder) {
    struct crash *crash = calloc(1, sizeof *crash);
    assert(crash != NULL);
    folder_make(&crash->folder, "slotjig-crash");
    crash->filling = filling_new(seed);
    for (int version = 1; version < RECORDS_VERSION; version++) {
        char *path = crash->older[crash->older_count];
        snprintf(path, FOLDER_PATH_MAX, "%s/records-%d.sqlite", older_files_folder, version);
        crash->older_count += access(path, R_OK) == 0;
    }
    if ((crash->older_count == 0 && RECORDS_VERSION > 1) || !make_bases(crash) || !read_older(crash) ||
        !measure_all(crash)) {
        fprintf(stderr, "no stores to start from (older files: %s)\n", older_files_folder);
        crash_free(crash);
        return NULL;
    }
    return crash;
}

void crash_free(struct crash *crash) {
    for (int i = 0; i < crash->older_count; i++) {
        record_list_free(&crash->migrated[i]);
    }
    folder_remove(&crash->folder);
    filling_free(crash->filling);
    free(crash);
}

struct crash_moment crash_moment_of(uint64_t seed, uint64_t number) {
    struct crash_moment moment = {.scene = (enum crash_scene)(number % CRASH_SCENES),
                                  .manner = (enum crash_manner)(number / CRASH_SCENES % CRASH_MANNERS),
                                  .seed = seed + number * 7919};
    if (moment.scene == CRASH_TWO && moment.manner == CRASH_POWER) {
        moment.manner = CRASH_CALL; /* the power of both would have to go */
    }
    return moment;
}

static void pause_for(double seconds) {
    const struct timespec time = {(time_t)seconds, (long)((seconds - (double)(time_t)seconds) * 1e9)};
    nanosleep(&time, NULL);
}

/* Plays it until it dies. */
static bool let_die(const struct crash *crash, const struct crash_moment *moment, int older, const char *path,
                    struct heard *heard, struct crash_answer *answer) {
    uint64_t random = moment->seed;
    const double share = invented_uniform(&random);
    const bool clock = moment->manner == CRASH_CLOCK;
    struct cut cut = {.only_database = !clock && moment->scene == CRASH_CHECKPOINT,
                      .power = moment->manner == CRASH_POWER,
                      .seed = random};
    const long calls = cut.only_database ? crash->spans[moment->scene][older].database_calls
                                         : crash->spans[moment->scene][older].calls;
    cut.at = clock ? 0 : 1 + (long)(share * (double)calls);
    const struct writer writer = start(crash, moment->scene, path, &cut, false);
    const struct cut none = {0};
    const bool two = moment->scene == CRASH_TWO;
    struct writer other = {0};
    bool good = hear(&writer, heard);
    if (two) {
        other = start(crash, moment->scene, path, &none, true);
    }
    if (clock) {
        pause_for(share * crash->spans[moment->scene][older].seconds);
        kill(writer.process, SIGKILL);
    }
    good = finish(&writer, heard) && good;
    answer->killed = !heard->done;
    if (two) {
        struct heard second = {0};
        good = finish(&other, &second) && second.done && good;
        for (size_t i = FILLING_OTHER; i < FILLING_OTHER_END; i++) {
            heard->runs[i] = second.runs[i];
        }
    }
    return good;
}

/* What must be there after all: what the writers were told, and what was there before. */
static void wish(const struct crash *crash, const struct crash_moment *moment, int older,
                 const struct heard *heard, struct look_for *what) {
    *what = (struct look_for){.filling = crash->filling,
                              .batches = moment->scene == CRASH_BATCH,
                              .sweep = heard->sweep,
                              .baseline = heard->baseline,
                              .ships = heard->ships};
    memcpy(what->runs, heard->runs, sizeof what->runs);
    if (moment->scene == CRASH_MIGRATE) {
        what->older = &crash->migrated[older];
    } else if (moment->scene != CRASH_CREATE) {
        memset(what->runs, true, FILLING_BASE);
    }
}

void crash_at(const struct crash *crash, const struct crash_moment *moment, struct crash_answer *answer) {
    char path[FOLDER_PATH_MAX], name[32];
    struct heard heard = {0};
    struct look_for what;
    struct look_found found = {0};
    const int older =
        moment->scene == CRASH_MIGRATE ? (int)(moment->seed / 7 % (uint64_t)crash->older_count) : 0;
    *answer = (struct crash_answer){0};
    snprintf(name, sizeof name, "stage-%ld", (long)getpid());
    folder_path(&crash->folder, name, path);
    set_stage(crash, moment->scene, older, path);
    if (!let_die(crash, moment, older, path, &heard, answer)) {
        snprintf(answer->why, sizeof answer->why, "a writer ended otherwise than by its moment");
        return;
    }
    for (size_t i = 0; i < FILLING_RUNS; i++) {
        answer->acknowledged += heard.runs[i];
    }
    wish(crash, moment, older, &heard, &what);
    answer->good = look_at_store(path, &what, &found);
    answer->more = found.more;
    snprintf(answer->why, sizeof answer->why, "%s", found.why);
    folder_remove_store(path);
}
