"""What one input does to an answer, as a figure: a curve with its points, marked where the model holds less or not.

It takes plain numbers only. A point inside the range of the model is a full dot, one at its edge or outside a
hollow one, and the line to it is dashed; where the model has no answer there is no line, and the foot is hatched.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from riskkit.dossier import figures as draw
from riskkit.dossier.figures import Figure
from riskkit.dossier.lettering import fit, width
from riskkit.dossier.tracefigure import nice_ticks, written

PAGE_WIDTH = 320.0
LEFT, RIGHT, TOP, HIGH, FOOT = 44.0, 10.0, 14.0, 150.0, 30.0
SIZE = 6.4
MOST_DOTS = 60
"""With more points than that their dots would run together, and only the line is drawn."""


@dataclass(frozen=True, slots=True)
class Axis:
    """What runs along a side: its words, such as "pressure", and its unit as it is read; empty for a plain number."""

    words: str
    unit: str = ""

    @property
    def told(self) -> str:
        """Words and unit."""
        return f"{self.words} [{self.unit}]" if self.unit else self.words


@dataclass(frozen=True, slots=True)
class Dot:
    """One point: input, answer (None where the model has none), and whether it lies inside the range of the model."""

    x: float
    y: float | None
    inside: bool = True


@dataclass(frozen=True, slots=True)
class _Panel:
    """Where inputs and answers lie on the paper."""

    wide: float
    start: float
    end: float
    low: float
    most: float

    def x(self, value: float) -> float:
        return LEFT + (value - self.start) / (self.end - self.start) * self.wide

    def y(self, value: float) -> float:
        return TOP + (self.most - value) / (self.most - self.low) * HIGH

    @property
    def bottom(self) -> float:
        return TOP + HIGH


def sweep_figure(dots: Sequence[Dot], across: Axis, up: Axis, *, title: str = "") -> Figure:
    """An answer against one input.

    Args:
        dots: Two points or more with different inputs, at least one of them with an answer.
        across: The input.
        up: The answer.
        title: What stands above; words and unit of the answer if left out.
    """
    dots = sorted(dots, key=lambda dot: dot.x)
    answers = [dot.y for dot in dots if dot.y is not None]
    low, most = min(answers), max(answers)
    span = most - low
    if span <= 1e-9 * max(abs(low), abs(most)):
        span = abs(low) or 1.0
    panel = _Panel(PAGE_WIDTH - LEFT - RIGHT, dots[0].x, dots[-1].x, low - 0.06 * span, most + 0.08 * span)
    head = fit(title or up.told, SIZE + 0.6, PAGE_WIDTH, 1, "sans-bold")[0]
    shapes = [
        draw.letters(0, 7.5, head, SIZE + 0.6, face="sans-bold"),
        *_ticks(panel, across),
        *_holes(panel, dots),
        *_curve(panel, dots),
        draw.rect(LEFT, TOP, panel.wide, HIGH, line=draw.GREY, weight=0.5),
    ]
    return draw.figure(shapes, _said(dots, across, up), PAGE_WIDTH, TOP + HIGH + FOOT)


def _ticks(panel: _Panel, across: Axis) -> Iterator[str]:
    for tick in nice_ticks(panel.low, panel.most, 6):
        y = panel.y(tick)
        yield draw.polyline(((LEFT, y), (LEFT + panel.wide, y)), line="#dcd7cc", weight=0.4)
        yield draw.letters(LEFT - 3, y + 2.2, written(tick), SIZE, anchor="end", fill=draw.SLATE)
    for tick in nice_ticks(panel.start, panel.end, 7):
        x, half = panel.x(tick), width(written(tick), SIZE) / 2
        yield draw.polyline(((x, panel.bottom), (x, panel.bottom + 2.5)), line=draw.GREY, weight=0.5)
        x_words = min(max(x, LEFT + half), LEFT + panel.wide - half)
        yield draw.letters(x_words, panel.bottom + 9, written(tick), SIZE, anchor="middle", fill=draw.SLATE)
    yield draw.letters(LEFT + panel.wide / 2, panel.bottom + 20, across.told, SIZE + 0.4, anchor="middle")


def _holes(panel: _Panel, dots: Sequence[Dot]) -> Iterator[str]:
    """Hatching at the foot from the last answer before a hole to the first one behind it."""
    hole: list[float] = []
    for place, dot in enumerate(dots):
        if dot.y is not None:
            continue
        hole += [dots[max(place - 1, 0)].x, dots[min(place + 1, len(dots) - 1)].x]
        if place + 1 == len(dots) or dots[place + 1].y is not None:
            first, last = panel.x(min(hole)), panel.x(max(hole))
            yield draw.hatch(first, panel.bottom - 8, last - first, 8, 3.6, line=draw.GREY, weight=0.5)
            hole = []


def _curve(panel: _Panel, dots: Sequence[Dot]) -> Iterator[str]:
    """Runs of one kind of line, each as one path; then the dots above them."""
    run: list[tuple[float, float]] = []
    dashed = False
    for one, other in itertools.pairwise(dots):
        if one.y is None or other.y is None:
            yield from _run(run, dashed)
            run = []
            continue
        now = not (one.inside and other.inside)
        if run and now != dashed:
            yield from _run(run, dashed)
            run = []
        dashed = now
        run = [*(run or [(panel.x(one.x), panel.y(one.y))]), (panel.x(other.x), panel.y(other.y))]
    yield from _run(run, dashed)
    for place, dot in enumerate(dots):
        alone = all(
            each.y is None for each in (*dots[max(place - 1, 0) : place], *dots[place + 1 : place + 2])
        )  # a point between holes has no line to be seen by
        if dot.y is not None and (len(dots) <= MOST_DOTS or alone):
            fill = draw.INK if dot.inside else draw.WHITE
            yield draw.circle(panel.x(dot.x), panel.y(dot.y), 1.5, fill=fill, weight=0.6)


def _run(run: Sequence[tuple[float, float]], dashed: bool) -> Iterator[str]:
    if len(run) > 1:
        yield draw.polyline(run, weight=1.1, dashes="3 2" if dashed else "")


def _said(dots: Sequence[Dot], across: Axis, up: Axis) -> str:
    told = [dot for dot in dots if dot.y is not None]

    def at(dot: Dot) -> str:
        return f"{dot.y:.4g} {up.unit}".rstrip() + f" at {dot.x:.4g} {across.unit}".rstrip()

    least, most = (end(told, key=lambda dot: dot.y or 0.0) for end in (min, max))
    said = [
        f"{up.told} against {across.told}, {dots[0].x:.4g} to {dots[-1].x:.4g}: {at(told[0])}, {at(told[-1])}; "
        f"lowest {at(least)}, highest {at(most)}"
    ]
    beyond = sum(not dot.inside for dot in told)
    if beyond:
        said.append(f"{beyond} of {len(dots)} points lie at the edge or outside of where the model holds")
    if len(told) < len(dots):
        said.append(f"at {len(dots) - len(told)} of {len(dots)} points the model has no answer")
    return ". ".join(said) + "."
