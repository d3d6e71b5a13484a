"""Heat: how warm a body and a stream of gas become, what three readings say of the end, and what a winding says of itself."""

from __future__ import annotations

import math

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

ZERO = 273.15


def _heated_body(
    power: float,
    thermal_resistance: float,
    ambient: float,
    time_constant: float | None,
    time: float | None,
    start: float | None,
) -> Outcome:
    rise = power * thermal_resistance
    values = {"rise": rise, "end_temperature": ambient + rise}
    if (time is None) != (time_constant is None):
        missing = "time_constant" if time_constant is None else "time"
        raise EngineeringError(
            f"heated-body needs `{missing}` as well for a temperature on the way", f'add {missing}="20 min"'
        )
    if time is not None and time_constant is not None:
        begin = ambient if start is None else start
        values["temperature_after"] = ambient + rise + (begin - ambient - rise) * math.exp(-time / time_constant)
    return Outcome(values, ("one temperature for the whole body; a hot spot in it is hotter",))


HEATED_BODY = Model(
    name="heated-body",
    title="temperature of a body that takes up power",
    formula="rise = power thermal_resistance; T(t) = end + (start - end) exp(-time / time_constant)",
    source="energy balance of one thermal mass",
    holds="constant power, one thermal resistance that does not change with temperature, one time constant",
    givens=(
        Given("power", "power", "power that becomes heat", "W", low="0 W", high="10 kW"),
        Given(
            "thermal_resistance",
            "thermal resistance",
            "thermal resistance to the room",
            "K/W",
            low="0 K/W",
            high="10000 K/W",
        ),
        Given(
            "ambient",
            "temperature",
            "temperature of the room",
            "degC",
            "40 degC",
            "-60 degC",
            "90 degC",
            asks="a room of 40 °C is taken",
        ),
        Given("time_constant", "time", "time constant", "min", "", "0.1 s", "30 d"),
        Given("time", "time", "time with that power", "min", "", "0 s", "365 d"),
        Given("start", "temperature", "temperature at the beginning", "degC", "", "-60 degC", "300 degC"),
    ),
    finds=(
        Found("end_temperature", "temperature", "degC", "end temperature"),
        Found("rise", "temperature difference", "K", "rise above the room"),
        Found("temperature_after", "temperature", "degC", "temperature after that time"),
    ),
    function=_heated_body,
    checks=(
        Check(
            {"power": "4.2 W", "thermal_resistance": "9 K/W"},
            "rise",
            "37.8 K",
            "constructed",
            "hand-worked sheet M12",
            rel=1e-9,
        ),
        Check(
            {"power": "4.2 W", "thermal_resistance": "9 K/W", "ambient": "40 degC"},
            "end_temperature",
            "77.8 degC",
            "constructed",
            "hand-worked sheet M12",
            abs="0.001 K",
        ),
        Check(
            {
                "power": "4.2 W",
                "thermal_resistance": "9 K/W",
                "ambient": "23 degC",
                "time_constant": "20 min",
                "time": "15 min",
            },
            "temperature_after",
            "42.944544306 degC",
            "cross-check",
            "energy balance stepped in time by scipy 1.17.1 solve_ivp (DOP853, rtol 1e-11)",
            rel=1e-6,
        ),
        Check(
            {"power": "0 W", "thermal_resistance": "9 K/W", "ambient": "21 degC"},
            "end_temperature",
            "21 degC",
            "limit",
            "no power: the room's temperature",
            abs="1e-9 K",
        ),
    ),
    example={"power": "4.2 W", "thermal_resistance": "9 K/W", "ambient": "40 degC"},
    traps=(
        "Covered by a blanket, in the sun, in its bag?",
        "Is it the hottest point that was read?",
        "Which power: at the worst level, at the lowest voltage?",
    ),
)


def _end_temperature(first: float, second: float, third: float, step: float | None) -> Outcome:
    early, late = second - first, third - second
    if early == 0:
        raise EngineeringError(
            "end-temperature: the first two readings are equal, so nothing can be said of the end",
            "read again later, with more time between the readings",
        )
    ratio = late / early
    if ratio >= 1 or ratio <= 0:
        raise EngineeringError(
            "end-temperature: the readings do not level off",
            "the second step must be smaller than the first and go the same way; read at equal times, power unchanged",
        )
    values = {"end_temperature": first + early / (1 - ratio), "ratio": ratio}
    if step is not None:
        values["time_constant"] = -step / math.log(ratio)
    remarks = ["equal times between the readings, constant power and one time constant"]
    if ratio > 0.8:
        remarks.append("the steps hardly become smaller, so small errors of reading move the end a lot; read longer")
    return Outcome(values, tuple(remarks))


