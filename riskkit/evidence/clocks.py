"""The clock of a recording: from time stamps, from a counter, or from a sample interval given from outside."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.saying import say_count, say_lines, say_seconds

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

DAY = 86400.0
COARSE = 0.2
"""Share of repeated times above which the stamps are taken as coarser than the samples."""

_WRAPS = (2**32 * 1e-3, 2**32 * 1e-6)
"""Where counters of 32 bits in milliseconds and microseconds begin again [s]."""


@dataclass(frozen=True, slots=True)
class Jump:
    """A step of the clock that is no sample interval.

    Attributes:
        row: Index of the first sample behind it.
        line: Line of that sample in the file.
        seconds: Length of the step as the file has it [s]; negative backwards.
        missing: Samples that would fill it; 0 for a step backwards.
    """

    row: int
    line: int
    seconds: float
    missing: int


@dataclass(frozen=True, slots=True, eq=False)
class Clock:
    """Seconds of every sample, never falling, and what was done to get them.

    Attributes:
        seconds: Time of each sample [s].
        interval: Median step [s].
        jumps: Steps that are no sample interval, first to last.
        notes: What was found and assumed.
    """

    seconds: NDArray[np.float64]
    interval: float
    jumps: tuple[Jump, ...]
    notes: tuple[str, ...]


def counted_clock(samples: int, interval: float) -> Clock:
    """A clock that counts rows, one every `interval` seconds.

    Raises:
        EvidenceError: where the interval is no positive length of time.
    """
    import numpy as np

    if not 0 < interval < 1e9:
        raise EvidenceError(f"a sample interval of {interval:g} s is impossible", "give one such as --interval 10ms")
    note = f"time is counted from the rows, one every {say_seconds(interval)}, as given; a row that the logger lost would not be seen"
    return Clock(np.arange(samples, dtype=np.float64) * interval, interval, (), (note,))


def read_clock(raw: NDArray[np.float64], lines: NDArray[np.int64], *, of_day: bool, since_1970: bool) -> Clock:
    """A clock from a column of times.

    Args:
        raw: Times as written [s], without missing ones.
        lines: The line of each in the file.
        of_day: Whether they are times of day without a date.
        since_1970: Whether they count from far away, so that only differences are of use.

    Raises:
        EvidenceError: where there are fewer than two, or where the clock stands still.
    """
    import numpy as np

    if len(raw) < 2:
        raise EvidenceError("the recording holds fewer than two samples with a time", "give a longer recording")
    notes: list[str] = []
    seconds = raw.astype(float)
    steps = np.diff(seconds)
    if of_day:
        midnight = steps < -DAY / 2
        if midnight.any():
            seconds[1:] += DAY * np.cumsum(midnight)
            steps = np.diff(seconds)
            notes.append(
                f"the time of day passes midnight {say_count(int(midnight.sum()), 'time')}, and the day is counted on"
            )
    if not (steps > 0).any():
        raise EvidenceError(
            "the clock of the recording stands still or only runs back",
            "name another column with --time, or give --interval",
        )
    if float((steps == 0).mean()) > COARSE:
        seconds = _spread(seconds)
        steps = np.diff(seconds)
        notes.append(
            "the time stamps are coarser than the samples: samples that share a stamp are spread evenly up to the next one"
        )
    interval = float(np.median(steps[steps > 0]))
    counts = steps / interval  # a lost sample makes a step of two intervals, not an uneven one
    regular = float((np.abs(counts - np.maximum(np.round(counts), 1)) < 0.25).mean()) > 0.9
    back = steps < 0
    jumps: list[Jump] = []
    if back.any():
        seconds, back_jumps, words = _mend(seconds, steps, back, interval, lines)
        jumps += back_jumps
        notes += words
    wide = np.flatnonzero(steps > interval * (1.5 if regular else 5.0))
    jumps += [
        Jump(int(at) + 1, int(lines[at + 1]), float(steps[at]), max(0, round(float(steps[at]) / interval) - 1))
        for at in wide
    ]
    if len(wide):
        lost = sum(jump.missing for jump in jumps)
        longest = float(steps[wide].max())
        notes.append(
            f"the clock jumps forward {say_count(len(wide), 'time')}, by {say_seconds(longest)} at most: "
            f"about {say_count(lost, 'sample')} missing ({say_lines(lines[wide + 1])})"
        )
    same = int((steps == 0).sum())
    if same:
        notes.append(f"{say_count(same, 'sample')} with the time of the sample before")
    if not regular:
        notes.append(
            "the samples are unevenly spaced: times are taken as written, the sample interval is the median step"
        )
    if since_1970:
        seconds = seconds - seconds[0]
        notes.append("time is counted from the first sample")
    return Clock(seconds, interval, tuple(sorted(jumps, key=lambda jump: jump.row)), tuple(notes))


def _spread(seconds: NDArray[np.float64]) -> NDArray[np.float64]:
    """Samples that share a stamp, spread evenly until the next stamp; the last group in steps of the one before."""
    import numpy as np

    first = np.flatnonzero(np.diff(seconds, prepend=np.nan) != 0)
    if len(first) < 2:
        return seconds
    length = np.diff(first, append=len(seconds))
    step = np.diff(seconds[first], append=np.nan) / length
    step[-1] = step[-2]
    return seconds + (np.arange(len(seconds)) - np.repeat(first, length)) * np.repeat(step, length)


def _mend(
    seconds: NDArray[np.float64],
    steps: NDArray[np.float64],
    back: NDArray[np.bool_],
    interval: float,
    lines: NDArray[np.int64],
) -> tuple[NDArray[np.float64], list[Jump], list[str]]:
    """Join the pieces of a clock that runs back, one interval apart; a counter that only overflowed loses nothing."""
    import numpy as np

    add = np.zeros(len(steps))
    jumps, notes = [], []
    for at in np.flatnonzero(back).tolist():
        step = float(steps[at])
        wrap = next((wrap for wrap in _WRAPS if abs(step + wrap) < 50 * interval), None)
        line = int(lines[at + 1])
        if wrap is not None:
            add[at] = wrap
            notes.append(f"the counter overflows at line {line} and is counted on")
            continue
        add[at] = interval - step
        jumps.append(Jump(at + 1, line, step, 0))
        again = "begins again" if seconds[at + 1] <= seconds[0] + 2 * interval else "jumps back"
        if len(jumps) <= 5:
            notes.append(
                f"the clock {again} at line {line} ({say_seconds(-step)} back): what lies between is not known, no cycle is counted across it"
            )
    if len(jumps) > 5:
        notes.append(f"the clock runs back {len(jumps)} times in all")
    mended = seconds.copy()
    mended[1:] += np.cumsum(add)
    return mended, jumps, notes


_RATE = re.compile(
    r"(?:(?:every|interval|period|step)\D{0,12}?(\d+(?:\.\d+)?)\s*(ms|us|s|sec|seconds|milliseconds)\b)"
    r"|(?:(\d+(?:\.\d+)?)\s*(k?Hz|samples?\s*(?:per|/)\s*s\w*)\b)",
    re.IGNORECASE,
)


def hint(comments: tuple[str, ...]) -> str:
    """What comment lines say about the sample interval, as a suggestion; empty where they say nothing."""
    for comment in comments:
        found = _RATE.search(comment)
        if found is not None:
            return f"; a comment says `{comment.strip()[:60]}`"
    return ""
