"""Air: its density by height above the sea, and by temperature, pressure and humidity."""

from __future__ import annotations

import math

from riskkit.engineering.models import Check, Found, Given, Model, Outcome
from riskkit.engineering.passages import GRAVITY

ZERO = 273.15
SEA_PRESSURE, SEA_TEMPERATURE, LAPSE = 101325.0, 288.15, 0.0065
DRY_AIR = 8314.32 / 28.9644
"""Gas constant of dry air as the U.S. Standard Atmosphere 1976 has it [J/(kg K)]."""
EARTH = 6356766.0
"""Radius of the earth for geopotential height, U.S. Standard Atmosphere 1976 [m]."""


def viscosity(kelvin: float) -> float:
    """Dynamic viscosity of air [Pa s] by Sutherland's formula, U.S. Standard Atmosphere 1976."""
    return float(1.458e-6 * kelvin**1.5 / (kelvin + 110.4))


def _altitude(height: float, scale: str, air: str, temperature: float) -> Outcome:
    geopotential = height if scale == "geopotential" else EARTH * height / (EARTH + height)
    remarks, outside = [], []
    standard = SEA_TEMPERATURE - LAPSE * geopotential
    pressure = SEA_PRESSURE * (standard / SEA_TEMPERATURE) ** (GRAVITY / (DRY_AIR * LAPSE))
    if air == "standard":
        kelvin, sea_kelvin = standard, SEA_TEMPERATURE
        remarks.append("the air has the temperature of the standard atmosphere; a heated room is thinner")
    else:
        kelvin = sea_kelvin = temperature
        remarks.append("pressure of the standard atmosphere, and the same temperature up there as at sea level")
    if geopotential > 11000:
        outside.append("the formula ends at 11 km of geopotential height, where the air no longer cools")
    return Outcome(
        {
            "density_ratio": pressure / SEA_PRESSURE * sea_kelvin / kelvin,
            "pressure": pressure,
            "density": pressure / (DRY_AIR * kelvin),
            "temperature": kelvin,
            "viscosity": viscosity(kelvin),
        },
        tuple(remarks),
        tuple(outside),
    )


_SHEET = "hand-worked sheet M22"
_STANDARD_1976 = "U.S. Standard Atmosphere 1976, table of geometric heights, from memory"

ALTITUDE = Model(
    name="altitude",
    title="pressure and density of air at a height above the sea",
    formula="p = p0 (1 - 0.0065 h / 288.15)^5.2559; density = p / (R T)",
    source="U.S. Standard Atmosphere 1976 (the same as ISO 2533 below 11 km)",
    holds="-2 to 11 km, dry air, the average of a year; weather moves the pressure by 3 %",
    givens=(
        Given("height", "length", "height above the sea", "m", low="-2000 m", high="11019 m"),
        Given(
            "scale",
            "word",
            "scale of the height",
            default="geometric",
            choices=("geometric", "geopotential"),
            asks="the height is taken as geometric, as on a map",
        ),
        Given(
            "air",
            "word",
            "air that is meant",
            default="standard",
            choices=("standard", "fixed temperature"),
            asks="the air is taken as cold as the standard atmosphere; air='fixed temperature' is a heated room",
        ),
        Given("temperature", "temperature", "temperature of the heated room", "degC", "20 degC", "-40 degC", "60 degC"),
    ),
    finds=(
        Found("density_ratio", "number", "", "density against that at sea level"),
        Found("pressure", "pressure", "hPa", "pressure"),
        Found("density", "density", "kg/m^3", "density of dry air"),
        Found("temperature", "temperature", "degC", "temperature"),
        Found("viscosity", "Pa*s", "Pa*s", "viscosity of the air"),
    ),
    function=_altitude,
    checks=(
        Check({"height": "1500 m"}, "density_ratio", "0.864", "constructed", _SHEET, abs="0.0005"),
        Check({"height": "2500 m"}, "density_ratio", "0.781", "constructed", _SHEET, abs="0.0005"),
        Check({"height": "3500 m"}, "density_ratio", "0.705", "constructed", _SHEET, abs="0.001"),
        Check(
            {"height": "2500 m", "air": "fixed temperature"},
            "density_ratio",
            "0.737",
            "constructed",
            _SHEET,
            abs="0.0006",
        ),
        Check({"height": "1000 m"}, "pressure", "8.9876e4 Pa", "published", _STANDARD_1976, rel=1.5e-5),
        Check({"height": "3000 m"}, "pressure", "7.0121e4 Pa", "published", _STANDARD_1976, rel=1.5e-5),
        Check({"height": "5000 m"}, "pressure", "5.4048e4 Pa", "published", _STANDARD_1976, rel=1.5e-5),
        Check(
            {"height": "1000 m", "scale": "geopotential"},
            "pressure",
            "89874.6 Pa",
            "published",
            "U.S. Standard Atmosphere 1976, 1000 m geopotential, from memory",
            rel=1e-6,
        ),
        Check({"height": "0 m"}, "density", "1.2250 kg/m3", "published", _STANDARD_1976, rel=2e-5),
        Check({"height": "0 m"}, "viscosity", "1.7894e-5 Pa*s", "published", _STANDARD_1976, rel=2e-5),
        Check({"height": "0 m"}, "density_ratio", "1", "limit", "sea level against sea level", rel=1e-12),
    ),
    example={"height": "2500 m", "air": "fixed temperature"},
    traps=(
        "Heated room or cold air? At 2500 m that is 0.74 against 0.78.",
        "Does the pressure sensor read against the air around it, or against vacuum?",
    ),
)


