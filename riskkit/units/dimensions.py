"""What a formula does to units: dimensions are multiplied, divided and raised; scales lead from SI to a typed unit."""

from __future__ import annotations

from dataclasses import dataclass

from riskkit.units.kinds import readable
from riskkit.units.registry import POWERS, kind_of_powers, powers_of, unit_of

_BASE_UNITS = (
    ("[mass]", "kg"),
    ("[length]", "m"),
    ("[time]", "s"),
    ("[current]", "A"),
    ("[temperature]", "K"),
    ("[substance]", "mol"),
    ("[sound]", "dB"),
)


@dataclass(frozen=True, slots=True)
class Dimension:
    """Powers of the base quantities, such as (("[length]", 1.0), ("[time]", -2.0)); empty for a plain number."""

    powers: tuple[tuple[str, float], ...] = ()

    def __mul__(self, other: Dimension) -> Dimension:
        sums = dict(self.powers)
        for name, power in other.powers:
            sums[name] = sums.get(name, 0.0) + power
        return Dimension(tuple(sorted((name, _whole(power)) for name, power in sums.items() if abs(power) > 1e-9)))

    def __truediv__(self, other: Dimension) -> Dimension:
        return self * other**-1

    def __pow__(self, exponent: float) -> Dimension:
        if exponent == 0:
            return Dimension()
        return Dimension(tuple((name, _whole(power * exponent)) for name, power in self.powers))

    @property
    def unit(self) -> str:
        """The SI unit of this dimension, such as `kg/m/s²`; empty for a plain number."""
        powers = dict(self.powers)
        above = [_raised(unit, powers[name]) for name, unit in _BASE_UNITS if powers.get(name, 0) > 0]
        below = [_raised(unit, -powers[name]) for name, unit in _BASE_UNITS if powers.get(name, 0) < 0]
        return readable("*".join(above) or ("1" if below else "")) + "".join(f"/{readable(unit)}" for unit in below)

    @property
    def words(self) -> str:
        """As it is read in a sentence: "a pressure", "a plain number", "something in kg/s"."""
        if not self.powers:
            return "a plain number"
        kind = kind_of_powers(self.powers)
        if kind is None:
            return f"something in {self.unit}"
        return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


@dataclass(frozen=True, slots=True)
class Scale:
    """A unit as typed: value in SI = factor * number + offset; differences know no offset.

    Attributes:
        unit: The unit as it is read, such as `°C`; empty for a plain number.
        factor: What one of it is worth in SI base units.
        offset: Where its zero lies in SI base units; 0 except for temperatures.
        dimension: Its powers of the base quantities.
    """

    unit: str = ""
    factor: float = 1.0
    offset: float = 0.0
    dimension: Dimension = Dimension()


def scale_of(unit: str, *, difference: bool = False) -> Scale:
    """The scale of a unit as typed; an empty text or `1` is the scale of plain numbers.

    Args:
        unit: A unit such as `hPa`, `kg/m3` or `°C`.
        difference: True where a temperature is a difference of temperatures, which has no offset.

    Raises:
        UnitError: where it is no unit.
    """
    if unit.strip() in ("", "1"):
        return Scale()
    kind = unit_of(unit, None).kind
    if kind == "temperature" and difference:
        kind = "temperature difference"
    found = unit_of(unit, kind)
    return Scale(readable(POWERS.sub(r"\1^\2", unit.strip())), found.factor, found.offset, Dimension(powers_of(unit)))


def _whole(power: float) -> float:
    return float(round(power)) if abs(power - round(power)) < 1e-9 else power


def _raised(unit: str, power: float) -> str:
    return unit if power == 1 else f"{unit}^{power:g}"
