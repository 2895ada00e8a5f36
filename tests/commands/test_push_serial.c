/* The program over a serial line: a pty with the virtual board behind it, first without a console in the
 * slot, so that every push ends with one that has to be switched off and on, then with the virtual one. */
#include "commands/commands.h"
#include "link/pty.h"
#include "slotjig/mailbox.h"
#include "slotjig/wire.h"
#include "virtual/bench.h"
#include "virtual/board.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static char folder[512];
static struct virtual_board *board;
static struct pty *pty;
static pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
static char said[16384];

static void put(const char *name, const char *text) {
    FILE *file = fopen(name, "w");
    assert_non_null(file);
    fputs(text, file);
    fclose(file);
}

static void get(const char *name, char *text, size_t size) {
    FILE *file = fopen(name, "r");
    assert_non_null(file);
    text[fread(text, 1, size - 1, file)] = '\0';
    fclose(file);
}

/* Runs `slotjig ARGUMENTS` and returns its exit status; what it printed is in `said`. */
__attribute__((format(printf, 1, 2))) static int slotjig(const char *format, ...) {
    char arguments[2048], line[4096];
    va_list list;
    va_start(list, format);
    vsnprintf(arguments, sizeof arguments, format, list);
    va_end(list);
    snprintf(line, sizeof line, "timeout 60 '%s/slotjig' %s >said.txt 2>&1", BUILD_DIR, arguments);
    const int status = system(line); /* NOLINT(cert-env33-c): the test's own words */
    get("said.txt", said, sizeof said);
    assert_true(WIFEXITED(status));
    return WEXITSTATUS(status);
}

static void ends(int got, int wanted) {
    if (got != wanted) {
        fail_msg("exit %d, wanted %d: %s", got, wanted, said);
    }
}

static void says(const char *what) {
    if (strstr(said, what) == NULL) {
        fail_msg("'%s' is not in: %s", what, said);
    }
}

static bool file_has(const char *name, const char *what) {
    static char text[1 << 18];
    get(name, text, sizeof text);
    return strstr(text, what) != NULL;
}

static uint8_t slot(uint16_t address) {
    pthread_mutex_lock(&lock);
    const uint8_t byte = virtual_board_cycle(board, address, 0xFF);
    pthread_mutex_unlock(&lock);
    return byte;
}

static void serves(const uint8_t *image, size_t size) {
    for (size_t at = 0; at < size; at++) {
        if (slot((uint16_t)(0x1000 + at)) != image[at]) {
            fail_msg("$%04zX serves $%02X, not $%02X", 0x1000 + at, slot((uint16_t)(0x1000 + at)), image[at]);
        }
    }
}

static int set_up(void **state) {
    (void)state;
    struct virtual_board_options options;
    struct problem problem = {0};
    const char *temporary = getenv("TMPDIR");
    snprintf(folder, sizeof folder, "%s/slotjig-XXXXXX", temporary != NULL ? temporary : "/tmp");
    if (mkdtemp(folder) == NULL || chdir(folder) != 0) {
        return -1;
    }
    virtual_board_defaults(&options);
    board = virtual_board_new(&options, &problem);
    pty = board != NULL ? pty_start(board, &lock) : NULL;
    if (pty == NULL) {
        return -1;
    }
    char benches[4096];
    put("small.ini",
        "[plan]\nname = small\n[step one]\nPF1 = $81\n[step two]\nmode = mirror\nPF0 = %10100000\n");
    put("relay", "#!/bin/sh\necho \"$1\" >>power.txt\n");
    ends(system("chmod +x relay"), 0); /* NOLINT(cert-env33-c) */
    snprintf(benches, sizeof benches,
             "[bench left]\nkind = board\nboard = %s\nvideo = file:small.mkv\nscreen = none\n"
             "[bench right]\nkind = board\nboard = %s\npower = ./relay {state}\nvideo = file:small.mkv\n"
             "screen = none\nconsole = rev. 4\n",
             pty_name(pty), pty_name(pty));
    put("benches.ini", benches);
    return 0;
}

static int tear_down(void **state) {
    (void)state;
    char line[600];
    pty_stop(pty);
    virtual_board_free(board);
    snprintf(line, sizeof line, "rm -rf '%s'", folder);
    return chdir("/") == 0 && system(line) == 0 ? 0 : -1; /* NOLINT(cert-env33-c) */
}

