"""What a change of one record touches: everything that leans on it, results that go stale, and the tests to do again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from riskkit.evidence.covering import Cover, cheapest_cover
from riskkit.judgement.freshness import Freshness
from riskkit.judgement.trace import Chain, Trace
from riskkit.model.fields import From
from riskkit.model.records import Hazard
from riskkit.model.register import Register
from riskkit.model.upkeep import Gate, Unit
from riskkit.model.verification import Calculation, Result, Test

MINUTES_WITHOUT_TIME = 60.0
"""Taken for a test that does not say how long it takes. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Stale:
    """A result that the change makes stale, by the ids from it to what changed; `already` where it is stale today."""

    result: str
    test: str
    path: tuple[str, ...]
    already: bool


@dataclass(frozen=True, slots=True)
class Retest:
    """A test to be done again: planned runs, minutes in all, and the units that have to do it, where each has to."""

    test: str
    runs: int
    minutes: float
    units: tuple[str, ...]
    time_is_stated: bool


@dataclass(frozen=True, slots=True)
class Change:
    """What a change of one record touches.

    Attributes:
        record: What changes.
        leaning: Every record that stands or falls with it, nearest first, each with its shortest chain.
        stale: Results that no longer speak.
        claims: What those results showed: "C07 does what we claim" -> tests that could show it again.
        retest: The tests to do again.
        cover: How they were chosen, and what no choice can go below.
        units: Units built with it, and units that stale results were read on.
    """

    record: str
    leaning: tuple[Chain, ...]
    stale: tuple[Stale, ...]
    claims: Mapping[str, frozenset[str]]
    retest: tuple[Retest, ...]
    cover: Cover
    units: tuple[str, ...]

    @property
    def minutes(self) -> float:
        """Bench time of the tests to do again."""
        return sum(each.minutes for each in self.retest)


def change_of(record: str, register: Register, trace: Trace, fresh: Mapping[str, Freshness]) -> Change:
    """What a change of that record touches.

    Args:
        record: Id of a record of the register.
        register: The records.
        trace: What points at what.
        fresh: What is stale today.
    """
    stale = tuple(_stale(record, register, fresh))
    claims = _claims(stale, register, fresh)
    units = {test: _units(test, stale, register) for test in {each.test for each in stale}}
    costs = {test.id: bench_minutes(test) * max(1, len(units.get(test.id, ()))) for test in register.tests}
    cover = cheapest_cover(costs, claims)
    retest = tuple(
        Retest(test.id, planned_runs(test), costs[test.id], units.get(test.id, ()), test.time is not None)
        for test in register.all_of(cover.chosen, Test)
    )
    read_on = {result.unit for result in register.all_of([each.result for each in stale], Result)}
    built = tuple(
        unit.id
        for unit in register.units
        if unit.retired is None and (record in unit.parts or unit.id in read_on or unit.id == record)
    )
    return Change(record, trace.leaning_on(record), stale, claims, retest, cover, built)


def _stale(record: str, register: Register, fresh: Mapping[str, Freshness]) -> Iterator[Stale]:
    paths: dict[str, tuple[str, ...] | None] = {}
    for result in register.results:
        test = register.get(result.test, Test)
        if test is None or result.id not in fresh:
            continue
        if test.id not in paths:
            paths[test.id] = _from_test(test, record, register)
        path = _from_result(result, record) or ((result.id, *found) if (found := paths[test.id]) is not None else None)
        if path is not None:
            yield Stale(result.id, test.id, path, fresh[result.id].is_stale)


def _from_result(result: Result, record: str) -> tuple[str, ...] | None:
    if result.id == record:
        return (result.id,)
    return (result.id, record) if record in result.instruments or record == result.unit else None


