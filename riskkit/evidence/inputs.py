"""What is known about one input of a budget: a value, and one or more reasons why it is uncertain.

Source of the rules: JCGM 100:2008, 4.2 (readings, "type A") and 4.3 (everything else, "type B").
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal, TypedDict, Unpack, cast

from riskkit.evidence.answers import EvidenceError, refuse_count
from riskkit.evidence.freedom import combined_freedom
from riskkit.evidence.refusals import refuse_number, refuse_readings

Shape = Literal["normal", "rectangular", "triangular", "U-shaped"]
"""How likely values between the ends are: rectangular all alike, triangular mostly in the middle, U-shaped mostly at
the ends (something that swings like a sine), normal a bell without ends."""

DIVISORS: Mapping[str, float] = MappingProxyType(
    {"rectangular": math.sqrt(3), "triangular": math.sqrt(6), "U-shaped": math.sqrt(2)}
)
"""Half width / standard uncertainty (JCGM 100, 4.3.7 and 4.3.9; JCGM 101, 6.4.6 for the U shape)."""

USUAL_LEVEL = 0.95
"""Share inside the half width of a normal shape where none is stated."""


class Known(TypedDict, total=False):
    """The ways in which an uncertainty may be known; exactly one of `u`, `expanded`, `half_width`, `pooled_s`."""

    u: float
    expanded: float
    k: float
    half_width: float
    shape: Shape
    level: float
    pooled_s: float
    count: int
    freedom: float


@dataclass(frozen=True, slots=True, init=False)
class Part:
    """One reason why a value is uncertain, in the unit of the value.

    Give one of `u` (standard uncertainty), `expanded` with `k`, `half_width` (`shape` rectangular if none is
    named; for a normal shape `level` lies inside, 0.95 if none is named), or `pooled_s`: the spread of single
    readings from earlier work with `freedom`, of which `count` were averaged.

    Attributes:
        u: Standard uncertainty.
        shape: Shape of the distribution.
        freedom: Degrees of freedom, infinite where nothing is stated.
        type: "A" from readings, "B" from anything else.
        words: How it is known, such as "triangular" or "expanded, k = 2".
    """

    u: float
    shape: Shape
    freedom: float
    type: Literal["A", "B"]
    words: str

    def __init__(self, **known: Unpack[Known]) -> None:
        given = [name for name in ("u", "expanded", "half_width", "pooled_s") if known.get(name) is not None]
        if len(given) != 1:
            raise EvidenceError(
                "an uncertainty is known in exactly one way"
                + (f", and {' and '.join(given)} are given" if given else ", and none is given"),
                "give one of u, expanded with k, half_width with shape, or pooled_s with freedom",
            )
        way = given[0]
        for name, belongs in _BELONGS.items():
            if known.get(name) is not None and way != belongs:
                raise EvidenceError(f"{name} belongs to {belongs}, and {way} is given", f"take {name} out")
        size = refuse_number(known[way], way, least=0)  # type: ignore[literal-required]
        freedom = known.get("freedom")
        freedom = math.inf if freedom is None or freedom == math.inf else refuse_number(freedom, "freedom", least=1)
        u, shape, words = {"u": _plain, "expanded": _expanded, "half_width": _width, "pooled_s": _pooled}[way](
            size, known, freedom
        )
        _fill(self, u=u, shape=shape, freedom=freedom, type="A" if way == "pooled_s" else "B", words=words)

    @classmethod
    def from_readings(cls, readings: Sequence[float]) -> Part:
        """The mean of independent readings: s / sqrt(n) with n - 1 degrees of freedom (JCGM 100, 4.2)."""
        told = refuse_readings(readings, "readings", least=1)
        if len(told) == 1:
            raise EvidenceError(
                "one reading shows no spread",
                "take more readings, or give pooled_s with freedom from earlier readings of the same kind",
            )
        mean = math.fsum(told) / len(told)
        s = math.sqrt(math.fsum((reading - mean) ** 2 for reading in told) / (len(told) - 1))
        part = object.__new__(cls)
        _fill(
            part,
            u=s / math.sqrt(len(told)),
            shape="normal",
            freedom=float(len(told) - 1),
            type="A",
            words=f"{len(told)} readings",
        )
        return part


_BELONGS: Mapping[str, str] = MappingProxyType(
    {"k": "expanded", "shape": "half_width", "level": "half_width", "count": "pooled_s"}
)


def _plain(size: float, known: Known, freedom: float) -> tuple[float, Shape, str]:
    return size, "normal", "standard"


def _expanded(size: float, known: Known, freedom: float) -> tuple[float, Shape, str]:
    if known.get("k") is None:
        raise EvidenceError("expanded is given without its coverage factor k", "give k as well, such as k=2")
    k = refuse_number(known["k"], "k", above=0)
    return size / k, "normal", f"expanded, k = {k:.4g}"


def _width(size: float, known: Known, freedom: float) -> tuple[float, Shape, str]:
    shape = known.get("shape") or "rectangular"
    if shape in DIVISORS:
        if known.get("level") is not None:
            raise EvidenceError(f"level belongs to a normal shape, and the shape is {shape}", "take level out")
        return size / DIVISORS[shape], shape, shape
    if shape != "normal":
        raise EvidenceError(
            f"shape cannot be `{shape}`", f"give one of {', '.join(DIVISORS)}, normal as the shape of a half width"
        )
    from scipy.special import ndtri, stdtrit

    told = known.get("level")
    level = refuse_number(USUAL_LEVEL if told is None else told, "level", above=0)
    if level >= 1:
        raise EvidenceError(f"level is {level:g}, and a normal shape has no ends", "give level below 1, such as 0.95")
    below = (1 - level) / 2
    factor = -float(ndtri(below) if freedom == math.inf else stdtrit(freedom, below))
    return (
        size / factor,
        "normal",
        f"normal, {100 * level:.4g} % inside" + ("" if told is not None else " (taken)"),
    )


def _pooled(size: float, known: Known, freedom: float) -> tuple[float, Shape, str]:
    if freedom == math.inf:
        raise EvidenceError(
            "pooled_s is given without its degrees of freedom", "give freedom: readings less groups of the earlier work"
        )
    told = known.get("count")
    count = 1 if told is None else refuse_count(told, "count", least=1)
    return size / math.sqrt(count), "normal", f"pooled s, {count} reading{'' if count == 1 else 's'}"


@dataclass(frozen=True, slots=True, init=False)
class Input:
    """One input quantity of a budget.

    `Input(9.80665)` is exact; `Input(83e-3, half_width=1e-3, shape="triangular")` has one reason to be uncertain,
    given as in `Part`; `Input(998.2, parts=[Part(half_width=0.4), Part(u=0.1)])` has several, added in quadrature;
    `Input(readings=[10.1, 10.3, 9.9])` is the mean of readings, and `parts`, or a reason given beside them, are
    added to their spread. With `pooled_s` the spread is that one instead of the readings' own.

    Attributes:
        value: Best estimate, in any unit that goes with the other inputs of the formula.
        parts: Why it is uncertain; empty for an exact number.
    """

    value: float
    parts: tuple[Part, ...]

    def __init__(
        self,
        value: float | None = None,
        *,
        readings: Sequence[float] | None = None,
        parts: Sequence[Part] = (),
        **known: Unpack[Known],
    ) -> None:
        known = cast(Known, {name: told for name, told in known.items() if told is not None})
        if (value is None) == (readings is None):
            raise EvidenceError(
                "an input has either a value or readings, of which the value is the mean",
                "give one of the two, value or readings",
            )
        own: tuple[Part, ...] = ()
        if readings is not None:
            told = refuse_readings(readings, "readings", least=1)
            value = math.fsum(told) / len(told)
            if "pooled_s" in known:
                if known.setdefault("count", len(told)) != len(told):
                    raise EvidenceError(
                        f"count is {known['count']}, and there are {len(told)} readings", "take count out"
                    )
            else:
                own = (Part.from_readings(told),)
        if known:
            own = (*own, Part(**known))
        _fill(self, value=refuse_number(value, "value"), parts=(*own, *parts))

    @property
    def u(self) -> float:
        """Standard uncertainty: the parts in quadrature."""
        return math.hypot(*(part.u for part in self.parts))

    @property
    def freedom(self) -> float:
        """Effective degrees of freedom of the parts together, not rounded (JCGM 100, G.4.1)."""
        return combined_freedom([(part.u, part.freedom) for part in self.parts])

    @property
    def normal(self) -> bool:
        """Whether all of it is normal with unlimited degrees of freedom."""
        return all(part.shape == "normal" and part.freedom == math.inf for part in self.parts if part.u > 0)

    @property
    def words(self) -> str:
        """How it is known, such as "A: 3 readings" or "B: rectangular + standard"."""
        if not self.parts:
            return "exact"
        types = " + ".join(sorted({part.type for part in self.parts}))
        few = len(self.parts) <= 2
        return f"{types}: {' + '.join(part.words for part in self.parts) if few else f'{len(self.parts)} parts'}"


def _fill(thing: object, **fields: object) -> None:
    """Set the fields of a frozen thing while it is made."""
    for name, value in fields.items():
        object.__setattr__(thing, name, value)
