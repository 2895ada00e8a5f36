#include "rom/encoder.h"

#include <stdio.h>
#include <string.h>

void encoder_start(struct encoder *encoder, size_t limit) {
    memset(encoder, 0, sizeof *encoder);
    encoder->limit = limit;
    encoder->origin = (uint16_t)(0x10000 - limit);
}

static void wrong(struct encoder *encoder, const char *what, const char *which) {
    if (encoder->problem.kind == PROBLEM_NONE) {
        problem_set(&encoder->problem, PROBLEM_INPUT, "image: %s: %s", which, what);
    }
}

static const char *no_room(const struct encoder *encoder) {
    return encoder->sealed         ? "the check does not fit into them"
           : encoder->limit < 4096 ? "does not fit; leave the size out, or give 4096"
                                   : "does not fit; use fewer steps or bands";
}

static int find_label(struct encoder *encoder, const char *name) {
    for (int i = 0; i < encoder->label_count; i++) {
        if (strcmp(encoder->labels[i].name, name) == 0) {
            return i;
        }
    }
    if (encoder->label_count == LABELS_MAX || strlen(name) >= LABEL_MAX) {
        wrong(encoder, "too many labels, or one too long", name);
        return 0;
    }
    struct label *label = &encoder->labels[encoder->label_count];
    snprintf(label->name, sizeof label->name, "%s", name);
    label->offset = -1;
    return encoder->label_count++;
}

static bool keep_clear(struct encoder *encoder, enum item_kind kind, size_t size);
static void keep_label(struct encoder *encoder);

/* Room for an item of so many bytes; NULL (and an error kept) when there is none. */
static struct item *take(struct encoder *encoder, enum item_kind kind, size_t size, const char *note) {
    if (encoder->problem.kind != PROBLEM_NONE) {
        return NULL;
    }
    if (encoder->sealed && kind != ITEM_FILL && !keep_clear(encoder, kind, size)) {
        return NULL;
    }
    if (encoder->size + size > encoder->limit || encoder->item_count == ITEMS_MAX) {
        wrong(encoder, no_room(encoder), encoder->limit == 2048 ? "2048 bytes" : "4096 bytes");
        return NULL;
    }
    struct item *item = &encoder->items[encoder->item_count++];
    *item = (struct item){
        .kind = kind, .offset = (uint16_t)encoder->size, .size = (uint16_t)size, .label = -1, .note = note};
    encoder->size += size;
    return item;
}

static struct item *instruction(struct encoder *encoder, const char *mnemonic, enum mode mode,
                                uint16_t operand, const char *note) {
    uint8_t code = 0;
    if (!opcode_find(mnemonic, mode, &code)) {
        wrong(encoder, "no such instruction in this addressing mode", mnemonic);
        return NULL;
    }
    int size = opcode_bytes(mode);
    struct item *item = take(encoder, ITEM_CODE, (size_t)size, note);
    if (item != NULL) {
        encoder->bytes[item->offset] = code;
        if (size > 1) {
            encoder->bytes[item->offset + 1] = (uint8_t)operand;
        }
        if (size > 2) {
            encoder->bytes[item->offset + 2] = (uint8_t)(operand >> 8);
        }
        encoder->code_bytes += (size_t)size;
    }
    return item;
}

void encode(struct encoder *encoder, const char *mnemonic, enum mode mode, uint16_t operand,
            const char *note) {
    instruction(encoder, mnemonic, mode, operand, note);
}

void encode_to(struct encoder *encoder, const char *mnemonic, enum mode mode, const char *label, int plus,
               const char *note) {
    struct item *item = instruction(encoder, mnemonic, mode, 0, note);
    if (item != NULL) {
        item->label = (int16_t)find_label(encoder, label);
        item->plus = (int16_t)plus;
    }
}

void encode_label(struct encoder *encoder, const char *name) {
    keep_label(encoder);
    struct label *label = &encoder->labels[find_label(encoder, name)];
    if (label->offset >= 0) {
        wrong(encoder, "placed twice", name);
    }
    label->offset = (int)encoder->size;
}

void encode_data(struct encoder *encoder, const uint8_t *bytes, size_t count, const char *note) {
    struct item *item = take(encoder, ITEM_DATA, count, note);
    if (item != NULL) {
        memcpy(encoder->bytes + item->offset, bytes, count);
        encoder->table_bytes += count;
    }
}

