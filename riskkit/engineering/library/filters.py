"""Filters: how the loss grows with use, and when it reaches a limit."""

from __future__ import annotations

from types import MappingProxyType
from typing import cast

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome
from riskkit.engineering.passages import Points


def _line(readings: Points) -> tuple[float, float, float]:
    """Start, rise and largest distance of the least-squares line through pairs."""
    count = len(readings)
    middle_x, middle_y = sum(x for x, _ in readings) / count, sum(y for _, y in readings) / count
    rise = sum((x - middle_x) * (y - middle_y) for x, y in readings) / sum((x - middle_x) ** 2 for x, _ in readings)
    start = middle_y - rise * middle_x
    return start, rise, max(abs(y - start - rise * x) for x, y in readings)


def _loading(
    new: float | None,
    later: float | None,
    after: float | None,
    readings: Points | None,
    limit: float | None,
    time: float | None,
    flow: float | None,
) -> Outcome:
    two = (new, later, after)
    if (readings is None) == all(each is None for each in two) or (readings is None and None in two):
        raise EngineeringError(
            "a filter's loading is known by its loss when new, later and after which time, or by a list of readings",
            "give new, later and after, or readings",
        )
    if readings is None:
        readings = ((0.0, cast(float, new)), (cast(float, after), cast(float, later)))
    start, rise, scatter = _line(readings)
    if rise <= 0:
        raise EngineeringError(
            "the loss does not rise between the readings", "were they taken at the same flow, with the filter dry?"
        )
    if start <= 0:
        raise EngineeringError(
            "the line through the readings has no loss when new", "read the new filter at the same flow"
        )
    values = {"rate": rise, "start": start, "doubling_time": start / rise}
    remarks = ["a straight line through the readings, all at one flow and dry; a wet filter is another: measure it"]
    outside, edge = [], []
    known = readings[-1][0]
    if scatter > 0.1 * (readings[-1][1] - readings[0][1]):
        remarks.append("the readings do not lie on a line; a filter that fills loads faster and faster")

    def reach(moment: float, what: str) -> None:
        if moment > 2 * known:
            outside.append(f"{what} is more than twice as late as the last reading")
        elif moment > known:
            edge.append(f"{what} is later than the last reading")

    if limit is not None:
        if limit < start:
            raise EngineeringError("the limit is below the loss of the new filter", "give a limit above it")
        values["time_to_limit"] = (limit - start) / rise
        reach(values["time_to_limit"], "the time to the limit")
    if time is not None:
        values["loss"] = start + rise * time
        reach(time, "the time asked for")
    if flow is not None:
        values["resistance"] = values.get("loss", start) / flow
    return Outcome(values, tuple(remarks), tuple(outside), tuple(edge))


_M17 = "hand-worked sheet M17"
_TWO = MappingProxyType({"new": "0.72 hPa", "later": "2.35 hPa", "after": "60 h"})

FILTER_LOADING = Model(
    name="filter-loading",
    title="loss of a filter over its use",
    formula="p = r Q (1 + t / t_d); rate = r Q / t_d",
    source="straight line through the readings (least squares where there are more than two)",
    holds="one flow, dry, same dust; not far beyond the last reading",
    givens=(
        Given("new", "pressure", "loss of the new filter", "hPa", "", "0 hPa"),
        Given("later", "pressure", "loss later, at the same flow", "hPa", "", "0 hPa"),
        Given("after", "time", "time of use between both", "h", "", "1 s"),
        Given("readings", "table", "losses by time of use, instead of the two", default="", items=("time", "pressure")),
        Given("limit", "pressure", "loss at which it is to be changed", "hPa", "", "0 hPa"),
        Given("time", "time", "time of use for which the loss is asked", "h", "", "0 h"),
        Given("flow", "flow", "flow of the readings", "L/min", "", "0.001 L/min"),
    ),
    finds=(
        Found("rate", "hPa/h", "hPa/h", "rise of the loss"),
        Found("start", "pressure", "hPa", "loss when new"),
        Found("doubling_time", "time", "h", "time t_d after which the loss has doubled"),
        Found("time_to_limit", "time", "h", "time of use up to the limit"),
        Found("loss", "pressure", "hPa", "loss at the time asked for"),
        Found("resistance", "flow resistance", "hPa/(L/min)", "resistance for the operating point"),
    ),
    function=_loading,
    checks=(
        Check(
            {"readings": "0 h: 0.72 hPa, 20 h: 1.2 hPa, 45 h: 2.0 hPa, 60 h: 2.35 hPa"},
            "rate",
            "0.02787611 hPa/h",
            "cross-check",
            "library numpy 2.4.6, polyfit of degree 1",
            rel=2e-7,
        ),
        Check(_TWO, "rate", "0.0272 hPa/h", "constructed", _M17, abs="0.00005 hPa/h"),
        Check({**_TWO, "limit": "3.0 hPa"}, "time_to_limit", "84 h", "constructed", _M17, abs="0.5 h"),
        Check({**_TWO, "time": "60 h"}, "loss", "2.35 hPa", "limit", "the line goes through its readings", rel=1e-12),
        Check(
            {**_TWO, "flow": "60 L/min"},
            "resistance",
            "0.012 hPa/(L/min)",
            "constructed",
            "hand-worked sheet M8: the new filter has 0.012 hPa per L/min, 0.72 hPa at 60 L/min",
            rel=1e-9,
        ),
        Check(
            {"readings": "0 h: 1 hPa, 10 h: 1.2 hPa, 20 h: 1.6 hPa, 30 h: 1.8 hPa"},
            "rate",
            "0.028 hPa/h",
            "constructed",
            "least squares by hand: sum of products 14 hPa h over 500 h2",
            rel=1e-9,
        ),
    ),
    example={**_TWO, "limit": "3.0 hPa", "flow": "60 L/min", "time": "60 h"},
    traps=(
        "Was the filter dry? Wet, its loss is another one.",
        "What does this loss do to the flow? A pressure alarm hardly sees it: see operating-point.",
    ),
)
