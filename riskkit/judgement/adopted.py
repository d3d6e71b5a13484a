"""What has changed between a record and the catalog entry it was taken from: by the catalog, here, or both.

A record remembers a fingerprint of each field that the catalog wrote. Where the catalog says something else now, the
catalog has changed; where the record does, somebody has changed it here. The old text itself is in git, not in the record.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from riskkit.judgement.adopting import WRITES_NO_FIELD, content, value_of
from riskkit.judgement.fingerprints import digest
from riskkit.model.catalog import Entry
from riskkit.model.fields import Adopted
from riskkit.model.records import Control, Hazard
from riskkit.model.verification import Test

LONGEST = 300
"""Letters of a text that is shown as it reads now; a longer one is cut."""


@dataclass(frozen=True, slots=True)
class Change:
    """One field that the catalog, the project or both have changed since the record was taken over.

    Attributes:
        name: A field such as `situation`, or one of `WRITES_NO_FIELD`.
        catalog: What the catalog says now.
        here: What the record says; None where it has no such field.
        by_catalog: Whether the catalog says something else than it did.
        by_project: Whether the record says something else than was written into it.
    """

    name: str
    catalog: Any
    here: Any
    by_catalog: bool
    by_project: bool

    def sentence(self) -> str:
        """What changed, without a stop at the end."""
        what = WRITES_NO_FIELD.get(self.name, f"`{self.name}`")
        now = "is no longer there" if self.catalog is None else f"now reads: {shown(self.catalog)}"
        if not self.by_catalog:
            return f"{what} was changed here, and is as it was in the catalog"
        if self.by_project:
            return f"{what} {now}; it was changed here too, and reads: {shown(self.here)}"
        return f"{what} {now}"


def shown(value: Any) -> str:
    """A value as it is read aloud: lists with semicolons, yes and no."""
    if value is None or value == []:
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = "; ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)
    text = " ".join(text.split())
    return text if len(text) <= LONGEST else f"{text[: LONGEST - 3].rsplit(' ', 1)[0]} ..."


def changes(record: Hazard | Control | Test, entries: tuple[Entry, ...]) -> tuple[Change, ...]:
    """Every field that differs from what was written, by whoever changed it.

    Args:
        record: A record that was adopted.
        entries: Its entry as it is now, and behind it the one through which it was found, where there is one.
    """
    assert record.adopted is not None
    return tuple(_changes(record, record.adopted.wrote, content(*entries)))


def _changes(record: Hazard | Control | Test, wrote: Mapping[str, str], now: Mapping[str, Any]) -> Iterator[Change]:
    for name in dict.fromkeys((*now, *wrote)):
        said, here = now.get(name), value_of(record, name)
        by_catalog = (digest(said) if name in now else None) != wrote.get(name)
        by_project = here is not None and name in wrote and digest(here) != wrote[name]
        if by_catalog or by_project:
            yield Change(name, said, here, by_catalog, by_project)


def is_older(adopted: Adopted, entries: tuple[Entry, ...]) -> bool:
    """Whether the catalog has a later version than the one that the record names."""
    newer = entries[0].version > adopted.version
    if len(entries) > 1 and adopted.through_version is not None:
        newer = newer or entries[1].version > adopted.through_version
    return newer


def versions(adopted: Adopted, entries: tuple[Entry, ...]) -> str:
    """Which version was adopted and which there is now, as the rest of a sentence."""
    said = []
    if entries[0].version != adopted.version:
        said.append(f"version {adopted.version} of {adopted.entry}, and the catalog has version {entries[0].version}")
    if len(entries) > 1 and adopted.through_version is not None and entries[1].version != adopted.through_version:
        said.append(
            f"version {adopted.through_version} of {adopted.through}, and the catalog has version {entries[1].version}"
        )
    return "; and ".join(said)


def what_is_new(record: Hazard | Control | Test, entries: tuple[Entry, ...]) -> str:
    """What the catalog has changed, in one sentence without a stop; the words of `riskkit catalog diff`."""
    found = [each.sentence() for each in changes(record, entries) if each.by_catalog]
    return ". ".join(found) if found else "nothing that was written into the record has changed"


def what_to_do(id: str, adopted: Adopted, entries: tuple[Entry, ...]) -> str:
    """What is typed once somebody has compared a record with the newer entry."""
    lines = []
    if entries[0].version != adopted.version:
        lines.append(f"`riskkit set {id} adopted.version {entries[0].version}`")
    if len(entries) > 1 and adopted.through_version is not None and entries[1].version != adopted.through_version:
        lines.append(f"`riskkit set {id} adopted.through_version {entries[1].version}`")
    return f"take over what fits, then {' and '.join(lines)}"
