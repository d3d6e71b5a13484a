"""An answer of a model: value, expanded uncertainty, what contributes most, whether the model holds, and the words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from riskkit.engineering import catalog
from riskkit.engineering.models import EngineeringError, Found, Model, Outcome
from riskkit.engineering.reading import (
    ANGLES,
    Taken,
    in_unit,
    kind_named,
    names,
    shown,
    take,
    together,
    width_in,
)
from riskkit.units import KINDS, Quantity, UnitError
from riskkit.units.kinds import readable
from riskkit.units.registry import unit_of

STANDING = "A bench estimate inside stated limits, not a clinical prediction."
COVERAGE = "expanded uncertainty, k = 2, about 95 % for a normal distribution"
NOT_LINEAR = 0.1
"""Where the bend of one input moves the ends of the answer by more than this share of U, first order is said to be
rough.

The bend is half of what a step up by the whole uncertainty and a step down leave over when added. At the ends of the
answer's interval an input with share s of the variance has moved by s of its bend, and by a quarter of the rest on
average."""


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one input does to the answer.

    Attributes:
        name: The input.
        sensitivity: Change of the answer per change of the input, in SI base units.
        uncertainty: What the input's expanded uncertainty makes of the answer's, in SI base units.
        share: Its share of the variance, 0 to 1.
    """

    name: str
    sensitivity: float
    uncertainty: float
    share: float


@dataclass(frozen=True, slots=True)
class Value:
    """One answer.

    Attributes:
        found: Name, kind, unit and words.
        value: In SI base units.
        uncertainty: Expanded uncertainty (k = 2) in SI base units; None where no input states any, or where one of
            them cannot be carried through the model.
        contributions: Inputs with an uncertainty, the biggest contributor first.
        remarks: Where the uncertainty is rough, one sentence each.
    """

    found: Found
    value: float
    uncertainty: float | None
    contributions: tuple[Contribution, ...]
    remarks: tuple[str, ...] = ()

    @property
    def number(self) -> float:
        """The value in its unit."""
        return in_unit(self.value, self.found.unit, self.found.kind)

    @property
    def width(self) -> float | None:
        """The expanded uncertainty in the unit."""
        return None if self.uncertainty is None else width_in(self.uncertainty, self.found.unit, self.found.kind)

    @property
    def written(self) -> str:
        """The value as it is read: "8.11 hPa" or "8.11 ± 0.18 hPa"."""
        if not self.width:
            return shown(self.value, self.found.unit, self.found.kind)
        return f"{together(self.number, self.width)} {readable(self.found.unit)}".rstrip()

    def in_unit(self, unit: str) -> float:
        """The value in another unit of the same kind.

        Raises:
            UnitError: where the unit is of another kind.
        """
        return self.converted(unit).number

    def converted(self, unit: str) -> Value:
        """The same value, shown in another unit of the same kind.

        Raises:
            UnitError: where the unit is of another kind.
        """
        kind = kind_named(self.found.kind, self.found.unit)
        if kind == "angle" and unit in ANGLES:
            return replace(self, found=replace(self.found, unit=unit))
        meant = unit_of(unit, kind if kind in KINDS else None).kind
        may = (
            {kind, "fraction"} if kind == "number" else {"energy", "torque"} if kind in ("energy", "torque") else {kind}
        )
        if meant not in may:
            raise UnitError(
                f"`{unit}` measures a {meant}, and the answer is a {kind}",
                f"name a unit such as {readable(self.found.unit)}" if self.found.unit else "leave the unit out",
            )
        return replace(self, found=replace(self.found, unit=unit))


@dataclass(frozen=True, slots=True)
class Answer:
    """Everything that a model says.

    Attributes:
        model: The model.
        inputs: What was taken, with origins.
        values: All answers, the main one first.
        validity: "inside", "at the edge" or "outside".
        because: Why it is at the edge or outside; empty inside.
        remarks: Warnings of physical sense and assumptions.
    """

    model: Model
    inputs: tuple[Taken, ...]
    values: tuple[Value, ...]
    validity: str
    because: tuple[str, ...]
    remarks: tuple[str, ...]

    @property
    def main(self) -> Value:
        """The main answer."""
        return self.values[0]

    def value(self, name: str) -> Value:
        """The answer of that name.

        Raises:
            EngineeringError: where the model has no such answer, or not for these inputs.
        """
        found = self.model.find(name)
        for each in self.values:
            if each.found is found:
                return each
        raise EngineeringError(
            f"{self.model.name} gives no {found.words} for these inputs",
            f"its answers for them are {', '.join(each.found.name for each in self.values)}",
        )


