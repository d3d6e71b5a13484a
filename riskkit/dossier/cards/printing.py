"""Cards become a paper: which ones, on which sheets, as HTML, as PDF."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit import shelves
from riskkit.dossier.cards.blocks import Draft
from riskkit.dossier.cards.filling import Card, fill
from riskkit.dossier.cards.formats import FRAME_AFTER, FRAME_BAR, FRAME_BORDER, FRAME_PAD, MM, Format
from riskkit.dossier.paper import print_paper
from riskkit.dossier.printed import Head, Paper, Part
from riskkit.dossier.refusing import refuse_claims_in
from riskkit.dossier.sections import coded, wrapped
from riskkit.dossier.view.telling import Teller
from riskkit.model.register import Register

if TYPE_CHECKING:
    from jinja2.sandbox import SandboxedEnvironment

LONGEST_REVISION = 24
"""Characters of a revision or build at the bottom of a card."""

SHEETS_IN_A_PART = 8
"""Sheets that one worker lays out."""


def print_cards(
    drafts: Sequence[Draft],
    format: Format,
    name: str,
    *,
    on_progress: Callable[[int, int, str], None] | None = None,
) -> tuple[Paper, int]:
    """Print cards, and say how many they are.

    Args:
        drafts: The cards, in order.
        format: Paper and size.
        name: Name of the device, for the title of the file.
        on_progress: Called with (done, total, words).

    Raises:
        RiskkitError: where a card would claim what nothing here can show, or Pango is missing.
    """
    cards = tuple(card for draft in drafts for card in fill(draft, format))
    sheets = sheets_of(cards, format)
    parts = []
    for start in range(0, len(sheets), SHEETS_IN_A_PART):
        html = sheets_html(sheets[start : start + SHEETS_IN_A_PART], format)
        refuse_claims_in(html, "a card")
        parts.append(Part(html, "cards"))
    head = Head(
        stylesheets=(card_style(), format_style(format, alone=True)),
        title=f"{name}: cards for the bench",
        description="Cards for tests on the bench. Experimental device, not for use on a person.",
    )
    paper = print_paper(head, parts, on_progress=on_progress, font_folder=shelves.data_dir("templates") / "fonts")
    return paper, len(cards)


def foot_of(register: Register, build: str, today: datetime.date, tell: Teller) -> str:
    """Revision, build and day, as they stand at the bottom of every card."""
    stated = register.device.revision if register.device is not None else None
    revision = tell(stated or "not stated", "device")
    short = revision if len(revision) <= LONGEST_REVISION else f"{revision[:LONGEST_REVISION]}…"
    return f"Revision {short}, build {build[:LONGEST_REVISION]}, {today}."


def sheets_of(cards: Sequence[Card], format: Format) -> tuple[tuple[Card, ...], ...]:
    """Cards by sheet."""
    each = format.per_sheet
    return tuple(tuple(cards[start : start + each]) for start in range(0, len(cards), each))


def sheets_html(sheets: Sequence[Sequence[Card]], format: Format, *, level: int = 1, line: str = "") -> str:
    """The HTML of sheets of cards.

    Args:
        sheets: Cards by sheet.
        format: Paper and size.
        level: Level of a card's heading and of its bookmark.
        line: Printed at the bottom of each sheet, outside the cards; empty for none.
    """
    html = (
        _environment()
        .get_template("sheets.html")
        .render(sheets=sheets, level=level, line=line, form=format, mm=MM, cuts=tuple(_cuts(format)))
    )
    return wrapped(html)


def _cuts(format: Format) -> Iterator[tuple[float, float, float, float]]:
    """Left, top, width and height of each cut mark: at the edges of the paper and where cuts cross."""
    width, height = format.sheet
    long, thin = 6 * MM, 0.5
    middle, centre = width / 2, height / 2
    yield (middle - thin / 2, 0, thin, long)
    yield (middle - thin / 2, height - long, thin, long)
    if format.grid[1] > 1:
        yield (0, centre - thin / 2, long, thin)
        yield (width - long, centre - thin / 2, long, thin)
        yield (middle - long / 2, centre - thin / 2, long, thin)
        yield (middle - thin / 2, centre - long / 2, thin, long)


def card_style() -> str:
    """The style sheet of cards."""
    return (_folder() / "cards.css").read_text(encoding="utf-8")


def format_style(format: Format, *, alone: bool) -> str:
    """Size of the sheet and of every kind of text.

    Args:
        format: Paper and size.
        alone: True where the paper holds nothing but cards.
    """
    width, height = format.sheet
    page = "@page" if alone else "@page cards"
    rules = [
        f"{page} {{ size: {width:.2f}pt {height:.2f}pt; margin: 0; }}",
        f".leaf {{ width: {width:.2f}pt; height: {height - 0.6:.2f}pt; }}",
        f".card {{ width: {format.room[0]:.2f}pt; height: {format.room[1]:.2f}pt; }}",
        f".card .frame {{ border-width: {FRAME_BORDER}pt {FRAME_BORDER}pt {FRAME_BORDER}pt {FRAME_BAR}pt; padding: {FRAME_PAD}pt; margin-bottom: {FRAME_AFTER}pt; }}",
    ]
    for name, style in format.styles.items():
        family, _, weight = style.face.partition("-")
        rules.append(
            f".card .{name} {{ font: {600 if weight == 'bold' else 400} {style.size}pt/{style.leading}pt "
            f'"Dossier {family.title()}", "DejaVu {family.title()}", {"serif" if family == "serif" else "sans-serif"}; '
            f"margin: 0; padding: 0 0 {style.after:.2f}pt {style.indent:.2f}pt; }}"
        )
    return "\n".join(rules)


@cache
def _environment() -> SandboxedEnvironment:
    from jinja2 import FileSystemLoader, StrictUndefined
    from jinja2.sandbox import SandboxedEnvironment

    environment = SandboxedEnvironment(
        loader=FileSystemLoader(_folder()), autoescape=True, undefined=StrictUndefined, cache_size=-1
    )
    environment.filters["coded"] = coded
    return environment


def _folder() -> Path:
    return shelves.data_dir("templates") / "cards"
