/* Benches by name. */
#include "commands/benches.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

static char path[4096];

static void write_file(const char *bytes, size_t size) {
    const char *folder = getenv("TMPDIR");
    snprintf(path, sizeof path, "%s/slotjig-XXXXXX", folder != NULL ? folder : "/tmp");
    int file = mkstemp(path);
    assert_true(file >= 0);
    assert_int_equal(write(file, bytes, size), size);
    close(file);
}

static struct bench_settings find(const char *name, const char *text, enum standard standard, bool given) {
    struct bench_settings bench = {0};
    struct problem problem = {0};
    write_file(text, strlen(text));
    if (!bench_find(name, path, standard, given, &bench, &problem)) {
        fail_msg("%s\nin\n%s", problem.text, text);
    }
    unlink(path);
    return bench;
}

static bool same(double a, double b) {
    return a >= b && a <= b;
}

static void builtin_bench_needs_no_file(void **unused) {
    (void)unused;
    struct bench_settings bench = {0};
    struct problem problem = {0};
    struct virtual_options wanted;
    virtual_defaults(STANDARD_PAL, &wanted);
    assert_true(bench_find("virtual", NULL, STANDARD_PAL, true, &bench, &problem));
    assert_string_equal(bench.name, "virtual");
    assert_false(bench.watched);
    assert_int_equal(bench.options.standard, STANDARD_PAL);
    assert_true(same(bench.options.grabber.bandwidth_mhz, wanted.grabber.bandwidth_mhz));
}

static void settings_of_a_bench(void **unused) {
    (void)unused;
    const struct bench_settings bench =
        find("noisy",
             "[bench other]\nkind = usb\nseed = 3\n[bench noisy]\nnoise = 30\ngain=0.9\noffset = -0.05\n"
             "bandwidth = 3.5\nleft = 70.25\nseed = 18446744073709551615\nscreen = none\nkind = virtual\n",
             STANDARD_NTSC, false);
    assert_string_equal(bench.name, "noisy");
    assert_false(bench.watched);
    assert_true(bench.options.seed == UINT64_MAX);
    assert_true(same(bench.options.grabber.noise_db, 30));
    assert_true(same(bench.options.grabber.gain, 0.9));
    assert_true(same(bench.options.grabber.offset, -0.05));
    assert_true(same(bench.options.grabber.bandwidth_mhz, 3.5));
    assert_true(same(bench.options.grabber.left, 70.25));
}

/* In the bench file a fault is spelled as for --fault, and two of them add up. */
static void faults_of_a_bench(void **unused) {
    (void)unused;
    char first[100];
    char second[100];
    char text[300];
    struct virtual_options wanted;
    struct problem problem = {0};
    assert_true(virtual_fault_text(0, first, sizeof first));
    assert_true(virtual_fault_text(1, second, sizeof second));
    virtual_defaults(STANDARD_NTSC, &wanted);
    assert_true(virtual_add_fault(&wanted, first, &problem) && virtual_add_fault(&wanted, second, &problem));
    snprintf(text, sizeof text, "[bench a]\nfault = %s\nfault = %s\n", first, second);
    const struct bench_settings bench = find("a", text, STANDARD_NTSC, false);
    assert_memory_equal(&bench.options.faults.chip, &wanted.faults.chip, sizeof wanted.faults.chip);
    const struct bench_settings good = find("a", "[bench a]\n", STANDARD_NTSC, false);
    assert_memory_not_equal(&good.options.faults.chip, &wanted.faults.chip, sizeof wanted.faults.chip);
}

/* Impairments add up, and the kind of grabber goes before all of them, wherever it stands. */
static void grabber_of_a_bench(void **unused) {
    (void)unused;
    struct virtual_options wanted;
    struct problem problem = {0};
    virtual_defaults(STANDARD_NTSC, &wanted);
    assert_true(virtual_use_set(&wanted, "stick", &problem) &&
                virtual_add_impairment(&wanted, "left=60", &problem) &&
                virtual_add_impairment(&wanted, "mjpeg=40", &problem));
    const struct bench_settings bench =
        find("a", "[bench a]\nimpair = left=60\nimpair = mjpeg=40\ngrabber = stick\n", STANDARD_NTSC, false);
    assert_memory_equal(&bench.options.grabber, &wanted.grabber, sizeof wanted.grabber);
}

