"""Alarm budgets: the chain of delays from a fault to the act, against the time a person has."""

from __future__ import annotations

from dataclasses import dataclass

from riskkit.model.records import Control, Hazard
from riskkit.model.register import Register
from riskkit.units import Quantity

STEPS = ("detect", "delay", "signal", "notice", "act")
"""Names of the delays, in the order in which they pass."""


@dataclass(frozen=True, slots=True)
class AlarmBudget:
    """One alarm control of one hazard.

    Attributes:
        hazard: Hazard id.
        control: Control id.
        steps: Stated delays by name, in order.
        total_seconds: Their sum [s].
        missing: Names of delays that are not stated.
        time_to_harm: Time until harm as stated in the hazard, None where none is stated.
        assumption: Id of the assumption that says where harm begins, None where none is named.
        late: True where the sum exceeds the time to harm; None where that cannot be told.
    """

    hazard: str
    control: str
    steps: tuple[tuple[str, Quantity], ...]
    total_seconds: float
    missing: tuple[str, ...]
    time_to_harm: Quantity | None
    assumption: str | None
    late: bool | None


def alarm_budgets(register: Register) -> tuple[AlarmBudget, ...]:
    """Every alarm among the live controls of every hazard."""
    return tuple(
        _budget(hazard, control)
        for hazard in register.hazards
        for control in register.all_of(dict.fromkeys(hazard.controls), Control)
        if control.alarm is not None and control.withdrawn is None
    )


def _budget(hazard: Hazard, control: Control) -> AlarmBudget:
    stated = [(name, getattr(control.alarm, name)) for name in STEPS]
    steps = tuple((name, delay) for name, delay in stated if delay is not None)
    missing = tuple(name for name, delay in stated if delay is None)
    total = sum(delay.value for _, delay in steps)
    harm = hazard.time_to_harm
    late: bool | None = None
    if harm is not None and harm.value is not None:
        # A sum that is already too long stays so, whatever the missing delays are.
        late = True if total > harm.value.value else (None if missing else False)
    return AlarmBudget(
        hazard.id,
        control.id,
        steps,
        total,
        missing,
        harm.value if harm is not None else None,
        harm.assumption if harm is not None else None,
        late,
    )
