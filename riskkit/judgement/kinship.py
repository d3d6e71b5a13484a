"""Which entries of a catalog speak of the same thing as a record of the register, and why one thinks so.

Nothing is learnt and nothing is guessed from names of files: a kinship is a sum of plain reasons, each of which can be
read aloud. A rare word that two texts share counts more than one that half the catalog uses.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from riskkit.judgement.adopting import part_fits, speaks_of_any, step_fits
from riskkit.judgement.likeness import telling_words
from riskkit.judgement.listing import with_and
from riskkit.model import catalog
from riskkit.model.records import EnergySource, Function, Hazard, Part, UseStep
from riskkit.model.register import Register

SAME_THING: Mapping[str, str] = MappingProxyType(
    {
        "co2": "carbon dioxide",
        "o2": "oxygen",
        "stale": "carbon dioxide rebreathed",
        "suffocation": "breathed air",
        "asphyxia": "breathed air",
        "fan": "blower",
        "outlet": "outflow",
        "exhalation": "outflow breathing out",
        "plugged": "blocked",
        "covered": "blocked",
        "obstructed": "blocked",
        "clogged": "loaded",
        "overpressure": "pressure rise above",
        "barotrauma": "pressure rise above",
        "electrocution": "electric shock",
        "hot": "heat",
        "temperature": "heat",
        "burns": "heat burn",
        "overheats": "heat",
        "sounder": "alarm",
        "buzzer": "alarm",
        "warning": "alarm",
        "kinked": "kinked blocked",
        "disconnected": "off pulled",
        "detached": "off pulled",
        "cells": "battery",
        "lithium": "battery",
        "pack": "battery",
        "smell": "vapour",
        "fumes": "vapour",
        "infection": "germs",
        "contamination": "germs",
        "dirty": "germs",
    }
)
"""Word that people write -> the words under which a catalog speaks of the same thing; common practice, no source."""

_SAME_STEMS = tuple((telling_words(word), telling_words(meant)) for word, meant in SAME_THING.items())

SAME_TITLE = 0.6
"""Share of telling words from which two titles name one thing."""

LEAST_KINSHIP = 1.0
"""Sum of reasons below which an entry is not called kin."""

SHARE_OF_BEST = 0.45
"""An entry with less than this share of the best one's reasons is left out."""


def words_of(*texts: str | None) -> frozenset[str]:
    """The telling words of texts, with those that stand for the same thing."""
    found: set[str] = set()
    for text in texts:
        if text:
            plain = text.casefold()
            found |= telling_words(plain)
            for word, meant in _SAME_STEMS:
                if word <= found:
                    found |= meant
    return frozenset(found)


