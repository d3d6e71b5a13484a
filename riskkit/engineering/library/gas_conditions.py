"""Litres of gas at other conditions, and a fraction as a mass per volume."""

from __future__ import annotations

from riskkit.engineering.library.moisture import saturation_pressure
from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

ZERO = 273.15
ATMOSPHERE = 101325.0
CONVENTIONAL_MOLAR_VOLUME = 24.45e-3
"""Volume of a mole of gas [m3/mol] with which occupational limits are converted; exactly 24.465 L at 25 °C, 1013.25 hPa."""
CONDITIONS = ("room", "ATPS", "ATPD", "BTPS", "STPD")


def _gas_condition(
    stated: str,
    wanted: str,
    volume: float | None,
    flow: float | None,
    temperature: float,
    humidity: float,
    pressure: float,
    body: float,
) -> Outcome:
    def condition(name: str) -> tuple[float, float]:
        """Temperature [K] and pressure of the dry gas [Pa]."""
        match name:
            case "STPD":
                return ZERO, ATMOSPHERE
            case "BTPS":
                return body, pressure - saturation_pressure(body)
            case "ATPS":
                return temperature, pressure - saturation_pressure(temperature)
            case "ATPD":
                return temperature, pressure
            case _:
                return temperature, pressure - humidity * saturation_pressure(temperature)

    (from_kelvin, from_dry), (to_kelvin, to_dry) = condition(stated), condition(wanted)
    if min(from_dry, to_dry) <= 0:
        raise EngineeringError(
            "gas-condition: water would boil at that pressure and temperature", "look at the pressure again"
        )
    factor = to_kelvin / from_kelvin * from_dry / to_dry
    values = {"factor": factor}
    if volume is not None:
        values["volume"] = volume * factor
    if flow is not None:
        values["flow"] = flow * factor
    return Outcome(values)


GAS_CONDITION = Model(
    name="gas-condition",
    title="litres of gas at another condition: room, ATPS, ATPD, BTPS, STPD",
    formula="factor = T_wanted / T_stated (p_stated - e_stated) / (p_wanted - e_wanted)",
    source="gas law; water vapour by the Magnus formula of WMO-No. 8",
    holds="the same dry gas before and after; room, ATPS and ATPD at the temperature of the room "
    "(with its humidity, saturated, dry), BTPS saturated at body temperature, STPD dry at 0 °C and 1013.25 hPa",
    givens=(
        Given("stated", "word", "condition at which litres are stated", choices=CONDITIONS),
        Given("wanted", "word", "condition that is wanted", choices=CONDITIONS),
        Given("volume", "volume", "volume as stated", "L", ""),
        Given("flow", "flow", "flow as stated", "L/min", ""),
        Given(
            "temperature",
            "temperature",
            "temperature of the room",
            "degC",
            "20 degC",
            "-40 degC",
            "60 degC",
            asks="a room of 20 °C is taken",
        ),
        Given(
            "humidity",
            "fraction",
            "relative humidity of the room",
            "percent",
            "50 %",
            "0 %",
            "100 %",
            asks="50 % relative humidity is taken in the room",
        ),
        Given(
            "pressure",
            "pressure",
            "pressure of the air",
            "hPa",
            "1013.25 hPa",
            "200 hPa",
            "1200 hPa",
            asks="1013.25 hPa is taken: at altitude it is less",
        ),
        Given("body", "temperature", "temperature of the body", "degC", "37 degC", "20 degC", "43 degC"),
    ),
    finds=(
        Found("factor", "number", "", "wanted litres per stated litre"),
        Found("volume", "volume", "L", "volume at the wanted condition"),
        Found("flow", "flow", "L/min", "flow at the wanted condition"),
    ),
    function=_gas_condition,
    checks=(
        Check(
            {"stated": "STPD", "wanted": "BTPS"},
            "factor",
            "1.2103",
            "published",
            "dry at 0 °C to body condition, 310.15 / 273.15 x 760 / 713, textbook",
            abs="0.0001",
        ),
        Check(
            {"stated": "BTPS", "wanted": "STPD"},
            "factor",
            "0.826",
            "published",
            "body condition to dry at 0 °C, 273 / 310 x 713 / 760, read in a public copy",
            abs="0.0005",
        ),
        *(
            Check(
                {"stated": "ATPS", "wanted": "BTPS", "temperature": f"{celsius} degC"},
                "factor",
                f"{factor}",
                "published",
                "spirometry table of saturated gas at 760 mmHg, read in a public copy",
                abs="0.0006",
            )
            for celsius, factor in ((20, 1.102), (21, 1.096), (22, 1.091))
        ),
        Check(
            {"stated": "STPD", "wanted": "BTPS", "volume": "1 L"},
            "volume",
            "1.210 L",
            "constructed",
            "hand-worked sheet section 3, house rules",
            abs="0.0005 L",
        ),
        *(
            Check(
                {"stated": each, "wanted": each, "flow": "30 L/min"},
                "flow",
                "30 L/min",
                "limit",
                "the same condition changes nothing",
                rel=1e-12,
            )
            for each in ("room", "BTPS")
        ),
        Check(
            {"stated": "ATPS", "wanted": "BTPS", "temperature": "37 degC"},
            "factor",
            "1",
            "limit",
            "saturated gas of a room at body temperature is at body condition",
            rel=1e-12,
        ),
    ),
    example={"stated": "STPD", "wanted": "BTPS", "volume": "0.25 L"},
    traps=(
        "Which condition does the flow sensor show? Standard litres may be meant at 0 or at 20 °C.",
        "At what altitude?",
    ),
    aliases=("btps", "stpd", "gas-litres"),
)


