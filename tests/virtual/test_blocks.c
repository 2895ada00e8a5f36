/* Lines put together from blocks are, byte for byte, the lines that are drawn. */
#include "virtual/grabbing.h"

#include "virtual/digitise.h"

enum { LINES = 262, FIELDS = 3 };

struct pair {
    struct digitiser drawn, put;
};

static uint32_t random_state;

static uint32_t next(void) { /* xorshift */
    random_state ^= random_state << 13;
    random_state ^= random_state >> 17;
    random_state ^= random_state << 5;
    return random_state;
}

static void paint_cells(int line, uint8_t first, uint8_t second) {
    const uint64_t cells = (uint64_t)next() << 20 ^ next();
    for (int x = 0; x < TIA_VISIBLE; x++) {
        field.pixel[line][x] = cells >> (x / 4) & 1 ? second : first;
    }
}

/* Mostly cells in two colours, among lines of every other kind. */
static void random_field(uint8_t first, uint8_t second) {
    blank_field(LINES);
    for (int line = 0; line < LINES; line++) {
        const unsigned kind = next() % 16;
        paint_cells(line, first, second);
        if (kind == 0) {
            memset(field.pixel[line], next() % 2 ? first : second, TIA_VISIBLE);
        } else if (kind == 1) {
            memset(field.pixel[line], next() % 2 ? TIA_BLANKED : (int)(next() & 0xFE), TIA_VISIBLE);
        } else if (kind == 2) { /* an edge that is on no cell's */
            field.pixel[line][next() % TIA_VISIBLE] ^= 0x0C;
        } else if (kind == 3) { /* a third colour */
            memset(field.pixel[line] + next() % 40 * 4, (int)(next() & 0xFE), 4);
        } else if (kind == 4 && line > 0) {
            memcpy(field.pixel[line], field.pixel[line - 1], TIA_VISIBLE);
        } else if (kind == 5) {
            paint_cells(line, (uint8_t)(next() & 0xFE), (uint8_t)(next() & 0xFE));
        }
    }
    mark_same_lines();
}

static void open_pair(struct pair *pair, enum standard standard, const struct grabber_options *options) {
    memset(pair, 0, sizeof *pair);
    digitiser_init(&pair->drawn, standard, options, 1);
    digitiser_init(&pair->put, standard, options, 1);
    pair->drawn.blocks.possible = false;
}

static void compare_fields(struct pair *pair, const char *name, uint8_t first, uint8_t second) {
    static uint8_t drawn[288][LINE_BYTES], put[288][LINE_BYTES];
    random_state = 0x5EED;
    for (int i = 0; i < FIELDS; i++) {
        random_field(first, second);
        digitise(&pair->drawn, &field, (struct lines){drawn[0], LINE_BYTES});
        digitise(&pair->put, &field, (struct lines){put[0], LINE_BYTES});
        for (int y = 0; y < pair->drawn.geometry.field_lines; y++) {
            if (memcmp(drawn[y], put[y], LINE_BYTES) != 0) {
                fail_msg("%s, colours %02X and %02X: line %d of field %d differs", name, first, second, y, i);
            }
        }
    }
}

static void compare(const char *name, enum standard standard, const struct grabber_options *options) {
    static const uint8_t colours[][2] = {{0x00, 0x0E},        {0x0E, 0x00}, {0x44, 0x9A}, {0x00, 0x2C},
                                         {TIA_BLANKED, 0x0E}, {0x06, 0x06}, {0xFE, 0x10}};
    static struct pair pair;
    open_pair(&pair, standard, options);
    for (size_t i = 0; i < sizeof colours / sizeof colours[0]; i++) {
        compare_fields(&pair, name, colours[i][0], colours[i][1]);
    }
}

/* What a plain grabber may be set to, one at a time. */
static void test_same_bytes(void **state) {
    (void)state;
    static const char *const texts[] = {"gain=0.9",         "offset=0.05", "clip=0.8:0.1",
                                        "bandwidth=3",      "bandwidth=1", "sharpen=0.1",
                                        "cross=0.3",        "left=60.37",  "chroma-bandwidth=0.6",
                                        "chroma-delay=3",   "scale=0.998", "scale=1.1",
                                        "shift=-60",        "shift=100",   "no-colour",
                                        "chroma-delay=-30", "width=640",   "left=-200",
                                        "left=500",         "ghost=0.1:1", "agc=0.3:0.2",
                                        "noise=34",         "jitter=0.3",  "hum=0.1",
                                        "slant=0.02"};
    for (int standard = 0; standard < STANDARD_COUNT; standard++) {
        struct virtual_options options;
        virtual_defaults((enum standard)standard, &options);
        compare("clean", (enum standard)standard, &options.grabber);
        for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
            struct problem problem;
            virtual_defaults((enum standard)standard, &options);
            assert_true(virtual_add_impairment(&options, texts[i], &problem));
            compare(texts[i], (enum standard)standard, &options.grabber);
        }
    }
}

/* They are used at all where they may be, and not where lines depend on more than their colours. */
static void test_where(void **state) {
    (void)state;
    static const struct {
        const char *text;
        bool used;
    } cases[] = {{"gain=1", true},      {"bandwidth=3", true},     {"bandwidth=0.5", false},
                 {"noise=34", false},   {"jitter=0.1", false},     {"hum=0.1", false},
                 {"agc=0.1:1", false},  {"ghost=0.1:1", false},    {"width=640", false},
                 {"slant=0.01", false}, {"scale=1.1", false},      {"left=500", false},
                 {"cross=0.2", true},   {"chroma-delay=30", false}};
    static struct pair pair;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct virtual_options options;
        struct problem problem;
        virtual_defaults(STANDARD_NTSC, &options);
        assert_true(virtual_add_impairment(&options, cases[i].text, &problem));
        open_pair(&pair, STANDARD_NTSC, &options.grabber);
        compare_fields(&pair, cases[i].text, 0x00, 0x0E);
        if (pair.put.blocks.made != cases[i].used || pair.drawn.blocks.made) {
            fail_msg("%s: blocks made: %d", cases[i].text, pair.put.blocks.made);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_same_bytes), cmocka_unit_test(test_where)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
