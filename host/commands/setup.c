#include "commands/setup.h"

#include "base/output.h"
#include "base/scheme.h"
#include "commands/by_eye.h"
#include "commands/flashing.h"
#include "commands/outcome.h"
#include "flash/flash.h"
#include "plan/check.h"
#include "plan/drawing.h"
#include "plan/every.h"
#include "plan/plan_text.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <unistd.h>

enum { CHECK_ROUNDS_DEFAULT = 2 };

static bool open_drawing(const struct options *options, enum standard standard, struct plan **plan,
                         struct problem *problem) {
    struct write_windows windows;
    windows_handbook(&windows);
    return (options->windows == NULL || windows_read(options->windows, &windows, problem)) &&
           drawing_plan(options->drawing, standard, &windows, plan, problem);
}

static bool open_every(const struct options *options, enum standard standard, struct plan **plan,
                       struct problem *problem) {
    return every_plan(options->patterns > 0 ? (uint32_t)options->patterns : 2 * EVERY_VALUES,
                      options->lines > 0 ? options->lines : 1, standard, plan, problem);
}

static bool open_check(const struct options *options, enum standard standard, struct plan **plan,
                       struct problem *problem) {
    int scheme;
    if (options->scheme == NULL) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "--plan cartridge: which one? Give --scheme 2K, 4K, F8, F6 or F4, and --ram where it "
            "has RAM");
    }
    if (!scheme_from_name(options->scheme, &scheme)) {
        return problem_set(problem, PROBLEM_INPUT, "--scheme %.40s: say 2K, 4K, F8, F6 or F4",
                           options->scheme);
    }
    return check_plan(scheme, options->ram, standard, plan, problem);
}

int setup_rounds(const struct options *options) {
    const bool goes_on = options->rounds_given || options->for_minutes > 0;
    return options->rounds > 0 ? options->rounds : goes_on ? 0 : CHECK_ROUNDS_DEFAULT;
}

static bool is_every(const char *name) {
    return strcmp(name, "every") == 0;
}

static bool ends_in(const char *name, const char *end) {
    const size_t length = strlen(name), least = strlen(end);
    return length > least && strcasecmp(name + length - least, end) == 0;
}

static bool refuse_lines(struct problem *problem) {
    return problem_set(problem, PROBLEM_INPUT,
                       "--lines: only plan every has patterns that can stand on more lines; leave it out");
}

/* What is for one plan alone, with another one. */
static bool fits_plan(const struct options *options, struct problem *problem) {
    const bool check = options->plan != NULL && strcmp(options->plan, "cartridge") == 0;
    if (options->lines > 0 && (options->drawing != NULL || check)) {
        return refuse_lines(problem);
    }
    if (options->windows != NULL && options->drawing == NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--windows: only a drawing is scheduled by them; say --plan drawing FILE");
    }
    return true;
}

/* A plan file that counts through every value may be shown on other lines than it says. */
static bool use_lines(const struct options *options, struct plan **plan, struct problem *problem) {
    struct plan *const file = *plan;
    if (options->lines == 0 || (file->kind == PLAN_EVERY && options->lines == file->every.repeat)) {
        return true;
    }
    *plan = NULL;
    if (file->kind != PLAN_EVERY) {
        refuse_lines(problem);
    } else if (!every_plan(2 * file->every.count, options->lines, file->standard, plan, problem)) {
        *plan = NULL;
    }
    plan_free(file);
    return *plan != NULL;
}

static bool says_rounds(const struct options *options) {
    return options->rounds > 0 || options->rounds_given || options->for_minutes > 0;
}

static bool refuse_rounds(struct problem *problem) {
    return problem_set(problem, PROBLEM_INPUT,
                       "--rounds and --for: only plan cartridge goes round until it is told to stop; leave "
                       "them out");
}

/* A plan file may be of plan cartridge. */
static bool keeps_rounds(const struct options *options, struct plan **plan, struct problem *problem) {
    if (!says_rounds(options) || (*plan)->kind == PLAN_CARTRIDGE) {
        return true;
    }
    plan_free(*plan);
    *plan = NULL;
    refuse_rounds(problem);
    return false;
}

