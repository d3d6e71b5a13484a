"""Numbers with units as people type them: `12 cmH2O`, `2h40`, `±0.5 hPa`, `AWG 18`, `68 degF`.

A quantity is read once at the door: the written form is kept for showing, the value is kept in SI
base units for working. The unit algebra is pint's, loaded when the first quantity is read, with the
definitions in `unit-definitions.txt`. This file knows how people write; it knows no formula.
"""

from __future__ import annotations

import difflib
import math
import re
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple


class UnitError(ValueError):
    """A text that is no quantity, or one of the wrong kind: one sentence, and what to type."""

    def __init__(self, headline: str, help: str) -> None:
        super().__init__(headline)
        self.headline = headline
        self.help = help


class Kind(NamedTuple):
    """A kind of quantity: the unit it is shown in beside the typed one, and an example."""

    shown_in: str
    example: str
    negative: bool = True


KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "pressure": Kind("hPa", "12 hPa"),
        "flow": Kind("L/min", "30 L/min"),
        "volume": Kind("L", "9.5 L", False),
        "time": Kind("s", "2h40", False),
        "temperature": Kind("degC", "21 degC"),
        "temperature difference": Kind("K", "8 K"),
        "length": Kind("mm", "24 mm"),
        "area": Kind("mm^2", "60 mm2", False),
        "mass": Kind("g", "83 g", False),
        "force": Kind("N", "40 N"),
        "torque": Kind("N*m", "1 N·m"),
        "energy": Kind("Wh", "66 Wh"),
        "power": Kind("W", "14 W"),
        "voltage": Kind("V", "24 V"),
        "current": Kind("A", "4 A"),
        "charge": Kind("Ah", "2.6 Ah"),
        "resistance": Kind("ohm", "0.12 ohm", False),
        "capacitance": Kind("farad", "4.7 farad", False),
        "frequency": Kind("1/min", "12 1/min"),
        "speed": Kind("m/s", "1.5 m/s"),
        "spring rate": Kind("mN/mm", "14 mN/mm"),
        "thermal resistance": Kind("K/W", "9 K/W"),
        "compliance": Kind("mL/hPa", "44 mL/hPa"),
        "flow resistance": Kind("hPa/(L/s)", "12 hPa/(L/s)"),
        "density": Kind("kg/m^3", "1.2 kg/m3", False),
        "sound level": Kind("dB", "65 dB(A)"),
        "fraction": Kind("percent", "3 %"),
        "number": Kind("count", "5 runs"),
    }
)
"""Kinds by name."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit.

    Attributes:
        written: The text as it was typed.
        value: The number in SI base units (kelvin for temperatures, decibel for sound levels).
        kind: What it is a quantity of, such as "pressure".
        unit: The unit as typed.
        plus_minus: Half width of the stated interval in SI base units, None where none is stated.
        note: What was assumed in reading it, in words; empty where nothing was.
    """

    written: str
    value: float
    kind: str
    unit: str
    plus_minus: float | None = None
    note: str = ""

    def to(self, unit: str) -> float:
        """The value in another unit of the same kind.

        Raises:
            UnitError: where the unit is unknown or of another kind.
        """
        other = _unit(unit, self.kind)
        if other.kind != self.kind and {other.kind, self.kind} != {"energy", "torque"}:
            raise UnitError(
                f"`{unit}` measures a {other.kind}, and {self.written} is a {self.kind}", "name another unit"
            )
        return (self.value - other.offset) / other.factor

    def show(self, unit: str | None = None) -> str:
        """The value in a unit, to four digits; in the kind's own unit if none is named."""
        if unit is None:
            unit = KINDS[self.kind].shown_in if self.kind in KINDS else self.unit
            unit = "K" if self.unit == "K" else unit
        return f"{self.to(unit):.4g} {_readable(unit)}"

    def same_as(self, other: Quantity, rel: float = 1e-9) -> bool:
        """Whether two quantities are of one kind and equal up to a relative difference."""
        return self.kind == other.kind and math.isclose(self.value, other.value, rel_tol=rel, abs_tol=1e-15)


