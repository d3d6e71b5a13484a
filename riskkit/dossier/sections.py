"""The sections of a dossier, found by looking at the template folder, and their HTML.

A section is a file `sections/NN-name.html` whose first line says what it is:

    {# number: 7; title: Register; needs: hazards; split: hazards by 8; goes on: yes #}

`needs` leaves the section out while that part of the view is empty; `split` prints it in parts of so
many items; `goes on` lets it begin on the page where the section before it ended. The order is that of the file names. Sections 1 and 15 cannot be left out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from riskkit import shelves
from riskkit.dossier.printed import Head
from riskkit.dossier.view import DossierView

if TYPE_CHECKING:
    from jinja2.sandbox import SandboxedEnvironment
    from markupsafe import Markup

ALWAYS = ("0", "1", "15")
"""Numbers of the sections without which nothing is printed."""

DIFFERENCE = ("1", "2", "15")
"""Numbers of the sections of the short paper that tells only what changed: what is not claimed, changes, open list."""

PAPERS = MappingProxyType({"a4": "size: A4;", "letter": "size: Letter; margin-left: 24mm; margin-right: 21.9mm;"})
"""Size and margins of each paper; the text is 170 mm wide on both."""

_FIRST_LINE = re.compile(r"\{#(.*?)#\}")


@dataclass(frozen=True, slots=True)
class Section:
    """A section as its first line describes it."""

    number: str
    title: str
    file: str
    needs: str = ""
    split: str = ""
    group: int = 0
    goes_on: bool = False


@dataclass(frozen=True, slots=True)
class Piece:
    """The HTML of a section or of one of its parts."""

    section: Section
    html: str


def folder() -> Path:
    """Where the templates of the dossier stand."""
    return shelves.data_dir("templates") / "dossier"


@cache
def sections() -> tuple[Section, ...]:
    """All sections in the order of their file names.

    Raises:
        ValueError: where a first line cannot be read or a section is missing that must not be.
    """
    found = tuple(_section(path) for path in sorted((folder() / "sections").glob("*.html")))
    missing = [number for number in ALWAYS if number not in {section.number for section in found}]
    if missing:
        raise ValueError(f"riskkit is installed without section {', '.join(missing)} of the dossier")
    return found


def _section(path: Path) -> Section:
    match = _FIRST_LINE.match(path.read_text(encoding="utf-8"))
    said = dict(part.split(":", 1) for part in match[1].split(";")) if match is not None else {}
    fields = {name.strip(): value.strip() for name, value in said.items()}
    if not {"number", "title"} <= set(fields):
        raise ValueError(f"{path} must begin with {{# number: ...; title: ... #}}")
    split, _, group = fields.get("split", "").partition(" by ")
    return Section(
        fields["number"],
        fields["title"],
        f"sections/{path.name}",
        fields.get("needs", ""),
        split,
        int(group or 0),
        fields.get("goes on") == "yes",
    )


@cache
def _environment() -> SandboxedEnvironment:
    from jinja2 import FileSystemLoader, StrictUndefined
    from jinja2.sandbox import SandboxedEnvironment
    from markupsafe import Markup

    environment = SandboxedEnvironment(
        loader=FileSystemLoader(folder()), autoescape=True, undefined=StrictUndefined, trim_blocks=False, cache_size=-1
    )
    # Only drawings of our own go through this filter; their texts are escaped where they are drawn.
    environment.filters["drawing"] = Markup
    environment.filters["coded"] = coded
    return environment


def coded(words: str) -> Markup:
    """Text whose pieces between backticks are set as code, up to the end where one is not closed; all escaped."""
    from markupsafe import Markup, escape

    pieces = words.split("`")
    return Markup("").join(
        Markup("<code>{}</code>").format(piece) if place % 2 else escape(piece) for place, piece in enumerate(pieces)
    )


def printed(view: DossierView, *, one_page: bool = False, only_changes: bool = False) -> tuple[Section, ...]:
    """The sections that this view has something for."""
    if one_page:
        return tuple(section for section in sections() if section.number == "0")
    if only_changes:
        return tuple(section for section in sections() if section.number in DIFFERENCE)
    return tuple(section for section in sections() if not section.needs or _items(view, section.needs))


def _items(view: DossierView, name: str) -> Sequence[Any]:
    found: Any = view
    for step in name.split("."):
        found = getattr(found, step)
    items: Sequence[Any] = found
    return items


def pieces(view: DossierView, chosen: Sequence[Section], extra: Mapping[str, object]) -> Iterator[Piece]:
    """The HTML of each section; a split one comes in several pieces.

    Args:
        view: What is printed.
        chosen: Sections in their order.
        extra: Drawings and other values that templates name beside the view.
    """
    environment = _environment()
    template = environment.get_template("section.html")
    for section in chosen:
        groups = [_items(view, section.split)] if section.split else [()]
        if section.group:
            items = groups[0]
            groups = [items[start : start + section.group] for start in range(0, len(items), section.group)] or [()]
        for place, items in enumerate(groups):
            html = template.render(
                view=view, section=section, items=items, first=place == 0, last=place == len(groups) - 1, **extra
            )
            yield Piece(section, wrapped(html))


_BEFORE_INLINE = re.compile(r">([^<>]*[^<>\s][^<>]*?)(\s*)(?=<(?:span|a|b|code)\b)")


def wrapped(html: str) -> str:
    """HTML in which text that stands before an inline element has an element of its own.

    WeasyPrint 70 now and then breaks the line a word too early where bare text is followed by an
    inline element and its last word fits only without the blank behind it.
    """
    return _BEFORE_INLINE.sub(r"><span>\1</span>\2", html)


def contents(view: DossierView, chosen: Sequence[Section]) -> str:
    """The page of contents."""
    listed = [section for section in chosen if section.number != "0"]
    return _environment().get_template("contents.html").render(view=view, sections=listed)


_LINK_WITHIN = re.compile(r"""<a\b[^>]*?\bhref=["']#([^"']+)["'][^>]*>(.*?)</a>""", re.DOTALL)
_ID = re.compile(r"""\bid=["']([^"']+)["']""")


def without_loose_links(found: Sequence[Piece]) -> list[Piece]:
    """The same pieces with links only to what is printed: a short paper has fewer places than a whole one."""
    places = {place for piece in found for place in _ID.findall(piece.html)}

    def kept(link: re.Match[str]) -> str:
        return link[0] if link[1] in places else f'<span class="id">{link[2]}</span>'

    return [Piece(piece.section, _LINK_WITHIN.sub(kept, piece.html)) for piece in found]


def head(view: DossierView, page: str, kind: str = "Review dossier") -> Head:
    """Style sheets, what stands in the margins of each page, and what the file says about itself."""
    cover = view.cover
    return Head(
        stylesheets=((folder() / "print.css").read_text(encoding="utf-8"), _margins(view, page, kind)),
        title=f"{cover.name}: {kind.lower()} of an experimental bench device",
        description=(
            f"{kind} of an experimental bench device. Not for use on a person. "
            f"Build {cover.build}, {cover.today}, {cover.open} open."
        ),
    )


def _margins(view: DossierView, page: str, kind: str) -> str:
    cover = view.cover
    name = f"{cover.name}{f', revision {cover.revision}' if cover.revision else ''}"
    device = f"{kind}  ·  {name if len(name) <= 70 else name[:69] + '…'}"
    build = f"build {cover.build[:30]}  ·  {cover.today}"
    stamp = ""
    if cover.stamps:
        words = "  ·  ".join((*cover.stamps, f"{cover.open} open"))
        stamp = f"@bottom-center {{ content: {css_text(words)}; }}"
    return (
        f"@page {{ {PAPERS[page]} @top-left {{ content: {css_text(device)}; }} "
        f"@bottom-left {{ content: {css_text(build)}; }} {stamp} }}"
    )


def css_text(words: str) -> str:
    """A CSS string that holds these words and nothing else, whatever they are."""
    return '"' + "".join(letter if letter.isalnum() else f"\\{ord(letter):06x}" for letter in words) + '"'
