"""Everything in a register that falls due on a day: what, when, where it stands, and what to do then.

Comparisons of instruments, parkings, waivers, decisions, assumptions, judgements that an older result still holds,
life-limited parts of built units, deferred comments, and observations that wait for an answer.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import Literal

from riskkit.judgement.as_built import lives
from riskkit.judgement.verdicts import replaced_results
from riskkit.model.fields import Parked
from riskkit.model.policy import Policy
from riskkit.model.records import Part
from riskkit.model.references import Path
from riskkit.model.register import Register
from riskkit.model.upkeep import Comment, Decision, Observation, Waiver
from riskkit.model.verification import Assumption, Instrument

Kind = Literal[
    "comparison",
    "parking",
    "waiver",
    "decision",
    "assumption",
    "still valid",
    "life limit",
    "deferred comment",
    "observation",
]


@dataclass(frozen=True, slots=True)
class Due:
    """One thing that falls due.

    Attributes:
        day: The last day on which it still holds; from the next day on it is overdue.
        kind: What sort of thing it is.
        record: The record in which the day stands, or follows from what stands there.
        path: From the record to the field.
        about: The part of a unit; empty for everything else. With record and kind it names the thing for good.
        what: What falls due, as a sentence without its end.
        detail: What it is about in the register's own words; empty where the sentence says all.
        todo: What to do about it.
        who: The role that answers for it; empty where none is named.
    """

    day: datetime.date
    kind: Kind
    record: str
    path: Path
    about: str
    what: str
    detail: str
    todo: str
    who: str = ""


def falls_due(register: Register, policy: Policy) -> tuple[Due, ...]:
    """All of it, earliest first; what is overdue already is among it.

    Args:
        register: The records.
        policy: Says how many days an observation may wait for an answer.
    """
    found = chain(
        _comparisons(register),
        _parkings(register),
        _decided(register),
        _assumptions(register),
        _still_valid(register),
        _lives(register),
        _deferred(register),
        _observations(register, policy),
    )
    return tuple(sorted(found, key=lambda each: (each.day, each.kind, each.record, each.about)))


def _comparisons(register: Register) -> Iterator[Due]:
    for each in register.of(Instrument):
        if each.due is not None:
            yield Due(
                each.due,
                "comparison",
                each.id,
                ("due",),
                "",
                f"{each.id} ({each.title}) is due for its comparison with a better one",
                "",
                "compare it, add the outcome under `calibrations:` and write the next day under `due:`",
                each.owner or "",
            )


def _parkings(register: Register) -> Iterator[Due]:
    for each in register.records.values():
        parked = getattr(each, "parked", None)
        if isinstance(parked, Parked):
            yield Due(
                parked.until,
                "parking",
                each.id,
                ("parked", "until"),
                "",
                f"the parking of {each.id} ({register.title_of(each.id)}) ends",
                parked.reason,
                "do it, or decide again with a new end",
                parked.owner,
            )


def _decided(register: Register) -> Iterator[Due]:
    for waiver in register.of(Waiver):
        yield Due(
            waiver.until,
            "waiver",
            waiver.id,
            ("until",),
            "",
            f"{waiver.id}, which leaves {waiver.rule} of {waiver.record} open, ends",
            waiver.because,
            f"mend {waiver.record}, or write a new waiver with its reason and roles",
            " and ".join(filter(None, (waiver.by, waiver.second))),
        )
    for decision in register.of(Decision):
        if decision.until is not None:
            yield Due(
                decision.until,
                "decision",
                decision.id,
                ("until",),
                "",
                f"{decision.id} on {', '.join(decision.covers)} has to be decided again",
                decision.because,
                f"look at {', '.join(decision.covers)} as it is now, and decide again or change it",
                decision.by,
            )


def _assumptions(register: Register) -> Iterator[Due]:
    for each in register.of(Assumption):
        if each.until is not None:
            yield Due(
                each.until,
                "assumption",
                each.id,
                ("until",),
                "",
                f"{each.id} has to be looked at again",
                each.text,
                "look at it again, then write a new date or take out what leans on it",
                each.owner or "",
            )


def _still_valid(register: Register) -> Iterator[Due]:
    """The judgement that lasts longest on each result that counts."""
    replaced = replaced_results(register)
    for each in register.results:
        if each.still_valid and each.id not in replaced:
            place, last = max(enumerate(each.still_valid), key=lambda pair: pair[1].until)
            yield Due(
                last.until,
                "still valid",
                each.id,
                ("still_valid", place, "until"),
                "",
                f"the judgement that {each.id} still holds ends",
                last.because,
                f"do {each.test} again, or judge again with a new end",
                last.by,
            )


def _lives(register: Register) -> Iterator[Due]:
    for unit in register.units:
        for life in lives(unit, register) if unit.retired is None else ():
            part = register.get(life.part, Part)
            if life.due is None or part is None or part.life_limit is None:
                continue
            yield Due(
                life.due,
                "life limit",
                unit.id,
                ("fitted", life.part) if life.part in unit.fitted else ("parts", life.part),
                life.part,
                f"{life.part} ({part.title}) of {unit.id} reaches its life limit of {part.life_limit.written}, "
                f"counted from {life.since}",
                "",
                f"replace it, write the day under `fitted:` of {unit.id}, and do the tests that lean on it again",
                unit.builder or "",
            )


def _deferred(register: Register) -> Iterator[Due]:
    for each in register.of(Comment):
        answer = each.disposition
        if answer is not None and answer.kind == "deferred" and answer.until is not None:
            yield Due(
                answer.until,
                "deferred comment",
                each.id,
                ("disposition", "until"),
                "",
                f"the answer to the {each.weight} comment {each.id} of the {each.by} was put off until now",
                each.text,
                "answer it, or put it off again with a reason",
                answer.owner or "",
            )


def _observations(register: Register, policy: Policy) -> Iterator[Due]:
    for each in register.of(Observation):
        if each.became or each.no_hazard_because or each.parked:
            continue
        try:
            day = each.on + datetime.timedelta(days=policy.observation_days)
        except OverflowError:
            continue
        yield Due(
            day,
            "observation",
            each.id,
            ("on",),
            "",
            f"{each.id} has waited {policy.observation_days} days for an answer",
            each.text,
            "add `became:` with a hazard, or `no_hazard_because:`",
            each.by or "",
        )
