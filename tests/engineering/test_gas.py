"""Gas: balances, limits and other people's methods for mixing, lungs, heat, oxygen, moisture and conditions of gas.

What each model has to give stands beside the model; `test_models.py` proves it. Here stand whole laws: things that
must be so for every input, and the same question put to scipy's integrator or to another formula.
"""

from __future__ import annotations

import math
import random
from typing import Any

import pytest
from hypothesis import given, settings, strategies as st
from scipy.integrate import solve_ivp

from riskkit.engineering import EngineeringError, calculate, evaluate, solve_for
from riskkit.engineering.catalog import model
from riskkit.engineering.library.moisture import dew_point, saturation_pressure
from riskkit.units import read_quantity

L_MIN = 1e-3 / 60
QUICK = settings(max_examples=60, deadline=None)
STEPS: dict[str, Any] = {"method": "DOP853", "rtol": 1e-11, "atol": 1e-15}
GAS = (
    "well-mixed-space",
    "oxygen-mix",
    "oxygen-enclosure",
    "heated-body",
    "end-temperature",
    "heat-into-gas",
    "winding-temperature",
    "two-level-lung",
    "lung-filling",
    "equation-of-motion",
    "apparatus-dead-space",
    "alveolar-oxygen",
    "body-size",
    "moisture",
    "gas-condition",
    "gas-concentration",
)


def between(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False)


FLOWS = st.just(0.0) | between(1e-9, 120)
"""Litres per minute; with next to none the fraction rises in a straight line, and digits are lost if it is done badly."""


# The demo's calculation sheets, inputs as the sheets state them; worked by hand for this project.

STOP = {"carbon_dioxide": "0.25 L/min", "volume": "9.5 L", "begins": "0.46 %"}
CASE = {"leak": "0.2 L/min", "source_fraction": "93 %"}
COLD_WALL = {"temperature": "30 °C", "humidity": "80 %", "wall": "15 °C", "flow": "60 L/min"}


@pytest.mark.parametrize(
    ("name", "inputs", "find", "printed"),
    [
        ("well-mixed space", {**STOP, "mark": "3 %"}, "time_to_mark", "58"),  # K02
        ("well-mixed space", {**STOP, "mark": "2 %"}, "time_to_mark", "35"),
        ("well-mixed space", {**STOP, "mark": "5 %"}, "time_to_mark", "104"),
        ("well-mixed space", STOP, "rise_per_minute", "2.63"),
        ("mixing", {**CASE, "limit": "25 %"}, "ventilation_for_limit", "3.3"),  # K07
        ("mixing", {**CASE, "limit": "23.5 %"}, "ventilation_for_limit", "5.3"),
        ("moisture", COLD_WALL, "dew_point", "26.2"),  # K08
        ("moisture", COLD_WALL, "water_per_hour", "41"),
        ("heat into gas", {"power": "14 W", "flow": "60 L/min"}, "rise", "11.6"),  # K09
        ("heat into gas", {"power": "14 W", "flow": "20 L/min"}, "rise", "34.7"),
    ],
)
def test_the_demo_sheets_are_reproduced_to_the_digit(
    name: str, inputs: dict[str, str], find: str, printed: str
) -> None:
    places = len(printed.partition(".")[2])
    assert f"{calculate(name, **inputs).value(find).number:.{places}f}" == printed


# A space that gas is blown through.


@QUICK
@given(between(0.05, 0.6), FLOWS, between(2, 40), between(0, 0.05), between(1, 600))
def test_a_hood_follows_its_mass_balance_stepped_in_time(
    made: float, flow: float, volume: float, begins: float, time: float
) -> None:
    q, v, p = flow * L_MIN, volume * 1e-3, made * L_MIN
    there = evaluate("well-mixed-space", carbon_dioxide=p, flow=q, volume=v, begins=begins, time=time).values["after"]
    stepped = solve_ivp(lambda t, f: (p + q * (0.0004 - f)) / v, (0, time), [begins], **STEPS).y[0, -1]
    assert there == pytest.approx(stepped, rel=1e-8)


