"""The status of a hazard, worked out and never typed."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from riskkit.judgement.listing import with_and
from riskkit.judgement.samples import SampleVerdict
from riskkit.judgement.support import Support
from riskkit.judgement.verdicts import ResultVerdict
from riskkit.model.records import Control, Hazard
from riskkit.model.register import Register

Word = Literal["open", "controlled, unverified", "measured", "verified", "contradicted", "parked"]


@dataclass(frozen=True, slots=True)
class Status:
    """One of the words, and why.

    `verified`: every result on file of the tests of every live control, of its presence and of its effect, meets its
    limit and shows the proportion that its plan claims, and evidence supports the likelihood that is claimed.
    `contradicted`: a result does not meet a limit. `measured`: results are on file, and some cannot be told or show less
    than is claimed. It says nothing about use on a person.
    """

    word: Word
    because: str


def statuses(
    register: Register,
    today: datetime.date,
    by_test: Mapping[str, Sequence[ResultVerdict]],
    samples: Mapping[str, SampleVerdict],
    supports: Mapping[str, Support],
) -> Mapping[str, Status]:
    """Status of every hazard by id.

    Args:
        register: The records.
        today: Parking ends on its last day.
        by_test: Verdicts that count, by test.
        samples: What the sample of each test shows about the proportion that its plan claims.
        supports: What evidence supports, by hazard.
    """
    shown = _shown(register, by_test)
    found = {hazard.id: _status(hazard, register, shown, by_test, samples, today) for hazard in register.hazards}
    return {id: _less_than_claimed(status, supports.get(id)) for id, status in found.items()}


def _less_than_claimed(status: Status, support: Support | None) -> Status:
    """Readings that meet their limits verify no likelihood that they do not support."""
    if status.word == "verified" and support is not None and support.falls_short:
        return Status("measured", "every result on file meets its limit, and supports less than is claimed")
    return status


def _shown(
    register: Register, by_test: Mapping[str, Sequence[ResultVerdict]]
) -> Mapping[str, Mapping[str, tuple[ResultVerdict, ...]]]:
    """Control -> implementation, effectiveness -> verdicts that speak about it."""
    found: dict[str, dict[str, list[ResultVerdict]]] = defaultdict(lambda: defaultdict(list))
    for test in register.tests:
        for control in test.proves:
            for word in test.shows:
                found[control][word].extend(by_test.get(test.id, ()))
    return {
        control: {word: tuple(judged) for word, judged in words.items() if judged} for control, words in found.items()
    }


def _status(
    hazard: Hazard,
    register: Register,
    shown: Mapping[str, Mapping[str, tuple[ResultVerdict, ...]]],
    by_test: Mapping[str, Sequence[ResultVerdict]],
    samples: Mapping[str, SampleVerdict],
    today: datetime.date,
) -> Status:
    if hazard.parked is not None and hazard.parked.until >= today:
        return Status("parked", f"until {hazard.parked.until}: {hazard.parked.reason}")
    live = [control for control in register.all_of(hazard.controls, Control) if control.withdrawn is None]
    if not live:
        return Status("open", "no control answers it")
    failing = _failing(hazard, live, shown, by_test)
    if failing:
        return Status("contradicted", f"{with_and(failing)} {'does' if len(failing) == 1 else 'do'} not meet a limit")
    missing = [
        f"{control.id} ({' and '.join(word for word in WANTED if word not in shown.get(control.id, {}))})"
        for control in live
        if any(word not in shown.get(control.id, {}) for word in WANTED)
    ]
    if missing:
        return Status("controlled, unverified", f"no result on file for {with_and(missing)}")
    unsure: dict[str, str] = {}
    for control in live:
        for word in WANTED:
            for each in shown[control.id][word]:
                if each.word == "does not meet":
                    unsure[each.result] = "does not meet the limit of a test for another situation"
                elif each.word != "meets":
                    unsure[each.result] = "cannot be told from its limit"
                elif each.test in samples and not samples[each.test].shown:
                    unsure[each.test] = "does not show the proportion that it claims"
    if unsure:
        return Status("measured", "; ".join(f"{id} {words}" for id, words in unsure.items()))
    return Status("verified", "every result on file for its controls meets its limit, and carries what is claimed")


WANTED = ("implementation", "effectiveness")


def _failing(
    hazard: Hazard,
    live: Sequence[Control],
    shown: Mapping[str, Mapping[str, tuple[ResultVerdict, ...]]],
    by_test: Mapping[str, Sequence[ResultVerdict]],
) -> list[str]:
    """Results that do not meet a limit: of the hazard's own tests where it names any, of its controls' elsewhere."""
    if hazard.tests:
        spoken = [each for test in hazard.tests for each in by_test.get(test, ())]
    else:
        spoken = [each for control in live for judged in shown.get(control.id, {}).values() for each in judged]
    return list(dict.fromkeys(each.result for each in spoken if each.word == "does not meet"))
