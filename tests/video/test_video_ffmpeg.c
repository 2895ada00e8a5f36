/*
 * The stage's grabber as a program sees it that is not ours: FFmpeg's own command. What holds here holds of
 * the stage; where FFmpeg fails, it fails as it does on a real kernel.
 */
#include "commands/program.h"
#include "usb/start.h"
#include "video/rig.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { FRAMES = 20, SEARCHED = 5000 /* the console runs from when it is switched on */ };

static struct video_rig rig;

static int end(void **state) {
    (void)state;
    video_rig_end(&rig);
    return 0;
}

static void start(void) {
    if (!video_rig_start(&rig, NULL)) {
        fail_msg("%s", rig.problem.text);
    }
}

static int ffmpeg(const char *before, const char *after) {
    char line[1000];
    snprintf(line, sizeof line, "ffmpeg -nostdin -hide_banner -v warning -f v4l2 %s -i %s %s", before,
             rig.device.node, after);
    return program_line(60, line);
}

static void output(char *path, size_t size) {
    const char *folder = getenv("TMPDIR");
    snprintf(path, size, "%s/ffmpeg-%d.yuv", folder != NULL ? folder : "/tmp", (int)getpid());
}

/* How many of the file's frames are the console's, in order: the console anew, frame by frame. Between them
 * some may be lacking where ffmpeg was kept waiting. */
static int frames_alike(FILE *file) {
    struct video_source anew;
    struct frame frame;
    const size_t size = (size_t)(720 * 480 * 2);
    uint8_t *read = malloc(size);
    int alike = 0;
    assert_non_null(read);
    assert_true(virtual_open(&rig.options, rig.image->bytes, rig.image->size, &anew, &rig.problem));
    bool more = fread(read, 1, size, file) == size;
    for (int i = 0; more && i < SEARCHED; i++) {
        assert_int_equal(anew.next(anew.state, &frame, &rig.problem), NEXT_FRAME);
        if (memcmp(frame.y.data, read, size) == 0) {
            alike++;
            more = fread(read, 1, size, file) == size;
        }
    }
    anew.close(anew.state);
    free(read);
    return alike;
}

static void gives_the_consoles_frames(void **state) {
    (void)state;
    char path[600], after[700];
    video_rig_prepare(&rig, STANDARD_NTSC);
    rig.device.stands_at = STANDARD_NTSC;
    start();
    output(path, sizeof path);
    snprintf(after, sizeof after, "-frames:v %d -fps_mode passthrough -f rawvideo -y '%s'", FRAMES, path);
    assert_int_equal(ffmpeg("", after), 0);
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    const int alike = frames_alike(file);
    fclose(file);
    unlink(path);
    assert_int_equal(alike, FRAMES);
}

static void gives_mjpeg(void **state) {
    (void)state;
    video_rig_prepare(&rig, STANDARD_PAL);
    rig.device.stands_at = STANDARD_PAL;
    rig.device.mjpeg = true;
    start();
    assert_int_equal(ffmpeg("", "-frames:v 5 -f framemd5 -"), 0);
    program_says("#dimensions 0: 720x576");
}

/* The size is read before the standard is set: FFmpeg's own way fails the first time on vivid, too. */
static void standard_after_size_fails(void **state) {
    (void)state;
    if (!grabber_carrier()->analog) {
        skip();
    }
    video_rig_prepare(&rig, STANDARD_NTSC);
    start();
    assert_int_not_equal(ffmpeg("-standard NTSC", "-frames:v 5 -f framemd5 -"), 0);
    program_says("buf_len[0] = 691200 < expected frame size 829440");
    assert_int_equal(ffmpeg("-standard NTSC", "-frames:v 5 -f framemd5 -"), 0);
    program_says("#dimensions 0: 720x480");
}

static void damage_shows(void **state) {
    (void)state;
    video_rig_prepare(&rig, STANDARD_NTSC);
    rig.device.stands_at = STANDARD_NTSC;
    const struct trouble troubles[] = {{TROUBLE_SHORT, 3, 1},
                                       {TROUBLE_MARKED, 6, 1},
                                       {TROUBLE_EMPTY, 9, 1},
                                       {TROUBLE_GAP, 12, 3},
                                       {TROUBLE_UNPLUG, 20, FOR_EVER}};
    memcpy(rig.device.feed.troubles, troubles, sizeof troubles);
    start();
    ffmpeg("", "-frames:v 40 -fps_mode passthrough -f framemd5 -");
    program_says("No such device");
    if (grabber_carrier()->gives_damaged) {
        program_says("contains 345600 bytes, but 691200 were expected");
        program_says("contains corrupted data (691200 bytes)");
        program_says("contains 0 bytes, but 691200 were expected");
    }
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(gives_the_consoles_frames, end),
        cmocka_unit_test_teardown(gives_mjpeg, end),
        cmocka_unit_test_teardown(standard_after_size_fails, end),
        cmocka_unit_test_teardown(damage_shows, end),
    };
    return usb_tests_run(argv, "video_ffmpeg", tests, sizeof tests / sizeof tests[0]);
}
