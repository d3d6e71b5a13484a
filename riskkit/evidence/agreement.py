"""Do two results, two methods or two people agree? Each answer beside what chance or uncertainty alone would give."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, Literal

from riskkit.evidence.answers import EvidenceError, Interval
from riskkit.evidence.refusals import mean_and_spread, refuse_number, refuse_readings, refuse_share, shown


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two results of the same thing, compared within their joint uncertainty.

    Attributes:
        difference: First minus second, in their unit.
        joint_uncertainty: Expanded uncertainty of the difference, with the coverage factor of both.
        normalised_error: E_n, the difference divided by its expanded uncertainty.
        word: "agree" if E_n lies from -1 to 1, else "disagree".
        method: Name and source of the criterion.
        because: One plain sentence.
    """

    difference: float
    joint_uncertainty: float
    normalised_error: float
    word: Literal["agree", "disagree"]
    method: str
    because: str


@dataclass(frozen=True, slots=True)
class LimitsOfAgreement:
    """How far a single reading of one method may lie from a reading of the other.

    Attributes:
        bias: Mean difference, first minus second, with its confidence interval (Student's t).
        lower: Lower limit of agreement with its exact confidence interval.
        upper: Upper limit of agreement with its exact confidence interval.
        spread: Standard deviation of the differences, with n - 1.
        pairs: Number of pairs.
        proportion: Share of differences between the limits.
        caution: What must be said beside them.
    """

    bias: Interval
    lower: Interval
    upper: Interval
    spread: float
    pairs: int
    proportion: float
    caution: str


@dataclass(frozen=True, slots=True)
class Kappa:
    """Agreement of two people who sort the same items into categories, beyond chance.

    Attributes:
        kappa: Cohen's kappa with its large-sample interval; None where chance alone gives full agreement.
        standard_error: Large-sample standard error of kappa; None likewise.
        agreement: Share of items that both put into the same category.
        chance_agreement: Share expected if both had sorted at random, each with their own habits.
        items: Number of items.
        categories: The categories, in the order of the table.
        because: One plain sentence.
    """

    kappa: Interval | None
    standard_error: float | None
    agreement: float
    chance_agreement: float
    items: int
    categories: tuple[Any, ...]
    because: str


def compare_results(
    value_a: float, expanded_a: float, value_b: float, expanded_b: float, correlation: float = 0.0, *, unit: str = ""
) -> Comparison:
    """Compare two results of the same thing by the normalised error E_n (ISO 13528, ISO/IEC 17043).

    Args:
        value_a: First result.
        expanded_a: Its expanded uncertainty U, above zero, same unit.
        value_b: Second result.
        expanded_b: Its expanded uncertainty U, above zero, with the SAME coverage factor as the first.
        correlation: Of the two errors, from -1 to 1; above zero where both share an instrument or a standard.
        unit: Written behind the numbers of the sentence.

    Raises:
        EvidenceError: an uncertainty that is not above zero; a correlation that leaves the difference no uncertainty.
    """
    first, second = refuse_number(value_a, "the first result"), refuse_number(value_b, "the second result")
    one = refuse_number(expanded_a, "the expanded uncertainty of the first result", above=0)
    two = refuse_number(expanded_b, "the expanded uncertainty of the second result", above=0)
    if not -1 <= refuse_number(correlation, "the correlation") <= 1:
        raise EvidenceError(f"the correlation is {correlation:g}, and must lie from -1 to 1", "give 0 if none is known")
    # The sum of squares, written so that it is never negative.
    joint = math.hypot(one - two, math.sqrt(2 * (1 - correlation)) * math.sqrt(one) * math.sqrt(two))
    if joint <= 1e-12 * max(one, two):
        raise EvidenceError(
            "with this correlation the difference has no uncertainty, so nothing can be compared",
            "give the correlation of what both results share only",
        )
    difference = first - second
    error = difference / joint
    word: Literal["agree", "disagree"] = "agree" if abs(error) <= 1 + 1e-12 else "disagree"
    behind = f" {unit}" if unit else ""
    because = (
        f"the results differ by {shown(abs(difference))}{behind}, "
        f"{'no more' if word == 'agree' else 'more'} than the joint expanded uncertainty of {joint:.3g}{behind}"
    )
    return Comparison(difference, joint, error, word, "normalised error E_n (ISO 13528, ISO/IEC 17043)", because)


