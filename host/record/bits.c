#include "record/bits.h"

#include <endian.h>
#include <stdlib.h>
#include <string.h>

enum {
    PARAMETER_BITS = 6,
    SAME = 63,   /* in place of a Rice parameter: all are the same */
    LISTED = 62, /* likewise: few different ones, listed first */
    FEW = 24,
    RICE_MOST = 56,
    UNARY_MOST = 24, /* so many ones: the number itself follows */
    CHOICES_MOST = 1 << 16,
    NEAR = 256,
    PEEK_LEAST = 57
};

static void put_byte(struct bits_out *out, uint8_t byte) {
    if (out->size == out->room) {
        const size_t room = out->room == 0 ? 1024 : 2 * out->room;
        uint8_t *bytes = realloc(out->bytes, room);
        if (bytes == NULL) {
            out->failed = true;
            return;
        }
        out->bytes = bytes;
        out->room = room;
    }
    out->bytes[out->size++] = byte;
}

void bits_put(struct bits_out *out, uint64_t value, int count) {
    out->held = out->held << count | (value & ((UINT64_C(1) << count) - 1));
    out->held_bits += count;
    while (out->held_bits >= 8) {
        out->held_bits -= 8;
        put_byte(out, (uint8_t)(out->held >> out->held_bits));
    }
}

static void put_whole(struct bits_out *out, uint64_t value) {
    bits_put(out, value >> 32, 32);
    bits_put(out, value & 0xFFFFFFFF, 32);
}

void bits_put_number(struct bits_out *out, uint64_t value) {
    for (; value >= 0x80; value >>= 7) {
        bits_put(out, (value & 0x7F) | 0x80, 8);
    }
    bits_put(out, value, 8);
}

bool bits_finish(struct bits_out *out) {
    if (out->held_bits > 0) {
        bits_put(out, 0, 8 - out->held_bits);
    }
    return !out->failed;
}

/* Signed distances, small ones first. All wraps round, so that any two numbers have one. */
static uint64_t distance(int64_t value, int64_t from) {
    const uint64_t apart = (uint64_t)value - (uint64_t)from;
    return apart << 1 ^ (0 - (apart >> 63));
}

static int64_t beyond(int64_t from, uint64_t apart) {
    return (int64_t)((uint64_t)from + (apart >> 1 ^ (0 - (apart & 1))));
}

static void put_rice(struct bits_out *out, uint64_t value, int parameter) {
    const uint64_t ones = value >> parameter;
    if (ones >= UNARY_MOST) {
        bits_put(out, (1u << UNARY_MOST) - 1, UNARY_MOST);
        put_whole(out, value);
        return;
    }
    bits_put(out, (UINT64_C(2) << ones) - 2, (int)ones + 1);
    bits_put(out, value, parameter);
}

static uint64_t rice_cost(const uint64_t *distances, size_t count, int parameter) {
    uint64_t bits = 0;
    for (size_t i = 0; i < count; i++) {
        const uint64_t ones = distances[i] >> parameter;
        bits += ones >= UNARY_MOST ? UNARY_MOST + 64 : ones + 1 + (uint64_t)parameter;
    }
    return bits;
}

/* The parameter that takes least: from that of the mean distance downhill. */
static int best_parameter(const uint64_t *distances, size_t count) {
    double mean = 0;
    for (size_t i = 0; i < count; i++) {
        mean += (double)distances[i] / (double)count;
    }
    int best = 0;
    for (; mean > 1.4 && best < RICE_MOST; mean /= 2) {
        best++;
    }
    uint64_t least = rice_cost(distances, count, best);
    for (int way = -1; way <= 1; way += 2) {
        for (int next = best + way; next >= 0 && next <= RICE_MOST; next += way) {
            const uint64_t cost = rice_cost(distances, count, next);
            if (cost >= least) {
                break;
            }
            least = cost;
            best = next;
        }
    }
    return best;
}

static int64_t mean_of(const int64_t *values, size_t count) {
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        sum += (double)(int64_t)((uint64_t)values[i] - (uint64_t)values[0]);
    }
    const double mean = sum / (double)count;
    return mean > -9e15 && mean < 9e15 ? (int64_t)((uint64_t)values[0] + (uint64_t)(int64_t)mean) : values[0];
}

/* Few different values, the most frequent first, and each number as its place among them. */
struct few {
    size_t length;
    int64_t values[FEW];
    size_t times[FEW];
};

