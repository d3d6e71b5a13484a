"""Short codes of prompt cells, written on paper and typed back: what is asked about, and letters that check each other.

A code is `Q-P03-KMT`: the record, then two letters or more that belong to the way, then one that checks the rest, from
the same 23 letters as card codes. Cells of one record whose letters would be the same get longer ones, all of them.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence

from riskkit.judgement.cards import LETTERS

Name = tuple[str, str, str]
"""What tells a cell from every other one: its grid, what it is about (empty for the device as a whole), its way."""

FEWEST_LETTERS = 2
_WHOLE_DEVICE = "ALL"


def codes_of(names: Sequence[Name]) -> tuple[str, ...]:
    """A code for each cell that no other one has.

    Args:
        names: Of all cells, no two of them the same.
    """
    length = [FEWEST_LETTERS] * len(names)
    while True:
        codes = [_code(name, letters) for name, letters in zip(names, length, strict=True)]
        seen = Counter(codes)
        twice = [place for place, code in enumerate(codes) if seen[code] > 1]
        if not twice:
            return tuple(codes)
        for place in twice:
            length[place] += 1


def _code(name: Name, letters: int) -> str:
    number = int(hashlib.sha256("\0".join(name).encode()).hexdigest(), 16)
    told = ""
    for _ in range(letters):
        number, rest = divmod(number, len(LETTERS))
        told += LETTERS[rest]
    stem = f"Q-{name[1] or _WHOLE_DEVICE}-{told}"
    return stem + _check_letter(stem)


def checks_out(code: str) -> bool:
    """Whether the last letter of a code fits the rest: a wrong one of its letters, or two that changed places, are noticed."""
    plain = plain_code(code)
    return len(plain) > 4 and _check_letter(plain[:-1]) == plain[-1]


def plain_code(code: str) -> str:
    """A code as it is compared: capitals, no blanks."""
    return "".join(code.split()).upper()


def _check_letter(stem: str) -> str:
    # Every weight is a power of 5 modulo 23 and none of two neighbours is the same, as in card codes.
    total = sum(_value(sign) * pow(5, place, 23) for place, sign in enumerate(reversed(stem.upper()), start=1))
    return LETTERS[total % 23]


def _value(sign: str) -> int:
    return LETTERS.index(sign) if sign in LETTERS else ord(sign)
