/* Named pipes, descriptors and what else a name can lead to; every wait ends. */
#include "frames.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <time.h>

enum { READS_MAX = 1000 };
#define SILENT_S 0.3

static void pause_ms(int ms) {
    struct timespec time = {.tv_sec = ms / 1000, .tv_nsec = (long)(ms % 1000) * 1000000};
    nanosleep(&time, NULL);
}

/* How a child feeds a pipe. */
struct feed {
    const uint8_t *bytes;
    size_t size, piece; /* all of it in pieces, or at once when 0 */
    int pause_ms;       /* between them */
    bool stays;         /* keeps the pipe open when it has no more, silent */
    bool again;         /* begins again, for ever */
};

static void feed_all(int file, const struct feed *feed) {
    size_t piece = feed->piece != 0 ? feed->piece : feed->size;
    do {
        for (size_t at = 0; at < feed->size; at += piece) {
            size_t left = feed->size - at;
            const uint8_t *from = feed->bytes + at;
            left = left < piece ? left : piece;
            while (left > 0) {
                ssize_t done = write(file, from, left);
                if (done <= 0) {
                    return;
                }
                from += done;
                left -= (size_t)done;
            }
            pause_ms(feed->pause_ms);
        }
    } while (feed->again);
    while (feed->stays) {
        pause();
    }
}

/* A child that feeds the pipe of that name, or the descriptor. */
static pid_t start_feed(const char *path, int file, const struct feed *feed) {
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        signal(SIGPIPE, SIG_IGN);
        alarm(60);
        feed_all(path != NULL ? open(path, O_WRONLY) : file, feed);
        _exit(0);
    }
    return child;
}

static void end_feed(pid_t child) {
    kill(child, SIGKILL);
    waitpid(child, NULL, 0);
}

static bool open_where(const char *where, struct video_source *source, struct problem *problem) {
    struct video_request request = {.where = where, .standard = STANDARD_NTSC, .wait_s = SILENT_S};
    return video_open(&request, source, problem);
}

/* Reads to the end; every frame must be the next of the originals. */
static int read_all(const struct frames *frames, struct video_source *source, enum next *how,
                    struct problem *problem) {
    struct frame frame;
    int count = 0;
    *how = NEXT_FRAME;
    while (*how == NEXT_FRAME && count < READS_MAX) {
        *how = source->next(source->state, &frame, problem);
        if (*how == NEXT_FRAME && (count >= frames->count || !frames_same(frames, count, &frame))) {
            fail_msg("frame %d differs (seed %d)", count, FRAMES_SEED);
        }
        count += *how == NEXT_FRAME;
    }
    return count;
}

/* The bytes of a recording of that ending. */
static uint8_t *recorded(const struct frames *frames, const char *ending, size_t *size) {
    struct folder folder;
    char path[NAME_SIZE];
    folder_make(&folder);
    frames_record(frames, folder_name(&folder, ending, path), STANDARD_NTSC);
    uint8_t *bytes = file_read(path, size);
    folder_remove(&folder);
    return bytes;
}

struct outcome {
    int frames; /* -1: it could not be opened */
    enum next how;
    struct problem problem;
    struct video_about about;
};

/* A named pipe of that name, fed so. */
static struct outcome through_fifo(const struct frames *frames, const char *name, const struct feed *feed) {
    struct outcome outcome = {.frames = -1};
    struct folder folder;
    struct video_source source;
    char path[NAME_SIZE];
    folder_make(&folder);
    assert_int_equal(mkfifo(folder_name(&folder, name, path), 0600), 0);
    pid_t child = start_feed(path, -1, feed);
    if (open_where(path, &source, &outcome.problem)) {
        outcome.frames = read_all(frames, &source, &outcome.how, &outcome.problem);
        video_tell(&source, &outcome.about, NULL);
        source.close(source.state);
    } else {
        assert_non_null(strstr(outcome.problem.text, path));
        assert_null(strchr(outcome.problem.text, '\n'));
    }
    end_feed(child);
    folder_remove(&folder);
    return outcome;
}

