"""`import` and `export` as a person uses them."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

from riskkit import load

HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"
SHEET = """Valve station;;;;
Item;Failure Mode;Potential Effects;Sev;Recommended action
Relief valve;sticks;overpressure;4;oil it
Relief valve;leaks;loss of pressure;2;
;;;;
;;;3;
"""


def run(*arguments: object, typed: str = "", status: int = 0) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "riskkit", *map(str, arguments)],
        input=typed,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == status, done.stderr
    return done.stderr if status == 2 else done.stdout


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    run("new", "--no-questions", tmp_path / "register")
    (tmp_path / "valves.csv").write_text(SHEET)
    return tmp_path / "register"


def test_a_sheet_is_shown_and_then_written(folder: Path) -> None:
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    sheet = folder.parent / "valves.csv"
    told = run("import", sheet, folder, "--dry-run", status=1)
    assert "2 new hazards, and 1 new part" in told.lower()
    assert "row 6: it says nothing about what can go wrong" in told
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before

    assert "Nothing was written." in run("import", sheet, folder, typed="n\n", status=1)
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before

    run("import", sheet, folder, typed="y\n", status=1)
    after = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert {name: after[name] for name in before} == before
    register = load(folder).register
    assert [hazard.title for hazard in register.hazards[:2]] == ["Relief valve: sticks", "Relief valve: leaks"]
    assert register.hazards[0].notes == "Recommended action: oil it"
    assert not load(folder).report.broken

    again = run("import", sheet, folder, "--yes", status=1)
    assert "No new hazards." in again
    assert "Rows 3, 4 stand in the register already." in again


def test_what_columns_mean_is_remembered(folder: Path) -> None:
    sheet = folder.parent / "valves.csv"
    run("import", sheet, folder, "--column", "Recommended action=ignored", "--yes", status=1)
    sheet.write_text(SHEET.replace("sticks", "sticks when cold"))
    told = json.loads(run("import", sheet, folder, "--dry-run", "--format", "json", status=1))
    assert told["columns"]["Recommended action"] == "ignored"
    assert [each["row"] for each in told["new"]] == [3]
    assert told["same"] == [4]


def test_nobody_to_agree_is_no_agreement(folder: Path) -> None:
    told = run("import", folder.parent / "valves.csv", folder, status=2)
    assert "nobody said that it may be written" in told
    assert not list(folder.glob("hazards-from*"))


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_an_export_changes_nothing_when_it_comes_back(tmp_path: Path, ending: str) -> None:
    run("new", "--example", "hood", tmp_path / "hood")
    sheet = tmp_path / f"hazards.{ending}"
    assert "36 hazards" in run("export", tmp_path / "hood", "-o", sheet, "--today", "2026-11-25")
    told = json.loads(run("import", sheet, tmp_path / "hood", "--dry-run", "--format", "json"))
    assert (told["new"], told["edits"], told["refused"], told["not_in_sheet"]) == ([], [], [], [])
    assert len(told["same"]) == 36


def test_one_edited_cell_changes_one_line(tmp_path: Path) -> None:
    run("new", "--example", "hood", tmp_path / "hood")
    sheet = tmp_path / "hazards.csv"
    run("export", tmp_path / "hood", "-o", sheet)
    rows = list(csv.reader(io.StringIO(sheet.read_text("utf-8-sig"), newline="")))
    row = next(each for each in rows if each[0] == "H04")
    row[rows[0].index("severity")] = "4"
    out = io.StringIO(newline="")
    csv.writer(out).writerows(rows)
    sheet.write_text(out.getvalue(), newline="")
    run("import", sheet, tmp_path / "hood", "--yes")
    differing = [
        (old, new)
        for path in sorted(HOOD.rglob("*.yaml"))
        for old, new in zip(
            path.read_text().splitlines(),
            (tmp_path / "hood" / path.relative_to(HOOD)).read_text().splitlines(),
            strict=True,
        )
        if old != new
    ]
    assert len(differing) == 1
    assert differing[0][0].replace("5", "4") == differing[0][1]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("import", "nothing.csv"), "cannot be read"),
        (("import", "valves.csv", "--column", "Sev"), "does not say what a column means"),
        (("import", "valves.csv", "--level", "8=9"), "does not name a level"),
        (("import", "valves.csv", "--condition", "always"), "--condition cannot be"),
        (("export", "-o", "hazards.txt"), "neither a .csv nor an .xlsx"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(
    folder: Path, monkeypatch: pytest.MonkeyPatch, arguments: tuple[str, ...], said: str
) -> None:
    monkeypatch.chdir(folder.parent)
    command, *rest = arguments
    where = [rest[0], folder, *rest[1:]] if command == "import" else [folder, *rest]
    told = run(command, *where, status=2)
    assert said in told
    assert "Traceback" not in told
