#include "commands/commands.h"

#include "base/stop.h"
#include "commands/setup.h"
#include "commands/watch_json.h"
#include "commands/watch_now.h"
#include "commands/watch_pace.h"
#include "report/canvas.h"
#include "report/page.h"
#include "report/pictures.h"
#include "report/png.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    TAKES = TAKES_PLAN | TAKES_VIRTUAL | TAKES_CHOICE | TAKES_BENCH | TAKES_STANDARD | TAKES_HOLD |
            TAKES_LIVE | TAKES_THREADS | TAKES_WATCH | TAKES_OPERANDS,
    STATE_US = 100000 /* between two states put out */
};

static int help(void) {
    printf(
        "usage: slotjig watch [--bench NAME] [--plan NAME|FILE] [options] [VIDEO]\n\n"
        "A page for the person who is moving a plug: the captured picture with raster and cells drawn over "
        "it, the margin,\n"
        "and what is wrong now. It is served on 127.0.0.1 to this computer alone; its address is printed. "
        "VIDEO is a file or\n"
        "device to look at instead of a bench's. A run is not judged: say `slotjig run` for that.\n\n"
        "The pictures flash. The page shows one still a second; only with --agreed-to-flashing here and "
        "with a button pressed\n"
        "in the page it shows more (WCAG 2.3.1, ITU-R BT.1702: not more than three flashes a second). One "
        "still a second is half\n"
        "a flash a second at the most, ten pictures are five. The console's own screen goes by the plan's "
        "hold, as "
        "for `slotjig run`.\n\n");
    options_help(TAKES);
    printf("\nexit: 0 ended well, 2 wrong usage or input, 3 bench trouble\n");
    return EXIT_PASS;
}

/* What is at work. */
struct watch {
    struct options *options;
    struct setup setup;
    struct bench_board board;
    struct video_source source;
    bool source_open, paced;
    struct pace pace;
    struct frames *frames;
    struct watch_now *now;
    struct watch_facts facts;
    const struct page_module *module;
    struct page *page;
    struct canvas canvas;
    uint8_t *png;
    size_t png_room;
    uint64_t frame_us; /* when the last frame came */
    uint64_t state_us;
    char state[PAGE_STATE_MAX];
};

/* ---- what the page gets ---- */

static void put_state(struct watch *watch, uint64_t now_us) {
    struct watch_view view;
    if (now_us < watch->state_us) {
        return;
    }
    watch->state_us = now_us + STATE_US;
    video_tell(&watch->source, &watch->facts.about, &watch->facts.counts);
    watch->facts.frames = *frames_facts(watch->frames);
    watch_now_facts(watch->now, now_us, &watch->facts.frames, &watch->facts.counts);
    watch_now_look(watch->now, now_us, &view);
    const size_t length = watch_json(&view, &watch->facts, watch->state, sizeof watch->state);
    if (length > 0) {
        watch->module->put_state(watch->page, watch->state, length);
    }
}

/* Lines of a field are shown twice where they are about half a frame's. */
static int rows_of(const struct field *field) {
    return field->height <= FIELD_LINES_MAX ? 2 : 1;
}

/* Room for a picture of the field; taken anew only when that changes. */
static bool make_room(struct watch *watch, const struct field *field) {
    const int height = field->height * rows_of(field);
    if (watch->canvas.rgb != NULL && watch->canvas.width == field->width && watch->canvas.height == height) {
        return true;
    }
    canvas_free(&watch->canvas);
    free(watch->png);
    watch->png_room = png_room(field->width, height);
    watch->png = malloc(watch->png_room);
    watch->canvas = canvas_new(field->width, height, (struct colour){0, 0, 0});
    return watch->png != NULL && watch->canvas.rgb != NULL;
}

static bool put_picture(struct watch *watch, const struct field *field, const struct reading *reading,
                        uint64_t wrong, struct problem *problem) {
    char alt[200];
    if (!make_room(watch, field)) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for a picture of %d by %d", field->width,
                           field->height);
    }
    picture_draw_field(&watch->canvas, field, reading);
    if (wrong != 0) {
        picture_mark_cells(&watch->canvas, field, reading, wrong);
    }
    const size_t size =
        png_encode(watch->canvas.rgb, watch->canvas.width, watch->canvas.height, watch->png, watch->png_room);
    if (size > 0) {
        watch_alt(&watch->facts, reading, wrong, alt, sizeof alt);
        watch->module->put_picture(watch->page, watch->png, size, alt);
    }
    return true;
}

/* ---- the loop ---- */

static bool one_frame(struct watch *watch, const struct frame *frame, struct problem *problem) {
    struct field fields[2];
    struct reading readings[2];
    uint64_t wrong = 0;
    if (watch->paced) {
        pace_wait(&watch->pace, frame);
    }
    const uint64_t now_us = watch->frame_us = pace_now_us();
    watch_now_frame(watch->now, now_us);
    const int count = frames_read(watch->frames, frame, fields, readings);
    for (int i = 0; i < count; i++) {
        wrong = watch_now_field(watch->now, now_us, &readings[i], fields[i].frame_lines);
    }
    return count == 0 || !watch->module->wants_picture(watch->page) ||
           put_picture(watch, &fields[count - 1], &readings[count - 1], wrong, problem);
}

static bool open_video(struct watch *watch, struct problem *problem) {
    watch->source_open = setup_open_video(&watch->setup.bench, &watch->board, &watch->source, problem);
    if (!watch->source_open) {
        return false;
    }
    struct video_about about;
    video_tell(&watch->source, &about, NULL);
    watch->paced = watch->board.stand != NULL || !about.live;
    pace_start(&watch->pace, about.rate, watch->setup.plan->standard);
    return true;
}

