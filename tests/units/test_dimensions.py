"""Dimensions multiply as the SI brochure says, and scales lead from SI to what was typed."""

from __future__ import annotations

import math

import pytest

from riskkit.units import Dimension, UnitError, read_quantity, scale_of


def test_dimensions_multiply_divide_and_are_raised() -> None:
    # SI brochure, 9th edition, table 4: Pa = kg/(m s2), J = N m, V = W/A.
    density, gravity, length = (scale_of(unit).dimension for unit in ("kg/m3", "m/s2", "mm"))
    assert density * gravity * length == scale_of("hPa").dimension
    assert scale_of("N").dimension * length == scale_of("Wh").dimension
    assert scale_of("W").dimension / scale_of("A").dimension == scale_of("mV").dimension
    assert (length**2) ** 0.5 == length
    assert length / length == Dimension()
    assert length**0 == Dimension()


def test_a_dimension_is_said_in_words() -> None:
    assert scale_of("cmH2O").dimension.words == "a pressure"
    assert scale_of("J").dimension.words == "an energy"
    assert (scale_of("kg").dimension / scale_of("s").dimension).words == "something in kg/s"
    assert Dimension().words == "a plain number"
    assert (Dimension() / scale_of("s").dimension).unit == "1/s"


def test_the_offset_of_a_temperature_is_left_out_of_a_difference() -> None:
    assert scale_of("°C").offset == 273.15
    assert scale_of("°C", difference=True).offset == 0
    # 1 degF = 5/9 K (NIST SP 811, B.8).
    assert scale_of("degF", difference=True).factor == pytest.approx(5 / 9, rel=1e-15)


def test_angles_and_amounts_of_substance_are_known() -> None:
    assert read_quantity("30 °").value == pytest.approx(math.pi / 6, rel=1e-15)
    assert read_quantity("180 deg").value == pytest.approx(math.pi, rel=1e-15)
    assert read_quantity("0.1 mol/L").value == pytest.approx(100, rel=1e-15)
    assert scale_of("deg").dimension == Dimension()


def test_plain_numbers_have_the_plain_scale_and_nonsense_is_refused() -> None:
    assert scale_of("") == scale_of("1")
    assert scale_of("%").factor == 0.01
    with pytest.raises(UnitError, match="not a unit"):
        scale_of("splorch")
