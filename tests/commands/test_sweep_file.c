/* Sweep files: what is read, what options change, what is refused at which line; and what makes two sweeps
 * the same. */
#include "commands/options.h"
#include "commands/sweep_file.h"
#include "commands/sweep_ready.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

enum { WORDS_MAX = 24 };

static char folder[] = "/tmp/slotjig-sweep-XXXXXX";

static void write_file(const char *name, const char *text) {
    FILE *file = fopen(name, "w");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

static int enter_folder(void **state) {
    (void)state;
    if (mkdtemp(folder) == NULL || chdir(folder) != 0) {
        return 1;
    }
    write_file("benches.ini",
               "[bench left]\nkind = virtual\nconsole = heavy\nrevision = 4\n"
               "[bench right]\nkind = virtual\nstandard = pal\nscreen = none\n"
               "[bench real]\nkind = board\nboard = none\nvideo = file:x.mkv\nscreen = none\n");
    write_file("two.ini", "[step one]\nPF1 = $81\n[step two]\nPF2 = $18\n");
    return 0;
}

static int leave_folder(void **state) {
    (void)state;
    static const char *const files[] = {"benches.ini", "two.ini", "s.ini", "deep/three.ini", "deep/s.ini"};
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        unlink(files[i]);
    }
    rmdir("deep");
    return chdir("/") != 0 || rmdir(folder) != 0;
}

/* Options as `sweep WORDS --benches benches.ini` gives them. */
static void parse(const char *words, struct options *options) {
    static char text[1000];
    static char *argv[WORDS_MAX];
    struct problem problem = {0};
    int argc = 0;
    snprintf(text, sizeof text, "sweep --benches benches.ini %s", words);
    for (char *word = strtok(text, " "); word != NULL; word = strtok(NULL, " ")) {
        assert_true(argc < WORDS_MAX - 1);
        argv[argc++] = word;
    }
    argv[argc] = NULL;
    const uint64_t takes = (uint64_t)TAKES_OPERANDS | TAKES_BENCHES | TAKES_STANDARD | TAKES_HOLD |
                           TAKES_FLASHING | TAKES_BENCH | TAKES_JSON | TAKES_STORE | TAKES_SWEEP;
    if (!options_parse(argc, argv, takes, options, &problem)) {
        fail_msg("%s", problem.text);
    }
}

/* ---- reading ---- */

static void a_file_is_read_whole(void **state) {
    (void)state;
    struct options options;
    struct sweep_wanted wanted;
    struct problem problem = {0};
    write_file("s.ini",
               "[sweep]\nname = autumn shelf\nplan = bits\nplan = two.ini\nrepeats = 3\nretries = 2\n"
               "[console <b>&\"']\nbench = left\nstandard = pal\nrevision = 4A\nmarkings = CO10444 D\n"
               "modifications = new caps\nfault = bit-low=PF1.3\nfault = late=4\n"
               "[console second]\nbench = right\n");
    parse("s.ini", &options);
    assert_true(sweep_wanted_read(&options, &wanted, &problem));
    assert_string_equal(wanted.name, "autumn shelf");
    assert_int_equal(wanted.repeats, 3);
    assert_int_equal(wanted.retries, 2);
    assert_int_equal(wanted.plan_count, 2);
    assert_string_equal(wanted.plans[1].name, "two.ini");
    assert_int_equal(wanted.plans[1].line, 4);
    assert_int_equal(wanted.console_count, 2);
    const struct sweep_console *console = &wanted.consoles[0];
    assert_string_equal(console->name, "<b>&\"'");
    assert_string_equal(console->bench, "left");
    assert_true(console->standard_given && console->standard == STANDARD_PAL);
    assert_string_equal(console->revision, "4A");
    assert_string_equal(console->markings, "CO10444 D");
    assert_string_equal(console->modifications, "new caps");
    assert_int_equal(console->faults.count, 2);
    assert_int_equal(console->line, 7);
    assert_false(wanted.consoles[1].standard_given);
    sweep_wanted_free(&wanted);
}

static void without_a_file_the_options_say_all(void **state) {
    (void)state;
    struct options options;
    struct sweep_wanted wanted;
    struct problem problem = {0};
    parse("--plan bits --plan every:64 --bench left --bench right --repeats 5 --retries 0", &options);
    assert_true(sweep_wanted_read(&options, &wanted, &problem));
    assert_string_equal(wanted.name, "sweep");
    assert_int_equal(wanted.plan_count, 2);
    assert_string_equal(wanted.plans[1].open, "every:64");
    assert_int_equal(wanted.console_count, 2);
    assert_string_equal(wanted.consoles[1].bench, "right");
    assert_int_equal(wanted.repeats, 5);
    assert_int_equal(wanted.retries, 0);
    sweep_wanted_free(&wanted);
    parse("", &options);
    assert_true(sweep_wanted_read(&options, &wanted, &problem));
    assert_string_equal(wanted.plans[0].name, "bits");
    assert_string_equal(wanted.consoles[0].bench, "virtual");
    assert_int_equal(wanted.repeats, 1);
    assert_int_equal(wanted.retries, 1);
    sweep_wanted_free(&wanted);
}

