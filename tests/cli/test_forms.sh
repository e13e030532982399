#!/bin/sh
# The demo board in three forms gives the same findings: names by attributes, by a netlist alone, and
# by nothing but the positions in the table. And the comparison is able to fail.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/cli/lib.sh
python=${PYTHON:-/usr/bin/python3}
demo=fixtures/coldframe

check_form() { # PACKAGE TABLE
    run check "$demo/$1.zip" "--currents=$demo/$2.csv" "--board=$demo/board.ini" \
        "--json=$scratch/$1.json"
    expect_code 1
}
check_form coldframe currents
check_form coldframe-netlist currents
check_form coldframe-old currents-by-position
"$python" tests/cli/same_findings.py "$scratch/coldframe.json" "$scratch/coldframe-netlist.json" \
    "$scratch/coldframe-old.json" || complain "the three forms differ"

sed 's/"net": "LIGHT"/"net": "FAN"/' "$scratch/coldframe-netlist.json" >"$scratch/other.json"
"$python" tests/cli/same_findings.py "$scratch/coldframe.json" "$scratch/other.json" >/dev/null &&
    complain "a finding of another net was taken for the same"
finish
