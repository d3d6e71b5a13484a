"""Signatures that carry a fingerprint of what was signed: each is void when that says something else.

A signature without a fingerprint is taken as it stands; one with a wrong fingerprint counts as not given, everywhere.
What counts is the text, the numbers and the signature itself (who, when, which answer), whatever they look like in the file.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from pydantic import BaseModel

from riskkit.judgement.fingerprints import digest_of_all
from riskkit.model.fields import Record, plain_words
from riskkit.model.register import Register
from riskkit.model.upkeep import Comment, Deviation, Gate, GateAnswer, Sentence, StepCheck, Unit
from riskkit.model.verification import Assumption

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Signature:
    """One signature.

    Attributes:
        record: The record in which it stands.
        path: From the record to its fingerprint.
        what: What it is, as the beginning of a sentence: `the confirmation of A01`.
        by: Who signed, by role; "" where nobody is named.
        stored: The fingerprint that stands beside it; None where there is none.
        now: Fingerprint of what it would sign today; "" where that is no longer there.
    """

    record: str
    path: Path
    what: str
    by: str
    stored: str | None
    now: str

    @property
    def is_void(self) -> bool:
        """Whether something else was signed than stands there now."""
        return self.stored is not None and self.stored.casefold() != self.now


def signatures(register: Register) -> tuple[Signature, ...]:
    """Every signature that can carry a fingerprint, in the order of the register."""
    return tuple(found for record in register.records.values() for found in signatures_of(record, register))


def signatures_of(record: Record, register: Register) -> Iterator[Signature]:
    """The signatures of one record."""
    match record:
        case Assumption() if record.confirmed is not None:
            now = digest_of_all(["assumption", record.text, record.value, record.owner, record.confirmed])
            what = f"the confirmation of {record.id}"
            yield Signature(record.id, ("fingerprint",), what, record.owner or "", record.fingerprint, now)
        case Sentence():
            yield from _of_sentence(record, register)
        case Comment() if record.disposition is not None:
            said = [record.text, record.weight, record.by, sorted(record.about)]
            done = record.disposition
            now = digest_of_all(["comment", said, _unsigned(done)])
            path = ("disposition", "fingerprint")
            yield Signature(record.id, path, f"the answer to {record.id}", done.owner or "", done.fingerprint, now)
        case Unit():
            yield from _of_unit(record, register)


def _unsigned(block: BaseModel) -> BaseModel:
    return block.model_copy(update={"fingerprint": None})


def _of_sentence(sentence: Sentence, register: Register) -> Iterator[Signature]:
    """A reader of a translation has compared it with the first language of the device sheet."""
    languages = register.device.languages if register.device is not None else ()
    first = sentence.text.get(languages[0]) if languages else None
    for language, reader in sentence.reviewed.items():
        if language in sentence.text:
            now = digest_of_all(["sentence", language, sentence.text[language], first, reader])
            stored = sentence.fingerprints.get(language)
            what = f"the reading of {sentence.id} in {language}"
            yield Signature(sentence.id, ("fingerprints", language), what, reader, stored, now)


def _of_unit(unit: Unit, register: Register) -> Iterator[Signature]:
    for place, check in enumerate(unit.checks):
        if check.by is not None or check.second is not None:
            spot: Path = ("checks", place, "fingerprint")
            what = f"the signature under `{check.step}` of {unit.id}"
            by = " and ".join(role for role in (check.by, check.second) if role is not None)
            yield Signature(unit.id, spot, what, by, check.fingerprint, digest_of_all(["check", _unsigned(check)]))
    for place, deviation in enumerate(unit.deviations):
        judged = deviation.judged
        if judged is not None:
            now = digest_of_all(["deviation", deviation.text, sorted(deviation.parts), _unsigned(judged)])
            spot = ("deviations", place, "judged", "fingerprint")
            what = f"the judgement on `{deviation.text}` of {unit.id}"
            yield Signature(unit.id, spot, what, judged.by, judged.fingerprint, now)
    for place, answer in enumerate(unit.answers):
        spot = ("answers", place, "fingerprint")
        what = f"the answer of {unit.id} to `{answer.ask}`"
        yield Signature(unit.id, spot, what, answer.by, answer.fingerprint, _asked(answer, register))


def _asked(answer: GateAnswer, register: Register) -> str:
    gate = register.get(answer.gate, Gate)
    for question in gate.questions if gate is not None else ():
        if plain_words(question.ask) == plain_words(answer.ask):
            return digest_of_all(["answer", question, _unsigned(answer)])
    return ""


def without_void(register: Register, void: Iterable[Signature]) -> Register:
    """The register as if void signatures had not been given."""
    by_record: dict[str, set[Path]] = {}
    for each in void:
        by_record.setdefault(each.record, set()).add(each.path)
    if not by_record:
        return register
    records = {
        id: _without(record, by_record[id]) if id in by_record else record for id, record in register.records.items()
    }
    return Register(records, register.device, register.policy, register.broken)


def _without(record: Record, paths: set[Path]) -> Record:
    match record:
        case Assumption():
            return record.model_copy(update={"confirmed": None})
        case Sentence():
            gone = {path[1] for path in paths}
            kept: Mapping[str, str] = {word: by for word, by in record.reviewed.items() if word not in gone}
            return record.model_copy(update={"reviewed": kept})
        case Comment():
            return record.model_copy(update={"disposition": None})
        case Unit():
            return record.model_copy(
                update={
                    "checks": tuple(
                        _unsigned_check(each) if ("checks", place, "fingerprint") in paths else each
                        for place, each in enumerate(record.checks)
                    ),
                    "deviations": tuple(
                        _unjudged(each) if ("deviations", place, "judged", "fingerprint") in paths else each
                        for place, each in enumerate(record.deviations)
                    ),
                    "answers": tuple(
                        each
                        for place, each in enumerate(record.answers)
                        if ("answers", place, "fingerprint") not in paths
                    ),
                }
            )
        case _:
            return record


def _unsigned_check(check: StepCheck) -> StepCheck:
    return check.model_copy(update={"by": None, "second": None})


def _unjudged(deviation: Deviation) -> Deviation:
    return deviation.model_copy(update={"judged": None})
