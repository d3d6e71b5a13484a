"""Leaks: a gap, a fabric, an uncovered nose; and what they leave of the pressure."""

from __future__ import annotations

import math
from types import MappingProxyType

from riskkit.engineering.library.blowers import BLOWER_GIVENS
from riskkit.engineering.library.hoses import HOSE_GIVENS
from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome
from riskkit.engineering.passages import ROOM, Hose, Points, blower, falling_root, through_hole

HECTOPASCAL = 100.0


def _leak(
    pressure: float,
    reference_flow: float,
    reference_pressure: float,
    exponent: float,
    share: float,
    further: tuple[float, ...],
) -> Outcome:
    if any(each < 0 for each in further):
        raise EngineeringError("a leak has a flow below zero", "give each leak's flow at the reference pressure")
    at_reference = share * reference_flow + sum(further)
    return Outcome(
        {
            "flow": at_reference * (pressure / reference_pressure) ** exponent,
            "flow_at_1_hPa": at_reference * (HECTOPASCAL / reference_pressure) ** exponent,
        },
        (ROOM,),
    )


_M7 = "hand-worked sheet M7"
_NOSE = MappingProxyType({"reference_flow": "0.6 L/s", "reference_pressure": "1.5 hPa"})

LEAK = Model(
    name="leak",
    title="flow through a leak, or through several beside each other",
    formula="Q = (share reference_flow + further) (pressure / reference_pressure)^exponent",
    source="power law of leaks, as in building physics; leaks at one pressure add",
    holds="exponent 0.5 (turbulent gap) to 1 (fabric), near the pressure of the reading, all leaks with one exponent",
    givens=(
        Given("pressure", "pressure", "pressure across the leak", "hPa", low="0 hPa"),
        Given("reference_flow", "flow", "flow that was read", "L/min", low="0 L/min"),
        Given("reference_pressure", "pressure", "pressure at which it was read", "hPa", "1 hPa", "0.001 hPa"),
        Given(
            "exponent",
            "number",
            "exponent",
            default="0.5",
            low="0.5",
            high="1",
            outside="marked",
            asks="the leak is taken as a gap (exponent 0.5); a fabric has 1: fit two points with flow-fit",
        ),
        Given("share", "number", "share of it that is open", default="1", low="0", high="1"),
        Given("further", "list", "flows of further leaks at that pressure", default="0 L/min", items=("flow",)),
    ),
    finds=(
        Found("flow", "flow", "L/min", "flow through all leaks"),
        Found("flow_at_1_hPa", "flow", "L/min", "k, the flow at 1 hPa"),
    ),
    function=_leak,
    checks=(
        Check(
            {"pressure": "20 hPa", "reference_flow": "13.2770113 L/min", "reference_pressure": "5 hPa"},
            "flow",
            "26.5540227 L/min",
            "cross-check",
            "a hole of 4 mm at both pressures by the library fluids 1.3.1, flow_meter_discharge",
            rel=1e-7,
        ),
        Check({**_NOSE, "pressure": "1 hPa"}, "flow", "29.4 L/min", "constructed", _M7, abs="0.05 L/min"),
        Check({**_NOSE, "pressure": "0 hPa"}, "flow", "0 L/min", "limit", "no pressure, no flow", abs="1e-9 L/min"),
        Check({**_NOSE, "pressure": "1.5 hPa"}, "flow", "36 L/min", "limit", "at the reading, the reading", rel=1e-12),
        Check(
            {"pressure": "4 hPa", "reference_flow": "3 L/min", "further": "2 L/min, 5 L/min"},
            "flow",
            "20 L/min",
            "limit",
            "leaks add: 10 L/min at 1 hPa is 20 L/min at 4 hPa",
            rel=1e-12,
        ),
    ),
    example={**_NOSE, "pressure": "5 hPa"},
    traps=("Does the leak open further as the pressure rises? Then no single exponent holds.",),
)