END_TEMPERATURE = Model(
    name="end-temperature",
    title="end temperature from three readings at equal steps of time",
    formula="r = (third - second) / (second - first); end = first + (second - first) / (1 - r); tau = -step / ln r",
    source="three points of one exponential",
    holds="equal steps of time, constant power, one time constant",
    givens=(
        *(
            Given(name, "temperature", f"{name} reading", "degC", low="-60 degC", high="500 degC")
            for name in ("first", "second", "third")
        ),
        Given("step", "time", "time between two readings", "min", "", "1 ms", "30 d"),
    ),
    finds=(
        Found("end_temperature", "temperature", "degC", "end temperature"),
        Found("time_constant", "time", "min", "time constant"),
        Found("ratio", "number", "", "second step to first"),
    ),
    function=_end_temperature,
    checks=(
        Check(
            {"first": "23 degC", "second": "38 degC", "third": "47 degC"},
            "end_temperature",
            "60.5 degC",
            "constructed",
            "hand-worked sheet M12",
            abs="0.001 K",
        ),
        Check(
            {"first": "23 degC", "second": "38 degC", "third": "47 degC", "step": "10 min"},
            "time_constant",
            "19.6 min",
            "constructed",
            "hand-worked sheet M12",
            abs="0.05 min",
        ),
        *(
            Check(
                {"first": "21.3 degC", "second": "33.9 degC", "third": "41.8 degC", "step": "15 min"},
                answer,
                value,
                "cross-check",
                "one exponential through the three readings by scipy 1.17.1 fsolve",
                rel=1e-7,
            )
            for answer, value in (("end_temperature", "55.0787234 degC"), ("time_constant", "32.1313320 min"))
        ),
        Check(
            {"first": "20 degC", "second": "40 degC", "third": "50 degC"},
            "end_temperature",
            "60 degC",
            "limit",
            "steps that halve: the rest is as much as the last step",
            abs="1e-9 K",
        ),
    ),
    example={"first": "23 degC", "second": "38 degC", "third": "47 degC", "step": "10 min"},
    traps=("Were the times equal?", "Did the power or the room change meanwhile?"),
)


def _heat_into_gas(power: float, flow: float, inlet: float, density: float, heat_capacity: float) -> Outcome:
    rise = power / (density * flow * heat_capacity)
    remarks = ["all heat goes into the gas and none into the case: an upper bound", "the lowest flow is the hot case"]
    outside = ("more than 100 K: the gas is no longer the one whose density was typed in",) if rise > 100 else ()
    return Outcome({"rise": rise, "outlet": inlet + rise}, tuple(remarks), outside)


HEAT_INTO_GAS = Model(
    name="heat-into-gas",
    title="rise of temperature of a gas that takes up power",
    formula="rise = power / (density flow heat_capacity)",
    source="energy balance",
    holds="steady flow, stated at the density that is given; all heat into the gas",
    givens=(
        Given("power", "power", "power that becomes heat", "W", low="0 W", high="10 kW"),
        Given("flow", "flow", "flow of gas", "L/min", low="0.01 L/min", high="100000 L/min"),
        Given("inlet", "temperature", "temperature of the gas before", "degC", "20 degC", "-60 degC", "60 degC"),
        Given(
            "density",
            "density",
            "density of the gas",
            "kg/m3",
            "1.204 kg/m3",
            "0.05 kg/m3",
            "20 kg/m3",
            asks="air at 20 °C and 1013.25 hPa is taken, and the flow as litres of it",
        ),
        Given(
            "heat_capacity",
            "J/(kg*K)",
            "heat capacity of the gas",
            "J/(kg*K)",
            "1005 J/(kg*K)",
            "100 J/(kg*K)",
            "15000 J/(kg*K)",
        ),
    ),
    finds=(
        Found("rise", "temperature difference", "K", "rise of temperature"),
        Found("outlet", "temperature", "degC", "temperature of the gas after"),
    ),
    function=_heat_into_gas,
    checks=(
        *(
            Check(
                {"power": "14 W", "flow": f"{flow} L/min"},
                "rise",
                f"{rise} K",
                "constructed",
                "hand-worked sheet M12 and demo sheet K09",
                abs="0.05 K",
            )
            for flow, rise in ((60, 11.6), (20, 34.7))
        ),
        Check(
            {"power": "3.16 kW", "flow": "1000 cfm", "density": "0.075 lb/ft^3"},
            "rise",
            "10 degF",
            "published",
            "sensible heat of air, Btu/h = 1.08 cfm degF (standard air of 0.075 lb/ft3), ventilation handbooks, from memory",
            rel=6e-3,
        ),
        Check({"power": "0 W", "flow": "60 L/min"}, "rise", "0 K", "limit", "no power, no rise", abs="1e-9 K"),
    ),
    example={"power": "14 W", "flow": "20 L/min"},
    traps=("What is the lowest flow: at the low level, with the filter loaded, with the outlet covered?",),
    aliases=("gas-heating",),
)


