/* Starts a test program's cases on the stage, or says why they are skipped. */
#ifndef TESTS_USB_START_H
#define TESTS_USB_START_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* Sets the stage up. NULL, or why it cannot be done: not under umockdev-wrapper, say. */
const char *usb_stage_missing(void);
/* For main() to return. The program starts itself again under umockdev-wrapper where that is needed. */
int usb_tests_run(char **arguments, const char *name, const struct CMUnitTest *tests, size_t count);

#endif
