/* Plan moments written out and read back: nothing is lost, and what is broken is refused by name. */
#include "report/moments_report.h"
#include "verdict/moments_ideal.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <ftw.h>
#include <stdlib.h>
#include <unistd.h>

static struct moments moments, back; /* large: kept off the stack */

static void make(void) {
    struct ideal ideal = {0};
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        ideal.delay[i / MOMENT_PHASES][i % MOMENT_PHASES] = i * 5 % 13;
    }
    ideal_seen(&ideal, &moments);
}

static json_t *entry(json_t *json, const char *list, size_t at) {
    return json_array_get(json_object_get(json, list), at);
}

static const char *text_of(json_t *object, const char *key) {
    return json_string_value(json_object_get(object, key));
}

/* The keys that a result of this plan has. */
static void json_has_delays_and_windows(void **state) {
    (void)state;
    make();
    json_t *json = moments_json(&moments);
    assert_int_equal(json_array_size(json_object_get(json, "delays")), MOMENT_REGISTERS * MOMENT_PHASES);
    for (size_t i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        json_t *delay = entry(json, "delays", i);
        const struct moment_delay *wanted = &moments.delay[i / 4][i % 4];
        assert_string_equal(text_of(delay, "register"), moment_name((enum moment_register)(i / 4)));
        assert_int_equal(json_integer_value(json_object_get(delay, "phase")), i % 4);
        assert_true(fabs(json_number_value(json_object_get(delay, "clocks")) - wanted->clocks) < 1e-6);
        assert_true(fabs(json_number_value(json_object_get(delay, "low")) - wanted->low) < 1e-6);
        assert_true(fabs(json_number_value(json_object_get(delay, "high")) - wanted->high) < 1e-6);
        assert_true(json_is_number(json_object_get(delay, "spread")));
        assert_int_equal(json_is_true(json_object_get(delay, "exact")), wanted->exact);
    }
    static const char *const lists[] = {"windows", "arithmetic"};
    for (int list = 0; list < 2; list++) {
        const struct write_windows *windows = list == 0 ? &moments.windows : &moments.arithmetic;
        for (size_t i = 0; i < MOMENT_REGISTERS * MOMENT_MODES * HALVES; i++) {
            json_t *window = entry(json, lists[list], i), *first = json_object_get(window, "first_cycle");
            const struct write_window *wanted = &windows->window[i / 4][i / 2 % 2][i % 2];
            assert_string_equal(text_of(window, "mode"), i / 2 % 2 == 0 ? "copy" : "mirror");
            assert_string_equal(text_of(window, "half"), i % 2 == 0 ? "left" : "right");
            assert_true(wanted->exists ? json_integer_value(first) == wanted->first : json_is_null(first));
            assert_int_equal(json_is_null(json_object_get(window, "last_cycle")), !wanted->exists);
        }
    }
    json_decref(json);
}

static void a_result_read_back_is_the_same(void **state) {
    (void)state;
    struct problem problem;
    make();
    moments.seen[77].half[1][1].state = HALF_MIXED;
    moments_conclude(&moments);
    moments.delay[MOMENT_PF1][2].known = false;
    json_t *json = moments_json(&moments);
    assert_true(moments_from_json(json, "a.json", STANDARD_PAL, &back, &problem));
    assert_int_equal(back.standard, STANDARD_PAL);
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_PHASES; i++) {
        const struct moment_delay *one = &moments.delay[i / 4][i % 4], *other = &back.delay[i / 4][i % 4];
        assert_int_equal(one->known, other->known);
        assert_int_equal(one->exact, other->exact);
        assert_true(fabs(one->clocks - other->clocks) < 0.001);
        assert_int_equal(one->observations, other->observations);
    }
    for (uint32_t value = 0; value < MOMENT_VALUES; value++) {
        assert_int_equal(moments.seen[value].fields, back.seen[value].fields);
        for (int i = 0; i < 4; i++) {
            const struct half_seen *one = &moments.seen[value].half[i / 2][i % 2];
            const struct half_seen *other = &back.seen[value].half[i / 2][i % 2];
            assert_int_equal(one->state, other->state);
            assert_true(one->state != HALF_CHANGES || fabs(one->clock - other->clock) < 0.001);
        }
    }
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES * HALVES; i++) {
        const struct write_window *one = &moments.windows.window[i / 4][i / 2 % 2][i % 2];
        const struct write_window *other = &back.windows.window[i / 4][i / 2 % 2][i % 2];
        assert_true(one->exists == other->exists && one->first == other->first && one->last == other->last);
    }
    json_decref(json);
}

