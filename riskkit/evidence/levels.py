"""Two levels in a signal: where they part, how far apart they are against the noise. O(n); knows no time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

BINS = 512
SPIKES = 0.01
"""Share of the readings at either end that does not take part in the split: a spike is no level."""


@dataclass(frozen=True, slots=True)
class Split:
    """Two classes of readings.

    Attributes:
        middle: Half way between the means of both classes.
        lower: Mean of the lower class.
        upper: Mean of the upper class.
        separation: Share of the variance that lies between the classes, 0 to 1: 0.64 for normal noise, 0.75 for a
            triangle, 0.81 for a sine, 1 for two exact levels.
        low: Readings below this one do not take part: the lowest hundredth.
        high: Readings above this one do not take part: the highest hundredth.
    """

    middle: float
    lower: float
    upper: float
    separation: float
    low: float
    high: float

    @property
    def step(self) -> float:
        """Distance of both means."""
        return self.upper - self.lower


def split_levels(values: NDArray[np.float64]) -> Split | None:
    """Part the readings where the variance between both parts is largest (Otsu 1979, from memory), on a histogram.

    Args:
        values: Readings without missing ones.

    Returns:
        None where all readings are the same but for a hundredth of them.
    """
    import numpy as np

    rank = int(SPIKES * (len(values) - 1))
    ordered = np.partition(values, (rank, len(values) - 1 - rank))
    low, high = float(ordered[rank]), float(ordered[-1 - rank])
    if not high > low:
        return None
    counts, edges = np.histogram(np.clip(values, low, high), BINS, (low, high))
    share = counts / counts.sum()
    centres = (edges[1:] + edges[:-1]) / 2
    below = np.cumsum(share)[:-1]
    sums = np.cumsum(share * centres)
    whole = float(sums[-1])
    sums = sums[:-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        between = np.where((below > 0) & (below < 1), (whole * below - sums) ** 2 / (below * (1 - below)), 0.0)
    best = int(np.argmax(between))
    variance = float((share * (centres - whole) ** 2).sum())
    lower = float(sums[best] / below[best])
    upper = float((whole - sums[best]) / (1 - below[best]))
    return Split((lower + upper) / 2, lower, upper, float(between[best]) / variance if variance > 0 else 0.0, low, high)


def noise_of(values: NDArray[np.float64]) -> float:
    """Standard deviation of the noise from one reading to the next, from the median of the second differences.

    Edges and slow changes hardly count; normal noise, independent from reading to reading, is assumed.
    """
    import numpy as np

    if len(values) < 5:
        return 0.0
    if len(values) > 200_000:  # blocks from all over the recording say as much
        blocks = np.array_split(values, 100)
        values = np.concatenate([block[:2000] for block in blocks])
    second = values[2:] - 2 * values[1:-1] + values[:-2]
    return float(np.median(np.abs(second))) / (0.6745 * 6**0.5)


def without_single_spikes(values: NDArray[np.float64], height: float) -> NDArray[np.float64]:
    """The signal with readings that stand out from both neighbours to one side levelled to their middle.

    For finding crossings only. Where more than one reading in twenty stands out so, it is the signal itself.

    Args:
        values: Readings without missing ones.
        height: What counts as standing out.
    """
    import numpy as np

    before, after = values[1:-1] - values[:-2], values[1:-1] - values[2:]
    at = np.flatnonzero((np.minimum(before, after) > height) | (np.maximum(before, after) < -height)) + 1
    if len(at) == 0 or len(at) > len(values) / 20:
        return values
    levelled = values.copy()
    levelled[at] = (values[at - 1] + values[at + 1]) / 2
    return levelled


def smoothed(values: NDArray[np.float64], width: int) -> NDArray[np.float64]:
    """Running mean over an odd number of readings, narrower at both ends."""
    import numpy as np

    if width < 2:
        return values
    half = width // 2
    sums = np.concatenate((np.zeros(1), np.cumsum(values)))
    places = np.arange(len(values))
    first = np.maximum(places - half, 0)
    last = np.minimum(places + half + 1, len(values))
    means: NDArray[np.float64] = (sums[last] - sums[first]) / (last - first)
    return means
