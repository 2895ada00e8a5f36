/* Recordings read back: by ourselves, and by the `ffmpeg` program as the check from outside. */
#include "frames.h"

#include <sys/wait.h>

static bool has_ffmpeg(void) {
    return system("ffmpeg -version >/dev/null 2>&1") == 0;
}

static void read_back(const struct frames *frames, const char *path, enum standard standard) {
    struct problem problem = {0};
    struct video_source source;
    struct frame frame;
    if (!file_open(path, standard, &source, &problem)) {
        fail_msg("open: %s", problem.text);
    }
    for (int i = 0; i < frames->count; i++) {
        assert_int_equal(source.next(source.state, &frame, &problem), NEXT_FRAME);
        assert_int_equal(frame.number, i);
        if (!frames_same(frames, i, &frame)) {
            fail_msg("%s: frame %d differs (seed %d)", path, i, FRAMES_SEED);
        }
    }
    assert_int_equal(source.next(source.state, &frame, &problem), NEXT_END);
    assert_int_equal(source.next(source.state, &frame, &problem), NEXT_END);
    source.close(source.state);
}

static void round_trip(const char *name, int width, int height, enum standard standard) {
    struct folder folder;
    struct frames frames;
    char path[NAME_SIZE];
    folder_make(&folder);
    frames_make(&frames, width, height, 4);
    frames_record(&frames, folder_name(&folder, name, path), standard);
    assert_int_equal(folder_count(&folder, false), 1);
    read_back(&frames, path, standard);
    frames_free(&frames);
    folder_remove(&folder);
}

static void test_round_trip(void **state) {
    (void)state;
    round_trip("a.mkv", 720, 480, STANDARD_NTSC);
    round_trip("a.mkv", 720, 576, STANDARD_PAL);
    round_trip("a.mkv", 64, 48, STANDARD_NTSC);
    round_trip("a%02d.MKV", 64, 48, STANDARD_NTSC);
    round_trip("a.y4m", 720, 480, STANDARD_NTSC);
    round_trip("a.y4m", 720, 576, STANDARD_SECAM);
    round_trip("a.raw", 720, 480, STANDARD_NTSC);
    round_trip("a.yuv", 720, 576, STANDARD_PAL);
}

/* The bare file is the frames one after the other, byte for byte. */
static void test_raw_bytes(void **state) {
    (void)state;
    struct folder folder;
    struct frames frames;
    char path[NAME_SIZE];
    size_t size = 0;
    folder_make(&folder);
    frames_make(&frames, 720, 480, 2);
    frames_record(&frames, folder_name(&folder, "a.yuv", path), STANDARD_NTSC);
    uint8_t *bytes = file_read(path, &size);
    assert_int_equal(size, 2 * frames.size);
    assert_memory_equal(bytes, frames.bytes[0], frames.size);
    assert_memory_equal(bytes + frames.size, frames.bytes[1], frames.size);
    free(bytes);
    frames_free(&frames);
    folder_remove(&folder);
}

/* Planar 4:2:2 as `ffmpeg` decodes it, against the packed original. */
static void compare_planar(const struct frames *frames, const uint8_t *planar) {
    size_t pixels = frames->size / 2;
    for (int i = 0; i < frames->count; i++) {
        const uint8_t *y = planar + (size_t)i * frames->size;
        const uint8_t *cb = y + pixels;
        const uint8_t *cr = cb + pixels / 2;
        for (size_t k = 0; k < pixels / 2; k++) {
            const uint8_t *packed = frames->bytes[i] + 4 * k;
            if (packed[0] != y[2 * k] || packed[1] != cb[k] || packed[2] != y[2 * k + 1] ||
                packed[3] != cr[k]) {
                fail_msg("frame %d, pair %zu of samples differs (seed %d)", i, k, FRAMES_SEED);
            }
        }
    }
}

static void outside(const char *name, int width, int height, enum standard standard) {
    struct folder folder;
    struct frames frames;
    char path[NAME_SIZE], out[NAME_SIZE], command[COMMAND_SIZE];
    size_t size = 0;
    folder_make(&folder);
    frames_make(&frames, width, height, 3);
    frames_record(&frames, folder_name(&folder, name, path), standard);
    folder_name(&folder, "out", out);
    snprintf(command, sizeof command,
             "ffmpeg -nostdin -v error -xerror -i %s -fps_mode passthrough -f rawvideo -pix_fmt yuv422p %s",
             path, out);
    assert_int_equal(system(command), 0);
    uint8_t *bytes = file_read(out, &size);
    assert_int_equal(size, 3 * frames.size);
    compare_planar(&frames, bytes);
    free(bytes);
    frames_free(&frames);
    folder_remove(&folder);
}

