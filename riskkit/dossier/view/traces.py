"""Recordings of the bench in words and as figures: section 9."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from riskkit.dossier.figures import Figure
from riskkit.dossier.tracefigure import Limit, Marked, trace_figure
from riskkit.dossier.view.telling import Teller, counted
from riskkit.evidence.measured import Measured
from riskkit.text.recorded import Recorded

SHOWN = (
    "cycle_rate",
    "upper_level",
    "lower_level",
    "overshoot",
    "rise_time",
    "upper_dwell",
    "inspiration_expiration_ratio",
    "highest",
    "lowest",
    "time_above",
)
"""Metrics that are printed beside the figure, by key."""


@dataclass(frozen=True, slots=True)
class TraceBlock:
    """One recording: what it shows, or why it cannot be read."""

    result: str
    file: str
    sentences: tuple[str, ...]
    metrics: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    figure: Figure | None


def trace_blocks(
    recordings: Sequence[Recorded], changed: frozenset[str], guard_band: float, tell: Teller
) -> tuple[TraceBlock, ...]:
    """All recordings in the order of their results.

    Args:
        recordings: What was read.
        changed: Paths of files that are not what they were when they were entered.
        guard_band: Width of the guard band in expanded uncertainties.
        tell: Words of the register, cleaned.
    """
    return tuple(_block(each, each.file in changed, guard_band, tell) for each in recordings)


def _block(recorded: Recorded, changed: bool, guard_band: float, tell: Teller) -> TraceBlock:
    where = recorded.result
    warning = ("The file has changed since the result was entered; this is what it holds now.",) if changed else ()
    measured, whole = recorded.measured, recorded.whole
    if measured is None or whole is None:
        said = (*warning, f"It cannot be drawn: {recorded.problem}.")
        return TraceBlock(where, tell(recorded.file, where), tell.each(said, where), (), (), None)
    worst = measured.worst
    name = tell(measured.column, where)
    figure = trace_figure(
        whole,
        name=name,
        unit=tell(measured.unit, where),
        limits=[
            Limit(
                each.level,
                "at most" if each.is_upper else "at least",
                None if each.uncertainty is None else guard_band * each.uncertainty,
            )
            for each in recorded.limits
        ],
        marked=None if worst is None else Marked(f"cycle {worst.number}", worst.start, worst.end, worst.because),
        near=recorded.near,
    )
    return TraceBlock(
        where,
        tell(recorded.file, where),
        tuple(tell.finding(words, where) for words in (*warning, *_sentences(measured))),
        tuple((metric.name, _value(metric.value, metric.unit)) for key in SHOWN if (metric := measured.get(key))),
        tuple(tell.finding(f"{each}.", where) for each in measured.cautions),
        figure,
    )


def _sentences(measured: Measured) -> list[str]:
    missing = f", {measured.missing} missing" if measured.missing else ""
    said = [f"{counted(measured.samples, 'sample')} from {measured.start:.4g} s to {measured.end:.4g} s{missing}."]
    if measured.cycles is None:
        said.append(f"No cycles: {measured.no_cycles_because}.")
    else:
        said.append(f"{counted(measured.cycles, 'complete cycle')}.")
    if measured.worst is not None:
        said.append(f"Worst cycle, number {measured.worst.number}: {measured.worst.because}.")
    return said


def _value(value: float, unit: str) -> str:
    return f"{value:.4g}" if unit in ("", "1") else f"{value:.4g}\u00a0{unit}"
