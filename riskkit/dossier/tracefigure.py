"""A recording of the bench as a figure: lowest to highest reading, limits with their guard bands, the worst cycle large.

It takes plain numbers only: `riskkit.evidence.envelopes.envelope` reduces a recording of any length to
the steps that a printed page can show, and no reading can hide in a step.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from riskkit.dossier import figures as draw
from riskkit.dossier.figures import Figure
from riskkit.dossier.lettering import fit, width

if TYPE_CHECKING:
    from riskkit.evidence.envelopes import Envelope

STEPS = 420
"""Steps of time that the envelope of a figure should have: about one per point of paper."""

PAGE_WIDTH = 482.0
LEFT, RIGHT = 40.0, 8.0
MAIN, NEAR = 118.0, 96.0
"""Heights of both panels."""

TOP, BETWEEN, FOOT = 12.0, 34.0, 26.0
SIZE = 6.4
INSIDE = "#59636b"
"""Grey of the envelope: dark enough for one thin line, light enough for hatching to be seen beside it."""


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit of a reading.

    Attributes:
        level: The limit, in the unit of the readings.
        side: Whether readings must lie at most or at least there.
        guard_band: Width of the guard band inside it; None where no uncertainty is stated.
    """

    level: float
    side: Literal["at most", "at least"]
    guard_band: float | None = None


@dataclass(frozen=True, slots=True)
class Marked:
    """A part of the recording that is marked and drawn large: its name, from when to when [s], and why."""

    name: str
    start: float
    end: float
    because: str


@dataclass(frozen=True, slots=True)
class _Panel:
    """Where a piece of time and a range of readings lie on the paper."""

    left: float
    top: float
    wide: float
    high: float
    start: float
    end: float
    low: float
    most: float

    def x(self, second: float) -> float:
        return self.left + (second - self.start) / (self.end - self.start) * self.wide

    def y(self, level: float) -> float:
        return self.top + (self.most - level) / (self.most - self.low) * self.high


def trace_figure(
    whole: Envelope,
    *,
    name: str,
    unit: str,
    limits: Sequence[Limit] = (),
    marked: Marked | None = None,
    near: Envelope | None = None,
) -> Figure:
    """A recording against time.

    Args:
        whole: The recording in about `STEPS` steps.
        name: What was recorded, such as "pressure at the outlet".
        unit: Unit of the readings; empty where none is stated.
        limits: Limits, drawn as heavy lines with their guard bands hatched.
        marked: The worst cycle, if there are cycles.
        near: The part round the worst cycle, drawn large below.
    """
    low = min([whole.low, *(limit.level for limit in limits)])
    most = max([whole.high, *(limit.level for limit in limits)])
    span = most - low or abs(most) or 1.0
    room = 0.14 if any(limit.side == "at least" for limit in limits) else 0.05  # a limit's words stand outside it
    low, most = low - room * span, most + 0.12 * span
    wide = PAGE_WIDTH - LEFT - RIGHT
    main = _Panel(LEFT, TOP, wide, MAIN, whole.start, whole.end, low, most)
    shapes = [draw.letters(0, 7.5, f"{name}{f' [{unit}]' if unit else ''}", SIZE + 0.6, face="sans-bold")]
    height = TOP + MAIN + FOOT
    zoom: _Panel | None = None
    if marked is not None and near is not None:
        zoom = _Panel(LEFT, TOP + MAIN + BETWEEN, wide, NEAR, near.start, near.end, low, most)
        shapes += _opening(main, zoom, marked)
        height = zoom.top + NEAR + FOOT
    shapes += _panel(main, whole, limits, marked)
    if zoom is not None and near is not None and marked is not None:
        shapes += _panel(zoom, near, limits, marked)
        words = fit(f"{marked.name}: {marked.because}", SIZE, wide - 4, 1, "sans-italic")[0]
        shapes.append(
            draw.letters(zoom.left, zoom.top - 3.5, words, SIZE, face="sans-italic", fill=draw.SLATE, halo=1.8)
        )
    return draw.figure(shapes, _said(whole, name, unit, limits, marked), PAGE_WIDTH, height)


def _panel(panel: _Panel, shape: Envelope, limits: Sequence[Limit], marked: Marked | None) -> Iterator[str]:
    bottom = panel.top + panel.high
    if marked is not None:
        first, last = (
            min(max(panel.x(each), panel.left), panel.left + panel.wide) for each in (marked.start, marked.end)
        )
        yield draw.rect(first, panel.top, max(last - first, 0.8), panel.high, fill=draw.SAND)
        for x in (first, max(last, first + 0.8)):
            yield draw.polyline(((x, panel.top), (x, bottom)), line=draw.RUST, weight=0.5, dashes="2 1.5")
    yield from _levels(panel)
    yield from _times(panel)
    for limit in limits:
        if limit.guard_band:
            inner = limit.level - limit.guard_band if limit.side == "at most" else limit.level + limit.guard_band
            above, below = sorted((panel.y(limit.level), panel.y(max(panel.low, min(panel.most, inner)))))
            if below - above > 0.4:
                yield draw.hatch(panel.left, above, panel.wide, below - above, 4.2, line=draw.GREY, weight=0.4)
    yield from _readings(panel, shape)
    for limit in limits:
        yield from _limit(panel, limit)
    yield draw.rect(panel.left, panel.top, panel.wide, panel.high, line=draw.GREY, weight=0.5)


