"""Oxygen: what is breathed when it is mixed into air, and what gathers in a case that it leaks into."""

from __future__ import annotations

import math

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

AIR = "0.209"
ONE_CONDITION = "all litres of gas are taken at one condition, that of the room"
ENRICHED = 0.235
RICH = 0.25
DEFICIENT = 0.195


def _called(fraction: float) -> list[str]:
    """What standards call a fraction of oxygen; exactly at the mark is not beyond it."""
    said = []
    if fraction > RICH * (1 + 1e-9):
        said.append("above 25 % is called oxygen-rich by IEC 60601-1 11.2.2 (from memory)")
    if fraction > ENRICHED * (1 + 1e-9):
        said.append("above 23.5 % is called oxygen-enriched by 29 CFR 1910.146")
    if fraction < DEFICIENT * (1 - 1e-9):
        said.append("below 19.5 % is called oxygen-deficient by 29 CFR 1910.146")
    return said


def _oxygen_mix(air: float, oxygen: float, source_fraction: float, air_fraction: float) -> Outcome:
    total = air + oxygen
    if total == 0:
        raise EngineeringError(
            "oxygen-mix has neither air nor oxygen flowing", "give a flow above zero for one of them"
        )
    fraction = (air_fraction * air + source_fraction * oxygen) / total
    remarks = [
        ONE_CONDITION,
        f"where a breath draws more than the total of {total * 6e4:.3g} L/min at its peak, other gas comes in",
    ]
    if air == 0 and oxygen > 0:
        remarks.append("oxygen flows and air does not: it may run backwards into the blower and its case")
    return Outcome({"fraction": fraction, "total": total}, tuple(remarks + _called(fraction)))


OXYGEN_MIX = Model(
    name="oxygen-mix",
    title="oxygen fraction of air with oxygen added",
    formula="F = (air_fraction air + source_fraction oxygen) / (air + oxygen)",
    source="mass balance",
    holds="fully mixed, steady flows stated at one condition",
    givens=(
        Given("air", "flow", "flow of air", "L/min", low="0 L/min", high="1000 L/min"),
        Given("oxygen", "flow", "flow of the oxygen source", "L/min", low="0 L/min", high="1000 L/min"),
        Given("source_fraction", "fraction", "oxygen fraction of the source", "percent", low="0 %", high="100 %"),
        Given("air_fraction", "fraction", "oxygen fraction of the air", "percent", "20.9 %", "0 %", "100 %"),
    ),
    finds=(
        Found("fraction", "fraction", "percent", "oxygen fraction"),
        Found("total", "flow", "L/min", "total flow"),
    ),
    function=_oxygen_mix,
    checks=(
        Check(
            {"air": "55 L/min", "oxygen": "5 L/min", "source_fraction": "93 %"},
            "fraction",
            "26.9 %",
            "constructed",
            "hand-worked sheet M13",
            abs="0.05 %",
        ),
        Check(
            {"air": "20 L/min", "oxygen": "5 L/min", "source_fraction": "93 %"},
            "fraction",
            "35.3 %",
            "constructed",
            "hand-worked sheet M13",
            abs="0.05 %",
        ),
        Check(
            {"air": "3 L/min", "oxygen": "1 L/min", "source_fraction": "100 %", "air_fraction": "20 %"},
            "fraction",
            "40 %",
            "published",
            "air-entrainment ratio of a 40 % mask, 3 parts air to 1 part oxygen (20 % rule), textbook, from memory",
            rel=1e-9,
        ),
        Check(
            {"air": "8 L/min", "oxygen": "1 L/min", "source_fraction": "100 %"},
            "fraction",
            "30 %",
            "published",
            "air-entrainment ratio of a 30 % mask, 8 parts air to 1 part oxygen, textbook, from memory",
            abs="0.5 %",
        ),
        Check(
            {"air": "30 L/min", "oxygen": "0 L/min", "source_fraction": "93 %"},
            "fraction",
            "20.9 %",
            "limit",
            "no oxygen added: the fraction of air",
            rel=1e-12,
        ),
        Check(
            {"air": "0 L/min", "oxygen": "5 L/min", "source_fraction": "93 %"},
            "fraction",
            "93 %",
            "limit",
            "no air: the fraction of the source",
            rel=1e-12,
        ),
    ),
    example={"air": "55 L/min", "oxygen": "5 L/min", "source_fraction": "93 %"},
    traps=(
        "Is it the total flow at the person, or the flow at the machine?",
        "What does the source give at this flow? A concentrator gives less above its rating.",
        "Where does the oxygen go when the blower stops?",
    ),
    aliases=("oxygen-mixing",),
)


