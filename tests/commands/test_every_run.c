/*
 * Plan `every` from the command line and in the loop, shortened to 2^18 patterns and less: all are seen
 * though fields are lost, by mailbox and free-running, in the fields that arithmetic allows; the same seed
 * gives the same answer with threads and without; a grabber that mixes lines or fields is found out and given
 * what it needs; a fault that spoils half of all pictures is counted exactly and fills no disk.
 */
#include "commands/loop.h"
#include "commands/program.h"
#include "plan/every.h"
#include "slotjig/wire.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { BURST = 200, AT = 500 };
#define DROP 0.05

static bool small(void) {
    const char *text = getenv("SLOTJIG_TEST_SMALL");
    return text != NULL && strcmp(text, "1") == 0;
}

/* Patterns of the longer runs. */
static int patterns(void) {
    return small() ? 1 << 16 : 1 << 18;
}

/* Fields of one round [A]: 168 patterns a field, each mode by itself. */
static int round_of(int count) {
    const int a_field = 168;
    return 2 * ((count / 2 + a_field - 1) / a_field);
}

/* ---- the command line ---- */

static json_t *run(int status, const char *arguments) {
    char line[600];
    json_error_t error;
    snprintf(line, sizeof line, "run --bench virtual %s --quiet --no-record --json -", arguments);
    program_slotjig(status, line);
    json_t *json = json_loads(program_said(), 0, &error);
    if (json == NULL) {
        fail_msg("%s: %s: %s", arguments, error.text, program_said());
    }
    return json;
}

static long long number(const json_t *json, const char *object, const char *key) {
    const json_t *value = json_object_get(json_object_get(json, object), key);
    assert_true(json_is_integer(value));
    return json_integer_value(value);
}

static void sees_all(const json_t *json, int count) {
    assert_int_equal(number(json, "coverage", "seen"), count);
    assert_int_equal(number(json, "coverage", "of"), count);
    assert_int_equal(number(json, "coverage", "open"), 0);
    assert_int_equal(number(json, "wrong", "pictures"), 0);
}

/* Nothing is lost: each base is shown once, and no field more is looked at [A]. */
static void test_no_field_too_many(void **state) {
    (void)state;
    static const char *const standards[] = {"ntsc", "pal"};
    static const int lines[] = {168, 204};
    enum { COUNT = 1 << 15 };
    for (int i = 0; i < 2; i++) {
        char arguments[100];
        snprintf(arguments, sizeof arguments, "--plan every:%d --standard %s", COUNT, standards[i]);
        json_t *json = run(0, arguments);
        sees_all(json, COUNT);
        assert_int_equal(number(json, "fields", "seen"), 2 * ((COUNT / 2 + lines[i] - 1) / lines[i]));
        json_decref(json);
    }
}

/* A share p of what is shown is lost, so n fields that must be seen take n / (1 - p); the burst comes on top
 * [A]; a tenth more is allowed. Of the burst the slates' counter, modulo 64, shows only 200 - 3 * 64. */
static void test_mailbox(void **state) {
    (void)state;
    /* At the board, through bench and grabber, and until the next message [A]: what a tenth of a short round
     * does not cover when the last base is lost. */
    enum { ON_ITS_WAY = 40 + 26 + 32 };
    char arguments[200];
    snprintf(arguments, sizeof arguments, "--plan every:%d --impair drop=0.05 --impair burst=%d:%d",
             patterns(), small() ? 100 : AT, BURST);
    json_t *json = run(0, arguments);
    sees_all(json, patterns());
    assert_string_equal(json_string_value(json_object_get(json, "feed")), "mailbox");
    const json_t *fields = json_object_get(json_object_get(json, "capture"), "fields");
    const double shown = (double)json_integer_value(json_object_get(fields, "fresh")) +
                         (double)json_integer_value(json_object_get(fields, "lost")) + 3 * 64;
    const double most = (round_of(patterns()) / (1 - DROP) + BURST) * 1.1 + (small() ? ON_ITS_WAY : 0);
    if (shown > most) {
        fail_msg("%.0f fields, and arithmetic allows %.0f", shown, most);
    }
    assert_true(shown > round_of(patterns()) + 3 * 64);
    json_decref(json);
}

static void test_threads(void **state) {
    (void)state;
    static const char *const more[] = {"", "--impair drop=0.05 --impair noise=30", "--fault bit-high=PF1.3"};
    for (size_t i = 0; i < sizeof more / sizeof more[0]; i++) {
        char arguments[200];
        const int status = i == 2;
        snprintf(arguments, sizeof arguments, "--plan every:%d %s --threads 1", small() ? 4096 : 32768,
                 more[i]);
        json_decref(run(status, arguments));
        char *first = strdup(program_said());
        arguments[strlen(arguments) - 1] = '2';
        json_decref(run(status, arguments));
        if (strcmp(first, program_said()) != 0) {
            fail_msg("%s: not the same with threads", arguments);
        }
        free(first);
    }
}

