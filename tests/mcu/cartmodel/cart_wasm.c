/*
 * The cartridge under test for wasm32, for the emulated chip's bus. Faults first, then init(), power(); then
 * drive() and data() in nanoseconds that never go back. The image's bytes go to image().
 */
#include "virtual/cart_model.h"

static uint8_t bytes[32768];
static struct cart_faults faults;
static struct cart_model model;

uint8_t *image(void);
void fault_none(void);
void fault_address(int open, int low, int high), fault_data(int open, int low, int high);
void fault_address_short(int one, int other), fault_data_short(int one, int other);
void fault_times(int access_ns, int release_ns, int late_us), fault_slow(int page, int ns);
void fault_byte(int offset, int exclusive_or), fault_selects(int hotspot, int bank),
    fault_also(int at, int bank);
void fault_ram(int kind, int cell, int bit, int value, int by_cell, int by, int when), fault_no_ram(void);
void fault_hold(int low, int high), fault_loose(int address, int data, double rate), fault_first(int bank);
void init(int scheme, int ram, int seed), page_ns(int page, int ns), power(double now_ns, int on);
void drive(double now_ns, int address, int driven, int levels);
int data(double now_ns, int floating), bank(void), cell(int at);

uint8_t *image(void) {
    return bytes;
}

void fault_none(void) {
    cart_faults_none(WIRE_4K, &faults);
}

void fault_address(int open, int low, int high) {
    faults.address_open = (uint16_t)open;
    faults.address_low = (uint16_t)low;
    faults.address_high = (uint16_t)high;
}

void fault_data(int open, int low, int high) {
    faults.data_open = (uint8_t)open;
    faults.data_low = (uint8_t)low;
    faults.data_high = (uint8_t)high;
}

void fault_address_short(int one, int other) {
    uint8_t *const pair = faults.address_short[faults.address_shorts++];
    pair[0] = (uint8_t)one;
    pair[1] = (uint8_t)other;
}

void fault_data_short(int one, int other) {
    uint8_t *const pair = faults.data_short[faults.data_shorts++];
    pair[0] = (uint8_t)one;
    pair[1] = (uint8_t)other;
}

void fault_times(int access_ns, int release_ns, int late_us) {
    faults.access_ns = (uint16_t)access_ns;
    faults.release_ns = (uint16_t)release_ns;
    faults.late_us = (uint32_t)late_us;
}

void fault_slow(int page, int ns) {
    faults.slow[faults.slow_pages++] = (struct cart_slow){(uint8_t)page, (uint16_t)ns};
}

void fault_byte(int offset, int exclusive_or) {
    faults.byte[faults.bytes++] = (struct cart_byte){(uint16_t)offset, (uint8_t)exclusive_or};
}

void fault_selects(int hotspot, int to) {
    faults.selects[hotspot] = (int8_t)to;
}

void fault_also(int at, int to) {
    faults.also_at = (uint16_t)at;
    faults.also_selects = (int8_t)to;
}

void fault_ram(int kind, int at, int bit, int value, int by_cell, int by, int when) {
    faults.ram[faults.ram_faults++] =
        (struct cart_ram_fault){(uint8_t)kind,    (uint8_t)at, (uint8_t)bit, (uint8_t)value,
                                (uint8_t)by_cell, (uint8_t)by, (uint8_t)when};
}

void fault_no_ram(void) {
    faults.no_ram = true;
}

void fault_hold(int low, int high) {
    faults.held_low = (uint8_t)low;
    faults.held_high = (uint8_t)high;
}

/* rate: a share of the accesses. */
void fault_loose(int address, int lines, double rate) {
    faults.loose_address = (uint16_t)address;
    faults.loose_data = (uint8_t)lines;
    faults.loose_rate = (uint32_t)(rate * 4294967295.0);
}

void fault_first(int which) {
    faults.first_bank = (uint8_t)which;
}

void init(int scheme, int ram, int seed) {
    cart_model_init(&model, scheme, ram != 0, bytes, &faults, (uint64_t)(unsigned)seed);
}

/* After init(): the access time of any page. */
void page_ns(int page, int ns) {
    model.access_ns[page] = (uint16_t)ns;
}

void power(double now_ns, int on) {
    cart_model_power(&model, (uint64_t)now_ns, on != 0);
}

void drive(double now_ns, int address, int driven, int levels) {
    cart_model_drive(&model, (uint64_t)now_ns, (uint16_t)address, (uint8_t)driven, (uint8_t)levels);
}

int data(double now_ns, int floating) {
    return cart_model_data(&model, (uint64_t)now_ns, (uint8_t)floating);
}

int bank(void) {
    return model.bank;
}

int cell(int at) {
    return model.cells[at];
}
