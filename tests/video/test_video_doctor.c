/*
 * A grabber that nobody has set up: doctor finds device, input and standard by looking, and leaves a section
 * with which a run passes; a live device recorded and judged. On the stage's grabber (tests/video/stage.h),
 * whose V4L2 is a model of a kernel's.
 */
#include "commands/commands.h"
#include "commands/program.h"
#include "usb/rig.h"
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
    if (!video_rig_start(&rig, NULL)) {
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

/* Board and grabber of one console. */
static struct rig board;

static void plug_board(char serial[2 * WIRE_SERIAL + 1]) {
    struct problem problem = {0};
    rig_prepare(&board);
    board.board = virtual_board_new(&board.options, &problem);
    assert_non_null(board.board);
    const struct model_identity identity = usb_rig_identity(&board, serial);
    struct stage_port *port = usb_rig_plug(&board, 0, &identity);
    assert_non_null(port);
    stage_lock();
    port->advance = NULL; /* the console's time is the board's */
    stage_unlock();
    rig.device.lock = &board.lock;
    pthread_mutex_lock(&board.lock);
    const bool open = virtual_open_board(&rig.options, board.board, &rig.source, &problem);
    pthread_mutex_unlock(&board.lock);
    assert_true(open);
    rig.device.source = rig.source;
    assert_true(grabber_plug(&rig.device));
}

static int end_board(void **state) {
    grabber_end(&rig.device);
    stage_clear();
    end(state);
    virtual_board_free(board.board);
    board.board = NULL;
    return 0;
}

/* The console shows the board's idle picture, which has a slate too. */
static void finds_board_and_grabber(void **state) {
    (void)state;
    char serial[2 * WIRE_SERIAL + 1], line[100];
    prepare(STANDARD_NTSC);
    plug_board(serial);
    slotjig(EXIT_PASS, "doctor", "--write --seconds 1 --bench mine");
    program_says("bench mine: nothing wrong, up to the picture");
    program_says("the board's idle picture");
    snprintf(line, sizeof line, "board = %s", serial);
    section_has(line);
    slotjig(EXIT_PASS, "run", "--bench mine --plan bits --screen none --json -");
    program_says("\"verdict\": \"pass\"");
    program_says("\"transport\": \"usb\"");
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

/* What was taken until then is a whole recording. */
static void lost_while_recording(void **state) {
    (void)state;
    char line[900];
    prepare(STANDARD_NTSC);
    rig.device.feed.troubles[0] = (struct trouble){TROUBLE_UNPLUG, 40, FOR_EVER};
    plug();
    FILE *bench = fopen(file, "w");
    assert_non_null(bench);
    fprintf(bench, "[bench live]\nkind = board\nboard = none\nscreen = none\nvideo = v4l2:%s\nwait = 1\n",
            rig.device.node);
    fclose(bench);
    snprintf(line, sizeof line, "--bench live --plan bits --fields 200 -o '%s/live.mkv'", folder);
    slotjig(EXIT_BENCH, "grab", line);
    program_says("went away");
    program_says("are kept in");
    snprintf(line, sizeof line, "judge '%s/live.mkv'", folder);
    program_slotjig(EXIT_INCONCLUSIVE, line);
    program_says("0 fail");
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
        cmocka_unit_test_teardown(finds_board_and_grabber, end_board),
        cmocka_unit_test_teardown(no_signal, end),
        cmocka_unit_test_teardown(lost_while_recording, end),
        cmocka_unit_test_teardown(recorded_and_judged, end),
        cmocka_unit_test_teardown(judged_at_once, end),
    };
    return usb_tests_run(argv, "video_doctor", tests, sizeof tests / sizeof tests[0]);
}
