"""What the record of a built unit says: verdicts of its checks, re-tests of its deviations, ages of its parts."""

from __future__ import annotations

import datetime
from calendar import monthrange
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from riskkit.judgement.freshness import Freshness
from riskkit.judgement.trace import Chain, Trace
from riskkit.judgement.verdicts import ResultVerdict, Word, alike, judge_one
from riskkit.model.policy import EvidenceRules
from riskkit.model.records import Control, Part
from riskkit.model.register import Register
from riskkit.model.upkeep import Deviation, StepCheck, Unit
from riskkit.model.verification import Calculation, Result, Test
from riskkit.units import Quantity

BY_CALENDAR = frozenset({"month", "months", "year", "years", "yr"})
"""Units that are counted by the calendar: a part fitted on 1 March with a limit of a year falls due on 1 March."""

_MONTH = 30.4375 * 86400
"""Seconds of a mean month, as `riskkit/units/definitions.txt` defines it."""


@dataclass(frozen=True, slots=True)
class StepVerdict:
    """What one check of the build says about its limit."""

    word: Word
    because: str


def step_verdict(check: StepCheck, register: Register, rules: EvidenceRules) -> StepVerdict | None:
    """Verdict on one check, by the same rule as a result; None where neither a limit nor a look asks for one."""
    limit = check.limit
    if limit is None or limit.shows is not None:
        match check.inspection:
            case "as it should be":
                return StepVerdict("meets", "the look found it so")
            case "not as it should be":
                return StepVerdict("does not meet", "the look did not find it so")
        if limit is None:
            return None
        return StepVerdict("cannot tell", "what the look found is not written down")
    if not limit.quantities:
        origin = limit.at_most_from or limit.at_least_from
        return StepVerdict("cannot tell", f"{origin.source if origin else 'nothing'} has not worked the limit out")
    if check.reading is None:
        return StepVerdict("cannot tell", "nothing was read")
    if not all(alike(check.reading, end) for end in limit.quantities):
        told = f"{check.reading.written} cannot be compared with {limit.quantities[0].written}"
        return StepVerdict("cannot tell", told)
    instruments = (check.instrument,) if check.instrument is not None else ()
    judged = judge_one(check.reading, check.uncertainty, limit, rules, instruments, register)
    return StepVerdict(judged.word, judged.because)


# -- deviations ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Proposal:
    """A test that a deviation may ask for again, and why: "is sensitive to P09"."""

    test: str
    because: str


def proposals(deviation: Deviation, register: Register, trace: Trace) -> tuple[Proposal, ...]:
    """Tests that lean on a part of the deviation, straight or through a control or a calculation, in the order of the register.

    Args:
        deviation: Where the unit differs.
        register: The records.
        trace: What points at what.
    """
    chains: dict[str, Chain] = {}
    for part in deviation.parts:
        for chain in trace.leaning_on(part):
            before = chains.get(chain.record)
            if before is None or len(chain.links) < len(before.links):
                chains[chain.record] = chain
    found = []
    for test in register.tests:
        way = _way(test, deviation, chains, register)
        if way is not None:
            found.append(Proposal(test.id, way))
    return tuple(found)


def _way(test: Test, deviation: Deviation, chains: Mapping[str, Chain], register: Register) -> str | None:
    """How a test leans on the parts: by its own configuration, by what it shows, or by where its limit comes from."""
    parts = [part for part in deviation.parts if part in test.configuration]
    if parts:
        return f"is sensitive to {' and '.join(parts)}"
    for control in register.all_of(test.proves, Control):
        if control.withdrawn is None and any(part in control.depends_on for part in deviation.parts):
            hit = next(part for part in deviation.parts if part in control.depends_on)
            return f"is meant to show {control.id}, which depends on {hit}"
    if test.calculation is not None and test.calculation in chains:
        calculation = register.get(test.calculation, Calculation)
        if calculation is not None:
            last = chains[calculation.id].links[-1].target
            return f"takes its limit from {calculation.id}, which takes inputs from {last}"
    return None


