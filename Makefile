# waterturn: plain `make` builds build/waterturn. See README.md; DEVELOPERS.md tells how the parts fit.
# One makefile, nothing recursive; all that is made goes below build/ (BUILD=dir to change it).

BUILD   ?= build
CC      ?= gcc
prefix  ?= /usr/local
sysconfdir ?= $(prefix)/etc
unitdir ?= $(prefix)/lib/systemd/system
VERSION := $(shell sed -n 's/^\#define WATERTURN_VERSION "\(.*\)"$$/\1/p' daemon/base/version.h)

PACKAGES = libcurl libcjson sqlite3 libmicrohttpd libsodium libqrencode zlib
WARN     = -Wall -Wextra -Wshadow -Wconversion -Wstrict-prototypes -Wmissing-prototypes -Wvla -Wformat=2
# No fused multiply-add: the same inputs give the same bits on every machine. No tables for unwinding at run time: C needs none,
# and they are a twelfth of the program.
CFLAGS  ?= -O2 -g
ALL_CFLAGS = -std=c11 $(WARN) -ffp-contract=off -fno-math-errno -fno-asynchronous-unwind-tables $(CFLAGS) -MMD -MP -I. -I$(BUILD)/gen
DAEMON_CPPFLAGS = -D_GNU_SOURCE $(shell pkg-config --cflags $(PACKAGES) 2>/dev/null)
# libcurl is loaded by daemon/source/libcurl.c when it is needed.
LDLIBS   = $(shell pkg-config --libs $(filter-out libcurl,$(PACKAGES)) 2>/dev/null) -lcsv -lglpk -lpthread -lm

# Relocations packed (DT_RELR) where linker and C library can: 100 KB less of program. Others only warn of the option, or do not know it.
PACKED   = -Wl,-z,pack-relative-relocs
LDPACKED = $(if $(shell echo 'int main(void){return 0;}' | $(CC) -x c -o /dev/null $(PACKED) - 2>&1 || echo no),,$(PACKED))

# Layers, top first: each may include only what stands to its right. The order is also the link order.
LAYERS = daemon/commands daemon/http daemon/view daemon/replay daemon/morning daemon/store daemon/lifecycle daemon/farm daemon/source daemon/base \
         core/decide core/balance core/weather core/base

