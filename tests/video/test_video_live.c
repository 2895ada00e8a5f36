/*
 * Live devices as video_open() reads them, on the stage's grabber: how it is set up, what is counted, what is
 * told apart. Of what a kernel does, the emulated V4L2 is a model; `make check-kernel` runs the same tests on
 * a real one, where only what a driver lets through can be asked for.
 */
#include "usb/start.h"
#include "video/live.h"

#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { SOME = 20, PATIENCE = 20 /* times VIDEO_WAIT_MS: 10 s */ };

static struct video_rig rig;
static struct video_source live;
static struct problem problem;

static int end(void **state) {
    (void)state;
    if (live.close != NULL) {
        live.close(live.state);
        live = (struct video_source){0};
    }
    video_rig_end(&rig);
    return 0;
}

static void prepare(enum standard standard) {
    video_rig_prepare(&rig, standard);
    memset(&problem, 0, sizeof problem);
}

static void plug(void) {
    if (!video_rig_start(&rig, NULL)) {
        fail_msg("%s", rig.problem.text);
    }
}

static void open_as(const struct video_request *request) {
    if (!video_open(request, &live, &problem)) {
        live = (struct video_source){0};
        fail_msg("%s", problem.text);
    }
}

static void plug_and_open(void) {
    plug();
    const struct video_request request = live_request(&rig);
    open_as(&request);
}

static void trouble(int index, enum trouble_kind kind, uint64_t at, uint64_t count) {
    rig.device.feed.troubles[index] = (struct trouble){kind, at, count};
}

static struct live_tally read_some(int frames) {
    return live_read(&live, frames, PATIENCE, &problem);
}

static void analog_only(void) {
    if (!grabber_carrier()->analog) {
        skip();
    }
}

/* uvcvideo drops what is damaged, and its times are those of arrival: nothing to be counted there. Some
 * others are left out since they would take long. */
static void model_only(void) {
    if (!grabber_carrier()->gives_damaged || !grabber_carrier()->keeps_time) {
        skip();
    }
}

static void check_size(int width, int height, const char *format) {
    struct video_about about;
    video_tell(&live, &about, NULL);
    assert_int_equal(about.width, width);
    assert_int_equal(about.height, height);
    assert_string_equal(about.kind, "v4l2");
    assert_string_equal(about.name, rig.device.node);
    assert_true(about.live);
    assert_false(about.untried);
    if (strncmp(about.format, format, strlen(format)) != 0) {
        fail_msg("format '%s', not '%s'", about.format, format);
    }
}

static void set_up(enum standard standard, bool mjpeg, int height) {
    prepare(standard);
    rig.device.mjpeg = mjpeg;
    plug_and_open();
    const struct live_tally tally = read_some(SOME);
    assert_int_equal(tally.frames, SOME);
    assert_int_equal(tally.dark, 0);
    check_size(720, height, mjpeg ? "mjpeg" : "rawvideo yuyv422");
    struct video_about about;
    video_tell(&live, &about, NULL);
    if (grabber_carrier()->analog) {
        assert_string_equal(about.standard, standard == STANDARD_NTSC ? "NTSC" : "PAL");
    }
}

/* Each is found at the other standard, and so at the other's size. */
static void ntsc_yuyv(void **state) {
    (void)state;
    set_up(STANDARD_NTSC, false, 480);
}

static void pal_yuyv(void **state) {
    (void)state;
    model_only();
    set_up(STANDARD_PAL, false, 576);
}

static void ntsc_mjpeg(void **state) {
    (void)state;
    model_only();
    set_up(STANDARD_NTSC, true, 480);
}

static void pal_mjpeg(void **state) {
    (void)state;
    set_up(STANDARD_PAL, true, 576);
}

static void inputs_by_name_and_number(void **state) {
    (void)state;
    analog_only();
    static const char *const names[] = {"S-Video", "1"};
    for (int i = 0; i < 2; i++) {
        prepare(STANDARD_NTSC);
        rig.device.cable = INPUT_SVIDEO;
        plug();
        struct video_request request = live_request(&rig);
        request.input = names[i];
        open_as(&request);
        assert_int_equal(read_some(SOME).dark, 0);
        struct video_about about;
        video_tell(&live, &about, NULL);
        assert_string_equal(about.input, "S-Video");
        end(NULL);
    }
}

static void unknown_input(void **state) {
    (void)state;
    analog_only();
    prepare(STANDARD_NTSC);
    plug();
    struct video_request request = live_request(&rig);
    request.input = "Scart";
    assert_false(video_open(&request, &live, &problem));
    live = (struct video_source){0};
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_non_null(strstr(problem.text, "Scart"));
    assert_non_null(strstr(problem.text, "S-Video"));
}

