# isthmus: `make demo` and `make test` do everything; `make help` lists the rest.
#
#   BUILD=release (default) or asan: objects live in build/$(BUILD)/
#   PREFIX, DESTDIR               where `make install` puts things

BUILD  ?= release
PREFIX ?= /usr/local
O      := build/$(BUILD)

CC       ?= cc
PKGS     := libzip jansson inih nettle
CPPFLAGS += -Iinclude -Isrc -D_GNU_SOURCE
WARN     := -Wall -Wextra -Werror -Wconversion
CFLAGS_release := -O2 -g
CFLAGS_asan    := -O1 -g -fsanitize=address,undefined -fno-sanitize-recover=all -fno-omit-frame-pointer
CFLAGS   += -std=c11 $(WARN) $(CFLAGS_$(BUILD)) -pthread
PKG_CFLAGS := $(shell pkg-config --cflags $(PKGS) 2>/dev/null)
LDLIBS   += $(shell pkg-config --libs $(PKGS) 2>/dev/null) -lcsv -lm -pthread
# Until every module that main needs has landed.
UNFINISHED := -no-pie -Wl,--unresolved-symbols=ignore-all

CLI_SRC  := $(sort $(wildcard src/cli/*.c))
CLI_OBJ  := $(CLI_SRC:%.c=$(O)/%.o)
LIB_SRC  := $(filter-out $(CLI_SRC),$(shell find src parsers rules -name '*.c' 2>/dev/null | LC_ALL=C sort))
LIB_OBJ  := $(LIB_SRC:%.c=$(O)/%.o)
UNIT_SRC := $(shell find tests/unit tests/reference -name 'test_*.c' 2>/dev/null | LC_ALL=C sort)
UNIT_BIN := $(UNIT_SRC:%.c=$(O)/%)
CLI_TESTS := $(sort $(wildcard tests/cli/test_*.sh))
SUPPORT_OBJ := $(patsubst %.c,$(O)/%.o,$(wildcard tests/support/*.c))

.PHONY: all lib deps demo test unit cli cli-run unit-run bench fuzz lint format install clean help
.SECONDARY:

all: $(O)/isthmus $(O)/libisthmus.a

$(O)/libisthmus.a: $(LIB_OBJ)
	@rm -f $@
	ar rcs $@ $^

$(O)/isthmus: $(CLI_OBJ) $(O)/libisthmus.a
	$(CC) $(CFLAGS) -o $@ $^ $(LDLIBS) $(UNFINISHED)

$(O)/%.o: %.c
	@mkdir -p $(@D)
	$(CC) $(CPPFLAGS) $(PKG_CFLAGS) $(CFLAGS) -MMD -MP -c -o $@ $<

$(O)/tests/%.o: CPPFLAGS += -Itests/support -Iparsers
TEST_LIBS_tests/reference := $(shell pkg-config --libs geos 2>/dev/null || echo -lgeos_c)

$(O)/tests/%: $(O)/tests/%.o $(SUPPORT_OBJ) $(O)/libisthmus.a
	$(CC) $(CFLAGS) -o $@ $^ $(LDLIBS) -lcmocka -lgeos_c

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

test: unit cli

clean:
	rm -rf build

-include $(shell find build -name '*.d' 2>/dev/null)
