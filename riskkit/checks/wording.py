"""Rules about words: claims, permissions, advice, grades and personal data that nothing here may carry.

A claim is a word of approval that the project uses for its own device. The same word in a denial, in
a question, or in a term of the trade is none.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, lru_cache

from pydantic import BaseModel

from riskkit.checks import Context, Finding, rule
from riskkit.checks.refused_words import ADVICE, CLAIMS, GRADES, OFFER, PEOPLE, PERMISSIONS
from riskkit.model.references import Path
from riskkit.model.register import Register
from riskkit.model.upkeep import Comment, Waiver


@dataclass(frozen=True, slots=True)
class Claim:
    """A phrase that may not be printed, where it begins in its text, and what to say instead."""

    start: int
    phrase: str
    offer: str


@cache
def _terms() -> re.Pattern[str]:
    """Terms of the trade and general words in which the stem is no claim."""
    return re.compile(
        r"safe[- ](?:state|side|distance|guard\w*|failure fraction)|fail[- ]?safe\w*|safe[- ]?guard\w*|unsafe\w*"
        r"|inherent(?:ly)? safe(?:ty)?(?: design)?|safety (?:margin|factor|glasses|goggles|valve|data sheet|information|by design)"
        r"|certificates? (?:on file|of)|certified (?:equipment|devices?|ventilators?|medical devices?|systems?)(?: and professional care)?"
        r"(?:,? (?:and professional care )?(?:come|comes|is|are|remain|always))? ?(?:first)?"
        r"|information for safety|cleared (?:away|out|up|off)|reduce,? .{0,20}risk|risk (?:policy|matrix|picture)",
        re.IGNORECASE,
    )


@cache
def _denials() -> re.Pattern[str]:
    """Words that turn what follows in the same sentence into a denial, a condition or a wish.

    A day behind `until`, and the label `Claim:`, say nothing about what follows.
    """
    return re.compile(
        r"\b(?:not|no|never|nor|neither|none|nobody|nothing|without|cannot|can't|isn't|aren't|hasn't|haven't|must not|may not|doesn't"
        r"|does not|did not|un\w+ed|instead of|rather than|(?:before|until)(?! \d)|if|whether|would|should|could|must|claims?(?!:)|word|called"
        r"|nicht|kein\w*|nie|ohne|ne|pas|jamais|sans|nunca|sin|não|nunca|sem|ikke|aldri|uten)\b",
        re.IGNORECASE,
    )


_SENTENCE_END = re.compile(r"(?<=[.!?;])\s+|\n\s*\n")


@cache
def _pattern(phrases: tuple[str, ...]) -> re.Pattern[str]:
    return re.compile(r"(?<![\w-])(?:" + "|".join(phrases) + r")(?![\w-])", re.IGNORECASE)


_STEMS = re.compile(
    r"safe|approv|certif|compl[iy]|conform|clear|medical|hospital|clinic|klini|clíni|risk|harmless|proof|guarant|meets?$|gefährl|zugelass"
    r"|zertif|unbedenk|sicher|medizin|homolog|sûr|aprob|segur|danger|peligr|aprov|perigo|godkj|sertif|trygg|ufarl|human|patient|pacient"
    r"|pasient|mensch|volunt|person|people|menn|recommend|titrat|peep|cpap|ipap|epap|fio2|oxygen|treat|ventilat|adult|child|infant|rating"
    r"|score|born|birth|breathed|inhaled|wore|worn|myself|himself|herself|ourselves|@|\bmrs?\b|\bms\b|herr|frau|grade|frivill|level|index"
    r"|ready|releas|suitable|enough|usage|%|complete|done$|trial|tested|first-in"
)
"""Parts of words, in small letters, that any refused phrase has; a text without any of them needs no closer look."""


FIELD_NAMES = frozenset({"people:", "level:", "levels:", "ratings:", "complete:"})
"""Keys of records that have such a part themselves and claim nothing."""


@lru_cache(maxsize=100_000)
def is_suspicious(word: str) -> bool:
    """Asked once per different word: a register has millions of words and few thousand different ones."""
    if word.lstrip("{[") in FIELD_NAMES:
        return False
    return _STEMS.search(word.lower()) is not None


def worth_a_closer_look(text: str) -> bool:
    """Whether any word of a text could belong to a refused phrase."""
    return any(map(is_suspicious, text.split()))


def forbidden_claims(text: str) -> tuple[Claim, ...]:
    """Claims of the project about its own device in a text, with what to say instead."""
    return _found(text, CLAIMS, OFFER)


def permissions(text: str) -> tuple[Claim, ...]:
    """Phrases that permit or suggest use on a person."""
    return _found(text, PERMISSIONS, "name a step on the bench or in public; no step here is use on a person")


def unprintable(text: str) -> tuple[Claim, ...]:
    """Everything in a text that no paper may carry: claims, permissions, advice, grades, data of people."""
    others = (
        (ADVICE, "state it as a test limit of the project, with its owner"),
        (GRADES, "count what is open instead"),
        (PEOPLE, "write roles, and leave people out"),
    )
    if not worth_a_closer_look(text):
        return ()
    found = [*forbidden_claims(text), *permissions(text)]
    for phrases, offer in others:
        found += _found(text, phrases, offer)
    return tuple(sorted(found, key=lambda claim: claim.start))


def _found(text: str, phrases: tuple[str, ...], offer: str) -> tuple[Claim, ...]:
    if not worth_a_closer_look(text):
        return ()
    return tuple(_claims(text, phrases, offer))


def _claims(text: str, phrases: tuple[str, ...], offer: str) -> Iterator[Claim]:
    terms = [match.span() for match in _terms().finditer(text)]
    for start, sentence in _sentences(text):
        if sentence.rstrip().endswith("?"):
            continue
        for match in _pattern(phrases).finditer(sentence):
            begin, end = start + match.start(), start + match.end()
            if any((first <= begin and end <= last) or (first < end and begin < last) for first, last in terms):
                continue
            if _denials().search(sentence[: match.start()]):
                continue
            yield Claim(begin, match[0], offer)


def _sentences(text: str) -> Iterator[tuple[int, str]]:
    start = 0
    for gap in _SENTENCE_END.finditer(text):
        yield start, text[start : gap.start()]
        start = gap.end()
    yield start, text[start:]


def _texts(block: BaseModel, path: Path = ()) -> Iterator[tuple[Path, str]]:
    """Every text inside a record with its path, without dumping the record."""
    for name, value in block.__dict__.items():
        yield from _texts_in(value, (*path, name))


def _texts_in(value: object, path: Path) -> Iterator[tuple[Path, str]]:
    if isinstance(value, str):
        if len(value) > 3:
            yield path, value
    elif isinstance(value, tuple):
        for place, item in enumerate(value):
            yield from _texts_in(item, (*path, place))
    elif isinstance(value, BaseModel):
        yield from _texts(value, path)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from _texts_in(item, (*path, str(key)))


@lru_cache(maxsize=1)
def _suspicious(register: Register, suspects: frozenset[str] | None) -> tuple[tuple[str, Path, str], ...]:
    """(record, path, text) of everything worth a closer look; reviewers' comments may use any word."""
    return tuple(_worth_a_look(register, suspects))