def limits_of_agreement(
    first: Iterable[float] | None = None,
    second: Iterable[float] | None = None,
    confidence: float = 0.95,
    *,
    mean: float | None = None,
    spread: float | None = None,
    pairs: int | None = None,
    proportion: float = 0.95,
    unit: str = "",
) -> LimitsOfAgreement:
    """Limits of agreement of two methods (Bland and Altman 1986) with exact confidence intervals (Carkeet 2015).

    The limits are bias -+ z s; their intervals come from the noncentral t distribution, for independent
    normal differences.

    Args:
        first: Readings by one method, one per item.
        second: Readings of the same items by the other, in the same order.
        confidence: Two-sided, for the bias and for each limit by itself.
        mean: Mean difference, if first and second are left out.
        spread: Standard deviation of the differences (with n - 1), likewise.
        pairs: Number of pairs, likewise.
        proportion: Share of differences between the limits; 0.95 gives the usual 1.96 s.
        unit: Unit of the readings.

    Raises:
        EvidenceError: fewer than two pairs; readings without a partner; not a number.
    """
    from scipy.special import stdtrit

    from riskkit.evidence.normal_factors import one_sided

    refuse_share(confidence, "the confidence")
    refuse_share(proportion, "the proportion")
    bias, spread, pairs = _differences(first, second, mean, spread, pairs)
    z = -NormalDist().inv_cdf((1 - proportion) / 2)
    near, far = (
        one_sided(pairs, (1 + proportion) / 2, level) for level in ((1 - confidence) / 2, (1 + confidence) / 2)
    )
    reach = -float(stdtrit(pairs - 1, (1 - confidence) / 2)) * spread / math.sqrt(pairs)

    def interval(what: str, method: str, estimate: float, low: float, high: float) -> Interval:
        return Interval(what, method, confidence, "two-sided", estimate, low, high, unit)

    exact = "exact, noncentral t distribution (Carkeet 2015)"
    share = f"limit of agreement for {100 * proportion:.10g} % of the differences, first minus second"
    return LimitsOfAgreement(
        interval("mean difference, first minus second", "Student's t", bias, bias - reach, bias + reach),
        interval(f"lower {share}", exact, bias - z * spread, bias - far * spread, bias - near * spread),
        interval(f"upper {share}", exact, bias + z * spread, bias + near * spread, bias + far * spread),
        spread,
        pairs,
        proportion,
        "holds for independent, normally distributed differences that do not grow with the reading"
        if spread > 0
        else "all differences are the same, so no spread was seen: the limits show nothing beyond the bias",
    )


def kappa(
    first: Sequence[Any] | Iterable[Iterable[int]], second: Sequence[Any] | None = None, *, confidence: float = 0.95
) -> Kappa:
    """Cohen's kappa with the large-sample standard error of Fleiss, Cohen and Everitt (1969).

    Args:
        first: The answers of one person, one per item; or, alone, a square table of counts (rows: one person).
        second: The answers of the other person to the same items, in the same order.
        confidence: Two-sided level of the interval.

    Raises:
        EvidenceError: lists of different lengths; a table that is not square or holds no whole counts; no item.
    """
    refuse_share(confidence, "the confidence")
    table, categories = _square(first) if second is None else _counted(first, second)
    items = sum(map(sum, table))
    if items == 0:
        raise EvidenceError("nobody has sorted an item yet", "give at least one item")
    size = range(len(table))
    rows = [sum(row) / items for row in table]
    columns = [sum(row[j] for row in table) / items for j in size]
    agreement = sum(table[i][i] for i in size) / items
    chance = math.fsum(rows[i] * columns[i] for i in size)
    if sum(1 for i in size if rows[i] or columns[i]) == 1:
        because = "both people used one category only: chance alone would agree as often, so kappa has no value"
        return Kappa(None, None, agreement, 1.0, items, categories, because)
    value = (agreement - chance) / (1 - chance)
    lost = 1 - value
    same = math.fsum(table[i][i] / items * (1 - (rows[i] + columns[i]) * lost) ** 2 for i in size)
    other = math.fsum(table[i][j] / items * (columns[i] + rows[j]) ** 2 for i in size for j in size if i != j)
    variance = (same + lost**2 * other - (value - chance * lost) ** 2) / (1 - chance) ** 2 / items
    error = math.sqrt(max(variance, 0.0))
    reach = -NormalDist().inv_cdf((1 - confidence) / 2) * error
    interval = Interval(
        "Cohen's kappa, agreement beyond chance",
        "large-sample normal (Fleiss, Cohen and Everitt 1969)",
        confidence,
        "two-sided",
        value,
        max(-1.0, value - reach),
        min(1.0, value + reach),
    )
    because = (
        f"both agree on {100 * agreement:.3g} % of {items} items, where chance alone would give {100 * chance:.3g} %"
    )
    if error < 1e-9:
        alike = "alike" if agreement == 1 else "told apart in the same way"
        because += f"; with every item {alike} the interval has no width, which is not certainty"
    return Kappa(interval, error, agreement, chance, items, categories, because)


