#!/usr/bin/env python3
"""Compares a JSON report with a fixture's expected.txt and validates it against the schema.

The words of expected.txt stand in fixtures/small.py. With --findings-only dead ends and what else is
listed besides findings may be as it is.

usage: expect.py REPORT.json EXPECTED.txt SCHEMA.json EXIT_CODE [--findings-only]
"""
import json
import sys

import jsonschema

PLACE_MM, WIDTH_MM, MARGIN = 0.02, 0.002, 0.002
SHARE = 0.001
FIELDS = {"needs": "needed_mm", "internal": "needed_internal_mm", "thickness": "pass_thickness_um",
          "rise": "rise_at_width_k", "length": "narrow_length_mm", "short-rise": "short_neck_rise_k"}
EXTRAS = ("dead-end", "taken", "gaps", "holes")


def find(findings, words):
    net, kind, layer, x, y, width = words[:6]
    tolerance = float(words[6]) if len(words) > 6 else PLACE_MM
    for finding in findings:
        place = finding["places"][0]
        if (finding["net"] == net and finding["kind"] == kind and layer in ("*", place["layer"]) and
                abs(place["at"]["x_mm"] - float(x)) <= tolerance and
                abs(place["at"]["y_mm"] - float(y)) <= tolerance and
                abs(place["width_mm"] - float(width)) <= WIDTH_MM):
            return finding
    return None


def has_margin(report, net, value):
    return any(v["net"] == net and v["margin"] is not None and
               abs(v["margin"] - float(value)) <= MARGIN for v in report["verdicts"])


def field(finding, word):
    return finding["places"][0].get(FIELDS[word], finding.get(FIELDS[word]))


def has_field(report, word, net, value):
    """Does a finding of the net say this of its worst place?"""
    found = [field(finding, word) for finding in report["findings"] if finding["net"] == net]
    return any(number is not None and abs(number - float(value)) <= SHARE * float(value) for number in found)


def show_fields(report, net):
    return [{word: field(finding, word) for word in FIELDS} for finding in report["findings"]
            if finding["net"] == net]


def point(at):
    return at["x_mm"], at["y_mm"]


def extras(report):
    """What a verdict lists besides: (word, net, rest ...), matched one to one, so silence counts."""
    found = []
    for verdict in report["verdicts"]:
        for end in verdict["dead_ends"]:
            found.append(("dead-end", verdict["net"], end["ends_in"].split()[0], end["layer"], *point(end["at"])))
        for taken in verdict["taken_away"]:
            found.append(("taken", verdict["net"], taken["by"], taken["layer"], *point(taken["at"])))
        if verdict["closed_gaps"]:
            found.append(("gaps", verdict["net"], verdict["closed_gaps"]))
    for finding in report["findings"]:
        if finding.get("add_holes"):
            found.append(("holes", finding["net"], finding["add_holes"]["count"],
                          finding["add_holes"]["diameter_mm"]))
    return found


def is_same_extra(found, wanted):
    if len(found) != len(wanted):
        return False
    return all(abs(a - float(b)) <= PLACE_MM if isinstance(a, (int, float)) else a == b
               for a, b in zip(found, wanted))


def compare_extras(report, lines):
    left, problems = extras(report), []
    for line in lines:
        wanted = line.split()
        if wanted[0] not in EXTRAS:
            continue
        match = next((found for found in left if is_same_extra(found, wanted)), None)
        if match:
            left.remove(match)
        else:
            problems.append(f"missed: {line}")
    return problems + [f"must stay silent: {' '.join(map(str, found))}" for found in left]


def show(finding):
    place = finding["places"][0]
    return (f"{finding['net']} {finding['kind']} {place['layer']} {place['at']['x_mm']:.3f} "
            f"{place['at']['y_mm']:.3f} {place['width_mm']:.4f}")


def compare(report, lines, code):
    problems, left = [], list(report["findings"])
    verdicts = [(v["net"], v["verdict"]) for v in report["verdicts"]]
    for line in lines:
        word, *rest = line.split()
        if word == "exit" and (int(rest[0]) != code or report["exit_code"] != code):
            problems.append(f"exit code {code}, expected {rest[0]}")
        elif word == "verdict" and tuple(rest) not in verdicts:
            problems.append(f"no verdict {rest}; found {verdicts}")
        elif word == "margin" and not has_margin(report, *rest):
            problems.append(f"no margin {rest}; found {[(v['net'], v['margin']) for v in report['verdicts']]}")
        elif word == "row" and not any(rest[0] in f.get("rows_to_add", ()) for f in report["findings"]):
            problems.append(f"no {line}; found {[f.get('rows_to_add') for f in report['findings']]}")
        elif word in FIELDS and not has_field(report, word, *rest):
            problems.append(f"no {line}; found {show_fields(report, rest[0])}")
        elif word == "finding":
            finding = find(left, rest)
            if finding:
                left.remove(finding)
            else:
                problems.append(f"missed: {' '.join(rest)}")
    return problems + [f"must stay silent: {show(finding)}" for finding in left]


def main():
    report_path, expected_path, schema_path, code, *options = sys.argv[1:]
    with open(report_path) as file:
        report = json.load(file)
    with open(schema_path) as file:
        jsonschema.Draft7Validator(json.load(file)).validate(report)
    with open(expected_path) as file:
        lines = [line.strip() for line in file if line.strip()]
    problems = compare(report, lines, int(code)) 
    if "--findings-only" not in options:
        problems += compare_extras(report, lines)
    for problem in problems:
        print(f"{expected_path}: {problem}")
    sys.exit(1 if problems else 0)


main()
