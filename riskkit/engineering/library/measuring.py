"""From what an instrument shows to the quantity that is meant: counts, bag and stopwatch, scale, sampling."""

from __future__ import annotations

import math
from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

RISE_OF_FIRST_ORDER = math.log(9)
"""10-90 rise of a first-order system in time constants, 2.197."""


def _counts(
    bits: float,
    reference: float,
    low_output: float,
    high_output: float,
    low_pressure: float,
    high_pressure: float,
    counts: float | None,
    zero: float,
    span_error: float,
    temperature_error: float,
    tap_drop: float,
) -> Outcome:
    if abs(bits - round(bits)) > 1e-9:
        raise EngineeringError("counts-to-pressure: bits are a whole number", "such as 10 or 12")
    if high_output <= low_output or high_pressure <= low_pressure:
        raise EngineeringError(
            "counts-to-pressure: the upper end of the sensor must lie above its lower end",
            "look at output and pressure",
        )
    volts_per_count = reference / 2 ** round(bits)
    per_volt = (high_pressure - low_pressure) / (high_output - low_output)
    per_count = volts_per_count * per_volt
    values = {"per_count": per_count, "volts_per_count": volts_per_count}
    remarks = []
    outside: tuple[str, ...] = ()
    at = high_pressure - low_pressure
    if counts is not None:
        if not 0 <= counts <= 2 ** round(bits) - 1:
            raise EngineeringError(
                f"counts-to-pressure: {counts:.6g} counts do not fit in {bits:.0f} bits",
                f"counts run from 0 to {2 ** round(bits) - 1}",
            )
        volts = counts * volts_per_count
        at = (volts - low_output) * per_volt
        values["pressure"] = low_pressure + at - tap_drop
        if not low_output <= volts <= high_output:
            outside = (f"{volts:.3g} V lie outside of what the sensor puts out: a broken wire, or beyond its range",)
    elif tap_drop:
        remarks.append("the drop between face and tap is taken off where counts are given")
    parts = (per_count / math.sqrt(12), zero / math.sqrt(3), span_error * at / math.sqrt(3))
    values["expanded"] = 2 * math.hypot(*parts, temperature_error / math.sqrt(3))
    if not (zero or span_error or temperature_error):
        remarks.append("only the step of a count is in the uncertainty: give zero, span_error and temperature_error")
    return Outcome(values, tuple(remarks), outside)


_SENSOR = MappingProxyType(
    {
        "bits": "10",
        "reference": "5 V",
        "low_output": "0.5 V",
        "high_output": "4.5 V",
        "high_pressure": "25 hPa",
    }
)

COUNTS_TO_PRESSURE = Model(
    name="counts-to-pressure",
    title="pressure from the counts of a converter, and what one count is worth",
    formula="pressure = low_pressure + (counts reference / 2^bits - low_output) (high_pressure - low_pressure) / "
    "(high_output - low_output) - tap_drop",
    source="straight line of the sensor; JCGM 100 (2008), rectangular distributions of the stated half-widths",
    holds="a linear sensor between its two outputs, a steady reference, counts that do not flicker",
    givens=(
        Given("bits", "number", "bits of the converter", "", "10", "1", "32"),
        Given("reference", "voltage", "reference of the converter", "V", "5 V", "0.1 V", "100 V"),
        Given("low_output", "voltage", "output at the lower end", "V", "0.5 V", "0 V", "100 V"),
        Given("high_output", "voltage", "output at the upper end", "V", "4.5 V", "0 V", "100 V"),
        Given("low_pressure", "pressure", "pressure at the lower end", "hPa", "0 hPa"),
        Given("high_pressure", "pressure", "pressure at the upper end", "hPa"),
        Given("counts", "number", "counts that were read", "", "", "0"),
        Given("zero", "pressure", "half-width of the zero", "hPa", "0 hPa", "0 hPa"),
        Given("span_error", "fraction", "half-width of the span", "percent", "0 %", "0 %", "50 %"),
        Given("temperature_error", "pressure", "half-width for temperature", "hPa", "0 hPa", "0 hPa"),
        Given("tap_drop", "pressure", "drop of pressure from the tap to the face", "hPa", "0 hPa"),
    ),
    finds=(
        Found("per_count", "pressure", "hPa", "pressure of one count"),
        Found("pressure", "pressure", "hPa", "pressure"),
        Found("volts_per_count", "voltage", "mV", "voltage of one count"),
        Found("expanded", "pressure", "hPa", "expanded uncertainty from the stated half-widths, k = 2"),
    ),
    function=_counts,
    checks=(
        Check(_SENSOR, "per_count", "0.031 hPa", "constructed", "hand-worked sheet M24", abs="0.0005 hPa"),
        Check(
            _SENSOR,
            "volts_per_count",
            "4.88 mV",
            "published",
            "ten bits over 5 V, textbooks of converters, read on several pages",
            abs="0.005 mV",
        ),
        Check(_SENSOR | {"counts": "512"}, "pressure", "12.5 hPa", "limit", "half of the counts, half of the span"),
    ),
    example=_SENSOR | {"counts": "300", "zero": "0.1 hPa", "span_error": "1 %"},
    traps=(
        "Where is the tap, and what drops between it and the face?",
        "Is the reference the supply of the sensor, so that both move together?",
        "Was the zero taken warm, with the line open?",
    ),
)


