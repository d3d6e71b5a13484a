"""Are there cycles in a signal at all, and where do they begin and end?

Cycles are found by crossing the middle between two levels with hysteresis. A signal that does not
hold two levels apart from its noise, or that crosses them at random, has none, and the reason is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from riskkit.evidence.levels import Split, noise_of, smoothed, split_levels, without_single_spikes
from riskkit.evidence.saying import say_count, say_seconds

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

HYSTERESIS = 0.2
"""Half width of the band around the middle that a crossing must leave, as a share of the step."""

LEAST_STEP = 2.5
"""Levels closer together than so many standard deviations of the noise are no levels."""

LEAST_SEPARATION = 0.68
"""Least share of the variance between both levels; normal noise has 0.64, a triangle 0.75."""

LEAST_SHARE = 0.03
"""Least share of the time on either side; less is a spike, not a level."""


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """Upward and downward crossings in turn, beginning and ending upwards.

    Attributes:
        rises: Index of the last sample below the middle, for every upward crossing.
        falls: Index of the last sample above the middle, for the downward crossing behind each rise but the last.
        rise_times: Time of every upward crossing, interpolated [s].
        fall_times: Time of every downward crossing, interpolated [s].
        first_fall: Index of a downward crossing before the first rise, or 0.
        smooth: The signal that was used for the crossings: the readings, or their running mean where noise is strong.
        noise: Standard deviation of the noise.
        separation: Share of the variance between both levels.
        middle: The middle that is crossed; with a trend taken out, the one of the first sample.
        detrended: Whether a slow drift was taken out to find the crossings.
    """

    rises: NDArray[np.intp]
    falls: NDArray[np.intp]
    rise_times: NDArray[np.float64]
    fall_times: NDArray[np.float64]
    first_fall: int
    smooth: NDArray[np.float64]
    noise: float
    separation: float
    middle: float
    detrended: bool


@dataclass(frozen=True, slots=True)
class NoCycles:
    """Why a signal has no cycles."""

    because: str


def find_cycles(seconds: NDArray[np.float64], values: NDArray[np.float64]) -> Crossings | NoCycles:
    """Crossings of a signal that goes to and fro between two levels, or the reason why it does not.

    Args:
        seconds: Times of the samples [s].
        values: Readings without missing ones.
    """
    import numpy as np

    if len(values) < 8:
        return NoCycles(f"the recording holds only {say_count(len(values), 'reading')}")
    plain = _try(seconds, values, np.zeros(1), detrended=False)
    covered = 0.0
    if isinstance(plain, Crossings):
        times = plain.rise_times
        whole = float(seconds[-1] - seconds[0])
        covered = float(times[-1] - times[0]) / max(whole - 2 * float(np.median(np.diff(times))), 1e-300)
    if covered < 0.9:
        trend = _trend(values)
        if trend is not None:
            again = _try(seconds, values, trend, detrended=True)
            if isinstance(again, Crossings) and (
                isinstance(plain, NoCycles) or len(again.rises) > 1.1 * len(plain.rises)
            ):
                return again
    return plain


def _try(
    seconds: NDArray[np.float64], values: NDArray[np.float64], trend: NDArray[np.float64], *, detrended: bool
) -> Crossings | NoCycles:

    level = values - trend if detrended else values
    noise = noise_of(level)
    split = split_levels(level)
    if split is None:
        return NoCycles("the signal stands at one value")
    if split.step < LEAST_STEP * noise:
        return NoCycles(
            f"there are not two levels: what looks like two lies {split.step:.3g} apart, with a noise of {noise:.3g}"
        )
    smooth = level = without_single_spikes(level, max(0.5 * split.step, 5 * noise))
    if noise > 0.08 * split.step:
        width = min(int((noise / (0.08 * split.step)) ** 2) | 1, 25)
        smooth = smoothed(level, width)
        split = split_levels(smooth) or split
    blurred = split.separation < LEAST_SEPARATION
    rises, falls = _crossings(smooth, split.middle, HYSTERESIS * split.step)
    reason, unlike = _why_not(seconds, smooth, rises, falls, split, strict=blurred)
    if reason or unlike:
        unspiked = _without_spikes(rises, falls)
        for fewer in (_without_short(rises, falls), unspiked, _without_short(*unspiked)):
            other, left = _why_not(seconds, smooth, *fewer, split, strict=blurred)
            if not other and (reason or left < unlike):
                (rises, falls), reason, unlike = fewer, other, left
    if reason:
        return NoCycles("there are not two levels: the readings lie around one, as noise does" if blurred else reason)
    first_fall = 0
    if falls[0] < rises[0]:
        first_fall, falls = int(falls[0]), falls[1:]
    falls = falls[: len(rises) - 1]
    return Crossings(
        rises,
        falls,
        _times(seconds, smooth, rises, split.middle),
        _times(seconds, smooth, falls, split.middle),
        first_fall,
        smooth + trend if detrended else smooth,
        noise,
        split.separation,
        split.middle + float(trend[0]),
        detrended,
    )


def _crossings(values: NDArray[np.float64], middle: float, band: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Last sample before each upward and downward crossing of the middle that leaves the band on the other side."""
    import numpy as np

    outside = np.flatnonzero(np.abs(values - middle) >= band)
    if len(outside) == 0:
        return outside, outside
    above = values[outside] > middle
    turns = np.flatnonzero(above[1:] != above[:-1]) + 1
    rising = above[turns]
    low, high = np.flatnonzero(values <= middle), np.flatnonzero(values > middle)
    rises = low[np.searchsorted(low, outside[turns[rising]]) - 1]
    falls = high[np.searchsorted(high, outside[turns[~rising]]) - 1]
    return rises, falls


