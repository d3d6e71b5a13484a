"""Holes: vents, exhalation ports, intake flaps; what flows through them, and how large they have to be."""

from __future__ import annotations

import math
from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome
from riskkit.engineering.passages import ROOM, through_hole

AIR_DENSITY = "1.204 kg/m3"
AIR_VISCOSITY = 1.81e-5
"""Dynamic viscosity of air at 20 °C [Pa s]."""
HECTOPASCAL = 100.0

_COEFFICIENT = Given(
    "coefficient",
    "number",
    "discharge coefficient",
    default="0.62",
    low="0.3",
    high="1",
    asks="0.62 is taken for a sharp edge (0.60 to 0.65; a rounded hole or a drilled thick plate has 0.7 to 0.8): measure",
)
_DENSITY = Given("density", "density", "density of the gas", "kg/m^3", AIR_DENSITY, "0.1 kg/m3", "10 kg/m3")
_PRESSURE = Given(
    "pressure", "pressure", "pressure across the hole", "hPa", low="0 hPa", high="50 hPa", outside="marked"
)
_EQUATION = "orifice equation (Bernoulli with a discharge coefficient), incompressible"


def area_of(area: float | None, diameter: float | None, holes: float) -> float:
    """Open area from itself, or from round holes of one diameter [m2].

    Raises:
        EngineeringError: where neither, or both, were given.
    """
    if (area is None) == (diameter is None):
        raise EngineeringError("a hole is known by its area or by its diameter: one of both", "give area or diameter")
    return area if area is not None else holes * math.pi * (diameter or 0.0) ** 2 / 4


def _orifice(
    pressure: float,
    area: float | None,
    diameter: float | None,
    holes: float,
    coefficient: float,
    density: float,
) -> Outcome:
    if pressure < 0:
        raise EngineeringError("the pressure across the hole is below zero", "give it as a positive number")
    opening = area_of(area, diameter, holes)
    flow = through_hole(opening, coefficient, pressure, density)
    width = diameter if diameter is not None else math.sqrt(4 * opening / (math.pi * holes))
    reynolds = density * flow / opening * width / AIR_VISCOSITY if opening else 0.0
    outside: tuple[str, ...] = ()
    edge: tuple[str, ...] = ()
    if 0 < reynolds < 1000:
        outside = (f"Reynolds number {reynolds:.0f}: below about 1000 the discharge coefficient falls; fit two points",)
    elif 0 < reynolds < 1500:
        edge = (f"Reynolds number {reynolds:.0f}: close to 1000, below which the coefficient falls",)
    return Outcome(
        {"flow": flow, "jet_speed": math.sqrt(2 * pressure / density), "area": opening, "reynolds": reynolds},
        (ROOM, "printed holes come out undersized: measure them"),
        outside,
        edge,
    )


def _four(pressure: str) -> dict[str, str]:
    return {"pressure": pressure, "diameter": "2.0 mm", "holes": "4", "coefficient": "0.65"}


def _vent(pressure: str) -> dict[str, str]:
    return {"pressure": pressure, "diameter": "4 mm", "coefficient": "0.61", "density": "1.2 kg/m3"}


_M2 = "hand-worked sheet M2"
_FLUIDS = "library fluids 1.3.1, flow_meter_discharge with this coefficient, in a pipe of 10 m"
_HOLE = "vent hole worked out for this project (4 mm, sharp, C 0.61), conventional cmH2O"

