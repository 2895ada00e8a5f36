/* Charts: well-formed XML with a title and a description, texts that do not lie on each other, and marks
 * where the numbers say [A: positions are linear in the axes' own ticks]. */
#include "report/chart.h"
#include "report/svg.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { TEXTS_MOST = 4000, DEPTH_MOST = 16 };

static struct palette palette, other;
static struct moments moments, later;
static struct reader_result reader;
static struct reader_limits limits;

/* ---- what is drawn ---- */

/* Levels of sevenths and hues so many degrees apart, of so much colour. */
static void make_palette(struct palette *out, double apart, double first, double saturation) {
    memset(out, 0, sizeof *out);
    out->has_chroma = saturation > 0;
    for (int reg = 0; reg < PALETTE_REGISTERS; reg++) {
        for (int code = 0; code < COLOUR_CODES; code++) {
            const int hue = code / COLOUR_LEVELS;
            const double angle = fmod(first + (hue - 1) * apart + 720, 360);
            const double amount = hue > 0 ? saturation : 0;
            out->colour[reg][code] = (struct palette_colour){.fields = 3,
                                                             .level = code % COLOUR_LEVELS / 7.0,
                                                             .cb = -amount * cos(angle * M_PI / 180),
                                                             .cr = -amount * sin(angle * M_PI / 180),
                                                             .saturation = amount,
                                                             .hue = angle};
            out->hue[reg][hue] = (struct palette_hue){
                .known = true, .hue = angle, .saturation = amount, .slope = 1 / 7.0, .ordered = true};
        }
    }
}

static void make_moments(struct moments *out, double delay) {
    memset(out, 0, sizeof *out);
    for (uint32_t value = 0; value < MOMENT_VALUES; value++) {
        const struct moment moment = moment_of(value);
        for (int i = 0; i < MOMENT_EDGES * HALVES; i++) {
            const double clock = 3 * moment.cycle + delay;
            const int half = clock >= 148;
            if (i % HALVES == half && clock >= 68 && clock < 228) {
                out->seen[value].half[i / HALVES][half] =
                    (struct half_seen){.state = HALF_CHANGES, .clock = clock, .spread = 0.2};
            }
        }
    }
    for (int i = 0; i < MOMENT_REGISTERS * MOMENT_MODES * HALVES; i++) {
        struct write_window *window =
            &out->windows.window[i / HALVES / MOMENT_MODES][i / HALVES % MOMENT_MODES][i % HALVES];
        *window = (struct write_window){.exists = i % 5 != 4, .first = i % 3 == 0 ? -75 : 22, .last = 48};
        out->arithmetic.window[i / HALVES / MOMENT_MODES][i / HALVES % MOMENT_MODES][i % HALVES] =
            (struct write_window){.exists = true, .first = 23, .last = 49};
    }
}

/* A cycle is 10 ns: bank 1's second page takes 500 ns, the rest 150 [A]. */
static void make_reader(int scheme, bool ram) {
    memset(&reader, 0, sizeof reader);
    reader_limits_default(&limits);
    reader.scheme = scheme;
    reader.ram = ram;
    reader.cycle_ps = 10000;
    reader.mapped = (uint32_t)scheme_bytes(scheme);
    const size_t bank = scheme_bank_bytes(scheme) / READER_SPAN;
    for (size_t i = 0; i < scheme_bytes(scheme) / READER_SPAN; i++) {
        const uint8_t cycles = i / bank == 1 && i % bank / 16 == 1 ? 50 : 15;
        reader.spans[i] = (struct reader_span){
            .known = !ram || i % bank >= 16, .least = cycles, .most = {cycles, cycles, cycles}};
    }
    for (size_t i = 0; i < 10; i++) {
        reader.worst[reader.worst_count++] =
            (struct reader_address_time){.offset = (scheme_banks(scheme) > 1 ? 0x1100 : 0x100) + 20 * i,
                                         .ns = 500,
                                         .manner = (int)(i % 3)};
    }
    reader.slowest_ns = 500;
    reader.typical_ns = 150;
    reader.margin_ns = limits.access_ns - 500;
}

