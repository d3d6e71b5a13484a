"""Kinds of quantity, and how units are written in sentences."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple


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


def readable(unit: str) -> str:
    """A unit as it is read: `°C`, `%`, `mm²`."""
    return (
        unit.replace("degC", "°C")
        .replace("degF", "°F")
        .replace("percent", "%")
        .replace("*", "·")
        .replace("^2", "²")
        .replace("^3", "³")
    )


def reference_table() -> str:
    """Kinds, their units and examples as a Markdown table for the reference pages."""
    lines = ["| kind | shown in | example |", "|---|---|---|"]
    lines += [f"| {name} | {readable(kind.shown_in)} | `{kind.example}` |" for name, kind in KINDS.items()]
    return "\n".join(lines) + "\n"
