#!/bin/sh
# Every exit code and every error of check, inspect, table and explain, as a user meets them.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/cli/lib.sh
good=fixtures/good-wide-strip
bad=fixtures/bad-neck-beside-fuse

# ---- the program itself ----
run --version
expect_code 0
expect_out "isthmus "
run --help
expect_code 0
expect_out "isthmus check"
run
expect_code 2
run chekc
expect_code 2
expect_err "did you mean isthmus check?"

# ---- exit codes of check ----
run check "$good/package" --currents="$good/currents.csv"
expect_code 0
expect_clean_err
expect_out "pass"
run check "$bad/package" --currents="$bad/currents.csv"
expect_code 1
expect_out "narrow: net MAT, top, at ("
expect_out "1.000 mm found, 2.766 mm needed for 5 A at 10 K"
expect_out "Cautions"
run check "$good/package"
expect_code 0
expect_out "NO WIDTH WAS JUDGED"
run check "$good/package" --currents="$good/currents.csv" --all-nets
expect_code 0
run check fixtures/good-by-sum/package --currents=fixtures/good-by-sum/currents.csv --strict
expect_code 2
expect_out "could not judge"
run check "$bad/package" --currents="$bad/currents.csv" --units=mil
expect_code 1
expect_out "39.4 mil found"
run check "$bad/package" --currents="$bad/currents.csv" --outer-copper=105um
expect_code 0
expect_out "105 um (option)"

# ---- several files, names of their own, roles ----
run check "$good"/package/* --currents="$good/currents.csv"
expect_code 0
mkdir "$scratch/odd"
cp "$good"/package/* "$scratch/odd"
mv "$scratch/odd/board-top.gbr" "$scratch/odd/thing.gbr"
grep -v FileFunction "$scratch/odd/thing.gbr" >"$scratch/odd/t" && mv "$scratch/odd/t" "$scratch/odd/thing.gbr"
run check "$scratch/odd" --currents="$good/currents.csv"
expect_code 2
expect_err "--role"
run check "$scratch/odd" --currents="$good/currents.csv" --role=thing.gbr=top
expect_code 0

# A copy of a file, or the folder's own zip in the folder, is read once; a file that differs is not.
rm -rf "$scratch/copies" && cp -r "$bad/package" "$scratch/copies"
/usr/bin/python3 -m zipfile -c "$scratch/own.zip" "$bad/package"
mv "$scratch/own.zip" "$scratch/copies"
cp "$bad/package/board-top.gbr" "$scratch/copies/board-top - Copy.gbr"
run check "$scratch/copies" --currents="$bad/currents.csv"
expect_code 1
expect_out "1.000 mm found, 2.766 mm needed for 5 A at 10 K"
run inspect "$scratch/copies"
expect_code 0
expect_out "set aside; by the same bytes as copies/board-top - Copy.gbr"
sed 's/G75\*/G75*\nG04 other*/' "$bad/package/board-top.gbr" >"$scratch/copies/board-top - Copy.gbr"
run check "$scratch/copies" --currents="$bad/currents.csv"
expect_code 2
expect_err "two files for one copper layer"

# ---- no copper layer is left out silently: by its name, or by pads over the holes ----
mkdir "$scratch/layers"
/usr/bin/python3 -m zipfile -e fixtures/coldframe/coldframe-old.zip "$scratch/layers"
set -- --currents=fixtures/coldframe/currents-by-position.csv --board=fixtures/coldframe/board.ini
run check "$scratch/layers" "$@"
expect_code 1
cp "$scratch/layers/COLDFRAM.GTS" "$scratch/layers/some.gbr"
run check "$scratch/layers" "$@"
expect_code 1
expect_err "not part of the check"
cp "$scratch/layers/COLDFRAM.GBL" "$scratch/layers/some.gbr"
run check "$scratch/layers" "$@"
expect_code 2
expect_err "layers/some.gbr: error[roles-copper-like]"
run check "$scratch/layers" "$@" --role=some.gbr=ignore
expect_code 1
mv "$scratch/layers/some.gbr" "$scratch/layers/copper_x.gbr"
run check "$scratch/layers" "$@"
expect_code 2
expect_err "is named like copper"

# Copper that cannot be read is the one thing told: its holes are compared with nothing.
rm "$scratch/layers/copper_x.gbr"
for side in GTL GBL GTS GBS; do
    grep -v MOMM "$scratch/layers/COLDFRAM.$side" >"$scratch/t" && cp "$scratch/t" "$scratch/layers/COLDFRAM.$side"
