#!/usr/bin/env python3
"""Writes the demo board as other exporters would: the same board in other words.

usage: dialects.py COLDFRAME-OLD.zip FOLDER TABLE.csv

FOLDER gets a package a dialect (a folder or NAME.zip) and NAME.options, one option a line; and the
board turned and mirrored, with the rows of TABLE.csv moved likewise in NAME.csv. The
old-style package is the source: millimetres 3.3, one command a line, no arcs, no attributes. Each dialect
rewrites several things at once that do not touch each other; the bottom keeps its very numbers, as
along its strips of one width the last bit decides which place is told. Conventions: common practice, no source;
the deprecated commands are those of the published format specification.
"""
import io
import os
import re
import sys
import zipfile

MM_PER_INCH = 25.4
COORDINATE = re.compile(r"([XY])(-?\d+)")


def read(path):
    with zipfile.ZipFile(path) as archive:
        return {name[9:-4] if name.endswith(".DRL") else name[-3:]: archive.read(name).decode()
                for name in archive.namelist()}


# ---- drawings ----

def words(text):
    return text.replace("\r", "").strip().split("\n")


def trailing_omitted(text):
    """%FST: six digits, the zeros at the end left out."""
    def number(match):
        sign, digits = ("-", match[2][1:]) if match[2][0] == "-" else ("", match[2])
        return match[1] + sign + (digits.rjust(6, "0").rstrip("0") or "0")
    return "\n".join(COORDINATE.sub(number, w) if not w.startswith(("%", "G04")) else w
                     for w in words(text)).replace("%FSLAX33Y33", "%FSTAX33Y33")


def incremental(text):
    """%FSLI: each number is the way from the last place."""
    at = {"X": 0, "Y": 0}

    def number(match):
        way = int(match[2]) - at[match[1]]
        at[match[1]] = int(match[2])
        return match[1] + str(way)
    return "\n".join(COORDINATE.sub(number, w) if not w.startswith(("%", "G04")) else w
                     for w in words(text)).replace("%FSLAX33Y33", "%FSLIX33Y33")


def inch(text):
    """Inch 2.6 by G70; a micrometre and less is lost."""
    def number(match):
        return match[1] + str(round(int(match[2]) / 1000 / MM_PER_INCH * 10 ** 6))

    def size(match):
        sides = [f"{float(side) / MM_PER_INCH:.9f}" for side in match[2].split("X")]
        return match[1] + "X".join(sides) + "*%"
    out = [re.sub(r"(%ADD\d+[A-Z],)(.*)\*%", size, w) if w.startswith("%") else
           w if w.startswith("G04") else COORDINATE.sub(number, w) for w in words(text)]
    return "\n".join(out).replace("%FSLAX33Y33*%", "%FSLAX26Y26*%").replace("%MOMM*%", "G70*")


def modal(text):
    """D01 said once for a row of strokes, G01 in each word, G54 before apertures."""
    out, last = [], None
    for w in words(text):
        operation = re.search(r"D0([123])\*$", w)
        if operation and operation[1] == "1" and last == "1":
            w = w[:-4] + "*"
        if w.startswith(("%", "G3")) or re.match(r"D\d\d+\*", w):
            last = None
        if operation:
            last = operation[1]
        out.append("G54" + w if re.match(r"D[1-9]\d", w) else "G01" + w if w[0] in "XY" else w)
    return "\n".join(out)


def negative(text):
    """IPNEG: all that is bare is drawn; beyond 20 mm round the board nothing is."""
    frame = ("G36*\nX-20000Y-20000D02*\nX120000D01*\nY100000D01*\nX-20000D01*\nY-20000D01*\nG37*\n"
             "%LPC*%")
    flipped = text.replace("%LPD*%", "%lpc*%").replace("%LPC*%", "%LPD*%").replace("%lpc*%", "%LPC*%")
    return flipped.replace("%MOMM*%", "%MOMM*%\n%IPNEG*%").replace("%LPC*%", "%LPD*%\n" + frame, 1)


# ---- the board's edge: 100 x 80 mm ----