@QUICK
@given(between(0.05, 0.6), FLOWS, between(2, 40), between(0, 0.05), between(0, 0.08))
def test_after_the_time_to_a_mark_the_mark_is_there(
    made: float, flow: float, volume: float, begins: float, mark: float
) -> None:
    given = {"carbon_dioxide": made * L_MIN, "flow": flow * L_MIN, "volume": volume * 1e-3, "begins": begins}
    found = evaluate("well-mixed-space", **given, mark=mark)
    time = found.values.get("time_to_mark")
    if time is None:
        assert any("there is no time to the mark" in each for each in found.remarks)
    else:
        assert time >= 0
        after = evaluate("well-mixed-space", **given, time=time).values["after"]
        assert after == pytest.approx(mark, rel=1e-9, abs=1e-12)


@QUICK
@given(between(0.05, 0.6), between(1, 120), between(0, 0.01))
def test_what_goes_in_comes_out_of_a_hood_in_its_steady_state(made: float, flow: float, inlet: float) -> None:
    steady = evaluate("well-mixed-space", carbon_dioxide=made, flow=flow, inlet=inlet).values["steady"]
    assert flow * steady == pytest.approx(flow * inlet + made)
    back = evaluate("well-mixed-space", carbon_dioxide=made, flow=flow, inlet=inlet, mark=steady)
    assert back.values["flow_for_mark"] == pytest.approx(flow)


def test_a_head_and_a_harm_mark_are_asked_for_and_never_taken_for_granted() -> None:
    answer = calculate("well-mixed-space", carbon_dioxide="0.25 L/min", volume="14 L", begins="0.46 %", mark="3 %")
    assert any("clinician" in each for each in answer.remarks)
    assert any("head takes" in each for each in answer.remarks)
    smaller = calculate(
        "well-mixed-space", carbon_dioxide="0.25 L/min", volume="14 L", head="4.5 L", begins="0.46 %", mark="3 %"
    )
    # Time shrinks in proportion to the volume.
    assert smaller.main.value / answer.main.value == pytest.approx(9.5 / 14)
    assert model("well-mixed-space").given("mark").default == ""
    assert model("oxygen-enclosure").given("limit").default == ""
    high = calculate("well-mixed-space", carbon_dioxide="0.25 L/min", flow="3 L/min")
    assert high.validity == "outside"


def test_a_small_flow_is_as_good_as_none() -> None:
    common = {"carbon_dioxide": "0.25 L/min", "volume": "9.5 L", "begins": "0.46 %", "mark": "3 %"}
    stopped = calculate("well-mixed-space", **common).value("time_to_mark").value
    nearly = calculate("well-mixed-space", flow="1e-9 L/min", **common).value("time_to_mark").value
    assert nearly == pytest.approx(stopped, rel=1e-7)


# Oxygen.


@QUICK
@given(between(0.1, 100), between(0, 50), between(0.21, 1))
def test_oxygen_is_neither_made_nor_lost(air: float, oxygen: float, source: float) -> None:
    found = evaluate("oxygen-mix", air=air, oxygen=oxygen, source_fraction=source).values
    assert found["fraction"] * found["total"] == pytest.approx(0.209 * air + source * oxygen)
    assert 0.209 - 1e-12 <= found["fraction"] <= source + 1e-12


@QUICK
@given(between(0.01, 5), between(0.3, 1), between(0.215, 0.29))
def test_the_ventilation_for_a_limit_holds_the_limit(leak: float, source: float, limit: float) -> None:
    needed = evaluate("oxygen-enclosure", leak=leak, source_fraction=source, limit=limit).values
    kept = evaluate(
        "oxygen-enclosure", leak=leak, source_fraction=source, ventilation=needed["ventilation_for_limit"]
    ).values
    assert kept["fraction"] == pytest.approx(limit)
    more = evaluate("oxygen-enclosure", leak=3 * leak, source_fraction=source, limit=limit).values
    assert more["ventilation_for_limit"] == pytest.approx(3 * needed["ventilation_for_limit"])


@QUICK
@given(between(0.01, 2), between(0, 20), between(0.5, 20), between(1, 3600))
def test_a_case_follows_its_mass_balance_stepped_in_time(leak: float, air: float, volume: float, time: float) -> None:
    found = evaluate(
        "oxygen-enclosure",
        leak=leak * L_MIN,
        source_fraction=0.93,
        ventilation=air * L_MIN,
        volume=volume * 1e-3,
        time=time,
    )
    per = 1 / (60 * volume)
    stepped = solve_ivp(
        lambda t, f: per * (leak * 0.93 + air * 0.209 - (leak + air) * f), (0, time), [0.209], **STEPS
    ).y[0, -1]
    assert found.values["after"] == pytest.approx(stepped, rel=1e-8)


