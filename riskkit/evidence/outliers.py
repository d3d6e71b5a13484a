"""Readings that stand out from the others of a normal sample: flagged and kept, never dropped.

Grubbs looks for one, Rosner's generalized extreme Studentized deviate test for several (NIST e-Handbook
1.3.5.17.1 and 1.3.5.17.3; ISO 5725-2 and ISO 16269-4 subjects).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from riskkit.evidence.answers import EvidenceError, Sides, refuse_sides
from riskkit.evidence.refusals import mean_and_spread, refuse_number, refuse_readings, refuse_share, shown

QUESTION = "an outlier is a question about the bench, not a reason to drop a reading"


@dataclass(frozen=True, slots=True)
class Step:
    """One look at the reading that is farthest out.

    Attributes:
        place: Its place among the values, counted from 1.
        value: The reading.
        statistic: Its distance from the mean in standard deviations; in later steps of those left.
        critical: What the distance must exceed to be surprising at this significance.
    """

    place: int
    value: float
    statistic: float
    critical: float


@dataclass(frozen=True, slots=True)
class OutlierTest:
    """What a test for outliers flagged; every value is still here.

    Attributes:
        values: All readings, in their order, none left out.
        flagged: The readings that stand out, farthest first; empty if none does.
        steps: Every look that was taken, flagged or not.
        method: Name of the test.
        significance: Chance of flagging anything if all values come from one normal distribution.
        sides: Which side an outlier may lie on.
        because: What was found, one sentence, and what it means.
        caution: What limits the test here; empty if nothing does.
    """

    values: tuple[float, ...]
    flagged: tuple[Step, ...]
    steps: tuple[Step, ...]
    method: str
    significance: float
    sides: Sides
    because: str
    caution: str


def grubbs(values: Iterable[float], significance: float = 0.05, sides: Sides = "two-sided") -> OutlierTest:
    """Does the reading farthest from the mean stand out? Grubbs' test for one outlier.

    Args:
        values: Independent readings, at least three, normal but for the outlier.
        significance: Chance of a false flag, between 0 and 1.
        sides: "two-sided", or "upper" or "lower" if only one end was in question before the readings were seen.

    Raises:
        EvidenceError: fewer than three readings; not a number.
    """
    numbers = refuse_readings(values, "the readings", least=3)
    refuse_share(significance, "the significance")
    sides = refuse_sides(sides)
    step = _look(dict(enumerate(numbers, 1)), significance, sides)
    steps = (step,) if step else ()
    flagged = tuple(look for look in steps if look.statistic > look.critical)
    return _answer(numbers, flagged, steps, "Grubbs' test for one outlier", significance, sides, "")


def rosner(values: Iterable[float], most: int, significance: float = 0.05) -> OutlierTest:
    """Which readings stand out, if there may be up to `most`? Generalized extreme Studentized deviate test.

    Unlike Grubbs' test repeated, it is not blinded by outliers that hide each other. Two-sided.

    Args:
        values: Independent readings, normal but for the outliers; the test is accurate from about 25, fair from 15.
        most: Largest number of outliers to look for, from 1 to two fewer than there are readings.
        significance: Chance of a false flag, between 0 and 1.

    Raises:
        EvidenceError: fewer than three readings; `most` out of range; not a number.
    """
    numbers = refuse_readings(values, "the readings", least=3)
    refuse_share(significance, "the significance")
    wanted = refuse_number(most, "the largest number of outliers", least=1)
    if wanted != int(wanted) or wanted > len(numbers) - 2:
        raise EvidenceError(
            f"up to {wanted:g} outliers cannot be looked for among {len(numbers)} readings",
            f"give a whole number from 1 to {len(numbers) - 2}",
        )
    left = dict(enumerate(numbers, 1))
    steps: list[Step] = []
    while len(steps) < wanted:
        step = _look(left, significance, "two-sided")
        if step is None:
            break
        steps.append(step)
        del left[step.place]
    # The last step that is surprising decides: all before it are outliers too, even where they hid each other.
    last = max((number for number, look in enumerate(steps, 1) if look.statistic > look.critical), default=0)
    caution = ""
    if len(numbers) < 25:
        caution = f"with {len(numbers)} readings the significance is approximate; the test is accurate from about 25"
    method = "generalized extreme Studentized deviate test (Rosner 1983)"
    return _answer(numbers, tuple(steps[:last]), tuple(steps), method, significance, "two-sided", caution)


def _look(left: dict[int, float], significance: float, sides: Sides) -> Step | None:
    """The reading farthest out and how far it would have to be; None where all are the same."""
    mean, spread = mean_and_spread(tuple(left.values()))
    # 0.3 - 0.2 and 0.1 are the same reading: what differs in the last binary digits only is not a spread.
    if spread <= 1e-14 * abs(mean):
        return None
    sign = {"two-sided": 0, "upper": 1, "lower": -1}[sides]

    def distance(place: int) -> float:
        off = (left[place] - mean) / spread
        return sign * off if sign else abs(off)

    place = max(left, key=distance)
    return Step(place, left[place], distance(place), _critical(len(left), significance, sides))


def _critical(readings: int, significance: float, sides: Sides) -> float:
    """Critical distance of the farthest of so many readings, from Student's t distribution."""
    from scipy.special import stdtrit

    tail = significance / readings / (2 if sides == "two-sided" else 1)
    t = float(stdtrit(readings - 2, tail))
    # Divided by t, so that a huge t (few readings, tiny significance) stays a number.
    return (readings - 1) / math.sqrt(readings) / math.sqrt(1 + (readings - 2) / t / t)


def _answer(
    values: tuple[float, ...],
    flagged: tuple[Step, ...],
    steps: tuple[Step, ...],
    method: str,
    significance: float,
    sides: Sides,
    caution: str,
) -> OutlierTest:
    if not steps:
        because = "all readings are the same, so none stands out"
    elif not flagged:
        because = f"no reading stands out at a significance of {significance:g}"
    else:
        named = ", ".join(f"number {look.place} ({shown(look.value)})" for look in flagged)
        stand = "stands" if len(flagged) == 1 else "stand"
        because = f"{named} {stand} out at a significance of {significance:g}; {QUESTION}"
    return OutlierTest(values, flagged, steps, method, significance, sides, because, caution)
