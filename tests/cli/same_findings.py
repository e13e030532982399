#!/usr/bin/env python3
"""Compares the findings of several JSON reports of one board: each must say what the first says.

usage: same_findings.py [--no-places] FIRST.json OTHER.json...

Compared: the verdict of each net and its least margin; of each finding the net, the kind and every
place (layer, x and y within 0.01 mm, width within 0.001 mm); with --no-places not x and y. Findings are matched one to one.
"""
import json
import sys

PLACE_MM, WIDTH_MM, MARGIN = 0.01, 0.001, 0.001


def load(path):
    with open(path) as file:
        return json.load(file)


def verdicts(report):
    return {(v["net"], v["case"]): (v["verdict"], v["margin"]) for v in report["verdicts"]}


def is_same_margin(a, b):
    return a is b is None or (a is not None and b is not None and abs(a - b) <= MARGIN)


def is_same_place(a, b, has_places):
    return (a["layer"] == b["layer"] and abs(a["width_mm"] - b["width_mm"]) <= WIDTH_MM and
            (not has_places or (abs(a["at"]["x_mm"] - b["at"]["x_mm"]) <= PLACE_MM and
                                abs(a["at"]["y_mm"] - b["at"]["y_mm"]) <= PLACE_MM)))


def is_same_finding(a, b, has_places):
    return (a["net"] == b["net"] and a["kind"] == b["kind"] and
            len(a["places"]) == len(b["places"]) and
            all(is_same_place(p, q, has_places) for p, q in zip(a["places"], b["places"])))


def show(finding):
    places = [f"{p['layer']} ({p['at']['x_mm']:.3f}, {p['at']['y_mm']:.3f}) {p['width_mm']:.4f}"
              for p in finding["places"]]
    return f"{finding['net']} {finding['kind']}: {'; '.join(places)}"


def compare(first, other, has_places):
    problems = []
    mine, theirs = verdicts(first), verdicts(other)
    for key in sorted(set(mine) | set(theirs), key=str):
        a, b = mine.get(key), theirs.get(key)
        if not a or not b or a[0] != b[0] or not is_same_margin(a[1], b[1]):
            problems.append(f"verdict of {key}: {a} and {b}")
    left = list(other["findings"])
    for finding in first["findings"]:
        match = next((f for f in left if is_same_finding(finding, f, has_places)), None)
        if match:
            left.remove(match)
        else:
            problems.append(f"missed: {show(finding)}")
    return problems + [f"only there: {show(finding)}" for finding in left]


def main():
    has_places = sys.argv[1] != "--no-places"
    paths = sys.argv[1 if has_places else 2:]
    first = load(paths[0])
    if not first["findings"]:
        sys.exit(f"{paths[0]}: no findings to compare")
    problems = [f"{path}: {problem}" for path in paths[1:]
                for problem in compare(first, load(path), has_places)]
    print("\n".join(problems), end="\n" if problems else "")
    sys.exit(1 if problems else 0)


main()
