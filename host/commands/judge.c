#include "commands/commands.h"

#include "base/output.h"
#include "base/stop.h"
#include "commands/against.h"
#include "commands/outcome.h"
#include "commands/recorder.h"
#include "commands/recording.h"
#include "commands/session.h"
#include "commands/setup.h"
#include "plan/plan_file.h"

#include <stdio.h>
#include <unistd.h>

static const uint64_t takes = TAKES_PLAN | TAKES_STANDARD | TAKES_JSON | TAKES_OUT | TAKES_OPERANDS |
                              TAKES_LIVE | TAKES_THREADS | TAKES_AGAINST | TAKES_RECORD | TAKES_SOAK;

static int help(void) {
    printf(
        "usage: slotjig judge [--plan NAME|FILE] [options] FILE\n\n"
        "Judges a recording against a plan. FILE is anything FFmpeg opens, - is standard input; names ending "
        "in .yuv or .raw\n"
        "are packed YUYV 4:2:2 of the standard's size. How long a step was shown does not matter. Plan and "
        "standard that are\n"
        "not given are taken from FILE.json, which `slotjig grab` leaves. A device (v4l2:/dev/video0) is "
        "watched until every\n"
        "step was seen. With --console NAME it is recorded as that console's run (in "
        "$XDG_DATA_HOME/slotjig/records.sqlite).\n\n");
    options_help(takes);
    printf("\nexit: 0 pass, 1 fail, 2 wrong usage or input, 3 bench trouble, 4 inconclusive; a pass that "
           "differs "
           "from --against: 1\n");
    return EXIT_PASS;
}

/* What is judged, and against what. */
struct judging {
    const struct options *options;
    const char *file;
    struct recording recording;
    enum standard standard;
    struct plan *plan;
    struct image *image;
    struct against *against; /* NULL: not asked for */
    struct recorder recorder;
};

/* Into the store, and the report says where it is. */
static bool keep_record(struct judging *judging, struct report *report, const struct keeper *keeper,
                        bool stopped, struct problem *problem) {
    const struct recorder_end end = {
        .report = report, .keeper = keeper, .cartridge = "file", .stopped = stopped};
    return recorder_keep_report(&judging->recorder, report, &end, problem);
}

/* A file cannot be shown again in another way. */
static void tell_repeat(const struct judging *judging, const struct result *result) {
    if (result->repeat_wanted > 0 && !judging->options->quiet) {
        fprintf(stderr,
                "slotjig: note: the grabber of this video mixes lines: record it again, and judge it, with "
                "--lines %d\n",
                result->repeat_wanted);
    }
}

static int report_and_exit(struct judging *judging, const struct session *session, bool good,
                           const struct problem *why) {
    struct problem problem = {0}, unkept = {0}, stop = {0};
    const bool stopped = good && session_was_stopped(session, &stop);
    struct result result = *session->result;
    const struct recording *recording = &judging->recording;
    char name[1024], beside[1024];
    json_clean(judging->file, name, sizeof name);
    json_clean(recording->path, beside, sizeof beside);
    int status = good ? verdict_exit(result.verdict) : EXIT_BENCH;
    if (!good) {
        result.verdict = VERDICT_INCONCLUSIVE;
    }
    tell_repeat(judging, &result);
    struct report report = {.command = "judge",
                            .plan = session->plan,
                            .bench = name,
                            .result = &result,
                            .hash = session->hash,
                            .exit = status,
                            .capture = {&session->about, &session->counts, frames_facts(session->frames)},
                            .problem = !good     ? why->text
                                       : stopped ? stop.text
                                                 : NULL,
                            .more = json_pack("{s:o,s:s}", "recording",
                                              beside[0] != '\0' ? json_string(beside) : json_null(),
                                              "console", recorder_console(&judging->recorder, NULL))};
    report.exit = status = against_conclude(judging->against, &result, name, status, report.more);
    outcome_tell(&report, judging->options); /* before the store is waited for */
    const bool kept = keep_record(judging, &report, session->keeper, stopped, &unkept);
    bool written = outcome_write(&report, judging->options, session->keeper, &problem) &&
                   against_tell(judging->against, judging->options, &problem) &&
                   recorder_page(&judging->recorder, judging->options->out, &problem);
    recorder_tell(&judging->recorder);
    json_decref(report.more);
    if (!good || !written) {
        status = command_refuse(good ? &problem : why);
    }
    return kept ? status : command_refuse(&unkept);
}

/* There is no video to look at: JSON and record say so for every step, where a script looks for it. A wrong
 * name is told and not recorded. */
