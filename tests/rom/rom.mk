## idle: write firmware/core/idle.c, the picture of a board with nothing loaded, anew
.PHONY: idle
idle: $(BUILD)/tests/rom/test_idle
	@SLOTJIG_WRITE_IDLE=$(CURDIR)/firmware/core/idle.c $(BUILD)/tests/rom/test_idle
