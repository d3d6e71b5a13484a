"""A liquid column that swings: what a U-tube can follow, and what it must not be used to read."""

from __future__ import annotations

import math

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome


def _dynamics(column: float, bore: float, viscosity: float, dwell: float | None, gravity: float) -> Outcome:
    if column <= 0 or bore <= 0 or viscosity < 0:
        raise EngineeringError("u-tube-dynamics: column and bore must be longer than nothing", "measure them in mm")
    natural = math.sqrt(2 * gravity / column)
    damping = 16 * viscosity / (bore * bore * natural)
    values: dict[str, float] = {}
    remarks: list[str] = []
    if damping < 1:
        swing = math.sqrt(1 - damping * damping)
        values["period"] = 2 * math.pi / (natural * swing)
        values["damping"] = damping
        values["overshoot"] = math.exp(-math.pi * damping / swing)
        if damping == 0:
            raise EngineeringError("u-tube-dynamics: without viscosity it never settles", "give the liquid's viscosity")
        values["settle"] = 3 / (damping * natural)
    else:
        # The slower of two real time constants; it meets the line above where the damping is 1.
        slow = natural / (damping + math.sqrt(damping * damping - 1))
        values |= {"damping": damping, "overshoot": 0.0, "settle": 3 / slow}
        remarks.append("the column creeps to its end without a swing")
    settle = values["settle"]
    remarks.append(f"peaks and dwells shorter than about {settle:.2g} s need a damper or a sensor")
    outside: tuple[str, ...] = ()
    if dwell is not None and dwell < settle:
        outside = (f"a dwell of {dwell:.3g} s is shorter than the {settle:.2g} s until the column has settled",)
    return Outcome(values, tuple(remarks), outside)


U_TUBE_DYNAMICS = Model(
    name="u-tube-dynamics",
    title="how a U-tube swings after a step of pressure, and when it may be read",
    formula="w = sqrt(2 gravity / column); z = 16 viscosity / (bore^2 w); settle = 3 / (z w)",
    source="equation of motion of a liquid column with laminar wall friction; settle: fall of the swing to 5 %",
    holds="laminar flow, one bore, small swings; larger swings and bends damp more",
    givens=(
        Given("column", "length", "whole wetted length of the column", "mm", None, "10 mm", "20 m"),
        Given("bore", "length", "bore of the tube", "mm", None, "0.5 mm", "50 mm"),
        Given(
            "viscosity",
            "mm^2/s",
            "kinematic viscosity of the liquid",
            "mm^2/s",
            "1.0 mm^2/s",
            "0.05 mm^2/s",
            "1000 mm^2/s",
            asks="water of about 20 °C is taken: 1.0 mm²/s",
        ),
        Given("dwell", "time", "shortest dwell that is to be read", "s", "", "0 s", "1 h"),
        Given("gravity", "m/s2", "gravity", "m/s2", "9.80665 m/s2", "9.7 m/s2", "9.9 m/s2"),
    ),
    finds=(
        Found("period", "time", "s", "time of one swing"),
        Found("damping", "number", "", "damping ratio"),
        Found("overshoot", "fraction", "percent", "overshoot after a step"),
        Found("settle", "time", "s", "time until the swing has fallen to about 5 %"),
    ),
    function=_dynamics,
    checks=(
        *(
            Check(
                {"column": "450 mm", "bore": bore},
                answer,
                expected,
                "constructed",
                "hand-worked sheet M1",
                abs=width,
            )
            for bore, answer, expected, width in (
                ("6 mm", "period", "0.95 s", "0.005 s"),
                ("6 mm", "damping", "0.067", "0.0005"),
                ("6 mm", "overshoot", "81 %", "0.5 %"),
                ("6 mm", "settle", "6.8 s", "0.05 s"),
                ("3 mm", "damping", "0.27", "0.005"),
                ("3 mm", "overshoot", "42 %", "0.5 %"),
                ("3 mm", "settle", "1.7 s", "0.05 s"),
            )
        ),
        Check(
            {"column": "40 cm", "bore": "30 mm"},
            "period",
            "0.9 s",
            "published",
            "school physics: water 20 cm high in both limbs swings in 0.9 s (worked example read on a tutorial page)",
            abs="0.01 s",
        ),
        Check(
            {"column": "450 mm", "bore": "0.5 mm", "viscosity": "100 mm^2/s"},
            "overshoot",
            "0 %",
            "limit",
            "a narrow bore and a thick liquid creep and do not overshoot",
            abs="0.001 %",
        ),
    ),
    example={"column": "450 mm", "bore": "6 mm"},
    traps=("Is a damper or a narrow place in the line? It damps more than the tube.", "Is a bubble in the line?"),
)
