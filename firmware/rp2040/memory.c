/* What the compiler may call without being asked. No C library is linked. */
#include <stddef.h>
#include <stdint.h>

void *memcpy(void *restrict to, const void *restrict from, size_t count);
void *memmove(void *to, const void *from, size_t count);
void *memset(void *to, int value, size_t count);
int memcmp(const void *a, const void *b, size_t count);

void *memcpy(void *restrict to, const void *restrict from, size_t count) {
    uint8_t *out = to;
    const uint8_t *in = from;
    if ((((uintptr_t)out | (uintptr_t)in) & 3) == 0) {
        for (; count >= 4; count -= 4, out += 4, in += 4) {
            *(uint32_t *)(void *)out = *(const uint32_t *)(const void *)in;
        }
    }
    while (count-- > 0) {
        *out++ = *in++;
    }
    return to;
}

void *memmove(void *to, const void *from, size_t count) {
    uint8_t *out = to;
    const uint8_t *in = from;
    if (out <= in) {
        return memcpy(to, from, count);
    }
    while (count-- > 0) {
        out[count] = in[count];
    }
    return to;
}

void *memset(void *to, int value, size_t count) {
    uint8_t *out = to;
    while (count-- > 0) {
        *out++ = (uint8_t)value;
    }
    return to;
}

int memcmp(const void *a, const void *b, size_t count) {
    const uint8_t *left = a, *right = b;
    for (size_t i = 0; i < count; i++) {
        if (left[i] != right[i]) {
            return left[i] < right[i] ? -1 : 1;
        }
    }
    return 0;
}
