/* The serial transport itself: what is wrong with a device, bytes as they are, hanging up, and coming back.
 */
#include "link/pty.h"
#include "link/transports.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include <cmocka.h>

static char slave[128];
static int master;
static struct transport transport;
static struct problem problem;

static void open_pty(void) {
    master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    assert_true(master >= 0 && grantpt(master) == 0 && unlockpt(master) == 0);
    assert_int_equal(ptsname_r(master, slave, sizeof slave), 0);
}

static void fails(const char *device, int baud, enum problem_kind kind, const char *says) {
    memset(&problem, 0, sizeof problem);
    if (transport_serial(device, baud, &transport, &problem) || problem.kind != kind ||
        strstr(problem.text, says) == NULL) {
        fail_msg("%s: kind %d: %s\nwanted kind %d: %s", device, problem.kind, problem.text, kind, says);
    }
}

static void what_is_wrong_with_a_device(void **unused) {
    (void)unused;
    fails("/dev/slotjig-nothing", 115200, PROBLEM_BENCH, "there is no such device");
    fails("/dev/null", 115200, PROBLEM_INPUT, "is no serial device");
    fails("/dev/null", 0, PROBLEM_INPUT, "no such name or rate");
}

/* Another of us has it: the lock, which holds for the superuser too. */
static void in_use_by_another_of_us(void **unused) {
    struct transport first;
    (void)unused;
    open_pty();
    assert_true(transport_serial(slave, 115200, &first, &problem));
    fails(slave, 115200, PROBLEM_BENCH, "is in use by another program");
    first.close(first.state);
    if (!transport_serial(slave, 115200, &transport, &problem)) {
        fail_msg("after the first was closed: %s", problem.text);
    }
    transport.close(transport.state);
    close(master);
}

/* The one that is refused has not touched the line. */
static void a_refusal_leaves_the_line_alone(void **unused) {
    struct transport first;
    struct termios line;
    (void)unused;
    pty_modem_lines(true);
    open_pty();
    assert_true(transport_serial(slave, 57600, &first, &problem));
    fails(slave, 9600, PROBLEM_BENCH, "is in use by another program");
    assert_int_equal(tcgetattr(master, &line), 0); /* a pty's master tells its slave's settings */
    assert_int_equal(cfgetospeed(&line), B57600);
    first.close(first.state);
    close(master);
    pty_modem_lines(false);
}

/* Tried as a user without rights, in a child: 0 when the text is right. */
static int try_as_nobody(const char *says) {
    if (setgid(65534) != 0 || setuid(65534) != 0) {
        return 77;
    }
    return !transport_serial(slave, 115200, &transport, &problem) && problem.kind == PROBLEM_BENCH &&
                   strstr(problem.text, says) != NULL
               ? 0
               : 1;
}

static int as_nobody(const char *says) {
    int status = 0;
    const pid_t child = fork();
    if (child == 0) {
        _exit(try_as_nobody(says));
    }
    assert_true(child > 0 && waitpid(child, &status, 0) == child);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 1;
}

/* Another program that opens the device while we have it. */
static void kept_from_others(void **unused) {
    int status = 0;
    (void)unused;
    if (geteuid() != 0) {
        skip();
    }
    open_pty();
    assert_int_equal(chmod(slave, 0666), 0);
    assert_true(transport_serial(slave, 115200, &transport, &problem));
    const pid_t child = fork();
    if (child == 0) {
        const bool dropped = setgid(65534) == 0 && setuid(65534) == 0;
        _exit(dropped && open(slave, O_RDWR | O_NOCTTY) < 0 && errno == EBUSY ? 0 : 1);
    }
    assert_true(child > 0 && waitpid(child, &status, 0) == child);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    transport.close(transport.state);
    close(master);
}

static void no_permission_and_busy_are_different(void **unused) {
    (void)unused;
    open_pty();
    assert_int_equal(chmod(slave, 0600), 0);
    const int refused = geteuid() == 0 ? as_nobody("no permission") : 77;
    /* Busy for others: the device belongs to everybody, and another program has taken it for itself. */
    assert_int_equal(chmod(slave, 0666), 0);
    const int holder = open(slave, O_RDWR | O_NOCTTY);
    assert_int_equal(ioctl(holder, TIOCEXCL), 0);
    const int busy = geteuid() == 0 ? as_nobody("is in use by another program") : 77;
    ioctl(holder, TIOCNXCL);
    close(holder);
    close(master);
    if (refused == 77) {
        skip(); /* only the superuser can become another user */
    }
    assert_int_equal(refused, 0);
    assert_int_equal(busy, 0);
}

