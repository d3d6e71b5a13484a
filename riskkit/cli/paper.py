"""`dossier`: the paper for reviewers."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from pathlib import Path

from riskkit.cli.opening import day, one_of, print_text, warn_if_broken, write_whole
from riskkit.cli.output import counted


def print_dossier(
    folder: Path,
    output: Path | None,
    page: str,
    policy: str | None,
    today: str | None,
    *,
    one_page: bool,
    workers: int | None,
) -> None:
    """Print the dossier, then its path, its pages and the number of open gaps."""
    from riskkit.cli.opening import open_register
    from riskkit.dossier.render import render
    from riskkit.text.revisions import name_of_revision

    one_of("--page", page, ("a4", "letter"))
    on = day(today)
    assessment = open_register(folder, on.isoformat(), policy, name_of_revision(folder))
    warn_if_broken(assessment.report)
    path = output or Path(
        _file_name(assessment.register.device.name if assessment.register.device else "register", one_page)
    )
    if path.is_dir():
        path = path / _file_name("register", one_page)
    paper = render(assessment, page=page, one_page=one_page, workers=workers, on_progress=print_progress())
    write_whole(path, paper.pdf)
    for refusal in paper.refusals:
        sys.stderr.write(f"riskkit: not printed: {refusal}\n")
    print_text(f"{path}: {counted(paper.pages, 'page')}, {len(assessment.report.open)} open\n")


def _file_name(title: str, one_page: bool) -> str:
    return file_name(title, "front-sheet" if one_page else "dossier")


def file_name(title: str, what: str) -> str:
    """A file named after the device and what it is: `marram-hood-dossier.pdf`."""
    words = re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-") or "register"
    return f"{words}-{what}.pdf"


def print_progress() -> Callable[[int, int, str], None] | None:
    """A line on a terminal that says how far the printing is; silence elsewhere."""
    if not sys.stderr.isatty():
        return None

    def show(done: int, total: int, words: str) -> None:
        end = "\n" if done >= total else ""
        sys.stderr.write(f"\r{words} {done}/{total}   {end}")
        sys.stderr.flush()

    return show