def calculate(name: str | Model, /, **inputs: str | float | Quantity) -> Answer:
    """Work a model out with inputs as people type them.

    Args:
        name: Name of the model, or the model itself.
        inputs: Input name -> a quantity as typed, such as `"83 mm"` or `"83±1 mm"` (±: expanded uncertainty, k = 2);
            a plain number for an input without a unit.

    Raises:
        EngineeringError: an unknown model or input, a wrong kind of quantity, a value outside of what the model
            can answer.
    """
    return work_out(name, inputs)


def work_out(
    name: str | Model, inputs: Mapping[str, str | float | Quantity], origins: Mapping[str, str] | None = None
) -> Answer:
    """As `calculate`, with the inputs in one mapping and the records that they come from.

    Args:
        name: Name of the model, or the model itself.
        inputs: Input name -> what was typed.
        origins: Input name -> the record it comes from.

    Raises:
        EngineeringError: as for `calculate`.
    """
    model = catalog.model(name) if isinstance(name, str) else name
    taken = take(model, inputs, origins or {})
    outside, edge = _ranges(taken, model)
    given = names(taken)
    outcome = run(model, given)
    moves = tuple(_Move.of(model, given, each) for each in taken if each.uncertainty)
    values = tuple(
        _with_uncertainty(found, outcome.values[found.name], moves)
        for found in model.finds
        if found.name in outcome.values
    )
    if not values:
        raise EngineeringError(f"{model.name} has no answer for these inputs", "look at the inputs again")
    outside += outcome.outside
    edge += outcome.edge
    validity = "outside" if outside else "at the edge" if edge else "inside"
    asked = tuple(each.given.asks for each in taken if each.origin in ("default", "left out") and each.given.asks)
    remarks = (*asked, *outcome.remarks, *values[0].remarks)
    return Answer(model, taken, values, validity, (*outside, *edge), remarks)


def evaluate(name: str | Model, /, **inputs: Any) -> Outcome:
    """Work a model out with plain numbers in SI base units: no reading, no ranges, no uncertainty.

    Every input without a default must be given; words are text, lists and tables tuples.

    Raises:
        EngineeringError: an unknown or missing input, text in place of a number, or where the model refuses.
    """
    model = catalog.model(name) if isinstance(name, str) else name
    given = {**catalog.defaults_of(model), **inputs}
    missing = [each.name for each in model.givens if each.name not in given]
    if missing or len(given) > len(model.givens):
        for each in inputs:
            model.given(each)
        raise EngineeringError(
            f"{model.name} needs {', '.join(f'`{each}`' for each in missing)}", "give them as numbers in SI base units"
        )
    for each, value in inputs.items():
        if isinstance(value, str) and model.given(each).kind != "word":
            raise EngineeringError(
                f"{model.name}, `{each}`: evaluate takes numbers in SI base units, and `{value}` is text",
                "`calculate` reads quantities with units",
            )
    return run(model, given)


def run(model: Model, values: Mapping[str, Any]) -> Outcome:
    """The model's function, with its arithmetic accidents as one sentence.

    Raises:
        EngineeringError: where the model refuses, or its formula has no value for these numbers.
    """
    try:
        outcome = model.function(**values)
    except EngineeringError:
        raise
    except (ArithmeticError, ValueError, TypeError) as error:
        # A power of something negative is complex, and the next function that takes it says so as a TypeError.
        if isinstance(error, TypeError) and "complex" not in str(error):
            raise
        raise EngineeringError(
            f"{model.name}: the formula has no value for these numbers",
            "look at the inputs that are zero, negative or very large",
        ) from None
    for name, value in outcome.values.items():
        if isinstance(value, complex) or not math.isfinite(value):
            raise EngineeringError(
                f"{model.name}: `{name}` has no finite value for these numbers", "look at the inputs again"
            )
    return outcome


