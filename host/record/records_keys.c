#include "record/records_inside.h"

#include <sha2.h>
#include <string.h>

void key_of(const char *const *list, size_t count, uint8_t key[KEY_BYTES]) {
    uint8_t digest[SHA256_DIGEST_LENGTH];
    SHA2_CTX context;
    SHA256Init(&context);
    for (size_t i = 0; i < count; i++) { /* with their final 0, so that "ab", "c" is not "a", "bc" */
        SHA256Update(&context, (const uint8_t *)list[i], strlen(list[i]) + 1);
    }
    SHA256Final(digest, &context);
    memcpy(key, digest, KEY_BYTES);
}