static const char *const kinds[] = {"a.mkv", "a.y4m", "a.yuv"};

static void test_whole(void **state) {
    (void)state;
    struct frames frames;
    frames_make(&frames, 720, 480, 3);
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        size_t size = 0;
        uint8_t *bytes = recorded(&frames, kinds[i], &size);
        struct feed feed = {.bytes = bytes, .size = size, .piece = 100000};
        struct outcome outcome = through_fifo(&frames, kinds[i], &feed);
        if (outcome.frames != 3 || outcome.how != NEXT_END) {
            fail_msg("%s: %d frames, %s", kinds[i], outcome.frames, outcome.problem.text);
        }
        assert_string_equal(outcome.about.kind, "pipe");
        assert_int_equal(outcome.about.width, 720);
        free(bytes);
    }
    frames_free(&frames);
}

/* Half of it, then the end; and half of it, then silence: two different things. */
static void test_half(void **state) {
    (void)state;
    struct frames frames;
    frames_make(&frames, 720, 480, 4);
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        size_t size = 0;
        uint8_t *bytes = recorded(&frames, kinds[i], &size);
        struct feed feed = {.bytes = bytes, .size = size * 5 / 8};
        struct outcome outcome = through_fifo(&frames, kinds[i], &feed);
        assert_in_range(outcome.frames, 1, 2);
        assert_int_equal(outcome.how, NEXT_END);
        feed.stays = true;
        outcome = through_fifo(&frames, kinds[i], &feed);
        assert_in_range(outcome.frames, 1, 2);
        assert_int_equal(outcome.how, NEXT_ERROR);
        assert_int_equal(outcome.problem.kind, PROBLEM_VIDEO);
        assert_non_null(strstr(outcome.problem.text, "silent"));
        free(bytes);
    }
    frames_free(&frames);
}

/* Nobody at the other end, and somebody who says nothing. */
static void test_silent(void **state) {
    (void)state;
    struct folder folder;
    struct video_source source;
    struct problem problem = {0};
    char path[NAME_SIZE];
    folder_make(&folder);
    assert_int_equal(mkfifo(folder_name(&folder, "pipe.mkv", path), 0600), 0);
    assert_false(open_where(path, &source, &problem));
    assert_int_equal(problem.kind, PROBLEM_VIDEO);
    assert_non_null(strstr(problem.text, "silent"));
    folder_remove(&folder);
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        struct feed feed = {.bytes = NULL, .stays = true};
        struct outcome outcome = through_fifo(NULL, kinds[i], &feed);
        bool at_once = outcome.frames == -1 || (outcome.frames == 0 && outcome.how == NEXT_ERROR);
        assert_true(at_once);
        assert_int_equal(outcome.problem.kind, PROBLEM_VIDEO);
        assert_non_null(strstr(outcome.problem.text, "silent"));
    }
}

/* Never silent, but never a picture either. */
static void test_garbage(void **state) {
    (void)state;
    static uint8_t noise[1 << 16];
    uint64_t random = FRAMES_SEED;
    struct feed trickle = {.bytes = noise, .size = sizeof noise, .piece = 1, .pause_ms = 20, .again = true};
    struct feed flood = {.bytes = noise, .size = sizeof noise, .again = true};
    struct outcome outcome = through_fifo(NULL, "zero", &flood); /* as of /dev/zero */
    assert_int_equal(outcome.frames, -1);
    for (size_t i = 0; i < sizeof noise; i++) {
        noise[i] = (uint8_t)(frames_random(&random) >> 32);
    }
    outcome = through_fifo(NULL, "noise", &flood);
    assert_int_equal(outcome.frames, -1);
    assert_int_equal(outcome.problem.kind, PROBLEM_INPUT);
    outcome = through_fifo(NULL, "trickle", &trickle);
    assert_int_equal(outcome.frames, -1);
    assert_int_equal(outcome.problem.kind, PROBLEM_VIDEO);
    assert_non_null(strstr(outcome.problem.text, "no video came out of the pipe"));
}

