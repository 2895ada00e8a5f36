/* Damage in recordings of other codecs, decoded by one thread or many: what is given is sound, and what is
 * not is counted. Recordings by the `ffmpeg` program, places of their packets by `ffprobe`. */
#include "frames.h"

#include "capture/blocks.h"

enum { PICTURES = 48, GROUP = 12 };

/* A recording decoded, by time. */
struct film {
    int count;
    uint64_t times[PICTURES];
    struct frame frames[PICTURES];
    uint8_t *bytes[PICTURES];
    struct video_counts counts;
};

static void film_free(struct film *film) {
    for (int i = 0; i < film->count; i++) {
        free(film->bytes[i]);
    }
}

static void film_read(const char *path, int threads, struct film *film) {
    struct video_request request = {.where = path, .standard = STANDARD_NTSC, .threads = threads};
    struct problem problem = {0};
    struct video_source source;
    struct frame frame;
    *film = (struct film){0};
    if (!video_open(&request, &source, &problem)) {
        fail_msg("%s", problem.text);
    }
    while (source.next(source.state, &frame, &problem) == NEXT_FRAME) {
        assert_true(film->count < PICTURES);
        film->bytes[film->count] = malloc(frame_bytes(&frame));
        assert_non_null(film->bytes[film->count]);
        frame_copy(&frame, film->bytes[film->count], &film->frames[film->count]);
        film->times[film->count++] = frame.time_us;
    }
    video_tell(&source, NULL, &film->counts);
    source.close(source.state);
}

static int at_time(const struct film *film, uint64_t time) {
    for (int i = 0; i < film->count; i++) {
        if (film->times[i] == time) {
            return i;
        }
    }
    return -1;
}

struct packet {
    long at, size;
};

/* The packets in the order of the file. */
static int packets_of(const char *path, struct packet packets[PICTURES]) {
    char command[COMMAND_SIZE];
    int count = 0;
    snprintf(command, sizeof command, "ffprobe -v error -show_entries packet=pos,size -of csv=p=0:nk=0 %s",
             path);
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    while (count < PICTURES &&
           fscanf(pipe, " size=%ld,pos=%ld", &packets[count].size, &packets[count].at) == 2) {
        count++;
    }
    pclose(pipe);
    return count;
}

/* Spoils the middle of one packet, and holds what is then given against the sound recording. group: pictures
 * that may build on one another. */
static void spoil(const char *codec, const char *name, int index, int group) {
    struct folder folder;
    struct film sound, damaged;
    struct packet packets[PICTURES];
    char path[NAME_SIZE], command[COMMAND_SIZE];
    size_t size = 0;
    folder_make(&folder);
    snprintf(command, sizeof command,
             "ffmpeg -nostdin -v error -f lavfi -i testsrc2=size=320x240:rate=25,noise=alls=20:all_seed=1 "
             "-frames:v %d %s %s",
             PICTURES, codec, folder_name(&folder, name, path));
    assert_int_equal(system(command), 0);
    assert_int_equal(packets_of(path, packets), PICTURES);
    film_read(path, 1, &sound);
    assert_int_equal(sound.count, PICTURES);
    assert_int_equal(sound.counts.broken, 0);
    uint8_t *bytes = file_read(path, &size);
    long from = packets[index].at + packets[index].size / 3;
    memset(bytes + from, 0xff, (size_t)packets[index].size / 3);
    file_write(path, bytes, size);
    static const int threads[] = {1, 2, 4};
    for (int t = 0; t < 3; t++) {
        film_read(path, threads[t], &damaged);
        int missing = PICTURES - damaged.count;
        print_message("%s, %d threads: %d pictures not given, %d counted\n", name, threads[t], missing,
                      (int)damaged.counts.broken);
        /* A codec with whole groups may lose the rest of one, and no more. */
        assert_in_range(missing, 1, group - index % group);
        assert_int_equal(damaged.counts.broken, missing);
        for (int i = 0; i < damaged.count; i++) {
            int same = at_time(&sound, damaged.times[i]);
            if (same < 0 || !frame_same(&sound.frames[same], &damaged.frames[i])) {
                fail_msg("%s, %d threads: picture %d is not the sound one", name, threads[t], i);
            }
        }
        film_free(&damaged);
    }
    free(bytes);
    film_free(&sound);
    folder_remove(&folder);
}

static bool has_ffmpeg(void) {
    return system("ffmpeg -version >/dev/null 2>&1") == 0;
}

