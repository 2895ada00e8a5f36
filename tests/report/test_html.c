/* Pages for people: what is in them, that nothing from outside is markup, and that they stay within their
 * bounds. Charts and pages are invented; no console was measured. */
#include "report/html.h"

#include "record/invented.h"
#include "report/html_inside.h"
#include "report/moments_report.h"
#include "report/palette_report.h"
#include "verdict/verdict.h"

#include <ctype.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

/* ---- pages as texts ---- */

struct made {
    char *text;
    size_t size;
};

static FILE *begin(struct made *made) {
    FILE *stream = open_memstream(&made->text, &made->size);
    assert_non_null(stream);
    return stream;
}

static struct made run_page(const struct record_run *run, const struct differ *differ) {
    struct made made;
    FILE *stream = begin(&made);
    html_run(stream, run, differ);
    assert_int_equal(fclose(stream), 0);
    return made;
}

static struct made sweep_page(const struct record_sweep *sweep, const struct record_list *runs) {
    struct made made;
    FILE *stream = begin(&made);
    html_sweep(stream, sweep, runs);
    assert_int_equal(fclose(stream), 0);
    return made;
}

static struct made console_page(const char *console, const struct record_list *runs,
                                const struct html_plan_differ *differs, size_t count) {
    struct made made;
    FILE *stream = begin(&made);
    html_console(stream, console, runs, differs, count);
    assert_int_equal(fclose(stream), 0);
    return made;
}

static size_t count_of(const char *text, const char *what) {
    size_t count = 0;
    for (const char *at = strstr(text, what); at != NULL; at = strstr(at + 1, what)) {
        count++;
    }
    return count;
}

/* ---- what every page must be ---- */

/* libxml2's reader of HTML 4 does not know these, which are of HTML 5 and SVG. */
static bool known_since(const char *line) {
    static const char *const tags[] = {
        "main", "nav",  "header", "footer", "section",    "svg",  "path", "use",     "g",      "text",
        "line", "rect", "circle", "figure", "figcaption", "desc", "bdi",  "details", "summary"};
    for (size_t i = 0; i < sizeof tags / sizeof *tags; i++) {
        char message[64];
        snprintf(message, sizeof message, "Tag %s invalid", tags[i]);
        if (strstr(line, message) != NULL) {
            return true;
        }
    }
    return false;
}

static void keep(const struct made *made, const char *name) {
    const char *folder = getenv("SLOTJIG_TEST_PAGES"); /* to look at them */
    char path[512];
    if (folder != NULL) {
        snprintf(path, sizeof path, "%s/%s.html", folder, name);
        FILE *file = fopen(path, "w");
        assert_non_null(file);
        fwrite(made->text, 1, made->size, file);
        fclose(file);
    }
}

static void check_reader(const struct made *made, const char *name) {
    char path[] = "/tmp/slotjig-page-XXXXXX", command[128], line[1024];
    const int file = mkstemp(path);
    assert_true(file >= 0);
    assert_int_equal(write(file, made->text, made->size), (ssize_t)made->size);
    close(file);
    snprintf(command, sizeof command, "xmllint --html --huge --memory --noout --nonet %s 2>&1", path);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    while (fgets(line, sizeof line, pipe) != NULL) {
        if (strstr(line, "parser error") != NULL && !known_since(line)) {
            fail_msg("%s: %s", name, line);
        }
    }
    assert_int_equal(pclose(pipe), 0);
    unlink(path);
}

