#!/bin/sh
# isthmus compare from options.
. "$(dirname "$0")/lib.sh"

# common practice, no source: 2 A over a conductor sized for 10 K, measured 6.3 K above ambient with
# a camera of +-2 K: adequate, the prediction cautious, a thickness within ordinary scatter
cat >"$scratch/story.csv" <<'TABLE'
place,current_a,ambient_c,hot_c,hot_pm_k,method
1,2A,25,31.3,2K,camera
TABLE
run compare "$scratch/story.csv" --width 30.77mil --copper 1oz --svg "$scratch/plot.svg"
expect_code 0; expect_clean_err
expect_out "measured rise 6.3 K"
expect_out "predicted 10 K"
expect_out "COOLER THAN PREDICTED"
expect_out "prediction is cautious"
expect_out "adequate at this current"
expect_out "copper thickness  46.3 um in place of 35 um"
expect_out "ordinary scatter and measurement error reach it"
expect_out "camera                +-2 K       limits, / sqrt 3    1.15"
expect_out "combined: u = "
expect_out "highest current for 10 K"
out=$(cat "$scratch/plot.svg")
expect_out "<svg"; expect_out "</svg>"; reject_out "https://"

# the same in other units is the same answer
run compare "$scratch/story.csv" --width 0.781558mm --copper 35um
metric=$out
run compare "$scratch/story.csv" --width 30.77mil --copper 1oz
[ "$metric" = "$out" ] || complain "mm and um give another answer than mil and oz"

# the same bytes on every run
again=$out
run compare "$scratch/story.csv" --width 30.77mil --copper 1oz
[ "$again" = "$out" ] || complain "two runs differ"

# hotter, and not to be told
printf 'current_a,ambient_c,hot_c\n2,25,45\n' >"$scratch/hot.csv"
run compare "$scratch/hot.csv" --width 30mil --copper 35um
expect_code 1; expect_out "HOTTER THAN PREDICTED"; expect_out "NOT ADEQUATE"
expect_out "assumed: a camera"
printf 'current_a,ambient_c,hot_c\n1,25,27\n' >"$scratch/dim.csv"
run compare "$scratch/dim.csv" --width 30mil --copper 35um
expect_code 2; expect_out "CANNOT TELL"; expect_out "nothing to fit"

# several operating points together, and other currents
cat >"$scratch/many.csv" <<'TABLE'
# one board, one conductor, three currents
current_a,ambient_c,hot_c
2,25,33.5
3,25,46.4
4,25,66
TABLE
run compare "$scratch/many.csv" --width 30mil --copper 35um --at 1A,5A
expect_out "from 3 readings together"; expect_out "rise at 5 A"; expect_out "beyond what was measured"
expect_out "to the power"

# the copper as its own thermometer: ratio 1.1 from 25 C is 25.95 K
printf 'current_a,ambient_c,drop_v,cold_drop_v,cold_current_a,cold_c\n5,25,110mV,20mV,1,25\n' \
    >"$scratch/ohm.csv"
run compare "$scratch/ohm.csv" --width 2mm --copper 35um
expect_out "by copper's resistance"; expect_out "measured rise 25.9 K"

# impossible readings are named
printf 'current_a,ambient_c,hot_c\n2,25,15\n' >"$scratch/cold.csv"
run compare "$scratch/cold.csv" --width 30mil --copper 35um
expect_code 2; expect_out "NOT POSSIBLE"; expect_out "colder than its surroundings"
run compare "$scratch/hot.csv" --width 30mil --copper 35um --supply 30V:1A
expect_code 2; expect_out "more current than the supply can give"
run compare "$scratch/hot.csv" --width 30mil --copper 35um --load 10ohm:25W
expect_code 2; expect_out "beyond its rating"
printf 'current_a,ambient_c,hot_c\n2,-1K,300K\n' >"$scratch/kelvin.csv"
run compare "$scratch/kelvin.csv" --width 30mil --copper 35um
expect_code 2; expect_err "kelvin.csv:2:3: error[measured-value]"

# the table that bench writes is understood once it is filled in
run bench --current 2A --width 30mil --copper 35um --csv "$scratch/blank.csv"
expect_code 0
run compare "$scratch/blank.csv" --width 30mil --copper 35um
expect_code 2; expect_err "has no ambient_c"; expect_err "fill it in"
sed 's/^conductor,2,,,,,/conductor,2,,25,,34.9,/' "$scratch/blank.csv" >"$scratch/filled.csv"
run compare "$scratch/filled.csv" --width 30mil --copper 35um
expect_code 0; expect_out "AGREES"

# errors lead to the right call
run compare
expect_code 2; expect_err "isthmus compare MEASURED.csv --width 2mm"
run compare "$scratch/story.csv"
expect_code 2; expect_err "--width is missing"
run compare "$scratch/story.csv" --width 1mm
expect_code 2; expect_err "--copper is missing"
run compare "$scratch/none.csv" --width 1mm --copper 1oz
expect_code 2; expect_err "cannot read"
run compare "$scratch/story.csv" --net FAN
expect_code 2; expect_err "no package given"
run compare "$scratch/story.csv" --width 1mm --copper 1oz --layer top
expect_code 2; expect_err "external or internal"
run compare "$scratch/story.csv" --width 1mm --copper 1oz --load 3ohm
expect_code 2; expect_err "1.5ohm:50W"

# of a package: the place and its copper come from the check
demo=$(dirname "$0")/../../fixtures/coldframe
if [ -f "$demo/coldframe.zip" ]; then
    set -- "$demo/coldframe.zip" --currents "$demo/currents.csv" --board "$demo/board.ini"
    printf 'place,current_a,ambient_c,hot_c\n1,5A,25,45\n' >"$scratch/v24in.csv"
    run compare "$scratch/v24in.csv" "$@" --net V24IN
    expect_out "net V24IN, place 1 at "; expect_out "allowed rise 20 K"; expect_out "HOTTER"
    expect_code 1
    printf 'place,current_a,ambient_c,hot_c\n7,5A,25,45\n' >"$scratch/none.csv"
    run compare "$scratch/none.csv" "$@" --net V24IN
    expect_code 2; expect_err 'no place "7"'
    run compare "$scratch/none.csv" "$@" --net V24IN --place 1
    expect_code 1; expect_out "place 1 at "
    # bench says 20.4 K as a neck at 16.8 A
    printf 'place,current_a,ambient_c,hot_c\n1,16.8A,30,46\n' >"$scratch/cool.csv"
    run compare "$scratch/cool.csv" "$@" --net V24IN
    expect_code 0; expect_out "COOLER"; expect_out "it would reach 20.4 K"
    run compare "$scratch/v24in.csv" "$@"
    expect_code 2; expect_err "--net is missing"
    run compare "$scratch/v24in.csv" "$demo/coldframe.zip" --net V24IN
    expect_code 2; expect_err "needs its current table"
else
    echo "skipped: no fixtures/coldframe"
fi
run compare --help
expect_code 0; expect_out "Usage: isthmus compare"; expect_clean_err
finish
