/* A device of libavdevice that is on every machine: pictures made by FFmpeg itself. It goes the way of all
 * devices, but for V4L2's own settings. */
#include "frames.h"

#include <time.h>

enum { TRIES_MAX = 40 };

static bool open_device(const char *where, struct video_source *source, struct problem *problem) {
    struct video_request request = {.where = where, .standard = STANDARD_NTSC};
    return video_open(&request, source, problem);
}

static enum next next_frame(struct video_source *source, struct frame *frame, struct problem *problem) {
    enum next next = NEXT_NOTHING;
    for (int i = 0; i < TRIES_MAX && next == NEXT_NOTHING; i++) {
        next = source->next(source->state, frame, problem);
    }
    return next;
}

static void test_delivers(void **state) {
    (void)state;
    struct problem problem = {0};
    struct video_source source;
    struct video_about about;
    struct video_counts counts;
    struct frame frame;
    if (!open_device("lavfi:testsrc2=size=320x240:rate=30,realtime", &source, &problem)) {
        fail_msg("%s", problem.text);
    }
    uint64_t time = 0;
    for (uint64_t i = 0; i < 10; i++) {
        assert_int_equal(next_frame(&source, &frame, &problem), NEXT_FRAME);
        assert_int_equal(frame.width, 320);
        assert_int_equal(frame.height, 240);
        assert_int_equal(frame.number, i);
        assert_true(i == 0 || frame.time_us > time);
        time = frame.time_us;
    }
    video_tell(&source, &about, &counts);
    assert_string_equal(about.kind, "lavfi");
    assert_true(about.live && about.untried);
    assert_int_equal(about.width, 320);
    assert_int_equal(counts.delivered, 10);
    assert_int_equal(counts.repeated, 0);
    assert_int_equal(counts.broken, 0);
    source.close(source.state);
}

/* The end of a device's pictures is told as such, after all of them were given. */
static void test_ends(void **state) {
    (void)state;
    struct problem problem = {0};
    struct video_source source;
    struct frame frame;
    int count = 0;
    assert_true(open_device("lavfi:testsrc2=size=64x48:rate=60:duration=0.1,realtime", &source, &problem));
    while (next_frame(&source, &frame, &problem) == NEXT_FRAME) {
        count++;
    }
    assert_int_equal(count, 6);
    assert_int_equal(source.next(source.state, &frame, &problem), NEXT_END);
    source.close(source.state);
}

static void test_unknown_kind(void **state) {
    (void)state;
    struct problem problem = {0};
    struct video_source source;
    assert_true(video_is_live("nonsense:x"));
    assert_false(open_device("nonsense:x", &source, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_non_null(strstr(problem.text, "v4l2"));
    assert_non_null(strstr(problem.text, "file:"));
    assert_false(open_device("v4l2:", &source, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
}

static void test_no_device(void **state) {
    (void)state;
    struct problem problem = {0};
    struct video_source source;
    assert_false(open_device("v4l2:/dev/no-such-video", &source, &problem));
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    assert_non_null(strstr(problem.text, "/dev/no-such-video"));
    assert_false(open_device("v4l2:/dev/null", &source, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_non_null(strstr(problem.text, "no video device"));
}

static void test_names(void **state) {
    (void)state;
    static const struct {
        const char *where;
        bool live;
    } names[] = {{"a.mkv", false},     {"-", false},     {"pipe:3", false}, {"file:v4l2:x", false},
                 {"v4l2:x", true},     {"./a:b", false}, {":x", false},     {"dshow:video=x", true},
                 {"a b:c.mkv", false}, {"", false}};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        if (video_is_live(names[i].where) != names[i].live) {
            fail_msg("%s", names[i].where);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_delivers),  cmocka_unit_test(test_ends),  cmocka_unit_test(test_unknown_kind),
        cmocka_unit_test(test_no_device), cmocka_unit_test(test_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
