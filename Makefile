# isthmus: `make demo` and `make test` do everything; `make help` lists the rest.
#
#   BUILD=release (default), asan or tsan: objects live in build/$(BUILD)/ (SOLVE=0: build/$(BUILD)-unsolved/)
#   SOLVE=1 (default) or 0      0: without the sheet solve, and without SuiteSparse
#   PREFIX, DESTDIR               where `make install` puts things

BUILD  ?= release
SOLVE  ?= 1
PREFIX ?= /usr/local
O      := build/$(BUILD)$(if $(filter 0,$(SOLVE)),-unsolved)

CC       ?= cc
PKGS     := libzip jansson inih nettle
CPPFLAGS += -Iinclude -Isrc -D_GNU_SOURCE
WARN     := -Wall -Wextra -Werror -Wconversion
CFLAGS_release := -O2 -g
CFLAGS_asan    := -O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer
CFLAGS_tsan    := -O1 -g -fsanitize=thread
CFLAGS   += -std=c11 $(WARN) $(CFLAGS_$(BUILD)) -pthread
PKG_CFLAGS := $(shell pkg-config --cflags $(PKGS) 2>/dev/null)
LDLIBS   += $(shell pkg-config --libs $(PKGS) 2>/dev/null) -lcsv -lm -pthread

