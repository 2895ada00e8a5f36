/* A program of the user's: words, placeholders, ends, and no shell anywhere. */
#include "link/command.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

static char folder[256], image[300], out[300];
static struct problem problem;

/* ---- words ---- */

static void split(const char *text, size_t count, const char *const *words) {
    char **argv = NULL;
    if (!command_split(text, &argv, &problem)) {
        fail_msg("%s: %s", text, problem.text);
    }
    for (size_t i = 0; i < count; i++) {
        assert_non_null(argv[i]);
        assert_string_equal(argv[i], words[i]);
    }
    assert_null(argv[count]);
    command_free(argv);
}

#define SPLIT(text, ...)                                                                                     \
    split(text, sizeof((const char *[]){__VA_ARGS__}) / sizeof(char *), (const char *[]){__VA_ARGS__})

static void words(void **unused) {
    (void)unused;
    SPLIT("flash", "flash");
    SPLIT("  flash\t-w  {image} ", "flash", "-w", "{image}");
    SPLIT("\"my tool\" \"a b\"c \"\"", "my tool", "a bc", "");
    SPLIT("a\\ b \"c\\\"d\" e\\\\", "a b", "c\"d", "e\\");
    SPLIT("echo $HOME 'a b' ; rm * | x > y `z`", "echo", "$HOME", "'a", "b'", ";", "rm", "*", "|", "x", ">",
          "y", "`z`");
}

static void wrong_words(void **unused) {
    (void)unused;
    static const struct {
        const char *text, *says;
    } cases[] = {{"", "no program"},         {" \t", "no program"},  {"\"\" a", "no program"},
                 {"a \"b", "quote is open"}, {"a b\\", "backslash"}, {"a \"b\\\"", "quote is open"}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char **argv = NULL;
        assert_false(command_split(cases[i].text, &argv, &problem));
        assert_int_equal(problem.kind, PROBLEM_INPUT);
        assert_non_null(strstr(problem.text, cases[i].says));
        assert_null(argv);
    }
}

/* ---- runs ---- */

static int make_folder(void **unused) {
    const char *temporary = getenv("TMPDIR");
    (void)unused;
    snprintf(folder, sizeof folder, "%.200s/slotjig-XXXXXX", temporary != NULL ? temporary : "/tmp");
    if (mkdtemp(folder) == NULL) {
        return -1;
    }
    snprintf(image, sizeof image, "%s/an image; $(false)", folder);
    snprintf(out, sizeof out, "%s/out", folder);
    FILE *file = fopen(image, "w");
    return file != NULL && ftruncate(fileno(file), 8192) == 0 ? fclose(file) : -1;
}

static int remove_folder(void **unused) {
    (void)unused;
    unlink(image);
    unlink(out);
    return rmdir(folder);
}

static void read_out(char *text, size_t size) {
    FILE *file = fopen(out, "r");
    assert_non_null(file);
    const size_t count = fread(text, 1, size - 1, file);
    text[count] = '\0';
    fclose(file);
}

/* Only the test's own program is a shell. */
static void placeholders(void **unused) {
    (void)unused;
    char text[2000];
    char wanted[2000];
    char *argv[] = {"/bin/sh", "-c",      "printf '%s\\n' \"$@\" >\"$0\"",
                    out,       "{image}", "a{size}b{scheme}",
                    "{state}", "{imag",   NULL};
    if (!command_push(argv, image, 10, &problem)) {
        fail_msg("%s", problem.text);
    }
    read_out(text, sizeof text);
    snprintf(wanted, sizeof wanted, "%s\na8192bF8\n{state}\n{imag\n", image);
    assert_string_equal(text, wanted);
    if (!command_power(argv, "on", 10, &problem)) {
        fail_msg("%s", problem.text);
    }
    read_out(text, sizeof text);
    assert_string_equal(text, "{image}\na{size}b{scheme}\non\n{imag\n");
}

static void fails_with(char *const argv[], enum problem_kind kind, const char *says) {
    memset(&problem, 0, sizeof problem);
    if (command_power(argv, "off", 10, &problem) || problem.kind != kind ||
        strstr(problem.text, says) == NULL) {
        fail_msg("kind %d: %s\nwanted kind %d: %s", problem.kind, problem.text, kind, says);
    }
}

#define FAILS(kind, says, ...) fails_with((char *[]){__VA_ARGS__, NULL}, kind, says)

static void failures(void **unused) {
    (void)unused;
    FAILS(PROBLEM_BENCH, "'/bin/sh' ended with status 7; it said: no \?cartridge", "/bin/sh", "-c",
          "printf 'first\\nno \\033cartridge\\n\\n' >&2; exit 7");
    FAILS(PROBLEM_BENCH, "status 1; it said nothing", "/bin/false");
    FAILS(PROBLEM_BENCH, "signal 9", "/bin/sh", "-c", "kill -9 $$");
    FAILS(PROBLEM_INPUT, "no such program", "/nowhere/slotjig-nothing");
    FAILS(PROBLEM_INPUT, "no such program", "slotjig-nothing-by-that-name");
    FAILS(PROBLEM_INPUT, "may not be run", folder);
    /* Much on standard error neither blocks nor overflows; the end of it counts. */
    FAILS(
        PROBLEM_BENCH, "said: the end", "/bin/sh", "-c",
        "i=0; while [ $i -lt 4000 ]; do echo 0123456789012345678901234567890123456789 >&2; i=$((i+1)); done; "
        "printf 'the end' >&2; exit 1");
}

static void images_of_no_size(void **unused) {
    (void)unused;
    char *argv[] = {"/bin/true", NULL};
    assert_false(command_push(argv, "/nowhere/image", 10, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_int_equal(truncate(image, 8191), 0);
    assert_false(command_push(argv, image, 10, &problem));
    assert_non_null(strstr(problem.text, "8191 bytes"));
    assert_int_equal(truncate(image, 8192), 0);
    assert_true(command_push(argv, image, 10, &problem));
}

static bool runs(const char *pid_text) {
    char path[300];
    snprintf(path, sizeof path, "/proc/%.20s/stat", pid_text);
    FILE *file = fopen(path, "r");
    char state = 'Z';
    if (file != NULL) {
        if (fscanf(file, "%*d (%*[^)]) %c", &state) != 1) {
            state = 'Z';
        }
        fclose(file);
    }
    return state != 'Z' && state != 'X';
}

/* A child of its own, deaf to the polite request, is ended as well. */
static void ends_the_group_when_late(void **unused) {
    (void)unused;
    char pid[64];
    char *argv[] = {
        "/bin/sh", "-c",
        "(trap '' TERM; sh -c 'echo $PPID' >\"$0\"; echo waiting >&2; while :; do sleep 1; done) & "
        "wait",
        out, NULL};
    assert_false(command_power(argv, "on", 1, &problem));
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    assert_non_null(strstr(problem.text, "did not end within 1 s and was stopped; it said: waiting"));
    read_out(pid, sizeof pid);
    pid[strcspn(pid, "\n")] = '\0';
    assert_true(strlen(pid) > 0);
    for (int i = 0; i < 200 && runs(pid); i++) {
        usleep(10000);
    }
    assert_false(runs(pid));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(words),
        cmocka_unit_test(wrong_words),
        cmocka_unit_test(placeholders),
        cmocka_unit_test(failures),
        cmocka_unit_test(images_of_no_size),
        cmocka_unit_test(ends_the_group_when_late),
    };
    /* A folder in PATH that this user may not look into changes what a missing program is called. */
    setenv("PATH", "/usr/bin:/bin", 1);
    return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
