"""Relief valves and blocked outlets, against other ways of working them out."""

from __future__ import annotations

import math

import numpy as np
import pytest

from riskkit.engineering import calculate, solve_for
from riskkit.engineering.library.blowers import HOOD

LITRES = 1 / 60000


def test_the_mass_for_an_opening_pressure() -> None:
    # hand-worked sheet M9: disc 24 mm, 18 hPa: 83.0 g.
    solved = solve_for("weighted-relief", "mass", "18 hPa", disc="24 mm")
    assert float(solved.written.split()[0]) == pytest.approx(83.0, abs=0.05)


def test_the_depth_of_a_water_seal() -> None:
    # hand-worked sheet M9: 18 hPa: 184 mm.
    assert float(solve_for("water-seal", "depth", "18 hPa").written.split()[0]) == pytest.approx(184, abs=0.5)


def test_a_tilted_weight_holds_less_and_says_so() -> None:
    upright = calculate("weighted-relief", mass="83 g", disc="24 mm")
    tilted = calculate("weighted-relief", mass="83 g", disc="24 mm", tilt="30 deg")
    assert tilted.main.value == pytest.approx(math.sqrt(3) / 2 * upright.main.value, rel=1e-9)
    assert any("upright only" in remark for remark in upright.remarks)
    assert calculate("weighted-relief", mass="83 g", disc="24 mm", tilt="80 deg").validity == "outside"


def test_a_relief_valve_passes_what_the_operating_point_gives_through_its_area() -> None:
    """The area worked out for 20 hPa, put in as a leak at a blocked outlet, gives 20 hPa."""
    blower = {name: HOOD[name] for name in ("pressure_at_no_flow", "free_flow", "filter", "hose")}
    area = calculate("relief-capacity", **blower, allowed="20 hPa", oxygen="5 L/min").value("area").number
    again = calculate(
        "operating-point", **blower, outlet="blocked", leak_area=f"{area!r} mm2", leak_coefficient=0.6, oxygen="5 L/min"
    )
    assert again.main.number == pytest.approx(20, rel=1e-6)
    assert again.value("flow").number == pytest.approx(105, abs=0.5)  # hand-worked sheet M9


def test_a_valve_that_is_lifted_beyond_its_bore_is_marked() -> None:
    wide = calculate(
        "relief-capacity", pressure_at_no_flow="60 hPa", free_flow="900 L/min", allowed="10 hPa", disc="20 mm"
    )
    assert wide.validity == "outside"
    closed = calculate("weighted-relief", mass="83 g", disc="24 mm", allowed="15 hPa", blower_flow="50 L/min")
    assert any("still closed" in each for each in closed.because)


def test_a_spring_that_lifts_too_little_says_so() -> None:
    answer = calculate(
        "spring-relief", rate="200 N/m", preload="4 mm", disc="24 mm", allowed="20 hPa", blower_flow="105 L/min"
    )
    assert answer.value("passed_flow").value < answer.value("total_flow").value
    assert any("not lifted far enough" in remark for remark in answer.remarks)


def test_the_time_of_a_constant_flow_is_the_shortest() -> None:
    """Filling by the blower's own falling flow, integrated by scipy, takes longer."""
    from scipy.integrate import solve_ivp

    inputs = {"volume": "9.5 L", "wall": "35 mL/hPa", "from_pressure": "5 hPa", "to_pressure": "18 hPa"}
    constant = calculate("blocked-outlet", flow="120 L/min", **inputs)
    compliance = 9.5e-3 / 101325 + 35e-6 / 100

    def reached(_: float, pressure: np.ndarray) -> float:
        return float(pressure[0] - 1800)

    reached.terminal = True  # type: ignore[attr-defined]
    steady = solve_ivp(lambda t, p: [120 * LITRES / compliance], (0, 5), [500.0], events=reached, rtol=1e-10)
    assert constant.main.value == pytest.approx(steady.t_events[0][0], rel=1e-6)
    falling = solve_ivp(
        lambda t, p: [120 * LITRES * math.sqrt(max(0.0, (3200 - p[0]) / 2700)) / compliance],
        (0, 5),
        [500.0],
        events=reached,
        rtol=1e-10,
    )
    assert falling.t_events[0][0] > constant.main.value


def test_a_blower_that_cannot_reach_the_pressure_is_said() -> None:
    inputs = {"volume": "9.5 L", "from_pressure": "5 hPa", "to_pressure": "18 hPa", "flow": "60 L/min"}
    answer = calculate("blocked-outlet", **inputs, pressure_at_no_flow="32 hPa", speed_ratio=0.536)
    assert any("never gets" in remark for remark in answer.remarks)
