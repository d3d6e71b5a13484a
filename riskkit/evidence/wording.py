"""Numbers inside sentences: an upper bound is never rounded down."""

from __future__ import annotations


def percent(share: float) -> str:
    """A share as it was written, in percent: 0.95 is 95 %."""
    return f"{share * 100:.10g} %"


def percent_rounded_up(share: float) -> str:
    """An upper bound in percent with three digits, rounded up."""
    from decimal import ROUND_CEILING, Context

    return f"{Context(prec=3, rounding=ROUND_CEILING).create_decimal_from_float(share * 100):f} %"


def counted(number: int, thing: str) -> str:
    """The number with its noun: 1 run, 2 runs, no failures."""
    return f"{number or 'no'} {thing}{'' if number == 1 else 's'}"
