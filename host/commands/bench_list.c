#include "commands/commands.h"

#include "commands/benches.h"
#include "commands/options.h"
#include "report/json.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

enum { TAKES = TAKES_BENCHES | TAKES_JSON, BENCHES_MAX = 256 };

static int help(void) {
    printf(
        "usage: slotjig benches [options]\n\n"
        "Shows what is understood of the benches file, and the built-in bench.\n\n"
        "    [bench left]\n"
        "    kind = board                ; a board in a real console; virtual when left out\n"
        "    board = 1-2.3               ; port path or serial (see `slotjig boards`), a device as in\n"
        "                                ; /dev/ttyACM0, or usb: the only one there; or none: the image is\n"
        "                                ; in the slot by your own means\n"
        "    baud = 115200               ; of a serial device\n"
        "    command = burn \"{image}\"    ; instead of a board: a program that puts the image into the "
        "slot;\n"
        "                                ; also {size} and {scheme}; no shell is involved\n"
        "    power = relay {state}       ; a program that switches the console's low-voltage supply on or "
        "off\n"
        "    video = v4l2:/dev/video0    ; a device (KIND:NAME: of another kind), file:PATH, or none\n"
        "    input = Composite1          ; of the device; with size = 720x480, pixel = mjpeg, wait = 30\n"
        "    signal = composite          ; rf: through a tuner; with channel = 3, frequency = 61.25 (MHz)\n"
        "    console = left, NTSC        ; what you call the console; runs of one name are one console's\n"
        "    revision = rev. 4           ; of its board; markings (of its chips) and modifications alike\n"
        "    station = workshop          ; the place, never a person's name\n"
        "    standard = ntsc             ; pal, secam\n"
        "    screen = watched            ; none: nobody sees the pictures\n\n"
        "    [bench noisy]\n"
        "    kind = virtual              ; with seed, fault, grabber, impair, noise, gain, offset,\n"
        "                                ; bandwidth, left\n\n"
        "    [bench socket]\n"
        "    kind = reader               ; of cartridges; board, baud and station as above\n\n");
    options_help(TAKES);
    printf("\nexit: 0, or 2 when the file has an error\n");
    return EXIT_PASS;
}

static void virtual_json(json_t *json, const struct virtual_options *options) {
    const struct grabber_options *grabber = &options->grabber;
    char seed[24];
    snprintf(seed, sizeof seed, "%llu", (unsigned long long)options->seed);
    json_object_set_new(json, "seed", json_string(seed));
    json_object_set_new(json, "grabber", json_string(grabber->set));
    json_object_set_new(json, "noise",
                        isfinite(grabber->noise_db) ? json_real(grabber->noise_db) : json_null());
    json_object_set_new(json, "gain", json_real(grabber->gain));
    json_object_set_new(json, "offset", json_real(grabber->offset));
    json_object_set_new(json, "bandwidth", json_real(grabber->bandwidth_mhz));
    json_object_set_new(json, "left", json_real(grabber->left));
}

static json_t *text_json(const char *text) {
    return text[0] != '\0' ? json_string(text) : json_null();
}

static void video_json(json_t *json, const struct bench_video *video) {
    json_object_set_new(json, "video", text_json(video->where));
    json_object_set_new(json, "input", text_json(video->input));
    json_object_set_new(json, "pixel", text_json(video->pixel));
    json_object_set_new(json, "size",
                        video->width > 0 ? json_pack("[i,i]", video->width, video->height) : json_null());
    json_object_set_new(json, "wait", json_real(video->wait_s));
    json_object_set_new(json, "signal", json_string(video->rf ? "rf" : "composite"));
    json_object_set_new(json, "channel", text_json(video->channel));
    json_object_set_new(json, "frequency_mhz",
                        video->frequency_mhz > 0 ? json_real(video->frequency_mhz) : json_null());
}

static void board_bench_json(json_t *json, const struct bench_settings *bench) {
    static const char *const ways[] = {"usb", "serial", "command", "virtual", "none"};
    json_object_set_new(json, "way", json_string(ways[bench->board.way]));
    json_object_set_new(json, "board", json_string(bench->board.text));
    json_object_set_new(json, "baud",
                        bench->board.way == BOARD_BY_SERIAL ? json_integer(bench->board.baud) : json_null());
    json_object_set_new(json, "power", bench->power[0] != '\0' ? json_string(bench->power) : json_null());
    video_json(json, &bench->video);
}

static json_t *bench_json(const struct bench_settings *bench) {
    json_t *json =
        json_pack("{s:s,s:s,s:s,s:s,s:s}", "name", bench->name, "kind", bench_kind_name(bench->kind),
                  "standard", standard_table[bench->options.standard].name, "screen",
                  bench->watched ? "watched" : "none", "console", bench->console);
    json_object_update_new(json, json_pack("{s:s,s:s,s:s,s:s}", "revision", bench->revision, "markings",
                                           bench->markings, "modifications", bench->modifications, "station",
                                           bench->station));
    if (bench->kind != BENCH_VIRTUAL) {
        board_bench_json(json, bench);
    } else {
        virtual_json(json, &bench->options);
    }
    return json;
}

