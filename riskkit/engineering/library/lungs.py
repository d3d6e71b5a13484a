"""A lung of one compartment: what two pressure levels move in and out of it, how it fills, and what pressure moves it."""

from __future__ import annotations

import math
from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

BENCH_LUNG = "for choosing settings of a bench lung, never a prediction for a person"


def _two_level_lung(
    low: float,
    high: float,
    rate: float,
    inspiration: float,
    compliance: float,
    resistance: float,
    resistance_out: float | None,
) -> Outcome:
    if high < low:
        raise EngineeringError("two-level-lung: the high level lies below the low one", "give the larger one as `high`")
    expiration = 1 / rate - inspiration
    if expiration <= 0:
        raise EngineeringError(
            f"two-level-lung: a breath lasts {1 / rate:.4g} s, and {inspiration:.4g} s of inspiration leave no expiration",
            "give a lower rate or a shorter inspiration",
        )
    out = resistance if resistance_out is None else resistance_out
    tau_in, tau_out = resistance * compliance, out * compliance
    left_in = _left(inspiration, tau_in)
    left_out = _left(expiration, tau_out)
    reach = compliance * (high - low)
    share = (1 - left_in) / (1 - left_in * left_out)
    tidal, trapped = reach * share * (1 - left_out), reach * share * left_out
    remarks = [BENCH_LUNG]
    if resistance_out is None:
        remarks.append("the resistance out is taken as that in; with small airways it is mostly higher")
    if left_out > 0.05:
        remarks.append(
            f"expiration ends after {expiration / tau_out:.2g} time constants, so gas is trapped; "
            "a gauge at the mask does not show that pressure"
        )
    values = {
        "tidal_volume": tidal,
        "trapped_volume": trapped,
        "excess": trapped / compliance,
        "minute_volume": tidal * rate,
        "expiration": expiration,
        "time_constant_in": tau_in,
        "time_constant_out": tau_out,
    }
    return Outcome(values, tuple(remarks))


def _left(time: float, time_constant: float) -> float:
    """What is left of a difference after a time."""
    return math.exp(-time / time_constant) if time_constant > 0 else 0.0


_CASE_A = MappingProxyType(
    {
        "low": "6 hPa",
        "high": "13 hPa",
        "rate": "14 1/min",
        "inspiration": "1.4 s",
        "compliance": "45 mL/hPa",
        "resistance": "12 hPa/(L/s)",
    }
)
_CASE_B = MappingProxyType(
    {
        "low": "6 hPa",
        "high": "13 hPa",
        "rate": "24 1/min",
        "inspiration": "1.0 s",
        "compliance": "60 mL/hPa",
        "resistance": "12 hPa/(L/s)",
        "resistance_out": "28 hPa/(L/s)",
    }
)
_BY_HAND = "hand-worked sheet M5"
_BY_STEPS = "breaths stepped in time to a steady state by scipy 1.17.1 solve_ivp (DOP853, rtol 1e-11)"

