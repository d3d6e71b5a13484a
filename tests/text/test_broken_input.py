"""Broken input of every kind: one clear sentence at the right line, exit status 2, never a traceback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

HAZARD = "    condition: normal\n    harm: {text: burn, severity: 3}\n"
GOOD = "parts:\n  P01: {title: blower, no_hazard_because: example}\n"

BROKEN: dict[str, tuple[str | bytes, str, int]] = {
    "duplicate key": (f"hazards:\n  H01:\n    title: a\n    title: b\n{HAZARD}", "duplicate-key", 4),
    "duplicate id in one file": ("parts:\n  P01: {title: a}\n  P01: {title: b}\n", "duplicate-key", 3),
    "one id in two sections": ("parts:\n  X01: {title: a}\nfunctions:\n  X01: {title: b}\n", "duplicate-id", 4),
    "unknown field": (f"hazards:\n  H01:\n    titel: a\n{HAZARD}", "unknown-field", 3),
    "unknown field deep inside": ("parts:\n  P01:\n    title: a\n    fails:\n      - {mode: x, annouces: true}\n", "unknown-field", 5),
    "missing field": (f"hazards:\n  H01:\n{HAZARD}", "missing-field", 2),
    "unknown section": ("hazard:\n  H01: {}\n", "unknown-section", 1),
    "record without a section": ("H04:\n  title: a\n", "unknown-section", 1),
    "unknown reference": (f"hazards:\n  H01:\n    title: a\n    controls:\n      - C99\n{HAZARD}", "unknown-reference", 5),
    "reference to the wrong kind": (
        f"parts:\n  P01: {{title: a}}\nhazards:\n  H01:\n    title: a\n    controls: [P01]\n{HAZARD}", "unknown-reference", 6
    ),
    "reused tombstone": (
        "parts:\n  P01: {title: a}\ntombstones:\n  P01: {was: old, on: 2026-01-01, because: gone}\n", "reused-tombstone", 2
    ),
    "reference to a tombstone": (
        f"hazards:\n  H01:\n    title: a\n    controls: [C01]\n{HAZARD}tombstones:\n  C01: {{was: x, on: 2026-01-01, because: y}}\n",
        "unknown-reference", 4,
    ),
    "typed status": (f"hazards:\n  H01:\n    title: a\n    status: verified\n{HAZARD}", "typed-what-is-derived", 4),
    "typed supported likelihood": (
        f"hazards:\n  H01:\n    title: a\n    likelihood:\n      supported: {{level: E}}\n{HAZARD}", "typed-what-is-derived", 5
    ),
    "unknown word": ("hazards:\n  H01:\n    title: a\n    condition: sometimes\n    harm: {text: b, severity: 3}\n", "unknown-word", 4),
    "number for text": ("parts:\n  P01:\n    title: 12\n", "wrong-type", 3),
    "list for text": ("parts:\n  P01:\n    title: [a]\n", "wrong-type", 3),
    "text for a group": ("hazards:\n  H01:\n    title: a\n    condition: normal\n    harm: burn\n", "wrong-type", 5),
    "record that is a text": ("parts:\n  P01: blower\n", "wrong-type", 2),
    "record without fields": ("parts:\n  P01:\n", "wrong-type", 2),
    "section that is a text": ("parts: none\n", "wrong-type", 1),
    "list entry without id": ("parts:\n  - title: a\n", "missing-id", 2),
    "empty text": ("parts:\n  P01:\n    title: ''\n", "empty-text", 3),
    "bad id": ("parts:\n  01 P: {title: a}\n", "not-an-id", 2),
    "bad date": ("observations:\n  O01:\n    on: 2026-13-01\n    text: a\n", "bad-value", 3),
    "no unit": ("parts:\n  P01:\n    title: a\n    ratings:\n      pressure: 12\n", "bad-quantity", 5),
    "unknown unit": ("parts:\n  P01:\n    title: a\n    ratings: {pressure: 12 hPaa}\n", "bad-quantity", 4),
    "wrong kind of unit": (
        "controls:\n  C01:\n    title: a\n    kind: protective\n    alarm:\n      detect: 6 hPa\n", "bad-quantity", 6
    ),
    "decimal comma": ('parts:\n  P01:\n    title: a\n    ratings: {pressure: "1,5 hPa"}\n', "bad-quantity", 4),
    "probability above one": (
        f"hazards:\n  H01:\n    title: a\n    likelihood:\n      before: {{p: 1.5}}\n{HAZARD}", "bad-value", 5
    ),
    "p1 without p2": (f"hazards:\n  H01:\n    title: a\n    likelihood:\n      before: {{p1: 1e-3}}\n{HAZARD}", "bad-value", 5),
    "two ways to say a likelihood": (
        f"hazards:\n  H01:\n    title: a\n    likelihood:\n      before:\n        p: 1e-3\n        level: B\n{HAZARD}", "bad-value", 5
    ),
    "two kinds of limit": (
        "tests:\n  T01:\n    title: a\n    limit:\n      at_most: 1 hPa\n      at_least: 0.5 hPa\n", "bad-value", 4
    ),
    "limit backwards": ("tests:\n  T01:\n    title: a\n    limit: {between: [5 hPa, 3 hPa]}\n", "bad-value", 4),
    "limit of two kinds": ("tests:\n  T01:\n    title: a\n    limit: {between: [5 hPa, 6 s]}\n", "bad-value", 4),
    "severity off the scale": (
        "hazards:\n  H01:\n    title: a\n    condition: normal\n    harm:\n      text: b\n      severity: 9\n", "undefined-severity", 7
    ),
    "likelihood off the scale": (
        f"hazards:\n  H01:\n    title: a\n    likelihood:\n      before:\n        level: Z\n{HAZARD}", "undefined-likelihood", 6
    ),
    "mixed exposure": (
        f"hazards:\n  H01:\n    title: a\n    likelihood:\n      exposure: per moon\n      before: {{level: B}}\n{HAZARD}",
        "mixed-exposure", 5,
    ),
    "unknown policy": ("policy: six-by-six\n", "unknown-policy", 1),
    "policy with a hole in its matrix": (
        "policy:\n  title: x\n  severity: [{level: 1, word: a}]\n  likelihood:\n    exposure: per use\n    levels: [{level: A, word: b}]\n"
        "  regions: [{name: r}]\n  matrix:\n    A: {}\n", "bad-value", 9,
    ),
    "policy with an unknown region": (
        "policy:\n  title: x\n  severity: [{level: 1, word: a}]\n  likelihood:\n    exposure: per use\n    levels: [{level: A, word: b}]\n"
        "  regions: [{name: r}]\n  matrix:\n    A: {1: s}\n", "bad-value", 9,
    ),
    "policy with rising edges": (
        "policy:\n  title: x\n  severity: [{level: 1, word: a}]\n  likelihood:\n    exposure: per use\n    levels:\n"
        "      - {level: A, word: b, above: 1e-3}\n      - {level: B, word: c, above: 1e-2}\n  regions: [{name: r}]\n"
        "  matrix: {A: {1: r}, B: {1: r}}\n", "bad-value", 8,
    ),
    "gate that permits use on a person": ("gates:\n  G01:\n    title: clinical use\n    order: 1\n", "permits-use-on-a-person", 3),
    "tab": ("parts:\n  P01:\n\ttitle: a\n", "tab-in-indentation", 3),
    "unclosed quote": ('parts:\n  P01:\n    title: "a\n  P02: {title: b}\n', "yaml-syntax", 3),
    "unclosed bracket": ("parts:\n  P01: {title: a, fails: [x}\n  P02: {title: b}\n", "yaml-syntax", 2),
    "bad indentation": ("parts:\n  P01:\n    title: a\n   version: b\n", "yaml-syntax", 4),
    "missing colon": ("parts:\n  P01:\n    title a\n    version: b\n", "yaml-syntax", 4),
    "second colon": ("parts:\n  P01:\n    title: level: high\n", "yaml-syntax", 3),
    "stray word": ("@parts:\n  P01: {title: a}\n", "yaml-syntax", 1),
    "directive": ("%YAML 1.2\nparts:\n  P01: {title: a}\n", "yaml-syntax", 1),
    "tag": ("parts:\n  P01:\n    title: !!python/object/apply:os.system [echo]\n", "yaml-tag", 3),
    "two documents": ("parts:\n  P01: {title: a}\n---\nparts:\n  P02: {title: b}\n", "several-documents", 3),
    "merge": ("parts:\n  P01: &a {title: a}\n  P02:\n    <<: *a\n", "merge-key", 4),
    "unknown alias": ("parts:\n  P01: {title: *a}\n", "unknown-alias", 2),
    "list as key": ("parts:\n  P01:\n    ? [a, b]\n    : c\n", "complex-key", 3),
    "not a number": ("parts:\n  P01:\n    title: a\n    ratings: {x: .inf}\n", "not-a-number", 4),
    "list at the top": ("- parts\n- hazards\n", "not-a-mapping", 1),
    "text at the top": ("just a sentence\n", "not-a-mapping", 1),
    "not UTF-8": (b"parts:\n  P01: {title: caf\xe9}\n", "not-utf8", 2),
    "UTF-16": ("parts:\n  P01: {title: a}\n".encode("utf-16"), "not-utf8", 1),
    "control character": (b"parts:\n  P01: {title: a\x07b}\n", "control-character", 2),
    "zero byte": (b"parts:\n  P01: {title: a\x00b}\n", "control-character", 2),
}  # fmt: skip


def check(folder: Path, *options: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "riskkit", "check", str(folder), "--today", "2026-11-25", *options],
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("kind", BROKEN)
def test_broken_input_gets_one_sentence_at_its_line(kind: str, tmp_path: Path) -> None:
    content, rule, line = BROKEN[kind]
    (tmp_path / "broken.yaml").write_bytes(content.encode() if isinstance(content, str) else content)
    (tmp_path / "good.yaml").write_text(GOOD.replace("P01", "P77"))
    done = check(tmp_path, "--format", "json")
    assert done.returncode == 2, done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    findings = json.loads(done.stdout)["findings"]
    found = [found for found in findings if found["breaks"]]
    assert [(each["rule"], each["file"], each["line"]) for each in found] == [(rule, "broken.yaml", line)]
    assert found[0]["column"] >= 1
    assert found[0]["headline"].count("\n") == 0
    assert found[0]["help"], "a finding says what to type"
    assert f"broken.yaml:{line}:" in check(tmp_path).stdout


def test_a_broken_record_does_not_hide_the_rest(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text(
        "hazards:\n"
        "  H01: {title: 'never closed, condition: normal}\n"
        "  H02:\n    title: b\n    condition: normal\n    harm: {text: c, severity: 3}\n    controls: [C01]\n"
        "controls:\n  C01: {title: d, kind: desing}\n"
    )
    findings = json.loads(check(tmp_path, "--format", "json").stdout)["findings"]
    broken = [(each["rule"], each["line"]) for each in findings if each["breaks"]]
    assert broken == [("yaml-syntax", 2), ("unknown-word", 9)]
    assert "H02" in {each["record"] for each in findings}, "the record after the broken one is still read"


def test_a_reference_to_a_broken_record_is_no_second_finding(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text(
        f"hazards:\n  H01:\n    title: a\n    controls: [C01]\n{HAZARD}controls:\n  C01: {{title: d}}\n"
    )
    findings = json.loads(check(tmp_path, "--format", "json").stdout)["findings"]
    assert [each["rule"] for each in findings if each["breaks"]] == ["missing-field"]


def timed(folder: Path) -> tuple[float, list[dict[str, object]]]:
    from riskkit.text.reader import read
    from riskkit.text.snapshot import read_folder

    start = time.perf_counter()
    report = read(*read_folder(folder)).report
    return time.perf_counter() - start, [{"rule": each.rule, "line": each.place.line} for each in report]


def test_an_alias_bomb_is_reported_quickly(tmp_path: Path) -> None:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]" for i in range(1, 30)]
    (tmp_path / "bomb.yaml").write_text("\n".join(lines) + "\n")
    seconds, found = timed(tmp_path)
    assert [each["rule"] for each in found] == ["alias-bomb"]
    assert 3 <= int(str(found[0]["line"])) <= 7
    assert seconds < 2


def test_deep_nesting_is_reported_quickly(tmp_path: Path) -> None:
    (tmp_path / "deep.yaml").write_text("parts:\n  P01: " + "[" * 2000 + "]" * 2000 + "\n")
    seconds, found = timed(tmp_path)
    assert found == [{"rule": "too-deep", "line": 2}]
    assert seconds < 2


def test_a_folder_with_the_name_of_a_file_is_reported(tmp_path: Path) -> None:
    (tmp_path / "parts.yaml").mkdir()
    done = check(tmp_path)
    assert done.returncode == 2
    assert "parts.yaml" in done.stdout
    assert "file-is-a-folder" in done.stdout


def test_a_link_that_leaves_the_folder_is_not_followed(tmp_path: Path) -> None:
    outside = tmp_path / "outside.yaml"
    outside.write_text("parts:\n  P01: {title: secret}\n")
    folder = tmp_path / "register"
    folder.mkdir()
    (folder / "a.yaml").write_text(GOOD.replace("P01", "P02"))
    (folder / "link.yaml").symlink_to(outside)
    done = check(folder)
    assert done.returncode == 2
    assert "path-leaves-folder" in done.stdout
    assert "secret" not in done.stdout


def test_a_link_inside_the_folder_is_followed(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text("parts:\n  P01: {title: blower}\n")
    (tmp_path / "deeper").mkdir()
    (tmp_path / "deeper" / "b.yaml").symlink_to(tmp_path / "a.yaml")
    assert "duplicate-id" in check(tmp_path).stdout


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_named_pipe_does_not_hang(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    assert "file-unreadable" in check(tmp_path).stdout


def test_a_missing_folder_and_an_empty_one_are_requests_that_cannot_be_met(tmp_path: Path) -> None:
    for folder in (tmp_path / "nowhere", tmp_path):
        done = check(folder)
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr.startswith("riskkit: there is no ")
        assert "riskkit new" in done.stderr


def test_every_finding_about_files_is_explained() -> None:
    import re

    from riskkit.text.explanations import format_rules

    source = "".join(path.read_text() for path in (Path(__file__).parents[2] / "riskkit" / "text").glob("*.py"))
    made = set(re.findall(r'(?:complain|make|add|Complaint|_trouble)\(\s*"([a-z0-9]+(?:-[a-z0-9]+)+)"', source))
    made |= {rule for _, rule, _ in BROKEN.values()}
    from riskkit.checks import all_rules

    assert made - {rule.name for rule in all_rules()} <= set(format_rules())
