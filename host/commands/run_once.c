#include "commands/run_once.h"

#include "base/output.h"
#include "base/stop.h"
#include "commands/against.h"
#include "commands/bench_board.h"
#include "commands/board_feed.h"
#include "commands/board_report.h"
#include "commands/by_eye.h"
#include "commands/commands.h"
#include "commands/outcome.h"
#include "commands/recorder.h"
#include "commands/session.h"
#include "commands/setup.h"
#include "commands/slot_report.h"
#include "commands/soak.h"

#include <math.h>
#include <sched.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

/* Image and settings beside the failing fields, so that anyone can judge them again. */
static bool write_evidence(const struct setup *setup, const struct options *options,
                           struct problem *problem) {
    char path[4096];
    return outcome_path(options->out, "image.bin", path, sizeof path, problem) &&
           output_write(path, setup->image->bytes, setup->image->size, problem) &&
           outcome_path(options->out, "image.asm", path, sizeof path, problem) &&
           output_write(path, setup->image->listing, strlen(setup->image->listing), problem) &&
           setup_write_plan(setup, options->out, problem);
}

/* The result as it stands in the folder, whatever --json was. */
static bool write_result(const struct report *report, const char *folder, struct problem *problem) {
    char path[4096];
    return outcome_path(folder, "result.json", path, sizeof path, problem) &&
           json_write(json_result(report), path, problem);
}

/* What the console model was asked for and does not have is said, never dropped. */
static void tell_notes(const struct bench_board *board) {
    struct virtual_notes notes;
    if (board->stand == NULL) {
        return;
    }
    virtual_stand_notes(board->stand, &notes);
    if (notes.unmodelled_writes > 0) {
        fprintf(stderr,
                "slotjig: note: the program wrote %llu times to something the virtual console does not model "
                "(last: $%04X)\n",
                (unsigned long long)notes.unmodelled_writes, notes.unmodelled_last);
    }
}

/* A run at work: the bench, and what is seen on it. */
struct run {
    struct setup *setup;
    const struct options *options;
    struct options chosen; /* what was found out on the way is in it */
    struct bench_board board;
    struct video_source video; /* next NULL: not open */
    struct keeper keeper;
    struct session session;
    struct against *against; /* NULL: not asked for */
    struct recorder *recorder;
    struct board_feed feed;
    uint8_t streams; /* of values, begun so far */
    bool unseen;     /* the bench failed before any video was looked at */
};

/* The folder for the result. Where nothing was seen, an earlier run's files are worth more: NULL. */
static const char *folder_of(const struct run *run) {
    char path[4096];
    struct problem ignored;
    const char *folder = run->options->out;
    const bool keeps = run->unseen && folder != NULL &&
                       outcome_path(folder, "result.json", path, sizeof path, &ignored) &&
                       access(path, F_OK) == 0;
    return keeps ? NULL : folder;
}

static bool write_all(struct run *run, const struct report *report, struct problem *problem) {
    struct options options = *run->options;
    options.out = folder_of(run);
    return outcome_write(report, &options, run->session.keeper, problem) &&
           against_tell(run->against, &options, problem) &&
           (options.out == NULL ||
            (write_evidence(run->setup, &options, problem) && write_result(report, options.out, problem) &&
             recorder_page(run->recorder, options.out, problem)));
}

static struct report_capture capture_of(const struct run *run) {
    const struct session *session = &run->session;
    struct report_capture capture = {0};
    if (!run->unseen) {
        capture = (struct report_capture){&session->about, &session->counts, frames_facts(session->frames)};
    }
    return capture;
}

/* Into the store before anything is written: the JSON says where it is. */
static bool keep_record(struct run *run, struct report *report, bool stopped, struct problem *problem) {
    const struct recorder_end end = {.report = report,
                                     .bench = &run->setup->bench,
                                     .board = &run->board,
                                     .keeper = run->unseen ? NULL : run->session.keeper,
                                     .seen_by_eye = run->options->by_eye,
                                     .stopped = stopped};
    return recorder_keep_report(run->recorder, report, &end, problem);
}

