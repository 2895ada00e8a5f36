#include "commands/sweep_work.h"

#include "base/date.h"
#include "base/stop.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/pidfd.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum {
    LOOK_MS = 500,      /* between two looks at clocks, at most */
    LET_GO_SECONDS = 8, /* that a run which is to end has for it */
    USELESS_MOST = 100  /* answers in a row: whoever gives them does not know what is asked */
};

enum seat_state {
    SEAT_FREE,  /* its next run can be looked for */
    SEAT_WAITS, /* for a console that nobody has been asked for yet */
    SEAT_ASKED,
    SEAT_RUNS,
    SEAT_OVER
};

/* A bench at work. */
struct seat {
    const struct work_bench *bench;
    enum seat_state state;
    size_t next;      /* item: those before it are done, or left */
    const char *in;   /* the console that was put in; NULL: not known */
    double ready_at;  /* when somebody said so */
    double deadline;  /* of a question, or of a run */
    double let_go_at; /* after which a run that was told to end is ended; 0: it was not told */
    bool left, hung, signalled;
    int troubles; /* items in a row that came to nothing else */
    /* The run at work. */
    int attempt;
    pid_t pid;
    int process, said; /* -1: none */
    double started_at;
    int64_t started_ms;
    double minutes_on;
};

struct crew {
    const struct work *work;
    struct ask *ask;
    struct seat *seats;
    struct pollfd *files;
    long *items; /* at work, for show() */
    int useless; /* answers in a row */
    bool stopping, signalled;
};

static double now(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + (double)time.tv_nsec / 1e9;
}

/* ---- a run's process ---- */

/* What a run says goes to a file in memory: it is told with the bench's name where it matters. */
static void become_run(const struct work *work, const struct seat *seat) {
    const int nothing = open("/dev/null", O_RDWR | O_CLOEXEC);
    if (!work->attended) {
        dup2(nothing, STDIN_FILENO);
        dup2(seat->said, STDERR_FILENO);
    }
    dup2(nothing, STDOUT_FILENO);
    stop_release();
}

static bool start_run(struct crew *crew, struct seat *seat, struct problem *problem) {
    const struct work *work = crew->work;
    const pid_t parent = getpid();
    int attempts = 0;
    work->done(work->user, seat->next, &attempts);
    seat->attempt = attempts + 1;
    seat->started_at = now();
    seat->started_ms = date_now_ms();
    seat->minutes_on = seat->ready_at > 0 ? (seat->started_at - seat->ready_at) / 60 : -1;
    seat->said = memfd_create("slotjig-run", MFD_CLOEXEC);
    fflush(stdout);
    fflush(stderr);
    seat->pid = seat->said < 0 ? -1 : fork();
    if (seat->pid == 0) {
        prctl(PR_SET_PDEATHSIG, SIGKILL); /* a run that nobody waits for would go on beside the next one */
        if (getppid() != parent) {
            _exit(EXIT_FAILURE);
        }
        become_run(work, seat);
        const int status = work->run(work->user, seat->next, seat->attempt, seat->minutes_on);
        fflush(stderr);
        _exit(status);
    }
    seat->process = seat->pid > 0 ? pidfd_open(seat->pid, 0) : -1;
    if (seat->process < 0) {
        return problem_set(problem, PROBLEM_BENCH,
                           "bench %s: no process for its run: %s; end other programs and say the same again",
                           seat->bench->name, strerror(errno));
    }
    seat->state = SEAT_RUNS;
    seat->hung = seat->signalled = false;
    seat->let_go_at = 0;
    seat->deadline = seat->started_at + work->bound_s(work->user, seat->next);
    return true;
}

/* The last whole line that a run wrote. */
static void last_said(int file, char text[WORK_SAID_MAX]) {
    static const char prefix[] = "slotjig: ";
    char bytes[2048];
    const off_t size = lseek(file, 0, SEEK_END);
    const off_t from = size > (off_t)sizeof bytes - 1 ? size - ((off_t)sizeof bytes - 1) : 0;
    const ssize_t got = size > 0 ? pread(file, bytes, sizeof bytes - 1, from) : 0;
    text[0] = '\0';
    if (got <= 0) {
        return;
    }
    bytes[got] = '\0';
    char *end = bytes + got;
    while (end > bytes && (end[-1] == '\n' || end[-1] == '\r')) {
        *--end = '\0';
    }
    const char *line = strrchr(bytes, '\n');
    line = line != NULL ? line + 1 : bytes;
    line += strncmp(line, prefix, strlen(prefix)) == 0 ? strlen(prefix) : 0;
    size_t length = strlen(line);
    for (length = length < WORK_SAID_MAX ? length : WORK_SAID_MAX - 1;
         length > 0 && ((unsigned char)line[length] & 0xC0) == 0x80; length--) {
        /* not in the midst of a character */
    }
    memcpy(text, line, length);
    text[length] = '\0';
}