@pytest.mark.parametrize(
    ("air", "said"),
    [
        # 29 CFR 1910.146: enriched is above 23.5 %, exactly 23.5 is not; deficient is below 19.5 %, exactly 19.5 is not.
        ("23.5 %", ""),
        ("23.51 %", "enriched"),
        ("19.5 %", ""),
        ("19.49 %", "deficient"),
        # IEC 60601-1 11.2.2: oxygen-rich is above 25 % (from memory).
        ("25 %", "enriched"),
        ("25.01 %", "oxygen-rich"),
    ],
)
def test_a_fraction_at_the_mark_of_a_standard_is_not_beyond_it(air: str, said: str) -> None:
    answer = calculate("oxygen-mix", air="30 L/min", oxygen="0 L/min", source_fraction="93 %", air_fraction=air)
    words = " ".join(each for each in answer.remarks if "called" in each)
    assert (said in words) if said else not words
    assert ("oxygen-rich" in words) == (said == "oxygen-rich")


# Heat.


@QUICK
@given(between(0.1, 50), between(0.5, 20), between(10, 7200), between(60, 7200))
def test_a_body_follows_its_energy_balance_stepped_in_time(power: float, per: float, time: float, tau: float) -> None:
    found = evaluate(
        "heated-body", power=power, thermal_resistance=per, ambient=300.0, time=time, time_constant=tau
    ).values["temperature_after"]
    capacity = tau / per
    stepped = solve_ivp(lambda t, k: (power - (k - 300) / per) / capacity, (0, time), [300.0], **STEPS).y[0, -1]
    assert found == pytest.approx(stepped, rel=1e-9)


@QUICK
@given(between(5, 60), between(20, 200), between(60, 6000), between(0.1, 3))
def test_three_points_of_an_exponential_give_its_end_back(begin: float, end: float, tau: float, steps: float) -> None:
    if abs(end - begin) < 1:
        return
    step = steps * tau
    readings = [273.15 + end + (begin - end) * math.exp(-number * steps) for number in range(3)]
    found = evaluate("end-temperature", first=readings[0], second=readings[1], third=readings[2], step=step).values
    assert found["end_temperature"] == pytest.approx(273.15 + end, abs=1e-6)
    assert found["time_constant"] == pytest.approx(tau, rel=1e-6)


def test_air_of_the_gas_heating_is_an_ideal_gas_of_seven_halves() -> None:
    """Defaults against p M / (R T) and 7/2 R / M of air, 28.9647 g/mol (US Standard Atmosphere 1976, from memory)."""
    givens = {each.name: each.default for each in model("heat-into-gas").givens}
    gas, mole = 8.314462618, 0.0289647
    assert read_quantity(str(givens["density"])).value == pytest.approx(101325 * mole / gas / 293.15, rel=1e-3)
    assert read_quantity(str(givens["heat_capacity"])).value == pytest.approx(3.5 * gas / mole, rel=1e-3)


@QUICK
@given(between(0.1, 100), between(-20, 60), between(-40, 200))
def test_a_winding_read_back_gives_the_temperature_that_was_put_in(cold: float, begin: float, end: float) -> None:
    """Resistance of copper linear in temperature from 20 °C, IEC 60228 and others, 0.00393 per K."""
    hot = cold * (1 + 0.00393 * (end - 20)) / (1 + 0.00393 * (begin - 20))
    found = evaluate("winding-temperature", cold=cold, hot=hot, temperature=273.15 + begin).values
    assert found["temperature"] == pytest.approx(273.15 + end, abs=1e-9)


def test_copper_reaches_no_resistance_at_the_constant_of_motor_standards() -> None:
    """(235 + t2) / (235 + t1): IEC 60034-1 for copper, from memory; 0.00393 per K gives 234.5."""
    hot = 2.0 * (235 + 95) / (235 + 22)
    found = evaluate("winding-temperature", cold=2.0, hot=hot, temperature=295.15).values
    assert found["temperature"] - 273.15 == pytest.approx(95, abs=0.2)


# A lung of one compartment.