/* The cable is in another input: the device streams on, dark, and nothing is wrong with it. */
static void dark_input(void **state) {
    (void)state;
    analog_only();
    prepare(STANDARD_NTSC);
    rig.device.cable = INPUT_SVIDEO;
    plug_and_open();
    const struct live_tally tally = read_some(SOME);
    assert_int_equal(tally.frames, SOME);
    assert_int_equal(tally.dark, SOME);
}

static void tuner(void **state) {
    (void)state;
    analog_only();
    prepare(STANDARD_NTSC);
    rig.device.cable = INPUT_TUNER;
    rig.device.channel_mhz = 61.25; /* the picture carrier of channel 3, 60 to 66 MHz [S ATSC A/65, NTSC] */
    plug();
    struct video_request request = live_request(&rig);
    request.input = "Television";
    request.frequency_mhz = 67.25;
    open_as(&request);
    assert_int_equal(read_some(SOME).dark, SOME);
    live.close(live.state);
    request.frequency_mhz = 61.25;
    open_as(&request);
    assert_int_equal(read_some(SOME).dark, 0);
}

static void frequency_without_tuner(void **state) {
    (void)state;
    analog_only();
    prepare(STANDARD_NTSC);
    plug();
    struct video_request request = live_request(&rig);
    request.frequency_mhz = 61.25;
    assert_false(video_open(&request, &live, &problem));
    live = (struct video_source){0};
    assert_int_equal(problem.kind, PROBLEM_INPUT);
}

static void counts_damage(void **state) {
    (void)state;
    prepare(STANDARD_NTSC);
    trouble(0, TROUBLE_SHORT, 4, 2);
    trouble(1, TROUBLE_MARKED, 8, 3);
    trouble(2, TROUBLE_EMPTY, 13, 1);
    plug_and_open();
    assert_int_equal(read_some(2 * SOME).frames, 2 * SOME);
    struct video_counts counts;
    video_tell(&live, NULL, &counts);
    if (grabber_carrier()->gives_damaged) {
        /* FFmpeg gives each of them up as an empty packet; which is which, only its log says. */
        assert_int_equal(counts.broken + counts.empty, 2 + 3 + 1);
        assert_int_equal(counts.lost, 0);
    }
    assert_int_equal(counts.delivered, 2 * SOME);
    assert_int_equal(counts.gone, 0);
}

static void counts_damaged_mjpeg(void **state) {
    (void)state;
    model_only();
    prepare(STANDARD_NTSC);
    rig.device.mjpeg = true;
    trouble(0, TROUBLE_SHORT, 4, 2);
    trouble(1, TROUBLE_EMPTY, 13, 1);
    plug_and_open();
    assert_int_equal(read_some(2 * SOME).frames, 2 * SOME);
    struct video_counts counts;
    video_tell(&live, NULL, &counts);
    assert_int_equal(counts.broken + counts.empty, 2 + 1);
    assert_int_equal(counts.gone, 0);
}

/* Gaps in the device's own times. One of more than a second is a picture that was away. */
static void counts_gaps(void **state) {
    (void)state;
    model_only();
    prepare(STANDARD_NTSC);
    trouble(0, TROUBLE_GAP, 40, 3);
    trouble(1, TROUBLE_GAP, 50, 1);
    trouble(2, TROUBLE_GAP, 55, 40);
    plug_and_open();
    assert_int_equal(read_some(60).frames, 60);
    struct video_counts counts;
    video_tell(&live, NULL, &counts);
    assert_int_equal(counts.lost, 4);
    assert_int_equal(counts.broken + counts.empty, 0);
}

static void counts_repeats(void **state) {
    (void)state;
    model_only();
    prepare(STANDARD_NTSC);
    trouble(0, TROUBLE_REPEAT, 10, 5);
    plug_and_open();
    assert_int_equal(read_some(2 * SOME).frames, 2 * SOME);
    struct video_counts counts;
    video_tell(&live, NULL, &counts);
    assert_int_equal(counts.repeated, 5);
    assert_int_equal(counts.lost, 0);
}

/* The queue is bounded, and what did not fit is counted: the reader sleeps for longer than it lasts. */
static void counts_overrun(void **state) {
    (void)state;
    model_only();
    prepare(STANDARD_NTSC);
    plug_and_open();
    assert_int_equal(read_some(5).frames, 5);
    const uint64_t before = feed_wanted(rig.device.running);
    for (int ms = 0; ms < 20000 && feed_wanted(rig.device.running) < before + 100; ms += 20) {
        usleep(20000);
    }
    assert_int_equal(read_some(SOME).frames, SOME);
    struct video_counts counts;
    video_tell(&live, NULL, &counts);
    assert_true(counts.overrun > 0);
    assert_true(counts.delivered == 5 + SOME);
}