@dataclass(frozen=True, slots=True)
class Repeat:
    """A test that a judgement asks to repeat on the unit.

    Attributes:
        test: The test.
        result: The newest result on this unit since the deviation; None where there is none.
        open: Why it is not answered, as the end of a sentence; empty where it is.
    """

    test: str
    result: str | None
    open: str


def repeats(
    unit: Unit,
    deviation: Deviation,
    register: Register,
    verdicts: Mapping[str, ResultVerdict],
    fresh: Mapping[str, Freshness],
) -> tuple[Repeat, ...]:
    """What has become of each test that the judgement of a deviation asks to repeat; empty while nobody has judged it."""
    if deviation.judged is None:
        return ()
    since = deviation.on or deviation.judged.on
    return tuple(
        _repeat(test, unit, since, register, verdicts, fresh) for test in register.all_of(deviation.judged.repeat, Test)
    )


def _repeat(
    test: Test,
    unit: Unit,
    since: datetime.date,
    register: Register,
    verdicts: Mapping[str, ResultVerdict],
    fresh: Mapping[str, Freshness],
) -> Repeat:
    done = results_on(unit, test, since, register, verdicts)
    if not done:
        return Repeat(test.id, None, f"{test.id} has not been done on {unit.id} since {since}")
    failing = next((each for each in done if verdicts[each.id].word == "does not meet"), None)
    newest = failing or max(done, key=lambda each: each.on)
    if failing is not None:
        return Repeat(test.id, failing.id, f"{failing.id} of {test.id} does not meet its limit")
    state = fresh.get(newest.id)
    if state is not None and state.is_stale:
        return Repeat(test.id, newest.id, f"{newest.id} of {test.id} is stale: {state.because}")
    if verdicts[newest.id].word == "cannot tell":
        told = f"{newest.id} of {test.id} cannot be told from its limit: {verdicts[newest.id].because}"
        return Repeat(test.id, newest.id, told)
    return Repeat(test.id, newest.id, "")


def results_on(
    unit: Unit, test: Test, since: datetime.date | None, register: Register, verdicts: Mapping[str, ResultVerdict]
) -> tuple[Result, ...]:
    """Results of a test on a unit that no later one replaces, from that day on."""
    return tuple(
        result
        for result in register.results
        if result.test == test.id
        and result.unit == unit.id
        and result.id in verdicts
        and not verdicts[result.id].replaced
        and (since is None or result.on >= since)
    )


# -- ages ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Life:
    """A life-limited part of a unit.

    Attributes:
        unit: The unit.
        part: The part.
        since: The day from which its age counts; None where nobody wrote it down.
        due: The day on which it has to be replaced; None where that cannot be said.
    """

    unit: str
    part: str
    since: datetime.date | None
    due: datetime.date | None


def lives(unit: Unit, register: Register) -> Iterator[Life]:
    """Life-limited parts that the unit has, with the day on which each is to be replaced."""
    for id in dict.fromkeys((*unit.parts, *unit.fitted)):
        part = register.get(id, Part)
        if part is not None and part.life_limit is not None:
            since = unit.fitted.get(id, unit.built)
            yield Life(unit.id, id, since, later(since, part.life_limit) if since is not None else None)


def later(day: datetime.date, span: Quantity) -> datetime.date | None:
    """The day after a span of time, whole months and years by the calendar; None beyond the year 9999.

    A day that the month does not have is its last one: a year after 29 February is 28 February.
    """
    months = span.value / _MONTH
    if span.unit in BY_CALENDAR and abs(months - round(months)) < 1e-6:
        return _months_later(day, round(months))
    try:
        return day + datetime.timedelta(seconds=span.value)
    except OverflowError:
        return None


def _months_later(day: datetime.date, count: int) -> datetime.date | None:
    years, month = divmod(day.year * 12 + day.month - 1 + count, 12)
    if not datetime.MINYEAR <= years <= datetime.MAXYEAR:
        return None
    return datetime.date(years, month + 1, min(day.day, monthrange(years, month + 1)[1]))