/* ---- reading it back ---- */

/* Into memory that stays. */
static const char *drawn(void (*draw)(FILE *stream)) {
    static char *text;
    static size_t size;
    free(text);
    FILE *stream = open_memstream(&text, &size);
    assert_non_null(stream);
    draw(stream);
    assert_int_equal(fclose(stream), 0);
    return text;
}

static const char *skip_tag(const char *at, const char *name) {
    for (bool quoted = false; quoted || *at != '>'; at++) {
        if (*at == '\0' || (!quoted && *at == '<')) {
            fail_msg("a tag does not end: %.40s", name);
        }
        quoted = *at == '"' ? !quoted : quoted;
    }
    return at;
}

/* Tags nest, attributes are quoted, and no bare & stands anywhere. */
static void check_nesting(const char *text) {
    char open[DEPTH_MOST][32];
    int depth = 0;
    const char *at = strchr(text, '>') + 1; /* behind <?xml ... ?> */
    for (; *at != '\0'; at++) {
        if (*at == '&') {
            assert_true(strncmp(at, "&lt;", 4) == 0 || strncmp(at, "&gt;", 4) == 0 ||
                        strncmp(at, "&amp;", 5) == 0 || strncmp(at, "&#39;", 5) == 0 ||
                        strncmp(at, "&quot;", 6) == 0);
        }
        if (*at != '<') {
            continue;
        }
        const char *name = at + 1, *end = skip_tag(at + 1, at + 1);
        const size_t length = strcspn(name[0] == '/' ? name + 1 : name, " />\n");
        if (name[0] == '/') {
            assert_true(depth > 0);
            assert_memory_equal(open[--depth], name + 1, length);
            assert_int_equal(strlen(open[depth]), length);
        } else if (end[-1] != '/') {
            assert_true(depth < DEPTH_MOST && length < sizeof open[0]);
            memcpy(open[depth], name, length);
            open[depth++][length] = '\0';
        }
        at = end;
    }
    assert_int_equal(depth, 0);
}

/* A parser of others', where there is one. */
static void check_xml(const char *text) {
    char path[] = "/tmp/slotjig-chart-XXXXXX", command[64];
    if (system("command -v xmllint >/dev/null 2>&1") != 0) {
        return;
    }
    const int file = mkstemp(path);
    assert_true(file >= 0);
    assert_int_equal(write(file, text, strlen(text)), (ssize_t)strlen(text));
    close(file);
    snprintf(command, sizeof command, "xmllint --noout --nonet %s", path);
    const int status = system(command);
    unlink(path);
    assert_int_equal(status, 0);
}

struct text {
    double left, right, top, bottom;
    char words[80];
};

static double font_size(const char *class) {
    return strcmp(class, "title") == 0   ? 18
           : strcmp(class, "head") == 0  ? 13
           : strcmp(class, "small") == 0 ? 10
                                         : 12;
}

/* As shown: "&#39;" is one character. */
static size_t shown_length(const char *words) {
    size_t length = 0;
    for (; *words != '\0'; words++, length++) {
        words = *words == '&' ? strchr(words, ';') : words;
    }
    return length;
}

/* Widths of a sans-serif are 0.5 to 0.56 of its size on the average [common practice, no source]. */
static int find_texts(const char *svg, struct text *texts) {
    int count = 0;
    for (const char *at = strstr(svg, "<text"); at != NULL; at = strstr(at + 1, "<text")) {
        double x, y;
        char class[16] = "", anchor[8], words[512];
        assert_int_equal(
            sscanf(at, "<text x=\"%lf\" y=\"%lf\" class=\"%15[a-z]\" text-anchor=\"%7[a-z]\">%511[^<]", &x,
                   &y, class, anchor, words),
            5);
        const double size = font_size(class), width = 0.5 * size * (double)shown_length(words);
        struct text *text = &texts[count++];
        assert_true(count < TEXTS_MOST);
        text->left = anchor[0] == 's' ? x : anchor[0] == 'm' ? x - width / 2 : x - width;
        text->right = text->left + width;
        text->top = y - 0.72 * size;
        text->bottom = y;
        snprintf(text->words, sizeof text->words, "%.79s", words);
    }
    return count;
}

