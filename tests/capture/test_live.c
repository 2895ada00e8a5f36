/* The queue between a live device and the judge, fed by a device that follows a script. */
#include "frames.h"

#include "capture/inside.h"

#include <pthread.h>
#include <semaphore.h>
#include <time.h>

enum { WIDTH = 64, HEIGHT = 48, BYTES = 2 * WIDTH * HEIGHT, SCRIPTS_MAX = 4, TRIES_MAX = 4000 };

/* What the device does, a letter a call of its next(): f a new frame, r the same again, o the first of all
 * once more, t a new frame with the old time, s a frame of another size, n nothing for a while, g gone, x an
 * error, e the end (for ever), w: waits for the test's word and gives a frame, h hangs for good. */
struct device {
    const char *scripts[SCRIPTS_MAX]; /* one for each time it is opened; NULL: it cannot be opened */
    int openings, closings, freed;
    uint64_t frames;
    uint64_t time;
    sem_t word, stuck;
};

/* The source of one opening. */
struct opened {
    struct device *device;
    const char *at;
    uint8_t bytes[BYTES];
};

static void paint(uint8_t *bytes, uint64_t number) {
    for (size_t i = 0; i < BYTES; i++) {
        bytes[i] = (uint8_t)(i * 7 + number * (1 + i % 5)); /* differs between neighbours nearly everywhere */
    }
}

static void pause_ms(int ms) {
    struct timespec time = {.tv_nsec = (long)ms * 1000000};
    nanosleep(&time, NULL);
}

static void give(struct opened *opened, struct frame *frame, int width) {
    *frame = (struct frame){.width = width,
                            .height = HEIGHT,
                            .y = {opened->bytes, 2 * WIDTH, 2},
                            .cb = {opened->bytes + 1, 2 * WIDTH, 4},
                            .cr = {opened->bytes + 3, 2 * WIDTH, 4},
                            .chroma_x = 1,
                            .time_us = opened->device->time};
}

static enum next script_next(void *state, struct frame *frame, struct problem *problem) {
    struct opened *opened = state;
    struct device *device = opened->device;
    char letter = *opened->at;
    opened->at += letter != 'e' && letter != '\0';
    switch (letter) {
    case 'w':
        sem_wait(&device->word);
        /* fall through */
    case 'f':
    case 't':
        paint(opened->bytes, device->frames++);
        device->time += letter == 't' ? 0 : 33367;
        give(opened, frame, WIDTH);
        return NEXT_FRAME;
    case 'o':
        paint(opened->bytes, 0);
        /* fall through */
    case 'r':
        device->time += 33367;
        give(opened, frame, WIDTH);
        return NEXT_FRAME;
    case 's':
        give(opened, frame, WIDTH / 2);
        return NEXT_FRAME;
    case 'n':
        pause_ms(1);
        return NEXT_NOTHING;
    case 'g':
        problem_set(problem, PROBLEM_BENCH, "the device went away");
        return NEXT_GONE;
    case 'x':
        problem_set(problem, PROBLEM_BENCH, "the device is on fire");
        return NEXT_ERROR;
    case 'h':
        sem_post(&device->stuck);
        for (;;) {
            pause_ms(100);
        }
    default:
        return NEXT_END;
    }
}

static void script_close(void *state) {
    struct opened *opened = state;
    opened->device->closings++;
    free(opened);
}

static void script_tell(void *state, struct video_about *about, struct video_counts *counts) {
    (void)state;
    if (about != NULL) {
        snprintf(about->kind, sizeof about->kind, "script");
    }
    if (counts != NULL) {
        *counts = (struct video_counts){.lost = 1, .empty = 10, .broken = 100};
    }
}

static bool script_open(void *state, struct video_source *source, struct problem *problem) {
    struct device *device = state;
    const char *script = device->openings < SCRIPTS_MAX ? device->scripts[device->openings] : NULL;
    device->openings++;
    if (script == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "not plugged in");
    }
    struct opened *opened = calloc(1, sizeof *opened);
    assert_non_null(opened);
    opened->device = device;
    opened->at = script;
    *source = (struct video_source){
        .state = opened, .next = script_next, .close = script_close, .tell = script_tell};
    return true;
}

