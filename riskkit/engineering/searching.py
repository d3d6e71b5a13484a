"""Backwards and along: which input gives a wanted answer, and what one input does over a span."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass

from riskkit.engineering import catalog
from riskkit.engineering.answering import Answer, run, work_out
from riskkit.engineering.models import EngineeringError, Given, Model
from riskkit.engineering.reading import in_unit, kind_of, names, quantity_of, shown, take
from riskkit.units import Quantity

PROBES = 400
"""Points at which a span is looked at for a change of side."""


@dataclass(frozen=True, slots=True)
class Solved:
    """An input that gives the wanted answer.

    Attributes:
        given: The input.
        value: In SI base units.
        written: As it is read.
        answer: The answer with it put in.
        others: Further values that give it too, as they are read.
    """

    given: Given
    value: float
    written: str
    answer: Answer
    others: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Point:
    """One point of a sweep: the input and each answer in their units; None where the model has no answer."""

    value: float
    answers: tuple[float | None, ...]
    validity: str


@dataclass(frozen=True, slots=True)
class Swept:
    """What one input does over a span."""

    model: Model
    given: Given
    points: tuple[Point, ...]


def solve_for(
    name: str | Model, wanted: str, target: str, /, *, answer: str | None = None, **inputs: str | float | Quantity
) -> Solved:
    """The value of one input for which an answer has a wanted value.

    The span of the input is looked through from its low to its high end, in even and in logarithmic steps, and each
    change of side is closed in on; the first root is the answer, others are named.

    Args:
        name: The model.
        wanted: The input that is looked for.
        target: The wanted value of the answer, as typed.
        answer: Which answer; the main one if left out.
        inputs: All other inputs.

    Raises:
        EngineeringError: where no value inside the span gives it.
    """
    model = catalog.model(name) if isinstance(name, str) else name
    given, found = model.given(wanted), model.find(answer or model.finds[0].name)
    if given.kind in ("word", "list", "table"):
        raise EngineeringError(f"{wanted} is no number, so nothing can be solved for it", "name another input")
    goal = quantity_of(Given(found.name, found.kind, found.words, found.unit), target, found.kind, "--target")[0]
    inputs.pop(wanted, None)
    taken = take(model, {**inputs, wanted: given.default or model.example[wanted]}, {})
    fixed = names(taken)

    def miss(value: float) -> float | None:
        try:
            return run(model, {**fixed, wanted: value}).values[found.name] - goal
        except (EngineeringError, KeyError):
            return None

    roots = _roots(miss, _span(given, fixed[wanted]), abs(goal))
    if not roots:
        low, high = _span(given, fixed[wanted])
        raise EngineeringError(
            f"no {given.words} from {_shown(given, low)} to {_shown(given, high)} gives {found.words} {target}",
            "look at the other inputs, or at what --sweep shows",
        )
    best, *others = roots
    exact = Quantity(_shown(given, best, 6), best, kind_of(given), given.unit)
    put = {**inputs, wanted: f"{best!r}" if given.kind == "number" else exact}
    return Solved(
        given, best, _shown(given, best, 6), work_out(model, put), tuple(_shown(given, each, 6) for each in others)
    )


def sweep(
    name: str | Model, along: str, first: str, last: str, /, points: int = 21, **inputs: str | float | Quantity
) -> Swept:
    """The answers of a model along one input.

    Args:
        name: The model.
        along: The input.
        first: Where to begin, as typed.
        last: Where to end, as typed.
        points: Number of points, 2 or more.
        inputs: All other inputs.

    Raises:
        EngineeringError: where the ends are no quantities of the input's kind.
    """
    model = catalog.model(name) if isinstance(name, str) else name
    given = model.given(along)
    if given.kind in ("word", "list", "table"):
        raise EngineeringError(f"{along} is no number and cannot be swept", "name another input")
    if points < 2:
        raise EngineeringError(f"a sweep of {points} points shows nothing", "give 2 points or more")
    start, end = (quantity_of(given, each, given.kind, f"--sweep {along}")[0] for each in (first, last))
    inputs.pop(along, None)
    found = []
    for number in range(points):
        value = start + (end - start) * number / (points - 1)
        typed = (
            f"{value!r}"
            if given.kind == "number"
            else Quantity(_shown(given, value), value, kind_of(given), given.unit)
        )
        try:
            answer = work_out(model, {**inputs, along: typed})
            by_name = {each.found.name: each.number for each in answer.values}
            told = tuple(by_name.get(each.name) for each in model.finds)
            found.append(Point(in_unit(value, given.unit, given.kind), told, answer.validity))
        except EngineeringError:
            found.append(Point(in_unit(value, given.unit, given.kind), tuple(None for _ in model.finds), "no answer"))
    if all(point.validity == "no answer" for point in found):
        # The first point says why.
        work_out(model, {**inputs, along: first})
    return Swept(model, given, tuple(found))


def _shown(given: Given, value: float, digits: int = 4) -> str:
    return shown(value, given.unit, given.kind, digits)


def _span(given: Given, near: float) -> tuple[float, float]:
    """Where an input is looked for: its own span, or a thousand times below and above what was given."""
    low = catalog.end_of(given, given.low) if given.low is not None else None
    high = catalog.end_of(given, given.high) if given.high is not None else None
    scale = abs(near) or 1.0
    if low is None:
        low = 0.0 if near >= 0 else -1000 * scale
    if high is None:
        high = 1000 * max(scale, abs(low))
    return low, high


def _roots(miss: Callable[[float], float | None], span: tuple[float, float], scale: float) -> list[float]:
    """Every value at which the miss changes sides, in order."""
    from scipy.optimize import brentq

    low, high = span
    steps = {low + (high - low) * step / PROBES for step in range(PROBES + 1)}
    reach = high - low
    steps |= {low + reach * 10 ** (-9 + 9 * step / PROBES) for step in range(PROBES + 1)}
    seen = [(each, value) for each in sorted(steps) if low <= each <= high and (value := miss(each)) is not None]
    tiny = 1e-12 * (scale or 1.0)
    roots: list[float] = []
    for (left, at_left), (right, at_right) in itertools.pairwise(seen):
        if abs(at_left) <= tiny:
            roots.append(left)
        elif at_left * at_right < 0:
            root = float(
                brentq(
                    lambda value: _sure(miss(value)), left, right, xtol=1e-15 * max(abs(left), abs(right)), rtol=1e-13
                )
            )
            if abs(_sure(miss(root))) <= 1e-6 * max(abs(at_left), abs(at_right), tiny):  # a jump is no root
                roots.append(root)
    if seen and abs(seen[-1][1]) <= tiny:
        roots.append(seen[-1][0])
    return [root for place, root in enumerate(roots) if place == 0 or abs(root - roots[place - 1]) > 1e-9 * abs(root)]


def _sure(value: float | None) -> float:
    """A miss between two values that have one; the model may have a hole there."""
    if value is None:
        raise EngineeringError("the model has no answer on the way", "narrow the span with other inputs")
    return value
