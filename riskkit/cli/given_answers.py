"""The questions of a card answered from a YAML mapping with the names of a result."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from typing import Any

from riskkit.cli.asking_result import tell
from riskkit.cli.filled_card import Reader
from riskkit.cli.typed_answers import NotUnderstood, read_one, read_words
from riskkit.diagnostics import RiskkitError
from riskkit.judgement.cards import Question, check_card, content_of
from riskkit.model.verification import Result, Test
from riskkit.text.complaints import nearest

EXTRA = ("card", "test", "late_because")


class Given:
    """Answers from a YAML mapping with the names of a result; what cannot be taken is refused at once."""

    def __init__(self, mapping: Mapping[str, Any], test: Test) -> None:
        self.test = test
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
            tell(f"{question.name}: {found.said}")
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
                tell(f"{question.name}: {found.said}")
            return list(found.value)
        readings = []
        for each in raw:
            found = read_one(str(each), question)
            if found.said and isinstance(each, str):
                tell(f"{question.name}: {found.said}")
            readings.append(str(found.value))
        bare = [str(each) for each in raw if not isinstance(each, str)]
        if bare:
            tell(f"{question.name}: {' '.join(bare)} -> {', '.join(readings)}")
        return readings

    def _files(self, raw: Any, read: Reader) -> list[dict[str, Any]] | None:
        """Files by path; what they show and a hash that was typed are kept, and the hash has to be right."""
        entries = raw if isinstance(raw, list) else [raw]
        files = []
        for entry in entries:
            given = {"file": entry} if isinstance(entry, str) else dict(entry) if isinstance(entry, Mapping) else {}
            if not isinstance(given.get("file"), str):
                raise NotUnderstood("an evidence file has no path", "write `evidence: evidence/T07.csv`")
            for text in _texts(given):
                read_words(text)
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
        self._refuse_misspelt(rest)
        try:
            for text in _texts(rest):
                read_words(text)
        except NotUnderstood as error:
            raise RiskkitError(error.headline, error.help) from None
        return rest

    def _refuse_misspelt(self, rest: Mapping[str, Any]) -> None:
        """A reading that is nearly called like a limit of the test is that reading, misspelt."""
        asked = tuple(limit.what for limit in self.test.limit if limit.what)
        for field in ("readings", "uncertainty"):
            group = rest.get(field)
            for name in group if isinstance(group, Mapping) else ():
                near = difflib.get_close_matches(str(name), asked, n=1, cutoff=0.85)
                if near and not _goes_on(str(name), near[0]):
                    raise RiskkitError(f"{field}: the test has no `{name}`", f"did you mean `{near[0]}`?")


def _goes_on(name: str, limit: str) -> bool:
    """`lower level on the display` is another reading of `lower level`, and no slip of the pen."""
    return name.casefold().startswith(f"{limit.casefold()} ")


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