@settings(max_examples=12, deadline=None)
@given(between(1, 20), between(8, 40), between(0.2, 0.8), between(10, 100), between(2, 40), between(2, 60))
def test_breaths_stepped_in_time_agree(
    step: float, rate: float, duty: float, compliance: float, into: float, out: float
) -> None:
    """scipy's integrator, breath after breath until nothing changes: within 0.01 mL, as the job asks."""
    breath = 60 / rate
    inspiration = duty * breath
    c = compliance * 1e-3  # litres and hectopascals
    inside = 0.0
    for _ in range(400):
        full = solve_ivp(lambda t, v: (step - v / c) / into, (0, inspiration), [inside], rtol=1e-9, atol=1e-12).y[0, -1]
        left = solve_ivp(lambda t, v: -v / c / out, (0, breath - inspiration), [full], rtol=1e-9, atol=1e-12).y[0, -1]
        done = abs(left - inside) < 1e-10
        inside = left
        if done:
            break
    found = evaluate(
        "two-level-lung",
        low=600.0,
        high=600.0 + 100 * step,
        rate=rate / 60,
        inspiration=inspiration,
        compliance=compliance * 1e-8,
        resistance=into * 1e5,
        resistance_out=out * 1e5,
    ).values
    assert found["tidal_volume"] * 1e6 == pytest.approx((full - left) * 1e3, abs=0.01)
    assert found["trapped_volume"] * 1e6 == pytest.approx(left * 1e3, abs=0.01)
    assert found["excess"] == pytest.approx(100 * left / c, abs=1)


LUNG = {
    "low": "6 hPa",
    "high": "13 hPa",
    "rate": "24 1/min",
    "inspiration": "1.0 s",
    "compliance": "60 mL/hPa",
    "resistance": "12 hPa/(L/s)",
}


def test_a_slower_way_out_traps_more_and_no_resistance_traps_nothing() -> None:
    trapped = [
        calculate("two-level-lung", **LUNG, resistance_out=f"{out} hPa/(L/s)").value("trapped_volume").value
        for out in (0, 5, 12, 28, 100)
    ]
    assert trapped == sorted(trapped)
    assert trapped[0] == 0
    open_ways = calculate("two-level-lung", **{**LUNG, "resistance": "0 hPa/(L/s)"})
    assert open_ways.value("tidal_volume").number == pytest.approx(420)
    assert any("mask does not show" in each for each in calculate("two-level-lung", **LUNG).remarks)


# Gas of the alveoli.


@QUICK
@given(between(0.05, 0.5), between(8, 40), between(0.3, 1), between(0, 0.1))
def test_a_breath_larger_by_the_dead_space_restores_carbon_dioxide(
    made: float, rate: float, breath: float, apparatus: float
) -> None:
    common = {"carbon_dioxide": made * L_MIN, "rate": rate / 60, "anatomical": 1.5e-4, "apparatus": apparatus * 1e-3}
    found = evaluate("apparatus-dead-space", tidal_volume=breath * 1e-3, **common).values
    larger = evaluate("apparatus-dead-space", tidal_volume=found["tidal_volume_to_restore"], **common).values
    assert larger["arterial"] == pytest.approx(found["without"])
    assert found["arterial"] >= found["without"] * (1 - 1e-12)


# Moisture.


def wagner_pruss(celsius: float) -> float:
    """Saturation pressure of water [Pa]: Wagner and Pruss, J. Phys. Chem. Ref. Data 31 (2002) 387, eq. 2.5, from memory."""
    kelvin = celsius + 273.15
    gap = 1 - kelvin / 647.096
    terms = zip((-7.85951783, 1.84408259, -11.7866497, 22.6807411, -15.9618719, 1.80122502), (1, 1.5, 3, 3.5, 4, 7.5))
    return 22.064e6 * math.exp(647.096 / kelvin * sum(factor * gap**power for factor, power in terms))


def test_the_formula_of_the_weather_services_stays_within_what_they_say_of_it() -> None:
    # The steam tables first: 2.3393 kPa at 20 °C (IAPWS, from memory), so that the yardstick itself is measured.
    assert wagner_pruss(20) == pytest.approx(2339.3, rel=1e-4)
    for celsius in range(0, 61, 2):
        assert saturation_pressure(celsius + 273.15) == pytest.approx(wagner_pruss(celsius + 1e-9), rel=6e-3)


@QUICK
@given(between(0, 60), between(0.01, 1))
def test_a_dew_point_is_where_its_gas_is_saturated(celsius: float, humidity: float) -> None:
    vapour = humidity * saturation_pressure(celsius + 273.15)
    dew = dew_point(vapour)
    assert saturation_pressure(dew) == pytest.approx(vapour)
    assert dew <= celsius + 273.15 + 1e-9