def likeness(one: str, other: str) -> float:
    """Share of the telling words that two titles have in common, from 0 to 1."""
    mine, theirs = words_of(one), words_of(other)
    return len(mine & theirs) / len(mine | theirs) if mine and theirs else 0.0


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason for a kinship: how much it counts, and the words for it."""

    weight: float
    words: str


@dataclass(frozen=True, slots=True)
class Kin:
    """An entry that speaks of the same thing, and why."""

    id: str
    reasons: tuple[Reason, ...]

    @property
    def strength(self) -> float:
        """The reasons together."""
        return sum(each.weight for each in self.reasons)

    @property
    def because(self) -> str:
        """The two strongest reasons, as the rest of a sentence."""
        best = sorted(self.reasons, key=lambda each: -each.weight)[:2]
        return " and ".join(each.words for each in best)


@dataclass(frozen=True)
class Library:
    """The readable entries of the catalogs by id, with the weight of each word."""

    entries: Mapping[str, catalog.Entry]

    @cached_property
    def hazards(self) -> Mapping[str, catalog.Hazard]:
        """Hazards by id."""
        return {id: entry for id, entry in self.entries.items() if isinstance(entry, catalog.Hazard)}

    @cached_property
    def sources(self) -> Mapping[str, catalog.Failure | catalog.UseError | catalog.BuildError]:
        """Everything that starts a hazard, by id."""
        kinds = (catalog.Failure, catalog.UseError, catalog.BuildError)
        return {id: entry for id, entry in self.entries.items() if isinstance(entry, kinds)}

    @cached_property
    def controls(self) -> Mapping[str, catalog.Control]:
        """Controls by id."""
        return {id: entry for id, entry in self.entries.items() if isinstance(entry, catalog.Control)}

    @cached_property
    def trials(self) -> Mapping[str, catalog.Test | catalog.UnitCheck]:
        """Tests and checks of each unit by id."""
        kinds = (catalog.Test, catalog.UnitCheck)
        return {id: entry for id, entry in self.entries.items() if isinstance(entry, kinds)}

    @cached_property
    def _hazard_words(self) -> Mapping[str, frozenset[str]]:
        return {
            id: words_of(each.title, each.source, each.situation, each.harm, *each.sequence)
            for id, each in self.hazards.items()
        }

    @cached_property
    def _spread(self) -> Counter[str]:
        return Counter(word for words in self._hazard_words.values() for word in words)

    def weight(self, word: str) -> float:
        """How much a shared word says: 1 where one hazard of the catalog uses it, towards 0 where all do."""
        many = max(len(self.hazards), 2)
        return math.log(many / max(self._spread[word], 1)) / math.log(many)

    # -- kin of a hazard --------------------------------------------------------------------------

    def kin_of(self, hazard: Hazard, register: Register) -> tuple[Kin, ...]:
        """Catalog hazards that speak of what a hazard speaks of, the nearest first."""
        causes = self.causes_of(hazard, register)
        found = []
        for id, entry in self.hazards.items():
            reasons = tuple(self._reasons(id, entry, hazard, register, causes))
            if sum(each.weight for each in reasons) >= LEAST_KINSHIP:
                found.append(Kin(id, reasons))
        found.sort(key=lambda each: (-each.strength, each.id))
        return tuple(each for each in found if each.strength >= SHARE_OF_BEST * found[0].strength)

    def _reasons(
        self, id: str, entry: catalog.Hazard, hazard: Hazard, register: Register, causes: Mapping[str, Reason]
    ) -> Iterator[Reason]:
        if hazard.adopted is not None and hazard.adopted.entry == id:
            yield Reason(10.0, f"{hazard.id} was taken from it")
        for source, reason in causes.items():
            starts = self.sources[source].starts
            if id in starts:
                # The worst hazard comes first in an entry, and the others are further from what it is about.
                yield Reason(reason.weight * (1.0 if starts[0] == id else 0.6), reason.words)
        mine = words_of(hazard.title, hazard.source, hazard.situation, hazard.harm.text, *hazard.sequence)
        shared = sorted(mine & self._hazard_words[id], key=lambda word: (-self.weight(word), word))
        core = words_of(hazard.title, hazard.source) & words_of(entry.title, entry.source)
        weight = sum(self.weight(word) * (1.5 if word in core else 0.5) for word in shared)
        if weight > 0:
            telling = [word for word in shared if word in core or self.weight(word) > 0.4][:4] or shared[:2]
            said = with_and(f"`{word}`" for word in _as_written(telling, entry))
            yield Reason(weight, f"it shares the words {said} with {hazard.id}")
        if set(hazard.condition) & set(entry.condition):
            yield Reason(0.2, f"both arise in {_condition(hazard, entry)}")
        yield from _by_energy(entry, hazard, register)

    def causes_of(self, hazard: Hazard, register: Register) -> Mapping[str, Reason]:
        """Failures, use errors and build errors that a hazard's causes are, by id, and why one thinks so."""
        found: dict[str, Reason] = {}
        for cause in hazard.causes:
            record = register.records.get(cause.by)
            mode = cause.mode or ""
            for id, entry in self.sources.items():
                reason = source_reason(entry, record, mode) if record is not None else None
                if reason is not None and (id not in found or reason.weight > found[id].weight):
                    found[id] = reason
        through = hazard.adopted.through if hazard.adopted is not None else None
        if through is not None and through in self.sources:
            found[through] = Reason(10.0, f"{hazard.id} was found through it")
        return found


def source_reason(
    entry: catalog.Failure | catalog.UseError | catalog.BuildError, record: object, mode: str
) -> Reason | None:
    """Why a cause of the register is what an entry describes; None where it is not."""
    if isinstance(entry, catalog.UseError):
        if not isinstance(record, UseStep):
            return None
        shared = words_of(mode) & words_of(entry.title)
        if len(shared) >= 2 or (shared and step_fits(entry, record)):
            return Reason(
                1.5 + likeness(mode, entry.title), f"its cause {record.id} ({mode}) is what `{entry.title}` says"
            )
        return None
    if not isinstance(record, Part) or not part_fits(entry, record):
        return None
    shared = words_of(mode) & words_of(entry.mode)
    if not shared:
        return None
    what = record.part_class or record.title
    weight = 2.0 + 2.0 * len(shared) / len(words_of(mode) | words_of(entry.mode))
    return Reason(weight, f"its cause {record.id} is a {what}, and `{mode}` is what `{entry.title}` describes")


def _by_energy(entry: catalog.Hazard, hazard: Hazard, register: Register) -> Iterator[Reason]:
    for words, ids, what in (
        (entry.energy, hazard.energy, "energy"),
        (entry.loss_of, hazard.loss_of, "loss of energy"),
    ):
        for each in register.all_of(ids, EnergySource):
            if speaks_of_any(each.title, words):
                yield Reason(1.0, f"it is about the {what} {each.id} ({each.title})")
    for function in register.all_of(hazard.functions, Function):
        if speaks_of_any(function.title, entry.spoils):
            yield Reason(0.8, f"it spoils what {function.id} does ({function.title})")


def _condition(hazard: Hazard, entry: catalog.Hazard) -> str:
    shared = next(each for each in hazard.condition if each in entry.condition)
    return {"normal": "normal use", "single fault": "a single fault"}.get(shared, shared)


def _as_written(stems: Iterable[str], entry: catalog.Hazard) -> list[str]:
    """Words as the entry writes them, for stems."""
    text = " ".join((entry.title, entry.source, entry.situation, entry.harm, *entry.sequence))
    found: dict[str, str] = {}
    for word in text.replace(",", " ").replace(".", " ").split():
        for stem in telling_words(word):
            found.setdefault(stem, word.casefold())
    return [found.get(stem, stem) for stem in stems]