/* All 256 values both ways: no echo, no line editing, no flow control. */
static void bytes_pass_as_they_are(void **unused) {
    (void)unused;
    for (int modem_lines = 0; modem_lines < 2; modem_lines++) {
        uint8_t sent[256];
        uint8_t got[256];
        size_t done = 0;
        pty_modem_lines(modem_lines != 0);
        open_pty();
        assert_true(transport_serial(slave, 115200, &transport, &problem));
        for (int i = 0; i < 256; i++) {
            sent[i] = (uint8_t)i;
        }
        assert_int_equal(transport.send(transport.state, sent, sizeof sent, 1000, &done), IO_OK);
        assert_int_equal(done, sizeof sent);
        assert_int_equal(read(master, got, sizeof got), sizeof got);
        assert_memory_equal(got, sent, sizeof sent);
        assert_int_equal(write(master, sent, sizeof sent), sizeof sent);
        for (size_t at = 0; at < sizeof got; at += done) {
            assert_int_equal(transport.receive(transport.state, got + at, sizeof got - at, 1000, &done),
                             IO_OK);
        }
        assert_memory_equal(got, sent, sizeof sent);
        assert_int_equal(transport.receive(transport.state, got, sizeof got, 0, &done), IO_TIMEOUT);
        assert_int_equal(transport.receive(transport.state, got, sizeof got, 20, &done), IO_TIMEOUT);
        transport.close(transport.state);
        close(master);
    }
    pty_modem_lines(false);
}

/* libserialport sets what is asked: read back from the line itself. */
static void libserialport_sets_the_line(void **unused) {
    struct termios line;
    (void)unused;
    pty_modem_lines(true);
    open_pty();
    assert_true(transport_serial(slave, 57600, &transport, &problem));
    assert_int_equal(tcgetattr(master, &line), 0);
    assert_int_equal(cfgetospeed(&line), B57600);
    assert_int_equal(line.c_cflag & CSIZE, CS8);
    assert_int_equal(line.c_cflag & (PARENB | CSTOPB | CRTSCTS), 0);
    assert_int_equal(line.c_lflag & (ICANON | ECHO | ISIG), 0);
    assert_int_equal(transport.bytes_per_second, 5760);
    transport.close(transport.state);
    close(master);
    pty_modem_lines(false);
}

/* A full line takes no more, and says so in time; what is there when the line hangs up is still read. */
static void full_and_hung_up(void **unused) {
    static uint8_t much[1 << 17];
    uint8_t got[16];
    size_t done = 0;
    (void)unused;
    open_pty();
    assert_true(transport_serial(slave, 115200, &transport, &problem));
    enum io result = transport.send(transport.state, much, sizeof much, 20, &done);
    assert_int_equal(result, IO_OK);
    assert_in_range(done, 1, sizeof much - 1);
    assert_int_equal(transport.send(transport.state, much, sizeof much, 20, &done), IO_TIMEOUT);
    assert_int_equal(done, 0);
    close(master);
    assert_int_equal(transport.receive(transport.state, got, sizeof got, 1000, &done), IO_LOST);
    assert_int_equal(transport.send(transport.state, much, 1, 1000, &done), IO_LOST);
    assert_false(transport.reopen(transport.state, 30, &problem));
    assert_int_equal(problem.kind, PROBLEM_BENCH);
    assert_int_equal(transport.receive(transport.state, got, sizeof got, 0, &done), IO_LOST);
    transport.close(transport.state);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_wrong_with_a_device),          cmocka_unit_test(in_use_by_another_of_us),
        cmocka_unit_test(a_refusal_leaves_the_line_alone),      cmocka_unit_test(kept_from_others),
        cmocka_unit_test(no_permission_and_busy_are_different), cmocka_unit_test(bytes_pass_as_they_are),
        cmocka_unit_test(libserialport_sets_the_line),          cmocka_unit_test(full_and_hung_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
