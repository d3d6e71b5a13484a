"""Moisture: dew point, water in a gas, and what comes down on a cold wall."""

from __future__ import annotations

import math
from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

ZERO = 273.15
MAGNUS = (611.2, 17.62, 243.12)
"""Magnus coefficients over water [Pa, none, °C], -45 to 60 °C: WMO-No. 8, within 0.6 %."""
WATER_OVER_GAS_CONSTANT = 0.01801528 / 8.314462618
"""Molar mass of water over the gas constant [kg K/J]; 216.7 in g/m3, hPa and K."""


def saturation_pressure(kelvin: float) -> float:
    """Pressure of water vapour over water [Pa], -45 to 60 °C.

    Source: Magnus formula of WMO-No. 8, e = 6.112 exp(17.62 T / (243.12 + T)) hPa.
    """
    scale, factor, shift = MAGNUS
    celsius = kelvin - ZERO
    return scale * math.exp(factor * celsius / (shift + celsius))


def dew_point(vapour: float) -> float:
    """Temperature [K] at which a pressure of water vapour [Pa] is that of saturation."""
    scale, factor, shift = MAGNUS
    logarithm = math.log(vapour / scale)
    return shift * logarithm / (factor - logarithm) + ZERO


def _moisture(temperature: float, humidity: float, wall: float | None, flow: float | None, pressure: float) -> Outcome:
    vapour = humidity * saturation_pressure(temperature)
    if vapour >= pressure:
        raise EngineeringError(
            "moisture: the gas would be nothing but water vapour", "look at pressure and temperature"
        )
    held = WATER_OVER_GAS_CONSTANT * vapour / temperature
    dew = dew_point(vapour)
    values = {"dew_point": dew, "vapour_pressure": vapour, "absolute_humidity": held}
    remarks = []
    if dew < ZERO:
        remarks.append("the dew point lies below 0 °C: rime comes first, some degrees warmer")
    if flow is not None:
        values["water_carried"] = held * flow
        remarks.append("litres of gas are at the temperature of the gas")
    if wall is not None:
        wet = saturation_pressure(wall)
        at_wall = WATER_OVER_GAS_CONSTANT * wet / wall
        if vapour <= wet:
            remarks.append("the wall is not colder than the dew point: nothing condenses")
        elif wall < ZERO:
            remarks.append("the wall is below 0 °C: the water freezes there, and a little more of it than over water")
        values["held_at_wall"] = at_wall
        if flow is not None:
            condenses = vapour > wet
            values["water_per_hour"] = max(0.0, held - at_wall) * flow if condenses else 0.0
            # The dry gas goes through unchanged; it takes along what it can hold at the wall.
            leaves = (pressure - vapour) * wet / (pressure - wet)
            shrinking = WATER_OVER_GAS_CONSTANT / temperature * (vapour - leaves) * flow
            values["water_with_shrinking"] = shrinking if condenses else 0.0
            if condenses:
                remarks.append(
                    "the difference of what gas holds is too low, as the gas shrinks while it cools: "
                    f"counted by dry gas up to {shrinking * 3.6e6:.3g} g/h, where all of it cools to the wall"
                )
    return Outcome(values, tuple(remarks))


_DEMO = MappingProxyType({"temperature": "30 degC", "humidity": "80 %", "wall": "15 degC", "flow": "60 L/min"})
_BY_HAND = "hand-worked sheet M15 and demo sheet K08"
_TABLE = "climate table of absolute humidity and dew point, read in a public copy, to the printed digit"