static int by_text(const void *a, const void *b) {
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* The value of an attribute, quoted or not; to be freed. */
static char *value_at(const char *at) {
    const bool quoted = *at == '"';
    at += quoted;
    const size_t length = strcspn(at, quoted ? "\"" : " >\n");
    return strndup(at, length);
}

/* Every id is there once, and every link within the page leads to one. */
static void check_ids(const char *text, const char *name) {
    enum { MOST = 60000 };
    static char *ids[MOST];
    size_t count = 0;
    for (const char *at = strstr(text, " id="); at != NULL; at = strstr(at + 1, " id=")) {
        assert_true(count < MOST);
        ids[count++] = value_at(at + 4);
    }
    qsort(ids, count, sizeof *ids, by_text);
    for (size_t i = 1; i < count; i++) {
        if (strcmp(ids[i - 1], ids[i]) == 0) {
            fail_msg("%s: id \"%s\" is there twice", name, ids[i]);
        }
    }
    static const char *const uses[] = {" href=", " aria-labelledby="};
    for (size_t use = 0; use < 2; use++) {
        for (const char *at = strstr(text, uses[use]); at != NULL; at = strstr(at + 1, uses[use])) {
            char *value = value_at(at + strlen(uses[use])), *rest = value;
            if (use == 0) {
                assert_int_equal(*rest, '#'); /* no link leads out of the page */
                rest++;
            }
            for (char *id = strsep(&rest, " "); id != NULL; id = strsep(&rest, " ")) {
                if (bsearch(&id, ids, count, sizeof *ids, by_text) == NULL) {
                    fail_msg("%s: no id \"%s\"", name, id);
                }
            }
            free(value);
        }
    }
    for (size_t i = 0; i < count; i++) {
        free(ids[i]);
    }
}

/* [S RFC 3629] by another way than the writer's: iconv's. */
static void check_utf8(const struct made *made) {
    char path[] = "/tmp/slotjig-page-XXXXXX", command[128];
    const int file = mkstemp(path);
    assert_int_equal(write(file, made->text, made->size), (ssize_t)made->size);
    close(file);
    snprintf(command, sizeof command, "iconv -f UTF-8 -t UTF-16 %s >/dev/null", path);
    assert_int_equal(system(command), 0);
    unlink(path);
    for (size_t i = 0; i < made->size; i++) {
        assert_true((unsigned char)made->text[i] >= ' ' || made->text[i] == '\n' || made->text[i] == '\t');
    }
}

/* Headings go down one level at a time [S WCAG 2.2, technique H42]. */
static void check_headings(const char *text) {
    int level = 0, first = 0;
    for (const char *at = strstr(text, "<h"); at != NULL; at = strstr(at + 1, "<h")) {
        if (at[2] >= '1' && at[2] <= '6' && (at[3] == '>' || at[3] == ' ')) {
            const int now = at[2] - '0';
            assert_true(now <= level + 1);
            first += now == 1;
            level = now;
        }
    }
    assert_int_equal(first, 1);
}

/* Tags have no attribute that runs anything, and fetch nothing but what they hold themselves. */
static void check_tags(const char *text, const char *name) {
    for (const char *at = strchr(text, '<'); at != NULL; at = strchr(at + 1, '<')) {
        bool quoted = false;
        for (const char *c = at; *c != '>' || quoted; c++) {
            assert_true(*c != '\0' && (c == at || quoted || *c != '<'));
            quoted = quoted != (*c == '"');
            if (!quoted && (strncasecmp(c, " on", 3) == 0 || strncasecmp(c, " style=", 7) == 0)) {
                fail_msg("%s: %.80s", name, at);
            }
            if (!quoted && strncasecmp(c, " src=", 5) == 0) {
                assert_int_equal(strncmp(c, " src=\"data:image/png;base64,", 28), 0);
            }
        }
    }
}

static void check_page(const struct made *made, const char *name) {
    static const char *const never[] = {"<script",     "http:",       "https:", "@import", "animation",
                                        "transition:", "transition-", "<?xml",  "<iframe", "url("};
    keep(made, name);
    check_utf8(made);
    char *lower = strdup(made->text);
    for (char *c = lower; *c != '\0'; c++) {
        *c = (char)tolower((unsigned char)*c);
    }
    for (size_t i = 0; i < sizeof never / sizeof *never; i++) {
        if (strstr(lower, never[i]) != NULL) {
            fail_msg("%s: \"%s\" is in it", name, never[i]);
        }
    }
    free(lower);
    assert_non_null(strstr(made->text, "<html lang=en>"));
    assert_non_null(strstr(made->text, "default-src 'none'; style-src 'unsafe-inline'; img-src data:"));
    assert_int_equal(count_of(made->text, "<style>"), 1);
    assert_int_equal(count_of(made->text, "</html>"), 1);
    assert_int_equal(count_of(made->text, "<title>"), 1);
    assert_int_equal(count_of(made->text, "<table"), count_of(made->text, "<caption>"));
    assert_int_equal(count_of(made->text, "=nan"), 0);
    assert_int_equal(count_of(made->text, "=inf"), 0);
    check_headings(made->text);
    const char *body = strstr(made->text, "</style>"); /* the style sheet has > of its own */
    check_tags(body, name);
    check_ids(made->text, name);
    check_reader(made, name);
}

/* ---- what to show ---- */

/* The invented shelf with the ids that a store would give. */
static struct invented *shelf(int consoles, int steps, int repeats) {
    struct invented *invented = invented_new(7, consoles, steps, repeats);
    for (size_t i = 0; i < invented->runs.count; i++) {
        invented->sweep.items[i].id = (int64_t)i + 1;
        invented->runs.runs[i]->id = (int64_t)i + 1001;
        invented->runs.runs[i]->item = (int64_t)i + 1;
    }
    return invented;
}

static size_t failed_steps(const struct record_run *run) {
    size_t failed = 0;
    for (size_t i = 0; i < run->step_count; i++) {
        failed += run->steps[i].verdict == VERDICT_FAIL;
    }
    return failed;
}

/* ---- tests ---- */

static void test_run(void **state) {
    (void)state;
    struct invented *invented = shelf(7, 98, 1);
    char wanted[64];
    struct made made = run_page(invented->runs.runs[0], NULL);
    check_page(&made, "run-pass");
    assert_non_null(strstr(made.text, "data-verdict=pass"));
    assert_non_null(strstr(made.text, "98 of 98 steps passed"));
    assert_int_equal(count_of(made.text, "<tr data-run="), 98);
    assert_int_equal(count_of(made.text, "<tr data-figures="), 98);
    assert_int_equal(count_of(made.text, "class=x "), 0);
    free(made.text);

    const struct record_run *bad = invented->runs.runs[6];
    made = run_page(bad, NULL);
    check_page(&made, "run-fail");
    assert_non_null(strstr(made.text, "data-verdict=fail"));
    snprintf(wanted, sizeof wanted, "%zu of 98 steps passed", 98 - failed_steps(bad));
    assert_non_null(strstr(made.text, wanted));
    assert_int_equal(count_of(made.text, "<td class=f>"), failed_steps(bad));
    /* A cross for each missing cell of each failing step, one of the key. */
    assert_int_equal(count_of(made.text, "class=x "), failed_steps(bad) + 1);
    assert_non_null(strstr(made.text, bad->findings[0].text));
    assert_non_null(strstr(made.text, bad->findings[0].next));
    const char *failing = strstr(made.text, "Steps that did not pass"),
               *passing = strstr(made.text, "Steps that passed");
    assert_true(failing != NULL && passing != NULL && failing < passing);
    free(made.text);
    invented_free(invented);
}

/* Whatever is kept of a run beside its steps stands on its page. */
static void test_facts(void **state) {
    (void)state;
    static const char *const facts[][2] = {{"Console", "shelf 01"},
                                           {"Board revision", "A"},
                                           {"Chip markings", "invented markings"},
                                           {"Modifications", "new capacitors"},
                                           {"Video standard", "ntsc"},
                                           {"Bench", "table"},
                                           {"Station", "bench room"},
                                           {"Image put in by", "usb"},
                                           {"Cartridge", "0123456789ABCDEF"},
                                           {"Its firmware", "0.2"},
                                           {"slotjig", "0.1.0"},
                                           {"Record", "1001"},
                                           {"Started", "2026-11-26 14:05:33 UTC, took 6.5 s"},
                                           {"Since power-on", "12.2 minutes"},
                                           {"Plan", "bits"},
                                           {"Image, its hash", "1234"},
                                           {"Command", "run"},
                                           {"Settings", "hold 4; faults bit-low=PF1.3"},
                                           {"Seed", "77"},
                                           {"Attempt", "2, in a sweep"},
                                           {"Signal to noise", "34.0 dB"}};
    struct invented *invented = shelf(1, 4, 1);
    struct record_run *run = invented->runs.runs[0];
    run->console.modifications = "new capacitors";
    run->settings = "{\"hold\": 4, \"faults\": [\"bit-low=PF1.3\"]}";
    run->started_ms = 1795701933123; /* [A: date -ud @1795701933] */
    run->minutes_on = 12.25;
    run->attempt = 2;
    run->seed = 77;
    struct made made = run_page(run, NULL);
    for (size_t i = 0; i < sizeof facts / sizeof facts[0]; i++) {
        char wanted[160];
        snprintf(wanted, sizeof wanted, "<dt>%s</dt><dd><bdi>%s</bdi></dd>", facts[i][0], facts[i][1]);
        if (strstr(made.text, wanted) == NULL) {
            fail_msg("not on the page: %s", wanted);
        }
    }
    free(made.text);
    invented_free(invented);
}

/* Cells by hand: of 0..39 the first four expected, of which 3 is dark; 20 lit, 30 unclear, 38 and 39 not
 * judged. */
static void test_cells(void **state) {
    (void)state;
    struct step_result step = {.fields = 1,
                               .expected = 0xF | UINT64_C(1) << 38,
                               .sure = CELLS_ALL & ~(UINT64_C(3) << 38),
                               .seen = 0x7 | UINT64_C(1) << 20 | UINT64_C(1) << 39,
                               .unclear = UINT64_C(1) << 30};
    char text[HTML_CELLS];
    assert_true(html_missing(&step) == 0x8);
    assert_true(html_surplus(&step) == UINT64_C(1) << 20);
    html_cells_text(html_missing(&step), text);
    assert_string_equal(text, "3");
    html_cells_text(0xF0F | UINT64_C(3) << 20, text);
    assert_string_equal(text, "0\u20133, 8\u201311, 20, 21");
    html_cells_text(0, text);
    assert_string_equal(text, "none");
    html_cells_text(CELLS_ALL, text);
    assert_string_equal(text, "0\u201339");
    html_cells_text(UINT64_C(0x5555555555), text); /* the longest there is */
    assert_int_equal(count_of(text, ","), 19);
    struct made made;
    FILE *stream = begin(&made);
    struct html html = {.stream = stream};
    html_cells(&html, &step);
    html_differs(&html, &step);
    fclose(stream);
    assert_non_null(strstr(made.text, "<path class=x d=\"M38 18l8 8m0 -8l-8 8\"/>")); /* 3 * 12 + 2, 16 + 2 */
    assert_non_null(strstr(made.text, "<path class=y d=\"M245 17"));                  /* 20 * 12 + 4 + 1 */
    assert_non_null(strstr(made.text, "<path class=z d=\"M370 17"));                  /* 30 * 12 + 4 + 6 */
    assert_non_null(strstr(made.text, "missing 3; surplus 20; unclear 30"));
    free(made.text);
    step.fields = 0; /* nothing was seen: nothing is missing */
    assert_true(html_missing(&step) == 0 && html_surplus(&step) == 0);
}

static void test_sweep(void **state) {
    (void)state;
    struct invented *invented = shelf(14, 98, 3);
    struct made made = sweep_page(&invented->sweep, &invented->runs);
    check_page(&made, "sweep-small");
    /* Each seventh console fails: the headline names them, before anything else. [A] */
    const char *names = strstr(made.text, "<strong><bdi>shelf 07</bdi>, <bdi>shelf 14</bdi>");
    assert_non_null(names);
    assert_true(names < strstr(made.text, "<nav"));
    assert_true(strstr(made.text, "What was asked for") > strstr(made.text, "id=runs"));
    assert_non_null(strstr(made.text, "<span data-count=pass>12</span>"));
    assert_non_null(strstr(made.text, "<span data-count=fail>2</span>"));
    assert_int_equal(count_of(made.text, "<tr data-console="), 14);
    size_t failing = failed_steps(invented->runs.runs[20]) + failed_steps(invented->runs.runs[41]);
    assert_true(failing > 2);
    assert_int_equal(count_of(made.text, "<tr data-run="), 14 * 3); /* a row a run */
    assert_int_equal(count_of(made.text, "<tr id=d"), failing);     /* each step and console once */
    assert_int_equal(count_of(made.text, "<a href=#d"), failing);
    invented_free(invented);
    free(made.text);
}

/* Repeats of one console that end differently are unsteady, in words too. */
static void test_unsteady(void **state) {
    (void)state;
    struct invented *invented = shelf(7, 20, 2);
    struct record_run *run = invented->runs.runs[13];
    struct record_run *other = invented->runs.runs[12];
    other->steps = invented->runs.runs[0]->steps;
    other->end = RECORD_PASS;
    other->finding_count = 0;
    struct made made = sweep_page(&invented->sweep, &invented->runs);
    check_page(&made, "sweep-unsteady");
    assert_non_null(strstr(made.text, "data-standing=unsteady data-passed=1 data-done=2"));
    assert_int_equal(count_of(made.text, "<td class=u><a href="), failed_steps(run));
    free(made.text);
    /* One run less: open. */
    invented->runs.count--;
    made = sweep_page(&invented->sweep, &invented->runs);
    assert_non_null(strstr(made.text, "data-standing=open data-passed=1 data-done=1"));
    free(made.text);
    /* None at all. */
    invented->runs.count = 0;
    made = sweep_page(&invented->sweep, &invented->runs);
    check_page(&made, "sweep-none");
    invented_free(invented);
    free(made.text);
}

static double seconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

/* 50 consoles by 98 steps (plan bits has no more): less than 2 MiB, every cell there once. */
static void test_size(void **state) {
    (void)state;
    struct invented *invented = shelf(50, 98, 3);
    const double start = seconds();
    struct made made = sweep_page(&invented->sweep, &invented->runs);
    print_message("50 consoles by 98 steps, 3 repeats: %zu bytes, made in %.3f s\n", made.size,
                  seconds() - start);
    assert_true(made.size < 2 << 20);
    check_page(&made, "sweep-large");
    const char *matrix = strstr(made.text, "<h3>Steps by consoles");
    assert_non_null(matrix);
    assert_int_equal(count_of(matrix, "<td class=p>\u2713 0.") + count_of(matrix, "<td class=f><a href="),
                     50 * 98);
    invented_free(invented);
    free(made.text);
}

/* The worst there can be: every step of every console fails, each in its own way. */
static void test_all_fail(void **state) {
    (void)state;
    struct invented *invented = shelf(50, 98, 1);
    uint64_t random = 1;
    struct step_result *steps = calloc(invented->runs.count * 98, sizeof *steps);
    assert_non_null(steps);
    for (size_t i = 0; i < invented->runs.count; i++) {
        struct record_run *run = invented->runs.runs[i];
        for (size_t j = 0; j < 98; j++) {
            struct step_result *step = &steps[i * 98 + j];
            *step = run->steps[j];
            step->verdict = VERDICT_FAIL;
            step->failed = 2;
            step->seen = (uint64_t)(invented_uniform(&random) * (double)CELLS_ALL);
            step->unclear = (uint64_t)(invented_uniform(&random) * (double)CELLS_ALL);
        }
        run->steps = &steps[i * 98];
        run->end = RECORD_FAIL;
    }
    const double start = seconds();
    struct made made = sweep_page(&invented->sweep, &invented->runs);
    print_message("the same, all failing: %zu bytes, made in %.3f s\n", made.size, seconds() - start);
    assert_true(made.size < 2 << 20);
    check_page(&made, "sweep-all-fail");
    assert_int_equal(count_of(made.text, "<td class=f>\u2717 0.") +
                         count_of(made.text, "<td class=f><a href=#d"),
                     50 * 98);
    assert_int_equal(count_of(made.text, "<a href=#d"), count_of(made.text, "<tr id=d"));
    assert_non_null(strstr(made.text, "more are left out"));
    free(made.text);
    /* All in the same way: one row a step, linked from all. */
    for (size_t i = 98; i < invented->runs.count * 98; i++) {
        steps[i] = steps[i % 98];
    }
    made = sweep_page(&invented->sweep, &invented->runs);
    check_page(&made, "sweep-same-fail");
    assert_int_equal(count_of(made.text, "<tr id=d"), 98);
    assert_int_equal(count_of(made.text, "<a href=#d"), 50 * 98);
    free(made.text);
    free(steps);
    invented_free(invented);
}

static void test_console(void **state) {
    (void)state;
    struct invented *invented = shelf(7, 20, 6);
    struct record_list list = {6, &invented->runs.runs[36]};
    struct made made = console_page("shelf 07", &list, NULL, 0);
    check_page(&made, "console");
    assert_int_equal(count_of(made.text, "<tr data-run="), 6);
    assert_int_equal(count_of(made.text, "<g data-n="), 12); /* the worst and the median of 6 */
    assert_int_equal(count_of(made.text, "<tr data-step="), failed_steps(list.runs[5]));
    free(made.text);
    struct record_plan other = invented->plan; /* two plans: two sections, two charts */
    other.name = "other";
    for (int i = 3; i < 6; i++) {
        list.runs[i]->plan = &other;
    }
    made = console_page("shelf 07", &list, NULL, 0);
    check_page(&made, "console-two-plans");
    assert_int_equal(count_of(made.text, "<svg class=\"chart\""), 2);
    assert_int_equal(count_of(made.text, "<tr data-run="), 6);
    free(made.text);
    /* Shelf 07 fails; a later pass of another plan does not hide it, and comes after it. [A] */
    const struct record_run *failed = list.runs[2];
    struct record_run *passed = list.runs[5];
    assert_int_equal(failed->end, RECORD_FAIL);
    passed->end = RECORD_PASS;
    passed->finding_count = 0;
    made = console_page("shelf 07", &list, NULL, 0);
    check_page(&made, "console-one-plan-fails");
    const char *first = strstr(made.text, "<p class=\"v ");
    assert_non_null(first);
    assert_int_equal(strncmp(first, "<p class=\"v f\"", 14), 0);
    assert_non_null(strstr(first, "<p class=\"v p\""));
    assert_non_null(strstr(made.text, "the latest of 3 of this plan, of which 0 passed."));
    assert_non_null(strstr(made.text, "the latest of 3 of this plan, of which 1 passed."));
    free(made.text);
    list.count = 0;
    made = console_page("shelf 99", &list, NULL, 0);
    check_page(&made, "console-none");
    assert_non_null(strstr(made.text, "No run of it is kept"));
    free(made.text);
    invented_free(invented);
}

/* ---- hostile texts ---- */

static const char *const hostile[] = {
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "' onmouseover='alert(1)",
    "</style></title></svg></table><h1>",
    "javascript:alert(1)",
    "a\x01\x1b[31m\x7f\t\r\nb",
    "\xff\xfe\xc0\xaf\xed\xa0\x80\xf4\x90\x80\x80 not UTF-8 \xe2\x82",
    "\u202Egnp.\u202C\u200B\uFEFF\xC2\x85\uFFFE",
    " ",
    "&amp; %s %n %d &#60;",
    "-->]]><!--",
    "\u05E9\u05DC\u05D5\u05DD \u4E2D\u6587 \U0001F600",
};
enum { HOSTILE = sizeof hostile / sizeof *hostile };

static void make_hostile(struct record_run *run, struct record_plan *plan, struct record_plan_step *steps,
                         struct finding *finding, int turn) {
#define NEXT hostile[turn++ % HOSTILE]
    memcpy(steps, plan->steps, plan->step_count * sizeof *steps);
    for (size_t i = 0; i < plan->step_count; i++) {
        steps[i].name = NEXT;
    }
    plan->steps = steps;
    plan->name = NEXT;
    plan->text = NEXT;
    run->plan = plan;
    run->station = NEXT;
    run->bench = NEXT;
    run->console.name = NEXT;
    run->console.revision = NEXT;
    run->console.markings = NEXT;
    run->console.modifications = NEXT;
    run->cartridge.kind = NEXT;
    run->cartridge.serial = NEXT;
    run->cartridge.firmware = NEXT;
    run->tool = NEXT;
    run->settings = NEXT;
    run->problem = NEXT;
    snprintf(finding->text, sizeof finding->text, "%s", NEXT);
    snprintf(finding->next, sizeof finding->next, "%s", NEXT);
    run->findings = run->troubles = finding;
    run->finding_count = run->trouble_count = 1;
#undef NEXT
}

/* What a hostile page adds in markup to a harmless one: nothing. */
static size_t tags_of(const char *text) {
    size_t count = 0;
    for (; *text != '\0'; text++) {
        count += *text == '<';
    }
    return count;
}

static void test_hostile(void **state) {
    (void)state;
    for (int turn = 0; turn < HOSTILE; turn++) {
        struct invented *invented = shelf(7, 12, 1);
        struct record_run *run = invented->runs.runs[6];
        struct finding finding = *run->findings;
        struct record_plan_step steps[12];
        char name[32];
        run->troubles = &finding;
        run->trouble_count = 1;
        run->problem = invented->plan.text = run->console.modifications = "x";
        invented->sweep.items[6].console = run->console;
        struct made calm = run_page(run, NULL), calm_sweep = sweep_page(&invented->sweep, &invented->runs);
        make_hostile(run, &invented->plan, steps, &finding, turn);
        invented->sweep.name = hostile[turn];
        invented->sweep.definition = hostile[(turn + 1) % HOSTILE];
        for (size_t i = 0; i < invented->sweep.item_count; i++) {
            invented->sweep.items[i].plan = hostile[(turn + 2) % HOSTILE];
        }
        invented->sweep.items[6].console = run->console;
        struct made made = run_page(run, NULL);
        snprintf(name, sizeof name, "hostile-%d", turn);
        check_page(&made, name);
        assert_int_equal(tags_of(made.text), tags_of(calm.text));
        free(made.text);
        made = sweep_page(&invented->sweep, &invented->runs);
        snprintf(name, sizeof name, "hostile-sweep-%d", turn);
        check_page(&made, name);
        assert_int_equal(tags_of(made.text), tags_of(calm_sweep.text));
        free(made.text);
        const struct record_list list = {1, &invented->runs.runs[6]};
        made = console_page(run->console.name, &list, NULL, 0);
        snprintf(name, sizeof name, "hostile-console-%d", turn);
        check_page(&made, name);
        free(made.text);
        free(calm.text);
        free(calm_sweep.text);
        invented_free(invented);
    }
}

static void escaped(const char *text, const char *wanted) {
    struct made made;
    FILE *stream = begin(&made);
    escape_text(stream, text);
    fclose(stream);
    assert_string_equal(made.text, wanted);
    free(made.text);
}

/* Bytes that are no UTF-8 by RFC 3629, section 3 and 10: each is one U+FFFD. */
static void test_escaped(void **state) {
    (void)state;
    escaped("<a href=\"x\">'&'", "&lt;a href=&quot;x&quot;&gt;&#39;&amp;&#39;");
    escaped("\xC0\x80", "\uFFFD\uFFFD");                     /* overlong */
    escaped("\xED\xA0\x80", "\uFFFD\uFFFD\uFFFD");           /* a surrogate */
    escaped("\xF4\x90\x80\x80", "\uFFFD\uFFFD\uFFFD\uFFFD"); /* beyond U+10FFFF */
    escaped("\xE2\x82", "\uFFFD\uFFFD");                     /* cut off */
    escaped("\xF4\x8F\xBF\xBD", "\xF4\x8F\xBF\xBD");         /* U+10FFFD is one */
    escaped("a\nb\x7F", "a\u240Ab\u2421");
    escaped("\u202Eabc", "[U+202E]abc");
    escaped("  ", "\u2423\u2423");
    escaped("", "");
}

/* ---- bounds ---- */

/* Every kind of finding is named and shown with what to try. */
static void test_findings(void **state) {
    (void)state;
    struct invented *invented = shelf(1, 2, 1);
    struct record_run run = *invented->runs.runs[0];
    static struct finding list[FINDING_KINDS];
    for (int i = 0; i < FINDING_KINDS; i++) {
        list[i] =
            (struct finding){.kind = (enum finding_kind)i, .reg = -1, .bit = -1, .rate = 1, .explanation = i};
        snprintf(list[i].text, sizeof list[i].text, "text of finding %d.", i);
        snprintf(list[i].next, sizeof list[i].next, "advice of finding %d.", i);
    }
    list[3].alternative = true;
    list[9] = (struct finding){.kind = FINDING_INTERMITTENT,
                               .reg = REG_PF2,
                               .bit = 5,
                               .rate = 0.25,
                               .rate_low = 0.1,
                               .rate_high = 0.5,
                               .text = "text of finding 9.",
                               .next = "advice of finding 9."};
    run.findings = list;
    run.finding_count = FINDING_KINDS;
    run.end = RECORD_FAIL;
    struct made made = run_page(&run, NULL);
    check_page(&made, "findings");
    char more[64]; /* the first of them, by name, stands in the headline */
    snprintf(more, sizeof more, "</strong> and %d more findings; plan ", FINDING_KINDS - 1);
    assert_non_null(strstr(made.text, more));
    assert_true(strstr(made.text, more) < strstr(made.text, "<nav"));
    for (int i = 0; i < FINDING_KINDS; i++) {
        char text[64];
        snprintf(text, sizeof text, "text of finding %d.", i);
        assert_non_null(strstr(made.text, text));
        snprintf(text, sizeof text, "advice of finding %d.", i);
        assert_non_null(strstr(made.text, text));
    }
    assert_non_null(
        strstr(made.text, "PF2 D5 intermittent</strong>, in 25.0 % of the fields (95 %: 10.0 to 50.0 %)"));
    assert_non_null(strstr(made.text, "this one (number 3)"));
    free(made.text);
    invented_free(invented);
}

/* Pictures up to the bound, and it is said how many are left out. */
static void test_pictures(void **state) {
    (void)state;
    struct invented *invented = shelf(7, 20, 1);
    struct record_run *run = invented->runs.runs[6];
    const size_t size = 300 << 10; /* of each; 400 KiB in base64: two fit into 1 MiB */
    uint8_t *bytes = calloc(1, size);
    struct record_blob blobs[4] = {{.name = "field", .type = "image/png", .bytes = bytes, .size = size},
                                   {.name = "step-0000", .type = "image/png", .bytes = bytes, .size = size},
                                   {.name = "step-0001", .type = "image/png", .bytes = bytes, .size = size},
                                   {.name = "step-0002", .type = "text/html", .bytes = bytes, .size = size}};
    run->blobs = blobs;
    run->blob_count = 4;
    struct made made = run_page(run, NULL);
    check_page(&made, "pictures");
    assert_int_equal(count_of(made.text, "<img "), 2);
    assert_int_equal(count_of(made.text, "src=\"data:image/png;base64,AAAA"), 2);
    assert_int_equal(count_of(made.text, "text/html"), 0);
    assert_non_null(strstr(made.text, "1 picture was left out"));
    assert_true(made.size < (HTML_PICTURES_MOST) + (256 << 10));
    free(made.text);
    blobs[0].size = 4; /* RFC 4648, section 10: "f", "fo", "foo", "foob" */
    memcpy(bytes, "foob", 4);
    made = run_page(run, NULL);
    assert_non_null(strstr(made.text, "base64,Zm9vYg=="));
    assert_null(strstr(made.text, "No picture of a field is kept"));
    free(made.text);
    run->blob_count = 0; /* that there is none is said */
    made = run_page(run, NULL);
    assert_non_null(strstr(made.text, "No picture of a field is kept"));
    free(made.text);
    free(bytes);
    invented_free(invented);
}

/* ---- against the baseline ---- */

static void test_differ(void **state) {
    (void)state;
    struct invented *invented = shelf(1, 4, 1);
    struct change changes[] = {{.kind = CHANGE_NEW,
                                .step = 2,
                                .cells = 0x30,
                                .name = "step two",
                                .before_runs = 5,
                                .now_hits = 3,
                                .now_runs = 4},
                               {.kind = CHANGE_GONE,
                                .step = -1,
                                .name = "<b>PF1</b>",
                                .before_hits = 5,
                                .before_runs = 5,
                                .now_runs = 4}};
    struct drift drifts[] = {{.quantity = QUANTITY_MARGIN,
                              .name = "step three",
                              .step = 3,
                              .before_runs = 5,
                              .now_runs = 4,
                              .before = 0.85,
                              .now = 0.7,
                              .before_sd = 0.01,
                              .now_sd = 0.02,
                              .t = 12,
                              .df = 5,
                              .p = 1e-5,
                              .adjusted = 4e-5,
                              .called = true,
                              .worse = true},
                             {.quantity = QUANTITY_OFFSET,
                              .name = "step one",
                              .step = 1,
                              .before_runs = 1,
                              .now_runs = 1,
                              .before = 0,
                              .now = 0,
                              .t = NAN,
                              .df = NAN,
                              .p = NAN,
                              .adjusted = NAN},
                             {.quantity = QUANTITY_COLOUR_HUE, /* over 0 degrees [A] */
                              .name = "COLUBK $16",
                              .step = -1,
                              .before_runs = 5,
                              .now_runs = 4,
                              .before = 359.75,
                              .now = 364.5,
                              .before_sd = 0.25,
                              .now_sd = 0.5,
                              .t = 12,
                              .df = 5,
                              .p = 1e-5,
                              .adjusted = 4e-5,
                              .called = true}};
    const struct differ differ = {.before_count = 5,
                                  .now_count = 4,
                                  .change_count = 2,
                                  .drift_count = 3,
                                  .tested = 1,
                                  .changes = changes,
                                  .drifts = drifts,
                                  .before_minutes = NAN,
                                  .now_minutes = 20,
                                  .regression = true};
    struct made made = run_page(invented->runs.runs[0], &differ);
    check_page(&made, "differ");
    assert_non_null(strstr(made.text, "<strong>Worse</strong> against 5 runs of the baseline, 4 now."));
    assert_non_null(strstr(made.text, "data-step=2 data-change=\"new\""));
    assert_non_null(strstr(made.text, "<td>4, 5</td><td class=r>0 of 5</td><td class=r>3 of 4</td>"));
    assert_non_null(strstr(made.text, "&lt;b&gt;PF1&lt;/b&gt;"));
    assert_non_null(strstr(made.text, "<td class=r>-0.15</td><td class=r>0.05</td><td class=r>4e-05</td>"));
    assert_non_null(strstr(made.text, "<td class=r>4.5</td><td class=r>0.5</td><td class=r>4</td>"
                                      "<td class=r>+4.75</td><td class=r>3</td>"));
    assert_non_null(strstr(made.text, "drifts, worse"));
    free(made.text);
    const struct html_plan_differ of_plan = {"bits", &differ};
    made = console_page("shelf 01", &invented->runs, &of_plan, 1);
    check_page(&made, "console-differ");
    assert_non_null(strstr(made.text, "Against the baseline"));
    free(made.text);
    invented_free(invented);
}

/* ---- what was measured ---- */

static struct record_blob blob_of(const char *name, json_t *json, char **text) {
    *text = json_dumps(json, 0);
    json_decref(json);
    return (struct record_blob){
        .name = name, .type = "application/json", .bytes = (uint8_t *)*text, .size = strlen(*text)};
}

/* Steps that no field showed are not told as failing, and draw no cell as missing. */
static void test_unseen(void **state) {
    (void)state;
    struct invented *invented = shelf(1, 4, 1);
    struct record_run *run = invented->runs.runs[0];
    struct step_result steps[4];
    memcpy(steps, run->steps, sizeof steps);
    for (int i = 1; i < 4; i++) {
        steps[i] = (struct step_result){.verdict = VERDICT_INCONCLUSIVE,
                                        .expected = steps[i].expected,
                                        .sure = steps[i].sure,
                                        .wrong_line = -1};
    }
    run->steps = steps;
    run->end = RECORD_INCONCLUSIVE;
    struct made made = run_page(run, NULL);
    check_page(&made, "unseen");
    assert_non_null(strstr(made.text, "1 of 4 steps passed, 3 could not be judged"));
    assert_non_null(strstr(made.text, "3 steps that no field showed"));
    assert_non_null(strstr(made.text, "Nothing is said about the console"));
    assert_int_equal(count_of(made.text, "class=x "), 0);
    assert_int_equal(count_of(made.text, "<b class=f>"), 0);
    assert_int_equal(count_of(made.text, "<tr data-run="), 4);
    assert_int_equal(count_of(made.text, "<g data-n="), 1);
    free(made.text);
    invented_free(invented);
}

/* Numbers by hand into both blobs, and out of the page again. */
static void test_measured(void **state) {
    (void)state;
    static struct moments moments;
    static struct palette palette;
    struct invented *invented = shelf(1, 4, 3);
    struct record_run *run = invented->runs.runs[0];
    for (uint32_t value = 0; value < MOMENT_VALUES; value++) {
        const struct moment moment = moment_of(value);
        struct moment_seen *seen = &moments.seen[value];
        seen->fields = 2;
        const double clock = 3 * moment.cycle + 2.25;
        const int half = clock < 68 + 80 ? HALF_LEFT : HALF_RIGHT;
        if (moment.reg == MOMENT_COLUBK && clock >= 68) {
            for (int edge = 0; edge < MOMENT_EDGES; edge++) {
                seen->half[edge][half] = (struct half_seen){HALF_CHANGES, clock, 0.01};
            }
        }
    }
    moments_conclude(&moments);
    palette.has_chroma = true;
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_CODES; i++) {
        palette.colour[i / COLOUR_CODES][i % COLOUR_CODES] =
            (struct palette_colour){.fields = 2,
                                    .level = 0.125 * (i % 8),
                                    .saturation = i % 128 < 8 ? 0 : 30,
                                    .hue = 20.0 * (i % 128 / 8)};
    }
    for (int i = 0; i < PALETTE_REGISTERS * COLOUR_HUES; i++) {
        palette.hue[i / COLOUR_HUES][i % COLOUR_HUES] =
            (struct palette_hue){.known = true,
                                 .hue = 20.0 * (i % 16),
                                 .saturation = i % 16 == 0 ? 0 : 30,
                                 .slope = 0.125,
                                 .ordered = true,
                                 .to_next = 20};
    }
    char *texts[2];
    struct record_blob blobs[] = {blob_of("moments", moments_json(&moments), &texts[0]),
                                  blob_of("colours", palette_json(&palette), &texts[1])};
    for (int i = 0; i < 3; i++) {
        invented->runs.runs[i]->blobs = blobs;
        invented->runs.runs[i]->blob_count = 2;
    }
    struct made made = run_page(run, NULL);
    check_page(&made, "measured");
    const char *row = strstr(made.text, "<tr data-register=\"COLUBK\"><th scope=row>COLUBK</th>");
    assert_non_null(row);
    assert_int_equal(strncmp(strstr(row, "<td>"), "<td>2.25</td><td>2.25</td><td>2.25</td><td>2.25</td>", 50),
                     0);
    assert_non_null(
        strstr(made.text, "data-hue=3><th scope=row>COLUPF</th><td class=r>3</td><td class=r>60.0\u00b0"));
    assert_non_null(strstr(made.text, "data-code=134 data-level=0.375"));
    assert_int_equal(count_of(made.text, "<svg class=\"chart\""), 3); /* margins, delays, colours */
    free(made.text);
    made = console_page("shelf 01", &invented->runs, NULL, 0);
    check_page(&made, "console-measured");
    assert_int_equal(count_of(made.text, "<td>2.25</td></tr>"), 3);
    assert_non_null(strstr(made.text, "Delays over time"));
    assert_int_equal(count_of(made.text, "data-y=\"2.25\""), 3); /* COLUBK of each run */
    assert_int_equal(count_of(made.text, "data-y=\"20\""), 6);   /* degrees: both registers of each run */
    free(made.text);
    blobs[0].size = 2; /* not whole */
    blobs[1].bytes = (const uint8_t *)"{\"colours\": [1]}";
    blobs[1].size = 16;
    made = run_page(run, NULL);
    check_page(&made, "measured-broken");
    assert_non_null(
        strstr(made.text, "What is kept of it cannot be shown: record: no result of plan colours"));
    free(made.text);
    free(texts[0]);
    free(texts[1]);
    invented_free(invented);
}

