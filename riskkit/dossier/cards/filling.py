"""Drafts become cards: what does not fit goes on to a second card of the same code; type is never made smaller."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, zip_longest

from riskkit.dossier.cards.blocks import Block, Box, Draft, Field, Text
from riskkit.dossier.cards.formats import FRAME_AFTER, FRAME_BORDER, FRAME_PAD, FRAME_SIDES, MM, Format, Style

MOST_LABEL_LINES = 5
"""A longer question is set as a text of its own, which can go on on the next card."""

MOST_CAPTION_LINES = 2
HEADINGS = ("heading", "stop")
LONGEST_CORNER = 2
MOST_TICK_LINES = 3
LABEL_AFTER, BOX_PAD, TICK_APART = 1.5, 3.0, 2 * MM
CAPTION_SHARE = 0.8
"""Share of a caption's height by which its box grows: handwriting may touch the caption, not cover it."""

RULE = 4.0
"""Height of a line and the room around it, below the head and above the foot of a card."""


@dataclass(frozen=True, slots=True)
class Row:
    """Boxes that stand beside each other, each with its left edge and width; `top` counts from the top of the question."""

    boxes: tuple[tuple[Box, float, float], ...]
    top: float
    height: float


@dataclass(frozen=True, slots=True)
class Piece:
    """A block as it is set on one card: a text, or a question with the place of its label and its rows."""

    block: Block
    height: float
    label_left: float = 0.0
    label_width: float = 0.0
    label_height: float = 0.0
    rows: tuple[Row, ...] = ()


@dataclass(frozen=True, slots=True)
class Card:
    """One piece of paper of a draft; `groups` are pieces by the frame they stand in."""

    draft: Draft
    number: int
    of: int
    groups: tuple[tuple[str, tuple[Piece, ...]], ...]


def fill(draft: Draft, format: Format) -> tuple[Card, ...]:
    """The cards of a draft: as few as there can be without a smaller letter or a box lower than one line."""
    sheets = list(_cut(draft, format))
    for slimmer in _slimmer(draft):
        fewer = list(_cut(slimmer, format))
        if len(fewer) < len(sheets):
            sheets = fewer
            break
    return tuple(
        Card(draft, number, len(sheets), tuple((frame, tuple(inside)) for frame, inside in groupby(pieces, _frame_of)))
        for number, pieces in enumerate(sheets, start=1)
    )


def _slimmer(draft: Draft) -> Iterator[Draft]:
    """The draft with one line in its last box for words, in its last two, and so on."""
    blocks = list(draft.blocks)
    for place in reversed(range(len(blocks))):
        block = blocks[place]
        if isinstance(block, Field) and block.lines > 1:
            blocks[place] = replace(block, lines=1)
            yield replace(draft, blocks=tuple(blocks))


def _frame_of(piece: Piece) -> str:
    return piece.block.frame if isinstance(piece.block, Text) else ""


def _cut(draft: Draft, format: Format) -> Iterator[list[Piece]]:
    filling = _Filling(draft, format)
    blocks = [part for block in _paired(draft.blocks, format) for part in _short_enough(block, format)]
    for block, following in zip_longest(blocks, blocks[1:]):
        yield from filling.put(block, following)
    yield filling.pieces