void encode_address(struct encoder *encoder, const char *label) {
    struct item *item = take(encoder, ITEM_DATA, 2, NULL);
    if (item != NULL) {
        item->label = (int16_t)find_label(encoder, label);
        encoder->table_bytes += 2;
    }
}

void encode_address_half(struct encoder *encoder, const char *label, bool high) {
    struct item *item = take(encoder, ITEM_DATA, 1, NULL);
    if (item != NULL) {
        item->label = (int16_t)find_label(encoder, label);
        item->half = high ? '>' : '<';
        encoder->table_bytes++;
    }
}

void encode_targets(struct encoder *encoder, const char *low, const char *high, int count) {
    encoder->target_low = find_label(encoder, low);
    encoder->target_high = find_label(encoder, high);
    encoder->target_count = count;
}

/* One claim an instruction. */
static void claim(struct encoder *encoder, enum claim_kind kind, int value) {
    if (encoder->problem.kind != PROBLEM_NONE) {
        return;
    }
    const struct item *last = encoder->item_count == 0 ? NULL : &encoder->items[encoder->item_count - 1];
    if (last == NULL || last->kind != ITEM_CODE || encoder->claims[last->offset].kind != CLAIM_NONE) {
        wrong(encoder, "a claim about no instruction, or a second one", "proof");
        return;
    }
    encoder->claims[last->offset] = (struct claim){.kind = (uint8_t)kind, .value = (uint8_t)value};
}

void encode_mark(struct encoder *encoder, int cycle) {
    claim(encoder, CLAIM_CYCLE, cycle);
}

void encode_mark_in(struct encoder *encoder, uint8_t ram) {
    claim(encoder, CLAIM_CYCLE_IN, ram);
}

void encode_each(struct encoder *encoder) {
    claim(encoder, CLAIM_EACH, 0);
}

void encode_draws(struct encoder *encoder) {
    claim(encoder, CLAIM_DRAWS, 0);
}

void encode_forget(struct encoder *encoder) {
    claim(encoder, CLAIM_FORGET, 0);
}

void encode_window(struct encoder *encoder, const char *label) {
    encoder->window_end = find_label(encoder, label);
    claim(encoder, CLAIM_WINDOW, 0);
}

void encode_timer(struct encoder *encoder) {
    claim(encoder, CLAIM_TIMER, 0);
}

void encode_never(struct encoder *encoder) {
    claim(encoder, CLAIM_NEVER, 0);
}

void encode_counted(struct encoder *encoder) {
    if (encoder->counted_to != 0) {
        wrong(encoder, "a second stretch of counted lines", "proof");
    }
    encoder->counted_from = (int)encoder->size;
}

void encode_counted_end(struct encoder *encoder) {
    encoder->counted_to = (int)encoder->size;
}

void encode_fill(struct encoder *encoder, size_t offset) {
    if (offset < encoder->size) {
        wrong(encoder, no_room(encoder), encoder->limit == 2048 ? "2048 bytes" : "4096 bytes");
    } else if (offset > encoder->size) {
        take(encoder, ITEM_FILL, offset - encoder->size, NULL);
    }
}

void encode_delay(struct encoder *encoder, int cycles) {
    if (cycles == 1 || cycles < 0) {
        wrong(encoder, "a delay of one cycle", "schedule");
        return;
    }
    if (cycles % 2 == 1) {
        encode(encoder, "BIT", MODE_ZERO, 0x80, NULL);
        cycles -= 3;
    }
    for (; cycles > 0; cycles -= 2) {
        encode(encoder, "NOP", MODE_IMPLIED, 0, NULL);
    }
}

enum { PAGE = 0x100, LAST_SEAL = 0xF0, JUMP_BYTES = 3 };

void encode_sealed(struct encoder *encoder) {
    encoder->sealed = true;
}

int seal_place(const struct encoder *encoder, size_t offset) {
    return offset / PAGE == encoder->limit / PAGE - 1 ? LAST_SEAL : PAGE - SEAL_BYTES;
}

size_t encoder_room(const struct encoder *encoder) {
    const size_t place = (size_t)seal_place(encoder, encoder->size), used = encoder->size % PAGE;
    return used < place ? place - used : 0;
}