static void test_grabbers_that_mix(void **state) {
    (void)state;
    static const struct {
        const char *how, *lines, *fields;
    } cases[] = {{"--impair comb=0.5", "3 of them", NULL}, {"--grabber blend", NULL, "3 of them"}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char line[300];
        snprintf(line, sizeof line, "run --bench virtual --plan every:8192 %s", cases[i].how);
        program_slotjig(0, line);
        program_says("8192 of 8192 pictures seen, 0 wrong, 0 open");
        (cases[i].lines != NULL ? program_says : program_says_not)("mixes lines");
        (cases[i].fields != NULL ? program_says : program_says_not)("mixes fields");
        snprintf(line, sizeof line, "--plan every:8192 %s", cases[i].how);
        json_t *json = run(0, line);
        sees_all(json, 8192);
        assert_int_equal(number(json, "settings", "lines"), cases[i].lines != NULL ? 3 : 1);
        assert_int_equal(number(json, "settings", "hold"), cases[i].fields != NULL ? 3 : 1);
        json_decref(json);
    }
}

/* What was said on the command line stands. */
static void test_lines_that_were_said(void **state) {
    (void)state;
    json_t *json = run(0, "--plan every:8192 --lines 3 --impair comb=0.5");
    sees_all(json, 8192);
    assert_int_equal(number(json, "settings", "lines"), 3);
    json_decref(json);
    program_slotjig(4, "run --bench virtual --plan every:8192 --lines 1 --impair comb=0.5");
    program_says_not("mixes lines:");
}

/* Nor can a file be shown again: judge says how to record it. */
static void test_recording_of_mixed_lines(void **state) {
    (void)state;
    char folder[] = "/tmp/every-XXXXXX", line[300];
    assert_non_null(mkdtemp(folder));
    snprintf(line, sizeof line,
             "grab --bench virtual --plan every:8192 --fields 60 --impair comb=0.5 -o %s/r.mkv", folder);
    program_slotjig(0, line);
    snprintf(line, sizeof line, "judge %s/r.mkv", folder);
    program_slotjig(4, line);
    program_says("with --lines 3");
    snprintf(line, sizeof line, "rm -r %s", folder);
    assert_int_equal(program_line(10, line), 0);
}

/* The same where the plan comes from a file, which says one line. */
static void test_lines_of_a_plan_file(void **state) {
    (void)state;
    char path[] = "/tmp/every-XXXXXX", arguments[200];
    const int file = mkstemp(path);
    assert_true(file >= 0);
    dprintf(file, "[plan]\nname = every\nstandard = ntsc\ncounts = every 8192 1\n");
    close(file);
    for (int said = 0; said < 2; said++) {
        snprintf(arguments, sizeof arguments, "--plan %s --impair comb=0.5%s", path,
                 said ? " --lines 3" : "");
        json_t *json = run(0, arguments);
        sees_all(json, 8192);
        assert_int_equal(number(json, "settings", "lines"), 3);
        json_decref(json);
    }
    unlink(path);
    program_slotjig(2, "run --bench virtual --plan bits --lines 2");
    program_says("only plan every has patterns");
}

/* A pattern is its place times an odd number, so every other one has bit 0 [A]. */
static void test_half_of_all_wrong(void **state) {
    (void)state;
    enum { COUNT = 1 << 14, FILE_MOST = 40 << 20 };
    char folder[] = "/tmp/every-XXXXXX", arguments[200], path[200];
    struct stat about;
    assert_non_null(mkdtemp(folder));
    snprintf(arguments, sizeof arguments, "--plan every:%d --fault bit-low=PF2.0 --out %s", COUNT, folder);
    json_t *json = run(1, arguments);
    assert_int_equal(number(json, "wrong", "pictures"), COUNT / 2);
    assert_int_equal(number(json, "coverage", "seen"), COUNT);
    assert_string_equal(
        json_string_value(json_object_get(json_array_get(json_object_get(json, "findings"), 0), "kind")),
        "bit_stuck_low");
    json_decref(json);
    snprintf(path, sizeof path, "%s/failing.mkv", folder);
    assert_int_equal(stat(path, &about), 0);
    assert_in_range(about.st_size, 1000, FILE_MOST);
    snprintf(path, sizeof path, "%s/steps.png", folder);
    assert_int_equal(stat(path, &about), -1); /* it has none */
    snprintf(arguments, sizeof arguments, "rm -r %s", folder);
    assert_int_equal(program_line(10, arguments), 0);
}

/* ---- free-running ---- */

/* A plain cartridge: the console goes round and round. The bench counts its fields, lost ones too. */
static void test_free_running(void **state) {
    (void)state;
    char plan[32], burst[32];
    struct virtual_options options;
    struct virtual_notes notes;
    struct loop loop;
    virtual_defaults(STANDARD_NTSC, &options);
    snprintf(plan, sizeof plan, "every:%d", patterns());
    snprintf(burst, sizeof burst, "burst=%d:%d", small() ? 100 : AT, BURST);
    assert_true(virtual_add_impairment(&options, "drop=0.05", &loop.problem));
    assert_true(virtual_add_impairment(&options, burst, &loop.problem));
    loop_hold = 1;
    if (!loop_run(&loop, plan, &options, NULL, NULL)) {
        fail_msg("%s", loop.problem.text);
    }
    const struct coverage *coverage = &loop.session.result->coverage;
    assert_int_equal(coverage->seen, patterns());
    assert_int_equal(coverage->of, patterns());
    assert_int_equal(coverage->wrong, 0);
    assert_false(loop.session.fed);
    virtual_notes(&loop.source, &notes);
    assert_in_range(notes.fields, round_of(patterns()) + BURST, 4 * round_of(patterns()));
    loop_end(&loop);
}

