/* A person's wish to stop (Ctrl-C, an end asked for by the system), where something is to be put right first.
 */
#ifndef SLOTJIG_BASE_STOP_H
#define SLOTJIG_BASE_STOP_H

#include <stdbool.h>

/* From here to stop_release() SIGINT, SIGTERM and SIGHUP no longer end the program but are remembered, and
 * cut a wait for input short; another some seconds later ends it. A second one before that changes nothing.
 */
void stop_catch(void);
bool stop_asked(void);
/* The same wish after so many seconds, whatever the program waits for then; within stop_catch(). */
void stop_after(unsigned seconds);
/* As it was before stop_catch(); what was asked for stays known. */
void stop_release(void);

#endif
