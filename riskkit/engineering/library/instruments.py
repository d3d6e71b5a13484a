"""Liquid columns: what a U-tube and an inclined tube show, and what they cannot follow."""

from __future__ import annotations

import math

from riskkit.engineering.models import Check, Found, Given, Model, Outcome

GRAVITY = 9.80665
"""Standard gravity [m/s2]; it varies by 0.5 % over the earth."""


def water_density(kelvin: float) -> float:
    """Density of air-free water at 101325 Pa [kg/m3], 0 to 40 °C.

    Source: Tanaka et al., Metrologia 38 (2001) 301.
    """
    t = kelvin - 273.15
    return 999.974950 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def _u_tube(
    reading: float, temperature: float, tilt: float, limbs: str, density: float | None, air: float, gravity: float
) -> Outcome:
    liquid = water_density(temperature) if density is None else density
    height = 2 * reading if limbs == "one" else reading
    remarks = []
    if limbs == "one":
        remarks.append("one limb was read: the distance between both menisci is taken as twice that; read both")
    if density is None:
        remarks.append("water without dye or salt; an additive changes the density")
    return Outcome({"pressure": (liquid - air) * gravity * height * math.cos(tilt)}, tuple(remarks))


U_TUBE = Model(
    name="u-tube",
    title="pressure from the reading of a U-tube",
    formula="p = (density - air) gravity reading cos(tilt)",
    source="hydrostatics; water density by Tanaka et al., Metrologia 38 (2001) 301",
    holds="0 to 40 °C, equal bores of 6 mm or more (capillarity cancels), steady pressure",
    givens=(
        Given("reading", "length", "distance between both menisci", "mm", low="0 mm", high="5 m"),
        Given(
            "temperature",
            "temperature",
            "temperature of the liquid",
            "degC",
            "20 degC",
            "0 degC",
            "40 degC",
            asks="20 °C is taken for the liquid",
        ),
        Given("tilt", "angle", "tilt from upright", "deg", "0 deg", "0 deg", "60 deg"),
        Given("limbs", "word", "limbs that were read", default="both", choices=("both", "one")),
        Given(
            "density",
            "density",
            "density of the liquid, where it is not water",
            "kg/m3",
            "",
            "500 kg/m3",
            "14000 kg/m3",
        ),
        Given("air", "density", "density of the air above", "kg/m3", "1.2 kg/m3", "0 kg/m3", "2 kg/m3"),
        Given("gravity", "m/s2", "gravity", "m/s2", "9.80665 m/s2", "9.7 m/s2", "9.9 m/s2"),
    ),
    finds=(Found("pressure", "pressure", "hPa", "pressure"),),
    function=_u_tube,
    checks=(
        Check(
            {"reading": "83 mm", "temperature": "24 degC"},
            "pressure",
            "8.11 hPa",
            "constructed",
            "job sheet M1, worked by hand",
            abs="0.005 hPa",
        ),
        Check(
            {"reading": "100.0 mm", "temperature": "20 degC", "air": "0 kg/m3"},
            "pressure",
            "978.9064 Pa",
            "constructed",
            "hydrostatics with water of 998.2067 kg/m3 (density published: Tanaka 2001, 20 °C)",
            rel=1e-6,
        ),
        Check(
            {"reading": "1 m", "density": "13595.1 kg/m3", "air": "0 kg/m3"},
            "pressure",
            "133322.4 Pa",
            "published",
            "conventional millimetre of mercury, NIST SP 811 (2008) B.8, from memory",
            rel=1e-6,
        ),
        Check(
            {"reading": "1 cm", "density": "1000 kg/m3", "air": "0 kg/m3"},
            "pressure",
            "98.0665 Pa",
            "published",
            "conventional centimetre of water, NIST SP 811 (2008) B.8, from memory",
            rel=1e-6,
        ),
        Check({"reading": "0 mm"}, "pressure", "0 hPa", "limit", "no difference, no pressure", abs="0.001 hPa"),
    ),
    example={"reading": "83 mm", "temperature": "24 degC"},
    traps=(
        "Both limbs, or one? One limb is half.",
        "Dye or additive in the water?",
        "A bubble in the line?",
        "Zero before and after?",
    ),
)
