"""`calc --monte-carlo`: the inputs of a model are drawn, and what comes out is compared with first order."""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from riskkit.cli.calculation_words import how_to_state
from riskkit.diagnostics import RiskkitError
from riskkit.units.kinds import readable

if TYPE_CHECKING:
    from riskkit.engineering.answering import Answer, Value

LEVEL = math.erf(math.sqrt(2))
"""What k = 2 covers of a normal distribution: 95.45 %."""

NOTICED = 0.05
"""First order is said to differ where an end is off by more than this share of U; a convention of riskkit."""

FEWEST_TRIALS = 100_000
LONG = 5.0
"""Seconds after which a person wants to know that something is going on."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """What the trials show: in sentences, and as data."""

    sentences: tuple[str, ...]
    data: dict[str, Any]


def drawn(answer: Answer, value: Value, seed: int) -> Drawn:
    """Draw every input that states an uncertainty from a normal distribution and work the model out each time.

    Raises:
        RiskkitError: where no input states an uncertainty, or the model has no answer for what was drawn.
    """
    from riskkit.engineering.answering import run
    from riskkit.engineering.models import EngineeringError
    from riskkit.engineering.reading import in_unit, names
    from riskkit.evidence import Budget, Input, monte_carlo

    uncertain = [each for each in answer.inputs if each.uncertainty]
    if not uncertain:
        raise RiskkitError(
            "no input states an uncertainty, so there is nothing to draw",
            how_to_state(answer).lstrip("; ") or "type ± and a number behind a value",
        )
    model, found, given = answer.model, value.found, names(answer.inputs)

    def worked_out(**moved: float) -> float:
        told = run(model, {**given, **moved}).values
        if found.name not in told:
            raise EngineeringError(f"{model.name} has no {found.name} there")
        return in_unit(told[found.name], found.unit, found.kind)

    _say_how_long(worked_out, {each.given.name: each.value for each in uncertain})
    known = {each.given.name: Input(each.value, expanded=each.uncertainty, k=2) for each in uncertain}
    budget = Budget(worked_out, known, estimand=found.words, unit=readable(found.unit))
    trials = monte_carlo(budget, LEVEL, seed, digits=1, most_trials=4 * FEWEST_TRIALS)
    ends = trials.symmetric
    from riskkit.engineering.reading import together

    half = (ends.upper - ends.lower) / 2
    low, high = (
        together(end, half).partition(" ")[0] if half > 0 else f"{end:.6g}" for end in (ends.lower, ends.upper)
    )
    said = [
        f"Monte Carlo: {low} to {high} {readable(found.unit)}".rstrip()
        + f" covers {100 * LEVEL:.4g} % of {trials.trials} trials (seed {seed}, inputs normal, independent)."
    ]
    agrees, off = None, None
    if value.width:
        off = max(abs(value.number - value.width - ends.lower), abs(value.number + value.width - ends.upper))
        agrees = off <= NOTICED * value.width
        told = (
            f"the ends differ by up to {off:.2g} {readable(found.unit)}".rstrip()
            + f", {100 * off / value.width:.0f} % of U"
        )
        said.append(
            f"First order holds: {told}." if agrees else f"First order does not hold, state this interval: {told}."
        )
    else:
        said.append("First order states no uncertainty here; state this interval.")
    data = {
        "lower": ends.lower,
        "upper": ends.upper,
        "coverage": LEVEL,
        "mean": trials.mean,
        "u": trials.u,
        "trials": trials.trials,
        "seed": seed,
        "first_order_holds": agrees,
        "largest_difference": off,
        "method": trials.method,
    }
    return Drawn(tuple(said), data)


def _say_how_long(worked_out: Callable[..., float], values: dict[str, float]) -> None:
    worked_out(**values)  # the first time may import something
    start = time.perf_counter()
    worked_out(**values)
    seconds = (time.perf_counter() - start) * FEWEST_TRIALS
    if seconds > LONG:
        sys.stderr.write(f"riskkit: drawing {FEWEST_TRIALS} times takes about {seconds:.0f} s\n")
