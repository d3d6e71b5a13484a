"""`rename`, `remove` and `renumber`: an id everywhere at once, a record that leaves a tombstone, two of one id."""

from __future__ import annotations

import datetime
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

from riskkit.cli.editing import Change, carry_out, data_of, home_of, refuse_new_trouble
from riskkit.cli.linking import in_data, places_of
from riskkit.cli.opening import day
from riskkit.cli.output import counted
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.text.positions import Document, Path
    from riskkit.text.reader import Reading

Words = dict[str, tuple[dict["Path", str], dict["Path", str]]]
"""Name of a file -> (path to a text -> new text, path to a name -> new name)."""


def rename(old: str, new: str, folder: FilePath, *, dry_run: bool) -> int:
    """Give a record another id wherever it is named; the exit status."""
    return carry_out(folder, lambda reading: _renamed(reading, old, new), dry_run=dry_run)


def _renamed(reading: Reading, old: str, new: str) -> Change:
    from riskkit.cli.kept_fingerprints import with_fingerprints

    document, home = home_of(reading, old)
    _refuse_as_new(reading, old, new)
    _refuse_duplicates(reading, old)
    for id in reading.register.broken:
        if id != old and id in reading.places.homes and _mentions(data_of(reading, id), old):
            raise RiskkitError(
                f"{id} cannot be read as written and names {old}; nothing was written",
                f"`riskkit check` says what is wrong with {id}; mend it first",
            )
    unread = [found for found in reading.report if found.breaks and found.rule in ("yaml-syntax", "not-utf8")]
    if unread:
        raise RiskkitError(
            f"{unread[0].place} cannot be read, and {old} may be named there; nothing was written",
            "mend it first; `riskkit check` says how",
        )
    words = _everywhere(reading, old, new)
    _define(words, document, home, new)
    after = _written(reading, words, {each.document.name: each.document for each in reading.places.homes.values()})
    if old in reading.register.broken:
        refuse_new_trouble_but(reading, after, old)
    else:
        grown = refuse_new_trouble(reading, after)
        after = with_fingerprints(reading, grown, after, old, new)
    named = sum(len(values) + len(keys) for values, keys in words.values()) - 1
    told = [f"{old} is {new} now, in {counted(len(after), 'file')}; named in {counted(named, 'place')}."]
    told += _in_free_text(reading, words, old)
    return Change(after, tuple(told), f"rename {old} to {new}")


def refuse_new_trouble_but(reading: Reading, after: Mapping[str, bytes], old: str) -> None:
    """As `refuse_new_trouble`, for a record that could not be read before and cannot now.

    Raises:
        RiskkitError: where others can be read less well.
    """
    from riskkit.text.reader import read
    from riskkit.text.snapshot import Snapshot

    grown = read(Snapshot.from_files({**reading.snapshot.files, **after}, reading.snapshot.root))
    if len(grown.report) > len(reading.report) or len(grown.register.records) != len(reading.register.records):
        raise RiskkitError(f"{old} cannot be read as written; nothing was written", "mend it first")


def _refuse_as_new(reading: Reading, old: str, new: str) -> None:
    from riskkit.model.fields import ID_PATTERN
    from riskkit.model.register import SINGLES

    if old in SINGLES:
        raise RiskkitError(f"`{old}` is a section and has no id", "name a record, such as H04")
    if re.fullmatch(ID_PATTERN[1:-1], new) is None or len(new) > 40:
        raise RiskkitError(
            f"`{new}` is not an id: ids are letters and digits, such as H04, HZ-012 or T07-2, 40 at most", "write an id"
        )
    if old == new:
        raise RiskkitError(f"{old} has that id already", "write another one")
    used = {*reading.register.records, *reading.register.broken, *reading.places.homes}
    same = next((id for id in used if id.casefold() == new.casefold() and id != old), None)
    if same is not None:
        tomb = reading.register.section_of(same) == "tombstones"
        why = f"{same} was taken out once and must not be used again" if tomb else f"{same} is another record"
        raise RiskkitError(f"{old} cannot become {new}: {why}", "write an id that was never used")
    if reading.register.section_of(old) == "tombstones":
        raise RiskkitError(f"{old} was taken out; a tombstone keeps its id", "name a record that is there")