static void count_troubles(const struct work *work, struct seat *seat) {
    int attempts = 0;
    if (work->spoiled != NULL && work->done(work->user, seat->next, &attempts)) {
        seat->troubles = work->spoiled(work->user, seat->next) ? seat->troubles + 1 : 0;
    }
}

static bool run_ended(struct crew *crew, struct seat *seat, struct problem *problem) {
    int status = 0;
    struct work_end end = {.interrupted = seat->signalled, .minutes_on = seat->minutes_on};
    if (waitpid(seat->pid, &status, WNOHANG) != seat->pid) {
        return true;
    }
    last_said(seat->said, end.said);
    close(seat->process);
    close(seat->said);
    seat->process = seat->said = -1;
    seat->pid = 0;
    seat->state = SEAT_FREE;
    end.started_ms = seat->started_ms;
    end.took_ms = (int64_t)((now() - seat->started_at) * 1000);
    if (seat->hung) {
        end.how = WORK_HUNG;
        end.status = (int)(seat->deadline - seat->started_at);
    } else if (WIFSIGNALED(status)) {
        end.how = WORK_KILLED;
        end.status = WTERMSIG(status);
    } else {
        end.status = WEXITSTATUS(status);
    }
    /* What the terminal sent to all of them may have come here first. */
    end.interrupted = end.interrupted || stop_asked();
    if (!crew->work->ended(crew->work->user, seat->next, seat->attempt, &end, problem)) {
        return false;
    }
    count_troubles(crew->work, seat);
    return true;
}

/* Ends what takes too long, or is to end and does not. */
static void watch_run(struct seat *seat, bool signalled) {
    const double time = now();
    if (signalled && !seat->signalled) {
        seat->signalled = true;
        seat->let_go_at = time + LET_GO_SECONDS;
        kill(seat->pid, SIGTERM);
    }
    if (time >= seat->deadline || (seat->let_go_at > 0 && time >= seat->let_go_at)) {
        seat->hung = !seat->signalled;
        kill(seat->pid, SIGKILL);
    }
}

/* Whatever is still at work when a problem ends the sweep; none is left behind. */
static void end_all(struct crew *crew) {
    for (size_t i = 0; i < crew->work->bench_count; i++) {
        struct seat *seat = &crew->seats[i];
        if (seat->pid > 0) {
            kill(seat->pid, SIGKILL);
            waitpid(seat->pid, NULL, 0);
        }
        if (seat->process >= 0) {
            close(seat->process);
        }
        if (seat->said >= 0) {
            close(seat->said);
        }
    }
}

/* ---- consoles put in ---- */

static const char *console_of(const struct crew *crew, size_t item) {
    return crew->work->console(crew->work->user, item);
}

static bool somebody_asked(const struct crew *crew) {
    for (size_t i = 0; i < crew->work->bench_count; i++) {
        if (crew->seats[i].state == SEAT_ASKED) {
            return true;
        }
    }
    return false;
}

/* A robot is told all at once, a person one thing at a time. */
static void ask_waiting(struct crew *crew) {
    for (size_t i = 0; i < crew->work->bench_count; i++) {
        struct seat *seat = &crew->seats[i];
        if (seat->state != SEAT_WAITS || (!crew->ask->robot && somebody_asked(crew))) {
            continue;
        }
        ask_put_in(crew->ask, seat->bench->name, console_of(crew, seat->next), seat->in);
        seat->state = SEAT_ASKED;
        seat->deadline = now() + crew->work->patience_s;
    }
}

static void put_in(struct crew *crew, struct seat *seat) {
    seat->in = console_of(crew, seat->next);
    seat->ready_at = now();
    seat->state = SEAT_FREE;
}

