/* Y4M is read without FFmpeg; FFmpeg's own reader of another container is the check from outside. */
#include "frames.h"

#include "capture/blocks.h"

enum { PICTURES = 3 };

static void make(const char *pixel, const char *size, const char *path) {
    char command[COMMAND_SIZE];
    snprintf(command, sizeof command,
             "ffmpeg -nostdin -v error -f lavfi -i testsrc2=size=%s:rate=30000/1001 -frames:v %d -strict -1 "
             "-c:v %s -pix_fmt %s %s",
             size, PICTURES, strstr(path, ".y4m") != NULL ? "wrapped_avframe" : "rawvideo", pixel, path);
    assert_int_equal(system(command), 0);
}

static void open_it(const char *path, struct video_source *source) {
    struct problem problem = {0};
    if (!file_open(path, STANDARD_NTSC, source, &problem)) {
        fail_msg("%s", problem.text);
    }
}

/* The same pictures out of both, sample for sample. */
static void compare(const char *pixel, const char *size) {
    struct folder folder;
    struct video_source mine, other;
    struct video_about about, other_about;
    struct frame frame, other_frame;
    struct problem problem = {0};
    char path[NAME_SIZE], other_path[NAME_SIZE];
    folder_make(&folder);
    make(pixel, size, folder_name(&folder, "a.y4m", path));
    make(pixel, size, folder_name(&folder, "a.nut", other_path));
    open_it(path, &mine);
    open_it(other_path, &other);
    for (int i = 0; i < PICTURES; i++) {
        assert_int_equal(mine.next(mine.state, &frame, &problem), NEXT_FRAME);
        assert_int_equal(other.next(other.state, &other_frame, &problem), NEXT_FRAME);
        if (!frame_same(&frame, &other_frame)) {
            fail_msg("%s %s: frame %d differs", pixel, size, i);
        }
    }
    assert_int_equal(mine.next(mine.state, &frame, &problem), NEXT_END);
    video_tell(&mine, &about, NULL);
    video_tell(&other, &other_about, NULL);
    assert_string_equal(about.format, other_about.format);
    assert_float_equal(about.rate, other_about.rate, 0.001);
    mine.close(mine.state);
    other.close(other.state);
    folder_remove(&folder);
}

static void test_kinds(void **state) {
    (void)state;
    if (system("ffmpeg -version >/dev/null 2>&1") != 0) {
        print_message("no `ffmpeg` program: files from elsewhere are left out\n");
        skip();
    }
    compare("yuv420p", "320x240");
    compare("yuv420p", "321x243");
    compare("yuv422p", "321x243");
    compare("yuv444p", "64x48");
    compare("gray", "64x48");
    compare("yuv420p10le", "64x48"); /* is left to FFmpeg */
}

/* Words behind FRAME, which the format allows, and something else in its place. */
static void test_marks(void **state) {
    (void)state;
    static const char text[] =
        "YUV4MPEG2 W4 H2 F30:1 Ip Cmono\nFRAME\n00001111FRAME Ib XA=B\n22223333FRAME\n44445555"
        "GARBAGE\n66667777";
    struct folder folder;
    struct video_source source;
    struct frame frame;
    struct problem problem = {0};
    char path[NAME_SIZE];
    folder_make(&folder);
    file_write(folder_name(&folder, "a.y4m", path), text, sizeof text - 1);
    open_it(path, &source);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(source.next(source.state, &frame, &problem), NEXT_FRAME);
        assert_int_equal(plane_at(&frame.y, 0, 0), '0' + 2 * i);
        assert_int_equal(plane_at(&frame.y, 3, 1), '1' + 2 * i);
        assert_null(frame.cb.data);
    }
    assert_int_equal(source.next(source.state, &frame, &problem), NEXT_ERROR);
    assert_non_null(strstr(problem.text, "where frame 3 should begin"));
    source.close(source.state);
    folder_remove(&folder);
}

/* Frames that repeat are counted, also in files; two that differ in a single sample do not repeat. */
static void test_repeats(void **state) {
    (void)state;
    struct folder folder;
    struct frames frames;
    struct video_source source;
    struct video_counts counts;
    struct problem problem = {0};
    struct frame frame;
    char path[NAME_SIZE];
    static const char *const names[] = {"a.raw", "a.y4m", "a.mkv"};
    for (size_t k = 0; k < sizeof names / sizeof names[0]; k++) {
        folder_make(&folder);
        frames_make(&frames, 720, 480, 6);
        memcpy(frames.bytes[1], frames.bytes[0], frames.size);
        memcpy(frames.bytes[2], frames.bytes[0], frames.size);
        frames.bytes[2][720 * 2 * 241 + 11] ^= 1; /* a Cr of some line */
        memcpy(frames.bytes[4], frames.bytes[3], frames.size);
        frames_record(&frames, folder_name(&folder, names[k], path), STANDARD_NTSC);
        open_it(path, &source);
        while (source.next(source.state, &frame, &problem) == NEXT_FRAME) {
        }
        video_tell(&source, NULL, &counts);
        assert_int_equal(counts.delivered, 6);
        assert_int_equal(counts.repeated, 2);
        source.close(source.state);
        frames_free(&frames);
        folder_remove(&folder);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_kinds),
        cmocka_unit_test(test_marks),
        cmocka_unit_test(test_repeats),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
