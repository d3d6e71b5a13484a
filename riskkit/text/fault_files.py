"""A fault tree in a file of its own; everything wrong with it is one sentence with its line."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pydantic import ValidationError

from riskkit.diagnostics import RiskkitError
from riskkit.model.fault_trees import TreeSheet
from riskkit.text.complaints import complaints, nearest
from riskkit.text.positions import Document
from riskkit.text.syntax import parse_file

SECTION = "fault_tree"


def load_tree(path: Path) -> TreeSheet:
    """Read the `fault_tree:` section of a YAML file.

    Raises:
        RiskkitError: one sentence with file and line where the file cannot be read as a tree.
    """
    document = _document(path)
    data = document.data[SECTION]
    try:
        return TreeSheet.model_validate(data)
    except ValidationError as error:
        first = next(complaints(error, TreeSheet, data))
        place = document.place((SECTION, *first.path), key=first.at_key)
        raise RiskkitError(f"{place}: {first.headline}", first.help) from None


def _document(path: Path) -> Document:
    try:
        content = path.read_bytes()
    except OSError as error:
        raise RiskkitError(
            f"{path} cannot be read: {error.strerror}", f"name a YAML file with a `{SECTION}:` section"
        ) from None
    document = parse_file(str(path), content)
    for found in document.diagnostics:
        raise RiskkitError(f"{found.place}: {found.headline}", found.help)
    data = document.data
    if not isinstance(data, Mapping) or SECTION not in data:
        names = tuple(str(name) for name in data) if isinstance(data, Mapping) else ()
        guess = nearest(SECTION, names)
        raise RiskkitError(
            f"{path} has no section `{SECTION}:`",
            f"write `{SECTION}:` in place of `{guess}:`" if guess else f"put the tree below `{SECTION}:`",
        )
    for name in data:
        if name != SECTION:
            place = document.place((name,), key=True)
            raise RiskkitError(
                f"{place}: there is no section `{name}` here", f"a file with a tree holds `{SECTION}:` alone"
            )
    if not isinstance(data[SECTION], Mapping):
        place = document.place((SECTION,), key=True)
        raise RiskkitError(
            f"{place}: `{SECTION}` should be a group of fields",
            "write `top:`, `gates:` and `events:` below it, indented by two blanks",
        )
    return document
