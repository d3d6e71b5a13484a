"""Fingerprints and signatures: the form of a file never counts, what it says always does, and an edit voids a signature."""

from __future__ import annotations

import datetime
import json
import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings, strategies as st

from riskkit.assess import Assessment, assess
from riskkit.judgement.fingerprints import fingerprint
from riskkit.judgement.freshness import mark_of
from riskkit.judgement.signatures import signatures
from riskkit.text.reader import read
from riskkit.text.snapshot import Snapshot

Project = Callable[..., Assessment]

SAID: dict[str, Any] = {
    "policy": "five-by-five",
    "device": {"name": "bench device", "languages": ["en", "nb"]},
    "parts": {"P01": {"title": "sensor"}},
    "hazards": {
        "H01": {
            "title": "pressure climbs in the hood",
            "condition": ["single fault", "use error"],
            "harm": {"text": "ear pain", "severity": 4, "because": "A01"},
            "likelihood": {"before": {"p1": "1/100", "p2": 0.5, "because": "one in a hundred"}},
            "time_to_harm": {"value": ("time", 58)},
            "controls": ["C01"],
        }
    },
    "controls": {
        "C01": {
            "title": "blow-off",
            "kind": "protective",
            "depends_on": ["P01"],
            "introduces": [],
            "check_interval": ("time", 7200),
            "alarm": {"trips": [{"quantity": "hood pressure", "above": ("pressure", 1200)}]},
        }
    },
    "assumptions": {
        "A01": {
            "text": "harm begins at this pressure in the hood",
            "value": ("pressure", 2500),
            "owner": "emergency physician",
            "confirmed": "2026-11-01",
        }
    },
    "sentences": {
        "X01": {"text": {"en": "Stop at once.", "nb": "Stopp med en gang."}, "reviewed": {"nb": "builder-2"}}
    },
    "comments": {
        "M01": {
            "on": "2026-11-01",
            "by": "emergency physician",
            "weight": "major",
            "text": "who says so",
            "disposition": {"kind": "declined", "reason": "it is written in A01"},
        }
    },
    "gates": {
        "G1": {"title": "bench only", "order": 1, "questions": [{"ask": "Is nobody alone", "needs": "two roles"}]}
    },
    "units": {
        "U01": {
            "title": "first",
            "checks": [{"step": "relief", "reading": ("pressure", 1750), "by": "builder-1", "second": "builder-2"}],
            "deviations": [
                {"text": "stiffer spring", "judged": {"verdict": "re-test", "by": "builder-2", "on": "2026-11-02"}}
            ],
            "answers": [
                {"gate": "G1", "ask": "Is nobody alone", "answer": "yes", "by": "builder-1", "on": "2026-11-02"}
            ],
        }
    },
}

SPELLINGS = {
    "pressure": (("Pa", 1), ("hPa", 100), ("mbar", 100), ("kPa", 1000), ("bar", 100_000), ("N/m²", 1)),
    "time": (("s", 1), ("ms", Decimal("0.001")), ("min", 60), ("h", 3600)),
}


class Pen:
    """Writes the same register in many ways of YAML: block or flow, any order of keys, comments, quotes, units."""

    def __init__(self, draw: Callable[[st.SearchStrategy[Any]], Any]) -> None:
        self.draw = draw

    def write(self, value: Any, depth: int = 0) -> str:
        if isinstance(value, dict) and value and self.draw(st.booleans()):
            pad = "  " * depth
            lines = [f"{pad}# {self.draw(st.sampled_from(('a word', 'P11: 3 hPa', '')))}\n" * self.draw(st.booleans())]
            for key in self.keys(value):
                inner = value[key]
                if isinstance(inner, dict) and inner:
                    body = self.write(inner, depth + 1)
                    lines.append(f"{pad}{key}:{body if body.startswith(' {') else chr(10) + body}")
                else:
                    lines.append(f"{pad}{key}: {self.scalar(inner)}{'  # noted' * self.draw(st.booleans())}\n")
            return "".join(lines)
        return f" {self.flow(value)}\n" if depth else f"{self.flow(value)}\n"

    def keys(self, value: dict[str, Any]) -> list[str]:
        return list(self.draw(st.permutations(list(value))))

    def flow(self, value: Any) -> str:
        if isinstance(value, dict):
            return "{" + ", ".join(f"{key}: {self.flow(value[key])}" for key in self.keys(value)) + "}"
        return self.scalar(value)

    def scalar(self, value: Any) -> str:
        if isinstance(value, list):
            return "[" + ", ".join(self.flow(each) for each in value) + "]"
        if isinstance(value, tuple):
            kind, number = value
            unit, worth = self.draw(st.sampled_from(SPELLINGS[kind]))
            return json.dumps(f"{(Decimal(number) / Decimal(worth)).normalize():.12g} {unit}", ensure_ascii=False)
        if isinstance(value, str) and self.draw(st.booleans()):
            return json.dumps(value, ensure_ascii=False)
        return f"'{value}'" if isinstance(value, str) else json.dumps(value)