def read_quantity(text: str | float, kind: str | None = None) -> Quantity:
    """Read a quantity.

    Args:
        text: What was typed; a bare number has no unit and is refused with a sentence.
        kind: The kind that is expected, a name in `KINDS`; None where any kind will do.

    Raises:
        UnitError: where it is no quantity or one of another kind.
    """
    written = str(text).strip()
    if isinstance(text, int | float):
        raise _no_unit(written, kind)
    plain = _plain(written)
    body, _, tolerance = plain.partition("±")
    if not body.strip() and tolerance:
        spread = _read(tolerance.strip(), written, kind)
        return Quantity(written, 0.0, spread.kind, spread.unit, abs(spread.value), spread.note)
    main = _read(body.strip(), written, kind, _unit_of(tolerance) if tolerance else "")
    if not tolerance:
        return Quantity(written, main.value, main.kind, main.unit, None, main.note)
    return Quantity(written, main.value, main.kind, main.unit, _spread(tolerance.strip(), main, written), main.note)


class _Reading(NamedTuple):
    value: float
    kind: str
    unit: str
    note: str


class _Unit(NamedTuple):
    """value in SI = factor * number + offset."""

    factor: float
    offset: float
    kind: str
    note: str = ""


_NUMBER = r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?"
_WITH_UNIT = re.compile(rf"({_NUMBER})\s*(\S.*)?$")
_DECIMAL_COMMA = re.compile(r"^[-+]?\d+,\d+(?:\s|$|[^\d,])")
_CLOCK = re.compile(r"^\d{1,2}:\d{2}(?::\d{2})?(?:\s*\S*)?$")
_HOURS = re.compile(r"(\d+)\s*(?:h|hr|hours?)\s*(\d{1,2})\s*(?:m|min|minutes?)?$")
_MINUTES = re.compile(r"(\d+)\s*(?:m|min|minutes?)\s*(\d{1,2})\s*(?:s|sec|seconds?)$")
_WIRE = re.compile(r"(?:AWG\s*(\d{1,2}|1/0|2/0|3/0|4/0|0000|000|00)|(\d{1,2})\s*AWG)$", re.IGNORECASE)
_LETTERS = str.maketrans(
    {
        "\u2212": "-",
        "\u2013": "-",
        "\u00a0": " ",
        "\u2009": " ",
        "\u202f": " ",
        "µ": "u",
        "μ": "u",
        "·": "*",
        "⋅": "*",
        "×": "*",
    }
)
_SPELLED = (
    ("°C", "degC"), ("° C", "degC"), ("ºC", "degC"), ("℃", "degC"), ("°F", "degF"), ("℉", "degF"), ("Ω", "ohm"), ("Ω", "ohm"),
    ("⁻¹", "^-1"), ("⁻²", "^-2"), ("²", "^2"), ("³", "^3"), ("+/-", "±"), ("‰", "per_mille"), ("%", "percent"),
    ("dB(A)", "dBA"), ("dB (A)", "dBA"), ("db(a)", "dBA"),
)  # fmt: skip
_WORDS = re.compile(r"[A-Za-z_][A-Za-z_0-9]*")
_POWERS = re.compile(r"(?<![A-Za-z0-9_])([munkc]?m|in|ft|s)([23])(?![0-9])")


def _plain(written: str) -> str:
    text = written.translate(_LETTERS)
    for typed, plain in _SPELLED:
        text = text.replace(typed, plain)
    return text