def _refuse_duplicates(reading: Reading, id: str) -> None:
    twice = next((found for found in reading.report if found.rule == "duplicate-id" and found.record == id), None)
    if twice is not None:
        raise RiskkitError(
            f"{twice.headline}; nothing was written", f"riskkit renumber {id} --in {twice.place.file} comes first"
        )


def _mentions(value: Any, id: str) -> bool:
    if isinstance(value, dict):
        return any(key == id or _mentions(each, id) for key, each in value.items())
    if isinstance(value, list):
        return any(_mentions(each, id) for each in value)
    return bool(value == id)


def _everywhere(reading: Reading, old: str, new: str) -> Words:
    """Every place of the register that names an id, in its file."""
    from riskkit.model.references import named_ids

    words: Words = defaultdict(lambda: ({}, {}))
    for record in reading.register.records.values():
        for path, target, is_name in named_ids(record):
            if target == old:
                document, home = home_of(reading, record.id)
                inside, _ = in_data(data_of(reading, record.id), path)
                words[document.name][1 if is_name else 0][*home, *inside] = new
    return words


def _define(words: Words, document: Document, home: Path, new: str) -> None:
    """The record itself: its name, or its line `id:`."""
    if isinstance(home[-1], int):
        words[document.name][0][*home, "id"] = new
    else:
        words[document.name][1][home] = new


def _written(reading: Reading, words: Words, documents: Mapping[str, Document]) -> dict[str, bytes]:
    from riskkit.text.editing import replace_words

    return {
        name: replace_words(documents[name], reading.snapshot.files[name], values, keys).content
        for name, (values, keys) in sorted(words.items())
    }


def _in_free_text(reading: Reading, words: Words, old: str) -> list[str]:
    """Sentences that speak of the id: they are the project's own words, and are left alone."""
    from riskkit.text.splicing import BREAK

    told = []
    whole = re.compile(rf"(?<![A-Za-z0-9._-]){re.escape(old)}(?![A-Za-z0-9_-]|\.[A-Za-z0-9])")
    for document in {id(home.document): home.document for home in reading.places.homes.values()}.values():
        changed = {document.place(path) for path in words[document.name][0]} if document.name in words else set()
        if document.name in words:
            changed |= {document.place(path, key=True) for path in words[document.name][1]}
        places = {(place.line, place.column) for place in changed}
        lines = BREAK.split(reading.snapshot.files[document.name].decode("utf-8-sig", "replace"))
        for number, line in enumerate(lines, start=1):
            for found in whole.finditer(line):
                column = found.start() + 1
                if (number, column) not in places and (number, column - 1) not in places:
                    told.append(f"{document.name}:{number}:{column}")
    if not told:
        return []
    return [f"{old} also stands in comments or sentences, which are left as they are: {', '.join(told[:20])}."]


# -- remove ---------------------------------------------------------------------------------------


def remove(id: str, because: str, folder: FilePath, today: str | None, *, unlink: bool, dry_run: bool) -> int:
    """Take a record out, leave a tombstone; the exit status."""
    on = day(today)
    if not because.strip():
        raise RiskkitError("the reason is missing", f'write `riskkit remove {id} --because "why"`')
    return carry_out(folder, lambda reading: _removed(reading, id, because, on, unlink=unlink), dry_run=dry_run)


