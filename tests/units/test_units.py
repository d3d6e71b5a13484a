"""Quantities are read as people type them; conversions agree with published factors."""

from __future__ import annotations

import math

import pytest
import scipy.constants
from hypothesis import given, strategies as st

from riskkit.units import KINDS, UnitError, read_quantity

# NIST SP 811 (2008), appendix B.8 and B.9, from memory; recomputed from 13 595.1 kg/m3, 9.80665 m/s2,
# 0.453 592 37 kg and 0.3048 m.
NIST_SP_811 = [
    ("1 cmH2O", 98.0665),
    ("1 inH2O", 249.0889),
    ("1 mmHg", 133.3224),
    ("1 inHg", 3386.389),
    ("1 torr", 133.3224),
    ("1 psi", 6894.757),
    ("1 atm", 101325.0),
    ("1 bar", 1e5),
    ("1 ft3/min", 4.719474e-4),
    ("1 cfm", 4.719474e-4),
]


@pytest.mark.parametrize(("written", "value"), NIST_SP_811)
def test_conversion_factors_are_those_of_nist_sp_811(written: str, value: float) -> None:
    assert read_quantity(written).value == pytest.approx(value, rel=3e-7)


# Resistance of 1000 ft of solid copper at 20 °C, NBS Handbook 100 (1966), from memory: it follows from the
# cross-section by rho = 1.7241e-8 ohm m (100 % IACS, an exact definition of 1913).
NBS_HANDBOOK_100 = {10: 0.9989, 12: 1.588, 14: 2.525, 16: 4.016, 18: 6.385, 20: 10.15, 22: 16.14, 24: 25.67, 26: 40.81}


@pytest.mark.parametrize(("gauge", "ohms"), NBS_HANDBOOK_100.items())
def test_wire_gauges_have_the_resistance_of_the_wire_tables(gauge: int, ohms: float) -> None:
    area = read_quantity(f"AWG {gauge}").value
    assert 1.7241e-8 * 304.8 / area == pytest.approx(ohms, rel=8e-4)


def test_units_agree_with_scipy_constants() -> None:
    """SciPy keeps the CODATA and NIST values; an independent table of the same definitions."""
    c = scipy.constants
    for written, value in [
        ("1 psi", c.psi), ("1 atm", c.atm), ("1 bar", c.bar), ("1 lb", c.lb), ("1 oz", c.oz),
        ("1 in", c.inch), ("1 ft", c.foot), ("1 kgf", c.kgf), ("1 lbf", c.lbf), ("1 h", c.hour), ("1 d", c.day), ("1 L", c.liter),
    ]:  # fmt: skip
        assert read_quantity(written).value == pytest.approx(value, rel=1e-9), written


@pytest.mark.parametrize(
    ("written", "value", "kind"),
    [
        ("12 cmH2O", 1176.798, "pressure"),
        ("1.2 kPa", 1200, "pressure"),
        ("12 mbar", 1200, "pressure"),
        ("5 hpa", 500, "pressure"),
        ("18 PSI", 124105.631, "pressure"),
        ("30 lpm", 5e-4, "flow"),
        ("30 L/min", 5e-4, "flow"),
        ("30 l/min", 5e-4, "flow"),
        ("500 mL/min", 500e-6 / 60, "flow"),
        ("2 m3/h", 2 / 3600, "flow"),
        ("1.5e-3 m3/s", 1.5e-3, "flow"),
        ("9.5 L", 9.5e-3, "volume"),
        ("500 cc", 5e-4, "volume"),
        ("2h40", 9600, "time"),
        ("2 h 40 min", 9600, "time"),
        ("1min30s", 90, "time"),
        ("90 s", 90, "time"),
        ("70 min", 4200, "time"),
        ("30 d", 2592000, "time"),
        ("68 degF", 293.15, "temperature"),
        ("68 F", 293.15, "temperature"),
        ("21 °C", 294.15, "temperature"),
        ("21 C", 294.15, "temperature"),
        ("8 K", 8, "temperature"),
        ("24 mm", 0.024, "length"),
        ("60 mm²", 60e-6, "area"),
        ("60 mm2", 60e-6, "area"),
        ("83 g", 0.083, "mass"),
        ("40 N", 40, "force"),
        ("1 N·m", 1, "torque"),
        ("12 lbf·in", 1.3558179, "torque"),
        ("2.6 Ah", 9360, "charge"),
        ("66 Wh", 237600, "energy"),
        ("0.12 Ω", 0.12, "resistance"),
        ("470 µF", 470e-6, "capacitance"),
        ("4.7 farad", 4.7, "capacitance"),
        ("14.7 mN/mm", 14.7, "spring rate"),
        ("9 K/W", 9, "thermal resistance"),
        ("1.2 kg/m3", 1.2, "density"),
        ("65 dB(A)", 65, "sound level"),
        ("3 %", 0.03, "fraction"),
        ("400 ppm", 4e-4, "fraction"),
        ("5 runs", 5, "number"),
        ("24000 rpm", 400, "frequency"),
        ("1e-4 1/h", 1e-4 / 3600, "frequency"),
        ("\u22123 hPa", -300, "pressure"),
        ("12\u00a0hPa", 1200, "pressure"),
    ],
)
def test_quantities_are_read_as_people_type_them(written: str, value: float, kind: str) -> None:
    found = read_quantity(written)
    assert found.value == pytest.approx(value, rel=1e-7)
    assert found.kind == kind
    assert found.written == written.strip()