static void stuck(void **state) {
    (void)state;
    prepare(STANDARD_NTSC);
    trouble(0, TROUBLE_STUCK, 10, FOR_EVER);
    plug_and_open();
    const struct live_tally tally = live_read(&live, SOME, 3, &problem);
    assert_in_range(tally.frames, grabber_carrier()->keeps_time ? 10 : 1, 10);
    assert_int_equal(tally.last, NEXT_NOTHING);
    live.close(live.state);
    const struct video_request request = live_request(&rig);
    open_as(&request); /* it was let go: nobody waits in the driver */
}

static void unplugged_for_good(void **state) {
    (void)state;
    prepare(STANDARD_NTSC);
    trouble(0, TROUBLE_UNPLUG, 10, FOR_EVER);
    plug_and_open();
    const struct live_tally tally = read_some(2 * SOME);
    assert_int_equal(tally.last, NEXT_GONE);
    assert_in_range(tally.frames, 1, 10); /* what is still in the driver's hands goes with it */
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    assert_non_null(strstr(problem.text, rig.device.node));
}

static void unplugged_and_back(void **state) {
    (void)state;
    prepare(STANDARD_NTSC);
    trouble(0, TROUBLE_UNPLUG, 10, 60);
    plug();
    struct video_request request = live_request(&rig);
    request.wait_s = 30;
    open_as(&request);
    const struct live_tally tally = live_read(&live, 2 * SOME, 60, &problem);
    assert_int_equal(tally.frames, 2 * SOME);
    assert_int_equal(tally.dark, 0);
    struct video_counts counts;
    video_tell(&live, NULL, &counts);
    assert_int_equal(counts.gone, 1);
    check_size(720, 480, "rawvideo yuyv422");
}

static void waits_no_longer_than_told(void **state) {
    (void)state;
    model_only();
    prepare(STANDARD_NTSC);
    trouble(0, TROUBLE_UNPLUG, 10, FOR_EVER);
    plug();
    struct video_request request = live_request(&rig);
    request.wait_s = 1;
    open_as(&request);
    const struct live_tally tally = read_some(2 * SOME);
    assert_int_equal(tally.last, NEXT_GONE);
    assert_true(tally.nothing > 0);
    assert_non_null(strstr(problem.text, "1 s"));
}

static void no_such_device(void **state) {
    (void)state;
    prepare(STANDARD_NTSC);
    const struct video_request request = {.where = "v4l2:/dev/video7", .standard = STANDARD_NTSC};
    assert_false(video_open(&request, &live, &problem));
    live = (struct video_source){0};
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    assert_non_null(strstr(problem.text, "/dev/video7"));
}

static void busy(void **state) {
    (void)state;
    prepare(STANDARD_NTSC);
    plug_and_open();
    assert_int_equal(read_some(2).frames, 2);
    struct video_source second;
    const struct video_request request = live_request(&rig);
    assert_false(video_open(&request, &second, &problem));
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    assert_non_null(strstr(problem.text, "busy"));
    assert_int_equal(read_some(SOME).frames, SOME); /* the first is none the worse */
}

static void opened_again_at_once(void **state) {
    (void)state;
    prepare(STANDARD_NTSC);
    plug();
    const struct video_request request = live_request(&rig);
    for (int i = 0; i < 3; i++) {
        open_as(&request);
        assert_int_equal(read_some(3).frames, 3);
        live.close(live.state);
        live = (struct video_source){0};
    }
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(ntsc_yuyv, end),
        cmocka_unit_test_teardown(pal_yuyv, end),
        cmocka_unit_test_teardown(ntsc_mjpeg, end),
        cmocka_unit_test_teardown(pal_mjpeg, end),
        cmocka_unit_test_teardown(inputs_by_name_and_number, end),
        cmocka_unit_test_teardown(unknown_input, end),
        cmocka_unit_test_teardown(dark_input, end),
        cmocka_unit_test_teardown(tuner, end),
        cmocka_unit_test_teardown(frequency_without_tuner, end),
        cmocka_unit_test_teardown(counts_damage, end),
        cmocka_unit_test_teardown(counts_damaged_mjpeg, end),
        cmocka_unit_test_teardown(counts_gaps, end),
        cmocka_unit_test_teardown(counts_repeats, end),
        cmocka_unit_test_teardown(counts_overrun, end),
        cmocka_unit_test_teardown(stuck, end),
        cmocka_unit_test_teardown(unplugged_for_good, end),
        cmocka_unit_test_teardown(unplugged_and_back, end),
        cmocka_unit_test_teardown(waits_no_longer_than_told, end),
        cmocka_unit_test_teardown(no_such_device, end),
        cmocka_unit_test_teardown(busy, end),
        cmocka_unit_test_teardown(opened_again_at_once, end),
    };
    return usb_tests_run(argv, "video_live", tests, sizeof tests / sizeof tests[0]);
}
