"""What happens in each cycle: levels, plateaus, edges, peaks, dwells, one number per cycle.

An upper dwell runs from the start of a rise (10 % of the step) to the start of the next fall (90 %);
the lower dwell runs from there to the start of the next rise. Levels are those of the cycle itself,
so that a slow drift does not move the edges.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from riskkit.evidence.cycles import Crossings

LAST = 0.2
"""Share of a dwell, at its end, whose median is the level it holds."""

PLATEAU = 0.6
"""Share of a dwell, at its end, whose median is the plateau."""


@dataclass(frozen=True, slots=True, eq=False)
class Dwells:
    """One number per complete cycle; times in s, levels in the unit of the signal; nan where there is none.

    Attributes:
        first: Index of the first sample of each cycle (of its rise).
        last: Index of its last sample.
        peak: Highest reading of the upper dwell.
        trough: Lowest reading of the lower dwell behind it.
        highest: Highest reading of the whole cycle; `highest_at` is its index.
        lowest: Lowest reading of the whole cycle; `lowest_at` is its index.
        period_from: From where to where a period is taken, in words.
    """

    first: NDArray[np.intp]
    last: NDArray[np.intp]
    start: NDArray[np.float64]
    period: NDArray[np.float64]
    upper_dwell: NDArray[np.float64]
    lower_dwell: NDArray[np.float64]
    upper: NDArray[np.float64]
    lower: NDArray[np.float64]
    upper_plateau: NDArray[np.float64]
    lower_plateau: NDArray[np.float64]
    rise: NDArray[np.float64]
    fall: NDArray[np.float64]
    settling: NDArray[np.float64]
    peak: NDArray[np.float64]
    trough: NDArray[np.float64]
    highest: NDArray[np.float64]
    lowest: NDArray[np.float64]
    highest_at: NDArray[np.intp]
    lowest_at: NDArray[np.intp]
    above_middle: NDArray[np.float64]
    period_from: str


def measure_dwells(seconds: NDArray[np.float64], values: NDArray[np.float64], found: Crossings, band: float) -> Dwells:
    """Numbers of every complete cycle.

    Args:
        seconds: Times of the samples [s].
        values: Readings without missing ones.
        found: Where the signal crosses its middle.
        band: Half width of the settling band, as a share of the step.
    """
    import numpy as np

    rises, falls, smooth = found.rises, found.falls, found.smooth
    cycles = len(falls)
    begin = found.first_fall
    lower_from = np.concatenate(([begin], falls)) + 1  # lower dwell i lies before rise i; there is one more than cycles
    lower_from[0] = begin
    upper = _quantile(smooth, rises + 1, np.append(falls, len(smooth) - 1) + 1, 0.75)[:cycles]
    lower = _quantile(smooth, lower_from, rises + 1, 0.25)
    if rises[0] - begin < 3:
        lower[0] = lower[1]
    for _ in range(2):
        rise_start, fall_start, rise_at, fall_at = _edges(seconds, smooth, found, upper, lower, begin)
        dwell_end = np.append(fall_at, len(values) - 1)
        upper = _late_median(values, rise_at[:cycles] + 1, fall_at + 1, LAST)
        lower[1:] = _late_median(values, fall_at + 1, rise_at[1:] + 1, LAST)
        lower[0] = (
            _late_median(values, lower_from[:1], rise_at[:1] + 1, LAST)[0] if rise_at[0] - begin >= 3 else lower[1]
        )
    rise_start, fall_start, rise_at, fall_at = _edges(seconds, smooth, found, upper, lower, begin)
    step = upper - lower[:cycles]
    rise_end = _first_beyond(seconds, smooth, rises[:cycles] + 1, falls + 1, upper - 0.1 * step, 1.0)
    fall_end = _first_beyond(seconds, smooth, falls + 1, rises[1:] + 1, lower[1:] + 0.1 * (upper - lower[1:]), -1.0)
    peak, _ = _extreme(values, rise_at[:cycles], dwell_end[:cycles] + 1, 1.0)
    trough, _ = _extreme(values, dwell_end[:cycles], rise_at[1:] + 1, -1.0)
    highest, highest_at = _extreme(values, rise_at[:cycles] + 1, rise_at[1:] + 1, 1.0)
    lowest, lowest_at = _extreme(values, rise_at[:cycles] + 1, rise_at[1:] + 1, -1.0)
    width = _band(band, step, found.noise, dwell_end[:cycles] - rise_at[:cycles])
    settled = _settled(seconds, smooth, rise_at[:cycles], dwell_end[:cycles], upper, width)
    periods, period_from = _periods(found, rise_start)
    return Dwells(
        first=rise_at[:cycles],
        last=rise_at[1:],
        start=rise_start[:cycles],
        period=periods,
        period_from=period_from,
        upper_dwell=fall_start - rise_start[:cycles],
        lower_dwell=rise_start[1:] - fall_start,
        upper=upper,
        lower=lower[1:],
        upper_plateau=_late_median(values, rise_at[:cycles] + 1, fall_at + 1, PLATEAU),
        lower_plateau=_late_median(values, fall_at + 1, rise_at[1:] + 1, PLATEAU),
        rise=rise_end - rise_start[:cycles],
        fall=fall_end - fall_start,
        settling=settled - rise_start[:cycles],
        peak=peak,
        trough=trough,
        highest=highest,
        lowest=lowest,
        highest_at=highest_at,
        lowest_at=lowest_at,
        above_middle=found.fall_times - found.rise_times[:-1],
    )


def _periods(found: Crossings, rise_start: NDArray[np.float64]) -> tuple[NDArray[np.float64], str]:
    """Time from cycle to cycle at the steadier of two places: where edges are slow, noise shakes the crossing of the middle."""
    import numpy as np

    middle, start = np.diff(found.rise_times), np.diff(rise_start)
    if float(start.std()) < 0.8 * float(middle.std()):
        return start, "between the starts of two rises (10 % of the step), interpolated"
    return middle, "between two upward crossings of the middle, interpolated"


def _band(band: float, step: NDArray[np.float64], noise: float, samples: NDArray[np.intp]) -> NDArray[np.float64]:
    """Half width of the settling band: a share of the step, and never less than what noise alone reaches."""
    import numpy as np

    reach = noise * (np.sqrt(2 * np.log(np.maximum(samples, 2))) + 1)
    widths: NDArray[np.float64] = np.maximum(band * step, reach)
    return widths


def _edges(
    seconds: NDArray[np.float64],
    values: NDArray[np.float64],
    found: Crossings,
    upper: NDArray[np.float64],
    lower: NDArray[np.float64],
    begin: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.intp], NDArray[np.intp]]:
    """Start of every rise (last sample at or below 10 %) and of every fall (last at or above 90 %), interpolated."""
    import numpy as np

    rises, falls = found.rises, found.falls
    top = np.append(upper, upper[-1])
    starts = np.concatenate(([begin], falls))
    rise_start, rise_at = _last_before(seconds, values, starts, rises, lower + 0.1 * (top - lower), 1.0)
    fall_start, fall_at = _last_before(seconds, values, rises[:-1], falls, upper - 0.1 * (upper - lower[1:]), -1.0)
    return rise_start, fall_start, rise_at, fall_at


def _last_before(
    seconds: NDArray[np.float64],
    values: NDArray[np.float64],
    starts: NDArray[np.intp],
    stops: NDArray[np.intp],
    limits: NDArray[np.float64],
    sign: float,
) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Time at which the signal last leaves a limit between start and stop, upwards (sign 1) or downwards (-1)."""
    import numpy as np

    inside = _in_segments(values, starts, stops + 1, limits, lambda reading, limit: sign * reading <= sign * limit)
    order = np.searchsorted(inside, stops, "right") - 1
    at = np.where(order >= 0, inside[np.maximum(order, 0)] if len(inside) else stops, stops)
    at = np.where(at >= starts, at, stops)
    return _interpolated(seconds, values, at, limits), at


