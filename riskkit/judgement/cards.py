"""The card of a test: the code on it, and the questions in the order in which they are answered.

A code is the test's id and two letters, `T07-KM`. The first letter checks that what was typed is what was
printed; the second belongs to what the test says, so that a card printed before the test was changed is
noticed. Both come from 23 letters without I, O and Q, which are taken for 1 and 0.

How the check letter is worked out: every character of the id has a value from 0 to 22 and a weight, from
the right 5^2, 5^3, ... modulo 23; the letter of the content has its own value and the weight 5; the check
letter's value is the sum modulo 23. Five generates all numbers from 1 to 22, so no weight is 0 and no two
neighbours have the same weight: a wrong digit, a wrong letter of either kind, and two swapped neighbours
with different values always change the sum. Twenty-three letters cannot tell apart 39 characters (26
letters, 10 digits, 3 signs): the pairs that share a value (L and 0, M and 1, ... U and 9; A and X, B and Y,
C and Z) do not look alike, and `check_card` catches them all the same, because it knows which test is meant.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from riskkit.diagnostics import RiskkitError
from riskkit.model.fields import Limit
from riskkit.model.records import Hazard
from riskkit.model.register import Register
from riskkit.model.verification import Instrument, Result, Test

LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ"
"""The 23 letters of a code, in the order of their values."""

_SIGNS = ".-_"
_CODE = re.compile(rf"(?P<test>[A-Z][A-Z0-9]*(?:[._-][A-Z0-9]+)*)-(?P<letters>[{LETTERS}]{{1,2}})")
_BASE, _MODULUS = 5, len(LETTERS)
_ON_THE_CARD = frozenset({"title", "claim", "steps", "stop", "limit", "conditions", "statistic", "plan", "record"})


class CardError(RiskkitError, ValueError):
    """A code that is not that of the card: one sentence, and what to do. `old` is true for one of an older card."""

    def __init__(self, headline: str, help: str, *, old: bool = False) -> None:
        super().__init__(headline, help)
        self.old = old


def content_of(test: Test) -> str:
    """SHA-256 over everything that a card prints of a test: another one where the card would read differently."""
    said = test.model_dump(mode="json", include=set(_ON_THE_CARD), exclude_defaults=True)
    said |= {"instruments": sorted(test.instruments), "configuration": sorted(test.configuration)}
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()


def card_code(test_id: str, content: str = "") -> str:
    """The code of a card.

    Args:
        test_id: Id of the test; small and capital letters count as the same.
        content: What `content_of` says of the test; empty for a code with the check letter alone.
    """
    if not content:
        return f"{test_id}-{_check_letter(test_id, '')}"
    letter = _content_letter(content)
    return f"{test_id}-{_check_letter(test_id, letter)}{letter}"


def verify(code: str) -> bool:
    """Whether a code agrees with itself, whatever test it belongs to."""
    found = _CODE.fullmatch(_plain(code))
    return found is not None and _check_letter(found["test"], found["letters"][1:]) == found["letters"][0]


def check_card(code: str, test_id: str, content: str) -> None:
    """Refuse a code that is not that of the card of this very test as it is now.

    Every single wrong character and every two swapped neighbours are refused. Of changes of the test, 22
    in 23 are noticed: the content has one letter.

    Raises:
        CardError: saying whether the code is mistyped, of another test, or of an older card.
    """
    found = _CODE.fullmatch(_plain(code))
    if found is None or len(found["letters"]) != 2:
        raise CardError(
            f"`{code}` is no card code: that is the test and two letters, without I, O and Q",
            f"type what stands at the top of the card, such as {test_id}-{LETTERS[3]}{LETTERS[7]}",
        )
    check, letter = tuple(found["letters"])
    if found["test"] != _plain(test_id):
        wrong = not verify(code)
        what = "the check letter does not fit either" if wrong else "it is the code of another test"
        raise CardError(f"`{code}` is not a card of {test_id}: {what}", "look at the top of the card again")
    if check != _check_letter(test_id, letter):
        raise CardError(f"`{code}`: the check letter is wrong", "look at the top of the card and type its code again")
    if letter != _content_letter(content):
        raise CardError(
            f"the card {code} was printed before {test_id} was changed: its limit, steps or stop may be others now",
            f"compare it with `riskkit record {test_id} --sheet`; what was read can be entered without a code",
            old=True,
        )


def _plain(code: str) -> str:
    return "".join(code.split()).upper()


def _content_letter(content: str) -> str:
    return LETTERS[int(hashlib.sha256(content.encode()).hexdigest(), 16) % _MODULUS]


def _check_letter(test_id: str, letter: str) -> str:
    total = LETTERS.index(letter) * _BASE if letter else 0
    for place, character in enumerate(reversed(_plain(test_id)), start=2):
        total += _value(character) * pow(_BASE, place, _MODULUS)
    return LETTERS[total % _MODULUS]


def _value(character: str) -> int:
    """Digits 0 to 9, letters from 12, signs from 15; modulo 23 only characters that look different meet."""
    if character.isdigit():
        return int(character)
    if character in _SIGNS:
        return 15 + _SIGNS.index(character)
    return (12 + ord(character) - ord("A")) % _MODULUS


# -- the questions --------------------------------------------------------------------------------

Kind = Literal[
    "card",
    "date",
    "unit",
    "version",
    "instruments",
    "words",
    "quantity",
    "readings",
    "spread",
    "count",
    "choice",
    "file",
]


@dataclass(frozen=True, slots=True)
class Question:
    """One line of the card.

    Attributes:
        field: Field of the result.
        key: Key inside the field, where that is a group: a part, a setting, what is read.
        ask: The question, without its question mark where it is a label.
        kind: What sort of answer is expected.
        quantity: Kind of quantity, such as "pressure"; empty where there is none.
        unit: Unit that is printed in the box, and that a bare number takes.
        choices: What may be answered, for a choice.
        hint: What is asked for or known already, printed beside the question.
    """

    field: str
    key: str
    ask: str
    kind: Kind
    quantity: str = ""
    unit: str = ""
    choices: tuple[str, ...] = ()
    hint: str = ""

    @property
    def name(self) -> str:
        """What a gap is called: the field, with its key where it has one."""
        return f"{self.field}: {self.key}" if self.key else self.field


LEAST_BOXES, MOST_BOXES = 3, 20
"""Boxes for readings on a card."""

OUTCOMES = ("as it should be", "not as it should be")
LIMBS = ("both limbs", "one limb")


def first_questions(test: Test, register: Register) -> Iterator[Question]:
    """What is asked before anything is read: day, unit, what is fitted, instruments."""
    yield Question("on", "", "Day of the reading", "date")
    yield Question("unit", "", "Unit", "unit")
    for part in test.configuration:
        yield Question("configuration", part, f"{part} {register.title_of(part)}: version or lot fitted", "version")
    if test.instruments or any(limit.quantities for limit in test.limit):
        yield Question("instruments", "", "Instruments used", "instruments", hint=", ".join(test.instruments))


def later_questions(test: Test, register: Register, instruments: tuple[str, ...]) -> Iterator[Question]:
    """What is asked with the readings, in the order of the card, once the instruments are known."""
    modes = reading_modes(register, instruments)
    if modes:
        yield Question("reading_mode", "", "How was it read", "choice", choices=modes)
    for name, setting in test.conditions.items():
        yield Question(
            "conditions", name, f"Setting: {name}", "quantity", setting.kind, setting.unit, hint=setting.written
        )
    yield Question("room", "temperature", "Room temperature", "quantity", "temperature", "°C")
    for limit in test.limit:
        yield from _readings(limit)
    if test.plan is not None and test.plan.runs is not None:
        yield Question("runs", "", "Runs in all", "count", hint=f"the plan asks for {test.plan.runs}")
        yield Question("failures", "", "Runs that failed", "count")
    shows = "; ".join(limit.shows for limit in test.limit if limit.shows is not None)
    if shows:
        yield Question("inspection", "", "What the inspection found", "choice", choices=OUTCOMES, hint=shows)
    if is_fault_injection(test, register):
        yield Question("fault_shown", "", "How was it seen that the fault was present", "words")
    yield Question("operator", "", "Who did it, by role", "words")
    yield Question("witness", "", "Who watched, by role", "words")
    yield Question("evidence", "", "Evidence file, path inside the register", "file")
    yield Question("observed", "", "What was seen, in words", "words", hint="; ".join(test.record))
    yield Question("notes", "", "Anything else", "words")


def all_questions(test: Test, register: Register) -> tuple[Question, ...]:
    """The whole card, with the instruments that the test names."""
    return (*first_questions(test, register), *later_questions(test, register, test.instruments))


def reading_boxes(test: Test) -> int:
    """Boxes for readings on the card: one per unit or run of the plan, where that is a number that fits on a card."""
    plan = test.plan
    wanted = (plan.units if plan.units and plan.units > 1 else plan.runs) if plan is not None else None
    return max(LEAST_BOXES, min(MOST_BOXES, wanted or LEAST_BOXES))


def _readings(limit: Limit) -> Iterator[Question]:
    ends = limit.quantities
    if not ends:
        return
    what, kind, unit = limit.what or "reading", ends[0].kind, ends[0].unit
    yield Question("readings", what, f"Readings: {what}", "readings", kind, unit)
    # An uncertainty of 1 degree is a difference, not a temperature.
    spread, spread_unit = ("temperature difference", "K") if kind == "temperature" else (kind, unit)
    yield Question("uncertainty", what, f"Expanded uncertainty (k = 2): {what}", "spread", spread, spread_unit)


def reading_modes(register: Register, instruments: tuple[str, ...]) -> tuple[str, ...]:
    """Ways of reading among which a result has to say the one that was used; a U-tube has two limbs."""
    modes: dict[str, None] = {}
    for instrument in register.all_of(instruments, Instrument):
        stated: tuple[str, ...] = instrument.reading_modes
        if not stated and re.search(r"\bu[- ]?tube", instrument.title, re.IGNORECASE):
            stated = LIMBS
        modes |= dict.fromkeys(stated)
    return tuple(modes)


_FAULTS = re.compile(
    r"\b(?:fault|inject(?:ed)?(?! ?(?:gas|carbon|oxygen|co2|\d))|pull(?:ed)?(?![- ]off)|unplug|plugg?(?:ed)?|disconnect|cut off|disable|clamp|kink|block(?:ed)?|tape[ds]?|stuck|freeze|"
    r"short[- ]circuit|hose off|drop ?out|power loss|outlet (?:shut|covered))",
    re.IGNORECASE,
)


def is_fault_injection(test: Test, register: Register) -> bool:
    """Whether a test sets a fault: an earlier result says how it was shown, a single-fault hazard names the test
    and its words set one, or its title does."""
    if any(result.test == test.id and result.fault_shown for result in register.of(Result)):
        return True
    tried = (hazard for hazard in register.of(Hazard) if test.id in hazard.tests)
    single = any("single fault" in hazard.condition for hazard in tried)
    words = " ".join((test.title, *test.steps)) if single else test.title
    return _FAULTS.search(words) is not None