done
run check "$scratch/layers" "$@"
expect_code 2
expect_err "COLDFRAM.GBL:25:1: error[gerber-unit-unknown]"
case $err in *drill-*) complain "the drill files are blamed" ;; esac

# ---- bad input ----
run check
expect_code 2
expect_err "no package given"
run check nowhere.zip --currents="$good/currents.csv"
expect_code 2
expect_err "nowhere.zip"
run check "$good/package" --currents=nowhere.csv
expect_code 2
expect_err "nowhere.csv"
run check "$good/package" --curents=x
expect_code 2
expect_err "--currents"
run check "$good/package" --units=furlong
expect_code 2
expect_err "neither mm nor mil"
run check "$good/package" --board-at=here
expect_code 2
expect_err "--board-at"
run check "$good/package" --rise=-3K --currents="$good/currents.csv"
expect_code 2
expect_err "--rise"
run check "$good/package" --role=nothing.gbr=top --currents="$good/currents.csv"
expect_code 2
expect_err "nothing.gbr"
run check "$good/package" --role=board-top.gbr=upper --currents="$good/currents.csv"
expect_code 2
expect_err "upper"

printf 'net,pin,current_a\nMATT,J1.1,5\n' >"$scratch/t.csv"
run check "$good/package" --currents="$scratch/t.csv"
expect_code 2
expect_err "t.csv:2:1: error[currents-net-unknown]: net MATT not found; did you mean MAT?"
printf 'net,pin,current_a\nMAT,J1.2,5\n' >"$scratch/t.csv"
run check "$good/package" --currents="$scratch/t.csv"
expect_code 2
expect_err "did you mean J1.1?"
printf 'net,pin,curent_a\nMAT,J1.1,5\n' >"$scratch/t.csv"
run check "$good/package" --currents="$scratch/t.csv"
expect_code 2
expect_err "current_a"
: >"$scratch/t.csv"
run check "$good/package" --currents="$scratch/t.csv"
expect_code 2
printf '[copper]\noutter = 35 um\n' >"$scratch/b.ini"
run check "$good/package" --currents="$good/currents.csv" --board="$scratch/b.ini"
expect_code 2
expect_err "b.ini:2"
expect_err "outer"

# A drawing that ends in the middle, one that is no drawing, one that draws with what is not there.
for damage in 'head -c 300' 'sed s/D10\*/D99*/'; do
    rm -rf "$scratch/dam" && cp -r "$good/package" "$scratch/dam"
    $damage "$good/package/board-top.gbr" >"$scratch/dam/board-top.gbr"
    run check "$scratch/dam" --currents="$good/currents.csv"
    expect_code 2
    expect_err "board-top.gbr"
done

printf 'G04 cut off' >"$scratch/dam/board-top.gbr"
run check "$scratch/dam" --currents="$good/currents.csv"
expect_code 2
expect_err "2 copper layers, but 1 copper files were found"

# ---- nothing of the user's is overwritten ----
printf 'my notes\n' >"$scratch/notes.txt"
run check "$good/package" --currents="$good/currents.csv" --json="$scratch/notes.txt"
expect_code 2
expect_err "was not written by isthmus"
[ "$(cat "$scratch/notes.txt")" = "my notes" ] || complain "notes.txt was overwritten"
run check "$good/package" --currents="$good/currents.csv" --json="$scratch/r.json" --svg="$scratch/r.svg"
expect_code 0
run check "$good/package" --currents="$good/currents.csv" --json="$scratch/r.json" --svg="$scratch/r.svg"
expect_code 0

# What is read is not overwritten either, whoever wrote it; a table that isthmus began holds the
# user's currents.
rm -rf "$scratch/own" && cp -r "$good/package" "$scratch/own"
run table "$good/package"
printf '%s\n' "$out" | sed 's/^MAT,,,/MAT,,5,/' >"$scratch/own/mine.csv"
cp "$scratch/own/mine.csv" "$scratch/own/other.csv"
for output in own/mine.csv own/other.csv own/board-top.gbr; do
    run check "$scratch/own" --currents="$scratch/own/mine.csv" --svg="$scratch/$output"
    expect_code 2
    expect_err "$output"
