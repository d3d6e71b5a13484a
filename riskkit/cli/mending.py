"""`check --fix`: what can be mended without changing what is meant. Nothing that anybody has to judge is touched.

Most findings say themselves which word takes the place of which. A file of evidence that was moved is found again by
its SHA-256. All mends of all files are made at once or not at all.
"""

from __future__ import annotations

import hashlib
import os
from collections import defaultdict
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from riskkit.cli.editing import Change, carry_out, data_of, home_of
from riskkit.cli.linking import in_data
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.diagnostics import Diagnostic
    from riskkit.text.positions import Path as Steps
    from riskkit.text.reader import Reading

MOST_ROUNDS = 5
MOST_FILES = 20_000
LARGEST_EVIDENCE = 256 * 1024 * 1024


def fix_before_check(folder: Path, format: str, *, asked: bool, dry_run: bool) -> bool:
    """Mend what can be mended for certain, and say what was done; whether that was all that was asked for.

    Raises:
        RiskkitError: where the options do not go together, or nothing can be written.
    """
    if not asked:
        raise RiskkitError("--dry-run belongs to --fix", "write `riskkit check --fix --dry-run`")
    if format != "text":
        raise RiskkitError("--fix tells in words what it does", "run `riskkit check --fix` first, then with --format")
    carry_out(folder, lambda reading: _planned(reading, folder), dry_run=dry_run)
    return dry_run


def _planned(reading: Reading, folder: Path) -> Change:
    """All mends: of what is found now, and of what can be seen only once that is mended."""
    from riskkit.text.reader import read
    from riskkit.text.snapshot import Snapshot

    now, after, told, refused = reading, dict[str, bytes](), list[str](), list[str]()
    for _ in range(MOST_ROUNDS):
        step, said, left = _mended(now, folder)
        refused = left
        if not step:
            break
        after |= step
        told += said
        now = read(Snapshot.from_files({**now.snapshot.files, **step}, now.snapshot.root))
    lost = sorted(reading.register.records.keys() - now.register.records.keys())
    if lost or len(now.report.broken) > len(reading.report.broken):
        raise RiskkitError(
            "mending would break more than it mends; nothing was written",
            f"look at {lost[0]}" if lost else "mend the findings by hand, one after the other",
        )
    if not after:
        return Change({}, ("Nothing can be mended without judging; the findings say what to type.", *refused), "")
    counted = "One place is" if len(told) == 1 else f"{len(told)} places are"
    return Change(after, (f"{counted} mended:", *told, *refused), "check --fix")


def _mended(reading: Reading, folder: Path) -> tuple[dict[str, bytes], list[str], list[str]]:
    """Files with every mend that can be made now, what was done, and what could not be done."""
    from riskkit.text.editing import path_at, replace_words
    from riskkit.text.syntax import parse_file

    words: dict[str, dict[Steps, str]] = defaultdict(dict)
    names: dict[str, dict[Steps, str]] = defaultdict(dict)
    told: list[str] = []
    refused: list[str] = []
    documents = {
        name: parse_file(name, reading.snapshot.files[name])
        for name in {found.place.file for found in reading.report if found.mend is not None}
    }
    for found in reading.report:
        if found.mend is None:
            continue
        name = found.place.file
        try:
            spot = path_at(documents[name], reading.snapshot.files[name], found.place.line, found.place.column)
        except RiskkitError as error:
            refused.append(f"{found.place}: {error.headline}")
            continue
        if spot is None:
            refused.append(f"{found.place}: {found.help.partition(';')[0]} by hand; it is written in an unusual way")
            continue
        path, is_name, written = spot
        new = found.mend.word if found.mend.word is not None else written
        (names if is_name else words)[name][path] = new
        told.append(_sentence(found, written, new))
    for record, path, old, new in _moved(reading, folder):
        document, home = home_of(reading, record)
        documents[document.name] = document
        words[document.name][*home, *path] = new
        told.append(f"{record}: the file {old} stands at {new} now, with the same SHA-256.")
    after = {
        name: replace_words(documents[name], reading.snapshot.files[name], words[name], names[name]).content
        for name in sorted({*words, *names})
    }
    return after, told, refused


def _sentence(found: Diagnostic, old: str, new: str) -> str:
    changed = f"`{old}` is in quotes now" if old == new else f"`{old}` is `{new}` now"
    return f"{found.place}: {changed}."


def _moved(reading: Reading, folder: Path) -> Iterator[tuple[str, Steps, str, str]]:
    """(result, path to the name of a file, the name, where that file stands now), where only one can be meant."""
    from riskkit.text.evidence_files import look_at, named_files

    there = look_at(folder, named_files(reading.register))
    lost = [
        (result.id, place, each.file, each.sha256.casefold())
        for result in reading.register.results
        for place, each in enumerate(result.evidence)
        if each.sha256 is not None and not there[each.file].exists and not there[each.file].problem
    ]
    if not lost:
        return
    found = _by_hash(folder, {digest for *_, digest in lost})
    for record, place, old, digest in lost:
        if there[old].outside or len(found.get(digest, ())) != 1:
            continue
        path, whole = in_data(data_of(reading, record), ("evidence", place, "file"))
        if whole:
            yield record, path, old, found[digest][0]


def _by_hash(folder: Path, wanted: set[str]) -> Mapping[str, list[str]]:
    """SHA-256 -> files inside the folder that have it, of those that are wanted."""
    found: dict[str, list[str]] = defaultdict(list)
    looked = 0
    for where, folders, files in os.walk(folder):
        folders[:] = sorted(each for each in folders if not each.startswith("."))
        for each in sorted(files):
            path = os.path.join(where, each)
            if each.startswith(".") or os.path.islink(path) or not os.path.isfile(path):
                continue
            looked += 1
            if looked > MOST_FILES or os.path.getsize(path) > LARGEST_EVIDENCE:
                continue
            with open(path, "rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
            if digest in wanted:
                found[digest].append(os.path.relpath(path, folder).replace(os.sep, "/"))
    return found
