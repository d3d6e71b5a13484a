"""Catalogs: folders of entries `KIND/NAME.yaml`, the shipped one and any others, read as far as something is asked.

Several catalogs are read one behind the other. Where two have an entry of one id, the later one counts: what a
project writes for itself replaces what is shipped. Which entries there are is known from the names of the files;
a file is read when its entry is asked for.
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from riskkit import shelves
from riskkit.diagnostics import Diagnostic, Place, RiskkitError, Severity
from riskkit.model.catalog import ENTRY_KINDS, Entry, references
from riskkit.model.fields import ENTRY_PATTERN
from riskkit.text.complaints import complaints, listed, nearest
from riskkit.text.positions import Document, without_garbage_collector
from riskkit.text.syntax import parse_file

if TYPE_CHECKING:
    from riskkit.model.records import Control, Hazard
    from riskkit.model.register import Register
    from riskkit.model.verification import Test

SHIPPED = "shipped"
LARGEST_ENTRY = 256 * 1024
_ENDINGS = (".yaml", ".yml")


@dataclass(frozen=True, slots=True)
class Catalog:
    """One folder of entries, and the name by which records remember it."""

    name: str
    folder: Path

    def files(self, kind: str) -> dict[str, Path]:
        """Id -> file of every entry of one kind, by name of the file; nothing is opened."""
        folder = self.folder / kind
        if not folder.is_dir():
            return {}
        names = sorted(name for name in os.listdir(folder) if name.endswith(_ENDINGS) and not name.startswith("."))
        return {f"{kind}/{name.rpartition('.')[0]}": folder / name for name in names}

    def file(self, id: str) -> Path | None:
        """The file of one entry, or None where it has none."""
        if re.fullmatch(ENTRY_PATTERN, id) is None:
            return None
        return next((path for end in _ENDINGS if (path := self.folder / f"{id}{end}").is_file()), None)


def shipped() -> Catalog:
    """The catalog that comes with riskkit."""
    return Catalog(SHIPPED, shelves.data_dir("catalogs"))


def catalog_in(folder: Path) -> Catalog:
    """The catalog in a folder, or in its folder `catalogs` or `catalog`, as in a checkout of somebody's project.

    Raises:
        RiskkitError: where there is no such folder, or none of the kinds of entry in it.
    """
    kinds = listed(tuple(ENTRY_KINDS))
    if not folder.is_dir():
        raise RiskkitError(
            f"there is no catalog folder {folder}", f"name a folder that holds {kinds}, with one file per entry"
        )
    for place in (folder, folder / "catalogs", folder / "catalog"):
        if any((place / kind).is_dir() for kind in ENTRY_KINDS):
            if place.resolve() == shipped().folder.resolve():
                return shipped()
            whole = place.resolve()
            plain = whole.name in ("catalogs", "catalog") and whole.parent.name
            return Catalog(whole.parent.name if plain else whole.name, place)
    raise RiskkitError(
        f"{folder} is no catalog: none of the folders {kinds} is in it",
        "put each entry into the folder of its kind, such as controls/strain-relief.yaml",
    )


@dataclass(frozen=True)
class Catalogs:
    """Catalogs in the order in which they count; a later one replaces entries of an earlier one."""

    catalogs: tuple[Catalog, ...]
    _files: dict[tuple[str, str], Mapping[str, Path]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )
    _read: dict[str, tuple[Entry | None, tuple[Diagnostic, ...]]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def ids(self, *kinds: str) -> tuple[str, ...]:
        """Ids of all entries of the kinds, of every kind where none is named, in the order of kinds and names."""
        found: dict[str, None] = {}
        for kind in kinds or tuple(ENTRY_KINDS):
            found.update(dict.fromkeys(sorted({id for each in self.catalogs for id in self._files_of(each, kind)})))
        return tuple(found)

    def catalog_of(self, id: str) -> Catalog | None:
        """The catalog whose entry counts, or None where no catalog has it."""
        kind = id.partition("/")[0]
        return next((each for each in reversed(self.catalogs) if id in self._files_of(each, kind)), None)

    def _files_of(self, catalog: Catalog, kind: str) -> Mapping[str, Path]:
        """The files of one kind in one catalog, looked up once."""
        if kind not in ENTRY_KINDS:
            return {}
        key = (catalog.name, kind)
        if key not in self._files:
            named = catalog.files(kind)
            self._files[key] = {id: path for id, path in named.items() if re.fullmatch(ENTRY_PATTERN, id)}
        return self._files[key]

    def get(self, id: str) -> Entry | None:
        """An entry, or None where it is missing or cannot be read."""
        return self._entry(id)[0]

    def all_of(self, ids: Iterable[str]) -> dict[str, Entry]:
        """The entries of those ids that can be read, by id."""
        with without_garbage_collector():
            return {id: entry for id in ids if (entry := self.get(id)) is not None}

    def of(self, *kinds: str) -> dict[str, Entry]:
        """Every readable entry of the kinds, or of all, by id."""
        return self.all_of(self.ids(*kinds))

    def entry(self, id: str) -> Entry:
        """An entry that is asked for by name.

        Raises:
            RiskkitError: where there is none of that id, or where it cannot be read.
        """
        found, problems = self._entry(id)
        if found is not None:
            return found
        if problems:
            raise RiskkitError(f"{problems[0].place}: {problems[0].headline}", problems[0].help)
        raise RiskkitError(f"no catalog has an entry `{id}`", self._meant(id))

    def full_id(self, typed: str) -> str:
        """An id as it was typed, by its file's name alone where only one kind has that name."""
        if "/" in typed or not typed:
            return typed.removesuffix(".yaml")
        found = [id for id in self.ids() if id.partition("/")[2] == typed]
        return found[0] if len(found) == 1 else typed

    def problems(self) -> tuple[Diagnostic, ...]:
        """What is wrong with the entries that were read so far."""
        return tuple(found for _, problems in self._read.values() for found in problems)

    def _meant(self, id: str) -> str:
        known = self.ids()
        name = id.partition("/")[2] or id
        guess = nearest(id, known) or nearest(name, tuple(each.partition("/")[2] for each in known))
        guess = next((each for each in known if guess in (each, each.partition("/")[2])), None) if guess else None
        return f"did you mean {guess}?" if guess else "`riskkit catalog list WORDS` looks for one"

    def _entry(self, id: str) -> tuple[Entry | None, tuple[Diagnostic, ...]]:
        if id not in self._read:
            home, kind = self.catalog_of(id), id.partition("/")[0]
            path = self._files_of(home, kind)[id] if home is not None else None
            self._read[id] = read_entry(path, kind) if path is not None else (None, ())
        return self._read[id]


