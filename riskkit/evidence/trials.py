"""Monte Carlo: the inputs are drawn from what is known about them, and the formula is worked out a million times.

Source: JCGM 101:2008: distributions 6.4, coverage intervals 7.7, length of the run 7.9, judging first order 8.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from riskkit.evidence.answers import EvidenceError, Interval, refuse_count, refuse_probability
from riskkit.evidence.budgets import Budget
from riskkit.evidence.draws import drawn, refuse_undrawable, worked_out
from riskkit.evidence.propagation import FirstOrder
from riskkit.evidence.refusals import refuse_number
from riskkit.evidence.slopes import slopes_at

if TYPE_CHECKING:
    from numpy.typing import NDArray

BATCH = 10_000
"""Trials of one batch, at least (JCGM 101, 7.9.4)."""

FEWEST_BATCHES = 10
"""Two batches can agree by chance; ten hardly do."""

MOST_TRIALS = 10_000_000
"""Trials after which a run ends, stable or not."""

MOST_HELD = 100_000_000
"""Trials that may be asked for: all of them are kept, eight bytes each, and sorted."""

SHARPNESS = 5
"""The run goes on until it is this many times steadier than the numerical tolerance, as 8.2 asks for judging first
order: otherwise its own scatter would be taken for a difference."""

_METHOD = "Monte Carlo, propagation of distributions (JCGM 101, 7.9), run until stable"


@dataclass(frozen=True, slots=True)
class MonteCarlo:
    """What the trials show.

    Attributes:
        estimand: What is estimated.
        method: Monte Carlo with an adaptive run length.
        probability: Share of the trials inside each coverage interval.
        seed: Seed of the random numbers; the same seed gives the same answer.
        trials: How many trials were made.
        mean: Mean of the trials; their median where one input has no mean.
        u: Standard deviation of the trials; None where an input with two degrees of freedom or fewer has none.
        symmetric: Coverage interval with as many trials below it as above it.
        shortest: The shortest of all coverage intervals.
        digits: Significant digits of u that are meant to be reliable.
        tolerance: Half a unit of the last of these digits (JCGM 101, 7.9.2).
        scatter: Twice the standard deviation of the least steady among mean, u and both ends of `symmetric`.
        stable: Whether the scatter is within the tolerance.
        notes: What must be known beside the numbers, one sentence each.
        unit: Unit of all of them.
    """

    estimand: str
    method: str
    probability: float
    seed: int
    trials: int
    mean: float
    u: float | None
    symmetric: Interval
    shortest: Interval
    digits: int
    tolerance: float
    scatter: float
    stable: bool
    notes: tuple[str, ...]
    unit: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Whether first order may be used, judged by Monte Carlo (JCGM 101, 8.1).

    Attributes:
        method: How it was judged.
        first_order_holds: "yes" where both ends differ by no more than the tolerance, "no" where one differs by
            more, "cannot tell" where a run that ended early scatters too much to say.
        lower_difference: Distance between the lower ends of the two intervals.
        upper_difference: Distance between the upper ends.
        tolerance: What the distances were compared with.
        unit: Unit of the three.
    """

    method: str
    first_order_holds: Literal["yes", "no", "cannot tell"]
    lower_difference: float
    upper_difference: float
    tolerance: float
    unit: str