TWO_LEVEL_LUNG = Model(
    name="two-level-lung",
    title="what two pressure levels move in a passive lung of one compartment, and what stays trapped",
    formula="tau = resistance compliance; a = exp(-T_in / tau_in); b = exp(-T_out / tau_out); "
    "tidal_volume = compliance (high - low) (1 - a) (1 - b) / (1 - a b); "
    "trapped_volume = compliance (high - low) b (1 - a) / (1 - a b)",
    source="one linear compartment between two square levels, steady breathing",
    holds="linear, no effort, no leak, square levels, breathing that repeats itself",
    givens=(
        Given("low", "pressure", "low level", "hPa", low="-20 hPa", high="100 hPa"),
        Given("high", "pressure", "high level", "hPa", low="-20 hPa", high="100 hPa"),
        Given("rate", "frequency", "rate of breathing", "1/min", low="1 1/min", high="150 1/min"),
        Given("inspiration", "time", "time at the high level", "s", low="0.05 s", high="30 s"),
        Given("compliance", "compliance", "compliance of the lung", "mL/hPa", low="0.1 mL/hPa", high="500 mL/hPa"),
        Given(
            "resistance",
            "flow resistance",
            "resistance into the lung",
            "hPa/(L/s)",
            low="0 hPa/(L/s)",
            high="1000 hPa/(L/s)",
        ),
        Given(
            "resistance_out",
            "flow resistance",
            "resistance out of the lung",
            "hPa/(L/s)",
            "",
            "0 hPa/(L/s)",
            "1000 hPa/(L/s)",
        ),
    ),
    finds=(
        Found("tidal_volume", "volume", "mL", "volume of each breath"),
        Found("trapped_volume", "volume", "mL", "volume that is trapped"),
        Found("excess", "pressure", "hPa", "end-expiratory pressure in the lung above the low level"),
        Found("minute_volume", "flow", "L/min", "volume per minute"),
        Found("expiration", "time", "s", "time at the low level"),
        Found("time_constant_in", "time", "s", "time constant in"),
        Found("time_constant_out", "time", "s", "time constant out"),
    ),
    function=_two_level_lung,
    checks=(
        Check(_CASE_A, "time_constant_in", "0.54 s", "constructed", _BY_HAND, rel=1e-9),
        Check(_CASE_A, "tidal_volume", "290 mL", "constructed", _BY_HAND, abs="0.5 mL"),
        Check(_CASE_A, "excess", "0.03 hPa", "constructed", _BY_HAND, abs="0.005 hPa"),
        Check(_CASE_B, "time_constant_out", "1.68 s", "constructed", _BY_HAND, rel=1e-9),
        Check(_CASE_B, "tidal_volume", "207 mL", "constructed", _BY_HAND, abs="0.5 mL"),
        Check(_CASE_B, "excess", "2.40 hPa", "constructed", _BY_HAND, abs="0.005 hPa"),
        Check(_CASE_A, "tidal_volume", "290.1413878 mL", "cross-check", _BY_STEPS, rel=1e-7),
        Check(_CASE_B, "tidal_volume", "207.3442034 mL", "cross-check", _BY_STEPS, rel=1e-7),
        Check(_CASE_B, "trapped_volume", "143.7796397 mL", "cross-check", _BY_STEPS, rel=1e-7),
        Check(
            {**_CASE_A, "rate": "1 1/min", "inspiration": "30 s"},
            "tidal_volume",
            "315 mL",
            "limit",
            "with much time, compliance times step of pressure",
            rel=1e-9,
        ),
        Check(
            {**_CASE_A, "high": "6 hPa"}, "tidal_volume", "0 mL", "limit", "equal levels move nothing", abs="1e-9 mL"
        ),
    ),
    example=_CASE_A,
    traps=(
        "Are the levels square, or does the blower take its time?",
        "What does a hose and a mask add to the compliance?",
        "Is a person who breathes by themselves meant? Then this says nothing.",
    ),
    aliases=("single-compartment-lung", "bench-lung"),
)


def _lung_filling(resistance: float, compliance: float, time: float, step: float | None) -> Outcome:
    time_constant = resistance * compliance
    share = -math.expm1(-time / time_constant)
    values = {"share": share, "time_constant": time_constant, "time_constants": time / time_constant}
    if step is not None:
        values["volume"] = compliance * step * share
    return Outcome(values, (BENCH_LUNG,))


