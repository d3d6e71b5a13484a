"""Time stamps of a whole column at once, where all are written alike: digits in the same places, the rest the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

from riskkit.evidence.fields import stamp_parts
from riskkit.evidence.shapes import Shape

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


def stamps_as_zeros(body: bytes, shape: Shape) -> tuple[bytes, dict[int, NDArray[np.float64]]]:
    """The text with its stamps overwritten by zeros, which the fast reader takes, and the seconds of each line by column.

    A stamp that is written in another way than the first is left as it is; its seconds are nan here.

    Args:
        body: Lines of readings, each ending in a line feed.
        shape: What they look like.
    """
    import numpy as np

    columns = [column for column, kind in enumerate(shape.kinds) if kind == "stamp"]
    if not columns or b'"' in body:
        return body, {}
    raw = np.frombuffer(body, np.uint8).copy()
    newlines = np.flatnonzero(raw == 10)
    starts = np.concatenate((np.zeros(1, np.intp), newlines[:-1] + 1))
    separators = np.flatnonzero(raw == ord(shape.separator))
    found: dict[int, NDArray[np.float64]] = {}
    for column in columns:
        begins, ends = _fields(starts, newlines, separators, column)
        first = body[int(begins[0]) : int(ends[0])].decode("ascii", "replace")
        parts = stamp_parts(first)
        if parts is None:
            continue
        alike = np.flatnonzero(ends - begins == len(first))
        places = begins[alike][:, None] + np.arange(len(first))
        letters = raw[places]
        digits = np.array(
            [
                place
                for name, span in parts.items()
                if name != "zone"
                for place in range(*span)
                if first[place].isdigit()
            ]
        )
        rest = np.setdiff1d(np.arange(len(first)), digits)
        pattern = np.frombuffer(first.encode(), np.uint8)
        same = (letters[:, rest] == pattern[rest]).all(axis=1) & ((letters[:, digits] - 48) < 10).all(axis=1)
        alike, places, letters = alike[same], places[same], letters[same]
        seconds = np.full(len(newlines), np.nan)
        seconds[alike] = _seconds(letters, parts, first)
        good = np.isfinite(seconds[alike])
        raw[places[good]] = 48
        found[column] = seconds
    return raw.tobytes(), found


def _fields(
    starts: NDArray[np.intp], newlines: NDArray[np.intp], separators: NDArray[np.intp], column: int
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Begin and end of one field of every line; a line that is too short gets an empty one."""
    import numpy as np

    padded = np.append(separators, newlines[-1])
    before = np.searchsorted(separators, starts)
    begins = starts if column == 0 else padded[np.minimum(before + column - 1, len(separators))] + 1
    ends = np.minimum(padded[np.minimum(before + column, len(separators))], newlines)
    return np.minimum(begins, ends), ends


def _seconds(letters: NDArray[np.uint8], parts: dict[str, tuple[int, int]], first: str) -> NDArray[np.float64]:
    """Seconds of stamps given as rows of letters; nan for days and times that do not exist."""
    import numpy as np

    from riskkit.evidence.fields import day_in_seconds, zone_in_seconds

    def number(name: str) -> NDArray[np.float64]:
        total, scale = np.zeros(len(letters)), 0.0
        if name not in parts:
            return total
        for place in range(*parts[name]):
            if not first[place].isdigit():
                scale = 1.0  # the decimal sign
                continue
            total = total * 10 + (letters[:, place] - 48)
            scale *= 10
        return total / scale if scale else total

    hours, minutes, seconds = number("hour"), number("minute"), number("second")
    total = hours * 3600 + minutes * 60 + seconds
    total[(minutes > 59) | (seconds >= 61) | (hours > 24)] = np.nan
    if "year" in parts:
        dates = (number("year") * 10000 + number("month") * 100 + number("day")).astype(np.int64)
        different, which = np.unique(dates, return_inverse=True)
        days = [day_in_seconds(int(each) // 10000, int(each) // 100 % 100, int(each) % 100) for each in different]
        total += np.array([np.nan if day is None else day for day in days])[which]
    zone = first[slice(*parts["zone"])] if "zone" in parts else ""
    return total - zone_in_seconds(zone)