def _bag(volume: float, time: float, volume_limit: float | None, time_spread: float | None) -> Outcome:
    if volume <= 0 or time <= 0:
        raise EngineeringError("bag-and-stopwatch: volume and time must be more than nothing", "fill a larger bag")
    flow = volume / time
    values = {"flow": flow}
    if volume_limit is None and time_spread is None:
        return Outcome(
            values, ("no uncertainty is given: say how far the bag may be off, and how the stopwatch spreads",)
        )
    of_bag, of_time = (volume_limit or 0.0) / math.sqrt(3), (time_spread or 0.0) / time
    values["standard"] = math.hypot(of_bag, of_time)
    values["expanded"] = 2 * values["standard"] * flow
    more = "the stopwatch" if of_time > of_bag else "the bag"
    return Outcome(values, (f"{more} contributes most",))


_BAG = MappingProxyType({"volume": "10 L", "time": "10 s", "volume_limit": "3 %", "time_spread": "0.3 s"})

BAG_AND_STOPWATCH = Model(
    name="bag-and-stopwatch",
    title="flow from a bag and a stopwatch",
    formula="flow = volume / time; u^2 = volume_limit^2 / 3 + (time_spread / time)^2; U = 2 u flow",
    source="JCGM 100 (2008): the bag's limit as a rectangle, the stopwatch's spread as a standard deviation",
    holds="litres at room condition, a bag that is empty at first and not stretched at the end",
    givens=(
        Given("volume", "volume", "volume of the bag", "L", None, "0.01 L", "1000 L"),
        Given("time", "time", "time to fill it", "s", None, "0.1 s", "1 d"),
        Given("volume_limit", "fraction", "how far the bag may be off, to either side", "percent", "", "0 %", "100 %"),
        Given("time_spread", "time", "standard deviation of the time", "s", "", "0 s", "1 h"),
    ),
    finds=(
        Found("flow", "flow", "L/min", "flow"),
        Found("standard", "fraction", "percent", "standard uncertainty of the flow"),
        Found("expanded", "flow", "L/min", "expanded uncertainty of the flow, k = 2"),
    ),
    function=_bag,
    checks=(
        *(
            Check(_BAG, answer, expected, "constructed", "hand-worked sheet M24", abs=width)
            for answer, expected, width in (
                ("flow", "60 L/min", "1e-9 L/min"),
                ("standard", "3.5 %", "0.05 %"),
                ("expanded", "4.2 L/min", "0.05 L/min"),
            )
        ),
        Check(
            _BAG,
            "expanded",
            "4.172 L/min",
            "cross-check",
            "numpy 2.4.6, twice the standard deviation of 4e6 draws, rectangle over normal; again in a test",
            rel=5e-3,
        ),
        Check(
            _BAG | {"volume_limit": "0 %", "time_spread": "0 s"},
            "expanded",
            "0 L/min",
            "limit",
            "nothing is off",
            abs="1e-12 L/min",
        ),
    ),
    example=_BAG,
    traps=("Does the bag hold the flow back, so that less comes out than without it?", "Was the volume measured?"),
)


def _scale(mass: float, scale_error: float, disc: float | None, gravity: float) -> Outcome:
    if mass <= 0:
        raise EngineeringError("kitchen-scale: a mass of nothing weighs nothing", "give the mass in g")
    values = {"share": scale_error / mass}
    if disc is not None:
        if disc <= 0:
            raise EngineeringError("kitchen-scale: a disc of no width", "give the diameter of the seat in mm")
        pressure = mass * gravity / (math.pi * disc * disc / 4)
        values |= {"pressure": pressure, "spread": pressure * scale_error / mass}
    return Outcome(values)


_DISC = MappingProxyType({"mass": "83 g", "scale_error": "1 g", "disc": "24 mm"})