def _differences(
    first: Iterable[float] | None,
    second: Iterable[float] | None,
    mean: float | None,
    spread: float | None,
    pairs: int | None,
) -> tuple[float, float, int]:
    if first is not None and second is not None and mean is None and spread is None and pairs is None:
        ones = refuse_readings(first, "the first readings", least=2)
        others = refuse_readings(second, "the second readings", least=2)
        if len(ones) != len(others):
            raise EvidenceError(f"{len(ones)} readings have no partner in {len(others)}", "give one pair per item")
        return *mean_and_spread(tuple(one - other for one, other in zip(ones, others))), len(ones)
    if first is None and second is None and mean is not None and spread is not None and pairs is not None:
        number = refuse_number(pairs, "the number of pairs")
        if number != int(number) or number < 2:
            raise EvidenceError(
                f"the number of pairs is {number:g}, and at least two are needed", "give a whole number"
            )
        spread = refuse_number(spread, "the standard deviation of the differences", least=0)
        return refuse_number(mean, "the mean difference"), spread, int(number)
    raise EvidenceError(
        "limits of agreement come from two lists of readings, or from mean, spread and number of their differences",
        "give both lists, or mean, spread and pairs",
    )


def _square(given: Iterable[Iterable[int]]) -> tuple[list[list[int]], tuple[Any, ...]]:
    wrong = EvidenceError("a table of two people's answers must be square", "give one row and one column per category")
    if isinstance(given, str) or not isinstance(given, Iterable):
        raise wrong
    table: list[list[int]] = []
    for row in given:
        if isinstance(row, str) or not isinstance(row, Iterable):
            raise wrong
        counts = [refuse_number(count, "a count of the table", least=0) for count in row]
        if any(count != int(count) for count in counts):
            raise EvidenceError("a table of two people's answers must hold whole counts", "count the items again")
        table.append([int(count) for count in counts])
    if not table or any(len(row) != len(table) for row in table):
        raise wrong
    return table, tuple(range(1, len(table) + 1))


def _counted(first: Any, second: Any) -> tuple[list[list[int]], tuple[Any, ...]]:
    if any(isinstance(given, str) or not isinstance(given, Iterable) for given in (first, second)):
        raise EvidenceError("the answers of a person must be a list", "give one answer per item")
    ones, others = list(first), list(second)
    if len(ones) != len(others):
        raise EvidenceError(
            f"one person sorted {len(ones)} items and the other {len(others)}", "give the items that both have sorted"
        )
    if any(answer is None or (isinstance(answer, float) and math.isnan(answer)) for answer in (*ones, *others)):
        raise EvidenceError("an answer is missing", "give the items that both have sorted")
    try:
        categories = tuple(sorted({*ones, *others}, key=lambda answer: (str(type(answer)), str(answer))))
    except TypeError:
        raise EvidenceError("an answer must be a word or a number", "give one answer per item") from None
    place = {category: number for number, category in enumerate(categories)}
    table = [[0] * len(categories) for _ in categories]
    for one, other in zip(ones, others):
        table[place[one]][place[other]] += 1
    return table, categories
