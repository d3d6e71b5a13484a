"""A YAML file that holds one section and nothing else; everything wrong with that is one sentence with its line."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from riskkit.diagnostics import RiskkitError
from riskkit.text.complaints import nearest
from riskkit.text.positions import Document
from riskkit.text.syntax import parse_file


def single_section(path: Path, section: str, what: str, holder: str, fields: str) -> Document:
    """Read a file and see that it holds the section, as a group of fields, alone.

    Args:
        path: The file.
        section: Name of the section.
        what: What stands below it, such as "the budget".
        holder: What such a file is called, such as "a budget file".
        fields: Fields to begin with, such as "`formula:`, `unit:` and `inputs:`".

    Raises:
        RiskkitError: one sentence with file and line.
    """
    name_one = f"name a YAML file with a `{section}:` section"
    try:
        content = path.read_bytes()
    except IsADirectoryError:
        raise RiskkitError(f"{path} is a folder", name_one) from None
    except OSError as error:
        raise RiskkitError(f"{path} cannot be read: {error.strerror}", name_one) from None
    document = parse_file(str(path), content)
    for found in document.diagnostics:
        raise RiskkitError(f"{found.place}: {found.headline}", found.help)
    data = document.data
    if not isinstance(data, Mapping) or section not in data:
        guess = nearest(section, tuple(str(name) for name in data or ()))
        raise RiskkitError(
            f"{path} has no section `{section}:`",
            f"write `{section}:` in place of `{guess}:`" if guess else f"put {what} below `{section}:`",
        )
    for name in data:
        if name != section:
            place = document.place((name,), key=True)
            raise RiskkitError(f"{place}: there is no section `{name}` here", f"{holder} holds `{section}:` alone")
    if not isinstance(data[section], Mapping):
        place = document.place((section,), key=True)
        raise RiskkitError(
            f"{place}: `{section}` should be a group of fields", f"write {fields} below it, indented by two blanks"
        )
    return document
