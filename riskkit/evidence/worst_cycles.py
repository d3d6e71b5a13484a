"""Which cycle is the worst, when it was, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from riskkit.evidence.dwells import Dwells
from riskkit.evidence.measured import WorstCycle
from riskkit.evidence.saying import say_seconds

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def worst_cycle(
    dwells: Dwells,
    counted: NDArray[np.bool_],
    seconds: NDArray[np.float64],
    values: NDArray[np.float64],
    unit: str,
    at_most: float | None,
    at_least: float | None,
) -> WorstCycle:
    """With a limit the cycle whose reading comes closest to it or lies furthest beyond; without one the cycle that is
    least like the others.

    Args:
        dwells: One number per cycle.
        counted: The cycles without a gap that matters; only they are compared without a limit.
        seconds: Times of the samples [s].
        values: Readings without missing ones.
        unit: Unit of the readings.
        at_most: Upper limit, or None.
        at_least: Lower limit, or None.
    """
    import numpy as np

    behind = f" {unit}" if unit else ""
    sides = []
    if at_most is not None:
        place = int(np.argmax(dwells.highest))
        sides.append((float(dwells.highest[place]) - at_most, place, dwells.highest_at, "highest", at_most))
    if at_least is not None:
        place = int(np.argmin(dwells.lowest))
        sides.append((at_least - float(dwells.lowest[place]), place, dwells.lowest_at, "lowest", at_least))
    if sides:
        beyond, place, where, word, limit = max(sides, key=lambda side: side[0])
        at = int(where[place])
        how = "beyond" if beyond > 0 else "inside"
        because = (
            f"{word} reading {values[at]:.4g}{behind}, {abs(beyond):.3g}{behind} {how} the limit of {limit:.4g}{behind}"
        )
        return _cycle(dwells, seconds, place, because, float(values[at]), float(seconds[at]))
    place, name, value, middle, at = _least_like(dwells, counted)
    if name == "time":
        because = f"it lasts {say_seconds(value)}, and a cycle lasts {say_seconds(middle)} as a rule"
        return _cycle(dwells, seconds, place, because, None, float(dwells.start[place]))
    because = f"its {name} reading is {value:.4g}{behind}, and {middle:.4g}{behind} is usual"
    return _cycle(dwells, seconds, place, because, value, float(seconds[at]))


def _least_like(dwells: Dwells, counted: NDArray[np.bool_]) -> tuple[int, str, float, float, int]:
    """Largest deviation from the middle, measured by the usual deviation and never by less than a hundredth of the step."""
    import numpy as np

    step = float(np.median(dwells.upper - dwells.lower))
    best: tuple[float, int, str, float, float, int] | None = None
    for name, numbers, floor, where in (
        ("highest", dwells.highest, 0.01 * step, dwells.highest_at),
        ("lowest", dwells.lowest, 0.01 * step, dwells.lowest_at),
        ("time", dwells.period, 0.01 * float(np.median(dwells.period)), dwells.first),
    ):
        middle = float(np.median(numbers[counted]))
        away = np.where(counted, np.abs(numbers - middle), 0.0)
        scale = max(float(np.median(away[counted])) * 1.4826, floor, 1e-300)
        place = int(np.argmax(away))
        score = float(away[place]) / scale
        if best is None or score > best[0]:
            best = (score, place, name, float(numbers[place]), middle, int(where[place]))
    assert best is not None
    return best[1:]


def _cycle(
    dwells: Dwells, seconds: NDArray[np.float64], place: int, because: str, value: float | None, at: float
) -> WorstCycle:
    start = float(dwells.start[place])
    end = start + float(dwells.upper_dwell[place] + dwells.lower_dwell[place])
    return WorstCycle(place + 1, start, end, because, value, at)
