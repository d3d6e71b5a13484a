"""Relief valves: when they open, and what they pass at the pressure that may not be passed."""

from __future__ import annotations

import math
from types import MappingProxyType

from riskkit.engineering.library.blowers import BLOWER_GIVENS, HOOD, RESISTANCE_GIVENS
from riskkit.engineering.library.instruments import water_density
from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome
from riskkit.engineering.passages import GRAVITY, ROOM, Points, blower, through_hole

_CAPACITY = (
    Given("allowed", "pressure", "pressure that may not be passed", "hPa", "", "0.01 hPa"),
    Given("blower_flow", "flow", "flow that the blower still gives at that pressure", "L/min", "", "0 L/min"),
    Given("oxygen", "flow", "oxygen that flows in besides", "L/min", "0 L/min", "0 L/min"),
    Given(
        "coefficient",
        "number",
        "discharge coefficient of the open valve",
        default="0.6",
        low="0.3",
        high="1",
        asks="0.6 is taken for the open valve: measure it",
    ),
    Given("density", "density", "density of the gas", "kg/m^3", "1.204 kg/m3", "0.1 kg/m3", "10 kg/m3"),
)
_DISC = Given("disc", "length", "diameter of the disc over its seat", "mm", low="1 mm", high="300 mm")
_OPENING = Found("opening_pressure", "pressure", "hPa", "pressure at which it opens")
_NEEDED = (
    Found("area", "area", "mm^2", "open area that the flow needs"),
    Found("lift", "length", "mm", "lift that the flow needs"),
    Found("total_flow", "flow", "L/min", "flow that it has to pass"),
)


def _needed(
    opening: float,
    disc: float,
    allowed: float | None,
    blower_flow: float | None,
    oxygen: float,
    coefficient: float,
    density: float,
) -> tuple[dict[str, float], list[str]]:
    """Area and lift for the flow at the allowed pressure, and where the formula does not hold."""
    if blower_flow is not None and allowed is None:
        raise EngineeringError(
            "a flow is given, and no pressure at which it has to pass", "give allowed: the pressure not to be passed"
        )
    if allowed is None or (blower_flow is None and oxygen == 0):
        return {}, []
    total = (blower_flow or 0.0) + oxygen
    area = total / through_hole(1.0, coefficient, allowed, density)
    lift = area / (math.pi * disc)
    outside = []
    if allowed <= opening:
        outside.append("the valve is still closed at the allowed pressure")
    if lift > disc / 4:
        outside.append("a lift above a quarter of the disc opens no more: the bore of the seat is then the narrowest")
    return {"area": area, "lift": lift, "total_flow": total}, outside


def _weighted(
    mass: float,
    disc: float,
    tilt: float,
    allowed: float | None,
    blower_flow: float | None,
    oxygen: float,
    coefficient: float,
    density: float,
) -> Outcome:
    opening = mass * GRAVITY * max(0.0, math.cos(tilt)) / (math.pi * disc**2 / 4)
    needed, outside = _needed(opening, disc, allowed, blower_flow, oxygen, coefficient, density)
    remarks = [ROOM] if needed else []
    remarks.append("a weight works upright only: on its side it presses on no seat, and the valve is open")
    if tilt > math.radians(60):
        outside.append("tilted by more than 60 degrees the disc slides instead of lifting")
    return Outcome({"opening_pressure": opening, **needed}, tuple(remarks), tuple(outside))


_M9 = "hand-worked sheet M9"
_FLUIDS = "library fluids 1.3.1, flow_meter_discharge with this coefficient, root by scipy 1.17.1"
_WEIGHT = MappingProxyType({"mass": "83.0 g", "disc": "24 mm"})
_DEMO_FLOW = MappingProxyType(
    {"allowed": "20 hPa", "blower_flow": "105 L/min", "oxygen": "5 L/min", "coefficient": "0.6"}
)