def _removed(reading: Reading, id: str, because: str, on: datetime.date, *, unlink: bool) -> Change:
    from riskkit.text.editing import remove_field, remove_from_list, remove_record
    from riskkit.text.syntax import parse_file

    document, home = home_of(reading, id)
    section = str(home[0])
    if len(home) == 1:
        raise RiskkitError(f"`{id}` is a section and not a record", "change its fields with `riskkit set`")
    if section == "results":
        raise RiskkitError(
            f"{id} is a result, and a result is never taken out",
            "record a new one that says `supersedes` and `superseded_because`",
        )
    if section == "tombstones":
        raise RiskkitError(f"{id} is a tombstone, and stays", "an id that was used once is never used again")
    _refuse_duplicates(reading, id)
    pointing = _pointing(reading, id)
    if pointing and not unlink:
        named = ", ".join(f"{source} ({relation})" for source, relation in pointing[:12])
        raise RiskkitError(
            f"{len(pointing)} {'record points' if len(pointing) == 1 else 'records point'} at {id}: {named}",
            f"unlink them first, or add --unlink to take {id} out of all of them",
        )
    files: dict[str, bytes] = {}
    for source, _ in pointing:
        other, at = home_of(reading, source)
        for path in sorted(places_of(reading, source, id), key=lambda each: [str(step).zfill(6) for step in each])[
            ::-1
        ]:
            content = files.get(other.name, reading.snapshot.files[other.name])
            last = isinstance(path[-1], int)
            one = (remove_from_list if last or _is_list(reading, source, path) else remove_field)(
                parse_file(other.name, content), content, at, path
            )
            files[other.name] = one.content
    content = files.get(document.name, reading.snapshot.files[document.name])
    was = f"{section.rstrip('s').replace('_', ' ')}: {reading.register.title_of(id)}"
    files[document.name] = remove_record(parse_file(document.name, content), content, home).content
    name, grave = _buried(reading, files, document.name, id, {"was": was, "on": on, "because": because.strip()})
    files[name] = grave
    try:
        refuse_new_trouble(reading, files)
    except RiskkitError as error:
        raise RiskkitError(f"{id} cannot be taken out: {error.headline}", error.help) from None
    told = [f"{id} is taken out of {document.name}; a tombstone in {name} keeps its id from being used again."]
    if pointing:
        told.append(f"It is no longer named in {', '.join(dict.fromkeys(source for source, _ in pointing))}.")
    return Change(files, tuple(told), f"remove {id}")


def _is_list(reading: Reading, source: str, path: Path) -> bool:
    from riskkit.cli.editing import kind_of
    from riskkit.model.references import link_fields

    kind = kind_of(reading, source)
    return kind is not None and len(path) == 1 and any(each.many and each.name == path[0] for each in link_fields(kind))


def _pointing(reading: Reading, id: str) -> list[tuple[str, str]]:
    """Records that name another one, and how."""
    found = []
    for source, held in reading.register.references.items():
        for reference in held:
            if reference.target == id and source != id:
                found.append((source, reference.refers.relation))
    return list(dict.fromkeys(found))


def _buried(
    reading: Reading, files: Mapping[str, bytes], home: str, id: str, fields: Mapping[str, Any]
) -> tuple[str, bytes]:
    """The file that takes the tombstone, and its bytes: where the others are, else where the record stood."""
    from riskkit.text.writing import CannotAppend, append_record

    graves = [place.document.name for place in reading.places.homes.values() if place.path[0] == "tombstones"]
    reasons = []
    for name in dict.fromkeys([*graves, home, "tombstones.yaml"]):
        content = files.get(name, reading.snapshot.files.get(name, b""))
        try:
            return name, append_record(name, content, "tombstones", id, fields)[0]
        except CannotAppend as error:
            reasons.append(error.headline)
    raise RiskkitError(f"no file can take the tombstone: {'; '.join(reasons)}", "mend one of them by hand")


# -- renumber -------------------------------------------------------------------------------------


def renumber(id: str, into: str | None, to: str | None, folder: FilePath, *, dry_run: bool) -> int:
    """Give one of two records of the same id a new one, after a merge; the exit status."""
    return carry_out(folder, lambda reading: _renumbered(reading, id, into, to, folder), dry_run=dry_run)