ORIFICE = Model(
    name="orifice",
    title="flow through a hole, a vent or an exhalation port",
    formula="Q = coefficient area sqrt(2 pressure / density)",
    source=_EQUATION,
    holds="Reynolds number above about 1000, pressure up to 50 hPa, sharp or known edge",
    givens=(
        _PRESSURE,
        Given("area", "area", "open area, where the diameter is not given", "mm^2", "", "0 mm2"),
        Given("diameter", "length", "diameter of each hole", "mm", "", "0.1 mm", "200 mm"),
        Given("holes", "number", "number of holes", default="1", low="1", high="10000"),
        _COEFFICIENT,
        _DENSITY,
    ),
    finds=(
        Found("flow", "flow", "L/min", "flow"),
        Found("jet_speed", "speed", "m/s", "speed of an ideal jet"),
        Found("area", "area", "mm^2", "open area"),
        Found("reynolds", "number", "", "Reynolds number of a hole"),
    ),
    function=_orifice,
    checks=(
        Check(
            {"pressure": "7 hPa", "diameter": "3 mm", "coefficient": "0.7"},
            "flow",
            "10.1235412 L/min",
            "cross-check",
            _FLUIDS,
            rel=1e-7,
        ),
        Check(_four("3 hPa"), "flow", "10.9 L/min", "constructed", _M2, abs="0.05 L/min"),
        Check(_four("5 hPa"), "flow", "14.1 L/min", "constructed", _M2, abs="0.05 L/min"),
        Check(_four("13 hPa"), "flow", "22.8 L/min", "constructed", _M2, abs="0.05 L/min"),
        Check(_four("5 hPa"), "area", "12.57 mm2", "constructed", _M2),
        Check(_vent("5 cmH2O"), "flow", "13.14803 L/min", "constructed", _HOLE, rel=5e-7),
        Check(_vent("10 cmH2O"), "flow", "18.59412 L/min", "constructed", _HOLE, rel=5e-7),
        Check(_vent("20 cmH2O"), "flow", "26.29606 L/min", "constructed", _HOLE, rel=5e-7),
        Check(_vent("10 cmH2O"), "jet_speed", "40.42823 m/s", "constructed", _HOLE, rel=5e-7),
        Check(_vent("0 hPa"), "flow", "0 L/min", "limit", "no pressure, no flow", abs="1e-9 L/min"),
        Check(
            {"pressure": "4 Pa", "area": "387.298 cm2", "coefficient": "1", "density": "1.2 kg/m3"},
            "flow",
            "0.1 m3/s",
            "constructed",
            "effective leakage area in the form of the ASHRAE handbook, worked out for this project",
            rel=2e-6,
        ),
    ),
    example=_four("5 hPa"),
    traps=(
        "Was the hole measured after it was made? Printed holes come out undersized.",
        "Can a hand, hair or a pillow cover it?",
    ),
)


def _area(
    flow: float,
    pressure: float,
    holes: float,
    coefficient: float,
    density: float,
) -> Outcome:
    if pressure <= 0:
        raise EngineeringError(
            "no hole passes a flow without a pressure across it", "give the pressure at which it has to pass"
        )
    area = flow / through_hole(1.0, coefficient, pressure, density)
    return Outcome({"area": area, "diameter": math.sqrt(4 * area / (math.pi * holes))}, (ROOM,))


def _wanted(flow: str, pressure: str, coefficient: str = "0.65") -> dict[str, str]:
    return {"flow": flow, "pressure": pressure, "coefficient": coefficient}


ORIFICE_AREA = Model(
    name="orifice-area",
    title="open area that passes a flow at a pressure: a vent, an intake flap, a leakage area",
    formula="A = Q / (coefficient sqrt(2 pressure / density))",
    source=_EQUATION,
    holds="Reynolds number above about 1000, pressure up to 50 hPa",
    givens=(
        Given("flow", "flow", "flow that has to pass", "L/min", low="0 L/min"),
        _PRESSURE,
        Given("holes", "number", "number of holes that share it", default="1", low="1", high="10000"),
        _COEFFICIENT,
        _DENSITY,
    ),
    finds=(
        Found("area", "area", "mm^2", "open area"),
        Found("diameter", "length", "mm", "diameter of each hole"),
    ),
    function=_area,
    checks=(
        Check(
            _wanted("40 L/min", "6 hPa", "0.62"),
            "area",
            "34.0596101 mm2",
            "cross-check",
            f"{_FLUIDS}, root by scipy 1.17.1",
            rel=1e-7,
        ),
        Check(_wanted("18 L/min", "4 hPa"), "area", "17.9 mm2", "constructed", _M2, abs="0.05 mm2"),
        Check(
            _wanted("60 L/min", "1.5 hPa"),
            "area",
            "97 mm2",
            "constructed",
            "hand-worked sheet M9, room-air intake flap, worked by hand",
            abs="0.5 mm2",
        ),
        Check(
            {"flow": "0.1 m3/s", "pressure": "4 Pa", "coefficient": "1", "density": "1.2 kg/m3"},
            "area",
            "387.298 cm2",
            "constructed",
            "effective leakage area in the form of the ASHRAE handbook, worked out for this project",
            rel=2e-6,
        ),
        Check(_wanted("0 L/min", "4 hPa"), "area", "0 mm2", "limit", "no flow, no hole", abs="1e-9 mm2"),
    ),
    example=_wanted("18 L/min", "4 hPa"),
    traps=(
        "Does the flap open by itself at that pressure, and stick when wet?",
        "Can the opening be covered by a hand, hair or a pillow?",
    ),
    aliases=("intake-flap", "leakage-area"),
)


