"""Hoses: pressure lost in them, and gas that stays in them when the pressure swings."""

from __future__ import annotations

import math
from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome
from riskkit.engineering.passages import LAMINAR_UP_TO, ROOM, TRANSITION, Hose, blasius_friction, laminar_friction

HOSE_GIVENS = (
    Given("bore", "length", "inner diameter of the hose", "mm", low="1 mm", high="200 mm"),
    Given("length", "length", "length of the hose", "m", low="0 m", high="100 m"),
    Given(
        "fittings",
        "number",
        "sum of the loss coefficients of fittings, inlet and outlet",
        default="1.5",
        low="0",
        high="100",
        asks="1.5 is taken for the fittings together: 0.5 at the inlet and 1 at the outlet",
    ),
    Given(
        "corrugation",
        "number",
        "friction against that of a smooth hose",
        default="1",
        low="1",
        high="5",
        asks="the hose is taken as smooth; corrugated ones have 2 to 3 times the friction",
    ),
    Given("density", "density", "density of the gas", "kg/m^3", "1.204 kg/m3", "0.1 kg/m3", "10 kg/m3"),
    Given("viscosity", "Pa*s", "viscosity of the gas", "Pa*s", "1.81e-5 Pa*s", "1e-6 Pa*s", "1e-3 Pa*s"),
)


def _hose(
    flow: float,
    bore: float,
    length: float,
    fittings: float,
    corrugation: float,
    density: float,
    viscosity: float,
) -> Outcome:
    hose = Hose(bore, length, fittings, corrugation, density, viscosity)
    reynolds = hose.reynolds(flow)
    best = hose.drop(flow)
    low = high = best
    outside, edge = [], []
    if TRANSITION[0] <= reynolds <= TRANSITION[1]:
        low, high = hose.drop(flow, laminar_friction), hose.drop(flow, blasius_friction)
        edge.append(
            f"Reynolds number {reynolds:.0f}: between 2000 and 4000 the flow may be laminar or turbulent, "
            "and the friction is uncertain by a factor of two"
        )
    if reynolds > 1e5:
        outside.append(f"Reynolds number {reynolds:.3g}: the formula for a smooth hose ends at 1e5")
    values = {"drop": best, "low": low, "high": high, "reynolds": reynolds, "speed": hose.speed(flow)}
    return Outcome(values, (ROOM,), tuple(outside), tuple(edge))


def _m6(flow: str, corrugation: str = "1") -> dict[str, str]:
    return {"flow": flow, "bore": "19.5 mm", "length": "1.6 m", "fittings": "1.5", "corrugation": corrugation}


_M6 = "hand-worked sheet M6"

HOSE = Model(
    name="hose",
    title="pressure lost in a hose",
    formula="p = (f length / bore corrugation + fittings) density v^2 / 2; f = 64/Re or 0.3164 Re^-0.25",
    source="Darcy and Weisbach; friction by Hagen and Poiseuille below Re 2300, by Blasius (1913) above",
    holds="Re up to 1e5, round bore, no kink, no water in it; uncertain by a factor of two from Re 2000 to 4000",
    givens=(Given("flow", "flow", "flow through the hose", "L/min", low="0 L/min"), *HOSE_GIVENS),
    finds=(
        Found("drop", "pressure", "hPa", "pressure lost"),
        Found("low", "pressure", "hPa", "lowest pressure lost that is plausible"),
        Found("high", "pressure", "hPa", "highest pressure lost that is plausible"),
        Found("reynolds", "number", "", "Reynolds number"),
        Found("speed", "speed", "m/s", "mean speed"),
    ),
    function=_hose,
    checks=(
        Check(_m6("30 L/min"), "drop", "0.066 hPa", "constructed", _M6, abs="0.0005 hPa"),
        Check(_m6("60 L/min"), "drop", "0.317 hPa", "constructed", _M6, abs="0.0005 hPa"),
        Check(_m6("120 L/min"), "drop", "1.13 hPa", "constructed", _M6, abs="0.005 hPa"),
        Check(_m6("60 L/min", "2.5"), "drop", "0.64 hPa", "constructed", _M6, abs="0.005 hPa"),
        Check(_m6("0 L/min"), "drop", "0 hPa", "limit", "no flow, no loss", abs="1e-9 hPa"),
        Check(
            {"flow": "1 L/min", "bore": "10 mm", "length": "2 m", "fittings": "0"},
            "drop",
            "2.458201 Pa",
            "cross-check",
            "Hagen and Poiseuille: 128 viscosity length flow / (pi bore^4), by hand",
            rel=1e-6,
        ),
    ),
    example=_m6("60 L/min"),
    traps=(
        "Corrugated inside as well, or outside only?",
        "Kinked, lain on, or with water standing in it?",
    ),
)


