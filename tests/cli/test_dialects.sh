#!/bin/sh
# The demo board as other exporters would write it (dialects.py) gives the same findings.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/cli/lib.sh
python=${PYTHON:-/usr/bin/python3}
demo=fixtures/coldframe

last=dialects.py out='' err=''
rows=$demo/currents-by-position.csv
"$python" tests/cli/dialects.py "$demo/coldframe-old.zip" "$scratch" "$rows" || complain "dialects.py failed"
judge() { # NAME PACKAGE [TABLE]
    set -- "$1" check "$2" "--currents=${3-$rows}" "--board=$demo/board.ini" "--json=$scratch/$1.json"
    name=$1
    shift
    while read -r option; do
        set -- "$@" "$option"
    done <"$scratch/$name.options"
    run "$@"
    expect_code 1
}
: >"$scratch/old.options"
judge old "$demo/coldframe-old.zip"
for dialect in tape inches roles; do
    judge "$dialect" "$scratch/$dialect"
done
judge nested "$scratch/nested.zip"
for dialect in tape inches roles nested; do
    "$python" tests/cli/same_findings.py "$scratch/old.json" "$scratch/$dialect.json" ||
        complain "dialect $dialect says something else"
done

# A board is as narrow whichever way it lies. Places of equal cuts may be others: not compared.
for move in turned mirrored; do
    judge "$move" "$scratch/$move" "$scratch/$move.csv"
    "$python" tests/cli/same_findings.py --no-places "$scratch/old.json" "$scratch/$move.json" ||
        complain "the board $move says something else"
done
finish
