# The slot's service alone, for tests/mcu/test_slot*.sh.

check-build: $(BUILD)/firmware/slotonly.elf

slotonly_c := firmware/rp2040/slot.c firmware/rp2040/slot_dma.c firmware/rp2040/slot_events.c \
    firmware/rp2040/slot_programs.c firmware/core/cart.c
slotonly_objects := $(slotonly_c:firmware/%.c=$(BUILD)/firmware/%.o) $(BUILD)/firmware/slotonly.o \
    $(BUILD)/firmware/rp2040/memory.o

$(BUILD)/firmware/slotonly.o: tests/mcu/slotonly/main.c firmware/firmware.mk
	@mkdir -p $(@D) && echo "  ARM   $<" && $(firmware_cc) $(firmware_cppflags) $(firmware_cflags) -MMD -MP -c -o $@ $<

$(BUILD)/firmware/slotonly.elf: $(slotonly_objects) tests/mcu/slotonly/slotonly.ld
	@echo "  LINK  $@" && $(firmware_cc) $(firmware_machine) -nostdlib -Wl,--gc-sections -Wl,--fatal-warnings \
	    -Wl,-u,order -T tests/mcu/slotonly/slotonly.ld -o $@ $(slotonly_objects) -lgcc

-include $(BUILD)/firmware/slotonly.d

# The console for wasm32, and what makes video of its fields: for tests/mcu/test_slot_end*.sh.
wasm_ld = $(firstword $(foreach name,wasm-ld wasm-ld-14,$(shell command -v $(name) 2>/dev/null)))
console_c := host/virtual/cpu6507.c host/virtual/riot6532.c host/virtual/tia.c host/virtual/console.c \
    tests/mcu/slotend/console_wasm.c
console_objects := $(console_c:%.c=$(BUILD)/mcu/console/%.o)

check-build: $(BUILD)/mcu/grab $(if $(wasm_ld),$(BUILD)/mcu/console.wasm)

$(BUILD)/mcu/console/%.o: %.c tests/mcu/slot.mk
	@mkdir -p $(@D) && echo "  WASM  $<" && clang --target=wasm32 -std=gnu17 -ffreestanding -nostdlib -mbulk-memory -O2 $(WARNINGS) \
	    -Ihost -Iinclude -MMD -MP -c -o $@ $<

$(BUILD)/mcu/console.wasm: $(console_objects)
	@echo "  LINK  $@" && $(wasm_ld) --no-entry --export-all -o $@ $^

$(BUILD)/obj/mcu/grab.o: tests/mcu/slotend/grab.c $(BUILD)/flags
	$(compile) -c -o $@ $<

$(BUILD)/mcu/grab: $(BUILD)/obj/mcu/grab.o $(BUILD)/libslotjig.a
	$(link) $^ $(package_libs) -lm -ldl

## check-mcu-full: the whole plan bits on the emulated board, and all schemes and maps of the emulated reader; takes minutes
check-mcu-full: all firmware $(BUILD)/mcu/ready $(BUILD)/mcu/grab $(BUILD)/mcu/console.wasm $(BUILD)/mcu/cartridge.wasm
	@for name in slot_end reader reader_board; do \
	    BUILD_DIR='$(abspath $(BUILD))' SOURCE_DIR='$(CURDIR)' SLOTJIG_MCU_FULL=1 tests/mcu/test_$$name.sh || exit 1; done
.PHONY: check-mcu-full

-include $(console_objects:.o=.d) $(BUILD)/obj/mcu/grab.d