static void test_outside_reads(void **state) {
    (void)state;
    if (!has_ffmpeg()) {
        print_message("no `ffmpeg` program: the check from outside is left out\n");
        skip();
    }
    outside("a.mkv", 720, 480, STANDARD_NTSC);
    outside("a.mkv", 720, 576, STANDARD_PAL);
    outside("a.y4m", 720, 480, STANDARD_NTSC);
}

/* What `ffprobe` says of the stream: codec, rate, and which field comes first. */
static void probe(enum standard standard, int height, const char *expected) {
    struct folder folder;
    struct frames frames;
    char path[NAME_SIZE], command[COMMAND_SIZE], text[256] = "";
    folder_make(&folder);
    frames_make(&frames, 720, height, 1);
    frames_record(&frames, folder_name(&folder, "a.mkv", path), standard);
    snprintf(command, sizeof command,
             "ffprobe -v error -show_entries stream=codec_name,pix_fmt,field_order,r_frame_rate "
             "-of csv=p=0 %s",
             path);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    assert_non_null(fgets(text, sizeof text, pipe));
    pclose(pipe);
    text[strcspn(text, "\n")] = '\0';
    assert_string_equal(text, expected);
    frames_free(&frames);
    folder_remove(&folder);
}

static void test_outside_probes(void **state) {
    (void)state;
    if (!has_ffmpeg()) {
        print_message("no `ffmpeg` program: the check from outside is left out\n");
        skip();
    }
    probe(STANDARD_NTSC, 480, "ffv1,yuv422p,bb,30000/1001");
    probe(STANDARD_PAL, 576, "ffv1,yuv422p,tt,25/1");
    probe(STANDARD_PAL, 288, "ffv1,yuv422p,progressive,25/1");
}

/* The original as `ffmpeg` stores it with another arrangement of samples; largest error of luma and, where
 * the arrangement keeps all of it, of chroma. */
static void foreign(const char *arguments, const char *name, int luma_error, bool has_all_chroma) {
    struct folder folder;
    struct frames frames;
    char raw[NAME_SIZE], path[NAME_SIZE], command[COMMAND_SIZE];
    struct problem problem = {0};
    struct video_source source;
    struct frame frame;
    folder_make(&folder);
    frames_make(&frames, 720, 480, 2);
    frames_record(&frames, folder_name(&folder, "a.raw", raw), STANDARD_NTSC);
    folder_name(&folder, name, path);
    snprintf(command, sizeof command,
             "ffmpeg -nostdin -v error -f rawvideo -video_size 720x480 -pixel_format yuyv422 -i %s %s %s",
             raw, arguments, path);
    assert_int_equal(system(command), 0);
    if (!file_open(path, STANDARD_NTSC, &source, &problem)) {
        fail_msg("%s (%s): %s", name, arguments, problem.text);
    }
    for (int i = 0; i < 2; i++) {
        assert_int_equal(source.next(source.state, &frame, &problem), NEXT_FRAME);
        for (int k = 0; k < 720 * 480; k += 11) {
            int seen = plane_at(&frame.y, k % 720, k / 720);
            if (abs(seen - frames.bytes[i][2 * k]) > luma_error) {
                fail_msg("%s: frame %d sample %d: %d, not %d", arguments, i, k, seen, frames.bytes[i][2 * k]);
            }
        }
        assert_true(!has_all_chroma || frames_same(&frames, i, &frame));
    }
    assert_int_equal(source.next(source.state, &frame, &problem), NEXT_END);
    source.close(source.state);
    frames_free(&frames);
    folder_remove(&folder);
}

static void test_arrangements(void **state) {
    (void)state;
    if (!has_ffmpeg()) {
        print_message("no `ffmpeg` program: files from elsewhere are left out\n");
        skip();
    }
    foreign("-c:v rawvideo -pix_fmt yuyv422", "a.nut", 0, true);
    foreign("-c:v rawvideo -pix_fmt uyvy422", "a.nut", 0, true);
    foreign("-c:v rawvideo -pix_fmt yuv422p", "a.avi", 0, true);
    foreign("-c:v rawvideo -pix_fmt nv12", "a.nut", 0, false);
    foreign("-c:v ffv1 -pix_fmt yuv420p", "a.mkv", 0, false);
    foreign("-c:v ffv1 -pix_fmt yuv444p", "a.mkv", 0, false);
    foreign("-c:v ffv1 -pix_fmt yuv422p10le", "a.mkv", 1, false); /* goes through the scaler */
}

