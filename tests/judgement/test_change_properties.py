"""What must hold of staleness and of re-tests whatever the register says, tried on registers that nobody wrote by hand."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from itertools import combinations
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st

from riskkit import load
from riskkit.assess import Assessment, assess
from riskkit.judgement.changes import change_of
from riskkit.model.register import Register
from riskkit.model.verification import Test
from riskkit.text.reader import read
from riskkit.text.snapshot import Snapshot

DAY = datetime.date(2026, 11, 25)
HOOD = Path(__file__).parent.parent.parent / "catalogs" / "examples" / "hood"
PARTS, CONTROLS, TESTS = ("P1", "P2"), ("C1", "C2", "C3"), ("T1", "T2", "T3", "T4")


def assessed(text: str) -> Assessment:
    return assess(read(Snapshot.from_files({"register.yaml": text.encode()})), today=DAY)


@st.composite
def benches(draw: st.DrawFn) -> Mapping[str, Any]:
    """Tests that overlap in what they show, each with a time and the parts that it is sensitive to."""
    some = lambda of, least: draw(st.lists(st.sampled_from(of), unique=True, min_size=least))  # noqa: E731
    tests = {
        id: {
            "proves": some(CONTROLS, 0),
            "shows": some(("implementation", "effectiveness"), 1),
            "configuration": some(PARTS, 0),
            "minutes": draw(st.integers(1, 90)),
        }
        for id in TESTS
    }
    return {"tests": tests, "tried": some(TESTS, 0), "done": some(TESTS, 1)}


def written(bench: Mapping[str, Any], version: str, again: tuple[str, ...]) -> str:
    lines = ["parts:", f"  P1: {{title: valve, version: {version}}}", "  P2: {title: hose, version: a}", "controls:"]
    lines += [f"  {id}: {{title: control {id}, kind: protective, depends_on: [P1]}}" for id in CONTROLS]
    lines += ["hazards:", "  H1:", "    title: overpressure", "    condition: normal"]
    lines += ["    harm: {text: injury, severity: 4}", f"    controls: [{', '.join(CONTROLS)}]"]
    lines += [f"    tests: [{', '.join(bench['tried'])}]", "tests:"]
    for id, told in bench["tests"].items():
        lines += [f"  {id}: {{title: test {id}, limit: {{shows: it holds}}, time: {told['minutes']} min,"]
        lines += [f"    {name}: [{', '.join(told[name])}]," for name in ("proves", "shows", "configuration")]
        lines += ["  }"]
    lines += ["results:"]
    for id in bench["done"]:
        lines += [_result(f"R-{id}", id, bench, "a")]
    for id in again:
        lines += [_result(f"N-{id}", id, bench, version)]
    return "\n".join(lines) + "\n"


def _result(id: str, test: str, bench: Mapping[str, Any], version: str) -> str:
    fitted = ", ".join(f"{part}: {version if part == 'P1' else 'a'}" for part in bench["tests"][test]["configuration"])
    return f"  {id}: {{test: {test}, on: 2026-11-01, inspection: as it should be, configuration: {{{fitted}}}}}"


def claims(test: Test, register: Register) -> set[tuple[str, str]]:
    """What a test can show, from the records and nothing else."""
    found = {(control, word) for control in test.proves for word in test.shows}
    found |= {(hazard.id, "is tried") for hazard in register.hazards if test.id in hazard.tests}
    return found or {(test.id, "is done")}


@settings(max_examples=30, deadline=None)
@given(benches())
def test_no_cheaper_set_of_tests_shows_again_what_went_stale(bench: Mapping[str, Any]) -> None:
    before = assessed(written(bench, "a", ()))
    assert not any(each.is_stale for each in before.freshness.values())
    change = change_of("P1", before.register, before.trace, before.freshness)
    # The edit itself makes those results stale that were foretold.
    after = assessed(written(bench, "b", ()))
    gone = {id for id, each in after.freshness.items() if each.is_stale}
    assert {each.result for each in change.stale} == gone

    shows = {test.id: claims(test, after.register) for test in after.register.tests}
    lost = set().union(*(shows[id.removeprefix("R-")] for id in gone))
    # Whoever does a test again that is still fresh learns nothing about the change.
    useful = [id for id in TESTS if f"R-{id}" in gone or id not in bench["done"]]
    cost = {
        chosen: sum(float(bench["tests"][id]["minutes"]) for id in chosen)
        for count in range(len(useful) + 1)
        for chosen in combinations(useful, count)
        if lost <= set().union(*(shows[id] for id in chosen))
    }
    again = tuple(each.test for each in change.retest)
    assert again in cost
    assert change.minutes == pytest.approx(min(cost.values()))
    assert change.cover.is_smallest
    # Done again on the new part, they are fresh.
    mended = assessed(written(bench, "b", again))
    assert not any(mended.freshness[f"N-{id}"].is_stale for id in again)


# -- the demo, edited at random --------------------------------------------------------------------

EDITS = (
    ("parts.yaml", "version: ", "version: another "),
    ("parts.yaml", "ratings: {", "ratings: {colour number: 7 mm, "),
    ("instruments.yaml", "uncertainty: ", "uncertainty: 1"),
    ("calculations.yaml", " hPa", "1 hPa"),
    ("tests/pressure.yaml", "hPa", "mbar"),
)


def stale(files: Mapping[str, bytes]) -> tuple[set[str], Assessment]:
    found = assess(read(Snapshot.from_files(files)), today=DAY)
    return {id for id, each in found.freshness.items() if each.is_stale}, found


@settings(max_examples=8, deadline=None)
@given(st.data())
def test_an_edit_makes_nothing_fresher_and_undoing_it_restores_every_verdict(data: st.DataObject) -> None:
    files = dict(load(HOOD).snapshot.files)
    before, untouched = stale(files)
    edited = dict(files)
    for _ in range(data.draw(st.integers(1, 3))):
        name, was, now = data.draw(st.sampled_from(EDITS))
        text = edited[name].decode()
        places = [place for place in range(len(text)) if text.startswith(was, place)]
        place = data.draw(st.sampled_from(places))
        edited[name] = (text[:place] + now + text[place + len(was) :]).encode()
    after, changed = stale(edited)
    gone = set(_replaced_or_broken(untouched.register, changed.register))
    assert before - gone <= after
    again, restored = stale({**edited, **files})
    assert again == before
    assert restored.verdicts == untouched.verdicts
    assert restored.statuses == untouched.statuses
    assert restored.supports == untouched.supports
    assert restored.report == untouched.report


def _replaced_or_broken(old: Register, new: Register) -> list[str]:
    return [id for id in old.records if id not in new.records]