static void print_virtual(FILE *stream, const struct bench_settings *bench) {
    const struct virtual_options *options = &bench->options;
    fprintf(stream, "  grabber   %s; gain %g, offset %g, bandwidth %g MHz, left edge at %g",
            options->grabber.set, options->grabber.gain, options->grabber.offset,
            options->grabber.bandwidth_mhz, options->grabber.left);
    if (isfinite(options->grabber.noise_db)) {
        fprintf(stream, ", noise %g dB", options->grabber.noise_db);
    }
    fprintf(stream, "; seed %llu\n", (unsigned long long)options->seed);
}

static void print_video(FILE *stream, const struct bench_video *video) {
    fprintf(stream, "  video     %s", video->where[0] != '\0' ? video->where : "none");
    if (video->input[0] != '\0') {
        fprintf(stream, ", input %s", video->input);
    }
    if (video->width > 0) {
        fprintf(stream, ", %dx%d", video->width, video->height);
    }
    if (video->pixel[0] != '\0') {
        fprintf(stream, ", %s", video->pixel);
    }
    if (video->rf) {
        fprintf(stream, "; rf");
    }
    if (video->channel[0] != '\0') {
        fprintf(stream, ", channel %s", video->channel);
    }
    if (video->frequency_mhz > 0) {
        fprintf(stream, ", %g MHz", video->frequency_mhz);
    }
    fprintf(stream, "\n");
}

static void print_board(FILE *stream, const struct bench_settings *bench) {
    char text[300];
    board_choice_text(&bench->board, text, sizeof text);
    fprintf(stream, "  board     %s\n", text);
    fprintf(stream, "  power     %s\n", bench->power[0] != '\0' ? bench->power : "by hand");
    print_video(stream, &bench->video);
}

/* "left, NTSC; revision rev. 4; markings CO10444" */
static void print_console(FILE *stream, const struct bench_settings *bench) {
    const struct {
        const char *title, *text;
    } parts[] = {{"", bench->console},
                 {"revision ", bench->revision},
                 {"markings ", bench->markings},
                 {"modifications: ", bench->modifications},
                 {"station ", bench->station}};
    bool any = false;
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        if (parts[i].text[0] != '\0') {
            fprintf(stream, "%s%s%s", any ? "; " : "  console   ", parts[i].title, parts[i].text);
            any = true;
        }
    }
    fputs(any ? "\n" : "", stream);
}

static void print_reader(FILE *stream, const struct bench_settings *bench) {
    char text[300];
    board_choice_text(&bench->board, text, sizeof text);
    fprintf(stream, "%s\n  kind      reader\n", bench->name);
    print_console(stream, bench);
    fprintf(stream, "  board     %s\n", text);
}

static void print_bench(FILE *stream, const struct bench_settings *bench) {
    if (bench->kind == BENCH_READER) {
        print_reader(stream, bench);
        return;
    }
    fprintf(stream, "%s\n  kind      %s, %s, screen %s\n", bench->name, bench_kind_name(bench->kind),
            standard_table[bench->options.standard].name, bench->watched ? "watched" : "none");
    print_console(stream, bench);
    if (bench->kind == BENCH_BOARD) {
        print_board(stream, bench);
    } else {
        print_virtual(stream, bench);
    }
}

struct shown {
    const struct options *options;
    FILE *stream;
    const char *path;
    bool there;
    json_t *list;
};

static bool show(struct shown *shown, const char *name, struct problem *problem) {
    struct bench_settings bench;
    if (!bench_find(name, shown->path, STANDARD_NTSC, false, &bench, problem)) {
        return false;
    }
    if (!shown->options->quiet) {
        print_bench(shown->stream, &bench);
    }
    json_array_append_new(shown->list, bench_json(&bench));
    return true;
}

static bool show_all(struct shown *shown, struct problem *problem) {
    static char names[BENCHES_MAX][BENCH_NAME_MAX];
    size_t count = 0;
    if (shown->there && !benches_names(shown->path, names, BENCHES_MAX, &count, problem)) {
        return false;
    }
    if (count > BENCHES_MAX) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%s: %zu benches, and at most %d are shown; split the file", shown->path, count,
                           BENCHES_MAX);
    }
    bool good = show(shown, "virtual", problem);
    for (size_t i = 0; i < count && good; i++) {
        good = show(shown, names[i], problem);
    }
    return good;
}

static int list(const struct options *options, struct problem *problem) {
    char path[PATH_MAX] = "";
    struct shown shown = {.options = options, .stream = options_people(options), .path = path};
    const bool has_file = benches_file(options->benches, path, sizeof path, &shown.there);
    if (!options->quiet) {
        fprintf(shown.stream, "benches file: %s%s\n", has_file ? path : "none (HOME is not set)",
                shown.there || !has_file ? "" : " (not there)");
    }
    shown.list = json_array();
    if (!show_all(&shown, problem)) {
        json_decref(shown.list);
        return command_refuse(problem);
    }
    json_t *json = json_pack("{s:s,s:i,s:o,s:o}", "command", "benches", "exit", EXIT_PASS, "file",
                             has_file ? json_string(path) : json_null(), "benches", shown.list);
    if (options->json == NULL) {
        json_decref(json);
        return EXIT_PASS;
    }
    return json_write(json, options->json, problem) ? EXIT_PASS : command_refuse(problem);
}

int command_benches(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    return options.help ? help() : list(&options, &problem);
}