CLI_SRC  := $(sort $(wildcard src/cli/*.c))
CLI_OBJ  := $(CLI_SRC:%.c=$(O)/%.o)
LIB_SRC  := $(filter-out $(CLI_SRC),$(shell find src parsers rules -name '*.c' 2>/dev/null | LC_ALL=C sort))
UNIT_SRC := $(shell find tests/unit tests/reference -name 'test_*.c' 2>/dev/null | LC_ALL=C sort)
# The sheet solve's one dependency stands behind one file.
ifeq ($(SOLVE),0)
LIB_SRC  := $(filter-out src/solve/sparse.c,$(LIB_SRC))
UNIT_SRC := $(filter-out %/test_solve.c tests/reference/test_solve_% tests/reference/test_drop_%,$(UNIT_SRC))
else
LIB_SRC  := $(filter-out src/solve/sparse_none.c,$(LIB_SRC))
LDLIBS   += -lcxsparse
endif
LIB_OBJ  := $(LIB_SRC:%.c=$(O)/%.o)
UNIT_BIN := $(UNIT_SRC:%.c=$(O)/%)
CLI_TESTS := $(sort $(wildcard tests/cli/test_*.sh))
SUPPORT_OBJ := $(patsubst %.c,$(O)/%.o,$(wildcard tests/support/*.c))

.PHONY: all lib deps bench-run demo test unit cli cli-run unit-run bench fuzz fuzz-run lint format install clean help
.SECONDARY:

all: $(O)/isthmus $(O)/libisthmus.a

$(O)/libisthmus.a: $(LIB_OBJ)
	@rm -f $@
	ar rcs $@ $^

$(O)/isthmus: $(CLI_OBJ) $(O)/libisthmus.a
	$(CC) $(CFLAGS) -o $@ $^ $(LDLIBS)

$(O)/%.o: %.c
	@mkdir -p $(@D)
	$(CC) $(CPPFLAGS) $(PKG_CFLAGS) $(CFLAGS) -MMD -MP -c -o $@ $<

$(O)/tests/%.o: CPPFLAGS += -Itests/support -Iparsers

$(O)/tests/%: $(O)/tests/%.o $(SUPPORT_OBJ) $(O)/libisthmus.a
	$(CC) $(CFLAGS) -o $@ $^ $(LDLIBS) -lcmocka -lgeos_c -ligraph

# Every unit and reference test, under AddressSanitizer and UBSan.
unit:
	$(MAKE) --no-print-directory BUILD=asan unit-run

unit-run: $(UNIT_BIN)
	@failed=0; for t in $(UNIT_BIN); do echo "== $$t"; $$t || failed=1; done; exit $$failed

# Every command as a user types it: tests/cli/test_*.sh, with ISTHMUS naming the program.
cli:
	$(MAKE) --no-print-directory BUILD=asan cli-run

cli-run: $(O)/isthmus
	@failed=0; for t in $(CLI_TESTS); do echo "== $$t"; \
	    ISTHMUS="$(CURDIR)/$(O)/isthmus" sh $$t || failed=1; done; exit $$failed

# Every fuzz target on its seeds and a fixed number of mutations of them, always the same ones.
# Target tests/fuzz/fuzz_x.c, seeds tests/fuzz/seeds/x/, words tests/fuzz/fuzz_x.dict.
FUZZ_SRC   := $(sort $(wildcard tests/fuzz/fuzz_*.c))
FUZZ_BIN   := $(FUZZ_SRC:%.c=$(O)/%)
FUZZ_COUNT ?= 3000

$(O)/tests/fuzz/fuzz_%: $(O)/tests/fuzz/fuzz_%.o $(O)/tests/fuzz/driver.o $(O)/libisthmus.a
	$(CC) $(CFLAGS) -o $@ $^ $(LDLIBS)

fuzz:
	$(MAKE) --no-print-directory BUILD=asan fuzz-run

fuzz-run: $(FUZZ_BIN)
	@failed=0; for t in $(FUZZ_BIN); do n=$${t##*/fuzz_}; \
	    FUZZ_DICT=tests/fuzz/fuzz_$$n.dict FUZZ_CRASH=$(O)/tests/fuzz/crash-$$n \
	    $$t tests/fuzz/seeds/$$n $(FUZZ_COUNT) || failed=1; done; exit $$failed

test:
	@.ci/deps test
	$(MAKE) --no-print-directory unit cli fuzz

# The main job on the board shipped with the project: it finds the faults that were planted there.
demo:
	@.ci/deps build
	@$(MAKE) --no-print-directory all
	@code=0; $(O)/isthmus check fixtures/coldframe/coldframe.zip \
	    --currents=fixtures/coldframe/currents.csv --board=fixtures/coldframe/board.ini || code=$$?; \
	if [ $$code -eq 1 ]; then echo; echo "The demo ran as it should: exit code 1, the faults planted on this board were found."; \
	else echo "The demo should end with exit code 1, not $$code"; exit 1; fi

deps:
	@.ci/deps test

BENCH_BIN := $(patsubst %.c,$(O)/%,$(sort $(wildcard tests/bench/bench_*.c)))
bench:
	@.ci/deps test
	@$(MAKE) --no-print-directory bench-run

bench-run: all $(BENCH_BIN)
	@for b in $(BENCH_BIN); do echo "== $$b"; ISTHMUS="$(CURDIR)/$(O)/isthmus" $$b || exit 1; done

# A run of clang-tidy a file: in one run over several its va_list check mistakes one for another.
SOURCES := $(shell find include src parsers rules tests -name '*.[ch]' | LC_ALL=C sort)
lint:
	@.ci/deps lint
	clang-format --dry-run -Werror $(SOURCES)
	cppcheck --quiet --std=c11 --enable=warning,portability --inline-suppr --error-exitcode=1 \
	    --suppress=missingIncludeSystem --suppress=varFuncNullUB -Iinclude -Isrc -Iparsers src parsers rules
	printf '%s\n' $(CLI_SRC) $(LIB_SRC) | xargs -P $$(nproc) -n 1 sh -c \
	    'clang-tidy --quiet "$$0" -- -std=c11 $(CPPFLAGS) -Iparsers $(PKG_CFLAGS) 2>/dev/null'

format:
	clang-format -i $(SOURCES)

VERSION := $(shell sed -n 's/^.define ISTHMUS_VERSION "\(.*\)"/\1/p' include/isthmus/version.h)
install: all
	install -d $(DESTDIR)$(PREFIX)/bin $(DESTDIR)$(PREFIX)/lib/pkgconfig $(DESTDIR)$(PREFIX)/include/isthmus \
	    $(DESTDIR)$(PREFIX)/share/man/man1 $(DESTDIR)$(PREFIX)/share/isthmus
	install -m 755 $(O)/isthmus $(DESTDIR)$(PREFIX)/bin/isthmus
	install -m 644 $(O)/libisthmus.a $(DESTDIR)$(PREFIX)/lib/libisthmus.a
	sed -e 's,@PREFIX@,$(PREFIX),' -e 's,@VERSION@,$(VERSION),' -e 's,@LIBS@,$(strip $(LDLIBS)),' src/isthmus.pc.in \
	    > $(DESTDIR)$(PREFIX)/lib/pkgconfig/isthmus.pc
	install -m 644 include/isthmus/*.h $(DESTDIR)$(PREFIX)/include/isthmus/
	install -m 644 src/cli/isthmus.1 $(DESTDIR)$(PREFIX)/share/man/man1/isthmus.1
	install -m 644 src/report/isthmus-report.schema.json $(DESTDIR)$(PREFIX)/share/isthmus/

help:
	@echo "make             build the program and the library into build/release"
	@echo "make demo        install what is missing, build, check the shipped board"
	@echo "make test        every test, under AddressSanitizer and UBSan"
	@echo "make bench       measured speed and memory"
	@echo "make SOLVE=0     without the sheet solve, which needs SuiteSparse (LGPL)"
	@echo "make lint        clang-format, cppcheck, clang-tidy"
	@echo "make install     PREFIX (default /usr/local) and DESTDIR are honoured"
	@echo "make deps        install the Debian packages that are missing"

clean:
	rm -rf build

-include $(shell find build -name '*.d' 2>/dev/null)
