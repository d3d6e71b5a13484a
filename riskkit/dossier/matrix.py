"""The risk matrix as a figure: every hazard has a lane of its own, from a hollow mark to a filled one.

A cell says its region in words, number and hatching, so that nothing hangs on colour. Columns are
as wide as the hazards in them need, which keeps three dozen hazards apart in a matrix of 25 cells.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from riskkit.dossier import figures as draw
from riskkit.dossier.figures import Figure
from riskkit.dossier.lettering import fit, width
from riskkit.judgement.scoring import HazardScore, Score
from riskkit.model.policy import Policy

PAGE_WIDTH = 482.0
PAGE_HEIGHT = 600.0
SMALL = 110.0
"""Largest side of the small matrix."""

AXIS_WIDTH = 66.0
HEAD_HEIGHT = 34.0
ROW_HEIGHT = 62.0
NARROWEST_LANE = 8.5
WIDEST_LANE = 17.0
NARROWEST_COLUMN = 42.0
LABEL_SIZE = 6.4
LABEL_ROOM = 30.0
MARK = 2.7

TINTS = ("#e6dfd2", "#f4f0e8")
"""Fill of the cells of the first and second region; further regions stay white."""

HATCHES = ((3.4, True), (7.0, False))
"""Distance of the hatch lines and whether they rise, for the first and second region."""


Stage = Literal["before", "claimed", "supported"]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a score stands: column, the row of its mark and the row its range reaches to."""

    column: int
    row: int
    reach: int


@dataclass(frozen=True, slots=True)
class Lane:
    """One hazard on its way through the matrix: the scores it has, earliest first."""

    id: str
    spots: Mapping[Stage, Spot]

    @property
    def order(self) -> tuple[int, int]:
        """Lanes stand side by side from most to least likely."""
        rows = [spot.row for spot in self.spots.values()]
        return rows[0], rows[-1]


def risk_matrices(
    policy: Policy, scores: Iterable[HazardScore], stages: tuple[Stage, Stage] = ("before", "claimed")
) -> tuple[Figure, ...]:
    """The matrix with all hazards that have a score; split over several figures where lanes get too narrow.

    Two stages are drawn at a time, from the one to the other, since three in one lane cannot be told apart.
    """
    figures: list[Figure] = []
    lanes: list[Lane] = []
    for lane in (lane for score in scores if (lane := _of_stages(_lane(policy, score), stages)).spots):
        if lanes and not _fits(policy, [*lanes, lane]):
            figures.append(_matrix(policy, lanes))
            lanes = []
        lanes.append(lane)
    return (*figures, _matrix(policy, lanes)) if lanes else tuple(figures)


def position(policy: Policy, score: HazardScore) -> Figure:
    """A small matrix that shows where one hazard stands."""
    wide, high, left, top = 11.0, 9.0, 10.0, 10.0
    columns, rows = len(policy.severity), len(policy.likelihood.levels)
    shapes: list[str] = []
    for row, band in enumerate(policy.likelihood.levels):
        y = top + row * high
        shapes.append(draw.letters(left - 3, y + high * 0.72, band.level[:2], 5.4, anchor="end", fill=draw.GREY))
        for column, step in enumerate(policy.severity):
            rank = policy.region_rank(policy.matrix[band.level][step.level])
            shapes.extend(_ground(left + column * wide, y, wide, high, rank))
    for column, step in enumerate(policy.severity):
        x = left + (column + 0.5) * wide
        shapes.append(draw.letters(x, top - 3, step.level[:3], 5.4, anchor="middle", fill=draw.GREY))
    lane = _lane(policy, score)
    shift = 2.4 if len(set(lane.spots.values())) < len(lane.spots) else 0.0
    centres = {
        stage: (
            left + (spot.column + 0.5) * wide + (place - (len(lane.spots) - 1) / 2) * 2 * shift,
            top + (spot.row + 0.5) * high,
        )
        for place, (stage, spot) in enumerate(lane.spots.items())
    }
    shapes.extend(_marks(lane, centres, 2.1, high))
    words = f"{score.id} in the matrix: {_words(policy, lane)}."
    across, down = left + columns * wide + 1, top + rows * high + 1
    return draw.figure(shapes, words, across, down, scale=min(1.0, SMALL / across, SMALL / down))


