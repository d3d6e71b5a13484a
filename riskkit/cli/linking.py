"""`link` and `unlink`: naming one record in another, and taking the name out again."""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

from riskkit.cli.editing import (
    Change,
    carry_out,
    data_of,
    home_of,
    kind_of,
    refuse_change_of_result,
    refuse_new_trouble_in,
    usual_order,
)
from riskkit.diagnostics import RiskkitError

if TYPE_CHECKING:
    from riskkit.model.references import LinkField
    from riskkit.text.positions import Path
    from riskkit.text.reader import Reading


def link(first: str, second: str, field: str | None, folder: FilePath, *, dry_run: bool) -> int:
    """Name the second record in the field of the first that can hold it; the exit status."""
    return carry_out(folder, lambda reading: _linked(reading, first, second, field), dry_run=dry_run)


def unlink(first: str, second: str, field: str | None, folder: FilePath, *, dry_run: bool) -> int:
    """Take the second record out of the first; the exit status."""
    return carry_out(folder, lambda reading: _unlinked(reading, first, second, field), dry_run=dry_run)


def _linked(reading: Reading, first: str, second: str, name: str | None) -> Change:
    from riskkit.text.editing import add_to_list, set_field

    document, home = home_of(reading, first)
    section = str(home_of(reading, second)[1][0])
    field = _field(reading, first, second, section, name)
    data = data_of(reading, first)
    here = data.get(field.name) if isinstance(data, dict) else None
    if second in _named(here):
        return Change({}, (f"{first} names {second} under `{field.name}` already.",), "")
    if not field.many and here is not None:
        raise RiskkitError(
            f"`{field.name}` of {first} holds {here}, and can hold only one",
            f"riskkit set {first} {field.name} {second}",
        )
    refuse_change_of_result(reading, first, (field.name,))
    content = reading.snapshot.files[document.name]
    order = usual_order(reading, first)
    if field.many:
        edited = add_to_list(document, content, home, (field.name,), second, order)
    else:
        edited = set_field(document, content, home, (field.name,), second, None, order)
    refuse_new_trouble_in(reading, first, edited)
    told = f"{first} {field.refers.relation} {second}: added to `{field.name}` in {document.name}."
    return Change({document.name: edited.content}, (told,), f"link {first} {second}")


def _named(here: Any) -> list[str]:
    """Ids in a field: bare, in a list, or as causes."""
    entries = here if isinstance(here, list) else [here]
    return [str(each.get("by")) if isinstance(each, dict) else str(each) for each in entries]


def _field(reading: Reading, first: str, second: str, section: str, name: str | None) -> LinkField:
    """The field of a record in which the other one may be named.

    Raises:
        RiskkitError: where there is none, or more than one and none was asked for.
    """
    from riskkit.model.references import link_fields

    kind = kind_of(reading, first)
    fields = tuple(each for each in link_fields(kind) if each.takes(section)) if kind is not None else ()
    if name is not None:
        found = next((each for each in fields if each.name == name.replace("-", "_")), None)
        if found is not None:
            return found
        can = f"{first} can hold {second} in {_listed(fields)}" if fields else f"{first} can hold it nowhere"
        raise RiskkitError(
            f"`{name}` of {first} holds no record of `{section}`",
            f"{can}; a field inside a group is written with `riskkit set {first} {name} {second}`",
        )
    if not fields:
        other = kind_of(reading, second)
        turned = other is not None and any(
            each.takes(str(home_of(reading, first)[1][0])) for each in link_fields(other)
        )
        raise RiskkitError(
            f"{first} has no field for a record of `{section}`",
            f"the link goes the other way: riskkit link {second} {first}"
            if turned
            else f"`riskkit why {first}` tells what it is linked with",
        )
    if len(fields) > 1:
        raise RiskkitError(
            f"{first} can hold {second} in {_listed(fields)}",
            f"say which: riskkit link {first} {second} --as {fields[0].name}",
        )
    return fields[0]


def _listed(fields: tuple[LinkField, ...]) -> str:
    return ", ".join(f"`{each.name}` ({each.refers.relation})" for each in fields)


def _unlinked(reading: Reading, first: str, second: str, name: str | None) -> Change:
    from riskkit.text.editing import remove_field, remove_from_list

    document, home = home_of(reading, first)
    places = places_of(reading, first, second)
    if name is not None:
        wanted = tuple(name.replace("-", "_").split("."))
        places = [
            path for path in places if tuple(step for step in path if isinstance(step, str))[: len(wanted)] == wanted
        ]
    if not places:
        raise RiskkitError(
            f"{first} does not name {second}" + (f" under `{name}`" if name else ""),
            f"`riskkit why {first}` tells what it names",
        )
    fields = list(dict.fromkeys(str(path[0]) for path in places))
    if len(fields) > 1:
        raise RiskkitError(
            f"{first} names {second} in {' and '.join(f'`{each}`' for each in fields)}",
            f"say which: riskkit unlink {first} {second} --as {fields[0]}",
        )
    path = places[-1]
    refuse_change_of_result(reading, first, path)
    content = reading.snapshot.files[document.name]
    kind = kind_of(reading, first)
    from riskkit.model.references import link_fields

    many = kind is not None and any(each.many and each.name == path[0] for each in link_fields(kind))
    edited = (remove_from_list if many else remove_field)(document, content, home, path)
    refuse_new_trouble_in(reading, first, edited)
    told = f"{first} does not name {second} under `{fields[0]}` any more."
    return Change({document.name: edited.content}, (told,), f"unlink {first} {second}")


def places_of(reading: Reading, first: str, second: str) -> list[Path]:
    """Paths inside a record to what goes where another record is no longer named: an entry, a field, a name.

    Raises:
        RiskkitError: where the record cannot be read as written.
    """
    from riskkit.model.references import references

    record = reading.register.records.get(first)
    if record is None:
        home_of(reading, first)
        raise RiskkitError(f"{first} cannot be read as written", "`riskkit check` says what is wrong with it")
    data = data_of(reading, first)
    found = []
    for reference in references(record):
        if reference.target == second:
            path, whole = in_data(data, reference.path)
            # The entry of a list that points at it goes as a whole: a cause is nothing without what it is.
            while len(path) > 1 and whole and isinstance(path[-1], str) and isinstance(path[-2], int):
                path = path[:-1]
            found.append(path)
    return list(dict.fromkeys(found))


def in_data(data: Any, path: Path) -> tuple[Path, bool]:
    """A path through a record as it leads through what was typed, where one entry needs no list and a cause no group.

    Returns:
        The path, and whether all of its names were found.
    """
    here, walked = data, list[str | int]()
    step: Any
    for step in path:
        named = isinstance(here, dict) and step in here
        if named or (isinstance(here, list) and isinstance(step, int) and step < len(here)):
            here = here[step]
        elif isinstance(step, int):
            continue
        else:
            return tuple(walked), False
        walked.append(step)
    return tuple(walked), True