def _worth_a_look(register: Register, suspects: frozenset[str] | None) -> Iterator[tuple[str, Path, str]]:
    if register.device is not None:
        for path, text in _texts(register.device):
            yield "device", path, text
    for record in register.records.values():
        if isinstance(record, Comment | Waiver) or (suspects is not None and record.id not in suspects):
            continue
        for path, text in _texts(record):
            if worth_a_closer_look(text):
                yield record.id, path, text


def _complain(context: Context, phrases: tuple[str, ...], what: str, offer: str) -> Iterator[Finding]:
    for record, path, text in _suspicious(context.register, context.suspects):
        for claim in _claims(text, phrases, offer):
            yield Finding(record, path, f"{record} says `{claim.phrase}`, {what}", offer)
            break


@rule("error")
def forbidden_claim(context: Context) -> Iterator[Finding]:
    """A word of approval that the project uses for its own device.

    Safe, approved, certified, compliant, cleared: nothing on a bench shows any of them, and a stranger
    who reads them may act on them. A limit that was met on one unit on one day can be shown.

    Bad:

        hazards:
          H01:
            title: Overpressure
            condition: single fault
            harm: {text: lung injury, severity: 4}
            notes: with the valve fitted the hood is safe   # <-

    Good:

        hazards:
          H01:
            title: Overpressure
            condition: single fault
            harm: {text: lung injury, severity: 4}
            notes: with the valve fitted the hood stayed below 20 hPa on U01
    """
    yield from _complain(context, CLAIMS, "which is a claim that nothing here can show", OFFER)


@rule("error", breaks=True)
def permits_use_on_a_person(context: Context) -> Iterator[Finding]:
    """A gate, stage or sentence that permits or suggests use on a person.

    No list of bench questions can do that, in any language. It is for those whom the law names.

    Bad:

        gates:
          G01:
            title: ready for patients   # <-
            order: 1

    Good:

        gates:
          G01:
            title: handed over to those who may decide
            order: 1
    """
    yield from _complain(
        context,
        PERMISSIONS,
        "which permits or suggests use on a person",
        "name a step on the bench or in public; the last step is `handed over to those who may decide`",
    )


@rule("error")
def treatment_advice(context: Context) -> Iterator[Finding]:
    """A setting, dose or instruction for a person.

    Only a licensed clinician may judge that. A limit here is the project's own test limit, with its owner.

    Bad:

        hazards:
          H01:
            title: Level too low
            condition: use error
            harm: {text: no effect, severity: 2}
            notes: the recommended pressure is 8 hPa   # <-

    Good:

        hazards:
          H01:
            title: Level too low
            condition: use error
            harm: {text: no effect, severity: 2}
            notes: the bench level under test is 8 hPa
    """
    yield from _complain(
        context, ADVICE, "which reads as advice for a person", "state it as a test limit of the project, with its owner"
    )


@rule("error")
def grade_of_the_device(context: Context) -> Iterator[Finding]:
    """A score, grade or percentage for the device as a whole.

    One number hides the one row that kills. Counts of what is open can be shown.

    Bad:

        device:
          name: bubble bottle
          not_for: [people]
          stop_conditions: [smoke]
          summary: [safety level 9 of 10]   # <-

    Good:

        device:
          name: bubble bottle
          not_for: [people]
          stop_conditions: [smoke]
          summary: [nine tests done and four open]
    """
    yield from _complain(context, GRADES, "which is a grade for the device", "count what is open instead")


@rule("error")
def personal_data(context: Context) -> Iterator[Finding]:
    """A name, picture, reading or health fact of a person.

    Nothing here needs it, it cannot be taken back once published, and a reading taken on a person must not
    have been taken at all.

    Bad:

        observations:
          O01:
            on: 2019-05-02
            text: a volunteer breathed through it for a minute   # <-
            no_hazard_because: example

    Good:

        observations:
          O01:
            on: 2019-05-02
            text: the bench lung took 12 breaths a minute
            no_hazard_because: example
    """
    yield from _complain(
        context, PEOPLE, "which is about a person", "write roles, and take what was read on a person out altogether"
    )