WEIGHTED_RELIEF = Model(
    name="weighted-relief",
    title="opening pressure of a weighted disc, and the lift that a flow needs",
    formula="p = mass g cos(tilt) / (pi disc^2 / 4); A = Q / (coefficient sqrt(2 allowed / density)); lift = A / (pi disc)",
    source="weight over area, and the orifice equation",
    holds="upright, clean and dry seat, no sticking, lift up to a quarter of the disc",
    givens=(
        Given("mass", "mass", "mass of disc and weights", "g", low="0 g"),
        _DISC,
        Given("tilt", "angle", "tilt from upright", "deg", "0 deg", "0 deg", "90 deg"),
        *_CAPACITY,
    ),
    finds=(_OPENING, *_NEEDED),
    function=_weighted,
    checks=(
        Check({**_WEIGHT, **_DEMO_FLOW}, "area", "53.0119076 mm2", "cross-check", _FLUIDS, rel=1e-7),
        Check(_WEIGHT, "opening_pressure", "18.0 hPa", "constructed", _M9, abs="0.02 hPa"),
        Check({**_WEIGHT, **_DEMO_FLOW}, "area", "53 mm2", "constructed", _M9, abs="0.5 mm2"),
        Check({**_WEIGHT, **_DEMO_FLOW}, "lift", "0.70 mm", "constructed", _M9, abs="0.005 mm"),
        Check(
            {**_WEIGHT, "tilt": "90 deg"},
            "opening_pressure",
            "0 hPa",
            "limit",
            "on its side: no weight",
            abs="1e-9 hPa",
        ),
        Check({**_WEIGHT, "tilt": "60 deg"}, "opening_pressure", "9.0 hPa", "limit", "half of upright", abs="0.01 hPa"),
    ),
    example={**_WEIGHT, **_DEMO_FLOW},
    traps=(
        "Upright in use, on the floor, on a bed? On its side it does nothing.",
        "Was the lift measured with gas flowing, wet and after a week's rest?",
        "Is the outlet of the valve free when the device lies in bedding?",
    ),
    aliases=("relief-valve",),
)


def _spring(
    rate: float,
    preload: float,
    disc: float,
    allowed: float | None,
    blower_flow: float | None,
    oxygen: float,
    coefficient: float,
    density: float,
) -> Outcome:
    seat = math.pi * disc**2 / 4
    opening = rate * preload / seat
    needed, outside = _needed(opening, disc, allowed, blower_flow, oxygen, coefficient, density)
    remarks = [ROOM] if needed else []
    values = {"opening_pressure": opening, **needed}
    if allowed is not None:
        if rate == 0:
            raise EngineeringError("a spring without a rate holds nothing", "give its rate, such as 200 N/m")
        reached = max(0.0, allowed * seat / rate - preload)
        passed = through_hole(math.pi * disc * min(reached, disc / 4), coefficient, allowed, density)
        values |= {"reached_lift": reached, "passed_flow": passed}
        if needed and passed < needed["total_flow"]:
            remarks.append("at the allowed pressure the spring has not lifted far enough: the pressure goes beyond it")
    return Outcome(values, tuple(remarks), tuple(outside))


_SPRING = MappingProxyType({"rate": "200 N/m", "preload": "4.0715 mm", "disc": "24 mm"})