static void nothing_to_hold_before_a_push(void **unused) {
    (void)unused;
    ends(slotjig("push --serial %s --step 1", pty_name(pty)), EXIT_BENCH);
    says("holds no image");
}

static void push_of_a_file(void **unused) {
    (void)unused;
    uint8_t image[2 * WIRE_BLOCK * 2];
    FILE *file = fopen("image.bin", "w");
    assert_non_null(file);
    for (size_t i = 0; i < sizeof image; i++) {
        image[i] = (uint8_t)(i * 7 + i / 256);
    }
    fwrite(image, 1, sizeof image, file);
    fclose(file);
    ends(slotjig("push --serial %s --json push.json image.bin", pty_name(pty)), EXIT_PASS);
    says("board: serial ");
    says("4 blocks of 1 KiB sent, 0 left");
    says("switch the console off, wait two seconds, switch it on");
    assert_true(file_has("push.json", "\"start\": \"forced\""));
    assert_true(file_has("push.json", "\"transport\": \"serial\""));
    serves(image, sizeof image);

    ends(slotjig("push --board %s image.bin", pty_name(pty)), EXIT_PASS);
    says("has this very image already");
    ends(slotjig("push --serial %s --whole image.bin", pty_name(pty)), EXIT_PASS);
    says("4 blocks of 1 KiB sent, 0 left");

    image[1500] ^= 0xFF;
    file = fopen("image.bin", "w");
    assert_non_null(file);
    fwrite(image, 1, sizeof image, file);
    fclose(file);
    ends(slotjig("push --serial %s --baud 9600 image.bin", pty_name(pty)), EXIT_PASS);
    says("1 blocks of 1 KiB sent, 3 left");
    serves(image, sizeof image);
}

static void steps_are_held_and_let_go(void **unused) {
    (void)unused;
    ends(slotjig("push --serial %s --plan small.ini --step 1", pty_name(pty)), EXIT_PASS);
    says("step 1 is held");
    assert_int_equal(slot(MAILBOX_MODE), MAILBOX_HOLD);
    assert_int_equal(slot(MAILBOX_STEP), 1);
    ends(slotjig("push --serial %s --free", pty_name(pty)), EXIT_PASS);
    says("steps on by itself");
    assert_int_equal(slot(MAILBOX_MODE), MAILBOX_FREE);
}

static void power_is_switched_by_the_bench(void **unused) {
    (void)unused;
    ends(slotjig("push --benches benches.ini --bench right --whole --plan small.ini"), EXIT_PASS);
    says("the console was switched off and on");
    assert_true(file_has("power.txt", "off\non\n"));
    put("relay", "#!/bin/sh\necho 'relay: no such port' >&2\nexit 7\n");
    ends(slotjig("push --benches benches.ini --bench right --whole --plan small.ini"), EXIT_BENCH);
    says("no such port");
    put("relay", "#!/bin/sh\necho \"$1\" >>power.txt\n");
}

static void run_of_a_recording(void **unused) {
    (void)unused;
    ends(slotjig("grab --plan small.ini --quiet -o small.mkv"), EXIT_PASS);
    ends(slotjig("push --serial %s --quiet --plan bits", pty_name(pty)), EXIT_PASS);
    ends(slotjig("run --benches benches.ini --bench left --plan small.ini </dev/null"), EXIT_BENCH);
    says("switch the console off and on");
    ends(slotjig("push --serial %s --quiet --plan bits", pty_name(pty)), EXIT_PASS);
    ends(slotjig("run --benches benches.ini --bench right --plan small.ini --json run.json"), EXIT_PASS);
    says("2 of 2 steps pass");
    assert_true(file_has("run.json", "\"serial\": \""));
    assert_true(file_has("run.json", "\"console\": \"rev. 4\""));
    assert_false(file_has("run.json", "\"seed\""));
    /* The board has it now, so nothing is sent and nobody is asked to switch. */
    ends(slotjig("run --benches benches.ini --bench left --plan small.ini --json run.json </dev/null"),
         EXIT_PASS);
    assert_true(file_has("run.json", "\"already_there\": true"));
    /* The recording is of another plan. */
    ends(slotjig("run --benches benches.ini --bench right --plan bits --json run.json"), EXIT_INCONCLUSIVE);
    assert_true(file_has("run.json", "\"supply\": false"));
    assert_true(file_has("run.json", "no_slate"));
}

