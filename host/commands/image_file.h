/* An image from a file, with the bank scheme that its size or the user says. */
#ifndef SLOTJIG_COMMANDS_IMAGE_FILE_H
#define SLOTJIG_COMMANDS_IMAGE_FILE_H

#include "link/link.h"

#include <stdbool.h>

/* scheme: a name, or NULL for the one of that size. image->bytes is to be freed. PROBLEM_INPUT: not readable,
 * or of a size that no scheme (or not that one) has. */
bool image_file_read(const char *path, const char *scheme, bool ram, struct link_image *image,
                     struct problem *problem);

/* The image looks at the board's mailbox: its vector, its start and an instruction that reads the mailbox are
 * where mailbox.h has them (2 and 4 KiB only), and the mailbox's own bytes are 0. The board changes bytes of
 * such images only.
 */
bool image_has_mailbox(const uint8_t *bytes, size_t size);

#endif
