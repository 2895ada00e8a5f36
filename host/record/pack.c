#include "record/pack.h"

#include "record/bits.h"

#include <stdlib.h>
#include <string.h>
#include <zlib.h>

/* Forms of the rows of bytes: the newest is written, all are read. Of steps the first had each column in each
 * step. */
enum { CRC_BYTES = 4, PLAN_FORM = 1, FIRST_FORM = 1, STEPS_FORM = 2 };

/* Figures of each step: whole numbers (per 0: an int) or measured ones. */
#define LIT(member) offsetof(struct step_result, lit_colour.member)
#define DARK(member) offsetof(struct step_result, dark_colour.member)
#define ALWAYS SIZE_MAX
static const struct column {
    size_t offset;
    double per;
    size_t count; /* of an int that is 0 where this is 0 too, for nothing was seen; ALWAYS: in each step */
} columns[] = {
    {offsetof(struct step_result, fields), 0, ALWAYS},
    {offsetof(struct step_result, margin), KEPT_MARGIN, ALWAYS},
    {offsetof(struct step_result, offset), KEPT_OFFSET, ALWAYS},
    {LIT(count), 0, ALWAYS},
    {LIT(level), KEPT_LEVEL, LIT(count)},
    {LIT(cb), KEPT_CHROMA, LIT(count)},
    {LIT(cr), KEPT_CHROMA, LIT(count)},
    {DARK(count), 0, ALWAYS},
    {DARK(level), KEPT_LEVEL, DARK(count)},
    {DARK(cb), KEPT_CHROMA, DARK(count)},
    {DARK(cr), KEPT_CHROMA, DARK(count)},
};
enum { COLUMNS = sizeof columns / sizeof *columns };

static int int_at(const struct step_result *step, size_t offset) {
    int whole;
    memcpy(&whole, (const unsigned char *)step + offset, sizeof whole);
    return whole;
}

static bool column_has(const struct step_result *step, const struct column *column) {
    return column->count == ALWAYS || int_at(step, column->count) != 0;
}

static int64_t column_value(const struct step_result *step, const struct column *column) {
    if (column->per == 0) {
        return int_at(step, column->offset);
    }
    double measured;
    memcpy(&measured, (const unsigned char *)step + column->offset, sizeof measured);
    return kept_quanta(measured, column->per);
}

static bool column_set(struct step_result *step, const struct column *column, int64_t value) {
    unsigned char *at = (unsigned char *)step + column->offset;
    if (column->per == 0) {
        const int whole = (int)value;
        memcpy(at, &whole, sizeof whole);
        return whole == value;
    }
    const double measured = kept_value(value, column->per);
    memcpy(at, &measured, sizeof measured);
    return true;
}

/* What a step comes to when all is as the plan says, or when no field of it was judged. */
static struct step_result foreseen(const struct record_plan *plan, size_t index, int fields) {
    const bool known = index < plan->step_count;
    struct step_result step = {.verdict = fields > 0 ? VERDICT_PASS : VERDICT_INCONCLUSIVE,
                               .expected = known ? plan->steps[index].expected : 0,
                               .sure = known ? plan->steps[index].sure : 0,
                               .wrong_line = -1};
    step.seen = fields > 0 ? step.expected : 0;
    return step;
}

/* Steps that differ from what was foreseen: where, and in what. */
enum { ODD_GAP, ODD_VERDICT, ODD_FAILED, ODD_LINE, ODD_FIGURES };
enum { ODD_EXPECTED, ODD_SURE, ODD_SEEN, ODD_UNCLEAR, ODD_CELLS };
struct odd {
    size_t count;
    int64_t *figures[ODD_FIGURES];
    uint64_t *cells[ODD_CELLS];
};

static bool odd_new(struct odd *odd, size_t room) {
    bool good = true;
    *odd = (struct odd){0};
    for (int i = 0; i < ODD_FIGURES; i++) {
        odd->figures[i] = calloc(room + 1, sizeof **odd->figures);
        good &= odd->figures[i] != NULL;
    }
    for (int i = 0; i < ODD_CELLS; i++) {
        odd->cells[i] = calloc(room + 1, sizeof **odd->cells);
        good &= odd->cells[i] != NULL;
    }
    return good;
}

static void odd_free(struct odd *odd) {
    for (int i = 0; i < ODD_FIGURES; i++) {
        free(odd->figures[i]);
    }
    for (int i = 0; i < ODD_CELLS; i++) {
        free(odd->cells[i]);
    }
}

/* `seen` against what the step itself says was expected: a stuck bit is then the same in each of its steps.
 */
static uint64_t seen_base(const struct step_result *step) {
    return step->fields > 0 ? step->expected : 0;
}

