# Fuzz targets: every tests/fuzz/fuzz_NAME.c has LLVMFuzzerTestOneInput() and a corpus in tests/fuzz/corpus/NAME.
# `make check` replays the corpora; `make fuzz` searches on from copies of them.

FUZZ_SECONDS ?= 600
FUZZ_TARGETS ?= $(fuzz_names)
fuzz_sources := $(wildcard tests/fuzz/fuzz_*.c)
fuzz_names := $(fuzz_sources:tests/fuzz/fuzz_%.c=%)
fuzz_replays := $(fuzz_names:%=$(BUILD)/tests/fuzz/replay_%)
fuzz_programs := $(fuzz_names:%=$(BUILD)/fuzz_%)
fuzz_parts = $(BUILD)/tests/libsupport.a $(BUILD)/libslotjig.a

sanitize-fuzz = -fsanitize=fuzzer-no-link,address,undefined -fno-sanitize-recover=undefined \
    -fno-omit-frame-pointer -Wno-error

check-build: $(fuzz_replays)

$(fuzz_replays): $(BUILD)/tests/fuzz/replay_%: $(BUILD)/obj/tests/fuzz/fuzz_%.o $(BUILD)/obj/tests/fuzz/replay.o $(fuzz_parts)
	$(link) $^ $(package_libs) $(test_libs) -lm -ldl

.PHONY: fuzz fuzz-build fuzz-run fuzz-corpus
## fuzz: search each fuzz target for FUZZ_SECONDS (600) with clang's libFuzzer; FUZZ_TARGETS="board link" chooses
fuzz:
	@.ci/setup build check
	@$(MAKE) $(jobs) CC=clang SANITIZE=fuzz BUILD=$(BUILD)/fuzz fuzz-build
	@$(MAKE) CC=clang SANITIZE=fuzz BUILD=$(BUILD)/fuzz fuzz-run

fuzz-build: $(fuzz_programs)
$(fuzz_programs): $(BUILD)/fuzz_%: $(BUILD)/obj/tests/fuzz/fuzz_%.o $(fuzz_parts)
	$(link) -fsanitize=fuzzer $^ $(package_libs) $(test_libs) -lm -ldl

# What libFuzzer finds goes to $(BUILD)/corpus/NAME and, where it fails, to $(BUILD)/failures/NAME-*.
fuzz-run:
	@set -e; for name in $(FUZZ_TARGETS); do \
	    mkdir -p $(BUILD)/corpus/$$name $(BUILD)/failures; \
	    cp -n tests/fuzz/corpus/$$name/* $(BUILD)/corpus/$$name/ 2>/dev/null || :; \
	    echo "fuzz $$name for $(FUZZ_SECONDS) s"; \
	    $(BUILD)/fuzz_$$name -max_total_time=$(FUZZ_SECONDS) -timeout=20 -rss_limit_mb=2048 -print_final_stats=1 \
	        -max_len=8192 -artifact_prefix=$(BUILD)/failures/$$name- $(BUILD)/corpus/$$name 2>$(BUILD)/$$name.log || \
	        { tail -40 $(BUILD)/$$name.log; exit 1; }; \
	    tail -n 9 $(BUILD)/$$name.log; \
	done

# Writes the board's corpus anew, with the wire's own encoder.
fuzz-corpus: $(BUILD)/tests/fuzz/make_board
	@$< tests/fuzz/corpus/board
$(BUILD)/tests/fuzz/make_board: $(BUILD)/obj/tests/fuzz/make_board.o $(fuzz_parts)
	$(link) $^ $(package_libs) $(test_libs) -lm -ldl

-include $(fuzz_sources:%.c=$(BUILD)/obj/%.d) $(BUILD)/obj/tests/fuzz/replay.d $(BUILD)/obj/tests/fuzz/make_board.d