def _gas_concentration(fraction: float, molar_mass: float, temperature: float, pressure: float) -> Outcome:
    partial = fraction * pressure
    return Outcome(
        {
            "concentration": partial * molar_mass / (8.314462618 * temperature),
            "conventional": fraction * molar_mass / CONVENTIONAL_MOLAR_VOLUME,
            "partial_pressure": partial,
        },
        ("a fraction of a gas as mass per volume; what it means for a person is not said here",),
    )


GAS_CONCENTRATION = Model(
    name="gas-concentration",
    title="a fraction of a gas as a mass per volume and as a partial pressure",
    formula="concentration = fraction pressure molar_mass / (R temperature); "
    "conventional = fraction molar_mass / 24.45 L/mol; partial_pressure = fraction pressure",
    source="gas law",
    holds="a thin gas at the pressure of the surroundings",
    givens=(
        Given("fraction", "fraction", "fraction of the gas", "ppm", low="0 ppm", high="100 %"),
        Given(
            "molar_mass",
            "g/mol",
            "molar mass",
            "g/mol",
            "44.01 g/mol",
            "1 g/mol",
            "500 g/mol",
            asks="carbon dioxide is taken, 44.01 g/mol",
        ),
        Given(
            "temperature",
            "temperature",
            "temperature",
            "degC",
            "25 degC",
            "-60 degC",
            "100 degC",
            asks="25 °C is taken, as occupational limits are stated",
        ),
        Given("pressure", "pressure", "pressure", "hPa", "1013.25 hPa", "100 hPa", "5000 hPa"),
    ),
    finds=(
        Found("concentration", "density", "mg/m3", "mass per volume"),
        Found("conventional", "density", "mg/m3", "mass per volume by the 24.45 L/mol of occupational limits"),
        Found("partial_pressure", "pressure", "hPa", "partial pressure"),
    ),
    function=_gas_concentration,
    checks=(
        Check(
            {"fraction": "5000 ppm"},
            "conventional",
            "9000 mg/m3",
            "published",
            "carbon dioxide, OSHA 29 CFR 1910.1000 table Z-1: 5000 ppm is 9000 mg/m3, from memory",
            abs="0.5 mg/m3",
        ),
        Check(
            {"fraction": "5000 ppm"},
            "concentration",
            "9000 mg/m3",
            "published",
            "the same; the exact molar volume is 0.06 % larger than the convention's",
            rel=1e-3,
        ),
        Check(
            {"fraction": "0.5 %"},
            "partial_pressure",
            "5.06625 hPa",
            "constructed",
            "share of 1013.25 hPa",
            rel=1e-9,
        ),
        Check({"fraction": "0 ppm"}, "concentration", "0 mg/m3", "limit", "nothing is nothing", abs="1e-9 mg/m3"),
    ),
    example={"fraction": "5000 ppm"},
)
