#include "commands/commands.h"

#include "base/stop.h"
#include "commands/recording.h"
#include "commands/session.h"
#include "commands/setup.h"
#include "report/terminal.h"

#include <stdio.h>
#include <unistd.h>

enum {
    TAKES = TAKES_PLAN | TAKES_VIRTUAL | TAKES_BENCH | TAKES_STANDARD | TAKES_HOLD | TAKES_FLASHING |
            TAKES_OUTPUT | TAKES_FIELDS | TAKES_LIVE | TAKES_THREADS
};

static int help(void) {
    printf("usage: slotjig grab [--bench NAME] [--plan NAME|FILE] [options] -o FILE\n\n"
           "Records a bench's video while it shows a plan. FILE ends in .mkv (FFV1, lossless), .y4m, or .yuv "
           "or .raw\n"
           "(packed YUYV 4:2:2 of the standard's size). FILE.json beside it says what was recorded, plan and "
           "all, so that\n"
           "`slotjig judge FILE` needs no options. Played, it flashes as the plan does (`slotjig plan "
           "--flashes`).\n"
           "Ctrl-C ends the recording; what was taken until then is "
           "kept.\n\n");
    options_help(TAKES);
    printf("\nexit: 0 recorded (what it shows is not looked at), 2 wrong usage or input, 3 bench trouble\n");
    return EXIT_PASS;
}

/* A recording being made. */
struct grab {
    const struct setup *setup;
    const struct options *options;
    struct video_source source;
    struct video_sink sink;
    bool open, progress;
    int width, height;
    struct frames *finder; /* of the recording's own facts */
    uint64_t fields, frames;
    double silent_s; /* for how long no frame has come */
};

/* Two rounds, so that wherever a reader starts, it finds a whole one. */
static uint64_t fields_wanted(const struct grab *grab) {
    const struct setup *setup = grab->setup;
    return grab->options->fields > 0 ? (uint64_t)grab->options->fields
                                     : 2 * (uint64_t)plan_pictures(setup->plan) * (uint64_t)setup->hold + 16 +
                                           (uint64_t)setup->flashing.dark;
}

static uint64_t fields_taken(const struct grab *grab) {
    return grab->options->fields > 0 ? grab->fields
                                     : session_passed(grab->fields, frames_facts(grab->finder));
}

static bool take_frame(struct grab *grab, const struct frame *frame, struct problem *problem) {
    struct field fields[2];
    struct reading readings[2];
    if (!grab->open) {
        grab->width = frame->width;
        grab->height = frame->height;
        grab->open = video_create_file(grab->options->output, frame->width, frame->height,
                                       grab->setup->plan->standard, &grab->sink, problem);
        if (!grab->open) {
            return false;
        }
    }
    if (frame->width != grab->width || frame->height != grab->height) {
        return problem_set(
            problem, PROBLEM_BENCH,
            "the video's size changed from %d by %d to %d by %d after %llu frames; record again", grab->width,
            grab->height, frame->width, frame->height, (unsigned long long)grab->frames);
    }
    const int count = frames_read(grab->finder, frame, fields, readings);
    grab->fields += count > 0 ? (uint64_t)count : 1;
    grab->frames++;
    return grab->sink.write(grab->sink.state, frame, problem);
}

static void show_progress(const struct grab *grab, uint64_t wanted) {
    if (grab->progress && grab->frames % 32 == 0) {
        fprintf(stderr, "\r  %llu of %llu fields%s\033[K", (unsigned long long)fields_taken(grab),
                (unsigned long long)wanted, grab->silent_s > 0 ? "; waiting for the video device" : "");
    }
}

static enum next copy_frames(struct grab *grab, struct problem *problem) {
    const uint64_t wanted = fields_wanted(grab);
    const double patience = SESSION_SILENCE_S + grab->setup->bench.video.wait_s;
    while (fields_taken(grab) < wanted && !stop_asked()) {
        struct frame frame;
        const enum next next = grab->source.next(grab->source.state, &frame, problem);
        if (next == NEXT_NOTHING && grab->silent_s < patience) {
            grab->silent_s += VIDEO_WAIT_MS * 1e-3;
        } else if (next == NEXT_NOTHING) {
            problem_set(
                problem, PROBLEM_VIDEO,
                "the video device has given no frame for %.0f s; check that the console is on and that "
                "the right input is chosen (`slotjig doctor` looks)",
                patience);
            return NEXT_GONE;
        } else if (next != NEXT_FRAME) {
            return next;
        } else {
            grab->silent_s = 0;
            if (!take_frame(grab, &frame, problem)) {
                return NEXT_ERROR;
            }
        }
        show_progress(grab, wanted);
    }
    return NEXT_END;
}