/* Waits for what the board serves to become so. */
static void slot_becomes(uint16_t address, uint8_t wanted) {
    enum { TRIES = 1000 };
    const struct timespec pause = {.tv_nsec = 10000000};
    for (int i = 0; i < TRIES && slot(address) != wanted; i++) {
        nanosleep(&pause, NULL);
    }
    assert_int_equal(slot(address), wanted);
}

static void by_eye_with_a_board(void **unused) {
    (void)unused;
    char line[2048];
    snprintf(line, sizeof line,
             "timeout 60 '%s/slotjig' run --by-eye --benches benches.ini --bench right --plan small.ini "
             "--json eye.json >said.txt 2>&1",
             BUILD_DIR);
    FILE *answers = popen(line, "w"); /* NOLINT(cert-env33-c): the test's own words */
    assert_non_null(answers);
    slot_becomes(MAILBOX_MODE, MAILBOX_HOLD);
    assert_int_equal(slot(MAILBOX_STEP), 0);
    fputs("y\n", answers);
    fflush(answers);
    slot_becomes(MAILBOX_STEP, 1);
    assert_int_equal(slot(MAILBOX_MODE), MAILBOX_HOLD);
    fputs("n\n", answers);
    const int status = pclose(answers);
    get("said.txt", said, sizeof said);
    assert_true(WIFEXITED(status));
    ends(WEXITSTATUS(status), EXIT_FAIL);
    says("the board holds each until you answer");
    assert_true(file_has("eye.json", "\"transport\": \"serial\""));
    assert_int_equal(slot(MAILBOX_MODE), MAILBOX_FREE);
}

/* Without a key power it is a person at the terminal who switches the console: `script` makes one. */
static void a_person_is_asked_at_a_terminal(void **unused) {
    (void)unused;
    if (system("command -v script >/dev/null") != 0) { /* NOLINT(cert-env33-c) */
        skip();
    }
    static const struct {
        const char *types;
        int status;
        const char *says;
    } cases[] = {{"\\n", EXIT_PASS, "2 of 2 steps pass"}, {"\\004", EXIT_BENCH, "nobody switched"}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char line[2048];
        ends(slotjig("push --serial %s --quiet --plan bits", pty_name(pty)), EXIT_PASS);
        snprintf(line, sizeof line,
                 "{ sleep 1; printf '%s'; sleep 1; } | timeout 60 script -qec \"'%s/slotjig' run --benches "
                 "benches.ini --bench left --plan small.ini\" /dev/null >said.txt 2>&1",
                 cases[i].types, BUILD_DIR);
        const int status = system(line); /* NOLINT(cert-env33-c) */
        get("said.txt", said, sizeof said);
        assert_true(WIFEXITED(status));
        ends(WEXITSTATUS(status), cases[i].status);
        says("Switch it off by its own switch");
        says(cases[i].says);
    }
}

/* What was answered is kept, and the board does not stay at the step. */
static void by_eye_is_stopped(void **unused) {
    (void)unused;
    char line[2048];
    unlink("eye.json");
    snprintf(line, sizeof line,
             "rm said.txt; mkfifo answers; exec 3<>answers; echo y >&3; "
             "timeout 60 '%s/slotjig' run --by-eye --benches benches.ini --bench right --plan small.ini "
             "--json eye.json <answers >said.txt 2>&1 & pid=$!; "
             "for i in $(seq 100); do grep -qs 'step 1:' said.txt && break; sleep 0.1; done; "
             "kill -TERM $pid; wait $pid",
             BUILD_DIR);
    put("stop.sh", line);
    const int status = system("bash stop.sh"); /* NOLINT(cert-env33-c): the test's own words */
    get("said.txt", said, sizeof said);
    assert_true(WIFEXITED(status));
    assert_true(file_has("eye.json", "\"answer\": \"yes\""));
    assert_true(file_has("eye.json", "\"answer\": \"open\""));
    assert_int_equal(slot(MAILBOX_MODE), MAILBOX_FREE);
}

/* The line must not get the number of a closed standard output, and with it the report. */
static void nothing_is_printed_onto_the_line(void **unused) {
    (void)unused;
    static const char *const closed[] = {">&-", "<&- >&-"};
    for (size_t i = 0; i < sizeof closed / sizeof closed[0]; i++) {
        char line[2048];
        snprintf(line, sizeof line, "timeout 60 '%s/slotjig' push --serial %s --plan small.ini %s 2>said.txt",
                 BUILD_DIR, pty_name(pty), closed[i]);
        const int status = system(line); /* NOLINT(cert-env33-c): the test's own words */
        get("said.txt", said, sizeof said);
        assert_true(WIFEXITED(status));
        ends(WEXITSTATUS(status), EXIT_BENCH);
        says("standard output");
    }
}

