"""Putting new bytes in the place of files: one file whole or not at all, several files all or none.

Several files cannot be replaced at one moment. So all new contents are written beside the old ones first, then
a note of what is about to be replaced, and only then the files, one by one. Whoever is interrupted before the
note leaves the old register; whoever is interrupted after it leaves all that is needed to finish, and the next
editing command, or `check --fix`, does so.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import stat
import tempfile
import time
from collections.abc import Mapping
from pathlib import Path

from riskkit.diagnostics import RiskkitError
from riskkit.text.snapshot import EDIT_NOTE, ENDINGS

PART = ".part"
"""Ending of a new content that waits beside the file that it will replace."""
OLD_ENOUGH = 60.0
"""Seconds after which a waiting content that no note speaks of was left behind by someone who died."""


def write_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all: a full disk or a kill leaves the old one. Permissions are kept.

    Raises:
        RiskkitError: where the folder is missing or cannot be written to.
    """
    waiting = _prepared(path, content)
    try:
        os.replace(waiting, path)
        _on_disk(path.parent)
    except OSError as error:
        _take_away(waiting)
        raise _not_written(path, error) from None


def replace_files(folder: Path, before: Mapping[str, bytes], after: Mapping[str, bytes], what: str) -> None:
    """Replace files of a register, all or none; to be called by its only writer.

    Args:
        folder: The register.
        before: Name -> the bytes that the edit was worked out on; a name that is missing or empty is a new file.
        after: Name -> its new bytes.
        what: The edit in a few words, such as `rename H01 to H31`, for whoever finds it interrupted.

    Raises:
        RiskkitError: where a file was changed in the meantime or cannot be written; then all are as they were.
    """
    paths = {name: Path(os.path.realpath(folder / name)) for name in after}  # a link stays a link
    for name, path in paths.items():
        if (path.read_bytes() if path.exists() else b"") != before.get(name, b""):
            raise RiskkitError(f"{name} was changed at this very moment; nothing was written", "try again")
        if path.exists() and not os.access(path, os.W_OK):
            raise RiskkitError(f"{name} may not be written to", "change its permissions; nothing was written")
    if len(after) == 1:
        (name,) = after
        write_whole(paths[name], after[name])
        return
    waiting: dict[str, str] = {}
    try:
        for name, path in paths.items():
            waiting[name] = _prepared(path, after[name])
        note = {
            "what": what,
            "files": [
                {
                    "file": name,
                    "part": os.path.basename(waiting[name]),
                    "before": _hash(before.get(name, b"")),
                    "after": _hash(after[name]),
                }
                for name in after
            ],
        }
        write_whole(folder / EDIT_NOTE, (json.dumps(note, ensure_ascii=False, indent=1) + "\n").encode())
    except RiskkitError:
        for each in waiting.values():
            _take_away(each)
        raise
    finish(folder)


def finish(folder: Path) -> str:
    """Finish an edit of several files that was interrupted; to be called by the register's only writer.

    Returns:
        The edit in a few words; empty where there was nothing to finish.

    Raises:
        RiskkitError: where a file holds neither its old nor its new content, or the note cannot be believed.
    """
    note = folder / EDIT_NOTE
    if not note.exists():
        return ""
    what, entries = _believed(note)
    steps = []
    for entry in entries:
        path = Path(os.path.realpath(folder / entry["file"]))
        waiting = path.parent / entry["part"]
        now = _hash(path.read_bytes() if path.exists() else b"")
        if now == entry["after"]:
            continue
        if now != entry["before"] or not waiting.is_file() or _hash(waiting.read_bytes()) != entry["after"]:
            raise RiskkitError(
                f"the edit `{what}` was interrupted, and {entry['file']} was changed since; it cannot be finished",
                f"look at the files {', '.join(each['file'] for each in entries)}, mend them by hand, "
                f"then take {EDIT_NOTE} away",
            )
        steps.append((waiting, path))
    try:
        for waiting, path in steps:
            os.replace(waiting, path)
            _on_disk(path.parent)
        for entry in entries:
            _take_away(str(Path(os.path.realpath(folder / entry["file"])).parent / entry["part"]))
        os.unlink(note)
        _on_disk(folder)
    except OSError as error:
        raise RiskkitError(
            f"the edit `{what}` could not be finished: {(error.strerror or 'unknown reason').lower()}",
            "mend that, then run `riskkit check --fix`",
        ) from None
    return what


def sweep(folder: Path, names: Mapping[str, bytes]) -> None:
    """Take away contents that were left waiting beside a register's files by someone who died before the note."""
    homes = {Path(os.path.realpath(folder / name)).parent for name in names}
    for home in homes:
        for entry in os.scandir(home):
            made_here = entry.name.startswith(".") and entry.name.endswith(PART)
            of_yaml = any(f"{ending}." in entry.name for ending in (*ENDINGS, ".json"))
            if made_here and of_yaml and entry.stat(follow_symlinks=False).st_mtime < time.time() - OLD_ENOUGH:
                _take_away(entry.path)


def _believed(note: Path) -> tuple[str, list[dict[str, str]]]:
    """What a note says; it may come from a stranger, so it may only name YAML files inside the folder."""
    try:
        told = json.loads(note.read_bytes())
        what, entries = str(told["what"]), [{key: str(each[key]) for key in _KEYS} for each in told["files"]]
        root = os.path.realpath(note.parent)
        for each in entries:
            real = os.path.realpath(note.parent / each["file"])
            outside = os.path.commonpath([real, root]) != root or not each["file"].endswith(ENDINGS)
            if outside or os.path.basename(each["part"]) != each["part"] or not each["part"].endswith(PART):
                raise ValueError(each["file"])
    except (OSError, ValueError, KeyError, TypeError):
        raise RiskkitError(
            f"{note} speaks of an interrupted edit, and cannot be read", "look at it, and take it away"
        ) from None
    return what, entries


_KEYS = ("file", "part", "before", "after")


def _prepared(path: Path, content: bytes) -> str:
    """The new content in a file beside the old one, on the disk for good, with the old one's permissions."""
    handle, name = -1, ""
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=PART)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, _mode(path))
    except OSError as error:
        _take_away(name)
        raise _not_written(path, error) from None
    return name


def _mode(path: Path) -> int:
    try:
        return stat.S_IMODE(os.stat(path).st_mode)
    except FileNotFoundError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def _not_written(path: Path, error: OSError) -> RiskkitError:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return RiskkitError(f"{path} cannot be written: {error.strerror}", "make room; the old file is as it was")
    return RiskkitError(f"{path} cannot be written: {error.strerror}", "name another file")


def _take_away(name: str) -> None:
    if name and os.path.lexists(name):
        os.unlink(name)


def _on_disk(folder: Path) -> None:
    """Make sure that the names in a folder are on the disk, where the system can."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(handle)


def _hash(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
