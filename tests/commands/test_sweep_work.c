/* A sweep at work: what runs where, in which order, and what is asked; with runs that do as the test says. */
#include "commands/sweep_work.h"

#include "base/stop.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

enum { ITEMS_MAX = 16, ENDS_MAX = 64, WAIT_MS = 20000 };

/* What the runs' processes share. */
struct shared {
    atomic_int arrived, at_work[2], collisions;
    atomic_int pid;
};

/* A sweep of the test's own. */
struct fake {
    int retries;
    const char *const *consoles; /* of each item */
    double bound_s;
    int (*act)(struct fake *fake, size_t item, int attempt, double minutes_on);
    struct shared *shared;
    int attempts[ITEMS_MAX];
    bool passed[ITEMS_MAX];
    size_t end_count;
    struct {
        size_t item;
        int attempt;
        struct work_end end;
    } ends[ENDS_MAX];
    bool fails_to_keep; /* ended() has a problem */
};

static const char *console_of(void *user, size_t item) {
    const struct fake *fake = user;
    return fake->consoles != NULL ? fake->consoles[item] : "only";
}

static double bound_of(void *user, size_t item) {
    const struct fake *fake = user;
    (void)item;
    return fake->bound_s > 0 ? fake->bound_s : 60;
}

static bool done(void *user, size_t item, int *attempts) {
    const struct fake *fake = user;
    *attempts = fake->attempts[item];
    return fake->passed[item] || fake->attempts[item] > fake->retries;
}

/* Status 3 is trouble, as the program's own. */
static bool spoiled(void *user, size_t item) {
    const struct fake *fake = user;
    for (size_t i = 0; i < fake->end_count; i++) {
        if (fake->ends[i].item == item && fake->ends[i].end.status != 3) {
            return false;
        }
    }
    return true;
}

static int run(void *user, size_t item, int attempt, double minutes_on) {
    struct fake *fake = user;
    return fake->act != NULL ? fake->act(fake, item, attempt, minutes_on) : 0;
}

static bool ended(void *user, size_t item, int attempt, const struct work_end *end, struct problem *problem) {
    struct fake *fake = user;
    assert_true(fake->end_count < ENDS_MAX);
    fake->ends[fake->end_count].item = item;
    fake->ends[fake->end_count].attempt = attempt;
    fake->ends[fake->end_count++].end = *end;
    if (fake->fails_to_keep) {
        return problem_set(problem, PROBLEM_BENCH, "the store is full");
    }
    if (!end->interrupted) {
        fake->attempts[item]++;
        fake->passed[item] = end->how == WORK_EXITED && end->status == 0;
    }
    return true;
}

static struct fake new_fake(void) {
    struct fake fake = {0};
    fake.shared = mmap(NULL, sizeof *fake.shared, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    assert_ptr_not_equal(fake.shared, MAP_FAILED);
    return fake;
}

static void free_fake(struct fake *fake) {
    munmap(fake->shared, sizeof *fake->shared);
}

static struct work work_of(struct fake *fake, const struct work_bench *benches, size_t count) {
    return (struct work){.bench_count = count,
                         .benches = benches,
                         .patience_s = 60,
                         .user = fake,
                         .console = console_of,
                         .bound_s = bound_of,
                         .done = done,
                         .spoiled = spoiled,
                         .run = run,
                         .ended = ended};
}

/* Works with answers that are there already; what was asked is in `asked`. */
static char asked[2000];
static enum work_stop work_answered_bytes(const struct work *work, bool robot, const char *answers,
                                          size_t size) {
    int ends[2];
    struct problem problem = {0};
    enum work_stop why = WORK_ALL_DONE;
    FILE *out = fmemopen(asked, sizeof asked, "w");
    memset(asked, 0, sizeof asked);
    assert_int_equal(pipe(ends), 0);
    assert_int_equal(write(ends[1], answers, size), size);
    close(ends[1]);
    struct ask ask = {.robot = robot, .in = ends[0], .out = out};
    const bool good = work_do(work, &ask, &why, &problem);
    fclose(out);
    close(ends[0]);
    if (!good) {
        fail_msg("%s", problem.text);
    }
    return why;
}

static enum work_stop work_answered(const struct work *work, bool robot, const char *answers) {
    return work_answered_bytes(work, robot, answers, strlen(answers));
}

/* ---- order and retries ---- */

static void each_item_is_run_once_in_its_order(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .first = 0, .behind = 5}};
    struct fake fake = new_fake();
    const struct work work = work_of(&fake, benches, 1);
    assert_int_equal(work_answered(&work, true, ""), WORK_ALL_DONE);
    assert_int_equal(fake.end_count, 5);
    for (size_t i = 0; i < 5; i++) {
        assert_int_equal(fake.ends[i].item, i);
        assert_int_equal(fake.ends[i].attempt, 1);
        assert_true(fake.ends[i].end.minutes_on < 0); /* nobody was asked, so nobody knows */
    }
    assert_string_equal(asked, "");
    free_fake(&fake);
}