def _fit(
    first_pressure: float, first_flow: float, second_pressure: float, second_flow: float, pressure: float | None
) -> Outcome:
    if first_pressure == second_pressure:
        raise EngineeringError(
            "both points have the same pressure", "read the second one at another pressure, twice as high or more"
        )
    exponent = math.log(second_flow / first_flow) / math.log(second_pressure / first_pressure)
    values = {
        "exponent": exponent,
        "flow_at_1_hPa": first_flow * (HECTOPASCAL / first_pressure) ** exponent,
    }
    outside: tuple[str, ...] = ()
    edge: tuple[str, ...] = ()
    low, high = sorted((first_pressure, second_pressure))
    if not 0.45 <= exponent <= 1.05:
        outside = (f"an exponent of {exponent:.3g} is no passage (0.5 turbulent gap, 1 fabric): read the points again",)
    elif not 0.5 <= exponent <= 1:
        edge = (f"an exponent of {exponent:.3g} is just outside of 0.5 to 1: read the points again",)
    if pressure is not None:
        values["flow"] = first_flow * (pressure / first_pressure) ** exponent
        if not low / 2 <= pressure <= high * 2:
            outside = (*outside, "the flow is more than a factor of two beyond the points that were read")
        elif not low <= pressure <= high:
            edge = (*edge, "the flow lies beyond the points that were read")
    remarks = [ROOM]
    if high < 1.5 * low:
        remarks.append("the points lie close together: a small reading error moves the exponent far")
    return Outcome(values, tuple(remarks), outside, edge)


_POINTS = MappingProxyType({"first_pressure": "4 hPa", "first_flow": "16.5 L/min", "second_pressure": "12 hPa"})

FLOW_FIT = Model(
    name="flow-fit",
    title="exponent and size of a passage from two readings",
    formula="n = ln(Q2 / Q1) / ln(p2 / p1); k = Q1 / p1^n; Q = k p^n",
    source="power law of leaks and vents, as in building physics",
    holds="between the two readings, and not far beyond",
    givens=(
        Given("first_pressure", "pressure", "pressure of the first reading", "hPa", low="0.001 hPa"),
        Given("first_flow", "flow", "flow of the first reading", "L/min", low="1e-6 L/min"),
        Given("second_pressure", "pressure", "pressure of the second reading", "hPa", low="0.001 hPa"),
        Given("second_flow", "flow", "flow of the second reading", "L/min", low="1e-6 L/min"),
        Given("pressure", "pressure", "pressure for which the flow is asked", "hPa", "", "0 hPa"),
    ),
    finds=(
        Found("exponent", "number", "", "exponent n"),
        Found("flow_at_1_hPa", "flow", "L/min", "k, the flow at 1 hPa"),
        Found("flow", "flow", "L/min", "flow at the pressure asked for"),
    ),
    function=_fit,
    checks=(
        Check(
            {
                "first_pressure": "2 hPa",
                "first_flow": "11 L/min",
                "second_pressure": "6 hPa",
                "second_flow": "23.5 L/min",
            },
            "exponent",
            "0.690967283",
            "cross-check",
            "library numpy 2.4.6, polyfit of the logarithms",
            rel=1e-8,
        ),
        Check(
            {
                "first_pressure": "2 hPa",
                "first_flow": "11 L/min",
                "second_pressure": "6 hPa",
                "second_flow": "23.5 L/min",
            },
            "flow_at_1_hPa",
            "6.81382236 L/min",
            "cross-check",
            "library numpy 2.4.6, polyfit of the logarithms",
            rel=1e-8,
        ),
        Check({**_POINTS, "second_flow": "30.4 L/min"}, "exponent", "0.556", "constructed", _M2, abs="0.0005"),
        Check({**_POINTS, "second_flow": "30.4 L/min"}, "flow_at_1_hPa", "7.63 L/min", "constructed", _M2, rel=1e-3),
        Check(
            {**_POINTS, "second_flow": "49.5 L/min"},
            "exponent",
            "1",
            "limit",
            "three times the flow at three times the pressure: fabric",
            rel=1e-12,
        ),
        Check(
            {**_POINTS, "second_flow": "30.4 L/min", "pressure": "12 hPa"},
            "flow",
            "30.4 L/min",
            "limit",
            "the fit goes through its points",
            rel=1e-12,
        ),
    ),
    example={**_POINTS, "second_flow": "30.4 L/min"},
    traps=("Did the zero of the gauge stay? At low pressure it moves the exponent.",),
)
