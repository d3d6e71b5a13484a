"""Which units were built, how they differ, and which gates there are: section 13."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from riskkit.assess import Assessment
from riskkit.checks.readiness import MOST_REASONS, readiness
from riskkit.dossier.view.device import NOT_STATED
from riskkit.dossier.view.telling import Teller
from riskkit.judgement.as_built import lives, proposals, repeats, step_verdict
from riskkit.model.upkeep import Gate, Question, StepCheck, Unit
from riskkit.text.evidence_files import evidence_of


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A check of the build."""

    step: str
    found: str
    by: str
    second: str
    same_person: bool
    verdict: str


@dataclass(frozen=True, slots=True)
class DeviationLine:
    """Where a unit differs, and what was decided."""

    text: str
    parts: tuple[str, ...]
    judged: str
    repeat: tuple[str, ...]
    leaning: tuple[str, ...]
    waiting: tuple[str, ...]


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
    register, context = assessment.register, assessment.context
    facts = (
        ("Serial", unit.serial),
        ("Builder", unit.builder),
        ("Place", unit.place),
        ("Built", unit.built),
        ("Revision", unit.revision),
        ("Firmware read back", "; ".join(f"{part} {digits}" for part, digits in unit.firmware_sha256.items()) or None),
        ("Parts that age", _ages(unit, assessment) or None),
        ("Photos and files", "; ".join(each.file for _, each in evidence_of(unit)) or None),
        ("No longer used since", unit.retired),
        ("Note", unit.notes),
    )
    needed = ("Builder", "Place", "Built", "Revision")
    gate = assessment.register.get(unit.gate, Gate) if unit.gate else None
    ladder = tuple(_ladder(unit, assessment, tell))
    return UnitBlock(
        id=unit.id,
        title=tell(unit.title, where),
        facts=tuple(
            (label, tell(NOT_STATED if value is None else value, where))
            for label, value in facts
            if value is not None or label in needed
        ),
        differs=tuple(
            (part, tell(fitted, where), tell(versions.get(part) or NOT_STATED, part))
            for part, fitted in unit.parts.items()
            if fitted != versions.get(part)
        ),
        checks=tuple(
            CheckLine(
                tell(check.step, where),
                tell(_found(check), where),
                tell(check.by or NOT_STATED, where),
                tell(check.second or NOT_STATED, where),
                check.by is not None and check.by == check.second,
                tell(_verdict(check, assessment), where),
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
                ()
                if deviation.judged
                else tuple(each.test for each in proposals(deviation, register, assessment.trace)),
                tell.each(
                    [
                        each.open
                        for each in repeats(unit, deviation, register, context.verdicts, context.freshness)
                        if each.open
                    ],
                    where,
                ),
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


def _found(check: StepCheck) -> str:
    said = [check.reading.written] if check.reading is not None else []
    said += [f"U {check.uncertainty.written}"] if check.uncertainty is not None else []
    said += [check.outcome] if check.outcome is not None else []
    said += [check.inspection] if check.inspection is not None else []
    return ", ".join(said) or "blank"


def _verdict(check: StepCheck, assessment: Assessment) -> str:
    """What the check says about its limit, with the reason; empty where it has none."""
    verdict = step_verdict(check, assessment.register, assessment.policy.evidence)
    if verdict is None:
        return ""
    limit = f"{check.limit.sentence()}: " if check.limit is not None else ""
    return f"{limit}{verdict.word}; {verdict.because}"


def _ages(unit: Unit, assessment: Assessment) -> str:
    """Life-limited parts with the day on which each is to be replaced."""
    return "; ".join(
        f"{life.part} to be replaced by {life.due}" + (" (over)" if life.due < assessment.today else "")
        if life.due is not None
        else f"{life.part}: nobody wrote down how old it is"
        for life in lives(unit, assessment.register)
        if life.due is not None or life.since is None
    )


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
