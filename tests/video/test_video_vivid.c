/*
 * A real kernel's analog grabber: vivid, which draws its own pictures but switches inputs, standards and
 * sizes as drivers of analog grabbers do. What the emulated V4L2 was made to do, it must do too.
 */
#include "commands/loop.h"
#include "commands/program.h"
#include "video/node.h"

#include <fcntl.h>
#include <linux/videodev2.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <cmocka.h>

enum { SOME = 5 };

static char node[32], where[40];
static struct video_source live;
static struct problem problem;

/* As a user before us may have left it. */
static void leave_at(v4l2_std_id standard) {
    int file = open(node, O_RDWR | O_CLOEXEC), input = 0;
    assert_true(file >= 0);
    assert_int_equal(ioctl(file, VIDIOC_S_INPUT, &input), 0);
    assert_int_equal(ioctl(file, VIDIOC_S_STD, &standard), 0);
    struct v4l2_format format = {.type = V4L2_BUF_TYPE_VIDEO_CAPTURE};
    assert_int_equal(ioctl(file, VIDIOC_G_FMT, &format), 0);
    assert_int_equal(format.fmt.pix.height, standard == V4L2_STD_NTSC ? 480 : 576);
    close(file);
}

static int end(void **state) {
    (void)state;
    if (live.close != NULL) {
        live.close(live.state);
    }
    live = (struct video_source){0};
    problem = (struct problem){0};
    return 0;
}

static void read_some(const struct video_request *request, int height) {
    struct frame frame;
    int frames = 0;
    if (!video_open(request, &live, &problem)) {
        fail_msg("%s", problem.text);
    }
    for (int i = 0; i < 20 * SOME && frames < SOME; i++) {
        const enum next next = live.next(live.state, &frame, &problem);
        assert_true(next == NEXT_FRAME || next == NEXT_NOTHING);
        frames += next == NEXT_FRAME;
    }
    assert_int_equal(frames, SOME);
    assert_int_equal(frame.width, 720);
    assert_int_equal(frame.height, height);
}

static void check_standard(const char *name) {
    struct video_about about;
    video_tell(&live, &about, NULL);
    assert_string_equal(about.standard, name);
}

/* FFmpeg's own order fails with the words that it has for the emulated V4L2, too. */
static void ffmpeg_sets_the_standard_too_late(void **state) {
    (void)state;
    char line[300];
    leave_at(V4L2_STD_PAL);
    snprintf(line, sizeof line,
             "ffmpeg -nostdin -hide_banner -v warning -f v4l2 -input_format yuyv422 -standard NTSC -i %s "
             "-frames:v 2 "
             "-f framemd5 -",
             node);
    assert_int_not_equal(program_line(60, line), 0);
    program_says("buf_len[0] = 691200 < expected frame size 829440");
}

static void ntsc_on_one_left_at_pal(void **state) {
    (void)state;
    leave_at(V4L2_STD_PAL);
    read_some(&(struct video_request){.where = where, .standard = STANDARD_NTSC}, 480);
    check_standard("NTSC");
}

static void pal_on_one_left_at_ntsc(void **state) {
    (void)state;
    leave_at(V4L2_STD_NTSC);
    read_some(&(struct video_request){.where = where, .standard = STANDARD_PAL}, 576);
    check_standard("PAL");
}

static void input_by_number(void **state) {
    (void)state;
    struct video_about about;
    leave_at(V4L2_STD_PAL);
    read_some(&(struct video_request){.where = where, .standard = STANDARD_NTSC, .input = "1"}, 480);
    video_tell(&live, &about, NULL);
    assert_int_equal(strncmp(about.input, "S-Video", 7), 0);
}

static void frequency(void **state) {
    (void)state;
    struct video_request request = {
        .where = where, .standard = STANDARD_NTSC, .input = "0", .frequency_mhz = 61.25};
    leave_at(V4L2_STD_PAL);
    read_some(&request, 480);
    end(NULL);
    request.frequency_mhz = 5000;
    assert_false(video_open(&request, &live, &problem));
    live = (struct video_source){0};
    assert_int_equal(problem.kind, PROBLEM_INPUT);
}

/* Its bars are no console's: no slate, so nothing can be said of one. */
static void bars_are_inconclusive(void **state) {
    (void)state;
    struct loop loop = {0};
    const struct rom_options rom = {.hold = LOOP_HOLD};
    const struct video_request request = {.where = where, .standard = STANDARD_NTSC};
    leave_at(V4L2_STD_NTSC);
    if (!plan_open("bits", STANDARD_NTSC, &loop.plan, &loop.problem) ||
        !rom_build(loop.plan, &rom, &loop.image, &loop.problem) ||
        !video_open(&request, &loop.source, &loop.problem)) {
        fail_msg("%s", loop.problem.text);
    }
    loop.session = (struct session){.plan = loop.plan, .hash = loop.image->hash, .hold = 1, .silence_s = 10};
    const bool ran = session_run(&loop.session, &loop.source, &loop.problem);
    const enum verdict verdict = loop.session.result != NULL ? loop.session.result->verdict : VERDICT_FAIL;
    loop_end(&loop);
    assert_true(ran);
    assert_int_equal(verdict, VERDICT_INCONCLUSIVE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(ffmpeg_sets_the_standard_too_late, end),
        cmocka_unit_test_teardown(ntsc_on_one_left_at_pal, end),
        cmocka_unit_test_teardown(pal_on_one_left_at_ntsc, end),
        cmocka_unit_test_teardown(input_by_number, end),
        cmocka_unit_test_teardown(frequency, end),
        cmocka_unit_test_teardown(bars_are_inconclusive, end),
    };
    const size_t count = sizeof tests / sizeof tests[0];
    if (!video_node("vivid", node, sizeof node)) {
        /* As tests/run counts it. */
        printf(
            "[  SKIPPED ] %zu test(s)\n[  SKIPPED ] video_vivid: no vivid here; `make check-kernel` has it\n",
            count);
        return 0;
    }
    snprintf(where, sizeof where, "v4l2:%s", node);
    return _cmocka_run_group_tests("video_vivid", tests, count, NULL, NULL);
}
