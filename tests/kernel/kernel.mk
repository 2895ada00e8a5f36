kernel_tests = $(addprefix $(abspath $(BUILD))/tests/,usb/test_usb usb/test_usb_boards link/test_transports)

.PHONY: check-kernel
## check-kernel: the USB tests once more, under Debian's kernel in QEMU (not part of check)
check-kernel: $(BUILD)/slotjig $(patsubst $(abspath $(BUILD))/%,$(BUILD)/%,$(kernel_tests))
	@tests/kernel/run.sh $(BUILD)/kernel $(kernel_tests) || { status=$$?; [ $$status = 77 ]; }