static void close_video(struct watch *watch) {
    if (watch->source_open) {
        watch->source.close(watch->source.state);
    }
    watch->source_open = false;
}

/* True when there is a next round. One that gave no frame is not repeated. */
static bool begin_again(struct watch *watch, uint64_t frames_before, struct problem *problem) {
    if (!watch->options->loop || frames_facts(watch->frames)->frames == frames_before) {
        return false;
    }
    close_video(watch);
    return open_video(watch, problem);
}

static bool look(struct watch *watch, struct problem *problem) {
    uint64_t round = 0;
    while (!stop_asked()) {
        struct frame frame;
        const enum next next = watch->source.next(watch->source.state, &frame, problem);
        if (next == NEXT_ERROR || next == NEXT_GONE) {
            return stop_asked(); /* then the wait was cut short */
        }
        if (next == NEXT_FRAME && !one_frame(watch, &frame, problem)) {
            return false;
        }
        if (next == NEXT_END) {
            problem->kind = PROBLEM_NONE;
            if (!begin_again(watch, round, problem)) {
                return problem->kind == PROBLEM_NONE;
            }
            round = frames_facts(watch->frames)->frames;
        }
        /* What this computer needed for the frame is no silence of the source. */
        put_state(watch, next == NEXT_FRAME ? watch->frame_us : pace_now_us());
    }
    return true;
}

/* ---- opening ---- */

/* VIDEO is --video without a board. */
static bool take_operand(struct options *options, struct problem *problem) {
    if (options->operand_count == 0) {
        return true;
    }
    if (options->operand_count > 1) {
        return problem_set(problem, PROBLEM_INPUT, "%.200s: watch looks at one video at a time",
                           options->operands[1]);
    }
    if (options->bench != NULL || options->video != NULL || options->board != NULL ||
        options->serial != NULL) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "%.200s: name a video, or else a bench or its board; a bench's other video is --video",
            options->operands[0]);
    }
    options->video = options->operands[0];
    options->no_push = true;
    return true;
}

/* Somebody looks at this bench, whatever its section says; and they wait for a device that went away. */
static bool set_up(struct watch *watch, struct problem *problem) {
    enum { WAIT_LONG_S = 1000000 };
    struct setup *setup = &watch->setup;
    if (!setup_bench(&setup->bench, watch->options, problem)) {
        return false;
    }
    setup->bench.watched = watch->options->screen == NULL || setup->bench.watched;
    if (watch->options->wait_s < 0) {
        setup->bench.video.wait_s = WAIT_LONG_S;
    }
    if (setup->bench.kind == BENCH_BOARD && setup->bench.video.where[0] == '\0') {
        return problem_set(problem, PROBLEM_INPUT,
                           "bench %s has no video to look at; give it one (video = ...), or name a file or "
                           "device",
                           setup->bench.name);
    }
    return setup_image(setup, watch->options, problem) && setup_has_steps(setup->plan, "watch", problem);
}

static bool load(struct watch *watch, struct problem *problem) {
    const struct bench_board_options how = {.progress = false};
    watch->board = (struct bench_board){.settings = &watch->setup.bench};
    if (!watch->options->no_push) {
        return setup_load(&watch->setup, watch->options, &watch->board, problem);
    }
    return watch->setup.bench.kind != BENCH_VIRTUAL ||
           bench_board_open(&watch->board, &watch->setup.bench, &how, problem);
}

static bool prepare(struct watch *watch, struct problem *problem) {
    const struct setup *setup = &watch->setup;
    const struct picture_options how = {.standard = setup->plan->standard, .unclear_below = PICTURE_UNCLEAR};
    watch->frames = frames_new(&how);
    watch->now = watch_now_new(setup->plan, setup->image->hash);
    if (watch->frames == NULL || watch->now == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for plan %s; close other programs",
                           setup->plan->name);
    }
    watch->facts = (struct watch_facts){
        .bench = watch->options->operand_count > 0 ? watch->options->operands[0] : setup->bench.name,
        .plan = setup->plan};
    const struct page_options page = {.port = watch->options->port,
                                      .may_flash = watch->options->agreed_to_flashing};
    watch->module = page_load(problem);
    return watch->module != NULL && watch->module->open(&page, &watch->page, problem);
}

static void announce(const struct watch *watch) {
    printf("watch: http://127.0.0.1:%d/ (this computer only; %s)\n", watch->module->port(watch->page),
           watch->options->seconds > 0 ? "ends by itself or with Ctrl-C" : "Ctrl-C ends it");
    fflush(stdout);
}

/* The page comes first: a port that is taken is told before the board gets another image. */
static bool carry_out(struct watch *watch, struct problem *problem) {
    if (!set_up(watch, problem) || !prepare(watch, problem) || !load(watch, problem) ||
        !open_video(watch, problem)) {
        return false;
    }
    announce(watch);
    stop_after((unsigned)watch->options->seconds);
    return look(watch, problem);
}

static void clean_up(struct watch *watch) {
    if (watch->page != NULL) {
        watch->module->close(watch->page);
    }
    close_video(watch);
    bench_board_close(&watch->board);
    frames_free(watch->frames);
    watch_now_free(watch->now);
    canvas_free(&watch->canvas);
    free(watch->png);
    setup_free(&watch->setup);
    free(watch);
}

int command_watch(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    if (!options_parse(argc, argv, TAKES, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    struct watch *watch = calloc(1, sizeof *watch);
    if (watch == NULL) {
        problem_set(&problem, PROBLEM_BENCH, "out of memory; close other programs");
        return command_refuse(&problem);
    }
    watch->options = &options;
    stop_catch();
    const bool good = take_operand(&options, &problem) && carry_out(watch, &problem);
    stop_release();
    clean_up(watch);
    return good ? EXIT_PASS : command_refuse(&problem);
}