def _compliance(
    volume: float | None, bore: float | None, length: float | None, wall: float, ambient: float, swing: float
) -> Outcome:
    if (volume is None) == (bore is None or length is None) or (volume is not None and (bore or length)):
        raise EngineeringError(
            "the volume of a hose is given itself, or by bore and length: one of both",
            "give volume, or bore and length",
        )
    held = volume if volume is not None else math.pi * (bore or 0.0) ** 2 / 4 * (length or 0.0)
    compliance = held / ambient + wall
    remarks = ["the gas is taken to keep its temperature; a fast swing makes its part up to 1.4 times smaller"]
    if not wall:
        remarks.append("the wall is taken as rigid: measure it with a syringe")
    return Outcome(
        {"compliance": compliance, "lost": compliance * swing, "volume": held, "of_gas": held / ambient},
        tuple(remarks),
    )


_SIZE = MappingProxyType({"bore": "19.5 mm", "length": "1.6 m"})

HOSE_COMPLIANCE = Model(
    name="hose-compliance",
    title="gas that a hose keeps for itself in each cycle",
    formula="C = volume / ambient + wall; lost = C swing",
    source="ideal gas at constant temperature; the wall measured with a syringe",
    holds="slow swings, small against the pressure of the air",
    givens=(
        Given("volume", "volume", "volume of the hose", "L", "", "0 L"),
        Given("bore", "length", "inner diameter, where the volume is not given", "mm", "", "1 mm", "200 mm"),
        Given("length", "length", "length, where the volume is not given", "m", "", "0 m", "100 m"),
        Given("wall", "compliance", "compliance of the wall", "mL/hPa", "0 mL/hPa", "0 mL/hPa"),
        Given("ambient", "pressure", "pressure of the air around", "hPa", "1013.25 hPa", "300 hPa", "1200 hPa"),
        Given("swing", "pressure", "swing of the pressure in a cycle", "hPa", "10 hPa", "0 hPa", "100 hPa"),
    ),
    finds=(
        Found("compliance", "compliance", "mL/hPa", "compliance"),
        Found("lost", "volume", "mL", "volume that stays in the hose in each cycle"),
        Found("volume", "volume", "L", "volume of the hose"),
        Found("of_gas", "compliance", "mL/hPa", "compliance of the gas alone"),
    ),
    function=_compliance,
    checks=(
        Check(
            {"volume": "2 L", "swing": "10 hPa"},
            "lost",
            "19.73847 mL",
            "cross-check",
            "Boyle's law: 2 L at 1023.25 hPa are 2.01973847 L at 1013.25 hPa",
            rel=1e-6,
        ),
        Check(_SIZE, "compliance", "0.47 mL/hPa", "constructed", _M6, abs="0.005 mL/hPa"),
        Check(_SIZE, "volume", "0.478 L", "constructed", _M6, abs="0.0005 L"),
        Check({**_SIZE, "swing": "7 hPa"}, "lost", "3.3 mL", "constructed", "0.4716 mL/hPa by 7 hPa", abs="0.05 mL"),
        Check({"volume": "0 L"}, "compliance", "0 mL/hPa", "limit", "no hose, no gas in it", abs="1e-9 mL/hPa"),
    ),
    example={**_SIZE, "swing": "7 hPa"},
    traps=("Was the wall measured with a syringe, warm and at the working pressure?",),
)


