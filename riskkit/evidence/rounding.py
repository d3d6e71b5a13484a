"""How a value and its uncertainty are written together: the uncertainty to two digits, the value to the same place."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal

RULE = "U is rounded to two significant digits and the value to the same place (JCGM 100, 7.2.6)"
"""The rule in words, for whoever prints rounded numbers."""

_SMALLEST_PLACE, _LARGEST = -6, 10**9
"""Numbers that need more than six decimals, or nine digits before the point, are written with an exponent."""


def rounded_together(value: float, uncertainty: float, digits: int = 2) -> tuple[str, str]:
    """Value and uncertainty as text, such as ("978.9", "8.2").

    Args:
        value: Any finite number.
        uncertainty: Its uncertainty; with 0 the value is written to twelve digits.
        digits: Significant digits of the uncertainty.
    """
    if not uncertainty > 0:
        return f"{value:.12g}", "0"
    rounded = Decimal(f"{uncertainty:.{digits - 1}e}")
    place = rounded.as_tuple().exponent
    assert isinstance(place, int)
    told = (
        Decimal(repr(float(value))).quantize(Decimal(1).scaleb(place), rounding=ROUND_HALF_EVEN)
        if _fits(value, place)
        else Decimal(repr(float(value)))
    )
    if told == 0:
        told = abs(told)
    if place >= _SMALLEST_PLACE and max(abs(told), rounded) < _LARGEST:
        return f"{told:f}", f"{rounded:f}"
    return ("0" if told == 0 else f"{told:e}"), f"{rounded:e}"


def _fits(value: float, place: int) -> bool:
    """Whether the value has digits at that place that a decimal of 28 digits can hold."""
    return value == 0 or Decimal(repr(float(abs(value)))).adjusted() - place < 27
