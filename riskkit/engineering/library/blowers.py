"""Where a blower and what stands in its way agree: pressure and flow at the hood."""

from __future__ import annotations

import math
from collections.abc import Callable
from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome
from riskkit.engineering.passages import ROOM, Points, blower, smooth_curve, through_hole

STALL = 0.15
"""Share of the free flow below which blowers stall and surge; a rule of the trade."""

BLOWER_GIVENS = (
    Given("pressure_at_no_flow", "pressure", "blower's pressure at no flow and full speed", "hPa", "", "0.01 hPa"),
    Given("free_flow", "flow", "blower's flow at no pressure and full speed", "L/min", "", "0.01 L/min"),
    Given("curve", "table", "measured curve at full speed, instead of the two", default="", items=("flow", "pressure")),
    Given("speed_ratio", "number", "speed against full speed", default="1", low="0.05", high="2"),
)

RESISTANCE_GIVENS = (
    Given("filter", "flow resistance", "resistance of the filter", "hPa/(L/min)", "0 hPa/(L/min)", "0 hPa/(L/min)"),
    Given("hose", "hPa/(L/min)^2", "quadratic loss of the hose", "hPa/(L/min)^2", "0 hPa/(L/min)^2", "0 hPa/(L/min)^2"),
)


def outflow_valve(opening: float | None, rise: float | None, curve: Points | None) -> Callable[[float], float] | None:
    """Flow through an outflow valve as a function of the pressure before it; None where there is no valve.

    A valve without a rise holds its opening pressure at any flow: above it, the flow is then without bound.

    Raises:
        EngineeringError: both ways of describing it, or a curve that does not rise.
    """
    if curve is not None:
        if opening is not None or rise is not None:
            raise EngineeringError(
                "the outflow valve is known by opening and rise or by its curve: one of both",
                "give valve_opening and valve_rise, or valve_curve",
            )
        flows = [flow for _, flow in curve]
        if flows != sorted(flows) or flows[0] < 0 or curve[0][0] < 0:
            raise EngineeringError(
                "the valve's curve is not monotone: its flow must rise with its pressure, from zero on",
                "write it as pressure: flow, in order",
            )
        between = smooth_curve(curve)
        first, last = curve[0][0], curve[-1][0]

        def measured(pressure: float) -> float:
            if pressure <= first:
                return flows[0] * max(0.0, pressure / first) if first else 0.0
            return between(pressure) if pressure <= last else math.inf

        return measured
    if opening is None and rise is None:
        return None
    opens, rises = opening or 0.0, rise or 0.0

    def by_formula(pressure: float) -> float:
        if pressure <= opens:
            return 0.0
        return math.sqrt((pressure - opens) / rises) if rises else math.inf

    return by_formula


