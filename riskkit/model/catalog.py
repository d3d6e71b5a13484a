"""What a catalog entry is: a piece of experience that a register can take over, with the reason why it is offered.

An entry is one YAML file, `KIND/NAME.yaml`; its id is that path without the ending, such as `hazards/gas-too-hot`.
It names other entries by their ids. Nothing in it is a fact about the user's device: what is adopted becomes the
user's own record, with `adopted` saying where it came from.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Annotated, ClassVar, Literal, get_args

from pydantic import Field, model_validator

from riskkit.model.fields import Block, EntryId, FieldError, Text, Texts, one_or_many
from riskkit.model.records import Condition, ControlKind
from riskkit.model.verification import Shows

EntryIds = Annotated[tuple[EntryId, ...], one_or_many]

Subject = Literal[
    "breathing gas", "oxygen", "pressure", "heat", "electrical", "battery", "mechanical", "sound",
    "hygiene", "materials", "printed part", "firmware", "measurement", "alarm", "use", "building",
]  # fmt: skip
"""What an entry is about. Only the first is about breathing; the others serve any risky bench hardware."""

SUBJECTS: tuple[str, ...] = get_args(Subject)

GuideWord = Literal[
    "no", "more", "less", "as well as", "part of", "reverse", "other than", "early", "late", "before", "after"
]
"""Guide words, as the subject of IEC 61882."""

Slip = Literal[
    "not seen", "misread", "misunderstood", "forgotten", "wrong order", "wrong item", "wrong strength", "too slow",
    "interrupted", "improvised",
]  # fmt: skip
"""Ways in which a step of use goes wrong; the subject is that of IEC 62366-1."""


class SeverityRange(Block):
    """How bad it usually is, in levels from 1 (negligible) to 5 (catastrophic), and the question that decides."""

    lowest: int = Field(ge=1, le=5, description="The mildest case that people meet.")
    highest: int = Field(ge=1, le=5, description="The worst case that is believable.")
    question: Text = Field(description="The question whose answer decides the level on this device.")

    @model_validator(mode="after")
    def _in_order(self) -> SeverityRange:
        if self.lowest > self.highest:
            raise FieldError("`lowest` is above `highest`", "lowest")
        return self


class Entry(Block):
    """What every entry has."""

    KIND: ClassVar[str] = ""

    title: Text = Field(description="What it is, in one line.")
    version: int = Field(ge=1, description="Counts up whenever the meaning changes.")
    subjects: Annotated[tuple[Subject, ...], one_or_many] = Field(min_length=1, description="What it is about.")
    description: Text = Field(description="What it is and how it comes about, in our own words.")
    why: Text = Field(description="Why it is here: the subject of the standards named, or `trade practice: ...`.")
    standards: Texts = Field((), description="Standards by number; their subjects stand in `catalogs/standards.yaml`.")
    asks: Texts = Field(
        min_length=1, description="Questions that bring it up at the table, each answered by yes or no."
    )
    weakness: Text = Field(description="Where this entry usually deceives people.")
    fill: Texts = Field(min_length=1, description="What whoever adopts it has to find out and write down.")

    @model_validator(mode="after")
    def _names_its_reason(self) -> Entry:
        if not self.standards and not self.why.startswith("trade practice"):
            raise FieldError("without `standards`, `why` begins with `trade practice`", "why")
        return self


class Hazard(Entry):
    """A way in which something reaches a person."""

    KIND: ClassVar[str] = "hazards"

    reaches: Literal["gas", "energy", "interface", "information"] = Field(description="What reaches the person.")
    condition: Annotated[tuple[Condition, ...], one_or_many] = Field(min_length=1, description="When it arises.")
    severity: SeverityRange = Field(description="How bad it usually is, and what decides it.")
    source: Text = Field(description="What can harm: a gas, a pressure, heat. Not a broken part.")
    sequence: Texts = Field(min_length=1, description="From cause to exposure, one event per line.")
    situation: Text = Field(description="Who is exposed to what.")
    harm: Text = Field(description="What happens to them.")
    spoils: Texts = Field((), description="Words of functions that are lost or wrong, such as `pressure`, `warn`.")
    guide_words: tuple[GuideWord, ...] = Field((), description="In which sense those functions are wrong.")
    energy: Texts = Field((), description="Words of the energy that harms, such as `oxygen`, `mains`.")
    loss_of: Texts = Field((), description="Words of the energy whose absence harms.")
    controls: EntryIds = Field(min_length=1, description="Usual controls, in the order of preference.")
    tests: EntryIds = Field((), description="Usual tests of the situation itself.")


class Failure(Entry):
    """A way in which a class of part stops doing what it should."""

    KIND: ClassVar[str] = "failures"

    part_classes: Texts = Field(min_length=1, description="Classes of part, such as `blower`.")
    mode: Text = Field(description="What the part does then, as a few words: `stops`.")
    announces: bool = Field(description="Whether anyone usually notices by itself.")
    effect: Text = Field(description="And then what reaches a person, or what is lost.")
    starts: EntryIds = Field(min_length=1, description="Hazards that it can start, the worst first.")
    controls: EntryIds = Field((), description="Usual controls beyond those of the hazards.")
    tests: EntryIds = Field((), description="Usual tests.")


class UseError(Entry):
    """A way in which a step of use goes wrong."""

    KIND: ClassVar[str] = "use-errors"

    steps: Texts = Field(min_length=1, description="Words of the steps in which it happens, such as `start`, `clean`.")
    slip: Annotated[tuple[Slip, ...], one_or_many] = Field(min_length=1, description="What sort of error it is.")
    effect: Text = Field(description="And then what reaches a person, or what is lost.")
    starts: EntryIds = Field(min_length=1, description="Hazards that it can start, the worst first.")
    controls: EntryIds = Field((), description="Usual controls.")
    tests: EntryIds = Field((), description="Usual tests.")


class BuildError(Entry):
    """A mistake in building or mending that a finished unit does not show."""

    KIND: ClassVar[str] = "build-errors"

    part_classes: Texts = Field(min_length=1, description="Classes of part that it strikes.")
    mode: Text = Field(description="What is wrong then, as a few words.")
    shows: Text = Field(description="What can be seen of it, and when it can no longer be seen.")
    effect: Text = Field(description="And then what reaches a person, or what is lost.")
    starts: EntryIds = Field(min_length=1, description="Hazards that it can start, the worst first.")
    checks: EntryIds = Field(min_length=1, description="Checks of each unit that find it.")
    controls: EntryIds = Field((), description="Controls that make it impossible or harmless.")


class Control(Entry):
    """Something that is done about hazards."""

    KIND: ClassVar[str] = "controls"

    kind: ControlKind = Field(description="`design`, `protective` or `information`.")
    depends_on: Texts = Field((), description="Classes of part, supplies or people without which it does nothing.")
    fails_how: Text = Field(description="How it fails.")
    noticed: Text = Field(description="How anyone would notice that it has failed.")
    dormant: bool = Field(description="Whether it can be broken without anyone noticing.")
    introduces: EntryIds = Field((), description="Hazards that it can bring.")
    is_alarm: bool = Field(False, description="True where it works only if someone hears or sees it and acts.")
    tests: EntryIds = Field(
        min_length=1, description="Tests or unit checks that show it is there and does what is claimed."
    )


class _Trial(Entry):
    """What a test and a check of each unit have in common."""

    shows: Annotated[tuple[Shows, ...], one_or_many] = Field(min_length=1, description="What it can show of a control.")
    method: Literal["instrument", "improvised", "inspection", "analysis"] = Field(description="Tier of the method.")
    steps: Texts = Field(min_length=2, description="What is done, in order.")
    stop: Text = Field(description="When it is stopped at once.")
    limit: Text = Field(description="What sort of limit the project has to set, and where the number comes from.")
    record: Texts = Field(min_length=1, description="What has to be written down.")
    instruments: Texts = Field((), description="Kinds of instrument.")
    poorer_way: Text | None = Field(None, description="How it is done without the instrument, and what that costs.")


class Test(_Trial):
    """What is tried on the design."""

    __test__: ClassVar[bool] = False
    KIND: ClassVar[str] = "tests"

    scope: Literal["design", "lot"] = Field("design", description="What one result stands for.")
    plan: Text = Field(description="How many runs or units, and what that number can show.")


class UnitCheck(_Trial):
    """What is checked on every unit that is built."""

    KIND: ClassVar[str] = "unit-checks"

    two_people: bool = Field(False, description="True where a second person has to look.")
    before_use: bool = Field(False, description="True where it also serves before every use.")


ENTRY_KINDS: Mapping[str, type[Entry]] = MappingProxyType(
    {kind.KIND: kind for kind in (Hazard, Failure, UseError, BuildError, Control, Test, UnitCheck)}
)
"""Folder -> the kind of entry that stands in it."""

KINDS_OF_REFERENCE: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "starts": ("hazards",),
        "controls": ("controls",),
        "tests": ("tests", "unit-checks"),
        "checks": ("unit-checks",),
        "introduces": ("hazards",),
    }
)
"""Field that names other entries -> the kinds of entry that it may name."""


def references(entry: Entry) -> Iterator[tuple[str, int, str, tuple[str, ...]]]:
    """Every entry that an entry names: field, place in it, id, kinds that the field may name."""
    for name, kinds in KINDS_OF_REFERENCE.items():
        for place, id in enumerate(getattr(entry, name, ())):
            yield name, place, id, kinds