static bool keep(struct grab *grab, struct problem *problem) {
    struct video_about about;
    struct video_counts counts;
    video_tell(&grab->source, &about, &counts);
    const struct report_capture capture = {&about, &counts, frames_facts(grab->finder)};
    return recording_forget(grab->options->output, problem) && grab->sink.finish(grab->sink.state, problem) &&
           recording_write(grab->options->output, grab->setup, &capture, grab->frames, problem);
}

/* A device that is lost ends the recording; what was taken until then is whole, and kept. */
static bool record(struct grab *grab, struct problem *problem) {
    const struct picture_options picture = {.standard = grab->setup->plan->standard,
                                            .unclear_below = PICTURE_UNCLEAR};
    grab->finder = frames_new(&picture);
    if (grab->finder == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory; close other programs");
    }
    stop_catch();
    const enum next end = copy_frames(grab, problem);
    stop_release();
    if (grab->progress) {
        fprintf(stderr, "\r\033[K");
    }
    if (end == NEXT_ERROR) {
        return false;
    }
    if (!grab->open) {
        return end != NEXT_GONE &&
               problem_set(problem, PROBLEM_VIDEO, "no frame came, so nothing is recorded");
    }
    struct problem lost = *problem;
    if (!keep(grab, problem)) {
        return false;
    }
    return end != NEXT_GONE ||
           problem_set(problem, lost.kind, "%.400s; the %llu frames until then are kept in %.120s", lost.text,
                       (unsigned long long)grab->frames, grab->options->output);
}

static bool prepare(struct grab *grab, struct bench_board *board, struct problem *problem) {
    const struct bench_settings *bench = &grab->setup->bench;
    if (bench->kind == BENCH_BOARD && !setup_is_live(bench)) {
        problem_set(problem, PROBLEM_INPUT,
                    "bench %s has no video device to record from; give it video = v4l2:/dev/video0 "
                    "(`slotjig doctor --write` finds one)",
                    bench->name);
        return false;
    }
    return setup_start(grab->setup, grab->options, board, &grab->source, problem);
}

static bool carry_out(const struct setup *setup, const struct options *options, struct problem *problem) {
    struct bench_board board = {.settings = &setup->bench};
    struct grab grab = {
        .setup = setup, .options = options, .progress = !options->quiet && isatty(STDERR_FILENO)};
    const bool good = prepare(&grab, &board, problem) && record(&grab, problem);
    if (good && !options->quiet) {
        char pace[PACE_MAX];
        printf("%s: %llu frames (%llu fields, %s) of bench %s, plan %s, %s, %s, seed %llu\n", options->output,
               (unsigned long long)grab.frames, (unsigned long long)grab.fields,
               layout_name(frames_facts(grab.finder)->layout), setup->bench.name, setup->plan->name,
               standard_table[setup->plan->standard].name, terminal_pace(setup->plan, setup->hold, pace),
               (unsigned long long)setup->bench.options.seed);
    }
    if (grab.open) {
        grab.sink.close(grab.sink.state);
    }
    if (grab.source.next != NULL) {
        grab.source.close(grab.source.state);
    }
    frames_free(grab.finder);
    bench_board_close(&board);
    return good;
}

int command_grab(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    struct setup setup = {0};
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    if (options.output == NULL) {
        problem_set(&problem, PROBLEM_INPUT, "grab: say where to with -o FILE.mkv");
        return command_refuse(&problem);
    }
    const bool good = recording_ready(options.output, &problem) && setup_make(&setup, &options, &problem) &&
                      carry_out(&setup, &options, &problem);
    setup_free(&setup);
    return good ? EXIT_PASS : command_refuse(&problem);
}