static void skip_console(struct crew *crew, struct seat *seat) {
    const char *name = console_of(crew, seat->next);
    while (seat->next < seat->bench->behind && strcmp(console_of(crew, seat->next), name) == 0) {
        seat->next++;
    }
    seat->left = true;
    seat->state = SEAT_FREE;
}

/* Which of the benches that were asked an answer is for; NULL: that cannot be told. */
static struct seat *seat_of(const struct crew *crew, const char *name) {
    struct seat *found = NULL;
    for (size_t i = 0; i < crew->work->bench_count; i++) {
        struct seat *seat = &crew->seats[i];
        if (seat->state != SEAT_ASKED || (*name != '\0' && strcmp(seat->bench->name, name) != 0)) {
            continue;
        }
        if (found != NULL) {
            return NULL;
        }
        found = seat;
    }
    return found;
}

static void refuse_answer(struct crew *crew, enum answer answer, const char *name) {
    ask_refuse(crew->ask, answer == ANSWER_UNKNOWN ? "that answer was not understood"
                          : *name != '\0'          ? "no console of such a bench is being waited for"
                                                   : "several benches wait for a console");
    if (++crew->useless == USELESS_MOST) {
        fprintf(stderr, "slotjig: %d answers in a row were of no use: no more are taken\n", USELESS_MOST);
        crew->stopping = true;
    }
}

static void take_answer(struct crew *crew, enum answer answer, const char *name) {
    if (answer == ANSWER_STOP || answer == ANSWER_END) {
        crew->stopping = true;
        return;
    }
    struct seat *seat = answer != ANSWER_UNKNOWN ? seat_of(crew, name) : NULL;
    if (seat == NULL) {
        refuse_answer(crew, answer, name);
        return;
    }
    crew->useless = 0;
    if (answer == ANSWER_READY) {
        put_in(crew, seat);
    } else {
        skip_console(crew, seat);
    }
}

static void take_answers(struct crew *crew) {
    char name[ASK_LINE_MAX];
    while (somebody_asked(crew) && !crew->stopping) {
        const enum answer answer = ask_next(crew->ask, name);
        if (answer == ANSWER_NONE) {
            return;
        }
        take_answer(crew, answer, name);
    }
}

static void lose_patience(struct seat *seat) {
    if (now() >= seat->deadline) {
        fprintf(stderr, "slotjig: bench %s: nobody put a console in; what it had left to do stays open\n",
                seat->bench->name);
        seat->left = true;
        seat->state = SEAT_OVER;
    }
}

/* ---- all benches ---- */

/* What a bench that is free does next. */
static bool go_on(struct crew *crew, struct seat *seat, struct problem *problem) {
    const struct work *work = crew->work;
    int attempts = 0;
    while (seat->next < seat->bench->behind && work->done(work->user, seat->next, &attempts)) {
        seat->next++;
    }
    if (seat->next == seat->bench->behind) {
        seat->state = SEAT_OVER;
        return true;
    }
    if (crew->stopping || seat->troubles >= WORK_TROUBLES) {
        if (!crew->stopping) {
            fprintf(
                stderr,
                "slotjig: bench %s: %d runs in a row came to bench trouble; see to it: what it had left to "
                "do stays open\n",
                seat->bench->name, seat->troubles);
        }
        seat->left = true;
        seat->state = SEAT_OVER;
        return true;
    }
    if (seat->bench->asks && (seat->in == NULL || strcmp(seat->in, console_of(crew, seat->next)) != 0)) {
        seat->state = SEAT_WAITS;
        return true;
    }
    return start_run(crew, seat, problem);
}

static bool tend(struct crew *crew, struct seat *seat, struct problem *problem) {
    while (seat->state == SEAT_FREE) {
        if (!go_on(crew, seat, problem)) {
            return false;
        }
    }
    if (seat->state == SEAT_ASKED) {
        lose_patience(seat);
    } else if (seat->state == SEAT_RUNS) {
        watch_run(seat, crew->signalled);
    }
    if (crew->stopping && (seat->state == SEAT_ASKED || seat->state == SEAT_WAITS)) {
        seat->left = true;
        seat->state = SEAT_OVER;
    }
    return true;
}

static bool all_over(const struct crew *crew) {
    for (size_t i = 0; i < crew->work->bench_count; i++) {
        if (crew->seats[i].state != SEAT_OVER) {
            return false;
        }
    }
    return true;
}

