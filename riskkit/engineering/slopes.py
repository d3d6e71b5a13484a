"""What the answer of a model does when one input grows by one: its slope for every input that is a number."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from riskkit.engineering.answering import Answer, run
from riskkit.engineering.models import EngineeringError
from riskkit.engineering.reading import names, width_in

STEP = 1e-4
"""Step as a share of the input; of one of its unit where the input is 0."""


def slopes_of(answer: Answer, name: str, unit: str | None = None) -> Mapping[str, float]:
    """Change of an answer per unit of each input, stated uncertainty or not.

    Args:
        answer: An answer of a model.
        name: Which of its answers.
        unit: Unit of the answer; the model's if left out.

    Returns:
        Input name -> slope, in the unit of the answer per unit of the input; inputs that are no numbers, were left
        out, or cannot be moved to either side are not among them.
    """
    found, given = answer.model.find(name), names(answer.inputs)

    def at(input: str, value: float) -> float | None:
        try:
            return run(answer.model, {**given, input: value}).values.get(name)
        except EngineeringError:
            return None

    slopes: dict[str, float] = {}
    for each in answer.inputs:
        if each.given.kind in ("word", "list", "table") or each.value is None:
            continue
        input, value = each.given.name, float(each.value)
        step = STEP * (abs(value) or 1 / width_in(1.0, each.given.unit, each.given.kind))
        up, down = at(input, value + step), at(input, value - step)
        here = answer.value(name).value
        right, left = (None if up is None else (up - here) / step), (None if down is None else (here - down) / step)
        sides = [side for side in (right, left) if side is not None]
        if sides:
            slope = sum(sides) / len(sides)
            per_unit = 1 / width_in(1.0, each.given.unit, each.given.kind)
            slopes[input] = width_in(slope * per_unit, unit or found.unit, found.kind)
    return MappingProxyType(slopes)
