# The program that makes pages for the browser to look at. What drives the browser is fetched by tests/watch.
pages_make := $(BUILD)/tests/pages/make/make
check-build: $(pages_make)
$(pages_make): $(BUILD)/obj/tests/pages/make/make.o $(BUILD)/tests/libsupport.a $(BUILD)/libslotjig.a
	$(link) $^ $(package_libs) -lm -ldl

# The time of a page's first paint is taken in the same browser.
perf-build: $(BUILD)/watch/ready

-include $(BUILD)/obj/tests/pages/make/make.d
