#include "record/cut.h"

#include "record/invented.h"

#include <assert.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* A write that was not synced yet, with what stood there before. */
struct unsynced {
    sqlite3_file *file;
    sqlite3_int64 offset;
    int size;
    int held; /* of size: bytes that the file had there */
    uint8_t *before;
    struct unsynced *older;
};

struct cut_file {
    sqlite3_file base; /* what SQLite sees */
    bool database;     /* and not a WAL or a journal */
    sqlite3_file *real;
};

static struct {
    struct cut cut;
    uint64_t random;
    long calls;
    sqlite3_vfs *real, vfs;
    struct unsynced *newest;
} the;

long cut_calls(void) {
    return the.calls;
}

static void take_back(const struct unsynced *write) {
    sqlite3_file *file = write->file;
    file->pMethods->xWrite(file, write->before, write->size, write->offset);
    sqlite3_int64 size = 0;
    file->pMethods->xFileSize(file, &size);
    if (write->held < write->size && size == write->offset + write->size) {
        file->pMethods->xTruncate(file, write->offset + write->held);
    }
}

static void die(void) {
    for (struct unsynced *write = the.cut.power ? the.newest : NULL; write != NULL; write = write->older) {
        if (invented_uniform(&the.random) < 0.5) {
            take_back(write);
        }
    }
    kill(getpid(), SIGKILL);
    for (;;) {
        pause();
    }
}

/* Counts a call; true: it is the last one. */
static bool last_call(const struct cut_file *file, bool changes) {
    if (the.cut.only_database && !(file != NULL && file->database && changes)) {
        return false;
    }
    return ++the.calls == the.cut.at;
}

static sqlite3_file *real_of(sqlite3_file *file) {
    return ((struct cut_file *)(void *)file)->real;
}

/* The process dies in this call, before it or after it. */
#define CALL(file, changes, call)                                                                            \
    const bool last = last_call((struct cut_file *)(void *)(file), changes);                                 \
    if (last && invented_uniform(&the.random) < 0.5) {                                                       \
        die();                                                                                               \
    }                                                                                                        \
    const int result = (call);                                                                               \
    if (last) {                                                                                              \
        die();                                                                                               \
    }                                                                                                        \
    return result

static void note(sqlite3_file *real, int size, sqlite3_int64 offset) {
    struct unsynced *write = malloc(sizeof *write);
    sqlite3_int64 file_size = 0;
    assert(write != NULL);
    *write = (struct unsynced){real, offset, size, 0, calloc(1, (size_t)size), the.newest};
    assert(write->before != NULL);
    real->pMethods->xFileSize(real, &file_size);
    if (file_size > offset) {
        write->held = file_size - offset < size ? (int)(file_size - offset) : size;
        real->pMethods->xRead(real, write->before, write->held, offset);
    }
    the.newest = write;
}

static void forget(const sqlite3_file *real) {
    for (struct unsynced **at = &the.newest; *at != NULL;) {
        struct unsynced *write = *at;
        if (write->file != real) {
            at = &write->older;
            continue;
        }
        *at = write->older;
        free(write->before);
        free(write);
    }
}

static int cut_write(sqlite3_file *file, const void *bytes, int size, sqlite3_int64 offset) {
    sqlite3_file *real = real_of(file);
    if (the.cut.power) {
        note(real, size, offset);
    }
    if (last_call((struct cut_file *)(void *)file, true)) {
        const int part = (int)(invented_uniform(&the.random) * (size + 1));
        if (part > 0) {
            real->pMethods->xWrite(real, bytes, part, offset);
        }
        die();
    }
    return real->pMethods->xWrite(real, bytes, size, offset);
}

static int cut_close(sqlite3_file *file) {
    forget(real_of(file));
    CALL(file, false, real_of(file)->pMethods->xClose(real_of(file)));
}

static int cut_read(sqlite3_file *file, void *bytes, int size, sqlite3_int64 offset) {
    return real_of(file)->pMethods->xRead(real_of(file), bytes, size, offset);
}

static int cut_truncate(sqlite3_file *file, sqlite3_int64 size) {
    CALL(file, true, real_of(file)->pMethods->xTruncate(real_of(file), size));
}

