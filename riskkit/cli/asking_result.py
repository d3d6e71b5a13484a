"""The questions of a card put to a person, or answered from a YAML mapping; each answer is checked as it comes."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

from pydantic import BaseModel, ValidationError

from riskkit.cli.adding import inside
from riskkit.cli.opening import print_text, width
from riskkit.cli.output import wrapped
from riskkit.cli.typed_answers import (
    NotUnderstood,
    TwoMeanings,
    Understood,
    read_choice,
    read_count,
    read_day,
    read_id,
    read_one,
    read_readings,
    read_words,
)
from riskkit.diagnostics import RiskkitError
from riskkit.judgement.cards import CardError, Question, check_card, content_of, first_questions, later_questions
from riskkit.model.records import Part
from riskkit.model.register import Register
from riskkit.model.upkeep import Unit
from riskkit.model.verification import Instrument, Result, Test
from riskkit.text.complaints import complaints, nearest
from riskkit.text.evidence_files import look_at_one
from riskkit.units import Quantity, UnitError, read_quantity

UNKNOWN = ("", "?", "-", "i don't know", "don't know", "dont know", "unknown")
TAKE = ("y", "yes", "=")
Reader = Callable[[str], Understood]


class AnswersEnded(Exception):
    """The input ended before the card did."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A result as it was typed in: its fields in the order of the record, and what is not known."""

    fields: Mapping[str, Any]
    gaps: tuple[str, ...]


class Voice(Protocol):
    """Where answers come from."""

    def answer(self, question: Question, offer: str, read: Reader) -> Any | None:
        """The value, or None where it is not known. `offer` is taken by `y`."""
        ...

    def card(self, test: Test, given: str | None) -> tuple[bool, str]:
        """Whether a right code was given, and a sentence for the notes."""
        ...

    def why_late(self, days: int, read: Reader) -> str:
        """The reason why a result is typed in so many days later."""
        ...

    def rest(self) -> Mapping[str, Any]:
        """Fields that no question asks for."""
        ...


def answered(
    voice: Voice, test: Test, register: Register, folder: Path, today: datetime.date, card: str | None
) -> Entry:
    """Put all questions of the card.

    Raises:
        RiskkitError: where the answers end in the middle, or do not make a result.
    """
    try:
        return _answered(voice, test, register, folder, today, card)
    except AnswersEnded:
        raise RiskkitError(
            "the answers ended before the card did; nothing was written",
            "answer every question, with an empty line where you do not know",
        ) from None


def _answered(
    voice: Voice, test: Test, register: Register, folder: Path, today: datetime.date, card: str | None
) -> Entry:
    known, note = voice.card(test, card)
    table = _Table(test, register, folder, today, gaps=[] if known else ["card code"], notes=[note] if note else [])
    for question in first_questions(test, register):
        table.put(voice, question)
        if question.field == "on":
            late = (today - table.values["on"]).days if "on" in table.values else 0
            if late > 0:
                reason = voice.why_late(late, lambda text: Understood(read_words(text)))
                table.notes.append(f"entered on {today}, {late} day{'s' * (late > 1)} later, because {reason}")
    for question in later_questions(test, register, tuple(table.values.get("instruments", ()))):
        table.put(voice, question)
    return Entry(_checked(table.fields(voice.rest()), test), tuple(table.gaps))


