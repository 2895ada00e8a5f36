#include "commands/commands.h"

#include "commands/setup.h"

#include <stdio.h>
#include <unistd.h>

enum {
    TAKES =
        TAKES_PLAN | TAKES_VIRTUAL | TAKES_BENCH | TAKES_STANDARD | TAKES_HOLD | TAKES_OUTPUT | TAKES_FIELDS
};

static int help(void) {
    printf("usage: slotjig grab [--bench NAME] [--plan NAME|FILE] [options] -o FILE\n\n"
           "Records a bench's video while it shows a plan. FILE ends in .mkv (FFV1, lossless), .y4m, or .yuv "
           "or .raw\n"
           "(packed YUYV 4:2:2). `slotjig judge` reads it.\n\n");
    options_help(TAKES);
    return EXIT_PASS;
}

static bool copy_frames(const struct video_source *source, const struct options *options,
                        const struct setup *setup, int frames, struct problem *problem) {
    struct video_sink sink = {0};
    struct frame frame;
    bool open = false, good = true, progress = !options->quiet && isatty(STDERR_FILENO);
    enum next next = NEXT_FRAME;
    for (int i = 0; i < frames && good; i++) {
        next = source->next(source->state, &frame, problem);
        if (next != NEXT_FRAME) {
            break;
        }
        if (!open) {
            good = open = video_create_file(options->output, frame.width, frame.height, setup->plan->standard,
                                            &sink, problem);
        }
        good = good && sink.write(sink.state, &frame, problem);
        if (progress && i % 32 == 0) {
            fprintf(stderr, "\r  %d of %d frames\033[K", i, frames);
        }
    }
    if (progress) {
        fprintf(stderr, "\r\033[K");
    }
    good = good && next != NEXT_ERROR && open && sink.finish(sink.state, problem);
    if (open) {
        sink.close(sink.state);
    }
    return good;
}

/* Two rounds, so that wherever a reader starts, it finds a whole one. */
static int frames_wanted(const struct options *options, const struct setup *setup) {
    int fields = options->fields > 0 ? options->fields : 2 * (int)setup->plan->step_count * setup->hold + 16;
    return (fields + 1) / 2;
}

static bool record(const struct setup *setup, const struct options *options, struct problem *problem) {
    struct bench_board board = {0};
    struct video_source source;
    const int frames = frames_wanted(options, setup);
    if (setup->bench.kind == BENCH_BOARD) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "bench %s: live capture is not in this version; record the console's video with another "
            "program, and let `slotjig judge` read it",
            setup->bench.name);
    }
    bool good =
        setup_load(setup, options, &board, problem) && setup_open_video(setup, &board, &source, problem);
    if (good) {
        good = copy_frames(&source, options, setup, frames, problem);
        source.close(source.state);
    }
    bench_board_close(&board);
    if (good && !options->quiet) {
        printf("%s: %d frames of bench %s, plan %s, %s, a step every %d fields, seed %llu\n", options->output,
               frames, setup->bench.name, setup->plan->name, standard_table[setup->plan->standard].name,
               setup->hold, (unsigned long long)setup->bench.options.seed);
    }
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
    const bool good = setup_make(&setup, &options, &problem) && record(&setup, &options, &problem);
    setup_free(&setup);
    return good ? EXIT_PASS : command_refuse(&problem);
}
