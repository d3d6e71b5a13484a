"""Backwards and along: which input gives a wanted answer, and what one input does over a span."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from riskkit.engineering import catalog
from riskkit.engineering.answering import Answer, run, work_out
from riskkit.engineering.models import EngineeringError, Found, Given, Model
from riskkit.engineering.reading import in_unit, kind_of, names, quantity_of, shown, take, width_in
from riskkit.units import Quantity

PROBES = 200
"""Points at which a span is looked at for a change of side, in even steps and again in logarithmic ones."""

MOST_WHOLE = 1_000
"""So many whole numbers of an input without a unit are looked at, too: a model may take no others (bits, parts)."""

MOST_POINTS = 10_000


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
    """One point of a sweep.

    Attributes:
        value: The input, in its unit.
        answers: Each answer of the model in its unit; None where the model has no answer.
        validity: "inside", "at the edge", "outside" or "no answer".
        because: Why it is not inside; empty inside.
    """

    value: float
    answers: tuple[float | None, ...]
    validity: str
    because: str = ""


@dataclass(frozen=True, slots=True)
class Swept:
    """What one input does over a span."""

    model: Model
    given: Given
    points: tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class _Root:
    """Values at which an answer is as wanted, and what was seen on the way.

    Attributes:
        values: The roots.
        seen: Lowest and highest miss; None where the model has no answer at all.
        jumps: Neighbours between which the answer passes what is wanted without being it.
    """

    values: tuple[float, ...]
    seen: tuple[float, float] | None
    jumps: tuple[tuple[float, float], ...]


def solve_for(
    name: str | Model, wanted: str, target: str, /, *, answer: str | None = None, **inputs: str | float | Quantity
) -> Solved:
    """The value of one input for which an answer has a wanted value.

    The span of the input is looked through from its low to its high end, in even and in logarithmic steps, and each
    change of side is closed in on; the first root is the answer, others are named.

    Args:
        name: The model.
        wanted: The input that is looked for; a value given for it is set aside.
        target: The wanted value of the answer, as typed.
        answer: Which answer; the first one that the model gives for these inputs if left out.
        inputs: All other inputs.

    Raises:
        EngineeringError: where no value inside the span gives it.
    """
    model = catalog.model(name) if isinstance(name, str) else name
    given = model.given(wanted)
    _refuse_words(given, "solved for")
    inputs.pop(wanted, None)
    fixed = names(take(model, {**inputs, wanted: _somewhere(model, given)}, {}))
    found = model.find(answer) if answer is not None else _main(model, fixed)
    goal = quantity_of(Given(found.name, found.kind, found.words, found.unit), target, found.kind, "--target")[0]
    low, high = _span(given, fixed[wanted])

    def miss(value: float) -> float | None:
        try:
            told = run(model, {**fixed, wanted: value}).values.get(found.name)
        except EngineeringError:
            return None
        return None if told is None else told - goal

    root = _roots(miss, (low, high), abs(goal), whole=given.kind == "number")
    if not root.values:
        raise _nowhere(model, given, found, target, fixed, (low, high), root, goal)
    best, *others = root.values
    put = {**inputs, wanted: _typed(given, best)}
    return Solved(
        given, best, _shown(given, best, 6), work_out(model, put), tuple(_shown(given, each, 6) for each in others)
    )


def sweep(
    name: str | Model, along: str, first: str, last: str, /, points: int = 21, **inputs: str | float | Quantity
) -> Swept:
    """The answers of a model along one input.

    Args:
        name: The model.
        along: The input; a value given for it is set aside.
        first: Where to begin, as typed.
        last: Where to end, as typed.
        points: Number of points, 2 to 10000.
        inputs: All other inputs.

    Raises:
        EngineeringError: where the ends are no quantities of the input's kind, or the model has no answer between
            them.
    """
    model = catalog.model(name) if isinstance(name, str) else name
    given = model.given(along)
    _refuse_words(given, "swept")
    if not 2 <= points <= MOST_POINTS:
        raise EngineeringError(f"a sweep of {points} points cannot be drawn", f"give 2 to {MOST_POINTS} points")
    start, end = (quantity_of(given, each, given.kind, f"--sweep {along}")[0] for each in (first, last))
    if start == end:
        raise EngineeringError(f"--sweep {along}: both ends are {first}", "give two ends that differ")
    inputs.pop(along, None)
    found = []
    refused: EngineeringError | None = None
    for number in range(points):
        value = end if number == points - 1 else start + (end - start) * number / (points - 1)
        place = in_unit(value, given.unit, given.kind)
        try:
            answer = work_out(model, {**inputs, along: _typed(given, value)})
        except EngineeringError as error:
            refused = refused or error
            found.append(Point(place, tuple(None for _ in model.finds), "no answer", error.headline))
            continue
        by_name = {each.found.name: each.number for each in answer.values}
        told = tuple(by_name.get(each.name) for each in model.finds)
        found.append(Point(place, told, answer.validity, "; ".join(answer.because)))
    if refused is not None and all(point.validity == "no answer" for point in found):
        raise refused
    return Swept(model, given, tuple(found))


def _refuse_words(given: Given, what: str) -> None:
    if given.kind in ("word", "list", "table"):
        raise EngineeringError(
            f"{given.name} is a {given.kind}, no single number, and cannot be {what}", "name another"
        )


def _typed(given: Given, value: float) -> str | Quantity:
    """A value in SI base units as it goes into a model, with all its digits."""
    if given.kind == "number":
        return repr(value)
    return Quantity(_shown(given, value, 6), value, kind_of(given), given.unit)


def _shown(given: Given, value: float, digits: int = 4) -> str:
    return shown(value, given.unit, given.kind, digits)


def _main(model: Model, values: Mapping[str, Any]) -> Found:
    """The main answer for these inputs: the first one that the model gives."""
    try:
        told = run(model, values).values
    except EngineeringError:
        return model.finds[0]
    return next((each for each in model.finds if each.name in told), model.finds[0])


def _somewhere(model: Model, given: Given) -> str:
    """Any value of an input that the model takes."""
    return model.example.get(given.name) or given.default or given.low or given.high or f"1 {given.unit}".rstrip()


def _span(given: Given, near: float) -> tuple[float, float]:
    """Where an input is looked for: its own span, or a thousand times a value that it may have."""
    low = catalog.end_of(given, given.low) if given.low is not None else None
    high = catalog.end_of(given, given.high) if given.high is not None else None
    scale = abs(near) or 1 / width_in(1.0, given.unit, given.kind)
    if low is None:
        low = 0.0 if near >= 0 else -1000 * scale
    if high is None:
        high = 1000 * max(scale, abs(low))
    return low, high


def _roots(miss: Callable[[float], float | None], span: tuple[float, float], scale: float, *, whole: bool) -> _Root:
    """Every value at which the miss changes sides, in order."""
    low, high = span
    steps = {low + (high - low) * step / PROBES for step in range(PROBES + 1)}
    steps |= {low + (high - low) * 10 ** (-9 + 9 * step / PROBES) for step in range(PROBES + 1)}
    if whole:
        first = math.ceil(low)
        steps |= {float(first + step) for step in range(min(MOST_WHOLE, math.floor(high) - first + 1))}
    seen = [(each, value) for each in sorted(steps) if low <= each <= high and (value := miss(each)) is not None]
    tiny = 1e-12 * scale
    roots: list[float] = []
    jumps: list[tuple[float, float]] = []
    for (left, at_left), (right, at_right) in itertools.pairwise(seen):
        if abs(at_left) <= tiny:
            roots.append(left)
        elif abs(at_right) > tiny and at_left * at_right < 0:
            root = _closed_in(miss, (left, at_left), (right, at_right))
            if root is not None:
                roots.append(root)
            else:
                jumps.append((left, right))
    if seen and abs(seen[-1][1]) <= tiny:
        roots.append(seen[-1][0])
    apart = [root for place, root in enumerate(roots) if place == 0 or abs(root - roots[place - 1]) > 1e-9 * abs(root)]
    misses = [value for _, value in seen]
    return _Root(tuple(apart), (min(misses), max(misses)) if misses else None, tuple(jumps))


def _closed_in(
    miss: Callable[[float], float | None], left: tuple[float, float], right: tuple[float, float]
) -> float | None:
    """Halve the span until no number lies between its ends; None where the answer jumps over what is wanted.

    A hole in the model on the way counts as a jump.
    """
    widest = max(abs(left[1]), abs(right[1]))
    while True:
        middle = (left[0] + right[0]) / 2
        if not left[0] < middle < right[0]:
            break
        at_middle = miss(middle)
        if at_middle is None:
            return None
        if at_middle == 0:
            return middle
        if at_middle * left[1] > 0:
            left = (middle, at_middle)
        else:
            right = (middle, at_middle)
    nearest = min(left, right, key=lambda each: abs(each[1]))
    return nearest[0] if abs(nearest[1]) <= 1e-6 * widest else None


def _nowhere(
    model: Model,
    given: Given,
    found: Found,
    target: str,
    fixed: Mapping[str, Any],
    span: tuple[float, float],
    root: _Root,
    goal: float,
) -> EngineeringError:
    """No value gives what is wanted: what there is instead, or why there is nothing."""
    if root.seen is None:
        try:
            run(model, dict(fixed))
        except EngineeringError as error:
            return error
    low, high = (_shown(given, each) for each in span)
    reach = "the model has no answer there"
    if root.jumps:
        left, right = (_shown(given, each) for each in root.jumps[0])
        reach = f"it jumps over that between {left} and {right}"
    elif root.seen is not None:
        least, most = (shown(goal + each, found.unit, found.kind) for each in root.seen)
        reach = (
            f"it is {least} there, whatever the {given.words}"
            if least == most
            else f"it goes from {least} to {most} there"
        )
    return EngineeringError(
        f"no {given.words} from {low} to {high} gives {found.words} {target}",
        f"{reach}; look at the other inputs",
    )