def _lane(policy: Policy, score: HazardScore) -> Lane:
    stages: tuple[tuple[Stage, Score | None], ...] = (
        ("before", score.before),
        ("claimed", score.claimed),
        ("supported", score.supported),
    )
    spots = {stage: spot for stage, each in stages if (spot := _spot(policy, each)) is not None}
    return Lane(score.id, spots)


def _of_stages(lane: Lane, stages: tuple[Stage, Stage]) -> Lane:
    return Lane(lane.id, {stage: spot for stage, spot in lane.spots.items() if stage in stages})


def _spot(policy: Policy, score: Score | None) -> Spot | None:
    if score is None:
        return None
    column = policy.severity_rank(score.severity)
    row, reach = (policy.likelihood_rank(level) for level in score.levels)
    return Spot(column, row, reach) if min(column, row, reach) >= 0 else None


def _fits(policy: Policy, lanes: Sequence[Lane]) -> bool:
    """Whether so many lanes can stand side by side without touching."""
    counts = [len(_column(lanes, column)) for column in range(len(policy.severity))]
    needed = sum(max(NARROWEST_COLUMN, count * NARROWEST_LANE) for count in counts)
    return needed <= PAGE_WIDTH - AXIS_WIDTH


def _matrix(policy: Policy, lanes: Sequence[Lane]) -> Figure:
    columns = [_column(lanes, column) for column in range(len(policy.severity))]
    widths = _widths([len(column) for column in columns], PAGE_WIDTH - AXIS_WIDTH)
    height = HEAD_HEIGHT + ROW_HEIGHT * len(policy.likelihood.levels)
    grounds, regions = _cells(policy, widths)
    shapes = [*_axes(policy, widths), *grounds]
    lines: list[str] = []
    labels: list[str] = [*regions]
    for lane in lanes:
        centres = {stage: _centre(stage, lane, columns, widths) for stage in lane.spots}
        lines.extend(_marks(lane, centres, MARK, ROW_HEIGHT))
        points = tuple(centres.values())
        labels.append(_label(lane, points[0], above=True))
        if len(points) > 1:
            labels.append(_label(lane, points[-1], above=False))
    words = ". ".join(f"{lane.id}: {_words(policy, lane)}" for lane in lanes)
    alt = (
        f"Risk matrix, likelihood {policy.likelihood.exposure} against severity. "
        f"{' '.join(_MARKED[stage] for stage in _stages(lanes))} {words}."
    )
    wide = AXIS_WIDTH + sum(widths)
    scale = min(1.0, PAGE_WIDTH / wide, PAGE_HEIGHT / height)
    return draw.figure([*shapes, *lines, *labels], alt, wide + 1, height + 1, scale=scale)


_MARKED: Mapping[Stage, str] = MappingProxyType(
    {
        "before": "A hollow mark is the score before controls.",
        "claimed": "A filled mark is the score that is claimed.",
        "supported": "A ringed mark is the score that the evidence supports.",
    }
)


def _stages(lanes: Sequence[Lane]) -> tuple[Stage, ...]:
    return tuple(stage for stage in _MARKED if any(stage in lane.spots for lane in lanes))


def _column(lanes: Sequence[Lane], column: int) -> list[Lane]:
    """The lanes that run through a column, from most to least likely."""
    inside = [lane for lane in lanes if any(spot.column == column for spot in lane.spots.values())]
    return sorted(inside, key=lambda lane: lane.order)