/* False where they are not few. */
static bool find_few(const int64_t *values, size_t count, struct few *few) {
    few->length = 0;
    for (size_t i = 0; i < count; i++) {
        size_t place = 0;
        while (place < few->length && few->values[place] != values[i]) {
            place++;
        }
        if (place == FEW) {
            return false;
        }
        if (place == few->length) {
            few->values[few->length] = values[i];
            few->times[few->length++] = 0;
        }
        for (few->times[place]++; place > 0 && few->times[place] > few->times[place - 1]; place--) {
            const int64_t value = few->values[place];
            const size_t times = few->times[place];
            few->values[place] = few->values[place - 1];
            few->times[place] = few->times[place - 1];
            few->values[place - 1] = value;
            few->times[place - 1] = times;
        }
    }
    return true;
}

static uint64_t number_cost(uint64_t value) {
    return 8 * (1 + (uint64_t)(63 - __builtin_clzll(value | 1)) / 7);
}

static uint64_t few_cost(const struct few *few, int parameter) {
    uint64_t bits = number_cost(few->length) + PARAMETER_BITS;
    for (size_t i = 0; i < few->length; i++) {
        bits += number_cost(distance(few->values[i], 0)) +
                few->times[i] * ((i >> parameter) + 1 + (uint64_t)parameter);
    }
    return bits;
}

/* As few, where that takes less than `most` bits. */
static bool put_few(struct bits_out *out, const int64_t *values, size_t count, uint64_t most) {
    struct few few;
    if (!find_few(values, count, &few)) {
        return false;
    }
    int parameter = 0;
    while (few_cost(&few, parameter + 1) < few_cost(&few, parameter)) {
        parameter++;
    }
    if (few_cost(&few, parameter) >= most) {
        return false;
    }
    bits_put(out, LISTED, PARAMETER_BITS);
    bits_put(out, (uint64_t)parameter, PARAMETER_BITS);
    bits_put_number(out, few.length);
    for (size_t i = 0; i < few.length; i++) {
        bits_put_number(out, distance(few.values[i], 0));
    }
    for (size_t i = 0; i < count; i++) {
        size_t place = 0;
        while (few.values[place] != values[i]) {
            place++;
        }
        put_rice(out, place, parameter);
    }
    return true;
}

static void put_distances(struct bits_out *out, const int64_t *values, size_t count) {
    uint64_t near[NEAR], *distances = count <= NEAR ? near : calloc(count, sizeof *distances);
    if (distances == NULL) {
        out->failed = true;
        return;
    }
    const int64_t from = mean_of(values, count);
    for (size_t i = 0; i < count; i++) {
        distances[i] = distance(values[i], from);
    }
    const int parameter = best_parameter(distances, count);
    const uint64_t bits = number_cost(distance(from, 0)) + rice_cost(distances, count, parameter);
    if (!put_few(out, values, count, bits)) {
        bits_put(out, (uint64_t)parameter, PARAMETER_BITS);
        bits_put_number(out, distance(from, 0));
        for (size_t i = 0; i < count; i++) {
            put_rice(out, distances[i], parameter);
        }
    }
    if (distances != near) {
        free(distances);
    }
}

void bits_put_column(struct bits_out *out, const int64_t *values, size_t count) {
    size_t same = 0;
    while (same < count && values[same] == values[0]) {
        same++;
    }
    if (same < count) {
        put_distances(out, values, count);
    } else if (count > 0) {
        bits_put(out, SAME, PARAMETER_BITS);
        bits_put_number(out, distance(values[0], 0));
    }
}

/* The values in the order in which they first appear, and each number as its place among them. */
static size_t list_of(const uint64_t *values, size_t count, uint64_t *list, int64_t *places) {
    size_t length = 0;
    for (size_t i = 0; i < count; i++) {
        size_t place = 0;
        while (place < length && list[place] != values[i]) {
            place++;
        }
        if (place == length) {
            list[length++] = values[i];
        }
        places[i] = (int64_t)place;
    }
    return length;
}

void bits_put_choice(struct bits_out *out, const uint64_t *values, size_t count) {
    uint64_t *list = calloc(count + 1, sizeof *list);
    int64_t *places = calloc(count + 1, sizeof *places);
    if (list == NULL || places == NULL || count > CHOICES_MOST) {
        out->failed = true;
    } else {
        const size_t length = list_of(values, count, list, places);
        bits_put_number(out, length);
        for (size_t i = 0; i < length; i++) {
            bits_put_number(out, list[i]);
        }
        bits_put_column(out, places, count);
    }
    free(list);
    free(places);
}

