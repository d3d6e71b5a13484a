"""A model against its own checks: whose values it reproduces, and how closely."""

from __future__ import annotations

import math
from dataclasses import dataclass

from riskkit.engineering.answering import Value, work_out
from riskkit.engineering.models import OUTSIDE_KINDS, Check, EngineeringError, Model
from riskkit.engineering.reading import kind_named
from riskkit.units import read_quantity
from riskkit.units.registry import unit_of


@dataclass(frozen=True, slots=True)
class Proof:
    """One check and how it came out.

    Attributes:
        check: The check.
        value: What the model gives; None where it refuses.
        deviation: Relative deviation from what was expected; absolute where zero was expected.
        holds: Whether it lies within the tolerance of the check.
        relative: Whether the deviation is relative.
        refusal: What the model said where it refused; empty otherwise.
    """

    check: Check
    value: Value | None
    deviation: float
    holds: bool
    relative: bool = True
    refusal: str = ""


def prove(model: Model) -> tuple[Proof, ...]:
    """Every check of a model, worked out now."""
    return tuple(_proof(model, check) for check in model.checks)


def summary(model: Model, proofs: tuple[Proof, ...]) -> str:
    """ "reproduces 3 values from outside, worst deviation 0.02 %"; or that nobody else's value is there."""
    outside = [proof for proof in proofs if proof.check.kind in OUTSIDE_KINDS]
    failed = sum(not proof.holds for proof in proofs)
    if failed:
        return f"{failed} of {_counted(len(proofs), 'check')} do{'es' if failed == 1 else ''} not hold here"
    if not outside:
        return f"not verified: {_counted(len(proofs), 'check')}, none of them from outside"
    told = f"reproduces {_counted(len(outside), 'value')} from outside"
    worst = [proof.deviation for proof in outside if proof.relative]
    return f"{told}, worst deviation {max(worst) * 100:.2g} %" if worst else told


def _counted(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _proof(model: Model, check: Check) -> Proof:
    try:
        value = work_out(model, check.given).value(check.answer)
    except EngineeringError as error:
        return Proof(check, None, math.inf, holds=False, refusal=error.headline)
    expected = _expected(check.expected, value)
    miss = abs(value.value - expected)
    scale = abs(expected - _zero(value))
    allowed = check.rel * scale if check.abs is None else abs(_width(check.abs, value))
    return Proof(check, value, miss / scale if scale else miss, miss <= allowed * (1 + 1e-9), relative=scale > 0)


def _expected(written: str, value: Value) -> float:
    found = value.found
    if not found.unit:
        return float(written)
    kind = kind_named(found.kind, found.unit)
    return read_quantity(written, None if kind == "angle" or kind.startswith("[") else kind).value


def _width(written: str, value: Value) -> float:
    if not value.found.unit:
        return float(written)
    quantity = read_quantity(written)
    return quantity.value - unit_of(quantity.unit, None).offset


def _zero(value: Value) -> float:
    """Where the scale begins: a temperature in degrees is compared from their zero."""
    return unit_of(value.found.unit, None).offset if value.found.kind == "temperature" else 0.0
