#!/bin/sh
# Real packages with tables that a user of these boards would write. Every finding was looked at in
# a picture of the copper once (tests/reference/real/README.md); the results are kept beside the
# tables. Where a strip is evenly narrow, its worst place may lie anywhere along it: the last number
# of a line is how far (mm).
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/cli/lib.sh
if [ -z "${ISTHMUS_BOARDS:-}" ]; then
    echo "skipped: set ISTHMUS_BOARDS to a folder of real packages"
    exit 0
fi
python=${PYTHON:-/usr/bin/python3}
schema=src/report/isthmus-report.schema.json

for expected in tests/reference/real/*/expected.txt; do
    folder=$(dirname "$expected")
    json="$scratch/$(basename "$folder").json"
    run check "$ISTHMUS_BOARDS/$(basename "$folder")" --currents="$folder/currents.csv" --json="$json"
    if [ ! -f "$json" ]; then
        complain "$folder: no report"
    elif ! "$python" tests/cli/expect.py "$json" "$expected" "$schema" "$code" \
        --findings-only; then
        complain "$folder: not as expected"
    fi
done
finish
