"""What a unit is worth: a table of everyday units, and pint behind it for all others."""

from __future__ import annotations

import difflib
import json
import re
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, NamedTuple

from riskkit.units.kinds import UnitError, readable


class Unit(NamedTuple):
    """value in SI = factor * number + offset."""

    factor: float
    offset: float
    kind: str
    note: str = ""


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
    ("⁻¹", "^-1"), ("⁻²", "^-2"), ("²", "^2"), ("³", "^3"), ("+/-", "±"), ("+-", "±"), ("‰", "per_mille"), ("%", "percent"),
    ("dB(A)", "dBA"), ("dB (A)", "dBA"), ("db(a)", "dBA"), ("°", "deg"),
)  # fmt: skip
_WORDS = re.compile(r"[A-Za-z_][A-Za-z_0-9]*")
POWERS = re.compile(r"(?<![A-Za-z0-9_])([munkc]?m|in|ft|s)([23])(?![0-9])")
"""A power as it is typed: `m3`."""


def plain(written: str) -> str:
    """A text with its signs made plain: micro, minus, degrees, powers, percent."""
    text = written.translate(_LETTERS)
    for typed, plain in _SPELLED:
        text = text.replace(typed, plain)
    return text


@cache
def unit_of(typed: str, kind: str | None) -> Unit:
    """Factor, offset and kind of a unit as typed, from the table of what is typed every day or from pint."""
    row = _everyday_units().get(f"{plain(typed).strip()}|{kind or ''}")
    return Unit(*row) if row is not None else unit_by_pint(typed, kind)


@cache
def _everyday_units() -> Mapping[str, tuple[float, float, str, str]]:
    """What pint says of everyday units, kept in a file: a small check need not load pint (150 ms of 400).

    `make docs` writes the file with `everyday_units`, and a test compares the two.
    """
    rows = json.loads(Path(__file__).with_name("table.json").read_text(encoding="utf-8"))
    return MappingProxyType({key: tuple(row) for key, row in rows.items()})


def everyday_units() -> Mapping[str, tuple[float, float, str, str]]:
    """`unit|expected kind` -> factor, offset, kind and note, worked out by pint."""
    rows: dict[str, tuple[float, float, str, str]] = {}
    for unit in (*_COMMON, *_COMPOUND):
        own = unit_by_pint(unit, None).kind
        kinds = {None, own} | ({"temperature difference"} if own == "temperature" else set())
        for kind in sorted(kinds, key=str):
            found = unit_by_pint(unit, kind)
            rows[f"{unit}|{kind or ''}"] = (found.factor, found.offset, found.kind, found.note)
    return rows


def unit_by_pint(typed: str, kind: str | None) -> Unit:
    """Factor, offset and kind of a unit as typed; the expected kind settles `C`, `F` and `K`."""
    one, text, note = _one(typed, kind)
    base = one.to_base_units()
    zero = _registry().Quantity(0, one.units).to_base_units() if len(one.units._units) == 1 else 0 * base
    offset = float(zero.magnitude)
    factor = float(base.magnitude) - offset
    return Unit(factor, offset, _kind_of(one, text, kind), note)


@cache
def powers_of(typed: str) -> tuple[tuple[str, float], ...]:
    """The powers of the base quantities in a unit as typed, such as (("[length]", 1.0), ("[time]", -2.0))."""
    kind = unit_of(typed, None).kind
    if kind in ("fraction", "number"):
        return ()
    kind = {"torque": "energy", "temperature difference": "temperature"}.get(kind, kind)
    known = next((powers for powers, name in _KIND_OF.items() if name == kind), None)
    return known if known is not None else _powers(_one(typed, None)[0])


def kind_of_powers(powers: tuple[tuple[str, float], ...]) -> str | None:
    """The name of the kind with these powers of the base quantities; None where it has none."""
    return _KIND_OF.get(powers)


def _one(typed: str, kind: str | None) -> tuple[Any, str, str]:
    """One of a unit as pint holds it, the spelling that pint was given, and what was assumed."""
    text = POWERS.sub(r"\1^\2", plain(typed).strip())
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
        one.to_base_units()
    except Exception as error:  # pint and its parser raise many types for what is one thing to a person
        raise UnitError(
            f"`{typed}` is not a unit that riskkit knows", "write a unit such as hPa, L/min, s, °C, mm or N"
        ) from error
    return one, text, note


def _powers(one: Any) -> tuple[tuple[str, float], ...]:
    return tuple(sorted((name, float(power)) for name, power in one.dimensionality.items()))


def _kind_of(one: Any, text: str, wanted: str | None) -> str:
    dimensions = _powers(one)
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


_COMPOUND = (
    "L/h", "mL/min", "mL/s", "L/s", "m3/h", "m3/s", "mm2", "mm^2", "cm2", "cm^2", "m2", "m^2", "m3", "m^3", "cm3", "cm^3", "N*m",
    "N*cm", "cN*m", "lbf*in", "mN/mm", "N/mm", "N/m", "K/W", "kg/m3", "kg/m^3", "g/cm^3", "g/m^3", "months", "years", "m/s", "mm/s", "1/h", "1/min",
    "1/s", "mL/hPa", "L/hPa", "hPa/(L/s)", "g/h", "C", "dBA", "min", "minutes", "hours", "seconds", "days", "litres", "bpm",
    "m/s2", "m/s^2", "deg", "Pa/mm", "hPa/mm", "mm^2/s", "Pa*s", "hPa/(L/min)", "hPa/(L/min)^2", "hPa/h", "J/(kg*K)", "1/K", "mL/kg",
    "g/mol", "mg/m^3", "mg/m3", "g/m3", "percent/min", "mL/(hPa)", "L/s/hPa", "N/mm", "1/d", "W/K",
)  # fmt: skip
"""Compound and other spellings of the table of everyday units, as they stand when signs are made plain."""


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
        f"did you mean `{readable(guess[0])}`?" if guess else "write a unit such as hPa, L/min, s, °C, mm or N",
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

        return pint.UnitRegistry(str(Path(__file__).with_name("definitions.txt")), cache_folder=None)


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