def _winding_temperature(cold: float, hot: float, temperature: float, coefficient: float) -> Outcome:
    at_20 = 1 + coefficient * (temperature - ZERO - 20)
    if at_20 <= 0:
        raise EngineeringError(
            "winding-temperature: that coefficient gives no resistance at that temperature", "look at both again"
        )
    rise = (hot / cold - 1) * at_20 / coefficient
    remarks = ["the mean of the winding: its hottest point is hotter"]
    if hot < cold:
        remarks.append("the hot resistance is below the cold one; were they mixed up?")
    outside = ("above 250 °C or below -50 °C the coefficient is no longer constant",)
    found = temperature + rise - ZERO
    return Outcome(
        {"temperature": temperature + rise, "rise": rise}, tuple(remarks), () if -50 <= found <= 250 else outside
    )


WINDING_TEMPERATURE = Model(
    name="winding-temperature",
    title="temperature of a winding from its resistance cold and hot",
    formula="hot / cold = 1 + coefficient rise / (1 + coefficient (temperature - 20 °C))",
    source="resistance of metals is linear in temperature; copper 0.00393 per K at 20 °C",
    holds="copper from -50 to 250 °C; leads and contacts measured away",
    givens=(
        Given("cold", "resistance", "resistance cold", "ohm", low="1e-6 ohm", high="1e9 ohm"),
        Given("hot", "resistance", "resistance hot", "ohm", low="1e-6 ohm", high="1e9 ohm"),
        Given(
            "temperature",
            "temperature",
            "temperature of the cold winding",
            "degC",
            "20 degC",
            "-50 degC",
            "100 degC",
            asks="20 °C is taken for the cold winding",
        ),
        Given("coefficient", "1/K", "temperature coefficient at 20 °C", "1/K", "0.00393 1/K", "0.0001 1/K", "0.01 1/K"),
    ),
    finds=(
        Found("temperature", "temperature", "degC", "temperature of the winding"),
        Found("rise", "temperature difference", "K", "rise above the cold winding"),
    ),
    function=_winding_temperature,
    checks=(
        *(
            Check(
                {"cold": f"{cold} ohm", "hot": f"{hot} ohm"},
                "temperature",
                "75 degC",
                "published",
                f"{gauge} AWG copper per 1000 ft: NBS Handbook 100 (1966) at 20 °C, NEC chapter 9 table 8 at 75 °C, from memory",
                abs="1.3 K",
            )
            for gauge, cold, hot in ((18, 6.385, 7.77), (14, 2.525, 3.07), (10, 0.9989, 1.21))
        ),
        Check(
            {"cold": "1 ohm", "hot": "1.393 ohm"},
            "rise",
            "100 K",
            "constructed",
            "hand-worked sheet M12, R = R0 (1 + 0.00393 rise), worked by hand",
            rel=1e-9,
        ),
        Check({"cold": "2 ohm", "hot": "2 ohm"}, "rise", "0 K", "limit", "same resistance, no rise", abs="1e-9 K"),
    ),
    example={"cold": "2.0 ohm", "hot": "2.4 ohm", "temperature": "22 degC"},
    traps=("Read how long after switching off?", "Four wires, or the leads too?"),
)