static void check_texts(const char *svg) {
    static struct text texts[TEXTS_MOST];
    double width, height;
    assert_int_equal(sscanf(strstr(svg, "viewBox"), "viewBox=\"0 0 %lf %lf", &width, &height), 2);
    const int count = find_texts(svg, texts);
    assert_true(count > 20);
    for (int i = 0; i < count; i++) {
        const struct text *a = &texts[i];
        if (a->left < 0 || a->right > width || a->top < 0 || a->bottom > height) {
            fail_msg("\"%s\" lies outside: %.0f to %.0f", a->words, a->left, a->right);
        }
        for (int j = 0; j < i; j++) {
            const struct text *b = &texts[j];
            if (a->left < b->right && b->left < a->right && a->top < b->bottom && b->top < a->bottom) {
                fail_msg("\"%s\" lies on \"%s\"", a->words, b->words);
            }
        }
    }
}

static void check(void (*draw)(FILE *stream), const char *keep) {
    const char *svg = drawn(draw);
    const char *folder = getenv("SLOTJIG_TEST_CHARTS"); /* to look at them */
    if (folder != NULL) {
        char path[256];
        snprintf(path, sizeof path, "%s/%s.svg", folder, keep);
        FILE *file = fopen(path, "w");
        assert_non_null(file);
        fputs(svg, file);
        fclose(file);
    }
    check_nesting(svg);
    check_xml(svg);
    check_texts(svg);
    assert_non_null(strstr(svg, "<title id=\"title\">"));
    assert_non_null(strstr(svg, "<desc id=\"about\">"));
    assert_non_null(strstr(svg, "measured"));
    assert_true(strstr(svg, ">bench &amp; &lt;one&gt;</text>") != NULL ||
                strstr(svg, ">first: a; second: b</text>") != NULL);
    assert_non_null(strstr(svg, "derived"));
    assert_non_null(strstr(svg, "prefers-color-scheme:dark"));
    assert_non_null(strstr(strstr(svg, "@media print{.chart{"), "width:100%;height:auto}"));
    assert_null(strstr(svg, "http://www.w3.org/1999/xlink")); /* nothing is fetched */
    assert_null(strstr(svg, "nan"));
    assert_null(strstr(svg, "inf\""));
}

/* ---- tests ---- */

static void draw_palette(FILE *stream) {
    chart_colours(stream, 0, &palette, "bench & <one>");
}

static void draw_palettes(FILE *stream) {
    chart_colours_difference(stream, &palette, &other, "first: a; second: b");
}

static void draw_moments(FILE *stream) {
    chart_moments(stream, 0, &moments, "bench & <one>");
}

static void draw_both_moments(FILE *stream) {
    chart_moments_difference(stream, &moments, &later, "first: a; second: b");
}

static void draw_reader(FILE *stream) {
    chart_reader(stream, 0, &reader, &limits, "bench & <one>");
}

