"""Holes, hoses, blowers, leaks, relief valves, filters and the atmosphere, against other ways of working them out."""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from riskkit.engineering import EngineeringError, calculate, evaluate, model
from riskkit.engineering.library.atmosphere import moist_air_density, viscosity
from riskkit.engineering.library.hoses import colebrook, haaland, swamee_jain
from riskkit.engineering.passages import Hose, blasius_friction

LITRES = 1 / 60000
FEW = settings(max_examples=60, deadline=None)
HOSE = {"bore": "19.5 mm", "length": "1.6 m", "fittings": "1.5"}


# Holes


def test_a_hole_by_the_library_fluids() -> None:
    # fluids 1.3.1: a plate in a pipe so wide that the speed before it does not count.
    from fluids.flow_meter import flow_meter_discharge

    mass = flow_meter_discharge(D=10.0, Do=0.004, P1=101325 + 980.665, P2=101325, rho=1.2, C=0.61)
    ours = calculate("orifice", pressure="10 cmH2O", diameter="4 mm", coefficient=0.61, density="1.2 kg/m3")
    assert ours.main.value == pytest.approx(mass / 1.2, rel=1e-9)


def test_incompressible_costs_less_than_two_percent_up_to_50_hPa() -> None:
    # fluids 1.3.1: expansibility by ISO 5167-2, air.
    from fluids.flow_meter import orifice_expansibility

    assert orifice_expansibility(D=1.0, Do=0.01, P1=106325, P2=101325, k=1.4) > 0.98
    assert calculate("orifice", pressure="51 hPa", diameter="4 mm").validity == "outside"


@FEW
@given(pressure=st.floats(0.5, 20), size=st.floats(2, 20))
def test_twice_the_pressure_is_sqrt_2_of_the_flow(pressure: float, size: float) -> None:
    # check value CV-77: doubling the pressure gives sqrt 2.
    once = evaluate("orifice", pressure=pressure * 100, diameter=size / 1000).values["flow"]
    twice = evaluate("orifice", pressure=pressure * 200, diameter=size / 1000).values["flow"]
    assert twice == pytest.approx(math.sqrt(2) * once, rel=1e-12)


@FEW
@given(flow=st.floats(0.5, 200), pressure=st.floats(0.1, 50))
def test_the_area_that_was_worked_out_passes_the_flow(flow: float, pressure: float) -> None:
    area = evaluate("orifice-area", flow=flow * LITRES, pressure=pressure * 100).values["area"]
    assert evaluate("orifice", pressure=pressure * 100, area=area).values["flow"] == pytest.approx(flow * LITRES)


# Pressure units, NIST SP 811 (2008) B.8, from memory: Pa to the last digit printed there.
@pytest.mark.parametrize(
    ("written", "pascal"),
    [
        ("1 cmH2O", 98.0665),
        ("1 inH2O", 249.0889),
        ("1 mmHg", 133.3224),
        ("1 torr", 133.3224),
        ("0.5 inHg", 3386.389 / 2),
        ("0.5 psi", 6894.757 / 2),
        ("0.01 atm", 1013.25),
        ("0.01 bar", 1000.0),
        ("1 mbar", 100.0),
        ("1 hPa", 100.0),
    ],
)
def test_any_spelling_of_a_pressure_gives_the_same_flow(written: str, pascal: float) -> None:
    flow = calculate("orifice", pressure=written, diameter="4 mm").main.value
    assert flow == pytest.approx(calculate("orifice", pressure=f"{pascal} Pa", diameter="4 mm").main.value, rel=2e-7)


def test_a_cubic_foot_a_minute() -> None:
    # NIST SP 811 (2008) B.9, from memory: 4.719474e-4 m3/s.
    area = calculate("orifice-area", flow="1 cfm", pressure="4 hPa").main.value
    assert area == pytest.approx(calculate("orifice-area", flow="4.719474e-4 m3/s", pressure="4 hPa").main.value, 2e-7)


