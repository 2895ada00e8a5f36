# The page's files are put into the module by assets.c, which the compiler does not tell make.
$(BUILD)/pic/host/report/http/assets.o: $(wildcard host/report/http/page.*)

# What drives the browser, outside the sources. Where it cannot be fetched, the reason is kept for the test to skip with.
check-build: $(BUILD)/watch/ready

$(BUILD)/watch/ready: tests/watch/browser/package.json tests/watch/browser/package-lock.json
	@mkdir -p $(@D) && cp $^ $(@D) && rm -f $(@D)/why && echo "  NPM   $(@D)" && \
	    { cd $(@D) && timeout 120 npm ci --no-audit --no-fund >npm.log 2>&1 || \
	      { echo "the browser's driver could not be fetched: $$(grep -m 1 -E 'reason:|ENOENT|EACCES' npm.log || tail -n 1 npm.log)" >why; cat why; }; }
	@[ -e $(@D)/why ] || touch $@