def _first_beyond(
    seconds: NDArray[np.float64],
    values: NDArray[np.float64],
    starts: NDArray[np.intp],
    stops: NDArray[np.intp],
    limits: NDArray[np.float64],
    sign: float,
) -> NDArray[np.float64]:
    """Time at which the signal first reaches a limit between start and stop; nan where it does not."""
    import numpy as np

    beyond = _in_segments(values, starts, stops, limits, lambda reading, limit: sign * reading >= sign * limit)
    if len(beyond) == 0:
        return np.full(len(starts), np.nan)
    order = np.minimum(np.searchsorted(beyond, starts, "left"), len(beyond) - 1)
    at = beyond[order]
    found = (at >= starts) & (at < stops)
    times = _interpolated(seconds, values, np.maximum(at - 1, 0), limits)
    return np.where(found, times, np.nan)


def _in_segments(
    values: NDArray[np.float64],
    starts: NDArray[np.intp],
    stops: NDArray[np.intp],
    limits: NDArray[np.float64],
    test: object,
) -> NDArray[np.intp]:
    """Indices inside the segments whose reading passes a test against the limit of its segment."""
    import numpy as np

    lengths = np.maximum(stops - starts, 0)
    total = int(lengths.sum())
    ends = np.cumsum(lengths)
    places = np.arange(total) - np.repeat(ends - lengths, lengths) + np.repeat(starts, lengths)
    assert callable(test)
    passed = test(values[places], np.repeat(limits, lengths))
    found: NDArray[np.intp] = places[passed]
    return found


