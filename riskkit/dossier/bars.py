"""Bars: an alarm's chain of delays against the time a person has, and what each input does to an answer."""

from __future__ import annotations

from collections.abc import Sequence

from riskkit.dossier import figures as draw
from riskkit.dossier.figures import Figure
from riskkit.dossier.lettering import fit, width

WIDTH = 482.0
LABEL = 6.4
FILLS = ("#2f4858", "#ffffff", "#a9a498", "#e6dfd2", "#6d7478")
"""Neighbouring steps differ in lightness, so that a grey print still separates them."""


def alarm_bar(
    name: str, steps: Sequence[tuple[str, float]], limit: float | None, limit_words: str, *, wide: float = WIDTH
) -> Figure:
    """Delays of an alarm, one box per step, and a mark at the time to harm.

    Args:
        name: What the bar belongs to, such as "H01, C01"; used in the alternative text.
        steps: Name and length of each delay [s], in order.
        limit: Time until harm [s], or None where it is not stated.
        limit_words: What stands at the mark.
        wide: Width of the figure [pt].
    """
    total = sum(length for _, length in steps)
    longest = max(total, limit or 0.0) or 1.0
    unit = (wide - 66) / longest
    top, high = (15.0, 15.0) if limit is not None else (2.0, 10.0)
    shapes: list[str] = []
    x = 0.5
    for place, (step, length) in enumerate(steps):
        run = length * unit
        fill = FILLS[place % len(FILLS)]
        shapes.append(draw.rect(x, top, run, high, fill=fill, line=draw.INK, weight=0.5))
        shapes.extend(_step_words(step, length, x, run, top + high + 7.5))
        x += run
    shapes.append(
        draw.letters(
            x + 4, top + high / 2 + 3, f"{_seconds(total)} s", 8.5 if limit is not None else 7.4, face="sans-bold"
        )
    )
    if limit is not None:
        shapes.extend(_mark(0.5 + limit * unit, top, high, f"{_seconds(limit)} s  {limit_words}", wide))
    said = ", ".join(f"{step} {_seconds(length)} s" for step, length in steps)
    against = f" against {_seconds(limit)} s, {limit_words}" if limit is not None else "; time to harm not stated"
    return draw.figure(shapes, f"{name}: {said}; together {_seconds(total)} s{against}.", wide, top + high + 11)


def _step_words(step: str, length: float, x: float, run: float, baseline: float) -> list[str]:
    """Name and length below the box; a box too narrow for both keeps what fits."""
    for words in (f"{step} {_seconds(length)}", _seconds(length)):
        if width(words, LABEL) <= run + 1:
            return [draw.letters(x + run / 2, baseline, words, LABEL, anchor="middle", fill=draw.SLATE)]
    return []


def _mark(x: float, top: float, high: float, words: str, wide: float) -> list[str]:
    """A heavy line across the bar; its words stand on the side with more room."""
    line = draw.polyline(((x, 3.0), (x, top + high + 3.0)), weight=1.8)
    if x > wide / 2:
        line_words = fit(words, 7.4, x - 6, 1, "sans-bold")[0]
        return [line, draw.letters(x - 4, 10.0, line_words, 7.4, face="sans-bold", anchor="end")]
    return [line, draw.letters(x + 4, 10.0, fit(words, 7.4, wide - x - 6, 1, "sans-bold")[0], 7.4, face="sans-bold")]


def _seconds(value: float) -> str:
    return f"{value:.1f}".rstrip("0").rstrip(".") if value < 10 else f"{value:.0f}"


ROW = 11.0
NAMES = 120.0
BARS = 210.0


def share_bars(what: str, effects: Sequence[tuple[str, float]]) -> Figure:
    """What each input does to an answer: a bar to the right where it grows with it, to the left where it falls.

    Args:
        what: What is shown, as the beginning of the alternative text.
        effects: Input and effect, the strongest first.
    """
    largest = max(abs(effect) for _, effect in effects)
    middle = NAMES + BARS / 2
    shapes: list[str] = [draw.polyline(((middle, 0), (middle, ROW * len(effects) + 1)), line=draw.GREY, weight=0.5)]
    for place, (name, effect) in enumerate(effects):
        top = 1 + place * ROW
        run = abs(effect) / largest * BARS / 2 * 0.86
        left = middle if effect > 0 else middle - run
        fill = FILLS[0] if effect > 0 else FILLS[1]
        shapes.append(draw.rect(left, top + 1.2, run, ROW - 3.4, fill=fill, line=draw.INK, weight=0.5))
        shapes.append(draw.letters(NAMES - 4, top + 7, fit(name, LABEL, NAMES - 6, 1)[0], LABEL, anchor="end"))
        shapes.append(draw.letters(NAMES + BARS + 6, top + 7, f"{effect:+.2g} %".replace("-", "\u2212"), LABEL))
    said = ", ".join(f"{name} {effect:+.2g} %" for name, effect in effects)
    return draw.figure(shapes, f"{what} {said}.", NAMES + BARS + 44, ROW * len(effects) + 2)
