# The reader's bus alone, for tests/mcu/test_reader_bus.sh.

check-build: $(BUILD)/firmware/busonly.elf

busonly_objects := $(BUILD)/firmware/rp2040/reader_bus.o $(BUILD)/firmware/rp2040/reader_programs.o \
    $(BUILD)/firmware/rp2040/memory.o $(BUILD)/firmware/busonly.o

$(BUILD)/firmware/busonly.o: tests/mcu/busonly/main.c firmware/firmware.mk
	@mkdir -p $(@D) && echo "  ARM   $<" && $(firmware_cc) $(firmware_cppflags) $(firmware_cflags) -MMD -MP -c -o $@ $<

$(BUILD)/firmware/busonly.elf: $(busonly_objects) tests/mcu/busonly/busonly.ld
	@echo "  LINK  $@" && $(firmware_cc) $(firmware_machine) -nostdlib -Wl,--gc-sections -Wl,--fatal-warnings \
	    -Wl,-u,order -T tests/mcu/busonly/busonly.ld -o $@ $(busonly_objects) -lgcc

-include $(BUILD)/firmware/busonly.d
