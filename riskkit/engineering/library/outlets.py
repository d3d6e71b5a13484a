"""Blocked outlets: how fast the pressure rises in a space that nothing leaves any more."""

from __future__ import annotations

from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome
from riskkit.engineering.passages import ROOM


def _blocked(
    from_pressure: float,
    to_pressure: float,
    volume: float,
    wall: float,
    ambient: float,
    flow: float,
    oxygen: float | None,
    pressure_at_no_flow: float | None,
    speed_ratio: float,
) -> Outcome:
    if to_pressure < from_pressure:
        raise EngineeringError("the pressure rises when the outlet is blocked", "give to_pressure above from_pressure")
    compliance = volume / ambient + wall
    stored = compliance * (to_pressure - from_pressure)
    values = {"time": stored / flow, "compliance": compliance, "volume_to_fill": stored}
    remarks = [ROOM, "the flow is taken as constant, which gives the shortest time; a blower gives less as it rises"]
    if oxygen:
        values["time_on_oxygen"] = stored / oxygen
        remarks.append("oxygen into a closed space has no dead-head: the pressure of its supply is the limit")
    if pressure_at_no_flow is not None:
        values["end_pressure"] = speed_ratio**2 * pressure_at_no_flow
        if values["end_pressure"] < to_pressure:
            remarks.append(
                f"the blower alone ends at {values['end_pressure'] / 100:.3g} hPa at this speed and never gets "
                f"to {to_pressure / 100:.3g} hPa; the time is for a source that keeps its flow"
            )
    return Outcome(values, tuple(remarks))


_M10 = "hand-worked sheet M10"
_CLOSED = MappingProxyType({"volume": "9.5 L", "wall": "35 mL/hPa", "from_pressure": "5 hPa", "to_pressure": "18 hPa"})

BLOCKED_OUTLET = Model(
    name="blocked-outlet",
    title="time from a blocked outlet to a pressure",
    formula="t = (volume / ambient + wall) (to_pressure - from_pressure) / flow; end = s^2 p0",
    source="ideal gas at constant temperature, and the wall's compliance",
    holds="no leak, relief valve shut, constant flow (the shortest time), wall in its linear range",
    givens=(
        Given("from_pressure", "pressure", "pressure at which it begins", "hPa", low="0 hPa"),
        Given("to_pressure", "pressure", "pressure that is looked for", "hPa", low="0 hPa"),
        Given("volume", "volume", "gas in the closed space", "L", low="0 L"),
        Given("flow", "flow", "flow that goes in", "L/min", low="0.001 L/min"),
        Given(
            "wall",
            "compliance",
            "compliance of the wall",
            "mL/hPa",
            "0 mL/hPa",
            "0 mL/hPa",
            asks="the wall is taken as rigid, which gives the shortest time; measure it with a syringe",
        ),
        Given("ambient", "pressure", "pressure of the air around", "hPa", "1013.25 hPa", "300 hPa", "1200 hPa"),
        Given("oxygen", "flow", "oxygen that goes on when the blower has stopped", "L/min", "", "0 L/min"),
        Given("pressure_at_no_flow", "pressure", "blower's pressure at no flow and full speed", "hPa", "", "0 hPa"),
        Given("speed_ratio", "number", "speed against full speed", default="1", low="0", high="2"),
    ),
    finds=(
        Found("time", "time", "s", "time to the pressure"),
        Found("compliance", "compliance", "mL/hPa", "compliance of gas and wall"),
        Found("volume_to_fill", "volume", "mL", "gas that goes in until then"),
        Found("time_on_oxygen", "time", "s", "time to the pressure on oxygen alone"),
        Found("end_pressure", "pressure", "hPa", "pressure at which the blower alone ends"),
    ),
    function=_blocked,
    checks=(
        Check({**_CLOSED, "flow": "60 L/min"}, "time", "0.57688502 s", "cross-check", "dp/dt = Q / C integrated by scipy 1.17.1 (solve_ivp) up to 18 hPa", rel=1e-7),
        Check({**_CLOSED, "flow": "60 L/min"}, "compliance", "44.4 mL/hPa", "constructed", _M10, abs="0.05 mL/hPa"),
        Check({**_CLOSED, "flow": "60 L/min"}, "time", "0.58 s", "constructed", _M10, abs="0.005 s"),
        Check({**_CLOSED, "flow": "5 L/min"}, "time", "6.9 s", "constructed", _M10, abs="0.05 s"),
        Check(
            {**_CLOSED, "flow": "60 L/min", "oxygen": "5 L/min"}, "time_on_oxygen", "6.9 s", "constructed", _M10,
            abs="0.05 s",
        ),
        Check(
            {**_CLOSED, "flow": "60 L/min", "pressure_at_no_flow": "32 hPa", "speed_ratio": "0.536"},
            "end_pressure",
            "9.2 hPa",
            "constructed",
            "hand-worked sheet M8",
            abs="0.05 hPa",
        ),
        Check({**_CLOSED, "to_pressure": "5 hPa", "flow": "60 L/min"}, "time", "0 s", "limit", "already at that pressure", abs="1e-12 s"),
    ),
    example={**_CLOSED, "flow": "60 L/min", "oxygen": "5 L/min"},
    traps=(
        "A relief valve acts faster than software: is there one?",
        "With the blower stopped, does oxygen go on, and is there a check valve behind it?",
        "Head inside: is its volume taken off?",
    ),
)  # fmt: skip
