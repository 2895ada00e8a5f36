#include "rom/listing.h"

#include <stdio.h>
#include <stdlib.h>

static void put_labels(FILE *out, const struct encoder *encoder, size_t offset) {
    for (int i = 0; i < encoder->label_count; i++) {
        if (encoder->labels[i].offset == (int)offset) {
            fprintf(out, "%s\n", encoder->labels[i].name);
        }
    }
}

static void put_operand(FILE *out, const struct encoder *encoder, const struct item *item, enum mode mode) {
    static const char *const before[MODE_RELATIVE + 1] = {
        [MODE_IMMEDIATE] = "#", [MODE_INDIRECT] = "(", [MODE_INDIRECT_X] = "(", [MODE_INDIRECT_Y] = "("};
    static const char *const after[MODE_RELATIVE + 1] = {
        [MODE_ZERO_X] = ",x",  [MODE_ZERO_Y] = ",y",      [MODE_ABSOLUTE_X] = ",x", [MODE_ABSOLUTE_Y] = ",y",
        [MODE_INDIRECT] = ")", [MODE_INDIRECT_X] = ",x)", [MODE_INDIRECT_Y] = "),y"};
    const uint8_t *bytes = encoder->bytes + item->offset;
    fprintf(out, "%s", before[mode] == NULL ? "" : before[mode]);
    if (item->label >= 0) {
        fprintf(out, "%s", encoder->labels[item->label].name);
        if (item->plus != 0) {
            fprintf(out, "%+d", item->plus);
        }
    } else if (item->size == 3) {
        fprintf(out, "$%02x%02x", bytes[2], bytes[1]);
    } else {
        fprintf(out, "$%02x", bytes[1]);
    }
    fprintf(out, "%s", after[mode] == NULL ? "" : after[mode]);
}

static void put_code(FILE *out, const struct encoder *encoder, const struct item *item) {
    struct opcode facts = opcode_facts(encoder->bytes[item->offset]);
    fprintf(out, "        %c%c%c", facts.mnemonic[0] | 0x20, facts.mnemonic[1] | 0x20,
            facts.mnemonic[2] | 0x20);
    if (item->size > 1) {
        fputc(' ', out);
        put_operand(out, encoder, item, facts.mode);
    }
    fprintf(out, "    ; %d%s%s%s\n", facts.cycles, facts.cross_adds || facts.mode == MODE_RELATIVE ? "+" : "",
            item->note == NULL ? "" : " ", item->note == NULL ? "" : item->note);
}

static void put_data(FILE *out, const struct encoder *encoder, const struct item *item) {
    if (item->note != NULL) {
        fprintf(out, "        ; %s\n", item->note);
    }
    if (item->half != 0) {
        fprintf(out, "        .byte %c%s\n", item->half, encoder->labels[item->label].name);
        return;
    }
    if (item->label >= 0) {
        fprintf(out, "        .word %s\n", encoder->labels[item->label].name);
        return;
    }
    for (int i = 0; i < item->size; i++) {
        fprintf(out, "%s$%02x", i % 16 == 0 ? "        .byte " : ",", encoder->bytes[item->offset + i]);
        if (i % 16 == 15 || i == item->size - 1) {
            fputc('\n', out);
        }
    }
}

static void put_before(FILE *out, const uint8_t *before, size_t count) {
    for (size_t i = 0; i < count; i++) {
        fprintf(out, "%s$%02x%s", i % 16 == 0 ? "        .byte " : ",", before[i],
                i % 16 == 15 || i == count - 1 ? "\n" : "");
    }
}

char *listing_banks(const struct encoder *encoder, const uint8_t *before, size_t count) {
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (out == NULL) {
        return NULL;
    }
    fprintf(
        out,
        "; a number behind an instruction is its cycles, + is one more for a page crossed or a branch taken\n"
        "%s        *= $%04x\n",
        count == 0 ? "" : "; the banks from the first on; all have the last one's program\n",
        (unsigned)(encoder->origin - count));
    put_before(out, before, count);
    for (int i = 0; i < encoder->item_count; i++) {
        const struct item *item = &encoder->items[i];
        put_labels(out, encoder, item->offset);
        if (item->kind == ITEM_CODE) {
            put_code(out, encoder, item);
        } else {
            put_data(out, encoder, item);
        }
    }
    if (fclose(out) != 0) {
        free(text);
        return NULL;
    }
    return text;
}

char *listing_text(const struct encoder *encoder) {
    return listing_banks(encoder, NULL, 0);
}