@FEW
@given(exponent=st.floats(0.5, 1), size=st.floats(1, 100), low=st.floats(0.5, 5), factor=st.floats(1.6, 8))
def test_a_fit_finds_the_law_that_made_the_readings(exponent: float, size: float, low: float, factor: float) -> None:
    readings = {
        "first_pressure": low * 100,
        "first_flow": size * LITRES * low**exponent,
        "second_pressure": low * factor * 100,
        "second_flow": size * LITRES * (low * factor) ** exponent,
    }
    values = evaluate("flow-fit", **readings).values
    assert values["exponent"] == pytest.approx(exponent, rel=1e-9)
    assert values["flow_at_1_hPa"] == pytest.approx(size * LITRES, rel=1e-9)
    again = evaluate("leak", pressure=300, reference_flow=values["flow_at_1_hPa"], exponent=values["exponent"])
    assert again.values["flow"] == pytest.approx(size * LITRES * 3**exponent, rel=1e-9)


def test_a_fit_that_is_no_passage_is_marked() -> None:
    points = {"first_pressure": "4 hPa", "first_flow": "10 L/min", "second_pressure": "8 hPa"}
    assert calculate("flow-fit", **points, second_flow="11 L/min").validity == "outside"
    assert calculate("flow-fit", **points, second_flow="14.0 L/min").validity == "at the edge"
    assert calculate("flow-fit", **points, second_flow="16 L/min", pressure="40 hPa").validity == "outside"


def test_small_holes_leave_the_orifice_equation() -> None:
    assert calculate("orifice", pressure="1 hPa", diameter="1 mm").validity == "outside"
    assert calculate("orifice", pressure="5 hPa", diameter="2 mm").validity == "inside"


# Hoses


@FEW
@given(reynolds=st.floats(2400, 1e7), roughness=st.floats(0, 0.05))
def test_friction_by_the_library_fluids(reynolds: float, roughness: float) -> None:
    # fluids 1.3.1
    from fluids import friction

    assert colebrook(reynolds, roughness) == pytest.approx(friction.Clamond(reynolds, roughness), rel=1e-11)
    assert haaland(reynolds, roughness) == pytest.approx(friction.Haaland(reynolds, roughness), rel=1e-9)
    # fluids writes 5.74 as 6.97^0.9, which is 5.73997.
    assert swamee_jain(reynolds, roughness) == pytest.approx(friction.Swamee_Jain_1976(reynolds, roughness), rel=5e-6)
    assert blasius_friction(reynolds) == pytest.approx(friction.Blasius(reynolds), rel=1e-9)


@FEW
@given(flow=st.floats(1, 200), bore=st.floats(10, 40), length=st.floats(0.1, 5), fittings=st.floats(0, 5))
def test_a_hose_by_the_library_fluids(flow: float, bore: float, length: float, fittings: float) -> None:
    # fluids 1.3.1: friction of each regime, and losses from their coefficients.
    from fluids.core import K_from_f, Reynolds, dP_from_K
    from fluids.friction import Blasius, friction_laminar

    speed = flow * LITRES / (math.pi * (bore / 1000) ** 2 / 4)
    reynolds = Reynolds(V=speed, D=bore / 1000, rho=1.204, mu=1.81e-5)
    friction = friction_laminar(reynolds) if reynolds < 2300 else Blasius(reynolds)
    expected = dP_from_K(fittings + K_from_f(friction, length, bore / 1000), rho=1.204, V=speed)
    ours = Hose(bore / 1000, length, fittings, 1.0, 1.204, 1.81e-5)
    assert ours.drop(flow * LITRES) == pytest.approx(expected, rel=1e-9)


