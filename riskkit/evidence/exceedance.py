"""How long a signal stays beyond a limit, and how long an alarm takes. Straight lines between samples, none across a gap."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from riskkit.evidence.answers import EvidenceError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from riskkit.evidence.recordings import Recording

Side = Literal["above", "below"]


@dataclass(frozen=True, slots=True)
class Exceedance:
    """Time beyond a limit.

    Attributes:
        limit: The limit, in the unit of the signal.
        side: Above or below.
        total: Time beyond it in all [s].
        longest: Longest stretch [s]; a gap in the readings ends a stretch.
        longest_at: Where the longest begins [s]; None where there is none.
        stretches: Number of stretches.
        unseen: Time in gaps, of which nobody knows on which side it was [s].
    """

    limit: float
    side: Side
    total: float
    longest: float
    longest_at: float | None
    stretches: int
    unseen: float


def time_beyond(
    seconds: NDArray[np.float64],
    values: NDArray[np.float64],
    limit: float,
    side: Side,
    gap_before: NDArray[np.bool_] | None = None,
) -> Exceedance:
    """How long a signal stays above or below a limit; a reading on the limit is not beyond it.

    Args:
        seconds: Times of the samples [s].
        values: Readings without missing ones.
        limit: The limit.
        side: Above or below.
        gap_before: True for every sample before which readings are missing.
    """
    import numpy as np

    away = values - limit if side == "above" else limit - values
    if len(away) < 2:
        raise EvidenceError("fewer than two readings show no time beyond a limit", "give a longer recording")
    steps = np.diff(seconds)
    joined = np.ones(len(steps), bool) if gap_before is None else ~gap_before[1:]
    before, after = away[:-1], away[1:]
    both = (before > 0) & (after > 0)
    one = ((before > 0) != (after > 0)) & joined
    span = np.abs(after - before)
    share = np.divide(np.maximum(before, after), span, out=np.zeros(len(span)), where=one & (span > 0))
    length = np.where(joined & both, steps, share * steps)
    length[~joined] = 0.0
    touching = length > 0
    begins = touching & ~np.concatenate(([False], touching[:-1] & (before[1:] > 0)))
    unseen = float(steps[~joined].sum())
    total = float(length.sum())
    starts = np.flatnonzero(begins)
    if len(starts) == 0:
        return Exceedance(limit, side, 0.0, 0.0, None, 0, unseen)
    lengths = np.add.reduceat(length, starts)
    best = int(np.argmax(lengths))
    at = int(starts[best])
    begin = float(seconds[at]) if before[at] > 0 else float(seconds[at + 1] - length[at])
    return Exceedance(limit, side, total, float(lengths[best]), begin, len(starts), unseen)


@dataclass(frozen=True, slots=True)
class Condition:
    """A column beyond a threshold in its own unit, such as the outlet pressure below 3 hPa."""

    column: str
    side: Side
    threshold: float


@dataclass(frozen=True, slots=True)
class AlarmTime:
    """Time from an event to its alarm.

    Attributes:
        event_at: When the event happened [s].
        alarm_at: When the alarm came [s]; None where it did not come in the recording.
        delay: Time between [s]; None where it did not come.
        watched: Time that was recorded behind the event [s].
        because: The answer as a sentence.
    """

    event_at: float
    alarm_at: float | None
    delay: float | None
    watched: float
    because: str


def time_to_alarm(recording: Recording, event: float | Condition, alarm: Condition) -> AlarmTime:
    """Time from an event to the first sample on which the alarm condition holds; crossings are interpolated.

    Args:
        recording: The recording.
        event: Time of the event [s], or the condition that is the event; the first time it comes true counts.
        alarm: The condition that is the alarm.

    Raises:
        EvidenceError: where the event does not happen, or the alarm is on before it.
    """
    start = float(event) if isinstance(event, int | float) else _first_time(recording, event, recording.seconds[0])
    first, last = float(recording.seconds[0]), float(recording.seconds[-1])
    if start is None:
        assert isinstance(event, Condition)
        raise EvidenceError(
            f"`{event.column}` is never {event.side} {event.threshold:g}, so there is no event", "name another event"
        )
    if not first <= start <= last:
        raise EvidenceError(
            f"the event at {start:g} s lies outside the recording, {first:g} s to {last:g} s", "name a time inside it"
        )
    if _holds(recording, alarm, start):
        raise EvidenceError(
            f"`{alarm.column}` is {alarm.side} {alarm.threshold:g} already at the event",
            "name an alarm that is off before",
        )
    came = _first_time(recording, alarm, start)
    if came is None:
        because = f"no alarm within the {last - start:.4g} s that were recorded behind the event"
        return AlarmTime(start, None, None, last - start, because)
    return AlarmTime(start, came, came - start, last - start, f"the alarm came {came - start:.4g} s after the event")


def _holds(recording: Recording, condition: Condition, when: float) -> bool:
    """Whether a condition holds on the last reading at or before a time."""
    import numpy as np

    values = recording.column(condition.column).values
    place = int(np.searchsorted(recording.seconds, when, "right")) - 1
    while place >= 0 and np.isnan(values[place]):
        place -= 1
    return place >= 0 and bool(
        values[place] > condition.threshold if condition.side == "above" else values[place] < condition.threshold
    )


def _first_time(recording: Recording, condition: Condition, after: float) -> float | None:
    """First time from `after` on at which a condition comes true."""
    import numpy as np

    values = recording.column(condition.column).values
    away = values - condition.threshold if condition.side == "above" else condition.threshold - values
    true = (away > 0) & (recording.seconds >= after)
    if not true.any():
        return None
    at = int(np.argmax(true))
    now = float(recording.seconds[at])
    if at == 0 or np.isnan(away[at - 1]) or away[at - 1] > 0:
        return now
    before = float(recording.seconds[at - 1])
    share = float(-away[at - 1] / (away[at] - away[at - 1]))
    return max(after, before + share * (now - before))