def _widths(counts: Sequence[int], room: float) -> list[float]:
    """Width of each column: empty and thin ones at their narrowest, the rest shared by number of lanes."""
    widths = [max(NARROWEST_COLUMN, count * NARROWEST_LANE) for count in counts]
    wanted = [max(NARROWEST_COLUMN, count * WIDEST_LANE) for count in counts]
    spare = room - sum(widths)
    growing = [index for index in range(len(counts)) if wanted[index] > widths[index]]
    while growing and spare > 0.01:
        total = sum(counts[index] for index in growing)
        before = spare
        for index in tuple(growing):
            share = min(before * counts[index] / total, wanted[index] - widths[index])
            widths[index] += share
            spare -= share
            if wanted[index] - widths[index] < 0.01:
                growing.remove(index)
    if spare > 0:
        widths = [each + spare / len(widths) for each in widths]
    return widths


def _axes(policy: Policy, widths: Sequence[float]) -> list[str]:
    shapes = [
        draw.letters(AXIS_WIDTH, 7.5, "Severity of the harm →", 6.6, fill=draw.GREY),
        draw.letters(0, 7.5, "Likelihood ↓", 6.6, fill=draw.GREY),
    ]
    for place, words in enumerate(fit(policy.likelihood.exposure, 6.6, AXIS_WIDTH - 4, 2)):
        shapes.append(draw.letters(0, 16 + 8 * place, words, 6.6, fill=draw.GREY))
    x = AXIS_WIDTH
    for step, wide in zip(policy.severity, widths, strict=True):
        shapes.append(draw.letters(x + wide / 2, 20, step.level[:6], 9, face="sans-bold", anchor="middle"))
        word = fit(step.word, 6.2, wide - 3, 1)
        shapes.append(draw.letters(x + wide / 2, 29, word[0], 6.2, anchor="middle", fill=draw.SLATE))
        x += wide
    for row, band in enumerate(policy.likelihood.levels):
        middle = HEAD_HEIGHT + (row + 0.5) * ROW_HEIGHT
        shapes.append(draw.letters(0, middle + 3, band.level[:4], 11, face="sans-bold"))
        lines = fit(band.word, 6.4, AXIS_WIDTH - 24, 2)
        if band.above is not None:
            lines = (*lines, f"from {band.above.written[:14]}")
        for place, words in enumerate(lines):
            y = middle + 2 + (place - (len(lines) - 1) / 2) * 8
            shapes.append(draw.letters(18, y, words, 6.4, fill=draw.SLATE))
    return shapes


def _cells(policy: Policy, widths: Sequence[float]) -> tuple[list[str], list[str]]:
    """The ground of every cell, and the words on it, which are drawn over the lines of the lanes."""
    grounds: list[str] = []
    regions: list[str] = []
    for row, band in enumerate(policy.likelihood.levels):
        x, y = AXIS_WIDTH, HEAD_HEIGHT + row * ROW_HEIGHT
        for step, wide in zip(policy.severity, widths, strict=True):
            name = policy.matrix[band.level][step.level]
            rank = policy.region_rank(name)
            grounds.extend(_ground(x, y, wide, ROW_HEIGHT, rank))
            for place, words in enumerate(fit(f"{rank + 1} {name}", 5.6, wide - 4, 2, "sans-italic")):
                baseline = y + 6.6 + 6 * place
                regions.append(
                    draw.letters(x + 2.5, baseline, words, 5.6, face="sans-italic", fill=draw.SLATE, halo=1.6)
                )
            x += wide
    return grounds, regions


def _ground(x: float, y: float, wide: float, high: float, rank: int) -> list[str]:
    """A cell without marks: tint and hatching by region, thin frame."""
    shapes = []
    if rank < len(TINTS):
        step, rising = HATCHES[rank]
        shapes.append(draw.rect(x, y, wide, high, fill=TINTS[rank]))
        shapes.append(draw.hatch(x, y, wide, high, min(step, high / 2), rising=rising, line="#cfc7b8"))
    shapes.append(draw.rect(x, y, wide, high, line=draw.GREY, weight=0.4))
    return shapes


