"""What one laid-out part says about itself."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Laid:
    """Pages of one part, and what stands on them.

    Attributes:
        pages: Number of pages.
        anchors: (id, page in the part counted from 0).
        bookmarks: (level, label, page in the part, x, y in CSS pixels from the top left).
        refused: Addresses that were asked for and not fetched.
        warnings: What the layout engine complained about.
    """

    pages: int
    anchors: tuple[tuple[str, int], ...]
    bookmarks: tuple[tuple[int, str, int, float, float], ...]
    refused: tuple[str, ...]
    warnings: tuple[str, ...]
