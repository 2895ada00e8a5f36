/*
 * RAM: which single fault would have given just these wrong reads of March C-? Every fault of van de Goor's
 * classes that has anything to do with the cells in the log is marched over, and those whose log is the same
 * are told: the plainest class first, others that give the same as alternatives. The march finds a fault; it
 * does not always locate the cell that couples.
 */
#include "verdict/findings.h"
#include "verdict/march.h"
#include "verdict/reader_parts.h"

#include <stdio.h>
#include <string.h>

enum {
    GROUPS_MAX = 6,
    /* Of a cell that always reads the same at most 5 of the 40 reads are right: those of its own value as
     * background (3) and as complement (2) [A]. */
    MISSING_LEAST = SCHEME_RAM * (5 * CHECK_BACKGROUNDS - 5)
};

/* Wrong reads that one fault should give. */
struct wrong_reads {
    struct march_error list[WIRE_RAM_LOG];
    size_t count;
    bool cut; /* there were more than were logged */
    uint8_t cells[2];
    size_t cell_count; /* 3: more than two */
};

/* What gives just these, by class. */
struct classes {
    struct march_fault first[MARCH_KINDS];
    size_t count[MARCH_KINDS]; /* different aggressors */
};

static void add_cell(struct wrong_reads *reads, uint8_t cell) {
    for (size_t i = 0; i < reads->cell_count && i < 2; i++) {
        if (reads->cells[i] == cell) {
            return;
        }
    }
    if (reads->cell_count < 2) {
        reads->cells[reads->cell_count] = cell;
    }
    reads->cell_count += reads->cell_count < 3;
}

/* cell: -1: all. */
static void collect(const struct reader_seen *seen, int cell, struct wrong_reads *reads) {
    *reads = (struct wrong_reads){.cut = seen->ram_wrong > seen->ram_logged};
    for (size_t i = 0; i < seen->ram_logged && i < WIRE_RAM_LOG; i++) {
        const struct reader_ram_error *error = &seen->ram_error[i];
        if (cell < 0 || error->cell == cell) {
            reads->list[reads->count++] = (struct march_error){error->background, error->element, error->cell,
                                                               error->read, error->right};
            add_cell(reads, error->cell);
        }
    }
}

/* ---- one fault ---- */

/* Whatever the RAM held before. */
static void try(struct march_fault fault, const struct wrong_reads *reads, struct classes *classes) {
    for (int begins = 0; begins < MARCH_BEGINS; begins++) {
        fault.begins = (uint8_t)begins;
        if (march_gives(&fault, reads->list, reads->count, reads->cut)) {
            if (classes->count[fault.kind]++ == 0) {
                classes->first[fault.kind] = fault;
            }
            return;
        }
    }
}

static uint8_t flipped(const struct wrong_reads *reads) {
    uint8_t bits = 0;
    for (size_t i = 0; i < reads->count; i++) {
        bits |= reads->list[i].read ^ reads->list[i].right;
    }
    return bits;
}

static void try_aggressor(struct march_fault fault, const struct wrong_reads *reads,
                          struct classes *classes) {
    for (uint8_t i = 0; i < 4; i++) {
        fault.value = i & 1;
        fault.when = i >> 1;
        for (enum march_kind kind = MARCH_INVERSION; kind <= MARCH_STATE_HELD; kind++) {
            fault.kind = kind;
            if (kind != MARCH_INVERSION || fault.value == 0) {
                try(fault, reads, classes);
            }
        }
    }
}

static void try_cell(uint8_t cell, const struct wrong_reads *reads, struct classes *classes) {
    const uint8_t bits = flipped(reads);
    struct march_fault fault = {.kind = MARCH_NO_CELL, .cell = cell};
    try(fault, reads, classes);
    if (bits == 0 || (bits & (bits - 1)) != 0) {
        return; /* the others are of one bit */
    }
    while (!(bits >> fault.bit & 1)) {
        fault.bit++;
    }
    for (uint8_t value = 0; value < 2; value++) {
        fault.value = value;
        fault.kind = MARCH_STUCK;
        try(fault, reads, classes);
        fault.kind = MARCH_TRANSITION;
        try(fault, reads, classes);
    }
    for (int by = 0; by < SCHEME_RAM * DATA_LINES; by++) {
        fault.by_cell = (uint8_t)(by / DATA_LINES);
        fault.by = (uint8_t)(by % DATA_LINES);
        if (fault.by_cell != cell || fault.by != fault.bit) {
            try_aggressor(fault, reads, classes);
        }
    }
}