def _open_nose(
    pressure_at_no_flow: float | None,
    free_flow: float | None,
    curve: Points | None,
    speed_ratio: float,
    vent_area: float,
    vent_coefficient: float,
    nose_flow: float,
    nose_exponent: float,
    nose_open: float,
    bore: float,
    length: float,
    fittings: float,
    corrugation: float,
    density: float,
    viscosity: float,
) -> Outcome:
    fan = blower(pressure_at_no_flow, free_flow, curve, speed_ratio)
    hose = Hose(bore, length, fittings, corrugation, density, viscosity)

    def vent(pressure: float) -> float:
        return through_hole(vent_area, vent_coefficient, pressure, density)

    def nose(pressure: float, share: float) -> float:
        return math.copysign(share * nose_flow * (abs(pressure) / HECTOPASCAL) ** nose_exponent, pressure)

    def pressure_at(flow: float) -> float:
        return fan.pressure(flow) - hose.drop(flow)

    def settle(share: float) -> tuple[float, float, int]:
        flow, points = fan.at(
            lambda flow: vent(pressure_at(flow)) + nose(pressure_at(flow), share) - flow, "vent and nose"
        )
        return flow, pressure_at(flow), points

    flow, pressure, points = settle(nose_open)
    _, closed, _ = settle(0.0)
    to_hold = vent(closed) + nose(closed, nose_open)
    wanted = closed + hose.drop(to_hold)

    def too_slow(ratio: float) -> float:
        faster = blower(pressure_at_no_flow, free_flow, curve, ratio)
        return wanted - faster.pressure(to_hold) if to_hold <= faster.most else math.inf

    fastest = speed_ratio * 2
    while too_slow(fastest) > 0:
        fastest *= 2
    speed = falling_root(too_slow, speed_ratio / 2, fastest) if nose_open else speed_ratio
    remarks = [
        ROOM,
        "the pressure at the machine says little about the mouth, and the soft palate may close: analyse both",
    ]
    outside, edge = [], []
    if speed > speed_ratio * 1.05:
        remarks.append(f"to hold the pressure takes about {(speed / speed_ratio) ** 3:.1f} times the power")
    if 0 < flow < 0.15 * fan.most:
        outside.append(
            f"the flow is {flow / fan.most * 100:.2g} % of the free flow; below 15 % blowers stall and surge"
        )
    if points > 1:
        outside.append("blower and system agree at more than one flow: it surges between them; the largest is given")
    if 2000 <= hose.reynolds(flow) <= 4000:
        edge.append("the flow in the hose is between laminar and turbulent; its loss is uncertain by a factor of two")
    return Outcome(
        {
            "pressure": pressure,
            "flow": flow,
            "vent_flow": vent(pressure),
            "nose_leak": nose(pressure, nose_open),
            "closed_pressure": closed,
            "flow_to_hold": to_hold,
            "speed_to_hold": speed / speed_ratio,
            "power_to_hold": (speed / speed_ratio) ** 3,
        },
        tuple(remarks),
        tuple(outside),
        tuple(edge),
    )


_MOUTHPIECE = MappingProxyType(
    {
        "pressure_at_no_flow": "18 hPa",
        "free_flow": "150 L/min",
        "bore": "19.5 mm",
        "length": "1.6 m",
        "fittings": "1.5",
        "vent_area": "12.566 mm2",
        "nose_flow": "29.4 L/min",
    }
)


_FLUIDS = "friction, losses and vent by the library fluids 1.3.1, root by scipy 1.17.1 (brentq)"


def _nose(share: str) -> dict[str, str]:
    return {**_MOUTHPIECE, "nose_open": share}


