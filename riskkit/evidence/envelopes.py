"""A long signal as lowest and highest reading per step of time, in plain numbers: what a plot needs and no more.

A plot of means hides the one reading that matters; lowest and highest cannot.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from riskkit.evidence.answers import EvidenceError

if TYPE_CHECKING:
    from riskkit.evidence.recordings import Recording


@dataclass(frozen=True, slots=True)
class Envelope:
    """Lowest and highest reading in equal steps of time.

    Attributes:
        start: Beginning of the first step [s].
        end: End of the last step [s].
        lows: Lowest reading of each step; None where there is no reading.
        highs: Highest reading of each step; None where there is no reading.
        gaps: Whether readings are missing in the step.
    """

    start: float
    end: float
    lows: tuple[float | None, ...]
    highs: tuple[float | None, ...]
    gaps: tuple[bool, ...]

    @property
    def low(self) -> float:
        """Lowest reading of all."""
        return min(each for each in self.lows if each is not None)

    @property
    def high(self) -> float:
        """Highest reading of all."""
        return max(each for each in self.highs if each is not None)


def envelope(
    recording: Recording, column: str, steps: int, start: float | None = None, end: float | None = None
) -> Envelope:
    """Reduce a column to lowest and highest readings.

    Args:
        recording: The recording.
        column: Name of the column.
        steps: Number of steps of time.
        start: Where to begin [s]; at the beginning if left out.
        end: Where to end [s]; at the end if left out.

    Raises:
        EvidenceError: where no reading lies there.
    """
    import numpy as np

    values, seconds = recording.column(column).values, recording.seconds
    begin = float(seconds[0]) if start is None else max(start, float(seconds[0]))
    stop = float(seconds[-1]) if end is None else min(end, float(seconds[-1]))
    first, last = int(np.searchsorted(seconds, begin, "left")), int(np.searchsorted(seconds, stop, "right"))
    values, seconds = values[first:last], seconds[first:last]
    there = ~np.isnan(values)
    if steps < 1 or stop <= begin or not there.any():
        raise EvidenceError(f"no reading of `{column}` lies between {begin:g} s and {stop:g} s", "choose another part")
    place = np.minimum(((seconds - begin) / (stop - begin) * steps).astype(np.intp), steps - 1)
    edges = np.searchsorted(place, np.arange(steps), "left")
    full = np.flatnonzero(np.diff(edges, append=len(values)) > 0)
    lows, highs = np.full(steps, np.nan), np.full(steps, np.nan)
    lows[full] = np.minimum.reduceat(np.where(there, values, np.inf), edges[full])
    highs[full] = np.maximum.reduceat(np.where(there, values, -np.inf), edges[full])
    empty = ~np.isfinite(lows)
    gaps = np.zeros(steps, bool)
    gaps[place[~there]] = True
    for jump in recording.jumps:
        if first < jump.row < last and jump.missing:
            gaps[int(place[jump.row - 1 - first]) : int(place[jump.row - first]) + 1] = True
    return Envelope(
        begin,
        stop,
        tuple(None if gone else float(low) for low, gone in zip(lows, empty, strict=True)),
        tuple(None if gone else float(high) for high, gone in zip(highs, empty, strict=True)),
        tuple(map(bool, gaps)),
    )
