# Keyway. `make help` lists what can be made; DEVELOPERS.md says more.
CC = cc
CLANG = clang
PREFIX = /usr/local
DESTDIR =
BUILD = build
OPT = -O3 -g
JOBS := $(shell nproc 2>/dev/null || echo 2)
FUZZ_SECONDS = 20

# No fused multiply-add: the same digits come out of every compiler and processor.
WARN = -Wall -Wextra -Wpedantic -Wconversion -Wshadow
STD = -std=c17 -D_POSIX_C_SOURCE=200809L -ffp-contract=off
CFLAGS =
ALL_CFLAGS = $(STD) $(WARN) $(OPT) -fPIE -Isrc $(CFLAGS)

# A library is linked when some file under src/ includes its header, and as an archive when there is one: the program
# then starts without looking for it, and runs where it is not installed.
uses = $(shell grep -lsE '^#include <$(1)>' src/*/*.c | head -n 1)
archive = $(or $(filter /%,$(shell $(CC) -print-file-name=lib$(1).a 2>/dev/null)),-l$(1))
LIBS := $(if $(call uses,yaml.h),$(call archive,yaml)) $(if $(call uses,jansson.h),$(call archive,jansson)) \
  $(if $(call uses,pcre2.h),$(call archive,pcre2-8)) $(if $(call uses,expat.h),$(call archive,expat)) \
  $(if $(call uses,nettle/sha2.h),$(call archive,nettle)) -lm -pthread

# One file that starts at once and runs anywhere, where the C library comes as archives too; make STATIC= for the usual
# way. The sanitizers cannot be linked so.
archive_of_c = $(filter /%,$(shell $(CC) -print-file-name=$(1) 2>/dev/null))
STATIC := $(if $(findstring -fsanitize,$(CFLAGS)),,$(if $(call archive_of_c,rcrt1.o),$(if $(call archive_of_c,libc.a),-static-pie)))

SOURCES := $(sort $(wildcard src/*/*.c))
LIBRARY_SOURCES := $(filter-out src/cli/main.c,$(SOURCES))
UNITS := $(sort $(wildcard tests/unit/test_*.c))
OBJECTS = $(LIBRARY_SOURCES:%.c=$(BUILD)/%.o) $(BUILD)/embedded.o
UNIT_PROGRAMS = $(UNITS:tests/unit/%.c=$(BUILD)/unit/%)
# GSL is an outside authority for curves and tables; only tests use it.
TEST_LIBS := -lcmocka $(if $(shell grep -ls '^#include <gsl/' tests/unit/*.c | head -n 1),-lgsl -lgslcblas -lm)
FORMATTED = $(sort $(wildcard src/*/*.[ch] tests/*/*.[ch] rules/*.c))

# Under `make` alone the caller's -j holds; the targets that do everything use every processor.
SUB = $(MAKE) --no-print-directory $(if $(filter -j%,$(MAKEFLAGS)),,-j$(JOBS))

.DEFAULT_GOAL := all
.DELETE_ON_ERROR:
.PHONY: all deps deps-ci demo test unit-programs check-rooms examples install uninstall clean format format-check tidy \
  asan valgrind fuzz bench prove cases units help

all: $(BUILD)/keyway

# ---- build

$(BUILD)/keyway: $(BUILD)/src/cli/main.o $(BUILD)/libkeyway.a $(BUILD)/flags
	@echo "link  $@"
	@$(CC) $(ALL_CFLAGS) $(STATIC) $(LDFLAGS) -o $@ $(filter %.o %.a,$^) $(LIBS)

$(BUILD)/libkeyway.a: $(OBJECTS) $(BUILD)/files
	@rm -f $@
	@$(AR) rcs $@ $(filter %.o,$^)

$(BUILD)/src/%.o: src/%.c $(BUILD)/flags
	@mkdir -p $(@D)
	@echo "cc    $<"
	@$(CC) $(ALL_CFLAGS) -MMD -MP -c -o $@ $<

# What every run reads goes in compiled: the tool that does it needs all rooms but the two that print.
FREEZE_SOURCES = $(filter-out src/cli/% src/report/%,$(LIBRARY_SOURCES))
$(BUILD)/freeze: rules/freeze.c $(FREEZE_SOURCES:%.c=$(BUILD)/%.o)
	@echo "link  $@"
	@$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $^ $(LIBS)

$(BUILD)/embedded.c: rules/embed.sh $(BUILD)/freeze $(BUILD)/files $(wildcard rules/*.yaml)
	@mkdir -p $(@D)
	@echo "embed rules"
	@rules/embed.sh rules $(BUILD)/freeze >$@.new
	@mv $@.new $@

$(BUILD)/embedded.o: $(BUILD)/embedded.c $(BUILD)/flags
	@echo "cc    $<"
	@$(CC) $(ALL_CFLAGS) -MMD -MP -c -o $@ $<

# What is made again when it changes: everything with the compiler and its flags; the library and the embedded rules with
# the list of files, so that one that is gone leaves nothing behind.
$(BUILD)/flags: NOW = $(CC) $(ALL_CFLAGS) $(STATIC) $(LDFLAGS) $(LIBS)
$(BUILD)/files: NOW = $(SOURCES) $(wildcard rules/*.yaml)
$(BUILD)/flags $(BUILD)/files: always
	@mkdir -p $(@D)
	@echo '$(NOW)' | cmp -s - $@ || echo '$(NOW)' >$@
.PHONY: always

# ---- tests

$(BUILD)/unit/%: tests/unit/%.c $(BUILD)/libkeyway.a
	@mkdir -p $(@D)
	@echo "cc    $<"
	@$(CC) $(ALL_CFLAGS) -MMD -MP $(LDFLAGS) -o $@ $< $(BUILD)/libkeyway.a $(LIBS) -Wl,--as-needed $(TEST_LIBS)

unit-programs: $(UNIT_PROGRAMS)

test:
	@tests/tools/deps test
	@+$(SUB) $(BUILD)/keyway unit-programs
	@KEYWAY=$(BUILD)/keyway UNITS=$(BUILD)/unit tests/tools/test-all

units: unit-programs
	@UNITS=$(BUILD)/unit tests/tools/run-units

cases: $(BUILD)/keyway
	@KEYWAY=$(BUILD)/keyway tests/run

prove: $(BUILD)/keyway
	@$(BUILD)/keyway prove

demo:
	@tests/tools/deps build
	@+$(SUB) $(BUILD)/keyway
	@KEYWAY=$(BUILD)/keyway tests/tools/demo

# The same tests with the sanitizers, and with valgrind.
SANITIZE = -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer
asan:
	@tests/tools/deps test
	@+$(SUB) BUILD=build/asan OPT='-O1 -g' CFLAGS='$(SANITIZE)' build/asan/keyway unit-programs
	@KEYWAY=build/asan/keyway UNITS=build/asan/unit UNIT_SECONDS=600 CASE_SECONDS=60 tests/tools/test-all

valgrind:
	@tests/tools/deps test valgrind
	@+$(SUB) $(BUILD)/keyway unit-programs
	@UNITS=$(BUILD)/unit UNIT_SECONDS=600 \
	  UNIT_UNDER='valgrind -q --error-exitcode=99 --leak-check=full --errors-for-leak-kinds=definite' tests/tools/run-units

fuzz:
	@tests/tools/deps build fuzz
	@+$(SUB) BUILD=build/fuzz CC='$(CLANG)' OPT='-O1 -g' CFLAGS='$(SANITIZE) -fsanitize=fuzzer-no-link' fuzz-programs
	@FUZZ_SECONDS=$(FUZZ_SECONDS) FUZZERS=build/fuzz/run tests/tools/run-fuzz

# What has code of its own for another processor, and the arithmetic, run there: on this machine by emulation.
ARM64_CC = aarch64-linux-gnu-gcc
ARM64_RUN = qemu-aarch64-static
ARM64_TESTS = read_csv_marks read_csv_decimals base_number base_exact model_column
ARM64_SOURCES = $(wildcard src/base/*.c src/units/*.c src/model/*.c src/read/csv*.c)
.PHONY: check-arm64
check-arm64:
	@tests/tools/deps arm64
	@+$(SUB) BUILD=$(BUILD)/arm64 CC=$(ARM64_CC) STATIC= arm64-programs
	@for test in $(ARM64_TESTS); do $(ARM64_RUN) $(BUILD)/arm64/unit-alone/test_$$test || exit 1; done

.PHONY: arm64-programs
arm64-programs: $(ARM64_TESTS:%=$(BUILD)/unit-alone/test_%)
$(BUILD)/unit-alone/%: tests/unit/%.c tests/arm64/cmocka.h $(ARM64_SOURCES:%.c=$(BUILD)/%.o)
	@mkdir -p $(@D)
	@echo "cc    $<"
	@$(CC) $(ALL_CFLAGS) -Itests/arm64 -static -o $@ $< $(filter %.o,$^) -lm -pthread

FUZZERS := $(sort $(wildcard tests/fuzz/fuzz_*.c))
.PHONY: fuzz-programs
fuzz-programs: $(FUZZERS:tests/fuzz/%.c=$(BUILD)/run/%)
$(BUILD)/run/%: tests/fuzz/%.c $(BUILD)/libkeyway.a
	@mkdir -p $(@D)
	@echo "cc    $<"
	@$(CC) $(ALL_CFLAGS) -fsanitize=fuzzer -MMD -MP -o $@ $< $(BUILD)/libkeyway.a $(LIBS)

bench:
	@tests/tools/deps build bench
	@+$(SUB) $(BUILD)/keyway $(BUILD)/timer $(BUILD)/simulate
	@KEYWAY=$(BUILD)/keyway TIMER=$(BUILD)/timer SIMULATE=$(BUILD)/simulate tests/bench/run

# What CI holds instead of wall clock: counts against the bounds of tests/bench/instructions.
instructions:
	@tests/tools/deps build valgrind
	@+$(SUB) $(BUILD)/keyway $(BUILD)/reader
	@KEYWAY=$(BUILD)/keyway READER=$(BUILD)/reader tests/tools/instructions
.PHONY: instructions

$(BUILD)/reader: tests/bench/reader.c $(BUILD)/libkeyway.a
	@mkdir -p $(@D)
	@echo "cc    $<"
	@$(CC) $(ALL_CFLAGS) $(STATIC) $(LDFLAGS) -o $@ $^ $(LIBS)

$(BUILD)/timer: tests/bench/timer.c
	@mkdir -p $(@D)
	@echo "cc    $<"
	@$(CC) $(STD) $(WARN) -O2 -o $@ $<

# ---- examples: settings and logs are made by the generator, job sheets are written by hand

SIMULATOR := $(sort $(wildcard tests/tools/simulate*.c))
$(BUILD)/simulate: $(SIMULATOR) $(wildcard tests/tools/simulate*.h)
	@mkdir -p $(@D)
	@echo "cc    $<"
	@$(CC) $(STD) $(WARN) -O2 -o $@ $(SIMULATOR) -lm

DIALECTS := $(sort $(wildcard tests/tools/dialects*.c))
$(BUILD)/dialects: $(DIALECTS) $(wildcard tests/tools/dialects*.h tests/tools/dialects*.def) $(BUILD)/libkeyway.a
	@mkdir -p $(@D)
	$(CC) $(ALL_CFLAGS) $(LDFLAGS) -o $@ $(DIALECTS) $(BUILD)/libkeyway.a $(LIBS)

examples: $(BUILD)/simulate $(BUILD)/dialects
	@for state in came left; do \
	  $(BUILD)/simulate settings --$$state >examples/sandpiper/as-it-$$state/settings.yaml && \
	  $(BUILD)/simulate log --$$state >examples/sandpiper/as-it-$$state/log.csv || exit 1; \
	done
	@for file in tern/settings.txt wagtail/settings.csv dipper/settings.xml curlew/settings.json; do \
	  $(BUILD)/dialects settings $${file%%/*} examples/sandpiper/as-it-came/settings.yaml >examples/dialects/$$file || exit 1; \
	done
	@for file in tern/log.csv wagtail/log.csv dipper/log.tsv; do \
	  $(BUILD)/dialects log $${file%%/*} examples/sandpiper/as-it-came/log.csv >examples/dialects/$$file || exit 1; \
	done

# ---- random sound tunes and planted faults, audited: TUNES of them, each fault in every SHARE-th

TUNES = 200
SHARE = 5
PLANTERS := $(sort $(wildcard tests/tools/faults*.c))
$(BUILD)/faults: $(PLANTERS) $(wildcard tests/tools/faults*.h)
	@mkdir -p $(@D)
	@echo "cc    $@"
	@$(CC) $(STD) $(WARN) -O2 -o $@ $(PLANTERS) $(call archive,jansson) -lm

.PHONY: prove-faults
prove-faults: $(BUILD)/keyway $(BUILD)/faults
	@KEYWAY=$(BUILD)/keyway FAULTS=$(BUILD)/faults TUNES=$(TUNES) SHARE=$(SHARE) JOBS=$(JOBS) tests/tools/prove-faults

# ---- simulated logs of sound and faulty cars at seven rates, audited; SHARE_OF_LOGS: every so-manyth of them

SHARE_OF_LOGS = 1
LOGGERS := $(sort $(wildcard tests/tools/logs*.c)) $(filter %_text.c %_tune.c %_job.c,$(PLANTERS))
$(BUILD)/logs: $(LOGGERS) tests/tools/logs.h tests/tools/faults.h
	@mkdir -p $(@D)
	@echo "cc    $@"
	@$(CC) $(STD) $(WARN) -O2 -o $@ $(LOGGERS) $(call archive,jansson) -lm

.PHONY: prove-logs
prove-logs: $(BUILD)/keyway $(BUILD)/logs
	@KEYWAY=$(BUILD)/keyway LOGS=$(BUILD)/logs SHARE=$(SHARE_OF_LOGS) tests/tools/prove-logs

# ---- what the tree must keep to

check-rooms:
	@tests/check-rooms

format:
	clang-format -i $(FORMATTED)

format-check:
	@clang-format --dry-run -Werror $(FORMATTED) && echo "format: $(words $(FORMATTED)) files as .clang-format asks"

tidy:
	@tests/tools/deps build tidy
	@STD='$(STD)' JOBS=$(JOBS) tests/tools/tidy

# ---- the manual's table of functions; make test looks whether it is up to date

.PHONY: docs docs-check
docs-check: $(BUILD)/functions $(BUILD)/keyway
	@$(BUILD)/functions <rules/LANGUAGE.md | cmp - rules/LANGUAGE.md
	@$(BUILD)/keyway list --reference | cmp - rules/REFERENCE.md
	@echo 'rules/LANGUAGE.md and rules/REFERENCE.md are as the program writes them'

docs: $(BUILD)/functions $(BUILD)/keyway
	@$(BUILD)/functions <rules/LANGUAGE.md >$(BUILD)/LANGUAGE.md
	@cmp -s $(BUILD)/LANGUAGE.md rules/LANGUAGE.md || cp $(BUILD)/LANGUAGE.md rules/LANGUAGE.md
	@$(BUILD)/keyway list --reference >$(BUILD)/REFERENCE.md
	@cmp -s $(BUILD)/REFERENCE.md rules/REFERENCE.md || cp $(BUILD)/REFERENCE.md rules/REFERENCE.md

$(BUILD)/functions: tests/tools/functions.c tests/tools/functions.h src/expr/builtin.def
	@mkdir -p $(@D)
	$(CC) $(STD) $(WARN) -O1 -Isrc -o $@ $<

# ---- the rest

deps:
	@tests/tools/deps build test

deps-ci:
	@tests/tools/deps build test valgrind fuzz arm64 bench tidy format

install: all
	install -d '$(DESTDIR)$(PREFIX)/bin'
	install -m 755 $(BUILD)/keyway '$(DESTDIR)$(PREFIX)/bin/keyway'
	install -d '$(DESTDIR)$(PREFIX)/share/keyway/adapters'
	install -m 644 rules/adapters/*.yaml '$(DESTDIR)$(PREFIX)/share/keyway/adapters'

uninstall:
	rm -f '$(DESTDIR)$(PREFIX)/bin/keyway'
	rm -rf '$(DESTDIR)$(PREFIX)/share/keyway'

clean:
	rm -rf build

help:
	@sed -n 's/^#: //p' Makefile

#: make               build/keyway
#: make demo          build, then audit the example job as it came in and as it left
#: make test          unit tests, cases, rule proofs; the last line counts them
#: make units         the unit tests alone        make cases     the cases alone
#: make prove         the rules' own cases and mutations
#: make prove-faults  TUNES (200) random sound tunes, and each known fault planted in a SHARE-th (5) of them
#: make prove-logs    simulated logs of sound cars and of each fault that only a log shows, at 5 to 200 rows a second
#: make check-rooms   the #include lines against the table in src/README.md
#: make format        clang-format; make format-check only looks
#: make tidy          clang-tidy and cppcheck
#: make asan          the tests with address and undefined-behaviour sanitizers
#: make valgrind      the unit tests under valgrind
#: make check-arm64   what has code of its own for arm64, under emulation
#: make fuzz          every fuzzer for FUZZ_SECONDS (20)
#: make bench         start-up and audit in ms, log rows per second
#: make instructions  how many the program takes, against the bounds in tests/bench/instructions
#: make examples      write the generated files of examples/ again
#: make docs          rules/LANGUAGE.md: its table of functions; rules/REFERENCE.md, out of the packs
#: make deps          install the packages that building and testing need
#: make install       to PREFIX (/usr/local), under DESTDIR
#: make clean

-include $(OBJECTS:.o=.d) $(BUILD)/src/cli/main.d $(wildcard $(BUILD)/unit/*.d $(BUILD)/run/*.d)
