"""What results say about limits: meets, does not meet, cannot tell, each with the reason.

A reading meets a limit where it lies inside by at least the guard band (ISO 14253-1, JCGM 106). Where
an uncertainty, a reading or the right conditions are missing, the answer is "cannot tell", and why.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from riskkit.evidence.guard import Judgement, judge_reading
from riskkit.judgement.amounts import amount, difference, difference_unit, half_width, uncertainty_of_mean
from riskkit.model.fields import Limit, plain_words
from riskkit.model.policy import EvidenceRules
from riskkit.model.register import Register
from riskkit.model.verification import Instrument, Result, Test
from riskkit.units import Quantity
from riskkit.units.kinds import readable

Word = Literal["meets", "does not meet", "cannot tell"]
WORST_FIRST: tuple[Word, ...] = ("does not meet", "cannot tell", "meets")


@dataclass(frozen=True, slots=True)
class ReadingVerdict:
    """One reading beside one limit; `judgement` holds the numbers in SI base units, None without uncertainty."""

    reading: Quantity
    word: Word
    because: str
    judgement: Judgement | None


@dataclass(frozen=True, slots=True)
class LimitVerdict:
    """What a result says about one limit of its test.

    Attributes:
        limit: The limit.
        what: Name of the readings that were compared; None where none were.
        word: The worst of the readings that count.
        because: One sentence.
        readings: Every reading beside the limit, also those that do not count alone.
        kind: What the word rests on; "conditions" where it was read at another setting than the limit is for.
    """

    limit: Limit
    what: str | None
    word: Word
    because: str
    readings: tuple[ReadingVerdict, ...] = ()
    kind: Literal["readings", "runs", "inspection", "conditions", "nothing"] = "nothing"

    @property
    def worst(self) -> ReadingVerdict | None:
        """The reading with the smallest margin."""
        judged = [each for each in self.readings if each.judgement is not None]
        return min(judged, key=lambda each: each.judgement.margin if each.judgement else math.inf, default=None)


@dataclass(frozen=True, slots=True)
class ResultVerdict:
    """What one result says about its test; `replaced` where a later result stands in its place."""

    result: str
    test: str
    word: Word
    because: str
    limits: tuple[LimitVerdict, ...]
    replaced: bool


def verdicts(register: Register, rules: EvidenceRules) -> Mapping[str, ResultVerdict]:
    """Verdict on every result by its id, in the order of the register."""
    replaced = replaced_results(register)
    together = _counted_together(register, replaced)
    return {
        result.id: judge(
            result,
            register,
            rules,
            replaced=result.id in replaced,
            together=None if result.id in replaced else together.get(result.test),
        )
        for result in register.results
        if register.get(result.test, Test) is not None
    }


def replaced_results(register: Register) -> frozenset[str]:
    """Results in whose place another one stands: of the same test, no older, and not replaced by it in turn."""
    found = set()
    for result in register.results:
        old = register.get(result.supersedes, Result) if result.supersedes is not None else None
        if old is not None and old.test == result.test and old.on <= result.on and old.supersedes != result.id:
            found.add(old.id)
    return frozenset(found)


def _counted_together(register: Register, replaced: frozenset[str]) -> Mapping[str, tuple[int, int]]:
    """Test -> failures and runs over all results that count: what a plan allows, it allows over all of them."""
    found: dict[str, tuple[int, int]] = {}
    for result in register.results:
        if result.id not in replaced and result.runs and result.failures is not None:
            failures, runs = found.get(result.test, (0, 0))
            found[result.test] = failures + result.failures, runs + result.runs
    return found


def judge(
    result: Result,
    register: Register,
    rules: EvidenceRules,
    *,
    replaced: bool = False,
    together: tuple[int, int] | None = None,
) -> ResultVerdict:
    """Verdict on one result: the worst over the limits of its test.

    Args:
        result: The result.
        register: The records.
        rules: Guard band of the policy.
        replaced: Whether a later result stands in its place.
        together: Failures and runs over all results of the test that count; None where this one stands alone.

    Raises:
        KeyError: where its test is not in the register.
    """
    test = register.records[result.test]
    assert isinstance(test, Test)
    if not test.limit:
        return ResultVerdict(result.id, test.id, "cannot tell", f"{test.id} has no limit", (), replaced)
    elsewhere = _other_conditions(result, test)
    if elsewhere:
        limits = tuple(LimitVerdict(limit, None, "cannot tell", elsewhere, kind="conditions") for limit in test.limit)
    else:
        names = match_readings(result, test)
        limits = tuple(_limit(limit, name, result, test, register, rules) for limit, name in names)
        if together is not None and result.failures and together[0] > _allowed(test) >= result.failures:
            limits = tuple(_all_together(each, test, together) for each in limits)
    word = worst_word([each.word for each in limits])
    because = next(each.because for each in limits if each.word == word)
    return ResultVerdict(result.id, test.id, word, because, limits, replaced)


def worst_word(words: Sequence[Word]) -> Word:
    """The word that decides: one reading outside is outside, one that cannot be told is not shown."""
    return min(words, key=WORST_FIRST.index)


def _other_conditions(result: Result, test: Test) -> str | None:
    """Why the limit of the test says nothing about a reading taken at another setting."""
    settings = {_plain(name): was for name, was in result.conditions.items()}
    for name, wanted in test.conditions.items():
        was = settings.get(_plain(name))
        if was is None:
            return f"it is not written down at which {name} it was read, and the limit holds at {wanted.written}"
        if not was.same_as(wanted, rel=1e-3):
            return f"it was read at {name} {was.written}, and the limit holds at {wanted.written}"
    return None


def match_readings(result: Result, test: Test) -> tuple[tuple[Limit, str | None], ...]:
    """Each limit with the name of the readings that it is for; None where nothing was read for it.

    A limit that names what is read takes the readings of that name. Where test and result have one
    number each, they belong together whatever they are called.
    """
    known = {_plain(name): name for name in result.readings}
    numbers = [limit for limit in test.limit if limit.quantities]
    named = {_plain(limit.what) for limit in test.limit if limit.what}
    free = [name for name in result.readings if _plain(name) not in named]
    matched: list[tuple[Limit, str | None]] = []
    for limit in test.limit:
        name = known.get(_plain(limit.what)) if limit.what else None
        if name is None and limit.quantities and len(numbers) == 1:
            kind = limit.quantities[0].kind
            alike = [each for each in free if result.readings[each] and result.readings[each][0].kind == kind]
            if len(alike) == 1 and (limit.what is None or len(result.readings) == 1):
                name = alike[0]
        matched.append((limit, name))
    return tuple(matched)


def _plain(name: str | None) -> str:
    return plain_words(name or "")


def _limit(
    limit: Limit, name: str | None, result: Result, test: Test, register: Register, rules: EvidenceRules
) -> LimitVerdict:
    if limit.at_most_from is not None or limit.at_least_from is not None:
        origin = limit.at_most_from or limit.at_least_from
        if not limit.quantities and origin is not None:
            return LimitVerdict(limit, name, "cannot tell", f"{origin.source} has not worked the limit out")
    if limit.shows is not None:
        return _inspection(limit, result, test)
    if name is None or not result.readings[name]:
        return _counted(limit, result, test)
    if test.statistic != "mean" and result.reported == "mean":
        asked = "the worst reading is" if test.statistic == "worst" else "every reading is"
        return LimitVerdict(limit, name, "cannot tell", f"a mean was written down, and {asked} asked for")
    readings = result.readings[name]
    strange = next((each for each in readings if not _comparable(each, limit)), None)
    if strange is not None:
        told = f"{strange.written} cannot be compared with {limit.quantities[0].written}"
        return LimitVerdict(limit, name, "cannot tell", told)
    spread = next((each for what, each in result.uncertainty.items() if _plain(what) == _plain(name)), None)
    taken = _mean(readings) if test.statistic == "mean" and result.reported == "each" else readings
    judged = tuple(
        judge_one(each, spread, limit, rules, result.instruments, register, among=readings) for each in taken
    )
    word = worst_word([each.word for each in judged])
    if word == "does not meet" and test.statistic == "mean" and result.reported == "worst":
        told = "the worst reading lies outside, and a mean, which is asked for, may lie inside"
        return LimitVerdict(limit, name, "cannot tell", told)
    deciding = [each for each in judged if each.word == word]
    because = min(deciding, key=lambda each: each.judgement.margin if each.judgement else -math.inf).because
    return LimitVerdict(limit, name, word, because, judged, "readings")


def _comparable(reading: Quantity, limit: Limit) -> bool:
    return all(alike(reading, end) for end in limit.quantities)


def alike(reading: Quantity, limit: Quantity) -> bool:
    """Whether the two can be compared: of one kind, and no reading in °C beside a limit in K, which is a difference."""
    if reading.kind != limit.kind:
        return False
    return reading.kind != "temperature" or (limit.unit == "K") == (reading.unit == "K")


def _inspection(limit: Limit, result: Result, test: Test) -> LimitVerdict:
    """An inspection is as good as its eyes: its word is taken over, and failed runs outweigh it."""
    if result.failures is not None and result.failures > _allowed(test):
        told = f"{result.failures} of {result.runs or '?'} runs failed"
        return LimitVerdict(limit, None, "does not meet", told, kind="runs")
    match result.inspection:
        case "as it should be":
            return LimitVerdict(limit, None, "meets", "the inspection found it so", kind="inspection")
        case "not as it should be":
            return LimitVerdict(limit, None, "does not meet", "the inspection did not find it so", kind="inspection")
    if result.runs and result.failures is not None:
        return LimitVerdict(limit, None, "meets", _runs_sentence(result, test), kind="runs")
    return LimitVerdict(limit, None, "cannot tell", "what the inspection found is not written down")


def _counted(limit: Limit, result: Result, test: Test) -> LimitVerdict:
    """A limit with a number, and no reading for it: runs that were counted speak, and nothing else does."""
    if result.failures is not None and result.failures > _allowed(test):
        told = f"{result.failures} of {result.runs or '?'} runs failed, and no reading is on file for {_called(limit)}"
        return LimitVerdict(limit, None, "does not meet", told, kind="runs")
    if result.runs and result.failures is not None and not result.readings:
        told = f"{_runs_sentence(result, test)}; no reading is on file, so there is no margin"
        return LimitVerdict(limit, None, "meets", told, kind="runs")
    return LimitVerdict(limit, None, "cannot tell", f"nothing was read for {_called(limit)}")


def _all_together(limit: LimitVerdict, test: Test, together: tuple[int, int]) -> LimitVerdict:
    """A limit that rests on counted runs, where all results together hold more failures than the plan allows."""
    if limit.kind != "runs" or limit.word != "meets":
        return limit
    failures, runs = together
    told = f"{failures} of {runs} runs failed over all results of {test.id}, and the plan allows {_allowed(test)}"
    return replace(limit, word="does not meet", because=told)


def _called(limit: Limit) -> str:
    return f"`{limit.what}`" if limit.what else "its limit"


def _allowed(test: Test) -> int:
    return test.plan.allowed_failures if test.plan is not None else 0


def _runs_sentence(result: Result, test: Test) -> str:
    allowed = _allowed(test)
    asked = f", and the plan allows {allowed}" if allowed else ""
    return f"{result.failures} of {result.runs} runs failed{asked}"


def _mean(readings: Sequence[Quantity]) -> tuple[Quantity, ...]:
    """The mean as a reading of its own; with the widest uncertainty that stands beside a reading, where all have one."""
    value = sum(each.value for each in readings) / len(readings)
    first = readings[0]
    widths = [each.plus_minus for each in readings]
    wide = max((each for each in widths if each is not None), default=None) if None not in widths else None
    return (Quantity(f"mean of {len(readings)}: {amount(value, first)}", value, first.kind, first.unit, wide),)


def judge_one(
    reading: Quantity,
    spread: Quantity | None,
    limit: Limit,
    rules: EvidenceRules,
    instruments: Sequence[str],
    register: Register,
    *,
    among: Sequence[Quantity] = (),
) -> ReadingVerdict:
    """One reading beside a limit with a number of its own kind.

    Args:
        reading: What was read, or the mean of several readings.
        spread: Its expanded uncertainty; None where only the reading itself states one, or nothing does.
        limit: What it must keep to.
        rules: Guard band of the policy.
        instruments: What it was read with; named where no uncertainty is stated.
        register: The records.
        among: All readings, where the reading is their mean.
    """
    if spread is None and reading.plus_minus is None:
        return ReadingVerdict(reading, "cannot tell", _no_uncertainty(instruments, register), None)
    try:
        expanded = half_width(spread, reading) if spread is not None else reading.plus_minus
    except ValueError as why:
        return ReadingVerdict(reading, "cannot tell", str(why), None)
    if not expanded:
        return ReadingVerdict(reading, "cannot tell", "an uncertainty of zero is no uncertainty", None)
    if reading.written.startswith("mean of"):
        expanded = uncertainty_of_mean(expanded, [each.value for each in among])
    low, high = _ends(limit)
    judged = judge_reading(reading.value, expanded, lower=low, upper=high, guard=rules.guard_band)
    return ReadingVerdict(reading, judged.word, reading_sentence(judged, reading), judged)


def _no_uncertainty(instruments: Sequence[str], register: Register) -> str:
    stated = [
        f"{instrument.id} states {instrument.uncertainty}"
        for instrument in register.all_of(instruments, Instrument)
        if instrument.uncertainty
    ]
    return "no uncertainty is stated" + (f" ({', '.join(stated)})" if stated else "")


def _ends(limit: Limit) -> tuple[float | None, float | None]:
    if limit.between is not None:
        return limit.between[0].value, limit.between[1].value
    return (
        limit.at_least.value if limit.at_least is not None else None,
        limit.at_most.value if limit.at_most is not None else None,
    )


def reading_sentence(judged: Judgement, reading: Quantity) -> str:
    """The reading, its uncertainty, the margin, and the chance that the true value lies outside."""
    assert judged.expanded_uncertainty is not None
    assert judged.probability_outside is not None
    expanded = difference(judged.expanded_uncertainty, reading)
    margin = difference(abs(judged.margin), reading)
    side = "inside" if judged.margin >= 0 else "outside"
    chance = judged.probability_outside
    share = "less than 0.1 %" if chance < 0.001 else "more than 99.9 %" if chance > 0.999 else f"{chance * 100:.2g} %"
    written, tolerance, _ = reading.written.partition("±")
    written = written.strip()
    if tolerance and difference_unit(reading) != readable(reading.unit) and not any(map(str.isalpha, written)):
        written = f"{written} {readable(reading.unit)}"  # `40 ± 0.5 °C` is 40 °C, and no 40 K
    return f"{written} ± {expanded} lies {margin} {side}; {share} chance that the true value is outside"


def by_test(judged: Mapping[str, ResultVerdict]) -> Mapping[str, tuple[ResultVerdict, ...]]:
    """Verdicts that count, by test: those of results that no later one replaces."""
    found: dict[str, list[ResultVerdict]] = defaultdict(list)
    for each in judged.values():
        if not each.replaced:
            found[each.test].append(each)
    return {test: tuple(each) for test, each in found.items()}