def _operating_point(
    pressure_at_no_flow: float | None,
    free_flow: float | None,
    curve: Points | None,
    speed_ratio: float,
    filter: float,
    hose: float,
    valve_opening: float | None,
    valve_rise: float | None,
    valve_curve: Points | None,
    outlet: str,
    leak_area: float,
    leak_coefficient: float,
    oxygen: float,
    density_ratio: float,
    thin_air: str,
    density: float,
) -> Outcome:
    fan = blower(pressure_at_no_flow, free_flow, curve, speed_ratio, density_ratio)
    passages = density_ratio if thin_air == "everywhere" else 1.0
    rise = None if valve_rise is None else valve_rise * passages
    valve = outflow_valve(valve_opening, rise, valve_curve)
    opens = valve_opening or 0.0
    if valve_curve is not None and valve_curve[0][1] == 0:
        opens = valve_curve[0][0]
    if outlet == "blocked":
        valve = None
    elif valve is None and leak_area == 0:
        raise EngineeringError(
            "nothing lets gas out: there is no outflow valve and no leak",
            "give valve_opening and valve_rise, valve_curve or leak_area; or outlet=blocked",
        )

    def pressure_at(flow: float) -> float:
        return fan.pressure(flow) - filter * flow - passages * hose * flow**2

    def leak_at(pressure: float) -> float:
        return through_hole(leak_area, leak_coefficient, pressure, density * passages)

    def more_goes_out(flow: float) -> float:
        pressure = pressure_at(flow)
        return (valve(pressure) if valve else 0.0) + leak_at(pressure) - flow - oxygen

    flow, points = fan.at(more_goes_out, "the system")
    pressure = pressure_at(flow)
    leak = leak_at(pressure)
    passed = flow + oxygen - leak
    if valve is None or pressure < opens * (1 - 1e-9):
        passed = 0.0
    elif valve_curve is not None and passed > valve_curve[-1][1] * (1 + 1e-9):
        raise EngineeringError(
            f"the valve would have to pass more than its curve ends with ({valve_curve[-1][1] * 60000:.4g} L/min)",
            "measure the valve up to a larger flow",
        )
    share = flow / fan.most
    remarks, outside, edge = [ROOM], [], []
    if points > 1:
        outside.append("blower and system agree at more than one flow: it surges between them; the largest is given")
    if fan.hump is not None and flow <= fan.hump:
        outside.append("the flow is left of the peak of the blower's curve, where it stalls or surges")
    if valve_curve is not None and valve is not None and valve_curve[0][1] > 0 and pressure < valve_curve[0][0]:
        outside.append("the pressure is below the valve's measured curve; a line from no flow stands in for it")
    if valve is not None and passed == 0:
        remarks.append("the outflow valve stays shut at this pressure")
    if flow == 0:
        remarks.append("no flow: the pressure is that of the blower against a blocked outlet")
    elif share < STALL:
        outside.append(f"the flow is {share * 100:.2g} % of the free flow; below 15 % blowers stall and surge")
    elif share < 1.25 * STALL:
        edge.append(f"the flow is {share * 100:.2g} % of the free flow, close to 15 %, where blowers stall and surge")
    if not fan.ends_free:
        remarks.append("the curve ends above no pressure; its last flow stands for the free flow")
    if density_ratio != 1 and thin_air != "everywhere":
        remarks.append("thin air acts on the blower alone here; hose, valve and leak have it too")
    return Outcome(
        {
            "pressure": pressure,
            "flow": flow,
            "outlet_flow": max(0.0, passed),
            "leak_flow": leak,
            "blower_pressure": fan.pressure(flow),
            "share_of_free_flow": share,
        },
        tuple(remarks),
        tuple(outside),
        tuple(edge),
    )


HOOD = MappingProxyType(
    {
        "pressure_at_no_flow": "32 hPa",
        "free_flow": "190 L/min",
        "filter": "0.012 hPa/(L/min)",
        "hose": "8.8e-5 hPa/(L/min)^2",
        "valve_opening": "3.4 hPa",
        "valve_rise": "4.5e-4 hPa/(L/min)^2",
    }
)
"""The hood of the hand-worked sheet."""

_M8 = "hand-worked sheet M8"
_SCIPY = "both balances at once by scipy 1.17.1 (fsolve), leak by the library fluids 1.3.1"
_TOTAL = MappingProxyType({"pressure_at_no_flow": "16 hPa", "free_flow": "100 L/min"})


def _hood(speed_ratio: str, **others: str) -> dict[str, str]:
    return {**HOOD, "speed_ratio": speed_ratio, **others}


def _holds(
    given: dict[str, str], pressure: str, flow: str, wide: str = "0.05 hPa", flow_wide: str = "0.5 L/min"
) -> tuple[Check, Check]:
    return (
        Check(given, "pressure", pressure, "constructed", _M8, abs=wide),
        Check(given, "flow", flow, "constructed", _M8, abs=flow_wide),
    )


