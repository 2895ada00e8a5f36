/*
 * A push of 32 KiB against sz and rz (lrzsz) with the same bytes over the same relay in one run: two ptys
 * joined by a thread that carries 11,520 bytes a second each way, as 115,200 baud with 8N1 would. Then what
 * pushes cost in bytes. The board's flash takes 45 ms
 * for a sector's erase and 1 ms for a page: what serial NOR flash of this size typically takes, from memory.
 */
#include "link/link.h"
#include "link/pty.h"
#include "link/transports.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <spawn.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

extern char **environ;

enum { BAUD = 115200, BYTES_PER_SECOND = BAUD / 10, TIMEOUT_S = 60, ERASE_US = 45000, PROGRAM_US = 1000 };

static uint8_t image[WIRE_IMAGE_MAX];
static char folder[256];

static uint64_t now_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000000 + (uint64_t)now.tv_nsec / 1000;
}

static void die(const char *what) {
    fprintf(stderr, "push: %s\n", what);
    exit(1);
}

/* ---- the relay ---- */

struct way {
    int from, to;
    double free_us; /* when the line has carried all so far */
};

struct relay {
    struct way ways[2];
    pthread_t thread;
    atomic_bool ending;
};

static void write_all(int file, const uint8_t *bytes, ssize_t count) {
    const uint64_t until = now_us() + 1000000;
    while (count > 0 && now_us() < until) {
        const ssize_t wrote = write(file, bytes, (size_t)count);
        if (wrote > 0) {
            bytes += wrote;
            count -= wrote;
        } else {
            poll(NULL, 0, 1);
        }
    }
}

/* As many bytes as have had their time since the line was free. A line that had less to do has no time saved
 * up. */
static void carry(struct way *way, double now) {
    uint8_t bytes[4096];
    const double byte_us = 1e6 / BYTES_PER_SECOND;
    const double most = (now - way->free_us) / byte_us;
    const size_t count = most < (double)sizeof bytes ? (size_t)most : sizeof bytes;
    if (count == 0) {
        return;
    }
    const ssize_t got = read(way->from, bytes, count);
    if (got > 0) {
        write_all(way->to, bytes, got);
    }
    way->free_us = got == (ssize_t)count ? way->free_us + (double)count * byte_us : now;
}

static void *run_relay(void *argument) {
    struct relay *relay = argument;
    const struct timespec pause = {.tv_nsec = 300000};
    while (!relay->ending) {
        nanosleep(&pause, NULL);
        carry(&relay->ways[0], (double)now_us());
        carry(&relay->ways[1], (double)now_us());
    }
    return NULL;
}

static void start_relay(struct relay *relay, int a, int b) {
    const double now = (double)now_us();
    fcntl(a, F_SETFL, fcntl(a, F_GETFL) | O_NONBLOCK);
    fcntl(b, F_SETFL, fcntl(b, F_GETFL) | O_NONBLOCK);
    relay->ways[0] = (struct way){a, b, now};
    relay->ways[1] = (struct way){b, a, now};
    relay->ending = false;
    if (pthread_create(&relay->thread, NULL, run_relay, relay) != 0) {
        die("no thread for the relay");
    }
}

static void stop_relay(struct relay *relay) {
    relay->ending = true;
    pthread_join(relay->thread, NULL);
}

/* ---- ptys ---- */

static void make_raw(int file) {
    struct termios line;
    tcgetattr(file, &line);
    cfmakeraw(&line);
    tcsetattr(file, TCSANOW, &line);
}

/* A pty's master; its slave's name in `slave`. */
static int open_master(char *slave, size_t size) {
    const int master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (master < 0 || grantpt(master) != 0 || unlockpt(master) != 0 || ptsname_r(master, slave, size) != 0) {
        die("no pty");
    }
    return master;
}

static int open_slave(const char *name) {
    const int slave = open(name, O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (slave < 0) {
        die("a pty's other end cannot be opened");
    }
    make_raw(slave);
    return slave;
}

/* ---- ours ---- */

static double push_seconds(void) {
    static struct rig rig;
    struct relay relay;
    struct transport transport;
    struct link *link;
    struct link_push done;
    struct problem problem;
    char slave[128];
    const struct link_image what = {.bytes = image, .size = sizeof image, .scheme = WIRE_F4};
    rig_prepare(&rig);
    rig.options.erase_us = ERASE_US;
    rig.options.program_us = PROGRAM_US;
    rig.board = virtual_board_new(&rig.options, &problem);
    struct pty *board = rig.board != NULL ? pty_start(rig.board, &rig.lock) : NULL;
    if (board == NULL) {
        die("no board behind a pty");
    }
    const int far_end = open_slave(pty_name(board));
    const int near_end = open_master(slave, sizeof slave);
    start_relay(&relay, near_end, far_end);
    if (!transport_serial(slave, BAUD, &transport, &problem) ||
        !link_open(&transport, NULL, &link, &problem) || !link_push(link, &what, &done, &problem)) {
        die(problem.text);
    }
    link_close(link);
    stop_relay(&relay);
    close(near_end);
    close(far_end);
    pty_stop(board);
    virtual_board_free(rig.board);
    printf("push_retries %d\n", done.retries);
    return (double)done.took_us / 1e6;
}

/* ---- theirs ---- */

static pid_t spawn_on(const char *slave, char *const argv[]) {
    posix_spawn_file_actions_t actions;
    pid_t pid = -1;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, slave, O_RDWR | O_NOCTTY, 0);
    posix_spawn_file_actions_adddup2(&actions, STDIN_FILENO, STDOUT_FILENO);
    posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, "/dev/null", O_WRONLY, 0);
    posix_spawn_file_actions_addchdir_np(&actions, folder);
    if (posix_spawnp(&pid, argv[0], &actions, NULL, argv, environ) != 0) {
        pid = -1;
    }
    posix_spawn_file_actions_destroy(&actions);
    return pid;
}

