"""Liquid columns at rest: what a U-tube and an inclined tube show."""

from __future__ import annotations

import math

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

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
    values = {"pressure": (liquid - air) * gravity * height * math.cos(tilt)}
    if tilt:
        values["tilt_effect"] = math.cos(tilt) - 1
    return Outcome(values, tuple(remarks))


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
    finds=(
        Found("pressure", "pressure", "hPa", "pressure"),
        Found("tilt_effect", "fraction", "percent", "what the tilt takes off the same reading upright"),
    ),
    function=_u_tube,
    checks=(
        Check(
            {"reading": "83 mm", "temperature": "24 degC"},
            "pressure",
            "8.11 hPa",
            "constructed",
            "hand-worked sheet M1",
            abs="0.005 hPa",
        ),
        Check(
            {"reading": "41.5 mm", "temperature": "24 degC"},
            "pressure",
            "4.06 hPa",
            "constructed",
            "hand-worked sheet M1: one limb taken for the whole gives half (half of the rounded 8.11; 4.054 unrounded)",
            abs="0.007 hPa",
        ),
        Check(
            {"reading": "41.5 mm", "temperature": "24 degC", "limbs": "one"},
            "pressure",
            "8.11 hPa",
            "constructed",
            "hand-worked sheet M1: one limb, said to be one",
            abs="0.005 hPa",
        ),
        Check(
            {"reading": "83 mm", "temperature": "24 degC", "tilt": "6 deg"},
            "tilt_effect",
            "-0.55 %",
            "constructed",
            "hand-worked sheet M1",
            abs="0.005 %",
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


def _inclined(
    reading: float,
    angle: float,
    bore: float,
    well: float,
    temperature: float,
    density: float | None,
    air: float,
    angle_error: float,
    gravity: float,
) -> Outcome:
    if bore <= 0 or well < bore:
        raise EngineeringError(
            "inclined-tube: the well is narrower than the tube", "give the bore of the tube and that of the well"
        )
    slope = math.sin(angle) + (bore / well) ** 2
    if slope <= 0:
        raise EngineeringError("inclined-tube: a tube that lies level shows nothing", "give an angle of 5 deg or more")
    liquid = water_density(temperature) if density is None else density
    per_length = (liquid - air) * gravity * slope
    share = math.cos(angle) * angle_error / slope
    remarks = (
        f"an angle that is {math.degrees(angle_error):.2g} degrees off moves the pressure by {share * 100:.2g} %: "
        "set the angle by a height over a length",
    )
    values = {
        "pressure": per_length * reading,
        "per_length": per_length,
        "gain": 1 / slope,
        "angle_share": share,
    }
    return Outcome(values, remarks if angle_error else ())


INCLINED_TUBE = Model(
    name="inclined-tube",
    title="pressure from the reading of an inclined tube with a reservoir",
    formula="p = (density - air) gravity reading (sin(angle) + (bore / well)^2)",
    source="hydrostatics, with the fall of the level in the reservoir; water density by Tanaka et al. (2001)",
    holds="5 degrees or more from level, a liquid that wets the tube evenly, steady pressure",
    givens=(
        Given("reading", "length", "distance along the tube from its zero", "mm", low="0 mm", high="2 m"),
        Given("angle", "angle", "angle of the tube from level", "deg", None, "5 deg", "90 deg", outside="marked"),
        Given("bore", "length", "bore of the tube", "mm", None, "0.5 mm", "50 mm"),
        Given("well", "length", "bore of the reservoir", "mm", None, "1 mm", "1 m"),
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
        Given("density", "density", "density of the liquid, not water", "kg/m3", "", "500 kg/m3", "14000 kg/m3"),
        Given(
            "air",
            "density",
            "density of the air above",
            "kg/m3",
            "0 kg/m3",
            "0 kg/m3",
            "2 kg/m3",
            asks="the air above the liquid is left out, which is 0.12 %",
        ),
        Given("angle_error", "angle", "angle error that is looked at", "deg", "0.5 deg", "0 deg", "10 deg"),
        Given("gravity", "m/s2", "gravity", "m/s2", "9.80665 m/s2", "9.7 m/s2", "9.9 m/s2"),
    ),
    finds=(
        Found("pressure", "pressure", "hPa", "pressure"),
        Found("per_length", "Pa/mm", "Pa/mm", "pressure of one millimetre along the tube"),
        Found("gain", "number", "", "how much longer the reading is than upright"),
        Found("angle_share", "fraction", "percent", "what that angle error does to the pressure"),
    ),
    function=_inclined,
    checks=(
        *(
            Check(
                {"reading": "120 mm", "angle": "15 deg", "bore": "3 mm", "well": "60 mm"},
                answer,
                expected,
                "constructed",
                "hand-worked sheet M1b",
                abs=width,
            )
            for answer, expected, width in (
                ("pressure", "3.07 hPa", "0.005 hPa"),
                ("per_length", "2.56 Pa/mm", "0.005 Pa/mm"),
                ("gain", "3.8", "0.05"),
                ("angle_share", "3.2 %", "0.05 %"),
            )
        ),
        Check(
            {"reading": "8.7 cm", "angle": "15 deg", "bore": "1 mm", "well": "1 m", "density": "1000 kg/m3"},
            "pressure",
            "2.3 cmH2O",
            "published",
            "Felder and Rousseau, Elementary Principles of Chemical Processes, problem on the inclined manometer; "
            "task read, answer from memory",
            abs="0.05 cmH2O",
        ),
        Check(
            {
                "reading": "1 in",
                "angle": "13.45 deg",
                "bore": "1 mm",
                "well": "1 m",
                "density": "826.6 kg/m3",
            },
            "pressure",
            "47.88 Pa",
            "published",
            "White, Fluid Mechanics, problem 2.37: one inch of red oil (0.827 x 62.4 lbf/ft3) is 1 lbf/ft2 at 13.45 "
            "degrees; task read, answer from memory",
            rel=1e-3,
        ),
        Check(
            {"reading": "100 mm", "angle": "30 deg", "bore": "0.5 mm", "well": "1 m", "density": "1000 kg/m3"},
            "pressure",
            "490.3325 Pa",
            "limit",
            "a very wide reservoir at 30 degrees shows half of the upright pressure",
            rel=1e-6,
        ),
    ),
    example={"reading": "120 mm", "angle": "15 deg", "bore": "3 mm", "well": "60 mm"},
    traps=(
        "How was the angle measured, and does the board stand level?",
        "Was the zero set after the board was put in its place?",
        "Does the meniscus creep, or stick when tapped?",
    ),
)