MOISTURE = Model(
    name="moisture",
    title="dew point, water in a gas, and what condenses on a cold wall",
    formula="e = humidity 6.112 hPa exp(17.62 T / (243.12 + T)); absolute_humidity = 216.7 e / (T + 273.15) g/m3; "
    "water_per_hour = (absolute_humidity - held_at_wall) flow",
    source="Magnus formula of WMO-No. 8; gas law",
    holds="0 to 60 °C over water, pressure of the surroundings, all of the gas cooling to the wall",
    givens=(
        Given("temperature", "temperature", "temperature of the gas", "degC", low="0 degC", high="60 degC"),
        Given("humidity", "fraction", "relative humidity", "percent", low="0.1 %", high="100 %"),
        Given("wall", "temperature", "temperature of the wall", "degC", "", "-40 degC", "60 degC"),
        Given("flow", "flow", "flow of gas", "L/min", "", "0 L/min", "100000 L/min"),
        Given("pressure", "pressure", "pressure of the air", "hPa", "1013.25 hPa", "300 hPa", "2000 hPa"),
    ),
    finds=(
        Found("dew_point", "temperature", "degC", "dew point"),
        Found("absolute_humidity", "density", "g/m3", "water in the gas"),
        Found("water_per_hour", "g/h", "g/h", "water on the wall per hour, from the difference of what gas holds"),
        Found("water_with_shrinking", "g/h", "g/h", "water on the wall per hour, counted by dry gas"),
        Found("water_carried", "g/h", "g/h", "water that the gas carries per hour"),
        Found("held_at_wall", "density", "g/m3", "water that saturated gas holds at the wall"),
        Found("vapour_pressure", "pressure", "hPa", "pressure of water vapour"),
    ),
    function=_moisture,
    checks=(
        Check(_DEMO, "dew_point", "26.2 degC", "constructed", _BY_HAND, abs="0.05 K"),
        Check(_DEMO, "absolute_humidity", "24.2 g/m3", "constructed", _BY_HAND, abs="0.05 g/m3"),
        Check(_DEMO, "held_at_wall", "12.8 g/m3", "constructed", _BY_HAND, abs="0.05 g/m3"),
        Check(_DEMO, "water_per_hour", "41 g/h", "constructed", _BY_HAND, abs="0.5 g/h"),
        Check(
            {"temperature": "34 degC", "humidity": "100 %", "flow": "8 L/min"},
            "water_carried",
            "18 g/h",
            "constructed",
            "hand-worked sheet M15",
            abs="0.5 g/h",
        ),
        *(
            Check(
                {"temperature": f"{celsius} degC", "humidity": "100 %"},
                "vapour_pressure",
                f"{hectopascal} hPa",
                "published",
                "IAPWS steam tables, from memory; within the 0.6 % that WMO-No. 8 states for the formula",
                rel=6e-3,
            )
            for celsius, hectopascal in ((10, 12.282), (20, 23.393), (30, 42.470), (40, 73.849))
        ),
        *(
            Check(
                {"temperature": f"{celsius} degC", "humidity": f"{percent} %"},
                "absolute_humidity",
                f"{grams} g/m3",
                "published",
                _TABLE + " and the 0.6 % of the formula",
                abs=f"{0.05 + 0.006 * grams:.3f} g/m3",
            )
            for celsius, percent, grams in ((15, 100, 12.8), (20, 50, 8.7), (30, 80, 24.3), (40, 100, 51.1))
        ),
        Check(
            {"temperature": "37 degC", "humidity": "100 %"},
            "absolute_humidity",
            "43.9 mg/L",
            "published",
            "table of saturated air for humidifiers, read in a public copy, and the 0.6 % of the formula",
            rel=6e-3,
        ),
        *(
            Check(
                {"temperature": f"{celsius} degC", "humidity": f"{percent} %"},
                "dew_point",
                f"{dew} degC",
                "published",
                _TABLE + ": whole degrees, some rounded and some cut",
                abs="1 K",
            )
            for celsius, percent, dew in ((20, 50, 9), (30, 80, 26), (40, 50, 28), (35, 30, 14))
        ),
        Check(
            {"temperature": "25 degC", "humidity": "100 %"},
            "dew_point",
            "25 degC",
            "limit",
            "saturated gas is at its dew point",
            abs="1e-6 K",
        ),
        Check(
            {**_DEMO, "wall": "30 degC"}, "water_per_hour", "0 g/h", "limit", "a warm wall stays dry", abs="1e-9 g/h"
        ),
    ),
    example=_DEMO,
    traps=(
        "Where does the water collect?",
        "Does it block the pressure line, or reach the motor?",
        "How cold is the wall at night?",
    ),
    aliases=("dew-point", "condensation"),
)
