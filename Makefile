# slotjig: everything is built outside the sources, in $(BUILD). `make help` lists the targets.

VERSION ?= 0.1.0
BUILD ?= build
PREFIX ?= /usr/local
DESTDIR ?=
# udev also reads rules below /usr/local; another prefix may need UDEVDIR=/etc/udev/rules.d.
UDEVDIR ?= $(PREFIX)/lib/udev/rules.d
ifeq ($(origin CC),default)
CC = gcc
endif
OPTIMISE ?= -O2
# SANITIZE=yes builds with AddressSanitizer and UndefinedBehaviorSanitizer.
SANITIZE ?= no

MAKEFLAGS += --no-builtin-rules --no-print-directory
.SUFFIXES:
.DELETE_ON_ERROR:
SHELL = /bin/sh

comma := ,

sources := $(wildcard host/*/*.c)
# The board's own logic, here for the virtual bench; firmware/firmware.mk builds it for the chip.
core_sources := $(wildcard firmware/core/*.c)
chip_sources := $(wildcard firmware/rp2040/*.c)
module_sources := $(wildcard host/capture/ffmpeg/*.c)
test_sources := $(wildcard tests/*/test_*.c tests/*/*/test_*.c)
test_scripts := $(wildcard tests/*/test_*.sh)
perf_sources := $(wildcard tests/perf/*.c)
# Programs of `make proof` (tests/proof/proof.mk).
proof_sources := $(wildcard tests/proof/*.c)
# The page of `watch`: a module of its own, for the library it needs takes long to load.
page_sources := $(wildcard host/report/http/*.c)
# Sources beside the tests that are no test themselves: linked to those that use them.
support_sources := $(filter-out $(test_sources) $(perf_sources) $(proof_sources) $(wildcard tests/fuzz/*.c),$(wildcard tests/*/*.c))

libraries = jansson libpng zlib inih libusb-1.0 libserialport libturbojpeg sqlite3 libmd libxml-2.0
module_libraries = libavdevice libavformat libavcodec libavutil libswscale
page_libraries = libmicrohttpd
objects := $(sources:%.c=$(BUILD)/obj/%.o) $(core_sources:%.c=$(BUILD)/obj/%.o)
library_objects := $(filter-out %/host/commands/main.o,$(objects))
# The module brings its own copy of base/, so that the program need not export symbols.
module_objects := $(patsubst %.c,$(BUILD)/pic/%.o,$(module_sources) $(filter host/base/%,$(sources)))
support_objects := $(support_sources:%.c=$(BUILD)/obj/%.o)
test_programs := $(test_sources:%.c=$(BUILD)/%)
perf_programs := $(perf_sources:%.c=$(BUILD)/%)
proof_programs := $(proof_sources:%.c=$(BUILD)/%)
page_objects := $(patsubst %.c,$(BUILD)/pic/%.o,$(page_sources) $(filter host/base/%,$(sources)))
modules := $(BUILD)/slotjig-video.so $(BUILD)/slotjig-page.so
module_links := $(modules:$(BUILD)/%=$(BUILD)/tests/%)

# Asked when first needed and once: `make demo` and `make check` may only just have installed pkg-config.
ask = $(if $(shell pkg-config --exists $(2) 2>/dev/null && echo yes),$(shell pkg-config $(1) $(2)),\
    $(error pkg-config cannot find $(2). `make setup` installs what is missing, `make setup SETUP=no` lists it))
package_cflags = $(eval package_cflags := $$(call ask,--cflags,$(libraries)))$(package_cflags)
package_libs = $(eval package_libs := $$(call ask,--libs,$(libraries)))$(package_libs)
module_cflags = $(eval module_cflags := $$(call ask,--cflags,$(module_libraries)))$(module_cflags)
module_libs = $(eval module_libs := $$(call ask,--libs,$(module_libraries)))$(module_libs)
page_cflags = $(eval page_cflags := $$(call ask,--cflags,$(page_libraries)))$(page_cflags)
page_libs = $(eval page_libs := $$(call ask,--libs,$(page_libraries)))$(page_libs)
test_cflags = $(eval test_cflags := $$(call ask,--cflags,cmocka))$(test_cflags)
test_libs = $(eval test_libs := $$(call ask,--libs,cmocka))$(test_libs)