/* Item 0 passes at its second attempt, item 1 never, item 2 at once. */
static int fail_some(struct fake *fake, size_t item, int attempt, double minutes_on) {
    (void)fake, (void)minutes_on;
    return item == 1 || (item == 0 && attempt == 1) ? 1 : 0;
}

static void what_does_not_pass_is_tried_again_at_once(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .first = 0, .behind = 3}};
    static const struct {
        size_t item;
        int attempt;
    } wanted[] = {{0, 1}, {0, 2}, {1, 1}, {1, 2}, {1, 3}, {2, 1}}; /* [A] of two retries */
    struct fake fake = new_fake();
    fake.retries = 2;
    fake.act = fail_some;
    const struct work work = work_of(&fake, benches, 1);
    assert_int_equal(work_answered(&work, true, ""), WORK_ALL_DONE);
    assert_int_equal(fake.end_count, sizeof wanted / sizeof wanted[0]);
    for (size_t i = 0; i < fake.end_count; i++) {
        assert_int_equal(fake.ends[i].item, wanted[i].item);
        assert_int_equal(fake.ends[i].attempt, wanted[i].attempt);
    }
    free_fake(&fake);
}

static void what_is_done_is_not_run(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .first = 0, .behind = 4}};
    struct fake fake = new_fake();
    fake.passed[0] = fake.passed[2] = true;
    fake.attempts[1] = 1; /* no retries: it had its attempt */
    const struct work work = work_of(&fake, benches, 1);
    assert_int_equal(work_answered(&work, true, ""), WORK_ALL_DONE);
    assert_int_equal(fake.end_count, 1);
    assert_int_equal(fake.ends[0].item, 3);
    free_fake(&fake);
}

/* ---- several benches ---- */

static void pause_ms(long ms) {
    const struct timespec time = {.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000};
    nanosleep(&time, NULL);
}

/* Waits for a run of the other bench; 9: there is none, or this bench has two. */
static int meet(struct fake *fake, size_t item, int attempt, double minutes_on) {
    const int bench = item >= 3;
    (void)attempt, (void)minutes_on;
    int status = atomic_fetch_add(&fake->shared->at_work[bench], 1) == 0 ? 0 : 9;
    atomic_fetch_add(&fake->shared->arrived, 1);
    const int turn = (int)(item % 3) + 1;
    for (int waited = 0; atomic_load(&fake->shared->arrived) < 2 * turn; waited += 5) {
        if (waited >= WAIT_MS) {
            status = 9;
            break;
        }
        pause_ms(5);
    }
    atomic_fetch_sub(&fake->shared->at_work[bench], 1);
    return status;
}

