/* What a reader found, written and read back: JSON, CSV, text, the part of a page. */
#include "report/html_inside.h"
#include "report/reader_report.h"
#include "verdict/reader_stand.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>
#include <string.h>

static uint8_t image[32768];
static struct reader_seen seen;
static struct reader_result result, back;
static struct reader_limits limits, limits_back;

/* A page that is slow, a byte that is wrong, a late start. */
static void measure(void) {
    struct reader_order order;
    struct cart_faults faults;
    stand_image(WIRE_F8, 5, image);
    stand_order(WIRE_F8, true, image, &order);
    order.times = true;
    cart_faults_none(WIRE_F8, &faults);
    faults.slow_pages = 1;
    faults.slow[0] = (struct cart_slow){0x12, 500};
    faults.bytes = 1;
    faults.byte[0] = (struct cart_byte){0x0ABC, 1};
    faults.late_us = 90000;
    assert_true(stand_measure(image, &faults, 4, &order, &seen));
    reader_limits_default(&limits);
    limits.margin_ns = 12.5;
    reader_judge(&seen, image, &limits, &result);
    assert_int_equal(result.finding_count, 3);
}

static char *printed(void (*print)(FILE *stream)) {
    char *text;
    size_t size;
    FILE *stream = open_memstream(&text, &size);
    print(stream);
    assert_int_equal(fclose(stream), 0);
    return text;
}

static void test_json(void **state) {
    struct problem problem = {.text = ""};
    (void)state;
    measure();
    json_t *json = reader_json(&result, &limits);
    assert_non_null(json);
    char *text = json_dumps(json, 0);
    json_t *again = json_loads(text, 0, NULL);
    if (!reader_from_json(again, "here", &back, &limits_back, &problem)) {
        fail_msg("%s", problem.text);
    }
    assert_memory_equal(&limits, &limits_back, sizeof limits);
    assert_int_equal(back.verdict, VERDICT_FAIL);
    assert_int_equal(back.scheme, WIRE_F8);
    assert_true(back.ram && back.compared);
    assert_int_equal(back.wrong_bytes, result.wrong_bytes);
    assert_memory_equal(back.wrong, result.wrong, sizeof back.wrong);
    assert_int_equal(back.worst_count, 10);
    for (size_t i = 0; i < 10; i++) {
        assert_int_equal(back.worst[i].offset, result.worst[i].offset);
        assert_int_equal(back.worst[i].manner, result.worst[i].manner);
        assert_true(fabs(back.worst[i].ns - result.worst[i].ns) < 1e-9);
    }
    assert_memory_equal(back.spans, result.spans, sizeof back.spans);
    assert_true(fabs(back.wake_ms - result.wake_ms) < 1e-9 && back.wake_known && !back.wake_never);
    assert_true(fabs(back.margin_ns - result.margin_ns) < 1e-9);
    free(text);
    json_decref(json);
    json_decref(again);
}

/* Each key of the object and of those in it, taken away, turned into a text or into a huge number, is refused
 * in one line or makes no difference; nothing falls over. */
static void check_damaged(const char *key, json_t *value, int damage) {
    struct problem problem = {.text = ""};
    json_t *json = reader_json(&result, &limits);
    if (damage == 0) {
        json_object_del(json, key);
    } else {
        json_object_set(json, key, value);
    }
    const bool taken = reader_from_json(json, "here", &back, &limits_back, &problem);
    assert_true(taken || (problem.text[0] != '\0' && strchr(problem.text, '\n') == NULL));
    if (!taken) {
        assert_int_equal(problem.kind, PROBLEM_INPUT);
    }
    /* Findings are the record's; release was tried, and may have been not. */
    assert_int_equal(taken, strcmp(key, "findings") == 0 ||
                                (damage == 3 && (strcmp(key, "times") == 0 || strcmp(key, "release") == 0 ||
                                                 strcmp(key, "wake") == 0)));
    json_decref(json);
}

static void test_damaged(void **state) {
    (void)state;
    measure();
    json_t *json = reader_json(&result, &limits);
    json_t *values[] = {NULL, json_string("<odd>"), json_integer(-1), json_null()};
    const char *key;
    json_t *value;
    json_object_foreach(json, key, value) {
        for (int damage = 0; damage < 4; damage++) {
            check_damaged(key, values[damage], damage);
        }
    }
    for (int i = 1; i < 4; i++) {
        json_decref(values[i]);
    }
    json_decref(json);
}

/* Deeper: a span that cannot be, an address beyond the image, a manner that there is not. */
static void test_damaged_times(void **state) {
    static const char *const spans[] = {"[1,2,3,999]", "[1,2]", "[1,2,3,-4]"};
    struct problem problem;
    (void)state;
    measure();
    for (int i = 0; i < 5; i++) {
        json_t *json = reader_json(&result, &limits), *times = json_object_get(json, "times");
        json_t *worst = json_array_get(json_object_get(times, "worst"), 0);
        if (i < 3) {
            json_array_set_new(json_object_get(times, "spans"), 20, json_loads(spans[i], 0, NULL));
        } else if (i == 3) {
            json_object_set_new(worst, "offset", json_integer(8192));
        } else {
            json_object_set_new(worst, "manner", json_string("none"));
        }
        assert_false(reader_from_json(json, "here", &back, &limits_back, &problem));
        assert_int_equal(problem.kind, PROBLEM_INPUT);
        json_decref(json);
    }
}

static void print_csv(FILE *stream) {
    reader_csv(stream, &seen, image);
}

/* A row an address that is read (with RAM 256 fewer in each bank), and the wrong byte beside the right one.
 */
static void test_csv(void **state) {
    (void)state;
    measure();
    char *text = printed(print_csv);
    size_t lines = 0;
    for (const char *at = text; *at != '\0'; at++) {
        lines += *at == '\n';
    }
    assert_int_equal(lines, 1 + 8192 - 2 * 256);
    char row[64];
    snprintf(row, sizeof row, "\n2748,0,0x1ABC,0x%02X,0x00,0x%02X,", image[0xABC] ^ 1, image[0xABC]);
    assert_non_null(strstr(text, row));
    free(text);
}

static void print_terminal(FILE *stream) {
    reader_terminal(stream, &result, &limits);
}

static void test_terminal(void **state) {
    (void)state;
    measure();
    char *text = printed(print_terminal);
    assert_non_null(strstr(text, "bytes are not the image's"));
    assert_non_null(strstr(text, "0 $1ABC"));
    assert_non_null(strstr(text, "1 $12"));
    assert_non_null(strstr(text, "next: "));
    free(text);
}

static void print_page(FILE *stream) {
    struct html html;
    html_begin(&html, stream, "Cartridge", "one & <two>");
    html_reader_result(&html, &result, &limits, "one & <two>");
    html_end(&html);
}

static void test_page(void **state) {
    (void)state;
    measure();
    char *text = printed(print_page);
    assert_non_null(strstr(text, "data-figure=\"slowest address\""));
    assert_non_null(strstr(text, "<svg class=\"chart\""));
    assert_null(strstr(text, "<two>"));
    assert_null(strstr(text, "<script"));
    free(text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_json), cmocka_unit_test(test_damaged),  cmocka_unit_test(test_damaged_times),
        cmocka_unit_test(test_csv),  cmocka_unit_test(test_terminal), cmocka_unit_test(test_page),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
