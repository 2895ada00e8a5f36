# What the tests in the emulated chip need: the firmware, and the emulator's package outside the sources. Where
# the package cannot be fetched, the reason is kept for the tests to skip with.

check-build: firmware $(BUILD)/mcu/ready

$(BUILD)/mcu/ready: tests/mcu/package.json tests/mcu/package-lock.json
	@mkdir -p $(@D) && cp $^ $(@D) && rm -f $(@D)/why && echo "  NPM   $(@D)" && \
	    { cd $(@D) && timeout 120 npm ci --no-audit --no-fund >npm.log 2>&1 || \
	      { echo "the emulator's package could not be fetched: $$(grep -m 1 -E 'reason:|ENOENT|EACCES' npm.log || tail -n 1 npm.log)" >why; cat why; }; }
	@[ -e $(@D)/why ] || touch $@

# The pseudo-terminal between the program and the emulated UART.
check-build: $(BUILD)/mcu/relay
$(BUILD)/mcu/relay: tests/mcu/pty/relay.c $(BUILD)/flags
	$(compile) -o $@ $<