/* lost: why the loop ended early, or NULL. */
static int conclude(struct run *run, const struct problem *lost) {
    struct problem problem = {0}, unkept = {0}, stop = {0};
    struct result result = *run->session.result;
    struct slot_report slot = {0};
    int status = lost != NULL ? EXIT_BENCH : verdict_exit(result.verdict);
    const bool stopped = lost == NULL && session_was_stopped(&run->session, &stop);
    if (lost != NULL) {
        result.verdict = VERDICT_INCONCLUSIVE;
    }
    if (run->unseen) {
        result.finding_count = 0; /* nothing can be said of a video that was not looked at */
    }
    if (result.verdict != VERDICT_PASS) {
        const struct link_image image = setup_link_image(run->setup);
        slot_look(&run->board, &image, run->unseen ? SLOT_VIDEO_UNKNOWN : slot_video_of(run->session.result),
                  &slot);
        slot_add_findings(&slot, &result);
    }
    struct report report = setup_report(run->setup, &result, status);
    report.capture = capture_of(run);
    report.problem = lost != NULL ? lost->text : stopped ? stop.text : NULL;
    report.more =
        json_pack("{s:s,s:o,s:o,s:o}", "console", recorder_console(run->recorder, &run->setup->bench),
                  "signal", run_record_signal(&run->setup->bench), "board", board_json(&run->board), "slot",
                  slot_report_json(&slot));
    if (plan_counts(run->setup->plan)) {
        json_object_set_new(report.more, "feed", json_string(run->session.fed ? "mailbox" : "free"));
    }
    report.exit = status = against_conclude(run->against, &result, report.bench, status, report.more);
    outcome_tell(&report, run->options); /* before the store is waited for */
    const bool kept = keep_record(run, &report, stopped, &unkept);
    const bool good = write_all(run, &report, &problem);
    recorder_tell(run->recorder);
    json_decref(report.more);
    if (lost != NULL) {
        status = command_refuse(lost);
    } else if (!good) {
        status = command_refuse(&problem);
    }
    return kept ? status : command_refuse(&unkept);
}

/* What was seen is told, kept and written, also where a person stops slotjig while it waits for the store. */
static int finish(struct run *run, const struct problem *lost) {
    stop_catch();
    const int status = conclude(run, lost);
    stop_release();
    return status;
}

/* Nothing was seen: the JSON says so for every step, where a script or a person looks for it. */
static int finish_unseen(struct run *run, struct problem *why) {
    run->session = (struct session){.plan = run->setup->plan, .hash = run->setup->image->hash};
    run->session.judge = judge_new(run->setup->plan, run->setup->image->hash);
    if (run->session.judge == NULL) {
        return command_refuse(why);
    }
    run->session.result = judge_result(run->session.judge);
    run->unseen = true;
    if (run->options->out != NULL && folder_of(run) == NULL) {
        const struct problem first = *why;
        problem_set(why, first.kind, "%.400s; %.120s keeps what an earlier run left there", first.text,
                    run->options->out);
    }
    return finish(run, why);
}

/* What is shown, read and kept from here on. */
static bool begin_session(struct run *run, struct problem *problem) {
    const struct setup *setup = run->setup;
    const bool live = run->board.stand != NULL || setup_is_live(&setup->bench);
    const bool told = live && board_feed_possible(setup->plan, run->board.link);
    if (run->options->out != NULL) {
        outcome_clear(run->options->out);
    }
    if (run->recorder->wanted && !keeper_init(&run->keeper, run->options->out, setup->plan, problem)) {
        return false;
    }
    recorder_look(run->recorder, &run->board);
    run->session = (struct session){.plan = setup->plan,
                                    .hash = setup->image->hash,
                                    .hold = live ? setup->hold : 0,
                                    .dark = setup->flashing.dark,
                                    .rounds = setup_rounds(run->options),
                                    .seconds = 60 * run->options->for_minutes,
                                    .silence_s = SESSION_SILENCE_S + (live ? setup->bench.video.wait_s : 0),
                                    .keeper = run->recorder->wanted ? &run->keeper : NULL,
                                    .progress = run->board.progress};
    if (told) {
        /* Another stream than an earlier run's, whose values the board may still have. */
        run->session.feed =
            board_feed_start(&run->feed, run->board.link, (uint8_t)(getpid() + run->streams++));
    }
    return true;
}

/* What a grabber that mixes lines or fields needs. */
static void choose_again(const struct session *session, struct options *options) {
    const bool lines = session->again == AGAIN_LINES;
    *(lines ? &options->lines : &options->hold) =
        lines ? judge_repeat_wanted(session->judge) : SESSION_HOLD_BLENDED;
    if (options->quiet) {
        return;
    }
    if (lines) {
        fprintf(stderr,
                "slotjig: note: the grabber mixes lines: from here on each pattern stands on %d of them\n",
                options->lines);
    } else {
        fprintf(stderr,
                "slotjig: note: the grabber mixes fields, or loses many: from here on each picture "
                "stands for %d of them\n",
                options->hold);
    }
}

/* The same plan in another way. */
static bool begin_again(struct run *run, struct problem *problem) {
    struct setup *setup = run->setup;
    choose_again(&run->session, &run->chosen);
    session_free(&run->session);
    keeper_free(&run->keeper);
    setup_free_image(setup);
    return setup_image(setup, &run->chosen, problem) && setup_show(setup, &run->board, problem) &&
           begin_session(run, problem);
}

/* Once more for the lines and once for the fields at most, where nobody said how many. */
static bool run_session(struct run *run, struct problem *why) {
    for (;;) {
        const bool may = run->setup->plan->kind == PLAN_EVERY && run->session.hold > 0 && run->board.pushed;
        const bool check =
            run->setup->plan->kind == PLAN_CARTRIDGE && run->session.hold > 0 && run->board.pushed;
        run->session.may_lines = may && run->chosen.lines == 0;
        run->session.may_hold = (may || check) && run->chosen.hold == 0;
        if (!session_run(&run->session, &run->video, why)) {
            return false;
        }
        if (run->session.again == AGAIN_NOT) {
            return keeper_finish(&run->keeper, why);
        }
        if (!begin_again(run, why)) {
            return false;
        }
    }
}