@dataclass
class _Table:
    """Answers so far; thrown away when the entry is made."""

    test: Test
    register: Register
    folder: Path
    today: datetime.date
    values: dict[str, Any] = field(default_factory=dict)
    gaps: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def put(self, voice: Voice, question: Question) -> None:
        """Put one question and keep its answer, or its name as a gap."""
        if question.field == "on":
            value = None
            while value is None:  # a result without its day is none
                value = voice.answer(question, str(self.today), self.reader(question))
        else:
            value = voice.answer(question, self.offer(question), self.reader(question))
        if value is None:
            if question.field != "notes":
                self.gaps.append(question.name)
        elif question.key:
            self.values.setdefault(question.field, {})[question.key] = value
        else:
            self.values[question.field] = value

    def fields(self, rest: Mapping[str, Any]) -> dict[str, Any]:
        """All fields in the order of the record."""
        merged = {"test": self.test.id, **rest, **self.values}
        for name, value in rest.items():
            if isinstance(value, Mapping) and isinstance(self.values.get(name), Mapping):
                merged[name] = {**self.values[name], **value}
        notes = [*self.notes, *([merged["notes"]] if merged.get("notes") else [])]
        if notes:
            merged["notes"] = "; ".join(notes)
        return {name: merged[name] for name in Result.model_fields if name in merged}

    # -- what is offered ----------------------------------------------------------------------

    def offer(self, question: Question) -> str:
        """What `y` takes; empty where nothing is offered."""
        match question.kind:
            case "unit":
                return self.register.units[0].id if len(self.register.units) == 1 else ""
            case "version":
                return self._fitted(question.key)
            case "instruments":
                return ", ".join(self.test.instruments)
            case "quantity" if question.field == "conditions":
                return question.hint
            case "spread":
                return self._spread(question)
            case _:
                return ""

    def _fitted(self, part: str) -> str:
        """The version that the unit was built with, or else the one that the register states for the part."""
        unit = self.register.get(self.values.get("unit", ""), Unit)
        if unit is not None and part in unit.parts:
            return unit.parts[part]
        found = self.register.get(part, Part)
        return (found.version or "") if found is not None else ""

    def _spread(self, question: Question) -> str:
        """The uncertainty of the first instrument that states one of the right kind; a share of the largest reading."""
        readings = self.values.get("readings", {}).get(question.key, ())
        for instrument in self.register.all_of(self.values.get("instruments", ()), Instrument):
            try:
                stated = read_quantity(instrument.uncertainty or "")
            except UnitError:
                continue
            if stated.kind == question.quantity or _is_difference(stated, question):
                return stated.written
            if stated.kind == "fraction" and readings and question.quantity != "fraction":
                largest = max((read_quantity(each) for each in readings), key=lambda each: abs(each.value))
                return f"{abs(largest.to(question.unit)) * stated.value:.2g} {question.unit}"
        return ""

    # -- how an answer is read ----------------------------------------------------------------

    def reader(self, question: Question) -> Reader:
        """What understands the answer to a question."""
        return lambda text: self._read(question, text)

    def _read(self, question: Question, text: str) -> Understood:
        match question.kind:
            case "readings":
                return read_readings(text, question)
            case "quantity" | "spread":
                return read_one(text, question)
            case "date":
                return Understood(read_day(text, self.today))
            case "unit":
                return Understood(read_id(text, tuple(unit.id for unit in self.register.units), "unit"))
            case "instruments":
                known = tuple(each.id for each in self.register.of(Instrument))
                typed = text.replace(",", " ").replace(";", " ").split()
                return Understood(list(dict.fromkeys(read_id(id, known, "instrument") for id in typed)))
            case "count":
                most = self.values.get("runs") if question.field == "failures" else None
                return Understood(read_count(text, most))
            case "choice":
                return Understood(read_choice(text, question.choices))
            case "file":
                return self._files(text)
            case _:
                words = read_words(text)
                if question.field == "witness" and words.casefold() == self.values.get("operator", "").casefold():
                    raise NotUnderstood(
                        f"{words} did it and cannot have watched too", "name another role, or leave it empty"
                    )
                return Understood(words)

    def _files(self, text: str) -> Understood:
        """Paths and hashes; one path with a comma in it is tried as a whole first."""
        whole = inside(self.folder, text.strip())
        typed = [text] if whole is not None and (self.folder / whole).is_file() else text.split(",")
        found, said = [], []
        for each in filter(None, (each.strip() for each in typed)):
            path = inside(self.folder, each)
            if path is None:
                raise NotUnderstood(
                    f"{each} is not inside the register's folder", "copy it there, such as into evidence/"
                )
            file = look_at_one(self.folder, path)
            if not file.exists:
                why = file.problem or "there is no such file"
                raise NotUnderstood(f"{path} cannot be read: {why}", "type its path inside the register's folder")
            read_words(path)
            found.append({"file": path, "sha256": file.sha256})
            said.append(f"{path}: SHA-256 {file.sha256[:8]}..., {file.size} bytes")
        return Understood(found or None, "; ".join(said))


