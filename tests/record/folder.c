#include "record/folder.h"

#include <assert.h>
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

void folder_make(struct folder *folder, const char *name) {
    const char *where = getenv("TMPDIR");
    snprintf(folder->path, sizeof folder->path, "%s/%s-XXXXXX", where != NULL ? where : "/tmp", name);
    const char *made = mkdtemp(folder->path);
    assert(made != NULL);
    (void)made;
}

void folder_remove(const struct folder *folder) {
    DIR *directory = opendir(folder->path);
    for (const struct dirent *entry; directory != NULL && (entry = readdir(directory)) != NULL;) {
        char path[sizeof folder->path + 256];
        snprintf(path, sizeof path, "%s/%s", folder->path, entry->d_name);
        unlink(path);
    }
    if (directory != NULL) {
        closedir(directory);
    }
    rmdir(folder->path);
}

void folder_path(const struct folder *folder, const char *name, char path[FOLDER_PATH_MAX]) {
    snprintf(path, FOLDER_PATH_MAX, "%s/%s", folder->path, name);
}

unsigned char *folder_read(const char *path, size_t *size) {
    FILE *file = fopen(path, "rb");
    *size = 0;
    if (file == NULL) {
        return NULL;
    }
    fseek(file, 0, SEEK_END);
    *size = (size_t)ftell(file);
    rewind(file);
    unsigned char *bytes = malloc(*size + 1);
    assert(bytes != NULL);
    const size_t got = fread(bytes, 1, *size, file);
    assert(got == *size);
    (void)got;
    fclose(file);
    return bytes;
}

void folder_write(const char *path, const void *bytes, size_t size) {
    FILE *file = fopen(path, "wb");
    assert(file != NULL);
    const size_t put = fwrite(bytes, 1, size, file);
    const int closed = fclose(file);
    assert(put == size && closed == 0);
    (void)put;
    (void)closed;
}

bool folder_as_nobody(const char *folder) {
    enum { NOBODY = 65534 };
    if (geteuid() == 0 &&
        (setresgid(NOBODY, NOBODY, NOBODY) != 0 || setresuid(NOBODY, NOBODY, NOBODY) != 0)) {
        fprintf(stderr, "skip: root stays root here\n");
        return false;
    }
    if (access(folder, X_OK) != 0) {
        fprintf(stderr, "skip: user %d cannot reach %s\n", NOBODY, folder);
        return false;
    }
    return true;
}

static void beside(const char *path, const char *suffix, char to[FOLDER_PATH_MAX + 8]) {
    snprintf(to, FOLDER_PATH_MAX + 8, "%s%s", path, suffix);
}

void folder_copy_store(const char *from, const char *to) {
    static const char *const suffixes[] = {"", "-wal"};
    for (size_t i = 0; i < sizeof suffixes / sizeof suffixes[0]; i++) {
        char source[FOLDER_PATH_MAX + 8], copy[FOLDER_PATH_MAX + 8];
        size_t size;
        beside(from, suffixes[i], source);
        beside(to, suffixes[i], copy);
        unsigned char *bytes = folder_read(source, &size);
        if (bytes != NULL) {
            folder_write(copy, bytes, size);
        }
        free(bytes);
    }
}

void folder_remove_store(const char *path) {
    static const char *const suffixes[] = {"", "-wal", "-shm", "-journal"};
    for (size_t i = 0; i < sizeof suffixes / sizeof suffixes[0]; i++) {
        char gone[FOLDER_PATH_MAX + 8];
        beside(path, suffixes[i], gone);
        unlink(gone);
    }
}
