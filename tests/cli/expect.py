#!/usr/bin/env python3
"""Compares a JSON report with a fixture's expected.txt and validates it against the schema.

usage: expect.py REPORT.json EXPECTED.txt SCHEMA.json EXIT_CODE
"""
import json
import sys

import jsonschema

PLACE_MM, WIDTH_MM, MARGIN = 0.02, 0.002, 0.002


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
        elif word == "finding":
            finding = find(left, rest)
            if finding:
                left.remove(finding)
            else:
                problems.append(f"missed: {' '.join(rest)}")
    return problems + [f"must stay silent: {show(finding)}" for finding in left]


def main():
    report_path, expected_path, schema_path, code = sys.argv[1:]
    with open(report_path) as file:
        report = json.load(file)
    with open(schema_path) as file:
        jsonschema.Draft7Validator(json.load(file)).validate(report)
    with open(expected_path) as file:
        lines = [line.strip() for line in file if line.strip()]
    problems = compare(report, lines, int(code))
    for problem in problems:
        print(f"{expected_path}: {problem}")
    sys.exit(1 if problems else 0)


main()
