"""Short codes of prompt cells, written on paper and typed back: what is asked about, and letters that check each other.

A code is `Q-P03-KMT`: the record, then two letters or more that belong to the way, then one that checks the rest, from
the same 23 letters as card codes. Cells of one record whose letters would be the same get longer ones, all of them.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from riskkit.judgement.cards import LETTERS

if TYPE_CHECKING:
    from riskkit.judgement.prompts import Cell

FEWEST_LETTERS = 2
_WHOLE_DEVICE = "ALL"


def with_codes(cells: Sequence[Cell]) -> tuple[Cell, ...]:
    """The cells in the same order, each with a code that no other one has."""
    length = dict.fromkeys(range(len(cells)), FEWEST_LETTERS)
    while True:
        codes = [_code(cell, length[place]) for place, cell in enumerate(cells)]
        seen = Counter(codes)
        twice = [place for place, code in enumerate(codes) if seen[code] > 1]
        if not twice:
            return tuple(replace(cell, code=code) for cell, code in zip(cells, codes, strict=True))
        for place in twice:
            length[place] += 1


def _code(cell: Cell, letters: int) -> str:
    number = int(hashlib.sha256("\0".join(cell.name).encode()).hexdigest(), 16)
    told = ""
    for _ in range(letters):
        number, rest = divmod(number, len(LETTERS))
        told += LETTERS[rest]
    stem = f"Q-{cell.about or _WHOLE_DEVICE}-{told}"
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