@QUICK
@given(between(1, 60), between(0.05, 1), between(0, 60), between(1, 200))
def test_no_wall_takes_more_water_than_the_gas_carries(
    celsius: float, humidity: float, wall: float, flow: float
) -> None:
    found = evaluate(
        "moisture", temperature=celsius + 273.15, humidity=humidity, wall=wall + 273.15, flow=flow * L_MIN
    ).values
    assert 0 <= found["water_per_hour"] <= found["water_with_shrinking"] + 1e-15
    assert found["water_with_shrinking"] <= found["water_carried"]
    dry = wall + 273.15 >= found["dew_point"]
    assert (found["water_with_shrinking"] == 0) == dry or abs(wall + 273.15 - found["dew_point"]) < 1e-6


def test_water_counted_in_moles_agrees() -> None:
    """Moles of dry gas and of water in and out at 1013.25 hPa, saturation by Wagner and Pruss instead of Magnus."""
    warm, wall, flow = 303.15, 15.0, 60 * L_MIN
    vapour, wet = 0.8 * wagner_pruss(30), wagner_pruss(wall)
    dry_moles = (101325 - vapour) * flow / 8.314462618 / warm
    out = dry_moles * (vapour / (101325 - vapour) - wet / (101325 - wet)) * 0.01801528 * 3.6e6
    answer = calculate("moisture", temperature="30 degC", humidity="80 %", wall="15 degC", flow="60 L/min")
    assert answer.value("water_with_shrinking").number == pytest.approx(out, rel=6e-3)


# Conditions of gas.


@QUICK
@given(
    st.sampled_from(["room", "ATPS", "ATPD", "BTPS", "STPD"]),
    st.sampled_from(["room", "ATPS", "ATPD", "BTPS", "STPD"]),
    st.sampled_from(["room", "ATPS", "ATPD", "BTPS", "STPD"]),
    between(0, 40),
    between(0, 1),
    between(600, 1050),
)
def test_litres_turned_twice_are_litres_turned_once(
    first: str, second: str, third: str, celsius: float, humidity: float, pressure: float
) -> None:
    def factor(stated: str, wanted: str) -> float:
        around = {"temperature": celsius + 273.15, "humidity": humidity, "pressure": pressure * 100}
        return evaluate("gas-condition", stated=stated, wanted=wanted, **around).values["factor"]

    assert factor(first, second) * factor(second, third) == pytest.approx(factor(first, third))


def test_litres_of_a_room_at_the_ends_of_its_humidity() -> None:
    for humidity, same in (("0 %", "ATPD"), ("100 %", "ATPS")):
        room = calculate("gas-condition", stated="room", wanted="BTPS", humidity=humidity, volume="1 L").value("volume")
        other = calculate("gas-condition", stated=same, wanted="BTPS", volume="1 L").value("volume")
        assert room.value == pytest.approx(other.value)


# Spelling, uncertainty, backwards, wrong use.


@pytest.mark.parametrize(
    ("name", "one", "other"),
    [
        (
            "well-mixed-space",
            {"carbon_dioxide": "0.25 L/min", "flow": "30 L/min", "inlet": "0.04 %"},
            {"carbon_dioxide": "250 mL/min", "flow": "0.5 L/s", "inlet": "400 ppm"},
        ),
        (
            "two-level-lung",
            LUNG,
            {**LUNG, "low": "0.6 kPa", "high": "1.3 kPa", "rate": "0.4 Hz", "resistance": "1.2 kPa*s/L"},
        ),
        ("heat-into-gas", {"power": "14 W", "flow": "60 L/min"}, {"power": "0.014 kW", "flow": "3.6 m3/h"}),
        (
            "end-temperature",
            {"first": "23 degC", "second": "38 degC", "third": "47 degC"},
            {"first": "73.4 degF", "second": "100.4 degF", "third": "320.15 K"},
        ),
        (
            "moisture",
            {"temperature": "30 °C", "humidity": "80 %"},
            {"temperature": "86 degF", "humidity": "80 percent"},
        ),
    ],
)
def test_units_of_any_spelling_give_the_same_answer(name: str, one: dict[str, str], other: dict[str, str]) -> None:
    assert calculate(name, **one).main.value == pytest.approx(calculate(name, **other).main.value, rel=1e-9)


