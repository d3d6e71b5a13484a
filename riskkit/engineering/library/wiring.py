"""Copper between source and load: what it drops, which fuse guards it, and what melts it."""

from __future__ import annotations

import math
from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

COPPER = 1e-6 / 58
"""Resistivity of annealed copper at 20 °C [ohm m], 100 % IACS (IEC 60028)."""
COPPER_PER_KELVIN = 0.00393
"""Its temperature coefficient at 20 °C [1/K] (IEC 60028)."""

BLADE_SIZES = (1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 40.0)
"""Common sizes of blade fuses [A]."""

GATES = (
    (1.10, 360000.0, None),
    (1.35, 0.75, 600.0),
    (1.60, 0.25, 50.0),
    (2.00, 0.15, 5.0),
    (3.50, 0.04, 0.5),
    (6.00, 0.02, 0.1),
)
"""Blade fuses by ISO 8820-3, from memory: multiple of the size, shortest and longest time to open [s]."""

SMALL_CONDUCTORS = ((18, 7.0), (16, 10.0), (14, 15.0), (12, 20.0), (10, 30.0))
"""Largest overcurrent device for copper by gauge [A]: NEC 240.4(D), from memory."""


def gauge_area(gauge: int) -> float:
    """Cross-section of a solid American wire gauge [m2] (ASTM B258)."""
    diameter = 0.127e-3 * math.pow(92, (36 - gauge) / 39)
    return math.pi / 4 * diameter * diameter


def _cable(current: float, length: float, area: float, temperature: float, way: str, supply: float | None) -> Outcome:
    if area <= 0:
        raise EngineeringError("cable: a cross-section of nothing carries nothing", "give the area in mm2 or as AWG 18")
    conductor = length * (2 if way == "out and back" else 1)
    resistance = conductor * COPPER * (1 + COPPER_PER_KELVIN * (temperature - 293.15)) / area
    drop = current * resistance
    values = {"drop": drop, "resistance": resistance, "loss": current * drop}
    remarks = []
    if supply is not None:
        values["left"] = supply - drop
        if drop >= supply:
            remarks.append("the cable alone takes the whole voltage at this current")
    density = current / (area * 1e6)
    if density > 6:
        remarks.append(f"{density:.2g} A/mm² warm the copper: look up the cable's rating, and use its warm temperature")
    return Outcome(values, tuple(remarks))


_CORD = MappingProxyType({"current": "2.6 A", "length": "3 m", "area": "0.75 mm2", "temperature": "30 degC"})


def _foot_table(gauge: int, ohms: str, temperature: str, source: str, rel: float) -> Check:
    given = {
        "current": "1 A",
        "length": "1000 ft",
        "area": f"AWG {gauge}",
        "temperature": temperature,
        "way": "one way",
    }
    return Check(given, "resistance", f"{ohms} ohm", "published", source, rel=rel)


CABLE = Model(
    name="cable",
    title="voltage that a copper cable drops",
    formula="drop = current 2 length (1/58 ohm mm2/m) (1 + 0.00393 (temperature - 20 degC)) / area",
    source="Ohm's law; annealed copper of IEC 60028",
    holds="solid copper of the stated section, direct current; flexible cable of that size may have up to 16 % more",
    givens=(
        Given("current", "current", "current", "A", None, "0 A", "10000 A"),
        Given("length", "length", "length of the cable, one way", "m", None, "0 m", "10000 m"),
        Given("area", "area", "cross-section, in mm2 or as AWG 18", "mm2", None, "0.001 mm2", "1000 mm2"),
        Given(
            "temperature",
            "temperature",
            "temperature of the copper",
            "degC",
            "20 degC",
            "-60 degC",
            "200 degC",
            outside="marked",
            asks="20 °C is taken for the copper; under load it is warmer",
        ),
        Given("way", "word", "path of the current", default="out and back", choices=("out and back", "one way")),
        Given("supply", "voltage", "lowest voltage at the source", "V", "", "0 V", "2000 V"),
    ),
    finds=(
        Found("drop", "voltage", "V", "voltage drop"),
        Found("resistance", "resistance", "ohm", "resistance of the cable"),
        Found("left", "voltage", "V", "lowest voltage at the equipment"),
        Found("loss", "power", "W", "heat in the cable"),
    ),
    function=_cable,
    checks=(
        Check(_CORD, "resistance", "0.143 ohm", "constructed", "hand-worked sheet M11", abs="0.0005 ohm"),
        Check(_CORD, "drop", "0.37 V", "constructed", "hand-worked sheet M11", abs="0.005 V"),
        *(
            _foot_table(gauge, ohms, "20 degC", "copper wire table, NBS Handbook 100 (1966), from memory", 8e-4)
            for gauge, ohms in (
                (10, "0.9989"),
                (12, "1.588"),
                (14, "2.525"),
                (16, "4.016"),
                (18, "6.385"),
                (20, "10.15"),
                (22, "16.14"),
                (24, "25.67"),
                (26, "40.81"),
            )
        ),
        *(
            _foot_table(gauge, ohms, "75 degC", "NEC chapter 9 table 8, solid uncoated, from memory", 4e-3)
            for gauge, ohms in ((18, "7.77"), (16, "4.89"), (14, "3.07"), (12, "1.93"), (10, "1.21"))
        ),
        Check(_CORD | {"length": "0 m"}, "drop", "0 V", "limit", "no cable, no drop", abs="1e-9 V"),
    ),
    example=_CORD | {"supply": "19 V"},
    traps=(
        "Are plugs, switches and the fuse holder in the path? Each adds milliohms.",
        "Is the lowest voltage of the source minus the drop still enough for the equipment?",
    ),
)


