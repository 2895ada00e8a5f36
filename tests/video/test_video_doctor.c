/*
 * A grabber that nobody has set up: doctor finds device, input and standard by looking, and leaves a section
 * with which a run passes; a live device recorded and judged. On the stage's grabber (tests/video/stage.h):
 * an emulated V4L2 is a model of a kernel, `make check-kernel` has a real one.
 */
#include "commands/commands.h"
#include "commands/program.h"
#include "usb/start.h"
#include "video/rig.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static struct video_rig rig;
static char folder[400], file[440];

static void prepare(enum standard standard) {
    const char *temporary = getenv("TMPDIR");
    video_rig_prepare(&rig, standard);
    rig.device.feed.speed = 4;
    snprintf(folder, sizeof folder, "%s/video-doctor-XXXXXX", temporary != NULL ? temporary : "/tmp");
    assert_non_null(mkdtemp(folder));
    snprintf(file, sizeof file, "%s/benches.ini", folder);
}

static void plug(void) {
    if (!video_rig_start(&rig, "bits", NULL)) {
        fail_msg("%s", rig.problem.text);
    }
}

static int end(void **state) {
    (void)state;
    char path[460];
    static const char *const names[] = {"benches.ini", "live.mkv", "live.mkv.json"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        unlink(path);
    }
    rmdir(folder);
    video_rig_end(&rig);
    return 0;
}

/* more: options beside those that name the file. */
static void slotjig(int wanted, const char *command, const char *more) {
    char line[1600];
    snprintf(line, sizeof line, "%s --benches '%s' %s", command, file, more);
    program_slotjig(wanted, line);
}

static void section_has(const char *line) {
    char text[2000], wanted[400];
    FILE *section = fopen(file, "r");
    assert_non_null(section);
    text[fread(text, 1, sizeof text - 1, section)] = '\0';
    fclose(section);
    snprintf(wanted, sizeof wanted, "\n%s\n", line);
    if (strstr(text, wanted) == NULL) {
        fail_msg("no line '%s' in:\n%s", line, text);
    }
}

static void finds(enum standard standard, enum grabber_input cable, const char *size) {
    char line[100];
    prepare(standard);
    rig.device.cable = cable;
    plug();
    slotjig(EXIT_PASS, "doctor", "--write --seconds 1");
    program_says("bench console: nothing wrong with the picture");
    section_has("kind = board");
    section_has("board = none");
    snprintf(line, sizeof line, "video = v4l2:%s", rig.device.node);
    section_has(line);
    snprintf(line, sizeof line, "standard = %s", standard_table[standard].name);
    section_has(line);
    section_has(size);
    section_has("pixel = yuyv422");
    if (grabber_carrier()->analog) {
        snprintf(line, sizeof line, "input = %s", grabber_input_names[cable]);
        section_has(line);
    }
    slotjig(EXIT_PASS, "run", "--bench console --plan bits --screen none --json -");
    program_says("\"verdict\": \"pass\"");
    program_says("\"kind\": \"v4l2\"");
}

static void finds_what_stands_right(void **state) {
    (void)state;
    finds(STANDARD_NTSC, INPUT_COMPOSITE, "size = 720x480");
}

/* On an input and a standard at which the device was not found. */
static void finds_by_looking(void **state) {
    (void)state;
    if (!grabber_carrier()->analog) {
        skip();
    }
    finds(STANDARD_PAL, INPUT_SVIDEO, "size = 720x576");
}

static void no_signal(void **state) {
    (void)state;
    prepare(STANDARD_NTSC);
    rig.device.no_signal = true;
    plug();
    slotjig(EXIT_INCONCLUSIVE, "doctor", "--write --seconds 1 --standard ntsc");
    program_says("nothing was written");
    assert_true(access(file, F_OK) != 0);
}

/* A computer that has other things to do may miss fields, so of the verdict only what it must not be. */
static void recorded_and_judged(void **state) {
    (void)state;
    char line[900];
    prepare(STANDARD_NTSC);
    rig.device.feed.speed = 1;
    plug();
    FILE *bench = fopen(file, "w");
    assert_non_null(bench);
    fprintf(bench, "[bench live]\nkind = board\nboard = none\nscreen = none\nvideo = v4l2:%s\n",
            rig.device.node);
    fclose(bench);
    snprintf(line, sizeof line, "--bench live --plan bits --fields 200 -o '%s/live.mkv'", folder);
    slotjig(EXIT_PASS, "grab", line);
    snprintf(line, sizeof line, "judge '%s/live.mkv' --json -", folder);
    program_slotjig(EXIT_INCONCLUSIVE, line); /* half of a round */
    program_says("0 fail");
    program_says_not(" 98 open");
    snprintf(line, sizeof line, "cat '%s/live.mkv.json'", folder);
    assert_int_equal(program_line(10, line), 0);
    program_says("\"kind\": \"v4l2\"");
    program_says("\"layout\": \"woven\"");
    program_says("\"live\": true");
}

static void judged_at_once(void **state) {
    (void)state;
    char line[200];
    prepare(STANDARD_NTSC);
    plug();
    snprintf(line, sizeof line, "judge --plan bits v4l2:%s --json -", rig.device.node);
    program_slotjig(EXIT_PASS, line);
    program_says("\"verdict\": \"pass\"");
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(finds_what_stands_right, end),
        cmocka_unit_test_teardown(finds_by_looking, end),
        cmocka_unit_test_teardown(no_signal, end),
        cmocka_unit_test_teardown(recorded_and_judged, end),
        cmocka_unit_test_teardown(judged_at_once, end),
    };
    return usb_tests_run(argv, "video_doctor", tests, sizeof tests / sizeof tests[0]);
}