class _Filling:
    """The card that is being filled; thrown away afterwards."""

    def __init__(self, draft: Draft, format: Format) -> None:
        self.draft, self.format = draft, format
        self.pieces: list[Piece] = []
        self.left = format.room[1] - head_height(draft, format, first=True) - foot_height(draft, format)
        self.empty = True

    def put(self, block: Block, following: Block | None) -> Iterator[list[Piece]]:
        """Place a block; yields every card that is full. A heading goes with what follows it."""
        if isinstance(block, Field):
            piece = set_field(block, self.format)
            if piece.height > self.left and not self.empty:
                yield self._turn()
            while piece.height > self.left and len(piece.rows) > 1:  # more boxes than one card holds
                first, block = _cut_field(block, piece, self.left)
                first_piece = set_field(first, self.format)
                self._place(first_piece, first_piece.height)
                yield self._turn()
                piece = set_field(block, self.format)
            self._place(piece, piece.height)
            return
        style = self.format.styles[block.style]
        lines = style.lines(block.words, text_width(block, self.format))
        while lines:
            extra = self._frame_extra(block)
            fitting = int((self.left - extra - style.after + 0.01) // style.leading)
            least = len(lines) if block.style in HEADINGS else min(2, len(lines))
            needed = extra + least * style.leading
            if block.style in HEADINGS and following is not None:
                needed += style.after + self._least_of(following)
            if (fitting < least or needed > self.left) and not self.empty:
                yield self._turn()
                continue
            taken = lines[: max(1, fitting)]
            words = " ".join(taken)
            self._place(
                Piece(replace(block, words=words), len(taken) * style.leading + style.after),
                extra + len(taken) * style.leading + style.after,
            )
            lines = lines[len(taken) :]
            block = replace(block, marker="")

    def _least_of(self, block: Block) -> float:
        """Height that the beginning of a block takes."""
        if isinstance(block, Field):
            return set_field(block, self.format).height
        return 2 * self.format.styles[block.style].leading

    def _frame_extra(self, block: Text) -> float:
        if not block.frame or (self.pieces and _frame_of(self.pieces[-1]) == block.frame):
            return 0.0
        return 2 * (FRAME_PAD + FRAME_BORDER) + FRAME_AFTER

    def _place(self, piece: Piece, height: float) -> None:
        self.pieces.append(piece)
        self.left -= height
        self.empty = False

    def _turn(self) -> list[Piece]:
        full = self.pieces
        self.pieces = []
        self.left = self.format.room[1] - head_height(self.draft, self.format, first=False)
        self.left -= foot_height(self.draft, self.format)
        self.empty = True
        return full


# -- heights ------------------------------------------------------------------------------------------


def text_width(block: Text, format: Format) -> float:
    """Width of the column of a text."""
    return format.room[0] - (FRAME_SIDES if block.frame else 0.0)


def head_height(draft: Draft, format: Format, *, first: bool) -> float:
    """Height of the head of a card: code and kind, title, and on further cards when to stop."""
    styles, width = format.styles, format.room[0]
    height = max(styles["code"].leading, 2 * styles["kind"].leading) + RULE
    height += _height(styles["title"], draft.title, width)
    if not first and draft.again:
        height += (
            _height(styles["strong"], draft.again, width - FRAME_SIDES) + 2 * (FRAME_PAD + FRAME_BORDER) + FRAME_AFTER
        )
    return height


def foot_height(draft: Draft, format: Format) -> float:
    """Height of the foot of a card."""
    styles, width = format.styles, format.room[0]
    height = _height(styles["foot"], draft.foot, width) + RULE
    return height + (_height(styles["type"], draft.typed, width) if draft.typed else 0.0)


def _height(style: Style, words: str, width: float) -> float:
    return len(style.lines(words, width)) * style.leading + style.after


def _paired(blocks: Sequence[Block], format: Format) -> Iterator[Block]:
    """Two short questions that follow each other share a row, each with its question inside its box.

    For the left hand every box stays at the left edge, and none is paired.
    """
    waiting: Field | None = None
    for block in blocks:
        short = isinstance(block, Field) and _as_box(block, format) is not None and not format.left_handed
        if waiting is not None and short and isinstance(block, Field):
            boxes = tuple(box for each in (waiting, block) if (box := _as_box(each, format)) is not None)
            yield Field("", boxes, across=2)
            waiting = None
            continue
        if waiting is not None:
            yield waiting
        waiting = block if short and isinstance(block, Field) else None
        if waiting is None:
            yield block
    if waiting is not None:
        yield waiting


def _as_box(field: Field, format: Format) -> Box | None:
    """A short question as a box that says what it asks; None where it takes more than two lines of half a card."""
    if not field.short or len(field.boxes) != 1:
        return None
    caption = f"{field.number}  {field.label}" if field.number else field.label
    room = (format.room[0] - format.gap) / 2 - 2 * BOX_PAD
    lines = format.styles["caption"].lines(caption, room)
    return replace(field.boxes[0], caption=caption) if len(lines) <= MOST_CAPTION_LINES else None


# -- questions ----------------------------------------------------------------------------------------


def _short_enough(block: Block, format: Format) -> Iterator[Block]:
    """A question with a very long label becomes a text and boxes below it."""
    if isinstance(block, Text) or not block.label:
        yield block
        return
    column = format.room[0] if block.across else format.beside
    if len(format.styles[style_of(block)].lines(block.label, column)) <= MOST_LABEL_LINES:
        yield block
    elif (
        not block.across and len(format.styles[style_of(block)].lines(block.label, format.room[0])) <= MOST_LABEL_LINES
    ):
        yield replace(block, across=1)
    else:
        yield Text(block.label, "label" if block.number else "ask", block.number)
        yield replace(block, label="", number="", across=block.across or 1)


def style_of(field: Field) -> str:
    """Style of a question: without a number it needs no room in front for one."""
    return "label" if field.number else "ask"


def set_field(field: Field, format: Format) -> Piece:
    """Places and heights of a question and its boxes."""
    width, style = format.room[0], format.styles[style_of(field)]
    beside = not field.across
    label_width = format.beside if beside else width
    label_height = len(style.lines(field.label, label_width)) * style.leading if field.label else 0.0
    if beside:
        apart = 2 * MM
        left = 0.0 if format.left_handed else label_width + apart
        rows = _rows(field, (left, width - label_width - apart), 0.0, format)
        label_left = width - label_width if format.left_handed else 0.0
    else:
        rows = _rows(field, (0.0, width), label_height + LABEL_AFTER if field.label else 0.0, format)
        label_left = 0.0
    height = max(label_height, rows[-1].top + rows[-1].height) + format.gap
    return Piece(field, height, label_left, label_width, label_height, rows)


def _cut_field(field: Field, piece: Piece, left: float) -> tuple[Field, Field]:
    """A question as far as its rows fit into what is left, one row at least, and the boxes that go on."""
    fitting = max(1, sum(row.top + row.height <= left for row in piece.rows[:-1]))
    boxes = sum(len(row.boxes) for row in piece.rows[:fitting])
    return replace(field, boxes=field.boxes[:boxes]), replace(
        field, boxes=field.boxes[boxes:], label=f"{field.label}, going on" if field.label else ""
    )


def _rows(field: Field, column: tuple[float, float], top: float, format: Format) -> tuple[Row, ...]:
    """The rows of boxes in a column, given by its left edge and its width."""
    left, width = column
    across = _as_many_as_fit(field.boxes, width, field.across or 1, format)
    each = (width - (across - 1) * format.gap) / across
    rows: list[Row] = []
    for start in range(0, len(field.boxes), across):
        inside = field.boxes[start : start + across]
        placed = tuple((box, left + place * (each + format.gap), each) for place, box in enumerate(inside))
        rows.append(Row(placed, top, _row_height(inside, each, field.lines, format)))
        top += rows[-1].height + format.gap
    return tuple(rows)


def _row_height(boxes: Sequence[Box], each: float, lines: int, format: Format) -> float:
    caption = format.styles["caption"]
    if boxes[0].tick:
        words = max(len(caption.lines(box.caption, each - format.tick - TICK_APART)) for box in boxes)
        return max(format.tick, words * caption.leading)
    above = max(len(caption.lines(box.caption, each - 2 * BOX_PAD)) if _is_above(box) else 0 for box in boxes)
    if not above:
        return format.box * lines
    return format.least_box * lines + above * caption.leading * CAPTION_SHARE


def _is_above(box: Box) -> bool:
    """Whether a caption takes room of its own; the number of a run stands in the corner, out of the way."""
    return len(box.caption) > LONGEST_CORNER


def _as_many_as_fit(boxes: Sequence[Box], width: float, across: int, format: Format) -> int:
    """Fewer boxes in a row where units leave less than two thirds of a box to write in, or words of a tick run on."""
    style, caption = format.styles["plain"], format.styles["caption"]
    while across > 1:
        each = (width - (across - 1) * format.gap) / across
        words = each - format.tick - TICK_APART
        if all(
            len(caption.lines(box.caption, words)) <= MOST_TICK_LINES
            if box.tick
            else style.lines(box.unit, each / 3) == (box.unit,)
            for box in boxes
        ):
            break
        across -= 1
    return across