@st.composite
def written(draw: Callable[[st.SearchStrategy[Any]], Any]) -> str:
    return Pen(draw).write(SAID)


def reading(text: str) -> Assessment:
    return assess(read(Snapshot.from_files({"register.yaml": text.encode()})), today=datetime.date(2026, 11, 25))


def prints(assessment: Assessment) -> dict[str, str]:
    found = {each.what: each.now for each in signatures(assessment.reading.register)}
    return found | {"H01": fingerprint(assessment.register, assessment.policy, "H01")}


def plain() -> str:
    """One fixed spelling: flow JSON with the first unit of each kind."""

    def spelt(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: spelt(part) for key, part in value.items()}
        if isinstance(value, list):
            return [spelt(part) for part in value]
        if isinstance(value, tuple):
            return f"{value[1]} {SPELLINGS[value[0]][0][0]}"
        return value

    return json.dumps(spelt(SAID), ensure_ascii=False, indent=1)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(written())
def test_the_form_of_a_file_never_changes_a_fingerprint(text: str) -> None:
    found = reading(text)
    assert not found.report.broken, (text, [each.headline for each in found.report.broken])
    assert prints(found) == prints(reading(plain()))


EDITS = [
    ("harm begins at this pressure", "harm begins at that pressure", {"the confirmation of A01"}),
    ('"2500 Pa"', '"2501 Pa"', {"the confirmation of A01"}),
    ('"owner": "emergency physician"', '"owner": "builder-1"', {"the confirmation of A01"}),
    ('"confirmed": "2026-11-01"', '"confirmed": "2026-11-02"', {"the confirmation of A01"}),
    ("Stopp med en gang.", "Stopp snart.", {"the reading of X01 in nb"}),
    ("Stop at once.", "Stop soon.", {"the reading of X01 in nb"}),
    ('"nb": "builder-2"', '"nb": "builder-1"', {"the reading of X01 in nb"}),
    ("who says so", "who says that", {"the answer to M01"}),
    ("it is written in A01", "no", {"the answer to M01"}),
    ('"major"', '"minor"', {"the answer to M01"}),
    ('"1750 Pa"', '"1650 Pa"', {"the signature under `relief` of U01"}),
    ("stiffer spring", "softer spring", {"the judgement on `stiffer spring` of U01", "the judgement on `softer spring` of U01"}),
    ('"two roles"', '"one role"', {"the answer of U01 to `Is nobody alone`"}),
    ('"answer": "yes"', '"answer": "no"', {"the answer of U01 to `Is nobody alone`"}),
    ("ear pain", "ear injury", {"H01"}),
    ('"58 s"', '"59 s"', {"H01"}),
    ('"1200 Pa"', '"1201 Pa"', {"H01"}),
    ('"1/100"', '"1/101"', {"H01"}),
    ('"introduces": []', '"dormant": false', {"H01"}),
    ('"five-by-five"', '"mil-std-882e"', {"H01"}),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "touched"), EDITS)
def test_a_change_of_meaning_changes_what_leans_on_it_and_nothing_else(old: str, new: str, touched: set[str]) -> None:
    assert plain().count(old) == 1
    before, after = prints(reading(plain())), prints(reading(plain().replace(old, new)))
    assert {name for name in before.keys() | after.keys() if before.get(name) != after.get(name)} == touched


