/* The slate of a field that the console model drew, read in the middle of each bit. */
#ifndef TESTS_ROM_FIELD_SLATE_H
#define TESTS_ROM_FIELD_SLATE_H

#include "base/standard.h"
#include "slate/slate.h"
#include "virtual/tia.h"

static inline bool field_slate(const struct tia_field *field, enum standard standard, struct slate *slate) {
    const struct standard_facts *facts = &standard_table[standard];
    const int top = facts->sync_lines + facts->blank_lines + SLATE_BAND_LINES;
    uint8_t rows[SLATE_ROWS] = {0};
    for (int row = 0; row < SLATE_ROWS; row++) {
        const uint8_t *pixel = field->pixel[top + row * SLATE_ROW_LINES + 1];
        for (int bit = 0; bit < SLATE_ROW_BITS; bit++) {
            const int middle = SLATE_FIRST_CLOCK + SLATE_BIT_CLOCKS * bit + SLATE_BIT_CLOCKS / 2;
            rows[row] = (uint8_t)(rows[row] << 1 | (pixel[middle] == SLATE_WHITE));
        }
    }
    return slate_decode(rows, slate);
}

#endif