def test_the_transition_gives_a_range() -> None:
    answer = calculate("hose", flow="41 L/min", **{**HOSE, "fittings": "0"})
    assert answer.validity == "at the edge"
    assert "factor of two" in answer.because[0]
    assert 1.5 < answer.value("high").value / answer.value("low").value < 2.6
    assert answer.value("low").value <= answer.main.value <= answer.value("high").value
    steady = calculate("hose", flow="60 L/min", **HOSE)
    assert steady.value("low").value == steady.value("high").value == steady.main.value


def test_a_hose_keeps_as_much_gas_as_boyle_says() -> None:
    # Boyle: p V constant, so a swing of 10 hPa takes V (1 + 10 / 1013.25) - V.
    answer = calculate("hose-compliance", volume="2 L", swing="10 hPa")
    assert answer.value("lost").value == pytest.approx(2e-3 * (1 + 10 / 1013.25) - 2e-3, rel=1e-9)


# Filters


@FEW
@given(
    st.lists(st.floats(0, 0.2), min_size=2, max_size=8),
    st.floats(0.01, 0.1),
)
def test_a_filter_line_as_numpy_fits_it(noise: list[float], rise: float) -> None:
    hours = [10.0 * place for place in range(len(noise))]
    losses = [1 + rise * hour + extra / 10 for hour, extra in zip(hours, noise, strict=True)]
    slope, start = np.polyfit(hours, losses, 1)
    table = ", ".join(f"{hour!r} h: {loss!r} hPa" for hour, loss in zip(hours, losses, strict=True))
    answer = calculate("filter-loading", readings=table)
    assert answer.value("rate").number == pytest.approx(slope, rel=1e-6)
    assert answer.value("start").number == pytest.approx(start, rel=1e-6)


def test_a_filter_far_beyond_its_last_reading_is_marked() -> None:
    readings = {"new": "0.72 hPa", "later": "2.35 hPa", "after": "60 h"}
    assert calculate("filter-loading", **readings, limit="2 hPa").validity == "inside"
    assert calculate("filter-loading", **readings, limit="3 hPa").validity == "at the edge"
    assert calculate("filter-loading", **readings, limit="8 hPa").validity == "outside"


# The atmosphere


@pytest.mark.parametrize("height", [-1000, 0, 1500, 2500, 3500, 8848, 11000])
def test_the_atmosphere_by_the_library_fluids(height: int) -> None:
    # fluids 1.3.1, U.S. Standard Atmosphere 1976, geometric height.
    from fluids.atmosphere import ATMOSPHERE_1976

    there = ATMOSPHERE_1976(height)
    ours = calculate("altitude", height=f"{height} m")
    assert ours.value("pressure").value == pytest.approx(there.P, rel=2e-5)
    assert ours.value("density").value == pytest.approx(there.rho, rel=2e-5)
    assert ours.value("temperature").value == pytest.approx(there.T, rel=2e-6)
    assert ours.value("viscosity").value == pytest.approx(there.mu, rel=2e-5)


def test_the_atmosphere_by_integration() -> None:
    """The weight of the air, added up from the sea by scipy, with gravity that falls with height."""
    from scipy.integrate import solve_ivp

    gas, earth = 8314.32 / 28.9644, 6356766.0

    def fall(z: float, p: np.ndarray) -> list[float]:
        kelvin = 288.15 - 0.0065 * earth * z / (earth + z)
        return [-9.80665 * (earth / (earth + z)) ** 2 * p[0] / (gas * kelvin)]

    added = solve_ivp(fall, (0, 5000), [101325.0], rtol=1e-11, atol=1e-6).y[0, -1]
    assert calculate("altitude", height="5000 m").value("pressure").value == pytest.approx(added, rel=1e-8)


def test_geometric_and_geopotential_height_are_not_the_same() -> None:
    map_height = calculate("altitude", height="5000 m").value("pressure").value
    geopotential = calculate("altitude", height="5000 m", scale="geopotential").value("pressure").value
    assert map_height - geopotential == pytest.approx(27.6, abs=1.0)  # 3.9 m of 54 kPa air
    assert map_height == pytest.approx(5.4048e4, rel=1.5e-5)  # US Standard Atmosphere 1976, from memory


