"""Records that got another id and say the same: told as renamed, where nothing else can have happened."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel

from riskkit.judgement.fingerprints import digest_of_all
from riskkit.model.fields import Record
from riskkit.model.register import Register
from riskkit.model.upkeep import Waiver


def renamed(old: Register, new: Register) -> Mapping[str, str]:
    """Old id -> new id of every record that is gone and stands under one new id with the very same content.

    A record may point at another renamed one; so the search goes on until it finds no more. Two records alike are
    never called renamed, for nobody knows which became which.
    """
    names: dict[str, str] = {}
    gone = {id: record for id, record in old.records.items() if id not in new.records}
    come = {id: record for id, record in new.records.items() if id not in old.records and id not in old.broken}
    while gone and come:
        before, after = _by_content(gone, names), _by_content(come, {})
        found = {
            ids[0]: after[content][0]
            for content, ids in before.items()
            if len(ids) == 1 and len(after.get(content, ())) == 1
        }
        if not found:
            break
        names |= found
        for was, now in found.items():
            del gone[was], come[now]
    return names


def _by_content(records: Mapping[str, Record], names: Mapping[str, str]) -> Mapping[str, list[str]]:
    found: dict[str, list[str]] = defaultdict(list)
    for id, record in records.items():
        if not isinstance(record, Waiver):  # a waiver names records in a plain text, and is told anew
            said = with_names(record, names).model_copy(update={"id": ""})
            found[f"{record.SECTION} {digest_of_all(said)}"].append(id)
    return found


def under_new_names(register: Register, names: Mapping[str, str]) -> Register:
    """The same register with other ids, wherever they stand."""
    if not names:
        return register
    return Register(
        {names.get(id, id): with_names(record, names) for id, record in register.records.items()},
        register.device,
        register.policy,
        register.broken,
    )


def with_names(value: Any, names: Mapping[str, str]) -> Any:
    """A value in which every text that is nothing but an old id is the new one."""
    if not names:
        return value
    match value:
        case BaseModel():
            fields = {name: with_names(part, names) for name, part in value}
            return value.model_copy(
                update={name: part for name, part in fields.items() if part != getattr(value, name)}
            )
        case Mapping():
            return {names.get(key, key): with_names(part, names) for key, part in value.items()}
        case tuple():
            return tuple(with_names(part, names) for part in value)
        case str():
            return names.get(value, value)
        case _:
            return value
