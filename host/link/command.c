#include "link/command.h"

#include "base/stop.h"
#include "link/link.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum {
    TAIL = 512,       /* bytes of standard error that are kept */
    QUOTED = 200,     /* of its last line */
    READ = 512,       /* of it at once */
    LAST_READS = 128, /* after the end: 64 KiB, a pipe's capacity in Linux */
    LOOK_MS = 10,     /* between two looks whether it has ended */
    POLITE_MS = 500,  /* from the request to end to the end */
    PAIRS = 3
};

/* ---- arguments ---- */

struct pair {
    const char *name, *value;
};

static const struct pair *pair_at(const char *text, const struct pair *pairs) {
    for (int i = 0; i < PAIRS && pairs[i].name != NULL; i++) {
        if (strncmp(text, pairs[i].name, strlen(pairs[i].name)) == 0) {
            return &pairs[i];
        }
    }
    return NULL;
}

/* Writes to `to` unless it is NULL; returns the length. */
static size_t put_replaced(const char *text, const struct pair *pairs, char *to) {
    size_t length = 0;
    while (*text != '\0') {
        const struct pair *pair = pair_at(text, pairs);
        const char *from = pair != NULL ? pair->value : text;
        const size_t count = pair != NULL ? strlen(pair->value) : 1;
        if (to != NULL) {
            memcpy(to + length, from, count);
        }
        length += count;
        text += pair != NULL ? strlen(pair->name) : 1;
    }
    return length;
}

static char *replaced(const char *text, const struct pair *pairs) {
    const size_t length = put_replaced(text, pairs, NULL);
    char *made = malloc(length + 1);
    if (made != NULL) {
        put_replaced(text, pairs, made);
        made[length] = '\0';
    }
    return made;
}

void command_free(char **argv) {
    for (char **word = argv; word != NULL && *word != NULL; word++) {
        free(*word);
    }
    free(argv);
}

static char **all_replaced(char *const argv[], const struct pair *pairs) {
    size_t count = 0;
    while (argv[count] != NULL) {
        count++;
    }
    char **made = calloc(count + 1, sizeof *made);
    for (size_t i = 0; made != NULL && i < count; i++) {
        made[i] = replaced(argv[i], pairs);
        if (made[i] == NULL) {
            command_free(made);
            return NULL;
        }
    }
    return made;
}

/* ---- words ---- */

/* One word from *text on into `word`, which has room for all of it; *text stands behind it afterwards.
 * Returns what is wrong, or NULL. */
static const char *take_word(const char **text, char *word) {
    bool quoted = false;
    const char *from = *text;
    for (; *from != '\0' && (quoted || (*from != ' ' && *from != '\t')); from++) {
        if (*from == '"') {
            quoted = !quoted;
            continue;
        }
        if (*from == '\\' && *++from == '\0') {
            return "it ends with a backslash; write two for one";
        }
        *word++ = *from;
    }
    *word = '\0';
    *text = from;
    return quoted ? "a double quote is open at its end; close it" : NULL;
}

static const char *take_words(const char *text, char **argv) {
    size_t count = 0;
    for (text += strspn(text, " \t"); *text != '\0'; text += strspn(text, " \t")) {
        argv[count] = malloc(strlen(text) + 1);
        if (argv[count] == NULL) {
            return "out of memory";
        }
        const char *wrong = take_word(&text, argv[count++]);
        if (wrong != NULL) {
            return wrong;
        }
    }
    return count > 0 && argv[0][0] != '\0' ? NULL : "there is no program in it; name one";
}

bool command_split(const char *text, char ***argv, struct problem *problem) {
    char **words = calloc(strlen(text) / 2 + 2, sizeof *words);
    const char *wrong = words != NULL ? take_words(text, words) : "out of memory";
    if (wrong != NULL) {
        command_free(words);
        return problem_set(problem, PROBLEM_INPUT, "command '%.200s': %s", text, wrong);
    }
    *argv = words;
    return true;
}

/* ---- running ---- */

struct child {
    pid_t pid;
    int errors; /* its standard error */
    char tail[TAIL + 1];
    size_t tail_length;
};

static uint64_t now_ms(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (uint64_t)now.tv_sec * 1000 + (uint64_t)now.tv_nsec / 1000000;
}

