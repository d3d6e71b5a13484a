"""From one number per cycle to the numbers of a trace: middle, spread, shortest, longest, drift."""

from __future__ import annotations

from typing import TYPE_CHECKING

from riskkit.evidence.answers import Interval
from riskkit.evidence.dwells import LAST, PLATEAU, Dwells
from riskkit.evidence.measured import Metric

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SLOPING = 0.02
"""A plateau that lies further from the level at the end of its dwell, as a share of the step, is no plateau."""

CONFIDENCE = 0.95


def cycle_metrics(dwells: Dwells, counted: NDArray[np.bool_], unit: str, band: float) -> tuple[list[Metric], list[str]]:
    """The numbers of a trace with cycles, and what must be known about them.

    Args:
        dwells: One number per cycle.
        counted: The cycles without a gap that matters.
        unit: Unit of the signal.
        band: Half width of the settling band as a share of the step.
    """
    import numpy as np

    used = Of(dwells, counted)
    period = used["period"]
    step = used["upper"] - used["lower"]
    cautions: list[str] = []
    upper_ref, upper_flat = used["upper_plateau"], _flat(used["upper_plateau"], used["upper"], step)
    lower_ref, lower_flat = used["lower_plateau"], _flat(used["lower_plateau"], used["lower"], step)
    if not upper_flat:
        upper_ref = used["upper"]
        cautions.append("the upper dwell slopes: its level is the one at its end, and overshoot is taken from there")
    if not lower_flat:
        lower_ref = used["lower"]
        cautions.append("the lower dwell slopes: its level is the one at its end, and undershoot is taken from there")
    rate = 60 / period
    starts = dwells.start[counted]
    longest, shortest = int(np.argmax(period)), int(np.argmin(period))
    held = f"median over the cycles of the median of the last {100 * LAST:.0f} % of each dwell"
    flat = f"median over the cycles of the median of the last {100 * PLATEAU:.0f} % of each dwell"
    upwards = dwells.period_from
    total = Metric(
        "cycle_rate",
        "cycle rate",
        60 * len(period) / float(period.sum()),
        "1/min",
        f"60 s over the mean time {upwards}; spread of the single cycles",
        _sd(rate),
        float(rate.min()),
        float(rate.max()),
    )
    found = [
        Metric("cycles", "complete cycles", float(len(dwells.period)), "1", "upward crossings of the middle with hysteresis, less one"),
        total,
        Metric("cycle_period", "time of a cycle", float(period.mean()), "s", f"mean time {upwards}", _sd(period), float(period.min()), float(period.max())),
        Metric("longest_cycle", "longest cycle", float(period[longest]), "s", f"longest time {upwards}", at=float(starts[longest])),
        Metric("shortest_cycle", "shortest cycle", float(period[shortest]), "s", f"shortest time {upwards}", at=float(starts[shortest])),
        _median("upper_level", "upper level", used["upper"], unit, held),
        _median("lower_level", "lower level", used["lower"], unit, held),
        _median("upper_plateau", "upper plateau", used["upper_plateau"], unit, flat),
        _median("lower_plateau", "lower plateau", used["lower_plateau"], unit, flat),
        _median("overshoot", "overshoot", used["peak"] - upper_ref, unit, f"median over the cycles of the highest reading less the {'plateau' if upper_flat else 'upper level'}"),
        _median("overshoot_share", "overshoot of the step", 100 * (used["peak"] - upper_ref) / step, "%", "overshoot divided by upper level less lower level"),
        _median("undershoot", "undershoot", lower_ref - used["trough"], unit, f"median over the cycles of the {'plateau' if lower_flat else 'lower level'} less the lowest reading"),
        _median("rise_time", "rise time", used["rise"], "s", "from 10 % to 90 % of the step, interpolated, median over the cycles"),
        _median("fall_time", "fall time", used["fall"], "s", "from 90 % to 10 % of the step, interpolated, median over the cycles"),
        _median("settling_time", "settling time", used["settling"], "s", f"from 10 % of the rise until the signal stays within {100 * band:g} % of the step (or within its noise) of the upper level"),
        _median("upper_dwell", "upper dwell", used["upper_dwell"], "s", "from the start of the rise (10 %) to the start of the fall (90 %)"),
        _median("lower_dwell", "lower dwell", used["lower_dwell"], "s", "from the start of the fall (90 %) to the start of the rise (10 %)"),
        _median("duty", "duty", used["upper_dwell"] / (used["upper_dwell"] + used["lower_dwell"]), "1", "upper dwell over upper and lower dwell"),
        _median("inspiration_expiration_ratio", "inspiration : expiration", used["upper_dwell"] / used["lower_dwell"], "1", "upper dwell over lower dwell, median over the cycles"),
        _median("share_above_middle", "share above the middle", used["above_middle"] / period, "1", "time between the crossings of the middle over the time of the cycle"),
    ]  # fmt: skip
    for key, name, values in (
        ("upper_drift", "drift of the upper level", "upper"),
        ("lower_drift", "drift of the lower level", "lower"),
    ):
        drift = slope_per_hour(starts, used[values], unit, key, name, "level of each cycle")
        if drift is not None:
            found.append(drift)
    return [each for each in found if np.isfinite(each.value)], cautions


class Of:
    """The numbers of the cycles that count, by name."""

    def __init__(self, dwells: Dwells, counted: NDArray[np.bool_]) -> None:
        self.dwells = dwells
        self.counted = counted

    def __getitem__(self, name: str) -> NDArray[np.float64]:
        """One number for each cycle that counts."""
        numbers: NDArray[np.float64] = getattr(self.dwells, name)[self.counted]
        return numbers


def slope_per_hour(
    seconds: NDArray[np.float64], levels: NDArray[np.float64], unit: str, key: str, name: str, of: str
) -> Metric | None:
    """Straight line through levels by least squares, with the interval for its slope; None for fewer than three.

    The interval takes the deviations from the line as independent and normal, 95 %, two-sided, Student t.
    """
    import numpy as np

    there = np.isfinite(levels)
    seconds, levels = seconds[there], levels[there]
    if len(levels) < 3:
        return None
    hours = (seconds - seconds.mean()) / 3600
    spread = float((hours**2).sum())
    if spread <= 0:
        return None
    slope = float((hours * levels).sum()) / spread
    rest = levels - levels.mean() - slope * hours
    error = (float((rest**2).sum()) / (len(levels) - 2) / spread) ** 0.5
    from scipy.special import stdtrit

    half = float(stdtrit(len(levels) - 2, 0.5 + CONFIDENCE / 2)) * error
    per_hour = f"{unit}/h" if unit else "1/h"
    method = f"least squares line through the {of}, deviations taken as independent"
    interval = Interval(
        name, f"{method}; Student t", CONFIDENCE, "two-sided", slope, slope - half, slope + half, per_hour
    )
    return Metric(key, name, slope, per_hour, method, interval=interval)


def _flat(plateau: NDArray[np.float64], level: NDArray[np.float64], step: NDArray[np.float64]) -> bool:
    import numpy as np

    return float(np.median(np.abs(plateau - level))) <= SLOPING * float(np.median(step))


def _median(key: str, name: str, numbers: NDArray[np.float64], unit: str, method: str) -> Metric:
    import numpy as np

    there = numbers[np.isfinite(numbers)]
    if len(there) == 0:
        return Metric(key, name, float("nan"), unit, method)
    return Metric(key, name, float(np.median(there)), unit, method, _sd(there), float(there.min()), float(there.max()))


def _sd(numbers: NDArray[np.float64]) -> float | None:
    return float(numbers.std(ddof=1)) if len(numbers) > 1 else None
