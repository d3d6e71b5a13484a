"""Paper, cards and type: how large everything on a card is. Lengths in points; knows nothing of what cards say.

Four cards to a sheet, or two in large print. A card is cut out along the middle of the sheet, so nothing is printed
nearer than `CUT` to a cut, nor nearer than `EDGE` to the edge of the paper, where printers leave off.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from riskkit.dossier.lettering import Face, wrap

MM = 72 / 25.4
EDGE, CUT = 9 * MM, 5.5 * MM
"""Blank strips along the edge of the paper and along a cut."""

LEAST_BOX = 8 * MM
"""Nobody writes with gloves in a box lower than this."""

SHEETS: Mapping[str, tuple[float, float]] = MappingProxyType({"a4": (210 * MM, 297 * MM), "letter": (612.0, 792.0)})
"""Width and height of the papers, upright."""

FRAME_PAD, FRAME_BORDER, FRAME_BAR, FRAME_AFTER = 4.0, 1.6, 5.0, 5.0
"""Frame of a warning: room inside, thickness, thickness at its left, room below it."""

FRAME_SIDES = 2 * FRAME_PAD + FRAME_BORDER + FRAME_BAR
"""Width that a frame takes from what stands in it."""

KERNING = 0.97
"""Share of a line that measured words may take; the rest is kept for what kerning adds."""


@dataclass(frozen=True, slots=True)
class Style:
    """How a kind of text is set; `after` is the room below it, `indent` the room for a number in front."""

    face: Face
    size: float
    leading: float
    after: float = 2.0
    indent: float = 0.0

    def lines(self, words: str, room: float) -> tuple[str, ...]:
        """The lines that words take in a column, one at least."""
        return wrap(words, self.size, (room - self.indent) * KERNING, self.face) or ("",)


def _styles(scale: float, least: float) -> Mapping[str, Style]:
    def style(face: Face, size: float, leading: float, after: float = 2.0, indent: float = 0.0) -> Style:
        set_in = max(least, size * scale)
        return Style(face, round(set_in, 2), round(set_in * leading, 2), after * scale, indent * scale)

    return MappingProxyType(
        {
            "plain": style("sans", 9.4, 1.22),
            "step": style("sans", 9.8, 1.22, 2.4, 13),
            "item": style("sans", 9.4, 1.2, 1.2, 8),
            "strong": style("sans-bold", 9.6, 1.22),
            "stop": style("sans-bold", 12.5, 1.2, 1.5),
            "big": style("sans-bold", 16, 1.15, 2),
            "heading": style("sans-bold", 9.8, 1.25, 3),
            "note": style("sans", 8, 1.22, 2),
            "label": style("sans", 8.8, 1.18, 0, 13),
            "ask": style("sans", 8.8, 1.18, 0),
            "caption": style("sans", 8, 1.15, 0),
            "title": style("sans-bold", 12, 1.16, 3),
            "code": style("sans-bold", 22, 1.05, 0),
            "kind": style("sans-bold", 8, 1.2, 0),
            "foot": style("sans", 7.4, 1.25, 0),
            "type": style("sans-bold", 9.4, 1.3, 0),
        }
    )


@dataclass(frozen=True)
class Format:
    """A paper with its cards.

    Attributes:
        page: `a4` or `letter`.
        large: Two cards to a sheet, no letter smaller than 14 pt.
        left_handed: Boxes at the left edge, so that the hand does not lie on the question.
    """

    page: str = "a4"
    large: bool = False
    left_handed: bool = False

    @property
    def sheet(self) -> tuple[float, float]:
        """Width and height; large cards stand side by side on a sheet that lies."""
        width, height = SHEETS[self.page]
        return (height, width) if self.large else (width, height)

    @property
    def grid(self) -> tuple[int, int]:
        """Cards across and down."""
        return (2, 1) if self.large else (2, 2)

    @property
    def per_sheet(self) -> int:
        """Cards on a sheet."""
        return self.grid[0] * self.grid[1]

    @property
    def card(self) -> tuple[float, float]:
        """Width and height of a card when it is cut out."""
        return self.sheet[0] / self.grid[0], self.sheet[1] / self.grid[1]

    @property
    def room(self) -> tuple[float, float]:
        """Width and height that may be printed on a card."""
        vertical = EDGE + (CUT if self.grid[1] > 1 else EDGE)
        return self.card[0] - EDGE - CUT, self.card[1] - vertical

    def corner(self, place: int) -> tuple[float, float]:
        """Left and top of what may be printed on a card, by its place on the sheet."""
        column, row = place % self.grid[0], place // self.grid[0]
        return column * self.card[0] + (CUT if column else EDGE), row * self.card[1] + (CUT if row else EDGE)

    @property
    def styles(self) -> Mapping[str, Style]:
        """Kind of text -> how it is set."""
        return _LARGE if self.large else _USUAL

    @property
    def box(self) -> float:
        """Height of a writing box."""
        return 12 * MM if self.large else 9 * MM

    @property
    def least_box(self) -> float:
        """Height that is left for writing below a caption."""
        return 11 * MM if self.large else LEAST_BOX

    @property
    def tick(self) -> float:
        """Side of a box for a cross."""
        return 9 * MM if self.large else LEAST_BOX

    @property
    def gap(self) -> float:
        """Room between boxes and below a question."""
        return 2 * MM if self.large else 1.5 * MM

    @property
    def beside(self) -> float:
        """Width of the question where its box stands beside it."""
        return self.room[0] * 0.45


_USUAL, _LARGE = _styles(1.0, 0.0), _styles(1.55, 14.0)