def colebrook(reynolds: float, roughness: float) -> float:
    """Darcy's friction factor of a rough round pipe (Colebrook 1939), by Newton's method from Haaland's value."""
    x = 1 / math.sqrt(haaland(reynolds, roughness))
    for _ in range(50):
        inside = roughness / 3.7 + 2.51 * x / reynolds
        step = (x + 2 * math.log10(inside)) / (1 + 2 * 2.51 / (reynolds * inside * math.log(10)))
        x -= step
        if abs(step) < 1e-15 * x:
            break
    return 1 / x**2


def haaland(reynolds: float, roughness: float) -> float:
    """Darcy's friction factor by Haaland's explicit formula (1983)."""
    return (-1.8 * math.log10((roughness / 3.7) ** 1.11 + 6.9 / reynolds)) ** -2


def swamee_jain(reynolds: float, roughness: float) -> float:
    """Darcy's friction factor by the explicit formula of Swamee and Jain (1976)."""
    return 0.25 / math.log10(roughness / 3.7 + 5.74 / reynolds**0.9) ** 2


def _friction(reynolds: float, roughness: float, method: str) -> Outcome:
    outside, edge = [], []
    if reynolds < LAMINAR_UP_TO:
        friction = laminar_friction(reynolds)
    elif method == "Blasius":
        friction = blasius_friction(reynolds)
        if roughness:
            outside.append("the formula of Blasius is for a smooth wall, and a roughness is given")
        if reynolds > 1e5:
            outside.append("the formula of Blasius ends at a Reynolds number of 1e5")
    else:
        rough = {"Colebrook": colebrook, "Haaland": haaland, "Swamee-Jain": swamee_jain}[method]
        friction = rough(reynolds, roughness)
    if TRANSITION[0] <= reynolds <= TRANSITION[1]:
        edge.append("from Re 2000 to 4000 the flow may be laminar or turbulent: uncertain by a factor of two")
    remarks = ("laminar: the wall does not matter",) if reynolds < LAMINAR_UP_TO else ()
    return Outcome({"friction": friction}, remarks, tuple(outside), tuple(edge))


def _pipe(method: str) -> dict[str, str]:
    return {"reynolds": "1e5", "roughness": "1e-4", "method": method}


_FLUIDS = "library fluids 1.3.1, friction_factor, method {}; the value stands in its own tests"

FRICTION = Model(
    name="friction-factor",
    title="Darcy's friction factor of a round pipe",
    formula="1/sqrt(f) = -2 log10(roughness / 3.7 + 2.51 / (Re sqrt(f))); 64/Re below 2300",
    source="Colebrook (1939), Haaland (1983), Swamee and Jain (1976), Blasius (1913), Hagen and Poiseuille",
    holds="round bore, fully developed flow; uncertain by a factor of two from Re 2000 to 4000",
    givens=(
        Given("reynolds", "number", "Reynolds number", low="0.001", high="1e8"),
        Given("roughness", "number", "roughness of the wall against the bore", default="0", low="0", high="0.05"),
        Given(
            "method",
            "word",
            "formula for turbulent flow",
            default="Colebrook",
            choices=("Colebrook", "Haaland", "Swamee-Jain", "Blasius"),
        ),
    ),
    finds=(Found("friction", "number", "", "Darcy's friction factor"),),
    function=_friction,
    checks=(
        Check(_pipe("Colebrook"), "friction", ".018513866077471", "cross-check", _FLUIDS.format("Clamond"), rel=1e-12),
        Check(_pipe("Haaland"), "friction", ".0182650530", "cross-check", _FLUIDS.format("Haaland"), rel=5e-9),
        Check(
            _pipe("Swamee-Jain"), "friction", ".0184524453", "cross-check", _FLUIDS.format("Swamee_Jain_1976"), rel=5e-9
        ),
        Check(
            {"reynolds": "1e4", "method": "Blasius"},
            "friction",
            ".03164",
            "published",
            "Blasius 1913, Re 1e4, from memory",
            rel=1e-6,
        ),
        Check({"reynolds": "128"}, "friction", ".5", "cross-check", _FLUIDS.format("laminar"), rel=1e-12),
    ),
    example=_pipe("Colebrook"),
)