bool setup_plan(const struct options *options, enum standard standard, struct plan **plan,
                struct problem *problem) {
    const char *name = options->plan == NULL ? "bits" : options->plan;
    if (!fits_plan(options, problem)) {
        return false;
    }
    const bool check = strcmp(name, "cartridge") == 0;
    if (!check && (options->scheme != NULL || options->ram)) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "--scheme and --ram: only plan cartridge is made for a scheme; say --plan cartridge, "
            "or leave them out");
    }
    if (says_rounds(options) && (options->drawing != NULL || is_every(name))) {
        return refuse_rounds(problem);
    }
    if (options->drawing != NULL) {
        return open_drawing(options, standard, plan, problem);
    }
    if (check) {
        return open_check(options, standard, plan, problem);
    }
    if (is_every(name)) {
        return open_every(options, standard, plan, problem);
    }
    if (ends_in(name, ".png") || ends_in(name, ".pbm")) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--plan %.200s: no plan file; a picture is --plan drawing:%.200s", name, name);
    }
    return plan_open(name, standard, plan, problem) && use_lines(options, plan, problem) &&
           keeps_rounds(options, plan, problem);
}

bool setup_has_steps(const struct plan *plan, const char *command, struct problem *problem) {
    return plan->kind == PLAN_STEPS ||
           problem_set(problem, PROBLEM_INPUT,
                       "%s: plan %s has no steps to look at one by one; it is measured by `slotjig run` and "
                       "`slotjig judge`",
                       command, plan->name);
}

int setup_watched_hold(enum standard standard) {
    enum { CHANGES_A_SECOND = 3 };
    return (int)ceil(flash_rate(standard) / CHANGES_A_SECOND);
}

/* --board, --serial and --baud onto the choice. */
static bool choose_board(struct board_choice *choice, const struct options *options,
                         struct problem *problem) {
    if (options->board != NULL && options->serial != NULL) {
        return problem_set(problem, PROBLEM_INPUT, "--board and --serial: both say which board; give one");
    }
    if (options->board != NULL && !board_choice_parse(options->board, choice, problem)) {
        return false;
    }
    if (options->serial != NULL) {
        if (strlen(options->serial) >= sizeof choice->text || options->serial[0] == '\0') {
            return problem_set(problem, PROBLEM_INPUT, "--serial '%.60s': give a device as in /dev/ttyACM0",
                               options->serial);
        }
        choice->way = BOARD_BY_SERIAL;
        snprintf(choice->text, sizeof choice->text, "%s", options->serial);
    }
    if (options->baud != 0 && choice->way != BOARD_BY_SERIAL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--baud: only a serial device has a speed; name it with "
                           "--serial DEV");
    }
    choice->baud = options->baud != 0 ? options->baud : choice->baud;
    return true;
}

static bool say(struct texts *texts, const char *text, struct problem *problem) {
    return texts_add(texts, text) ||
           problem_set(problem, PROBLEM_INPUT, "'%.60s': more than a bench can have; give fewer", text);
}

static bool say_noise(struct texts *impairments, double noise_db, struct problem *problem) {
    char text[32];
    snprintf(text, sizeof text, "noise=%g", noise_db);
    return say(impairments, text, problem);
}

/* The set first: it replaces whatever else is said of the grabber. */
static bool change_virtual(struct bench_settings *bench, const struct options *options,
                           struct problem *problem) {
    struct virtual_options *virtual = &bench->options;
    virtual->seed = options->seed_given ? options->seed : virtual->seed;
    if (options->grabber != NULL) {
        bench->impairments = (struct texts){0};
        if (!virtual_use_set(virtual, options->grabber, problem)) {
            return false;
        }
    }
    for (int i = 0; i < options->impairment_count; i++) {
        if (!virtual_add_impairment(virtual, options->impairments[i], problem) ||
            !say(&bench->impairments, options->impairments[i], problem)) {
            return false;
        }
    }
    virtual->grabber.noise_db = options->noise_given ? options->noise : virtual->grabber.noise_db;
    if (options->noise_given && !say_noise(&bench->impairments, options->noise, problem)) {
        return false;
    }
    for (int i = 0; i < options->fault_count; i++) {
        if (!virtual_add_fault(virtual, options->faults[i], problem) ||
            !say(&bench->faults, options->faults[i], problem)) {
            return false;
        }
    }
    return true;
}

bool setup_is_live(const struct bench_settings *bench) {
    return bench->kind == BENCH_BOARD && bench->video.where[0] != '\0' && video_is_live(bench->video.where);
}

/* --video, --input, --wait and --threads onto the bench. */
static bool change_video(struct bench_settings *bench, const struct options *options,
                         struct problem *problem) {
    struct bench_video *video = &bench->video;
    if (options->video != NULL) {
        if (options->video[0] == '\0' || strlen(options->video) >= sizeof video->where) {
            return problem_set(problem, PROBLEM_INPUT,
                               "--video '%.60s': give a device as in v4l2:/dev/video0, or file:PATH",
                               options->video);
        }
        snprintf(video->where, sizeof video->where, "%s", options->video);
    }
    if (options->input != NULL && !setup_is_live(bench)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--input: only a video device has inputs, and bench %s has none; give it video = "
                           "v4l2:/dev/video0, or leave --input out",
                           bench->name);
    }
    if (options->input != NULL) {
        snprintf(video->input, sizeof video->input, "%s", options->input);
    }
    video->wait_s = options->wait_s >= 0 ? options->wait_s : video->wait_s;
    video->threads = options->threads >= 0 ? options->threads : video->threads;
    return true;
}

