/*
 * A whole bench as the program finds one: a board on USB in the slot of a console, whose video comes from a
 * grabber; console, board and grabber are virtual, everything between them and `slotjig` is the stage's. The
 * emulated USB and V4L2 are models of a kernel; `make check-kernel` runs the same tests on a real one.
 */
#include "commands/commands.h"
#include "commands/program.h"
#include "picture/frames.h"
#include "usb/rig.h"
#include "usb/start.h"
#include "video/stage.h"
#include "virtual/bench.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static struct rig rig;
static char serial[2 * WIRE_SERIAL + 1];
static struct virtual_options options;
static struct grabber_device device;
static char folder[400];

/* Some steps of `bits`, for a real kernel on an emulated processor: every bit of PF1 alone. */
static const char blinking[] = "[plan]\nname = blink\n[step none]\nPF1 = 0\n"
                               "[step all]\nPF0 = $F0\nPF1 = $FF\nPF2 = $FF\n";
static const char few_steps[] = "[plan]\nname = few\n[step none]\nPF1 = 0\n[step all]\nPF1 = $FF\n"
                                "[step 0]\nPF1 = $01\n[step 1]\nPF1 = $02\n[step 2]\nPF1 = $04\n"
                                "[step 3]\nPF1 = $08\n[step 4]\nPF1 = $10\n[step 5]\nPF1 = $20\n"
                                "[step 6]\nPF1 = $40\n[step 7]\nPF1 = $80\n";

/* In frames of the plan: past what is still queued from the push, and well inside the first round (196 frames
 * of `bits`, or the 100 of the few steps, which are held longer). */
enum { EARLY = 60 };

static struct frames *reader;

/* The console shows an image of ours. */
static bool shows_plan(const struct frame *frame) {
    struct field fields[2];
    struct reading readings[2];
    const int count = frames_read(reader, frame, fields, readings);
    return count > 0 && readings[0].state == FIELD_READ && readings[0].slate.hash != SLATE_HASH_IDLE;
}

/* What the analog models alone can show, or what costs minutes there. */
static void model_only(void) {
    if (stage_is_real()) {
        skip();
    }
}

static void prepare(enum standard standard) {
    const struct picture_options picture = {.standard = standard, .unclear_below = PICTURE_UNCLEAR};
    rig_prepare(&rig);
    virtual_defaults(standard, &options);
    reader = frames_new(&picture);
    assert_non_null(reader);
    device = (struct grabber_device){.feed = {.standard = standard, .speed = 3, .begins = shows_plan},
                                     .stands_at = standard == STANDARD_NTSC ? STANDARD_PAL : STANDARD_NTSC,
                                     .lock = &rig.lock};
}

static void add_fault(const char *text) {
    struct problem problem = {0};
    if (!virtual_add_fault(&options, text, &problem)) {
        fail_msg("%s", problem.text);
    }
}

static void trouble(int index, enum trouble_kind kind, uint64_t at, uint64_t count) {
    device.feed.troubles[index] = (struct trouble){kind, at, count};
}

static void write_file(const char *name, const char *text) {
    char path[500];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fputs(text, file);
    assert_int_equal(fclose(file), 0);
}

/* keys: more lines of the bench's section. */
static void write_bench(const char *keys) {
    char text[500];
    const char *temporary = getenv("TMPDIR");
    snprintf(folder, sizeof folder, "%s/video-run-%d", temporary != NULL ? temporary : "/tmp", (int)getpid());
    mkdir(folder, 0700);
    snprintf(text, sizeof text,
             "[bench live]\nkind = board\nscreen = none\nvideo = v4l2:%s\nstandard = %s\n%s\n", device.node,
             standard_table[options.standard].name, keys);
    write_file("benches.ini", text);
    write_file("few.ini", few_steps);
    write_file("blink.ini", blinking);
}

/* Console on, board and grabber plugged in. */
static void plug(const char *keys) {
    struct problem problem = {0};
    rig.board = virtual_board_new(&rig.options, &problem);
    assert_non_null(rig.board);
    const struct model_identity identity = usb_rig_identity(&rig, serial);
    struct stage_port *port = usb_rig_plug(&rig, 0, &identity);
    assert_non_null(port);
    stage_lock();
    port->advance = NULL; /* the console's time is the board's */
    stage_unlock();
    pthread_mutex_lock(&rig.lock);
    const bool open = virtual_open_board(&options, rig.board, &device.source, &problem);
    pthread_mutex_unlock(&rig.lock);
    assert_true(open);
    assert_true(grabber_plug(&device));
    write_bench(keys);
}

static int end(void **state) {
    (void)state;
    char path[500];
    grabber_end(&device);
    stage_clear();
    if (device.source.close != NULL) {
        device.source.close(device.source.state);
    }
    device = (struct grabber_device){0};
    frames_free(reader);
    reader = NULL;
    virtual_board_free(rig.board);
    rig.board = NULL;
    snprintf(path, sizeof path, "%s/benches.ini", folder);
    unlink(path);
    snprintf(path, sizeof path, "%s/few.ini", folder);
    unlink(path);
    snprintf(path, sizeof path, "%s/blink.ini", folder);
    unlink(path);
    rmdir(folder);
    return 0;
}

static void run_plan(int wanted, const char *plan, const char *more) {
    char line[1500];
    snprintf(line, sizeof line, "run --bench live --benches '%s/benches.ini' --plan '%s' %s --json -", folder,
             plan, more);
    program_slotjig(wanted, line);
}

