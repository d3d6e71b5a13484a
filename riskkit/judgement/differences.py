"""Two states of a register compared in risk words: what was loosened, what is worse, what is better."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal

from riskkit.judgement.edits import edits, same
from riskkit.judgement.loosening import TOLD, Step, device_steps, policy_steps, steps
from riskkit.judgement.renaming import renamed, under_new_names
from riskkit.judgement.scoring import HazardScore, Moved, Score
from riskkit.model.fields import Record
from riskkit.model.policy import Policy
from riskkit.model.records import Control, Hazard
from riskkit.model.register import Register
from riskkit.model.upkeep import Comment, Decision, Gate, Observation, Waiver
from riskkit.model.verification import Result, Test
from riskkit.units import Quantity

Kind = Literal["loosened", "worse", "better", "tightened", "added", "removed", "renamed", "changed"]
KINDS: tuple[Kind, ...] = ("loosened", "worse", "better", "tightened", "added", "removed", "renamed", "changed")
"""In the order in which they are told."""

DISCLOSURES = (Control, Test, Result, Comment, Decision, Observation, Gate, Hazard)
"""Records that hold something against the device or for its reader: with one of them gone, less is asked or told."""


@dataclass(frozen=True, slots=True)
class Judged:
    """One state.

    Attributes:
        register: The records.
        policy: The policy that the scores were worked out under.
        scores: Scores by hazard.
        open: What was open: rule, record, sentence.
        answers: What each calculation gives, by its id and the name of the answer.
        homes: File of each record.
        unread: Files that could not be read as written.
    """

    register: Register
    policy: Policy
    scores: Mapping[str, HazardScore]
    open: tuple[tuple[str, str, str], ...]
    answers: Mapping[str, Mapping[str, Quantity]] = field(default_factory=dict)
    homes: Mapping[str, str] = field(default_factory=dict)
    unread: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Difference:
    """One change, told in a sentence; `was` and `now` where a limit or an end moved."""

    kind: Kind
    record: str
    headline: str
    was: str = ""
    now: str = ""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two states beside each other.

    Attributes:
        differences: Everything that changed, loosened first.
        old_under_new: Scores of the old register that lie elsewhere under the new policy.
        new_under_old: Scores of the new register that lay elsewhere under the old policy.
        not_compared: Ids that one of the two states has in a form that cannot be read.
        open: Number of open findings then and now.
    """

    differences: tuple[Difference, ...]
    old_under_new: tuple[Moved, ...]
    new_under_old: tuple[Moved, ...]
    not_compared: tuple[str, ...]
    open: tuple[int, int]

    def of(self, *kinds: Kind) -> tuple[Difference, ...]:
        """The differences of some kinds."""
        return tuple(each for each in self.differences if each.kind in kinds)


def differences(old: Judged, new: Judged) -> tuple[Difference, ...]:
    """Everything that changed, loosened first; a record that only changed its words comes last."""
    names = renamed(old.register, new.register)
    old = _under(names, old)
    apart = not_compared(old, new)
    found = [
        *(
            Difference("renamed", now, f"{now} {_title(new.register.records[now])} was {was}")
            for was, now in names.items()
        ),
        *_policy_and_device(old, new),
        *_records(old.register, new.register),
        *_steps(old.register, new.register),
        *_hazards(old, new),
        *_answers(old, new),
        *_findings(old, new),
    ]
    found = [each for each in found if each.record not in apart]
    found += _edited(old.register, new.register, {each.record for each in found if each.kind != "renamed"}, apart)
    return tuple(sorted(dict.fromkeys(found), key=lambda each: (KINDS.index(each.kind), each.record)))


def not_compared(old: Judged, new: Judged) -> frozenset[str]:
    """Records that one side has in a form that cannot be read, so that nobody knows whether they are new or gone."""
    hidden = {*old.register.broken, *new.register.broken}
    for one, other in ((old, new), (new, old)):
        hidden |= {
            id
            for id in one.register.records
            if id not in other.register.records and one.homes.get(id, "") in other.unread
        }
    return frozenset(hidden)


def _under(names: Mapping[str, str], old: Judged) -> Judged:
    """The old state under the ids of today."""
    if not names:
        return old

    def now(id: str) -> str:
        return names.get(id, id)

    return replace(
        old,
        register=under_new_names(old.register, names),
        scores={now(id): score for id, score in old.scores.items()},
        open=tuple((rule, now(record), headline) for rule, record, headline in old.open),
        answers={now(id): found for id, found in old.answers.items()},
        homes={now(id): home for id, home in old.homes.items()},
    )


def _told(record: str, subject: str, step: Step) -> Difference:
    return Difference(step.word, record, f"{subject}{step.words}", step.was, step.now)


def _policy_and_device(old: Judged, new: Judged) -> Iterator[Difference]:
    if not same(old.policy, new.policy):
        titles = (old.policy.title, new.policy.title)
        words = f" ({titles[0]} -> {titles[1]})" if titles[0] != titles[1] else ""
        yield Difference("changed", "policy", f"the policy was changed{words}")
        for step in policy_steps(old.policy, new.policy):
            yield _told("policy", "", step)
    devices = (old.register.device, new.register.device)
    told = [_told("device", "", step) for step in device_steps(*devices)]
    yield from told
    if devices[0] is not None and devices[1] is not None and not told and not same(*devices):
        yield Difference("changed", "device", f"the device sheet was edited: {edits(devices[0], devices[1])}")
    elif devices[0] is not None and devices[1] is None:
        yield Difference("removed", "device", "the device sheet is gone")