def _fuse(
    current: float,
    share: float,
    cable_rating: float | None,
    voltage: float | None,
    source_resistance: float | None,
    cable_resistance: float | None,
    multiple: float,
) -> Outcome:
    if share <= 0:
        raise EngineeringError("fuse: a fuse that may carry nothing guards nothing", "give share, such as 0.75")
    smallest = current / share
    size = next((each for each in BLADE_SIZES if each >= smallest * (1 - 1e-9)), None)
    values = {"smallest": smallest}
    remarks = []
    if size is None:
        remarks.append(f"no common blade size reaches {smallest:.3g} A: use another kind of fuse")
    else:
        values["size"] = size
    if cable_rating is None:
        remarks.append("the cable's rating is not given: the fuse must not be larger than it")
    elif (size or smallest) > cable_rating * (1 + 1e-9):
        remarks.append(f"the fuse would be larger than the {cable_rating:.3g} A of the cable: take a thicker cable")
    if voltage is None or source_resistance is None:
        remarks.append("the fault current is not looked at: give voltage, source_resistance and cable_resistance")
        return Outcome(values, tuple(remarks))
    if cable_resistance is None:
        remarks.append("the cable's resistance is not given: a short at its far end gives less current than this")
    path = source_resistance + (cable_resistance or 0.0)
    if path <= 0:
        raise EngineeringError("fuse: a path without resistance has no fault current", "give the source's resistance")
    values["fault_current"] = voltage / path
    values["fault_multiple"] = voltage / path / (size or smallest)
    if values["fault_multiple"] < multiple:
        remarks.append(
            f"a short gives only {values['fault_multiple']:.2g} times the size, less than {multiple:.3g}: "
            "the fuse opens slowly (see fuse-opening)"
        )
    return Outcome(values, tuple(remarks))


_PACK_FUSE = MappingProxyType(
    {
        "current": "2.6 A",
        "voltage": "25.6 V",
        "source_resistance": "0.12 ohm",
        "cable_resistance": "0.14335 ohm",
    }
)