def test_heated_room_and_standard_air_are_asked_apart() -> None:
    cold = calculate("altitude", height="2500 m")
    warm = calculate("altitude", height="2500 m", air="fixed temperature")
    assert cold.main.value == pytest.approx(0.781, abs=5e-4)
    assert warm.main.value == pytest.approx(0.737, abs=5e-4)
    assert any("heated room" in remark for remark in cold.remarks)


def test_moist_air_is_near_the_ideal_gas() -> None:
    """Two ideal gases, with the vapour pressure of Magnus (WMO): another way to the same density, within 0.1 %."""
    for celsius, hectopascal, humidity in ((20, 1013.25, 0.5), (25, 950, 0.7), (16, 700, 0.0), (27, 1050, 1.0)):
        vapour = humidity * 611.2 * math.exp(17.62 * celsius / (243.12 + celsius))
        kelvin = celsius + 273.15
        ideal = (hectopascal * 100 - vapour) / (287.05 * kelvin) + vapour / (461.5 * kelvin)
        assert moist_air_density(kelvin, hectopascal * 100, humidity, 4e-4) == pytest.approx(ideal, rel=1e-3)
    assert calculate("moist-air", temperature="35 degC").validity == "outside"
    assert calculate("moist-air", temperature="20 degC", pressure="500 hPa").validity == "outside"


def test_viscosity_of_the_standard_atmosphere() -> None:
    assert viscosity(288.15) == pytest.approx(1.7894e-5, rel=2e-5)  # CV-73, from memory


# Wrong use


@pytest.mark.parametrize(
    ("name", "inputs", "said"),
    [
        ("orifice", {"pressure": "3 L/min", "diameter": "2 mm"}, "pressure"),
        ("orifice", {"pressure": "3 hPa"}, "one of both"),
        ("orifice", {"pressure": "3 hPa", "diameter": "2 mm", "area": "3 mm2"}, "one of both"),
        ("orifice", {"pressure": "3 hPa", "diameter": "-2 mm"}, "-2 mm"),
        ("orifice-area", {"flow": "3 L/min", "pressure": "0 hPa"}, "without a pressure"),
        ("flow-fit", {"first_pressure": "4 hPa", "first_flow": "9 L/min", "second_pressure": "4 hPa",
                      "second_flow": "10 L/min"}, "same pressure"),
        ("hose", {"flow": "30 L/min", "bore": "19.5 mm", "length": "-1 m"}, "-1 m"),
        ("hose-compliance", {"bore": "19.5 mm"}, "volume"),
        ("filter-loading", {"new": "0.7 hPa", "later": "0.6 hPa", "after": "3 h"}, "does not rise"),
        ("filter-loading", {"new": "0.7 hPa"}, "list of readings"),
        ("single-hose-flush", {"tidal_volume": "0.5 L", "expiratory_time": "2 s"}, "one of both"),
        ("altitude", {"height": "20 km"}, "20 km"),
    ],
)  # fmt: skip
def test_wrong_use_gets_one_sentence(name: str, inputs: dict[str, str], said: str) -> None:
    with pytest.raises(EngineeringError) as refused:
        calculate(name, **inputs)
    assert said in refused.value.headline
    assert "\n" not in refused.value.headline
    assert refused.value.help


@pytest.mark.parametrize("name", ["orifice", "orifice-area", "flow-fit", "hose", "single-hose-flush"])
def test_a_flow_says_its_condition(name: str) -> None:
    answer = calculate(name, **model(name).example)
    assert any("room condition" in remark for remark in answer.remarks)


def test_ten_thousand_holes_in_a_second() -> None:
    start = time.perf_counter()
    for step in range(10_000):
        evaluate("orifice", pressure=100.0 + step / 10, diameter=0.004)
    assert time.perf_counter() - start < 1
