"""Several new records put into a register's files at once, under the lock, proven before anything is written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from riskkit.cli.adding import only_writer
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.model.register import Register
    from riskkit.text.reader import Reading


@dataclass(frozen=True, slots=True)
class NewRecord:
    """A record to be added: where, under which id, and what it says as plain data."""

    section: str
    id: str
    fields: Mapping[str, Any]


def append_records(folder: Path, records: Sequence[NewRecord], into: str | None = None) -> Register:
    """Add records, each to the file where most of its kind stand, or to a new one named after its section.

    Args:
        folder: The register's.
        records: In the order in which they are added.
        into: A file inside the folder for all of them.

    Returns:
        The register with them.

    Raises:
        RiskkitError: where no file can take one, or the register would not be the old one plus these records.
    """
    from riskkit.cli.replacing import replace_files, sweep
    from riskkit.text.reader import read
    from riskkit.text.snapshot import Snapshot, read_folder
    from riskkit.text.writing import CannotAppend, append_record, prove

    with only_writer(folder):
        snapshot, troubles = read_folder(folder)
        reading = read(snapshot, troubles)
        files, changed = dict(snapshot.files), dict[str, None]()
        for record in records:
            refused: list[str] = []
            for name in [into] if into is not None else files_for(reading, record.section):
                try:
                    after, _ = append_record(name, files.get(name, b""), record.section, record.id, record.fields)
                except CannotAppend as error:
                    refused.append(error.headline)
                    continue
                grown = read(Snapshot.from_files({**files, name: after}, snapshot.root))
                prove(reading, grown, record.id)
                files[name], reading = after, grown
                changed[name] = None
                break
            else:
                raise RiskkitError(
                    f"no file can take {record.id}: {'; '.join(refused)}", "name a new one with --in FILE"
                )
        sweep(folder, snapshot.files)
        after_all = {name: files[name] for name in changed}
        replace_files(folder, snapshot.files, after_all, f"add {', '.join(record.id for record in records)}")
    return reading.register


def files_for(reading: Reading, section: str) -> list[str]:
    """Files in the order in which they are tried: most records of the section first, then new ones."""
    homes = [
        reading.places.homes[record.id].document.name
        for record in reading.register.records.values()
        if section == record.SECTION
    ]
    found = sorted(dict.fromkeys(homes), key=homes.count, reverse=True)
    stem = section.replace("_", "-")
    return [
        *found,
        *(name for name in (f"{stem}.yaml", *(f"{stem}-{n}.yaml" for n in range(2, 20))) if name not in found),
    ]
