"""Columns, batteries, wiring, sound, tipping, leaks, alarms, likelihoods and measuring chains against other methods.

What each model has to give stands beside the model; `test_models.py` proves it. Here stand whole laws, the same
question put to scipy, numpy or a balance of forces, the answers of the demo's sheets, and wrong use.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings, strategies as st
from ruamel.yaml import YAML
from scipy.integrate import quad, solve_ivp
from scipy.stats import binom

from riskkit.engineering import EngineeringError, all_models, calculate, evaluate, model, solve_for
from riskkit.engineering.catalog import end_of
from riskkit.engineering.library.instruments import water_density
from riskkit.engineering.library.likelihoods import mean_dormant
from riskkit.engineering.library.sound import together
from riskkit.engineering.models import Given, Model
from riskkit.evidence import sampling_adequacy
from riskkit.units import read_quantity

QUICK = settings(max_examples=60, deadline=None)
STEPS: dict[str, Any] = {"method": "DOP853", "rtol": 1e-10, "atol": 1e-13}
FAMILIES = (
    "instruments",
    "columns",
    "swings",
    "electrical",
    "wiring",
    "sound",
    "mechanics",
    "decay",
    "alarms",
    "likelihoods",
    "measuring",
)
BENCH = [each for each in all_models() if each.function.__module__.rpartition(".")[2] in FAMILIES]


def numbers(name: str, /, **inputs: str) -> dict[str, float]:
    """Answers in their units by name."""
    return {each.found.name: each.number for each in calculate(name, **inputs).values}


# --- liquid columns


@pytest.mark.parametrize(
    ("celsius", "density"),
    [
        # Tanaka et al., Metrologia 38 (2001) 301, table; read in a secondary copy (check sheet CV-69).
        (4, 999.9749),
        (10, 999.7027),
        (15, 999.1026),
        (20, 998.2067),
        (25, 997.0470),
        (30, 995.6488),
        (40, 992.2152),
    ],
)
def test_water_has_the_published_density(celsius: float, density: float) -> None:
    assert water_density(celsius + 273.15) == pytest.approx(density, abs=5e-4)


@pytest.mark.parametrize(("celsius", "density"), [(4, 999.97), (15, 999.10), (20, 998.20), (30, 995.65)])
def test_water_agrees_with_kell_to_the_printed_digits(celsius: float, density: float) -> None:
    # Kell, J. Chem. Eng. Data 20 (1975) 97, from memory, as printed in the hand-worked sheet M1.
    assert water_density(celsius + 273.15) == pytest.approx(density, abs=0.0101)


def test_the_u_tube_in_another_unit() -> None:
    # Hand-worked sheet M1 (constructed): 8.11 hPa are 8.27 cmH2O.
    answer = calculate("u-tube", reading="83 mm", temperature="24 degC")
    assert answer.main.in_unit("cmH2O") == pytest.approx(8.27, abs=0.005)


def test_a_u_tube_budget_by_first_order() -> None:
    # Check sheet CV-67 (constructed): triangular reading, rectangular temperature and gravity; u = 4.1659 Pa (1e-3).
    answer = calculate(
        "u-tube",
        reading=f"100.0 ± {2 / math.sqrt(6)} mm",
        temperature=f"20 ± {2 * 2 / math.sqrt(3)} degC",
        gravity=f"9.80665 ± {2 * 0.02 / math.sqrt(3)} m/s2",
        air="0 kg/m3",
    )
    assert answer.main.value == pytest.approx(978.9064, rel=1e-6)
    assert answer.main.uncertainty is not None
    assert answer.main.uncertainty / 2 == pytest.approx(4.1659, rel=1e-3)
    assert answer.main.contributions[0].name == "reading"


def test_the_budget_model_agrees_with_monte_carlo() -> None:
    rng = np.random.default_rng(20)
    count = 200_000

    def spread(half: float) -> np.ndarray:
        return rng.uniform(-half, half, count)

    reading = 0.083 + spread(0.5e-3) + spread(1e-3) - spread(0.5e-3) - spread(1e-3)
    t = 24 + spread(2)
    liquid = 999.974950 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))
    drawn = (liquid - 1.2) * 9.80665 * reading * np.cos(np.radians(spread(3)))
    # Standard deviation of 2e5 draws: Monte Carlo error 0.16 %; the tilt is a one-sided half-width in the model.
    stated = numbers("u-tube-uncertainty", reading="83 mm", temperature="24 degC")["standard"]
    assert stated == pytest.approx(float(drawn.std()), rel=0.01)


def test_one_limb_taken_for_the_whole_is_half() -> None:
    whole = numbers("u-tube", reading="50 mm")["pressure"]
    assert numbers("u-tube", reading="25 mm")["pressure"] == pytest.approx(whole / 2, rel=1e-12)
    one = calculate("u-tube", reading="25 mm", limbs="one")
    assert one.main.number == pytest.approx(whole, rel=1e-12)
    assert any("one limb was read" in remark for remark in one.remarks)


@QUICK
@given(st.floats(1e-3, 1), st.floats(math.radians(5), math.pi / 2), st.floats(1e-3, 1e-2), st.floats(2, 40))
def test_an_inclined_tube_balances_volumes_and_heights(length: float, angle: float, bore: float, ratio: float) -> None:
    """What rises in the tube comes out of the well; the pressure is the height between both surfaces."""
    well = bore * ratio
    fallen = length * (math.pi / 4 * bore**2) / (math.pi / 4 * well**2)
    height = length * math.sin(angle) + fallen
    found = evaluate("inclined-tube", reading=length, angle=angle, bore=bore, well=well).values["pressure"]
    assert found == pytest.approx(water_density(293.15) * 9.80665 * height, rel=1e-9)


def test_a_shallow_tube_is_marked() -> None:
    answer = calculate("inclined-tube", reading="120 mm", angle="3 deg", bore="3 mm", well="60 mm")
    assert answer.validity == "outside"


@QUICK
@given(st.floats(0.1, 2), st.floats(2e-3, 2e-2), st.floats(3e-7, 3e-6))
def test_a_swinging_column_against_its_equation_of_motion(column: float, bore: float, viscosity: float) -> None:
    """Gravity on the height between the limbs, and the wall friction of Hagen and Poiseuille, integrated by scipy."""
    found = evaluate("u-tube-dynamics", column=column, bore=bore, viscosity=viscosity).values
    assume(found["damping"] < 0.7)

    def motion(_: float, state: np.ndarray) -> list[float]:
        place, speed = state
        return [speed, -2 * 9.80665 / column * place - 32 * viscosity / bore**2 * speed]

    def turns(_: float, state: np.ndarray) -> float:
        return float(state[1])

    turns.direction = -1  # type: ignore[attr-defined]
    end = 2.2 * found["period"]
    path = solve_ivp(motion, (0, end), [-1.0, 0.0], events=turns, **STEPS)
    tops = [(at, state[0]) for at, state in zip(path.t_events[0], path.y_events[0], strict=True) if at > 1e-9]
    assert tops[0][1] == pytest.approx(found["overshoot"], rel=1e-5)
    assert tops[0][0] == pytest.approx(found["period"] / 2, rel=1e-5)
    # The swing falls to exp(-3), about 5 %, in the time to settle.
    (first, high), (second, low) = tops[:2]
    time_constant = (second - first) / math.log(high / low)
    assert 3 * time_constant == pytest.approx(found["settle"], rel=1e-4)


def test_settling_is_continuous_where_the_swing_ends() -> None:
    natural = math.sqrt(2 * 9.80665 / 0.45)
    critical = 1e-6 * natural / 16  # viscosity times this over bore^2 is 1 for a bore of 1 mm
    below, above = (
        evaluate("u-tube-dynamics", column=0.45, bore=1e-3, viscosity=critical * share).values
        for share in (0.999999, 1.000001)
    )
    assert below["settle"] == pytest.approx(above["settle"], rel=5e-3)
    assert "period" not in above
    assert above["overshoot"] == 0


def test_a_short_dwell_is_outside() -> None:
    answer = calculate("u-tube-dynamics", column="450 mm", bore="6 mm", dwell="1.4 s")
    assert answer.validity == "outside"
    assert "dwell" in answer.because[0]
    assert calculate("u-tube-dynamics", column="450 mm", bore="6 mm", dwell="8 s").validity == "inside"


def test_a_limb_that_is_too_short_is_said() -> None:
    remarks = calculate("u-tube-range", pressure="32 hPa", available="150 mm").remarks
    assert any("33.4 mm too short" in remark for remark in remarks)


# --- stored energy


@QUICK
@given(st.floats(0.5, 100), st.floats(1, 20), st.floats(0.05, 50), st.floats(1, 1.5))
def test_peukert_keeps_his_product(charge: float, hours: float, current: float, exponent: float) -> None:
    """Current to the exponent times time is the same at every current (Peukert 1897)."""

    def product(amperes: float) -> float:
        found = evaluate("battery", charge=charge * 3600, rate_time=hours * 3600, current=amperes, exponent=exponent)
        return amperes**exponent * found.values["runtime"]

    assert product(current) == pytest.approx(product(2 * current), rel=1e-9)


def test_without_an_exponent_the_naive_runtime_is_left() -> None:
    found = numbers("battery", charge="7 Ah", rate_time="20 h", current="2 A", exponent="1")
    assert found["runtime"] == pytest.approx(found["naive"], rel=1e-12)


def test_constant_power_on_a_falling_voltage_lies_above_the_bound() -> None:
    # 2.6 Ah from 25.6 V down to 19 V in a straight line over the charge, 14 W: dq/dt = P / (eta U(q)), by scipy.
    total, watts = 2.6 * 3600, 14 / 0.9
    seconds, _ = quad(lambda q: (25.6 + (19 - 25.6) * q / total) / watts, 0, total)
    found = numbers(
        "battery",
        charge="2.6 Ah",
        rate_time="5 h",
        power="14 W",
        voltage="25.6 V",
        lowest_voltage="19 V",
        efficiency="0.9",
        exponent="1",
    )
    assert found["shortest"] < seconds / 3600 < found["runtime"]


def test_a_runtime_without_derating_is_warned_of() -> None:
    load = {"charge": "7 Ah", "rate_time": "20 h", "current": "2 A", "exponent": "1.25"}
    assert any("no derating" in remark for remark in calculate("battery", **load).remarks)
    assert not any("no derating" in remark for remark in calculate("battery", **load, depth="0.8").remarks)
    light = calculate("battery", **(load | {"current": "0.1 A"}))
    assert any("lengthens" in remark for remark in light.remarks)


def test_charge_for_a_wanted_runtime() -> None:
    pack = {"rate_time": "5 h", "power": "14 W", "voltage": "25.6 V", "efficiency": "0.9", "depth": "0.8"}
    solved = solve_for("battery", "charge", "3 h", **pack)
    again = calculate("battery", charge=solved.written, **pack)
    assert again.main.in_unit("h") == pytest.approx(3, rel=1e-4)


@QUICK
@given(st.floats(0.1, 50), st.floats(0.01, 200), st.floats(5, 48), st.floats(0.3, 0.95), st.floats(0.5, 1))
def test_a_capacitor_lasts_as_long_as_asked(
    power: float, time: float, voltage: float, share: float, efficiency: float
) -> None:
    """C dV/dt = -P / (eta V), integrated by scipy until the lowest voltage."""
    found = evaluate(
        "ride-through", power=power, time=time, voltage=voltage, lowest_voltage=voltage * share, efficiency=efficiency
    )
    capacitance = found.values["capacitance"]
    path = solve_ivp(lambda _, v: [-power / efficiency / capacitance / v[0]], (0, time), [voltage], **STEPS)
    assert path.y[0, -1] == pytest.approx(voltage * share, rel=1e-6)


# --- wiring


def test_a_gauge_is_its_cross_section() -> None:
    # 18 AWG is 0.823 mm2 (ASTM B258 table, from memory).
    cord = {"current": "2.6 A", "length": "3 m"}
    by_gauge = numbers("cable", area="AWG 18", **cord)["drop"]
    assert by_gauge == pytest.approx(numbers("cable", area="0.823 mm2", **cord)["drop"], rel=1e-3)


def test_nominal_copper_stays_below_the_largest_resistance_that_is_allowed() -> None:
    # IEC 60228, largest resistance at 20 °C in ohm/km, class 2 and class 5, from memory.
    for area, solid, flexible in ((0.75, 24.5, 26.0), (1.0, 18.1, 19.5), (1.5, 12.1, 13.3), (2.5, 7.41, 7.98)):
        found = numbers("cable", current="1 A", length="1 km", area=f"{area} mm2", way="one way")["resistance"]
        assert found < solid < flexible <= 1.16 * found


def test_what_is_left_for_the_equipment() -> None:
    found = numbers("cable", current="2.6 A", length="3 m", area="0.75 mm2", temperature="30 degC", supply="19 V")
    assert found["left"] + found["drop"] == pytest.approx(19, rel=1e-12)
    assert found["loss"] == pytest.approx(2.6**2 * found["resistance"], rel=1e-12)


@QUICK
@given(st.floats(0.01, 30), st.floats(0.5, 1))
def test_a_fuse_carries_the_load_with_its_margin(current: float, share: float) -> None:
    found = evaluate("fuse", current=current, share=share).values
    assert found["smallest"] * share == pytest.approx(current, rel=1e-12)
    if "size" in found:
        assert found["size"] >= found["smallest"] * (1 - 1e-9)


def test_a_fuse_against_its_cable_and_its_fault() -> None:
    thin = calculate("fuse", current="2.6 A", cable_rating="3 A")
    assert any("thicker cable" in remark for remark in thin.remarks)
    weak = calculate(
        "fuse",
        current="2.6 A",
        voltage="12 V",
        source_resistance="0.5 ohm",
        cable_resistance="0.5 ohm",
        cable_rating="6 A",
    )
    assert weak.value("fault_current").number == pytest.approx(12)
    assert any("opens slowly" in remark for remark in weak.remarks)
    assert any("another kind" in remark for remark in calculate("fuse", current="60 A").remarks)


@QUICK
@given(st.floats(1.35, 6), st.floats(1, 1.5))
def test_more_current_never_opens_a_fuse_later(multiple: float, more: float) -> None:
    found = evaluate("fuse-opening", current=multiple * 4, size=4.0).values
    assert found["slowest"] >= found["fastest"]
    assert evaluate("fuse-opening", current=multiple * more * 4, size=4.0).values["slowest"] <= found["slowest"]


def test_a_fuse_that_may_never_open_has_no_longest_time() -> None:
    answer = calculate("fuse-opening", current="12 A", size="10 A")
    assert "slowest" not in {each.found.name for each in answer.values}
    assert any("may not open" in remark for remark in answer.remarks)


def test_a_cable_that_is_too_thin_for_the_table_is_refused() -> None:
    with pytest.raises(EngineeringError, match="18 AWG"):
        calculate("largest-fuse", area="0.75 mm2")
    assert calculate("largest-fuse", area="1.5 mm2").main.number == 10  # between 16 (1.31) and 14 AWG (2.08 mm2)
    assert calculate("largest-fuse", area="10 mm2").validity == "outside"


# --- sound


@QUICK
@given(st.lists(st.floats(0, 130), min_size=1, max_size=8))
def test_levels_add_as_numpy_adds_logarithms(levels: list[float]) -> None:
    scale = math.log(10) / 10
    expected = float(np.logaddexp.reduce(np.asarray(levels) * scale)) / scale
    assert together(tuple(levels)) == pytest.approx(expected, abs=1e-9)
    assert together(tuple(reversed(levels))) == pytest.approx(expected, abs=1e-9)


def test_an_alarm_reaches_as_far_as_its_margin() -> None:
    sounder = {"alarm": "72 dB(A)", "background": "45 dB(A)"}
    reach = calculate("alarm-sound", listener="1 m", **sounder).value("reach").number
    assert calculate("alarm-sound", listener=f"{reach} m", **sounder).main.number == pytest.approx(15, abs=1e-9)
    solved = solve_for("alarm-sound", "listener", "15 dB", **sounder)
    assert solved.value == pytest.approx(reach, rel=1e-6)


def test_half_of_the_time_is_three_decibels() -> None:
    long, short = (numbers("sound-dose", level="80 dB", time=time)["daily"] for time in ("6 h", "3 h"))
    assert long - short == pytest.approx(10 * math.log10(2), abs=1e-9)
    # A dose in two parts is the dose of the whole, by energy.
    assert together((short, short)) == pytest.approx(long, abs=1e-9)


# --- a case on a table


@QUICK
@given(
    st.floats(0.1, 50), st.floats(0.02, 0.5), st.floats(0.02, 1), st.floats(0.02, 1), st.floats(0, 40), st.floats(0, 3)
)
def test_moments_about_the_edge_balance(
    mass: float, half: float, centre: float, height: float, slope: float, hose: float
) -> None:
    """The weight, turned with the floor, against push and hose: two-dimensional cross products by numpy."""
    found = evaluate(
        "tip-and-drop",
        mass=mass,
        half_base=half,
        centre_height=centre,
        push_height=height,
        slope=math.radians(slope),
        hose_pull=hose,
        hose_height=height / 2,
    ).values
    turn = math.radians(slope)
    weight = mass * 9.80665 * np.array([math.sin(turn), -math.cos(turn)])  # along the floor, away from it
    arms = np.array([[-half, centre], [0, height], [0, height / 2]])
    forces = np.array([weight, [found["push"], 0], [hose, 0]])
    moments = arms[:, 0] * forces[:, 1] - arms[:, 1] * forces[:, 0]
    assert moments.sum() == pytest.approx(0, abs=1e-9 * max(1, float(np.abs(moments).max())))


def test_a_slippery_case_slides_first() -> None:
    case = {"mass": "3.4 kg", "half_base": "90 mm", "centre_height": "140 mm", "push_height": "260 mm"}
    assert any("slides" in remark for remark in calculate("tip-and-drop", friction="0.2", **case).remarks)
    assert not calculate("tip-and-drop", friction="0.5", **case).remarks
    pulled = calculate("tip-and-drop", hose_pull="20 N", hose_height="200 mm", **case)
    assert pulled.validity == "outside"


def test_a_block_that_is_about_to_tip() -> None:
    # Statics course, example 3 (read; answer worked out here): 250 lb, 32 in wide, pushed at 66 in: P = 250 x 16 / 66.
    found = numbers("tip-and-drop", mass="250 lb", half_base="16 in", centre_height="36 in", push_height="66 in")
    assert found["push"] == pytest.approx(read_quantity(f"{250 * 16 / 66} lbf").value, rel=1e-5)


# --- leaks


def test_the_vacuum_leak_of_a_regulation() -> None:
    # 40 CFR 1065.644, worked example: 2.0000 L, 25.300 to 50.600 kPa in 70 s at 293.15 K (task read);
    # 0.00030 mol/s (answer from memory).
    per_second = evaluate("pressure-decay", volume=2e-3, fall=25300.0, time=70.0).values["leak"]
    moles = per_second * 101325 / (8.314472 * 293.15)
    assert moles == pytest.approx(0.00030, abs=5e-6)


@QUICK
@given(st.floats(1e-3, 0.1), st.floats(0, 1e-6), st.floats(1e-8, 1e-6))
def test_a_leak_against_a_balance_of_moles(volume: float, wall: float, leak: float) -> None:
    """Gas in a yielding volume loses moles at a steady rate; the pressure falls as scipy integrates it."""
    air, gas = 101325.0, 8.314462618 * 293.15
    outflow = leak * air / gas

    def falling(_: float, pressure: np.ndarray) -> list[float]:
        # n = p V(p) / RT with V = V0 + wall (p - air).
        p = float(pressure[0])
        return [-outflow * gas / (volume + wall * (p - air) + p * wall)]

    seconds = 0.5 * (volume / air + wall) / leak * 100  # falls by 50 Pa
    path = solve_ivp(falling, (0, seconds), [air], **STEPS)
    fall = air - float(path.y[0, -1])
    found = evaluate("pressure-decay", volume=volume, fall=fall, time=seconds, wall=wall).values["leak"]
    assert found == pytest.approx(leak, rel=2e-3)


def test_warmth_that_pretends_a_leak_is_said() -> None:
    answer = calculate("pressure-decay", volume="10 L", fall="1.2 hPa", time="60 s")
    assert answer.value("drift").number == pytest.approx(1013.25 * 0.1 / 293.15, rel=1e-9)  # Gay-Lussac
    assert any("29 % of the fall" in remark for remark in answer.remarks)
    steady = calculate("pressure-decay", volume="10 L", fall="12 hPa", time="60 s", wall="35 mL/hPa")
    assert not any("of the fall" in remark for remark in steady.remarks)


# --- alarms


def test_an_alarm_that_comes_too_late() -> None:
    # Hand-worked sheet M23 (constructed): 66 s > 58 s; with 15 s to notice it is in time.
    chain = {"detect": "6 s", "delay": "4 s", "signal": "1 s", "act": "25 s", "time_to_harm": "58 s"}
    late = calculate("alarm-budget", notice="30 s", **chain)
    assert late.value("margin").number == pytest.approx(-8, abs=1e-12)
    assert any("66 s > 58 s" in remark for remark in late.remarks)
    intime = calculate("alarm-budget", notice="15 s", **chain)
    assert intime.value("margin").number == pytest.approx(7, abs=1e-12)
    assert not any("too late" in remark for remark in intime.remarks)
    assert all("clinician" in each.remarks[-1] for each in (late, intime))
    solved = solve_for("alarm-budget", "notice", "58 s", **chain)
    assert solved.value == pytest.approx(22, rel=1e-6)


# --- likelihoods


@QUICK
@given(st.integers(1, 30), st.integers(1, 30), st.floats(0, 1))
def test_parts_that_stand_in_against_scipy(parts: int, needed: int, reliability: float) -> None:
    assume(needed <= parts)
    found = evaluate("k-of-n", parts=float(parts), needed=float(needed), reliability=reliability).values
    assert found["failure"] == pytest.approx(binom.cdf(needed - 1, parts, reliability), rel=1e-9, abs=1e-14)
    assert found["failure"] + found["works"] == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize(("parts", "needed"), [(1, 1), (2, 1), (3, 2), (3, 3), (5, 3)])
def test_the_mean_time_is_the_area_under_what_works(parts: int, needed: int) -> None:
    inputs: dict[str, Any] = {"parts": float(parts), "needed": float(needed), "rate": 1.0}
    area, _ = quad(lambda t: evaluate("k-of-n", time=t, **inputs).values["works"], 0, 60)
    assert evaluate("k-of-n", time=1.0, **inputs).values["mean_time"] == pytest.approx(area, rel=1e-7)


def test_two_out_of_three_do_not_last_as_long_as_one() -> None:
    # Textbook, from memory (check sheet CV-15): 5/6 of the mean time of one.
    pair, one = (
        evaluate("k-of-n", parts=parts, needed=needed, rate=2e-3, time=1.0).values["mean_time"]
        for parts, needed in ((3.0, 2.0), (1.0, 1.0))
    )
    assert pair / one == pytest.approx(5 / 6, rel=1e-12)


@pytest.mark.parametrize("through", [1e-9, 1e-6, 9.99e-4, 1.001e-3, 0.01752, 0.3, 2.0, 50.0])
def test_the_mean_of_what_waits_against_an_integral(through: float) -> None:
    average, _ = quad(lambda x: -math.expm1(-x) / through, 0, through, epsabs=0, epsrel=1e-13)
    assert mean_dormant(through) == pytest.approx(average, rel=1e-9)


@QUICK
@given(st.floats(1e-9, 1e-3), st.floats(1, 1e4), st.floats(0, 1), st.floats(0, 100))
def test_the_short_formula_is_never_low(rate: float, interval: float, coverage: float, repair: float) -> None:
    hours = {"rate": rate / 3600, "interval": interval * 3600, "coverage": coverage, "repair": repair * 3600}
    found = evaluate("dormant", **hours).values
    assert found["exact"] <= found["unavailability"] * (1 + 1e-12)
    assert found["exact"] <= found["worst"] * (1 + 1e-12)


def test_a_long_interval_is_at_the_edge_and_then_outside() -> None:
    assert calculate("dormant", rate="1e-4 1/h", interval="100 h").validity == "inside"
    assert calculate("dormant", rate="1e-4 1/h", interval="3000 h").validity == "at the edge"
    assert calculate("dormant", rate="1e-3 1/h", interval="3000 h").validity == "outside"


@QUICK
@given(st.floats(1e-8, 1), st.floats(1e-4, 1))
def test_bins_as_numpy_sorts_them(first: float, second: float) -> None:
    edges = (1e-6, 1e-5, 1e-4, 1e-3, 1e-2)
    chance = first * second
    assume(all(abs(chance / each - 1) > 1e-8 for each in edges))
    found = evaluate("likelihood", situation=first, harm=second, edges=edges).values["bin"]
    assert found == 1 + np.digitize(chance, edges)


@pytest.mark.parametrize(("first", "second"), [("2e-3", "5e-2"), ("1e-3", "0.1"), ("0.7e-3", "1e0"), ("3e-3", "1e-1")])
def test_a_product_on_an_edge_falls_in_the_higher_bin(first: str, second: str) -> None:
    """Whatever the rounding of the product: 3e-3 x 1e-1 is 3.0000000000000003e-4 in binary."""
    exact = float(first) * float(second)
    answer = calculate("likelihood", situation=first, harm=second, edges=f"1e-6, {exact:.6g}, 0.5")
    assert answer.value("bin").number == 3
    assert answer.validity == "at the edge"
    assert "higher" in answer.because[0]


@QUICK
@given(st.floats(0, 1), st.floats(0, 1), st.integers(0, 10_000))
def test_at_least_once_against_scipy(first: float, second: float, exposures: int) -> None:
    found = evaluate("likelihood", situation=first, harm=second, exposures=float(exposures)).values
    chance = first * second
    assume(chance == 0 or chance > 1e-12)  # scipy overflows below
    assert found["at_least_once"] == pytest.approx(binom.sf(0, exposures, chance), rel=1e-9, abs=1e-12)
    assert found["at_least_once"] <= found["expected"] + 1e-12  # Boole's inequality


# --- measuring chains


def test_bag_and_stopwatch_against_monte_carlo() -> None:
    # Hand-worked sheet M24 (constructed): 60 L/min, u 3.5 %, U 4.2 L/min.
    rng = np.random.default_rng(7)
    drawn = rng.uniform(9.7, 10.3, 400_000) / rng.normal(10, 0.3, 400_000) * 60
    found = numbers("bag-and-stopwatch", volume="10 L", time="10 s", volume_limit="3 %", time_spread="0.3 s")
    # Monte Carlo error 0.12 %; second order adds about as much.
    assert found["expanded"] == pytest.approx(2 * float(drawn.std()), rel=5e-3)
    typed = calculate("bag-and-stopwatch", volume=f"10 ± {0.6 / math.sqrt(3)} L", time="10 ± 0.6 s")
    assert typed.main.width == pytest.approx(found["expanded"], rel=1e-3)


@QUICK
@given(st.integers(8, 16), st.floats(0, 1))
def test_counts_come_back(bits: int, share: float) -> None:
    counts = round(share * (2**bits - 1))
    found = evaluate("counts-to-pressure", bits=float(bits), high_pressure=2500.0, counts=float(counts)).values
    volts = 0.5 + found["pressure"] / 2500 * 4.0
    assert volts / 5 * 2**bits == pytest.approx(counts, abs=1e-6)


def test_counts_outside_of_the_sensor_are_marked() -> None:
    sensor = {"high_pressure": "25 hPa"}
    assert calculate("counts-to-pressure", counts="0", **sensor).validity == "outside"
    assert calculate("counts-to-pressure", counts="1023", **sensor).validity == "outside"
    assert calculate("counts-to-pressure", counts="512", **sensor).validity == "inside"
    shifted = numbers("counts-to-pressure", counts="512", tap_drop="0.3 hPa", **sensor)["pressure"]
    assert shifted == pytest.approx(12.2, abs=1e-9)


def test_sampling_agrees_with_what_traces_are_told() -> None:
    for rise, rate in ((0.2637, 25.0), (0.2637, 40.0), (1.0, 10.0)):
        found = evaluate("sampling", rise=rise, rate=rate)
        told = sampling_adequacy(rise, 1 / rate)
        assert found.values["needed_rate"] == pytest.approx(told.needed_rate, rel=1e-12)
        assert (not found.remarks) == told.adequate


def test_the_rise_of_a_first_order_step() -> None:
    # The step response itself, solved for 10 % and 90 %.
    tenth, ninety = (-0.12 * math.log(1 - part) for part in (0.1, 0.9))
    assert numbers("sampling", time_constant="0.12 s")["rise"] == pytest.approx(ninety - tenth, rel=1e-12)


# --- the demo's sheets


HOOD = Path(__file__).parents[2] / "catalogs/examples/hood"


def sheet(name: str) -> dict[str, Any]:
    """A calculation of the demo."""
    return YAML(typ="safe").load((HOOD / "calculations.yaml").read_text(encoding="utf-8"))["calculations"][name]  # type: ignore[no-any-return]


@pytest.mark.parametrize("name", ["K06", "K10"])
def test_a_sheet_of_the_demo(name: str) -> None:
    asked = sheet(name)
    # What comes from the pack P08 is what the hand-worked sheet M11 states.
    of_the_pack = {"voltage": "25.6 V", "charge": "2.6 Ah"}
    inputs = {
        key: of_the_pack[key] if isinstance(typed, Mapping) else str(typed) for key, typed in asked["inputs"].items()
    }
    answer = calculate(asked["model"], **inputs)
    for said, expected in asked["answers"].items():
        found = answer.value(asked["gives"][said])
        quantity = read_quantity(expected)
        digits = len(expected.split()[0].partition(".")[2])
        half = 0.5 * 10**-digits
        assert found.in_unit(quantity.unit) == pytest.approx(float(expected.split()[0]), abs=half), said


def test_what_the_notes_of_the_demo_say() -> None:
    pack = {"charge": "2.6 Ah", "rate_time": "5 h", "power": "14 W", "voltage": "25.6 V", "efficiency": "0.9"}
    assert numbers("battery", **pack)["runtime"] == pytest.approx(4.25, abs=0.005)  # K06
    case = {"mass": "3.4 kg", "half_base": "90 mm", "centre_height": "140 mm", "push_height": "260 mm"}
    assert numbers("tip-and-drop", **case)["angle"] == pytest.approx(32.7, abs=0.05)  # K10
    assert numbers("tip-and-drop", **case)["push"] < 12  # T29


# --- every model of these families


@pytest.mark.parametrize(
    ("name", "inputs"),
    [
        ("u-tube", {"reading": "83 hPa"}),
        ("u-tube", {"reading": "-83 mm"}),
        ("inclined-tube", {"reading": "120 mm", "angle": "15 mm", "bore": "3 mm", "well": "60 mm"}),
        ("inclined-tube", {"reading": "120 mm", "angle": "15 deg", "bore": "60 mm", "well": "3 mm"}),
        ("u-tube-dynamics", {"column": "450 mm", "bore": "0 mm"}),
        ("battery", {"charge": "2.6 Ah", "rate_time": "5 h"}),
        ("battery", {"charge": "2.6 Ah", "rate_time": "5 h", "power": "14 W"}),
        ("battery", {"charge": "2.6 Ah", "rate_time": "5 h", "current": "2 A", "power": "14 W", "voltage": "12 V"}),
        ("battery", {"charge": "0 Ah", "rate_time": "5 h", "current": "2 A"}),
        ("battery", {"charge": "2.6 Wh", "rate_time": "5 h", "current": "2 A"}),
        ("battery", {"charge": "2.6 Ah", "rate_time": "5 h", "current": "2 A", "depth": "80"}),
        ("ride-through", {"power": "1 W", "time": "1 s", "voltage": "3 V", "lowest_voltage": "5 V"}),
        ("cable", {"current": "1 A", "length": "3 m", "area": "0.75 mm"}),
        ("cable", {"current": "1 A", "length": "-3 m", "area": "0.75 mm2"}),
        ("fuse", {"current": "2 A", "share": "0"}),
        ("fuse", {"current": "2 A", "voltage": "12 V", "source_resistance": "0 ohm"}),
        ("sound-sum", {"levels": ""}),
        ("sound-sum", {"levels": "58 dB, 3 m"}),
        ("sound-distance", {"level": "72 dB", "listener": "0 m"}),
        ("tip-and-drop", {"mass": "0 kg", "half_base": "9 cm", "centre_height": "14 cm", "push_height": "26 cm"}),
        ("pressure-decay", {"volume": "10 L", "fall": "1.2 hPa", "time": "0 s"}),
        ("alarm-budget", {"detect": "6 s"}),
        ("likelihood", {"situation": "2", "harm": "0.1"}),
        ("likelihood", {"situation": "0.1", "harm": "0.1", "edges": "1e-3, 1e-4"}),
        ("k-of-n", {"parts": "3", "needed": "4", "reliability": "0.9"}),
        ("k-of-n", {"parts": "2.5", "needed": "1", "reliability": "0.9"}),
        ("k-of-n", {"parts": "3", "needed": "2"}),
        ("k-of-n", {"parts": "3", "needed": "2", "reliability": "0.9", "rate": "1e-5 1/h", "time": "1 h"}),
        ("counts-to-pressure", {"high_pressure": "25 hPa", "counts": "5000"}),
        ("counts-to-pressure", {"high_pressure": "25 hPa", "bits": "10.5"}),
        ("sampling", {}),
        ("sampling", {"time_constant": "1 s", "rise": "1 s"}),
        ("kitchen-scale", {"mass": "0 g"}),
        ("bag-and-stopwatch", {"volume": "10 L", "time": "0 s"}),
    ],
)
def test_wrong_use_gets_one_sentence(name: str, inputs: dict[str, str]) -> None:
    with pytest.raises(EngineeringError) as caught:
        calculate(name, **inputs)
    assert "\n" not in caught.value.headline
    assert caught.value.help


def _span(each: Given) -> tuple[float, float]:
    low = end_of(each, each.low) if each.low is not None else 0.0
    return low, end_of(each, each.high) if each.high is not None else low + 1e3


def _drawn(each: Given) -> st.SearchStrategy[Any]:
    if each.kind == "word":
        return st.sampled_from(each.choices)
    if each.kind == "list":
        return st.lists(st.floats(1e-6, 100), min_size=1, max_size=4).map(tuple)
    found: st.SearchStrategy[Any] = st.floats(*_span(each))
    return st.one_of(st.none(), found) if each.default == "" else found


@pytest.mark.parametrize("bench", BENCH, ids=lambda each: each.name)
def test_any_inputs_inside_the_ranges_give_numbers_or_one_sentence(bench: Model) -> None:
    @settings(max_examples=60, deadline=None)
    @given(st.fixed_dictionaries({each.name: _drawn(each) for each in bench.givens}))
    def answers(inputs: dict[str, Any]) -> None:
        try:
            outcome = evaluate(bench, **inputs)
        except EngineeringError:
            return
        assert outcome.values
        for sentence in itertools.chain(outcome.remarks, outcome.outside, outcome.edge):
            assert not sentence.endswith(".")
            assert "nan" not in sentence.split()

    answers()


@pytest.mark.parametrize("bench", BENCH, ids=lambda each: each.name)
def test_the_spelling_of_a_unit_does_not_matter(bench: Model) -> None:
    others = {
        "length": ("m", "mm", "in"),
        "pressure": ("Pa", "cmH2O", "psi"),
        "time": ("s", "min"),
        "mass": ("kg", "lb"),
    }
    plain = calculate(bench, **bench.example)
    respelled = dict(bench.example)
    for each in bench.givens:
        if each.name in respelled and each.kind in others:
            quantity = read_quantity(respelled[each.name], each.kind)
            unit = others[each.kind][-1]
            respelled[each.name] = f"{quantity.to(unit)!r} {unit}"
    for before, after in zip(plain.values, calculate(bench, **respelled).values, strict=True):
        assert after.value == pytest.approx(before.value, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("bench", BENCH, ids=lambda each: each.name)
def test_no_model_says_that_a_thing_may_be_used(bench: Model) -> None:
    answer = calculate(bench, **bench.example)
    said = " ".join(
        (bench.title, bench.formula, bench.source, bench.holds, *bench.traps, *answer.remarks, *answer.because)
    )
    for word in ("safe", "approved", "certified", "acceptable", "ready for"):
        assert word not in said.lower()


def test_models_are_found_by_name() -> None:
    assert model("tip") is model("tip and drop")
    assert model("voting") is model("k-of-n")
    assert {each.function.__module__.rpartition(".")[2] for each in BENCH} == set(FAMILIES)
