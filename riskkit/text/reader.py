"""A folder of YAML files becomes a register; everything wrong with the files becomes a finding.

This file knows sections, ids and references. It must not know what a good register is: that is
the business of the rules.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ValidationError

from riskkit.diagnostics import Diagnostic, Mend, Place, Related, Report, Severity
from riskkit.model.fields import Record
from riskkit.model.policy import Policy
from riskkit.model.records import Control, Device, Hazard
from riskkit.model.references import Reference
from riskkit.model.register import SECTIONS, SINGLES, Register
from riskkit.model.verification import Test
from riskkit.text.complaints import alike, complaints, listed, nearest, offered
from riskkit.text.documents import parse_snapshot
from riskkit.text.evidence_files import EvidenceFile, look_at, named_files
from riskkit.text.policies import policy_data
from riskkit.text.positions import Document, without_garbage_collector
from riskkit.text.snapshot import Snapshot

if TYPE_CHECKING:
    from riskkit.model.catalog import Entry

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Home:
    """Where a record stands: its document and the path to it."""

    document: Document
    path: Path


@dataclass(frozen=True)
class Places:
    """File, line and column of every record and field, looked up only when asked for."""

    snapshot: Snapshot
    homes: Mapping[str, Home] = field(default_factory=dict)
    whole: Place = field(default_factory=lambda: Place(""))
    """Where a finding about the register as a whole is shown."""

    def mentioning(self, wanted: Callable[[str], bool]) -> frozenset[str]:
        """Records in whose lines any word of the file passes a test.

        A large register has millions of words and few thousand different ones: the test is asked once per
        different word of a file, and only the records around words that pass are named. A word with a
        backslash may hide any other, and always counts.
        """
        homes: dict[str, list[tuple[str, Home]]] = defaultdict(list)
        for id, home in self.homes.items():
            homes[home.document.name].append((id, home))
        found: set[str] = set()
        for name, residents in homes.items():
            words = [word for word in residents[0][1].document.words if "\\" in word or wanted(word)]
            if words:
                text = self.snapshot.files[name].decode("utf-8", "replace")
                starts = sorted((_place(home, (), True).line, id) for id, home in residents)
                found.update(_records_around(text, words, starts))
        return frozenset(found)

    def of(self, record: str, path: Path = (), *, key: bool = False) -> Place:
        """The place of a field, or of the nearest thing around it that was typed.

        Args:
            record: Id of the record; "device" or "policy" for the two single blocks; "section of ID" for the
                name of the section in which a record stands; anything else is the register as a whole.
            path: From the record to the field. A list index before a single value is stepped over.
            key: True for the place of the field's name instead of its value.
        """
        if record.startswith("section of "):
            home = self.homes.get(record.removeprefix("section of "))
            return home.document.place(home.path[:1], key=True) if home is not None else self.whole
        home = self.homes.get(record)
        if home is None:
            return self.whole
        return _place(home, path, key)


def _records_around(text: str, words: list[str], starts: list[tuple[int, str]]) -> Iterator[str]:
    """Ids of the records in whose lines any of the words stands; `starts` are their first lines, in order."""
    line_ends = [end.start() for end in re.finditer("\n", text)]
    first_lines = [line for line, _ in starts]
    for word in words:
        at = text.find(word)
        while at >= 0:
            line = bisect_left(line_ends, at) + 1
            place = bisect_right(first_lines, line) - 1
            if place >= 0:
                yield starts[place][1]
            # Go on behind the record: one word is enough.
            following = starts[place + 1][0] if place + 1 < len(starts) else len(line_ends) + 2
            at = text.find(word, line_ends[following - 2]) if following - 2 < len(line_ends) else -1


def _leads_on(here: Any, step: str | int) -> bool:
    """Whether a step of a path leads anywhere in plain data."""
    if isinstance(here, list):
        return isinstance(step, int) and step < len(here)
    return isinstance(here, dict) and step in here


def _place(home: Home, path: Path, key: bool) -> Place:
    """The value's place for plain values; the name's place for groups and lists, which begin a line lower."""
    here: Any = home.document.data
    for step in home.path:
        here = here[step]
    walked: list[str | int] = []
    for step in path:
        if _leads_on(here, step):
            here = here[step]
        elif isinstance(step, int):
            continue
        else:
            key = True
            break
        walked.append(step)
    whole = (*home.path, *walked)
    named = bool(whole) and isinstance(whole[-1], str)
    return home.document.place(whole, key=named and (key or isinstance(here, dict | list)))


@dataclass(frozen=True)
class Reading:
    """What was read: the register, where everything stands, and what was wrong with the files.

    `evidence` says what stands under the paths that results name, `catalog` which entries the catalogs have now for
    each adopted record; None where nobody has looked.
    """

    snapshot: Snapshot
    register: Register
    places: Places
    report: Report
    evidence: Mapping[str, EvidenceFile] | None = None
    catalog: Mapping[str, tuple[Entry, ...]] | None = None


def read(snapshot: Snapshot, troubles: tuple[Diagnostic, ...] = ()) -> Reading:
    """Read a register. All findings come back in one report; a broken record does not hide the rest.

    `troubles` are findings about the folder itself, such as a file that cannot be opened.
    """
    with without_garbage_collector():
        shelf = _Shelf()
        shelf.findings.extend(troubles)
        for document in parse_snapshot(snapshot):
            shelf.findings.extend(document.diagnostics)
            shelf.add(document)
        register = shelf.register()
        shelf.check_references(register)
        return Reading(snapshot, register, shelf.places(snapshot), Report.of(shelf.findings))


def with_evidence(reading: Reading, folder: FilePath) -> Reading:
    """The reading together with the files that its results name as evidence and the catalog entries behind its records."""
    register = reading.register
    return replace(reading, evidence=look_at(folder, named_files(register)), catalog=_behind(register, folder))


def adopted_files(reading: Reading, folder: FilePath) -> tuple[str, ...]:
    """The catalog entries that records were taken from, as they are found now; nothing is opened."""
    if not _has_adopted(reading.register):
        return ()
    from riskkit.text.catalogs import entry_files

    return tuple(dict.fromkeys(str(path) for paths in entry_files(reading.register, folder).values() for path in paths))


def _behind(register: Register, folder: FilePath) -> Mapping[str, tuple[Entry, ...]]:
    if not _has_adopted(register):
        return {}  # and the models of entries are not loaded
    from riskkit.text.catalogs import entries_behind

    return entries_behind(register, folder)


def _has_adopted(register: Register) -> bool:
    every: tuple[Hazard | Control | Test, ...] = (*register.hazards, *register.controls, *register.tests)
    return any(each.adopted is not None for each in every)


def read_again(reading: Reading, document: Document) -> Report:
    """What is wrong with a few records that take the place of those of their ids, each in a register read before.

    Args:
        reading: The register; it is read no more.
        document: The records alone, at the lines at which they stand in their file.
    """
    shelf = _Shelf()
    shelf.findings.extend(document.diagnostics)
    shelf.add(document)
    changed = shelf.register()
    shelf.records = {**reading.register.records, **changed.records}
    shelf.homes = {**reading.places.homes, **shelf.homes}
    shelf.broken = {id: section for id, section in reading.register.broken.items() if id not in changed.records}
    shelf.check_references(changed)
    return Report.of(shelf.findings)


class _Shelf:
    """Collects records while reading; thrown away afterwards."""

    def __init__(self) -> None:
        self.findings: list[Diagnostic] = []
        self.records: dict[str, Record] = {}
        self.broken: dict[str, str] = {}
        self.homes: dict[str, Home] = {}
        self.singles: dict[str, BaseModel] = {}
        self.tombs: dict[str, Home] = {}
        self.first = Place("")

    def register(self) -> Register:
        device, policy = self.singles.get("device"), self.singles.get("policy")
        return Register(
            records=self.records,
            device=device if isinstance(device, Device) else None,
            policy=policy if isinstance(policy, Policy) else None,
            broken=self.broken,
        )

    def places(self, snapshot: Snapshot) -> Places:
        """A finding about the whole register stands at its device sheet, or else at its first file."""
        device = self.homes.get("device")
        if device is not None:
            return Places(snapshot, self.homes, _place(device, (), True))
        return Places(snapshot, self.homes, self.first)

    def complain(
        self,
        rule: str,
        headline: str,
        place: Place,
        help: str,
        record: str = "",
        related: tuple[Related, ...] = (),
        mend: Mend | None = None,
    ) -> None:
        help += offered(mend) if "--fix" not in help else ""
        found = Diagnostic(rule, Severity.ERROR, headline, place, record, help, related, breaks=True, mend=mend)
        self.findings.append(found)

    # -- sections ---------------------------------------------------------------------------------

    def add(self, document: Document) -> None:
        if not isinstance(document.data, dict):
            return
        if not self.first.file and document.data:
            self.first = document.place((next(iter(document.data)),), key=True)
        for id_section, id in document.lost:
            self.broken.setdefault(id, id_section)
        for section, content in document.data.items():
            if content is None and (section in SECTIONS or section in SINGLES):
                continue
            if section in SINGLES:
                self._add_single(document, section, content)
            elif section in SECTIONS:
                for path, id, data in self._entries(document, section, content):
                    self._add_record(document, path, SECTIONS[section], id, data)
            else:
                self._unknown_section(document, section)

    def _unknown_section(self, document: Document, section: str) -> None:
        place = document.place((section,), key=True)
        names = (*SINGLES, *SECTIONS)
        guess = nearest(section, names)
        if guess is None and any(letter.isdigit() for letter in section):
            help = f"records stand below their section: write `hazards:` and, indented below it, `{section}:`"
        elif guess is not None:
            help = f"write `{guess}:`"
        else:
            help = f"the sections are {listed(names, 40)}"
        certain = guess is not None and alike(section, guess) and guess not in document.data
        mend = Mend(guess) if certain else None
        self.complain("unknown-section", f"there is no section `{section}`", place, help, mend=mend)

    def _entries(self, document: Document, section: str, content: object) -> Iterator[tuple[Path, str, object]]:
        """Records as `id: fields`, or as a list of fields that hold `id`."""
        if isinstance(content, dict):
            for id, data in content.items():
                yield (section, id), id, data
            return
        if not isinstance(content, list):
            self.complain(
                "wrong-type",
                f"`{section}` should hold records, each below its id",
                document.place((section,)),
                f"write an id such as `{_example_id(section)}:` below `{section}:`, and its fields below that",
            )
            return
        for index, item in enumerate(content):
            path: Path = (section, index)
            id = item.get("id") if isinstance(item, dict) else None
            if isinstance(item, dict) and isinstance(id, str):
                yield path, id, {name: value for name, value in item.items() if name != "id"}
            else:
                self.complain(
                    "missing-id",
                    f"this entry of `{section}` has no id",
                    document.place(path),
                    f"begin it with `id: {_example_id(section)}`",
                )

    # -- records ----------------------------------------------------------------------------------

    def _add_single(self, document: Document, section: str, content: object) -> None:
        home = Home(document, (section,))
        if section in self.homes:
            first = self.homes[section].document.place((section,), key=True)
            self.complain(
                "duplicate-section",
                f"`{section}` stands in two files; a register has it once",
                document.place((section,), key=True),
                "keep one of the two",
                related=(Related(first, "the first one"),),
            )
            return
        self.homes[section] = home
        if section == "policy":
            content, problem = policy_data(content)
            if problem is not None:
                headline, path, help = problem
                self.complain("unknown-policy", headline, document.place((section, *path)), help, record="policy")
                return
        block = self._validated(home, section, SINGLES[section], content)
        if block is not None:
            self.singles[section] = block

    def _add_record(self, document: Document, path: Path, kind: type[Record], id: str, data: object) -> None:
        home = Home(document, path)
        buried = kind.SECTION == "tombstones"
        if id in self.homes:
            self._used_twice(home, id, buried)
            return
        self.homes[id] = home
        if buried:
            self.tombs[id] = home
        if isinstance(data, dict) and "id" in data:
            self.complain(
                "unknown-field",
                "the id of a record is the key it stands under",
                document.place((*path, "id"), key=True),
                "take the line `id:` out",
                record=id,
            )
            data = {name: value for name, value in data.items() if name != "id"}
        record = self._validated(home, id, kind, data, id=id)
        if isinstance(record, Record):
            self.records[id] = record
        else:
            self.broken[id] = kind.SECTION

    def _used_twice(self, home: Home, id: str, buried: bool) -> None:
        first = self.homes[id]
        here, there = (_place(home, (), True), _place(first, (), True))
        if buried or id in self.tombs:
            here, there = (there, here) if buried else (here, there)
            self.complain(
                "reused-tombstone",
                f"{id} was taken out once and must not be used again",
                here,
                "give this record a new id",
                record=id,
                related=(Related(there, "the tombstone"),),
            )
            return
        self.complain(
            "duplicate-id",
            f"{id} is used twice; the first one is at {there}",
            here,
            "give this record an id of its own",
            record=id,
            related=(Related(there, "the first one"),),
        )

    def _validated(self, home: Home, name: str, kind: type[BaseModel], data: object, **extra: str) -> BaseModel | None:
        if not isinstance(data, dict):
            if home.document.is_hurt(home.path):
                return None
            self.complain(
                "wrong-type",
                f"{name} has no fields" if data is None else f"{name} should be a group of fields",
                _place(home, (), True),
                "write its fields below it, one `name: value` per line, indented by two blanks",
                record=name,
            )
            return None
        try:
            return kind.model_validate(data | extra)
        except ValidationError as error:
            if home.document.is_hurt(home.path):
                return None  # the file itself is broken inside this record, and that is said already
            for complaint in complaints(error, kind, data):
                path = tuple(step for step in complaint.path if step != "id") if extra else complaint.path
                self.complain(
                    complaint.rule,
                    complaint.headline,
                    _place(home, path, complaint.at_key),
                    complaint.help,
                    record=name,
                    mend=complaint.mend,
                )
            return None

    # -- references -------------------------------------------------------------------------------

    def check_references(self, register: Register) -> None:
        """Every id that is pointed at must exist and be of the right kind."""
        for id, found in register.references.items():
            for reference in found:
                target = self.records.get(reference.target)
                sections = reference.refers.sections
                if target is None or (target.SECTION not in sections and sections[0] != "any"):
                    self._wrong_reference(self.records[id], reference, target)

    def _wrong_reference(self, record: Record, reference: Reference, target: Record | None) -> None:
        wanted = reference.refers.sections
        id = reference.target
        section = target.SECTION if target is not None else self.broken.get(id)
        if section is not None and (section in wanted or wanted[0] == "any"):
            return
        place = _place(self.homes[record.id], reference.path, key=reference.refers.keys)
        if section == "tombstones":
            headline, help = (
                f"{record.id} points at {id}, which was taken out",
                "name another record, or take it out here too",
            )
        elif section is not None:
            headline = f"{record.id} points at {id}, which stands in `{section}`, not in {listed(wanted)}"
            help = f"name a record of {listed(wanted)}"
        else:
            guess = nearest(id, self._of_kind(wanted))
            headline = f"{record.id} points at {id}, which does not exist"
            help = (
                f"write {guess}, or add {id} to {listed(wanted)}"
                if guess
                else f"add {id} to {listed(wanted)}, or take it out"
            )
        same = [known for known in self._of_kind(wanted) if known.casefold() == id.casefold() and known != id]
        mend = Mend(same[0]) if section is None and len(same) == 1 else None
        self.complain("unknown-reference", headline, place, help, record=record.id, mend=mend)

    def _of_kind(self, sections: tuple[str, ...]) -> tuple[str, ...]:
        """Ids that stand in one of the sections."""
        return tuple(id for id, home in self.homes.items() if sections[0] == "any" or home.path[0] in sections)


def _example_id(section: str) -> str:
    return f"{section[0].upper()}01"
