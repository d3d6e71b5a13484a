"""A space that gas is blown through: how much carbon dioxide stays in it, and how fast that rises when the flow stops."""

from __future__ import annotations

import math

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

NO_LONGER_GIVEN_OFF = 0.06
"""Fraction of carbon dioxide above which a body does not go on giving it off as before: about that of alveolar gas."""

ROOM = "litres of gas are at room condition; production of a body is mostly stated dry at 0 °C, which is about 8 % fewer litres"
MARK = "the mark is an assumption that was typed in; its owner should be a clinician"
WHOLE_VOLUME = (
    "the volume is taken as free gas: a head takes 4 to 5 L of a hood; give `head` where the hood was measured empty"
)


def _well_mixed_space(
    carbon_dioxide: float,
    flow: float,
    volume: float | None,
    head: float | None,
    inlet: float,
    begins: float | None,
    mark: float | None,
    time: float | None,
) -> Outcome:
    remarks = [ROOM]
    free = _free_volume(volume, head, remarks)
    if flow == 0 and free is None:
        raise EngineeringError("well-mixed-space without flow needs `volume`", 'add volume="9.5 L": the free gas in it')
    steady = inlet + carbon_dioxide / flow if flow > 0 else math.inf
    start = inlet if begins is None else begins
    values: dict[str, float] = {}
    if flow > 0:
        values["steady"] = steady
    if mark is not None:
        remarks.append(MARK)
        if mark > inlet:
            values["flow_for_mark"] = carbon_dioxide / (mark - inlet)
    if free is not None:
        values["rise_per_minute"] = carbon_dioxide / free
        if flow > 0:
            values["time_constant"] = free / flow
        if begins is None and (mark is not None or time is not None):
            remarks.append("it begins with the gas that flows in; give `begins` where it does not")
        slope = (carbon_dioxide + flow * (inlet - start)) / free
        if mark is not None:
            reached = _time_to(mark - start, slope, flow / free)
            if reached is None:
                remarks.append(_never(mark, start, steady))
            else:
                values["time_to_mark"] = reached
        if time is not None:
            values["after"] = start + slope * time * _slowing(flow * time / free)
    elif time is not None:
        raise EngineeringError("well-mixed-space needs `volume` for a time", 'add volume="9.5 L": the free gas in it')
    highest = max([start, mark or 0.0, *(values[each] for each in ("steady", "after") if each in values)])
    outside = (
        (
            f"more than {NO_LONGER_GIVEN_OFF * 100:.0f} % carbon dioxide: "
            "a body no longer gives it off at the rate that was typed in",
        )
        if highest > NO_LONGER_GIVEN_OFF
        else ()
    )
    return Outcome(values, tuple(remarks), outside)


def _free_volume(volume: float | None, head: float | None, remarks: list[str]) -> float | None:
    if volume is None:
        return None
    if head is None:
        remarks.append(WHOLE_VOLUME)
        return volume
    if head >= volume:
        raise EngineeringError(
            f"well-mixed-space: the head takes {head * 1e3:.3g} L of {volume * 1e3:.3g} L, and no gas is left",
            "give the volume of the empty space, or leave `head` out where `volume` is free gas",
        )
    return volume - head


def _slowing(changes: float) -> float:
    """Mean slope over so many changes of gas, as a share of the slope at the beginning; 1 where nothing flows."""
    return -math.expm1(-changes) / changes if changes > 0 else 1.0


def _time_to(change: float, slope: float, changes_per_second: float) -> float | None:
    """Time for a change of the fraction; None where it does not come about."""
    if change == 0:
        return 0.0
    if slope == 0 or change / slope < 0:
        return None
    straight = change / slope
    share = straight * changes_per_second  # of the way to the steady fraction
    if share >= 1:
        return None
    return straight * (-math.log1p(-share) / share if share > 0 else 1.0)


def _never(mark: float, start: float, steady: float) -> str:
    if math.isinf(steady):
        return f"there is no time to the mark: it begins at {start * 100:.3g} %, and the mark is {mark * 100:.3g} %"
    return (
        f"there is no time to the mark of {mark * 100:.3g} %: "
        f"it goes from {start * 100:.3g} % to {steady * 100:.3g} % and not across"
    )


