"""Stored energy: how long a battery runs, and the capacitor that bridges a gap."""

from __future__ import annotations

import math
from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

USUAL_EFFICIENCY = 0.9
"""Of a voltage converter, where none is stated. Common practice, no source."""

FAR_FROM_RATING = 10.0
"""Ratio of currents beyond which an exponent fitted near the rating says little. Common practice, no source."""


def _battery(
    charge: float,
    rate_time: float,
    power: float | None,
    voltage: float | None,
    efficiency: float | None,
    current: float | None,
    lowest_voltage: float | None,
    exponent: float,
    depth: float,
    ageing: float,
    cold: float,
) -> Outcome:
    remarks = []
    if current is None:
        if power is None or voltage is None:
            raise EngineeringError(
                "battery needs the load: a current, or a power with the voltage",
                "give current=2A, or power and voltage",
            )
        if efficiency is None:
            remarks.append("an efficiency of 0.9 is taken between the pack and the load")
            efficiency = USUAL_EFFICIENCY
        watts = power / efficiency
        current = watts / voltage
    elif power is not None:
        raise EngineeringError("battery was given a current and a power", "give one of them")
    else:
        watts = None
    if min(charge, rate_time, current, depth, ageing, cold) <= 0:
        raise EngineeringError(
            "battery: charge, rate, load and factors must be more than nothing", "look at the inputs that are zero"
        )
    derating = depth * ageing * cold

    def hours(amperes: float) -> float:
        return rate_time * math.pow(charge / (amperes * rate_time), exponent)

    values = {
        "runtime": hours(current) * derating,
        "current": current,
        "before_derating": hours(current),
        "naive": charge / current,
    }
    if derating == 1:
        remarks.append(
            "no derating is given: full depth, a new battery and no cold are taken, and a real pack runs shorter"
        )
    if watts is not None and lowest_voltage is not None and voltage is not None:
        if lowest_voltage > voltage:
            raise EngineeringError(
                "battery: the lowest voltage lies above the voltage", "give them the other way round"
            )
        values["shortest"] = hours(watts / lowest_voltage) * derating
    elif watts is not None:
        remarks.append("the current rises as the voltage falls: give lowest_voltage for a lower bound")
    ratio = current * rate_time / charge
    if ratio < 1 and exponent > 1:
        remarks.append(
            "the current is below that of the rating, so the exponent lengthens the runtime; the naive one is the bound"
        )
    edge = (
        (
            f"the current is {max(ratio, 1 / ratio):.3g} times away from that of the rating, far from where it was stated",
        )
        if not 1 / FAR_FROM_RATING <= ratio <= FAR_FROM_RATING
        else ()
    )
    return Outcome(values, tuple(remarks), (), edge)


_PACK = MappingProxyType(
    {
        "charge": "2.6 Ah",
        "rate_time": "5 h",
        "power": "14 W",
        "voltage": "25.6 V",
        "efficiency": "0.9",
        "exponent": "1.05",
    }
)
_WORN = MappingProxyType({"depth": "0.8", "ageing": "0.85", "cold": "0.9"})
_LEAD = MappingProxyType({"charge": "7 Ah", "rate_time": "20 h", "current": "2 A", "exponent": "1.25"})
_READ = "worked example on a tutorial page, read; the stated capacity is that at 1 A"

BATTERY = Model(
    name="battery",
    title="runtime of a battery",
    formula="I = power / (efficiency voltage); t = rate_time (charge / (I rate_time))^exponent depth ageing cold",
    source="Peukert's equation; depth, ageing and cold are common practice, to be checked on the pack",
    holds="one discharge, a steady load, a current not far from that at which the charge was stated",
    givens=(
        Given("charge", "charge", "charge that is stated for the pack", "Ah", None, "0 Ah", "100000 Ah"),
        Given("rate_time", "time", "discharge time for which that charge is stated", "h", None, "0.01 h", "1000 h"),
        Given("power", "power", "power of the load", "W", "", "0 W", "1 MW"),
        Given("voltage", "voltage", "voltage of the pack", "V", "", "0.1 V", "2000 V"),
        Given("efficiency", "number", "efficiency between pack and load", "", "", "0.05", "1"),
        Given("current", "current", "current of the load, where it is known itself", "A", "", "0 A", "10000 A"),
        Given("lowest_voltage", "voltage", "voltage at which the equipment or the pack stops", "V", "", "0.1 V"),
        Given(
            "exponent",
            "number",
            "Peukert exponent",
            "",
            "1.05",
            "1",
            "1.6",
            asks="an exponent of 1.05 is taken, as for lithium; lead-acid has 1.1 to 1.3",
        ),
        Given("depth", "number", "usable depth of discharge", "", "1", "0", "1"),
        Given("ageing", "number", "share of the charge that ageing leaves", "", "1", "0", "1"),
        Given("cold", "number", "share of the charge that cold leaves", "", "1", "0", "1"),
    ),
    finds=(
        Found("runtime", "time", "h", "runtime"),
        Found("current", "current", "A", "current from the pack"),
        Found("before_derating", "time", "h", "runtime before depth, ageing and cold"),
        Found("naive", "time", "h", "naive runtime, charge over current"),
        Found("shortest", "time", "h", "runtime if the lowest voltage held all the time, a lower bound"),
    ),
    function=_battery,
    checks=(
        *(
            Check(given, answer, expected, "constructed", "hand-worked sheet M11", abs=width)
            for given, answer, expected, width in (
                (_PACK, "current", "0.608 A", "0.0005 A"),
                (_PACK, "runtime", "4.25 h", "0.005 h"),
                (_PACK, "naive", "4.28 h", "0.005 h"),
                (_PACK | _WORN, "runtime", "2.6 h", "0.05 h"),
                (_PACK | _WORN, "before_derating", "4.25 h", "0.005 h"),
                (_LEAD, "runtime", "2.26 h", "0.005 h"),
                (_LEAD, "naive", "3.5 h", "0.005 h"),
            )
        ),
        Check(
            {"charge": "250 Ah", "rate_time": "250 h", "current": "20 A", "exponent": "1.3"},
            "runtime",
            "5.088631644 h",
            "published",
            _READ,
            rel=1e-9,
        ),
        Check(
            {"charge": "100 Ah", "rate_time": "100 h", "current": "5 A", "exponent": "1.2"},
            "runtime",
            "14.5 h",
            "published",
            _READ,
            abs="0.05 h",
        ),
        Check(
            {"charge": "7 Ah", "rate_time": "20 h", "current": "0.35 A", "exponent": "1.25"},
            "runtime",
            "20 h",
            "limit",
            "at the rated current the exponent does nothing",
            rel=1e-9,
        ),
    ),
    example=_PACK | _WORN,
    traps=(
        "At which discharge time is the charge stated?",
        "Is the power that of the worst case, such as full speed with a loaded filter?",
        "How old is the pack, and how cold is the place?",
        "At which voltage does the protection board or the equipment stop?",
    ),
)


