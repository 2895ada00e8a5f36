/* Sections of a benches file, written as a careful person would. What stands there is compared byte for byte,
 * and read back by the reader of benches files. */
#include "commands/bench_write.h"
#include "commands/benches.h"
#include "plan/settings_file.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

static void edits(const char *before, const char *name, const struct bench_key *keys, size_t count,
                  const char *after) {
    char *text = bench_edit(before, name, keys, count);
    assert_non_null(text);
    assert_string_equal(text, after);
    free(text);
}

static const struct bench_key two[] = {{"kind", "board"}, {"video", "v4l2:/dev/video0"}};

static void new_sections(void **unused) {
    (void)unused;
    edits("", "a", two, 2, "[bench a]\nkind = board\nvideo = v4l2:/dev/video0\n");
    edits("; mine\n[bench b]\nseed = 1\n\n\n", "a", two, 2,
          "; mine\n[bench b]\nseed = 1\n\n\n\n[bench a]\nkind = board\nvideo = v4l2:/dev/video0\n");
    /* no line break at the end; a name that begins alike */
    edits("[bench ab]\nseed = 1", "a", two, 2,
          "[bench ab]\nseed = 1\n\n[bench a]\nkind = board\nvideo = v4l2:/dev/video0\n");
    edits("[bench b]\r\nseed = 1\r\n", "a", two, 1,
          "[bench b]\r\nseed = 1\r\n\r\n[bench a]\r\nkind = board\r\n");
}

static void keys_replaced(void **unused) {
    (void)unused;
    edits(
        "# top\n[bench b]\nvideo = none ; b's\n\n  [bench   a]  \n; kind = old\n\tKIND:board\n"
        "video=none  ; where it is\npower = relay {state}\n\n; of c\n[bench c]\nvideo = none\n",
        "a", two, 2,
        "# top\n[bench b]\nvideo = none ; b's\n\n  [bench   a]  \n; kind = old\n\tKIND= board\n"
        "video= v4l2:/dev/video0  ; where it is\npower = relay {state}\n\n; of c\n[bench c]\nvideo = none\n");
}

/* New keys follow the section's last setting: what stands below that may be about the next section. */
static void keys_added(void **unused) {
    (void)unused;
    edits("[bench a]\nconsole = mine\n\n; about b\n[bench b]\nseed = 1\n", "a", two, 2,
          "[bench a]\nconsole = mine\nkind = board\nvideo = v4l2:/dev/video0\n\n; about b\n[bench b]\nseed = "
          "1\n");
    edits("[bench a]", "a", two, 1, "[bench a]\nkind = board\n");
    edits("[bench a]\n; nothing yet\n", "a", two, 1, "[bench a]\nkind = board\n; nothing yet\n");
    edits("[bench a]\nseed = 1", "a", two, 1, "[bench a]\nseed = 1\nkind = board\n");
    edits("\xEF\xBB\xBF[bench a]\nseed = 1\n", "a", two, 1,
          "\xEF\xBB\xBF[bench a]\nseed = 1\nkind = board\n");
    edits("[bench a]\r\nkind = virtual ; so\r\n", "a", two, 2,
          "[bench a]\r\nkind = board ; so\r\nvideo = v4l2:/dev/video0\r\n");
}

static void keys_removed(void **unused) {
    (void)unused;
    static const struct bench_key gone[] = {{"input", NULL}, {"size", NULL}};
    edits("[bench a]\ninput = 3 ; the old\nkind = board\n[bench b]\ninput = 2\n", "a", gone, 2,
          "[bench a]\nkind = board\n[bench b]\ninput = 2\n");
}

/* What the reader of such files makes of a text: every setting outside the section that is edited, in order,
 * and the values of one key inside. */
struct heard {
    char others[4000];
    char wanted[400];
};

static bool hear(void *user, const struct setting *setting, struct problem *problem) {
    struct heard *heard = user;
    (void)problem;
    const bool inside = strcmp(setting->section, "bench a") == 0;
    const char *key = setting->key != NULL ? setting->key : "",
               *value = setting->key != NULL ? setting->value : "";
    const bool edited = inside && (strcasecmp(key, "video") == 0 || strcasecmp(key, "kind") == 0);
    char line[200];
    if (!edited) {
        snprintf(line, sizeof line, "[%s] %s = %s\n", setting->section, key, value);
        strncat(heard->others, line, sizeof heard->others - strlen(heard->others) - 1);
    } else if (strcasecmp(key, "video") == 0) {
        snprintf(line, sizeof line, "%s\n", value);
        strncat(heard->wanted, line, sizeof heard->wanted - strlen(heard->wanted) - 1);
    }
    return true;
}

