# The peer of the statistics; without it its test says so and is skipped.
$(BUILD)/tests/stats/test_peer: LDFLAGS += $(shell pkg-config --exists gsl 2>/dev/null && echo -Wl,--no-as-needed) $(shell pkg-config --libs gsl 2>/dev/null)
