"""HTML parts become one PDF: laid out in parallel, numbered, joined, tagged. Knows nothing of registers.

The contract with the style sheet and the HTML:

* A page margin box whose `content` uses `counter(page)` or `counter(pages)` is printed in a pass of its
  own when the number of pages is known; the parts themselves are laid out only once.
* `<a class="page-of" href="#id"></a>` is filled with the page of that id. A part that has one is laid
  out a second time.
* `href="#id"` leads to that id in whichever part it stands; ids are unique in the whole paper.
"""

from __future__ import annotations

import datetime
import html
import os
import re
import tempfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from riskkit.diagnostics import RiskkitError
from riskkit.dossier.printed import Attachment, Head, Laid, Paper, Part
from riskkit.dossier.processes import run_all

__all__ = ["Attachment", "Head", "Paper", "Part", "print_paper", "system_libraries_sentence"]

Progress = Callable[[int, int, str], None]


_ID = re.compile(r"""\bid=["']([^"']+)["']""")
_LINK = re.compile(r"""(<a\b[^>]*?\bhref=)(["'])#([^"']+)\2""")
_PAGE_OF = re.compile(r"""(<a\b(?=[^>]*\bclass="page-of")[^>]*\bhref="#([^"]+)"[^>]*>)[^<]*(</a>)""")
_MARGIN_BOX = re.compile(r"@(?:top|bottom|left|right)-[a-z-]+\s*\{[^{}]*\}")
_NUMBERED = re.compile(r"\bcontent\s*:[^;}]*counter\(\s*pages?\s*\)[^;}]*")
MOST_ROUNDS = 4
ELSEWHERE = "riskkit-page:"
"""Scheme of links into another part; joining turns them into real links."""


def system_libraries_sentence() -> str:
    """What to install where the text engine behind WeasyPrint is missing."""
    return (
        "Debian or Ubuntu: sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core; "
        "Fedora: sudo dnf install pango; Arch: sudo pacman -S pango; macOS: brew install pango; "
        "Windows: install MSYS2, then pacman -S mingw-w64-x86_64-pango"
    )


def require_pango() -> None:
    """Import WeasyPrint.

    Raises:
        RiskkitError: naming the system packages, where Pango is missing.
    """
    try:
        import weasyprint  # noqa: F401
    except OSError:
        raise RiskkitError(
            "paper needs the system library Pango, which is not installed", system_libraries_sentence()
        ) from None


def print_paper(
    head: Head,
    parts: Sequence[Part],
    *,
    attachments: Sequence[Attachment] = (),
    created: datetime.datetime | None = None,
    workers: int | None = None,
    on_progress: Progress | None = None,
    font_folder: Path | None = None,
) -> Paper:
    """Print parts as one tagged PDF. The same arguments give the same bytes, whatever the number of workers.

    Args:
        head: Style sheets and metadata.
        parts: In order; each begins on a new page.
        attachments: Files to carry inside.
        created: Date written into the file; none is written where it is None.
        workers: Processes; as many as there are usable processors where it is None.
        on_progress: Called with (done, total, words).
        font_folder: The only folder whose files the style sheets may name.

    Raises:
        RiskkitError: where Pango is missing.
    """
    require_pango()
    from riskkit.dossier.joining import Piece, join

    workers = workers or _processors()
    with tempfile.TemporaryDirectory(prefix="riskkit-paper-") as folder:
        press = _Press(head, tuple(parts), Path(folder), font_folder, workers, on_progress)
        press.lay_out()
        folio = press.print_folio()
        press.tell(press.jobs, "joined")
        pieces = [Piece(press.file(number), laid.bookmarks) for number, laid in enumerate(press.laid)]
        target = Path(folder) / "paper.pdf"
        join(pieces, folio, target, head, attachments, created, press.targets, ELSEWHERE)
        pdf = target.read_bytes()
    return Paper(
        pdf,
        press.total,
        dict(press.targets.items()),
        tuple(dict.fromkeys(each for laid in press.laid for each in laid.refused)),
        tuple(dict.fromkeys(each for laid in press.laid for each in laid.warnings)),
    )


def _processors() -> int:
    usable = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(1, usable)


