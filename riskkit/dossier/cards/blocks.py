"""What a card is made of before it is cut to paper: texts, and questions with boxes. Plain values, already worded."""

from __future__ import annotations

from dataclasses import dataclass

WORDS_LINES = 2
"""Lines of a box for words."""


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph; it may go on on the next card.

    Attributes:
        words: What it says.
        style: Name of a style of the format.
        marker: Number or sign in front of it.
        frame: Neighbours of one frame are printed inside one border: `stop`, `fault` or none.
    """

    words: str
    style: str = "plain"
    marker: str = ""
    frame: str = ""


@dataclass(frozen=True, slots=True)
class Box:
    """Room to write: `unit` stands inside it, `caption` in its corner; `tick` is a small one beside its words."""

    unit: str = ""
    caption: str = ""
    tick: bool = False


@dataclass(frozen=True, slots=True)
class Field:
    """A question with its boxes; it is never cut in two.

    Attributes:
        label: The question.
        boxes: Where the answer is written.
        number: Its place in the order of typing; empty where it is not typed in.
        across: Boxes in a row; 0 for one box beside the question.
        lines: Height of the boxes, in lines of writing.
        short: Whether its answer is a few letters, so that two of them may share a row.
    """

    label: str
    boxes: tuple[Box, ...] = (Box(),)
    number: str = ""
    across: int = 0
    lines: int = 1
    short: bool = False


Block = Text | Field


@dataclass(frozen=True, slots=True)
class Draft:
    """One card before it is known how many pieces of paper it takes.

    Attributes:
        key: Unique in the paper; the place that links and bookmarks lead to.
        code: In large letters at the top: of a test card what `record` checks, or else an id or what the card is for.
        kind: What sort of card it is.
        title: What it is about, no longer than a few lines.
        blocks: What stands on it, in order.
        again: Said first on every further card of it: when to stop.
        typed: The command that takes it in, at the bottom; empty where there is none.
        foot: Small words at the bottom of every card of it.
    """

    key: str
    code: str
    kind: str
    title: str
    blocks: tuple[Block, ...]
    again: str = ""
    typed: str = ""
    foot: str = ""