FUSE = Model(
    name="fuse",
    title="which fuse stays closed in use and opens on a short",
    formula="smallest = current / share <= size <= cable_rating; voltage / (source + cable resistance) >= multiple size",
    source="common practice: 75 % of the size in use, ten times the size on a short",
    holds="blade fuses on direct current near 23 °C; warm places need a larger margin",
    givens=(
        Given("current", "current", "greatest current in use", "A", None, "0 A", "1000 A"),
        Given("share", "number", "share of its size that a fuse may carry for long", "", "0.75", "0.1", "1"),
        Given("cable_rating", "current", "current that the cable may carry", "A", "", "0 A", "10000 A"),
        Given("voltage", "voltage", "voltage of the source", "V", "", "0 V", "2000 V"),
        Given("source_resistance", "resistance", "resistance of the source", "ohm", "", "0 ohm", "10000 ohm"),
        Given("cable_resistance", "resistance", "resistance of the cable, both ways", "ohm", "", "0 ohm", "10000 ohm"),
        Given("multiple", "number", "multiple of its size that opens it fast", "", "10", "1", "100"),
    ),
    finds=(
        Found("smallest", "current", "A", "smallest fuse"),
        Found("size", "current", "A", "next common blade size"),
        Found("fault_current", "current", "A", "current of a short at the far end"),
        Found("fault_multiple", "number", "", "that current as a multiple of the size"),
    ),
    function=_fuse,
    checks=(
        Check(_PACK_FUSE, "smallest", "3.5 A", "constructed", "hand-worked sheet M11", abs="0.05 A"),
        Check(_PACK_FUSE, "fault_current", "97 A", "constructed", "hand-worked sheet M11", abs="0.5 A"),
        Check(
            _PACK_FUSE, "size", "4 A", "constructed", "hand-worked sheet M11: 3.5 A, and the 4 A of the demo", rel=1e-9
        ),
        Check(
            {"current": "4.2 A", "share": "0.8"},
            "smallest",
            "5.25 A",
            "published",
            "125 % of a load that lasts 3 h, NEC 210.20(A), from memory",
            rel=1e-9,
        ),
        Check(
            {"current": "4.2 A", "share": "0.8"},
            "size",
            "7.5 A",
            "published",
            "next common blade size, check sheet CV-84, from memory",
            rel=1e-9,
        ),
        Check({"current": "7.5 A", "share": "1"}, "size", "7.5 A", "limit", "a size that fits exactly is taken"),
    ),
    example=_PACK_FUSE | {"cable_rating": "6 A"},
    traps=(
        "Does the fuse sit at the battery, before any cable that it should guard?",
        "Is the fuse rated for this voltage of direct current?",
        "Does starting current open it after a year of starts?",
    ),
)


def _fuse_opening(current: float, size: float) -> Outcome:
    if size <= 0:
        raise EngineeringError("fuse-opening: a fuse of no size", "give its size in A")
    multiple = current / size
    near = 1e-9
    longest = [slow for at, _, slow in GATES if slow is not None and at <= multiple * (1 + near)]
    shortest = [fast for at, fast, _ in GATES if at >= multiple * (1 - near)]
    values: dict[str, float] = {}
    remarks = ["the gates are those of ISO 8820-3 from memory: look them up before they are relied on"]
    if longest:
        values["slowest"] = longest[-1]
    else:
        remarks.append(
            "at 110 % or less it carries the current for 100 h or more"
            if multiple <= 1.10 * (1 + near)
            else "between 110 % and 135 % no longest time is stated: it may not open at all"
        )
    if shortest:
        values["fastest"] = shortest[0]
    values["multiple"] = multiple
    return Outcome(values, tuple(remarks))


def _gate(size_times: str, answer: str, expected: str) -> Check:
    given = {"size": "10 A", "current": f"{size_times} A"}
    return Check(given, answer, expected, "published", "ISO 8820-3 opening times, from memory", rel=1e-9)


FUSE_OPENING = Model(
    name="fuse-opening",
    title="how fast a blade fuse opens",
    formula="gates of ISO 8820-3 at 110, 135, 160, 200, 350 and 600 % of the size",
    source="ISO 8820-3 blade fuses, from memory",
    holds="blade fuses at 23 °C; between gates the slower time of the lower one and the faster of the higher one",
    givens=(
        Given("current", "current", "current through the fuse", "A", None, "0 A", "100000 A"),
        Given("size", "current", "size of the fuse", "A", None, "0.1 A", "1000 A"),
    ),
    finds=(
        Found("slowest", "time", "s", "longest time until it opens"),
        Found("fastest", "time", "s", "shortest time until it opens"),
        Found("multiple", "number", "", "current as a multiple of the size"),
    ),
    function=_fuse_opening,
    checks=(
        _gate("11", "fastest", "100 h"),
        _gate("13.5", "fastest", "0.75 s"),
        _gate("13.5", "slowest", "600 s"),
        _gate("16", "fastest", "0.25 s"),
        _gate("16", "slowest", "50 s"),
        _gate("20", "fastest", "0.15 s"),
        _gate("20", "slowest", "5 s"),
        _gate("35", "fastest", "0.04 s"),
        _gate("35", "slowest", "0.5 s"),
        _gate("60", "fastest", "0.02 s"),
        _gate("60", "slowest", "0.1 s"),
    ),
    example={"current": "97 A", "size": "4 A"},
)


