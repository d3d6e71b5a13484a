"""Findings as JSON of our own and as SARIF 2.1.0 (OASIS), for scripts and for code review."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from riskkit.diagnostics import Diagnostic, Report, Severity
from riskkit.version import __version__

SARIF_SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"


def findings_json(report: Report) -> str:
    """All findings and their counts as one JSON object: findings in printed order, one a line."""
    lines = ",\n".join("    " + json.dumps(item, ensure_ascii=False) for item in findings_data(report))
    findings = f"[\n{lines}\n  ]" if lines else "[]"
    return f'{{\n  "findings": {findings},\n  "counts": {json.dumps(report.counts())}\n}}'


def findings_data(report: Report) -> list[dict[str, Any]]:
    """The findings as plain data, in printed order."""
    return [_finding(found) for found in report]


def _finding(found: Diagnostic) -> dict[str, Any]:
    return {
        "rule": found.rule,
        "severity": found.severity.word,
        "headline": found.headline,
        "file": found.place.file,
        "line": found.place.line,
        "column": found.place.column,
        "record": found.record,
        "help": found.help,
        "related": [
            {"file": other.place.file, "line": other.place.line, "column": other.place.column, "words": other.words}
            for other in found.related
        ],
        "breaks": found.breaks,
    }


def findings_sarif(report: Report, explanations: Mapping[str, str]) -> str:
    """All findings as a SARIF log; `explanations` gives the reason of each rule by its name."""
    names = tuple(dict.fromkeys(found.rule for found in report))
    rules = [
        {"id": name, "shortDescription": {"text": explanations.get(name, name).partition("\n")[0]}} for name in names
    ]
    run = {
        "tool": {"driver": {"name": "riskkit", "version": __version__, "rules": rules}},
        "columnKind": "unicodeCodePoints",
        "results": [_sarif_result(found, names.index(found.rule)) for found in report],
    }
    return json.dumps({"$schema": SARIF_SCHEMA, "version": "2.1.0", "runs": [run]}, ensure_ascii=False, indent=2)


def _sarif_result(found: Diagnostic, rule_index: int) -> dict[str, Any]:
    text = f"{found.headline}. {found.help}".rstrip(". ") + "."
    level = {Severity.ERROR: "error", Severity.WARNING: "warning", Severity.NOTE: "note"}[found.severity]
    result: dict[str, Any] = {
        "ruleId": found.rule,
        "ruleIndex": rule_index,
        "level": level,
        "message": {"text": text},
        "locations": [_sarif_location(found.place.file, found.place.line, found.place.column)],
    }
    related = [
        _sarif_location(other.place.file, other.place.line, other.place.column) | {"message": {"text": other.words}}
        for other in found.related
    ]
    return result | ({"relatedLocations": related} if related else {})


def _sarif_location(file: str, line: int, column: int) -> dict[str, Any]:
    from urllib.parse import quote

    where: dict[str, Any] = {"artifactLocation": {"uri": quote(file)}}
    if line:
        where["region"] = {"startLine": line, "startColumn": max(column, 1)}
    return {"physicalLocation": where}


def findings_from_json(items: Iterable[Mapping[str, Any]]) -> Report:
    """The report behind the `findings` of `findings_json`; the inverse of `findings_data`, order kept."""
    from riskkit.diagnostics import Place, Related

    severities = {severity.word: severity for severity in Severity}
    return Report(
        tuple(
            Diagnostic(
                rule=item["rule"],
                severity=severities[item["severity"]],
                headline=item["headline"],
                place=Place(item["file"], item["line"], item["column"]),
                record=item["record"],
                help=item["help"],
                related=tuple(
                    Related(Place(other["file"], other["line"], other["column"]), other["words"])
                    for other in item["related"]
                ),
                breaks=item["breaks"],
            )
            for item in items
        )
    )