static void odd_add(struct odd *odd, size_t *last, size_t index, const struct step_result *step,
                    const struct step_result *plain) {
    const uint64_t cells[ODD_CELLS] = {step->expected ^ plain->expected, step->sure ^ plain->sure,
                                       step->seen ^ seen_base(step), step->unclear};
    const int verdict = (int)step->verdict - (int)plain->verdict;
    uint64_t any = 0;
    for (int i = 0; i < ODD_CELLS; i++) {
        any |= cells[i];
    }
    if (any == 0 && verdict == 0 && step->failed == 0 && step->wrong_line == -1) {
        return;
    }
    const size_t at = odd->count++;
    odd->figures[ODD_GAP][at] = (int64_t)(index - *last);
    odd->figures[ODD_VERDICT][at] = verdict;
    odd->figures[ODD_FAILED][at] = step->failed;
    odd->figures[ODD_LINE][at] = step->wrong_line;
    for (int i = 0; i < ODD_CELLS; i++) {
        odd->cells[i][at] = cells[i];
    }
    *last = index;
}

static void put_odd(struct bits_out *out, const struct odd *odd) {
    bits_put_number(out, odd->count);
    for (int i = 0; i < ODD_FIGURES && odd->count > 0; i++) {
        bits_put_column(out, odd->figures[i], odd->count);
    }
    for (int i = 0; i < ODD_CELLS && odd->count > 0; i++) {
        bits_put_choice(out, odd->cells[i], odd->count);
    }
}

static void put_steps(struct bits_out *out, const struct step_result *steps, size_t count, int64_t *values) {
    bits_put(out, STEPS_FORM, 8);
    bits_put_number(out, count);
    for (int c = 0; c < COLUMNS; c++) {
        size_t had = 0;
        for (size_t i = 0; i < count; i++) {
            if (column_has(&steps[i], &columns[c])) {
                values[had++] = column_value(&steps[i], &columns[c]);
            }
        }
        bits_put_column(out, values, had);
    }
}

/* Ends a row of bytes with its check. */
static bool finish(struct bits_out *out, uint8_t **bytes, size_t *size) {
    if (bits_finish(out)) {
        bits_put(out, crc32(0, out->bytes, (uInt)out->size), 8 * CRC_BYTES);
    }
    if (!bits_finish(out)) {
        free(out->bytes);
        return false;
    }
    *bytes = out->bytes;
    *size = out->size;
    return true;
}

/* The row before its check; false where that disagrees. */
static bool checked(const uint8_t *bytes, size_t size, struct bits_in *in) {
    if (size <= CRC_BYTES || size > INT32_MAX) {
        return false;
    }
    *in = (struct bits_in){.bytes = bytes, .size = size - CRC_BYTES};
    struct bits_in check = {.bytes = bytes + in->size, .size = CRC_BYTES};
    return bits_get(&check, 8 * CRC_BYTES) == crc32(0, bytes, (uInt)in->size);
}

bool pack_steps(const struct record_plan *plan, const struct step_result *steps, size_t count,
                uint8_t **bytes, size_t *size) {
    struct bits_out out = {0};
    struct odd odd;
    int64_t *values = calloc(count + 1, sizeof *values);
    const bool room = odd_new(&odd, count) && values != NULL && count <= PACK_STEPS_MAX;
    if (room) {
        size_t last = 0;
        for (size_t i = 0; i < count; i++) {
            const struct step_result plain = foreseen(plan, i, steps[i].fields);
            odd_add(&odd, &last, i, &steps[i], &plain);
        }
        put_steps(&out, steps, count, values);
        put_odd(&out, &odd);
    }
    odd_free(&odd);
    free(values);
    return room && finish(&out, bytes, size);
}

static bool get_odd(struct bits_in *in, size_t count, struct odd *odd) {
    odd->count = bits_get_number(in);
    if (odd->count > count) {
        odd->count = 0;
        return false;
    }
    for (int i = 0; i < ODD_FIGURES && odd->count > 0; i++) {
        bits_get_column(in, odd->figures[i], odd->count);
    }
    for (int i = 0; i < ODD_CELLS && odd->count > 0; i++) {
        bits_get_choice(in, odd->cells[i], odd->count);
    }
    return !in->failed;
}

static bool odd_apply(const struct odd *odd, struct step_result *steps, size_t count) {
    uint64_t index = 0;
    for (size_t i = 0; i < odd->count; i++) {
        index += (uint64_t)odd->figures[ODD_GAP][i];
        if (index >= count) {
            return false;
        }
        struct step_result *step = &steps[index];
        const int64_t verdict = (int64_t)step->verdict + odd->figures[ODD_VERDICT][i];
        if (verdict < VERDICT_PASS || verdict > VERDICT_INCONCLUSIVE) {
            return false;
        }
        step->verdict = (enum verdict)verdict;
        step->failed = (int)odd->figures[ODD_FAILED][i];
        step->wrong_line = (int)odd->figures[ODD_LINE][i];
        step->expected ^= odd->cells[ODD_EXPECTED][i];
        step->sure ^= odd->cells[ODD_SURE][i];
        step->seen = seen_base(step) ^ odd->cells[ODD_SEEN][i];
        step->unclear = odd->cells[ODD_UNCLEAR][i];
    }
    return true;
}

