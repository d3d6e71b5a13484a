"""The status of a hazard, worked out and never typed."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from riskkit.model.records import Control, Hazard
from riskkit.model.register import Register

Word = Literal["open", "controlled, unverified", "measured", "parked"]


@dataclass(frozen=True, slots=True)
class Status:
    """One of the words, and why.

    `measured` says that results are on file for every live control, of a test of its presence and of
    its effect. It is no verdict: whether the readings keep to their limits is another question.
    """

    word: Word
    because: str


def statuses(register: Register, today: datetime.date) -> Mapping[str, Status]:
    """Status of every hazard by id.

    Args:
        register: The records.
        today: Parking ends on its last day.
    """
    shown = _shown(register)
    return {hazard.id: _status(hazard, register, shown, today) for hazard in register.hazards}


def _shown(register: Register) -> Mapping[str, frozenset[str]]:
    """Control -> what results on file speak about: implementation, effectiveness."""
    tested = {result.test for result in register.results}
    found: dict[str, set[str]] = defaultdict(set)
    for test in register.tests:
        if test.id in tested:
            for control in test.proves:
                found[control].update(test.shows)
    return {control: frozenset(words) for control, words in found.items()}


def _status(hazard: Hazard, register: Register, shown: Mapping[str, frozenset[str]], today: datetime.date) -> Status:
    if hazard.parked is not None and hazard.parked.until >= today:
        return Status("parked", f"until {hazard.parked.until}: {hazard.parked.reason}")
    live = [control for control in register.all_of(hazard.controls, Control) if control.withdrawn is None]
    if not live:
        return Status("open", "no control answers it")
    wanted = ("implementation", "effectiveness")
    missing = [
        f"{control.id} ({' and '.join(word for word in wanted if word not in shown.get(control.id, ()))})"
        for control in live
        if not shown.get(control.id, frozenset()).issuperset(wanted)
    ]
    if missing:
        return Status("controlled, unverified", f"no result on file for {', '.join(missing)}")
    return Status("measured", "results are on file for every control; no verdict is given on them here")
