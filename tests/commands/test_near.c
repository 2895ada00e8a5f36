/* Names like one that does not exist. */
#include "commands/near.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>

#include <cmocka.h>

static void distances(void **state) {
    (void)state;
    /* "kitten" to "sitting" is 3: the usual worked example of Levenshtein's distance (k-s, e-i, +g) [A] */
    assert_int_equal(near_distance("kitten", "sitting"), 3);
    assert_int_equal(near_distance("sitting", "kitten"), 3);
    assert_int_equal(near_distance("", "abc"), 3);
    assert_int_equal(near_distance("Shelf 01", "shelf 01"), 0);
}

static void named(void **state) {
    (void)state;
    static const char *const shelf[] = {"shelf 01", "shelf 02", "attic", "lab", "left"};
    char text[300];
    near_names("shelf 1", shelf, 5, text, sizeof text);
    assert_string_equal(text, "did you mean shelf 01 or shelf 02?");
    near_names("atic", shelf, 5, text, sizeof text);
    assert_string_equal(text, "did you mean attic?");
    near_names("wholly other", shelf, 5, text, sizeof text);
    assert_string_equal(text, "there are shelf 01, shelf 02, attic and 2 more");
    near_names("anything", shelf, 0, text, sizeof text);
    assert_string_equal(text, "");
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(distances), cmocka_unit_test(named)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