OPEN_NOSE = Model(
    name="open-nose",
    title="pressure that a mouthpiece keeps while the nose is uncovered",
    formula="s^2 p0 - p0 (Q / Q0)^2 = hose(Q) + p; Q = C A sqrt(2 p / density) + nose_open nose_flow (p / 1 hPa)^n",
    source="fan laws, Darcy and Weisbach, orifice equation, power law of the nasal passages",
    holds="steady, mouth and nose at one pressure, no breathing; a bench estimate of a bench model of the passages",
    givens=(
        *BLOWER_GIVENS,
        Given("vent_area", "area", "open area of the vent", "mm^2", low="0 mm2"),
        Given("vent_coefficient", "number", "discharge coefficient of the vent", default="0.65", low="0.3", high="1"),
        Given(
            "nose_flow",
            "flow",
            "flow through both nasal passages at 1 hPa",
            "L/min",
            "29.4 L/min",
            "0 L/min",
            asks="29.4 L/min at 1 hPa is taken for both nasal passages (0.6 L/s at 1.5 hPa); the spread is wide",
        ),
        Given("nose_exponent", "number", "exponent of the nasal passages", default="0.5", low="0.5", high="1"),
        Given("nose_open", "number", "share of the nasal passages that is open", default="1", low="0", high="1"),
        *HOSE_GIVENS,
    ),
    finds=(
        Found("pressure", "pressure", "hPa", "pressure at the mouth"),
        Found("flow", "flow", "L/min", "flow from the blower"),
        Found("vent_flow", "flow", "L/min", "flow through the vent"),
        Found("nose_leak", "flow", "L/min", "flow out of the nose"),
        Found("closed_pressure", "pressure", "hPa", "pressure with the nose closed"),
        Found("flow_to_hold", "flow", "L/min", "flow that would hold that pressure"),
        Found("speed_to_hold", "number", "", "speed that would hold it, against the present one"),
        Found("power_to_hold", "number", "", "power that would hold it, against the present one"),
    ),
    function=_open_nose,
    checks=(
        Check(_nose("0.5"), "pressure", "12.9425194 hPa", "cross-check", _FLUIDS, rel=1e-6),
        Check(_nose("1"), "pressure", "8.47833534 hPa", "cross-check", _FLUIDS, rel=1e-6),
        Check(_nose("0"), "pressure", "17.4 hPa", "constructed", _M7, abs="0.05 hPa"),
        Check(_nose("0"), "flow", "26 L/min", "constructed", _M7, abs="0.5 L/min"),
        Check(_nose("0.25"), "pressure", "15.4 hPa", "constructed", _M7, abs="0.05 hPa"),
        Check(_nose("0.5"), "pressure", "12.9 hPa", "constructed", _M7, abs="0.05 hPa"),
        Check(
            _nose("1"),
            "pressure",
            "8.4 hPa",
            "constructed",
            f"{_M7}; here 8.48 hPa, one in the last printed digit",
            abs="0.1 hPa",
        ),
        Check(_nose("1"), "flow_to_hold", "149 L/min", "constructed", _M7, abs="0.5 L/min"),
        Check(
            _nose("1"),
            "speed_to_hold",
            "1.44",
            "constructed",
            f"{_M7}; here 1.430, one in the last printed digit",
            abs="0.011",
        ),
        Check(_nose("1"), "power_to_hold", "3", "constructed", f"{_M7}, `about 3`", abs="0.1"),
        Check(
            {**_nose("1"), "length": "0 m", "fittings": "0", "vent_area": "0 mm2", "nose_flow": "15 L/min"},
            "pressure",
            "15.25424 hPa",
            "cross-check",
            "closed form: p (1 + p0 (k / Q0)^2) = p0 with k 15 L/min at 1 hPa, so 18 / 1.18",
            rel=1e-6,
        ),
    ),
    example=_nose("0.5"),
    traps=(
        "Is there a nose clip, and does it stay?",
        "With the soft palate closed the leak vanishes: is the higher pressure analysed too?",
        "Where is the pressure measured: at the machine, or at the mouth?",
    ),
    aliases=("mouthpiece",),
)