static void benches_work_at_once_each_on_one_run(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .first = 0, .behind = 3},
                                         {.name = "two", .first = 3, .behind = 6}};
    struct fake fake = new_fake();
    fake.act = meet;
    const struct work work = work_of(&fake, benches, 2);
    assert_int_equal(work_answered(&work, true, ""), WORK_ALL_DONE);
    assert_int_equal(fake.end_count, 6);
    for (size_t i = 0; i < 6; i++) {
        assert_int_equal(fake.ends[i].end.status, 0);
    }
    free_fake(&fake);
}

/* ---- consoles put in ---- */

static const char *const four[] = {"a", "a", "b", "b", "c", "c", "d", "d"};

static void a_robot_is_told_each_console_once(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .asks = true, .first = 0, .behind = 6}};
    struct fake fake = new_fake();
    fake.consoles = four;
    const struct work work = work_of(&fake, benches, 1);
    assert_int_equal(work_answered(&work, true, "ready\nready\nready"), WORK_ALL_DONE);
    assert_string_equal(asked, "put-in\tone\ta\nput-in\tone\tb\nput-in\tone\tc\n");
    assert_int_equal(fake.end_count, 6);
    for (size_t i = 0; i < 6; i++) {
        assert_true(fake.ends[i].end.minutes_on >= 0); /* since `ready` */
    }
    free_fake(&fake);
}

static void answers_go_to_the_bench_they_name(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .asks = true, .first = 0, .behind = 4},
                                         {.name = "two", .asks = true, .first = 4, .behind = 6}};
    struct fake fake = new_fake();
    fake.consoles = four;
    const struct work work = work_of(&fake, benches, 2);
    /* `skip` alone, a bench that is none, a word that is none: of no use, and no harm. Console b is left. */
    const char *const answers = "skip\nready three\nhello\nready two\nready one\nskip one\n";
    assert_int_equal(work_answered(&work, true, answers), WORK_LEFT);
    assert_non_null(strstr(asked, "put-in\tone\ta\n"));
    assert_non_null(strstr(asked, "put-in\ttwo\tc\n"));
    assert_int_equal(fake.end_count, 4);
    for (size_t i = 0; i < fake.end_count; i++) {
        assert_true(fake.ends[i].item != 2 && fake.ends[i].item != 3);
    }
    free_fake(&fake);
}

static void a_skipped_console_is_left_open_and_the_rest_goes_on(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .asks = true, .first = 0, .behind = 6}};
    struct fake fake = new_fake();
    fake.consoles = four;
    const struct work work = work_of(&fake, benches, 1);
    assert_int_equal(work_answered(&work, true, "ready\nskip\nready\n"), WORK_LEFT);
    assert_int_equal(fake.end_count, 4);
    assert_int_equal(fake.ends[1].item, 1);
    assert_int_equal(fake.ends[2].item, 4);
    free_fake(&fake);
}

static void stop_and_the_end_of_answers_end_it(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .asks = true, .first = 0, .behind = 6}};
    static const char *const answers[] = {"ready\nstop\n", "ready\n", "ready\nstop one\nready\n"};
    for (size_t i = 0; i < sizeof answers / sizeof answers[0]; i++) {
        struct fake fake = new_fake();
        fake.consoles = four;
        const struct work work = work_of(&fake, benches, 1);
        assert_int_equal(work_answered(&work, true, answers[i]), WORK_STOPPED);
        assert_int_equal(fake.end_count, 2); /* console a's */
        free_fake(&fake);
    }
}

/* Neither the end of a line that is too long for an answer, nor bytes behind a NUL, nor one behind it. */
static void what_is_no_line_of_text_is_no_answer(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .asks = true, .first = 0, .behind = 4}};
    static const char nul[] = "ready\0one\nready one\0\n\0\n";
    for (size_t length = 2 * ASK_LINE_MAX - 8; length <= 6 * ASK_LINE_MAX; length += 4) {
        char answers[7 * ASK_LINE_MAX];
        memset(answers, 'x', length);
        memcpy(answers + length, "ready\n", sizeof "ready\n");
        struct fake fake = new_fake();
        fake.consoles = four;
        const struct work work = work_of(&fake, benches, 1);
        assert_int_equal(work_answered(&work, true, answers), WORK_STOPPED);
        assert_int_equal(fake.end_count, 0);
        free_fake(&fake);
    }
    for (int robot = 0; robot < 2; robot++) {
        struct fake fake = new_fake();
        fake.consoles = four;
        const struct work work = work_of(&fake, benches, 1);
        assert_int_equal(work_answered_bytes(&work, robot != 0, nul, sizeof nul - 1), WORK_STOPPED);
        assert_int_equal(fake.end_count, 0);
        free_fake(&fake);
    }
}

