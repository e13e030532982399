#!/bin/sh
# The reports themselves: same board, same bytes; the schema leaves nothing open and can fail; names
# from files break no format.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/cli/lib.sh
python=${PYTHON:-/usr/bin/python3}
schema=src/report/isthmus-report.schema.json
demo=$PWD/fixtures/coldframe

# ---- same board, same bytes ----
# report WAY PACKAGE [OPTION...]: text, JSON and picture into $scratch/WAY.*, without what was typed
report() {
    way=$1
    package=$2
    shift 2
    last="check $package ($way)"
    (cd "$scratch" && "$ISTHMUS" check "$package" "$@" --currents="$demo/currents.csv" \
        --board="$demo/board.ini" --json="$way.json" --svg="$way.svg" >"$way.txt" 2>"$way.err")
    code=$?
    out=
    err=$(cat "$scratch/$way.err")
    expect_code 1
    for file in txt json; do
        sed -e "s#--json=$way.json#--json=J#; s#--svg=$way.svg#--svg=S#; s# --threads=[0-9]*##" \
            -e '/^ *"--threads=/d' "$scratch/$way.$file" >"$scratch/$way.cut" && mv "$scratch/$way.cut" "$scratch/$way.$file"
    done
}
expect_same() { # WAY OTHER
    for file in txt json svg err; do
        cmp -s "$scratch/$1.$file" "$scratch/$2.$file" || complain "$1 and $2 differ ($file)"
    done
}

"$python" - "$demo/coldframe.zip" "$scratch" <<'PY'
import os, random, sys, zipfile
source, scratch = sys.argv[1:]
with zipfile.ZipFile(source) as archive:
    files = {name: archive.read(name) for name in archive.namelist()}
names = sorted(files)
os.makedirs(f"{scratch}/shuffled")
for way in range(2):
    random.Random(way).shuffle(names)
    os.makedirs(f"{scratch}/{way}")
    with zipfile.ZipFile(f"{scratch}/{way}/coldframe.zip", "w", zipfile.ZIP_STORED) as archive:
        for name in names:
            archive.writestr(name, files[name])
os.makedirs(f"{scratch}/folder/coldframe.zip")  # a folder of this name: its files are called the same
for name in names:
    with open(f"{scratch}/folder/coldframe.zip/{name}", "wb") as out:
        out.write(files[name])
PY
for order in 0 1 folder; do
    mv "$scratch/$order/coldframe.zip" "$scratch/coldframe.zip"
    report "way$order" coldframe.zip
    rm -rf "$scratch/coldframe.zip"
    expect_same way0 "way$order"
done
cp "$demo/coldframe.zip" "$scratch/coldframe.zip"
report again coldframe.zip --threads=1
report many coldframe.zip --threads=7
expect_same way0 again
expect_same way0 many
LC_ALL=de_DE.UTF-8 LANG=de_DE.UTF-8 TZ=Asia/Tokyo COLUMNS=40 report elsewhere coldframe.zip
expect_same way0 elsewhere

# ---- README shows the demo as it prints today ----
# To the letter, even where a neck is evenly narrow and its place along it is arbitrary.
run check fixtures/coldframe/coldframe.zip --currents=fixtures/coldframe/currents.csv \
    --board=fixtures/coldframe/board.ini
sed -n '/^## The demo/,/^## The table/s/^    //p' README.md >"$scratch/shown"
[ "$(wc -l <"$scratch/shown")" -gt 20 ] || complain "README shows less of the demo than expected"
while IFS= read -r line; do
    expect_out "$line"
done <"$scratch/shown"

# ---- the schema: no place where anything may stand, and every field of a report is in it ----
"$python" - "$schema" "$scratch/way0.json" <<'PY' || complain "the schema or the report is not closed"
import copy, json, sys
import jsonschema

with open(sys.argv[1]) as file:
    schema = json.load(file)
with open(sys.argv[2]) as file:
    report = json.load(file)
jsonschema.Draft7Validator.check_schema(schema)
validator = jsonschema.Draft7Validator(schema)
problems = []


