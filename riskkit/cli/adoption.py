"""Writing an adopted record: which file, which links, proven before anything is written."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from riskkit.cli.adding import only_writer
from riskkit.cli.opening import write_whole
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.judgement.adopting import Draft
    from riskkit.text.reader import Reading

USUAL_IDS = MappingProxyType({"hazards": "H01", "controls": "C01", "tests": "T01"})
MOST_NEW_FILES = 20


@dataclass(frozen=True, slots=True)
class Adoption:
    """What would be written.

    Attributes:
        id: Id of the new record.
        file: Where it goes.
        is_new: Whether that file is not there yet.
        lines: Its lines.
        linked: Ids of the records that name it then.
        changed: File -> bytes before and after.
        passed_over: Why other files were not taken, one sentence each.
    """

    id: str
    file: str
    is_new: bool
    lines: str
    linked: tuple[str, ...]
    changed: Mapping[str, tuple[bytes, bytes]]
    passed_over: tuple[str, ...] = ()


def plan_adoption(reading: Reading, draft: Draft, into: str | None) -> Adoption:
    """Where and how a record would be added, and linked where it answers something.

    Raises:
        RiskkitError: where no file can take it, or the register would not be the old one plus this record.
    """
    from riskkit.judgement.new_ids import next_id
    from riskkit.text.writing import CannotAppend, append_record

    id = next_id(draft.section, reading.register, USUAL_IDS[draft.section])
    files = dict(reading.snapshot.files)
    for record, name in draft.links:
        home = reading.places.homes[record]
        files[home.document.name] = _linked(reading, record, name, id)
    passed_over: list[str] = []
    for file in [into] if into is not None else _files(reading, draft.section):
        try:
            after, lines = append_record(file, files.get(file, b""), draft.section, id, draft.fields)
        except CannotAppend as error:
            if into is not None:
                raise
            passed_over.append(error.headline)
            continue
        files[file] = after
        _prove(reading, files, draft, id)
        before = reading.snapshot.files
        changed = {name: (before.get(name, b""), each) for name, each in files.items() if before.get(name) != each}
        linked = tuple(record for record, _ in draft.links)
        return Adoption(id, file, file not in before, lines, linked, changed, tuple(passed_over))
    raise RiskkitError(f"no file can take the record: {'; '.join(passed_over)}", "name a new one with --in FILE")


def _linked(reading: Reading, record: str, name: str, id: str) -> bytes:
    """The bytes of the file of a record whose list names one more id."""
    from riskkit.text.editing import add_to_list

    home = reading.places.homes[record]
    fields = tuple(info.alias or name for name, info in type(reading.register.records[record]).model_fields.items())
    content = reading.snapshot.files[home.document.name]
    edited = add_to_list(home.document, content, home.path, (name,), id, lambda path: fields if not path else ())
    return edited.content


def _files(reading: Reading, section: str) -> Iterator[str]:
    """Files in the order in which they are tried: most records of the section, then new ones."""
    records = reading.register.records.values()
    homes = Counter(reading.places.homes[each.id].document.name for each in records if section == each.SECTION)
    yield from (name for name, _ in homes.most_common())
    new = (f"{section}.yaml", *(f"{section}-{number}.yaml" for number in range(2, MOST_NEW_FILES)))
    yield from (name for name in new if name not in homes)


def _prove(reading: Reading, files: Mapping[str, bytes], draft: Draft, id: str) -> None:
    from riskkit.text.reader import read
    from riskkit.text.snapshot import Snapshot

    grown = read(Snapshot.from_files(files, reading.snapshot.root))
    known = {(found.rule, found.record, found.headline) for found in reading.report}
    for found in grown.report:
        if (found.rule, found.record, found.headline) not in known:
            raise RiskkitError(f"the record cannot be written so: {found.headline}", found.help)
    old, new = reading.register, grown.register
    wanted: dict[str, Any] = dict(old.records)
    for record, name in draft.links:
        linked = wanted[record]
        wanted[record] = linked.model_copy(update={name: (*getattr(linked, name), id)})
    others = {each: record for each, record in new.records.items() if each != id}
    before, after = (
        (wanted, old.broken, old.device, old.policy),
        (others, new.broken, new.device, new.policy),
    )
    if id not in new.records or before != after:
        raise RiskkitError(
            f"the register would not be the old one plus {id}; nothing was written",
            "name another file with --in FILE",
        )


def write_adoption(folder: Path, reading: Reading, shown: Adoption, again: Callable[[Reading], Adoption]) -> Adoption:
    """Write what was shown. Where somebody else has written since, it is planned anew on what is there now.

    Raises:
        RiskkitError: where it cannot be planned any more, or nothing can be written.
    """
    from riskkit.text.reader import read
    from riskkit.text.snapshot import read_folder

    with only_writer(folder):
        snapshot, troubles = read_folder(folder)
        plan = shown if snapshot.files == reading.snapshot.files else again(read(snapshot, troubles))
        paths = {name: Path(os.path.realpath(folder / name)) for name in plan.changed}  # a link stays a link
        for name, (before, _) in plan.changed.items():
            if (paths[name].read_bytes() if paths[name].exists() else b"") != before:
                raise RiskkitError(f"{name} was changed at this very moment; nothing was written", "try again")
        # The new record first: a link that leads nowhere would be worse than a record that nobody names yet.
        for name in sorted(plan.changed, key=lambda name: name != plan.file):
            write_whole(paths[name], plan.changed[name][1])
        return plan