WARNINGS = -Wall -Wextra -Wshadow -Wconversion -Wno-sign-conversion -Werror
CPPFLAGS = -D_GNU_SOURCE -DSLOTJIG_VERSION='"$(VERSION)"' -Ihost -Iinclude -Ifirmware -Iboards
# The sanitizers' own code makes the compiler warn where there is nothing; the plain build has had the warnings as errors.
sanitize-yes = -fsanitize=address,undefined -fno-sanitize-recover=undefined -fno-omit-frame-pointer -Wno-error
CFLAGS = -std=gnu17 $(OPTIMISE) -g $(WARNINGS) $(sanitize-$(SANITIZE))
LDFLAGS = $(sanitize-$(SANITIZE))
test_paths = -DSOURCE_DIR='"$(CURDIR)"' -DBUILD_DIR='"$(abspath $(BUILD))"' -Itests
compile = @mkdir -p $(@D) && echo "  CC    $<" && $(CC) $(CPPFLAGS) $(CFLAGS) -MMD -MP
link = @mkdir -p $(@D) && echo "  LINK  $@" && $(CC) $(LDFLAGS) -o $@

# At recipe time: as many jobs as processors, unless the caller has said how many.
jobs = $(if $(filter -j% --jobserver%,$(MAKEFLAGS)),,-j$(shell nproc))

.PHONY: all setup demo demo-run check check-run check-build tests other lint lint-run lint-format lint-cppcheck lint-tidy includes sanitize sanitize-run \
    perf perf-build perf-run install format clean help FORCE

## all: the program and its modules for video and pages (the default)
all: $(BUILD)/slotjig $(modules)

$(BUILD)/slotjig: $(BUILD)/obj/host/commands/main.o $(BUILD)/libslotjig.a
	$(link) $^ $(package_libs) -lm -ldl

$(BUILD)/libslotjig.a: $(library_objects) $(BUILD)/sources
	@echo "  AR    $@" && rm -f $@ && ar rcs $@ $(library_objects)

$(BUILD)/slotjig-video.so: $(module_objects) $(BUILD)/sources
	$(link) -shared $(if $(filter no,$(SANITIZE)),-Wl$(comma)-z$(comma)defs) $(module_objects) $(module_libs) -lm

$(BUILD)/slotjig-page.so: $(page_objects) $(BUILD)/sources
	$(link) -shared $(if $(filter no,$(SANITIZE)),-Wl$(comma)-z$(comma)defs) $(page_objects) $(page_libs) -lm

$(BUILD)/obj/host/picture/%.o $(BUILD)/obj/host/virtual/%.o: OPTIMISE = -O3

$(BUILD)/obj/host/%.o: host/%.c $(BUILD)/flags
	$(compile) $(package_cflags) -c -o $@ $<

$(BUILD)/obj/firmware/%.o: firmware/%.c $(BUILD)/flags
	$(compile) -c -o $@ $<

$(BUILD)/pic/host/%.o: host/%.c $(BUILD)/flags
	$(compile) -fPIC $(module_cflags) -c -o $@ $<

$(BUILD)/pic/host/report/%.o: host/report/%.c $(BUILD)/flags
	$(compile) -fPIC $(page_cflags) -c -o $@ $<

$(BUILD)/obj/tests/%.o: tests/%.c $(BUILD)/flags
	$(compile) $(test_paths) $(package_cflags) $(test_cflags) -c -o $@ $<

$(BUILD)/tests/libsupport.a: $(support_objects) $(BUILD)/sources
	@mkdir -p $(@D) && echo "  AR    $@" && rm -f $@ && ar rcs $@ $(support_objects)

$(test_programs) $(perf_programs) $(proof_programs): $(BUILD)/%: $(BUILD)/obj/%.o $(BUILD)/tests/libsupport.a $(BUILD)/libslotjig.a
	$(link) $^ $(package_libs) $(test_libs) -lm -ldl