def test_intervals_keep_their_half_width() -> None:
    assert read_quantity("±0.5 hPa").plus_minus == pytest.approx(50)
    assert read_quantity("5.0 ± 0.7 hPa").plus_minus == pytest.approx(70)
    assert read_quantity("5.0±0.7 hPa").value == pytest.approx(500)
    assert read_quantity("12 hPa ± 4 %").plus_minus == pytest.approx(48)
    assert read_quantity("21 ± 2 °C").plus_minus == pytest.approx(2)
    assert read_quantity("21 +/- 2 °C").plus_minus == pytest.approx(2)


def test_the_expected_kind_settles_what_one_letter_means() -> None:
    assert read_quantity("4.7 F", "capacitance").value == pytest.approx(4.7)
    assert read_quantity("14 degF", "temperature difference").value == pytest.approx(14 * 5 / 9)
    assert read_quantity("8 °C", "temperature difference").value == pytest.approx(8)


def test_a_quantity_is_shown_in_the_unit_of_its_kind() -> None:
    assert read_quantity("12 cmH2O").show() == "11.77 hPa"  # job of the trade: 12 cmH2O is 11.77 hPa
    assert read_quantity("68 degF").show() == "20 °C"
    assert read_quantity("12 hPa").to("cmH2O") == pytest.approx(1200 / 98.0665)


@pytest.mark.parametrize(
    ("written", "kind", "headline"),
    [
        ("12", "pressure", "`12` has no unit; a pressure is expected"),
        (12, None, "`12` has no unit"),
        ("12 L/min", "pressure", "`12 L/min` is a flow, and a pressure is expected"),
        ("12 hPaa", None, "`hPaa` is not a unit that riskkit knows"),
        ("1,5 hPa", None, "`1,5 hPa` has a comma in the number"),
        ("12:30", "time", "`12:30` looks like a time of day"),
        ("15-18 hPa", None, "`15-18 hPa` holds two numbers"),
        ("-3 s", "time", "`-3 s` is negative, and a time cannot be"),
        ("-300 °C", "temperature", "`-300 °C` is colder than absolute zero"),
        ("3 mpa", "pressure", "`mpa` may be MPa or mPa"),
        ("1e999 hPa", None, "`1e999 hPa` is too large to be a reading"),
        ("hPa", None, "`hPa` has no number"),
        ("", None, "`` has no number"),
        ("5 hPa ± 2 s", None, "`5 hPa ± 2 s` has a time behind ±, and a pressure before it"),
    ],
)
def test_what_is_no_quantity_gets_one_clear_sentence(written: str | int, kind: str | None, headline: str) -> None:
    with pytest.raises(UnitError) as refused:
        read_quantity(written, kind)
    assert refused.value.headline == headline
    assert refused.value.help


@given(st.text(max_size=40))
def test_no_text_makes_anything_but_a_quantity_or_a_sentence(text: str) -> None:
    try:
        found = read_quantity(text)
    except UnitError:
        return
    assert math.isfinite(found.value)
    assert found.written == text.strip()


@given(st.floats(-1e6, 1e6), st.sampled_from(["hPa", "cmH2O", "kPa", "psi"]))
def test_reading_is_linear_in_the_number(number: float, unit: str) -> None:
    one = read_quantity(f"1 {unit}").value
    assert read_quantity(f"{number!r} {unit}").value == pytest.approx(number * one, rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_can_read_its_own_example_and_show_it(kind: str) -> None:
    found = read_quantity(KINDS[kind].example, kind)
    assert found.kind == kind
    assert found.show()


@pytest.mark.parametrize("written", ["12±10% hPa", "12 ± 10 % hPa", "12 hPa ±10%"])
def test_a_share_before_the_unit_is_a_share_of_the_number(written: str) -> None:
    # A tenth of 12 hPa is 1.2 hPa: elementary.
    quantity = read_quantity(written)
    assert (quantity.kind, quantity.value) == ("pressure", pytest.approx(1200))
    assert quantity.plus_minus == pytest.approx(120)
