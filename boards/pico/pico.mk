# The drawing of the Pico board, and its data bus in ngspice.

## drawing: boards/pico/wiring.svg from its net list
.PHONY: drawing spice
drawing: | $(BUILD)/flags
	awk -f boards/pico/draw.awk boards/pico/netlist.txt >$(BUILD)/wiring.svg && mv $(BUILD)/wiring.svg boards/pico/wiring.svg

## spice: the Pico board's data bus in ngspice, with its limits
spice:
	@SOURCE_DIR='$(CURDIR)' tests/boards/test_spice.sh