def _times(
    seconds: NDArray[np.float64], values: NDArray[np.float64], before: NDArray[np.intp], middle: float
) -> NDArray[np.float64]:
    step = values[before + 1] - values[before]
    share = (middle - values[before]) / step
    times: NDArray[np.float64] = seconds[before] + share * (seconds[before + 1] - seconds[before])
    return times


def _why_not(
    seconds: NDArray[np.float64],
    values: NDArray[np.float64],
    rises: NDArray[np.intp],
    falls: NDArray[np.intp],
    split: Split,
    *,
    strict: bool,
) -> tuple[str, int]:
    """Why crossings are no cycles, empty where they are; and how many periods are unlike the typical one.

    Where the levels are blurred, `strict` asks for a steadier beat.
    """
    import numpy as np

    if len(rises) < 3:
        return (
            f"the signal rises through its middle {say_count(len(rises), 'time')}, and two complete cycles need three",
            0,
        )
    middle = split.middle
    times = _times(seconds, values, rises, middle)
    inside = values[rises[0] + 1 : rises[-1] + 1]
    share = float((inside > middle).mean())
    if min(share, 1 - share) < LEAST_SHARE:
        side, part = ("above", share) if share < 0.5 else ("below", 1 - share)
        return (
            f"the signal is {side} its middle for {100 * part:.2g} % of the time only: these are spikes, not a level",
            0,
        )
    periods = np.diff(times)
    typical = float(np.median(periods))
    allowed, needed = (0.3, 0.8) if len(periods) >= 8 else (0.2, 1.0)
    if strict:
        allowed, needed = (0.1, 0.9) if len(periods) >= 5 else (0.0, 1.0)
    near = np.abs(periods - typical) <= allowed * typical
    if typical <= 0 or float(near.mean()) < needed:
        return (
            f"the signal crosses its middle at irregular times, {say_seconds(float(periods.min()))} to "
            f"{say_seconds(float(periods.max()))} apart, so that there is no rate"
        ), 0
    shares = np.add.reduceat((values > middle).astype(np.intp), rises + 1)[:-1] / np.diff(rises)
    if len(periods) < 8 and float(shares.max() - shares.min()) > 0.25:
        return "the few cycles there are do not look alike: the time above the middle differs too much", 0
    values = np.clip(values, split.low, split.high)
    for ends in (np.maximum.reduceat(values, rises + 1)[:-1], np.minimum.reduceat(values, rises + 1)[:-1]):
        spread = np.median(np.abs(ends - np.median(ends))) if len(ends) >= 8 else (ends.max() - ends.min()) / 2
        if float(spread) > 0.35 * split.step:
            return "highest and lowest readings differ from one cycle to the next by about as much as the levels do", 0
    return "", int((~near).sum())


def _without_short(rises: NDArray[np.intp], falls: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Crossings without those of excursions that are far shorter than others on the same side."""
    import numpy as np

    turns = np.sort(np.concatenate((rises, falls)))
    if len(turns) < 6:
        return rises, falls
    lengths = np.diff(turns)
    short = np.zeros(len(lengths), bool)
    for side in (slice(0, None, 2), slice(1, None, 2)):
        short[side] = lengths[side] < 0.2 * np.percentile(lengths[side], 75)
    return _thinned(turns, short, rises)


def _without_spikes(rises: NDArray[np.intp], falls: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Crossings without those of excursions of three samples or fewer that are far shorter than most."""
    import numpy as np

    turns = np.sort(np.concatenate((rises, falls)))
    if len(turns) < 4:
        return rises, falls
    lengths = np.diff(turns)
    short = (lengths <= 3) & (lengths < 0.1 * np.percentile(lengths, 75))
    return _thinned(turns, short, rises)


def _thinned(
    turns: NDArray[np.intp], short: NDArray[np.bool_], rises: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Take out both ends of every short excursion."""
    import numpy as np

    gone = np.zeros(len(turns), bool)
    for place in np.flatnonzero(short).tolist():
        if not gone[place]:
            gone[place : place + 2] = True
    left = turns[~gone]
    upward = np.isin(left, rises)
    return left[upward], left[~upward]


def _trend(values: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Slow drift: the running mean over one period of the strongest vibration; None where none stands out."""
    import numpy as np

    size = len(values)
    fold = max(1, size // 32768)
    used = size // fold * fold
    coarse = values[:used].reshape(-1, fold).mean(axis=1)
    places = np.arange(len(coarse), dtype=float)
    line = np.polyfit(places - places.mean(), coarse, 1)
    flat = coarse - np.polyval(line, places - places.mean())
    strength = np.abs(np.fft.rfft(flat * np.hanning(len(flat))))
    if len(strength) < 8:
        return None
    best = int(np.argmax(strength[4:])) + 4
    window = round(fold * len(coarse) / best) | 1
    if window < 5 or window > size // 3:
        return None
    half = window // 2
    sums = np.concatenate((np.zeros(1), np.cumsum(values)))
    whole = (sums[window:] - sums[:-window]) / window
    slope_before = (whole[min(window, len(whole) - 1)] - whole[0]) / max(min(window, len(whole) - 1), 1)
    slope_after = (whole[-1] - whole[-1 - min(window, len(whole) - 1)]) / max(min(window, len(whole) - 1), 1)
    before = whole[0] - slope_before * np.arange(half, 0, -1)
    after = whole[-1] + slope_after * np.arange(1, half + 1)
    return np.concatenate((before, whole, after))
