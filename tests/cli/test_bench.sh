#!/bin/sh
# isthmus bench from options. Worked numbers: section 9 of the reference sheet (Ohm's law).
. "$(dirname "$0")/lib.sh"

# 5 V, 3 A, 20 mohm of copper: 1.6467 ohm, 14.82 W. A length that has 20 mohm warm: the drop is
# 60 mV when it is right. 8 A, 12 V, 30 mohm of leads: 12.240 V
run bench --current 8A --width 10mm --copper 105um --length 10mm --voltage 12V --leads 30mohm
expect_code 0; expect_clean_err
expect_out "CAUTION"
expect_out "set 12.24 V"
expect_out "Where to look"
expect_out "Stop at once when"
expect_out "105 C"
expect_out "T2 = (234.5 + T1) R2/R1 - 234.5"
expect_out "at least 15 minutes"

# the expected rise is the fit's: 27 x 2.9 mil at 5 A, 29.2 K by IPC-2221, 41.9 K by the newer fit
run bench --current 5A --width 27mil --copper 2.9mil --length 6in
expect_code 0
expect_out "29.2 +-"
expect_out "41.9 K"
expect_out "above the allowed rise of 10 K: conductor"

# named points: 40 mm x 3 mm and 80 mm x 2 mm in a row
run bench --current 4A --width 2mm --copper 35um --segment J1-F1:40mm:3mm --segment F1-Q1:80mm:2mm
expect_code 0; expect_out "J1-F1"; expect_out "F1-Q1"

# the files
run bench --current 4A --width 2mm --copper 35um --html "$scratch/sheet.html" --csv "$scratch/m.csv"
expect_code 0
out=$(cat "$scratch/sheet.html")
expect_out "<!DOCTYPE html>"; expect_out "&Omega;"; expect_out 'class="blank"'
reject_out "http://"; reject_out "https://"
out=$(cat "$scratch/m.csv")
expect_out "place,current_a"; expect_out "conductor,4,"
run bench --current 4A --width 2mm --copper 35um --csv "$scratch/m.csv"
expect_code 2; expect_err "exists already"

# what cannot be is refused, with the reason
run bench --current 8A --width 5mm --copper 70um --supply 30V:5A
expect_code 2; expect_err "cannot give this current"
run bench --current 4A --width 5mm --copper 70um --voltage 40V --supply 30V:5A
expect_code 2; expect_err "cannot give the voltage"
run bench --current 4A --width 5mm --copper 70um --load 3ohm --load-rating 50W
expect_code 2; expect_err "beyond its rating"; expect_err "48 W"; expect_err "32.9 W"
run bench --current 4A --width 5mm --copper 70um --load 3ohm --load-rating 100W:25C:200C
expect_code 0; expect_out "enough"
run bench --current 4A --width 5mm --copper 70um --load-at 200C
expect_code 2; expect_err "cool the load"
run bench --current 20A --width 0.5mm --copper 35um
expect_code 2; expect_err "lower the current"; expect_err "place conductor, 0.5 mm wide"
# by hand: 0.5 mm x 35 um carries 3.61 A at 80 K; nine tenths of it
expect_err "begin with --current 3.2A"
run bench --current 3.2A --width 0.5mm --copper 35um
expect_code 0
run bench --current 1A --width 0.5mm --copper 35um --ambient 110C
expect_code 2; expect_err "see --ambient, --stop"
run bench --current 4A --width 2mm --copper 35um --length 100000mm --voltage 1V
expect_code 2; expect_err "raise the voltage"

run bench --current 4A --width 5mm --copper 70um --load 0ohm
expect_code 2; expect_err "short circuit"

# errors lead to the right call
run bench
expect_code 2; expect_err "isthmus bench --current 8A"
run bench --current 8A --width 2mm
expect_code 2; expect_err "--copper 35um"
run bench --current 8A --copper 35um
expect_code 2; expect_err "--width 2mm"
run bench --current
expect_code 2; expect_err "needs a value"
run bench --current 8A --segment a:b
expect_code 2; expect_err "NAME:LENGTH:WIDTH"
run bench --current 8A --supply 30V
expect_code 2; expect_err "30V:10A"
run bench --current 8A --load-rating 50W:200C:25C
expect_code 2; expect_err "50W:25C:200C"
run bench --current 8A --width 2mm --copper 1oz --layer top
expect_code 2; expect_err "external or internal"
run bench --net FAN
expect_code 2; expect_err "no package"
run bench --help
expect_code 0; expect_out "Usage: isthmus bench"; expect_clean_err

# of a package: the places are those that check names, and the current is the net's own
demo=$(dirname "$0")/../../fixtures/coldframe
if [ -f "$demo/coldframe.zip" ]; then
    set -- "$demo/coldframe.zip" --currents "$demo/currents.csv" --board "$demo/board.ini"
    run check "$@"
    printf '%s\n' "$out" | sed -n 's/^  narrow  *\([^ ]*\) .*least at (\([-0-9., ]*\)) mm.*/\1 \2/p' \
        >"$scratch/narrow"
    [ -s "$scratch/narrow" ] || complain "check names no narrow net of the demo board"
    while read -r net place; do
        run bench "$@" --net "$net"
        expect_code 0; expect_clean_err
        expect_out "Bench test of net $net"
        expect_out "$place"
    done <"$scratch/narrow"
    run bench "$@" --net V24IN --current 2A --csv "$scratch/v24in.csv"
    expect_code 0; expect_out "at 2 A"
    run bench "$@"
    expect_code 2; expect_err "--net is missing"
    run bench "$@" --net v24in
    expect_code 2; expect_err "did you mean --net V24IN?"
    run bench "$@" --net FAN
    if holds "$err" "built without the sheet solve"; then
        expect_code 2; expect_err "--width 2mm"
    else
        expect_code 0; expect_out "No place of this net is narrow"
    fi
    run bench "$@" --net FAN --width 1mm
    expect_code 0; expect_out "conductor"
    run bench "$demo/coldframe.zip" --net V24IN
    expect_code 2; expect_err "needs its current table"
    run bench "$@" --net V24IN --nonsense
    expect_code 2; expect_err "unknown option --nonsense"
else
    echo "skipped: no fixtures/coldframe"
fi
# two ways of running: the worst one, or the one asked for
cases=$(dirname "$0")/../../fixtures/two-cases
if [ -d "$cases" ]; then
    set -- "$cases/package" --currents "$cases/currents.csv" --net MAT
    run bench "$@"
    expect_code 0; expect_out "case frost"; expect_out "at 5 A"
    run bench "$@" --case spring
    expect_code 0; expect_out "case spring"; expect_out "at 3 A"
    printf 'place,current_a,ambient_c,hot_c\n1,3,25,30\n' >"$scratch/mat.csv"
    run compare "$scratch/mat.csv" "$@" --case spring
    expect_out "net MAT, place 1"
    run bench "$@" --case summer
    expect_code 2; expect_err 'no case "summer"'
fi
finish
