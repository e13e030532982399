#!/bin/sh
# Every fixture: what must fire fires, with the width worked out by hand; the rest stays silent.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/cli/lib.sh
# Debian's own Python: its jsonschema validates the reports.
python=${PYTHON:-/usr/bin/python3}
schema=src/report/isthmus-report.schema.json

for expected in fixtures/*/expected.txt; do
    folder=$(dirname "$expected")
    json="$scratch/$(basename "$folder").json"
    set -- "$folder/package" "--currents=$folder/currents.csv" "--json=$json"
    [ -f "$folder/board.ini" ] && set -- "$@" "--board=$folder/board.ini"
    for option in $(sed -n 's/^option //p' "$expected"); do
        set -- "$@" "$option"
    done
    run check "$@"
    sed -n 's/^text //p' "$expected" >"$scratch/texts"
    while read -r text; do
        expect_out "$text"
    done <"$scratch/texts"
    sed -n 's/^message //p' "$expected" >"$scratch/messages"
    while read -r message; do
        expect_err "$message"
    done <"$scratch/messages"
    if grep -q '^no report' "$expected"; then
        expect_code 2
        [ ! -f "$json" ] || complain "$folder: a report where none can be"
    elif [ ! -f "$json" ]; then
        complain "$folder: no report"
    elif ! "$python" tests/cli/expect.py "$json" "$expected" "$schema" "$code"; then
        complain "$folder: not as expected"
    fi
    sed -n 's/^inspect //p' "$expected" >"$scratch/texts"
    [ ! -s "$scratch/texts" ] || run inspect "$folder/package"
    while read -r text; do
        expect_out "$text"
    done <"$scratch/texts"
done
finish