static void options_go_before_the_file(void **state) {
    (void)state;
    struct options options;
    struct sweep_wanted wanted;
    struct problem problem = {0};
    write_file("s.ini",
               "[sweep]\nplan = bits\nrepeats = 3\n[console a]\nbench = left\n[console b]\nbench = right\n"
               "[console c]\nbench = left\n");
    parse("s.ini --plan two.ini --bench left --repeats 2", &options);
    assert_true(sweep_wanted_read(&options, &wanted, &problem));
    assert_string_equal(wanted.name, "s"); /* the file's, without its ending */
    assert_int_equal(wanted.plan_count, 1);
    assert_string_equal(wanted.plans[0].name, "two.ini");
    assert_int_equal(wanted.repeats, 2);
    assert_int_equal(wanted.console_count, 2);
    assert_string_equal(wanted.consoles[1].name, "c");
    sweep_wanted_free(&wanted);
}

/* A plan file named in a sweep file lies beside it. */
static void plans_are_found_beside_the_file(void **state) {
    (void)state;
    struct options options;
    struct sweep_wanted wanted;
    struct problem problem = {0};
    assert_int_equal(system("mkdir -p deep"), 0);
    write_file("deep/three.ini", "[step one]\nPF1 = $81\n");
    write_file("deep/s.ini",
               "[sweep]\nplan = three.ini\nplan = bits\nplan = /tmp/x.ini\nplan = drawing:a.png\n"
               "plan = every:64\n");
    parse("deep/s.ini", &options);
    assert_true(sweep_wanted_read(&options, &wanted, &problem));
    assert_string_equal(wanted.plans[0].name, "three.ini");
    assert_string_equal(wanted.plans[0].open, "deep/three.ini");
    assert_string_equal(wanted.plans[1].open, "bits");
    assert_string_equal(wanted.plans[2].open, "/tmp/x.ini");
    assert_string_equal(wanted.plans[3].open, "drawing:deep/a.png");
    assert_string_equal(wanted.plans[4].open, "every:64");
    sweep_wanted_free(&wanted);
}

/* ---- refused ---- */

