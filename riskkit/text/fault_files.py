"""A fault tree in a file of its own; everything wrong with it is one sentence with its line."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from riskkit.diagnostics import RiskkitError
from riskkit.model.fault_trees import TreeSheet
from riskkit.text.complaints import complaints
from riskkit.text.single_sections import single_section

SECTION = "fault_tree"


def load_tree(path: Path) -> TreeSheet:
    """Read the `fault_tree:` section of a YAML file.

    Raises:
        RiskkitError: one sentence with file and line where the file cannot be read as a tree.
    """
    document = single_section(path, SECTION, "the tree", "a file with a tree", "`top:`, `gates:` and `events:`")
    data = document.data[SECTION]
    try:
        return TreeSheet.model_validate(data)
    except ValidationError as error:
        first = next(complaints(error, TreeSheet, data))
        place = document.place((SECTION, *first.path), key=first.at_key)
        raise RiskkitError(f"{place}: {first.headline}", first.help) from None