/* Without a name: the board that was chosen or is there, or `virtual` for commands that need no board. */
static bool named_bench(struct bench_settings *bench, const struct options *options,
                        struct problem *problem) {
    const struct board_choice usb = {.way = BOARD_BY_USB, .baud = BAUD_DEFAULT};
    const bool board = options->wants_board || options->wants_reader || options->board != NULL ||
                       options->serial != NULL || options->video != NULL;
    if (options->bench != NULL || !board) {
        return bench_find(options->bench == NULL ? "virtual" : options->bench, options->benches,
                          options->standard, options->standard_given, bench, problem);
    }
    if (options->wants_reader) {
        bench_of_reader(&usb, bench);
    } else {
        bench_of_board(&usb, options->standard, bench);
    }
    return true;
}

static bool right_kind(const struct bench_settings *bench, const struct options *options,
                       struct problem *problem) {
    if (bench->kind == BENCH_READER && !options->wants_reader) {
        return problem_set(problem, PROBLEM_INPUT,
                           "bench %s is a reader of cartridges, which has no console and takes no image; see "
                           "`slotjig reader --help`",
                           bench->name);
    }
    return bench->kind != BENCH_BOARD || !options->wants_reader ||
           problem_set(problem, PROBLEM_INPUT,
                       "bench %s is a cartridge board in a console; name a bench of kind reader",
                       bench->name);
}

bool setup_bench(struct bench_settings *bench, const struct options *options, struct problem *problem) {
    if (!named_bench(bench, options, problem)) {
        return false;
    }
    const bool broken = options->fault_count > 0 || options->noise_given || options->seed_given ||
                        options->grabber != NULL || options->impairment_count > 0;
    const bool chosen = options->board != NULL || options->serial != NULL || options->baud != 0;
    if (!right_kind(bench, options, problem)) {
        return false;
    }
    if (bench->kind != BENCH_VIRTUAL && broken) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "--fault, --grabber, --impair, --noise and --seed are for virtual benches, and bench %s has a "
            "real %s; say --bench virtual",
            bench->name, bench->kind == BENCH_BOARD ? "console" : "cartridge");
    }
    if (bench->kind == BENCH_VIRTUAL && chosen) {
        return problem_set(
            problem, PROBLEM_INPUT,
            "--board, --serial and --baud are for real boards, and bench %s is a virtual one; leave "
            "--bench out",
            bench->name);
    }
    if (bench->kind == BENCH_VIRTUAL && options->video != NULL) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--video: bench %s is a virtual one, which has its own; leave --bench out",
                           bench->name);
    }
    if (!change_video(bench, options, problem)) {
        return false;
    }
    if (options->screen != NULL) {
        bench->watched = strcmp(options->screen, "watched") == 0;
    }
    return bench->kind != BENCH_VIRTUAL ? choose_board(&bench->board, options, problem)
                                        : change_virtual(bench, options, problem);
}

/* --hold as it was given. */
static bool given_hold(const struct plan *plan, const struct options *options, int *hold,
                       struct problem *problem) {
    const int least = rom_hold_least(plan);
    if (options->calm) {
        return problem_set(problem, PROBLEM_INPUT, "--hold and --calm: both say how long; give one");
    }
    *hold = options->hold;
    return options->hold >= least ||
           problem_set(problem, PROBLEM_INPUT, "--hold %d: plan %s needs at least %d fields a step",
                       options->hold, plan->name, least);
}

bool setup_hold(const struct plan *plan, bool watched, const struct options *options, int *hold,
                struct problem *problem) {
    if (options->hold != 0) {
        return given_hold(plan, options, hold, problem);
    }
    *hold = options->calm ? flashing_calm_hold(plan, problem)
            : options->by_eye && !plan_counts(plan)
                ? (int)ceil(flash_rate(plan->standard) * HOLD_BY_EYE_SECONDS)
                : flashing_usual_hold(plan, watched, problem);
    return *hold > 0;
}

bool setup_make(struct setup *setup, const struct options *options, struct problem *problem) {
    return setup_bench(&setup->bench, options, problem) && setup_image(setup, options, problem);
}

/* Whether people may come to see what this bench is given. The virtual one shows nothing to anybody, and is
 * asked nothing unless the command line speaks of people: then it goes as on a bench with a screen. */