done
cmp -s "$good/package/board-top.gbr" "$scratch/own/board-top.gbr" || complain "a drawing was overwritten"
cmp -s "$scratch/own/mine.csv" "$scratch/own/other.csv" || complain "a table was overwritten"
run check "$scratch"/own/*.gbr --currents="$good/currents.csv" --json="$scratch/own/../own/board-top.gbr"
expect_code 2
expect_err "is read, and must not be overwritten"
run check "$good/package" --currents="$good/currents.csv" --json="$scratch/same" --svg="$scratch/own/../same"
expect_code 2
expect_err "name the same file"
[ -e "$scratch/same" ] && complain "a file was made though the options were refused"
for where in nowhere/r.json own; do
    run check "$good/package" --currents="$good/currents.csv" --json="$scratch/$where"
    expect_code 2
    expect_err "cannot write"
done
run check "$good/package" --json= --currents="$good/currents.csv"
expect_code 2
expect_err "--json needs a value"
run check "$good/package" --currents="$good/currents.csv" --json=-
expect_code 0
expect_err "Verdicts, worst first"
printf '%s' "$out" | /usr/bin/python3 -m json.tool >/dev/null || complain "--json=- wrote more than JSON"

# ---- same board, same bytes: whatever the order in the zip, the threads, the run ----
/usr/bin/python3 - "$bad/package" "$scratch" <<'PY'
import os, sys, zipfile
names = sorted(os.listdir(sys.argv[1]))
for out, order in (("a.zip", names), ("b.zip", names[::-1])):
    os.makedirs(os.path.join(sys.argv[2], out[0]), exist_ok=True)
    with zipfile.ZipFile(os.path.join(sys.argv[2], out[0], "p.zip"), "w") as archive:
        for name in order:
            archive.write(os.path.join(sys.argv[1], name), name)
PY
for way in a b; do
    (cd "$scratch/$way" && "$ISTHMUS" check p.zip --currents="$OLDPWD/$bad/currents.csv" \
        --json=out.json >out.txt 2>/dev/null)
done
cmp -s "$scratch/a/out.json" "$scratch/b/out.json" || complain "reports differ with the zip's order"
cmp -s "$scratch/a/out.txt" "$scratch/b/out.txt" || complain "texts differ with the zip's order"

# Nets and conductors are worked on side by side: the demo board has more of them than hands.
for command in inspect table; do
    "$ISTHMUS" $command fixtures/coldframe/coldframe.zip --threads=1 >"$scratch/alone.txt" 2>&1
    for hands in 2 3 64; do
        "$ISTHMUS" $command fixtures/coldframe/coldframe.zip --threads=$hands 2>&1 |
            sed "s/--threads=$hands/--threads=1/" >"$scratch/together.txt"
        cmp "$scratch/alone.txt" "$scratch/together.txt" ||
            complain "$command differs with $hands threads"
    done
done
grep -q 'copper good for' "$scratch/alone.txt" || complain "the table measured nothing"

# ---- inspect, table, explain ----
run inspect "$good/package"
expect_code 0
expect_out "attribute .FileFunction"
expect_out "MAT"
expect_out "J1.1"
run table "$good/package"
expect_code 0
expect_out "net,pin,current_a"
expect_out "MAT,J1.1,"
printf '%s\n' "$out" >"$scratch/starter.csv"
run check "$good/package" --currents="$scratch/starter.csv"
expect_code 2
# A pin whose name a row cannot hold is asked by its place: what table writes, check reads.
rm -rf "$scratch/odd" && cp -r "$good/package" "$scratch/odd"
sed 's/[.]P,J1,1/.P,J1,A 1/' "$good/package/board-top.gbr" >"$scratch/odd/board-top.gbr"
run table "$scratch/odd"
expect_out "MAT,,,,"
reject_out "J1.A 1"
printf '%s\n' "$out" | sed 's/^\(MAT,[^,]*\),,/\1,2,/' >"$scratch/starter.csv"
run check "$scratch/odd" --currents="$scratch/starter.csv"
expect_code 0
run explain copper-width
expect_code 0
expect_out "IPC-2221"
run explain
expect_code 2
run explain copper-wdth
expect_code 2
for command in check inspect table explain size; do
    run "$command" --help
    expect_code 0
    expect_out "Usage"
done
NO_COLOR=1 run check "$bad/package" --currents="$bad/currents.csv"
reject_out "$(printf '\033')"
finish
