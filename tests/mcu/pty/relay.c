/*
 * A pseudo-terminal whose far end is this program's standard input and output: what is written to the
 * terminal comes out of standard output, what comes in on standard input is read from the terminal. The
 * terminal's name is the first line of standard error. Ends with standard input.
 */
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <termios.h>
#include <unistd.h>

static bool write_all(int to, const char *bytes, size_t count) {
    while (count > 0) {
        ssize_t written = write(to, bytes, count);
        if (written < 0 && errno == EINTR) {
            continue;
        }
        if (written <= 0) {
            return false;
        }
        bytes += written;
        count -= (size_t)written;
    }
    return true;
}

/* False at the end of what is read. */
static bool move(int from, int to) {
    char bytes[4096];
    ssize_t count = read(from, bytes, sizeof bytes);
    if (count < 0 && (errno == EINTR || errno == EAGAIN)) {
        return true;
    }
    return count > 0 && write_all(to, bytes, (size_t)count);
}

/* The slave stays open here too, so that the terminal outlives those who open and close it. */
static int open_terminal(void) {
    int terminal = posix_openpt(O_RDWR | O_NOCTTY);
    if (terminal < 0 || grantpt(terminal) != 0 || unlockpt(terminal) != 0) {
        return -1;
    }
    const char *name = ptsname(terminal);
    int slave = name ? open(name, O_RDWR | O_NOCTTY) : -1;
    struct termios raw;
    if (slave < 0 || tcgetattr(slave, &raw) != 0) {
        return -1;
    }
    cfmakeraw(&raw);
    tcsetattr(slave, TCSANOW, &raw);
    fprintf(stderr, "%s\n", name);
    return terminal;
}

int main(void) {
    int terminal = open_terminal();
    if (terminal < 0) {
        fprintf(stderr, "relay: no pseudo-terminal\n");
        return 1;
    }
    struct pollfd ends[] = {{.fd = STDIN_FILENO, .events = POLLIN}, {.fd = terminal, .events = POLLIN}};
    while (poll(ends, 2, -1) >= 0 || errno == EINTR) {
        if (ends[0].revents && !move(STDIN_FILENO, terminal)) {
            return 0;
        }
        if (ends[1].revents & POLLIN && !move(terminal, STDOUT_FILENO)) {
            return 0;
        }
    }
    return 1;
}
