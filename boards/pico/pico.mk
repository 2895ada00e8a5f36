# The boards' drawings, and the Pico board's data bus in ngspice.

## drawing: boards/*/wiring.svg from their net lists
.PHONY: drawing spice
drawing: | $(BUILD)/flags
	for board in pico reader; do \
	    awk -f boards/draw.awk -f boards/$$board/layout.awk boards/$$board/netlist.txt >$(BUILD)/wiring.svg && \
	    mv $(BUILD)/wiring.svg boards/$$board/wiring.svg || exit 1; done

## spice: the Pico board's data bus in ngspice, with its limits
spice:
	@SOURCE_DIR='$(CURDIR)' tests/boards/test_spice.sh