/* 0 when it ended well within so many seconds. */
static int wait_for(pid_t pid, int seconds) {
    const uint64_t until = now_us() + (uint64_t)seconds * 1000000;
    int status = 0;
    while (waitpid(pid, &status, WNOHANG) == 0) {
        if (now_us() > until) {
            kill(pid, SIGKILL);
            waitpid(pid, &status, 0);
            return -1;
        }
        poll(NULL, 0, 1);
    }
    return status;
}

static void write_image(const char *name) {
    char path[300];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    if (file == NULL || fwrite(image, 1, sizeof image, file) != sizeof image || fclose(file) != 0) {
        die("no file for sz");
    }
}

static bool received(const char *name) {
    static uint8_t back[sizeof image + 1];
    char path[300];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "r");
    const size_t count = file != NULL ? fread(back, 1, sizeof back, file) : 0;
    if (file != NULL) {
        fclose(file);
    }
    unlink(path);
    return count == sizeof image && memcmp(back, image, count) == 0;
}

/* Negative where sz or rz is missing. */
static double zmodem_seconds(void) {
    struct relay relay;
    char near_slave[128];
    char far_slave[128];
    char *sz[] = {"sz", "--zmodem", "-b", "-q", "out/image", NULL};
    char *rz[] = {"rz", "-b", "-q", "-y", NULL};
    char sub[300];
    snprintf(sub, sizeof sub, "%s/out", folder);
    mkdir(sub, 0700);
    write_image("out/image");
    const int near_end = open_master(near_slave, sizeof near_slave);
    const int far_end = open_master(far_slave, sizeof far_slave);
    const int hold_near = open_slave(near_slave);
    const int hold_far = open_slave(far_slave);
    start_relay(&relay, near_end, far_end);
    const pid_t receiver = spawn_on(far_slave, rz);
    poll(NULL, 0, 100);
    const uint64_t started = now_us();
    const pid_t sender = receiver > 0 ? spawn_on(near_slave, sz) : -1;
    const bool sent = sender > 0 && wait_for(sender, TIMEOUT_S) == 0;
    const double took = (double)(now_us() - started) / 1e6;
    if (receiver > 0) {
        wait_for(receiver, 2); /* it has the file, and may wait for the sender's last two characters */
    }
    stop_relay(&relay);
    close(hold_near);
    close(hold_far);
    close(near_end);
    close(far_end);
    unlink(strcat(sub, "/image"));
    sub[strlen(sub) - strlen("/image")] = '\0';
    rmdir(sub);
    if (sender > 0 && (!sent || !received("image"))) {
        die("sz and rz did not bring the file over");
    }
    return sender > 0 ? took : -1;
}

/* ---- bytes ---- */

static struct link_push push_virtual(struct link *link, size_t size) {
    struct link_push done;
    struct problem problem;
    struct link_image what = {.bytes = image, .size = size};
    link_scheme(size, &what.scheme);
    if (!link_push(link, &what, &done, &problem)) {
        die(problem.text);
    }
    return done;
}

static double moved(const struct link_push *done) {
    return (double)(done->bytes_out + done->bytes_in);
}

static void print_bytes(void) {
    struct virtual_board_options options;
    struct transport transport;
    struct link *link;
    struct problem problem;
    virtual_board_defaults(&options);
    struct virtual_board *board = virtual_board_new(&options, &problem);
    if (board == NULL || !transport_virtual(board, &transport, &problem) ||
        !link_open(&transport, NULL, &link, &problem)) {
        die(problem.text);
    }
    struct link_push done = push_virtual(link, 4096);
    printf("push_overhead_4k %.2f %%\n", 100 * (moved(&done) / 4096 - 1));
    done = push_virtual(link, sizeof image);
    printf("push_overhead_32k %.2f %%\n", 100 * (moved(&done) / sizeof image - 1));
    image[20000] ^= 1;
    done = push_virtual(link, sizeof image);
    printf("push_one_byte_of_32k %.2f %%\n",
           100 * (moved(&done) + (double)(done.compare_out + done.compare_in)) / sizeof image);
    link_close(link);
    virtual_board_free(board);
}

int main(void) {
    const char *temporary = getenv("TMPDIR");
    uint32_t seed = 2026;
    for (size_t i = 0; i < sizeof image; i++) {
        seed = seed * 1664525u + 1013904223u;
        image[i] = (uint8_t)(seed >> 24);
    }
    snprintf(folder, sizeof folder, "%.200s/slotjig-XXXXXX", temporary != NULL ? temporary : "/tmp");
    if (mkdtemp(folder) == NULL) {
        die("no temporary folder");
    }
    const double ours = push_seconds();
    const double theirs = zmodem_seconds();
    printf("push_32k_at_115200 %.3f s\n", ours);
    if (theirs > 0) {
        printf("zmodem_32k_at_115200 %.3f s\n", theirs);
        printf("push_time_over_zmodem %.3f ratio\n", ours / theirs);
    } else {
        fprintf(stderr, "push: sz and rz (lrzsz) are not installed: nothing to compare with\n");
    }
    rmdir(folder);
    print_bytes();
    return 0;
}