/* A run that has next to nothing. */
static void test_bare(void **state) {
    (void)state;
    const struct record_plan plan = {.name = "", .text = ""};
    const struct record_run run = {.plan = &plan,
                                   .station = "",
                                   .bench = "",
                                   .console = {"", "", "", ""},
                                   .cartridge = {"", "", ""},
                                   .tool = "",
                                   .settings = "",
                                   .command = "",
                                   .minutes_on = -1,
                                   .end = RECORD_TROUBLE,
                                   .problem = "the board is gone"};
    struct made made = run_page(&run, NULL);
    check_page(&made, "bare");
    assert_non_null(strstr(made.text, "Nothing is said about the console"));
    assert_non_null(strstr(made.text, "the board is gone"));
    free(made.text);
    struct record_run *runs[] = {(struct record_run *)&run};
    const struct record_list list = {1, runs};
    made = console_page("", &list, NULL, 0);
    check_page(&made, "console-bare");
    free(made.text);
}

static void test_write(void **state) {
    (void)state;
    struct invented *invented = shelf(2, 4, 1);
    struct problem problem = {.kind = PROBLEM_NONE};
    char path[] = "/tmp/slotjig-page-XXXXXX";
    close(mkstemp(path));
    assert_true(html_write_run(path, invented->runs.runs[0], NULL, &problem));
    assert_true(html_write_sweep(path, &invented->sweep, &invented->runs, &problem));
    assert_true(html_write_console(path, "shelf 01", &invented->runs, NULL, 0, &problem));
    unlink(path);
    assert_false(html_write_run("/nowhere/page.html", invented->runs.runs[0], NULL, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    invented_free(invented);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_run),      cmocka_unit_test(test_cells),    cmocka_unit_test(test_sweep),
        cmocka_unit_test(test_unsteady), cmocka_unit_test(test_size),     cmocka_unit_test(test_console),
        cmocka_unit_test(test_all_fail), cmocka_unit_test(test_hostile),  cmocka_unit_test(test_escaped),
        cmocka_unit_test(test_findings), cmocka_unit_test(test_pictures), cmocka_unit_test(test_differ),
        cmocka_unit_test(test_bare),     cmocka_unit_test(test_unseen),   cmocka_unit_test(test_write),
        cmocka_unit_test(test_measured), cmocka_unit_test(test_facts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