def _from_test(test: Test, record: str, register: Register) -> tuple[str, ...] | None:
    """Ids from the test to what changes: itself, a part it is sensitive to, a control it shows, or its calculation."""
    if test.id == record:
        return (test.id,)
    if record in test.configuration or record in test.proves:
        return (test.id, record)
    origins = [test.calculation] if test.calculation is not None else []
    for limit in test.limit:
        origins += [each.source for each in (limit.at_most_from, limit.at_least_from) if each is not None]
    for origin in dict.fromkeys(origins):
        found = _from_calculation(origin, record, register, frozenset())
        if found is not None:
            return (test.id, *found)
    return None


def _from_calculation(id: str, record: str, register: Register, met: frozenset[str]) -> tuple[str, ...] | None:
    """Ids from a calculation to what changes, along its inputs; None where it does not lean on it."""
    if id == record:
        return (id,)
    calculation = register.get(id, Calculation)
    if calculation is None or id in met:
        return None
    named = [value.source for value in calculation.inputs.values() if isinstance(value, From)]
    named += [*calculation.parts, *calculation.assumptions, *calculation.results, *calculation.calculations]
    for each in dict.fromkeys(named):
        found = _from_calculation(each, record, register, met | {id})
        if found is not None:
            return (id, *found)
    return None


def _claims(
    stale: tuple[Stale, ...], register: Register, fresh: Mapping[str, Freshness]
) -> Mapping[str, frozenset[str]]:
    """What the stale results showed -> tests that could show it again; a test of every unit speaks for itself alone.

    A test that keeps a fresh result shows nothing new about the change by being done once more, so it is no choice.
    """
    lost = {each.test for each in stale}
    gone = {each.result for each in stale}
    standing = {
        result.test
        for result in register.results
        if result.id in fresh and result.id not in gone and not fresh[result.id].is_stale
    } - lost
    speaks: dict[str, set[str]] = {}
    for test in register.tests:
        for control in test.proves:
            for word in test.shows:
                said = "is there" if word == "implementation" else "does what is claimed"
                speaks.setdefault(f"{control} {said}", set()).add(test.id)
    for hazard in register.of(Hazard):
        for id in hazard.tests:
            if register.get(id, Test) is not None:
                speaks.setdefault(f"{hazard.id} is tried", set()).add(id)
    claims = {claim: frozenset(tests - standing) for claim, tests in speaks.items() if tests & lost}
    for gate in register.of(Gate):
        asked = [test for question in gate.questions for test in question.tests if test in lost]
        claims |= {f"{test} is asked for by {gate.id}": frozenset((test,)) for test in asked}
    spoken = {test for tests in claims.values() for test in tests}
    for test in register.all_of(sorted(lost), Test):
        if test.id not in spoken:
            claims[f"{test.id} is done"] = frozenset((test.id,))
        elif test.scope in ("every unit", "every use"):
            claims[f"{test.id} is done on every unit"] = frozenset((test.id,))
        # A proportion is shown by the sample of that very test; another test of the same control says nothing of it.
        if test.plan is not None and test.plan.proportion is not None:
            claims[f"{test.id} shows the {test.plan.proportion.written} that its plan claims"] = frozenset((test.id,))
    return claims


def _units(test_id: str, stale: tuple[Stale, ...], register: Register) -> tuple[str, ...]:
    """Units whose own results go stale, where the test is one that every unit has to pass."""
    test = register.get(test_id, Test)
    if test is None or test.scope not in ("every unit", "every use"):
        return ()
    results = register.all_of([each.result for each in stale if each.test == test_id], Result)
    named = dict.fromkeys(result.unit for result in results if result.unit is not None)
    return tuple(id for id in named if (unit := register.get(id, Unit)) is not None and unit.retired is None)


def planned_runs(test: Test) -> int:
    """Runs that the plan asks for; one where it asks for none."""
    return test.plan.runs if test.plan is not None and test.plan.runs is not None else 1


def bench_minutes(test: Test) -> float:
    """Bench time of all planned runs."""
    one = MINUTES_WITHOUT_TIME if test.time is None else test.time.value / 60
    return one * planned_runs(test)