def _centre(stage: Stage, lane: Lane, columns: Sequence[Sequence[Lane]], widths: Sequence[float]) -> Point:
    """Middle of a mark. Neighbouring lanes stand at different heights, so that their labels keep apart."""
    spot = lane.spots[stage]
    column = columns[spot.column]
    index, wide = column.index(lane), widths[spot.column]
    pitch = min(wide / len(column), WIDEST_LANE)
    start = (wide - pitch * len(column)) / 2
    x = AXIS_WIDTH + sum(widths[: spot.column]) + start + (index + 0.5) * pitch
    raised = index % _steps(column, pitch) * (LABEL_SIZE + 0.4)
    earlier = stage != list(lane.spots)[-1] or len(lane.spots) == 1
    share = 0.40 if earlier else 0.58
    return x, HEAD_HEIGHT + (spot.row + share) * ROW_HEIGHT + raised


def _steps(column: Sequence[Lane], pitch: float) -> int:
    """How many heights the labels of a column need: the widest label must not reach into its own height again."""
    widest = max(width(_name(lane), LABEL_SIZE, "sans-bold") for lane in column)
    return min(int((widest + 1.0) / pitch) + 1, 3)


def _name(lane: Lane) -> str:
    return fit(lane.id, LABEL_SIZE, LABEL_ROOM, 1, "sans-bold")[0]


def _label(lane: Lane, centre: tuple[float, float], *, above: bool) -> str:
    x, y = centre
    baseline = y - MARK - 1.6 if above else y + MARK + LABEL_SIZE * 0.86
    return draw.letters(x, baseline, _name(lane), LABEL_SIZE, face="sans-bold", anchor="middle", halo=1.8)


def _marks(lane: Lane, centres: Mapping[Stage, Point], radius: float, row_height: float) -> list[str]:
    """Hollow before, filled claimed, ringed where evidence supports it; arrows between, whiskers for ranges."""
    shapes: list[str] = []
    points = tuple(centres.values())
    for start, end in itertools.pairwise(points):
        shapes.extend(_arrow(start, end, radius))
    for stage, (x, y) in centres.items():
        spot = lane.spots[stage]
        if spot.reach != spot.row:
            far = y + (spot.reach - spot.row) * row_height
            shapes.append(draw.polyline(((x, y), (x, far)), weight=0.6, dashes="1.5 1.2"))
            shapes.append(draw.polyline(((x - radius, far), (x + radius, far)), weight=0.8))
        fill = draw.WHITE if stage == "before" else draw.INK
        shapes.append(draw.circle(x, y, radius, fill=fill, weight=0.9))
        if stage == "supported":
            shapes.append(draw.circle(x, y, radius + 1.4, weight=0.6))
    return shapes


def _arrow(start: Point, end: Point, radius: float) -> list[str]:
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = (dx * dx + dy * dy) ** 0.5
    if length < 2 * radius + 2:
        return []
    ux, uy = dx / length, dy / length
    tip = (end[0] - ux * (radius + 0.4), end[1] - uy * (radius + 0.4))
    tail = (start[0] + ux * radius, start[1] + uy * radius)
    return [draw.polyline((tail, tip), weight=0.7), draw.arrowhead(*tip, dx, dy, 4.0 if radius > 2.5 else 3.0)]


def _words(policy: Policy, lane: Lane) -> str:
    """Where a hazard stands, read aloud."""
    said = []
    for stage, spot in lane.spots.items():
        severity, level = policy.severity[spot.column].level, policy.likelihood.levels[spot.row].level
        to = f" to {policy.likelihood.levels[spot.reach].level}" if spot.reach != spot.row else ""
        said.append(f"{stage} severity {severity}, likelihood {level}{to}, {policy.matrix[level][severity]}")
    return "; ".join(said) or "not scored"