class _Press:
    """One printing run; thrown away afterwards."""

    def __init__(
        self,
        head: Head,
        parts: tuple[Part, ...],
        folder: Path,
        font_folder: Path | None,
        workers: int,
        on_progress: Progress | None,
    ) -> None:
        self.head, self.parts, self.folder, self.font_folder = head, parts, folder, font_folder
        self.workers, self.on_progress = workers, on_progress
        self.owner = {id: number for number, part in enumerate(parts) for id in _ID.findall(part.html)}
        self.waiting = [number for number, part in enumerate(parts) if _PAGE_OF.search(part.html)]
        self.laid: list[Laid] = []
        self.done = 0
        self.jobs = len(parts) + len(self.waiting) + 1

    def file(self, number: int) -> Path:
        """Where a printed part stands."""
        return self.folder / f"part-{number:05d}.pdf"

    def lay_out(self) -> None:
        """Lay out every part; those that name pages a second time, until the numbers hold."""
        self.laid = self._run(list(range(len(self.parts))), "pages laid out")
        for _ in range(MOST_ROUNDS if self.waiting else 0):
            before = self.targets
            for number, laid in zip(self.waiting, self._run(self.waiting, "references filled in"), strict=True):
                self.laid[number] = laid
            if self.targets == before:
                break
            self.jobs += len(self.waiting)  # a reference grew by a digit and moved a page: once more

    def _run(self, numbers: list[int], words: str) -> list[Laid]:
        targets = self.targets if self.laid else {}
        jobs = [
            (
                self._page(number, targets),
                str(self.file(number)),
                str(self.font_folder) if self.font_folder else None,
                number,
                bool(self.laid) or number not in self.waiting,
            )
            for number in numbers
        ]
        results = run_all(lay_out_part, jobs, self.workers, lambda done: self.tell(self.done + done, words))
        self.done += len(jobs)
        return results

    def tell(self, done: int, words: str) -> None:
        """Report progress, where someone wants to know."""
        if self.on_progress is not None:
            self.on_progress(done, max(done, self.jobs), words)

    @property
    def total(self) -> int:
        """Number of pages."""
        return sum(laid.pages for laid in self.laid)

    @property
    def targets(self) -> dict[str, int]:
        """Id -> page, counted from 1."""
        found: dict[str, int] = {}
        start = 1
        for laid in self.laid:
            for id, page in laid.anchors:
                found.setdefault(id, start + page)
            start += laid.pages
        return found

    def _page(self, number: int, targets: Mapping[str, int]) -> str:
        part = self.parts[number]
        body = _PAGE_OF.sub(lambda found: f"{found[1]}{targets.get(found[2], 0) or '000'}{found[3]}", part.html)
        body = _LINK.sub(lambda found: self._link(found, number), body)
        styles = "\n".join(f"<style>{body_style(sheet)}</style>" for sheet in self.head.stylesheets)
        title = html.escape(self.head.title)
        return (
            f'<!DOCTYPE html>\n<html lang="{html.escape(self.head.language)}"><head><meta charset="utf-8">'
            f"<title>{title}</title>{styles}</head><body>{body}</body></html>"
        )

    def _link(self, found: re.Match[str], number: int) -> str:
        owner = self.owner.get(found[3])
        if owner is None or owner == number:
            return found[0]
        return f"{found[1]}{found[2]}{ELSEWHERE}{found[3]}{found[2]}"

    def print_folio(self) -> Path | None:
        """One empty page per page, carrying only the numbered margin boxes; None where there are none."""
        styles = [folio_style(sheet) for sheet in self.head.stylesheets]
        if not any("counter(" in style for style in styles):
            return None
        sheets = "".join(f"<style>{style}</style>" for style in styles)
        leaf = '<div style="break-after: page; height: 1px"></div>'
        leaves = leaf * (self.total - 1) + '<div style="height: 1px"></div>'
        page = f'<!DOCTYPE html><html lang="{html.escape(self.head.language)}"><head>{sheets}</head><body>{leaves}</body></html>'
        target = self.folder / "folio.pdf"
        run_all(lay_out_folio, [(page, str(target), str(self.font_folder) if self.font_folder else None)], 1)
        return target


def body_style(sheet: str) -> str:
    """A style sheet whose numbered margin boxes are left empty."""
    return _MARGIN_BOX.sub(lambda box: _NUMBERED.sub('content: ""', box[0]), sheet)


def folio_style(sheet: str) -> str:
    """A style sheet of which only the numbered margin boxes are left."""
    return _MARGIN_BOX.sub(lambda box: box[0] if _NUMBERED.search(box[0]) else "", sheet)


def lay_out_part(page: str, target: str, font_folder: str | None, number: int, write: bool) -> Laid:
    """In a worker process: lay out one part, write its PDF if it is final, say what is on which page."""
    from riskkit.dossier.joining import prepare
    from riskkit.dossier.setting import set_page

    laid = set_page(page, target if write else None, font_folder, tagged=True)
    if write:
        prepare(Path(target), f"p{number}")
    return laid


def lay_out_folio(page: str, target: str, font_folder: str | None) -> None:
    """In a worker process: print the pages that carry only numbers."""
    from riskkit.dossier.setting import set_page

    set_page(page, target, font_folder, tagged=False)
