# The firmware for the chip, by the cross compiler; `make firmware`. Included by the Makefile.

.PHONY: firmware
## firmware: the boards' firmware, $(BUILD)/firmware/slotjig-pico.elf and .uf2, slotjig-reader.elf and .uf2
firmware: $(BUILD)/firmware/slotjig-pico.uf2 $(BUILD)/firmware/slotjig-reader.uf2

firmware_cc = arm-none-eabi-gcc
firmware_limit = 65536
firmware_c := $(wildcard firmware/core/*.c firmware/rp2040/*.c)
reader_only := $(wildcard firmware/rp2040/reader_*.c)
pico_only := $(addprefix firmware/rp2040/,main.c uart.c) $(wildcard firmware/rp2040/slot*.c)
objects_of = $(patsubst firmware/%.c,$(BUILD)/firmware/%.o,$(1)) $(BUILD)/firmware/rp2040/boot2.o
pico_objects := $(call objects_of,$(filter-out $(reader_only),$(firmware_c)))
reader_objects := $(call objects_of,$(filter-out $(pico_only),$(firmware_c)))
firmware_objects := $(sort $(pico_objects) $(reader_objects))
firmware_machine = -mcpu=cortex-m0plus -mthumb
firmware_cflags = $(firmware_machine) -std=gnu17 -O2 -g -ffreestanding -ffunction-sections -fdata-sections $(WARNINGS)
firmware_cppflags = -Iinclude -Ifirmware -Iboards

$(BUILD)/firmware/%.o: firmware/%.c firmware/firmware.mk
	@mkdir -p $(@D) && echo "  ARM   $<" && $(firmware_cc) $(firmware_cppflags) $(firmware_cflags) -MMD -MP -c -o $@ $<

# A loop that copies must not become a call of the function it is in.
$(BUILD)/firmware/rp2040/memory.o: firmware_cflags += -fno-tree-loop-distribute-patterns

$(BUILD)/firmware/rp2040/boot2.o: firmware/rp2040/boot2.S firmware/firmware.mk
	@mkdir -p $(@D) && echo "  ARM   $<" && $(firmware_cc) $(firmware_machine) -c -o $@ $<

$(BUILD)/firmware/pico.elf: $(pico_objects)
$(BUILD)/firmware/reader.elf: $(reader_objects)
$(BUILD)/firmware/pico.elf $(BUILD)/firmware/reader.elf: firmware/rp2040/firmware.ld boards/pico/memory.ld
	@echo "  LINK  $@" && $(firmware_cc) $(firmware_machine) -nostdlib -Wl,--gc-sections -Wl,--fatal-warnings \
	    -Wl,-Map=$(@:.elf=.map) -Lboards/pico -T firmware/rp2040/firmware.ld -o $@ $(filter %.o,$^) -lgcc

$(BUILD)/firmware/pack: firmware/tools/pack.c $(BUILD)/flags
	$(compile) -o $@ $<

# Prints the size, and fails when it is past the limit.
$(BUILD)/firmware/slotjig-%.uf2: $(BUILD)/firmware/%.elf $(BUILD)/firmware/pack
	@$(BUILD)/firmware/pack $< $(@:.uf2=.elf) $@ $(firmware_limit)
$(BUILD)/firmware/slotjig-pico.elf: $(BUILD)/firmware/slotjig-pico.uf2 ;
$(BUILD)/firmware/slotjig-reader.elf: $(BUILD)/firmware/slotjig-reader.uf2 ;

-include $(firmware_objects:.o=.d)
