#!/bin/sh
# Split and joined nets as a user meets them: with a table, without one, on a board without names.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/cli/lib.sh

# fixtures/small.py split_net: two areas that end at x = 19 and x = 21
run check fixtures/split-net/package --json="$scratch/split.json" --svg="$scratch/split.svg"
expect_code 1
expect_out "NO WIDTH WAS JUDGED"
expect_out "1 nets by name: 1 split, 0 joins"
expect_out "split: net MAT hangs on 2 pieces of copper"
expect_out "gap          2.000 mm"
expect_out "J1.1 | J2.1"
grep -q '"join_to_add": null' "$scratch/split.json" || complain "the report lacks the finding"

# fixtures/small.py joined: one area 6 mm wide between the pads of two nets
run check fixtures/joined-nets/package --json="$scratch/joined.json"
expect_code 1
expect_out "joined: nets RETURN and CHASSIS are one piece of copper"
expect_out "width        6.000 mm"
expect_out "[joins]"
expect_out "CHASSIS = RETURN"
grep -q '"join_to_add": "CHASSIS = RETURN"' "$scratch/joined.json" || complain "the report lacks the line"

# the proposed line, taken at its word
printf '[joins]\nCHASSIS = RETURN\n' >"$scratch/board.ini"
run check fixtures/joined-nets/package --board="$scratch/board.ini"
expect_code 0
expect_out "2 nets by name: 0 split, 0 joins"

# a net of the table that is joined could not be judged; the finding is there all the same
run check fixtures/joined-nets/package --currents=fixtures/joined-nets/currents.csv
expect_code 2
expect_out "could not judge RETURN"
expect_out "joined: nets RETURN and CHASSIS"

run check fixtures/coldframe/coldframe.zip
expect_code 0
expect_out "23 nets by name: 0 split, 0 joins"
run check fixtures/coldframe/coldframe-old.zip
expect_code 2
expect_out "no net has a name"

for rule in net-split net-joined; do
    run explain "$rule"
    expect_code 0
    expect_out "$rule: "
done
for report in split joined; do
    "${PYTHON:-/usr/bin/python3}" -c 'import json, sys, jsonschema
jsonschema.Draft7Validator(json.load(open(sys.argv[2]))).validate(json.load(open(sys.argv[1])))' \
        "$scratch/$report.json" src/report/isthmus-report.schema.json || complain "$report.json is not valid"
done
finish