static int sync_real(sqlite3_file *real, int flags) {
    const int result = real->pMethods->xSync(real, flags);
    forget(real);
    return result;
}
static int cut_sync(sqlite3_file *file, int flags) {
    CALL(file, true, sync_real(real_of(file), flags));
}

static int cut_size(sqlite3_file *file, sqlite3_int64 *size) {
    return real_of(file)->pMethods->xFileSize(real_of(file), size);
}
static int cut_lock(sqlite3_file *file, int level) {
    CALL(file, false, real_of(file)->pMethods->xLock(real_of(file), level));
}
static int cut_unlock(sqlite3_file *file, int level) {
    CALL(file, false, real_of(file)->pMethods->xUnlock(real_of(file), level));
}
static int cut_reserved(sqlite3_file *file, int *result) {
    return real_of(file)->pMethods->xCheckReservedLock(real_of(file), result);
}
static int cut_control(sqlite3_file *file, int what, void *with) {
    return real_of(file)->pMethods->xFileControl(real_of(file), what, with);
}
static int cut_sector(sqlite3_file *file) {
    return real_of(file)->pMethods->xSectorSize(real_of(file));
}
static int cut_device(sqlite3_file *file) {
    return real_of(file)->pMethods->xDeviceCharacteristics(real_of(file));
}
static int cut_shm_map(sqlite3_file *file, int page, int size, int extend, void volatile **map) {
    CALL(file, false, real_of(file)->pMethods->xShmMap(real_of(file), page, size, extend, map));
}
static int cut_shm_lock(sqlite3_file *file, int offset, int count, int flags) {
    CALL(file, false, real_of(file)->pMethods->xShmLock(real_of(file), offset, count, flags));
}
static void cut_shm_barrier(sqlite3_file *file) {
    real_of(file)->pMethods->xShmBarrier(real_of(file));
}
static int cut_shm_unmap(sqlite3_file *file, int erase) {
    CALL(file, false, real_of(file)->pMethods->xShmUnmap(real_of(file), erase));
}

static const sqlite3_io_methods methods = {.iVersion = 2, /* without mapped reading */
                                           .xClose = cut_close,
                                           .xRead = cut_read,
                                           .xWrite = cut_write,
                                           .xTruncate = cut_truncate,
                                           .xSync = cut_sync,
                                           .xFileSize = cut_size,
                                           .xLock = cut_lock,
                                           .xUnlock = cut_unlock,
                                           .xCheckReservedLock = cut_reserved,
                                           .xFileControl = cut_control,
                                           .xSectorSize = cut_sector,
                                           .xDeviceCharacteristics = cut_device,
                                           .xShmMap = cut_shm_map,
                                           .xShmLock = cut_shm_lock,
                                           .xShmBarrier = cut_shm_barrier,
                                           .xShmUnmap = cut_shm_unmap};

static int open_real(const char *name, sqlite3_file *file, int flags, int *got) {
    struct cut_file *cut = (struct cut_file *)(void *)file;
    cut->real = (sqlite3_file *)(void *)(cut + 1);
    cut->database = (flags & SQLITE_OPEN_MAIN_DB) != 0;
    const int result = the.real->xOpen(the.real, name, cut->real, flags, got);
    cut->base.pMethods = result == SQLITE_OK ? &methods : NULL;
    return result;
}

static int cut_open(sqlite3_vfs *vfs, sqlite3_filename name, sqlite3_file *file, int flags, int *got) {
    (void)vfs;
    CALL(NULL, false, open_real(name, file, flags, got));
}

static int cut_delete(sqlite3_vfs *vfs, const char *name, int sync) {
    (void)vfs;
    CALL(NULL, false, the.real->xDelete(the.real, name, sync));
}

void cut_install(const struct cut *cut) {
    the.cut = *cut;
    the.random = cut->seed;
    the.calls = 0;
    the.real = sqlite3_vfs_find(NULL);
    the.vfs = *the.real; /* its other functions know it by pAppData, which is the same */
    the.vfs.zName = "cut";
    the.vfs.pNext = NULL;
    the.vfs.szOsFile = the.real->szOsFile + (int)sizeof(struct cut_file);
    the.vfs.xOpen = cut_open;
    the.vfs.xDelete = cut_delete;
    const int result = sqlite3_vfs_register(&the.vfs, 1);
    assert(result == SQLITE_OK);
    (void)result;
}
