# Markerbed's build. `make help` says what there is to make.
# docs/dependencies.md names the libraries.

VARIANT ?= release
BUILD ?= build
PREFIX ?= /usr/local
WERROR ?= -Werror
FUZZ_SECONDS ?= 60
JOBS ?= $(shell nproc 2>/dev/null || echo 2)

ifneq ($(words $(CURDIR)),1)
  $(error put the sources into a folder without blanks in its path, not "$(CURDIR)")
endif
ifeq ($(filter $(VARIANT),release debug asan cov fuzz),)
  $(error VARIANT is release, debug, asan, cov or fuzz, not "$(VARIANT)")
endif
ifeq ($(origin CC),default)
  CC := $(if $(filter fuzz,$(VARIANT)),clang,gcc)
endif

.SUFFIXES:
.DELETE_ON_ERROR:
.SECONDARY:
.DEFAULT_GOAL := all

Q := $(if $(V),,@)
B := $(BUILD)/$(VARIANT)
# A make of its own for a variant: on all cores unless the caller said how many.
SUB = +@$(MAKE) --no-print-directory $(if $(findstring -j,$(MAKEFLAGS)),,-j$(JOBS))

# ---- flags ---------------------------------------------------------------------------------------

warnings := -Wall -Wextra -Wshadow -Wstrict-prototypes -Wmissing-prototypes -Wconversion \
            -Wcast-qual -Wformat=2 -Wvla
sanitize := -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer

# MB_TEST_BUILD: the clock can be set from outside. MB_ARENA_EACH: one malloc for each object of an
# arena, so that the sanitizer sees where one ends.
compile_release := -O2 -U_FORTIFY_SOURCE -D_FORTIFY_SOURCE=2 -fstack-protector-strong -fPIE
compile_debug   := -Og -DMB_TEST_BUILD
compile_asan    := -O1 $(sanitize) -DMB_ARENA_EACH -DMB_TEST_BUILD
compile_cov     := -O0 --coverage -DMB_TEST_BUILD
compile_fuzz    := -O1 -fsanitize=fuzzer-no-link $(sanitize) -DMB_ARENA_EACH -DMB_TEST_BUILD
link_release    := -pie -Wl,-z,relro,-z,now
link_asan       := $(sanitize)
link_cov        := --coverage
link_fuzz       := -fsanitize=fuzzer $(sanitize)
# clang warns of other things than gcc; what it finds odd does not stop a fuzzing run.
strict          := $(if $(filter fuzz,$(VARIANT)),,$(WERROR))

base_cflags := -std=c17 -D_GNU_SOURCE $(warnings) $(strict) -pthread -g \
               -ffile-prefix-map=$(CURDIR)=. $(compile_$(VARIANT)) \
               -include src/base/banned.h
ALL_CFLAGS   = $(base_cflags) $(CFLAGS)
ALL_LDFLAGS  = -pthread -Wl,--as-needed $(link_$(VARIANT)) $(LDFLAGS)

# ---- libraries (each known to its own files in src/port alone) -----------------------------------

libraries := libsodium sqlite3 libcrypto zlib libjpeg cairo cairo-pdf pangocairo \
             fontconfig libqrencode libqpdf libarchive geos proj libutf8proc libmicrohttpd
# Asked for once, and only when something is compiled.
port_cflags = $(eval port_cflags := $$(patsubst -I%,-isystem%,\
                $$(shell pkg-config --cflags $$(libraries))))$(port_cflags)
port_libs   = $(eval port_libs := $$(shell pkg-config --libs $$(libraries)) -lm)$(port_libs)
# Files whose library's own headers use names that src/base/banned.h forbids.
unbanned :=

# ---- the floors, lowest first: what each may include from ----------------------------------------

include_base      := base
include_port      := base port
include_ledger    := base port ledger
include_record    := base port ledger record
include_condition := base port ledger record condition
include_land      := base port ledger record land
include_trail     := base port ledger record trail
include_issue     := base port ledger record condition land trail issue
include_cli       := base cli

