/* Pictures and other bytes, by their content: the same ones take room once. */
#include "record/records_inside.h"

#include <sha2.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

enum { BLOBS_MOST = 1 << 16, BLOB_SIZE_MOST = 1 << 30 };

static void content_of(const uint8_t *bytes, size_t size, uint8_t content[CONTENT_BYTES]) {
    SHA2_CTX context;
    SHA256Init(&context);
    SHA256Update(&context, bytes, size);
    SHA256Final(content, &context);
}

/* Smaller by a tenth at least, or NULL. */
static uint8_t *packed_of(const uint8_t *bytes, size_t size, size_t *packed) {
    uLongf room = (uLongf)(size - size / 10);
    uint8_t *out = size < 64 ? NULL : malloc(room);
    if (out != NULL && compress2(out, &room, bytes, (uLong)size, Z_DEFAULT_COMPRESSION) != Z_OK) {
        free(out);
        out = NULL;
    }
    *packed = room;
    return out;
}

static bool put_content(struct records *records, const struct record_blob *blob,
                        const uint8_t content[CONTENT_BYTES], int64_t *row) {
    sqlite3_stmt *put = sql_ready(records, SQL_BLOB_PUT);
    if (put == NULL) {
        return false;
    }
    const bool picture = strncmp(blob->type, "image/", 6) == 0; /* packed already */
    size_t size = blob->size;
    uint8_t *packed = picture ? NULL : packed_of(blob->bytes, blob->size, &size);
    sql_bytes(put, 1, content, CONTENT_BYTES);
    sqlite3_bind_int64(put, 2, (int64_t)blob->size);
    sqlite3_bind_int(put, 3, packed != NULL);
    sql_bytes(put, 4, packed != NULL ? packed : blob->bytes, packed != NULL ? size : blob->size);
    const bool good = sql_done(put);
    free(packed);
    *row = sqlite3_last_insert_rowid(records->db);
    return good;
}

static bool blob_find_or_put(struct records *records, const struct record_blob *blob, int64_t *row) {
    uint8_t content[CONTENT_BYTES];
    content_of(blob->bytes, blob->size, content);
    sqlite3_stmt *find = sql_ready(records, SQL_BLOB_FIND);
    if (find == NULL) {
        return false;
    }
    sql_bytes(find, 1, content, CONTENT_BYTES);
    const int found = sql_number(find, row);
    return found != 0 ? found > 0 : put_content(records, blob, content, row);
}

static bool label_find_or_put(struct records *records, struct arena *arena, const struct record_blob *blob,
                              int64_t *row) {
    const char *name = arena_clean(arena, blob->name, false, false);
    const char *type = arena_clean(arena, blob->type, false, false);
    sqlite3_stmt *find = sql_ready(records, SQL_LABEL_FIND), *put = sql_ready(records, SQL_LABEL_PUT);
    if (find == NULL || put == NULL) {
        return false;
    }
    sql_text(find, 1, name);
    sql_text(find, 2, type);
    const int found = sql_number(find, row);
    if (found != 0) {
        return found > 0;
    }
    sql_text(put, 1, name);
    sql_text(put, 2, type);
    if (!sql_done(put)) {
        return false;
    }
    *row = sqlite3_last_insert_rowid(records->db);
    return true;
}

bool blobs_put(struct records *records, struct arena *arena, const struct record_run *run, int64_t id) {
    for (size_t i = 0; i < run->blob_count; i++) {
        int64_t blob = 0, label = 0;
        sqlite3_stmt *put = sql_ready(records, SQL_RUN_BLOB_PUT);
        if (put == NULL || !blob_find_or_put(records, &run->blobs[i], &blob) ||
            !label_find_or_put(records, arena, &run->blobs[i], &label)) {
            return false;
        }
        sqlite3_bind_int64(put, 1, id);
        sqlite3_bind_int64(put, 2, (int64_t)i);
        sqlite3_bind_int64(put, 3, label);
        sqlite3_bind_int64(put, 4, blob);
        if (!sql_done(put)) {
            return false;
        }
    }
    return true;
}

/* Bytes as they were put, or NULL. */
static uint8_t *unpacked(sqlite3_stmt *row, struct arena *arena, size_t size) {
    const uint8_t *kept = sqlite3_column_blob(row, 5);
    const size_t kept_size = (size_t)sqlite3_column_bytes(row, 5);
    uLongf room = (uLongf)size;
    const bool packed = sqlite3_column_int(row, 4) != 0;
    /* Deflate makes nothing smaller than about a thousandth: what claims so is damaged. */
    if (size > BLOB_SIZE_MOST || (packed ? size / 1100 > kept_size : size != kept_size)) {
        return NULL;
    }
    uint8_t *bytes = arena_get(arena, size + 1, 1);
    if (bytes == NULL || size == 0) {
        return bytes;
    }
    if (!packed) {
        return memcpy(bytes, kept, size);
    }
    return uncompress(bytes, &room, kept, (uLong)kept_size) == Z_OK && room == size ? bytes : NULL;
}

static bool blob_read(sqlite3_stmt *row, struct arena *arena, struct record_blob *blob) {
    blob->name = sql_get_text(row, 0, arena);
    blob->type = sql_get_text(row, 1, arena);
    blob->size = (size_t)sqlite3_column_int64(row, 3);
    blob->bytes = unpacked(row, arena, blob->size);
    uint8_t content[CONTENT_BYTES];
    if (blob->bytes == NULL) {
        return false;
    }
    content_of(blob->bytes, blob->size, content);
    for (int i = 0; i < CONTENT_BYTES; i++) {
        snprintf(&blob->id[2 * i], 3, "%02x", content[i]);
    }
    return sqlite3_column_bytes(row, 2) == CONTENT_BYTES &&
           memcmp(content, sqlite3_column_blob(row, 2), CONTENT_BYTES) == 0;
}

static bool read_all(struct arena *arena, sqlite3_stmt *row, struct record_run *run, int *step) {
    struct record_blob *list = NULL;
    size_t count = 0, room = 0;
    while ((*step = sqlite3_step(row)) == SQLITE_ROW) {
        if (count == room) {
            struct record_blob *larger = arena_get(arena, room = 2 * room + 2, sizeof *larger);
            if (larger == NULL || room > BLOBS_MOST) {
                return false;
            }
            list = count == 0 ? larger : memcpy(larger, list, count * sizeof *list);
        }
        if (!blob_read(row, arena, &list[count++])) {
            return false;
        }
    }
    run->blobs = list;
    run->blob_count = count;
    return *step == SQLITE_DONE;
}

bool blobs_get(struct records *records, struct arena *arena, struct record_run *run,
               struct problem *problem) {
    sqlite3_stmt *row = sql_ready(records, SQL_RUN_BLOBS_GET);
    if (row == NULL) {
        return records_problem(records, problem);
    }
    int step = SQLITE_ERROR;
    sqlite3_bind_int64(row, 1, run->id);
    const bool good = read_all(arena, row, run, &step);
    if (step != SQLITE_DONE && step != SQLITE_ROW) {
        records_problem(records, problem);
    } else if (!good) {
        arena->failed ? records_memory(records, problem)
                      : records_damaged(records, "a picture or table of run", run->id, problem);
    }
    sqlite3_reset(row);
    return good;
}
