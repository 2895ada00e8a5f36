/* Finding and loading the video module; a program of its own, for a module once loaded stays. */
#include "frames.h"

static void refuse(const char *module, const char *says) {
    struct problem problem = {0};
    struct video_source source;
    setenv("SLOTJIG_VIDEO_MODULE", module, 1);
    assert_false(file_open("/proc/self/exe", STANDARD_NTSC, &source, &problem));
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    if (strstr(problem.text, module) == NULL || strstr(problem.text, says) == NULL ||
        strstr(problem.text, "make") == NULL || strchr(problem.text, '\n') != NULL) {
        fail_msg("%s: %s", module, problem.text);
    }
}

static void test_missing(void **state) {
    (void)state;
    refuse("/nowhere/slotjig-video.so", "cannot be loaded");
}

/* A shared object, but another's. */
static void test_other(void **state) {
    (void)state;
    refuse("libz.so.1", "not the video module");
}

/* Nothing told: found from where the program lies. Then a name told later changes nothing. */
static void test_found(void **state) {
    (void)state;
    struct folder folder;
    struct frames frames;
    char path[NAME_SIZE];
    unsetenv("SLOTJIG_VIDEO_MODULE");
    folder_make(&folder);
    frames_make(&frames, 64, 48, 1);
    frames_record(&frames, folder_name(&folder, "a.y4m", path), STANDARD_NTSC);
    setenv("SLOTJIG_VIDEO_MODULE", "/nowhere/slotjig-video.so", 1);
    frames_record(&frames, folder_name(&folder, "a.mkv", path), STANDARD_NTSC);
    assert_int_equal(folder_count(&folder, false), 2);
    frames_free(&frames);
    folder_remove(&folder);
}

/* An ending nobody knows is refused before anything is loaded. */
static void test_ending_first(void **state) {
    (void)state;
    struct problem problem = {0};
    struct video_sink sink;
    setenv("SLOTJIG_VIDEO_MODULE", "/nowhere/slotjig-video.so", 1);
    assert_false(video_create_file("a.gif", 64, 48, STANDARD_NTSC, &sink, &problem));
    assert_int_equal(problem.kind, PROBLEM_INPUT);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ending_first),
        cmocka_unit_test(test_missing),
        cmocka_unit_test(test_other),
        cmocka_unit_test(test_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