library_floors := base port ledger record condition land trail issue
floors         := $(library_floors) cli
sources         = $(sort $(wildcard src/$(1)/*.c))
includes        = -Iinclude $(addprefix -Isrc/,$(include_$(1)))

library_objects := $(patsubst %.c,$(B)/%.o,$(foreach f,$(library_floors),$(call sources,$(f)))) \
                   $(B)/gen/assets_data.o $(B)/gen/assets_table.o
program_objects := $(patsubst %.c,$(B)/%.o,$(call sources,cli))
library         := $(B)/libmarkerbed.a
program         := $(if $(program_objects),$(B)/markerbed)

shortcut        := $(if $(program),$(if $(filter release,$(VARIANT)),$(BUILD)/markerbed))

.PHONY: all
all: $(library) $(program) $(shortcut) ## program and library; VARIANT=release|debug|asan|cov|fuzz

# What one object is made by, and the folder for it.
define compile
	@echo "  CC    $@"
	@mkdir -p $(@D)
	$(Q)$(CC) $(ALL_CFLAGS) $(1) $(if $(filter $(unbanned),$<),-DMB_BANNED_OFF) \
	    -MMD -MP -c -o $@ $<
endef

define floor_rule
$(B)/src/$(1)/%.o: src/$(1)/%.c $(B)/flags
	$$(call compile,$$(call includes,$(1)) $(if $(filter port,$(1)),$$(port_cflags)))
endef
$(foreach f,$(floors),$(eval $(call floor_rule,$(f))))

# Every object is made again when a flag or the compiler changes.
$(B)/flags: FORCE
	@pkg-config --exists --print-errors $(libraries) || \
	    { echo "A library is missing: .ci/need build brings what is needed." >&2; exit 1; }
	@mkdir -p $(@D)
	@$(call if_new,printf '%s\n' '$(shell $(CC) --version | head -n 1)' \
	    '$(CC) $(ALL_CFLAGS)' '$(port_cflags)' '$(unbanned)' \
	    '$(ALL_LDFLAGS)' '$(port_libs)')

# Writes a target only where the command's output differs from what the file holds.
if_new = { $(1); } > $@.new && { cmp -s $@.new $@ && rm $@.new || mv $@.new $@; }

$(B)/objects: FORCE
	@mkdir -p $(@D)
	@$(call if_new,printf '%s\n' $(library_objects))

$(library): $(library_objects) $(B)/objects
	@echo "  AR    $@"
	@rm -f $@
	$(Q)ar rcsD $@ $(library_objects)

$(B)/markerbed: $(program_objects) $(library)
	@echo "  LINK  $@"
	$(Q)$(CC) -o $@ $(program_objects) $(library) $(ALL_LDFLAGS) $(port_libs)

$(BUILD)/markerbed: $(BUILD)/release/markerbed
	@ln -sfn release/markerbed $@

# ---- files built in: everything of use under schema/ ---------------------------------------------

assets := $(shell find schema -type f \( -name '*.json' -o -name '*.sql' -o -name '*.tsv' \
            -o -name '*.css' -o -name '*.html' -o -name '*.js' -o -name '*.txt' \) 2>/dev/null \
            | LC_ALL=C sort)
gen := $(BUILD)/gen

$(gen)/assets.list: FORCE
	@mkdir -p $(@D)
	@$(call if_new,for f in $(assets); do echo "$$f"; done)

$(gen)/assets_data.S: $(gen)/assets.list
	@n=0; { echo '	.section .rodata.mb_assets,"a"'; \
	while read -r f; do \
	    printf '\t.balign 16\n\t.globl mb_asset_%s\n\t.hidden mb_asset_%s\n' $$n $$n; \
	    printf 'mb_asset_%s:\n\t.incbin "%s"\n\t.byte 0\n' $$n "$$f"; \
	    n=$$((n + 1)); \
	done < $<; echo '	.section .note.GNU-stack,"",%progbits'; } > $@

$(gen)/assets_table.c: $(gen)/assets.list $(assets)
	@n=0; { echo '/* Made by the build from the files under schema/. */'; \
	echo '#include "asset.h"'; \
	while read -r f; do echo "extern const char mb_asset_$$n[];"; n=$$((n + 1)); done < $<; \
	echo 'const struct mb_asset mb_assets[] = {'; n=0; \
	while read -r f; do \
	    printf '    { "%s", mb_asset_%s, %s },\n' "$${f#schema/}" $$n $$(($$(wc -c < "$$f"))); \
	    n=$$((n + 1)); \
	done < $<; \
	printf '    { NULL, NULL, 0 },\n};\nconst size_t mb_assets_count = %s;\n' $$n; } > $@

$(B)/gen/assets_data.o: $(gen)/assets_data.S $(assets) $(B)/flags
	@mkdir -p $(@D)
	$(Q)$(CC) -c -o $@ $<

$(B)/gen/assets_table.o: $(gen)/assets_table.c $(B)/flags
	$(call compile,$(call includes,base))

# ---- tests ---------------------------------------------------------------------------------------

test_sources    := $(sort $(wildcard tests/unit/*/test_*.c tests/conformance/test_*.c))
test_programs   := $(test_sources:%.c=$(B)/%)
support_objects := $(patsubst %.c,$(B)/%.o,$(sort $(wildcard tests/support/*.c)))
fuzz_sources    := $(sort $(wildcard tests/fuzz/fuzz_*.c))
replay_programs := $(fuzz_sources:tests/fuzz/fuzz_%.c=$(B)/tests/fuzz/replay_%)
fuzz_programs   := $(fuzz_sources:%.c=$(B)/%)
bench_programs  := $(patsubst %.c,$(B)/%,$(sort $(wildcard tests/bench/*_*.c)))
demo_programs   := $(B)/tests/demo/draw
demo_objects    := $(patsubst %.c,$(B)/%.o,$(sort $(wildcard tests/demo/*.c)))
crash_programs  := $(patsubst %.c,$(B)/%,$(sort $(wildcard tests/crash/*.c)))
test_includes   := -Iinclude $(addprefix -Isrc/,$(library_floors)) -Itests/support -Itests/fuzz \
                   -Itests/demo
link_test        = @echo "  LINK  $@"; $(CC) -o $@ $(filter-out %/flags,$^) $(ALL_LDFLAGS) $(1) \
                   $(port_libs)

$(B)/tests/%.o: tests/%.c $(B)/flags
	$(call compile,$(test_includes) $(port_cflags))

# Helpers for tests: only those that a test calls are linked into it.
$(B)/libsupport.a: $(support_objects)
	@rm -f $@
	$(Q)ar rcsD $@ $^

$(test_programs): %: %.o $(B)/libsupport.a $(library)
	$(call link_test,-lcriterion)
$(bench_programs) $(crash_programs): %: %.o $(B)/libsupport.a $(library)
	$(call link_test)
$(fuzz_programs): %: %.o $(library)
	$(call link_test)
$(demo_programs): $(demo_objects) $(library)
	$(call link_test)
$(replay_programs): $(B)/tests/fuzz/replay_%: $(B)/tests/fuzz/fuzz_%.o \
        $(B)/tests/fuzz/standalone.o $(library)
	$(call link_test)

.PHONY: test-programs bench-programs crash-programs fuzz-programs demo-programs
demo-programs: $(demo_programs)
test-programs: $(test_programs) $(if $(filter asan,$(VARIANT)),$(replay_programs))
bench-programs: $(bench_programs)
crash-programs: $(crash_programs)
fuzz-programs: $(fuzz_programs)

python := /usr/bin/python3
run     = $(python) tests/tools/run_tests.py --build $(BUILD)

.PHONY: check test demo bench crash scale fuzz cov fresh-check
demo: ## the whole story in one run, from an empty folder (build/demo)
	@.ci/need build
	$(SUB) VARIANT=release all demo-programs
	@rm -rf $(BUILD)/demo && mkdir -p $(BUILD)/demo
	@MARKERBED='$(abspath $(BUILD))/markerbed' DEMO_DIR='$(abspath $(BUILD))/demo' \
	    DRAW='$(abspath $(BUILD))/release/tests/demo/draw' bash tests/demo/story.sh

check: ## every test: tidy, headers, unit, conformance, kept fuzz inputs, end to end
	@.ci/need check
	$(SUB) VARIANT=release all demo-programs
	$(SUB) VARIANT=debug all test-programs
	$(SUB) VARIANT=asan all test-programs
	@$(run) check $(ONLY)

test: ## quick: unit and conformance tests in the debug variant; ONLY=part-of-a-name picks some
	$(SUB) VARIANT=debug all test-programs
	@$(run) test $(ONLY)

bench: ## what it costs, beside the bare libraries on the same machine
	$(SUB) VARIANT=release all bench-programs
	@for p in $(patsubst tests/%.c,%,$(sort $(wildcard tests/bench/bench_*.c))); do \
	    MARKERBED='$(abspath $(BUILD))/markerbed' BUILD='$(abspath $(BUILD))' \
	    $(BUILD)/release/tests/$$p || exit 1; done

crash: ## killing and failing writes at every point, then reading back
	@.ci/need check
	$(SUB) VARIANT=release all
	$(SUB) VARIANT=debug all crash-programs
	@$(run) crash $(ONLY)

scale: ## the million-entry budgets; takes long
	@.ci/need check
	$(SUB) VARIANT=release all bench-programs
	@$(run) scale $(ONLY)

fuzz: ## new inputs against every reader, FUZZ_SECONDS (60) each; needs clang
	@.ci/need fuzz
	$(SUB) VARIANT=fuzz fuzz-programs
	@for p in $(patsubst tests/fuzz/fuzz_%.c,%,$(fuzz_sources)); do \
	    mkdir -p $(BUILD)/fuzz/found/$$p tests/fuzz/corpus/$$p; echo "fuzz_$$p"; \
	    LSAN_OPTIONS=suppressions=tests/support/lsan.supp:print_suppressions=0 \
	    $(BUILD)/fuzz/tests/fuzz/fuzz_$$p -max_total_time=$(FUZZ_SECONDS) -print_final_stats=1 \
	        -artifact_prefix=$(BUILD)/fuzz/failed-$$p- $(BUILD)/fuzz/found/$$p \
	        tests/fuzz/corpus/$$p > $(BUILD)/fuzz/$$p.log 2>&1 || \
	        { tail -n 40 $(BUILD)/fuzz/$$p.log; exit 1; }; \
	    grep -E '^stat::(number_of_executed_units|new_units_added)' $(BUILD)/fuzz/$$p.log; done

cov: ## which lines the unit and conformance tests reach (build/cov/coverage.txt)
	@.ci/need check && .ci/need cov
	$(SUB) VARIANT=cov all test-programs
	@find $(BUILD)/cov -name '*.gcda' -delete
	@$(run) cov $(ONLY)
	@gcovr --root . --filter src/ --object-directory $(BUILD)/cov $(BUILD)/cov \
	    > $(BUILD)/cov/coverage.txt && tail -n 4 $(BUILD)/cov/coverage.txt

fresh-check: ## demo and check on a bare Debian 12 made for it (root; build/fresh)
	@BUILD='$(BUILD)' bash tests/tools/fresh_check.sh

# ---- looking after the tree ----------------------------------------------------------------------

.PHONY: tidy check-headers check-symbols docs install clean help FORCE
tidy: ## the house rules that a compiler cannot see
	@$(python) tests/tools/tidy.py

# Every header compiles alone, without any library's headers on the path.
header = $(CC) -std=c17 -D_GNU_SOURCE $(warnings) -Werror -fsyntax-only -x c
lone   = $(filter-out %_priv.h,$(wildcard src/$(1)/*.h))
check-headers: ## every header compiles by itself; the public ones under -Wpedantic too
	@status=0; for h in $(wildcard include/markerbed/*.h); do \
	    $(header) -Wpedantic -Iinclude -include $$h /dev/null || status=1; done; exit $$status
	@status=0; $(foreach f,$(floors),for h in $(call lone,$(f)); do \
	    $(header) $(call includes,$(f)) -include $$h /dev/null || status=1; done;) exit $$status

check-symbols: $(library) ## the library gives the linker no name that does not begin with mb_
	@names=$$(nm -g --defined-only $(library) | awk 'NF == 3 && $$3 !~ /^mb_/ { print $$3 }'); \
	if [ -n "$$names" ]; then echo "not beginning with mb_:" $$names; exit 1; fi

docs: all ## man page and completion out of the program's own tables (build/docs)
	@if [ -n "$(program)" ] && $(program) docs --help > /dev/null 2>&1; then \
	    mkdir -p $(BUILD)/docs && $(program) docs $(BUILD)/docs; fi

install: all docs ## into PREFIX (/usr/local), under DESTDIR if given
	install -D -m 755 $(program) $(DESTDIR)$(PREFIX)/bin/markerbed
	@if [ -f $(BUILD)/docs/markerbed.1 ]; then set -x; \
	    install -D -m 644 $(BUILD)/docs/markerbed.1 \
	    $(DESTDIR)$(PREFIX)/share/man/man1/markerbed.1; fi
	@if [ -f $(BUILD)/docs/markerbed.bash ]; then set -x; \
	    install -D -m 644 $(BUILD)/docs/markerbed.bash \
	    $(DESTDIR)$(PREFIX)/share/bash-completion/completions/markerbed; fi

clean: ## forget everything that was built
	rm -rf --one-file-system $(BUILD)

help: ## this list
	@awk -F ':.*## ' '/^[a-z][a-z-]*:.*## / { printf "  make %-14s %s\n", $$1, $$2 }' Makefile

-include $(patsubst %.o,%.d,$(library_objects) $(program_objects) $(support_objects) \
           $(addsuffix .o,$(test_programs) $(fuzz_programs) $(bench_programs) $(crash_programs) \
           $(demo_objects:.o=) \
           $(B)/tests/fuzz/standalone))