static void a_bench_is_watched_unless_it_says_not(void **unused) {
    (void)unused;
    assert_true(find("a", "[bench a]\n", STANDARD_NTSC, false).watched);
    assert_true(find("a", "[bench a]\nscreen = watched\n", STANDARD_NTSC, false).watched);
}

/* The bandwidth follows from the standard, wherever in the section that stands. */
static void standard_of_a_bench(void **unused) {
    (void)unused;
    static const char text[] = "[bench a]\nseed = 5\nstandard = pal\n[bench b]\nstandard = secam\n";
    struct virtual_options pal;
    virtual_defaults(STANDARD_PAL, &pal);
    const struct bench_settings own = find("a", text, STANDARD_NTSC, false);
    assert_int_equal(own.options.standard, STANDARD_PAL);
    assert_true(own.options.seed == 5);
    assert_true(same(own.options.grabber.bandwidth_mhz, pal.grabber.bandwidth_mhz));
    assert_int_equal(find("a", text, STANDARD_NTSC, true).options.standard, STANDARD_NTSC);
    assert_int_equal(find("b", text, STANDARD_NTSC, false).options.standard, STANDARD_SECAM);
}

static void refuse(const char *text, int line, const char *says) {
    struct bench_settings bench = {.name = "before"};
    struct problem problem = {0};
    char where[4200];
    write_file(text, strlen(text));
    const bool taken = bench_find("a", path, STANDARD_NTSC, false, &bench, &problem);
    unlink(path);
    snprintf(where, sizeof where, "%s:%d: ", path, line);
    if (taken || problem.kind != PROBLEM_INPUT || strncmp(problem.text, where, strlen(where)) != 0 ||
        strstr(problem.text, says) == NULL) {
        fail_msg("%s\nkind %d: %s\nwanted line %d: %s", text, problem.kind, taken ? "taken" : problem.text,
                 line, says);
    }
    assert_string_equal(bench.name, "before");
}

static void wrong_settings(void **unused) {
    (void)unused;
    refuse("[bench a]\nkind = usb\n", 2, "there are board");
    refuse("[bench a]\nstandard = ntcs\n", 2, "ntsc, pal and secam");
    refuse("[bench a]\nseed = -1\n", 2, "seed = -1");
    refuse("[bench a]\nseed = 18446744073709551616\n", 2, "whole number");
    refuse("[bench a]\nscreen = off\n", 2, "watched, or none");
    refuse("[bench a]\nfault = gremlins\n", 2, "gremlins");
    refuse("[bench a]\nnoise = loud\n", 2, "noise = loud");
    refuse("[bench a]\ngain = nan\n", 2, "gain = nan");
    refuse("[bench a]\nleft = 1e9\n", 2, "from 0 to 720");
    refuse("[bench a]\nbandwidth = 4 MHz\n", 2, "bandwidth = 4 MHz");
    refuse("[bench a]\nbandwith = 4\n", 2, "unknown key 'bandwith'");
    refuse("[bench a]\ngain = 1\ngain = 1\n", 3, "twice");
    refuse("[bench a]\n[bench a]\n", 2, "there twice");
    refuse("[bench virtual]\n", 1, "built in");
    refuse("[bunch a]\n", 1, "unknown section");
    refuse("seed = 1\n", 1, "before any section");
}

