# The cartridge under test for wasm32: what the reader's emulated chip has in its socket.

wasm_ld = $(firstword $(foreach name,wasm-ld wasm-ld-14,$(shell command -v $(name) 2>/dev/null)))
cartmodel_c := host/base/scheme.c host/virtual/cart_model.c host/virtual/cart_lines.c host/virtual/cart_ram.c \
    tests/mcu/cartmodel/cart_wasm.c
cartmodel_objects := $(cartmodel_c:%.c=$(BUILD)/mcu/cartridge/%.o)

check-build: $(if $(wasm_ld),$(BUILD)/mcu/cartridge.wasm)

$(BUILD)/mcu/cartridge/%.o: %.c tests/mcu/cartmodel.mk
	@mkdir -p $(@D) && echo "  WASM  $<" && clang --target=wasm32 -std=gnu17 -ffreestanding -nostdlib -mbulk-memory -O2 $(WARNINGS) \
	    -Ihost -Iinclude -MMD -MP -c -o $@ $<

$(BUILD)/mcu/cartridge.wasm: $(cartmodel_objects)
	@echo "  LINK  $@" && $(wasm_ld) --no-entry --export-all -o $@ $^

-include $(cartmodel_objects:.o=.d)