/* More of them than are read at a time: none is lost, and none is cut. */
static void answers_wait_for_their_questions(void **state) {
    (void)state;
    static const char *const consoles[ITEMS_MAX] = {"a", "b", "c", "d", "e", "f", "g", "h",
                                                    "i", "j", "k", "l", "m", "n", "o", "p"};
    char name[91], answers[ITEMS_MAX * 100] = "";
    memset(name, 'x', sizeof name - 1);
    name[sizeof name - 1] = '\0';
    const struct work_bench benches[] = {{.name = name, .asks = true, .first = 0, .behind = ITEMS_MAX}};
    for (size_t i = 0; i < ITEMS_MAX; i++) {
        strcat(strcat(strcat(answers, "ready "), name), "\n");
    }
    assert_true(strlen(answers) > 2 * sizeof((struct ask *)NULL)->bytes);
    struct fake fake = new_fake();
    fake.consoles = consoles;
    const struct work work = work_of(&fake, benches, 1);
    assert_int_equal(work_answered(&work, true, answers), WORK_ALL_DONE);
    assert_int_equal(fake.end_count, ITEMS_MAX);
    free_fake(&fake);
}

/* A program that only talks is not listened to for an hour. */
static void useless_answers_end_it(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .asks = true, .first = 0, .behind = 4}};
    int ends[2], status = 1;
    enum work_stop why = WORK_ALL_DONE;
    struct problem problem = {0};
    struct fake fake = new_fake();
    fake.consoles = four;
    const struct work work = work_of(&fake, benches, 1);
    assert_int_equal(pipe(ends), 0);
    const pid_t talker = fork();
    if (talker == 0) {
        close(ends[0]);
        signal(SIGPIPE, SIG_DFL);
        while (write(ends[1], "hello\n", 6) == 6) {
        }
        _exit(0);
    }
    close(ends[1]);
    struct ask ask = {.robot = true, .in = ends[0], .out = fmemopen(asked, sizeof asked, "w")};
    assert_true(work_do(&work, &ask, &why, &problem));
    assert_int_equal(why, WORK_STOPPED);
    assert_int_equal(fake.end_count, 0);
    fclose(ask.out);
    close(ends[0]);
    assert_int_equal(waitpid(talker, &status, 0), talker);
    free_fake(&fake);
}

/* Where the question cannot be told, no answer is waited for. */
static void who_cannot_be_asked_is_not_waited_for(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .asks = true, .first = 0, .behind = 4}};
    int ends[2];
    enum work_stop why = WORK_ALL_DONE;
    struct problem problem = {0};
    struct fake fake = new_fake();
    fake.consoles = four;
    const struct work work = work_of(&fake, benches, 1);
    FILE *full = fopen("/dev/full", "w");
    if (full == NULL) {
        skip();
    }
    assert_int_equal(pipe(ends), 0); /* open, and silent */
    struct ask ask = {.robot = true, .in = ends[0], .out = full};
    assert_true(work_do(&work, &ask, &why, &problem));
    assert_int_equal(why, WORK_STOPPED);
    fclose(full);
    close(ends[0]);
    close(ends[1]);
    free_fake(&fake);
}

