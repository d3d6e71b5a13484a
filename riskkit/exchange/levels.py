"""Levels of a scale as a sheet writes them: by label, by word, or by a scale of its own that somebody has to translate."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from riskkit.diagnostics import RiskkitError
from riskkit.model.fields import plain_words

_TOKEN = re.compile(r"[^\W\d_]+|\d+(?:\.\d+)?")


@dataclass(frozen=True)
class Scale:
    """A scale of the policy, and what the words of a sheet are on it.

    Attributes:
        labels: Label of each level, in order.
        words: Word in small letters -> label.
        stated: What somebody said of the sheet's own words -> label.
        beyond: A number of the sheet that is no level here: then no number of it is taken without being translated.
    """

    labels: tuple[str, ...]
    words: Mapping[str, str]
    stated: Mapping[str, str]
    beyond: str = ""

    @classmethod
    def of(cls, steps: Sequence[tuple[str, str]], said: Iterable[str], stated: Mapping[str, str]) -> Scale:
        """The scale of (label, word) steps, for cells that say this."""
        labels = tuple(label for label, _ in steps)
        words = {plain_words(text): label for label, word in steps for text in (label, word)}
        plain = cls(labels, words, stated)
        beyond = next((text for text in map(plain_words, said) if _number(text) and _number(text) not in labels), "")
        return cls(labels, words, stated, beyond if plain.level(beyond) is None else "")

    def level(self, text: str) -> str | None:
        """The label that a cell means, or None where nobody can say."""
        said = plain_words(text)
        if said in self.stated:
            return self.stated[said]
        number = _number(said)
        if number and number in self.stated:
            return self.stated[number]
        if number:
            return number if number in self.labels and not self.beyond else None
        if said in self.words:
            return self.words[said]
        tokens = [_number(token) or token for token in _TOKEN.findall(said)]
        meant = {self.words[token] for token in tokens if token in self.words}
        return meant.pop() if len(meant) == 1 and not self.beyond else None

    def translated(self, text: str) -> bool:
        """Whether a cell means its level only because somebody said so."""
        said = plain_words(text)
        return said in self.stated or (_number(said) or "") in self.stated

    def complaint(self, text: str, heading: str) -> str:
        """Why a cell is no level, and what to say."""
        scale = ", ".join(self.labels)
        said = " ".join(text.split())
        if self.beyond:
            return (
                f"`{heading}` goes up to `{self.beyond}` or beyond, so its numbers are not the levels {scale} of the policy; "
                f"say what each means, such as --level {said}={self.labels[-1]}"
            )
        return (
            f'`{said}` under `{heading}` is no level of the policy ({scale}); say what it means: --level "{said}=..."'
        )


def _number(text: str) -> str:
    """A whole number without its zeros, such as `4` for `4.0`; empty for anything else."""
    found = re.fullmatch(r"0*(\d+)(?:[.,]0+)?", text.strip())
    return found[1] if found else ""


def read_levels(stated: Sequence[str], scale: Sequence[str]) -> dict[str, str]:
    """`8=4` and `7-10=5` as words of a sheet -> label.

    Raises:
        RiskkitError: where one of them cannot be read, or names no level of the scale.
    """
    found: dict[str, str] = {}
    for text in stated:
        words, _, label = (piece.strip() for piece in text.rpartition("="))
        if not words or label not in scale:
            raise RiskkitError(
                f"--level `{text}` does not name a level", f"write the sheet's word, =, and one of {', '.join(scale)}"
            )
        span = re.fullmatch(r"(\d+)\s*(?:-|–|to)\s*(\d+)", words)
        each = [str(n) for n in range(int(span[1]), int(span[2]) + 1)] if span else [plain_words(words)]
        found |= dict.fromkeys(each, label)
    return found


def plain_level(label: str) -> str | int:
    """A label as people write it: a number without quotes."""
    return int(label) if label.isdigit() and str(int(label)) == label else label
