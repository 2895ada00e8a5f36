/* Texts from outside, against RFC 3629's own examples and Jansson's judgement of what is UTF-8. */
#include "base/utf8.h"

#include <jansson.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { SEED = 6, ROUNDS = 20000, LONGEST = 12 };

static bool is_json_text(const char *text) {
    json_t *json = json_string(text);
    json_decref(json);
    return json != NULL;
}

static void examples(void **state) {
    (void)state;
    /* RFC 3629, section 7: "A<NOT IDENTICAL TO><ALPHA>." and three words; section 3 and 10: overlong forms,
     * surrogates, codes above U+10FFFF are none. */
    static const char *const good[] = {"", "A\xE2\x89\xA2\xCE\x91.", "\xED\x95\x9C\xEA\xB5\xAD\xEC\x96\xB4",
                                       "\xF0\xA3\x8E\xB4", "'; DROP TABLE \"runs\"; --"};
    static const char *const bad[] = {"\xC0\x80",
                                      "\xE0\x80\xAF",
                                      "\xED\xA0\x80",
                                      "\xF4\x90\x80\x80",
                                      "\xF8\x88\x80\x80\x80",
                                      "\xFF",
                                      "\x80",
                                      "a\xE2\x89",
                                      "tab\t",
                                      "\x1B[1m",
                                      "\x7F",
                                      "\xC2\x85",
                                      "line\nfeed"};
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++) {
        char clean[64];
        utf8_clean(good[i], clean, sizeof clean, false);
        assert_true(utf8_is_clean(good[i]));
        assert_string_equal(clean, good[i]);
    }
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        char clean[64];
        utf8_clean(bad[i], clean, sizeof clean, false);
        assert_false(utf8_is_clean(bad[i]));
        assert_true(utf8_is_clean(clean));
        assert_non_null(strchr(clean, '?'));
    }
}

static bool has_control(const char *text) {
    for (; *text != '\0'; text++) {
        const unsigned char byte = (unsigned char)*text, next = (unsigned char)text[1];
        if (byte < 0x20 || byte == 0x7F || (byte == 0xC2 && next >= 0x80 && next < 0xA0)) {
            return true;
        }
    }
    return false;
}

/* Bytes that are often parts of characters, so that whole ones come up. */
static void random_text(char text[LONGEST + 1]) {
    static const char likely[] = "\xC2\xE2\xF0\xED\x80\x9F\xA0\xBF\x85z\xF4\xE0";
    const int length = rand() % (LONGEST + 1);
    for (int i = 0; i < length; i++) {
        text[i] = rand() % 4 == 0 ? (char)(1 + rand() % 255) : likely[rand() % (int)(sizeof likely - 1)];
    }
    text[length] = '\0';
}

static void random_bytes(void **state) {
    (void)state;
    int clean_ones = 0;
    srand(SEED);
    for (int i = 0; i < ROUNDS; i++) {
        char text[LONGEST + 1], clean[LONGEST + 1], cut[6];
        random_text(text);
        const bool wanted = is_json_text(text) && !has_control(text);
        if (utf8_is_clean(text) != wanted) {
            fail_msg("seed %d, round %d: '%s' is%s clean", SEED, i, text, wanted ? "" : " not");
        }
        utf8_clean(text, clean, sizeof clean, false);
        assert_true(is_json_text(clean) && !has_control(clean));
        assert_true(!wanted || strcmp(clean, text) == 0);
        utf8_clean(text, cut, sizeof cut, false);
        assert_true(is_json_text(cut) && strlen(cut) < sizeof cut);
        clean_ones += wanted;
    }
    assert_in_range(clean_ones, ROUNDS / 100, ROUNDS - ROUNDS / 100);
}

static void lines_may_stay(void **state) {
    (void)state;
    char clean[32];
    utf8_clean("a\nb\rc", clean, sizeof clean, true);
    assert_string_equal(clean, "a\nb?c");
    utf8_clean("\xE2\x89\xA2\xE2\x89\xA2", clean, 6, false);
    assert_string_equal(clean, "\xE2\x89\xA2");
}

/* Names [S Unicode Standard 15, chart General Punctuation; UAX #9]. */
static void names(void **state) {
    (void)state;
    static const char *const good[] = {"oak",
                                       "a  b",
                                       "=1",
                                       "\xF0\x9F\x91\xA9\xE2\x80\x8D\xF0\x9F\x94\xA7",
                                       "\xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D",
                                       "\xEF\xBF\xBE"};
    static const char *const bad[] = {"",
                                      " ",
                                      " oak",
                                      "oak ",
                                      "oak\xC2\xA0",
                                      "\xE3\x80\x80oak",
                                      "o\xC2\xADk",
                                      "o\xE2\x80\x8Bk",
                                      "\xE2\x80\xAEkao",
                                      "o\xE2\x81\xA6k",
                                      "o\xEF\xBB\xBFk",
                                      "o\xE2\x80\xA8k",
                                      "o\tk",
                                      "o\xFFk"};
    for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
        assert_true(utf8_is_name(good[i]));
    }
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        if (utf8_is_name(bad[i])) {
            fail_msg("bad name %zu: '%s'", i, bad[i]);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(examples), cmocka_unit_test(random_bytes),
                                       cmocka_unit_test(lines_may_stay), cmocka_unit_test(names)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