/* A person is asked one thing at a time, with the caution. */
static void a_person_answers_with_enter(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .asks = true, .first = 0, .behind = 4},
                                         {.name = "two", .asks = true, .first = 4, .behind = 8}};
    struct fake fake = new_fake();
    fake.consoles = four;
    const struct work work = work_of(&fake, benches, 2);
    assert_int_equal(work_answered(&work, false, "\n\n\n\n"), WORK_ALL_DONE);
    assert_int_equal(fake.end_count, 8);
    assert_non_null(strstr(asked, "Bench one: the console is off before anything goes in or out"));
    assert_non_null(strstr(asked, "switch console a off, and only then"));
    assert_non_null(strstr(asked, "While console d is off, put the board into its slot"));
    free_fake(&fake);
}

static int keyboard = -1; /* the other end of a terminal */

static int type_ahead(struct fake *fake, size_t item, int attempt, double minutes_on) {
    (void)fake, (void)item, (void)attempt, (void)minutes_on;
    return write(keyboard, "\n\n", 2) == 2 ? 0 : 9;
}

/* In a process of its own: answers the first question with Enter and the second with skip. */
static void answer_two(int questions) {
    static const char *const answers[] = {"\n", "skip\n"};
    char text[4000];
    size_t used = 0;
    for (int turn = 0; turn < 2; turn++) {
        for (const char *end = NULL; end == NULL; text[used] = '\0', end = strstr(text, "to end: ")) {
            const ssize_t got = read(questions, text + used, sizeof text - 1 - used);
            if (got <= 0) {
                _exit(1);
            }
            used += (size_t)got;
        }
        used = 0;
        if (write(keyboard, answers[turn], strlen(answers[turn])) < 0) {
            _exit(1);
        }
    }
    _exit(0);
}

/* Else the console that is in would be taken for the next one. */
static void an_enter_too_many_is_no_answer(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .asks = true, .first = 0, .behind = 4}};
    struct fake fake = new_fake();
    struct problem problem = {0};
    enum work_stop why = WORK_ALL_DONE;
    int questions[2];
    keyboard = posix_openpt(O_RDWR | O_NOCTTY);
    assert_true(keyboard >= 0 && grantpt(keyboard) == 0 && unlockpt(keyboard) == 0);
    const int terminal = open(ptsname(keyboard), O_RDWR | O_NOCTTY);
    assert_true(terminal >= 0);
    assert_int_equal(pipe(questions), 0);
    const pid_t person = fork();
    if (person == 0) {
        close(questions[1]);
        answer_two(questions[0]);
    }
    close(questions[0]);
    fake.consoles = four;
    fake.act = type_ahead;
    struct work work = work_of(&fake, benches, 1);
    work.patience_s = 20;
    struct ask ask = {.in = terminal, .out = fdopen(questions[1], "w")};
    assert_true(work_do(&work, &ask, &why, &problem));
    assert_int_equal(why, WORK_LEFT);
    assert_int_equal(fake.end_count, 2); /* console a's alone */
    fclose(ask.out);
    int status = 1;
    assert_int_equal(waitpid(person, &status, 0), person);
    assert_int_equal(status, 0);
    close(terminal);
    close(keyboard);
    free_fake(&fake);
}

static void nobody_is_waited_for_without_end(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .asks = true, .first = 0, .behind = 4},
                                         {.name = "two", .first = 4, .behind = 6}};
    struct fake fake = new_fake();
    struct problem problem = {0};
    enum work_stop why = WORK_ALL_DONE;
    int ends[2];
    fake.consoles = four;
    struct work work = work_of(&fake, benches, 2);
    work.patience_s = 0.3;
    assert_int_equal(pipe(ends), 0); /* open, and silent */
    struct ask ask = {.robot = true, .in = ends[0], .out = fmemopen(asked, sizeof asked, "w")};
    assert_true(work_do(&work, &ask, &why, &problem));
    assert_int_equal(why, WORK_LEFT);
    assert_int_equal(fake.end_count, 2); /* the other bench's */
    fclose(ask.out);
    close(ends[0]);
    close(ends[1]);
    free_fake(&fake);
}