def _oxygen_enclosure(
    leak: float,
    source_fraction: float,
    ventilation: float | None,
    limit: float | None,
    air_fraction: float,
    volume: float | None,
    begins: float | None,
    time: float | None,
) -> Outcome:
    if ventilation is None and limit is None:
        raise EngineeringError(
            "oxygen-enclosure needs `ventilation` or `limit`",
            'add ventilation="5 L/min" for the fraction, or limit="25 %" for the ventilation that holds it',
        )
    if time is not None and (ventilation is None or volume is None):
        raise EngineeringError(
            "oxygen-enclosure needs `ventilation` and `volume` for a time",
            'add ventilation="5 L/min" volume="4 L"',
        )
    remarks = [ONE_CONDITION]
    values: dict[str, float] = {}
    if ventilation is not None:
        total = ventilation + leak
        if total == 0:
            raise EngineeringError("oxygen-enclosure has no flow at all", "give a leak or a ventilation above zero")
        steady = (air_fraction * ventilation + source_fraction * leak) / total
        values["fraction"] = steady
        remarks += _called(steady)
        if ventilation == 0:
            remarks.append("without ventilation the case fills with the gas of the leak")
        if volume is not None:
            values["time_constant"] = volume / total
            if time is not None:
                start = air_fraction if begins is None else begins
                values["after"] = steady + (start - steady) * math.exp(-total * time / volume)
    if limit is not None:
        if limit > air_fraction:
            values["ventilation_for_limit"] = max(0.0, leak * (source_fraction - limit) / (limit - air_fraction))
            if limit >= source_fraction:
                remarks.append("the leak itself holds no more oxygen than the limit, so none is needed")
        elif source_fraction <= limit:
            values["ventilation_for_limit"] = 0.0
        else:
            raise EngineeringError(
                f"oxygen-enclosure: no ventilation with air of {air_fraction * 100:.4g} % gets to {limit * 100:.4g} %",
                "give a limit above the oxygen fraction of the air",
            )
    return Outcome(values, tuple(remarks))


OXYGEN_ENCLOSURE = Model(
    name="oxygen-enclosure",
    title="oxygen in a ventilated case with a leak, and the ventilation that holds a limit",
    formula="F = (air_fraction ventilation + source_fraction leak) / (ventilation + leak); "
    "ventilation_for_limit = leak (source_fraction - limit) / (limit - air_fraction)",
    source="mass balance",
    holds="case well mixed, vent open, steady leak",
    givens=(
        Given("leak", "flow", "leak of oxygen into the case", "L/min", low="0 L/min", high="1000 L/min"),
        Given("source_fraction", "fraction", "oxygen fraction of the leak", "percent", low="0 %", high="100 %"),
        Given("ventilation", "flow", "air that ventilates the case", "L/min", "", "0 L/min", "100000 L/min"),
        Given("limit", "fraction", "oxygen fraction that is to be held", "percent", "", "0 %", "100 %"),
        Given("air_fraction", "fraction", "oxygen fraction of the air", "percent", "20.9 %", "0 %", "100 %"),
        Given("volume", "volume", "free volume of the case", "L", "", "0.001 L", "100000 L"),
        Given("begins", "fraction", "oxygen fraction at the beginning", "percent", "", "0 %", "100 %"),
        Given("time", "time", "time after the leak begins", "s", "", "0 s", "30 d"),
    ),
    finds=(
        Found("fraction", "fraction", "percent", "steady oxygen fraction in the case"),
        Found("ventilation_for_limit", "flow", "L/min", "ventilation that holds the limit"),
        Found("time_constant", "time", "s", "time constant"),
        Found("after", "fraction", "percent", "oxygen fraction after that time"),
    ),
    function=_oxygen_enclosure,
    checks=(
        *(
            Check(
                {"leak": "0.2 L/min", "source_fraction": "93 %", "limit": f"{limit} %"},
                "ventilation_for_limit",
                f"{flow} L/min",
                "constructed",
                "hand-worked sheet M13 and demo sheet K07",
                abs="0.05 L/min",
            )
            for limit, flow in ((25, 3.3), (23.5, 5.3))
        ),
        Check(
            {"leak": "0.2 L/min", "source_fraction": "93 %", "ventilation": "3.3170731707 L/min"},
            "fraction",
            "25 %",
            "constructed",
            "hand-worked sheet M13 put in backwards",
            rel=1e-9,
        ),
        Check(
            {
                "leak": "0.5 L/min",
                "source_fraction": "93 %",
                "ventilation": "4 L/min",
                "volume": "6 L",
                "time": "90 s",
            },
            "after",
            "26.310284123 %",
            "cross-check",
            "mass balance stepped in time by scipy 1.17.1 solve_ivp (DOP853, rtol 1e-11)",
            rel=1e-6,
        ),
        Check(
            {"leak": "0 L/min", "source_fraction": "93 %", "ventilation": "4 L/min"},
            "fraction",
            "20.9 %",
            "limit",
            "no leak: the fraction of air",
            rel=1e-12,
        ),
        Check(
            {"leak": "0.2 L/min", "source_fraction": "93 %", "ventilation": "0 L/min"},
            "fraction",
            "93 %",
            "limit",
            "no ventilation: the fraction of the leak",
            rel=1e-12,
        ),
    ),
    example={"leak": "0.2 L/min", "source_fraction": "93 %", "ventilation": "5 L/min", "limit": "23.5 %"},
    traps=(
        "Is the vent open in every position, and with the filter loaded?",
        "Does the blower that ventilates the case stop while the oxygen goes on?",
        "Which leak was assumed, and what if it is three times that?",
    ),
    aliases=("case-oxygen", "mixing"),
)