def walk(node, path):
    if isinstance(node, dict):
        if node.get("type") == "object" and node.get("additionalProperties") is not False:
            problems.append(f"{path}: further properties may stand here")
        if node.get("type") == "array" and "items" not in node:
            problems.append(f"{path}: an array of anything")
        for name in node.get("required", []):
            if name not in node["properties"]:
                problems.append(f"{path}: {name} is required, not described")
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else []
    for key, value in items:
        walk(value, f"{path}/{key}")


def damaged(report):
    """Each object of the report with one field too many, and one too few."""
    def objects(node, path):
        if isinstance(node, dict):
            yield path
        for key, value in node.items() if isinstance(node, dict) else enumerate(node):
            if isinstance(value, (dict, list)):
                yield from objects(value, path + [key])

    for path in objects(report, []):
        more = copy.deepcopy(report)
        place = more
        for key in path:
            place = place[key]
        place["surprise"] = 1
        yield path, more
        for name in list(place):
            # these stand where they apply
            if name not in ("surprise", "hole_mm", "width_mm", "layer_to") and len(path) < 5:
                less = copy.deepcopy(report)
                place = less
                for key in path:
                    place = place[key]
                del place[name]
                yield path + [name], less


walk(schema, "")
report["files"], report["facts"] = report["files"][:1], report["facts"][:2]
report["verdicts"], report["findings"] = report["verdicts"][:2], report["findings"][:1]
validator.validate(report)
count = 0
for path, wrong in damaged(report):
    count += 1
    if validator.is_valid(wrong):
        problems.append(f"accepted although damaged at {path}")
if count < 50:
    problems.append(f"only {count} damages tried")
print("\n".join(problems), end="\n" if problems else "")
sys.exit(1 if problems else 0)
PY

# ---- names that would break a format or a terminal ----
good=fixtures/good-wide-strip
mkdir "$scratch/odd"
"$python" - "$good/package" "$scratch/odd" <<'PY'
import os, sys
for name in os.listdir(sys.argv[1]):
    with open(os.path.join(sys.argv[1], name), "rb") as file:
        text = file.read()
    text = text.replace(b"TO.N,MAT*", b'TO.N,<M\x1b[31m\xc2\xb5A&"T]]>*').replace(b"TO.P,J1,", b"TO.P,J\xe4<1,")
    with open(os.path.join(sys.argv[2], name), "wb") as out:
        out.write(text)
PY
run inspect "$scratch/odd" --svg="$scratch/odd.svg"
expect_code 0
reject_out "$(printf '\033')"
expect_out '<M?[31m'
run check "$scratch/odd" --all-nets --json="$scratch/odd.json"
reject_out "$(printf '\033')"
"$python" - "$scratch/odd.svg" "$scratch/odd.json" "$scratch/way0.svg" <<'PY' || complain "a report is no longer well-formed"
import json, sys
import xml.etree.ElementTree as tree
titles = {title.text for title in tree.parse(sys.argv[1]).iter("{http://www.w3.org/2000/svg}title")}
assert '<M?[31m\u00b5A&"T]]>' in titles, titles
with open(sys.argv[2], encoding="utf-8") as file:
    silent = json.load(file)["nets_without_current"]
assert '<M\x1b[31m\u00b5A&"T]]>' in silent, silent
# a net that passes by sum does not look like one that passes
fills = {}
for path in tree.parse(sys.argv[3]).iter("{http://www.w3.org/2000/svg}path"):
    for title in path:
        fills.setdefault(title.text, set()).add(path.get("fill"))
assert fills["HEAT1"] == {"url(#by-sum)"} and fills["V24"] == {"#009e73"}, fills
assert fills["GND"] == {"#d55e00"} and fills["SENS1"] == {"#d9d9d9"}, fills
PY

# a neck of 17 mm gets nothing from its ends; one of 1 mm does
run check fixtures/bad-both-layers/package --currents=fixtures/bad-both-layers/currents.csv
expect_out "12.6 K; too long for wide copper at its ends to cool it"
run check fixtures/bad-curved-neck/package --currents=fixtures/bad-curved-neck/currents.csv
expect_out "39.6 K; between wide copper a neck of this length: 1.8 K (information only)"
finish
