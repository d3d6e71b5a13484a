"""What riskkit tells a person about their files: one sentence, one place, one thing to type.

This file knows findings as values. It must not know where they come from or how they are printed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from enum import IntEnum


class RiskkitError(Exception):
    """A request that cannot be met: one sentence for the person who asked, and what to type instead."""

    def __init__(self, headline: str, help: str = "") -> None:
        super().__init__(headline)
        self.headline = headline
        self.help = help


class Severity(IntEnum):
    """How much a finding matters; the order is the order on paper, worst first."""

    ERROR = 0
    WARNING = 1
    NOTE = 2

    @property
    def word(self) -> str:
        """The word that people and JSON read."""
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Place:
    """A point in a user's file. Line and column count from 1; line 0 means the file as a whole."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        if self.line == 0:
            return self.file
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Related:
    """Another place that belongs to the same finding, with a few words on why."""

    place: Place
    words: str


@dataclass(frozen=True, slots=True)
class Mend:
    """A change of the one word at the place of a finding that cannot change what is meant.

    `word` is what takes its place; None puts quotes around the word as it is written.
    """

    word: str | None = None


@dataclass(frozen=True, slots=True)
class Diagnostic:
    """One finding: what is wrong, where, and what to type next.

    `breaks` is true where the register itself cannot be read as written (exit status 2); a gap in
    an otherwise readable register leaves it false (exit status 1). `mend` is there where `check --fix`
    can do what `help` asks for.
    """

    rule: str
    severity: Severity
    headline: str
    place: Place
    record: str = ""
    help: str = ""
    related: tuple[Related, ...] = ()
    breaks: bool = False
    mend: Mend | None = None

    @property
    def sort_key(self) -> tuple[bool, int, str, int, int, str]:
        """Broken input first, then worst first, then the order of the files."""
        return (not self.breaks, self.severity, self.place.file, self.place.line, self.place.column, self.rule)


@dataclass(frozen=True, slots=True)
class Report:
    """All findings of one run, in the order in which they are printed."""

    diagnostics: tuple[Diagnostic, ...] = field(default=())

    @classmethod
    def of(cls, diagnostics: Iterable[Diagnostic]) -> Report:
        """Sort findings, drop exact repeats."""
        return cls(tuple(sorted(dict.fromkeys(diagnostics), key=lambda found: found.sort_key)))

    def __iter__(self) -> Iterator[Diagnostic]:
        return iter(self.diagnostics)

    def __len__(self) -> int:
        return len(self.diagnostics)

    @property
    def open(self) -> tuple[Diagnostic, ...]:
        """Everything that asks for something to be done: errors and warnings, not notes."""
        return tuple(found for found in self.diagnostics if found.severity is not Severity.NOTE)

    @property
    def broken(self) -> tuple[Diagnostic, ...]:
        """Findings that keep part of the register from being read as written."""
        return tuple(found for found in self.diagnostics if found.breaks)

    def counts(self) -> dict[str, int]:
        """Number of findings per severity word, plus `open` (errors and warnings) and `broken`."""
        seen = Counter(found.severity.word for found in self.diagnostics)
        counts = {severity.word: seen[severity.word] for severity in Severity}
        return counts | {"open": len(self.open), "broken": len(self.broken)}

    @property
    def exit_status(self) -> int:
        """0 nothing open, 1 gaps, 2 broken register."""
        if self.broken:
            return 2
        return 1 if self.open else 0
