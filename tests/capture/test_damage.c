/* Files that are cut, damaged, foreign or missing, and disks that fill. */
#include "frames.h"

#include <errno.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>

enum { READS_MAX = 1000 };

/* Reads all of a file. Every frame must be one of the originals, later than the one before; if in_row, the
 * very next one. Returns how many came, or -1 when it was refused. */
static int read_some(const struct frames *frames, const char *path, bool in_row, const char *what) {
    struct problem problem = {0};
    struct video_source source;
    struct frame frame;
    if (!file_open(path, STANDARD_NTSC, &source, &problem)) {
        assert_int_equal(problem.kind, PROBLEM_INPUT);
        assert_non_null(strstr(problem.text, path));
        assert_null(strchr(problem.text, '\n'));
        return -1;
    }
    int count = 0, at = 0;
    enum next next = NEXT_FRAME;
    for (int i = 0; i < READS_MAX && next == NEXT_FRAME; i++) {
        next = source.next(source.state, &frame, &problem);
        if (next != NEXT_FRAME) {
            break;
        }
        while (!in_row && at < frames->count && !frames_same(frames, at, &frame)) {
            at++;
        }
        if (at >= frames->count || !frames_same(frames, at, &frame)) {
            fail_msg("%s: frame %d is none of the originals (seed %d)", what, count, FRAMES_SEED);
        }
        at++;
        count++;
    }
    assert_int_not_equal(next, NEXT_FRAME);
    source.close(source.state);
    return count;
}

static void cut_everywhere(const char *name, int width, int height, int cuts) {
    struct folder folder;
    struct frames frames;
    char path[NAME_SIZE], cut[NAME_SIZE], what[200];
    char cut_name[32];
    size_t size = 0;
    folder_make(&folder);
    frames_make(&frames, width, height, 5);
    frames_record(&frames, folder_name(&folder, name, path), STANDARD_NTSC);
    uint8_t *bytes = file_read(path, &size);
    snprintf(cut_name, sizeof cut_name, "cut%s", strrchr(name, '.'));
    folder_name(&folder, cut_name, cut);
    int before = -1;
    for (int i = 0; i <= cuts; i++) {
        size_t length = (size_t)((double)size * i / cuts);
        file_write(cut, bytes, length);
        snprintf(what, sizeof what, "%s of %zu bytes cut to %zu", name, size, length);
        int count = read_some(&frames, cut, true, what);
        /* A cut takes at most the frame it goes through and the one before it. */
        int whole = (int)(5.0 * (double)length / (double)size) - 2;
        if (count < whole || count < before) {
            fail_msg("%s: only %d frames", what, count);
        }
        before = count;
    }
    assert_int_equal(before, 5);
    free(bytes);
    frames_free(&frames);
    folder_remove(&folder);
}

static void test_cut(void **state) {
    (void)state;
    cut_everywhere("a.mkv", 64, 48, 200);
    cut_everywhere("a.y4m", 64, 48, 200);
    cut_everywhere("a.raw", 720, 480, 40);
}

/* A changed byte may cost frames; it may never change one. */
static void flip_everywhere(int flips) {
    struct folder folder;
    struct frames frames;
    char path[NAME_SIZE], what[200];
    size_t size = 0;
    uint64_t random = FRAMES_SEED;
    int delivered = 0;
    folder_make(&folder);
    frames_make(&frames, 64, 48, 5);
    frames_record(&frames, folder_name(&folder, "a.mkv", path), STANDARD_NTSC);
    uint8_t *bytes = file_read(path, &size);
    for (int i = 0; i < flips; i++) {
        /* Past the headers: those say how to decode, and hold no check of what they say. */
        size_t at = 1024 + (size_t)(frames_random(&random) % (size - 1024));
        uint8_t flip = (uint8_t)(1U << (frames_random(&random) % 8));
        bytes[at] ^= flip;
        file_write(path, bytes, size);
        snprintf(what, sizeof what, "byte %zu of %zu changed by %02x", at, size, flip);
        int count = read_some(&frames, path, false, what);
        delivered += count < 0 ? 0 : count;
        bytes[at] ^= flip;
    }
    print_message("%d of %d frames delivered from damaged files\n", delivered, 5 * flips);
    assert_true(delivered > 5 * flips / 2);
    assert_true(delivered < 5 * flips);
    free(bytes);
    frames_free(&frames);
    folder_remove(&folder);
}