def _read(body: str, written: str, kind: str | None, unit_if_none: str = "") -> _Reading:
    """One number with its unit, without its interval."""
    special = _duration(body) or _wire(body)
    if special is not None:
        if kind is not None and special.kind != kind:
            raise _wrong_kind(written, special.kind, kind)
        return special
    if _DECIMAL_COMMA.match(body):
        raise UnitError(f"`{written}` has a comma in the number", f"write {written.replace(',', '.', 1)}")
    if _CLOCK.match(body):
        raise UnitError(f"`{written}` looks like a time of day", "write a duration as `12 min 30 s` or `2h40`")
    found = _WITH_UNIT.match(body)
    if found is None:
        what = "no number" if not re.search(r"\d", body) else "no number at its beginning"
        raise UnitError(f"`{written}` has {what}", f"write {_example(kind)}")
    number, unit = float(found[1]), (found[2] or unit_if_none).strip()
    if not math.isfinite(number):
        raise UnitError(f"`{written}` is too large to be a reading", f"write {_example(kind)}")
    if not unit:
        raise _no_unit(written, kind)
    if re.match(rf"(?:-|to|\.\.)\s*{_NUMBER}", unit):
        raise UnitError(f"`{written}` holds two numbers", "write a range as two quantities, such as [15 hPa, 18 hPa]")
    meant = _unit(unit, kind)
    if kind is not None and meant.kind != kind and not _may_stand_for(meant.kind, kind):
        raise _wrong_kind(written, meant.kind, kind)
    value = meant.factor * number + meant.offset
    _refuse_impossible(written, meant.kind, value)
    return _Reading(value, kind or meant.kind, unit, meant.note)


def _duration(body: str) -> _Reading | None:
    for pattern, first, second in ((_HOURS, 3600, 60), (_MINUTES, 60, 1)):
        found = pattern.match(body)
        if found is not None:
            return _Reading(
                float(int(found[1]) * first + int(found[2]) * second), "time", "h" if first == 3600 else "min", ""
            )
    return None


def _wire(body: str) -> _Reading | None:
    """American wire gauge: diameter 0.127 mm x 92^((36 - n) / 39) (ASTM B258), as a cross-section."""
    found = _WIRE.match(body)
    if found is None:
        return None
    label = found[1] or found[2]
    number = (
        1 - int(label[0])
        if "/" in label
        else (1 - len(label) if set(label) == {"0"} and len(label) > 1 else int(label))
    )
    diameter = 0.127e-3 * 92 ** ((36 - number) / 39)
    return _Reading(math.pi * diameter**2 / 4, "area", "AWG", "solid wire of that gauge")


def _spread(tolerance: str, main: _Reading, written: str) -> float:
    if tolerance.endswith("percent"):
        share = re.match(rf"\s*({_NUMBER})\s*percent$", tolerance)
        if share is None:
            raise UnitError(f"`{written}` has no number behind ±", "write ± and a number, such as ±0.5 hPa or ±4 %")
        if main.kind != "fraction":
            return abs(float(share[1]) / 100 * main.value)
    found = _WITH_UNIT.match(tolerance)
    if found is None:
        raise UnitError(f"`{written}` has no number behind ±", "write ± and a number, such as ±0.5 hPa or ±4 %")
    unit = _unit(
        found[2].strip() if found[2] else main.unit,
        "temperature difference" if main.kind == "temperature" else main.kind,
    )
    allowed = {main.kind, "temperature difference"} if main.kind == "temperature" else {main.kind}
    if unit.kind not in allowed and not _may_stand_for(unit.kind, main.kind):
        raise UnitError(
            f"`{written}` has a {unit.kind} behind ±, and a {main.kind} before it", "write both in one unit"
        )
    return abs(unit.factor * float(found[1]))


def _unit_of(tolerance: str) -> str:
    """`5.0 ± 0.7 hPa` gives the unit once, behind the interval."""
    found = _WITH_UNIT.match(tolerance.strip())
    unit = (found[2] or "").strip() if found else ""
    return "" if unit == "percent" else unit


def _refuse_impossible(written: str, kind: str, value: float) -> None:
    if kind == "temperature" and value < 0:
        raise UnitError(f"`{written}` is colder than absolute zero", "check the number and its unit")
    if value < 0 and kind in KINDS and not KINDS[kind].negative:
        raise UnitError(f"`{written}` is negative, and a {kind} cannot be", "take the minus out")


def _may_stand_for(kind: str, wanted: str) -> bool:
    return {kind, wanted} in ({"energy", "torque"}, {"fraction", "number"})