/* ---- runs that go wrong ---- */

static int go_wrong(struct fake *fake, size_t item, int attempt, double minutes_on) {
    (void)fake, (void)attempt, (void)minutes_on;
    if (item == 0) {
        raise(SIGKILL);
    }
    while (item == 1) {
        pause();
    }
    fprintf(stderr, "slotjig: note: something\nslotjig: the board went away\n");
    return 3;
}

static void a_run_that_dies_or_hangs_is_told(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .first = 0, .behind = 3}};
    struct fake fake = new_fake();
    fake.act = go_wrong;
    fake.bound_s = 2; /* for the last one, which writes a line, however busy the machine is */
    const struct work work = work_of(&fake, benches, 1);
    assert_int_equal(work_answered(&work, true, ""), WORK_ALL_DONE);
    assert_int_equal(fake.end_count, 3);
    assert_int_equal(fake.ends[0].end.how, WORK_KILLED);
    assert_int_equal(fake.ends[0].end.status, SIGKILL);
    assert_int_equal(fake.ends[1].end.how, WORK_HUNG);
    assert_int_equal(fake.ends[1].end.status, 2);
    assert_int_equal(fake.ends[2].end.how, WORK_EXITED);
    assert_int_equal(fake.ends[2].end.status, 3);
    assert_string_equal(fake.ends[2].end.said, "the board went away");
    free_fake(&fake);
}

/* Items 0 and 1 are trouble, 2 is not, all later ones are. */
static int lose_bench(struct fake *fake, size_t item, int attempt, double minutes_on) {
    (void)fake, (void)attempt, (void)minutes_on;
    return item == 2 ? 1 : 3;
}

/* What a bench cannot do now stays to be done. */
static void a_bench_in_trouble_keeps_its_work(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .first = 0, .behind = 10}};
    struct fake fake = new_fake();
    fake.act = lose_bench;
    fake.retries = 1;
    const struct work work = work_of(&fake, benches, 1);
    assert_int_equal(work_answered(&work, true, ""), WORK_LEFT);
    assert_int_equal(fake.end_count, 2 * (3 + WORK_TROUBLES)); /* two attempts each [A] */
    assert_int_equal(fake.ends[fake.end_count - 1].item, 2 + WORK_TROUBLES);
    free_fake(&fake);
}

static int wait_long(struct fake *fake, size_t item, int attempt, double minutes_on) {
    (void)attempt, (void)minutes_on;
    if (item == 0) {
        return 0;
    }
    atomic_store(&fake->shared->pid, getpid());
    for (;;) {
        pause();
    }
}

static bool is_gone(pid_t pid) {
    char path[64], line[200] = "";
    snprintf(path, sizeof path, "/proc/%d/stat", (int)pid);
    FILE *file = fopen(path, "r");
    if (file == NULL) {
        return true;
    }
    const bool got = fgets(line, sizeof line, file) != NULL;
    const char *state = strrchr(line, ')');
    fclose(file);
    return !got || (state != NULL && (state[2] == 'Z' || state[2] == 'X'));
}

static bool comes_true(bool (*what)(pid_t), pid_t pid) {
    for (int waited = 0; waited < WAIT_MS; waited += 5) {
        if (what(pid)) {
            return true;
        }
        pause_ms(5);
    }
    return false;
}

/* A problem of the store ends the sweep, and leaves no run behind. */
static void a_problem_leaves_no_run_behind(void **state) {
    (void)state;
    const struct work_bench benches[] = {{.name = "one", .first = 1, .behind = 2},
                                         {.name = "two", .first = 0, .behind = 1}};
    struct fake fake = new_fake();
    struct problem problem = {0};
    enum work_stop why = WORK_ALL_DONE;
    struct ask ask = {.robot = true, .in = -1, .out = stdout};
    fake.act = wait_long;
    fake.fails_to_keep = true;
    const struct work work = work_of(&fake, benches, 2);
    assert_false(work_do(&work, &ask, &why, &problem));
    assert_string_equal(problem.text, "the store is full");
    assert_int_equal(waitpid(-1, NULL, WNOHANG), -1); /* no children */
    assert_int_equal(errno, ECHILD);
    free_fake(&fake);
}

