/* A pty with a virtual board at its master end, served by a thread in real time. */
#ifndef SLOTJIG_TESTS_LINK_PTY_H
#define SLOTJIG_TESTS_LINK_PTY_H

#include "virtual/board.h"

#include <pthread.h>
#include <stdbool.h>

struct pty;

/* NULL when there is no pty to be had. The board is touched only under the lock. */
struct pty *pty_start(struct virtual_board *board, pthread_mutex_t *lock);
void pty_stop(struct pty *pty);
/* A symbolic link to the slave end; the same name after pty_unplug(). */
const char *pty_name(const struct pty *pty);
/* The line hangs up; the board is there again under the same name some milliseconds later. */
void pty_unplug(struct pty *pty);

/* libserialport insists on modem lines, which a pty has not: with true, ioctl() in this program says that
 * every terminal has them, so that libserialport's own code sets the line. */
void pty_modem_lines(bool on);

#endif