EDGE_HEAD = "%FSLAX33Y33*%\n%MOMM*%\n%ADD10C,0.2*%\nG01*\nG75*\nD10*\n"
EDGE_AS_REGION = (EDGE_HEAD + "G36*\nX0Y0D02*\nX100000D01*\nY80000D01*\nX0D01*\nY0D01*\nG37*\nM02*\n")
# In any order and direction, twice, 5 um short of the corners, with a title block beside the board.
EDGE_IN_PIECES = (EDGE_HEAD + 2 * ("X0Y79995D02*\nY5D01*\nX100000Y5D02*\nY79995D01*\nX99995Y80000D02*\n"
                                   "X5D01*\nX5Y0D02*\nX99995D01*\n") +
                  "X110000Y0D02*\nX140000D01*\nY20000D01*\nX110000D01*\nY0D01*\nM02*\n")


# ---- holes ----

def holes_of(text):
    """(x, y, diameter) in mm of a file with three digits on both sides, trailing zeros left out."""
    tools, found, tool = {}, [], None
    for line in words(text):
        size, place = re.match(r"(T\d+)C([\d.]+)", line), re.match(r"X(\d+)Y(\d+)$", line)
        if size:
            tools[size[1]] = float(size[2])
        elif line in tools:
            tool = tools[line]
        elif place:
            found.append(tuple(int(n.ljust(6, "0")) / 1000 for n in place.groups()) + (tool,))
    return found


def drill(sections, number, head="", define="header", end="M30"):
    """sections: [(comment or None, holes)]; number: mm -> text."""
    header, body, tool = [], [], 0
    for comment, holes in sections:
        header += [comment] if comment else []
        for size in sorted({hole[2] for hole in holes}):
            tool += 1
            header.append(f"T{tool:02}C{size:.3f}") if define == "header" else None
            body.append(f"T{tool:02}" + ("" if define == "header" else f"C{size:.3f}"))
            body += [f"X{number(x)}Y{number(y)}" for x, y, d in holes if d == size]
    return "\n".join(["M48", head, *header] * (define == "header") + ["%", "G90", *body, end]) + "\n"


def drawing_of_holes(holes):
    sizes = sorted({hole[2] for hole in holes})
    lines = ["%FSLAX33Y33*%", "%MOMM*%"] + [f"%ADD{10 + i}C,{d}*%" for i, d in enumerate(sizes)]
    for i, size in enumerate(sizes):
        lines.append(f"D{10 + i}*")
        lines += [f"X{round(x * 1000)}Y{round(y * 1000)}D03*" for x, y, d in holes if d == size]
    return "\n".join(lines + ["M02*", ""])


# ---- the dialects: (files, options) ----

def tape(old):
    """Trailing zeros left out, increments, CR, padding; drills without a header; .cmp, .sol."""
    plated, bare = holes_of(old["PTH"]), holes_of(old["NPTH"])
    trailing_kept = lambda mm: str(round(mm * 1000))
    files = {"B.CMP": trailing_omitted(old["GTL"]).replace("\n", "\r"),
             "B.SOL": incremental(old["GBL"]),
             "B.STC": incremental(old["GTS"]), "B.STS": trailing_omitted(old["GBS"]) + "\n\x1a" + 40 * "\0",
             "B.DIM": old["GKO"],
             "B-PLATED.DRD": 12 * "\0" + drill([(None, plated)], trailing_kept, define="body"),
             "B-NONPLATED.DRD": drill([(None, bare)], trailing_kept, define="body")}
    return files, []


def inches(old):
    """The top in inch 2.6, modal words; an edge in pieces; LZ where TZ is meant, put right; layers L1, L2."""
    plated, bare = holes_of(old["PTH"]), holes_of(old["NPTH"])
    leading_omitted = lambda mm: str(round(mm * 1000))
    files = {"L1_TOP.art": modal(inch(old["GTL"])), "L2_BOTTOM.art": modal(old["GBL"]),
             "SMT.art": inch(old["GTS"]), "SMB.art": inch(old["GBS"]), "OUTLINE.art": EDGE_IN_PIECES,
             "b-plated.drl": drill([(None, plated)], leading_omitted, "METRIC,LZ"),
             "b-nonplated.drl": drill([(None, bare)], leading_omitted, "METRIC,LZ")}
    return files, [f"--drill-format=b-{kind}.drl=mm,3.3,trailing" for kind in ("plated", "nonplated")]


