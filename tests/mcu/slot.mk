# The slot's service alone, for tests/mcu/test_slot*.sh.

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
