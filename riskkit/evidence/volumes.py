"""Volume of each cycle from a column of flow: trapezoids between samples, none across a gap."""

from __future__ import annotations

from typing import TYPE_CHECKING

from riskkit.evidence.dwells import Dwells
from riskkit.evidence.fields import change_unit
from riskkit.evidence.measured import Metric

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from riskkit.evidence.recordings import Recording

SHOWN_IN = "mL"


def volume_metrics(recording: Recording, dwells: Dwells, there: NDArray[np.intp]) -> list[Metric]:
    """Volume in and out per cycle, from the first column of flow; nothing where there is none.

    Args:
        recording: The recording.
        dwells: The cycles, with indices into the readings that are there.
        there: Indices of those readings in the recording.
    """
    import numpy as np

    flow = next((each for each in recording.columns if each.kind == "flow"), None)
    change = change_unit(flow.unit, f"{SHOWN_IN}/s") if flow is not None else None
    if flow is None or change is None:
        return []
    rate = flow.values * change[0]
    seconds = recording.seconds
    gap = np.isnan(rate[1:]) | np.isnan(rate[:-1])
    for jump in recording.jumps:
        gap[jump.row - 1] = True
    steps = np.diff(seconds)
    inward, outward = (np.where(gap, 0.0, _trapezoids(sign * rate, steps)) for sign in (1.0, -1.0))
    bounds = there[np.append(dwells.first, dwells.last[-1])]
    gaps = _sums(gap.astype(float), bounds)
    whole = gaps == 0
    if not whole.any():
        return []
    found = []
    for key, name, parts, word in (
        ("volume_in", "volume in per cycle", inward, "positive"),
        ("volume_out", "volume out per cycle", outward, "negative"),
    ):
        volumes = _sums(parts, bounds)[whole]
        method = f"{word} part of `{flow.name}` integrated from rise to rise, median over the {len(volumes)} cycles without a gap"
        sd = float(volumes.std(ddof=1)) if len(volumes) > 1 else None
        found.append(
            Metric(
                key, name, float(np.median(volumes)), SHOWN_IN, method, sd, float(volumes.min()), float(volumes.max())
            )
        )
    return found


def _trapezoids(rate: NDArray[np.float64], steps: NDArray[np.float64]) -> NDArray[np.float64]:
    """Area of the positive part between neighbouring samples; where the sign changes, of the triangle."""
    import numpy as np

    before, after = rate[:-1], rate[1:]
    high, low = np.maximum(before, after), np.minimum(before, after)
    span = high - low
    crossing = (high > 0) & (low < 0)
    triangle = np.divide(high * high, span, out=np.zeros(len(span)), where=crossing) / 2
    both = np.where(low >= 0, (before + after) / 2, 0.0)
    areas: NDArray[np.float64] = np.where(crossing, triangle, both) * steps
    return areas


def _sums(parts: NDArray[np.float64], bounds: NDArray[np.intp]) -> NDArray[np.float64]:
    import numpy as np

    total = np.concatenate(([0.0], np.cumsum(parts)))
    sums: NDArray[np.float64] = np.diff(total[bounds])
    return sums
