# The emulated usbfs needs libumockdev; without it the tests of tests/usb/ say so and are skipped.
usb_umockdev := $(shell pkg-config --exists umockdev-1.0 2>/dev/null && echo yes)
ifeq ($(usb_umockdev),yes)
# GLib's headers are not ours to warn about.
$(BUILD)/obj/tests/usb/usbfs.o: CPPFLAGS += $(patsubst -I%,-isystem %,$(shell pkg-config --cflags umockdev-1.0))
$(BUILD)/tests/link/test_transports $(filter $(BUILD)/tests/usb/test_%,$(test_programs)): LDFLAGS += -Wl,--no-as-needed $(shell pkg-config --libs umockdev-1.0)
endif