def _wrong_kind(written: str, kind: str, wanted: str) -> UnitError:
    return UnitError(f"`{written}` is a {kind}, and a {wanted} is expected", f"write {_example(wanted)}")


def _no_unit(written: str, kind: str | None) -> UnitError:
    expected = f"; a {kind} is expected" if kind else ""
    example = KINDS[kind].shown_in if kind is not None and kind in KINDS else "hPa"
    return UnitError(
        f"`{written}` has no unit{expected}",
        f"write the unit behind the number, such as `{written} {_readable(example)}`",
    )


def _example(kind: str | None) -> str:
    return (
        f"a number with its unit, such as `{KINDS[kind].example if kind is not None and kind in KINDS else '12 hPa'}`"
    )


def _readable(unit: str) -> str:
    return (
        unit.replace("degC", "°C")
        .replace("degF", "°F")
        .replace("percent", "%")
        .replace("*", "·")
        .replace("^2", "²")
        .replace("^3", "³")
    )


# -- pint ---------------------------------------------------------------------------------------


@cache
def _unit(typed: str, kind: str | None) -> _Unit:
    """Factor, offset and kind of a unit as typed; the expected kind settles `C`, `F` and `K`."""
    text = _POWERS.sub(r"\1^\2", _plain(typed).strip())
    note = ""
    if text == "C":
        text = "degC"
    elif text == "F":
        text = "farad" if kind == "capacitance" else "degF"
        note = "" if kind else "F is taken as degrees Fahrenheit"
    if text.startswith("/"):
        text = f"1{text}"
    if text.lower() in ("slpm", "sl/min"):
        note = "standard litres: at which temperature is not stated, so they are taken as they stand"
    if kind == "temperature difference" and text in ("degC", "degF"):
        text = "K" if text == "degC" else "0.5555555555555556 K"
    registry = _registry()
    text = _WORDS.sub(lambda word: _known_spelling(word[0], typed), text)
    try:
        one = (
            registry.Quantity(1, registry.parse_units(text))
            if text[:1] not in "0123456789"
            else registry.Quantity(text)
        )
        base = one.to_base_units()
        zero = registry.Quantity(0, one.units).to_base_units() if len(one.units._units) == 1 else 0 * base
    except Exception as error:  # pint and its parser raise many types for what is one thing to a person
        raise UnitError(
            f"`{typed}` is not a unit that riskkit knows", "write a unit such as hPa, L/min, s, °C, mm or N"
        ) from error
    offset = float(zero.magnitude)
    factor = float(base.magnitude) - offset
    return _Unit(factor, offset, _kind_of(one, text, kind), note)


def _kind_of(one: Any, text: str, wanted: str | None) -> str:
    dimensions = tuple(sorted((name, float(power)) for name, power in one.dimensionality.items()))
    if not dimensions:
        return "number" if one.units and "count" in str(one.units) else "fraction"
    found = _KIND_OF.get(dimensions)
    if found is None:
        return str(one.dimensionality)
    if found == "energy" and ("newton" in str(one.units) or "force" in str(one.units)):
        return "torque"
    if found == "temperature" and wanted == "temperature difference":
        return wanted
    return found


def _dimensions(**powers: float) -> tuple[tuple[str, float], ...]:
    return tuple(sorted((f"[{name}]", power) for name, power in powers.items()))