static void bench_with_a_board(void **unused) {
    (void)unused;
    const struct bench_settings usb =
        find("a", "[bench a]\nboard = 1-2.3\nkind = board\nstandard = pal\n[bench b]\nseed = 1\n",
             STANDARD_NTSC, false);
    assert_int_equal(usb.kind, BENCH_BOARD);
    assert_int_equal(usb.board.way, BOARD_BY_USB);
    assert_string_equal(usb.board.text, "1-2.3");
    assert_int_equal(usb.options.standard, STANDARD_PAL);
    assert_true(usb.watched);
    assert_string_equal(usb.video.where, "");
    const struct bench_settings serial =
        find("a",
             "[bench a]\nkind = board\nbaud = 9600\nboard = serial:/dev/ttyS1\nvideo = file:/a b.mkv\n"
             "power = \"my relay\" {state}\nconsole = rev. 4, NTSC\nscreen = none\n",
             STANDARD_NTSC, false);
    assert_int_equal(serial.board.way, BOARD_BY_SERIAL);
    assert_string_equal(serial.board.text, "/dev/ttyS1");
    assert_int_equal(serial.board.baud, 9600);
    assert_string_equal(serial.video.where, "file:/a b.mkv");
    assert_string_equal(serial.power, "\"my relay\" {state}");
    assert_string_equal(serial.console, "rev. 4, NTSC");
    assert_false(serial.watched);
    const struct bench_settings program =
        find("a", "[bench a]\nkind = board\ncommand = burn {image}\n", STANDARD_NTSC, false);
    assert_int_equal(program.board.way, BOARD_BY_COMMAND);
    assert_string_equal(program.board.text, "burn {image}");
    const struct bench_settings bare = find("a", "[bench a]\nkind = board\n", STANDARD_NTSC, false);
    assert_int_equal(bare.board.way, BOARD_BY_USB);
    assert_string_equal(bare.board.text, "");
    assert_int_equal(bare.board.baud, 115200);
}

static void bench_with_a_reader(void **unused) {
    (void)unused;
    const struct bench_settings bare = find("a", "[bench a]\nkind = reader\n", STANDARD_NTSC, false);
    assert_int_equal(bare.kind, BENCH_READER);
    assert_int_equal(bare.board.way, BOARD_BY_USB);
    assert_string_equal(bare.board.text, "");
    const struct bench_settings serial =
        find("a", "[bench a]\nkind = Reader\nboard = /dev/ttyS1\nbaud = 9600\nstation = line 2\n",
             STANDARD_NTSC, false);
    assert_int_equal(serial.board.way, BOARD_BY_SERIAL);
    assert_string_equal(serial.board.text, "/dev/ttyS1");
    assert_int_equal(serial.board.baud, 9600);
    assert_string_equal(serial.station, "line 2");
    refuse("[bench a]\nkind = reader\nvideo = none\n", 3,
           "'video' is for a bench of kind board, and this one is");
    refuse("[bench a]\nkind = reader\nstandard = pal\n", 3,
           "of kind virtual or board, and this one is of kind reader");
    refuse("[bench a]\nkind = reader\nseed = 1\n", 3, "of kind virtual");
    refuse("[bench a]\nkind = reader\nport = 1\n", 3,
           "a bench of kind reader has kind, station, board, baud");
    refuse("[bench a]\nkind = socket\n", 2, "reader (of cartridges)");
}

/* What describes the console of a bench, of either kind; a text that could not be kept as it is, is refused.
 */
static void bench_with_a_console(void **unused) {
    (void)unused;
    static const char *const kinds[] = {"board", "virtual"};
    for (int i = 0; i < 2; i++) {
        char text[400];
        snprintf(text, sizeof text,
                 "[bench a]\nkind = %s\nconsole = left\nrevision = rev. 4\nmarkings = \xC2\xB5 CO10444\n"
                 "modifications = S-Video\nstation = workshop\n",
                 kinds[i]);
        const struct bench_settings bench = find("a", text, STANDARD_NTSC, false);
        assert_string_equal(bench.console, "left");
        assert_string_equal(bench.revision, "rev. 4");
        assert_string_equal(bench.markings, "\xC2\xB5 CO10444");
        assert_string_equal(bench.modifications, "S-Video");
        assert_string_equal(bench.station, "workshop");
    }
}

