"""What a U-tube must be built and read like: how tall its limbs are, and how well it can be read."""

from __future__ import annotations

import math

from riskkit.engineering.library.instruments import water_density
from riskkit.engineering.models import Check, Found, Given, Model, Outcome

AIR = 1.2
"""Density of room air [kg/m3]."""


def _range(
    pressure: float,
    temperature: float,
    density: float | None,
    margin: float,
    available: float | None,
    gravity: float,
) -> Outcome:
    liquid = water_density(temperature) if density is None else density
    difference = pressure / (liquid * gravity)
    limb = difference / 2 + margin
    remarks = []
    if available is not None and available < limb:
        remarks.append(
            f"the limb is {(limb - available) * 1e3:.3g} mm too short: liquid may be blown out of the open end, "
            "or into the breathing path"
        )
    return Outcome({"limb": limb, "difference": difference}, tuple(remarks))


U_TUBE_RANGE = Model(
    name="u-tube-range",
    title="how tall the limbs of a U-tube must be",
    formula="limb = pressure / (2 density gravity) + margin, above and below the level at rest",
    source="hydrostatics",
    holds="equal bores, slow change of pressure; a step swings further (see u-tube-dynamics)",
    givens=(
        Given("pressure", "pressure", "greatest pressure that can occur", "hPa", None, "0 hPa", "2 bar"),
        Given("temperature", "temperature", "temperature of the liquid", "degC", "20 degC", "0 degC", "40 degC"),
        Given("density", "density", "density of the liquid, not water", "kg/m3", "", "500 kg/m3", "14000 kg/m3"),
        Given(
            "margin",
            "length",
            "margin above the liquid",
            "mm",
            "20 mm",
            "0 mm",
            "1 m",
            asks="20 mm are left above the liquid",
        ),
        Given("available", "length", "height of limb that there is above the level at rest", "mm", "", "0 mm", "20 m"),
        Given("gravity", "m/s2", "gravity", "m/s2", "9.80665 m/s2", "9.7 m/s2", "9.9 m/s2"),
    ),
    finds=(
        Found("limb", "length", "mm", "height of limb above the level at rest"),
        Found("difference", "length", "mm", "distance between both menisci at that pressure"),
    ),
    function=_range,
    checks=(
        Check(
            {"pressure": "32 hPa"},
            "limb",
            "183.4 mm",
            "constructed",
            "hand-worked sheet M1, range guard: 32 hPa over 2 x 998.2 x 9.80665, and 20 mm",
            abs="0.1 mm",
        ),
        Check(
            {"pressure": "1 mmHg", "density": "13595.1 kg/m3", "margin": "0 mm"},
            "difference",
            "1 mm",
            "published",
            "conventional millimetre of mercury, NIST SP 811 (2008) B.8, from memory",
            rel=1e-6,
        ),
        Check({"pressure": "0 hPa", "margin": "5 mm"}, "limb", "5 mm", "limit", "no pressure, only the margin"),
    ),
    example={"pressure": "32 hPa"},
    traps=(
        "Is the greatest pressure that of the worst fault, such as a blocked outlet at full speed?",
        "Where does the liquid go if it is blown out?",
    ),
)


def _budget(
    reading: float,
    temperature: float,
    division: float,
    meniscus: float,
    temperature_limit: float,
    tilt_limit: float,
    gravity: float,
) -> Outcome:
    weight = (water_density(temperature) - AIR) * gravity
    slope = (water_density(temperature + 0.5) - water_density(temperature - 0.5)) * gravity
    # Half-widths of rectangular distributions, each over the root of 3; both limbs are read. A tilt only takes away.
    of_reading = weight * math.sqrt(2 * ((division / 2) ** 2 + meniscus**2) / 3)
    of_temperature = abs(slope) * reading * temperature_limit / math.sqrt(3)
    of_tilt = weight * reading * (1 - math.cos(tilt_limit)) / math.sqrt(3)
    parts = {"the reading": of_reading, "the temperature": of_temperature, "the tilt": of_tilt}
    standard = math.sqrt(sum(part * part for part in parts.values()))
    values = {"expanded": 2 * standard, "standard": standard, "pressure": weight * reading}
    if not standard:
        return Outcome(values, ("no limit is given, so no uncertainty comes out",))
    values["reading_share"] = (of_reading / standard) ** 2
    biggest = max(parts, key=lambda name: parts[name])
    return Outcome(
        values, (f"{biggest} contributes most, {(parts[biggest] / standard) ** 2 * 100:.0f} % of the variance",)
    )


U_TUBE_UNCERTAINTY = Model(
    name="u-tube-uncertainty",
    title="how well a U-tube with water can be read",
    formula="u^2 = 2 ((division/2)^2 + meniscus^2)/3 (density g)^2 + temperature and tilt over the root of 3; U = 2 u",
    source="JCGM 100 (2008), rectangular distributions of the stated half-widths",
    holds="0 to 40 °C, water, both limbs read, errors of the limbs independent",
    givens=(
        Given("reading", "length", "distance between both menisci", "mm", None, "0 mm", "5 m"),
        Given("temperature", "temperature", "temperature of the water", "degC", "20 degC", "1 degC", "40 degC"),
        Given("division", "length", "division of the scale", "mm", "1 mm", "0 mm", "50 mm"),
        Given(
            "meniscus",
            "length",
            "half-width for meniscus and parallax at each limb",
            "mm",
            "1 mm",
            "0 mm",
            "50 mm",
            asks="1 mm at each limb is taken for meniscus and parallax",
        ),
        Given(
            "temperature_limit",
            "temperature difference",
            "half-width of the water's temperature",
            "K",
            "2 K",
            "0 K",
            "20 K",
        ),
        Given("tilt_limit", "angle", "greatest tilt that would not be seen", "deg", "3 deg", "0 deg", "45 deg"),
        Given("gravity", "m/s2", "gravity", "m/s2", "9.80665 m/s2", "9.7 m/s2", "9.9 m/s2"),
    ),
    finds=(
        Found("expanded", "pressure", "hPa", "expanded uncertainty of the pressure, k = 2"),
        Found("standard", "pressure", "Pa", "standard uncertainty of the pressure"),
        Found("pressure", "pressure", "hPa", "pressure"),
        Found("reading_share", "fraction", "percent", "share of the reading in the variance"),
    ),
    function=_budget,
    checks=(
        Check(
            {"reading": "83 mm", "temperature": "24 degC"},
            "expanded",
            "0.18 hPa",
            "constructed",
            "hand-worked sheet M1",
            abs="0.005 hPa",
        ),
        Check(
            {"reading": "83 mm", "temperature": "24 degC"},
            "standard",
            "8.9 Pa",
            "constructed",
            "hand-worked sheet M1",
            abs="0.05 Pa",
        ),
        Check(
            {"reading": "100 mm", "division": "0 mm", "meniscus": "0 mm", "tilt_limit": "0 deg"},
            "standard",
            "0.2340 Pa",
            "cross-check",
            "thermal expansion of water 2.07e-4/K at 20 °C (handbook, from memory) x 998.2 kg/m3 x g x 0.1 m x 2 K / root 3",
            rel=2e-3,
        ),
    ),
    example={"reading": "83 mm", "temperature": "24 degC"},
    traps=("Is a reading by another person as close as this says?",),
)