static void test_descriptors(void **state) {
    (void)state;
    struct frames frames;
    struct video_source source;
    struct problem problem = {0};
    enum next how;
    char where[32];
    int ends[2];
    size_t size = 0;
    frames_make(&frames, 64, 48, 3);
    uint8_t *bytes = recorded(&frames, "a.mkv", &size);
    struct feed feed = {.bytes = bytes, .size = size};
    assert_int_equal(pipe(ends), 0);
    pid_t child = start_feed(NULL, ends[1], &feed);
    close(ends[1]);
    snprintf(where, sizeof where, "pipe:%d", ends[0]);
    assert_false(video_is_live(where));
    assert_true(open_where(where, &source, &problem));
    assert_int_equal(read_all(&frames, &source, &how, &problem), 3);
    source.close(source.state);
    assert_int_equal(fcntl(ends[0], F_GETFD), 0); /* the caller's own is left open */
    end_feed(child);
    close(ends[0]);
    assert_false(open_where(where, &source, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    static const char *const nonsense[] = {"pipe:", "pipe:x", "pipe:-1", "pipe:99999999999", "pipe:1x", ""};
    for (size_t i = 0; i < sizeof nonsense / sizeof nonsense[0]; i++) {
        assert_false(open_where(nonsense[i], &source, &problem));
        assert_int_equal(problem.kind, PROBLEM_INPUT);
    }
    free(bytes);
    frames_free(&frames);
}

/* `-` with a file behind it, as after `<`, can be sought in, and is a file. */
static void test_standard_input(void **state) {
    (void)state;
    struct folder folder;
    struct frames frames;
    struct video_source source;
    struct video_about about;
    struct problem problem = {0};
    enum next how;
    char path[NAME_SIZE];
    folder_make(&folder);
    frames_make(&frames, 64, 48, 3);
    frames_record(&frames, folder_name(&folder, "a.mkv", path), STANDARD_NTSC);
    int before = dup(0);
    int file = open(path, O_RDONLY);
    assert_int_equal(dup2(file, 0), 0);
    close(file);
    assert_true(open_where("-", &source, &problem));
    video_tell(&source, &about, NULL);
    assert_string_equal(about.kind, "file");
    assert_int_equal(read_all(&frames, &source, &how, &problem), 3);
    source.close(source.state);
    dup2(before, 0);
    close(before);
    frames_free(&frames);
    folder_remove(&folder);
}

/* A name with a colon in it is a file when there is one, and can be told to be. */
static void test_colons(void **state) {
    (void)state;
    struct folder folder;
    struct frames frames;
    struct video_source source;
    struct problem problem = {0};
    enum next how;
    char path[NAME_SIZE], here[NAME_SIZE];
    folder_make(&folder);
    frames_make(&frames, 64, 48, 1);
    frames_record(&frames, folder_name(&folder, "tape:1.mkv", path), STANDARD_NTSC);
    assert_non_null(getcwd(here, sizeof here));
    assert_int_equal(chdir(folder.path), 0);
    assert_false(video_is_live("tape:1.mkv"));
    assert_true(video_is_live("tape:2.mkv"));
    static const char *const names[] = {"tape:1.mkv", "file:tape:1.mkv", "./tape:1.mkv"};
    for (size_t i = 0; i < 3; i++) {
        assert_true(open_where(names[i], &source, &problem));
        assert_int_equal(read_all(&frames, &source, &how, &problem), 1);
        source.close(source.state);
    }
    assert_int_equal(chdir(here), 0);
    frames_free(&frames);
    folder_remove(&folder);
}

static void refuse(const char *where, const char *says) {
    struct video_source source;
    struct problem problem = {0};
    assert_false(open_where(where, &source, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    if (strstr(problem.text, says) == NULL) {
        fail_msg("%s: %s", where, problem.text);
    }
}

/* In a child, as one who may not: 0 when it was refused so. */
static int open_as_nobody(const char *path) {
    struct video_source source;
    struct problem problem = {0};
    if (setgid(65534) != 0 || setuid(65534) != 0) {
        return geteuid() == 0 ? 1 : 2;
    }
    bool opened = open_where(path, &source, &problem);
    return !opened && problem.kind == PROBLEM_INPUT && strstr(problem.text, strerror(EACCES)) != NULL ? 0 : 3;
}

static void test_other_things(void **state) {
    (void)state;
    struct folder folder;
    char path[NAME_SIZE];
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    folder_make(&folder);
    refuse(folder.path, "a folder");
    refuse("/dev/zero", "v4l2:/dev/zero");
    /* From inside the folder, since a socket's address has room for a short path only. */
    strcpy(address.sun_path, "socket");
    int listener = socket(AF_UNIX, SOCK_STREAM, 0), here = open(".", O_RDONLY);
    assert_int_equal(chdir(folder.path), 0);
    assert_int_equal(bind(listener, (struct sockaddr *)&address, sizeof address), 0);
    assert_int_equal(fchdir(here), 0);
    close(here);
    refuse(folder_name(&folder, "socket", path), "neither a file nor a pipe");
    close(listener);
    file_write(folder_name(&folder, "secret.yuv", path), "x", 1);
    chmod(path, 0);
    if (geteuid() == 0) {
        chmod(folder.path, 0755);
        pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0) {
            _exit(open_as_nobody(path));
        }
        int status = 0;
        waitpid(child, &status, 0);
        assert_int_equal(status, 0);
    } else {
        refuse(path, strerror(EACCES));
    }
    folder_remove(&folder);
}

/* A header that claims much more than there is. */
static void test_huge(void **state) {
    (void)state;
    static const char *const headers[] = {"YUV4MPEG2 W100000 H100000 F25:1 C422\nFRAME\nabc",
                                          "YUV4MPEG2 W30000 H30000 F25:1 C420\nFRAME\nabc",
                                          "YUV4MPEG2 W0 H0 F25:1\nFRAME\n",
                                          "YUV4MPEG2 W720 H480 F0:0 C422\nFRAME\nabc",
                                          "YUV4MPEG2 W720\n",
                                          "YUV4MPEG2 W-720 H-480\nFRAME\n",
                                          "YUV4MPEG2"};
    struct folder folder;
    char path[NAME_SIZE];
    folder_make(&folder);
    for (size_t i = 0; i < sizeof headers / sizeof headers[0]; i++) {
        file_write(folder_name(&folder, "a.y4m", path), headers[i], strlen(headers[i]));
        refuse(path, path);
    }
    folder_remove(&folder);
}

/* Pictures of two sizes one after the other, as a pipe can carry them. */
static void test_changing_size(void **state) {
    (void)state;
    struct folder folder;
    struct video_source source;
    struct problem problem = {0};
    struct frame frame;
    char path[NAME_SIZE], command[COMMAND_SIZE];
    if (system("ffmpeg -version >/dev/null 2>&1") != 0) {
        skip();
    }
    folder_make(&folder);
    folder_name(&folder, "a.mjpeg", path);
    snprintf(command, sizeof command,
             "for size in 64x48 80x48; do ffmpeg -nostdin -v error -f lavfi -i testsrc2=size=$size:rate=25 "
             "-frames:v 3 -c:v mjpeg -f mjpeg - || exit; done >%s",
             path);
    assert_int_equal(system(command), 0);
    assert_true(open_where(path, &source, &problem));
    for (int i = 0; i < 3; i++) {
        assert_int_equal(source.next(source.state, &frame, &problem), NEXT_FRAME);
    }
    assert_int_equal(source.next(source.state, &frame, &problem), NEXT_ERROR);
    assert_int_equal(problem.kind, PROBLEM_INPUT);
    assert_non_null(strstr(problem.text, "from 64 by 48 to 80 by 48 at frame 3"));
    source.close(source.state);
    folder_remove(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_whole),       cmocka_unit_test(test_half),
        cmocka_unit_test(test_silent),      cmocka_unit_test(test_garbage),
        cmocka_unit_test(test_descriptors), cmocka_unit_test(test_standard_input),
        cmocka_unit_test(test_colons),      cmocka_unit_test(test_other_things),
        cmocka_unit_test(test_huge),        cmocka_unit_test(test_changing_size),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