def _ranges(taken: tuple[Taken, ...], model: Model) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Inputs outside of their span, and at its edge; a refused one raises."""
    outside: list[str] = []
    edge: list[str] = []
    for each in taken:
        given = each.given
        numbers = each.value if given.kind == "list" else (each.value,)
        for value in numbers:
            if not isinstance(value, float | int):
                continue
            for end, sign in ((given.low, 1), (given.high, -1)):
                if end is None:
                    continue
                limit = catalog.end_of(given, end)
                beyond = sign * (limit - value)
                span = f"{model.name} takes the {given.words} {'from' if sign > 0 else 'up to'} {end}"
                if beyond > 1e-12 * max(abs(limit), abs(value)):
                    if given.outside == "refused":
                        raise EngineeringError(f"{span}, and it is {each.written}", f"give {given.name} inside of that")
                    outside.append(f"{span}, and it is {each.written}")
                elif each.uncertainty and beyond + each.uncertainty > 0:
                    edge.append(f"{span}, and {each.written} may lie beyond")
    return tuple(dict.fromkeys(outside)), tuple(dict.fromkeys(edge))


@dataclass(frozen=True, slots=True)
class _Move:
    """The answers with one input moved up and down, by half of its expanded uncertainty and by the whole of it.

    None where the model has no answer there.
    """

    taken: Taken
    up: Mapping[str, float] | None
    down: Mapping[str, float] | None
    far_up: Mapping[str, float] | None
    far_down: Mapping[str, float] | None

    @classmethod
    def of(cls, model: Model, given: Mapping[str, Any], each: Taken) -> _Move:
        def at(step: float) -> Mapping[str, float] | None:
            try:
                return run(model, {**given, each.given.name: each.value + step}).values
            except EngineeringError:
                return None

        wide = each.uncertainty
        return cls(each, at(wide / 2), at(-wide / 2), at(wide), at(-wide))


def _with_uncertainty(found: Found, value: float, moves: tuple[_Move, ...]) -> Value:
    """First order: each input moved up and down by its standard uncertainty; root of the sum of squares."""
    parts, bends, remarks, lost = [], [], [], False
    for move in moves:
        name, wide = move.taken.given.name, move.taken.uncertainty
        up, down, far_up, far_down = (
            None if each is None else each.get(found.name) for each in (move.up, move.down, move.far_up, move.far_down)
        )
        slope = _slope(value, up, down, wide / 2)
        if slope is None:
            lost = True
            remarks.append(f"the uncertainty of {name} cannot be carried: the model has no answer on either side of it")
            continue
        if far_up is None or far_down is None:
            remarks.append(f"the uncertainty of {name} reaches beyond what the model can answer; U is rough")
            parts.append((name, slope, abs(slope) * wide))
            continue
        bend = abs(far_up + far_down - 2 * value) / 2
        # On a summit the slope is 0 and first order sees nothing: there the larger of both changes stands for it.
        flat = bend > max(abs(slope) * wide, 1e-9 * abs(value))
        parts.append((name, slope, max(abs(far_up - value), abs(far_down - value)) if flat else abs(slope) * wide))
        bends.append((name, bend))
    total = math.sqrt(sum(width * width for _, _, width in parts))
    widths = {name: width for name, _, width in parts}
    for name, bend in bends:
        share = (widths[name] / total) ** 2 if total else 0.0
        if bend * (share + (1 - share) / 4) > NOT_LINEAR * total and bend > 1e-9 * abs(value):
            remarks.append(f"far from linear in {name} over its uncertainty: U from first order is rough there")
    contributions = tuple(
        Contribution(name, slope, width, (width / total) ** 2 if total else 0.0)
        for name, slope, width in sorted(parts, key=lambda part: -part[2])
    )
    return Value(found, value, total if parts and not lost else None, contributions, tuple(remarks))


def _slope(value: float, up: float | None, down: float | None, step: float) -> float | None:
    if up is not None and down is not None:
        return (up - down) / (2 * step)
    if up is not None:
        return (up - value) / step
    return None if down is None else (value - down) / step