LUNG_FILLING = Model(
    name="lung-filling",
    title="how far a lung of one compartment is filled after a time at constant pressure",
    formula="share = 1 - exp(-time / (resistance compliance)); volume = compliance step share",
    source="one linear compartment behind a resistance",
    holds="linear, no effort, no leak, constant pressure",
    givens=(
        Given("resistance", "flow resistance", "resistance", "hPa/(L/s)", low="0.01 hPa/(L/s)", high="1000 hPa/(L/s)"),
        Given("compliance", "compliance", "compliance", "mL/hPa", low="0.1 mL/hPa", high="500 mL/hPa"),
        Given("time", "time", "time after the step", "s", low="0 s", high="1 h"),
        Given("step", "pressure", "step of pressure", "hPa", "", "-100 hPa", "100 hPa"),
    ),
    finds=(
        Found("share", "fraction", "percent", "share of the final volume"),
        Found("volume", "volume", "mL", "volume that has gone in"),
        Found("time_constant", "time", "s", "time constant"),
        Found("time_constants", "number", "", "time constants that have passed"),
    ),
    function=_lung_filling,
    checks=(
        *(
            Check(
                {"resistance": "10 hPa/(L/s)", "compliance": "50 mL/hPa", "time": f"{number / 2} s"},
                "share",
                f"{share} %",
                "published",
                f"filling after {number} time constants, textbook of mechanical ventilation, to the printed digit",
                abs="0.05 %",
            )
            for number, share in ((1, 63.2), (2, 86.5), (3, 95.0), (4, 98.2), (5, 99.3))
        ),
        Check(
            {"resistance": "10 hPa/(L/s)", "compliance": "50 mL/hPa", "time": "0 s"},
            "share",
            "0 %",
            "limit",
            "no time, no filling",
            abs="1e-9 %",
        ),
    ),
    example={"resistance": "10 hPa/(L/s)", "compliance": "50 mL/hPa", "time": "1 s", "step": "10 hPa"},
)


def _equation_of_motion(volume: float, compliance: float, flow: float, resistance: float, base: float) -> Outcome:
    elastic, resistive = volume / compliance, resistance * flow
    return Outcome(
        {"pressure": elastic + resistive + base, "elastic": elastic, "resistive": resistive},
        (BENCH_LUNG, "volume and flow at one condition"),
    )


EQUATION_OF_MOTION = Model(
    name="equation-of-motion",
    title="pressure that moves gas into a lung of one compartment",
    formula="pressure = volume / compliance + resistance flow + base",
    source="equation of motion of the respiratory system, one linear compartment",
    holds="linear, no effort, no leak",
    givens=(
        Given("volume", "volume", "volume above the resting one", "mL", low="0 mL", high="10 L"),
        Given("compliance", "compliance", "compliance", "mL/hPa", low="0.1 mL/hPa", high="500 mL/hPa"),
        Given("flow", "flow", "flow into the lung", "L/min", low="-600 L/min", high="600 L/min"),
        Given("resistance", "flow resistance", "resistance", "hPa/(L/s)", low="0 hPa/(L/s)", high="1000 hPa/(L/s)"),
        Given("base", "pressure", "end-expiratory pressure", "hPa", "0 hPa", "-20 hPa", "100 hPa"),
    ),
    finds=(
        Found("pressure", "pressure", "hPa", "pressure"),
        Found("elastic", "pressure", "hPa", "share that stretches"),
        Found("resistive", "pressure", "hPa", "share that drives the flow"),
    ),
    function=_equation_of_motion,
    checks=(
        Check(
            {
                "volume": "0.5 L",
                "compliance": "0.05 L/cmH2O",
                "flow": "0.5 L/s",
                "resistance": "10 cmH2O/(L/s)",
                "base": "5 cmH2O",
            },
            "pressure",
            "20 cmH2O",
            "published",
            "equation of motion, textbook of mechanical ventilation",
            rel=1e-9,
        ),
        Check(
            {
                "volume": "0.5 L",
                "compliance": "50 mL/hPa",
                "flow": "0 L/s",
                "resistance": "10 hPa/(L/s)",
                "base": "5 hPa",
            },
            "pressure",
            "15 hPa",
            "limit",
            "without flow the plateau: volume over compliance above the base",
            rel=1e-9,
        ),
    ),
    example={
        "volume": "500 mL",
        "compliance": "50 mL/hPa",
        "flow": "30 L/min",
        "resistance": "10 hPa/(L/s)",
        "base": "5 hPa",
    },
)
