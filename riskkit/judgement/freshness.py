"""Whether a result still speaks for what is there now, or leaned on something that has changed since.

A result leans on the version of each part that its test is sensitive to, on the criterion and method of the test, on the
instruments and their comparisons, and on the calculation that its limit comes from. It remembers the versions it was taken
with (`configuration`) and fingerprints of the rest (`remembers`, written by `record`); what it does not remember cannot lapse.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from riskkit.judgement.calculations import Worked
from riskkit.judgement.fingerprints import digest
from riskkit.judgement.verdicts import replaced_results
from riskkit.model.fields import plain_words
from riskkit.model.records import Part
from riskkit.model.register import Register
from riskkit.model.upkeep import Unit
from riskkit.model.verification import Calculation, Instrument, Result, StillValid, Test


@dataclass(frozen=True, slots=True)
class Lapse:
    """One thing that a result leaned on and that is not as it was.

    Attributes:
        record: What changed.
        because: What was, and what is now, in the middle of a sentence.
        path: Ids from the result to what changed.
    """

    record: str
    because: str
    path: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Freshness:
    """Whether a result still speaks.

    Attributes:
        result: The result.
        lapses: What has changed under it.
        excused: The judgement that it holds all the same, as long as that lasts.
        expired: The latest such judgement whose end has passed.
        outgrown: A judgement that lasts and was about other changes than these, by its fingerprint.
    """

    result: str
    lapses: tuple[Lapse, ...]
    excused: StillValid | None = None
    expired: StillValid | None = None
    outgrown: StillValid | None = None

    @property
    def is_stale(self) -> bool:
        """Whether something changed under it, and nobody answers for its holding all the same."""
        return bool(self.lapses) and self.excused is None

    @property
    def because(self) -> str:
        """What changed, as the rest of a sentence; empty where nothing did."""
        return "; ".join(each.because for each in self.lapses)


def freshness(register: Register, worked: Mapping[str, Worked], today: datetime.date) -> Mapping[str, Freshness]:
    """Freshness of every result by id; a replaced result is asked no more."""
    replaced = replaced_results(register)
    return {
        result.id: _freshness(result, register, worked, today)
        for result in register.results
        if result.id not in replaced
    }


def _freshness(result: Result, register: Register, worked: Mapping[str, Worked], today: datetime.date) -> Freshness:
    lapses = tuple(_lapses(result, register, worked))
    judged = sorted(result.still_valid, key=lambda each: each.until)
    lasting = [each for each in judged if each.on <= today <= each.until]
    excusing = [each for each in lasting if each.fingerprint is None or each.fingerprint.casefold() == mark_of(lapses)]
    past = [each for each in judged if each.until < today]
    return Freshness(
        result.id,
        lapses,
        excusing[-1] if excusing else None,
        past[-1] if past and not lasting else None,
        lasting[-1] if lasting and not excusing else None,
    )


def mark_of(lapses: Iterable[Lapse]) -> str:
    """Fingerprint of what has changed under a result, for a judgement that is about these changes and no others."""
    return digest(sorted(each.because for each in lapses))


def _lapses(result: Result, register: Register, worked: Mapping[str, Worked]) -> Iterator[Lapse]:
    test = register.get(result.test, Test)
    if test is None:
        return
    for part in register.all_of(test.configuration, Part):
        yield from _of_part(result, test, part, register)
    told = {test.id: "its limit, its settings or its steps", **_told(test)}
    for id, was in result.remembers.items():
        now = remembered(id, register, worked)
        if now is not None and now != was.casefold():
            path = (result.id, id) if id == test.id or id in result.instruments else (result.id, test.id, id)
            what = told.get(id) or ("what it is" if id != "policy" else "the guard band")
            yield Lapse(id, f"{id} has changed since in {what}", path)
    for instrument in register.all_of(result.instruments, Instrument):
        yield from _of_instrument(result, instrument)


def _told(test: Test) -> dict[str, str]:
    told = {} if test.calculation is None else {test.calculation: "what it works out"}
    return told | dict.fromkeys(test.instruments, "its uncertainty or its span")


def _of_part(result: Result, test: Test, part: Part, register: Register) -> Iterator[Lapse]:
    """A result about the design speaks for the part as drawn, one about a unit for what is fitted in that unit."""
    was, now, of = result.configuration.get(part.id), part.version, part.id
    unit = register.get(result.unit, Unit) if result.unit is not None else None
    if unit is not None and test.scope in ("every unit", "every use") and part.id in unit.parts:
        now, of = unit.parts[part.id], f"{part.id} of {unit.id}"
    if was is not None and now is not None and plain_words(was) != plain_words(now):
        path = (result.id, test.id, part.id)
        yield Lapse(part.id, f"it was taken with {part.id} at {was}, and {of} is {now} now", path)


def memories(
    test: Test, instruments: Iterable[str], register: Register, worked: Mapping[str, Worked]
) -> dict[str, str]:
    """What a result that is taken today has to remember, beside the versions of the parts: record -> fingerprint."""
    leaned = [test.id, *instruments]
    if test.calculation is not None:
        leaned.append(test.calculation)
    leaned += [part.id for part in register.all_of(test.configuration, Part) if part.firmware_sha256 is not None]
    found = {id: remembered(id, register, worked) for id in dict.fromkeys(leaned)}
    return {id: digits for id, digits in found.items() if digits is not None}


def _of_instrument(result: Result, instrument: Instrument) -> Iterator[Lapse]:
    """A comparison that failed, or that needed an adjustment, throws doubt on everything read since the last good one."""
    after = sorted((each for each in instrument.calibrations if each.on >= result.on), key=lambda each: each.on)
    if after and after[0].outcome != "passed":
        found = after[0]
        was = "failed its comparison" if found.outcome == "failed" else "had to be adjusted"
        yield Lapse(
            instrument.id, f"{instrument.id} {was} on {found.on}, after it was read", (result.id, instrument.id)
        )


def remembered(id: str, register: Register, worked: Mapping[str, Worked]) -> str | None:
    """Fingerprint of what matters to a result in a record: 12 hexadecimal digits; None where there is no such record."""
    if id == "policy":
        return digest(register.policy.evidence.guard_band) if register.policy is not None else None
    match register.records.get(id):
        case Test() as test:
            criterion = [_criterion(limit) for limit in test.limit]
            return digest([criterion, test.conditions, test.statistic, test.method, test.steps, test.shows])
        case Part() as part:
            return digest([part.version, part.firmware_sha256])
        case Instrument() as instrument:
            return digest([instrument.uncertainty, instrument.span, instrument.resolution])
        case Calculation() as calculation:
            found = worked.get(id)
            return digest(found.answers if found is not None else calculation.answers)
    return None


def _criterion(limit: object) -> object:
    """A limit without its reasons; a calculated end counts by its number, which stands in its place."""
    kept = ("what", "at_most", "at_least", "between", "shows")
    return {name: getattr(limit, name) for name in kept}