static void test_damage(void **state) {
    (void)state;
    if (!has_ffmpeg()) {
        print_message("no `ffmpeg` program: recordings from elsewhere are left out\n");
        skip();
    }
    spoil("-c:v ffv1 -level 3 -slices 4 -slicecrc 1 -g 1", "a.mkv", 17, 1);
    spoil("-c:v libx264 -preset veryfast -g 12 -bf 2 -flags +cgop", "h264.mkv", 17, GROUP);
    /* One that two pictures shown before it build on. */
    spoil("-c:v libx264 -preset veryfast -g 12 -bf 2 -flags +cgop", "h264.mkv", 16, GROUP);
    spoil("-c:v libx264 -preset veryfast -g 12 -bf 0 -flags +cgop", "h264.mkv", 12, GROUP);
    spoil("-c:v mpeg2video -q:v 4 -g 12 -bf 0", "mpeg2.mkv", 17, GROUP);
}

/* Three JPEG pictures, the middle one as `edit` leaves it. Returns how many are given, and *broken. */
static int jpeg_edited(size_t (*edit)(uint8_t *bytes, size_t size, size_t room), uint64_t *broken) {
    struct folder folder;
    struct film film;
    char path[NAME_SIZE], one[NAME_SIZE], command[COMMAND_SIZE];
    size_t size = 0;
    folder_make(&folder);
    snprintf(command, sizeof command,
             "ffmpeg -nostdin -v error -f lavfi -i testsrc2=size=320x240 -frames:v 1 -c:v mjpeg -f mjpeg %s",
             folder_name(&folder, "one.mjpeg", one));
    assert_int_equal(system(command), 0);
    uint8_t *bytes = file_read(one, &size);
    uint8_t *all = malloc(3 * size + 100);
    assert_non_null(all);
    memcpy(all, bytes, size);
    memcpy(all + size, bytes, size);
    size_t middle = edit(all + size, size, size + 100);
    memcpy(all + size + middle, bytes, size);
    file_write(folder_name(&folder, "a.mjpeg", path), all, 2 * size + middle);
    film_read(path, 1, &film);
    *broken = film.counts.broken;
    int count = film.count;
    film_free(&film);
    free(bytes);
    free(all);
    folder_remove(&folder);
    return count;
}

/* Where the rest was lost on the way. */
static size_t cut_short(uint8_t *bytes, size_t size, size_t room) {
    (void)bytes;
    (void)room;
    return size / 2;
}

static size_t end_early(uint8_t *bytes, size_t size, size_t room) {
    (void)room;
    bytes[size / 2] = 0xff;
    bytes[size / 2 + 1] = 0xd9;
    return size / 2 + 2;
}

/* A segment for applications that is too short for what it claims to be, and one without sense. */
static size_t odd_segments(uint8_t *bytes, size_t size, size_t room) {
    static const uint8_t segments[] = {0xff, 0xe0, 0,   4,   'A', 'B', 0xff, 0xe1, 0,
                                       10,   'E',  'x', 'i', 'f', 0,   0,    0,    0};
    assert_true(size + sizeof segments <= room);
    memmove(bytes + 2 + sizeof segments, bytes + 2, size - 2);
    memcpy(bytes + 2, segments, sizeof segments);
    return size + sizeof segments;
}

/* A picture by itself, half of which is lost: nothing but its decoder can tell. */
static void jpeg_alone(void) {
    struct folder folder;
    struct video_source source;
    struct problem problem = {0};
    char path[NAME_SIZE], command[COMMAND_SIZE];
    size_t size = 0;
    folder_make(&folder);
    snprintf(command, sizeof command,
             "ffmpeg -nostdin -v error -f lavfi -i testsrc2=size=320x240 -frames:v 1 -c:v mjpeg -update 1 %s",
             folder_name(&folder, "a.jpg", path));
    assert_int_equal(system(command), 0);
    uint8_t *bytes = file_read(path, &size);
    file_write(path, bytes, size / 2);
    assert_false(file_open(path, STANDARD_NTSC, &source, &problem));
    assert_non_null(strstr(problem.text, "not one whole frame"));
    free(bytes);
    folder_remove(&folder);
}

static void test_jpeg(void **state) {
    (void)state;
    uint64_t broken = 0;
    if (!has_ffmpeg()) {
        skip();
    }
    assert_int_equal(jpeg_edited(end_early, &broken), 2);
    assert_int_equal(broken, 1);
    assert_int_equal(jpeg_edited(cut_short, &broken), 2);
    assert_int_equal(broken, 1);
    jpeg_alone();
    assert_int_equal(jpeg_edited(odd_segments, &broken), 3);
    assert_int_equal(broken, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_damage),
        cmocka_unit_test(test_jpeg),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