def _is_difference(stated: Quantity, question: Question) -> bool:
    return question.quantity == "temperature difference" and stated.kind == "temperature" and stated.unit == "K"


def _checked(fields: dict[str, Any], test: Test) -> dict[str, Any]:
    """The fields, if they make a result."""
    try:
        Result.model_validate({"id": "R0", **fields})
    except ValidationError as error:
        first = next(complaints(error, Result, fields))
        raise RiskkitError(first.headline, first.help) from None
    return fields


# -- a person -------------------------------------------------------------------------------------


def ask_line(question: str) -> str:
    """One line from standard input, without blanks around it.

    Raises:
        AnswersEnded: where there is none.
    """
    print_text(f"{question}\n  > ")
    line = sys.stdin.readline()
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
                return None
            if offer and text.lower() in TAKE:
                text = offer
            found: Understood | None
            try:
                found = read(text)
            except TwoMeanings as two:
                found = self._which(two, read)
            except NotUnderstood as error:
                _tell(error.headline, error.help)
                continue
            if found is None:
                continue
            if found.said:
                _tell(found.said)
            return found.value

    def _which(self, two: TwoMeanings, read: Reader) -> Understood | None:
        """Which of several meanings; None where the answer is to be asked for again."""
        _tell(two.headline, "; ".join(f"type {number} for {way}" for number, way in enumerate(two.shown, start=1)))
        text = ask_line("Which one? (or type it again)")
        if text.isdigit() and 1 <= int(text) <= len(two.ways):
            way = two.ways[int(text) - 1]
            return Understood(list(way), ", ".join(way))
        if not text:
            return None
        try:
            return read(text)
        except NotUnderstood as error:
            _tell(error.headline, error.help)
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
                _tell(error.headline, error.help)
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
                _tell("a result of an earlier day needs a reason", "type one, such as `card was left at the bench`")
                continue
            try:
                return str(read(text).value)
            except NotUnderstood as error:
                _tell(error.headline, error.help)

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


def _tell(headline: str, help: str = "") -> None:
    lines = wrapped(headline, width(), "  ")
    if help:
        lines += wrapped(f"-> {help}", width(), "  ", "     ")
    print_text("\n".join(lines) + "\n")


# -- a mapping ------------------------------------------------------------------------------------

EXTRA = ("card", "test", "late_because")