/* Errors show at the one cell, at the other, or at both. */
static void try_decoder(const struct wrong_reads *reads, struct classes *classes) {
    for (int i = 0; i < 2 * SCHEME_RAM; i++) {
        const uint8_t other = reads->cell_count == 2 ? reads->cells[1] : (uint8_t)(i / 2);
        struct march_fault fault = {.cell = i & 1 ? reads->cells[0] : other,
                                    .by_cell = i & 1 ? other : reads->cells[0]};
        for (int kind = MARCH_OTHER_CELL; kind <= MARCH_BOTH_CELLS && fault.cell != fault.by_cell; kind++) {
            fault.kind = (enum march_kind)kind;
            try(fault, reads, classes);
        }
        if (reads->cell_count == 2 && i == 1) {
            return;
        }
    }
}

static bool find_classes(const struct wrong_reads *reads, struct classes *classes) {
    *classes = (struct classes){.count = {0}};
    if (reads->cell_count == 1) {
        try_cell(reads->cells[0], reads, classes);
    }
    if (reads->cell_count <= 2) {
        try_decoder(reads, classes);
    }
    for (int kind = 0; kind < MARCH_KINDS; kind++) {
        if (classes->count[kind] > 0) {
            return true;
        }
    }
    return false;
}

/* ---- telling ---- */

static enum finding_kind kind_of(int kind) {
    return kind == MARCH_STUCK        ? FINDING_CART_RAM_STUCK
           : kind == MARCH_TRANSITION ? FINDING_CART_RAM_TRANSITION
           : kind >= MARCH_NO_CELL    ? FINDING_CART_RAM_DECODER
                                      : FINDING_CART_RAM_COUPLED;
}

static void say_coupled(struct finding *finding, const struct march_fault *fault, size_t aggressors) {
    static const char *const does[] = {
        [MARCH_INVERSION] = "is inverted when",
        [MARCH_IDEMPOTENT] = "is forced when",
        [MARCH_STATE_READ] = "is forced while",
        [MARCH_STATE_HELD] = "is forced while",
    };
    finding_say(finding, "D%d of RAM cell $%02X (read at $%04X) %s ", fault->bit, fault->cell,
                SCHEME_RAM_READ + fault->cell, does[fault->kind]);
    if (aggressors == 1) {
        finding_say(finding, "D%d of cell $%02X %s %d", fault->by, fault->by_cell,
                    fault->kind <= MARCH_IDEMPOTENT ? "goes to" : "is", fault->when);
    } else {
        finding_say(finding, "another cell's bit %s: D%d of cell $%02X, or another one (%zu fit)",
                    fault->kind <= MARCH_IDEMPOTENT ? "is written" : "stands so", fault->by, fault->by_cell,
                    aggressors);
    }
    finding_say(finding, " (%s coupling).",
                fault->kind == MARCH_INVERSION    ? "inversion"
                : fault->kind == MARCH_IDEMPOTENT ? "idempotent"
                                                  : "state");
}

static void say_fault(struct finding *finding, const struct march_fault *fault, size_t count) {
    const unsigned cell = fault->cell, by = fault->by_cell;
    switch (fault->kind) {
    case MARCH_STUCK:
        finding_say(finding, "D%d of RAM cell $%02X (read at $%04X) is always %d.", fault->bit, cell,
                    SCHEME_RAM_READ + cell, fault->value);
        break;
    case MARCH_TRANSITION:
        finding_say(finding, "D%d of RAM cell $%02X (read at $%04X) cannot go to %d.", fault->bit, cell,
                    SCHEME_RAM_READ + cell, fault->value);
        break;
    case MARCH_NO_CELL:
        finding_say(
            finding,
            "RAM address $%02X (read at $%04X) reaches no cell (all ones are read), or all of its bits are "
            "always 1.",
            cell, SCHEME_RAM_READ + cell);
        break;
    case MARCH_OTHER_CELL:
        finding_say(finding, "RAM address $%02X (read at $%04X) reaches cell $%02X instead of its own%s.",
                    cell, SCHEME_RAM_READ + cell, by, count > 1 ? ", or another one" : "");
        break;
    case MARCH_BOTH_CELLS:
        finding_say(finding, "RAM address $%02X (read at $%04X) reaches its own cell and cell $%02X%s.", cell,
                    SCHEME_RAM_READ + cell, by, count > 1 ? ", or another one" : "");
        break;
    default:
        say_coupled(finding, fault, count);
        break;
    }
}

