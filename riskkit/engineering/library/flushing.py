"""One hose for both ways: how much of a breath goes back into it and is breathed again."""

from __future__ import annotations

from riskkit.engineering.library.orifices import AIR_DENSITY, area_of
from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome
from riskkit.engineering.passages import ROOM, through_hole


def _flush(
    tidal_volume: float,
    expiratory_time: float,
    vent_flow: float | None,
    pressure: float | None,
    area: float | None,
    diameter: float | None,
    holes: float,
    coefficient: float,
    density: float,
    mask_volume: float,
) -> Outcome:
    remarks = [
        ROOM,
        "plug flow, so the least that is breathed again; mixing adds to it: measure it on a bench lung with CO2",
        "it fails first at the lowest pressure and the fastest rate",
    ]
    hole = pressure is not None or area is not None or diameter is not None
    if (vent_flow is None) != hole:
        raise EngineeringError(
            "the vent is known by its flow, or by a pressure and its opening: one of both",
            "give vent_flow, or pressure and area (or diameter)",
        )
    if vent_flow is None:
        if pressure is None:
            raise EngineeringError("the vent's opening is given, and no pressure", "give pressure: the lowest one")
        vent_flow = through_hole(area_of(area, diameter, holes), coefficient, pressure, density)
    flushed = vent_flow * expiratory_time
    again = max(0.0, tidal_volume - flushed)
    with_mask = min(tidal_volume, again + mask_volume)
    edge = ("the vent flushes less than a tenth more than a breath",) if 0 <= flushed / tidal_volume - 1 < 0.1 else ()
    return Outcome(
        {
            "rebreathed": again,
            "share": again / tidal_volume,
            "with_mask": with_mask,
            "vent_flow": vent_flow,
            "flow_needed": tidal_volume / expiratory_time,
        },
        tuple(remarks),
        edge=edge,
    )


_M2 = "hand-worked sheet M2"


def _holes(pressure: str) -> dict[str, str]:
    vent = {"pressure": pressure, "diameter": "2.0 mm", "holes": "4", "coefficient": "0.65"}
    return {"tidal_volume": "0.5 L", "expiratory_time": "2.07 s", **vent}


SINGLE_HOSE_FLUSH = Model(
    name="single-hose-flush",
    title="exhaled gas that goes back into a single hose and is breathed again",
    formula="V = max(0, tidal_volume - Q expiratory_time); Q = coefficient area sqrt(2 pressure / density)",
    source="balance of volumes with plug flow, and the orifice equation",
    holds="a bound from below: plug flow, constant pressure in exhalation, vent at the mask, no leak",
    givens=(
        Given("tidal_volume", "volume", "volume of a breath", "L", low="0.01 L", high="5 L"),
        Given("expiratory_time", "time", "time from the start of exhalation to the next breath", "s", low="0.1 s"),
        Given("vent_flow", "flow", "flow through the vent in exhalation", "L/min", "", "0 L/min"),
        Given("pressure", "pressure", "pressure in exhalation", "hPa", "", "0 hPa", "50 hPa"),
        Given("area", "area", "open area of the vent, where its flow is not given", "mm^2", "", "0 mm2"),
        Given("diameter", "length", "diameter of each hole", "mm", "", "0.1 mm", "200 mm"),
        Given("holes", "number", "number of holes", default="1", low="1", high="10000"),
        Given("coefficient", "number", "discharge coefficient of the vent", default="0.62", low="0.3", high="1"),
        Given("density", "density", "density of the gas", "kg/m^3", AIR_DENSITY, "0.1 kg/m3", "10 kg/m3"),
        Given("mask_volume", "volume", "volume of the mask", "mL", "0 mL", "0 mL", "3 L"),
    ),
    finds=(
        Found("rebreathed", "volume", "L", "volume breathed again at least"),
        Found("share", "fraction", "percent", "share of the breath"),
        Found("with_mask", "volume", "L", "volume breathed again if the mask is still full of exhaled gas"),
        Found("vent_flow", "flow", "L/min", "flow through the vent"),
        Found("flow_needed", "flow", "L/min", "flow that would flush all of it"),
    ),
    function=_flush,
    checks=(
        Check(
            _holes("3 hPa"),
            "vent_flow",
            "10.940492 L/min",
            "cross-check",
            "library fluids 1.3.1, flow_meter_discharge with this coefficient",
            rel=1e-7,
        ),
        Check(_holes("3 hPa"), "rebreathed", "0.123 L", "constructed", _M2, abs="0.0005 L"),
        Check(_holes("3 hPa"), "share", "25 %", "constructed", _M2, abs="0.5 %"),
        Check(_holes("5 hPa"), "rebreathed", "0.014 L", "constructed", f"{_M2}, from 14.1 L/min", abs="0.0015 L"),
        Check(_holes("13 hPa"), "rebreathed", "0 L", "limit", "more flows out than a breath", abs="1e-12 L"),
        Check(
            {"tidal_volume": "0.5 L", "expiratory_time": "2 s", "vent_flow": "0 L/min"},
            "share",
            "100 %",
            "limit",
            "no vent: all of it",
            rel=1e-12,
        ),
        Check(
            {"tidal_volume": "0.5 L", "expiratory_time": "2 s", "vent_flow": "9 L/min", "mask_volume": "80 mL"},
            "with_mask",
            "0.28 L",
            "constructed",
            "0.5 L less 2 s of 0.15 L/s, and the mask's 0.08 L, by hand",
            rel=1e-12,
        ),
    ),
    example=_holes("3 hPa"),
    traps=(
        "Lowest level and fastest rate: is that the case that was worked out?",
        "Is the vent at the mask, and can it be covered?",
    ),
)