def _records(old: Register, new: Register) -> Iterator[Difference]:
    for id, record in new.records.items():
        if id not in old.records:
            kind: Kind = "loosened" if isinstance(record, Waiver) else "added"
            yield Difference(kind, id, f"{id} {_title(record)} is new")
    for id, record in old.records.items():
        if id not in new.records:
            loose = isinstance(record, DISCLOSURES)
            yield Difference("loosened" if loose else "removed", id, f"{id} {_title(record)} is gone")


def _steps(old: Register, new: Register) -> Iterator[Difference]:
    for id, record in new.records.items():
        before = old.records.get(id)
        if before is not None and type(before) is type(record):
            for step in steps(before, record):
                yield _told(id, f"{id} ", step)


def _edited(old: Register, new: Register, told: set[str], apart: frozenset[str]) -> Iterator[Difference]:
    for id, record in new.records.items():
        before = old.records.get(id)
        if before is None or id in apart or same(before, record):
            continue
        if type(before) is not type(record):
            words = f"{id} stands under `{record.SECTION}` and stood under `{before.SECTION}`"
            yield Difference("changed", id, words)
            continue
        if id in told:
            said = TOLD.get(record.SECTION, frozenset())
            before = before.model_copy(update={name: getattr(record, name) for name in said})
        words = edits(before, record)
        if words:
            yield Difference("changed", id, f"{id} {_title(record)} was edited: {words}")


def _hazards(old: Judged, new: Judged) -> Iterator[Difference]:
    for hazard in new.register.hazards:
        before = old.register.get(hazard.id, Hazard)
        if before is None:
            continue
        ranks = (old.policy.severity_rank(before.severity), new.policy.severity_rank(hazard.severity))
        if ranks[0] != ranks[1]:
            kind: Kind = "loosened" if ranks[1] < ranks[0] else "tightened"
            words = f"{hazard.id} has severity {hazard.severity} instead of {before.severity}"
            yield Difference(kind, hazard.id, words, before.severity, hazard.severity)
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
        ("supported by evidence", scored[0].supported, scored[1].supported),
    ):
        if was is None or now is None or (was.levels, was.p) == (now.levels, now.p):
            if was is not None and now is None:
                yield Difference(
                    "worse", hazard.id, f"{hazard.id} is no longer {name} at any level (it was {was.levels[0]})"
                )
            continue
        step = _rank(policy, now) - _rank(policy, was)
        told = (was.levels[0], now.levels[0])
        if step == 0 and was.p is not None and now.p is not None:
            step = (now.p[1] < was.p[1]) - (now.p[1] > was.p[1])
            told = (f"{float(was.p[1]):.2g}", f"{float(now.p[1]):.2g}")
        words = f"{hazard.id} is {name} at {told[1]} instead of {told[0]}"
        if told[0] == told[1]:
            continue
        if step > 0 and (shown or name == "supported by evidence"):
            yield Difference("better", hazard.id, words, *told)
        elif step > 0:
            yield Difference("loosened", hazard.id, f"{words}, with no new result", *told)
        elif step < 0:
            yield Difference("worse", hazard.id, words, *told)


def _rank(policy: Policy, score: Score) -> int:
    return policy.likelihood_rank(score.levels[0])


def _has_new_result(hazard: Hazard, old: Register, new: Register) -> bool:
    tests = set(hazard.tests)
    for control in new.all_of(hazard.controls, Control):
        tests |= {test.id for test in new.tests if control.id in test.proves}
    return any(result.test in tests and result.id not in old.records for result in new.results)


def _answers(old: Judged, new: Judged) -> Iterator[Difference]:
    for id, answers in new.answers.items():
        for what, now in answers.items():
            was = old.answers.get(id, {}).get(what)
            if was is not None and not was.same_as(now, rel=1e-6):
                one, other = was.show(was.unit), now.show(was.unit if was.kind == now.kind else now.unit)
                if one != other:
                    yield Difference("changed", id, f"{id} works out {what} as {other} instead of {one}", one, other)


def _findings(old: Judged, new: Judged) -> Iterator[Difference]:
    before, after = {finding[:2] for finding in old.open}, {finding[:2] for finding in new.open}
    for rule, record, headline in new.open:
        if (rule, record) not in before:
            yield Difference("worse", record, f"newly open: {headline} [{rule}]")
    for rule, record, headline in old.open:
        if (rule, record) in after:
            continue
        if record and record in old.register.records and record not in new.register.records:
            continue  # it went with its record, which is told by itself and is nothing better
        silenced = _silenced(rule, record, old.register, new.register)
        if silenced:
            yield Difference("loosened", record, f"no longer told, because {silenced}: {headline} [{rule}]")
        else:
            yield Difference("better", record, f"no longer open: {headline} [{rule}]")


def _silenced(rule: str, record: str, old: Register, new: Register) -> str:
    """Why a finding is no longer told although nothing was mended: waived, parked or withdrawn; "" where none is so."""
    for waiver in new.of(Waiver):
        if waiver.id not in old.records and (waiver.rule, waiver.record) == (rule, record):
            return f"{waiver.id} waives it"
    for name, word in (("parked", "parked"), ("withdrawn", "withdrawn")):
        was, now = (getattr(register.records.get(record), name, None) for register in (old, new))
        if was is None and now is not None:
            return f"{record} is {word}"
    return ""


def _title(record: Record) -> str:
    for name in ("title", "text", "was", "role"):
        words = getattr(record, name, None)
        if isinstance(words, str):
            return f"({words})"
    return f"({record.SECTION})"