# Rewritten only when they change: other flags or another compiler rebuild all, a source gone rebuilds the archives.
flags_text = $(CC) $(CPPFLAGS) $(CFLAGS)
$(BUILD)/flags: FORCE
	@mkdir -p $(@D); printf '%s\n' $(call quote,$(flags_text)) | cmp -s - $@ || printf '%s\n' $(call quote,$(flags_text)) >$@
$(BUILD)/sources: FORCE
	@mkdir -p $(@D); echo $(all_sources) | cmp -s - $@ || echo $(all_sources) >$@
all_sources = $(sources) $(core_sources) $(module_sources) $(page_sources) $(support_sources)
quote = '$(subst ','\'',$(1))'
$(objects) $(module_objects) $(page_objects) $(support_objects): Makefile

.SECONDARY:
-include $(objects:.o=.d) $(module_objects:.o=.d) $(page_objects:.o=.d) $(support_objects:.o=.d)
-include $(test_sources:%.c=$(BUILD)/obj/%.d) $(perf_sources:%.c=$(BUILD)/obj/%.d) $(proof_sources:%.c=$(BUILD)/obj/%.d)

# Parts with rules of their own.
-include firmware/firmware.mk $(wildcard tests/*/*.mk boards/*/*.mk)

## setup: install the Debian packages that are missing; SETUP=no only lists them
setup:
	@.ci/setup build check

## demo: the main job on the virtual bench, on a good console and on one with a fault
demo:
	@.ci/setup build
	@$(MAKE) $(jobs) all
	@$(MAKE) demo-run

demo_run = $(BUILD)/slotjig run --store $(BUILD)/demo-records.sqlite --bench virtual --plan bits --out $(1) --json $(1)/result.json $(2)
demo_fault = bit-low=PF1.3
demo-run:
	@rm -rf $(BUILD)/demo $(BUILD)/demo-fault; mkdir -p $(BUILD)/demo $(BUILD)/demo-fault
	@echo; echo "One bit stuck: $(call demo_run,$(BUILD)/demo-fault,--fault $(demo_fault) --quiet)"
	@$(call demo_run,$(BUILD)/demo-fault,--fault $(demo_fault) --quiet); status=$$?; \
	    [ $$status = 1 ] || { echo "demo: a console with $(demo_fault) must end with status 1, not $$status" >&2; exit 1; }
	@grep -E '"(kind|text|next)"' $(BUILD)/demo-fault/result.json
	@echo; echo "A good console: $(call demo_run,$(BUILD)/demo)"
	@$(call demo_run,$(BUILD)/demo) || { echo "demo: a good console must end with status 0, not $$?" >&2; exit 1; }
	@echo
	@echo "Pictures and JSON: $(abspath $(BUILD)/demo) and $(abspath $(BUILD)/demo-fault)"

## check: all tests, the other compiler and the include rules
check:
	@.ci/setup build check
	@$(MAKE) $(jobs) check-build
	@$(MAKE) other
	@$(MAKE) check-run

tests: all $(test_programs) $(module_links)
check-build: tests $(perf_programs)

# The program looks for its modules beside itself and one folder up; so do the tests.
$(module_links): $(BUILD)/tests/%.so: $(BUILD)/%.so
	@mkdir -p $(@D) && ln -sf ../$*.so $@

# For test scripts; the programs have them as macros.
run_tests = SOURCE_DIR='$(CURDIR)' BUILD_DIR='$(abspath $(BUILD))' CC='$(CC)' SANITIZE='$(SANITIZE)' \
    tests/run $(BUILD)/tests/logs $(abspath $(test_programs) $(test_scripts))
check-run:
	@$(run_tests)

other_compiler = $(if $(findstring clang,$(CC)),gcc,clang)
other:
	@if command -v $(other_compiler) >/dev/null 2>&1; then \
	    echo "Everything with $(other_compiler):"; \
	    $(MAKE) $(jobs) CC=$(other_compiler) BUILD=$(BUILD)/$(other_compiler) check-build; \
	else echo "SKIP: $(other_compiler) is not installed, so nothing was built with it"; fi

## lint: format, clang-tidy, cppcheck and the include rules
lint:
	@.ci/setup build check
	@$(MAKE) -k lint-run

c_files = $(sort $(shell find host include tests firmware boards -name '*.[ch]'))
lint-run: includes lint-format lint-cppcheck lint-tidy