static int report_unseen(struct judging *judging, const struct problem *why) {
    int status = command_refuse(why);
    struct problem problem = {0}, unkept = {0};
    const bool wanted = judging->options->json != NULL || judging->recorder.keeps;
    struct judge *judge = wanted ? judge_new(judging->plan, judging->image->hash) : NULL;
    char name[1024];
    if (judge == NULL) {
        return status;
    }
    struct result result = *judge_result(judge);
    result.finding_count = 0; /* nothing can be said of a video that was not looked at */
    json_clean(judging->file, name, sizeof name);
    struct report report = {.command = "judge",
                            .plan = judging->plan,
                            .bench = name,
                            .result = &result,
                            .hash = judging->image->hash,
                            .exit = status,
                            .problem = why->text,
                            .more = json_pack("{s:n,s:n,s:s}", "recording", "record", "console",
                                              recorder_console(&judging->recorder, NULL))};
    const bool kept = status == EXIT_INPUT || keep_record(judging, &report, NULL, false, &unkept);
    if (judging->options->json != NULL &&
        !json_write(json_result(&report), judging->options->json, &problem)) {
        status = command_refuse(&problem);
    }
    json_decref(report.more);
    judge_free(judge);
    return kept ? status : command_refuse(&unkept);
}

static struct video_request request_of(const struct judging *judging) {
    const struct options *options = judging->options;
    return (struct video_request){.where = judging->file,
                                  .standard = judging->standard,
                                  .input = options->input,
                                  .wait_s = options->wait_s >= 0 ? options->wait_s : WAIT_DEFAULT_S,
                                  .threads = options->threads > 0 ? options->threads : 0};
}

static int judge_file(struct judging *judging) {
    const struct options *options = judging->options;
    const struct video_request request = request_of(judging);
    struct problem problem = {0};
    struct video_source source;
    struct keeper keeper = {0};
    if (!video_open(&request, &source, &problem)) {
        return report_unseen(judging, &problem);
    }
    struct session session = {.plan = judging->plan,
                              .hash = judging->image->hash,
                              .hold =
                                  video_is_live(judging->file) ? setup_watched_hold(judging->standard) : 0,
                              .rounds = setup_rounds(options),
                              .seconds = 60 * options->for_minutes,
                              .silence_s = SESSION_SILENCE_S + request.wait_s,
                              .progress = !options->quiet && isatty(STDERR_FILENO)};
    bool good = true;
    if (judging->recorder.wanted) {
        good = (options->out == NULL || output_folder(options->out, &problem)) &&
               keeper_init(&keeper, options->out, judging->plan, &problem);
        session.keeper = &keeper;
    }
    if (good && options->out != NULL) {
        outcome_clear(options->out);
    }
    good = good && session_run(&session, &source, &problem) && keeper_finish(&keeper, &problem);
    stop_catch(); /* what was seen is told, kept and written */
    int status = session.result == NULL ? command_refuse(&problem)
                                        : report_and_exit(judging, &session, good, &problem);
    stop_release();
    session_free(&session);
    keeper_free(&keeper);
    source.close(source.state);
    return status;
}

/* What is not said on the command line is taken from the file beside the recording, and that is told. */
static bool choose_plan(struct judging *judging, struct problem *problem) {
    const struct options *options = judging->options;
    const struct recording *recording = &judging->recording;
    const bool beside = recording->path[0] != '\0';
    const bool plan = beside && options->plan == NULL, standard = beside && !options->standard_given;
    judging->standard = standard ? recording->standard : options->standard;
    if ((plan || standard) && !options->quiet) {
        fprintf(stderr, "slotjig: note: %s%s%s of the recording as %s says\n", plan ? "plan" : "",
                plan && standard ? " and " : "", standard ? "standard" : "", recording->path);
    }
    return plan ? plan_file_text(recording->path, recording->plan, judging->standard, &judging->plan, problem)
                : setup_plan(options, judging->standard, &judging->plan, problem);
}

static bool prepare(struct judging *judging, struct problem *problem) {
    const struct rom_options rom = {.hold = HOLD_UNWATCHED}; /* the hash does not depend on it */
    const struct recording *recording = &judging->recording;
    if (!output_ready(judging->options->json, problem) || !choose_plan(judging, problem) ||
        !against_open(judging->options, judging->plan, &judging->against, problem) ||
        !rom_build(judging->plan, &rom, &judging->image, problem) ||
        !recorder_start(&judging->recorder, judging->options, NULL,
                        judging->options->console != NULL && !judging->options->no_record, problem)) {
        return false;
    }
    if (recording->path[0] != '\0' && recording->hash != judging->image->hash) {
        fprintf(stderr,
                "slotjig: note: %s says that image %04x was recorded, and plan %s is image %04x: fields of "
                "another image are not judged\n",
                recording->path, recording->hash, judging->plan->name, judging->image->hash);
    }
    return true;
}

int command_judge(int argc, char **argv) {
    struct options options;
    struct problem problem = {0};
    if (!options_parse(argc, argv, takes, &options, &problem)) {
        return command_refuse(&problem);
    }
    if (options.help) {
        return help();
    }
    if (options.operand_count != 1) {
        problem_set(&problem, PROBLEM_INPUT, "judge: name one video file; see `slotjig judge --help`");
        return command_refuse(&problem);
    }
    struct judging judging = {.options = &options, .file = options.operands[0]};
    recording_read(judging.file, &judging.recording);
    const int status = prepare(&judging, &problem) ? judge_file(&judging) : command_refuse(&problem);
    if (judging.image != NULL) {
        rom_free(judging.image);
    }
    if (judging.plan != NULL) {
        plan_free(judging.plan);
    }
    recorder_free(&judging.recorder);
    recording_free(&judging.recording);
    against_free(judging.against);
    return status;
}