def catalogs_of(folders: Sequence[Path] = (), register: Register | None = None, root: Path = Path(".")) -> Catalogs:
    """The shipped catalog, those that the device sheet names, and further folders, in this order.

    Args:
        folders: Folders named on the command line.
        register: The register whose device sheet is looked at.
        root: The folder of that register.

    Raises:
        RiskkitError: where a folder is no catalog, or two catalogs have one name.
    """
    named = [_of_device(root, each) for each in register.device.catalogs] if register and register.device else []
    found: dict[str, Catalog] = {SHIPPED: shipped()}
    for each in [*named, *map(catalog_in, folders)]:
        known = found.setdefault(each.name, each)
        if known.folder.resolve() != each.folder.resolve():
            raise RiskkitError(
                f"two catalogs are called {each.name}: {known.folder} and {each.folder}",
                "rename one of the folders, so that records can say which one they were taken from",
            )
    return Catalogs(tuple(found.values()))


def _of_device(root: Path, written: str) -> Catalog:
    if os.path.isabs(written) or written.startswith("~"):
        raise RiskkitError(
            f"the device sheet names the catalog {written}, which stands there on one computer only",
            "write the folder as it is seen from the register's, such as `../our-catalog`",
        )
    return catalog_in(root / written)


def shipped_entries() -> Mapping[str, Entry]:
    """Every readable entry of the shipped catalog, by id."""
    return Catalogs((shipped(),)).of()


# -- one entry ------------------------------------------------------------------------------------


def read_entry(path: Path, kind: str) -> tuple[Entry | None, tuple[Diagnostic, ...]]:
    """One entry, or None and what is wrong with its file, one finding per field."""
    name = str(path)
    try:
        about = os.stat(path)
        if not stat.S_ISREG(about.st_mode) or about.st_size > LARGEST_ENTRY:
            return None, (_finding("entry-unreadable", Place(name), "this is no ordinary small file", "take it out"),)
        content = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        return None, (_finding("entry-unreadable", Place(name), f"it cannot be opened: {reason}", "look at the file"),)
    document = parse_file(name, content)
    if document.diagnostics:
        return None, document.diagnostics
    shape = ENTRY_KINDS[kind]
    if not document.data:
        return None, (
            _finding("empty-file", Place(name), "the file is empty", "write the entry, beginning with `title:`"),
        )
    try:
        return shape.model_validate(document.data), ()
    except ValidationError as error:
        found = complaints(error, shape, document.data)
        return None, tuple(
            _finding(each.rule, _place(document, each.path, each.at_key), each.headline, each.help) for each in found
        )


def _place(document: Document, path: tuple[str | int, ...], at_key: bool) -> Place:
    """The place of a field; of the entry's first line where a field is missing."""
    here: Any = document.data
    for step in path:
        here = here[step] if isinstance(here, dict) and step in here else None
    key = bool(path) and isinstance(path[-1], str) and (at_key or isinstance(here, dict | list))
    if not path:
        return document.place((next(iter(document.data)),), key=True)
    return document.place(path, key=key)


def _finding(rule: str, place: Place, headline: str, help: str) -> Diagnostic:
    return Diagnostic(rule, Severity.ERROR, headline, place, "", help, breaks=True)


