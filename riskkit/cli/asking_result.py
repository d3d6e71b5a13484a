"""The questions of a card put to a person at a terminal, or to lines on standard input."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from typing import Any

from riskkit.cli.filled_card import AnswersEnded, Reader
from riskkit.cli.opening import print_text, width
from riskkit.cli.output import wrapped
from riskkit.cli.typed_answers import NotUnderstood, TwoMeanings, Understood
from riskkit.diagnostics import RiskkitError
from riskkit.judgement.cards import CardError, Question, check_card, content_of
from riskkit.model.verification import Test

UNKNOWN = ("", "?", "-", "i don't know", "don't know", "dont know", "unknown")
TAKE = ("y", "yes", "=")


def ask_line(question: str) -> str:
    """One line from standard input, without blanks around it.

    Raises:
        AnswersEnded: where there is none.
        RiskkitError: where it cannot be read as text.
    """
    print_text(f"{question}\n  > ")
    try:
        line = sys.stdin.readline()
    except UnicodeDecodeError:
        raise RiskkitError(
            "an answer is not UTF-8; nothing was written", "type it again, or save the file as UTF-8"
        ) from None
    if not sys.stdin.isatty():
        print_text("\n")
    if not line:
        raise AnswersEnded
    return line.strip()


class Dialogue:
    """A person at a terminal, or lines on standard input."""

    def __init__(self, test: Test) -> None:
        print_text(f"{test.id} {test.title}\nEnter where you do not know; y takes what is offered in [brackets].\n\n")
        self.number = 0

    def answer(self, question: Question, offer: str, read: Reader) -> Any | None:
        """Ask until the answer can be taken."""
        self.number += 1
        label = "\n".join(wrapped(f"{self.number}. {_prompt(question, offer)}", width(), "", "   "))
        while True:
            text = ask_line(label)
            if text.lower().replace("\u2019", "'").rstrip(".") in UNKNOWN:
                if question.kind != "date":
                    return None
                tell("a result without its day is none", f"type the day, or y for {offer}")
                continue
            if text.lower() in TAKE:
                if not offer:
                    typed = " or ".join(str(number + 1) for number in range(len(question.choices)))
                    tell(
                        "nothing is offered here that could be taken",
                        f"type {typed or 'the answer'}, or Enter where you do not know",
                    )
                    continue
                text = offer
            found: Understood | None
            try:
                found = read(text)
            except TwoMeanings as two:
                found = self._which(two, read)
            except NotUnderstood as error:
                tell(error.headline, error.help)
                continue
            if found is None:
                continue
            if found.said:
                tell(found.said)
            return found.value

    def _which(self, two: TwoMeanings, read: Reader) -> Understood | None:
        """Which of several meanings; None where the answer is to be asked for again."""
        tell(two.headline, "; ".join(f"type {number} for {way}" for number, way in enumerate(two.shown, start=1)))
        text = ask_line("Which one? (or type it again)")
        if text.isdigit() and 1 <= int(text) <= len(two.ways):
            way = two.ways[int(text) - 1]
            return Understood(list(way), ", ".join(way))
        if not text:
            return None
        try:
            return read(text)
        except NotUnderstood as error:
            tell(error.headline, error.help)
            return None

    def card(self, test: Test, given: str | None) -> tuple[bool, str]:
        """Ask for the code until it is right or left empty."""
        refused, code = "", given
        while True:
            if code is None:
                code = ask_line("Card code, from the top of the card")
            if code.lower() in UNKNOWN:
                return False, refused
            try:
                check_card(code, test.id, content_of(test))
            except CardError as error:
                tell(error.headline, error.help)
                refused = f"read with card {code}, printed before {test.id} was changed" if error.old else ""
                code = None
                continue
            return True, ""

    def why_late(self, days: int, read: Reader) -> str:
        """Ask until there is a reason: nothing is back-dated in silence."""
        while True:
            text = ask_line(
                f"That is {days} day{'s' * (days > 1)} ago. Why is it typed in only now? (goes into the notes)"
            )
            if text.lower() in UNKNOWN:
                tell("a result of an earlier day needs a reason", "type one, such as `card was left at the bench`")
                continue
            try:
                return str(read(text).value)
            except NotUnderstood as error:
                tell(error.headline, error.help)

    def rest(self) -> Mapping[str, Any]:
        """Nothing beyond the card."""
        return {}


def _prompt(question: Question, offer: str) -> str:
    beside = []
    if question.choices:
        beside.append(", ".join(f"{number}: {choice}" for number, choice in enumerate(question.choices, start=1)))
    if question.unit:
        beside.append(f"in {question.unit}")
    if question.hint and question.hint != offer:
        beside.append(question.hint)
    return question.ask + (f" ({'; '.join(beside)})" if beside else "") + (f" [{offer}]" if offer else "")


def tell(headline: str, help: str = "") -> None:
    """Say something about an answer, indented below the question."""
    lines = wrapped(headline, width(), "  ")
    if help:
        lines += wrapped(f"-> {help}", width(), "  ", "     ")
    print_text("\n".join(lines) + "\n")
