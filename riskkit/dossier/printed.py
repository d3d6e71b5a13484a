"""The values that go into printing and come out of it. Knows nothing of how it is done."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Head:
    """What all parts share: style sheets as text, language, and what the file says about itself."""

    stylesheets: tuple[str, ...]
    title: str
    language: str = "en"
    author: str = ""
    description: str = ""


@dataclass(frozen=True)
class Part:
    """A piece of the paper that begins on a new page: the inside of `<body>`."""

    html: str
    title: str = ""


@dataclass(frozen=True)
class Attachment:
    """A file carried inside the PDF."""

    name: str
    content: bytes
    description: str = ""
    media_type: str = "application/octet-stream"


@dataclass(frozen=True)
class Paper:
    """A finished paper.

    Attributes:
        pdf: The file.
        pages: Number of pages.
        anchors: Id -> page, counted from 1.
        refusals: Addresses that the text asked for and that were not fetched.
        warnings: What the layout engine complained about; empty for our own templates.
    """

    pdf: bytes = field(repr=False)
    pages: int
    anchors: Mapping[str, int]
    refusals: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


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
