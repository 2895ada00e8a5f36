/*
 * Finishes the firmware: puts the boot's check code into the linked ELF and writes the UF2 file from it.
 *     pack IN.elf OUT.elf OUT.uf2 LIMIT
 * LIMIT: bytes that code and constants may take in flash. Prints what they take.
 *
 * Check code: CRC-32 with polynomial 0x04C11DB7, most significant bit first, register all ones at the start,
 * nothing at the end, over the first 252 bytes (RP2040 data sheet 2.8.1.3.1). UF2: blocks of 512 bytes with
 * up to 476 of data, 256 here as the boot ROM wants them (2.8.4.2 there; format: github.com/microsoft/uf2).
 */
#include <elf.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    FLASH_MOST = 2 * 1024 * 1024,
    BOOT2 = 252,
    UF2_DATA = 256,
    UF2_BLOCK = 512,
    UF2_FAMILY_PRESENT = 0x2000
};
static const uint32_t flash_start = 0x10000000, uf2_first = 0x0A324655, uf2_second = 0x9E5D5157,
                      uf2_last = 0x0AB16F30, family = 0xE48BFF56;

struct bytes {
    uint8_t *at;
    size_t count;
};

static uint8_t flash[FLASH_MOST];

static uint32_t boot_crc(const uint8_t *bytes, size_t count) {
    uint32_t crc = 0xFFFFFFFF;
    for (size_t i = 0; i < count; i++) {
        crc ^= (uint32_t)bytes[i] << 24;
        for (int bit = 0; bit < 8; bit++) {
            crc = crc & 0x80000000 ? crc << 1 ^ 0x04C11DB7 : crc << 1;
        }
    }
    return crc;
}

static void put(uint8_t *at, uint32_t value) {
    for (int i = 0; i < 4; i++) {
        at[i] = (uint8_t)(value >> 8 * i);
    }
}

static bool fail(const char *name, const char *why) {
    fprintf(stderr, "pack: %s: %s\n", name, why);
    return false;
}

static bool read_file(const char *name, struct bytes *file) {
    FILE *in = fopen(name, "rb");
    if (!in) {
        return fail(name, "cannot be opened");
    }
    static uint8_t buffer[8 * FLASH_MOST];
    file->at = buffer;
    file->count = fread(buffer, 1, sizeof buffer, in);
    bool whole = !ferror(in) && file->count < sizeof buffer;
    fclose(in);
    return whole || fail(name, "cannot be read, or is too large");
}

static bool write_file(const char *name, const uint8_t *bytes, size_t count) {
    FILE *out = fopen(name, "wb");
    bool written = out && fwrite(bytes, 1, count, out) == count;
    if (out && fclose(out) != 0) {
        written = false;
    }
    return written || fail(name, "cannot be written");
}

/* The headers of the segments, checked to lie in the file. */
static bool segments(const char *name, const struct bytes *elf, const Elf32_Phdr **headers, size_t *count) {
    const Elf32_Ehdr *header = (const void *)elf->at;
    if (elf->count < sizeof *header || memcmp(header->e_ident, ELFMAG, SELFMAG) != 0 ||
        header->e_ident[EI_CLASS] != ELFCLASS32 || header->e_machine != EM_ARM) {
        return fail(name, "is no ELF file for ARM");
    }
    if (header->e_phoff % 4 != 0 || header->e_phoff > elf->count ||
        header->e_phnum * sizeof(Elf32_Phdr) > elf->count - header->e_phoff) {
        return fail(name, "is cut short");
    }
    *headers = (const void *)(elf->at + header->e_phoff);
    *count = header->e_phnum;
    return true;
}

/* Lays one segment into flash; boot is where its bytes lie in the ELF when it is the first one. */
static bool lay(const char *name, struct bytes *elf, const Elf32_Phdr *segment, size_t *end, uint8_t **boot) {
    if (segment->p_type != PT_LOAD || segment->p_filesz == 0) {
        return true;
    }
    if (segment->p_offset > elf->count || segment->p_filesz > elf->count - segment->p_offset) {
        return fail(name, "is cut short");
    }
    if (segment->p_paddr < flash_start || segment->p_paddr - flash_start > FLASH_MOST ||
        segment->p_filesz > FLASH_MOST - (segment->p_paddr - flash_start)) {
        return fail(name, "has bytes that are not for the flash");
    }
    size_t at = segment->p_paddr - flash_start;
    memcpy(flash + at, elf->at + segment->p_offset, segment->p_filesz);
    if (at == 0 && segment->p_filesz >= BOOT2 + 4) {
        *boot = elf->at + segment->p_offset;
    }
    if (at + segment->p_filesz > *end) {
        *end = at + segment->p_filesz;
    }
    return true;
}

static bool load(const char *name, struct bytes *elf, size_t *end) {
    const Elf32_Phdr *headers;
    size_t count;
    if (!segments(name, elf, &headers, &count)) {
        return false;
    }
    uint8_t *boot = NULL;
    for (size_t i = 0; i < count; i++) {
        if (!lay(name, elf, &headers[i], end, &boot)) {
            return false;
        }
    }
    if (!boot) {
        return fail(name, "has no boot at the start of the flash");
    }
    put(flash + BOOT2, boot_crc(flash, BOOT2));
    memcpy(boot + BOOT2, flash + BOOT2, 4);
    return true;
}

static bool write_uf2(const char *name, size_t end) {
    size_t blocks = (end + UF2_DATA - 1) / UF2_DATA;
    uint8_t *out = calloc(blocks, UF2_BLOCK);
    if (!out) {
        return fail(name, "no memory");
    }
    for (size_t i = 0; i < blocks; i++) {
        const uint32_t words[] = {
            uf2_first, uf2_second,  UF2_FAMILY_PRESENT, flash_start + (uint32_t)i * UF2_DATA,
            UF2_DATA,  (uint32_t)i, (uint32_t)blocks,   family};
        uint8_t *block = out + i * UF2_BLOCK;
        for (size_t word = 0; word < sizeof words / sizeof *words; word++) {
            put(block + 4 * word, words[word]);
        }
        memcpy(block + sizeof words, flash + i * UF2_DATA, UF2_DATA);
        put(block + UF2_BLOCK - 4, uf2_last);
    }
    bool written = write_file(name, out, blocks * UF2_BLOCK);
    free(out);
    return written;
}

int main(int argc, char **argv) {
    if (argc != 5) {
        fprintf(stderr, "usage: pack IN.elf OUT.elf OUT.uf2 LIMIT\n");
        return 2;
    }
    struct bytes elf;
    size_t end = 0, limit = strtoul(argv[4], NULL, 0);
    if (!read_file(argv[1], &elf) || !load(argv[1], &elf, &end)) {
        return 1;
    }
    printf("%s: %zu bytes of code and constants (limit %zu)\n", argv[2], end, limit);
    if (end > limit) {
        fail(argv[1], "code and constants exceed the limit");
        return 1;
    }
    return write_file(argv[2], elf.at, elf.count) && write_uf2(argv[3], end) ? 0 : 1;
}
