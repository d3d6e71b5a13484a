"""The bytes of a register: the YAML files below a folder, read once. Never anything outside the folder."""

from __future__ import annotations

import hashlib
import os
import stat
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from riskkit.diagnostics import Diagnostic, Place, RiskkitError, Severity

LARGEST_FILE = 32 * 1024 * 1024
ENDINGS = (".yaml", ".yml")
EDIT_NOTE = ".riskkit-edit.json"
"""Stands in a register while several of its files are replaced; what it says is known to `cli/replacing.py`."""


@dataclass(frozen=True)
class Snapshot:
    """Relative path -> bytes, in the order of the paths; `root` says where they came from."""

    files: Mapping[str, bytes]
    root: str = ""

    @classmethod
    def from_files(cls, files: Mapping[str, bytes], root: str = "") -> Snapshot:
        """A snapshot of files that are already in memory."""
        return cls(MappingProxyType(dict(sorted(files.items()))), root)

    def fingerprint(self) -> str:
        """SHA-256 over all names and bytes, in hexadecimal digits."""
        digest = hashlib.sha256()
        for name, content in self.files.items():
            digest.update(f"{len(name)} {name} {len(content)} ".encode("utf-8", "surrogateescape"))
            digest.update(content)
        return digest.hexdigest()


def read_folder(folder: Path) -> tuple[Snapshot, tuple[Diagnostic, ...]]:
    """All YAML files below a folder; hidden files and folders are passed over.

    Returns:
        The files, and findings about what could not be read.

    Raises:
        RiskkitError: where there is no such folder or no YAML file in it.
    """
    if not os.path.exists(folder):
        raise RiskkitError(f"there is no folder {folder}", f"`riskkit new {folder}` makes one")
    if not os.path.isdir(folder):
        raise RiskkitError(f"{folder} is a file, and a register is a folder", "name the folder that it stands in")
    files: dict[str, bytes] = {}
    troubles: list[Diagnostic] = []
    if os.path.lexists(os.path.join(folder, EDIT_NOTE)):
        troubles.append(
            _trouble(
                "edit-interrupted",
                EDIT_NOTE,
                "an edit of several files was interrupted here, or is just being written",
                "`riskkit check --fix` finishes it",
            )
        )
    root = os.path.realpath(folder)
    for name, path in _yaml_paths(folder, troubles):
        content = _content(name, path, root, troubles)
        if content is not None:
            files[name] = content
    if not files and not troubles:
        raise RiskkitError(f"there is no YAML file in {folder}", f"`riskkit new {folder}/register` makes a register")
    return Snapshot.from_files(files, str(folder)), tuple(troubles)


def yaml_names(folder: Path) -> tuple[str, ...]:
    """Relative names of the YAML files below a folder; hidden files and folders are passed over."""
    return tuple(name for name, _ in _yaml_paths(folder, []))


def _yaml_paths(folder: Path, troubles: list[Diagnostic]) -> list[tuple[str, str]]:
    """(relative name, path) of everything called *.yaml or *.yml, in the order of the names."""
    found = []

    def unreadable(error: OSError) -> None:
        troubles.append(
            _trouble(
                "file-unreadable",
                str(error.filename),
                f"the folder cannot be opened: {error.strerror}",
                "change its permissions",
            )
        )

    for where, folders, names in os.walk(folder, onerror=unreadable):
        # A virtual environment beside the register holds other people's YAML.
        folders[:] = sorted(
            each
            for each in folders
            if not each.startswith(".") and not os.path.exists(os.path.join(where, each, "pyvenv.cfg"))
        )
        base = os.path.relpath(where, folder)
        for name in [*names, *folders]:
            if name.endswith(ENDINGS) and not name.startswith("."):
                relative = name if base == "." else f"{base}/{name}"
                found.append((relative.replace(os.sep, "/"), os.path.join(where, name)))
    return sorted(found)


def _content(name: str, path: str, root: str, troubles: list[Diagnostic]) -> bytes | None:
    real = os.path.realpath(path)
    if real != path and os.path.commonpath([real, root]) != root:
        troubles.append(
            _trouble(
                "path-leaves-folder",
                name,
                "this link leads out of the register's folder",
                "copy the file into the folder",
            )
        )
        return None
    try:
        about = os.stat(path)
        if stat.S_ISDIR(about.st_mode):
            troubles.append(
                _trouble("file-is-a-folder", name, "this is a folder with the name of a YAML file", "rename the folder")
            )
            return None
        if not stat.S_ISREG(about.st_mode):
            troubles.append(_trouble("file-unreadable", name, "this is no ordinary file", "take it out of the folder"))
            return None
        if about.st_size > LARGEST_FILE:
            size = about.st_size // (1024 * 1024)
            troubles.append(
                _trouble(
                    "file-too-large",
                    name,
                    f"the file has {size} MiB; 32 MiB is the most",
                    "split it, or move recordings out",
                )
            )
            return None
        with open(path, "rb") as file:
            return file.read()
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        troubles.append(
            _trouble("file-unreadable", name, f"the file cannot be opened: {reason}", "change its permissions")
        )
        return None


def _trouble(rule: str, name: str, headline: str, help: str) -> Diagnostic:
    safe = name.encode("utf-8", "replace").decode()
    return Diagnostic(rule, Severity.ERROR, headline, Place(safe), "", help, breaks=True)
