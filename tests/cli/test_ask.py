"""A sitting of twelve questions, resumed the next day, on a terminal and on paper."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pypdf
import pytest

from riskkit import load

REGISTER = """
device: {name: bench, not_for: [people], stop_conditions: [smoke], owner: builder-1}
parts:
  P01: {title: radial blower, class: blower}
  P02: {title: outflow valve, class: valve}
functions:
  F01: {title: carry off carbon dioxide, parts: [P01]}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "register"
    place.mkdir()
    (place / "register.yaml").write_text(REGISTER)
    return place


def ask(folder: Path, *arguments: str, typed: str = "", day: str = "2026-11-25", status: int = 0) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "riskkit", "ask", str(folder), "--today", day, *arguments],
        input=typed,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == status, done.stderr
    return done.stdout if status == 0 else done.stderr


def questions(folder: Path, *arguments: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(ask(folder, "--format", "json", *arguments))["questions"]
    return found


def test_a_sitting_stops_and_goes_on_with_what_is_left(folder: Path) -> None:
    before = (folder / "register.yaml").read_bytes()
    twelve = questions(folder)
    assert len(twelve) == 12
    told = ask(folder, typed="y gas is breathed again\nn two of them run\nl\nq\n")
    assert "3 answers kept." in told
    register = load(folder).register
    first, second, third = (register.records[each["code"]] for each in twelve[:3])
    assert (first.answer, second.answer, third.answer) == ("yes", "no", "later")  # type: ignore[attr-defined]
    assert second.because == "two of them run"  # type: ignore[attr-defined]

    hazard = register.hazards[0]
    assert first.became == (hazard.id,)  # type: ignore[attr-defined]
    assert hazard.title == "gas is breathed again"
    assert twelve[0]["question"] in (hazard.origin or "")
    assert "nobody has judged it yet" in (hazard.harm.because or "")
    assert hazard.severity == "5"  # nobody has judged it: the worst level of the shipped policy

    # The hazard has a file of its own: what was typed by hand keeps every byte.
    assert (folder / "register.yaml").read_bytes() == before
    again = [each["code"] for each in questions(folder, "--most", "1000")]
    assert not {twelve[0]["code"], twelve[1]["code"]} & set(again)
    assert again[-1] == twelve[2]["code"]


def test_the_end_of_the_input_keeps_what_was_answered(folder: Path) -> None:
    assert "1 answer kept." in ask(folder, typed="n it cannot")


def test_a_no_without_a_reason_is_asked_for_it(folder: Path) -> None:
    told = ask(folder, typed="n\nit has a castle edge\nwhat\nq\n")
    assert "Why not, in a few words?" in told
    assert "`what` is neither y, n nor l" in told
    assert next(iter(load(folder).register.of(_asked()))).because == "it has a castle edge"


def _asked() -> Any:
    from riskkit.model.prompts import Asked

    return Asked


def test_the_sheet_has_the_same_questions_and_is_typed_back_by_code(folder: Path, tmp_path: Path) -> None:
    codes = [each["code"] for each in questions(folder)]
    text = ask(folder, "--sheet")
    assert [code for code in codes if code in text] == codes
    paper = tmp_path / "sheet.pdf"
    ask(folder, "--sheet", "--output", str(paper), "--page", "letter")
    reader = pypdf.PdfReader(paper)
    printed = " ".join(page.extract_text() for page in reader.pages)
    assert all(code in printed for code in codes)
    assert [float(side) for side in reader.pages[0].mediabox[2:]] == pytest.approx([612, 792], abs=1)

    written = f"{codes[0].lower()} y gas is breathed again\n# a remark\n\n{codes[1]} n, two of them\n{codes[2]} l\n"
    assert "3 answers kept." in ask(folder, "--by", "builder-1", "--answers", "-", typed=written)
    assert {each.by for each in load(folder).register.of(_asked())} == {"builder-1"}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda codes: f"{codes[0][:-1]}{'A' if codes[0][-1] != 'A' else 'B'} l", "is mistyped"),
        (lambda codes: f"{codes[0]} perhaps", "says neither y, n nor l"),
        (lambda codes: f"{codes[0]} n", "a no needs its reason"),
        (lambda codes: f"{codes[0]} l\n{codes[0]} l", "was answered in line 1 already"),
        (lambda codes: "", "there are no answers"),
    ],
)
def test_a_line_that_cannot_be_taken_leaves_everything_unwritten(folder: Path, change: Any, said: str) -> None:
    codes = [each["code"] for each in questions(folder)]
    typed = change(codes) and f"{change(codes)}\n{codes[5]} l\n"
    told = ask(folder, "--answers", "-", typed=typed, status=2)
    assert said in told
    assert "Traceback" not in told
    assert [path.name for path in folder.iterdir()] == ["register.yaml"]


def test_two_sit_apart_and_are_compared(folder: Path) -> None:
    for role, words in (("builder-1", ("y", "n no", "n no")), ("physician", ("y", "n no", "y"))):
        cells = [each["code"] for each in questions(folder, "--blind", "--by", role)][:3]
        typed = "".join(f"{code} {word}\n" for code, word in zip(cells, words, strict=True))
        ask(folder, "--blind", "--by", role, "--answers", "-", typed=typed)
    told = json.loads(ask(folder, "--compare", "builder-1, physician", "--format", "json"))
    assert told["table"] == [[1, 0], [1, 1]]
    # Worked by hand: agreement 2/3, by chance (1*2 + 2*1)/9 = 4/9, so (2/3 - 4/9)/(1 - 4/9) = 0.4.
    assert told["kappa"] == pytest.approx(0.4)
    assert [each["code"] for each in told["differ"]] == [cells[2]]
    assert "They differ here" in ask(folder, "--compare", "builder-1, physician")


def test_coverage_is_counted_and_never_a_percentage(folder: Path) -> None:
    ask(folder, typed="n it cannot\n")
    told = ask(folder, "--coverage")
    assert told.startswith("1 of ")
    assert "%" not in told


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--about", "P09"), "nothing is asked about P09"),
        (("--grid", "screws"), "--grid cannot be `screws`"),
        (("--blind",), "add --by ROLE"),
        (("--compare", "one"), "does not name two roles"),
        (("--compare", "one, two"), "have no question that both answered"),
        (("--answers", "nothing.txt"), "cannot be read"),
    ],
)
def test_what_cannot_be_asked_is_said_in_a_sentence(folder: Path, arguments: tuple[str, ...], said: str) -> None:
    assert said in ask(folder, *arguments, status=2)
