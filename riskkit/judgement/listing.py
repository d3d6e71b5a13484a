"""Several words as one part of a sentence."""

from __future__ import annotations

from collections.abc import Iterable


def with_and(words: Iterable[str]) -> str:
    """ "H01, H02 and H03"; one word alone as it stands."""
    return _joined(list(words), "and")


def with_or(words: Iterable[str]) -> str:
    """ "H01, H02 or H03"; one word alone as it stands."""
    return _joined(list(words), "or")


def _joined(words: list[str], last: str) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {last} {words[-1]}"
