# What a sweep's runs spend in the session's loop is measured where it is entered (tests/perf/sweep.c).
$(BUILD)/tests/perf/sweep: LDFLAGS += -Wl,--wrap=session_run