static int watch(struct run *run) {
    struct problem why = {0};
    if (!begin_session(run, &why)) {
        return command_refuse(&why);
    }
    const bool good = run_session(run, &why);
    if (run->session.result != NULL) {
        return finish(run, good ? NULL : &why);
    }
    /* The board was lost while it was given the other image. */
    return run->setup->image != NULL && why.kind == PROBLEM_BENCH ? finish_unseen(run, &why)
                                                                  : command_refuse(&why);
}

/* A virtual bench runs ahead of the judge, in threads of its own where there is more than one processor. */
static bool run_ahead(const struct run *run, struct problem *problem) {
    cpu_set_t processors;
    const bool several =
        sched_getaffinity(0, sizeof processors, &processors) == 0 && CPU_COUNT(&processors) > 1;
    return run->board.stand == NULL ||
           virtual_stand_run_ahead(run->board.stand, several && run->setup->bench.video.threads != 1,
                                   problem);
}

/* Whoever leaves a real console to itself hears first what that needs. */
static void tell_soak(const struct run *run) {
    const struct options *options = run->options;
    const bool soak =
        run->setup->plan->kind == PLAN_CARTRIDGE && setup_rounds(options) == 0 && !options->soak_told;
    if (soak && setup_is_live(&run->setup->bench)) {
        soak_tell(stderr, (int)ceil(options->for_minutes));
    }
}

/* With a person looking no video is. */
static bool prepare(struct run *run, struct problem *problem) {
    return run->options->by_eye ? setup_load(run->setup, run->options, &run->board, problem)
                                : setup_start(run->setup, run->options, &run->board, &run->video, problem) &&
                                      run_ahead(run, problem);
}

/* A person needs no virtual console: the image goes into a cartridge of theirs. */
static int carry_out(struct setup *setup, const struct options *options, struct against *against,
                     struct recorder *recorder) {
    struct run run = {.setup = setup,
                      .options = options,
                      .chosen = *options,
                      .against = against,
                      .recorder = recorder,
                      .board = {.settings = &setup->bench}};
    struct problem problem = {0};
    const bool by_hand = options->by_eye && setup->bench.kind == BENCH_VIRTUAL;
    int status = EXIT_BENCH;
    tell_soak(&run);
    if (!by_hand && !prepare(&run, &problem)) {
        status = problem.kind == PROBLEM_INPUT ? command_refuse(&problem) : finish_unseen(&run, &problem);
    } else if (options->by_eye) {
        if (options->out != NULL) {
            outcome_clear(options->out);
        }
        if (by_hand) {
            flashing_tell(&setup->flashing);
        }
        status = by_eye_run(setup, options, by_hand ? NULL : &run.board, recorder);
    } else {
        status = watch(&run);
        tell_notes(&run.board);
    }
    session_free(&run.session);
    keeper_free(&run.keeper);
    if (run.video.next != NULL) {
        run.video.close(run.video.state);
    }
    bench_board_close(&run.board);
    return status;
}

static bool can_run(const struct setup *setup, const struct options *options, struct problem *problem) {
    if (options->by_eye && options->fault_count + options->impairment_count > 0) {
        return problem_set(problem, PROBLEM_INPUT,
                           "--fault and --impair: only the virtual bench can be broken, not what a person "
                           "looks at");
    }
    if (options->by_eye || setup->bench.kind == BENCH_VIRTUAL || setup->bench.video.where[0] != '\0') {
        return true;
    }
    return problem_set(
        problem, PROBLEM_INPUT,
        "bench %s has no video; give it video = v4l2:/dev/video0 or file:PATH (`slotjig doctor "
        "--write` finds one), or say --by-eye and look yourself",
        setup->bench.name);
}

int run_once(const struct options *options, const struct run_place *place) {
    struct problem problem = {0};
    struct setup setup = {0};
    struct against *against = NULL;
    struct recorder recorder = {0};
    int status = EXIT_BENCH;
    if ((options->out != NULL && !output_folder(options->out, &problem)) ||
        !output_ready(options->json, &problem) || !setup_make(&setup, options, &problem) ||
        !can_run(&setup, options, &problem) || !against_open(options, setup.plan, &against, &problem) ||
        !recorder_start(&recorder, options, place, !options->no_record, &problem)) {
        status = command_refuse(&problem);
    } else {
        status = carry_out(&setup, options, against, &recorder);
        if (place != NULL && place->run != NULL) {
            *place->run = recorder.kept ? recorder.record->run.id : 0;
        }
    }
    recorder_free(&recorder);
    against_free(against);
    setup_free(&setup);
    return status;
}