lint-format:
	@echo "clang-format" && clang-format --dry-run -Werror $(c_files)

lint-cppcheck:
	@echo "cppcheck" && cppcheck --quiet -j $(shell nproc) --std=c11 --enable=warning,performance,portability \
	    --inline-suppr --suppress=missingIncludeSystem --error-exitcode=1 -D_GNU_SOURCE -DSLOTJIG_VERSION='"x"' \
	    -Ihost -Iinclude -Ifirmware -Iboards $(sources) $(core_sources) $(chip_sources) $(module_sources) $(page_sources)

# Any line that is left is a warning: clang-tidy's own counts are taken out.
tidy_noise = ^[0-9]+ warnings? (generated|treated)|^Suppressed|^Use -header-filter
lint-tidy:
	@echo "clang-tidy" && printf '%s\n' $(sources) $(core_sources) $(module_sources) $(page_sources) | xargs -P $(shell nproc) -n 3 \
	    sh -c 'clang-tidy --quiet "$$@" -- -std=gnu17 -D_GNU_SOURCE -DSLOTJIG_VERSION=\"x\" -Ihost -Iinclude -Ifirmware -Iboards \
	        $(package_cflags) $(module_cflags) $(page_cflags) 2>&1 | { ! grep -v -E "$(tidy_noise)"; }' tidy
	@echo "clang-tidy, for the chip" && printf '%s\n' $(chip_sources) | xargs -P $(shell nproc) -n 3 \
	    sh -c 'clang-tidy --quiet --checks=-performance-no-int-to-ptr "$$@" -- --target=thumbv6m-none-eabi -std=gnu17 \
	        -ffreestanding -Iinclude -Ifirmware -Iboards 2>&1 | { ! grep -v -E "$(tidy_noise)"; }' tidy

includes:
	@echo "include rules" && tests/lint/includes .

## sanitize: all tests under AddressSanitizer and UndefinedBehaviorSanitizer
sanitize:
	@.ci/setup build check
	@$(MAKE) $(jobs) SANITIZE=yes BUILD=$(BUILD)/sanitize check-build
	@$(MAKE) SANITIZE=yes BUILD=$(BUILD)/sanitize sanitize-run

sanitize-run: export ASAN_OPTIONS = detect_leaks=1
sanitize-run: export LSAN_OPTIONS = suppressions=$(CURDIR)/tests/leaks.supp:print_suppressions=0
sanitize-run: export UBSAN_OPTIONS = print_stacktrace=1
sanitize-run: export SLOTJIG_TEST_SMALL = 1
sanitize-run: export SLOTJIG_TEST_TIMEOUT = 1200
sanitize-run:
	@$(run_tests)

## perf: measure; prints `name value unit` lines
perf:
	@.ci/setup build check
	@$(MAKE) $(jobs) perf-build
	@$(MAKE) perf-run

perf-build: all $(perf_programs) $(module_links)
	@:
perf-run:
	@set -e; for program in $(abspath $(perf_programs)); do $$program; done

## install: into $(DESTDIR)$(PREFIX)
install: all
	install -D -m 755 $(BUILD)/slotjig $(DESTDIR)$(PREFIX)/bin/slotjig
	for module in $(notdir $(modules)); do \
	    install -D -m 644 $(BUILD)/$$module $(DESTDIR)$(PREFIX)/lib/slotjig/$$module || exit 1; done
	install -D -m 644 boards/udev/60-slotjig.rules $(DESTDIR)$(UDEVDIR)/60-slotjig.rules
	install -d $(DESTDIR)$(PREFIX)/share/doc/slotjig
	install -m 644 README.md LICENSE $(DESTDIR)$(PREFIX)/share/doc/slotjig

## format: clang-format on every source
format:
	@clang-format -i $(c_files)

## clean: remove $(BUILD)
clean:
	rm -rf $(BUILD)

## help: this
help:
	@sed -n 's/^## //p' $(filter %Makefile %.mk,$(MAKEFILE_LIST))
	@echo "Variables: BUILD=$(BUILD) CC=$(CC) PREFIX=$(PREFIX) DESTDIR=$(DESTDIR) UDEVDIR=$(UDEVDIR) SETUP=no"
