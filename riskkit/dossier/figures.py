"""A figure is SVG text with an alternative text; lines, boxes, letters and hatching are drawn here.

Figures are pure functions of their values: the same values give the same bytes. One unit is one
point (1/72 inch). Nothing here knows what a figure means; the files that do are matrix.py,
chains.py and bars.py.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from html import escape
from types import MappingProxyType
from typing import Literal

from riskkit.dossier.lettering import Face

INK = "#1c2126"
SLATE = "#2f4858"
GREY = "#6d7478"
LINE = "#b5b0a6"
SAND = "#f1ede4"
RUST = "#8c3a1d"
WHITE = "#ffffff"

FAMILY = "Dossier Sans, DejaVu Sans, sans-serif"
_STYLES: Mapping[Face, str] = MappingProxyType(
    {
        "sans": "",
        "sans-bold": ' font-weight="600"',
        "sans-italic": ' font-style="italic"',
        "serif": "",
        "serif-bold": ' font-weight="600"',
        "serif-italic": ' font-style="italic"',
    }
)


@dataclass(frozen=True, slots=True)
class Figure:
    """A drawing: SVG text, what it shows in words, and its size in points."""

    svg: str
    alt: str
    width: float
    height: float


def figure(shapes: Iterable[str], alt: str, width: float, height: float, *, scale: float = 1.0) -> Figure:
    """Put shapes into one SVG of the given size; `scale` shrinks the whole drawing on paper.

    The alternative text is the SVG's title, which is where WeasyPrint looks for it when it tags a PDF.
    """
    wide, high = width * scale, height * scale
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" width="{number(wide)}pt" height="{number(high)}pt" '
        f'viewBox="0 0 {number(width)} {number(height)}" font-family="{FAMILY}">'
        f"<title>{plain(alt)}</title>{''.join(shapes)}</svg>"
    )
    return Figure(svg, alt, wide, high)


def plain(words: str) -> str:
    """Text that may stand inside SVG: no markup, no control characters, no direction overrides."""
    return escape("".join(letter for letter in words if letter.isprintable() or letter == " "), quote=True)


def number(value: float) -> str:
    """A coordinate with two digits at most, never `-0`."""
    written = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if written == "-0" else written


def rect(
    x: float,
    y: float,
    width: float,
    height: float,
    *,
    fill: str = "none",
    line: str = "none",
    weight: float = 0.5,
    round: float = 0,
    dashes: str = "",
) -> str:
    """A box; `round` is the radius of its corners, `dashes` such as `2 1.5`."""
    corner = f' rx="{number(round)}" ry="{number(round)}"' if round else ""
    return (
        f'<rect x="{number(x)}" y="{number(y)}" width="{number(width)}" height="{number(height)}"{corner} '
        f'fill="{fill}"{_stroke(line, weight, dashes)}/>'
    )


def polyline(
    points: Iterable[tuple[float, float]],
    *,
    line: str = INK,
    weight: float = 0.5,
    fill: str = "none",
    closed: bool = False,
    dashes: str = "",
) -> str:
    """Straight lines through points."""
    steps = "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return f'<path d="M{steps}{"Z" if closed else ""}" fill="{fill}"{_stroke(line, weight, dashes)}/>'


def circle(x: float, y: float, radius: float, *, fill: str = "none", line: str = INK, weight: float = 0.7) -> str:
    """A circle round a point."""
    return f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}" fill="{fill}"{_stroke(line, weight, "")}/>'


def letters(
    x: float,
    y: float,
    words: str,
    size: float,
    *,
    face: Face = "sans",
    fill: str = INK,
    anchor: Literal["start", "middle", "end"] = "start",
    halo: float = 0,
    turned: bool = False,
) -> str:
    """A line of text with its baseline at `y`; `halo` draws white round it, `turned` reads upwards."""
    turn = f' transform="rotate(-90 {number(x)} {number(y)})"' if turned else ""
    start = (
        f'<text x="{number(x)}" y="{number(y)}" font-size="{number(size)}" text-anchor="{anchor}"{_STYLES[face]}{turn}'
    )
    text = plain(words)
    under = f'{start} fill="{WHITE}" stroke="{WHITE}" stroke-width="{number(halo)}">{text}</text>' if halo else ""
    return f'{under}{start} fill="{fill}">{text}</text>'


def arrowhead(x: float, y: float, dx: float, dy: float, size: float, *, fill: str = INK) -> str:
    """A filled arrowhead whose tip is at (x, y), pointing along (dx, dy)."""
    length = (dx * dx + dy * dy) ** 0.5 or 1.0
    ux, uy = dx / length, dy / length
    back_x, back_y = x - ux * size, y - uy * size
    half = size * 0.38
    corners = ((x, y), (back_x - uy * half, back_y + ux * half), (back_x + uy * half, back_y - ux * half))
    return polyline(corners, line="none", fill=fill, closed=True)


def hatch(
    x: float,
    y: float,
    width: float,
    height: float,
    step: float,
    *,
    rising: bool = True,
    line: str = LINE,
    weight: float = 0.35,
) -> str:
    """Parallel lines at 45 degrees inside a box, `step` apart along the upper edge; one path, no clipping."""
    strokes = []
    offset = step
    while offset < width + height:
        start = (min(offset, width), max(offset - width, 0.0))
        end = (max(offset - height, 0.0), min(offset, height))
        if not rising:
            start, end = (width - start[0], start[1]), (width - end[0], end[1])
        strokes.append(f"M{number(x + start[0])} {number(y + start[1])}L{number(x + end[0])} {number(y + end[1])}")
        offset += step
    return f'<path d="{"".join(strokes)}" fill="none"{_stroke(line, weight, "")}/>'


def _stroke(line: str, weight: float, dashes: str) -> str:
    if line == "none":
        return ""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return f' stroke="{line}" stroke-width="{number(weight)}"{dashed}'
