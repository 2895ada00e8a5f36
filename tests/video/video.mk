# As tests/usb/usb.mk: the emulated V4L2 needs libumockdev; without it the tests of tests/video/ are skipped.
ifeq ($(usb_umockdev),yes)
$(BUILD)/obj/tests/video/v4l2.o: CPPFLAGS += $(patsubst -I%,-isystem %,$(shell pkg-config --cflags umockdev-1.0))
$(filter $(BUILD)/tests/video/test_%,$(test_programs)): LDFLAGS += -Wl,--no-as-needed $(shell pkg-config --libs umockdev-1.0)
endif