/* Files put together at random, of lines that people write. */
static void any_file(void **unused) {
    (void)unused;
    static const char *const lines[] = {"[bench b]",
                                        "[bench  b2]",
                                        "video = none",
                                        "VIDEO: none ; c",
                                        "; video = z",
                                        "#kind=x",
                                        "",
                                        "  kind = board",
                                        "console = q;r ; s",
                                        "\tkind=virtual\t; t",
                                        "[bench ab]",
                                        "wait = 3",
                                        "console = a=b:c"};
    enum { LINES = sizeof lines / sizeof lines[0], TRIES = 3000 };
    uint32_t random = 20261125;
    for (int i = 0; i < TRIES; i++) {
        char text[1000] = "";
        struct heard before = {"", ""}, after = {"", ""};
        struct problem problem = {0};
        const char *newline = i % 5 == 0 ? "\r\n" : "\n";
        const int count = i % 12,
                  place = i % 3 == 0 ? -1 : i % 7; /* of the section: nowhere, or after so many */
        strcat(text, "[bench first]\n");
        for (int n = 0; n < count; n++) {
            random = random * 1664525 + 1013904223; /* Numerical Recipes' generator */
            strcat(strcat(text, n == place ? "[bench a] ; mine" : lines[random / 65536 % LINES]), newline);
        }
        if (i % 4 == 0 && text[strlen(text) - 1] == '\n') {
            text[strlen(text) - 1] = '\0';
        }
        char *edited = bench_edit(text, "a", two, 2);
        assert_non_null(edited);
        assert_true(settings_read_text("before", text, hear, &before, &problem));
        if (!settings_read_text("after", edited, hear, &after, &problem)) {
            fail_msg("%s\n%s\n---\n%s", problem.text, text, edited);
        }
        const bool there = strstr(text, "[bench a]") != NULL;
        const size_t others = strlen(before.others);
        if (strncmp(before.others, after.others, others) != 0 ||
            strcmp(after.others + others, there ? "" : "[bench a]  = \n") != 0 || after.wanted[0] == '\0') {
            fail_msg("try %d: %s\n---\n%s", i, text, edited);
        }
        for (const char *at = after.wanted; *at != '\0'; at += strcspn(at, "\n") + 1) {
            assert_int_equal(strncmp(at, "v4l2:/dev/video0\n", 17), 0);
        }
        free(edited);
    }
}

static void values(void **unused) {
    (void)unused;
    char longest[200];
    memset(longest, 'x', sizeof longest);
    longest[199] = '\0';
    assert_true(bench_value_fits("v4l2:/dev/video0"));
    assert_true(bench_value_fits("a;b")); /* a comment needs a blank before it */
    assert_true(bench_value_fits("S-Video 1 (rear)"));
    assert_false(bench_value_fits(""));
    assert_false(bench_value_fits(" a"));
    assert_false(bench_value_fits("a "));
    assert_false(bench_value_fits("a ;b"));
    assert_false(bench_value_fits(";b"));
    assert_false(bench_value_fits("a\nb"));
    assert_false(bench_value_fits(longest));
}

static void written_and_read_back(void **unused) {
    (void)unused;
    const char *temporary = getenv("TMPDIR");
    char folder[400], inner[420], path[440];
    struct problem problem = {0};
    struct bench_settings bench = {0};
    static const struct bench_key keys[] = {
        {"kind", "board"},    {"board", "none"},   {"standard", "pal"}, {"video", "v4l2:/dev/video3"},
        {"input", "S-Video"}, {"size", "640x480"}, {"pixel", "mjpeg"}};
    snprintf(folder, sizeof folder, "%s/slotjig-XXXXXX", temporary != NULL ? temporary : "/tmp");
    assert_non_null(mkdtemp(folder));
    snprintf(inner, sizeof inner, "%s/new", folder);
    snprintf(path, sizeof path, "%s/benches.ini", inner);
    assert_true(bench_write(path, "left", keys, 7, &problem)); /* makes the folder */
    assert_true(bench_write(path, "right", two, 2, &problem));
    assert_true(bench_write(path, "left", two, 2, &problem));
    assert_true(bench_find("left", path, STANDARD_NTSC, false, &bench, &problem));
    assert_int_equal(bench.board.way, BOARD_NONE);
    assert_int_equal(bench.options.standard, STANDARD_PAL);
    assert_string_equal(bench.video.where, "v4l2:/dev/video0");
    assert_string_equal(bench.video.input, "S-Video");
    assert_int_equal(bench.video.height, 480);
    assert_true(bench_find("right", path, STANDARD_NTSC, false, &bench, &problem));
    assert_string_equal(bench.video.where, "v4l2:/dev/video0");
    /* what cannot be written leaves what was there */
    snprintf(path, sizeof path, "%s/benches.ini/x", inner);
    assert_false(bench_write(path, "left", two, 2, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    snprintf(path, sizeof path, "%s/benches.ini", inner);
    assert_true(bench_find("right", path, STANDARD_NTSC, false, &bench, &problem));
    unlink(path);
    rmdir(inner);
    rmdir(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_file),
        cmocka_unit_test(new_sections),
        cmocka_unit_test(keys_replaced),
        cmocka_unit_test(keys_added),
        cmocka_unit_test(keys_removed),
        cmocka_unit_test(values),
        cmocka_unit_test(written_and_read_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