WELL_MIXED_SPACE = Model(
    name="well-mixed-space",
    title="carbon dioxide in a hood or another well-mixed space, with flow and after a stop",
    formula="steady = inlet + carbon_dioxide / flow; F(t) = steady + (begins - steady) exp(-flow t / volume); "
    "stopped: dF/dt = carbon_dioxide / volume",
    source="mass balance of a well-mixed space",
    holds="well mixed, seal tight, carbon dioxide given off at a constant rate and replacing the oxygen taken up",
    givens=(
        Given("carbon_dioxide", "flow", "carbon dioxide given off", "L/min", low="0 L/min", high="3 L/min"),
        Given(
            "flow",
            "flow",
            "flow of fresh gas",
            "L/min",
            "0 L/min",
            "0 L/min",
            "1000 L/min",
            asks="no flow is given: the flow is stopped",
        ),
        Given("volume", "volume", "volume of the space", "L", "", "0.01 L", "100000 L"),
        Given("head", "volume", "volume that a head takes of it", "L", "", "0 L", "10 L"),
        Given(
            "inlet",
            "fraction",
            "carbon dioxide in the fresh gas",
            "percent",
            "0.04 %",
            "0 %",
            "10 %",
            asks="0.04 % carbon dioxide is taken in the fresh gas, as outdoors",
        ),
        Given("begins", "fraction", "fraction at the beginning", "percent", "", "0 %", "100 %"),
        Given("mark", "fraction", "fraction whose time is asked for", "percent", "", "0 %", "100 %"),
        Given("time", "time", "time after the beginning", "s", "", "0 s", "7 d"),
    ),
    finds=(
        Found("steady", "fraction", "percent", "steady fraction"),
        Found("time_to_mark", "time", "s", "time to the mark"),
        Found("after", "fraction", "percent", "fraction after that time"),
        Found("rise_per_minute", "frequency", "percent/min", "rise per minute with the flow stopped"),
        Found("time_constant", "time", "s", "time constant with flow"),
        Found("flow_for_mark", "flow", "L/min", "flow that holds the mark"),
    ),
    function=_well_mixed_space,
    checks=(
        *(
            Check(
                {"carbon_dioxide": "0.25 L/min", "flow": f"{flow} L/min"},
                "steady",
                f"{steady} %",
                "constructed",
                "hand-worked sheet M3",
                abs="0.005 %",
            )
            for flow, steady in ((30, 0.87), (45, 0.60), (60, 0.46), (90, 0.32))
        ),
        *(
            Check(
                {"carbon_dioxide": "0.2 L/min", "flow": f"{flow} L/min", "inlet": "0 %"},
                "steady",
                f"{steady} %",
                "constructed",
                "carbon dioxide in a vented mask, perfect mixing",
                abs="0.0005 %",
            )
            for flow, steady in ((10, 2.0), (20, 1.0), (30, 0.667), (60, 0.333))
        ),
        Check(
            {"carbon_dioxide": "0.25 L/min", "volume": "9.5 L"},
            "rise_per_minute",
            "2.63 %/min",
            "constructed",
            "hand-worked sheet M3 and demo sheet K02",
            abs="0.005 %/min",
        ),
        *(
            Check(
                {"carbon_dioxide": "0.25 L/min", "volume": "9.5 L", "begins": "0.46 %", "mark": f"{mark} %"},
                "time_to_mark",
                f"{time} s",
                "constructed",
                "hand-worked sheet M3 and demo sheet K02",
                abs="0.5 s",
            )
            for mark, time in ((2, 35), (3, 58), (5, 104))
        ),
        Check(
            {"carbon_dioxide": "0.25 L/min", "flow": "60 L/min", "mark": "1 %"},
            "flow_for_mark",
            "26.0 L/min",
            "constructed",
            "hand-worked sheet M3",
            abs="0.05 L/min",
        ),
        Check(
            {
                "carbon_dioxide": "0.25 L/min",
                "flow": "20 L/min",
                "volume": "9.5 L",
                "begins": "3 %",
                "time": "45 s",
            },
            "after",
            "1.642588368 %",
            "cross-check",
            "mass balance stepped in time by scipy 1.17.1 solve_ivp (DOP853, rtol 1e-11)",
            rel=1e-6,
        ),
        Check(
            {"carbon_dioxide": "0 L/min", "flow": "30 L/min", "inlet": "0.04 %"},
            "steady",
            "0.04 %",
            "limit",
            "nobody in it: the fraction of the fresh gas",
            rel=1e-12,
        ),
        Check(
            {"carbon_dioxide": "0.25 L/min", "flow": "30 L/min", "volume": "9.5 L", "time": "1 h"},
            "after",
            "0.8733333333 %",
            "limit",
            "after a long time the steady fraction",
            rel=1e-9,
        ),
        Check(
            {
                "carbon_dioxide": "0 L/min",
                "flow": "6 L/min",
                "volume": "6 L",
                "inlet": "0 %",
                "begins": "4 %",
                "time": "1 min",
            },
            "after",
            "1.471518 %",
            "constructed",
            "washout: after one change of gas 1/e is left",
            rel=1e-6,
        ),
    ),
    example={"carbon_dioxide": "0.25 L/min", "flow": "60 L/min", "volume": "9.5 L", "begins": "0.46 %", "mark": "3 %"},
    traps=(
        "Was the volume measured with a head in it?",
        "Is the carbon dioxide production that of rest (about 0.2 L/min) or of an ill or struggling person (0.3 L/min and more)?",
        "At what condition are its litres stated?",
        "Is there a corner that the flow does not reach?",
        "Who owns the mark?",
    ),
    aliases=("hood", "hood-stop", "stopped-flow"),
)
