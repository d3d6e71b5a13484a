"""The build pack as one paper: front page, guide, lists, then the cards and forms to be cut apart."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit import shelves
from riskkit.assess import Assessment
from riskkit.dossier.cards.blocks import Draft
from riskkit.dossier.cards.choosing import NEW, Choice, Wanted
from riskkit.dossier.cards.filling import fill
from riskkit.dossier.cards.formats import Format
from riskkit.dossier.cards.of_units import tests_of_every_unit, tests_of_every_use
from riskkit.dossier.cards.others import instrument_card
from riskkit.dossier.cards.printing import card_style, foot_of, format_style, sheets_html, sheets_of
from riskkit.dossier.pack.view import PackView, pack_view
from riskkit.dossier.paper import print_paper
from riskkit.dossier.printed import Head, Paper, Part
from riskkit.dossier.refusing import claims_in, refuse_claims_in
from riskkit.dossier.sections import PAPERS, coded, css_text, wrapped
from riskkit.dossier.view.telling import Teller

if TYPE_CHECKING:
    from jinja2.sandbox import SandboxedEnvironment

OWN_INSTRUMENTS = 2
"""Empty instrument cards in a pack."""

ENTRIES = (
    ("pack-parts", "Parts, their versions and ratings"),
    ("pack-instruments", "Tools and instruments"),
    ("pack-steps", "Steps and checks"),
    ("pack-tests", "What your unit has to show"),
    ("pack-deviations", "When something differs"),
    ("pack-back", "Sending readings back"),
    ("pack-open", "What is open"),
)
"""Sections of the pack: id and words."""


def print_pack(
    assessment: Assessment,
    *,
    page: str = "a4",
    on_progress: Callable[[int, int, str], None] | None = None,
) -> Paper:
    """Print the build pack of a register.

    Args:
        assessment: What was worked out.
        page: The paper, `a4` or `letter`.
        on_progress: Called with (done, total, words).

    Raises:
        RiskkitError: where the paper would claim what it must not, or a system library is missing.
    """
    tell = Teller(claims_in)
    format = Format(page)
    drafts = pack_drafts(assessment, tell)
    view = pack_view(assessment, tell)
    parts = tuple(_parts(view, drafts, format))
    for part in parts:
        refuse_claims_in(part.html, f"the build pack ({part.title})")
    return print_paper(
        _head(view, format), parts, on_progress=on_progress, font_folder=shelves.data_dir("templates") / "fonts"
    )


def pack_drafts(assessment: Assessment, tell: Teller) -> tuple[Draft, ...]:
    """Cards and forms of a pack, in the order of use; codes are those of the files, which `record` checks."""
    register, today = assessment.reading.register, assessment.today
    build = assessment.revision or assessment.reading.snapshot.fingerprint()[:12]
    foot = foot_of(register, build, today, tell)
    tests = tuple(test.id for test in (*tests_of_every_use(register), *tests_of_every_unit(register)))

    def chosen(wanted: Wanted) -> tuple[Draft, ...]:
        return Choice(register, wanted, today, foot, tell).drafts()

    return (
        *chosen(Wanted(kinds=("switch-on",))),
        *chosen(Wanted(unit=NEW)),
        *(chosen(Wanted(ids=tests)) if tests else ()),
        *(instrument_card(None, today, tell, foot, place) for place in range(1, OWN_INSTRUMENTS + 1)),
        *chosen(Wanted(kinds=("slip", "blank"))),
    )


def _parts(view: PackView, drafts: Sequence[Draft], format: Format) -> Iterator[Part]:
    first = {_entry(draft): draft.key for draft in reversed(drafts)}
    listed = dict.fromkeys(_entry(draft) for draft in drafts)
    entries = (*ENTRIES, *((first[words], words) for words in listed))
    for name, title in (("front.html", "front page"), ("guide.html", "guide"), ("body.html", "lists")):
        yield Part(wrapped(_environment().get_template(name).render(view=view, entries=entries)), title)
    cards = [card for draft in drafts for card in fill(draft, format)]
    # Short enough for the card at the left: nothing is printed across a cut.
    line = "  ·  ".join((f"build {view.build[:24]}", view.today, *(stamp.word for stamp in view.stamps)))
    yield Part(sheets_html(sheets_of(cards, format), format, level=2, line=line), "cards")


def _entry(draft: Draft) -> str:
    return f"{draft.code}: {draft.title} ({draft.kind.lower()})"


def _head(view: PackView, format: Format) -> Head:
    dossier = (shelves.data_dir("templates") / "dossier" / "print.css").read_text(encoding="utf-8")
    pack = (_folder() / "pack.css").read_text(encoding="utf-8")
    return Head(
        stylesheets=(dossier, card_style(), pack, format_style(format, alone=False), _margins(view, format.page)),
        title=f"{view.name}: build pack of an experimental bench device",
        description=(
            "Build pack of an experimental bench device. Not for use on a person. "
            f"Build {view.build}, {view.today}, {view.open} open."
        ),
    )


def _margins(view: PackView, page: str) -> str:
    name = f"Build pack  ·  {view.name[:60]}, revision {view.revision[:24]}"
    stamp = "".join(f"  ·  {stamp.word}, {stamp.why}" for stamp in view.stamps)
    build = f"build {view.build[:24]}  ·  {view.today}{stamp}"
    return (
        f"@page {{ {PAPERS[page]} @top-left {{ content: {css_text(name)}; }} "
        f"@bottom-left {{ content: {css_text(build)}; }} }}"
    )


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
    return shelves.data_dir("templates") / "pack"