# -- what a void signature does -----------------------------------------------------------------------

BOUND = """
device: {name: bench device, languages: [en, nb]}
assumptions:
  A01: {text: harm begins at 3 %%, value: 3 %%, owner: emergency physician, confirmed: 2026-11-01, fingerprint: "%s"}
gates:
  G1: {title: bench only, order: 1, questions: [{ask: Is nobody alone, needs: two roles}]}
units:
  U01:
    title: first
    answers: [{gate: G1, ask: is nobody alone, answer: "yes", by: builder-1, on: 2026-11-02, fingerprint: "%s"}]
sentences:
  X01: {text: {en: Stop at once., nb: Stopp straks.}, reviewed: {en: builder-1, nb: builder-2}, fingerprints: {nb: "%s"}}
"""


def bound(project: Project) -> str:
    now = {each.what: each.now for each in signatures(project(BOUND % ("0", "0", "0")).reading.register)}
    names = ("the confirmation of A01", "the answer of U01 to `is nobody alone`", "the reading of X01 in nb")
    return BOUND % tuple(now[name] for name in names)


def void(assessment: Assessment) -> list[str]:
    return [found.headline for found in assessment.report if found.rule == "sign-off-void"]


def test_what_was_signed_stands_until_it_is_edited(project: Project) -> None:
    text = bound(project)
    kept = project(text)
    assert void(kept) == []
    assert kept.register.records["A01"].confirmed is not None  # type: ignore[attr-defined]
    assert void(project(text.replace("  A01", "  # said\n  A01"))) == []
    edited = project(text.replace("harm begins at 3 %,", "harm begins at 4 %,").replace("two roles", "one role"))
    told = void(edited)
    assert len(told) == 2
    assert all(
        re.search(r"was given for something else \([0-9a-f]{12}\); it is another now \([0-9a-f]{12}\)", t) for t in told
    )
    assert edited.register.records["A01"].confirmed is None  # type: ignore[attr-defined]
    assert edited.register.units[0].answers == ()
    assert edited.reading.register.units[0].answers, "the file itself is read as it is"


def test_a_translation_is_void_when_the_first_language_changes(project: Project) -> None:
    edited = project(bound(project).replace("Stop at once.", "Stop within a minute."))
    assert len(void(edited)) == 1
    assert "X01 in nb" in void(edited)[0]
    assert dict(edited.register.records["X01"].reviewed) == {"en": "builder-1"}  # type: ignore[attr-defined]


def test_an_answer_to_a_question_that_is_gone_is_void(project: Project) -> None:
    (told,) = void(project(bound(project).replace("ask: Is nobody alone", "ask: Is somebody there")))
    assert told == "the answer of U01 to `is nobody alone` answers what is asked no more"


def test_a_signature_without_a_fingerprint_is_taken_as_it_stands(project: Project) -> None:
    text = "assumptions:\n  A01: {text: a, owner: b, confirmed: 2026-11-01}\n"
    assert void(project(text)) == []
    assert project(text).register.records["A01"].confirmed is not None  # type: ignore[attr-defined]


HELD = """
parts:
  P01: {title: board, version: "2"}
  P02: {title: firmware, version: "%s"}
tests:
  T01: {title: alarm sounds, limit: {shows: it sounds}, configuration: [P01, P02]}
results:
  R01:
    test: T01
    on: 2026-09-01
    configuration: {P01: "1", P02: "1"}
    inspection: as it should be
    still_valid: {because: same sounder, by: builder-1, on: 2026-10-01, until: 2027-01-01, fingerprint: "%s"}
"""


def test_a_judgement_excuses_the_changes_that_it_was_about_and_no_later_one(project: Project) -> None:
    mark = mark_of(project(HELD % ("1", "0")).freshness["R01"].lapses)
    held = project(HELD % ("1", mark)).freshness["R01"]
    assert not held.is_stale
    assert held.excused is not None
    later = project(HELD % ("2", mark))
    assert later.freshness["R01"].is_stale
    (told,) = [found.headline for found in later.report if found.rule == "result-is-stale"]
    assert told.endswith("(what builder-1 judged on 2026-10-01 was about other changes)")