static int spawn_with(char *const argv[], posix_spawn_file_actions_t *actions, posix_spawnattr_t *attributes,
                      pid_t *pid) {
    sigset_t none;
    sigset_t usual;
    sigemptyset(&none);
    sigemptyset(&usual);
    sigaddset(&usual, SIGPIPE);
    sigaddset(&usual, SIGINT);
    sigaddset(&usual, SIGTERM);
    posix_spawnattr_setpgroup(attributes, 0);
    posix_spawnattr_setsigmask(attributes, &none);
    posix_spawnattr_setsigdefault(attributes, &usual);
    posix_spawnattr_setflags(attributes,
                             POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
    return posix_spawnp(pid, argv[0], actions, attributes, argv, environ);
}

/* 0, or an errno. */
static int spawn(char *const argv[], struct child *child) {
    int ends[2];
    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attributes;
    if (pipe2(ends, O_CLOEXEC) != 0) {
        return errno;
    }
    posix_spawn_file_actions_init(&actions);
    posix_spawnattr_init(&attributes);
    posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
    posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    posix_spawn_file_actions_adddup2(&actions, ends[1], STDERR_FILENO);
    const int error = spawn_with(argv, &actions, &attributes, &child->pid);
    posix_spawnattr_destroy(&attributes);
    posix_spawn_file_actions_destroy(&actions);
    close(ends[1]);
    child->errors = ends[0];
    fcntl(ends[0], F_SETFL, O_NONBLOCK);
    if (error != 0) {
        close(ends[0]);
    }
    return error;
}

static void keep_tail(struct child *child, const char *bytes, size_t count) {
    const size_t keep = count < TAIL ? count : TAIL;
    const size_t old = child->tail_length + keep <= TAIL ? child->tail_length : TAIL - keep;
    memmove(child->tail, child->tail + child->tail_length - old, old);
    memcpy(child->tail + old, bytes + count - keep, keep);
    child->tail_length = old + keep;
}

/* False when it is closed. */
static bool listen_once(struct child *child, int wait_ms) {
    char bytes[READ];
    struct pollfd file = {.fd = child->errors, .events = POLLIN};
    if (poll(&file, 1, wait_ms) <= 0) {
        return true;
    }
    const ssize_t got = read(child->errors, bytes, sizeof bytes);
    if (got > 0) {
        keep_tail(child, bytes, (size_t)got);
    }
    return got > 0 || (got < 0 && (errno == EAGAIN || errno == EINTR));
}

/* True when it has ended by then; *status as from waitpid(). */
static bool wait_until(struct child *child, uint64_t until, bool may_stop, int *status) {
    bool open = true;
    for (;;) {
        const pid_t ended = waitpid(child->pid, status, WNOHANG);
        if (ended == child->pid || (ended < 0 && errno != EINTR)) {
            break;
        }
        if (now_ms() >= until || (may_stop && stop_asked())) {
            return false;
        }
        if (open) {
            open = listen_once(child, LOOK_MS);
        } else {
            poll(NULL, 0, LOOK_MS);
        }
    }
    /* What it said last: as much as a pipe holds. A child of its own may hold it open and go on talking. */
    for (int i = 0; open && i < LAST_READS; i++) {
        open = listen_once(child, 0);
    }
    return true;
}

static void end_group(struct child *child) {
    int status = 0;
    kill(-child->pid, SIGTERM);
    const bool ended = wait_until(child, now_ms() + POLITE_MS, false, &status);
    kill(-child->pid, SIGKILL);
    if (!ended) {
        wait_until(child, now_ms() + POLITE_MS, false, &status);
    }
}

/* Its last line that is not empty, with printable characters only. */
static const char *last_line(struct child *child) {
    char *text = child->tail;
    size_t end = child->tail_length;
    while (end > 0 && strchr(" \t\r\n", text[end - 1]) != NULL) {
        end--;
    }
    text[end] = '\0';
    size_t start = end;
    while (start > 0 && text[start - 1] != '\n' && text[start - 1] != '\r') {
        start--;
    }
    for (size_t i = start; i < end; i++) {
        text[i] = (char)((unsigned char)text[i] < ' ' || (unsigned char)text[i] > '~' ? '?' : text[i]);
    }
    return text + start;
}

static bool judge_end(struct child *child, const char *name, int status, struct problem *problem) {
    const char *said = last_line(child);
    const char *colon = *said != '\0' ? "; it said: " : "; it said nothing";
    if (WIFEXITED(status) && WEXITSTATUS(status) == 0) {
        return true;
    }
    if (WIFEXITED(status)) {
        return problem_set(problem, PROBLEM_BENCH, "'%.100s' ended with status %d%s%.*s", name,
                           WEXITSTATUS(status), colon, QUOTED, said);
    }
    return problem_set(problem, PROBLEM_BENCH, "'%.100s' was ended by signal %d%s%.*s", name,
                       WIFSIGNALED(status) ? WTERMSIG(status) : 0, colon, QUOTED, said);
}

static bool not_ended(struct child *child, const char *name, int timeout_s, struct problem *problem) {
    const char *said = last_line(child);
    const char *colon = *said != '\0' ? "; it said: " : "; it said nothing";
    if (stop_asked()) {
        return problem_set(problem, PROBLEM_BENCH, "'%.100s' was stopped before its end, as you asked%s%.*s",
                           name, colon, QUOTED, said);
    }
    return problem_set(problem, PROBLEM_BENCH, "'%.100s' did not end within %d s and was stopped%s%.*s", name,
                       timeout_s, colon, QUOTED, said);
}

static bool cannot_run(const char *name, int error, struct problem *problem) {
    if (error == ENOENT) {
        return problem_set(problem, PROBLEM_INPUT,
                           "'%.200s': there is no such program; install it or give its whole path", name);
    }
    if (error == EACCES) {
        return problem_set(problem, PROBLEM_INPUT,
                           "'%.200s' may not be run; make it executable or name another program", name);
    }
    return problem_set(problem, PROBLEM_BENCH, "'%.200s' cannot be run: %s; try again", name,
                       strerror(error));
}

static bool run_to_end(char *const argv[], int timeout_s, struct problem *problem) {
    struct child child = {.errors = -1};
    int status = 0;
    if (argv[0] == NULL) {
        return problem_set(problem, PROBLEM_INPUT, "an empty command; name a program");
    }
    const int error = spawn(argv, &child);
    if (error != 0) {
        return cannot_run(argv[0], error, problem);
    }
    bool done = wait_until(&child, now_ms() + (uint64_t)timeout_s * 1000, true, &status);
    if (done) {
        done = judge_end(&child, argv[0], status, problem);
    } else {
        end_group(&child);
        not_ended(&child, argv[0], timeout_s, problem);
    }
    close(child.errors);
    return done;
}

/* The program is in a group of its own, so Ctrl-C does not reach it: it must not go on by itself afterwards.
 */
static bool run(char *const argv[], int timeout_s, struct problem *problem) {
    stop_catch();
    const bool done = run_to_end(argv, timeout_s, problem);
    stop_release();
    return done;
}

static bool run_replaced(char *const argv[], const struct pair *pairs, int timeout_s,
                         struct problem *problem) {
    char **made = all_replaced(argv, pairs);
    if (made == NULL) {
        return problem_set(problem, PROBLEM_BENCH, "out of memory for a command's arguments; free some");
    }
    const bool done = run(made, timeout_s, problem);
    command_free(made);
    return done;
}

bool command_push(char *const argv[], const char *image_path, int timeout_s, struct problem *problem) {
    struct stat about;
    enum wire_scheme scheme;
    char size[24];
    if (stat(image_path, &about) != 0) {
        return problem_set(problem, PROBLEM_INPUT, "%.300s: %s; name an image that is there", image_path,
                           strerror(errno));
    }
    if (about.st_size < 0 || !link_scheme((size_t)about.st_size, &scheme)) {
        return problem_set(problem, PROBLEM_INPUT,
                           "%.300s has %lld bytes; an image has 2048, 4096, 8192, 16384 or 32768", image_path,
                           (long long)about.st_size);
    }
    snprintf(size, sizeof size, "%lld", (long long)about.st_size);
    const struct pair pairs[PAIRS] = {
        {"{image}", image_path}, {"{size}", size}, {"{scheme}", link_scheme_name(scheme)}};
    return run_replaced(argv, pairs, timeout_s, problem);
}

bool command_power(char *const argv[], const char *state, int timeout_s, struct problem *problem) {
    const struct pair pairs[PAIRS] = {{"{state}", state}};
    return run_replaced(argv, pairs, timeout_s, problem);
}
