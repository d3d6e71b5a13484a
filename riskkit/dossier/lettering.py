"""How wide words are in the shipped fonts, and how they break into lines of a given width.

Figures and the front sheet have to know this before anything is laid out. This file knows glyph
widths only; it must not know what the words say.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache, lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Literal

from riskkit import shelves

Face = Literal["sans", "sans-italic", "sans-bold", "serif", "serif-italic", "serif-bold"]

FILES: Mapping[Face, str] = MappingProxyType(
    {
        "sans": "SourceSans3_400Regular.ttf",
        "sans-italic": "SourceSans3_400Regular_Italic.ttf",
        "sans-bold": "SourceSans3_600SemiBold.ttf",
        "serif": "SourceSerif4_400Regular.ttf",
        "serif-italic": "SourceSerif4_400Regular_Italic.ttf",
        "serif-bold": "SourceSerif4_600SemiBold.ttf",
    }
)

UNKNOWN_WIDTH = 1.0
"""Em widths taken for a character that the font lacks; wide enough for ideographs."""


def font_path(face: Face) -> Path:
    """The font file of a face."""
    return shelves.data_dir("templates") / "fonts" / FILES[face]


@cache
def _widths(face: Face) -> dict[int, float]:
    """Advance width of every character of a face, in em."""
    from fontTools.ttLib import TTFont

    with TTFont(font_path(face), lazy=True) as font:
        em = font["head"].unitsPerEm
        advances = font["hmtx"].metrics
        return {code: advances[name][0] / em for code, name in font.getBestCmap().items()}


def width(words: str, size: float, face: Face = "sans") -> float:
    """Width of a run of text without kerning, in the unit of `size`."""
    return size * _ems(words, face)


@lru_cache(maxsize=50_000)
def _ems(words: str, face: Face) -> float:
    """Width in em; the same words are measured many times while a sheet is filled."""
    widths = _widths(face)
    return sum(widths.get(ord(letter), UNKNOWN_WIDTH) for letter in words)


def wrap(words: str, size: float, room: float, face: Face = "sans") -> tuple[str, ...]:
    """Break text into lines no wider than `room`; a word that is too long for a line is cut into pieces."""
    lines: list[str] = []
    line = ""
    for word in words.split():
        longer = f"{line} {word}" if line else word
        if width(longer, size, face) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        *full, line = _pieces(word, size, room, face)
        lines.extend(full)
    if line:
        lines.append(line)
    return tuple(lines)


def _pieces(word: str, size: float, room: float, face: Face) -> list[str]:
    """A word cut where it would leave the line; each piece holds at least one character."""
    pieces, piece = [], ""
    for letter in word:
        if piece and width(piece + letter, size, face) > room:
            pieces.append(piece)
            piece = ""
        piece += letter
    return [*pieces, piece]


def fit(words: str, size: float, room: float, lines: int, face: Face = "sans") -> tuple[str, ...]:
    """Break text into at most `lines` lines; what does not fit is replaced by an ellipsis."""
    broken = wrap(words, size, room, face)
    if len(broken) <= lines:
        return broken
    last = broken[lines - 1]
    while last and width(f"{last} …", size, face) > room:
        last = last[:-1].rstrip()
    return (*broken[: lines - 1], f"{last} …".strip())