SPRING_RELIEF = Model(
    name="spring-relief",
    title="opening pressure of a spring-loaded disc, and what it passes at the allowed pressure",
    formula="p = rate preload / (pi disc^2 / 4); lift = p_allowed area / rate - preload",
    source="Hooke's law over area, and the orifice equation",
    holds="static, pressure on the whole disc also when it is open, clean seat, lift up to a quarter of the disc",
    givens=(
        Given("rate", "spring rate", "rate of the spring", "N/m", low="0 N/m"),
        Given("preload", "length", "length by which it is pressed when closed", "mm", low="0 mm"),
        _DISC,
        *_CAPACITY,
    ),
    finds=(
        _OPENING,
        *_NEEDED,
        Found("reached_lift", "length", "mm", "lift at the allowed pressure"),
        Found("passed_flow", "flow", "L/min", "flow that passes at the allowed pressure"),
    ),
    function=_spring,
    checks=(
        Check({**_SPRING, "allowed": "20 hPa"}, "passed_flow", "70.777733 L/min", "cross-check", _FLUIDS, rel=1e-7),
        Check(_SPRING, "opening_pressure", "18.0 hPa", "constructed", "200 N/m by 4.0715 mm over 452.39 mm2, by hand"),
        Check(
            {**_SPRING, "allowed": "20 hPa"},
            "reached_lift",
            "0.4524 mm",
            "constructed",
            "2 hPa over 452.39 mm2 is 90.48 mN, over 200 N/m, by hand",
            rel=1e-3,
        ),
        Check(
            {**_SPRING, "allowed": "18 hPa"}, "reached_lift", "0 mm", "limit", "at the opening pressure", abs="0.001 mm"
        ),
    ),
    example={**_SPRING, **_DEMO_FLOW},
    traps=(
        "How much does the pressure rise until the spring has lifted far enough?",
        "Does the spring touch coil on coil before that?",
    ),
)


def _water_seal(depth: float, temperature: float, density: float | None, tilt: float) -> Outcome:
    liquid = water_density(temperature) if density is None else density
    remarks = ["water evaporates and spills: the depth of today is not that of tomorrow"]
    if tilt:
        remarks.append("tilted, the tube's end is less deep; bubbles make the pressure swing besides")
    return Outcome({"opening_pressure": liquid * GRAVITY * depth * math.cos(tilt), "density": liquid}, tuple(remarks))


_TANAKA = "water density by Tanaka et al., Metrologia 38 (2001) 301, air-free at 101325 Pa"
_DENSITIES = (
    ("4 degC", "999.9749 kg/m3"),
    ("10 degC", "999.7027 kg/m3"),
    ("15 degC", "999.1026 kg/m3"),
    ("20 degC", "998.2067 kg/m3"),
    ("25 degC", "997.0470 kg/m3"),
    ("30 degC", "995.6488 kg/m3"),
    ("40 degC", "992.2152 kg/m3"),
)

WATER_SEAL = Model(
    name="water-seal",
    title="pressure at which a tube under water lets gas out",
    formula="p = density g depth cos(tilt)",
    source="hydrostatics; water density by Tanaka et al., Metrologia 38 (2001) 301",
    holds="0 to 40 °C, steady, wide tube; bubbling swings around it",
    givens=(
        Given("depth", "length", "depth of the tube's end under the surface", "mm", low="0 mm", high="5 m"),
        Given("temperature", "temperature", "temperature of the water", "degC", "20 degC", "0 degC", "40 degC"),
        Given("density", "density", "density, where it is not water", "kg/m^3", "", "500 kg/m3", "14000 kg/m3"),
        Given("tilt", "angle", "tilt from upright", "deg", "0 deg", "0 deg", "60 deg"),
    ),
    finds=(_OPENING, Found("density", "density", "kg/m^3", "density of the liquid")),
    function=_water_seal,
    checks=(
        Check({"depth": "184 mm"}, "opening_pressure", "18 hPa", "constructed", _M9, abs="0.05 hPa"),
        *(
            Check({"depth": "0 mm", "temperature": warm}, "density", density, "published", _TANAKA, rel=5e-7)
            for warm, density in _DENSITIES
        ),
        Check(
            {"depth": "1 cm", "density": "1000 kg/m3"},
            "opening_pressure",
            "98.0665 Pa",
            "published",
            "conventional centimetre of water, NIST SP 811 (2008) B.8, from memory",
            rel=1e-9,
        ),
        Check({"depth": "0 mm"}, "opening_pressure", "0 hPa", "limit", "no water, no seal", abs="1e-9 hPa"),
    ),
    example={"depth": "184 mm"},
    traps=("Who fills it up, and how is the depth seen?", "Does the water run into the hose when it tips over?"),
)