static void script_free(void *state) {
    struct device *device = state;
    device->freed++;
}

static bool open_script(struct device *device, double wait_s, struct video_source *source,
                        struct problem *problem) {
    sem_init(&device->word, 0, 0);
    sem_init(&device->stuck, 0, 0);
    struct live_opener opener = {.state = device, .open = script_open, .close = script_free};
    return live_open(&opener, "script:x", wait_s, source, problem);
}

static void start_script(struct device *device, double wait_s, struct video_source *source) {
    struct problem problem = {0};
    if (!open_script(device, wait_s, source, &problem)) {
        fail_msg("%s", problem.text);
    }
}

/* The next that is not NEXT_NOTHING; how many of those came is added to *nothing. */
static enum next next_real(const struct video_source *source, struct frame *frame, struct problem *problem,
                           int *nothing) {
    for (int i = 0; i < TRIES_MAX; i++) {
        enum next next = source->next(source->state, frame, problem);
        if (next != NEXT_NOTHING) {
            return next;
        }
        *nothing += 1;
    }
    return NEXT_NOTHING;
}

static void expect_frame(const struct video_source *source, uint64_t painted, uint64_t number) {
    static uint8_t bytes[BYTES];
    struct frame frame;
    struct problem problem = {0};
    int nothing = 0;
    assert_int_equal(next_real(source, &frame, &problem, &nothing), NEXT_FRAME);
    paint(bytes, painted);
    assert_int_equal(frame.number, number);
    for (int y = 0; y < HEIGHT; y++) {
        for (int x = 0; x < WIDTH; x++) {
            if (plane_at(&frame.y, x, y) != bytes[2 * (y * WIDTH + x)]) {
                fail_msg("frame %d: sample %d, %d is not that of %d", (int)number, x, y, (int)painted);
            }
        }
        assert_int_equal(plane_at(&frame.cb, 3, y), bytes[2 * y * WIDTH + 13]);
        assert_int_equal(plane_at(&frame.cr, 3, y), bytes[2 * y * WIDTH + 15]);
    }
}

static void expect_end(const struct video_source *source, enum next how, const char *says) {
    struct frame frame;
    struct problem problem = {0};
    int nothing = 0;
    assert_int_equal(next_real(source, &frame, &problem, &nothing), how);
    assert_int_equal(source->next(source->state, &frame, &problem), how);
    if (says != NULL && strstr(problem.text, says) == NULL) {
        fail_msg("%s", problem.text);
    }
}

static struct video_counts counts_of(const struct video_source *source) {
    struct video_counts counts;
    video_tell(source, NULL, &counts);
    return counts;
}

static void finish(struct device *device, struct video_source *source) {
    source->close(source->state);
    assert_int_equal(device->freed, 1);
    sem_destroy(&device->word);
    sem_destroy(&device->stuck);
}

static void test_in_order(void **state) {
    (void)state;
    struct device device = {.scripts = {"nfnwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwe"}};
    struct video_source source;
    start_script(&device, 0, &source);
    for (uint64_t i = 0; i < 40; i++) {
        if (i > 0) {
            sem_post(&device.word);
        }
        expect_frame(&source, i, i);
    }
    expect_end(&source, NEXT_END, NULL);
    assert_int_equal(counts_of(&source).delivered, 40);
    assert_int_equal(counts_of(&source).overrun, 0);
    assert_int_equal(counts_of(&source).repeated, 0);
    assert_int_equal(counts_of(&source).broken, 100);
    finish(&device, &source);
    assert_int_equal(device.closings, 1);
}

/* A judge that sleeps while 60 frames come: the queue's 16 are given, the others counted. */
static void test_overrun(void **state) {
    (void)state;
    struct device device = {.scripts = {"ffffffffffffffffffffffffffffffffffffffffffffffffffffffffffffe"}};
    struct video_source source;
    uint64_t all = strlen(device.scripts[0]) - 1;
    start_script(&device, 0, &source);
    for (int i = 0; i < TRIES_MAX && counts_of(&source).overrun < all - 16; i++) {
        pause_ms(1);
    }
    for (uint64_t i = 0; i < 16; i++) {
        expect_frame(&source, i, i);
    }
    expect_end(&source, NEXT_END, NULL);
    assert_int_equal(counts_of(&source).overrun, all - 16);
    assert_int_equal(counts_of(&source).delivered, 16);
    finish(&device, &source);
}