static struct fake *watched;
static bool has_begun(pid_t pid) {
    (void)pid;
    return atomic_load(&watched->shared->pid) != 0;
}

/* In a process of its own, which is then sent a signal. Returns its exit status: how many runs had ended, 100
 * for an interrupted one, and 10 times why it ended. */
static int signal_a_sweep(int number, struct fake *fake) {
    const struct work_bench benches[] = {{.name = "one", .first = 0, .behind = 3}};
    fflush(stdout);
    const pid_t sweep = fork();
    if (sweep == 0) {
        struct problem problem = {0};
        enum work_stop why = WORK_ALL_DONE;
        struct ask ask = {.robot = true, .in = -1, .out = stdout};
        const struct work work = work_of(fake, benches, 1);
        stop_catch();
        const bool good = work_do(&work, &ask, &why, &problem);
        stop_release();
        const struct work_end *end = &fake->ends[1].end; /* told to end before it is made to */
        const bool interrupted =
            fake->end_count == 2 && end->interrupted && end->how == WORK_KILLED && end->status == SIGTERM;
        _exit(good ? (int)fake->end_count + (interrupted ? 100 : 0) + 10 * (int)why : 255);
    }
    watched = fake;
    assert_true(comes_true(has_begun, 0));
    kill(sweep, number);
    int status = 0;
    assert_int_equal(waitpid(sweep, &status, 0), sweep);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
}

static void a_persons_wish_ends_the_run_at_work(void **state) {
    (void)state;
    static const int numbers[] = {SIGINT, SIGTERM, SIGHUP};
    for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
        struct fake fake = new_fake();
        fake.act = wait_long;
        assert_int_equal(signal_a_sweep(numbers[i], &fake), 2 + 100 + 10 * WORK_SIGNALLED);
        assert_true(comes_true(is_gone, atomic_load(&fake.shared->pid)));
        free_fake(&fake);
    }
}

/* Else it would go on beside the run that does the same again. */
static void no_run_outlives_its_sweep(void **state) {
    (void)state;
    struct fake fake = new_fake();
    fake.act = wait_long;
    assert_int_equal(signal_a_sweep(SIGKILL, &fake), -SIGKILL);
    assert_true(comes_true(is_gone, atomic_load(&fake.shared->pid)));
    free_fake(&fake);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_item_is_run_once_in_its_order),
        cmocka_unit_test(what_does_not_pass_is_tried_again_at_once),
        cmocka_unit_test(what_is_done_is_not_run),
        cmocka_unit_test(benches_work_at_once_each_on_one_run),
        cmocka_unit_test(a_robot_is_told_each_console_once),
        cmocka_unit_test(answers_go_to_the_bench_they_name),
        cmocka_unit_test(a_skipped_console_is_left_open_and_the_rest_goes_on),
        cmocka_unit_test(stop_and_the_end_of_answers_end_it),
        cmocka_unit_test(what_is_no_line_of_text_is_no_answer),
        cmocka_unit_test(answers_wait_for_their_questions),
        cmocka_unit_test(useless_answers_end_it),
        cmocka_unit_test(who_cannot_be_asked_is_not_waited_for),
        cmocka_unit_test(a_person_answers_with_enter),
        cmocka_unit_test(an_enter_too_many_is_no_answer),
        cmocka_unit_test(nobody_is_waited_for_without_end),
        cmocka_unit_test(a_run_that_dies_or_hangs_is_told),
        cmocka_unit_test(a_bench_in_trouble_keeps_its_work),
        cmocka_unit_test(a_problem_leaves_no_run_behind),
        cmocka_unit_test(a_persons_wish_ends_the_run_at_work),
        cmocka_unit_test(no_run_outlives_its_sweep),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