OPERATING_POINT = Model(
    name="operating-point",
    title="pressure and flow where a blower and its system agree",
    formula="s^2 p0 - p0 (Q / Q0)^2 = filter Q + hose Q^2 + p; Q + oxygen = sqrt((p - opening) / rise) + C A sqrt(2 p / density)",
    source="fan laws and the balance of flows; a measured curve is followed by monotone interpolation",
    holds="flow above 15 % of the free flow, where blowers do not stall; steady flow",
    givens=(
        *BLOWER_GIVENS,
        *RESISTANCE_GIVENS,
        Given("valve_opening", "pressure", "pressure at which the outflow valve opens", "hPa", "", "0 hPa"),
        Given(
            "valve_rise", "hPa/(L/min)^2", "quadratic rise of the valve above that", "hPa/(L/min)^2", "",
            "0 hPa/(L/min)^2",
        ),
        Given(
            "valve_curve", "table", "measured flow of the valve by pressure, instead of the two", default="",
            items=("pressure", "flow"),
        ),
        Given("outlet", "word", "state of the outlet", default="open", choices=("open", "blocked")),
        Given("leak_area", "area", "leak or open vent at the hood", "mm^2", "0 mm2", "0 mm2"),
        Given("leak_coefficient", "number", "discharge coefficient of the leak", default="0.65", low="0.3", high="1"),
        Given("oxygen", "flow", "oxygen that is added at the hood", "L/min", "0 L/min", "0 L/min"),
        Given("density_ratio", "number", "density of the air against where the curve was measured", default="1",
              low="0.3", high="1.3"),
        Given("thin_air", "word", "where that density acts", default="everywhere", choices=("everywhere", "blower")),
        Given("density", "density", "density of the air where the curve was measured", "kg/m^3", "1.204 kg/m3",
              "0.1 kg/m3", "10 kg/m3"),
    ),
    finds=(
        Found("pressure", "pressure", "hPa", "pressure at the hood"),
        Found("flow", "flow", "L/min", "flow from the blower"),
        Found("outlet_flow", "flow", "L/min", "flow through the outlet"),
        Found("leak_flow", "flow", "L/min", "flow through the leak"),
        Found("blower_pressure", "pressure", "hPa", "pressure at the blower"),
        Found("share_of_free_flow", "fraction", "percent", "flow against the free flow at this speed"),
    ),
    function=_operating_point,
    checks=(
        Check(_hood("0.536"), "pressure", "5.00392528 hPa", "cross-check", _SCIPY, rel=1e-8),
        Check(_hood("0.536"), "flow", "59.7015789 L/min", "cross-check", _SCIPY, rel=1e-8),
        Check(_hood("0.7", leak_area="25 mm2"), "pressure", "5.43587216 hPa", "cross-check", _SCIPY, rel=1e-8),
        Check(_hood("0.7", leak_area="25 mm2"), "flow", "96.5600821 L/min", "cross-check", _SCIPY, rel=1e-8),
        *_holds(_hood("0.536"), "5.0 hPa", "59.6 L/min", flow_wide="0.15 L/min"),
        *_holds(_hood("0.838"), "9.0 hPa", "111.6 L/min", flow_wide="0.05 L/min"),
        *_holds(_hood("1"), "11.9 hPa", "137.5 L/min", flow_wide="0.05 L/min"),
        *_holds(_hood("0.536", filter="0.060 hPa/(L/min)"), "4.35 hPa", "46 L/min", wide="0.01 hPa"),
        *_holds(_hood("0.536", density_ratio="0.74", thin_air="blower"), "4.45 hPa", "48 L/min", "0.02 hPa", "0.7 L/min"),
        *_holds(_hood("0.536", outlet="blocked"), "9.2 hPa", "0 L/min"),
        Check(_hood("1", outlet="blocked"), "pressure", "32 hPa", "constructed", _M8, rel=1e-12),
        Check(_hood("0.536", leak_area="60 mm2"), "pressure", "3.5 hPa", "constructed", _M8, abs="0.05 hPa"),
        Check(_hood("0.536", leak_area="60 mm2"), "outlet_flow", "14 L/min", "constructed", _M8, abs="0.5 L/min"),
        Check(_hood("0.536", leak_area="150 mm2"), "pressure", "1.25 hPa", "constructed", _M8, abs="0.005 hPa"),
        Check(
            {**_TOTAL, "valve_opening": "0 hPa", "valve_rise": "0.0016 hPa/(L/min)^2"},
            "flow",
            "70.71068 L/min",
            "cross-check",
            "closed form: the system's parabola equals the blower's fall, so Q = Q0 / sqrt(2) and p = p0 / 2",
            rel=1e-7,
        ),
        Check(
            {**_TOTAL, "valve_opening": "12 hPa", "valve_rise": "0 hPa/(L/min)^2"},
            "flow",
            "50 L/min",
            "limit",
            "a valve that holds 12 of 16 hPa leaves half of the free flow",
            rel=1e-9,
        ),
    ),
    example=_hood("0.536"),
    traps=(
        "Was the curve measured with this filter, at this height above the sea?",
        "A loaded filter takes more of the flow than of the pressure: does anything watch the flow?",
        "Thin air acts on the blower, and on hose, valve and leak too; the filter keeps its loss.",
    ),
    aliases=("blower-and-system",),
)  # fmt: skip