def moist_air_density(kelvin: float, pascal: float, humidity: float, carbon_dioxide: float) -> float:
    """Density of moist air [kg/m3] by CIPM-2007; temperature [K], pressure [Pa], humidity and CO2 as fractions.

    Source: Picard, Davis, Gläser and Fujii, Metrologia 45 (2008) 149.
    """
    celsius = kelvin - ZERO
    vapour = math.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)
    enhancement = 1.00062 + 3.14e-8 * pascal + 5.6e-7 * celsius**2
    water = humidity * enhancement * vapour / pascal
    first = (
        1.58123e-6
        - 2.9331e-8 * celsius
        + 1.1043e-10 * celsius**2
        + (5.707e-6 - 2.051e-8 * celsius) * water
        + (1.9898e-4 - 2.376e-6 * celsius) * water**2
    )
    second = 1.83e-11 - 0.765e-8 * water**2
    ratio = pascal / kelvin
    compressibility = 1 - ratio * first + ratio**2 * second
    dry = 3.483740e-3 + 1.4446e-3 * (carbon_dioxide - 0.0004)
    return dry * pascal / (compressibility * kelvin) * (1 - 0.3780 * water)


def _moist_air(temperature: float, pressure: float, humidity: float, carbon_dioxide: float) -> Outcome:
    density = moist_air_density(temperature, pressure, humidity, carbon_dioxide)
    outside = []
    if not 15 + ZERO <= temperature <= 27 + ZERO:
        outside.append("CIPM-2007 was fitted for 15 to 27 °C; beyond that it is an extrapolation")
    if not 60000 <= pressure <= 110000:
        outside.append("CIPM-2007 was fitted for 600 to 1100 hPa; beyond that it is an extrapolation")
    return Outcome(
        {"density": density, "density_ratio": density / (SEA_PRESSURE / (DRY_AIR * (20 + ZERO)))},
        outside=tuple(outside),
    )


_AGAIN = "CIPM-2007 formula worked again outside of this project's code; no published check point is known"
_OIML = "approximation formula of OIML R 111-1 (2004) E.3-1, another formula for the same air, from memory"


def _air(temperature: str, pressure: str, humidity: str) -> dict[str, str]:
    return {"temperature": temperature, "pressure": pressure, "humidity": humidity}


MOIST_AIR = Model(
    name="moist-air",
    title="density of moist air",
    formula="density = (3.483740 + 1.4446 (x_CO2 - 0.0004)) 1e-3 p / (Z T) (1 - 0.3780 x_v)",
    source="CIPM-2007: Picard et al., Metrologia 45 (2008) 149",
    holds="15 to 27 °C, 600 to 1100 hPa, no water in drops",
    givens=(
        Given("temperature", "temperature", "temperature of the air", "degC", low="-20 degC", high="60 degC"),
        Given(
            "pressure",
            "pressure",
            "pressure of the air, against vacuum",
            "hPa",
            "1013.25 hPa",
            "300 hPa",
            "1200 hPa",
            asks="1013.25 hPa is taken, the average at sea level",
        ),
        Given(
            "humidity",
            "fraction",
            "relative humidity",
            "percent",
            "50 %",
            "0 %",
            "100 %",
            asks="50 % relative humidity is taken",
        ),
        Given("carbon_dioxide", "fraction", "carbon dioxide in the air", "ppm", "400 ppm", "0 ppm", "50000 ppm"),
    ),
    finds=(
        Found("density", "density", "kg/m^3", "density"),
        Found("density_ratio", "number", "", "density against dry air of 20 °C and 1013.25 hPa"),
    ),
    function=_moist_air,
    checks=(
        Check(_air("20 degC", "101325 Pa", "50 %"), "density", "1.199314 kg/m3", "constructed", _AGAIN, rel=5e-7),
        Check(_air("15 degC", "101325 Pa", "30 %"), "density", "1.223186 kg/m3", "constructed", _AGAIN, rel=5e-7),
        Check(_air("25 degC", "95000 Pa", "70 %"), "density", "1.100580 kg/m3", "constructed", _AGAIN, rel=5e-7),
        Check(_air("20 degC", "101325 Pa", "50 %"), "density", "1.199294 kg/m3", "cross-check", _OIML, rel=2e-4),
        Check(_air("15 degC", "101325 Pa", "30 %"), "density", "1.223055 kg/m3", "cross-check", _OIML, rel=2e-4),
        Check(_air("25 degC", "95000 Pa", "70 %"), "density", "1.100658 kg/m3", "cross-check", _OIML, rel=2e-4),
        Check(
            _air("20 degC", "1013.25 hPa", "0 %"),
            "density",
            "1.204 kg/m3",
            "constructed",
            "hand-worked sheet, house rules: dry air of 20 °C",
            abs="0.001 kg/m3",
        ),
        Check(
            _air("25 degC", "1013.25 hPa", "50 %"),
            "density",
            "1.177 kg/m3",
            "constructed",
            "hand-worked sheet, house rules: 25 °C, 50 %",
            abs="0.001 kg/m3",
        ),
    ),
    example={"temperature": "25 degC", "humidity": "50 %"},
    traps=("Pressure of the place itself, or the one that weather reports give for sea level?",),
)