/* The drawing's reader of windows takes what is written here. */
static void windows_are_read_from_the_file(void **state) {
    (void)state;
    struct problem problem;
    struct write_windows windows;
    char path[] = "/tmp/slotjig-moments-XXXXXX";
    make();
    const int file = mkstemp(path);
    assert_true(file >= 0);
    json_t *json = moments_json(&moments);
    assert_int_equal(json_dumpfd(json, file, 0), 0);
    close(file);
    const bool good = windows_read(path, &windows, &problem);
    unlink(path);
    json_decref(json);
    assert_true(good);
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES * HALVES; i++) {
        const struct write_window *one = &moments.windows.window[i / 4][i / 2 % 2][i % 2];
        const struct write_window *other = &windows.window[i / 4][i / 2 % 2][i % 2];
        assert_true(one->exists == other->exists &&
                    (!one->exists || (one->first == other->first && one->last == other->last)));
    }
}

static void refuse(json_t *json, const char *said) {
    struct problem problem = {.kind = PROBLEM_BENCH};
    assert_false(moments_from_json(json, "broken.json", STANDARD_NTSC, &back, &problem));
    if (problem.kind != PROBLEM_INPUT || strstr(problem.text, said) == NULL ||
        strstr(problem.text, "broken.json") == NULL) {
        fail_msg("said: %s; wanted: %s", problem.text, said);
    }
    json_decref(json);
}

static void broken_results_are_refused(void **state) {
    (void)state;
    static const struct {
        const char *list;
        size_t at;
        const char *key, *json, *said;
    } cases[] = {
        {"moments", 3, "register", "\"PF7\"", "`moments`, entry 4: \"register\""},
        {"moments", 0, "register", "12", "\"register\""},
        {"moments", 0, "mode", "\"upside down\"", "copy or mirror"},
        {"moments", 0, "edge", "null", "rising or falling"},
        {"moments", 0, "fields", "-1", "\"fields\""},
        {"moments", 0, "fields", "2.5", "\"fields\""},
        {"moments", 0, "spread", "-0.1", "\"spread\""},
        {"moments", 0, "spread", "\"0\"", "\"spread\""},
        {"moments", 27, "left", "[1, 2]", "a list of 76"},
        {"moments", 27, "right", "{}", "a list of 76"},
        {"delays", 5, "phase", "4", "`delays`, entry 6: \"phase\""},
        {"delays", 5, "phase", "-1", "\"phase\""},
        {"delays", 5, "clocks", "\"two\"", "\"clocks\""},
        {"delays", 5, "register", "null", "\"register\""},
    };
    make();
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        json_t *json = moments_json(&moments);
        json_object_set_new(entry(json, cases[i].list, cases[i].at), cases[i].key,
                            json_loads(cases[i].json, JSON_DECODE_ANY, NULL));
        refuse(json, cases[i].said);
    }
    static const char *const halves[] = {"67.9", "228.1", "1e300", "\"changes\"", "\"odd\"", "[]", "true"};
    for (size_t i = 0; i < sizeof halves / sizeof halves[0]; i++) {
        json_t *json = moments_json(&moments);
        json_array_set_new(json_object_get(entry(json, "moments", 2), "left"), 40,
                           json_loads(halves[i], JSON_DECODE_ANY, NULL));
        refuse(json, "entry 3: \"left\"");
    }
    json_t *json = moments_json(&moments);
    json_object_del(json, "moments");
    refuse(json, "no list `moments`");
    json = moments_json(&moments);
    json_object_set_new(json, "delays", json_array());
    refuse(json, "no list `delays`");
    refuse(json_object(), "no list `moments`");
}