/* What a bench says of its video is what video_open() is asked for. */
static void bench_with_a_device(void **unused) {
    (void)unused;
    const struct bench_settings bench =
        find("a",
             "[bench a]\nkind = board\nboard = none\nvideo = v4l2:/dev/video2\ninput = Composite 1\n"
             "size = 640x480\npixel = mjpeg\nwait = 2.5\nsignal = RF\nchannel = 3\nfrequency = 61.25\n"
             "standard = pal\n",
             STANDARD_NTSC, false);
    const struct video_request request = bench_request(&bench);
    assert_int_equal(bench.board.way, BOARD_NONE);
    assert_string_equal(request.where, "v4l2:/dev/video2");
    assert_string_equal(request.input, "Composite 1");
    assert_string_equal(request.pixel, "mjpeg");
    assert_int_equal(request.width, 640);
    assert_int_equal(request.height, 480);
    assert_int_equal(request.standard, STANDARD_PAL);
    assert_true(same(request.wait_s, 2.5));
    assert_true(same(request.frequency_mhz, 61.25));
    assert_true(bench.video.rf);
    assert_string_equal(bench.video.channel, "3");
    const struct bench_settings bare = find("a", "[bench a]\nkind = board\n", STANDARD_NTSC, false);
    const struct video_request plain = bench_request(&bare);
    assert_string_equal(plain.where, "");
    assert_string_equal(plain.input, "");
    assert_int_equal(plain.width, 0);
    assert_true(same(plain.wait_s, WAIT_DEFAULT_S));
    assert_true(same(plain.frequency_mhz, 0));
    assert_int_equal(plain.threads, 0);
}