static bool get_steps(struct bits_in *in, uint64_t form, struct step_result *steps, size_t count,
                      int64_t *values) {
    for (int c = 0; c < COLUMNS; c++) {
        const struct column *column = &columns[c];
        size_t had = 0, next = 0;
        for (size_t i = 0; i < count; i++) {
            had += form == FIRST_FORM || column_has(&steps[i], column);
        }
        bits_get_column(in, values, had);
        for (size_t i = 0; i < count; i++) {
            if (form == FIRST_FORM || column_has(&steps[i], column)) {
                in->failed |= !column_set(&steps[i], column, values[next++]);
            }
        }
    }
    return !in->failed;
}

bool unpack_steps(const struct record_plan *plan, const uint8_t *bytes, size_t size, struct arena *arena,
                  struct step_result **steps, size_t *count) {
    struct bits_in in;
    if (!checked(bytes, size, &in)) {
        return false;
    }
    const uint64_t form = bits_get(&in, 8), wanted = bits_get_number(&in);
    if (in.failed || form < FIRST_FORM || form > STEPS_FORM || wanted > PACK_STEPS_MAX) {
        return false;
    }
    *count = (size_t)wanted;
    *steps = arena_get(arena, *count, sizeof **steps);
    int64_t *values = calloc(*count + 1, sizeof *values);
    struct odd odd;
    bool good = odd_new(&odd, *count) && *steps != NULL && values != NULL;
    good = good && get_steps(&in, form, *steps, *count, values) && get_odd(&in, *count, &odd);
    for (size_t i = 0; i < *count && good; i++) {
        const struct step_result plain = foreseen(plan, i, (*steps)[i].fields);
        struct step_result *step = &(*steps)[i];
        step->verdict = plain.verdict;
        step->expected = plain.expected;
        step->sure = plain.sure;
        step->seen = plain.seen;
        step->wrong_line = -1;
    }
    good = good && odd_apply(&odd, *steps, *count) && bits_done(&in);
    odd_free(&odd);
    free(values);
    return good;
}

/* Plans are kept once each: as they stand, byte by byte. */
static void put_text(struct bits_out *out, const char *text) {
    const size_t length = text == NULL ? 0 : strlen(text);
    bits_put_number(out, length);
    for (size_t i = 0; i < length; i++) {
        bits_put(out, (unsigned char)text[i], 8);
    }
}

static const char *get_text(struct bits_in *in, struct arena *arena) {
    const uint64_t length = bits_get_number(in);
    if (in->failed || length > in->size) {
        in->failed = true;
        return "";
    }
    char *text = arena_get(arena, length + 1, 1);
    for (uint64_t i = 0; i < length && text != NULL; i++) {
        text[i] = (char)bits_get(in, 8);
    }
    return text == NULL ? "" : text;
}

bool pack_plan(const struct record_plan_step *steps, size_t count, uint8_t **bytes, size_t *size) {
    struct bits_out out = {0};
    bits_put(&out, PLAN_FORM, 8);
    bits_put_number(&out, count);
    bits_put_number(&out, REG_COUNT);
    for (size_t i = 0; i < count; i++) {
        put_text(&out, steps[i].name);
        put_text(&out, steps[i].mode);
        for (int reg = 0; reg < REG_COUNT; reg++) {
            bits_put(&out, steps[i].registers[reg], 8);
        }
        bits_put_number(&out, steps[i].expected);
        bits_put_number(&out, steps[i].sure);
        bits_put_number(&out, (uint64_t)steps[i].bands);
    }
    return finish(&out, bytes, size);
}

static void get_plan_step(struct bits_in *in, struct arena *arena, uint64_t registers,
                          struct record_plan_step *step) {
    step->name = get_text(in, arena);
    step->mode = get_text(in, arena);
    for (uint64_t reg = 0; reg < registers; reg++) {
        const uint8_t value = (uint8_t)bits_get(in, 8);
        if (reg < REG_COUNT) {
            step->registers[reg] = value;
        }
    }
    step->expected = bits_get_number(in);
    step->sure = bits_get_number(in);
    step->bands = (int)bits_get_number(in);
}

bool unpack_plan(const uint8_t *bytes, size_t size, struct arena *arena, struct record_plan_step **steps,
                 size_t *count) {
    struct bits_in in;
    if (!checked(bytes, size, &in) || bits_get(&in, 8) != PLAN_FORM) {
        return false;
    }
    const uint64_t wanted = bits_get_number(&in), registers = bits_get_number(&in);
    if (in.failed || wanted > PACK_STEPS_MAX || registers > UINT8_MAX) {
        return false;
    }
    *count = (size_t)wanted;
    *steps = arena_get(arena, *count, sizeof **steps);
    for (size_t i = 0; i < *count && *steps != NULL && !in.failed; i++) {
        get_plan_step(&in, arena, registers, &(*steps)[i]);
    }
    return *steps != NULL && !arena->failed && bits_done(&in);
}
