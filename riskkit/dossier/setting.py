"""One HTML page set by WeasyPrint into a PDF file, with what it says about its pages."""

from __future__ import annotations

import gc
import logging
from pathlib import Path

from weasyprint import HTML

from riskkit.dossier.fetching import RefusingFetcher
from riskkit.dossier.printed import Laid

LAYOUT_LOG = "weasyprint"


def set_page(page: str, target: str | None, font_folder: str | None, *, tagged: bool) -> Laid:
    """Lay out a page and write it.

    Args:
        page: The whole HTML.
        target: File to write; None where only the layout is wanted.
        font_folder: The only folder of which files are read.
        tagged: True for a structure tree (PDF/UA-1).
    """
    gc.disable()  # layout makes no garbage worth looking for, and looking costs a third of the time
    folder = Path(font_folder) if font_folder else None
    fetcher = RefusingFetcher(folder)
    complaints = _Complaints()
    log = logging.getLogger(LAYOUT_LOG)
    log.addHandler(complaints)
    try:
        base = folder.as_uri() + "/" if folder is not None else None
        document = HTML(string=page, url_fetcher=fetcher, base_url=base)
        options = {"pdf_variant": "pdf/ua-1"} if tagged else {}
        rendered = document.render(**options)
        if target is not None:
            rendered.write_pdf(target, **options)
    finally:
        log.removeHandler(complaints)
    anchors = tuple((name, number) for number, leaf in enumerate(rendered.pages) for name in leaf.anchors)
    bookmarks = tuple(
        (level, label, number, point[0], point[1])
        for number, leaf in enumerate(rendered.pages)
        for level, label, point, _ in leaf.bookmarks
    )
    warnings = tuple(words for words in complaints.words if "not fetched:" not in words)
    return Laid(len(rendered.pages), anchors, bookmarks, tuple(fetcher.refused), warnings)


class _Complaints(logging.Handler):
    """Keeps what the layout engine warns about."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.words: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Keep one warning."""
        self.words.append(record.getMessage())