static void wrong_settings_of_a_board(void **unused) {
    (void)unused;
    static const struct {
        const char *line, *says;
    } cases[] = {
        {"board = COM1", "port path"},
        {"board = 1-", "port path"},
        {"board = 1-2.", "port path"},
        {"board = 12345678", "16 hexadecimal digits"},
        {"board = serial:ttyS0", "/dev/ttyACM0"},
        {"baud = fast", "baud = fast"},
        {"baud = 50", "from 1200 to 4000000"},
        {"baud = 9600 8N1", "whole number"},
        {"video = file:", "file:PATH"},
        {"video = :x", "file:PATH"},
        {"input =", "no value"},
        {"size = 720", "720x480"},
        {"size = 720x480x2", "720x480"},
        {"size = 8x8", "720x480"},
        {"pixel =", "no value"},
        {"wait = -1", "from 0 to 3600"},
        {"wait = long", "from 0 to 3600"},
        {"signal = scart", "composite, or rf"},
        {"frequency = 3", "from 40 to 900"},
        {"grabber = clean", "of kind virtual"},
        {"impair = ghost", "of kind virtual"},
        {"video = /tmp/a.mkv", "file:PATH"},
        {"power = relay on", "{state}"},
        {"command = burn image.bin", "{image}"},
        {"power = \"relay {state}", "quote"},
        {"power =", "no value"},
        {"console =", "no value"},
        {"seed = 1", "of kind virtual"},
        {"fault = no-video", "of kind virtual"},
        {"noise = 30", "of kind virtual"},
        {"port = 1", "has kind, standard, screen, console, revision, markings, modifications, station, "
                     "board, baud, command, power, video, input, size, pixel, wait, "
                     "signal, channel, frequency"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[400];
        snprintf(text, sizeof text, "[bench a]\nkind = board\n%s\n", cases[i].line);
        refuse(text, 3, cases[i].says);
    }
    refuse("[bench a]\nkind = board\nboard = 1-2\ncommand = burn {image}\n", 4, "exclude each other");
    refuse("[bench a]\nkind = board\ncommand = burn {image}\nboard = 1-2\n", 4, "exclude each other");
    refuse("[bench a]\nkind = board\nfrequency = 61.25\n", 1, "add signal = rf");
    refuse("[bench a]\nkind = board\nchannel = 3\nsignal = composite\n", 1, "add signal = rf");
    refuse("[bench a]\nboard = 1-2\n", 2, "of kind board");
    refuse("[bench a]\nvideo = none\nkind = virtual\n", 2, "of kind board");
    refuse("[bench a]\nport = 1\n", 2,
           "has kind, standard, screen, console, revision, markings, modifications, station, seed");
}

static void names_of_all_benches(void **unused) {
    (void)unused;
    static const char text[] =
        "[bench one]\nkind = board\n[bench  two]\n; comment\n[bench three]\nseed = x\n";
    char names[2][BENCH_NAME_MAX];
    size_t count = 0;
    struct problem problem = {0};
    write_file(text, strlen(text));
    assert_true(benches_names(path, names, 2, &count, &problem));
    assert_int_equal(count, 3);
    assert_string_equal(names[0], "one");
    assert_string_equal(names[1], "two");
    unlink(path);
    write_file("[bench one]\n[bunch two]\n", 24);
    assert_false(benches_names(path, names, 2, &count, &problem));
    assert_non_null(strstr(problem.text, ":2: unknown section"));
    unlink(path);
}

static void unknown_bench_lists_the_known(void **unused) {
    (void)unused;
    struct bench_settings bench = {0};
    struct problem problem = {0};
    static const char text[] = "[bench left]\n[bench right]\n";
    write_file(text, strlen(text));
    assert_false(bench_find("centre", path, STANDARD_NTSC, false, &bench, &problem));
    unlink(path);
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_non_null(strstr(problem.text, "'centre'"));
    assert_non_null(strstr(problem.text, "virtual, left, right"));
    assert_non_null(strstr(problem.text, path));
    assert_false(bench_find("left", path, STANDARD_NTSC, false, &bench, &problem));
    assert_non_null(strstr(problem.text, "cannot be read"));
}

static void default_file_is_in_the_configuration_folder(void **unused) {
    (void)unused;
    struct bench_settings bench = {0};
    struct problem problem = {0};
    char folder[4096];
    char sub[4200];
    const char *temporary = getenv("TMPDIR");
    snprintf(folder, sizeof folder, "%s/slotjig-XXXXXX", temporary != NULL ? temporary : "/tmp");
    assert_non_null(mkdtemp(folder));
    setenv("XDG_CONFIG_HOME", folder, 1);
    assert_false(bench_find("a", NULL, STANDARD_NTSC, false, &bench, &problem));
    assert_non_null(strstr(problem.text, "slotjig/benches.ini (which does not exist)"));
    snprintf(sub, sizeof sub, "%s/slotjig", folder);
    assert_int_equal(mkdir(sub, 0700), 0);
    snprintf(sub, sizeof sub, "%s/slotjig/benches.ini", folder);
    FILE *file = fopen(sub, "w");
    assert_non_null(file);
    fputs("[bench a]\nseed = 9\n", file);
    fclose(file);
    assert_true(bench_find("a", NULL, STANDARD_NTSC, false, &bench, &problem));
    assert_true(bench.options.seed == 9);
    unlink(sub);
    *strrchr(sub, '/') = '\0';
    rmdir(sub);
    rmdir(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(builtin_bench_needs_no_file),
        cmocka_unit_test(settings_of_a_bench),
        cmocka_unit_test(faults_of_a_bench),
        cmocka_unit_test(grabber_of_a_bench),
        cmocka_unit_test(a_bench_is_watched_unless_it_says_not),
        cmocka_unit_test(standard_of_a_bench),
        cmocka_unit_test(wrong_settings),
        cmocka_unit_test(bench_with_a_board),
        cmocka_unit_test(bench_with_a_reader),
        cmocka_unit_test(bench_with_a_device),
        cmocka_unit_test(bench_with_a_console),
        cmocka_unit_test(wrong_settings_of_a_board),
        cmocka_unit_test(names_of_all_benches),
        cmocka_unit_test(unknown_bench_lists_the_known),
        cmocka_unit_test(default_file_is_in_the_configuration_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