#define SHELF "[sweep]\nplan = bits\n[console a]\nbench = left\n"
static const struct {
    const char *file, *words, *said; /* what the one line begins with, or holds */
} refusals[] = {
    {"", "s.ini", "s.ini: neither [sweep] nor [console NAME]"},
    {"[sweep]\nplan = bits\n[sweep]\n", "s.ini", "s.ini:3: [sweep] is there twice"},
    {"repeats = 3\n", "s.ini", "s.ini:1: 'repeats' before any section"},
    {"[sweeps]\n", "s.ini", "s.ini:1: unknown section [sweeps]"},
    {"[sweep]\nplans = bits\n", "s.ini", "s.ini:2: unknown key 'plans'"},
    {"[sweep]\nrepeats = 0\n", "s.ini", "s.ini:2: repeats = 0: give a whole number from 1"},
    {"[sweep]\nrepeats = three\n", "s.ini", "s.ini:2: repeats = three"},
    {"[sweep]\nrepeats = 3\nrepeats = 4\n", "s.ini", "s.ini:3: 'repeats' is there twice"},
    {"[sweep]\nretries = -1\n", "s.ini", "s.ini:2: retries = -1"},
    {"[sweep]\nretries = 101\n", "s.ini", "s.ini:2: retries = 101"},
    {"[sweep]\nname =\n", "s.ini", "s.ini:2: name: give a text"},
    {"[sweep]\nplan =\n", "s.ini", "s.ini:2: plan = : give a name"},
    {"[sweep]\nplan = bits\nplan = bits\n", "s.ini", "s.ini:3: plan bits is there twice"},
    {"[sweep]\nplan = nosuch\n[console a]\nbench = left\n", "s.ini", "s.ini:2: 'nosuch' is no built-in plan"},
    {"[sweep]\nplan = every:x\n[console a]\nbench = left\n", "s.ini", "s.ini:2: --plan every:x: how many"},
    {"[console ]\n", "s.ini", "s.ini:1: a console needs a name"},
    {"[console a]\nbench = left\n[console a]\nbench = left\n", "s.ini",
     "s.ini:3: console 'a' is there twice"},
    {"[console a]\nrevision = 4\n[console b]\nbench = left\n", "s.ini", "s.ini:1: the console has no bench"},
    {"[console a]\nbench = left\n[console b]\n", "s.ini", "s.ini:3: the console has no bench"},
    {"[console a]\nbench = left\nbench = right\n", "s.ini", "s.ini:3: 'bench' is there twice"},
    {"[console a]\nbench = nosuch\n", "s.ini", "s.ini:1: no bench 'nosuch'"},
    {"[console a]\nbench = left\nstandard = mesecam\n", "s.ini", "s.ini:3: "},
    {"[console a]\nbench = left\nfault = wobble\n", "s.ini", "s.ini:3: "},
    {"[console a]\nbench = left\ncolour = red\n", "s.ini", "s.ini:3: unknown key 'colour'"},
    {"[console a]\nbench = real\nfault = late=4\n", "s.ini", "s.ini:1: console 'a' has a fault"},
    {SHELF, "s.ini --bench right", "--bench right: no console of s.ini is on it"},
    {SHELF, "s.ini other.ini", "other.ini: a sweep has one file"},
    {SHELF, "nothere.ini", "nothere.ini: cannot be read"},
    {SHELF, "--bench left --bench left", "--bench left is there twice"},
    {SHELF, "--plan bits --plan bits", "plan bits is there twice"},
    {SHELF, "--bench nosuch", "no bench 'nosuch'"},
    {SHELF, "s.ini --hold 4 --calm", "--hold and --calm"},
    {"[console a]\nbench = real\n", "s.ini --seed 7", "--seed: only virtual benches"},
    {SHELF, "s.ini --screen watched --hold 4", "flashing"},
    {"[sweep]\nplan = bits\n[console a]\nbench = left\n[console heavy]\nbench = right\n",
     "--bench left --bench real --fault late=4", "--fault"},
};

static void what_is_wrong_is_told_in_one_line(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof refusals / sizeof refusals[0]; i++) {
        struct options options;
        struct sweep_wanted wanted;
        struct sweep_ready ready = {0};
        struct problem problem = {0};
        write_file("s.ini", refusals[i].file);
        parse(refusals[i].words, &options);
        const bool good = sweep_wanted_read(&options, &wanted, &problem) &&
                          sweep_ready_make(&wanted, &options, &ready, &problem);
        if (good || problem.kind != PROBLEM_INPUT || strstr(problem.text, refusals[i].said) == NULL ||
            strchr(problem.text, '\n') != NULL) {
            fail_msg("%s with '%s': %s", refusals[i].file, refusals[i].words, good ? "taken" : problem.text);
        }
        sweep_ready_free(&ready);
        sweep_wanted_free(&wanted);
    }
}

static void a_sweep_has_an_end(void **state) {
    (void)state;
    enum { CONSOLES = 101 }; /* by 10,000 repeats: over a million [A] */
    static char text[CONSOLES * 40];
    struct options options;
    struct sweep_wanted wanted;
    struct sweep_ready ready = {0};
    struct problem problem = {0};
    size_t used = 0;
    for (int i = 0; i < CONSOLES; i++) {
        used += (size_t)snprintf(text + used, sizeof text - used, "[console %d]\nbench = left\n", i);
    }
    write_file("s.ini", text);
    parse("s.ini --repeats 10000", &options);
    assert_true(sweep_wanted_read(&options, &wanted, &problem));
    assert_false(sweep_ready_make(&wanted, &options, &ready, &problem));
    assert_non_null(strstr(problem.text, "1010000 runs are more than the 1000000"));
    sweep_ready_free(&ready);
    sweep_wanted_free(&wanted);
}

/* ---- the work, and what makes it the same ---- */

static void make(const char *file, const char *words, struct options *options, struct sweep_wanted *wanted,
                 struct sweep_ready *ready) {
    struct problem problem = {0};
    write_file("s.ini", file);
    parse(words, options);
    if (!sweep_wanted_read(options, wanted, &problem) ||
        !sweep_ready_make(wanted, options, ready, &problem)) {
        fail_msg("%s with '%s': %s", file, words, problem.text);
    }
}