/* What comes after a frame that was dropped is held against none: not against the oldest in the queue, whose
 * place is the next. */
static void test_no_repeat_after_a_dropped_one(void **state) {
    (void)state;
    struct device device = {.scripts = {"fffffffffffffffffoe"}};
    struct video_source source;
    start_script(&device, 0, &source);
    for (int i = 0; i < TRIES_MAX && counts_of(&source).overrun < 2; i++) {
        pause_ms(1);
    }
    for (uint64_t i = 0; i < 16; i++) {
        expect_frame(&source, i, i);
    }
    expect_end(&source, NEXT_END, NULL);
    assert_int_equal(counts_of(&source).overrun, 2);
    assert_int_equal(counts_of(&source).repeated, 0);
    finish(&device, &source);
}

/* A frame stays as it is while the judge holds it, whatever comes meanwhile. */
static void test_held(void **state) {
    (void)state;
    struct device device = {.scripts = {"fwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwe"}};
    struct video_source source;
    struct frame frame;
    struct problem problem = {0};
    static uint8_t bytes[BYTES];
    int nothing = 0;
    start_script(&device, 0, &source);
    assert_int_equal(next_real(&source, &frame, &problem, &nothing), NEXT_FRAME);
    for (size_t i = 0; i < strlen(device.scripts[0]); i++) {
        sem_post(&device.word);
    }
    for (int i = 0; i < TRIES_MAX && counts_of(&source).overrun < 20; i++) {
        pause_ms(1);
    }
    assert_true(counts_of(&source).overrun >= 20);
    paint(bytes, 0);
    for (int i = 0; i < WIDTH * HEIGHT; i++) {
        assert_int_equal(plane_at(&frame.y, i % WIDTH, i / WIDTH), bytes[2 * i]);
    }
    finish(&device, &source);
}

static void test_repeats(void **state) {
    (void)state;
    struct device device = {.scripts = {"frfrtfe"}};
    struct video_source source;
    start_script(&device, 0, &source);
    static const uint64_t painted[] = {0, 0, 1, 1, 2, 3};
    for (uint64_t i = 0; i < 6; i++) {
        expect_frame(&source, painted[i], i);
    }
    expect_end(&source, NEXT_END, NULL);
    assert_int_equal(counts_of(&source).repeated, 3);
    finish(&device, &source);
}

static void test_gone_and_back(void **state) {
    (void)state;
    struct device device = {.scripts = {"fffg", NULL, "ffe"}};
    struct video_source source;
    struct frame frame;
    struct problem problem = {0};
    int nothing = 0;
    start_script(&device, 30, &source);
    for (uint64_t i = 0; i < 3; i++) {
        expect_frame(&source, i, i);
    }
    assert_int_equal(next_real(&source, &frame, &problem, &nothing), NEXT_FRAME);
    assert_int_equal(frame.number, 3);
    assert_true(nothing > 0); /* nobody waits in next() for a device */
    expect_frame(&source, 4, 4);
    expect_end(&source, NEXT_END, NULL);
    assert_int_equal(counts_of(&source).gone, 1);
    assert_int_equal(counts_of(&source).delivered, 5);
    /* What was counted before it went stays. */
    assert_int_equal(counts_of(&source).lost, 2);
    assert_int_equal(counts_of(&source).empty, 20);
    assert_int_equal(counts_of(&source).broken, 200);
    finish(&device, &source);
    assert_int_equal(device.openings, 3);
    assert_int_equal(device.closings, 2);
}

/* The picture with which a device comes back is no repeat of the one it went with. */
static void test_back_with_the_same_picture(void **state) {
    (void)state;
    struct device device = {.scripts = {"fg", "oe"}};
    struct video_source source;
    start_script(&device, 30, &source);
    expect_frame(&source, 0, 0);
    expect_frame(&source, 0, 1);
    expect_end(&source, NEXT_END, NULL);
    assert_int_equal(counts_of(&source).gone, 1);
    assert_int_equal(counts_of(&source).repeated, 0);
    finish(&device, &source);
}