def monte_carlo(
    budget: Budget, probability: float = 0.95, seed: int = 1, digits: int = 2, *, most_trials: int = MOST_TRIALS
) -> MonteCarlo:
    """Propagate the distributions of a budget's inputs through its formula.

    Readings, and whatever else is normal with limited degrees of freedom, are drawn from Student's t (6.4.9); a half
    width with limited degrees of freedom is itself drawn, between a - d and a + d with d = a / sqrt(2 freedom)
    (6.4.3). Correlated inputs must be normal with unlimited degrees of freedom (6.4.8).

    Args:
        budget: Formula, inputs, correlations.
        probability: Share of the trials inside the coverage intervals, between 0 and 1.
        seed: Whole number from 0.
        digits: Significant digits of u that must be reliable, 1 to 4.
        most_trials: Trials after which the run ends, stable or not; `stable` says which.

    Raises:
        EvidenceError: where an input cannot be drawn, correlated inputs cancel each other, the formula has no value
            in some trials, or the probability is so high that the trials cannot show it.
    """
    import numpy as np

    probability = refuse_probability(refuse_number(probability, "probability"), "probability")
    seed, digits = refuse_count(seed, "seed"), refuse_count(digits, "digits", least=1)
    if digits > 4:
        raise EvidenceError(f"digits is {digits}, and more than 4 would take years", "ask for 1 or 2")
    size = max(BATCH, math.ceil(100 / (1 - probability) - 1e-6))
    if refuse_count(most_trials, "most_trials", least=1) > MOST_HELD:
        raise EvidenceError(
            f"most_trials is {most_trials:.3g}, more than memory holds", f"ask for {MOST_HELD:.0e} at most"
        )
    most = most_trials // size
    if most < FEWEST_BATCHES:
        raise EvidenceError(
            f"probability {probability:g} needs {FEWEST_BATCHES * size:.3g} trials at least, and {most_trials:.3g} "
            "are the most",
            "ask for a lower probability, or allow more trials",
        )
    refuse_undrawable(budget)
    parts = [part for known in budget.inputs.values() for part in known.parts if part.u > 0]
    least = min((part.freedom for part in parts if part.shape == "normal"), default=math.inf)
    watched = _Watched(mean=least > 1, spread=least > 2)
    generator = np.random.default_rng(seed)
    batches: list[NDArray[Any]] = []
    rows: list[tuple[float, ...]] = []
    while True:
        batches.append(np.sort(worked_out(budget, drawn(budget, generator, size))))
        rows.append(watched.of(batches[-1], probability))
        if len(batches) == 1:
            _refuse_cancelled(budget, batches[0])
        if len(batches) < FEWEST_BATCHES:
            continue
        scatter = 2 * float(np.max(np.std(rows, axis=0, ddof=1))) / math.sqrt(len(rows))
        tolerance = numerical_tolerance(_width(rows, watched), digits)
        if scatter <= tolerance / SHARPNESS or len(batches) >= most:
            break
    values = np.sort(np.concatenate(batches), kind="stable")
    return _answer(budget, values, watched, probability, seed, digits, scatter)


def _refuse_cancelled(budget: Budget, batch: NDArray[Any]) -> None:
    """Refuse correlated inputs that cancel each other: what is left of the spread is rounding, and no uncertainty."""
    import numpy as np

    if not budget.correlations:
        return
    try:
        slopes = slopes_at(budget, budget.values)
    except EvidenceError:
        return
    largest = max(abs(slopes[name]) * known.u for name, known in budget.inputs.items())
    if float(np.std(batch)) <= 1e-9 * largest:
        raise EvidenceError(
            "the correlated inputs cancel each other, so the trials show nothing but rounding",
            "give the correlation of what the inputs share, and what each has of its own as an input of its own",
        )


def compare_first_order(first: FirstOrder, trials: MonteCarlo) -> Comparison:
    """Judge first order by the trials: both ends of its interval against those of the symmetric one (JCGM 101, 8.1).

    Raises:
        EvidenceError: where the two are not about the same level or unit.
    """
    if not math.isclose(first.confidence, trials.probability, abs_tol=1e-9) or first.unit != trials.unit:
        raise EvidenceError(
            f"first order covers {first.confidence:g} and the trials {trials.probability:g}",
            "ask both for the same level in the same unit",
        )
    ends = trials.symmetric
    lower, upper = abs(first.lower - ends.lower), abs(first.upper - ends.upper)
    largest, sharp = max(lower, upper), trials.scatter <= trials.tolerance / SHARPNESS
    holds: Literal["yes", "no", "cannot tell"] = "yes" if largest <= trials.tolerance else "no"
    if not sharp and abs(largest - trials.tolerance) < trials.scatter:
        holds = "cannot tell"
    return Comparison(
        "ends of both coverage intervals compared with the numerical tolerance (JCGM 101, 8)",
        holds,
        lower,
        upper,
        trials.tolerance,
        trials.unit,
    )


def numerical_tolerance(u: float, digits: int) -> float:
    """Half a unit of the last of so many significant digits of u (JCGM 101, 7.9.2); 0 for u = 0."""
    if not u > 0:
        return 0.0
    exponent = int(f"{u:.{digits - 1}e}".partition("e")[2]) - (digits - 1)
    return 0.5 * 10.0**exponent


