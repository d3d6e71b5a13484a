"""The register as a whole: all records by id, by section, and what they are called."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import TypeVar

from riskkit.model.fault_trees import FaultTree
from riskkit.model.fields import Record
from riskkit.model.policy import Policy
from riskkit.model.prompts import Asked
from riskkit.model.records import Control, Device, EnergySource, Function, Hazard, Part, UseStep
from riskkit.model.references import Reference, references
from riskkit.model.upkeep import (
    Comment,
    Decision,
    Gate,
    Observation,
    ReviewRole,
    Sentence,
    Tombstone,
    Unit,
    Waiver,
)
from riskkit.model.verification import Assumption, Calculation, Instrument, Result, Test

Kind = TypeVar("Kind", bound=Record)

RECORD_KINDS: tuple[type[Record], ...] = (
    Part,
    Function,
    UseStep,
    EnergySource,
    Hazard,
    Control,
    FaultTree,
    Test,
    Result,
    Instrument,
    Calculation,
    Assumption,
    Asked,
    Observation,
    Decision,
    Waiver,
    Tombstone,
    Comment,
    ReviewRole,
    Unit,
    Gate,
    Sentence,
)
"""Every kind of record, in the order of the reference page."""

SECTIONS: Mapping[str, type[Record]] = MappingProxyType({kind.SECTION: kind for kind in RECORD_KINDS})
"""Section of a file -> the kind of record that stands in it."""

SINGLES: Mapping[str, type[Device] | type[Policy]] = MappingProxyType({"device": Device, "policy": Policy})
"""Sections that a register has once and that hold one block instead of records."""


@dataclass(frozen=True, eq=False)
class Register:
    """All records of a project. Records that could not be read are in `broken` by id and section."""

    records: Mapping[str, Record] = field(default_factory=dict)
    device: Device | None = None
    policy: Policy | None = None
    broken: Mapping[str, str] = field(default_factory=dict)
    _sections: dict[type[Record], tuple[Record, ...]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    def __post_init__(self) -> None:
        grouped: dict[type[Record], list[Record]] = {kind: [] for kind in RECORD_KINDS}
        for record in self.records.values():
            grouped[type(record)].append(record)
        self._sections.update((kind, tuple(found)) for kind, found in grouped.items())

    @cached_property
    def references(self) -> Mapping[str, tuple[Reference, ...]]:
        """Every reference of every record, by the id of the record; found once."""
        return {id: tuple(references(record)) for id, record in self.records.items()}

    def of(self, kind: type[Kind]) -> tuple[Kind, ...]:
        """All records of one kind, in the order of the files."""
        return self._sections[kind]  # type: ignore[return-value]

    def get(self, id: str, kind: type[Kind]) -> Kind | None:
        """The record of that id and kind, or None where it is missing, broken or of another kind."""
        found = self.records.get(id)
        return found if isinstance(found, kind) else None

    def all_of(self, ids: Iterable[str], kind: type[Kind]) -> Iterator[Kind]:
        """The records of that kind among the ids; ids that lead nowhere are another rule's business."""
        for id in ids:
            found = self.records.get(id)
            if isinstance(found, kind):
                yield found

    def section_of(self, id: str) -> str | None:
        """The section in which an id stands, broken records included."""
        found = self.records.get(id)
        return found.SECTION if found is not None else self.broken.get(id)

    @property
    def hazards(self) -> tuple[Hazard, ...]:
        """All hazards."""
        return self.of(Hazard)

    @property
    def controls(self) -> tuple[Control, ...]:
        """All controls, withdrawn ones included."""
        return self.of(Control)

    @property
    def tests(self) -> tuple[Test, ...]:
        """All tests."""
        return self.of(Test)

    @property
    def results(self) -> tuple[Result, ...]:
        """All results."""
        return self.of(Result)

    @property
    def parts(self) -> tuple[Part, ...]:
        """All parts."""
        return self.of(Part)

    @property
    def units(self) -> tuple[Unit, ...]:
        """All built units."""
        return self.of(Unit)

    def title_of(self, id: str) -> str:
        """What a record is called: its title, its text, or its id."""
        found = self.records.get(id)
        for name in ("title", "text", "was"):
            words = getattr(found, name, None)
            if isinstance(words, str):
                return words
        return id
