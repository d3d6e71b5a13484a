"""What a plain word in YAML 1.2 stands for: true, false, null, a number, or simply text.

`no`, `yes`, `on`, `010`, `12:30`, `1_000` and dates are text, as a person expects. Quoted words are
always text and never come here.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

CONSTANTS: Mapping[str, bool | None] = MappingProxyType(
    dict.fromkeys(("", "~", "null", "Null", "NULL"), None)
    | dict.fromkeys(("true", "True", "TRUE"), True)
    | dict.fromkeys(("false", "False", "FALSE"), False)
)
"""Words with a meaning of their own; an empty value is null."""

MAY_BE_MORE_THAN_TEXT = frozenset("0123456789+-.~nNtTfF") | {""}
"""First characters of words that may be something else than text."""

_INTEGER = re.compile(r"[-+]?(?:0|[1-9][0-9]{0,39})\Z").match
_OCTAL = re.compile(r"0o[0-7]{1,30}\Z").match
_HEXADECIMAL = re.compile(r"0x[0-9a-fA-F]{1,30}\Z").match
_FLOAT = re.compile(r"[-+]?(?:\.[0-9]+|(?:0|[1-9][0-9]*)(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]{1,4})?\Z").match
_NO_NUMBER = re.compile(r"[-+]?\.(?:inf|Inf|INF)\Z|\.(?:nan|NaN|NAN)\Z").match

Scalar = str | int | float | bool | None


class NotANumber(ValueError):
    """An infinite or undefined number, which no reading is."""


@lru_cache(maxsize=4096)
def meaning(word: str) -> Scalar:
    """The value of a plain word.

    Raises:
        NotANumber: for `.inf`, `.nan` and numbers too large to be held.
    """
    if word in CONSTANTS:
        return CONSTANTS[word]
    if _INTEGER(word):
        return int(word)
    if _FLOAT(word):
        value = float(word)
        if value in (float("inf"), float("-inf")):
            raise NotANumber(word)
        return value
    if _OCTAL(word):
        return int(word[2:], 8)
    if _HEXADECIMAL(word):
        return int(word[2:], 16)
    if _NO_NUMBER(word):
        raise NotANumber(word)
    return word
