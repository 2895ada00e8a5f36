/* ioctl() for this program and the libraries under it. */
#include "link/pty.h"

#include <dlfcn.h>
#include <stdarg.h>
#include <sys/ioctl.h>
#include <unistd.h>

static volatile bool modem_lines;

void pty_modem_lines(bool on) {
    modem_lines = on;
}

int ioctl(int file, unsigned long request, ...) {
    va_list arguments;
    va_start(arguments, request);
    void *argument = va_arg(arguments, void *);
    va_end(arguments);
    if (modem_lines && request == TIOCMGET && isatty(file)) {
        *(int *)argument = TIOCM_DTR | TIOCM_RTS | TIOCM_CTS | TIOCM_DSR;
        return 0;
    }
    if (modem_lines && (request == TIOCMSET || request == TIOCMBIS || request == TIOCMBIC) && isatty(file)) {
        return 0;
    }
    /* The next one, not the kernel: umockdev's may be in between. */
    typedef int function(int, unsigned long, ...);
    static function *next;
    if (next == NULL) {
        next = (function *)dlsym(RTLD_NEXT, "ioctl");
    }
    return next(file, request, argument);
}