static int wait_ms(const struct crew *crew) {
    double least = LOOK_MS;
    for (size_t i = 0; i < crew->work->bench_count; i++) {
        const struct seat *seat = &crew->seats[i];
        const double left = (seat->deadline - now()) * 1000;
        if (seat->state == SEAT_FREE) {
            return 0;
        }
        if ((seat->state == SEAT_ASKED || seat->state == SEAT_RUNS) && left < least) {
            least = left > 0 ? left : 0;
        }
    }
    return (int)least + 1;
}

/* Sleeps until a run ends, an answer comes, or a clock is to be looked at. */
static bool wait_and_take(struct crew *crew, struct problem *problem) {
    const size_t benches = crew->work->bench_count;
    const bool listen = somebody_asked(crew) && !crew->ask->ended;
    for (size_t i = 0; i < benches; i++) {
        const struct seat *seat = &crew->seats[i];
        crew->files[i] =
            (struct pollfd){.fd = seat->state == SEAT_RUNS ? seat->process : -1, .events = POLLIN};
    }
    crew->files[benches] = (struct pollfd){.fd = listen ? crew->ask->in : -1, .events = POLLIN};
    if (poll(crew->files, benches + 1, wait_ms(crew)) <= 0) {
        return true;
    }
    for (size_t i = 0; i < benches; i++) {
        if (crew->files[i].revents != 0 && !run_ended(crew, &crew->seats[i], problem)) {
            return false;
        }
    }
    if (crew->files[benches].revents != 0) {
        ask_read(crew->ask);
    }
    return true;
}

/* Not over a question. */
static void show(struct crew *crew) {
    if (crew->work->show == NULL || (!crew->ask->robot && somebody_asked(crew))) {
        return;
    }
    for (size_t i = 0; i < crew->work->bench_count; i++) {
        const struct seat *seat = &crew->seats[i];
        crew->items[i] = seat->state == SEAT_RUNS ? (long)seat->next : -1;
    }
    crew->work->show(crew->work->user, crew->items);
}

static bool one_round(struct crew *crew, struct problem *problem) {
    const struct work *work = crew->work;
    crew->signalled = crew->signalled || stop_asked();
    crew->stopping = crew->stopping || crew->signalled;
    for (size_t i = 0; i < work->bench_count; i++) {
        if (!tend(crew, &crew->seats[i], problem)) {
            return false;
        }
    }
    show(crew);
    ask_waiting(crew);
    if (all_over(crew)) {
        return true;
    }
    if (!wait_and_take(crew, problem)) {
        return false;
    }
    take_answers(crew);
    return true;
}

static enum work_stop why_of(const struct crew *crew) {
    bool left = false;
    for (size_t i = 0; i < crew->work->bench_count; i++) {
        left = left || crew->seats[i].left;
    }
    return !left             ? WORK_ALL_DONE
           : crew->signalled ? WORK_SIGNALLED
           : crew->stopping  ? WORK_STOPPED
                             : WORK_LEFT;
}

static bool work_through(struct crew *crew, struct problem *problem) {
    do {
        if (!one_round(crew, problem)) {
            end_all(crew);
            return false;
        }
    } while (!all_over(crew));
    return true;
}

bool work_do(const struct work *work, struct ask *ask, enum work_stop *why, struct problem *problem) {
    struct crew crew = {.work = work,
                        .ask = ask,
                        .seats = calloc(work->bench_count + 1, sizeof *crew.seats),
                        .files = calloc(work->bench_count + 1, sizeof *crew.files),
                        .items = calloc(work->bench_count + 1, sizeof *crew.items)};
    bool good = false;
    *why = WORK_STOPPED;
    if (crew.seats == NULL || crew.files == NULL || crew.items == NULL) {
        problem_set(problem, PROBLEM_BENCH, "out of memory for %zu benches", work->bench_count);
    } else {
        for (size_t i = 0; i < work->bench_count; i++) {
            crew.seats[i] = (struct seat){
                .bench = &work->benches[i], .next = work->benches[i].first, .process = -1, .said = -1};
        }
        good = work_through(&crew, problem);
        *why = why_of(&crew);
    }
    free(crew.seats);
    free(crew.files);
    free(crew.items);
    return good;
}