def _renumbered(reading: Reading, id: str, into: str | None, to: str | None, folder: FilePath) -> Change:
    from riskkit.cli.adding import file_in
    from riskkit.judgement.new_ids import next_id

    copies = tuple(_copies(reading, id))
    if len(copies) < 2:
        home_of(reading, id)
        raise RiskkitError(f"{id} is used once, so nothing has to be renumbered", f"riskkit rename {id} NEW")
    document, path = _chosen(reading, id, copies, file_in(folder, into) if into is not None else None, folder)
    new = to or next_id(str(path[0]), reading.register, id)
    _refuse_as_new(reading, id, new)
    words: Words = defaultdict(lambda: ({}, {}))
    _define(words, document, path, new)
    alone = sum(copy.name == document.name for copy, _ in copies) == 1
    if alone:
        _own_references(words, document, reading, id, new)
    after = _written(reading, words, {document.name: document})
    refuse_new_trouble(reading, after)
    told = [f"The {id} of {document.name} is {new} now."]
    moved = sum(len(values) + len(keys) for values, keys in words.values()) - 1
    if moved:
        told.append(f"{counted(moved, 'place')} in {document.name} that named it went with it.")
    left = sorted(
        str(reading.places.of(source, reference.path, key=reference.refers.keys))
        for source, held in reading.register.references.items()
        for reference in held
        if reference.target == id and not (alone and reading.places.homes[source].document.name == document.name)
    )
    if left:
        told.append(f"These still say {id}; look whether {new} is meant: {', '.join(left)}.")
    return Change(after, tuple(told), f"renumber {id} to {new}")


def _copies(reading: Reading, id: str) -> Iterator[tuple[Document, Path]]:
    """Every record of that id, in the order of the files."""
    from riskkit.model.register import SECTIONS
    from riskkit.text.syntax import parse_file

    for name, content in reading.snapshot.files.items():
        if id.encode() not in content:
            continue
        document = parse_file(name, content)
        for section, held in document.data.items() if isinstance(document.data, dict) else ():
            if section not in SECTIONS:
                continue
            if isinstance(held, dict) and id in held:
                yield document, (section, id)
            elif isinstance(held, list):
                for place, each in enumerate(held):
                    if isinstance(each, dict) and each.get("id") == id:
                        yield document, (section, place)


def _chosen(
    reading: Reading, id: str, copies: tuple[tuple[Document, Path], ...], into: str | None, folder: FilePath
) -> tuple[Document, Path]:
    """The copy that gets a new id: the one in the file that was named, the later one where that holds both."""
    if into is not None:
        found = [copy for copy in copies if copy[0].name == into]
        if not found:
            raise RiskkitError(f"{into} holds no {id}", f"it stands in {' and '.join(copy.name for copy, _ in copies)}")
        return found[-1]
    names = list(dict.fromkeys(copy.name for copy, _ in copies))
    if len(names) == 1:
        return copies[-1]
    places = " and ".join(str(copy.place(path, key=True)) for copy, path in copies)
    came = [name for name in names if _is_news(folder, name, id)]
    if len(came) == 1:
        help = f"git knows the one in {came[0]} only since the merge: riskkit renumber {id} --in {came[0]}"
    else:
        help = f"say which one gets a new id: riskkit renumber {id} --in {names[-1]}"
    raise RiskkitError(f"{id} is used {len(copies)} times: {places}", help)


def _is_news(folder: FilePath, name: str, id: str) -> bool:
    """Whether git says that the record was not there before the last merge, or the one that is going on."""
    from riskkit.text.repository import repository_of
    from riskkit.text.syntax import parse_file

    try:
        git = repository_of(folder)
    except RiskkitError:
        return False  # no git here: the person is asked instead
    merging = git.ask("rev-parse", "--verify", "--quiet", "MERGE_HEAD").done
    ours = "HEAD" if merging else "HEAD^1"
    if not (merging or git.ask("rev-parse", "--verify", "--quiet", "HEAD^2").done):
        return False
    old = git.ask("show", f"{ours}:./{name}")
    if not old.done:
        return True
    data = parse_file(name, old.output).data
    sections = data.values() if isinstance(data, dict) else ()
    return not any(
        (isinstance(held, dict) and id in held)
        or (isinstance(held, list) and any(isinstance(each, dict) and each.get("id") == id for each in held))
        for held in sections
    )


def _own_references(words: Words, document: Document, reading: Reading, id: str, new: str) -> None:
    """Places in the same file that name the id: they were written beside this record."""
    from riskkit.model.references import named_ids
    from riskkit.text.reader import read
    from riskkit.text.snapshot import Snapshot

    alone = read(Snapshot.from_files({document.name: reading.snapshot.files[document.name]}))
    for record in alone.register.records.values():
        home = alone.places.homes[record.id].path
        for path, target, is_name in named_ids(record):
            if target == id:
                inside, _ = in_data(data_of(alone, record.id), path)
                words[document.name][1 if is_name else 0][*home, *inside] = new