/* The bits to come from the top of a word on, PEEK_LEAST of them at least; beyond the end there are zeros. */
static uint64_t peek(const struct bits_in *in) {
    const size_t byte = in->at / 8, left = in->size - byte;
    uint64_t word = 0;
    if (left >= sizeof word) {
        memcpy(&word, in->bytes + byte, sizeof word);
        word = be64toh(word);
    } else {
        for (size_t i = 0; i < left; i++) {
            word |= (uint64_t)in->bytes[byte + i] << (56 - 8 * i);
        }
    }
    return word << in->at % 8;
}

static bool has(const struct bits_in *in, uint64_t count) {
    return !in->failed && (uint64_t)in->size * 8 - in->at >= count;
}

uint64_t bits_get(struct bits_in *in, int count) {
    if (!has(in, (uint64_t)count)) {
        in->failed = true;
        return 0;
    }
    const uint64_t value = count == 0 ? 0 : peek(in) >> (64 - count);
    in->at += (size_t)count;
    return value;
}

static uint64_t get_whole(struct bits_in *in) {
    const uint64_t high = bits_get(in, 32);
    return high << 32 | bits_get(in, 32);
}

uint64_t bits_get_number(struct bits_in *in) {
    uint64_t value = 0;
    for (int shift = 0; shift < 64; shift += 7) {
        const uint64_t group = bits_get(in, 8);
        value |= (group & 0x7F) << shift;
        if (group < 0x80) {
            return in->failed ? 0 : value;
        }
    }
    in->failed = true;
    return 0;
}

static uint64_t get_rice(struct bits_in *in, int parameter) {
    const uint64_t word = peek(in);
    const int ones =
        word >> (64 - UNARY_MOST) == (1u << UNARY_MOST) - 1 ? UNARY_MOST : __builtin_clzll(~word);
    const int all = ones + 1 + parameter;
    if (ones == UNARY_MOST || all > PEEK_LEAST || !has(in, (uint64_t)all)) {
        bits_get(in, ones < UNARY_MOST ? ones + 1 : UNARY_MOST);
        return ones == UNARY_MOST ? get_whole(in) : (uint64_t)ones << parameter | bits_get(in, parameter);
    }
    in->at += (size_t)all; /* the usual case, at one look */
    return (uint64_t)ones << parameter | (parameter == 0 ? 0 : word << (ones + 1) >> (64 - parameter));
}

static void get_few(struct bits_in *in, int64_t *values, size_t count) {
    int64_t list[FEW] = {0};
    const int parameter = (int)bits_get(in, PARAMETER_BITS);
    const uint64_t length = bits_get_number(in);
    in->failed |= parameter > RICE_MOST || length > FEW;
    for (uint64_t i = 0; i < length && !in->failed; i++) {
        list[i] = beyond(0, bits_get_number(in));
    }
    for (size_t i = 0; i < count && !in->failed; i++) {
        const uint64_t place = get_rice(in, parameter);
        in->failed |= place >= length;
        values[i] = in->failed ? 0 : list[place];
    }
}

void bits_get_column(struct bits_in *in, int64_t *values, size_t count) {
    memset(values, 0, count * sizeof *values);
    if (count == 0) {
        return;
    }
    const int parameter = (int)bits_get(in, PARAMETER_BITS);
    if (parameter == LISTED) {
        get_few(in, values, count);
        return;
    }
    const int64_t from = beyond(0, bits_get_number(in));
    if (parameter != SAME && parameter > RICE_MOST) {
        in->failed = true;
    }
    for (size_t i = 0; i < count && !in->failed; i++) {
        values[i] = parameter == SAME ? from : beyond(from, get_rice(in, parameter));
    }
}

void bits_get_choice(struct bits_in *in, uint64_t *values, size_t count) {
    memset(values, 0, count * sizeof *values);
    const uint64_t length = bits_get_number(in);
    uint64_t *list = length <= count ? calloc(count + 1, sizeof *list) : NULL;
    int64_t *places = calloc(count + 1, sizeof *places);
    in->failed |= list == NULL || places == NULL;
    for (uint64_t i = 0; i < length && !in->failed; i++) {
        list[i] = bits_get_number(in);
    }
    if (!in->failed) {
        bits_get_column(in, places, count);
    }
    for (size_t i = 0; i < count && !in->failed; i++) {
        if (places[i] < 0 || (uint64_t)places[i] >= length) {
            in->failed = true;
        } else {
            values[i] = list[places[i]];
        }
    }
    free(list);
    free(places);
}

bool bits_done(const struct bits_in *in) {
    return !in->failed && (in->at + 7) / 8 == in->size;
}
