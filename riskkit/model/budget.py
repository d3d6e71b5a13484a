"""An uncertainty budget as it is typed: a formula, its inputs, and how each of them is known."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, PlainValidator, model_validator

from riskkit.model.fields import Block, FieldError, Probability, Text, read_probability
from riskkit.units import Quantity, UnitError, read_quantity

PLAIN = "plain number"
"""The kind of a number that was typed without a unit."""

_BARE = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


def _read(typed: object, *, difference: bool) -> Quantity:
    """A number with its unit, or a plain number; of temperatures a difference, where one is meant."""
    if isinstance(typed, Quantity):
        return typed
    if isinstance(typed, bool) or not isinstance(typed, str | int | float):
        raise ValueError(
            "a number with its unit is expected; write it as `83 mm` or `998.2 kg/m3`, or as a plain number"
        )
    if isinstance(typed, int | float) or _BARE.fullmatch(typed.strip()):
        try:
            value = float(typed)
        except OverflowError:
            value = math.inf
        if not math.isfinite(value):
            raise ValueError(f"`{typed}` is too large to be a reading; check its digits")
        return Quantity(str(typed), value, PLAIN, "")
    try:
        found = read_quantity(typed)
    except UnitError:
        if not re.search(r"\d\s*K\s*$", typed):
            raise
        found = read_quantity(typed, "temperature difference")
    if re.match(r"[\d.]", found.unit) and not found.unit.startswith("1/"):
        raise ValueError(f"`{typed}` holds two numbers; write one number with its unit, such as `83 mm`")
    if found.plus_minus is not None:
        raise ValueError(
            f"`{typed}` does not say what stands behind ±; write the number alone, and how it is known as `u`, "
            "`half_width` or `expanded`"
        )
    if found.kind == "temperature" and (difference or found.unit.strip() == "K"):
        return read_quantity(typed, "temperature difference")
    return found


def _spread(typed: object) -> Quantity:
    found = _read(typed, difference=True)
    if found.value < 0:
        raise ValueError(f"`{found.written}` is negative, and an uncertainty cannot be; take the minus out")
    return found


def _number(
    least: float, what: str, example: str, *, open_end: bool = False, whole: bool = False
) -> Callable[[object], float]:
    def read(typed: object) -> float:
        if isinstance(typed, str) and _BARE.fullmatch(typed.strip()):
            typed = float(typed)
        told = typed if isinstance(typed, int | float) and not isinstance(typed, bool) else math.nan
        if not least <= told < 1e9 or (open_end and told == least) or (whole and told != int(told)):
            span = f"above {least:g}" if open_end else f"from {least:g}"
            raise ValueError(f"{what} {span} is expected, not {_shown(typed)}; write it as `{example}`")
        return float(told)

    return read


def _shown(typed: object) -> str:
    """What was typed, as it stands in a file."""
    if isinstance(typed, list | dict):
        return "a group"
    return f"`{str(typed).lower() if isinstance(typed, bool) else typed}`"


def _level(typed: object) -> Probability:
    try:
        found = read_probability(typed)
    except ValueError:
        raise ValueError(f"{_shown(typed)} is no level between 0 and 100 %; write it as `95 %` or 0.95") from None
    if not 0 < found.exact < 1:
        raise ValueError(f"`{found.written}` must lie between 0 and 100 %, ends left out; write it as `95 %`")
    return found


Amount = Annotated[Quantity, PlainValidator(lambda typed: _read(typed, difference=False))]
Spread = Annotated[Quantity, PlainValidator(_spread)]
Share = Annotated[Probability, PlainValidator(_level)]
Freedom = Annotated[float, PlainValidator(_number(1, "a number of degrees of freedom", "freedom: 12"))]
Coverage = Annotated[float, PlainValidator(_number(0, "a coverage factor", "k: 2", open_end=True))]
Count = Annotated[float, PlainValidator(_number(1, "a whole number of readings", "count: 5", whole=True))]
Coefficient = Annotated[float, PlainValidator(lambda typed: _coefficient(typed))]

WAYS = ("u", "expanded", "half_width", "pooled_s")
"""The ways in which an uncertainty can be known, beside readings."""


def _coefficient(typed: object) -> float:
    told = _number(-1, "a correlation coefficient", "r: 0.3")(typed)
    if told > 1:
        raise ValueError(f"a correlation coefficient lies from -1 to 1, and `{typed}` does not; write it as `r: 0.3`")
    return told


def _two_names(typed: object) -> tuple[str, str]:
    if not isinstance(typed, list | tuple) or len(typed) != 2:
        raise ValueError("two inputs are expected; write `between: [one, other]`")
    return str(typed[0]), str(typed[1])


class Reason(Block):
    """One reason why a value is uncertain."""

    u: Spread | None = Field(None, description="Standard uncertainty.")
    expanded: Spread | None = Field(None, description="Expanded uncertainty, as a certificate states it; with `k`.")
    k: Coverage | None = Field(None, description="Coverage factor of the expanded uncertainty.")
    half_width: Spread | None = Field(None, description="Half the distance between the ends; with `shape`.")
    shape: Literal["rectangular", "triangular", "U-shaped", "normal"] | None = Field(
        None, description="What is likely between the ends; rectangular if nothing is said."
    )
    level: Share | None = Field(None, description="What lies inside the half width of a normal shape; 95 % if unsaid.")
    pooled_s: Spread | None = Field(None, description="Spread of single readings from earlier work; with `freedom`.")
    count: Count | None = Field(None, description="How many readings with that spread were averaged.")
    freedom: Freedom | None = Field(None, description="Degrees of freedom, where they are limited.")
    because: Text | None = Field(None, description="Where the number comes from.")

    @property
    def ways(self) -> tuple[str, ...]:
        """The ways that were typed."""
        return tuple(name for name in WAYS if getattr(self, name) is not None)

    def refuse_misfits(self) -> None:
        """Refuse fields that belong to a way of knowing that was not typed."""
        if len(self.ways) > 1:
            raise FieldError(
                f"an uncertainty is known in one way, and {' and '.join(self.ways)} are given; "
                "put each under `parts:` if there are several reasons",
                self.ways[1],
            )
        for name, way in (("k", "expanded"), ("shape", "half_width"), ("level", "half_width"), ("count", "pooled_s")):
            if getattr(self, name) is not None and getattr(self, way) is None:
                raise FieldError(f"`{name}` belongs to `{way}`, which is missing; add `{way}`, or take it out", name)
        if self.expanded is not None and self.k is None:
            raise FieldError("the coverage factor is missing; add `k`, such as `k: 2`", "expanded")
        if self.pooled_s is not None and self.freedom is None:
            raise FieldError("its degrees of freedom are missing; add `freedom`", "pooled_s")
        if self.level is not None and self.shape != "normal":
            raise FieldError("only a normal shape has a level; add `shape: normal`, or take it out", "level")


class Part(Reason):
    """One of several reasons why a value is uncertain."""

    @model_validator(mode="after")
    def _one_way(self) -> Part:
        self.refuse_misfits()
        if not self.ways:
            raise FieldError(
                "a part says how well something is known; write one of `u`, `expanded`, `half_width`, `pooled_s`"
            )
        return self


class BudgetInput(Reason):
    """One input: its value or readings, and why it is uncertain. A bare value is an exact number."""

    value: Amount | None = Field(None, description="Best estimate, with its unit.")
    readings: tuple[Amount, ...] | None = Field(None, min_length=1, description="Repeated readings, with their units.")
    exact: bool = Field(False, description="True for a number without uncertainty.")
    parts: tuple[Part, ...] = Field((), description="Several reasons why it is uncertain, added in quadrature.")

    @model_validator(mode="before")
    @classmethod
    def _bare_value(cls, typed: Any) -> Any:
        return {"value": typed, "exact": True} if isinstance(typed, str | int | float) else typed

    @model_validator(mode="after")
    def _known_somehow(self) -> BudgetInput:
        if self.value is None and self.readings is None:
            raise FieldError("there is neither a value nor readings; add `value`, such as `value: 83 mm`")
        if self.value is not None and self.readings is not None:
            raise FieldError("the value is the mean of the readings; take `value` out", "value")
        self.refuse_misfits()
        uncertain = bool(self.ways or self.parts or self.readings)
        if self.exact and uncertain:
            raise FieldError("an exact number has no uncertainty; take `exact` out", "exact")
        if not self.exact and not uncertain:
            raise FieldError(
                "nothing says how well this is known; add `u`, `half_width`, `expanded` with `k`, `readings`, or "
                "`exact: true`"
            )
        return self


class Correlation(Block):
    """Two inputs that do not vary independently."""

    between: Annotated[tuple[str, str], PlainValidator(_two_names)] = Field(description="Names of two inputs.")
    r: Coefficient = Field(description="Correlation coefficient, from -1 to 1.")
    because: Text | None = Field(None, description="Where it comes from.")


class BudgetSheet(Block):
    """The budget of one measured quantity."""

    title: Text | None = Field(None, description="What the budget is about.")
    measurand: Text = Field("the answer", description="What is measured, in a word or two.")
    unit: Text | None = Field(None, description="Unit of the answer; leave it out for a plain number.")
    formula: Text = Field(description="How the answer follows from the inputs, such as `rho * g * h`.")
    coverage: Share | None = Field(None, description="Level of the coverage interval; 95 % if nothing is said.")
    k: Coverage | None = Field(None, description="A coverage factor agreed beforehand, in place of `coverage`.")
    freedom_rounding: Literal["down", "nearest", "none"] = Field(
        "down", description="What becomes of a fraction of a degree of freedom."
    )
    inputs: dict[str, BudgetInput] = Field(min_length=1, description="Inputs by their names in the formula.")
    correlations: tuple[Correlation, ...] = Field((), description="Pairs that do not vary independently.")
    because: Text | None = Field(None, description="Remarks.")

    @model_validator(mode="before")
    @classmethod
    def _plain_formula(cls, typed: Any) -> Any:
        """A formula may be a single number or name without quotes; a unit of `1` is no unit."""
        if not isinstance(typed, Mapping):
            return typed
        plain = {name: str(typed[name]) for name in ("formula", "unit") if type(typed.get(name)) in (int, float)}
        return {**typed, **plain}

    @model_validator(mode="after")
    def _one_level(self) -> BudgetSheet:
        if self.coverage is not None and self.k is not None:
            raise FieldError("either a level or a factor can be agreed; take one of `coverage` and `k` out", "k")
        return self
