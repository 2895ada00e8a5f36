# The firmware for the chip, by the cross compiler; `make firmware`. Included by the Makefile.

.PHONY: firmware
## firmware: the board's firmware, $(BUILD)/firmware/slotjig-pico.elf and .uf2
firmware: $(BUILD)/firmware/slotjig-pico.uf2

firmware_cc = arm-none-eabi-gcc
firmware_limit = 65536
firmware_c := $(wildcard firmware/core/*.c firmware/rp2040/*.c)
firmware_objects := $(firmware_c:firmware/%.c=$(BUILD)/firmware/%.o) $(BUILD)/firmware/rp2040/boot2.o
firmware_machine = -mcpu=cortex-m0plus -mthumb
firmware_cflags = $(firmware_machine) -std=gnu17 -O2 -g -ffreestanding -ffunction-sections -fdata-sections $(WARNINGS)
firmware_cppflags = -Iinclude -Ifirmware -Iboards

$(BUILD)/firmware/%.o: firmware/%.c firmware/firmware.mk
	@mkdir -p $(@D) && echo "  ARM   $<" && $(firmware_cc) $(firmware_cppflags) $(firmware_cflags) -MMD -MP -c -o $@ $<

# A loop that copies must not become a call of the function it is in.
$(BUILD)/firmware/rp2040/memory.o: firmware_cflags += -fno-tree-loop-distribute-patterns

$(BUILD)/firmware/rp2040/boot2.o: firmware/rp2040/boot2.S firmware/firmware.mk
	@mkdir -p $(@D) && echo "  ARM   $<" && $(firmware_cc) $(firmware_machine) -c -o $@ $<

$(BUILD)/firmware/linked.elf: $(firmware_objects) firmware/rp2040/firmware.ld boards/pico/memory.ld
	@echo "  LINK  $@" && $(firmware_cc) $(firmware_machine) -nostdlib -Wl,--gc-sections -Wl,--fatal-warnings \
	    -Wl,-Map=$(BUILD)/firmware/slotjig-pico.map -Lboards/pico -T firmware/rp2040/firmware.ld \
	    -o $@ $(firmware_objects) -lgcc

$(BUILD)/firmware/pack: firmware/tools/pack.c $(BUILD)/flags
	$(compile) -o $@ $<

# Prints the size, and fails when it is past the limit.
$(BUILD)/firmware/slotjig-pico.uf2: $(BUILD)/firmware/linked.elf $(BUILD)/firmware/pack
	@$(BUILD)/firmware/pack $< $(@:.uf2=.elf) $@ $(firmware_limit)
$(BUILD)/firmware/slotjig-pico.elf: $(BUILD)/firmware/slotjig-pico.uf2 ;

-include $(firmware_objects:.o=.d)
