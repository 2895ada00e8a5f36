/* A folder for stores of a test: made under TMPDIR, removed with all in it. */
#ifndef TESTS_RECORD_FOLDER_H
#define TESTS_RECORD_FOLDER_H

#include <stdbool.h>
#include <stddef.h>

enum { FOLDER_PATH_MAX = 512 };
struct folder {
    char path[FOLDER_PATH_MAX - 64];
};

void folder_make(struct folder *folder, const char *name);
void folder_remove(const struct folder *folder); /* what is in it, but no folders of it */
void folder_path(const struct folder *folder, const char *name, char path[FOLDER_PATH_MAX]);

/* This process becomes a user without rights, where it is root, who may write everywhere; for good. False,
 * and said on standard error, where it may not, or where that user cannot get to the folder: the test skips
 * then. */
bool folder_as_nobody(const char *folder);

/* A store with its WAL, where it has one. */
void folder_copy_store(const char *from, const char *to);
void folder_remove_store(const char *path); /* also what its readers share */

/* A file's bytes, to be freed; NULL where it is not there. */
unsigned char *folder_read(const char *path, size_t *size);
void folder_write(const char *path, const void *bytes, size_t size);

#endif