static bool is_shown(const struct bench_settings *bench, const struct options *options) {
    const bool to_board = bench->kind == BENCH_BOARD && bench->board.way != BOARD_NONE && !options->no_push;
    const bool rehearsed = bench->kind == BENCH_VIRTUAL &&
                           (options->agreed_to_flashing || (options->screen != NULL && bench->watched));
    return to_board || options->by_eye || rehearsed;
}

bool setup_image(struct setup *setup, const struct options *options, struct problem *problem) {
    const bool watched = setup->bench.watched || options->by_eye;
    if (!setup_plan(options, setup->bench.options.standard, &setup->plan, problem) ||
        (options->by_eye && !by_eye_possible(setup->plan, problem)) ||
        !setup_hold(setup->plan, watched, options, &setup->hold, problem)) {
        return false;
    }
    if (is_shown(&setup->bench, options) &&
        !flashing_allowed(setup->plan, setup->hold, watched, options, &setup->flashing, problem)) {
        return false;
    }
    const struct rom_options rom = {.hold = setup->hold, .size = options->size, .dark = setup->flashing.dark};
    return rom_build(setup->plan, &rom, &setup->image, problem);
}

void setup_free_image(struct setup *setup) {
    if (setup->image != NULL) {
        rom_free(setup->image);
    }
    if (setup->plan != NULL) {
        plan_free(setup->plan);
    }
    setup->image = NULL;
    setup->plan = NULL;
}

void setup_free(struct setup *setup) {
    setup_free_image(setup);
    *setup = (struct setup){0};
}

struct link_image setup_link_image(const struct setup *setup) {
    struct link_image image = {
        .bytes = setup->image->bytes, .size = setup->image->size, .flags = WIRE_IMAGE_MAILBOX};
    link_scheme(image.size, &image.scheme);
    if (setup->plan->kind == PLAN_CARTRIDGE) { /* no mailbox: it is meant for a cartridge that has none */
        image.scheme = (enum wire_scheme)setup->plan->check.scheme;
        image.flags = setup->plan->check.ram ? WIRE_IMAGE_RAM : 0;
    }
    return image;
}

bool setup_show(const struct setup *setup, struct bench_board *board, struct problem *problem) {
    const struct link_image image = setup_link_image(setup);
    return bench_board_push(board, &image, problem) &&
           (!bench_board_needs_restart(board) || bench_board_restart(board, problem));
}

bool setup_load(const struct setup *setup, const struct options *options, struct bench_board *board,
                struct problem *problem) {
    const struct bench_board_options how = {.progress = !options->quiet && isatty(STDERR_FILENO),
                                            .cartridge = setup->plan->kind == PLAN_CARTRIDGE};
    if (!bench_board_open(board, &setup->bench, &how, problem)) {
        return false;
    }
    if (!options->flashing_told || setup->flashing.dark > 0) {
        flashing_tell(&setup->flashing);
    }
    return setup_show(setup, board, problem);
}

bool setup_open_video(const struct bench_settings *bench, const struct bench_board *board,
                      struct video_source *source, struct problem *problem) {
    if (board->stand != NULL) {
        virtual_stand_video(board->stand, source);
        return true;
    }
    const struct video_request request = bench_request(bench);
    return video_open(&request, source, problem);
}

bool setup_start(const struct setup *setup, const struct options *options, struct bench_board *board,
                 struct video_source *source, struct problem *problem) {
    *source = (struct video_source){0};
    if (setup->bench.kind == BENCH_VIRTUAL) {
        return setup_load(setup, options, board, problem) &&
               setup_open_video(&setup->bench, board, source, problem);
    }
    return setup_open_video(&setup->bench, board, source, problem) &&
           setup_load(setup, options, board, problem);
}

bool setup_write_plan(const struct setup *setup, const char *folder, struct problem *problem) {
    char path[4096];
    char *text = plan_text(setup->plan);
    if (text == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "%s: out of memory for the plan file", folder);
    }
    bool good = outcome_path(folder, "plan.ini", path, sizeof path, problem) &&
                output_write(path, text, strlen(text), problem);
    free(text);
    return good;
}

struct report setup_report(const struct setup *setup, const struct result *result, int exit) {
    const bool virtual = setup->bench.kind == BENCH_VIRTUAL;
    return (struct report){.command = "run",
                           .plan = setup->plan,
                           .bench = setup->bench.name,
                           .result = result,
                           .hash = setup->image->hash,
                           .hold = setup->hold,
                           .seed = setup->bench.options.seed,
                           .has_seed = virtual,
                           .exit = exit,
                           .faults = &setup->bench.faults,
                           .grabber = virtual ? setup->bench.options.grabber.set : NULL,
                           .impairments = &setup->bench.impairments};
}
