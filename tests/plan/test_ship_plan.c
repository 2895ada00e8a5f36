/* Limits files: what is read, and what is refused at which line. */
#include "plan/ship_plan.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

static void reads(const char *text, struct ship_plan *plan) {
    struct problem problem = {0};
    if (!ship_plan_read_text("l.ini", text, plan, &problem)) {
        fail_msg("%s: %s", text, problem.text);
    }
    assert_string_equal(plan->text, text);
}

static void refuses(const char *text, const char *words) {
    struct ship_plan plan;
    struct problem problem = {0};
    if (ship_plan_read_text("l.ini", text, &plan, &problem)) {
        fail_msg("taken: %s", text);
    }
    ship_plan_free(&plan);
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, words) == NULL || strchr(problem.text, '\n') != NULL ||
        strncmp(problem.text, "l.ini", 5) != 0) {
        fail_msg("%s: \"%s\" is not in: %s", text, words, problem.text);
    }
}

static void least_and_defaults(void **state) {
    (void)state;
    struct ship_plan plan;
    reads("[ship]\nscheme = f8\n", &plan);
    assert_int_equal(plan.scheme, WIRE_F8);
    assert_true(plan.console && plan.reader && !plan.reader_first && !plan.ram);
    assert_int_equal(plan.rounds, 2);
    assert_int_equal(plan.soak_min, 0);
    assert_int_equal(plan.standard, STANDARD_NTSC);
    assert_true(plan.image[0] == '\0' && plan.product[0] == '\0' && plan.bytes == NULL);
    /* as the header says */
    const double usual[SHIP_LIMITS] = {410, 0, 290, 20, 0, 0};
    assert_memory_equal(plan.limit, usual, sizeof usual);
    ship_plan_free(&plan);
}

static void every_key(void **state) {
    (void)state;
    struct ship_plan plan;
    reads("; limits\n[ship]\nscheme = F4\nram = yes\nways = Reader , console\nproduct = L\xC3\xA4ufer\n"
          "standard = pal\nimage = game.bin\nrounds = 60000\nsoak = 30\n[limits]\naccess_ns = 299.5\n"
          "margin_ns = 40\nrelease_ns = 90\nwake_ms = 12.5\ndiffering = 3\nsoak_errors = 1\n",
          &plan);
    assert_true(plan.ram && plan.console && plan.reader && plan.reader_first);
    assert_int_equal(plan.scheme, WIRE_F4);
    assert_string_equal(plan.product, "L\xC3\xA4ufer");
    assert_string_equal(plan.image, "game.bin");
    assert_int_equal(plan.standard, STANDARD_PAL);
    assert_int_equal(plan.rounds, 60000);
    assert_int_equal(plan.soak_min, 30);
    const double given[SHIP_LIMITS] = {299.5, 40, 90, 12.5, 3, 1};
    assert_memory_equal(plan.limit, given, sizeof given);
    ship_plan_free(&plan);
    reads("[ship]\nscheme = 2K\nways = reader\n", &plan);
    assert_true(!plan.console && plan.reader);
    ship_plan_free(&plan);
    reads("[ship]\nscheme = 2K\nways = console\n", &plan);
    assert_true(plan.console && !plan.reader);
    ship_plan_free(&plan);
}