KITCHEN_SCALE = Model(
    name="kitchen-scale",
    title="what the error of a scale does to the pressure of a weighted valve",
    formula="share = scale_error / mass; pressure = mass g / (pi disc^2 / 4)",
    source="weight over area",
    holds="an upright valve; the disc's diameter is that of the seat",
    givens=(
        Given("mass", "mass", "mass of disc and weight", "g", None, "0.01 g", "100 kg"),
        Given("scale_error", "mass", "error of the scale", "g", "1 g", "0 g", asks="1 g is taken for the scale"),
        Given("disc", "length", "diameter of the seat", "mm", "", "0.1 mm", "1 m"),
        Given("gravity", "m/s2", "gravity", "m/s2", "9.80665 m/s2", "9.7 m/s2", "9.9 m/s2"),
    ),
    finds=(
        Found("share", "fraction", "percent", "share of the mass and of the pressure"),
        Found("pressure", "pressure", "hPa", "pressure that lifts it"),
        Found("spread", "pressure", "hPa", "what the scale's error does to that pressure"),
    ),
    function=_scale,
    checks=(
        Check(_DISC, "share", "1.2 %", "constructed", "hand-worked sheet M24", abs="0.05 %"),
        Check(_DISC, "pressure", "18.0 hPa", "constructed", "hand-worked sheet M9: 83.0 g on 24 mm", abs="0.05 hPa"),
        Check(
            {"mass": "1 kg", "disc": "11.28379167 mm"},
            "pressure",
            "98066.5 Pa",
            "published",
            "one kilogram on a square centimetre, the technical atmosphere of NIST SP 811 (2008) B.8, from memory",
            rel=1e-8,
        ),
    ),
    example=_DISC,
    traps=("Was the scale checked with something of known mass, such as water by volume?",),
)


def _sampling(time_constant: float | None, rise: float | None, rate: float | None, samples_per_rise: float) -> Outcome:
    if (time_constant is None) == (rise is None):
        raise EngineeringError("sampling needs a time constant or a rise time, one of them", "give time_constant=0.12s")
    edge = rise if rise is not None else RISE_OF_FIRST_ORDER * (time_constant or 0.0)
    if edge <= 0:
        raise EngineeringError("sampling: an edge that takes no time cannot be sampled", "measure the fastest edge")
    needed = samples_per_rise / edge
    values = {"needed_rate": needed, "rise": edge}
    remarks = []
    if rate is not None:
        values["samples"] = rate * edge
        if rate < needed * (1 - 1e-9):
            remarks.append(
                f"{rate:.3g} Hz give {rate * edge:.2g} samples in the edge where {samples_per_rise:.3g} are wanted: "
                "peaks and overshoots are not shown"
            )
    return Outcome(values, tuple(remarks))


SAMPLING = Model(
    name="sampling",
    title="sample rate that shows the fastest edge",
    formula="rise = 2.197 time_constant (10 to 90 %); needed rate = samples_per_rise / rise",
    source="first-order step response, ln 9 = 2.197; ten samples in a rise: common practice, no source",
    holds="one time constant; a sensor or a line that is slower than the edge hides it before it is sampled",
    givens=(
        Given("time_constant", "time", "time constant of the fastest edge", "s", "", "1 us", "1 d"),
        Given("rise", "time", "10 to 90 % rise of the fastest edge", "s", "", "1 us", "1 d"),
        Given("rate", "frequency", "sample rate that there is", "Hz", "", "0 Hz", "1e9 Hz"),
        Given("samples_per_rise", "number", "samples wanted in a rise", "", "10", "2", "1000"),
    ),
    finds=(
        Found("needed_rate", "frequency", "Hz", "least sample rate"),
        Found("rise", "time", "s", "10 to 90 % rise"),
        Found("samples", "number", "", "samples in the rise at the rate that there is"),
    ),
    function=_sampling,
    checks=(
        Check({"time_constant": "0.12 s"}, "rise", "0.264 s", "constructed", "hand-worked sheet M25", abs="0.0005 s"),
        Check(
            {"time_constant": "0.12 s"}, "needed_rate", "38 Hz", "constructed", "hand-worked sheet M25", abs="0.5 Hz"
        ),
        Check(
            {"time_constant": "1 s"},
            "rise",
            "2.2 s",
            "published",
            "rise time of a first-order system, 2.2 time constants, textbooks of electronics, from memory",
            abs="0.005 s",
        ),
        Check({"rise": "1 s", "rate": "10 Hz"}, "samples", "10", "limit", "ten samples in a second at ten a second"),
    ),
    example={"time_constant": "0.12 s", "rate": "25 Hz"},
    traps=("Is the sensor with its line fast enough?", "Are samples missing, or does the clock jump?"),
)