def _ride_through(
    power: float, time: float, voltage: float, lowest_voltage: float, efficiency: float, shortfall: float
) -> Outcome:
    if voltage <= lowest_voltage:
        raise EngineeringError(
            "ride-through: the lowest voltage must lie below the voltage it starts at",
            "give voltage and lowest_voltage",
        )
    if efficiency <= 0 or shortfall >= 1:
        raise EngineeringError("ride-through: no energy is left for the load", "look at efficiency and shortfall")
    energy = power * time / efficiency
    capacitance = 2 * energy / (voltage**2 - lowest_voltage**2)
    values = {"capacitance": capacitance, "energy": energy, "last_current": power / efficiency / lowest_voltage}
    if shortfall:
        values["nominal"] = capacitance / (1 - shortfall)
        return Outcome(values)
    return Outcome(
        values,
        ("no shortfall is given: a capacitor may have 20 % less than its label, and less again with age and cold",),
    )


_SOUNDER = MappingProxyType({"power": "0.25 W", "time": "120 s", "voltage": "5 V", "lowest_voltage": "3 V"})
_BUS = MappingProxyType(
    {"power": "31 W", "time": "30 ms", "voltage": "24 V", "lowest_voltage": "19 V", "efficiency": "0.9"}
)

RIDE_THROUGH = Model(
    name="ride-through",
    title="capacitor that keeps a load alive through a gap",
    formula="C = 2 power time / (efficiency (voltage^2 - lowest_voltage^2))",
    source="energy of a capacitor",
    holds="constant power, resistance of the capacitor small, charged before the gap begins",
    givens=(
        Given("power", "power", "power of the load", "W", None, "0 W", "1 MW"),
        Given("time", "time", "time to bridge", "s", None, "0 s", "7 d"),
        Given("voltage", "voltage", "voltage at the beginning", "V", None, "0.1 V", "2000 V"),
        Given("lowest_voltage", "voltage", "lowest voltage at which the load still works", "V", None, "0.01 V"),
        Given(
            "efficiency",
            "number",
            "efficiency of the converter behind it",
            "",
            "1",
            "0.05",
            "1",
            asks="no loss of a converter is counted",
        ),
        Given("shortfall", "fraction", "what the capacitor may lack of its label", "percent", "0 %", "0 %", "90 %"),
    ),
    finds=(
        Found("capacitance", "capacitance", "mF", "capacitance that has to be there"),
        Found("nominal", "capacitance", "mF", "capacitance on the label"),
        Found("energy", "energy", "J", "energy taken from it"),
        Found("last_current", "current", "A", "current just before it is empty"),
    ),
    function=_ride_through,
    checks=(
        Check(_SOUNDER, "capacitance", "3.75 farad", "constructed", "hand-worked sheet M11", rel=1e-9),
        Check(_BUS, "capacitance", "9600 uF", "constructed", "hand-worked sheet M11", abs="50 uF"),
        Check(
            {"power": "20 W", "time": "20 ms", "voltage": "12 V", "lowest_voltage": "10 V"},
            "capacitance",
            "18.2 mF",
            "published",
            "worked example on a page of power supply formulas, read",
            abs="0.05 mF",
        ),
        Check(
            _SOUNDER | {"shortfall": "20 %"},
            "nominal",
            "4.6875 farad",
            "constructed",
            "3.75 farad over 0.8",
            rel=1e-9,
        ),
        Check(_SOUNDER | {"time": "0 s"}, "capacitance", "0 mF", "limit", "no gap, no capacitor", abs="1e-9 mF"),
    ),
    example=_SOUNDER,
    traps=(
        "Is its voltage rating above the highest voltage on the bus?",
        "What does its series resistance take at the last current?",
        "How long does it need to charge again?",
    ),
    aliases=("hold-up",),
)