#define S "[ship]\nscheme = F8\n"
static void what_is_refused(void **state) {
    (void)state;
    static const struct {
        const char *text, *words;
    } cases[] = {
        {"", "no scheme"},
        {"[limits]\naccess_ns = 300\n", "no scheme"},
        {"scheme = F8\n", "l.ini:1: 'scheme' before any section"},
        {"[ship]\nscheme = F7\n", "l.ini:2: scheme = F7"},
        {S "scheme = F6\n", "l.ini:3: 'scheme' is there twice (line 2)"},
        {S "[ship]\nram = no\n", "l.ini:3: [ship] is there twice"},
        {S "[limit]\n", "l.ini:3: unknown section [limit]"},
        {S "speed = 1\n", "l.ini:3: unknown key 'speed'"},
        {S "[limits]\naccess = 1\n", "l.ini:4: unknown key 'access'"},
        {S "ram = maybe\n", "l.ini:3: ram = maybe"},
        {S "ways =\n", "l.ini:3: ways = "},
        {S "ways = console, console\n", "l.ini:3: ways = console, console"},
        {S "ways = console reader\n", "l.ini:3: ways"},
        {S "ways = console, reader,\n", "l.ini:3: ways"},
        {S "standard = ntscc\n", "l.ini:3: standard"},
        {S "rounds = 1\n", "l.ini:3: rounds = 1: give a whole number from 2 to 60000"},
        {S "rounds = 2.5\n", "l.ini:3: rounds = 2.5"},
        {S "rounds = 0x10\n", "l.ini:3: rounds = 0x10"},
        {S "soak = -1\n", "l.ini:3: soak = -1"},
        {S "soak = 14401\n", "l.ini:3: soak = 14401: give a whole number from 0 to 14400"},
        {S "product = a\tb\n", "l.ini:3: product"},
        {S "image =\n", "l.ini:3: image"},
        {S "[limits]\naccess_ns = 411\n", "l.ini:4: access_ns = 411: give a number from 20 to 410"},
        {S "[limits]\naccess_ns = 19\n", "l.ini:4: access_ns = 19"},
        {S "[limits]\naccess_ns = nan\n", "l.ini:4: access_ns = nan"},
        {S "[limits]\naccess_ns = 1e2\n", "l.ini:4: access_ns = 1e2"},
        {S "[limits]\naccess_ns = .\n", "l.ini:4: access_ns = ."},
        {S "[limits]\naccess_ns =\n", "l.ini:4: access_ns"},
        {S "[limits]\nmargin_ns = 400\n", "l.ini:4: margin_ns = 400: give a number from 0 to 390"},
        {S "[limits]\nrelease_ns = 5\n", "l.ini:4: release_ns = 5: give a number from 10 to 1000"},
        {S "[limits]\nwake_ms = 2001\n", "l.ini:4: wake_ms = 2001: give a number from 0 to 2000"},
        {S "[limits]\ndiffering = 0.5\n", "l.ini:4: differing = 0.5: give a whole number"},
        {S "[limits]\nsoak_errors = 70000\n", "l.ini:4: soak_errors = 70000"},
        {S "[limits]\nsoak_errors = 2\n", "l.ini:4: soak_errors without a soak"},
        {S "ways = reader\nsoak = 5\n", "l.ini:4: soak is of the console's check"},
        {S "ways = reader\nrounds = 5\n", "l.ini:4: rounds is of the console's check"},
        {S "ways = reader\nstandard = pal\n", "l.ini:4: standard is of the console's check"},
        {S "ways = console\nimage = x.bin\n", "l.ini:4: image is what a reader compares with"},
        {S "ways = console\n[limits]\nwake_ms = 5\n", "l.ini:5: wake_ms is measured by the reader"},
        {S "ways = reader\n[limits]\nsoak_errors = 0\n", "l.ini:5: soak_errors is measured by the console"},
        {S "product = a\xFF\n", "l.ini:"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        refuses(cases[i].text, cases[i].words);
    }
}

/* ---- files ---- */

static char folder[] = "/tmp/slotjig-limits-XXXXXX";

static const char *in_folder(const char *name) {
    static char path[4][200];
    static int next;
    char *to = path[next++ % 4];
    snprintf(to, sizeof path[0], "%s/%s", folder, name);
    return to;
}

static void write_file(const char *name, const void *bytes, size_t size) {
    FILE *file = fopen(in_folder(name), "wb");
    assert_non_null(file);
    assert_int_equal(fwrite(bytes, 1, size, file), size);
    assert_int_equal(fclose(file), 0);
}

static void file_refused(const char *name, const char *words) {
    struct ship_plan plan;
    struct problem problem = {0};
    assert_false(ship_plan_read(in_folder(name), &plan, &problem));
    ship_plan_free(&plan);
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, words) == NULL) {
        fail_msg("\"%s\" is not in: %s", words, problem.text);
    }
}

static void files_and_images(void **state) {
    (void)state;
    static const char text[] = S "image = game.bin\n";
    static uint8_t image[40000];
    static char large[SHIP_FILE_MAX + 10];
    struct ship_plan plan;
    struct problem problem = {0};
    assert_non_null(mkdtemp(folder));
    for (size_t i = 0; i < sizeof image; i++) {
        image[i] = (uint8_t)(i * 7);
    }
    write_file("l.ini", text, strlen(text));
    file_refused("none.ini", "none.ini: No such file");
    file_refused("l.ini", "game.bin: No such file");
    const size_t sizes[] = {0, 1, 4096, 8191, 8193, 32768};
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        write_file("game.bin", image, sizes[i]);
        file_refused("l.ini", "but scheme F8");
    }
    write_file("game.bin", image, 8192);
    assert_true(ship_plan_read(in_folder("l.ini"), &plan, &problem));
    assert_memory_equal(plan.bytes, image, 8192);
    ship_plan_free(&plan);
    write_file("l.ini", S "\0", strlen(S) + 1);
    file_refused("l.ini", "byte 0");
    memset(large, ';', sizeof large);
    write_file("l.ini", large, sizeof large);
    file_refused("l.ini", "longer than 65536 bytes");
    file_refused(".", "Is a directory");
    unlink(in_folder("l.ini"));
    unlink(in_folder("game.bin"));
    rmdir(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(least_and_defaults),
        cmocka_unit_test(every_key),
        cmocka_unit_test(what_is_refused),
        cmocka_unit_test(files_and_images),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
