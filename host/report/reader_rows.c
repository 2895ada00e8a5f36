/* A reader's bytes and times as CSV (RFC 4180), a row an address. */
#include "report/reader_report.h"

/* Empty where it took too long, and where the byte stood on the lines before. */
static void time_cell(FILE *stream, const struct reader_seen *seen, uint8_t cycles) {
    if (cycles == READER_NEVER || cycles == 0) {
        fputc(',', stream);
    } else {
        fprintf(stream, ",%.1f", reader_ns(seen, cycles));
    }
}

/* With RAM the window's first 256 addresses are not the image's. */
static bool is_read(const struct reader_seen *seen, size_t offset) {
    int bank;
    return !seen->ram || scheme_address(seen->scheme, offset, &bank) >= SCHEME_RAM_READ + SCHEME_RAM;
}

static void row(FILE *stream, const struct reader_seen *seen, const uint8_t *image, size_t offset) {
    int bank;
    const uint16_t address = scheme_address(seen->scheme, offset, &bank);
    fprintf(stream, "%zu,%d,0x%04X", offset, bank, address);
    if (seen->has_bytes) {
        fprintf(stream, ",0x%02X,0x%02X", seen->bytes[offset], seen->unsteady[offset]);
    } else {
        fputs(",,", stream);
    }
    if (image != NULL) {
        fprintf(stream, ",0x%02X", image[offset]);
    } else {
        fputc(',', stream);
    }
    for (int i = 0; i < READER_TIMES; i++) {
        time_cell(stream, seen, seen->has_map ? seen->map[offset][i] : READER_NEVER);
    }
    fputc('\n', stream);
}

void reader_csv(FILE *stream, const struct reader_seen *seen, const uint8_t *image) {
    fprintf(stream, "offset,bank,address,byte,unsteady,image,rising_ns,one_bit_ns,all_bits_ns\n");
    for (size_t offset = 0; offset < scheme_bytes(seen->scheme); offset++) {
        if (is_read(seen, offset)) {
            row(stream, seen, image, offset);
        }
    }
}
