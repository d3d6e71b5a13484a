"""Were the levels that somebody set really reached?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.dwells import Dwells
from riskkit.evidence.measured import Reached

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

HELD = 0.03
"""Least share of the time within the tolerance that counts as held where there are no cycles."""


def levels_reached(
    seconds: NDArray[np.float64],
    values: NDArray[np.float64],
    levels: Sequence[float],
    tolerance: float | None,
    unit: str,
    dwells: Dwells | None,
) -> tuple[Reached, ...]:
    """One answer for each expected level.

    With cycles a level is reached if the level held at the end of upper or lower dwells lies within the tolerance;
    without cycles if the readings stay there for 3 % of the time at least. Spikes do not count.

    Raises:
        EvidenceError: where the tolerance is not positive.
    """
    import numpy as np

    if not levels:
        return ()
    span = max(levels) - min(levels) if len(set(levels)) > 1 else abs(levels[0])
    allowed = tolerance if tolerance is not None else 0.1 * span
    if not allowed > 0:
        raise EvidenceError("a tolerance of nothing cannot be met", "give a tolerance with --within")
    behind = f" {unit}" if unit else ""
    found = []
    for level in levels:
        if dwells is not None:
            ends = dwells.upper if _nearer(dwells.upper, dwells.lower, level) else dwells.lower
            held = float(np.median(ends))
            cycles = int((np.abs(ends - level) <= allowed).sum())
            reached = abs(held - level) <= allowed
            because = (
                f"{level:g}{behind} {'is' if reached else 'is not'} reached: the level held nearest to it is {held:.4g}{behind}, "
                f"within {allowed:g}{behind} in {cycles} of {len(ends)} cycles"
            )
            found.append(Reached(level, allowed, reached, held, because))
            continue
        near = np.abs(values - level) <= allowed
        share = float(near.mean())
        nearest = float(values[int(np.argmin(np.abs(values - level)))])
        reached = share >= HELD
        because = (
            f"{level:g}{behind} {'is' if reached else 'is not'} reached: readings lie within {allowed:g}{behind} of it for "
            f"{100 * share:.2g} % of the time, the nearest is {nearest:.4g}{behind}"
        )
        found.append(Reached(level, allowed, reached, nearest, because))
    return tuple(found)


def _nearer(upper: NDArray[np.float64], lower: NDArray[np.float64], level: float) -> bool:
    import numpy as np

    return abs(float(np.median(upper)) - level) <= abs(float(np.median(lower)) - level)
