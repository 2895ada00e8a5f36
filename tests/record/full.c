#include "record/full.h"

#include "record/look.h"
#include "record/records.h"

#include <assert.h>
#include <fcntl.h>
#include <sched.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum { WAIT_S = 60 };

struct try {
    const struct filling *filling;
    char path[FOLDER_PATH_MAX], mounted[FOLDER_PATH_MAX];
    enum full_kind kind;
    struct records *records;
    bool put[FILLING_RUNS];
    struct full_answer answer;
};

#define BAD(try, ...) (snprintf((try)->answer.why, sizeof(try)->answer.why, __VA_ARGS__), false)

static void write_text(const char *path, const char *text) {
    const int file = open(path, O_WRONLY);
    if (file >= 0) {
        const ssize_t written = write(file, text, strlen(text));
        (void)written;
        close(file);
    }
}

/* A name space in which this process may mount. */
static bool own_mounts(void) {
    char map[64];
    const unsigned user = getuid(), group = getgid();
    if (unshare(CLONE_NEWNS) != 0) {
        if (unshare(CLONE_NEWUSER | CLONE_NEWNS) != 0) {
            return false;
        }
        write_text("/proc/self/setgroups", "deny");
        snprintf(map, sizeof map, "0 %u 1", user);
        write_text("/proc/self/uid_map", map);
        snprintf(map, sizeof map, "0 %u 1", group);
        write_text("/proc/self/gid_map", map);
    }
    return mount("none", "/", NULL, MS_REC | MS_PRIVATE, NULL) == 0;
}

static bool limit(struct try *try, long room) {
    struct rlimit size;
    signal(SIGXFSZ, SIG_IGN);
    getrlimit(RLIMIT_FSIZE, &size);
    size.rlim_cur = (rlim_t)room;
    return setrlimit(RLIMIT_FSIZE, &size) == 0 || BAD(try, "no limit could be set");
}

static bool mount_disk(struct try *try, long room) {
    char options[64];
    snprintf(options, sizeof options, "size=%ld", room);
    if (!own_mounts() || mount("none", try->mounted, "tmpfs", 0, options) != 0) {
        return false;
    }
    return true;
}

static bool make_room(struct try *try) {
    if (try->kind == FULL_DISK) {
        return mount("none", try->mounted, "tmpfs", MS_REMOUNT, "size=64m") == 0 || BAD(try, "no remount");
    }
    struct rlimit size;
    getrlimit(RLIMIT_FSIZE, &size);
    size.rlim_cur = size.rlim_max;
    return setrlimit(RLIMIT_FSIZE, &size) == 0 || BAD(try, "the limit stays");
}

/* What was said must help: what, where, in one line. */
static bool well_said(struct try *try, const struct problem *problem) {
    snprintf(try->answer.said, sizeof try->answer.said, "%s", problem->text);
    if (problem->kind != PROBLEM_BENCH) {
        return BAD(try, "a full disk is no trouble of the bench, but kind %d: %s", problem->kind,
                   problem->text);
    }
    return (strchr(problem->text, '\n') == NULL && strstr(problem->text, try->path) != NULL) ||
           BAD(try, "not one line that names the file: %s", problem->text);
}

static bool put_batch(struct try *try, size_t from, size_t batch, struct problem *problem) {
    bool good = batch == 1 || records_begin(try->records, problem);
    for (size_t i = from; good && i < from + batch; i++) {
        good = records_put(try->records, filling_run(try->filling, i), problem);
    }
    if (batch > 1) {
        struct problem end;
        const bool ended = records_end(try->records, good ? problem : &end);
        if (ended && !good) {
            problem_set(problem, PROBLEM_NONE, "a batch whose put failed ended well");
        }
        good = good && ended;
    }
    for (size_t i = from; good && i < from + batch; i++) {
        try->put[i] = true;
        try->answer.acknowledged++;
    }
    return good;
}

static bool fill(struct try *try, size_t batch) {
    struct problem problem;
    size_t next = 0;
    try->answer.opened = records_open(try->path, RECORDS_WRITE, &try->records, &problem);
    if (!try->answer.opened) {
        return well_said(try, &problem) && make_room(try) &&
               (records_open(try->path, RECORDS_WRITE, &try->records, &problem) ||
                BAD(try, "does not open with room: %s", problem.text));
    }
    while (next + batch <= FILLING_AFTERWARDS && put_batch(try, next, batch, &problem)) {
        next += batch;
    }
    try->answer.refused = next + batch <= FILLING_AFTERWARDS;
    if (!try->answer.refused) {
        return true;
    }
    return well_said(try, &problem) && make_room(try) &&
           (put_batch(try, next, batch, &problem) || BAD(try, "no put with room again: %s", problem.text));
}

static void play(struct try *try, long room, size_t batch) {
    struct look_for what = {.filling = try->filling};
    struct look_found found;
    try->answer.tried = try->kind == FULL_LIMIT ? limit(try, room) : mount_disk(try, room);
    if (!try->answer.tried) {
        return;
    }
    const bool filled = fill(try, batch);
    records_close(try->records);
    memcpy(what.runs, try->put, sizeof what.runs);
    if (!filled || !make_room(try)) {
        return;
    }
    try->answer.good = look_at_store(try->path, &what, &found) || BAD(try, "%s", found.why);
    if (found.more > 0) {
        try->answer.good = BAD(try, "%zu runs are there though their put failed", found.more);
    }
}

void full_at(const struct filling *filling, const struct folder *folder, enum full_kind kind, long room,
             size_t batch, struct full_answer *answer) {
    struct try try = {.filling = filling, .kind = kind};
    int ends[2], status = 1;
    char name[32];
    const int made = pipe(ends);
    assert(made == 0);
    (void)made;
    snprintf(name, sizeof name, "disk-%ld", (long)getpid());
    folder_path(folder, name, try.mounted);
    mkdir(try.mounted, 0777);
    snprintf(try.path, sizeof try.path, "%.400s/records.sqlite", try.mounted);
    fflush(NULL);
    const pid_t child = fork();
    if (child == 0) {
        alarm(WAIT_S);
        play(&try, room, batch);
        const ssize_t written = write(ends[1], &try.answer, sizeof try.answer);
        _exit(written == (ssize_t)sizeof try.answer ? 0 : 1);
    }
    close(ends[1]);
    *answer = (struct full_answer){0};
    const bool heard = read(ends[0], answer, sizeof *answer) == (ssize_t)sizeof *answer;
    close(ends[0]);
    if (waitpid(child, &status, 0) != child || status != 0 || !heard) {
        *answer = (struct full_answer){.tried = true};
        snprintf(answer->why, sizeof answer->why, "the process died: status %#x", status);
    }
    folder_remove_store(try.path);
    rmdir(try.mounted);
}
