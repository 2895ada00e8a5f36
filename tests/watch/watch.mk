# The page's files are put into the module by assets.c, which the compiler does not tell make.
$(BUILD)/pic/host/report/http/assets.o: $(wildcard host/report/http/page.*)
