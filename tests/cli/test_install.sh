#!/bin/sh
# make install puts the program, the manual, the schema, the library and its headers where PREFIX and
# DESTDIR say; a program outside the project builds on these alone.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/cli/lib.sh
build=$(basename "$(dirname "$ISTHMUS")")
root=$scratch/root
last="make install"
out=
err=$(make -s install BUILD="$build" PREFIX=/opt/isthmus DESTDIR="$root" 2>&1 >/dev/null) ||
    complain "make install failed"
[ "$(ls "$root")" = opt ] || complain "something lies outside PREFIX"
at=$root/opt/isthmus
for file in bin/isthmus lib/libisthmus.a lib/pkgconfig/isthmus.pc include/isthmus/board.h \
    share/man/man1/isthmus.1 share/isthmus/isthmus-report.schema.json; do
    [ -f "$at/$file" ] || complain "not installed: $file"
done
[ "$("$at/bin/isthmus" --version)" = "$("$ISTHMUS" --version)" ] || complain "another version"
grep -q "$scratch" "$at/lib/pkgconfig/isthmus.pc" && complain "DESTDIR stands in isthmus.pc"

# Each header stands alone.
sanitizers=
[ "$build" = asan ] && sanitizers="-fsanitize=address,undefined"
for header in "$at"/include/isthmus/*.h; do
    printf '#include <isthmus/%s>\nextern int nothing;\n' "$(basename "$header")" >"$scratch/one.c"
    err=$(cc -std=c11 -Wall -Wextra -Werror -pedantic -I"$at/include" -fsyntax-only "$scratch/one.c" 2>&1) ||
        complain "$(basename "$header") does not stand alone"
done

PKG_CONFIG_PATH=$at/lib/pkgconfig
PKG_CONFIG_SYSROOT_DIR=$root
export PKG_CONFIG_PATH PKG_CONFIG_SYSROOT_DIR
last="cc external.c"
# shellcheck disable=SC2046,SC2086
err=$(cc -std=c11 -Wall -Wextra -Werror $sanitizers $(pkg-config --cflags isthmus) -o "$scratch/external" \
    tests/cli/external.c $(pkg-config --libs isthmus) 2>&1) || complain "it does not build"
folder=fixtures/bad-neck-beside-fuse
out=$("$scratch/external" "$folder/package" "$folder/currents.csv" 2>&1)
expect_out "$("$ISTHMUS" --version)"
expect_out "MAT verdict 2 margin 0.36"
expect_out "finding 1.000 mm"
finish