static void test_flipped(void **state) {
    (void)state;
    flip_everywhere(200);
}

/* Bytes that open but lie: the text must name the file and the reader must come back. */
static void refuse(const struct folder *folder, const char *name, const void *bytes, size_t size,
                   const char *says) {
    struct problem problem = {0};
    struct video_source source;
    char path[NAME_SIZE];
    file_write(folder_name(folder, name, path), bytes, size);
    if (file_open(path, STANDARD_NTSC, &source, &problem)) {
        source.close(source.state);
        fail_msg("%s was opened", name);
    }
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, path) != problem.text || strstr(problem.text, says) == NULL) {
        fail_msg("%s: %s", name, problem.text);
    }
}

static void test_foreign(void **state) {
    (void)state;
    static const char text[] = "This is a letter, not a recording.\nIt has two lines, and then it stops.\n";
    static uint8_t noise[50000];
    struct folder folder;
    uint64_t random = FRAMES_SEED;
    folder_make(&folder);
    for (size_t i = 0; i < sizeof noise; i++) {
        noise[i] = (uint8_t)(frames_random(&random) >> 32);
    }
    static const char *const names[] = {"a.mkv", "a.y4m", "a.txt", "a", "a.png", "a.nfo"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        refuse(&folder, names[i], "", 0, "empty");
        refuse(&folder, names[i], text, sizeof text - 1, "");
    }
    refuse(&folder, "a.mkv", noise, sizeof noise, "");
    refuse(&folder, "a.raw", noise, sizeof noise, "not one whole frame");
    folder_remove(&folder);
}

