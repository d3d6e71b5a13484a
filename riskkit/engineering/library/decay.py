"""A closed volume that loses pressure: how large the leak is, and what warmth pretends."""

from __future__ import annotations

from types import MappingProxyType

from riskkit.engineering.models import Check, EngineeringError, Found, Given, Model, Outcome

NOTABLE = 0.1
"""Share of the fall that a change of temperature may make before it is said. Common practice, no source."""


def _decay(
    volume: float,
    fall: float,
    time: float,
    wall: float,
    atmosphere: float,
    temperature: float,
    temperature_change: float,
) -> Outcome:
    if min(volume, time, atmosphere, temperature) <= 0:
        raise EngineeringError("pressure-decay: volume and time must be more than nothing", "measure both again")
    gas = volume / atmosphere
    leak = (gas + wall) * fall / time
    # A warmer gas wants more room: the pressure rises by what gas and wall together give way.
    drift = volume * temperature_change / temperature / (gas + wall)
    values = {"leak": leak, "drift": drift, "drift_leak": (gas + wall) * drift / time}
    remarks = []
    if wall == 0:
        remarks.append("the walls are taken as rigid: film, bags and hoses give way, and the leak is then larger")
    if fall and drift > NOTABLE * abs(fall):
        remarks.append(
            f"a change of {temperature_change:.2g} K moves the pressure by {drift / 100:.2g} hPa, "
            f"{drift / abs(fall) * 100:.0f} % of the fall: wait, shield it, or measure the flow that holds the pressure"
        )
    return Outcome(values, tuple(remarks))


_BOX = MappingProxyType({"volume": "10 L", "fall": "1.2 hPa", "time": "60 s"})

PRESSURE_DECAY = Model(
    name="pressure-decay",
    title="leak from the fall of pressure in a closed volume",
    formula="leak = (volume / atmosphere + wall) fall / time; drift = volume (change / temperature) / (same bracket)",
    source="ideal gas at constant temperature; compliance of the wall beside it",
    holds="a fall that is small against the test pressure, the leak as it is at that pressure, room condition",
    givens=(
        Given("volume", "volume", "gas volume", "L", None, "0.001 L", "1000 m3"),
        Given("fall", "pressure", "fall of pressure", "hPa", None, "0 hPa", "1 bar"),
        Given("time", "time", "time in which it falls", "s", None, "0.01 s", "30 d"),
        Given("wall", "compliance", "compliance of the walls", "mL/hPa", "0 mL/hPa", "0 mL/hPa", "10000 mL/hPa"),
        Given("atmosphere", "pressure", "air pressure of the place", "hPa", "1013.25 hPa", "300 hPa", "1100 hPa"),
        Given("temperature", "temperature", "temperature of the gas", "degC", "20 degC", "-40 degC", "80 degC"),
        Given(
            "temperature_change",
            "temperature difference",
            "change of temperature that would not be seen",
            "K",
            "0.1 K",
            "0 K",
            "20 K",
            asks="0.1 K is taken as a change of temperature that would not be seen",
        ),
    ),
    finds=(
        Found("leak", "flow", "mL/min", "leak flow"),
        Found("drift", "pressure", "hPa", "pressure that this change of temperature makes"),
        Found("drift_leak", "flow", "mL/min", "leak that this change would pretend or hide"),
    ),
    function=_decay,
    checks=(
        Check(_BOX, "leak", "11.8 mL/min", "constructed", "hand-worked sheet M18", abs="0.05 mL/min"),
        Check(
            _BOX | {"wall": "35 mL/hPa"}, "leak", "54 mL/min", "constructed", "hand-worked sheet M18", abs="0.5 mL/min"
        ),
        Check(_BOX, "drift", "0.35 hPa", "constructed", "hand-worked sheet M18", abs="0.005 hPa"),
        Check(
            {"volume": "1 L", "fall": "1 mbar", "time": "1 s"},
            "leak",
            "59.2 mL/min",
            "published",
            "1 mbar L/s is 59.2 cm3/min at one atmosphere, tables of leak rate units, from memory",
            rel=5e-4,
        ),
        Check(_BOX | {"fall": "0 hPa"}, "leak", "0 mL/min", "limit", "no fall, no leak", abs="1e-9 mL/min"),
    ),
    example=_BOX | {"wall": "35 mL/hPa"},
    traps=(
        "Had the gas the time to take the temperature of the walls?",
        "Does the film still creep, so that the volume grows?",
        "Is the tap or the gauge itself a part of the leak?",
    ),
)
