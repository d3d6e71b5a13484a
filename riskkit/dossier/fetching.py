"""What a page may load: pictures that stand in the page itself, and our own fonts. Nothing else, ever.

Register text is untrusted. A picture, style sheet, font or attachment that it names is not fetched; it
is remembered, so that the person who prints can be told.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

from weasyprint.urls import URLFetcher

LONGEST_SHOWN = 120


class RefusingFetcher(URLFetcher):  # type: ignore[misc]
    """Allows `data:` and files below one folder of fonts; refuses everything else and keeps a list.

    Args:
        font_folder: The only folder of which files are read; None where there is none.
    """

    def __init__(self, font_folder: Path | None) -> None:
        super().__init__(allowed_protocols=("data", "file"), allow_redirects=False)
        self.font_folder = font_folder.resolve() if font_folder is not None else None
        self.refused: list[str] = []

    def fetch(self, url: str, headers: Any = None) -> Any:
        """A response for an allowed address.

        Raises:
            ValueError: for any other; WeasyPrint prints the page without it.
        """
        if url.lower().startswith("data:") or self._is_own_font(url):
            return super().fetch(url, headers)
        shown = url if len(url) <= LONGEST_SHOWN else f"{url[:LONGEST_SHOWN]}..."
        self.refused.append(shown)
        raise ValueError(f"not fetched: {shown}")

    def _is_own_font(self, url: str) -> bool:
        parts = urlsplit(url)
        if self.font_folder is None or parts.scheme.lower() != "file" or parts.netloc not in ("", "localhost"):
            return False
        path = Path(unquote(parts.path)).resolve()
        return path.suffix in (".ttf", ".otf") and path.is_relative_to(self.font_folder)
