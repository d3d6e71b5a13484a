"""Which words two short texts share, so that a title typed by anyone finds what speaks of the same thing."""

from __future__ import annotations

import re
from types import MappingProxyType

_EMPTY = frozenset(
    re.findall(
        r"\w+",
        "a an and any as at be by can for from has have in into is it its no not of off on one or so that the their then "
        "there this to too up was when which who with without been come comes did do does else everybody get gets go goes "
        "nobody nothing once somebody someone something very were while",
    )
)
_WORD = re.compile(r"[^\W_]+")
_ENDINGS = ("ings", "ing", "ies", "es", "ed", "s")
SHORTEST_STEM = 3
_OTHER_FORMS = MappingProxyType(
    {
        "stuck": "stick", "broken": "break", "lost": "lose", "loses": "lose", "losing": "lose", "worn": "wear", "torn": "tear", "frozen": "freeze",
        "held": "hold", "left": "leave", "ran": "run", "bent": "bend", "burnt": "burn",
    }
)  # fmt: skip
"""Forms of verbs that no ending tells -> the plain form."""


def telling_words(text: str) -> frozenset[str]:
    """The words of a text that say what it is about, without endings such as -s, -ed and -ing.

    >>> sorted(telling_words("The hose is pulled off the port"))
    ['hose', 'port', 'pull']
    """
    return frozenset(_stem(word) for word in _WORD.findall(text.casefold()) if word not in _EMPTY)


def _stem(word: str) -> str:
    if word in _OTHER_FORMS:
        word = _OTHER_FORMS[word]
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= SHORTEST_STEM and not word.endswith("ss"):
            stem = word[: -len(ending)]
            # "stopped" and "stops" meet in "stop".
            if len(stem) > SHORTEST_STEM and stem[-1] == stem[-2] and stem[-1] not in "ls":
                stem = stem[:-1]
            return f"{stem}y" if ending == "ies" else stem
    return word.removesuffix("e") if len(word) > SHORTEST_STEM + 1 else word


def speaks_of(title: str, phrase: str) -> bool:
    """Whether a title holds every telling word of a phrase: "connect the oxygen line" speaks of "oxygen"."""
    wanted = telling_words(phrase)
    return bool(wanted) and wanted <= telling_words(title)