def roles(old):
    """The top plotted negative, the edge as an area, holes as drawings; names that say nothing."""
    parts = [("top", negative(old["GTL"])), ("bottom", old["GBL"]),
             ("mask-top", old["GTS"]), ("mask-bottom", old["GBS"]), ("profile", EDGE_AS_REGION),
             ("plated", drawing_of_holes(holes_of(old["PTH"]))),
             ("nonplated", drawing_of_holes(holes_of(old["NPTH"])))]
    files = {f"f{i} é.dat": text for i, (_, text) in enumerate(parts)}
    return files, [f"--role=f{i} é.dat={role}" for i, (role, _) in enumerate(parts)]


def nested(old):
    """One drill file for all holes; a zip in a zip with much that is no board; BOM."""
    plated, bare = holes_of(old["PTH"]), holes_of(old["NPTH"])
    holes = drill([(";TYPE=PLATED", plated), (";TYPE=NON_PLATED", bare)], "{:.3f}".format, "METRIC")
    files = {"Power Drill-F_Cu.gbr": "\ufeff" + old["GTL"], "Power Drill-B_Cu.gbr": old["GBL"],
             "Power Drill-F_Mask.gbr": old["GTS"], "Power Drill-B_Mask.gbr": old["GBS"],
             "Power Drill-Edge_Cuts.gbr": old["GKO"], "Power Drill.drl": holes,
             "README.md": "# Top copper\nX10Y10\n", "order.pdf": "%PDF-1.4\n%%EOF\n",
             "top.pos.csv": "Ref,X,Y,Side\nR1,1.0,2.0,top\n", "sub/Thumbs.db": "\0"}
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in files.items():
            archive.writestr("fab\\" + name, text)
    return {"OUT/BOARD.ZIP": inner.getvalue(), "__MACOSX/OUT/._BOARD.ZIP": "\0"}, []


def moved(old, image, move):
    """The image turned or mirrored by its file, the holes by their coordinates."""
    files = {f"b.{kind.lower()}": re.sub(r"(%FS[^%]*%)", r"\1" + image, old[kind], count=1)
             for kind in ("GTL", "GBL", "GTS", "GBS", "GKO")}
    for kind in ("PTH", "NPTH"):
        holes = [(*move(x, y), d) for x, y, d in holes_of(old[kind])]
        files[f"b-{kind.lower()}.drl"] = drill([(None, holes)], "{:.3f}".format, "METRIC")
    return files, []


MOVES = {"turned": ("%IR90*%", lambda x, y: (-y, x)), "mirrored": ("%MIA1B0*%", lambda x, y: (-x, y))}


def moved_rows(path, move):
    """The rows of a current table, their places moved likewise."""
    with open(path) as file:
        lines = file.read().splitlines()
    out = []
    for line in lines:
        cells = line.split(",")
        if not line.startswith("#") and len(cells) > 3 and re.match(r"-?[\d.]+$", cells[2]):
            cells[2:4] = (f"{c:.6f}" for c in move(float(cells[2]), float(cells[3])))
        out.append(",".join(cells))
    return "\n".join(out) + "\n"


def encoded(content):
    return content if isinstance(content, bytes) else content.encode()


def write(folder, name, files, options):
    if name == "nested":
        with zipfile.ZipFile(os.path.join(folder, name + ".zip"), "w") as archive:
            for part, content in files.items():
                archive.writestr(part, encoded(content))
    else:
        os.makedirs(os.path.join(folder, name))
        for part, content in files.items():
            with open(os.path.join(folder, name, part), "wb") as out:
                out.write(encoded(content))
    with open(os.path.join(folder, name + ".options"), "w") as out:
        out.writelines(option + "\n" for option in options)


def main():
    old = read(sys.argv[1])
    for dialect in (tape, inches, roles, nested):
        write(sys.argv[2], dialect.__name__, *dialect(old))
    for name, (image, move) in MOVES.items():
        write(sys.argv[2], name, *moved(old, image, move))
        with open(os.path.join(sys.argv[2], name + ".csv"), "w") as out:
            out.write(moved_rows(sys.argv[3], move))


main()