def _wire_fusing(area: float, time: float, temperature: float) -> Outcome:
    if area <= 0 or time <= 0:
        raise EngineeringError("wire-fusing: area and time must be more than nothing", "give area=0.75mm2 time=1s")
    celsius = temperature - 273.15
    circular_mils = area * 4 / math.pi / (25.4e-6) ** 2
    heat = math.log10(1 + (1083 - celsius) / (234 + celsius))
    short = circular_mils * math.sqrt(heat / (33 * time))
    steady = 80 * (math.sqrt(4 * area / math.pi) * 1e3) ** 1.5
    outside = ("no heat may leave the wire: beyond 10 s it does",) if time > 10 else ()
    return Outcome({"short": short, "steady": steady}, (), outside)


WIRE_FUSING = Model(
    name="wire-fusing",
    title="current that melts a copper wire",
    formula="short: Onderdonk, I = A sqrt(log10(1 + (1083 - T) / (234 + T)) / (33 t)), A in circular mils; "
    "steady: Preece, I = 80 d^1.5, d in mm",
    source="Onderdonk's and Preece's equations, from memory",
    holds="bare round copper; short times up to 10 s. Insulation fails long before",
    givens=(
        Given("area", "area", "cross-section, in mm2 or as AWG 18", "mm2", None, "0.001 mm2", "1000 mm2"),
        Given("time", "time", "time until it melts", "s", "1 s", "1 ms", "100 s"),
        Given("temperature", "temperature", "temperature at the beginning", "degC", "20 degC", "-60 degC", "200 degC"),
    ),
    finds=(
        Found("short", "current", "A", "current that melts it in that time"),
        Found("steady", "current", "A", "current that melts it in free air in the long run"),
    ),
    function=_wire_fusing,
    checks=(
        *(
            Check({"area": area}, "steady", expected, "published", "Preece's table, from memory", rel=2e-3)
            for area, expected in (("AWG 10", "333 A"), ("AWG 18", "82.9 A"))
        ),
        *(
            Check({"area": area}, "steady", expected, "constructed", "check sheet CV-82, worked out", rel=1e-3)
            for area, expected in (("AWG 22", "41.33 A"), ("AWG 30", "10.28 A"))
        ),
        *(
            Check(
                {"area": "AWG 18", "time": time},
                "short",
                expected,
                "constructed",
                "check sheet CV-82, Onderdonk's equation by hand",
                abs="0.005 A",
            )
            for time, expected in (("1 s", "239.05 A"), ("10 s", "75.59 A"))
        ),
    ),
    example={"area": "0.75 mm2", "time": "1 s"},
    traps=("Does the fuse open before the wire's insulation softens?",),
)


def _largest_fuse(area: float) -> Outcome:
    rated = [(gauge, rating) for gauge, rating in SMALL_CONDUCTORS if gauge_area(gauge) <= area * (1 + 1e-6)]
    if not rated:
        raise EngineeringError(
            f"largest-fuse: the table begins at 18 AWG (0.823 mm²), and {area * 1e6:.3g} mm² is thinner",
            "use the maker's rating of the cable",
        )
    gauge, rating = rated[-1]
    remarks = [f"the row of {gauge} AWG", "from memory of NEC 240.4(D): look it up where that code applies"]
    beyond = area > gauge_area(9)
    outside = ("the table ends at 10 AWG (5.26 mm²): a thicker cable may have more",) if beyond else ()
    return Outcome({"rating": rating}, tuple(remarks), outside)


LARGEST_FUSE = Model(
    name="largest-fuse",
    title="largest fuse for a small copper cable",
    formula="table: 18 AWG 7 A, 16 10 A, 14 15 A, 12 20 A, 10 30 A; the next thinner row counts",
    source="small conductor rule, NEC 240.4(D), from memory",
    holds="copper from 18 to 10 AWG",
    givens=(Given("area", "area", "cross-section, in mm2 or as AWG 18", "mm2", None, "0.001 mm2", "1000 mm2"),),
    finds=(Found("rating", "current", "A", "largest fuse"),),
    function=_largest_fuse,
    checks=tuple(
        Check(
            {"area": f"AWG {gauge}"},
            "rating",
            f"{rating} A",
            "published",
            "small conductor rule, NEC 240.4(D), from memory",
            rel=1e-9,
        )
        for gauge, rating in ((18, 7), (16, 10), (14, 15), (12, 20), (10, 30))
    ),
    example={"area": "1.5 mm2"},
)