/* What lies where: the limit's line and a diamond, between two ticks of the same axis. */
static void test_reader(void **state) {
    (void)state;
    for (int scheme = WIRE_2K; scheme <= WIRE_F4; scheme++) {
        char name[16];
        snprintf(name, sizeof name, "reader-%s", scheme_name(scheme));
        make_reader(scheme, scheme == WIRE_F6);
        check(draw_reader, name);
    }
    make_reader(WIRE_4K, false);
    const char *svg = drawn(draw_reader);
    double top, bottom, line, left, right, x, y;
    char mark[256];
    /* Ticks at every 100 ns, from 0 at the bottom; the highest is 600 [A: 500 + 20, rounded up]. */
    const char *frame = strstr(svg, "class=\"frame\"");
    while (*frame != '<') {
        frame--;
    }
    assert_int_equal(
        sscanf(frame, "<rect x=\"%lf\" y=\"%lf\" width=\"%lf\" height=\"%lf\"", &left, &top, &right, &bottom),
        4);
    const char *dashed = strstr(frame, "class=\"derived\"");
    while (*dashed != '<') {
        dashed--;
    }
    assert_int_equal(sscanf(dashed, "<line x1=\"%lf\" y1=\"%lf\"", &x, &line), 2);
    assert_float_equal((float)(line - top), (float)(bottom * (600 - 410) / 600), 0.02F);
    const char *worst = strstr(svg, "<g data-x=\"4352\" data-y=\"500\">"); /* $1100 */
    assert_non_null(worst);
    assert_int_equal(
        sscanf(worst, "<g data-x=\"4352\" data-y=\"500\"><path d=\"M%lf %lf%255[^>]", &x, &y, mark), 3);
    assert_float_equal((float)x, (float)(left + right * 0x100 / 0x1000), 1.0F);
}

static void test_colours(void **state) {
    (void)state;
    make_palette(&palette, 24, 0, 40);
    check(draw_palette, "colours");
    make_palette(&palette, -26, 3, 101); /* the other way round, over a whole turn */
    check(draw_palette, "colours-back");
    make_palette(&other, 24, 10, 60);
    check(draw_palettes, "colours-two");
}

/* Hues that nearly coincide, anywhere on the circle, keep their numbers apart. */
static void test_crowded(void **state) {
    (void)state;
    for (int first = 0; first < 360; first += 15) {
        make_palette(&palette, 0.5, first, 40);
        check(draw_palette, "colours-crowded");
    }
}

static void test_nothing_seen(void **state) {
    (void)state;
    memset(&palette, 0, sizeof palette);
    check(draw_palette, "colours-none");
    make_palette(&palette, 24, 0, 0);
    check(draw_palette, "colours-grey");
    memset(&moments, 0, sizeof moments);
    check(draw_moments, "moments-none");
}

static void test_moments(void **state) {
    (void)state;
    make_moments(&moments, 1);
    make_moments(&later, 4);
    check(draw_moments, "moments");
    check(draw_both_moments, "moments-two");
}

/* Marks lie where the axis' own numbers put them: a hue of 90 degrees straight below the middle, one of 180
 * to its right, both as far as their saturation. */
static void test_marks(void **state) {
    (void)state;
    double x[2], y[2];
    make_palette(&palette, 90, 90, 40);
    const char *svg = drawn(draw_palette);
    const char *at = svg;
    for (int i = 0; i < 2; i++) {
        at = strstr(at + 1, "r=\"6.00\"");
        assert_non_null(at);
        while (*at != '<') {
            at--;
        }
        assert_int_equal(sscanf(at, "<circle cx=\"%lf\" cy=\"%lf\"", &x[i], &y[i]), 2);
        at = strstr(at, "/>");
    }
    assert_true(y[0] > y[1] && x[1] > x[0]);
    assert_float_equal((float)(y[0] - y[1]), (float)(x[1] - x[0]), 0.02F);
}

static void draw_odd_texts(FILE *stream) {
    svg_begin(stream, 0, 400, 300, "less < more & \x01 > </title>", "", "<desc>");
    svg_text(stream, 20, 80, "label", SVG_START, "%s", "</svg>&&");
    svg_end(stream);
}

/* Texts that look like tags stay texts. */
static void test_escaped(void **state) {
    (void)state;
    const char *svg = drawn(draw_odd_texts);
    check_nesting(svg);
    check_xml(svg);
    assert_non_null(strstr(svg, "less &lt; more &amp; \u2401 &gt; &lt;/title&gt;"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_colours), cmocka_unit_test(test_crowded), cmocka_unit_test(test_nothing_seen),
        cmocka_unit_test(test_moments), cmocka_unit_test(test_reader),  cmocka_unit_test(test_marks),
        cmocka_unit_test(test_escaped),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