/* More is lost than four rounds can make good: it ends all the same, and does not say more than was seen. */
static void test_rounds_at_most(void **state) {
    (void)state;
    enum { COUNT = 1 << 16, SLACK = 128 };
    struct virtual_options options;
    struct loop loop;
    virtual_defaults(STANDARD_NTSC, &options);
    assert_true(virtual_add_impairment(&options, "drop=0.5", &loop.problem));
    loop_hold = 1;
    assert_true(loop_run(&loop, "every:65536", &options, NULL, NULL));
    const struct result *result = loop.session.result;
    assert_true(result->coverage.seen < COUNT && result->coverage.seen > COUNT / 2);
    assert_int_equal(result->verdict, VERDICT_INCONCLUSIVE);
    assert_in_range(result->fields_seen, 1, SESSION_ROUNDS_EVERY * (round_of(COUNT) + SLACK));
    loop_end(&loop);
}

/* ---- the feed ---- */

enum { ROOM = 3, VALUES = 2000 };

/* A board with little room, whose console comes to one value a field. */
struct scripted {
    const struct session *session;
    uint32_t taken[VALUES];
    size_t count, offers, most;
    bool fails;
};

static bool take_offer(void *user, const uint32_t *values, size_t count, struct session_queue *queue,
                       struct problem *problem) {
    struct scripted *scripted = user;
    scripted->offers++;
    scripted->most = count > scripted->most ? count : scripted->most;
    if (scripted->fails && scripted->offers == 4) {
        return problem_set(problem, PROBLEM_BENCH, "the board went away");
    }
    queue->taken = count < ROOM ? count : ROOM;
    queue->waiting = queue->taken;
    for (size_t i = 0; i < queue->taken && scripted->count < VALUES; i++) {
        scripted->taken[scripted->count++] = values[i];
    }
    return true;
}

static bool run_scripted(struct loop *loop, struct scripted *scripted) {
    struct virtual_options options;
    const struct rom_options rom = {.hold = 1};
    virtual_defaults(STANDARD_NTSC, &options);
    *loop = (struct loop){0};
    assert_true(every_plan(1 << 15, 1, STANDARD_NTSC, &loop->plan, &loop->problem));
    assert_true(rom_build(loop->plan, &rom, &loop->image, &loop->problem));
    assert_true(virtual_open(&options, loop->image->bytes, loop->image->size, &loop->source, &loop->problem));
    loop->session = (struct session){.plan = loop->plan,
                                     .hash = loop->image->hash,
                                     .hold = 1,
                                     .feed = {.user = scripted, .offer = take_offer}};
    return session_run(&loop->session, &loop->source, &loop->problem);
}

/* The board is asked once in eight fields at most, never given more than it is to hold, and what it had no
 * room for comes again, in order: bases as the judge wants them, which are those of a round from the first.
 */
static void test_feed(void **state) {
    (void)state;
    struct scripted scripted = {0};
    struct loop loop;
    assert_true(run_scripted(&loop, &scripted));
    assert_true(loop.session.fed);
    assert_int_equal(loop.session.result->verdict, VERDICT_PASS);
    assert_in_range(scripted.offers, 2, loop.session.result->fields_seen / 8 + 2);
    assert_in_range(scripted.most, ROOM + 1, WIRE_VALUES_QUEUE);
    for (size_t i = 0; i < scripted.count && i < 30; i++) {
        assert_int_equal(scripted.taken[i], every_base(&loop.plan->every, false, (uint32_t)i));
    }
    loop_end(&loop);
}

static void test_feed_that_is_lost(void **state) {
    (void)state;
    struct scripted scripted = {.fails = true};
    struct loop loop;
    assert_false(run_scripted(&loop, &scripted));
    assert_int_equal(loop.problem.kind, PROBLEM_BENCH);
    assert_non_null(strstr(loop.problem.text, "the board went away; until then "));
    assert_int_equal(loop.session.result->verdict, VERDICT_INCONCLUSIVE);
    loop_end(&loop);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_no_field_too_many),
        cmocka_unit_test(test_mailbox),
        cmocka_unit_test(test_threads),
        cmocka_unit_test(test_grabbers_that_mix),
        cmocka_unit_test(test_lines_that_were_said),
        cmocka_unit_test(test_recording_of_mixed_lines),
        cmocka_unit_test(test_lines_of_a_plan_file),
        cmocka_unit_test(test_half_of_all_wrong),
        cmocka_unit_test(test_free_running),
        cmocka_unit_test(test_rounds_at_most),
        cmocka_unit_test(test_feed),
        cmocka_unit_test(test_feed_that_is_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
