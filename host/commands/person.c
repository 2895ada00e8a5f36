#include "commands/person.h"

#include <poll.h>
#include <unistd.h>

bool person_answered(int ms) {
    char c = 0;
    while (c != '\n') {
        struct pollfd input = {.fd = STDIN_FILENO, .events = POLLIN};
        if (poll(&input, 1, ms) <= 0 || read(STDIN_FILENO, &c, 1) != 1) {
            return false;
        }
    }
    return true;
}
