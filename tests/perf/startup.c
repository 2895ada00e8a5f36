/* What a start costs beyond /bin/true: `--version`, `expect` and `boards`, side by side in one run; the
 * median of many. */
#include <fcntl.h>
#include <spawn.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

extern char **environ;
enum { RUNS = 41 };

static double now_ms(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec * 1e3 + (double)time.tv_nsec / 1e6;
}

/* `boards` ends with 3 where none is ready. */
static bool ended_well(int status) {
    return WIFEXITED(status) && (WEXITSTATUS(status) == 0 || WEXITSTATUS(status) == 3);
}

static double once(char *const arguments[]) {
    posix_spawn_file_actions_t actions;
    pid_t child;
    int status = 0;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
    double start = now_ms();
    int error = posix_spawn(&child, arguments[0], &actions, NULL, arguments, environ);
    posix_spawn_file_actions_destroy(&actions);
    if (error != 0 || waitpid(child, &status, 0) != child || !ended_well(status)) {
        fprintf(stderr, "%s did not run\n", arguments[0]);
        exit(1);
    }
    return now_ms() - start;
}

static int ascending(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double median(char *const arguments[]) {
    double times[RUNS];
    for (int i = 0; i < RUNS; i++) {
        times[i] = once(arguments);
    }
    qsort(times, RUNS, sizeof times[0], ascending);
    return times[RUNS / 2];
}

int main(void) {
    char program[] = BUILD_DIR "/slotjig";
    char *nothing[] = {"/bin/true", NULL};
    char *version[] = {program, "--version", NULL};
    char *expect[] = {program, "expect", "--plan", "bits", "--json", "-", NULL};
    char *boards[] = {program, "boards", NULL};
    double base = median(nothing);
    printf("start_bin_true %.2f ms\n", base);
    printf("start_version_beyond_true %.2f ms\n", median(version) - base);
    printf("start_expect_beyond_true %.2f ms\n", median(expect) - base);
    printf("start_boards_beyond_true %.2f ms\n", median(boards) - base);
    return 0;
}
