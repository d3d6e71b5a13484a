"""Measure one column of a recording: cycles, levels, edges, extremes, drift, what may not be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from riskkit.evidence.adequacy import DOUBTFUL, sampling_adequacy
from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.cycle_metrics import cycle_metrics, slope_per_hour
from riskkit.evidence.cycles import Crossings, NoCycles, find_cycles
from riskkit.evidence.dwells import Dwells, measure_dwells
from riskkit.evidence.exceedance import Side, time_beyond
from riskkit.evidence.levels import noise_of
from riskkit.evidence.measured import Measured, Metric, Reached, WorstCycle
from riskkit.evidence.reaching import levels_reached
from riskkit.evidence.recordings import Recording
from riskkit.evidence.volumes import volume_metrics
from riskkit.evidence.worst_cycles import worst_cycle

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from riskkit.evidence.columns import Column

__all__ = ["Measured", "Metric", "Reached", "WorstCycle", "measure"]

GAP_THAT_MATTERS = 0.1
"""A gap longer than this share of a cycle takes the cycle out of rate, dwells and levels."""

EDGE = 2
"""Samples from an edge within which a gap spoils the cycles on both of its sides."""


def measure(
    recording: Recording,
    column: str | None = None,
    *,
    at_most: float | None = None,
    at_least: float | None = None,
    levels: Sequence[float] = (),
    tolerance: float | None = None,
    above: float | None = None,
    below: float | None = None,
    band: float = 0.05,
) -> Measured:
    """Everything that one column shows. All levels and limits are in the unit of the column.

    Args:
        recording: The recording.
        column: Name of the column; the first measured pressure if left out.
        at_most: Limit that no reading may lie above; sets the worst cycle and the time above.
        at_least: Limit that no reading may lie below.
        levels: Levels that are expected to be reached.
        tolerance: How far a held level may lie from an expected one; a tenth of the span of the expected levels,
            or of the level where there is one, if left out.
        above: Limit for the time above it, if another than `at_most`.
        below: Limit for the time below it, if another than `at_least`.
        band: Half width of the settling band as a share of the step.

    Raises:
        EvidenceError: where the column holds fewer than two readings, or a number is out of its range.
    """
    import numpy as np

    if not 0 < band < 0.5:
        raise EvidenceError(f"a settling band of {band:g} of the step is impossible", "give one such as 0.05")
    signal = recording.column(column)
    there = np.flatnonzero(~np.isnan(signal.values))
    if len(there) < 2:
        raise EvidenceError(f"`{signal.name}` holds fewer than two readings", "name another column with --column")
    seconds, values = recording.seconds[there], signal.values[there]
    broken = _gaps(recording, there)
    lost = sum(jump.missing for jump in recording.jumps)
    found = find_cycles(seconds, values)
    cautions: list[str] = []
    worst: WorstCycle | None = None
    dwells: Dwells | None = None
    metrics: list[Metric] = []
    flagged: tuple[int, ...] = ()
    if isinstance(found, Crossings):
        dwells = measure_dwells(seconds, values, found, band)
        counted, flagged, words = _counted(dwells, seconds, broken, recording)
        metrics, said = cycle_metrics(dwells, counted, signal.unit, band)
        cautions += [*words, *said, *_about_noise(metrics, found)]
        if found.detrended:
            cautions.append(
                "the levels drift by more than their step: the drift is taken out to find the cycles, and the levels are middles"
            )
        worst = worst_cycle(dwells, counted, seconds, values, signal.unit, at_most, at_least)
        metrics += volume_metrics(recording, dwells, there)
    metrics += _extremes(seconds, values, signal)
    whole = slope_per_hour(
        *_blocks(seconds, values), signal.unit, "drift", "drift of the whole", "medians of up to 40 equal parts"
    )
    upper_drift = next((each for each in metrics if each.key == "upper_drift"), None)
    if upper_drift is not None:
        metrics.append(replace(upper_drift, key="drift", name="drift"))
    elif whole is not None and dwells is None:
        metrics.append(whole)
    metrics += _beyond(
        seconds,
        values,
        broken,
        signal.unit,
        (("above", above if above is not None else at_most), ("below", below if below is not None else at_least)),
    )
    metrics, said = _sampling(metrics, recording.interval, has_cycles=dwells is not None)
    missing = len(signal.values) - len(there) + lost
    if missing:
        said.insert(0, f"{missing} samples are missing, and a higher or lower reading may have gone with them")
    return Measured(
        recording=recording.name,
        column=signal.name,
        unit=signal.unit,
        samples=len(signal.values),
        missing=missing,
        start=float(recording.seconds[0]),
        end=float(recording.seconds[-1]),
        interval=recording.interval,
        cycles=None if dwells is None else len(dwells.period),
        no_cycles_because=found.because if isinstance(found, NoCycles) else "",
        flagged=flagged,
        metrics=tuple(metrics),
        worst=worst,
        reached=levels_reached(seconds, values, levels, tolerance, signal.unit, dwells),
        cautions=(*said, *cautions),
        notes=recording.notes,
    )


def _gaps(recording: Recording, there: NDArray[np.intp]) -> NDArray[np.bool_]:
    """For every reading whether the clock jumped or readings are missing before it."""
    import numpy as np

    broken = np.concatenate(([False], np.diff(there) > 1))
    for jump in recording.jumps:
        place = int(np.searchsorted(there, jump.row))
        if 0 < place < len(broken):
            broken[place] = True
    return broken


def _counted(
    dwells: Dwells, seconds: NDArray[np.float64], broken: NDArray[np.bool_], recording: Recording
) -> tuple[NDArray[np.bool_], tuple[int, ...], list[str]]:
    """Which cycles count for rate and levels, and the numbers of those in which readings are missing."""
    import numpy as np

    counted = np.ones(len(dwells.period), bool)
    gaps = np.flatnonzero(broken)
    if len(gaps) == 0:
        return counted, (), []
    cycle = np.searchsorted(dwells.first, gaps, "left") - 1
    inside = (cycle >= 0) & (gaps <= dwells.last[np.maximum(cycle, 0)] + 1)
    gaps, cycle = gaps[inside], cycle[inside]
    typical = float(np.median(dwells.period))
    long = seconds[gaps] - seconds[gaps - 1] > GAP_THAT_MATTERS * typical
    back = np.zeros(len(gaps), bool)
    for jump in recording.jumps:
        if jump.seconds < 0:
            at = recording.seconds[jump.row]
            back |= (seconds[gaps] >= at) & (seconds[gaps - 1] < at)
    lost = long | back
    counted[cycle[lost]] = False
    at_start = lost & (gaps - dwells.first[cycle] <= EDGE) & (cycle > 0)
    at_end = lost & (dwells.last[cycle] + 1 - gaps <= EDGE) & (cycle < len(counted) - 1)
    counted[cycle[at_start] - 1] = False  # the same edge ends one cycle and begins the next
    counted[cycle[at_end] + 1] = False
    flagged = tuple(int(number) + 1 for number in np.unique(cycle))
    words = [f"readings are missing in {len(flagged)} of {len(counted)} cycles"]
    left_out = int((~counted).sum())
    if left_out == len(counted):
        counted[:] = True
        words.append(
            "every cycle has a gap that matters; rate and levels are taken from all of them and are not to be relied on"
        )
    elif left_out:
        words.append(f"left out of rate, dwells and levels because of a longer gap: {left_out}")
    return counted, flagged, words


def _about_noise(metrics: list[Metric], found: Crossings) -> list[str]:
    overshoot = next((each for each in metrics if each.key == "overshoot"), None)
    if overshoot is not None and found.noise > 0 and overshoot.value < 4 * found.noise:
        return [f"the overshoot is no more than noise of {found.noise:.2g} reaches by itself"]
    return []


def _extremes(seconds: NDArray[np.float64], values: NDArray[np.float64], signal: Column) -> list[Metric]:
    import numpy as np

    top, bottom = int(np.argmax(values)), int(np.argmin(values))
    return [
        Metric("highest", "highest reading", float(values[top]), signal.unit, "largest single reading", at=float(seconds[top])),
        Metric("lowest", "lowest reading", float(values[bottom]), signal.unit, "smallest single reading", at=float(seconds[bottom])),
        Metric("noise", "noise", noise_of(values), signal.unit, "standard deviation, from the median of the second differences"),
    ]  # fmt: skip


def _blocks(
    seconds: NDArray[np.float64], values: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middle time and median of up to 40 equal parts."""
    import numpy as np

    parts = max(1, min(40, len(values) // 5))
    return (
        np.array([part.mean() for part in np.array_split(seconds, parts)]),
        np.array([float(np.median(part)) for part in np.array_split(values, parts)]),
    )


def _beyond(
    seconds: NDArray[np.float64],
    values: NDArray[np.float64],
    broken: NDArray[np.bool_],
    unit: str,
    limits: Sequence[tuple[Side, float | None]],
) -> list[Metric]:
    found = []
    for side, limit in limits:
        if limit is None:
            continue
        beyond = time_beyond(seconds, values, limit, side, broken)
        words = f"{side} {limit:g}{f' {unit}' if unit else ''}, straight lines between readings, none across a gap"
        found.append(Metric(f"time_{side}", f"time {side} {limit:.4g}", beyond.total, "s", f"total time {words}"))
        found.append(
            Metric(
                f"longest_{side}",
                f"longest {side} {limit:.4g}",
                beyond.longest,
                "s",
                f"longest stretch {words}",
                at=beyond.longest_at,
            )
        )
    return found


def _sampling(metrics: list[Metric], interval: float, *, has_cycles: bool) -> tuple[list[Metric], list[str]]:
    """Add the adequacy of the sampling, and mark what it spoils."""
    edges = [each.value for each in metrics if each.key in ("rise_time", "fall_time") and each.value > 0]
    if not edges:
        if has_cycles:
            return metrics, ["no edge could be timed, so nobody can say whether the sampling is fast enough"]
        return metrics, ["there is no edge to compare the sampling with, so a short peak may have been missed"]
    answer = sampling_adequacy(min(edges), interval)
    added = [
        Metric("sample_rate", "sample rate", answer.rate, "Hz", "one over the (median) sample interval"),
        Metric("samples_per_rise", "samples per edge", answer.samples_per_rise, "1", "shorter of rise and fall time over the sample interval; 10 are needed"),
        Metric("needed_sample_rate", "sample rate needed", answer.needed_rate, "Hz", "ten samples in the shorter of rise and fall time"),
    ]  # fmt: skip
    if answer.adequate:
        return [*metrics, *added], []
    doubted = [replace(each, distrust="sampled too slowly") if each.key in DOUBTFUL else each for each in metrics]
    return [*doubted, *added], [
        f"{answer.because}; rise, fall, settling, overshoot, undershoot and the highest and lowest reading cannot be trusted"
    ]