def check_catalog(own: Catalog, beside: Catalogs) -> Iterator[Diagnostic]:
    """Everything that is wrong with a catalog: files, fields, references that lead nowhere, titles used twice.

    Args:
        own: The catalog.
        beside: The catalogs whose entries it may name.
    """
    known = {*beside.ids(), *(id for kind in ENTRY_KINDS for id in own.files(kind))}
    standards, titles = known_standards(), dict[str, str]()
    yield from _names(own)
    for kind in ENTRY_KINDS:
        for id, path in own.files(kind).items():
            entry, problems = read_entry(path, kind)
            yield from problems
            if entry is None:
                continue
            document = parse_file(str(path), path.read_bytes())
            yield from _leads_nowhere(document, entry, known, standards)
            first = titles.setdefault(entry.title.casefold(), id)
            if first != id:
                place = document.place(("title",))
                yield _finding(
                    "title-twice", place, f"{first} has the title `{entry.title}` already", "say what differs"
                )


def _names(own: Catalog) -> Iterator[Diagnostic]:
    for kind in ENTRY_KINDS:
        for id, path in own.files(kind).items():
            if re.fullmatch(ENTRY_PATTERN, id) is None:
                yield _finding(
                    "not-an-id",
                    Place(str(path)),
                    f"`{path.name}` is no name for an entry: small letters, digits and single hyphens make one",
                    "rename the file, such as room-air-intake-flap.yaml",
                )


def _leads_nowhere(
    document: Document, entry: Entry, known: set[str], standards: Mapping[str, str]
) -> Iterator[Diagnostic]:
    for name, place, id, kinds in references(entry):
        where = document.place((name, place) if isinstance(document.data.get(name), list) else (name,))
        choices = tuple(sorted(each for each in known if each.partition("/")[0] in kinds))
        if id.partition("/")[0] not in kinds:
            folders = " or ".join(f"`{kind}/`" for kind in kinds)
            yield _finding("unknown-entry", where, f"`{name}` names {id}; it takes entries of {folders}", "move it")
        elif id not in known:
            guess = nearest(id, choices)
            yield _finding(
                "unknown-entry",
                where,
                f"`{name}` names {id}, which stands in no catalog",
                f"write {guess}" if guess else "write the entry, or take the name out",
            )
    for place, number in enumerate(entry.standards):
        if number not in standards:
            guess = nearest(number, tuple(standards))
            where = document.place(
                ("standards", place) if isinstance(document.data.get("standards"), list) else ("standards",)
            )
            yield _finding(
                "unknown-standard",
                where,
                f"`{number}` is no standard whose subject is known here",
                f"write {guess}" if guess else "leave it out of `standards`, and say its subject in `why`",
            )


def known_standards() -> Mapping[str, str]:
    """Number of each standard that entries may name -> its subject."""
    path = shelves.data_dir("catalogs") / "standards.yaml"
    found: Mapping[str, str] = parse_file(path.name, path.read_bytes()).data["standards"]
    return found


def entry_texts(own: Catalog) -> Iterator[tuple[Place, str]]:
    """Every text of every entry that can be read, with its place."""
    for kind in ENTRY_KINDS:
        for path in own.files(kind).values():
            if read_entry(path, kind)[0] is not None:
                document = parse_file(str(path), path.read_bytes())
                yield from ((document.place(where), text) for where, text in _texts(document.data, ()))


def _texts(value: Any, path: tuple[str | int, ...]) -> Iterator[tuple[tuple[str | int, ...], str]]:
    if isinstance(value, str):
        yield path, value
    elif isinstance(value, dict | list):
        for step, each in value.items() if isinstance(value, dict) else enumerate(value):
            yield from _texts(each, (*path, step))


# -- what records were taken from -----------------------------------------------------------------


def entry_files(register: Register, root: Path) -> dict[str, tuple[Path, ...]]:
    """Id of each adopted record -> the files in which its entries stand now; nothing is opened.

    One file, or two where it was found through a failure or an error. A record whose entry is gone is left out, and so
    is a catalog that the device sheet names and that is not there: a rule is not the place to stop for it.
    """
    every: tuple[Hazard | Control | Test, ...] = (*register.hazards, *register.controls, *register.tests)
    adopted = {each.id: each.adopted for each in every if each.adopted is not None}
    if not adopted:
        return {}
    in_use = {SHIPPED: shipped()}
    for written in register.device.catalogs if register.device else ():
        try:
            home = _of_device(root, written)
        except RiskkitError:
            continue
        in_use.setdefault(home.name, home)
    found = {}
    for id, source in adopted.items():
        # What a hazard was found through may stand in another catalog than the hazard.
        first = in_use.get(source.catalog)
        homes = [first, *(each for each in reversed(in_use.values()) if each is not first)] if first else []
        paths = [homes[0].file(source.entry)] if homes else []
        if source.through is not None:
            paths.append(next((path for each in homes if (path := each.file(source.through)) is not None), None))
        if paths and None not in paths:
            found[id] = tuple(path for path in paths if path is not None)
    return found


def entries_behind(register: Register, root: Path) -> dict[str, tuple[Entry, ...]]:
    """Id of each adopted record -> the entries that its catalog has now; only those files are read."""
    files = entry_files(register, root)
    read = {path: read_entry(path, path.parent.name)[0] for paths in files.values() for path in paths}
    found = {id: tuple(entry for path in paths if (entry := read[path])) for id, paths in files.items()}
    return {id: entries for id, entries in found.items() if len(entries) == len(files[id])}