static void run(int wanted) {
    char few[500];
    snprintf(few, sizeof few, "%s/few.ini", folder);
    run_plan(wanted, stage_is_real() ? few : "bits", stage_is_real() ? "--hold 20" : "");
}

static void passes(void **state) {
    (void)state;
    prepare(STANDARD_NTSC);
    plug("");
    run(EXIT_PASS);
    program_says("\"verdict\": \"pass\"");
}

/* Black and white every four fields flash beyond the limits: refused where people see it, unless they have
 * agreed; then the picture is dark for three seconds, far longer than a round, which costs no verdict. */
static void flashes_where_people_have_agreed(void **state) {
    (void)state;
    char blink[500];
    model_only();
    prepare(STANDARD_NTSC);
    plug("");
    snprintf(blink, sizeof blink, "%s/blink.ini", folder);
    run_plan(EXIT_INPUT, blink, "--screen watched --hold 4");
    program_says("plan blink at --hold 4 is flashing");
    run_plan(EXIT_PASS, blink, "--screen watched --hold 4 --agreed-to-flashing");
    program_says("dark for 3 s first");
    program_says("\"verdict\": \"pass\"");
}

static void passes_on_pal_by_mjpeg(void **state) {
    (void)state;
    model_only();
    prepare(STANDARD_PAL);
    device.mjpeg = true;
    plug("pixel = mjpeg");
    run(EXIT_PASS);
    program_says("\"verdict\": \"pass\"");
}

static void fails_by_name(void **state) {
    (void)state;
    prepare(STANDARD_NTSC);
    add_fault("bit-low=PF1.3");
    plug("");
    run(EXIT_FAIL);
    program_says("\"verdict\": \"fail\"");
    program_says("bit_stuck_low: PF1 D3");
}

/* Every kind of damage there is, on a good console. */
static void damage_is_no_failure(void **state) {
    (void)state;
    model_only();
    prepare(STANDARD_NTSC);
    trouble(0, TROUBLE_SHORT, EARLY, 3);
    trouble(1, TROUBLE_MARKED, EARLY + 10, 3);
    trouble(2, TROUBLE_EMPTY, EARLY + 20, 3);
    trouble(3, TROUBLE_REPEAT, EARLY + 30, 20);
    trouble(4, TROUBLE_GAP, EARLY + 70, 10);
    plug("");
    run(EXIT_PASS);
    program_says("6 were broken or short and 3 empty; none of them was judged");
    program_says("fields_lost");
    program_says("\"repeated\": 20");
}

/* Steps that were owed when it went are shown again, and the run goes on with them. */
static void comes_back(void **state) {
    (void)state;
    prepare(STANDARD_NTSC);
    trouble(0, TROUBLE_UNPLUG, EARLY, 120);
    plug("wait = 30");
    run(EXIT_PASS);
    program_says("\"gone\": 1");
    program_says("The video device went away 1 time and came back");
    program_says_not("fields_swapped");
}

static void comes_back_to_a_fault(void **state) {
    (void)state;
    model_only();
    prepare(STANDARD_NTSC);
    add_fault("bit-high=PF2.0");
    trouble(0, TROUBLE_UNPLUG, EARLY, 120);
    plug("wait = 30");
    run(EXIT_FAIL);
    program_says("bit_stuck_high: PF2 D0");
}

static void lost_for_good(void **state) {
    (void)state;
    prepare(STANDARD_NTSC);
    trouble(0, TROUBLE_UNPLUG, EARLY, FOR_EVER);
    plug("wait = 2");
    run(EXIT_BENCH);
    program_says(device.node);
    program_says("went away");
}

static void no_signal(void **state) {
    (void)state;
    model_only();
    prepare(STANDARD_NTSC);
    device.no_signal = true;
    plug("");
    run(EXIT_INCONCLUSIVE);
    program_says("\"verdict\": \"inconclusive\"");
}

/* The device is there, but gives no more. */
static void stuck(void **state) {
    (void)state;
    model_only();
    prepare(STANDARD_NTSC);
    trouble(0, TROUBLE_STUCK, EARLY, FOR_EVER);
    plug("wait = 2");
    run(EXIT_INCONCLUSIVE);
    program_says("\"verdict\": \"inconclusive\"");
}

static void no_device(void **state) {
    (void)state;
    model_only();
    prepare(STANDARD_NTSC);
    plug("");
    snprintf(device.node, sizeof device.node, "/dev/video7");
    write_bench("");
    run(EXIT_BENCH);
    program_says("/dev/video7");
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(passes, end),
        cmocka_unit_test_teardown(flashes_where_people_have_agreed, end),
        cmocka_unit_test_teardown(passes_on_pal_by_mjpeg, end),
        cmocka_unit_test_teardown(fails_by_name, end),
        cmocka_unit_test_teardown(damage_is_no_failure, end),
        cmocka_unit_test_teardown(comes_back, end),
        cmocka_unit_test_teardown(comes_back_to_a_fault, end),
        cmocka_unit_test_teardown(lost_for_good, end),
        cmocka_unit_test_teardown(no_signal, end),
        cmocka_unit_test_teardown(stuck, end),
        cmocka_unit_test_teardown(no_device, end),
    };
    return usb_tests_run(argv, "video_run", tests, sizeof tests / sizeof tests[0]);
}
