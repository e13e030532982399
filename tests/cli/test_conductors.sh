#!/bin/sh
# A board that names nothing: conductors by number, in the list, the picture and the starter table;
# the table's rows, with the # taken off, are a table that names them.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/cli/lib.sh
package=fixtures/coldframe/coldframe-old.zip

run inspect --conductors "$package" "--svg=$scratch/board.svg"
expect_code 0
# the ground area runs from 4 to 97 and 4 to 76 mm (fixtures/coldframe.py) and hangs on eight pads
expect_out "mm2  (4.000, 4.000) mm to (97.000, 76.000) mm top bottom  (no name)"
expect_out "8 terminals: (74.50, 14.00) hole, (8.00, 54.00) hole"
count=$(printf '%s\n' "$out" | grep -c 'mm2')
for number in 1 2 "$count"; do
    grep -q "<text [^>]*>$number</text>" "$scratch/board.svg" || complain "no number $number in the picture"
done
grep -q ">$((count + 1))</text>" "$scratch/board.svg" && complain "a number too many in the picture"

run inspect "$package" "--svg=$scratch/plain.svg"
expect_code 0
expect_out "Nets: 0"

run table "$package"
expect_code 0
expect_out "#NET2,,,,93.0000,65.0000,top,,conductor 2 of 757.4 mm2; copper good for more than 4.5 A at 10 K"
# what its copper is good for is the same as where the pin has a name
expect_out "#NET2,,,,93.0000,18.0000,top,,conductor 2 of 757.4 mm2; copper good for 2.4 A at 10 K"
run table fixtures/coldframe/coldframe.zip
expect_out "V24,J5.1,,,,,,,copper good for 2.4 A at 10 K"
run table "$package"
printf '%s\n' "$out" | sed -n 's/^#\(NET[2-6],\)/\1/p' >"$scratch/rows"
{ printf 'net,pin,current_a,rise_k,x_mm,y_mm,layer,case,note\nNET2,,1,,,,,,\n'; cat "$scratch/rows"; } >"$scratch/named.csv"
run check "$package" "--currents=$scratch/named.csv"
expect_out "5 nets by name: 0 split, 0 joins"
expect_out "NET2 "

# a list alone does not say why the code is 2
for view in "inspect --conductors" table; do
    run $view fixtures/holes-missing
    expect_code 2
    expect_err "error[drill-missing]"
done

run check --conductors "$package"
expect_code 2
finish