/* True when nothing comes by here: after a jump, a return, or data, and no label is here. */
static bool is_end(const struct encoder *encoder) {
    for (int i = 0; i < encoder->label_count; i++) {
        if (encoder->labels[i].offset == (int)encoder->size) {
            return false;
        }
    }
    const struct item *last = encoder->item_count == 0 ? NULL : &encoder->items[encoder->item_count - 1];
    if (last == NULL || last->kind != ITEM_CODE) {
        return true;
    }
    const struct opcode op = opcode_facts(encoder->bytes[last->offset]);
    return strcmp(op.mnemonic, "JMP") == 0 || strcmp(op.mnemonic, "RTS") == 0;
}

static void start_page(struct encoder *encoder, bool jump) {
    char name[LABEL_MAX];
    const size_t next = (encoder->size / PAGE + 1) * PAGE;
    snprintf(name, sizeof name, "page_%zu", next / PAGE);
    encoder->sealed = false;
    if (jump) {
        encode_to(encoder, "JMP", MODE_ABSOLUTE, name, 0, "over the seal");
    }
    encode_fill(encoder, next);
    encode_label(encoder, name);
    encoder->sealed = true;
}

static bool in_last_page(const struct encoder *encoder) {
    return encoder->size / PAGE == encoder->limit / PAGE - 1;
}

/* What comes next stays with its label. */
static void keep_label(struct encoder *encoder) {
    enum { LONGEST_BYTES = 3 };
    if (encoder->sealed && !in_last_page(encoder) && encoder_room(encoder) < LONGEST_BYTES + JUMP_BYTES) {
        start_page(encoder, !is_end(encoder));
    }
}

void encode_next_page(struct encoder *encoder) {
    start_page(encoder, !is_end(encoder));
}

void encode_room(struct encoder *encoder, size_t bytes) {
    if (encoder->sealed && encoder_room(encoder) < bytes + JUMP_BYTES) {
        start_page(encoder, !is_end(encoder));
    }
}

/* Before an item of so many bytes. In the last page nothing follows its seal but what knows its place. */
static bool keep_clear(struct encoder *encoder, enum item_kind kind, size_t size) {
    const bool last = in_last_page(encoder);
    const size_t spare = last ? 0 : JUMP_BYTES;
    if (kind == ITEM_CODE && !last && encoder_room(encoder) < size + spare) {
        start_page(encoder, !is_end(encoder));
    }
    if (encoder_room(encoder) < size) {
        wrong(encoder, last ? no_room(encoder) : "a table over a page's seal",
              encoder->limit == 2048 ? "2048 bytes" : "4096 bytes");
        return false;
    }
    return true;
}

static void resolve(struct encoder *encoder, const struct item *item) {
    const struct label *label = &encoder->labels[item->label];
    if (label->offset < 0) {
        wrong(encoder, "a label that is nowhere", label->name);
        return;
    }
    int target = label->offset + item->plus;
    uint16_t address = (uint16_t)(encoder->origin + target);
    uint8_t *at = encoder->bytes + item->offset;
    if (item->half != 0) {
        at[0] = (uint8_t)(item->half == '<' ? address : address >> 8);
    } else if (item->kind == ITEM_DATA) {
        at[0] = (uint8_t)address;
        at[1] = (uint8_t)(address >> 8);
    } else if (item->size == 2) {
        int distance = target - (item->offset + 2);
        if (distance < -128 || distance > 127) {
            wrong(encoder, "a branch that reaches too far", label->name);
        }
        at[1] = (uint8_t)distance;
    } else {
        at[1] = (uint8_t)address;
        at[2] = (uint8_t)(address >> 8);
    }
}

bool encoder_finish(struct encoder *encoder, struct problem *problem) {
    for (int i = 0; i < encoder->item_count; i++) {
        if (encoder->items[i].label >= 0) {
            resolve(encoder, &encoder->items[i]);
        }
    }
    if (encoder->problem.kind != PROBLEM_NONE) {
        if (problem != NULL) {
            *problem = encoder->problem;
        }
        return false;
    }
    return true;
}

const char *encoder_where(const struct encoder *encoder, size_t offset) {
    const char *name = "start";
    int best = -1;
    for (int i = 0; i < encoder->label_count; i++) {
        if (encoder->labels[i].offset <= (int)offset && encoder->labels[i].offset > best) {
            best = encoder->labels[i].offset;
            name = encoder->labels[i].name;
        }
    }
    return name;
}
