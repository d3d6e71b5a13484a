"""The signs of a fault tree: gates, what is not developed further, and the number of what is shared.

Shapes as fault trees are commonly drawn (IEC 61025, fault tree analysis; from memory), turned so that the top event
stands at the left. Every gate carries its word as well.
"""

from __future__ import annotations

from collections.abc import Sequence

from riskkit.dossier import figures as draw
from riskkit.dossier.figures import number
from riskkit.dossier.lettering import width

SMALL_SIZE = 5.6

SYMBOL = 18.0
"""Width of a gate; its height is 14."""

SMALL_SYMBOL = 10.0


def gate(x: float, y: float, kind: str, words: str) -> list[str]:
    """A gate that points to the left: round where all inputs are needed, pointed where one is, a box for k of n."""
    right, half = x + SYMBOL, 7.0
    stroke = f'fill="{draw.WHITE}" stroke="{draw.INK}" stroke-width="0.8"'
    if kind == "all":
        steps = (
            f"M{number(right)} {number(y - half)}H{number(x + half)}A{number(half)} {number(half)} 0 0 0 "
            f"{number(x + half)} {number(y + half)}H{number(right)}Z"
        )
        shape = f'<path d="{steps}" {stroke}/>'
    elif kind == "any":
        upper, lower = f"{number(right)} {number(y - half)}", f"{number(right)} {number(y + half)}"
        steps = (
            f"M{number(x)} {number(y)}Q{number(x + 6)} {number(y - half)} {upper}Q{number(right - 5)} {number(y)} "
            f"{lower}Q{number(x + 6)} {number(y + half)} {number(x)} {number(y)}Z"
        )
        shape = f'<path d="{steps}" {stroke}/>'
    else:
        shape = draw.rect(x, y - half, SYMBOL, 2 * half, fill=draw.WHITE, line=draw.INK, weight=0.8)
    middle = x + (9.3 if kind == "any" else 9.8 if kind == "all" else SYMBOL / 2)
    size = min(SMALL_SIZE, SMALL_SIZE * (SYMBOL - 2) / max(width(words, SMALL_SIZE), 1.0))
    return [shape, draw.letters(middle, y + 1.9, words, size, anchor="middle")]


def sign(x: float, y: float, kind: str) -> str:
    """The sign of what is not developed here: circle, house or triangle."""
    half = SMALL_SYMBOL / 2
    if kind == "event":
        return draw.circle(x + half, y, half, fill=draw.WHITE)
    right = x + SMALL_SYMBOL
    corners: Sequence[tuple[float, float]] = ((x, y), (right, y - half), (right, y + half))
    if kind == "house":
        corners = ((x, y + half), (right, y + half), (right, y - 1), (x + half, y - half), (x, y - 1))
    return draw.polyline(corners, weight=0.7, fill=draw.WHITE, closed=True)


def mark(right: float, top: float, shown: int) -> list[str]:
    """A small triangle and a number, in the upper right corner of a box."""
    words = str(shown)
    left = right - width(words, SMALL_SIZE, "sans-bold")
    tip = left - 3.6
    triangle = ((tip, top + 0.4), (tip + 2.6, top + 4.8), (tip - 2.6, top + 4.8))
    return [
        draw.polyline(triangle, line=draw.INK, weight=0.5, fill=draw.WHITE, closed=True),
        draw.letters(left, top + 4.8, words, SMALL_SIZE, face="sans-bold"),
    ]


def mark_width(shown: int) -> float:
    """Room that a mark takes in its corner."""
    return 7.5 + width(str(shown), SMALL_SIZE, "sans-bold")
