"""What a person means by an answer: numbers with and without units, decimal commas, days, ids, words.

Nothing is guessed in silence: what was understood is said back, and what can be understood in two ways
is asked back.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from riskkit.checks.wording import forbidden_claims, unprintable
from riskkit.judgement.cards import Question
from riskkit.text.complaints import nearest
from riskkit.units import KINDS, Quantity, UnitError, read_quantity
from riskkit.units.kinds import readable


class NotUnderstood(Exception):
    """An answer that cannot be taken: one sentence, and what to type instead."""

    def __init__(self, headline: str, help: str) -> None:
        super().__init__(headline)
        self.headline = headline
        self.help = help


class TwoMeanings(NotUnderstood):
    """An answer that can be understood in more than one way; `ways` are the ways, each as it would be written out."""

    def __init__(self, typed: str, ways: Sequence[tuple[str, ...]]) -> None:
        shown = [f"{len(way)} x " * (len(way) > 1) + ", ".join(way) for way in ways]
        super().__init__(
            f"`{typed}` can mean {' or '.join(shown)}",
            "separate readings by blanks, and write decimals with a point: 17.2 17.6",
        )
        self.ways = tuple(ways)
        self.shown = tuple(shown)


@dataclass(frozen=True, slots=True)
class Understood:
    """A value for the record, and what was made of the answer where that is not what was typed."""

    value: Any
    said: str = ""


# -- numbers --------------------------------------------------------------------------------------

_NUMBER = r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d+)?"
_BARE = re.compile(_NUMBER)
_SPAN = re.compile(r"\d+\s*(?:h|hr|hours?|m|min|minutes?)\s*\d+\s*(?:m|min|minutes?|s|sec|seconds?)")
_COMMA_INSIDE = re.compile(r"(?<=\d),(?=\d)")
_RUN = re.compile(r"[\d.,]*\d")
_LIKE_THOUSANDS = (
    (re.compile(r"\d{1,3}(?:\.\d{3})+,\d+"), "."),
    (re.compile(r"\d{1,3}(?:,\d{3})+\.\d+"), ","),
)
_MINUS = str.maketrans({"\u2212": "-", "\u2013": "-"})


def read_readings(text: str, question: Question) -> Understood:
    """Readings on one line, separated by blanks, commas or semicolons; a bare number takes the unit of the card.

    Raises:
        NotUnderstood: where a number is missing, or its unit is unknown or of another kind.
        TwoMeanings: where a comma may be a decimal comma or stand between two readings.
    """
    ways = _ways(text, question)
    if len(ways) > 1:
        raise TwoMeanings(text, ways)
    return Understood(list(ways[0]), _said(text, ways[0], question))


def read_one(text: str, question: Question) -> Understood:
    """One number with its unit; a decimal comma is understood, since there is only one number.

    Raises:
        NotUnderstood: where it is none, or more than one.
    """
    ways = _ways(text, question)
    single = [way for way in ways if len(way) == 1]
    if len(single) > 1:
        raise TwoMeanings(text, single)
    if not single:
        raise NotUnderstood(f"`{text}` holds {len(ways[0])} numbers, and one is asked for", "type one number")
    if question.kind == "spread" and read_quantity(single[0][0], question.quantity).value <= 0:
        raise NotUnderstood(f"`{text}` is no uncertainty: it is not above zero", "type the half width at k = 2")
    return Understood(single[0][0], _said(text, single[0], question))


def _ways(text: str, question: Question) -> list[tuple[str, ...]]:
    """Every way in which a line can be understood, each with units written out; at least one."""
    ways: dict[tuple[str, ...], None] = {}
    trouble: NotUnderstood | None = None
    for line in _spellings(text.translate(_MINUS).strip()):
        try:
            ways[_with_units(_pieces(line, question), question)] = None
        except NotUnderstood as error:
            trouble = trouble or error
    if not ways:
        raise trouble or NotUnderstood("no number was typed", _example(question))
    return list(ways)


def _spellings(text: str) -> Iterator[str]:
    """The line with a point in every number and `;` between readings, once for every meaning of its commas."""
    if ";" in text:
        yield ";".join(_COMMA_INSIDE.sub(".", piece) for piece in text.split(";"))
        return
    words = text.split()
    if _COMMA_INSIDE.search(text):
        for pattern, thousands in _LIKE_THOUSANDS:
            if any(pattern.fullmatch(word) for word in words):
                yield text.replace(thousands, "").replace(",", ".")
        decimal = _RUN.sub(_with_decimal_commas, text)
        if decimal != text.replace(",", ";"):
            yield re.sub(",", ";", decimal)
    yield text.replace(",", ";")


def _with_decimal_commas(run: re.Match[str]) -> str:
    """`17,2` as 17.2 and `17,2,17,6` as two such numbers; commas between numbers with a point only separate."""
    whole = run[0].split(",")
    if "." in run[0] or len(whole) % 2:
        return run[0].replace(",", ";")
    return ";".join(f"{before}.{after}" for before, after in zip(whole[::2], whole[1::2], strict=True))


def _pieces(line: str, question: Question) -> list[str]:
    """One piece per reading. `2 min 30 s` is one; `17.2 17.6 hPa` are two."""
    pieces: list[str] = []
    for part in filter(None, (part.strip() for part in line.split(";"))):
        if _is_one(part):
            pieces.append(part)
            continue
        inside: list[str] = []
        for word in part.split():
            if inside and not re.match(r"[-+.]?\d", word):
                inside[-1] += f" {word}"
            else:
                inside.append(word)
        if len({unit for piece in inside if (unit := _unit_of(piece))}) > 1:
            raise NotUnderstood(f"`{part}` holds more than one unit", "separate the readings by commas")
        pieces += inside
    return pieces


def _with_units(pieces: list[str], question: Question) -> tuple[str, ...]:
    if not pieces:
        raise NotUnderstood("no number was typed", _example(question))
    stated = dict.fromkeys(
        "two units" if _SPAN.fullmatch(piece) else unit for piece in pieces if (unit := _unit_of(piece))
    )
    bare = any(_BARE.fullmatch(piece) for piece in pieces)
    if bare and (len(stated) > 1 or "two units" in stated):
        raise NotUnderstood(
            "some numbers have no unit, and it is not clear which one they would take",
            "write the unit behind each number",
        )
    unit = next(iter(stated), question.unit)
    whole = tuple(f"{piece} {unit}" if _BARE.fullmatch(piece) else piece for piece in pieces)
    for piece in whole:
        try:
            read_quantity(piece, question.quantity or None)
        except UnitError as error:
            raise NotUnderstood(error.headline, _unit_meant(_unit_of(piece), question) or error.help) from None
    return whole


def _unit_meant(unit: str, question: Question) -> str:
    """`did you mean hPa?` for a unit that is spelt almost right; empty where it is a unit, or like none."""
    try:
        read_quantity(f"1 {unit}")
    except UnitError:
        pass
    else:
        return ""
    guess = nearest(unit, (question.unit, *(readable(kind.shown_in) for kind in KINDS.values())))
    return f"did you mean `{guess}`?" if guess else ""


def _is_one(text: str) -> bool:
    """Whether a text is one quantity at most: one number, an interval with ±, or a time such as `2 min 30 s`."""
    numbers = sum(re.match(r"[-+.]?\d", word) is not None for word in text.split())
    return numbers <= 1 or "±" in text or _SPAN.fullmatch(text) is not None


def _unit_of(piece: str) -> str:
    found = re.fullmatch(rf"{_NUMBER}\s*(\S.*)?", piece)
    return (found[1] or "").strip() if found else ""


def _said(typed: str, way: tuple[str, ...], question: Question) -> str:
    """`17.2 -> 17.2 hPa`, with the value in the unit of the card where another one was typed."""
    shown = []
    for piece in way:
        quantity = read_quantity(piece, question.quantity or None)
        shown.append(
            f"{piece} (= {_in_unit(quantity, question.unit)})"
            if readable(quantity.unit) != readable(question.unit)
            else piece
        )
    line = ", ".join(shown)
    return "" if line == typed.strip() else f"{typed.strip()} -> {line}"


def _in_unit(quantity: Quantity, unit: str) -> str:
    return f"{quantity.to(unit):.4g} {unit}" if unit else quantity.show()


def _example(question: Question) -> str:
    return f"type a number, with its unit if it is not {question.unit}" if question.unit else "type a number"


# -- other answers --------------------------------------------------------------------------------


def read_day(text: str, today: datetime.date) -> datetime.date:
    """A day of the calendar, not after today.

    Raises:
        NotUnderstood: where it is none, or lies in the future.
    """
    word = text.strip().lower()
    if word in ("today", "yesterday"):
        return today - datetime.timedelta(days=int(word == "yesterday"))
    try:
        day = datetime.date.fromisoformat(word) if len(word) == 10 else None
    except ValueError:
        day = None
    if day is None:
        raise NotUnderstood(f"`{text}` is not a day of the calendar", f"write it as year-month-day, such as {today}")
    if day > today:
        raise NotUnderstood(f"{day} is in the future; today is {today}", "type the day on which it was read")
    return day


def read_count(text: str, most: int | None = None) -> int:
    """A whole number from 0.

    Raises:
        NotUnderstood: where it is none, or above `most`.
    """
    if re.fullmatch(r"\d{1,9}", text.strip()) is None:
        raise NotUnderstood(f"`{text}` is not a whole number from 0", "type how many, such as 20")
    if most is not None and int(text) > most:
        raise NotUnderstood(f"{text.strip()} failures in {most} runs cannot be", "count again")
    return int(text)


def read_choice(text: str, choices: tuple[str, ...]) -> str:
    """One of the choices, by its words or its number in the list.

    Raises:
        NotUnderstood: naming them.
    """
    word = " ".join(text.split())
    if word.isdigit() and 1 <= int(word) <= len(choices):
        return choices[int(word) - 1]
    exact = {choice.casefold(): choice for choice in choices}
    if word.casefold() in exact:
        return exact[word.casefold()]
    guess = nearest(word, choices)
    listed = ", ".join(f"{number}: {choice}" for number, choice in enumerate(choices, start=1))
    raise NotUnderstood(
        f"`{word}` is neither {' nor '.join(choices)}", f"did you mean `{guess}`?" if guess else f"type {listed}"
    )


def read_id(text: str, known: tuple[str, ...], what: str) -> str:
    """An id of the register.

    Raises:
        NotUnderstood: with the nearest spelling.
    """
    id = text.strip()
    if id in known:
        return id
    guess = nearest_id(id, known)
    help = (
        f"did you mean {guess}?"
        if guess
        else f"there is {', '.join(known[:12])}"
        if known
        else f"add one under `{what}s:`"
    )
    raise NotUnderstood(f"there is no {what} {id}", help)


def nearest_id(typed: str, known: tuple[str, ...]) -> str | None:
    """The id that was probably meant: the same but for capitals and leading zeros, or spelt most alike."""

    def plain(id: str) -> str:
        return re.sub(r"\d+", lambda digits: str(int(digits[0])), id.casefold())

    return next((each for each in known if plain(each) == plain(typed)), None) or nearest(typed, known)


_HEALTH = re.compile(
    r"\b(?:patients?(?![ -](?:side|port|end|connect\w*|connection|circuit|valve|simulator|model|interface))|volunteers?|pacientes?|pasient\w*|"
    r"patienten?|probanden?|health(?:y|ier)? (?:person|people|adults?|subjects?|man|woman|child\w*)|pregnan\w+|asthma\w*|copd|diabet\w+|diagnos\w+|"
    r"heart rate|pulse rate|blood (?:pressure|oxygen|gas\w*)|spo2|saturation of (?:his|her|their|the person)|"
    r"(?:his|her|my|their) (?:lungs?|heart|breathing|health|illness|weight|age))\b",
    re.IGNORECASE,
)
_NONE_OF_THEM = re.compile(r"\b(?:no|not|never|without|instead of|rather than)\s+(?:\w+\s+){0,2}$", re.IGNORECASE)


def read_words(text: str) -> str:
    """Words that may stand on paper.

    Raises:
        NotUnderstood: where they claim more than a reading shows, or say something about a person's health.
    """
    words = " ".join(text.split())
    hidden = next((letter for letter in words if not letter.isprintable()), None)
    if hidden is not None:
        raise NotUnderstood(
            f"an invisible character (U+{ord(hidden):04X}) stands in the answer", "type it again without it"
        )
    found = _HEALTH.search(words)
    if found is not None and _NONE_OF_THEM.search(words[: found.start()]) is None:
        raise NotUnderstood(
            f"`{found[0]}` names a person's health or a patient; nothing here is tried on a person",
            "describe the bench: mannequin, test lung, who read what, by role",
        )
    claims = unprintable(words) or forbidden_claims(words)
    if claims:
        raise NotUnderstood(f"`{claims[0].phrase}` cannot be written into a result", claims[0].offer)
    return words