static void test_gone_for_good(void **state) {
    (void)state;
    struct device device = {.scripts = {"ffg"}};
    struct video_source source;
    start_script(&device, 0.7, &source);
    expect_frame(&source, 0, 0);
    expect_frame(&source, 1, 1);
    expect_end(&source, NEXT_GONE, "did not come back within 0.7 s");
    assert_int_equal(counts_of(&source).gone, 0);
    finish(&device, &source);
    assert_true(device.openings > 1);
}

static void test_gone_not_waited_for(void **state) {
    (void)state;
    struct device device = {.scripts = {"fg", "f"}};
    struct video_source source;
    start_script(&device, 0, &source);
    expect_frame(&source, 0, 0);
    expect_end(&source, NEXT_GONE, "the device went away");
    finish(&device, &source);
    assert_int_equal(device.openings, 1);
}

static void test_other_size(void **state) {
    (void)state;
    struct device device = {.scripts = {"ffg", "s"}};
    struct video_source source;
    start_script(&device, 30, &source);
    expect_frame(&source, 0, 0);
    expect_frame(&source, 1, 1);
    expect_end(&source, NEXT_ERROR, "from 64 by 48 to 32 by 48");
    finish(&device, &source);
}

static void test_error(void **state) {
    (void)state;
    struct device device = {.scripts = {"fx"}};
    struct video_source source;
    start_script(&device, 30, &source);
    expect_frame(&source, 0, 0);
    expect_end(&source, NEXT_ERROR, "on fire");
    finish(&device, &source);
    assert_int_equal(device.openings, 1);
}

static void test_not_there(void **state) {
    (void)state;
    struct device device = {.scripts = {NULL}};
    struct video_source source;
    struct problem problem = {0};
    assert_false(open_script(&device, 30, &source, &problem)); /* a device must be there at first */
    assert_string_equal(problem.text, "not plugged in");
    assert_int_equal(device.freed, 1);
}

/* Silence is told as such, and never ends by itself. */
static void test_silent(void **state) {
    (void)state;
    struct device device = {.scripts = {"fw"}};
    struct video_source source;
    struct frame frame;
    struct problem problem = {0};
    start_script(&device, 0, &source);
    expect_frame(&source, 0, 0);
    assert_int_equal(source.next(source.state, &frame, &problem), NEXT_NOTHING);
    assert_int_equal(source.next(source.state, &frame, &problem), NEXT_NOTHING);
    sem_post(&device.word);
    expect_frame(&source, 1, 1);
    finish(&device, &source);
}

/* Closed while it waits for its device; a test that hangs is ended by its runner. */
static void test_closed_while_gone(void **state) {
    (void)state;
    struct device device = {.scripts = {"fg"}};
    struct video_source source;
    start_script(&device, 100000, &source);
    expect_frame(&source, 0, 0);
    finish(&device, &source);
}

/* A driver that never comes back: close() does. */
static void test_closed_while_stuck(void **state) {
    (void)state;
    static struct device device = {.scripts = {"fh"}};
    struct video_source source;
    start_script(&device, 0, &source);
    expect_frame(&source, 0, 0);
    sem_wait(&device.stuck);
    source.close(source.state);
    assert_int_equal(device.closings, 0); /* the thread still has it */
    assert_int_equal(device.freed, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_in_order),
        cmocka_unit_test(test_overrun),
        cmocka_unit_test(test_no_repeat_after_a_dropped_one),
        cmocka_unit_test(test_held),
        cmocka_unit_test(test_repeats),
        cmocka_unit_test(test_gone_and_back),
        cmocka_unit_test(test_back_with_the_same_picture),
        cmocka_unit_test(test_gone_for_good),
        cmocka_unit_test(test_gone_not_waited_for),
        cmocka_unit_test(test_other_size),
        cmocka_unit_test(test_error),
        cmocka_unit_test(test_not_there),
        cmocka_unit_test(test_silent),
        cmocka_unit_test(test_closed_while_gone),
        cmocka_unit_test(test_closed_while_stuck),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