class Given:
    """Answers from a YAML mapping with the names of a result; what cannot be taken is refused at once."""

    def __init__(self, mapping: Mapping[str, Any], test: Test) -> None:
        self.left: dict[str, Any] = {
            name: dict(value) if isinstance(value, dict) else value for name, value in mapping.items()
        }
        known = (*(name for name in Result.model_fields if name != "id"), *EXTRA)
        for name in self.left:
            if name not in known:
                guess = nearest(name, known)
                raise RiskkitError(
                    f"a result has no field `{name}`", f"did you mean `{guess}`?" if guess else "see `riskkit schema`"
                )
        if self.left.pop("test", test.id) != test.id:
            raise RiskkitError(f"the answers are for another test than {test.id}", "name their test behind `record`")

    def answer(self, question: Question, offer: str, read: Reader) -> Any | None:
        """Take the field out of the mapping and read it like a typed answer."""
        raw = self._taken(question)
        if raw is None:
            if question.field == "on":
                raise RiskkitError(
                    "the answers do not say on which day it was read", f"add a line such as `on: {offer}`"
                )
            return None
        try:
            if question.kind == "readings":
                return self._readings(question, raw, read)
            if question.kind == "file":
                return self._files(raw, read)
            text = ", ".join(map(str, raw)) if isinstance(raw, list) else str(raw)
            if isinstance(raw, Mapping):
                raise NotUnderstood(f"`{question.name}` is a group of fields", "write one value")
            found = read(text)
        except NotUnderstood as error:
            raise RiskkitError(f"{question.name}: {error.headline}", error.help) from None
        if found.said:
            _tell(f"{question.name}: {found.said}")
        return found.value

    def _taken(self, question: Question) -> Any | None:
        value = self.left.get(question.field)
        if not question.key:
            return self.left.pop(question.field, None)
        if value is None:
            return None
        if not isinstance(value, dict):
            raise RiskkitError(
                f"`{question.field}` should be a group", f"write `{question.field}: {{{question.key}: ...}}`"
            )
        return value.pop(question.key, None)

    def _readings(self, question: Question, raw: Any, read: Reader) -> list[str]:
        """A line as it is typed, or a list in which each entry is one reading."""
        if not isinstance(raw, list):
            found = read(str(raw))
            if found.said:
                _tell(f"{question.name}: {found.said}")
            return list(found.value)
        readings = []
        for each in raw:
            found = read_one(str(each), question)
            if found.said and isinstance(each, str):
                _tell(f"{question.name}: {found.said}")
            readings.append(str(found.value))
        bare = [str(each) for each in raw if not isinstance(each, str)]
        if bare:
            _tell(f"{question.name}: {' '.join(bare)} -> {', '.join(readings)}")
        return readings

    def _files(self, raw: Any, read: Reader) -> list[dict[str, Any]] | None:
        """Files by path; what they show and a hash that was typed are kept, and the hash has to be right."""
        entries = raw if isinstance(raw, list) else [raw]
        files = []
        for entry in entries:
            given = {"file": entry} if isinstance(entry, str) else dict(entry) if isinstance(entry, Mapping) else {}
            if not isinstance(given.get("file"), str):
                raise NotUnderstood("an evidence file has no path", "write `evidence: evidence/T07.csv`")
            found = read(given["file"]).value[0]
            typed = given.get("sha256")
            if typed is not None and str(typed).lower() != found["sha256"]:
                raise NotUnderstood(
                    f"{found['file']} has another SHA-256 than the answers say", f"it has {found['sha256']}"
                )
            files.append({**given, **found})
        return files or None

    def card(self, test: Test, given: str | None) -> tuple[bool, str]:
        """The code from `--card` or from the mapping; a wrong one is refused."""
        code = given if given is not None else self.left.pop("card", None)
        self.left.pop("card", None)
        if code is None:
            return False, ""
        check_card(str(code), test.id, content_of(test))
        return True, ""

    def why_late(self, days: int, read: Reader) -> str:
        """`late_because`, or else the notes."""
        reason = self.left.pop("late_because", None)
        if reason is None:
            reason = self.left.get("notes") and "see the notes"
        if not reason:
            raise RiskkitError(
                f"the result is {days} day{'s' * (days > 1)} old, and the answers do not say why it is typed in only now",
                "add a line such as `late_because: card was left at the bench`",
            )
        try:
            return str(read(str(reason)).value)
        except NotUnderstood as error:
            raise RiskkitError(error.headline, error.help) from None

    def rest(self) -> Mapping[str, Any]:
        """What no question of the card asks for: other readings, what it replaces, and so on; its words are read too."""
        self.left.pop("late_because", None)
        rest = {name: value for name, value in self.left.items() if value not in (None, {}, [])}
        try:
            for text in _texts(rest):
                read_words(text)
        except NotUnderstood as error:
            raise RiskkitError(error.headline, error.help) from None
        return rest


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for key, item in value.items():
            yield str(key)
            yield from _texts(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from _texts(item)
    elif isinstance(value, BaseModel):
        yield from _texts(value.model_dump())