_KIND_OF: Mapping[tuple[tuple[str, float], ...], str] = MappingProxyType(
    {
        _dimensions(mass=1, length=-1, time=-2): "pressure",
        _dimensions(length=3, time=-1): "flow",
        _dimensions(length=3): "volume",
        _dimensions(time=1): "time",
        _dimensions(temperature=1): "temperature",
        _dimensions(length=1): "length",
        _dimensions(length=2): "area",
        _dimensions(mass=1): "mass",
        _dimensions(mass=1, length=1, time=-2): "force",
        _dimensions(mass=1, length=2, time=-2): "energy",
        _dimensions(mass=1, length=2, time=-3): "power",
        _dimensions(mass=1, length=2, time=-3, current=-1): "voltage",
        _dimensions(current=1): "current",
        _dimensions(current=1, time=1): "charge",
        _dimensions(mass=1, length=2, time=-3, current=-2): "resistance",
        _dimensions(mass=-1, length=-2, time=4, current=2): "capacitance",
        _dimensions(time=-1): "frequency",
        _dimensions(length=1, time=-1): "speed",
        _dimensions(mass=1, time=-2): "spring rate",
        _dimensions(mass=-1, length=-2, time=3, temperature=1): "thermal resistance",
        _dimensions(mass=-1, length=4, time=2): "compliance",
        _dimensions(mass=1, length=-4, time=-1): "flow resistance",
        _dimensions(mass=1, length=-3): "density",
        _dimensions(sound=1): "sound level",
    }
)

_COMMON = (
    "hPa", "mbar", "kPa", "Pa", "MPa", "mPa", "cmH2O", "mmH2O", "mmHg", "inH2O", "inHg", "psi", "bar", "atm",
    "torr", "L/min", "lpm", "L", "mL", "uL", "l", "ml", "cc", "s", "min", "h", "d", "ms", "us", "degC",
    "degF", "K", "mm", "cm", "m", "in", "ft", "um", "N", "mN", "kN", "kgf", "lbf", "g", "kg", "mg", "oz",
    "lb", "V", "mV", "kV", "A", "mA", "uA", "Ah", "mAh", "Wh", "kWh", "W", "mW", "kW", "MW", "ohm", "mohm",
    "kohm", "farad", "uF", "mF", "nF", "pF", "Hz", "kHz", "MHz", "rpm", "percent", "ppm", "dB", "dBA", "J",
    "kJ", "cfm", "slpm", "count", "runs", "times", "pieces", "day", "week", "month", "year",
)  # fmt: skip
"""Spellings that are offered, and that may be typed in other upper and lower case where that is unambiguous."""


def _known_spelling(word: str, typed: str) -> str:
    """A word of a unit as pint knows it; case is forgiven where only one unit can be meant."""
    farads = {"F": "farad", "uF": "microfarad", "mF": "millifarad", "nF": "nanofarad", "pF": "picofarad"}
    if word in farads:
        return farads[word]
    if _is_known(word):
        return word
    same = {known for known in _COMMON if known.lower() == word.lower()}
    if len(same) == 1:
        return next(iter(same))
    if same:
        raise UnitError(
            f"`{typed}` may be {' or '.join(sorted(same))}", f"write {sorted(same)[0]} or {sorted(same)[1]}"
        )
    guess = difflib.get_close_matches(word, _COMMON, n=1, cutoff=0.6)
    raise UnitError(
        f"`{typed}` is not a unit that riskkit knows",
        f"did you mean `{_readable(guess[0])}`?" if guess else "write a unit such as hPa, L/min, s, °C, mm or N",
    )


@cache
def _is_known(word: str) -> bool:
    try:
        _registry().parse_units(word)
    except Exception:  # as above: many types, one meaning
        return False
    return True


@cache
def _registry() -> Any:
    with _without_arrays():
        import pint

        return pint.UnitRegistry(str(Path(__file__).with_name("unit-definitions.txt")), cache_folder=None)


@contextmanager
def _without_arrays() -> Iterator[None]:
    """Import pint without the array libraries that it looks for: they cost 80 ms and are not needed here.

    A library that is already imported is left as it is.
    """
    absent = [
        name for name in ("numpy", "uncertainties", "babel", "dask", "xarray", "scipy") if name not in sys.modules
    ]
    for name in absent:
        sys.modules[name] = None  # type: ignore[assignment]
    try:
        yield
    finally:
        for name in absent:
            del sys.modules[name]


def reference_table() -> str:
    """Kinds, their units and examples as a Markdown table for the reference pages."""
    lines = ["| kind | shown in | example |", "|---|---|---|"]
    lines += [f"| {name} | {_readable(kind.shown_in)} | `{kind.example}` |" for name, kind in KINDS.items()]
    return "\n".join(lines) + "\n"
