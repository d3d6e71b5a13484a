"""How a register's own words reach paper: made visible, cut to length, stripped of claims.

A register is untrusted text. Control characters and direction overrides are shown as what they are,
endless texts are cut with a note, and a sentence that claims what a bench register cannot claim is
replaced and remembered for the open list. Markup is escaped later, by the templates.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from riskkit.checks.wording import Claim

LONGEST = 4000
"""Characters of one text that are printed; the rest stands in the attached register."""

_QUOTED = re.compile(r"`[^`]*`")

LONGEST_NAME = 120
"""Characters of a title outside its own entry."""

JOINERS = frozenset("\u200c\u200d\u00ad\u2060")
"""Format characters that belong to ordinary writing."""

Claims = Callable[[str], Sequence[Claim]]
"""The wording check: text -> every phrase that may not be printed, where it begins, and what to say instead."""


@dataclass(frozen=True, slots=True)
class RemovedClaim:
    """A sentence that was not printed: where it stood, the words that forbid it, what could be said instead."""

    where: str
    phrase: str
    offer: str


class Teller:
    """Prepares every text of a register for print and keeps a list of the claims it took out."""

    def __init__(self, claims: Claims) -> None:
        self._claims = claims
        self._removed: dict[RemovedClaim, None] = {}
        self._said: dict[tuple[str, str], str] = {}

    @property
    def removed(self) -> tuple[RemovedClaim, ...]:
        """Claims taken out so far, in the order in which they were met."""
        return tuple(self._removed)

    def __call__(self, text: object, where: str) -> str:
        """The text as it is printed; `where` names the record, for the open list."""
        key = (str(text), where)
        if key not in self._said:
            self._said[key] = self._without_claims(shown(key[0]), where)
        return self._said[key]

    def name(self, text: object, where: str) -> str:
        """The title of a record as it is named elsewhere than in its own entry: no longer than a line or two."""
        said = self(text, where)
        return said if len(said) <= LONGEST_NAME else f"{said[:LONGEST_NAME].rstrip()} …"

    def finding(self, text: str, where: str) -> str:
        """A sentence of riskkit's own, which may quote the register between backticks."""
        quoted = shown(text)
        outside = _QUOTED.sub(lambda found: "`" + "·" * (len(found[0]) - 2) + "`", quoted)
        return quoted if not self._claims(outside) else self._without_claims(quoted, where)

    def each(self, texts: Sequence[object], where: str) -> tuple[str, ...]:
        """Several texts of one record."""
        return tuple(self(text, where) for text in texts)

    def maybe(self, text: object | None, where: str) -> str | None:
        """A text that may be missing."""
        return None if text is None else self(text, where)

    def _without_claims(self, text: str, where: str) -> str:
        found = self._claims(text)
        if not found:
            return text
        pieces: list[str] = []
        end = 0
        for start, stop in _sentences(text):
            inside = [claim for claim in found if start <= claim.start < stop]
            if not inside:
                continue
            for claim in inside:
                self._removed[RemovedClaim(where, claim.phrase, claim.offer)] = None
            words = ", ".join(dict.fromkeys(claim.phrase for claim in inside))
            pieces.extend((text[end:start], f"[claim removed: {words}]"))
            end = stop
        return "".join((*pieces, text[end:]))


def _sentences(text: str) -> list[tuple[int, int]]:
    """Start and end of each sentence, without the blank that follows it."""
    return [match.span() for match in re.finditer(r"\S(?:[^.;!?]|[.;!?](?=\S))*[.;!?]*", text)]


def shown(text: str) -> str:
    """Text in which nothing is invisible and nothing is endless."""
    cut = text if len(text) <= LONGEST else text[:LONGEST].rstrip()
    visible = "".join(_letter(letter) for letter in cut)
    if len(text) > LONGEST:
        return f"{visible} … ({len(text) - len(cut)} further characters stand in the attached register)"
    return visible


def _letter(letter: str) -> str:
    if letter in "\n\t":
        return " "
    kind = unicodedata.category(letter)
    hidden = kind in ("Cc", "Cs", "Zl", "Zp") or (kind == "Cf" and letter not in JOINERS)
    if hidden or ord(letter) & 0xFFFE == 0xFFFE:
        return f"[U+{ord(letter):04X}]"
    return letter


# -- numbers and lists in words -----------------------------------------------------------------------

_SUPERSCRIPTS = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def probability(value: Fraction) -> str:
    """A probability as an engineer writes it: 0.25, 2.5×10⁻³."""
    if value == 0:
        return "0"
    if value >= Fraction(1, 100):
        return f"{float(value):.3g}"
    mantissa, exponent = f"{float(value):.2e}".split("e")
    mantissa = mantissa.rstrip("0").rstrip(".")
    power = f"10{str(int(exponent)).translate(_SUPERSCRIPTS)}"
    return power if mantissa == "1" else f"{mantissa}×{power}"


def probability_range(low: Fraction, high: Fraction) -> str:
    """One probability, or both ends of a range."""
    return probability(low) if low == high else f"{probability(low)} to {probability(high)}"


def levels(first: str, last: str) -> str:
    """One level, or both ends of a range."""
    return first if first == last else f"{first} to {last}"


def counted(count: int, one: str, many: str = "") -> str:
    """A number with its noun: 1 hazard, 36 hazards."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def listed(words: Sequence[str]) -> str:
    """Words joined as they are read aloud: a, b and c."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def seconds(value: float) -> str:
    """Seconds without needless digits: 66 s, 0.5 s."""
    return f"{value:.3g} s" if value < 100 else f"{value:.0f} s"
