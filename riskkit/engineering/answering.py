"""An answer of a model: value, expanded uncertainty, what contributes most, whether the model holds, and the words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from riskkit.engineering import catalog
from riskkit.engineering.models import EngineeringError, Found, Model, Outcome
from riskkit.engineering.reading import Taken, in_unit, kind_named, names, shown, take, width_in
from riskkit.units import Quantity
from riskkit.units.kinds import readable

STANDING = "A bench estimate inside stated limits, not a clinical prediction."
COVERAGE = "expanded uncertainty, k = 2, about 95 % for a normal distribution"
NOT_LINEAR = 0.2
"""Up and down steps that differ by more than this share are said to be far from linear."""


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
        uncertainty: Expanded uncertainty (k = 2) in SI base units; None where no input states any.
        contributions: Inputs with an uncertainty, the biggest contributor first.
    """

    found: Found
    value: float
    uncertainty: float | None
    contributions: tuple[Contribution, ...]

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
        text = shown(self.value, self.found.unit, self.found.kind)
        if self.width is None:
            return text
        digits = max(0, 1 - math.floor(math.log10(self.width))) if self.width > 0 else 3
        return f"{self.number:.{digits}f} ± {self.width:.{digits}f} {readable(self.found.unit)}".rstrip()

    def in_unit(self, unit: str) -> float:
        """The value in another unit of the same kind.

        Raises:
            UnitError: where the unit is of another kind.
        """
        return Quantity("", self.value, kind_named(self.found.kind, self.found.unit), self.found.unit).to(unit)


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
            EngineeringError: naming the answers.
        """
        self.model.find(name)
        return next(each for each in self.values if each.found.name == name)


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
    outcome = run(model, names(taken))
    values = tuple(
        _with_uncertainty(model, taken, found, outcome) for found in model.finds if found.name in outcome.values
    )
    outside += outcome.outside
    edge += outcome.edge
    validity = "outside" if outside else "at the edge" if edge else "inside"
    asked = tuple(each.given.asks for each in taken if each.origin == "default" and each.given.asks)
    return Answer(
        model,
        taken,
        values,
        validity,
        (*outside, *edge),
        (*asked, *outcome.remarks, *_about_linearity(model, taken, values)),
    )


def evaluate(name: str | Model, /, **inputs: Any) -> Outcome:
    """Work a model out with plain numbers in SI base units: no reading, no ranges, no uncertainty.

    Every input without a default must be given; words are text, lists and tables tuples.

    Raises:
        EngineeringError: where the model refuses.
    """
    model = catalog.model(name) if isinstance(name, str) else name
    given = {**defaults(model), **inputs}
    return run(model, given)


def defaults(model: Model) -> Mapping[str, Any]:
    """The defaults of a model in SI base units; inputs that must be given are not among them."""
    return catalog.defaults_of(model)


def run(model: Model, values: Mapping[str, Any]) -> Outcome:
    """The model's function, with its arithmetic accidents as one sentence.

    Raises:
        EngineeringError: where the model refuses, or its formula has no value for these numbers.
    """
    try:
        outcome = model.function(**values)
    except (ZeroDivisionError, OverflowError):
        raise EngineeringError(
            f"{model.name}: the formula has no value for these numbers",
            "look at the inputs that are zero or very large",
        ) from None
    for name, value in outcome.values.items():
        if not math.isfinite(value):
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
        if not isinstance(each.value, float | int):
            continue
        for end, sign in ((given.low, 1), (given.high, -1)):
            if end is None:
                continue
            limit = catalog.end_of(given, end)
            beyond = sign * (limit - each.value)
            span = f"{model.name} takes the {given.words} {'from' if sign > 0 else 'up to'} {end}"
            if beyond > 1e-12 * max(abs(limit), abs(each.value)):
                if given.outside == "refused":
                    raise EngineeringError(f"{span}, and it is {each.written}", f"give {given.name} inside of that")
                outside.append(f"{span}, and it is {each.written}")
            elif each.uncertainty and beyond + each.uncertainty > 0:
                edge.append(f"{span}, and {each.written} may lie beyond")
    return tuple(outside), tuple(edge)


def _with_uncertainty(model: Model, taken: tuple[Taken, ...], found: Found, outcome: Outcome) -> Value:
    """First order: each input moved up and down by its standard uncertainty; root of the sum of squares."""
    given = names(taken)
    value = outcome.values[found.name]
    parts = []
    for each in taken:
        if not each.uncertainty:
            continue
        step = each.uncertainty / 2
        up, down = _moved(model, given, each, step, found.name), _moved(model, given, each, -step, found.name)
        slope = _slope(value, up, down, step)
        if slope is not None:
            parts.append((each.given.name, slope, slope * each.uncertainty))
    if not parts:
        return Value(found, value, None, ())
    total = math.sqrt(sum(width * width for _, _, width in parts))
    contributions = tuple(
        Contribution(name, slope, abs(width), (width / total) ** 2 if total else 0.0)
        for name, slope, width in sorted(parts, key=lambda part: -abs(part[2]))
    )
    return Value(found, value, total, contributions)


def _moved(model: Model, given: Mapping[str, Any], each: Taken, step: float, answer: str) -> float | None:
    try:
        return run(model, {**given, each.given.name: each.value + step}).values.get(answer)
    except EngineeringError:
        return None


def _slope(value: float, up: float | None, down: float | None, step: float) -> float | None:
    if up is not None and down is not None:
        return (up - down) / (2 * step)
    if up is not None:
        return (up - value) / step
    return None if down is None else (value - down) / step


def _about_linearity(model: Model, taken: tuple[Taken, ...], values: tuple[Value, ...]) -> tuple[str, ...]:
    """Where a step up and a step down do not do the same, a first-order uncertainty is rough."""
    if not values or values[0].uncertainty is None:
        return ()
    given, main = names(taken), values[0]
    said = []
    for each in taken:
        part = next((one for one in main.contributions if one.name == each.given.name), None)
        if part is None or part.share < 0.05:
            continue
        up = _moved(model, given, each, each.uncertainty, main.found.name)
        down = _moved(model, given, each, -each.uncertainty, main.found.name)
        if up is None or down is None:
            said.append(f"the uncertainty of {each.given.name} reaches beyond what the model can answer; U is rough")
            continue
        rise, fall = abs(up - main.value), abs(main.value - down)
        if abs(rise - fall) > NOT_LINEAR * max(rise, fall):
            said.append(f"far from linear in {each.given.name} over its uncertainty: U from first order is rough there")
    return tuple(said)
