"""Every question that could be asked about a register, and which of them touches the worst harm.

A cell is one thing and one way in which it goes wrong: a part and a failure mode, a function and a guide word, a step
of use and a slip, an energy and where it goes, the device and its surroundings.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from riskkit.judgement.deviations import (
    OF_ENERGY,
    OF_FUNCTIONS,
    OF_STEPS,
    OF_SURROUNDINGS,
    PLAIN_FAILURES,
    USUAL_WEIGHT,
)
from riskkit.judgement.fingerprints import digest
from riskkit.judgement.likeness import speaks_of, telling_words
from riskkit.judgement.prompt_codes import Name, codes_of
from riskkit.model.catalog import BuildError, Entry, Failure, Hazard as KnownHazard, UseError
from riskkit.model.policy import Policy
from riskkit.model.prompts import Grid
from riskkit.model.records import Condition, Control, EnergySource, Function, Hazard, Part, UseStep
from riskkit.model.register import Register

CATALOG_LEVELS = 5
UNKNOWN_IS_BELOW = 0.5
"""What nobody has tied to a hazard yet comes just below what is known to touch the same severity."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One question.

    Attributes:
        grid: What sort it is.
        about: Id of the record asked about; empty for the device as a whole.
        way: Entry id, guide word or words that say how it goes wrong; with `grid` and `about` the name of the cell.
        question: The question, as it is read aloud.
        mode: How it goes wrong, in the words of a cause.
        hint: A question of the catalog that helps to answer it; may be empty.
        starts: Catalog hazards that come of it, the worst first.
        condition: Condition of a hazard that comes of it.
        stake: How bad what it touches is, from 0 to the number of severity levels less one.
        weight: How bad it usually is by the catalog, from 1 to 5.
        told_by: Hazards of the register that say it already.
        remembers: Fingerprint of the record asked about.
        code: What is typed to answer it.
    """

    grid: Grid
    about: str
    way: str
    question: str
    mode: str = ""
    hint: str = ""
    starts: tuple[str, ...] = ()
    condition: Condition = "single fault"
    stake: float = 0.0
    weight: int = USUAL_WEIGHT
    told_by: tuple[str, ...] = ()
    remembers: str = ""
    code: str = ""

    @property
    def name(self) -> Name:
        """What tells it from every other cell."""
        return (self.grid, self.about, self.way)


def cells(register: Register, policy: Policy, entries: Mapping[str, Entry]) -> tuple[Cell, ...]:
    """Every cell of a register, the most dangerous first; equals take turns among the things asked about.

    Args:
        register: The records.
        policy: Its severity scale orders the cells.
        entries: The catalog by id.
    """
    found = [
        *_of_parts(register, entries),
        *_of_functions(register, entries),
        *_of_steps(register, entries),
        *_of_energy(register, entries),
        *_of_surroundings(register),
    ]
    worst, top = _stakes(register, policy), len(policy.severity) - 1
    turns: dict[str, int] = defaultdict(int)
    ordered: list[tuple[float, int, int, int, Cell]] = []
    for place, cell in enumerate(sorted(found, key=lambda each: -each.weight)):
        usual = (cell.weight - 1) / (CATALOG_LEVELS - 1) * top
        known = worst.get(cell.about)
        stake = usual - UNKNOWN_IS_BELOW if known is None else float(known)
        turn = turns[cell.about] = turns[cell.about] + 1
        ordered.append((-stake, -cell.weight, turn, place, replace(cell, stake=stake)))
    in_order = [each[-1] for each in sorted(ordered, key=lambda each: each[:-1])]
    codes = codes_of([cell.name for cell in in_order])
    return tuple(replace(cell, code=code) for cell, code in zip(in_order, codes, strict=True))


def _stakes(register: Register, policy: Policy) -> Mapping[str, int]:
    """Record -> rank of the worst severity that it has to do with: as a cause, in a control, in a function."""
    worst: dict[str, int] = {}

    def touch(ids: Iterable[str], rank: int) -> None:
        for id in ids:
            worst[id] = max(rank, worst.get(id, rank))

    for hazard in register.of(Hazard):
        rank = policy.severity_rank(hazard.severity)
        touch((cause.by for cause in hazard.causes), rank)
        touch((*hazard.parts, *hazard.functions, *hazard.use_steps, *hazard.energy, *hazard.loss_of), rank)
        for control in register.all_of(hazard.controls, Control):
            touch(control.depends_on, rank)
    for function in register.of(Function):
        if function.id in worst:
            touch(function.parts, worst[function.id])
        touch([function.id], max((worst.get(part, -1) for part in function.parts), default=-1))
    return {id: rank for id, rank in worst.items() if rank >= 0}


def _worst(entries: Mapping[str, Entry], starts: Iterable[str]) -> int:
    known = [entry.severity.highest for id in starts if isinstance(entry := entries.get(id), KnownHazard)]
    return max(known, default=USUAL_WEIGHT)


def _of(kind: type[Entry], entries: Mapping[str, Entry]) -> Iterator[tuple[str, Entry]]:
    return ((id, entry) for id, entry in entries.items() if isinstance(entry, kind))


# -- parts ----------------------------------------------------------------------------------------


def is_of_class(part: Part, classes: Iterable[str]) -> bool:
    """Whether a part belongs to one of the classes: by its stated class, or else by its title."""
    said = part.part_class if part.part_class is not None else part.title
    return any(speaks_of(said, each) for each in classes)


def _of_parts(register: Register, entries: Mapping[str, Entry]) -> Iterator[Cell]:
    told = _told(register)
    for part in register.of(Part):
        print_of = digest([part.title, part.part_class, part.version, part.ratings, part.supplied_by])
        known = False
        for kind in (Failure, BuildError):
            for id, entry in _of(kind, entries):
                if isinstance(entry, Failure | BuildError) and is_of_class(part, entry.part_classes):
                    known = True
                    question = f"{part.id} {part.title}: what if it {_verb(entry.mode)}?"
                    yield Cell(
                        "parts",
                        part.id,
                        id,
                        question if kind is Failure else f"{part.id} {part.title}, as built: {entry.mode}?",
                        entry.mode,
                        entry.asks[0],
                        entry.starts,
                        weight=_worst(entries, entry.starts),
                        told_by=tuple(_telling(told.get(part.id, ()), entry.mode, id)),
                        remembers=print_of,
                    )
        if not known:
            for way, question in PLAIN_FAILURES.items():
                yield Cell("parts", part.id, way, _asked(question, part.id, part.title), way, remembers=print_of)
        for mode in part.fails:
            if not any(isinstance(e, Failure) and _alike(mode.mode, e.mode) for _, e in _of(Failure, entries)):
                yield Cell(
                    "parts",
                    part.id,
                    mode.mode,
                    f"{part.id} {part.title}: what if this happens: {mode.mode}?",
                    mode.mode,
                    told_by=tuple(_telling(told.get(part.id, ()), mode.mode, "")),
                    remembers=print_of,
                )


def _verb(mode: str) -> str:
    """A failure mode behind "what if it": as it stands where it begins with a verb, else quoted as a state."""
    first = mode.split()[0]
    return mode if first.endswith("s") and not first.endswith("ss") else f"fails so: {mode}"


def _asked(question: str, id: str, title: str) -> str:
    return question.format(what=f"{title} ({id})")


def _told(register: Register) -> Mapping[str, tuple[tuple[str, str, str], ...]]:
    """Record -> what hazards say it starts: (hazard, mode, the catalog entry the hazard came from)."""
    found: dict[str, list[tuple[str, str, str]]] = defaultdict(list)
    for hazard in register.of(Hazard):
        origin = _entry_of(hazard)
        for cause in hazard.causes:
            found[cause.by].append((hazard.id, cause.mode or hazard.title, origin))
    return {id: tuple(each) for id, each in found.items()}


def _entry_of(record: object) -> str:
    return getattr(getattr(record, "adopted", None), "entry", "")


def _telling(told: Iterable[tuple[str, str, str]], mode: str, entry: str) -> Iterator[str]:
    for hazard, said, origin in told:
        if (entry and origin == entry) or _alike(said, mode):
            yield hazard


def _alike(one: str, other: str) -> bool:
    """Whether all telling words of the shorter text stand in the longer one."""
    first, second = telling_words(one), telling_words(other)
    return bool(first and second) and (first <= second or second <= first)


# -- functions, steps, energy, surroundings -------------------------------------------------------


def _of_functions(register: Register, entries: Mapping[str, Entry]) -> Iterator[Cell]:
    for function in register.of(Function):
        print_of = digest([function.title, function.parts])
        near = [
            (id, entry)
            for id, entry in _of(KnownHazard, entries)
            if isinstance(entry, KnownHazard) and any(speaks_of(function.title, word) for word in entry.spoils)
        ]
        for word, question in OF_FUNCTIONS.items():
            meant = [(id, entry) for id, entry in near if isinstance(entry, KnownHazard) and word in entry.guide_words]
            starts = tuple(id for id, _ in meant)
            yield Cell(
                "functions",
                function.id,
                word,
                _asked(question, function.id, function.title),
                word,
                meant[0][1].asks[0] if meant else "",
                starts,
                weight=_worst(entries, starts),
                remembers=print_of,
            )


def _of_steps(register: Register, entries: Mapping[str, Entry]) -> Iterator[Cell]:
    told = _told(register)
    for step in register.of(UseStep):
        print_of = digest([step.title, step.who, step.parts])
        asked: set[str] = set()
        for id, entry in _of(UseError, entries):
            if isinstance(entry, UseError) and any(speaks_of(step.title, word) for word in entry.steps):
                asked |= set(entry.slip)
                yield Cell(
                    "use steps",
                    step.id,
                    id,
                    f"{step.id} {step.title}: what about this: {entry.title[0].lower()}{entry.title[1:]}?",
                    f"{entry.title[0].lower()}{entry.title[1:]}",
                    entry.asks[0],
                    entry.starts,
                    "use error",
                    weight=_worst(entries, entry.starts),
                    told_by=tuple(_telling(told.get(step.id, ()), entry.title, id)),
                    remembers=print_of,
                )
        for slip, question in OF_STEPS.items():
            if slip not in asked:
                words = _asked(question, step.id, step.title)
                yield Cell("use steps", step.id, slip, words, slip, condition="use error", remembers=print_of)


def _of_energy(register: Register, entries: Mapping[str, Entry]) -> Iterator[Cell]:
    lost: dict[str, list[str]] = defaultdict(list)
    for hazard in register.of(Hazard):
        for id in hazard.loss_of:
            lost[id].append(hazard.id)
    for source in register.of(EnergySource):
        print_of = digest([source.title, source.amount, source.carried_by])
        absent, present = [], []
        for id, entry in _of(KnownHazard, entries):
            if isinstance(entry, KnownHazard):
                absent += [id] if any(speaks_of(source.title, word) for word in entry.loss_of) else []
                present += [id] if any(speaks_of(source.title, word) for word in entry.energy) else []
        for way, question in OF_ENERGY.items():
            starts = tuple(absent if way == "is gone" else present if way.startswith("reaches a person") else ())
            yield Cell(
                "energy",
                source.id,
                way,
                _asked(question, source.id, source.title),
                starts=starts,
                weight=_worst(entries, starts),
                told_by=tuple(lost[source.id]) if way == "is gone" else (),
                remembers=print_of,
            )


def _of_surroundings(register: Register) -> Iterator[Cell]:
    device = register.device
    print_of = digest([device.name, device.purpose, device.touches]) if device is not None else ""
    for way, question in OF_SURROUNDINGS.items():
        yield Cell("surroundings", "", way, question, condition="foreseeable misuse", remembers=print_of)
