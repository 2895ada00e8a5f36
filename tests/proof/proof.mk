# `make proof`: the figures that DEVELOPERS.md tables, with their seeds. Long: about as many minutes as it has sets.

proof_out := $(BUILD)/proof
proof_names := $(proof_sources:tests/proof/%.c=%)
proof_scripts := $(wildcard tests/proof/*.sh)

.PHONY: proof proof-build proof-run
## proof: false alarms, faults by grabber, error curve, raster, recordings, speed, store of records; tables and pictures in build/proof
proof:
	@.ci/setup build check
	@$(MAKE) $(jobs) proof-build
	@$(MAKE) proof-run

proof-build: all $(proof_programs) $(module_links)
	@:

# All parts run, and the first that did not come out decides the status. PROOF="alarms curve" chooses.
PROOF ?= $(proof_names) $(notdir $(proof_scripts:.sh=))
proof-run:
	@mkdir -p $(proof_out); status=0; for name in $(PROOF); do \
	    echo "== $$name"; \
	    if [ -x $(BUILD)/tests/proof/$$name ]; then set -- $(BUILD)/tests/proof/$$name; else set -- sh tests/proof/$$name.sh; fi; \
	    { SOURCE_DIR='$(CURDIR)' BUILD_DIR='$(abspath $(BUILD))' PROOF_OUT='$(abspath $(proof_out))' "$$@"; echo $$? >$(proof_out)/$$name.status; } | tee $(proof_out)/$$name.md; \
	    [ "$$(cat $(proof_out)/$$name.status)" = 0 ] || status=1; \
	done; exit $$status

-include $(proof_sources:%.c=$(BUILD)/obj/%.d)