static void work_goes_by_bench_console_plan_repeat(void **state) {
    (void)state;
    struct options options;
    struct sweep_wanted wanted;
    struct sweep_ready ready;
    /* Consoles a and c share a bench, which is named first. */
    make("[sweep]\nplan = two.ini\nplan = bits\nrepeats = 2\n[console a]\nbench = left\n[console b]\n"
         "bench = right\n[console c]\nbench = left\n",
         "s.ini --robot", &options, &wanted, &ready);
    static const struct {
        const char *console, *plan, *bench;
        int repeat;
    } order[] = {{"a", "two.ini", "left", 1},  {"a", "two.ini", "left", 2}, {"a", "bits", "left", 1},
                 {"a", "bits", "left", 2},     {"c", "two.ini", "left", 1}, {"c", "two.ini", "left", 2},
                 {"c", "bits", "left", 1},     {"c", "bits", "left", 2},    {"b", "two.ini", "right", 1},
                 {"b", "two.ini", "right", 2}, {"b", "bits", "right", 1},   {"b", "bits", "right", 2}};
    assert_int_equal(ready.sweep.item_count, 12);
    for (size_t i = 0; i < 12; i++) {
        const struct record_item *item = &ready.sweep.items[i];
        assert_string_equal(item->console.name, order[i].console);
        assert_string_equal(item->plan, order[i].plan);
        assert_string_equal(item->bench, order[i].bench);
        assert_int_equal(item->repeat, order[i].repeat);
    }
    assert_int_equal(ready.bench_count, 2);
    assert_int_equal(ready.benches[0].first, 0);
    assert_int_equal(ready.benches[0].behind, 8);
    assert_true(ready.benches[0].asks); /* two consoles, and a robot to rehearse with */
    assert_false(ready.benches[1].asks);
    /* The bench says PAL. Two steps of four fields: 8 / 49.86 s [A: 3546894 / (228 * 312)]. */
    assert_int_equal(ready.cells[4].standard, STANDARD_PAL);
    assert_true(ready.cells[4].seconds > 0.16 && ready.cells[4].seconds < 0.161);
    sweep_ready_free(&ready);
    sweep_wanted_free(&wanted);
}

static void benches_say_what_the_file_leaves_open(void **state) {
    (void)state;
    struct options options;
    struct sweep_wanted wanted;
    struct sweep_ready ready;
    make("", "--bench left --bench right", &options, &wanted, &ready);
    assert_string_equal(ready.seats[0].record.name, "heavy");
    assert_string_equal(ready.seats[0].record.revision, "4");
    assert_string_equal(ready.seats[1].record.name, "right");
    sweep_ready_free(&ready);
    sweep_wanted_free(&wanted);
    /* Not of another console on that bench. */
    make("[console heavy]\nbench = left\n[console light]\nbench = left\n", "s.ini", &options, &wanted,
         &ready);
    assert_string_equal(ready.seats[0].record.revision, "4");
    assert_string_equal(ready.seats[1].record.revision, "");
    assert_false(ready.benches[0].asks); /* virtual consoles need no hands */
    sweep_ready_free(&ready);
    sweep_wanted_free(&wanted);
}

static void people_are_asked_for_real_consoles_only(void **state) {
    (void)state;
    struct options options;
    struct sweep_wanted wanted;
    struct sweep_ready ready;
    make("[console a]\nbench = real\n[console b]\nbench = real\n", "s.ini", &options, &wanted, &ready);
    assert_true(ready.benches[0].asks);
    sweep_ready_free(&ready);
    sweep_wanted_free(&wanted);
    make("[console a]\nbench = real\n", "s.ini", &options, &wanted, &ready);
    assert_false(ready.benches[0].asks);
    sweep_ready_free(&ready);
    sweep_wanted_free(&wanted);
}

static void a_plan_changed_meanwhile_is_noticed(void **state) {
    (void)state;
    struct options options;
    struct sweep_wanted wanted;
    struct sweep_ready ready;
    make("", "--plan two.ini --plan bits", &options, &wanted, &ready);
    assert_false(sweep_plan_changed(&ready, 0));
    assert_false(sweep_plan_changed(&ready, 1));
    write_file("two.ini", "[step one]\nPF1 = $82\n[step two]\nPF2 = $18\n");
    assert_true(sweep_plan_changed(&ready, 0));
    assert_false(sweep_plan_changed(&ready, 1));
    write_file("two.ini", "[step one]\nPF1 = $81\n[step two]\nPF2 = $18\n");
    assert_false(sweep_plan_changed(&ready, 0));
    sweep_ready_free(&ready);
    sweep_wanted_free(&wanted);
}

