#include "verdict/slot_lines.h"

#include "slotjig/mailbox.h"

enum {
    ADDRESS = 0x1FFF,
    FORETOLD = 5,        /* addresses after the vector: the jump's three bytes, the program's first two */
    MANY_CYCLES = 10000, /* so many accesses move every line of a program that runs as it should */
    GUESSES_MAX = 2 * (SLOT_ADDRESS_LINES + SLOT_DATA_LINES)
};

enum told { CONTRADICTED, NOT_TOLD, BORNE_OUT };

struct guess {
    struct slot_line line;
    enum told told;
};

static uint16_t on_address(const struct slot_line *line, unsigned address) {
    const unsigned mask = 1u << line->number;
    return (uint16_t)((line->high ? address | mask : address & ~mask) & ADDRESS);
}

/* Both bytes of a word come over the same data lines. */
static uint16_t on_data(const struct slot_line *line, unsigned word) {
    const unsigned mask = 0x0101u << line->number;
    return (uint16_t)((line->high ? word | mask : word & ~mask) & ADDRESS);
}

/* Where a good console goes; returns how many addresses are known. */
static int good_way(const struct slot_image *image, uint16_t way[FORETOLD]) {
    way[0] = image->vector & ADDRESS;
    if (!image->mailbox) {
        return 1;
    }
    way[1] = (uint16_t)(way[0] + 1);
    way[2] = (uint16_t)(way[0] + 2);
    way[3] = image->start & ADDRESS;
    way[4] = (uint16_t)(way[3] + 1);
    return FORETOLD;
}

/* The jump's own bytes are changed too; whatever it has become then, its operand is seen on the bus
 * (slotjig/mailbox.h). */
static uint16_t foretell(const struct slot_line *line, const struct slot_image *image, const uint16_t *way,
                         int i) {
    if (line->address) {
        return on_address(line, way[i]);
    }
    return i == 0 ? on_data(line, image->vector) : i == 3 ? on_data(line, image->start) : way[i];
}

static enum told compare(const struct slot_line *line, const struct slot_seen *seen,
                         const struct slot_image *image) {
    uint16_t way[FORETOLD];
    const int known = good_way(image, way);
    for (int i = 0; i < known && i < seen->traced; i++) {
        const uint16_t foretold = foretell(line, image, way, i);
        if (seen->trace[i] != foretold) {
            return CONTRADICTED;
        }
        if (foretold != way[i]) {
            return BORNE_OUT;
        }
    }
    return NOT_TOLD;
}

static bool hides_vector(const struct slot_line *line) {
    return on_address(line, RESET_VECTOR) != RESET_VECTOR ||
           on_address(line, RESET_VECTOR + 1) != RESET_VECTOR + 1;
}

static bool is_unmoved(const struct slot_line *line, const struct slot_seen *seen) {
    const uint16_t other_level = line->high ? seen->low : seen->high;
    return seen->cycles > 0 && (other_level >> line->number & 1) == 0;
}

/* Does a guess about an address line stand? A start that was seen clears the lines that would have hidden it,
 * and one that was not seen needs such a line. */
static bool address_stands(struct guess *guess, const struct slot_seen *seen) {
    guess->line.unmoved = is_unmoved(&guess->line, seen);
    const bool may_not_move = guess->line.unmoved || seen->cycles == 0;
    if (guess->told == CONTRADICTED || !may_not_move || hides_vector(&guess->line) != (seen->traced == 0)) {
        return false;
    }
    return guess->told == BORNE_OUT ||
           (guess->line.unmoved && (seen->traced == 0 || seen->cycles >= MANY_CYCLES));
}

static bool stands(struct guess *guess, const struct slot_seen *seen, const struct slot_image *image) {
    guess->told = compare(&guess->line, seen, image);
    return guess->line.address ? address_stands(guess, seen) : guess->told == BORNE_OUT;
}

static size_t guess_lines(const struct slot_seen *seen, const struct slot_image *image,
                          struct guess guesses[GUESSES_MAX]) {
    size_t count = 0;
    for (int address = 1; address >= 0; address--) {
        for (int i = 0; i < 2 * (address ? SLOT_ADDRESS_LINES : SLOT_DATA_LINES); i++) {
            struct guess guess = {.line = {.address = address != 0, .number = i / 2, .high = i % 2 == 1}};
            if (stands(&guess, seen, image)) {
                guesses[count++] = guess;
            }
        }
    }
    return count;
}

size_t slot_lines(const struct slot_seen *seen, const struct slot_image *image, struct slot_line *lines,
                  size_t max) {
    struct guess guesses[GUESSES_MAX];
    const size_t count = guess_lines(seen, image, guesses);
    if (count > max) {
        return 0;
    }
    for (size_t i = 0; i < count; i++) {
        lines[i] = guesses[i].line;
    }
    return count;
}
