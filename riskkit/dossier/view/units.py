"""Which units were built, how they differ, and which gates there are: section 13."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from riskkit.assess import Assessment
from riskkit.checks.readiness import MOST_REASONS, readiness
from riskkit.dossier.view.device import NOT_STATED
from riskkit.dossier.view.telling import Teller
from riskkit.model.upkeep import Gate, Question, Unit
from riskkit.units import Quantity


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A check of the build."""

    step: str
    found: str
    by: str
    second: str
    same_person: bool


@dataclass(frozen=True, slots=True)
class DeviationLine:
    """Where a unit differs, and what was decided."""

    text: str
    parts: tuple[str, ...]
    judged: str
    repeat: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class StepLine:
    """Whether the unit may go to one gate: yes, no or cannot tell, the weightiest reasons, and how many more there are."""

    gate: str
    title: str
    word: str
    reasons: tuple[str, ...]
    more: int


@dataclass(frozen=True, slots=True)
class UnitBlock:
    """One built unit."""

    id: str
    title: str
    facts: tuple[tuple[str, str], ...]
    differs: tuple[tuple[str, str, str], ...]
    checks: tuple[CheckLine, ...]
    deviations: tuple[DeviationLine, ...]
    gate: str | None
    gate_title: str
    ladder: tuple[StepLine, ...]
    gate_stands: str
    void: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class GateLine:
    """A next step and its questions."""

    id: str
    title: str
    questions: tuple[tuple[str, tuple[str, ...], str], ...]


def unit_blocks(assessment: Assessment, tell: Teller) -> tuple[UnitBlock, ...]:
    """Section 13: one block per unit."""
    register = assessment.register
    versions = {part.id: part.version for part in register.parts}
    return tuple(_unit(unit, versions, assessment, tell) for unit in register.units)


def _unit(unit: Unit, versions: Mapping[str, str | None], assessment: Assessment, tell: Teller) -> UnitBlock:
    where = unit.id
    facts = (
        ("Builder", unit.builder),
        ("Place", unit.place),
        ("Built", unit.built),
        ("Revision", unit.revision),
        ("No longer used since", unit.retired),
        ("Note", unit.notes),
    )
    optional = ("No longer used since", "Note")
    gate = assessment.register.get(unit.gate, Gate) if unit.gate else None
    ladder = tuple(_ladder(unit, assessment, tell))
    return UnitBlock(
        id=unit.id,
        title=tell(unit.title, where),
        facts=tuple(
            (label, tell(NOT_STATED if value is None else value, where))
            for label, value in facts
            if value is not None or label not in optional
        ),
        differs=tuple(
            (part, tell(fitted, where), tell(versions.get(part) or NOT_STATED, part))
            for part, fitted in unit.parts.items()
            if fitted != versions.get(part)
        ),
        checks=tuple(
            CheckLine(
                tell(check.step, where),
                tell(_found(check.reading, check.outcome), where),
                tell(check.by or NOT_STATED, where),
                tell(check.second or NOT_STATED, where),
                check.by is not None and check.by == check.second,
            )
            for check in unit.checks
        ),
        deviations=tuple(
            DeviationLine(
                tell(deviation.text, where),
                deviation.parts,
                tell(
                    f"{deviation.judged.verdict} ({deviation.judged.by}, {deviation.judged.on})"
                    if deviation.judged
                    else "not judged",
                    where,
                ),
                deviation.judged.repeat if deviation.judged else (),
            )
            for deviation in unit.deviations
        ),
        gate=unit.gate,
        gate_title=tell(gate.title, gate.id) if gate is not None else "no gate recorded",
        ladder=ladder,
        gate_stands=_stands(gate, ladder, assessment),
        void=tuple(tell.finding(each.what, where) for each in assessment.void if each.record == unit.id),
    )


def _stands(gate: Gate | None, ladder: tuple[StepLine, ...], assessment: Assessment) -> str:
    """Whether the questions up to the gate that is recorded are still answered with yes; nobody signs that for good."""
    if gate is None:
        return ""
    order = {each.id: each.order for each in assessment.register.of(Gate)}
    for step in ladder:
        if order[step.gate] <= gate.order and step.word != "yes":
            return f"today {step.gate} is answered with `{step.word}`, so what is recorded no longer stands"
    return "its questions are answered with yes today"


def _ladder(unit: Unit, assessment: Assessment, tell: Teller) -> Iterator[StepLine]:
    """Gate by gate, as far as the first one that is not a yes, and that one."""
    for gate in sorted(assessment.register.of(Gate), key=lambda gate: gate.order):
        found = readiness(unit, gate, assessment.context, assessment.open_findings)
        told = tell.each([each.because for each in found.reasons[:MOST_REASONS]], unit.id)
        more = max(0, len(found.reasons) - MOST_REASONS)
        yield StepLine(gate.id, tell(gate.title, gate.id), found.word, told, more)
        if found.word != "yes":
            return


def _found(reading: Quantity | None, outcome: str | None) -> str:
    said = [reading.written] if reading is not None else []
    if outcome is not None:
        said.append(outcome)
    return ", ".join(said) or "blank"


def _answered_by(question: Question) -> str:
    """What answers a question beside tests, in words."""
    said = [f"build check {step}" for step in question.steps]
    said += [f"rule {rule}" for rule in question.rules]
    said += [question.needs] if question.needs else []
    return "; ".join(said)


def gate_lines(assessment: Assessment, tell: Teller) -> tuple[GateLine, ...]:
    """The ladder of gates, lowest first."""
    gates = sorted(assessment.register.of(Gate), key=lambda gate: gate.order)
    return tuple(
        GateLine(
            gate.id,
            tell(gate.title, gate.id),
            tuple(
                (tell(question.ask, gate.id), question.tests, tell(_answered_by(question), gate.id))
                for question in gate.questions
            ),
        )
        for gate in gates
    )