static void refuse_path(const char *path, const char *says) {
    struct problem problem = {0};
    struct video_source source;
    assert_false(file_open(path, STANDARD_NTSC, &source, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_non_null(strstr(problem.text, says));
}

static void test_not_there(void **state) {
    (void)state;
    struct folder folder;
    char path[NAME_SIZE];
    folder_make(&folder);
    refuse_path(folder_name(&folder, "none.mkv", path), strerror(ENOENT));
    refuse_path(folder.path, "a folder");
    refuse_path("http://127.0.0.1:1/a.mkv", "no such kind of device"); /* nothing is fetched */
    refuse_path("file:http://127.0.0.1:1/a.mkv", strerror(ENOENT));
    refuse_path("/dev/zero", "a device");
    folder_remove(&folder);
}

static void refuse_create(const char *path, int width, int height, const char *says) {
    struct problem problem = {0};
    struct video_sink sink;
    assert_false(video_create_file(path, width, height, STANDARD_NTSC, &sink, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, path) != problem.text || strstr(problem.text, says) == NULL) {
        fail_msg("%s: %s", path, problem.text);
    }
}

static void test_not_creatable(void **state) {
    (void)state;
    struct folder folder;
    char path[NAME_SIZE];
    folder_make(&folder);
    refuse_create(folder_name(&folder, "a.mp4", path), 64, 48, ".y4m");
    refuse_create(folder_name(&folder, "a", path), 64, 48, ".mkv");
    refuse_create(folder_name(&folder, ".mkv", path), 0, 48, "0 by 48");
    refuse_create(folder_name(&folder, "a.raw", path), 64, 48, "720 by 480");
    refuse_create(folder_name(&folder, "none/a.mkv", path), 64, 48, strerror(ENOENT));
    refuse_create("/proc/a.mkv", 64, 48, "choose a folder");
    assert_int_equal(folder_count(&folder, false), 0);
    folder_name(&folder, "folder.mkv", path);
    assert_int_equal(mkdir(path, 0700), 0);
    refuse_create(path, 64, 48, strerror(EISDIR));
    rmdir(path);
    folder_remove(&folder);
}

/* Without finish() nothing is left, and an older file of that name is as it was. */
static void test_given_up(void **state) {
    (void)state;
    static const char *const names[] = {"a.mkv", "a.y4m", "a.raw"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        struct folder folder;
        struct frames frames;
        struct problem problem = {0};
        struct video_sink sink;
        char path[NAME_SIZE];
        size_t size = 0;
        folder_make(&folder);
        frames_make(&frames, 720, 480, 1);
        file_write(folder_name(&folder, names[i], path), "older", 5);
        assert_true(video_create_file(path, 720, 480, STANDARD_NTSC, &sink, &problem));
        struct frame frame = frames_view(&frames, 0);
        assert_true(sink.write(sink.state, &frame, &problem));
        frame.height = 240;
        assert_false(sink.write(sink.state, &frame, &problem));
        assert_int_equal(problem.kind, PROBLEM_INPUT);
        sink.close(sink.state);
        assert_int_equal(folder_count(&folder, false), 1);
        uint8_t *bytes = file_read(path, &size);
        assert_int_equal(size, 5);
        free(bytes);
        frames_free(&frames);
        folder_remove(&folder);
    }
}

/* In a child: records under a limit of the file's size. 0: it failed as it should; else a step's number. */
static int record_limited(const struct frames *frames, const char *path, rlim_t limit) {
    struct rlimit limits = {limit, limit};
    struct problem problem = {0};
    struct video_sink sink;
    signal(SIGXFSZ, SIG_IGN);
    if (setrlimit(RLIMIT_FSIZE, &limits) != 0) {
        return 1;
    }
    bool good = video_create_file(path, frames->width, frames->height, STANDARD_NTSC, &sink, &problem);
    if (!good) {
        return problem.kind == PROBLEM_BENCH ? 0 : 2;
    }
    for (int i = 0; good && i < frames->count; i++) {
        struct frame frame = frames_view(frames, i);
        good = sink.write(sink.state, &frame, &problem);
    }
    good = sink.finish(sink.state, good ? &problem : NULL);
    sink.close(sink.state);
    if (good) {
        return 3;
    }
    bool clear = problem.kind == PROBLEM_BENCH && strstr(problem.text, path) == problem.text &&
                 strstr(problem.text, strerror(EFBIG)) != NULL;
    return clear ? 0 : 4;
}

static void fill_disk(const struct frames *frames, const char *name, size_t limit) {
    struct folder folder;
    char path[NAME_SIZE];
    folder_make(&folder);
    folder_name(&folder, name, path);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        _exit(record_limited(frames, path, (rlim_t)limit));
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
        fail_msg("%s, limit %zu: child ended with %x", name, limit, status);
    }
    if (folder_count(&folder, false) != 0) {
        fail_msg("%s, limit %zu: something was left", name, limit);
    }
    folder_remove(&folder);
}

static void test_disk_full(void **state) {
    (void)state;
    static const char *const names[] = {"a.mkv", "a.y4m", "a.raw"};
    struct frames frames;
    frames_make(&frames, 720, 480, 4);
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        struct folder folder;
        char path[NAME_SIZE];
        size_t size = 0;
        folder_make(&folder);
        frames_record(&frames, folder_name(&folder, names[i], path), STANDARD_NTSC);
        free(file_read(path, &size));
        folder_remove(&folder);
        /* Nothing, the header, the middle, and one byte short: the last is seen only at the very end. */
        size_t limits[] = {0, 40, 100000, size / 2, size - 1000, size - 1};
        for (size_t k = 0; k < sizeof limits / sizeof limits[0]; k++) {
            fill_disk(&frames, names[i], limits[k]);
        }
    }
    frames_free(&frames);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cut),           cmocka_unit_test(test_flipped),
        cmocka_unit_test(test_foreign),       cmocka_unit_test(test_not_there),
        cmocka_unit_test(test_not_creatable), cmocka_unit_test(test_given_up),
        cmocka_unit_test(test_disk_full),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