/* A held step is said, and a push of the same image lets it go. */
static void a_held_step_is_told(void **unused) {
    (void)unused;
    ends(slotjig("push --serial %s --plan small.ini --step 1", pty_name(pty)), EXIT_PASS);
    slotjig("doctor --serial %s", pty_name(pty));
    says("step 1 is held");
    ends(slotjig("push --serial %s --plan small.ini", pty_name(pty)), EXIT_PASS);
    says("has this very image already");
    assert_int_equal(slot(MAILBOX_MODE), MAILBOX_FREE);
}

static void doctor_without_a_console(void **unused) {
    (void)unused;
    ends(slotjig("doctor --serial %s", pty_name(pty)), EXIT_INCONCLUSIVE);
    says("ok       image");
    says("?        supply");
    ends(slotjig("doctor --benches benches.ini --bench left --json doctor.json --quiet"), EXIT_INCONCLUSIVE);
    assert_true(file_has("doctor.json", "\"supply\": false"));
}

/* ---- with a console ---- */

static struct video_source console;
static pthread_t player;
static atomic_bool playing;

/* About as fast as a real one; the pty moves the board's time too, so a second of the board's has fewer
 * fields than a real second. */
static void *play(void *unused) {
    (void)unused;
    const struct timespec field = {.tv_nsec = 10000000};
    while (playing) {
        pthread_mutex_lock(&lock);
        virtual_run_field(&console);
        pthread_mutex_unlock(&lock);
        nanosleep(&field, NULL);
    }
    return NULL;
}

static int console_on(void **state) {
    (void)state;
    struct virtual_options options;
    struct problem problem = {0};
    virtual_defaults(STANDARD_NTSC, &options);
    pthread_mutex_lock(&lock);
    const bool good = virtual_open_board(&options, board, &console, &problem);
    pthread_mutex_unlock(&lock);
    playing = true;
    return good && pthread_create(&player, NULL, play, NULL) == 0 ? 0 : -1;
}

static int console_off(void **state) {
    (void)state;
    playing = false;
    pthread_join(player, NULL);
    console.close(console.state);
    return 0;
}

/* The step the console says it shows, in the slot's numbers: from the next field on. */
static void shows(int step) {
    enum { TRIES = 50 };
    char wanted[40];
    bool shown = false;
    snprintf(wanted, sizeof wanted, "\"step_echoed\": %d\n", step);
    for (int i = 0; i < TRIES && !shown; i++) {
        ends(slotjig("doctor --serial %s --json doctor.json", pty_name(pty)), EXIT_PASS);
        shown = file_has("doctor.json", wanted);
    }
    if (!shown) {
        fail_msg("%s was never in doctor.json; said: %s", wanted, said);
    }
}

static void a_console_takes_images_and_steps(void **unused) {
    (void)unused;
    ends(slotjig("push --serial %s --plan bits --step 7", pty_name(pty)), EXIT_PASS);
    says("the console took it over and runs it");
    shows(7);
    ends(slotjig("push --serial %s --step 97", pty_name(pty)), EXIT_PASS);
    shows(97);
    ends(slotjig("push --serial %s --plan small.ini --step 1 --json push.json", pty_name(pty)), EXIT_PASS);
    assert_true(file_has("push.json", "\"start\": \"handed_over\""));
    shows(1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_to_hold_before_a_push),
        cmocka_unit_test(push_of_a_file),
        cmocka_unit_test(steps_are_held_and_let_go),
        cmocka_unit_test(power_is_switched_by_the_bench),
        cmocka_unit_test(run_of_a_recording),
        cmocka_unit_test(by_eye_with_a_board),
        cmocka_unit_test(a_person_is_asked_at_a_terminal),
        cmocka_unit_test(by_eye_is_stopped),
        cmocka_unit_test(nothing_is_printed_onto_the_line),
        cmocka_unit_test(a_held_step_is_told),
        cmocka_unit_test(doctor_without_a_console),
        cmocka_unit_test_setup_teardown(a_console_takes_images_and_steps, console_on, console_off),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