objects   = $(patsubst %.c,$(BUILD)/%.o,$(wildcard $(1)/*.c))
archive   = $(BUILD)/lib/$(subst /,_,$(1)).a
ARCHIVES  = $(foreach layer,$(LAYERS),$(if $(wildcard $(layer)/*.c),$(call archive,$(layer))))
# Data that ships inside the binary.
ASSETS    = $(sort $(filter-out %.c,$(wildcard web/*)) config/crops.json config/soils.json $(wildcard config/layouts/*.json config/probes/*.json daemon/store/*.sql))

TEST_SOURCES = $(wildcard tests/core/test_*.c tests/daemon/test_*.c tests/published/test_*.c tests/faults/test_*.c)
TEST_PROGRAMS = $(patsubst %.c,$(BUILD)/%,$(TEST_SOURCES))
# What asserts by cmocka is linked into the test programs alone: tools are built where cmocka is not.
CHECK_SUPPORT := tests/support/reading.c tests/support/turns_one.c tests/support/well_farm.c
TEST_SUPPORT = $(filter-out $(CHECK_SUPPORT),$(wildcard tests/support/*.c))
BENCHES = $(patsubst %.c,$(BUILD)/%,$(wildcard tests/bench/bench_*.c))
TOOLS = $(patsubst %.c,$(BUILD)/%,$(wildcard tests/tools/*.c))

# One short line for each step; V=1 shows the commands themselves.
Q   = $(if $(V),,@)
SAY = @$(if $(V),:,printf '  %-5s %s\n')

.PHONY: all install deb demo check tests tests-core tools coverage benches bench fuzz clean format lint setup-build setup-check setup-bench
all: $(BUILD)/waterturn

# ---- the program -----------------------------------------------------------------------------------------
$(BUILD)/waterturn: $(BUILD)/daemon/main.o $(ARCHIVES)
	$(SAY) LINK $@
	$(Q)$(CC) $(CFLAGS) $(LDPACKED) $(LDFLAGS) -o $@ $(BUILD)/daemon/main.o $(ARCHIVES) $(LDLIBS)

define LAYER_RULE
$(call archive,$(1)): $(call objects,$(1)) $(if $(filter daemon/base,$(1)),$(BUILD)/gen/assets.o)
	@mkdir -p $$(@D)
	$$(Q)rm -f $$@ && ar rcsD $$@ $$^
endef
$(foreach layer,$(LAYERS),$(eval $(call LAYER_RULE,$(layer))))

$(BUILD)/core/%.o: core/%.c
	@mkdir -p $(@D)
	$(SAY) CC $@
	$(Q)$(CC) $(ALL_CFLAGS) -c -o $@ $<
# Nobody looks at the flags of floating point: loops with comparisons may become vectors. Elsewhere branches are quicker.
$(patsubst %,$(BUILD)/core/%.o,weather/day_block balance/crop_block decide/outlook_kept decide/outlook_lanes decide/outlook_lines): ALL_CFLAGS += -fno-trapping-math
# What is gone through once for a command or a farm, not for each field or page, is made small rather than quick.
$(foreach layer,commands lifecycle farm replay,$(call objects,daemon/$(layer))): CFLAGS := $(patsubst -O2,-Os,$(CFLAGS))
$(BUILD)/daemon/%.o: daemon/%.c
	@mkdir -p $(@D)
	$(SAY) CC $@
	$(Q)$(CC) $(DAEMON_CPPFLAGS) $(ALL_CFLAGS) -c -o $@ $<
$(BUILD)/gen/assets.o: $(BUILD)/gen/assets.c
	$(SAY) CC $@
	$(Q)$(CC) $(ALL_CFLAGS) -c -o $@ $<
$(BUILD)/gen/assets.c: $(BUILD)/web/embed $(ASSETS)
	@mkdir -p $(@D)
	$(SAY) EMBED $@
	$(Q)$(BUILD)/web/embed $(ASSETS) > $@.new && mv $@.new $@
$(BUILD)/web/embed: web/embed.c
	@mkdir -p $(@D)
	$(SAY) LINK $@
	$(Q)$(CC) $(ALL_CFLAGS) -o $@ $<

# ---- installing ------------------------------------------------------------------------------------------
INSTALL = install -D -m
install: all
	$(Q)$(INSTALL) 755 $(BUILD)/waterturn $(DESTDIR)$(prefix)/bin/waterturn
	$(Q)for page in config/man/*; do \
	    $(INSTALL) 644 $$page $(DESTDIR)$(prefix)/share/man/man$${page##*.}/$${page##*/} || exit 1; done
	$(Q)$(INSTALL) 644 config/completion/waterturn.bash $(DESTDIR)$(prefix)/share/bash-completion/completions/waterturn
	$(Q)$(INSTALL) 644 config/waterturn.service $(DESTDIR)$(unitdir)/waterturn.service
	$(Q)sed -i 's,/usr/bin/waterturn,$(prefix)/bin/waterturn,; s,/etc/waterturn,$(sysconfdir)/waterturn,' \
	    $(DESTDIR)$(unitdir)/waterturn.service
	$(Q)test -e $(DESTDIR)$(sysconfdir)/waterturn/daemon.json || \
	    $(INSTALL) 644 config/daemon.json $(DESTDIR)$(sysconfdir)/waterturn/daemon.json

# A Debian package of what git has, made below $(BUILD)/deb.
deb:
	@tests/tools/setup.sh deb
	$(Q)rm -rf $(BUILD)/deb && mkdir -p $(BUILD)/deb/waterturn-$(VERSION)
	$(Q)git ls-files -z | xargs -0 cp --parents -t $(BUILD)/deb/waterturn-$(VERSION)
	$(Q)cp -r config/debian $(BUILD)/deb/waterturn-$(VERSION)/debian
	$(Q)cd $(BUILD)/deb/waterturn-$(VERSION) && MAKEFLAGS= dpkg-buildpackage -b -us -uc
	@ls $(BUILD)/deb/*.deb

# ---- tests -----------------------------------------------------------------------------------------------
$(BUILD)/tests/%.o: tests/%.c
	@mkdir -p $(@D)
	$(SAY) CC $@
	$(Q)$(CC) $(DAEMON_CPPFLAGS) $(ALL_CFLAGS) -Itests -c -o $@ $<
$(BUILD)/lib/tests_support.a: $(patsubst %.c,$(BUILD)/%.o,$(TEST_SUPPORT))
	@mkdir -p $(@D)
	$(SAY) AR $@
	$(Q)rm -f $@ && ar rcsD $@ $^
$(BUILD)/lib/tests_check.a: $(patsubst %.c,$(BUILD)/%.o,$(CHECK_SUPPORT))
	@mkdir -p $(@D)
	$(SAY) AR $@
	$(Q)rm -f $@ && ar rcsD $@ $^
$(TEST_PROGRAMS): TEST_ARCHIVES = $(BUILD)/lib/tests_check.a
$(TEST_PROGRAMS): TEST_LDLIBS = -lcmocka
$(TEST_PROGRAMS): $(BUILD)/lib/tests_check.a
$(TEST_PROGRAMS) $(BENCHES) $(TOOLS): $(BUILD)/%: $(BUILD)/%.o $(BUILD)/lib/tests_support.a $(ARCHIVES)
	$(SAY) LINK $@
	$(Q)$(CC) $(CFLAGS) $(LDFLAGS) -o $@ $< $(TEST_ARCHIVES) $(BUILD)/lib/tests_support.a $(ARCHIVES) $(LDLIBS) $(TEST_LDLIBS)
tests: $(TEST_PROGRAMS) $(TOOLS) all
tools: $(TOOLS)
tests-core: $(filter $(BUILD)/tests/core/% $(BUILD)/tests/published/%,$(TEST_PROGRAMS))
coverage: setup-check
	@$(MAKE) --no-print-directory tools all
	@BUILD=$(BUILD) tests/coverage.sh
benches: $(BENCHES)

check: setup-check
	@$(MAKE) --no-print-directory tests
	@BUILD=$(BUILD) CC=$(CC) tests/run.sh

demo: setup-build
	@$(MAKE) --no-print-directory all tools
	@BUILD=$(BUILD) ONCE=$(ONCE) tests/tools/demo.sh

bench: setup-bench
	@$(MAKE) --no-print-directory benches tools all
	@BUILD=$(BUILD) tests/bench/run.sh

# SECONDS for each target; see tests/fuzz/run.sh
fuzz: setup-check
	@BUILD=$(BUILD) tests/fuzz/run.sh $(SECONDS)

# ---- what a fresh machine lacks --------------------------------------------------------------------------
setup-build:
	@tests/tools/setup.sh build
setup-check:
	@BUILD=$(BUILD) tests/tools/setup.sh check
setup-bench:
	@BUILD=$(BUILD) tests/tools/setup.sh bench

# ---- upkeep ----------------------------------------------------------------------------------------------
SOURCES = $(shell git ls-files '*.c' '*.h')
format:
	clang-format -i $(SOURCES)
lint:
	clang-format --dry-run -Werror $(SOURCES)
	cppcheck --quiet --error-exitcode=1 --enable=warning,portability --inline-suppr --library=tests/tools/cppcheck.cfg -I. core daemon
clean:
	rm -rf $(BUILD)

.SECONDARY:
-include $(shell test -d $(BUILD) && find $(BUILD) -name '*.d')