@dataclass(frozen=True, slots=True)
class _Watched:
    """Which of mean and standard deviation exist: t has no mean with one degree of freedom, no deviation with two."""

    mean: bool
    spread: bool

    def of(self, ordered: NDArray[Any], probability: float) -> tuple[float, ...]:
        """Estimate, both ends, and the standard deviation where there is one."""
        import numpy as np

        ends = symmetric_ends(ordered, probability)
        spread = (float(np.std(ordered, ddof=1)),) if self.spread else ()
        return (self.estimate(ordered), *ends, *spread)

    def estimate(self, ordered: NDArray[Any]) -> float:
        """Mean, or median where there is no mean (or none that settles)."""
        import numpy as np

        return float(np.mean(ordered) if self.spread else np.median(ordered))


def _width(rows: list[tuple[float, ...]], watched: _Watched) -> float:
    """The u whose digits count; half a quarter of the interval stands for it where it does not exist."""
    import numpy as np

    means = np.mean(rows, axis=0)
    return float(means[3]) if watched.spread else float(means[2] - means[1]) / 4


def symmetric_ends(ordered: NDArray[Any], probability: float) -> tuple[float, float]:
    """Ends with as many values below as above (JCGM 101, 7.7.2)."""
    inside = min(int(probability * len(ordered) + 0.5), len(ordered) - 1)
    below = (len(ordered) - inside) // 2
    return float(ordered[below - 1 if below > 0 else 0]), float(ordered[below - 1 + inside if below > 0 else inside])


def shortest_ends(ordered: NDArray[Any], probability: float) -> tuple[float, float]:
    """Ends of the shortest interval with as many values inside (JCGM 101, 7.7.2)."""
    inside = min(int(probability * len(ordered) + 0.5), len(ordered) - 1)
    widths = ordered[inside:] - ordered[: len(ordered) - inside]
    first = int(widths.argmin())
    return float(ordered[first]), float(ordered[first + inside])


def _answer(
    budget: Budget,
    ordered: NDArray[Any],
    watched: _Watched,
    probability: float,
    seed: int,
    digits: int,
    scatter: float,
) -> MonteCarlo:
    import numpy as np

    estimate = watched.estimate(ordered)
    u = float(np.std(ordered, ddof=1)) if watched.spread else None
    intervals = {}
    for words, ends in (
        ("probabilistically symmetric", symmetric_ends(ordered, probability)),
        ("shortest", shortest_ends(ordered, probability)),
    ):
        intervals[words] = Interval(
            budget.estimand, f"{_METHOD}; {words}", probability, "two-sided", estimate, *ends, budget.unit
        )
    low, high = symmetric_ends(ordered, probability)
    tolerance = numerical_tolerance(u if u is not None else (high - low) / 4, digits)
    stable = scatter <= tolerance
    notes = []
    if not watched.spread:
        notes.append(
            "An input rests on so few readings that the answer has no standard deviation "
            "(Student's t with two degrees of freedom or fewer): the intervals stand, the estimate is the median."
        )
    if not stable:
        notes.append("The run ended before all digits were stable: allow more trials, or ask for fewer digits.")
    return MonteCarlo(
        estimand=budget.estimand,
        method=_METHOD,
        probability=probability,
        seed=seed,
        trials=len(ordered),
        mean=estimate,
        u=u,
        symmetric=intervals["probabilistically symmetric"],
        shortest=intervals["shortest"],
        digits=digits,
        tolerance=tolerance,
        scatter=scatter,
        stable=stable,
        notes=tuple(notes),
        unit=budget.unit,
    )


def converted_trials(answer: MonteCarlo, unit: str, factor: float, offset: float = 0.0) -> MonteCarlo:
    """The same answer in another unit: number = (value - offset) / factor. Its tolerance goes with it."""

    def moved(interval: Interval) -> Interval:
        return replace(
            interval,
            estimate=None if interval.estimate is None else (interval.estimate - offset) / factor,
            lower=(interval.lower - offset) / factor,
            upper=(interval.upper - offset) / factor,
            unit=unit,
        )

    return replace(
        answer,
        mean=(answer.mean - offset) / factor,
        u=None if answer.u is None else answer.u / factor,
        symmetric=moved(answer.symmetric),
        shortest=moved(answer.shortest),
        tolerance=answer.tolerance / factor,
        scatter=answer.scatter / factor,
        unit=unit,
    )