static void test_gray_has_no_chroma(void **state) {
    (void)state;
    if (!has_ffmpeg()) {
        skip();
    }
    struct folder folder;
    char path[NAME_SIZE], command[COMMAND_SIZE];
    struct problem problem = {0};
    struct video_source source;
    struct frame frame;
    folder_make(&folder);
    snprintf(command, sizeof command,
             "ffmpeg -nostdin -v error -f lavfi -i color=white:s=64x48 -frames:v 1 -pix_fmt gray %s",
             folder_name(&folder, "a.png", path));
    assert_int_equal(system(command), 0);
    if (!file_open(path, STANDARD_NTSC, &source, &problem)) {
        fail_msg("%s", problem.text);
    }
    assert_int_equal(source.next(source.state, &frame, &problem), NEXT_FRAME);
    assert_null(frame.cb.data);
    assert_null(frame.cr.data);
    assert_int_equal(frame.width, 64);
    source.close(source.state);
    folder_remove(&folder);
}

/* The same frames give the same bytes, so that a record can be compared. */
static void test_reproducible(void **state) {
    (void)state;
    struct folder folder;
    struct frames frames;
    char first[NAME_SIZE], second[NAME_SIZE];
    size_t size = 0, size2 = 0;
    folder_make(&folder);
    frames_make(&frames, 64, 48, 3);
    frames_record(&frames, folder_name(&folder, "a.mkv", first), STANDARD_NTSC);
    frames_record(&frames, folder_name(&folder, "b.mkv", second), STANDARD_NTSC);
    uint8_t *bytes = file_read(first, &size);
    uint8_t *bytes2 = file_read(second, &size2);
    assert_int_equal(size, size2);
    assert_memory_equal(bytes, bytes2, size);
    free(bytes);
    free(bytes2);
    frames_free(&frames);
    folder_remove(&folder);
}

/* 4:2:0 and grey frames, as failing fields of a foreign file are kept: luma stays exact. */
static void test_other_frames_written(void **state) {
    (void)state;
    struct folder folder;
    struct problem problem = {0};
    struct video_sink sink;
    struct video_source source;
    struct frame frame;
    char path[NAME_SIZE];
    static uint8_t luma[48][64], chroma[24][32];
    folder_make(&folder);
    for (int i = 0; i < 48 * 64; i++) {
        luma[i / 64][i % 64] = (uint8_t)(i * 31);
        chroma[i / 128][i % 32] = (uint8_t)(i % 32 + 3 * (i / 128));
    }
    struct frame given = {.width = 64,
                          .height = 48,
                          .y = {luma[0], 64, 1},
                          .cb = {chroma[0], 32, 1},
                          .cr = {chroma[0], 32, 1},
                          .chroma_x = 1,
                          .chroma_y = 1};
    struct frame grey = {.width = 64, .height = 48, .y = {luma[0], 64, 1}};
    assert_true(
        video_create_file(folder_name(&folder, "a.mkv", path), 64, 48, STANDARD_NTSC, &sink, &problem));
    assert_true(sink.write(sink.state, &given, &problem));
    assert_true(sink.write(sink.state, &grey, &problem));
    assert_true(sink.finish(sink.state, &problem));
    sink.close(sink.state);
    assert_true(file_open(path, STANDARD_NTSC, &source, &problem));
    for (int i = 0; i < 2; i++) {
        assert_int_equal(source.next(source.state, &frame, &problem), NEXT_FRAME);
        for (int y = 0; y < 48; y++) {
            for (int x = 0; x < 64; x++) {
                assert_int_equal(plane_at(&frame.y, x, y), luma[y][x]);
                assert_int_equal(plane_at(&frame.cb, x / 2, y), i == 0 ? chroma[y / 2][x / 2] : 128);
            }
        }
    }
    source.close(source.state);
    folder_remove(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_round_trip),    cmocka_unit_test(test_raw_bytes),
        cmocka_unit_test(test_outside_reads), cmocka_unit_test(test_outside_probes),
        cmocka_unit_test(test_arrangements),  cmocka_unit_test(test_gray_has_no_chroma),
        cmocka_unit_test(test_reproducible),  cmocka_unit_test(test_other_frames_written),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