static void each_attempt_has_a_seed_of_its_own(void **state) {
    (void)state;
    struct options options;
    struct sweep_wanted wanted;
    struct sweep_ready ready;
    bool seen[100] = {false};
    make("[sweep]\nrepeats = 5\nretries = 2\n[console a]\nbench = left\n[console b]\nbench = right\n",
         "s.ini --seed 40", &options, &wanted, &ready);
    for (size_t item = 0; item < 10; item++) {
        for (int attempt = 1; attempt <= 3; attempt++) {
            const struct options run = sweep_run_options(&ready, item, attempt);
            assert_true(run.seed_given && run.seed >= 40 && run.seed < 70); /* 10 x 3 of them [A] */
            assert_false(seen[run.seed]);
            seen[run.seed] = true;
            assert_string_equal(run.plan, "bits");
        }
    }
    sweep_ready_free(&ready);
    sweep_wanted_free(&wanted);
}

#define BASE "[sweep]\nname = n\nplan = two.ini\nrepeats = 2\n[console a]\nbench = left\n"
static char *definition(const char *file, const char *words) {
    struct options options;
    struct sweep_wanted wanted;
    struct sweep_ready ready;
    make(file, words, &options, &wanted, &ready);
    char *text = strdup(ready.sweep.definition);
    sweep_ready_free(&ready);
    sweep_wanted_free(&wanted);
    assert_non_null(text);
    return text;
}

static void check_definition(const char *file, const char *words, const char *first, bool same) {
    char *text = definition(file, words);
    if ((strcmp(text, first) == 0) != same) {
        fail_msg("%s with '%s' %s the same sweep as\n%s", text, words, same ? "is not" : "is", first);
    }
    free(text);
}

static void the_same_words_are_the_same_sweep(void **state) {
    (void)state;
    char *first = definition(BASE, "s.ini");
    /* Neither how it is written, nor where the records go, nor how long somebody waits makes it another one.
     */
    check_definition(
        "; shelf\n[sweep]\nrepeats=2\nplan: two.ini\nname = n\nretries = 1\n\n[console a]\n bench = left\n",
        "s.ini", first, true);
    check_definition(BASE, "s.ini --store other --patience 5 --quiet --json x.json --robot", first, true);
    check_definition(BASE, "s.ini --anew", first, true);
    static const struct {
        const char *file, *words;
    } others[] = {{BASE, "s.ini --repeats 3"},
                  {BASE, "s.ini --retries 0"},
                  {BASE, "s.ini --plan bits"},
                  {BASE, "s.ini --seed 7"},
                  {BASE, "s.ini --noise 30"},
                  {BASE, "s.ini --grabber tuner"},
                  {BASE, "s.ini --impair ghost=0.1:1"},
                  {BASE, "s.ini --fault late=4"},
                  {BASE, "s.ini --hold 5"},
                  {BASE, "s.ini --standard pal"},
                  {BASE "revision = 5\n", "s.ini"},
                  {BASE "markings = x\n", "s.ini"},
                  {BASE "modifications = x\n", "s.ini"},
                  {BASE "fault = late=4\n", "s.ini"},
                  {BASE "[console b]\nbench = left\n", "s.ini"},
                  {"[sweep]\nname = m\nplan = two.ini\nrepeats = 2\n[console a]\nbench = left\n", "s.ini"},
                  {"[sweep]\nname = n\nplan = two.ini\nrepeats = 2\n[console b]\nbench = left\n", "s.ini"},
                  {"[sweep]\nname = n\nplan = two.ini\nrepeats = 2\n[console a]\nbench = right\n", "s.ini"}};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        check_definition(others[i].file, others[i].words, first, false);
    }
    /* A plan file with other contents is another plan. */
    write_file("two.ini", "[step one]\nPF1 = $82\n[step two]\nPF2 = $18\n");
    check_definition(BASE, "s.ini", first, false);
    write_file("two.ini", "; as before\n[step one]\nPF1 = $81\n[step two]\nPF2 = $18\n");
    check_definition(BASE, "s.ini", first, true);
    free(first);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_file_is_read_whole),
        cmocka_unit_test(without_a_file_the_options_say_all),
        cmocka_unit_test(options_go_before_the_file),
        cmocka_unit_test(plans_are_found_beside_the_file),
        cmocka_unit_test(what_is_wrong_is_told_in_one_line),
        cmocka_unit_test(a_sweep_has_an_end),
        cmocka_unit_test(work_goes_by_bench_console_plan_repeat),
        cmocka_unit_test(benches_say_what_the_file_leaves_open),
        cmocka_unit_test(people_are_asked_for_real_consoles_only),
        cmocka_unit_test(a_plan_changed_meanwhile_is_noticed),
        cmocka_unit_test(each_attempt_has_a_seed_of_its_own),
        cmocka_unit_test(the_same_words_are_the_same_sweep),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
