"""Two states of a register compared in risk words: what was loosened, what is worse, what is better."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from riskkit.judgement.scoring import HazardScore, Score
from riskkit.model.fields import Limit, Record
from riskkit.model.policy import Policy
from riskkit.model.records import Control, Hazard
from riskkit.model.register import Register
from riskkit.model.upkeep import Waiver
from riskkit.model.verification import Test
from riskkit.units import Quantity

Kind = Literal["loosened", "worse", "better", "tightened", "added", "removed", "changed"]
KINDS: tuple[Kind, ...] = ("loosened", "worse", "better", "tightened", "added", "removed", "changed")
"""In the order in which they are told."""


@dataclass(frozen=True, slots=True)
class Judged:
    """One state: the records, the policy, the scores, and what was open (rule, record, sentence)."""

    register: Register
    policy: Policy
    scores: Mapping[str, HazardScore]
    open: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Difference:
    """One change, told in a sentence."""

    kind: Kind
    record: str
    headline: str


def differences(old: Judged, new: Judged) -> tuple[Difference, ...]:
    """Everything that changed, loosened first; a record that only changed its words comes last."""
    found = [
        *_policy(old, new),
        *_records(old, new),
        *_limits(old.register, new.register),
        *_hazards(old, new),
        *_controls(old.register, new.register),
        *_findings(old, new),
    ]
    told = {each.record for each in found}
    found += [
        Difference("changed", id, f"{id} {_title(record)} was edited")
        for id, record in new.register.records.items()
        if id not in told and id in old.register.records and old.register.records[id] != record
    ]
    return tuple(sorted(dict.fromkeys(found), key=lambda each: (KINDS.index(each.kind), each.record)))


def _records(old: Judged, new: Judged) -> Iterator[Difference]:
    before, after = old.register.records, new.register.records
    for id, record in after.items():
        if id not in before:
            kind: Kind = "loosened" if isinstance(record, Waiver) else "added"
            yield Difference(kind, id, f"{id} {_title(record)} is new")
    for id, record in before.items():
        if id not in after:
            loose = isinstance(record, Control | Test)
            yield Difference("loosened" if loose else "removed", id, f"{id} {_title(record)} is gone")


def _policy(old: Judged, new: Judged) -> Iterator[Difference]:
    if old.policy == new.policy:
        return
    yield Difference("changed", "policy", f"the policy was changed ({old.policy.title} -> {new.policy.title})")
    if [step.level for step in old.policy.severity] != [step.level for step in new.policy.severity]:
        return
    ranks = {region.name: place for place, region in enumerate(old.policy.regions)}
    for row, cells in new.policy.matrix.items():
        for column, name in cells.items():
            was = old.policy.matrix.get(row, {}).get(column)
            if was is None or was == name or name not in ranks:
                continue
            kind: Kind = "loosened" if ranks[name] > ranks[was] else "tightened"
            yield Difference(kind, "policy", f"the matrix cell {row}, {column} says `{name}` instead of `{was}`")


def _limits(old: Register, new: Register) -> Iterator[Difference]:
    for test in new.tests:
        before = old.get(test.id, Test)
        if before is None:
            continue
        for place, limit in enumerate(test.limit):
            was = before.limit[place] if place < len(before.limit) else None
            if was is not None and was != limit:
                yield _limit(test.id, was, limit)
        if len(test.limit) < len(before.limit):
            yield Difference("loosened", test.id, f"{test.id} has fewer limits than before")
        runs = (before.plan.runs if before.plan else None, test.plan.runs if test.plan else None)
        if runs[0] and runs[1] and runs[0] != runs[1]:
            kind: Kind = "loosened" if runs[1] < runs[0] else "tightened"
            yield Difference(kind, test.id, f"{test.id} asks for {runs[1]} runs instead of {runs[0]}")


def _limit(id: str, was: Limit, now: Limit) -> Difference:
    words = f"{id} asks for `{now.sentence()}` instead of `{was.sentence()}`"
    steps = {_compare(was.at_most, now.at_most, 1), _compare(was.at_least, now.at_least, -1)}
    if was.between and now.between:
        steps |= {_compare(was.between[0], now.between[0], -1), _compare(was.between[1], now.between[1], 1)}
    steps.discard(0)
    if steps == {1}:
        return Difference("loosened", id, words)
    if steps == {-1}:
        return Difference("tightened", id, words)
    # Moved both ways, or to another kind of limit: nobody can say that it is not looser.
    return Difference("loosened" if steps else "changed", id, words)


def _compare(was: Quantity | None, now: Quantity | None, towards: int) -> int:
    """1 where a limit gives more room, -1 where it gives less, 0 where it stays."""
    if was is None or now is None or was.kind != now.kind or was.same_as(now):
        return 0 if (was is None) == (now is None) else 1
    return towards if now.value > was.value else -towards


def _hazards(old: Judged, new: Judged) -> Iterator[Difference]:
    for hazard in new.register.hazards:
        before = old.register.get(hazard.id, Hazard)
        if before is None:
            continue
        ranks = (old.policy.severity_rank(before.severity), new.policy.severity_rank(hazard.severity))
        if ranks[0] != ranks[1]:
            kind: Kind = "loosened" if ranks[1] < ranks[0] else "tightened"
            yield Difference(
                kind, hazard.id, f"{hazard.id} has severity {hazard.severity} instead of {before.severity}"
            )
        scored = (old.scores[hazard.id], new.scores[hazard.id])
        yield from _claims(hazard, scored, new.policy, _has_new_result(hazard, old.register, new.register))
        gone = [id for id in before.controls if id not in hazard.controls]
        come = [id for id in hazard.controls if id not in before.controls]
        if gone:
            yield Difference("loosened", hazard.id, f"{hazard.id} is no longer answered by {', '.join(gone)}")
        if come:
            yield Difference("better", hazard.id, f"{hazard.id} is now answered by {', '.join(come)} too")


def _claims(
    hazard: Hazard, scored: tuple[HazardScore, HazardScore], policy: Policy, shown: bool
) -> Iterator[Difference]:
    for name, was, now in (
        ("before controls", scored[0].before, scored[1].before),
        ("claimed", scored[0].claimed, scored[1].claimed),
    ):
        if was is None or now is None or (was.levels, was.p) == (now.levels, now.p):
            continue
        step = _rank(policy, now) - _rank(policy, was)
        told = (was.levels[0], now.levels[0])
        if step == 0 and was.p is not None and now.p is not None:
            step = (now.p[1] < was.p[1]) - (now.p[1] > was.p[1])
            told = (f"{float(was.p[1]):.2g}", f"{float(now.p[1]):.2g}")
        words = f"{hazard.id} is {name} at {told[1]} instead of {told[0]}"
        if step > 0 and shown:
            yield Difference("better", hazard.id, words)
        elif step > 0:
            yield Difference("loosened", hazard.id, f"{words}, with no new result")
        elif step < 0:
            yield Difference("worse", hazard.id, words)


def _rank(policy: Policy, score: Score) -> int:
    return policy.likelihood_rank(score.levels[0])


def _has_new_result(hazard: Hazard, old: Register, new: Register) -> bool:
    tests = set(hazard.tests)
    for control in new.all_of(hazard.controls, Control):
        tests |= {test.id for test in new.tests if control.id in test.proves}
    return any(result.test in tests and result.id not in old.records for result in new.results)


def _controls(old: Register, new: Register) -> Iterator[Difference]:
    for control in new.controls:
        before = old.get(control.id, Control)
        if before is not None and before.withdrawn is None and control.withdrawn is not None:
            yield Difference("loosened", control.id, f"{control.id} was withdrawn: {control.withdrawn.because}")


def _findings(old: Judged, new: Judged) -> Iterator[Difference]:
    before, after = {finding[:2] for finding in old.open}, {finding[:2] for finding in new.open}
    for rule, record, headline in new.open:
        if (rule, record) not in before:
            yield Difference("worse", record, f"newly open: {headline} [{rule}]")
    for rule, record, headline in old.open:
        if (rule, record) not in after:
            yield Difference("better", record, f"no longer open: {headline} [{rule}]")


def _title(record: Record) -> str:
    words = getattr(record, "title", None) or getattr(record, "text", None)
    return f"({words})" if isinstance(words, str) else f"({record.SECTION})"
