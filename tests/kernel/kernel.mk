kernel_tests = $(addprefix $(abspath $(BUILD))/tests/,usb/test_usb usb/test_usb_boards link/test_transports \
    video/test_video_ffmpeg video/test_video_live video/test_video_run video/test_video_vivid)

.PHONY: check-kernel
## check-kernel: the tests of USB and video devices once more, under Debian's kernel in QEMU (not part of check)
check-kernel: all $(module_links) $(patsubst $(abspath $(BUILD))/%,$(BUILD)/%,$(kernel_tests))
	@tests/kernel/run.sh $(BUILD)/kernel $(kernel_tests) || { status=$$?; [ $$status = 77 ]; }