def _capacity(
    allowed: float,
    pressure_at_no_flow: float | None,
    free_flow: float | None,
    curve: Points | None,
    speed_ratio: float,
    filter: float,
    hose: float,
    oxygen: float,
    coefficient: float,
    density: float,
    disc: float | None,
    lift: float | None,
) -> Outcome:
    fan = blower(pressure_at_no_flow, free_flow, curve, speed_ratio)
    outside, remarks = [], [ROOM]

    def surplus(flow: float) -> float:
        return fan.pressure(flow) - filter * flow - hose * flow**2 - allowed

    if fan.least == 0 and surplus(fan.most) <= 0 and not fan.agreements(surplus):
        flow = 0.0
        remarks.append("the blower alone does not reach the allowed pressure at this speed")
    else:
        flow, _ = fan.at(surplus, "a relief valve at the allowed pressure")
    total = flow + oxygen
    values = {"blower_flow": flow, "total_flow": total}
    values["area"] = total / through_hole(1.0, coefficient, allowed, density)
    if disc is not None:
        values["lift"] = values["area"] / (math.pi * disc)
        if max(values["lift"], lift or 0.0) > disc / 4:
            outside.append("a lift above a quarter of the disc opens no more: the bore of the seat is the narrowest")
    if lift is not None:
        if disc is None:
            raise EngineeringError("a lift is given, and no disc", "give disc: the diameter of the disc over its seat")
        values["passed_flow"] = through_hole(math.pi * disc * lift, coefficient, allowed, density)
    return Outcome(values, tuple(remarks), tuple(outside))


_BLOWER = MappingProxyType({name: HOOD[name] for name in ("pressure_at_no_flow", "free_flow", "filter", "hose")})
_RELIEF = MappingProxyType(
    {**_BLOWER, "allowed": "20 hPa", "oxygen": "5 L/min", "coefficient": "0.6", "disc": "24 mm", "lift": "3 mm"}
)

RELIEF_CAPACITY = Model(
    name="relief-capacity",
    title="area and lift of a relief valve that has to pass all that blower and oxygen give",
    formula="s^2 p0 - p0 (Q / Q0)^2 = filter Q + hose Q^2 + allowed; A = (Q + oxygen) / (coefficient sqrt(2 allowed / density))",
    source="fan laws and the orifice equation",
    holds="outlet blocked, steady, air of the density of the curve, lift up to a quarter of the disc",
    givens=(
        Given("allowed", "pressure", "pressure that may not be passed", "hPa", low="0.01 hPa"),
        *BLOWER_GIVENS,
        *RESISTANCE_GIVENS,
        *_CAPACITY[2:],
        Given("disc", "length", "diameter of the disc over its seat", "mm", "", "1 mm", "300 mm"),
        Given("lift", "length", "lift for which the flow is asked", "mm", "", "0 mm"),
    ),
    finds=(
        Found("area", "area", "mm^2", "open area that is needed"),
        Found("blower_flow", "flow", "L/min", "flow that the blower still gives"),
        Found("total_flow", "flow", "L/min", "flow that has to pass"),
        Found("lift", "length", "mm", "lift that is needed"),
        Found("passed_flow", "flow", "L/min", "flow that passes at the lift asked for"),
    ),
    function=_capacity,
    checks=(
        Check(
            _RELIEF,
            "blower_flow",
            "104.985905 L/min",
            "cross-check",
            "root of the balance by scipy 1.17.1 (brentq)",
            rel=1e-8,
        ),
        Check(_RELIEF, "blower_flow", "105 L/min", "constructed", _M9, abs="0.5 L/min"),
        Check(_RELIEF, "area", "53 mm2", "constructed", _M9, abs="0.5 mm2"),
        Check(_RELIEF, "lift", "0.70 mm", "constructed", _M9, abs="0.005 mm"),
        Check(_RELIEF, "passed_flow", "469 L/min", "constructed", _M9, abs="0.5 L/min"),
        Check(
            {**_RELIEF, "allowed": "33 hPa"}, "blower_flow", "0 L/min", "limit", "above the dead-head", abs="0 L/min"
        ),
    ),
    example=_RELIEF,
    traps=("At full speed, whatever the firmware commands?", "Is the filter new, which gives the most flow?"),
)
