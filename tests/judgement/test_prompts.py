"""Which questions are asked, in which order, and when one comes again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping

import pytest
from hypothesis import given, settings, strategies as st

from riskkit.assess import Assessment
from riskkit.evidence.agreement import kappa
from riskkit.judgement.likeness import speaks_of, telling_words
from riskkit.judgement.prompt_codes import checks_out, codes_of
from riskkit.judgement.prompts import Cell, cells
from riskkit.judgement.sittings import pair, standings, still_to_ask
from riskkit.model.catalog import Entry
from riskkit.text.catalogs import catalogs_of

Project = Callable[..., Assessment]

BENCH = """
device: {name: bench, not_for: [people], touches: [mask]}
parts:
  P01: {title: radial blower, class: blower, version: A}
  P02: {title: outflow valve, class: valve}
  P03: {title: brass bracket, class: bracket}
functions:
  F01: {title: carry off carbon dioxide, parts: [P01]}
use_steps:
  S01: {title: stop and take the hood off}
energy_sources:
  E01: {title: mains}
hazards:
  H01: {title: overpressure, condition: single fault, causes: [{by: P02, mode: stuck shut}], harm: {text: injury, severity: LEVEL}}
  H02: {title: quiet stop, condition: single fault, causes: [P01], harm: {text: breathlessness, severity: 3}, loss_of: [E01]}
"""


@pytest.fixture(scope="module")
def entries() -> Mapping[str, Entry]:
    return catalogs_of().of("hazards", "failures", "use-errors", "build-errors")


def asked(project: Project, entries: Mapping[str, Entry], text: str) -> tuple[Cell, ...]:
    assessment = project(text)
    assert not assessment.report.broken
    return cells(assessment.register, assessment.policy, entries)


def test_every_grid_asks_about_everything_in_it(project: Project, entries: Mapping[str, Entry]) -> None:
    found = asked(project, entries, BENCH.replace("LEVEL", "5"))
    about = {grid: {cell.about for cell in found if cell.grid == grid} for grid in {cell.grid for cell in found}}
    assert about == {
        "parts": {"P01", "P02", "P03"},
        "functions": {"F01"},
        "use steps": {"S01"},
        "energy": {"E01"},
        "surroundings": {""},
    }
    assert [cell.way for cell in found if cell.about == "E01" and "gone" in cell.way] == ["is gone"]
    assert len([cell for cell in found if cell.grid == "functions"]) == 11  # the guide words of IEC 61882, by subject
    ways = {cell.way for cell in found if cell.about == "P01"}
    assert {id for id, entry in entries.items() if "blower" in getattr(entry, "part_classes", ())} <= ways
    # The catalog knows no bracket: it is asked about all the same.
    assert "breaks or comes loose" in {cell.way for cell in found if cell.about == "P03"}


def test_a_name_and_a_code_belong_to_one_cell(project: Project, entries: Mapping[str, Entry]) -> None:
    found = asked(project, entries, BENCH.replace("LEVEL", "5"))
    assert max(Counter(cell.name for cell in found).values()) == 1
    assert max(Counter(cell.code for cell in found).values()) == 1
    assert all(checks_out(cell.code) for cell in found)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.integers(1, 2), st.sampled_from("ABCDEFGHJKLMNPRSTUVWXYZ"))
def test_a_wrong_letter_or_two_that_changed_places_do_not_check_out(seed: int, place: int, letter: str) -> None:
    (code,) = codes_of([("parts", f"P{seed % 90}", f"way {seed}")])
    at = len(code) - place
    if code[at] != letter:
        assert not checks_out(code[:at] + letter + code[at + 1 :])
    turned = code[: at - 1] + code[at] + code[at - 1] + code[at + 1 :]
    if turned != code and code[at - 1] != "-":
        assert not checks_out(turned)


def test_the_worst_comes_first_and_a_severity_edit_changes_the_order(
    project: Project, entries: Mapping[str, Entry]
) -> None:
    severe, mild = (asked(project, entries, BENCH.replace("LEVEL", level)) for level in ("5", "1"))
    first = {name: [cell.about for cell in found].index("P02") for name, found in (("severe", severe), ("mild", mild))}
    assert severe[0].about == "P02"
    assert first["severe"] < first["mild"]
    for found in (severe, mild):
        assert [cell.stake for cell in found] == sorted((cell.stake for cell in found), reverse=True)
        assert {cell.name for cell in found} == {cell.name for cell in severe}


def test_equals_take_turns(project: Project, entries: Mapping[str, Entry]) -> None:
    text = "parts:\n" + "".join(f"  P{number:02}: {{title: blower {number}, class: blower}}\n" for number in range(12))
    found = asked(project, entries, text)
    assert len({cell.about for cell in found if cell.grid == "parts"} & {cell.about for cell in found[:12]}) == 12


def test_what_a_hazard_says_already_is_not_asked(project: Project, entries: Mapping[str, Entry]) -> None:
    assessment = project(BENCH.replace("LEVEL", "5"))
    found = standings(cells(assessment.register, assessment.policy, entries), assessment.register)
    told = {each.cell.name: each.cell.told_by for each in found if each.state == "told"}
    assert told[("parts", "P02", "failures/valve-outflow-stuck-shut")] == ("H01",)
    assert told[("energy", "E01", "is gone")] == ("H02",)


ANSWERS = """
asked:
  Q-1: {about: P01, grid: parts, way: failures/blower-stops, answer: "no", because: two of them, on: 2026-11-20, remembers: PRINT}
  Q-2: {about: F01, grid: functions, way: "no", answer: later, on: 2026-11-20}
  Q-3: {grid: surroundings, way: altitude, answer: "yes", on: 2026-11-20, by: builder-1, became: [H02]}
