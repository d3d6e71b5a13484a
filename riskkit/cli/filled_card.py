"""A card being filled in: what is offered at each question, how its answer is read, and the result that comes of it.

Where the answers come from, a person or a file, is not known here.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol

from pydantic import ValidationError

from riskkit.cli.adding import inside
from riskkit.cli.typed_answers import (
    NotUnderstood,
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
from riskkit.judgement.cards import Question, first_questions, later_questions
from riskkit.model.records import Part
from riskkit.model.register import Register
from riskkit.model.upkeep import Unit
from riskkit.model.verification import Instrument, Result, Test
from riskkit.text.complaints import complaints
from riskkit.text.evidence_files import look_at_one
from riskkit.units import Quantity, UnitError, read_quantity

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
    table = _FilledCard(
        test, register, folder, today, gaps=[] if known else ["card code"], notes=[note] if note else []
    )
    for question in first_questions(test, register):
        table.put(voice, question)
        if question.field == "on":
            late = (today - table.values["on"]).days if "on" in table.values else 0
            if late > 0:
                reason = voice.why_late(late, lambda text: Understood(read_words(text)))
                table.notes.append(f"entered on {today}, {late} day{'s' * (late > 1)} later, because {reason}")
    for question in later_questions(test, register, tuple(table.values.get("instruments", ()))):
        table.put(voice, question)
    return Entry(_checked(table.fields(voice.rest())), tuple(table.gaps))


@dataclass
class _FilledCard:
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
            case "date":
                return str(self.today)
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
        """The uncertainty of the first instrument that states one of the right kind; a share of the largest reading.

        A share is offered only where one instrument was used: nobody can tell of which of several it is a share.
        """
        readings = self.values.get("readings", {}).get(question.key, ())
        alone = len(self.values.get("instruments", ())) == 1
        for instrument in self.register.all_of(self.values.get("instruments", ()), Instrument):
            try:
                stated = read_quantity(instrument.uncertainty or "")
            except UnitError:
                continue
            if question.quantity == "fraction":
                return ""  # nobody can tell 1 % of the reading from 1 % on the dial
            if stated.kind == question.quantity or _is_difference(stated, question):
                return stated.written
            if stated.kind == "fraction" and readings and alone:
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


def _checked(fields: dict[str, Any]) -> dict[str, Any]:
    """The fields, if they make a result."""
    try:
        Result.model_validate({"id": "R0", **fields})
    except ValidationError as error:
        first = next(complaints(error, Result, fields))
        raise RiskkitError(first.headline, first.help) from None
    return fields
