"""What each event of a fault tree weighs, as bars: its share of the probability, and what it would do if it were certain."""

from __future__ import annotations

import math
from collections.abc import Mapping

from riskkit.dossier import figures as draw
from riskkit.dossier.bars import FILLS, LABEL
from riskkit.dossier.figures import Figure
from riskkit.dossier.lettering import fit
from riskkit.faults.saying import say_probability, say_whole, say_worth
from riskkit.faults.sharing import by_weight
from riskkit.faults.trees import Analysis, FaultError

WIDTH = 482.0
NAMES = 150.0
VALUE = 36.0
BARS = (WIDTH - NAMES - 2 * VALUE - 12.0) / 2
ROW = 11.0
HEAD = 20.0
MOST_ROWS = 20


def importance_bars(analysis: Analysis, titles: Mapping[str, str]) -> Figure:
    """The weightiest events: Fussell-Vesely share from 0 to 1, and achievement worth on a scale of powers of ten.

    Raises:
        FaultError: where importance was not worked out.
    """
    ordered = by_weight(analysis)
    if not ordered:
        raise FaultError(
            "there is nothing to draw bars of, since the importance of no event was worked out",
            "draw them for a tree with an exact value and an event that is not settled",
        )
    rows = ordered[:MOST_ROWS]
    worths = {name: analysis.importance[name].achievement_worth for name in rows}
    finite = [worth for worth in worths.values() if math.isfinite(worth)]
    decades = max(1, math.ceil(math.log10(max([10.0, *finite])) - 1e-9))
    left, right = NAMES, NAMES + BARS + VALUE + 12.0
    bottom = HEAD + ROW * len(rows)
    shapes = [
        draw.letters(left, 7.5, "share of the probability (Fussell-Vesely)", LABEL, fill=draw.SLATE),
        draw.letters(right, 7.5, "times, were it certain (achievement worth)", LABEL, fill=draw.SLATE),
        *_scale(left, bottom, [(share, f"{share:g}") for share in (0.0, 0.5, 1.0)]),
        *_scale(right, bottom, [(step / decades, _power(step)) for step in _steps(decades)]),
    ]
    for place, name in enumerate(rows):
        weight, top = analysis.importance[name], HEAD + place * ROW
        words = fit(titles.get(name, name), LABEL, NAMES - 6, 1)[0]
        shapes.append(draw.letters(NAMES - 4, top + 7, words, LABEL, anchor="end"))
        part = min(max(weight.fussell_vesely, 0.0), 1.0)
        shapes += _bar(left, top, part, say_probability(part), FILLS[0])
        worth = weight.achievement_worth
        share = math.log10(max(worth, 1.0)) / decades if math.isfinite(worth) else 1.0
        shapes += _bar(right, top, share, say_worth(worth), FILLS[2])
    left_out = len(ordered) - len(rows)
    if left_out:
        words = f"{say_whole(left_out)} further event{'' if left_out == 1 else 's'} with less weight not drawn."
        shapes.append(draw.letters(NAMES, bottom + 8, words, LABEL, face="sans-italic", fill=draw.GREY))
    said = "; ".join(
        f"{titles.get(name, name)} {say_probability(analysis.importance[name].fussell_vesely)} and {say_worth(worths[name])}"
        for name in rows
    )
    rest = f" {say_whole(left_out)} further not drawn." if left_out else ""
    alt = f"Share of the probability (Fussell-Vesely) and achievement worth of each event: {said}.{rest}"
    return draw.figure(shapes, alt, WIDTH, bottom + (11 if left_out else 2))


def _bar(x: float, top: float, share: float, words: str, fill: str) -> list[str]:
    run = share * BARS
    shapes = [draw.rect(x, top + 1.4, run, ROW - 3.6, fill=fill, line=draw.INK, weight=0.5)] if run > 0.01 else []
    return [*shapes, draw.letters(x + run + 3, top + 7, words, LABEL, halo=1.4)]


def _scale(x: float, bottom: float, ticks: list[tuple[float, str]]) -> list[str]:
    shapes = []
    for share, words in ticks:
        place = x + share * BARS
        shapes.append(draw.polyline(((place, HEAD - 2), (place, bottom)), line=draw.LINE, weight=0.4))
        shapes.append(draw.letters(place, HEAD - 4, words, LABEL - 0.8, anchor="middle", fill=draw.GREY))
    return shapes


def _steps(decades: int) -> range:
    return range(0, decades + 1, max(1, math.ceil(decades / 5)))


def _power(step: int) -> str:
    return f"{10**step:g}" if step < 6 else f"1e{step}"