"""


def test_only_what_is_open_is_asked_and_what_was_put_off_comes_last(
    project: Project, entries: Mapping[str, Entry]
) -> None:
    plain = asked(project, entries, BENCH.replace("LEVEL", "5"))
    print_of = next(cell.remembers for cell in plain if cell.about == "P01")
    text = BENCH.replace("LEVEL", "5") + ANSWERS.replace("PRINT", print_of)
    assessment = project(text)
    found = standings(cells(assessment.register, assessment.policy, entries), assessment.register)
    waiting = [each.cell.name for each in still_to_ask(found)]
    assert ("parts", "P01", "failures/blower-stops") not in waiting
    assert ("surroundings", "", "altitude") not in waiting
    assert waiting[-1] == ("functions", "F01", "no")

    # A new version of the part, and the question comes again; a comment or another order of keys, and it does not.
    for edit, comes_again in (("version: B", True), ("version: A, notes: wiped", False)):
        changed = project(text.replace("version: A", edit))
        again = standings(cells(changed.register, changed.policy, entries), changed.register)
        states = {each.cell.name: each.state for each in again}
        assert (states[("parts", "P01", "failures/blower-stops")] == "changed") is comes_again


def test_a_no_needs_its_reason(project: Project) -> None:
    found = project(BENCH.replace("LEVEL", "5") + ANSWERS.replace("because: two of them, ", ""))
    assert any("`no` needs `because`" in each.headline for each in found.report.broken)


def test_two_who_answered_apart(project: Project, entries: Mapping[str, Entry]) -> None:
    """The table of the worked example that many textbooks carry (from memory): 20, 5, 10, 15 give kappa 0.4."""
    text = "parts:\n" + "".join(f"  P{number:02}: {{title: blower {number}, class: blower}}\n" for number in range(50))
    text += "asked:\n"
    said = [("yes", "yes")] * 20 + [("yes", "no")] * 5 + [("no", "yes")] * 10 + [("no", "no")] * 15
    for number, both in enumerate(said):
        for role, answer in zip(("builder-1", "physician"), both, strict=True):
            text += f"  Q-{number}-{role}: {{about: P{number:02}, grid: parts, way: failures/blower-stops, "
            text += f"answer: '{answer}', because: so, on: 2026-11-20, by: {role}}}\n"
    assessment = project(text)
    found = pair(cells(assessment.register, assessment.policy, entries), assessment.register, "builder-1", "Physician")
    assert found.table == ((20, 5), (10, 15))
    assert kappa(found.table).kappa.estimate == pytest.approx(0.4)  # type: ignore[union-attr]
    assert len(list(found.apart)) == 15


@pytest.mark.parametrize(
    ("title", "phrase", "says"),
    [
        ("connect hose and oxygen line", "oxygen", True),
        ("wash and dry", "dry", True),
        ("washing it", "wash", True),
        ("stopped at night", "stops", True),
        ("carry off carbon dioxide", "carbon dioxide", True),
        ("carry off heat", "carbon dioxide", False),
        ("gas supply", "as", False),
        ("relief valve", "valve", True),
        ("valve", "relief valve", False),
    ],
)
def test_a_title_speaks_of_a_phrase(title: str, phrase: str, says: bool) -> None:
    assert speaks_of(title, phrase) is says


def test_telling_words_are_those_that_say_something() -> None:
    assert telling_words("The hose is pulled off the port") == {"hose", "pull", "port"}