/* The two readings of state coupling are one class. */
static bool told_as_other(const struct classes *classes, int kind) {
    return kind == MARCH_STATE_HELD && classes->count[MARCH_STATE_READ] > 0;
}

static void tell_classes(struct reader_work *work, const struct classes *classes) {
    int kinds = 0;
    for (int kind = 0; kind < MARCH_KINDS; kind++) {
        kinds += classes->count[kind] > 0 && !told_as_other(classes, kind);
    }
    for (int kind = 0; kind < MARCH_KINDS; kind++) {
        const struct march_fault *fault = &classes->first[kind];
        if (classes->count[kind] == 0 || told_as_other(classes, kind)) {
            continue;
        }
        struct finding *finding = reader_add(work, kind_of(kind), kind < MARCH_NO_CELL ? fault->bit : -1, -1);
        say_fault(finding, fault, classes->count[kind]);
        finding_say(finding, "%s",
                    kinds > 1 ? " Others give the same wrong reads: see the other findings." : "");
        if (finding != NULL) {
            finding->explanation = ++work->explanations;
            finding->alternative = kinds > 1;
        }
    }
}

/* ---- all of it ---- */

/* Whatever is written, each cell reads the same. */
static bool is_missing(const struct reader_seen *seen) {
    uint8_t reads[SCHEME_RAM];
    bool known[SCHEME_RAM] = {false};
    if (seen->ram_wrong < MISSING_LEAST) {
        return false;
    }
    for (size_t i = 0; i < seen->ram_logged; i++) {
        const struct reader_ram_error *error = &seen->ram_error[i];
        if (error->cell >= SCHEME_RAM || (known[error->cell] && reads[error->cell] != error->read)) {
            return false;
        }
        known[error->cell] = true;
        reads[error->cell] = error->read;
    }
    return true;
}

static void tell_faulty(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    struct wrong_reads reads;
    bool bad[SCHEME_RAM] = {false};
    int cells = 0;
    collect(seen, -1, &reads);
    for (size_t i = 0; i < reads.count; i++) {
        const uint8_t cell = reads.list[i].cell % SCHEME_RAM;
        cells += !bad[cell];
        bad[cell] = true;
    }
    struct finding *finding = reader_add(work, FINDING_CART_RAM_FAULTY, -1, -1);
    finding_say(
        finding,
        "%u of %d reads of the RAM were wrong, in %d cell%s%s; the bits that were wrong: $%02X. No single "
        "fault of a cell, of two cells or of the decoder gives just these: several, or a line.",
        seen->ram_wrong, SCHEME_RAM * 5 * CHECK_BACKGROUNDS, cells, cells == 1 ? "" : "s",
        reads.cut ? " at least" : "", flipped(&reads));
    if (finding != NULL) {
        finding->explanation = ++work->explanations;
    }
}

/* Each bad cell by itself. False: too many, or one that nothing explains. */
static bool cell_by_cell(struct reader_work *work) {
    struct classes classes[GROUPS_MAX];
    size_t count = 0;
    for (int cell = 0; cell < SCHEME_RAM; cell++) {
        struct wrong_reads reads;
        collect(work->seen, cell, &reads);
        if (reads.count > 0 && (count == GROUPS_MAX || !find_classes(&reads, &classes[count++]))) {
            return false;
        }
    }
    for (size_t i = 0; i < count; i++) {
        tell_classes(work, &classes[i]);
    }
    return count > 0;
}

void reader_ram(struct reader_work *work) {
    const struct reader_seen *seen = work->seen;
    struct wrong_reads reads;
    struct classes classes;
    if (!seen->has_ram || seen->ram_wrong == 0 || work->ram_told || work->contact_told) {
        return;
    }
    collect(seen, -1, &reads);
    if (is_missing(seen)) {
        finding_say(reader_add(work, FINDING_CART_RAM_MISSING, -1, -1),
                    "There is no RAM: whatever is written, each cell reads the same (%u of %d reads wrong).",
                    seen->ram_wrong, SCHEME_RAM * 5 * CHECK_BACKGROUNDS);
    } else if (find_classes(&reads, &classes)) {
        tell_classes(work, &classes);
    } else if (!cell_by_cell(work)) {
        tell_faulty(work);
    }
}