def _readings(panel: _Panel, shape: Envelope) -> Iterator[str]:
    """The envelope as closed outlines, one for each run of readings; gaps are struck out below.

    Where readings are rarer than steps, those between two readings are empty and no gap: the line runs through.
    """
    steps = len(shape.lows)
    width_of_step = panel.wide / steps
    run: list[tuple[float, float, float]] = []
    for step in range(steps + 1):
        low, high = (shape.lows[step], shape.highs[step]) if step < steps else (None, None)
        if low is not None and high is not None:
            x = panel.left + (step + 0.5) * width_of_step  # a tenth of a point is finer than print
            run.append((round(x, 1), round(panel.y(high), 1), round(panel.y(low), 1)))
            continue
        if run and (step == steps or shape.gaps[step]):
            yield _outline(run, width_of_step)
            run = []
    bottom = panel.top + panel.high
    first: int | None = None
    for step in range(steps + 1):
        gap = step < steps and shape.gaps[step]
        if gap and first is None:
            first = step
        elif not gap and first is not None:
            x, wide = panel.left + first * width_of_step, (step - first) * width_of_step
            yield draw.rect(x, bottom - 3, wide, 3, fill=draw.RUST)
            first = None


def _outline(run: Sequence[tuple[float, float, float]], width_of_step: float) -> str:
    if len(run) == 1:
        x, top, bottom = run[0]
        return draw.rect(x - width_of_step / 2, top - 0.25, width_of_step, bottom - top + 0.5, fill=INSIDE)
    upper = [(x, top) for x, top, _ in run]
    lower = [(x, bottom) for x, _, bottom in reversed(run)]
    return draw.polyline([*upper, *lower], line=INSIDE, weight=0.5, fill=INSIDE, closed=True)


def _limit(panel: _Panel, limit: Limit) -> Iterator[str]:
    y = panel.y(limit.level)
    yield draw.polyline(((panel.left, y), (panel.left + panel.wide, y)), weight=1.2)
    words = f"{limit.side} {limit.level:.4g}"
    baseline = y - 2.4 if limit.side == "at most" else y + SIZE + 0.6
    yield draw.letters(panel.left + panel.wide - 3, baseline, words, SIZE, face="sans-bold", anchor="end", halo=1.8)


def _levels(panel: _Panel) -> Iterator[str]:
    for tick in nice_ticks(panel.low, panel.most, 5):
        y = panel.y(tick)
        yield draw.polyline(((panel.left, y), (panel.left + panel.wide, y)), line="#dcd7cc", weight=0.4)
        yield draw.letters(panel.left - 3, y + 2.2, written(tick), SIZE, anchor="end", fill=draw.SLATE)


def _times(panel: _Panel) -> Iterator[str]:
    """Ticks below, in the unit that suits the length."""
    span = panel.end - panel.start
    unit, worth = ("h", 3600.0) if span > 7200 else ("min", 60.0) if span > 600 else ("s", 1.0)
    bottom = panel.top + panel.high
    ticks = nice_ticks(panel.start / worth, panel.end / worth, 8)
    for place, tick in enumerate(ticks):
        x = panel.x(tick * worth)
        words = written(tick) + (f" {unit}" if place == len(ticks) - 1 else "")
        half = width(words, SIZE) / 2
        x_words = min(max(x, panel.left + half), panel.left + panel.wide - half)
        yield draw.polyline(((x, bottom), (x, bottom + 2.5)), line=draw.GREY, weight=0.5)
        yield draw.letters(x_words, bottom + 9, words, SIZE, anchor="middle", fill=draw.SLATE)


def _opening(main: _Panel, zoom: _Panel, marked: Marked) -> Iterator[str]:
    """Two lines from the marked part to the panel that shows it large."""
    bottom = main.top + main.high
    for second, x in ((marked.start, zoom.x(marked.start)), (marked.end, zoom.x(marked.end))):
        yield draw.polyline(((main.x(second), bottom), (x, zoom.top)), line=draw.RUST, weight=0.5, dashes="2 1.5")


def nice_ticks(low: float, high: float, about: int) -> tuple[float, ...]:
    """Round numbers between two ends, in steps of 1, 2 or 5 times a power of ten."""
    raw = (high - low) / about
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(each * power for each in (1, 2, 5, 10) if each * power >= raw * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return tuple(round(count * step, 12) for count in range(first, last + 1))


def written(tick: float) -> str:
    """A tick as it is printed, with a true minus sign."""
    return f"{tick:.6g}".replace("-", "\u2212")


def _said(whole: Envelope, name: str, unit: str, limits: Sequence[Limit], marked: Marked | None) -> str:
    behind = f" {unit}" if unit else ""
    said = [
        f"{name}{f' in {unit}' if unit else ''} against time, {whole.start:.4g} s to {whole.end:.4g} s: "
        f"lowest reading {whole.low:.4g}{behind}, highest reading {whole.high:.4g}{behind}"
    ]
    for limit in limits:
        margin = limit.level - whole.high if limit.side == "at most" else whole.low - limit.level
        guard = f", guard band {limit.guard_band:.3g}{behind}" if limit.guard_band else ", no uncertainty stated"
        said.append(
            f"limit {limit.side} {limit.level:.4g}{behind}{guard}; the worst reading lies {abs(margin):.3g}{behind} "
            f"{'inside' if margin >= 0 else 'beyond'} it"
        )
    if marked is not None:
        said.append(f"{marked.name}, {marked.start:.5g} s to {marked.end:.5g} s: {marked.because}")
    if any(whole.gaps):
        said.append("where readings are missing the lower edge is struck out")
    return ". ".join(said) + "."