def test_first_order_uncertainty_agrees_with_drawing_at_random() -> None:
    """20 000 draws, seeded: the standard error of a standard deviation is 1/sqrt(2n) = 0.5 %, tolerance four of them."""
    answer = calculate(
        "oxygen-mix", air="20 ± 1 L/min", oxygen="5 ± 0.3 L/min", source_fraction="93 % ± 2 %", air_fraction="20.9 %"
    )
    draw = random.Random(7)
    drawn = [
        evaluate(
            "oxygen-mix",
            air=draw.gauss(20, 0.5),
            oxygen=draw.gauss(5, 0.15),
            source_fraction=draw.gauss(0.93, 0.01),
        ).values["fraction"]
        for _ in range(20_000)
    ]
    mean = sum(drawn) / len(drawn)
    spread = math.sqrt(sum((each - mean) ** 2 for each in drawn) / (len(drawn) - 1))
    assert answer.main.uncertainty == pytest.approx(2 * spread, rel=0.02)


def test_models_are_solved_backwards() -> None:
    """Hand-worked sheet M3 and M13 read the other way round."""
    flow = solve_for("well-mixed-space", "flow", "1 %", carbon_dioxide="0.25 L/min")
    assert flow.value / L_MIN == pytest.approx(26.0, abs=0.05)
    air = solve_for("oxygen-enclosure", "ventilation", "25 %", leak="0.2 L/min", source_fraction="93 %")
    assert air.value / L_MIN == pytest.approx(3.3, abs=0.05)


@pytest.mark.parametrize(
    ("name", "inputs", "words"),
    [
        ("well-mixed-space", {"carbon_dioxide": "0.25 hPa", "flow": "30 L/min"}, "is a pressure"),
        ("well-mixed-space", {"carbon_dioxide": "0.25 L/min", "mark": "3 %"}, "needs `volume`"),
        ("well-mixed-space", {"carbon_dioxide": "0.25 L/min", "flow": "9 L/min", "time": "3 s"}, "needs `volume`"),
        ("well-mixed-space", {"carbon_dioxide": "0.25 L/min", "volume": "4 L", "head": "4.5 L"}, "no gas is left"),
        ("oxygen-mix", {"air": "0 L/min", "oxygen": "0 L/min", "source_fraction": "93 %"}, "neither air nor oxygen"),
        ("oxygen-enclosure", {"leak": "0.2 L/min", "source_fraction": "93 %"}, "needs `ventilation` or `limit`"),
        (
            "oxygen-enclosure",
            {"leak": "0.2 L/min", "source_fraction": "93 %", "limit": "20 %"},
            "no ventilation with air of 20.9 % gets to 20 %",
        ),
        ("heated-body", {"power": "4 W", "thermal_resistance": "9 K/W", "time": "9 min"}, "needs `time_constant`"),
        ("heat-into-gas", {"power": "4 W", "flow": "0 L/min"}, "from 0.01 L/min"),
        ("end-temperature", {"first": "23 degC", "second": "38 degC", "third": "55 degC"}, "do not level off"),
        ("end-temperature", {"first": "23 degC", "second": "23 degC", "third": "23 degC"}, "are equal"),
        ("two-level-lung", {**LUNG, "inspiration": "2.5 s"}, "leave no expiration"),
        ("two-level-lung", {**LUNG, "high": "5 hPa"}, "below the low one"),
        (
            "apparatus-dead-space",
            {
                "carbon_dioxide": "0.2 L/min",
                "rate": "30 1/min",
                "tidal_volume": "0.25 L",
                "anatomical": "0.15 L",
                "apparatus": "0.1 L",
            },
            "leave nothing of a breath",
        ),
        ("moisture", {"temperature": "20 degC", "humidity": "120 %"}, "up to 100 %"),
        ("moisture", {"humidity": "20 %"}, "needs `temperature`"),
        ("gas-condition", {"stated": "rom", "wanted": "BTPS"}, "cannot be `rom`"),
        ("gas-concentration", {"fraction": "-5 ppm"}, "-5 ppm"),
    ],
)
def test_wrong_use_gets_one_sentence(name: str, inputs: dict[str, str], words: str) -> None:
    with pytest.raises(EngineeringError) as caught:
        calculate(name, **inputs)
    assert words in caught.value.headline
    assert caught.value.help
    assert "\n" not in caught.value.headline


def test_nothing_of_a_gas_model_approves_a_device() -> None:
    for name in GAS:
        one = model(name)
        answer = calculate(one, **one.example)
        text = " ".join([one.title, one.holds, *one.traps, *answer.remarks, *answer.because]).casefold()
        assert not any(word in text for word in ("safe", "acceptable", "approved", "certified", "ready for use"))
        for remark in answer.remarks:
            assert not remark.endswith(".")
