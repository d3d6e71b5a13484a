"""The next questions as a paper for a table of people, with the codes by which their answers are typed back."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TYPE_CHECKING

from riskkit import shelves
from riskkit.dossier.paper import print_paper
from riskkit.dossier.printed import Head, Paper, Part
from riskkit.dossier.refusing import refuse_claims_in
from riskkit.dossier.sections import PAPERS, coded, css_text, wrapped

if TYPE_CHECKING:
    from riskkit.judgement.prompts import Cell


def render_sheet(name: str, cells: Sequence[Cell], day: datetime.date, *, page: str = "a4") -> Paper:
    """Print cells as a sheet to write on.

    Args:
        name: What the device is called.
        cells: In the order in which they are asked; one at least.
        day: Printed on every page.
        page: The paper, `a4` or `letter`.

    Raises:
        RiskkitError: where a text claims what nothing here can show, or Pango is missing.
    """
    html = sheet_html(name, cells)
    refuse_claims_in(html, "the sheet")
    templates = shelves.data_dir("templates")
    margins = (
        f"@page {{ {PAPERS[page]} @top-left {{ content: {css_text(f'Questions  ·  {name[:70]}')}; }} "
        f"@bottom-left {{ content: {css_text(str(day))}; }} "
        "@bottom-center { content: none; border: none; } }"
    )
    head = Head(
        stylesheets=(
            (templates / "dossier" / "print.css").read_text(encoding="utf-8"),
            (templates / "prompts" / "sheet.css").read_text(encoding="utf-8"),
            margins,
        ),
        title=f"{name}: questions about what can go wrong",
        description="Questions about an experimental bench device. Not for use on a person.",
    )
    return print_paper(head, [Part(html, "Questions")], font_folder=templates / "fonts")


def sheet_html(name: str, cells: Sequence[Cell]) -> str:
    """The inside of the page."""
    from jinja2 import FileSystemLoader, StrictUndefined
    from jinja2.sandbox import SandboxedEnvironment

    environment = SandboxedEnvironment(
        loader=FileSystemLoader(shelves.data_dir("templates") / "prompts"), autoescape=True, undefined=StrictUndefined
    )
    environment.filters["coded"] = coded
    return wrapped(environment.get_template("sheet.html").render(name=name, cells=cells))