/* ---- text and CSV ---- */

static char *slurp(const char *folder, const char *name) {
    char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "rb");
    assert_non_null(file);
    char *text = calloc(1, 1 << 20);
    assert_true(fread(text, 1, (1 << 20) - 1, file) > 0);
    fclose(file);
    return text;
}

static int lines_of(const char *text) {
    int lines = 0;
    for (; *text != '\0'; text++) {
        lines += *text == '\n';
    }
    return lines;
}

static int remove_one(const char *path, const struct stat *about, int kind, struct FTW *where) {
    (void)about, (void)kind, (void)where;
    return remove(path);
}

/* What is derived stands in columns of its own, whose headings say so. */
static void files_keep_measured_and_derived_apart(void **state) {
    (void)state;
    struct problem problem;
    char folder[] = "/tmp/slotjig-moments-XXXXXX";
    assert_non_null(mkdtemp(folder));
    make();
    assert_true(moments_write(&moments, "bench one", folder, &problem));
    char *csv = slurp(folder, "moments.csv"), *text = slurp(folder, "moments.txt");
    assert_int_equal(lines_of(csv), 1 + MOMENT_VALUES * MOMENT_EDGES);
    static const char heading[] = "register,mode,edge,cycle,store_clock_derived,fields,left_state_measured,"
                                  "left_clock_measured,left_spread_measured,right_state_measured,"
                                  "right_clock_measured,right_spread_measured\n";
    assert_memory_equal(csv, heading, strlen(heading));
    /* COLUBK's phase 3 is number 27: 27 * 5 mod 13 = 5 clocks. Cycle 25 is clock 75, of phase 3: 80 [A]. */
    assert_non_null(strstr(csv, "\nCOLUBK,copy,rising,25,75,3,changes,80.000,0.010,new,,\n"));
    assert_non_null(strstr(text, "measured (cycles)"));
    assert_non_null(strstr(text, "derived: 68 + 4n, no delay (cycles)"));
    assert_non_null(strstr(text, "Delays, measured"));
    free(csv);
    free(text);
    free(slurp(folder, "moments.svg"));
    nftw(folder, remove_one, 8, FTW_DEPTH | FTW_PHYS);
}

static void differences_are_written_out(void **state) {
    (void)state;
    static struct moments_difference difference;
    struct ideal ideal = {0};
    char *text = NULL;
    size_t size = 0;
    ideal_seen(&ideal, &moments);
    ideal.delay[MOMENT_COLUPF][1] = 3;
    ideal_seen(&ideal, &back);
    moments_differ(&moments, &back, &difference);
    const struct moments_pair pair = {&moments, &back, &difference};
    FILE *stream = open_memstream(&text, &size);
    moments_difference_text(stream, &pair);
    fclose(stream);
    assert_non_null(strstr(text, "1 of 28 delays differ"));
    assert_non_null(strstr(text, "COLUPF     1      0.00          3.00\n"));
    free(text);
    stream = open_memstream(&text, &size);
    moments_difference_csv(stream, &pair);
    fclose(stream);
    assert_int_equal(lines_of(text), 1 + MOMENT_VALUES * MOMENT_EDGES * HALVES);
    /* Cycle 27 is clock 81, of phase 1 [A]. */
    assert_non_null(strstr(text, "\nCOLUPF,copy,rising,left,27,81.00,84.00,1\n"));
    assert_non_null(strstr(text, "\nCOLUPF,copy,rising,left,28,84.00,84.00,0\n"));
    free(text);
    json_t *json = moments_difference_json(&pair);
    assert_int_equal(json_array_size(json_object_get(json, "delays")), 1);
    assert_string_equal(text_of(entry(json, "delays", 0), "register"), "COLUPF");
    json_decref(json);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(json_has_delays_and_windows),
        cmocka_unit_test(a_result_read_back_is_the_same),
        cmocka_unit_test(windows_are_read_from_the_file),
        cmocka_unit_test(broken_results_are_refused),
        cmocka_unit_test(files_keep_measured_and_derived_apart),
        cmocka_unit_test(differences_are_written_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