def _interpolated(
    seconds: NDArray[np.float64], values: NDArray[np.float64], at: NDArray[np.intp], limits: NDArray[np.float64]
) -> NDArray[np.float64]:
    import numpy as np

    after = np.minimum(at + 1, len(values) - 1)
    step = values[after] - values[at]
    share = np.clip(np.divide(limits - values[at], step, out=np.zeros(len(at)), where=step != 0), 0.0, 1.0)
    times: NDArray[np.float64] = seconds[at] + share * (seconds[after] - seconds[at])
    return times


def _extreme(
    values: NDArray[np.float64], starts: NDArray[np.intp], stops: NDArray[np.intp], sign: float
) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Highest (sign 1) or lowest (-1) reading of every segment, and where it is."""
    import numpy as np

    pick = np.argmax if sign > 0 else np.argmin
    at = np.array(
        [start + int(pick(values[start:stop])) for start, stop in zip(starts.tolist(), stops.tolist(), strict=True)]
    )
    return values[at], at


def _quantile(
    values: NDArray[np.float64], starts: NDArray[np.intp], stops: NDArray[np.intp], share: float
) -> NDArray[np.float64]:
    import numpy as np

    found = np.empty(len(starts))
    for place, (start, stop) in enumerate(zip(starts.tolist(), stops.tolist(), strict=True)):
        ordered = np.sort(values[start : max(stop, start + 1)])
        found[place] = ordered[int(share * (len(ordered) - 1))]
    return found


def _late_median(
    values: NDArray[np.float64], starts: NDArray[np.intp], stops: NDArray[np.intp], share: float
) -> NDArray[np.float64]:
    """Median of the last part of every segment, of three readings at least where there are as many."""
    import numpy as np

    found = np.empty(len(starts))
    for place, (start, stop) in enumerate(zip(starts.tolist(), stops.tolist(), strict=True)):
        stop = max(stop, start + 1)
        first = max(start, stop - max(3, round(share * (stop - start))))
        ordered = np.sort(values[first:stop])
        middle = len(ordered) // 2
        found[place] = ordered[middle] if len(ordered) % 2 else (ordered[middle - 1] + ordered[middle]) / 2
    return found


def _settled(
    seconds: NDArray[np.float64],
    values: NDArray[np.float64],
    starts: NDArray[np.intp],
    ends: NDArray[np.intp],
    level: NDArray[np.float64],
    width: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Time from which the signal stays within the band until it leaves it for the fall; nan where it never does."""
    import numpy as np

    found = np.full(len(starts), np.nan)
    for place, (start, end, middle, half) in enumerate(
        zip(starts.tolist(), ends.tolist(), level.tolist(), width.tolist(), strict=True)
    ):
        away = values[start : end + 1] - middle
        inside = np.abs(away) <= half
        if not inside.any():
            continue
        last_inside = len(inside) - 1 - int(np.argmax(inside[::-1]))
        outside = np.flatnonzero(~inside[:last_inside])
        if len(outside) == 0:
            found[place] = seconds[start]
            continue
        before = int(outside[-1])
        edge = half if away[before] > 0 else -half
        share = (edge - away[before]) / (away[before + 1] - away[before])
        found[place] = seconds[start + before] + share * (seconds[start + before + 1] - seconds[start + before])
    return found
